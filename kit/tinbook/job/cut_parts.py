"""The parts of a job made on the shop's tools, before they are nested."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any, TypeAlias

from tinbook.errors import CannotMake
from tinbook.finding import Finding, caution
from tinbook.flatpattern import FlatPattern
from tinbook.job.declared import Job, JobPart, thickness_agrees
from tinbook.job.nesting.blanks import blank_for_nesting
from tinbook.job.nesting.layout import Blank
from tinbook.making.made import Made
from tinbook.making.resolve import make
from tinbook.rules.check import check
from tinbook.shop.cutting import JointRule
from tinbook.shop.material import Sheet
from tinbook.shop.shop import Shop
from tinbook.values import dataclass
from tinbook.write.stamp import Despite, excepted


@dataclass(frozen=True, slots=True, kw_only=True)
class CutPart:
    """A kind of part of a job, made on the shop's tools.

    Parameters
    ----------
    part : JobPart
        Number, quantity in a set, finish.
    made : Made or FlatPattern
        The made part, or the flat that was read.
    blank : str
        Its name in the nest.
    """

    part: JobPart
    made: Made | FlatPattern
    blank: str

    @property
    def flat(self) -> FlatPattern:
        """Its blank."""
        if isinstance(self.made, FlatPattern):
            return self.made
        assert self.made.flat is not None
        return self.made.flat

    @property
    def rev(self) -> str:
        """Its revision, "" for a flat that was read."""
        return self.made.part.rev if isinstance(self.made, Made) else ""

    @property
    def title(self) -> str:
        """What it is in the user's words, "" for a flat that was read."""
        return self.made.part.title if isinstance(self.made, Made) else ""

    @property
    def hand(self) -> str:
        """The word "other hand" where it is that, else ""."""
        return "other hand" if isinstance(self.made, Made) and self.made.part.other_hand else ""

    def mass(self, sheet: Sheet) -> float:
        """Return the mass of one, cut from a sheet, kg."""
        if isinstance(self.made, Made):
            return self.made.mass
        return self.made.area * sheet.thickness * sheet.material.density * 1e-9


MadeParts: TypeAlias = tuple[tuple[CutPart, ...], tuple[Finding, ...]]
"""Parts, and what is to be read before they are cut."""


def made_parts(job: Job, shop: Shop, despite: Despite = None, earlier: Sequence[CutPart] = ()) -> MadeParts:
    """Return the job's parts made on the shop's tools, and what is to be read before cutting; CannotMake where one is stopped.

    Parts that are among the `earlier` ones, made on the same shop, are taken from there: what was checked stays known.
    """
    known = {p.part.thing: p.made for p in earlier if isinstance(p.made, Made) and p.made.shop is shop}
    out: list[CutPart] = []
    found: list[Finding] = []
    wrong: list[str] = []
    for part in job.parts:
        sheet = shop.sheet_by_key(part.sheet)
        if isinstance(part.thing, FlatPattern):
            stops = [f for f in part.thing.findings.stops if not excepted(f, despite)]
            wrong += [f"  {part.number}: {f}" for f in stops]
            if not thickness_agrees(part.thing, sheet.nominal):
                wrong.append(
                    f"  {part.number}: drawn for {part.thing.thickness:g} mm, its sheet '{sheet.key}' is another"
                )
            if part.thing.folds:
                found.append(
                    caution(
                        "job.flat",
                        part.number,
                        "has folds, but is only cut: it was read as a flat",
                        "adopt it as a part",
                    )
                )
            out.append(CutPart(part=part, made=part.thing, blank=part.number))
            continue
        made = known.get(part.thing) or make(part.thing, shop)
        stops = [f for f in check(made).stops if not excepted(f, despite) or made.flat is None]
        wrong += [f"  {part.number}: {f}" for f in stops]
        out.append(CutPart(part=part, made=made, blank=f"{part.number} rev {part.thing.rev}"))
    if wrong:
        raise CannotMake("\n".join((f"{job.number}: nothing was nested; parts are stopped", *wrong)))
    return tuple(out), tuple(found)


def blanks_of(
    parts: Sequence[CutPart], sets: int, angles: tuple[float, ...], turn_over: bool, joints: JointRule | None
) -> tuple[Blank, ...]:
    """Return the blanks of parts for a number of sets, each name once."""
    blanks: dict[str, Blank] = {}
    for p in parts:
        count = p.part.quantity * sets + (blanks[p.blank].quantity if p.blank in blanks else 0)
        how: dict[str, Any] = {"grain": p.part.grain, "priority": p.part.priority, "joints": joints}
        blank = blank_for_nesting(p.made, count, angles=angles, turn_over=turn_over, **how)
        blanks[p.blank] = replace(blank, name=p.blank)
    return tuple(blanks.values())
