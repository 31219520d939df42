"""What only pushes or only pulls in an assembly: rubber under a tank, straps over it. Which act is one problem for all.

Rubber and straps are springs. With all of them acting the assembly is factorised once; those that would pull (rubber) or
push (straps) are taken out by the least-squares problem of `contact.linear`, on the stiffness seen from them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated, Final

import numpy as np

from tinbook.calc import fasteners
from tinbook.errors import BadValue, UnknownName
from tinbook.fields import Number, Text, check_fields
from tinbook.making.assembled import Assembled
from tinbook.space import Vec
from tinbook.strength.assemblies.joint import axes_along, bores_of
from tinbook.strength.assemblies.surface import nearest_on_body
from tinbook.strength.assemblies.system import System
from tinbook.strength.assemblies.ties import Spring, Tie, rigid_tie, rim_tie
from tinbook.strength.assemblies.whole import Body, Whole
from tinbook.strength.contact.linear import BLOCK, lifts
from tinbook.strength.shell.element import Array, Index
from tinbook.strength.shell.solve import NotSolved

PATCH: Final = 30.0
"""mm: rubber is taken in patches of this size."""
STEPS: Final = 8
"""Most steps until the straps have their stated tension at rest."""
EXACT: Final = 1e-3
"""Part of the tension that may be missing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rests:
    """A bought item on rubber in a member: only pressed, never pulled.

    Parameters
    ----------
    item : str
        The bought item ("tank").
    on : str
        The member that it rests in.
    panels : tuple of str
        Panels of the member that carry the rubber; empty for all.
    thickness : float
        Of the rubber in place, mm.
    hardness : float
        Shore A, 20 to 80.
    reach : float
        Nodes of those panels up to this far from the item bear, mm.
    grip : float
        Friction of the rubber: what the item may push along it as a part of what presses it.
    """

    item: Annotated[str, Text()]
    on: Annotated[str, Text()]
    panels: tuple[str, ...] = ()
    thickness: Annotated[float, Number("mm", above=0, most=100)]
    hardness: Annotated[float, Number(least=20, most=80)] = 60.0
    reach: Annotated[float, Number("mm", above=0, most=200)] = 10.0
    grip: Annotated[float, Number(least=0, most=1)] = 0.3

    def __post_init__(self) -> None:
        check_fields(self, "rests")


@dataclass(frozen=True, slots=True, kw_only=True)
class Strapped:
    """One leg of a strap: it pulls a bought item toward a member, and never pushes.

    Parameters
    ----------
    item : str
        The bought item.
    at : (float, float, float)
        Where the strap leaves it, assembly axes, mm.
    to : str
        The member that its end is fixed to, or "ground".
    end : (float, float, float)
        Where, mm.
    holes : tuple of str
        Names of the member's holes that its pin or bolt goes through; empty for the nearest metal.
    tension : float
        At rest, N.
    section : float
        Width times thickness, mm².
    length : float
        Of the strap that gives with this leg, mm.
    youngs : float
        MPa.
    """

    item: Annotated[str, Text()]
    at: Vec
    to: Annotated[str, Text()]
    end: Vec
    holes: tuple[str, ...] = ()
    tension: Annotated[float, Number("N", above=0)]
    section: Annotated[float, Number("mm^2", above=0)]
    length: Annotated[float, Number("mm", above=0)]
    youngs: Annotated[float, Number("MPa", above=0)] = 205e3

    def __post_init__(self) -> None:
        check_fields(self, "strapped")
        for name, p in (("at", self.at), ("end", self.end)):
            if len(p) != 3 or not np.isfinite(np.asarray(p, dtype=np.float64)).all():
                raise BadValue(f"strapped {name}", p, "three finite numbers (x, y, z), mm")
        if float(np.linalg.norm(np.subtract(self.at, self.end))) < 1e-6:
            raise BadValue("strapped end", self.end, "a place away from where the strap leaves the item")


Contact = Rests | Strapped


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pushes:
    """One-sided springs: the first stiffness of each acts on one side only, the others both ways.

    Parameters
    ----------
    springs : tuple of Spring
        The first side is the item; the axis points from it to what it presses, or from it along the strap.
    names : tuple of str
        Of the contact that each belongs to.
    sign : array (k,)
        1 where moving along the axis presses (rubber), -1 where it slackens (a strap).
    start : array (k,)
        Force at rest that is stated, N.
    """

    springs: tuple[Spring, ...]
    names: tuple[str, ...]
    sign: Array
    start: Array

    def __len__(self) -> int:
        return len(self.springs)


def pushes_of(made: Assembled, whole: Whole, contacts: Sequence[Contact]) -> Pushes:
    """Return the one-sided springs that contacts stand for."""
    springs: list[Spring] = []
    names: list[str] = []
    sign: list[float] = []
    start: list[float] = []
    for number, c in enumerate(contacts, 1):
        if isinstance(c, Rests):
            new = _rubber(made, whole, c)
            start += [0.0] * len(new)
        elif isinstance(c, Strapped):
            new = [_leg(whole, c)]
            start.append(c.tension)
        else:
            raise UnknownName("contact", type(c).__name__, ("Rests", "Strapped"))
        springs += new
        names += [f"{c.item} on {c.on}" if isinstance(c, Rests) else f"strap {number} from {c.item} to {c.to}"] * len(
            new
        )
        sign += [1.0 if isinstance(c, Rests) else -1.0] * len(new)
    return Pushes(springs=tuple(springs), names=tuple(names), sign=np.array(sign), start=np.array(start))


def _body(whole: Whole, name: str) -> Body:
    for b in whole.bodies:
        if b.name == name:
            return b
    raise UnknownName("contact: item", name, [b.name for b in whole.bodies])


def _rubber(made: Assembled, whole: Whole, c: Rests) -> list[Spring]:
    body = _body(whole, c.item)
    if c.on not in [m.name for m in whole.members]:
        raise UnknownName("rests on: member", c.on, [m.name for m in whole.members])
    m = whole.member(c.on)
    quads = whole.quads[m.quads]
    mine = np.concatenate([m.mesh.of(p) for p in c.panels]) if c.panels else np.arange(len(quads))
    area = np.bincount(quads[mine].ravel(), np.repeat(whole.elements.area[m.quads][mine] / 4, 4), len(whole.points))
    nodes = np.flatnonzero(area)
    points, triangles = made.mesh(c.item)
    place, normal = nearest_on_body(whole.points[nodes], np.asarray(points)[triangles])
    near = np.linalg.norm(place - whole.points[nodes], axis=1) <= c.reach + m.made.thickness / 2
    if not near.any():
        raise BadValue("rests", c.on, f"a member with metal within {c.reach:g} mm of {c.item}")
    pressed, sheared = fasteners.rubber_layer(c.hardness, c.thickness)
    some = np.flatnonzero(near)
    way = whole.points[nodes[some]] - place[some]
    size = np.linalg.norm(way, axis=1, keepdims=True)
    axis = np.where(size > 1e-9, way / np.maximum(size, 1e-12), normal[some])
    # Patches of rubber: nodes near each other that face alike share one spring.
    key = np.column_stack((np.floor(whole.points[nodes[some]] / PATCH), np.round(axis))).astype(np.int64)
    _, group = np.unique(key, axis=0, return_inverse=True)
    out = []
    for g in range(int(group.max()) + 1):
        mine = some[group.ravel() == g]
        weights = area[nodes[mine]]
        at = weights @ place[mine] / weights.sum()
        along = weights @ axis[group.ravel() == g]
        stiff = np.array([pressed, sheared, sheared, 0.0, 0.0, 0.0]) * float(weights.sum())
        out.append(
            Spring(
                at=at,
                axes=axes_along(along / np.linalg.norm(along)),
                stiffness=stiff,
                first=rigid_tie(body.node, whole.points[body.node], at),
                second=_mean_move(nodes[mine], weights),
            )
        )
    return out


def _mean_move(nodes: Index, weights: Array) -> Tie:
    """Return the mean displacement of nodes; nobody turns it."""
    w = weights / weights.sum()
    matrix = np.zeros((6, 3 * len(nodes)))
    matrix[:3] = np.kron(w, np.eye(3))
    return Tie(where=(6 * nodes[:, None] + np.arange(3)).ravel(), matrix=matrix)


def _leg(whole: Whole, c: Strapped) -> Spring:
    body = _body(whole, c.item)
    at, end = np.array(c.at, dtype=np.float64), np.array(c.end, dtype=np.float64)
    second: Tie | None = None
    if c.to != "ground":
        if c.to not in [m.name for m in whole.members]:
            raise UnknownName("strapped to: member", c.to, [m.name for m in whole.members] + ["ground"])
        m = whole.member(c.to)
        if c.holes:
            rims = [b.nodes for b in bores_of(m, whole) if b.name.partition(" of ")[0] in c.holes]
            if not rims:
                raise UnknownName("strapped holes", c.holes[0], [b.name for b in bores_of(m, whole)])
            nodes = np.concatenate(rims)
        else:
            away = np.linalg.norm(whole.points[m.nodes] - end, axis=1)
            nodes = m.nodes[np.argsort(away)[:4]]
        second = rim_tie(whole.points, nodes, np.ones(len(nodes)), end)
    axis = (end - at) / np.linalg.norm(end - at)
    stiffness = np.array([c.youngs * c.section / c.length, 0.0, 0.0, 0.0, 0.0, 0.0])
    first = rigid_tie(body.node, whole.points[body.node], at)
    return Spring(at=at, axes=axes_along(axis), stiffness=stiffness, first=first, second=second)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Seen:
    """One-sided springs of a factorised assembly, with the compliance seen from them."""

    pushes: Pushes
    system: System
    stiffness: Array
    ties: tuple[tuple[Index, Array], ...]
    moved: Array
    compliance: Array

    @classmethod
    def of(cls, s: System, pushes: Pushes) -> Seen:
        """Return them; one solve for every spring."""
        k = len(pushes)
        rows = np.zeros((s.whole.unknowns, k))
        ties = []
        for j, spring in enumerate(pushes.springs):
            where, matrix = spring.rows
            row = matrix[0] * pushes.sign[j]
            np.add.at(rows[:, j], where, row)
            ties.append((where, row))
        moved = np.zeros_like(rows)
        for a in range(0, k, BLOCK):
            moved[:, a : a + BLOCK] = s.solve(rows[:, a : a + BLOCK], refine=False)
        stiffness = np.array([p.stiffness[0] for p in pushes.springs])
        compliance = np.array([row @ moved[where] for where, row in ties])
        return cls(pushes=pushes, system=s, stiffness=stiffness, ties=tuple(ties), moved=moved, compliance=compliance)

    def gaps(self, u: Array) -> Array:
        """Return how far each spring is pressed (or stretched, for a strap), mm."""
        return np.array([row @ u[where] for where, row in self.ties])

    def settle(self, force: Array, start: Array) -> tuple[Array, Array]:
        """Return displacements (unknowns,) and the springs' forces (k,), N, none below nought.

        Parameters
        ----------
        force : array (unknowns,)
        start : array (k,)
            Force of each spring before anything moves, N.
        """
        k = self.stiffness
        # A spring that acts from the start pulls its sides together.
        u = self.system.solve(force[:, None])[:, 0] - self.moved @ start
        acting = start + k * self.gaps(u)
        seen = np.diag(k) - k[:, None] * self.compliance * k[None, :]
        slack = lifts((seen + seen.T) / 2, acting)
        u = u - self.moved @ (k * slack)
        found = np.where(slack > 0, 0.0, start + k * self.gaps(u))
        if not np.isfinite(u).all():
            raise NotSolved("nothing presses any more: the item comes loose; no number is shown")
        return u, np.maximum(found, 0.0)

    def slides(self, u: Array, found: Array, grip: Mapping[str, float]) -> tuple[str, ...]:
        """Return what comes loose or slides, in words: a strap that is slack, rubber that presses nothing or too little."""
        along: dict[str, Array] = {}
        press: dict[str, float] = {}
        for spring, name, f in zip(self.pushes.springs, self.pushes.names, found.tolist(), strict=True):
            where, rows = spring.rows
            own = -spring.stiffness * (rows @ u[where])
            sheared = own[1] * spring.axes[1] + own[2] * spring.axes[2]
            along[name] = along.get(name, np.zeros(3)) + (sheared if f > 0 else 0.0)
            press[name] = press.get(name, 0.0) + f
        out = []
        for name, total in press.items():
            if total <= 0:
                out.append(f"{name}: slack" if name not in grip else f"{name}: nothing presses")
            elif name in grip and float(np.linalg.norm(along[name])) > grip[name] * total:
                out.append(
                    f"{name}: slides, {np.linalg.norm(along[name]):.3g} N against a grip of {grip[name] * total:.3g} N"
                )
        return tuple(out)

    def at_rest(self, weight: Array) -> tuple[Array, Array, Array]:
        """Return the start forces with which straps have their stated tension under a weight, and that state."""
        wanted = self.pushes.start
        start = wanted.copy()
        straps = np.flatnonzero(wanted > 0)
        u, found = self.settle(weight, start)
        for _ in range(STEPS):
            missing = (wanted - found)[straps]
            if len(straps) == 0 or (np.abs(missing) <= EXACT * wanted[straps]).all():
                return start, u, found
            # How a strap's force answers to its tightening, while what presses keeps pressing and what is open stays so.
            acts = found > 0
            acts[straps] = True
            at = np.flatnonzero(acts)
            k = self.stiffness
            whole = np.eye(len(k))[np.ix_(at, at)] - k[at, None] * self._closed(at)
            place = np.searchsorted(at, straps)
            start[straps] += np.linalg.solve(whole[np.ix_(place, place)], missing)
            u, found = self.settle(weight, start)
        raise NotSolved(
            "the straps cannot be tightened to their tension: what they pull at gives way; no number is shown"
        )

    def _closed(self, at: Index) -> Array:
        """Return the compliance seen from springs that act while all others are open."""
        out = np.setdiff1d(np.arange(len(self.stiffness)), at)
        c = self.compliance
        if len(out) == 0:
            return c[np.ix_(at, at)]
        k = self.stiffness[out]
        inner = np.eye(len(out)) - c[np.ix_(out, out)] * k[None, :]
        return np.asarray(
            c[np.ix_(at, at)] + (c[np.ix_(at, out)] * k[None, :]) @ np.linalg.solve(inner, c[np.ix_(out, at)])
        )
