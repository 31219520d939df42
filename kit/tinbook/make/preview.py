"""Triangles of the folded part straight from panels and strips: quick enough to follow a slider.

No geometry kernel: arcs become chords of equal area, each panel's skin is
triangulated once and used on both faces, bends and beads are grids. The mesh
is closed and looks outward everywhere; pieces that meet have their vertices at
the same places, but do not share them.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from tinbook.make.beadshape import BeadProfile
from tinbook.make.made import Frame, Made, MadeBead, MadePanel, MadeStrip
from tinbook.make.preview_mesh import SAGITTA, Index, Rings, chords, grid, slice_rows, triangulate
from tinbook.plane import Array, Edge

BEND = math.radians(10.0)
"""rad: largest turn of a bend or bead from facet to facet; loses BEND²/6 = 0.5 % of that bend's volume."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Preview:
    """A closed triangle mesh of the folded part, in groups that can be picked.

    Parameters
    ----------
    positions : array, shape (n, 3), float32
        mm, in the base panel's coordinates.
    triangles : array, shape (m, 3), uint32
        Anticlockwise seen from outside.
    group : array, shape (m,), uint32
        Place of each triangle in `names` and `kinds`.
    names : tuple of str
        Name of the panel, fold, bead or hole; of the panel or fold for an outer wall.
    kinds : tuple of str
        "panel" (skins), "fold", "bead", "hole" (its rim) or "edge" (outer walls).
    lines : array, shape (k, 2, 3), float32
        Edges worth drawing.
    line_group : array, shape (k,), uint32
        Place of each line in `names` and `kinds`: "edge", "hole", "bead", or "fold" for the
        tangent lines of bends.
    """

    positions: npt.NDArray[np.float32]
    triangles: npt.NDArray[np.uint32]
    group: npt.NDArray[np.uint32]
    names: tuple[str, ...]
    kinds: tuple[str, ...]
    lines: npt.NDArray[np.float32]
    line_group: npt.NDArray[np.uint32]

    @property
    def volume(self) -> float:
        """Enclosed volume, mm³."""
        p = self.positions.astype(np.float64)
        a, b, c = (p[self.triangles[:, k]] for k in range(3))
        return float(np.einsum("ij,ij->", a, np.cross(b, c)) / 6.0)

    @property
    def box(self) -> tuple[tuple[float, ...], tuple[float, ...]]:
        """Lowest and highest corner of the bounding box, mm."""
        return tuple(self.positions.min(axis=0).tolist()), tuple(self.positions.max(axis=0).tolist())


_NONE: Index = np.zeros(0, np.int64)


@dataclass(slots=True, eq=False)
class _Heap:
    """What has been made so far."""

    positions: list[Array] = field(default_factory=list)
    triangles: list[Index] = field(default_factory=list)
    group: list[Index] = field(default_factory=list)
    lines: list[Index] = field(default_factory=list)
    line_group: list[Index] = field(default_factory=list)
    names: list[str] = field(default_factory=list)
    kinds: list[str] = field(default_factory=list)
    count: int = 0

    def name(self, kind: str, name: str) -> int:
        """Open a group."""
        self.names.append(name)
        self.kinds.append(kind)
        return len(self.names) - 1

    def put(self, positions: Array) -> int:
        """Add positions; returns the number of the first."""
        first = self.count
        self.positions.append(positions)
        self.count += len(positions)
        return first

    def tell(self, triangles: Index, group: int | Index) -> None:
        """Add triangles."""
        self.triangles.append(triangles)
        self.group.append(np.full(len(triangles), group) if isinstance(group, int) else group)

    def draw(self, a: Index, b: Index, group: int | Index) -> None:
        """Add lines between numbered positions."""
        self.lines.append(np.concatenate((a, b)).reshape(2, -1).T)
        self.line_group.append(np.full(len(a), group) if isinstance(group, int) else group)

    def sheet(self, low: Array, high: Array, skin: Index, group: int, walls: tuple[Index, Index, Index]) -> int:
        """Add both skins over one triangulation, and walls with drawn rims under directed edges (from, to, group).

        Returns the number of the first position on the down face; those on the up face follow.
        """
        n, m = len(low), len(skin)
        first = self.put(np.concatenate((low, high)))
        a, b, of = walls
        tri = np.empty((2 * m + 2 * len(a), 3), dtype=np.int64)
        tri[:m], tri[m : 2 * m] = skin[:, ::-1], skin
        tri[m : 2 * m] += n
        quads = tri[2 * m :].reshape(-1, 6)
        for k, corner in enumerate((a, b, b + n, a, b + n, a + n)):
            quads[:, k] = corner
        tri += first
        self.triangles.append(tri)
        self.group.append(np.concatenate((np.full(2 * m, group), np.repeat(of, 2))))
        rim = first + np.concatenate((a, a + n)), first + np.concatenate((b, b + n))
        self.draw(*rim, np.concatenate((of, of)))
        return first


def _in_space(frame: Frame, xy: Array, z: float | Array) -> Array:
    """Carry points of a panel into space."""
    axes = np.array((frame.x, frame.y, frame.z))
    if isinstance(z, float):
        return np.asarray(xy @ axes[:2] + (np.array(frame.origin) + z * axes[2]))
    return np.asarray(xy @ axes[:2] + z[:, None] * axes[2] + np.array(frame.origin))


# --- panels and beads --------------------------------------------------------------------------


def _panel(heap: _Heap, panel: MadePanel, t: float) -> None:
    skin_group, wall_group = heap.name("panel", panel.name), heap.name("edge", panel.name)
    edges, sizes = list(panel.boundary.edges), [len(panel.boundary)]
    groups = [wall_group] * len(edges)
    for i, e in enumerate(edges):
        if e.name.startswith("fold:"):
            groups[i] = -1
    outer = len(edges)
    is_round = [False] * outer
    circles: list[int] = []
    for h in panel.holes:
        own = h.loop.edges
        n = len(own)
        edges += own if n == 2 and own[0].bulge > 0 else h.loop.anticlockwise().edges
        if n == 2:
            circles.append(len(sizes))
        sizes.append(n)
        groups += [heap.name("hole", h.name)] * n
        is_round += [n == 2] * n
    rings = chords(edges, outer, sizes)
    rings.round = np.array(circles, dtype=np.int64)
    of = np.array(groups)[rings.edge]
    round_cuts = np.array(is_round)
    corners = rings.corner & ~round_cuts[rings.edge]
    outlines = []
    for b in panel.beads:
        outline, bead_group = _bead(heap, b, panel.frame, t)
        outlines.append((b.direction, len(outline), bead_group))
        n = len(rings.xy)
        rings = Rings(
            np.concatenate((rings.xy, outline)),
            np.append(rings.ends, n + len(outline)),
            np.concatenate((rings.following, np.roll(np.arange(n, n + len(outline)), -1))),
            rings.edge,
            rings.corner,
            rings.round,
        )
    low, high = _in_space(panel.frame, rings.xy, 0.0), _in_space(panel.frame, rings.xy, t)
    walled = np.flatnonzero(of >= 0)
    after = rings.following
    n = len(low)
    first = heap.sheet(low, high, triangulate(rings), skin_group, (walled, after[walled], of[walled]))
    folded = first + np.flatnonzero(of < 0)
    if len(folded):
        by_edge = {
            i: heap.name("fold", e.name.removeprefix("fold:"))
            for i, e in enumerate(panel.boundary.edges)
            if groups[i] < 0
        }
        names = np.array([by_edge[i] for i in rings.edge[folded - first].tolist()])
        ahead = first + after[folded - first]
        heap.draw(folded, ahead, names)
        heap.draw(folded + n, ahead + n, names)
    upright = np.flatnonzero(corners & (of >= 0))
    heap.draw(first + upright, first + n + upright, of[upright])
    # A bead's outline is drawn on the face it stands out on.
    at = first + len(of)
    for direction, size, bead_group in outlines:
        ring = np.arange(size) + at + (n if direction == "up" else 0)
        heap.draw(ring, np.roll(ring, -1), bead_group)
        at += size


def _stations(path: Sequence[Edge], width: float) -> tuple[Array, Array]:
    """Return points along a path and the directions to their left, each shape (n, 2)."""
    points, lefts = [], []
    for i, e in enumerate(path):
        n = 1
        if not e.is_line:
            out = e.radius + width / 2
            step = min(2 * math.acos(1 - min(SAGITTA / out, 0.9)), BEND)
            n = max(2, math.ceil(abs(e.sweep) / step))
        for k in range(0 if i == 0 else 1, n + 1):
            points.append(e.at(k / n))
            d = e.direction(k / n)
            lefts.append((-d[1], d[0]))
    return np.array(points), np.array(lefts)


@dataclass(frozen=True, slots=True, eq=False)
class _Form:
    """A bead's two skins and its outline, each point given from a station of its path: ahead of it, to its left, above."""

    station: Index
    ahead: Array
    left: Array
    height: Array
    triangles: Index
    outline: tuple[Index, Array, Array]


@lru_cache(maxsize=64)
def _form(profile: BeadProfile, up: bool, stations: int) -> _Form:
    """Return the form of beads with one profile; a bead's length only moves its stations."""
    half_turn = np.linspace(0.0, math.pi, max(8, math.ceil(math.pi / BEND)) + 1)
    c, s = np.cos(half_turn), np.sin(half_turn)
    m, last = len(half_turn), stations - 1
    # The far end turns from right over the front to left, the near end from left over the back to right.
    ends = ((last, s, -c), (0, -s, c))
    parts: list[tuple[Index, Array, Array, Array]] = []
    triangles: list[Index] = []
    count = 0
    for on_top in (False, True):
        half = profile.stations(hollow=on_top != up, step_rad=BEND)
        across = np.concatenate((half, (half * (-1, 1))[-2::-1]))
        base = profile.thickness if on_top else 0.0
        sign = 1.0 if up else -1.0
        n = len(across)
        at = np.repeat(np.arange(stations), n)
        parts.append(
            (at, np.zeros(len(at)), np.tile(across[:, 0], stations), base + sign * np.tile(across[:, 1], stations))
        )
        # Columns run from left to right, rows along the path: anticlockwise seen from the up side.
        tri = grid(stations, n)
        triangles.append((tri if on_top else tri[:, ::-1]) + count)
        count += len(at)
        rows = len(half) - 1
        fan = (rows - 1) * m + np.arange(m - 1)
        tri = np.concatenate((grid(rows, m), np.stack((fan, fan + 1, np.full(m - 1, rows * m)), 1)))
        for at_end, ahead, left in ends:
            out = half[:-1, :1]
            z = base + sign * np.append(np.repeat(half[:-1, 1], m), half[-1, 1])
            parts.append((np.full(len(z), at_end), np.append(out * ahead, 0.0), np.append(out * left, 0.0), z))
            triangles.append((tri if on_top else tri[:, ::-1]) + count)
            count += len(z)
    station, ahead, left, height = (np.concatenate(p) for p in zip(*parts, strict=True))
    reach = profile.width / 2
    forth, back, still = np.arange(last), np.arange(last, 0, -1), np.zeros(last)
    around = np.arange(m - 1, 0, -1)
    far, near = np.full(m - 1, last), np.zeros(m - 1, np.int64)
    outline = (
        np.concatenate((forth, far, back, near)),
        reach * np.concatenate((still, s[around], still, -s[around])),
        reach * np.concatenate((still + 1.0, -c[around], still - 1.0, c[around])),
    )
    return _Form(station, ahead, left, height, np.concatenate(triangles), outline)


def _bead(heap: _Heap, bead: MadeBead, frame: Frame, t: float) -> tuple[Array, int]:
    """Add a bead's two skins; returns its outline in the panel, run clockwise, and its group."""
    group = heap.name("bead", bead.name)
    profile = BeadProfile(width=bead.width, depth=bead.depth, shoulder=bead.shoulder, thickness=t)
    at, left = _stations(bead.path, bead.width)
    front = np.column_stack((left[:, 1], -left[:, 0]))
    form = _form(profile, bead.direction == "up", len(at))

    def place(station: Index, ahead: Array, aside: Array) -> Array:
        placed: Array = at[station] + ahead[:, None] * front[station] + aside[:, None] * left[station]
        return placed

    first = heap.put(_in_space(frame, place(form.station, form.ahead, form.left), form.height))
    heap.tell(form.triangles + first, group)
    return place(*form.outline), group


# --- bends -------------------------------------------------------------------------------------


def _strip(heap: _Heap, strip: MadeStrip, t: float) -> None:
    group, wall_group = heap.name("fold", strip.name), heap.name("edge", strip.name)
    turn, r = math.radians(strip.angle), strip.radius
    step = min(2 * math.acos(1 - min(SAGITTA / (r + t), 0.9)), BEND)
    n = max(2, math.ceil(turn / step))
    levels = np.linspace(0.0, strip.allowance, n + 1)
    frame, up = strip.frame, strip.direction == "up"
    axes = np.array((frame.x, frame.y, frame.z))
    zero = -axes[2] if up else axes[2]
    middle = np.array(frame.origin) + (t + r if up else -r) * axes[2]
    radius_low, radius_high = (r + t, r) if up else (r, r + t)

    def bend(xv: Array, radius: float) -> Array:
        a = (turn / strip.allowance) * xv[:, 1:]
        out: Array = middle + xv[:, :1] * axes[0] + radius * (np.cos(a) * zero + np.sin(a) * axes[1])
        return out

    def add(xv: Array, tri: Index, a: Index, b: Index, of: Index) -> None:
        low, high = bend(xv, radius_low), bend(xv, radius_high)
        heap.sheet(low, high, tri, group, (a, b, of))

    for region in strip.regions:
        inside = strip.holes_in(region)
        names = [e.name for e in region.edges]
        if not inside and len(names) == 4 and all(e.is_line for e in region.edges) and "parent" in names:
            k = names.index("parent")
            if names[(k + 2) % 4] == "child" and {names[(k + 1) % 4], names[k - 1]} <= {"", "end"}:
                p, c = region.edges[k], region.edges[(k + 2) % 4]
                f = np.arange(n + 1) / n
                x0 = p.start[0] + f * (c.end[0] - p.start[0])
                x1 = p.end[0] + f * (c.start[0] - p.end[0])
                xv = np.column_stack((np.column_stack((x0, x1)).ravel(), np.repeat(levels, 2)))
                i = 2 * np.arange(n)
                # Up the right side, down the left.
                a, b = np.concatenate((i + 1, i + 2)), np.concatenate((i + 3, i))
                add(xv, grid(n + 1, 2), a, b, np.full(2 * n, wall_group))
                continue
        edges, sizes = list(region.edges), [len(region)]
        groups = [wall_group]
        for h in inside:
            loop = h.loop.anticlockwise()
            edges += loop.edges
            sizes.append(len(loop))
            groups.append(heap.name("hole", h.name))
        rings = chords(edges, len(region), sizes)
        joined = np.array([e.name in ("parent", "child") for e in region.edges] + [False] * sum(sizes[1:]))
        ring = np.repeat(np.arange(len(sizes)), np.diff(rings.ends, prepend=0))
        xv, tri, ring = slice_rows(rings.xy, triangulate(rings), ring, levels)
        m = len(xv)
        a, b = tri.ravel(), np.roll(tri, -1, axis=1).ravel()
        shared = np.flatnonzero(joined[rings.edge])
        skip = np.concatenate((b * m + a, shared * m + rings.following[shared]))
        rim = ~np.isin(a * m + b, skip)
        a, b = a[rim], b[rim]
        add(xv, tri, a, b, np.array(groups)[ring[a]])


def preview(made: Made) -> Preview:
    """Return triangles and lines of the folded part.

    Parameters
    ----------
    made : Made
        A resolved part; one without panels gives an empty mesh.

    Returns
    -------
    Preview
        Made once and kept on `made`.
    """
    found: Preview | None = made._cache.get("preview")
    if found is not None:
        return found
    heap = _Heap()
    for panel in made.panels:
        _panel(heap, panel, made.thickness)
    for strip in made.strips:
        _strip(heap, strip, made.thickness)
    if not heap.positions:
        heap.sheet(np.zeros((0, 3)), np.zeros((0, 3)), np.zeros((0, 3), np.int64), 0, (_NONE, _NONE, _NONE))
    positions = np.concatenate(heap.positions).astype(np.float32)
    result = Preview(
        positions=positions,
        triangles=np.concatenate(heap.triangles).astype(np.uint32),
        group=np.concatenate(heap.group).astype(np.uint32),
        names=tuple(heap.names),
        kinds=tuple(heap.kinds),
        lines=positions[np.concatenate(heap.lines)],
        line_group=np.concatenate(heap.line_group).astype(np.uint32),
    )
    made._cache["preview"] = result
    return result
