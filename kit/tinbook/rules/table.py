"""Findings as a tuple that shows itself as a table."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Literal, Self

from tinbook.finding import Finding, gathered, places, shown, stops
from tinbook.htmltable import html_table

if TYPE_CHECKING:
    from tinbook.route.steps import Sequence as Plan

State = Literal["proved", "not proved", "stopped"]


class Findings(tuple[Finding, ...]):
    """Findings, worst first; in a notebook a table, in a terminal one line each."""

    __slots__ = ()

    @property
    def stops(self) -> Findings:
        """Those that forbid making the part."""
        return Findings(stops(self))

    @property
    def ok(self) -> bool:
        """Whether nothing forbids it."""
        return not self.stops

    def of(self, code: str) -> Findings:
        """Return the findings of one code, or of one subject ("fold")."""
        return Findings(f for f in self if f.code == code or f.code.startswith(f"{code}."))

    def __repr__(self) -> str:
        return "\n".join(str(f) for f in self) or "nothing found"

    def _repr_html_(self) -> str:
        marks = {"stop": "■ stop", "caution": "▲ caution", "fine": "● fine"}
        rows = [
            (marks[f.severity], places(group), f.what, _numbers(group), f.source, f.remedy)
            for group in gathered(self)
            for f in group[:1]
        ]
        return html_table(("", "where", "what", "found / limit", "source", "remedy"), rows)


class Verdict(Findings):
    """The findings about a made part, with what they amount to and the order of folds that was searched for them.

    Parameters
    ----------
    findings : iterable of Finding
        Worst first.
    plan : fold sequence, optional
        The order of folds, or why there is none; None where none was searched.
    answered : bool
        Whether every rule was asked and an order found for all folds.
    """

    plan: Plan | None
    answered: bool

    def __new__(cls, findings: Iterable[Finding] = (), plan: Plan | None = None, answered: bool = False) -> Self:
        """Make the tuple, and keep what belongs to it."""
        self = super().__new__(cls, findings)
        self.plan, self.answered = plan, answered
        return self

    @property
    def state(self) -> State:
        """What it amounts to: "stopped" where a finding forbids making it, "not proved" where a question is open."""
        if not self.ok:
            return "stopped"
        return "proved" if self.answered else "not proved"


def _numbers(group: Sequence[Finding]) -> str:
    values = [f.value for f in group if f.value is not None]
    if not values:
        return ""
    f, low, high = group[0], shown(min(values)), shown(max(values))
    limit = "" if f.limit is None else f" / {shown(f.limit)}"
    return f"{low}{'' if low == high else f' to {high}'}{limit} {f.unit}".strip()
