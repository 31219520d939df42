"""Slots: where a made part passes through the wall of a rail, as outlines in that wall's plane."""

from __future__ import annotations

from typing import Final

import numpy as np

from tinbook.errors import BadValue
from tinbook.fit.triangles import triangles_of
from tinbook.making.made import Made
from tinbook.part.outline import Outline
from tinbook.plane.loops import Array, Edge
from tinbook.read.curves import fit, tidy
from tinbook.read.scans.section import chains
from tinbook.space import Frame

CLOSE: Final = 0.005
"""mm: lines and arcs keep to the section's own points within this."""
STRAIGHT: Final = 1e-6
"""mm: a point that lies no farther off the chord between its neighbours is one of a triangle's side, not of the bend."""
CHORDS: Final = 3.0
"""A side that many times longer than one beside it is no chord of the same bend."""
SHARP: Final = 0.9
"""Cosine of the turn from which on a point of the section is a corner (26 degrees; chords of a bend turn by 15 at most)."""


def slots_of(made: Made, at: Frame, skin: Frame) -> list[Outline]:
    """Return the part's section in the wall's plane, one outline for each closed line, largest first."""
    loose, corners, _ = triangles_of(made.solid, at)
    # The kernel meshes face by face: along an edge both faces have points of their own.
    _, first, number = np.unique(np.round(loose, 6), axis=0, return_index=True, return_inverse=True)
    points, triangles = loose[first], number.ravel()[corners]
    found = [c for c in chains(points, triangles, skin) if np.allclose(c[0], c[-1], atol=1e-6)]
    loops = [loop for c in found if (loop := tidy(_edges(c[:-1]))) is not None]
    outer = [loop.anticlockwise() for loop in loops if loop.area > 0]
    if not outer:
        height = (points - skin.origin) @ np.array(skin.z)
        what = f"it lies from {height.min():.1f} to {height.max():.1f} mm over the wall's plane"
        raise BadValue("wall", what, f"a plane that {made.part.number} passes through")
    if len(outer) < len(loops):
        raise BadValue("wall", made.part.number, "a plane in which the part's section has no holes")
    return [
        Outline.from_edges(
            Edge(e.start, e.end, e.bulge, f"side {k}" if len(outer) == 1 else f"slot {n} side {k}")
            for k, e in enumerate(loop.edges, 1)
        )
        for n, loop in enumerate(sorted(outer, key=lambda loop: -loop.area), 1)
    ]


def _edges(xy: Array) -> list[Edge]:
    """Return lines and arcs between the corners of a closed run of points."""
    ahead = np.roll(xy, -1, axis=0) - xy
    long = np.hypot(*ahead.T)
    xy = _bare(xy[long > 1e-6])
    ahead = np.roll(xy, -1, axis=0) - xy
    long = np.hypot(*ahead.T)
    way = ahead / long[:, None]
    turns = (way * np.roll(way, 1, axis=0)).sum(axis=1) < SHARP
    # A long side beside the short chords of a bend is straight, and its ends are ends of edges.
    straight = long > CHORDS * np.minimum(np.roll(long, 1), np.roll(long, -1))
    corner = np.flatnonzero(turns | straight | np.roll(straight, 1))
    if not len(corner):
        return fit(np.concatenate((xy, xy[:1])), CLOSE)
    made: list[Edge] = []
    for a, b in zip(corner, (*corner[1:], corner[0] + len(xy)), strict=True):
        made += fit(xy[np.arange(a, b + 1) % len(xy)], CLOSE)
    return made


def _bare(xy: Array) -> Array:
    """Return a closed run without points on the chord between their neighbours: those left lie on the bend itself."""
    back, ahead = np.roll(xy, 1, axis=0) - xy, np.roll(xy, -1, axis=0) - xy
    off = np.abs(back[:, 0] * ahead[:, 1] - back[:, 1] * ahead[:, 0]) / np.hypot(*(ahead - back).T)
    return np.asarray(xy[off > STRAIGHT])
