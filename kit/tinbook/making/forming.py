"""To which angle a fold is formed so that the wanted one stays, held to what its tool closes."""

from __future__ import annotations

from typing import Final

from tinbook.calc.springback import angle_to_form, radius_ratio, springback_factor
from tinbook.errors import OutOfRange
from tinbook.making.folded import BendZone
from tinbook.making.made import Made
from tinbook.values import dataclass

ASSUMED_SPRING: Final = 2.0
"""Degrees of springback where neither a table nor a formula answers (common practice)."""


@dataclass(frozen=True, slots=True)
class Forming:
    """Angles of one hit.

    Parameters
    ----------
    left : float
        Degrees that shall stay.
    formed : float
        Degrees to turn so that they stay.
    factor : float or None
        Springback factor; None where none is known.
    source, note : str
        Where the factor comes from; the cautions.
    over : (float, float) or None
        Between how many degrees it may spring back: the sheet as soft and as hard as its grade allows. A screen.
    """

    left: float
    formed: float
    factor: float | None
    source: str
    note: str = ""
    over: tuple[float, float] | None = None


def springback_band(made: Made, strip: BendZone, factor: float | None = None) -> tuple[float, float] | None:
    """Return least and most springback of a fold, degrees; None where the bend would stay elastic.

    Parameters
    ----------
    made : Made
        For the sheet: its least yield and largest tensile strength bound the stress of the bent metal.
    strip : BendZone
        The fold.
    factor : float, optional
        Of the trade table; the band reaches to it.
    """
    material, middle = made.sheet.material, strip.radius + made.thickness / 2.0
    try:
        ratios = [
            radius_ratio(middle, made.thickness, stress, material.youngs, hardened=True)
            for stress in (material.yield_min, material.tensile_max)
        ]
    except OutOfRange:
        return None
    ratios += [factor] if factor is not None else []
    if min(ratios) <= 0.0:
        return None
    least, most = (angle_to_form(strip.angle, r) - strip.angle for r in (max(ratios), min(ratios)))
    return least, most


def forming(made: Made, strip: BendZone, level: int) -> Forming:
    """Return the angle to form at a hit of a fold, springback considered and held to what the tool closes.

    Parameters
    ----------
    made : Made
        For sheet and tools.
    strip : BendZone
        The fold.
    level : int
        1, or 2 for the pressing of a hem.
    """
    if not strip.bend.tool:
        return Forming(
            strip.angle, strip.angle, None, "common practice", "rolled on until it keeps its shape on the bar"
        )
    hits = made.shop.tool(strip.bend.tool).hits(strip.angle)
    if len(hits) > 1:
        left = hits[level - 1]
        return Forming(left, left, None, "common practice", "" if level == 1 else "pressed home, no springback")
    metal, ratio = made.sheet.material.springback, strip.radius / made.thickness
    note = ""
    try:
        factor: float | None = springback_factor(metal, strip.radius, made.thickness) if metal else None
    except OutOfRange:
        factor = springback_factor(metal, max(1.0, min(ratio, 40.0)) * made.thickness, made.thickness)
        note = f"the springback table starts at r/t = 1 and this is {ratio:.2f}: its nearest value is used"
    source = "trade tables"
    over = springback_band(made, strip, factor)
    if factor is None:
        spring = ASSUMED_SPRING if over is None else sum(over) / 2.0
        wanted, source = strip.angle + spring, "common practice" if over is None else "Kalpakjian"
        how = "assumed" if over is None else "reckoned from its strength"
        note = f"no springback table for {made.sheet.material.key}: {spring:.2g} degrees {how}, fold a strip first"
    else:
        wanted = angle_to_form(strip.angle, factor)
    most = made.shop.tool(strip.bend.tool).closes
    if wanted > most + 1e-9:
        note = f"the tool stops at {most:g} degrees; {wanted:.1f} would be needed against springback"
        wanted = max(most, strip.angle)
    return Forming(strip.angle, wanted, factor, source, note, over)
