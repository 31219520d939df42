"""Rules of beads: the roller's throat and the blank's allowance for draw; the form itself states its other limits."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from tinbook.finding import Finding, caution, fine, stop
from tinbook.making.made import Made
from tinbook.plane.loops import Edge, Loop


def throat(made: Made) -> Iterator[Finding]:
    """Check that on one side of every bead the blank fits into the roller's throat."""
    roller = made.shop.roller
    beads = [(p, b) for p in made.panels for b in p.beads]
    if made.flat is None or not beads:
        return
    if roller is None:
        what, remedy = f"{made.shop.name} has no bead roller", "add a roller or a supplier to the shop"
        yield stop("bead.throat", "beads", what, remedy, source="own data")
        return
    reaches = _reaches(made.flat.outer, [[p.flat.edge(e) for e in b.path] for p, b in beads])
    for (_, b), reach in zip(beads, reaches, strict=True):
        where, numbers = f"bead {b.name!r}", (reach, roller.throat, "mm", roller.source)
        if reach <= roller.throat + 1e-9:
            yield fine("bead.throat", where, "the blank passes the roller's throat", *numbers)
        else:
            what = f"the blank does not pass the throat of {roller.title}"
            remedy = "run beads nearer an edge or the other way, split the panel, or a deeper roller"
            yield stop("bead.throat", where, what, remedy, *numbers)


def _reaches(outer: Loop, paths: list[list[Edge]]) -> list[float]:
    """Return for each path the blank's reach on its narrower side, over the length that is rolled."""
    outline = outer.chords(0.5)
    after = np.arange(1, len(outline) + 1) % len(outline)
    stations = [
        (k, *e.at(s), *e.direction(s), e.length if e.bulge == s == 0.0 else -1.0)
        for k, path in enumerate(paths)
        for e in path
        for s in ((0.0, 1.0) if e.is_line else np.linspace(0.0, 1.0, 9).tolist())
    ]
    path, x, y, ux, uy, length = np.array(stations).T[:, :, None]
    begin = np.searchsorted(path[:, 0], np.arange(len(paths)))
    along = outline[:, 0] * ux + outline[:, 1] * uy - (ux * x + uy * y)
    across = outline[:, 1] * ux - outline[:, 0] * uy - (ux * y - uy * x)
    # The frame stands abreast of the rolls: what passes it is what crosses the rolls' axis.
    cross = (along <= 0) != (along[:, after] <= 0)
    step = np.where(cross, along - along[:, after], 1.0)
    hits = across + along / step * (across[:, after] - across)
    # Corners of the blank between the two ends of a straight bead count too.
    beside = (along >= 0) & (along <= length)
    sides = []
    for sign in (1.0, -1.0):
        reach = np.maximum(np.where(cross, sign * hits, 0.0), np.where(beside, sign * across, 0.0))
        sides.append(np.maximum.reduceat(reach.max(axis=1, initial=0.0), begin))
    least: list[float] = np.minimum(*sides).tolist()
    return least


def draw_allowance(made: Made) -> Iterator[Finding]:
    """State the blank's allowance for the draw of its beads."""
    total = {p.name: math.fsum(b.draw for b in p.beads) for p in made.panels if p.beads}
    for name, draw in total.items():
        guessed = any(made.shop.roll(b.roll).guessed for b in made.panel(name).beads)
        where = f"panel {name!r}"
        if made.part.trim:
            what = "the blank has stock on its free edges: trim them and drill the holes after beading"
            yield caution(
                "bead.draw", where, what, "trim to the marked line, measured from the beads, not from the old edge"
            )
        elif draw > 0:
            what = f"the blank is {draw:.1f} mm larger across its beads, for the draw"
            if guessed:
                remedy = "roll a test strip and put its draw factor into the shop file"
                what += " (guessed from the bead's shape)"
                yield caution("bead.draw", where, what, remedy, draw, source="own proposal")
            else:
                yield fine("bead.draw", where, what, draw, source="own data")
