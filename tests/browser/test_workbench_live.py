"""The workbench in JupyterLab, Notebook and Voila, as a user works with it, light and dark, with no network."""

from __future__ import annotations

import contextlib
import json
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import ezdxf
import pytest
from bench_pages import TIGHT, Hand
from book_pages import BOOKS, OPEN, close
from notebook_server import open_notebook, run_all, run_below, run_command, serve, write_notebook

pytestmark = pytest.mark.browser

DESIGN = '''
from typing import Annotated, Literal
import tinbook as tb

def tray(
    length: Annotated[float, tb.Range(600, 1200, 5, "mm")] = 900,
    leg: Annotated[float, tb.Range(20, 80, 1, "mm")] = 40,
    beads: Annotated[int, tb.Range(0, 5)] = 3,
    lip: bool = True,
) -> tb.Part:
    """A tray for the battery of the Heron."""
    part = tb.Part("HN-BT", sheet="DC01 1.6", base=tb.Outline.rectangle(length, 500))
    part = part.fold("front", "up", leg=leg).fold("rear", "up", leg=leg)
    if lip:
        part = part.fold("front.end", "down", leg=15, name="lip")
    for i in range(beads):
        part = part.bead([(120, 120 + 52 * i), (length - 120, 120 + 52 * i)], roll="R18x5", name=f"rib {i + 1}")
    part = part.holes_along(("left", "right"), dia=8, pitch=45, inset=12, use="plug weld")
    return part.hole((length / 2, 440), 30, name="drain", use="drain")
'''
BENCH = "bench = tb.workbench(tray, tb.Shop.demo())\nbench"
SECOND = "tb.workbench(tb.folded_channel, tb.Shop.demo())"
TELL = """import json, pathlib
pathlib.Path("told.json").write_text(json.dumps({"values": bench.values, "picked": bench.picked}))"""


@pytest.fixture(scope="module")
def folder(book_folder: Path, books: str) -> Path:
    """Folder of the served notebooks, `tray.ipynb` among them."""
    write_notebook(book_folder / "tray.ipynb", [DESIGN, BENCH, TELL, SECOND])
    return book_folder


@pytest.fixture
def opened(folder: Path, lab_page: Any) -> Iterator[Callable[[str], Any]]:
    """Return `opened(notebook)`: JupyterLab with that notebook, whose kernel goes on from test to test."""

    def open_in_lab(name: str) -> Any:
        lab_page.set_viewport_size({"width": 1500, "height": 1000})
        lab_page.evaluate(OPEN, [name, ""])
        return lab_page

    yield open_in_lab
    close(lab_page)


@pytest.fixture
def voila(tmp_path: Path) -> Iterator[tuple[str, Path]]:
    """Address of Voila with one notebook, and its folder."""
    folder, home = tmp_path / "work", tmp_path / "home"
    folder.mkdir()
    home.mkdir()
    write_notebook(folder / "tray.ipynb", [DESIGN, BENCH])
    with serve(folder, home, "voila", "tray.ipynb") as address:
        yield address, folder


def numbers_of(text: str) -> dict[str, str]:
    lines = [line for line in text.splitlines() if line.strip()]
    return dict(zip(lines[::2], lines[1::2], strict=True))


def test_in_lab_a_design_is_slid_picked_undone_and_written(
    opened: Callable[[str], Any], folder: Path, artefacts: Path, axe: str
) -> None:
    page = opened("tray.ipynb")
    run_all(page)
    hand = Hand(page)
    assert 0.03 < hand.filled() < 0.9
    first = hand.state()
    assert numbers_of(first.numbers)["blank"].startswith("900.0 ×")

    moved = hand.by_key(0)
    assert numbers_of(moved.numbers)["blank"].startswith("915.0 ×")
    # JupyterLab did not take the arrow keys for itself.
    assert hand.inside("return document.activeElement.classList.contains('tb-slider');")
    dragged = hand.by_mouse(1, 15)
    assert numbers_of(dragged.numbers)["blank"] != numbers_of(moved.numbers)["blank"]
    fewer = hand.by_key(2, "ArrowLeft", 3)
    assert "bead" not in hand.inside("return pair.folded.data.groups.map((g) => g.kind);")
    assert fewer.findings != first.findings
    narrow = hand.bench.locator(".tb-slider").evaluate_all("l => Math.min(...l.map((e) => e.offsetWidth))")
    assert narrow >= 180
    assert hand.type("length", "26 1/4 in") == ""
    assert numbers_of(hand.await_change(fewer).numbers)["blank"].startswith("666.8 ×")  # 666.75 mm
    for wrong in ("1,250", "99999", "26 kg"):
        assert hand.type("length", wrong).startswith(f"length: '{wrong}'")
    assert numbers_of(hand.state().numbers)["blank"].startswith("666.8 ×")
    assert "a whole number" in hand.type("beads", "2.7")
    before = hand.state()
    assert hand.type("length", "915 mm") == ""
    fewer = hand.await_change(before)

    lip = hand.bench.locator("input[type=checkbox]").first
    assert numbers_of(fewer.numbers)["folds"] == "3"
    lip.focus()
    page.keyboard.press("Space")
    assert numbers_of(hand.await_change(fewer).numbers)["folds"] == "2"
    assert "lip" not in hand.state().findings

    assert hand.pick("hole").startswith("hole:plug weld")
    picked = hand.pick("fold")
    assert hand.marked_in_flat() == [picked]
    drain = hand.bench.locator("[data-name='hole:drain']")
    drain.click()
    assert hand.inside("return pair.folded.marked;") == "hole:drain"
    page.wait_for_timeout(300)
    page.screenshot(path=artefacts / "workbench_lab_light.png")

    assert hand.serious(axe) == []
    assert hand.small() == []

    before = hand.state()
    hand.press("Undo")
    assert numbers_of(hand.await_change(before).numbers)["folds"] == "3"
    written = hand.write(folder)
    assert len(written) == 6
    assert len(ezdxf.readfile(written[0]).modelspace().query("CIRCLE")) > 20
    assert {p.parent for p in written} == {folder / "out"}
    hand.press("Copy as code")
    hand.await_text("tray(length=915.0")
    hand.press("Save values")
    hand.await_text("saved: tray_values.toml")
    assert "length = 915.0" in (folder / "tray_values.toml").read_text(encoding="utf-8")

    # The kernel knows what was slid and picked.
    told = folder / "told.json"
    told.unlink()
    page.evaluate(
        """async () => {
            window.jupyterapp.shell.currentWidget.content.activeCellIndex = 2;
            await window.jupyterapp.commands.execute("notebook:run-cell");
        }"""
    )
    for _ in range(1200):
        if told.exists() and told.stat().st_size:
            break
        page.wait_for_timeout(100)
    said = json.loads(told.read_text(encoding="utf-8"))
    assert said["values"]["length"] == 915.0
    assert said["picked"] == "hole:drain"


def test_in_lab_in_the_dark(opened: Callable[[str], Any], artefacts: Path, axe: str) -> None:
    page = opened("tray.ipynb")
    run_command(page, "apputils:change-theme", {"theme": "JupyterLab Dark"})
    page.wait_for_function("document.body.dataset.jpThemeLight === 'false'")
    run_all(page)
    hand = Hand(page)
    assert hand.inside("return pair.element.dataset.theme;") == "dark"
    hand.pick("bead")
    page.screenshot(path=artefacts / "workbench_lab_dark.png")
    hand.press("Strength")
    hand.press("Fold order")
    hand.bench.get_by_text("Work out the order").wait_for()
    assert hand.serious(axe) == []
    # Fitted at once: the first view of a page, the second, and both again when their cells are run once more.
    assert Hand(page, 1).inside(TIGHT) < 1.15
    run_all(page)
    for i in (0, 1):
        assert Hand(page, i).inside(TIGHT) < 1.15
    run_command(page, "application:toggle-left-area")
    hand.fits("dark", "lab")
    run_command(page, "apputils:change-theme", {"theme": "JupyterLab Light"})
    page.wait_for_function("() => document.querySelector('.tb-pair').dataset.theme === 'light'")
    hand.fits("light", "lab")


def test_in_notebook(books: str, folder: Path, fresh_page: Callable[..., Any], artefacts: Path) -> None:
    page = fresh_page(own_errors=True, viewport={"width": 1500, "height": 1000})
    open_notebook(page, books, "tray.ipynb", "notebook")
    run_all(page)
    hand = Hand(page)
    hand.by_key(0)
    hand.by_mouse(1, 15)
    assert hand.pick("hole") in hand.marked_in_flat()
    assert hand.write(folder)
    page.screenshot(path=artefacts / "workbench_notebook_light.png")
    hand.fits("light", "notebook")
    run_command(page, "apputils:change-theme", {"theme": "JupyterLab Dark"})
    page.wait_for_function("() => document.querySelector('.tb-pair').dataset.theme === 'dark'")
    hand.fits("dark", "notebook")


def test_in_voila(voila: tuple[str, Path], fresh_page: Callable[..., Any], static: Path, artefacts: Path) -> None:
    address, folder = voila
    page = fresh_page(own_errors=True, viewport={"width": 1500, "height": 1000})
    page.goto(f"{address}/?theme=light", timeout=300_000)
    Hand(page).fits("light", "voila")
    page.set_viewport_size({"width": 1500, "height": 1000})
    page.goto(f"{address}/?theme=dark", timeout=300_000)
    hand = Hand(page)
    hand.by_key(0)
    hand.by_mouse(1, 15)
    assert hand.pick("hole") in hand.marked_in_flat()
    assert hand.write(folder)
    page.screenshot(path=artefacts / "workbench_voila_dark.png")
    # Sliders stand in a column beside the views; above them, where the page is narrow, side by side.
    tops = "() => [...document.querySelectorAll('.tb-slider')].slice(0, 2).map((e) => e.getBoundingClientRect().top)"
    first, second = page.evaluate(tops)
    assert second > first
    page.set_viewport_size({"width": 848, "height": 900})
    page.wait_for_function(f"() => {{ const [a, b] = ({tops})(); return a === b; }}")
    hand.fits("dark", "voila")


def code_of(notebook: Path) -> str:
    cells = json.loads(notebook.read_text(encoding="utf-8"))["cells"]
    return "".join("".join(c["source"]) for c in cells if c["cell_type"] == "code")


# A job's workbench shows sheets instead of a part: `test_job_page` works it.
LIVE = [p.name for p in sorted(BOOKS.glob("*.ipynb")) if re.search(r"workbench\((?!nest)", code_of(p))]


def test_there_are_such_notebooks() -> None:
    assert len(LIVE) >= 4


@pytest.mark.parametrize("name", [LIVE[0], *(pytest.param(name, marks=pytest.mark.full) for name in LIVE[1:])])
def test_each_notebook_with_a_workbench_runs_slides_and_writes(
    name: str, opened: Callable[[str], Any], folder: Path, artefacts: Path
) -> None:
    """One in every run, all with `--full`: every run executes the notebooks without a browser as well."""
    page = opened(name)
    run_all(page)
    page.wait_for_timeout(500)
    page.evaluate(
        """() => {
            const book = window.jupyterapp.shell.currentWidget.content;
            const i = book.widgets.findIndex((w) => w.model.sharedModel.source.includes("workbench("));
            book.activeCellIndex = i;
            return book.scrollToItem(i, "start");
        }"""
    )
    hand = Hand(page)
    assert hand.filled() > 0.02
    values = move_all(hand)
    kinds = set(hand.inside("return pair.folded.data.groups.map((g) => g.kind);"))
    if kind := next((k for k in ("hole", "bead", "fold") if k in kinds), ""):  # an assembly shows members
        assert hand.pick(kind) in hand.marked_in_flat()
    page.screenshot(path=artefacts / f"{Path(name).stem}_light.png")
    page.evaluate("window.jupyterapp.commands.execute('apputils:change-theme', {theme: 'JupyterLab Dark'})")
    page.wait_for_function("() => document.querySelector('.tb-pair').dataset.theme === 'dark'")
    page.wait_for_timeout(300)
    page.screenshot(path=artefacts / f"{Path(name).stem}_dark.png")
    # The cells below the workbench write the part that it shows, and so does its button.
    for old in (folder / "out").rglob("*.*"):
        old.unlink()
    assert run_below(page, "workbench(") == []
    parts = on_the_workbench(name, values)
    below = files_of(folder, parts)
    held = hold_the_parts(below, parts, artefacts)
    print(f"{name}: {held} files read back, {len(values)} sliders moved")
    hand.write(folder)
    again = files_of(folder, parts)
    assert set(again) == set(below) if len(parts) == 1 else set(again) & set(below)
    assert [n for n, data in again.items() if n in below and data != below[n]] == []


MOVES = {"returns": "25 mm"}
"""One step of a slider is no part there: no tool folds a leg of 1 mm."""


def move_all(hand: Hand) -> dict[str, float]:
    """Move every slider of a workbench once and return what its fields show then."""
    rows = hand.bench.locator(".tb-field:has(.tb-slider)")
    found = {}
    for i in range(rows.count()):
        row = rows.nth(i)
        name = row.get_attribute("data-name")
        before = hand.state()
        if name in MOVES:
            assert hand.type(name, MOVES[name]) == ""
        else:
            row.locator(".tb-slider").press("ArrowRight")
        for _ in range(600):  # a picture of the whole part need not change for each of them
            if hand.state() != before:
                break
            hand.page.wait_for_timeout(100)
        text = row.locator("input[type=text]").input_value()
        found[str(name)] = int(text) if text.isdigit() else float(text)
    return found


def on_the_workbench(name: str, values: dict[str, float]) -> dict[str, Any]:
    """Return the made parts by number and revision that a notebook's own design function gives for values read from its page."""
    from unittest.mock import patch

    import tinbook as tb

    cells = json.loads((BOOKS / name).read_text(encoding="utf-8"))["cells"]
    sources = ["".join(c["source"]) for c in cells if c["cell_type"] == "code"]
    at = next(i for i, text in enumerate(sources) if "workbench(" in text)
    asked: list[Any] = []
    with contextlib.chdir(BOOKS), patch.object(tb, "workbench", lambda *given, **more: asked.append((given, more))):
        exec("\n".join(sources[: at + 1]), {})
    (design, shop), more = asked[0]
    thing = design(**{**more.get("start", {}), **values})
    made = [m for _, m in tb.assemble(thing, shop).made] if isinstance(thing, tb.Assembly) else [tb.make(thing, shop)]
    return {f"{m.part.number}_{m.part.rev}_": m for m in made}


def files_of(folder: Path, parts: dict[str, Any]) -> dict[str, bytes]:
    """Return the parts' own files in `out` by name; a card beside them has no revision in its name."""
    return {p.name: p.read_bytes() for p in (folder / "out").rglob("*.*") if p.name.startswith(tuple(parts))}


def hold_the_parts(found: dict[str, bytes], parts: dict[str, Any], artefacts: Path) -> int:
    """Hold each DXF and STEP, read back by libraries that know nothing of the kit, against its part; return how many."""
    import ezdxf.bbox
    from cadquery import importers

    held = 0
    for name, data in found.items():
        made = next(m for start, m in parts.items() if name.startswith(start))
        (file := artefacts / name).write_bytes(data)
        if re.search(r"_x\d+\.dxf$", name):
            page = ezdxf.readfile(file).modelspace()
            (x0, y0, _), (x1, y1, _) = ezdxf.bbox.extents(page)
            assert (x1 - x0, y1 - y0) == pytest.approx(made.flat.size, abs=1e-3), name
            assert len(page.query("CIRCLE")) == sum(1 for c in made.flat.cuts if c.dia), name
        elif re.search(r"_x\d+\.step$", name):
            solid = importers.importStep(str(file)).val()
            assert solid.Volume() == pytest.approx(made.solid.Volume(), rel=1e-6), name
            assert solid.BoundingBox().DiagonalLength == pytest.approx(made.solid.BoundingBox().DiagonalLength), name
        else:
            continue
        held += 1
    assert held >= 2
    return held
