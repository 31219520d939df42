"""Quads on a bend strip: rows round the bend, columns from one panel's nodes to the other's."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import field
from typing import Final

import numpy as np

from tinbook.making.folded import BendZone
from tinbook.plane.cuts import crossings
from tinbook.plane.loops import Edge, Loop
from tinbook.space import Vec
from tinbook.strength.mesh.planar import region, ring
from tinbook.strength.shell.element import Array, Index
from tinbook.values import dataclass

ROUND: Final = math.radians(46)
"""Largest turn of a bend over one element."""


@dataclass(slots=True, eq=False)
class Seam:
    """An edge where a strip meets a panel, with its division.

    Parameters
    ----------
    loop : Loop
        Region of the strip.
    side : str
        "parent" or "child".
    x : (float, float)
        From and to, along the fold.
    ends : (Vec, Vec)
        The same on the mid-surface in space.
    ruled : bool
        Whether the region has one edge to either panel, divided alike.
    fractions : array
        0 to 1 along x.
    """

    loop: Loop
    side: str
    x: tuple[float, float]
    ends: tuple[Vec, Vec]
    ruled: bool = False
    fractions: Array = field(default_factory=lambda: np.array([0.0, 1.0]))


def strip_mesh(s: BendZone, loop: Loop, seams: Sequence[Seam], size: float, t: float) -> tuple[Array, Array, Index]:
    """Mesh one region of a bend strip.

    Parameters
    ----------
    s : BendZone
    loop : Loop
        The region, in (x, v).
    seams : sequence of Seam
        Its edges on panels.
    size : float
        Length of two elements, mm.
    t : float
        Thickness, mm.

    Returns
    -------
    points, normals : array (n, 3)
        In space; normals of the round bend, not of its facets.
    quads : array (m, 4)
    """
    coarse = max(1, math.ceil(math.radians(s.angle) / (2 * ROUND) - 1e-9))
    ruled = {m.side: m for m in seams if m.ruled}
    if len(ruled) == 2:
        xv, quads = _ruled(loop, ruled["parent"], ruled["child"], 2 * coarse, s.allowance)
    else:
        xv, quads = region([ring((e, _division(e, seams, size, coarse)) for e in loop)], size)
    return *_folded(s, xv, t), quads


def _ruled(loop: Loop, parent: Seam, child: Seam, rows: int, allowance: float) -> tuple[Array, Index]:
    f = np.empty(2 * len(parent.fractions) - 1)
    f[0::2] = parent.fractions
    f[1::2] = (parent.fractions[1:] + parent.fractions[:-1]) / 2
    at = []
    for v in np.linspace(0, allowance, rows + 1):
        x0, x1 = _between(loop, v, parent, child, allowance)
        at.append(np.column_stack((x0 + f * (x1 - x0), np.full(len(f), v))))
    i = np.arange((rows + 1) * len(f)).reshape(rows + 1, len(f))
    quads = np.stack((i[:-1, :-1], i[:-1, 1:], i[1:, 1:], i[1:, :-1]), axis=-1).reshape(-1, 4)
    return np.concatenate(at), quads


def _between(loop: Loop, v: float, parent: Seam, child: Seam, allowance: float) -> tuple[float, float]:
    """Return from where to where the region reaches at v: by its side edges where they are simple, else straight."""
    if v <= 1e-9:
        return parent.x
    if v >= allowance - 1e-9:
        return child.x

    xs = [e.at(k)[0] for e in loop if e.name not in ("parent", "child") for k in crossings(e, (0.0, v), (1.0, 0.0))]
    s = v / allowance
    straight = (parent.x[0] * (1 - s) + child.x[0] * s, parent.x[1] * (1 - s) + child.x[1] * s)
    if len(xs) < 2:
        return straight
    return min(xs), max(xs)


def _division(e: Edge, seams: Sequence[Seam], size: float, coarse: int) -> Array:
    for m in seams:
        if m.side == e.name and {round(m.x[0], 9), round(m.x[1], 9)} == {round(e.start[0], 9), round(e.end[0], 9)}:
            return m.fractions if e.start[0] < e.end[0] else 1 - m.fractions[::-1]
    n = max(math.ceil(e.length / size), math.ceil(abs(e.sweep) / math.radians(60)), coarse)
    return np.linspace(0, 1, n + 1)


def _folded(s: BendZone, xv: Array, t: float) -> tuple[Array, Array]:
    """Carry (x, v) to the mid-surface in space, with normals; what lies between the tangent lines goes out by half a sagitta."""
    levels, where = np.unique(np.round(xv[:, 1], 9), return_inverse=True)
    rows = max(2, 2 * math.ceil(math.radians(s.angle) / (2 * ROUND) - 1e-9))
    lift = (s.radius + t / 2) * (1 - math.cos(math.radians(s.angle) / rows / 2)) / 2
    inner = (levels > 1e-9) & (levels < s.allowance - 1e-9)
    heights = t / 2 + np.where(inner, -lift if s.direction == "up" else lift, 0.0)
    rulings = s.rulings(levels, t)
    return rulings.points(xv[:, 0], heights[where], where), rulings.z[where]
