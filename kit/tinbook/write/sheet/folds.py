"""The folds of a fold sheet: their order, how it was proved, and the settings of each hit."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from tinbook.errors import of_kind
from tinbook.finding import Finding
from tinbook.language import ENGLISH, Language
from tinbook.making.folded import BendZone
from tinbook.making.made import Made
from tinbook.route.fold_order import fold_sequence
from tinbook.route.foldstep import HEAD, row_of
from tinbook.route.order import order_of_work
from tinbook.route.steps import FoldPlan, of_its_own
from tinbook.route.stored_order import StoredHit
from tinbook.rules.verdict import Verdict
from tinbook.values import dataclass
from tinbook.write.flowing import Table

STEPS: Final = {
    "cut inside": "cut inside",
    "cut outside": "cut outside",
    "drill flat": "drill by hand",
    "insert early": "set inserts that are shut in later",
    "trim": "trim after beading",
    "drill after bead": "drill after beading",
    "drill after fold": "drill beside the bends",
    "weld corners": "weld closed corners",
    "prime": "weld-through primer",
    "weld tails": "weld the tails",
    "fill": "close the tack-screw holes",
    "epoxy": "primer",
    "seal": "seam sealer",
    "rivet": "blind rivets",
    "wax": "cavity wax",
    "insert": "nut inserts",
}
"""Words on the sheet for kinds of operations whose own names are not clear."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Folding:
    """The order of folds of a sheet.

    Parameters
    ----------
    made : Made
        The part.
    strips : tuple of BendZone
        The folds in working order.
    sequence : FoldPlan or None
        What the planner proved, or why it could not; None without folds.
    given : bool
        Whether an order was given.
    """

    made: Made
    strips: tuple[BendZone, ...]
    sequence: FoldPlan | None
    given: bool

    @property
    def proved(self) -> bool:
        """Whether every step was proved free of collision."""
        return self.sequence is not None and bool(self.sequence.steps)

    def findings(self, severity: str) -> list[Finding]:
        """Return the planner's findings of one severity."""
        return [f for f in self.sequence.findings if f.severity == severity] if self.sequence else []


def folding(made: Made, order: Verdict | FoldPlan | Iterable[str | StoredHit] | None) -> Folding:
    """Return the order of folds for a sheet.

    Parameters
    ----------
    made : Made
        The part.
    order : Verdict, FoldPlan, iterable of str or StoredHit, or None
        A check that carries its fold plan, the planner's answer, an order that is proved here, or None: it is searched.

    Raises
    ------
    BadValue
        The sequence of another part, names that are not each fold once.
    """
    names = {s.name: s for s in made.strips}
    given: tuple[str, ...] | None = None
    if isinstance(order, Verdict):
        order = order.plan
    if isinstance(order, FoldPlan):
        of_its_own(order, made)
        sequence: FoldPlan | None = order
    elif order is not None:
        of_kind(order, Iterable, "order", "a fold sequence, or the names of the folds in working order")
        hits = tuple(order)
        sequence = fold_sequence(made, order=hits)
        given = tuple(dict.fromkeys(h if isinstance(h, str) else h.fold for h in hits))
    elif not names:
        sequence = None
    else:
        sequence = fold_sequence(made)
    if sequence is not None and sequence.steps:
        given = tuple(dict.fromkeys(s.fold for s in sequence.steps))
    strips = made.strips if given is None else tuple(names[n] for n in given)
    return Folding(made=made, strips=strips, sequence=sequence, given=given is not None)


def _why(sequence: FoldPlan, given: bool, say: Language) -> str:
    """Return where the order comes from, in a sentence."""
    if sequence.steps:
        how = say("as it was given")
        if not sequence.given:
            how = say(
                "searched; none is better in steps without a way out, lifts for two, turn-overs, heavy sides swung, "
                "re-settings, in that order"
            )
        if not sequence.given and not sequence.proven:
            how = say("the best that was found")
            how += say(" before the clock ended the search") if sequence.cancelled else ""
        assumed = any(s.setup.assumed for s in sequence.steps)
        limit = " " + say("Some tools are assumed, see below.") if assumed else ""
        return say("Order of folds: {how}. Each step was proved free of collision on the tools named.", how=how) + limit
    stand = say("in the order that was given") if given else say("in the order in which they were drawn")
    if sequence.cancelled:
        why = say("the clock ended the search before an order was found")
    elif sequence.blocked and not sequence.findings.stops:
        why = (
            say("on the tools that were assumed this order does not fold the part, see Cautions")
            if given
            else say("on the tools that were assumed no order folds the part, see Cautions")
        )
    elif not sequence.proven:
        why = say("no order was found with this much effort")
    else:
        why = say("this order does not fold the part, see Stop") if given else say("no order folds the part, see Stop")
    return say("NOT PROVED: {why}. The folds stand {stand}.", why=why, stand=stand)


def step_table(it: Folding, say: Language = ENGLISH) -> Table | None:
    """Return the table of steps, one row a hit; None where there is no proved order."""
    if it.sequence is None or not it.sequence.steps:
        return None
    number = {s.name: str(i) for i, s in enumerate(it.strips, 1)}
    rows = tuple(row_of(s, number[s.fold], say) for s in it.sequence.steps)
    return Table(heads=tuple(map(say, HEAD)), rows=rows, right=(0, 6, 7, 8))


def step_notes(it: Folding, say: Language = ENGLISH) -> list[str]:
    """Return the sentences on the origin of the order, and the notes at its steps."""
    if it.sequence is None or not it.strips:
        return []
    hints: dict[str, list[str]] = {}
    for s in it.sequence.steps:
        for note in s.notes:
            hints.setdefault(note, []).append(str(s.number))
    return [
        _why(it.sequence, it.given, say),
        *(
            f"{say('Step') if len(at) == 1 else say('Steps')} {', '.join(at)}: {say.retold(note)}."
            for note, at in hints.items()
        ),
    ]


COLUMNS: Final = (
    "Set by: what touches the gauge's finger first, or the mark. To line now: the stop, from there to the middle of the "
    "bend, with the part folded as it is at that step. In the blank: from the farthest point behind to the middle of the "
    "bend; for a mark, from an edge to the line that goes under the nose bar's edge or the punch. Set, degrees: the angle "
    "to form; stays: what is left after springback; overbend: between what it springs back by the sheet's strength, a screen."
)


def reading_notes(it: Folding, say: Language = ENGLISH) -> list[str]:
    """Return the legend of the table of steps."""
    if not it.proved:
        return []
    return [say(COLUMNS)]


def work_line(it: Folding, say: Language = ENGLISH) -> str:
    """Return the order of work as one sentence."""
    plan = order_of_work(it.made, it.sequence if it.proved else [s.name for s in it.strips])
    words = {**STEPS, "fold": "fold in the order of the steps" if it.proved else "fold in the order of the table"}
    kinds = dict.fromkeys(plan.kinds)
    return say("Order of work: {each}.", each=", ".join(say(words.get(k, k)) for k in kinds))
