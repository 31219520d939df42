"""Swept forms of the solid: both skins made of cylinders, tori and spheres."""

from __future__ import annotations

import math

import numpy as np

from tinbook.making.solid import kernel
from tinbook.making.solid.kernel import Shape
from tinbook.making.solid.shell import NOWHERE, SheetSide, SolidShell
from tinbook.part.forms.beadshape import BeadProfile
from tinbook.part.forms.profiles import Swept
from tinbook.plane.loops import Edge, Point
from tinbook.space import Frame, Vec, negative
from tinbook.values import dataclass

RIGHT, LEFT = math.pi, 0.0


@dataclass(slots=True, eq=False)
class _Arc:
    """One arc of a profile: its edge, run from left to right, and the angles at its left and right end."""

    edge: Shape
    shown: Shape
    left: float
    right: float


@dataclass(slots=True, eq=False)
class _Station:
    """A profile across the path on one skin: four points from left to right and the arcs between them."""

    at: Point
    along: Point
    vertices: list[Shape]
    points: list[Vec]
    arcs: list[_Arc]


class _Skin:
    """One skin of a bead: where it lies and how its tubes are set.

    Angles on a tube are counted in the plane across the path, from its left
    side (0) over the sheet's up direction (pi/2) to its right side (pi).
    """

    def __init__(self, profile: BeadProfile, up: bool, frame: Frame, z: float, on_top: bool) -> None:
        self.frame, self.z, self.on_top = frame, z, on_top
        self.sign = 1.0 if up else -1.0
        hollow = on_top != up
        self.half, turn = profile.width / 2, profile.turn_rad
        shoulder, crown = profile.radii(hollow)
        inset, height = profile.joint(hollow)
        quarter = math.pi / 2
        # (offset to the left, height) of the four points and the three tube centres.
        self.offsets = ((self.half, 0.0), (inset, height), (-inset, height), (-self.half, 0.0))
        self.centres = ((self.half, shoulder), (0.0, profile.depth - crown), (-self.half, shoulder))
        self.radii = (shoulder, crown, shoulder)
        self.angles = [
            (self.sign * a, self.sign * b)
            for a, b in (
                (-quarter, -quarter - turn),
                (quarter - turn, quarter + turn),
                (-quarter + turn, -quarter),
            )
        ]

    def level(self, height: float) -> float:
        """Return the panel's z of a height above this skin's flat face."""
        return self.z + self.sign * height

    def place(self, at: Point, along: Point, left: float, height: float) -> Vec:
        """Return a point at an offset to the left of a station."""
        return self.frame(at[0] - along[1] * left, at[1] + along[0] * left, self.level(height))

    def looks_out(self, tube: int) -> bool:
        """Whether a tube's surface, whose normal leaves its centre, looks out of the metal."""
        rises = self.sign > 0
        return (rises if tube == 1 else not rises) == self.on_top

    def station(self, at: Point, along: Point) -> _Station:
        """Make a profile across the path."""
        points = [self.place(at, along, *o) for o in self.offsets]
        vertices = [kernel.vertex(p) for p in points]
        arcs = []
        for k in range(3):
            a, b = self.angles[k]
            i, j = (k, k + 1) if a < b else (k + 1, k)
            centre = self.place(at, along, *self.centres[k])
            edge = kernel.arc(
                vertices[i],
                vertices[j],
                centre,
                self.frame.vector(*along),
                self.frame.vector(-along[1], along[0]),
                self.radii[k],
                min(a, b),
                max(a, b),
            )
            arcs.append(_Arc(edge if a < b else edge.Reversed(), edge, a, b))
        return _Station(at, along, vertices, points, arcs)


def _whole(angle: float, middle: float) -> float:
    """Return the multiple of a turn that brings `middle` into 0..2 pi, added to `angle`."""
    return angle - math.tau * math.floor(middle / math.tau)


def _face(shell: SolidShell, skin: _Skin, surface: object, edges: list[Shape], tube: int) -> None:
    wire = kernel.wire(edges)
    shell.faces.append(kernel.face(surface, [wire if skin.on_top else wire.Reversed()], skin.looks_out(tube)))


def _piece(shell: SolidShell, skin: _Skin, e: Edge, a: _Station, b: _Station) -> list[Shape]:
    """Form the bead along one line or arc of the path; returns the four edges along it, left to right."""
    frame = skin.frame
    turning = 0.0 if e.is_line else math.copysign(1.0, e.bulge)
    axis = frame.z if turning > 0 else negative(frame.z)
    if e.is_line:
        out, sweep, path_radius, middle = (0.0, 0.0, 0.0), 0.0, 0.0, (0.0, 0.0)
        longs = [kernel.line(a.vertices[i], b.vertices[i], a.points[i], b.points[i]) for i in range(4)]
    else:
        # Out from the arc's centre is to the right of a path that turns left.
        out = frame.vector(turning * a.along[1], -turning * a.along[0])
        sweep, path_radius, middle = abs(e.sweep), e.radius, e.centre
        longs = []
        for i, (left, height) in enumerate(skin.offsets):
            centre = frame(*middle, skin.level(height))
            radius = path_radius - turning * left
            longs.append(kernel.arc(a.vertices[i], b.vertices[i], centre, axis, out, radius, 0.0, sweep))
    for k, (left, height) in enumerate(skin.centres):
        first, last = a.arcs[k].left, a.arcs[k].right
        if e.is_line:
            surface = kernel.cylinder(
                skin.place(a.at, a.along, left, height),
                frame.vector(*a.along),
                frame.vector(-a.along[1], a.along[0]),
                skin.radii[k],
            )
            shift = _whole(0.0, (first + last) / 2)
            kernel.put_line(a.arcs[k].shown, surface, (shift, 0.0), (1.0, 0.0))
            kernel.put_line(b.arcs[k].shown, surface, (shift, e.length), (1.0, 0.0))
            for i, angle in ((k, first), (k + 1, last)):
                kernel.put_line(longs[i], surface, (angle + shift, 0.0), (0.0, 1.0))
        else:
            surface = kernel.torus(
                frame(*middle, skin.level(height)), axis, out, path_radius - turning * left, skin.radii[k]
            )
            zero = RIGHT if turning > 0 else LEFT
            shift = _whole(zero, zero - (first + last) / 2)
            kernel.put_line(a.arcs[k].shown, surface, (0.0, shift), (0.0, -1.0))
            kernel.put_line(b.arcs[k].shown, surface, (sweep, shift), (0.0, -1.0))
            for i, angle in ((k, first), (k + 1, last)):
                kernel.put_line(longs[i], surface, (0.0, shift - angle), (1.0, 0.0))
        wire = [longs[k + 1], b.arcs[k].edge.Reversed(), longs[k].Reversed(), a.arcs[k].edge]
        _face(shell, skin, surface, wire, k)
    return longs


def _run_out(shell: SolidShell, skin: _Skin, s: _Station, at_end: bool) -> Shape:
    """Turn half the profile about the path's end; returns the half circle on the flat."""
    frame = skin.frame
    # From the right side over the front to the left at the far end; at the start the other way about.
    u, v = (3, 0) if at_end else (0, 3)
    u1, v1 = (2, 1) if at_end else (1, 2)
    side = -1.0 if at_end else 1.0
    x = frame.vector(-s.along[1] * side, s.along[0] * side)
    ahead = frame.vector(-side * s.along[0], -side * s.along[1])

    def half_circle(i: int, j: int) -> Shape:
        left, height = skin.offsets[i]
        centre = frame(*s.at, skin.level(height))
        return kernel.arc(s.vertices[i], s.vertices[j], centre, frame.z, x, abs(left), 0.0, math.pi)

    outer, inner = half_circle(u, v), half_circle(u1, v1)
    tube = 2 if at_end else 0
    surface = kernel.torus(
        frame(*s.at, skin.level(skin.centres[0][1])), frame.z, x, abs(skin.centres[0][0]), skin.radii[0]
    )
    # On the left side the tube's own angle equals ours, on the right side it runs the other way.
    for k, at_u in ((tube, 0.0), (2 - tube, math.pi)):
        arc = s.arcs[k]
        mean = (arc.left + arc.right) / 2
        if k == 0:
            kernel.put_line(arc.shown, surface, (at_u, _whole(0.0, mean)), (0.0, 1.0))
        else:
            kernel.put_line(arc.shown, surface, (at_u, _whole(math.pi, math.pi - mean)), (0.0, -1.0))
    flat_angle, joint_angle = s.arcs[0].left, s.arcs[0].right
    shift = _whole(0.0, (flat_angle + joint_angle) / 2)
    kernel.put_line(outer, surface, (0.0, flat_angle + shift), (1.0, 0.0))
    kernel.put_line(inner, surface, (0.0, joint_angle + shift), (1.0, 0.0))
    if at_end:
        _face(shell, skin, surface, [outer, s.arcs[0].edge, inner.Reversed(), s.arcs[2].edge], 0)
    else:
        _face(shell, skin, surface, [outer, s.arcs[2].edge.Reversed(), inner.Reversed(), s.arcs[0].edge.Reversed()], 0)
    _cap(shell, skin, s, inner, ahead, x, at_end)
    return outer


def _cap(shell: SolidShell, skin: _Skin, s: _Station, inner: Shape, ahead: Vec, x: Vec, at_end: bool) -> None:
    """Close the crown over a run-out with a piece of a sphere."""
    frame, radius = skin.frame, skin.radii[1]
    front, up, side = np.array(ahead), skin.sign * np.array(frame.z), np.array(x)
    middle = skin.level(skin.centres[1][1])
    # Poles and seam lie outside the cap even when it is a quarter of the sphere.
    pole, zero = (front - up) / math.sqrt(2), -(front + up) / math.sqrt(2)
    surface = kernel.sphere(frame(*s.at, middle), tuple(pole.tolist()), tuple(zero.tolist()), radius)
    third = np.cross(pole, zero)

    def parameters(rays: np.ndarray) -> np.ndarray:
        x, y, z = ((rays * axis).sum(axis=1) for axis in (zero, third, pole))
        return np.column_stack((np.arctan2(y, x) % math.tau, np.arcsin(np.clip(z, -1.0, 1.0))))

    a, b = sorted((s.arcs[1].left, s.arcs[1].right))
    n = 9 + math.ceil((b - a) / 0.1)
    t = np.linspace(a, b, n)[:, None]
    left = np.array(frame.vector(-s.along[1], s.along[0]))
    kernel.put_sampled(s.arcs[1].shown, surface, parameters(np.cos(t) * left + np.sin(t) * np.array(frame.z)), a, b)
    reach, height = skin.offsets[1][0], skin.level(skin.offsets[1][1]) - middle
    t = np.linspace(0.0, math.pi, 41)[:, None]
    rays = (reach * (np.cos(t) * side + np.sin(t) * front) + height * np.array(frame.z)) / radius
    kernel.put_sampled(inner, surface, parameters(rays), 0.0, math.pi)
    crown = s.arcs[1].edge if at_end else s.arcs[1].edge.Reversed()
    _face(shell, skin, surface, [inner, crown], 1)


def _skin_edges(shell: SolidShell, skin: _Skin, path: tuple[Edge, ...]) -> list[Shape]:
    """Form one skin of a bead; returns its outline in the flat, clockwise seen from the up side."""
    stations = [skin.station(path[0].start, path[0].direction(0.0))]
    left, right = [], []
    for e in path:
        stations.append(skin.station(e.end, e.direction(1.0)))
        longs = _piece(shell, skin, e, stations[-2], stations[-1])
        left.append(longs[0])
        right.append(longs[3])
    far, near = _run_out(shell, skin, stations[-1], True), _run_out(shell, skin, stations[0], False)
    return [*left, far.Reversed(), *(r.Reversed() for r in reversed(right)), near.Reversed()]


def swept_sides(shell: SolidShell, form: Swept, frame: Frame) -> list[SheetSide]:
    """Add the faces of a swept form to a body; returns the hole that it leaves in the panel's skins."""
    low = _skin_edges(shell, _Skin(form.section, form.up, frame, 0.0, on_top=False), form.path)
    high = _skin_edges(shell, _Skin(form.section, form.up, frame, shell.thickness, on_top=True), form.path)
    return [SheetSide("", NOWHERE, NOWHERE, a, b) for a, b in zip(low, high, strict=True)]
