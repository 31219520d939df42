"""Radii, die openings and shortest legs against their tables.

DIN 6935 (1975-10, table quoted), Aluminum Association (quoted), press brake air-bend chart (quoted),
trade compilation of sheet design (quoted).
"""

from __future__ import annotations

import math

import pytest

from tinbook.calc import radii
from tinbook.errors import BadValue, OutOfRange, UnknownName
from tinbook.shop.material import radius_limit
from tinbook.shop.shop import Shop

# DIN 6935, across the rolling direction, turned by at most 120 degrees: sheet up to t mm.
DIN = """
t     1    1.5  2.5  3    4    5    6    7    8    10   12   14   16   18   20
390   1    1.6  2.5  3    5    6    8    10   12   16   20   25   28   36   40
490   1.2  2    3    4    5    8    10   12   16   20   25   28   32   40   45
640   1.6  2.5  4    5    6    8    10   12   16   20   25   32   36   45   50
"""
_ROWS = {row.split()[0]: [float(v) for v in row.split()[1:]] for row in DIN.strip().splitlines()}
CASES = [(rm, t, r) for rm in ("390", "490", "640") for t, r in zip(_ROWS["t"], _ROWS[rm], strict=True)]


@pytest.mark.parametrize(("rm", "t", "radius"), CASES)
def test_din6935(rm: str, t: float, radius: float) -> None:
    assert radii.minimum_radius(f"DIN 6935 Rm {rm}", t) == radius


def test_din6935_between_columns_and_along_the_grain() -> None:
    """A thickness between columns takes the thicker one; along the grain or beyond 120 degrees one column further."""
    table = "DIN 6935 Rm 390"
    assert radii.minimum_radius(table, 1.2) == 1.6
    assert radii.minimum_radius(table, 3.0, along_grain=True) == 5.0
    assert radii.minimum_radius(table, 3.0, angle=121) == 5.0
    assert radii.minimum_radius(table, 3.0, angle=120) == 3.0
    assert radii.minimum_radius(table, 0.8) == 1.0
    with pytest.raises(OutOfRange, match="20 mm"):
        radii.minimum_radius(table, 20.5)
    with pytest.raises(OutOfRange, match="along the grain"):
        radii.minimum_radius(table, 20, along_grain=True)


# Aluminum Association, 90 degrees: multiples of T at the sheet thickness in inches.
AA = [
    ("5052-H32", [0, 0, 1, 1.5, 1.5, 1.5, 1.5, 2]),
    ("5052-H34", [0, 1, 1.5, 2, 2, 2.5, 2.5, 3]),
    ("6061-T4", [0, 0, 1, 1.5, 2.5, 3, 3.5, 4]),
    ("6061-T6", [1, 1, 1.5, 2.5, 3, 3.5, 4.5, 5]),
]
INCHES = [1 / 64, 1 / 32, 1 / 16, 1 / 8, 3 / 16, 1 / 4, 3 / 8, 1 / 2]


@pytest.mark.parametrize(("alloy", "multiples"), AA)
def test_aluminum_association(alloy: str, multiples: list[float]) -> None:
    for inches, multiple in zip(INCHES, multiples, strict=True):
        t = inches * 25.4
        assert radii.minimum_radius(f"Aluminum Association {alloy}", t) == pytest.approx(multiple * t)
    with pytest.raises(OutOfRange, match="90 degrees"):
        radii.minimum_radius(f"Aluminum Association {alloy}", 1.0, angle=100)


# Air-bend chart: V and its natural radius in mild steel; r/V = 0.165 to 0.167 there.
@pytest.mark.parametrize(("opening", "radius"), [(8, 1.32), (16, 2.67), (25, 4.17), (50, 8.33)])
def test_natural_radius_of_the_chart(opening: float, radius: float) -> None:
    assert radii.natural_radius(opening, 1 / 6) == pytest.approx(radius, abs=0.02)
    assert radii.natural_radius(opening) == pytest.approx(radius, rel=0.05)  # the default 0.16 lies 4 % below


# Air-bend chart: 6 t to 2.6 mm, 8 t from 3 to 8, 10 t from 9 to 12, 12 t from 14.
@pytest.mark.parametrize(
    ("t", "opening"), [(0.5, 3), (1.0, 6), (2.6, 15.6), (3, 24), (8, 64), (9, 90), (12, 120), (14, 168), (20, 240)]
)
def test_recommended_opening(t: float, opening: float) -> None:
    assert radii.recommended_opening(t) == pytest.approx(opening)


# Air-bend chart, 88 degree tooling: V and shortest outside leg at 90 degrees.
@pytest.mark.parametrize(("opening", "leg"), [(8, 5.59), (16, 11.53), (25, 18.0), (50, 37.5), (200, 154)])
def test_minimum_leg_of_the_chart(opening: float, leg: float) -> None:
    assert radii.minimum_leg(opening) == pytest.approx(leg, rel=1e-9)


def test_minimum_leg_grows_with_the_angle() -> None:
    """From apex to shoulder (V/2)/cos(A/2): at 120 degrees V, at 90 degrees V/sqrt(2); the ratio is sqrt(2)."""
    assert radii.minimum_leg(16, 120) / radii.minimum_leg(16, 90) == pytest.approx(math.sqrt(2))
    assert radii.minimum_leg(16, 30) < radii.minimum_leg(16, 90)


# Sheet design guide: low-carbon steel at least the larger of 0.5 t and 0.8 mm.
@pytest.mark.parametrize(("t", "radius"), [(1.0, 0.8), (1.6, 0.8), (3.0, 1.5)])
def test_general_floor(t: float, radius: float) -> None:
    assert radii.general_floor(t) == radius


def test_limits_of_the_demo_materials() -> None:
    """Structural sheet: care below the table, stop below half a thickness. What is folded flat has no floor."""
    limit = radius_limit(Shop.demo().material("S235"), 3.0)
    assert (limit.caution, limit.stop, limit.source) == (3.0, 1.5, "DIN 6935")
    limit = radius_limit(Shop.demo().material("DC01"), 1.5)
    assert (limit.caution, limit.stop, limit.source) == (0.8, 0.0, "sheet design guide")
    limit = radius_limit(Shop.demo().material("5083"), 3.0)
    assert (limit.caution, limit.stop, limit.source) == (9.0, 6.0, "common practice")
    assert radii.minimum_radius_source("Aluminum Association 5052-H32") == "Aluminum Association"


def test_a_metal_that_is_folded_flat_does_not_crack_in_a_bend_of_its_thickness() -> None:
    """EN 10130 sells these grades for folding; a hem's inner radius is next to none, so r = t is no cause for alarm."""
    flat = [m for m in Shop.demo().materials if m.hem]
    assert {"DC01", "DC04", "1.4301"} <= {m.key for m in flat}
    for material in flat:
        limit = radius_limit(material, 1.5, 90.0, along_grain=True)
        assert limit.stop == 0.0
        assert limit.caution <= 1.5


def test_every_material_names_a_table_that_exists() -> None:
    for material in Shop.demo().materials:
        assert radii.minimum_radius(material.min_radius, 1.0) >= 0


def test_refusals() -> None:
    with pytest.raises(UnknownName, match="DIN 6935 Rm 390"):
        radii.minimum_radius("as you like", 1.0)
    with pytest.raises(BadValue, match="thickness"):
        radii.minimum_radius("1 t", -1.0)
    for call in (
        lambda: radii.natural_radius(3),
        lambda: radii.natural_radius(8, 0.3),
        lambda: radii.minimum_leg(300),
        lambda: radii.minimum_leg(16, 151),
        lambda: radii.minimum_leg(16, 0),
        lambda: radii.opening_multiple(0.4),
    ):
        with pytest.raises(OutOfRange):
            call()
