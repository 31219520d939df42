"""Fitting instructions on paper: each step with its picture, and the user's own words where they stand in the text."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Final

import numpy as np

from tinbook.errors import of_kind
from tinbook.job.jobfile import job_to_toml
from tinbook.job.kits.kit import Kit
from tinbook.job.kits.steps import FittingStep, Procedure, procedures
from tinbook.job.kits.text import Block, blocks, generated, merged
from tinbook.making.assembled import Assembled
from tinbook.making.preview.drawing import Drawing, drawing
from tinbook.making.preview.raster import grid_over, nearest
from tinbook.making.preview.view import Body, View, seen_from, view_toward
from tinbook.plane.loops import Array
from tinbook.space import Vec
from tinbook.write.assembly import drawn_out
from tinbook.write.drafts import Draft
from tinbook.write.files import target
from tinbook.write.flowing import GAP, Area, Flowable, fill, height, paragraph
from tinbook.write.folded import folded_drawing
from tinbook.write.names import plain_name
from tinbook.write.page import BOLD, PLAIN, Page, paper_size
from tinbook.write.png import EXISTING, METAL, Tint
from tinbook.write.sheet.pictures import draw_shaded
from tinbook.write.stamp import stamp_of_drawing
from tinbook.write.strip import Strip, body_of, draw_strip

PICTURE: Final = (62.0, 46.0)
"""mm: width and height of a step's picture."""
NEW: Final[Tint] = ((0x9A, 0x5B, 0x22), (0xFC, 0xE3, 0xC4))
"""Of what comes in at a step."""
_FINE: Final = 560
"""Pixels of a picture's longer side: 220 to the inch."""
_COARSE: Final = 160
_ENOUGH: Final = 0.3
"""Share of what comes in that must be seen (own proposal), looked at on a coarse grid."""
_EYES: Final = ((0.5, -0.72, 0.62), (-0.5, -0.72, 0.62), (-0.5, 0.72, 0.62), (0.5, 0.72, 0.62), (0.5, -0.72, -0.62))
"""From the usual corner, then from the others, then from below."""
_NEAR: Final = 0.3
"""What comes in takes at least this share of its picture's width or height."""
_SIZES: Final = {"# ": 12.0, "## ": 9.0}
_SIZE: Final = 8.0


def write_fitting(
    kit: Kit, path: str | os.PathLike[str], *, text: str = "", rev: str = "", replace: bool = False
) -> Path:
    """Write the fitting instructions of a kit as PDF.

    Parameters
    ----------
    kit : Kit
        What `kit_of` gives.
    path : str or path-like
        File name ending in .pdf, or an existing folder.
    text : str
        As `fitting_text` gave it, with your own words in it; its generated steps are brought up to date.
    rev : str
        Revision of the release.
    replace : bool
        Write over whatever is there; else only earlier instructions of the same job give way.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    BadFile
        A text whose marks are not whole.
    CannotMake
        Members of an assembly trap each other.
    """
    of_kind(kit, Kit, "kit", "what tb.job.kit_of gives")
    of_kind(rev, str, "rev", "a revision as text")
    job = kit.nest.job
    say, name = job.language, f"{plain_name(job.number)}_fitting"
    file = target(path, ".pdf", name)
    old = blocks(text)
    listed = procedures(kit)
    every = merged(old, list(generated(listed, say)))
    stamp = stamp_of_drawing(name, [[(b.key, b.body) for b in every], rev, job_to_toml(job)])
    kind = say("Fitting instructions")
    page = Page(*paper_size(job.paper), f"{job.number}, {kind.lower()}", job.title, stamp.mark)
    _set(page, every, {s.key: (it, s) for it in listed for s in it.steps})
    strip = Strip(number=job.number, rev=rev, title=job.title, lines=(kit.nest.shop.name,), kind=kind)
    return Draft(file=file, stamp=stamp, replace=replace).write(
        page.done(lambda n, pages: draw_strip(page, strip, say, (n, pages), say("pictures are not to scale")))
    )


def _set(page: Page, every: Sequence[Block], known: dict[str, tuple[Procedure, FittingStep]]) -> None:
    """Set all blocks, each with its picture beside it; a step stays on one page where a page holds it."""
    body = body_of(page)
    y, number = body.top, 0
    for block in every:
        chapter = block.key.endswith("/")
        number = 0 if chapter else number + (block.key in known)
        seen = None if block.key not in known else step_drawing(*known[block.key])
        indent = PICTURE[0] + GAP if seen is not None else 0.0 if block.key else 4.0
        story = list(_story(block.body, f"{number}. " if block.key in known else ""))
        deep = max(height(story, body.w - indent), PICTURE[1] if seen is not None else 0.0)
        if y < body.top and y - deep - (PICTURE[1] if chapter else 0.0) < body.y:
            page.next()
            y = body.top
        top = y
        rest, low = fill(page, [Area(body.x + indent, body.y, body.w - indent, y - body.y)], story)
        if seen is not None:
            _picture(page, seen, Area(body.x, top - PICTURE[1], *PICTURE), known[block.key])
            low = min(low, top - PICTURE[1])
        if not block.key:
            page.line((body.x + 1.5, top), (body.x + 1.5, low), 0.6, "#8a949c")
        while rest:
            page.next()
            rest, low = fill(page, [Area(body.x + indent, body.y, body.w - indent, body.h)], rest)
        y = low - GAP


def _story(body: str, number: str) -> Iterator[Flowable]:
    """Yield the paragraphs of a block: headings, list items, and what stands between empty lines."""
    waiting: list[str] = []
    for line in (*body.splitlines(), ""):
        head = next((h for h in ("## ", "# ") if line.startswith(h)), "")
        item = line.startswith("- ")
        if waiting and (not line.strip() or head or item):
            yield _spaced(paragraph(" ".join(waiting), _SIZE))
            waiting = []
        if head:
            yield _spaced(paragraph(f"{number}{line.removeprefix(head)}", _SIZES[head], font=BOLD))
        elif item:
            bold = line.startswith("- **")
            yield _spaced(
                paragraph(f"• {line.removeprefix('- ').replace('**', '')}", _SIZE, font=BOLD if bold else PLAIN)
            )
        elif line.strip():
            waiting.append(line.strip())


def _spaced(flowable: Flowable) -> Flowable:
    flowable.spaceAfter = 0.35 * _SIZE
    return flowable


# --- pictures ------------------------------------------------------------------------------------


def step_drawing(it: Procedure, step: FittingStep) -> Drawing | None:
    """Return what one sees of a step: what stands there, and what comes in, drawn back along its way."""
    if not step.brought:
        return None
    if not isinstance(it.thing, Assembled):
        return folded_drawing(it.thing)
    made, order = it.thing, it.order
    assert order is not None
    there: list[Array] = [made.mesh(n)[0] for n in step.standing]
    shifts: dict[str, Vec] = dict.fromkeys(step.standing, (0.0, 0.0, 0.0))
    whole = len(step.brought) > 1 and any(s.carried == step.brought[1:] for s in order.steps)
    if whole:
        points = np.concatenate([made.mesh(n)[0] for n in step.brought])
        out = drawn_out(points, there, _back(order.ways.get(step.brought[0])))
        shifts |= dict.fromkeys(step.brought, out)
    else:
        for name in step.brought:
            points = made.mesh(name)[0]
            shifts[name] = drawn_out(points, there, _back(order.ways.get(name)))
            there.append(points + np.array(shifts[name]))
    members = [made.assembly.member(n) for n in shifts]
    bodies = [(made.bodies_of(m.thing), m.at.moved(shifts[m.name])) for m in members]
    return drawing(bodies, _clearest(bodies, len(step.standing)), _FINE)


def _clearest(bodies: Sequence[Body], old: int) -> View:
    """Return the view in which what comes in is not hidden: the usual one, if enough of it is seen there."""
    found: list[tuple[float, int]] = []
    for k, toward in enumerate(_EYES):
        view = view_toward(toward)
        whole, alone = seen_from(view, bodies), seen_from(view, bodies[old:])
        grid = grid_over(whole, _COARSE)
        which = nearest(whole, grid)
        seen = int((whole.item[which[which >= 0]] >= old).sum())
        share = seen / max(int((nearest(alone, grid) >= 0).sum()), 1)
        if share >= _ENOUGH:
            return view
        found.append((-share, k))
    return view_toward(_EYES[min(found)[1]])


def _back(way: Vec | None) -> Vec | None:
    return None if way is None else (-way[0], -way[1], -way[2])


def _picture(page: Page, d: Drawing, area: Area, of: tuple[Procedure, FittingStep]) -> None:
    it, step = of
    tints = [EXISTING] * len(step.standing) + [NEW] * len(step.brought) if isinstance(it.thing, Assembled) else [METAL]
    page.clip(area.x, area.y, area.w, area.h)
    draw_shaded(page, d, area, tints, _shown(d, len(step.standing)), 0.12)
    page.unclip()


def _shown(d: Drawing, old: int) -> tuple[float, float, float, float]:
    """Return the stretch of a drawing that is shown: all of it, or nearer where what comes in would be too small."""
    rows, columns = np.nonzero(d.item >= old)
    x0, y0, x1, y1 = d.box
    if not len(rows):
        return d.box
    p, (low_x, low_y) = d.grid.pitch, d.grid.low
    a, b = low_x + p * columns.min(), low_x + p * (columns.max() + 1)
    c, e = low_y + p * rows.min(), low_y + p * (rows.max() + 1)
    share = max((b - a) / max(x1 - x0, 1e-6), (e - c) / max(y1 - y0, 1e-6)) / _NEAR
    if share >= 1.0:
        return d.box
    half_w, half_h = (x1 - x0) * max(share, 0.3) / 2, (y1 - y0) * max(share, 0.3) / 2
    x, y = (a + b) / 2, (c + e) / 2
    return float(x - half_w), float(y - half_h), float(x + half_w), float(y + half_h)
