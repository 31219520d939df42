"""What a part may hold, sheets that nobody cuts, letters that nobody can draw: refused where they are given."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from strategies import SHOP
from tinbook.errors import BadValue
from tinbook.making.resolve import make
from tinbook.part.features import MOST_HOLES
from tinbook.part.outline import MOST_EDGES, Outline
from tinbook.part.part import Part
from tinbook.part.partfile import part_from_toml, part_to_toml


def plate(sheet: str = "DC01 1.5") -> Part:
    return Part("HN-X", sheet=sheet, base=Outline.rectangle(2000, 1200))


def test_unnamed_holes_are_numbered_in_order_and_beside_given_names() -> None:
    part = plate()
    for k in range(4):
        part = part.hole((50 + 50 * k, 50), 8, name="cut-out 3" if k == 2 else None)
    part = part.hole((600, 50), 8).hole((700, 50), 8, use="drain").hole((800, 50), 8)
    names = [h.name for h in part.holes]
    assert names == ["cut-out", "cut-out 2", "cut-out 3", "cut-out 4", "cut-out 5", "drain", "cut-out 6"]


def test_three_thousand_unnamed_holes_look_at_few_names(monkeypatch: pytest.MonkeyPatch) -> None:
    """Counted, not timed: the text of a name is made a few times per hole, where it was made for each earlier number."""
    import tinbook.part.names as home

    asked = 0

    def counted(name: str, wanted: str) -> bool:
        nonlocal asked
        asked += 1
        return plain(name, wanted)

    plain = home._numbered
    monkeypatch.setattr(home, "_numbered", counted)
    part = plate()
    for k in range(3000):
        part = part.hole((20 + k % 75 * 26, 20 + k // 75 * 28), 8)
    assert len({h.name for h in part.holes}) == 3000
    assert asked <= 2 * 3000


def test_more_holes_than_a_part_takes() -> None:
    with pytest.raises(BadValue, match=r"counts.*10000"):
        plate().hole_grid((5, 5), (1000, 1000), (1, 1), dia=0.5)
    with pytest.raises(BadValue, match=r"copies.*10000"):
        plate().hole((5, 5), 2).repeated(1_000_000, 1)
    full = plate().hole((5, 5), 2).repeated(MOST_HOLES, 0.1)
    with pytest.raises(BadValue, match=r"holes.*at most 10000"):
        full.hole((5, 500), 2)
    row = make(plate().holes_along("front", pitch="0.11 mm", dia=0.1, inset=2), SHOP)
    grids = make(
        plate().hole_grid((5, 5), (100, 100), (9, 9), dia=2).hole_grid((1000, 5), (100, 100), (9, 9), dia=2), SHOP
    )
    for made in (row, grids):
        (found,) = made.findings
        assert (found.code, found.severity, found.limit, found.unit) == ("hole.too_many", "stop", MOST_HOLES, "")


def test_a_part_file_keeps_its_names_and_its_limit() -> None:
    part = plate().hole((50, 50), 8).hole((90, 50), 8).hole((130, 50), 8)
    assert [h.name for h in part_from_toml(part_to_toml(part)).holes] == [h.name for h in part.holes]


def star(points: int) -> list[tuple[float, float]]:
    turn = 2 * math.pi / points
    radius = [500 + 5 * (k % 2) for k in range(points)]
    return [(r * math.cos(turn * k), r * math.sin(turn * k)) for k, r in enumerate(radius)]


def test_an_outline_of_many_edges_is_made_or_refused() -> None:
    with pytest.raises(BadValue, match=r"outline edges: 20000.*at most 10000"):
        Outline.polygon(star(2 * MOST_EDGES))
    made = make(Part("HN-X", sheet="DC01 1.5", base=Outline.polygon(star(1000))), SHOP)
    # A thousand triangles between neighbouring radii of 500 and 505 mm.
    area = 1000 * 0.5 * 500 * 505 * math.sin(2 * math.pi / 1000)
    assert made.solid.Volume() == pytest.approx(area * 1.5, rel=1e-9)


@pytest.mark.parametrize("thickness", [0.05, 25.0, 60.0])
def test_a_sheet_that_no_cutter_takes_is_a_finding(thickness: float) -> None:
    """The demo plasma takes 2 to 16 mm of mild steel, its laser 0.5 to 20 mm."""
    sheet = replace(SHOP.sheet_by_key("DC01 1.5"), key="odd", nominal=thickness, measured=None)
    shop = replace(SHOP, sheets=(*SHOP.sheets, sheet))
    made = make(plate("odd"), shop)
    (found,) = made.findings
    assert (found.code, found.severity, found.value) == ("cut.thickness", "stop", thickness)
    assert found.limit == (0.5 if thickness < 1 else 20.0)
    assert "Fibre laser" in found.what


@pytest.mark.parametrize("text", ["½", "HN ½", "漢"])
def test_a_letter_without_strokes_is_refused_where_it_is_given(text: str) -> None:
    with pytest.raises(BadValue, match="stroke font"):
        plate().text(text, (50, 50))
