"""Fit of an outline to measured edges: plane, a line or an arc for each edge, corners, and a record of the fit."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import field, replace
from pathlib import Path
from typing import Any, Final

import numpy as np

from tinbook.errors import BadFile, BadValue, Mistake
from tinbook.finding import Finding, Findings, caution, fine, stop
from tinbook.plane.loops import Array, Edge, Loop, Move, Point
from tinbook.plane.meeting import turn
from tinbook.read.fitting import (
    Carrier,
    Corner,
    Plane,
    arc_or_line,
    beyond,
    fit_arc,
    fit_line,
    fit_plane,
    join,
    out_of,
    point,
    rounded,
)
from tinbook.read.measured import CornerFit, EdgeFit, MeasuredOutline, Survey
from tinbook.read.outliers import studentised
from tinbook.read.rows import shortened
from tinbook.space import Frame, Vec, vec
from tinbook.tolerances import FITTED, SAME_POINT
from tinbook.values import dataclass

PULLED_FLAT: Final = 0.003
TOO_CROOKED: Final = 0.010
"""Out-of-flat per length across: up to the first a thin pan is pulled down onto its lip by screws and
plug welds; beyond the second it has to follow the body with a joggle or in two parts (common practice)."""

ARC_GAIN: Final = 0.5
"""An arc is believed when its rms is at most this part of the line's: scatter alone hardly halves it."""

ODD: Final = 2.0
"""A point is the odd one out when the others hold without it and it lies this many times their worst away."""

SHOWN: Final = 400
"""Points kept for pictures."""


@dataclass(frozen=True, slots=True, eq=False)
class Measured:
    """The points of one edge, in order along it, mm, and the line of the file in which each stands."""

    name: str
    xyz: Array
    lines: Any
    xy: Array = field(default_factory=lambda: np.zeros((0, 2)))
    heights: Array = field(default_factory=lambda: np.zeros(0))
    row: str = "line"

    def at(self, i: int) -> str:
        """Return where point `i` stands."""
        return f"{self.row} {self.lines[i]}"


def survey(edges: list[Measured], tol: float, up: Vec, path: str) -> MeasuredOutline:
    """Fit an outline.

    Parameters
    ----------
    edges : list of Measured
        At least two, each with at least two different points.
    tol : float
        mm, greater than 0.
    up : (float, float, float)
        Unit vector.
    path : str
        Of the file, for errors and the record.

    Raises
    ------
    BadFile
        Points on one line, a plane that stands along `up`, an edge that nothing holds, edges that do
        not meet, an outline that crosses itself.
    """
    every = np.concatenate([e.xyz for e in edges])
    try:
        plane = fit_plane(every)
    except BadValue as why:
        raise BadFile(path, [Mistake("columns x, y, z", f"{why.value}; valid: {why.valid}")]) from None
    axes = plane.axes
    if axes[2] @ np.array(up) < 0:
        axes = axes * np.array([[1.0], [-1.0], [-1.0]])
    plane, tilt = Plane(centre=plane.centre, axes=axes), tilt_of(axes[2], up)
    if tilt > 80.0:
        what = f"lie in a plane tilted by {tilt:.0f} degrees against up={up}; pass the side that is up, as up=(x, y, z)"
        raise BadFile(path, [Mistake("columns x, y, z", what)])
    edges = [
        replace(e, xy=(e.xyz - plane.centre) @ axes[:2].T, heights=(e.xyz - plane.centre) @ axes[2]) for e in edges
    ]
    carriers: list[Carrier] = []
    mistakes: list[Mistake] = []
    for e in edges:
        fitted = _fit_edge(e, tol)
        if isinstance(fitted, Mistake):
            mistakes.append(fitted)
        else:
            carriers.append(fitted)
    mistakes += _backwards(edges)
    if mistakes:
        raise BadFile(path, shortened(mistakes))
    return drawn(edges, carriers, plane, tol, tilt, path)


def tilt_of(normal: Array, up: Vec) -> float:
    """Return the angle between a plane's normal and the side that is up, degrees."""
    return math.degrees(math.acos(min(float(normal @ np.array(up)), 1.0)))


def drawn(
    edges: list[Measured],
    carriers: list[Carrier],
    plane: Plane,
    tol: float,
    tilt: float,
    path: str,
    said: Sequence[Finding] = (),
) -> MeasuredOutline:
    """Return the outline of edges whose points lie in a plane, with the line or arc that was fitted to each.

    Parameters
    ----------
    edges, carriers : list
        In turn; see `survey`.
    plane : Plane
        In which the points' `xy` are given.
    tol, tilt, path
        See `survey`; degrees.
    said : sequence of Finding
        What is known beside the fit.
    """
    axes = plane.axes
    loop = _joined(edges, carriers, tol, path)
    if loop.area < 0:
        # The other way round, the first edge still first.
        edges = [edges[0], *edges[:0:-1]]
        turned = loop.reversed().edges
        loop = Loop((turned[-1], *turned[:-1]))

    loop, move = _first_along_x(loop)
    loop = rounded(loop)
    matrix = np.array([[move.a, move.c], [move.b, move.d]])
    edges = [replace(e, xy=e.xy @ matrix + (move.u, move.v)) for e in edges]
    back = move.inverse()
    x = back.a * axes[0] + back.c * axes[1]
    origin = plane.centre + back.u * axes[0] + back.v * axes[1]
    frame = Frame(vec(origin), vec(x), vec(np.cross(axes[2], x)), vec(axes[2])).rounded()

    fits = tuple(_edge_fit(g, e) for g, e in zip(loop.edges, edges, strict=True))
    meets = tuple(_corner_fit(loop, edges, i) for i in range(len(edges)))
    high = max(edges, key=lambda e: e.heights.max())
    low = min(edges, key=lambda e: e.heights.min())
    record = Survey(
        source=Path(path).name,
        tol=tol,
        edges=fits,
        corners=meets,
        highest=float(high.heights.max()),
        highest_at=high.at(int(high.heights.argmax())),
        lowest=float(low.heights.min()),
        lowest_at=low.at(int(low.heights.argmin())),
        tilt=tilt,
        frame=frame,
        sample=_sample(edges),
    )
    record = replace(record, findings=Findings([*_findings(record, loop, edges), *said]).rounded(FITTED))
    told = Findings(f for f in record.findings if f.severity != "fine")
    try:
        return MeasuredOutline(loop=loop, fit=record, findings=told)
    except BadValue as why:
        raise BadFile(path, [Mistake("outline", str(why))]) from None


def _fit_edge(e: Measured, tol: float) -> Carrier | Mistake:
    """Return the line if it fits within the tolerance, else the arc, else why neither fits."""
    line = fit_line(e.xy)
    d = np.abs(line.out(e.xy))
    if d.max() <= tol:
        return line
    arc = fit_arc(e.xy) if len(e.xy) > 2 else None
    b = np.abs(arc.out(e.xy)) if arc else d
    if arc and b.max() <= tol and _rms(b) <= ARC_GAIN * _rms(d):
        return arc
    suspect = _odd_one_out(e, tol, {int(d.argmax()), int(b.argmax()), 0, len(e.xy) - 1})
    if suspect:
        return suspect
    tried = f"a line is {d.max():.2f} mm off (rms {_rms(d):.2f})"
    worst = int(d.argmax())
    if arc:
        worst = int(b.argmax())
        tried += f", an arc {b.max():.2f} mm off at {e.at(worst)} (rms {_rms(b):.2f})"
    what = f"edge '{e.name}' is neither a line nor an arc within {tol:g} mm: {tried}; split the edge, or allow a larger tol"
    return Mistake(e.at(worst if arc else int(d.argmax())), what)


def _odd_one_out(e: Measured, tol: float, candidates: set[int]) -> Mistake | None:
    """Return the one point without which the edge would hold, if there is one and enough others agree."""
    for least, fit in ((3, fit_line), (4, fit_arc)):
        for i in sorted(candidates):
            rest = np.delete(e.xy, i, axis=0)
            fitted = fit(rest) if len(rest) >= least else None
            if fitted is None or np.abs(fitted.out(rest)).max() > tol:
                continue
            off, others = abs(float(fitted.out(e.xy[i : i + 1])[0])), float(np.abs(fitted.out(rest)).max())
            if off <= max(tol, ODD * others):
                continue
            what = (
                f"lies {off:.2f} mm off edge '{e.name}', whose other points hold within {others:.2f} mm; "
                "measure it again, or put # before the row to leave it out"
            )
            return Mistake(e.at(i), what)
    return None


def _backwards(edges: list[Measured]) -> list[Mistake]:
    """Return the edges whose rows run against the order of the edges."""
    found = []
    for i, e in enumerate(edges):
        before, after = edges[i - 1].xy, edges[(i + 1) % len(edges)].xy
        as_is = math.dist(before[-1], e.xy[0]) + math.dist(e.xy[-1], after[0])
        turned = math.dist(before[-1], e.xy[-1]) + math.dist(e.xy[0], after[0])
        if turned < as_is / 2:
            what = f"the rows of edge '{e.name}' run backwards: its last row is the one next to the edge before"
            found.append(Mistake(e.at(0), what))
    return found


def _joined(edges: list[Measured], carriers: list[Carrier], tol: float, path: str) -> Loop:
    """Return the loop of fitted edges, met at corners."""
    n = len(edges)
    mistakes: list[Mistake] = []
    corners: list[Corner] = []
    for i, e in enumerate(edges):
        j = (i + 1) % n
        met = join(carriers[i], carriers[j], point(e.xy[-1]), point(edges[j].xy[0]), tol)
        if isinstance(met, float):
            what = f"edge '{e.name}' does not meet edge '{edges[j].name}': they pass each other {met:.2f} mm apart"
            mistakes.append(Mistake(f"{e.at(len(e.xy) - 1)} and {edges[j].at(0)}", what))
        else:
            corners.append(met)
    if mistakes:
        raise BadFile(path, mistakes)
    made: list[Edge] = []
    for i, e in enumerate(edges):
        start, end = corners[i - 1], corners[i]
        if math.dist(start.point, end.point) <= SAME_POINT:
            raise BadFile(path, [Mistake(e.at(0), f"edge '{e.name}' has no length between its neighbours")])
        g = arc_or_line(e.name, carriers[i], start.point, end.point)
        made.append(g)
        before, after = beyond(g, e.xy)
        for past, corner, k in ((before, start, i - 1), (after, end, (i + 1) % n)):
            spacing = math.dist(corner.point, point(e.xy[0 if past is before else -1]))
            over = past - corner.slack(tol, spacing)
            worst = int(over.argmax())
            if over[worst] > 0:
                what = (
                    f"lies {past[worst]:.1f} mm beyond the corner of edges '{e.name}' and '{edges[k].name}'; "
                    "does it belong to another edge, or do the edges stand in another order?"
                )
                mistakes.append(Mistake(e.at(worst), what))
    if mistakes:
        raise BadFile(path, shortened(mistakes))
    return Loop(tuple(made))


def _first_along_x(loop: Loop) -> tuple[Loop, Move]:
    """Return the loop moved so that its first edge starts at (0, 0) and its chord runs along +x."""
    first = loop.edges[0]
    dx, dy = ((first.end[k] - first.start[k]) / first.chord for k in (0, 1))
    move = Move(dx, dy, -dy, dx).after(Move(u=-first.start[0], v=-first.start[1]))
    moved = list(loop.moved(move).edges)
    # Rounded, so that drawings show clean numbers.
    moved[0] = replace(moved[0], start=(0.0, 0.0), end=(first.chord, 0.0))
    moved[1] = replace(moved[1], start=(first.chord, 0.0))
    moved[-1] = replace(moved[-1], end=(0.0, 0.0))
    return Loop(tuple(moved)), move


def _edge_fit(g: Edge, e: Measured) -> EdgeFit:
    d = out_of(g, e.xy)
    worst = int(np.abs(d).argmax())
    return EdgeFit(
        name=g.name,
        kind="line" if g.is_line else "arc",
        count=len(d),
        rms=_rms(d),
        worst=float(d[worst]),
        worst_at=e.at(worst),
        radius=None if g.is_line else g.radius,
    )


def _corner_fit(loop: Loop, edges: list[Measured], i: int) -> CornerFit:
    j = (i + 1) % len(edges)
    near = np.concatenate((edges[i].xy, edges[j].xy)) - loop.edges[i].end
    return CornerFit(
        name=f"{edges[i].name}/{edges[j].name}",
        angle=180.0 - math.degrees(turn(loop.edges[i], loop.edges[j])),
        reach=float(np.hypot(near[:, 0], near[:, 1]).min()),
    )


def _findings(record: Survey, loop: Loop, edges: list[Measured]) -> Findings:
    """Return what to look at before cutting metal to this outline."""
    found: list[Finding] = []
    x0, y0, x1, y1 = loop.box
    across, off = max(x1 - x0, y1 - y0), record.out_of_flat
    where = f"between {record.highest_at} and {record.lowest_at}"
    pulled, crooked = PULLED_FLAT * across, TOO_CROOKED * across
    remedy = "dress the lip flat first, or follow it with a joggle or a part in two panels"
    if off <= pulled:
        found.append(fine("points.flat", where, "screws and welds pull a thin pan down this far", off, pulled))
    elif off <= crooked:
        found.append(caution("points.flat", where, "the opening is out of flat", remedy, off, pulled))
    else:
        found.append(stop("points.flat", where, "the opening is out of flat", remedy, off, crooked))
    for e, fit in zip(edges, record.edges, strict=True):
        few = 3 if fit.kind == "line" else 5
        if fit.count < few:
            what = f"{fit.count} points on {'a line' if fit.kind == 'line' else 'an arc'} show hardly any error"
            remedy = "measure more points along it"
            found.append(caution("points.few", f"edge '{e.name}'", what, remedy, fit.count, few, "", "geometry"))
        repeats = np.flatnonzero((np.diff(e.xyz, axis=0) == 0).all(axis=1))
        if len(repeats):
            where = f"edge '{e.name}', {e.at(int(repeats[0]) + 1)}"
            what = f"{len(repeats)} points repeat the one before to the last digit, and count twice"
            remedy = "take the second out if the probe was pressed twice"
            found.append(caution("points.repeat", where, what, remedy, len(repeats), 0, "", "geometry"))
        found += _suspect(e, loop.edge(e.name), record.tol, sum(f.count for f in record.edges))
    for c, g in zip(record.corners, loop.edges, strict=True):
        limit = max(0.25 * g.length, 50.0)
        if c.reach > limit:
            what = "the corner lies far from every measured point of its edges"
            remedy = "measure a point nearer to the corner on both edges"
            found.append(caution("points.corner", f"corner '{c.name}'", what, remedy, c.reach, limit))
    return Findings(found)


def _sample(edges: Sequence[Measured]) -> tuple[tuple[Point, float], ...]:
    every = max(1, math.ceil(sum(len(e.xy) for e in edges) / SHOWN))
    return tuple((point(xy), float(z)) for e in edges for xy, z in zip(e.xy[::every], e.heights[::every], strict=True))


def _suspect(e: Measured, g: Edge, tol: float, count: int) -> list[Finding]:
    """Return a caution where one point disagrees with the others of its edge by more than their scatter explains."""
    d = out_of(g, e.xy)
    if g.is_line:
        along = (e.xy - g.start) @ (np.array(g.end) - g.start) / g.chord
        design = np.column_stack((np.ones_like(along), along))
    else:
        design = np.column_stack((np.ones(len(d)), (e.xy - g.centre) / g.radius))
    if len(d) < design.shape[1] + 2:
        return []
    largest, hidden = studentised(d, design, count)
    i = int((np.abs(d) - largest).argmax())
    # A point within half the tolerance does no harm, however well the others agree.
    if abs(d[i]) <= max(largest[i], tol / 2):
        return []
    what = f"this point stands out from the scatter of the others, which would hide up to {hidden[i]:.2f} mm"
    where, value, limit = f"edge '{e.name}', {e.at(i)}", abs(float(d[i])), float(largest[i])
    return [caution("points.suspect", where, what, "measure it again", value, limit, source="least squares")]


def _rms(d: Array) -> float:
    return float(np.sqrt(np.mean(d**2)))
