"""Folded bodies as a drawing: lines that can be seen, shades, and whose metal is at each pixel."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

import numpy as np

from tinbook.making.preview import raster
from tinbook.making.preview.view import CONTOUR, EDGE, FORM, TANGENT, Body, Seen, View, corner_view, normals, seen_from
from tinbook.plane.arrays import Index
from tinbook.plane.loops import Array, Point
from tinbook.values import dataclass

FINE: Final = 900
"""Pixels of the longer side of the shades, and as many places on a line as long as that at which it is looked for."""
ABOVE: Final = 0.03
"""mm: metal nearer than this before a line is its own: coordinates carry 0.0001 mm, chords of curves more."""
LIGHT: Final = (-0.35, 0.62, 0.70)
"""Toward the light in the picture's right, up and eye direction: from the upper left, behind the reader."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LineDrawing:
    """The lines that one sees of some bodies, in mm of the picture, y up.

    Parameters
    ----------
    box : (float, float, float, float)
        xmin, ymin, xmax, ymax.
    lines : tuple of four tuples of polylines
        Visible edges, tangents of bends, outlines of forms, contours: by `EDGE`, `TANGENT`, `FORM`, `CONTOUR`.
    """

    box: tuple[float, float, float, float]
    lines: tuple[tuple[tuple[Point, ...], ...], ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Drawing(LineDrawing):
    """What one sees of some bodies, with shades.

    Parameters
    ----------
    box, lines
        As of a drawing of lines.
    shade : array, shape (rows, columns)
        0 dark to 1 light, NaN where there is nothing; row 0 is the lowest.
    item : array, shape (rows, columns)
        Number of the body, -1 where there is none.
    grid : Grid
        Where the pixels lie.
    """

    shade: Array
    item: Index
    grid: raster.Grid


def drawing(bodies: Iterable[Body], view: View | None = None, fine: int = FINE) -> Drawing:
    """Draw bodies with hidden lines left out; at least one must have metal."""
    seen = seen_from(view or corner_view(), bodies)
    grid = raster.grid_over(seen, fine)
    which = raster.nearest(seen, grid)
    there = which >= 0
    facing = normals(seen.points, seen.triangles)
    size = sum(v * v for v in LIGHT) ** 0.5
    lit = np.abs(sum(facing[:, k] * (v / size) for k, v in enumerate(LIGHT)))
    lines = _lines(seen, grid.pitch)
    return Drawing(
        box=lines.box,
        lines=lines.lines,
        shade=np.where(there, lit[which], np.nan),
        item=np.where(there, seen.item[which], -1),
        grid=grid,
    )


def line_drawing(bodies: Iterable[Body], view: View, fine: int = FINE, across: int = raster.CELLS) -> LineDrawing:
    """Return box and lines of a `drawing` alone, which is less work than its shades; `across` cells sort its triangles."""
    seen = seen_from(view, bodies)
    return _lines(seen, raster.grid_over(seen, fine).pitch, across)


def _lines(seen: Seen, pitch: float, across: int = raster.CELLS) -> LineDrawing:
    x0, y0 = seen.points[:, :2].min(axis=0).tolist()
    x1, y1 = seen.points[:, :2].max(axis=0).tolist()
    visible, of = visible_lines(seen, pitch, across)
    lines = tuple(joined(visible[of == kind]) for kind in (EDGE, TANGENT, FORM, CONTOUR))
    return LineDrawing(box=(x0, y0, x1, y1), lines=lines)


def visible_lines(seen: Seen, pitch: float, across: int = raster.CELLS) -> tuple[Array, Index]:
    """Return the pieces of lines that no metal hides, looked at every `pitch` mm, and the kind of each.

    Returns
    -------
    (array, shape (k, 2, 3); array, shape (k,))
    """
    lines = seen.lines
    if not len(lines):
        return lines, seen.kinds
    over = raster.cells(seen, across)
    way = lines[:, 1] - lines[:, 0]
    count = np.maximum(np.ceil(np.hypot(way[:, 0], way[:, 1]) / pitch), 1).astype(np.int64)
    k, of = raster.spread(np.zeros(len(lines), np.int64), count - 1)
    at = lines[of, 0] + way[of] * ((k + 0.5) / count[of])[:, None]
    clear = over.over(at, ABOVE) == 0
    # A piece runs on while the next place of the same line is clear too.
    starts = clear & ~np.append(False, clear[:-1] & (of[1:] == of[:-1]))
    ends = clear & ~np.append(clear[1:] & (of[1:] == of[:-1]), False)
    a, b = np.flatnonzero(starts), np.flatnonzero(ends)
    line = of[a]
    share = np.stack((k[a] / count[line], (k[b] + 1) / count[line]), 1)
    return lines[line][:, :1] + way[line][:, None] * share[:, :, None], seen.kinds[line]


def joined(pieces: Array) -> tuple[tuple[Point, ...], ...]:
    """Return pieces that follow each other as polylines, rounded to 0.001 mm."""
    found: list[list[Point]] = []
    last: Point | None = None
    for (ax, ay, _), (bx, by, _) in np.round(pieces, 3).tolist():
        a, b = (ax + 0.0, ay + 0.0), (bx + 0.0, by + 0.0)
        if a == b:
            continue
        if a == last:
            found[-1].append(b)
        elif b == last:
            found[-1].append(a)
            b = a
        else:
            found.append([a, b])
        last = b
    return tuple(tuple(line) for line in found)
