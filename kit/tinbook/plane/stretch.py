"""A line across a panel at which it is drawn out or in: what lies beyond moves, what crosses the line gets longer."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, Final, Literal, TypeAlias

from tinbook import units
from tinbook.errors import BadValue
from tinbook.plane.loops import Edge, Loop, Point
from tinbook.tolerances import SAME_POINT
from tinbook.values import dataclass

Axis: TypeAlias = Literal["x", "y"]
AXES: Final[dict[str, Point]] = {"x": (1.0, 0.0), "y": (0.0, 1.0)}
PARALLEL: Final = 1e-9
"""How far the cosine of two directions may be off 1 for them to count as parallel."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """A line across a panel, and how far everything beyond it moves.

    Parameters
    ----------
    way : (float, float)
        Unit vector square to the line, in the panel's coordinates; beyond the line is where it points.
    at : float
        Where the line stands along `way`, mm.
    by : float
        mm; negative to draw in.
    """

    way: Point
    at: float
    by: float

    def along(self, p: Point) -> float:
        """Return how far a point lies along the way, mm."""
        return p[0] * self.way[0] + p[1] * self.way[1]

    def beyond(self, p: Point) -> bool:
        """Whether a point moves."""
        return self.along(p) > self.at

    def point(self, p: Point) -> Point:
        """Return where a point goes."""
        if not self.beyond(p):
            return p
        return p[0] + self.by * self.way[0], p[1] + self.by * self.way[1]

    def crosses(self, box: tuple[float, float, float, float]) -> bool:
        """Whether the line runs through a box."""
        ends = [self.along((x, y)) for x in (box[0], box[2]) for y in (box[1], box[3])]
        return min(ends) < self.at - SAME_POINT and max(ends) > self.at + SAME_POINT

    def across(self, loop: Loop, what: str) -> None:
        """Refuse a line with nothing beyond it, or nothing before it.

        Raises
        ------
        BadValue
            Says on which side something must lie.
        """
        for side, there in (("beyond", True), ("before", False)):
            if not any(self.beyond(p) is there for p in loop.points):
                raise BadValue("stretched at", self.at, f"a line with a part of {what} {side} it")

    def spare(self, box: tuple[float, float, float, float], what: str) -> None:
        """Refuse what reaches into the strip that is taken out when the line is drawn in.

        Raises
        ------
        BadValue
            Names what stands there.
        """
        ends = [self.along((x, y)) for x in (box[0], box[2]) for y in (box[1], box[3])]
        if self.by < 0.0 and min(ends) <= self.at - SAME_POINT and max(ends) > self.at + self.by + SAME_POINT:
            raise BadValue("stretched by", self.by, f"a strip of {-self.by:g} mm before the line without {what}")

    def loop(self, loop: Loop, what: str) -> Loop:
        """Return a loop drawn out.

        Parameters
        ----------
        loop : Loop
            In the panel's coordinates.
        what : str
            What it is, for messages.

        Raises
        ------
        BadValue
            An arc crosses the line, or a corner lies where metal would be taken out.
        """
        for e in loop.edges:
            ends = sorted(map(self.along, (e.start, e.end)))
            # Only an arc whose ends lie on one side can bulge over the line without crossing it end to end.
            if not e.is_line and (ends[0] <= self.at < ends[1] or self.crosses(edge_box(e))):
                valid = f"a line that crosses no arc; {what} has one there, edge '{e.name}'"
                raise BadValue("stretched at", round(self.at, 3), valid)
            gone = self.at + min(self.by, 0.0)
            if gone < self.along(e.start) <= self.at:
                valid = f"a strip of {-self.by:g} mm before the line without a corner; {what} has one in it"
                raise BadValue("stretched by", self.by, valid)
        return Loop(tuple(replace(e, start=self.point(e.start), end=self.point(e.end)) for e in loop.edges))

    def on(self, edge: Edge) -> Stretch | None:
        """Return the line as a panel sees it that hangs on an edge; None where the edge runs across the axis or leans."""
        (ax, ay), (bx, by) = edge.start, edge.end
        run = ((ax - bx) / edge.length, (ay - by) / edge.length)  # from the panel's left end, which is the edge's end
        sign = run[0] * self.way[0] + run[1] * self.way[1]
        if not edge.is_line or abs(abs(sign) - 1.0) > PARALLEL:
            return None
        return Stretch((1.0 if sign > 0 else -1.0, 0.0), self.at - self.along(edge.end), self.by)


def edge_box(edge: Edge) -> tuple[float, float, float, float]:
    """Return the bounding box of an edge (xmin, ymin, xmax, ymax)."""
    return Loop((edge, Edge(edge.end, edge.start))).box


def stretch_at(at: Any, by: Any, axis: Any) -> Stretch:
    """Return the line of a base panel from what a caller gives; see `Outline.stretched`."""
    if axis not in ("x", "y"):
        raise BadValue("stretched axis", axis, '"x" or "y"')
    amount = units.length(by, "stretched by")
    if amount == 0.0:
        raise BadValue("stretched by", by, "a length other than 0 mm; negative to draw in")
    return Stretch(AXES[axis], units.length(at, "stretched at"), amount)
