"""Lips in large displacements: one-sided stops as stiff springs that push and never pull."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import numpy.typing as npt
from scipy import sparse

from tinbook.strength.shell.constraints import Held
from tinbook.strength.shell.element import Array, Index
from tinbook.values import dataclass

STIFF: Final = 1e3
"""How much stiffer a lip is than a patch of sheet as large as an element: sinks in by less than a thousandth of what bends."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Touch:
    """One-sided stops as springs.

    Parameters
    ----------
    at : array (k,)
        Nodes.
    rows : array (k, 3)
        Directions in which they push.
    stiffness : array (k,)
        N/mm.
    start : array (k,) of bool
        Which touch as soon as a load begins.
    """

    at: Index
    rows: Array
    stiffness: Array
    start: npt.NDArray[np.bool_]

    def closed(self, u: Array) -> npt.NDArray[np.bool_]:
        """Return which touch at displacements (n, 3)."""
        gap = np.einsum("ki,ki->k", self.rows, u[self.at])
        return np.where(gap == 0.0, self.start, gap < 0.0)

    def push(self, u: Array) -> Array:
        """Return the lip's forces on the nodes (n, 6), N."""
        gap = np.einsum("ki,ki->k", self.rows, u[self.at])
        out = np.zeros((len(u), 6))
        force = (self.stiffness * np.maximum(-gap, 0.0))[:, None] * self.rows
        for k in range(3):
            out[:, k] = np.bincount(self.at, force[:, k], len(u))
        return out

    def matrix(self, u: Array, held: Held) -> Any:
        """Return the stiffness of what touches, in the nodes' own axes, sparse (6 n, 6 n)."""
        on = self.closed(u)
        at = self.at[on]
        row = np.zeros((len(at), 6))
        row[:, :3] = self.rows[on]
        place = np.full(len(u), -1)
        place[held.skew] = np.arange(len(held.skew))
        turned = place[at] >= 0
        row[turned] = np.einsum("kji,kj->ki", held.basis[place[at[turned]]], row[turned])
        blocks = self.stiffness[on, None, None] * row[:, :, None] * row[:, None, :]
        i = (6 * at[:, None, None] + np.arange(6)[:, None]) + np.zeros((1, 6), dtype=np.int64)
        j = i.transpose(0, 2, 1)
        n = 6 * len(u)
        return sparse.coo_array((blocks.ravel(), (i.ravel(), j.ravel())), shape=(n, n)).tocsr()
