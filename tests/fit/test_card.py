"""A finished part read back by tape: sizes by hand, the odd reading, the next deduction."""

from __future__ import annotations

import math

import pypdf
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


# --- against the opening -----------------------------------------------------------------------

RIM = tb.Outline.rectangle(360, 260)
LAPS = {"front": 20, "right": 20, "rear": 20, "left": -1.5}
INTO = tb.make(tb.Part("HN-C2", sheet="DC01 1.5", base=RIM.offset(LAPS)).fold("left", "up", leg=40), SHOP)


def read(outline):
    """The sides and two diagonals of four corners, as a tape takes them without an error."""
    p = {f"{outline.names[i - 1]}/{n}": outline.edge(n).start for i, n in enumerate(outline.names)}
    return {e.name: e.chord for e in outline.loop.edges}, {
        pair: math.dist(p[pair[0]], p[pair[1]]) for pair in (ONE, OTHER)
    }


def test_laps_and_gaps_are_those_against_the_opening():
    """The opening turned out 6 mm wider at the rear and 2.5 at the fold: 14 of lap and 4 of gap, the rest as wanted."""
    sides, diagonals = read(INTO.part.base)
    as_drawn = {s.name: s for s in tb.fit.fit_card(INTO, sides, diagonals, opening=RIM).stations}
    assert {n: as_drawn[n].lap for n in LAPS} == pytest.approx(LAPS)
    wide = tb.fit.fit_card(INTO, sides, diagonals, opening=RIM.offset({"rear": 6, "left": 2.5}))
    told = {s.name: s for s in wide.stations}
    assert told["rear"].lap == pytest.approx(14)
    assert told["rear"].advice == "lap 14.0, 15 mm are needed: shift it, or fill"
    assert told["left"].lap == pytest.approx(-4.0)
    assert told["front"].advice == "nothing"
    # Where the laps are stated, the opening is laid by its corners: half of 2.4 mm on either side.
    laid = tb.fit.fit_card(INTO, sides, diagonals, opening=RIM.offset({"left": 2.4}), laps=LAPS)
    told = {s.name: s for s in laid.stations}
    assert (told["left"].lap, told["right"].lap) == pytest.approx((-1.5 - 1.2, 20 - 1.2))
    assert told["left"].advice == "gap 2.7: shim 1.2 mm"
    assert {f.where for f in wide.findings.of("card.lap")} == {"rear", "right/rear"}


def test_a_short_part_is_shimmed_and_a_wide_one_trimmed_in_the_opening():
    """Part 3 mm short on the fold's side and 6 mm short at the rear, laid by its corners: half of each on either side."""
    sides, diagonals = read(INTO.part.base.offset({"left": -3.0, "rear": -12.0}))
    told = {s.name: s for s in tb.fit.fit_card(INTO, sides, diagonals, opening=RIM).stations}
    assert told["left"].lap == pytest.approx(-1.5 - 1.5)
    assert told["left"].advice == "gap 3.0: shim 1.5 mm"
    assert told["right"].lap == pytest.approx(18.5)
    assert told["rear"].advice == "lap 14.0, 15 mm are needed: shift it, or fill"
    sides, diagonals = read(INTO.part.base.offset({"left": 5.0}))
    told = {s.name: s.advice for s in tb.fit.fit_card(INTO, sides, diagonals, opening=RIM).stations}
    assert told["left"] == "lap 1.0: dress the fold in by 2.5 mm"
    assert told["right"] == "trim 2.5 mm"


def test_an_opening_by_tape_is_laid_where_the_stated_laps_are_kept():
    """A tape knows no origin: the same opening turned and far away gives the same card."""
    sides, diagonals = read(INTO.part.base)
    opening = tb.read.outline_from_tape(*read(RIM)).moved(700, -300, 40)
    card = tb.fit.fit_card(INTO, sides, diagonals, opening=opening, laps=LAPS)
    assert {s.name: s.lap for s in card.stations if s.name in LAPS} == pytest.approx(LAPS)
    with pytest.raises(BadValue, match="laps"):
        tb.fit.fit_card(INTO, sides, diagonals, opening=tb.read.outline_from_tape(*read(RIM)))


def test_the_card_is_one_page(tmp_path):
    sides, diagonals = read(INTO.part.base)
    card = tb.fit.fit_card(INTO, sides, diagonals, opening=RIM, legs={"left": 40.6}, blanks={"left": (418.0, 380.2)})
    file = tb.write.write_card(card, tmp_path)
    pdf = pypdf.PdfReader(file)
    assert len(pdf.pages) == 1
    words = pdf.pages[0].extract_text()
    for said in (
        "fit card of HN-C2",
        "over the opening",
        "gap 1.5",
        "lap 20.0",
        "bend deduction of the next part",
        "2.80",
    ):
        assert said in words
    assert tb.write.write_card(card, tmp_path, replace=True).read_bytes() == file.read_bytes()
    found = {"opening": RIM, "legs": {"left": 40.6}, "blanks": {"left": (418.0, 380.2)}}
    one_call = tb.write_fit_card(INTO, sides, diagonals, tmp_path / "card.pdf", **found)
    assert one_call.read_bytes() == file.read_bytes()
    with pytest.raises(BadValue, match="leg"):
        tb.write_fit_card(INTO, sides, diagonals, tmp_path / "none.pdf", legs={"left": "tall"})
    assert not (tmp_path / "none.pdf").exists()
    for wrong in (None, RIM, "card"):
        with pytest.raises(BadValue):
            tb.write.write_card(wrong, tmp_path)
    with pytest.raises(BadValue):
        tb.write.write_card(card, tmp_path, "A5")


@pytest.mark.parametrize(
    "asked",
    [{"opening": 3}, {"opening": "rim"}, {"laps": LAPS}, {"opening": RIM.renamed({"left": "tunnel"})}, {"opening": RIM, "laps": {"no": 3}},
     {"opening": RIM, "laps": {"left": "x"}}, {"opening": RIM, "laps": 4}, {"opening": RIM, "laps": {"left": float("nan")}}],
)  # fmt: skip
def test_wrong_openings_are_named(asked):
    sides, diagonals = read(INTO.part.base)
    with pytest.raises(BadValue):
        tb.fit.fit_card(INTO, sides, diagonals, **asked)
