"""Marks on the face of the sheet: texts and lines. They have no height and no stiffness."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, ClassVar

from tinbook.errors import BadValue
from tinbook.fields import Points, check_fields
from tinbook.fields import Text as Words
from tinbook.flatpattern import Direction
from tinbook.part.features import At, Degrees, Name, Positive
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
        check_fields(self, f"text {self.text!r}")
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

    name: Name
    panel: str
    path: Annotated[tuple[Point, ...], Points()]
    closed: bool = False
    face: Direction = "up"
    note: Annotated[str, Words(empty=True, most=120)] = ""

    def __post_init__(self) -> None:
        check_fields(self, f"etched line {self.name!r}")
        if len(self.path) < 2 + self.closed:
            raise BadValue(f"etched line {self.name!r} path", self.path, "two or more points, three where it is closed")
