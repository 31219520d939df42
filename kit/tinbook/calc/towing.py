"""Towing and winching: the eye for a broken-down car, the trailer's coupling, a snatch block's anchor.

Masses kg, forces N. Who must sign stands on each: `loads.ENGINEER`. Recovery is another
matter, see `loads.recovery_cases`.
"""

from __future__ import annotations

import math

from tinbook.calc.limits import above_zero, in_range
from tinbook.calc.loads import ENGINEER, WAYS, LoadCase


def tow_eye_force(laden_mass: float) -> float:
    """Return the static force that a towing eye must bear, pulling and pushing, N.

    Parameters
    ----------
    laden_mass : float
        Technically permissible maximum laden mass of the vehicle, kg.

    Returns
    -------
    float
        Half of the weight, with 9.81 m/s². For towing a broken-down car on the road, not for recovery.

    Notes
    -----
    Source: `EU 1005/2010`. To be signed: see `loads.ENGINEER`.
    """
    above_zero("kg", laden_mass=laden_mass)
    return 0.5 * laden_mass * 9.81


def coupling_forces(trailer_mass: float) -> tuple[LoadCase, ...]:
    """Return the static test forces of a trailer coupling up to 3.5 t.

    Parameters
    ----------
    trailer_mass : float
        Aggregate trailer mass, kg, at most 3500.

    Returns
    -------
    tuple of LoadCase
        1.5 along, 0.5 across and 0.5 upright of the weight, each for 10 s without lasting bend that harms its work.

    Raises
    ------
    OutOfRange
        Heavier trailers.

    Notes
    -----
    Source: `ADR 62` 12.3.2.1.
    """
    above_zero("kg", trailer_mass=trailer_mass)
    in_range("trailer mass", trailer_mass, 0.0, 3500.0, "ADR 62 12.3.2.1", "kg")
    weight = 9.81 * trailer_mass
    shares = {"forward": 1.5, "rearward": 1.5, "left": 0.5, "right": 0.5, "up": 0.5, "down": 0.5}
    return tuple(
        LoadCase(
            name=f"coupling {way}",
            direction=WAYS[way],
            value=share * weight,
            unit="N",
            against="yield",
            source="ADR 62",
            signs=ENGINEER,
        )
        for way, share in shares.items()
    )


def snatch_block_force(line_pull: float, between: float = 0.0) -> float:
    """Return the force on a snatch block and its anchor, N.

    Parameters
    ----------
    line_pull : float
        Tension of the rope that runs through it, N.
    between : float, optional
        Angle between the two parts of the rope, degrees, 0 to 180.

    Returns
    -------
    float
        2 T cos(between / 2): twice the line pull where both parts are parallel.

    Raises
    ------
    OutOfRange
        An angle outside 0 to 180.

    Notes
    -----
    Source: `geometry`, without friction of the sheave. To be signed: see `loads.ENGINEER`.
    """
    above_zero("N", line_pull=line_pull)
    in_range("angle between the rope's parts", between, 0.0, 180.0, "a sheave", "deg")
    return 2 * line_pull * math.cos(math.radians(between) / 2)
