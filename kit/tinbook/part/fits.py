"""Fits of cut plates: the play that a process needs, how thick plate may come, how wide a slot has to be."""

from __future__ import annotations

import math
from typing import Final, Literal

from tinbook.calc.sheet_tolerances import thickness_tolerance
from tinbook.errors import BadValue

Process = Literal["laser", "plasma", "waterjet"]

FIT: Final = {"laser": 0.15, "waterjet": 0.15, "plasma": 0.5}
"""mm: play of a tab in its slot over the thickest plate, by cutting process (common practice)."""


def largest_thickness(nominal: float, yield_min: float = 235.0) -> float:
    """Return the largest thickness in which hot-rolled plate may come, mm.

    Parameters
    ----------
    nominal : float
        As ordered, 0.5 to 25 mm.
    yield_min : float
        Its least yield strength, MPa, 0 to 460: stronger plate has wider tolerances.

    Returns
    -------
    float
        Nominal and upper tolerance of strip plate 1200 to 1500 mm wide.

    Raises
    ------
    BadValue
        Outside the table.

    Notes
    -----
    Source: `EN 10051` table 1: category A to 300 MPa, B (+15 %) to 360, C (+30 %) to 420, D (+40 %) above.
    """
    if not 0.5 <= nominal <= 25.0:
        raise BadValue("nominal thickness", nominal, "0.5 to 25 mm")
    if not 0 < yield_min <= 460:
        raise BadValue("yield_min", yield_min, "above 0 to 460 MPa")
    # Plate thinner than the standard's is as its thinnest.
    return nominal + thickness_tolerance("EN 10051", max(nominal, 0.8), 1500.0, yield_min).plus_minus


def slot_width(tab: float, plate: float, angle: float = 90.0, fit: float = 0.0) -> float:
    """Return the width of a square-cut slot through which a tab of a slanting plate passes, mm.

    Parameters
    ----------
    tab, plate : float
        Largest thickness of the plate with the tab, thickness of the one with the slot, mm.
    angle : float
        Between the plates, degrees, 20 to 160.
    fit : float
        Play, mm.

    Returns
    -------
    float
        tab/sin(angle) + plate |cot(angle)| + fit.

    Raises
    ------
    BadValue
        Angles at which the slot would become a long cut.

    Notes
    -----
    Source: `geometry`.
    """
    if not 20.0 <= angle <= 160.0:
        raise BadValue("angle between plates", angle, "20 to 160 degrees")
    a = math.radians(angle)
    return tab / math.sin(a) + plate * abs(math.cos(a)) / math.sin(a) + fit
