"""The search for an order: what can be drawn out of what is still there, backwards, one after the other."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import field, replace
from typing import Final, TypeAlias

from tinbook.making.assembled import Assembled
from tinbook.part.assembly import Placed
from tinbook.part.bought import Bought
from tinbook.route.assembly.work import Step
from tinbook.route.ways import Solid, room
from tinbook.space import Vec, dot, plus
from tinbook.values import dataclass

SMALL: Final = 220.0
"""mm: a bought item up to this size is carried by hand."""

Key: TypeAlias = tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Node:
    """What moves as one: a member, a welded-up unit, or all that was there before."""

    members: Key
    solid: Solid
    placed: Placed
    fixed: bool = False

    @property
    def name(self) -> str:
        """The member that stands for it."""
        return self.members[0]


@dataclass(slots=True, eq=False)
class Search:
    """The search for one assembly, with what was already looked at."""

    made: Assembled
    solids: dict[str, Solid] = field(default_factory=dict)
    _ways: tuple[Vec, ...] = ()
    _rooms: dict[tuple[Key, Key, Vec], float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.solids = {n: Solid.of([self.made.mesh(n)]) for n in self.made.assembly.names}
        self._ways = _axes(self.made.assembly.members)

    def stuff(self, name: str) -> str:
        """Return what a bought item is made of, "" for a part."""
        thing = self.made.assembly.member(name).thing
        return thing.stuff if isinstance(thing, Bought) else ""

    def small(self, n: Node) -> bool:
        """Whether it is something bought that a hand carries, such as a bolt, a nut, a cushion."""
        light = n.placed.kind == "bought" and n.solid.size <= SMALL
        return light and len(n.members) == 1 and self.stuff(n.name) not in ("tank", "gas strut")

    def node(self, members: Sequence[str], *, fixed: bool = False) -> Node:
        """Return members as one body."""
        solid = self.solids[members[0]]
        if len(members) > 1:
            solid = Solid.of([self.made.mesh(n) for n in members])
        return Node(members=tuple(members), solid=solid, placed=self.made.assembly.member(members[0]), fixed=fixed)

    def sequence(self, nodes: Sequence[Node], after: Mapping[Key, set[Key]]) -> tuple[list[Step], Key]:
        """Return steps in order and what is trapped; `after` says for a node which others must be in before it."""
        left = list(nodes)
        back: list[Step] = []
        while len(left) > 1:
            step = None
            for n in (*reversed(left[1:]), left[0]):
                if n.fixed or any(n.members in after.get(m.members, ()) for m in left if m is not n):
                    continue
                step = self._free(n, left)
                if step is None and n is not left[0]:
                    step = self._put_on(n, left)
                if step is not None:
                    left.remove(n)
                    back.append(step)
                    break
            if step is None:
                return list(reversed(back)), tuple(m for n in left for m in n.members)
        first = (
            [_still(m, left[0]) for m in (left[0].members if left[0].fixed else left[0].members[:1])] if left else []
        )
        if first and not left[0].fixed:
            first = [replace(first[0], carried=left[0].members[1:])]
        return [*first, *reversed(back)], ()

    def _room(self, a: Node, b: Node, d: Vec) -> float:
        key = (a.members, b.members, d)
        if key not in self._rooms:
            self._rooms[key] = room(a.solid, b.solid, d, far=self.small(a))
        return self._rooms[key]

    def _free(self, n: Node, left: Sequence[Node]) -> Step | None:
        """Return how a node leaves the others, None if it cannot.

        The shortest way is taken; a small bought item leaves along its own axis if it can, as screws and washers do.
        """
        others = [m for m in left if m is not n]
        z = n.placed.at.z
        small = self.small(n)
        best, rank = None, (9, 0.0)
        for d in self._ways:
            on_axis = small and abs(abs(dot(z, d)) - 1) < 1e-6
            kind = 0 if on_axis else 2
            if any(not math.isinf(self._room(n, m, d)) for m in others):
                if not on_axis:
                    continue
                travel, kind = self._needs(n, others, d), 1
                if min(self._room(n, m, d) for m in others) < travel:
                    continue
            else:
                travel = max(max(m.solid.reach(d)[1] for m in others) - n.solid.reach(d)[0], 1.0)
            if (kind, round(travel, 6)) < rank:
                rank = (kind, round(travel, 6))
                best = Step(name=n.name, direction=_back(d), travel=travel, carried=n.members[1:])
        return best

    def _needs(self, n: Node, others: Sequence[Node], d: Vec) -> float:
        """Return how far a bolt, nut or washer must go along its axis to be off what it goes through or stands on."""
        low, high = n.solid.reach(d)
        ends = [high]
        for m in others:
            at = m.placed.at
            side = plus(at.origin, n.placed.at.origin, -1.0)
            off = math.sqrt(max(dot(side, side) - dot(side, d) ** 2, 0.0))
            if m.placed.kind == "bought" and abs(abs(dot(at.z, d)) - 1) < 1e-6 and off < 1.0:
                first, last = m.solid.reach(d)
                if first < high + 1.0 and last > low:
                    ends.append(last)
        return max(ends) - low

    def _put_on(self, n: Node, left: Sequence[Node]) -> Step | None:
        """Return how what bends or is clipped on leaves, toward where the fewest others are in its way."""
        clipped = self.stuff(n.name) == "gas strut"
        if not (n.placed.flexible or clipped):
            return None
        others = [m for m in left if m is not n]
        d = min(self._ways, key=lambda d: sum(not math.isinf(self._room(n, m, d)) for m in others))
        travel = max(m.solid.reach(d)[1] for m in others) - n.solid.reach(d)[0]
        return Step(name=n.name, direction=_back(d), travel=max(travel, 1.0), bent=not clipped, clipped=clipped)


def _still(name: str, node: Node) -> Step:
    return Step(name=name, direction=(0.0, 0.0, -1.0), travel=0.0, there=node.fixed)


def _axes(members: Sequence[Placed]) -> tuple[Vec, ...]:
    """Return the directions in which a member may be drawn out: all members' own axes, up first."""
    both = [(0.0, 0.0, 1.0), *(d for m in members for a in (m.at.z, m.at.x, m.at.y) for d in (a, _back(a)))]
    seen: dict[tuple[float, ...], Vec] = {}
    for d in both:
        seen.setdefault(tuple(round(v, 6) + 0.0 for v in d), d)
    return tuple(seen.values())


def _back(d: Vec) -> Vec:
    return (0.0 - d[0], 0.0 - d[1], 0.0 - d[2])
