"""Line plots as SVG, drawn directly: a few curves over one axis, readable on light and dark pages."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from html import escape
from typing import Final

from tinbook.errors import BadValue
from tinbook.svg import Picture, document, num

COLOURS: Final = ("#22699c", "#b8501c", "#2d7f55", "#7d569f", "#86681f", "#3b7480")
DASHES: Final = ("", "6 3", "2 3", "8 3 2 3", "1 3", "10 4")
WIDTH, HEIGHT = 640.0, 360.0
LEFT, RIGHT, TOP, BOTTOM = 62.0, 150.0, 26.0, 44.0


def line_plot(
    curves: Mapping[str, Sequence[tuple[float, float]]], *, x: str, y: str, title: str = "", zero: bool = True
) -> Picture:
    """Return curves over one axis.

    Parameters
    ----------
    curves : mapping of str to sequence of (float, float)
        Name to points, at most six curves; a point with a value that is not finite breaks its curve.
    x, y : str
        What the axes carry, with units.
    title : str
        Above the plot.
    zero : bool
        Whether the y axis starts at 0.

    Returns
    -------
    Picture
        Curves differ by colour and by dash, so that they can be told apart in print.

    Raises
    ------
    BadValue
        No point at all, or more curves than can be told apart.
    """
    if not 1 <= len(curves) <= len(COLOURS):
        raise BadValue("plot curves", len(curves), f"1 to {len(COLOURS)} curves")
    points = [p for curve in curves.values() for p in curve if all(map(math.isfinite, p))]
    if not points:
        raise BadValue("plot curves", dict(curves), "at least one point with finite values")
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    x_ticks, y_ticks = ticks(min(xs), max(xs)), ticks(min(0.0, *ys) if zero else min(ys), max(ys))
    right = RIGHT if max(map(len, curves)) <= 15 else 50.0 + 7.0 * max(map(len, curves))
    across = (WIDTH - LEFT - right) / ((x_ticks[-1] - x_ticks[0]) or 1.0)
    up = (HEIGHT - TOP - BOTTOM) / ((y_ticks[-1] - y_ticks[0]) or 1.0)

    def at(p: tuple[float, float]) -> tuple[float, float]:
        return LEFT + (p[0] - x_ticks[0]) * across, HEIGHT - BOTTOM - (p[1] - y_ticks[0]) * up

    body = ['<g font-family="sans-serif" font-size="12" fill="currentColor" stroke="none">\n']
    for value in x_ticks:
        px, _ = at((value, y_ticks[0]))
        body.append(rule(px, TOP, px, HEIGHT - BOTTOM))
        body.append(text(px, HEIGHT - BOTTOM + 16, f"{value:g}", "middle"))
    for value in y_ticks:
        _, py = at((x_ticks[0], value))
        body.append(rule(LEFT, py, WIDTH - right, py))
        body.append(text(LEFT - 7, py + 4, f"{value:g}", "end"))
    body.append(text((LEFT + WIDTH - right) / 2, HEIGHT - 8, x, "middle"))
    middle = (TOP + HEIGHT - BOTTOM) / 2
    body.append(f'<text transform="translate(14 {num(middle)}) rotate(-90)" text-anchor="middle">{escape(y)}</text>\n')
    if title:
        body.append(text(LEFT, 15, title, "start", ' font-weight="bold"'))
    for k, (name, curve) in enumerate(curves.items()):
        body += _curve([at(p) if all(map(math.isfinite, p)) else None for p in curve], k)
        row = TOP + 10 + 20 * k
        style = f'stroke="{COLOURS[k]}" stroke-width="2" stroke-dasharray="{DASHES[k]}"'
        body.append(f'<path d="M{num(WIDTH - right + 10)} {num(row)}h26" {style}/>\n')
        body.append(text(WIDTH - right + 42, row + 4, name, "start"))
    body.append("</g>\n")
    return Picture(document((0.0, -HEIGHT, WIDTH, 0.0), "".join(body), title=title or f"{y} over {x}"))


def _curve(places: list[tuple[float, float] | None], k: int) -> list[str]:
    d, pen = "", "M"
    for p in places:
        if p is None:
            pen = "M"
            continue
        d += f"{pen}{num(p[0])} {num(p[1])}"
        pen = "L"
    style = f'fill="none" stroke="{COLOURS[k]}" stroke-width="2" stroke-dasharray="{DASHES[k]}"'
    dots = "".join(
        f'<circle cx="{num(p[0])}" cy="{num(p[1])}" r="2.6" fill="{COLOURS[k]}"/>' for p in places if p is not None
    )
    return [f'<path d="{d}" {style}/>{dots if len(places) <= 40 else ""}\n']


def ticks(low: float, high: float) -> list[float]:
    """Return round values from at or below `low` to at or above `high`."""
    reach = high - low
    if reach <= 0:
        reach = abs(high) or 1.0
        low, high = low - reach / 2, high + reach / 2
        reach = high - low
    raw = reach / 5
    power = 10.0 ** math.floor(math.log10(raw))
    step = next(m for m in (1, 2, 2.5, 5, 10) if m * power >= raw - 1e-12) * power
    first, last = math.floor(low / step + 1e-9), math.ceil(high / step - 1e-9)
    return [round(k * step, 12) for k in range(first, last + 1)]


def rule(x0: float, y0: float, x1: float, y1: float) -> str:
    """Return a faint line of a plot's grid."""
    return (
        f'<path d="M{num(x0)} {num(y0)}L{num(x1)} {num(y1)}" stroke="currentColor" stroke-width="0.6" opacity="0.3"/>\n'
    )


def text(x: float, y: float, words: str, anchor: str, more: str = "") -> str:
    """Return words in a plot; `anchor` is "start", "middle" or "end"."""
    return f'<text x="{num(x)}" y="{num(y)}" text-anchor="{anchor}"{more}>{escape(words)}</text>\n'
