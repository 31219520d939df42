"""A rolled bead."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import ClassVar

from tinbook.errors import BadValue
from tinbook.flatpattern import Direction
from tinbook.part.features import at_least, one_of, word
from tinbook.part.forms.form import Form
from tinbook.plane.loops import Point


@dataclass(frozen=True, slots=True, kw_only=True)
class Bead(Form):
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

    TABLE: ClassVar[str] = "bead"
    TITLE: ClassVar[str] = "bead"

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
