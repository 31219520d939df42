"""Bending force."""

from __future__ import annotations

from typing import Final

from tinbook.errors import OutOfRange, UnknownName

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
    for name, value in (("thickness", thickness), ("length", length), ("opening", opening), ("tensile", tensile)):
        if not 0.0 < value < float("inf"):
            raise OutOfRange(name, value, "greater than 0")
    if not 5.0 <= opening / thickness <= 20.0:
        raise OutOfRange("die opening / thickness", opening / thickness, "5 to 20")
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
    for name, value in (("tensile", tensile), ("width", width), ("thickness", thickness), ("opening", opening)):
        if not 0.0 < value < float("inf"):
            raise OutOfRange(name, value, "greater than 0")
    return _TEXTBOOK[die] * tensile * width * thickness**2 / opening
