"""What a part may carry: folds, holes, beads, texts, etched lines. Frozen values, checked when they are made."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Literal, get_args

from tinbook.errors import BadValue
from tinbook.flatpattern import Direction
from tinbook.plane.loops import Loop, Point

LegTo = Literal["outside", "inside", "tangent"]
ReliefKind = Literal["square", "round", "tear"]
CornerKind = Literal["open", "closed", "lapped"]
HemKind = Literal["closed", "open", "teardrop"]
HoleUse = Literal[
    "plug weld",
    "tack screw",
    "nut insert",
    "bolt",
    "press nut",
    "standoff",
    "drawn hole",
    "drain",
    "cut-out",
    "mark and drill",
]
PRESSED = ("press nut", "standoff", "drawn hole")
"""Uses whose hole in the blank is not the one that a screw meets: something is pressed in, or the hole is drawn."""

CHILD_EDGES = ("left", "right", "end")
SMALLEST_HOLE = 0.1
"""mm: no drill and no beam makes a smaller one in sheet (own proposal)."""
MOST_HOLES = 10_000
"""Holes of a part: what makes it and its pictures in seconds (own proposal)."""
MOST_EDGES = 10_000
"""Edges of an outline or a cut-out: what makes its solid in seconds (own proposal)."""
MOST_CURLED = 330.0
"""Degrees that an edge can be curled round a bar before its tip runs into the sheet it came from."""


def one_of(value: str, known: tuple[str, ...], what: str) -> None:
    """Refuse a word that is not among the known ones."""
    if not isinstance(value, str) or value not in known:
        raise BadValue(what, value, "one of: " + ", ".join(known))


def word(value: object, what: str, *, needed: bool = False) -> None:
    """Refuse what is no text; nothing may be given where it is not needed."""
    if not isinstance(value, str) and (needed or value is not None):
        raise BadValue(what, value, "a name")


def at_least(value: float | None, low: float, what: str, unit: str = "mm", *, above: bool = False) -> None:
    """Refuse a number below `low` (or at it, with `above`), or not finite."""
    if value is None:
        return
    if not math.isfinite(value) or value < low or (above and value == low):
        raise BadValue(what, value, f"{'greater than' if above else 'at least'} {low:g} {unit}".strip())


@dataclass(frozen=True, slots=True, kw_only=True)
class Relief:
    """What is cut away beside the end of a fold.

    Parameters
    ----------
    kind : {"square", "round", "tear"}
        Shape of the notch; a tear is a slit.
    width : float or None
        mm; None for the larger of the thickness and 1 mm.
    depth : float or None
        How far it reaches past the bend line, mm; None for half the
        thickness, at least 0.5 mm (a round one at least half its width).
    """

    kind: ReliefKind = "square"
    width: float | None = None
    depth: float | None = None

    def __post_init__(self) -> None:
        one_of(self.kind, ("square", "round", "tear"), "relief")
        at_least(self.width, 0.0, "relief width", above=True)
        at_least(self.depth, 0.0, "relief depth")


@dataclass(frozen=True, slots=True, kw_only=True)
class Corner:
    """How two returns meet at a corner of their panel.

    Parameters
    ----------
    kind : {"open", "closed", "lapped"}
        open: both end at the bend lines' crossing; closed: their inner edges
        meet with a gap, for a weld; lapped: this one runs past the end of the other.
    gap : float or None
        mm between the two; None for 0.5 mm.
    """

    kind: CornerKind = "open"
    gap: float | None = None

    def __post_init__(self) -> None:
        one_of(self.kind, ("open", "closed", "lapped"), "corner")
        at_least(self.gap, 0.0, "corner gap", above=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class Hem:
    """A folded-back edge.

    Parameters
    ----------
    kind : {"closed", "open", "teardrop"}
        closed: flattened; open: round with a gap; teardrop: round, its tip back on the sheet.
    gap : float or None
        Clear height inside, mm (for a hem that hooks over a sheet: what it must
        catch); None for the smallest (closed), one thickness (open), two (teardrop).
    """

    kind: HemKind = "closed"
    gap: float | None = None

    def __post_init__(self) -> None:
        one_of(self.kind, ("closed", "open", "teardrop"), "hem")
        at_least(self.gap, 0.0, "hem gap", above=True)
        if self.kind == "closed" and self.gap is not None:
            raise BadValue("hem gap", self.gap, "none for a closed hem; an open hem takes a gap")


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
        Turned through, degrees, above 0 up to 180; up to 330 for a curl.
    leg : (float, float)
        Length at its left and right end, mm, both greater than 0.
    to : {"outside", "inside", "tangent"}
        What the length is measured from.
    start, stop : float or None
        Stretch of the edge, mm from the edge's start as it is drawn; None for its ends.
    radius : float or None
        Inside radius that the part insists on, mm.
    tool, rule : str or None
        Tool and bend rule that the part insists on.
    skew : (float, float)
        Lean of the left and right end of the leg, degrees, positive widens the leg.
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

    name: str
    panel: str
    edge: str
    direction: Direction = "up"
    angle: float = 90.0
    leg: tuple[float, float]
    to: LegTo = "outside"
    start: float | None = None
    stop: float | None = None
    radius: float | None = None
    tool: str | None = None
    rule: str | None = None
    relief: Relief = field(default_factory=Relief)
    corner: Corner = field(default_factory=Corner)
    skew: tuple[float, float] = (0.0, 0.0)
    hem: Hem | None = None
    shape: Loop | None = None
    strip: Loop | None = None
    curl: bool = False

    @property
    def edges(self) -> tuple[str, ...]:
        """Names of the edges of the panel it makes."""
        if self.shape is None:
            return CHILD_EDGES
        return tuple(e.name for e in self.shape.edges if e.name not in ("", "base"))

    def __post_init__(self) -> None:
        me = f"fold {self.name!r}"
        if self.shape is not None:
            _check_shape(self.shape, me)
        if self.strip is not None:
            _check_strip(self, me)
        one_of(self.direction, ("up", "down"), f"{me} direction")
        one_of(self.to, ("outside", "inside", "tangent"), f"{me} to")
        most = MOST_CURLED if self.curl else 180.0
        if not (math.isfinite(self.angle) and 0.0 < self.angle <= most):
            raise BadValue(f"{me} angle", self.angle, f"greater than 0 and at most {most:g} deg, turned through")
        for form, kind in ((self.relief, Relief), (self.corner, Corner)):
            if not isinstance(form, kind):
                raise BadValue(f"{me} {kind.__name__.lower()}", form, f"a kind by name, or a {kind.__name__}")
        word(self.tool, f"{me} tool")
        word(self.rule, f"{me} rule")
        if self.curl:
            _check_curl(self, me)
        for leg in self.leg:
            at_least(leg, 0.0, f"{me} leg", above=True)
        at_least(self.radius, 0.0, f"{me} radius", above=True)
        at_least(self.start, 0.0, f"{me} start")
        if self.stop is not None:
            at_least(self.stop, self.start or 0.0, f"{me} stop", above=True)
        for lean in self.skew:
            if not (math.isfinite(lean) and -75.0 <= lean <= 75.0):
                raise BadValue(f"{me} skew", lean, "between -75 and 75 deg")


@dataclass(frozen=True, slots=True, kw_only=True)
class Hole:
    """One opening in a panel, in the panel's own coordinates.

    Parameters
    ----------
    centre : (float, float)
        mm; for a cut-out the place its loop's own origin goes to.
    dia : float or None
        mm, also the width of a slot; None to take it from the shop's fixing table by `use` and `size`.
    length : float or None
        Over-all length of a slot, mm; None for a round hole.
    turn : float
        Degrees anticlockwise.
    loop : Loop or None
        A cut-out of any shape.
    undersize : float or None
        Diameter that the cutter makes of a round hole which is drilled or reamed out to `dia` afterwards, mm.
    """

    name: str
    panel: str
    centre: Point
    dia: float | None = None
    length: float | None = None
    turn: float = 0.0
    loop: Loop | None = None
    use: HoleUse = "cut-out"
    size: str | None = None
    undersize: float | None = None

    def __post_init__(self) -> None:
        me = f"hole {self.name!r}"
        _check_use(self.use, self.dia, self.size, me, shaped=self.loop is not None)
        at_least(self.undersize, SMALLEST_HOLE, f"{me} undersize")
        if self.undersize is not None and (self.length is not None or self.loop is not None):
            raise BadValue(f"{me} undersize", self.undersize, "none: only a round hole is drilled out")
        if self.undersize is not None and self.dia is not None and self.undersize >= self.dia:
            raise BadValue(f"{me} undersize", self.undersize, f"less than its diameter of {self.dia:g} mm")
        if self.length is not None and (self.dia is None or self.length <= self.dia):
            raise BadValue(f"{me} length", self.length, f"longer than the slot is wide ({self.dia} mm)")
        if self.loop is not None and len(self.loop) > MOST_EDGES:
            raise BadValue(
                f"{me} edges", len(self.loop), f"at most {MOST_EDGES}; lines and arcs instead of many chords"
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class HoleRow:
    """Holes along one or several edges, spaced evenly from both ends.

    Parameters
    ----------
    edges : tuple of (str, str)
        (panel, edge) pairs.
    pitch : float or None
        mm; each edge gets the whole number of holes whose even pitch comes nearest.
    count : int or None
        Holes over all edges together, by their joined length.
    inset : float
        mm from the edge as drawn, inward.
    ends : float or None
        mm from each edge's end to the first hole; None for half the pitch, counted
        from where the row turns the corner if it goes on along the next edge.
    """

    name: str
    edges: tuple[tuple[str, str], ...]
    dia: float | None = None
    pitch: float | None = None
    count: int | None = None
    inset: float = 10.0
    ends: float | None = None
    use: HoleUse = "plug weld"
    size: str | None = None

    def __post_init__(self) -> None:
        me = f"holes {self.name!r}"
        _check_use(self.use, self.dia, self.size, me)
        if not self.edges:
            raise BadValue(f"{me} edges", self.edges, "one edge or more")
        if (self.pitch is None) == (self.count is None):
            raise BadValue(f"{me} pitch, count", (self.pitch, self.count), "one of the two, not both")
        at_least(self.pitch, 0.0, f"{me} pitch", above=True)
        at_least(self.inset, 0.0, f"{me} inset", above=True)
        at_least(self.ends, 0.0, f"{me} ends", above=True)
        if self.count is not None and not 1 <= self.count <= MOST_HOLES:
            raise BadValue(f"{me} count", self.count, f"1 to {MOST_HOLES}")


@dataclass(frozen=True, slots=True, kw_only=True)
class HoleGrid:
    """A rectangular pattern of round holes.

    Parameters
    ----------
    first : (float, float)
        Centre of the first hole, mm.
    counts : (int, int)
        Holes along x and y.
    steps : (float, float)
        mm between centres along x and y.
    """

    name: str
    panel: str
    first: Point
    counts: tuple[int, int]
    steps: tuple[float, float]
    dia: float | None = None
    use: HoleUse = "cut-out"
    size: str | None = None

    def __post_init__(self) -> None:
        me = f"holes {self.name!r}"
        _check_use(self.use, self.dia, self.size, me)
        if len(self.counts) != 2 or any(not 1 <= n <= 1000 for n in self.counts):
            raise BadValue(f"{me} counts", self.counts, "two whole numbers from 1 to 1000")
        if self.counts[0] * self.counts[1] > MOST_HOLES:
            raise BadValue(f"{me} counts", self.counts, f"at most {MOST_HOLES} holes in a part")
        for step in self.steps:
            at_least(step, 0.0, f"{me} steps", above=True)


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


def _check_use(use: str, dia: float | None, size: str | None, me: str, *, shaped: bool = False) -> None:
    one_of(use, get_args(HoleUse), f"{me} use")
    at_least(dia, SMALLEST_HOLE, f"{me} dia")
    word(size, f"{me} size")
    if shaped:
        return
    if dia is None and use in ("drain", "cut-out", "mark and drill"):
        raise BadValue(f"{me} dia", dia, f"a diameter; a hole for {use!r} has none in the fixing tables")
    if dia is None and size is None and use in ("nut insert", "bolt", *PRESSED):
        raise BadValue(f"{me} size", size, "a thread size such as 'M6', or a diameter")
