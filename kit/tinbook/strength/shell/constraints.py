"""Constraints: directions in which nodes cannot move, and the rigid motions that remain free."""

from __future__ import annotations

from typing import Any

import numpy as np

from tinbook.strength.shell.element import Array, Index
from tinbook.values import dataclass


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Held:
    """Directions in which nodes cannot move.

    Parameters
    ----------
    fixed : array (n, 6) of bool
        Unknowns that are zero, in the nodes' own axes.
    skew : array
        Nodes whose axes are not the global ones.
    basis : array (k, 6, 6)
        Columns are the axes of those nodes.
    """

    fixed: Any
    skew: Index
    basis: Array

    def free(self, order: Index) -> Index:
        """Return the free unknowns in the order of elimination."""
        full = (order[:, None] * 6 + np.arange(6)).ravel()
        return np.asarray(full[~self.fixed.ravel()[full]])

    def to_space(self, u: Array) -> Array:
        """Return unknowns (n, 6) of the nodes' own axes in global axes."""
        if len(self.skew):
            u = u.copy()
            u[self.skew] = np.einsum("kij,kj->ki", self.basis, u[self.skew])
        return u

    def from_space(self, f: Array) -> Array:
        """Return values (n, 6) in global axes in the nodes' own."""
        if len(self.skew):
            f = f.copy()
            f[self.skew] = np.einsum("kji,kj->ki", self.basis, f[self.skew])
        return f

    def matrices(self, quads: Index, matrices: Array) -> Array:
        """Return element matrices (m, 24, 24) in the nodes' own axes."""
        if not len(self.skew):
            return matrices
        number = np.full(int(quads.max()) + 1, -1)
        number[self.skew] = np.arange(len(self.skew))
        touched = np.flatnonzero((number[quads] >= 0).any(axis=1))
        q = np.zeros((len(touched), 24, 24))
        for c in range(4):
            which = number[quads[touched, c]]
            block = np.where((which >= 0)[:, None, None], self.basis[which], np.eye(6))
            q[:, 6 * c : 6 * c + 6, 6 * c : 6 * c + 6] = block
        out = matrices.copy()
        out[touched] = q.transpose(0, 2, 1) @ matrices[touched] @ q
        return out


def hold(nodes: int, at: Index, rows: Array) -> Held:
    """Return held directions: node `at[i]` cannot move along `rows[i]`.

    Parameters
    ----------
    nodes : int
        Number of nodes of the mesh.
    at : array (k,)
        Nodes, repeated for several directions.
    rows : array (k, 6)
        Unit direction of displacement (first three) or of rotation (last three).

    Returns
    -------
    Held
    """
    fixed = np.zeros((nodes, 6), dtype=bool)
    plain = np.isclose(np.abs(rows).max(axis=1), 1.0, atol=1e-12)
    skewed = np.zeros(nodes, dtype=bool)
    skewed[at[~plain]] = True
    plain &= ~skewed[at]
    fixed[at[plain], np.argmax(np.abs(rows[plain]), axis=1)] = True
    skew = np.flatnonzero(skewed)
    basis = np.tile(np.eye(6), (len(skew), 1, 1))
    sort = np.argsort(at, kind="stable")
    first, last = np.searchsorted(at[sort], skew), np.searchsorted(at[sort], skew, side="right")
    for k, node in enumerate(skew):
        mine = rows[sort[first[k] : last[k]]]
        for s in (0, 3):
            _, size, vt = np.linalg.svd(np.vstack((mine[:, s : s + 3], np.zeros((3, 3)))))
            basis[k, s : s + 3, s : s + 3] = vt.T
            fixed[node, s : s + 3] = size > 1e-6
    return Held(fixed=fixed, skew=skew, basis=basis)


def rigid_modes(points: Array) -> Array:
    """Return the six rigid motions (n, 6 unknowns, 6 motions) about the middle of the points."""
    p = points - points.mean(axis=0)
    r = np.zeros((len(p), 6, 6))
    r[:, range(6), range(6)] = 1.0
    r[:, 0, 4], r[:, 0, 5] = p[:, 2], -p[:, 1]
    r[:, 1, 3], r[:, 1, 5] = -p[:, 2], p[:, 0]
    r[:, 2, 3], r[:, 2, 4] = p[:, 1], -p[:, 0]
    return r


def free_motions(points: Array, held: Held) -> tuple[str, ...]:
    """Return the rigid motions left free in words: "slide along x", "turn about y through (0, 0, 0)"."""
    r = rigid_modes(points)
    size = max(float(np.ptp(points, axis=0).max()), 1e-9)
    r[:, :3, 3:] /= size
    r[:, 3:, 3:] /= size
    if len(held.skew):
        r[held.skew] = held.basis.transpose(0, 2, 1) @ r[held.skew]
    rows = r.reshape(-1, 6)[held.fixed.ravel()].copy()
    if len(rows):
        gram = rows.T @ rows
        values, vectors = np.linalg.eigh(gram)
        null = vectors[:, values < 1e-9 * max(float(values[-1]), 1.0)].T
    else:
        null = np.eye(6)
    return tuple(_motion(v[:3], v[3:] / size, points.mean(axis=0)) for v in _simple(null))


def rigid_part(points: Array, moves: Array) -> tuple[float, str]:
    """Return how much of displacements (n, 3) is a rigid motion, as a part of their squares, and that motion in words."""
    r = rigid_modes(points)[:, :3].reshape(-1, 6)
    found: Array = np.linalg.lstsq(r, moves.ravel(), rcond=None)[0].astype(np.float64)
    rest = float(((moves.ravel() - r @ found) ** 2).sum()) / max(float((moves**2).sum()), 1e-300)
    return 1.0 - rest, _motion(found[:3], found[3:], points.mean(axis=0))


def _simple(null: Array) -> Array:
    """Return a basis of the same motions with as many zeros as may be (row echelon, largest entries first)."""
    rows = null.copy()
    for k in range(len(rows)):
        i, j = np.unravel_index(np.argmax(np.abs(rows[k:])), rows[k:].shape)
        rows[[k, k + int(i)]] = rows[[k + int(i), k]]
        rows[k] /= rows[k, int(j)]
        for other in range(len(rows)):
            if other != k:
                rows[other] -= rows[other, int(j)] * rows[k]
    return np.where(np.abs(rows) < 1e-6, 0.0, rows)


def _named(v: Array) -> str:
    for k, name in enumerate("xyz"):
        if abs(abs(v[k]) / np.linalg.norm(v) - 1) < 1e-3:
            return name
    return "({:.2g}, {:.2g}, {:.2g})".format(*(v / np.linalg.norm(v)))


def _motion(slide: Array, turn: Array, middle: Array) -> str:
    w2 = float(turn @ turn)
    if w2 < 1e-18:
        return f"slide along {_named(slide)}"
    through = np.round(middle + np.cross(turn, slide) / w2, 3) + 0.0
    return f"turn about {_named(turn)} through ({through[0]:.4g}, {through[1]:.4g}, {through[2]:.4g}) mm"
