"""What only pushes or only pulls in an assembly, as springs: rubber under a tank or a lid in patches, legs of straps."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any, Final

import numpy as np

from tinbook.calc import fasteners
from tinbook.errors import BadValue
from tinbook.making.assembled import Assembled
from tinbook.part.links import Rubber, Strap
from tinbook.strength.assemblies.joint import axes_along
from tinbook.strength.assemblies.linked import between, side_of
from tinbook.strength.assemblies.surface import nearest, nearest_on_body
from tinbook.strength.assemblies.ties import Spring, Tie, mean_of, rigid_tie
from tinbook.strength.assemblies.whole import Body, Member, Whole
from tinbook.strength.shell.element import Array
from tinbook.values import dataclass

PATCH: Final = 30.0
"""mm: rubber under an item is taken in patches of this size."""
FINE: Final = 10.0
"""mm: least size of those under a lid, whose rim tilts on its seal."""
PATCHES: Final = 300
"""About how many there are at most under a lid."""
SQUARE: Final = 0.98
"""Least cosine of the item's face and the way to it where rubber lies between (own choice; its round corners are faceted)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Face:
    """The side of a bought item, or of a member of sheet, that lies on rubber.

    Parameters
    ----------
    of : Body or Member
    corners : array (m, 3 or 4, 3)
        Its triangles, or its elements.
    half : float
        From there to its metal, mm.
    """

    of: Body | Member
    corners: Array
    half: float

    @classmethod
    def named(cls, made: Assembled, whole: Whole, name: str, known: str) -> Face:
        """Return that of a thing by name."""
        side = side_of(made, whole, name)
        if isinstance(side, Body):
            points, triangles = made.mesh(name)
            return cls(of=side, corners=np.asarray(points)[triangles], half=0.0)
        if isinstance(side, Member):
            return cls(of=side, corners=whole.points[whole.quads[side.quads]], half=side.made.thickness / 2)
        raise BadValue("rubber", name, f"a bought item or a member of sheet that rests on it, of: {known}")

    def near(self, points: Array) -> tuple[Array, Array]:
        """Return where points lie nearest on it, and its normals there."""
        if isinstance(self.of, Body):
            return nearest_on_body(points, self.corners)
        hit = nearest(points, self.corners)
        return hit.place, hit.normal

    def ties(self, whole: Whole, places: Array) -> list[Tie]:
        """Return the motion of places on it."""
        if isinstance(self.of, Body):
            at = self.of.node
            return [rigid_tie(at, whole.points[at], place) for place in places]
        hit = nearest(places, self.corners)
        quads = whole.quads[self.of.quads][hit.quad]
        return [mean_of(nodes, weights) for nodes, weights in zip(quads, hit.weights, strict=True)]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pushes:
    """One-sided springs: the first stiffness of each acts on one side only, the others both ways.

    Parameters
    ----------
    springs : tuple of Spring
        The first side is what rests; the axis points from it to what it presses, or from it along the strap.
    parts : tuple of tuples of Spring
        Of rubber, what each spring is the sum of: one for each node; none of a strap.
    names : tuple of str
        Of the contact that each belongs to.
    sign : array (k,)
        1 where moving along the axis presses (rubber), -1 where it slackens (a strap).
    start : array (k,)
        Force at rest that is stated, N.
    rated : dict
        What each strap bears by name, N, or None.
    grip : dict
        Friction of each rubber by name.
    """

    springs: tuple[Spring, ...]
    parts: tuple[tuple[Spring, ...], ...]
    names: tuple[str, ...]
    sign: Array
    start: Array
    rated: Mapping[str, float | None]
    grip: Mapping[str, float]

    def __len__(self) -> int:
        return len(self.springs)


def pushes_of(made: Assembled, whole: Whole) -> Pushes:
    """Return the one-sided springs that the assembly's rubber and straps stand for."""
    springs: list[Spring] = []
    parts: list[tuple[Spring, ...]] = []
    names: list[str] = []
    sign: list[float] = []
    start: list[float] = []
    rated: dict[str, float | None] = {}
    grip: dict[str, float] = {}
    for link in made.assembly.links:
        if isinstance(link, Rubber):
            where = f": {', '.join(link.panels)}" if link.panels else ""
            new, name = _rubber(made, whole, link), f"{link.a} on {link.b}{where}"
            grip[name] = link.grip
        elif isinstance(link, Strap):
            new, name = [(_leg(made, whole, link), ())], f"strap leg {len(rated) + 1} from {link.a} to {link.b}"
            rated[name] = link.rated
        else:
            continue
        springs += [spring for spring, _ in new]
        parts += [mine for _, mine in new]
        names += [name] * len(new)
        sign += [1.0 if isinstance(link, Rubber) else -1.0] * len(new)
        start += [link.tension if isinstance(link, Strap) else 0.0] * len(new)
    given: dict[str, Any] = {"sign": np.array(sign), "start": np.array(start), "parts": tuple(parts)}
    return Pushes(springs=tuple(springs), names=tuple(names), rated=rated, grip=grip, **given)


def _rubber(made: Assembled, whole: Whole, c: Rubber) -> list[tuple[Spring, tuple[Spring, ...]]]:
    """Return the patches of a rubber, each with what it is made of."""
    known = [*(b.name for b in whole.bodies), *(x.name for x in whole.members)]
    face = Face.named(made, whole, c.a, ", ".join(known))
    m = side_of(made, whole, c.b)
    if not isinstance(m, Member):
        raise BadValue("rubber", c.b, f"a member of sheet, of: {', '.join(x.name for x in whole.members)}")
    quads = whole.quads[m.quads]
    mine = np.concatenate([m.mesh.of(p) for p in c.panels]) if c.panels else np.arange(len(quads))
    middles = whole.points[quads[mine]].mean(axis=1)
    place, normal = face.near(middles)
    far = np.linalg.norm(place - middles, axis=1)
    # Beside the item, off its edges, no rubber lies.
    over = np.abs(np.einsum("ei,ei->e", place - middles, normal)) >= SQUARE * far
    mine = mine[(far <= c.reach + m.made.thickness / 2 + face.half) & over]
    if len(mine) == 0:
        raise BadValue("rubber", c.b, f"a member with metal within {c.reach:g} mm of {c.a}")
    area = np.bincount(quads[mine].ravel(), np.repeat(whole.elements.area[m.quads][mine] / 4, 4), len(whole.points))
    nodes = np.flatnonzero(area)
    place, normal = face.near(whole.points[nodes])
    pressed, sheared = fasteners.rubber_layer(c.hardness, c.thickness)
    stiff = np.array([pressed, *(2 * [sheared if c.grip else 0.0]), 0.0, 0.0, 0.0])
    way = whole.points[nodes] - place
    size = np.linalg.norm(way, axis=1, keepdims=True)
    axis = np.where(size > 1e-9, way / np.maximum(size, 1e-12), normal)
    # Patches of rubber: nodes near each other that face alike share one spring.
    patch = PATCH
    if isinstance(face.of, Member):
        patch = min(max(FINE, math.sqrt(float(area.sum()) / PATCHES)), PATCH)
    key = np.column_stack((np.floor(whole.points[nodes] / patch), np.round(axis))).astype(np.int64)
    _, group = np.unique(key, axis=0, return_inverse=True)
    ties = face.ties(whole, place)
    out = []
    for g in range(int(group.max()) + 1):
        which = np.flatnonzero(group.ravel() == g)
        weights: Array = area[nodes[which]].astype(np.float64)
        along = weights @ axis[which]
        axes, at = axes_along(along / np.linalg.norm(along)), weights @ place[which] / weights.sum()
        parts = tuple(
            Spring(at=place[k], axes=axes, stiffness=stiff * w, first=ties[k], second=mean_of(nodes[[k]], np.ones(1)))
            for k, w in zip(which.tolist(), weights.tolist(), strict=True)
        )
        whole_patch: dict[str, Any] = {
            "first": _mean_tie([p.first for p in parts], weights),
            "second": mean_of(nodes[which], weights),
        }
        out.append((Spring(at=at, axes=axes, stiffness=stiff * float(weights.sum()), **whole_patch), parts))
    return out


def _mean_tie(ties: list[Tie], weights: Array) -> Tie:
    """Return the mean motion of several ties."""
    where = np.unique(np.concatenate([t.where for t in ties]))
    matrix = np.zeros((6, len(where)))
    for t, w in zip(ties, (weights / weights.sum()).tolist(), strict=True):
        np.add.at(matrix.T, np.searchsorted(where, t.where), w * t.matrix.T)
    return Tie(where=where, matrix=matrix)


def about(pushes: Pushes, press: Array, u: Array) -> tuple[tuple[Spring, ...], float]:
    """Return the springs that act in small swings about a state, and the part of the rubber's area that bears in it.

    Parameters
    ----------
    pushes : Pushes
    press : array (k,)
        What each spring bears there, N.
    u : array (unknowns,)
        Displacements there.

    Returns
    -------
    (tuple of Spring, float)
        Straps that pull; rubber as one spring for each node at which it presses: a patch may act in part.
    """
    out: list[Spring] = []
    bears = total = 0.0
    for spring, parts, sign, force in zip(pushes.springs, pushes.parts, pushes.sign, press, strict=True):
        if sign < 0:
            out += [spring] if force > 0 else []
            continue
        total += spring.stiffness[0]
        for part in parts:
            where, rows = part.rows
            if rows[0] @ u[where] > 0:
                bears += part.stiffness[0]
                out.append(part)
    return tuple(out), bears / total if total else 1.0


def _leg(made: Assembled, whole: Whole, c: Strap) -> Spring:
    at, end = np.array(c.at), np.array(c.end)
    axis = (end - at) / np.linalg.norm(end - at)
    return between(made, whole, c, at, end, axis, [c.youngs * c.section / c.length, 0.0, 0.0, 0.0, 0.0, 0.0])
