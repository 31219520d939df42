"""The order in which parts are placed: annealing over orders, bounded by effort and never by the clock."""

from __future__ import annotations

import math
import random
from collections.abc import Iterator, Sequence
from typing import TypeAlias

from tinbook.job.nesting.filling import Filling, Task
from tinbook.values import dataclass

EFFORT = 60_000_000
"""Runs of cells that are tested for an effort of 1, about a second of processor time in 2026."""
_HEAT = 0.0015  # first temperature, as a share of the cost; found by trial on drawn kits
_SNAPSHOTS = 20  # states that are saved along an order, so that a change late in it does not fill the plates anew
_OVERHEAD = 2000  # tests that placing one part counts in any case


Step: TypeAlias = tuple[int, bool]
"""A part, and whether its middle or its end decides between positions (see `Filling.add`)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """A layout that is better than all before it, its order, and how many were tried."""

    filling: Filling
    steps: list[Step]
    tried: int


class _Search:
    """Fills plates along orders and counts the effort."""

    def __init__(self, task: Task, count: int, budget: float) -> None:
        self.task, self.budget = task, budget
        # Without a search no change follows, so no state is saved: copies of large plates take most of the time.
        self.step = max(1, count // _SNAPSHOTS) if budget > 0 else count + 1
        self.tests, self.tried = 0, 0

    @property
    def spent(self) -> float:
        """Share of the effort that is spent."""
        return min(1.0, self.tests / self.budget) if self.budget > 0 else 1.0

    def fill(self, order: Sequence[Step], states: list[Filling], start: int, limit: float) -> list[Filling] | None:
        """Return the states along an order, the last one full; None if its cost passes the limit."""
        self.tried += 1
        k = start // self.step
        states = states[: k + 1]
        filling = states[k].copy()
        for n in range(k * self.step, len(order)):
            if n % self.step == 0 and n > k * self.step:
                states.append(filling.copy())
            before = filling.tests
            fits = filling.add(*order[n], limit)
            self.tests += _OVERHEAD + filling.tests - before
            if not fits:
                return None
        return [*states, filling]


def _changed(order: Sequence[Step], ranks: Sequence[int], rng: random.Random) -> tuple[list[Step], int]:
    """Return an order with a few parts elsewhere or otherwise, ranks ascending as before, and the first change."""
    out, first = list(order), len(order)
    for _ in range(1 if rng.random() < 0.6 else 2):
        i, kind = rng.randrange(len(out)), rng.random()
        if kind < 0.15:
            j = i
            out[i] = out[i][0], not out[i][1]
        elif kind < 0.6:
            j = rng.randrange(len(out))
            if ranks[out[i][0]] != ranks[out[j][0]]:
                continue
            out[i], out[j] = out[j], out[i]
        else:
            j = min(len(out) - 1, max(0, i + rng.randint(-8, 8)))
            if any(ranks[p] != ranks[out[i][0]] for p, _ in out[min(i, j) : max(i, j) + 1]):
                continue
            out.insert(j, out.pop(i))
        first = min(first, i, j)
    return out, first


def improve(
    task: Task, starts: Sequence[Sequence[Step]], ranks: Sequence[int], seed: int, effort: float, heat: float = 1.0
) -> Iterator[Found]:
    """Give better and better layouts until the effort is spent.

    Parameters
    ----------
    task : Task
        Parts and plates.
    starts : sequence of sequence of Step
        Orders to begin with.
    ranks : sequence of int
        Rank of each part; parts of a lower rank always come first.
    seed : int
        Of the changes.
    effort : float
        1 is about a second of processor time; 0 tries the given orders only.
    heat : float
        Factor on how readily a worse layout is taken on the way.

    Yields
    ------
    Found
        Nothing at all where the plates do not hold the parts in any of the orders.
    """
    rng = random.Random(seed)  # noqa: S311 -- no secret
    search = _Search(task, len(ranks), effort * EFFORT)
    current: tuple[float, list[Step], list[Filling]] | None = None
    best = math.inf
    for start in starts:
        states = search.fill(start, [Filling(task)], 0, math.inf)
        if states is None:
            continue
        if current is None or states[-1].guide < current[0]:
            current = states[-1].guide, list(start), states
        if states[-1].cost < best:
            best = states[-1].cost
            yield Found(filling=states[-1], steps=list(start), tried=search.tried)
    if current is None:
        return
    while search.spent < 1.0 and len(ranks) > 1:
        guide, order, states = current
        changed, first = _changed(order, ranks, rng)
        if first == len(order):
            search.tests += _OVERHEAD
            continue
        limit = guide - heat * _HEAT * (1.0 - search.spent) * guide * math.log(1.0 - rng.random())
        filled = search.fill(changed, states, first, limit)
        if filled is None:
            continue
        current = filled[-1].guide, changed, filled
        if filled[-1].cost < best:
            best = filled[-1].cost
            yield Found(filling=filled[-1], steps=changed, tried=search.tried)
