"""A finished part read back by tape: sizes by hand, the odd reading, the next deduction."""

from __future__ import annotations

import math

import pytest

import tinbook as tb
from tinbook.errors import BadValue

SHOP = tb.Shop.demo()
BASE = tb.Outline.rectangle(400, 300)
PAN = tb.make(tb.Part("HN-C1", sheet="DC01 1.5", base=BASE).fold("left", "up", leg=40), SHOP)
SIDES = {"front": 400, "right": 300, "rear": 400, "left": 300}
ONE, OTHER = ("left/front", "right/rear"), ("front/right", "rear/left")


def test_a_part_as_it_was_drawn_needs_nothing():
    card = tb.fit.fit_card(PAN, SIDES, {ONE: 500, OTHER: 500}, legs={"left": 40.4})
    assert {s.advice for s in card.stations} == {"nothing"}
    assert [s.name for s in card.stations] == [
        "left/front",
        "front",
        "front/right",
        "right",
        "right/rear",
        "rear",
        "rear/left",
        "left",
    ]
    assert all(abs(s.off) < 1e-6 for s in card.stations)
    assert card.legs == {"left": (40.4, pytest.approx(40))}
    assert card.deductions["left"][0] is None
    assert "unknown" in card._repr_html_()
    assert card.findings.ok


def test_a_part_four_millimetres_too_wide_is_trimmed_by_two_on_each_side():
    """404 wide, 300 deep: laid on its drawing it stands out by 2 mm at both ends, the folded one dressed in."""
    wide = {**SIDES, "front": 404, "rear": 404}
    long = math.hypot(404, 300)
    card = tb.fit.fit_card(PAN, wide, {ONE: long, OTHER: long})
    told = {s.name: s for s in card.stations}
    assert told["right"].off == pytest.approx(2.0)
    assert told["right"].advice == "trim 2.0 mm"
    assert told["left"].advice == "dress the fold in by 2.0 mm"
    assert told["front"].advice == "nothing"
    narrow = tb.fit.fit_card(
        PAN, {**SIDES, "front": 396, "rear": 396}, {ONE: math.hypot(396, 300), OTHER: math.hypot(396, 300)}
    )
    told = {s.name: s.advice for s in narrow.stations}
    assert told["left"] == "shim the gap of 2.0 mm"
    assert told["right"].startswith("2.0 mm less lap")


def test_the_odd_reading_is_named():
    """One diagonal read 8 mm long: the other four sides and the other diagonal say so."""
    with pytest.raises(BadValue, match=r"508|left/front"):
        tb.fit.fit_card(PAN, SIDES, {ONE: 508, OTHER: 500})


def test_the_next_deduction_is_leg_and_base_less_blank():
    """Leg 40.6, base 400.2 to the outside of the fold, blank 438.0 across: it took 40.6 + 400.2 - 438.0 = 2.8 mm."""
    card = tb.fit.fit_card(PAN, SIDES, {ONE: 500, OTHER: 500}, legs={"left": 40.6}, blanks={"left": (438.0, 400.2)})
    took, used = card.deductions["left"]
    assert took == pytest.approx(2.8)
    s = PAN.strips[0]
    right_angle = 2 * (s.radius + 1.5) - s.allowance  # outside set-back of 90 degrees is radius and thickness
    assert used == pytest.approx(right_angle)
    tall = tb.fit.fit_card(PAN, SIDES, {ONE: 500, OTHER: 500}, legs={"left": 43})
    assert [f.code for f in tall.findings] == ["card.leg"]


@pytest.mark.parametrize(
    "asked",
    [
        {"sides": {"front": 400}}, {"sides": None}, {"diagonals": {}}, {"legs": {"right": 40}}, {"legs": {"left": "tall"}}, {"legs": 3},
        {"blanks": {"left": (1, 2)}}, {"blanks": {"right": (1, 2)}}, {"blanks": {"left": 3}, "legs": {"left": 40}}, {"tol": 0}, {"made": None},
        {"sides": {**SIDES, "front": float("nan")}}, {"sides": {**SIDES, "front": 900}}, {"diagonals": None}, {"blanks": 4},
    ],
)  # fmt: skip
def test_wrong_answers_are_named(asked):
    with pytest.raises(BadValue):
        tb.fit.fit_card(**{"made": PAN, "sides": SIDES, "diagonals": {ONE: 500, OTHER: 500}, **asked})
