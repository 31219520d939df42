"""The verdict of a check: findings, what they amount to, and the order of folds that was searched for them."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Literal, Self, TypeAlias

from tinbook.finding import Finding, Findings

if TYPE_CHECKING:
    from tinbook.route.steps import FoldPlan

State: TypeAlias = Literal["proved", "not proved", "stopped"]


class Verdict(Findings):
    """The findings about a made part or assembly, what they amount to, and the order of folds that was searched.

    Parameters
    ----------
    findings : iterable of Finding
        In any order.
    plan : fold sequence, optional
        The order of a part's folds, or why there is none; None where none was searched. Sheets, fold pages and the order of
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
