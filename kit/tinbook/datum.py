"""Where a blank is measured from: a corner that exists on the metal, and the straight edge that x runs along."""

from __future__ import annotations

import math
from itertools import combinations
from typing import Final

from tinbook.language import ENGLISH, Language
from tinbook.plane.loops import Edge, Loop, Move, Point
from tinbook.values import dataclass

SQUARE: Final = 1e-6
"""Cosine below which two edges count as square to each other."""

CLEAR: Final = 0.05
"""mm: what may reach behind the edge that x runs along without a straightedge noticing."""

TRIED: Final = 40
"""Only so many of the longest edges are considered: an outline read from a scan has thousands."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Datum:
    """An origin on the metal and a direction.

    Parameters
    ----------
    origin : (float, float)
        A corner of the outline, or where two of its straight edges would meet, in the flat pattern's own
        coordinates, mm.
    first : (float, float)
        The outline's corner at which counting starts: the start of the edge that x runs along.
    along : (float, float)
        Unit vector of x, along a straight edge; y is square to it, into the metal.
    edge, other : str
        Names of the edge that x runs along and of the one that ends at the origin, "" where it has none.
    kind : {"square", "edges", "end", "across"}
        A right-angled corner; two edges square to each other whose corner is rounded or cut; the end of a straight
        edge; the end of the longest line across an outline without straight edges.
    place : str
        Where the origin lies in the picture, in words.
    """

    origin: Point
    first: Point
    along: Point
    edge: str
    other: str
    kind: str
    place: str

    def at(self, p: Point) -> Point:
        """Return a point's x and y from the origin, mm."""
        x, y = p[0] - self.origin[0], p[1] - self.origin[1]
        ux, uy = self.along
        return x * ux + y * uy, y * ux - x * uy

    @property
    def level(self) -> bool:
        """Whether x runs along the picture's own x."""
        return self.along[0] > 1.0 - 1e-9

    def words(self, name: str = "O", say: Language = ENGLISH) -> str:
        """Return the origin, by a name, and its axes in a sentence."""
        if self.kind == "across":
            return say(
                "{name} is the end, {place} in the picture, of the longest line across the outline, which has no straight "
                "edge: mark both ends; x runs along that line, y square to it.",
                name=name,
                place=say(self.place),
            )
        edge = f"'{self.edge}'" if self.edge else say("the straight edge beside it")
        if self.kind == "edges":
            other = f"'{self.other}'" if self.other else say("the edge square to it")
            return say(
                "{name} is where edges {other} and {edge} would meet, {place} in the picture: x is measured from edge "
                "{other}, y from edge {edge}.",
                name=name,
                other=other,
                edge=edge,
                place=say(self.place),
            )
        if self.kind == "square" and self.edge and self.other:
            start = say("the square corner of edges '{other}' and {edge}", other=self.other, edge=edge)
        elif self.kind == "square":
            start = say("the square corner at the end of edge {edge}", edge=edge)
        else:
            start = say("the corner at the end of edge {edge}", edge=edge)
        return say(
            "{name} is {start}, {place} in the picture; x runs along {edge}, y square to it.",
            name=name,
            start=start,
            place=say(self.place),
            edge=edge,
        )


def datum_of(outline: Loop) -> Datum:
    """Return the datum of an outline.

    Parameters
    ----------
    outline : Loop
        Anticlockwise; edges may be named "panel|edge".

    Returns
    -------
    Datum
        At the start of a straight edge. Preferred are, in this order: an edge that nothing reaches behind, so that
        a square lies against it; one that is not short; a right-angled corner; one that nothing reaches beyond; an
        edge that runs level in the picture; a long one.
    """
    edges = outline.edges
    straight = sorted((i for i, e in enumerate(edges) if e.is_line), key=lambda i: -round(edges[i].length, 3))
    if not straight:
        return _across(outline)
    long = 0.4 * edges[straight[0]].length
    best = max(straight[:TRIED], key=lambda i: _worth(outline, i, long))
    e = edges[best]
    before, meet = _before(outline, best)
    kind = "end" if before is None else "square" if before is edges[best - 1] else "edges"
    return Datum(
        origin=meet,
        first=e.start,
        along=e.direction(),
        edge=edge_name(e.name),
        other=edge_name((before or edges[best - 1]).name),
        kind=kind,
        place=_place(outline, e.start),
    )


def edge_name(name: str) -> str:
    """Return the plain name of an outline's edge: "front", "front.end"; "" for what has none of its own."""
    panel, _, edge = name.rpartition("|")
    if not edge or edge == "relief" or edge.startswith("hole:"):
        return ""
    return edge if panel in ("", "base") else f"{panel}.{edge}"


def _worth(outline: Loop, i: int, long: float) -> tuple[bool, bool, bool, bool, bool, float, float, float]:
    e = outline.edges[i]
    before, (x, y) = _before(outline, i)
    ux, uy = e.direction()
    turned = outline.moved(Move(ux, uy, -uy, ux).after(Move(u=-x, v=-y)))
    x0, y0, _, _ = turned.box
    return (
        y0 > -CLEAR,
        e.length > long - 1e-3,
        before is not None,
        x0 > -CLEAR,
        ux > 1.0 - 1e-9,
        round(e.length, 3),
        -round(y, 3),
        -round(x, 3),
    )


def _before(outline: Loop, i: int) -> tuple[Edge | None, Point]:
    """Return the edge that ends square to edge `i`, and where the two meet; None and the edge's start without one.

    One rounded or cut corner between the two is passed over where nothing of the metal reaches behind them.
    """
    edges, e = outline.edges, outline.edges[i]
    if _is_square(edges[i - 1], e):
        return edges[i - 1], e.start
    other = edges[i - 2]
    if len(edges) > 3 and edges[i - 1].chord < e.length / 2 and _is_square(other, e):
        (ux, uy), (vx, vy) = e.direction(), (other.end[0] - e.start[0], other.end[1] - e.start[1])
        along = ux * vx + uy * vy
        x0 = min((p[0] - e.start[0]) * ux + (p[1] - e.start[1]) * uy for p in outline.points)
        if along < 0 and x0 > along - CLEAR:
            return other, (e.start[0] + along * ux, e.start[1] + along * uy)
    return None, e.start


def _is_square(before: Edge, e: Edge) -> bool:
    if not before.is_line or before.length < 5.0:
        return False
    (ax, ay), (bx, by) = before.direction(), e.direction()
    return abs(ax * bx + ay * by) < SQUARE and ax * by - ay * bx > 0


def _across(outline: Loop) -> Datum:
    points = [p for e in outline.edges for p in (e.start, e.at(0.5))][: 2 * TRIED]
    a, b = max(combinations(points, 2), key=lambda pq: round(math.dist(*pq), 6))
    a, b = min(a, b), max(a, b)
    n = math.dist(a, b)
    return Datum(
        origin=a,
        first=a,
        along=((b[0] - a[0]) / n, (b[1] - a[1]) / n),
        edge="",
        other="",
        kind="across",
        place=_place(outline, a),
    )


def _place(outline: Loop, p: Point) -> str:
    x0, y0, x1, y1 = outline.box
    across = ("left", "middle", "right")[min(2, int(3 * (p[0] - x0) / max(x1 - x0, 1e-9)))]
    up = ("lower", "middle", "upper")[min(2, int(3 * (p[1] - y0) / max(y1 - y0, 1e-9)))]
    return {"middle middle": "in the middle", "lower middle": "at the foot", "upper middle": "at the top"}.get(
        f"{up} {across}", f"at the {across}" if up == "middle" else f"at the {up} {across}"
    )
