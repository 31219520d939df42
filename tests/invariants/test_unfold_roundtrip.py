"""Invariant 2: unfolding the exported STEP with the same K gives the made part's flat back.

The unfolder shares no code with `make`; the areas are compared by shapely.
"""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from hypothesis import assume, event, given, settings

from counts import count
from strategies import SHOP, parts
from tinbook.flatpattern import FlatPattern
from tinbook.making.made import Made
from tinbook.making.resolve import make
from tinbook.part.part import Part
from tinbook.plane.loops import Edge, Loop, Move
from tinbook.read.step.unfold import Unfolded, unfold

shapely = pytest.importorskip("shapely")
cq = pytest.importorskip("cadquery")


def rule_of(made: Made) -> dict[tuple[float, float], float]:
    """K for every (angle, inside radius) of a made part, from its allowances; ambiguous parts are not drawn."""
    rule: dict[tuple[float, float], float] = {}
    for s in made.strips:
        k = (s.allowance / math.radians(s.angle) - s.radius) / made.thickness
        key = (round(s.angle, 3), round(s.radius, 4))
        assume(abs(rule.setdefault(key, k) - k) < 1e-9)
    return rule


def nearest(rule: dict[tuple[float, float], float], angle: float, radius: float) -> float:
    return rule[min(rule, key=lambda key: abs(key[0] - angle) + 10 * abs(key[1] - radius))]


def area_of(outer: Loop, holes: list[Loop]) -> object:
    """Polygon with chords so fine that arcs do not count."""
    rings = [h.chords(1e-4) for h in holes]
    return shapely.Polygon(outer.chords(1e-4), rings).buffer(0)


def moves(mine: Loop, theirs: Loop) -> list[Move]:
    """Every rigid move, mirrored or not, that lays an edge of one outline on the other's longest line."""
    target = max((e for e in theirs if e.is_line), key=lambda e: e.length)
    made = []
    for edge in mine:
        if not edge.is_line or abs(edge.length - target.length) > 0.01:
            continue
        made.append(Move.to_edge(target).after(Move.to_edge(edge).inverse()))
        turned = Edge((-edge.end[0], edge.end[1]), (-edge.start[0], edge.start[1]))
        mirror = Move(a=-1.0)
        made.append(Move.to_edge(target).after(Move.to_edge(turned).inverse()).after(mirror))
    return made


def difference(mine: FlatPattern, made: FlatPattern) -> float:
    """Smallest symmetric difference over all such moves, relative to the made flat's area."""
    theirs = area_of(made.outer, [c.loop for c in made.cuts] + [d.loop for d in made.drills])
    best = math.inf
    for move in moves(mine.outer, made.outer):
        ours = area_of(mine.outer.moved(move), [c.loop.moved(move) for c in mine.cuts])
        best = min(best, ours.symmetric_difference(theirs).area / theirs.area)
        if best < 1e-6:
            break
    return best


def compare(made: Made, path: Path) -> Unfolded:
    rule = rule_of(made)
    cq.exporters.export(cq.Workplane(made.solid), str(path))
    mine = unfold(path, bend=lambda angle, radius, t: nearest(rule, angle, radius), trusted=True)
    assert made.flat is not None
    assert mine.thickness == pytest.approx(made.thickness, abs=1e-5)
    assert mine.area == pytest.approx(made.flat.area - math.fsum(d.loop.area for d in made.flat.drills), rel=1e-4)
    assert difference(mine, made.flat) < 1e-4
    return mine


@given(part=parts(forms=False))
@settings(max_examples=count(60, 1000))
def test_unfolding_gives_the_flat_back(part: Part, tmp_path_factory: pytest.TempPathFactory) -> None:
    made = make(part, SHOP)
    if not made.ok:
        event("cannot be made")
        return
    event("made")
    mine = compare(made, tmp_path_factory.mktemp("round") / "part.step")
    assert made.flat is not None
    # Every strip is found with its angle and inside radius (tabs on one line count once, so sets are compared).
    for strip in made.strips:
        assert any(
            math.isclose(f.angle, strip.angle, abs_tol=1e-3) and math.isclose(f.radius, strip.radius, abs_tol=1e-3)
            for f in mine.folds
        )
