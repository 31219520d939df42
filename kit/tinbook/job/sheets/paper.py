"""The cutting sheet on paper: each nested sheet with its numbered cuts, and the table of cuts."""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from typing import Final

from shapely.ops import polylabel

from tinbook.errors import BadValue
from tinbook.job.nesting.layout import polygon
from tinbook.job.sheets.cutfile import sheet_name
from tinbook.job.sheets.plan import HEADS, CutPlan
from tinbook.plane.loops import Edge, Loop, Move
from tinbook.write.drafts import Draft
from tinbook.write.files import target
from tinbook.write.flowing import Area, Table, fill, paragraph, table
from tinbook.write.names import plain_name
from tinbook.write.page import BOLD, SIZES, Page, Placing
from tinbook.write.stamp import stamp_of_drawing

_HIGH, _WIDE = SIZES["A4"]
_EDGE: Final = 10.0
_SIDE: Final = 66.0
"""mm: width of the column of words beside the picture."""
_SIZE: Final = 7.0
"""Of letters, points."""
_CUT: Final = "#b03a2e"
_METAL: Final = "#e6eaed"


def write_cut_sheets(
    plans: Sequence[CutPlan], path: str | os.PathLike[str], *, job: str = "", replace: bool = False
) -> Path:
    """Write the cutting sheet as PDF: a page with the picture of each plate, then its cuts in order.

    Parameters
    ----------
    plans : sequence of CutPlan
        Plates in the order in which they are cut.
    path : str or path-like
        File name ending in .pdf, or an existing folder.
    job : str
        Number of the job.
    replace : bool
        Write over whatever is there; else only an earlier draft gives way.

    Returns
    -------
    Path
        The file.
    """
    plans = tuple(plans)
    if not plans or not all(isinstance(p, CutPlan) for p in plans):
        raise BadValue("plans", plans, "one or more of what tb.job.cut_plan gives")
    name = f"{plain_name(job)}_cut_sheets" if job else f"{sheet_name(plans[0])}_cut_sheets"
    file = target(path, ".pdf", name)
    stamp = stamp_of_drawing(name, [(p.layout, p.cutter.key, p.sheet.key) for p in plans])
    page = Page(_WIDE, _HIGH, f"{job or plans[0].sheet.key}, cutting", "Sheets and order of cuts", stamp.mark)
    for n, plan in enumerate(plans):
        if n:
            page.next()
        _sheet(page, plan, job)
        _cuts(page, plan, job)
    data = page.done(
        lambda at, of: page.text(_WIDE - _EDGE, 5.0, f"page {at} of {of}", _SIZE, align="right", colour="#5b656d")
    )
    return Draft(file=file, stamp=stamp, replace=replace).write(data)


def _title(page: Page, plan: CutPlan, job: str) -> None:
    words = f"{plan.sheet.key}, sheet {plan.number} of {plan.of}: {plan.layout.plate.name}"
    page.text(_EDGE, _HIGH - 12, f"{job}  {words}".strip(), 12, font=BOLD)
    page.text(_EDGE, 5.0, "The cutter's controller may order the cuts anew.", _SIZE, colour="#5b656d")


def _sheet(page: Page, plan: CutPlan, job: str) -> None:
    _title(page, plan, job)
    plate = plan.layout.plate
    box = plate.outline.box
    wide, high = _WIDE - 3 * _EDGE - _SIDE, _HIGH - 32
    scale = min(wide / (box[2] - box[0]), high / (box[3] - box[1]))
    place = Placing.centred(scale, box, _EDGE, _EDGE + 2, wide, high)
    page.draw([list(plate.outline)], place, width=0.3, close=True)
    _blanks(page, plan, place)
    for loop in plan.offcuts:
        page.draw([list(loop)], place, width=0.15, dash=(2, 1), close=True)
        x0, y0, x1, y1 = loop.box
        at = polylabel(polygon(loop), 10.0)
        x, y = place((at.x, at.y))
        page.text(x, y, f"offcut {x1 - x0:.0f} x {y1 - y0:.0f}", _SIZE, align="middle", colour="#5b656d")
    for chain in plan.parting:
        page.draw([list(chain)], place, width=0.35, colour=_CUT)
    for c in plan.contours:
        page.draw([[Edge(c.pierce, c.entry)]], place, width=0.15, colour=_CUT)
        x, y = place(c.pierce)
        page.text(x, y, str(c.number), 4.2, colour=_CUT)
    area = Area(_WIDE - _EDGE - _SIDE, _EDGE + 2, _SIDE, high)
    fill(page, [area], [paragraph(text, _SIZE + 0.5, heading=head) for head, text in _words(plan)])


def _blanks(page: Page, plan: CutPlan, place: Placing) -> None:
    known = {b.name: b for b in plan.nest.blanks}
    for p in plan.layout.placements:
        blank = known[p.blank]
        move = Move(*p.matrix())
        loops: list[Loop] = [loop.moved(move) for loop in (blank.outer, *blank.holes)]
        page.draw([list(loop) for loop in loops], place, width=0.18, fill=_METAL, close=True)
        at = polylabel(p.place(blank.shape), 5.0)
        x, y = place((at.x, at.y))
        room = 2 * place.scale * at.distance(p.place(blank.shape).boundary)
        size = min(_SIZE, max(3.5, room * 2.83 / (0.6 * len(p.blank))))
        page.text(x, y - size / 8, p.blank, size, align="middle")


def _words(plan: CutPlan) -> list[tuple[str, str]]:
    counts = Counter(p.blank for p in plan.layout.placements)
    over = sum(p.turned_over for p in plan.layout.placements)
    m = plan.nest.margins
    out = [
        ("Cut", plan.summary()),
        ("Cutter", f"{plan.cutter.title}, {plan.cutter.who}"),
        ("Room", f"gap {plan.nest.gap:g} mm; edges {', '.join(f'{s} {v:g}' for s, v in m.items())} mm"),
        ("Blanks", "; ".join(f"{n} x {name}" for name, n in counts.items())),
    ]
    if over:
        out.append(("Turned over", f"{over} blanks lie with their up side down; their marks are left out"))
    sizes = [(x1 - x0, y1 - y0) for x0, y0, x1, y1 in (loop.box for loop in plan.offcuts)]
    out.append(("Offcuts to keep", "; ".join(f"{w:.0f} x {h:.0f} mm" for w, h in sizes) or "none, the rest is scrap"))
    return [*out, ("Time", "; ".join(plan.sources))]


def _cuts(page: Page, plan: CutPlan, job: str) -> None:
    body = Area(_EDGE, _EDGE + 2, _WIDE - 2 * _EDGE, _HIGH - 32)
    left = [table(Table(heads=HEADS, rows=tuple(plan.rows()), right=(0, 2, 4, 5, 6)), body.columns(2)[0].w, _SIZE)]
    while left:
        page.next()
        _title(page, plan, job)
        left, _ = fill(page, body.columns(2), left)
