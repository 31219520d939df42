"""A shell model on a mesh: constraints and linear statics.

Units inside: N, mm, tonne, s (so MPa). Every solve first asks whether a rigid
motion is left free; a singular system never becomes a number.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from tinbook.errors import BadValue
from tinbook.strength.shell import element as el
from tinbook.strength.shell import stress
from tinbook.strength.shell.constraints import Held as Held
from tinbook.strength.shell.constraints import free_motions
from tinbook.strength.shell.constraints import hold as hold
from tinbook.strength.shell.element import Array, Index
from tinbook.strength.shell.solve import Factor, NotSolved, Pattern, assemble, elimination_order, factorise, pattern
from tinbook.values import dataclass


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shell:
    """Mesh, elements, sparsity pattern and order of elimination.

    Parameters
    ----------
    points : array (n, 3)
        Nodes, mm.
    quads : array (m, 4)
        Nodes of each element in order round it.
    elements : Elements
    where : Pattern
    order : array
        Nodes in the order of elimination.
    youngs, poisson, density : float
        MPa, -, kg/m³.
    """

    points: Array
    quads: Index
    elements: el.Elements
    where: Pattern
    order: Index
    youngs: float
    poisson: float
    density: float

    @property
    def unknowns(self) -> int:
        """Six for each node."""
        return 6 * len(self.points)

    @property
    def mass(self) -> float:
        """Mass, kg."""
        e = self.elements
        return float((e.area * e.thickness).sum() * self.density * 1e-9)


def shell(
    points: Array,
    quads: Index,
    thickness: Array | float,
    youngs: float,
    poisson: float,
    density: float = 7850.0,
    normals: Array | None = None,
) -> Shell:
    """Return the model of a mesh.

    Parameters
    ----------
    points : array (n, 3)
        Nodes, mm; each must belong to a quad.
    quads : array (m, 4)
        Nodes of each element.
    thickness : array (m,) or float
        mm.
    youngs, poisson, density : float
        MPa, -, kg/m³.
    normals : array (n, 3), optional
        Of the surface that the facets stand for. Where it is curved, stress is then not linear over the thickness.

    Returns
    -------
    Shell

    Raises
    ------
    BadValue
        A quad that is turned in on itself or has no area, a node that hangs on nothing.
    """
    points, quads = np.asarray(points, dtype=np.float64), np.asarray(quads, dtype=np.int64)
    if not np.isfinite(points).all():
        raise BadValue("mesh points", "a value that is not finite", "finite coordinates in mm")
    used = np.zeros(len(points), dtype=bool)
    used[quads] = True
    if not used.all():
        raise BadValue("mesh points", int(np.flatnonzero(~used)[0]), "nodes that each belong to a quad")
    corners = points[quads]
    worst = el.corner_sines(corners)
    if len(worst) == 0 or not (worst > 1e-3).all():
        bad = int(np.argmin(worst)) if len(worst) else 0
        raise BadValue("mesh quads", bad, "convex quads with an area")
    parts = np.broadcast_to(np.asarray(thickness, dtype=np.float64), (len(quads),))
    elements = el.build(corners, parts, youngs, poisson, None if normals is None else normals[quads])
    where = pattern(quads, len(points))
    return Shell(
        points=points,
        quads=quads,
        elements=elements,
        where=where,
        order=elimination_order(points, where),
        youngs=youngs,
        poisson=poisson,
        density=density,
    )


def require_held(model: Shell, held: Held) -> None:
    """Raise BadValue when a rigid motion of the part is left free, naming it."""
    free = free_motions(model.points, held)
    if free:
        raise BadValue("supports", "too few: the part can " + " and ".join(free), "supports that stop every motion")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class System:
    """Stiffness of a model with its supports, factorised."""

    model: Shell
    held: Held
    matrix: Any
    free: Index
    factor: Factor


def stiffness(model: Shell, held: Held) -> Any:
    """Return the stiffness of a model in its nodes' own axes, sparse (6 n, 6 n)."""
    return assemble(model.where, held.matrices(model.quads, el.turned(model.elements.stiffness, model.elements.axes)))


def system(model: Shell, held: Held) -> System:
    """Assemble and factorise; raises BadValue when a rigid motion is free."""
    require_held(model, held)
    matrix = stiffness(model, held)
    free = held.free(model.order)
    return System(model=model, held=held, matrix=matrix, free=free, factor=factorise(matrix, free))


def displaced(s: System, force: Array) -> tuple[Array, Array]:
    """Return displacements (n, 6) and reactions (n, 6) in global axes under forces (n, 6).

    Raises
    ------
    NotSolved
        When the forces that are out of balance do more than 1e-4 of the load's work.
    """
    f = s.held.from_space(force).ravel()
    u = np.zeros(s.model.unknowns)
    u[s.free] = s.factor.lu.solve(f[s.free])
    rest = s.matrix @ u - f
    # In very thin sheet the ratio of membrane to bending stiffness costs digits; one refinement restores them.
    u[s.free] -= s.factor.lu.solve(rest[s.free])
    rest = s.matrix @ u - f
    work, lost = float(u @ f), float(np.abs(u[s.free] * rest[s.free]).sum())
    if not np.isfinite(u).all() or lost > 1e-4 * abs(work) or (work <= 0.0 and f[s.free].any()):
        raise NotSolved("the solution does not balance the load: the part is held too loosely; no number is shown")
    reaction = np.where(s.held.fixed.ravel(), rest, 0.0)
    return s.held.to_space(u.reshape(-1, 6)), s.held.to_space(reaction.reshape(-1, 6))


def lumped_mass(model: Shell, extra: Array | None = None) -> Array:
    """Return the mass at the nodes' unknowns (6 n,), tonnes; rotary inertia t²/12 about every axis.

    Parameters
    ----------
    model : Shell
    extra : array (m,), optional
        Mass that rides on each element without stiffness, kg.
    """
    e, n = model.elements, len(model.points)
    own = el.shared_mass(e, model.density).sum(axis=2)
    rides = 0.0 if extra is None else (extra * 1e-3)[:, None] * own / own.sum(axis=1, keepdims=True)
    nodes = model.quads.ravel()
    push = np.bincount(nodes, (own + rides).ravel(), n)
    turn = np.bincount(nodes, (own * (e.thickness**2 / 12)[:, None]).ravel(), n)
    return np.repeat(np.stack((push, turn), axis=1), 3, axis=1).ravel().astype(np.float64)


def equivalent(model: Shell, displacement: Array) -> tuple[Array, Array]:
    """Return the von Mises stress at the nodes (n,), top and bottom skin, MPa, of a linear answer (n, 6)."""
    e = model.elements
    d = el.to_local(displacement[model.quads].reshape(-1, 8, 3), e.axes)
    return stress.equivalent(e, model.quads, len(model.points), d)


def spread(model: Shell, pressure: Array | float, along: Sequence[float] | None = None) -> Array:
    """Return nodal forces (n, 6) of a pressure on each element, MPa, along its normal or a given direction."""
    e = model.elements
    n = np.stack([el.shape(x, y)[0] for x, y in el.GAUSS])
    share = e.weights @ n * np.broadcast_to(np.asarray(pressure, dtype=np.float64), (len(e),))[:, None]
    direction = e.axes[:, 2] if along is None else np.broadcast_to(np.asarray(along, dtype=np.float64), (len(e), 3))
    force = np.zeros((len(model.points), 6))
    for k in range(3):
        force[:, k] = np.bincount(model.quads.ravel(), (share * direction[:, k : k + 1]).ravel(), len(model.points))
    return force
