"""Tables that go on from column to column and from page to page, without a row lost or laid over another."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from tinbook.write.page import Page, Table

GAP: Final = 3.0
"""mm between two tables."""

TOGETHER: Final = 12
"""Rows up to which a table moves to the next column as a whole."""


@dataclass(frozen=True, slots=True)
class Area:
    """A rectangle of the paper: its lower left corner, width and height in mm."""

    x: float
    y: float
    w: float
    h: float

    @property
    def top(self) -> float:
        """The y of its upper edge."""
        return self.y + self.h

    def meets(self, other: Area) -> bool:
        """Whether two areas overlap."""
        return (
            self.x < other.x + other.w
            and other.x < self.x + self.w
            and self.y < other.y + other.h
            and other.y < self.y + self.h
        )

    def columns(self, count: int) -> list[Area]:
        """Return the area in columns with a gap between them."""
        w = (self.w - (count - 1) * GAP) / count
        return [Area(self.x + i * (w + GAP), self.y, w, self.h) for i in range(count)]


def fitting(table: Table, width: float, size: float, room: float) -> int:
    """Return how many rows of a table fit under its headings into `room` mm."""
    head, *rows = table.heights(width, size)
    n, used = 0, head
    for h in rows:
        used += h
        if used > room + 1e-9:
            break
        n += 1
    return n


def flow(tables: Sequence[Table], areas: Sequence[Area], size: float, page: Page | None) -> tuple[list[Table], float]:
    """Set tables one after the other into areas, each going on in the next area with its headings again.

    Parameters
    ----------
    tables : sequence of Table
        In order.
    areas : sequence of Area
        Columns of a page, in order.
    size : float
        Of letters, points.
    page : Page or None
        Where to draw; None only to see what fits.

    Returns
    -------
    (list of Table, float)
        What did not fit, and the y below the last row in the last area that was used.
    """
    left = [t for t in tables if t.rows]
    y = areas[0].top if areas else 0.0
    for area in areas:
        y = area.top
        while left:
            t = left[0]
            n = fitting(t, area.w, size, y - area.y)
            if n < len(t.rows) <= TOGETHER and y < area.top and t.height(area.w, size) <= area.h:
                break  # a short table is not torn apart
            if n == 0:
                if y < area.top:
                    break
                n = 1  # a row taller than a whole column has no better place
            first, rest = t.split(n)
            if page is not None:
                first.draw(page, area.x, y, area.w, size)
            y -= first.height(area.w, size) + GAP
            left[:1] = [rest] if rest.rows else []
        if not left:
            break
    return left, y
