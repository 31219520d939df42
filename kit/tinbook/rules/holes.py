"""Rules of holes: cutter's limits, edge distances, pitches, tables of fixings."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely

from tinbook.calc.rivets import HOLE, rivet_in, rivet_sized
from tinbook.errors import BadValue, OutOfRange, UnknownName
from tinbook.finding import Finding, caution, fine, stop
from tinbook.making.folded import MadeHole, MadePanel
from tinbook.making.made import Made
from tinbook.part.features import PRESSED, Hole, HoleGrid, HoleRow
from tinbook.rules.near import CHORD, holes_of, lines_of, near_holes


def smallest(made: Made) -> Iterator[Finding]:
    """Check which holes the cutter can make; smaller ones are drilled by hand."""
    cutter = made.shop.cutter_for(made.sheet)
    limit, source = cutter.min_hole(made.thickness), cutter.source
    drilled = [h for p in made.panels for h in p.holes if h.by_hand and h.use != "mark and drill"]
    small = [h for h in drilled if h.dia is not None and h.dia < limit - 1e-9]
    how = "at the etched crosses" if cutter.etches else "set out by the sheet's numbers, as nothing is marked"
    given = {f.name: f.undersize for f in made.part.holes if isinstance(f, Hole) and f.undersize is not None}
    for h in drilled:
        if h.name in given and h.undersize is None and h not in small:
            what = f"its undersize is smaller than {cutter.title} cuts well: it is drilled from its centre, {how}"
            remedy = "a larger undersize, or none"
            yield caution("hole.undersize", f"hole {h.name!r}", what, remedy, given[h.name], limit, source=source)
    for dia in sorted({h.dia for h in small if h.dia is not None}):
        same = [h for h in small if h.dia == dia]
        where = f"{len(same)} holes Ø{dia:g}" if len(same) > 1 else f"hole {same[0].name!r}"
        what = f"smaller than {cutter.title} cuts well: drilled by hand, {how}"
        yield caution("hole.small", where, what, "a larger hole, or a finer cutter", dia, limit, source=source)
    narrow = cutter.min_slot(made.thickness)
    able = [c for c in made.shop.cutters if c.takes(made.sheet.material, made.sheet.nominal)]
    for h in (h for p in made.panels for h in p.holes):
        if h.dia is None and (width := _width(h)) < narrow - 1e-9:
            what, remedy = f"narrower than {cutter.title} cuts", "a wider opening, or a finer cutter"
            if finer := next((c for c in able if c.min_slot(made.thickness) <= width + 1e-9), None):
                remedy = f"a wider opening, or {finer.title}: cutter {finer.key!r} put first"
            yield stop("hole.narrow", f"hole {h.name!r}", what, remedy, width, narrow, source=source)


def _width(h: MadeHole) -> float:
    """Return the width of an opening: the smaller side of its smallest box."""
    box = shapely.minimum_rotated_rectangle(shapely.Polygon(h.loop.chords(0.02)))
    x, y = box.exterior.coords.xy
    return float(min(np.hypot(x[1] - x[0], y[1] - y[0]), np.hypot(x[2] - x[1], y[2] - y[1])))


def reliefs(made: Made) -> Iterator[Finding]:
    """Check that relief notches are not narrower than the cutter's slot."""
    cutter = made.shop.cutter_for(made.sheet)
    narrow = cutter.min_slot(made.thickness)
    widths = {f.name: max(made.thickness, 1.0) if f.relief.width is None else f.relief.width for f in made.part.folds}
    slim = [f for f in made.part.folds if f.relief.kind != "tear" and widths[f.name] < narrow - 1e-9]
    notched = {name for p in made.panels for name in _notched(p)} if slim else set()
    for f in slim:
        if f.name in notched:
            where, what = f"fold {f.name!r}", f"its relief is narrower than {cutter.title} cuts"
            remedy = "a wider relief, or a tear"
            yield caution("fold.relief_width", where, what, remedy, widths[f.name], narrow, source=cutter.source)


def _notched(p: MadePanel) -> Iterator[str]:
    """Yield the folds of a panel with a relief notch at an end, recognised by relief edges that run away from the bend line."""
    edges = p.boundary.edges
    n = len(edges)
    for i, e in enumerate(edges):
        if not e.name.startswith("fold:"):
            continue
        ux, uy = e.direction()
        for step in (1, -1):
            k, deep = i + step, False
            while edges[k % n].name == "relief" and abs(k - i) < n:
                vx, vy = edges[k % n].direction()
                deep = deep or abs(ux * vy - uy * vx) > 0.5
                k += step
            if deep:
                yield e.name[5:]


def edges_and_pitches(made: Made) -> Iterator[Finding]:
    """Check edge distance and pitch of holes by the table of their use."""
    t, fixings = made.thickness, made.shop.fixings
    for p in made.panels:
        # Inserts of two sizes have two rows in the table; the other uses are of one kind.
        for use, dia in dict.fromkeys(
            (h.use, h.dia if h.use in ("nut insert", "rivet", *PRESSED) else None) for h in p.holes
        ):
            listed = [i for i, h in enumerate(p.holes) if h.use == use and h.dia is not None and dia in (None, h.dia)]
            group = [p.holes[i] for i in listed]
            if not group:
                continue
            edge, pitch, source = 0.0, 0.0, "common practice"
            if use == "plug weld":
                try:
                    weld = fixings.plug_weld(t)
                    edge, pitch, source = weld.edge, weld.pitch_min, weld.source
                except OutOfRange:
                    yield _no_row(group, use, f"sheet of {t:g} mm")
            if use == "nut insert":
                inserts = [r for r in fixings.nut_inserts if abs(r.hole - (group[0].dia or 0)) < 0.05]
                if inserts:
                    edge, pitch, source = inserts[0].edge, inserts[0].pitch, inserts[0].source
                else:
                    yield _no_row(group, use, f"a hole of {group[0].dia:g} mm")
            if use == "rivet":
                try:
                    rivet = rivet_in(group[0].dia or 0)
                    edge, pitch, source = RIVET_EDGE * rivet, RIVET_PITCH * rivet, "EN 1993-1-3"
                except BadValue as lost:
                    remedy = "a rivet's size such as '4.8' instead of a diameter"
                    yield caution("hole.table", f"hole {group[0].name!r}", str(lost), remedy, source="ISO 15977")
            if use in PRESSED:
                pressed = [r for r in fixings.pressed if r.kind == use and abs(r.hole - (group[0].dia or 0)) < 0.05]
                edge, source = (pressed[0].edge, pressed[0].source) if pressed else (edge, source)
            yield from _group(made, p, listed, use, edge, pitch, source)
    yield from _margins(made)
    yield from _bridges(made)


def _no_row(group: list[MadeHole], use: str, what: str) -> Finding:
    where = f"hole {group[0].name!r}" + (f" and {len(group) - 1} more" if len(group) > 1 else "")
    what = f"no row of the table of {use}s is for {what}, so their edge distance and pitch are not checked"
    remedy = f"a row for it under [[fixings.{use.replace(' ', '_')}s]] of the shop file, or another joint"
    return caution("hole.table", where, what, remedy, source="own data")


def _margins(made: Made) -> Iterator[Finding]:
    """Check that openings that are not round leave at least the sheet's thickness to an edge."""
    t = made.thickness
    for p in made.panels:
        shaped = [i for i, h in enumerate(p.holes) if h.dia is None]
        if not shaped:
            continue
        gaps = shapely.distance(holes_of(p)[0][shaped], lines_of(p)[1])
        for gap, h in zip(gaps, (p.holes[i] for i in shaped), strict=True):
            if gap < t - 2 * CHORD:
                what, remedy = (
                    "it leaves less than the sheet's thickness to an edge",
                    "move it inward, or open it to the edge",
                )
                bad = gap < 0.5 * t
                yield (stop if bad else caution)("hole.margin", f"hole {h.name!r}", what, remedy, float(gap), t)


def _group(
    made: Made, p: MadePanel, listed: list[int], use: str, edge: float, pitch: float, source: str
) -> Iterator[Finding]:
    t, group = made.thickness, [p.holes[i] for i in listed]
    shapes, r = (found[listed] for found in holes_of(p))
    gaps = shapely.distance(shapes, lines_of(p)[1])
    # Where no table speaks: one and a half diameters from the centre for a bolt, the sheet's thickness from the rim.
    least = np.full(len(group), edge) if edge else (3.0 * r if use == "bolt" else r + t)
    bad = np.flatnonzero(gaps < least - 2 * CHORD)
    if len(bad):
        i = int(bad[np.argmin(gaps[bad] - least[bad])])
        where = f"hole {group[i].name!r}" + (f" and {len(bad) - 1} more" if len(bad) > 1 else "")
        what, remedy = f"its centre is too near an edge for a {use} hole", "a larger inset, or a smaller hole"
        said = stop if gaps[i] - r[i] < 0.5 * t else caution
        yield said("hole.edge", where, what, remedy, float(gaps[i]), float(least[i]), source=source)
    elif use == "plug weld":
        i = int(np.argmin(gaps))
        where, limit = f"{len(group)} {use} holes of panel {p.name!r}", float(least[i])
        # The chords of an arc lie inside it: what is short by no more than that is not short.
        value = float(max(gaps[i], limit))
        yield fine("hole.edge", where, "the edge distance is large enough", value, limit, source=source)
    if pitch and len(group) > 1:
        own = np.zeros(len(p.holes), dtype=np.bool_)
        own[listed] = True
        first, second = near_holes(p, pitch)
        both = own[first] & own[second]
        first, second = first[both], second[both]
        box = p.hole_boxes
        centre = (box[:, :2] + box[:, 2:]) / 2
        apart = np.hypot(*(centre[first] - centre[second]).T)
        if len(apart) and apart.min() < pitch - 1e-9:
            nearest = float(apart.min())
            i = int(
                first[np.flatnonzero(apart < nearest + 1e-9)[0]]
            )  # of equal pairs the first, whatever the last digits
            where, what = f"hole {p.holes[i].name!r}", f"two {use} holes are closer than their usual pitch"
            yield caution("hole.pitch", where, what, "a wider pitch", nearest, pitch, source=source)


def _bridges(made: Made) -> Iterator[Finding]:
    """Check that two openings leave at least the sheet's thickness between them."""
    t = made.thickness
    for p in made.panels:
        if len(p.holes) < 2:
            continue
        shapes, r = holes_of(p)
        first, second = near_holes(p, t)
        bridges = shapely.distance(shapes[first], shapes[second]) - r[first] - r[second]
        thin = np.flatnonzero(bridges <= t)
        pairs = list(zip(first[thin].tolist(), second[thin].tolist(), strict=True))
        if pairs:
            i, j = pairs[0]
            more = f", and {len(pairs) - 1} more" if len(pairs) > 1 else ""
            what = f"the bridge to {p.holes[j].name!r} is narrower than the sheet is thick{more}"
            value = max(float(bridges[thin[0]]), 0.0)
            yield caution("hole.bridge", f"hole {p.holes[i].name!r}", what, "move one of the two", value, t)


RIVET_EDGE, RIVET_PITCH = 1.5, 3.0
"""Rivet diameters from its centre to an edge and to the next one, least (EN 1993-1-3 table 8.1)."""
OFF = 0.05
"""mm: tolerance of an insert's hole; beyond it the insert turns or does not go in (own proposal)."""


def threads(made: Made) -> Iterator[Finding]:
    """Check holes that are given by diameter and by size: a bolt must pass, an insert must hold.

    A hole given by its size alone has the table's diameter already.
    """
    fixings, t = made.shop.fixings, made.thickness
    for f in made.part.holes:
        if f.size is None or f.dia is None or f.use not in ("bolt", "nut insert", "rivet"):
            continue
        where = f"hole {f.name!r}" if isinstance(f, Hole) else f"holes {f.name!r}"
        try:
            if f.use == "bolt":
                close = fixings.clearance(f.size, "fine")
                if f.dia < close - 1e-9:
                    source = next(row.source for row in fixings.clearances if row.size == f.size)
                    yield _misfit(f, where, f"too small for {f.size} to pass", close, source)
            elif f.use == "rivet":
                best = round(rivet_sized(f.size) + HOLE[0], 2)
                if not best - 1e-9 <= f.dia <= best + HOLE[1] - HOLE[0] + 1e-9:
                    fault = "too small for" if f.dia < best else "too large to hold"
                    yield _misfit(f, where, f"{fault} a blind rivet of {f.size} mm", best, "ISO 15977")
            else:
                row = fixings.nut_insert(f.size, t)
                if abs(f.dia - row.hole) > OFF + 1e-9:
                    fault = "too small for" if f.dia < row.hole else "too large to hold"
                    yield _misfit(f, where, f"{fault} the insert {row.key}", row.hole, row.source)
        except (UnknownName, OutOfRange) as lost:
            what = f"no table says whether its diameter suits {f.size} ({lost})"
            yield caution("hole.thread", where, what, "a size of the shop's tables, or add it there", source="own data")


def _misfit(f: Hole | HoleRow | HoleGrid, where: str, what: str, limit: float, source: str) -> Finding:
    remedy = f"a diameter of {limit:g} mm, or leave it out: the table gives it"
    return caution("hole.thread", where, what, remedy, f.dia, limit, source=source)
