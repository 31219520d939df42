"""The cutting sheet on paper: each nested sheet with its numbered cuts, and the table of cuts."""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import field
from pathlib import Path
from typing import Any, Final

from shapely.geometry import box
from shapely.ops import polylabel

from tinbook.errors import BadValue, of_kind
from tinbook.job.nesting.layout import polygon
from tinbook.job.sheets.cutfile import sheet_name
from tinbook.job.sheets.plan import CutPlan
from tinbook.job.stock.values import NEW
from tinbook.language import ENGLISH, Language, Spoken
from tinbook.plane.loops import Edge, Loop, Move, Point
from tinbook.values import dataclass
from tinbook.write.drafts import Draft
from tinbook.write.files import target
from tinbook.write.flowing import Area, Flowable, Table, fill, section, table
from tinbook.write.labelling import LINE, Labels, around
from tinbook.write.names import letters, plain_name
from tinbook.write.page import BOLD, PLAIN, Page, Paper, Placing, paper_size, text_width
from tinbook.write.sheet.pictures import draw_size, fitted_scale, ratio
from tinbook.write.stamp import stamp_of_drawing
from tinbook.write.strip import GAP, SIZE, Strip, body_of, draw_strip

_SIDE: Final = 66.0
"""mm: width of the column of words beside the picture."""
_ROUND: Final = 9.0
"""mm: room at the left of and below a plate for its size."""
_CUT: Final = "#b03a2e"
_METAL: Final = "#e6eaed"
_GREY: Final = "#5b656d"


def write_cut_sheets(
    plans: Sequence[CutPlan],
    path: str | os.PathLike[str],
    *,
    job: str = "",
    title: str = "",
    language: Language | str = ENGLISH,
    paper: Paper = "A4",
    replace: bool = False,
) -> Path:
    """Write the cutting sheet as PDF: a page with the picture of each plate, then its cuts in order.

    Parameters
    ----------
    plans : sequence of CutPlan
        Plates in the order in which they are cut.
    path : str or path-like
        File name ending in .pdf, or an existing folder.
    job, title : str
        Number of the job, and what it is.
    language : Language or {"en", "de"}
        Of the fixed words and numbers.
    paper : {"A4", "A3"}
        Lengthwise.
    replace : bool
        Write over whatever is there; else only an earlier draft gives way.

    Returns
    -------
    Path
        The file.
    """
    plans = tuple(plans) if isinstance(plans, list | tuple) else ()
    if not plans or not all(isinstance(p, CutPlan) for p in plans):
        raise BadValue("plans", plans, "one or more of what tb.job.cut_plan gives")
    of_kind(job, str, "job", "the number of the job")
    of_kind(title, str, "title", "text")
    say = Spoken().read(language, "language")
    name = f"{plain_name(job)}_cut_sheets" if job else f"{sheet_name(plans[0])}_cut_sheets"
    file = target(path, ".pdf", name)
    stamp = stamp_of_drawing(name, [(p.layout, p.cutter.key, p.sheet.key) for p in plans])
    high, wide = paper_size(paper)
    page = Page(wide, high, f"{job or plans[0].sheet.key}, {say('Cutting sheet').lower()}", "", stamp.mark)
    about: list[tuple[Strip, str]] = []
    for plan in plans:
        strip = Strip(
            number=job or plan.sheet.key,
            rev="",
            title=title,
            lines=(plan.sheet.key, say("sheet {n} of {all}", n=plan.number, all=plan.of), plate_said(plan, say)),
            kind=say("Cutting sheet"),
            code=f"{job or plan.sheet.key} {plan.number} {stamp.inputs}",
        )
        sheet = _Sheet(page=page, plan=plan, say=say, body=body_of(page))
        if about:
            page.next()
        about.append((strip, f"mm; {sheet.draw()}"))
        while sheet.left:
            page.next()
            about.append((strip, "mm"))
            sheet.left, _ = fill(page, sheet.body.columns(2), sheet.left, say)
    data = page.done(lambda n, pages: draw_strip(page, about[n - 1][0], say, (n, pages), about[n - 1][1]))
    return Draft(file=file, stamp=stamp, replace=replace).write(data)


def plate_said(plan: CutPlan, say: Language) -> str:
    """Return the name of a plate; that of one which is bought for the job begins with a word of the language."""
    name = plan.layout.plate.name
    return say("new {plate}", plate=name[len(NEW) + 1 :]) if name.startswith(f"{NEW} ") else name


@dataclass(slots=True, kw_only=True)
class _Sheet:
    """One plate on its pages; `left` is what is still to be written."""

    page: Page
    plan: CutPlan
    say: Language
    body: Area
    left: list[Flowable] = field(default_factory=list)

    def draw(self) -> str:
        """Draw the plate and the words beside it; return the scale in words."""
        page, plan, say, body = self.page, self.plan, self.say, self.body
        picture = Area(body.x, body.y, body.w - _SIDE - GAP, body.h)
        outline = plan.layout.plate.outline
        x0, y0, x1, y1 = outline.box
        room = Area(picture.x + _ROUND, picture.y + _ROUND, picture.w - _ROUND - 1, picture.h - _ROUND - 1)
        scale = fitted_scale(min(room.w / (x1 - x0), room.h / (y1 - y0)))
        tall = scale * (y1 - y0)
        place = Placing.centred(scale, outline.box, room.x, room.top - tall, room.w, tall)
        labels = Labels(page, picture)
        page.draw([list(outline)], place, width=0.3, close=True)
        draw_size(page, place, outline.box, say)
        letters_of = self._blanks(place, labels)
        for loop in plan.offcuts:
            page.draw([list(loop)], place, width=0.15, dash=(2, 1), close=True)
        for chain in plan.parting:
            page.draw([list(chain)], place, width=0.35, colour=_CUT)
        for loop in plan.offcuts:
            ox0, oy0, ox1, oy1 = loop.box
            at = polylabel(polygon(loop), 10.0)
            words = say("offcut {w:.0f} × {h:.0f}", w=ox1 - ox0, h=oy1 - oy0)
            labels.put(words, _near(place((at.x, at.y))), colour=_GREY, within=scale * (ox1 - ox0))
        missing = self._cuts(place, labels)
        side = Area(body.x + body.w - _SIDE, body.y, _SIDE, body.h)
        story = [f for head, text in self._words(letters_of, missing) for f in section(head, [text], SIZE)]
        rest, _ = fill(page, [side], story, say)
        low = Area(picture.x, picture.y, picture.w, room.top - tall - _ROUND - GAP - picture.y)
        heads = ("No.", "Blank", "Copy", "Contour", "mm", "Pierce x", "Pierce y")
        cuts = Table(heads=tuple(map(say, heads)), rows=tuple(plan.rows(say)), right=(0, 2, 4, 5, 6))
        story = [*rest, table(cuts, picture.columns(2)[0].w, SIZE)]
        self.left, _ = fill(page, low.columns(2), story, say) if low.h > 5 * LINE else (story, 0.0)
        return say("scale {ratio}, for reading, not for measuring", ratio=ratio(scale, say))

    def _blanks(self, place: Placing, labels: Labels) -> dict[str, str]:
        """Draw the blanks with their names, or with a letter where a name has no room; return the letters."""
        known = {b.name: b for b in self.plan.nest.blanks}
        placed: list[tuple[str, Any]] = []
        for p in self.plan.layout.placements:
            blank = known[p.blank]
            move = Move(*p.matrix())
            loops: list[Loop] = [loop.moved(move) for loop in (blank.outer, *blank.holes)]
            self.page.draw([list(loop) for loop in loops], place, width=0.18, fill=_METAL, close=True)
            placed.append((p.blank, p.place(blank.shape)))
        spots = [(name, _spot(shape, text_width(name, SIZE), place)) for name, shape in placed]
        small = dict.fromkeys(name for name, at in spots if at is None)
        short = {name: letters(k, "abcdefghjklmnpqrstuvwxyz") for k, name in enumerate(small)}
        for (name, at), (_, shape) in zip(spots, placed, strict=True):
            middle = polylabel(shape, 5.0)
            fall_back = place((middle.x, middle.y))
            places = _near(fall_back) if name in short else [at or fall_back, *_near(fall_back)]
            labels.put(short.get(name, name), places, font=BOLD if name in short else PLAIN, leader=fall_back)
        return short

    def _cuts(self, place: Placing, labels: Labels) -> int:
        """Draw where each cut begins, numbered; return how many numbers found no room."""
        missing = 0
        for c in self.plan.contours:
            self.page.draw([[Edge(c.pierce, c.entry)]], place, width=0.15, colour=_CUT)
            at = place(c.pierce)
            self.page.disc(*at, 0.7, _CUT, 0.15)
            missing += not labels.put(str(c.number), around(at), colour=_CUT, leader=at)
        return missing

    def _words(self, short: dict[str, str], missing: int) -> list[tuple[str, str]]:
        plan, say = self.plan, self.say
        x0, y0, x1, y1 = plan.layout.plate.outline.box
        counts = Counter(p.blank for p in plan.layout.placements)
        over = sum(p.turned_over for p in plan.layout.placements)
        sides = say.separator.join(f"{say(side)} {say.number(v, 'g')}" for side, v in plan.nest.margins.items())
        blanks = [f"{n} × {name}" + (f" = {short[name]}" if name in short else "") for name, n in counts.items()]
        kept = [(a1 - a0, b1 - b0) for a0, b0, a1, b1 in (loop.box for loop in plan.offcuts)]
        sizes = "; ".join(f"{say.number(w, '.0f')} × {say.number(h, '.0f')} mm" for w, h in kept)
        out = [
            (say("Plate"), f"{plate_said(plan, say)}, {say.number(x1 - x0)} × {say.number(y1 - y0)} mm"),
            (say("Cut"), say(plan.summary())),
            (say("Cutter"), f"{plan.cutter.title}, {plan.cutter.who}"),
            (say("Room"), say("gap {gap:g} mm; edges {sides} mm", gap=float(plan.nest.gap), sides=sides)),
            (say("Blanks"), "; ".join(blanks)),
        ]
        if over:
            words = say("{n} blanks lie with their up side down; their marks are left out", n=over)
            out.append((say("Turned over"), words))
        out.append((say("Offcuts to keep"), sizes or say("none, the rest is scrap")))
        out.append((say("Time"), "; ".join(map(say, plan.sources))))
        order = say("The cutter's controller may order the cuts anew.")
        if missing:
            order += " " + say("{n} numbers of cuts find no room in the picture: see the table.", n=missing)
        return [*out, (say("Order"), order)]


def _spot(shape: Any, w: float, place: Placing) -> Point | None:
    """Return the middle of a name w mm wide on the paper that lies wholly on its blank, None where there is none."""
    middle = polylabel(shape, 5.0)
    half_w, half_h = w / 2 / place.scale, LINE / 2 / place.scale
    x0, y0, x1, y1 = shape.bounds
    tried = [(middle.x, middle.y), ((x0 + x1) / 2, (y0 + y1) / 2)]
    tried += [(x0 + (x1 - x0) * i / 6, y0 + (y1 - y0) * j / 6) for j in range(1, 6) for i in (3, 2, 4)]
    for x, y in tried:
        if shape.contains(box(x - half_w, y - half_h, x + half_w, y + half_h)):
            return place((x, y))
    return None


def _near(at: Point) -> Iterator[Point]:
    yield at
    yield from around(at, 1.5, 12.0, 1.5)
