"""Will it fold: the order of folds on the machines that the part is drawn to, each step proved free of collision."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from typing import Final

from tinbook.errors import UnknownName
from tinbook.finding import Finding, worst_first
from tinbook.make.made import Made, MadePanel
from tinbook.make.tools import shortest_leg
from tinbook.plane import Loop, clip
from tinbook.route.collide import Clash, Sweep
from tinbook.route.given import Hit, asked_hits
from tinbook.route.planner import Move, Planner
from tinbook.route.pose import Blank, Levels
from tinbook.route.search import Found, search
from tinbook.route.setups import Setup
from tinbook.route.steps import Blocked, Step, steps_of
from tinbook.route.steps import Sequence as Order
from tinbook.shop.sections import GENERIC_SEGMENTS, Punch, Section, generic_punch
from tinbook.shop.tooling import AirDie, HandFolder, VBlock

MOST: Final = 4
"""Blocked folds that are explained."""
NEAREST: Final = 8
"""Tries of each that are measured."""
SHORTER: Final = 0.05
"""mm: how closely the leg that would pass is worked out."""


def fold_sequence(
    made: Made,
    machine: str | None = None,
    *,
    order: Iterable[str | Hit] | None = None,
    effort: int | None = None,
    seconds: float | None = None,
) -> Order:
    """Search for the order of folds with the fewest turn-overs and re-settings in which nothing collides.

    Every fold is made on the tool to which the blank is drawn; choosing another would change the blank.
    Every step of the answer was swept from the angle it starts at to the one it is formed to, springback
    included, against punch, die, ram and bed (clamp, table and beam of a folder) and against the part itself.

    Parameters
    ----------
    made : Made
        The part.
    machine : str, optional
        Key of the one machine that must make all folds.
    order : iterable of str or Hit, optional
        An order that is only to be proved: names of the folds, or the stored `hits` of a sequence.
    effort : int, optional
        States that each pass of the search may open (left out: 1000, and 250 to improve parts of more than six
        folds); the same part gives the same answer.
    seconds : float, optional
        A clock that cancels; a cancelled answer says so.

    Returns
    -------
    Sequence
        Without steps when there is no order; then `blocked` says what fails and what would cure it.
    """
    if machine is not None and machine not in [m.key for m in made.shop.machines]:
        raise UnknownName("machine", machine, [m.key for m in made.shop.machines])
    planner = Planner(made, asked=() if order is None else asked_hits(made, order))
    notes = [*_not_here(made, machine), *_without_setup(planner), *_short_legs(made)]
    if not made.ok or any(n.code in ("route.tool", "route.machine") for n in notes):
        notes += [f for f in made.findings if f.severity == "stop"]
        return _order(planner, Found((), 0, True, False, 0), (), (), notes)
    found = search(planner, effort=effort, seconds=seconds)
    steps = steps_of(planner, found.moves)
    blocked: tuple[Blocked, ...] = ()
    if not steps and made.strips:
        if found.proven:
            blocked = tuple(_blocked(planner))
        notes += [_why_none(found, bool(planner.asked)), *(_stopped(b) for b in blocked)]
    notes += _of_steps(steps, found, bool(planner.asked))
    return _order(planner, found, steps, blocked, notes)


def _order(
    planner: Planner, found: Found, steps: tuple[Step, ...], blocked: tuple[Blocked, ...], notes: Sequence[Finding]
) -> Order:
    return Order(
        made=planner.made,
        steps=steps,
        blocked=blocked,
        proven=found.proven,
        cancelled=found.cancelled,
        looked=found.looked,
        findings=worst_first(notes),
        moves=found.moves,
        given=bool(planner.asked),
        _planner=planner,
    )


# --- findings --------------------------------------------------------------------------------------


def _not_here(made: Made, machine: str | None) -> Iterator[Finding]:
    for s in made.strips:
        if machine is None or not s.bend.tool or made.shop.tool(s.bend.tool).machine == machine:
            continue
        there = [
            t.key for t in made.shop.tools if t.machine == machine and t.takes(made.sheet.material, made.sheet.nominal)
        ]
        yield Finding(
            code="route.machine",
            severity="stop",
            where=f"fold {s.name!r}",
            what=f"the blank is drawn to {s.bend.tool}, which is not on machine '{machine}'",
            source="own data",
            remedy=f"name one of its tools in the part ({', '.join(there)}): the blank changes with it"
            if there
            else f"machine '{machine}' has no tool for {made.sheet.key}",
        )


def _without_setup(planner: Planner) -> Iterator[Finding]:
    for n, s in enumerate(planner.blank.strips):
        listed, why = planner.families(n, 1)
        if not listed:
            yield Finding(
                code="route.tool",
                severity="stop",
                where=f"fold {s.name!r}",
                what=f"nothing in the machine forms it: {why}",
                source="own data",
                remedy="another tool in the part, or a sharper or finer punch in the shop",
            )


def _short_legs(made: Made) -> Iterator[Finding]:
    hems = {f.name for f in made.part.folds if f.hem is not None}
    for s in made.strips:
        if not s.bend.tool or s.name in hems:
            continue
        least = shortest_leg(made.shop.tool(s.bend.tool), made.sheet, s.angle, s.radius)
        if min(s.leg) < least - 1e-6:
            yield Finding(
                code="route.leg",
                severity="stop",
                where=f"fold {s.name!r}",
                what=f"the leg slips off {s.bend.tool} before the bend is made",
                value=min(s.leg),
                limit=least,
                unit="mm",
                source="air-bend chart",
                remedy="a longer leg cut back afterwards, or a smaller die",
            )


def _why_none(found: Found, given: bool) -> Finding:
    if found.cancelled:
        what, remedy = "the clock ended the search before an order was found", "give it more time"
    elif not found.proven:
        what, remedy = f"no order among the {found.looked} states that were opened", "raise effort"
    elif given:
        what, remedy = "in the order that was given something hits", "leave the order to the search"
    else:
        what, remedy = "in every order of folds something hits", "see which fold is blocked and what would cure it"
    return Finding(code="route.order", severity="stop", where="order of folds", what=what, remedy=remedy)


def _stopped(b: Blocked) -> Finding:
    return Finding(
        code="route.blocked",
        severity="stop",
        where=f"fold {b.fold!r}",
        what=f"{b.body} hits the {b.against}, first at {b.angle:.0f} degrees turned, on {b.tool}",
        value=b.depth,
        limit=0.0,
        unit="mm",
        source="own data",
        remedy="; or ".join(b.cures),
    )


def _of_steps(steps: tuple[Step, ...], found: Found, given: bool) -> Iterator[Finding]:
    if steps:
        turns, sets = sum(s.turn_over for s in steps), sum(s.reset for s in steps)
        best = "; no order has fewer" if found.proven else "; the search was ended, another order may have fewer"
        yield Finding(
            code="route.order",
            severity="fine" if found.proven or given else "mind",
            where="order of folds",
            what=f"{len(steps)} steps, {turns} turn-overs, {sets} re-settings"
            + ("; in the order that was given" if given else best),
            remedy="" if found.proven or given else "raise effort or give it more time",
        )
    for name in sorted({s.machine for s in steps if s.assumed}):
        yield Finding(
            code="route.assumed",
            severity="mind",
            where=f"machine '{name}'",
            what="its tools are not drawn in the shop file; usual sections were assumed",
            remedy="ask for the sections of punch, die and beams, or send the supplier the order to check",
        )
    for s in steps:
        where = f"fold {s.fold!r}"
        if s.force is not None and s.rating is not None:
            high = s.force > s.rating
            yield Finding(
                code="route.force",
                severity="stop" if high else "fine",
                where=where,
                what="the machine has not the force" if high else "the machine has the force",
                value=s.force / 1e3,
                limit=s.rating / 1e3,
                unit="kN",
                source="air-bend chart",
                remedy="a wider die, a shorter fold or a stronger machine" if high else "",
            )
        if s.process == "air" and not s.gauged:
            yield Finding(
                code="route.mark",
                severity="mind",
                where=where,
                what="no straight edge lies against the back gauge within its range",
                value=s.line_now,
                unit="mm",
                remedy="mark the line and set it by eye",
            )
        for note in s.notes:
            if note.startswith(("the tool stops", "no springback", "no force")):
                yield Finding(code="route.note", severity="mind", where=where, what=note, remedy="fold a strip first")


# --- when there is no order ------------------------------------------------------------------------


def _blocked(planner: Planner) -> Iterator[Blocked]:
    """Name the folds that no reached state could form, or else those missing where the search came furthest."""
    if not planner.clashes:
        return  # nothing could be tried: the stored tools are no longer there
    never = sorted(k for k in planner.clashes if k not in planner.done)
    if not never:
        # Every fold can be made at some time: those count that fail where most are done.
        most = max(sum(levels) for tries in planner.clashes.values() for _, _, levels, _ in tries.values())
        never = [
            key
            for key, tries in sorted(planner.clashes.items())
            if any(sum(levels) == most for _, _, levels, _ in tries.values())
        ]
    for key in never[:MOST]:
        measured = [
            (sweep.measured(clash, setup, levels) if math.isnan(clash.depth) else clash, setup, levels)
            for clash, setup, levels, sweep in _closest(planner, key)
        ]
        clash, setup, levels = min(measured, key=lambda m: m[0].depth)
        strip = planner.blank.strips[key[0]]
        formed = tuple(s.name for s, level in zip(planner.blank.strips, levels, strict=True) if level)
        way = f"{setup.tool or setup.process}{', ' + setup.punch if setup.punch else ''}"
        yield Blocked(
            fold=strip.name,
            body=clash.body if clash.kind == "panel" else f"{clash.kind} {clash.body}",
            against=clash.against,
            depth=clash.depth,
            angle=clash.angle,
            formed=formed,
            tool=f"{way}, {strip.child if setup.way else strip.parent} at the back",
            cures=tuple(_cures(planner, key[0], clash)),
            worst=clash.angle if math.isnan(clash.worst) else clash.worst,
            trial=Move(*key, setup, planner.gauge(key[0], setup, levels), levels),
        )


def _closest(planner: Planner, key: tuple[int, int]) -> list[tuple[Clash, Setup, Levels, Sweep]]:
    """Return the tries of a hit that came nearest to its end before something hit."""
    tries = planner.clashes.get(key, {}).values()
    return sorted(tries, key=lambda t: -t[0].angle)[:NEAREST]


def _cures(planner: Planner, fold: int, clash: Clash) -> Iterator[str]:
    short = _shorter(planner, fold, clash)
    if short is not None:
        yield f"leg {clash.body!r} at most {short:.1f} mm long (tried)"
    goose = _gooseneck(planner, fold)
    if goose:
        yield goose
    if clash.against == "frame":
        yield "a machine with a deeper throat"
    yield f"split the part at fold {planner.blank.strips[fold].name!r} and weld"


def _leaf(made: Made, panel: str) -> bool:
    return panel != "base" and all(s.parent != panel for s in made.strips)


def _shorter(planner: Planner, fold: int, clash: Clash) -> float | None:
    """Longest length of the leg that hits with which the part does fold; None if shortening does not help.

    Each setup in which this leg was all that hit is asked for the longest leg that clears; the longest of
    those must then pass a whole search.
    """
    made = planner.made
    if clash.kind != "panel" or not _leaf(made, clash.body):
        return None
    strip = next(s for s in made.strips if s.name == clash.body)
    if abs(strip.leg[0] - strip.leg[1]) > 1e-6:
        return None
    long = strip.leg[0]
    if not strip.bend.tool:
        return None
    tool = made.shop.tool(strip.bend.tool)
    least = max(shortest_leg(tool, made.sheet, strip.angle, strip.radius), strip.setback + 1.0)
    tries = [
        (setup, levels, sweep)
        for c, setup, levels, sweep in _closest(planner, (fold, 1))
        if (c.body, c.kind) == (clash.body, clash.kind)
    ]
    best = 0.0
    for setup, levels, sweep in tries:

        def clears(leg: float, setup: Setup = setup, levels: Levels = levels, sweep: Sweep = sweep) -> bool:
            blank = Blank(_cut_back(made, clash.body, long - leg))
            return Sweep(blank, fold, sweep.motion).first_clash(setup, levels) is None

        low, high = max(least, best), long
        if low >= high or not clears(low):
            continue
        while high - low > SHORTER:
            middle = (low + high) / 2
            low, high = (middle, high) if clears(middle) else (low, middle)
        best = low
    best = math.floor(best * 10.0) / 10.0
    if (
        best < least
        or not search(
            Planner(_cut_back(made, clash.body, long - best), planner.extra, planner.asked), effort=2_000
        ).moves
    ):
        return None
    return best


def _cut_back(made: Made, panel: str, by: float) -> Made:
    """Return the part with a leg's free end cut back; only its metal matters here, the blank stays."""

    def shorter(p: MadePanel) -> MadePanel:
        top = p.boundary.box[3] - by
        kept: list[Loop] = clip(p.boundary, (0.0, top), (-1.0, 0.0), "end")
        return replace(p, boundary=max(kept, key=lambda loop: loop.area)) if kept else p

    panels = tuple(shorter(p) if p.name == panel else p for p in made.panels)
    return replace(made, panels=panels, _cache={})


def _gooseneck(planner: Planner, fold: int) -> str:
    """Try a usual gooseneck where the machine has none."""
    key = planner.blank.strips[fold].bend.tool
    tool = planner.made.shop.tool(key) if key else None
    if tool is None or isinstance(tool, HandFolder) or planner.extra:
        return ""
    extra = _extra_gooseneck(tool)
    listed = {s.punch for family, _ in planner.families(fold, 1)[0] for s in family}
    if any("gooseneck" in p for p in listed):
        return ""
    if search(Planner(planner.made, (extra,), planner.asked), effort=2_000).moves:
        return "a gooseneck punch, relieved at least as far as the usual one (tried)"
    return ""


def _extra_gooseneck(tool: AirDie | VBlock) -> tuple[Punch, Section]:
    angle = 80.0 if isinstance(tool, AirDie) else min(tool.block_angle - 2.0, 84.0)
    section = generic_punch("gooseneck", angle)
    punch = Punch(
        key=section.key,
        machine=tool.machine,
        section=section.key,
        nose=tool.punch_nose,
        angle=angle,
        segments=GENERIC_SEGMENTS,
        source="common practice",
    )
    return punch, section


# --- beads ----------------------------------------------------------------------------------------


def beads_after_returns_foul(made: Made) -> tuple[Finding, ...]:
    """Return a finding for every bead whose rolls would hit a return of its panel once that is up.

    A standing return of height h is met by rolls of radius R within sqrt(R² - (R - h)²) of the bead's line
    (R from h = R up), and above R - d/2 by the shaft wherever it stands on the shaft's side. So: beads first.
    """
    roller = made.shop.roller
    if roller is None:
        return ()
    out = []
    radius = roller.roll_dia / 2
    for panel in made.panels:
        for bead in panel.beads:
            points = [e.at(k / 8) for e in bead.path for k in range(9)]
            for e in panel.boundary.edges:
                if not e.name.startswith("fold:"):
                    continue
                strip = next(s for s in made.strips if s.name == e.name[5:])
                if strip.parent != panel.name:
                    continue
                height = max(strip.leg) * math.sin(math.radians(min(strip.angle, 90.0)))
                low = max(radius - height, 0.0)
                reach = math.sqrt(radius**2 - low**2) + bead.width / 2
                near = min(_to_line(p, e.start, e.end) for p in points)
                shaft = height > radius - roller.shaft_dia / 2
                if near >= reach and not (shaft and near < roller.throat):
                    continue
                out.append(
                    Finding(
                        code="route.bead_after_return",
                        severity="mind",
                        where=f"bead {bead.name!r}",
                        what=f"with return {strip.name!r} up the {'rolls' if near < reach else 'shaft of the rolls'} would hit it",
                        value=near,
                        limit=reach if near < reach else roller.throat,
                        unit="mm",
                        remedy="roll the beads before this fold",
                    )
                )
    return tuple(out)


def _to_line(p: tuple[float, float], a: tuple[float, float], b: tuple[float, float]) -> float:
    dx, dy = b[0] - a[0], b[1] - a[1]
    n = dx * dx + dy * dy
    s = 0.0 if n == 0 else min(max(((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / n, 0.0), 1.0)
    return math.dist(p, (a[0] + s * dx, a[1] + s * dy))
