"""Strength and fold order on a workbench in JupyterLab, as a user works with them, light and dark, with no network."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from bench_pages import Hand
from book_pages import OPEN, close
from notebook_server import run_all, run_command, write_notebook

pytestmark = pytest.mark.browser

DESIGN = '''
import threading
from typing import Annotated
import tinbook as tb
from tinbook.strength import request

moved, run = threading.Event(), request.strength_of

def held_run(*given, progress, **more):
    """Hold the run in its load steps until the leg has been moved."""
    def tell(share, word):
        progress(share, word)
        if "of the load" in word:
            moved.wait()
    return run(*given, progress=tell, **more)

request.strength_of = held_run

def shelf(length: Annotated[float, tb.Range(200, 400, 5, "mm")] = 300, leg: Annotated[float, tb.Range(20, 40)] = 30) -> tb.Part:
    """A shelf beside the seat of the Heron."""
    if leg == 31:
        moved.set()
    part = tb.Part("HN-SH", sheet="DC01 1.6", base=tb.Outline.rectangle(length, 160)).fold("front", "up", leg=leg)
    return part.holes_along(("left", "right"), dia=8, pitch=80, inset=12, ends=40, use="plug weld")
'''
BENCH = "bench = tb.workbench(shelf, tb.Shop.demo())\nbench"
FOLDING = "tb.folding(tb.make(tb.families.folded_box(), tb.Shop.demo()))"


@pytest.fixture
def shelf(book_folder: Path, lab_page: Any) -> Iterator[Any]:
    """JupyterLab with one notebook, `shelf.ipynb`, run."""
    write_notebook(book_folder / "shelf.ipynb", [DESIGN, BENCH, FOLDING])
    lab_page.set_viewport_size({"width": 1500, "height": 1300})
    lab_page.evaluate(OPEN, ["shelf.ipynb", ""])
    run_all(lab_page)
    yield lab_page
    close(lab_page)


def choose(hand: Hand, name: str) -> None:
    hand.bench.locator(".tinbook-strength select:visible").last.select_option(name)


def field(hand: Hand, what: str) -> Any:
    return hand.inside(f"return pair.folded.field.{what};")


def await_field(hand: Hand, script: str, seconds: float = 120) -> None:
    for _ in range(int(seconds * 10)):
        if hand.inside(f"const field = pair.folded.field; return Boolean({script});"):
            return
        hand.page.wait_for_timeout(100)
    raise AssertionError(script)


WATCH = """e => {
    const bar = e.querySelector(".progress-bar"), seen = [];
    const look = () => seen.push(parseFloat(bar.style.width) || 0);
    new MutationObserver(look).observe(bar, { attributes: true, attributeFilter: ["style"] });
    e.tinbookSeen = seen;
}"""
"""Keeps every width that the progress bar takes."""


def test_strength_runs_colours_swings_and_is_marked_when_the_part_changes(shelf: Any, artefacts: Path) -> None:
    page, hand = shelf, Hand(shelf)
    plain = hand.state().picture
    assert hand.bench.locator(".tinbook-strength").count() == 0  # closed until asked for
    hand.press("Strength")
    hand.bench.locator(".tinbook-strength").wait_for()

    # A foot beside the part is refused in place.
    place = hand.bench.locator(".tinbook-strength input[type=number]:visible").first
    middle = place.input_value()
    place.fill("4000")
    place.press("Enter")
    hand.press("Run")
    hand.await_text("lie on panel 'base'")
    assert hand.bench.locator(".tinbook-answer").count() == 0
    place.fill(middle)
    place.press("Enter")

    section = hand.bench.locator(".tinbook-strength")
    section.evaluate(WATCH)
    hand.press("Run")
    hand.bench.locator(".tinbook-strength .widget-label", has_text="of the load").first.wait_for(timeout=300_000)
    bar = hand.bench.locator(".tinbook-strength .progress-bar")
    assert 0 < bar.evaluate("e => parseFloat(e.style.width)") < 100
    # The sliders stay live while it runs: it is held until the leg has been moved.
    assert hand.bench.locator(".tinbook-answer").count() == 0
    hand.by_key(1, times=1)
    hand.by_key(1, "ArrowLeft", times=1)
    hand.bench.locator(".tinbook-answer").wait_for(timeout=300_000)
    widths = section.evaluate("e => e.tinbookSeen")
    until_done = widths[: widths.index(100) + 1]
    assert until_done == sorted(until_done)

    answer = hand.bench.locator(".tinbook-answer").inner_text()
    for word in ("greatest deflection", "first frequency", "within", "plug welds", "not a certificate"):
        assert word in answer
    await_field(hand, "field.on && field.data.title.startsWith('deflection')")
    assert "deflection, at least, mm" in hand.bench.locator(".tb-scale").inner_text()
    assert hand.state().picture != plain
    page.screenshot(path=artefacts / "strength_lab_light.png")
    choose(hand, "stress, up side")
    await_field(hand, "field.data.title.startsWith('von Mises')")
    choose(hand, "mode 1")
    await_field(hand, "field.running")
    hand.inside("pair.swung = new Set();")
    await_field(hand, "pair.swung.add(Math.round(1000 * field.share)).size > 3")
    hand.press("hold still")
    assert (field(hand, "running"), field(hand, "share")) == (False, 1)
    hand.press("let it swing")
    assert field(hand, "running")

    moved_state = hand.by_key(0, times=1)
    await_field(hand, "!field.on")
    hand.await_text("as of the earlier part")
    assert not hand.bench.locator(".tb-scale").is_visible()
    assert hand.bench.locator(".tb-legend").is_visible()
    assert "305.0 ×" in moved_state.numbers
    page.screenshot(path=artefacts / "strength_lab_marked.png")
    hand.press("Undo")
    await_field(hand, "field.on")
    assert "as of the earlier part" not in hand.bench.inner_text()


def test_fold_order_in_the_workbench_and_on_its_own_in_the_dark(shelf: Any, artefacts: Path) -> None:
    page, hand = shelf, Hand(shelf)
    run_command(page, "apputils:change-theme", {"theme": "JupyterLab Dark"})
    page.wait_for_function("() => document.querySelector('.tb-pair').dataset.theme === 'dark'")
    hand.press("Fold order")
    hand.press("Work out the order")
    hand.bench.locator(".tinbook-step svg").wait_for(timeout=300_000)
    assert "Step 1 of 1: fold front up" in hand.bench.locator(".tinbook-step-text").inner_text()
    hand.by_key(0)
    hand.await_text("as of the earlier part")
    page.screenshot(path=artefacts / "fold_order_lab_dark.png")

    page.evaluate("window.jupyterapp.shell.currentWidget.content.scrollToItem(2, 'start')")
    own = page.locator(".tinbook-folding").last
    own.locator(".tinbook-step svg").wait_for(timeout=300_000)
    assert "4 steps" in own.inner_text()
    first = own.locator(".tinbook-step").inner_html()
    step, far = own.locator(".noUi-handle").nth(0), own.locator(".noUi-handle").nth(1)
    step.focus()
    page.keyboard.press("ArrowRight")
    own.locator(".tinbook-step-text", has_text="Step 2 of 4").wait_for()
    assert page.evaluate("document.activeElement.classList.contains('noUi-handle')")
    second = own.locator(".tinbook-step").inner_html()
    assert second != first
    box = step.bounding_box()
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.mouse.down()
    page.mouse.move(box["x"] + 500, box["y"] + box["height"] / 2, steps=6)
    page.mouse.up()
    own.locator(".tinbook-step-text", has_text="Step 4 of 4").wait_for()
    far.focus()
    for _ in range(4):
        page.keyboard.press("ArrowLeft")
    own.locator(".tinbook-step", has_text="turned 0.0 degrees").wait_for()
    page.screenshot(path=artefacts / "folding_lab_dark.png")
