"""From the hits of a search to the steps of the shop sheet: gauge and line, force, what to check with a rule."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

from tinbook.dims import fold_to_edge
from tinbook.errors import OutOfRange
from tinbook.language import Said
from tinbook.making.demands import bent_length, force_of
from tinbook.making.folded import BendZone
from tinbook.making.forming import forming
from tinbook.making.made import Made
from tinbook.route.foldstep import FoldStep, Sight
from tinbook.route.gauge import Finger
from tinbook.route.planner import Hit, Planner
from tinbook.route.reasons import handling_notes
from tinbook.route.takeout import way_out
from tinbook.shop.tools.machine import Machine

STUCK: Final = "it neither lifts off the tools nor slides off endways: see how it comes out before you fold it"
SEEN: Final = 0.05
"""mm: a mark that lies less off its place lies on it."""


def _force(made: Made, strip: BendZone) -> tuple[float | None, str]:
    """Return the force of a fold, N, or None and a note why it is not known."""
    try:
        return force_of(made, strip), ""
    except OutOfRange as beyond:
        return None, f"no force: {beyond}"


def steps_of(planner: Planner, moves: tuple[Hit, ...]) -> tuple[FoldStep, ...]:
    """Return the shop sheet's steps of an order."""
    return tuple(_step(planner, moves, n) for n in range(len(moves)))


def _step(planner: Planner, moves: tuple[Hit, ...], n: int) -> FoldStep:
    before, move = moves[n - 1] if n else None, moves[n]
    made, strip, setup = planner.made, planner.blank.strips[move.fold], move.setup
    machine = planner.machine(setup)
    hem = planner.full[move.fold] == 2
    angles = forming(made, strip, move.level)
    hem_kind = next((f.hem.kind for f in made.part.folds if f.name == strip.name and f.hem is not None), "")
    flat = setup.stroke.second
    force, why = (None, "pressing needs several times the force of the bend") if flat else _force(made, strip)
    a, b = (planner.heading(before), planner.heading(move)) if before else ((1.0, 0.0), (1.0, 0.0))
    by_hand = machine.gauge_max is not None and not machine.gauge_moves
    reset = before is not None and (
        before.setup.setting != setup.setting or (by_hand and abs(before.gauge.at - move.gauge.at) > 0.05)
    )
    state = tuple(
        (s.name, math.degrees(planner.blank.turns[k][move.before[k]])) for k, s in enumerate(planner.blank.strips)
    )
    notes = [x for x in (angles.note, why) if x]
    if flat and hem_kind == "open":
        strips = "lay a strip of {gap:.2f} mm in before you press: the hem stays open by as much"
        notes.append(Said(strips, gap=2 * strip.radius))
    out = way_out(planner, move)
    if out == "endways":
        notes.append("slide it off endways: it does not lift off the tools")
    if not out:
        notes.append(STUCK)
    notes += handling_notes(planner, moves, n)
    low = _packing(planner, move, angles.formed)
    if low > 0.5:
        notes.append(
            Said("pack the die or the punch up by {low:.0f} mm: the ram's stroke ends above the bend", low=low)
        )
    sight = None if flat or move.gauge.edge else sight_of(made, strip, setup.leg_back)
    held, free = (strip.child, strip.parent) if setup.leg_back else (strip.parent, strip.child)
    notes += _of_gauge(move, machine, sight, held, free)
    if setup.assumed:
        notes.append("tool sections are assumed: usual ones stand in for those that the shop file does not draw")
    return FoldStep(
        number=n + 1,
        fold=strip.name,
        action=setup.stroke.action(hem_kind or ("bar" if hem else "")),
        machine=machine.key,
        who=machine.who,
        tool=setup.tool or Said("a bar of {dia:.4g} mm", dia=2 * strip.radius),
        setup=setup,
        direction=strip.direction,
        face_up=strip.direction,
        at_back=held,
        turn_over=before is not None and planner.must_turn_over(before, move),
        turn_round=before is not None and a[0] * b[0] + a[1] * b[1] < 0.9998,
        reset=reset,
        gauged=move.gauge.edge,
        line_now=move.gauge.at if move.gauge.edge else None,
        no_stop=move.gauge.why,
        proposed=bool(move.gauge.edge) and not machine.own,
        sight=sight,
        line_blank=_line_in_blank(made, strip, setup.leg_back),
        angle=angles.left,
        angle_formed=angles.formed,
        over=angles.over,
        force=force,
        rating=machine.force,
        length=bent_length(strip),
        check=_check(strip, hem, hem_kind if flat else None),
        notes=tuple(notes),
        before=state,
        out=out,
    )


def _of_gauge(move: Hit, machine: Machine, sight: Sight | None, held: str, free: str) -> Iterator[str]:
    """Yield the notes about the stop or the mark."""
    if move.gauge.edge:
        if not machine.own:
            yield Said("the stop is a proposal: {who} sets the gauge", who=machine.who)
        finger = Finger.of(machine)
        if finger.assumed:
            yield Said(
                "a usual gauge finger is assumed, {below:g} mm under the die's top to {above:g} over it: the shop file gives "
                "none",
                below=float(finger.below),
                above=float(finger.above),
            )
    elif sight is not None and machine.gauge_max is not None:
        yield Said("no stop: {why}; set it to its mark", why=move.gauge.why)
    if sight is not None and not sight.marked:
        at = Said("on a line of its own")
        if sight.edge:
            at = Said("{at:.1f} mm from {edge}", at=sight.at, edge=sight.edge)
        yield Said(
            "{held} is held and not {free}, for which the blank is marked: the nose bar's edge goes {at}, {off:.1f} mm from "
            "the mark toward {panel}",
            held=held,
            free=free,
            at=at,
            off=abs(2 * sight.off),
            panel=held if sight.off > 0 else free,
        )


def sight_of(made: Made, strip: BendZone, child: bool) -> Sight:
    """Return where the operator's line lies in the blank with the child's side held, or the parent's."""
    assert made.flat is not None
    # Drawn for the parent held; the same distance from the child's tangent line where that is held.
    off = strip.allowance / 2 - strip.bend.mark_at
    line = next(f for f in made.flat.folds if f.name == strip.name)
    found = fold_to_edge(made.flat, line)
    if found is None:
        return Sight("", math.nan, off, not child or abs(off) < SEEN)
    away, e = found
    beyond = strip.flat.inverse()(e.start)[1] > strip.allowance / 2  # on the child's side
    panel, _, name = e.name.partition("|")
    at = away - off if beyond == child else away + off
    return Sight(name if panel == "base" else f"{panel}.{name}", at, off, not child or abs(off) < SEEN)


def _packing(planner: Planner, move: Hit, formed: float) -> float:
    """Return what is missing in height where all tools are the shop's own drawings, mm; holders of others are not known."""
    shop, setup = planner.made.shop, move.setup
    tool = shop.tool(setup.tool) if setup.tool else None
    if tool is None or setup.assumed or not setup.stroke.punched:
        return 0.0
    section = shop.section(shop.punch(setup.punch).section)
    return tool.packing(shop, section, math.radians(formed))


def _check(strip: BendZone, hem: bool, closing: str | None) -> str:
    """Return what a rule must show after a hit; `closing` is the kind of hem that this hit closes."""
    left, right = strip.leg
    if not strip.bend.tool:
        return Said(
            "a bar of {dia:.4g} mm goes in and has no play, turned {angle:g} degrees",
            dia=2 * strip.radius,
            angle=round(strip.angle, 1),
        )
    size = Said("{left:.1f}", left=left)
    if abs(left - right) >= 0.05:
        size = Said("{left:.1f} at the left, {right:.1f} at the right end", left=left, right=right)
    if closing == "closed":
        return Said("return {size} mm, lies flat", size=size)
    if closing == "open":
        return Said("return {size} mm, lies parallel, gap {gap:.2f} mm inside", size=size, gap=2 * strip.radius)
    between = Said("{angle:g} degrees between the legs", angle=round(180 - strip.angle, 1))
    if closing is not None:
        lies = Said("its tip on the sheet") if strip.angle > 180.0 else between
        bar = 2 * strip.radius
        return Said("return {size} mm, {lies}, a bar of {bar:.2f} mm goes through", size=size, lies=lies, bar=bar)
    if hem:
        return Said("the return stands at {angle} degrees", angle=45)
    if strip.angle <= 90.0:
        return Said("leg {size} mm over the outside, {between}", size=size, between=between)
    return Said("leg {size} mm to the outside of the bend, {between}", size=size, between=between)


def _line_in_blank(made: Made, strip: BendZone, child: bool) -> float:
    """Distance in the blank from the fold's line to the farthest point at the back, mm."""
    assert made.flat is not None
    m = strip.flat
    o, tip = m((0.0, strip.allowance / 2)), m((0.0, strip.allowance / 2 + 1.0))
    s = 1.0 if child else -1.0
    n = s * (tip[0] - o[0]), s * (tip[1] - o[1])
    return max((p[0] - o[0]) * n[0] + (p[1] - o[1]) * n[1] for p in made.flat.outer.points)
