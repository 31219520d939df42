"""A result of a strength analysis as a picture: the part as it moves, in bands of colour, with their scale."""

from __future__ import annotations

import base64
import math
from html import escape
from typing import Final

import numpy as np

from tinbook.errors import of_kind
from tinbook.making.preview import raster
from tinbook.making.preview.drawing import FINE, LIGHT, joined, visible_lines
from tinbook.making.preview.view import EDGE, Seen, Side, corner_view, normals
from tinbook.plane.arrays import Index
from tinbook.plane.loops import Array
from tinbook.strength.report import Field, Strength
from tinbook.svg import Picture, document, num
from tinbook.write.folded import INK, polylines
from tinbook.write.png import RGB, png

BANDS: Final = (
    "13316d", "353e7e", "534c8e", "705a9b", "9a6398", "c07188", "db8476", "eb9f69", "f3bb6e", "f6d97e",
)  # fmt: skip
"""Lightness only rises, so that they keep their order without colour vision and in a grey print; as in the workbench."""
BEYOND: Final = "7d0c2c"
"""What lies beyond the last band."""
SHADES: Final = 8
"""Steps from a face turned away from the light to one turned to it."""
DARKEST: Final = 0.78
"""Share of its colour that a face turned away from the light keeps."""
SHOWN: Final = 0.06
"""Share of the picture's longer side by which the largest displacement may be shown."""


def strength_svg(found: Strength, field: str = "deflection", seen_from: Side = "up") -> Picture:
    """Return a field of a strength analysis as an SVG document, readable on light and dark pages.

    Parameters
    ----------
    found : Strength
        From `strength_of`.
    field : str
        One of `found.fields`: "deflection", "stress, up side", "stress, down side", "mode 1" and so on.
    seen_from : {"up", "down"}
        Side of the base panel that faces the reader.

    Returns
    -------
    Picture
        The displaced mid-surface, displacements made larger by the round factor that the picture names.

    Raises
    ------
    UnknownName
        Another field, or one whose number is not shown.
    """
    of_kind(found, Strength, "strength_svg", "a Strength, as tb.strength_of gives one")
    f = found.field(field)
    view = corner_view(seen_from)
    still = view.flat(f.points.astype(np.float64))
    reach = max(float(np.ptp(still[:, :2], axis=0).max()), 1e-3)
    most = float(np.sqrt((f.moves.astype(np.float64) ** 2).sum(axis=1)).max())
    times = _round(SHOWN * reach / most) if most > 0 else 1.0
    points = view.flat(f.points.astype(np.float64) + times * f.moves)
    triangles = f.triangles.astype(np.int64)
    rims = points[_rims(triangles)]
    seen = Seen(
        points=points,
        triangles=triangles,
        item=np.zeros(len(triangles), np.int64),
        lines=rims,
        kinds=np.full(len(rims), EDGE),
    )
    grid = raster.grid_over(seen, FINE)
    image = base64.b64encode(_colours(seen, grid, f)).decode()
    data = polylines(joined(visible_lines(seen, grid.pitch)[0]))
    (x0, y0), (x1, y1) = points[:, :2].min(axis=0).tolist(), points[:, :2].max(axis=0).tolist()
    scale, low = _scale(f, times, x0, y0, reach)
    body = (
        f'<image x="{num(grid.low[0])}" y="{num(-grid.low[1] - grid.rows * grid.pitch)}" '
        f'width="{num(grid.columns * grid.pitch)}" height="{num(grid.rows * grid.pitch)}" '
        f'preserveAspectRatio="none" href="data:image/png;base64,{image}"/>\n'
        f'<path d="{data}" fill="none" stroke="{INK}" stroke-width="{num(reach / 600)}" stroke-linejoin="round"/>\n'
    )
    title = f"{found.title}: {f.title}, {f.unit}" if f.unit else f"{found.title}: {f.title}"
    box = (x0, low, max(x1, x0 + 0.9 * reach), y1)
    return Picture(document(box, body + scale, title=title, margin=reach / 60))


def _round(factor: float) -> float:
    """Return the round factor (1, 2, 5, 10 and so on) next below one, at least 1."""
    if not factor > 1:
        return 1.0
    ten = 10.0 ** math.floor(math.log10(factor))
    return next(k for k in (5.0, 2.0, 1.0) if k * ten <= factor * 1.0001) * ten


def _rims(triangles: Index) -> Index:
    """Return the sides that one triangle alone has: where the sheet ends."""
    sides = np.sort(triangles[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2), axis=1)
    once, count = np.unique(sides, axis=0, return_counts=True)
    found: Index = once[count == 1]
    return found


def _colours(seen: Seen, grid: raster.Grid, f: Field) -> bytes:
    """Return the bands as PNG: at each pixel the value on the nearest triangle, a little darker away from the light."""
    which = raster.nearest(seen, grid)
    there = which >= 0
    rows, columns = np.nonzero(there)
    tri = which[there]
    corners = seen.points[seen.triangles[tri], :2]
    at = np.stack([grid.low[k] + (n + 0.5) * grid.pitch for k, n in ((0, columns), (1, rows))], axis=1)
    value = _within(corners, at, f.values.astype(np.float64)[seen.triangles[tri]])
    size = f.high - f.low
    band = np.floor((value - f.low) / size * len(BANDS)) if size > 0 else np.zeros(len(value))
    band = np.clip(band, 0, len(BANDS) if f.over else len(BANDS) - 1).astype(np.int64)
    light = np.array(LIGHT) / np.linalg.norm(LIGHT)
    lit = np.abs((normals(seen.points, seen.triangles) * light).sum(axis=1))[tri]
    level = np.rint(lit * (SHADES - 1)).astype(np.int64)
    index = np.zeros(which.shape, np.uint8)
    index[there] = 1 + band * SHADES + level
    shares = [DARKEST + (1 - DARKEST) * k / (SHADES - 1) for k in range(SHADES)]
    return png(index[::-1], [(255, 255, 255), *(_darker(c, s) for c in (*BANDS, BEYOND) for s in shares)])


def _within(corners: Array, at: Array, values: Array) -> Array:
    """Return values at points of triangles, in proportion to the areas opposite their corners."""
    a, u, v = corners[:, 0], corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    p = at - a
    area = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    s = np.clip((p[:, 0] * v[:, 1] - p[:, 1] * v[:, 0]) / area, 0.0, 1.0)
    t = np.clip((u[:, 0] * p[:, 1] - u[:, 1] * p[:, 0]) / area, 0.0, 1.0)
    found: Array = values[:, 0] + s * (values[:, 1] - values[:, 0]) + t * (values[:, 2] - values[:, 0])
    return found


def _darker(colour: str, share: float) -> RGB:
    r, g, b = (round(int(colour[k : k + 2], 16) * share) for k in (0, 2, 4))
    return r, g, b


def _scale(f: Field, times: float, x0: float, y0: float, reach: float) -> tuple[str, float]:
    """Return the scale of colours below a picture, and how far down it goes."""
    high, size = reach / 40, reach / 42
    wide, top = 0.62 * reach / len(BANDS), y0 - reach / 20
    out = [_words(x0, top - size, size, "start", f"{f.title}, {f.unit}" if f.unit else f.title)]
    top -= 1.6 * size
    shown = [*BANDS, BEYOND] if f.over else list(BANDS)
    for k, colour in enumerate(shown):
        x = x0 + k * wide
        out.append(f'<path d="M{num(x)} {num(-top)}h{num(wide)}V{num(high - top)}h{num(-wide)}Z" fill="#{colour}"/>\n')
    below = top - high - 1.1 * size
    for k in range(0, len(BANDS) + 1, 2):
        value = f.low + (f.high - f.low) * k / len(BANDS)
        out.append(_words(x0 + k * wide, below, size, "start" if k == 0 else "middle", f"{value:.3g}"))
    if f.over:
        out.append(_words(x0 + (len(BANDS) + 1.3) * wide, top - 0.85 * high, size, "start", f.over))
    said = "shape of a mode" if f.swings else "displacements true" if times == 1 else f"displacements {times:g} times"
    below -= 1.5 * size
    out.append(_words(x0, below, size, "start", said))
    return "".join(out), below - 0.4 * size


def _words(x: float, y: float, size: float, anchor: str, text: str) -> str:
    return (
        f'<text x="{num(x)}" y="{num(-y)}" font-size="{num(size)}" font-family="sans-serif" text-anchor="{anchor}" '
        f'fill="currentColor">{escape(text)}</text>\n'
    )
