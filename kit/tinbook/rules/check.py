"""`check`: whether a part can be cut, beaded, folded and fixed on this shop's tools, and an assembly be built."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from functools import singledispatch
from typing import TYPE_CHECKING, Any, get_args

from tinbook.errors import BadValue
from tinbook.finding import Finding, Findings, caution, stop
from tinbook.making.assembled import MADE_OR_ASSEMBLED, Assembled
from tinbook.making.made import Made
from tinbook.memo import remembered
from tinbook.route.steps import of_its_own
from tinbook.rules import blank
from tinbook.rules.assembly import meetings, nearest_parameter
from tinbook.rules.papers import APPROVED
from tinbook.rules.registry import Search, live, searched, together
from tinbook.rules.rule import Kind, Rule
from tinbook.rules.verdict import Verdict

if TYPE_CHECKING:
    from tinbook.part.part import Part
    from tinbook.route.steps import FoldPlan
    from tinbook.shop.shop import Shop


@singledispatch
def check(
    made: Made | Assembled,
    shop: Shop | None = None,
    *,
    opening: Any = None,
    kind: Kind | None = None,
    plan: FoldPlan | None = None,
) -> Verdict:
    """Check a made part or assembly against its shop: whether it can be cut, beaded, folded and fixed.

    Parameters
    ----------
    made : Made or Assembled
        From `make` or `assemble`. An assembly is checked as a whole: each part, then its members against each other;
        `opening`, `kind` and `plan` belong to a single part.
    shop : Shop, optional
        Must be the shop that it was made on; given only for the reader's sake.
    opening : measured outline, optional
        Adds whether a flat pan can follow the place that was measured.
    kind : {"live", "searched"}, optional
        Only rules of one kind. Live ones are quick enough for a moving slider. Searched ones take mostly under a second,
        at times some: an order in which the folds can be made, and for a part of a family that is stopped the nearest
        value of a parameter with which it can be made.
    plan : fold sequence, optional
        An order of folds that was worked out before, judged instead of a search.

    Returns
    -------
    Verdict
        Worst first, those of `make` included. A rule that crashes is itself a stop. Where something else stops the part,
        no order of folds is searched. What was worked out once stays with `made`, for the writers too. An assembly's
        findings name part and members; beyond those of its parts they are common volume, weld gaps and mating holes,
        welds that suit the metal, room for torch and spanner, unlike metals in touch, hollows without vent or drain.
        Its order of assembly is not searched, so it is never "proved".

    Raises
    ------
    BadValue
        Neither a made part nor an assembly, no such kind, another part's plan, or what belongs to a single part.
    """
    raise BadValue("check", type(made).__name__, MADE_OR_ASSEMBLED)


@check.register(Made)
def _(
    made: Made,
    shop: Shop | None = None,
    *,
    opening: Any = None,
    kind: Kind | None = None,
    plan: FoldPlan | None = None,
) -> Verdict:
    if kind not in (None, *get_args(Kind)):
        raise BadValue("kind", kind, "'live', 'searched', or left out for every rule")
    if plan is not None:
        of_its_own(plan, made)
    found = Findings((*_other_shop(made, shop), *_follows(made, opening), *live(made)))
    if kind == "live":
        return Verdict(found)
    how = Search(plan=plan)
    new = searched(made, found, how)
    plan = how.plan
    every = new if kind == "searched" else together(found, new)
    return Verdict(every, plan=plan, answered=kind is None and (not made.strips or (plan is not None and plan.ok)))


@check.register(Assembled)
def _(made: Assembled, shop: Shop | None = None, **of_a_part: Any) -> Verdict:
    for name, value in of_a_part.items():
        if value is not None:
            raise BadValue(name, value, "left out: an assembly is checked as a whole")
    return Verdict((*_other_shop(made, shop), *_of_assembly(made)))


@remembered
def _of_assembly(made: Assembled) -> Findings:
    parts = [(part, check(own)) for part, own in made.made]
    met = meetings(made) if made.ok else Findings()
    said = [f for part, verdict in parts for f in _with_number(made, part, verdict)]
    number, own = made.assembly.number, [c.rstrip(".") for c in made.assembly.cautions]
    cautions = [caution("assembly.caution", number, c, APPROVED) for c in own]
    said = [f for f in said if f.code != "part.caution" or f.what not in own]  # what holds for the whole, once
    nearest = Rule(nearest_parameter, "searched")(made, parts, met)
    return Findings((*nearest, *said, *met, *cautions))


def _with_number(made: Assembled, part: Part, verdict: Verdict) -> Iterator[Finding]:
    """Yield a part's findings with its number; stops also name the members they concern."""
    whose = " and ".join(repr(m.name) for m in made.assembly.members if m.thing == part)
    for f in verdict:
        yield replace(f, where=f"{part.number}: {f.where}" + (f" (member {whose})" if f.severity == "stop" else ""))


def _other_shop(made: Made | Assembled, shop: Shop | None) -> Iterable[Finding]:
    """Find whether a call names another shop than the one that it was made on."""
    if shop is not None and shop != made.shop:
        what = f"the part was made on the tools of {made.shop.name!r}, not of the shop given here"
        yield stop("check.shop", "check", what, "make it again on this shop", source="geometry")


def _follows(made: Made, opening: Any) -> Iterable[Finding]:
    """Find whether a flat pan can follow the measured opening that a call names."""
    fit = getattr(opening, "fit", None)
    if fit is not None and made.flat is not None:
        yield from Rule(blank.follows)(made, fit)
