"""Which sizes a tape or caliper can take on each panel of a finished part, and from where to where."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

from tinbook.language import Said
from tinbook.making.folded import BendZone, MadePanel
from tinbook.making.made import Made
from tinbook.plane.cuts import beside_edge, seen_from
from tinbook.plane.loops import Edge, Point
from tinbook.values import dataclass

OPPOSITE: Final = math.cos(math.radians(45.0))
"""An edge that runs back at more than this against a fold lies opposite to it."""
PARALLEL: Final = 1e-9
NEAR: Final = 1e-6
"""mm"""
UNEVEN: Final = 0.05
"""mm: two ends that differ less are one size."""


@dataclass(frozen=True, slots=True)
class End:
    """Where a size ends.

    Parameters
    ----------
    at : (float, float)
        On the panel, in its frame: on the outside mould line of a fold, or on a cut edge.
    share : float
        How much longer the size gets, mm, when this end's line or edge moves outward by a mm.
    fold, edge : str
        Fold, or "" and the name of the cut edge.
    """

    at: Point
    share: float
    fold: str = ""
    edge: str = ""


@dataclass(frozen=True, slots=True)
class Span:
    """A size on a panel: its name, where the tape lies ("" where it does not matter), its two ends."""

    name: str
    place: str
    ends: tuple[End, End]

    @property
    def length(self) -> float:
        """From end to end, mm."""
        return math.dist(self.ends[0].at, self.ends[1].at)

    @property
    def folds(self) -> tuple[str, ...]:
        """Folds that bound it, one or two."""
        return tuple(e.fold for e in self.ends if e.fold)


def spans(made: Made, p: MadePanel) -> Iterator[Span]:
    """Yield every size between a fold and the far side of its panel.

    Between parallel folds, and to a parallel edge, one size square to the fold. Between folds that are not parallel one
    at either end, as a tape lies: along the panel's own edge there, or the outside of the wall on it, where one leads
    straight from fold to fold. To a far edge that slopes one at either end of that edge, square to the fold.
    """
    strips = {s.name: s for s in made.strips}
    edges = p.boundary.edges
    lines = {e.name[5:]: e for e in edges if e.name.startswith("fold:") and e.name[5:] in strips}
    done: set[frozenset[str]] = set()
    for name, e in lines.items():
        far = max(seen_from(e, q)[1] for q in p.boundary.points)
        if far <= 0:
            continue
        reached = [
            o for o in edges if o is not e and max(seen_from(e, o.start)[1], seen_from(e, o.end)[1]) > far - NEAR
        ]
        o = min(reached, key=lambda o: (_along(e, o), o.name), default=None)
        other = o.name[5:] if o is not None and o.name[5:] in lines and _along(e, o) < -OPPOSITE else ""
        if frozenset((name, other)) in done:
            continue
        done.add(frozenset((name, other)))
        title = _named(p, name, other)
        back = strips[name].setback
        if o is not None and other and _along(e, o) > -1.0 + PARALLEL:
            yield from _skew_pair(p, title, (e, o), strips)
        elif o is not None and not other and o.is_line and -1.0 + PARALLEL < _along(e, o) < -OPPOSITE:
            yield from _slope(p, title, name, e, o, back)
        else:
            at, foot = beside_edge(e), _middle(e, o) if o is not None else e.length / 2
            near, tip = at(foot, -back), at(foot, far + (strips[other].setback if other else 0.0))
            edge = o.name if o is not None and not other else ""
            yield Span(title, "", (End(near, 1.0, name), End(tip, 1.0, other, edge)))


def _slope(p: MadePanel, title: str, name: str, e: Edge, o: Edge, back: float) -> Iterator[Span]:
    """Yield the two heights of a sloping far edge over a fold's mould line."""
    ux, uy = e.direction()
    heights = [seen_from(e, q)[1] + back for q in (o.start, o.end)]
    # Square to the fold: an edge that slopes moves further along the tape than square to itself.
    share = 1.0 / -_along(e, o)
    for q, h, beside in zip((o.start, o.end), heights, _neighbours(p, o), strict=True):
        place = Said("at {edge}", edge=beside) if beside else Said("at one end")
        yield Span(
            Said("{title}, {place}", title=title, place=place),
            place,
            (End((q[0] + uy * h, q[1] - ux * h), 1.0, name), End(q, share, "", o.name)),
        )


def _skew_pair(p: MadePanel, title: str, pair: tuple[Edge, Edge], strips: dict[str, BendZone]) -> Iterator[Span]:
    """Yield the sizes over two folds that are not parallel, at either end."""
    e, o = pair
    s, q = strips[e.name[5:]], strips[o.name[5:]]
    a, b = _mould(e, s.setback), _mould(o, q.setback)
    # The loop runs anticlockwise: from the end of one fold to the start of the other, and back.
    for first, second, side in ((a, b, _between(p, e, o)), (b, a, _between(p, o, e))):
        if side is not None and side.name.startswith("fold:") and side.name[5:] in strips:
            # A wall stands there: along its outside, from corner to corner.
            wall = _mould(side, strips[side.name[5:]].setback)
            start, way, place = wall.start, wall.direction(), Said("along {edge}", edge=side.name[5:])
        elif side is not None:
            start, way, place = (
                side.start,
                side.direction(),
                Said("along {edge}", edge=side.name) if side.name else Said("along its end"),
            )
        else:
            # No straight edge leads across: square to the first fold, where the shorter of the two ends.
            (ux, uy), start = a.direction(), _shorter_end(a, b, at_end=first is a)
            way, place = (-uy, ux), Said("at its right end" if first is a else "at its left end")
        ends = [_crossing(start, way, line) for line in (first, second)]
        if math.dist(*ends) < UNEVEN:
            continue
        shares = [
            1.0 / max(abs(way[0] * line.direction()[1] - way[1] * line.direction()[0]), 0.1) for line in (first, second)
        ]
        folds = (s.name, q.name) if first is a else (q.name, s.name)
        full = Said("{title}, {place}", title=title, place=place)
        yield Span(full, place, (End(ends[0], shares[0], folds[0]), End(ends[1], shares[1], folds[1])))


def _mould(e: Edge, setback: float) -> Edge:
    """Return a fold's outside mould line."""
    at = beside_edge(e)
    return Edge(at(0.0, -setback), at(e.length, -setback))


def _between(p: MadePanel, e: Edge, o: Edge) -> Edge | None:
    """Return the one straight edge that leads from the end of a fold to the start of another, short cuts beside it left out."""
    edges = p.boundary.edges
    i = next(k for k, x in enumerate(edges) if x is e)
    passed: list[Edge] = []
    for k in range(1, len(edges)):
        x = edges[(i + k) % len(edges)]
        if x is o:
            break
        passed.append(x)
    whole = math.fsum(x.length for x in passed)
    straight = [x for x in passed if x.is_line]
    longest = max(straight, key=lambda x: x.length, default=None)
    if longest is None or longest.length < 0.6 * whole:
        return None
    return longest


def _neighbours(p: MadePanel, o: Edge) -> tuple[str, str]:
    """Return the names of the edges that meet an edge at its start and at its end."""
    edges = p.boundary.edges
    i = next(k for k, x in enumerate(edges) if x is o)
    return tuple(_plain(edges[k % len(edges)]) for k in (i - 1, i + 1))  # type: ignore[return-value]


def _plain(e: Edge) -> str:
    return "" if e.name == "relief" else e.name.removeprefix("fold:").removeprefix("hole:")


def _crossing(start: Point, way: Point, line: Edge) -> Point:
    (ux, uy), (x, y) = line.direction(), line.start
    s = ((x - start[0]) * uy - (y - start[1]) * ux) / (way[0] * uy - way[1] * ux)
    return start[0] + s * way[0], start[1] + s * way[1]


def _shorter_end(a: Edge, b: Edge, *, at_end: bool) -> Point:
    """Return the point of `a` where the stretch that both lines share ends."""
    low, high = sorted(seen_from(a, q)[0] for q in (b.start, b.end))
    return beside_edge(a)(min(high, a.length) if at_end else max(low, 0.0), 0.0)


def _middle(e: Edge, o: Edge) -> float:
    """Return how far along a fold's line the middle lies of what it shares with the edge opposite."""
    low, high = sorted(seen_from(e, q)[0] for q in (o.start, o.end))
    return min(max((max(low, 0.0) + min(high, e.length)) / 2, 0.0), e.length)


def _named(p: MadePanel, fold: str, other: str) -> str:
    own = next((f for f in (fold, other) if f == p.name), None)
    if own is not None and not other:
        return Said("leg {panel}", panel=p.name)
    if own is not None:
        return Said("leg {panel} to {fold}", panel=p.name, fold=named_fold(other if own == fold else fold))
    if not other:
        return Said("{panel} from {fold}", panel=p.name, fold=named_fold(fold))
    if fold.startswith("fold"):
        return Said("{panel} over {a} and {b}", panel=p.name, a=fold, b=other)
    return Said("{panel} over folds {a} and {b}", panel=p.name, a=fold, b=other)


def named_fold(name: str) -> str:
    """Return a fold's name in a sentence: with "fold" before it, once where the name begins so."""
    return name if name.startswith("fold") else Said("fold {name}", name=name)


def _along(e: Edge, o: Edge) -> float:
    """Cosine between an edge and another, -1 where it runs back."""
    (ux, uy), (vx, vy) = e.direction(), o.direction()
    return ux * vx + uy * vy
