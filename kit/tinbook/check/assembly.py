"""`check_assembly`: every part on its own, and every member held against every other."""

from __future__ import annotations

from dataclasses import replace

from tinbook.check.parameter import parameter
from tinbook.check.rules import check
from tinbook.check.table import Findings
from tinbook.errors import TinbookError
from tinbook.finding import Finding, stops, worst_first
from tinbook.make.assembled import Assembled, meeting_findings, need_assembled
from tinbook.part.part import Part


def check_assembly(made: Assembled) -> Findings:
    """Check an assembly.

    Parameters
    ----------
    made : Assembled
        From `assemble`.

    Returns
    -------
    Findings
        Worst first: those of each part with its number, then common volume, weld gaps and mating holes.
        Nothing is raised.
    """
    need_assembled(made, "check_assembly")
    found: list[Finding] = []
    named: list[Finding] = []
    for thing, pieces in made.made:
        if isinstance(thing, Part):
            found += [replace(f, where=f"{thing.number}: {f.where}") for f in check(pieces[0])]
            if made.assembly.asked is not None and not named and stops(found):
                asked, stopped = made.assembly.asked, stops(found)
                named += parameter(asked, made.shop, thing.sheet, lambda tried: bool(check(tried).stops), stopped)
    if made.ok:
        try:
            found += [f for f in meeting_findings(made) if f not in made.findings]
        except TinbookError as wrong:
            found.append(
                Finding(
                    code="assembly.failed",
                    severity="stop",
                    where=made.assembly.number,
                    what=f"its members could not be held against each other ({wrong})",
                    source="geometry",
                    remedy="look at the parts one by one",
                )
            )
    found += [
        Finding(
            code="assembly.caution",
            severity="mind",
            where=made.assembly.number,
            what=caution.rstrip("."),
            source="common practice",
            remedy="have it signed by whoever your rules name",
        )
        for caution in made.assembly.cautions
    ]
    return Findings(worst_first([*named, *found]))
