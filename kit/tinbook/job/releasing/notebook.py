"""An executed notebook as an input of a release: what it says and shows, without when it was run."""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import Any, Final

from tinbook.errors import BadFile, Mistake
from tinbook.paths import existing

LARGEST: Final = 50_000_000
"""Bytes."""
_TIMES: Final = ("execution", "ExecuteTime", "scrolled", "collapsed")
"""Metadata of a cell that changes from run to run, or with the reader."""


def executed_notebook(path: str | os.PathLike[str]) -> bytes:
    """Return an executed notebook without its timings; the same bytes however often its run is the same.

    Parameters
    ----------
    path : str or path-like
        A notebook of format 4 (.ipynb), run from its first cell to its last.

    Raises
    ------
    BadFile
        No such notebook, too large, a cell that was not run or ended with an error.
    """
    file: Path = existing(path, "an executed notebook (.ipynb)")
    wrong: list[Mistake] = []
    notebook: Any = None
    try:
        raw = file.read_bytes()
        notebook = json.loads(raw) if len(raw) <= LARGEST else None
    except (OSError, ValueError, RecursionError) as error:
        wrong.append(Mistake("notebook", f"cannot be read: {error}"[:200]))
    cells = notebook.get("cells") if isinstance(notebook, dict) and notebook.get("nbformat") == 4 else None
    if not isinstance(cells, list) or not all(isinstance(c, dict) for c in cells):
        raise BadFile(str(file), wrong or [Mistake("notebook", f"is none of format 4 with at most {LARGEST >> 20} MB")])
    for n, cell in enumerate(cells, 1):
        outputs = cell.get("outputs", [])
        failed = isinstance(outputs, list) and any(
            isinstance(o, dict) and o.get("output_type") == "error" for o in outputs
        )
        source = cell.get("source")
        text = "".join(map(str, source)) if isinstance(source, list) else str(source or "")
        written = text.strip() if cell.get("cell_type") == "code" else ""
        if written and not isinstance(cell.get("execution_count"), int):
            wrong.append(Mistake(f"cell {n}", "was not run; valid: a notebook run from its first cell to its last"))
        elif failed:
            wrong.append(Mistake(f"cell {n}", "ended with an error"))
        metadata = cell.get("metadata")
        cell["metadata"] = {k: v for k, v in metadata.items() if k not in _TIMES} if isinstance(metadata, dict) else {}
    if wrong:
        raise BadFile(str(file), wrong[:20])
    return (json.dumps(notebook, indent=1, sort_keys=True) + "\n").encode()
