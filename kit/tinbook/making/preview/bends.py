"""Bends of a preview: all plain ones at once, those with openings one by one."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from tinbook.making.folded import BendZone, MadeHole, Rulings
from tinbook.making.preview.builder import BEND, MeshBuilder, Outlines, edge_groups
from tinbook.making.preview.triangles import SAGITTA, chords, slice_rows, triangulate, without
from tinbook.plane.loops import Loop


def _steps(strip: BendZone, t: float) -> int:
    """Return the number of facets round a bend."""
    step = min(2 * math.acos(1 - min(SAGITTA / (strip.radius + t), 0.9)), BEND)
    return max(2, math.ceil(math.radians(strip.angle) / step))


def _sides(region: Loop) -> tuple[float, float, float, float] | None:
    """Return x at the left and right end on the parent's and on the child's line, None unless four plain sides."""
    edges = region.edges
    names = [e.name for e in edges]
    if len(edges) != 4 or "parent" not in names or not all(e.is_line for e in edges):
        return None
    k = names.index("parent")
    if names[(k + 2) % 4] != "child" or not {names[(k + 1) % 4], names[k - 1]} <= {"", "end"}:
        return None
    p, c = edges[k], edges[(k + 2) % 4]
    return p.start[0], p.end[0], c.end[0], c.start[0]


def add_strips(builder: MeshBuilder, strips: Sequence[BendZone], t: float) -> None:
    """Add all bends: grids where nothing is cut out of them, else sliced triangles."""
    plain: list[tuple[float, float, float, float]] = []
    of: list[int] = []
    groups: list[tuple[int, int]] = []
    for k, strip in enumerate(strips):
        group, wall = builder.open_group("fold", strip.name), builder.open_group("edge", strip.name)
        for region in strip.regions:
            inside = strip.holes_in(region) if strip.holes else ()
            sides = None if inside else _sides(region)
            if sides is None:
                _pierced(builder, strip, region, inside, (group, wall), t)
            else:
                plain.append(sides)
                of.append(k)
                groups.append((group, wall))
    if not plain:
        return
    n = np.array([_steps(strips[k], t) for k in of])
    bend = np.repeat(np.arange(len(n)), n + 1)
    begin = np.cumsum(n + 1) - n - 1
    share = (np.arange(len(bend)) - begin[bend]) / n[bend]
    side = np.array(plain)[bend]
    x = (side[:, :2] + share[:, None] * (side[:, 2:] - side[:, :2])).ravel()
    each = [
        strips[k].rulings(np.arange(m + 1) * (strips[k].allowance / m), t) for k, m in zip(of, n.tolist(), strict=True)
    ]
    rulings = Rulings(*(np.repeat(np.concatenate(part), 2, axis=0) for part in zip(*each, strict=True)))
    low, high = rulings.points(x), rulings.points(x, t)
    fold, wall_of = np.array(groups).T
    # Two points a level; facets start at every level but each bend's last. Walls go up the right side, down the left.
    i = 2 * without(len(bend), begin + n)
    skin = (i[:, None] + (0, 1, 3, 0, 3, 2)).reshape(-1, 3)
    side_of = np.repeat(wall_of, n)
    walls = np.concatenate((i + 1, i + 2)), np.concatenate((i + 3, i)), np.concatenate((side_of, side_of))
    builder.add_sheet(low, high, skin, np.repeat(fold, 2 * n), walls)


def _pierced(
    builder: MeshBuilder, strip: BendZone, region: Loop, inside: Sequence[MadeHole], groups: tuple[int, int], t: float
) -> None:
    """Add a piece of a bend with openings in it or in its outline."""
    lines = Outlines()
    lines.add(region.edges, edge_groups(builder, region.edges, groups[1]), 0, cut=False)
    for h in inside:
        own = h.loop.anticlockwise().edges
        lines.add(own, [builder.open_group("hole", h.name)] * len(own), 0, cut=True)
    rings = chords(lines.edges, lines.sizes, lines.cut)
    levels = np.linspace(0.0, strip.allowance, _steps(strip, t) + 1)
    # Each chord of the outline keeps its own mark through the slicing, so that walls find their group.
    xy, tri, chord = slice_rows(rings.xy, triangulate(rings), rings.following, levels)
    joined = np.array([e.name in ("parent", "child") for e in lines.edges])
    m = len(xy)
    a, b = tri.ravel(), np.roll(tri, -1, axis=1).ravel()
    shared = np.flatnonzero(joined[rings.edge])
    skip = np.concatenate((b * m + a, shared * m + rings.following[shared]))
    rim = ~np.isin(a * m + b, skip)
    a, b = a[rim], b[rim]
    rulings = strip.rulings(xy[:, 1], t)
    low, high = rulings.points(xy[:, 0]), rulings.points(xy[:, 0], t)
    builder.add_sheet(low, high, tri, groups[0], (a, b, np.array(lines.group)[rings.edge[chord[a]]]))
