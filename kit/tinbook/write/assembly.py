"""The list of an assembly's parts."""

from __future__ import annotations

import csv
import io
import os
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from tinbook.htmltable import html_table
from tinbook.making.assembled import Assembled, need_assembled
from tinbook.part.part import Part
from tinbook.write.drafts import draft_of
from tinbook.write.stamp import Despite

HEADS = ("item", "quantity", "number or size", "rev", "title or standard", "material", "thickness mm", "mass each kg")


@dataclass(frozen=True, slots=True, kw_only=True)
class PartsRow:
    """One line of a list of parts.

    Parameters
    ----------
    item : int
        Its number in the exploded picture.
    quantity : int
        How many.
    number, rev, title : str
        Of a part; of a bought item its name, "" and its standard.
    material : str
        Sheet's material, "bought", or "existing".
    thickness : float or None
        Of a part's sheet, mm.
    mass : float
        Each, kg.
    members : tuple of str
        Names of the places where it stands.
    """

    item: int
    quantity: int
    number: str
    rev: str
    title: str
    material: str
    thickness: float | None
    mass: float
    members: tuple[str, ...]

    @property
    def cells(self) -> tuple[str, ...]:
        """The cells of its row in a table."""
        thick = "" if self.thickness is None else f"{self.thickness:g}"
        # A washer weighs less than a gram.
        mass = "" if self.material == "existing" else f"{self.mass:.{3 if self.mass >= 0.01 else 4}f}"
        return (str(self.item), str(self.quantity), self.number, self.rev, self.title, self.material, thick, mass)


class PartsList(tuple[PartsRow, ...]):
    """The list of parts; shows itself as a table."""

    __slots__ = ()

    @property
    def mass(self) -> float:
        """Mass of everything made and bought, kg."""
        return sum(r.quantity * r.mass for r in self)

    def __repr__(self) -> str:
        return "\n".join("  ".join(c for c in r.cells if c) for r in self)

    def _repr_html_(self) -> str:
        return html_table(HEADS, [r.cells for r in self], caption=f"{self.mass:.2f} kg in all")

    @property
    def text(self) -> str:
        """The list as CSV text."""
        out = io.StringIO()
        writer = csv.writer(out, lineterminator="\n")
        writer.writerow(HEADS)
        writer.writerows(r.cells for r in self)
        return out.getvalue()


def parts_list(made: Assembled) -> PartsList:
    """Return the list of parts: made parts first, then bought items, then what exists already.

    Parameters
    ----------
    made : Assembled
        The assembly.
    """
    need_assembled(made, "parts_list")
    members = made.assembly.members
    things = dict.fromkeys(m.thing for kind in ("part", "bought", "existing") for m in members if m.kind == kind)
    rows = []
    for i, thing in enumerate(things, 1):
        places = [m for m in members if m.thing == thing]
        names, mass = tuple(m.name for m in places), made.mass_of(places[0])
        row = partial(PartsRow, item=i, quantity=len(places), mass=mass, members=names)
        if isinstance(thing, Part):
            sheet = made.made_of(names[0]).sheet
            row = partial(row, material=sheet.material.key, thickness=sheet.nominal)
            rows.append(row(number=thing.number, rev=thing.rev, title=thing.title))
        else:
            stuff = "existing" if thing.existing else "bought"
            rows.append(row(number=thing.name, rev="", title=thing.standard, material=stuff, thickness=None))
    return PartsList(rows)


def write_parts_list(
    made: Assembled, path: str | os.PathLike[str], *, despite: Despite = None, replace: bool = False
) -> Path:
    """Write the list of parts as CSV.

    Parameters
    ----------
    made : Assembled
        The assembly.
    path : str or path-like
        File name ending in .csv, or an existing folder.
    despite : str or sequence of str, optional
        A reason, or the codes of findings, for writing it although something stops the assembly.
    replace : bool
        Write over whatever is there; else only another list of parts gives way.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    CannotMake
        A part cannot be made, or something stops it and `despite` does not name it; nothing is written.
    CannotWrite
        The file there is no list of parts, or the system refuses.
    """
    need_assembled(made, "write_parts_list")
    draft = draft_of(made, path, ".csv", ending="_parts", despite=despite, replace=replace)
    # A CSV file for other programs holds no mark, so its heading identifies it.
    return draft.write(parts_list(made).text, ours=",".join(HEADS).encode())
