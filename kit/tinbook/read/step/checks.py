"""Checks of an unfolded part: square cut edges, no overlap, and an area that agrees with the volume."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Any

from OCP.BRepGProp import BRepGProp
from OCP.GProp import GProp_GProps
from shapely import LinearRing, LineString, Polygon, STRtree

from tinbook.plane.loops import Edge, Loop
from tinbook.read.step import develop as dev
from tinbook.read.step.faces import Coedge, faces_of
from tinbook.read.step.outline import Contour
from tinbook.read.step.skins import area_of, outside_radius
from tinbook.read.step.surfaces import FaceOf
from tinbook.read.step.walk import Region, Walk
from tinbook.space import dot

SQUARE = math.sin(math.radians(0.5))
"""A cut edge that leans more than half a degree is not square."""

AREA = 2e-4
"""Relative: a clean part's flat area agrees with its volume better than this."""


def describe(face: FaceOf) -> str:
    """Return a face in words that let the user find it: kind, size and place."""
    if face.low[0] == math.inf:
        return f"face {face.index + 1} ({face.kind})"
    size = " x ".join(f"{h - w:.1f}" for w, h in zip(face.low, face.high, strict=True))
    at = ", ".join(f"{(h + w) / 2:.1f}" for w, h in zip(face.low, face.high, strict=True))
    kind = {"plane": "plane", "cylinder": f"cylinder of radius {face.radius:.3f}", "cone": "cone"}.get(
        face.kind, "doubly curved"
    )
    return f"face {face.index + 1} ({kind}, {size} mm, at {at})"


def leaning(walk: Walk, contours: Iterable[Contour]) -> list[Coedge]:
    """Return the cut edges whose wall does not stand square on the skin; a countersink's cone is not counted."""
    found = []
    for contour in contours:
        for c in contour.coedges:
            kind, other = walk.kinds[c]
            if kind != "wall" or other is None:
                continue
            conical_hole = c.wire > 0 and walk.body.faces[other].kind == "cone"
            if abs(dot(*walk.body.normals(c, other))) > SQUARE and not conical_hole:
                found.append(c)
    return found


def overlaps(outer: Loop) -> bool:
    """Whether the flat covers itself."""
    ring = Polygon(outer.chords(0.05))
    if not ring.is_valid:
        # Lines that only touch in a point or slit are no overlap: shrink and look again.
        if not LinearRing(outer.chords(0.05)).is_simple:
            return bool(abs(ring.buffer(0).area - ring.area) > 1e-3 * abs(ring.area) or _crosses(outer))
    return False


def _crosses(outer: Loop) -> bool:
    points = outer.chords(0.05)
    n = len(points)
    lines = [LineString((points[i], points[(i + 1) % n])) for i in range(n)]
    tree = STRtree(lines)
    for i, j in zip(*tree.query(lines, predicate="crosses"), strict=True):
        if i < j and (j - i) % n not in (1, n - 1):
            return True
    return False


def volume(shape: Any) -> float:
    """Return the volume of a solid, mm³."""
    props = GProp_GProps()
    BRepGProp.VolumeProperties_s(shape, props)
    return float(abs(props.Mass()))


def sized(shape: Any) -> tuple[float, ...]:
    """Return a key that equal solids share wherever they are placed: volume, surface, faces."""
    return *(float(f"{v:.5g}") for v in (volume(shape), area_of(shape))), float(faces_of(shape))


def _area(walk: Walk, r: Region) -> float:
    return _enclosed([e for c in wire for e in walk.pieces[c]] for f in r.faces for wire in walk.body.wires(f))


def _enclosed(runs: Iterable[list[Edge]]) -> float:
    return abs(sum(Loop(tuple(edges)).area for edges in runs if len(edges) > 1))


def _cone_integral(walk: Walk, r: Region) -> float:
    # The developed area grows in proportion to K t: two values of K give the slope.
    t, step = walk.skin.thickness, 0.25
    face = walk.body.faces[r.faces[0]]
    other = dev.cone_chart(face, t, r.k + step)
    runs = (d.pieces for f in r.faces for d in dev.develop_face(walk.body, other, f))
    return (_enclosed([e for p in pieces for e in p] for pieces in runs) - _area(walk, r)) / (step * t)


def mitred(walk: Walk) -> float:
    """Return the volume that sharp outside corners hold beyond a rounded bend, and open ones beyond their panels, mm³."""
    t, extra = walk.skin.thickness, 0.0
    for c, sharp in walk.sharps.items():
        if c not in walk.joined:
            # Met from both sides, so half at a time; outside panels hold the corner twice.
            corner = walk.body.edges[c.edge].span * t**2 * math.tan(math.radians(sharp.angle) / 2) / 2
            extra += corner if sharp.inside else -corner
            continue
        a, b = walk.skin.opposite(c.face), walk.skin.opposite(walk.joined[c].face)
        meet = a is not None and b is not None and any(walk.body.across(e) == b for e in walk.body.coedges(a))
        if meet or not sharp.inside:
            turn, outside = math.radians(sharp.angle), sharp.radius + t
            # Met from both sides, so half at a time.
            extra += walk.body.edges[c.edge].span * outside**2 * (math.tan(turn / 2) - turn / 2) / 2
    return extra


def cornered(walk: Walk) -> float:
    """Return the volume that bends drawn with an outside of another radius hold beyond round ones, mm³."""
    t, extra = walk.skin.thickness, 0.0
    for r in walk.regions:
        if r.move is None or r.kind != "cylinder":
            continue
        radius, turn = outside_radius(walk.skin, r.faces[0]), r.turn[1] - r.turn[0]
        if radius is not None and 0.0 < turn < math.radians(170):
            long_ = _area(walk, r) / (abs(r.chart.scale) * turn)
            # Between an arc and the mould lines it touches lies R² (tan(a/2) - a/2).
            extra += long_ * ((r.radius + t) ** 2 - radius**2) * (math.tan(turn / 2) - turn / 2)
    return extra


def area_expected(walk: Walk, solid_volume: float) -> float:
    """Return the flat area from the volume: V/t + sum of (K - 1/2) t S over the bends.

    Exact for a sheet of constant thickness with square cut edges: the volume is the
    integral of the developed area over the thickness, and that area is linear in depth.
    """
    t = walk.skin.thickness
    area = (solid_volume - mitred(walk) - cornered(walk)) / t
    for r in walk.regions:
        if r.move is not None and r.kind == "cylinder":
            area += (r.k - 0.5) * t * _area(walk, r) / abs(r.chart.scale)
        elif r.move is not None and r.kind == "cone":
            area += (r.k - 0.5) * t * _cone_integral(walk, r)
    for c, sharp in walk.sharps.items():
        if c in walk.joined:
            area += (sharp.k - 0.5) * t * math.radians(sharp.angle) * walk.body.edges[c.edge].span / 2
    return area
