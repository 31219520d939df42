"""The order in which the folds are made: fewest turn-overs and re-settings among the orders that never collide."""

from __future__ import annotations

import heapq
import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import partial
from typing import Any, Final, TypeAlias

from tinbook.route.planner import RESET, ROTATE, SPLIT, TURN_OVER, Move, Planner
from tinbook.route.pose import Levels

NEARER: Final = 150
"""Weight of a hit still to do in the greedy pass: more than most hits cost, so that it goes ahead."""
EFFORT: Final = 1_000
"""States that a pass opens unless asked for more, and at most a quarter of it to improve parts of more than MANY folds."""
MANY: Final = 6
Progress: TypeAlias = Callable[[float, str], None]
"""Is told a share of 0 to 1 and a word; what it raises ends the search."""


@dataclass(frozen=True, slots=True)
class Found:
    """What the search came back with.

    Parameters
    ----------
    moves : tuple of Move
        A whole order, empty if there is none (or none was found).
    cost : int
        By the weights of this module.
    proven : bool
        Whether no cheaper order exists (or, without moves, none at all).
    cancelled : bool
        Whether the clock ended the search.
    looked : int
        States that were opened.
    """

    moves: tuple[Move, ...]
    cost: int
    proven: bool
    cancelled: bool
    looked: int


def search(
    planner: Planner, *, effort: int | None = None, seconds: float | None = None, progress: Progress | None = None
) -> Found:
    """Search for the cheapest order that never collides.

    A greedy pass finds some order, a second one a better, the last the cheapest or proves that the one
    at hand is. All are bounded by the states they open, so that the same part gives the same answer;
    the clock can only end them early, and the answer says so.

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
    end = None if seconds is None else time.monotonic() + seconds
    better = effort or (EFFORT if len(planner.full) <= MANY else EFFORT // 4)
    most = (effort or EFFORT) + better // 5 + better

    def look(before: int, now: int) -> None:
        if progress is not None:
            progress((before + now) / most, f"{before + now} states looked at")

    best = _pass(planner, effort or EFFORT, end, None, partial(look, 0), nearer=NEARER)
    looked = best.looked
    if best.cancelled or not best.moves:
        return best
    proven = False
    for nearer, share in ((NEARER // 4, better // 5), (0, better)):
        other = _pass(planner, share, end, best.cost, partial(look, looked), nearer=nearer)
        looked += other.looked
        best = other if other.moves else best
        proven = other.proven
        if other.cancelled or proven:
            return Found(best.moves, best.cost, proven, other.cancelled, looked)
    return Found(best.moves, best.cost, proven, False, looked)


def _pass(
    planner: Planner, effort: int, end: float | None, bound: int | None, look: Callable[[int], None], *, nearer: int
) -> Found:
    """Best-first search; a hit is held against the machine only when its turn comes.

    `nearer`: how much sooner a state's turn comes for each hit less to do; 0: the first order found is the cheapest.
    `bound`: only cheaper orders are wanted. `look`: told how many states were opened, at every one that is looked at.
    """
    full = planner.full
    steps = sum(full)
    heap: list[tuple[int, int, int, int, Levels, Move | None, Any]] = [(0, 0, 0, 0, (0,) * len(full), None, None)]
    best: dict[Levels, list[tuple[int, tuple[Any, ...]]]] = {}
    number = looked = 0
    while heap:
        _, _, _, cost, levels, last, trail = heapq.heappop(heap)
        look(looked)
        if end is not None and time.monotonic() > end:
            return Found((), 0, False, True, looked)
        if last is not None:
            rivals, state = best.setdefault(levels, []), planner.state(last)
            if _beaten(rivals, cost, state) or not planner.possible(last):
                continue
            rivals.append((cost, state))
            if planner.dead(levels):
                continue
        if levels == full:
            return Found(_unwound(trail), cost, nearer == 0, False, looked)
        if looked >= effort:
            return Found((), 0, False, False, looked)
        looked += 1
        for move in planner.candidates(levels):
            after = (*levels[: move.fold], move.level, *levels[move.fold + 1 :])
            total = cost + planner.cost(last, move)
            if _beaten(best.get(after, ()), total, planner.state(move)):
                continue
            ahead = planner.ahead(move, after)
            if bound is not None and total + ahead >= bound:
                continue
            number += 1
            done = sum(after)
            first = total + (2 * ahead + nearer * (steps - done) if nearer else ahead)
            heapq.heappush(heap, (first, -done, number, total, after, move, (move, trail)))
    # Nothing left: there is no order at all, or none cheaper than the bound.
    return Found((), 0, True, False, looked)


def _beaten(rivals: Iterable[tuple[int, tuple[Any, ...]]], cost: int, state: tuple[Any, ...]) -> bool:
    """Whether another way to the same levels is at least as cheap whatever comes next: it could change over first."""
    for other, at in rivals:
        if at == state:
            if other <= cost:
                return True
            continue
        change = other + RESET * (at[0] != state[0]) + TURN_OVER * (at[1] != state[1]) + ROTATE * (at[2] != state[2])
        if change + RESET * (at[3] != state[3]) + 2 * SPLIT <= cost:
            return True
    return False


def _unwound(trail: Any) -> tuple[Move, ...]:
    out = []
    while trail is not None:
        out.append(trail[0])
        trail = trail[1]
    return tuple(reversed(out))
