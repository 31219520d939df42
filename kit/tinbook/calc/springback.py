"""Springback: a table of factors, and the elastic-plastic model for wide radii."""

from __future__ import annotations

import math
from typing import Final

from tinbook.calc.limits import above_zero, in_range
from tinbook.errors import OutOfRange, UnknownName

_COLUMNS: Final = (1.0, 1.6, 2.5, 4.0, 6.3, 10.0, 16.0, 25.0, 40.0, 63.0, 100.0)
_FACTORS: Final = {
    "DC04": (0.99, 0.99, 0.99, 0.98, 0.97, 0.97, 0.96, 0.94, 0.91, 0.87, 0.83),
    "DC01": (0.99, 0.99, 0.99, 0.97, 0.96, 0.96, 0.93, 0.90, 0.85, 0.77, 0.66),
    "18-8 stainless": (0.99, 0.98, 0.97, 0.95, 0.93, 0.89, 0.84, 0.76, 0.63),
    "Al 99.0": (0.99, 0.99, 0.99, 0.99, 0.98, 0.98, 0.97, 0.97, 0.96, 0.95, 0.93),
    "AlSiMgMn": (0.98, 0.98, 0.97, 0.96, 0.95, 0.93, 0.90, 0.86, 0.82, 0.76, 0.72),
}


def springback_factor(metal: str, radius: float, thickness: float) -> float:
    """Springback factor k = angle after / angle formed, from the trade table, interpolated over log(r/t).

    Parameters
    ----------
    metal : str
        Row of the table: DC04, DC01, 18-8 stainless, Al 99.0, AlSiMgMn.
    radius, thickness : float
        Inside radius wanted and thickness, mm; r/t from 1 to 100, to 40 for 18-8 stainless.

    Returns
    -------
    float
        At most 1.

    Notes
    -----
    Source: trade tables (factors quoted; the column heads are from memory).
    """
    if metal not in _FACTORS:
        raise UnknownName("springback row", metal, _FACTORS)
    row = _FACTORS[metal]
    above_zero("mm", radius=radius, thickness=thickness)
    ratio = radius / thickness
    in_range("radius / thickness", ratio, 1.0, _COLUMNS[len(row) - 1], f"trade tables, springback of {metal}")
    for n in range(len(row) - 1):
        low, high = _COLUMNS[n], _COLUMNS[n + 1]
        if ratio <= high:
            return row[n] + (row[n + 1] - row[n]) * math.log(ratio / low) / math.log(high / low)
    return row[-1]


def angle_to_form(angle: float, factor: float) -> float:
    """Angle that the tool must form so that `angle` stays, A1 = A2 / k, degrees (source: trade tables)."""
    if not 0.0 < factor <= 1.0:
        raise OutOfRange("springback factor", factor, "more than 0 to 1")
    return angle / factor


def radius_ratio(
    radius: float, thickness: float, yield_strength: float, youngs: float, *, hardened: bool = False
) -> float:
    """Ratio of the formed to the released radius, Ri/Rf = 4 x³ - 3 x + 1 with x = Ri Y / (E t).

    Of the middle line it is also the ratio of the released to the formed angle, since the line keeps its length.

    Parameters
    ----------
    radius, thickness : float
        Radius as formed and thickness, mm; r/t greater than 4.
    yield_strength, youngs : float
        MPa.
    hardened : bool
        Whether the stress is that of the metal as bent, beyond its yield: then tighter bends are answered too.

    Returns
    -------
    float
        Between 0 (springs back flat, x = 1/2) and 1.

    Notes
    -----
    Source: Kalpakjian. Elastic-ideally plastic, exact for the stress that is given; a metal that hardens lies between
    the answers for its yield and its tensile strength.
    """
    above_zero("mm", radius=radius, thickness=thickness)
    above_zero("MPa", yield_strength=yield_strength, youngs=youngs)
    if not hardened and not radius / thickness > 4.0:
        raise OutOfRange("radius / thickness", radius / thickness, "greater than 4 for the elastic-plastic springback")
    x = radius * yield_strength / (youngs * thickness)
    if not 0.0 <= x <= 0.5:
        raise OutOfRange("R Y / (E t)", x, "0 to 0.5; above, the bend stays elastic and springs back flat")
    return 4.0 * x**3 - 3.0 * x + 1.0
