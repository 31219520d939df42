"""Bolts, screws and inserts of an assembly: holes of different members on one axis, and holes fixed to the ground."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import Final

import numpy as np

from tinbook.calc import fasteners
from tinbook.calc.rivets import HOLE
from tinbook.errors import BadValue
from tinbook.making.assembled import MATING_REACH, Assembled
from tinbook.part.bought import Bought
from tinbook.shop.fixings import Fixings
from tinbook.space import vec
from tinbook.strength.assemblies.joint import GROUND, Bore, Connection, Other, axes_along, bores_of
from tinbook.strength.assemblies.ties import Spring, Tie, rigid_tie, rim_tie
from tinbook.strength.assemblies.whole import Body, Member, Whole
from tinbook.strength.joints.load import AT_HOLE, Kind
from tinbook.strength.joints.rules import bolt_for
from tinbook.strength.shell.element import Array

STEEL: Final = 205e3


def _item_bores(made: Assembled, whole: Whole) -> Iterator[Bore]:
    bodies = {b.name: b for b in whole.bodies}
    for placed in made.assembly.members:
        thing = placed.thing
        if not isinstance(thing, Bought) or placed.flexible:
            continue
        if not thing.existing and placed.name not in bodies:
            continue
        of: Other = GROUND if thing.existing else bodies[placed.name]
        for folded in made.placed(placed.name):
            for panel in folded.panels:
                for h in panel.holes:
                    if not h.loop.is_circle:
                        continue
                    x, y = h.loop.edges[0].centre
                    yield Bore(of=of, name=placed.name, use="bore", at=np.array(panel.frame(x, y, folded.thickness / 2)),
                               axis=np.array(panel.frame.z), dia=2 * h.loop.edges[0].radius, deep=folded.thickness)  # fmt: skip


def bolts(made: Assembled, whole: Whole) -> Iterator[Connection]:
    """Return the bolts, screws and inserts: in a stack of holes on one axis, each sheet to the next."""
    bores = [b for m in whole.members for b in bores_of(m, whole) if b.use != "plug weld"]
    bores += _item_bores(made, whole)
    done: set[int] = set()
    for i, a in enumerate(bores):
        if i in done or not isinstance(a.of, Member):
            continue
        stack = [(0.0, i)]
        for j, b in enumerate(bores):
            if j == i or b.of is a.of or abs(float(a.axis @ b.axis)) < 0.999:
                continue
            way = b.at - a.at
            along = float(way @ a.axis)
            if float(np.linalg.norm(way - along * a.axis)) < min(a.dia, b.dia) / 2:
                stack.append((along, j))
        stack.sort()
        for (p, x), (q, y) in pairwise(stack):
            one, two = bores[x], bores[y]
            if q - p - (one.deep + two.deep) / 2 > MATING_REACH or one.of is two.of:
                continue
            if not isinstance(one.of, Member):
                one, two = two, one
            used = AT_HOLE.get(one.use) or AT_HOLE.get(two.use)
            if isinstance(one.of, Member) and used is not None:
                done |= {x, y}
                yield _bolt(whole, one, two, used, np.sign((two.at - one.at) @ one.axis) * one.axis, made.shop.fixings)


def _bolt(whole: Whole, one: Bore, two: Bore, kind: Kind, axis: Array, fixings: Fixings) -> Connection:
    assert isinstance(one.of, Member)
    youngs = one.of.made.sheet.material.youngs
    thick = one.deep if not isinstance(two.of, Member) else two.deep
    at = one.at + axis * one.deep / 2
    hole = min(one.dia, two.dia)
    rivet = kind == "blind rivet"
    shank = hole - HOLE[0] if rivet else _shank(hole, fixings)
    k = fasteners.bolted_stiffness(shank, one.deep, thick, youngs, youngs, STEEL, "rivet" if rivet else "bolt")
    second: Tie | None
    if isinstance(two.of, Member):
        second = rim_tie(whole.points, two.nodes, at)
    elif isinstance(two.of, Body):
        second = rigid_tie(two.of.node, whole.points[two.of.node], at)
    else:
        second = None
    return Connection(
        name=f"{one.name} of {one.of.name}",
        kind=kind,
        first=one.of,
        second=two.of,
        springs=(
            Spring(
                at=at,
                axes=axes_along(axis),
                stiffness=np.array(k),
                first=rim_tie(whole.points, one.nodes, at),
                second=second,
            ),
        ),
        nodes=one.nodes,
        axis=vec(axis),
        hole=one.dia,
    )


def _shank(hole: float, fixings: Fixings) -> float:
    """Return the diameter of what goes through a hole, mm: of its bolt, else as wide as the hole."""
    try:
        return bolt_for(hole, fixings).dia
    except BadValue:
        return hole


def grounded(whole: Whole, m: Member, bore: Bore, kind: Kind, fixings: Fixings) -> Connection:
    """Return a hole of a member fixed to something stiff below it (on the down side of its sheet)."""
    below = Bore(of=GROUND, name=GROUND, use="bore", at=bore.at - bore.axis * bore.deep, axis=bore.axis, dia=bore.dia,
                 deep=bore.deep)  # fmt: skip
    if kind != "plug weld":
        return _bolt(whole, bore, below, kind, -bore.axis, fixings)
    k = fasteners.nugget_stiffness(m.made.sheet.material.youngs, bore.dia, bore.deep)
    at = bore.at - bore.axis * bore.deep / 2
    tie = rim_tie(whole.points, bore.nodes, at)
    spring = Spring(at=at, axes=axes_along(bore.axis), stiffness=np.array(k), first=tie, second=None)
    return Connection(name=f"{bore.name} of {m.name}", kind=kind, first=m, second=GROUND, springs=(spring,),
                      nodes=bore.nodes, axis=vec(-bore.axis), hole=bore.dia)  # fmt: skip
