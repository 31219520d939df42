"""A part under every case of a load rule: each case's stress, deflection and worst joint, and the worst of all."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, Final

from tinbook.calc.loads import LoadCase
from tinbook.errors import BadValue, of_kind
from tinbook.finding import Finding, Findings, caution, fine, stop
from tinbook.htmltable import html_table
from tinbook.making.made import Made, need_made
from tinbook.progress import telling
from tinbook.strength.analysis import static
from tinbook.strength.joints.result import Joints, joints_under, percent
from tinbook.strength.joints.rules import Joining
from tinbook.strength.load_rules import Axes, LoadRule, Mount, need_rule, on_part
from tinbook.strength.meshed import Meshes
from tinbook.strength.request import default_size, supports_of
from tinbook.strength.shell.solve import NotSolved
from tinbook.units import figures
from tinbook.values import dataclass

if TYPE_CHECKING:
    from tinbook.part.part import Part
    from tinbook.progress import Progress
    from tinbook.space import Vec
    from tinbook.strength.request import Held
    from tinbook.strength.result import Static

HEAD: Final = ("case", "load", "goes", "sheet uses", "joints", "held against", "rule")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CaseAnswer:
    """A part under one case.

    Parameters
    ----------
    case : LoadCase
    under : Static or None
        None with a reason in `why`.
    joints : Joints or None
        None where nothing that holds it is a joint, or nothing was worked out.
    why : str
        Why there is no number, "" where there is one.
    """

    case: LoadCase
    under: Static | None
    joints: Joints | None
    why: str = ""

    @property
    def sheet(self) -> float | None:
        """Part of the yield stress used, infinite where it yields; None where nothing was worked out."""
        if self.under is None or not self.under.trusted:
            return None
        return math.inf if self.under.yields else self.under.stress / self.under.yield_stress

    @property
    def ok(self) -> bool:
        """Whether sheet and joints hold, all of them proved."""
        return self.sheet is not None and self.sheet <= 1 and (self.joints is None or self.joints.ok)

    def row(self) -> tuple[str, ...]:
        """Return its row of the table, as `HEAD` names it."""
        c = self.case
        load = f"{c.value:g} g" if c.unit == "g" else f"{figures(c.value, 4)} N"
        rule = "own proposal, no document" if c.own else c.source
        if self.under is None or not self.under.trusted:
            return c.name, load, "no number", self.why or "beyond the theory used", "", c.against, rule
        part = "yields" if self.under.yields else percent(self.sheet)
        joints = "none that hold it" if self.joints is None else self.joints.short
        least = "at least " if self.under.yields else ""
        return c.name, load, f"{least}{self.under.deflection:.3g} mm", part, joints, c.against, rule


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RuleAnswer:
    """A part under every case of a rule; shows itself in a notebook.

    Parameters
    ----------
    part : Part
    rule : LoadRule
    answers : tuple of CaseAnswer
    supports : tuple of str
        How it is held, in words.
    notes_more : tuple of str
    """

    part: Part
    rule: LoadRule
    answers: tuple[CaseAnswer, ...]
    supports: tuple[str, ...]
    notes_more: tuple[str, ...] = ()

    @property
    def ok(self) -> bool:
        """Whether sheet and joints hold in every case, all proved."""
        return all(a.ok for a in self.answers)

    @property
    def worst(self) -> CaseAnswer:
        """The case in which a joint, or else the sheet, uses most; one without a number comes first."""

        def most(a: CaseAnswer) -> tuple[bool, bool, float, float]:
            joint = 0.0
            if a.joints is not None and len(a.joints.unproved) < len(a.joints.uses):
                joint = a.joints.worst.use or 0.0
            sheet = a.sheet or 0.0
            return a.sheet is None, sheet > 1, max(joint, min(sheet, 1.0)), joint

        return max(self.answers, key=most)

    @property
    def line(self) -> str:
        """In one line: "tank 120 kg: full tank forward, 20 g: sheet 41 %; joints: worst plug weld 7 at 83 %"."""
        name, load, goes, sheet, joints, _, _ = self.worst.row()
        if goes == "no number":
            return f"{self.rule.words}: {name}, {load}: no number ({sheet})"
        return f"{self.rule.words}: {name}, {load}: sheet {sheet}; joints: {joints}"

    @property
    def findings(self) -> Findings:
        """What the cases find: stops where sheet or joints do not hold, cautions where nothing is proved."""
        found: list[Finding] = []
        for a in self.answers:
            name, source = a.case.name, a.case.source
            if a.sheet is None:
                found.append(
                    caution("load.case", name, f"no number: {a.row()[3]}", "other sheet or supports", source=source)
                )
            elif a.sheet > 1 and a.case.against != "yield":
                what = f"not proved: the sheet yields, and elastic theory ends there; held against {a.case.against}"
                found.append(caution("load.case", name, what, "thicker or stronger sheet", source=source))
            elif a.sheet > 1:
                remedy = "thicker or stronger sheet, more supports"
                found.append(stop("load.case", name, "the sheet yields", remedy, source=source))
            else:
                what = "the sheet stays elastic"
                found.append(fine("load.case", name, what, 100 * a.sheet, 100.0, "%", source))
            if a.joints is not None:
                found += [replace(f, where=f"{name}: {f.where}") for f in a.joints.findings]
        return Findings(found)

    def notes(self) -> list[str]:
        """Return what must be shown with the numbers."""
        signs = " / ".join(dict.fromkeys(a.case.signs for a in self.answers))
        held = "Held by: " + "; ".join(self.supports) + "."
        each = "Each case alone; the rule is the one asked for, not one that the kit says applies."
        cautions = dict.fromkeys((*self.rule.cautions, *self.part.cautions))
        return [self.line + ".", held, each, *self.notes_more, f"To be signed by: {signs}.", *cautions]

    def __str__(self) -> str:
        return "\n".join([self.line, *("; ".join(filter(None, a.row())) for a in self.answers), *self.notes()[1:]])

    def __repr__(self) -> str:
        return f"<{self.part.number} under {self.line}>"

    def _repr_html_(self) -> str:
        rows = [a.row() for a in self.answers]
        return html_table(HEAD, rows, caption=f"{self.part.number}: {self.rule.words}", notes=self.notes())


def under_rule(
    made: Made,
    supports: Held | None = None,
    rule: LoadRule | str = "tank 50 kg",
    *,
    on: Mount | None = None,
    fairlead: Mount | None = None,
    forward: Vec = (1.0, 0.0, 0.0),
    up: Vec = (0.0, 0.0, 1.0),
    size: float | None = None,
    joining: Joining | None = None,
    progress: Progress | None = None,
) -> RuleAnswer:
    """Work out a part under every case of a load rule, its sheet against yield and each joint against its own rule.

    Parameters
    ----------
    made : Made
    supports : str, Support or several, optional
        As for `strength_of`.
    rule : str or LoadRule
        In words, see `load_rule`: "tank 120 kg", "winch 40 kN at 15 deg".
    on : Mount, optional
        Where it is fixed; left out, a mass is spread over the base panel. Pulls need one.
    fairlead : Mount, optional
        For a winch: the fairlead takes what turns the rope; left out, the whole pull acts at the winch.
    forward, up : (float, float, float), optional
        Direction of travel and up, in part axes.
    size : float, optional
        Largest side of an element, mm.
    joining : Joining, optional
        What its joints join it to; the load factor is the rule's unless a Joining is given.
    progress : callable, optional
        As for `strength_of`.

    Returns
    -------
    RuleAnswer

    Raises
    ------
    UnknownName, BadValue
        Words, supports or places that are not known.
    CannotMake
        Seats and belt anchorages.
    """
    need_made(made, "under_rule")
    wanted = need_rule(rule)
    for mount, name in ((on, "on"), (fairlead, "fairlead")):
        if mount is not None:
            of_kind(mount, Mount, name, "a Mount")
    if joining is not None:
        of_kind(joining, Joining, "joining", "a Joining")
    if fairlead is not None and wanted.name != "winch":
        raise BadValue("fairlead", fairlead, f"none: '{wanted.name}' has no fairlead")
    axes = Axes.of(forward, up)
    how = joining or Joining(factor=wanted.factor)
    held = supports_of(made, supports)
    tell = telling(progress)
    loads = [on_part(wanted, c, on, fairlead, axes) for c in wanted.cases]
    meshes = Meshes(made, held, default_size(made) if size is None else size)
    title = f"{made.part.number} rev {made.part.rev}"
    answers = []
    for k, (case, load) in enumerate(zip(wanted.cases, loads, strict=True)):
        start, share = k / len(loads), 1 / len(loads)

        def told(done: float, word: str, start: float = start, share: float = share, name: str = case.name) -> None:
            tell(start + share * done, f"{name}: {word}")

        try:
            under = static(made, held, load, meshes=meshes, compare=False, progress=told)
        except NotSolved as reason:
            answers.append(CaseAnswer(case=case, under=None, joints=None, why=str(reason)))
            continue
        joints = joints_under(made, under, title, how, load) if under.trusted else None
        answers.append(CaseAnswer(case=case, under=under, joints=joints))
    notes = []
    if wanted.name == "winch" and fairlead is None and wanted.angle:
        notes.append("No fairlead is stated: the whole line pull acts at the winch.")
    if wanted.name == "winch":
        notes.append("With a snatch block the block's anchor takes up to twice the line pull: ask for 'snatch block'.")
    tell(1.0, "done")
    return RuleAnswer(
        part=made.part,
        rule=wanted,
        answers=tuple(answers),
        supports=tuple(s.title for s in held),
        notes_more=tuple(notes),
    )
