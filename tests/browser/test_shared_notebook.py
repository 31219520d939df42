"""A notebook shared as one page: in a browser without a network, its workbench in 3-D, its code folded away."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import tinbook as tb

pytestmark = pytest.mark.browser


TITLE = """# Tray <for> you

A **tray**.

<img src="pictures/a%20tray.svg" alt="a tray" width="40"> ![two](pictures/a%20tray.svg) <img src="../outside.svg" alt="outside"> ![far](https://example.org/x.png)"""
SVG = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 4 3"><path d="M0 0h4v3z"/></svg>'


def notebook(folder: Path, *cells: str) -> Path:
    book = {
        "nbformat": 4,
        "nbformat_minor": 5,
        "metadata": {},
        "cells": [
            {"cell_type": "markdown", "id": "a", "metadata": {}, "source": TITLE},
            *(
                {
                    "cell_type": "code",
                    "id": f"c{k}",
                    "metadata": {},
                    "source": text,
                    "outputs": [],
                    "execution_count": None,
                }
                for k, text in enumerate(cells)
            ),
        ],
    }
    file = folder / "tray for you.ipynb"
    file.write_text(json.dumps(book), encoding="utf-8")
    return file


@pytest.fixture(scope="module")
def shared(static: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("shared")
    (folder / "pictures").mkdir()
    for file in (folder / "pictures" / "a tray.svg", folder.parent / "outside.svg"):
        file.write_text(SVG)
    source = notebook(
        folder,
        "import tinbook as tb\nshop = tb.Shop.demo()\nbench = tb.workbench(tb.folded_channel, shop)\nbench",
        "print('<b>said</b>')\nbench.made.flat",
    )
    before = source.read_bytes()
    page = tb.share(source, folder)
    assert source.read_bytes() == before
    assert page.name == "tray-for-you.html"
    return page


def test_its_workbench_turns_without_a_network(
    fresh_page: Callable[..., Any], shared: Path, axe: str, artefacts: Path
) -> None:
    page = fresh_page(offline=True, viewport={"width": 1100, "height": 900})
    said: list[str] = []
    page.on("console", lambda m: said.append(m.text) if m.type == "error" else None)
    page.goto(shared.as_uri())
    assert page.title() == "Tray <for> you"
    assert page.locator("h1").count() == 1
    frame = page.frame_locator("iframe")
    canvas = frame.locator(".tb-canvas")
    canvas.wait_for()
    picture = "(e) => e.toDataURL()"
    frame.locator(".tb-legend i").first.wait_for()
    first = canvas.evaluate(picture)
    canvas.focus()
    page.keyboard.press("ArrowLeft")
    page.wait_for_timeout(0)
    canvas.evaluate(
        "(e, old) => new Promise((ok) => { const look = () => e.toDataURL() === old ? requestAnimationFrame(look) : ok(); look(); })",
        first,
    )
    assert not page.locator("pre", has_text="import tinbook").is_visible()  # folded away
    page.locator("summary").first.click()
    assert page.locator("pre", has_text="import tinbook").is_visible()
    assert page.locator(".out pre", has_text="<b>said</b>").is_visible()
    pictures = page.evaluate("[...document.images].map((i) => [i.alt, i.naturalWidth > 0, i.src.slice(0, 5)])")
    # Only what lies beside the notebook is taken in; of all else the words are shown, and nobody is asked for it.
    assert pictures[:4] == [
        ["a tray", True, "data:"],
        ["two", True, "data:"],
        ["outside", False, ""],
        ["far", False, ""],
    ]
    assert all(shown and alt for alt, shown, _ in pictures[4:])
    page.screenshot(path=artefacts / "shared_notebook.png", full_page=True)
    page.evaluate(axe)
    found = page.evaluate("axe.run(document, { resultTypes: ['violations'], iframes: false })")
    assert [v["id"] for v in found["violations"] if v["impact"] in ("serious", "critical")] == []
    assert said == []


def test_the_same_notebook_gives_the_same_page(shared: Path, tmp_path: Path) -> None:
    again = tb.share(shared.with_name("tray for you.ipynb"), tmp_path)
    assert again.read_bytes() == shared.read_bytes()


def test_a_failing_cell_is_named_and_nothing_is_written(tmp_path: Path) -> None:
    source = notebook(tmp_path, "1 / 0")
    with pytest.raises(tb.errors.CannotMake, match="ZeroDivisionError"):
        tb.share(source, tmp_path)
    assert [p.name for p in tmp_path.iterdir()] == [source.name]


@pytest.mark.parametrize("what", [None, 3, "", "notes.txt", "gone.ipynb", [], "."])
def test_what_is_no_notebook_is_refused(what: object, tmp_path: Path) -> None:
    with pytest.raises((tb.errors.BadValue, tb.errors.BadFile), match="notebook"):
        tb.share(what, tmp_path)  # type: ignore[arg-type]
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("text", ["", "{", "[]", '{"cells": 3}', '{"nbformat": 99, "cells": []}'])
def test_a_damaged_notebook_is_refused(text: str, tmp_path: Path) -> None:
    bad = tmp_path / "bad.ipynb"
    bad.write_text(text)
    with pytest.raises(tb.errors.BadFile, match="notebook"):
        tb.share(bad, tmp_path)
    with pytest.raises(tb.errors.BadValue, match="seconds"):
        tb.share(bad, tmp_path, seconds=-1)
