"""Rectangular plates that are stiffer one way than the other, all edges simply supported.

As in `calc.plates`: thin plates after Kirchhoff, rigidities in N mm, loads in MPa, results in mm and Hz, and linear.
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from tinbook.calc.limits import above_zero, not_negative
from tinbook.errors import BadValue


def uniform(pressure: float, a: float, b: float, d_a: float, d_b: float, h: float, *, terms: int = 41) -> float:
    """Return the centre deflection of a simply supported orthotropic plate under uniform load, mm.

    Parameters
    ----------
    pressure : float
        Load, MPa.
    a, b : float
        Sides, mm.
    d_a, d_b : float
        Rigidities for bending of the spans a and b, N mm.
    h : float
        Twisting rigidity H = D1 + 2 Dxy (D for an isotropic plate), N mm.
    terms : int, optional
        Highest half wave of the double series.

    Returns
    -------
    float
        Linear deflection.

    Notes
    -----
    Source: `Timoshenko plates`, Navier's double series, art. 85.
    """
    above_zero(a=a, b=b, d_a=d_a, d_b=d_b)
    not_negative(h=h)
    # All terms at once: this runs at every move of a slider.
    square, share = _odd_waves(terms)
    p, q = square / a**2, square / b**2
    stiff = (d_a * p * p)[:, None] + (2 * h * p)[:, None] * q + d_b * q * q
    return float(16 * pressure / math.pi**6 * (share / stiff).sum())


@lru_cache(maxsize=8)
def _odd_waves(terms: int) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """Return the squares of odd numbers of half waves, and the share of the load that each pair of them takes."""
    odd = np.arange(1.0, terms + 1.0, 2.0)
    share = np.where(odd % 4 == 1, 1.0, -1.0) / odd
    return odd * odd, share[:, None] * share


def frequency(a: float, b: float, d_a: float, d_b: float, h: float, mass: float, m: int = 1, n: int = 1) -> float:
    """Return a natural frequency of a simply supported orthotropic plate, Hz.

    Parameters
    ----------
    a, b : float
        Sides, mm.
    d_a, d_b : float
        Rigidities for bending of the spans a and b, N mm.
    h : float
        Twisting rigidity H, N mm.
    mass : float
        Mass per area, kg/m².
    m, n : int, optional
        Half waves along a and b, from 1.

    Returns
    -------
    float
        f = (pi/2) sqrt((Da m⁴/a⁴ + 2 H m²n²/a²b² + Db n⁴/b⁴) / mass), exact.

    Notes
    -----
    Source: `Leissa`, orthotropic plates with four simply supported edges.
    """
    above_zero(a=a, b=b, d_a=d_a, d_b=d_b, mass=mass)
    not_negative(h=h)
    if m < 1 or n < 1:
        raise BadValue("half waves", (m, n), "whole numbers from 1")
    stiff = d_a * (m / a) ** 4 + 2 * h * (m * n / (a * b)) ** 2 + d_b * (n / b) ** 4
    return math.pi / 2 * math.sqrt(stiff / (mass * 1e-9))
