"""`check_assembly`: every part on its own, and every member held against every other."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Final

from tinbook.finding import Finding, stops, worst_first
from tinbook.making.assembled import CLASH, Assembled, assemble, meeting_findings, need_assembled
from tinbook.part.assembly import Assembly
from tinbook.part.part import Part
from tinbook.rules import contacts, hollow, spanner, torch, welds
from tinbook.rules.parameter import parameter
from tinbook.rules.registry import failed
from tinbook.rules.table import Findings
from tinbook.rules.verdict import check, nothing_folds

RULES: Final[tuple[Callable[[Assembled], Iterator[Finding]], ...]] = (
    welds.throats,
    welds.metals,
    welds.zinc,
    contacts.galvanic,
    torch.torch,
    spanner.spanners,
    hollow.hollows,
)
"""What is asked of an assembly beside common volume, weld gaps and mating holes."""


def check_assembly(made: Assembled) -> Findings:
    """Check an assembly.

    Parameters
    ----------
    made : Assembled
        From `assemble`.

    Returns
    -------
    Findings
        Worst first: those of each part with its number (of `make`, of the rules and of the order of folds), then
        common volume, weld gaps and mating holes, welds that suit the metal, room for torch and spanner, unlike metals
        in touch, hollows without vent or drain.
        Nothing is raised. Where something stops an assembly of a family, one more names the parameter to turn.
    """
    need_assembled(made, "check_assembly")
    found: list[Finding] = []
    named: list[Finding] = []
    for thing, pieces in made.made:
        if isinstance(thing, Part):
            told = check(pieces[0])
            whose = " and ".join(repr(m.name) for m in made.assembly.members if m.thing is thing or m.thing == thing)
            found += [
                replace(f, where=f"{thing.number}: {f.where}" + (f" (member {whose})" if f.severity == "stop" else ""))
                for f in told
            ]
            if made.assembly.asked is not None and not named and told.stops:
                folds = any(f.code.startswith("route.") for f in told.stops)
                named += parameter(
                    made.assembly.asked, made.shop, thing.sheet, nothing_folds(), told.stops, coarse=folds
                )
    if made.ok:
        met = meetings(made)
        found += met
        if made.assembly.asked is not None and not named and stops(met):
            named += _named(made, stops(met))
    found += [
        Finding(
            code="assembly.caution",
            severity="caution",
            where=made.assembly.number,
            what=caution.rstrip("."),
            source="common practice",
            remedy="have it signed by whoever your rules name",
        )
        for caution in made.assembly.cautions
    ]
    return Findings(worst_first([*named, *found]))


def meetings(made: Assembled) -> list[Finding]:
    """Return what is found where members meet; a rule that cannot be worked out stops."""
    found: list[Finding] = []
    try:
        found += [f for f in meeting_findings(made) if f not in made.findings]
    except Exception as wrong:  # noqa: BLE001 -- a question without an answer lets nothing pass
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
    for rule in RULES:
        try:
            found += rule(made)
        except Exception as wrong:  # noqa: BLE001 -- one rule that fails must not hide the others
            found.append(failed(f"{rule.__module__.rpartition('.')[2]}.{rule.__name__}", wrong))
    return found


def _named(made: Assembled, said: tuple[Finding, ...]) -> Iterator[Finding]:
    """Yield which parameter of its family to turn; what stopped before is looked at first in every try."""
    from tinbook.making.solid import bodies as k

    asked = made.assembly.asked
    assert asked is not None
    clashes = [(p.a, p.b) for p in made.pairs if p.common > CLASH]
    codes = {f.code for f in said}
    first = [rule for rule in RULES if codes & {f.code for f in rule(made) if f.severity == "stop"}]

    def together(tried: Assembly) -> bool:
        new = assemble(tried, made.shop)
        names = set(tried.names)
        near = ((a, b) for a, b in clashes if {a, b} <= names)
        if not new.ok or any(k.common_volume(new.shape(a), new.shape(b)) > CLASH for a, b in near):
            return True
        return any(stops(rule(new)) for rule in first) or bool(stops(meetings(new)))

    sheet = made.assembly.parts[0].sheet if made.assembly.parts else ""
    yield from parameter(asked, made.shop, sheet, nothing_folds(), said, together)
