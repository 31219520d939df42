"""Where members of an assembly meet: common volume, gaps where a weld is drawn, holes of one fastener."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product
from typing import Final

import tinbook.making.solid as solids
from tinbook.errors import BadValue
from tinbook.finding import Finding, caution, fine, stop
from tinbook.making.assembled import CLASH, CONCENTRIC, WELD_GAP, Assembled, assemble_like
from tinbook.part.movement import Movement


def clashes(made: Assembled) -> Iterator[Finding]:
    """Check that no two members share metal."""
    common = [p for p in made.pairs if p.common > CLASH]
    for p in common:
        where, remedy = f"{p.a} and {p.b}", "move one of them, or cut it back"
        yield stop("assembly.clash", where, "they overlap", remedy, round(p.common, 3), 0.0, "mm³", "geometry")
    if not common:
        what = f"no two of {len(made.assembly.members)} members overlap"
        yield fine("assembly.clash", "assembly", what, 0.0, 0.0, "mm³", "geometry")


def weld_gaps(made: Assembled) -> Iterator[Finding]:
    """Check that members touch where they are to be welded."""
    for p in made.pairs:
        if p.gap is None:
            continue
        where, gap = f"{p.a} and {p.b}", round(p.gap, 3) + 0.0
        if p.gap <= WELD_GAP + 1e-6:
            yield fine("assembly.weld_gap", where, "the gap at the weld is small enough", gap, WELD_GAP)
        else:
            what, remedy = "the gap at the weld is too wide", "bring the edge to the other plate's face"
            yield stop("assembly.weld_gap", where, what, remedy, gap, WELD_GAP)


def holes(made: Assembled) -> Iterator[Finding]:
    """Check that the holes of one fastener lie on one axis."""
    off = [m for m in made.matings if m.offset > CONCENTRIC + 1e-6]
    for m in off:
        where = f"{m.a} and {m.b} at ({m.at[0]:.1f}, {m.at[1]:.1f}, {m.at[2]:.1f})"
        what, remedy = "the holes of one fastener are out of line", "take both hole patterns from one place"
        yield stop("assembly.mating", where, what, remedy, round(m.offset, 3), CONCENTRIC, source="geometry")
    if made.matings and not off:
        worst = round(max(m.offset for m in made.matings), 3) + 0.0
        what = f"{len(made.matings)} pairs of holes lie on common axes"
        yield fine("assembly.mating", "assembly", what, worst, CONCENTRIC, source="geometry")


LOOKS: Final = 4
"""Into how many equal steps the way of a movement is cut; what moves is looked at after each."""


def movements(made: Assembled) -> Iterator[Finding]:
    """Check that what is declared to move meets nothing on its way; members that bend are left out."""
    for m in made.assembly.movements:
        if all(made.assembly.member(n).flexible for n in m.members):
            what, remedy = "only what bends moves: whether it meets anything was not looked at", "try it"
            yield caution("assembly.movement", m.name, what, remedy)
            continue
        places = [m.low + (m.high - m.low) * k / LOOKS for k in range(LOOKS + 1)]
        hits = [f for amount in places if amount for f in _on_way(made, m, amount)]
        # The first place where two members meet is enough.
        yield from {f.what: f for f in reversed(hits)}.values()
        if not hits:
            what = f"nothing meets at any of {len(places)} places from {m.low:g} to {m.high:g} {m.unit}"
            yield fine("assembly.movement", m.name, what, 0.0, 0.0, "mm³", "geometry")


def _on_way(made: Assembled, m: Movement, amount: float) -> Iterator[Finding]:
    where, remedy = f"{m.name}, {amount:g} {m.unit}", "let it move less far, or cut back what it meets"
    try:
        there = assemble_like(made.assembly.posed(m.name, amount), made)
    except BadValue as short:
        what = f"a strut would be {float(str(short.value)):.1f} mm long"
        yield stop("assembly.movement", where, what, f"a strut of {short.valid}, or other joints")
        return
    rigid = [one.name for one in there.assembly.members if not one.flexible]
    struts = [s.member for s in m.struts]
    # A strut follows in its own way, so it may meet what moves as well as what stays.
    moving, others = [n for n in rigid if n in m.members], [n for n in rigid if n not in m.members]
    pairs = [*product(moving, others), *product(struts, (n for n in others if n not in struts))]
    boxes = {n: solids.kernel.box(there.shape(n)) for n in rigid}
    for a, b in pairs:
        if solids.bodies.boxes_near(boxes[a], boxes[b]):
            common = solids.bodies.common_volume(there.shape(a), there.shape(b))
            if common > CLASH:
                volume = round(common, 3), 0.0, "mm³", "geometry"
                yield stop("assembly.movement", where, f"{a} runs into {b}", remedy, *volume)
