"""Setting out a frame or an assembly on a table: datum holes, a place for each hole, diagonals that a tape can check."""

from __future__ import annotations

import math
from collections.abc import Mapping
from itertools import combinations
from typing import Any, Final

import tinbook.making.solid as solids
from tinbook.errors import BadValue, CannotMake, UnknownName, of_kind
from tinbook.fit.places import cross as cross_at
from tinbook.fit.shrinkage import WeldShrinkage
from tinbook.htmltable import html_table
from tinbook.making.assembled import Assembled, need_made_or_assembled
from tinbook.making.made import Made
from tinbook.plane.loops import Edge
from tinbook.read.scans.rigid import RigidFit, fit_targets
from tinbook.space import Frame, Vec, cross, plus, unit
from tinbook.tracing import Drawing, Numbers, Traced
from tinbook.values import dataclass

MOST: Final = 60
"""Holes of one card."""
ALL_DIAGONALS: Final = 8
"""Up to so many holes every diagonal is listed, beyond that those to the two datum holes."""
CAUTIONS: Final = (
    "Level the table first. Brace a body or a frame before anything of it is cut.",
    "Tack, measure the diagonals again, then weld.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class TableCard:
    """Where the holes of an assembly lie over a table.

    Parameters
    ----------
    name : str
        Of the assembly.
    places : dict of str to (float, float, float)
        Each hole's middle, mm: x along the datum line from the first datum hole to the second, z up from the table.
    datum : (str, str)
        The two datum holes.
    frame : Frame
        Where the card's axes lie in the assembly.
    shrinkage : WeldShrinkage or None
        What the welds will draw in: distances to tack at then stand beside the drawn ones.
    """

    name: str
    places: dict[str, Vec]
    datum: tuple[str, str]
    frame: Frame
    shrinkage: WeldShrinkage | None = None

    @property
    def diagonals(self) -> dict[tuple[str, str], float]:
        """Distances that a tape can check, mm."""
        pairs = combinations(self.places, 2)
        few = len(self.places) <= ALL_DIAGONALS
        return {
            (a, b): math.dist(self.places[a], self.places[b])
            for a, b in pairs
            if few or a in self.datum or b in self.datum
        }

    def tacked(self, a: str, b: str) -> float:
        """Return at which distance two holes are tacked: the drawn one and the middle of what welds may draw in, mm."""
        drawn = math.dist(self.places[a], self.places[b])
        if self.shrinkage is None:
            return drawn
        p, q = (self.frame(*self.places[n]) for n in (a, b))
        one, other = (n.rpartition(" ")[0] for n in (a, b))
        return drawn + sum(self.shrinkage.between(p, q, on=one if one == other else "")) / 2

    def compared(self, measured: Mapping[str, Any], *, accuracy: Any = "1 mm") -> RigidFit:
        """Lay measured places on the drawn ones: what is out, and which reading disagrees; see `fit_targets`."""
        return fit_targets(measured, self.places, accuracy=accuracy)

    def __repr__(self) -> str:
        return f"<table card of {self.name}: {len(self.places)} holes from {self.datum[0]} and {self.datum[1]}>"

    @property
    def numbers(self) -> tuple[Numbers, ...]:
        """Its tables: places, and the distances between them."""
        places = [(n, *(f"{round(v, 1) + 0.0:.1f}" for v in p)) for n, p in self.places.items()]
        first = Numbers(heads=("hole", "x, mm", "y, mm", "height, mm"), rows=tuple(places))
        if self.shrinkage is None:
            apart = [(a, b, f"{d:.1f}") for (a, b), d in self.diagonals.items()]
            return first, Numbers(heads=("from", "to", "apart, mm"), rows=tuple(apart))
        welded = [(a, b, f"{d:.1f}", f"{self.tacked(a, b):.1f}", "") for (a, b), d in self.diagonals.items()]
        return first, Numbers(
            heads=("from", "to", "welded, mm", "tacked at, mm", "measured tacked"), rows=tuple(welded)
        )

    @property
    def notes(self) -> tuple[str, ...]:
        """What must be said with the dimensions."""
        a, b = self.datum
        first = f"The datum line runs from hole {a} to hole {b}, x along it; heights are those over the table."
        return (first, *CAUTIONS, *(self.shrinkage.notes if self.shrinkage is not None else ()))

    def drawing(self) -> Drawing:
        """Return the card for paper: the holes and the datum line seen from above."""
        at = {n: (p[0], p[1]) for n, p in self.places.items()}
        a, b = (at[n] for n in self.datum)
        lines = [Traced(kind="mark", edges=(Edge(a, b),)), *(cross_at(n, p, 5.0) for n, p in at.items())]
        title = f"Setting out {self.name} on a table, seen from above, mm"
        return Drawing(
            name=f"{self.name}_table_card", lines=tuple(lines), numbers=self.numbers, notes=self.notes, heading=title
        )

    def _repr_html_(self) -> str:
        first, second = (
            html_table((*n.heads, "measured"), [(*row, "") for row in n.rows], notes=notes)
            for n, notes in zip(self.numbers, (self.notes, ()), strict=True)
        )
        return first + second


def table_card(
    made: Made | Assembled, *, datum: tuple[str, str] | None = None, shrinkage: WeldShrinkage | None = None
) -> TableCard:
    """Return the places of all round holes of a part or an assembly over a table.

    Parameters
    ----------
    made : Made or Assembled
        It stands on the table as it is drawn, z upward.
    datum : (str, str), optional
        Names of the two datum holes; by default the two that lie farthest apart.
    shrinkage : WeldShrinkage, optional
        Of this assembly, by `weld_shrinkage`: the card then says at which distances it is tacked.

    Returns
    -------
    TableCard
        Holes are named "1", "2" ... of a part, "member 1" ... of an assembly; a bore through several sheets counts once.
    """
    need_made_or_assembled(made, "table card")
    if shrinkage is not None:
        of_kind(shrinkage, WeldShrinkage, "shrinkage", "what tb.fit.weld_shrinkage(made) gives")
    found: dict[str, Vec] = {}
    for name, bores in _bores(made):
        # Row by row, so that the numbers can be found on the metal.
        for b in sorted(bores, key=lambda b: (round(b.at[1]), round(b.at[0]), round(b.at[2]))):
            at = plus(b.at, b.axis, (b.low + b.high) / 2)
            if all(math.dist(at, p) > 0.05 for p in found.values()):
                count = 1 + sum(n.rpartition(" ")[0] == name for n in found)
                found[f"{name} {count}".strip()] = at
    number = made.part.number if isinstance(made, Made) else made.assembly.number
    if not 3 <= len(found) <= MOST:
        raise CannotMake(f"{number}: no table card: it has {len(found)} round holes; valid: 3 to {MOST}")
    lowest = _lowest(made)
    a, b = (
        datum if datum is not None else max(combinations(found, 2), key=lambda p: math.dist(found[p[0]], found[p[1]]))
    )
    for n in (a, b):
        if n not in found:
            raise UnknownName("datum hole", n, found)
    along = (found[b][0] - found[a][0], found[b][1] - found[a][1], 0.0)
    if math.hypot(*along) < 1.0:
        raise BadValue("datum", (a, b), "two holes that do not stand over each other")
    x = unit(along)
    z = (0.0, 0.0, 1.0)
    frame = Frame((found[a][0], found[a][1], lowest), x, cross(z, x), z)
    places = {n: frame.local(p) for n, p in found.items()}
    return TableCard(name=number, places=places, datum=(a, b), frame=frame, shrinkage=shrinkage)


def _bores(made: Made | Assembled) -> list[tuple[str, Any]]:
    if isinstance(made, Made):
        return [("", solids.bodies.bores(made.shape))]
    return [(m.name, made.bores(m.name)) for m in made.assembly.members if m.kind == "part"]


def _lowest(made: Made | Assembled) -> float:
    if isinstance(made, Made):
        return made.preview.box[0][2]
    return min(float(made.mesh(m.name)[0][:, 2].min()) for m in made.assembly.members if m.kind == "part")
