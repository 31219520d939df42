"""One line of the shop sheet per hit: how the part lies, what it is set to, what is formed, what to measure."""

from __future__ import annotations

from dataclasses import field
from typing import Literal, TypeAlias

from tinbook.errors import BadValue
from tinbook.finding import Findings
from tinbook.htmltable import html_table
from tinbook.making.accuracy import LineError
from tinbook.making.folded import Folded
from tinbook.making.made import Made
from tinbook.making.pose import posed
from tinbook.part.part import Part
from tinbook.route.foldstep import HEAD, FoldStep, counted, row_of
from tinbook.route.planner import NOTHING_TRIED, Hit, Planner, Tried
from tinbook.route.stops import line_errors
from tinbook.route.stored_order import StoredHit
from tinbook.values import dataclass

Verdict: TypeAlias = Literal["proved", "not proved", "stopped"]
"""Of an order of folds: every step is free of collision; none was found and none ruled out; something stops it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Blocked:
    """Why a fold cannot be made.

    Parameters
    ----------
    fold : str
        The fold that fails in every order that was reached.
    body, against : str
        Which metal hits what.
    depth : float
        How far they overlap at worst in the best case that was found, mm.
    angle : float
        Degrees turned when they meet.
    formed : tuple of str
        Folds that were formed by then.
    tool : str
        Tool, punch and way in that case.
    remedies : tuple of str
        What would help, each tried where it says so.
    proposals : tuple of Proposal
        Those that change the part, with the changed part.
    worst : float
        Degrees turned when they overlap most.
    trial : Hit
        The hit that was tried, for its picture.
    """

    fold: str
    body: str
    against: str
    depth: float
    angle: float
    formed: tuple[str, ...]
    tool: str
    remedies: tuple[str, ...]
    proposals: tuple[Proposal, ...]
    worst: float
    trial: Hit

    def __str__(self) -> str:
        after = f" after {', '.join(self.formed)}" if self.formed else ""
        hits = f"{self.body} hits the {self.against} by {self.depth:.1f} mm, first at {self.angle:.0f} degrees"
        return f"fold {self.fold!r}{after} on {self.tool}: {hits}; " + "; ".join(self.remedies)


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """What would help; whoever takes a changed part makes it anew, for its blank is another.

    Parameters
    ----------
    text : str
        The change in words.
    part : Part or None
        The changed part, for which an order was proved; None where tools are changed, or nobody tried.
    """

    text: str
    part: Part | None = None


def of_its_own(order: object, made: Made) -> None:
    """Refuse anything but a fold sequence of this part on this shop."""
    own = isinstance(order, FoldPlan) and (
        order.made is made or (order.made.part, order.made.shop) == (made.part, made.shop)
    )
    if not own:
        raise BadValue("order", repr(order), f"a fold sequence of {made.part.number} on the same shop")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FoldPlan:
    """An order of folds in which nothing collides, or why there is none.

    Parameters
    ----------
    made : Made
        The part.
    steps : tuple of FoldStep
        In order; empty when there is no order.
    blocked : tuple of Blocked
        Which folds fail, when there is no order.
    proven : bool
        Whether no better order exists (without steps: none at all), see `cost.RANKS` for what counts.
    cancelled : bool
        Whether a clock ended the search early.
    looked : int
        States that the search opened.
    findings : Findings
        Worst first.
    moves : tuple of Hit
        The search's own record of each step.
    given : bool
        Whether the order was given and only proved.
    tried : Tried
        What hit in the hits that the search tried.
    planner : Planner
        What the search knows, for pictures.
    """

    made: Made
    steps: tuple[FoldStep, ...]
    blocked: tuple[Blocked, ...]
    proven: bool
    cancelled: bool
    looked: int
    findings: Findings
    moves: tuple[Hit, ...] = ()
    given: bool = False
    tried: Tried = field(default=NOTHING_TRIED, repr=False)
    planner: Planner = field(repr=False)

    @property
    def ok(self) -> bool:
        """Whether there is an order and nothing forbids it."""
        return bool(self.steps or not self.made.strips) and not self.findings.stops

    @property
    def verdict(self) -> Verdict:
        """What is known: "proved" (an order, free of collision), "not proved" (none found yet), "stopped" (none there).

        Whether a proved order is also the best is another question: `proven`.
        """
        if self.steps or not self.made.strips:
            return "stopped" if self.findings.stops else "proved"
        return "stopped" if self.proven else "not proved"

    @property
    def proposals(self) -> tuple[Proposal, ...]:
        """Parts changed so that they fold, when there is no order, each once."""
        return tuple({p.text: p for b in self.blocked for p in b.proposals}.values())

    @property
    def lines(self) -> tuple[LineError, ...]:
        """What moves each fold's line off its place, as its stop passes it on: for `finished_sizes(made, order)`."""
        return line_errors(self.planner, self.moves)

    @property
    def hits(self) -> tuple[StoredHit, ...]:
        """The order as it is stored: `fold_sequence(made, order=hits)` proves it again without a search."""
        return tuple(
            StoredHit(
                fold=s.fold,
                level=m.level,
                machine=s.machine,
                tool=m.setup.tool,
                punch=m.setup.punch,
                reversed_punch=m.setup.reversed,
                pieces=m.setup.pieces,
                tooling=m.setup.tooling,
                at_back=s.at_back,
            )
            for s, m in zip(self.steps, self.moves, strict=True)
        )

    def __repr__(self) -> str:
        if not self.steps:
            return f"<{self.made.part.number}: no order of folds, {len(self.blocked)} blocked>"
        best = "as given" if self.given else "best possible" if self.proven else "best found"
        return f"<{self.made.part.number}: {counted(self.steps)} ({best})>"

    def state(self, step: int, fraction: float = 1.0) -> Folded:
        """Return the part at a step, `fraction` of the way to the formed angle (0 as it is laid in)."""
        if not 0 <= step < len(self.steps):
            raise BadValue("step", step, f"0 to {len(self.steps) - 1}")
        if not 0.0 <= fraction <= 1.0:
            raise BadValue("fraction", fraction, "0 to 1")
        s = self.steps[step]
        angles = dict(s.before)
        angles[s.fold] += fraction * (s.angle_formed - angles[s.fold])
        return posed(self.made.folded, angles)

    def rows(self) -> list[tuple[str, ...]]:
        """Return the shop sheet's table, its heading first."""
        return [HEAD, *(row_of(s) for s in self.steps)]

    def _repr_html_(self) -> str:
        heads, *rows = self.rows() if self.steps else [()]
        notes = [] if self.steps else [str(b) for b in self.blocked] or [str(f) for f in self.findings]
        return html_table(heads, rows, caption=repr(self).strip("<>"), notes=notes)
