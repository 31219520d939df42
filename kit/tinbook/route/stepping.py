"""From the hits of a search to the steps of the shop sheet: gauge and line, force, what to check with a rule."""

from __future__ import annotations

import math
from typing import Final

from tinbook.calc.force import air_bend_force
from tinbook.errors import OutOfRange
from tinbook.make.made import Made, MadeStrip
from tinbook.route.forming import forming
from tinbook.route.planner import Move, Planner
from tinbook.route.setups import BY_HAND, PRESSED, Setup, packing
from tinbook.route.steps import Step
from tinbook.route.takeout import way_out
from tinbook.shop.tooling import AirDie, VBlock

STUCK: Final = "it neither lifts off the tools nor slides off endways: see how it comes out before you fold it"
BOTTOMING: Final = 4.0
"""How many times the force of an air bend a V block needs (common practice)."""


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
    out = way_out(planner, move)
    if out == "endways":
        notes.append("slide it off endways: it does not lift off the tools")
    if not out:
        notes.append(STUCK)
    low = _packing(planner, move, angles.formed)
    if low > 0.5:
        notes.append(f"pack the die or the punch up by {low:.0f} mm: the ram's stroke ends above the bend")
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
        out=out,
    )


def _packing(planner: Planner, move: Move, formed: float) -> float:
    """Return what is missing in height where all tools are the shop's own drawings, mm; holders of others are not known."""
    shop, setup = planner.made.shop, move.setup
    tool = shop.tool(setup.tool) if setup.tool else None
    if setup.assumed or setup.process not in ("air", "bottom") or not isinstance(tool, (AirDie, VBlock)):
        return 0.0
    section = shop.section(shop.punch(setup.punch).section)
    return packing(shop, planner.machine(setup), tool, section, math.radians(formed))


def _action(strip: MadeStrip, setup: Setup, hem: bool) -> str:
    if setup.process == BY_HAND:
        return "curl"
    if setup.process == "press flat":
        return "press flat" if strip.angle >= PRESSED else "close over a bar"
    return "start the hem" if hem else "fold"


def _check(strip: MadeStrip, hem: bool, flat: bool) -> str:
    left, right = strip.leg
    if not strip.bend.tool:
        return f"a bar of {2 * strip.radius:.4g} mm goes in and has no play, turned {round(strip.angle, 1):g} degrees"
    size = f"{left:.1f}" if abs(left - right) < 0.05 else f"{left:.1f} at the left, {right:.1f} at the right end"
    if flat:
        lies = "lies flat" if strip.angle >= PRESSED else f"{round(180 - strip.angle, 1):g} degrees between the legs"
        return f"return {size} mm, {lies}"
    if hem:
        return "the return stands at 45 degrees"
    where = "over the outside" if strip.angle <= 90.0 else "to the outside of the bend"
    return f"leg {size} mm {where}, {round(180 - strip.angle, 1):g} degrees between the legs"


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
