"""Screws that cut or form their thread in sheet, and blind nut inserts.

Forces in N, sizes in mm, strengths in MPa. Strengths of screws are nominal,
with `SCREW_SAFETY` beside them.
"""

from __future__ import annotations

import math
from typing import Final

from tinbook.calc.limits import above_zero, in_range, not_negative
from tinbook.errors import BadValue

SCREW_SAFETY: Final = 3.0
"""Safety factor on the nominal strength of screws (AISI S100 J4)."""

_SCREWS: Final = "AISI S100 J4"


def screw_shear(head_sheet: float, far_sheet: float, diameter: float, head_tensile: float, far_tensile: float) -> float:
    """Return the nominal shear strength of a screw between two sheets, by tilting and bearing, N.

    Parameters
    ----------
    head_sheet, far_sheet : float
        Sheet under the head and the other, mm.
    diameter : float
        Nominal screw diameter, 2.03 to 6.35 mm.
    head_tensile, far_tensile : float
        Their tensile strengths, MPa.

    Returns
    -------
    float
        Divide by `SCREW_SAFETY`. The screw's own shear strength comes from its maker.

    Raises
    ------
    OutOfRange
        Screw diameter outside the range.

    Notes
    -----
    Source: `AISI S100` J4.3.1: 4.2 sqrt(t2³ d) Fu2, 2.7 t1 d Fu1, 2.7 t2 d Fu2
    for t2/t1 up to 1, the last two from 2.5, linear between.
    """
    above_zero(head_sheet=head_sheet, far_sheet=far_sheet, head_tensile=head_tensile, far_tensile=far_tensile)
    in_range("screw diameter", diameter, 2.03, 6.35, _SCREWS, "mm")
    bearing = min(2.7 * head_sheet * diameter * head_tensile, 2.7 * far_sheet * diameter * far_tensile)
    tilting = min(4.2 * math.sqrt(far_sheet**3 * diameter) * far_tensile, bearing)
    ratio = far_sheet / head_sheet
    return tilting + (bearing - tilting) * min(max((ratio - 1.0) / 1.5, 0.0), 1.0)


def screw_pull_out(far_sheet: float, diameter: float, far_tensile: float) -> float:
    """Return the nominal force that pulls a screw out of the sheet that holds its thread, N.

    Parameters
    ----------
    far_sheet : float
        Sheet that holds the thread, mm; the engaged length if that is less.
    diameter : float
        Nominal screw diameter, 2.03 to 6.35 mm.
    far_tensile : float
        Its tensile strength, MPa.

    Returns
    -------
    float
        0.85 t d Fu; divide by `SCREW_SAFETY`.

    Raises
    ------
    OutOfRange
        Screw diameter outside the range.

    Notes
    -----
    Source: `AISI S100` J4.4.1.
    """
    above_zero(far_sheet=far_sheet, far_tensile=far_tensile)
    in_range("screw diameter", diameter, 2.03, 6.35, _SCREWS, "mm")
    return 0.85 * far_sheet * diameter * far_tensile


def screw_pull_over(head_sheet: float, head: float, head_tensile: float) -> float:
    """Return the nominal force that pulls the sheet over a screw's head, N.

    Parameters
    ----------
    head_sheet : float
        Sheet under the head, mm.
    head : float
        Diameter of head or washer, at least 7.94 mm; no more than 19.1 mm counts.
    head_tensile : float
        Its tensile strength, MPa.

    Returns
    -------
    float
        1.5 t d_w Fu; divide by `SCREW_SAFETY`.

    Raises
    ------
    OutOfRange
        Head smaller than the code allows.

    Notes
    -----
    Source: `AISI S100` J4.4.2.
    """
    above_zero(head_sheet=head_sheet, head_tensile=head_tensile)
    in_range("head", head, 7.94, math.inf, _SCREWS, "mm")
    return 1.5 * head_sheet * min(head, 19.1) * head_tensile


def screw_end(thickness: float, end: float, diameter: float, tensile: float) -> float:
    """Return the nominal force that shears a screw out through the sheet's end, N.

    Parameters
    ----------
    thickness, end, diameter : float
        Sheet, distance of the screw's centre from the end along the force, screw; mm.
    tensile : float
        Tensile strength, MPa.

    Returns
    -------
    float
        t e Fu; divide by `SCREW_SAFETY`.

    Raises
    ------
    OutOfRange
        End distance below 1.5 diameters.

    Notes
    -----
    Source: `AISI S100` J4.2 and J4.3.2; spacing at least 3 diameters.
    """
    above_zero(thickness=thickness, diameter=diameter, tensile=tensile)
    in_range("end distance", end, 1.5 * diameter, math.inf, _SCREWS, "mm")
    return thickness * end * tensile


def insert_utilisation(
    tension: float, shear: float, tension_proof: float, shear_proof: float, safety: float = 1.5
) -> float:
    """Return the utilisation of a blind nut insert in tension and shear at once.

    Parameters
    ----------
    tension, shear : float
        Forces, N.
    tension_proof, shear_proof : float
        The maker's proof loads for this insert in this sheet, N: take them from the shop's table.
    safety : float, optional
        Factor on the proof loads, at least 1.

    Returns
    -------
    float
        Straight-line sum; at most 1 is enough.

    Raises
    ------
    BadValue
        Safety below 1.

    Notes
    -----
    Source: `common practice`: makers state each load alone, and a straight line
    between them lies on the safe side. The proof load holds for the sheet that
    the maker tested; in thinner sheet the insert pulls out earlier.
    """
    not_negative("N", tension=tension, shear=shear)
    above_zero("N", tension_proof=tension_proof, shear_proof=shear_proof)
    if not safety >= 1:
        raise BadValue("safety", safety, "at least 1")
    return safety * (tension / tension_proof + shear / shear_proof)
