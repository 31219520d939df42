"""Marks on the face of the sheet: texts and lines. They have no height and no stiffness."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING, Annotated, ClassVar, Self, TypedDict

from tinbook.errors import BadValue
from tinbook.fields import Points, Positive
from tinbook.fields import Text as Words
from tinbook.flatpattern import Direction, Mark
from tinbook.part.features import At, Degrees, Name
from tinbook.part.forms.form import Form, Plain, Setting
from tinbook.plane.loops import Edge, Move, Point
from tinbook.strokes import strokes, text_width
from tinbook.values import dataclass

if TYPE_CHECKING:
    from tinbook.finding import Finding
    from tinbook.shop.shop import Shop


class MarkOptions(TypedDict, total=False):
    """Where a mark is: fields of `Text` and `Etch`."""

    panel: str
    face: Direction


class OnFace(Form, Plain):
    """A mark on a face: it needs no tool, so what the part declares is what is made, and the sheet stays flat."""

    __slots__ = ()

    KIND: ClassVar[str] = "mark"
    CODE: ClassVar[str] = "mark"
    if TYPE_CHECKING:

        @property
        def face(self) -> Direction:
            """The face that carries it."""

    @property
    def direction(self) -> Direction:
        """The face that carries it."""
        return self.face

    def made(self, on: Setting) -> tuple[Self]:
        """Return the mark itself."""
        return (self,)

    def keep_off(self, thickness: float) -> None:
        """Return none: nothing beside it is disturbed."""

    def work(self, shop: Shop) -> None:
        """Return none: the cutter makes it with its other marks."""

    def label(self) -> str:
        """Return the face."""
        return f"on the {self.face} face"

    def row(self, shop: Shop) -> None:
        """Return none: it stands on the blank in words."""

    def findings(self, on: Setting) -> Iterator[Finding]:
        """Yield nothing: whether it lies on the blank is a rule of the blank."""
        return iter(())


@dataclass(frozen=True, slots=True, kw_only=True)
class Text(OnFace):
    """A line of text to be marked on a panel.

    Parameters
    ----------
    at : (float, float)
        Left end of its base line, mm.
    height : float
        Height of capitals, mm.
    """

    TABLE: ClassVar[str] = "text"
    TITLE: ClassVar[str] = "text"
    NAMED: ClassVar[bool] = False

    text: Annotated[str, Words(most=80)]
    panel: str
    at: At
    height: Positive = 8.0
    turn: Degrees = 0.0
    face: Direction = "up"

    @property
    def name(self) -> str:
        """What it is called in messages: its words."""
        return self.text

    def __post_init__(self) -> None:
        Form.__post_init__(self)
        text_width(self.text, self.height)  # refuses a letter that the stroke font does not have

    def marks(self, flat: Move) -> tuple[Mark, ...]:
        """Return its strokes; on the down face they read right from below."""
        drawn = strokes(self.text, self.height, self.at, self.turn, mirror=self.face == "down")
        return (Mark(kind="text", edges=tuple(flat.edge(e) for e in drawn), label=self.text, face=self.face),)

    def mirrored(self) -> Self:
        """Return it at the mirrored place, to be read as before."""
        w, a = text_width(self.text, self.height), math.radians(self.turn)
        return replace(self, at=(-(self.at[0] + w * math.cos(a)), self.at[1] + w * math.sin(a)), turn=-self.turn)


@dataclass(frozen=True, slots=True, kw_only=True)
class Etch(OnFace):
    """A line to be marked on a panel, from point to point.

    Parameters
    ----------
    path : tuple of (float, float)
        Corner points, mm.
    closed : bool
        Whether it goes back to its first point.
    note : str
        What stands within the line and is not made by this part ("dimple 9 x 9 mm"); the line is then only shown
        to the reader, and a finding names it. At most 120 printable characters.
    """

    TABLE: ClassVar[str] = "etch"
    TITLE: ClassVar[str] = "etched line"

    name: Name
    panel: str
    path: Annotated[tuple[Point, ...], Points()]
    closed: bool = False
    face: Direction = "up"
    note: Annotated[str, Words(empty=True, most=120)] = ""

    def __post_init__(self) -> None:
        Form.__post_init__(self)
        if len(self.path) < 2 + self.closed:
            raise BadValue(f"{self.where} path", self.path, "two or more points, three where it is closed")

    def marks(self, flat: Move) -> tuple[Mark, ...]:
        """Return its strokes, on the blank where it stands for itself, else only shown to the reader."""
        points = (*self.path, *self.path[: self.closed])
        edges = tuple(flat.edge(Edge(a, b)) for a, b in itertools.pairwise(points))
        kind, label = ("formed", self.note) if self.note else ("match", self.name)
        return (Mark(kind=kind, edges=edges, label=label, face=self.face),)

    def mirrored(self) -> Self:
        """Return it reflected at x = 0 of its panel."""
        return replace(self, path=tuple((-x, y) for x, y in self.path))
