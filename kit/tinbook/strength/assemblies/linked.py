"""Links that hold both ways: hinges, latches and gas struts as springs between members; what each link bears."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Final

import numpy as np

from tinbook.calc.struts import GasStrut, strut_force
from tinbook.errors import BadValue, UnknownName
from tinbook.making.assembled import Assembled
from tinbook.part.bought import Bought
from tinbook.part.links import GROUND, Hinge, Latch, Strap
from tinbook.part.movement import MovingStrut
from tinbook.strength.assemblies.joint import Other, axes_along, bores_of
from tinbook.strength.assemblies.ties import Spring, Tie, rigid_tie, rim_tie
from tinbook.strength.assemblies.whole import Body, Member, Whole
from tinbook.strength.shell.element import Array
from tinbook.values import dataclass

FIRM: Final = 1e5
"""N/mm: a hinge and a latch, far stiffer than the sheet beside them (own proposal)."""
FAR: Final = 30.0
"""mm: how far the metal that a link is fixed to may lie from it where no hole is named."""
NEAR: Final = 4
"""Nodes of that metal that take it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkForce:
    """What a link bears.

    Parameters
    ----------
    name : str
        "hinge 1 of lid on frame".
    kind : str
        "hinge", "latch", "strut", "strap" or "rubber".
    along : float
        Along its axis: what it pulls its members together by, N; negative where it pushes them apart.
    across : float
        Square to it, N.
    rated : float or None
        What it may bear, N, where that is stated.
    grip : float or None
        Of rubber: what friction holds across it, N.
    slides, lifts : bool
        Whether it slides, or lifts off or tips over, and nothing else stops it.
    """

    name: str
    kind: str
    along: float
    across: float
    rated: float | None = None
    grip: float | None = None
    slides: bool = False
    lifts: bool = False

    @property
    def total(self) -> float:
        """Of the whole force, N."""
        return math.hypot(self.along, self.across)

    @property
    def slack(self) -> bool:
        """Whether it is a strap that pulls nothing."""
        return self.kind == "strap" and self.along <= 0

    @property
    def loose(self) -> str:
        """How it fails to hold, in words; empty where it holds."""
        how = "lifts off or tips over" if self.lifts else "slides" if self.slides else ""
        return f"{self.name}: {how}, and nothing else holds it" if how else ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Linking:
    """A link as a spring.

    Parameters
    ----------
    name, kind : str
    spring : Spring
        Its first side is the link's first member; its axis points from there to the second.
    push : float
        Force that pushes the two apart before anything moves, N: a gas strut's.
    rated : float or None
    """

    name: str
    kind: str
    spring: Spring
    push: float = 0.0
    rated: float | None = None

    def force(self, u: Array) -> LinkForce:
        """Return what it bears under displacements of all unknowns."""
        where, rows = self.spring.rows
        x, y, z = (-self.spring.stiffness * (rows @ u[where]))[:3].tolist()
        return LinkForce(name=self.name, kind=self.kind, along=x - self.push, across=math.hypot(y, z), rated=self.rated)

    def pushes(self, unknowns: int) -> Array:
        """Return the nodal forces (unknowns,) of its push."""
        out = np.zeros(unknowns)
        where, rows = self.spring.rows
        np.add.at(out, where, -self.push * rows[0])
        return out


def linkings(made: Assembled, whole: Whole, temperature: float) -> tuple[Linking, ...]:
    """Return the hinges, latches and struts of an assembly; struts push as they do at a temperature, degrees Celsius."""
    return tuple(_linkings(made, whole, temperature))


def _linkings(made: Assembled, whole: Whole, temperature: float) -> Iterator[Linking]:
    count = dict.fromkeys(("hinge", "latch"), 0)
    for x in made.assembly.links:
        if isinstance(x, Hinge):
            count["hinge"] += 1
            at = np.array(x.at)
            tilt = FIRM * x.width**2 / 12
            spring = between(made, whole, x, at, at, np.array(x.axis), [FIRM, FIRM, FIRM, 0.0, tilt, tilt])
            yield Linking(name=f"hinge {count['hinge']} of {x.a} on {x.b}", kind="hinge", spring=spring, rated=x.rated)
        elif isinstance(x, Latch):
            count["latch"] += 1
            at = np.array(x.at)
            spring = between(made, whole, x, at, at, np.array(x.way), [FIRM, 0.0, 0.0, 0.0, 0.0, 0.0])
            yield Linking(name=f"latch {count['latch']} of {x.a} on {x.b}", kind="latch", spring=spring, rated=x.rated)
        elif isinstance(x, MovingStrut):
            yield _strut(made, whole, x, temperature)


def _strut(made: Assembled, whole: Whole, x: MovingStrut, temperature: float) -> Linking:
    """Return a gas strut as it stands: its push, and how that changes with its length."""
    if not x.a or not x.b:
        raise BadValue(f"strut {x.member}", (x.a, x.b), "the members that its two ends are fixed to, a and b")
    place = made.assembly.member(x.member).at
    at, end = np.array(place.origin), np.array(place(0.0, 0.0, x.length))
    push, rate = _gas(x.strut, x.strut.extended - x.length, temperature)
    spring = between(made, whole, x, at, end, (end - at) / x.length, [rate, 0.0, 0.0, 0.0, 0.0, 0.0])
    return Linking(name=x.member, kind="strut", spring=spring, push=push)


def _gas(strut: GasStrut, compression: float, temperature: float) -> tuple[float, float]:
    """Return a strut's push, N, and by how much it grows with each mm that it is pushed in."""
    low, high = max(compression - 1.0, 0.0), min(compression + 1.0, strut.stroke)
    rise = strut_force(strut, high, temperature) - strut_force(strut, low, temperature)
    return strut_force(strut, compression, temperature), rise / (high - low)


def between(
    made: Assembled,
    whole: Whole,
    link: Hinge | Latch | Strap | MovingStrut,
    at: Array,
    end: Array,
    axis: Array,
    stiffness: Sequence[float],
) -> Spring:
    """Return the spring of a link from a place on its first member to one on its second."""
    holes = () if isinstance(link, Hinge) else link.holes
    first, second = side_of(made, whole, link.a), side_of(made, whole, link.b)
    if isinstance(first, str):
        raise BadValue("link", link.a, "a member that moves; what stands still comes second")
    if holes:
        known = [b.name for m in (first, second) if isinstance(m, Member) for b in bores_of(m, whole)]
        for name in holes:
            if name not in {n.partition(" of ")[0] for n in known}:
                raise UnknownName(f"link: hole of {link.a} or {link.b}", name, known)
    return Spring(
        at=at,
        axes=axes_along(axis),
        stiffness=np.array(stiffness, dtype=np.float64),
        first=_hold(whole, first, at, holes),
        second=None if isinstance(second, str) else _hold(whole, second, end, holes),
    )


def side_of(made: Assembled, whole: Whole, name: str) -> Other:
    """Return the member, the rigid body or the ground that a name stands for."""
    things: list[Member | Body] = [*whole.members, *whole.bodies]
    for thing in things:
        if thing.name == name:
            return thing
    item = None if name == GROUND else made.assembly.member(name).thing
    if item is None or (isinstance(item, Bought) and item.existing):
        return GROUND
    known = [t.name for t in things]
    raise UnknownName("link: member that is no strap and no rubber itself", name, [*known, GROUND])


def _hold(whole: Whole, side: Member | Body, at: Array, holes: Sequence[str]) -> Tie:
    """Return what takes hold of a member at a place: the rims of named holes, else the metal nearest to it."""
    if isinstance(side, Body):
        return rigid_tie(side.node, whole.points[side.node], at)
    rims = [b.nodes for b in bores_of(side, whole) if b.name.partition(" of ")[0] in holes]
    if rims:
        nodes = np.concatenate(rims)
    else:
        away = np.linalg.norm(whole.points[side.nodes] - at, axis=1)
        if away.min() > FAR:
            raise BadValue("link: place", tuple(at.tolist()), f"within {FAR:g} mm of the metal of {side.name}")
        nodes = side.nodes[np.argsort(away)[:NEAR]]
    return rim_tie(whole.points, nodes, at)
