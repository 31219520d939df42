"""Every rule about a part, once, tagged live or searched. No rule ever raises."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import TYPE_CHECKING, Final

import tinbook.route as route  # loaded when a fold is searched: a slider needs no planner
from tinbook.finding import Finding, Findings
from tinbook.memo import Memo, remembered
from tinbook.rules import beads, blank, folds, forms, holes, papers
from tinbook.rules.parameter import parameter
from tinbook.rules.rule import Rule
from tinbook.values import dataclass

if TYPE_CHECKING:
    from tinbook.making.made import Made
    from tinbook.progress import Progress
    from tinbook.route.steps import FoldPlan

TRIES: Final = 60
"""Searches of an order of folds when a parameter is looked for that helps."""


@dataclass(slots=True, kw_only=True)
class Search:
    """What the searched rules share during one check.

    Parameters
    ----------
    plan : fold sequence, optional
        An order of folds that is known already; else the one that is found.
    seconds : float, optional
        A clock that cancels the search for it.
    progress : callable, optional
        Called as the searches go on; what it raises ends them.
    """

    plan: FoldPlan | None = None
    seconds: float | None = None
    progress: Progress | None = None


NEAREST: Memo[tuple[Finding, ...]] = Memo("nearest parameter that can be made")


def fold_order(made: Made, found: Findings, how: Search) -> Iterator[Finding]:
    """Search an order in which the folds can be made without a collision; not for a part that is stopped anyway."""
    if how.plan is None:
        if not made.strips or found.stops:
            return
        how.plan = route.fold_order.fold_sequence(made, seconds=how.seconds, progress=how.progress)
    plan = how.plan
    given_up = not plan.steps and not plan.proven  # no order was found, and none was ruled out
    for f in plan.findings:
        if f.code == "route.order" and given_up:
            yield replace(f, severity="caution")
        elif f.code == "route.order" or f.severity != "fine":  # the live rules say what is fine about single folds
            yield f


def nearest_parameter(made: Made, found: Findings, how: Search) -> Iterator[Finding]:
    """Search the smallest change of a family's parameters with which a part that is stopped can be made."""
    if made.part.provenance is None or not found.stops or found.of("check.failed") or made.part.base.findings.stops:
        return  # no parameter mends a measurement
    by_rules = live(made).stops
    provenance = made.part.provenance

    def search() -> tuple[Finding, ...]:
        return tuple(
            parameter(
                provenance,
                made.shop,
                made.part.sheet,
                (lambda tried: not live(tried).ok) if by_rules else nothing_folds(),
                by_rules or found.stops,
                coarse=not by_rules,
                progress=how.progress,
            )
        )

    yield from NEAREST.of(made, search)


RULES: Final[tuple[Rule, ...]] = (
    *map(Rule, (folds.legs, folds.radii, folds.holes_near_folds, folds.hems, folds.force)),
    *map(Rule, (forms.tools, forms.distances, beads.throat, beads.draw_allowance)),
    *map(Rule, (holes.smallest, holes.reliefs, holes.edges_and_pitches, holes.threads)),
    *map(Rule, (blank.outline, blank.drawn_thickness, blank.measured_thickness, blank.size, blank.marks)),
    *map(Rule, (papers.revision, papers.cautions, papers.plug_welds, blank.formed)),
    Rule(fold_order, "searched"),
    Rule(nearest_parameter, "searched"),
)
"""Live rules take a made part; searched ones also what the rules before them found, and a `Search`."""


@remembered
def live(made: Made) -> Findings:
    """Return what `make` and the live rules find; worked out once."""
    rules = RULES if made.flat is not None else ()
    return Findings((*made.findings, *(f for r in rules if r.kind == "live" for f in r(made))))


def searched(made: Made, found: Findings, how: Search) -> Findings:
    """Return what the searched rules add to what was found before."""
    new: list[Finding] = []
    for rule in RULES:
        if rule.kind == "searched":
            new += rule(made, Findings((*found, *new)), how)
    return Findings(new)


def together(found: Findings, new: Findings) -> Findings:
    """Return live and searched findings, each once; within a severity the parameter to change comes first."""
    return Findings(dict.fromkeys((*new.of("parameter"), *found, *new)))


def nothing_folds() -> Callable[[Made], bool]:
    """Return a test whether a rule or the folding stops a tried part; after `TRIES` searches it says yes to every part."""
    left = TRIES

    def stopped(tried: Made) -> bool:
        nonlocal left
        if not live(tried).ok or left <= 0:
            return True
        left -= 1
        return bool(tried.strips) and route.fold_order.cannot_fold(tried)

    return stopped
