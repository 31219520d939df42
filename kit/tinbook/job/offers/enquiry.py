"""The enquiry to a laser or brake supplier: a letter, a list and the files of every part, in one archive."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Sequence
from pathlib import Path

from tinbook.errors import BadValue, UnknownName, of_kind
from tinbook.fields import Choice, Count, Several
from tinbook.job.cut_parts import CutPart
from tinbook.job.lists import JobList
from tinbook.job.nested import JobNest
from tinbook.job.offers.letter import PAPER, Party, certified, letter, listed, said, supplied, the_day
from tinbook.job.quoted import Metal, Work
from tinbook.job.releasing.archive import pack_bytes
from tinbook.language import Language, Spoken
from tinbook.making.made import Made
from tinbook.write.drafts import Draft
from tinbook.write.dxf import write_dxf
from tinbook.write.files import target
from tinbook.write.sheet.pages import write_sheet
from tinbook.write.stamp import Despite, stamp_of_drawing
from tinbook.write.step import write_step


def write_enquiry(
    nest: JobNest,
    path: str | os.PathLike[str],
    *,
    work: Work,
    metal: Metal = "shop",
    number: str,
    day: str,
    sender: Party,
    supplier: Party,
    parts: Sequence[str] | None = None,
    sets: Sequence[int] | None = None,
    reply_by: str = "",
    language: Language | str | None = None,
    despite: Despite = None,
    replace: bool = False,
) -> Path:
    """Write an enquiry: an archive with the letter, a list of the parts and their files, whole or not at all.

    Parameters
    ----------
    nest : JobNest
        From `nest_job`; an effort of 0 will do, for its layouts are not sent.
    path : str or path-like
        File name ending in .zip, or an existing folder.
    work : {"cutting", "folding"}
        What the supplier shall do. For cutting a DXF of each blank goes out, for folding the STEP of the folded part and
        its fold sheet too.
    metal : {"shop", "supplier"}
        Who supplies the metal.
    number, day : str
        Of the enquiry.
    sender, supplier : Party
        Who asks whom.
    parts : sequence of str, optional
        Numbers of parts; else all, for folding all that have folds.
    sets : sequence of int, optional
        Numbers of sets to be quoted for, at most 4; else that of the nest.
    reply_by : str
        Last day for the reply, "" for none.
    language : Language or {"en", "de"}, optional
        Of letter, list and fold sheets; else the job's.
    despite, replace
        As for `write_dxf`.

    Returns
    -------
    Path
        The archive: same input, same bytes.

    Raises
    ------
    BadValue
        A part that the job does not have, or that has nothing to fold; values out of range.
    CannotMake
        Something stops a part.
    """
    of_kind(nest, JobNest, "nest", "what tb.job.nest_job gives")
    work = Choice(("cutting", "folding")).read(work, "work")
    metal = Choice(("shop", "supplier")).read(metal, "metal")
    for field, party in (("sender", sender), ("supplier", supplier)):
        of_kind(party, Party, field, "a tb.job.Party")
    day = the_day(day)
    say = Spoken().read(nest.job.language if language is None else language, "language")
    by = the_day(reply_by, "reply_by") if reply_by else ""
    counts = (nest.sets,) if sets is None else Several(Count(1, 10_000), 1, 4, "numbers", once=True).read(sets, "sets")
    if work == "folding" and metal == "supplier":
        raise BadValue("metal", metal, "'shop': blanks are folded that somebody has cut")
    name = f"{PAPER.read(number, 'enquiry number')}_enquiry"
    mine = _chosen(nest, work, parts)
    file = target(path, ".zip", name)
    files: dict[str, bytes] = {}
    rows = []
    with tempfile.TemporaryDirectory() as folder:
        for it in mine:
            place = Path(folder) / it.part.number
            place.mkdir()
            written = _files(it, place, work, it.part.quantity * counts[0], say, despite)
            files |= {f"parts/{it.part.number}/{f.name}": f.read_bytes() for f in written}
            rows.append(_row(it, counts, [f.name for f in written]))
    heads = tuple(map(say, ("Part", "Rev", "Sheet", "Size, mm")))
    named = [say("1 set") if n == 1 else say("{n} sets", n=n) for n in counts]
    heads += tuple(f"{say('Quantity')}, {sets}" for sets in named)
    listing = JobList(name=name, heads=(*heads, say("Files")), rows=tuple(rows))
    stamp = stamp_of_drawing(name, [listing.rows, metal, day, by, sender, supplier, say.name])
    traced = [it.part.number for it in mine if it.part.traced and metal == "supplier"]
    prices = tuple(f"{say('Price each')}, {sets}" for sets in named)
    blank = ("",) * len(counts)
    asked = (
        say("Set-up, packing and carriage, once"),
        say("Quote holds until"),
        say("Days from order to delivery"),
        say("Edges deburred (yes / no)"),
    )
    story = [
        *said(*_words(work, metal, traced, counts, by, say)),
        listed((*heads, *prices), [(*row[:-1], *blank) for row in rows], _after(4, counts), _after(len(heads), counts)),
        *said(
            say("Your quote"),
            say(
                "Price of each part without tax; what set-up, packing and carriage cost once for the order; until when the "
                "quote holds; days from order to delivery; whether edges come deburred."
            ),
        ),
        listed(("", say("Your quote")), [(line, "") for line in asked], by_hand=(1,)),
    ]
    facts = ((say("Number"), number), (say("Date"), say.date(day)), (say("Job"), nest.job.number))
    signers = tuple(say("For {name}", name=party.name) for party in (sender, supplier))
    paper = letter(say("Enquiry"), number, sender, supplier, facts, story, say, signers=signers, mark=stamp.mark)
    files |= {"enquiry.pdf": paper, "parts.csv": listing.text.encode()}
    return Draft(file=file, stamp=stamp, replace=replace).write(pack_bytes(files))


def _after(first: int, counts: Sequence[int]) -> range:
    """Return the columns of the numbers of sets."""
    return range(first, first + len(counts))


def _words(work: Work, metal: Metal, traced: Sequence[str], counts: Sequence[int], by: str, say: Language) -> list[str]:
    """Return what is asked for, who supplies the metal, for how many sets, and what else the supplier needs to know."""
    if work == "cutting":
        out = [say("Please quote for cutting the parts below.")]
    else:
        out = [say("Please quote for folding the parts below.")]
    sets = say.separator.join(map(str, counts))
    out += [
        supplied(work, metal, say),
        say("Quantities and prices for these numbers of sets: {sets}.", sets=sets),
        say("DXF files are drawn at finished size in mm, one part each. STEP files show the folded part."),
        *certified(traced, say),
    ]
    return out + [say("Please reply by {day}.", day=say.date(by))] * bool(by)


def _chosen(nest: JobNest, work: Work, parts: Sequence[str] | None) -> list[CutPart]:
    able = {
        it.part.number: it for it in nest.parts if work == "cutting" or (isinstance(it.made, Made) and it.made.strips)
    }
    if parts is None:
        wanted = list(able)
    elif isinstance(parts, list | tuple):
        wanted = list(dict.fromkeys(parts))
    else:
        raise BadValue("parts", parts, "numbers of parts in brackets")
    for number in wanted:
        if number not in able:
            raise UnknownName("parts", number, able)
    if not wanted:
        raise BadValue(
            "parts", parts, f"at least one part for {work}; {nest.job.number} has {', '.join(able) or 'none'}"
        )
    return [able[number] for number in wanted]


def _files(it: CutPart, place: Path, work: Work, count: int, say: Language, despite: Despite) -> list[Path]:
    written = [write_dxf(it.made, place, marks=isinstance(it.made, Made), quantity=count, despite=despite)]
    if work == "folding" and isinstance(it.made, Made):
        written.append(write_step(it.made, place, despite=despite))
        written.append(write_sheet(it.made, place, quantity=count, language=say, despite=despite))
    return written


def _row(it: CutPart, counts: Sequence[int], files: Sequence[str]) -> tuple[str | int | float, ...]:
    x0, y0, x1, y1 = it.flat.outer.box
    quantities = [it.part.quantity * n for n in counts]
    return (it.part.number, it.rev, it.part.sheet, f"{x1 - x0:.0f} x {y1 - y0:.0f}", *quantities, " ".join(files))
