"""Marks on the face of the sheet: texts and lines. They have no height and no stiffness."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import ClassVar

from tinbook.errors import BadValue
from tinbook.flatpattern import Direction
from tinbook.part.features import at_least, one_of
from tinbook.part.forms.form import Form
from tinbook.plane.loops import Point
from tinbook.strokes import text_width


@dataclass(frozen=True, slots=True, kw_only=True)
class Text(Form):
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

    text: str
    panel: str
    at: Point
    height: float = 8.0
    turn: float = 0.0
    face: Direction = "up"

    @property
    def name(self) -> str:
        """What it is called in messages: its words."""
        return self.text

    def __post_init__(self) -> None:
        one_of(self.face, ("up", "down"), f"text {self.text!r} face")
        at_least(self.height, 0.0, f"text {self.text!r} height", above=True)
        if not isinstance(self.text, str) or not self.text or not self.text.isprintable() or len(self.text) > 80:
            raise BadValue("text", self.text, "1 to 80 printable characters")
        text_width(self.text, self.height)  # refuses a letter that the stroke font does not have


@dataclass(frozen=True, slots=True, kw_only=True)
class Etch(Form):
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

    name: str
    panel: str
    path: tuple[Point, ...]
    closed: bool = False
    face: Direction = "up"
    note: str = ""

    def __post_init__(self) -> None:
        me = f"etched line {self.name!r}"
        one_of(self.face, ("up", "down"), f"{me} face")
        if not isinstance(self.note, str) or len(self.note) > 120 or not (self.note.isprintable() or not self.note):
            raise BadValue(f"{me} note", self.note, "at most 120 printable characters")
        if not isinstance(self.closed, bool):
            raise BadValue(f"{me} closed", self.closed, "True or False")
        if len(self.path) < 2 + self.closed:
            raise BadValue(f"{me} path", self.path, "two or more points, three where it is closed")
        for a, b in zip(self.path, self.path[1:], strict=False):
            if math.dist(a, b) < 1e-6:
                raise BadValue(f"{me} path", a, "points that differ from their neighbours")
