"""Room for the rolls: which returns a bead's rolls or their shafts would hit once those stand."""

from __future__ import annotations

import math

from tinbook.finding import NOTHING, Findings, caution
from tinbook.making.made import Made


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
                near = min(_to_line(p, e.start, e.end) for p in points)
                shaft = height > radius - roller.shaft_dia / 2
                if near >= reach and not (shaft and near < roller.throat):
                    continue
                tool, limit = ("rolls", reach) if near < reach else ("shaft of the rolls", roller.throat)
                what = f"the {tool} would hit return {strip.name!r} if it were folded before this bead is rolled"
                remedy = "roll the beads before this fold"
                out.append(caution("route.bead_after_return", f"bead {bead.name!r}", what, remedy, near, limit))
    return Findings(out)


def _to_line(p: tuple[float, float], a: tuple[float, float], b: tuple[float, float]) -> float:
    dx, dy = b[0] - a[0], b[1] - a[1]
    n = dx * dx + dy * dy
    s = 0.0 if n == 0 else min(max(((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / n, 0.0), 1.0)
    return math.dist(p, (a[0] + s * dx, a[1] + s * dy))
