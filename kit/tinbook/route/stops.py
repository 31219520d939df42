"""What each fold's line owes to its stop: the errors that come with the edge or fold that was gauged.

A line set from an edge keeps its distance from that edge, wherever the edge truly is. So the line takes over what the
cut, or the folds between, have moved it by; what two lines take over from the same edge is gone from the size between.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from tinbook.making.accuracy import LineError
from tinbook.making.pose import radius_at
from tinbook.plane.loops import Array
from tinbook.route.gauge import Contact
from tinbook.route.planner import Hit, Planner

Terms = dict[tuple[str, str], float]


def line_errors(planner: Planner, moves: Sequence[Hit]) -> tuple[LineError, ...]:
    """Return what moves each fold's line, in the order of the hits.

    Parameters
    ----------
    planner : Planner
        The part.
    moves : sequence of Hit
        Its hits in order.
    """
    lines: dict[int, Terms] = {}
    for move in moves:
        if move.level != 1:
            continue
        name = planner.blank.strips[move.fold].name
        if move.gauge.contact is None:
            lines[move.fold] = {("mark", name): 1.0}
            continue
        side = 1.0 if move.setup.leg_back else -1.0  # a line counts toward the child
        terms: Terms = {("stop", name): -side}
        for key, value in _shift(planner, move, move.gauge.contact, lines).items():
            terms[key] = terms.get(key, 0.0) + side * value
        lines[move.fold] = {k: v for k, v in terms.items() if abs(v) > 1e-9}
    return tuple(
        LineError(planner.blank.strips[n].name, tuple((*key, value) for key, value in terms.items()))
        for n, terms in lines.items()
    )


def _shift(planner: Planner, move: Hit, contact: Contact, lines: dict[int, Terms]) -> Terms:
    """How far the contact lies too far back, for each cause."""
    blank, child = planner.blank, move.setup.leg_back
    terms: Terms = {}
    if contact.cut:
        terms["cut", contact.cut] = 1.0
    if contact.slope:
        terms["finger", blank.strips[move.fold].name] = contact.slope
    # Seen from the finger: backward, and up its front; a slope turns height into distance.
    back = np.array((0.0, 1.0 if child else -1.0, -contact.slope))
    side = blank.side(move.fold, contact.child)
    way = side[contact.body.panel]
    own = contact.body.own
    chain = way if own is None or own in way else (*way, own)
    here = blank.strips[move.fold].child if contact.child else blank.strips[move.fold].parent
    for n in chain:
        s = blank.strips[n]
        down = s.parent == here
        there = s.child if down else s.parent
        if move.before[n]:
            arc = n == own and n == chain[-1]
            for key, value in _through(planner, move, contact, n, down, arc, back).items():
                for k, v in (lines[n] if key[0] == "line" else {key: 1.0}).items():
                    terms[k] = terms.get(k, 0.0) + value * v
        here = there
    return terms


def _through(
    planner: Planner, move: Hit, contact: Contact, n: int, down: bool, arc: bool, back: Array
) -> dict[tuple[str, str], float]:
    """How far back the contact goes for a fold between: with its deduction, its line, its angle."""
    blank, s = planner.blank, planner.blank.strips[n]
    near, far = (s.parent, s.child) if down else (s.child, s.parent)
    turn = blank.turns[n][move.before[n]]
    m_parent, m_child = (blank.placed(move.fold, contact.child, p, move.before) for p in (s.parent, s.child))
    root, tip = m_parent @ blank.root(n), m_child @ blank.tip(n)
    ways = {s.parent: np.array(root.y), s.child: np.array(tip.y)}
    # Out of the nearer panel over the fold, and on into the farther one; each frame's y runs from parent to child.
    out, on = (ways[near], ways[far]) if down else (-ways[near], -ways[far])
    sense = 1.0 if down else -1.0
    if arc:
        # The roundest point moves with the line and half of the deduction, whatever hangs behind it.
        return {("bend", s.name): 0.5 * float(back @ out), ("line", s.name): sense * float(back @ out)}
    radius = radius_at(s, turn)
    centre = root(0.0, 0.0, blank.thickness + radius if s.direction == "up" else -radius)
    arm = np.cross(root.x, np.array(contact.place) - centre)
    taken = s.allowance / turn / 2
    turned = (1.0 if s.direction == "up" else -1.0) * sense
    return {
        ("bend", s.name): 0.5 * float(back @ (out + on)),
        ("line", s.name): sense * float(back @ (out - on)),
        ("angle", s.name): turned * float(back @ arm) - taken * float(back @ (out + on)),
    }
