"""A whole job on to sheets: one nest for each metal and thickness, from the stock first and from new sheets where it ends."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import field, replace
from functools import partial
from typing import Any, TypeAlias

from tinbook.errors import BadValue, of_kind
from tinbook.executors import sweep
from tinbook.finding import Finding, Findings, caution
from tinbook.htmltable import html_table
from tinbook.job.cut_parts import CutPart, MadeParts, blanks_of, made_parts
from tinbook.job.declared import Job
from tinbook.job.nesting.layout import MOST_BLANKS, QUARTER_TURNS, SIDES, Nest, Plate, PlateLayout, Side, ranged
from tinbook.job.nesting.nest import nest
from tinbook.job.sheets.offcuts import KEEP, Shape
from tinbook.job.sheets.plan import CutPlan, cut_plan
from tinbook.job.stock.values import GRAIN, NEW, NO_STOCK, Stock
from tinbook.part.assembly import Assembly
from tinbook.shop.cutting import Cutter, CuttingRoom, fits_on
from tinbook.shop.material import Sheet
from tinbook.shop.shop import Shop
from tinbook.values import dataclass
from tinbook.write.stamp import Despite


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """The parts of one metal and thickness, on their sheets.

    Parameters
    ----------
    sheet : str
        Key of the shop's sheet.
    traced : bool
        Whether the metal's heat and certificate must be known.
    cutter : str
        Key of the cutter.
    room : CuttingRoom
        Gap and margins that were kept.
    nest : Nest
        The layouts; a plate's name is its number in the stock, or begins with "new".
    """

    sheet: str
    traced: bool
    cutter: str
    room: CuttingRoom
    nest: Nest


@dataclass(frozen=True, slots=True, kw_only=True)
class JobNest:
    """A job on its sheets.

    Parameters
    ----------
    job, shop, stock
        From which it follows.
    sets : int
        How many sets are cut.
    parts : tuple of CutPart
        Every kind of part.
    groups : tuple of Group
        A nest for each metal and thickness.
    findings : Findings
        Cautions to read before cutting.
    made : tuple
        Parts and what was found while they were made, for a nest of other sets.
    new_sheets : bool
        Whether sheets may be bought where the stock ends.
    """

    job: Job
    shop: Shop
    stock: Stock
    sets: int
    parts: tuple[CutPart, ...]
    groups: tuple[Group, ...]
    findings: Findings
    made: MadeParts = field(repr=False)
    new_sheets: bool = True

    @property
    def layouts(self) -> tuple[tuple[Group, PlateLayout], ...]:
        """Every sheet of the job with its group, in the order of their numbers."""
        return tuple((group, layout) for group in self.groups for layout in group.nest.layouts)

    def group_of(self, cut: CutPart) -> Group:
        """Return the group that a part is nested in."""
        return next(g for g in self.groups if (g.sheet, g.traced) == (cut.part.sheet, cut.part.traced))

    def sheet(self, number: int) -> tuple[int, int]:
        """Return the index of the group and the number of the plate in its nest, by the sheet's number through the job."""
        plates = [(k, n) for k, group in enumerate(self.groups) for n in range(1, len(group.nest.layouts) + 1)]
        if not isinstance(number, int) or isinstance(number, bool) or not 1 <= number <= len(plates):
            raise BadValue("sheet", number, f"a sheet of the job, 1 to {len(plates)}")
        return plates[number - 1]

    def plans(self, offcuts: Shape = "rectangles", keep: tuple[float, float] = KEEP) -> tuple[CutPlan, ...]:
        """Return how each sheet is cut, numbered through the job."""
        plates = [(group, n) for group in self.groups for n in range(1, len(group.nest.layouts) + 1)]
        return tuple(
            cut_plan(
                group.nest,
                n,
                self.shop,
                group.sheet,
                cutter=group.cutter,
                lead=group.room.lead,
                offcuts=offcuts,
                keep=keep,
                number=number,
                of=len(plates),
            )
            for number, (group, n) in enumerate(plates, 1)
        )

    def used(self) -> dict[str, int]:
        """Return how many plates of each name are cut: numbers of the stock, and new ones."""
        return dict(_names(self.groups))

    def rows(self) -> list[tuple[str, ...]]:
        """Return a table of the sheets."""
        out: list[tuple[str, ...]] = []
        for group, layout in self.layouts:
            x0, y0, x1, y1 = layout.plate.outline.box
            size, count = f"{x1 - x0:.0f} x {y1 - y0:.0f}", str(len(layout.placements))
            traced = "traced" if group.traced else ""
            out.append((group.sheet, layout.plate.name, size, count, f"{layout.reach:.0f}", traced))
        return out

    def __repr__(self) -> str:
        return f"<job {self.job.number}, {self.sets} sets: {sum(self.used().values())} sheets and offcuts>"

    def _repr_html_(self) -> str:
        heads = ("sheet", "plate", "mm", "blanks", "length used", "")
        return html_table(heads, self.rows(), caption=repr(self)[1:-1], notes=[str(f) for f in self.findings])


_Task: TypeAlias = tuple[dict[str, Any], partial[Nest]]
"""What is known of a group before it is nested, and its search: plain values, which travel to another process."""


def nest_job(
    job: Job,
    shop: Shop,
    stock: Stock = NO_STOCK,
    *,
    sets: int = 1,
    new_sheets: bool = True,
    turn_over: bool = False,
    angles: tuple[float, ...] = QUARTER_TURNS,
    seed: int = 0,
    effort: float = 3.0,
    despite: Despite = None,
    executor: Executor | None = None,
    progress: Callable[[int, int], None] | None = None,
    made: MadeParts | None = None,
) -> JobNest:
    """Put all parts of a job on sheets.

    Parameters
    ----------
    job : Job
        What is wanted.
    shop : Shop
        Its tools make the parts, its cutters cut them, its sheets can be bought.
    stock : Stock
        What lies in the rack at this moment.
    sets : int
        How many sets are cut, 1 to 10 000.
    new_sheets : bool
        Whether sheets may be bought where the stock ends.
    turn_over : bool
        Whether blanks may be cut with their marks facing down.
    angles : tuple of float
        Turns that a blank may have.
    seed, effort
        As for `nest`; the effort is shared out over the metals by their blanks.
    despite : str or sequence of str, optional
        A reason, or the codes of findings, for nesting although something stops a part.
    executor : Executor, optional
        Of `concurrent.futures`: metals are then nested at the same time, with the same result.
    progress : callable, optional
        Called with (done, all) metals.
    made : tuple, optional
        `made` of an earlier nest of the same job and shop, which need not be made and checked again.

    Returns
    -------
    JobNest

    Raises
    ------
    CannotMake
        A part is stopped, or its sheet differs from the flat's thickness.
    BadValue
        A part that no sheet can hold, stock that runs out, values out of range.
    """
    of_kind(job, Job, "job", "a Job")
    of_kind(shop, Shop, "shop", "a Shop")
    of_kind(stock, Stock, "stock", "a Stock: what store.snapshot() gives, or tb.job.Stock()")
    if not isinstance(sets, int) or isinstance(sets, bool) or not 1 <= sets <= 10_000:
        raise BadValue("sets", sets, "a whole number from 1 to 10 000")
    effort = ranged("effort", effort, 0.0, 1e4)
    if progress is not None and not callable(progress):
        raise BadValue("progress", progress, "a function of (done, all)")
    total = sets * sum(p.quantity for p in job.parts)
    if total > MOST_BLANKS:
        valid = f"at most {MOST_BLANKS} parts with all sets; nest a larger job in portions"
        raise BadValue("job quantity", total, valid)
    parts, said = made_parts(job, shop, despite) if made is None else made
    findings = list(said)
    own = [p for p in parts if not job.comes_cut(p.part.number, sets)]
    left = stock
    groups: dict[tuple[str, bool], Group] = {}

    def task(key: str, traced: bool) -> _Task:
        sheet, mine = shop.sheet_by_key(key), [p for p in own if (p.part.sheet, p.part.traced) == (key, traced)]
        cutter = shop.cutter_for(sheet)
        room = cutter.room(sheet.thickness)
        rule = cutter.joints(sheet.thickness) if job.micro_joints else None
        blanks = blanks_of(mine, sets, angles, turn_over, rule)
        plates = plates_for(sheet, cutter, shop, left, traced, new_sheets)
        if not plates:
            what = "with heat and certificate " if traced else ""
            bed = " x ".join(f"{v:g}" for v in cutter.bed)
            valid = f"sheets or offcuts {what}that fit on the cutter's bed, {bed} mm, or new sheets"
            raise BadValue(f"stock of '{key}'", "nothing", valid)
        own_effort = effort * sum(b.quantity for b in blanks) / total
        margins: dict[Side, float] = dict(zip(SIDES, room.margins, strict=True))
        search = partial(nest, blanks, plates, gap=room.gap, margins=margins, seed=seed, effort=own_effort)
        return {"sheet": key, "traced": traced, "cutter": cutter.key, "room": room}, search

    # Parts whose metal must be traced choose first: for the others every plate will do.
    for traced in (True, False):
        tasks = [task(key, traced) for key in dict.fromkeys(p.part.sheet for p in own if p.part.traced == traced)]
        found = sweep(_nested, tasks, executor, chunk=1, progress=progress) if executor else tuple(map(_nested, tasks))
        if progress is not None and executor is None:
            progress(len(tasks), len(tasks))
        groups |= {(g.sheet, g.traced): g for g in found}
        left = stock_without(left, found)
    findings += [
        caution(
            "job.assembly", i.number, "its parts were checked one by one", "tb.check(tb.assemble(...)) checks the whole"
        )
        for i in job.items
        if isinstance(i.thing, Assembly)
    ]
    order = dict.fromkeys((p.part.sheet, p.part.traced) for p in own)
    findings += [
        caution(
            "job.metal",
            p.part.number,
            "comes cut from a supplier's metal: the store does not know its heat and certificate",
            "keep the EN 10204 certificate of the delivery with the job",
        )
        for p in parts
        if p.part.traced and job.comes_cut(p.part.number, sets)
    ]
    findings += _room_findings(job, shop, list(groups.values()))
    return JobNest(
        job=job,
        shop=shop,
        stock=stock,
        sets=sets,
        parts=parts,
        groups=tuple(groups[key] for key in order),
        findings=Findings(findings),
        made=(parts, said),
        new_sheets=new_sheets,
    )


def _room_findings(job: Job, shop: Shop, groups: Sequence[Group]) -> list[Finding]:
    """Return what is guessed about the cutter, and blanks that too few micro-joints hold."""
    out = []
    for g in groups:
        rule = shop.cutter(g.cutter).joints(shop.sheet_by_key(g.sheet).thickness)
        room = f"gap {g.room.gap:g} mm and margins are {g.room.source}"
        out += [caution("nest.room", g.sheet, room, "state the cutter's own")] * ("guess" in g.room.source)
        if job.micro_joints:
            said = f"micro-joints {rule.width:.2g} mm wide are {rule.source}"
            out += [caution("nest.joint_rule", g.sheet, said, "state the cutter's own")] * ("guess" in rule.source)
            out += [
                caution("nest.joints", b.name, "too few micro-joints hold it", "hold it by hand", len(b.joints), 2)
                for b in g.nest.blanks
                if len(b.joints) < 2
            ]
    return out


def plates_for(
    sheet: Sheet, cutter: Cutter, shop: Shop, stock: Stock, traced: bool, new_sheets: bool
) -> tuple[Plate, ...]:
    """Return the plates that may be used: those of the stock first, which lead where they cost the same."""
    priced = sheet.price_per_kg
    out: list[Plate] = []

    def cost(area: float, share: float = 1.0) -> float | None:
        mass = area * sheet.thickness * sheet.material.density * 1e-9
        return None if priced is None else priced * mass * share

    def fits(box: Sequence[float]) -> bool:
        return fits_on(cutter.bed, box[2] - box[0], box[3] - box[1])

    for offcut in stock.offcuts:
        if offcut.sheet == sheet.key and (offcut.traced or not traced) and fits(offcut.outline.box):
            worth = cost(abs(offcut.outline.area), offcut_share(shop))
            out.append(
                Plate(name=offcut.key, outline=offcut.outline, quantity=1, grain=offcut.grain, cost=worth, offcut=True)
            )
    for row in stock.sheets:
        if (
            row.sheet == sheet.key
            and row.quantity
            and (row.traced or not traced)
            and fits((0, 0, row.length, row.width))
        ):
            own = cost(row.length * row.width)  # what it costs to put another in its place
            out.append(
                Plate.rectangle(row.key, row.length, row.width, quantity=row.quantity, grain=GRAIN[row.grain], cost=own)
            )
    for length, width in sheet.sizes if new_sheets else ():
        if fits((0, 0, length, width)):
            grain = 0.0 if sheet.grain == "length" else None
            name = f"{NEW} {sheet.key} {length:g} x {width:g}"
            out.append(Plate.rectangle(name, length, width, grain=grain, cost=cost(length * width)))
    return tuple(out)


def offcut_share(shop: Shop) -> float:
    """Return what an offcut is worth against new sheet: the shop's rate, else half (a guess)."""
    value = None if shop.rates is None else shop.rates.offcut_percent
    return 0.5 if value is None else value / 100


def _nested(task: _Task) -> Group:
    known, search = task
    return Group(**known, nest=search())


def stock_without(stock: Stock, groups: Sequence[Group]) -> Stock:
    """Return the stock without what was used."""
    used = _names(groups)
    sheets = tuple(replace(s, quantity=s.quantity - used[s.key]) for s in stock.sheets)
    return replace(stock, sheets=sheets, offcuts=tuple(o for o in stock.offcuts if o.key not in used))


def _names(groups: Sequence[Group]) -> Counter[str]:
    """Return how many plates of each name are cut."""
    return Counter(k.plate.name for group in groups for k in group.nest.layouts)
