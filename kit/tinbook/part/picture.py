"""A loop of named edges as a picture: each edge with its name and size."""

from __future__ import annotations

import math
from html import escape

from tinbook.plane.loops import Edge, Loop
from tinbook.svg import document, loop_data, num


def edge_size(e: Edge) -> str:
    """Return the size of an edge as it is written on a picture, mm to one decimal (a large radius to none)."""
    if e.is_line:
        return f"{e.length:.1f}"
    return f"{e.length:.1f}, R{e.radius:.{1 if e.radius < 1000 else 0}f}"


def _label(e: Edge, size: float) -> tuple[str, float, float, float]:
    """Return an edge's label: text, middle of its base line, angle it is read at (degrees)."""
    (x, y), (tx, ty) = e.at(0.5), e.direction(0.5)
    turned = math.degrees(math.atan2(ty, tx))
    # Read from below or from the right, never upside down.
    flip = not -90.0 < turned <= 90.0
    away = 0.5 if flip else 1.2
    angle = turned - math.copysign(180.0, turned) if flip else turned
    return f"{e.name} {edge_size(e)}", x + ty * away * size, y - tx * away * size, angle


def labels(loop: Loop, size: float) -> str:
    """Return SVG text with name and size outside each edge of an anticlockwise loop."""
    out = []
    for e in loop.edges:
        text, x, y, angle = _label(e, size)
        out.append(f'<text transform="translate({num(x)} {num(-y)}) rotate({num(-angle)})">{escape(text)}</text>\n')
    return (
        f'<g class="tb-label" font-family="sans-serif" font-size="{num(size)}" text-anchor="middle" '
        f'fill="currentColor">\n{"".join(out)}</g>\n'
    )


def labelled_box(loop: Loop, size: float) -> tuple[float, float, float, float]:
    """Return the box of a loop and its labels (xmin, ymin, xmax, ymax)."""
    xs, ys = list(loop.box[::2]), list(loop.box[1::2])
    for e in loop.edges:
        text, x, y, angle = _label(e, size)
        # 0.55 of the size is the mean width of a letter in the usual sans-serif faces.
        half, a = 0.275 * size * len(text), math.radians(angle)
        for k, up in ((-half, 0.0), (half, 0.0), (-half, size), (half, size)):
            xs.append(x + k * math.cos(a) - up * math.sin(a))
            ys.append(y + k * math.sin(a) + up * math.cos(a))
    return min(xs), min(ys), max(xs), max(ys)


def outline_svg(loop: Loop, title: str = "outline", inner: str = "") -> str:
    """Return a loop as an SVG document with names and sizes; `inner` holds further elements below the labels."""
    x0, y0, x1, y1 = loop.box
    reach = max(x1 - x0, y1 - y0)
    size = reach / 36
    body = (
        f'<path class="tb-outline" d="{loop_data(loop)}" fill="currentColor" fill-opacity="0.07" '
        f'stroke="currentColor" stroke-width="{num(reach / 400)}" stroke-linejoin="round"/>\n{inner}{labels(loop, size)}'
    )
    return document(labelled_box(loop, size), body, title=title, margin=size / 2)
