"""Plates against the tables of the handbooks and against solutions of another kind worked out here.

Timoshenko and Woinowsky-Krieger, Theory of Plates and Shells, 2nd ed. 1959; Roark's Formulas for Stress and Strain,
7th ed., table 11.4; Leissa, Journal of Sound and Vibration 31 (1973) 257. The independent solutions are Navier's double
series for simply supported edges and a Ritz solution in Legendre polynomials for clamped ones.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.polynomial import legendre
from scipy.linalg import eigh

from tinbook.calc import buckling, orthotropic, plates
from tinbook.errors import BadValue, OutOfRange


class ClampedRitz:
    """Plate with clamped edges, D = 1, nu = 0.3, sides 2 and 2 r: shapes (1 - x²)² P_i(x)(1 - y²)² P_j(y), even."""

    def __init__(self, ratio: float, terms: int = 14) -> None:
        x, w = legendre.leggauss(2 * terms + 10)
        base = np.polynomial.Polynomial([1, 0, -2, 0, 1])
        shapes = [base * legendre.Legendre.basis(2 * i).convert(kind=np.polynomial.Polynomial) for i in range(terms)]
        f0, f1, f2 = (np.array([s.deriv(k)(x) if k else s(x) for s in shapes]) for k in range(3))
        m0, m1, m2 = ((f * w) @ f.T for f in (f0, f1, f2))
        r = ratio
        self.r = r
        self.stiff = np.kron(m2, m0) * r + np.kron(m0, m2) / r**3 + 2 * np.kron(m1, m1) / r
        self.mass = np.kron(m0, m0) * r
        self.load = np.kron(f0 @ w, f0 @ w) * r
        self.at = np.kron(*(np.array([s(0.0) for s in shapes]),) * 2)
        self.curve_x = np.kron([s.deriv(2)(0.0) for s in shapes], [s(0.0) for s in shapes])
        self.curve_y = np.kron([s(0.0) for s in shapes], [s.deriv(2)(0.0) for s in shapes]) / r**2
        self.edge = np.kron([s.deriv(2)(1.0) for s in shapes], [s(0.0) for s in shapes])

    def uniform(self) -> tuple[float, float, float]:
        """Deflection / (q a⁴), edge and centre moment / (q a²), a the short side (2 here)."""
        c = np.linalg.solve(self.stiff, self.load)
        return (
            float(self.at @ c) / 16,
            float(abs(self.edge @ c)) / 4,
            float(-(self.curve_x + 0.3 * self.curve_y) @ c) / 4,
        )

    def point(self) -> float:
        """Deflection / (P a²)."""
        return float(self.at @ np.linalg.solve(self.stiff, self.at)) / 4

    def frequency(self) -> float:
        """Circular frequency times a²."""
        lowest = eigh(self.stiff, self.mass, eigvals_only=True, subset_by_index=[0, 0])[0]
        return 4 * math.sqrt(lowest)


# Timoshenko table 8: b/a, deflection, moment of the short span (nu 0.3).
TABLE_8 = [
    (1.0, 0.00406, 0.0479),
    (1.2, 0.00564, 0.0627),
    (1.4, 0.00705, 0.0755),
    (1.5, 0.00772, 0.0812),
    (1.6, 0.00830, 0.0862),
    (1.8, 0.00931, 0.0948),
    (2.0, 0.01013, 0.1017),
    (3.0, 0.01223, 0.1189),
    (5.0, 0.01297, 0.1246),
]


@pytest.mark.parametrize(("ratio", "deflection", "moment"), TABLE_8)
def test_supported_uniform(ratio: float, deflection: float, moment: float) -> None:
    assert plates.supported_uniform(1, 1, ratio, 1) == pytest.approx(deflection, rel=0.006)
    assert plates.supported_uniform_moments(1, 1, ratio)[0] == pytest.approx(moment, rel=0.001)
    assert plates.supported_uniform_moments(1, ratio, 1)[1] == pytest.approx(moment, rel=0.001)


# Roark table 11.4 case 1a, b the short side: a/b, beta (stress), alpha (deflection).
@pytest.mark.parametrize(
    ("ratio", "beta", "alpha"),
    [
        (1.0, 0.2874, 0.0444),
        (1.2, 0.3762, 0.0616),
        (1.4, 0.4530, 0.0770),
        (1.6, 0.5172, 0.0906),
        (1.8, 0.5688, 0.1017),
        (2.0, 0.6102, 0.1110),
        (3.0, 0.7134, 0.1335),
        (5.0, 0.7476, 0.1417),
    ],
)
def test_supported_uniform_by_roark(ratio: float, beta: float, alpha: float) -> None:
    youngs, t, b, q = 205e3, 1.2, 400.0, 0.001
    w = plates.supported_uniform(q, b, ratio * b, plates.rigidity(youngs, t))
    assert w == pytest.approx(alpha * q * b**4 / (youngs * t**3), rel=0.005)
    stress = 6 * plates.supported_uniform_moments(q, b, ratio * b)[0] / t**2
    assert stress == pytest.approx(beta * q * b**2 / t**2, rel=0.005)


def test_supported_uniform_limits() -> None:
    """An endless plate is a beam strip: 5/384 and 1/8; another argument order gives the same plate."""
    assert plates.supported_uniform(1, 1, 500, 1) == pytest.approx(5 / 384, rel=1e-6)
    assert plates.supported_uniform_moments(1, 1, 500) == pytest.approx((1 / 8, 0.3 / 8), rel=1e-5)
    assert plates.supported_uniform(1, 700, 300, 1) == plates.supported_uniform(1, 300, 700, 1)


@pytest.mark.parametrize("ratio", [1.0, 1.37, 2.5])
def test_supported_by_navier(ratio: float) -> None:
    """Navier's double series, summed here with numpy to the 401st half wave."""
    m = np.arange(1, 402, 2, dtype=float)
    mm, nn = np.meshgrid(m, m)
    sign = np.sin(mm * math.pi / 2) * np.sin(nn * math.pi / 2)
    stiff = (mm**2 + (nn / ratio) ** 2) ** 2
    uniform = 16 / math.pi**6 * (sign / (mm * nn * stiff)).sum()
    point = 4 / (math.pi**4 * ratio) * (1 / stiff).sum()
    assert plates.supported_uniform(1, 1, ratio, 1) == pytest.approx(uniform, rel=1e-7)
    assert plates.supported_point(1, 1, ratio, 1) == pytest.approx(point, rel=3e-5)


# Timoshenko table 23.
@pytest.mark.parametrize(("ratio", "k"), [(1.0, 0.01160), (1.5, 0.01531), (2.0, 0.01651), (100.0, 0.01695)])
def test_supported_point(ratio: float, k: float) -> None:
    assert plates.supported_point(1, 1, ratio, 1) == pytest.approx(k, rel=0.0015)


@pytest.mark.parametrize("ratio", [1.0, 1.25, 1.5, 1.75, 2.0, 3.0])
def test_clamped_by_ritz(ratio: float) -> None:
    """The table rows, and between them, against the Legendre solution."""
    deflection, edge, centre = ClampedRitz(ratio).uniform()
    assert plates.clamped_uniform(1, 1, ratio, 1) == pytest.approx(deflection, rel=0.025 if ratio > 2 else 0.01)
    moments = plates.clamped_uniform_moments(1, 1, ratio)
    assert moments == pytest.approx((edge, centre), rel=0.025 if ratio > 2 else 0.015)


def test_clamped_endless_plate_is_a_beam_strip() -> None:
    assert plates.clamped_uniform(1, 1, 1e6, 1) == pytest.approx(1 / 384, rel=0.002)
    assert plates.clamped_uniform_moments(1, 1, 1e6) == pytest.approx((1 / 12, 1 / 24), rel=0.001)


@pytest.mark.parametrize("ratio", [1.0, 1.2, 1.5, 2.0])
def test_clamped_point_by_ritz(ratio: float) -> None:
    """A Ritz solution approaches from below; under a point it still lacks about half a per cent."""
    assert plates.clamped_point(1, 1, ratio, 1) == pytest.approx(ClampedRitz(ratio, 20).point(), rel=0.01)


# Leissa 1973: circular frequency times a² sqrt(m/D), CCCC, by a/b.
@pytest.mark.parametrize(("ratio", "shape"), [(1.0, 35.992), (1.5, 27.010), (2.5, 23.648)])
def test_clamped_frequency_by_leissa(ratio: float, shape: float) -> None:
    ours = plates.clamped_frequency(1, ratio, 1, 1e9) * math.tau
    assert ours == pytest.approx(shape, rel=0.004)
    assert ours >= ClampedRitz(ratio).frequency()
    assert ours == pytest.approx(ClampedRitz(ratio).frequency(), rel=0.0045)


@pytest.mark.parametrize(("ratio", "shape"), [(1.0, 19.739), (1.5, 14.256), (2.0, 12.337)])
def test_supported_frequency_by_leissa(ratio: float, shape: float) -> None:
    assert plates.supported_frequency(1, ratio, 1, 1e9) * math.tau == pytest.approx(shape, rel=5e-5)


def test_frequencies_of_known_sheets() -> None:
    """By hand: 0.7 mm steel 600 x 900 (E 200 GPa, 7850) rings at 6.74 Hz supported, 12.8 clamped; 1.2 mm 400 x 600
    (E 205 GPa) at 26.3 and 49.8 Hz. A page in circulation gives 88 Hz for the first: wrong.
    """
    d, mass = plates.rigidity(200e3, 0.7), 0.7e-3 * 7850
    assert plates.supported_frequency(600, 900, d, mass) == pytest.approx(6.74, abs=0.006)
    assert plates.clamped_frequency(600, 900, d, mass) == pytest.approx(12.8, abs=0.06)
    d, mass = plates.rigidity(205e3, 1.2), 1.2e-3 * 7850
    assert plates.supported_frequency(400, 600, d, mass) == pytest.approx(26.3, abs=0.06)
    assert plates.clamped_frequency(400, 600, d, mass) == pytest.approx(49.8, rel=0.005)
    # Twenty times stiffer along the short span, then along the long one, 3 % heavier.
    assert orthotropic.frequency(400, 600, 20 * d, d, d, 1.03 * mass) == pytest.approx(82, abs=0.6)
    assert orthotropic.frequency(400, 600, d, 20 * d, d, 1.03 * mass) == pytest.approx(43, abs=0.6)


def test_higher_modes() -> None:
    """Square plate: (2,1) at 5/2 and (2,2) at 4 times the first."""
    first = plates.supported_frequency(1, 1, 1, 1)
    assert plates.supported_frequency(1, 1, 1, 1, 2, 1) == pytest.approx(2.5 * first)
    assert orthotropic.frequency(1, 1, 1, 1, 1, 1, 2, 2) == pytest.approx(4 * first)


def test_orthotropic_uniform() -> None:
    """With D everywhere it is table 8; stiff one way only it becomes the beam strip of that way, 5/384."""
    assert orthotropic.uniform(1, 1, 1.5, 1, 1, 1) == pytest.approx(0.00772, rel=0.001)
    assert orthotropic.uniform(1, 1, 1, 1, 1e-9, 0) == pytest.approx(5 / 384, rel=0.025)
    # Scaling of the y axis: a plate with Db = 16 and H = 4 over b = 2 is the isotropic square.
    assert orthotropic.uniform(1, 1, 2, 1, 16, 4) == pytest.approx(0.00406, rel=0.001)


def test_rigidity_and_small_deflection() -> None:
    # By hand: 205 000 x 1.2³ / (12 x 0.91).
    assert plates.rigidity(205e3, 1.2) == pytest.approx(32_439.6, abs=0.1)
    # Roark 11.1: linear while the deflection is at most about half the thickness.
    assert plates.small_deflection(-0.6, 1.2)
    assert not plates.small_deflection(0.601, 1.2)
    # 1.1 kN on a 400 mm square of 1.2 mm steel: 63 mm by linear theory, which means nothing.
    w = plates.supported_point(1100, 400, 400, plates.rigidity(205e3, 1.2))
    assert w == pytest.approx(63, abs=0.1)
    assert not plates.small_deflection(w, 1.2)


# By hand from k pi² E / 12 (1 - nu²) (t/b)²; k from Timoshenko and Gere, Theory of Elastic Stability.
@pytest.mark.parametrize(
    ("k", "t", "b", "stress"), [(4.0, 1.2, 100, 106.7), (0.425, 2, 40, 196.9), (5.34, 1, 200, 24.7)]
)
def test_buckling(k: float, t: float, b: float, stress: float) -> None:
    assert buckling.buckling_stress(k, 205e3, t, b) == pytest.approx(stress, abs=0.06)
    assert {4.0, 6.97, 0.425} == set(buckling.BUCKLING.values())


def test_effective_width() -> None:
    """EN 1993-1-5 4.4 by hand: 0.78 at 1, 0.569 at 1.5; an outstand at 1 keeps 0.812."""
    assert buckling.effective_share(0.673) == 1
    assert buckling.effective_share(1.0) == pytest.approx(0.78)
    assert buckling.effective_share(1.5) == pytest.approx(0.569, abs=5e-4)
    assert buckling.effective_share(1.0, outstand=True) == pytest.approx(0.812)
    # EN 1993-1-5 eq.: b/t / (28.4 eps sqrt(k)) is the same slenderness; 235 MPa, E 210 GPa, b/t 100, k 4.
    critical = buckling.buckling_stress(4, 210e3, 1, 100)
    assert buckling.plate_slenderness(235, critical) == pytest.approx(100 / (28.4 * 2), rel=0.002)


def test_refusals() -> None:
    with pytest.raises(BadValue, match="poisson"):
        plates.rigidity(205e3, 1, 0.5)
    with pytest.raises(BadValue, match="thickness"):
        plates.rigidity(205e3, -1)
    with pytest.raises(OutOfRange, match="long side over short side"):
        plates.clamped_point(1, 1, 2.1, 1)
    with pytest.raises(BadValue, match="half waves"):
        orthotropic.frequency(1, 1, 1, 1, 1, 1, 0, 1)
    with pytest.raises(BadValue, match="a"):
        plates.supported_uniform(1, math.nan, 1, 1)
