"""Does anything hit while a fold forms: the part against the tools and against itself, over the whole sweep.

Everything turns about lines along the fold, so no point ever moves along it. Hence metal within
a tool's stretch of the fold hits it exactly when the two shadows, seen along the fold, overlap: polygons in a
plane, rigid but for their turning. The sweep is sampled so finely that nothing slips through: two
neighbours are left alone only when their distances from the tool add up to more than any point
travels between them. The part against itself is held likewise, first by shadows and, where those
overlap, in space by separating planes.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import shapely

from tinbook.make.made import MadeStrip
from tinbook.make.tools import HEM_START
from tinbook.plane import Array
from tinbook.route.pose import Blank, Body, Levels
from tinbook.route.sections import GAP, Piece, Setup

Index = npt.NDArray[np.intp]
FINEST: Final = math.radians(0.02)
"""rad: between two samples of the finest sweep a point 300 mm away moves by 0.1 mm at most."""
COARSE: Final = 9
INSIDE: Final = 1e-6
"""mm: metal that only reaches a tool's end so far does not stand beside it."""
DEEP: Final = 1e-3
"""mm: skins of the part that lie closer in space than this, but not deeper, touch."""

_NOUGHT: Final = shapely.Point(0.0, 0.0)
_EDGES: Final = np.array(
    [(0, 1), (1, 2), (2, 3), (3, 0), (4, 5), (5, 6), (6, 7), (7, 4), (0, 4), (1, 5), (2, 6), (3, 7)]
)


@dataclass(frozen=True, slots=True)
class Clash:
    """Something hits.

    Parameters
    ----------
    body, kind : str
        Which metal, see `pose.Body`.
    against : str
        Name of the machine's part, or "fold NAME" / "panel NAME" of the work itself.
    angle : float
        Degrees turned when they first meet.
    depth : float
        How far they overlap at worst, mm.
    worst : float
        Degrees turned when they overlap most.
    """

    body: str
    kind: str
    against: str
    angle: float
    depth: float = math.nan
    worst: float = math.nan


@dataclass(frozen=True, eq=False)
class Motion:
    """How both sides of a fold move in the machine's plane while it turns from one angle to another.

    Parameters
    ----------
    strip : MadeStrip
        The fold.
    thickness : float
        mm.
    setup : Setup
        How it is made.
    first, last : float
        Radians, springback's over-travel included.
    start : float or None
        Inside radius to which a hem is begun, mm; None for a fold made in one hit.
    """

    strip: MadeStrip
    thickness: float
    setup: Setup
    first: float
    last: float
    start: float | None = None

    @cached_property
    def angles(self) -> Array:
        """Samples, radians, evenly spaced."""
        return np.linspace(self.first, self.last, max(17, math.ceil((self.last - self.first) / FINEST) + 1))

    def _strip_terms(self, a: Array) -> tuple[Array, Array]:
        """Return (w, rho) so that the inside radius is w / a + rho, as in `pose.radius_at`."""
        s, full, end = self.strip, math.radians(self.strip.angle), self.strip.radius
        after = np.full_like(a, end)
        if self.start is not None:
            first = math.radians(HEM_START)
            after = self.start + (end - self.start) * np.clip((a - first) / (full - first), 0.0, 1.0)
            full, end = first, self.start
        past = a > full
        return np.where(past, 0.0, s.allowance), np.where(past, after, end - s.allowance / full)

    def _arc(self, a: Array, part: Array, limit: float) -> Array:
        """Return (inside radius + t) times `part`, which goes to 0 as limit * a."""
        w, rho = self._strip_terms(a)
        small = a < 1e-9
        over = np.where(small, limit, part / np.where(small, 1.0, a))
        return np.asarray(w * over + (rho + self.thickness) * part)

    @cached_property
    def poses(self) -> dict[bool, tuple[Array, Array]]:
        """For the child's side (True) and the parent's: turn (n,) and place (n, 2) in the machine."""
        a = self.angles
        zero = np.zeros_like(a)
        if self.setup.process in ("fold", "press flat"):
            along, rise = self._arc(a, np.sin(a), 1.0), self._arc(a, 1 - np.cos(a), 0.0)
            if self.setup.way == 0:
                return {True: (a, np.column_stack((along, rise))), False: (zero, np.zeros((len(a), 2)))}
            return {True: (zero, np.zeros((len(a), 2))), False: (-a, np.column_stack((-along, rise)))}
        half = a / 2
        along = self._arc(a, np.sin(half), 0.5)
        centre, radius = self.setup.contact
        # The outside of either leg rests on the shoulder of the die.
        line = -np.sin(half) * centre - np.cos(half) * radius + radius + GAP
        z = (line + np.sin(half) * along) / np.cos(half)
        return {True: (half, np.column_stack((along, z))), False: (-half, np.column_stack((-along, z)))}

    @cached_property
    def tip(self) -> Array:
        """Height of the punch's tip, on the inside of the bend, shape (n,)."""
        a = self.angles
        z = self.poses[True][1][:, 1]
        bow = self._arc(a, np.cos(a / 2) - 1, 0.0) + self.thickness
        return np.asarray(z + bow + GAP)

    @cached_property
    def kept(self) -> dict[Any, Any]:
        """What was worked out already."""
        return {}

    def seen(self, child: bool, frame: str) -> tuple[Array, Array]:
        """Turn and place of a side, seen from the tools of a frame."""
        key = (child, frame)
        if key not in self.kept:
            self.kept[key] = self._seen(child, frame)
        return self.kept[key]  # type: ignore[no-any-return]

    def run(self, child: bool, frame: str) -> tuple[Array, Array, float]:
        """Way of a side's nought and its turn up to each sample, and how far its nought lies from the tools' at most."""
        key = ("run", child, frame)
        if key not in self.kept:
            turn, place = self.seen(child, frame)
            steps = np.hypot(*np.diff(place, axis=0).T)
            way, turned = (
                np.concatenate(([0.0], np.cumsum(steps))),
                np.concatenate(([0.0], np.cumsum(abs(np.diff(turn))))),
            )
            self.kept[key] = way, turned, float(np.hypot(place[:, 0], place[:, 1]).max())
        return self.kept[key]  # type: ignore[no-any-return]

    def _seen(self, child: bool, frame: str) -> tuple[Array, Array]:
        turn, place = self.poses[child]
        if frame == "upper":
            return turn, place - np.column_stack((np.zeros_like(self.tip), self.tip))
        if frame == "swing":
            t0, p0 = self.poses[self.setup.way == 0]
            return turn - t0, _turned(place - p0, -t0)
        return turn, place


def _turned(points: Array, angle: Array) -> Array:
    c, s = np.cos(angle), np.sin(angle)
    return np.stack((c * points[..., 0] - s * points[..., 1], s * points[..., 0] + c * points[..., 1]), axis=-1)


# --- shadows --------------------------------------------------------------------------------------


def shadow(pieces: Array, x0: float, x1: float) -> Any:
    """Return what the pieces within x0..x1 cover, seen along x; an empty polygon if nothing lies there.

    Parameters
    ----------
    pieces : array, shape (n, 8, 3)
        Convex prisms.
    x0, x1 : float
        Stretch, mm.
    """
    x0, x1 = x0 + INSIDE, x1 - INSIDE
    x = pieces[:, :, 0]
    there = (x.max(axis=1) > x0) & (x.min(axis=1) < x1)
    pieces = pieces[there]
    if not len(pieces) or x0 >= x1:
        return shapely.Polygon()
    x = pieces[:, :, 0]
    points, keep = [pieces[:, :, 1:]], [(x >= x0) & (x <= x1)]
    a, b = pieces[:, _EDGES[:, 0]], pieces[:, _EDGES[:, 1]]
    for at in (x0, x1):
        d0, d1 = a[..., 0] - at, b[..., 0] - at
        cut = d0 * d1 < 0
        s = np.where(cut, d0 / np.where(cut, d0 - d1, 1.0), 0.0)
        points.append(a[..., 1:] + s[..., None] * (b[..., 1:] - a[..., 1:]))
        keep.append(cut)
    every, mask = np.concatenate(points, axis=1), np.concatenate(keep, axis=1)
    which = np.repeat(np.arange(len(pieces)), every.shape[1])[mask.ravel()]
    clouds = shapely.multipoints(every.reshape(-1, 2)[mask.ravel()], indices=which)
    hulls = shapely.convex_hull(clouds)
    hulls = hulls[shapely.area(hulls) > 1e-6]
    return shapely.union_all(hulls) if len(hulls) else shapely.Polygon()


def whole_shadow(pieces: Array, kind: str, x0: float, x1: float) -> Any:
    """Return the shadow of a panel or strip that runs along x, wholly within x0..x1; None where `shadow` is needed."""
    x = pieces[..., 0]
    if kind == "bead" or x.min() < x0 + INSIDE or x.max() > x1 - INSIDE:
        return None
    if kind == "panel":
        # One connected plate seen edge on: a bar. Its thickness is what lies between the ends of a prism.
        if abs(pieces[0, 4, 0] - pieces[0, 0, 0]) > 1e-9:
            return None
        return shapely.convex_hull(shapely.MultiPoint(pieces[..., 1:].reshape(-1, 2)))
    if abs(pieces[:, 4:, 1:] - pieces[:, :4, 1:]).max() > 1e-9:
        return None
    # All regions of a strip look alike along x: the bands of the first, out along one side and back along the other.
    bands = pieces[np.all(abs(x - x[0]) < 1e-9, axis=1)][:, :4, 1:]
    ring = shapely.Polygon(np.concatenate((bands[:, 0], bands[-1:, 1], bands[-1:, 2], bands[::-1, 3])))
    return ring if ring.is_valid else None


def _reach(shape: Any) -> float:
    c = shapely.get_coordinates(shape)
    return float(np.hypot(c[:, 0], c[:, 1]).max()) if len(c) else 0.0


def _ring(shape: Any) -> tuple[float, float]:
    """Smallest and largest distance of a tool from its nought."""
    return float(shapely.distance(shape, _NOUGHT)), _reach(shape)


def search_sweep(
    gap: Callable[[Index], Array], travel: Callable[[Index, Index], Array], count: int
) -> tuple[int | None, int]:
    """Look for a sample where something hits, as finely as needed to miss none.

    Parameters
    ----------
    gap : callable
        Samples -> distance apart, at most 0 where they overlap.
    travel : callable
        Two rows of samples -> bound of how far any point moves between them.
    count : int
        Samples there are.

    Returns
    -------
    hit : int or None
        The first overlapping sample that was looked at.
    looked : int
        How many were.
    """
    at = (np.arange(COARSE) * (count - 1)) // (COARSE - 1) if count > COARSE else np.arange(count)
    known = gap(at)
    looked = len(at)
    if (known <= 0).any():
        return int(at[np.argmax(known <= 0)]), looked
    i, j, gi, gj = at[:-1], at[1:], known[:-1], known[1:]
    while True:
        open_ = (j - i > 1) & (gi + gj <= travel(i, j))
        if not open_.any():
            return None, looked
        i, j, gi, gj = i[open_], j[open_], gi[open_], gj[open_]
        m = (i + j) // 2
        gm = gap(m)
        looked += len(m)
        if (gm <= 0).any():
            return int(m[np.argmax(gm <= 0)]), looked
        i, j = np.concatenate((i, m)), np.concatenate((m, j))
        gi, gj = np.concatenate((gi, gm)), np.concatenate((gm, gj))


@dataclass(frozen=True, eq=False)
class Sweep:
    """All questions about one fold in one setup, answered once and kept.

    Parameters
    ----------
    blank : Blank
        The part.
    fold : int
        Number of the fold.
    motion : Motion
        How it moves.
    """

    blank: Blank
    fold: int
    motion: Motion

    @cached_property
    def kept(self) -> dict[Any, Any]:
        """What was worked out already."""
        return {}

    def _levels_of(self, way: tuple[int, ...], levels: Levels) -> tuple[int, ...]:
        return tuple([levels[n] for n in way])

    def first_clash(self, setup: Setup, levels: Levels) -> Clash | None:
        """Return something that hits while the fold forms, the other folds being at these levels; None if nothing does."""
        for group in self.groups:
            clash = self._group(group, setup, levels)
            if clash is not None:
                return clash
        return self.against_itself(levels)

    def clash_for_good(self, setup: Setup, levels: Levels, full: Levels) -> Clash | None:
        """Return something that hits and will not move any more before this fold is formed, None if nothing does."""
        for group in self.groups:
            if all(levels[n] == full[n] for n in group[1]):
                clash = self._group(group, setup, levels)
                if clash is not None:
                    return clash
        return None

    def _group(
        self, group: tuple[bool, tuple[int, ...], tuple[Body, ...]], setup: Setup, levels: Levels
    ) -> Clash | None:
        child, way, bodies = group
        kept = self.kept.setdefault(("setup", setup.spread), {})
        key = (child, way, *[levels[n] for n in way])
        if key not in kept:
            kept[key] = self._tools(child, bodies, way, levels, setup)
        return kept[key]  # type: ignore[no-any-return]

    @cached_property
    def groups(self) -> tuple[tuple[bool, tuple[int, ...], tuple[Body, ...]], ...]:
        """Bodies by side and by the folds that place them."""
        found: dict[tuple[bool, tuple[int, ...]], list[Body]] = {}
        for child in (True, False):
            for body, way in self.blank.bodies_of(self.fold, child):
                found.setdefault((child, way), []).append(body)
        return tuple((child, way, tuple(bodies)) for (child, way), bodies in found.items())

    def _tools(
        self, child: bool, bodies: tuple[Body, ...], way: tuple[int, ...], levels: Levels, setup: Setup
    ) -> Clash | None:
        for body in bodies:
            for piece in setup.parts:
                key = (child, body, self._levels_of(way, levels), piece.name, piece.span)
                if key not in self.kept:
                    self.kept[key] = self._tool(child, body, levels, piece)
                if self.kept[key] is not None:
                    return self.kept[key]  # type: ignore[no-any-return]
        return None

    # -- against the machine ------------------------------------------------------------------

    def _clears(self, child: bool, piece: Piece, over: float) -> str:
        """On which side of the whole plane of a panel beside the fold a tool stays: "below", "above", "" if it does not.

        Over a die only what lies on the panel's side of the punch's tip, or past it by `over` mm, is asked.
        """
        key = ("clears", child, piece.name, over)
        if key not in self.kept:
            turn, place = self.motion.seen(child, piece.frame)
            step = max(1, len(turn) // 400)
            rows = np.unique(np.append(np.arange(0, len(turn), step), len(turn) - 1))
            if piece.frame == "closed":
                rows = rows[-1:]
            shape = piece.shape
            if self.motion.setup.process in ("air", "bottom"):
                half = shapely.box(-over, -2e3, 2e3, 2e3) if child else shapely.box(-2e3, -2e3, over, 2e3)
                shape = shapely.intersection(shape, half)
            c = shapely.get_coordinates(shape)
            w = _turned(c[None] - place[rows][:, None], -turn[rows][:, None])[..., 1]
            below, above = bool((w <= -GAP / 4).all()), bool((w >= self.blank.thickness + GAP / 4).all())
            self.kept[key] = "below" if below else "above" if above else ""
        return self.kept[key]  # type: ignore[no-any-return]

    def _own_side(self, child: bool, body: Body, levels: Levels, over: float) -> bool:
        """Whether a body stays, over a die, on its own side of the punch, or past it by less than `over`."""
        p = self.blank.posed(self.fold, child, body, levels)[..., 1:].reshape(-1, 2)
        turn, place = self.motion.seen(child, "lower")
        rows = np.linspace(0, len(turn) - 1, 65).round().astype(np.intp)
        y = p[:, 0] * np.cos(turn[rows])[:, None] - p[:, 1] * np.sin(turn[rows])[:, None] + place[rows, :1]
        return bool((y if child else -y).min() > 0.05 - over)

    def _shows_nothing(self, child: bool, body: Body, levels: Levels, piece: Piece) -> bool:
        """Whether a tool stays below (or above) a panel's whole plane and so cannot meet a body, without a sweep."""
        z = self.blank.posed(self.fold, child, body, levels)[..., 2]
        if z.min() < -1e-6:
            return False
        sides = ("below", "above") if z.max() < self.blank.thickness + 1e-6 else ("below",)
        if self.motion.setup.process not in ("air", "bottom"):
            return len(sides) == 2 and self._clears(child, piece, 0.0) != ""
        # A panel's corners may run past the line, up to where its mould lines cross.
        return any(
            self._clears(child, piece, over) in sides and self._own_side(child, body, levels, over)
            for over in (0.0, self.motion.setup.contact[0] / 4)
        )

    def shade(self, child: bool, body: Body, levels: Levels, span: tuple[float, float]) -> Any:
        """Return the shadow of a body within a stretch, in the section frame."""
        way = next(w for b, w in self.blank.bodies_of(self.fold, child) if b is body)
        key = ("shade", self.fold, child, body, self._levels_of(way, levels), span)
        kept = self.blank.kept
        if key not in kept:
            pieces = self.blank.posed(self.fold, child, body, levels)
            kept[key] = whole_shadow(pieces, body.kind, *span) or shadow(pieces, *span)
        return kept[key]

    def _tool(self, child: bool, body: Body, levels: Levels, piece: Piece) -> Clash | None:
        if self._shows_nothing(child, body, levels, piece):
            return None
        way, turned, shift = self.motion.run(child, piece.frame)
        near, far = self.blank.rings(self.fold, child, body, levels)
        key = ("ring", piece.name, piece.frame)
        if key not in self.kept:
            shapely.prepare(piece.shape)
            self.kept[key] = _ring(piece.shape)
        inner, outer = self.kept[key]
        if far + shift < inner or near > outer + shift:
            return None
        shape = self.shade(child, body, levels, piece.span)
        if shape.is_empty:
            return None
        # What lies further out than any point of the tool cannot meet it.
        reach, far = _reach(shape), outer + shift + 1.0
        if reach > far:
            shape = shapely.intersection(shape, shapely.box(-far, -far, far, far))
            if shape.is_empty:
                return None
            reach = _reach(shape)
        turn, place = self.motion.seen(child, piece.frame)
        if piece.frame == "closed":
            turn, place = turn[-1:], place[-1:]

        def travel(i: Index, j: Index) -> Array:
            return np.asarray(1.001 * (way[j] - way[i] + reach * (turned[j] - turned[i])) + 1e-9)

        hit, _ = search_sweep(lambda k: self._apart(shape, turn[k], place[k], piece.shape), travel, len(turn))
        if hit is None:
            return None
        angles = self.motion.angles
        at = angles[-1] if piece.frame == "closed" else angles[hit]
        return Clash(body.name, body.kind, piece.name, math.degrees(float(at)))

    @staticmethod
    def _apart(shape: Any, turn: Array, place: Array, tool: Any) -> Array:
        n = len(shapely.get_coordinates(shape))
        t, p = np.repeat(turn, n), np.repeat(place, n, axis=0)
        moved = shapely.transform(np.full(len(turn), shape), lambda c: _turned(c, t) + p)
        return np.asarray(shapely.distance(tool, moved))

    # -- against itself ---------------------------------------------------------------------------

    def against_itself(self, levels: Levels) -> Clash | None:
        """Return what of one side hits the other side, None if nothing does."""
        # The same for every tool, so it is kept with the part.
        ends = ("self", self.fold, self.motion.first, self.motion.last)
        whole, kept = (*ends, levels), self.blank.kept
        if whole not in kept:
            kept[whole] = self._pairs(ends, levels)
        return kept[whole]  # type: ignore[no-any-return]

    def _pairs(self, ends: tuple[Any, ...], levels: Levels) -> Clash | None:
        kept = self.blank.kept
        other = self.blank.bodies_of(self.fold, False)
        for a, way_a in self.blank.bodies_of(self.fold, True):
            for b, way_b in other:
                if not way_a and not way_b and a.kind == b.kind == "panel" and self.motion.last < 2.8:
                    continue  # the two panels beside the fold
                key = (*ends, a, b, self._levels_of(way_a, levels), self._levels_of(way_b, levels))
                if key not in kept:
                    kept[key] = self._pair(a, b, levels)
                if kept[key] is not None:
                    return kept[key]  # type: ignore[no-any-return]
        return None

    def _pair(self, a: Body, b: Body, levels: Levels) -> Clash | None:
        p, q = self.blank.posed(self.fold, True, a, levels), self.blank.posed(self.fold, False, b, levels)
        x0 = max(p[..., 0].min(), q[..., 0].min()) - DEEP
        x1 = min(p[..., 0].max(), q[..., 0].max()) + DEEP
        if x0 >= x1 - 2 * DEEP + INSIDE:
            return None
        near_p, far_p = self.blank.rings(self.fold, True, a, levels)
        near_q, far_q = self.blank.rings(self.fold, False, b, levels)
        slack = self.motion.strip.allowance + 2 * (self.motion.strip.radius + self.blank.thickness)
        if near_p > far_q + slack or near_q > far_p + slack:
            return None
        s = whole_shadow(p, a.kind, x0, x1) or shadow(p, x0, x1)
        o = whole_shadow(q, b.kind, x0, x1) or shadow(q, x0, x1)
        if s.is_empty or o.is_empty:
            return None
        t0, p0 = self.motion.poses[False]
        t1, p1 = self.motion.poses[True]
        turn, place = t1 - t0, _turned(p1 - p0, -t0)
        go = _travel(turn, place, _reach(s))
        shapely.prepare(o)
        hit, _ = search_sweep(lambda k: self._apart(s, turn[k], place[k], o), go, len(turn))
        if hit is None:
            return None
        hit, _ = search_sweep(lambda k: _solid_gap(p, q, turn[k], place[k]), go, len(turn))
        if hit is None:
            return None
        name = f"{'fold' if b.kind == 'strip' else b.kind} {b.name}"
        return Clash(a.name, a.kind, name, math.degrees(float(self.motion.angles[hit])))

    # -- how far ----------------------------------------------------------------------------------------

    def measured(self, clash: Clash, setup: Setup, levels: Levels) -> Clash:
        """Return the clash with the depth of the worst overlap during the sweep, mm."""
        body = next(b for b in self.blank.bodies if (b.name, b.kind) == (clash.body, clash.kind))
        child = any(b == body for b, _ in self.blank.bodies_of(self.fold, True))
        rows = np.unique(np.linspace(0, len(self.motion.angles) - 1, 46).round().astype(np.intp))
        near = int(np.argmin(abs(np.degrees(self.motion.angles) - clash.angle)))
        rows = np.unique(np.append(rows, near))
        piece = next((p for p in setup.parts if p.name == clash.against), None)
        if piece is None:
            other = next(
                b
                for b, _ in self.blank.bodies_of(self.fold, False)
                if f"{'fold' if b.kind == 'strip' else b.kind} {b.name}" == clash.against
            )
            p, q = self.blank.posed(self.fold, True, body, levels), self.blank.posed(self.fold, False, other, levels)
            t0, p0 = self.motion.poses[False]
            t1, p1 = self.motion.poses[True]
            gaps = _solid_gap(p, q, (t1 - t0)[rows], _turned(p1 - p0, -t0)[rows])
            k = int(gaps.argmin())
            return replace(clash, depth=max(-float(gaps[k]), 0.0), worst=math.degrees(self.motion.angles[rows[k]]))
        shape = self.shade(child, body, levels, piece.span)
        turn, place = self.motion.seen(child, piece.frame)
        if piece.frame == "closed":
            rows = rows[-1:]
        depth, at = 0.0, near
        for k in rows:
            moved = shapely.transform(shape, lambda c, k=k: _turned(c, np.full(len(c), turn[k])) + place[k])
            common = shapely.intersection(moved, piece.shape)
            if not common.is_empty:
                # Not only its corners: a strip that runs across a tool has all of them on the tool's outline.
                common = shapely.segmentize(common, max(0.25, common.length / 200))
                points = shapely.points(shapely.get_coordinates(common))
                deep = float(shapely.distance(points, piece.shape.exterior).max())
                if deep > depth:
                    depth, at = deep, int(k)
        return replace(clash, depth=depth, worst=math.degrees(self.motion.angles[at]))


def _travel(turn: Array, place: Array, reach: float) -> Callable[[Index, Index], Array]:
    steps = np.hypot(*np.diff(place, axis=0).T) + reach * abs(np.diff(turn))
    run = np.concatenate(([0.0], np.cumsum(steps)))
    return lambda i, j: np.asarray(1.001 * (run[j] - run[i]) + 1e-9)


def _solid_gap(p: Array, q: Array, turn: Array, place: Array) -> Array:
    """Least separation of two sets of convex prisms at each sample, by separating planes; negative: they overlap.

    The separation found is never larger than the true distance. Touching up to DEEP counts as apart.
    """
    out = np.empty(len(turn))
    for k in range(len(turn)):
        moved = p.copy()
        moved[..., 1:] = _turned(p[..., 1:], np.full(p.shape[:2], turn[k])) + place[k]
        out[k] = _separation(moved, q)
    return out + DEEP


def _separation(p: Array, q: Array) -> float:
    lo_p, hi_p, lo_q, hi_q = p.min(axis=1), p.max(axis=1), q.min(axis=1), q.max(axis=1)
    boxes = np.maximum(lo_p[:, None] - hi_q[None], lo_q[None] - hi_p[:, None]).max(axis=2)
    worst = float(boxes[boxes > 0].min()) if (boxes > 0).any() else math.inf
    for i, j in zip(*np.nonzero(boxes <= 0), strict=True):
        worst = min(worst, _convex(p[i], q[j]))
    return worst


def _convex(a: Array, b: Array) -> float:
    """Separation of two prisms (8, 3) along the best of the normals of their faces and crossings of their edges."""
    ea = a[_EDGES[[0, 1, 2, 3, 8], 1]] - a[_EDGES[[0, 1, 2, 3, 8], 0]]
    eb = b[_EDGES[[0, 1, 2, 3, 8], 1]] - b[_EDGES[[0, 1, 2, 3, 8], 0]]
    axes = np.concatenate(
        (
            np.cross(ea[:4], ea[4]),
            np.cross(eb[:4], eb[4]),
            [_normal(ea), _normal(eb)],
            np.cross(ea[:, None], eb[None]).reshape(-1, 3),
        )
    )
    size = np.linalg.norm(axes, axis=1)
    axes = axes[size > 1e-9] / size[size > 1e-9, None]
    sa, sb = a @ axes.T, b @ axes.T
    return float(np.maximum(sa.min(axis=0) - sb.max(axis=0), sb.min(axis=0) - sa.max(axis=0)).max())


def _normal(edges: Array) -> Array:
    crosses = np.cross(edges[:3], edges[1:4])
    return np.asarray(crosses[int(np.argmax(np.linalg.norm(crosses, axis=1)))])
