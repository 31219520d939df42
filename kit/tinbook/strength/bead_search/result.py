"""Result of the search for bead layouts: a table, a picture, and a part for the layout that is picked."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

from tinbook.errors import CannotMake, UnknownName
from tinbook.flatpattern import Direction
from tinbook.htmltable import html_table
from tinbook.part.part import Part
from tinbook.plane.loops import Loop
from tinbook.shown import picture_html
from tinbook.strength.bead_search.candidate import Layout, even
from tinbook.strength.bead_search.picture import picture
from tinbook.strength.bead_search.zone import Zone
from tinbook.values import dataclass

if TYPE_CHECKING:
    from tinbook.svg import Picture

DIGITS: Final = 6
"""Significant digits of the figures that steer the search: another processor's last bit must not change its course."""
HEAD = ("", "beads", "rolled", "first frequency", "foot goes down", "first yield")


def rounded(value: float) -> float:
    """Return a figure to `DIGITS` digits."""
    return float(f"{value:.{DIGITS}g}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Figures:
    """Results of the shell analysis of one layout.

    Parameters
    ----------
    frequency : float
        First, Hz.
    frequency_error : float
        Difference to a mesh twice as coarse, as a fraction.
    deflection : float
        Largest under a foot, mm; nan where no foot was asked about, infinite where no balance was found.
    deflection_error : float
        Likewise.
    large : bool
        Whether it comes from large displacements (it does unless these change linear ones by less than 1 %).
    first_yield : float
        Part of the foot's force at which the skin first yields; infinite if it does not.
    """

    frequency: float
    frequency_error: float
    deflection: float = math.nan
    deflection_error: float = 0.0
    large: bool = False
    first_yield: float = math.inf


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """A layout and its figures."""

    layout: Layout
    figures: Figures

    def beats(self, other: Row) -> bool:
        """Whether this one is at least as good in frequency, foot and rolling, and better in one of them."""
        mine, theirs = self._merits(), other._merits()
        return all(a >= b for a, b in zip(mine, theirs, strict=True)) and mine != theirs

    def _merits(self) -> tuple[float, float, float]:
        f = self.figures
        foot = 0.0 if math.isnan(f.deflection) else -f.deflection
        # Rounded: a layout and its mirror image differ in the last bit, on every processor in another one.
        return rounded(f.frequency), rounded(foot), -self.layout.rolled

    def cells(self, number: int) -> tuple[str, ...]:
        """Return what the table shows."""
        f, x = self.figures, self.layout
        if math.isnan(f.deflection):
            foot, yields = "not asked", ""
        elif math.isinf(f.deflection):
            foot, yields = "no balance found", ""
        else:
            # Beyond first yield the sheet gives more than elastic theory says.
            at_least = "at least " if f.first_yield < 1 else ""
            foot = f"{at_least}{f.deflection:.3g} mm (±{f.deflection_error:.1%})"
            yields = "none" if math.isinf(f.first_yield) else f"at {f.first_yield:.2g} of the force"
        return (
            str(number),
            str(x),
            f"{x.length:.3g} m x {x.passes} = {x.rolled:.3g} m" if x.count else "-",
            f"{f.frequency:.3g} Hz (±{f.frequency_error:.1%})",
            foot,
            yields,
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BeadLayouts:
    """Layouts that no other one found beats in frequency, foot deflection and rolling at once.

    Parameters
    ----------
    part : Part
        As given to the search.
    panel : str
    side : {"up", "down"}
        To which the beads stand out.
    outline : Loop
        Of the panel, for the picture.
    rows : tuple of Row
        By metres rolled; the first is the panel without beads.
    tried : tuple of (float, float, float)
        Of every layout that was run: metres rolled; first frequency and deflection under a small load on the coarse
        mesh, which only steered the search.
    refused : int
        Layouts that the shop's tools or the making rules forbade.
    zones : tuple of Zone
        Where beads may lie, for each direction and pair of rolls.
    supports, feet : tuple of str
        In words.
    seed, runs : int
        What it was searched with, and how many layouts were run.
    size : float
        Largest side of an element of the finer mesh, mm.
    cut_short : bool
        Whether the clock ended the search: another run may then find something else.
    """

    part: Part
    panel: str
    side: Direction
    outline: Loop
    rows: tuple[Row, ...]
    tried: tuple[tuple[float, float, float], ...]
    refused: int
    zones: tuple[Zone, ...]
    supports: tuple[str, ...]
    feet: tuple[str, ...]
    seed: int
    runs: int
    size: float
    cut_short: bool

    def __len__(self) -> int:
        return len(self.rows)

    def row(self, number: int) -> Row:
        """Return a row by its number in the table."""
        if isinstance(number, bool) or not isinstance(number, int) or not 0 <= number < len(self.rows):
            raise UnknownName("layout", number, [str(k) for k in range(len(self.rows))])
        return self.rows[number]

    def pick(self, number: int) -> Part:
        """Return the part with the layout of that number in the table, in place of the panel's own beads."""
        return self.row(number).layout.onto(self.part, self.panel, self.side)

    @property
    def best(self) -> int:
        """Number of the row with the highest first frequency."""
        return max(range(len(self.rows)), key=lambda k: self.rows[k].figures.frequency)

    def evenly(self, number: int) -> Part:
        """Return the part with as many beads of the same rolls, direction and total length, but equal and evenly spread.

        Raises
        ------
        CannotMake
            Such beads do not fit.
        """
        layout = self.row(number).layout
        if not layout.count:
            return self.pick(number)
        own = next(z for z in self.zones if (z.roll.key, z.direction) == (layout.roll, layout.direction))
        spread = even(own, layout.count, 1e3 * layout.length / layout.count)
        if spread is None:
            raise CannotMake(f"{layout.count} equal beads of {layout.roll}, {layout.length:.4g} m in all, do not fit")
        return spread.onto(self.part, self.panel, self.side)

    def notes(self) -> tuple[str, ...]:
        """Return the notes that must be shown with the numbers."""
        out = [f"Held by: {'; '.join(self.supports)}."]
        if self.feet:
            out.append(f"Foot, each place alone: {'; '.join(self.feet)}; large displacements, elastic.")
        out.append(
            f"Shells of at most {self.size:.3g} mm; ± is the difference to a mesh twice as coarse. "
            f"{self.runs} layouts run from seed {self.seed}, {self.refused} more refused by the making rules."
        )
        if self.cut_short:
            out.append("Cut short by the clock: the same seed may find something else when it has more time.")
        return (*out, *self.part.cautions)

    def table(self) -> tuple[tuple[str, ...], ...]:
        """Return the cells of all rows."""
        return tuple(r.cells(k) for k, r in enumerate(self.rows))

    @property
    def picture(self) -> Picture:
        """The trade-off as a picture."""
        return picture(self)

    def __repr__(self) -> str:
        cells = (HEAD, *self.table())
        wide = [max(len(c[k]) for c in cells) for k in range(len(HEAD))]
        lines = ["  ".join(c.ljust(w) for c, w in zip(row, wide, strict=True)).rstrip() for row in cells]
        return "\n".join((*lines, *self.notes()))

    def _repr_html_(self) -> str:
        caption = f"Bead layouts of {self.part.number}"
        return html_table(HEAD, self.table(), caption=caption, notes=self.notes()) + picture_html(self.picture)
