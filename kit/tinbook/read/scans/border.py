"""The borders of a mesh: closed loops of points, and which of them is the rim of an opening."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Final

import numpy as np

from tinbook import units
from tinbook.errors import BadFile, BadValue, Mistake
from tinbook.memo import remembered
from tinbook.plane.arrays import Index
from tinbook.plane.loops import Array
from tinbook.progress import Progress, in_turn, part_of, quiet
from tinbook.read.fitting import Plane, fit_plane
from tinbook.read.scans.mesh import Scan, edges, smooth_normals
from tinbook.values import dataclass

LEAST: Final = 20.0
"""mm: an opening smaller than this across is a hole for a bolt."""


@dataclass(frozen=True, slots=True, eq=False)
class Rim:
    """A closed border of a mesh round an opening.

    Parameters
    ----------
    number : array, shape (n,)
        Its points in the scan, anticlockwise seen from the side that was scanned.
    xy : array, shape (n, 2)
        The points in its plane, mm.
    heights : array, shape (n,)
        Over the plane, mm.
    plane : Plane
        Through the points; its normal points to the side that was scanned.
    """

    number: Index
    xy: Array
    heights: Array
    plane: Plane


@remembered
def loops(scan: Scan) -> tuple[Index, ...]:
    """Return the closed borders of a mesh, each as the numbers of its points, metal on the left."""
    ends, count, way = edges(scan)
    single = ends[count == 1]
    back = way[count == 1] < 0
    single[back] = single[back][:, ::-1]
    on_border = np.zeros(len(scan.points), dtype=bool)
    on_border[single] = True
    near = scan.triangles[on_border[scan.triangles].any(axis=1)]
    third: dict[tuple[int, int], int] = {}
    for a, b, c in near.tolist():
        third[a, b], third[b, c], third[c, a] = c, a, b
    left = dict.fromkeys(map(tuple, single.tolist()))
    found = []
    while left:
        first = u, v = next(iter(left))
        run = []
        while (u, v) in left:
            del left[u, v]
            run.append(u)
            u, v = v, _onward(third, u, v)
        if (u, v) == first and len(run) > 2:
            found.append(np.array(run))
    return tuple(found)


def _onward(third: dict[tuple[int, int], int], u: int, v: int) -> int:
    """Return the point after v on the border, round the triangles that meet there."""
    w = third[u, v]
    for _ in range(1000):
        if (w, v) not in third:
            return w
        w = third[w, v]
    return -1


def robust_plane(points: Array) -> Plane:
    """Return the plane through points, those far off it left out."""
    keep = np.ones(len(points), dtype=bool)
    for _ in range(5):
        plane = fit_plane(points[keep])
        h = np.abs((points - plane.centre) @ plane.axes[2])
        keep = h <= 3 * max(1.4826 * float(np.median(h)), 1e-6)
    return plane


def signed_area(xy: Array) -> float:
    """Return the area of a closed run of points, mm², negative where it runs clockwise."""
    x, y = xy.T
    return float(x @ np.roll(y, -1) - y @ np.roll(x, -1)) / 2


def rims(scan: Scan, tell: Progress = quiet) -> list[Rim]:
    """Return the openings of a mesh that are larger than a bolt's hole, the largest first."""
    found: list[tuple[float, Rim]] = []
    away = smooth_normals(scan, tell=part_of(tell, 0.0, 0.6))
    tell(0.6, "borders of the mesh")
    every = loops(scan)
    for number in in_turn(every, part_of(tell, 0.9, 1.0), "rims"):
        points = scan.points[number]
        if max(np.ptp(points, axis=0)) < LEAST:
            continue
        try:
            plane = robust_plane(points)
        except BadValue:
            continue
        axes = plane.axes
        if axes[2] @ away[number].sum(axis=0) < 0:
            axes = axes * np.array([[1.0], [-1.0], [-1.0]])
        flat = (points - plane.centre) @ axes.T
        # Metal lies on the left of a border, so an opening's runs clockwise.
        area = signed_area(flat[:, :2])
        if area < -((LEAST / 2) ** 2):
            flat = flat[::-1]
            found.append((area, Rim(number[::-1], flat[:, :2], flat[:, 2], Plane(centre=plane.centre, axes=axes))))
    return [rim for _, rim in sorted(found, key=lambda pair: pair[0])]


def rim_of(scan: Scan, at: Any, tell: Progress = quiet) -> Rim:
    """Return the largest opening, or the one whose rim is nearest to a picked point."""
    if not len(scan.triangles):
        raise BadValue("scan", scan.name, "a mesh with triangles: a cloud of points has no border to follow")
    found = rims(scan, tell)
    if not found:
        what = f"no closed rim of {LEAST:g} mm or more across: the rim is not there, or the scan ends before it closes"
        raise BadFile(scan.name, [Mistake("rim", f"{what}; valid: a scan of the whole rim")])
    if at is None:
        return found[0]
    p = picked(at, "at")
    return min(found, key=lambda r: float(np.linalg.norm(scan.points[r.number] - p, axis=1).min()))


def picked(value: Any, field: str) -> Array:
    """Return a point (x, y, z), mm, or raise BadValue."""
    found = (
        [units.length(v, field) for v in value] if isinstance(value, Iterable) and not isinstance(value, str) else []
    )
    if len(found) != 3:
        raise BadValue(field, value, "a point (x, y, z) in mm")
    return np.array(found)
