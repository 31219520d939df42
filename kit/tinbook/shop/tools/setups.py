"""A setup as a value: what stands round a fold in the machine, how it is put together, and how it moves."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import field, replace
from typing import Any, Final, Literal, NamedTuple, Protocol

import shapely

from tinbook.plane.loops import Array
from tinbook.shop.sections import Punch, Section
from tinbook.shop.tools.machine import Machine
from tinbook.shop.tools.outlines import outline_mark
from tinbook.shop.tools.strokes import BendStroke
from tinbook.values import dataclass

SHORT: Final = 12.0
"""mm: a punch may be shorter than the fold by this much at most, half of it at each end (common practice)."""
SPARE: Final = 1000.0
"""mm: how much longer than the fold a tool is taken to be whose length nobody stated."""

AtBack = Literal["parent", "leg"]
"""Which side of the fold lies at the back of the machine, or is clamped: the panel it hangs on, or the leg."""


class ToolRoom(Protocol):
    """What a tool looks up in its shop."""

    @property
    def punches(self) -> tuple[Punch, ...]:
        """All punches."""

    def section(self, key: str) -> Section:
        """Return a cross-section by key."""

    def machine(self, key: str) -> Machine:
        """Return a machine by key."""


@dataclass(frozen=True, slots=True)
class ToolBody:
    """One part of a machine.

    Parameters
    ----------
    name : str
        Such as "punch", "die", "ram", "bed", "clamp", "folding beam", "upper bar".
    shape : Any
        Polygon in its own coordinates, mm.
    frame : str
        What it moves with: "lower" (lies still), "upper" (the punch), "swing" (the side that swings), "closed" (is
        there at the end only), or a frame of the stroke's own.
    span : (float, float)
        From where to where it stands along the fold, mm.
    assumed : bool
        Whether the shop did not draw it, and a generic section stands in.
    afterwards : {"rises", "stays", "gone"}
        Where it is when the part is taken out.

    Attributes
    ----------
    mark : bytes
        The same for the same outline, whichever way it was drawn.
    """

    name: str
    shape: Any
    frame: str
    span: tuple[float, float]
    assumed: bool = False
    afterwards: Literal["rises", "stays", "gone"] = "gone"
    mark: bytes = field(init=False, repr=False)

    def __post_init__(self) -> None:
        shapely.prepare(self.shape)
        object.__setattr__(self, "mark", outline_mark(self.shape))


def relieved(body: ToolBody, horn: float, foot: float) -> tuple[ToolBody, ...]:
    """Return a punch whose ends are cut away above a foot by `horn` mm: its foot, and what stands on it."""
    x0, x1 = body.span
    horn = min(horn, max((x1 - x0 - foot) / 2, 0.0))
    if not horn:
        return (body,)
    low, high = body.shape.bounds[1], body.shape.bounds[3]
    below, above = shapely.box(-1e4, low - 1, 1e4, foot), shapely.box(-1e4, foot, 1e4, high + 1)
    return (
        replace(body, shape=shapely.intersection(body.shape, below)),
        replace(body, shape=shapely.intersection(body.shape, above), span=(x0 + horn, x1 - horn)),
    )


@dataclass(frozen=True, slots=True)
class Setup:
    """One way to form a fold.

    Parameters
    ----------
    tool, machine : str
        Keys.
    stroke : BendStroke
        How it bends.
    punch : str
        Key or name of the punch, "" without one.
    reversed : bool
        Whether the punch is set the other way round.
    at_back : {"parent", "leg"}
        Which side of the fold lies at the back, or is clamped.
    tooling : str
        "whole" tool, "punch in pieces", "all in pieces", "fingers", "flush left", "flush right".
    pieces : tuple of float
        Lengths of the punch pieces or fingers, mm; empty for a whole one.
    bodies : tuple of ToolBody
        What stands round the part.
    assumed : bool
        Whether a generic section stands in for one that is not known.
    contact : (float, float)
        Centre distance from the middle and radius of a die's shoulders, or what else fixes how the sides move; 0 where
        nothing does.
    shown : tuple of ToolBody
        What a picture shows besides, and what gives way to the part.
    """

    tool: str
    machine: str
    stroke: BendStroke
    punch: str = ""
    reversed: bool = False
    at_back: AtBack = "parent"
    tooling: str = "whole"
    pieces: tuple[float, ...] = ()
    bodies: tuple[ToolBody, ...] = ()
    assumed: bool = False
    contact: tuple[float, float] = (0.0, 0.0)
    shown: tuple[ToolBody, ...] = ()

    @property
    def process(self) -> str:
        """Name of the stroke."""
        return self.stroke.name

    @property
    def leg_back(self) -> bool:
        """Whether the leg lies at the back."""
        return self.at_back == "leg"

    @property
    def shape(self) -> tuple[Any, ...]:
        """What stands round the part, as its two sides see it: the same for setups that differ by a half turn."""
        return tuple((p.name, p.frame, p.span, p.mark) for p in self.bodies)

    @property
    def setting(self) -> tuple[Any, ...]:
        """What has to be the same for the next fold to need no other tools in the machine."""
        return self.machine, self.tool, self.punch, self.reversed, self.pieces

    @property
    def key(self) -> tuple[Any, ...]:
        """What tells it from the other setups of the same fold."""
        return (*self.setting, self.at_back, self.tooling)


@dataclass(frozen=True, slots=True, kw_only=True)
class FoldDemand:
    """What a setup has to form.

    Parameters
    ----------
    thickness : float
        Of the sheet, mm.
    span : (float, float)
        Where the fold begins and ends along its own line, mm.
    turn_rad : float
        To turn, springback included, radians.
    radius : float
        Inside radius of this hit, mm.
    angle, final_radius : float
        Of the finished fold, degrees and mm inside.
    leg : float
        Longer end of the leg, mm.
    """

    thickness: float
    span: tuple[float, float]
    turn_rad: float
    radius: float
    angle: float
    final_radius: float
    leg: float

    @property
    def length(self) -> float:
        """Length of the fold, mm."""
        return self.span[1] - self.span[0]

    @property
    def middle(self) -> float:
        """Its middle along its own line, mm."""
        return sum(self.span) / 2


class RoughBody(NamedTuple):
    """A drawn part of a machine for a quick look: its ring, shape (n, 2), a little smaller than it is."""

    name: str
    ring: Array
    frame: str
    span: tuple[float, float]


class Stand(NamedTuple):
    """How a tool stands along a fold: a name, the upper and the lower tool's ends, the upper tool's pieces."""

    name: str
    upper: tuple[float, float]
    lower: tuple[float, float]
    pieces: tuple[float, ...]


def pick(segments: Sequence[float], most: float) -> tuple[float, ...]:
    """Return the pieces that together come nearest to `most` mm without exceeding it, few large ones first."""
    best: dict[int, tuple[float, ...]] = {0: ()}
    limit = int(most * 10 + 1e-6)
    for s in sorted(segments, reverse=True):
        for total, used in sorted(best.items(), reverse=True):
            new = total + round(s * 10)
            if new <= limit and (new not in best or len(used) + 1 < len(best[new])):
                best[new] = (*used, s)
    return best[max(best)]


def centred(middle: float, length: float) -> tuple[float, float]:
    """Return the ends of something of a length about a middle."""
    return middle - length / 2, middle + length / 2


def spreads(span: tuple[float, float], length: float, segments: Sequence[float], *, both: bool) -> Iterator[Stand]:
    """Yield how a tool can stand along a fold, widest first.

    Parameters
    ----------
    span : (float, float)
        The fold, mm.
    length : float
        Of the whole tool, mm.
    segments : sequence of float
        Its pieces, mm; empty: one piece.
    both : bool
        Whether the lower tool comes in pieces too.
    """
    whole = centred(sum(span) / 2, length)
    yield Stand("whole", whole, whole, ())
    picked = pick(segments, span[1] - span[0])
    if picked and span[1] - span[0] - sum(picked) <= SHORT:
        part = centred(sum(span) / 2, sum(picked))
        yield Stand("punch in pieces", part, whole, picked)
        if both:
            yield Stand("all in pieces", part, part, picked)
    elif length > span[1] - span[0]:
        for name, ends in (("flush left", (span[0], span[0] + length)), ("flush right", (span[1] - length, span[1]))):
            yield Stand(name, ends, ends, ())


def stands(span: tuple[float, float], length: float) -> list[tuple[float, float]]:
    """Return where a whole tool can stand along a fold: in its middle, or flush with either end."""
    length = min(length, span[1] - span[0] + SPARE)
    return [centred(sum(span) / 2, length), (span[0], span[0] + length), (span[1] - length, span[1])]


def shortened(span: tuple[float, float]) -> tuple[float, float]:
    """Return the least stretch of a fold that a tool in pieces covers."""
    return span[0] + SHORT / 2, span[1] - SHORT / 2


def known_length(length: float, demand: FoldDemand) -> float:
    """Return a tool's length, or one that reaches far past the fold where nobody stated it, mm."""
    return length if math.isfinite(length) else demand.length + SPARE
