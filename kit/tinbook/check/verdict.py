"""`check`: the rules of the shop, and whether the part can be folded at all."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from tinbook.check import rules
from tinbook.check.rules import Kind
from tinbook.check.table import Verdict
from tinbook.errors import of_kind
from tinbook.finding import Finding, stops, worst_first
from tinbook.route.brake import fold_sequence
from tinbook.route.steps import of_its_own

if TYPE_CHECKING:
    from tinbook.make.made import Made
    from tinbook.route.search import Progress
    from tinbook.route.steps import Sequence
    from tinbook.shop.shop import Shop


def check(
    made: Made,
    shop: Shop | None = None,
    *,
    opening: Any = None,
    kind: Kind | None = None,
    folds: bool = True,
    plan: Sequence | None = None,
) -> Verdict:
    """Check a made part against its shop: whether it can be cut, beaded, folded and fixed.

    Parameters
    ----------
    made : Made
        From `make`.
    shop : Shop, optional
        Must be the shop that it was made on; given only for the reader's sake.
    opening : measured outline, optional
        Adds whether a flat pan can follow the place that was measured.
    kind : {"live", "exact"}, optional
        Only rules of one kind. Live ones are quick enough for a moving slider, so no order of folds is searched.
    folds : bool
        Search an order in which the folds can be made (mostly under a second, at times some). Where
        something stops the part anyway, none is searched.
    plan : fold sequence, optional
        An order of folds that was worked out before, judged instead of a search.

    Returns
    -------
    Verdict
        Worst first, those of `make` included. A rule that fails is itself a stop.
        Where something stops a part of a family, one more names the parameter to turn and its nearest good value.
        `state` says "proved", "not proved" or "stopped", and `plan` holds the order of folds where one was searched.
        What was worked out once stays with `made`, for the writers too.

    Raises
    ------
    BadValue
        Something else than a made part, no such kind, `folds` that is neither True nor False, or another part's plan.
    """
    of_kind(folds, bool, "folds", "True or False")
    found = rules.check(made, shop, opening=opening, kind=kind)
    if plan is not None:
        of_its_own(plan, made)
        news = _told(plan)
    elif not folds or kind == "live" or stops(found):
        return Verdict(found, answered=kind is None and not made.strips)
    else:
        news, plan = folding(made)
    every = worst_first((*found, *(f for f in news if f not in found)))
    return Verdict(every, plan=plan, answered=kind is None and (not made.strips or (plan is not None and plan.ok)))


def folding(
    made: Made, *, seconds: float | None = None, progress: Progress | None = None
) -> tuple[tuple[Finding, ...], Sequence | None]:
    """Return what is found about the order of folds, and the order where one was searched; nothing is raised.

    Parameters
    ----------
    made : Made
        The part.
    seconds, progress
        As for `fold_sequence`.
    """
    if not made.strips:
        return (), None
    try:
        order = fold_sequence(made, seconds=seconds, progress=progress)
    except Exception as wrong:  # noqa: BLE001 -- as with every rule
        return (rules.failed("order of folds", wrong),), None
    return _told(order), order


def _told(order: Sequence) -> tuple[Finding, ...]:
    # What is fine about single folds the rules say too.
    found = tuple(f for f in order.findings if f.code == "route.order" or f.severity != "fine")
    if not order.steps and not order.proven:
        # None was found, and none was ruled out: to mind, no stop.
        found = tuple(replace(f, severity="mind") if f.code == "route.order" else f for f in found)
    return found
