"""The folded part as a picture: shaded, with hidden lines left out, from the triangles of the preview."""

from __future__ import annotations

import base64
from collections.abc import Iterable, Sequence
from typing import Final

from tinbook.errors import CannotMake
from tinbook.making.made import Made, need_made
from tinbook.making.preview.drawing import Drawing, drawing
from tinbook.making.preview.view import CONTOUR, EDGE, FORM, TANGENT, Side, corner_view
from tinbook.plane.loops import Point
from tinbook.space import SPACE
from tinbook.svg import Picture, document, num
from tinbook.write.details import details_svg
from tinbook.write.png import Tint, shades_png

INK: Final = "#2f383f"
PENS: Final = {TANGENT: 0.35, FORM: 0.5, CONTOUR: 0.9, EDGE: 1.0}
"""Width of a kind of line beside that of an edge, in the order in which they are drawn."""


def folded_drawing(made: Made, seen_from: Side = "up") -> Drawing:
    """Return what one sees of a folded part.

    Parameters
    ----------
    made : Made
        The part; it must have panels.
    seen_from : {"up", "down"}
        Side of the base panel that faces the reader.

    Raises
    ------
    CannotMake
        No panels: a stop finding made them impossible.
    """
    need_made(made, "folded picture")
    if not made.panels:
        raise CannotMake(f"{made.part.number}: it has no panels to draw; see its findings")
    return drawing((((made.folded,), SPACE),), corner_view(seen_from))


def folded_svg(made: Made, seen_from: Side = "up") -> Picture:
    """Return the folded part as an SVG document, readable on light and dark pages.

    Parameters
    ----------
    made : Made
        The part.
    seen_from : {"up", "down"}
        Side of the base panel that faces the reader.

    Returns
    -------
    Picture
        A str that shows itself in a notebook; what is drawn stands in a group `tb-folded`, sections of what is too
        small to be seen in it in a group `tb-details`.
    """
    d = folded_drawing(made, seen_from)
    reach = max(d.box[2] - d.box[0], d.box[3] - d.box[1], 1e-3)
    title = f"{made.part.number} rev {made.part.rev}, folded, seen from the {seen_from} side"
    beside, box = details_svg(made, corner_view(seen_from), d.box, reach / 500, INK)
    return Picture(document(box, drawing_svg(d, reach / 500) + beside, title=title, margin=reach / 60))


def drawing_svg(d: Drawing, line: float, tints: Sequence[Tint] = ()) -> str:
    """Return a drawing as one SVG group: its shades as an image under its lines, edges `line` mm wide."""
    g = d.grid
    image = base64.b64encode(shades_png(d, tints)).decode()
    head = (
        f'<g class="tb-folded" stroke-linejoin="round" stroke-linecap="round" stroke="{INK}" fill="none">\n'
        f'<image x="{num(g.low[0])}" y="{num(-g.low[1] - g.rows * g.pitch)}" width="{num(g.columns * g.pitch)}" '
        f'height="{num(g.rows * g.pitch)}" preserveAspectRatio="none" href="data:image/png;base64,{image}"/>\n'
    )
    out = [head]
    for kind, width in PENS.items():
        if d.lines[kind]:
            data = polylines(d.lines[kind])
            out.append(f'<path d="{data}" stroke-width="{num(line * width)}"/>\n')
    return "".join([*out, "</g>\n"])


def polylines(lines: Iterable[Sequence[Point]]) -> str:
    """Return lines as the data of an SVG path."""
    return "".join("M" + "L".join(f"{num(x)} {num(-y)}" for x, y in line) for line in lines)
