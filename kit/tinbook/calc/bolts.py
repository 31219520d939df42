"""Bolts themselves: strength classes, proof load and stress area. Sizes in mm, strengths in MPa."""

from __future__ import annotations

import math
from typing import Final

from tinbook.calc.limits import above_zero, in_range
from tinbook.errors import BadValue, UnknownName

BOLT_CLASSES: Final[dict[str, tuple[float, float]]] = {
    "4.6": (240, 400),
    "4.8": (320, 400),
    "5.6": (300, 500),
    "5.8": (400, 500),
    "6.8": (480, 600),
    "8.8": (640, 800),
    "10.9": (900, 1000),
}
"""Yield and tensile strength of bolts by class, MPa (EN 1993-1-8 table 3.1)."""


PROOF: Final[dict[str, float]] = {
    "4.6": 225,
    "4.8": 310,
    "5.6": 280,
    "5.8": 380,
    "6.8": 440,
    "8.8": 580,
    "10.9": 830,
}
"""Stress under proof load by class, MPa (ISO 898-1); 8.8 above M16 has 600."""


def proof_strength(bolt_class: str, diameter: float) -> float:
    """Return the stress under proof load of a bolt, MPa.

    Parameters
    ----------
    bolt_class : str
        Property class, one of `PROOF`.
    diameter : float
        Of the thread, 3 to 39 mm.

    Returns
    -------
    float
        580 for class 8.8 up to M16, 600 above.

    Raises
    ------
    UnknownName
        Another class.
    OutOfRange
        Another diameter.

    Notes
    -----
    Source: `ISO 898-1`, stress under proof load.
    """
    if bolt_class not in PROOF:
        raise UnknownName("bolt class", bolt_class, PROOF)
    in_range("diameter", diameter, 3.0, 39.0, "ISO 898-1, coarse threads", "mm")
    return 600.0 if bolt_class == "8.8" and diameter > 16.0 else PROOF[bolt_class]


def bolt_strength(bolt_class: str) -> tuple[float, float]:
    """Return yield and tensile strength of a bolt, MPa.

    Parameters
    ----------
    bolt_class : str
        Property class, one of `BOLT_CLASSES`.

    Returns
    -------
    (float, float)
        fyb and fub.

    Raises
    ------
    UnknownName
        Another class.

    Notes
    -----
    Source: `EN 1993-1-8` table 3.1.
    """
    if bolt_class not in BOLT_CLASSES:
        raise UnknownName("bolt class", bolt_class, BOLT_CLASSES)
    return BOLT_CLASSES[bolt_class]


def stress_area(diameter: float, pitch: float) -> float:
    """Return the tensile stress area of an ISO metric thread, mm².

    Parameters
    ----------
    diameter, pitch : float
        Nominal diameter and pitch, mm.

    Returns
    -------
    float
        pi/4 (d - 0.9382 P)².

    Notes
    -----
    Source: `ISO 898-1` 9.1.6.
    """
    above_zero("mm", diameter=diameter, pitch=pitch)
    if pitch > diameter / 3:
        raise BadValue("pitch", pitch, f"a thread pitch, at most a third of the diameter {diameter:g} mm")
    return math.pi / 4 * (diameter - 0.9382 * pitch) ** 2
