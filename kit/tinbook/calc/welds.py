"""Fillet welds and groups of weld lines; for welds in points see `spotwelds`.

Forces in N, sizes in mm, strengths in MPa; resistances are divided by the partial factor.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from tinbook.calc.joints import GAMMA_M2
from tinbook.calc.limits import above_zero, finite, in_range, not_negative
from tinbook.errors import BadValue
from tinbook.plane.loops import Point
from tinbook.values import dataclass


def fillet_strength(tensile: float, correlation: float, gamma: float = GAMMA_M2) -> float:
    """Return the design shear strength of a fillet weld's throat, MPa.

    Parameters
    ----------
    tensile : float
        Tensile strength of the weaker part joined, MPa.
    correlation : float
        beta_w: 0.8 for S235, 0.85 for S275, 0.9 for S355.
    gamma : float, optional
        Partial factor.

    Returns
    -------
    float
        fu / (sqrt(3) beta_w gamma).

    Notes
    -----
    Source: `EN 1993-1-8` 4.5.3.3, simplified method.
    """
    above_zero(tensile=tensile, correlation=correlation, gamma=gamma)
    return tensile / (math.sqrt(3) * correlation * gamma)


def fillet_weld(
    throat: float, length: float, thickness: float, tensile: float, correlation: float, gamma: float = GAMMA_M2
) -> float:
    """Return the resistance of a fillet weld in plate of 4 mm and more, any direction of force, N.

    Parameters
    ----------
    throat : float
        a, 0.7 of the leg, at least 3 mm.
    length : float
        Full-size length, at least 30 mm and 6 throats; at most 150 throats count without reduction.
    thickness : float
        Thinner part, mm.
    tensile, correlation, gamma : float
        As `fillet_strength`.

    Returns
    -------
    float
        Throat times length times design strength.

    Raises
    ------
    OutOfRange
        Thinner plate, a smaller or shorter weld, or a lap longer than 150 throats.

    Notes
    -----
    Source: `EN 1993-1-8` 4.1, 4.5.1, 4.5.2, 4.5.3.3, 4.11.
    """
    clause = "EN 1993-1-8 4.5"
    above_zero(tensile=tensile)
    in_range("thickness", thickness, 4.0, math.inf, "EN 1993-1-8 4.1; thinner: lap_weld_end, lap_weld_side", "mm")
    in_range("throat", throat, 3.0, math.inf, clause, "mm")
    in_range("length", length, max(30.0, 6 * throat), 150 * throat, clause, "mm")
    return throat * length * fillet_strength(tensile, correlation, gamma)


def lap_weld_side(length: float, width: float, thickness: float, tensile: float, gamma: float = GAMMA_M2) -> float:
    """Return the resistance of one fillet along the side of a lapped sheet (a pair: twice this), N.

    Parameters
    ----------
    length : float
        Length of each side fillet, at least 8 times the thickness, mm.
    width : float
        Width of the connected sheet, mm.
    thickness, tensile : float
        Thinner sheet up to 4 mm and its tensile strength, MPa; the throat must be at least the thickness.
    gamma : float, optional
        Partial factor.

    Returns
    -------
    float
        t L (0.9 - 0.45 L/b) fu / gamma up to L = b, 0.45 t b fu / gamma beyond.

    Raises
    ------
    OutOfRange
        Thicker sheet or a shorter weld.

    Notes
    -----
    Source: `EN 1993-1-3` 8.5.2(4).
    """
    _lap_range(length, width, thickness, tensile)
    if length <= width:
        return thickness * length * (0.9 - 0.45 * length / width) * tensile / gamma
    return 0.45 * thickness * width * tensile / gamma


def lap_weld_end(length: float, width: float, thickness: float, tensile: float, gamma: float = GAMMA_M2) -> float:
    """Return the resistance of one fillet across the end of a lapped sheet, N.

    Parameters
    ----------
    length : float
        Length of the end fillet, at least 8 times the thickness and at most the width, mm.
    width : float
        Width of the connected sheet, mm.
    thickness, tensile : float
        Thinner sheet up to 4 mm and its tensile strength, MPa; the throat must be at least the thickness.
    gamma : float, optional
        Partial factor.

    Returns
    -------
    float
        t L (1 - 0.3 L/b) fu / gamma.

    Raises
    ------
    OutOfRange
        Thicker sheet, a shorter weld, or one longer than the end.

    Notes
    -----
    Source: `EN 1993-1-3` 8.5.2(4).
    """
    _lap_range(length, width, thickness, tensile)
    in_range("length", length, 0.0, width, "EN 1993-1-3 8.5.2", "mm")
    return thickness * length * (1 - 0.3 * length / width) * tensile / gamma


@dataclass(frozen=True, slots=True, kw_only=True)
class WeldGroup:
    """A group of straight weld lines, per millimetre of throat.

    Parameters
    ----------
    lines : tuple of ((float, float), (float, float))
        Ends of each line, mm.
    length : float
        All lines together, mm.
    centroid : (float, float)
        mm.
    i_x, i_y : float
        Second moments about the centroid per mm of throat, mm³.
    """

    lines: tuple[tuple[Point, Point], ...]
    length: float
    centroid: Point
    i_x: float
    i_y: float

    @property
    def polar(self) -> float:
        """Polar second moment per mm of throat, mm³."""
        return self.i_x + self.i_y


def weld_group(lines: Sequence[tuple[Point, Point]]) -> WeldGroup:
    """Return the properties of weld lines.

    Parameters
    ----------
    lines : sequence of ((float, float), (float, float))
        Ends of each straight line in the plane of the joint, mm.

    Returns
    -------
    WeldGroup
        Per mm of throat.

    Raises
    ------
    BadValue
        No line or no length.

    Notes
    -----
    Source: `geometry`: lines of unit width, exact.
    """
    sizes = [math.dist(p, q) for p, q in lines]
    if not sizes or min(sizes) <= 0:
        raise BadValue("weld lines", tuple(lines), "at least one line, each with a length")
    total = math.fsum(sizes)
    x = math.fsum(s * (p[0] + q[0]) / 2 for s, (p, q) in zip(sizes, lines, strict=True)) / total
    y = math.fsum(s * (p[1] + q[1]) / 2 for s, (p, q) in zip(sizes, lines, strict=True)) / total

    def second(k: int, middle: float) -> float:
        parts = (
            s * ((p[k] - middle) ** 2 + (p[k] - middle) * (q[k] - middle) + (q[k] - middle) ** 2) / 3
            for s, (p, q) in zip(sizes, lines, strict=True)
        )
        return math.fsum(parts)

    return WeldGroup(lines=tuple(lines), length=total, centroid=(x, y), i_x=second(1, y), i_y=second(0, x))


def weld_line_force(
    group: WeldGroup, force: tuple[float, float, float], at: tuple[float, float, float] = (0.0, 0.0, 0.0)
) -> float:
    """Return the largest force per length of weld in a group under one force, N/mm.

    Parameters
    ----------
    group : WeldGroup
        The lines, in the plane z = 0.
    force : (float, float, float)
        Force on the part, N; z is square to the plane of the joint.
    at : (float, float, float), optional
        Where it acts, mm, in the same axes.

    Returns
    -------
    float
        Divide by the throat for the stress; hold against `fillet_strength`.

    Notes
    -----
    Source: `Shigley`, elastic method: vector sum of direct force, twist and bending
    of welds as lines; `EN 1993-1-8` 4.5.3.3 allows any direction with one strength.
    """
    finite(**{f"force {k}": v for k, v in zip("xyz", force, strict=True)})
    finite(**{f"point {k}": v for k, v in zip("xyz", at, strict=True)})
    fx, fy, fz = force
    rx, ry, rz = at[0] - group.centroid[0], at[1] - group.centroid[1], at[2]
    m_x, m_y, m_z = ry * fz - rz * fy, rz * fx - rx * fz, rx * fy - ry * fx
    if (m_x and not group.i_x) or (m_y and not group.i_y):
        raise BadValue("weld lines", group.lines, "lines that are not all along the axis of the bending moment")
    worst = 0.0
    for end in (p for line in group.lines for p in line):
        x, y = end[0] - group.centroid[0], end[1] - group.centroid[1]
        twist = m_z / group.polar
        vx, vy = fx / group.length - twist * y, fy / group.length + twist * x
        bend = (m_x * y / group.i_x if m_x else 0.0) - (m_y * x / group.i_y if m_y else 0.0)
        worst = max(worst, math.hypot(vx, vy, fz / group.length + bend))
    return worst


def _lap_range(length: float, width: float, thickness: float, tensile: float) -> None:
    above_zero(width=width, tensile=tensile)
    not_negative(length=length)
    in_range("thickness", thickness, 0.0, 4.0, "EN 1993-1-3 8.5.1", "mm")
    in_range("length", length, 8 * thickness, math.inf, "EN 1993-1-3 8.5.2(3)", "mm")
