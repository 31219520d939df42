"""Map of a panel: how much stress a load makes at each place, and the places that were followed to first yield."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from tinbook.plot import text
from tinbook.strength.joints.picture import colour
from tinbook.svg import Picture, document, loop_data, num
from tinbook.units import figures

if TYPE_CHECKING:
    from tinbook.strength.worst import WorstPlace

WIDTH: Final = 720.0
MARGIN, FOOT = 24.0, 52.0


def picture(found: WorstPlace) -> Picture:
    """Return the map of a `WorstPlace`."""
    x0, y0, x1, y1 = found.outline.box
    scale = min((WIDTH - 2 * MARGIN) / (x1 - x0), 420.0 / (y1 - y0))
    height = 2 * MARGIN + scale * (y1 - y0)

    def at(x: float, y: float) -> tuple[float, float]:
        return MARGIN + scale * (x - x0), MARGIN + scale * (y1 - y)

    body = ['<g font-family="sans-serif" font-size="12" fill="currentColor" stroke="none">\n']
    wide, high = (scale * s for s in found.step)
    most = float(found.stress.max())
    for (x, y), s in zip(found.places.tolist(), found.stress.tolist(), strict=True):
        px, py = at(x, y)
        body.append(
            f'<rect x="{num(px - wide / 2)}" y="{num(py - high / 2)}" width="{num(wide)}" height="{num(high)}" '
            f'fill="{colour(s / most * 0.999)}"/>\n'
        )
    move = f"translate({num(MARGIN - scale * x0)} {num(MARGIN + scale * y1)}) scale({scale:.5g})"
    body.append(
        f'<g transform="{move}"><path d="{loop_data(found.outline)}" fill="none" stroke="currentColor" '
        f'stroke-width="{num(1.2 / scale)}"/></g>\n'
    )
    a, b = (scale * s for s in found.load.size)
    for stand in reversed(found.stands):
        px, py = at(*stand.at)
        first = stand is found.worst
        line = 'stroke-width="3"' if first else 'stroke-width="1.5" stroke-dasharray="4 3"'
        body.append(
            f'<rect x="{num(px - a / 2)}" y="{num(py - b / 2)}" width="{num(a)}" height="{num(b)}" fill="none" '
            f'stroke="#111111" {line}/>\n'
        )
        words = f"worst: {stand.words}" if first else stand.words
        half = 3.6 * len(words) + 4
        body.append(
            f'<rect x="{num(px - half)}" y="{num(py - 10)}" width="{num(2 * half)}" height="19" fill="#ffffff" '
            'fill-opacity="0.9"/>\n'
        )
        body.append(text(px, py + 4, words, "middle", ' fill="#111111"' + (' font-weight="bold"' if first else "")))
    top = height - MARGIN + 12
    body += [
        f'<rect x="{num(MARGIN + 24 * k)}" y="{num(top)}" width="24" height="12" fill="{colour(k / 10 + 0.05)}"/>\n'
        for k in range(10)
    ]
    words = f"stress with the {found.load.name} there, 0 to {figures(most)} MPa by linear theory; labels: first yield"
    body.append(text(MARGIN + 252, top + 11, words, "start"))
    body.append("</g>\n")
    title = f"worst place for a {found.load.name} on {found.part.number}"
    return Picture(document((0.0, -(height + FOOT - MARGIN), WIDTH, 0.0), "".join(body), title=title))
