"""DIN 6935 (1975-10), cold bending of flat rolled steel: factor k and compensation value v.

Read as trade tables quote it; each v below was worked out by hand from the quoted
formula, the one-decimal value is what the trade table prints.
"""

from __future__ import annotations

import math

import pytest
from scipy.optimize import brentq

from tinbook.calc.bending import (
    bend_deduction,
    din6935_factor,
)
from tinbook.errors import BadValue, OutOfRange


def deduction(angle: float, r: float, s: float) -> float:
    """What the kit takes off the legs by this standard: k multiplies s/2, so K = k/2."""
    return bend_deduction(angle, r, din6935_factor(r, s) / 2, s)


# k = 0.65 + 0.5 log10(r/s), 1 above r/s = 5.
@pytest.mark.parametrize(
    ("ratio", "k"), [(0.5, 0.499), (1.0, 0.650), (1.6, 0.752), (2.0, 0.801), (2.5, 0.849), (3.0, 0.889), (10.0, 1.0)]
)
def test_factor(ratio: float, k: float) -> None:
    assert din6935_factor(ratio * 2.0, 2.0) == pytest.approx(k, abs=6e-4)


# s, r, angle turned, v by the formula, and the table's print where there is one.
@pytest.mark.parametrize(
    ("s", "r", "angle", "v", "printed"),
    [
        (1.0, 1.0, 90, 1.919, 1.9),
        (1.0, 2.5, 90, 2.406, 2.4),
        (2.0, 4.0, 90, 4.459, 4.5),
        (2.5, 2.5, 90, 4.797, 4.8),
        (3.0, 6.0, 90, 6.689, 6.7),
        (3.0, 3.0, 60, 2.766, None),
        (2.0, 6.0, 45, 1.217, None),
        (4.0, 10.0, 120, 3.500, None),
        (2.0, 20.0, 90, 11.013, None),
    ],
)
def test_compensation(s: float, r: float, angle: float, v: float, printed: float | None) -> None:
    got = deduction(angle, r, s)
    assert got == pytest.approx(v, abs=6e-4)
    if printed is not None:
        assert round(got, 1) == printed


def test_sign_changes_where_the_standard_says() -> None:
    """The standard: negative compensation only above 65 deg 24 min 30 s included; the limit of thin sheet and k = 1."""
    included = brentq(lambda beta: deduction(180 - beta, 1.0, 1e-9), 40.0, 90.0)
    assert included == pytest.approx(65 + 24 / 60 + 30 / 3600, abs=2e-3)


# With a real thickness the sign changes at a sharper angle; roots worked out by hand.
@pytest.mark.parametrize(("ratio", "included"), [(1.0, 7.03), (3.0, 46.92)])
def test_sign_change_with_thickness(ratio: float, included: float) -> None:
    root = brentq(lambda beta: deduction(180 - beta, ratio, 1.0), 0.0, 90.0)
    assert root == pytest.approx(included, abs=6e-3)


def test_short_form_of_the_trade_table() -> None:
    """Trade table spreadsheet: v = 0.43 r + 1.48 s at 90 degrees, within 1 % near r = s."""
    for s in (1.0, 2.0, 3.0):
        assert deduction(90, s, s) == pytest.approx(0.43 * s + 1.48 * s, rel=0.01)


def test_refuses_outside_its_range() -> None:
    with pytest.raises(OutOfRange, match="DIN 6935"):
        din6935_factor(0.04, 1.0)
    with pytest.raises(OutOfRange, match="0 to 180"):
        deduction(181, 1.0, 1.0)
    with pytest.raises(BadValue, match="thickness"):
        din6935_factor(1.0, -1.0)
    with pytest.raises(BadValue, match="radius"):
        deduction(90, math.nan, 1.0)
