"""What is left of a plate after its blanks are cut: the pieces worth keeping."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Final, Literal, TypeAlias

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import LinearRing, Polygon, box
from shapely.geometry.polygon import orient

from tinbook.errors import BadValue
from tinbook.job.nesting.layout import Nest, PlateLayout, polygon, ranged
from tinbook.plane.loops import Edge, Loop
from tinbook.plane.loops import polygon as straight

Shape = Literal["rectangles", "outline"]

KEEP: Final = (400.0, 200.0)
"""mm: an offcut into which no rectangle of this size goes is scrap; a guess, each shop has its own."""
_MOST: Final = 3
"""Rectangles that are cut off one plate."""
_GRID: Final = 41
_ON: Final = 1e-6

Floats: TypeAlias = npt.NDArray[np.float64]


def remaining(
    nest: Nest, layout: PlateLayout, shape: Shape = "rectangles", keep: tuple[float, float] = KEEP
) -> tuple[Loop, ...]:
    """Return the offcuts that are worth keeping, the largest first.

    Parameters
    ----------
    nest : Nest
        The layout's nest.
    layout : PlateLayout
        One of its plates.
    shape : {"rectangles", "outline"}
        Rectangles come off with straight cuts; an outline follows the blanks in steps and keeps more.
    keep : (float, float)
        Length and width of the least rectangle worth keeping, mm.

    Returns
    -------
    tuple of Loop
        Outlines on the plate, anticlockwise, a gap away from every blank.
    """
    if shape not in ("rectangles", "outline"):
        raise BadValue("offcut shape", shape, "'rectangles' or 'outline'")
    if not isinstance(keep, Sequence) or isinstance(keep, str) or len(keep) != 2:
        raise BadValue("keep", keep, "length and width of the least offcut worth keeping, mm")
    long, short = sorted((ranged("keep", v, 1.0, 1e5, "mm") for v in keep), reverse=True)
    rest = _free(nest, layout)
    if shape == "rectangles":
        return tuple(_rectangles(rest, long, short))
    return tuple(_outlines(rest, long, short))


def _free(nest: Nest, layout: PlateLayout) -> Polygon:
    """Return the plate without everything left of, or beside, a blank: what can come off in one piece."""
    plate = polygon(layout.plate.outline)
    x0 = plate.bounds[0]
    taken = []
    for placed in nest.shapes(layout):
        _, low, right, top = placed.bounds
        taken.append(box(x0, low - nest.gap, right + nest.gap, top + nest.gap))
    return plate.difference(shapely.union_all(taken))


def _pieces(shape: Polygon) -> list[Polygon]:
    return [p for p in shapely.get_parts(shape) if isinstance(p, Polygon) and p.area > 0]


def _outlines(rest: Polygon, long: float, short: float) -> list[Loop]:
    # What is narrower than an offcut worth keeping is only in the way on the rack.
    open_ = rest.buffer(-short / 2, join_style="mitre").buffer(short / 2, join_style="mitre").intersection(rest)
    found = [p for p in _pieces(open_) if _largest(p, long, short) is not None]
    return [_loop(p) for p in sorted(found, key=lambda p: -p.area)]


def _rectangles(rest: Polygon, long: float, short: float) -> list[Loop]:
    out: list[Polygon] = []
    while len(out) < _MOST:
        found = [r for p in _pieces(rest) if (r := _largest(p, long, short)) is not None]
        if not found:
            break
        best = max(found, key=lambda r: r.area)
        out.append(best)
        rest = rest.difference(best)
    return [_loop(r) for r in out]


def _largest(shape: Polygon, long: float, short: float) -> Polygon | None:
    """Return the largest rectangle along x and y in a shape, at least `long` by `short` either way; None without one.

    Its sides lie on level and upright edges of the shape, beside sloping and round ones on a grid of `_GRID` lines.
    """
    xs, ys, upright = _lines(shape)
    centres = [shapely.points(np.full(len(ys) - 1, x), (ys[:-1] + ys[1:]) / 2) for x in (xs[:-1] + xs[1:]) / 2]
    shapely.prepare(shape)
    full = np.array([shapely.contains(shape, column) for column in centres], dtype=bool)
    if not upright:  # then a cell may be cut by a sloping edge though its centre is inside
        for i, j in zip(*np.nonzero(full), strict=True):
            full[i, j] = shape.covers(box(xs[i], ys[j], xs[i + 1], ys[j + 1]))
    best: tuple[float, tuple[float, float, float, float]] | None = None
    for low in range(len(ys) - 1):
        open_ = np.ones(len(xs) - 1, dtype=bool)
        for top in range(low, len(ys) - 1):
            open_ &= full[:, top]
            high = ys[top + 1] - ys[low]
            for first, end in _runs(open_):
                wide = xs[end] - xs[first]
                fits = max(wide, high) >= long - _ON and min(wide, high) >= short - _ON
                if fits and (best is None or wide * high > best[0] + _ON):
                    best = wide * high, (xs[first], ys[low], xs[end], ys[top + 1])
    return None if best is None else box(*best[1])


def _lines(shape: Polygon) -> tuple[Floats, Floats, bool]:
    """Return x and y of the sides that a rectangle in a shape may have, and whether all edges are level or upright."""
    ends = np.concatenate([_ends(ring) for ring in (shape.exterior, *shape.interiors)])
    across = np.abs(ends[:, 1] - ends[:, 0])
    level, steep = across[:, 1] < _ON, across[:, 0] < _ON
    if bool((level | steep).all()):
        corners = ends[:, 0]
        return np.unique(np.round(corners[:, 0], 6)), np.unique(np.round(corners[:, 1], 6)), True
    x0, y0, x1, y1 = shape.bounds
    xs = np.concatenate((ends[steep][:, 0, 0], np.linspace(x0, x1, _GRID)))
    ys = np.concatenate((ends[level][:, 0, 1], np.linspace(y0, y1, _GRID)))
    return np.unique(np.round(xs, 6)), np.unique(np.round(ys, 6)), False


def _ends(ring: LinearRing) -> Floats:
    """Return both ends of each edge of a ring, shape (edges, 2, 2)."""
    points = shapely.get_coordinates(ring)
    return np.stack((points[:-1], points[1:]), axis=1)


def _runs(flags: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> list[tuple[int, int]]:
    edges = np.flatnonzero(np.diff(np.concatenate(([0], flags.astype(np.int8), [0]))))
    return [(int(a), int(b)) for a, b in edges.reshape(-1, 2)]


def _loop(shape: Polygon) -> Loop:
    points = [(float(x), float(y)) for x, y in orient(shape).exterior.simplify(_ON).coords[:-1]]
    return straight(points)


def parting_cuts(layout: PlateLayout, offcuts: Sequence[Loop]) -> tuple[tuple[Edge, ...], ...]:
    """Return the cuts that free the offcuts: their edges that do not lie on the plate's own edge, each once, in chains."""
    border = polygon(layout.plate.outline).exterior
    out: list[tuple[Edge, ...]] = []
    done = shapely.LineString()
    for loop in offcuts:
        line = shapely.LineString([*loop.points, loop.points[0]])
        inside = line.difference(border.buffer(1e-3)).difference(done.buffer(1e-3) if done.length else done)
        merged = shapely.line_merge(inside) if inside.geom_type == "MultiLineString" else inside
        done = done.union(line)
        for piece in shapely.get_parts(merged):
            points = [(round(x, 2), round(y, 2)) for x, y in piece.coords]
            if len(points) > 1 and piece.length > 0.1:
                out.append(tuple(Edge(a, b) for a, b in pairwise(points)))
    return tuple(out)
