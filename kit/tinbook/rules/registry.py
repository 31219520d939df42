"""`check`: can the part be cut, beaded, folded and fixed on this shop's tools? No rule ever raises."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, Any, Literal, get_args

from tinbook.errors import BadValue
from tinbook.finding import Finding, stops, worst_first
from tinbook.making.made import Made, need_made
from tinbook.rules import beads, blank, folds, forms, holes, papers, threads
from tinbook.rules.parameter import parameter
from tinbook.rules.table import Findings

if TYPE_CHECKING:
    from tinbook.shop.shop import Shop

Kind = Literal["live", "exact"]

RULES: tuple[tuple[Callable[[Made], Iterator[Finding]], Kind], ...] = (
    (folds.legs, "live"),
    (folds.radii, "live"),
    (folds.holes_near_folds, "live"),
    (folds.hems, "live"),
    (folds.force, "live"),
    (forms.tools, "live"),
    (forms.distances, "live"),
    (beads.throat, "live"),
    (beads.draw_allowance, "live"),
    (holes.smallest, "live"),
    (holes.reliefs, "live"),
    (holes.edges_and_pitches, "live"),
    (threads.threads, "live"),
    (blank.size, "live"),
    (blank.marks, "live"),
    (papers.revision, "live"),
    (papers.plug_welds, "live"),
    (blank.formed, "live"),
)
"""Every rule once; a live one is quick enough to run while a slider moves, an exact one waits."""


def check(made: Made, shop: Shop | None = None, *, opening: Any = None, kind: Kind | None = None) -> Findings:
    """Check a made part against its shop.

    Parameters
    ----------
    made : Made
        From `make`.
    shop : Shop, optional
        Must be the shop that it was made on; given only for the reader's sake.
    opening : measured outline, optional
        Adds whether a flat pan can follow the place that was measured.
    kind : {"live", "exact"}, optional
        Only rules of one kind.

    Returns
    -------
    Findings
        Worst first, those of `make` included. A rule that fails is itself a stop.
        Where something stops a part of a family, one more names the parameter to turn and its nearest good value.

    Raises
    ------
    BadValue
        Something else than a made part, or no such kind.
    """
    need_made(made, "check")
    if kind not in (None, *get_args(Kind)):
        raise BadValue("kind", kind, "'live', 'exact', or left out for every rule")
    found = list(_kept(made, kind))
    if shop is not None and shop != made.shop:
        found.append(
            Finding(
                code="check.shop",
                severity="stop",
                where="check",
                what=f"the part was made on the tools of {made.shop.name!r}, not of the shop given here",
                source="geometry",
                remedy="make it again on this shop",
            )
        )
    if made.flat is None:
        return Findings(worst_first(found))
    fit = getattr(opening, "fit", None)
    if fit is not None:
        found.extend(blank.follows(made, float(fit.out_of_flat)))
    return Findings(worst_first(found))


def _kept(made: Made, kind: Kind | None) -> tuple[Finding, ...]:
    """Return what the rules say, and which parameter to turn where they stop the part; worked out once."""
    key = f"rules {kind or 'all'}"
    if key not in made._cache:
        found = _found(made, kind)
        asked, stopped = made.part.asked, stops(found)
        if asked is not None and stopped and kind != "live":  # a search is nothing for a moving slider
            found[:0] = parameter(asked, made.shop, made.part.sheet, lambda t: bool(stops(_found(t, kind))), stopped)
        made._cache[key] = tuple(found)
    kept: tuple[Finding, ...] = made._cache[key]
    return kept


def _found(made: Made, kind: Kind | None) -> list[Finding]:
    """Return what `make` and the rules say."""
    found = list(made.findings)
    if made.flat is not None:
        for rule, its_kind in RULES:
            if kind in (None, its_kind):
                found.extend(_run(rule, made))
    return found


def _run(rule: Callable[[Made], Iterator[Finding]], made: Made) -> list[Finding]:
    try:
        return list(rule(made))
    except Exception as wrong:  # noqa: BLE001 -- one rule that fails must not hide the others
        return [failed(f"{rule.__module__.rpartition('.')[2]}.{rule.__name__}", wrong)]


def failed(rule: str, wrong: Exception) -> Finding:
    """Return the finding that a rule could not be worked out."""
    return Finding(
        code="check.failed",
        severity="stop",  # a question without an answer lets nothing pass
        where=rule,
        what=f"this rule could not be worked out ({wrong})",
        source="geometry",
        remedy="check it by hand, and tell the authors; nobody knows whether the part can be made",
    )
