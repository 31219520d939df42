"""Bend allowance, setback and deduction against handbooks, textbooks and exact geometry.

Machinery's Handbook (26th to 30th edition, from memory, coefficients and K table corroborated by
a quotation), Groover (from memory), trade rule of hems (from memory).
"""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tinbook.calc import bending
from tinbook.errors import BadValue, OutOfRange, UnknownName


# Machinery's Handbook: 1/16 in sheet, 1/8 in radius, 90 degrees, inches.
@pytest.mark.parametrize(("temper", "inches"), [("soft", 0.2306), ("half-hard", 0.2363), ("hard", 0.2406)])
def test_machinerys_handbook_90(temper: str, inches: float) -> None:
    assert bending.handbook_allowance(90, 1 / 8, 1 / 16, temper) == pytest.approx(inches, abs=6e-5)
    # "For other angles multiply by A/90."
    assert bending.handbook_allowance(30, 1 / 8, 1 / 16, temper) == pytest.approx(inches / 3, abs=2e-5)


# c / (pi/2): the same formulas as K-factors; 1.57 stands for pi/2, hence the tolerance.
@pytest.mark.parametrize(("temper", "k"), [("soft", 0.350), ("half-hard", 0.407), ("hard", 0.452)])
def test_machinerys_handbook_as_k(temper: str, k: float) -> None:
    length = bending.handbook_allowance(90, 1.0, 1.0, temper)
    assert bending.k_from_allowance(length, 90, 1.0, 1.0) == pytest.approx(k, abs=1.5e-3)


# K values of the 26th edition for aluminium, R 0.030 to 0.188 in; T 0.125 in.
@pytest.mark.parametrize(
    ("radius", "k"), [(0.030, 0.407), (0.060, 0.407), (0.090, 0.406), (0.120, 0.406), (0.188, 0.406)]
)
def test_machinerys_handbook_k_table_aluminium(radius: float, k: float) -> None:
    length = bending.handbook_allowance(90, radius, 0.125, "half-hard")
    assert bending.k_from_allowance(length, 90, radius, 0.125) == pytest.approx(k, abs=2e-3)


# Groover, sheet bending example: w 44.5 mm wide strip, t 3.2, r 4.75, turned by 60, legs 38 and 25.
def test_textbook_blank() -> None:
    # The book takes K = 0.33 below r = 2 t.
    allowance = bending.bend_allowance(60, 4.75, 0.33, 3.2)
    assert allowance == pytest.approx(6.08, abs=5e-3)
    assert 38 + allowance + 25 == pytest.approx(69.08, abs=5e-3)


# Exact geometry worked by hand: t, r, A, K, allowance, deduction to the apex and to the tangent.
@pytest.mark.parametrize(
    ("t", "r", "angle", "k", "allowance", "apex", "tangent"),
    [
        (2.0, 3.0, 60, 0.40, 3.9794, 1.7942, 1.7942),
        (2.0, 3.0, 120, 0.40, 7.9587, 9.3618, 2.0413),
        (1.2, 2.0, 135, 0.43, 5.9282, 9.5228, 0.4718),
        (3.0, 5.0, 30, 0.45, 3.3249, 0.9623, 0.9623),
    ],
)
def test_exact(t: float, r: float, angle: float, k: float, allowance: float, apex: float, tangent: float) -> None:
    assert bending.bend_allowance(angle, r, k, t) == pytest.approx(allowance, abs=6e-5)
    assert bending.bend_deduction(angle, r, k, t, "apex") == pytest.approx(apex, abs=2e-4)
    assert bending.bend_deduction(angle, r, k, t, "tangent") == pytest.approx(tangent, abs=2e-4)


def test_setback() -> None:
    """(r + t) tan(A/2) by hand: 5 tan 30 = 2.8868; to the tangent above 90 it stays r + t."""
    assert bending.outside_setback(60, 3.0, 2.0) == pytest.approx(2.8868, abs=5e-5)
    assert bending.outside_setback(120, 3.0, 2.0) == 5.0
    assert bending.outside_setback(120, 3.0, 2.0, "apex") == pytest.approx(5.0 * math.sqrt(3.0))
    assert bending.outside_setback(180, 3.0, 2.0) == 5.0
    with pytest.raises(OutOfRange, match="174"):
        bending.outside_setback(175, 3.0, 2.0, "apex")


def test_allowance_is_the_arc_of_the_neutral_line() -> None:
    """A quarter, a half and a full turn of radius 2 + 0.5 x 1 are pi/2, pi and 2 pi times 2.5."""
    for angle, part in ((90, 0.25), (180, 0.5), (360, 1.0)):
        assert bending.bend_allowance(angle, 2.0, 0.5, 1.0) == pytest.approx(part * 2 * math.pi * 2.5)


@given(
    angle=st.floats(1, 180),
    radius=st.floats(0.1, 50),
    thickness=st.floats(0.3, 20),
    k=st.floats(0, 1),
)
def test_k_comes_back(angle: float, radius: float, thickness: float, k: float) -> None:
    deduction = bending.bend_deduction(angle, radius, k, thickness)
    assert bending.k_from_deduction(deduction, angle, radius, thickness) == pytest.approx(k, abs=1e-7 * (1 + radius))


def test_closed_hem() -> None:
    """Trade rule: 43 % of t off the sum of outside lengths; a zero-radius fold with K = 0.5 loses (2 - pi/2) t."""
    legs, t = 30.0 + 8.0, 1.2
    flat = legs - 2 * (0.05 + t) + bending.closed_hem_allowance(0.05, t)
    assert flat == pytest.approx(legs - 0.43 * t)
    zero = bending.closed_hem_allowance(0.0, t)
    assert zero == pytest.approx(bending.bend_allowance(180, 0.0, 0.5, t), abs=2e-3 * t)
    with pytest.raises(OutOfRange, match="open hem"):
        bending.closed_hem_allowance(0.4, t)


@pytest.mark.parametrize(("radius", "leg", "gap"), [(1.0, 8.0, 0.1), (2.0, 5.0, 0.0), (0.8, 4.0, 0.4)])
def test_teardrop_tip_comes_down_to_its_gap(radius: float, leg: float, gap: float) -> None:
    """Walked by complex numbers: down the arc round (0, r) from the lower face, then along the tangent."""
    turned = math.radians(bending.teardrop_angle(radius, leg, gap))
    centre = complex(0.0, radius)
    end = centre - 1j * radius * complex(math.cos(turned), math.sin(turned))
    tip = end + leg * complex(math.cos(turned), math.sin(turned))
    assert tip.imag == pytest.approx(gap, abs=1e-9)
    assert 180 < math.degrees(turned) < 270


@pytest.mark.parametrize(
    "call",
    [
        lambda: bending.bend_allowance(-1, 1, 0.4, 1),
        lambda: bending.bend_allowance(361, 1, 0.4, 1),
        lambda: bending.bend_allowance(90, -1, 0.4, 1),
        lambda: bending.bend_allowance(90, 1, 0.4, 0),
        lambda: bending.bend_allowance(90, 1, math.nan, 1),
        lambda: bending.bend_allowance(90, 1, -2, 1),
        lambda: bending.k_from_allowance(1, 0, 1, 1),
        lambda: bending.teardrop_angle(1.0, 0.0, 0.1),
        lambda: bending.teardrop_angle(1.0, 5.0, 2.0),
        lambda: bending.teardrop_angle(5.0, 0.1, 0.0),
    ],
)
def test_nonsense_is_refused(call: object) -> None:
    with pytest.raises(BadValue):
        call()  # type: ignore[operator]


def test_unknown_words_list_what_exists() -> None:
    with pytest.raises(UnknownName, match="soft, half-hard, hard"):
        bending.handbook_allowance(90, 1, 1, "annealed")
    with pytest.raises(UnknownName, match="tangent, apex"):
        bending.outside_setback(90, 1, 1, "middle")  # type: ignore[arg-type]
