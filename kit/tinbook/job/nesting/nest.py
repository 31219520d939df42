"""Nesting: blanks on to plates, with a gap, margins, grain and holes respected."""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from functools import partial
from typing import Any, Final

from tinbook.errors import BadValue
from tinbook.job.nesting.filling import Task
from tinbook.job.nesting.layout import Blank, Nest, Plate, PlateLayout, Side, ranged
from tinbook.job.nesting.search import Found, improve
from tinbook.job.nesting.setting import Setting
from tinbook.job.nesting.squeezing import finer, in_one_strip, squeeze

_COARSE: Final = 2.0  # an order that is good in cells of twice the side is a good beginning
_SHARE: Final = 0.5  # of the effort that is spent there
_LEVELS: Final = ((2.0, True, 0.6, 100, False), (1.0, False, 0.25, 250, False), (0.5, False, 0.15, 400, True))
"""Squeezing, by trial on drawn kits: side of the cells; whether blanks may overlap a little; share of the effort; part by
which a layout gets shorter; whether places are looked for near by only."""
_FIRST: Final = 0.2  # of that, where a layout is squeezed afterwards
_RUN, _RUNS = 8.0, 4  # effort of one squeezing, and how many there are at most: one alone may end in a bad place
_ORDERS: Final = 0.1  # of a large effort that goes to orders in fine cells: on some kits they do as well
SQUEEZED: Final = 1.0
"""Effort from which layouts are squeezed; the search by orders is as good below it."""


def nest(
    blanks: Sequence[Blank],
    plates: Sequence[Plate],
    *,
    gap: float,
    margins: float | Mapping[Side, float],
    locked: Sequence[PlateLayout] = (),
    seed: int = 0,
    effort: float = 3.0,
) -> Nest:
    """Return the best layout that the effort finds; see `nests`."""
    return deque(
        nests(blanks, plates, gap=gap, margins=margins, locked=locked, seed=seed, effort=effort), maxlen=1
    ).pop()


def nests(
    blanks: Sequence[Blank],
    plates: Sequence[Plate],
    *,
    gap: float,
    margins: float | Mapping[Side, float],
    locked: Sequence[PlateLayout] = (),
    seed: int = 0,
    effort: float = 3.0,
) -> Iterator[Nest]:
    """Give layouts, each better than the one before; stop when enough is enough.

    Parameters
    ----------
    blanks : sequence of Blank
        What is cut, at most `MOST_BLANKS` with all copies.
    plates : sequence of Plate
        Stock; offcuts are tried before sheets, and without them where that costs less.
    gap : float
        Least distance of two blanks, mm, 0 to 100.
    margins : float or dict of side to float
        Least distance to the sides of a plate, mm, 0 to 500.
    locked : sequence of PlateLayout, optional
        Plates that come first, in this order; of what lies on them all stays that is locked.
    seed : int
        Same seed, same layout.
    effort : float
        1 is about a second of processor time, at most 10 000; 0 gives a first layout only.

    Yields
    ------
    Nest

    Raises
    ------
    BadValue
        For values out of range, a blank that no plate can hold, stock that runs out, locked blanks that overlap.
    """
    effort = ranged("effort", effort, 0.0, 1e4)
    if not isinstance(seed, int) or isinstance(seed, bool):
        raise BadValue("seed", seed, "a whole number")
    fine = Setting(blanks, plates, gap, margins, locked)
    if not fine.parts:
        yield fine.unchanged()
        return
    exact = fine.exact(effort)
    if exact is not None:
        yield exact
        return
    coarse = Setting(blanks, plates, gap, margins, locked, coarser=_COARSE)
    best = math.inf
    for setting, task, found in _searched(coarse, fine, seed, effort):
        nest = setting.result(task, found.filling, found.tried)
        if nest.cost < best:
            best = nest.cost
            yield nest
    if best == math.inf:
        raise BadValue("plates", ", ".join(p.name for p in plates), fine.too_little())


def _searched(coarse: Setting, fine: Setting, seed: int, effort: float) -> Iterator[tuple[Setting, Task, Found]]:
    """Give layouts: by orders of parts in coarse cells, then squeezed, or by orders again, in fine ones."""
    ranks, orders = fine.ranks, fine.starts()
    chosen = _cheapest(coarse) if _holds(coarse) else None
    last: Found | None = None
    spent = 0
    if chosen is not None:
        which, task = chosen
        share = 1.0 if effort < SQUEEZED else _FIRST
        for found in improve(task, orders, ranks, seed, effort * _SHARE * share, 1.0):
            last = found
            yield coarse, task, found
        if last is not None:
            orders, spent = [last.steps, *orders], last.tried
    squeezed = effort >= SQUEEZED and len(ranks) > 1
    if squeezed and chosen is not None and last is not None and in_one_strip(task, last.filling, ranks):
        runs = min(_RUNS, max(1, int(effort / _RUN)))
        again = partial(Setting, fine.blanks, fine.plates, fine.gap, fine.margins, fine.locked)
        settings = [again(coarser, fair) for coarser, fair, *_ in _LEVELS]
        ways = [(s, s.tasks()[which], how) for s, (_, _, *how) in zip(settings, _LEVELS, strict=True) if _holds(s)]
        chosen = _cheapest(fine) if runs > 1 else None
        if chosen is not None:
            for found in improve(chosen[1], orders, ranks, seed, _ORDERS * effort, 0.5):
                yield fine, chosen[1], replace(found, tried=found.tried + spent)
        for run in range(runs):
            begun = replace(last, tried=spent)
            for setting, level, found in _squeezed((coarse, task), ways, begun, seed + run, 0.9 * effort / runs):
                spent = found.tried
                yield setting, level, found
        return
    chosen = _cheapest(fine)
    if chosen is None:
        return
    _, task = chosen
    share = 1.0 if effort < SQUEEZED else 0.6
    last = None
    for found in improve(task, orders, ranks, seed, effort * (1.0 - _SHARE) * share, 0.5):
        last = replace(found, tried=found.tried + spent)
        yield fine, task, last
    if effort >= SQUEEZED and last is not None:
        for found in squeeze(task, last.filling, ranks, seed, effort * 0.2):
            yield fine, task, replace(found, tried=found.tried + last.tried)


def _holds(setting: Setting) -> bool:
    """Whether every blank has room in cells so large; in the fine ones that were checked it has."""
    try:
        return bool(setting.tasks())
    except BadValue:
        return False


def _squeezed(
    before: tuple[Setting, Task],
    levels: Sequence[tuple[Setting, Task, Sequence[Any]]],
    begun: Found,
    seed: int,
    effort: float,
) -> Iterator[tuple[Setting, Task, Found]]:
    """Give a layout squeezed in rough cells, in which blanks may overlap a little, then in fine and in the finest ones."""
    last = begun
    for setting, task, (share, shorter, near) in levels:
        off = before[0].off - setting.off
        start = finer(last.filling, before[1], before[0].cell, task, setting.cell, off)
        tried, before = last.tried, (setting, task)
        last = replace(last, filling=start)
        for found in squeeze(task, start, setting.ranks, seed, share * effort, shorter, near=near):
            last = replace(found, tried=found.tried + tried)
            if not setting.off:
                yield setting, task, last


def _cheapest(setting: Setting) -> tuple[int, Task] | None:
    """Return which choice of plates costs least without a search, and its task; None if none holds the blanks."""
    out = (
        (found.filling.cost, n, task.shortened(found.filling.reach[0]) if len(found.filling.reach) == 1 else task)
        for n, task in enumerate(setting.tasks())
        for found in deque(improve(task, setting.starts(), setting.ranks, 0, 0.0), maxlen=1)
    )
    best = min(out, key=lambda choice: choice[:2], default=None)
    return None if best is None else best[1:]
