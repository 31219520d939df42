"""Welds in points: plug and spot welds in sheet.

Forces in N, sizes in mm, strengths in MPa; resistances are divided by the partial factor.
"""

from __future__ import annotations

import math

from tinbook.calc.joints import GAMMA_M2
from tinbook.calc.limits import above_zero, in_range
from tinbook.calc.welds import fillet_strength
from tinbook.errors import BadValue, OutOfRange


def least_plug_hole(thickness: float) -> float:
    """Return the smallest hole through which a plug weld can be calculated, mm.

    Parameters
    ----------
    thickness : float
        Plate with the hole, mm.

    Returns
    -------
    float
        thickness + 8 mm; smaller ones are body practice.

    Notes
    -----
    Source: `EN 1993-1-8` 4.3.5.
    """
    above_zero("mm", thickness=thickness)
    return thickness + 8.0


def plug_weld(hole: float, thickness: float, tensile: float, correlation: float, gamma: float = GAMMA_M2) -> float:
    """Return the shear resistance of a plug weld that fills its hole, N.

    Parameters
    ----------
    hole : float
        Diameter of the hole, at least 8 mm more than the thickness, mm.
    thickness : float
        Plate with the hole, up to 16 mm (filled solid), mm.
    tensile : float
        Tensile strength of the weaker part, MPa.
    correlation : float
        beta_w: 0.8 for S235, 0.85 for S275, 0.9 for S355.
    gamma : float, optional
        Partial factor.

    Returns
    -------
    float
        Shear strength of the weld metal times the area of the hole.

    Raises
    ------
    OutOfRange
        Holes smaller than thickness + 8 mm: the usual body plug welds. See `body_plug_weld`.

    Notes
    -----
    Source: `EN 1993-1-8` 4.3.5 and 4.5.3.3.
    """
    above_zero(thickness=thickness, tensile=tensile, correlation=correlation, gamma=gamma)
    in_range("thickness", thickness, 0.0, 16.0, "EN 1993-1-8 4.3.5, filled solid", "mm")
    least = least_plug_hole(thickness)
    if hole < least:
        valid = f"at least {least:g} mm; a smaller plug weld is body practice, not calculable by EN 1993-1-8 4.3.5"
        raise OutOfRange("hole", hole, valid)
    return math.pi / 4 * hole**2 * fillet_strength(tensile, correlation, gamma)


def spot_weld(
    thin: float, thick: float, nugget: float, tensile: float, end: float, edge: float, gamma: float = GAMMA_M2
) -> dict[str, float]:
    """Return the shear resistances of a spot weld by way of failing, N.

    Parameters
    ----------
    thin, thick : float
        The two sheets; the thinner at most 3, the thicker at most 4 mm.
    nugget : float
        Diameter of the weld at the interface, mm.
    tensile : float
        Tensile strength of the thinner sheet, MPa.
    end, edge : float
        From the weld's centre along the force and across it, mm.
    gamma : float, optional
        Partial factor.

    Returns
    -------
    dict
        "tearing and bearing", "end", "weld shear": the smallest governs.

    Raises
    ------
    OutOfRange
        Sheets, end distance (2 to 6 nuggets) or edge distance (up to 4) outside the table.

    Notes
    -----
    Source: `EN 1993-1-3` 8.4, table 8.5. A weld that would shear before
    the sheet tears gives no warning: weld shear should be 1.25 of the rest.
    """
    above_zero(thin=thin, nugget=nugget, tensile=tensile, gamma=gamma)
    clause = "EN 1993-1-3 8.4"
    if thick < thin:
        raise BadValue("thicker sheet", thick, f"at least the thinner one, {thin:g} mm")
    in_range("thinner sheet", thin, 0.0, 3.0, clause, "mm")
    in_range("thicker sheet", thick, 0.0, 4.0, clause, "mm")
    in_range("end distance", end, 2 * nugget, 6 * nugget, clause, "mm")
    in_range("edge distance", edge, 0.0, 4 * nugget, clause, "mm")
    tear = 2.7 * math.sqrt(thin) * nugget * tensile / gamma
    if thick > 2.5 * thin:
        tear = min(tear, 0.7 * nugget**2 * tensile / gamma, 3.1 * thin * nugget * tensile / gamma)
    return {
        "tearing and bearing": tear,
        "end": 1.4 * thin * end * tensile / gamma,
        "weld shear": math.pi / 4 * nugget**2 * tensile / gamma,
    }


def nugget_diameter(thin: float) -> float:
    """Return the nugget that a resistance spot weld is counted with, mm.

    Parameters
    ----------
    thin : float
        Thinner sheet, mm, at most 3.

    Returns
    -------
    float
        5 sqrt(t).

    Raises
    ------
    OutOfRange
        Thicker than 3 mm.

    Notes
    -----
    Source: `EN 1993-1-3` 8.4(3), resistance welding.
    """
    above_zero("mm", thin=thin)
    in_range("thinner sheet", thin, 0.0, 3.0, "EN 1993-1-3 8.4", "mm")
    return 5 * math.sqrt(thin)


def body_plug_weld(hole: float, thin: float, thick: float, tensile: float, end: float, edge: float) -> float:
    """Return a shear resistance for a body shop's plug weld through a small hole, N.

    Parameters
    ----------
    hole : float
        Diameter of the hole, 5 to 12 mm.
    thin, thick : float
        The two sheets, mm.
    tensile : float
        Tensile strength of the thinner sheet, MPa.
    end, edge : float
        From the hole's centre along the force and across it, mm.

    Returns
    -------
    float
        That of the spot weld which it replaces: nugget 5 sqrt(t), but never more than the hole.

    Raises
    ------
    OutOfRange
        Hole or sheets outside that, or distances outside the spot weld's table.

    Notes
    -----
    Source: `own proposal`, by `EN 1993-1-3` table 8.5 and the trade's rule that
    plug welds replace spot welds one for one. No code covers plug welds in holes
    under thickness + 8 mm; test a sample from the same sheet and settings.
    """
    in_range("hole", hole, 5.0, 12.0, "body plug welds, own proposal", "mm")
    nugget = min(hole, nugget_diameter(thin))
    # The table ends at 6 nuggets from the end and 4 from the edge; being farther in does no harm.
    values = spot_weld(thin, thick, nugget, tensile, min(end, 6 * nugget), min(edge, 4 * nugget))
    return min(values.values())
