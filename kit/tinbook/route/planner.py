"""What can be done next to a half-folded part, what hits, and what each hit costs."""

from __future__ import annotations

import math
from collections.abc import Callable, Hashable, Iterator, Mapping, Sequence, Set
from dataclasses import field, replace
from functools import cached_property
from typing import Any, Final, TypeAlias

from tinbook.making.articulated import ArticulatedPart, Levels, RigidBody
from tinbook.making.forming import forming
from tinbook.making.machines import bending_strip
from tinbook.making.made import Made
from tinbook.memo import Memo, remembered
from tinbook.route.collide import Sweep
from tinbook.route.cost import NO_STATE, NO_TRAIT, Cost, State, Trait
from tinbook.route.gauge import Gauge, gauge_of
from tinbook.route.moving import Clash, MovingMetal
from tinbook.route.stored_order import StoredStep
from tinbook.route.takeout import way_out
from tinbook.shop.sections import Punch, Section
from tinbook.shop.tools.flattening import bench, over_bar
from tinbook.shop.tools.machine import Machine
from tinbook.shop.tools.setups import FoldDemand, Setup
from tinbook.shop.tools.strokes import Motion, samples
from tinbook.values import dataclass


@dataclass(frozen=True, slots=True)
class Hit:
    """One hit: which fold, to which level, how, from which levels of all folds; its place among the families.

    Parameters
    ----------
    trait, state, alone
        What it costs, what of it matters for the cost of the next, and its cost by itself (`Cost.fixed`); only of a hit
        that the planner proposes.
    """

    fold: int
    level: int
    setup: Setup
    gauge: Gauge
    before: Levels
    family: int = 0
    trait: Trait = field(default=NO_TRAIT, repr=False)
    state: State = field(default=NO_STATE, repr=False)
    alone: tuple[int, int] = field(default=(0, 0), repr=False)


Failed: TypeAlias = tuple[Clash, Setup, Levels, Sweep]
"""What hit in a try, its setup, the levels of all folds before it, and the sweep that found it."""


@dataclass(frozen=True, slots=True)
class Tried:
    """What the hits that a search tried came to, a hit by the number of its fold and its level.

    Parameters
    ----------
    clashes : mapping of (int, int) to tuple of Failed
        What hit, by hit.
    formed : set of (int, int)
        Hits in which, in some state, nothing hit.
    """

    clashes: Mapping[tuple[int, int], tuple[Failed, ...]] = field(default_factory=dict)
    formed: Set[tuple[int, int]] = frozenset()


NOTHING_TRIED: Final = Tried()


@dataclass(eq=False)
class Planner:
    """Everything that the search needs to know about folding one part.

    Parameters
    ----------
    made : Made
        The part.
    extra : sequence of (Punch, Section)
        Punches to try besides the shop's.
    given : tuple of StoredStep
        The hits of an order that is given; empty: any order.
    change : callable, optional
        What other tools are tried in a setup.
    drawn : bool
        Whether height and angle of punches that the shop did not draw rule nothing out.
    """

    made: Made
    extra: Sequence[tuple[Punch, Section]] = ()
    given: tuple[StoredStep, ...] = ()
    change: Callable[[Setup], Setup] | None = None
    drawn: bool = False
    blank: ArticulatedPart = field(init=False)
    _clashes: dict[tuple[int, int], dict[tuple[Any, ...], Failed]] = field(default_factory=dict, init=False, repr=False)
    _formed: set[tuple[int, int]] = field(default_factory=set, init=False, repr=False)
    _results: dict[tuple[Memo[Any], Hashable], Any] = field(default_factory=dict, init=False, repr=False)
    _gauges: dict[tuple[int, str, str, str, Levels], Gauge] = field(default_factory=dict, init=False, repr=False)

    def __post_init__(self) -> None:
        self.blank = ArticulatedPart(self.made.folded)

    def tried(self) -> Tried:
        """Return what the hits tried so far came to."""
        return Tried({hit: tuple(found.values()) for hit, found in sorted(self._clashes.items())}, set(self._formed))

    @cached_property
    def full(self) -> Levels:
        """Levels of the finished part."""
        return tuple(len(t) - 1 for t in self.blank.turns)

    @cached_property
    def axes(self) -> tuple[float, ...]:
        """Direction of every fold in the blank, degrees from 0 to 180."""
        flats = [s.flat for s in self.blank.strips]
        return tuple(round(math.degrees(math.atan2(m.c, m.a)) % 180.0, 1) % 180.0 for m in flats)

    @remembered
    def families(self, fold: int, level: int) -> tuple[list[tuple[list[Setup], Sweep]], str]:
        """Return the setups of a hit, each family with its sweep, and why there is none."""
        strip = self.blank.strips[fold]
        angles = forming(self.made, strip, level)
        first = self.blank.turns[fold][level - 1]
        radius = strip.radius if strip.begun is None else strip.begun
        demand = FoldDemand(
            thickness=self.made.thickness,
            span=self.blank.span(fold),
            turn_rad=math.radians(angles.formed),
            radius=radius,
            angle=strip.angle,
            final_radius=strip.radius,
            leg=max(strip.leg),
        )
        listed, why = self._setups(strip.bend.tool, demand, level)
        if self.change is not None:
            listed = [list(map(self.change, family)) for family in listed]
        out, same = [], {}
        motions: dict[Any, MovingMetal] = {}
        if self._no_wider(fold):
            # Nothing of the part ever reaches past the fold's ends: a whole tool does what pieces do.
            listed = [family[:1] for family in listed]
        for family in listed:
            setup = family[0]
            alike = setup.stroke.key(setup.leg_back)
            shape = (*alike, setup.shape)
            if shape not in same:
                # The part moves alike whatever punch comes down.
                like = (*alike, setup.contact)
                if like not in motions:
                    bend = bending_strip(strip, self.made.thickness)
                    sweep = samples(first, demand.turn_rad)
                    motion = Motion(bend, setup.stroke, setup.leg_back, setup.contact, sweep)
                    motions[like] = MovingMetal(self.blank, fold, motion)
                same[shape] = Sweep(motions[like])
            out.append((family, same[shape]))
        return out, why

    def _setups(self, key: str, demand: FoldDemand, level: int) -> tuple[list[list[Setup]], str]:
        if not key:
            return over_bar(demand), ""
        shop = self.made.shop
        tool = shop.tool(key)
        if level == 2:
            return tool.flattening(demand), ""
        return tool.setups(shop, demand, self.extra, drawn=self.drawn)

    def _no_wider(self, fold: int) -> bool:
        """Whether all folds are parallel and no metal lies past the ends of this one."""
        if len(set(self.axes)) > 1:
            return False
        x0, x1 = self.blank.span(fold)
        flat = (0,) * len(self.full)
        boxes = [self._box(fold, child, flat) for child in (True, False)]
        return bool(min(b[0] for b in boxes) > x0 - 1e-6 and max(b[1] for b in boxes) < x1 + 1e-6)

    @remembered
    def candidate_traits(self, fold: int, level: int) -> list[tuple[int, list[Setup], list[Trait]]]:
        """Return the families of a hit by their numbers, each setup with what it costs and changes."""
        listed = [family for family, _ in self.families(fold, level)[0]]
        return [(n, f, [self.price.trait(fold, level, s) for s in f]) for n, f in enumerate(listed)]

    @remembered
    def candidates(self, levels: Levels) -> list[Hit]:
        """Return every hit that could come next, not yet held against anything, in a fixed order."""
        return [
            self._move(fold, level + 1, setup, levels, n, trait)
            for fold, level in enumerate(levels)
            if level < self.full[fold]
            for n, family, traits in self.candidate_traits(fold, level + 1)
            for setup, trait in zip(family, traits, strict=True)
            if not self.given or self._is_given(fold, level + 1, setup, levels)
        ]

    def ways(self, move: Hit) -> list[Hit]:
        """Return every way to make a hit in the state it comes from, of a given order also those that it does not use."""
        return [
            self._move(move.fold, move.level, setup, move.before, n, trait)
            for n, family, traits in self.candidate_traits(move.fold, move.level)
            for setup, trait in zip(family, traits, strict=True)
        ]

    def _move(self, fold: int, level: int, setup: Setup, levels: Levels, family: int, trait: Trait) -> Hit:
        gauge = self.gauge(fold, setup, levels)
        begun = fold if level < self.full[fold] else -1
        state = (trait.setting, trait.down, trait.heading, round(gauge.at, 2) if trait.by_hand else 0.0, begun)
        alone = self.price.fixed(fold, setup, gauge, levels, trait)
        return Hit(fold, level, setup, gauge, levels, family, trait, state, alone)

    def _is_given(self, fold: int, level: int, setup: Setup, levels: Levels) -> bool:
        number, hit, how = self.given[sum(levels)]
        if (fold, level) != (number, hit):
            return False
        strip = self.blank.strips[fold]
        return how is None or how.made_by(setup, strip.child if setup.leg_back else strip.parent)

    def moves(self, levels: Levels) -> list[Hit]:
        """Return every hit that is possible in a state, in a fixed order."""
        return [m for m in self.candidates(levels) if self.possible(m)]

    def clash(self, move: Hit) -> Clash | None:
        """Return what hits in the narrowest setup of a hit's family; None if nothing does."""
        family, sweep = self.families(move.fold, move.level)[0][move.family]
        return self._frame(move.fold, family[-1], move.before) or sweep.first_clash(family[-1], move.before)

    def possible(self, move: Hit) -> bool:
        """Whether nothing hits; the narrowest setup of the family is asked first, for what hits it hits all."""
        family, sweep = self.families(move.fold, move.level)[0][move.family]
        narrow, levels, clash = family[-1], move.before, self.clash(move)
        if clash is not None:
            mark = (clash.body, clash.against, narrow.key)
            tries = self._clashes.setdefault((move.fold, move.level), {})
            tries.setdefault(mark, (clash, narrow, levels, sweep))
            return False
        self._formed.add((move.fold, move.level))
        if move.setup.tooling == "all in pieces" and sweep.first_clash(family[-2], levels) is None:
            # The whole die does as well, with the same punch, unless the part would not come off it.
            whole = replace(move, setup=family[-2])
            if not self.stuck(whole) or self.stuck(move):
                return False
        return move.setup is narrow or sweep.first_clash(move.setup, levels) is None

    def least_stuck(self, fold: int, levels: Levels, within: frozenset[int], *, count: bool = True) -> int | None:
        """Return whether (0 or 1) the next hit of a fold gets stuck even with the best setup; None if each hits something.

        Only metal that the folds `within` place is asked; of each family the narrowest, which hits and holds least.
        `count`: False takes every way out for granted.
        """
        level, best = levels[fold] + 1, None
        for n, family, traits in self.candidate_traits(fold, level):
            narrow, sweep = family[-1], self.families(fold, level)[0][n][1]
            if sweep.first_clash(narrow, levels, within) is None:
                move = Hit(fold, level, narrow, Gauge("", 0.0), levels, n, traits[-1])
                if not count or way_out(self, move, within):
                    return 0
                best = 1
        return best

    @remembered
    def is_dead_end(self, levels: Levels) -> bool:
        """Whether some fold can never be formed any more: in every setup it hits metal that stays where it is."""
        return any(
            level < self.full[fold] and all(self._for_good(fold, level + 1, levels))
            for fold, level in enumerate(levels)
        )

    def _for_good(self, fold: int, level: int, levels: Levels) -> Iterator[bool]:
        for family, sweep in self.families(fold, level)[0]:
            clash = sweep.clash_for_good(family[-1], levels, self.full)
            if clash is not None:
                mark = (clash.body, clash.against, family[-1].key)
                tries = self._clashes.setdefault((fold, level), {})
                tries.setdefault(mark, (clash, family[-1], levels, sweep))
            yield clash is not None

    # -- limits that are no collision of shapes ------------------------------------------------

    def machine(self, setup: Setup) -> Machine:
        """Return the machine of a setup."""
        return self._machine(setup.machine, bool(setup.tool))

    @remembered
    def _machine(self, key: str, at_tool: bool) -> Machine:
        return self.made.shop.machine(key) if at_tool else bench(self.made.shop.name)

    def _extent(self, fold: int, child: bool, body: RigidBody, levels: Levels) -> tuple[float, float, float]:
        """Smallest and largest x of a body, and its depth."""
        e = self.blank.extent(fold, child, body, levels)
        return e.x0, e.x1, e.y1 if child else -e.y0

    def _box(self, fold: int, child: bool, levels: Levels) -> tuple[float, float, float]:
        """Smallest and largest x of one side, and its depth from the fold's tangent line."""
        boxes = [self._extent(fold, child, body, levels) for body, _ in self.blank.bodies_of(fold, child)]
        return min(b[0] for b in boxes), max(b[1] for b in boxes), max(b[2] for b in boxes)

    def _frame(self, fold: int, setup: Setup, levels: Levels) -> Clash | None:
        """Whether the side at the back reaches into the machine's frame."""
        machine = self.machine(setup)
        if machine.throat is None or not setup.stroke.in_throat:
            return None
        return self._past_throat(fold, setup.leg_back, machine.throat, machine.between_frames, levels)

    @remembered
    def _past_throat(
        self, fold: int, back: bool, throat: float, between_frames: float | None, levels: Levels
    ) -> Clash | None:
        low, high, deep = self._box(fold, back, levels)
        low2, high2, _ = self._box(fold, not back, levels)
        strip = self.blank.strips[fold]
        deep += strip.allowance / 2
        wide = max(high, high2) - min(low, low2)
        if deep <= throat or (between_frames is not None and wide < between_frames):
            return None
        return Clash(strip.child if back else strip.parent, "panel", "frame", 0.0, deep - throat)

    def gauge(self, fold: int, setup: Setup, levels: Levels) -> Gauge:
        """Return what lies against the back gauge as the fold begins."""
        key = (fold, setup.at_back, setup.machine, setup.stroke.name, levels)
        if key not in self._gauges:
            found = gauge_of(self.blank, self.machine(setup), setup.stroke, fold, setup.leg_back, levels)
            self._gauges[key] = found
        return self._gauges[key]

    # -- cost -------------------------------------------------------------------------------------

    @cached_property
    def price(self) -> Cost:
        """What hits cost."""
        return Cost(self)

    def stuck(self, move: Hit) -> bool:
        """Whether no straight way leads out of the machine after a hit."""
        return not way_out(self, move)

    def direction(self, fold: int, setup: Setup) -> tuple[float, float]:
        """Direction of the blank that points along the machine, as a unit vector."""
        m = self.blank.strips[fold].flat
        s = -1.0 if (self.blank.strips[fold].direction == "down") != setup.leg_back else 1.0
        return s * m.a, s * m.c

    def heading(self, move: Hit) -> tuple[float, float]:
        """Direction of the blank that points along the machine in a hit, as a unit vector."""
        return self.direction(move.fold, move.setup)

    def must_turn_over(self, before: Hit, move: Hit) -> bool:
        """Whether the part is turned over between two hits."""
        strips = self.blank.strips
        return strips[before.fold].direction != strips[move.fold].direction
