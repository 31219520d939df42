"""The weld and assembly page of an assembly: list of parts, welds, steps with exploded views, cautions."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from dataclasses import field
from pathlib import Path
from typing import Final

import numpy as np

from tinbook.errors import BadValue
from tinbook.language import ENGLISH, Language, Spoken
from tinbook.making.assembled import Assembled, need_assembled
from tinbook.part.names import PRINTED_DATE
from tinbook.route.assembly.work import AssemblyOrder, Step, Work
from tinbook.route.order import order_of_work
from tinbook.space import Vec
from tinbook.values import dataclass
from tinbook.write.assembly import PartsList, drawn_out, parts_list
from tinbook.write.drafts import draft_of
from tinbook.write.facts import APPROVAL
from tinbook.write.flowing import (
    Area,
    Flowable,
    Table,
    fill,
    fill_pages,
    heading,
    height,
    marked_table,
    paragraph,
    section,
    table,
)
from tinbook.write.page import Page, Paper, paper_size
from tinbook.write.stamp import Despite, Stamp
from tinbook.write.strip import GAP, SIZE, Strip, body_of, draw_strip
from tinbook.write.weldpage.pictures import draw_members, rows_of
from tinbook.write.weldpage.welds import MARK_W, SEAM_HEADS, Seam, plug_table, seam_rows, seams, settings_table

_PICTURE: Final = 70.0
"""mm: height of a step's picture."""
_MOST: Final = 8
"""Members that one picture draws out: more cover each other."""

CAUTIONS: Final = (
    "Disconnect the battery and unplug control units before welding; clamp the return beside the weld.",
    "Take the tank and its lines out, or keep well away: an empty tank explodes more easily than a full one.",
    "Keep a fire watch with an extinguisher while hot and for half an hour after; look behind every panel.",
    "Stand the vehicle on rated stands on firm ground, never on a jack alone.",
    "Zinc, primer, sealer and oil give off fume that harms: grind back to bare metal, extract, wear a mask.",
    "Eyes, ears, hands: visor, ear defenders, gloves; nobody looks into the arc.",
)
"""Of every page with a weld (common practice of body shops)."""


def write_assembly_page(
    made: Assembled,
    path: str | os.PathLike[str],
    *,
    quantity: int = 1,
    date: str = "",
    language: Language | str = ENGLISH,
    paper: Paper = "A4",
    despite: Despite = None,
    replace: bool = False,
) -> Path:
    """Write the weld and assembly page as PDF.

    Parameters
    ----------
    made : Assembled
        The assembly; every part must be makeable.
    path : str or path-like
        File name ending in .pdf, or an existing folder.
    quantity : int
        How many of it are wanted.
    date : str
        Printed in the title strip.
    language : Language or {"en", "de"}
        Of the fixed words and numbers; names stay.
    paper : {"A4", "A3"}
        Upright.
    despite, replace
        As for `write_sheet`.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    CannotMake
        A part cannot be made, or something stops it and `despite` does not name it; nothing is written.
    CannotWrite
        The file there is another, or the system refuses.
    BadValue
        A value that cannot be used.
    """
    need_assembled(made, "write_assembly_page")
    PRINTED_DATE.read(date, "date")
    say = Spoken().read(language, "language")
    if type(quantity) is not int or quantity < 1:
        raise BadValue("quantity", quantity, "a whole number from 1")
    wide, high = paper_size(paper)
    draft = draft_of(made, path, ".pdf", ending="_page", despite=despite, replace=replace)
    it = made.assembly
    page = Page(wide, high, f"{it.number} rev {it.rev}, {say('Assembly page').lower()}", "", draft.stamp.mark)
    order = order_of_work(made)
    assert isinstance(order, AssemblyOrder)
    sheet = _Paper(
        page=page, made=made, order=order, say=say, body=body_of(page), welds=seams(made), rows=parts_list(made)
    )
    sheet.draw(draft.stamp)
    stopped = draft.stamp.state == "stopped"
    strip = Strip(
        number=it.number,
        rev=it.rev,
        title=it.title,
        lines=(
            say("{mass:.2f} kg", mass=made.mass),
            say("{n} off", n=quantity),
            next((m.shop.name for _, m in made.made), ""),
        ),
        kind=say("Weld and assembly page") if it.welds else say("Assembly page"),
        state=say(draft.stamp.state) if stopped else "",
        good=not stopped,
        date=say.date(date),
        code=f"{it.number} {it.rev} {draft.stamp.inputs}",
    )
    return draft.write(
        page.done(lambda n, pages: draw_strip(page, strip, say, (n, pages), say("mm; pictures without scale")))
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Paper:
    page: Page
    made: Assembled
    order: AssemblyOrder
    say: Language
    body: Area
    welds: tuple[Seam, ...]
    rows: PartsList
    shown: set[int] = field(default_factory=set)
    """Numbers of the welds that some picture shows."""

    def draw(self, stamp: Stamp) -> None:
        """Draw all pages but for their strips."""
        page, body, say = self.page, self.body, self.say
        names = self.made.assembly.names
        still: dict[str, Vec] = dict.fromkeys(names, (0.0, 0.0, 0.0))
        tall = 0.42 * body.h
        whole = Area(body.x, body.top - tall, body.w, tall)
        self.shown.update(draw_members(page, whole, self.made, still, numbered=names, welds=self.welds))
        left = [*self._listed(), *self._welding(), *self._cautions(stamp)]
        below = Area(body.x, body.y, body.w, body.h - tall - GAP)
        self._steps(fill_pages(page, [below], [body], left, say))

    def _listed(self) -> Iterator[Flowable]:
        say = self.say
        heads = ("Item", "Pieces", "Number or size", "Rev", "Title or standard", "Material", "mm", "kg each")
        rows = []
        for r in self.rows:
            thick = "" if r.thickness is None else say.number(r.thickness, "g")
            mass = "" if r.material == "existing" else say.number(r.mass, ".3f" if r.mass >= 0.01 else ".4f")
            what = say(r.material) if r.thickness is None else r.material
            rows.append(
                (str(r.item), str(r.quantity), say.retold(r.number), r.rev, say.retold(r.title), what, thick, mass)
            )
        yield table(Table(heads=tuple(map(say, heads)), rows=tuple(rows), right=(0, 1, 6, 7)), self.body.w, SIZE)

    def _welding(self) -> Iterator[Flowable]:
        say, made, w = self.say, self.made, self.body.w
        if self.welds:
            yield heading(say("Welds"), SIZE)
            heads = tuple(map(say, SEAM_HEADS))
            yield marked_table(heads, seam_rows(self.welds, say), w, SIZE, {1: MARK_W})
        plugged = [
            (part.number, m) for part, m in made.made if any(h.use == "plug weld" for p in m.panels for h in p.holes)
        ]
        plugs = plug_table(plugged, say)
        if plugs is not None:
            yield heading(say("Plug welds"), SIZE)
            yield table(plugs, w, SIZE)
        settings = settings_table(self.welds, [m for _, m in plugged], say)
        if settings is not None:
            yield heading(say("Set on the machine"), SIZE)
            yield table(settings, w, SIZE, 6.0)

    def _cautions(self, stamp: Stamp) -> Iterator[Flowable]:
        say, it = self.say, self.made.assembly
        said = [
            *map(say.retold, it.every_caution),
            *(map(say, CAUTIONS) if self.welds or self._plugged() else ()),
            say(APPROVAL),
        ]
        if stamp.stopped:
            said.insert(0, say("Written all the same: {why}.", why=stamp.despite))
        if self.welds:
            said.append(say(HOW))
        yield from section(say("Before you begin"), said, SIZE)

    def _plugged(self) -> bool:
        return any(h.use == "plug weld" for _, m in self.made.made for p in m.panels for h in p.holes)

    # --- steps ---------------------------------------------------------------------------------

    def _steps(self, y: float) -> None:
        """Draw the numbered steps, those that move members with an exploded view beside them."""
        page, body, say = self.page, self.body, self.say
        there: list[str] = []
        story: list[Flowable] = [heading(say("Steps"), SIZE)]
        for group in _groups(self.order):
            text = [_line(f"{n}. {say(each.said)}{self._items(each)}") for n, each in group]
            steps = [s for _, s in group if isinstance(s, Step)]
            if not steps:
                story += text
                continue
            if len(story) == 1 and not there and y - body.y < _PICTURE + height(story, body.w) + GAP:
                page.next()  # the heading goes with its first picture
                y = body.top
            y = self._flow(story, y)
            if y - body.y < _PICTURE:
                page.next()
                y = body.top
            area = Area(body.x, y - _PICTURE, 0.58 * body.w, _PICTURE)
            moved = [n for s in steps for n in (s.name, *s.carried)]
            shown, hidden = self._shown(steps, there), [s for s in self.welds if s.number not in self.shown]
            self.shown.update(draw_members(page, area, self.made, shown, numbered=moved, welds=hidden))
            beside = Area(area.x + area.w + GAP, area.y, body.w - area.w - GAP, _PICTURE)
            story, _ = fill(page, [beside], text, say)
            there += [n for n in moved if n not in there]
            y = area.y - GAP
        y = self._flow(story, y)
        if self.order.trapped:
            why = say("No order: these hold each other: {names}.", names=", ".join(self.order.trapped))
            self._flow([_line(why)], y)

    def _shown(self, steps: Sequence[Step], there: Sequence[str]) -> dict[str, Vec]:
        """Return what one picture shows: what stands already, and the members of its steps drawn out of their places."""
        moved = {n: s for s in steps for n in (s.name, *s.carried)}
        shown: dict[str, Vec] = {n: (0.0, 0.0, 0.0) for n in there if n not in moved}
        stand = [self.made.mesh(n)[0] for n in shown]
        for s in steps:
            own = (s.name, *s.carried)
            points = np.concatenate([self.made.mesh(n)[0] for n in own])
            back = (-s.direction[0], -s.direction[1], -s.direction[2]) if s.travel else None
            v = drawn_out(points, stand, back)
            shown |= dict.fromkeys(own, v)
            stand.append(points + np.array(v))
        return shown

    def _flow(self, story: Sequence[Flowable], y: float) -> float:
        """Set a story from a height on, on further pages where it goes on; return the height below it."""
        body, left = self.body, list(story)
        if left and y - body.y < height(left[:1], body.w) + 2 * GAP:
            self.page.next()
            y = body.top
        while left:
            left, y = fill(self.page, [Area(body.x, body.y, body.w, y - body.y)], left, self.say)
            if left:
                self.page.next()
                y = body.top
        return y - GAP if story else y

    def _items(self, each: Step | Work) -> str:
        if isinstance(each, Work):
            return ""
        return self.say(" (item {items})", items=", ".join(map(str, rows_of(self.rows, [each.name]))))


HOW: Final = (
    "a is the throat of a fillet weld, the length that of each side; the symbol on the full line lies at the arrow's side "
    "(ISO 2553, system A). Long seams go from the middle out with skips; patches from mid-sides and corners, then the gaps "
    "are halved. Lengths that are not stated are for the welder to ask."
)


def _line(text: str) -> Flowable:
    found = paragraph(text, SIZE)
    found.spaceAfter = 2.0
    return found


def _groups(order: AssemblyOrder) -> Iterator[list[tuple[int, Step | Work]]]:
    """Yield steps that one picture shows: work by itself, members that move at most a few at a time."""
    group: list[tuple[int, Step | Work]] = []
    for n, each in enumerate(order.schedule, 1):
        alone = isinstance(each, Work) or bool(each.carried)
        if group and (alone or isinstance(group[-1][1], Work) or len(group) >= _MOST):
            yield group
            group = []
        group.append((n, each))
    if group:
        yield group
