"""Holes that are drawn into a collar: what has to be pierced first."""

from __future__ import annotations

import math

from tinbook.errors import BadValue


def pilot_before_drawing(volume: float, around: float, thickness: float) -> float:
    """Return the diameter of the hole from which a collar is drawn, by constant volume.

    Parameters
    ----------
    volume : float
        Metal of the finished collar within `around`, sheet included, mm³, greater than 0.
    around : float
        Diameter within which the sheet is no longer flat, mm, greater than 0.
    thickness : float
        Sheet, mm, greater than 0.

    Returns
    -------
    float
        mm; 0 where the collar holds all the metal of a disc without a hole, or more.

    Raises
    ------
    BadValue
        A value that is not greater than 0.

    Notes
    -----
    Source: geometry, pi/4 (around² - pilot²) thickness = volume. Exact for metal that keeps its volume and moves only within
    `around`; trials decide, since friction and a worn punch pull in more.
    """
    for name, value in (("volume", volume), ("around", around), ("thickness", thickness)):
        if not value > 0:
            raise BadValue(name, value, "greater than 0")
    return math.sqrt(max(around**2 - 4.0 * volume / (math.pi * thickness), 0.0))
