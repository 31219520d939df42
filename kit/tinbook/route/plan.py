"""The order of work as a value: operations, what must come before what and why, and the plan that keeps it."""

from __future__ import annotations

from typing import Final

from tinbook.finding import Findings
from tinbook.htmltable import html_table
from tinbook.values import dataclass

USUAL: Final = (
    *("etch", "cut inside", "cut outside", "deburr", "drill flat", "insert early"),
    *("form", "bead", "trim", "drill after bead"),
    *("fold", "drill after fold", "weld corners", "fit", "prime", "weld tails", "plug weld", "fill", "dress"),
    *("epoxy", "seal", "paint", "rivet", "insert", "wax", "bolt"),
)
"""Kinds of operations in the usual order (common practice)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Operation:
    """One operation.

    Parameters
    ----------
    key : str
        "kind", or "kind: what" where there are several of a kind.
    kind : str
        One of `USUAL`.
    what : str
        In words.
    who : str
        Who does it.
    own : bool
        Whether the shop does it itself.
    """

    key: str
    kind: str
    what: str
    who: str
    own: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Constraint:
    """One operation before another, and why in one line."""

    before: str
    after: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanStep:
    """An operation in its place.

    Parameters
    ----------
    number : int
        From 1.
    operation : Operation
        What is done.
    why : str
        Why it stands here, in one line.
    """

    number: int
    operation: Operation
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """The order of work.

    Parameters
    ----------
    steps : tuple of PlanStep
        In order; empty when there is none.
    constraints : tuple of Constraint
        All that was kept.
    trips : int
        How often the part goes from one place to another.
    findings : Findings
        Worst first.
    """

    steps: tuple[PlanStep, ...]
    constraints: tuple[Constraint, ...]
    trips: int
    findings: Findings

    @property
    def ok(self) -> bool:
        """Whether there is an order and nothing forbids it."""
        return bool(self.steps) and not self.findings.stops

    @property
    def kinds(self) -> tuple[str, ...]:
        """Kinds of operations in order."""
        return tuple(s.operation.kind for s in self.steps)

    def place(self, key: str) -> int:
        """Return the number of an operation, 0 if there is none."""
        return next((s.number for s in self.steps if key in (s.operation.key, s.operation.kind)), 0)

    def __repr__(self) -> str:
        lines = [f"{s.number:2} {s.operation.what} ({s.operation.who}): {s.why}" for s in self.steps]
        return "\n".join([*lines, *(str(f) for f in self.findings)]) or "no order"

    def _repr_html_(self) -> str:
        rows = [(str(s.number), s.operation.what, s.operation.who, s.why) for s in self.steps]
        notes = [str(f) for f in self.findings if f.severity != "fine"]
        return html_table(("", "operation", "who", "why here"), rows, notes=notes)
