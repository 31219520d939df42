"""Random vibration: what a resonance makes of it, as one steady acceleration."""

from __future__ import annotations

import math

from tinbook.calc.limits import above_zero, in_range


def miles(frequency: float, quality: float, density: float) -> float:
    """Return the root mean square acceleration of a resonance under random vibration, g.

    Parameters
    ----------
    frequency : float
        Natural frequency, Hz.
    quality : float
        Amplification at resonance, 1 / (2 damping ratio), 5 to 100: 10 to 25 is usual for bolted and welded sheet.
    density : float
        Of the acceleration that shakes its supports, at that frequency, g²/Hz.

    Returns
    -------
    float
        sqrt(pi/2 f Q W). Three times it is a peak that is seldom passed, to be used like a steady acceleration.

    Raises
    ------
    OutOfRange
        Quality outside 5 to 100: the formula is for light damping.

    Notes
    -----
    Source: `Miles 1954`. One resonance alone, and vibration as strong for some way on both sides of it: a screen, where one
    mode carries most of the mass.
    """
    above_zero(frequency=frequency, density=density)
    in_range("quality", quality, 5.0, 100.0, "Miles' formula, light damping")
    return math.sqrt(math.pi / 2 * frequency * quality * density)
