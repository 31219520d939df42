"""A part shows itself: one line as text, in a notebook a picture of what is declared."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

import pytest

import tinbook as tb

PLATE = tb.Part("HN-PL-1", sheet="DC01 1.5", base=tb.Outline.rectangle(200, 100))
SVG = "{http://www.w3.org/2000/svg}"


def drawing(part: tb.Part) -> ET.Element:
    html = part._repr_html_()
    return ET.fromstring(html[: html.index("</svg>") + 6])


def test_text_is_one_line_and_counts() -> None:
    part = PLATE.fold("right", "up", leg=30).hole((50, 50), 8).hole((80, 50), 8)
    assert repr(PLATE) == "<HN-PL-1 rev A of DC01 1.5: 1 panel>"
    assert repr(part) == "<HN-PL-1 rev A of DC01 1.5: 2 panels, 2 hole features>"
    assert len(repr(tb.families.winch_cradle().members[0].thing)) < 90


def test_every_feature_of_the_base_is_drawn_where_it_is_declared() -> None:
    plain = len(list(drawing(PLATE).iter()))
    hole = drawing(PLATE.hole((50, 40), 8))
    ways = [e.get("d") or "" for e in hole.iter(f"{SVG}path")]
    # A circle of 8 mm at (50, 40) is two arcs of radius 4 between (54, 40) and (46, 40); SVG's y runs down.
    assert any(re.match(r"M(54|46) -40A4 4 ", d) for d in ways)
    assert len(list(hole.iter())) == plain + 1
    grid = drawing(PLATE.hole_grid((20, 20), counts=(3, 2), steps=(30, 40), dia=5))
    assert sum(d.count("A2.5 2.5") for d in (e.get("d") or "" for e in grid.iter(f"{SVG}path"))) == 3 * 2 * 2
    beads = drawing(PLATE.bead([(40, 20), (40, 80)], roll="R18x5").repeated(3, step=40))
    lines = [e.get("points") for e in beads.iter(f"{SVG}polyline")]
    assert lines == [f"{x},-20 {x},-80" for x in (40, 80, 120)]
    row = drawing(PLATE.holes_along("front", dia=6, pitch=30, inset=12))
    (line,) = [e.get("points") or "" for e in row.iter(f"{SVG}polyline")]
    assert {p.split(",")[1] for p in line.split()} == {"-12"}


@pytest.mark.parametrize(("start", "stop", "way"), [(None, None, "M0 0L200 0"), (20, 150, "M20 0L150 0")])
def test_a_fold_is_drawn_over_its_stretch(start: float | None, stop: float | None, way: str) -> None:
    part = PLATE.fold("front", "down", leg=25, angle=60, start=start, stop=stop)
    assert way in [e.get("d") for e in drawing(part).iter(f"{SVG}path")]
    assert "Legs: front down, 25 mm, turned 60°." in part._repr_html_()


def test_a_part_without_a_shop_shows_itself() -> None:
    """Sizes that only a shop knows, a tool or a bolt's clearance, are not needed."""
    part = tb.Part("X", sheet="no such sheet", base=PLATE.base).hole((50, 50), use="bolt", size="M6")
    assert "<svg" in part._repr_html_()
