"""What a job has to buy: sheets, bought items, fixings, rubber, liner and strap by the metre, coats, sealer, wire."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Mapping
from typing import Final

import numpy as np
from scipy.sparse.csgraph import minimum_spanning_tree
from scipy.spatial.distance import pdist, squareform

from tinbook.errors import BadValue, of_kind
from tinbook.fields import Number
from tinbook.flatpattern import FlatPattern
from tinbook.job.cut_parts import CutPart
from tinbook.job.lists import JobList
from tinbook.job.nested import JobNest
from tinbook.job.stock.values import NEW
from tinbook.making.made import Made
from tinbook.part.assembly import Assembly
from tinbook.values import dataclass

FIXINGS: Final = ("nut insert", "press nut", "standoff", "tack screw", "rivet")
"""Uses of holes for which something is bought; bolts are items of an assembly."""
SLENDER: Final = 8.0
"""Length over width from which a blank can be bought as strip (own proposal)."""
ROW: Final = 150.0
"""mm: plug welds up to this distance stand in one row (common practice spaces them 25 to 50 mm)."""
HEM: Final = 150.0
"""degrees: a fold turned further lies on its own sheet."""
SEALER: Final = "seam sealer"
HEADS: Final = ("kind", "what", "standard", "needed", "unit", "in a pack", "packs", "note")


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """What is needed of one thing; whole pieces are counted, metres, square metres and litres are measured."""

    kind: str
    what: str
    amount: float
    unit: str = "each"
    standard: str = ""
    note: str = ""


def purchase_list(
    nest: JobNest,
    packs: Mapping[str, float] | None = None,
    spare_percent: float = 0.0,
    coverage: Mapping[str, float] | None = None,
) -> JobList:
    """Return what has to be bought, added up over all assemblies and sheets.

    Parameters
    ----------
    nest : JobNest
        From `nest_job`.
    packs : dict of str to float, optional
        Pieces, metres, square metres or litres in a pack by name, beside those of the shop's rates; pieces that are not
        listed are bought one by one, what is measured has no packs then.
    spare_percent : float
        How much more of each item is bought, 0 to 100; rounded up to whole packs. New sheets have no spares.
    coverage : dict of str to float, optional
        Square metres that a litre of a finish covers, by its name, beside those of the shop's rates.

    Returns
    -------
    JobList
        New sheets; bought items; nut inserts and other fixings; gasket rubber in m² by thickness, as the boxes of the
        blanks; liner and strap in m; primer and other coats in litres, or in m² where no coverage is stated; seam sealer
        in m along hems and rows of plug welds; seams in m.
    """
    of_kind(nest, JobNest, "nest", "what tb.job.nest_job gives")
    spare = Number(least=0, most=100).read(spare_percent, "spare_percent")
    rates = nest.shop.rates
    sizes = _sizes("pack", rates.packs if rates else (), packs)
    cover = _sizes("coverage", rates.coverage if rates else (), coverage)
    found: dict[tuple[str, str, str, str], Need] = {}
    for need in (*_items(nest), *_fixings(nest), *_straps(nest), *_coats(nest, cover), *_sealer(nest), *_seams(nest)):
        key = (need.kind, need.what, need.standard, need.unit)
        amount = need.amount + (found[key].amount if key in found else 0.0)
        found[key] = Need(kind=key[0], what=key[1], standard=key[2], unit=key[3], amount=amount, note=need.note)
    rows = (*_sheets(nest), *(_row(need, sizes, spare) for need in found.values()))
    return JobList(name=f"to buy for {nest.job.number}, {nest.sets} sets", heads=HEADS, rows=rows)


def _sizes(what: str, own: tuple[tuple[str, float], ...], more: Mapping[str, float] | None) -> dict[str, float]:
    """Return sizes of packs, or coverages, by name: the shop's own, then those that are given."""
    if more is not None and not isinstance(more, Mapping):
        raise BadValue(what, more, "a table of names and numbers")
    return dict(own) | {
        name: Number(above=0, most=1e6).read(size, f"{what} of '{name}'") for name, size in (more or {}).items()
    }


def _row(need: Need, sizes: Mapping[str, float], spare: float) -> tuple[str | int | float, ...]:
    counted = need.unit == "each"
    amount: int | float = round(need.amount) if counted else round(need.amount, 3)
    size = sizes.get(need.what, 1.0 if counted else None)
    packs: int | str = ""
    if size is not None:
        wanted = math.ceil(round(need.amount * (1 + spare / 100), 6)) if counted else need.amount * (1 + spare / 100)
        packs = math.ceil(round(wanted / size, 6))
    shown: int | float | str = "" if size is None else int(size) if size == int(size) else size
    return need.kind, need.what, need.standard, amount, need.unit, shown, packs, need.note


def _sheets(nest: JobNest) -> Iterator[tuple[str | int | float, ...]]:
    for name, count in nest.used().items():
        if name.startswith(f"{NEW} "):
            traced = any(g.traced and k.plate.name == name for g in nest.groups for k in g.nest.layouts)
            note = "with an EN 10204 certificate: parts on it are traced" if traced else ""
            yield "sheet", name.removeprefix(f"{NEW} "), "", count, "each", 1, count, note


def _items(nest: JobNest) -> Iterator[Need]:
    for thing, count in nest.job.bought:
        many = count * nest.sets
        if thing.unit == "each":
            yield Need(kind="item", what=thing.name, standard=thing.standard, amount=many)
        else:
            yield Need(
                kind="by length" if thing.unit == "m" else "by area",
                what=thing.raw,
                amount=many * thing.amount,
                unit=thing.unit,
                note="boxes of the blanks" if thing.unit == "m2" else "",
            )


def _fixings(nest: JobNest) -> Iterator[Need]:
    for it in nest.parts:
        uses = Counter(
            f"{c.use}, hole {c.dia:g}" for c in (*it.flat.cuts, *it.flat.drills) if c.dia and c.use in FIXINGS
        )
        for use, n in uses.items():
            note = "length by grip, all sheets together (ISO 15981)" if use.startswith("rivet") else ""
            yield Need(kind="fixing", what=use, amount=n * it.part.quantity * nest.sets, note=note)


def _straps(nest: JobNest) -> Iterator[Need]:
    """Yield long, narrow blanks in metres of strip, for whoever does not cut straps from sheet."""
    for it in nest.parts:
        x0, y0, x1, y1 = it.flat.outer.box
        wide, long = sorted((x1 - x0, y1 - y0))
        if long >= SLENDER * wide:
            yield Need(
                kind="by length",
                what=f"strap, {it.part.sheet}, {wide:.4g} mm wide",
                amount=long * it.part.quantity * nest.sets / 1000,
                unit="m",
                note="strip, instead of cutting it from the sheets above",
            )


def _coats(nest: JobNest, coverage: Mapping[str, float]) -> Iterator[Need]:
    """Yield each finish: litres where a coverage is stated, else the area of both faces."""
    for it in nest.parts:
        finish = it.part.finish
        if finish:
            area = 2 * it.flat.area * it.part.quantity * nest.sets * 1e-6
            if finish in coverage:
                said = f"{coverage[finish]:g} m2 a litre"
                yield Need(kind="coat", what=finish, amount=area / coverage[finish], unit="l", note=said)
            else:
                yield Need(kind="coat", what=finish, amount=area, unit="m2", note="both faces; state rates coverage")


def _sealer(nest: JobNest) -> Iterator[Need]:
    for it in nest.parts:
        if it.part.finish:
            length = sealed(it) * it.part.quantity * nest.sets / 1000
            if length:
                said = "hems and rows of plug welds; closed corners are not counted"
                yield Need(kind="coat", what=SEALER, amount=length, unit="m", note=said)


def sealed(it: CutPart) -> float:
    """Return the length of hems and of rows of plug welds of a part, mm: where water would creep in between two sheets."""
    if isinstance(it.made, FlatPattern):
        return 0.0
    hems = math.fsum(_hem_lengths(it.made))
    welds = [cut.loop for cut in it.flat.cuts if cut.use == "plug weld"]
    if len(welds) < 2:
        return hems
    middles = np.array([((x0 + x1) / 2, (y0 + y1) / 2) for x0, y0, x1, y1 in (loop.box for loop in welds)])
    apart = squareform(pdist(middles))
    links = minimum_spanning_tree(np.where(apart <= ROW, apart, 0.0))
    return hems + float(links.sum())


def _hem_lengths(made: Made) -> Iterator[float]:
    for strip in made.strips:
        if strip.angle >= HEM:
            yield from (x1 - x0 for x0, _, x1, _ in (loop.box for loop in strip.regions))


def _seams(nest: JobNest) -> Iterator[Need]:
    welds = (
        (w.total or 0.0) * i.quantity * nest.sets / 1000
        for i in nest.job.items
        if isinstance(i.thing, Assembly)
        for w in i.thing.welds
    )
    length = math.fsum(welds)
    if length:
        yield Need(kind="weld", what="seam", amount=length, unit="m", note="wire or rod for it")
