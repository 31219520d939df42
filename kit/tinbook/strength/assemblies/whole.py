"""The members of an assembly as one set of shells, and its bought items as rigid bodies."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import fields
from typing import Any, Final

import numpy as np

from tinbook.errors import BadValue, CannotMake
from tinbook.making.assembled import Assembled
from tinbook.making.made import Made
from tinbook.part.bought import Bought
from tinbook.part.links import Laden
from tinbook.part.movement import MovingStrut
from tinbook.space import Frame
from tinbook.strength.mesh.build import mesh
from tinbook.strength.mesh.quads import Mesh
from tinbook.strength.shell import element as el
from tinbook.strength.shell.element import Array, Index
from tinbook.strength.shell.solve import NotSolved, Pattern, pattern
from tinbook.values import dataclass

ELEMENTS: Final = 5000
"""Elements of an assembly unless a size is asked for: a static answer with frequencies takes seconds."""
SMALLER: Final = (1.0, 0.85, 0.7, 0.55)
"""Sizes tried, as parts of the one wanted."""
SMALL_ITEM: Final = 0.5
"""kg: items of steel below it are fasteners, whose mass hangs on the nearest metal."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Member:
    """A made member in the whole.

    Parameters
    ----------
    name : str
    made : Made
    at : Frame
    mesh : Mesh
        In the member's own axes.
    first : int
        Its first node in the whole.
    quads : slice
        Its elements there.
    """

    name: str
    made: Made
    at: Frame
    mesh: Mesh
    first: int
    quads: slice

    @property
    def nodes(self) -> Index:
        """Its nodes in the whole."""
        return self.first + np.arange(len(self.mesh.points))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Body:
    """A bought item as a rigid body.

    Parameters
    ----------
    name : str
    mass : float
        kg.
    centre : array (3,)
    inertia : array (3, 3)
        About its centre, kg mm².
    node : int
        Its node in the whole.
    """

    name: str
    mass: float
    centre: Array
    inertia: Array
    node: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Whole:
    """Shells and bodies.

    Parameters
    ----------
    members : tuple of Member
    bodies : tuple of Body
    points : array (n + bodies, 3)
        Nodes of the shells, then one for each body; assembly axes, mm.
    quads : array (m, 4)
    elements : Elements
    density : array (m,)
        kg/m³.
    where : Pattern
        Of the shells.
    lumps : tuple of (str, int, float)
        Fasteners: name, nearest node, kg.
    """

    members: tuple[Member, ...]
    bodies: tuple[Body, ...]
    points: Array
    quads: Index
    elements: el.Elements
    density: Array
    where: Pattern
    lumps: tuple[tuple[str, int, float], ...]

    @property
    def unknowns(self) -> int:
        """Six for each node."""
        return 6 * len(self.points)

    def member(self, name: str) -> Member:
        """Return a member by name."""
        return next(m for m in self.members if m.name == name)

    @property
    def mass(self) -> Array:
        """Mass at each node, kg."""
        e = self.elements
        share = np.repeat(e.area * e.thickness * self.density * 1e-9 / 4, 4)
        out = np.bincount(self.quads.ravel(), share, len(self.points)).astype(np.float64)
        for _, node, kg in self.lumps:
            out[node] += kg
        for b in self.bodies:
            out[b.node] += b.mass
        return out


def whole_of(made: Assembled, size: float | None, tell: Callable[[float, str], None]) -> Whole:
    """Mesh the members of an assembly in its own axes.

    Flexible members (straps, rubber) are no shells: straps act as cables, rubber as springs.

    Raises
    ------
    CannotMake
        A part that cannot be made, or no part at all.
    """
    if not made.ok:
        bad = next(p.number for p, m in made.made if not m.ok)
        raise CannotMake(f"an assembly whose part {bad} cannot be made has no mesh: see its findings")
    stiff = [m for m in made.assembly.members if m.kind == "part" and not m.flexible]
    if not stiff:
        raise CannotMake(f"{made.assembly.number}: no part in it is a shell")
    area = sum(made.made_of(m.name).mass / _heavy(made.made_of(m.name)) for m in stiff)
    size = math.sqrt(area / ELEMENTS) if size is None else size
    meshes: dict[str, Mesh] = {}
    members, parts, points, quads, density = [], [], [], [], []
    first = total = 0
    for k, placed in enumerate(stiff):
        one = made.made_of(placed.name)
        number = one.part.number
        if number not in meshes:
            tell(k / len(stiff), f"mesh of {placed.name}")
            meshes[number] = _meshed(one, _fitting(one, size))
        m = meshes[number]
        member = Member(
            name=placed.name, made=one, at=placed.at, mesh=m, first=first, quads=slice(total, total + len(m.quads))
        )
        place = placed.at.points(m.points)
        material = one.sheet.material
        normals = placed.at.vectors(m.normals)
        parts.append(el.build(place[m.quads], m.thickness, material.youngs, material.poisson, normals[m.quads]))
        members.append(member)
        points.append(place)
        quads.append(m.quads + first)
        density.append(np.full(len(m.quads), material.density * _laden(made, member, float(parts[-1].area.sum()))))
        first, total = first + len(place), total + len(m.quads)
    shells = np.concatenate(points)
    bodies: list[Body] = []
    lumps: list[tuple[str, int, float]] = []
    links = made.assembly.links
    struts = {x.member for x in links if isinstance(x, MovingStrut)}
    linked = {name for x in links if not isinstance(x, Laden) for name in (x.a, x.b)}
    for placed in made.assembly.members:
        thing = placed.thing
        if not isinstance(thing, Bought) or thing.existing or placed.flexible or thing.mass <= 0:
            continue
        if placed.name in struts:
            # Half of a strut rides on the end that moves.
            node = int(np.argmin(np.linalg.norm(shells - np.array(placed.at.origin), axis=1)))
            lumps.append((placed.name, node, thing.mass / 2))
            continue
        centre, inertia = _solid_of(*made.mesh(placed.name), thing.mass)
        if thing.mass < SMALL_ITEM and thing.stuff in ("steel", "stainless") and placed.name not in linked:
            node = int(np.argmin(np.linalg.norm(shells - centre, axis=1)))
            lumps.append((placed.name, node, thing.mass))
        else:
            node = first + len(bodies)
            bodies.append(Body(name=placed.name, mass=thing.mass, centre=centre, inertia=inertia, node=node))
    every = np.concatenate(quads)
    return Whole(
        members=tuple(members),
        bodies=tuple(bodies),
        points=np.concatenate((shells, *(b.centre[None] for b in bodies))),
        quads=every,
        elements=_joined(parts),
        density=np.concatenate(density),
        where=pattern(every, first + len(bodies)),
        lumps=tuple(lumps),
    )


def _heavy(made: Made) -> float:
    """Return kg of a square millimetre."""
    return made.thickness * made.sheet.material.density * 1e-9


def _laden(made: Assembled, member: Member, area: float) -> float:
    """Return what a member weighs with all that lies on it, over what its sheet weighs."""
    total = sum(x.mass for x in made.assembly.links if isinstance(x, Laden) and x.a == member.name)
    own = area * _heavy(member.made)
    if total and total < 0.98 * own:
        raise BadValue(f"laden {member.name}", total, f"at least what its sheet weighs, {own:.3g} kg")
    return max(total / own, 1.0)


def _fitting(made: Made, size: float) -> float:
    """Return a size of elements with at least four across the narrow side of the largest panel."""
    boxes = [p.boundary.box for p in made.panels]
    return min(size, max(min(b[2] - b[0], b[3] - b[1]) for b in boxes) / 4)


def _meshed(made: Made, size: float) -> Mesh:
    """Return a mesh; a size at which a panel cannot be divided gives way to smaller ones."""
    for smaller in SMALLER:
        try:
            return mesh(made, smaller * size, fine_rims=False)
        except NotSolved:
            continue
    return mesh(made, size, fine_rims=False)


def _joined(parts: list[el.Elements]) -> el.Elements:
    given: dict[str, Any] = {f.name: np.concatenate([getattr(p, f.name) for p in parts]) for f in fields(el.Elements)}
    return el.Elements(**given)


def _solid_of(points: Array, triangles: Any, mass: float) -> tuple[Array, Array]:
    """Return centre and inertia (kg mm²) of a closed body of even density, from its triangles (tetrahedra to a point)."""
    middle = points.mean(axis=0)
    p = points[triangles] - middle
    volume = np.einsum("ti,ti->t", p[:, 0], np.cross(p[:, 1], p[:, 2])) / 6
    total = float(volume.sum())
    if abs(total) < 1e-9:
        return middle, np.zeros((3, 3))
    centre = np.einsum("t,ti->i", volume, p.sum(axis=1)) / 4 / total
    sums = p.sum(axis=1)
    second = np.einsum("t,ti,tj->ij", volume, sums, sums) + np.einsum("t,tki,tkj->ij", volume, p, p)
    second = second / 20 / total - np.outer(centre, centre)
    return middle + centre, mass * (np.trace(second) * np.eye(3) - second)
