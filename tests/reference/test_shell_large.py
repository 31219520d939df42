"""Large displacements against exact and published curves.

Elastica under an end force: Mattiasson, Int. J. Num. Meth. Eng. 17 (1981) 145,
P L²/(E I) = 10: w/L = 0.81061, u/L = 0.55500 (from memory). Pure bending rolls
a strip into a circle (exact). Hinged shallow roof, 12.7 and 6.35 mm: Sabir and
Lock 1972, as collected by Sze, Liu and Lo, Finite Elem. Anal. Des. 40 (2004)
1551: limit loads about 2229 N and 0.59 kN (read off, from memory; 2 %).
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from shellgrids import flat, grid, holding, rows
from tinbook.strength.shell import linear as sh
from tinbook.strength.shell import nonlinear as nl
from tinbook.strength.shell.corotation import state, turned_by

L, B, T, E = 100.0, 10.0, 1.0, 1e5
EI = E * B * T**3 / 12


def strip():
    p, q = grid(20, 1, flat(L, B))
    model = sh.shell(p, q, T, E, 0.0)
    return model, holding(len(p), rows(p[:, 0] < 1e-9, *range(6))), p[:, 0] > L - 1e-9


def test_elastica():
    model, held, tip = strip()
    load = np.zeros((len(model.points), 6))
    load[tip, 2] = 10 * EI / L**2 / 2
    path = nl.follow(model, held, load)
    assert path.complete
    assert path.snap is None
    assert path.last.displacement[tip, 2].mean() / L == pytest.approx(0.81061, rel=0.002)
    assert path.last.displacement[tip, 0].mean() / L == pytest.approx(-0.55500, rel=0.002)
    assert path.reaction[:, 2].sum() == pytest.approx(-10 * EI / L**2, rel=1e-3)


def test_strip_rolled_into_a_half_circle():
    model, held, tip = strip()
    load = np.zeros((len(model.points), 6))
    load[tip, 4] = -math.pi * EI / L / 2
    end = nl.follow(model, held, load).last.displacement[tip]
    assert end[:, 2] == pytest.approx(2 * L / math.pi, rel=0.002)
    assert end[:, 0] == pytest.approx(-L, abs=0.05)


@pytest.mark.parametrize(("thickness", "limit"), [(12.7, 2229.0), (6.35, 590.0)])
def test_hinged_roof_snaps_through_at_its_limit_load(thickness, limit):
    r, half, full = 2540.0, 0.1, 3000.0 if thickness > 10 else 1000.0
    p, q = grid(8, 8, lambda s, v: np.stack((r * np.sin(half * s), 254.0 * v, r * (np.cos(half * s) - 1)), 1))
    model = sh.shell(p, q, thickness, 3102.75, 0.3)
    hinge, x0, y0 = p[:, 0] > r * math.sin(half) - 1e-6, p[:, 0] < 1e-9, p[:, 1] < 1e-9
    held = holding(len(p), rows(hinge, 0, 1, 2), rows(x0, 0, 4, 5), rows(y0, 1, 3, 5))
    load = np.zeros((len(p), 6))
    load[int(np.flatnonzero(x0 & y0)[0]), 2] = -full / 4
    path = nl.follow(model, held, load)
    assert path.complete
    assert path.snap is not None
    assert path.snap * full == pytest.approx(limit, rel=0.02)


def test_forces_are_the_slope_of_the_energy():
    """Inner forces by finite differences of the strain energy, in a state far from flat."""
    p, q = grid(2, 2, lambda s, t: np.stack((30 * s, 20 * t, 5 * s * t + 4 * s * s), 1), 0.2)
    model = sh.shell(p, q, 1.5, 205e3, 0.3)
    rng = np.random.default_rng(0)
    u, r = rng.normal(0, 1, (len(p), 3)), turned_by(rng.normal(0, 0.1, (len(p), 3)))

    def energy(u, r):
        d = state(model, u, r, False).local
        return 0.5 * float(np.einsum("ei,eij,ej", d, model.elements.stiffness, d))

    force = np.zeros((len(p), 6))
    np.add.at(force, q.ravel(), state(model, u, r, False).force.reshape(-1, 6))
    for node, k in ((0, 2), (4, 0), (4, 3), (4, 5), (8, 4)):
        step = np.zeros((len(p), 6))
        step[node, k] = 1e-6
        up = energy(u + step[:, :3], turned_by(step[:, 3:]) @ r)
        down = energy(u - step[:, :3], turned_by(-step[:, 3:]) @ r)
        assert (up - down) / 2e-6 == pytest.approx(force[node, k], rel=1e-5, abs=1e-3 * np.abs(force).max() * 1e-3)


def test_rigid_motion_is_free_of_force():
    p, q = grid(2, 2, lambda s, t: np.stack((30 * s, 20 * t, 5 * s * t), 1))
    model = sh.shell(p, q, 1.5, 205e3, 0.3)
    turn = turned_by(np.tile([0.7, -0.4, 1.1], (len(p), 1)))
    turned = state(model, p @ turn[0].T - p + [3, 4, 5], turn, False)
    assert np.abs(turned.force).max() < 1e-6 * model.elements.stiffness.max() * 1e-3
