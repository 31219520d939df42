"""The order in which the folds are made: among the orders that never collide the cheapest, rank by rank."""

from __future__ import annotations

import heapq
import time
from collections.abc import Callable, Iterator
from dataclasses import field, replace
from functools import partial
from typing import Any, Final

from tinbook.making.articulated import Levels
from tinbook.progress import Progress
from tinbook.route.cost import STUCK_COST, State
from tinbook.route.patterns import FoldSubset, patterns
from tinbook.route.planner import NOTHING_TRIED, Hit, Planner, Tried
from tinbook.values import dataclass

NEARER: Final = 150
"""Weight of a hit still to do in the greedy pass: more than most hits cost, so that it goes ahead."""
EFFORT: Final = 1_000
"""States that a pass opens unless `effort` says more, and half of it to improve parts of more than MANY folds."""
MANY: Final = 6
TOO_MANY: Final = 14
"""Hits above which the last pass, which proves that nothing is better, is spared: it would not come to its end."""
SEEN: Final = 250
"""States opened to see what hits where once it is known that no order folds the part."""


@dataclass(frozen=True, slots=True)
class FoundOrder:
    """What the search came back with.

    Parameters
    ----------
    moves : tuple of Hit
        A whole order, empty if there is none (or none was found).
    cost : int
        By the weights of this module.
    proven : bool
        Whether no cheaper order exists (or, without moves, none at all).
    cancelled : bool
        Whether the clock ended the search.
    looked : int
        States that were opened.
    tried : Tried
        What hit in the hits that were tried.
    """

    moves: tuple[Hit, ...]
    cost: int
    proven: bool
    cancelled: bool
    looked: int
    tried: Tried = NOTHING_TRIED


def search(
    planner: Planner, *, effort: int | None = None, seconds: float | None = None, progress: Progress | None = None
) -> FoundOrder:
    """Search for the cheapest order that never collides.

    What a few folds alone rule out is left alone from the start (`patterns`). A greedy pass finds some order, a second
    one, broad and hit by hit, a better; the last finds the cheapest or proves that the one at hand is. All are
    bounded by the states they open, so that the same part gives the same answer; the clock can only end them
    early, and the answer says so.

    Parameters
    ----------
    planner : Planner
        The part.
    effort : int, optional
        States that each pass may open; left out, `EFFORT`, and less to improve large parts.
    seconds : float, optional
        Clock that cancels.
    progress : callable, optional
        Told at every state; the share is that of the states which may be opened, so an end comes early.
    """
    found = _searched(planner, effort, seconds, progress)
    return replace(found, tried=planner.tried())


def _searched(planner: Planner, effort: int | None, seconds: float | None, progress: Progress | None) -> FoundOrder:
    end = None if seconds is None else time.monotonic() + seconds
    many, effort = len(planner.full) > MANY, effort or EFFORT
    better = effort // 2 if many else effort
    most = effort + 2 * better
    known = _Known(planner, patterns(planner) if many and not planner.given else ())

    def look(before: int, now: int) -> None:
        if progress is not None:
            progress((before + now) / most, f"{before + now} states looked at")

    if known.stuck_ahead((0,) * len(planner.full)) is None:
        # A few folds alone find no way. What hits where is seen from the whole part.
        seen = _pass(_Known(planner, ()), min(effort, SEEN), end, None, partial(look, 0), nearer=NEARER)
        return FoundOrder((), 0, not seen.cancelled, seen.cancelled, seen.looked)
    best = _pass(known, effort, end, None, partial(look, 0), nearer=NEARER)
    looked = best.looked
    if not (best.cancelled or best.moves or best.proven) and many:
        left = None if end is None else max(end - time.monotonic(), 0.0)
        best = any_order(planner, effort=effort, seconds=left, progress=progress)
        looked += best.looked
    if best.cancelled or not best.moves:
        return replace(best, looked=looked)
    best = replace(best, cost=planner.price.total(best.moves))
    exact = (partial(_pass, nearer=0),) if sum(planner.full) <= TOO_MANY else ()
    for improve in (_beam, *exact):
        other = improve(known, better, end, best.cost, partial(look, looked))
        looked += other.looked
        best = other if other.moves else best
        if other.cancelled or other.proven:
            return replace(best, proven=other.proven, cancelled=other.cancelled, looked=looked)
    moves = _polished(planner, best.moves)
    return replace(best, moves=moves, cost=planner.price.total(moves), proven=False, looked=looked)


def _polished(planner: Planner, moves: tuple[Hit, ...]) -> tuple[Hit, ...]:
    """Return the same order of folds with the setups that cost least, as far as one hit after another can tell."""
    ways: list[tuple[int, tuple[Hit, ...]]] = [(0, ())]
    for done in moves:
        layer: list[tuple[int, tuple[Hit, ...]]] = []
        for move in planner.candidates(done.before):
            if (move.fold, move.level) == (done.fold, done.level) and planner.possible(move):
                alone = STUCK_COST[0] * planner.stuck(move)
                cheapest = min(
                    ((cost + planner.price.step(way[-1] if way else None, move, 0), way) for cost, way in ways),
                    key=lambda one: one[0],
                )
                layer.append((cheapest[0] + alone, (*cheapest[1], move)))
        ways = layer
    return min(ways, key=lambda one: one[0])[1]


def any_order(
    planner: Planner, *, effort: int | None = None, seconds: float | None = None, progress: Progress | None = None
) -> FoundOrder:
    """Look for some order that never collides, whatever it costs: whether there is one takes less than the best.

    What is possible next depends on which folds are formed and not on how, so each such state is opened once.

    Parameters
    ----------
    planner, effort, seconds, progress
        As for `search`; its cost is left at 0.
    """
    end = None if seconds is None else time.monotonic() + seconds
    effort = effort or EFFORT
    known = _Known(planner, () if planner.given else patterns(planner, stuck=False))
    start, full = (0,) * len(planner.full), planner.full
    seen, looked = {start}, 0
    trail: list[Hit] = []
    stack: list[tuple[Levels, Iterator[Hit]]] = [(start, _possible(known, start, seen))]
    while stack:
        levels, ways = stack[-1]
        if levels == full:
            return FoundOrder(tuple(trail), 0, False, False, looked)
        move = next(ways, None)
        if move is None:
            stack.pop()
            if trail:
                trail.pop()
            continue
        if progress is not None:
            progress(looked / effort, f"{looked} states looked at")
        if end is not None and time.monotonic() > end:
            return FoundOrder((), 0, False, True, looked)
        if looked >= effort:
            return FoundOrder((), 0, False, False, looked)
        looked += 1
        after = (*levels[: move.fold], move.level, *levels[move.fold + 1 :])
        trail.append(move)
        stack.append((after, _possible(known, after, seen)))
    return FoundOrder((), 0, True, False, looked)


def _possible(known: _Known, levels: Levels, seen: set[Levels]) -> Iterator[Hit]:
    """Yield one hit in which nothing hits for each fold that may come next and leads to a state not seen before."""
    planner = known.planner
    if planner.is_dead_end(levels):
        return
    tried: set[int] = set()
    for move in planner.candidates(levels):
        if move.fold in tried:
            continue
        after = (*levels[: move.fold], move.level, *levels[move.fold + 1 :])
        if after in seen or known.stuck_ahead(after) is None:
            tried.add(move.fold)
        elif planner.possible(move):
            tried.add(move.fold)
            seen.add(after)
            yield move


@dataclass(frozen=True, slots=True, eq=False)
class _Known:
    """The part, and what a few of its folds alone say of a state."""

    planner: Planner
    patterns: tuple[FoldSubset, ...]
    holding: dict[int, tuple[int, ...]] = field(default_factory=dict)
    after: dict[Levels, list[int | None]] = field(default_factory=dict)

    def with_fold(self, fold: int) -> tuple[int, ...]:
        """Return the numbers of the sets that hold a fold."""
        if fold not in self.holding:
            self.holding[fold] = tuple(k for k, p in enumerate(self.patterns) if fold in p.folds)
        return self.holding[fold]

    def stuck_ahead(self, levels: Levels) -> int | None:
        """Return how many steps to come get stuck at least; None where no order is left."""
        most = 0
        for pattern in self.patterns:
            least = pattern.ahead(levels)
            if least is None:
                return None
            most = max(most, least)
        return most


def _pass(
    known: _Known, effort: int, end: float | None, bound: int | None, look: Callable[[int], None], *, nearer: int
) -> FoundOrder:
    """Best-first search; a hit is held against the machine only when its turn comes, and so is its way out.

    `nearer`: how much sooner a state's turn comes for each hit less to do; 0: the first order found is the cheapest,
    rank by rank, else weights lead. `bound`: only cheaper orders are wanted. `look`: told how many states were
    opened, at every one that is looked at.
    """
    planner, price = known.planner, known.planner.price
    full, w = planner.full, 1 if nearer else 0
    steps, dear = sum(full), STUCK_COST[w]
    heap: list[tuple[int, int, int, int, Levels, Hit | None, Any, bool]] = []
    heap.append((0, 0, 0, 0, (0,) * len(full), None, None, True))
    best: dict[Levels, list[tuple[int, State]]] = {}
    number = looked = 0
    while heap:
        first, done, _, cost, levels, last, trail, charged = heapq.heappop(heap)
        look(looked)
        if end is not None and time.monotonic() > end:
            return FoundOrder((), 0, False, True, looked)
        if last is not None:
            rivals = best.setdefault(levels, [])
            if price.beaten(rivals, cost, last.state, w):
                continue
            if not charged:
                if not planner.possible(last):
                    continue
                if planner.stuck(last):
                    # Its turn comes later, once it has been charged with being stuck.
                    number += 1
                    cost += dear
                    if bound is None or cost < bound:
                        heapq.heappush(heap, (first + dear, done, number, cost, levels, last, trail, True))
                    continue
            rivals.append((cost, last.state))
            if planner.is_dead_end(levels):
                continue
        if levels == full:
            return FoundOrder(_unwound(trail), cost, nearer == 0, False, looked)
        if looked >= effort:
            return FoundOrder((), 0, False, False, looked)
        looked += 1
        least = _stuck_after(known, levels)
        for move in planner.candidates(levels):
            stuck = least[move.fold]
            if stuck is None:
                continue
            after = (*levels[: move.fold], move.level, *levels[move.fold + 1 :])
            total = cost + price.step(last, move, w)
            if price.beaten(best.get(after, ()), total, move.state, w):
                continue
            ahead = price.remaining_cost(move, after, w) + stuck * dear
            if bound is not None and total + ahead >= bound:
                continue
            number += 1
            done = sum(after)
            first = total + (2 * ahead + nearer * (steps - done) if nearer else ahead)
            heapq.heappush(heap, (first, -done, number, total, after, move, (move, trail), False))
    # Nothing left: there is no order at all, or none cheaper than the bound.
    return FoundOrder((), 0, True, False, looked)


def _beam(known: _Known, effort: int, end: float | None, bound: int, look: Callable[[int], None]) -> FoundOrder:
    """Go on hit by hit with the cheapest states only; where that leaves none out, nothing cheaper is left either."""
    planner, price = known.planner, known.planner.price
    steps = sum(planner.full)
    width = max(effort // steps, 1)
    layer: list[tuple[int, Levels, Hit | None, Any]] = [(0, (0,) * len(planner.full), None, None)]
    number = looked = 0
    whole = True
    for _ in range(steps):
        heap: list[tuple[int, int, int, Levels, Hit, Any, bool]] = []
        for cost, levels, last, trail in layer:
            look(looked)
            if end is not None and time.monotonic() > end:
                return FoundOrder((), 0, False, True, looked)
            looked += 1
            least = _stuck_after(known, levels)
            for move in planner.candidates(levels):
                stuck = least[move.fold]
                if stuck is None:
                    continue
                after = (*levels[: move.fold], move.level, *levels[move.fold + 1 :])
                total = cost + price.step(last, move, 0)
                first = total + price.remaining_cost(move, after, 0) + stuck * STUCK_COST[0]
                if first < bound:
                    number += 1
                    heap.append((first, number, total, after, move, (move, trail), False))
        heapq.heapify(heap)
        layer, full = _cheapest(known, heap, width, bound)
        whole = whole and full
    cost, _, _, trail = min(layer, key=lambda one: one[0], default=(0, (), None, None))
    return FoundOrder(_unwound(trail), cost, whole, False, looked)


def _cheapest(
    known: _Known, heap: list[Any], width: int, bound: int
) -> tuple[list[tuple[int, Levels, Hit | None, Any]], bool]:
    """Return the cheapest states of a heap in which nothing hits, none twice, and whether that is all of them."""
    planner, price = known.planner, known.planner.price
    out: list[tuple[int, Levels, Hit | None, Any]] = []
    best: dict[Levels, list[tuple[int, State]]] = {}
    while heap and len(out) < width:
        first, number, cost, levels, move, trail, charged = heapq.heappop(heap)
        rivals = best.setdefault(levels, [])
        if price.beaten(rivals, cost, move.state, 0):
            continue
        if not charged:
            if not planner.possible(move) or planner.is_dead_end(levels):
                continue
            if planner.stuck(move):
                if first + STUCK_COST[0] < bound:
                    again = (first + STUCK_COST[0], number, cost + STUCK_COST[0], levels, move, trail, True)
                    heapq.heappush(heap, again)
                continue
        rivals.append((cost, move.state))
        out.append((cost, levels, move, trail))
    return out, not heap


def _stuck_after(known: _Known, levels: Levels) -> list[int | None]:
    """Return for each fold how many steps get stuck at least after its next hit; None where that leads nowhere."""
    if levels not in known.after:  # a pass comes to the same levels by many orders
        known.after[levels] = _find_stuck_after(known, levels)
    return known.after[levels]


def _find_stuck_after(known: _Known, levels: Levels) -> list[int | None]:
    full, sets = known.planner.full, known.patterns
    now = [pattern.ahead(levels) or 0 for pattern in sets]
    most = max(now, default=0)
    out: list[int | None] = []
    for n, level in enumerate(levels):
        if level == full[n]:
            out.append(None)
            continue
        after = (*levels[:n], level + 1, *levels[n + 1 :])
        # The others see nothing of this hit.
        best: int | None = max((v for k, v in enumerate(now) if n not in sets[k].folds), default=0) if most else 0
        for k in known.with_fold(n):
            least = sets[k].ahead(after)
            if least is None:
                best = None
                break
            best = max(best or 0, least)
        out.append(best)
    return out


def _unwound(trail: Any) -> tuple[Hit, ...]:
    out = []
    while trail is not None:
        out.append(trail[0])
        trail = trail[1]
    return tuple(reversed(out))
