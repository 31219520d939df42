"""Layouts of a job corrected by hand: one blank moved and locked, the rest nested around it."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from tinbook.errors import BadValue, of_kind
from tinbook.job.nested import Group, JobNest, plates_for, stock_without
from tinbook.job.nesting.by_hand import moved
from tinbook.job.nesting.layout import Nest
from tinbook.job.nesting.nest import nest


def move_in_job(
    found: JobNest, sheet: int, blank: str, copy: int = 1, *, to: int | None = None, **place: Any
) -> JobNest:
    """Return a nested job with one blank moved and locked.

    Parameters
    ----------
    found : JobNest
        From `nest_job`; it is not changed.
    sheet : int
        Number of the sheet through the job, from 1, as in `plans()`.
    blank, copy : str, int
        Which blank.
    to : int, optional
        Number of another sheet of the same metal.
    **place
        `x`, `y`, `angle` and `locked` as for `moved`; what is not given stays, so that no place at all locks it there.

    Returns
    -------
    JobNest

    Raises
    ------
    BadValue
        If it would overlap, come too close, leave the sheet or lie across the grain, with the other blank's name.
    """
    of_kind(found, JobNest, "nest", "what tb.job.nest_job gives")
    at, plate = found.sheet(sheet)
    group, target = (at, plate) if to is None else found.sheet(to)
    if group != at:
        raise BadValue("to", to, f"a sheet of '{found.groups[at].sheet}', as sheet {sheet} is")
    return _with(found, at, moved(found.groups[at].nest, plate, blank, copy, to_plate=target, **place))


def nest_around(found: JobNest, sheet: int = 1, *, seed: int = 0, effort: float = 1.0) -> JobNest:
    """Nest the metal of one sheet again: what is locked stays where it lies, the rest is placed around it.

    Parameters
    ----------
    found : JobNest
        From `nest_job` or `move_in_job`; it is not changed.
    sheet : int
        Number of a sheet through the job, from 1; all sheets of its metal are nested again.
    seed, effort
        As for `nest`.

    Returns
    -------
    JobNest
        Plates with something locked come first.

    Raises
    ------
    BadValue
        No such sheet, or stock that runs out.
    """
    of_kind(found, JobNest, "nest", "what tb.job.nest_job gives")
    at, _ = found.sheet(sheet)
    group = found.groups[at]
    metal = found.shop.sheet_by_key(group.sheet)
    left = stock_without(found.stock, [g for n, g in enumerate(found.groups) if n != at])
    cutter = found.shop.cutter(group.cutter)
    plates = plates_for(metal, cutter, found.shop, left, group.traced, found.new_sheets)
    known = {p.name: p for p in plates}
    locked = [replace(k, plate=known[k.plate.name]) for k in group.nest.layouts if any(p.locked for p in k.placements)]
    again = nest(
        group.nest.blanks,
        plates,
        gap=group.nest.gap,
        margins=group.nest.margins,
        locked=locked,
        seed=seed,
        effort=effort,
    )
    return _with(found, at, again)


def _with(found: JobNest, at: int, new: Nest) -> JobNest:
    groups: list[Group] = list(found.groups)
    groups[at] = replace(groups[at], nest=new)
    return replace(found, groups=tuple(groups))
