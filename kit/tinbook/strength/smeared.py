"""Equal, straight, parallel beads smeared into an orthotropic plate, and the flat fields that they leave."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from tinbook.calc.beads import bead_field
from tinbook.calc.limits import above_zero, in_range
from tinbook.errors import BadValue

WIDEST_PITCH: Final = 0.6
"""Bead spacing over the beads' span up to which the band was measured."""
SHORTEST_BEAD: Final = 0.6
"""Bead length over the span down to which the band was measured."""

_field = lru_cache(maxsize=64)(bead_field)


@dataclass(frozen=True, slots=True, kw_only=True)
class Bead:
    """Data of equal, straight, parallel beads for the estimate.

    Parameters
    ----------
    width, depth, shoulder : float
        Over the shoulders' outer tangent points, face to face, inside radius; mm.
    length : float or None, optional
        From end to end of the full section, run-outs not counted, mm; None runs edge to edge.
    draw : float, optional
        Draw factor of the rolls, 0 to 1.
    """

    width: float
    depth: float
    shoulder: float
    length: float | None = None
    draw: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Smeared:
    """The beaded sheet as an orthotropic plate, and the flat fields that it leaves between the beads."""

    along: float
    across: float
    twist: float
    more: float
    ends: bool = False
    field: float = 0.0
    alone: bool = False

    def sag(self, pressure: float, d: float) -> float:
        """Deflection of the fields between the beads, edges half clamped, mm."""
        return 1.5 / 384 * pressure * self.field**4 / d

    def slows(self, frequency: float, d: float, mass: float) -> float:
        """First frequency, lowered by the fields' own one (Dunkerley), Hz."""
        if not self.field:
            return frequency
        root = 15.418 if self.alone else 22.373
        own = root / (math.tau * self.field**2) * math.sqrt(d / (mass * 1e-9))
        return 1 / math.hypot(1 / frequency, 1 / own)


def smeared(
    span: float, spread: float, t: float, bead: Bead | None, count: int, youngs: float, poisson: float, d: float
) -> Smeared:
    """Return the plate of `count` equal beads along a span, spread over a width; d is the flat sheet's rigidity.

    Source: `Timoshenko plates` art. 85, as told in `panel_stiffness`.
    """
    if count < 0 or count != int(count):
        raise BadValue("count", count, "a whole number from 0")
    if count == 0:
        return Smeared(along=d, across=d, twist=d, more=1.0)
    if bead is None:
        raise BadValue("bead", bead, f"a Bead, since there are {count}")
    if count * bead.width > spread:
        raise BadValue("count", count, f"at most {int(spread / bead.width)} beads of {bead.width:g} mm side by side")
    inside = span if bead.length is None else bead.length
    above_zero("mm", bead_length=inside)
    if inside > span + 1e-9:
        raise BadValue("bead length", inside, f"at most the span, {span:g} mm")
    pitch = spread / count
    in_range("bead spacing over their span", pitch / span, 0.0, WIDEST_PITCH, "wider, the flats between them rule")
    in_range("bead length over the span", inside / span, SHORTEST_BEAD, 1.0, "shorter, the flat ends rule")
    section = _field(bead.width, bead.depth, bead.shoulder, t, pitch, bead.draw)
    # One bead lies where the panel bends most: its share by the first mode is twice its smeared one.
    ribbed = d + youngs * (section.inertia - section.flat_inertia) * (2 if count == 1 else 1)
    # Compliance of the wall way round; the bead's metal is thinner where it was stretched.
    flat = pitch - bead.width
    metal = (section.section.area - flat * t) / (section.developed - flat)
    across = d * pitch / (flat + (section.developed - flat) * (t / metal) ** 3)
    twist = poisson * across + (1 - poisson) * d * section.developed / pitch
    more = section.mass_gain
    ends = inside < span - 1e-9
    if ends:
        # Share of a simply supported beam's sag that its two flat ends make: integral of M m over x <= e.
        e = (span - inside) / 2
        share = (span * e**3 / 3 - e**4 / 4) * 192 / (5 * span**4)
        ribbed = 1 / ((1 - share) / ribbed + share / d)
        part = inside / span
        across, twist, more = d + (across - d) * part, d + (twist - d) * part, 1 + (more - 1) * part
    return Smeared(
        along=ribbed,
        across=across,
        twist=twist,
        more=more,
        ends=ends,
        field=flat if count > 1 else flat / 2,
        alone=count == 1,
    )
