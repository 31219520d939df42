"""A part half way through its folding: where panels and bends lie when folds are turned by other angles.

While a fold forms, its strip bends evenly: the inside radius at a turn of a is r + w (1/a - 1/A), with w the
strip's flat width, so that the strip keeps its developed length. Past A (springback) r stays.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

from tinbook.making.folded import BendZone, Folded
from tinbook.shop.tools.strokes import HEM_START
from tinbook.space import Frame


def radius_at(strip: BendZone, turn_rad: float) -> float:
    """Inside radius while the strip is turned by `turn_rad`, mm.

    A hem's own strip is shorter than its beginning: while it stands open it is drawn too long, by
    the tool's arc less the strip.
    """
    full, start = math.radians(strip.angle), strip.begun
    if start is not None:
        first = math.radians(HEM_START)
        if turn_rad > first:
            return start + (strip.radius - start) * min((turn_rad - first) / (full - first), 1.0)
        return start + strip.allowance * (1.0 / max(turn_rad, 1e-9) - 1.0 / first)
    if turn_rad >= full:
        return strip.radius
    return strip.radius + strip.allowance * (1.0 / max(turn_rad, 1e-9) - 1.0 / full)


def bent_by(zone: BendZone, turn_rad: float, frame: Frame) -> BendZone:
    """Return a bend turned by another angle, its frame on the parent's tangent line elsewhere."""
    return replace(zone, frame=frame, angle=math.degrees(turn_rad), radius=radius_at(zone, turn_rad))


def posed(folded: Folded, angles: Mapping[str, float]) -> Folded:
    """Return the part with its folds turned by other angles: the same panels and strips in other places.

    Parameters
    ----------
    folded : Folded
        As finished.
    angles : mapping of str to float
        Degrees by name of fold; a fold that is not named stays as finished. 0 is flat.

    Returns
    -------
    Folded
        Setbacks and allowances stay those of the finished folds.
    """
    t = folded.thickness
    frames = {"base": folded.panel("base").frame}
    zones: list[BendZone] = []
    for s in folded.zones:
        parent, child = folded.panel(s.parent), folded.panel(s.child)
        a = math.radians(angles.get(s.name, s.angle))
        place = frames[s.parent] @ parent.frame.inverse() @ s.frame
        rest = s.end(t).inverse() @ child.frame
        zones.append(bent_by(s, a, place))
        frames[s.child] = zones[-1].end(t) @ rest
    panels = tuple(replace(p, frame=frames[p.name]) for p in folded.panels)
    return replace(folded, panels=panels, zones=tuple(zones))
