"""A rolled bead."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Annotated, ClassVar

from tinbook.errors import BadValue
from tinbook.fields import Count, Points, check_fields
from tinbook.flatpattern import Direction
from tinbook.part.features import At, Name, Positive
from tinbook.part.forms.form import Form
from tinbook.plane.loops import Point
from tinbook.tolerances import SAME_POINT


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

    name: Name
    panel: str
    path: Annotated[tuple[Point, ...], Points()]
    roll: str
    direction: Direction = "up"
    corner_radius: Positive | None = None
    copies: Annotated[int, Count(1, 200)] = 1
    step: At = (0.0, 0.0)

    def __post_init__(self) -> None:
        me = f"bead {self.name!r}"
        check_fields(self, me)
        if self.copies > 1 and math.hypot(*self.step) < SAME_POINT:
            raise BadValue(f"{me} step", self.step, "a distance greater than 0 mm")
