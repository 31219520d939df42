"""Stiffness of joints: bolts and rivets in lapped sheet, nuggets of spot and plug welds, fillets, rubber.

Stiffness in N/mm and N mm/rad, sizes in mm, moduli in MPa.
"""

from __future__ import annotations

import math
from typing import Final, Literal

from tinbook.calc.limits import above_zero
from tinbook.calc.straps import rubber_modulus
from tinbook.errors import UnknownName

Six = tuple[float, float, float, float, float, float]
"""Along the axis, across it twice, twist about it, tilt about the others twice."""

_HUTH: Final = {"bolt": (2 / 3, 3.0), "rivet": (2 / 5, 2.2)}


def fastener_flexibility(
    diameter: float,
    one: float,
    two: float,
    e_one: float,
    e_two: float,
    e_fastener: float,
    kind: Literal["bolt", "rivet"] = "bolt",
) -> float:
    """Return how far a fastener in a lap of two sheets gives in shear, mm/N.

    Parameters
    ----------
    diameter : float
        Of the fastener, mm.
    one, two : float
        The two sheets, mm.
    e_one, e_two, e_fastener : float
        Their moduli and the fastener's, MPa.
    kind : {"bolt", "rivet"}, optional

    Returns
    -------
    float
        ((t1 + t2) / 2d)^a b (1/(t1 E1) + 1/(t2 E2) + 1/(2 t1 Ef) + 1/(2 t2 Ef)); a = 2/3, b = 3 for bolts,
        a = 2/5, b = 2.2 for rivets.

    Raises
    ------
    UnknownName
        Another kind.

    Notes
    -----
    Source: `Huth 1986`, single shear of metal sheets, fitted to tests of aircraft joints. Bolts in clearance holes slip
    first, which is not in it.
    """
    above_zero("mm", diameter=diameter, one=one, two=two)
    above_zero("MPa", e_one=e_one, e_two=e_two, e_fastener=e_fastener)
    if kind not in _HUTH:
        raise UnknownName("fastener", kind, _HUTH)
    a, b = _HUTH[kind]
    sheets = 1 / (one * e_one) + 1 / (two * e_two)
    shank = 1 / (2 * one * e_fastener) + 1 / (2 * two * e_fastener)
    return float(((one + two) / (2 * diameter)) ** a * b * (sheets + shank))


def bolted_stiffness(
    diameter: float,
    one: float,
    two: float,
    e_one: float,
    e_two: float,
    e_fastener: float,
    kind: Literal["bolt", "rivet"] = "bolt",
) -> Six:
    """Return the stiffness of a tight bolt, or of a rivet, between two sheets.

    Parameters
    ----------
    diameter : float
        Of the bolt, mm.
    one, two : float
        The two sheets, mm.
    e_one, e_two, e_fastener : float
        Their moduli and the bolt's, MPa.
    kind : {"bolt", "rivet"}, optional

    Returns
    -------
    tuple of float
        Shear by `fastener_flexibility`; along and tilt as the shank and the sheets under its head (an annulus of two
        diameters, which stays pressed together while the bolt is tight); no twist.

    Notes
    -----
    Source: `Huth 1986` in shear, `own proposal` for the rest (springs side by side, as VDI 2230 has them).
    """
    shear = 1 / fastener_flexibility(diameter, one, two, e_one, e_two, e_fastener, kind)
    grip = one + two
    softer = min(e_one, e_two)
    annulus = math.pi / 4 * ((2 * diameter) ** 2 - diameter**2)
    along = (e_fastener * math.pi / 4 * diameter**2 + softer * annulus) / grip
    second = math.pi / 64 * ((2 * diameter) ** 4 - diameter**4)
    tilt = (e_fastener * math.pi / 64 * diameter**4 + softer * second) / grip
    return along, shear, shear, 0.0, tilt, tilt


def nugget_stiffness(youngs: float, diameter: float, length: float, poisson: float = 0.3) -> Six:
    """Return the stiffness of a nugget between the middle planes of two sheets.

    Parameters
    ----------
    youngs : float
        MPa.
    diameter : float
        Of the spot or plug weld, mm.
    length : float
        Between the middle planes, mm.
    poisson : float, optional

    Returns
    -------
    tuple of float
        Of a short beam that shears and bends: E A/l, 1/(l³/12EI + l/kGA), G J/l, E I/l.

    Notes
    -----
    Source: `Timoshenko strength`, a round beam with both ends kept parallel, shear factor 0.9.
    """
    above_zero("mm", diameter=diameter, length=length)
    above_zero("MPa", youngs=youngs)
    area, second = math.pi / 4 * diameter**2, math.pi / 64 * diameter**4
    g = youngs / (2 * (1 + poisson))
    shear = 1 / (length**3 / (12 * youngs * second) + length / (0.9 * g * area))
    return (
        youngs * area / length, shear, shear, g * 2 * second / length, youngs * second / length,
        youngs * second / length,
    )  # fmt: skip


def seam_stiffness(youngs: float, throat: float) -> tuple[float, float]:
    """Return the stiffness of a millimetre of fillet weld: against displacement and against turning about itself.

    Parameters
    ----------
    youngs : float
        MPa.
    throat : float
        mm.

    Returns
    -------
    (float, float)
        E (a layer as thick as its throat is wide), N/mm², and E a²/12, N.

    Notes
    -----
    Source: `own proposal`: a fillet is hundreds of times as stiff as the sheet beside it, so its own stiffness hardly counts.
    """
    above_zero(youngs=youngs, throat=throat)
    return youngs, youngs * throat**2 / 12


def rubber_layer(hardness: float, thickness: float) -> tuple[float, float]:
    """Return the stiffness of a square millimetre of rubber layer, pressed and sheared, N/mm³.

    Parameters
    ----------
    hardness : float
        Shore A, 20 to 80.
    thickness : float
        mm.

    Returns
    -------
    (float, float)
        E/t and E/3t (rubber keeps its volume): a layer that is free to bulge; one that is bonded and wide is stiffer.

    Raises
    ------
    OutOfRange
        Hardness outside 20 to 80.

    Notes
    -----
    Source: `Gent 1958`.
    """
    above_zero("mm", thickness=thickness)
    youngs = rubber_modulus(hardness)
    return youngs / thickness, youngs / 3 / thickness
