"""`check`: the rules of the shop, and whether the part can be folded at all."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

from tinbook.errors import of_kind
from tinbook.finding import Finding, stops, worst_first
from tinbook.route.brake import cannot_fold, fold_sequence
from tinbook.route.steps import of_its_own
from tinbook.rules import registry as rules
from tinbook.rules.parameter import parameter
from tinbook.rules.registry import Kind
from tinbook.rules.table import Verdict

if TYPE_CHECKING:
    from tinbook.making.made import Made
    from tinbook.part.asked import Asked
    from tinbook.route.search import Progress
    from tinbook.route.steps import Sequence
    from tinbook.shop.shop import Shop

TRIES: Final = 60
"""Orders of folds that are searched for a parameter that helps."""


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
        if made.part.asked is not None and stops(news):
            news = (*_parameter(made.part.asked, made, news), *news)
    every = worst_first((*found, *(f for f in news if f not in found)))
    return Verdict(every, plan=plan, answered=kind is None and (not made.strips or (plan is not None and plan.ok)))


def _parameter(asked: Asked, made: Made, said: tuple[Finding, ...]) -> tuple[Finding, ...]:
    """Return which parameter of its family to turn so that the part folds; worked out once, within `TRIES` searches."""
    if "parameter of folds" not in made._cache:
        stopped = nothing_folds()
        made._cache["parameter of folds"] = tuple(
            parameter(asked, made.shop, made.part.sheet, stopped, said, coarse=True)
        )
    kept: tuple[Finding, ...] = made._cache["parameter of folds"]
    return kept


def nothing_folds() -> Callable[[Made], bool]:
    """Return the question whether rules or the folding stop a part, which answers yes after `TRIES` searches of folds."""
    left = TRIES

    def stopped(tried: Made) -> bool:
        nonlocal left
        if rules.check(tried).stops or left <= 0:
            return True
        left -= 1
        return bool(tried.strips) and cannot_fold(tried)

    return stopped


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
        # None was found, and none was ruled out: a caution, no stop.
        found = tuple(replace(f, severity="caution") if f.code == "route.order" else f for f in found)
    return found
