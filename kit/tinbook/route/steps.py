"""One line of the shop sheet per hit: how the part lies, what it is set to, what is formed, what to measure."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from html import escape
from typing import Any

from tinbook.calc.force import air_bend_force
from tinbook.errors import BadValue, OutOfRange
from tinbook.finding import Finding, stops
from tinbook.flatpattern import Direction, both_ways
from tinbook.make.made import Made, MadeStrip
from tinbook.route.given import Hit
from tinbook.route.planner import Move, Planner, forming
from tinbook.route.pose import Levels, partly
from tinbook.route.setups import BY_HAND, PRESSED, Setup
from tinbook.shop.tooling import AirDie, VBlock

BOTTOMING: float = 4.0
"""How many times the force of an air bend a V block needs (common practice)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One hit.

    Parameters
    ----------
    number : int
        From 1.
    fold, action : str
        Name of the fold; "fold", "start the hem", "press flat", "close over a bar" or "curl" (by hand, over a bar).
    machine, who, tool, process, punch : str
        On what; punch "" in a folder; machine "by hand" and the bar as tool for a curl.
    reversed_punch : bool
        Whether the punch is set the other way round.
    spread : str
        "whole", "punch in pieces", "all in pieces", "fingers", "flush left", "flush right".
    pieces : tuple of float
        Punch pieces or fingers to put together, mm.
    direction : {"up", "down"}
        Of the fold, seen from the sheet's up side.
    face_up : {"up", "down"}
        Which face of the sheet looks upward in the machine.
    at_back : str
        Panel that lies at the back gauge, or is clamped.
    turn_over, turn_round, reset : bool
        What has to be done before: the part over, the part round on the table, other tools or stops.
    gauged : str
        What lies against the gauge, "" when the part is set to its mark.
    line_now, line_blank : float
        From the gauged edge (the farthest point at the back) to the fold line, mm: in the part's state at this
        step, and in the blank.
    angle, angle_formed : float
        Degrees turned that shall stay, and to set so that they stay.
    force, rating : float or None
        N; None where no formula covers it or the machine has no stated force.
    length : float
        Length of the bend, mm.
    check : str
        What to check with a rule.
    notes : tuple of str
        What to mind.
    assumed : bool
        Whether a generic tool section stood in for an unknown one.
    before : tuple of (str, float)
        Degrees of every fold as the step begins.
    """

    number: int
    fold: str
    action: str
    machine: str
    who: str
    tool: str
    process: str
    punch: str
    reversed_punch: bool
    spread: str
    pieces: tuple[float, ...]
    direction: Direction
    face_up: Direction
    at_back: str
    turn_over: bool
    turn_round: bool
    reset: bool
    gauged: str
    line_now: float
    line_blank: float
    angle: float
    angle_formed: float
    force: float | None
    rating: float | None
    length: float
    check: str
    notes: tuple[str, ...]
    assumed: bool
    before: tuple[tuple[str, float], ...]

    @property
    def included(self) -> float:
        """Included angle to set, degrees; past half a turn (a curl) there is none that one could measure."""
        return 180.0 - self.angle_formed


@dataclass(frozen=True, slots=True, kw_only=True)
class Blocked:
    """Why a fold cannot be made.

    Parameters
    ----------
    fold : str
        The fold that fails in every order that was reached.
    body, against : str
        Which metal hits what.
    depth : float
        How far they overlap at worst in the best case that was found, mm.
    angle : float
        Degrees turned when they meet.
    formed : tuple of str
        Folds that were formed by then.
    tool : str
        Tool, punch and way in that case.
    cures : tuple of str
        What would help, each tried where it says so.
    worst : float
        Degrees turned when they overlap most.
    trial : Move
        The hit that was tried, for its picture.
    """

    fold: str
    body: str
    against: str
    depth: float
    angle: float
    formed: tuple[str, ...]
    tool: str
    cures: tuple[str, ...]
    worst: float
    trial: Move

    def __str__(self) -> str:
        after = f" after {', '.join(self.formed)}" if self.formed else ""
        hits = f"{self.body} hits the {self.against} by {self.depth:.1f} mm, first at {self.angle:.0f} degrees"
        return f"fold {self.fold!r}{after} on {self.tool}: {hits}; " + "; ".join(self.cures)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sequence:
    """An order of folds in which nothing collides, or why there is none.

    Parameters
    ----------
    made : Made
        The part.
    steps : tuple of Step
        In order; empty when there is no order.
    blocked : tuple of Blocked
        Which folds fail, when there is no order.
    proven : bool
        Whether no order with fewer turn-overs and re-settings exists (or none at all).
    cancelled : bool
        Whether a clock ended the search early.
    looked : int
        States that the search opened.
    findings : tuple of Finding
        Worst first.
    moves : tuple of Move
        The search's own record of each step.
    given : bool
        Whether the order was given and only proved.
    """

    made: Made
    steps: tuple[Step, ...]
    blocked: tuple[Blocked, ...]
    proven: bool
    cancelled: bool
    looked: int
    findings: tuple[Finding, ...]
    moves: tuple[Move, ...] = ()
    given: bool = False
    _planner: Planner = field(repr=False)

    @property
    def ok(self) -> bool:
        """Whether there is an order and nothing forbids it."""
        return bool(self.steps or not self.made.strips) and not stops(self.findings)

    @property
    def turn_overs(self) -> int:
        """How often the part is turned over."""
        return sum(s.turn_over for s in self.steps)

    @property
    def resettings(self) -> int:
        """How often tools or stops are changed, the first setting not counted."""
        return sum(s.reset for s in self.steps)

    @property
    def hits(self) -> tuple[Hit, ...]:
        """The order as it is stored: `fold_sequence(made, order=hits)` proves it again without a search."""
        return tuple(
            Hit(
                fold=s.fold,
                level=m.level,
                machine=s.machine,
                tool=m.setup.tool,
                punch=s.punch,
                reversed_punch=s.reversed_punch,
                pieces=s.pieces,
                spread=s.spread,
                at_back=s.at_back,
            )
            for s, m in zip(self.steps, self.moves, strict=True)
        )

    @property
    def planner(self) -> Planner:
        """What the search knows, for pictures."""
        return self._planner

    def __repr__(self) -> str:
        if not self.steps:
            return f"<{self.made.part.number}: no order of folds, {len(self.blocked)} blocked>"
        best = "as given" if self.given else "fewest possible" if self.proven else "best found"
        return (
            f"<{self.made.part.number}: {len(self.steps)} steps, {self.turn_overs} turn-overs, "
            f"{self.resettings} re-settings ({best})>"
        )

    def state(self, step: int, fraction: float = 1.0) -> Made:
        """Return the part at a step, `fraction` of the way to the formed angle (0 as it is laid in)."""
        if not 0 <= step < len(self.steps):
            raise BadValue("step", step, f"0 to {len(self.steps) - 1}")
        if not 0.0 <= fraction <= 1.0:
            raise BadValue("fraction", fraction, "0 to 1")
        s = self.steps[step]
        angles = dict(s.before)
        angles[s.fold] += fraction * (s.angle_formed - angles[s.fold])
        return partly(self.made, angles)

    def rows(self) -> list[tuple[str, ...]]:
        """Return the shop sheet's table, its heading first."""
        return [HEAD, *(_row(s) for s in self.steps)]

    def _repr_html_(self) -> str:
        if not self.steps:
            said = [str(b) for b in self.blocked] or [str(f) for f in self.findings]
            return f"<p>{escape(repr(self))}</p><ul>" + "".join(f"<li>{escape(b)}</li>" for b in said) + "</ul>"
        head, *rows = self.rows()
        table = "".join(f"<th>{escape(c)}</th>" for c in head)
        lines = "".join("<tr>" + "".join(f"<td>{escape(c)}</td>" for c in r) + "</tr>" for r in rows)
        return f"<p>{escape(repr(self))}</p><table><thead><tr>{table}</tr></thead><tbody>{lines}</tbody></table>"


HEAD = (
    "step",
    "before",
    "fold",
    "tool",
    "face up",
    "against the gauge",
    "line now",
    "line in the blank",
    "set",
    "force",
    "check",
)


def _row(s: Step) -> tuple[str, ...]:
    before = [w for w, on in (("turn over", s.turn_over), ("turn round", s.turn_round), ("re-set", s.reset)) if on]
    pieces = f" in {' + '.join(f'{p:g}' for p in s.pieces)}" if s.pieces else ""
    punch = f", {s.punch}{' reversed' if s.reversed_punch else ''}{pieces}" if s.punch else pieces
    force = (
        "" if s.force is None else f"{s.force / 1e3:.0f} kN" + ("" if s.rating is None else f" of {s.rating / 1e3:.0f}")
    )
    return (
        str(s.number),
        ", ".join(before),
        f"{s.action}: {s.fold} {s.direction}",
        f"{s.tool}{punch}",
        s.face_up,
        s.gauged or f"by its mark, {s.at_back} behind",
        f"{s.line_now:.1f}",
        f"{s.line_blank:.1f}",
        f"{both_ways(round(s.angle_formed, 1))}, leaves {s.angle:g}",
        force,
        s.check,
    )


def needed_force(made: Made, strip: MadeStrip) -> tuple[float | None, str]:
    """Force of a fold in N and a note; None where the chart does not reach.

    Source: air-bend chart; bottoming times 4 by common practice.
    """
    tool = made.shop.tool(strip.bend.tool) if strip.bend.tool else None
    if not isinstance(tool, (AirDie, VBlock)):
        return None, ""
    times = BOTTOMING if isinstance(tool, VBlock) else 1.0
    try:
        return times * air_bend_force(
            made.thickness, bend_length(strip), tool.opening, made.sheet.material.tensile_max
        ), ""
    except OutOfRange as beyond:
        return None, f"no force: {beyond}"


def bend_length(strip: MadeStrip) -> float:
    """Length of metal that is bent, mm."""
    return math.fsum(max(p[0] for p in r.points) - min(p[0] for p in r.points) for r in strip.regions)


def steps_of(planner: Planner, moves: tuple[Move, ...]) -> tuple[Step, ...]:
    """Return the shop sheet's steps of an order."""
    out = []
    for n, move in enumerate(moves):
        out.append(_step(planner, n, moves[n - 1] if n else None, move))
    return tuple(out)


def _step(planner: Planner, n: int, before: Move | None, move: Move) -> Step:
    made, strip, setup = planner.made, planner.blank.strips[move.fold], move.setup
    machine = planner.machine(setup)
    hem = planner.full[move.fold] == 2
    angles = forming(made, strip, move.level)
    flat = setup.process == "press flat"
    force, why = (None, "pressing needs several times the force of the bend") if flat else needed_force(made, strip)
    a, b = (planner.heading(before), planner.heading(move)) if before else ((1.0, 0.0), (1.0, 0.0))
    by_hand = machine.gauge_max is not None and not machine.gauge_moves
    reset = before is not None and (
        before.setup.setting != setup.setting or (by_hand and abs(before.gauge.at - move.gauge.at) > 0.05)
    )
    state = tuple(
        (s.name, math.degrees(planner.blank.turns[k][move.before[k]])) for k, s in enumerate(planner.blank.strips)
    )
    notes = [x for x in (angles.note, why) if x]
    if setup.assumed:
        notes.append("tool sections are assumed: usual ones stand in for those that the shop file does not draw")
    return Step(
        number=n + 1,
        fold=strip.name,
        action=_action(strip, setup, hem),
        machine=machine.key,
        who=machine.who,
        tool=setup.tool or f"a bar of {2 * strip.radius:.4g} mm",
        process=setup.process,
        punch=setup.punch,
        reversed_punch=setup.reversed,
        spread=setup.spread,
        pieces=setup.pieces,
        direction=strip.direction,
        face_up=strip.direction,
        at_back=strip.child if setup.way == 1 else strip.parent,
        turn_over=before is not None and planner.over(before, move),
        turn_round=before is not None and a[0] * b[0] + a[1] * b[1] < 0.9998,
        reset=reset,
        gauged=_edge(planner, move) if move.gauge.edge else "",
        line_now=move.gauge.at,
        line_blank=_line_in_blank(made, strip, setup.way == 1),
        angle=angles.left,
        angle_formed=angles.formed,
        force=force,
        rating=machine.force,
        length=bend_length(strip),
        check=_check(strip, hem, flat),
        notes=tuple(notes),
        assumed=setup.assumed,
        before=state,
    )


def _action(strip: MadeStrip, setup: Setup, hem: bool) -> str:
    if setup.process == BY_HAND:
        return "curl"
    if setup.process == "press flat":
        return "press flat" if strip.angle >= PRESSED else "close over a bar"
    return "start the hem" if hem else "fold"


def _check(strip: MadeStrip, hem: bool, flat: bool) -> str:
    left, right = strip.leg
    if not strip.bend.tool:
        return f"a bar of {2 * strip.radius:.4g} mm goes in and has no play, turned {strip.angle:g} degrees"
    size = f"{left:.1f}" if abs(left - right) < 0.05 else f"{left:.1f} at the left, {right:.1f} at the right end"
    if flat:
        lies = "lies flat" if strip.angle >= PRESSED else f"{180 - strip.angle:g} degrees between the legs"
        return f"return {size} mm, {lies}"
    if hem:
        return "the return stands at 45 degrees"
    where = "over the outside" if strip.angle <= 90.0 else "to the outside of the bend"
    return f"leg {size} mm {where}, {180 - strip.angle:g} degrees between the legs"


def _edge(planner: Planner, move: Move) -> str:
    """Return the name of what touches the gauge: an edge of the panel that reaches furthest back, or a fold's outside."""
    child = move.setup.way == 1
    panel = planner.made.panel(move.gauge.edge)
    m = planner.blank.placed(move.fold, child, panel.name, move.before)
    far = move.gauge.at - planner.blank.strips[move.fold].allowance / 2
    for e in panel.boundary.edges:
        ends = [m @ (*p, z, 1.0) for p in (e.start, e.end) for z in (0.0, planner.made.thickness)]
        y = [float(p[1]) if child else -float(p[1]) for p in ends]
        if e.is_line and e.length > 1.0 and min(max(y[:2]), max(y[2:])) > far - 0.05:
            if e.name.startswith("fold:"):
                return f"outside of fold {e.name[5:]}"
            return e.name if panel.name == "base" else f"{panel.name}.{e.name}"
    return panel.name


def _line_in_blank(made: Made, strip: MadeStrip, child: bool) -> float:
    """Distance in the blank from the fold's line to the farthest point at the back, mm."""
    assert made.flat is not None
    m = strip.flat
    o, tip = m((0.0, strip.allowance / 2)), m((0.0, strip.allowance / 2 + 1.0))
    s = 1.0 if child else -1.0
    n = s * (tip[0] - o[0]), s * (tip[1] - o[1])
    return max((p[0] - o[0]) * n[0] + (p[1] - o[1]) * n[1] for p in made.flat.outer.points)


def levels_before(planner: Planner, move: Move) -> Levels:
    """Return the levels of all folds as a step begins."""
    return move.before


def sheet_rows(sequence: Any) -> list[dict[str, Any]]:
    """Return the steps as plain values for a page or a widget: numbers unrounded, names as they are."""
    return [{name: getattr(s, name) for name in Step.__slots__} for s in sequence.steps]
