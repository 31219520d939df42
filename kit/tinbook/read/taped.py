"""An outline from tape readings: how far each reading is off, and which disagree with the others."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from tinbook.finding import Finding, stop
from tinbook.htmltable import html_table
from tinbook.part.outline import Outline
from tinbook.read import outliers
from tinbook.shown import picture_html
from tinbook.values import dataclass

SCATTER: Final = 0.25
"""Standard deviation of one reading as a part of `tol`: 0.5 mm at 2 mm, a tape read to the millimetre at a body's corners
(common practice)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One length taken by tape.

    Parameters
    ----------
    name : str
        "front" for a side, "front/sill to rear/tunnel" for a diagonal.
    measured, fitted : float
        What the tape said, and what the outline has, mm.
    share : float
        Part of an error in this reading that shows as its residual, 0 to 1: 0 means that no other reading checks it.
    standardised : float
        Residual over its own standard deviation.
    hidden : float
        Smallest error of this reading that the others would show, mm; infinite where none checks it.
    """

    name: str
    measured: float
    fitted: float
    share: float
    standardised: float
    hidden: float

    @property
    def residual(self) -> float:
        """Measured less fitted, mm."""
        return self.measured - self.fitted


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class TapedOutline(Outline):
    """An outline from tape readings; offsets and moves of it are plain outlines.

    Parameters
    ----------
    readings : tuple of Reading
        Sides, then diagonals.
    tol : float
        Largest residual that was allowed, mm.
    """

    readings: tuple[Reading, ...]
    tol: float

    def _repr_html_(self) -> str:
        rows = [
            (
                r.name,
                f"{r.measured:.1f}",
                f"{r.fitted:.1f}",
                f"{r.residual:+.2f}",
                f"{r.standardised:+.1f}",
                f"{r.hidden:.1f}" if math.isfinite(r.hidden) else "any",
            )
            for r in self.readings
        ]
        heads = ("reading", "measured, mm", "fitted, mm", "residual, mm", "over its scatter", "could hide, mm")
        limit = outliers.critical(len(self.readings))
        note = (
            f"Readings are taken to scatter by {self.tol * SCATTER:.2g} mm (standard deviation). A residual of more than "
            f"{limit:.1f} times its scatter is an error: {outliers.FALSE_ALARM:.0%} of good sets show one by chance. "
            f"An error as large as the last column is found {outliers.POWER:.0%} of the time."
        )
        return picture_html(self._repr_svg_()) + html_table(heads, rows, notes=(note, *map(str, self.findings)))


def disagreement(group: Sequence[Reading], limit: float) -> Finding:
    """Return the stop that a reading, or one of a few, is wrong by more than scatter explains."""
    first = group[0]
    off = abs(first.residual) / first.share
    what = f"this reading disagrees with the others by about {off:.1f} mm"
    remedy = "measure it again"
    if len(group) > 1:
        what = f"one of these readings, most likely the first, disagrees with the others, by about {off:.1f} mm"
        remedy = "measure them again in this order, or another diagonal"
    where = ", ".join(f"'{r.name}'" for r in group)
    return stop("tape.suspect", where, what, remedy, abs(first.standardised), limit, "x scatter", "baarda 1968")


def suspect(group: Sequence[Reading]) -> str:
    """Return which readings explain the residuals best, as far as they can tell."""
    sizes = [abs(r.standardised) for r in group]
    if not group or (len(group) > 1 and min(sizes[1:]) > (1 - 1e-6) * sizes[0]):
        return "one of them is wrong, but they cannot tell which: measure another diagonal"
    first, *others = group
    wanted = first.measured - first.residual / first.share
    then = "; it may also be " + " or ".join(f"'{r.name}'" for r in others) if others else ""
    return f"look first at '{first.name}': {first.measured:g} mm was read, the others want about {wanted:.0f} mm{then}"
