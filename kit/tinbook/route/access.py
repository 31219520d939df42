"""Room for a tool: whether a hole is still reached by hand once the part is folded, and a bead by its rolls."""

from __future__ import annotations

import math
from typing import Any, Final

import numpy as np
import shapely

from tinbook.finding import NOTHING, Findings, caution
from tinbook.making.folded import MadeHole, MadePanel
from tinbook.making.made import Made
from tinbook.plane.cuts import distance
from tinbook.plane.loops import Array

REACH: Final = 120.0
"""mm in front of a hole that a hand drill or an insert tool takes (own proposal)."""

ROOM: Final = 15.0
"""mm round its axis (own proposal)."""

_HEIGHTS: Final = (10.0, 40.0, 80.0, REACH)
_SPOKES: Final = 12


def shut_by(made: Made, panel: MadePanel, hole: MadeHole) -> dict[str, tuple[str, ...]]:
    """Return the panels of the folded part that stand in a tool's way, by the side of the sheet it comes from.

    Parameters
    ----------
    made : Made
        A part that could be made.
    panel : MadePanel
        Panel of the hole.
    hole : MadeHole
        In the panel's frame.

    Returns
    -------
    dict
        "up" and "down", each with the names of panels in the way, in the part's order.
    """
    x0, y0, x1, y1 = hole.loop.box
    x, y, t = (x0 + x1) / 2, (y0 + y1) / 2, made.thickness
    found = {}
    for side, face, way in (("up", t, 1.0), ("down", 0.0, -1.0)):
        starts, ends = _lines(x, y, face, way)
        a, b = panel.frame.points(starts), panel.frame.points(ends)
        found[side] = tuple(p.name for p in made.panels if p.name != panel.name and _hit(p, t, a, b))
    return found


def _lines(x: float, y: float, face: float, way: float) -> tuple[Array, Array]:
    """Return the lines that stand for the tool: along it, and from its axis to its rim at some heights."""
    rim = [(ROOM * math.cos(a), ROOM * math.sin(a)) for a in np.linspace(0, math.tau, _SPOKES, endpoint=False)]
    near, far = face + way * 0.5, face + way * REACH
    starts = [(x + u, y + v, near) for u, v in [(0.0, 0.0), *rim]]
    ends = [(x + u, y + v, far) for u, v in [(0.0, 0.0), *rim]]
    for h in _HEIGHTS:
        starts += [(x, y, face + way * h)] * len(rim)
        ends += [(x + u, y + v, face + way * h) for u, v in rim]
    return np.array(starts, dtype=float), np.array(ends, dtype=float)


def _hit(p: MadePanel, t: float, a: Array, b: Array) -> bool:
    """Whether any line from a to b passes through the middle of a panel's sheet."""
    back = p.frame.inverse()
    a, b = back.points(a), back.points(b)
    za, zb = a[:, 2] - t / 2, b[:, 2] - t / 2
    crosses = (za <= 0) != (zb <= 0)
    if not crosses.any():
        return False
    a, b, za, zb = a[crosses], b[crosses], za[crosses], zb[crosses]
    f = (za / (za - zb))[:, None]
    at = a + f * (b - a)
    area: Any = shapely.Polygon(p.boundary.chords(0.05))
    return bool(shapely.contains_xy(area, at[:, 0], at[:, 1]).any())


def beads_after_returns_foul(made: Made) -> Findings:
    """Return a finding for every bead whose rolls would hit a return of its panel once that is up.

    A standing return of height h is met by rolls of radius R within sqrt(R² - (R - h)²) of the bead's line
    (R from h = R up), and above R - d/2 by the shaft wherever it stands on the shaft's side. So: beads first.
    """
    roller = made.shop.roller
    if roller is None:
        return NOTHING
    out = []
    radius = roller.roll_dia / 2
    for panel in made.panels:
        for bead in panel.beads:
            points = [e.at(k / 8) for e in bead.path for k in range(9)]
            for e in panel.boundary.edges:
                if not e.name.startswith("fold:"):
                    continue
                strip = next(z for z in made.folded.zones if z.name == e.name[5:])
                if strip.parent != panel.name or strip.formed:
                    continue
                height = max(strip.leg) * math.sin(math.radians(min(strip.angle, 90.0)))
                low = max(radius - height, 0.0)
                reach = math.sqrt(radius**2 - low**2) + bead.width / 2
                near = min(distance(e, p) for p in points)
                shaft = height > radius - roller.shaft_dia / 2
                if near >= reach and not (shaft and near < roller.throat):
                    continue
                tool, limit = ("rolls", reach) if near < reach else ("shaft of the rolls", roller.throat)
                what = f"the {tool} would hit return {strip.name!r} if it were folded before this bead is rolled"
                remedy = "roll the beads before this fold"
                out.append(caution("route.bead_after_return", f"bead {bead.name!r}", what, remedy, near, limit))
    return Findings(out)
