"""Every rule about an assembly: each member against every other. No rule ever raises."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

import tinbook.making.solid as solids
from tinbook.finding import Finding, Findings
from tinbook.making.assembled import CLASH, Assembled, assemble
from tinbook.part.assembly import Assembly
from tinbook.part.part import Part
from tinbook.rules import hollow, meeting, spanner, torch, welds
from tinbook.rules.parameter import parameter
from tinbook.rules.registry import nothing_folds
from tinbook.rules.rule import Rule
from tinbook.rules.verdict import Verdict

_FINDERS: Final = (
    *(meeting.clashes, meeting.weld_gaps, meeting.holes, meeting.movements, welds.throats, welds.metals, welds.zinc),
    *(welds.galvanic, torch.torch, spanner.spanners, hollow.hollows),
)
RULES: Final = tuple(Rule(find, "searched") for find in _FINDERS)
"""Every rule about an assembly."""


def meetings(made: Assembled) -> Findings:
    """Return what the rules about the whole assembly find."""
    return Findings(f for rule in RULES for f in rule(made))


def nearest_parameter(made: Assembled, parts: Sequence[tuple[Part, Verdict]], met: Findings) -> Iterator[Finding]:
    """Search the smallest change of a family's parameters with which an assembly that is stopped can be made."""
    if made.assembly.provenance is None:
        return
    for part, verdict in parts:
        if verdict.stops:
            folds = bool(verdict.stops.of("route"))
            yield from parameter(
                made.assembly.provenance, made.shop, part.sheet, nothing_folds(), verdict.stops, coarse=folds
            )
            return
    if met.stops:
        yield from _nearest_together(made, met.stops)


def _nearest_together(made: Assembled, stops: Findings) -> Iterator[Finding]:
    """Search a parameter where members stop each other; each try first checks what stopped the assembly before."""
    provenance = made.assembly.provenance
    assert provenance is not None
    clashes = [(p.a, p.b) for p in made.pairs if p.common > CLASH] if stops.of("assembly.clash") else []
    codes = {f.code for f in stops}
    first = [rule for rule in RULES if codes & {f.code for f in rule(made).stops}]

    def together(tried: Assembly) -> bool:
        new = assemble(tried, made.shop)
        names = set(tried.names)
        near = ((a, b) for a, b in clashes if {a, b} <= names)
        if not new.ok or any(solids.bodies.common_volume(new.shape(a), new.shape(b)) > CLASH for a, b in near):
            return True
        return any(rule(new).stops for rule in first) or not meetings(new).ok

    sheet = made.assembly.parts[0].sheet if made.assembly.parts else ""
    yield from parameter(provenance, made.shop, sheet, nothing_folds(), stops, together)
