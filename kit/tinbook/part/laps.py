"""Joints of plates that cross or lie on each other: half-laps and locating holes."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Final

from tinbook.errors import BadValue, UnknownName
from tinbook.part.joints import FIT, Plate, Process, notched, slot_width
from tinbook.part.outline import Outline
from tinbook.plane.cuts import contains, crossings, distance
from tinbook.plane.loops import Edge, Point
from tinbook.space import Vec, cross, dot, plus, unit

SEAT: Final = 0.1
"""mm: gap between the bottoms of the two slots of a half-lap."""


def half_lap(a: Plate, b: Plate, *, process: Process = "laser", mark: str = "X") -> tuple[Plate, Plate]:
    """Let two crossing plates into each other, each half way along the line where they cross.

    Parameters
    ----------
    a, b : Plate
        Crossing at 20 to 160 degrees; `a` is cut from the line's start to its middle, `b` from there on.
        The line leaves each outline over a straight edge.
    process : {"laser", "plasma", "waterjet"}
        Decides the play across; in depth they seat with a tenth.
    mark : str
        Match mark.

    Returns
    -------
    (Plate, Plate)

    Raises
    ------
    BadValue
        Plates that do not cross so.
    """
    if process not in FIT:
        raise UnknownName("process", process, FIT)
    me = f"half-lap {mark}"
    line = cross(a.at.z, b.at.z)
    sine = math.hypot(*line)
    if sine < math.sin(math.radians(20.0)):
        raise BadValue(f"{me} angle between plates", round(math.degrees(math.asin(sine)), 3), "20 to 160 degrees")
    d = unit(line)
    if next(v for v in d if abs(v) > 1e-9) < 0:
        d = (-d[0], -d[1], -d[2])
    angle = math.degrees(math.acos(max(-1.0, min(1.0, dot(a.at.z, b.at.z)))))
    # A point on both middle planes.
    na, nb = a.at.z, b.at.z
    ha = dot(na, a.at(0.0, 0.0, a.thickness / 2))
    hb = dot(nb, b.at(0.0, 0.0, b.thickness / 2))
    c = dot(na, nb)
    o = plus(plus((0.0, 0.0, 0.0), na, (ha - hb * c) / (1 - c * c)), nb, (hb - ha * c) / (1 - c * c))
    spans = [_span(p, o, d, me) for p in (a, b)]
    low, high = max(s[0] for s in spans), min(s[1] for s in spans)
    if high - low < 4 * max(a.thickness, b.thickness):
        raise BadValue(
            f"{me} crossing", round(max(high - low, 0.0), 3), "at least four thicknesses of common height, mm"
        )
    middle, fit = (low + high) / 2, FIT[process]
    wa = slot_width(b.thickness + b.extra, a.thickness, angle, fit)
    wb = slot_width(a.thickness + a.extra, b.thickness, angle, fit)
    cut_a = _lap(a, o, d, spans[0][0], middle + SEAT / 2, wa, me)
    cut_b = _lap(b, o, d, spans[1][1], middle - SEAT / 2, wb, me)
    return replace(a, outline=cut_a, marks=(*a.marks, _lap_mark(a, o, d, middle + 6.0, wa, mark))), replace(
        b, outline=cut_b, marks=(*b.marks, _lap_mark(b, o, d, middle - 12.0, wb, mark))
    )


def _in_plate(p: Plate, o: Vec, d: Vec) -> tuple[Point, Point]:
    q, v = p.at.local(o), p.at.local_vector(d)
    return (q[0], q[1]), (v[0], v[1])


def _span(p: Plate, o: Vec, d: Vec, me: str) -> tuple[float, float]:
    """Return where the line enters and leaves a plate's outline, as distances from `o`."""
    q, v = _in_plate(p, o, d)
    hits = []
    for e in p.outline.loop.edges:
        for s in crossings(e, q, v):
            x, y = e.at(s)
            hits.append((x - q[0]) * v[0] + (y - q[1]) * v[1])
    if len(hits) < 2:
        raise BadValue(f"{me} plates", "two plates", "plates whose outlines the common line crosses")
    return min(hits), max(hits)


def _lap(p: Plate, o: Vec, d: Vec, end: float, to: float, width: float, me: str) -> Outline:
    """Cut a slot of `width` along the line from the outline at `end` to `to`."""
    q, v = _in_plate(p, o, d)
    side = (-v[1], v[0])
    for e in p.outline.loop.edges:
        walls = []
        for k in (-0.5, 0.5):
            base = (q[0] + k * width * side[0], q[1] + k * width * side[1])
            on = [s for s in crossings(e, base, v) if e.is_line] if e.is_line else []
            walls += [
                (e.at(s), k) for s in on if abs((e.at(s)[0] - q[0]) * v[0] + (e.at(s)[1] - q[1]) * v[1] - end) < width
            ]
        if len(walls) == 2:
            deep = [
                (q[0] + to * v[0] + k * width * side[0], q[1] + to * v[1] + k * width * side[1]) for k in (-0.5, 0.5)
            ]
            pair = sorted(
                ((w, deep[0] if k < 0 else deep[1]) for w, k in walls), key=lambda wd: math.dist(e.start, wd[0])
            )
            (w0, d0), (w1, d1) = pair
            # Half circles into the plate at the bottom's corners, for the cutter's radius.
            ear = min(1.2, width / 5) / width
            m0 = (d0[0] + ear * (d1[0] - d0[0]), d0[1] + ear * (d1[1] - d0[1]))
            m1 = (d1[0] + ear * (d0[0] - d1[0]), d1[1] + ear * (d0[1] - d1[1]))
            bottom = (Edge(d0, m0, -1.0), Edge(m0, m1), Edge(m1, d1, -1.0))
            return notched(p.outline, e.name, (Edge(w0, d0), *bottom, Edge(d1, w1)))
    raise BadValue(f"{me} edge", p.outline.names, "a straight edge wide enough where the line leaves the outline")


def _lap_mark(p: Plate, o: Vec, d: Vec, at: float, width: float, mark: str) -> tuple[str, Point]:
    q, v = _in_plate(p, o, d)
    side = (-v[1], v[0])
    x, y = q[0] + at * v[0] + (width / 2 + 3) * side[0], q[1] + at * v[1] + (width / 2 + 3) * side[1]
    return mark, (x, y)


def locating_holes(a: Plate, b: Plate, at: tuple[Point, ...], dia: float, *, name: str = "pin") -> tuple[Plate, Plate]:
    """Put the same holes into two plates that lie on each other.

    Parameters
    ----------
    a, b : Plate
        Parallel.
    at : tuple of (float, float)
        Centres in the coordinates of `a`; two or more, so that nothing turns.
    dia : float
        mm: of the pins that the shop has.
    name : str
        Name of the holes.

    Returns
    -------
    (Plate, Plate)

    Raises
    ------
    BadValue
        Plates that are not parallel, fewer than two holes, a hole too near an edge.
    """
    if abs(abs(dot(a.at.z, b.at.z)) - 1) > 1e-9:
        raise BadValue("locating holes plates", "two plates", "plates that are parallel")
    if len(at) < 2:
        raise BadValue("locating holes at", at, "two places or more, so that nothing turns")
    put_a, put_b = list(a.holes), list(b.holes)
    for i, p in enumerate(at, 1):
        q = b.at.local(a.at(*p))
        for plate, centre in ((a, p), (b, (q[0], q[1]))):
            near = min(distance(e, centre) for e in plate.outline.loop.edges)
            if not contains(plate.outline.loop, centre) or near < dia / 2 + plate.thickness / 2:
                raise BadValue(
                    "locating holes at", p, f"{dia / 2 + plate.thickness / 2:g} mm or more inside both plates"
                )
        put_a.append((f"{name} {i}", p, dia))
        put_b.append((f"{name} {i}", (q[0], q[1]), dia))
    return replace(a, holes=tuple(put_a)), replace(b, holes=tuple(put_b))
