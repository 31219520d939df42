"""Sparse systems of a shell mesh: assembly by node blocks, an elimination order from the geometry, factors."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy import sparse
from scipy.sparse.linalg import splu

from tinbook.errors import TinbookError
from tinbook.strength.element import Array, Index


class NotSolved(TinbookError, RuntimeError):
    """A system that is singular, or an iteration that does not settle: reported, never shown as a number."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pattern:
    """Where the elements' blocks go in the system.

    Parameters
    ----------
    nodes : int
        Number of nodes.
    order : array
        Sorts the m * 16 blocks of the elements by their place.
    starts : array
        First block of each place in that order.
    indptr, indices : array
        Block rows of the system.
    """

    nodes: int
    order: Index
    starts: Index
    indptr: Index
    indices: Index


def pattern(quads: Index, nodes: int) -> Pattern:
    """Return the pattern of a mesh of quads (m, 4)."""
    rows = np.repeat(quads, 4, axis=1).ravel()
    cols = np.tile(quads, (1, 4)).ravel()
    key = rows * nodes + cols
    order = np.argsort(key, kind="stable")
    ordered = key[order]
    starts = np.flatnonzero(np.concatenate(([True], ordered[1:] != ordered[:-1])))
    place = ordered[starts]
    indptr = np.searchsorted(place // nodes, np.arange(nodes + 1))
    return Pattern(nodes=nodes, order=order, starts=starts, indptr=indptr, indices=place % nodes)


def assemble(where: Pattern, matrices: Array) -> Any:
    """Return the system of element matrices (m, 4 k, 4 k) as sparse rows, k unknowns a node."""
    m, size, _ = matrices.shape
    k = size // 4
    blocks = matrices.reshape(m, 4, k, 4, k).transpose(0, 1, 3, 2, 4).reshape(16 * m, k * k)
    data = np.add.reduceat(blocks[where.order], where.starts, axis=0).reshape(-1, k, k)
    n = where.nodes * k
    return sparse.bsr_array((data, where.indices, where.indptr), shape=(n, n)).tocsr()


def elimination_order(points: Array, where: Pattern, leaf: int = 24) -> Index:
    """Return the nodes in an order that keeps the factor thin: halves first, what parts them last.

    Cuts the cloud of nodes across its longest extent, again and again
    (nested dissection, George 1973); on a sheet that needs no graph library.
    """
    indptr, indices = where.indptr, where.indices
    side = np.zeros(len(points), dtype=np.int8)
    pieces: list[Index] = []

    def cut(nodes: Index) -> None:
        if len(nodes) <= leaf:
            pieces.append(nodes)
            return
        p = points[nodes]
        axis = int(np.argmax(np.ptp(p, axis=0)))
        half = np.argsort(p[:, axis], kind="stable")
        low, high = nodes[half[: len(nodes) // 2]], nodes[half[len(nodes) // 2 :]]
        side[high] = 1
        count = indptr[low + 1] - indptr[low]
        total = int(count.sum())
        flat = np.arange(total) - np.repeat(np.cumsum(count) - count, count) + np.repeat(indptr[low], count)
        touches = np.add.reduceat(side[indices[flat]], np.cumsum(count) - count) > 0
        side[high] = 0
        cut(low[~touches])
        cut(high)
        pieces.append(low[touches])

    cut(np.arange(len(points)))
    return np.concatenate(pieces)


@dataclass(frozen=True, slots=True, kw_only=True)
class Factor:
    """Factors of a symmetric system on its free unknowns."""

    lu: Any
    matrix: Any
    order: Index
    size: int

    def __call__(self, right: Array) -> Array:
        """Return the solution for one or more right-hand sides on the free unknowns."""
        x = self.lu.solve(np.ascontiguousarray(right[self.order]))
        out = np.empty_like(x)
        out[self.order] = x
        return np.asarray(out)

    @property
    def negative(self) -> int:
        """Number of negative pivots: of directions in which the system is unstable."""
        return int((self.lu.U.diagonal() < 0).sum())


def factorise(matrix: Any, order: Index) -> Factor:
    """Return the factors of a symmetric sparse matrix, eliminated in the given order.

    Parameters
    ----------
    matrix : sparse (n, n)
        Symmetric.
    order : array
        The unknowns in the order of elimination.

    Returns
    -------
    Factor

    Raises
    ------
    NotSolved
        When the system is singular.
    """
    a = matrix[order][:, order].tocsc()
    try:
        lu = splu(a, permc_spec="NATURAL", diag_pivot_thresh=0.0, options={"SymmetricMode": True})
    except RuntimeError as error:
        raise NotSolved(f"the stiffness of the part is singular ({error}); no number is shown") from error
    return Factor(lu=lu, matrix=a, order=order, size=a.shape[0])
