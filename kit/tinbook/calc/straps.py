"""Straps round tanks: tension, friction, ends, take-up and the rubber between strap and tank.

Forces in N, sizes in mm, strengths and pressures in MPa, angles in degrees.
"""

from __future__ import annotations

import math
from typing import Final

from tinbook.calc.limits import above_zero, in_range, not_negative
from tinbook.errors import BadValue, OutOfRange

RUBBER: Final[dict[int, tuple[float, float]]] = {
    40: (1.50, 0.85),
    45: (1.80, 0.80),
    50: (2.20, 0.73),
    55: (3.25, 0.64),
    60: (4.45, 0.57),
    65: (5.85, 0.54),
    70: (7.35, 0.53),
}
"""Young's modulus E0 (MPa) and shape constant k of natural rubber by hardness in IRHD (about Shore A); P. B. Lindley."""
MOST: Final = 0.25
"""Part of its thickness by which rubber may be squeezed."""


def leg_tension(load: float, slope: float = 0.0) -> float:
    """Return the tension in each leg of a strap that holds a tank down with half a turn, N.

    Parameters
    ----------
    load : float
        Force that the strap must hold, N.
    slope : float, optional
        Angle of the legs from the force, degrees, up to 75.

    Returns
    -------
    float
        W / (2 cos slope).

    Raises
    ------
    OutOfRange
        Flatter than 75 degrees: the force grows without limit.

    Notes
    -----
    Source: `statics`, without friction, exact.
    """
    not_negative("N", load=load)
    in_range("slope", abs(slope), 0.0, 75.0, "own limit; legs nearer to the force hold it better", "deg")
    return load / (2 * math.cos(math.radians(slope)))


def capstan(tension: float, friction: float, wrap: float) -> float:
    """Return the tension at the pulling end of a strap about to slip round a drum, N.

    Parameters
    ----------
    tension : float
        At the slack end, N.
    friction : float
        Coefficient of friction; rubber to steel about 0.5 dry and 0.2 wet, steel to steel 0.15 to 0.3.
    wrap : float
        Angle of wrap, degrees.

    Returns
    -------
    float
        T e^(mu phi): so much more the tightened end carries than the other.

    Notes
    -----
    Source: `Euler-Eytelwein`, exact for a limp strap.
    """
    not_negative(tension=tension, friction=friction, wrap=wrap)
    return tension * math.exp(friction * math.radians(wrap))


def contact_pressure(tension: float, radius: float, width: float) -> float:
    """Return the pressure of a strap on a round tank, MPa.

    Parameters
    ----------
    tension : float
        N.
    radius, width : float
        Of the tank and of the strap, mm.

    Returns
    -------
    float
        T / (R b). On flat faces there is none, at corners far more: hence the liner.

    Notes
    -----
    Source: `statics` of a limp band, exact.
    """
    not_negative("N", tension=tension)
    above_zero("mm", radius=radius, width=width)
    return tension / (radius * width)


def strap_tension(
    width: float, thickness: float, hole: float, tensile: float, yield_strength: float, safety: float = 2.0
) -> float:
    """Return the tension allowed in a strap with a bolt hole, N.

    Parameters
    ----------
    width, thickness, hole : float
        Strap and its hole (0 for none), mm.
    tensile, yield_strength : float
        MPa.
    safety : float, optional
        Against breaking at the hole; yield of the full strap is held to the factor over 1.25. At least 1.5.

    Returns
    -------
    float
        The smaller of net section (b - d0) t Rm / safety and full section b t Re / (safety / 1.25).

    Raises
    ------
    BadValue
        Hole as wide as the strap.
    OutOfRange
        Safety below 1.5.

    Notes
    -----
    Source: `statics`; factors: `own proposal`.
    """
    above_zero(width=width, thickness=thickness, tensile=tensile, yield_strength=yield_strength)
    not_negative(hole=hole)
    in_range("safety", safety, 1.5, math.inf, "own proposal")
    if hole >= width:
        raise BadValue("hole", hole, f"less than the strap, {width:g} mm")
    net = (width - hole) * thickness * tensile / safety
    return min(net, width * thickness * yield_strength * 1.25 / safety)


def loop_end(
    width: float, thickness: float, pin: float, tensile: float, pin_yield: float, gap: float, safety: float = 2.0
) -> tuple[float, float]:
    """Return the tension allowed at a strap's end folded round a pin and welded or riveted to itself, N.

    Parameters
    ----------
    width, thickness : float
        Strap, mm.
    pin : float
        Diameter of the pin in the loop, mm.
    tensile, pin_yield : float
        Tensile strength of the strap and yield strength of the pin, MPa.
    gap : float
        Free length of pin between the loop's middle and each support's middle, mm.
    safety : float, optional
        On both, at least 1.5.

    Returns
    -------
    (float, float)
        By the strap (two legs, of which the bend round the pin leaves 0.8) and by bending of the pin.

    Raises
    ------
    OutOfRange
        Safety below 1.5, or a pin below the strap's thickness: too tight a bend to count on.

    Notes
    -----
    Source: `statics`; pin as a beam with the load over the strap's width and
    supports at b/2 + gap; 0.8 for the thinner and strained bend: `own proposal`.
    """
    above_zero(width=width, thickness=thickness, pin=pin, tensile=tensile, pin_yield=pin_yield)
    not_negative("mm", gap=gap)
    in_range("safety", safety, 1.5, math.inf, "own proposal")
    in_range("pin", pin, thickness, math.inf, "own proposal: at least the strap's thickness", "mm")
    by_strap = 0.8 * 2 * width * thickness * tensile / safety
    # Uniform load over the width, supports `gap` outside its ends: M = T/2 (b/2 + gap) - T/2 b/4.
    arm = (width / 4 + gap) / 2
    by_pin = pin_yield * math.pi * pin**3 / 32 / arm / safety
    return by_strap, by_pin


def thread_tension(stress_area: float, proof: float, share: float = 0.6) -> float:
    """Return the tension to which a strap's stud may be tightened, N.

    Parameters
    ----------
    stress_area : float
        mm².
    proof : float
        Stress under proof load, MPa: 225 for class 4.6, 580 for 8.8 up to M16 (ISO 898-1); see
        `joints.proof_strength`.
    share : float, optional
        Of the proof load left for tightening; the rest is for the tank's load. Up to 0.75.

    Returns
    -------
    float
        share x proof x As.

    Raises
    ------
    OutOfRange
        Share above 0.75.

    Notes
    -----
    Source: `ISO 898-1` proof strengths; share: `common practice`.
    """
    above_zero(stress_area=stress_area, proof=proof)
    in_range("share", share, 0.0, 0.75, "common practice")
    return share * proof * stress_area


def tightening_torque(tension: float, diameter: float, factor: float = 0.2) -> float:
    """Return the torque on a nut that tightens a stud, N m.

    Parameters
    ----------
    tension : float
        N.
    diameter : float
        Thread, mm.
    factor : float, optional
        Nut factor: 0.2 dry plain steel, 0.15 oiled; the scatter is a quarter either way.

    Returns
    -------
    float
        K F d.

    Notes
    -----
    Source: `Shigley`, torque of a bolt by its nut factor.
    """
    not_negative("N", tension=tension)
    above_zero(diameter=diameter)
    in_range("nut factor", factor, 0.08, 0.4, "Shigley table of nut factors")
    return factor * tension * diameter * 1e-3


def take_up(
    tension: float,
    length: float,
    width: float,
    thickness: float,
    youngs: float,
    liner: float,
    slack: float,
    wrap: float,
) -> float:
    """Return by how much the strap's end must travel to reach its tension, mm.

    Parameters
    ----------
    tension : float
        N.
    length, width, thickness : float
        Strap, mm.
    youngs : float
        MPa.
    liner : float
        Compression of the liner under the strap, mm, see `liner_compression`.
    slack : float
        Play to take up first, and the tank's own tolerance, mm of strap length.
    wrap : float
        Angle of wrap, degrees.

    Returns
    -------
    float
        Stretch F L / E A, plus liner compression times wrap in radians, plus slack.

    Notes
    -----
    Source: `statics`: a band that shrinks by c in radius shortens by c phi.
    The thread must be longer than this.
    """
    above_zero(length=length, width=width, thickness=thickness, youngs=youngs)
    not_negative(tension=tension, liner=liner, slack=slack, wrap=wrap)
    return tension * length / (youngs * width * thickness) + liner * math.radians(wrap) + slack


def rubber_modulus(hardness: float) -> float:
    """Return Young's modulus of rubber from its hardness, MPa.

    Parameters
    ----------
    hardness : float
        Shore A, 20 to 80.

    Returns
    -------
    float
        0.0981 (56 + 7.62336 S) / (0.137505 (254 - 2.54 S)); filled rubbers lie up to a quarter higher.

    Raises
    ------
    OutOfRange
        Outside 20 to 80.

    Notes
    -----
    Source: `Gent 1958`.
    """
    in_range("hardness", hardness, 20.0, 80.0, "Gent 1958", "Shore A")
    return 0.0981 * (56 + 7.62336 * hardness) / (0.137505 * (254 - 2.54 * hardness))


def liner_compression(pressure: float, thickness: float, width: float, hardness: int = 60) -> float:
    """Return how far a rubber liner under a strap is squeezed, mm.

    Parameters
    ----------
    pressure : float
        Contact pressure, MPa.
    thickness, width : float
        Liner, mm; long against its width and bonded or gripped by friction on both faces.
    hardness : int, optional
        One of `RUBBER`, IRHD.

    Returns
    -------
    float
        p t / (4/3 E0 (1 + k S²)), S = width / 2t.

    Raises
    ------
    OutOfRange
        Compression above a quarter of the thickness: rubber is then neither linear nor lasting.
    BadValue
        Hardness not in the table.

    Notes
    -----
    Source: `Lindley`, compression of a long bonded strip by its shape factor.
    Held by friction only it gives more; with creep about a fifth more within weeks.
    """
    not_negative("MPa", pressure=pressure)
    above_zero("mm", thickness=thickness, width=width)
    e0, k = _of_hardness(hardness)
    shape = width / (2 * thickness)
    strain = pressure / (4 / 3 * e0 * (1 + k * shape**2))
    if strain > MOST:
        raise OutOfRange("liner compression", f"{strain:.0%}", "at most 25 % (Lindley); a wider strap or harder liner")
    return strain * thickness


def cushion_force(outside: float, bore: float, height: float, squeeze: float, hardness: int = 65) -> float:
    """Return the force that squeezes a round rubber cushion between plates that it cannot slide on, N.

    Parameters
    ----------
    outside, bore, height : float
        Diameters and free height, mm; bore 0 for none.
    squeeze : float
        Part of its height by which it is squeezed, up to 0.25.
    hardness : int, optional
        One of `RUBBER`, IRHD.

    Returns
    -------
    float
        E0 (1 + 2 k S²) e A, S = loaded area over free area.

    Raises
    ------
    OutOfRange
        Squeezed by more than a quarter: rubber is then neither linear nor lasting.
    BadValue
        Hardness not in the table, a bore as wide as the cushion.

    Notes
    -----
    Source: `Lindley`, compression of a bonded block by its shape factor. Real cushions scatter by a quarter, and
    rubber creeps.
    """
    above_zero("mm", outside=outside, height=height)
    not_negative("mm", bore=bore)
    in_range("squeeze", squeeze, 0.0, MOST, "Lindley; rubber beyond is neither linear nor lasting")
    if bore >= outside:
        raise BadValue("bore", bore, f"less than the cushion's diameter, {outside:g} mm")
    e0, k = _of_hardness(hardness)
    shape = (outside - bore) / (4 * height)
    return e0 * (1 + 2 * k * shape**2) * squeeze * math.pi / 4 * (outside**2 - bore**2)


def _of_hardness(hardness: int) -> tuple[float, float]:
    if hardness not in RUBBER:
        raise BadValue("hardness", hardness, f"one of: {', '.join(map(str, RUBBER))} IRHD")
    return RUBBER[hardness]
