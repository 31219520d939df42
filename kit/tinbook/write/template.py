"""A paper template at true size, tiled on sheets that an office printer takes.

Every tile carries its place in the grid, two bars of 100 mm to check the
printer with, and crosses that its neighbours carry too.
"""

from __future__ import annotations

import math
import os
from collections.abc import Sequence
from dataclasses import replace as replace_fields
from pathlib import Path
from string import ascii_uppercase
from typing import Any, Final, Protocol, runtime_checkable

import shapely

from tinbook.datum import datum_of
from tinbook.dims import centre_of
from tinbook.errors import BadValue
from tinbook.flatpattern import FlatPattern, both_ways
from tinbook.language import ENGLISH, Language, Spoken
from tinbook.making.made import Made
from tinbook.plane.loops import Edge, Loop, circle
from tinbook.svg import DOWN, MARK, UP
from tinbook.tracing import Drawing as Drawing
from tinbook.tracing import Traced as Traced
from tinbook.values import dataclass
from tinbook.write import setting_out
from tinbook.write.drafts import Draft, draft_of
from tinbook.write.files import checked_name, target
from tinbook.write.names import blank_of, file_stem, label, letters
from tinbook.write.page import BOLD, Page, Paper, Placing, paper_size, text_width
from tinbook.write.stamp import Despite, Stamp, stamp_of_drawing
from tinbook.write.template_numbers import number_pages

BAR: Final = 100.0
"""mm: length of the bars by which the printer is checked."""

OVERLAP: Final = 10.0
"""mm: what neighbouring tiles both show."""

_MARGIN: Final = 12.0
_FOOT: Final = 16.0
_MOST: Final = 400

_STYLE: Final[dict[str, tuple[float, str, tuple[float, ...]]]] = {
    "cut": (0.35, "#000000", ()),
    "scribe": (0.35, "#b3261e", (6.0, 1.5)),
    "drill": (0.35, "#b3261e", ()),
    "fold up": (0.25, UP, ()),
    "fold down": (0.25, DOWN, (4.0, 1.5)),
    "mark": (0.18, MARK, ()),
    "centre": (0.13, "#000000", ()),
}


@runtime_checkable
class Traceable(Protocol):
    """Anything else with a drawing to be laid on the metal."""

    def drawing(self) -> Drawing:
        """Return the drawing at true size."""
        ...


def write_template(
    thing: Any,
    path: str | os.PathLike[str],
    paper: Paper = "A4",
    *,
    name: str | None = None,
    marks: bool = True,
    language: Language | str = ENGLISH,
    despite: Despite = None,
    replace: bool = False,
) -> Path:
    """Write a template to print at 100 %, glue together and lay on the metal; a card's numbers follow on pages of their own.

    Parameters
    ----------
    thing : Made, FlatPattern, Outline, Loop, Drawing, or anything with a method `drawing`
        What to draw.
    path : str or path-like
        File name ending in .pdf, or an existing folder.
    paper : {"A4", "A3"}
        Upright or lengthwise, whichever takes fewer tiles.
    name : str, optional
        For the foot of each tile; needed for a bare outline.
    marks : bool
        Draw the marks of a blank.
    language : Language or {"en", "de"}
        Of the fixed words, with its decimal sign.
    despite : str or sequence of str, optional
        A reason, or the codes of findings, for writing it although something stops it; the file says so.
    replace : bool
        Write over whatever is there; else only an earlier draft of the same design gives way.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    CannotMake
        Something stops the part and `despite` does not name it; nothing is written.
    CannotWrite
        The file there is none of this design's drafts, or the system refuses.
    BadValue
        A name, folder or paper that cannot be used, or more tiles than anybody would glue.
    """
    say = Spoken().read(language, "language")
    drawing, stem = _drawing_of(thing, name, marks, say)
    ending = f"_template_{paper}"
    if isinstance(thing, Made | FlatPattern):
        draft = draft_of(thing, path, ".pdf", ending=ending, despite=despite, replace=replace)
        if draft.stamp.layer:
            drawing = replace_fields(drawing, name=f"{drawing.name}, {say(draft.stamp.state).upper()}")
    else:
        stamp = stamp_of_drawing(stem, (*drawing.lines, drawing.numbers, drawing.notes))
        draft = Draft(file=target(path, ".pdf", stem + ending), stamp=stamp, replace=replace)
    return draft.write(template_bytes(drawing, paper, draft.stamp, say))


def template_bytes(drawing: Drawing, paper: Paper = "A4", stamp: Stamp | None = None, say: Language = ENGLISH) -> bytes:
    """Return the template as the bytes of a PDF file; see `write_template`."""
    box = drawing.box
    tiling = min((_tiling(box, w, h) for w, h in _ways(paper)), key=lambda t: t.columns * t.rows)
    if tiling.columns * tiling.rows > _MOST:
        raise BadValue("template", drawing.name, f"a drawing that {_MOST} tiles of {paper} cover; take larger paper")
    drawn = shapely.MultiLineString([[*e.chords(0.1), e.end] for line in drawing.lines for e in line.edges])
    tiles = ((c, r) for r in range(tiling.rows) for c in range(tiling.columns))
    used = [tile for tile in tiles if drawn.intersects(shapely.box(*tiling.window(*tile)))]
    about = say("{n} tiles on {paper}", n=len(used), paper=paper)
    title = say("{name}, template 1:1", name=drawing.name)
    page = Page(tiling.width, tiling.height, title, about, stamp.mark if stamp else "")
    for n, (c, r) in enumerate(used, 1):
        if n > 1:
            page.next()
        _tile(page, drawing, tiling, (c, r), n, used, say)
    number_pages(page, drawing, say)
    return page.done()


# --- what is drawn -----------------------------------------------------------------------------


def _drawing_of(thing: Any, name: str | None, marks: bool, say: Language) -> tuple[Drawing, str]:
    if isinstance(thing, Made | FlatPattern):
        it = label(thing)
        off = {s.name: setting_out.mark_off(s, say) for s in thing.strips} if isinstance(thing, Made) else {}
        title = name or f"{it.name}, {it.material} {it.thickness:.4g} mm"
        return _of_flat(blank_of(thing), title, marks, off, say), file_stem(thing)
    if isinstance(thing, Drawing):
        return thing.retold(say), checked_name(name or thing.name.split(",")[0].replace(" ", "_"), "template name")
    if isinstance(thing, Traceable):
        return _drawing_of(thing.drawing(), name, marks, say)
    loop = thing if isinstance(thing, Loop) else getattr(thing, "loop", None)
    if not isinstance(loop, Loop):
        raise BadValue("write_template", type(thing).__name__, "a made part, a flat pattern, an outline or a drawing")
    stem = checked_name(name or "outline", "template name")
    return Drawing(name=stem, lines=(Traced(kind="cut", edges=loop.edges),)), stem


def _of_flat(flat: FlatPattern, name: str, marks: bool, off: dict[str, str], say: Language) -> Drawing:
    lines = [Traced(kind="cut", edges=flat.outer.edges)]
    for c in flat.inner:
        lines.append(Traced(kind="cut", edges=c.loop.edges))
        if c.dia:
            (x, y), r = centre_of(c), min(2.5, 0.3 * c.dia)
            lines.append(Traced(kind="centre", edges=(Edge((x - r, y), (x + r, y)), Edge((x, y - r), (x, y + r)))))
    for f in (f for f in flat.folds if f.pieces):
        text = f"{f.name} {say(f.direction)}, {off.get(f.name, '')}{both_ways(round(f.angle, 1), say=say)}"
        edges = tuple(Edge(a, b) for a, b in f.pieces)
        lines.append(Traced(kind="fold up" if f.direction == "up" else "fold down", edges=edges, text=text))
    if marks:
        lines += [Traced(kind="mark", edges=m.edges) for m in flat.marks if m.kind not in ("fold", "drill")]
    for text, (x, y), dia in setting_out.to_drill(flat, say):
        # The cross is long enough to find under a centre punch; the circle checks the drilled hole.
        cross = (Edge((x - 5, y), (x + 5, y)), Edge((x, y - 5), (x, y + 5)))
        lines.append(Traced(kind="centre", edges=(*cross, *circle((x, y), dia).edges), text=text))
    datum = datum_of(flat.outer)
    (x, y), (ux, uy) = datum.origin, datum.along
    axes = (Edge((x, y), (x + 12 * ux, y + 12 * uy)), Edge((x, y), (x - 12 * uy, y + 12 * ux)))
    lines.append(Traced(kind="centre", edges=axes, text="O"))
    return Drawing(name=name, lines=tuple(lines))


# --- tiles -------------------------------------------------------------------------------------


_WORDS: Final = 150.0
"""mm: more than a text along a line is long."""


@dataclass(frozen=True, slots=True)
class _Tiling:
    width: float  # of the paper
    height: float
    tile_w: float  # of what a tile shows
    tile_h: float
    columns: int
    rows: int
    left: float  # of the drawing's first tile
    top: float

    def window(self, c: int, r: int) -> tuple[float, float, float, float]:
        """Return what a tile shows in drawing coordinates (xmin, ymin, xmax, ymax); rows count downward."""
        x = self.left + c * (self.tile_w - OVERLAP)
        y = self.top - self.tile_h - r * (self.tile_h - OVERLAP)
        return x, y, x + self.tile_w, y + self.tile_h


def _ways(paper: Paper) -> tuple[tuple[float, float], tuple[float, float]]:
    short, long = paper_size(paper)
    return (short, long), (long, short)


def _tiling(box: tuple[float, float, float, float], width: float, height: float) -> _Tiling:
    tile_w, tile_h = width - 2 * _MARGIN, height - 2 * _MARGIN - _FOOT
    edge = 2.0  # so that no line lies on a tile's rim
    w, h = box[2] - box[0] + 2 * edge, box[3] - box[1] + 2 * edge
    columns = max(1, math.ceil((w - OVERLAP) / (tile_w - OVERLAP) - 1e-9))
    rows = max(1, math.ceil((h - OVERLAP) / (tile_h - OVERLAP) - 1e-9))
    all_w, all_h = columns * (tile_w - OVERLAP) + OVERLAP, rows * (tile_h - OVERLAP) + OVERLAP
    left, top = (box[0] + box[2] - all_w) / 2, (box[1] + box[3] + all_h) / 2
    return _Tiling(width, height, tile_w, tile_h, columns, rows, left, top)


def tile_name(c: int, r: int) -> str:
    """Return the name of a tile: columns A, B ... from the left, rows 1, 2 ... from the top."""
    return f"{letters(c, ascii_uppercase)}{r + 1}"


def _tile(
    page: Page,
    drawing: Drawing,
    tiling: _Tiling,
    tile: tuple[int, int],
    n: int,
    used: Sequence[tuple[int, int]],
    say: Language,
) -> None:
    window = x0, y0, _, _ = tiling.window(*tile)
    ox, oy = _MARGIN, _MARGIN + _FOOT
    place = Placing(1.0, ox - x0, oy - y0)
    page.clip(ox, oy, tiling.tile_w, tiling.tile_h)
    for line in drawing.lines:
        if not _reaches(line, window):
            continue
        width, colour, dash = _STYLE[line.kind]
        page.draw([line.edges], place, width=width, colour=colour, dash=dash)
        if line.text:
            _along(page, line, place, colour)
    page.unclip()
    page.box(ox, oy, tiling.tile_w, tiling.tile_h, width=0.1)
    _overlaps(page, tiling, tile, used, say)
    _foot(page, drawing, tiling, tile, n, used, say)


def _reaches(line: Traced, window: tuple[float, float, float, float]) -> bool:
    """Whether a line, or the text along it, may reach into a window; no line that does is left out."""
    x0, y0, x1, y1 = window
    room = _WORDS if line.text else 1.0
    rise = max((0.0 if e.is_line else e.chord * max(1.0, min(abs(e.bulge), 1e3)) for e in line.edges), default=0.0)
    xs, ys = zip(*(p for e in line.edges for p in (e.start, e.end)), strict=True)
    off = room + rise
    return bool(min(xs) - off < x1 and max(xs) + off > x0 and min(ys) - off < y1 and max(ys) + off > y0)


def _along(page: Page, line: Traced, place: Placing, colour: str) -> None:
    e = line.edges[0]
    a, b = (e.start, e.end) if e.start <= e.end else (e.end, e.start)
    turn = math.degrees(math.atan2(b[1] - a[1], b[0] - a[0]))
    ux, uy = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    # Repeated every 160 mm, so that each tile along the line shows it; none runs on past the line's end.
    room = e.chord - 8 - text_width(line.text, 7)
    for i in range(1 + max(0, math.floor(room / 160))):
        s = 8 + 160 * i
        x, y = place((a[0] + s * ux - 1.0 * uy, a[1] + s * uy + 1.0 * ux))
        page.text(x, y, line.text, 7, turn=turn, colour=colour)


def _overlaps(
    page: Page, tiling: _Tiling, tile: tuple[int, int], used: Sequence[tuple[int, int]], say: Language
) -> None:
    """Draw dashed glue lines and crosses where a neighbour overlaps; both tiles carry the same crosses."""
    c, r = tile
    ox, oy = _MARGIN, _MARGIN + _FOOT
    w, h = tiling.tile_w, tiling.tile_h
    half = OVERLAP / 2
    xs = [x for x, there in ((ox + half, c > 0), (ox + w - half, c < tiling.columns - 1)) if there]
    ys = [y for y, there in ((oy + half, r < tiling.rows - 1), (oy + h - half, r > 0)) if there]
    grey = "#6b757d"
    for x in xs:
        page.line((x, oy), (x, oy + h), 0.1, grey, (3.0, 2.0))
    for y in ys:
        page.line((ox, y), (ox + w, y), 0.1, grey, (3.0, 2.0))
    crosses = [(x, y) for x in xs for y in (oy + h * 0.25, oy + h * 0.75)]
    crosses += [(x, y) for y in ys for x in (ox + w * 0.25, ox + w * 0.75)]
    crosses += [(x, y) for x in xs for y in ys]
    for x, y in crosses:
        page.line((x - 2.5, y), (x + 2.5, y), 0.15)
        page.line((x, y - 2.5), (x, y + 2.5), 0.15)
    size = 7.0
    sides = (
        ((c - 1, r), (ox - 1.5, oy + h / 2), 90.0),
        ((c + 1, r), (ox + w + 3.4, oy + h / 2), 90.0),
        ((c, r - 1), (ox + w / 2, oy + h + 1.5), 0.0),
        ((c, r + 1), (ox + w / 2, oy - 2.9), 0.0),
    )
    for other, (x, y), turn in sides:
        if other in used:
            words = say("{tile} goes here", tile=tile_name(*other))
            page.text(x, y, words, size, align="middle", turn=turn, colour=grey)


def _foot(
    page: Page,
    drawing: Drawing,
    tiling: _Tiling,
    tile: tuple[int, int],
    n: int,
    used: Sequence[tuple[int, int]],
    say: Language,
) -> None:
    x, y = _MARGIN, _MARGIN
    page.text(x, y + 7.2, tile_name(*tile), 14, font=BOLD)
    page.text(x, y + 2.6, say("{n} of {all}", n=n, all=len(used)), 7)
    # The bar stands at the foot, its twin upright beside the drawing: a printer may stretch one way only.
    bx, by = x + 17, y + 4
    page.line((bx, by), (bx + BAR, by), 0.3)
    for i in range(11):
        page.line((bx + 10 * i, by), (bx + 10 * i, by + (2.5 if i % 5 == 0 else 1.5)), 0.15)
    check = say("must measure 100 mm; print at 100 %, not fitted to the page")
    page.text(bx + BAR / 2, by - 3.2, check, 7, align="middle")
    vx, vy = _MARGIN - 6, _MARGIN + _FOOT
    page.line((vx, vy), (vx, vy + BAR), 0.3)
    for i in range(11):
        page.line((vx, vy + 10 * i), (vx + (2.5 if i % 5 == 0 else 1.5), vy + 10 * i), 0.15)
    page.text(vx - 1, vy + BAR / 2, say("must measure 100 mm too"), 7, align="middle", turn=90)
    page.text(
        x + 17, y + 9.2, say("{name}. Template 1:1, {view}.", name=drawing.name, view=say.retold(drawing.view)), 7
    )
    # A map of the tiles, this one filled.
    cell = min(10.0 / tiling.rows, 34.0 / tiling.columns, 5.0)
    mx, my = tiling.width - _MARGIN - cell * tiling.columns, y + 2
    for c, r in used:
        here = (c, r) == tile
        at = (mx + c * cell, my + (tiling.rows - 1 - r) * cell)
        page.box(*at, cell, cell, width=0.1, fill="#39424a" if here else None)
