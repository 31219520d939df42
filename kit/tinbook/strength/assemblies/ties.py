"""Ties and springs: what a joint takes hold of on each side, and the stiffness between the two.

A tie is a linear map from unknowns to the motion of one point: three displacements, three rotations. A spring joins two
ties, or one tie and the ground, by six stiffnesses in its own axes.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from scipy import sparse

from tinbook.strength.carried import mean_tie
from tinbook.strength.shell.element import Array, Index
from tinbook.values import dataclass


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Tie:
    """Motion of a point as a linear map.

    Parameters
    ----------
    where : array (k,)
        Unknowns of the whole.
    matrix : array (6, k)
    """

    where: Index
    matrix: Array


def rim_tie(points: Array, nodes: Index, about: Array, weights: Array | None = None) -> Tie:
    """Return the mean motion of nodes, seen at a point; their own rotations take no part."""
    if weights is None:
        weights = np.ones(len(nodes))
    where = (6 * nodes[:, None] + np.arange(3)).ravel()
    return Tie(where=where, matrix=mean_tie(points[nodes], weights, about))


def surface_tie(points: Array, corners: Index, weights: Array, samples: Array, about: Array) -> Tie:
    """Return the mean motion of samples (s, 3) on a surface, seen at a point.

    Parameters
    ----------
    points : array (n, 3)
        Nodes of the whole.
    corners : array (s, 4)
        Nodes of the element that each sample lies on.
    weights : array (s, 4)
        Of those nodes at the sample.
    samples : array (s, 3)
    about : array (3,)
    """
    nodes, where = np.unique(corners, return_inverse=True)
    spread = np.zeros((len(samples), len(nodes)))
    np.add.at(spread, (np.arange(len(samples))[:, None], where.reshape(corners.shape)), weights)
    matrix = mean_tie(samples, np.ones(len(samples)), about) @ np.kron(spread, np.eye(3))
    return Tie(where=(6 * nodes[:, None] + np.arange(3)).ravel(), matrix=matrix)


def mean_of(nodes: Index, weights: Array) -> Tie:
    """Return the mean displacement of nodes; nobody turns it."""
    w = weights / weights.sum()
    matrix = np.zeros((6, 3 * len(nodes)))
    matrix[:3] = np.kron(w, np.eye(3))
    return Tie(where=(6 * nodes[:, None] + np.arange(3)).ravel(), matrix=matrix)


def rigid_tie(node: int, place: Array, about: Array) -> Tie:
    """Return the motion of a point that hangs rigidly on one node with its six unknowns."""
    matrix = np.eye(6)
    dx, dy, dz = about - place
    matrix[:3, 3:] = [[0.0, dz, -dy], [-dz, 0.0, dx], [dy, -dx, 0.0]]
    return Tie(where=6 * node + np.arange(6), matrix=matrix)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Spring:
    """A joint's stiffness.

    Parameters
    ----------
    at : array (3,)
        Where, mm.
    axes : array (3, 3)
        Rows: its own axes, the first along the joint.
    stiffness : array (6,)
        N/mm along, N mm/rad about them.
    first : Tie
    second : Tie or None
        None for the ground.
    """

    at: Array
    axes: Array
    stiffness: Array
    first: Tie
    second: Tie | None

    @property
    def rows(self) -> tuple[Index, Array]:
        """Unknowns, and the matrix (6, k) from them to how far the first side moves from the second, own axes."""
        turn = np.zeros((6, 6))
        turn[:3, :3] = turn[3:, 3:] = self.axes
        if self.second is None:
            return self.first.where, turn @ self.first.matrix
        both = np.concatenate((self.first.where, self.second.where))
        return both, turn @ np.hstack((self.first.matrix, -self.second.matrix))

    def on_first(self, u: Array) -> tuple[Array, Array]:
        """Return force and moment on the first side under displacements of all unknowns, whole axes, N and N mm."""
        where, rows = self.rows
        own = -self.stiffness * (rows @ u[where])
        force: Array = own[:3] @ self.axes
        moment: Array = own[3:] @ self.axes
        return force, moment


def stiffness_of_springs(springs: Sequence[Spring], unknowns: int) -> Any:
    """Return the stiffness (unknowns, unknowns) that springs add, sparse."""
    i, j, v = [], [], []
    for s in springs:
        where, rows = s.rows
        block = rows.T @ (s.stiffness[:, None] * rows)
        i.append(np.repeat(where, len(where)))
        j.append(np.tile(where, len(where)))
        v.append(block.ravel())
    if not v:
        return sparse.csr_array((unknowns, unknowns))
    given = (np.concatenate(v), (np.concatenate(i), np.concatenate(j)))
    return sparse.coo_array(given, shape=(unknowns, unknowns)).tocsr()
