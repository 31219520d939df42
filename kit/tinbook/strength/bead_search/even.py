"""The rectangle of evenly beaded sheet that a panel amounts to: the live estimate holds for nothing else."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

from tinbook.errors import OutOfRange
from tinbook.making.folded import MadePanel
from tinbook.part.forms.bead import MadeBead
from tinbook.strength.smeared import Bead


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
