"""The shipped notebooks in a page: a server of a copy of them, opened and run through JupyterLab's own application."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from notebook_server import Front, serve

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


@contextmanager
def serve_books(folder: Path, front: Front = "lab") -> Iterator[str]:
    """Put a copy of all notebooks into a folder and serve it, every cell in the page; give the address."""
    home = folder.parent / "home"
    settings = home / "config" / "lab" / "user-settings" / "@jupyterlab" / "notebook-extension"
    settings.mkdir(parents=True)
    (settings / "tracker.jupyterlab-settings").write_text('{"windowingMode": "none"}', encoding="utf-8")
    shutil.copytree(BOOKS, folder, ignore=shutil.ignore_patterns("out", ".ipynb_checkpoints"), dirs_exist_ok=True)
    with serve(folder, home, front) as address:
        yield address


def lab_in(page: Any, address: str) -> Any:
    """Load JupyterLab into a page, without a notebook, and return the page."""
    page.goto(f"{address}/lab?reset")
    page.wait_for_function("() => window.jupyterapp?.shell && document.querySelector('#jp-main-dock-panel')")
    page.evaluate("async () => { await window.jupyterapp.restored; }")
    return page


def close(page: Any) -> None:
    """Save and close the notebook that was opened last, and the widgets in its kernel, which the next one would load."""
    page.evaluate(
        """async () => {
            const { context, sessionContext } = window.panel;
            await context.save();
            const code = "import ipywidgets; ipywidgets.Widget.close_all()";
            await sessionContext.session.kernel.requestExecute({ code, silent: true }).done;
            window.panel.dispose();
        }"""
    )
