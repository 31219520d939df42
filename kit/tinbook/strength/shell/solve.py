"""Sparse systems of a shell mesh: assembly by node blocks, an elimination order from the geometry, factors."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, Final

import numpy as np
from scipy import sparse
from scipy.sparse.linalg import splu

from tinbook.errors import TinbookError
from tinbook.strength.shell.element import Array, Index
from tinbook.values import dataclass


class NotSolved(TinbookError, RuntimeError):
    """A system that is singular, or an iteration that does not settle: reported, never shown as a number."""


@contextmanager
def solving(why: str) -> Iterator[None]:
    """Raise NotSolved with `why` in place of what a solver raises: its own text says nothing to a user."""
    try:
        yield
    except TinbookError:
        raise
    except MemoryError:
        raise NotSolved("the mesh needs more memory than there is: take larger elements") from None
    except (RuntimeError, ValueError, ArithmeticError, np.linalg.LinAlgError):
        raise NotSolved(why) from None


@dataclass(frozen=True, slots=True, kw_only=True)
class Pattern:
    """Positions of the element blocks in the system matrix.

    Parameters
    ----------
    nodes : int
        Number of nodes.
    gather : sparse (places, 16 m)
        Adds the blocks of the elements by their place.
    indptr, indices : array
        Block rows of the system.
    """

    nodes: int
    gather: Any
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
    rows_of = (np.ones(len(order)), order, np.append(starts, len(order)))
    gather = sparse.csr_array(rows_of, shape=(len(starts), len(order)))
    return Pattern(nodes=nodes, gather=gather, indptr=indptr, indices=place % nodes)


def assemble(where: Pattern, matrices: Array) -> Any:
    """Return the system of element matrices (m, 4 k, 4 k) as sparse rows, k unknowns a node."""
    m, size, _ = matrices.shape
    k = size // 4
    blocks = matrices.reshape(m, 4, k, 4, k).transpose(0, 1, 3, 2, 4).reshape(16 * m, k * k)
    data = (where.gather @ blocks).reshape(-1, k, k)
    n = where.nodes * k
    return sparse.bsr_array((data, where.indices, where.indptr), shape=(n, n)).tocsr()


MIDDLE: Final = 0.3
"""Smallest share of the nodes on either side of a cut."""
LEAF: Final = 12
"""Nodes that are not cut further."""


def elimination_order(points: Array, where: Pattern) -> Index:
    """Return an order of elimination with little fill: both halves first, the nodes that separate them last.

    Cuts the cloud of nodes across again and again (nested dissection, George 1973): across either of its
    two longest extents, at the place where the fewest nodes part the two sides. On a sheet that needs no graph library.
    """
    indptr, indices = where.indptr, where.indices
    rank = np.full(len(points), -1, dtype=np.int64)
    pieces: list[Index] = []

    def cut(nodes: Index) -> None:
        n = len(nodes)
        if n <= LEAF:
            pieces.append(nodes)
            return
        p = points[nodes]
        extent = np.ptp(p, axis=0)
        count = indptr[nodes + 1] - indptr[nodes]
        first = np.cumsum(count) - count
        total = int(first[-1] + count[-1])
        near = indices[np.arange(total) - np.repeat(first, count) + np.repeat(indptr[nodes], count)]
        place = np.arange(max(int(MIDDLE * n), 1), n - max(int(MIDDLE * n), 1) + 1)
        # An uneven cut pays only if it is much shorter.
        even = 1.0 + 2.0 * (2.0 * place / n - 1.0) ** 2
        best, at, mine, far = np.inf, 0, rank, rank
        for axis in np.argsort(-extent)[:2]:
            if extent[axis] < 0.25 * extent.max():
                continue
            own = np.empty(n, dtype=np.int64)
            own[np.argsort(p[:, axis], kind="stable")] = np.arange(n)
            rank[nodes] = own
            reach = np.maximum.reduceat(rank[near], first)
            # A node parts the two sides of every cut from behind itself up to its farthest neighbour.
            change = np.bincount(own + 1, minlength=n + 2) - np.bincount(reach + 1, minlength=n + 2)
            cost = np.cumsum(change)[place] * even
            k = int(np.argmin(cost))
            if cost[k] < best:
                best, at, mine, far = float(cost[k]), int(place[k]), own, reach
        rank[nodes] = -1
        low = mine < at
        parts = low & (far >= at)
        cut(nodes[low & ~parts])
        cut(nodes[~low])
        pieces.append(nodes[parts])

    cut(np.arange(len(points)))
    return np.concatenate(pieces)


@dataclass(frozen=True, slots=True, kw_only=True)
class Factor:
    """Factors of a symmetric system on its free unknowns."""

    lu: Any
    matrix: Any

    @property
    def negative(self) -> int:
        """Number of negative pivots: of directions in which the system is unstable.

        Raises
        ------
        NotSolved
            Rows were exchanged, so that the pivots say nothing (Sylvester's law needs one permutation for both sides).
        """
        if not np.array_equal(self.lu.perm_r, self.lu.perm_c):
            raise NotSolved("the stiffness cannot be factorised without exchanging rows; nothing is counted")
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
    with solving("the stiffness is singular: something can move freely, or is held too loosely; no number is shown"):
        lu = splu(a, permc_spec="NATURAL", diag_pivot_thresh=0.0, options={"SymmetricMode": True})
    return Factor(lu=lu, matrix=a)
