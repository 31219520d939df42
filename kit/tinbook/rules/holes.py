"""Can the holes be cut and used: cutter's limits, edges, pitches, fixing tables."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely

from tinbook.finding import Finding
from tinbook.making.folded import MadeHole, MadePanel
from tinbook.making.made import Made
from tinbook.part.features import PRESSED, Hole
from tinbook.rules.near import CHORD, holes_of, lines_of, near_holes


def smallest(made: Made) -> Iterator[Finding]:
    """Check which holes the cutter can make; smaller ones are drilled by hand."""
    cutter = made.shop.cutter_for(made.sheet)
    limit = cutter.min_hole(made.thickness)
    drilled = [h for p in made.panels for h in p.holes if h.by_hand and h.use != "mark and drill"]
    small = [h for h in drilled if h.dia is not None and h.dia < limit - 1e-9]
    where = "at the etched crosses" if cutter.etches else "set out by the sheet's numbers, nothing is marked"
    given = {f.name: f.undersize for f in made.part.holes if isinstance(f, Hole) and f.undersize is not None}
    for h in drilled:
        if h.name in given and h.undersize is None and h not in small:
            yield Finding(
                code="hole.undersize",
                severity="caution",
                where=f"hole {h.name!r}",
                what=f"its undersize is smaller than {cutter.title} cuts well: it is drilled from its centre, {where}",
                value=given[h.name],
                limit=limit,
                unit="mm",
                source=cutter.source,
                remedy="a larger undersize, or none",
            )
    for dia in sorted({h.dia for h in small if h.dia is not None}):
        same = [h for h in small if h.dia == dia]
        yield Finding(
            code="hole.small",
            severity="caution",
            where=f"{len(same)} holes Ø{dia:g}" if len(same) > 1 else f"hole {same[0].name!r}",
            what=f"smaller than {cutter.title} cuts well: drilled by hand, {where}",
            value=dia,
            limit=limit,
            unit="mm",
            source=cutter.source,
            remedy="a larger hole, or a finer cutter",
        )
    narrow = cutter.min_slot(made.thickness)
    for p in made.panels:
        for h in p.holes:
            if h.dia is None and (width := _width(h)) < narrow - 1e-9:
                yield Finding(
                    code="hole.narrow",
                    severity="stop",
                    where=f"hole {h.name!r}",
                    what=f"narrower than {cutter.title} cuts",
                    value=width,
                    limit=narrow,
                    unit="mm",
                    source=cutter.source,
                    remedy="a wider opening, or a finer cutter",
                )


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
            yield Finding(
                code="fold.relief_width",
                severity="caution",
                where=f"fold {f.name!r}",
                what=f"its relief is narrower than {cutter.title} cuts",
                value=widths[f.name],
                limit=narrow,
                unit="mm",
                source=cutter.source,
                remedy="a wider relief, or a tear",
            )


def _notched(p: MadePanel) -> Iterator[str]:
    """Yield the folds of a panel that have a notch beside one end: relief edges that run away from the bend line."""
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
    """Check that holes keep their edge distance and pitch, by the table of their use."""
    t, fixings = made.thickness, made.shop.fixings
    for p in made.panels:
        # Inserts of two sizes have two rows in the table; the other uses are of one kind.
        for use, dia in dict.fromkeys((h.use, h.dia if h.use in ("nut insert", *PRESSED) else None) for h in p.holes):
            listed = [i for i, h in enumerate(p.holes) if h.use == use and h.dia is not None and dia in (None, h.dia)]
            group = [p.holes[i] for i in listed]
            if not group:
                continue
            edge, pitch, source = 0.0, 0.0, "common practice"
            if use == "plug weld":
                welds = [r for r in fixings.plug_welds if r.over < t <= r.upto]
                if welds:
                    edge, pitch, source = welds[0].edge, welds[0].pitch_min, welds[0].source
                else:
                    yield _untold(group, use, f"sheet of {t:g} mm")
            if use == "nut insert":
                inserts = [r for r in fixings.nut_inserts if abs(r.hole - (group[0].dia or 0)) < 0.05]
                if inserts:
                    edge, pitch, source = inserts[0].edge, inserts[0].pitch, inserts[0].source
                else:
                    yield _untold(group, use, f"a hole of {group[0].dia:g} mm")
            if use in PRESSED:
                pressed = [r for r in fixings.pressed if r.kind == use and abs(r.hole - (group[0].dia or 0)) < 0.05]
                edge, source = (pressed[0].edge, pressed[0].source) if pressed else (edge, source)
            yield from _group(made, p, listed, use, edge, pitch, source)
    yield from _margins(made)
    yield from _bridges(made)


def _untold(group: list[MadeHole], use: str, what: str) -> Finding:
    more = f" and {len(group) - 1} more" if len(group) > 1 else ""
    return Finding(
        code="hole.table",
        severity="caution",
        where=f"hole {group[0].name!r}{more}",
        what=f"no row of the table of {use}s is for {what}, so their edge distance and pitch are not checked",
        source="own data",
        remedy=f"a row for it under [[fixings.{use.replace(' ', '_')}s]] of the shop file, or another joint",
    )


def _margins(made: Made) -> Iterator[Finding]:
    """Check that metal between an opening that is not round and an edge is not thinner than the sheet."""
    t = made.thickness
    for p in made.panels:
        shaped = [i for i, h in enumerate(p.holes) if h.dia is None]
        if not shaped:
            continue
        gaps = shapely.distance(holes_of(p)[0][shaped], lines_of(p)[1])
        for gap, h in zip(gaps, (p.holes[i] for i in shaped), strict=True):
            if gap < t - 2 * CHORD:
                yield Finding(
                    code="hole.margin",
                    severity="stop" if gap < 0.5 * t else "caution",
                    where=f"hole {h.name!r}",
                    what="the metal between it and an edge is thinner than the sheet",
                    value=float(gap),
                    limit=t,
                    unit="mm",
                    source="common practice",
                    remedy="move it inward, or open it to the edge",
                )


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
        yield Finding(
            code="hole.edge",
            severity="stop" if gaps[i] - r[i] < 0.5 * t else "caution",
            where=f"hole {group[i].name!r}" + (f" and {len(bad) - 1} more" if len(bad) > 1 else ""),
            what=f"its centre is too near an edge for a {use} hole",
            value=float(gaps[i]),
            limit=float(least[i]),
            unit="mm",
            source=source,
            remedy="a larger inset, or a smaller hole",
        )
    elif use == "plug weld":
        i = int(np.argmin(gaps))
        yield Finding(
            code="hole.edge",
            severity="fine",
            where=f"{len(group)} {use} holes of panel {p.name!r}",
            what="edge distance kept",
            # The chords of an arc lie inside it: what is short by no more than that is not short.
            value=float(max(gaps[i], least[i])),
            limit=float(least[i]),
            unit="mm",
            source=source,
        )
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
            i = int(first[np.flatnonzero(apart < nearest + 1e-9)[0]])  # noise names no other hole
            yield Finding(
                code="hole.pitch",
                severity="caution",
                where=f"hole {p.holes[i].name!r}",
                what=f"two {use} holes lie closer than usual",
                value=nearest,
                limit=pitch,
                unit="mm",
                source=source,
                remedy="a wider pitch",
            )


def _bridges(made: Made) -> Iterator[Finding]:
    """Check that metal between two openings is not thinner than the sheet."""
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
            yield Finding(
                code="hole.bridge",
                severity="caution",
                where=f"hole {p.holes[i].name!r}",
                what=f"the bridge to {p.holes[j].name!r} is thinner than the sheet"
                + (f", and {len(pairs) - 1} more" if len(pairs) > 1 else ""),
                value=max(float(bridges[thin[0]]), 0.0),
                limit=t,
                unit="mm",
                source="common practice",
                remedy="move one of the two",
            )
