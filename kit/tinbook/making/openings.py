"""From hole features to openings: rows and grids set out, diameters taken from the shop's tables."""

from __future__ import annotations

import bisect
import itertools
import math
from collections.abc import Iterator
from dataclasses import replace

from tinbook.calc.rivets import HOLE, rivet_sized
from tinbook.finding import Refused
from tinbook.making.folded import MadeHole
from tinbook.part.features import MOST_HOLES, PRESSED, Hole, HoleGrid, HoleRow
from tinbook.plane.loops import Loop, Point, circle
from tinbook.shop.cutting import Cutter
from tinbook.shop.fixings import Fixings

TACK_SCREW = "ST4.2"
"""Tapping screw used for fitting where the part names none."""


def openings(
    features: tuple[Hole | HoleRow | HoleGrid, ...],
    loops: dict[str, Loop],
    fixings: Fixings,
    cutter: Cutter,
    thickness: float,
) -> list[tuple[str, MadeHole]]:
    """Set out all holes of a part.

    Parameters
    ----------
    features : tuple
        In the part's order.
    loops : dict of str to Loop
        Mould-line loops by panel.
    fixings, cutter, thickness
        Whose tables give the diameters; what is too small to cut is marked and drilled by hand.

    Returns
    -------
    list of (str, MadeHole)
        Each with the panel it is drawn on, in that panel's frame.
    """
    rows: dict[tuple[str, str], list[tuple[float, float, float]]] = {}
    smallest = cutter.min_hole(thickness)
    out: list[tuple[str, MadeHole]] = []
    for f in features:
        if isinstance(f, Hole) and f.loop is not None:
            out.append((f.panel, MadeHole(loop=f.outline(0.0), name=f.name, use=f.use)))
            continue
        dia = f.dia if f.dia is not None else table_dia(f.use, f.size, fixings, thickness)
        by_hand = dia < smallest - 1e-9 or f.use == "mark and drill"
        if isinstance(f, Hole):
            if f.length is not None:
                out.append((f.panel, MadeHole(loop=f.outline(dia), name=f.name, use=f.use)))
            else:
                out.append(
                    _bored(f, dia, smallest) if f.undersize else _round(f.panel, f.centre, dia, f.name, f.use, by_hand)
                )
            continue
        places = ((f.panel, p) for p in f.places) if isinstance(f, HoleGrid) else _row(f, dia, loops, rows)
        for k, (panel, at) in enumerate(places, 1):
            out.append(_round(panel, at, dia, f"{f.name} {k}", f.use, by_hand))
            if len(out) > MOST_HOLES:
                raise _too_many(f.name, len(out))
    return out


def _too_many(name: str, count: float) -> Refused:
    remedy = "a wider pitch, or the pattern in parts of its own"
    what = f"more than {MOST_HOLES} holes in a part"
    return Refused("hole.too_many", f"holes {name!r}", what, remedy, float(count), float(MOST_HOLES), unit="")


def table_dia(use: str, size: str | None, fixings: Fixings, thickness: float) -> float:
    """Return the diameter that the shop's tables give for a use, mm.

    A tack screw gets its pilot hole: it bites into this sheet's partner, and
    the hole is welded up or filled afterwards.
    """
    if use == "plug weld":
        return fixings.plug_weld(thickness).hole
    if use == "nut insert":
        return fixings.nut_insert(size or "", thickness).hole
    if use == "bolt":
        return fixings.clearance(size or "")
    if use == "rivet":
        return round(rivet_sized(size or "") + HOLE[0], 2)
    if use in PRESSED:
        return fixings.pressed_in(use, size or "", thickness).hole
    return fixings.tack_screw(size or TACK_SCREW, thickness).clearance


def _round(panel: str, at: Point, dia: float, name: str, use: str, by_hand: bool) -> tuple[str, MadeHole]:
    return panel, MadeHole(loop=circle(at, dia), name=name, use=use, dia=dia, by_hand=by_hand)


def _bored(f: Hole, dia: float, smallest: float) -> tuple[str, MadeHole]:
    """Return a hole that is drilled out; cut undersize only where the cutter makes that hole well."""
    assert f.undersize is not None
    if f.undersize >= dia:
        what, remedy = "it is not cut smaller than it is drilled", f"an undersize of less than {dia:g} mm"
        raise Refused("hole.not_undersize", f"hole {f.name!r}", what, remedy, f.undersize, dia)
    panel, hole = _round(f.panel, f.centre, dia, f.name, f.use, by_hand=True)
    return panel, replace(hole, undersize=f.undersize if f.undersize >= smallest - 1e-9 else None)


def _row(
    f: HoleRow, dia: float, loops: dict[str, Loop], rows: dict[tuple[str, str], list[tuple[float, float, float]]]
) -> Iterator[tuple[str, Point]]:
    """Set out a row; `rows` remembers (distance along the edge, inset, radius) of earlier ones."""
    if f.pitch is not None and f.pitch <= dia:
        what, remedy = "its holes would run into each other", f"a pitch greater than {dia:g} mm, or smaller holes"
        raise Refused("hole.row_pitch", f"holes {f.name!r}", what, remedy, f.pitch, dia)
    ends = [_turned_in(f, loops[panel], edge) for panel, edge in f.edges]
    lengths = [loops[panel].edge(edge).length - sum(end) for (panel, edge), end in zip(f.edges, ends, strict=True)]
    if min(lengths) <= 0:
        what = "an edge is shorter than the row is inset at its two ends"
        remedy = "a smaller inset, or leave that edge out"
        raise Refused("hole.row_ends", f"holes {f.name!r}", what, remedy, min(lengths), 0.0)
    if f.count is None:
        along = [_even(f, length) for length in lengths]
    else:
        total = math.fsum(lengths)
        if f.ends is None:
            marks = [(k + 0.5) * total / f.count for k in range(f.count)]
        elif f.count == 1:
            marks = [total / 2]
        else:
            marks = [f.ends + k * (total - 2 * f.ends) / (f.count - 1) for k in range(f.count)]
        along, before = [], 0.0
        for length in lengths:
            along.append([m - before for m in marks if before <= m < before + length])
            before += length
    along = [[m + end[0] for m in marks] for marks, end in zip(along, ends, strict=True)]
    lengths = [length + sum(end) for length, end in zip(lengths, ends, strict=True)]
    for (panel, edge_name), length, marks in zip(f.edges, lengths, along, strict=True):
        edge = loops[panel].edge(edge_name)
        earlier = rows.setdefault((panel, edge_name), [])
        near = [(s, r) for s, inset, r in earlier if abs(inset - f.inset) < r + dia / 2 + 1.0]
        taken: list[tuple[float, float, float]] = []
        at, straight = edge.at, edge.direction() if edge.is_line else None
        for s in marks if not near else _into_gaps(marks, sorted(near), length, dia / 2, f.name):
            ux, uy = straight or edge.direction(s / length)
            x, y = at(s / length)
            yield panel, (x - uy * f.inset, y + ux * f.inset)
            taken.append((s, f.inset, dia / 2))
        earlier.extend(taken)


def _turned_in(f: HoleRow, loop: Loop, name: str) -> tuple[float, float]:
    """Return what an edge's row leaves off at its ends: the inset, where the row turns a corner onto the next edge."""
    if f.ends is not None:
        return 0.0, 0.0
    names = [e.name for e in loop.edges]
    k = names.index(name)
    listed = {edge for _, edge in f.edges}
    before, after = names[k - 1], names[(k + 1) % len(names)]
    return f.inset if before in listed else 0.0, f.inset if after in listed else 0.0


def _even(f: HoleRow, length: float) -> list[float]:
    pitch = f.pitch or length
    if length / pitch > MOST_HOLES:
        raise _too_many(f.name, round(length / pitch))
    if f.ends is None:
        n = max(1, round(length / pitch))
        return [(k + 0.5) * length / n for k in range(n)]
    room = length - 2 * f.ends
    if room < 0:
        what = "the edge is shorter than its two end distances together"
        raise Refused("hole.row_ends", f"holes {f.name!r}", what, "smaller end distances", length, 2 * f.ends)
    n = max(1, round(room / pitch))
    return [f.ends + k * room / n for k in range(n + 1)]


def _into_gaps(marks: list[float], near: list[tuple[float, float]], length: float, r: float, name: str) -> list[float]:
    """Move each mark to the middle of the nearest free gap between the holes of an earlier row."""
    gaps = [
        ((a + b) / 2, b - a - ra - rb) for (a, ra), (b, rb) in itertools.pairwise(near) if b - a - ra - rb > 2 * r + 2.0
    ]
    free = [g for g, _ in gaps]
    moved: list[float] = []
    for m in marks:
        if not free:
            what = "there is no room for them between the holes already set along this edge"
            remedy = "another inset, a wider pitch of the first row, or fewer holes"
            raise Refused("hole.no_gap", f"holes {name!r}", what, remedy, float(len(marks)), float(len(gaps)), "")
        k = bisect.bisect(free, m)
        best = min((i for i in (k - 1, k) if 0 <= i < len(free)), key=lambda i: abs(free[i] - m))
        moved.append(free.pop(best))
    return sorted(moved)
