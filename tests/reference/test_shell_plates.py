"""Shell FE against plate theory: deflections, frequencies, buckling, and the rate at which it converges.

Exact values: Navier's series and Timoshenko and Woinowsky-Krieger, Theory of
Plates and Shells (tables 8, 23, 35, 37; from memory, series recomputed here);
Leissa, J. Sound Vib. 31 (1973) 257 for frequencies (from memory, partly
recomputed by Ritz); Timoshenko and Gere for buckling (closed form).
"""

from __future__ import annotations

import functools
import math

import numpy as np
import pytest

from shellgrids import flat, grid, holding, rows
from tinbook.errors import BadValue
from tinbook.strength.shell import eigen
from tinbook.strength.shell import linear as sh

E, NU, RHO, T, A = 205e3, 0.3, 7850.0, 1.2, 300.0
D = E * T**3 / 12 / (1 - NU**2)
DEFAULT = 32
"""Elements along the short side."""


@functools.cache
def plate(kind: str, ratio: float, n: int, distort: float = 0.0):
    p, q = grid(n, round(n * ratio), flat(A, A * ratio), distort)
    model = sh.shell(p, q, T, E, NU, RHO)
    lr, fb = ends(p, 0), ends(p, 1)
    if kind == "SSSS":
        # Hard support: an edge that stays straight does not turn about its own normal either.
        held = holding(len(p), rows(lr, 2, 3), rows(fb, 2, 4), rows(lr | fb, 0, 1))
    elif kind == "CCCC":
        held = holding(len(p), rows(lr | fb, 0, 1, 2, 3, 4, 5))
    elif kind == "CFFF":
        held = holding(len(p), rows(p[:, 0] < 1e-6, 0, 1, 2, 3, 4, 5))
    else:
        none = np.zeros(len(p), dtype=bool)
        held = holding(len(p), rows(none, 0))
    return p, model, held


@functools.cache
def solved(kind: str, ratio: float, n: int, distort: float = 0.0):
    p, model, held = plate(kind, ratio, n, distort)
    return p, sh.system(model, held)


def ends(p: np.ndarray, k: int) -> np.ndarray:
    return (p[:, k] < 1e-6) | (p[:, k] > p[:, k].max() - 1e-6)


def centre(p: np.ndarray, ratio: float) -> int:
    return int(np.argmin(np.linalg.norm(p - [A / 2, A * ratio / 2, 0], axis=1)))


def uniform(kind: str, ratio: float, n: int, distort: float = 0.0) -> float:
    p, s = solved(kind, ratio, n, distort)
    u, reaction = sh.displaced(s, sh.spread(s.model, 1e-4))
    assert reaction[:, 2].sum() == pytest.approx(-1e-4 * A * A * ratio, rel=1e-6)
    return float(u[centre(p, ratio), 2] / (1e-4 * A**4 / D))


def point(kind: str, ratio: float, n: int) -> float:
    p, s = solved(kind, ratio, n)
    f = np.zeros((len(p), 6))
    f[centre(p, ratio), 2] = 1.0
    u, _ = sh.displaced(s, f)
    return float(u[centre(p, ratio), 2] / (A * A / D))


def roots(f: np.ndarray) -> np.ndarray:
    return f * math.tau * A * A * math.sqrt(RHO * 1e-12 * T / D)


def navier(ratio: float) -> float:
    """Centre deflection of a simply supported plate under unit uniform load, times D / a^4."""
    m = np.arange(1, 60, 2)
    sign = np.where(m % 4 == 1, 1.0, -1.0)
    mm, nn = m[:, None], m[None, :]
    terms = sign[:, None] * sign[None, :] / (mm * nn * (mm**2 + (nn / ratio) ** 2) ** 2)
    return float(16 / math.pi**6 * terms.sum())


def ritz(ratio: float, count: int = 7) -> float:
    """The same of a clamped plate, by Ritz with (1 - x²)² x^(2m): six digits, 0.001265 / 0.00220 / 0.00253."""
    poly = [
        np.polynomial.Polynomial([1, 0, -2, 0, 1]) * np.polynomial.Polynomial([0] * 2 * m + [1]) for m in range(count)
    ]

    def gram(i: int, j: int) -> np.ndarray:
        return np.array([[np.diff((p.deriv(i) * q.deriv(j)).integ()([-1, 1]))[0] for q in poly] for p in poly])

    hx, hy = 0.5, ratio / 2
    g0, g2, g02 = gram(0, 0), gram(2, 2), gram(0, 2)
    k = (
        (np.kron(g2 / hx**3, g0 * hy) + np.kron(g0 * hx, g2 / hy**3))
        + np.kron(g02, g02.T) / (hx * hy)
        + np.kron(g02.T, g02) / (hx * hy)
    )
    one = np.array([np.diff(p.integ()([-1, 1]))[0] for p in poly])
    c = np.linalg.solve(k, np.kron(one * hx, one * hy))
    at = np.array([p(0.0) for p in poly])
    return float(c @ np.kron(at, at))


@pytest.mark.parametrize("ratio", [1.0, 1.25, 1.5, 1.75, 2.0])
def test_simply_supported_uniform(ratio):
    assert uniform("SSSS", ratio, DEFAULT) == pytest.approx(navier(ratio), rel=0.005)


@pytest.mark.parametrize(
    ("ratio", "table"), [(1.0, 0.00126), (1.25, None), (1.5, 0.00220), (1.75, None), (2.0, 0.00254)]
)
def test_clamped_uniform(ratio, table):
    # Timoshenko's table 35 stands as a guard of the Ritz sum; its third digit is rounded (0.00254 for 0.002533).
    exact = ritz(ratio)
    if table is not None:
        assert exact == pytest.approx(table, rel=0.005)
    assert uniform("CCCC", ratio, DEFAULT) == pytest.approx(exact, rel=0.005)


@pytest.mark.parametrize(
    ("kind", "ratio", "exact"),
    [
        ("SSSS", 1.0, 0.01160),
        ("SSSS", 1.5, 0.01533),
        ("SSSS", 2.0, 0.01652),
        ("CCCC", 1.0, 0.00560),
        ("CCCC", 2.0, 0.00722),
    ],
)
def test_load_at_the_centre(kind, ratio, exact):
    assert point(kind, ratio, DEFAULT) == pytest.approx(exact, rel=0.005)


@pytest.mark.parametrize(
    ("kind", "ratio", "exact"),
    [
        ("SSSS", 1.0, math.pi**2 * 2),
        ("SSSS", 1.5, math.pi**2 * (1 + 1 / 1.5**2)),
        ("SSSS", 2.0, math.pi**2 * 1.25),
        ("CCCC", 1.0, 35.985),
        ("CCCC", 1.5, 27.005),
        ("CCCC", 2.0, 24.578),
    ],
)
def test_first_frequency(kind, ratio, exact):
    _, s = solved(kind, ratio, DEFAULT)
    assert roots(eigen.frequencies(s, 1)[0])[0] == pytest.approx(exact, rel=0.005)


def test_cantilever_frequencies():
    _, s = solved("CFFF", 1.0, DEFAULT)
    found, modes = eigen.frequencies(s, 5)
    assert roots(found) == pytest.approx([3.471, 8.507, 21.29, 27.20, 30.96], rel=0.005)
    assert np.abs(modes[:, :, :3]).max() == pytest.approx(1.0, abs=1e-9)


def test_free_plate_frequencies():
    _, model, held = plate("FFFF", 1.0, DEFAULT)
    found, _ = eigen.frequencies((model, held), 9)
    assert found[:6].tolist() == [0.0] * 6
    assert roots(found[6:]) == pytest.approx([13.47, 19.60, 24.27], rel=0.005)


@pytest.mark.parametrize("ratio", [1.0, 1.5])
def test_buckling_in_compression(ratio):
    """Pressed along the side a * ratio: k = (m b / a + a / (m b))², width b = A."""
    n = 24 if ratio > 1 else DEFAULT
    p, model, _ = plate("SSSS", ratio, n)
    lr, fb = ends(p, 0), ends(p, 1)
    mid, at = np.abs(p[:, 1] - A * ratio / 2) < 1e-6, np.arange(len(p)) == centre(p, ratio)
    held = holding(len(p), rows(lr, 2, 3), rows(fb, 2, 4), rows(mid, 1), rows(at, 0))
    f = np.zeros((len(p), 6))
    share = np.where(lr, 0.5, 1.0) * A / n
    f[:, 1] = np.where(p[:, 1] < 1e-6, share, 0) - np.where(p[:, 1] > A * ratio - 1e-6, share, 0)
    s = sh.system(model, held)
    factor, _ = eigen.buckling(s, sh.displaced(s, f)[0], 1)
    k = min((m / ratio + ratio / m) ** 2 for m in (1, 2, 3))
    assert factor[0] == pytest.approx(k * math.pi**2 * D / A**2, rel=0.005)


def test_convergence_is_of_second_order():
    """Slope of the error over the mesh: between 1.7 and 2.4 for deflection and frequency."""
    for kind, exact in (("SSSS", navier(1.0)), ("CCCC", 0.00126532)):
        e = [abs(uniform(kind, 1.0, n) / exact - 1) for n in (8, 16)]
        assert 1.7 < math.log2(e[0] / e[1]) < 2.4
    e = [abs(roots(eigen.frequencies(solved("SSSS", 1.0, n)[1], 1)[0])[0] / (2 * math.pi**2) - 1) for n in (8, 16)]
    assert 1.7 < math.log2(e[0] / e[1]) < 2.4


@pytest.mark.parametrize("kind", ["SSSS", "CCCC"])
def test_distorted_mesh_loses_little(kind):
    """Inner nodes moved at random by up to a quarter of a cell."""
    even, bent = uniform(kind, 1.0, 16), uniform(kind, 1.0, 16, 0.25)
    assert bent == pytest.approx(even, rel=0.03)


def test_moment_in_the_middle_of_a_clamped_edge():
    """Timoshenko table 35: 0.0513 q a²."""
    p, s = solved("CCCC", 1.0, DEFAULT)
    u, _ = sh.displaced(s, sh.spread(s.model, 1e-4))
    top, bottom = sh.equivalent(s.model, u)
    at = int(np.argmin(np.linalg.norm(p - [0, A / 2, 0], axis=1)))
    sigma = 6 * 0.0513 * 1e-4 * A**2 / T**2
    # Across the edge sigma, along it nu sigma.
    exact = sigma * math.sqrt(1 - NU + NU**2)
    assert top[at] == pytest.approx(exact, rel=0.02)
    assert bottom[at] == pytest.approx(exact, rel=0.02)


def test_a_loose_plate_is_refused_with_the_motion_named():
    p, model, _ = plate("SSSS", 1.0, 8)
    held = holding(len(p), rows(p[:, 0] < 1e-6, 0, 1, 2))
    with pytest.raises(BadValue, match=r"turn about y through \(0, "):
        sh.system(model, held)
    with pytest.raises(BadValue, match=r"slide along x.*slide along y.*slide along z"):
        sh.system(model, holding(len(p), rows(p[:, 0] < -1, 0)))
