"""Two revisions over each other: the old one in dashed lines over the new one."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from html import escape
from typing import TypeAlias

from tinbook.flatpattern import FlatPattern
from tinbook.making.assembled import Assembled
from tinbook.making.made import Made
from tinbook.making.preview.drawing import drawing
from tinbook.making.preview.view import CONTOUR, EDGE, Body, corner_view
from tinbook.plane.loops import Loop, Point
from tinbook.space import SPACE
from tinbook.svg import DOWN, Picture, document, loop_data, num
from tinbook.write.folded import drawing_svg

Box: TypeAlias = tuple[float, float, float, float]


def flats_over(old: FlatPattern, new: FlatPattern, before: str, after: str) -> Picture:
    """Return two blanks over each other, as they lie in their own coordinates.

    Parameters
    ----------
    old, new : FlatPattern
        The blanks.
    before, after : str
        What they are called.
    """
    box = _around(f.outer.box for f in (old, new))
    line = _line(box)
    body = _loops(_contours(new), f'stroke="currentColor" stroke-width="{num(1.2 * line)}"')
    body += _loops(_contours(old), _dashed(line))
    return _shown(box, body, f"Blanks of {before} and {after} over each other", before, after, line)


def folded_over(old: Made | Assembled, new: Made | Assembled, before: str, after: str) -> Picture | None:
    """Return two folded parts or assemblies over each other; None where one of them has no panels."""
    bodies = [list(_bodies(x)) for x in (old, new)]
    if not all(bodies):
        return None
    was, now = (drawing(b, corner_view()) for b in bodies)
    box = _around((was.box, now.box))
    line = _line(box)
    data = "".join(map(_data, (*was.lines[CONTOUR], *was.lines[EDGE])))
    body = drawing_svg(now, line) + f'<path d="{data}" fill="none" {_dashed(line)}/>\n'
    return _shown(box, body, f"{before} and {after} folded, over each other", before, after, line)


def _bodies(thing: Made | Assembled) -> Iterator[Body]:
    if isinstance(thing, Made):
        if thing.panels:
            yield (thing.folded,), SPACE
        return
    for m in thing.assembly.members:
        pieces = thing.bodies_of(m.thing)
        if pieces and all(p.panels or p.zones for p in pieces):
            yield pieces, m.at


def _contours(flat: FlatPattern) -> Iterable[Loop]:
    return (flat.outer, *(c.loop for c in flat.inner))


def _loops(loops: Iterable[Loop], style: str) -> str:
    return f'<path d="{"".join(map(loop_data, loops))}" fill="none" {style}/>\n'


def _dashed(line: float) -> str:
    dash = f"{num(6 * line)} {num(4 * line)}"
    return f'stroke="{DOWN}" stroke-width="{num(1.6 * line)}" stroke-dasharray="{dash}"'


def _around(boxes: Iterable[Box]) -> Box:
    found = list(boxes)
    return min(b[0] for b in found), min(b[1] for b in found), max(b[2] for b in found), max(b[3] for b in found)


def _line(box: Box) -> float:
    return max(box[2] - box[0], box[3] - box[1], 1e-3) / 500


def _shown(box: Box, body: str, title: str, before: str, after: str, line: float) -> Picture:
    size = 13 * line
    x, y = box[0], box[1] - 2.2 * size
    words = (
        f'<path d="M{num(x)} {num(-y)}h{num(3 * size)}" fill="none" {_dashed(line)}/>'
        f'<path d="M{num(x)} {num(-y + 1.5 * size)}h{num(3 * size)}" fill="none" stroke="currentColor" stroke-width="{num(1.2 * line)}"/>'
        f'<text x="{num(x + 3.5 * size)}" y="{num(-y + 0.35 * size)}" font-size="{num(size)}" fill="currentColor">old: {escape(before)}</text>'
        f'<text x="{num(x + 3.5 * size)}" y="{num(-y + 1.85 * size)}" font-size="{num(size)}" fill="currentColor">new: {escape(after)}</text>\n'
    )
    wide = max(box[2], x + 3.5 * size + 0.6 * size * (5 + max(len(before), len(after))))
    return Picture(document((box[0], y - 2.2 * size, wide, box[3]), body + words, title=title, margin=10 * line))


def _data(points: tuple[Point, ...]) -> str:
    return "M" + "L".join(f"{num(x)} {num(-y)}" for x, y in points)
