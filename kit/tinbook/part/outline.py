"""The outline of a panel: named lines and arcs, run anticlockwise."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any, Final

from tinbook import units
from tinbook.errors import BadValue, UnknownName, of_kind
from tinbook.fields import Word
from tinbook.finding import NOTHING, Findings
from tinbook.part.picture import outline_svg
from tinbook.plane.corners import clipped_loop, rounded_loop
from tinbook.plane.loops import Edge, Loop, Move, polygon
from tinbook.plane.meeting import self_crossing
from tinbook.plane.offset import offset_loop, without_edge
from tinbook.plane.stretch import Axis, stretch_at
from tinbook.shown import Shown
from tinbook.tolerances import SAME_POINT
from tinbook.units import FARTHEST, Angle, Length, Place
from tinbook.values import dataclass

MOST_EDGES: Final = 10_000
"""Edges of an outline or a cut-out: what makes its solid in seconds (own proposal)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Outline(Shown):
    """A closed outline of named lines and arcs.

    A loop drawn clockwise is run the other way round; nothing else is mended.

    Parameters
    ----------
    loop : Loop
        At least two edges with unique names, closed, simple, enclosing an area. Edges
        without a name get "edge 1", "edge 2" ... by their place.
    findings : Findings
        Stops and cautions of its measuring or reading; `tb.check` repeats it for every part that is drawn from it.
    """

    loop: Loop
    findings: Findings = NOTHING

    def __post_init__(self) -> None:
        object.__setattr__(self, "loop", _checked(self.loop))

    @classmethod
    def rectangle(
        cls, width: Length, height: Length, names: Sequence[str] = ("front", "right", "rear", "left")
    ) -> Outline:
        """Return a rectangle with its lower left corner at (0, 0).

        Parameters
        ----------
        width, height : length
            Along x and y, greater than 0 mm.
        names : sequence of str
            Names of the lower, right, upper and left edge.
        """
        w, h = units.positive(width, "outline width"), units.positive(height, "outline height")
        return cls.polygon([(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)], names)

    @classmethod
    def polygon(cls, points: Iterable[Place], names: Sequence[str] = ()) -> Outline:
        """Return an outline with straight edges.

        Parameters
        ----------
        points : iterable of (length, length)
            Each corner once, in order; the outline closes by itself.
        names : sequence of str, optional
            Names of the edges: the first runs from the first to the second corner.
        """
        of_kind(points, Iterable, "outline corners", "three corners (x, y) or more")
        of_kind(names, Sequence, "outline names", "a name for each edge, in order")
        corners = [units.point(p, f"outline corner {i + 1}") for i, p in enumerate(points)]
        if len(corners) < 3:
            raise BadValue("outline corners", len(corners), "at least three corners")
        if names and len(names) != len(corners):
            raise BadValue("outline names", tuple(names), f"one name for each of the {len(corners)} edges, or none")
        return cls(loop=polygon(corners, names))

    @classmethod
    def from_edges(cls, edges: Iterable[Edge]) -> Outline:
        """Return an outline from edges in mm, each ending where the next one starts."""
        of_kind(edges, Iterable, "outline edges", "edges in order")
        return cls(loop=Loop(tuple(edges)))

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the edges in order."""
        return tuple(e.name for e in self.loop.edges)

    @property
    def area(self) -> float:
        """Enclosed area, mm², greater than 0."""
        return self.loop.area

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Exact bounding box (xmin, ymin, xmax, ymax), mm."""
        return self.loop.box

    def edge(self, name: str) -> Edge:
        """Return the edge of that name."""
        for e in self.loop.edges:
            if isinstance(name, str) and e.name == name:
                return e
        raise UnknownName("edge", name, self.names)

    def mirrored(self) -> Outline:
        """Return the other hand: x turned to -x, names kept, the first edge still first."""
        flipped = self.loop.moved(Move(a=-1.0, d=1.0)).reversed().edges
        return self._drawn(Loop((flipped[-1], *flipped[:-1])))

    def moved(self, dx: Length = 0.0, dy: Length = 0.0, turn: Angle = 0.0) -> Outline:
        """Return the outline turned about (0, 0) by `turn` degrees anticlockwise, then shifted."""
        shift = Move(u=units.length(dx, "moved dx"), v=units.length(dy, "moved dy"))
        return self._drawn(self.loop.moved(shift.after(Move.turn(units.angle(turn, "moved turn")))))

    def offset(self, each: Mapping[str, Length] | Length = 0.0, others: Length = 0.0) -> Outline:
        """Return the outline with each edge moved outward by its own amount.

        Parameters
        ----------
        each : mapping of edge name to length, or one length for all edges
            Positive outward, negative inward.
        others : length
            Amount for the edges that `each` does not name.

        Returns
        -------
        Outline
            Corners sharp, arcs true, names kept. Neighbours that run smoothly into each other and move
            differently get a straight step "A to B" between them.

        Raises
        ------
        BadValue
            An edge or a radius vanishes, neighbours no longer meet, or the result crosses itself.
        """
        if not isinstance(each, Mapping):
            if others != 0.0:
                raise BadValue(
                    "offset others",
                    others,
                    "only beside a mapping of edge name to length; one length for all edges comes first: offset(length)",
                )
            others = each
        named = each if isinstance(each, Mapping) else {}
        amounts = {name: units.length(v, f"offset of edge '{name}'") for name, v in named.items()}
        rest = units.length(others, "offset of the other edges")
        for name in amounts:
            self.edge(name)
        moved = offset_loop(self.loop, [amounts.get(e.name, rest) for e in self.loop.edges])
        try:
            if moved.area <= 0:
                raise BadValue("outline area", moved.area, "greater than 0")
            return self._drawn(moved)
        except BadValue as why:
            raise BadValue(
                "outline offset", {**amounts, "others": rest}, f"amounts that keep it whole ({why})"
            ) from None

    def rounded(self, radius: Mapping[Any, Length] | Length) -> Outline:
        """Return the outline with rounded corners.

        Parameters
        ----------
        radius : length, or mapping of corner to length
            One radius for every corner, or radii by corner: "front/right" or ("front", "right").

        Returns
        -------
        Outline
            The new arcs are named "front-right". An edge used up to the last bit is left out.
        """
        return self._drawn(rounded_loop(self.loop, radius))

    def clipped(self, size: Mapping[Any, Length | Place] | Length) -> Outline:
        """Return the outline with straight-clipped corners.

        Parameters
        ----------
        size : length, or mapping of corner to length or (length, length)
            Length taken off along both edges; a pair gives the edge before the corner and the one
            after it, each measured along the edge. Corners as in `rounded`.

        Returns
        -------
        Outline
            The new edges are named "front-right".
        """
        return self._drawn(clipped_loop(self.loop, size))

    def stretched(self, at: Length, by: Length, axis: Axis = "x") -> Outline:
        """Return the outline drawn out at a line: all that lies beyond it moves, what crosses it gets longer.

        Parameters
        ----------
        at : length
            Where the line stands, along the axis; it may cross lines, no arcs.
        by : length
            How far what lies beyond moves along the axis; negative to draw in.
        axis : {"x", "y"}
            Along which.

        Raises
        ------
        BadValue
            An arc at the line, a corner where metal would be taken out, or an outline that does not cross the line.
        """
        line = stretch_at(at, by, axis)
        line.across(self.loop, "the outline")
        return self._drawn(line.loop(self.loop, "the outline"))

    def without(self, name: str) -> Outline:
        """Return the outline less one edge, its neighbours run on until they meet."""
        self.edge(name)
        return self._drawn(without_edge(self.loop, self.names.index(name)))

    def renamed(self, names: Mapping[str, str]) -> Outline:
        """Return the outline with some edges renamed: {old: new}."""
        of_kind(names, Mapping, "renamed", "{old name: new name}")
        for name in names:
            self.edge(name)
        return self._drawn(Loop(tuple(replace(e, name=names.get(e.name, e.name)) for e in self.loop.edges)))

    def _drawn(self, loop: Loop) -> Outline:
        """Return a plain outline that was drawn from this one."""
        return Outline(loop=loop, findings=self.findings)

    def __repr__(self) -> str:
        x0, y0, x1, y1 = self.box
        return f"<outline {x1 - x0:.2f} x {y1 - y0:.2f} mm: {', '.join(self.names)}>"

    def _repr_svg_(self) -> str:
        return outline_svg(self.loop)


@dataclass(frozen=True, slots=True)
class Contour:
    """A kind: a closed loop, given as such, as an outline, or in a file as rows [x, y, bulge] with or without a name."""

    valid: str = "an Outline, or two or more rows [x, y, bulge] or [x, y, bulge, name]"

    def read(self, value: Any, field: str) -> Loop:
        """Return the loop; rows are refused where they cross, stay open or enclose nothing."""
        loop = getattr(value, "loop", value)
        if isinstance(loop, Loop):
            return loop
        if not isinstance(value, list) or not all(isinstance(r, list) and len(r) in (3, 4) for r in value):
            raise BadValue(field, value, self.valid)
        rows = [[units.number(v, "", field) for v in row[:3]] for row in value]
        names = [str(row[3]) if len(row) == 4 else "" for row in value]
        ends = [(row[0], row[1]) for row in (*rows[1:], *rows[:1])]
        edges = [Edge((r[0], r[1]), end, r[2], name) for r, end, name in zip(rows, ends, names, strict=True)]
        Outline.from_edges(edges)
        return Loop(tuple(edges))


def _checked(loop: Loop) -> Loop:
    """Return the loop named, closed and anticlockwise, or raise BadValue for what is wrong with it."""
    if not isinstance(loop, Loop) or not all(isinstance(e, Edge) for e in loop.edges):
        raise BadValue("outline loop", loop, "a Loop, or use Outline.polygon or Outline.from_edges")
    edges = [e if e.name else replace(e, name=f"edge {i + 1}") for i, e in enumerate(loop.edges)]
    if len(edges) > MOST_EDGES:
        raise BadValue(
            "outline edges", len(edges), f"at most {MOST_EDGES}; lines and arcs instead of many short chords"
        )
    if len(edges) < 2:
        raise BadValue("outline edges", len(edges), "at least three lines, or two edges of which one is an arc")
    seen: set[str] = set()
    for e in edges:
        check_edge_name(e.name)
        if e.name in seen:
            raise BadValue("outline names", e.name, "each edge name once")
        seen.add(e.name)
        for value in (*e.start, *e.end):
            if not abs(value) <= FARTHEST:
                raise BadValue(f"edge '{e.name}'", value, f"finite coordinates within {FARTHEST:.0f} mm")
        if not math.isfinite(e.bulge):
            raise BadValue(f"edge '{e.name}' bulge", e.bulge, "a finite number, 0 for a line")
        if e.chord <= SAME_POINT:
            raise BadValue(f"edge '{e.name}'", (e.start, e.end), "two different ends; this point is given twice")
        if not e.is_line and e.radius > 100 * FARTHEST:
            raise BadValue(f"edge '{e.name}' bulge", e.bulge, f"0 for a line, or a radius within {100 * FARTHEST:g} mm")
    for i, e in enumerate(edges):
        following = edges[(i + 1) % len(edges)]
        if math.dist(e.end, following.start) > SAME_POINT:
            raise BadValue(f"edge '{e.name}' end", e.end, f"the start {following.start} of edge '{following.name}'")
        edges[i] = replace(e, end=following.start)
    closed = Loop(tuple(edges))
    hit = self_crossing(closed)
    x0, y0 = closed.points[0]
    spread = sum(abs((x - x0) * (e.end[1] - y0) - (y - y0) * (e.end[0] - x0)) for e in closed for x, y in (e.start,))
    no_area = abs(closed.area) <= SAME_POINT * closed.length
    if no_area and (hit is None or spread <= SAME_POINT * closed.length):
        raise BadValue("outline area", closed.area, "corners that enclose an area; these lie on one line")
    if hit:
        a, b, (x, y) = hit
        valid = "an outline that neither crosses nor touches itself; this is where it does"
        raise BadValue(f"edges '{a.name}' and '{b.name}'", (round(x, 3), round(y, 3)), valid)
    return closed if closed.area > 0 else closed.reversed()


_EDGE_NAME: Final = Word(r"(?! )[\w .+#-]{1,60}(?<! )", "1 to 60 letters, digits, blanks or one of _ - . + #")


def check_edge_name(name: object, field: str = "edge name") -> str:
    """Return a name fit for files, tables and labels, or raise BadValue."""
    return _EDGE_NAME.read(name, field)
