"""Rubber as a layer: how stiff it is pressed and sheared between two faces."""

from __future__ import annotations

from typing import Final

import numpy as np

from tinbook.calc.limits import above_zero, in_range

_HARDNESS: Final = (30.0, 35.0, 40.0, 45.0, 50.0, 55.0, 60.0, 65.0, 70.0, 75.0)
_YOUNGS: Final = (0.92, 1.18, 1.50, 1.80, 2.20, 3.25, 4.45, 5.85, 7.35, 9.40)
_SHEAR: Final = (0.30, 0.37, 0.45, 0.54, 0.64, 0.81, 1.06, 1.37, 1.73, 2.22)


def rubber_moduli(hardness: float) -> tuple[float, float]:
    """Return Young's and shear modulus of natural rubber by its hardness, MPa.

    Parameters
    ----------
    hardness : float
        IRHD, which is Shore A within two points, 30 to 75.

    Returns
    -------
    (float, float)
        E and G at small strain.

    Raises
    ------
    OutOfRange
        Outside the table.

    Notes
    -----
    Source: `Lindley rubber`, table of natural rubber. Compounds differ by a fifth.
    """
    in_range("hardness", hardness, 30.0, 75.0, "Lindley's table", "IRHD")
    return float(np.interp(hardness, _HARDNESS, _YOUNGS)), float(np.interp(hardness, _HARDNESS, _SHEAR))


def rubber_layer(hardness: float, thickness: float) -> tuple[float, float]:
    """Return the stiffness of a square millimetre of rubber layer: pressed and sheared, N/mm³.

    Parameters
    ----------
    hardness : float
        IRHD, 30 to 75.
    thickness : float
        mm.

    Returns
    -------
    (float, float)
        E/t and G/t: a strip that is free to bulge; one that is bonded and wide is stiffer.

    Notes
    -----
    Source: `Lindley rubber`, compression without a shape factor.
    """
    above_zero("mm", thickness=thickness)
    e, g = rubber_moduli(hardness)
    return e / thickness, g / thickness
