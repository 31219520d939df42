"""A hole that lies over a fold: pointed at in its air in the bend, it is one hole in space and in the flat."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from viewer_samples import folded, frames, page

from tinbook.making.made import Made
from tinbook.making.resolve import make
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.shop.shop import Shop

pytestmark = pytest.mark.browser
SLOT = "hole:slot for the strap"
LEFT, DIA, FROM_EDGE = 60.0, 20.0, 3.0
"""mm: the hole's middle along the fold, its diameter, and how far its middle lies inside the mould line."""


@pytest.fixture(scope="module")
def made() -> Made:
    part = Part("HN-HO", sheet="DC01 1.5", base=Outline.rectangle(300, 120)).fold("front", "up", leg=40)
    return make(
        part.hole((LEFT, FROM_EDGE), DIA, name="slot for the strap").hole((150, 60), 8, name="plain"), Shop.demo()
    )


@pytest.fixture
def shown(fresh_page: Callable[..., Any], static: Path, tmp_path: Path, made: Made) -> Any:
    """A page that shows the part from above, and near: the bend is a strip a few mm wide."""
    p = fresh_page()
    p.goto(page(tmp_path, (static / "page.js").read_text(encoding="utf-8"), short=folded(made)))
    p.wait_for_function("log.some(([n]) => n === 'drawn')")
    look(p, "above")
    return p


def look(p: Any, name: str) -> None:
    """Look from there, and come near the hole."""
    p.evaluate(
        """([name, x]) => {
            const v = pair.folded, r = v.canvas.getBoundingClientRect();
            v.look(name);
            const [left, top] = onScreen(x, 1, 1);
            v.zoom(0.3, left - r.left, top - r.top);
        }""",
        [name, LEFT],
    )


def in_the_bend(made: Made, x: float) -> list[float]:
    """A point in the bend, beside the leg that stands on it: seen from above nothing lies over or under it."""
    (strip,) = made.strips
    return [x, made.thickness + 0.6 * strip.radius, 0.0]


def press(p: Any, point: list[float]) -> str:
    """Click on a point of the part in space; return what was picked."""
    x, y = p.evaluate("([x, y, z]) => onScreen(x, y, z)", point)
    p.mouse.click(x, y)
    frames(p)
    return str(p.evaluate("log.filter(([n]) => n === 'pick').at(-1)[1].name"))


def marked_in_flat(p: Any) -> list[str]:
    return list(p.locator(".tb-marked").evaluate_all("l => l.map((e) => e.dataset.name)"))


def test_picked_in_the_bend_it_is_marked_in_the_flat(shown: Any, made: Made, artefacts: Path) -> None:
    assert press(shown, in_the_bend(made, 100)) == "fold:front"  # beside the hole there is metal
    assert press(shown, in_the_bend(made, LEFT)) == SLOT
    assert marked_in_flat(shown) == [SLOT]
    assert "diameter 20 mm" in shown.text_content(".tb-space .tb-tip")
    shown.screenshot(path=artefacts / "hole_over_a_fold.png")
    # Its air in the base and, from the front, in the leg is the same hole.
    assert press(shown, [LEFT, FROM_EDGE + DIA / 4, 0.0]) == ""
    look(shown, "front")
    assert press(shown, [LEFT, 0.0, 7.0]) == SLOT
    look(shown, "above")
    assert press(shown, in_the_bend(made, LEFT)) == ""  # once more: no longer
    assert marked_in_flat(shown) == []


def test_picked_in_the_flat_it_is_marked_round_the_bend(shown: Any, made: Made) -> None:
    plain = shown.evaluate("picture()")
    box = shown.locator(f"[data-name='{SLOT}']").bounding_box()
    shown.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    shown.mouse.move(5, 880)
    frames(shown)
    assert shown.evaluate("log.filter(([n]) => n === 'pick').map(([, d]) => d.name)") == [SLOT]
    assert shown.evaluate("pair.folded.marked") == SLOT
    assert shown.evaluate("picture()") != plain
    low, high = shown.evaluate(
        """() => {
            const { geometry } = pair.folded.marks.children[0];
            geometry.computeBoundingBox();
            const { min, max } = geometry.boundingBox;
            return [min.toArray(), max.toArray()];
        }"""
    )
    assert (low[0], high[0]) == pytest.approx((LEFT - DIA / 2, LEFT + DIA / 2), abs=0.2)  # chords of a circle
    # On the base it reaches as far as it was drawn to, and it ends up in the leg, beyond the bend.
    outer = made.strips[0].radius + made.thickness
    assert high[1] == pytest.approx(FROM_EDGE + DIA / 2, abs=0.05)
    assert low[1] == pytest.approx(0.0, abs=0.05)
    assert high[2] > outer + 1
