"""Gas struts of a hinged lid: force by stroke and temperature, and the balance of moments over the opening."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from tinbook.calc.limits import above_zero, finite, in_range, not_negative
from tinbook.errors import BadValue, OutOfRange
from tinbook.plane.loops import Point
from tinbook.values import dataclass

GRAVITY: Final = 9.80665
ATMOSPHERE: Final = 0.101325
"""MPa."""
KELVIN: Final = 273.15
REFERENCE: Final = 20.0
"""Temperature at which makers state the force, degrees Celsius."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GasStrut:
    """A gas strut as its maker sells it.

    Parameters
    ----------
    force : float
        Push when extended, at 20 degrees Celsius, N.
    extended, stroke : float
        Length between the joints when extended, and stroke; mm.
    progression : float, optional
        Force compressed over force extended, 1 to 1.6 (usual 1.2 to 1.4).
    rod : float, optional
        Diameter of the rod, mm.
    friction : float, optional
        Added when pushed in, taken off when it pushes out, N.
    """

    force: float
    extended: float
    stroke: float
    progression: float = 1.3
    rod: float = 8.0
    friction: float = 0.0

    def __post_init__(self) -> None:
        above_zero(force=self.force, extended=self.extended, stroke=self.stroke, rod=self.rod)
        not_negative("N", friction=self.friction)
        in_range("progression", self.progression, 1.0, 1.6, "makers' range of gas struts")
        if self.stroke >= self.extended / 2:
            raise BadValue("stroke", self.stroke, f"less than half the extended length, {self.extended / 2:g} mm")


@dataclass(frozen=True, slots=True, kw_only=True)
class Lid:
    """A hinged lid with one or more struts, seen along its hinge, closed; the hinge is the origin.

    Parameters
    ----------
    mass : float
        kg.
    centre : (float, float)
        Centre of mass, mm; x away from the hinge, y up.
    lid_joint, body_joint : (float, float)
        Where the strut is held on the lid (closed) and on the body, mm.
    handle : (float, float)
        Where a hand lifts, mm; it pulls square to its arm.
    struts : int
        How many struts.
    """

    mass: float
    centre: Point
    lid_joint: Point
    body_joint: Point
    handle: Point
    struts: int = 2

    def __post_init__(self) -> None:
        above_zero("kg", mass=self.mass)
        for name in ("centre", "lid_joint", "body_joint", "handle"):
            x, y = getattr(self, name)
            finite(**{f"{name} x": x, f"{name} y": y})
        if isinstance(self.struts, bool) or not isinstance(self.struts, int) or not 0 <= self.struts <= 100:
            raise BadValue("struts", self.struts, "a whole number from 0 to 100")
        if math.hypot(*self.handle) <= 0:
            raise BadValue("handle", self.handle, "a point away from the hinge")


@dataclass(frozen=True, slots=True, kw_only=True)
class Balance:
    """State of a lid at one angle.

    Parameters
    ----------
    angle : float
        Opened by, degrees.
    length : float
        Of the strut between its joints, mm.
    strut_force : float
        Of one strut, N.
    strut_moment, weight_moment : float
        Opening moment of all struts and closing moment of the weight about the hinge, N mm.
    hand : float
        Force at the handle to hold it: positive lifts, negative pulls down, N.
    """

    angle: float
    length: float
    strut_force: float
    strut_moment: float
    weight_moment: float
    hand: float


def strut_force(strut: GasStrut, compression: float, temperature: float = REFERENCE) -> float:
    """Return the push of a gas strut, without friction, N.

    Parameters
    ----------
    strut : GasStrut
        The strut.
    compression : float
        Pushed in by, mm, from 0 to the stroke.
    temperature : float, optional
        Of the gas, -30 to 80 degrees Celsius.

    Returns
    -------
    float
        Gas pressure less the atmosphere's on the rod's section. Pressure rises with
        temperature at constant volume and with 1 / volume over the stroke.

    Raises
    ------
    OutOfRange
        Temperature or compression outside.

    Notes
    -----
    Source: `ideal gas`. A common rule, 0.34 % per degree at the reference, is the same law without the atmosphere.
    """
    in_range("temperature", temperature, -30.0, 80.0, "makers' range of gas struts", "C")
    in_range("compression", compression, 0.0, strut.stroke, "the strut's stroke", "mm")
    back = ATMOSPHERE * math.pi / 4 * strut.rod**2
    warm = (KELVIN + temperature) / (KELVIN + REFERENCE)
    extended, compressed = strut.force + back, strut.progression * strut.force + back
    # Isothermal: absolute pressure times volume stays, and the volume falls evenly with the rod's way in.
    share = 1 - (1 - extended / compressed) * compression / strut.stroke
    return extended / share * warm - back


def lid_balance(lid: Lid, strut: GasStrut, angle: float, temperature: float = REFERENCE) -> Balance:
    """Return the balance of moments about a lid's hinge at one angle.

    Parameters
    ----------
    lid : Lid
        The lid.
    strut : GasStrut
        Each of its struts.
    angle : float
        Opened by, degrees, 0 to 180.
    temperature : float, optional
        Degrees Celsius.

    Returns
    -------
    Balance
        Without friction.

    Raises
    ------
    OutOfRange
        The strut would have to be longer than extended or shorter than compressed.

    Notes
    -----
    Source: `statics`, exact for a stiff lid without friction.
    """
    in_range("angle", angle, 0.0, 180.0, "opening of a lid", "deg")
    c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))

    def turned(p: Point) -> Point:
        return c * p[0] - s * p[1], s * p[0] + c * p[1]

    top, (bx, by) = turned(lid.lid_joint), lid.body_joint
    length = math.dist(top, lid.body_joint)
    shortest = strut.extended - strut.stroke
    slack = 1e-6
    if not shortest - slack <= length <= strut.extended + slack:
        raise OutOfRange(
            f"strut length at {angle:g} degrees",
            round(length, 2),
            f"{shortest:g} to {strut.extended:g} mm; move a joint or take another strut",
        )
    push = strut_force(strut, min(max(strut.extended - length, 0.0), strut.stroke), temperature)
    ux, uy = (top[0] - bx) / length, (top[1] - by) / length
    opening = lid.struts * push * (top[0] * uy - top[1] * ux)
    closing = lid.mass * GRAVITY * turned(lid.centre)[0]
    return Balance(
        angle=angle,
        length=length,
        strut_force=push,
        strut_moment=opening,
        weight_moment=closing,
        hand=(closing - opening) / math.hypot(*lid.handle),
    )


def lid_sweep(
    lid: Lid, strut: GasStrut, angles: Sequence[float], temperatures: Sequence[float] = (-10.0, REFERENCE, 40.0)
) -> dict[float, tuple[Balance, ...]]:
    """Return the balance over the opening at several temperatures.

    Parameters
    ----------
    lid, strut : Lid, GasStrut
        The lid and each of its struts.
    angles : sequence of float
        Degrees.
    temperatures : sequence of float, optional
        Degrees Celsius.

    Returns
    -------
    dict
        Balances in the order of `angles`, by temperature.

    Raises
    ------
    OutOfRange
        As `lid_balance`.

    Notes
    -----
    Source: `statics` and `ideal gas`, as `lid_balance`.
    """
    return {t: tuple(lid_balance(lid, strut, a, t) for a in angles) for t in temperatures}


def hold_open_mass(lid: Lid, strut: GasStrut, angle: float, temperature: float = -10.0) -> float:
    """Return the heaviest lid that the struts still hold open, kg.

    Parameters
    ----------
    lid, strut : Lid, GasStrut
        The lid (its mass is not used) and each of its struts.
    angle : float
        Opened by, degrees.
    temperature : float, optional
        Degrees Celsius; struts are weakest when cold.

    Returns
    -------
    float
        Infinite where the centre of mass lies over or behind the hinge.

    Raises
    ------
    OutOfRange
        As `lid_balance`.

    Notes
    -----
    Source: `statics`; friction of the strut is taken off its push.
    """
    state = lid_balance(lid, strut, angle, temperature)
    share = max(state.strut_force - strut.friction, 0.0) / state.strut_force if state.strut_force > 0 else 0.0
    arm = state.weight_moment / (lid.mass * GRAVITY)
    return math.inf if arm <= 0 else max(state.strut_moment * share, 0.0) / (GRAVITY * arm)
