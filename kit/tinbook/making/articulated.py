"""The part taken apart for the fold simulation: bodies that stay in shape, and where each lies in any state of the folds.

A fold's level counts its hits: 0 flat, 1 formed (or a hem's first hit), 2 a hem pressed down.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from functools import cached_property
from itertools import pairwise
from typing import Final, NamedTuple, TypeAlias

import numpy as np

from tinbook.making.folded import BendZone, Folded
from tinbook.making.pose import bent_by
from tinbook.memo import Memo, Remembers, remembered
from tinbook.part.forms.form import MadeForm
from tinbook.plane.loops import Array, Loop
from tinbook.shop.tools.strokes import HEM_START
from tinbook.space import SPACE, Frame
from tinbook.values import dataclass

Levels: TypeAlias = tuple[int, ...]
Way: TypeAlias = tuple[int, ...]
"""Numbers of the folds on the way from a fold to a panel."""

LARGE_HOLE: Final = 60.0
"""mm: openings smaller across than this are taken as metal: no tool passes through them."""
SAGITTA: Final = 0.05
BAND: Final = math.radians(15.0)


@dataclass(frozen=True, slots=True, eq=False)
class RigidBody:
    """Metal that stays in one piece and shape: a panel, a form on it, or the strip of a fold.

    Parameters
    ----------
    name, kind : str
        Of the panel, form or fold; "panel", "strip", "bend" of a form, or what kind of form it is.
    panel : str
        In whose frame it is drawn.
    own : int or None
        Number of the fold whose level shapes it (strips).
    form : MadeForm or None
        The form that it is.
    """

    name: str
    kind: str
    panel: str
    own: int | None = None
    form: MadeForm | None = None

    @property
    def formed(self) -> bool:
        """Whether a form makes it: the form itself, a bend that it brings, or a panel beyond one."""
        return self.form is not None or self.kind == "bend" or (self.kind == "panel" and self.name != self.panel)


class Extent(NamedTuple):
    """A body in the section frame of one side of a fold.

    Parameters
    ----------
    pieces : array, shape (n, 8, 3)
        Convex prisms.
    near, far : float
        Smallest (by boxes) and largest distance from the fold's line, mm.
    x0, x1, y0, y1, z0, z1 : float
        Its ends along the fold, square to it, and across the sheet.
    corners : array, shape (n, 2)
        Its corners seen along the fold, each place once where it runs along.
    """

    pieces: Array
    near: float
    far: float
    x0: float
    x1: float
    y0: float
    y1: float
    z0: float
    z1: float
    corners: Array


def _extent(pieces: Array) -> Extent:
    x, y, z = pieces[..., 0], pieces[..., 1], pieces[..., 2]
    low_y, high_y, low_z, high_z = y.min(axis=1), y.max(axis=1), z.min(axis=1), z.max(axis=1)
    near_y, near_z = np.maximum(0.0, np.maximum(low_y, -high_y)), np.maximum(0.0, np.maximum(low_z, -high_z))
    q = pieces[..., 1:]
    along = abs(q[:, 4:] - q[:, :4]).max() < 1e-9
    return Extent(
        pieces=pieces,
        near=float(np.hypot(near_y, near_z).min()),
        far=float(np.hypot(y, z).max()),
        x0=float(x.min()),
        x1=float(x.max()),
        y0=float(low_y.min()),
        y1=float(high_y.max()),
        z0=float(low_z.min()),
        z1=float(high_z.max()),
        corners=np.asarray((q[:, :4] if along else q).reshape(-1, 2)),
    )


PLACES: Memo[Frame] = Memo("panel in a section frame")
PIECES: Memo[Array] = Memo("prisms of a body")
EXTENTS: Memo[Extent] = Memo("extent of a body")


@dataclass(frozen=True, eq=False)
class ArticulatedPart(Remembers):
    """The part taken apart for posing; results that the search needs again are computed once.

    Parameters
    ----------
    folded : Folded
        As finished.
    """

    folded: Folded

    @cached_property
    def thickness(self) -> float:
        """Thickness of the sheet, mm."""
        return self.folded.thickness

    @cached_property
    def strips(self) -> tuple[BendZone, ...]:
        """The folds in the part's order; each hangs on the panel that the part is rigid with."""
        return tuple(replace(z, parent=self.rigid_with[z.parent]) for z in self.folded.zones if not z.formed)

    @cached_property
    def rigid_with(self) -> dict[str, str]:
        """For each panel the one that it moves with: itself, but for panels beyond bends that forms bring."""
        found = {p.name: p.name for p in self.folded.panels}
        for z in self.folded.zones:
            if z.formed:
                found[z.child] = found[z.parent]
        return found

    @cached_property
    def hems(self) -> frozenset[str]:
        """Folds that need two hits: hems, and folds closed further than a tool turns. A curl is not: a bar forms it."""
        return frozenset(s.name for s in self.strips if s.begun is not None)

    @cached_property
    def turns(self) -> tuple[tuple[float, ...], ...]:
        """Radians turned at each level of each fold."""
        start = math.radians(HEM_START)
        return tuple(
            (0.0, start, math.radians(s.angle)) if s.name in self.hems else (0.0, math.radians(s.angle))
            for s in self.strips
        )

    @cached_property
    def bodies(self) -> tuple[RigidBody, ...]:
        """All bodies, panels first."""
        panels = [RigidBody(p.name, "panel", self.rigid_with[p.name]) for p in self.folded.panels]
        formed = [RigidBody(z.name, "bend", self.rigid_with[z.parent]) for z in self.folded.zones if z.formed]
        forms = [RigidBody(f.name, f.KIND, p.name, form=f) for p in self.folded.panels for f in p.risen]
        strips = [RigidBody(s.name, "strip", s.parent, n) for n, s in enumerate(self.strips)]
        return (*panels, *forms, *formed, *strips)

    # -- how bodies hang together ---------------------------------------------------------

    @cached_property
    def _links(self) -> dict[str, list[tuple[int, str]]]:
        links: dict[str, list[tuple[int, str]]] = {p.name: [] for p in self.folded.panels}
        for n, s in enumerate(self.strips):
            links[s.parent].append((n, s.child))
            links[s.child].append((n, s.parent))
        return links

    @remembered
    def side(self, fold: int, child: bool) -> dict[str, Way]:
        """Panels on one side of a fold, each with the folds on the way to it from the panel beside the fold."""
        s = self.strips[fold]
        first = s.child if child else s.parent
        found: dict[str, Way] = {first: ()}
        queue = [first]
        while queue:
            here = queue.pop(0)
            for n, other in self._links[here]:
                if n != fold and other not in found:
                    found[other] = (*found[here], n)
                    queue.append(other)
        return found

    @remembered
    def bodies_of(self, fold: int, child: bool) -> tuple[tuple[RigidBody, Way], ...]:
        """Bodies on one side of a fold, the fold's own strip left out, with the folds whose levels place them."""
        panels = self.side(fold, child)
        beside = [(b, panels[b.panel]) for b in self.bodies if b.panel in panels and b.own != fold]
        return tuple((b, way if b.own is None or b.own in way else (*way, b.own)) for b, way in beside)

    # -- frames ---------------------------------------------------------------------------

    @remembered
    def _hinge(self, fold: int, level: int) -> Frame:
        """From the child panel's frame to the parent's at a level."""
        bent = bent_by(self.strips[fold], self.turns[fold][level], self.root(fold))
        return bent.end(self.thickness) @ self._tip_back(fold)

    def over(self, s: BendZone) -> Frame:
        """Return the move that turns a fold down over, so that the outside of the bend lies below."""
        if s.direction == "up":
            return SPACE
        return Frame((0.0, 0.0, self.thickness), (-1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, -1.0))

    def root(self, fold: int) -> Frame:
        """Return the strip's frame, on the parent's tangent line, in the parent panel's frame."""
        s = self.strips[fold]
        return self.folded.panel(s.parent).frame.inverse() @ s.frame

    def tip(self, fold: int) -> Frame:
        """Return the frame on the child's tangent line, in the child panel's frame."""
        s = self.strips[fold]
        return self.folded.panel(s.child).frame.inverse() @ s.end(self.thickness)

    @remembered
    def _back(self, fold: int, level: int) -> Frame:
        """From the parent panel's frame to the child's at a level."""
        return self._hinge(fold, level).inverse()

    @remembered
    def _tip_back(self, fold: int) -> Frame:
        return self.tip(fold).inverse()

    @remembered
    def _root_back(self, fold: int) -> Frame:
        return self.root(fold).inverse()

    def placed(self, fold: int, child: bool, panel: str, levels: Levels) -> Frame:
        """From a panel's frame to the section frame on one side of a fold that is about to be formed.

        The section frame: x along the fold, y outward from that side's tangent line (the child's side
        at y > 0, the parent's at y < 0), z from the face that becomes the outside of the bend inward.
        """
        way = self.side(fold, child)[panel]

        def place() -> Frame:
            s = self.strips[fold]
            here = s.child if child else s.parent
            m = self._tip_back(fold) if child else self._root_back(fold)
            for n in way:
                if self.strips[n].parent == here:
                    m, here = m @ self._hinge(n, levels[n]), self.strips[n].child
                else:
                    m, here = m @ self._back(n, levels[n]), self.strips[n].parent
            return self.over(s) @ m

        return PLACES.of(self, place, (fold, child, panel, *[levels[n] for n in way]))

    # -- metal ------------------------------------------------------------------------------

    def pieces(self, body: RigidBody, levels: Levels) -> Array:
        """Convex prisms of a body in its panel's frame, shape (n, 8, 3): four corners of one end, then of the other."""
        level = 0 if body.own is None else levels[body.own]
        # Copies of a bead may share a name.
        return PIECES.of(self, lambda: self._pieces(body, level), (body.name, body.form or body.kind, level))

    def _pieces(self, body: RigidBody, level: int) -> Array:
        if body.kind == "panel":
            p = self.folded.panel(body.name)
            holes = [h.loop for h in p.holes if not h.by_hand and _across(h.loop) > LARGE_HOLE]
            return self._in(body.panel, p.frame).points(_slab(p.boundary, holes, 0.0, self.thickness))
        if body.form is not None:
            return self._form(body.form)
        if body.own is not None:
            return self._strip(body.own, self.turns[body.own][level])
        z = next(z for z in self.folded.zones if z.name == body.name)
        return self._bands(z, self._in(body.panel, z.frame), math.radians(z.angle))

    def _form(self, form: MadeForm) -> Array:
        """Blocks over a form's footprint, as far as it stands out on either face."""
        profile = form.profile(self.thickness)
        assert profile is not None
        assert form.footprint is not None
        below, above = profile.rise
        levels = ((-below, 0.0), (self.thickness, self.thickness + above))
        blocks = [_slab(form.footprint, [], low, high) for low, high in levels if high > low]
        return np.concatenate(blocks) if blocks else np.zeros((0, 8, 3))

    def _in(self, panel: str, frame: Frame) -> Frame:
        """Return a frame of the finished part in the frame of a panel that it is rigid with."""
        own = self.folded.panel(panel).frame
        return SPACE if own is frame else own.inverse() @ frame

    def _strip(self, fold: int, turn_rad: float) -> Array:
        return self._bands(self.strips[fold], self.root(fold), turn_rad)

    def _bands(self, s: BendZone, local: Frame, turn_rad: float) -> Array:
        """Bands of a strip; outside, the chain of the arc's tangents, so that no metal is left out."""
        t = self.thickness
        bent, count, swell = bent_by(s, turn_rad, local), 1, 0.0
        if turn_rad > 1e-7:
            count = 2 * max(1, math.ceil(turn_rad / BAND))
            swell = (bent.radius + t) * (1.0 / math.cos(turn_rad / count) - 1.0)
        frames = [bent.ruling(s.allowance * k / count, t) for k in range(count + 1)]
        swells = [swell * (k % 2) for k in range(count + 1)]
        up = s.direction == "up"
        out = []
        for region in s.regions:
            x = [p[0] for p in region.points]
            for (a, m), (b, n) in pairwise(zip(frames, swells, strict=True)):
                corners = [(a, -m), (b, -n), (b, t), (a, t)] if up else [(a, 0.0), (b, 0.0), (b, t + n), (a, t + m)]
                out.append([f(at, 0.0, z) for at in (min(x), max(x)) for f, z in corners])
        return np.array(out, dtype=float).reshape(-1, 8, 3)

    def bending(self, fold: int, turn_rad: float) -> Array:
        """Bands of the strip that is being bent, in the section frame of the parent's side, shape (n, 8, 3)."""
        m = self.over(self.strips[fold]) @ self._root_back(fold)
        return m.points(self._strip(fold, turn_rad))

    @remembered
    def ways(self, fold: int, child: bool) -> dict[RigidBody, Way]:
        """For each body on one side of a fold the folds whose levels place and shape it."""
        return dict(self.bodies_of(fold, child))

    def posed(self, fold: int, child: bool, body: RigidBody, levels: Levels) -> Array:
        """Pieces of a body in the section frame of one side of a fold, shape (n, 8, 3)."""
        return self.extent(fold, child, body, levels).pieces

    def extent(self, fold: int, child: bool, body: RigidBody, levels: Levels) -> Extent:
        """Return a body's pieces as `posed`, and how far they reach."""
        return EXTENTS.of(
            self,
            lambda: _extent(self.placed(fold, child, body.panel, levels).points(self.pieces(body, levels))),
            (fold, child, body, *[levels[n] for n in self.ways(fold, child)[body]]),
        )

    @cached_property
    def strip_bodies(self) -> tuple[RigidBody, ...]:
        """The folds' strips as bodies, in the part's order."""
        return tuple(b for b in self.bodies if b.own is not None)

    def span(self, fold: int) -> tuple[float, float]:
        """Where the fold begins and ends along the section frame's x, mm."""
        s = self.strips[fold]
        x = [p[0] for r in s.regions for p in r.points]
        return (min(x), max(x)) if s.direction == "up" else (-max(x), -min(x))


def _across(loop: Loop) -> float:
    x0, y0, x1, y1 = loop.box
    return min(x1 - x0, y1 - y0)


def _slab(outer: Loop, holes: Sequence[Loop], low: float, high: float) -> Array:
    """Return triangular prisms of a plane region between two heights, the third corner twice, shape (n, 8, 3)."""
    from mapbox_earcut import triangulate_float64

    rings = [np.concatenate([e.chords(SAGITTA) for e in loop.edges]) for loop in (outer, *holes)]
    points = np.concatenate(rings)
    ends = np.cumsum([len(r) for r in rings]).astype(np.uint32)
    tri = np.asarray(triangulate_float64(points, ends)).reshape(-1, 3)
    corners = points[tri[:, [0, 1, 2, 2]]]
    faces = [np.concatenate((corners, np.full((*corners.shape[:2], 1), z)), axis=2) for z in (low, high)]
    return np.concatenate(faces, axis=1)
