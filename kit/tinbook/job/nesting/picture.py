"""The picture of a plate's layout, with the numbers of the cuts."""

from __future__ import annotations

from html import escape

from shapely.ops import polylabel

from tinbook.job.nesting.cut_order import cut_order
from tinbook.job.nesting.layout import Nest
from tinbook.plane.loops import Loop, Move
from tinbook.svg import Picture, document, loop_data, num

_STYLE = (
    'fill="none" stroke="currentColor" stroke-opacity="0.55"',
    'fill="currentColor" fill-opacity="0.13" stroke="currentColor"',
)


def layout_svg(nest: Nest, plate: int = 1, *, lead: float | None = None) -> Picture:
    """Return a picture of one plate.

    Parameters
    ----------
    nest : Nest
        A layout.
    plate : int
        Number of the plate, from 1.
    lead : float or None, optional
        Length of the lead-in, mm: with it the order of cuts is numbered at the places where the cutter pierces.

    Returns
    -------
    Picture
        SVG that a notebook shows; hovering names a blank.
    """
    layout = nest.layout(plate)
    x0, y0, x1, y1 = layout.plate.outline.box
    size = (x1 - x0) / 90
    line = f'stroke-width="{num(size / 10)}"'
    body = [f'<path d="{loop_data(layout.plate.outline)}" {_STYLE[0]} {line}/>\n']
    blanks = {b.name: b for b in nest.blanks}
    for p in layout.placements:
        blank = blanks[p.blank]
        move = Move(*p.matrix())
        loops: list[Loop] = [loop.moved(move) for loop in (blank.outer, *blank.holes)]
        data = " ".join(loop_data(loop) for loop in loops)
        name = escape(f"{p.blank} no. {p.copy}")
        shape = p.place(blank.shape)
        at = polylabel(shape, size)  # the middle of the broadest metal, so that a name lies on its own blank
        room = 2 * at.distance(shape.boundary)
        high = min(size, max(0.45 * size, room / (0.55 * len(name))))
        body.append(
            f'<g><title>{name}</title><path d="{data}" fill-rule="evenodd" {_STYLE[1]} {line}/>'
            f'<text x="{num(at.x)}" y="{num(-at.y + high / 3)}" font-size="{num(high)}" text-anchor="middle" '
            f'fill="currentColor">{name}</text></g>\n'
        )
    if lead is not None:
        for contour in cut_order(nest, layout, lead):
            (px, py), (ex, ey) = contour.pierce, contour.entry
            body.append(
                f'<path d="M{num(px)} {num(-py)}L{num(ex)} {num(-ey)}" {_STYLE[0]} {line}/>'
                f'<text x="{num(px)}" y="{num(-py)}" font-size="{num(0.8 * size)}" fill="currentColor">{contour.number}</text>\n'
            )
    title = f"{layout.plate.name}, plate {plate} of {len(nest.layouts)}: {len(layout.placements)} blanks"
    return Picture(document((x0, y0, x1, y1), "".join(body), title=title, margin=size))
