"""Fold the flat back and hold it against the solid: how far each face of the solid stands off it."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection
from typing import Any

import numpy as np
import shapely
from OCP.BRep import BRep_Tool
from OCP.BRepTools import BRepTools
from OCP.BRepTopAdaptor import BRepTopAdaptor_FClass2d
from OCP.gp import gp_Pnt2d
from OCP.TopAbs import TopAbs_OUT
from scipy.spatial import cKDTree
from shapely import Polygon

from tinbook.plane.loops import Array, Loop, Move
from tinbook.read.step import develop as dev
from tinbook.read.step.edges import EdgeOf
from tinbook.read.step.faces import Body
from tinbook.read.step.outline import contours
from tinbook.read.step.surfaces import FaceOf
from tinbook.read.step.vectors import across, minus, unit, vector
from tinbook.read.step.walk import Region, Sharp, Walk
from tinbook.space import Vec, cross, negative, plus
from tinbook.values import dataclass

CHORD = 5e-3
"""mm: chords of the flat's arcs."""

MOST = 4_000_000
"""Points times patches: beyond it points are taken at equal steps, so that a large part costs no more."""

SAME = 1e-5
"""mm: points nearer than this are one corner of the solid."""

INSIDE = 5
"""Points across a face, each way, where its edges do not tell all."""


def near(thickness: float) -> float:
    """Return how far a face may stand off and still lie on the flat, mm."""
    return 0.02 + 0.01 * thickness


@dataclass(frozen=True, slots=True)
class _Patch:
    """A panel, bend or cone of the flat, and how points of space come to lie on it."""

    region: Region
    face: FaceOf
    move: Move
    shape: Any

    def lay(self, p: Array) -> tuple[Array, Array]:
        """Return flat points, shape (n, 2), and depths below the skin, shape (n,)."""
        chart, face = self.region.chart, self.face
        rel = p - np.array(chart.origin)
        x, y = rel @ np.array(chart.x), rel @ np.array(chart.y)
        if chart.kind == "plane":
            flat, depth = np.column_stack((x, y)), -(rel @ np.array(chart.axis))
        else:
            turn, middle = np.arctan2(y, x), (self.region.turn[0] + self.region.turn[1]) / 2
            turn = turn + math.tau * np.round((middle - turn) / math.tau)
            flat, radial = chart.many(p, turn), np.hypot(x, y)
            off = radial - face.radius
            if chart.kind == "cone":
                off = radial * math.cos(face.half_angle) - rel @ np.array(chart.axis) * math.sin(face.half_angle)
            depth = -face.sense * off
        m = self.move
        return flat @ np.array([[m.a, m.c], [m.b, m.d]]) + np.array([m.u, m.v]), depth


@dataclass(frozen=True, slots=True)
class _Corner:
    """The metal about a bend's axis out to its mitre: what a bend drawn sharp outside holds beyond a round one."""

    origin: Vec
    axis: Vec
    x: Vec
    y: Vec
    turn: tuple[float, float]
    along: tuple[float, float]
    radius: float
    reach: float

    def holds(self, p: Array, slack: float) -> Array:
        """Whether each point lies in the corner."""
        rel = p - np.array(self.origin)
        along, x, y = (rel @ np.array(v) for v in (self.axis, self.x, self.y))
        radial, (low, high) = np.hypot(x, y), self.turn
        turn = np.arctan2(y, x)
        turn = turn + math.tau * np.round(((low + high) / 2 - turn) / math.tau)
        beyond = np.maximum(low - turn, turn - high) * np.maximum(radial, slack)
        if high - low < math.radians(150):
            out = np.maximum(radial * np.cos(turn - low), radial * np.cos(high - turn))
        else:
            out = radial
        inside = (radial > self.radius - slack) & (out < self.reach + slack) & (beyond < slack)
        held: Array = inside & (along > self.along[0] - slack) & (along < self.along[1] + slack)
        return held


def stands(
    walk: Walk, blank: Loop, openings: list[Loop], final: Move, *, recut: bool, slanting: Collection[int] = ()
) -> Array:
    """Return how far each face of the solid stands off the folded-back flat, shape (faces,), mm.

    Parameters
    ----------
    walk : Walk
        The skin laid flat.
    blank, openings : Loop
        The flat as it is cut.
    final : Move
        From the walk's plane to the flat's.
    recut : bool
        Whether a pipe's seam was moved, so that only its own chart tells where metal is.
    slanting : collection of int
        Cut edges that do not stand square on the skin. Their border is theirs alone: it stands off the flat by as much
        as they lean, and a neighbour that lies on the flat otherwise is not blamed for it.

    Returns
    -------
    array
        Positive for a face that stands outside the flat's metal, negative for one inside it.
    """
    flat = None if recut else _polygon(blank, openings)
    patches = _patches(walk, flat, final)
    if not patches:
        return np.full(len(walk.body.faces), np.inf)
    points, owner = _samples(walk, len(patches))
    owner = _to_slanting(points, owner, slanting)

    def edge() -> Any:
        if flat is None:
            return shapely.union_all([p.shape for p in patches]).boundary
        # The loops themselves: a slit without width is no boundary of the area.
        rings = [np.vstack((c, c[:1])) for c in (x.chords(CHORD) for x in (blank, *openings))]
        return shapely.multilinestrings([shapely.linestrings(r) for r in rings])

    out, inside = _off(points, patches, edge, walk.skin.thickness)
    slack = near(walk.skin.thickness)
    for corner, square in _corners(walk):
        held = corner.holds(points, slack)
        out[held] = 0.0
        if square:
            inside[held] = 0.0
    worst = np.zeros(len(walk.body.faces))
    signed = np.where(out > inside, out, -inside)
    order = np.argsort(np.abs(signed), kind="stable")
    worst[owner[order]] = signed[order]
    return worst


def _polygon(outer: Loop, holes: list[Loop]) -> Any:
    return Polygon(outer.chords(CHORD), [h.chords(CHORD) for h in holes if len(h.chords(CHORD)) > 2]).buffer(0)


def _patches(walk: Walk, flat: Any, final: Move) -> list[_Patch]:
    made = []
    for r in walk.regions:
        if r.move is None:
            continue
        move = final.after(r.move)
        loops = [c.loop.moved(move) for c in contours(walk, r)]
        shape = shapely.union_all([Polygon(o.chords(CHORD)).buffer(0) for o in loops if o.area > 0])
        if flat is None:
            holes = [Polygon(o.chords(CHORD)).buffer(0) for o in loops if o.area < 0]
            shape = shape.difference(shapely.union_all(holes)) if holes else shape
        else:
            shape = shape.intersection(flat)
        # Where an outline only touches, lines and points come out as well.
        shape = shapely.union_all([p for p in shapely.get_parts(shape) if p.area > 0])
        if shape.area > 0:
            shapely.prepare(shape)
            made.append(_Patch(r, walk.body.faces[r.faces[0]], move, shape))
    return made


def _samples(walk: Walk, patches: int) -> tuple[Array, Any]:
    """Return points that lie truly on the faces, and their faces: along edges, and inside where edges do not tell all."""
    body = walk.body
    points: list[Vec] = []
    owner: list[int] = []
    for e in body.edges:
        for f in e.faces:
            some = _on_edge(e)
            points += some
            owner += [f] * len(some)
    for face in body.faces:
        told = face.index in walk.region_of
        told = told or (face.kind == "plane" and walk.skin.partner(face.index) in walk.region_of)
        if face.kind == "other" or (face.kind == "plane" and not told):
            some = _inside(face) if face.kind == "other" else _inside_plane(body, face)
            points += some
            owner += [face.index] * len(some)
    step = max(1, math.ceil(len(points) * patches / MOST))
    return np.array(points, dtype=np.float64).reshape(-1, 3)[::step], np.array(owner, dtype=np.int64)[::step]


def _to_slanting(points: Array, owner: Any, slanting: Collection[int]) -> Any:
    """Return the owners with the border of slanting faces given to those faces, the ends of edges that meet it too."""
    theirs = np.flatnonzero(np.isin(owner, list(slanting)))
    if not len(theirs):
        return owner
    gap, at = cKDTree(points[theirs]).query(points, distance_upper_bound=SAME)
    return np.where(np.isfinite(gap), owner[theirs[np.minimum(at, len(theirs) - 1)]], owner)


def _on_edge(e: EdgeOf) -> list[Vec]:
    if e.kind == "none":
        return []
    if e.kind == "line":
        return [e.p0, plus(e.p0, minus(e.p1, e.p0), 0.5), e.p1]
    if e.kind == "circle":
        x = minus(e.p0, e.centre)
        y = cross(e.axis, x)
        turns = (e.sweep * k / 4 for k in range(5))
        return [plus(plus(e.centre, x, math.cos(a)), y, math.sin(a)) for a in turns]
    values = (e.curve.Value(e.t0 + (e.t1 - e.t0) * k / 8) for k in range(9))
    return [vector(p) for p in values]


def _inside_plane(body: Body, face: FaceOf) -> list[Vec]:
    """Return points of a grid that lie on a plane face."""
    chart = dev.plane_chart(face)
    wires = [[e for p in d.pieces for e in p] for d in dev.develop_face(body, chart, face.index)]
    rings = [Loop(tuple(w)).chords(CHORD) for w in wires if len(w) > 1]
    rings = [r for r in rings if len(r) > 2]
    if not rings:
        return []
    shape = Polygon(rings[0], rings[1:]).buffer(0)
    if shape.area <= 0:
        return []
    x0, y0, x1, y1 = shape.bounds
    at = (np.arange(INSIDE) + 0.5) / INSIDE
    x, y = (v.ravel() for v in np.meshgrid(x0 + (x1 - x0) * at, y0 + (y1 - y0) * at))
    found = shapely.intersects_xy(shape, x, y)
    one = shape.representative_point()
    flat = [*zip(x[found].tolist(), y[found].tolist(), strict=True), (one.x, one.y)]
    return [plus(plus(chart.origin, chart.x, u), chart.y, v) for u, v in flat]


def _inside(face: FaceOf) -> list[Vec]:
    """Return points of a grid of parameters that lie on a doubly curved face."""
    surface = BRep_Tool.Surface_s(face.shape)
    u0, u1, v0, v1 = BRepTools.UVBounds_s(face.shape)
    within = BRepTopAdaptor_FClass2d(face.shape, 1e-6)
    made = []
    for i in range(INSIDE):
        for j in range(INSIDE):
            u, v = u0 + (u1 - u0) * (i + 0.5) / INSIDE, v0 + (v1 - v0) * (j + 0.5) / INSIDE
            if within.Perform(gp_Pnt2d(u, v)) != TopAbs_OUT:
                made.append(vector(surface.Value(u, v)))
    return made


def _segments(shape: Any) -> Any:
    parts = shapely.get_parts(shape)
    ends = [np.stack((c[:-1], c[1:]), axis=1) for c in (shapely.get_coordinates(p) for p in parts)]
    return shapely.STRtree(shapely.linestrings(np.concatenate(ends)))


def _distance(tree: Any, points: Array) -> Array:
    _, found = tree.query_nearest(shapely.points(points), return_distance=True, all_matches=False)
    return np.asarray(found, dtype=np.float64)


def _off(points: Array, patches: list[_Patch], edge: Callable[[], Any], t: float) -> tuple[Array, Array]:
    """Return the distance outside the sheet, and inside it from its surface, for each point."""
    out, inside = np.full(len(points), np.inf), np.zeros(len(points))
    tree = None
    for patch in patches:
        flat, depth = patch.lay(points)
        beyond = np.maximum(np.maximum(-depth, depth - t), 0.0)
        some = np.flatnonzero(beyond <= out)
        if not len(some):
            continue
        aside = np.zeros(len(some))
        apart = ~shapely.intersects_xy(patch.shape, flat[some, 0], flat[some, 1])
        if apart.any():
            aside[apart] = _distance(_segments(patch.shape.boundary), flat[some[apart]])
        off = np.hypot(beyond[some], aside)
        out[some] = np.minimum(out[some], off)
        within = some[(off < 1e-9) & (np.minimum(depth[some], t - depth[some]) > 1e-3)]
        if len(within):
            deep = np.minimum(depth[within], t - depth[within])
            tree = tree or _segments(edge())
            inside[within] = np.maximum(inside[within], np.minimum(deep, _distance(tree, flat[within])))
    return out, inside


def _corners(walk: Walk) -> list[tuple[_Corner, bool]]:
    """Return the corners of all folds, and whether each is drawn otherwise than round on both sides."""
    t = walk.skin.thickness
    made = [_of_bend(walk, r, t) for r in walk.regions if r.kind == "cylinder" and r.move is not None]
    made += [(_of_sharp(walk, sharp, t, 0.0 if c in walk.joined else t), True) for c, sharp in walk.sharps.items()]
    return made


def _of_bend(walk: Walk, r: Region, t: float) -> tuple[_Corner, bool]:
    face, chart = walk.body.faces[r.faces[0]], r.chart
    low, high = r.turn
    origin, off = chart.origin, 0.0
    if face.sense > 0:
        off = face.radius - (r.radius + t)
        if abs(off) > 1e-6 and high - low < math.radians(170):
            middle, shift = (low + high) / 2, off / math.cos((high - low) / 2)
            origin = plus(origin, chart.x, shift * math.cos(middle))
            origin = plus(origin, chart.y, shift * math.sin(middle))
    along = [p for f in r.faces for c in walk.body.coedges(f) for e in walk.pieces[c] for p in (e.start[0], e.end[0])]
    corner = _Corner(
        origin, chart.axis, chart.x, chart.y, r.turn, (min(along), max(along)), max(r.radius, 0.0), r.radius + t
    )
    return corner, abs(off) > 1e-6 or walk.skin.opposite(face.index) is None


def _of_sharp(walk: Walk, sharp: Sharp, t: float, past: float) -> _Corner:
    # A corner that was cut open holds metal past its ends too, where it meets the third panel.
    c = sharp.coedge
    edge = walk.body.edges[c.edge]
    other = walk.kinds[c][1]
    assert other is not None
    p, d = edge.middle()
    here, there = walk.body.normals(c, other)
    half = math.radians(sharp.angle) / 2
    if sharp.inside:
        x, y, origin = negative(here), negative(there), p
    else:
        x, y = here, there
        origin = plus(p, unit(plus(here, there)), -(sharp.radius + t) / max(math.cos(half), 0.1))
    y = unit(across(y, x))
    axis = cross(x, y) if math.hypot(*cross(x, y)) > 0.5 else d
    span = edge.span / 2 + past
    return _Corner(origin, axis, x, y, (0.0, 2 * half), (-span, span), sharp.radius, sharp.radius + t)
