"""Panels and bends of a foreign solid as whole pieces: openings that run over folds are filled and kept beside them."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterable
from dataclasses import field, replace
from typing import TYPE_CHECKING

from shapely import Polygon

from tinbook.errors import CannotMake
from tinbook.flatpattern import Cut, FoldLine
from tinbook.plane.chaining import CUT, chain_loops, divided
from tinbook.plane.cuts import clip, contains, distance
from tinbook.plane.loops import Edge, Loop, Point, polygon
from tinbook.values import dataclass

if TYPE_CHECKING:
    from tinbook.read.step.unfold import Unfolded

NEAR = 2e-3
"""mm: a foreign solid's edges lie where its folds say, to this."""
STRAIGHT = 1e-5
"""mm: edges that turn off by less over the shorter of them run straight on."""
SLIT = 0.2
"""mm: width of a slit that parts what a part of flat panels and folds cannot hold together."""


Remark = tuple[str, str, tuple[Point, Point]]
"""Panel, words, and the ends of the line in the flat that they are about."""


@dataclass(frozen=True, slots=True)
class Band:
    """A fold's strip of the flat: along its line, and half its width to either side."""

    line: FoldLine
    at: Point
    u: Point
    half: float

    @classmethod
    def of(cls, line: FoldLine) -> Band:
        """Return the strip of a fold line."""
        (a, b) = max(line.pieces, key=lambda p: math.dist(*p))
        n = math.dist(a, b)
        return cls(line, a, ((b[0] - a[0]) / n, (b[1] - a[1]) / n), line.allowance / 2)

    def along(self, p: Point) -> float:
        """Return how far along the line a point lies, mm."""
        return (p[0] - self.at[0]) * self.u[0] + (p[1] - self.at[1]) * self.u[1]

    def off(self, p: Point) -> float:
        """Return how far to the left of the line a point lies, mm."""
        return (p[1] - self.at[1]) * self.u[0] - (p[0] - self.at[0]) * self.u[1]

    @property
    def far(self) -> Point:
        """A point of the line a metre on."""
        return self.at[0] + 1000 * self.u[0], self.at[1] + 1000 * self.u[1]

    def side(self, e: Edge) -> int:
        """Return +1 or -1 where an edge lies on the left or right tangent line, else 0."""
        if not e.is_line:
            return 0
        h = [self.off(p) for p in (e.start, e.end)]
        return next((s for s in (1, -1) if all(abs(v - s * self.half) < NEAR for v in h)), 0)

    def tangent(self, side: int) -> Point:
        """Return a point of a tangent line."""
        return self.at[0] - side * self.half * self.u[1], self.at[1] + side * self.half * self.u[0]


@dataclass(slots=True)
class Pieces:
    """A foreign part in its flat.

    Parameters
    ----------
    panels : dict of str to Loop
        Panels by name, anticlockwise in the flat, without openings.
    strips : dict of str to list of Loop
        Bends by fold, in the flat; each loop joins two panels.
    bands : dict of str to Band
        Where each fold lies.
    whole : dict of str to list of Cut
        Openings wholly inside a panel.
    over : list of (str, Cut)
        Openings over folds, with a panel that they touch.
    slits : list of (str, point, point)
        Where a panel was cut through, from an opening to its edge, because it hung on two bends.
    rims : list of Remark
        Bends without a leg that became part of their panel.
    """

    panels: dict[str, Loop]
    strips: dict[str, list[Loop]]
    bands: dict[str, Band]
    whole: dict[str, list[Cut]] = field(default_factory=dict)
    over: list[tuple[str, Cut]] = field(default_factory=list)
    slits: list[tuple[str, Point, Point]] = field(default_factory=list)
    rims: list[Remark] = field(default_factory=list)


def pieces_of(found: Unfolded) -> Pieces:
    """Sort a found part into whole pieces.

    Raises
    ------
    CannotMake
        An opening leaves nothing of a panel between two folds, or belongs to nothing.
    """
    made = Pieces(
        panels={p.name: p.outer.moved(p.flat) for p in found.panels},
        strips={s.fold: list(s.outlines) for s in found.strips},
        bands={f.name: Band.of(f) for f in found.folds if f.pieces},
    )
    for s in found.strips:
        if not s.outlines and s.fold in made.bands:
            made.strips[s.fold] = [_square(made.bands[s.fold], *p) for p in made.bands[s.fold].line.pieces]
    for cut in found.cuts:
        where = _home(cut.loop, made.panels)
        if where is not None:
            made.whole.setdefault(where, []).append(cut)
        else:
            made.over.append(("", cut))
    waiting, made.over = [c for _, c in made.over], []
    for cut in waiting:
        where = _fill(made, cut.loop.anticlockwise(), found)
        if where:
            made.over.append((where, cut))
    _all_there(made, found, waiting)
    return made


def _all_there(made: Pieces, found: Unfolded, over: list[Cut]) -> None:
    """Refuse a part whose panels and bends are not all of its blank: metal formed at a fold would be lost unseen."""
    left = sum(c.loop.anticlockwise().area for c in over if not any(c is o for _, o in made.over))
    have = sum(x.area for x in made.panels.values()) + sum(x.area for some in made.strips.values() for x in some)
    have += sum(SLIT * math.dist(a, b) for _, a, b in made.slits)
    want = found.outer.area - left
    if abs(have - want) > 1e-3 * want:
        why = "metal is formed at a fold or rolled" if have < want else "a tab is bent out of the middle of a panel"
        raise CannotMake(
            f"{found.name}: panels and bends are {have:.0f} mm² of the blank's {want:.0f} mm²: {why}, which a part "
            "of outlines and folds cannot say; cut the flat as it is"
        )


def _square(band: Band, a: Point, b: Point) -> Loop:
    """Return the strip of a fold without a radius, which has no face of its own."""
    s0, s1 = sorted((band.along(a), band.along(b)))
    corners = ((s0, -1), (s1, -1), (s1, 1), (s0, 1))
    points = [(band.tangent(k)[0] + s * band.u[0], band.tangent(k)[1] + s * band.u[1]) for s, k in corners]
    return polygon(points)


def _home(loop: Loop, panels: dict[str, Loop]) -> str | None:
    """Return the panel in which an opening lies with metal all round."""
    x0, y0, x1, y1 = loop.box
    p = loop.edges[0].at(0.37)
    for name, outer in panels.items():
        a0, b0, a1, b1 = outer.box
        if a0 < x0 + NEAR and b0 < y0 + NEAR and x1 < a1 + NEAR and y1 < b1 + NEAR and contains(outer, p):
            if min(distance(e, p) for e in outer.edges) > NEAR:
                return name
    return None


def _fill(made: Pieces, opening: Loop, found: Unfolded) -> str:
    """Give the place of an opening to the panels and bends around it; return a panel that it touches.

    An opening that parts a panel in two stays: one of the panels beside it is cut through, and "" is returned.
    """
    middle = _inside(opening)
    bands = {
        n: made.bands[n]
        for n, loops in made.strips.items()
        if any(_on(opening, e) for x in loops for e in x.edges)
        or any(contains(x, middle) for x in loops)
        or _beside(opening, made.bands[n], loops)
    }
    if not bands:
        raise CannotMake(f"{found.name}: an opening belongs to no panel and no fold; cut the flat as it is")
    bands = _strokes(made, bands)
    parts = [opening]
    for name, band in bands.items():
        for side in (1, -1):
            split: list[Loop] = []
            for part in parts:
                left, right = divided(part, band.tangent(side), band.u, f"{name} {side}")
                split += [*left, *right]
            parts = split
    owners: dict[tuple[str, ...], list[Loop]] = {}
    for part in parts:
        owners.setdefault(_owner(part, opening, made, bands), []).append(part)
    if any(len(owner) > 2 for owner in owners):
        _slit(made, opening, bands, found.name)
        return ""
    touched = ""
    for owner, mine in owners.items():
        kept = [e for part in mine for e in part.edges if e.name.startswith(CUT) or _tangent(e, bands)]
        if owner[0] == "strip":
            old = made.strips[owner[1]]
            made.strips[owner[1]] = rejoined([*_unbitten(old, opening, bands), *kept], found.name)
            continue
        if len(owner) < 2:
            raise CannotMake(f"{found.name}: an opening leaves nothing of a panel; cut the flat as it is")
        loops = rejoined([*_unbitten([made.panels[owner[1]]], opening, bands), *kept], found.name)
        if len(loops) != 1:
            raise CannotMake(f"{found.name}: an opening takes the corner of {owner[1]}; cut the flat as it is")
        made.panels[owner[1]] = loops[0]
        touched = touched or owner[1]
    if touched:
        return touched
    # A hole wholly within the bend belongs to the panel that the bend hangs from.
    return next(s.parent for s in found.strips if s.fold in bands)


def _strokes(made: Pieces, bands: dict[str, Band]) -> dict[str, Band]:
    """Make one fold of those that an opening parts: they lie in one band and turn alike."""
    out: dict[str, Band] = {}
    for name, b in bands.items():
        first = next((n for n, o in out.items() if _one_stroke(o, b)), None)
        if first is None:
            out[name] = b
        else:
            made.strips[first] += made.strips.pop(name)
    return out


def _slit(made: Pieces, opening: Loop, bands: dict[str, Band], part: str) -> None:
    """Cut a panel through from an opening to its edge, between the two bends on which it hangs."""
    for name, band in bands.items():
        pieces = sorted((sorted(reach([x], band)) for x in made.strips[name]), key=lambda s: s[0])
        for (_, lo), (hi, _) in itertools.pairwise(pieces):
            for panel in [n for n in made.panels if _bitten(made.panels[n], opening)]:
                for share in (0.5, 0.3, 0.7, 0.15, 0.85):
                    if hi - lo > SLIT and _through(made, panel, band, lo + share * (hi - lo), opening):
                        return
    raise CannotMake(f"{part}: an opening parts a panel, and no panel beside it can be slit; cut the flat as it is")


def reach(loops: Iterable[Loop], band: Band) -> tuple[float, float]:
    """Return from where to where loops reach along a fold."""
    s = [band.along(q) for x in loops for q in x.points]
    return min(s, default=0.0), max(s, default=0.0)


def _bitten(outline: Loop, opening: Loop) -> bool:
    return any(_on(opening, e) for e in outline.edges)


def _through(made: Pieces, panel: str, band: Band, s: float, opening: Loop) -> bool:
    """Part a panel by a slit square to a fold, if it parts in two there and nothing but its edge lies in the way."""
    outline = made.panels[panel]
    (ux, uy), (x, y) = band.u, band.at
    parts: list[Loop] = []
    for off, way in ((-SLIT / 2, (-uy, ux)), (SLIT / 2, (uy, -ux))):
        parts += clip(outline, (x + (s + off) * ux, y + (s + off) * uy), way, "slit")
    new = [e for part in parts for e in part.edges if e.name == "slit"]
    if len(parts) != 2 or len(new) != 2:
        return False
    ends = (new[0].start, new[0].end)
    if not any(min(distance(o, p) for o in opening.edges) < SLIT for p in ends):
        return False
    # Nothing else may hang on the edge where the slit comes out, and no hole may lie in it.
    out = max(ends, key=lambda p: min(distance(o, p) for o in opening.edges))
    if any(b.side(e) and distance(e, out) < SLIT for b in made.bands.values() for e in outline.edges):
        return False
    for cut in made.whole.get(panel, []):
        low, high = reach([cut.loop], band)
        if low < s + SLIT and high > s - SLIT:
            return False
    names = [panel, f"{panel} b"]
    cuts = made.whole.pop(panel, [])
    for n, part in zip(names, parts, strict=True):
        made.panels[n] = Loop(tuple(replace(e, name="") for e in part.edges))
        made.whole[n] = [c for c in cuts if contains(made.panels[n], _inside(c.loop))]
    made.slits.append((panel, *ends))
    return True


def _one_stroke(a: Band, b: Band) -> bool:
    alike = a.line.direction == b.line.direction and abs(a.line.angle - b.line.angle) < 0.01
    return alike and abs(a.half - b.half) < NEAR and max(abs(a.off(b.at)), abs(a.off(b.far))) < NEAR


def _beside(opening: Loop, band: Band, strip: list[Loop]) -> bool:
    """Whether an edge of an opening lies on a tangent line of a bend, beside its metal."""
    low, high = reach(strip, band)
    return any(band.side(o) and low < band.along(o.at(0.5)) < high for o in opening.edges)


def _inside(loop: Loop) -> Point:
    """Return a point inside a loop."""
    p = Polygon(loop.chords(0.05)).representative_point()
    return p.x, p.y


def _owner(part: Loop, opening: Loop, made: Pieces, bands: dict[str, Band]) -> tuple[str, ...]:
    """Return ("strip", fold), or ("panel", names ...) of the panels whose outlines the opening bit here."""
    p = _inside(part)
    for name, band in bands.items():
        low, high = reach(made.strips[name], band)
        if abs(band.off(p)) < band.half and low < band.along(p) < high:
            return "strip", name
    rim = [e.at(s) for e in part.edges if not e.name.startswith(CUT) for s in (0.21, 0.5, 0.83)]
    names = [n for n, outer in made.panels.items() if any(min(distance(e, q) for e in outer.edges) < NEAR for q in rim)]
    # A bend's tangent line lies on its panel's outline too: only what the opening's rim alone touches counts.
    names = [n for n in names if any(_on(opening, e) and not _tangent(e, bands) for e in made.panels[n].edges)] or names
    return ("panel", *sorted(names))


def _on(opening: Loop, e: Edge) -> bool:
    return all(min(distance(o, e.at(s)) for o in opening.edges) < NEAR for s in (0.0, 0.31, 0.5, 0.83, 1.0))


def _tangent(e: Edge, bands: dict[str, Band]) -> bool:
    return any(b.side(e) for b in bands.values())


def _unbitten(loops: Iterable[Loop], opening: Loop, bands: dict[str, Band]) -> list[Edge]:
    """Return the edges that an opening did not make; a tangent line stays one, whatever lies beyond it."""
    return [e for loop in loops for e in loop.edges if _tangent(e, bands) or not _on(opening, e)]


def rejoined(edges: list[Edge], name: str) -> list[Loop]:
    """Chain edges into loops once those that run back over another are gone."""
    edges = _uncovered(edges)
    try:
        loops = chain_loops([replace(e, name="") for e in edges])
    except ValueError:
        raise CannotMake(f"{name}: an opening runs over a fold past its end; cut the flat as it is") from None
    return [straightened(x) for x in loops if x.area > NEAR]


def _uncovered(edges: list[Edge]) -> list[Edge]:
    """Take out the stretches of straight edges that run to and fro."""
    left = list(edges)
    done: list[Edge] = []
    while left:
        e = left.pop()
        if not e.is_line:
            done.append(e)
            continue
        for i, o in enumerate(left):
            cut = _back(e, o) if o.is_line else None
            if cut is not None:
                left.pop(i)
                left += cut
                break
        else:
            done.append(e)
    return done


def _back(e: Edge, o: Edge) -> list[Edge] | None:
    """Return what is left of two edges that run back over each other, None if they do not."""
    (ux, uy), n = e.direction(), e.chord
    (vx, vy) = o.direction()
    if ux * vx + uy * vy > -1 + 1e-9:
        return None
    s = [(p[0] - e.start[0]) * ux + (p[1] - e.start[1]) * uy for p in (o.end, o.start)]
    h = [(p[1] - e.start[1]) * ux - (p[0] - e.start[0]) * uy for p in (o.end, o.start)]
    if max(abs(v) for v in h) > NEAR or min(s[1], n) - max(s[0], 0.0) < NEAR:
        return None
    out = []
    for a, b, ahead in ((e.start, o.end, s[0] > 0), (o.start, e.end, s[1] < n)):
        # What sticks out on either side belongs to the longer of the two and keeps its sense.
        p, q = (a, b) if ahead else (b, a)
        if math.dist(p, q) > NEAR:
            out.append(Edge(p, q))
    return out


def straightened(loop: Loop, may: Callable[[Edge], bool] = lambda e: e.is_line) -> Loop:
    """Join edges that run straight on, of those that `may` be joined."""

    def straight_on(a: Edge, b: Edge) -> bool:
        if not (a.is_line and b.is_line and may(a) and may(b)):
            return False
        (ax, ay), (bx, by) = a.direction(), b.direction()
        return ax * bx + ay * by > 0 and abs(ax * by - ay * bx) * min(a.length, b.length) < STRAIGHT

    out: list[Edge] = []
    for e in loop.edges:
        if out and straight_on(out[-1], e):
            out[-1] = replace(out[-1], end=e.end)
        else:
            out.append(e)
    if len(out) > 2 and straight_on(out[-1], out[0]):
        out[0] = replace(out[0], start=out.pop().start)
    return Loop(tuple(out))
