"""Where a tape finds the holes of a folded part: along the face, from its free edges and the outsides of its folds."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from itertools import groupby, pairwise
from typing import Final

from tinbook.datum import edge_name
from tinbook.dims import HoleRow, centre_of, hole_rows
from tinbook.language import ENGLISH, Language, Said
from tinbook.making.folded import BendZone, MadePanel
from tinbook.making.made import Made
from tinbook.plane.cuts import beside_edge, on_arc, seen_from
from tinbook.plane.loops import Edge, Point
from tinbook.values import dataclass
from tinbook.write.flowing import Table
from tinbook.write.setting_out import MOST, tag

SHORT: Final = 10.0
"""mm: no tape is hooked on a shorter edge, and no square laid against it."""
ACROSS: Final = math.sin(math.radians(30.0))
"""The second edge that a hole is measured from is turned at least so much against the first."""
EVEN: Final = 0.05
"""mm: a row whose pitches, or whose ends' distances, differ less is even."""
SQUARE: Final = 0.01
"""Degrees: a fold nearer to 90 is square."""


@dataclass(frozen=True, slots=True)
class Taped:
    """A distance of a hole's middle along the face.

    Parameters
    ----------
    name : str
        What it is measured from, in words.
    away : float
        mm
    """

    name: str
    away: float


@dataclass(frozen=True, slots=True, kw_only=True)
class HolePlace:
    """A hole of the folded part.

    Parameters
    ----------
    tag : str
        Its name on the sheet.
    panel : MadePanel
        That it lies in.
    at : (float, float)
        Its middle in the panel's frame, mm.
    taped : tuple of Taped
        The nearest edge, and the nearest that runs across to it; fewer where the panel has no such edge.
    """

    tag: str
    panel: MadePanel
    at: Point
    taped: tuple[Taped, ...]


def hole_places(made: Made) -> list[tuple[HolePlace, ...]]:
    """Return the holes of a folded part that lie wholly in a panel, by rows of the hole table and panels, in their order."""
    lines = {p.name: list(_lines(made, p)) for p in made.panels}
    middles = _middles(made)
    found: list[tuple[HolePlace, ...]] = []
    assert made.flat is not None
    for i, row in enumerate(hole_rows(made.flat)):
        for _, of_panel in groupby(_placed(row, i, middles), lambda it: it[1].name):
            found.append(tuple(HolePlace(tag=t, panel=p, at=q, taped=_taped(lines[p.name], q)) for t, p, q in of_panel))
    return found


def folded_hole_table(made: Made, say: Language = ENGLISH) -> Table | None:
    """Return the table of holes in the folded part, ends of even rows only; None without any."""
    rows = [row for places in hole_places(made) for row in _rows(places, say)]
    if not rows:
        return None
    heads = tuple(map(say, ("Hole", "On the folded part from", "mm", "Measured")))
    return Table(heads=heads, rows=tuple(rows[: 2 * MOST]), right=(2,), by_hand=(3,))


def over_folds(made: Made) -> list[str]:
    """Return the names of holes that lie in no panel, so that a tape finds them on the flat blank only."""
    found = {p.tag for places in hole_places(made) for p in places}
    assert made.flat is not None
    every = (
        f"{tag(i)}{k}" if h.count > 1 else tag(i)
        for i, h in enumerate(hole_rows(made.flat))
        for k in range(1, h.count + 1)
    )
    return [name for name in every if name not in found]


def _rows(places: Sequence[HolePlace], say: Language) -> Iterator[tuple[str, ...]]:
    """Yield rows for the ends of an even row of holes, or for each of them."""
    first, last = places[0], places[-1]
    steps = [math.dist(a.at, b.at) for a, b in pairwise(places)]
    straight = len(places) > 2 and math.dist(first.at, last.at) > math.fsum(steps) - EVEN
    shown = [first, last] if straight and max(steps) - min(steps) < EVEN else list(places)
    alike = len(shown) > 1 and all(_same(p.taped[:1], first.taped[:1]) for p in places)
    if alike and first.taped:
        yield f"{first.tag} ... {last.tag}", say.retold(first.taped[0].name), say.number(first.taped[0].away), ""
    for place in shown:
        for it in place.taped[int(alike) :]:
            yield place.tag, say.retold(it.name), say.number(it.away), ""


def _same(a: Sequence[Taped], b: Sequence[Taped]) -> bool:
    return [t.name for t in a] == [t.name for t in b] and all(
        abs(x.away - y.away) < EVEN for x, y in zip(a, b, strict=True)
    )


def _taped(lines: Sequence[tuple[Edge, str]], p: Point) -> tuple[Taped, ...]:
    """Return the distances from the nearest line, and from the nearest across to it: those that the hole lies beside first."""
    seen = sorted((found for e, name in lines if (found := _from(e, name, p)) is not None), key=lambda it: it[:3])
    if not seen:
        return ()
    ux, uy = seen[0][3]
    across = [it for it in seen if abs(ux * it[3][1] - uy * it[3][0]) > ACROSS]
    return tuple(Taped(name, away) for _, away, name, _ in (seen[0], *across[:1]))


def _from(e: Edge, name: str, p: Point) -> tuple[bool, float, str, Point] | None:
    """Return whether a point lies off the end of a line, how far from it, and the way along it; None on its other side."""
    if e.is_line:
        along, away = seen_from(e, p)
        return (not -EVEN < along < e.length + EVEN, round(away, 6), name, e.direction()) if away > 0 else None
    (cx, cy), r = e.centre, e.radius
    n = math.dist((cx, cy), p)
    if n < r / 2 or not on_arc(e, (cx + (p[0] - cx) * r / n, cy + (p[1] - cy) * r / n)):
        return None
    return False, round(abs(n - r), 6), name, ((cy - p[1]) / n, (p[0] - cx) / n)


def _lines(made: Made, p: MadePanel) -> Iterator[tuple[Edge, str]]:
    """Yield the lines on a panel that a tape can be hooked on, or a square laid against, with what to call them."""
    strips = {s.name: s for s in made.strips if not s.formed}
    for e in p.boundary.edges:
        fold = e.name.removeprefix("fold:")
        if e.length < SHORT:
            continue
        if fold != e.name:
            if fold in strips:
                at = beside_edge(e)
                yield Edge(at(0.0, -strips[fold].setback), at(e.length, -strips[fold].setback)), _fold(p, strips[fold])
        elif e.name != "relief" and not e.name.startswith("hole:"):
            name = edge_name(f"{p.name}|{e.name}")
            yield e, Said("edge {name}", name=name) if name else Said("its free edge")


def _fold(p: MadePanel, s: BendZone) -> str:
    other = s.parent if p.name == s.child else s.child
    if abs(s.angle - 90.0) < SQUARE:
        return Said("outside of {panel}", panel=other)
    if s.angle > 90.0:
        return Said("outside of the bend to {panel}", panel=other)
    return Said("mould line with {panel}", panel=other)


def _middles(made: Made) -> dict[Point, tuple[MadePanel, Point]]:
    """Return the panel and the middle in it of each hole and pilot, by its middle in the blank."""
    assert made.flat is not None
    inside: dict[str, tuple[MadePanel, Point]] = {}
    for p in made.panels:
        loops = [(h.name, h.loop) for h in p.holes] + [(f.name, f.pilot) for f in p.forms if f.pilot is not None]
        for name, loop in loops:
            x0, y0, x1, y1 = loop.box
            inside[name] = p, ((x0 + x1) / 2, (y0 + y1) / 2)
    # By name: where beads draw the sheet in, a hole of the blank lies elsewhere.
    return {centre_of(c): inside[c.name] for c in (*made.flat.cuts, *made.flat.drills) if c.name in inside}


def _placed(
    row: HoleRow, i: int, middles: Mapping[Point, tuple[MadePanel, Point]]
) -> Iterator[tuple[str, MadePanel, Point]]:
    """Yield the holes of a row that lie in a panel: tag, panel and middle in its frame."""
    for k, c in enumerate(row.centres, 1):
        if c in middles:
            yield f"{tag(i)}{k}" if row.count > 1 else tag(i), *middles[c]
