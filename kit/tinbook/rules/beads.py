"""Can it be beaded: rolls, stretch, throat, and distances from folds, edges, holes and other beads."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from typing import Any

import numpy as np
import shapely

from tinbook.calc.beads import stretch
from tinbook.finding import Finding, Severity
from tinbook.making.flat import polygons_of
from tinbook.making.made import Made, MadeBead, MadePanel, hole_boxes
from tinbook.plane.arrays import boxes
from tinbook.plane.loops import Edge, Loop
from tinbook.rules.near import apart, edge_gap, fold_gap, hole_gap, holes_of, lines, lines_of

PITCH = 2.5
"""Widths from centre to centre (common practice)."""

FINE = 0.02
"""mm: sagitta of the chords of a footprint."""


def rolls(made: Made) -> Iterator[Finding]:
    """Check that the rolls take the sheet, and the metal the stretch."""
    material, t = made.sheet.material, made.sheet.nominal
    seen: set[str] = set()
    for _, b in _beads(made):
        if b.roll in seen:
            continue
        seen.add(b.roll)
        roll = made.shop.roll(b.roll)
        where = f"rolls {b.roll!r}"
        if not roll.takes(material, t):
            most = max((v for k, v in roll.max_thickness if k in (material.key, material.family)), default=0.0)
            yield Finding(
                code="bead.thickness",
                severity="stop",
                where=where,
                what=f"too thick a sheet of {material.key} for these rolls",
                value=t,
                limit=most,
                unit="mm",
                source=roll.source,
                remedy="a thinner sheet, or rolls made for it",
            )
        strain = stretch(roll.width, roll.depth, roll.draw)
        limit = material.elongation_percent / 2 / 100
        guess = " (its draw is a guess: roll a test strip)" if roll.guessed else ""
        severity: Severity = "fine" if strain <= limit else "stop" if strain > 2 * limit else "caution"
        yield Finding(
            code="bead.stretch",
            severity=severity,
            where=where,
            what=f"stretch across the bead{guess}" if severity == "fine" else f"{material.key} may split{guess}",
            value=100 * strain,
            limit=100 * (2 * limit if severity == "stop" else limit),
            unit="%",
            source="common practice",
            remedy="" if severity == "fine" else "a shallower or wider bead, or a softer grade",
        )


def distances(made: Made) -> Iterator[Finding]:
    """Check that beads keep clear of folds, edges, holes and each other."""
    t = made.thickness
    radius = {s.name: s.radius for s in made.strips}
    for p in made.panels:
        if not p.beads:
            continue
        around = boxes([b.footprint for b in p.beads])
        folds, free = lines_of(made, p)
        for fold, least in zip(folds, apart(shapely.bounds(list(folds.values())), around), strict=True):
            limit = fold_gap(t, radius[fold])
            name, why = f"fold {fold!r}", "the rolls or the die foul it"
            yield from _close(p, folds[fold], np.flatnonzero(least < limit), limit, "bead.fold", name, why)
        limit = edge_gap(t)
        least = apart(shapely.bounds(shapely.get_parts(free)), around).min(axis=0, initial=math.inf)
        yield from _close(p, free, np.flatnonzero(least < limit), limit, "bead.edge", "a free edge", "the edge ripples")
        if p.holes:
            shapes, r = holes_of(made, p)
            for b, least in zip(p.beads, apart(around, hole_boxes(made, p)), strict=True):
                limit = hole_gap(t, b.shoulder)
                near = np.flatnonzero(least < limit)
                if not len(near):
                    continue
                gaps = shapely.distance(shapes[near], polygons_of([b.footprint], FINE)[0]) - r[near]
                i = int(np.argmin(gaps))
                if gaps[i] < limit - 1e-9:
                    what = f"hole {p.holes[near[i]].name!r} lies in metal that the bead pulls"
                    yield _caution(
                        "bead.hole", b, what, float(gaps[i]), limit, "move the hole, or drill it after beading"
                    )
        yield from _spacing(p)


def _close(p: MadePanel, other: Any, near: Any, limit: float, code: str, name: str, why: str) -> Iterator[Finding]:
    """Yield a finding for each bead that comes too near a line; `near` are the numbers of those whose boxes do."""
    if not len(near):
        return
    prints = polygons_of([p.beads[i].footprint for i in near], FINE)
    for i, gap in zip(near, shapely.distance(prints, other), strict=True):
        b = p.beads[i]
        if gap < limit - 1e-9:
            cure = "a shorter bead, or move it inward"
            yield _caution(code, b, f"it comes so near {name} that {why}", float(gap), limit, cure)


def _spacing(p: MadePanel) -> Iterator[Finding]:
    paths = lines([b.path for b in p.beads])
    gaps = shapely.distance(paths[:, None], paths).tolist()
    for i, k in itertools.combinations(range(len(paths)), 2):
        b, other, gap = p.beads[i], p.beads[k], gaps[i][k]
        limit = PITCH * max(b.width, other.width)
        if gap < limit - 1e-9:
            what = f"it lies so near bead {other.name!r} that rolling one flattens the other"
            yield _caution("bead.pitch", b, what, gap, limit, "space them out, or use narrower rolls")


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


def _caution(code: str, b: MadeBead, what: str, value: float, limit: float, remedy: str) -> Finding:
    return Finding(
        code=code,
        severity="caution",
        where=f"bead {b.name!r}",
        what=what,
        value=value,
        limit=limit,
        unit="mm",
        source="common practice",
        remedy=remedy,
    )
