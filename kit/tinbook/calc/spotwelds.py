"""Welds in points: puddle (arc spot), plug and spot welds in sheet.

Forces in N, sizes in mm, strengths in MPa. EN 1993 resistances are divided by
the partial factor, AISI S100 strengths by the safety factor: the first stand
against design loads, the second against working loads.
"""

from __future__ import annotations

import math
from typing import Final

from tinbook.calc.joints import GAMMA_M2
from tinbook.calc.limits import above_zero, in_range
from tinbook.calc.welds import fillet_strength
from tinbook.errors import BadValue, OutOfRange

PUDDLE_TEAR_SAFETY: Final = (2.20, 2.80, 3.05)
"""Safety factors of AISI S100 J2.2 for thick, medium and thin sheets around a puddle weld."""
PUDDLE_WELD_SAFETY: Final = 2.55


def puddle_interface(visible: float, thickness: float) -> float:
    """Return the diameter of a puddle weld at the interface of the sheets, mm.

    Parameters
    ----------
    visible : float
        Diameter seen from above, mm.
    thickness : float
        All sheets melted through, together, mm.

    Returns
    -------
    float
        0.7 d - 1.5 t, but no more than 0.55 d.

    Raises
    ------
    BadValue
        Nothing is left at the interface.

    Notes
    -----
    Source: `AISI S100` J2.2. `EN 1993-1-3` 8.5.3 prints the same formula with
    "at least 0.55 d", which cannot be meant for thick sheets: the smaller is taken.
    """
    above_zero("mm", visible=visible, thickness=thickness)
    inner = min(0.7 * visible - 1.5 * thickness, 0.55 * visible)
    if inner <= 0:
        raise BadValue("visible diameter", visible, f"more than {1.5 * thickness / 0.7:.3g} mm for {thickness:g} mm")
    return inner


def puddle_weld_en(
    visible: float, thickness: float, sheets: int, tensile: float, electrode: float, gamma: float = GAMMA_M2
) -> float:
    """Return the shear resistance of a puddle (arc spot) weld by EN 1993-1-3, N.

    Parameters
    ----------
    visible : float
        Diameter seen from above, mm.
    thickness : float
        Sheets melted through, together, at most 4 mm.
    sheets : int
        How many equal sheets that is.
    tensile, electrode : float
        Tensile strength of the sheet and of the weld metal, MPa.
    gamma : float, optional
        Partial factor.

    Returns
    -------
    float
        The smaller of weld metal and sheet round the weld; shear only.

    Raises
    ------
    OutOfRange
        Sheets over 4 mm, or an interface diameter below 10 mm; a weld washer is
        needed below 0.7 mm, so that is refused too.

    Notes
    -----
    Source: `EN 1993-1-3` 8.5.3, limits as in ENV 1993-1-3 8.6.3.
    """
    above_zero(tensile=tensile, electrode=electrode, gamma=gamma)
    _puddle_range(visible, thickness, sheets, 4.0, 10.0, "EN 1993-1-3 8.5.3")
    inner = puddle_interface(visible, thickness)
    weld = math.pi / 4 * inner**2 * 0.625 * electrode / gamma
    rim = visible - thickness if sheets == 1 else visible - 2 * thickness
    slender, limit = rim / thickness, math.sqrt(420 / tensile)
    if slender <= 18 * limit:
        sheet = 1.5 * rim * thickness * tensile / gamma
    elif slender < 30 * limit:
        sheet = 27 * limit * thickness**2 * tensile / gamma
    else:
        sheet = 0.9 * rim * thickness * tensile / gamma
    return min(weld, sheet)


def puddle_weld_aisi(
    visible: float, thickness: float, sheets: int, tensile: float, electrode: float, youngs: float = 203e3
) -> float:
    """Return the allowable shear of a puddle (arc spot) weld by AISI S100, N.

    Parameters
    ----------
    visible : float
        Diameter seen from above, mm.
    thickness : float
        Sheets melted through, together, at most 3.81 mm.
    sheets : int
        How many equal sheets that is.
    tensile, electrode : float
        Tensile strength of the sheet and of the weld metal, MPa.
    youngs : float, optional
        Young's modulus, MPa.

    Returns
    -------
    float
        The smaller of weld metal and sheet tearing, each over its safety factor; shear only.

    Raises
    ------
    OutOfRange
        Sheets over 3.81 mm, below 0.71 mm without a washer, or an interface diameter below 9.53 mm.

    Notes
    -----
    Source: `AISI S100` J2.2.2.1.
    """
    above_zero(tensile=tensile, electrode=electrode, youngs=youngs)
    _puddle_range(visible, thickness, sheets, 3.81, 9.53, "AISI S100 J2.2")
    inner = puddle_interface(visible, thickness)
    weld = math.pi / 4 * inner**2 * 0.75 * electrode / PUDDLE_WELD_SAFETY
    return min(weld, puddle_tearing_aisi(visible, thickness, sheets, tensile, youngs)[1])


def puddle_tearing_aisi(
    visible: float, thickness: float, sheets: int, tensile: float, youngs: float = 203e3
) -> tuple[float, float]:
    """Return the strength of the sheet round a puddle weld by AISI S100: nominal and allowable, N.

    Parameters
    ----------
    visible, thickness : float
        Diameter seen from above and sheets melted through, together; mm.
    sheets : int
        How many equal sheets that is.
    tensile, youngs : float
        Tensile strength and Young's modulus of the sheet, MPa.

    Returns
    -------
    (float, float)
        2.20, 0.280 (1 + 5.59 sqrt(E/Fu) t/da) or 1.40 times t da Fu by slenderness, and that over its safety factor.

    Notes
    -----
    Source: `AISI S100` J2.2.2.1.
    """
    above_zero(visible=visible, thickness=thickness, tensile=tensile, youngs=youngs)
    mean = visible - thickness if sheets == 1 else visible - 2 * thickness
    if mean <= 0:
        raise BadValue("visible diameter", visible, f"more than the sheets, {thickness:g} mm")
    slender, root = mean / thickness, math.sqrt(youngs / tensile)
    base = thickness * mean * tensile
    if slender <= 0.815 * root:
        nominal, safety = 2.20 * base, PUDDLE_TEAR_SAFETY[0]
    elif slender < 1.397 * root:
        nominal, safety = 0.280 * (1 + 5.59 * root / slender) * base, PUDDLE_TEAR_SAFETY[1]
    else:
        nominal, safety = 1.40 * base, PUDDLE_TEAR_SAFETY[2]
    return nominal, nominal / safety


def puddle_weld(
    visible: float, thickness: float, sheets: int, tensile: float, electrode: float, load_factor: float = 1.5
) -> float:
    """Return the working load of a puddle (arc spot) weld in shear, the smaller of two codes, N.

    Parameters
    ----------
    visible, thickness : float
        Diameter seen from above and sheets melted through, together; mm.
    sheets : int
        How many equal sheets that is.
    tensile, electrode : float
        Tensile strength of the sheet and of the weld metal, MPa.
    load_factor : float, optional
        By which EN's design load exceeds the working load, at least 1.

    Returns
    -------
    float
        min(EN resistance / load factor, AISI allowable).

    Raises
    ------
    OutOfRange
        Outside either code's range.

    Notes
    -----
    Source: `EN 1993-1-3` 8.5.3 and `AISI S100` J2.2.
    """
    if not load_factor >= 1:
        raise BadValue("load factor", load_factor, "at least 1")
    by_en = puddle_weld_en(visible, thickness, sheets, tensile, electrode) / load_factor
    return min(by_en, puddle_weld_aisi(visible, thickness, sheets, tensile, electrode))


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


def _puddle_range(visible: float, thickness: float, sheets: int, most: float, least: float, clause: str) -> None:
    above_zero("mm", visible=visible, thickness=thickness)
    if sheets < 1:
        raise BadValue("sheets", sheets, "a whole number from 1")
    in_range("sheets together", thickness, 0.0, most, clause, "mm")
    in_range("thickness per sheet", thickness / sheets, 0.7, math.inf, f"{clause}, below that a weld washer", "mm")
    in_range("interface diameter", puddle_interface(visible, thickness), least, math.inf, clause, "mm")
