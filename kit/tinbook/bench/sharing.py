"""A notebook as one page for somebody without a kit: run, its code folded away, its workbenches live in 3-D."""

from __future__ import annotations

import base64
import os
import re
from collections.abc import Callable, Iterator, Mapping
from html import escape
from pathlib import Path
from typing import Any, Final
from urllib.parse import unquote

from tinbook.bench.framed import SHARED
from tinbook.errors import BadFile, BadValue, CannotMake, Mistake, of_kind
from tinbook.write.drafts import Draft
from tinbook.write.files import target
from tinbook.write.names import plain_name
from tinbook.write.page_style import CSS
from tinbook.write.stamp import stamp_of_drawing

MOST: Final = 50 << 20
"""Bytes of a notebook."""
LARGEST: Final = 10 << 20
"""Bytes of a picture beside it."""
PICTURES: Final = {
    ".svg": "image/svg+xml",
    ".png": "image/png",
    ".jpg": "image/jpeg",
    ".jpeg": "image/jpeg",
    ".gif": "image/gif",
    ".webp": "image/webp",
}
MORE_CSS: Final = """
details{margin:.4em 0}summary{color:var(--soft);cursor:pointer;min-height:24px}pre{overflow-x:auto;font-size:.87em;
border-left:2px solid var(--rule);padding-left:10px;white-space:pre-wrap;overflow-wrap:anywhere}
iframe{box-sizing:border-box;width:100%;height:min(75vh,560px);border:0}@media (max-width:692px){iframe{height:130vh}}img,svg{max-width:100%;height:auto}
.out{overflow-x:auto;margin:.5em 0}code{font-size:.93em}
"""


def share(
    notebook: str | os.PathLike[str],
    path: str | os.PathLike[str] = ".",
    *,
    run: bool = True,
    seconds: float = 600.0,
    replace: bool = False,
    progress: Callable[[int, int], None] | None = None,
) -> Path:
    """Write a notebook as one HTML file that needs neither Python nor a network.

    Parameters
    ----------
    notebook : path
        A file that ends in .ipynb; it is run in its own folder and not changed.
    path : path
        A file that ends in .html, or an existing folder.
    run : bool
        Whether it is run first; else its stored outputs are shown, where workbenches are pictures.
    seconds : float
        That a cell may take.
    replace : bool
        Write over whatever is there; else only an earlier page of the same notebook gives way.
    progress : callable, optional
        Called with (done, all) cells.

    Returns
    -------
    Path

    Raises
    ------
    BadFile
        It is no notebook.
    CannotMake
        A cell failed: which one, and how; nothing is written.
    """
    of_kind(run, bool, "run", "True or False")
    if isinstance(seconds, bool) or not isinstance(seconds, int | float) or not 0 < seconds <= 86_400:
        raise BadValue("seconds", seconds, "greater than 0 and at most 86 400 s")
    source = _source(notebook)
    name = plain_name(source.stem)
    file = target(path, ".html", name)
    book = _read(source)
    if run:
        _run(book, source, seconds, progress)
    text = _page(book, source)
    stamp = stamp_of_drawing(f"shared notebook {name}", [text])
    return Draft(file=file, stamp=stamp, replace=replace).write(text.replace("{mark}", stamp.mark, 1))


def _source(notebook: Any) -> Path:
    if not isinstance(notebook, str | os.PathLike) or not str(notebook).endswith(".ipynb"):
        raise BadValue("notebook", notebook, "the path of a notebook, ending in .ipynb")
    source = Path(notebook)
    if not source.is_file():
        raise BadFile(str(source), [Mistake("notebook", "is not there, or is no plain file")])
    if source.stat().st_size > MOST:
        raise BadFile(str(source), [Mistake("notebook", f"is larger than {MOST >> 20} MB")])
    return source


def _read(source: Path) -> Any:
    import nbformat

    try:
        return nbformat.reads(source.read_text(encoding="utf-8"), as_version=4)  # type: ignore[no-untyped-call]
    except Exception as wrong:  # noqa: BLE001 - nbformat lets through whatever its parsers raise
        raise BadFile(str(source), [Mistake("notebook", f"cannot be read: {wrong}"[:300])]) from None


def _run(book: Any, source: Path, seconds: float, progress: Callable[[int, int], None] | None) -> None:
    from jupyter_client.manager import AsyncKernelManager
    from nbclient import NotebookClient
    from nbclient.exceptions import CellExecutionError, CellTimeoutError, DeadKernelError

    class Manager(AsyncKernelManager):
        async def _async_pre_start_kernel(self, **options: Any) -> Any:
            options["env"] = {**(options.get("env") or os.environ), SHARED: "1"}
            return await super()._async_pre_start_kernel(**options)

        pre_start_kernel = _async_pre_start_kernel

    count = len(book.cells)

    def done(cell: Any, cell_index: int) -> None:
        if progress is not None:
            progress(cell_index + 1, count)

    client = NotebookClient(
        book,
        timeout=seconds,
        kernel_name="python3",
        kernel_manager_class=Manager,
        resources={"metadata": {"path": str(source.parent.resolve())}},
        on_cell_complete=done,
    )
    try:
        client.execute()
    except (CellExecutionError, CellTimeoutError, DeadKernelError) as wrong:
        last = [line for line in re.sub(r"\x1b\[[0-9;]*m", "", str(wrong)).splitlines() if line.strip()]
        raise CannotMake(f"{source.name}: a cell failed, nothing was written: {last[-1] if last else wrong}") from None


def _page(book: Any, source: Path) -> str:
    title = next(
        (m[1] for c in book.cells if c.cell_type == "markdown" and (m := re.match(r"#\s+(.+)", c.source))),
        source.stem,
    )
    cells = "".join(_cell(c, source.parent) for c in book.cells)
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'; "
        "script-src 'unsafe-inline'; img-src data:; frame-src 'self'\">\n"
        f'<meta name="tinbook" content="{{mark}}">\n<title>{escape(title)}</title>\n<style>{CSS}{MORE_CSS}</style></head>\n'
        f"<body><main>\n{cells}</main></body></html>\n"
    )


def _cell(cell: Any, folder: Path) -> str:
    if cell.cell_type == "markdown":
        from nbconvert.filters.markdown_mistune import markdown2html_mistune

        html = _local(str(markdown2html_mistune(cell.source)), cell.get("attachments", {}), folder)
        return f"<section>{html}</section>\n"
    if cell.cell_type != "code":
        return ""
    code = f"<details><summary>code</summary><pre>{escape(cell.source)}</pre></details>" if cell.source.strip() else ""
    return f"<section>{code}{''.join(_outputs(cell))}</section>\n"


def _local(html: str, attachments: Mapping[str, Mapping[str, str]], folder: Path) -> str:
    """Return markdown's HTML without anchors' pilcrows; its attachments, and pictures beside the notebook, as data."""

    def held(found: re.Match[str]) -> str:
        begun, sign, source = found.groups()
        if source.startswith("data:"):
            return found[0]
        file = folder / unquote(source)
        kind = PICTURES.get(file.suffix.lower())
        own = kind and os.path.isfile(file) and file.resolve().is_relative_to(folder.resolve())
        if not own or file.stat().st_size > LARGEST:
            return begun  # its words stand in its place; the page asks nobody for it
        return f"{begun}src={sign}data:{kind};base64,{base64.b64encode(file.read_bytes()).decode()}{sign}"

    for name, kinds in attachments.items():
        kind, data = next(iter(kinds.items()))
        html = html.replace(f"attachment:{name}", f"data:{kind};base64,{data}")
    html = re.sub(r"""(<img\b[^>]*?)\bsrc=(["'])(.*?)\2""", held, html)
    return re.sub(r'<a class="anchor-link"[^>]*>.*?</a>', "", html)


def _outputs(cell: Any) -> Iterator[str]:
    for out in cell.get("outputs", ()):
        if out.output_type == "stream":
            yield f'<div class="out"><pre>{escape(out.text)}</pre></div>'
        elif out.output_type in ("display_data", "execute_result"):
            yield f'<div class="out">{_shown(out.data)}</div>'


def _shown(data: Mapping[str, Any]) -> str:
    text = {k: "".join(v) if isinstance(v, list) else v for k, v in data.items()}
    if "text/html" in text:
        return str(text["text/html"])
    if "image/svg+xml" in text:
        title = re.search(r"<title>(.*?)</title>", text["image/svg+xml"])
        coded = base64.b64encode(text["image/svg+xml"].encode()).decode()
        return f'<img alt="{title[1] if title else "drawing"}" src="data:image/svg+xml;base64,{coded}">'
    for kind in ("image/png", "image/jpeg"):
        if kind in text:
            return f'<img alt="picture" src="data:{kind};base64,{text[kind]}">'
    return f"<pre>{escape(str(text.get('text/plain', '')))}</pre>"
