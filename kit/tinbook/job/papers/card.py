"""The job card: every part's stages with who, planned and used minutes, a box to sign, where to stop and show, first-off sizes."""

from __future__ import annotations

import math
import os
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from tinbook.errors import of_kind
from tinbook.job.cut_parts import CutPart
from tinbook.job.nested import JobNest
from tinbook.job.pricing.lines import Book, Line
from tinbook.job.pricing.work import part_lines
from tinbook.language import Language, Spoken
from tinbook.making.assembled import Assembled
from tinbook.making.made import Made
from tinbook.part.names import PRINTED_DATE
from tinbook.route.assembly.work import AssemblyOrder, Work
from tinbook.route.order import order_of_work
from tinbook.rules.check import check
from tinbook.write.drafts import Draft
from tinbook.write.facts import size_table
from tinbook.write.files import target
from tinbook.write.flowing import Flowable, Table, fill_pages, heading, section, table
from tinbook.write.page import Page, Paper, paper_size
from tinbook.write.sheet.folds import STEPS
from tinbook.write.stamp import stamp_of_drawing
from tinbook.write.strip import SIZE, Strip, body_of, draw_strip

HEADS: Final = ("Stage", "Who", "Planned min", "Used min", "Stop and show", "Signed")

SHOW: Final = {
    "cut outside": "first blank: diagonals and holes against the sheet",
    "fold": "first part: the sizes below, before the rest is folded",
    "fit": "in its place, before anything is welded",
    "prime": "both faces bare and primed, before they are closed",
    "weld": "tacked, before it is welded out",
    "plug weld": "first weld on scrap of this sheet, pulled apart",
    "dress": "before primer",
    "seal": "before paint",
}
"""Where work stops until somebody has looked: what is shown (common practice)."""

PLANNED: Final = {
    "deburred edges": "deburr",
    "beads x passes": "bead",
    "roll pairs set up": "bead",
    "fixings and louvres pressed, holes drawn": "insert",
    "plug welds": "plug weld",
    "holes drilled by hand": "drill flat",
    "hits": "fold",
    "set-ups": "fold",
    "turned over": "fold",
}
"""Stage of a line of the price."""

NOTE: Final = (
    "Planned minutes are those of the cutter's speed table and of the shop file's rates, for all pieces; where neither "
    "states any the column stays empty. Write what was used, and sign each stage when it is done."
)


def write_job_card(
    nested: JobNest,
    path: str | os.PathLike[str],
    *,
    assembled: tuple[Assembled, ...] = (),
    language: Language | str | None = None,
    paper: Paper | None = None,
    date: str = "",
    replace: bool = False,
) -> Path:
    """Write the job card as PDF.

    Parameters
    ----------
    nested : JobNest
        What `tb.job.nest_job` gives.
    path : str or path-like
        File name ending in .pdf, or an existing folder.
    assembled : tuple of Assembled
        The job's assemblies, made; their work between the parts gets a block each.
    language, paper : optional
        Instead of the job's own.
    date : str
        Printed in the title strip.
    replace : bool
        Write over whatever is there; else only an earlier draft gives way.

    Returns
    -------
    Path
        The file.
    """
    of_kind(nested, JobNest, "nested", "a nested job, as tb.job.nest_job gives it")
    PRINTED_DATE.read(date, "date")
    job = nested.job
    say = Spoken().read(job.language if language is None else language, "language")
    wide, high = paper_size(job.paper if paper is None else paper)
    name = f"{job.number}_job_card"
    file = target(path, ".pdf", name)
    stamp = stamp_of_drawing(name, [repr(nested.parts), nested.sets, say.name])
    page = Page(wide, high, f"{job.number}, {say('Job card').lower()}", "", stamp.mark)
    strip = Strip(
        number=job.number,
        rev="",
        title=job.title,
        lines=(
            say("1 set") if nested.sets == 1 else say("{n} sets", n=nested.sets),
            say("due {day}", day=say.date(job.due)) if job.due else say("due date open"),
            nested.shop.name,
        ),
        kind=say("Job card"),
        date=say.date(date),
        code=f"{job.number} {stamp.inputs}",
    )
    body = body_of(page)
    story = [*_head(nested, body.w, say), *_blocks(nested, assembled, body.w, say)]
    fill_pages(page, [body], [body], story, say)
    return Draft(file=file, stamp=stamp, replace=replace).write(
        page.done(lambda n, pages: draw_strip(page, strip, say, (n, pages), say("minutes; mm")))
    )


def _head(nested: JobNest, width: float, say: Language) -> Iterator[Flowable]:
    """Yield the list of parts, hours that the job states, and how to fill the card in."""
    job = nested.job
    where = _plates(nested)
    rows = tuple(
        (
            it.part.number,
            it.rev,
            it.title if isinstance(it.made, Made) else say("cut only"),
            it.part.sheet,
            str(it.part.quantity * nested.sets),
            ", ".join(where.get(it.blank, ())),
            it.part.finish or "-",
        )
        for it in nested.parts
    )
    heads = ("Part", "Rev", "Title", "Sheet", "Pieces", "On sheets", "Finish")
    yield table(Table(heads=tuple(map(say, heads)), rows=rows, right=(4,)), width, SIZE)
    hours = [(stage, h * nested.sets) for stage, h in job.hours] + list(job.once)
    if hours:
        stages = tuple((stage, nested.shop.name, say.number(60 * h, ".0f"), "", "-", "") for stage, h in hours)
        yield heading(say("Whole job"), SIZE)
        yield _stages(stages, width, say)
    yield from section(say("How to use it"), [say(NOTE)], SIZE)


def _plates(nested: JobNest) -> dict[str, list[str]]:
    """Return the numbers of the sheets that each blank is cut from."""
    found: dict[str, list[str]] = {}
    for number, (_, layout) in enumerate(nested.layouts, 1):
        for blank in dict.fromkeys(p.blank for p in layout.placements):
            found.setdefault(blank, []).append(str(number))
    return found


def _blocks(nested: JobNest, assembled: tuple[Assembled, ...], width: float, say: Language) -> Iterator[Flowable]:
    minutes = planned_minutes(nested)
    for it in nested.parts:
        n = it.part.quantity * nested.sets
        if not isinstance(it.made, Made):
            who = nested.shop.cutter(nested.group_of(it).cutter).who
            rows = (_row("cut outside", who, minutes.get((it.part.number, "cut outside")), say),)
            yield heading(_name(it.part.number, "", "", n, say), SIZE)
            yield _stages(rows, width, say)
            continue
        part = it.made.part
        yield heading(_name(part.number, part.rev, part.title, n, say), SIZE)
        plan = check(it.made).plan
        proved = plan if plan is not None and plan.steps else None
        yield _stages(tuple(_part_rows(it, proved, minutes, say)), width, say)
        sizes = size_table(it.made, proved, say)
        if sizes is not None:
            yield heading(say("First-off sizes of {number}", number=part.number), SIZE)
            yield table(sizes, width, SIZE)
    for made in assembled:
        order = order_of_work(made)
        assert isinstance(order, AssemblyOrder)
        n = nested.job.wanted(made.assembly) * nested.sets
        whole = made.assembly
        yield heading(_name(whole.number, whole.rev, whole.title, n, say), SIZE)
        yield _stages(tuple(_assembly_rows(made, order, say)), width, say)


def _name(number: str, rev: str, title: str, n: int, say: Language) -> str:
    said = f"{number} {say('rev {rev}', rev=rev)}" if rev else number
    return ", ".join(filter(None, (said, title, say("{n} off", n=n))))


def _part_rows(
    it: CutPart, plan: object, minutes: dict[tuple[str, str], float], say: Language
) -> Iterator[tuple[str, ...]]:
    """Yield a row for each stage of a part in the order of work, equal stages by one hand in one row."""
    assert isinstance(it.made, Made)
    done: dict[tuple[str, str], None] = {}
    for step in order_of_work(it.made, plan).steps if plan is not None else order_of_work(it.made).steps:
        done[step.operation.kind, step.operation.who] = None
    counted: set[str] = set()
    for kind, who in done:
        planned = None if kind in counted else minutes.get((it.part.number, kind))
        counted.add(kind)
        yield _row(kind, who, planned, say)


def _row(kind: str, who: str, planned: float | None, say: Language) -> tuple[str, ...]:
    show = say(SHOW[kind]) if kind in SHOW else "-"
    return say(STEPS.get(kind, kind)), who, "" if planned is None else say.number(planned, ".0f"), "", show, ""


def _assembly_rows(made: Assembled, order: AssemblyOrder, say: Language) -> Iterator[tuple[str, ...]]:
    """Yield putting together, and the work between, in order."""
    together = False
    for it in order.schedule:
        if isinstance(it, Work):
            together = False
            what = f"{say(STEPS.get(it.kind, it.kind))}: {', '.join(it.on)}"
            yield what, made.shop.name, "", "", say(SHOW[it.kind]) if it.kind in SHOW else "-", ""
        elif not together and not it.there:
            together = True
            yield say("put together, by the assembly page"), made.shop.name, "", "", "-", ""


def _stages(rows: tuple[tuple[str, ...], ...], width: float, say: Language) -> Flowable:
    it = Table(heads=tuple(map(say, HEADS)), rows=rows, right=(2,), by_hand=(3, 5))
    return table(it, width, SIZE)


def planned_minutes(nested: JobNest) -> dict[tuple[str, str], float]:
    """Return the minutes that are planned for all pieces of a part by its number and stage, where the shop states any."""
    found: dict[tuple[str, str], float] = {}
    for it in nested.parts:
        sheet, cutter = nested.shop.sheet_by_key(it.part.sheet), nested.shop.cutter(nested.group_of(it).cutter)
        if cutter.speeds:
            pace = cutter.pace(sheet.material, sheet.thickness)
            each = it.flat.cut_length / 1000 / pace.speed + it.flat.pierces * pace.pierce / 60
            found[it.part.number, "cut outside"] = math.ceil(each * it.part.quantity * nested.sets)
    lines: Iterator[Line] = iter(())
    if nested.shop.rates is not None:
        lines = part_lines(nested, Book(nested.shop, nested.stock))
    for line in lines:
        if line.unit == "h" and line.what in PLANNED:
            key = line.number, PLANNED[line.what]
            found[key] = found.get(key, 0.0) + 60 * float(line.quantity)
    return found
