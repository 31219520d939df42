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
from dataclasses import field, replace
from functools import cached_property, partial
from typing import Final

import numpy as np
import shapely

from tinbook.making.articulated import Levels, RigidBody
from tinbook.memo import Memo
from tinbook.plane.loops import Array
from tinbook.route.moving import Clash, Index, MovingMetal, boxes_clear, search_sweep
from tinbook.route.shadows import DEEP, INSIDE, reach, solid_gap
from tinbook.shop.tools.setups import Setup, ToolBody
from tinbook.shop.tools.strokes import Motion, moved
from tinbook.values import dataclass

PAIRS: Final[Memo[Clash | None]] = Memo("what two groups of bodies on either side of a fold hit of each other")
ITSELF: Final[Memo[Clash | None]] = Memo("what one side of a fold hits of the other")


@dataclass(frozen=True, eq=False)
class Sweep:
    """What hits while a fold forms in one setup.

    Parameters
    ----------
    metal : MovingMetal
        The part as the fold moves it.
    """

    metal: MovingMetal
    _group_hits: dict[tuple[str, bool, tuple[int, ...], Levels], Clash | None] = field(
        default_factory=dict, init=False, repr=False
    )

    @property
    def motion(self) -> Motion:
        """How the fold moves."""
        return self.metal.motion

    def first_clash(self, setup: Setup, levels: Levels, within: frozenset[int] | None = None) -> Clash | None:
        """Return something that hits while the fold forms, the other folds being at these levels; None if nothing does.

        `within`: only metal that these folds alone place counts.
        """
        for group in self.groups:
            if within is None or within.issuperset(group[1]):
                clash = self._group(group, setup, levels)
                if clash is not None:
                    return clash
        if within is None:
            return self.against_itself(levels)
        return self._pairs(levels, within)

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
        key = (setup.tooling, child, way, tuple([levels[n] for n in way]))
        if key not in self._group_hits:
            hits = (self.metal.hit(child, body, levels, piece) for body in bodies for piece in setup.bodies)
            self._group_hits[key] = next((hit for hit in hits if hit is not None), None)
        return self._group_hits[key]

    @cached_property
    def groups(self) -> tuple[tuple[bool, tuple[int, ...], tuple[RigidBody, ...]], ...]:
        """Bodies by side and by the folds that place them."""
        found: dict[tuple[bool, tuple[int, ...]], list[RigidBody]] = {}
        for child in (True, False):
            for body, way in self.metal.blank.bodies_of(self.metal.fold, child):
                found.setdefault((child, way), []).append(body)
        return tuple((child, way, tuple(bodies)) for (child, way), bodies in found.items())

    # -- against itself ---------------------------------------------------------------------------

    def against_itself(self, levels: Levels) -> Clash | None:
        """Return what of one side hits the other side, None if nothing does."""
        # The same for every tool, so it stays with the part.
        key = (self.metal.fold, self.motion.first, self.motion.last, levels)
        return ITSELF.of(self.metal.blank, lambda: self._pairs(levels), key)

    def _pairs(self, levels: Levels, within: frozenset[int] | None = None) -> Clash | None:
        ends = (self.metal.fold, self.motion.first, self.motion.last)
        groups = [g for g in self.groups if within is None or within.issuperset(g[1])]
        here = [(way, tuple([levels[n] for n in way]), bodies) for child, way, bodies in groups if child]
        there = [(way, tuple([levels[n] for n in way]), bodies) for child, way, bodies in groups if not child]
        for way_a, levels_a, a in here:
            for way_b, levels_b, b in there:
                key = (ends, way_a, way_b, levels_a, levels_b)
                beside = not way_a and not way_b and self.motion.last < 2.8
                clash = PAIRS.of(self.metal.blank, partial(self._groups_apart, a, b, beside, levels), key)
                if clash is not None:
                    return clash
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
        here = self.metal.blank.extent(self.metal.fold, True, a, levels)
        there = self.metal.blank.extent(self.metal.fold, False, b, levels)
        x0, x1 = max(here.x0, there.x0) - DEEP, min(here.x1, there.x1) + DEEP
        if x0 >= x1 - 2 * DEEP + INSIDE:
            return None
        slack = self.motion.strip.allowance + 2 * (self.motion.strip.radius + self.metal.blank.thickness)
        if here.near > there.far + slack or there.near > here.far + slack:
            return None
        turn, place = self.motion.seen(True, "parent")
        box = (*there.corners.min(axis=0), *there.corners.max(axis=0))
        if boxes_clear(here.corners, turn, place, box, self.metal.travel(True, "parent", here.far)):
            return None
        s = self.metal.shade(True, a, levels, (x0, x1))
        o = self.metal.shade(False, b, levels, (x0, x1))
        if s.is_empty or o.is_empty:
            return None
        go = self.metal.travel(True, "parent", reach(s))
        if boxes_clear(shapely.get_coordinates(s), turn, place, o.bounds, go):
            return None
        shapely.prepare(o)
        hit, _ = search_sweep(lambda k: self.metal.apart(s, turn[k], place[k], o), go, len(turn))
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
        body = next(b for b in self.metal.blank.bodies if (b.name, b.kind) == (clash.body, clash.kind))
        child = any(b is body for b, _ in self.metal.blank.bodies_of(self.metal.fold, True))
        rows = np.unique(np.linspace(0, len(self.motion.angles) - 1, 46).round().astype(np.intp))
        near = int(np.argmin(abs(np.degrees(self.motion.angles) - clash.angle)))
        rows = np.unique(np.append(rows, near))
        piece = next((p for p in setup.bodies if p.name == clash.against), None)
        if piece is None:
            other = next(
                b
                for b, _ in self.metal.blank.bodies_of(self.metal.fold, False)
                if f"{'fold' if b.kind == 'strip' else b.kind} {b.name}" == clash.against
            )
            p, q = (
                self.metal.blank.posed(self.metal.fold, True, body, levels),
                self.metal.blank.posed(self.metal.fold, False, other, levels),
            )
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
        shape = self.metal.shade(child, body, levels, piece.span)
        if shape.is_empty:
            return replace(clash, depth=0.0)
        turn, place = self.motion.seen(child, piece.frame)
        first = clash.angle
        if piece.frame == "closed":
            rows = rows[-1:]
        else:
            first = self._first(lambda i: self.metal.apart(shape, turn[i], place[i], piece.shape), near)
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
