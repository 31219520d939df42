"""Bending force."""

from __future__ import annotations

from typing import Final

from tinbook.calc.limits import above_zero, in_range
from tinbook.errors import UnknownName

_TEXTBOOK: Final = {"v die": 1.33, "wiping die": 0.33}


def air_bend_force(thickness: float, length: float, opening: float, tensile: float = 450.0) -> float:
    """Force of a 90 degree air bend, F = 650 t² L / V, scaled by the tensile strength.

    Parameters
    ----------
    thickness, length, opening : float
        mm. The opening must be 5 to 20 times the thickness: a tighter bend bottoms.
    tensile : float
        Tensile strength, MPa; the formula is stated for 450.

    Returns
    -------
    float
        N.

    Notes
    -----
    Source: air-bend chart (there kN with L in m). Soft aluminium comes out at about half,
    stainless at about one and a half times mild steel. Bottoming takes several times as much.
    """
    above_zero("mm", thickness=thickness, length=length, opening=opening)
    above_zero("MPa", tensile=tensile)
    in_range("die opening / thickness", opening / thickness, 5.0, 20.0, "air-bend chart")
    return 650.0 * thickness**2 * length / opening * tensile / 450.0


def textbook_force(tensile: float, width: float, thickness: float, opening: float, die: str = "v die") -> float:
    """Largest force of a bend, F = Kbf TS w t² / D.

    Parameters
    ----------
    tensile : float
        MPa.
    width, thickness, opening : float
        Length of the bend, thickness, die opening D, mm.
    die : {"v die", "wiping die"}
        Kbf = 1.33 or 0.33.

    Returns
    -------
    float
        N.

    Notes
    -----
    Source: Groover.
    """
    if die not in _TEXTBOOK:
        raise UnknownName("die", die, _TEXTBOOK)
    above_zero("MPa", tensile=tensile)
    above_zero("mm", width=width, thickness=thickness, opening=opening)
    return _TEXTBOOK[die] * tensile * width * thickness**2 / opening
