"""A pin in a hole bears on half its rim: resultant, place, and the hoop stress of the exact plate."""

from __future__ import annotations

import math

import numpy as np
import pytest

import tinbook as tb
from shellgrids import grid, holding, rows
from tinbook.space import Frame
from tinbook.strength import analysis, loads, supports
from tinbook.strength.shell import linear as sh

A, R, T, NU = 20.0, 600.0, 3.0, 0.3


def ring():
    """A wide plate round a hole, fine at its rim: points, quads and the nodes of the rim."""
    around, out = 96, 48

    def surface(s, t):
        radius, angle = A * (R / A) ** t, math.tau * s
        return np.column_stack((radius * np.cos(angle), radius * np.sin(angle), 0 * s))

    points, quads = grid(around, out, surface)
    # The grid closes on itself.
    same = np.arange(len(points))
    last = np.arange(around, len(points), around + 1)
    same[last] = last - around
    kept, number = np.unique(same, return_inverse=True)
    return points[kept], number[quads], np.flatnonzero(np.hypot(*points[kept, :2].T) < A + 1e-6)


def exact_hoop(angle, force):
    """Hoop stress at the rim of a hole in an infinite sheet under a pressure p0 cos(angle) on half of it.

    Worked out here by Fourier's series of the pressure: p0 (1/pi + cos/2 + 2/pi sum (-1)^(k+1) cos 2k / (4 k^2 - 1)).
    By Michell's functions the even terms give minus their own value, the first term plus its own, and cos (1 - nu) / 2
    of the pressure of the resultant. At 90 degrees the sum is 2 p0 / pi, known from Bickley (1928), from memory.
    """
    p0 = 2 * force / (math.pi * A * T)
    even = sum((-1) ** (k + 1) * np.cos(2 * k * angle) / (4 * k * k - 1) for k in range(1, 200))
    return p0 * (1 / math.pi - 2 / math.pi * even) + (1 - NU) * force / (2 * math.pi * A * T) * np.cos(angle)


def test_the_series_gives_the_known_value_at_the_side():
    assert exact_hoop(math.pi / 2, 1000.0) == pytest.approx(2 / math.pi * 2 * 1000 / (math.pi * A * T), rel=3e-3)


@pytest.mark.parametrize("towards", [0.0, 37.0])
def test_hoop_stress_at_the_sides_of_a_pin(towards):
    points, quads, rim = ring()
    turn = math.radians(towards)
    force = np.zeros((len(points), 6))
    push = 1000.0 * np.array([math.cos(turn), math.sin(turn), 0.0])
    force[rim, :3] = loads._at_rim(points[rim], Frame(), push)
    assert force[:, :3].sum(axis=0) == pytest.approx(push, abs=1e-9)
    assert np.cross(points, force[:, :3]).sum(axis=0) == pytest.approx([0, 0, 0], abs=1e-6)
    behind = points[rim, :2] @ push[:2] < -1e-6
    assert np.abs(force[rim][behind]).max() == 0.0
    edge = np.hypot(*points[:, :2].T) > R - 1e-6
    s = sh.system(sh.shell(points, quads, T, 210e3, NU), holding(len(points), rows(edge, *range(6))))
    top, _ = sh.equivalent(s.model, sh.displaced(s, force)[0])
    angle = np.arctan2(points[rim, 1], points[rim, 0]) - turn
    # Behind the pin the rim bears no pressure, so that its hoop stress is all there is; next to where it ends, stress
    # has a kink, and a node that averages its elements reads up to 5 % low.
    free = np.cos(angle) < -0.05
    exact = np.abs(exact_hoop(angle, 1000.0))
    assert top[rim][free] == pytest.approx(exact[free], abs=0.05 * exact.max())


def test_a_screw_that_pulls_square_to_the_sheet_spreads_over_the_rim():
    points = np.column_stack((A * np.cos(a := np.arange(24) * math.tau / 24), A * np.sin(a), 0 * a))
    force = loads._at_rim(points, Frame(), np.array([0.0, 0.0, 48.0]))
    assert force == pytest.approx(np.tile([0.0, 0.0, 2.0], (24, 1)), abs=1e-9)


def test_a_slot_pulled_lengthwise_bears_at_its_end():
    """Half circles of radius 5 round +-10; the flanks are square to nothing of the pull."""
    a = np.linspace(-math.pi / 2, math.pi / 2, 9)
    end = np.column_stack((10 + 5 * np.cos(a), 5 * np.sin(a)))
    points = np.column_stack((np.vstack((end, -end)), np.zeros(18)))
    force = loads._at_rim(points, Frame(), np.array([100.0, 0.0, 0.0]))
    assert force.sum(axis=0) == pytest.approx([100.0, 0.0, 0.0])
    assert np.abs(force[points[:, 0] < 0]).max() < 1e-9


def test_an_eye_is_no_longer_read_at_less_than_half():
    """68 wide, 12 mm thick, hole 26 mm, 60 kN: spread round the whole rim its sides would show next to nothing more
    than the net section's 119 MPa; a pin gives three times that (Peterson's charts of pin-loaded lugs: 3 to 3.5 at
    a hole of 0.38 of the width; from memory)."""
    base = tb.Outline.rectangle(160, 68)
    part = tb.Part("RP-1", sheet="S355 12.0", base=base).hole((126, 34), 26, name="eye")
    made = tb.make(part, tb.Shop.demo())
    pull = loads.Pull(newtons=(60e3, 0.0, 0.0), hole="eye")
    found = analysis.static(made, [supports.clamped_edge("left")], [pull], size=4.0, compare=False)
    net = 60e3 / ((68 - 26) * 12)
    assert 2.6 * net < max(found.top.max(), found.bottom.max()) < 4.0 * net
