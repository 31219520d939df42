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
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any

import numpy as np
import shapely

from tinbook.making.articulated import ArticulatedPart, Levels, RigidBody
from tinbook.plane.loops import Array
from tinbook.route.sampling import Index, boxes_clear, search_sweep
from tinbook.route.shadows import DEEP, INSIDE, reach, ring_of, shadow, solid_gap, whole_shadow
from tinbook.shop.tools.outlines import GAP
from tinbook.shop.tools.setups import Setup, ToolBody
from tinbook.shop.tools.strokes import Motion, moved


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
        Degrees turned when they meet; the first such angle once it is `Sweep.measured`.
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
class Sweep:
    """All questions about one fold in one setup, answered once and kept.

    Parameters
    ----------
    blank : ArticulatedPart
        The part.
    fold : int
        Number of the fold.
    motion : Motion
        How it moves.
    shared : dict
        What holds for every setup of this motion.
    """

    blank: ArticulatedPart
    fold: int
    motion: Motion
    shared: dict[Any, Any] = field(default_factory=dict, repr=False)

    @cached_property
    def kept(self) -> dict[Any, Any]:
        """What was worked out already."""
        return {}

    def _levels_of(self, way: tuple[int, ...], levels: Levels) -> tuple[int, ...]:
        return tuple([levels[n] for n in way])

    def first_clash(self, setup: Setup, levels: Levels, within: frozenset[int] | None = None) -> Clash | None:
        """Return something that hits while the fold forms, the other folds being at these levels; None if nothing does.

        `within`: only metal that these folds alone place is asked.
        """
        for group in self.groups:
            if within is None or within.issuperset(group[1]):
                clash = self._group(group, setup, levels)
                if clash is not None:
                    return clash
        if within is None:
            return self.against_itself(levels)
        return self._pairs(("self", self.fold, self.motion.first, self.motion.last), levels, within)

    def clash_for_good(self, setup: Setup, levels: Levels, full: Levels) -> Clash | None:
        """Return something that hits and will not move any more before this fold is formed, None if nothing does."""
        for group in self.groups:
            if all(levels[n] == full[n] for n in group[1]):
                clash = self._group(group, setup, levels)
                if clash is not None:
                    return clash
        return None

    def _group(
        self, group: tuple[bool, tuple[int, ...], tuple[RigidBody, ...]], setup: Setup, levels: Levels
    ) -> Clash | None:
        child, way, bodies = group
        kept = self.kept.setdefault(("setup", setup.tooling), {})
        key = (child, way, *[levels[n] for n in way])
        if key not in kept:
            kept[key] = self._tools(child, bodies, way, levels, setup)
        return kept[key]  # type: ignore[no-any-return]

    @cached_property
    def groups(self) -> tuple[tuple[bool, tuple[int, ...], tuple[RigidBody, ...]], ...]:
        """Bodies by side and by the folds that place them."""
        found: dict[tuple[bool, tuple[int, ...]], list[RigidBody]] = {}
        for child in (True, False):
            for body, way in self.blank.bodies_of(self.fold, child):
                found.setdefault((child, way), []).append(body)
        return tuple((child, way, tuple(bodies)) for (child, way), bodies in found.items())

    def _tools(
        self, child: bool, bodies: tuple[RigidBody, ...], way: tuple[int, ...], levels: Levels, setup: Setup
    ) -> Clash | None:
        for body in bodies:
            for piece in setup.bodies:
                # Shared: another punch over the same die asks nothing new of the die.
                key = (child, body, self._levels_of(way, levels), piece.name, piece.frame, piece.span, piece.mark)
                kept = self.shared
                if key not in kept:
                    kept[key] = self._tool(child, body, levels, piece)
                if kept[key] is not None:
                    return kept[key]  # type: ignore[no-any-return]
        return None

    # -- against the machine ------------------------------------------------------------------

    def _clears(self, child: bool, piece: ToolBody, over: float) -> str:
        """On which side of the whole plane of a panel beside the fold a tool stays: "below", "above", "" if it does not.

        Over a die only what lies on the panel's side of the punch's tip, or past it by `over` mm, is asked.
        """
        key, kept = ("clears", child, piece.frame, piece.mark, over), self.shared
        if key not in kept:
            turn, place = self.motion.seen(child, piece.frame)
            step = max(1, len(turn) // 400)
            rows = np.unique(np.append(np.arange(0, len(turn), step), len(turn) - 1))
            if piece.frame == "closed":
                rows = rows[-1:]
            shape = piece.shape
            if self.motion.stroke.punched:
                half = shapely.box(-over, -2e3, 2e3, 2e3) if child else shapely.box(-2e3, -2e3, over, 2e3)
                shape = shapely.intersection(shape, half)
            c = shapely.get_coordinates(shape)
            w = moved(c[None] - place[rows][:, None], -turn[rows][:, None])[..., 1]
            below, above = bool((w <= -GAP / 4).all()), bool((w >= self.blank.thickness + GAP / 4).all())
            kept[key] = "below" if below else "above" if above else ""
        return kept[key]  # type: ignore[no-any-return]

    def _past(self, child: bool, body: RigidBody, levels: Levels) -> float:
        """How far a body reaches past the middle of a die to the other side, mm; negative: it stays on its own."""
        e = self.blank.extent(self.fold, child, body, levels)
        # Kept with the extent itself, so that its identity stays its own.
        key, kept = ("past", child, id(e)), self.shared
        if key not in kept:
            turn, place = self.motion.seen(child, "lower")
            rows = np.linspace(0, len(turn) - 1, 65).round().astype(np.intp)
            q = e.corners
            y = q[:, 0] * np.cos(turn[rows])[:, None] - q[:, 1] * np.sin(turn[rows])[:, None] + place[rows, :1]
            kept[key] = -float((y if child else -y).min()), e
        return kept[key][0]  # type: ignore[no-any-return]

    def _shows_nothing(self, child: bool, body: RigidBody, levels: Levels, piece: ToolBody) -> bool:
        """Whether a tool stays below (or above) a panel's whole plane and so cannot meet a body, without a sweep."""
        e = self.blank.extent(self.fold, child, body, levels)
        if e.z0 < -1e-6:
            return False
        sides = ("below", "above") if e.z1 < self.blank.thickness + 1e-6 else ("below",)
        if not self.motion.stroke.punched:
            return len(sides) == 2 and self._clears(child, piece, 0.0) != ""
        # A panel's corners may run past the line, up to where its mould lines cross.
        past = self._past(child, body, levels)
        return any(
            self._clears(child, piece, over) in sides and past < over - 0.05
            for over in (0.0, self.motion.contact[0] / 4)
        )

    def shade(self, child: bool, body: RigidBody, levels: Levels, span: tuple[float, float]) -> Any:
        """Return the shadow of a body within a stretch, in the section frame."""
        way = self.blank.ways(self.fold, child)[body]
        key = ("shade", self.fold, child, body, self._levels_of(way, levels), span)
        kept = self.blank.kept
        if key not in kept:
            pieces = self.blank.posed(self.fold, child, body, levels)
            kept[key] = whole_shadow(pieces, body.kind, *span) or shadow(pieces, *span)
        return kept[key]

    def _tool(self, child: bool, body: RigidBody, levels: Levels, piece: ToolBody) -> Clash | None:
        if self._shows_nothing(child, body, levels, piece):
            return None
        shift = self.motion.run(child, piece.frame)[2]
        e = self.blank.extent(self.fold, child, body, levels)
        key, kept = ("ring", piece.mark), self.shared
        if key not in kept:
            kept[key] = ring_of(piece.shape)
        inner, outer = kept[key]
        if e.far + shift < inner or e.near > outer + shift:
            return None
        turn, place = self.motion.seen(child, piece.frame)
        if piece.frame == "closed":
            turn, place = turn[-1:], place[-1:]
        if boxes_clear(e.corners, turn, place, piece.shape.bounds, self._travel(child, piece.frame, e.far)):
            return None
        shape = self.shade(child, body, levels, piece.span)
        if shape.is_empty:
            return None
        # What lies further out than any point of the tool cannot meet it.
        size, far = reach(shape), outer + shift + 1.0
        if size > far:
            shape = shapely.intersection(shape, shapely.box(-far, -far, far, far))
            if shape.is_empty:
                return None
            size = reach(shape)
        go = self._travel(child, piece.frame, size)
        if boxes_clear(shapely.get_coordinates(shape), turn, place, piece.shape.bounds, go):
            return None
        hit, _ = search_sweep(lambda k: self._apart(shape, turn[k], place[k], piece.shape), go, len(turn))
        if hit is None:
            return None
        angles = self.motion.angles
        at = angles[-1] if piece.frame == "closed" else angles[hit]
        return Clash(body.name, body.kind, piece.name, math.degrees(float(at)))

    def _travel(self, child: bool, frame: str, size: float) -> Callable[[Index, Index], Array]:
        """Bound of how far any point of a side within `size` of its nought moves between samples."""
        way, turned, _ = self.motion.run(child, frame)
        return lambda i, j: np.asarray(1.001 * (way[j] - way[i] + size * (turned[j] - turned[i])) + 1e-9)

    @staticmethod
    def _apart(shape: Any, turn: Array, place: Array, tool: Any) -> Array:
        n = len(shapely.get_coordinates(shape))
        t, p = np.repeat(turn, n), np.repeat(place, n, axis=0)
        there = shapely.transform(np.full(len(turn), shape), lambda c: moved(c, t) + p)
        return np.asarray(shapely.distance(tool, there))

    # -- against itself ---------------------------------------------------------------------------

    def against_itself(self, levels: Levels) -> Clash | None:
        """Return what of one side hits the other side, None if nothing does."""
        # The same for every tool, so it is kept with the part.
        ends = ("self", self.fold, self.motion.first, self.motion.last)
        whole, kept = (*ends, levels), self.blank.kept
        if whole not in kept:
            kept[whole] = self._pairs(ends, levels)
        return kept[whole]  # type: ignore[no-any-return]

    def _pairs(self, ends: tuple[Any, ...], levels: Levels, within: frozenset[int] | None = None) -> Clash | None:
        kept = self.blank.kept
        asked = [g for g in self.groups if within is None or within.issuperset(g[1])]
        here = [(way, self._levels_of(way, levels), bodies) for child, way, bodies in asked if child]
        there = [(way, self._levels_of(way, levels), bodies) for child, way, bodies in asked if not child]
        for way_a, levels_a, a in here:
            for way_b, levels_b, b in there:
                key = (*ends, way_a, way_b, levels_a, levels_b)
                if key not in kept:
                    beside = not way_a and not way_b and self.motion.last < 2.8
                    kept[key] = self._groups_apart(a, b, beside, levels)
                if kept[key] is not None:
                    return kept[key]  # type: ignore[no-any-return]
        return None

    def _groups_apart(
        self, a: tuple[RigidBody, ...], b: tuple[RigidBody, ...], beside: bool, levels: Levels
    ) -> Clash | None:
        """Return what of two groups hits; `beside`: their panels are the two that meet in the fold."""
        for one in a:
            for other in b:
                if beside and one.kind == other.kind == "panel":
                    continue
                clash = self._pair(one, other, levels)
                if clash is not None:
                    return clash
        return None

    def _pair(self, a: RigidBody, b: RigidBody, levels: Levels) -> Clash | None:
        here = self.blank.extent(self.fold, True, a, levels)
        there = self.blank.extent(self.fold, False, b, levels)
        x0, x1 = max(here.x0, there.x0) - DEEP, min(here.x1, there.x1) + DEEP
        if x0 >= x1 - 2 * DEEP + INSIDE:
            return None
        slack = self.motion.strip.allowance + 2 * (self.motion.strip.radius + self.blank.thickness)
        if here.near > there.far + slack or there.near > here.far + slack:
            return None
        turn, place = self.motion.seen(True, "parent")
        box = (*there.corners.min(axis=0), *there.corners.max(axis=0))
        if boxes_clear(here.corners, turn, place, box, self._travel(True, "parent", here.far)):
            return None
        s = self.shade(True, a, levels, (x0, x1))
        o = self.shade(False, b, levels, (x0, x1))
        if s.is_empty or o.is_empty:
            return None
        go = self._travel(True, "parent", reach(s))
        if boxes_clear(shapely.get_coordinates(s), turn, place, o.bounds, go):
            return None
        shapely.prepare(o)
        hit, _ = search_sweep(lambda k: self._apart(s, turn[k], place[k], o), go, len(turn))
        if hit is None:
            return None
        p, q = here.pieces, there.pieces
        hit, _ = search_sweep(lambda k: solid_gap(p, q, turn[k], place[k]), go, len(turn))
        if hit is None:
            return None
        name = f"{'fold' if b.kind == 'strip' else b.kind} {b.name}"
        return Clash(a.name, a.kind, name, math.degrees(float(self.motion.angles[hit])))

    # -- how far ----------------------------------------------------------------------------------------

    def measured(self, clash: Clash, setup: Setup, levels: Levels) -> Clash:
        """Return the clash with the angle of its first contact and the depth of its worst overlap, mm."""
        body = next(b for b in self.blank.bodies if (b.name, b.kind) == (clash.body, clash.kind))
        child = any(b is body for b, _ in self.blank.bodies_of(self.fold, True))
        rows = np.unique(np.linspace(0, len(self.motion.angles) - 1, 46).round().astype(np.intp))
        near = int(np.argmin(abs(np.degrees(self.motion.angles) - clash.angle)))
        rows = np.unique(np.append(rows, near))
        piece = next((p for p in setup.bodies if p.name == clash.against), None)
        if piece is None:
            other = next(
                b
                for b, _ in self.blank.bodies_of(self.fold, False)
                if f"{'fold' if b.kind == 'strip' else b.kind} {b.name}" == clash.against
            )
            p, q = self.blank.posed(self.fold, True, body, levels), self.blank.posed(self.fold, False, other, levels)
            turn, place = self.motion.seen(True, "parent")
            gaps = solid_gap(p, q, turn[rows], place[rows])
            k = int(gaps.argmin())
            first = self._first(lambda i: solid_gap(p, q, turn[i], place[i]), near)
            worst = math.degrees(self.motion.angles[rows[k]])
            return replace(clash, angle=first, depth=max(-float(gaps[k]), 0.0), worst=worst)
        deepest = [
            self._deep(clash, child, body, levels, p, rows, near) for p in setup.bodies if p.name == clash.against
        ]
        return max(deepest, key=lambda found: found.depth)

    def _deep(
        self, clash: Clash, child: bool, body: RigidBody, levels: Levels, piece: ToolBody, rows: Index, near: int
    ) -> Clash:
        """Return a clash with one part of the machine, its first angle and its depth."""
        shape = self.shade(child, body, levels, piece.span)
        if shape.is_empty:
            return replace(clash, depth=0.0)
        turn, place = self.motion.seen(child, piece.frame)
        first = clash.angle
        if piece.frame == "closed":
            rows = rows[-1:]
        else:
            first = self._first(lambda i: self._apart(shape, turn[i], place[i], piece.shape), near)
        depth, at = 0.0, near
        for k in rows:
            there = shapely.transform(shape, lambda c, k=k: moved(c, np.full(len(c), turn[k])) + place[k])
            common = shapely.intersection(there, piece.shape)
            if not common.is_empty:
                # Not only its corners: a strip that runs across a tool has all of them on the tool's outline.
                common = shapely.segmentize(common, max(0.25, common.length / 200))
                points = shapely.points(shapely.get_coordinates(common))
                deep = float(shapely.distance(points, piece.shape.exterior).max())
                if deep > depth:
                    depth, at = deep, int(k)
        return replace(clash, angle=first, depth=depth, worst=math.degrees(self.motion.angles[at]))

    def _first(self, gap: Callable[[Index], Array], hit: int) -> float:
        """Return the first of the angles, degrees, at which something hits, up to a sample at which it does."""
        rows = np.unique(np.linspace(0, hit, 129).round().astype(np.intp))
        k = int(np.argmax(gap(rows) <= 0.0))
        between = np.arange(rows[k - 1] + 1 if k else rows[k], rows[k] + 1)
        return math.degrees(float(self.motion.angles[between[int(np.argmax(gap(between) <= 0.0))]]))
