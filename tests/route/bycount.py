"""What an order of folds costs, counted apart from the planner: from setups, the flat pattern and the shop's limits."""

from __future__ import annotations

import math
from functools import cache

import shapely

from tinbook.making.articulated import Levels
from tinbook.making.made import Made
from tinbook.route.planner import Hit, Planner
from tinbook.route.takeout import way_out

Ranks = tuple[int, ...]
NONE = (0,) * 9


@cache
def halves(made: Made, fold: int) -> tuple[tuple[float, float, float, float], tuple[float, float, float, float]]:
    """kg, mm², mm from line to centre, mm to the farthest point: the flat pattern cut along one strip, parent first."""
    assert made.flat is not None
    flat = shapely.Polygon(made.flat.outer.chords(0.01), [c.loop.chords(0.01) for c in made.flat.cuts])
    strip = made.strips[fold]
    (ox, oy), (tx, ty) = strip.flat((0.0, strip.allowance / 2)), strip.flat((0.0, strip.allowance / 2 + 1.0))
    band = shapely.union_all([shapely.Polygon(r.moved(strip.flat).chords(0.01)) for r in strip.regions])
    rest = shapely.get_parts(flat.difference(band.buffer(1e-6)))
    names = [{strip.parent}, {strip.child}]
    for side in names:  # whatever hangs on it without this fold
        for _ in made.strips:
            for s in made.strips:
                if s.name != strip.name and {s.parent, s.child} & side:
                    side |= {s.parent, s.child}
    out = []
    for sign, side in zip((-1.0, 1.0), names, strict=True):
        seeds = [
            shapely.Polygon(made.panel(n).boundary.moved(made.panel(n).flat).chords(0.01)).buffer(-0.1) for n in side
        ]
        mine = shapely.union_all([p for p in rest if any(p.intersects(s) for s in seeds)])
        area, c = mine.area, mine.centroid
        points = shapely.get_coordinates(mine)
        deep = max(sign * ((x - ox) * (tx - ox) + (y - oy) * (ty - oy)) for x, y in points)
        centre = sign * ((c.x - ox) * (tx - ox) + (c.y - oy) * (ty - oy))
        out.append((area * made.thickness * made.sheet.material.density * 1e-9, area, centre, deep))
    return out[0], out[1]


def hangs(made: Made, deep: float) -> float:
    """mm: a cantilever under its own weight, q L⁴ / 8 E I with q = rho g t and I = t³/12 for each mm of width."""
    free, t, metal = max(deep - made.shop.handling.table, 0.0), made.thickness, made.sheet.material
    return 12 * metal.density * 1e-9 * 9.80665 * free**4 / (8 * metal.youngs * t**2)


def stiff(made: Made, fold: int, child: bool, levels: Levels) -> bool:
    """Whether a return across the fold stands up on a side."""
    mine = made.strips[fold]
    side = {mine.child if child else mine.parent}
    for _ in made.strips:
        for s in made.strips:
            if s.name != mine.name and {s.parent, s.child} & side:
                side |= {s.parent, s.child}
    for s, level in zip(made.strips, levels, strict=True):
        crossed = abs(s.flat.a * mine.flat.c - s.flat.c * mine.flat.a)  # sine between two unit vectors
        if level and s.name != mine.name and s.parent in side and crossed > 0.5:
            return True
    return False


def ranks_of(planner: Planner, before: Hit | None, move: Hit) -> Ranks:
    """Count one hit after another; see `cost.RANKS` for what stands where."""
    made, setup, strip = planner.made, move.setup, planner.made.strips[move.fold]
    limits, machine = made.shop.handling, planner.machine(move.setup)
    one = halves(made, move.fold)
    stuck = int(way_out(planner, move) == "")
    heavy = made.mass > limits.one_man
    two = swung = small = 0
    if setup.process == "fold":
        held, up = (one[1], one[0]) if setup.leg_back else one
        turn = math.radians(min(strip.angle, 135.0))
        swung = int(up[0] * up[2] / 1000 * turn / limits.swing + 1e-6)
        small = int(held[1] < 0.99 * up[1])
        saggy = hangs(made, up[3]) > limits.sag and not stiff(made, move.fold, not setup.leg_back, move.before)
        two = int(up[0] > limits.one_man or saggy)
    elif setup.process in ("air", "bottom"):
        saggy = any(
            hangs(made, one[c][3]) > limits.sag and not stiff(made, move.fold, bool(c), move.before) for c in (0, 1)
        )
        two = int(heavy or saggy)
    mark = 0
    if machine.gauge_max is not None:
        # Two for an eye on a mark, one for a face that slopes past the finger's corner, none for an edge.
        mark = 2 if move.gauge.edge == "" else int(abs(move.gauge.contact.slope) > 0)
    loose = int(setup.pieces != ())
    if before is None:
        return stuck, two + heavy, 0, swung, 0, small, 0, mark, loose
    old = made.strips[before.fold]
    over = int(old.direction != strip.direction)
    one_setting = (setup.machine, setup.tool, setup.punch, setup.reversed, setup.pieces)
    other_setting = (
        before.setup.machine,
        before.setup.tool,
        before.setup.punch,
        before.setup.reversed,
        before.setup.pieces,
    )
    reset = int(one_setting != other_setting)
    by_hand = machine.gauge_max is not None and not machine.gauge_moves
    was = planner.machine(before.setup)
    if by_hand and was.gauge_max is not None and not was.gauge_moves:
        reset += abs(round(before.gauge.at, 2) - round(move.gauge.at, 2)) > 0.05
    a, b = planner.heading(before), planner.heading(move)
    turned = int(math.degrees(math.acos(max(-1.0, min(1.0, a[0] * b[0] + a[1] * b[1])))) > 1.15)
    lift = int(heavy and bool(over or turned or setup.machine != before.setup.machine))
    begun = before.level < planner.full[before.fold] and before.fold != move.fold
    return stuck, two + lift, over, swung, reset, small, turned, mark, loose + int(begun)


def added(a: Ranks, b: Ranks) -> Ranks:
    return tuple(x + y for x, y in zip(a, b, strict=True))


def cheapest(planner: Planner) -> Ranks | None:
    """Ranks of the best order, by trying every hit in every state, keeping the best rest of each (state, last hit)."""
    known: dict[tuple[Levels, int, int, tuple[object, ...]], Ranks | None] = {}

    def rest(levels: Levels, last: Hit | None) -> Ranks | None:
        if levels == planner.full:
            return NONE
        key = (levels, *((last.fold, last.level, last.setup.key) if last else (-1, -1, ())))
        if key not in known:
            best: Ranks | None = None
            for move in planner.moves(levels):
                more = rest((*levels[: move.fold], move.level, *levels[move.fold + 1 :]), move)
                if more is not None:
                    total = added(more, ranks_of(planner, last, move))
                    best = total if best is None else min(best, total)
            known[key] = best
        return known[key]

    return rest((0,) * len(planner.full), None)
