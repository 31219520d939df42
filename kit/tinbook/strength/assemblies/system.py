"""The stiffness of an assembly: shells, springs and supports in one matrix, factorised once for all load cases."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

import numpy as np
from scipy import sparse

from tinbook.errors import BadValue
from tinbook.strength.assemblies.joint import Connection
from tinbook.strength.assemblies.ties import Spring, stiffness_of_springs
from tinbook.strength.assemblies.whole import Body, Member, Whole
from tinbook.strength.shell import eigen
from tinbook.strength.shell import element as el
from tinbook.strength.shell.constraints import rigid_modes
from tinbook.strength.shell.element import Array, Index
from tinbook.strength.shell.solve import Factor, NotSolved, Pattern, assemble, elimination_order, factorise
from tinbook.values import dataclass

FIRM: Final = 1e3
"""Stiffness of a held unknown over the largest of the shells."""
FREE: Final = 1e-7
"""Part of the stiffest rigid motion below which a rigid motion counts as free."""
LOST: Final = 1e-4
"""Part of a load's work that may go lost."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Held:
    """Unknowns that a support holds.

    Parameters
    ----------
    where : array (k, 6)
        Unknowns of a node.
    rows : array (k, 6)
        Direction held there.
    """

    where: Index
    rows: Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class System:
    """A factorised assembly; `others` is what joints, links and supports add to the stiffness of the shells."""

    whole: Whole
    matrix: Any
    others: Any
    order: Index
    factor: Factor

    def solve(self, force: Array, refine: bool = True) -> Array:
        """Return displacements (unknowns, cases) under forces, with one refinement unless none is wanted."""
        u = np.zeros_like(force)
        rest = force
        for _ in range(2 if refine else 1):
            u[self.order] += self.factor.lu.solve(np.ascontiguousarray(rest[self.order]))
            rest = force - self.matrix @ u
        work = np.abs(np.einsum("ic,ic->c", u, force))
        lost = np.abs(np.einsum("ic,ic->c", u, rest))
        if not np.isfinite(u).all() or (lost > LOST * np.maximum(work, 1e-30)).any():
            raise NotSolved("the solution does not balance the load: a member is held too loosely; no number is shown")
        return u


def system(whole: Whole, joints: Sequence[Connection], held: Sequence[Held], more: Sequence[Spring] = ()) -> System:
    """Assemble and factorise; raises BadValue where a member can move freely, naming it."""
    springs = [s for c in joints for s in c.springs] + list(more)
    require_fixed(whole, springs, held)
    shells = assemble(whole.where, el.turned(whole.elements.stiffness, whole.elements.axes))
    firm = FIRM * float(shells.diagonal().max())
    others = (stiffness_of_springs(springs, whole.unknowns) + _firm(whole, held, firm)).tocsr()
    matrix = (shells + others).tocsr()
    order = (6 * _order(whole, matrix)[:, None] + np.arange(6)).ravel()
    factor = factorise(matrix, order)
    return System(whole=whole, matrix=matrix, others=others, order=order, factor=factor)


def _firm(whole: Whole, held: Sequence[Held], firm: float) -> Any:
    if not held:
        return sparse.csr_array((whole.unknowns, whole.unknowns))
    where = np.concatenate([h.where for h in held])
    rows = np.concatenate([h.rows for h in held])
    block = firm * rows[:, :, None] * rows[:, None, :]
    i, j = np.repeat(where, 6, axis=1).ravel(), np.tile(where, (1, 6)).ravel()
    return sparse.coo_array((block.ravel(), (i, j)), shape=(whole.unknowns, whole.unknowns)).tocsr()


def _order(whole: Whole, matrix: Any) -> Index:
    """Return the nodes in an order of elimination with little fill."""
    n = len(whole.points)
    a = matrix.tocoo()
    near = sparse.coo_array((np.ones(len(a.data)), (a.row // 6, a.col // 6)), shape=(n, n)).tocsr()
    near = (near + sparse.eye_array(n)).tocsr()
    graph = Pattern(nodes=n, gather=None, indptr=near.indptr.astype(np.int64), indices=near.indices.astype(np.int64))
    return elimination_order(whole.points, graph)


def require_fixed(whole: Whole, springs: Sequence[Spring], held: Sequence[Held]) -> None:
    """Raise BadValue where members, taken as rigid, can move without straining a joint or a support."""
    things: list[Member | Body] = [*whole.members, *whole.bodies]
    owner = np.empty(len(whole.points), dtype=np.int64)
    local = np.zeros((len(whole.points), 6, 6))
    for k, t in enumerate(things):
        nodes = t.nodes if isinstance(t, Member) else np.array([t.node])
        owner[nodes] = k
        r = rigid_modes(whole.points[nodes])
        size = max(float(np.ptp(whole.points[nodes], axis=0).max()), 100.0)
        r[:, :, 3:] /= size
        local[nodes] = r
    n = 6 * len(things)
    gram = np.zeros((n, n))

    def add(where: Index, rows: Array) -> None:
        nodes, which = where // 6, where % 6
        seen = np.zeros((len(rows), n))
        for k in np.unique(owner[nodes]).tolist():
            mine = owner[nodes] == k
            seen[:, 6 * k : 6 * k + 6] = rows[:, mine] @ local[nodes[mine], which[mine]]
        nonlocal gram
        gram += seen.T @ seen

    for s in springs:
        where, rows = s.rows
        acts = s.stiffness > 0
        # Turns count by what they move at a hand's breadth.
        scale = np.array([1.0, 1.0, 1.0, 100.0, 100.0, 100.0])
        add(where, (scale[:, None] * rows)[acts])
    for h in held:
        for where, row in zip(h.where, h.rows, strict=True):
            add(where, row[None])
    values, vectors = np.linalg.eigh(gram)
    loose = vectors[:, values < FREE * max(float(values[-1]), 1e-12)]
    if loose.shape[1] == 0:
        return
    moves = np.linalg.norm(loose.reshape(len(things), 6, -1), axis=(1, 2))
    names = [t.name for t, m in zip(things, moves, strict=True) if m > 0.05 * moves.max()]
    raise BadValue(
        "supports and joints",
        f"too few: {', '.join(names[:6])}{' and more' if len(names) > 6 else ''} can move freely "
        f"({loose.shape[1]} rigid motion{'s' if loose.shape[1] > 1 else ''})",
        "welds, bolts or supports that stop every motion of every member",
    )


def frequencies(s: System, count: int) -> tuple[Array, Array]:
    """Return natural frequencies (count,) in Hz and shapes (count, nodes, 6), none below the last missing."""
    w = s.whole
    push = w.mass * 1e-3
    e = w.elements
    share = np.repeat(e.area * e.thickness * w.density * 1e-12 / 4 * e.thickness**2 / 12, 4)
    turn = np.bincount(w.quads.ravel(), share, len(w.points)).astype(np.float64)
    i, j, v = [], [], []
    for b in w.bodies:
        at = 6 * b.node + 3 + np.arange(3)
        i.append(np.repeat(at, 3))
        j.append(np.tile(at, 3))
        v.append((b.inertia * 1e-3).ravel())
    diagonal = np.stack((push,) * 3 + (turn,) * 3, axis=1).ravel()
    mass = sparse.diags_array(diagonal).tocsr()
    if v:
        given = (np.concatenate(v), (np.concatenate(i), np.concatenate(j)))
        mass = (mass + sparse.coo_array(given, shape=mass.shape)).tocsr()
    mf = mass[s.order][:, s.order].tocsc()
    values, vectors = eigen.lowest(s.factor.matrix, mf, s.factor, 0.0, count)
    shapes = np.zeros((count, w.unknowns))
    shapes[:, s.order] = vectors.T
    moves = shapes.reshape(count, -1, 6)
    size = np.linalg.norm(moves[:, :, :3], axis=2).max(axis=1)
    return np.sqrt(np.maximum(values, 0.0)) / (2 * np.pi), moves / np.maximum(size, 1e-30)[:, None, None]
