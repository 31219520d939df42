"""Nesting: blanks on to plates, with a gap, margins, grain and holes respected."""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Iterator, Mapping, Sequence
from typing import Final

from tinbook.errors import BadValue
from tinbook.job.nesting.filling import Task
from tinbook.job.nesting.layout import Blank, Nest, Plate, PlateLayout, Side, ranged
from tinbook.job.nesting.search import improve
from tinbook.job.nesting.setting import Setting

_COARSE: Final = 2.0  # an order that is good in cells of twice the side is a good beginning
_SHARE: Final = 0.5  # of the effort that is spent there


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
    if not isinstance(seed, int):
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
    best, tried = math.inf, 0
    orders = fine.starts()
    for setting, share, heat in ((coarse, _SHARE, 1.0), (fine, 1.0 - _SHARE, 0.5)):
        task = _cheapest(setting)
        if task is None:
            continue
        found = None
        for found in improve(task, orders, setting.ranks, seed, effort * share, heat):
            nest = setting.result(task, found.filling, tried + found.tried)
            if nest.cost < best:
                best = nest.cost
                yield nest
        if found is not None:
            orders, tried = [found.steps, *orders], tried + found.tried
    if best == math.inf:
        raise BadValue("plates", ", ".join(p.name for p in plates), fine.too_little())


def _cheapest(setting: Setting) -> Task | None:
    """Return the choice of plates that costs least without a search; None if none holds the blanks."""
    out = (
        (found.filling.cost, n, task.shortened(found.filling.reach[0]) if len(found.filling.reach) == 1 else task)
        for n, task in enumerate(setting.tasks())
        for found in deque(improve(task, setting.starts(), setting.ranks, 0, 0.0), maxlen=1)
    )
    return min(out, default=(0.0, 0, None))[2]
