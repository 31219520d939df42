"""The rim of an opening in a scan as an outline: lines and arcs, their residuals, and what of the rim is missing."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any, Final

import numpy as np
import shapely

from tinbook import units
from tinbook.errors import BadFile, BadValue, Mistake, of_kind
from tinbook.finding import Finding, caution, fine
from tinbook.part.outline import check_edge_name
from tinbook.plane.loops import Array, Edge
from tinbook.progress import Progress, part_of, telling
from tinbook.read.fitting import beyond, out_of, point
from tinbook.read.measured import MeasuredOutline
from tinbook.read.scans.adjust import adjusted
from tinbook.read.scans.border import Rim, picked, rim_of
from tinbook.read.scans.mesh import Scan
from tinbook.read.scans.pieces import Piece, pieces_of, settled, trimmed
from tinbook.read.scans.runs import WINDOW, cut, step_of
from tinbook.read.survey import Measured, drawn, tilt_of
from tinbook.space import unit_vector
from tinbook.values import dataclass

MISSING: Final = 0.2
"""Share of the rim that may be missing (own proposal)."""
OF_AN_EDGE: Final = 0.7
"""Share of one edge that may be missing, as long as what is left holds its ends (own proposal)."""
UNSURE: Final = 0.3
"""Of the tolerance: an end that is known less well is said, one known less well than twice the tolerance is refused."""
COARSE: Final = 0.25
"""Of the points' distance beyond 1 mm: so much less well an end may be known without being said."""
RAGGED: Final = 1.4
"""An edge that scatters so many times more than the others may be where the scan ends, not the metal."""
TORN: Final = 1.7
"""An edge that scatters so many times more is refused."""
FEWEST: Final = 4
"""Points of an edge: one more than an arc goes through."""
DRAWN: Final = 1e-6
"""mm: what scatters less was drawn."""
ROUND: Final = 40.0
"""mm: from a corner, no farther, a rounded one is looked for."""
SIDES: Final = {"front": (1.0, 0.0, 0.0), "left": (0.0, 1.0, 0.0), "rear": (-1.0, 0.0, 0.0), "right": (0.0, -1.0, 0.0)}
"""Names by position, x of the vehicle forward and y to the left."""


def outline_from_scan(
    scan: Scan,
    tol: Any = "0.5 mm",
    *,
    at: Sequence[float] | None = None,
    names: Mapping[str, Sequence[float]] | None = None,
    shortest: Any = "30 mm",
    up: Sequence[float] | None = None,
    progress: Progress | None = None,
) -> MeasuredOutline:
    """Return the rim of an opening in a scanned mesh as an outline of lines and arcs.

    Parameters
    ----------
    scan : Scan
        A mesh; use `scan.within` for a lip in a band of it.
    tol : length
        The edges keep to lines and arcs within this, scatter apart.
    at : (float, float, float), optional
        A point by the rim that is meant, mm; by default the largest opening is taken.
    names : mapping of str to (float, float, float), optional
        Edge names, each with a point near its edge, mm. The others are named by where they lie: front
        towards +x, rear, left towards +y, right.
    shortest : length
        No edge is shorter; what is rounded between two edges is drawn as a sharp corner, and said.
    up : (float, float, float), optional
        The side that is up; by default the side that was scanned.
    progress : callable, optional
        Called with 0 to 1 and a word as the work goes on; what it raises ends the work.

    Returns
    -------
    MeasuredOutline
        As `read_outline` gives it, in its own plane. Missing stretches are cautions with their length.

    Raises
    ------
    BadFile
        No closed rim, a part of it that is neither line nor arc, or too much of it missing.

    Notes
    -----
    The border of the mesh is taken for the rim: where a scanner's program stops short of the edge, the opening comes
    out larger by as much.
    """
    of_kind(scan, Scan, "scan", "a Scan, as tb.read_scan gives one")
    within, least = units.positive(tol, "tol"), units.positive(shortest, "shortest")
    eye = None if up is None else unit_vector(up, "up")
    wanted = wanted_names(names)
    tell = telling(progress)
    rim = rim_of(scan, at, part_of(tell, 0.0, 0.4))
    tell(0.4, "lines and arcs of the rim")
    found = edges_of(scan, rim, step_of(rim.xy), within, least, wanted, tell)
    tilt = 0.0 if eye is None else tilt_of(rim.plane.axes[2], eye)
    return found.outline(tilt)


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class EdgesOf:
    """The edges found round a closed run of points.

    Parameters
    ----------
    scan : Scan
        Holds the points.
    rim : Rim
        The run.
    step : float
        From point to point, mm.
    tol, shortest : float
        mm; see `outline_from_scan`.
    pieces : list of Piece
        The edges in turn.
    names : list of str
        Theirs.
    """

    scan: Scan
    rim: Rim
    step: float
    tol: float
    shortest: float
    pieces: list[Piece]
    names: list[str]

    def outline(self, tilt: float) -> MeasuredOutline:
        """Return them as an outline, with what must be said of it."""
        scan, rim, within = self.scan, self.rim, self.tol
        edges = []
        for name, p in zip(self.names, self.pieces, strict=True):
            number = rim.number[p.numbers]
            edges.append(Measured(name, scan.points[number], number + 1, rim.xy[p.numbers], _level(rim, p), "point"))
        # A point may stand off by the scatter that was found, however wide; the tolerance is for the shape of the edge.
        slack = max(within, *(4 * p.scatter for p in self.pieces))
        carriers = [p.on for p in self.pieces]
        outline = drawn(edges, carriers, rim.plane, slack, tilt, scan.name)
        _all_used(scan, rim, outline, slack, self.shortest)
        said = [
            *_missing(scan.name, self.step, outline, edges),
            *_unsure(scan.name, self.step, outline, edges, within),
            *_ragged(scan.name, self.pieces, self.names),
            *_rounded(scan, rim, outline),
            *_drawn_edges(self.pieces, self.names),
        ]
        return drawn(edges, carriers, rim.plane, slack, tilt, scan.name, said)


def edges_of(
    scan: Scan,
    rim: Rim,
    step: float,
    within: float,
    least: float,
    wanted: Mapping[str, Array],
    tell: Progress,
    detours: bool = True,
) -> EdgesOf:
    """Return the lines and arcs of a closed run of points; see `outline_from_scan`."""
    if len(rim.xy) < 6 * WINDOW:
        raise BadFile(scan.name, [Mistake("rim", f"{len(rim.xy)} points round it; valid: {6 * WINDOW} or more")])
    xy = rim.xy
    runs = cut(xy, within)
    tell(0.6, "edges of the rim")
    found = _whole([settled(xy, p, within) for p in pieces_of(xy, runs, within, least, detours)])
    found = _whole(trimmed(xy, found))
    if len(found) < 2:
        what = f"{len(found)} edges of {least:g} mm or more within {within:g} mm of lines and arcs; valid: two or more"
        raise BadFile(scan.name, [Mistake("rim", f"{what}; allow a larger tol, or a smaller shortest")])
    tell(0.8, "adjusting all edges together")
    found = adjusted(xy, found, within)
    named = _names(rim, found, scan.points, wanted)
    first = named.index(next(iter(wanted))) if wanted else max(range(len(found)), key=lambda i: found[i].length(xy))
    found, named = found[first:] + found[:first], named[first:] + named[:first]
    return EdgesOf(scan=scan, rim=rim, step=step, tol=within, shortest=least, pieces=found, names=named)


def _whole(found: Sequence[Piece]) -> list[Piece]:
    """Return the edges that have points enough left."""
    return [p for p in found if len(p.numbers) >= FEWEST]


def wanted_names(names: Any) -> dict[str, Array]:
    """Return the picked point of each named edge."""
    if names is None:
        return {}
    of_kind(names, Mapping, "names", "{name: point (x, y, z) near the edge}")
    return {check_edge_name(k): picked(p, f"point of edge '{k}'") for k, p in names.items()}


def _level(rim: Rim, p: Piece) -> Array:
    """Return the heights of an edge's points, without their scatter."""
    from scipy.ndimage import median_filter

    return np.asarray(median_filter(rim.heights[p.numbers], size=2 * WINDOW + 1, mode="nearest"))


def _names(rim: Rim, found: list[Piece], points: Array, wanted: Mapping[str, Array]) -> list[str]:
    """Return a name for each edge: the picked ones, the others by the side to which they look."""
    named: dict[int, str] = {}
    for name, p in wanted.items():
        near = [float(np.linalg.norm(points[rim.number[e.numbers]] - p, axis=1).min()) for e in found]
        k = int(np.argmin(near))
        if k in named:
            raise BadValue("names", (named[k], name), "points near different edges; these lie by the same one")
        named[k] = name
    used = set(named.values())
    for k, e in enumerate(found):
        if k in named:
            continue
        middle = rim.xy[e.numbers[len(e.numbers) // 2]]
        x, y = e.on.heading(point(middle))
        outward = y * rim.plane.axes[0] - x * rim.plane.axes[1]
        side = max(SIDES, key=lambda n: float(outward @ np.array(SIDES[n])))
        name = next(n for n in (side, *(f"{side} {i}" for i in range(2, 99))) if n not in used)
        named[k] = name
        used.add(name)
    return [named[k] for k in range(len(found))]


def _own(outline: MeasuredOutline, xyz: Array) -> Array:
    """Return points of the scan in the outline's plane."""
    frame = outline.fit.frame
    return (xyz - frame.origin) @ frame.axes[:2].T


def _places(e: Edge, xy: Array) -> Array:
    """Return how far along an edge its points lie, mm, in order."""
    before, _ = beyond(e, xy)
    return np.sort(np.clip(-before, 0.0, e.length))


def _missing(name: str, step: float, outline: MeasuredOutline, edges: Sequence[Measured]) -> list[Finding]:
    """Return the stretches of the rim that the scan lacks; refuse a rim of which too much is missing."""
    least = 6 * max(step, 1.0)
    found, mistakes, total = [], [], 0.0
    for e, points in zip(outline.loop.edges, edges, strict=True):
        s = np.concatenate(((0.0,), _places(e, _own(outline, points.xyz)), (e.length,)))
        steps = np.diff(s)
        lost = 0.0
        for k in np.flatnonzero(steps > least):
            lost += float(steps[k])
            where = f"edge '{e.name}', {s[k]:.0f} to {s[k + 1]:.0f} mm from its start"
            what = f"{steps[k]:.0f} mm of the rim are missing in the scan; the edge is carried across"
            remedy = "look at the metal there: a notch in the lip would look the same"
            found.append(caution("scan.gap", where, what, remedy, float(steps[k]), least, source="geometry"))
        total += lost
        if lost > OF_AN_EDGE * e.length:
            mistakes.append(
                Mistake(f"edge '{e.name}'", f"{lost:.0f} mm of {e.length:.0f} mm are missing; scan it again")
            )
    if total > MISSING * outline.loop.length:
        share = 100 * total / outline.loop.length
        mistakes.append(Mistake("rim", f"{share:.0f} % of it is missing; valid: at most {100 * MISSING:.0f} %"))
    if mistakes:
        raise BadFile(name, mistakes)
    return found


def _all_used(scan: Scan, rim: Rim, outline: MeasuredOutline, slack: float, shortest: float) -> None:
    """Refuse an outline that the rim leaves into the opening for longer than a rounded corner."""
    from scipy.ndimage import median_filter

    inside = shapely.Polygon(outline.loop.chords()).buffer(-slack)
    every = _own(outline, scan.points[rim.number])
    off = median_filter(shapely.contains_xy(inside, every).astype(np.int8), size=WINDOW, mode="wrap")
    off = np.roll(off, -int(off.argmin()))
    step = np.linalg.norm(np.diff(np.roll(every, -int(off.argmin()), axis=0), axis=0), axis=1)
    begins = np.flatnonzero(np.diff(off, prepend=0, append=0))
    longest = max((int(b - a) for a, b in begins.reshape(-1, 2)), default=0) * float(np.median(step))
    if longest > shortest:
        what = f"for {longest:.0f} mm it runs inside the lines and arcs that were found, and is neither within the tolerance"
        raise BadFile(scan.name, [Mistake("rim", f"{what}; allow a smaller shortest, or a larger tol")])


def _unsure(name: str, step: float, outline: MeasuredOutline, edges: Sequence[Measured], tol: float) -> list[Finding]:
    """Return the edges whose ends the points place only roughly: few points, or points far from an end."""
    found, mistakes = [], []
    most = UNSURE * tol + COARSE * max(step - 1.0, 0.0)
    for e, points, fit in zip(outline.loop.edges, edges, outline.fit.edges, strict=True):
        s = 2 * _places(e, _own(outline, points.xyz)) / e.length - 1
        ends = np.array((-1.0, 1.0))
        powers = 2 if e.is_line else 3
        design, at = np.vander(s, powers), np.vander(ends, powers)
        # Variance of the fitted curve at both ends, in variances of one point.
        share = np.einsum("ij,jk,ik->i", at, np.linalg.pinv(design.T @ design), at)
        # Points nearer to each other than the scan's own step share their scatter.
        shared = max(1.0, fit.count * step / e.length)
        known = 2 * fit.rms * math.sqrt(float(share.max()) * shared)
        if known > most:
            what = "an end of this edge is known only so well, with 95 %: few points, or none near it"
            remedy = "scan it again, or measure that end by tape"
            found.append(caution("scan.unsure", f"edge '{e.name}'", what, remedy, known, most, source="least squares"))
        if known > max(2 * tol, most):
            what = (
                f"its ends are known within {known:.1f} mm only, with 95 %: too little of it was scanned; scan it again"
            )
            mistakes.append(Mistake(f"edge '{e.name}'", what))
    if mistakes:
        raise BadFile(name, mistakes)
    return found


def _drawn_edges(found: Sequence[Piece], names: Sequence[str]) -> list[Finding]:
    """Return that edges which close an open section were drawn, where others were measured."""
    added = [n for n, p in zip(names, found, strict=True) if p.scatter <= DRAWN]
    if not added or len(added) == len(names):
        return []
    return [fine("scan.drawn", ", ".join(added), "drawn to close the section, not measured")]


def _ragged(name: str, found: Sequence[Piece], names: Sequence[str]) -> list[Finding]:
    """Return the edges that scatter more than the others; refuse those that scatter so as no rim does."""
    # Edges that close an open section are drawn, not measured: they scatter by nothing.
    usual = float(np.median([p.scatter for p in found if p.scatter > DRAWN] or [0.0]))
    what = "the border is more ragged here than elsewhere: the scan may end before the metal does"
    remedy = "look whether this is the rim, and scan it again if it is not"
    odd = [(n, p.scatter) for n, p in zip(names, found, strict=True) if p.scatter > RAGGED * usual + 0.02]
    worst = [Mistake(f"edge '{n}'", f"{what}; {remedy}") for n, s in odd if s > TORN * usual + 0.02]
    if worst:
        raise BadFile(name, worst)
    return [caution("scan.ragged", f"edge '{n}'", what, remedy, s, RAGGED * usual, source="geometry") for n, s in odd]


def _rounded(scan: Scan, rim: Rim, outline: MeasuredOutline) -> list[Finding]:
    """Return the corners that the rim cuts short: they are rounded on the body and sharp in the outline."""
    found = []
    every = _own(outline, scan.points[rim.number])
    loop, fits = outline.loop.edges, outline.fit.edges
    for k, (corner, e) in enumerate(zip(outline.fit.corners, loop, strict=True)):
        after, half = (k + 1) % len(loop), math.radians(corner.angle) / 2
        far = np.linalg.norm(every - e.end, axis=1)
        if not 0.2 < half < 1.4:
            continue
        # Points of an arc lie off both edges, on the opening's side; a corner that was not scanned has none there.
        off = [out_of(loop[i], every) < -max(3 * fits[i].rms, 0.5) for i in (k, after)]
        near = np.sort(far[off[0] & off[1] & (far < ROUND)])
        if len(near) < 5:
            continue
        radius = float(np.median(near[:5])) / (1 / math.sin(half) - 1)
        what = f"the rim is rounded here, about R {radius:.0f}; the outline has a sharp corner"
        remedy = "round it with .rounded, or leave the part's corner clear of it"
        found.append(caution("scan.round", f"corner '{corner.name}'", what, remedy, radius, 0.0, source="geometry"))
    return found
