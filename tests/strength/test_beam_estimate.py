"""A part as a beam, and a bracket's welds as lines: handbook sections and sums written out."""

from __future__ import annotations

import math
from typing import Any

import pytest

import tinbook as tb
from strategies import SHOP
from tinbook.errors import BadValue, OutOfRange, TinbookError, UnknownName
from tinbook.strength import beam_estimate, bracket_weld
from tinbook.strength.bracket import BracketWeld


@pytest.fixture(scope="module")
def channel() -> tb.making.made.Made:
    return tb.make(tb.folded_channel(length=800), SHOP)


def test_a_tube_as_the_tables_have_it() -> None:
    """EN 10219-2, 60 x 40 x 3 (from memory): 5.41 cm², 25.4 cm⁴, 29.3 cm⁴ of torsion, 4.25 kg/m."""
    got = beam_estimate("tube 60 x 40 x 3", length="800 mm", force="1 kN", ends="cantilever")
    assert (got.section.area, got.section.i_x) == pytest.approx((541, 254e3), rel=2e-3)
    assert got.section.j == pytest.approx(293e3, rel=0.01)
    assert got.mass == pytest.approx(4.25, abs=0.01)
    # P L³ / 3 E I and P L h / 2 I by hand.
    assert got.deflection == pytest.approx(1000 * 800**3 / (3 * 210e3 * 253788), rel=1e-4)
    assert got.stress == pytest.approx(800e3 * 30 / 253788, rel=1e-4)
    assert got.turned is None


def test_a_strut_by_the_code() -> None:
    """EN 1993-1-1 curve c by hand: Euler 278.5 kN, slenderness 0.6755, phi 0.8446, chi 0.740 of 127.1 kN."""
    got = beam_estimate("tube 60 x 40 x 3", length=1000)
    assert got.column == pytest.approx(94.0e3, rel=2e-3)
    assert got.effective == 1.0
    assert beam_estimate("tube 60 x 40 x 3", length=8000).column is None


def test_a_folded_channel_is_its_section(channel: tb.making.made.Made) -> None:
    """Web 60, flanges 30, 1.5 mm, inside radius 1.5: the area by its middle line, 54 + 2 x 27 + 2 x pi/2 x 2.25 = 115.07."""
    got = beam_estimate(channel, force=100)
    assert (got.length, got.section.area) == pytest.approx((800, 1.5 * 115.07), rel=1e-4)
    # Bent about the axis along its web: flanges up, 30 high. By hand with sharp corners: 16 000 mm⁴.
    h, b, t = 58.5, 29.25, 1.5
    middle = b * b / (2 * b + h)
    sharp = t * (2 * b**3 / 12 + 2 * b * (b / 2 - middle) ** 2 + h * middle**2)
    assert got.section.i_x == pytest.approx(sharp, rel=0.05)
    assert got.turned == pytest.approx(0.0, abs=1e-6), "the force stands in its plane of symmetry"


def test_walls_that_buckle_do_not_carry_and_a_channel_twists() -> None:
    """EN 1993-1-5 by hand, 100 x 50 x 2 in 235 MPa: flanges of 46 keep 0.683, the web of 92 keeps 0.899: 0.802 of it works."""
    got = beam_estimate("channel 100 x 50 x 2", length=1000, force=500, ends="cantilever")
    assert got.effective == pytest.approx(0.802, abs=2e-3)
    # Handbook, sharp middle line: 3 b² / (h + 6 b) = 3 x 49² / (98 + 6 x 49) = 18.37 behind the web; T L / G J.
    torsion = 500 * 18.37
    assert got.turned == pytest.approx(math.degrees(torsion * 1000 / (210e3 / 2.6 * got.section.j)), rel=2e-3)


def test_a_part_with_folds_two_ways_is_refused() -> None:
    base = tb.Outline.rectangle(200, 100)
    both = tb.Part("BE-1", sheet="DC01 1.5", base=base).fold("front", leg=30).fold("left", leg=30)
    with pytest.raises(OutOfRange, match="parallel folds"):
        beam_estimate(tb.make(both, SHOP))
    with pytest.raises(OutOfRange, match="a folded part"):
        beam_estimate(tb.make(tb.Part("BE-2", sheet="DC01 1.5", base=base), SHOP))


@pytest.mark.parametrize(
    ("of", "given", "says"),
    [
        (None, {}, "a made part"),
        ("", {}, "tube 60 x 40 x 3"),
        ("tube 60", {}, "tube 60 x 40 x 3"),
        ("tube 60 x 40 x 30", {}, "less than half"),
        ("tube 60 x 40 x 3", {"length": None}, "the span"),
        ("tube 60 x 40 x 3", {"length": math.nan}, "finite"),
        ("tube 60 x 40 x 3", {"ends": "loose"}, "cantilever"),
        ("tube 60 x 40 x 3", {"force": "3 kg"}, "no unit"),
        ("tube 60 x 40 x 3", {"yields": -1}, "greater than 0"),
    ],
)
def test_what_is_no_beam_is_refused(of: Any, given: dict[str, Any], says: str) -> None:
    with pytest.raises(TinbookError, match=says):
        beam_estimate(of, **{"length": 800, **given})


# -- welds as lines -------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def plate() -> tb.making.made.Made:
    return tb.make(tb.Part("BW-1", sheet="S235 6.0", base=tb.Outline.rectangle(60, 100)), SHOP)


def test_a_bracket_s_two_welds_by_hand(plate: tb.making.made.Made) -> None:
    """Two lines of 100 mm, 60 apart (Shigley): J = d (3 b² + d²) / 6 = 346 667 mm³; 2 kN at 150 mm turns them."""
    got = bracket_weld(plate, ["left", "right"], (0.0, -2000.0, 0.0), (180.0, 50.0, 0.0), throat="4 mm")
    twist = 2000 * 150 / 346667
    assert got.line_force == pytest.approx(math.hypot(twist * 50, 2000 / 200 + twist * 30), rel=1e-6)
    # EN 1993-1-8: 360 / (root 3 x 0.8 x 1.25) = 207.8 MPa on 4 mm, load factor 1.5.
    assert got.use == pytest.approx(1.5 * got.line_force / (4 * 207.85), rel=1e-4)
    assert got.ok
    assert got.least_throat == 3.0


def test_thin_sheet_is_not_proved() -> None:
    thin = tb.make(tb.Part("BW-2", sheet="DC01 2.0", base=tb.Outline.rectangle(60, 100)), SHOP)
    got = bracket_weld(thin, "left", (0.0, 100.0, 0.0), (0.0, 50.0, 0.0))
    assert isinstance(got, BracketWeld)
    assert not got.ok
    assert "not proved" in str(got)


@pytest.mark.parametrize(
    ("edges", "given", "says"),
    [
        ([], {}, "names of straight edges"),
        (None, {}, "names of straight edges"),
        (["top"], {}, "left"),
        (["left"], {"force": (1, 2)}, "three numbers"),
        (["left"], {"at": (1, 2, math.nan)}, "three numbers"),
        (["left"], {"throat": 0}, "greater than 0"),
        (["left"], {"factor": 0.5}, "1 to 10"),
        (["left"], {"force": (0.0, 0.0, 100.0)}, "not all along"),
    ],
)
def test_what_is_no_bracket_is_refused(
    plate: tb.making.made.Made, edges: Any, given: dict[str, Any], says: str
) -> None:
    with pytest.raises((BadValue, UnknownName), match=says):
        bracket_weld(plate, edges, **{"force": (0.0, 1.0, 0.0), "at": (60.0, 50.0, 0.0), **given})
