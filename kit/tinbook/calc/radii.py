"""Inside radii, die openings and shortest legs."""

from __future__ import annotations

import math
import re
from bisect import bisect_left
from itertools import pairwise
from typing import Final

from tinbook.calc.limits import above_zero, in_range
from tinbook.errors import OutOfRange, UnknownName

_DIN_THICKNESS: Final = (1, 1.5, 2.5, 3, 4, 5, 6, 7, 8, 10, 12, 14, 16, 18, 20)
_DIN_RADII: Final = {
    "DIN 6935 Rm 390": (1, 1.6, 2.5, 3, 5, 6, 8, 10, 12, 16, 20, 25, 28, 36, 40),
    "DIN 6935 Rm 490": (1.2, 2, 3, 4, 5, 8, 10, 12, 16, 20, 25, 28, 32, 40, 45),
    "DIN 6935 Rm 640": (1.6, 2.5, 4, 5, 6, 8, 10, 12, 16, 20, 25, 32, 36, 45, 50),
}
"""mm, across the rolling direction, turned by at most 120 degrees, for sheet up to the thickness above."""

_AA_THICKNESS: Final = tuple(25.4 * f for f in (1 / 64, 1 / 32, 1 / 16, 1 / 8, 3 / 16, 1 / 4, 3 / 8, 1 / 2))
_AA_MULTIPLES: Final = {
    "Aluminum Association 5052-H32": (0, 0, 1, 1.5, 1.5, 1.5, 1.5, 2),
    "Aluminum Association 5052-H34": (0, 1, 1.5, 2, 2, 2.5, 2.5, 3),
    "Aluminum Association 6061-T4": (0, 0, 1, 1.5, 2.5, 3, 3.5, 4),
    "Aluminum Association 6061-T6": (1, 1, 1.5, 2.5, 3, 3.5, 4.5, 5),
}
"""Multiples of the thickness, 90 degree cold bends."""

_MULTIPLE = re.compile(r"(\d+(?:\.\d+)?) t")
TABLES: Final = (*_DIN_RADII, *_AA_MULTIPLES, "0.5 t", "1 t", "3 t")
"""Tables of minimum radii; any other multiple "n t" works too."""

_LEG: Final = ((8.0, 5.59 / 8), (16.0, 11.53 / 16), (25.0, 18.0 / 25), (50.0, 37.5 / 50), (200.0, 0.77))
"""Shortest outside leg at 90 degrees as a part of the die opening."""


def natural_radius(opening: float, ratio: float = 0.16) -> float:
    """Inside radius of an air bend from the die opening, r = ratio V.

    Parameters
    ----------
    opening : float
        Die opening V, mm, 4 to 250.
    ratio : float
        0.15 to 0.17 for mild steel, 0.20 to 0.22 stainless, 0.13 to 0.15 soft aluminium; 0.1 to 0.25 accepted.

    Returns
    -------
    float
        mm.

    Notes
    -----
    Source: air-bend chart, r/V = 0.165 to 0.167 in mild steel of 450 MPa; 0.16 fits the air-bend
    catalogue. A rule of thumb: it misses when the die is far wider than usual for the thickness.
    """
    in_range("die opening", opening, 4.0, 250.0, "air-bend chart", "mm")
    in_range("radius / die opening", ratio, 0.1, 0.25, "air-bend chart")
    return ratio * opening


def opening_multiple(thickness: float) -> float:
    """Recommended die opening as a multiple of the thickness: 6 below 3 mm, 8 from 3, 10 from 9, 12 from 14 mm.

    Parameters
    ----------
    thickness : float
        mm, 0.5 to 25. The chart's ranges end at 2.6, 8 and 12 mm and start again at 3, 9 and 14;
        between them the lower multiple is kept.

    Returns
    -------
    float
        V / t.

    Notes
    -----
    Source: air-bend chart. Many shops use 8 t from 1 mm up (common practice).
    """
    in_range("thickness", thickness, 0.5, 25.0, "air-bend chart", "mm")
    return 6.0 if thickness < 3.0 else 8.0 if thickness < 9.0 else 10.0 if thickness < 14.0 else 12.0


def recommended_opening(thickness: float) -> float:
    """Recommended die opening, mm, by `opening_multiple` (source: air-bend chart)."""
    return opening_multiple(thickness) * thickness


def minimum_leg(opening: float, angle: float = 90.0) -> float:
    """Shortest leg, to the apex of the outside faces, that still rests on the die at the end of the bend.

    At 90 degrees the chart's part of the opening (0.70 to 0.77); at other angles it
    grows or shrinks as the distance from apex to shoulder does, by cos 45 / cos(A/2).

    Parameters
    ----------
    opening : float
        Die opening V, mm, 4 to 250.
    angle : float
        Angle turned through, more than 0 to 150 degrees.

    Returns
    -------
    float
        mm.

    Notes
    -----
    Source: air-bend chart at 90 degrees, geometry for the angle. Below V 8 and above V 200 the end values are kept.
    """
    in_range("die opening", opening, 4.0, 250.0, "air-bend chart", "mm")
    if not 0.0 < angle <= 150.0:
        raise OutOfRange("angle turned", angle, "more than 0 to 150 degrees")
    part = _LEG[0][1] if opening <= _LEG[0][0] else _LEG[-1][1]
    for (v0, p0), (v1, p1) in pairwise(_LEG):
        if v0 <= opening <= v1:
            part = p0 + (p1 - p0) * (opening - v0) / (v1 - v0)
    return part * opening * math.cos(math.radians(45.0)) / math.cos(math.radians(angle / 2.0))


def minimum_radius(table: str, thickness: float, angle: float = 90.0, along_grain: bool = False) -> float:
    """Smallest inside radius by a table.

    Parameters
    ----------
    table : str
        One of `TABLES`, or a multiple such as "1.5 t" (common practice).
    thickness : float
        mm; DIN 6935 to 20, Aluminum Association to 12.7.
    angle : float
        Angle turned through; the Aluminum Association's table is for 90 degrees at most.
    along_grain : bool
        Whether the fold runs along the rolling direction.

    Returns
    -------
    float
        mm.

    Notes
    -----
    Source: DIN 6935 (across the grain and up to 120 degrees; along it or beyond, the next thicker
    column is taken); Aluminum Association (column of the next thicker sheet).
    """
    above_zero("mm", thickness=thickness)
    if table in _DIN_RADII:
        column = bisect_left(_DIN_THICKNESS, thickness - 1e-9) + (1 if along_grain or angle > 120.0 else 0)
        if column >= len(_DIN_THICKNESS):
            raise OutOfRange(
                "thickness", thickness, "at most 20 mm, at most 18 mm along the grain or beyond 120 degrees"
            )
        return float(_DIN_RADII[table][column])
    if table in _AA_MULTIPLES:
        if angle > 90.0:
            raise OutOfRange("angle turned", angle, "at most 90 degrees for the Aluminum Association's radii")
        column = bisect_left(_AA_THICKNESS, thickness - 1e-9)
        if column >= len(_AA_THICKNESS):
            raise OutOfRange("thickness", thickness, "at most 12.7 mm for the Aluminum Association's radii")
        return _AA_MULTIPLES[table][column] * thickness
    match = _MULTIPLE.fullmatch(table)
    if match is None:
        raise UnknownName("table of minimum radii", table, TABLES)
    return float(match.group(1)) * thickness


def minimum_radius_source(table: str) -> str:
    """Key of the source of a table of minimum radii."""
    if table in _DIN_RADII:
        return "DIN 6935"
    return "Aluminum Association" if table in _AA_MULTIPLES else "common practice"


def general_floor(thickness: float) -> float:
    """Inside radius that any fold in low-carbon steel should have, max(0.5 t, 0.8 mm) (source: sheet design guide)."""
    above_zero("mm", thickness=thickness)
    return max(0.5 * thickness, 0.8)
