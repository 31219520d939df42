"""Fatigue of welds and cut edges: the range of stress that a detail bears."""

from __future__ import annotations

import math
from typing import Final

from tinbook.calc.limits import in_range

LIMIT_CYCLES: Final = 5e6
"""Cycles of constant range from which a detail bears any number."""
TOE: Final = 36.0
"""MPa, the lowest detail category of fillet-welded laps and cover ends: what a weld toe counts as until it is classed."""


def fatigue_range(category: float, cycles: float, gamma: float = 1.35) -> float:
    """Return the stress range that a detail bears for a number of cycles, MPa.

    Parameters
    ----------
    category : float
        Detail category, MPa at 2 million cycles: 125 machine-cut edge, 71 to 80 cruciform weld toe, 36 to 56
        fillet-welded lap and cover ends.
    cycles : float
        Number of cycles of constant range, from 10 000.
    gamma : float, optional
        Partial factor, 1.15 to 1.35.

    Returns
    -------
    float
        category (2e6 / N)^(1/3) / gamma; constant from 5 million cycles on.

    Raises
    ------
    OutOfRange
        Category outside 36 to 160, fewer cycles, or a factor below 1.

    Notes
    -----
    Source: `EN 1993-1-9` 7.1, constant amplitude. For spectra the slope 5 and
    the cut-off at 100 million cycles of the same clause apply, which is not done here.
    """
    in_range("category", category, 36.0, 160.0, "EN 1993-1-9 tables 8", "MPa")
    in_range("cycles", cycles, 1e4, math.inf, "EN 1993-1-9 7.1")
    in_range("partial factor", gamma, 1.0, 2.0, "EN 1993-1-9 table 3.1")
    return category * math.cbrt(2e6 / min(cycles, LIMIT_CYCLES)) / gamma
