"""A flat pattern as SVG text: static, the same bytes every time, readable on light and dark pages.

Lines take the colour of the page (`currentColor`); where the picture stands
alone or is shown as an image it follows the reader's light or dark setting.
y runs upward in the drawing and downward in SVG, so every y is negated here.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from functools import lru_cache
from html import escape
from typing import TYPE_CHECKING, Final

from tinbook.dims import Dim, fold_stations, overall, text_place, text_width
from tinbook.flatlines import FoldLine, Mark, both_ways
from tinbook.plane.loops import Edge, Loop, Point
from tinbook.shown import Shown

if TYPE_CHECKING:
    from tinbook.flatpattern import FlatPattern

UP: Final = "#2778c4"
DOWN: Final = "#c2571a"
MARK: Final = "#2b8a55"
"""Colours of folds and marks: each has a contrast above 3:1 on white and on near-black."""

ALONE: Final = (
    "svg:root{color:#222;background:#fff}@media (prefers-color-scheme:dark){svg:root{color:#ddd;background:#1b1e21}}"
)
"""Style of a picture that stands alone or is shown as an image, with a ground of its own: a notebook's theme may be
dark where the reader's system is light. Inside a page it takes the page's ink and ground."""


@lru_cache(maxsize=4096)  # rows of holes share coordinates, and most of a part stays where it is while a slider moves
def num(v: float) -> str:
    """Return a coordinate with at most three decimals and without a minus before zero."""
    text = f"{v:.3f}"
    if text[-1] != "0":
        return text
    text = text.rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def path_data(edges: Iterable[Edge], close: bool = False) -> str:
    """Return SVG path data for edges; a new stroke starts wherever two do not meet.

    Parameters
    ----------
    edges : iterable of Edge
        In drawing order.
    close : bool
        Close the path at the end (a loop).
    """
    out: list[str] = []
    end: Point | None = None
    for e in edges:
        if e.start != end:
            out.append(f"M{num(e.start[0])} {num(-e.start[1])}")
        x, y = num(e.end[0]), num(-e.end[1])
        if e.is_line:
            out.append(f"L{x} {y}")
        else:
            r = num(e.radius)
            out.append(f"A{r} {r} 0 {int(abs(e.bulge) > 1)} {int(e.bulge < 0)} {x} {y}")
        end = e.end
    return "".join(out) + ("Z" if close else "")


def loop_data(loop: Loop) -> str:
    """Return SVG path data of a closed loop."""
    if loop.is_full_circle:  # the same text, without computing each arc's radius
        (ax, ay), (bx, by) = loop.edges[0].start, loop.edges[0].end
        y, r = num(-ay), num(math.hypot(bx - ax, by - ay) / 2)
        a, b = f"{num(ax)} {y}", f"{num(bx)} {y if by == ay else num(-by)}"
        turn = f"A{r} {r} 0 0 {int(loop.edges[0].bulge < 0)} "
        return f"M{a}{turn}{b}{turn}{a}Z"
    return path_data(loop.edges, close=True)


class Picture(Shown, str):
    """An SVG document that shows itself in a notebook."""

    __slots__ = ()

    def __repr__(self) -> str:
        return "<picture>"

    def _repr_svg_(self) -> str:
        return str(self)


TALLEST: Final = 0.85
"""Height over width of a picture in a column."""
NARROWEST: Final = (660.0, 440.0)
"""px: the least width of a column that a picture is set for, the text width of a printed page, and its height there."""
READABLE: Final = 9.6
"""px: the least letters in such a column; on paper they are 7.2 points high."""


def readable(width: float, height: float) -> float:
    """Return the least size of letters, mm, in a picture of a size, mm, that stands in a narrow column."""
    return READABLE * max(width / NARROWEST[0], height / NARROWEST[1])


def document(
    box: tuple[float, float, float, float],
    body: str,
    *,
    title: str,
    true_size: bool = False,
    margin: float = 0.0,
) -> str:
    """Return a whole SVG document.

    Parameters
    ----------
    box : (float, float, float, float)
        What must be visible in drawing coordinates (xmin, ymin, xmax, ymax), mm.
    body : str
        Elements.
    title : str
        Name for hover and for readers that speak.
    true_size : bool
        Declare the size in mm, so that a printer draws 1:1; else the picture fits its column, and a tall one
        stands in the middle of it: notebooks show a picture as wide as the page, however high that makes it.
    margin : float
        Added on each side, mm.
    """
    x0, y0, x1, y1 = box[0] - margin, box[1] - margin, box[2] + margin, box[3] + margin
    if not true_size:
        side = max((y1 - y0) / TALLEST - (x1 - x0), 0.0) / 2
        x0, x1 = x0 - side, x1 + side
    w, h = num(x1 - x0), num(y1 - y0)
    size = f'width="{w}mm" height="{h}mm"' if true_size else 'width="100%" style="max-height:34em"'
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{num(x0)} {num(-y1)} {w} {h}" {size} role="img">\n'
        f"<title>{escape(title)}</title>\n<style>{ALONE}</style>\n{body}</svg>\n"
    )


def _fold_title(f: FoldLine) -> str:
    text = f"fold {f.name}: {f.direction}, {both_ways(f.angle)}, inside radius {f.radius:.4g}"
    return f"{text}, {f.rule}" if f.rule else text


def _blank(flat: FlatPattern, line: float, keys: bool) -> str:
    outer, loops = loop_data(flat.outer), [loop_data(c.loop) for c in flat.inner]
    sheet = outer + "".join(loops)
    fill = 'fill="currentColor" fill-opacity="0.07" fill-rule="evenodd"'
    pen = f'stroke="currentColor" stroke-linejoin="round" stroke-width="{num(line)}"'
    if not keys:
        return f'<g class="tb-blank"><path d="{sheet}" {fill} {pen}/></g>\n'
    # A transparent fill lets the pointer find the inside of a hole.
    cuts = "".join(
        f'<path d="{d}" data-name="{escape(f"hole:{c.name}")}" data-kind="hole"/>\n'
        for c, d in zip(flat.inner, loops, strict=True)
    )
    return (
        f'<g class="tb-blank" data-layer="edge"><path d="{sheet}" {fill}/>'
        f'<path d="{outer}" fill="none" {pen}/></g>\n'
        f'<g class="tb-blank" data-layer="holes" fill="#000" fill-opacity="0" {pen}>\n{cuts}</g>\n'
    )


def _marks(marks: Sequence[Mark], line: float, keys: bool) -> str:
    pen = f'fill="none" stroke="{MARK}" stroke-width="{num(line * 0.7)}"'
    if not keys:
        return f'<g class="tb-mark"><path d="{"".join(path_data(m.edges) for m in marks)}" {pen}/></g>\n'
    out = [f'<g class="tb-mark" data-layer="marks" {pen}>\n']
    for m in marks:
        # The mark of a bead (its label ends in the roll) or of a drilled hole represents the feature.
        kind = {"bead": "bead", "drill": "hole"}.get(m.kind)
        own = m.label.rpartition(" ")[0] or m.label
        name = f' data-name="{escape(f"{kind}:{own}")}" data-kind="{kind}"' if kind else ""
        out.append(f'<path d="{path_data(m.edges)}"{name}/>\n')
    return "".join([*out, "</g>\n"])


def _folds(folds: Sequence[FoldLine], line: float, keys: bool = False) -> str:
    out = []
    for direction, colour, dash in (
        ("up", UP, ""),
        ("down", DOWN, f' stroke-dasharray="{num(6 * line)} {num(3 * line)}"'),
    ):
        chosen = [f for f in folds if f.direction == direction]
        if not chosen:
            continue
        layer = f' data-layer="folds {direction}"' if keys else ""
        pen = f'fill="none" stroke="{colour}" stroke-width="{num(line)}"{dash}'
        out.append(f'<g class="tb-fold-{direction}"{layer} {pen}>\n')
        for f in chosen:
            d = path_data(Edge(a, b) for a, b in f.pieces)
            name = f' data-name="{escape(f"fold:{f.name}")}" data-kind="fold"' if keys else ""
            out.append(f'<path d="{d}"{name}><title>{escape(_fold_title(f))}</title></path>\n')
        out.append("</g>\n")
    return "".join(out)


def _dims(dims: Sequence[Dim], size: float, keys: bool = False) -> str:
    """Draw dimensions: a line with short slanted ticks, the number above it."""
    lines: list[str] = []
    texts: list[str] = []
    tick = size * 0.3
    for d in dims:
        for foot, end in zip((d.a, d.b), d.ends, strict=True):
            lines.append(f"M{num(foot[0])} {num(-foot[1])}L{num(end[0])} {num(-end[1])}")
            lines.append(f"M{num(end[0] - tick)} {num(-end[1] + tick)}L{num(end[0] + tick)} {num(-end[1] - tick)}")
        (ax, ay), (bx, by) = d.ends
        lines.append(f"M{num(ax)} {num(-ay)}L{num(bx)} {num(-by)}")
        mx, my = text_place(d, size)
        my = -my
        turn = f' transform="rotate(-90 {num(mx)} {num(my)})"' if d.upright else ""
        texts.append(f'<text x="{num(mx)}" y="{num(my - size * 0.3)}"{turn}>{escape(d.text)}</text>\n')
    if not dims:
        return ""
    layer = ' data-layer="dimensions"' if keys else ""
    return (
        f'<g class="tb-dim"{layer} font-family="sans-serif" font-size="{num(size)}" text-anchor="middle" fill="currentColor">\n'
        f'<path d="{"".join(lines)}" fill="none" stroke="currentColor" stroke-width="{num(size / 14)}"/>\n'
        f"{''.join(texts)}</g>\n"
    )


def flat_svg(
    flat: FlatPattern,
    *,
    folds: bool = True,
    marks: bool = True,
    dims: bool = False,
    true_size: bool = False,
    keys: bool = False,
) -> str:
    """Return a flat pattern as an SVG document.

    Parameters
    ----------
    flat : FlatPattern
        The blank.
    folds, marks : bool
        Draw fold lines; draw marks.
    dims : bool
        Draw overall dimensions and the stations of fold lines.
    true_size : bool
        Declare the size in mm (for a file to print 1:1) instead of fitting the page.
    keys : bool
        For a live view: each feature an element of its own, with its kind and name as `data-name`
        ("hole:drain"), each group with a plain `data-layer`.

    Returns
    -------
    str
        One group per kind of line: `tb-blank`, `tb-fold-up`, `tb-fold-down`, `tb-mark`, `tb-dim`.
    """
    x0, y0, x1, y1 = flat.outer.box
    reach = max(x1 - x0, y1 - y0, 1e-3)
    line = 0.25 if true_size else reach / 400
    body = [_blank(flat, line, keys)]
    if marks and flat.marks:
        body.append(_marks(flat.marks, line, keys))
    if folds:
        body.append(_folds(flat.folds, line, keys))
    box = flat.outer.box
    if dims:
        # A live view is a third of a page wide, so its numbers are larger.
        size = 3.5 if true_size else reach / (26 if keys else 36)
        drawn = (*overall(flat, size), *fold_stations(flat, size))
        body.append(_dims(drawn, size, keys))
        xs = [p[0] for d in drawn for p in d.ends]
        ys = [p[1] for d in drawn for p in d.ends]
        places = [text_place(d, size) for d in drawn]
        xs += [x - 0.5 * text_width(d, size) for d, (x, _) in zip(drawn, places, strict=True) if not d.upright]
        ys += [y - 0.5 * text_width(d, size) for d, (_, y) in zip(drawn, places, strict=True) if d.upright]
        box = (min(x0, *xs) - 1.6 * size, min(y0, *ys) - size, max(x1, *xs), max(y1, *ys) + 1.6 * size)
    return document(
        box, "".join(body), title=f"{flat.name}, flat", true_size=true_size, margin=max(2 * line, reach / 100)
    )
