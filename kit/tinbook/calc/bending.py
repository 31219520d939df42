"""Bend allowance, setback and deduction: one function per published equation.

Symbols: A angle turned through (0 = flat), beta = 180 - A included angle, r inside
radius, t thickness, K neutral line from the inside face as a part of t, k = 2 K the
factor of DIN 6935. Angles in degrees, lengths in mm; the equations are homogeneous,
so inches in give inches out.
"""

from __future__ import annotations

import math
from typing import Final, Literal

from tinbook.calc.limits import above_zero, finite, in_range, not_negative
from tinbook.errors import OutOfRange, UnknownName

Convention = Literal["tangent", "apex"]
CONVENTIONS: Final = ("tangent", "apex")

AIR_BEND_K: Final = 0.41
"""K of an air bend in mild steel whose radius is 0.16 V; the air-bend catalogue's rows give 0.40 to 0.43."""

APEX_LIMIT: Final = 174.0
"""Degrees turned above which an outside setback to the apex has lost its meaning (trade rule)."""

SMALLEST_RATIO: Final = 0.05
"""r/t below which the factor of DIN 6935 would turn negative."""

_HANDBOOK: Final = {"soft": 0.55, "half-hard": 0.64, "hard": 0.71}


def _check(angle: float, radius: float, thickness: float, most: float = 360.0) -> None:
    in_range("angle turned", angle, 0.0, most, "geometry", "deg")
    not_negative("mm", inside_radius=radius)
    above_zero("mm", thickness=thickness)


def bend_allowance(angle: float, radius: float, k: float, thickness: float) -> float:
    """Developed length of a bend, BA = pi/180 A (r + K t).

    Parameters
    ----------
    angle : float
        Angle turned through, 0 to 360 degrees.
    radius, thickness : float
        mm, r >= 0 and t > 0.
    k : float
        K-factor, part of t from the inside face.

    Returns
    -------
    float
        mm.

    Raises
    ------
    OutOfRange
        An argument outside its range, or a K that makes the developed length negative.

    Notes
    -----
    Exact once K is chosen (source: geometry).
    """
    _check(angle, radius, thickness)
    finite(k=k)
    if radius + k * thickness < 0.0:
        raise OutOfRange("K-factor", k, f"at least -r/t = {-radius / thickness:.4g}")
    return math.radians(angle) * (radius + k * thickness)


def outside_setback(angle: float, radius: float, thickness: float, convention: Convention = "tangent") -> float:
    """Distance from the tangent line to where the outside leg is measured to.

    Up to 90 degrees that is the apex of the outside faces, (r + t) tan(A/2), in
    either convention. Above 90 degrees "apex" keeps that formula, "tangent" measures
    to the tangent of the outside of the bend, r + t, what a height gauge reads.

    Parameters
    ----------
    angle : float
        0 to 180 degrees; with "apex" at most 174.
    radius, thickness : float
        mm.
    convention : {"tangent", "apex"}
        How legs at more than 90 degrees are measured.

    Returns
    -------
    float
        mm.

    Notes
    -----
    Source: geometry; DIN 6935 uses "tangent" for included angles up to 90 degrees.
    """
    _check(angle, radius, thickness, 180.0)
    if convention not in CONVENTIONS:
        raise UnknownName("convention", convention, CONVENTIONS)
    if angle > 90.0 and convention == "tangent":
        return radius + thickness
    if angle > APEX_LIMIT:
        raise OutOfRange("angle turned", angle, f"at most {APEX_LIMIT:g} degrees to the apex; use the allowance")
    return (radius + thickness) * math.tan(math.radians(angle) / 2.0)


def bend_deduction(
    angle: float, radius: float, k: float, thickness: float, convention: Convention = "tangent"
) -> float:
    """Return what the flat is shorter than the sum of the outside legs, BD = 2 OSSB - BA.

    It may be negative at sharp angles: the blank is then longer than the sum.

    Parameters, ranges and errors are those of `bend_allowance` and `outside_setback` (source: geometry).
    """
    setback = outside_setback(angle, radius, thickness, convention)
    return 2.0 * setback - bend_allowance(angle, radius, k, thickness)


def k_from_allowance(allowance: float, angle: float, radius: float, thickness: float) -> float:
    """K-factor that gives an allowance (source: geometry); the angle must be greater than 0."""
    _check(angle, radius, thickness)
    if angle == 0.0:
        raise OutOfRange("angle turned", angle, "greater than 0 degrees")
    return (allowance / math.radians(angle) - radius) / thickness


def k_from_deduction(
    deduction: float, angle: float, radius: float, thickness: float, convention: Convention = "tangent"
) -> float:
    """K-factor that gives a deduction found at an angle (source: geometry)."""
    setback = outside_setback(angle, radius, thickness, convention)
    return k_from_allowance(2.0 * setback - deduction, angle, radius, thickness)


def din6935_factor(radius: float, thickness: float) -> float:
    """Correction factor of DIN 6935, k = 0.65 + 0.5 log10(r/t), 1 for r/t > 5; it multiplies t/2, so K = k/2.

    Parameters
    ----------
    radius, thickness : float
        mm, r/t at least 0.05 (below it the logarithm makes k negative).

    Returns
    -------
    float
        Between 0 and 1.

    Notes
    -----
    Source: DIN 6935. The formula jumps by 0.0005 at r/t = 5; k is held at no more than 1.
    """
    _check(90.0, radius, thickness)
    ratio = radius / thickness
    in_range("radius / thickness", ratio, SMALLEST_RATIO, math.inf, "DIN 6935")
    if ratio > 5.0:
        return 1.0
    return min(1.0, max(0.0, 0.65 + 0.5 * math.log10(ratio)))


def handbook_allowance(angle: float, radius: float, thickness: float, temper: str) -> float:
    """Length of the bend by the handbook's straight-stock formulas, (c t + 1.57 r) A/90.

    Parameters
    ----------
    angle : float
        0 to 180 degrees.
    radius, thickness : float
        mm.
    temper : {"soft", "half-hard", "hard"}
        soft: soft brass and copper, c 0.55; half-hard: half-hard copper and brass, soft
        steel, aluminium, c 0.64; hard: bronze, hard copper, cold rolled and spring steel, c 0.71.

    Returns
    -------
    float
        mm.

    Notes
    -----
    Source: Machinery's Handbook.
    """
    _check(angle, radius, thickness, 180.0)
    if temper not in _HANDBOOK:
        raise UnknownName("temper", temper, _HANDBOOK)
    return (_HANDBOOK[temper] * thickness + 1.57 * radius) * angle / 90.0


def closed_hem_allowance(radius: float, thickness: float) -> float:
    """Strip width of a hem folded flat: 0.43 t off the sum of lengths measured to the fold's outer edge.

    BA = 2 (r + t) - 0.43 t; at r = 0 nearly the zero-radius fold with K = 0.5, whose deduction is
    (2 - pi/2) t = 0.429 t.

    Parameters
    ----------
    radius, thickness : float
        Half the gap left between the skins, and thickness, mm; r at most t/4, it is not a folded-flat hem above.

    Returns
    -------
    float
        mm.

    Notes
    -----
    Source: hem rule.
    """
    _check(180.0, radius, thickness)
    if radius > thickness / 4.0:
        raise OutOfRange("half the hem's gap", radius, f"at most t/4 = {thickness / 4:.4g} mm; wider is an open hem")
    return 2.0 * (radius + thickness) - 0.43 * thickness


def teardrop_angle(radius: float, leg: float, gap: float) -> float:
    """Angle turned through by a teardrop hem whose tip ends `gap` above the sheet.

    From r (1 + cos d) - l sin d = g, the angle is 180 + d.

    Parameters
    ----------
    radius : float
        Inside radius, mm.
    leg : float
        Straight part of the return from the tangent line to its tip, mm.
    gap : float
        Clear distance of the tip from the sheet, mm, less than 2 r.

    Returns
    -------
    float
        Degrees, between 180 and 270.

    Notes
    -----
    Source: geometry.
    """
    _check(180.0, radius, 1.0)
    if not 0.0 <= gap < 2.0 * radius:
        raise OutOfRange("teardrop gap", gap, f"0 to less than the inside diameter, {2 * radius:g} mm")
    above_zero("mm", teardrop_leg=leg)
    down = math.degrees(math.asin((radius - gap) / math.hypot(leg, radius)) + math.atan2(radius, leg))
    if down > 90.0:
        raise OutOfRange("teardrop leg", leg, "longer: it would have to curl by more than 270 degrees to come down")
    return 180.0 + down
