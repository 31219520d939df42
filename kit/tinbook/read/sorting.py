"""Sort the solids of an assembly into sheet parts, with counts, and others, with the reason."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import numpy as np
from scipy.spatial import cKDTree

from tinbook.errors import TinbookError
from tinbook.flatpattern import FlatPattern
from tinbook.plane.loops import Edge, Loop, Move, Point
from tinbook.read.curves import onto
from tinbook.read.step.checks import sized
from tinbook.read.step.folds import BendRule
from tinbook.read.step.load import load
from tinbook.read.step.unfold import Unfolded, unfold_each
from tinbook.read.unfolding import k_rule
from tinbook.values import dataclass

SAME = 0.02
"""mm: two flats whose points lie this close are one part, cut twice."""
WORDS = 200
"""Characters of a reason."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Solids:
    """Solids of one kind in an assembly.

    Parameters
    ----------
    names : tuple of str
        What they are called in the file, the first one's name first.
    count : int
        How many there are.
    """

    names: tuple[str, ...]
    count: int

    @property
    def name(self) -> str:
        """Name of the first of them."""
        return self.names[0]


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetPart(Solids):
    """One kind of sheet part in an assembly.

    Parameters
    ----------
    flat : Unfolded
        Of the first of them.
    mirror_of : str
        Name of the part whose other hand it is, "" if there is none.
    """

    flat: Unfolded
    mirror_of: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class NoSheet(Solids):
    """Solids that are no sheet: bought, turned, milled, cast.

    Parameters
    ----------
    why : str
        Why the first of them is no sheet.
    """

    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Sorted:
    """An assembly's solids.

    Parameters
    ----------
    sheets : tuple of SheetPart
        In the file's order.
    rest : tuple of NoSheet
        In the file's order.
    """

    sheets: tuple[SheetPart, ...]
    rest: tuple[NoSheet, ...]

    def __repr__(self) -> str:
        lines = [f"{len(self.sheets)} kind(s) of sheet part, {len(self.rest)} of other solids"]
        for s in self.sheets:
            w, h = s.flat.size
            hand = f", mirror of {s.mirror_of}" if s.mirror_of else ""
            mark = ", stopped" if s.flat.findings.stops else ""
            lines.append(
                f"  {s.count:4d} x {s.name}: {s.flat.thickness:g} mm, blank {w:.1f} x {h:.1f} mm, "
                f"{len(s.flat.folds)} folds{hand}{mark}"
            )
        lines += [f"  {r.count:4d} x {r.name}: no sheet: {r.why}" for r in self.rest]
        return "\n".join(lines)


def sort_solids(
    source: Any,
    bend: BendRule | None = None,
    *,
    units: str | None = None,
    trusted: bool = False,
    shop: Any = None,
    seconds: float | None = None,
) -> Sorted:
    """Sort the solids of an assembly.

    Parameters
    ----------
    source, bend, units, trusted, shop, seconds
        As for `unfold`.

    Returns
    -------
    Sorted
        Parts whose flats lie on each other, folds with their angles and directions included, are one kind and are
        counted together; the other hand is a kind of its own and says so.

    Raises
    ------
    BadFile, BadValue
        The source cannot be read.
    """
    sheets: list[SheetPart] = []
    rest: dict[tuple[float, ...], NoSheet] = {}
    rule: Any = k_rule(bend, shop)
    solids = load(source, units=units, trusted=trusted, seconds=seconds)
    for one, told in unfold_each(solids, rule, shop):
        if isinstance(told, TinbookError):
            key = sized(one.shape)
            old = rest.get(key)
            names, count = (old.names, old.count) if old else ((), 0)
            why = old.why if old else _reason(told, one.name)
            rest[key] = NoSheet(names=(*names, one.name), count=count + one.count, why=why)
            continue
        mirror = ""
        for i, s in enumerate(sheets):
            how = compared(s.flat, told)
            if how == "same":
                sheets[i] = replace(s, count=s.count + told.count, names=(*s.names, one.name))
                break
            if how == "mirrored" and not s.mirror_of:
                mirror = s.name
        else:
            sheets.append(SheetPart(flat=told, count=told.count, names=(one.name,), mirror_of=mirror))
    return Sorted(sheets=tuple(sheets), rest=tuple(rest.values()))


def _reason(told: TinbookError, name: str) -> str:
    why = str(told).removeprefix(f"{name}: ")
    return why if len(why) <= WORDS else why[: WORDS - 4] + " ..."


def compared(a: FlatPattern, b: FlatPattern) -> str:
    """Say whether two flats are of one part.

    Parameters
    ----------
    a, b : FlatPattern
        With their folds.

    Returns
    -------
    str
        "same" where one lies on the other, seen from above or turned over with its folds the other way;
        "mirrored" where it does so only as its other hand; "" else.
    """
    if _plain(a) != _plain(b) or any(
        not math.isclose(x, y, rel_tol=1e-4, abs_tol=SAME) for x, y in zip(_measures(a), _measures(b), strict=True)
    ):
        return ""
    # A part that is its own other hand is the same.
    if any(_lies_on(a, b, over, over) for over in (False, True)):
        return "same"
    return "mirrored" if any(_lies_on(a, b, over, not over) for over in (False, True)) else ""


def _plain(f: FlatPattern) -> tuple[object, ...]:
    folds = sorted((round(x.angle, 2), round(x.radius, 2)) for x in f.folds)
    return len(f.outer), len(f.cuts), tuple(folds)


def _measures(f: FlatPattern) -> tuple[float, ...]:
    return f.thickness, f.outer.length, math.sqrt(f.area), sum(c.loop.length for c in f.cuts)


def _spots(f: FlatPattern, turn: Move, back: bool) -> Iterator[tuple[float, float, float]]:
    """Yield (x, y, what) of all that tells a flat: corners, openings, fold ends with direction and angle."""
    for e in () if f.outer.is_circle else f.outer.edges:
        yield *turn(e.start), 0.0
    for c in f.cuts:
        x0, y0, x1, y1 = c.loop.box
        yield *turn(((x0 + x1) / 2, (y0 + y1) / 2)), 100.0 + c.loop.length
        if c.dia is None:
            for e in c.loop.edges:
                yield *turn(e.start), 50.0
    for line in f.folds:
        up = (line.direction == "up") is not back
        for piece in line.pieces:
            for p in piece:
                yield *turn(p), (1000.0 if up else -1000.0) + line.angle
    for m in f.marks:
        if m.kind == "formed":
            x0, y0, x1, y1 = Loop(m.edges).box
            yield *turn(((x0 + x1) / 2, (y0 + y1) / 2)), 5000.0 if (m.face == "up") is not back else -5000.0


def _lies_on(a: FlatPattern, b: FlatPattern, over: bool, back: bool) -> bool:
    """Whether b, turned over in the plane or not, its folds taken the other way or not, lies on a."""
    flip = Move(a=-1.0) if over else Move()
    mine = np.array([(0.0, 0.0, -1.0), *_spots(a, Move(), False)])
    tree = cKDTree(mine)
    for lay in _ways(a, b.outer.moved(flip).reversed() if over else b.outer, [flip(p) for p in _centres(b)]):
        move = lay.after(flip)
        theirs = np.array([(0.0, 0.0, -1.0), *_spots(b, move, back)])
        if len(theirs) != len(mine):
            return False
        if tree.query(theirs)[0].max() < 2 * SAME and cKDTree(theirs).query(mine)[0].max() < 2 * SAME:
            return True
    return False


def _ways(a: FlatPattern, outer: Loop, centres: list[Point]) -> Iterator[Move]:
    """Yield the ways to lay an outline on that of a: its longest edge on each of that length; a disc by its openings."""
    if a.outer.is_circle and outer.is_circle:
        o, c = a.outer.edges[0].centre, outer.edges[0].centre
        mine = _centres(a)
        first = max(mine, key=lambda p: round(math.dist(p, o), 3), default=o)
        aims = [p for p in centres if abs(math.dist(p, c) - math.dist(first, o)) < SAME] or [c]
        for p in aims:
            # From the middle to an opening; a disc without one lies on another whatever its turn.
            yield onto(Edge(c, p), Edge(o, first)) if math.dist(p, c) > SAME else Move(u=o[0] - c[0], v=o[1] - c[1])
        return
    longest = max(a.outer.edges, key=lambda e: (round(e.chord, 3), e.is_line))
    for e in outer.edges:
        if abs(e.chord - longest.chord) < SAME and abs(e.bulge - longest.bulge) < 1e-3:
            yield onto(e, longest)


def _centres(f: FlatPattern) -> list[Point]:
    boxes = [c.loop.box for c in f.cuts]
    return [((x0 + x1) / 2, (y0 + y1) / 2) for x0, y0, x1, y1 in boxes]
