"""A drawing at true size for a paper template."""

from __future__ import annotations

from dataclasses import replace
from typing import Literal

from tinbook.errors import BadValue
from tinbook.language import Language
from tinbook.plane.loops import Edge, Loop
from tinbook.values import dataclass

Kind = Literal["cut", "scribe", "drill", "fold up", "fold down", "mark", "centre"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Traced:
    """Lines of one kind on a template.

    Parameters
    ----------
    kind : str
        "cut", "scribe" (on the body), "drill", "fold up", "fold down", "mark" or "centre".
    edges : tuple of Edge
        Lines and arcs at true size, mm.
    text : str
        Written along the first line, "" for nothing.
    """

    kind: Kind
    edges: tuple[Edge, ...]
    text: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Numbers:
    """A table printed with a drawing, with an empty column for measured values.

    Parameters
    ----------
    heads : tuple of str
        Headings.
    rows : tuple of tuple of str
        Cells as printed, as many in a row as there are headings.
    by_hand : bool
        Whether the empty column is wanted.
    """

    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    by_hand: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """The drawing on a template.

    Parameters
    ----------
    name : str
        For the foot of each tile and the file's name.
    lines : tuple of Traced
        What is drawn; at least one edge.
    numbers : tuple of Numbers
        Printed after the drawing, on pages of their own.
    notes : tuple of str
        Sentences above the numbers.
    view : str
        From where it is seen, for the foot of each tile.
    heading : str
        Of the pages with numbers, "" for the name and "numbers for the tape".
    """

    name: str
    lines: tuple[Traced, ...]
    numbers: tuple[Numbers, ...] = ()
    notes: tuple[str, ...] = ()
    view: str = "seen from the up side"
    heading: str = ""

    def retold(self, say: Language) -> Drawing:
        """Return the drawing with its words in a language; names and what the user typed stay."""
        if not say.words:
            return self
        lines = tuple(replace(line, text=say.retold(line.text)) for line in self.lines)
        rows = (replace(n, rows=tuple(tuple(map(say.retold, row)) for row in n.rows)) for n in self.numbers)
        notes, heading = tuple(map(say.retold, self.notes)), say.retold(self.heading)
        return replace(self, lines=lines, numbers=tuple(rows), notes=notes, heading=heading)

    @property
    def box(self) -> tuple[float, float, float, float]:
        """What the lines cover (xmin, ymin, xmax, ymax); a drawing without lines raises BadValue."""
        edges = tuple(e for line in self.lines for e in line.edges)
        if not edges:
            raise BadValue("template", self.name, "a drawing with at least one line")
        return Loop((*edges, *(Edge(e.end, e.start) for e in edges))).box
