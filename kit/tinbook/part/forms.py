"""What is rolled and marked on a panel: beads, texts, etched lines. Frozen values, checked when they are made."""

from __future__ import annotations

import math
from dataclasses import dataclass

from tinbook.errors import BadValue
from tinbook.flatpattern import Direction
from tinbook.part.features import at_least, one_of, word
from tinbook.plane.loops import Point
from tinbook.strokes import text_width


@dataclass(frozen=True, slots=True, kw_only=True)
class Bead:
    """A rolled bead, once or repeated.

    Parameters
    ----------
    path : tuple of (float, float)
        Corner points of its centre line in the panel's coordinates, mm, from run-out to run-out.
    roll : str
        Key of the roll pair.
    corner_radius : float or None
        Radius at the path's corners, mm; None for the smallest curve that the rolls follow.
    copies : int
        How many times, including the first.
    step : (float, float)
        mm from one to the next.
    """

    name: str
    panel: str
    path: tuple[Point, ...]
    roll: str
    direction: Direction = "up"
    corner_radius: float | None = None
    copies: int = 1
    step: Point = (0.0, 0.0)

    def __post_init__(self) -> None:
        me = f"bead {self.name!r}"
        one_of(self.direction, ("up", "down"), f"{me} direction")
        word(self.roll, f"{me} roll", needed=True)
        if len(self.path) < 2:
            raise BadValue(f"{me} path", self.path, "two or more points")
        for a, b in zip(self.path, self.path[1:], strict=False):
            if math.dist(a, b) < 1e-6:
                raise BadValue(f"{me} path", a, "points that differ from their neighbours")
        at_least(self.corner_radius, 0.0, f"{me} corner radius", above=True)
        if not 1 <= self.copies <= 200:
            raise BadValue(f"{me} copies", self.copies, "1 to 200")
        if self.copies > 1 and math.hypot(*self.step) < 1e-6:
            raise BadValue(f"{me} step", self.step, "a distance greater than 0 mm")


@dataclass(frozen=True, slots=True, kw_only=True)
class Text:
    """A line of text to be marked on a panel.

    Parameters
    ----------
    at : (float, float)
        Left end of its base line, mm.
    height : float
        Height of capitals, mm.
    """

    text: str
    panel: str
    at: Point
    height: float = 8.0
    turn: float = 0.0
    face: Direction = "up"

    def __post_init__(self) -> None:
        one_of(self.face, ("up", "down"), f"text {self.text!r} face")
        at_least(self.height, 0.0, f"text {self.text!r} height", above=True)
        if not isinstance(self.text, str) or not self.text or not self.text.isprintable() or len(self.text) > 80:
            raise BadValue("text", self.text, "1 to 80 printable characters")
        text_width(self.text, self.height)  # refuses a letter that the stroke font does not have


@dataclass(frozen=True, slots=True, kw_only=True)
class Etch:
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
