"""The delivery note: to whom, in how many parcels, what is in each, and who received it."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path
from typing import Final

from tinbook.errors import BadValue, of_kind
from tinbook.job.kits.delivery import Delivery, packing_list
from tinbook.language import Language
from tinbook.part.names import PRINTED_DATE
from tinbook.write.drafts import Draft
from tinbook.write.files import target
from tinbook.write.flowing import GAP, Area, Table, fill_pages, paragraph, table
from tinbook.write.names import plain_name
from tinbook.write.page import BOLD, Page, paper_size
from tinbook.write.stamp import stamp_of_drawing
from tinbook.write.strip import Strip, body_of, draw_strip

_SIZE: Final = 7.5
_SIGN: Final = 16.0
"""mm: height of the lines to sign."""


def write_delivery_note(
    delivery: Delivery,
    path: str | os.PathLike[str],
    *,
    to: Sequence[str] = (),
    rev: str = "",
    date: str = "",
    replace: bool = False,
) -> Path:
    """Write the delivery note with the packing list as PDF.

    Parameters
    ----------
    delivery : Delivery
        What `delivery_of` gives.
    path : str or path-like
        File name ending in .pdf, or an existing folder.
    to : sequence of str
        Lines of the address.
    rev : str
        Revision of the release.
    date : str
        ISO 8601, as "2027-03-31"; left out, it is filled in by hand, so that equal deliveries give equal files.
    replace : bool
        Write over whatever is there; else only an earlier note of the same job gives way.

    Returns
    -------
    Path
        The file.
    """
    of_kind(delivery, Delivery, "delivery", "what tb.job.delivery_of gives")
    of_kind(rev, str, "rev", "text")
    PRINTED_DATE.read(date, "date")
    if not isinstance(to, list | tuple) or not all(isinstance(t, str) and t.isprintable() for t in to) or len(to) > 8:
        raise BadValue("to", to, "at most 8 printable lines of an address, as ('A. Miller', 'Mill Lane 3')")
    job = delivery.kit.nest.job
    say, name = job.language, f"{plain_name(job.number)}_delivery"
    file = target(path, ".pdf", name)
    listed = packing_list(delivery)
    stamp = stamp_of_drawing(name, [listed.rows, delivery.rows, list(to), rev, date])
    kind = say("Delivery note")
    page = Page(*paper_size(job.paper), f"{job.number}, {kind.lower()}", job.title, stamp.mark)
    body = body_of(page)
    story = [
        paragraph(f"{kind} {job.number}", 14.0, font=BOLD),
        *(paragraph(line, 9.0) for line in to),
        table(_parcels(delivery, say), body.w, _SIZE),
        table(_contents(listed.heads, listed.rows, say), body.w, _SIZE),
    ]
    for flowable in story:
        flowable.spaceAfter = GAP * 2.83
    y = fill_pages(page, [body], [body], story, say)
    if y - body.y < _SIGN + GAP:
        page.next()
        y = body.top
    _signed(page, Area(body.x, y - _SIGN, body.w, _SIGN), say)
    strip = Strip(
        number=job.number,
        rev=rev,
        title=job.title,
        lines=(delivery.kit.nest.shop.name,),
        kind=kind,
        date=say.date(date),
    )
    data = page.done(lambda n, pages: draw_strip(page, strip, say, (n, pages), ""))
    return Draft(file=file, stamp=stamp, replace=replace).write(data)


def _parcels(delivery: Delivery, say: Language) -> Table:
    heads = (
        "parcel", "length × width × height outside, mm", "length and girth, mm", "kg", "for the carrier",
    )  # fmt: skip
    rows = []
    for p in delivery.parcels:
        size = " × ".join(say.number(v, ".0f") for v in p.size)
        over = say("too large or too heavy for a parcel: goes by freight") if p.over else ""
        rows.append((str(p.number), size, say.number(p.girth, ".0f"), say.number(p.mass), over))
    rows.append(("", say("in all"), "", say.number(delivery.mass), ""))
    return Table(heads=tuple(say(h) for h in heads), rows=tuple(rows), right=(0, 2, 3))


def _contents(heads: Sequence[str], rows: Sequence[tuple[str | int | float, ...]], say: Language) -> Table:
    """Return the packing list with an empty column to tick."""
    cells = tuple((*(say.number(c, ".3f") if isinstance(c, float) else str(c) for c in row), "") for row in rows)
    return Table(heads=(*heads, say("there")), rows=cells, right=(0, 6, 7), by_hand=(8,))


def _signed(page: Page, area: Area, say: Language) -> None:
    for at, text in zip(
        area.columns(2), ("Received whole and undamaged: date, name", "Packed and counted by: date, name"), strict=True
    ):
        page.line((at.x, at.y + 4.0), (at.x + at.w, at.y + 4.0), 0.2)
        page.text(at.x, at.y, say(text), 7.0)
