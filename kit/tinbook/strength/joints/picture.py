"""Joints as a static picture: the part's rims seen from above one corner, each joint a dot in the colours of results."""

from __future__ import annotations

import math
from collections.abc import Sequence
from html import escape
from typing import TYPE_CHECKING, Final, TypeAlias

import numpy as np

from tinbook.plot import text
from tinbook.space import Vec
from tinbook.strength.mesh.quads import sides_of
from tinbook.svg import Picture, document, num

if TYPE_CHECKING:
    from tinbook.strength.shell.element import Array, Index

BANDS: Final = [
    "#13316d",
    "#353e7e",
    "#534c8e",
    "#705a9b",
    "#9a6398",
    "#c07188",
    "#db8476",
    "#eb9f69",
    "#f3bb6e",
    "#f6d97e",
]
"""Colours of results, as in the view (viewer/ramp.js; a test compares them)."""
BEYOND: Final = "#7d0c2c"
WIDTH: Final = 720.0
MARGIN, FOOT = 24.0, 64.0
DOT: Final = 5.5
NUMBERED: Final = 8
"""Joints that get their name in the picture: the worst of them."""
LETTER, ROW = 6.6, 14.0
"""Width of a letter of a name on average, and height of its line."""
Box: TypeAlias = tuple[float, float, float, float]
VIEW: Final = np.array([[math.cos(0.6), math.sin(0.6), 0.0], [-0.5 * math.sin(0.6), 0.5 * math.cos(0.6), 0.86]])
"""What of x, y, z goes across and up: seen from above the right front corner."""


def colour(use: float | None) -> str:
    """Return the colour of a part used: ten bands up to 1, one colour beyond and for what is not proved."""
    return BEYOND if use is None or use > 1 else BANDS[min(int(max(use, 0.0) * 10), 9)]


def picture(
    points: Array, quads: Index, owner: Index, joints: Sequence[tuple[str, Vec, float | None]], title: str
) -> Picture:
    """Return a drawing of a mesh's rims with joints (name, place, part used) as dots.

    Parameters
    ----------
    points : array (n, 3)
    quads : array (m, 4)
    owner : array (m,)
        Where it changes, a line is drawn.
    joints : sequence of (str, Vec, float or None)
    title : str
    """
    flat = points @ VIEW.T
    low, high = flat.min(axis=0), flat.max(axis=0)
    scale = (WIDTH - 2 * MARGIN) / max(float(high[0] - low[0]), 1e-9, 1.4 * float(high[1] - low[1]))
    height = MARGIN + scale * float(high[1] - low[1]) + MARGIN

    def at(p: Array) -> tuple[float, float]:
        x, y = (p - low) * scale
        return MARGIN + float(x), height - MARGIN - float(y)

    rims = "".join("M{} {}L{} {}".format(*map(num, (*at(flat[a]), *at(flat[b])))) for a, b in _rims(quads, owner))
    body = ['<g font-family="sans-serif" font-size="12" fill="currentColor" stroke="none">\n']
    body.append(f'<path d="{rims}" fill="none" stroke="currentColor" stroke-width="0.8" opacity="0.6"/>\n')
    places = [at(np.array(place) @ VIEW.T) for _, place, _ in joints]
    words = [f"{name}: " + ("not proved" if use is None else f"{100 * use:.0f} %") for name, _, use in joints]
    order = sorted(range(len(joints)), key=lambda k: _rank(joints[k][2]))
    for k in order:
        (x, y), use = places[k], joints[k][2]
        body.append(
            f'<circle cx="{num(x)}" cy="{num(y)}" r="{DOT}" fill="{colour(use)}" stroke="currentColor" '
            f'stroke-width="{2 if use is None else 0.7}"><title>{escape(words[k])}</title></circle>\n'
        )
    taken = [(x - DOT, y - DOT, x + DOT, y + DOT) for x, y in places]
    for k in sorted(order[-NUMBERED:], key=lambda k: -_rank(joints[k][2])):
        left, base, right = _free(places[k], LETTER * len(words[k]), height, taken)
        # Held at the dot's end, as letters are wider or narrower in each font.
        body.append(text(right, base, words[k], "end") if right < places[k][0] else text(left, base, words[k], "start"))
    body += _legend(height)
    body.append("</g>\n")
    return Picture(document((0.0, -(height + FOOT), WIDTH, 0.0), "".join(body), title=title))


def _free(dot: tuple[float, float], wide: float, height: float, taken: list[Box]) -> tuple[float, float, float]:
    """Return left end, base line and right end of a name beside its dot, in the picture, over no dot and no other name; take that place."""
    x, y = dot
    spots = [
        (left, y + rise - ROW * row if rise < 0 else y + rise + ROW * row)
        for row in range(12)
        for rise in (-7.0, 16.0)
        for left in (x + 8, x - 8 - wide)
    ]
    boxes = [(left, base - 11, left + wide, base + 3) for left, base in spots]
    held = [b for b in boxes if b[0] >= 0 and b[2] <= WIDTH and b[1] >= 0 and b[3] <= height]
    apart = (b for b in held if not any(_meet(b, other) for other in taken))
    found = next(apart, (held or boxes)[0])
    taken.append(found)
    return found[0], found[3] - 3, found[2]


def _meet(a: Box, b: Box) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


def _rank(use: float | None) -> float:
    return math.inf if use is None else use


def _legend(top: float) -> list[str]:
    out = []
    for k, c in enumerate((*BANDS, BEYOND)):
        x0, x1, y0, y1 = (num(v) for v in (MARGIN + 40 * k, MARGIN + 40 * (k + 1), top + 8, top + 22))
        out.append(f'<path d="M{x0} {y0}L{x1} {y0}L{x1} {y1}L{x0} {y1}Z" fill="{c}"/>\n')
    out += [text(MARGIN + 40 * k, top + 38, f"{10 * k}", "middle") for k in range(0, 11, 2)]
    out.append(text(MARGIN + 450, top + 19, "% of what the joint bears; last:", "start"))
    out.append(text(MARGIN + 450, top + 35, "more than that, or not proved", "start"))
    return out


def _rims(q: Index, owner: Index) -> Array:
    """Return the sides of elements that lie on a rim, and those where a panel ends."""
    both = np.sort(sides_of(q), axis=1)
    owner = np.repeat(owner, 4)
    sides, where, count = np.unique(both, axis=0, return_inverse=True, return_counts=True)
    low, high = np.full(len(sides), owner.max() + 1), np.full(len(sides), -1)
    np.minimum.at(low, where.ravel(), owner)
    np.maximum.at(high, where.ravel(), owner)
    return np.asarray(sides[(count == 1) | (low != high)])
