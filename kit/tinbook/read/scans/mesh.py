"""A scan as a value: points, triangles, and what follows from them alone."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import numpy.typing as npt

from tinbook import units
from tinbook.errors import BadValue, of_kind
from tinbook.finding import NOTHING, Findings
from tinbook.memo import Remembers, remembered
from tinbook.plane.arrays import Index
from tinbook.plane.loops import Array
from tinbook.progress import Progress, in_turn, part_of, quiet
from tinbook.space import Frame
from tinbook.values import dataclass


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Scan(Remembers):
    """A scanned surface: the face on which new metal will lie.

    Parameters
    ----------
    name : str
        Of the file, for headings.
    points : array, shape (n, 3)
        mm.
    triangles : array, shape (m, 3)
        Numbers of the corners, anticlockwise seen from the scanner; none for a cloud of points.
    findings : Findings
        What was said of unit, face and coating, and what is odd in the file.
    """

    name: str
    points: Array
    triangles: Index
    findings: Findings = NOTHING

    def __post_init__(self) -> None:
        p, t = self.points, self.triangles
        if not isinstance(p, np.ndarray) or p.ndim != 2 or p.shape[1] != 3 or p.dtype.kind != "f" or len(p) < 3:
            raise BadValue("points", getattr(p, "shape", p), "an array of three points or more, shape (n, 3), mm")
        # One pass: a number that is not finite is not within the limit either.
        if not np.abs(p).max() <= units.FARTHEST:
            raise BadValue("points", self.name, f"finite numbers within {units.FARTHEST:g} mm of the origin")
        if not isinstance(t, np.ndarray) or t.ndim != 2 or t.shape[1] != 3 or t.dtype.kind not in "iu":
            raise BadValue("triangles", getattr(t, "shape", t), "an array of numbers of points, shape (m, 3)")
        if len(t) and not 0 <= t.min() <= t.max() < len(p):
            raise BadValue("triangles", (int(t.min()), int(t.max())), f"numbers of points, 0 to {len(p) - 1}")

    def __repr__(self) -> str:
        x, y, z = self.size
        what = f"{len(self.triangles)} triangles" if len(self.triangles) else "points without triangles"
        return f"<scan {self.name!r}: {len(self.points)} points, {what}, {x:.0f} x {y:.0f} x {z:.0f} mm>"

    @property
    def size(self) -> tuple[float, float, float]:
        """Extent along x, y and z, mm."""
        x, y, z = np.ptp(self.points, axis=0)
        return float(x), float(y), float(z)

    def moved(self, frame: Frame) -> Scan:
        """Return the scan carried by a rigid move: `frame(x, y, z)` of each point."""
        of_kind(frame, Frame, "frame", "a Frame, as frame_at(origin, x, y) gives one")
        return replace(self, points=frame.points(self.points))

    def within(self, low: tuple[float, float, float], high: tuple[float, float, float]) -> Scan:
        """Return what of the scan lies in a box: all points in it, and triangles with all corners in it.

        Parameters
        ----------
        low, high : (float, float, float)
            Lowest and highest corner, mm.
        """
        try:
            a, b = np.array(low, float).reshape(3), np.array(high, float).reshape(3)
        except (TypeError, ValueError, OverflowError):
            raise BadValue("box", (low, high), "two corners (x, y, z) in mm") from None
        inside = (self.points >= a) & (self.points <= b)
        keep = np.asarray(inside.all(axis=1))
        if not keep.any():
            raise BadValue("box", (low, high), f"a box that holds a part of the scan, {_span(self.points)}")
        return self.part(keep)

    def part(self, keep: npt.NDArray[np.bool_]) -> Scan:
        """Return the points that a mask keeps, shape (n,), and the triangles all of whose corners it keeps."""
        number = np.cumsum(keep) - 1
        return replace(
            self, points=self.points[keep], triangles=number[self.triangles[keep[self.triangles].all(axis=1)]]
        )


def _span(points: Array) -> str:
    low, high = points.min(axis=0), points.max(axis=0)
    return " by ".join(f"{a:.0f} to {b:.0f}" for a, b in zip(low, high, strict=True)) + " mm"


def face_normals(points: Array, triangles: Index) -> Array:
    """Return normals as long as twice each triangle's area, shape (m, 3)."""
    a, b, c = (points[triangles[:, k]] for k in range(3))
    return np.cross(b - a, c - a)


def unit_rows(v: Array) -> Array:
    """Return the directions of vectors, shape (n, 3); zero for those of no length."""
    found: Array = v / np.maximum(np.linalg.norm(v, axis=1), 1e-300)[:, None]
    return found


@remembered
def normals(scan: Scan) -> Array:
    """Return unit normals at the points, shape (n, 3): the mean of the triangles round each, weighed by area."""
    n = face_normals(scan.points, scan.triangles)
    out = np.zeros((len(scan.points), 3))
    for axis in range(3):
        for k in range(3):
            out[:, axis] += np.bincount(scan.triangles[:, k], n[:, axis], len(out))
    return unit_rows(out)


@remembered
def smooth_normals(scan: Scan, *, tell: Progress = quiet) -> Array:
    """Return the unit normals averaged with those round each point, which takes out the scatter of the points."""
    tell(0.0, "normals")
    out = normals(scan)
    tell(0.2, "edges of the triangles")
    i, j = edges(scan)[0].T
    for _ in in_turn(range(3), part_of(tell, 0.4, 1.0), "smooth normals"):
        sums = out.copy()
        for axis in range(3):
            sums[:, axis] += np.bincount(i, out[j, axis], len(out)) + np.bincount(j, out[i, axis], len(out))
        out = unit_rows(sums)
    return out


@remembered
def edges(scan: Scan) -> tuple[Index, Index, Index]:
    """Return the edges of the triangles.

    Returns
    -------
    ends : array, shape (k, 2)
        Each edge once, the lower number first.
    count : array, shape (k,)
        Triangles at each: 1 at the border, 2 inside, more where the mesh is no surface.
    way : array, shape (k,)
        How often it is run from the lower to the higher number, less how often the other way.
    """
    t, n = scan.triangles, len(scan.points)
    a, b = np.concatenate((t[:, 0], t[:, 1], t[:, 2])), np.concatenate((t[:, 1], t[:, 2], t[:, 0]))
    key = np.minimum(a, b) * n + np.maximum(a, b)
    order = np.argsort(key, kind="stable")
    first = np.flatnonzero(np.diff(key[order], prepend=-1))
    count = np.diff(first, append=len(key))
    way = np.add.reduceat(np.where(a < b, 1, -1)[order], first) if len(first) else first
    ends = key[order][first]
    return np.column_stack((ends // n, ends % n)), count, way


@remembered
def spacing(scan: Scan) -> float:
    """Return the usual distance from a point to the next, mm: the median edge, or nearest neighbour of a cloud."""
    if len(scan.triangles):
        ends = edges(scan)[0]
        return float(np.median(np.linalg.norm(scan.points[ends[:, 0]] - scan.points[ends[:, 1]], axis=1)))
    from scipy.spatial import cKDTree

    sample = scan.points[:: max(1, len(scan.points) // 20_000)]
    return float(np.median(cKDTree(scan.points).query(sample, 2)[0][:, 1]))
