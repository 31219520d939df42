"""Joints of plates that cross: half-laps."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Final

from tinbook.errors import BadValue, UnknownName
from tinbook.part.joints import FIT, Plate, Process, notched, slot_width
from tinbook.part.outline import Outline
from tinbook.plane.cuts import beside_edge, crossings, seen_from
from tinbook.plane.loops import Edge
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
    in_a, in_b = _line(a, o, d), _line(b, o, d)
    spans = [_span(a, in_a, me), _span(b, in_b, me)]
    low, high = max(s[0] for s in spans), min(s[1] for s in spans)
    if high - low < 4 * max(a.thickness, b.thickness):
        raise BadValue(
            f"{me} crossing", round(max(high - low, 0.0), 3), "at least four thicknesses of common height, mm"
        )
    middle, fit = (low + high) / 2, FIT[process]
    wa = slot_width(b.thickness + b.extra, a.thickness, angle, fit)
    wb = slot_width(a.thickness + a.extra, b.thickness, angle, fit)
    cut_a = _lap(a, in_a, spans[0][0], middle + SEAT / 2, wa, me)
    cut_b = _lap(b, in_b, spans[1][1], middle - SEAT / 2, wb, me)
    mark_a, mark_b = beside_edge(in_a)(middle + 6.0, wa / 2 + 3), beside_edge(in_b)(middle - 12.0, wb / 2 + 3)
    return (
        replace(a, outline=cut_a, marks=(*a.marks, (mark, mark_a))),
        replace(b, outline=cut_b, marks=(*b.marks, (mark, mark_b))),
    )


def _line(plate: Plate, origin: Vec, direction: Vec) -> Edge:
    """Return the first millimetre of a line in space, in the plate's plane."""
    (x, y, _), (dx, dy, _) = plate.at.local(origin), plate.at.local_vector(direction)
    return Edge((x, y), (x + dx, y + dy))


def _span(plate: Plate, line: Edge, me: str) -> tuple[float, float]:
    """Return where the line enters and leaves a plate's outline, as distances from its start."""
    v = line.direction()
    edges = plate.outline.loop.edges
    hits = [seen_from(line, e.at(s))[0] for e in edges for s in crossings(e, line.start, v)]
    if len(hits) < 2:
        raise BadValue(f"{me} plates", "two plates", "plates whose outlines the common line crosses")
    return min(hits), max(hits)


def _lap(plate: Plate, line: Edge, end: float, to: float, width: float, me: str) -> Outline:
    """Cut a slot of `width` along the line from the outline at `end` to `to`."""
    at, v = beside_edge(line), line.direction()
    for e in (e for e in plate.outline.loop.edges if e.is_line):
        walls = []
        for side in (-width / 2, width / 2):
            mouths = [e.at(s) for s in crossings(e, at(0.0, side), v)]
            walls += [(mouth, at(to, side)) for mouth in mouths if abs(seen_from(line, mouth)[0] - end) < width]
        if len(walls) == 2:
            (w0, d0), (w1, d1) = sorted(walls, key=lambda wall: math.dist(e.start, wall[0]))
            # Half circles into the plate at the bottom's corners, for the cutter's radius.
            floor, ear = Edge(d0, d1), min(1.2, width / 5) / width
            m0, m1 = floor.at(ear), floor.at(1 - ear)
            bottom = (Edge(d0, m0, -1.0), Edge(m0, m1), Edge(m1, d1, -1.0))
            return notched(plate.outline, e.name, (Edge(w0, d0), *bottom, Edge(d1, w1)))
    raise BadValue(f"{me} edge", plate.outline.names, "a straight edge wide enough where the line leaves the outline")
