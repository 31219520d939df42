"""Will it fold: the order of folds on the machines that the part is drawn to, each step proved free of collision."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from typing import Final

from tinbook.errors import UnknownName
from tinbook.finding import Finding, Findings, caution, fine, stop
from tinbook.making.demands import force_finding, short_legs
from tinbook.making.made import Made, need_made
from tinbook.memo import Memo
from tinbook.progress import Progress
from tinbook.route.assumed import OnAnyTools, bodies_of, ruled_out
from tinbook.route.foldstep import FoldStep, counted
from tinbook.route.planner import Planner
from tinbook.route.reasons import handling_findings
from tinbook.route.remedies import blocked_folds
from tinbook.route.search import SEEN, FoundOrder, any_order, search
from tinbook.route.stepping import steps_of
from tinbook.route.steps import Blocked, FoldPlan
from tinbook.route.stored_order import StoredHit, hits_of_order

QUICK: Final = 300
"""States that are opened where it only matters whether a part folds at all."""


PLAN: Memo[FoldPlan] = Memo("order of folds by machine")


def fold_sequence(
    made: Made,
    machine: str | None = None,
    *,
    order: Iterable[str | StoredHit] | None = None,
    effort: int | None = None,
    seconds: float | None = None,
    progress: Progress | None = None,
) -> FoldPlan:
    """Search for the order of folds that a craftsman would take among those in which nothing collides.

    Orders are compared rank by rank (`cost.RANKS`): steps that no straight way leads out of the machine, lifts and
    holds for two people (limits: the shop's `handling`), turn-overs, swinging of heavy sides, re-settings, steps that
    hold the smaller side, turns on the table, steps set by a mark or against a slope, tools in pieces. Up to six folds
    the answer is mostly proved the best, above that mostly the best that was found; `proven` says which.

    Every fold is made on the tool to which the blank is drawn; choosing another would change the blank.
    Every step of the answer was swept from the angle it starts at to the one it is formed to, springback
    included, against punch, die, ram and bed (clamp, table and beam of a folder) and against the part itself.

    Parameters
    ----------
    made : Made
        The part.
    machine : str, optional
        Key of the one machine that must make all folds.
    order : iterable of str or StoredHit, optional
        An order that is only to be proved: names of the folds, or the stored `hits` of a sequence.
    effort : int, optional
        States that each pass of the search may open (left out: 1000, and half of it to improve parts of more than
        six folds); the same part gives the same answer.
    seconds : float, optional
        A clock that cancels; a cancelled answer says so.
    progress : callable, optional
        Told a share of 0 to 1 and a word as the search goes on; what it raises ends the search.

    Returns
    -------
    Sequence
        What was searched to its end once is kept on `made` and answered again.
        Without steps when there is no order; then `blocked` says what fails and what would cure it,
        with changed parts that fold among its `proposals`.
    """
    need_made(made, "fold_sequence")
    if machine is not None and machine not in [m.key for m in made.shop.machines]:
        raise UnknownName("machine", machine, [m.key for m in made.shop.machines])
    if order is not None or effort is not None:
        return _sequence(made, machine, order, effort, seconds, progress)
    found = PLAN.known(made, machine)
    if found is None:
        found = _sequence(made, machine, None, None, seconds, progress)
        if not found.cancelled:  # another time there may be more of it
            PLAN.put(made, found, machine)
    return found


def cannot_fold(made: Made, effort: int = QUICK) -> bool:
    """Whether no order was found with little effort, and none may be there with tools that nobody drew.

    Parameters
    ----------
    made : Made
        The part.
    effort : int
        States that are opened.
    """
    planner = Planner(made)
    if Findings([*_without_setup(planner), *short_legs(made)]).stops:
        return True
    found = any_order(planner, effort=effort)
    return not found.moves and (not found.proven or ruled_out(planner, effort=effort))


def _sequence(
    made: Made,
    machine: str | None,
    order: Iterable[str | StoredHit] | None,
    effort: int | None,
    seconds: float | None,
    progress: Progress | None,
) -> FoldPlan:
    planner = Planner(made, given=() if order is None else hits_of_order(made, order))
    notes = [*_not_here(made, machine), *_without_setup(planner), *short_legs(made), *_not_set_so(planner)]
    stopped = [f for f in made.findings if f.severity == "stop"]
    notes += stopped
    # A part that crosses itself when it is finished does so at the end of every order: a few states say at which angle.
    crosses = bool(stopped)
    hopeless = made.flat is None or any(f.code != "part.crosses" for f in stopped)
    if hopeless or any(n.code in ("route.tool", "route.machine", "route.stored") for n in notes):
        return _order(planner, FoundOrder((), 0, bool(Findings(notes).stops), False, 0), (), (), notes)
    if crosses:
        effort = min(effort or SEEN, SEEN)
    found = search(planner, effort=effort, seconds=seconds, progress=progress)
    found = replace(found, proven=found.proven or (crosses and not found.cancelled))
    steps = steps_of(planner, found.moves)
    blocked: tuple[Blocked, ...] = ()
    if not steps and made.strips:
        doubted = (
            found.proven and not crosses and not ruled_out(planner, effort=effort, seconds=seconds, progress=progress)
        )
        if found.proven:
            blocked = tuple(_told(blocked_folds(planner, found.tried), progress))
        found = replace(found, proven=found.proven and not doubted)
        notes += [_why_none(found, bool(planner.given), doubted), *(_stopped(b, doubted) for b in blocked)]
    notes += dict.fromkeys(f for s in made.strips if steps and (f := force_finding(made, s)) is not None)
    notes += [*_of_steps(steps, found, bool(planner.given)), *_assumed(planner)]
    notes += handling_findings(planner, found.moves)
    return _order(planner, found, steps, blocked, notes)


def _told(found: Iterator[Blocked], progress: Progress | None) -> Iterator[Blocked]:
    for number, b in enumerate(found, 1):
        yield b
        if progress is not None:
            progress(1.0, f"cures of {number} blocked folds")


def _order(
    planner: Planner,
    found: FoundOrder,
    steps: tuple[FoldStep, ...],
    blocked: tuple[Blocked, ...],
    notes: Sequence[Finding],
) -> FoldPlan:
    return FoldPlan(
        made=planner.made,
        steps=steps,
        blocked=blocked,
        proven=found.proven,
        cancelled=found.cancelled,
        looked=found.looked,
        findings=Findings(notes),
        moves=found.moves,
        given=bool(planner.given),
        tried=found.tried,
        planner=planner,
    )


# --- findings --------------------------------------------------------------------------------------


def _not_here(made: Made, machine: str | None) -> Iterator[Finding]:
    for s in made.strips:
        if machine is None or not s.bend.tool or made.shop.tool(s.bend.tool).machine == machine:
            continue
        there = [
            t.key for t in made.shop.tools if t.machine == machine and t.takes(made.sheet.material, made.sheet.nominal)
        ]
        what = f"the blank is drawn to {s.bend.tool}, which is not on machine '{machine}'"
        remedy = (
            f"name one of its tools in the part ({', '.join(there)}): the blank changes with it"
            if there
            else f"machine '{machine}' has no tool for {made.sheet.key}"
        )
        yield stop("route.machine", f"fold {s.name!r}", what, remedy, source="own data")


def _without_setup(planner: Planner) -> Iterator[Finding]:
    loose: Planner | None = None
    for n, s in enumerate(planner.blank.strips):
        listed, why = planner.families(n, 1)
        if listed:
            continue
        loose = loose or OnAnyTools(planner.made, planner.extra, planner.given)
        guessed = bool(loose.families(n, 1)[0])
        said = caution if guessed else stop
        what = f"no typical punch forms it: {why}" if guessed else f"no setup of the machine forms it: {why}"
        remedy = (
            "ask for the punches of the machine and draw them in the shop file"
            if guessed
            else "another tool in the part, a sharper or finer punch in the shop, or a longer tool"
        )
        yield said("route.tool", f"fold {s.name!r}", what, remedy, source="common practice" if guessed else "own data")


def _not_set_so(planner: Planner) -> Iterator[Finding]:
    """Yield a finding for each stored hit whose machine, tool or punch the fold is not made with here."""
    for n, level, hit in planner.given:
        listed = [setup for family, _ in planner.families(n, level)[0] for setup in family]
        if hit is None or not listed or any(hit.made_by(setup, hit.at_back) for setup in listed):
            continue
        here = dict.fromkeys(_setting(s.machine, s.tool, s.punch) for s in listed)
        mine = _setting(hit.machine, hit.tool, hit.punch)
        other = mine if mine not in here else f"{mine} with pieces {hit.pieces} set '{hit.tooling}'"
        what = f"its order was stored for {other}; here it can be made on {', '.join(here)}"
        remedy = "search the order again, or restore the tools that it was stored for"
        yield stop("route.stored", f"fold {hit.fold!r}", what, remedy, source="own data")


def _setting(machine: str, tool: str, punch: str) -> str:
    return f"machine '{machine}'" + (f", tool {tool}" if tool else "") + (f", punch {punch}" if punch else "")


def _why_none(found: FoundOrder, given: bool, doubted: bool) -> Finding:
    if doubted:
        what = "every order of folds collides, but only with assumed tools; with other tools it may fold"
        remedy = "ask whether the machine has the tools that the blocked folds need"
    elif found.cancelled:
        what, remedy = "the clock ended the search before an order was found", "give it more time"
    elif not found.proven:
        what, remedy = f"no order was found in the {found.looked} states searched", "raise effort"
    elif given:
        what, remedy = "the given order of folds collides", "leave the order to the search"
    else:
        what, remedy = "every order of folds collides", "see the blocked folds and their remedies"
    said = caution if doubted else stop
    return said("route.order", "order of folds", what, remedy, source="common practice" if doubted else "geometry")


def _stopped(b: Blocked, doubted: bool) -> Finding:
    said, source = (caution, "common practice") if doubted else (stop, "own data")
    what = f"{b.body} hits the {b.against}, first at {b.angle:.0f} degrees turned, on {b.tool}"
    return said("route.blocked", f"fold {b.fold!r}", what, "; or ".join(b.remedies), b.depth, 0.0, source=source)


def _assumed(planner: Planner) -> Iterator[Finding]:
    for machine, (assumed, drawn) in bodies_of(planner).items():
        if assumed:
            has = f"; drawn: {', '.join(drawn)}" if drawn else ""
            what = f"typical tools assumed, as the shop file does not draw them: {', '.join(assumed)}{has}"
            remedy = "ask for their sections, or send the supplier the order to check"
            yield caution("route.assumed", f"machine '{machine}'", what, remedy)


def _of_steps(steps: tuple[FoldStep, ...], found: FoundOrder, given: bool) -> Iterator[Finding]:
    if steps:
        how = "in the given order" if given else "no order is better"
        if found.proven or given:
            yield fine("route.order", "order of folds", f"{counted(steps)}; {how}", source="geometry")
        else:
            what = f"{counted(steps)}; the search was ended, another order may be better"
            yield caution("route.order", "order of folds", what, "raise effort or give it more time", source="geometry")
    for s, move in zip(steps, found.moves, strict=True):
        where = f"fold {s.fold!r}"
        if not s.out:
            what = "after this bend the part cannot be lifted or slid out of the tooling" + (
                "; every order has at least as many such steps" if found.proven and not given else ""
            )
            remedy = "try on a paper model how it is turned out of the tools before any metal is folded"
            yield caution("route.takeout", where, what, remedy, source="geometry")
        if s.no_stop and move.setup.stroke.misses_gauge:
            what = f"no stop at the back gauge: {s.no_stop}"
            yield caution("route.mark", where, what, "mark the line and set it by eye")
        for note in s.notes:
            if note.startswith(("the tool stops", "no springback", "no force")):
                yield caution("route.note", where, note.removesuffix(", fold a strip first"), "fold a strip first")
