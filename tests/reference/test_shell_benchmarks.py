"""Shell FE on the curved benchmarks of MacNeal and Harder, Finite Elements in Analysis and Design 1 (1985) 3-20.

Their values, from memory: roof 0.3024 (deep-shell limit 0.3006), hemisphere
with an 18 degree hole 0.0940, twisted beam 0.005424 and 0.001754; the thin
twisted beam 5256 and 1294 (Belytschko and others, per unit load). Pinched
cylinder with end diaphragms 1.8248e-5 (Lindberg, Olson and Cowper 1969).
"""

from __future__ import annotations

import functools
import math

import numpy as np
import pytest

from shellgrids import grid, holding, rows
from tinbook.strength.shell import linear as sh

QUARTER = math.pi / 2


def answer(p, q, t, youngs, poisson, held, force):
    model = sh.shell(p, q, t, youngs, poisson)
    return sh.displaced(sh.system(model, held), force(model) if callable(force) else force)[0]


@functools.cache
def roof(n: int, distort: float = 0.0) -> float:
    """A quarter of a barrel roof on end diaphragms under its own weight; sag of the free edge at mid-length."""
    r, half, th = 25.0, 25.0, math.radians(40)
    p, q = grid(n, n, lambda s, t: np.stack((r * np.sin(th * s), half * t, r * np.cos(th * s)), 1), distort)
    end, mid, crown = p[:, 1] < 1e-9, p[:, 1] > half - 1e-9, p[:, 0] < 1e-9
    held = holding(len(p), rows(end, 0, 2), rows(mid, 1, 3, 5), rows(crown, 0, 4, 5))
    u = answer(p, q, 0.25, 4.32e8, 0.0, held, lambda m: sh.spread(m, 90.0, (0, 0, -1)))
    return float(-u[np.argmax(p[:, 0] + 10 * p[:, 1]), 2])


@functools.cache
def cylinder(n: int, distort: float = 0.0) -> float:
    """An eighth of a cylinder pinched at mid-length."""
    r, half = 300.0, 300.0
    p, q = grid(n, n, lambda s, t: np.stack((r * np.sin(QUARTER * s), half * t, r * np.cos(QUARTER * s)), 1), distort)
    end, mid, x0, z0 = p[:, 1] < 1e-9, p[:, 1] > half - 1e-9, p[:, 0] < 1e-9, p[:, 2] < 1e-6
    held = holding(len(p), rows(end, 0, 2), rows(mid, 1, 3, 5), rows(x0, 0, 4, 5), rows(z0, 2, 3, 4))
    f = np.zeros((len(p), 6))
    at = int(np.flatnonzero(mid & x0)[0])
    f[at, 2] = -0.25
    return float(-answer(p, q, 3.0, 3e6, 0.3, held, f)[at, 2])


@functools.cache
def hemisphere(n: int, distort: float = 0.0) -> float:
    """A quarter of a hemisphere with a hole, pulled and pushed at the equator."""
    r, top = 10.0, math.radians(72)

    def dome(s, t):
        return r * np.stack(
            (np.cos(QUARTER * s) * np.cos(top * t), np.sin(QUARTER * s) * np.cos(top * t), np.sin(top * t)), 1
        )

    p, q = grid(n, n, dome, distort)
    a, b = int(np.argmax(p[:, 0])), int(np.argmax(p[:, 1]))
    held = holding(
        len(p), rows(p[:, 0] < 1e-9, 0, 4, 5), rows(p[:, 1] < 1e-9, 1, 3, 5), rows(np.arange(len(p)) == a, 2)
    )
    f = np.zeros((len(p), 6))
    f[a, 0], f[b, 1] = 1.0, -1.0
    return float(answer(p, q, 0.04, 6.825e7, 0.3, held, f)[a, 0])


@functools.cache
def twisted(n: int, way: int, t: float, distort: float = 0.0) -> float:
    """A cantilever strip twisted by a quarter turn: every element is warped."""
    length, w = 12.0, 1.1

    def strip(s, v):
        return np.stack((length * s, w * (v - 0.5) * np.cos(QUARTER * s), w * (v - 0.5) * np.sin(QUARTER * s)), 1)

    p, q = grid(6 * n, n, strip, distort)
    tip = np.flatnonzero(p[:, 0] > length - 1e-9)
    share = np.ones(len(tip))
    ends = np.argsort(p[tip, 2])[[0, -1]]
    share[ends] = 0.5
    share /= share.sum()
    f = np.zeros((len(p), 6))
    f[tip, way] = share
    u = answer(p, q, t, 29e6, 0.22, holding(len(p), rows(p[:, 0] < 1e-9, *range(6))), f)
    return float(u[tip, way] @ share)


def test_scordelis_lo_roof():
    assert roof(32) == pytest.approx(0.3024, rel=0.01)
    assert roof(16) == pytest.approx(0.3024, rel=0.01)


def test_pinched_cylinder():
    assert cylinder(32) == pytest.approx(1.8248e-5, rel=0.02)


def test_hemisphere():
    assert hemisphere(16) == pytest.approx(0.0940, rel=0.015)


@pytest.mark.parametrize(
    ("way", "t", "exact"), [(2, 0.32, 5.424e-3), (1, 0.32, 1.754e-3), (2, 0.0032, 5256.0), (1, 0.0032, 1294.0)]
)
def test_twisted_beam(way, t, exact):
    assert twisted(4, way, t) == pytest.approx(exact, rel=0.01)


@pytest.mark.parametrize(
    "case",
    [roof, cylinder, hemisphere, lambda n, d=0.0: twisted(n // 4, 2, 0.32, d)],
    ids=["roof", "cylinder", "hemisphere", "twisted"],
)
def test_distorted_meshes_lose_little(case):
    assert case(16, 0.2) == pytest.approx(case(16), rel=0.03)
