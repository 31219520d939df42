"""Equal, straight, parallel beads smeared into an orthotropic plate, and the panels that amount to such a plate."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from functools import lru_cache
from typing import Final

from tinbook.calc.beads import bead_field
from tinbook.calc.limits import above_zero, in_range
from tinbook.errors import BadValue, OutOfRange
from tinbook.fields import Number
from tinbook.making.folded import MadePanel
from tinbook.part.forms.bead import MadeBead
from tinbook.values import dataclass

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
    count = int(Number(least=0, whole=True).read(count, "count"))
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


def rectangle(panel: MadePanel) -> tuple[float, float, Bead | None]:
    """Return length and width of the rectangle that bounds a panel, length along its beads, mm, and their common bead.

    Raises
    ------
    OutOfRange
        Not roughly a rectangle, or beads that are not straight, equal, parallel and evenly spread.
    """
    beads = panel.beads
    turn = _turn(beads, panel)
    c, s = math.cos(turn), math.sin(turn)
    points = [(c * x + s * y, c * y - s * x) for x, y in panel.boundary.chords().tolist()]
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    long, wide = max(xs) - min(xs), max(ys) - min(ys)
    filled = abs(panel.boundary.area) / (long * wide)
    if filled < 0.9:
        raise _does_not_apply("outline", f"fills {filled:.0%} of its rectangle", "at least 90 %")
    if not beads:
        return long, wide, None
    _same_and_even(beads, turn, (min(xs), max(xs)), (min(ys), max(ys)))
    first = beads[0]
    length = min(math.fsum(e.length for e in first.path), long)
    return long, wide, Bead(width=first.width, depth=first.depth, shoulder=first.shoulder, length=length)


def _does_not_apply(why: str, value: object, valid: str) -> OutOfRange:
    return OutOfRange(f"live stiffness estimate: {why}", value, f"{valid}; ask for shell FE instead")


def _turn(beads: Sequence[MadeBead], panel: MadePanel) -> float:
    """Return the direction of the beads, or of the panel's longest line if it has none, in radians."""
    if beads:
        (x0, y0), (x1, y1) = beads[0].path[0].start, beads[0].path[-1].end
        return math.atan2(y1 - y0, x1 - x0)
    lines = [e for e in panel.boundary if e.is_line]
    if not lines:
        raise _does_not_apply("outline", "no straight edge", "roughly a rectangle")
    dx, dy = max(lines, key=lambda e: e.length).direction()
    return math.atan2(dy, dx)


def _same_and_even(
    beads: Sequence[MadeBead], turn: float, along: tuple[float, float], across: tuple[float, float]
) -> None:
    """Refuse beads that are not straight, equal, parallel and evenly spread over the panel."""
    first = beads[0]
    c, s = math.cos(turn), math.sin(turn)
    lengths, middles, lines = [], [], []
    for b in beads:
        if any(not e.is_line for e in b.path):
            raise _does_not_apply("bead path", b.name, "straight beads")
        if (b.width, b.depth, b.shoulder, b.direction) != (
            first.width,
            first.depth,
            first.shoulder,
            first.direction,
        ):
            raise _does_not_apply("beads", b.name, "beads of one roll pair to one side")
        (x0, y0), (x1, y1) = b.path[0].start, b.path[-1].end
        if abs(math.remainder(math.atan2(y1 - y0, x1 - x0) - turn, math.pi)) > math.radians(1):
            raise _does_not_apply("beads", b.name, "parallel beads")
        lengths.append(math.dist((x0, y0), (x1, y1)))
        middles.append((c * (x0 + x1) + s * (y0 + y1)) / 2)
        lines.append((c * (y0 + y1) - s * (x0 + x1)) / 2)
    long, wide = along[1] - along[0], across[1] - across[0]
    if max(lengths) - min(lengths) > 0.05 * long:
        raise _does_not_apply(
            "bead length", (min(lengths), max(lengths)), "beads of one length, within 5 % of the span"
        )
    if max(abs(m - (along[0] + along[1]) / 2) for m in middles) > 0.1 * long:
        raise _does_not_apply("beads", "lie to one end", "beads centred on the panel, within 10 % of the span")
    lines.sort()
    if abs((lines[0] + lines[-1] - across[0] - across[1]) / 2) > 0.1 * wide:
        raise _does_not_apply("beads", "lie to one side", "beads centred on the panel, within 10 % of the width")
    steps = [b - a for a, b in itertools.pairwise(lines)]
    if steps and max(steps) - min(steps) > 0.15 * wide / len(beads):
        raise _does_not_apply("bead spacing", (min(steps), max(steps)), "even spacing, within 15 %")
    if steps and not 0.65 <= steps[0] * len(beads) / wide <= 1.35:
        raise _does_not_apply(
            "bead spacing", steps[0], f"about the width over their number, {wide / len(beads):.4g} mm"
        )
