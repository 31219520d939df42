"""A loop of named edges as a picture: each edge with its name and size."""

from __future__ import annotations

import math
from collections.abc import Sequence
from html import escape

from tinbook.plane.loops import Edge, Loop, Point
from tinbook.svg import document, loop_data, num, path_data
from tinbook.values import dataclass


def edge_size(e: Edge) -> str:
    """Return the size of an edge as it is written on a picture, mm to one decimal (a large radius to none)."""
    if e.is_line:
        return f"{e.length:.1f}"
    return f"{e.length:.1f}, R{e.radius:.{1 if e.radius < 1000 else 0}f}"


@dataclass(frozen=True, slots=True)
class _Label:
    """An edge's label: text, middle of its base line, angle that it is read at (degrees)."""

    text: str
    x: float
    y: float
    angle: float

    def corners(self, size: float) -> list[Point]:
        """Return the corners of its box."""
        # 0.55 of the size is the mean width of a letter in the usual sans-serif faces.
        half, a = 0.275 * size * len(self.text), math.radians(self.angle)
        c, s = math.cos(a), math.sin(a)
        ends = ((-half, -0.25 * size), (half, -0.25 * size), (half, size), (-half, size))
        return [(self.x + k * c - up * s, self.y + k * s + up * c) for k, up in ends]


def _label(e: Edge, size: float) -> _Label:
    (x, y), (tx, ty) = e.at(0.5), e.direction(0.5)
    turned = math.degrees(math.atan2(ty, tx))
    # Read from below or from the right, never upside down.
    flip = not -90.0 < turned <= 90.0
    away = 0.5 if flip else 1.2
    angle = turned - math.copysign(180.0, turned) if flip else turned
    return _Label(f"{e.name} {edge_size(e)}", x + ty * away * size, y - tx * away * size, angle)


def _apart(a: Sequence[Point], b: Sequence[Point]) -> bool:
    """Whether two rectangles share no place: along one of their sides they lie beside each other."""
    for p, q, r in ((a[0], a[1], a[2]), (b[0], b[1], b[2])):
        for u, v in ((p, q), (q, r)):
            n = (u[1] - v[1], v[0] - u[0])
            one, other = ([x * n[0] + y * n[1] for x, y in corners] for corners in (a, b))
            if max(one) <= min(other) or max(other) <= min(one):
                return True
    return False


def _placed(loop: Loop, size: float) -> tuple[list[_Label], int]:
    """Return the labels of an anticlockwise loop that find room, long edges first, and how many do not."""
    kept: list[tuple[_Label, list[Point]]] = []
    for e in sorted(loop.edges, key=lambda e: -e.length):
        label = _label(e, size)
        own = label.corners(size)
        if all(_apart(own, other) for _, other in kept):
            kept.append((label, own))
    return [label for label, _ in kept], len(loop.edges) - len(kept)


def outline_svg(loop: Loop, title: str = "outline", inner: str = "") -> str:
    """Return a loop as an SVG document with names and sizes; `inner` holds further elements below the labels."""
    reach = max(loop.box[2] - loop.box[0], loop.box[3] - loop.box[1])
    size = reach / 34
    written, short = _placed(loop, size)
    texts = [
        f'<text transform="translate({num(a.x)} {num(-a.y)}) rotate({num(-a.angle)})">{escape(a.text)}</text>\n'
        for a in written
    ]
    points = [(loop.box[0], loop.box[1]), (loop.box[2], loop.box[3]), *(p for a in written for p in a.corners(size))]
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    low = min(ys)
    if short:
        low -= 1.6 * size
        note = f"{short} more {'edges are' if short > 1 else 'edge is'} too short for a label"
        texts.append(f'<text x="{num((min(xs) + max(xs)) / 2)}" y="{num(-low - 0.3 * size)}">{note}</text>\n')
    titles = "".join(
        f'<path d="{path_data([e])}" stroke="#000" stroke-opacity="0" stroke-width="{num(size)}" fill="none">'
        f"<title>{escape(f'{e.name} {edge_size(e)}')}</title></path>\n"
        for e in loop.edges
    )
    body = (
        f'<path class="tb-outline" d="{loop_data(loop)}" fill="currentColor" fill-opacity="0.07" '
        f'stroke="currentColor" stroke-width="{num(reach / 400)}" stroke-linejoin="round"/>\n{titles}{inner}'
        f'<g class="tb-label" font-family="sans-serif" font-size="{num(size)}" text-anchor="middle" '
        f'fill="currentColor">\n{"".join(texts)}</g>\n'
    )
    return document((min(xs), low, max(xs), max(ys)), body, title=title, margin=size / 2)
