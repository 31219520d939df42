"""Can it be beaded: rolls, stretch, throat, and distances from folds, edges, holes and other beads."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from tinbook.finding import Finding
from tinbook.making.folded import MadePanel
from tinbook.making.made import Made
from tinbook.part.forms.bead import MadeBead
from tinbook.plane.loops import Edge, Loop

PITCH = 2.5
"""Widths from centre to centre (common practice)."""

FINE = 0.02
"""mm: sagitta of the chords of a footprint."""


def throat(made: Made) -> Iterator[Finding]:
    """Check that every bead can be reached: on one side of its line the blank fits into the roller's throat."""
    roller = made.shop.roller
    if made.flat is None or not any(p.beads for p in made.panels):
        return
    if roller is None:
        yield Finding(
            code="bead.throat",
            severity="stop",
            where="beads",
            what=f"{made.shop.name} has no bead roller",
            source="own data",
            remedy="add a roller or a supplier to the shop",
        )
        return
    beads = list(_beads(made))
    reaches = _reaches(made.flat.outer, [[p.flat.edge(e) for e in b.path] for p, b in beads])
    for (_, b), reach in zip(beads, reaches, strict=True):
        over = reach > roller.throat + 1e-9
        yield Finding(
            code="bead.throat",
            severity="stop" if over else "fine",
            where=f"bead {b.name!r}",
            what=f"the blank does not pass the throat of {roller.title}" if over else "the blank passes the throat",
            value=reach,
            limit=roller.throat,
            unit="mm",
            source=roller.source,
            remedy="run beads nearer an edge or the other way, split the panel, or a deeper roller" if over else "",
        )


def _reaches(outer: Loop, paths: list[list[Edge]]) -> list[float]:
    """Return for each path how far the blank reaches to its narrower side, over the stretch that is rolled."""
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
    """Say what the blank was given for the draw of its beads."""
    total = {p.name: math.fsum(b.draw for b in p.beads) for p in made.panels if p.beads}
    for name, draw in total.items():
        guessed = any(made.shop.roll(b.roll).guessed for b in made.panel(name).beads)
        if made.part.trim:
            yield Finding(
                code="bead.draw",
                severity="caution",
                where=f"panel {name!r}",
                what="the blank has stock on its free edges: trim them and drill the holes after beading",
                source="common practice",
                remedy="trim to the marked line, measured from the beads, not from the old edge",
            )
        elif draw > 0:
            yield Finding(
                code="bead.draw",
                severity="caution" if guessed else "fine",
                where=f"panel {name!r}",
                what=f"the blank is {draw:.1f} mm larger across its beads, for the draw"
                + (" (guessed from the bead's shape)" if guessed else ""),
                value=draw,
                unit="mm",
                source="own proposal" if guessed else "own data",
                remedy="roll a test strip and put its draw factor into the shop file" if guessed else "",
            )


def _beads(made: Made) -> Iterator[tuple[MadePanel, MadeBead]]:
    for p in made.panels:
        for b in p.beads:
            yield p, b
