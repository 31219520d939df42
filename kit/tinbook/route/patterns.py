"""What a few folds alone say about the whole part: which states lead nowhere, and how many steps must get stuck.

Leave out all metal whose place depends on other folds, and what remains can only fold more easily: fewer things
are there to hit, fewer to hold the part in the tools. So where the few folds alone find no way on, the
part has none, whatever the rest does; folds that cannot reach each other are so searched on their own.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import field
from itertools import combinations
from typing import TYPE_CHECKING, Final

from tinbook.making.articulated import Levels
from tinbook.values import dataclass

if TYPE_CHECKING:
    from tinbook.route.planner import Planner

STATES: Final = 600
"""States that folds looked at together may have."""
MOST: Final = 400
"""Sets of folds that are looked at."""
ALONG: Final = 6
"""Folds one behind the other that are looked at together."""


@dataclass(eq=False)
class FoldSubset:
    """A few folds, and what is known of their states.

    Parameters
    ----------
    planner : Planner
        The part.
    folds : tuple of int
        Their numbers.
    stuck : bool
        Whether to count steps that get stuck; else only whether an order is left.
    """

    planner: Planner
    folds: tuple[int, ...]
    stuck: bool = True
    known: dict[Levels, int | None] = field(default_factory=dict)

    def ahead(self, levels: Levels) -> int | None:
        """Return how many steps still to come no straight way leads out of, at least; None if no order is left."""
        here = tuple([levels[n] for n in self.folds])
        if here not in self.known:
            self.known[here] = self._look(here)
        return self.known[here]

    def _look(self, here: Levels) -> int | None:
        planner, within = self.planner, frozenset(self.folds)
        best: int | None = None if any(here[k] < planner.full[n] for k, n in enumerate(self.folds)) else 0
        levels = [0] * len(planner.full)
        for n, level in zip(self.folds, here, strict=True):
            levels[n] = level
        before = tuple(levels)
        for k, n in enumerate(self.folds):
            if best == 0:
                break
            if here[k] == planner.full[n]:
                continue
            here_stuck = planner.least_stuck(n, before, within, count=self.stuck)
            if here_stuck is None or (best is not None and here_stuck >= best):
                continue
            levels[n] += 1
            after = self.ahead(tuple(levels))
            levels[n] -= 1
            if after is not None and (best is None or after + here_stuck < best):
                best = after + here_stuck
        return best


def patterns(planner: Planner, *, stuck: bool = True) -> tuple[FoldSubset, ...]:
    """Return the sets of folds that are looked at: what hangs on one arm of the part, and on two or three together."""
    arms = _arms(planner)
    found: list[tuple[int, ...]] = []
    for arm in arms:
        found += [arm[k : k + ALONG] for k in range(max(len(arm) - ALONG, 0) + 1)]
    for count in (2, 3):
        for some in combinations(arms, count):
            together = tuple(sorted(n for arm in some for n in arm))
            if math.prod(planner.full[n] + 1 for n in together) <= STATES:
                found.append(together)
    wanted = list(dict.fromkeys(tuple(sorted(f)) for f in found))[:MOST]
    # What a larger set holds it says as well.
    sets = [frozenset(f) for f in wanted]
    return tuple(
        FoldSubset(planner, f, stuck) for f, s in zip(wanted, sets, strict=True) if not any(s < other for other in sets)
    )


def _arms(planner: Planner) -> list[tuple[int, ...]]:
    """Return the folds on each arm of the panel from which most folds go out, in the order in which they follow."""
    strips = planner.blank.strips
    links: dict[str, list[tuple[int, str]]] = {}
    for n, s in enumerate(strips):
        links.setdefault(s.parent, []).append((n, s.child))
        links.setdefault(s.child, []).append((n, s.parent))
    hub = max(links, key=lambda name: (len(links[name]), name == "base"))
    return [tuple(_along(links, n, there, hub)) for n, there in links[hub]]


def _along(links: Mapping[str, Sequence[tuple[int, str]]], fold: int, panel: str, back: str) -> Iterator[int]:
    yield fold
    for n, there in links[panel]:
        if there != back:
            yield from _along(links, n, there, panel)
