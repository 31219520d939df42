"""Stiffness of joints, rubber layers and Miles' formula against other formulas, exact integrals and printed rows."""

from __future__ import annotations

import math

import pytest
from scipy.integrate import quad

from tinbook.calc import fasteners, vibration
from tinbook.errors import BadValue, OutOfRange, UnknownName


def swift(d: float, t1: float, t2: float, e1: float, e2: float, ef: float) -> float:
    """Douglas' formula (Swift 1971), from memory: 5/(d Ef) + 0.8 (1/(t1 E1) + 1/(t2 E2))."""
    return 5 / (d * ef) + 0.8 * (1 / (t1 * e1) + 1 / (t2 * e2))


def test_a_bolt_in_a_lap_gives_as_huth_says() -> None:
    # By hand, M8 in 2 + 2 mm of steel, E 205 GPa: (4/16)^(2/3) = 0.39685; 3 x 0.39685 (2/410e3 + 2/820e3) = 8.712e-6.
    assert fasteners.fastener_flexibility(8, 2, 2, 205e3, 205e3, 205e3) == pytest.approx(8.712e-6, rel=1e-3)
    # A rivet of 4.8 mm in 1.6 + 1.6 mm of aluminium, 72 GPa: (3.2/9.6)^0.4 = 0.64439; 2.2 x 0.64439 x 3/(1.6 x 72e3).
    rivet = fasteners.fastener_flexibility(4.8, 1.6, 1.6, 72e3, 72e3, 72e3, "rivet")
    assert rivet == pytest.approx(2.2 * 0.64439 * 3 / (1.6 * 72e3), rel=1e-4)


@pytest.mark.parametrize("t", [1.0, 1.6, 2.5])
def test_two_published_formulas_agree_within_their_scatter(t: float) -> None:
    # Published comparisons show the two within about a third for metal laps with t/d of 0.2 to 0.5.
    ours = fasteners.fastener_flexibility(5.0, t, t, 72e3, 72e3, 72e3, "rivet")
    assert 0.6 < ours / swift(5.0, t, t, 72e3, 72e3, 72e3) < 1.5


def test_a_bolt_s_sheets_are_springs_side_by_side() -> None:
    along, shear, across, twist, tilt, _ = fasteners.bolted_stiffness(10, 5, 5, 205e3, 205e3, 205e3)
    # Shank and annulus of two diameters are one disc of 20 mm, 10 mm long: E pi/4 20² / 10 and E pi/64 20^4 / 10.
    assert along == pytest.approx(205e3 * math.pi / 4 * 400 / 10)
    assert tilt == pytest.approx(205e3 * math.pi / 64 * 160000 / 10)
    assert (twist, shear) == (0.0, across)
    assert 1 / shear == pytest.approx(fasteners.fastener_flexibility(10, 5, 5, 205e3, 205e3, 205e3))


def test_a_nugget_is_a_short_beam() -> None:
    along, shear, _, twist, tilt, _ = fasteners.nugget_stiffness(205e3, 6.0, 2.0)
    assert along == pytest.approx(205e3 * math.pi * 9 / 2)
    # Both ends parallel: bending l³/12EI and shear l/kGA in series (Timoshenko); I 63.617, A 28.274, G 78846.
    assert 1 / shear == pytest.approx(8 / (12 * 205e3 * 63.617) + 2 / (0.9 * 78846 * 28.274), rel=1e-4)
    assert twist == pytest.approx(78846 * 127.235 / 2, rel=1e-4)
    assert tilt == pytest.approx(205e3 * 63.617 / 2, rel=1e-4)
    assert fasteners.seam_stiffness(205e3, 3.0) == pytest.approx((205e3, 205e3 * 9 / 12))


def test_rubber_layers_by_printed_moduli() -> None:
    # A table of natural rubber quoted in lbf/in² (6.895 kPa): 65 IRHD 830, 75 IRHD 1340; formulas by hardness miss by a fifth.
    for hardness, printed in ((65, 830), (75, 1340)):
        pressed, sheared = fasteners.rubber_layer(hardness, 4.0)
        assert 4 * pressed == pytest.approx(printed * 6.8948e-3, rel=0.25)
        assert pressed == pytest.approx(3 * sheared)
    with pytest.raises(OutOfRange):
        fasteners.rubber_layer(90, 4.0)


def test_miles_is_the_area_under_a_resonance() -> None:
    # The response of one mass on a spring, integrated: |H|² = (1 + (r/Q)²) / ((1 - r²)² + (r/Q)²), Q = 20, f = 200 Hz.
    f, q, w = 200.0, 20.0, 0.01
    area, _ = quad(
        lambda r: (1 + (r / q) ** 2) / ((1 - r * r) ** 2 + (r / q) ** 2), 0, 200, points=[0.9, 1.0, 1.1], limit=500
    )
    assert vibration.miles(f, q, w) == pytest.approx(math.sqrt(w * f * area), rel=5e-3)
    # 100 Hz, Q 10, 0.04 g²/Hz: sqrt(62.83) = 7.927 g.
    assert vibration.miles(100.0, 10.0, 0.04) == pytest.approx(7.927, rel=1e-3)
    with pytest.raises(OutOfRange):
        vibration.miles(100.0, 2.0, 0.04)


@pytest.mark.parametrize("bad", [0.0, -1.0, math.nan, math.inf])
def test_sizes_are_positive(bad: float) -> None:
    for call in (
        lambda: fasteners.fastener_flexibility(bad, 1, 1, 2e5, 2e5, 2e5),
        lambda: fasteners.bolted_stiffness(8, bad, 1, 2e5, 2e5, 2e5),
        lambda: fasteners.nugget_stiffness(2e5, bad, 1),
        lambda: fasteners.seam_stiffness(2e5, bad),
        lambda: fasteners.rubber_layer(60, bad),
        lambda: vibration.miles(bad, 10, 0.1),
    ):
        with pytest.raises(BadValue):
            call()


def test_other_fasteners_have_no_constants() -> None:
    with pytest.raises(UnknownName, match="rivet"):
        fasteners.fastener_flexibility(8, 1, 1, 2e5, 2e5, 2e5, "nail")  # type: ignore[arg-type]
