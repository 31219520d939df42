"""Buckling of thin flat fields between folds and beads, and what still carries afterwards."""

from __future__ import annotations

import math
from typing import Final

from tinbook.calc.limits import above_zero, poisson_ratio

BUCKLING: Final[dict[str, float]] = {
    "simply supported": 4.0,
    "clamped": 6.97,
    "one edge free": 0.425,
}
"""k of a long plate pressed along its length, by its unloaded edges (Timoshenko and Gere; one edge free at nu 0.3)."""


def buckling_stress(k: float, youngs: float, thickness: float, width: float, poisson: float = 0.3) -> float:
    """Return the elastic buckling stress of a plate in MPa.

    Parameters
    ----------
    k : float
        Buckling factor, see `BUCKLING`.
    youngs : float
        Young's modulus, MPa.
    thickness, width : float
        Thickness and loaded width, mm.
    poisson : float, optional
        Poisson's ratio.

    Returns
    -------
    float
        k pi² E / 12 (1 - nu²) (t/b)²; above the yield strength it is only a measure of slenderness.

    Notes
    -----
    Source: `Timoshenko stability` 9.2; `EN 1993-1-5` annex A.1.
    """
    above_zero(k=k, youngs=youngs, thickness=thickness, width=width)
    poisson_ratio(poisson)
    return k * math.pi**2 * youngs / (12 * (1 - poisson**2)) * (thickness / width) ** 2


def plate_slenderness(yield_strength: float, critical: float) -> float:
    """Return the slenderness of a plate.

    Parameters
    ----------
    yield_strength, critical : float
        Yield strength and elastic buckling stress, MPa.

    Returns
    -------
    float
        sqrt(fy / critical stress).

    Notes
    -----
    Source: `EN 1993-1-5` 4.4(2).
    """
    above_zero("MPa", yield_strength=yield_strength, critical=critical)
    return math.sqrt(yield_strength / critical)


def effective_share(slenderness: float, *, outstand: bool = False) -> float:
    """Return the share of a pressed plate's width that still works after buckling.

    Parameters
    ----------
    slenderness : float
        From `plate_slenderness`.
    outstand : bool, optional
        True for a plate with one edge free, False for one held along both.

    Returns
    -------
    float
        rho between 0 and 1; uniform compression.

    Notes
    -----
    Source: `EN 1993-1-5`, Winter's formula, 4.4(2): held
    (l - 0.22)/l² above 0.673, outstand (l - 0.188)/l² above 0.748.
    """
    above_zero(slenderness=slenderness)
    start, shift = (0.748, 0.188) if outstand else (0.673, 0.22)
    return 1.0 if slenderness <= start else min(1.0, (slenderness - shift) / slenderness**2)
