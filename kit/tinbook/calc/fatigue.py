"""Fatigue of steel sheet and its welds: a simple screen, and the range that a detail bears."""

from __future__ import annotations

import math
from typing import Final

from tinbook.calc.limits import above_zero, in_range, not_negative
from tinbook.errors import UnknownName

FATIGUE_SHARE: Final = 0.30
"""Alternating stress over tensile strength below which plain steel sheet is usually left alone (common practice)."""
LIMIT_CYCLES: Final = 5e6
"""Cycles of constant range from which a detail bears any number."""
TOE: Final = 36.0
"""MPa, the lowest detail category of fillet-welded laps and cover ends: what a weld toe counts as until it is classed."""


def fatigue_screen(alternating: float, tensile: float, where: str, category: float = TOE) -> float:
    """Return the utilisation of a simple fatigue screen for steel sheet.

    Parameters
    ----------
    alternating : float
        Amplitude of the stress, MPa.
    tensile : float
        Tensile strength, MPa; that of the sheet does not help a weld, whose toe goes by its detail alone.
    where : str
        "plain" or "weld toe".
    category : float, optional
        Detail category of the weld toe, MPa at 2 million cycles; the lowest by default.

    Returns
    -------
    float
        Plain: amplitude over 0.30 Rm. Weld toe: twice the amplitude over the range that the detail bears for ever at
        constant range, partial factor 1.35. Above 1 look closer.

    Raises
    ------
    UnknownName
        Another place; plug and spot welds have no detail category there and want tests.
    OutOfRange
        Category outside 36 to 160.

    Notes
    -----
    Source: `common practice` (plain), `EN 1993-1-9` 7.1 (weld toe).
    """
    not_negative("MPa", alternating=alternating)
    above_zero("MPa", tensile=tensile)
    if where == "plain":
        return alternating / (FATIGUE_SHARE * tensile)
    if where == "weld toe":
        return 2 * alternating / fatigue_range(category, LIMIT_CYCLES)
    raise UnknownName("where", where, ("plain", "weld toe"))


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
