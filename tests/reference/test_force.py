"""Bending force and springback against chart, textbook and trade table.

Press brake air-bend chart (quoted), Groover (from memory, arithmetic checked), US shop form 575 T²/V
(common practice), trade tables (springback factors quoted), Kalpakjian (from memory, formula quoted).
"""

from __future__ import annotations

import math

import pytest

from tinbook.calc import springback
from tinbook.calc.force import air_bend_force, textbook_force
from tinbook.errors import BadValue, OutOfRange, UnknownName


# Air-bend chart: F[kN] = 650 S² L / V with L in m.
@pytest.mark.parametrize(
    ("s", "opening", "metres", "kilonewton"), [(2, 16, 1.0, 162.5), (3, 24, 1.0, 243.8), (1.5, 12, 1.2, 146.3)]
)
def test_chart_force(s: float, opening: float, metres: float, kilonewton: float) -> None:
    assert air_bend_force(s, 1000 * metres, opening) / 1000 == pytest.approx(kilonewton, abs=0.06)


def test_double_opening_halves_the_force() -> None:
    assert air_bend_force(2, 500, 32) == pytest.approx(air_bend_force(2, 500, 16) / 2)


def test_us_shop_form() -> None:
    """Each for what it calls mild steel: 575 T²/V US tons a foot, in inches, is the chart's force within 2 %."""
    t, opening = 0.125, 1.0
    newton = 575 * t**2 / opening * 8896.44  # one foot long
    assert air_bend_force(t * 25.4, 304.8, opening * 25.4) == pytest.approx(newton, rel=0.02)


# Groover: TS 450 MPa, w 44.5, t 3.2, D 25, V die.
def test_textbook_force() -> None:
    assert textbook_force(450, 44.5, 3.2, 25) == pytest.approx(10_909, abs=1)
    assert textbook_force(450, 44.5, 3.2, 25, "wiping die") == pytest.approx(10_909 * 0.33 / 1.33, abs=1)


def test_chart_and_textbook_agree() -> None:
    """650 N/mm² at 450 MPa is a factor of 1.44 of TS t²/V, the textbook has 1.33: within 10 %."""
    assert air_bend_force(2, 100, 16, 450) == pytest.approx(textbook_force(450, 100, 2, 16), rel=0.10)


# Trade table of springback factors, printed columns.
@pytest.mark.parametrize(
    ("metal", "ratio", "factor"),
    [
        ("DC01", 1, 0.99),
        ("DC01", 4, 0.97),
        ("DC01", 16, 0.93),
        ("DC01", 100, 0.66),
        ("DC04", 25, 0.94),
        ("18-8 stainless", 1.6, 0.98),
        ("18-8 stainless", 40, 0.63),
        ("Al 99.0", 63, 0.95),
        ("AlSiMgMn", 10, 0.93),
    ],
)
def test_springback_factor(metal: str, ratio: float, factor: float) -> None:
    assert springback.springback_factor(metal, ratio * 1.5, 1.5) == pytest.approx(factor)


def test_springback_factor_between_columns_and_outside() -> None:
    between = springback.springback_factor("DC01", math.sqrt(10 * 16), 1.0)
    assert between == pytest.approx((0.96 + 0.93) / 2)
    for metal, ratio in (("DC01", 0.9), ("DC01", 101), ("18-8 stainless", 41)):
        with pytest.raises(OutOfRange, match="trade tables"):
            springback.springback_factor(metal, ratio, 1.0)
    with pytest.raises(UnknownName, match="DC04"):
        springback.springback_factor("tin", 1.0, 1.0)


def test_what_to_form() -> None:
    """By hand: 90/0.96 = 93.75."""
    assert springback.angle_to_form(90, 0.96) == pytest.approx(93.75)


# Kalpakjian, by hand: R 10, t 1, Y 200, E 200 000: x = 0.01, 4e-6 - 0.03 + 1 = 0.970004.
def test_elastic_plastic_springback() -> None:
    assert springback.radius_ratio(10, 1, 200, 200_000) == pytest.approx(0.970004)
    assert springback.radius_ratio(500, 1, 200, 200_000) == pytest.approx(0.0)
    with pytest.raises(OutOfRange, match="greater than 4"):
        springback.radius_ratio(4, 1, 200, 200_000)
    with pytest.raises(OutOfRange, match="springs back flat"):
        springback.radius_ratio(600, 1, 200, 200_000)


# The quoted table's factors, metal, r/t, E, least yield and largest tensile strength of the grade (EN 10130, EN 10088-2).
@pytest.mark.parametrize("ratio", [2.5, 6.3, 10, 25])
@pytest.mark.parametrize(
    ("metal", "youngs", "yields", "tensile"),
    [("DC01", 210e3, 140, 410), ("DC04", 210e3, 140, 350), ("18-8 stainless", 200e3, 230, 750)],
)
def test_the_table_lies_between_yield_and_tensile_strength(
    metal: str, youngs: float, yields: float, tensile: float, ratio: float
) -> None:
    low, high = (springback.radius_ratio(ratio + 0.5, 1.0, s, youngs, hardened=True) for s in (tensile, yields))
    assert low - 0.01 <= springback.springback_factor(metal, ratio, 1.0) <= high + 0.01, "the table has two digits"


def test_elastic_plastic_ratio_by_bending_a_strip() -> None:
    """Exact moment of an elastic-ideally plastic strip over its curvature gives the same ratio, by quadrature."""
    from scipy.integrate import quad

    t, youngs, yield_strength = 1.0, 200_000.0, 300.0
    radius = 60.0  # of the middle line, which the cubic does not tell from the inside one

    def stress(z: float) -> float:
        return max(-yield_strength, min(yield_strength, youngs * z / radius))

    moment = 2 * quad(lambda z: stress(z) * z, 0, t / 2, points=[yield_strength / youngs * radius], epsabs=1e-9)[0]
    released = 1 / radius - moment / (youngs * t**3 / 12)
    assert springback.radius_ratio(radius, t, yield_strength, youngs) == pytest.approx(released * radius, rel=1e-6)


def test_refusals() -> None:
    with pytest.raises(OutOfRange, match="5 to 20"):
        air_bend_force(2, 100, 8)
    with pytest.raises(BadValue, match="tensile"):
        air_bend_force(2, 100, 16, tensile=0)
    with pytest.raises(UnknownName, match="v die"):
        textbook_force(450, 10, 1, 8, "anvil")
    with pytest.raises(OutOfRange):
        springback.angle_to_form(90, 0)
