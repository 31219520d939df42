"""What is skin and what is cut edge: thickness by vote, opposite faces, and the link across each edge."""

from __future__ import annotations

import math
from dataclasses import field
from typing import Any, Literal

import numpy as np
from OCP.BRepGProp import BRepGProp
from OCP.GProp import GProp_GProps

from tinbook.plane.loops import Array
from tinbook.read.step.faces import Body, Coedge
from tinbook.read.step.surfaces import FaceOf
from tinbook.read.step.vectors import across, length, minus
from tinbook.space import Vec, cross, dot
from tinbook.values import dataclass

SMOOTH = math.cos(math.radians(1.5))
"""Faces whose normals differ less than this across an edge run on smoothly."""

VOTERS = 80
"""Largest faces that vote on the thickness: walls of openings never get among them in number."""

LinkKind = Literal["smooth", "sharp in", "sharp out", "wall", "slit", "formed", "seam"]


@dataclass(slots=True)
class Skins:
    """Answers which face lies opposite another, one thickness away through the metal."""

    body: Body
    thickness: float
    slack: float
    _planes: tuple[Array, Array, Array, Array, Array]
    _round: list[FaceOf]
    _partner: dict[int, int | None] = field(default_factory=dict)

    def partner(self, f: int) -> int | None:
        """Return the opposite face, -1 for the outside of a bend that is sharp inside, None if there is none."""
        if f not in self._partner:
            face = self.body.faces[f]
            find = {"plane": self._across_plane, "cylinder": self._coaxial, "cone": self._coaxial}.get(face.kind)
            self._partner[f] = find(face) if find else None
        return self._partner[f]

    def opposite(self, f: int) -> int | None:
        """Return the opposite face, None also where a bend is sharp inside."""
        found = self.partner(f)
        return None if found == -1 else found

    def _across_plane(self, face: FaceOf) -> int | None:
        index, normals, offsets, low, high = self._planes
        n = np.array(face.normal(face.origin))
        depth = offsets + float(n @ np.array(face.origin))
        # An opposite plane has normal -n; its offset along its own normal is -(h - t).
        hit = (normals @ n < -1.0 + 1e-7) & (np.abs(depth - self.thickness) < self.slack)
        if not hit.any():
            return None
        # Seen through the metal both cover the same place: their boxes meet when one is pushed by t.
        push = n * self.thickness
        mine_low, mine_high = np.array(face.low) - push, np.array(face.high) - push
        near = hit & np.all(low <= mine_high + self.slack, axis=1) & np.all(high >= mine_low - self.slack, axis=1)
        if not near.any():
            return None
        overlap = np.minimum(high[near], mine_high) - np.maximum(low[near], mine_low)
        best = int(np.argmax(np.sum(np.maximum(overlap, 0.0), axis=1)))
        return int(index[near][best])

    def _coaxial(self, face: FaceOf) -> int | None:
        t = self.thickness
        if face.kind == "cylinder" and face.sense > 0 and face.radius < t - self.slack:
            return None
        for other in self._round:
            if other.kind == face.kind and abs(_radial_gap(face, other, self.slack) - t) < self.slack:
                if _boxes_meet(face, other, t):
                    return other.index
        if face.kind == "cylinder" and face.sense > 0 and abs(face.radius - t) <= self.slack:
            return -1
        return None


def _boxes_meet(a: FaceOf, b: FaceOf, reach: float) -> bool:
    return all(a.low[k] - reach <= b.high[k] and b.low[k] - reach <= a.high[k] for k in range(3))


def skins(body: Body, thickness: float) -> Skins:
    """Prepare the search for opposite faces."""
    planes = [f for f in body.faces if f.kind == "plane"]
    normals = np.array([f.normal(f.origin) for f in planes]).reshape(-1, 3)
    origins = np.array([f.origin for f in planes]).reshape(-1, 3)
    arrays = (
        np.array([f.index for f in planes], dtype=np.int64),
        normals,
        np.sum(normals * origins, axis=1),
        np.array([f.low for f in planes]).reshape(-1, 3),
        np.array([f.high for f in planes]).reshape(-1, 3),
    )
    rounds = [f for f in body.faces if f.kind in ("cylinder", "cone")]
    return Skins(body, thickness, slack_of(thickness), arrays, rounds)  # type: ignore[arg-type]


def slack_of(thickness: float) -> float:
    """Return how far two skins may stand off the thickness, mm."""
    return 2e-3 + 0.002 * thickness


def votes(body: Body) -> list[tuple[float, float]]:
    """Return (thickness, area that says so) with the largest area first.

    Each of the largest faces names the nearest opposite face behind it; distances
    that agree are added up.
    """
    sized = sorted((f for f in body.faces if f.kind != "other"), key=lambda f: (-f.extent, f.index))[:VOTERS]
    area = {f.index: area_of(f.shape) for f in sized}
    said: list[tuple[float, float]] = []
    for f in sized:
        found = _behind(f, sized, area)
        if found is not None and found[1] > 0:
            said.append(found)
    said.sort()
    heaps: list[list[float]] = []
    for d, w in said:
        if heaps and d - heaps[-1][0] <= slack_of(d):
            mean, total = heaps[-1]
            heaps[-1] = [(mean * total + d * w) / (total + w), total + w]
        else:
            heaps.append([d, w])
    return sorted(((d, w) for d, w in heaps), key=lambda v: (-v[1], v[0]))


def area_of(shape: Any) -> float:
    """Return the kernel's area of a face or of all faces of a solid, mm²."""
    props = GProp_GProps()
    BRepGProp.SurfaceProperties_s(shape, props)
    return abs(float(props.Mass()))


def _behind(f: FaceOf, others: list[FaceOf], area: dict[int, float]) -> tuple[float, float] | None:
    found: list[tuple[float, float]] = []
    n = f.normal(f.origin) if f.kind == "plane" else (0.0, 0.0, 0.0)
    for o in others:
        if o.kind != f.kind or o.index == f.index:
            continue
        if f.kind == "plane":
            if dot(o.normal(o.origin), n) > -1.0 + 1e-7:
                continue
            gap = dot(minus(f.origin, o.origin), n)
        else:
            gap = _radial_gap(f, o, 1e-3)
        if gap < 1e-3 or not _boxes_meet(f, o, gap * 1.001):
            continue
        if f.kind == "plane" and not _overlap_along(f, o, n):
            continue
        found.append((gap, min(area[f.index], area[o.index])))
    # The nearest that counts: the floor of a blind hole lies nearer than the skin beside it, and says little.
    most = max((w for _, w in found), default=0.0)
    return min((v for v in found if v[1] >= 0.25 * most), default=None)


def _radial_gap(f: FaceOf, o: FaceOf, slack: float) -> float:
    """Return the metal between two round faces of one kind about one axis, to a slack; 0 where they are no such pair."""
    parallel, rel = dot(f.axis, o.axis), minus(o.origin, f.origin)
    if o.sense == f.sense or abs(parallel) < 1 - 1e-8 or length(across(rel, f.axis)) > slack:
        return 0.0
    if f.kind == "cylinder":
        return (f.radius - o.radius) * f.sense
    if abs(f.half_angle - o.half_angle) > 1e-6 or parallel < 0:
        return 0.0
    return dot(rel, f.axis) * math.sin(f.half_angle) * f.sense


def _overlap_along(f: FaceOf, o: FaceOf, n: Vec) -> bool:
    """Whether the boxes overlap with some area when both are looked at along n."""
    shared = (min(f.high[k], o.high[k]) - max(f.low[k], o.low[k]) for k in range(3) if abs(n[k]) < 0.7)
    return min(shared) > 1e-6


def link(skin: Skins, c: Coedge) -> tuple[LinkKind, int | None]:
    """Say what lies across an edge of a skin face.

    Returns
    -------
    (kind, face)
        "smooth" runs on in the skin; "sharp in" and "sharp out" are folds
        without a radius on this side (concave, convex); "wall" is a cut
        edge; "formed" leads into something that is neither, or to the cut
        edge of a neighbour (`slits` tells which); "seam" is a face meeting
        itself.
    """
    body = skin.body
    other = body.across(c)
    if other is None:
        return "seam", None
    f, n = body.faces[c.face], body.faces[other]
    straight = body.edges[c.edge].kind == "line"
    here, there = body.normals(c, other)
    if dot(here, there) > SMOOTH:
        if n.kind == "other":
            return ("wall" if _rounds(skin, n) else "formed"), other
        if f.kind == n.kind == "plane" or skin.partner(other) is not None or _loose(skin, other):
            return "smooth", other
        return ("wall" if _rounds(skin, n) else "formed"), other
    inward = dot(there, cross(here, body.middle(c)[1]))
    if n.kind == "other":
        return ("wall" if inward < 0 else "formed"), other
    # Faces that meet back to back are the inside of a flattened hem.
    if inward > 0 or dot(here, there) < -1.0 + 1e-6:
        if straight and n.kind == "plane" and f.kind == "plane":
            return ("sharp in" if skin.partner(other) is not None else "formed"), other
        return "formed", other
    if f.kind == n.kind == "plane" and straight and hollow(skin, c.face, other) is not None:
        return "sharp out", other
    return "wall", other


def _rounds(skin: Skins, face: FaceOf) -> bool:
    """Whether a cylinder or ring takes the burr off a cut edge: convex, and sharper than any bend's outside."""
    return face.kind in ("cylinder", "other") and face.sense > 0 and 0 < face.radius < 0.75 * skin.thickness


def _loose(skin: Skins, f: int) -> bool:
    """Whether a cylinder without an opposite face still bends the skin: it joins two skin planes smoothly.

    A convex one is the outside of a bend only where the planes behind meet too; else
    it rounds the sheet's edge.
    """
    face = skin.body.faces[f]
    planes = _tangent_planes(skin, f) if face.kind == "cylinder" else []
    if len(planes) < 2:
        return False
    return face.sense < 0 or hollow(skin, planes[0], planes[1]) is not None


def _tangent_planes(skin: Skins, f: int) -> list[int]:
    """Return the skin planes into which a cylinder runs smoothly along a straight edge."""
    planes: list[int] = []
    for c in skin.body.coedges(f):
        n, edge = skin.body.across(c), skin.body.edges[c.edge]
        if n is None or edge.kind != "line" or skin.body.faces[n].kind != "plane" or skin.partner(n) is None:
            continue
        if dot(*skin.body.normals(c, n)) > SMOOTH and n not in planes:
            planes.append(n)
    return planes


def hollow(skin: Skins, f: int, other: int) -> float | None:
    """Return the inside radius where the faces opposite two skin planes meet: 0 in an edge, None if they do not."""
    return _corner(skin, f, other, -1.0)


def _corner(skin: Skins, f: int, other: int, sense: float) -> float | None:
    """Return the radius of the corner of the faces opposite two planes, hollow for a sense of -1, convex for 1."""
    body, a, b = skin.body, skin.opposite(f), skin.opposite(other)
    if a is None or b is None:
        return None
    for c in body.coedges(a):
        n = body.across(c)
        if n is None:
            continue
        face, (here, there) = body.faces[n], body.normals(c, n)
        if n == b and sense * dot(there, cross(here, body.middle(c)[1])) < -1e-3:
            return 0.0
        round_ = face.kind == "cylinder" and face.sense == sense and dot(here, there) > SMOOTH
        if round_ and any(body.across(e) == b for e in body.coedges(n)):
            return face.radius
    return None


def inside_radius(skin: Skins, f: int) -> float:
    """Return the inside radius of a bend from either of its faces, also where the two are not concentric."""
    face = skin.body.faces[f]
    if face.sense < 0:
        return face.radius
    opposite = skin.opposite(f)
    if opposite is not None:
        return skin.body.faces[opposite].radius
    planes = _tangent_planes(skin, f)
    found = hollow(skin, planes[0], planes[1]) if len(planes) == 2 else None
    return found if found is not None else max(face.radius - skin.thickness, 0.0)


def outside_radius(skin: Skins, f: int) -> float | None:
    """Return the outside radius of a bend drawn otherwise than concentric: 0 for an edge; None where it is concentric."""
    face = skin.body.faces[f]
    if face.kind != "cylinder" or skin.opposite(f) is not None:
        return None
    if face.sense > 0:
        return face.radius
    planes = _tangent_planes(skin, f)
    return _corner(skin, planes[0], planes[1], 1.0) if len(planes) == 2 else None
