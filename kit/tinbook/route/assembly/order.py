"""In which order an assembly goes together: what is welded first, then coats, then what bears neither heat nor paint.

Worked out backwards: what can be drawn out along a line without meeting anything that is still there goes in last.
Members that welds join are put together on the bench and then come to their place as one; where something that was
there before is welded too, or the whole does not go in, they are welded in their place. Rubber, tank and gas struts
come after every weld and coat, a compressed strut last of all. A member that is said to be flexible is bent on when
nothing that is listed after it can be drawn out: how far it must bend is not worked out, and its step says so. A
bolt, a nut or a washer needs room only to leave what it goes through: a hand takes it from there.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import field, replace
from typing import Final

from tinbook.making.assembled import Assembled
from tinbook.memo import remembered
from tinbook.part.links import Weld
from tinbook.route.assembly.search import Key, Node, Search
from tinbook.route.assembly.work import EARLY, AssemblyOrder, Step, Work, before_welding, coats, laps, own_work, welding
from tinbook.values import dataclass

LATE: Final = ("rubber", "tank", "gas strut")
"""Stuff that bears neither weld nor paint beside it."""


@remembered
def order_of_assembly(made: Assembled) -> AssemblyOrder:
    """Return an order in which the members go together along straight lines, and what is done between the steps.

    Parameters
    ----------
    made : Assembled
        Existing things are there from the start.

    Returns
    -------
    AssemblyOrder
        Every weld comes before primer, sealer, paint and wax, and these before rubber, tank and gas struts, wherever
        there is a way. Later members of the assembly go in later where there is a choice: so what is listed after a
        strap is in before it only where it must be.
    """
    if not made.assembly.members:
        return AssemblyOrder(steps=())
    planner = _Planner(made)
    for order in (planner.on_the_bench, planner.in_place, planner.any_way):
        found = order()
        if found.ok:
            break
    return found


@dataclass(slots=True, eq=False)
class _Planner:
    """The three ways to order one assembly."""

    made: Assembled
    search: Search = field(init=False)
    units: list[Key] = field(init=False)
    lapped: list[Weld] = field(init=False)

    def __post_init__(self) -> None:
        made = self.made
        self.search = Search(made)
        self.units = _joined(made.assembly.names, made.assembly.welds)
        thick = {m.name: made.made_of(m.name).thickness for m in made.assembly.members if m.kind == "part"}
        self.lapped = laps(self.search.solids, thick, made.assembly.welds)

    @property
    def existing(self) -> Key:
        return tuple(m.name for m in self.made.assembly.members if m.kind == "existing")

    def on_the_bench(self) -> AssemblyOrder:
        """Weld up on the bench what welds join, coat it, then put it all together."""
        old = set(self.existing)
        benched = [u for u in self.units if not old & set(u)]
        onto = [n for u in self.units if old & set(u) for n in u if n not in old]
        plan = _Plan(self, onto)
        for unit in benched:
            steps, trapped = self.search.sequence([self.search.node([n]) for n in unit], {})
            if trapped:
                return AssemblyOrder(steps=tuple(steps), trapped=trapped)
            plan.bench(unit, steps)
        plan.early(n for n in self.made.assembly.names if not any(n in u for u in self.units))
        base = [self.search.node(self.existing, fixed=True)] if old else []
        steps, trapped = self.search.sequence([*base, *(self.search.node([n]) for n in onto)], {})
        if trapped:
            return AssemblyOrder(steps=tuple(steps), trapped=trapped)
        plan.vehicle(steps)
        plan.coat()
        fixed = [self.search.node([*self.existing, *onto], fixed=True)] if old else []
        loose = [n for n in self.made.assembly.names if n not in old and not any(n in u for u in self.units)]
        nodes = [*fixed, *self._listed([self.search.node(u) for u in benched] + [self.search.node([n]) for n in loose])]
        steps, trapped = self.search.sequence(nodes, self._after(nodes))
        if trapped:
            return AssemblyOrder(steps=tuple(steps), trapped=trapped)
        # What is first in its place was welded up there, or was there before.
        plan.steps += [s for s in steps if not s.there]
        return plan.order()

    def in_place(self) -> AssemblyOrder:
        """Weld everything in its place, coat it there, then add what bears no heat."""
        return self._single(late=True)

    def any_way(self) -> AssemblyOrder:
        """Put it together in whatever order there is; welds come when their members stand."""
        return self._single(late=False)

    def _single(self, *, late: bool) -> AssemblyOrder:
        base = [self.search.node(self.existing, fixed=True)] if self.existing else []
        welded = {n for u in self.units for n in u}
        nodes = [*base, *(self.search.node([n]) for n in self.made.assembly.names if n not in self.existing)]
        after = self._after(nodes) if late else {}
        if late:
            hot = {n.members for n in nodes if set(n.members) & welded or n.fixed}
            after = {n.members: after.get(n.members, set()) | (hot if n.members not in hot else set()) for n in nodes}
        steps, trapped = self.search.sequence(nodes, after)
        if trapped:
            return AssemblyOrder(steps=tuple(steps), trapped=trapped)
        plan = _Plan(self, [n for n in self.made.assembly.names if n in welded and n not in self.existing])
        plan.early(n for n in self.made.assembly.names if n not in welded)
        last = max((i for i, s in enumerate(steps, 1) if s.name in welded), default=0)
        plan.vehicle(steps[:last])
        plan.coat()
        plan.steps += steps[last:]
        return plan.order()

    def _after(self, nodes: Sequence[Node]) -> dict[Key, set[Key]]:
        """Return what must be in before what: rubber under a tank before the tank, gas struts after all else."""
        stuff = {n.members: self.search.stuff(n.name) if len(n.members) == 1 else "" for n in nodes}
        big = {n.members for n in nodes if len(n.members) > 1}
        found: dict[Key, set[Key]] = {}
        for n in nodes:
            kind = stuff[n.members]
            first = set(big) if kind in LATE else set()
            if kind == "gas strut":
                first |= {m.members for m in nodes if stuff[m.members] != "gas strut"}
            if kind == "tank":
                first |= {m.members for m in nodes if stuff[m.members] == "rubber" and m.solid.middle[2] < n.solid.middle[2]}  # fmt: skip
            found[n.members] = first - {n.members}
        return found

    def _listed(self, nodes: Iterable[Node]) -> list[Node]:
        place = {n: i for i, n in enumerate(self.made.assembly.names)}
        return sorted(nodes, key=lambda n: place[n.name])


@dataclass(slots=True, eq=False)
class _Plan:
    """Steps and work as they come together; `onto` is welded in its place."""

    by: _Planner
    onto: Sequence[str]
    steps: list[Step] = field(default_factory=list)
    works: list[Work] = field(default_factory=list)
    welded: list[str] = field(default_factory=list)

    def add(self, works: Iterable[Work]) -> None:
        self.works += [replace(w, after=len(self.steps)) for w in works]

    def _welds(self, names: Iterable[str]) -> tuple[list[Weld], list[Weld]]:
        inside = set(names)
        welds = [w for w in self.by.made.assembly.welds if w.a in inside and w.b in inside]
        return welds, [w for w in welds if w in self.by.lapped]

    def bench(self, unit: Sequence[str], steps: Iterable[Step]) -> None:
        made = self.by.made
        welds, lapped = self._welds(unit)
        self.add(own_work(made, unit, ("weld corners", "weld tails")))
        self.add(before_welding(made, lapped))
        self.steps += steps
        self.add(welding(made, welds, in_place=False))
        self.welded += unit

    def early(self, names: Iterable[str]) -> None:
        """Weld what single parts need by themselves."""
        works = own_work(self.by.made, names, EARLY)
        self.add(works)
        self.welded += [n for w in works for n in w.on if w.kind != "prime"]

    def vehicle(self, steps: Sequence[Step]) -> None:
        """Put down what was there before, and weld to it or beside it what is welded in its place."""
        made = self.by.made
        welds, lapped = self._welds([*self.by.existing, *self.onto])
        self.add(own_work(made, self.onto, ("weld corners", "weld tails")))
        self.add(before_welding(made, lapped))
        self.steps += steps
        if welds:
            near = [s.name for s in steps if self.by.search.stuff(s.name) in LATE]
            self.add(welding(made, welds, in_place=True, near=near))
        self.welded += self.onto

    def coat(self) -> None:
        self.add(coats(self.by.made, self.welded, self.by.lapped))

    def order(self) -> AssemblyOrder:
        return AssemblyOrder(steps=tuple(self.steps), works=tuple(self.works))


def _joined(names: Sequence[str], welds: Iterable[Weld]) -> list[Key]:
    """Return groups of members that welds join, each in the order of the assembly."""
    group = {n: n for n in names}
    for w in welds:
        a, b = group[w.a], group[w.b]
        group = {n: a if g == b else g for n, g in group.items()}
    found: dict[str, list[str]] = {}
    for n in names:
        found.setdefault(group[n], []).append(n)
    return [tuple(g) for g in found.values() if len(g) > 1]
