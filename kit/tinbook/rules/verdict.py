"""`check`: whether a part can be cut, beaded, folded and fixed on this shop's tools."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any, Literal, Self, TypeAlias, get_args

from tinbook.errors import BadValue
from tinbook.finding import Finding, Findings, stop
from tinbook.making.made import need_made
from tinbook.route.steps import of_its_own
from tinbook.rules import blank
from tinbook.rules.registry import Search, live, searched, together
from tinbook.rules.rule import Kind, Rule

if TYPE_CHECKING:
    from tinbook.making.made import Made
    from tinbook.route.steps import FoldPlan
    from tinbook.shop.shop import Shop

State: TypeAlias = Literal["proved", "not proved", "stopped"]


class Verdict(Findings):
    """The findings about a made part, what they amount to, and the order of folds that was searched for them.

    Parameters
    ----------
    findings : iterable of Finding
        In any order.
    plan : fold sequence, optional
        The order of folds, or why there is none; None where none was searched. Sheets, fold pages and the order of
        work take it, or the whole verdict.
    answered : bool
        Whether every rule was asked and an order found for all folds.
    """

    plan: FoldPlan | None
    answered: bool

    def __new__(cls, findings: Iterable[Finding] = (), plan: FoldPlan | None = None, answered: bool = False) -> Self:
        """Make the tuple, and keep what belongs to it."""
        self = super().__new__(cls, findings)
        self.plan, self.answered = plan, answered
        return self

    @property
    def state(self) -> State:
        """What the findings amount to: "stopped", "not proved" where a question is open, or "proved"."""
        if not self.ok:
            return "stopped"
        return "proved" if self.answered else "not proved"


def check(
    made: Made,
    shop: Shop | None = None,
    *,
    opening: Any = None,
    kind: Kind | None = None,
    plan: FoldPlan | None = None,
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
    kind : {"live", "searched"}, optional
        Only rules of one kind. Live ones are quick enough for a moving slider. Searched ones take mostly under a second,
        at times some: an order in which the folds can be made, and for a part of a family that is stopped the nearest
        value of a parameter with which it can be made.
    plan : fold sequence, optional
        An order of folds that was worked out before, judged instead of a search.

    Returns
    -------
    Verdict
        Worst first, those of `make` included. A rule that crashes is itself a stop. Where something else stops the part,
        no order of folds is searched. What was worked out once stays with `made`, for the writers too.

    Raises
    ------
    BadValue
        Something else than a made part, no such kind, or another part's plan.
    """
    need_made(made, "check")
    if kind not in (None, *get_args(Kind)):
        raise BadValue("kind", kind, "'live', 'searched', or left out for every rule")
    if plan is not None:
        of_its_own(plan, made)
    found = Findings((*_of_the_call(made, shop, opening), *live(made)))
    if kind == "live":
        return Verdict(found)
    how = Search(plan=plan)
    new = searched(made, found, how)
    plan = how.plan
    every = new if kind == "searched" else together(found, new)
    return Verdict(every, plan=plan, answered=kind is None and (not made.strips or (plan is not None and plan.ok)))


def _of_the_call(made: Made, shop: Shop | None, opening: Any) -> Iterable[Finding]:
    """Return what is found about the shop and the measured opening that a call names."""
    if shop is not None and shop != made.shop:
        what = f"the part was made on the tools of {made.shop.name!r}, not of the shop given here"
        yield stop("check.shop", "check", what, "make it again on this shop", source="geometry")
    fit = getattr(opening, "fit", None)
    if fit is not None and made.flat is not None:
        yield from Rule(blank.follows)(made, fit)
