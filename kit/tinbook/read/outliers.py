"""Which measured reading disagrees with the others, and how large an error each one could hide.

Least squares with a standardised residual for each reading, as surveyors test their networks (W. Baarda, A testing
procedure for use in geodetic networks, 1968; from memory). All readings are taken to scatter alike and independently.
"""

from __future__ import annotations

from statistics import NormalDist
from typing import Final

import numpy as np

from tinbook.plane.loops import Array
from tinbook.values import dataclass

FALSE_ALARM: Final = 0.05
"""Chance that one reading or more of a good set is named as wrong."""
POWER: Final = 0.95
"""Chance that an error of the smallest detectable size is named as one."""
CHECKED: Final = 0.01
"""A reading is unchecked where less than this part of its error shows as its residual."""


def critical(count: int, false_alarm: float = FALSE_ALARM) -> float:
    """Return the largest standardised residual, either way, that `count` good readings exceed by chance so seldom."""
    single = 1.0 - (1.0 - false_alarm) ** (1.0 / count)
    return NormalDist().inv_cdf(1.0 - single / 2.0)


def detectable(count: int, false_alarm: float = FALSE_ALARM, power: float = POWER) -> float:
    """Return the smallest error that is found with the chance `power`, in standard deviations of its own residual."""
    return critical(count, false_alarm) + NormalDist().inv_cdf(power)


@dataclass(frozen=True, slots=True, kw_only=True)
class Tested:
    """Readings held against each other.

    Parameters
    ----------
    shares : array (n,)
        Part of an error in each reading that shows as its residual, 0 to 1.
    standardised : array (n,)
        Residual over its own standard deviation; 0 for unchecked readings.
    hidden : array (n,)
        Smallest error that would be found, in the unit of the residuals; infinite for unchecked readings.
    limit : float
        Standardised residuals beyond it are no scatter.
    group : tuple of int
        The reading that disagrees most, and those that may be wrong in its stead; empty where all agree.
    """

    shares: Array
    standardised: Array
    hidden: Array
    limit: float
    group: tuple[int, ...]


def tested(residuals: Array, jacobian: Array, scatter: float) -> Tested:
    """Test the residuals of a least-squares fit.

    Parameters
    ----------
    residuals : array (n,)
        Measured less fitted.
    jacobian : array (n, k)
        Derivatives of the fitted readings by the unknowns, which may hold motions that no reading feels.
    scatter : float
        Standard deviation of one reading, greater than 0.

    Returns
    -------
    Tested
    """
    u, s, _ = np.linalg.svd(jacobian, full_matrices=False)
    u = u[:, s > 1e-6 * s[0]]
    # What the fit leaves of each reading's error: the projection square to the columns.
    left = np.eye(len(residuals)) - u @ u.T
    shares = np.clip(left.diagonal(), 0.0, 1.0)
    checked = shares >= CHECKED
    root = np.sqrt(np.where(checked, shares, 1.0))
    standardised = np.where(checked, residuals / (scatter * root), 0.0)
    n = len(residuals)
    limit = critical(n)
    hidden = np.where(checked, scatter * detectable(n) / root, np.inf)
    return Tested(
        shares=np.where(shares > 1e-9, shares, 0.0),
        standardised=standardised,
        hidden=hidden,
        limit=limit,
        group=_group(np.abs(standardised), left / np.outer(root, root), limit),
    )


def _group(sizes: Array, correlation: Array, limit: float) -> tuple[int, ...]:
    """Return the largest residual beyond the limit and those which scatter alone may have put behind it."""
    worst = int(sizes.argmax())
    if sizes[worst] <= limit:
        return ()
    # The difference of two standardised residuals of correlation r scatters by sqrt(2 (1 - r)).
    behind = NormalDist().inv_cdf(POWER) * np.sqrt(2.0 * np.maximum(1.0 - np.abs(correlation[worst]), 0.0))
    near = np.flatnonzero(sizes >= sizes[worst] * (1.0 - 1e-6) - behind)
    return (worst, *(int(i) for i in near if i != worst))


def studentised(residuals: Array, design: Array, count: int) -> tuple[Array, Array]:
    """Test the points of one edge, whose scatter is not known beforehand.

    Parameters
    ----------
    residuals : array (n,)
        Distances from the fitted line or arc, mm.
    design : array (n, k)
        Derivatives of the distances by the fit's unknowns; n of at least k + 2.
    count : int
        Points of the whole set, which share the chance of a false alarm.

    Returns
    -------
    largest : array (n,)
        Largest distance of each point that the others' scatter explains, mm; one good set in twenty has a point beyond.
    hidden : array (n,)
        Smallest error of each point that would be found, mm.
    """
    from scipy.special import stdtrit

    n, k = design.shape
    u, s, _ = np.linalg.svd(design, full_matrices=False)
    share = np.clip(1.0 - (u[:, s > 1e-9 * s[0]] ** 2).sum(axis=1), 1e-12, 1.0)
    free = n - k - 1
    square = float(residuals @ residuals)
    others = np.sqrt(np.maximum((square - residuals**2 / share) / free, 0.0))
    limit = float(stdtrit(free, 1.0 - (1.0 - (1.0 - FALSE_ALARM) ** (1.0 / count)) / 2.0))
    return limit * others * np.sqrt(share), (limit + float(stdtrit(free, POWER))) * others / np.sqrt(share)
