"""What only pushes or only pulls in an assembly, as springs: rubber under a tank in patches, legs of straps over it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np

from tinbook.calc import fasteners
from tinbook.errors import BadValue
from tinbook.making.assembled import Assembled
from tinbook.part.links import Rubber, Strap
from tinbook.strength.assemblies.joint import axes_along
from tinbook.strength.assemblies.linked import between, side_of
from tinbook.strength.assemblies.surface import nearest_on_body
from tinbook.strength.assemblies.ties import Spring, Tie, rigid_tie
from tinbook.strength.assemblies.whole import Body, Member, Whole
from tinbook.strength.shell.element import Array, Index

PATCH: Final = 30.0
"""mm: rubber is taken in patches of this size."""
SQUARE: Final = 0.98
"""Least cosine of the item's face and the way to it where rubber lies between (own choice; its round corners are faceted)."""


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
    rated : dict
        What each strap bears by name, N, or None.
    grip : dict
        Friction of each rubber by name.
    """

    springs: tuple[Spring, ...]
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
            new, name = [_leg(made, whole, link)], f"strap leg {len(rated) + 1} from {link.a} to {link.b}"
            rated[name] = link.rated
        else:
            continue
        springs += new
        names += [name] * len(new)
        sign += [1.0 if isinstance(link, Rubber) else -1.0] * len(new)
        start += [link.tension if isinstance(link, Strap) else 0.0] * len(new)
    given = {"sign": np.array(sign), "start": np.array(start)}
    return Pushes(springs=tuple(springs), names=tuple(names), rated=rated, grip=grip, **given)


def _rubber(made: Assembled, whole: Whole, c: Rubber) -> list[Spring]:
    body = side_of(made, whole, c.a)
    if not isinstance(body, Body):
        raise BadValue("rubber", c.a, f"a bought item that rests on it, of: {', '.join(b.name for b in whole.bodies)}")
    m = side_of(made, whole, c.b)
    if not isinstance(m, Member):
        raise BadValue("rubber", c.b, f"a member of sheet, of: {', '.join(x.name for x in whole.members)}")
    quads = whole.quads[m.quads]
    mine = np.concatenate([m.mesh.of(p) for p in c.panels]) if c.panels else np.arange(len(quads))
    points, triangles = made.mesh(c.a)
    body_faces = np.asarray(points)[triangles]
    middles = whole.points[quads[mine]].mean(axis=1)
    place, normal = nearest_on_body(middles, body_faces)
    far = np.linalg.norm(place - middles, axis=1)
    # Beside the item, off its edges, no rubber lies.
    over = np.abs(np.einsum("ei,ei->e", place - middles, normal)) >= SQUARE * far
    mine = mine[(far <= c.reach + m.made.thickness / 2) & over]
    if len(mine) == 0:
        raise BadValue("rubber", c.b, f"a member with metal within {c.reach:g} mm of {c.a}")
    area = np.bincount(quads[mine].ravel(), np.repeat(whole.elements.area[m.quads][mine] / 4, 4), len(whole.points))
    nodes = np.flatnonzero(area)
    place, normal = nearest_on_body(whole.points[nodes], body_faces)
    pressed, sheared = fasteners.rubber_layer(c.hardness, c.thickness)
    stiff = np.array([pressed, sheared, sheared] if c.grip else [pressed, 0.0, 0.0])
    way = whole.points[nodes] - place
    size = np.linalg.norm(way, axis=1, keepdims=True)
    axis = np.where(size > 1e-9, way / np.maximum(size, 1e-12), normal)
    # Patches of rubber: nodes near each other that face alike share one spring.
    key = np.column_stack((np.floor(whole.points[nodes] / PATCH), np.round(axis))).astype(np.int64)
    _, group = np.unique(key, axis=0, return_inverse=True)
    out = []
    for g in range(int(group.max()) + 1):
        which = group.ravel() == g
        weights = area[nodes[which]]
        at = weights @ place[which] / weights.sum()
        along = weights @ axis[which]
        out.append(
            Spring(
                at=at,
                axes=axes_along(along / np.linalg.norm(along)),
                stiffness=np.concatenate((stiff * float(weights.sum()), np.zeros(3))),
                first=rigid_tie(body.node, whole.points[body.node], at),
                second=_mean_move(nodes[which], weights),
            )
        )
    return out


def about(pushes: Pushes, press: Array, u: Array, points: Array) -> tuple[tuple[Spring, ...], float]:
    """Return the springs that act in small swings about a state, and the part of the rubber's area that bears in it.

    Parameters
    ----------
    pushes : Pushes
    press : array (k,)
        What each spring bears there, N.
    u : array (unknowns,)
        Displacements there.
    points : array (n, 3)
        Nodes of the whole.

    Returns
    -------
    (tuple of Spring, float)
        Straps that pull; rubber as one spring for each node at which it presses: a patch may act in part.
    """
    out: list[Spring] = []
    bears = whole = 0.0
    for spring, sign, force in zip(pushes.springs, pushes.sign, press, strict=True):
        if sign < 0:
            out += [spring] if force > 0 else []
            continue
        whole += spring.stiffness[0]
        assert spring.second is not None
        nodes, weights = spring.second.where[::3] // 6, spring.second.matrix[0, ::3]
        item = spring.first.matrix @ u[spring.first.where]
        moves = item[:3] + np.cross(item[3:], points[nodes] - spring.at) - u.reshape(-1, 6)[nodes, :3]
        on = moves @ spring.axes[0] > 0
        item_at, axis = int(spring.first.where[0]) // 6, spring.axes[0]
        high = float((spring.at - weights @ points[nodes]) @ axis)
        for n, w in zip(nodes[on].tolist(), weights[on].tolist(), strict=True):
            bears += w * spring.stiffness[0]
            at = points[n] + high * axis
            sides: dict[str, Any] = {
                "first": rigid_tie(item_at, points[item_at], at),
                "second": _mean_move(np.array([n]), np.ones(1)),
            }
            out.append(replace(spring, at=at, stiffness=w * spring.stiffness, **sides))
    return tuple(out), bears / whole if whole else 1.0


def _mean_move(nodes: Index, weights: Array) -> Tie:
    """Return the mean displacement of nodes; nobody turns it."""
    w = weights / weights.sum()
    matrix = np.zeros((6, 3 * len(nodes)))
    matrix[:3] = np.kron(w, np.eye(3))
    return Tie(where=(6 * nodes[:, None] + np.arange(3)).ravel(), matrix=matrix)


def _leg(made: Assembled, whole: Whole, c: Strap) -> Spring:
    at, end = np.array(c.at), np.array(c.end)
    axis = (end - at) / np.linalg.norm(end - at)
    return between(made, whole, c, at, end, axis, [c.youngs * c.section / c.length, 0.0, 0.0, 0.0, 0.0, 0.0])
