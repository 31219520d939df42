"""Rule of access: a socket or a ring spanner goes on every bolt head and nut and turns there."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

import numpy as np

from tinbook.finding import Finding, fine, stop
from tinbook.making.assembled import Assembled
from tinbook.part.assembly import Placed
from tinbook.part.bought import Bought, Piece
from tinbook.plane.loops import Array
from tinbook.route.ways import view_along
from tinbook.rules.room import nearest, within
from tinbook.space import Vec, dot, negative, plus, unit
from tinbook.values import dataclass

SOCKET: Final = (1.25, 3.0)
"""Outside diameter of a socket: factor of the width across flats, and mm added (ISO 2725-1, from memory)."""
RING: Final = (1.5, 2.0)
"""The same for the head of a ring spanner (common practice)."""
PLAY: Final = 1.0
"""mm that a hand needs beside the tool (common practice)."""
LONG: Final = 60.0
"""mm: socket with the ratchet's head on it (common practice)."""
HANDLE: Final = (150.0, 7.0)
"""mm: length of a ring spanner's handle and half of its width (common practice)."""
SWING: Final = 30.0
"""Degrees that a ring spanner with twelve points must swing before it is set again."""
STEP: Final = 10
"""Degrees between the positions of the handle that are tried."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Head:
    """A hexagon for a socket or spanner.

    Parameters
    ----------
    at, axis : (float, float, float)
        Middle of the face that the tool comes from, and the way out of it.
    across, high : float
        Width across flats and height, mm.
    """

    at: Vec
    axis: Vec
    across: float
    high: float


def spanners(made: Assembled) -> Iterator[Finding]:
    """Check that a socket, or else a ring spanner, fits each hexagon with all other members in place."""
    hexagons = [(m, h) for m in made.assembly.members if isinstance(m.thing, Bought) if (h := heads(m))]
    if not hexagons:
        return
    meshes = {m.name: made.mesh(m.name) for m in made.assembly.members}
    corners = {n: p[t] for n, (p, t) in meshes.items()}
    good = 0
    for m, sides in hexagons:
        room = [(h, _others(made, corners, m, h)) for h in sides]
        if any(_fits(h, others) for h, others in room):
            good += 1
            continue
        best, others = min(room, key=lambda r: _short(*r)[0])
        gap, names = _short(best, others)
        radius = _radius(SOCKET, best.across)
        beside = round(radius - gap, 1)
        what = (
            f"neither a socket nor a ring spanner for {best.across:g} mm goes on: {names} "
            f"{'stands' if ' and ' not in names else 'stand'} {beside:.1f} mm from its axis"
        )
        remedy = f"{radius:.1f} mm from the axis to what stands beside it, on the side of the head"
        yield stop("assembly.spanner", m.name, what, remedy, beside, round(radius, 1), source="ISO 2725-1")
    if good:
        what = f"a socket or ring spanner goes on {good} heads and nuts"
        yield fine("assembly.spanner", "bolts and nuts", what, source="ISO 2725-1")


def _others(made: Assembled, corners: dict[str, Array], m: Placed, h: Head) -> dict[str, Array]:
    return {n: c for n, c in corners.items() if not _on_axis(made.assembly.member(n), c, m, h)}


def heads(m: Placed) -> tuple[Head, ...]:
    """Return the ends of a bought item's hexagon from which a tool may come; none where it has no hexagon."""
    assert isinstance(m.thing, Bought)
    found: list[Head] = []
    for piece in m.thing.pieces:
        across = _across(piece)
        if across is None:
            continue
        low, high = piece.at.origin, piece.at(0.0, 0.0, piece.height)
        shank = any(q is not piece for q in m.thing.pieces)
        ends = [(high, piece.at.z)] if shank else [(high, piece.at.z), (low, negative(piece.at.z))]
        found += [Head(at=m.at(*p), axis=unit(m.at.vector(*d)), across=across, high=piece.height) for p, d in ends]
    return tuple(found)


def _across(piece: Piece) -> float | None:
    edges = list(piece.outer)
    if len(edges) != 6 or not all(e.is_line for e in edges):
        return None
    if max(e.length for e in edges) - min(e.length for e in edges) > 1e-6:
        return None
    return edges[0].length * math.sqrt(3.0)


def _on_axis(other: Placed, corners: Array, m: Placed, h: Head) -> bool:
    """Whether a bought item is on the same axis and under the hexagon, or no wider: washer, thread, lock nut."""
    if other is m:
        return True
    if not isinstance(other.thing, Bought) or other.thing.existing:
        return False
    side = plus(other.at.origin, m.at.origin, -1.0)
    off = math.sqrt(max(dot(side, side) - dot(side, m.at.z) ** 2, 0.0))
    if off > 1.0 or abs(abs(dot(other.at.z, m.at.z)) - 1) > 1e-6:
        return False
    seen = (corners.reshape(-1, 3) - np.array(h.at)) @ view_along(h.axis).T
    beside = seen[:, 2] > 0.5 - h.high
    return float(np.hypot(seen[beside, 0], seen[beside, 1]).max(initial=0.0)) < h.across / math.sqrt(3.0) + 0.2


def _radius(size: tuple[float, float], across: float) -> float:
    return (size[0] * across + size[1]) / 2 + PLAY


def _fits(h: Head, others: dict[str, Array]) -> bool:
    near = _near(h, others)
    seat = -h.high + 0.5
    if math.isinf(nearest(h.at, h.axis, seat, LONG - h.high, _radius(SOCKET, h.across), near)):
        return True
    lift = 0.65 * h.across  # a ring spanner's head is so high, and is lifted over the hexagon
    if not math.isinf(nearest(h.at, h.axis, seat, lift, _radius(RING, h.across), near)):
        return False
    level = within(near, h.at, np.array(h.axis), 0.0, 2 * HANDLE[1])
    free = [_handle(h, level, a) for a in range(0, 360, STEP)]
    run, most = 0, 0
    for ok in (*free, *free):
        run = run + 1 if ok else 0
        most = max(most, run)
    return (most - 1) * STEP >= SWING


def _handle(h: Head, level: Array, angle: float) -> bool:
    """Whether a ring spanner's handle has room in one direction, offset over the head, among the triangles at its level."""
    x, y, _ = view_along(h.axis)
    c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    way = unit(tuple(float(v) for v in c * x + s * y))  # type: ignore[arg-type]
    at = plus(h.at, h.axis, HANDLE[1])
    return math.isinf(nearest(at, way, 0.0, HANDLE[0], HANDLE[1], level))


def _near(h: Head, others: dict[str, Array]) -> Array:
    """Return the triangles within a spanner's length."""
    low, high = np.array(h.at) - HANDLE[0] - 10, np.array(h.at) + HANDLE[0] + 10
    kept = [c[((c.max(axis=1) > low) & (c.min(axis=1) < high)).all(axis=1)] for c in others.values()]
    return np.concatenate([c for c in kept if len(c)] or [np.zeros((0, 3, 3))])


def _short(h: Head, others: dict[str, Array]) -> tuple[float, str]:
    """Return the clearance that a socket lacks, mm, and the members in its way."""
    radius = _radius(SOCKET, h.across)
    found = {n: nearest(h.at, h.axis, -h.high + 0.5, LONG - h.high, radius, c) for n, c in others.items()}
    by = {n: d for n, d in found.items() if not math.isinf(d)}
    return (max(radius - min(by.values()), 0.0) if by else 0.0), " and ".join(sorted(by, key=lambda n: by[n])[:2])
