"""Where members of an assembly meet: common volume, gaps where a weld is drawn, holes of one fastener."""

from __future__ import annotations

from collections.abc import Iterator

from tinbook.finding import Finding, fine, stop
from tinbook.making.assembled import CLASH, CONCENTRIC, WELD_GAP, Assembled


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
