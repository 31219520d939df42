"""What a part may carry besides forms: folds and holes. Frozen values, checked when they are made.

Unit, limits and choices of each field stand in its annotation (`tinbook.fields`); the methods of `Part`, the part file
and every message take them from there. Lengths and angles may be given as text with a unit.
"""

from __future__ import annotations

from typing import Annotated, Literal, TypeAlias, TypedDict

from tinbook.errors import BadValue
from tinbook.fields import Count, Inside, Maybe, Number, Pair, Several, Text, check_fields, documented
from tinbook.fields.kinds import FromZero, Positive
from tinbook.flatpattern import Direction
from tinbook.part.names import NAME
from tinbook.part.outline import MOST_EDGES, Contour
from tinbook.plane.loops import Loop, Move, Point, circle, slot
from tinbook.units import Length
from tinbook.values import dataclass

LegTo = Literal["outside", "inside", "tangent"]
ReliefKind = Literal["square", "round", "tear"]
CornerKind = Literal["open", "closed", "lapped"]
HemKind = Literal["closed", "open", "teardrop"]
HoleUse = Literal[
    "plug weld", "tack screw", "nut insert", "bolt", "rivet", "press nut", "standoff", "drawn hole", "drain", "cut-out",
    "mark and drill",
]  # fmt: skip
PRESSED = ("press nut", "standoff", "drawn hole")
"""Uses whose hole in the blank differs from the one for the screw: something is pressed in, or the hole is drawn."""

CHILD_EDGES = ("left", "right", "end")
SMALLEST_HOLE = 0.1
"""mm: no drill and no beam makes a smaller one in sheet (own proposal)."""
MOST_HOLES = 10_000
"""Holes of a part: what makes it and its pictures in seconds (own proposal)."""
MOST_CURLED = 330.0
"""Degrees that an edge can be curled round a bar before its tip runs into the sheet it came from."""

Diameter: TypeAlias = Annotated[float, Number("mm", least=SMALLEST_HOLE)]
Degrees: TypeAlias = Annotated[float, Number("deg")]
Name: TypeAlias = Annotated[str, NAME]
At: TypeAlias = Annotated[Point, Pair(Number("mm"))]


LoopField: TypeAlias = Annotated[Loop, Contour()]


@documented
@dataclass(frozen=True, slots=True, kw_only=True)
class Relief:
    """The notch beside the end of a fold.

    Parameters
    ----------
    kind : {"square", "round", "tear"}
        Shape of the notch; a tear is a slit.
    width : float or None
        None for the larger of the thickness and 1 mm.
    depth : float or None
        How far it reaches past the bend line; None for half the thickness, at least 0.5 mm (a round one at least
        half its width).
    """

    kind: ReliefKind = "square"
    width: Positive | None = None
    depth: FromZero | None = None

    def __post_init__(self) -> None:
        check_fields(self, "relief")


@documented
@dataclass(frozen=True, slots=True, kw_only=True)
class Corner:
    """How two returns meet at a corner of their panel.

    Parameters
    ----------
    kind : {"open", "closed", "lapped"}
        open: both end at the bend lines' crossing; closed: their inner edges
        meet with a gap, for a weld; lapped: this one runs past the end of the other.
    gap : float or None
        Between the two; None for 0.5 mm.
    """

    kind: CornerKind = "open"
    gap: Positive | None = None

    def __post_init__(self) -> None:
        check_fields(self, "corner")


@documented
@dataclass(frozen=True, slots=True, kw_only=True)
class Hem:
    """A folded-back edge.

    Parameters
    ----------
    kind : {"closed", "open", "teardrop"}
        closed: flattened; open: round with a gap; teardrop: round, its tip back on the sheet.
    gap : float or None
        Clear height inside (for a hem that hooks over a sheet: what it must
        catch); None for the smallest (closed), the sheet's largest thickness (open), one thickness (teardrop).
    """

    kind: HemKind = "closed"
    gap: Positive | None = None

    def __post_init__(self) -> None:
        check_fields(self, "hem")
        if self.kind == "closed" and self.gap is not None:
            raise BadValue("hem gap", self.gap, "none for a closed hem; an open hem takes a gap")


@documented
@dataclass(frozen=True, slots=True, kw_only=True)
class Fold:
    """A fold on a straight edge of a panel, and the panel (leg) it makes.

    Parameters
    ----------
    name : str
        Name of the new panel; its edges are left, right, end.
    panel, edge : str
        Where it hangs.
    direction : {"up", "down"}
        Toward the up side of the sheet or away from it.
    angle : float
        Turned through; at most 180 degrees unless it is a curl.
    leg : (float, float)
        Length at its left and right end, seen with the fold below; one length stands for both.
    to : {"outside", "inside", "tangent"}
        What the length is measured from.
    start, stop : float or None
        Stretch of the edge, from the edge's start as it is drawn; None for its ends.
    radius : float or None
        Inside radius that the part insists on.
    tool, rule : str or None
        Tool and bend rule that the part insists on.
    relief, corner : Relief, Corner
        Notches beside its ends, and how it meets a neighbouring return; the kind alone will do.
    skew : (float, float)
        Lean of the left and right end of the leg, positive widens the leg.
    hem : Hem or None
        Folded back on itself.
    shape : Loop or None
        A leg of any outline instead, in its own frame (x from the left end of the parent's
        edge, y outward from the mould line), with an edge named "base" on y = 0.
    strip : Loop or None
        Outline of the bend between its tangent lines where its ends are not square (only with a shape): x as in
        the leg, y from 0 up; one straight edge named "parent" on y = 0 and one named "child" on the far line.
        Drawn to one width; where the tool gives another it is drawn out across the bend.
    curl : bool
        Formed round a bar of `radius` instead of by a folding tool: rolled corners, eyes round a pin.
    """

    name: Name
    panel: str
    edge: str
    direction: Direction = "up"
    angle: Annotated[float, Number("deg", above=0, most=MOST_CURLED)] = 90.0
    leg: Annotated[tuple[float, float], Pair(Number("mm", above=0), both=True, names=("left", "right"))]
    to: LegTo = "outside"
    start: FromZero | None = None
    stop: Positive | None = None
    radius: Positive | None = None
    tool: str | None = None
    rule: str | None = None
    relief: Annotated[Relief, Inside(Relief)] = Relief()
    corner: Annotated[Corner, Inside(Corner)] = Corner()
    skew: Annotated[
        tuple[float, float], Pair(Number("deg", least=-75, most=75), both=True, names=("left", "right"))
    ] = (0.0, 0.0)
    hem: Annotated[Hem | None, Maybe(Inside(Hem))] = None
    shape: LoopField | None = None
    strip: LoopField | None = None
    curl: bool = False

    @property
    def edges(self) -> tuple[str, ...]:
        """Names of the edges of the panel it makes."""
        if self.shape is None:
            return CHILD_EDGES
        return tuple(e.name for e in self.shape.edges if e.name not in ("", "base"))

    def __post_init__(self) -> None:
        me = f"fold {self.name!r}"
        check_fields(self, me)
        if self.shape is not None:
            _check_shape(self.shape, me)
        if self.strip is not None:
            _check_strip(self, me)
        if self.curl:
            _check_curl(self, me)
        elif self.angle > 180.0:
            raise BadValue(f"{me} angle", self.angle, "greater than 0 and at most 180 deg, turned through")
        if self.stop is not None and self.stop <= (self.start or 0.0):
            raise BadValue(f"{me} stop", self.stop, f"greater than {self.start or 0.0:g} mm, its start")


class FoldOptions(TypedDict, total=False):
    """What every method that folds takes besides its own parameters: fields of `Fold`."""

    start: Length | None
    stop: Length | None
    tool: str | None
    rule: str | None
    relief: ReliefKind | Relief
    corner: CornerKind | Corner
    name: str | None


@documented
@dataclass(frozen=True, slots=True, kw_only=True)
class Hole:
    """One opening in a panel, in the panel's own coordinates.

    Parameters
    ----------
    name, panel : str
        Its own name; the panel that it is drawn on.
    centre : (float, float)
        For a cut-out the place its loop's own origin goes to.
    dia : float or None
        Also the width of a slot; None to take it from the shop's fixing table by `use` and `size`.
    length : float or None
        Over-all length of a slot; None for a round hole.
    turn : float
        Anticlockwise.
    loop : Loop or None
        A cut-out of any shape.
    use : str
        What it is for.
    size : str or None
        Thread size for a bolt or an insert.
    undersize : float or None
        Diameter that the cutter makes of a round hole which is drilled or reamed out to `dia` afterwards.
    """

    name: Name
    panel: str
    centre: At
    dia: Diameter | None = None
    length: Positive | None = None
    turn: Degrees = 0.0
    loop: LoopField | None = None
    use: HoleUse = "cut-out"
    size: str | None = None
    undersize: Diameter | None = None

    def __post_init__(self) -> None:
        me = f"hole {self.name!r}"
        check_fields(self, me)
        if self.loop is None:
            _check_use(self.use, self.dia, self.size, me)
        elif len(self.loop) > MOST_EDGES:
            most = f"at most {MOST_EDGES}; lines and arcs instead of many chords"
            raise BadValue(f"{me} edges", len(self.loop), most)
        if self.undersize is not None and (self.length is not None or self.loop is not None):
            raise BadValue(f"{me} undersize", self.undersize, "none: only a round hole is drilled out")
        if self.undersize is not None and self.dia is not None and self.undersize >= self.dia:
            raise BadValue(f"{me} undersize", self.undersize, f"less than its diameter of {self.dia:g} mm")
        if self.length is not None and (self.dia is None or self.length <= self.dia):
            raise BadValue(f"{me} length", self.length, f"longer than the slot is wide ({self.dia} mm)")

    def outline(self, dia: float) -> Loop:
        """Return its outline in its panel; `dia` is its diameter or width, mm, as the part or the shop's tables give it."""
        if self.loop is not None:
            return self.loop.moved(Move(u=self.centre[0], v=self.centre[1]).after(Move.turn(self.turn)))
        return circle(self.centre, dia) if self.length is None else slot(self.centre, self.length, dia, self.turn)


class HoleOptions(TypedDict, total=False):
    """What every method that makes holes takes besides its own parameters."""

    use: HoleUse
    size: str | None
    name: str | None


@documented
@dataclass(frozen=True, slots=True, kw_only=True)
class HoleRow:
    """Holes along one or several edges, spaced evenly from both ends.

    Parameters
    ----------
    name : str
        Of the row.
    edges : tuple of (str, str)
        (panel, edge) pairs.
    dia, use, size
        As for `Hole`.
    pitch : float or None
        Each edge gets the whole number of holes whose even pitch comes nearest.
    count : int or None
        Holes over all edges together, by their joined length.
    inset : float
        From the edge as drawn, inward.
    ends : float or None
        From each edge's end to the first hole; None for half the pitch, counted
        from where the row turns the corner if it goes on along the next edge.
    """

    name: Name
    edges: Annotated[tuple[tuple[str, str], ...], Several(Pair(Text(), names=("panel", "edge")), what="edges")]
    dia: Diameter | None = None
    pitch: Positive | None = None
    count: Annotated[int | None, Maybe(Count(1, MOST_HOLES))] = None
    inset: Positive = 10.0
    ends: Positive | None = None
    use: HoleUse = "plug weld"
    size: str | None = None

    def __post_init__(self) -> None:
        me = f"holes {self.name!r}"
        check_fields(self, me)
        _check_use(self.use, self.dia, self.size, me)
        if (self.pitch is None) == (self.count is None):
            raise BadValue(f"{me} pitch, count", (self.pitch, self.count), "one of the two, not both")


@documented
@dataclass(frozen=True, slots=True, kw_only=True)
class HoleGrid:
    """A rectangular pattern of round holes.

    Parameters
    ----------
    name, panel : str
        Its own name; the panel that it is drawn on.
    first : (float, float)
        Centre of the first hole.
    counts : (int, int)
        Holes along x and y.
    steps : (float, float)
        Between centres along x and y.
    dia, use, size
        As for `Hole`.
    """

    name: Name
    panel: str
    first: At
    counts: Annotated[tuple[int, int], Pair(Count(1, 1000))]
    steps: Annotated[tuple[float, float], Pair(Number("mm", above=0))]
    dia: Diameter | None = None
    use: HoleUse = "cut-out"
    size: str | None = None

    def __post_init__(self) -> None:
        me = f"holes {self.name!r}"
        check_fields(self, me)
        _check_use(self.use, self.dia, self.size, me)
        if self.counts[0] * self.counts[1] > MOST_HOLES:
            raise BadValue(f"{me} counts", self.counts, f"at most {MOST_HOLES} holes in a part")

    @property
    def places(self) -> tuple[Point, ...]:
        """Centres of its holes, row by row."""
        (x, y), (dx, dy), (nx, ny) = self.first, self.steps, self.counts
        return tuple((x + i * dx, y + j * dy) for j in range(ny) for i in range(nx))


def _check_curl(fold: Fold, me: str) -> None:
    if fold.radius is None:
        raise BadValue(f"{me} radius", None, "the radius of the bar that it is curled round")
    if fold.tool is not None or fold.hem is not None:
        raise BadValue(f"{me} tool", fold.tool or fold.hem, "neither tool nor hem: a curl is formed round a bar")


def _check_shape(shape: Loop, me: str) -> None:
    base = [e for e in shape.edges if e.name == "base"]
    if len(base) != 1 or not base[0].is_line or abs(base[0].start[1]) > 1e-9 or abs(base[0].end[1]) > 1e-9:
        raise BadValue(f"{me} shape", [e.name for e in shape.edges], "one straight edge named 'base' on y = 0")
    if shape.area <= 0 or shape.box[1] < -1e-9:
        raise BadValue(f"{me} shape", shape.box, "anticlockwise and wholly at y >= 0")


def _check_strip(fold: Fold, me: str) -> None:
    assert fold.strip is not None
    edges = {e.name: e for e in fold.strip.edges}
    ends = [edges.get("parent"), edges.get("child")]
    top = fold.strip.box[3]
    if fold.shape is None:
        raise BadValue(f"{me} strip", "an outline", "none without a shape")
    if fold.strip.area <= 0 or any(
        e is None or not e.is_line or max(abs(e.start[1] - y), abs(e.end[1] - y)) > 1e-9
        for e, y in zip(ends, (0.0, top), strict=True)
    ):
        raise BadValue(f"{me} strip", list(edges), "anticlockwise, 'parent' straight on y = 0, 'child' on the far line")


def _check_use(use: str, dia: float | None, size: str | None, me: str) -> None:
    if dia is None and use in ("drain", "cut-out", "mark and drill"):
        raise BadValue(f"{me} dia", dia, f"a diameter; a hole for {use!r} has none in the fixing tables")
    if dia is None and size is None and use in ("nut insert", "bolt", "rivet", *PRESSED):
        raise BadValue(f"{me} size", size, "a thread size such as 'M6', of a rivet '4.8', or a diameter of the hole")
