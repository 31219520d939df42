"""Nesting: blanks on to plates, with a gap, margins, grain and holes respected."""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Iterator, Mapping, Sequence
from itertools import islice
from typing import Final

from tinbook.errors import BadValue
from tinbook.job.nesting.filling import Lying, Task
from tinbook.job.nesting.layout import Blank, Nest, Plate, PlateLayout, Side, ranged
from tinbook.job.nesting.search import EFFORT, improve
from tinbook.job.nesting.setting import Setting
from tinbook.job.nesting.sliding import Slider
from tinbook.job.nesting.squeezing import Squeezing, windows

_COARSE: Final = 2.0  # an order that is good in cells of twice the side is a good beginning
_SHARE: Final = 0.5  # of the effort that is spent there
_ROUGH: Final = 4.0  # side of the cells in which a layout is squeezed, likewise; blanks may overlap a little in them
_ORDERS: Final = (0.08, 0.3)
"""Share of the effort that goes to orders where a layout is squeezed afterwards, and how much at most."""
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
    for nest in _searched(coarse, fine, seed, effort):
        if nest.cost < best:
            best = nest.cost
            yield nest
    if best == math.inf:
        raise BadValue("plates", ", ".join(p.name for p in plates), fine.too_little())


def _searched(coarse: Setting, fine: Setting, seed: int, effort: float) -> Iterator[Nest]:
    """Give layouts by orders of parts in coarse cells, then by orders again in fine ones, or squeezed in rough ones."""
    ranks, orders, tried = fine.ranks, fine.starts(), 0
    squeezed = effort >= SQUEEZED and len(ranks) > 1
    share = min(_ORDERS[0], _ORDERS[1] / effort) if squeezed else _SHARE
    rough = Setting(fine.blanks, fine.plates, fine.gap, fine.margins, fine.locked, _ROUGH, True) if squeezed else None
    last: tuple[int, Sequence[int], list[Lying]] | None = None  # which choice of plates, their kinds, where parts lie
    for setting, heat in ((coarse, 1.0), (fine, 0.5)):
        chosen = _cheapest(setting) if setting is fine or _holds(setting) else None
        if chosen is None:
            continue
        which, task = chosen
        before = tried
        for found in improve(task, orders, ranks, seed, effort * share, heat):
            lying, tried = setting.lying(task, found.filling.puts), before + found.tried
            last, steps = (which, task.kinds, lying), found.steps
            yield setting.result(task.kinds, lying, tried)
        if last is None:
            continue
        if rough is not None and _holds(rough):
            orders_cost = (len(orders) + 1) * found.filling.tests / EFFORT  # all are tried, whatever the effort
            left = max(effort / 2, effort - max(effort * share, orders_cost))
            yield from _squeezed(rough, last[0], last[2], seed, left, tried)
            return
        orders = [steps, *orders]


def _squeezed(
    setting: Setting, which: int, lying: Sequence[Lying], seed: int, effort: float, tried: int
) -> Iterator[Nest]:
    """Give a layout squeezed, window by window."""
    task, slider = setting.tasks()[which], Slider(setting)
    done: set[int] = set()
    while left := [w for w in windows(setting, task, lying) if w[0] not in done]:
        done.add(left[0][0])
        it = Squeezing(setting, task, lying, left[0], seed, slider)
        for found in it.shorter(effort / len(left)):
            lying = found
            yield setting.result(task.kinds, found, tried + it.tried)
        tried, effort = tried + it.tried, effort * (1 - 1 / len(left))


def _holds(setting: Setting) -> bool:
    """Whether every blank has room in cells so large; in the fine ones that were checked it has."""
    try:
        return bool(setting.tasks())
    except BadValue:
        return False


def _cheapest(setting: Setting) -> tuple[int, Task] | None:
    """Return which choice of plates costs least without a search, and its task; None if none holds the blanks.

    Where there is no choice the first order that fits is enough.
    """
    tasks = setting.tasks()
    out = (
        (found.filling.cost, n, task.shortened(found.filling.reach[0]) if len(found.filling.reach) == 1 else task)
        for n, task in enumerate(tasks)
        for orders in [improve(task, setting.starts(), setting.ranks, 0, 0.0)]
        for found in (islice(orders, 1) if len(tasks) == 1 else deque(orders, maxlen=1))
    )
    best = min(out, key=lambda choice: choice[:2], default=None)
    return None if best is None else best[1:]
