"""What welds pull in as they cool: across, along, and out of square. Steel, fillets; sizes in mm, forces in N.

Rules of thumb from measured joints, which scatter by half; a first weld of your own settles them.
"""

from __future__ import annotations

import math

from tinbook.calc.limits import above_zero, in_range, not_negative


def fillet_shrinkage(leg: float, thickness: float, *, lap: bool = False) -> float:
    """Return how much a fillet draws the plate under it together, square to the weld, mm.

    Parameters
    ----------
    leg : float
        Of the fillet, 1.41 times its throat, mm.
    thickness : float
        Of the plate that is drawn together, mm; the leg is 0.2 to 1.5 times as much.
    lap : bool, optional
        Whether the fillets are those of a lap; else one sheet stands on the other.

    Returns
    -------
    float
        1.02 leg / t of a tee, 1.52 leg / t of a lap.

    Raises
    ------
    OutOfRange
        Other legs.

    Notes
    -----
    Source: `Spraragen 1950`, steel, fillets on both sides, free to move. A welding institute allows 0.8 mm for a leg of up
    to 3/4 of the thickness.
    """
    above_zero("mm", leg=leg, thickness=thickness)
    in_range("leg / thickness", leg / thickness, 0.2, 1.5, "own limit to Spraragen 1950")
    return (1.52 if lap else 1.02) * leg / thickness


def tendon_force(area: float, youngs: float) -> float:
    """Return the force with which a weld pulls along itself, N.

    Parameters
    ----------
    area : float
        Of the weld metal's section, mm²: the square of a fillet's throat.
    youngs : float
        Of the plates, MPa.

    Returns
    -------
    float
        0.04 E A: it shortens a member by F L / (E A) and bows one that it does not run through the middle of.

    Notes
    -----
    Source: `Blodgett`, from its bow 0.005 A d L² / I of a member with a weld at d from its axis: what a force F at d bows,
    F d L² / 8 E I.
    """
    above_zero("MPa", youngs=youngs)
    not_negative("mm²", area=area)
    return 0.04 * youngs * area


def tee_angle(leg: float, thickness: float) -> float:
    """Return by how much a plate turns out of flat under the fillets of a tee, degrees on each side.

    Parameters
    ----------
    leg, thickness : float
        Of the fillets, and of the plate that they lie on, 6 to 25 mm.

    Returns
    -------
    float
        0.04 leg^1.3 / t² in radians and inches.

    Raises
    ------
    OutOfRange
        Other plates: thin sheet is heated through and turns less than this.

    Notes
    -----
    Source: `Blodgett`, warpage 0.02 W leg^1.3 / t² of a flange W wide, by inches.
    """
    above_zero("mm", leg=leg, thickness=thickness)
    in_range("thickness", thickness, 6.0, 25.0, "own limit to Blodgett", "mm")
    return math.degrees(0.04 * (leg / 25.4) ** 1.3 / (thickness / 25.4) ** 2)
