"""Each notebook in JupyterLab: as a fresh clone that nobody trusts, run up to its first picture, with `--full` to its end."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from notebook_server import serve

pytestmark = pytest.mark.browser
BOOKS = Path(__file__).resolve().parents[2] / "notebooks"
START = "00_start_here.ipynb"
NAMES = sorted(p.name for p in BOOKS.glob("*.ipynb") if p.name != START)

OPEN = """async ([path, id]) => {
    const app = window.jupyterapp;
    const kernel = id ? { id } : { name: "python3" };
    const panel = await app.commands.execute("docmanager:open", { path, factory: "Notebook", kernel });
    await panel.context.ready;
    await panel.sessionContext.ready;
    window.panel = panel;
    return panel.sessionContext.session.kernel.id;
}"""
"""Open a notebook with a kernel that runs already, or one of its own; returns the kernel's id."""

RUN = """async (whole) => {
    const { content: book } = window.panel;
    await window.jupyterapp.commands.execute("notebook:clear-all-cell-outputs");
    const seen = (w) => w.node.querySelector(".jp-OutputArea-output img, .jp-OutputArea-output svg, canvas.tb-canvas");
    const start = performance.now();
    let [first, last] = [null, null];
    const errors = [];
    if (whole) {
        const look = new MutationObserver(() => {
            const e = seen(book);
            if (e && first === null) first = performance.now() - start;
        });
        look.observe(book.node, { childList: true, subtree: true });
        await window.jupyterapp.commands.execute("notebook:run-all-cells");
        const code = book.widgets.filter((w) => w.model.type === "code");
        const done = (w) => w.model.executionCount && w.model.executionState !== "running";
        // An error ends the run: the cells below never get a number.
        const failed = (w) => w.model.outputs.toJSON().some((o) => o.output_type === "error");
        while (!code.every(done) && !code.some(failed)) await new Promise((go) => setTimeout(go, 50));
        look.disconnect();
        last = performance.now() - start;
    }
    for (const [i, w] of book.widgets.entries()) {
        if (w.model.type !== "code") continue;
        if (!whole) {
            if (first !== null) break;
            book.activeCellIndex = i;
            await window.jupyterapp.commands.execute("notebook:run-cell");
        }
        for (const o of w.model.outputs.toJSON()) if (o.output_type === "error") errors.push(`cell ${i}: ${o.ename}: ${o.evalue}`);
        if (whole || !w.model.outputs.toJSON().some((o) => Object.keys(o.data ?? {}).some((k) => /image|widget-view/.test(k) || /<img|<svg/.test(o.data[k])))) continue;
        await book.scrollToItem(i, "start");
        for (let k = 0; k < 600 && !seen(w); k++) await new Promise((go) => setTimeout(go, 20));
        if (seen(w)) first = performance.now() - start;
    }
    return { first, last, errors };
}"""
"""Run a notebook's cells until one shows a picture, or all; returns when the first one stood there, ms, and errors."""

STORED = """async () => {
    const pictures = [];
    for (const w of window.panel.content.widgets) {
        const e = w.node;
        const outputs = w.model.type === "code" ? w.model.outputs.toJSON() : [];
        const kept = outputs.filter((o) => Object.keys(o.data ?? {}).some((k) => k.startsWith("image/")));
        if (outputs.length && w.model.trusted) pictures.push("trusted");
        const shown = [...e.querySelectorAll("img")];
        for (const image of shown) {
            for (let k = 0; k < 500 && !image.complete; k++) await new Promise((go) => setTimeout(go, 20));
            pictures.push(image.naturalWidth > 0 && image.getBoundingClientRect().width > 0 ? "shown" : "broken");
        }
        for (let k = shown.length; k < kept.length; k++) pictures.push("missing");
    }
    return pictures;
}"""
"""What became of every picture of an open notebook; an output that the page trusts is named."""

DRAWN = """async () => {
    const e = window.panel.content.node.querySelector(".jp-OutputArea-output img, .jp-OutputArea-output svg, canvas.tb-canvas");
    for (let k = 0; k < 500 && e.tagName === "IMG" && !e.complete; k++) await new Promise((go) => setTimeout(go, 20));
    const r = e.getBoundingClientRect();
    return [e.tagName.toLowerCase(), e.tagName === "IMG" ? e.naturalWidth : r.width, r.width, r.height];
}"""


@pytest.fixture(scope="module")
def lab(tmp_path_factory: pytest.TempPathFactory, static: Path) -> Iterator[str]:
    """One server for all of them, in a copy of the notebooks."""
    folder, home = tmp_path_factory.mktemp("work") / "notebooks", tmp_path_factory.mktemp("home")
    settings = home / "config" / "lab" / "user-settings" / "@jupyterlab" / "notebook-extension"
    settings.mkdir(parents=True)
    (settings / "tracker.jupyterlab-settings").write_text('{"windowingMode": "none"}', encoding="utf-8")
    shutil.copytree(BOOKS, folder, ignore=shutil.ignore_patterns("out", ".ipynb_checkpoints"))
    with serve(folder, home, "lab") as address:
        yield address


def first_page(lab: str, fresh_page: Callable[..., Any]) -> Any:
    page = fresh_page(viewport={"width": 1500, "height": 1000})
    page.goto(f"{lab}/lab?reset")
    page.wait_for_function("() => window.jupyterapp?.shell && document.querySelector('#jp-main-dock-panel')")
    page.evaluate("async () => { await window.jupyterapp.restored; }")
    return page


def close(page: Any) -> None:
    page.evaluate("async () => { await window.panel.context.save(); window.panel.dispose(); }")


def test_each_notebook_shows_its_pictures_untrusted_and_its_first_one_run(
    lab: str, fresh_page: Callable[..., Any]
) -> None:
    """One page and one kernel, so that what takes long, their start, is paid once. The server's signatures are empty."""
    page = first_page(lab, fresh_page)
    assert len(NAMES) >= 18
    kernel, stored = "", 0
    for name in (START, *NAMES):
        kernel = page.evaluate(OPEN, [name, kernel])
        pictures = page.evaluate(STORED)
        assert set(pictures) == {"shown"}, (name, pictures)
        stored += len(pictures)
        if name == START:
            close(page)
            continue
        done = page.evaluate(RUN, False)
        assert done["errors"] == [], name
        assert done["first"] is not None, name
        kind, own, wide, high = page.evaluate(DRAWN)
        assert own > 0, (name, kind)
        assert min(wide, high) > 40, (name, kind)
        print(f"{name}: {done['first']:.0f} ms to its {kind}")
        close(page)
    print(f"{stored} stored pictures shown untrusted")


@pytest.mark.full
@pytest.mark.parametrize("name", NAMES)
def test_each_notebook_runs_to_its_end(name: str, lab: str, fresh_page: Callable[..., Any]) -> None:
    """With a kernel of its own; when the first picture stood there is printed, as a test waits for no clock."""
    page = first_page(lab, fresh_page)
    page.evaluate(OPEN, [name, ""])
    done = page.evaluate(RUN, True)
    print(f"{name}: first picture after {done['first'] / 1000:.1f} s, all after {done['last'] / 1000:.1f} s")
    assert done["errors"] == []
    page.evaluate("async () => { await window.panel.sessionContext.shutdown(); }")
