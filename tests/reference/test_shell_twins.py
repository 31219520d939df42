"""Symmetric parts have equal frequencies in pairs: no list loses one, held against exact plates and a dense solver."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.linalg import eigh

from shellgrids import flat, grid, holding, rows
from tinbook.strength.shell import eigen
from tinbook.strength.shell import linear as sh
from tinbook.strength.shell.solve import NotSolved, factorise

T, E, NU, RHO = 1.2, 205e3, 0.3, 7850.0


def square(a: float, n: int, held: str) -> sh.System:
    """A square plate, simply supported and free to slide, or clamped."""
    p, q = grid(n, n, flat(a, a))
    left, front = (np.isclose(p[:, k], 0) | np.isclose(p[:, k], a) for k in (0, 1))
    corner = np.isclose(p[:, :2], 0).all(axis=1)
    beside = np.isclose(p[:, 0], a) & np.isclose(p[:, 1], 0)
    if held == "clamped":
        stops = [rows(left | front, *range(6))]
    else:
        stops = [rows(left | front, 2), rows(left, 3), rows(front, 4), rows(corner, 0, 1), rows(beside, 1)]
    return sh.system(sh.shell(p, q, T, E, NU, RHO), holding(len(p), *stops))


@pytest.mark.parametrize("a", [400.0, 10_000.0])
def test_every_length_of_list_holds_the_twins_of_a_square_plate(a):
    """Exact: f = pi / 2 (m² + n²) / a² sqrt(D / (rho t)), m and n from 1 (Timoshenko and Young; thin plate)."""
    s = square(a, 24, "simply supported")
    stiff = E * T**3 / (12 * (1 - NU**2))
    one = math.pi / 2 / a**2 * math.sqrt(stiff / (RHO * 1e-12 * T))
    exact = sorted(one * (m * m + n * n) for m in range(1, 9) for n in range(1, 9))
    for count in (2, 3, 5, 6, 8, 10):
        assert eigen.frequencies(s, count)[0] == pytest.approx(exact[:count], rel=0.012), count


@pytest.mark.parametrize("held", ["simply supported", "clamped"])
def test_lists_equal_those_of_a_dense_solver(held):
    """The same matrices through LAPACK, which finds every eigenvalue."""
    s = square(300.0, 8, held)
    mass = sh.lumped_mass(s.model)[s.free]
    every = eigh(s.factor.matrix.toarray(), np.diag(mass), eigvals_only=True)
    exact = np.sqrt(every) / math.tau
    for count in (2, 3, 6, 7, 8, 11, 15):
        assert eigen.frequencies(s, count)[0] == pytest.approx(exact[:count], rel=1e-6), count


def test_a_list_that_the_count_does_not_confirm_is_refused(monkeypatch):
    """A solver that always loses the lowest value ends in words, not in a list."""
    s, real = square(300.0, 8, "clamped"), eigen.eigsh

    def loses(*args, k, **more):
        values, vectors = real(*args, k=k + 1, **more)
        left = np.argsort(values)[1:]
        return values[left], vectors[:, left]

    monkeypatch.setattr(eigen, "eigsh", loses)
    with pytest.raises(NotSolved, match="was not found"):
        eigen.frequencies(s, 4)


def test_negative_pivots_are_refused_where_rows_were_exchanged():
    """[[0, 1], [1, 0]] needs an exchange; its pivots say nothing about its signs (+1, -1)."""
    from scipy import sparse

    swapped = factorise(sparse.csr_array([[0.0, 1.0], [1.0, 0.0]]), np.arange(2))
    with pytest.raises(NotSolved, match="without exchanging rows"):
        _ = swapped.negative
