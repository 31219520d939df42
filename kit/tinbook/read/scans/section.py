"""The section of a scan along a plane as an outline: for a cradle that follows a tank, or a brace across a floor."""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any, Final

import numpy as np

from tinbook import units
from tinbook.errors import BadFile, BadValue, Mistake, of_kind
from tinbook.plane.arrays import Index
from tinbook.plane.loops import Array
from tinbook.progress import Progress, telling
from tinbook.read.fitting import Plane, fit_line
from tinbook.read.measured import MeasuredOutline
from tinbook.read.scans.border import Rim, picked, signed_area
from tinbook.read.scans.mesh import Scan, spacing
from tinbook.read.scans.pieces import Piece
from tinbook.read.scans.rim import EdgesOf, edges_of, wanted_names
from tinbook.space import Frame, vec

ACROSS: Final = 0.1
"""Of a section's length: longest stretch without metal that is bridged (own proposal)."""
ALONG, MOST = 40, 4000
"""Points on each edge that closes an open section, at least and at most."""
SHORT: Final = 20.0
"""mm: a shorter section is a loose bit."""


def chains(points: Array, triangles: Index, plane: Frame) -> list[Array]:
    """Return where a plane cuts a mesh.

    Parameters
    ----------
    points : array, shape (n, 3)
        mm.
    triangles : array, shape (m, 3)
        Anticlockwise seen from outside.
    plane : Frame
        Its x and y lie in the plane.

    Returns
    -------
    list of array, shape (k, 2)
        In the plane, what lies outside to the right of the run; a closed chain ends where it begins. Longest first.
    """
    height = (points - plane.origin) @ np.array(plane.z)
    up = height >= 0
    cut = triangles[(up[triangles].any(axis=1)) & (~up[triangles].all(axis=1))]
    if not len(cut):
        return []
    ends = np.stack((cut, np.roll(cut, -1, axis=1)), axis=2)
    # Run round a triangle, seen from outside: its border goes down through the plane on the left, and up on the right.
    down = up[ends[:, :, 0]] & ~up[ends[:, :, 1]]
    rise = ~up[ends[:, :, 0]] & up[ends[:, :, 1]]
    first, last = np.sort(ends[down], axis=1), np.sort(ends[rise], axis=1)
    n = len(points)
    start, end = first[:, 0] * n + first[:, 1], last[:, 0] * n + last[:, 1]
    keys, where = np.unique(np.concatenate((start, end)), return_inverse=True)
    a, b = keys // n, keys % n
    share = height[a] / (height[a] - height[b])
    place = (points[a] + share[:, None] * (points[b] - points[a]) - plane.origin) @ np.array((plane.x, plane.y)).T
    found = [place[run] for run in _runs(where[: len(start)], where[len(start) :], len(keys))]
    return sorted(found, key=_length, reverse=True)


def _runs(start: Index, end: Index, count: int) -> list[Index]:
    """Return chains of numbers from pairs that follow each other; a pair more at one place ends a chain there."""
    after = np.full(count, -1, dtype=np.int64)
    after[start] = end
    begins = np.ones(count, dtype=bool)
    begins[after[after >= 0]] = False
    left = after >= 0
    found = []
    for k in (*np.flatnonzero(begins & left).tolist(), *np.flatnonzero(~begins).tolist()):
        if not left[k]:
            continue
        run, at = [k], k
        while left[at]:
            left[at] = False
            at = int(after[at])
            run.append(at)
        found.append(np.array(run))
    return found


def _length(chain: Array) -> float:
    return float(np.linalg.norm(np.diff(chain, axis=0), axis=1).sum())


def outline_from_section(
    scan: Scan,
    plane: Frame,
    tol: Any = "0.5 mm",
    *,
    depth: Any = None,
    at: Sequence[float] | None = None,
    names: Mapping[str, Sequence[float]] | None = None,
    shortest: Any = "30 mm",
    progress: Progress | None = None,
) -> MeasuredOutline:
    """Return the section of a scanned mesh along a plane as an outline of lines and arcs.

    Parameters
    ----------
    scan : Scan
        A mesh.
    plane : Frame
        Its x and y lie in the plane, as `frame_at(origin, x, y)` gives it.
    tol : length
        The edges keep to lines and arcs within this, scatter apart.
    depth : length, optional
        Needed where the section is open, as across a floor: the outline follows the metal along edges "body",
        "body 2" ..., and is closed on the scanned side by "end", "back" and "end 2", the back square to the ends and
        this far beyond the highest point of the metal.
    at : (float, float, float), optional
        A point by the metal that is meant, mm; by default the longest section is taken.
    names : mapping of str to (float, float, float), optional
        Edge names, each with a point near its edge, mm. Others are named by where they lie; see `outline_from_scan`.
    shortest : length
        No edge of the metal is shorter.
    progress : callable, optional
        Called with 0 to 1 and a word as the work goes on; what it raises ends the work.

    Returns
    -------
    MeasuredOutline
        In its own plane: the outline of what was scanned where the section is closed, as round a tank.

    Raises
    ------
    BadFile
        The plane misses the scan, or a part of the section is neither line nor arc.
    BadValue
        An open section without a depth.
    """
    of_kind(scan, Scan, "scan", "a Scan, as tb.read_scan gives one")
    of_kind(plane, Frame, "plane", "a Frame, as frame_at(origin, x, y) gives one")
    within, least = units.positive(tol, "tol"), units.positive(shortest, "shortest")
    deep = None if depth is None else units.positive(depth, "depth")
    near = None if at is None else picked(at, "at")
    wanted, tell = wanted_names(names), telling(progress)
    if not len(scan.triangles):
        raise BadValue("scan", scan.name, "a mesh with triangles: a cloud of points has no section")
    tell(0.0, "cutting the mesh")
    found = [c for c in chains(scan.points, scan.triangles, plane) if _length(c) >= SHORT]
    if not found:
        raise BadFile(
            scan.name, [Mistake("plane", f"cuts {SHORT:g} mm of metal nowhere; valid: a plane through the scan")]
        )
    own = None if near is None else np.array(plane.local(vec(near)))[:2]
    xy, closed = _joined(found, own)
    if not closed and deep is None:
        raise BadValue("depth", depth, "how far the outline goes beyond the metal: this section is open")
    step, added = spacing(scan), list[Array]()
    if not closed:
        assert deep is not None
        added = _closing(xy[::-1], deep, step)
        xy = np.concatenate((xy[::-1], *added))
    elif signed_area(xy) < 0:
        xy = xy[::-1]
    # The plane through the points, for the record; its axes are those of the frame.
    axes = np.array(plane.axes)
    space = np.asarray(plane.origin) + xy @ axes[:2]
    rim = Rim(np.arange(len(xy)), xy, np.zeros(len(xy)), Plane(centre=np.asarray(plane.origin), axes=axes))
    cut = Scan(name=f"{scan.name}, section", points=space, triangles=scan.triangles[:0])
    tell(0.3, "lines and arcs of the section")
    edges = edges_of(cut, rim, step, within, least, wanted, tell, detours=False)
    if not closed:
        edges = _with_closing(edges, added, wanted)
    return edges.outline(0.0)


def _joined(found: list[Array], near: Array | None) -> tuple[Array, bool]:
    """Return the longest section, or that nearest to a point, with what follows across gaps; and whether it closes."""
    left = list(found)
    k = 0 if near is None else int(np.argmin([np.linalg.norm(c - near, axis=1).min() for c in left]))
    run = left.pop(k)
    closed = bool(np.allclose(run[0], run[-1]))
    while left and not closed:
        reach = ACROSS * _length(run)
        ahead = [float(np.linalg.norm(c[0] - run[-1])) for c in left]
        behind = [float(np.linalg.norm(c[-1] - run[0])) for c in left]
        i, j = int(np.argmin(ahead)), int(np.argmin(behind))
        if min(ahead[i], behind[j]) > reach:
            break
        run = np.concatenate((run, left.pop(i)) if ahead[i] <= behind[j] else (left.pop(j), run))
    if not closed:
        closed = float(np.linalg.norm(run[0] - run[-1])) <= ACROSS * _length(run)
    return (run[:-1] if np.allclose(run[0], run[-1]) else run), closed


def _closing(xy: Array, depth: float, step: float) -> list[Array]:
    """Return points of the end, the back and the other end, from the end of an open section round to its beginning."""
    first, last = np.median(xy[:5], axis=0), np.median(xy[-5:], axis=0)
    along = (last - first) / max(float(np.linalg.norm(last - first)), 1e-9)
    away = np.array((-along[1], along[0]))
    # Medians tell how high the ends lie; where they lie along the section, the end points do.
    first, last = (p + ((q - p) @ along) * along for p, q in ((first, xy[0]), (last, xy[-1])))
    # Scatter lifts single points, so the highest is that of medians of neighbours.
    from scipy.ndimage import median_filter

    high = float(median_filter((xy - first) @ away, size=9, mode="nearest").max()) + depth
    far, near = (p + (high - (p - first) @ away) * away for p in (last, first))
    made = []
    for a, b in itertools.pairwise((last, far, near, first)):
        # As close to each other as those of the metal, so that no stretch seems to be missing.
        count = int(np.clip(float(np.linalg.norm(b - a)) / max(step, 1e-3), ALONG, MOST))
        made.append(a + (b - a) * (np.arange(count) / count)[:, None])
    return made


def _with_closing(edges: EdgesOf, added: Sequence[Array], wanted: Mapping[str, Array]) -> EdgesOf:
    """Return the edges of the metal in turn, and the drawn ones that close them, however short."""
    end = len(edges.rim.xy) - sum(map(len, added))
    metal = [(p, n) for p, n in zip(edges.pieces, edges.names, strict=True) if (p.numbers < end).mean() > 0.5]
    metal.sort(key=lambda pair: int(pair[0].numbers[len(pair[0].numbers) // 2]))
    if not metal:
        what = f"its metal holds no edge of {edges.shortest:g} mm within {edges.tol:g} mm of lines and arcs"
        raise BadFile(edges.scan.name, [Mistake("section", f"{what}; allow a larger tol, or a smaller shortest")])
    # What was drawn is left to the drawn edges.
    pieces = [replace(p, numbers=p.numbers[p.numbers < end]) for p, _ in metal]
    names = [n if n in wanted else "body" if k == 0 else f"body {k + 1}" for k, (_, n) in enumerate(metal)]
    first = end
    for xy, name in zip(added, ("end", "back", "end 2"), strict=True):
        numbers = np.arange(first, first + len(xy))
        first += len(xy)
        pieces.append(Piece(int(numbers[0]), first, numbers, fit_line(xy), 0.0, ((int(numbers[0]), first),)))
        names.append(name)
    k = next((names.index(n) for n in wanted if n in names), 0)
    return replace(edges, pieces=pieces[k:] + pieces[:k], names=names[k:] + names[:k])
