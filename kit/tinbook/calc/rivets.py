"""Blind rivets: what they bear by standard, their holes and heads, the length for a grip, and what the sheet round them bears.

Forces in N, sizes in mm, strengths in MPa.
"""

from __future__ import annotations

import math
from typing import Final

from tinbook.calc.joints import GAMMA_M2
from tinbook.calc.limits import above_zero, in_range
from tinbook.errors import BadValue, OutOfRange, UnknownName
from tinbook.values import dataclass

_LOADS: Final[dict[str, dict[float, tuple[float, float]]]] = {
    "ISO 15977": {
        2.4: (250, 350),
        3.0: (400, 550),
        3.2: (500, 700),
        4.0: (850, 1200),
        4.8: (1200, 1700),
        5.0: (1400, 2000),
        6.0: (2100, 3000),
        6.4: (2200, 3150),
    },
    "ISO 15979": {
        2.4: (650, 700),
        3.0: (950, 1100),
        3.2: (1100, 1200),
        4.0: (1700, 2200),
        4.8: (2900, 3100),
        5.0: (3100, 4000),
        6.0: (4300, 4800),
        6.4: (4900, 5700),
    },
    "ISO 15983": {
        3.0: (1800, 2200),
        3.2: (1900, 2500),
        4.0: (2700, 3500),
        4.8: (4000, 5000),
        5.0: (4700, 5800),
    },
}
"""Least shear and tensile load by diameter: aluminium body and steel mandrel (class L), steel and steel, A2 and A2."""
RIVETS: Final = tuple(_LOADS)
HOLE: Final = (0.1, 0.2)
"""mm by which the hole is larger than the rivet, least and most."""

_GRIPS: Final = {
    6.0: ((0.5, 3.0), (1.5, 3.5), (1.0, 3.0), (1.5, 2.5), None),
    8.0: (None, (3.5, 5.0), (3.0, 5.0), (2.5, 4.0), None),
    10.0: (None, (5.0, 7.0), (5.0, 6.5), (4.0, 6.0), None),
    12.0: ((6.0, 9.0), (7.0, 9.0), (6.5, 8.5), (6.0, 8.0), (3.0, 6.0)),
    16.0: (None, (9.0, 13.0), (8.5, 12.5), (8.0, 12.0), (6.0, 10.0)),
    20.0: (None, (13.0, 17.0), (12.5, 16.5), (12.0, 15.0), (10.0, 14.0)),
    25.0: (None, (17.0, 22.0), (16.5, 21.0), (15.0, 20.0), (14.0, 18.0)),
}
"""Grip by length, for diameters up to 2.4, 3.2, 4, 5 and 6.4 mm."""
_COLUMNS: Final = (2.4, 3.2, 4.0, 5.0, 6.4)


@dataclass(frozen=True, slots=True, kw_only=True)
class BlindRivet:
    """An open blind rivet with a protruding head.

    Parameters
    ----------
    standard : str
    dia : float
        Nominal, mm.
    shear, tension : float
        Least loads, N.
    head : float
        Largest diameter of its head, mm.
    """

    standard: str
    dia: float
    shear: float
    tension: float
    head: float

    @property
    def hole(self) -> float:
        """Its hole, mm; up to 0.1 mm more is right."""
        return round(self.dia + HOLE[0], 2)


def blind_rivet(standard: str, dia: float) -> BlindRivet:
    """Return what a blind rivet bears, its hole and its head.

    Parameters
    ----------
    standard : str
        ``"ISO 15977"`` (aluminium body, steel mandrel, class L), ``"ISO 15979"`` (steel), ``"ISO 15983"`` (stainless A2).
    dia : float
        Nominal diameter, mm.

    Returns
    -------
    BlindRivet

    Raises
    ------
    UnknownName
        Another standard.
    BadValue
        A diameter that it does not have.

    Notes
    -----
    Source: `ISO 15977` and those that follow it, from memory. Head: 2.1 d.
    """
    if standard not in _LOADS:
        raise UnknownName("standard of blind rivets", standard, RIVETS)
    if dia not in _LOADS[standard]:
        raise BadValue("diameter of a blind rivet", dia, ", ".join(f"{d:g}" for d in _LOADS[standard]) + " mm")
    shear, tension = _LOADS[standard][dia]
    return BlindRivet(standard=standard, dia=dia, shear=shear, tension=tension, head=round(2.1 * dia, 1))


def rivet_for(standard: str, hole: float) -> BlindRivet:
    """Return the blind rivet that a hole is for: 0.1 to 0.2 mm smaller (source: `ISO 15977`, from memory)."""
    if standard not in _LOADS:
        raise UnknownName("standard of blind rivets", standard, RIVETS)
    for dia in _LOADS[standard]:
        if HOLE[0] - 0.01 <= hole - dia <= HOLE[1] + 0.01:
            return blind_rivet(standard, dia)
    raise BadValue("hole of a blind rivet", hole, "0.1 to 0.2 mm more than a rivet of the standard, mm")


def rivet_sized(size: str) -> float:
    """Return the diameter of a blind rivet, mm, from its size in words such as "4.8" (source: `ISO 15977`, from memory)."""
    known = sorted({dia for loads in _LOADS.values() for dia in loads})
    for dia in known:
        if size.strip() == f"{dia:.1f}":
            return dia
    raise UnknownName("size of a blind rivet", size, [f"{dia:.1f}" for dia in known])


def rivet_in(hole: float) -> float:
    """Return the diameter of the blind rivet that a hole is for, whatever its standard (source: `ISO 15977`, from memory)."""
    for standard in RIVETS:
        try:
            return rivet_for(standard, hole).dia
        except BadValue:
            continue
    return rivet_for(RIVETS[0], hole).dia


def rivet_length(dia: float, grip: float) -> float:
    """Return the shortest length of a blind rivet that holds a grip, mm.

    Parameters
    ----------
    dia : float
        Nominal diameter, 2.4 to 6.4 mm.
    grip : float
        All sheets together, mm.

    Returns
    -------
    float
        Nominal length of the body under the head.

    Raises
    ------
    OutOfRange
        A grip that no length holds.

    Notes
    -----
    Source: `ISO 15981`, recommended grips; makers' own may differ.
    """
    in_range("diameter", dia, 2.4, 6.4, "ISO 15981", "mm")
    above_zero("mm", grip=grip)
    column = next(k for k, upto in enumerate(_COLUMNS) if dia <= upto)
    held = {length: row[column] for length, row in _GRIPS.items()}
    for length, reach in held.items():
        if reach is not None and grip <= reach[1]:
            if grip < reach[0]:
                break
            return length
    some = ", ".join(f"{r[0]:g} to {r[1]:g}" for r in held.values() if r is not None)
    raise OutOfRange("grip", grip, f"{some} mm for rivets of {dia:g} mm (ISO 15981)")


def rivet_bearing(dia: float, thin: float, thick: float, tensile: float, end: float, gamma: float = GAMMA_M2) -> float:
    """Return the force that the sheet round a blind rivet bears, N.

    Parameters
    ----------
    dia : float
        2.6 to 6.4 mm.
    thin, thick : float
        The two sheets, mm; the head lies on the thinner.
    tensile : float
        Of the thinner sheet, at most 550 MPa.
    end : float
        From the rivet to the sheet's end along the force, at least 1.5 d, mm.
    gamma : float, optional
        Partial factor.

    Returns
    -------
    float
        alpha fu d t / gamma, at most fu e1 t / (1.2 gamma); alpha 3.6 sqrt(t / d) up to 2.1 for equal sheets, 2.1 where one
        is 2.5 times as thick, between them along a straight line.

    Raises
    ------
    OutOfRange
        Outside that.

    Notes
    -----
    Source: `EN 1993-1-3` table 8.1, from memory.
    """
    above_zero(thin=thin, tensile=tensile, gamma=gamma)
    clause = "EN 1993-1-3 table 8.1"
    in_range("diameter", dia, 2.6, 6.4, clause, "mm")
    in_range("tensile strength", tensile, 0.0, 550.0, clause, "MPa")
    in_range("end distance", end, 1.5 * dia, math.inf, clause, "mm")
    if thick < thin:
        raise BadValue("thicker sheet", thick, f"at least the thinner one, {thin:g} mm")
    alone = min(3.6 * math.sqrt(thin / dia), 2.1)
    share = min((thick / thin - 1.0) / 1.5, 1.0)
    alpha = alone + (2.1 - alone) * share
    return min(alpha * dia, end / 1.2) * tensile * thin / gamma
