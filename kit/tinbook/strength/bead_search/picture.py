"""The trade-off between rolling and stiffness as a static picture: two plots and a small drawing of each layout."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

from tinbook.plot import COLOURS, rule, text, ticks
from tinbook.svg import Picture, document, loop_data, num

if TYPE_CHECKING:
    from tinbook.strength.bead_search.result import BeadLayouts, Row

WIDTH: Final = 760.0
PLOT: Final = (300.0, 210.0)
LEFT, TOP, GAP, FOOT = 58.0, 30.0, 84.0, 48.0
COLUMNS: Final = 4
STAMP: Final = 112.0

Points = Sequence[tuple[float, float]]


def picture(found: BeadLayouts) -> Picture:
    """Return metres rolled against first frequency and foot deflection, the rows numbered as in the table."""
    shown = [(r.layout.rolled, r.figures.frequency) for r in found.rows]
    body = ['<g font-family="sans-serif" font-size="12" fill="currentColor" stroke="none">\n']
    body += _plot(
        0,
        "first frequency, Hz (small dots: tried, coarse mesh)",
        COLOURS[0],
        shown,
        [(x, f) for x, f, _ in found.tried],
    )
    if found.feet:
        down = [(r.layout.rolled, r.figures.deflection) for r in found.rows]
        body += _plot(1, "foot goes down, mm", COLOURS[1], down, [])
    top = TOP + PLOT[1] + FOOT
    x0, y0, x1, y1 = found.outline.box
    scale = min((WIDTH / COLUMNS - 16) / (x1 - x0), (STAMP - 22) / (y1 - y0))
    for k, row in enumerate(found.rows):
        at = (8 + WIDTH / COLUMNS * (k % COLUMNS), top + STAMP * (k // COLUMNS))
        body += _stamp(found, row, k, at, scale)
    height = top + STAMP * math.ceil(len(found.rows) / COLUMNS)
    body.append("</g>\n")
    title = f"bead layouts of {found.part.number}: rolling against stiffness"
    return Picture(document((0.0, -height, WIDTH, 0.0), "".join(body), title=title))


def _plot(place: int, name: str, colour: str, shown: Points, cloud: Points) -> list[str]:
    left = LEFT + place * (PLOT[0] + GAP)
    every = [p for p in (*shown, *cloud) if all(map(math.isfinite, p))]
    x_ticks = ticks(0.0, max(p[0] for p in every))
    y_ticks = ticks(0.0, max(p[1] for p in every))

    def at(p: tuple[float, float]) -> tuple[float, float]:
        return left + PLOT[0] * p[0] / x_ticks[-1], TOP + PLOT[1] * (1 - p[1] / y_ticks[-1])

    out = [text(left - 40, TOP - 14, name, "start", ' font-weight="bold"')]
    for x in x_ticks:
        px, _ = at((x, 0.0))
        out += [rule(px, TOP, px, TOP + PLOT[1]), text(px, TOP + PLOT[1] + 16, f"{x:g}", "middle")]
    for y in y_ticks:
        _, py = at((0.0, y))
        out += [rule(left, py, left + PLOT[0], py), text(left - 7, py + 4, f"{y:g}", "end")]
    out.append(text(left + PLOT[0] / 2, TOP + PLOT[1] + 34, "length times passes, m", "middle"))
    out += [
        f'<circle cx="{num(x)}" cy="{num(y)}" r="1.8" opacity="0.35"/>\n'
        for x, y in (at(p) for p in dict.fromkeys(cloud))
    ]
    for k, p in enumerate(shown):
        if all(map(math.isfinite, p)):
            x, y = at(p)
            out.append(f'<circle cx="{num(x)}" cy="{num(y)}" r="4.5" fill="{colour}"/>\n')
            out.append(text(x + 7, y - 5, str(k), "start", f' fill="{colour}" font-weight="bold"'))
    return out


def _stamp(found: BeadLayouts, row: Row, k: int, at: tuple[float, float], scale: float) -> list[str]:
    x0, _, _, y1 = found.outline.box
    left, top = at[0], at[1] + 16
    move = f"translate({num(left - scale * x0)} {num(top + scale * y1)}) scale({scale:.5g})"
    out = [text(left, at[1] + 11, _caption(row, k), "start", ' font-size="11"')]
    out.append(
        f'<g transform="{move}"><path d="{loop_data(found.outline)}" fill="currentColor" fill-opacity="0.07" '
        f'stroke="currentColor" stroke-width="{num(1 / scale)}"/>'
    )
    if row.layout.count:
        wide = next(z.roll.width for z in found.zones if z.roll.key == row.layout.roll)
        d = "".join(f"M{num(ax)} {num(-ay)}L{num(bx)} {num(-by)}" for (ax, ay), (bx, by) in row.layout.ends)
        out.append(
            f'<path d="{d}" fill="none" stroke="{COLOURS[0]}" stroke-width="{num(wide)}" stroke-linecap="round"/>'
        )
    out.append("</g>\n")
    return out


def _caption(row: Row, k: int) -> str:
    if not row.layout.count:
        return f"{k}: no beads"
    return f"{k}: {row.layout.count} x {row.layout.roll}, {row.layout.rolled:.3g} m"
