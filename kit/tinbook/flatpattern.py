"""The flat pattern: the blank for the cutter, made here or read from a file."""

from __future__ import annotations

import math

from tinbook.finding import NOTHING, Findings
from tinbook.flatlines import Cut as Cut
from tinbook.flatlines import Direction as Direction
from tinbook.flatlines import FoldLine as FoldLine
from tinbook.flatlines import FormLine as FormLine
from tinbook.flatlines import Mark as Mark
from tinbook.flatlines import both_ways as both_ways
from tinbook.plane.loops import Loop
from tinbook.shown import Shown
from tinbook.svg import flat_svg
from tinbook.values import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class FlatPattern(Shown):
    """A blank at finished size.

    Parameters
    ----------
    name : str
        Part number, or the name of the foreign part.
    thickness : float
        mm, greater than 0.
    outer : Loop
        Outer contour, anticlockwise.
    cuts : tuple of Cut
        Inner contours, anticlockwise.
    folds : tuple of FoldLine
        Fold lines.
    marks : tuple of Mark
        Everything that is not cut through.
    drills : tuple of Cut
        Holes that are drilled by hand, at finished size; not cut, not taken off the area.
    undersize : tuple of Cut
        What the cutter makes of some of them, by the same name: they are drilled out afterwards. Cut like `cuts`, but
        not taken off the area either.
    form_lines : tuple of FormLine
        Lines by which forms are made.
    trimmed : Loop or None
        The outline after trimming, where the blank carries stock for it.
    material : str
        Grade, "" if unknown.
    findings : Findings
        What was noticed while it was made or read.
    """

    name: str
    thickness: float
    outer: Loop
    cuts: tuple[Cut, ...] = ()
    folds: tuple[FoldLine, ...] = ()
    marks: tuple[Mark, ...] = ()
    drills: tuple[Cut, ...] = ()
    undersize: tuple[Cut, ...] = ()
    form_lines: tuple[FormLine, ...] = ()
    trimmed: Loop | None = None
    material: str = ""
    findings: Findings = NOTHING

    @property
    def inner(self) -> tuple[Cut, ...]:
        """All inner contours that the cutter makes."""
        return (*self.cuts, *self.undersize)

    @property
    def area(self) -> float:
        """Net area, mm²."""
        return self.outer.area - math.fsum(abs(c.loop.area) for c in self.cuts)

    @property
    def size(self) -> tuple[float, float]:
        """Width and height of the bounding box, mm."""
        x0, y0, x1, y1 = self.outer.box
        return x1 - x0, y1 - y0

    @property
    def cut_length(self) -> float:
        """Length of all contours, mm."""
        return self.outer.length + math.fsum(c.loop.length for c in self.inner)

    @property
    def pierces(self) -> int:
        """Number of times the cutter starts."""
        return 1 + len(self.inner)

    def __repr__(self) -> str:
        w, h = self.size
        thick = "mm, thickness not known" if math.isnan(self.thickness) else f"x {self.thickness:g} mm"
        return f"<blank of {self.name}: {w:.2f} x {h:.2f} {thick}, {len(self.cuts)} openings, {len(self.folds)} folds>"

    def _repr_svg_(self) -> str:
        return flat_svg(self, dims=True)
