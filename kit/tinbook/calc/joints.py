"""Bolts in sheet and plate: design resistances by code.

Forces in N, sizes in mm, strengths in MPa; resistances are divided by the partial factor.
"""

from __future__ import annotations

import math
from typing import Final

from tinbook.calc.bolts import bolt_strength
from tinbook.calc.limits import above_zero, in_range, not_negative
from tinbook.errors import BadValue

GAMMA_M2: Final = 1.25
"""Partial factor of joints, EN 1993-1-8 2.2 and EN 1993-1-3 2(3) (recommended value)."""


LOOSE_HOLE: Final = 0.85
"""Share of the shear resistance that M12 and M14 keep in holes with up to 2 mm of clearance, EN 1993-1-8 3.6.1(5)."""

_IN_SHEET: Final = "EN 1993-1-3 table 8.4"
_IN_PLATE: Final = "EN 1993-1-8 table 3.3"


def bolt_shear(
    bolt_class: str,
    area: float,
    *,
    diameter: float,
    hole: float,
    in_thread: bool = True,
    gamma: float = GAMMA_M2,
) -> float:
    """Return the shear resistance of a bolt in one plane, N.

    Parameters
    ----------
    bolt_class : str
        Property class.
    area : float
        Stress area if the plane cuts the thread, else the shank's, mm².
    diameter, hole : float
        Of the bolt and of the round hole that it goes through, mm.
    in_thread : bool, optional
        Whether the plane cuts the thread.
    gamma : float, optional
        Partial factor.

    Returns
    -------
    float
        0.6 fub A / gamma; 0.5 through the thread for classes 4.8, 5.8, 6.8 and 10.9. Of that 0.85 for M12 and M14
        of classes 4.8, 5.8, 6.8, 8.8 and 10.9 with more than 1 and up to 2 mm of clearance; the group's bearing
        must then be at least its shear.

    Raises
    ------
    OutOfRange
        A hole with more clearance than the code's normal round holes: 1 mm up to M14 (M12 and M14 2 mm as above),
        2 mm up to M24, 3 mm above.

    Notes
    -----
    Source: `EN 1993-1-8` table 3.4 and 3.6.1(5), holes of EN 1090-2 table 11 (from memory below M12, where the code
    says nothing); the same in `EN 1993-1-3` table 8.4.
    """
    above_zero(area=area, gamma=gamma)
    _hole_takes(diameter, hole)
    clearance, loose = hole - diameter, diameter in (12.0, 14.0)
    most = 2.0 if loose or 14.0 < diameter <= 24.0 else 1.0 if diameter <= 14.0 else 3.0
    in_range("clearance of the hole", clearance, 0.0, most + 1e-9, "normal round holes of EN 1993-1-8", "mm")
    weak = in_thread and bolt_class in ("4.8", "5.8", "6.8", "10.9")
    shear = (0.5 if weak else 0.6) * bolt_strength(bolt_class)[1] * area / gamma
    reduced = loose and clearance > 1.0 + 1e-9 and bolt_class not in ("4.6", "5.6")
    return (LOOSE_HOLE if reduced else 1.0) * shear


def bolt_tension(bolt_class: str, area: float, *, countersunk: bool = False, gamma: float = GAMMA_M2) -> float:
    """Return the tension resistance of a bolt, N.

    Parameters
    ----------
    bolt_class : str
        Property class.
    area : float
        Stress area, mm².
    countersunk : bool, optional
        Whether the head is countersunk.
    gamma : float, optional
        Partial factor.

    Returns
    -------
    float
        0.9 fub As / gamma, 0.63 with a countersunk head.

    Notes
    -----
    Source: `EN 1993-1-8` table 3.4. In sheet the head pulls through first, see `bolt_punching`.
    """
    above_zero(area=area, gamma=gamma)
    return (0.63 if countersunk else 0.9) * bolt_strength(bolt_class)[1] * area / gamma


def bolt_punching(head: float, thickness: float, tensile: float, gamma: float = GAMMA_M2) -> float:
    """Return the force at which a bolt's head or nut punches through a plate, N.

    Parameters
    ----------
    head : float
        Mean of the head's or nut's width across flats and across corners, mm.
    thickness, tensile : float
        Plate under the head and its tensile strength; mm, at least 3; MPa.
    gamma : float, optional
        Partial factor.

    Returns
    -------
    float
        0.6 pi d_m t fu / gamma.

    Raises
    ------
    OutOfRange
        Below 3 mm, where EN 1993-1-3 asks for tests.

    Notes
    -----
    Source: `EN 1993-1-8` table 3.4.
    """
    above_zero(head=head, thickness=thickness, tensile=tensile, gamma=gamma)
    in_range("thickness", thickness, 3.0, math.inf, "EN 1993-1-8; thinner sheet: pull-through by test", "mm")
    return 0.6 * math.pi * head * thickness * tensile / gamma


def bolt_combined(shear: float, shear_resistance: float, tension: float, tension_resistance: float) -> float:
    """Return the utilisation of a bolt in shear and tension at once.

    Parameters
    ----------
    shear, tension : float
        Forces, N.
    shear_resistance, tension_resistance : float
        From `bolt_shear` and `bolt_tension`, N.

    Returns
    -------
    float
        The larger of Fv/FvRd + Ft/(1.4 FtRd) and Ft/FtRd; at most 1 is enough.

    Notes
    -----
    Source: `EN 1993-1-8` table 3.4.
    """
    not_negative("N", shear=shear, tension=tension)
    above_zero("N", shear_resistance=shear_resistance, tension_resistance=tension_resistance)
    pull = tension / tension_resistance
    return max(shear / shear_resistance + pull / 1.4, pull)


def least_distances(hole: float, thickness: float) -> dict[str, float]:
    """Return the least distances of bolt holes from ends, edges and each other, mm.

    Parameters
    ----------
    hole, thickness : float
        Hole diameter and the thinner sheet, mm.

    Returns
    -------
    dict
        e1 (end, along the force), e2 (edge), p1, p2 (pitch along and across the force).

    Notes
    -----
    Source: below 3 mm `EN 1993-1-3` table 8.4, from 3 mm `EN 1993-1-8` table 3.3.
    """
    above_zero("mm", hole=hole, thickness=thickness)
    if thickness < 3.0:
        return {"e1": hole, "e2": 1.5 * hole, "p1": 3 * hole, "p2": 3 * hole}
    return {"e1": 1.2 * hole, "e2": 1.2 * hole, "p1": 2.2 * hole, "p2": 2.4 * hole}


def bolt_bearing(
    diameter: float,
    hole: float,
    thickness: float,
    tensile: float,
    end: float,
    edge: float,
    bolt_class: str = "8.8",
    *,
    pitch: float = math.inf,
    gauge: float = math.inf,
    gamma: float = GAMMA_M2,
) -> float:
    """Return the bearing resistance of a bolt in plate of 3 mm and more, N.

    Parameters
    ----------
    diameter, hole, thickness : float
        Bolt, hole and plate, mm.
    tensile : float
        Tensile strength of the plate, MPa.
    end, edge : float
        From the hole's centre along the force and across it, mm.
    bolt_class : str, optional
        Property class.
    pitch, gauge : float, optional
        To the next hole along the force and across it, mm.
    gamma : float, optional
        Partial factor.

    Returns
    -------
    float
        k1 ab fu d t / gamma.

    Raises
    ------
    OutOfRange
        Thinner than 3 mm or holes closer than the code allows.

    Notes
    -----
    Source: `EN 1993-1-8` table 3.4, distances table 3.3. Edge bolts and inner bolts in one: both terms are taken.
    """
    above_zero(diameter=diameter, hole=hole, thickness=thickness, tensile=tensile, gamma=gamma)
    in_range("thickness", thickness, 3.0, math.inf, "below 3 mm use EN 1993-1-3", "mm")
    _hole_takes(diameter, hole)
    _far_enough(least_distances(hole, thickness), _IN_PLATE, e1=end, e2=edge, p1=pitch, p2=gauge)
    along = min(end / (3 * hole), pitch / (3 * hole) - 0.25, bolt_strength(bolt_class)[1] / tensile, 1.0)
    across = min(2.8 * edge / hole - 1.7, 1.4 * gauge / hole - 1.7, 2.5)
    return across * along * tensile * diameter * thickness / gamma


def bolt_bearing_in_sheet(
    diameter: float,
    hole: float,
    thickness: float,
    tensile: float,
    end: float,
    edge: float,
    *,
    pitch: float = math.inf,
    gauge: float = math.inf,
    gamma: float = GAMMA_M2,
) -> float:
    """Return the bearing resistance of a bolt in sheet of 0.75 to below 3 mm, N.

    Parameters
    ----------
    diameter, hole, thickness : float
        Bolt (M6 to M16), hole and sheet, mm.
    tensile : float
        Tensile strength of the sheet, MPa, at most 550.
    end, edge : float
        From the hole's centre along the force and across it, mm.
    pitch, gauge : float, optional
        To the next hole along the force and across it, mm.
    gamma : float, optional
        Partial factor.

    Returns
    -------
    float
        2.5 ab kt fu d t / gamma, ab = min(1, e1 / 3d), kt = (0.8 t + 1.5) / 2.5 up to 1.25 mm, else 1.

    Raises
    ------
    OutOfRange
        Outside thickness, bolt size, strength or distances of the table.

    Notes
    -----
    Source: `EN 1993-1-3` table 8.4 (here e1 counts in bolt diameters, in EN 1993-1-8 in hole diameters).
    """
    above_zero(diameter=diameter, hole=hole, thickness=thickness, tensile=tensile, gamma=gamma)
    in_range("thickness", thickness, 0.75, 2.9999999, _IN_SHEET, "mm")
    in_range("bolt", diameter, 6.0, 16.0, _IN_SHEET, "mm")
    in_range("tensile strength", tensile, 0.0, 550.0, _IN_SHEET, "MPa")
    _hole_takes(diameter, hole)
    _far_enough(least_distances(hole, thickness), _IN_SHEET, e1=end, e2=edge, p1=pitch, p2=gauge)
    thin = (0.8 * thickness + 1.5) / 2.5 if thickness <= 1.25 else 1.0
    return 2.5 * min(1.0, end / (3 * diameter)) * thin * tensile * diameter * thickness / gamma


def net_section_in_sheet(
    net_area: float,
    tensile: float,
    hole: float,
    reach: float,
    share: float = 1.0,
    gamma: float = GAMMA_M2,
) -> float:
    """Return the resistance of a sheet at a row of bolt holes, N.

    Parameters
    ----------
    net_area : float
        Area of the sheet less the holes, mm².
    tensile : float
        Tensile strength, MPa.
    hole : float
        Diameter of the holes, mm.
    reach : float
        u: the smaller of twice the edge distance and the spacing across the force, mm.
    share : float, optional
        r: bolts at this section over all bolts of the joint, 0 to 1.
    gamma : float, optional
        Partial factor.

    Returns
    -------
    float
        (1 + 3 r (d0/u - 0.3)) Anet fu / gamma, at most Anet fu / gamma.

    Raises
    ------
    BadValue
        Share outside 0 to 1 or holes that touch.

    Notes
    -----
    Source: `EN 1993-1-3` table 8.4.
    """
    above_zero(net_area=net_area, tensile=tensile, hole=hole, reach=reach, gamma=gamma)
    if not 0 <= share <= 1:
        raise BadValue("share", share, "0 to 1")
    if reach <= hole:
        raise BadValue("reach", reach, f"more than the hole, {hole:g} mm")
    return min(1.0, 1 + 3 * share * (hole / reach - 0.3)) * net_area * tensile / gamma


def net_section_in_plate(net_area: float, tensile: float, gamma: float = GAMMA_M2) -> float:
    """Return the resistance of a plate of 3 mm and more at a row of bolt holes, N.

    Parameters
    ----------
    net_area : float
        Area of the plate less the holes, mm².
    tensile : float
        Tensile strength, MPa.
    gamma : float, optional
        Partial factor.

    Returns
    -------
    float
        0.9 Anet fu / gamma.

    Notes
    -----
    Source: `EN 1993-1-1` clause 6.2.3, equation 6.7.
    """
    above_zero(net_area=net_area, tensile=tensile, gamma=gamma)
    return 0.9 * net_area * tensile / gamma


def _hole_takes(diameter: float, hole: float) -> None:
    if hole < diameter:
        raise BadValue("hole", hole, f"at least the bolt, {diameter:g} mm")


def _far_enough(least: dict[str, float], source: str, **given: float) -> None:
    words = {"e1": "end distance", "e2": "edge distance", "p1": "pitch along the force", "p2": "pitch across the force"}
    for key, value in given.items():
        in_range(words[key], value, least[key], math.inf, source, "mm")
