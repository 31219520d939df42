"""Faces and edges of a solid and their topology, as plain Python values read once from the kernel."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import field
from typing import Any, NamedTuple

from OCP.BRepTools import BRepTools, BRepTools_WireExplorer
from OCP.TopAbs import TopAbs_EDGE, TopAbs_FACE, TopAbs_FORWARD, TopAbs_REVERSED, TopAbs_VERTEX
from OCP.TopExp import TopExp
from OCP.TopoDS import TopoDS, TopoDS_Iterator
from OCP.TopTools import TopTools_IndexedMapOfShape

from tinbook.read.step.edges import EdgeOf, read_edge
from tinbook.read.step.guard import explored
from tinbook.read.step.surfaces import FaceOf, read_face
from tinbook.space import Vec, negative
from tinbook.values import dataclass


class Coedge(NamedTuple):
    """An edge as one face uses it: run so that the face lies on its left, seen from outside."""

    face: int
    wire: int
    at: int
    edge: int
    forward: bool


@dataclass(slots=True)
class Body:
    """A solid as faces and edges; wires are read when first asked for."""

    shape: Any
    faces: list[FaceOf]
    edges: list[EdgeOf]
    edge_map: Any
    _wires: dict[int, tuple[tuple[Coedge, ...], ...]] = field(default_factory=dict)

    def wires(self, f: int) -> tuple[tuple[Coedge, ...], ...]:
        """Return the wires of a face, each in running order with the face on the left."""
        found = self._wires.get(f)
        if found is None:
            found = self._wires[f] = tuple(_wires(self, f))
        return found

    def coedges(self, f: int) -> Iterator[Coedge]:
        """Return every use of an edge by a face."""
        for w in self.wires(f):
            yield from w

    def across(self, c: Coedge) -> int | None:
        """Return the face on the other side of an edge, None for a seam or a free edge."""
        faces = self.edges[c.edge].faces
        if len(faces) != 2:
            return None
        other = faces[1] if faces[0] == c.face else faces[0]
        return None if other == c.face else other

    def ends(self, c: Coedge) -> tuple[Vec, Vec]:
        """Return start and end point in running sense."""
        e = self.edges[c.edge]
        return (e.p0, e.p1) if c.forward else (e.p1, e.p0)

    def middle(self, c: Coedge) -> tuple[Vec, Vec]:
        """Return the point half way and the unit tangent in running sense."""
        p, d = self.edges[c.edge].middle()
        return p, d if c.forward else negative(d)

    def normals(self, c: Coedge, other: int) -> tuple[Vec, Vec]:
        """Return the outward normals of a coedge's face and of another one, half way along it."""
        p, _ = self.edges[c.edge].middle()
        return self.faces[c.face].normal(p), self.faces[other].normal(p)

    def spread(self, start: Iterable[int], may: Callable[[int], bool], most: int) -> set[int]:
        """Return faces, and those reached from them over edges to faces that `may` be entered; ends at `most`."""
        seen, todo = set(start), list(start)
        while todo and len(seen) < most:
            for c in self.coedges(todo.pop()):
                n = self.across(c)
                if n is not None and n not in seen and may(n):
                    seen.add(n)
                    todo.append(n)
        return seen


def faces_of(shape: Any) -> int:
    """Return the number of a shape's faces."""
    found = TopTools_IndexedMapOfShape()
    TopExp.MapShapes_s(shape, TopAbs_FACE, found)
    return int(found.Extent())


def explore(shape: Any) -> Body:
    """Read a solid's topology and analytic geometry.

    Parameters
    ----------
    shape : TopoDS_Shape
        A solid (or shell); placed as it stands.
    """
    edge_map, face_map, vertex_map = (TopTools_IndexedMapOfShape() for _ in range(3))
    TopExp.MapShapes_s(shape, TopAbs_FACE, face_map)
    TopExp.MapShapes_s(shape, TopAbs_EDGE, edge_map)
    TopExp.MapShapes_s(shape, TopAbs_VERTEX, vertex_map)
    edges = [read_edge(edge_map.FindKey(i + 1), vertex_map) for i in range(edge_map.Extent())]
    faces = _faces(shape, face_map)
    body = Body(shape, faces, edges, edge_map)
    for face in faces:
        for wire in children(face.shape):
            for used in children(wire):
                index = edge_map.FindIndex(used) - 1
                if index >= 0 and edges[index].kind != "none":
                    edges[index].faces.append(face.index)
                    _grow(face, edges[index])
    return body


def children(shape: Any) -> Iterator[Any]:
    """Return what a shape consists of: the wires of a face, the edges of a wire."""
    it = TopoDS_Iterator(shape)
    while it.More():
        yield it.Value()
        it.Next()


def _grow(face: FaceOf, edge: EdgeOf) -> None:
    low, high = face.low, face.high
    points = (edge.p0, edge.p1)
    for k in range(3):
        for p in points:
            low[k] = min(low[k], p[k])
            high[k] = max(high[k], p[k])
        if edge.kind == "circle" and (edge.closed or abs(edge.sweep) > math.pi):
            reach = edge.radius * math.sqrt(max(1.0 - edge.axis[k] ** 2, 0.0))
            low[k] = min(low[k], edge.centre[k] - reach)
            high[k] = max(high[k], edge.centre[k] + reach)


def _faces(shape: Any, face_map: Any) -> list[FaceOf]:
    # The map stores each face with the orientation first met; explore again for the solid's own sense.
    made: dict[int, FaceOf] = {}
    for face in explored(shape, TopAbs_FACE):
        index = face_map.FindIndex(face) - 1
        if index not in made:
            made[index] = read_face(TopoDS.Face_s(face), index, face.Orientation() == TopAbs_REVERSED)
    return [made[i] for i in range(len(made))]


def _wires(body: Body, f: int) -> Iterator[tuple[Coedge, ...]]:
    info = body.faces[f]
    face = TopoDS.Face_s(info.shape.Oriented(TopAbs_FORWARD))
    outer = BRepTools.OuterWire_s(face)
    # The outer wire first.
    wires = sorted((TopoDS.Wire_s(wire) for wire in children(face)), key=lambda wire: not wire.IsSame(outer))
    for w, wire in enumerate(wires):
        run: list[tuple[int, bool]] = []
        ex = BRepTools_WireExplorer(wire, face)
        while ex.More():
            index = body.edge_map.FindIndex(ex.Current()) - 1
            if body.edges[index].kind != "none":
                run.append((index, ex.Current().Orientation() == TopAbs_FORWARD))
            ex.Next()
        run = _complete(body, wire, run)
        if info.reversed:
            run = [(e, not forward) for e, forward in reversed(run)]
        yield tuple(Coedge(f, w, k, e, forward) for k, (e, forward) in enumerate(run))


def _complete(body: Body, wire: Any, run: list[tuple[int, bool]]) -> list[tuple[int, bool]]:
    """Order the wire's edges by their vertices when the kernel's explorer stopped early."""
    used = [(body.edge_map.FindIndex(e) - 1, e.Orientation() == TopAbs_FORWARD) for e in children(wire)]
    every = [(index, forward) for index, forward in used if body.edges[index].kind != "none"]
    if len(every) == len(run):
        return run
    left = list(every)
    ordered = [left.pop(0)]
    while left:
        e, forward = ordered[-1]
        here = body.edges[e].last if forward else body.edges[e].first
        for k, (n, ahead) in enumerate(left):
            if (body.edges[n].first if ahead else body.edges[n].last) == here:
                ordered.append(left.pop(k))
                break
        else:
            return every
    return ordered
