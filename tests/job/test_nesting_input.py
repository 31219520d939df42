"""Wrong blanks, plates and numbers: each is named with what would be valid."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from shapely.geometry import box

import tinbook as tb
from benchmarks.nestingkits import blank, loop
from tinbook.errors import BadValue

Blank, Plate = tb.job.Blank, tb.job.Plate
SQUARE = box(0, 0, 100, 100)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"gap": -1}, "gap: -1"),
        ({"gap": math.nan}, "gap"),
        ({"gap": "6 kg"}, "gap"),
        ({"gap": None}, "gap"),
        ({"effort": math.nan}, "effort"),
        ({"effort": math.inf}, "effort"),
        ({"effort": -1}, "effort: -1"),
        ({"seed": "x"}, "seed"),
        ({"seed": True}, "seed"),
        ({"gap": True}, "gap"),
        ({"blanks": ["a"]}, "blanks"),
        ({"margins": 501}, "margins 'left': 501"),
        ({"margins": {"left": 5}}, "margins"),
        ({"blanks": []}, "blanks"),
        ({"plates": []}, "plates"),
        ({"plates": [Plate.rectangle("S", 90, 2000)]}, r"blank 'a': '100.0 x 100.0 mm'.*largest has room"),
        ({"plates": [Plate.rectangle("S", 15, 15)]}, "larger than its margins"),
        ({"plates": [Plate.rectangle("S", 130, 130, quantity=1)]}, "more plates"),
        ({"plates": [Plate.rectangle("S", 500, 500)] * 2}, "each name once"),
    ],
)
def test_bad_input_is_named(change: dict, said: str) -> None:
    given = {
        "blanks": [blank("a", SQUARE, quantity=2)],
        "plates": [Plate.rectangle("S", 500, 500)],
        "gap": 6,
        "margins": 10,
    }
    with pytest.raises(BadValue, match=said):
        tb.job.nest(**{"effort": 0, **given, **change})


def test_numbers_by_hand_are_checked_at_the_door() -> None:
    nest = tb.job.nest([blank("a", SQUARE)], [Plate.rectangle("S", 500, 500)], gap="6 mm", margins="10 mm", effort=0)
    for change in ({"x": math.nan}, {"y": math.inf}, {"angle": "x"}, {"to_plate": 0}, {"to_plate": 2}):
        with pytest.raises(BadValue, match=next(iter(change))):
            tb.job.moved(nest, 1, "a", **change)
    for plate in (0, 2):
        with pytest.raises(BadValue, match="plate"):
            tb.job.layout_svg(nest, plate)
    with pytest.raises(BadValue, match="lead"):
        tb.job.layout_svg(nest, lead=math.nan)


@pytest.mark.parametrize("quantity", [0, -1, 10**6, 1.5, True])
def test_a_quantity_out_of_range_is_refused(quantity: object) -> None:
    with pytest.raises(BadValue, match="quantity"):
        replace(blank("a", SQUARE), quantity=quantity)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"angles": ()}, "angles"),
        ({"angles": (True,)}, "angles"),
        ({"grain": math.nan}, "grain"),
        ({"grain": True}, "grain"),
        ({"turn_over": "no"}, "turn_over"),
        ({"priority": "high"}, "priority"),
    ],
)
def test_a_blank_with_a_wrong_field_is_refused(change: dict, said: str) -> None:
    with pytest.raises(BadValue, match=f"blank 'a' {said}"):
        replace(blank("a", SQUARE), **change)


@pytest.mark.parametrize(
    ("sides", "more", "said"),
    [
        ((True, 100), {}, "length"),
        ((100, math.inf), {}, "width"),
        ((100, 0), {}, "width"),
        ((100, 100), {"quantity": True}, "quantity"),
        ((100, 100), {"cost": True}, "cost"),
        ((100, 100), {"cost": -1}, "cost"),
        ((100, 100), {"grain": math.nan}, "grain"),
    ],
)
def test_a_plate_with_a_wrong_field_is_refused(sides: tuple, more: dict, said: str) -> None:
    with pytest.raises(BadValue, match=f"plate 'S' {said}"):
        Plate.rectangle("S", *sides, **more)


def test_an_outline_that_crosses_itself_is_refused() -> None:
    bow = ((0, 0), (100, 100), (100, 0), (0, 100))
    with pytest.raises(BadValue, match="outline"):
        Blank(name="a", outer=loop(bow))
    with pytest.raises(BadValue, match="outline"):
        Plate(name="offcut 1", outline=loop(bow))
