"""Natural frequencies and linear buckling of a shell model, with proof that no value below the last is missing.

The proof is a count (Sturm): the number of negative pivots of K - s M is the number of eigenvalues below s. Equal
eigenvalues, which symmetric parts have in pairs, are what an iteration loses most easily.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from scipy import sparse
from scipy.sparse.linalg import LinearOperator, eigsh

from tinbook.errors import BadValue
from tinbook.strength.shell import element as el
from tinbook.strength.shell.constraints import Held, free_motions
from tinbook.strength.shell.element import Array, Index
from tinbook.strength.shell.linear import Shell, System, lumped_mass, stiffness
from tinbook.strength.shell.solve import Factor, NotSolved, assemble, factorise, solving

ATTEMPTS = 4
"""Most restarts, each with another start vector and more vectors."""
BELOW = 1e-6
"""How far below the last value pivots are counted, as a part of its distance from the shift: its own twins lie nearer."""
SEED = 20
"""Seed of the start vector: random but fixed, since a vector of ones misses every antisymmetric mode."""


def frequencies(s: System | tuple[Shell, Held], count: int = 6, extra: Array | None = None) -> tuple[Array, Array]:
    """Return natural frequencies (count,) in Hz and modes (count, n, 6), largest displacement 1.

    Equal frequencies stand as often as they occur; none below the last is missing.

    Parameters
    ----------
    s : System, or (Shell, Held)
        A pair may leave rigid motions free; those come first with a frequency of 0.
    count : int, optional
        How many.
    extra : array (m,), optional
        Riding mass of each element, kg.

    Raises
    ------
    NotSolved
        When the iteration does not settle, or the count of pivots says that a frequency is missing.
    """
    model, held = (s.model, s.held) if isinstance(s, System) else s
    # Lumped mass is two to four times closer on bent plates than a consistent one. Rotary inertia is the same about every
    # axis, so the nodes' own axes do not matter.
    m = sparse.diags_array(lumped_mass(model, extra)).tocsr()
    shift = 0.0
    if isinstance(s, System):
        free, factor = s.free, s.factor
        kf = factor.matrix
    else:
        free = held.free(model.order)
        k = stiffness(model, held)
        if free_motions(model.points, held):
            # A free part has frequency 0, so the shift lies a little below it (a tenth of a plate wave of its size).
            d = model.youngs * float(model.elements.thickness.mean()) ** 2 / (12 * model.density * 1e-12)
            shift = -0.1 * d / float(np.ptp(model.points, axis=0).max()) ** 4
        factor = factorise((k - shift * m).tocsr(), free)
        kf = k[free][:, free].tocsc()
    mf = m[free][:, free].tocsc()
    if not 1 <= count < len(free) - 1:
        raise BadValue("count of frequencies", count, f"1 to {len(free) - 2}")
    values, vectors = lowest(kf, mf, factor, shift, count)
    values = np.where(values < 0.05 * abs(shift), 0.0, values) if shift else values
    return np.sqrt(np.maximum(values, 0.0)) / math.tau, _shapes(model, held, free, vectors)


def lowest(k: Any, mass: Any, factor: Factor, shift: float, count: int) -> tuple[Array, Array]:
    """Return the `count` lowest eigenvalues and vectors, searching on until the count of pivots agrees."""
    n = k.shape[0]
    values, vectors = np.zeros(0), np.zeros((n, 0))
    missing = count
    for attempt in range(ATTEMPTS):
        more, found = _search(k, mass, factor, shift, missing, vectors, attempt)
        values, vectors = np.append(values, more), np.hstack((vectors, found))
        order = np.argsort(values)
        values, vectors = values[order], vectors[:, order]
        last = values[count - 1]
        below = last - BELOW * (last - shift)
        there = factorise((k - below * mass).tocsr(), np.arange(n)).negative
        missing = there - int((values < below).sum())
        if missing == 0:
            return values[:count], vectors[:, :count]
        missing = max(missing, 1)
    raise NotSolved(f"a natural frequency below the last of {count} was not found; no list is shown")


def _search(
    k: Any, mass: Any, factor: Factor, shift: float, count: int, known: Array, attempt: int
) -> tuple[Array, Array]:
    """Return `count` more eigenvalues next to the shift, and vectors that are square to those known.

    A Krylov space holds one direction of each eigenvalue; only with the known ones taken out does it meet their twins.
    """
    weighed = mass @ known

    def beside(x: Array) -> Array:
        return np.asarray(x - known @ (weighed.T @ x))

    start = beside(np.random.default_rng(SEED + attempt).standard_normal(k.shape[0]))
    inverse = LinearOperator(k.shape, matvec=lambda x: beside(factor.lu.solve(x)), dtype=np.float64)
    # Twins are seldom lost with twenty vectors; the first value alone needs fewer.
    room = min(max(2 * count + 1, 8 if count == 1 else 20), k.shape[0])
    options: dict[str, Any] = {"which": "LM", "OPinv": inverse, "v0": start, "ncv": room}
    with solving("the natural frequencies did not settle: try fewer, or another mesh size; no number is shown"):
        # The error of an eigenvalue is the square of this tolerance.
        values, vectors = eigsh(k, k=count, M=mass, sigma=shift, tol=1e-5 if attempt == 0 else 1e-8, **options)
    return values, vectors


def _shapes(model: Shell, held: Held, free: Index, vectors: Array) -> Array:
    shapes = []
    for v in vectors.T:
        u = np.zeros(model.unknowns)
        u[free] = v
        u = held.to_space(u.reshape(-1, 6))
        size = np.linalg.norm(u[:, :3], axis=1)
        top = int(np.argmax(size))
        sign = np.sign(u[top, int(np.argmax(np.abs(u[top, :3])))])
        shapes.append(u / (size[top] * sign))
    return np.array(shapes)


def buckling(s: System, displacement: Array, count: int = 1) -> tuple[Array, Array]:
    """Return factors (count,) on the load at which the flat state turns unstable, and the modes (count, n, 6).

    Parameters
    ----------
    s : System
    displacement : array (n, 6)
        Linear answer to the load.
    count : int, optional
        How many; only positive factors count.

    Raises
    ------
    NotSolved
        When the iteration does not settle, or the load presses nowhere.
    """
    model, e = s.model, s.model.elements
    d = el.to_local(displacement[model.quads].reshape(-1, 8, 3), e.axes)
    force, _ = el.resultants(e, d)
    out, within = el.geometric(e, force)
    square = e.axes[:, 2, :, None] * e.axes[:, 2, None, :]
    total = np.zeros((len(e), 4, 6, 4, 6))
    total[:, :, :3, :, :3] = -(
        np.einsum("eab,eij->eaibj", out, square) + np.einsum("eab,eij->eaibj", within, np.eye(3) - square)
    )
    kg = assemble(model.where, s.held.matrices(model.quads, total.reshape(-1, 24, 24)))
    kf, gf = s.factor.matrix, kg[s.free][:, s.free].tocsc()
    for attempt in range(ATTEMPTS):
        values, vectors = _pressed(gf, kf, s.factor, count + 2 * attempt, SEED + attempt)
        good = values > 1e-12 * float(np.abs(values).max(initial=0.0))
        if not good.any():
            raise NotSolved("this load presses the sheet nowhere: nothing can buckle")
        factors, vectors = 1.0 / values[good][:count], vectors[:, good][:, :count]
        below = factors[-1] * (1 - BELOW)
        there = factorise((kf - below * gf).tocsr(), np.arange(kf.shape[0])).negative
        if there == int((factors < below).sum()):
            return factors, _shapes(model, s.held, s.free, vectors)
    raise NotSolved(f"a buckling load below the last of {count} was not found; no number is shown")


def _pressed(geometric: Any, k: Any, factor: Factor, count: int, seed: int) -> tuple[Array, Array]:
    """Return the largest reciprocals of buckling factors, largest first, and their vectors."""
    start = np.random.default_rng(seed).standard_normal(k.shape[0])
    inverse = LinearOperator(k.shape, matvec=factor.lu.solve, dtype=np.float64)
    with solving("no buckling load was found: this load may press the sheet nowhere, so that nothing can buckle"):
        values, vectors = eigsh(geometric, k=count, M=k, Minv=inverse, which="LA", v0=start, tol=1e-8)
    order = np.argsort(-values)
    return values[order], vectors[:, order]
