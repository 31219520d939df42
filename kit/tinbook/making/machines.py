"""Which machine folds the whole part: whether the tools chosen fold by fold leave an order, looked at roughly and quickly.

A few still positions of each fold are held against the sections that the shop drew, as the search of the
order of folds does along the whole sweep: what is ruled out here, that rules out too. What only it can see
(springback, a hit between the positions, fingers that do not add up) stays its own.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import field
from typing import Any, Final

import numpy as np

from tinbook.making.articulated import LARGE_HOLE, SAGITTA, ArticulatedPart, Levels
from tinbook.making.demands import force_finding
from tinbook.making.folded import BendZone
from tinbook.making.forming import forming
from tinbook.making.made import Made
from tinbook.plane.loops import Array
from tinbook.shop.tools import Tool
from tinbook.shop.tools.outlines import SLACK
from tinbook.shop.tools.setups import RoughBody
from tinbook.shop.tools.strokes import BendingStrip, Motion
from tinbook.values import dataclass

SHARES: Final = (0.0, 0.3, 0.6, 0.85, 1.0)
"""Of the angle: where a fold is looked at."""
MOST: Final = (24, 3)
"""Folds that are looked at, each in a state of the others, and more for each fold; what needs more is left to the search."""
WORK: Final = 40_000
"""Edges that are looked at in all, for the same reason: about 50 ms at most."""


@dataclass(frozen=True, slots=True)
class Obstruction:
    """Why a fold cannot be made in a state: what hits what."""

    body: str
    against: str


def span_of(strip: BendZone) -> tuple[float, float]:
    """Return where a fold begins and ends along its own line, mm."""
    x = [p[0] for r in strip.regions for p in r.points]
    return min(x), max(x)


def is_drawn(made: Made, strip: BendZone) -> bool:
    """Whether the shop drew anything of the machine that makes a fold, punches left out."""
    return bool(strip.bend.tool) and bool(made.shop.tool(strip.bend.tool).drawn(made.shop))


def bending_strip(strip: BendZone, thickness: float) -> BendingStrip:
    """Return a fold's strip as the tools bend it."""
    return BendingStrip(strip.angle, strip.radius, strip.allowance, thickness, strip.begun)


def fails(made: Made, *, surely: bool = True) -> dict[str, str]:
    """Return for each fold that its tool cannot make the reason; empty where nothing speaks against the tools.

    Parameters
    ----------
    made : Made
        Resolved on the tools that were chosen fold by fold.
    surely : bool
        Only what is ruled out; else also what has too many folds to be looked at.
    """
    first = beyond(made)
    if first:
        return first
    screen = _Screen(made)
    found = screen.blocked()
    if not found and screen.gave_up and not surely:
        return {s.name: "it was not looked through" for s in made.strips if is_drawn(made, s)}
    return found


def beyond(made: Made) -> dict[str, str]:
    """Return for each fold that is too long for its tool, or too heavy for its machine, the reason."""
    return {**dict(_too_long(made)), **dict(_too_weak(made))}


def _too_long(made: Made) -> Iterator[tuple[str, str]]:
    for s in made.strips:
        tool = made.shop.tool(s.bend.tool) if s.bend.tool else None
        if tool is None:
            continue
        x0, x1 = span_of(s)
        if x1 - x0 > tool.longest_fold(made.shop) + 1e-6:
            yield s.name, f"it is {x1 - x0:.0f} mm long"


def _too_weak(made: Made) -> Iterator[tuple[str, str]]:
    for s in made.strips:
        f = force_finding(made, s)
        if f is not None and f.severity == "stop":
            yield s.name, f"it takes {f.value:.0f} kN"


@dataclass(eq=False)
class _Screen:
    """Everything that is asked of one part."""

    made: Made
    blank: ArticulatedPart = field(init=False)
    looked: int = 0
    work: int = 0
    gave_up: bool = False
    hits: dict[int, Obstruction] = field(default_factory=dict)
    motions: dict[int, Motion] = field(default_factory=dict)
    edges: dict[str, Array] = field(default_factory=dict)
    ways: dict[int, list[list[RoughBody]]] = field(default_factory=dict)
    known: dict[tuple[int, int, int], list[tuple[frozenset[int], frozenset[int]]]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.blank = ArticulatedPart(self.made.folded)

    def blocked(self) -> dict[str, str]:
        """Return the folds that no order forms, each with what hits."""
        strips = self.blank.strips
        drawn = {n for n, s in enumerate(strips) if s.name not in self.blank.hems and is_drawn(self.made, s)}
        if not drawn or len(strips) < 2:
            return {}
        done: set[frozenset[int]] = set()
        furthest: frozenset[int] = frozenset()
        outer = range(len(strips))[::-1]  # the outermost first: most orders begin there
        stack = [(frozenset[int](), iter(outer))]
        while stack:
            state, rest = stack[-1]
            fold = next((n for n in rest if n not in state and (n not in drawn or self._can(n, state))), None)
            if self.looked > MOST[0] + MOST[1] * len(strips) or self.work > WORK:
                self.gave_up = True
                return {}
            if fold is None:
                stack.pop()
                furthest = max(furthest, state, key=len)
                continue
            after = state | {fold}
            if len(after) == len(strips):
                return {}
            if after not in done:
                done.add(after)
                stack.append((after, iter(outer)))
        left = [n for n in sorted(self.hits) if n not in furthest]
        return {strips[n].name: f"{self.hits[n].body} hits the {self.hits[n].against}" for n in left}

    def _can(self, fold: int, state: frozenset[int]) -> bool:
        """Whether some setup forms a fold while these are formed."""
        strip = self.blank.strips[fold]
        tool = self.made.shop.tool(strip.bend.tool)
        if fold not in self.motions:
            angles = np.array(SHARES) * math.radians(forming(self.made, strip, 1).formed)
            bend = bending_strip(strip, self.made.thickness)
            self.motions[fold] = Motion(bend, tool.stroke, False, tool.contact, angles)
            self.ways[fold] = list(tool.rough_setups(self.made.shop, self.made.thickness, self.blank.span(fold)))
        for way in (0, 1):
            metal: _Metal | None = None
            for n, bodies in enumerate(self.ways[fold]):
                known = self.known.setdefault((fold, way, n), [])
                if any(formed <= state and not flat & state for formed, flat in known):
                    continue
                if metal is None:
                    self.looked += 1
                    levels = tuple((len(t) - 1 if k in state else 0) for k, t in enumerate(self.blank.turns))
                    metal = self._metal(fold, way, levels)
                    if self._too_deep(metal, tool, strip):
                        self.hits.setdefault(fold, Obstruction("it", "machine's frame"))
                        break
                before = metal.looked
                hit = next((Obstruction(name, b.name) for b in bodies for name in metal.hits(b)[:1]), None)
                self.work += (metal.looked - before) * len(metal.names)
                if hit is None:
                    return True
                self.hits.setdefault(fold, hit)
                # The same metal hits again wherever the folds on the way to it stand alike.
                on_way = next(p[hit.body] for p in (self.blank.side(fold, c) for c in (True, False)) if hit.body in p)
                known.append((state.intersection(on_way), frozenset(on_way) - state))
        return False

    def _too_deep(self, metal: _Metal, tool: Tool, strip: BendZone) -> bool:
        """Whether what lies at the back reaches past the throat and is too wide for the frames."""
        machine = self.made.shop.machine(tool.machine)
        if machine.throat is None:
            return False
        free = machine.between_frames is not None and np.ptp(metal.edges[..., 0]) < machine.between_frames
        return not free and strip.allowance / 2 - float(metal.edges[..., 1].min()) > machine.throat + SLACK

    def _metal(self, fold: int, way: int, levels: Levels) -> _Metal:
        """Return the edges of the panels' middles, the front of the machine's first."""
        edges, names = [], []
        for front in (True, False):
            child = front == (way == 0)
            for panel in self.blank.side(fold, child):
                m = self.blank.placed(fold, child, panel, levels)
                own = self._edges(panel)
                edges.append(m.points(own))
                names += [panel] * len(own)
            if front:
                count = len(names)
        every = np.concatenate(edges)
        if way:
            every[..., 1] *= -1.0
        return _Metal(every, names, count, self.motions[fold])

    def _edges(self, panel: str) -> Array:
        """Return the edges of a panel's middle in its own frame, and chords across it, shape (n, 2, 3)."""
        if panel not in self.edges:
            p = self.made.panel(panel)
            loops = [p.boundary, *(h.loop for h in p.holes if min(_size(h.loop.box)) > LARGE_HOLE)]
            rings = [np.concatenate([e.chords(10 * SAGITTA) for e in loop.edges]) for loop in loops]
            lines = np.concatenate([np.stack((r, np.roll(r, -1, axis=0)), axis=1) for r in rings])
            x0, y0, x1, y1 = p.boundary.box
            across = [
                *_chords(lines, 0, [x0 + f * (x1 - x0) for f in (0.25, 0.5, 0.75)]),
                *_chords(lines, 1, [y0 + f * (y1 - y0) for f in (0.25, 0.5, 0.75)]),
            ]
            flat = np.concatenate((lines, np.array(across).reshape(-1, 2, 2)))
            own = [_at_height(flat, self.made.thickness / 2)]
            for form in p.risen:
                profile = form.profile(self.made.thickness)
                assert profile is not None
                assert form.footprint is not None
                ring = np.concatenate([e.chords(10 * SAGITTA) for e in form.footprint.edges])
                below, above = profile.rise
                for rise, top in ((above, self.made.thickness + above - SLACK), (below, SLACK - below)):
                    if rise > 0.0:
                        own.append(_at_height(np.stack((ring, np.roll(ring, -1, axis=0)), axis=1), top))
            self.edges[panel] = np.concatenate(own)
        return self.edges[panel]


def _at_height(lines: Array, z: float) -> Array:
    """Return lines of a plane at a height over it, shape (n, 2, 3)."""
    return np.concatenate((lines, np.full((*lines.shape[:2], 1), z)), axis=2)


def _size(box: tuple[float, float, float, float]) -> tuple[float, float]:
    return box[2] - box[0], box[3] - box[1]


def _chords(lines: Array, axis: int, places: list[float]) -> Iterator[tuple[Any, Any]]:
    """Yield what lies inside a region along lines square to an axis."""
    a, b = lines[:, 0], lines[:, 1]
    for at in places:
        cut = (a[:, axis] <= at) != (b[:, axis] <= at)
        share = (at - a[cut, axis]) / (b[cut, axis] - a[cut, axis])
        met = np.sort(a[cut, 1 - axis] + share * (b[cut, 1 - axis] - a[cut, 1 - axis]))
        for low, high in zip(met[::2], met[1::2], strict=False):
            yield ((at, low), (at, high)) if axis == 0 else ((low, at), (high, at))


class _Metal:
    """Edges of panels beside a fold, shape (n, 2, 3), and where they are at the positions that are looked at."""

    def __init__(self, edges: Array, names: list[str], front: int, motion: Motion) -> None:
        self.edges, self.names, self.front, self.motion = edges, names, front, motion
        self.x_low, self.x_high = edges[..., 0].min(axis=1), edges[..., 0].max(axis=1)
        self._struck: dict[tuple[str, int, tuple[float, float]], list[str]] = {}
        self._placed: dict[str, tuple[Array, Array, Array]] = {}

    @property
    def looked(self) -> int:
        """How often the edges were gone through so far."""
        return len(self._struck) + len(self._placed)

    def hits(self, body: RoughBody) -> list[str]:
        """Return the panels that hit a part of the machine."""
        key = (body.name, id(body.ring), body.span)
        if key not in self._struck:
            self._struck[key] = self._hits(body)
        return self._struck[key]

    def _hits(self, body: RoughBody) -> list[str]:
        there, low, high = self._there(body.frame)
        x0, x1 = body.span[0] + SLACK, body.span[1] - SLACK
        near = ((high > body.ring.min(axis=0)) & (low < body.ring.max(axis=0))).all(axis=2)
        near &= (self.x_high >= x0) & (self.x_low <= x1)
        when, which = np.nonzero(near)
        if not len(which):
            return []
        a, b = there[when, which, 0], there[when, which, 1]
        x, run = self.edges[which, 0, 0], self.edges[which, 1, 0] - self.edges[which, 0, 0]
        still = abs(run) < 1e-9
        safe = np.where(still, 1.0, run)
        shares = np.clip(np.stack(((x0 - x) / safe, (x1 - x) / safe)), 0.0, 1.0)
        first = np.where(still, 0.0, shares.min(axis=0))[:, None]
        last = np.where(still, 1.0, shares.max(axis=0))[:, None]
        struck = _meets(a + first * (b - a), a + last * (b - a), body.ring)
        return list(dict.fromkeys(self.names[k] for k in which[struck]))

    def _there(self, moves: str) -> tuple[Array, Array, Array]:
        """Return the edges in the frame of a tool at each position, shape (positions, n, 2, 2), and their boxes."""
        if moves not in self._placed:
            sides = []
            for front, part in ((True, self.edges[: self.front]), (False, self.edges[self.front :])):
                turn, place = self.motion.seen(front, moves)
                c, s = np.cos(turn)[:, None, None], np.sin(turn)[:, None, None]
                y, z = part[None, :, :, 1], part[None, :, :, 2]
                at = place[:, None, None, :]
                sides.append(np.stack((c * y - s * z + at[..., 0], s * y + c * z + at[..., 1]), axis=-1))
            there = np.concatenate(sides, axis=1)
            self._placed[moves] = there, there.min(axis=2), there.max(axis=2)
        return self._placed[moves]


def _side(u: Array, v: Array, w: Array) -> Array:
    """Return on which side of the line from u to v a point w lies."""
    return np.asarray(
        (v[..., 0] - u[..., 0]) * (w[..., 1] - u[..., 1]) - (v[..., 1] - u[..., 1]) * (w[..., 0] - u[..., 0])
    )


def _meets(start: Array, end: Array, ring: Array) -> Array:
    """Whether each of some lines, ends of shape (n, 2), crosses a closed outline or begins within it."""
    p, q = start[:, None], end[:, None]
    a, b = ring[None], np.roll(ring, -1, axis=0)[None]
    crossed = ((_side(a, b, p) > 0) != (_side(a, b, q) > 0)) & ((_side(p, q, a) > 0) != (_side(p, q, b) > 0))
    above = (a[..., 1] > p[..., 1]) != (b[..., 1] > p[..., 1])
    rise = np.where(above, b[..., 1] - a[..., 1], 1.0)
    right = p[..., 0] < a[..., 0] + (p[..., 1] - a[..., 1]) * (b[..., 0] - a[..., 0]) / rise
    return np.asarray(crossed.any(axis=1) | ((above & right).sum(axis=1) % 2 == 1))
