"""Fold lines and fold table of a walked skin."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any, TypeAlias

import numpy as np

from tinbook.errors import BadValue, OutOfRange
from tinbook.flatpattern import FoldLine
from tinbook.plane.cuts import crossings
from tinbook.plane.loops import Move, Point
from tinbook.read.step.vectors import across, length, minus, unit
from tinbook.read.step.walk import KOf, Region, Sharp, Walk
from tinbook.space import dot
from tinbook.values import dataclass

BendRule: TypeAlias = float | Callable[[float, float, float], float] | Mapping[float, float]
"""K; or a function (angle in degrees, inside radius, thickness) -> K; or a table {inside radius / thickness: K}."""


def rule_of(bend: Any) -> tuple[KOf, str]:
    """Return the function (angle, radius, thickness) -> K and the words for the fold table.

    Raises
    ------
    BadValue
        Neither a K from 0 to 1, a function nor a table.
    OutOfRange
        (when called) a ratio beside the table.
    """
    valid = "a K from 0 to 1, a function (angle, radius, thickness) -> K, or a table {radius/thickness: K}"
    by_shop = f"{valid}; or shop=shop, whose rules serve"
    if bend is None:
        return (lambda angle, radius, t: _not_given(by_shop)), "no K"
    if isinstance(bend, (int, float)) and not isinstance(bend, bool) and 0.0 <= bend <= 1.0:
        value = float(bend)
        return (lambda angle, radius, t: value), f"K {value:g} as asked"
    if isinstance(bend, Mapping):
        try:
            table = sorted((float(ratio), float(k)) for ratio, k in bend.items())
        except (TypeError, ValueError):
            raise BadValue("bend", bend, valid) from None
        if not table or any(not (ratio >= 0.0 and 0.0 <= k <= 1.0) for ratio, k in table):
            raise BadValue("bend", bend, valid)
        return (lambda angle, radius, t: _between(table, radius / t)), "K from the table given"
    if callable(bend):
        words = getattr(bend, "words", "K from the function given")
        return (lambda angle, radius, t: _asked(bend, angle, radius, t)), words
    raise BadValue("bend", bend, by_shop)


def _not_given(valid: str) -> float:
    raise BadValue("bend", None, f"{valid}. No K is right for every workshop")


def _between(table: list[tuple[float, float]], ratio: float) -> float:
    # Some files draw a zero radius as a tiny one: values a thousandth outside the table are accepted.
    if not table[0][0] - 1e-3 <= ratio <= table[-1][0] + 1e-3:
        span = f"radius/thickness from {table[0][0]:g} to {table[-1][0]:g}"
        raise OutOfRange("bend table", round(ratio, 4), span)
    ratios, factors = np.array(table).T
    return float(np.interp(ratio, ratios, factors))


def _asked(bend: Callable[[float, float, float], Any], angle: float, radius: float, t: float) -> float:
    try:
        k = bend(angle, radius, t)
    except BadValue:
        raise  # the rule's own error says what it needs
    except Exception as wrong:
        at = f"it failed with ({angle:.4g}, {radius:.4g}, {t:.4g}): {wrong}"
        raise BadValue("bend function", at, "a function (angle, radius, thickness) -> K") from wrong
    return _checked(k, radius, t)


def _checked(k: Any, radius: float, t: float) -> float:
    # A flattened hem can have K below 0; only a bend without length is invalid.
    if isinstance(k, bool) or not isinstance(k, (int, float)) or not (k <= 1.0 and radius + k * t >= 0.0):
        raise BadValue("bend function's answer", k, f"a K from {-radius / t:.3g} (no length left) to 1")
    return float(k)


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundFold:
    """A fold found in a solid: its line in the flat and the panels it joins.

    Parameters
    ----------
    line : FoldLine
        Angle, inside radius, direction, allowance, pieces in the flat.
    regions : tuple of int
        The bend's regions in the walk; empty for a fold without a radius.
    between : tuple of int
        Regions that it joins, the one nearer the seed first.
    """

    line: FoldLine
    regions: tuple[int, ...]
    between: tuple[int, ...]


def folds(walk: Walk, rule: str, final: Move) -> list[FoundFold]:
    """Return the folds; bends of one panel about one axis, by one angle, are one fold with several pieces."""
    near = _neighbours(walk)
    groups: dict[tuple[object, ...], list[Region]] = defaultdict(list)
    for r in walk.regions:
        if r.move is None or r.kind != "cylinder":
            continue
        key: tuple[object, ...] = (r.inside, round(r.radius, 3), round(r.angle, 2))
        same = next(
            (k for k, g in groups.items() if k[:3] == key and any(_one_stroke(walk, near, m, r) for m in g)), None
        )
        groups[same or (*key, r.index)].append(r)
    found = [_bend(walk, group, near, rule, final) for group in groups.values()]
    found += _sharps(walk, rule, final)
    found.sort(key=lambda f: _sort_key(f.line))
    return [replace(f, line=replace(f.line, name=f"fold {i}")) for i, f in enumerate(found, 1)]


def _sort_key(line: FoldLine) -> tuple[float, ...]:
    if not line.pieces:
        return (math.inf,)
    xs = [p for piece in line.pieces for p in piece]
    return tuple(round(sum(p[k] for p in xs) / len(xs), 3) for k in (1, 0))


def _neighbours(walk: Walk) -> dict[int, list[int]]:
    near: dict[int, list[int]] = defaultdict(list)
    for c, d in walk.joined.items():
        a, b = walk.region_of[c.face], walk.region_of[d.face]
        if a != b and b not in near[a]:
            near[a].append(b)
    return near


def _one_stroke(walk: Walk, near: dict[int, list[int]], a: Region, b: Region) -> bool:
    """Whether two bends are folded in one stroke: one axis in the part, one line in the flat.

    Tabs of one panel do, and what an opening parts: the fold, or the panels on both its sides.
    """
    if not _one_axis(walk, a, b):
        return False
    if a.parent == b.parent or set(near[a.index]) == set(near[b.index]):
        return True
    return _in_line(_middle_line(a), _middle_line(b))


def _middle_line(r: Region) -> tuple[Point, Point]:
    assert r.move is not None
    middle = r.chart.scale * (r.turn[0] + r.turn[1]) / 2
    return r.move((0.0, middle)), r.move((1.0, middle))


def _in_line(a: tuple[Point, Point], b: tuple[Point, Point]) -> bool:
    """Whether two lines of the flat are one, to a hundredth of a millimetre."""
    (x0, y0), (x1, y1) = a
    d = math.dist(*a) or 1.0
    off = [((x - x0) * (y1 - y0) - (y - y0) * (x1 - x0)) / d for x, y in b]
    return all(abs(v) < 0.01 for v in off)


def _one_axis(walk: Walk, a: Region, b: Region) -> bool:
    fa, fb = walk.body.faces[a.faces[0]], walk.body.faces[b.faces[0]]
    return abs(dot(fa.axis, fb.axis)) > 1 - 1e-8 and length(across(minus(fb.origin, fa.origin), fa.axis)) < 2e-3


def _bend(walk: Walk, group: list[Region], near: dict[int, list[int]], rule: str, final: Move) -> FoundFold:
    pieces: list[tuple[Point, Point]] = []
    for r in group:
        assert r.move is not None
        move = final.after(r.move)
        middle = r.chart.scale * (r.turn[0] + r.turn[1]) / 2
        pieces += [(move((a, middle)), move((b, middle))) for a, b in _along(walk, r, middle)]
    # Where a fold has several pieces, the far panel may be reached over one and the walk return over another.
    own = {g.index for g in group}
    r = next((g for g in group if g.parent is not None and walk.regions[g.parent].parent not in own), group[0])
    between = sorted({n for g in group for n in near[g.index]}, key=lambda n: (n != r.parent, n))
    line = _fold_line(pieces, r, walk.skin.thickness, rule)
    return FoundFold(line=line, regions=tuple(g.index for g in group), between=tuple(between))


def _fold_line(pieces: list[tuple[Point, Point]], bend: Region | Sharp, t: float, rule: str) -> FoldLine:
    return FoldLine(
        name="",
        pieces=_joined(pieces),
        angle=round(bend.angle, 6),
        direction="up" if bend.inside else "down",
        radius=round(bend.radius, 6),
        allowance=(bend.radius + bend.k * t) * math.radians(bend.angle),
        k=bend.k,
        rule=rule,
    )


def _along(walk: Walk, r: Region, middle: float) -> list[tuple[float, float]]:
    """Return the stretches of metal along a bend's middle line, in its chart."""
    edges = [e for f in r.faces for c in walk.body.coedges(f) for e in walk.pieces[c]]
    for nudge in (1e-7, -1.3e-6, 2.9e-6, -1.1e-5, 4.7e-5):
        cut = sorted(
            e.at(s)[0] for e in edges for s in crossings(e, (0.0, middle + nudge), (1.0, 0.0)) if 0.0 <= s < 1.0
        )
        if len(cut) % 2 == 0:
            return [(a, b) for a, b in zip(cut[::2], cut[1::2], strict=True) if b - a > 1e-6]
    return []


def _joined(pieces: list[tuple[Point, Point]]) -> tuple[tuple[Point, Point], ...]:
    """Order pieces along their common line, all run the same way, touching ones made one."""
    if not pieces:
        return ()
    (x0, y0), (x1, y1) = max(pieces, key=lambda p: math.dist(*p))
    d = math.dist((x0, y0), (x1, y1)) or 1.0
    ux, uy = (x1 - x0) / d, (y1 - y0) / d
    if ux < -1e-9 or (abs(ux) <= 1e-9 and uy < 0):
        ux, uy = -ux, -uy
    run = sorted(tuple(sorted(p, key=lambda q: q[0] * ux + q[1] * uy)) for p in pieces)
    run.sort(key=lambda p: p[0][0] * ux + p[0][1] * uy)
    made = [run[0]]
    for a, b in run[1:]:
        if math.dist(made[-1][1], a) < 1e-3:
            made[-1] = (made[-1][0], b)
        else:
            made.append((a, b))
    return tuple((a, b) for a, b in made)


def _sharps(walk: Walk, rule: str, final: Move) -> list[FoundFold]:
    groups: dict[tuple[int, int, bool], list[tuple[Sharp, tuple[Point, Point]]]] = defaultdict(list)
    for c, sharp in walk.sharps.items():
        d = walk.joined.get(c)
        if d is None:
            continue
        a, b = walk.region_of[c.face], walk.region_of[d.face]
        if (walk.regions[b].parent != a) and not (walk.regions[a].parent != b and a < b):
            continue  # each fold once, from its parent's side
        here, there = walk.placed(c), walk.placed(d)
        p = _middle(here[0].start, there[-1].end)
        q = _middle(here[-1].end, there[0].start)
        groups[(a, b, sharp.inside)].append((sharp, (final(p), final(q))))
    made = []
    for found, between in _strokes(walk, groups):
        line = _fold_line([piece for _, piece in found], found[0][0], walk.skin.thickness, rule)
        made.append(FoundFold(line=line, regions=(), between=between))
    return made


_Pieces: TypeAlias = list[tuple[Sharp, tuple[Point, Point]]]


def _strokes(walk: Walk, groups: Mapping[tuple[int, int, bool], _Pieces]) -> list[tuple[_Pieces, tuple[int, ...]]]:
    """Join folds without a radius that go down together, as `_one_stroke` does for bends."""
    made: list[tuple[_Pieces, tuple[int, ...]]] = []
    for (a, b, _), found in groups.items():
        for i, (pieces, between) in enumerate(made):
            (one, piece), (other, start) = found[0], pieces[0]
            same = one.inside == other.inside and abs(one.angle - other.angle) < 0.01
            same = same and abs(one.radius - other.radius) < 1e-3 and _in_line(start, piece)
            if same and _on_one_line(walk, one, other):
                made[i] = [*pieces, *found], (*between, *(n for n in (a, b) if n not in between))
                break
        else:
            made.append((found, (a, b)))
    return made


def _on_one_line(walk: Walk, a: Sharp, b: Sharp) -> bool:
    """Whether the edges of two folds lie on one line in space."""
    e, f = walk.body.edges[a.coedge.edge], walk.body.edges[b.coedge.edge]
    way = unit(minus(e.p1, e.p0))
    return all(length(across(minus(p, e.p0), way)) < 2e-3 for p in (f.p0, f.p1))


def _middle(a: Point, b: Point) -> Point:
    return (a[0] + b[0]) / 2, (a[1] + b[1]) / 2
