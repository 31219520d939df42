"""Rectangular plates: deflection, moments and frequencies by small-deflection theory.

Thin plates after Kirchhoff. `a` and `b` are the sides in any order unless said
otherwise; `rigidity` is D in N mm, loads are MPa or N, results mm, N (moment
per mm of width) and Hz. All deflections are linear: they hold while they stay
below half the thickness, see `small_deflection`.
"""

from __future__ import annotations

import itertools
import math
from typing import Final

from tinbook.calc import orthotropic
from tinbook.calc.limits import above_zero, in_range, poisson_ratio

SMALL_DEFLECTION: Final = 0.5
"""Largest deflection over thickness for which linear theory stands (Roark, chapter 11)."""

# b/a, deflection, moment at the middle of the long edge, moment at the centre across the short span.
# Timoshenko and Woinowsky-Krieger, table 35, nu = 0.3.
_CLAMPED_UNIFORM: Final = (
    (1.0, 0.00126, 0.0513, 0.0231),
    (1.1, 0.00150, 0.0581, 0.0264),
    (1.2, 0.00172, 0.0639, 0.0299),
    (1.3, 0.00191, 0.0687, 0.0327),
    (1.4, 0.00207, 0.0726, 0.0349),
    (1.5, 0.00220, 0.0757, 0.0368),
    (1.6, 0.00230, 0.0780, 0.0381),
    (1.7, 0.00238, 0.0799, 0.0392),
    (1.8, 0.00245, 0.0812, 0.0401),
    (1.9, 0.00249, 0.0822, 0.0407),
    (2.0, 0.00254, 0.0829, 0.0412),
    (math.inf, 0.00260, 0.0833, 0.0417),
)
# b/a, deflection under a load at the centre: the same book, table 37.
_CLAMPED_POINT: Final = ((1.0, 0.00560), (1.2, 0.00647), (1.4, 0.00691), (1.6, 0.00712), (1.8, 0.00720), (2.0, 0.00722))


def rigidity(youngs: float, thickness: float, poisson: float = 0.3) -> float:
    """Return the flexural rigidity of a flat sheet in N mm.

    Parameters
    ----------
    youngs : float
        Young's modulus, MPa.
    thickness : float
        Thickness, mm.
    poisson : float, optional
        Poisson's ratio.

    Returns
    -------
    float
        D = E t³ / 12 (1 - nu²).

    Notes
    -----
    Source: `Timoshenko plates` eq. (3). Range: thickness up to a quarter of the smaller side (`Roark`).
    """
    above_zero(youngs=youngs, thickness=thickness)
    poisson_ratio(poisson)
    return youngs * thickness**3 / (12 * (1 - poisson**2))


def small_deflection(deflection: float, thickness: float) -> bool:
    """Return whether a deflection is small enough for linear plate theory.

    Parameters
    ----------
    deflection, thickness : float
        Largest deflection and thickness, mm.

    Returns
    -------
    bool
        Whether the deflection is at most half the thickness.

    Notes
    -----
    Source: `Roark` 11.1. Beyond it membrane forces carry load and the true
    deflection is smaller, often many times.
    """
    above_zero("mm", thickness=thickness)
    return abs(deflection) <= SMALL_DEFLECTION * thickness


def supported_uniform(pressure: float, a: float, b: float, rigidity: float) -> float:
    """Return the centre deflection of a simply supported plate under uniform load, mm.

    Parameters
    ----------
    pressure : float
        Load, MPa.
    a, b : float
        Sides, mm.
    rigidity : float
        D, N mm.

    Returns
    -------
    float
        Linear deflection, exact to the last digits of the series.

    Notes
    -----
    Source: `Timoshenko plates`: M. Lévy's single series, eq. (139).
    """
    short, long = _sides(a, b)
    above_zero(rigidity=rigidity)
    total = 0.0
    for m in range(1, 60, 2):
        al = m * math.pi * long / (2 * short)
        # Written with exp(-al), so that a slender plate does not overflow.
        e = math.exp(-2 * al)
        tanh, sech = (1 - e) / (1 + e), 2 * math.exp(-al) / (1 + e)
        total += (-1) ** ((m - 1) // 2) / m**5 * (1 - (al * tanh + 2) / 2 * sech)
    return 4 * pressure * short**4 / (math.pi**5 * rigidity) * total


def supported_uniform_moments(pressure: float, a: float, b: float, poisson: float = 0.3) -> tuple[float, float]:
    """Return the centre moments of a simply supported plate under uniform load, N mm per mm.

    Parameters
    ----------
    pressure : float
        Load, MPa.
    a, b : float
        Sides, mm.
    poisson : float, optional
        Poisson's ratio.

    Returns
    -------
    (float, float)
        Moment that bends the sides' spans a and b; stress is 6 M / t².

    Notes
    -----
    Source: `Timoshenko plates`: second derivatives of Lévy's series, art. 30.
    """
    short, long = _sides(a, b)
    poisson_ratio(poisson)
    xx = yy = 0.0
    for m in range(1, 2000, 2):
        al = m * math.pi * long / (2 * short)
        e = math.exp(-2 * al)
        tanh, sech = (1 - e) / (1 + e), 2 * math.exp(-al) / (1 + e)
        sign = (-1) ** ((m - 1) // 2) / m**3
        xx += sign * (1 - (al * tanh + 2) / 2 * sech)
        yy += sign * (al * tanh / 2) * sech
    scale = 4 * pressure * short**2 / math.pi**3
    across, along = scale * (xx + poisson * yy), scale * (yy + poisson * xx)
    return (across, along) if a <= b else (along, across)


def supported_point(force: float, a: float, b: float, rigidity: float) -> float:
    """Return the deflection under a force at the centre of a simply supported plate, mm.

    Parameters
    ----------
    force : float
        Force, N.
    a, b : float
        Sides, mm.
    rigidity : float
        D, N mm.

    Returns
    -------
    float
        Linear deflection; moments under a point are infinite and not given.

    Notes
    -----
    Source: `Timoshenko plates`, single series of art. 34, eq. (146).
    """
    short, long = _sides(a, b)
    above_zero(rigidity=rigidity)
    total = 0.0
    for m in range(1, 400, 2):
        al = m * math.pi * long / (2 * short)
        e = math.exp(-2 * al)
        tanh, sech2 = (1 - e) / (1 + e), 4 * e / (1 + e) ** 2
        total += (tanh - al * sech2) / m**3
    # The rest of the series is that of 1/m³, summed by its integral.
    total += 1 / (4 * 400**2)
    return force * short**2 / (2 * math.pi**3 * rigidity) * total


def clamped_uniform(pressure: float, a: float, b: float, rigidity: float) -> float:
    """Return the centre deflection of a plate with clamped edges under uniform load, mm.

    Parameters
    ----------
    pressure : float
        Load, MPa.
    a, b : float
        Sides, mm.
    rigidity : float
        D, N mm.

    Returns
    -------
    float
        Linear deflection, within 1 % up to 2 to 1 and 2.5 % beyond (table, linear between its rows in a/b).

    Notes
    -----
    Source: `Timoshenko plates` table 35.
    """
    short, long = _sides(a, b)
    above_zero(rigidity=rigidity)
    return _between(_CLAMPED_UNIFORM, long / short, 1) * pressure * short**4 / rigidity


def clamped_uniform_moments(pressure: float, a: float, b: float) -> tuple[float, float]:
    """Return the largest edge moment and the centre moment of a clamped plate under uniform load, N mm per mm.

    Parameters
    ----------
    pressure : float
        Load, MPa.
    a, b : float
        Sides, mm.

    Returns
    -------
    (float, float)
        At the middle of the long edge (bends the other way) and at the centre
        across the short span, both as magnitudes; nu = 0.3, within 1.5 % up to 2 to 1 and 2.5 % beyond.

    Notes
    -----
    Source: `Timoshenko plates` table 35.
    """
    short, long = _sides(a, b)
    q = pressure * short**2
    return q * _between(_CLAMPED_UNIFORM, long / short, 2), q * _between(_CLAMPED_UNIFORM, long / short, 3)


def clamped_point(force: float, a: float, b: float, rigidity: float) -> float:
    """Return the deflection under a force at the centre of a plate with clamped edges, mm.

    Parameters
    ----------
    force : float
        Force, N.
    a, b : float
        Sides, mm; the longer at most twice the shorter.
    rigidity : float
        D, N mm.

    Returns
    -------
    float
        Linear deflection, within 1 %.

    Raises
    ------
    OutOfRange
        Longer than 2 to 1, where the table ends.

    Notes
    -----
    Source: `Timoshenko plates` table 37.
    """
    short, long = _sides(a, b)
    above_zero(rigidity=rigidity)
    in_range("long side over short side", long / short, 1.0, 2.0, "Timoshenko, Plates and Shells, table 37")
    return _between(_CLAMPED_POINT, long / short, 1) * force * short**2 / rigidity


def supported_frequency(a: float, b: float, rigidity: float, mass: float, m: int = 1, n: int = 1) -> float:
    """Return a natural frequency of a simply supported plate, Hz.

    Parameters
    ----------
    a, b : float
        Sides, mm.
    rigidity : float
        D, N mm.
    mass : float
        Mass per area, kg/m².
    m, n : int, optional
        Half waves along a and b, from 1.

    Returns
    -------
    float
        f = (pi/2) (m²/a² + n²/b²) sqrt(D / mass), exact.

    Notes
    -----
    Source: `Leissa`, eq. for four simply supported edges.
    """
    return orthotropic.frequency(a, b, rigidity, rigidity, rigidity, mass, m, n)


def clamped_frequency(a: float, b: float, rigidity: float, mass: float) -> float:
    """Return the first natural frequency of a plate with clamped edges, Hz.

    Parameters
    ----------
    a, b : float
        Sides, mm.
    rigidity : float
        D, N mm.
    mass : float
        Mass per area, kg/m².

    Returns
    -------
    float
        Upper bound of one beam function each way, at most 0.4 % high.

    Notes
    -----
    Source: `Warburton`: 22.373 sqrt(1 + 0.6047 (a/b)² + (a/b)⁴) in units of sqrt(D/m)/(2 pi a²).
    """
    short, long = _sides(a, b)
    above_zero(rigidity=rigidity, mass=mass)
    s = short / long
    shape = 22.3733 * math.sqrt(1 + 0.6047 * s**2 + s**4)
    return shape / (math.tau * short**2) * math.sqrt(rigidity / (mass * 1e-9))


def _sides(a: float, b: float) -> tuple[float, float]:
    above_zero("mm", a=a, b=b)
    return min(a, b), max(a, b)


def _between(table: tuple[tuple[float, ...], ...], ratio: float, column: int) -> float:
    """Interpolate linearly in a/b (the last row may stand for an infinitely long plate)."""
    x = 1 / ratio
    for low, high in itertools.pairwise(table):
        if 1 / high[0] <= x <= 1 / low[0]:
            share = (1 / low[0] - x) / (1 / low[0] - 1 / high[0])
            return low[column] + share * (high[column] - low[column])
    return table[-1][column]
