"""Quantities of work: what a job's parts, assemblies and sheets need, as lines of a price."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator
from decimal import Decimal

from tinbook.job.cut_parts import CutPart
from tinbook.job.nested import Group, JobNest, offcut_share
from tinbook.job.pricing.lines import HUNDRED, Book, Line, exact, quantity
from tinbook.job.quoted import SupplierQuote, Work
from tinbook.job.sheets.plan import CutPlan
from tinbook.job.stock.values import NEW, StockSheet
from tinbook.making.made import Made
from tinbook.part.assembly import Assembly
from tinbook.rules.check import check
from tinbook.shop.shop import Shop
from tinbook.write.dxf import ETCH, strokes_by_layer

PRESSED = ("nut insert", "press nut", "standoff", "rivet")


def material_lines(nest: JobNest, book: Book, plans: tuple[CutPlan, ...]) -> Iterator[Line]:
    """Yield the metal: the share of each sheet that is used, or whole sheets less the offcuts that are kept."""
    whole = book.rates.material == "sheet"
    kept = iter(plans)
    for group in nest.groups:
        sheet = nest.shop.sheet_by_key(group.sheet)
        for layout in group.nest.layouts:
            plan = next(kept)
            box = layout.plate.outline.box
            used = 1.0 if whole or layout is not group.nest.layouts[-1] else layout.reach / (box[2] - box[0])
            per_m2 = sheet.thickness * sheet.material.density * 1e-9
            mass = abs(layout.plate.outline.area) * used * per_m2
            source = (
                f"{layout.plate.name}: {used:.1%} of it by its length" if used < 1 else f"{layout.plate.name}, whole"
            )
            what = f"{group.sheet}, {layout.plate.name}"
            row = None if layout.plate.name.startswith(f"{NEW} ") else nest.stock.of(layout.plate.name)
            if isinstance(row, StockSheet) and row.price is not None:
                rate = row.price, f"store: price of {row.key}"
                yield book.line("material", what, group.sheet, quantity(used), "sheet", rate, source)
            else:
                rate = _metal(book, group, sheet.price_per_kg)
                if layout.plate.offcut:
                    rate = _offcut_rate(nest.shop, rate)
                yield book.line("material", what, group.sheet, quantity(mass), "kg", rate, source)
            if whole and plan.offcuts:
                back = math.fsum(abs(loop.area) for loop in plan.offcuts) * per_m2
                price, said = _offcut_rate(nest.shop, _metal(book, group, sheet.price_per_kg))
                words = f"{group.sheet}, {len(plan.offcuts)} offcuts kept"
                yield book.line(
                    "material", words, group.sheet, -quantity(back), "kg", (price, said), "outlines of the offcuts"
                )


def _metal(book: Book, group: Group, price: float | None) -> tuple[Decimal, str]:
    if price is None:
        book.missing[f"price_per_kg of sheet '{group.sheet}'"] = None
        return Decimal(0), "missing"
    return exact(price), f"{book.home(f'price_per_kg of {group.sheet}')}: sheets '{group.sheet}' price_per_kg"


def _offcut_rate(shop: Shop, rate: tuple[Decimal, str]) -> tuple[Decimal, str]:
    share = exact(offcut_share(shop))
    stated = shop.rates is not None and shop.rates.offcut_percent is not None
    said = "shop file: rates offcut_percent" if stated else "a guess: half; state rates offcut_percent"
    return rate[0] * share, f"{rate[1]} x {share * HUNDRED:g} % ({said})"


def part_lines(nest: JobNest, book: Book) -> Iterator[Line]:
    """Yield the work on every kind of part."""
    for it in nest.parts:
        yield from _cutting(it, nest, book)
        if isinstance(it.made, Made):
            yield from _forming(it, it.made, nest, book)
        yield from _surface(it, nest, book)


def _quoted(it: CutPart, nest: JobNest, quote: SupplierQuote, book: Book) -> Line:
    number, count = it.part.number, it.part.quantity * nest.sets
    rate = (
        exact(dict(quote.prices)[number]),
        quote.name + (f", valid until {quote.valid_until}" if quote.valid_until else ""),
    )
    metal = f", metal by the {quote.metal}" if quote.work == "cutting" else ""
    assumed = "" if quote.sets == nest.sets else f"quoted for {quote.sets} sets"
    what = f"{quote.work} by {quote.supplier}{metal}"
    return book.line("outside work", what, number, Decimal(count), "each", rate, "quantity of the job", assumed)


def _cutting(it: CutPart, nest: JobNest, book: Book) -> Iterator[Line]:
    flat, count, number = it.flat, it.part.quantity * nest.sets, it.part.number
    metres = quantity(flat.cut_length * count / 1000)
    source = f"{count} x {flat.cut_length / 1000:.4f} m from the blank"
    quote = nest.job.quote(number, "cutting", nest.sets)
    if quote is not None:
        yield _quoted(it, nest, quote, book)
    else:
        yield from _own_cutting(it, nest, book, metres, source)
    if quote is None or not quote.deburred:
        yield book.work("deburr_per_m", "cutting", "deburred edges", number, metres, "m", source)


def _own_cutting(it: CutPart, nest: JobNest, book: Book, metres: Decimal, source: str) -> Iterator[Line]:
    group = nest.group_of(it)
    flat, count = it.flat, it.part.quantity * nest.sets
    sheet, cutter = nest.shop.sheet_by_key(group.sheet), nest.shop.cutter(group.cutter)
    number, process = it.part.number, cutter.process
    joints = next(b for b in group.nest.blanks if b.name == it.blank).joints
    starts = Decimal((flat.pierces + max(0, len(joints) - 1)) * count)
    if book.find("cut_per_min", process) is not None:
        pace = cutter.pace(sheet.material, sheet.thickness)
        minutes = quantity(float(metres) / pace.speed + float(starts) * pace.pierce / 60)
        said = f"{source}, {starts} pierces; {pace.source}"
        yield book.line("cutting", f"cut, {process}", number, minutes, "min", book.need("cut_per_min", process), said)
    else:
        base, where = book.need("cut_per_m", process)
        rise = book.find("cut_per_m_mm", process)
        if rise is not None:
            base, where = base + rise[0] * exact(sheet.thickness), f"{where} + {sheet.thickness:g} mm x cut_per_m_mm"
        yield book.line("cutting", f"cut, {process}", number, metres, "m", (base, where), source)
        said = f"{count} x {flat.pierces} contours" + (f", the outer one in {len(joints)} pieces" if joints else "")
        yield book.line("cutting", "pierces", number, starts, "pierce", book.need("pierce", process), said)
    etched = math.fsum(e.length for e in strokes_by_layer(flat, cutter.etches).get(ETCH, ()))
    if etched:
        long = quantity(etched * count / 1000)
        yield book.line(
            "cutting", "etched lines", number, long, "m", book.need("etch_per_m", process), "marks of the blank"
        )
    if joints:
        said = f"{count} x {len(joints)} joints"
        yield book.work("dress", "cutting", "micro-joints dressed", number, Decimal(len(joints) * count), "each", said)


def _forming(it: CutPart, made: Made, nest: JobNest, book: Book) -> Iterator[Line]:
    number, count = it.part.number, it.part.quantity * nest.sets
    quote = nest.job.quote(number, "folding", nest.sets)
    if quote is not None:
        yield _quoted(it, nest, quote, book)
    else:
        yield from _folds(number, made, count, book)
    lengths: dict[str, float] = {}
    strokes = 0
    for panel in made.panels:
        for form in panel.forms:
            row = form.row(made.shop)
            if row is not None and row.length is not None:
                lengths[row.tool] = lengths.get(row.tool, 0.0) + row.length * row.passes
            elif row is not None:
                strokes += row.passes
    if lengths:
        metres = quantity(sum(lengths.values()) * count / 1000)
        yield book.work(
            "bead_per_m", "beading", "beads x passes", number, metres, "m", "lengths and passes of the forms"
        )
        yield book.work(
            "bead_setup", "beading", "roll pairs set up", number, Decimal(len(lengths)), "set-up", "once a batch"
        )
    uses = Counter(cut.use for cut in (*made.flat.cuts, *made.flat.drills)) if made.flat else Counter[str]()
    pressed = sum(uses[u] for u in PRESSED) + strokes
    for name, what, n in (
        ("insert", "fixings and louvres pressed, holes drawn", pressed),
        ("weld", "plug welds", uses["plug weld"]),
        ("drill", "holes drilled by hand", len(made.flat.drills) if made.flat else 0),
    ):
        if n:
            yield book.work(name, "joining", what, number, Decimal(n * count), "each", f"{count} x {n} from the part")


def _folds(number: str, made: Made, count: int, book: Book) -> Iterator[Line]:
    if not made.strips:
        return
    plan = check(made).plan
    if plan is not None and plan.steps:
        hits = len(plan.steps)
        over = sum(s.turn_over for s in plan.steps)
        setups = max(1, sum(s.reset for s in plan.steps[1:]) + 1)
        source, assumed = "order of folds that was proved", ""
    else:
        hits, over = len(made.strips), len({s.direction for s in made.strips}) - 1
        setups = len({s.bend.tool for s in made.strips})
        source, assumed = "folds of the part", "no order of folds was proved: a hit a fold, a set-up a tool"
    said = f"{count} x {hits}, {source}"
    yield book.work("fold", "folding", "hits", number, Decimal(hits * count), "hit", said, assumed)
    yield book.work(
        "fold_setup", "folding", "set-ups", number, Decimal(setups), "set-up", f"once a batch, {source}", assumed
    )
    if over:
        yield book.work(
            "turn_over",
            "folding",
            "turned over",
            number,
            Decimal(over * count),
            "each",
            f"{count} x {over}, {source}",
            assumed,
        )


def _surface(it: CutPart, nest: JobNest, book: Book) -> Iterator[Line]:
    number, count = it.part.number, it.part.quantity * nest.sets
    sheet = nest.shop.sheet_by_key(it.part.sheet)
    area = quantity(2 * it.flat.area * count * 1e-6)
    both = "both faces of the blank, edges not counted"
    if it.part.finish:
        yield book.work("clean_per_m2", "finish", "cleaned", number, area, "m2", both)
        rate = book.need("finish_per_m2", it.part.finish)
        yield book.line("finish", it.part.finish, number, area, "m2", rate, both)
    mass = quantity(it.mass(sheet) * count)
    if book.find("handling_per_kg") is not None:
        yield book.line(
            "handling", "moved about", number, mass, "kg", book.need("handling_per_kg"), "mass of the parts"
        )
    yield book.work("part", "handling", "parts handled", number, Decimal(count), "part", "quantity of the job")


def job_lines(nest: JobNest, book: Book, plans: tuple[CutPlan, ...]) -> Iterator[Line]:
    """Yield what belongs to assemblies and to the job as a whole."""
    job = nest.job
    for quote in quotes_used(nest):
        if quote.fixed:
            what = f"set-up and carriage, {quote.work} by {quote.supplier}"
            rate = exact(quote.fixed), quote.name
            yield book.line("outside work", what, "", Decimal(1), "order", rate, "once an order")
    for plan in plans:
        said = f"sheet {plan.number}: cuts that free offcuts"
        if not plan.parting:
            continue
        if book.find("cut_per_min", plan.cutter.process) is not None:
            pace = plan.cutter.pace(plan.sheet.material, plan.sheet.thickness)
            minutes = quantity(plan.parting_length / 1000 / pace.speed + len(plan.parting) * pace.pierce / 60)
            rate = book.need("cut_per_min", plan.cutter.process)
            yield book.line("cutting", "parting cuts", "", minutes, "min", rate, f"{said}; {pace.source}")
        else:
            base, where = book.need("cut_per_m", plan.cutter.process)
            rise = book.find("cut_per_m_mm", plan.cutter.process)
            rate = base + (rise[0] * exact(plan.sheet.thickness) if rise else 0), where
            yield book.line("cutting", "parting cuts", "", quantity(plan.parting_length / 1000), "m", rate, said)
    for item in job.items:
        if isinstance(item.thing, Assembly):
            seam = math.fsum(w.total for w in item.thing.welds if w.total is not None)
            if seam:
                metres = quantity(seam * item.quantity * nest.sets / 1000)
                number = job.numbered(item.number)
                yield book.work("weld_per_m", "joining", "seams", number, metres, "m", "welds of the assembly")
    for thing, count in job.bought:
        rate = book.need("bought", thing.name)
        yield book.line("bought", thing.name, "", Decimal(count * nest.sets), "each", rate, "items of the assemblies")
    for stage, hours in job.hours:
        yield _hours(book, stage, hours * nest.sets, f"{nest.sets} sets x {hours:g} h, stated by the job")
    for stage, hours in job.once:
        yield _hours(book, stage, hours, "once, stated by the job")


def quotes_used(nest: JobNest) -> tuple[SupplierQuote, ...]:
    """Return the suppliers' quotes that the price of this number of sets counts with."""
    works: tuple[Work, ...] = ("cutting", "folding")
    found = [nest.job.quote(p.part.number, work, nest.sets) for p in nest.parts for work in works]
    return tuple(dict.fromkeys(q for q in found if q is not None))


def _hours(book: Book, stage: str, hours: float, source: str) -> Line:
    rate = book.find("hours", stage) or book.need("hour")
    return book.line("hours", stage, "", quantity(hours), "h", rate, source)


def not_priced(nest: JobNest) -> tuple[str, ...]:
    """Return what no line can count, so that nobody takes it for free."""
    out = []
    plugged = {p.part.number for p in nest.parts if any(c.use == "plug weld" for c in (*p.flat.cuts, *p.flat.drills))}
    for item in nest.job.items:
        if isinstance(item.thing, Assembly):
            things = {m.name: nest.job.numbered(getattr(m.thing, "number", "")) for m in item.thing.members}
            # Where plug welds join the two, the weld that is declared is theirs, and each of them has its line.
            bare = [
                f"{w.a} to {w.b}"
                for w in item.thing.welds
                if w.length is None and not plugged & {things[w.a], things[w.b]}
            ]
            if bare:
                out.append(f"{item.number}: welds without a length: {', '.join(bare)}")
            out.append(f"{item.number}: putting it together, where the job states no hours")
    return tuple(out)
