"""Short texts in a drawing: each where nothing else is written, or nowhere."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import field

from tinbook.plane.loops import Point
from tinbook.values import dataclass
from tinbook.write.flowing import Area
from tinbook.write.page import PLAIN, Page, text_width
from tinbook.write.strip import SIZE

LINE = 2.6
"""mm: height that a line of 7 points takes, with its descenders."""


@dataclass(slots=True)
class Labels:
    """The texts of one drawing; `inside` is the frame that none may leave.

    Parameters
    ----------
    page : Page
        Where they are written.
    inside : Area
        Frame.
    taken : list of Area
        Where something stands already.
    """

    page: Page
    inside: Area
    taken: list[Area] = field(default_factory=list)

    def put(
        self,
        text: str,
        places: Iterable[Point],
        *,
        font: str = PLAIN,
        colour: str = "#000000",
        leader: Point | None = None,
        within: float = math.inf,
        ring: float = 0.0,
    ) -> bool:
        """Write a text with its middle at the first place where it stands on no other; return whether there is one.

        Parameters
        ----------
        text : str
            One line.
        places : iterable of (float, float)
            Middles that are tried, mm on the paper.
        font, colour : str
            Of the letters.
        leader : (float, float), optional
            From where a thin line leads to it, if it stands away from there.
        within : float
            Largest width of the text, mm.
        ring : float
            Across a ring round it, mm; 0 for none.
        """
        w = text_width(text, SIZE, font)
        if w > within:
            return False
        for x, y in places:
            wide, high = max(w + 0.4, ring), max(LINE, ring)
            here = Area(x - wide / 2, y - high / 2, wide, high)
            if not here.within(self.inside) or any(here.meets(other) for other in self.taken):
                continue
            if leader is not None and math.dist(leader, (x, y)) > LINE + w / 2:
                self.page.line(leader, edge_of(here, leader), 0.1, "#6b757d")
            if ring:
                self.page.disc(x, y, max(ring, w + 1.2), colour, 0.25)
            self.taken.append(here)
            self.page.text(x, y - 0.9, text, SIZE, font=font, align="middle", colour=colour)
            return True
        return False


def around(p: Point, near: float = 2.0, far: float = 9.0, step: float = 1.4) -> Iterator[Point]:
    """Yield places around a point, the nearest first: eight directions on growing circles."""
    reach = near
    while reach <= far:
        for k in (1, 3, 5, 7, 0, 2, 4, 6):
            turn = k * math.pi / 4
            yield p[0] + reach * math.cos(turn), p[1] + reach * math.sin(turn)
        reach += step


def edge_of(area: Area, p: Point) -> Point:
    """Return the point of an area that is nearest to a point outside it."""
    return min(max(p[0], area.x), area.x + area.w), min(max(p[1], area.y), area.top)
