"""Develop one face into the plane: planes, cylinders and cones, seen from the skin's outer side."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from OCP.GeomAbs import GeomAbs_C2

from tinbook.plane.loops import Array, Edge, Point
from tinbook.read import curves
from tinbook.read.step.edges import EdgeOf
from tinbook.read.step.faces import Body, Coedge
from tinbook.read.step.surfaces import FaceOf
from tinbook.read.step.vectors import minus, vector
from tinbook.space import Vec, cross, dot
from tinbook.values import dataclass

FIT = 2e-3
"""mm: how far a line or arc may stand off a developed spline."""


@dataclass(frozen=True, slots=True)
class Chart:
    """How a surface becomes flat.

    Parameters
    ----------
    kind : {"plane", "cylinder", "cone"}
        Surface.
    origin, axis, x, y : Vec
        Frame of the surface; for a plane x and y are the flat's own axes, seen from outside.
    scale : float
        Cylinder: radius of the neutral layer, mm, negative on a convex face (the
        flat is seen from outside). Cone: sine of half the opening angle, signed alike.
    shift : float
        Cone: added to the slant distance from the apex to reach the neutral layer, mm.
    """

    kind: str
    origin: Vec
    axis: Vec
    x: Vec
    y: Vec
    scale: float = 1.0
    shift: float = 0.0

    @property
    def turns(self) -> bool:
        """Whether one coordinate is an angle that must be kept unbroken along a wire."""
        return self.kind != "plane"

    def angle(self, p: Vec) -> float:
        """Return the angle of a point about the axis, radians in (-pi, pi]."""
        rel = minus(p, self.origin)
        return math.atan2(dot(rel, self.y), dot(rel, self.x))

    def at(self, p: Vec, turn: float) -> Point:
        """Return the developed point; `turn` is its unbroken angle about the axis in radians."""
        rel = minus(p, self.origin)
        if self.kind == "plane":
            return dot(rel, self.x), dot(rel, self.y)
        along = dot(rel, self.axis)
        if self.kind == "cylinder":
            return along, self.scale * turn
        radial = math.hypot(dot(rel, self.x), dot(rel, self.y))
        slant, a = math.hypot(along, radial) + self.shift, self.scale * turn
        return slant * math.cos(a), slant * math.sin(a)

    def many(self, p: Array, turn: Array) -> Array:
        """Return developed points, shape (n, 2), of points (n, 3)."""
        rel = p - np.array(self.origin)
        x, y = rel @ np.array(self.x), rel @ np.array(self.y)
        if self.kind == "plane":
            return np.column_stack((x, y))
        along = rel @ np.array(self.axis)
        if self.kind == "cylinder":
            return np.column_stack((along, self.scale * turn))
        # A point off the cone comes to lie where the normal through it meets the cone.
        sin, a = abs(self.scale), self.scale * turn
        slant = along * math.sqrt(1.0 - sin * sin) + np.hypot(x, y) * sin + self.shift
        return np.column_stack((slant * np.cos(a), slant * np.sin(a)))


def plane_chart(face: FaceOf) -> Chart:
    """Return the chart of a planar face, seen from outside."""
    n = face.normal(face.origin)
    return Chart("plane", face.origin, n, face.xdir, cross(n, face.xdir))


def bend_chart(face: FaceOf, width: float) -> Chart:
    """Return the chart of a cylindrical face; `width` is the flat's width for a turn of one radian, mm."""
    y = cross(face.axis, face.xdir)
    return Chart("cylinder", face.origin, face.axis, face.xdir, y, -face.sense * width)


def cone_chart(face: FaceOf, thickness: float, k: float) -> Chart:
    """Return the chart of a conical face, its neutral layer k t from the inside."""
    # The neutral layer is a parallel cone: its slant distance grows by the offset times the cotangent.
    offset = k * thickness if face.sense < 0 else -(1.0 - k) * thickness
    y = cross(face.axis, face.xdir)
    s = math.sin(face.half_angle)
    return Chart("cone", face.origin, face.axis, face.xdir, y, -face.sense * s, offset / math.tan(face.half_angle))


def near(angle: float, anchor: float) -> float:
    """Return the angle plus that whole number of turns which brings it nearest to `anchor`."""
    return angle + math.tau * round((anchor - angle) / math.tau)


@dataclass(frozen=True, slots=True)
class Developed:
    """A wire's edges in the chart, one tuple of lines and arcs for each coedge, and the angles at their starts."""

    pieces: tuple[tuple[Edge, ...], ...]
    turns: tuple[float, ...]


def develop_face(body: Body, chart: Chart, f: int, anchor: float | None = None) -> list[Developed]:
    """Develop every wire of a face.

    Parameters
    ----------
    anchor : float, optional
        Angle near which the outer wire's first point lies, radians.
    """
    made: list[Developed] = []
    for wire in body.wires(f):
        start = 0.0
        if chart.turns and wire:
            start = chart.angle(body.ends(wire[0])[0])
            if anchor is not None and not made:
                start = near(start, anchor)
        done = _wire(body, chart, wire, start)
        if made and chart.turns and done.turns:
            # An opening lies within the angles of the outer wire.
            low, high = min(made[0].turns), max(made[0].turns)
            middle = (min(done.turns) + max(done.turns)) / 2
            k = round(((low + high) / 2 - middle) / math.tau)
            if k:
                done = _wire(body, chart, wire, start + k * math.tau)
        made.append(done)
    return made


def _wire(body: Body, chart: Chart, wire: Sequence[Coedge], start: float) -> Developed:
    turn, pieces, turns = start, [], []
    for c in wire:
        turns.append(turn)
        edges, turn = _coedge(body, chart, c, turn)
        pieces.append(tuple(edges))
    return Developed(tuple(pieces), tuple(turns))


def _coedge(body: Body, chart: Chart, c: Coedge, turn: float) -> tuple[list[Edge], float]:
    e = body.edges[c.edge]
    p, q = body.ends(c)
    way = 1.0 if c.forward else -1.0
    if e.kind == "line" and chart.kind == "plane":
        return [Edge(chart.at(p, 0.0), chart.at(q, 0.0))], 0.0
    if e.kind == "line":
        # A straight edge on a cylinder or cone is a ruling: the angle stays.
        return [Edge(chart.at(p, turn), chart.at(q, turn))], turn
    if e.kind == "circle":
        about = dot(e.axis, chart.axis)
        if abs(about) > 1.0 - 1e-9:
            sweep = e.sweep * way * math.copysign(1.0, about)
            if chart.kind == "plane":
                return _arc(chart.at(p, 0.0), chart.at(q, 0.0), e, sweep, chart), 0.0
            end = near(chart.angle(q), turn + sweep)
            if chart.kind == "cylinder":
                return [Edge(chart.at(p, turn), chart.at(q, end))], end
            return _about_apex(chart, p, q, turn, end), end
    points, turned = _samples(chart, e, way, turn)
    flat = chart.many(points, turned)
    flat[0] = chart.at(p, turn)
    end = near(chart.angle(q), float(turned[-1])) if chart.turns else 0.0
    flat[-1] = chart.at(q, end)
    return curves.fit(flat, FIT), end


def _arc(a: Point, b: Point, e: EdgeOf, sweep: float, chart: Chart) -> list[Edge]:
    if abs(sweep) <= 1.5 * math.pi and not e.closed:
        return [Edge(a, b, math.tan(sweep / 4.0))]
    # Near a full circle the chord says little: go by way of the far side.
    cx, cy = chart.at(e.centre, 0.0)
    half = math.atan2(a[1] - cy, a[0] - cx) + sweep / 2.0
    m = (cx + e.radius * math.cos(half), cy + e.radius * math.sin(half))
    bulge = math.tan(sweep / 8.0)
    return [Edge(a, m, bulge), Edge(m, b, bulge)]


def _about_apex(chart: Chart, p: Vec, q: Vec, turn: float, end: float) -> list[Edge]:
    sweep = chart.scale * (end - turn)
    n = 1 if abs(sweep) < 1.5 * math.pi else 2
    stops = [turn + (end - turn) * k / n for k in range(n + 1)]
    # Points between are found from the start by turning alone, since all lie at one slant distance.
    flat = [chart.at(p, s) for s in stops[:-1]] + [chart.at(q, end)]
    return [Edge(flat[i], flat[i + 1], math.tan(sweep / n / 4.0)) for i in range(n)]


def _samples(chart: Chart, e: EdgeOf, way: float, turn: float) -> tuple[Array, Array]:
    spans = max(1, int(e.curve.NbIntervals(GeomAbs_C2)))
    n = min(64 * spans, 4000)
    t = np.linspace(e.t0, e.t1, n + 1) if way > 0 else np.linspace(e.t1, e.t0, n + 1)
    value = e.curve.Value
    points = np.array([vector(p) for p in map(value, t.tolist())])
    if not chart.turns:
        return points, np.zeros(n + 1)
    rel = points - np.array(chart.origin)
    turned = np.unwrap(np.arctan2(rel @ np.array(chart.y), rel @ np.array(chart.x)))
    return points, turned + math.tau * round((turn - turned[0]) / math.tau)
