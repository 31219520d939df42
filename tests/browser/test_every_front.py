"""Every notebook in every front, light and dark, on a wide, a middle and a narrow page.

A notebook is run once in JupyterLab and once by Voila; Notebook 7 shows what runs in JupyterLab already. Widths and
colours change in the page that stands there.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from bench_pages import WIDTHS, Hand
from book_pages import NAMES, OPEN, RUN, close, lab_in, serve_books
from jupyter_core.paths import jupyter_path
from notebook_server import open_notebook, run_command

pytestmark = [pytest.mark.browser, pytest.mark.full]

DARK = "nbconvert/templates/lab/static/theme-dark.css"

CUT = """() => {
    const bad = [];
    const outputs = [...document.querySelectorAll(".jp-OutputArea-output")].filter((o) => !o.querySelector(".tinbook-bench"));
    for (const o of outputs) {
        const r = o.getBoundingClientRect();
        for (const e of o.querySelectorAll("img, svg")) {
            const own = e.getBoundingClientRect();
            if (e.tagName === "IMG" && !e.naturalWidth) bad.push("broken: " + e.outerHTML.slice(0, 80));
            if (own.width && own.right > r.right + 1) bad.push("cut off: " + e.outerHTML.slice(0, 80));
        }
        const wide = o.scrollWidth > o.clientWidth + 1;
        if (wide && !/auto|scroll/.test(getComputedStyle(o).overflowX)) bad.push("not scrolled: " + o.textContent.slice(0, 80));
    }
    return bad;
}"""
"""Pictures that are broken or reach past their cell, and tables that do without a scroll bar of their own."""

FAINT = """async () => {
    const outputs = [...document.querySelectorAll(".jp-OutputArea-output")].filter((o) => o.querySelector("table, svg, p, ul"));
    if (!outputs.length) return [];
    const found = await axe.run({ include: outputs }, { runOnly: ["color-contrast"], resultTypes: ["violations"] });
    return found.violations.flatMap((v) => v.nodes.map((n) => n.html.slice(0, 150) + ": " + n.failureSummary));
}"""
"""Texts of the outputs that stand out too little from what is behind them."""


def looked_at(page: Any, theme: str, where: str, axe: str, folder: Path) -> None:
    """Check one theme of a page at each width: workbenches fitted, outputs whole, texts readable."""
    live = page.locator(".tinbook-bench:has(.tb-pair)").count()
    for i in range(live):
        Hand(page, i).fits(theme, f"{where}_{i}", folder if i == 0 else None)
    for width in WIDTHS:
        page.set_viewport_size({"width": width, "height": 1000})
        page.wait_for_timeout(300)
        assert page.evaluate(CUT) == [], f"{where}, {theme}, {width} px"
    page.set_viewport_size({"width": 1500, "height": 1000})
    page.evaluate(axe)
    assert page.evaluate(FAINT) == [], f"{where}, {theme}"
    for i in range(live):
        assert Hand(page, i).serious(axe) == [], f"{where}, {theme}"


def turn(page: Any, theme: str) -> None:
    """Turn JupyterLab or Notebook 7 to "light" or "dark"."""
    run_command(page, "apputils:change-theme", {"theme": f"JupyterLab {theme.title()}"})
    page.wait_for_function(f"document.body.dataset.jpThemeLight === '{json.dumps(theme == 'light')}'")
    page.wait_for_timeout(500)


@pytest.mark.parametrize("name", NAMES)
def test_in_jupyterlab_and_notebook_7(
    name: str, books: str, fresh_page: Callable[..., Any], axe: str, artefacts: Path
) -> None:
    """With a kernel of its own, to its end; when the first picture stood there is printed, as a test waits for no clock."""
    page = lab_in(fresh_page(viewport={"width": 1500, "height": 1000}), books)
    run_command(page, "application:toggle-left-area")
    page.evaluate(OPEN, [name, ""])
    done = page.evaluate(RUN, True)
    assert done["errors"] == []
    print(f"{name}: first picture after {done['first'] / 1000:.1f} s, all after {done['last'] / 1000:.1f} s")
    for theme in ("light", "dark"):
        turn(page, theme)
        looked_at(page, theme, f"lab_{name[:2]}", axe, artefacts)
    close(page)
    own = fresh_page(own_errors=True, viewport={"width": 1500, "height": 1000})
    open_notebook(own, books, name, "notebook")
    for theme in ("light", "dark"):
        turn(own, theme)
        looked_at(own, theme, f"notebook_{name[:2]}", axe, artefacts)
    own.evaluate("async () => { await window.jupyterapp.shell.currentWidget.sessionContext.shutdown(); }")


@pytest.fixture(scope="module")
def voila(tmp_path_factory: pytest.TempPathFactory, static: Path) -> Iterator[str]:
    with serve_books(tmp_path_factory.mktemp("voila") / "notebooks", "voila") as address:
        yield address


@pytest.mark.parametrize("name", NAMES)
def test_in_voila(name: str, voila: str, fresh_page: Callable[..., Any], axe: str, artefacts: Path) -> None:
    page = fresh_page(own_errors=True, viewport={"width": 1500, "height": 1000})
    page.goto(f"{voila}/voila/render/{name}?theme=light", timeout=900_000)
    page.locator("#rendered_cells").wait_for(timeout=900_000)
    assert (
        page.locator(".jp-OutputArea-output[data-mime-type*=stderr], .jp-RenderedText[data-mime-type*=error]").count()
        == 0
    )
    looked_at(page, "light", f"voila_{name[:2]}", axe, artefacts)
    # What `?theme=dark` would put there, without running the notebook again.
    page.add_style_tag(path=next(f for f in map(Path, jupyter_path(DARK)) if f.is_file()))
    page.evaluate("document.body.className = 'jp-Notebook theme-dark', document.body.dataset.jpThemeLight = 'false'")
    page.wait_for_timeout(500)
    looked_at(page, "dark", f"voila_{name[:2]}", axe, artefacts)
