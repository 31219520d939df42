"""What an order of folds costs, rank by rank: the first rank in which two orders differ decides."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Sequence
from typing import TYPE_CHECKING, Any, Final, NamedTuple, TypeAlias

from tinbook.making.articulated import Levels
from tinbook.memo import Memo, remembered
from tinbook.route.handling import ALIKE, sag, sides, stiffened, swing

if TYPE_CHECKING:
    from tinbook.route.gauge import Gauge
    from tinbook.route.planner import Hit, Planner
    from tinbook.shop.tools.setups import Setup

RANKS: Final = (
    "steps that no straight way leads out of",
    "lifts and holds for two people",
    "turn-overs",
    "swinging of heavy sides",
    "re-settings",
    "steps that hold the smaller side",
    "turns on the table",
    "steps set by a mark or against a slope",
    "tools in pieces",
)
"""What is counted, dearest first. Own order: it follows what can hurt, then what takes time, then what is untidy."""
STUCK, TWO, OVER, SWING, RESET, SMALL, ROUND, MARK, PIECES = range(len(RANKS))
_BITS: Final = (12, 14, 12, 26, 13, 12, 12, 12, 13)
"""Room of each rank: 4000 hits, each with up to 10 000 units of swinging, before one rank runs into the next."""
_SOFT: Final = (400, 300, 100, 30, 100, 15, 10, 10, 1)
"""Weights that only lead the first passes to some good order; no answer is judged by them."""
MOST_SWING: Final = 10_000
_SOFT_SWING: Final = 10

Ranks: TypeAlias = tuple[int, ...]
State: TypeAlias = tuple[int, bool, int, float, int]
"""Number of the setting, whether it folds down, of the heading, a gauge stop set by hand, a hem begun (-1: none)."""


def _weights() -> tuple[int, ...]:
    out, at = [], 0
    for bits in reversed(_BITS):
        out.append(1 << at)
        at += bits
    return tuple(reversed(out))


_HARD: Final = _weights()
STUCK_COST: Final = (_HARD[STUCK], _SOFT[STUCK])


def weigh(ranks: Sequence[int]) -> tuple[int, int]:
    """Return one number that compares like the ranks, and one that leads a search."""
    hard = sum(w * n for w, n in zip(_HARD, ranks, strict=True))
    soft = sum(w * n for w, n in zip(_SOFT, ranks, strict=True))
    return hard, soft - _SOFT[SWING] * max(ranks[SWING] - _SOFT_SWING, 0)


def unweighed(cost: int) -> Ranks:
    """Return the ranks of an exact cost."""
    out = []
    for w in _HARD:
        n, cost = divmod(cost, w)
        out.append(n)
    return tuple(out)


class Trait(NamedTuple):
    """What a setup of a hit costs and changes whatever is folded already.

    Parameters
    ----------
    setting, heading : int
        Numbers: alike where nothing has to be set or turned in between.
    down : bool
        Whether the part lies with its down side up.
    by_hand, gauges : bool
        Whether each stop of the gauge is set by hand, and whether there is a gauge.
    ranks : tuple of int
        Fixed counts.
    """

    setting: int
    heading: int
    down: bool
    by_hand: bool
    gauges: bool
    ranks: Ranks


NO_TRAIT: Final = Trait(-1, -1, False, False, False, (0,) * len(RANKS))
NO_STATE: Final[State] = (-1, False, -1, 0.0, -1)


class Cost:
    """Costs of the hits of one part, worked out once each.

    Parameters
    ----------
    planner : Planner
        The part.
    """

    def __init__(self, planner: Planner) -> None:
        self.planner = planner
        self._results: dict[tuple[Memo[Any], Hashable], Any] = {}
        self.handling = planner.made.shop.handling
        self.sides = [sides(planner.blank, n) for n in range(len(planner.full))]
        self.heavy = planner.made.mass > self.handling.one_man
        self.settings: dict[Hashable, int] = {}
        self.machines: dict[int, str] = {}
        self.headings: list[tuple[float, float]] = []
        self.traits: dict[tuple[int, int, str, str, Hashable], Trait] = {}
        self._changes: dict[tuple[State, State], tuple[int, int]] = {}
        self._fixed: dict[tuple[Ranks, int, bool], tuple[int, int]] = {}
        self._ahead: dict[tuple[Levels, tuple[int, int] | None], tuple[int, int]] = {}
        self._sags: dict[tuple[int, bool], bool] = {}

    # -- one hit ----------------------------------------------------------------------------------

    def trait(self, fold: int, level: int, setup: Setup) -> Trait:
        """Return what a setup costs and changes."""
        key = (fold, level, setup.process, setup.at_back, setup.setting)
        if key not in self.traits:
            machine, down = self.planner.machine(setup), self.planner.blank.strips[fold].direction == "down"
            ranks = [0] * len(RANKS)
            ranks[PIECES] = int(bool(setup.pieces))
            swings = setup.stroke.swings(setup.leg_back)
            if swings is not None:
                held, swung = self.sides[fold][not swings], self.sides[fold][swings]
                ranks[TWO] = int(swung.mass > self.handling.one_man)
                ranks[SMALL] = int(held.area < swung.area * (1.0 - ALIKE))
                turn = self.planner.blank.turns[fold][level]
                ranks[SWING] = min(swing(swung, turn, self.handling.swing), MOST_SWING)
            elif self.heavy and setup.stroke.punched:
                ranks[TWO] = 1
            heading = self.planner.direction(fold, setup)
            number = next((n for n, h in enumerate(self.headings) if _same(h, heading)), len(self.headings))
            if number == len(self.headings):
                self.headings.append(heading)
            setting = self.settings.setdefault(setup.setting, len(self.settings))
            self.machines[setting] = setup.machine
            self.traits[key] = Trait(
                setting,
                number,
                down,
                machine.gauge_max is not None and not machine.gauge_moves,
                machine.gauge_max is not None,
                tuple(ranks),
            )
        return self.traits[key]

    def sags(self, fold: int, setup: Setup, levels: Levels) -> bool:
        """Whether the free end of a side hangs down too far: in a folder of the side that swings, else of either."""
        return any(self._sags_at(fold, child, levels) for child in setup.stroke.hanging(setup.leg_back))

    def _sags_at(self, fold: int, child: bool, levels: Levels) -> bool:
        key = (fold, child)
        if key not in self._sags:
            depth = self.sides[fold][child].depth
            self._sags[key] = sag(self.planner.made, depth, self.handling.table) > self.handling.sag
        blank, axes = self.planner.blank, self.planner.axes
        return self._sags[key] and not stiffened(blank, fold, levels, axes, child=child)

    def fixed(self, fold: int, setup: Setup, gauge: Gauge, levels: Levels, trait: Trait) -> tuple[int, int]:
        """Return the cost of a hit by itself, whether it comes out of the machine left out."""
        # A face that slopes passes on its angle and the finger's height: better than a mark, not as good as an edge.
        touched = gauge.contact
        loose = 0 if not trait.gauges else 2 if touched is None else int(touched.slope != 0.0)
        sagging = self.sags(fold, setup, levels)
        key = (trait.ranks, loose, sagging)
        if key not in self._fixed:
            ranks = list(trait.ranks)
            ranks[MARK] += loose
            ranks[TWO] = max(ranks[TWO], int(sagging))
            self._fixed[key] = weigh(ranks)
        return self._fixed[key]

    # -- from one to the next -----------------------------------------------------------------------

    def change(self, before: State, after: State) -> tuple[int, int]:
        """Return the cost of what has to be done between two hits."""
        key = (before, after)
        if key not in self._changes:
            ranks = [0] * len(RANKS)
            ranks[OVER] = int(before[1] != after[1])
            ranks[RESET] = int(before[0] != after[0])
            if before[3] and after[3] and abs(before[3] - after[3]) > 0.05:
                ranks[RESET] += 1
            ranks[ROUND] = int(before[2] != after[2])
            carried = self.machines[before[0]] != self.machines[after[0]]
            ranks[TWO] = int(self.heavy and bool(ranks[OVER] or ranks[ROUND] or carried))
            self._changes[key] = weigh(ranks)
        return self._changes[key]

    def step(self, before: Hit | None, move: Hit, w: int) -> int:
        """Return the cost of a hit after another, whether it comes out of the machine left out; `w`: 0 exact, 1 to lead."""
        total = move.alone[w]
        if before is None:
            return total + (_HARD, _SOFT)[w][TWO] * self.heavy
        begun = before.state[4]
        return total + self.change(before.state, move.state)[w] + (begun >= 0 and begun != move.fold)

    def beaten(self, rivals: Iterable[tuple[int, State]], cost: int, state: State, w: int) -> bool:
        """Whether another way to the same levels is at least as cheap whatever comes next: it could change over first."""
        for other, at in rivals:
            if at == state:
                if other <= cost:
                    return True
                continue
            # Stops that lie closer than a re-setting may add up to one; 2: a hem that is begun, tools in pieces.
            stop = (_HARD, _SOFT)[w][RESET] * (at[3] != state[3])
            if other + self.change(at, state)[w] + stop + 2 <= cost:
                return True
        return False

    # -- all of an order ------------------------------------------------------------------------------

    def total(self, moves: Sequence[Hit]) -> int:
        """Return the exact cost of a whole order."""
        cost = 0
        for n, move in enumerate(moves):
            cost += self.step(moves[n - 1] if n else None, move, 0) + STUCK_COST[0] * self.planner.stuck(move)
        return cost

    def remaining_cost(self, last: Hit | None, levels: Levels, w: int) -> int:
        """Return a lower bound of the cost of what is still to do, whether it comes out of the machine left out."""
        key = (levels, None if last is None else (last.fold, last.level))
        if key not in self._ahead:
            self._ahead[key] = weigh(self._least(last, levels))
        return self._ahead[key][w]

    def _least(self, last: Hit | None, levels: Levels) -> Ranks:
        planner = self.planner
        left = [n for n, level in enumerate(levels) if level < planner.full[n]]
        strips = planner.blank.strips
        down = {strips[n].direction for n in left}
        tools = {(strips[n].bend.tool, False) for n in left if levels[n] == 0}
        tools |= {(strips[n].bend.tool, self._needs_flattening_bars(n)) for n in left if planner.full[n] == 2}
        axes = {planner.axes[n] for n in left}
        spare = 1
        if last is not None:
            now, spare = strips[last.fold], 0
            down -= {now.direction}
            tools -= {(now.bend.tool, last.level == 2 and self._needs_flattening_bars(last.fold))}
            axes -= {planner.axes[last.fold]}
        ranks = [0] * len(RANKS)
        ranks[OVER] = max(len(down) - spare, 0)
        ranks[RESET] = max(len(tools) - spare, 0)
        ranks[ROUND] = max(len(axes) - spare, 0)
        for n in left:
            for level in range(levels[n] + 1, planner.full[n] + 1):
                for rank, least in enumerate(self._least_of(n, level)):
                    ranks[rank] += least
        return tuple(ranks)

    @remembered
    def _least_of(self, fold: int, level: int) -> Ranks:
        listed = [t.ranks for _, _, traits in self.planner.candidate_traits(fold, level) for t in traits]
        return tuple(map(min, zip(*listed, strict=True))) if listed else (0,) * len(RANKS)

    def _needs_flattening_bars(self, fold: int) -> bool:
        """Whether a hem is pressed down with bars of its own."""
        planner = self.planner
        return not planner.made.shop.tool(planner.blank.strips[fold].bend.tool).closes_hems


def _same(a: tuple[float, float], b: tuple[float, float]) -> bool:
    return a[0] * b[0] + a[1] * b[1] >= 0.9998
