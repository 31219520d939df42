"""Which fastener goes through which holes, and the torque where a source gives one."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence
from typing import Final

from tinbook.calc.bolts import PROOF, proof_strength
from tinbook.calc.straps import thread_tension, tightening_torque
from tinbook.making.assembled import Assembled
from tinbook.part.assembly import Placed
from tinbook.part.bought import Bought
from tinbook.shop.fixings import Fixings
from tinbook.space import Vec, dot, plus
from tinbook.values import dataclass

LARGEST: Final = 160.0
"""mm: a bought round item up to this long belongs to a stack of fasteners (own proposal)."""
BESIDE: Final = 0.5
"""mm: how far the axes of two items of one stack may lie from each other."""
BEYOND: Final = 2.0
"""mm: how far from its fasteners a hole of a stack may lie along the axis: the play in a drawn assembly (own proposal)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HoleUse:
    """A hole that a fastener goes through.

    Parameters
    ----------
    member : str
        Whose hole.
    label : str
        Part number and revision, or the item's name.
    dia : float
        mm.
    """

    member: str
    label: str
    dia: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Stack:
    """Fasteners on one axis that go in one after the other.

    Parameters
    ----------
    names : tuple of str
        Members in the order in which they go in.
    things : tuple of Bought
        What they are.
    holes : tuple of HoleUse
        What they go through.
    soft : bool
        Whether rubber or plastic, or something of which nothing is known, is clamped with it.
    """

    names: tuple[str, ...]
    things: tuple[Bought, ...]
    holes: tuple[HoleUse, ...]
    soft: bool

    @property
    def like(self) -> tuple[object, ...]:
        """What is equal in stacks that are the same joint again."""
        return self.things, tuple((h.label, round(h.dia, 3)) for h in self.holes), self.soft


def round_item(placed: Placed) -> bool:
    """Whether a member is a fastener: bought, of metal, small, and turned about its own z."""
    thing = placed.thing
    if not isinstance(thing, Bought) or thing.existing or thing.stuff not in ("steel", "stainless"):
        return False
    boxes = [p.outer.box for p in thing.pieces]
    centred = all(abs(b[0] + b[2]) < 1e-6 and abs(b[1] + b[3]) < 1e-6 for b in boxes)
    upright = all(math.hypot(*p.at.origin[:2]) < 1e-6 and abs(p.at.z[2]) > 1 - 1e-9 for p in thing.pieces)
    return centred and upright and all(v <= LARGEST for v in extents(thing))


def extents(thing: Bought) -> tuple[float, float, float]:
    """Return the size of a bought item over all along its own axes, mm."""
    points = [p.at(x, y, z) for p in thing.pieces for x, y in p.outer.chords(0.1).tolist() for z in (0.0, p.height)]
    x, y, z = (max(c) - min(c) for c in zip(*points, strict=True))
    return x, y, z


def on_one_axis(a: Placed, b: Placed) -> bool:
    """Whether two round items stand on the same axis."""
    along = dot(a.at.z, b.at.z)
    return abs(along) > 1 - 1e-6 and _beside(a.at.origin, a.at.z, b.at.origin) < BESIDE


def stack_of(made: Assembled, names: Sequence[str]) -> Stack:
    """Return the stack of some round members of an assembly with the holes that it goes through."""
    members = [made.assembly.member(n) for n in names]
    first = members[0]
    reach = [dot(plus(p, first.at.origin, -1.0), first.at.z) for m in members for p in _ends(m)]
    low, high = min(reach) - BEYOND, max(reach) + BEYOND
    holes, soft = [], False
    for other in made.assembly.members:
        if other.name in names or round_item(other):
            continue
        through = sorted({round(d, 3) for d, at in _holes(made, other, first.at.z) if _there(first, at, low, high)})
        holes += [HoleUse(member=other.name, label=other.label, dia=d) for d in through]
        # Something of another kind may be clamped though it has no round hole: a cushion, a tank's boss.
        if isinstance(other.thing, Bought) and through:
            soft = soft or other.thing.stuff not in ("steel", "stainless", "aluminium")
    things = tuple(m.thing for m in members if isinstance(m.thing, Bought))
    return Stack(names=tuple(names), things=things, holes=tuple(holes), soft=soft)


def _ends(member: Placed) -> Iterator[Vec]:
    assert isinstance(member.thing, Bought)
    for p in member.thing.pieces:
        at = member.at @ p.at
        yield from (at.origin, at(0.0, 0.0, p.height))


def _there(first: Placed, at: Vec, low: float, high: float) -> bool:
    along = dot(plus(at, first.at.origin, -1.0), first.at.z)
    return low <= along <= high and _beside(first.at.origin, first.at.z, at) < BESIDE


def _beside(origin: Vec, axis: Vec, p: Vec) -> float:
    d = plus(p, origin, -1.0)
    return math.hypot(*plus(d, axis, -dot(d, axis)))


def _holes(made: Assembled, member: Placed, axis: Vec) -> Iterator[tuple[float, Vec]]:
    """Yield diameter and middle of each round hole of a member that lies square to an axis."""
    for body in made.bodies_of(member.thing):
        for panel in body.panels:
            at = member.at @ panel.frame
            if abs(dot(at.z, axis)) < 1 - 1e-6:
                continue
            for hole in panel.holes:
                x0, y0, x1, y1 = hole.loop.box
                dia = hole.dia or (x1 - x0 if abs((x1 - x0) - (y1 - y0)) < 1e-6 else 0.0)
                if dia:
                    yield dia, at((x0 + x1) / 2, (y0 + y1) / 2, body.thickness / 2)


@dataclass(frozen=True, slots=True, kw_only=True)
class Torque:
    """How tight.

    Parameters
    ----------
    value : float
        N m.
    size, strength : str
        Thread and class.
    """

    value: float
    size: str
    strength: str


def torque_of(stack: Stack, fixings: Fixings) -> Torque | None:
    """Return the torque of a bolt with a nut that clamps metal only; None where no source gives one.

    Notes
    -----
    Source: `Shigley`, nut factor 0.2 for dry threads; tension of 75 % of the proof load of `ISO 898-1`. The scatter is
    a quarter either way.
    """
    bolt = next((t for t in stack.things if re.match(r"hexagon bolt M\d+ ", t.name)), None)
    nut = any(t.name.startswith("hexagon nut") for t in stack.things)
    found = re.search(r"class (\d+\.\d+)", bolt.standard) if bolt else None
    if bolt is None or not nut or stack.soft or found is None or found[1] not in PROOF:
        return None
    size = bolt.name.split()[2]
    row = fixings.bolt(size)
    tension = thread_tension(row.stress_area, proof_strength(found[1], row.dia), 0.75)
    return Torque(value=tightening_torque(tension, row.dia), size=size, strength=found[1])
