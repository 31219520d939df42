"""The cutting of one plate: order of cuts, metres, pierces, minutes, and what is left of the plate."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise
from typing import Any, TypeAlias

from tinbook.errors import of_kind
from tinbook.htmltable import html_table
from tinbook.job.nesting.cut_order import Contour, cut_order
from tinbook.job.nesting.layout import Nest, PlateLayout
from tinbook.job.sheets.offcuts import KEEP, Shape, parting_cuts, remaining
from tinbook.language import ENGLISH, Language, Said
from tinbook.plane.loops import Edge, Loop, Move, Point
from tinbook.shop.cutting import Cutter
from tinbook.shop.material import Sheet
from tinbook.shop.shop import Shop
from tinbook.values import dataclass

HEADS = ("cut", "blank", "copy", "contour", "mm", "pierce x", "pierce y")

Stroke: TypeAlias = tuple[str, Edge]
"""A layer and a line or arc on it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CutPlan:
    """What the cutter does on one plate, in order.

    Parameters
    ----------
    nest : Nest
        The whole nest.
    plate : int
        Number of the plate, from 1.
    sheet : Sheet
        Metal and thickness.
    cutter : Cutter
        Who cuts.
    contours : tuple of Contour
        In the order in which they are cut.
    offcuts : tuple of Loop
        What is worth keeping of the rest.
    parting : tuple of chains of Edge
        Cuts that free the offcuts, after all contours.
    strokes : tuple of Stroke
        Lines that are etched, and nicks, by the name of their layer; those of a blank that lies turned over are left
        out, for they would lie on the wrong face.
    minutes : float or None
        Of cutting; None where the cutter has no speed table.
    sources : tuple of str
        Where the minutes come from, and what they leave out.
    number : int
        Of the sheet in the whole job, from 1.
    of : int
        How many sheets the job has.
    """

    nest: Nest
    plate: int
    sheet: Sheet
    cutter: Cutter
    contours: tuple[Contour, ...]
    offcuts: tuple[Loop, ...]
    parting: tuple[tuple[Edge, ...], ...]
    strokes: tuple[Stroke, ...]
    minutes: float | None
    sources: tuple[str, ...]
    number: int = 1
    of: int = 1

    @property
    def layout(self) -> PlateLayout:
        """The plate and its placements."""
        return self.nest.layout(self.plate)

    @property
    def metres(self) -> float:
        """Length of all cuts, those that free the offcuts included, m."""
        return (math.fsum(c.length for c in self.contours) + self.parting_length) / 1000

    @property
    def parting_length(self) -> float:
        """Length of the cuts that free the offcuts, mm."""
        return math.fsum(e.length for chain in self.parting for e in chain)

    @property
    def pierces(self) -> int:
        """How often the cutter starts."""
        return sum(c.starts for c in self.contours) + len(self.parting)

    def rows(self, say: Language = ENGLISH) -> list[tuple[str, ...]]:
        """Return the table of cuts."""
        rows: list[tuple[str, ...]] = [
            (
                str(c.number),
                c.blank,
                str(c.copy),
                _what(c, say),
                say.number(c.length),
                say.number(c.pierce[0]),
                say.number(c.pierce[1]),
            )
            for c in self.contours
        ]
        for n, chain in enumerate(self.parting, len(rows) + 1):
            length = math.fsum(e.length for e in chain)
            (x, y) = chain[0].start
            rows.append((str(n), say("offcut"), "", say("parting"), *map(say.number, (length, x, y))))
        return rows

    def summary(self) -> str:
        """Return metres, pierces and minutes in words."""
        time = Said("time not known") if self.minutes is None else Said("{minutes:.1f} min", minutes=self.minutes)
        return Said("{m:.2f} m cut, {n} pierces, {time}", m=self.metres, n=self.pierces, time=time)

    def __repr__(self) -> str:
        return f"<{self.layout.plate.name}, sheet {self.number} of {self.of}: {self.summary()}>"

    def _repr_html_(self) -> str:
        return html_table(HEADS, self.rows(), caption=repr(self)[1:-1], notes=self.sources)


def _what(c: Contour, say: Language) -> str:
    if c.hole:
        return say("hole")
    return say("outside, {n} micro-joints", n=len(c.joints)) if c.joints else say("outside")


def cut_plan(
    nest: Nest,
    plate: int,
    shop: Shop,
    sheet: str,
    *,
    cutter: str | None = None,
    lead: Any = None,
    offcuts: Shape = "rectangles",
    keep: tuple[float, float] = KEEP,
    number: int | None = None,
    of: int | None = None,
) -> CutPlan:
    """Return how one plate of a nest is cut.

    Parameters
    ----------
    nest : Nest
        A layout.
    plate : int
        Number of the plate, from 1.
    shop : Shop
        Whose cutter, with its speed table.
    sheet : str
        Key of the shop's sheet from which it is cut.
    cutter : str, optional
        Key of the cutter, else the shop's first for the sheet.
    lead : length, optional
        Distance from the contour at which it pierces; half the nest's gap if left out, so that it lies in the waste.
    offcuts : {"rectangles", "outline"}
        In which shape what is left is kept.
    keep : (float, float)
        Least rectangle worth keeping, mm.
    number, of : int, optional
        Of the sheet in a job of several nests, and how many there are; else those of the nest.

    Returns
    -------
    CutPlan

    Raises
    ------
    BadValue
        No such plate, sheet or cutter, or a value out of range.
    """
    of_kind(nest, Nest, "nest", "what tb.job.nest gives")
    of_kind(shop, Shop, "shop", "a Shop")
    layout = nest.layout(plate)
    metal = shop.sheet_by_key(sheet)
    by = shop.cutter_for(metal) if cutter is None else shop.cutter(cutter)
    contours = cut_order(nest, layout, nest.gap / 2 if lead is None else lead)
    rest = remaining(nest, layout, offcuts, keep)
    parting = parting_cuts(layout, rest)
    plan = CutPlan(
        nest=nest,
        plate=plate,
        sheet=metal,
        cutter=by,
        contours=contours,
        offcuts=rest,
        parting=parting,
        strokes=_strokes(nest, layout),
        minutes=None,
        sources=(),
        number=plate if number is None else number,
        of=len(nest.layouts) if of is None else of,
    )
    minutes, sources = _minutes(plan)
    return replace(plan, minutes=minutes, sources=sources)


def _minutes(plan: CutPlan) -> tuple[float | None, tuple[str, ...]]:
    cutter = plan.cutter
    if not cutter.speeds:
        return None, (
            Said("cutter '{key}' has no speed table in the shop file: its time is not known", key=cutter.key),
        )
    pace = cutter.pace(plan.sheet.material, plan.sheet.thickness)
    minutes = plan.metres / pace.speed + plan.pierces * pace.pierce / 60
    words = "{source}: {speed:.3g} m/min, {pierce:.2g} s a pierce"
    said: list[str] = [Said(words, source=pace.source, speed=float(pace.speed), pierce=float(pace.pierce))]
    if cutter.rapid is None:
        said.append(
            Said("ways from contour to contour are not counted: the cutter has no rapid speed in the shop file")
        )
    else:
        travel = _travel(plan)
        minutes += travel / 1000 / cutter.rapid
        words = "{way:.2f} m from contour to contour at {speed:g} m/min"
        said.append(Said(words, way=travel / 1000, speed=float(cutter.rapid)))
    return minutes, (*said, Said("etching, loading and unloading are not counted"))


def _travel(plan: CutPlan) -> float:
    """Return the way from the plate's corner from contour to contour, mm."""
    x0, y0, _, _ = plan.layout.plate.outline.box
    at: Point = (x0, y0)
    way = 0.0
    for c in plan.contours:
        way += math.dist(at, c.pierce)
        at = c.entry
    ends = [(chain[0].start, chain[-1].end) for chain in plan.parting]
    if ends:
        way += math.dist(at, ends[0][0]) + math.fsum(math.dist(a[1], b[0]) for a, b in pairwise(ends))
    return way


def _strokes(nest: Nest, layout: PlateLayout) -> tuple[Stroke, ...]:
    known = {b.name: b for b in nest.blanks}
    out: list[Stroke] = []
    for p in layout.placements:
        if not p.turned_over:
            move = Move(*p.matrix())
            out += [(layer, move.edge(e)) for layer, e in known[p.blank].strokes]
    return tuple(out)
