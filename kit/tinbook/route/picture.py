"""A step as a picture: the part in the machine, seen along the fold, and beside it how the part lies."""

from __future__ import annotations

import math
from html import escape
from typing import Any, Final

import numpy as np
import shapely

from tinbook.errors import BadValue, of_kind
from tinbook.language import ENGLISH, Language
from tinbook.making.articulated import ArticulatedPart, RigidBody
from tinbook.making.folded import Folded
from tinbook.making.pose import posed
from tinbook.making.preview.drawing import line_drawing
from tinbook.making.preview.view import view_toward
from tinbook.memo import Memo
from tinbook.plane.loops import Array
from tinbook.route.foldstep import told
from tinbook.route.gauge import Finger
from tinbook.route.planner import Hit, Planner
from tinbook.route.shadows import shadow
from tinbook.route.steps import FoldPlan
from tinbook.shop.tools.strokes import Motion
from tinbook.space import SPACE
from tinbook.svg import DOWN, TALLEST, UP, Picture, document, num, readable

CLASH: Final = "#c8281e"
SLICE: Final = 0.5
"""mm to either side of the middle of the fold that the section shows."""
MARGIN: Final = 14.0
SHADOWS: Memo[Any] = Memo("shadows of bodies in the section of a hit")
LONGEST: Final = 220.0
"""mm: the window does not show more of a sheet or a beam than this from the fold line."""


def motion_of(planner: Planner, move: Hit) -> Motion:
    """Return how a hit moves."""
    for family, sweep in planner.families(move.fold, move.level)[0]:
        if any(s is move.setup for s in family):
            return sweep.motion
    raise BadValue("move", move.setup.key, "a hit of this planner")


def scene(planner: Planner, move: Hit, share: float, pair: tuple[str, str] | None = None) -> dict[str, Any]:
    """Return what the section shows as polygons in the machine's plane: y to the front, z up, mm.

    Parameters
    ----------
    planner : Planner
        The part.
    move : Hit
        The hit.
    share : float
        0 as it is laid in, 1 formed.
    pair : (str, str), optional
        Two pieces of the part, as "panel NAME", that hit each other: their overlap is the clash too.

    Returns
    -------
    dict
        "angle" in degrees; "part": list of (name, polygon); "tools": list of (name, polygon); "contacts": list
        of points; "clash": polygon where metal and tools overlap, empty if nothing hits.
    """
    motion, blank, setup = motion_of(planner, move), planner.blank, move.setup
    k = round(min(max(share, 0.0), 1.0) * (len(motion.angles) - 1))
    span = blank.span(move.fold)
    middle = (span[0] + span[1]) / 2
    sign = -1.0 if setup.leg_back else 1.0

    def machine(shape: Any, turn: float, place: Array) -> Any:
        c, s = math.cos(turn), math.sin(turn)

        def moved(p: Array) -> Array:
            y, z = c * p[:, 0] - s * p[:, 1] + place[0], s * p[:, 0] + c * p[:, 1] + place[1]
            return np.stack((sign * y, z), axis=1)

        return shapely.transform(shape, moved)

    part: list[tuple[str, Any]] = []
    solid: list[tuple[str, Any]] = []
    for child in (True, False):
        turn, place = motion.poses[child]
        for body, _ in blank.bodies_of(move.fold, child):
            pieces = blank.posed(move.fold, child, body, move.before)
            for low, high, listed in (
                (middle - SLICE, middle + SLICE, part),
                (pieces[..., 0].min() - 1.0, pieces[..., 0].max() + 1.0, solid),
            ):
                shape = _shadow(planner.blank, move, (child, body), low, high)
                if not shape.is_empty:
                    listed.append((f"{body.kind} {body.name}", machine(shape, turn[k], place[k])))
    turn, place = motion.poses[False]
    bend = shadow(blank.bending(move.fold, float(motion.angles[k])), middle - SLICE, middle + SLICE)
    if not bend.is_empty:
        part.append((f"fold {blank.strips[move.fold].name}", machine(bend, turn[k], place[k])))
    tools, clash = [], shapely.Polygon()
    for piece in (*setup.bodies, *setup.shown):
        t, p = (v[k] for v in motion.stroke.tool(piece.frame, motion))
        if piece.frame == "closed":
            p = np.array((0.0, 40.0 * (1.0 - share)))
        shape = machine(piece.shape, t, p)
        tools.append((piece.name, shape))
        if piece in setup.shown or (piece.frame == "closed" and share < 1.0):
            continue
        for child in (True, False):
            pose = motion.poses[child]
            for body, _ in blank.bodies_of(move.fold, child):
                within = _shadow(blank, move, (child, body), *piece.span)
                if not within.is_empty:
                    common = shapely.intersection(machine(within, pose[0][k], pose[1][k]), shape)
                    clash = shapely.union(clash, common) if common.area > 1e-3 else clash
    if pair is not None:
        two = [shapely.union_all([s for name, s in solid if name == one]) for one in pair]
        clash = shapely.union(clash, shapely.intersection(*two))
    return {
        "angle": math.degrees(float(motion.angles[k])),
        "part": part,
        "beyond": solid,
        "tools": tools,
        "contacts": [(sign * y, z) for y, z in motion.stroke.touches(motion, k)],
        "clash": clash,
    }


def _shadow(blank: ArticulatedPart, move: Hit, which: tuple[bool, RigidBody], low: float, high: float) -> Any:
    """Return the shadow of a body between two places along a hit's fold: the same at every share of the hit."""
    child, body = which
    return SHADOWS.of(
        blank,
        lambda: shadow(blank.posed(move.fold, child, body, move.before), low, high),
        (move.fold, move.before, child, body, low, high),
    )


def step_svg(sequence: FoldPlan, step: int, fraction: float = 1.0, say: Language = ENGLISH) -> Picture:
    """Return a step as a picture: the section through machine and part, contacts marked, and the part in space.

    Parameters
    ----------
    sequence : FoldPlan
        With steps.
    step : int
        From 0.
    fraction : float
        0 as it is laid in, 1 formed.
    say : Language
        Of its words.
    """
    if not 0.0 <= fraction <= 1.0:
        raise BadValue("fraction", fraction, "0 to 1")
    move = _move(sequence, step)
    s = sequence.steps[step]
    does = f"{told(say(s.action), s.fold)} {say(s.direction)}"
    title = say("step {n}: {does} on {tool}", n=s.number, does=does, tool=say.retold(s.tool))
    return _picture(sequence.planner, move, fraction, title, sequence.state(step, fraction), say)


def clash_svg(sequence: FoldPlan, blocked: int = 0, say: Language = ENGLISH) -> Picture:
    """Return a picture of why a fold is blocked: the try that came nearest, at its worst, the overlap in red.

    Parameters
    ----------
    sequence : FoldPlan
        Without steps.
    blocked : int
        Which of `sequence.blocked`.
    say : Language
        Of its words.
    """
    of_kind(sequence, FoldPlan, "clash_svg", _ORDER)
    if type(blocked) is not int or not 0 <= blocked < len(sequence.blocked):
        raise BadValue(
            "blocked", blocked, f"0 to {len(sequence.blocked) - 1}" if sequence.blocked else "nothing is blocked"
        )
    b, planner = sequence.blocked[blocked], sequence.planner
    motion = motion_of(planner, b.trial)
    share = (math.radians(b.worst) - motion.first) / (motion.last - motion.first)
    angles = {
        s.name: math.degrees(planner.blank.turns[n][b.trial.before[n]]) for n, s in enumerate(planner.blank.strips)
    }
    angles[b.fold] = b.worst
    hits = say.retold(f"{b.body} hits the {b.against} by {b.depth:.1f} mm")
    title = f"{say('fold {name} is blocked', name=b.fold)}: {hits}"
    own = b.against.startswith(("panel ", "bead ", "fold "))
    body = b.body if b.body.startswith(("bead ", "strip ")) else f"panel {b.body}"
    pair = (body, b.against.replace("fold ", "strip ", 1)) if own else None
    return _picture(planner, b.trial, share, title, posed(sequence.made.folded, angles), say, pair)


_ORDER = "what tb.fold_sequence(made) answers"


def _move(sequence: FoldPlan, step: int) -> Hit:
    of_kind(sequence, FoldPlan, "step_svg", _ORDER)
    if type(step) is not int or not 0 <= step < len(sequence.moves):
        raise BadValue(
            "step", step, f"0 to {len(sequence.moves) - 1}" if sequence.moves else "the sequence has no steps"
        )
    return sequence.moves[step]


def _picture(
    planner: Planner,
    move: Hit,
    share: float,
    title: str,
    state: Folded,
    say: Language,
    pair: tuple[str, str] | None = None,
) -> Picture:
    seen = scene(planner, move, share, pair)
    x0, y0, x1, y1 = shapely.total_bounds([shape for _, shape in (*seen["part"], *seen["beyond"])]).tolist()
    window = shapely.box(
        max(min(x0, -40.0) - MARGIN, -LONGEST),
        max(min(y0, -45.0) - MARGIN, -LONGEST),
        min(max(x1, 40.0) + MARGIN, LONGEST),
        min(max(y1, 75.0) + MARGIN, LONGEST),
    )
    box = window.bounds
    line = (box[2] - box[0]) / 500
    body = []

    def show(shape: Any, pen: str, name: str) -> None:
        body.append(_path(shapely.intersection(shape, window), pen, name))

    for name, shape in seen["tools"]:
        pen = f'fill="currentColor" fill-opacity="0.16" stroke="currentColor" stroke-width="{num(line)}"'
        show(shape, pen, say(name))
    if move.gauge.edge:
        finger = Finger.of(planner.machine(move.setup))
        block = shapely.box(-move.gauge.at - 25.0, -finger.below, -move.gauge.at, finger.above)
        show(block, f'fill="{DOWN}" fill-opacity="0.5"', say("back gauge"))
    for name, shape in seen["beyond"]:
        pen = f'fill="{UP}" fill-opacity="0.12" stroke="{UP}" stroke-opacity="0.5" stroke-width="{num(line / 2)}"'
        show(shape, pen, f"{say.retold(name)}, {say('beyond')}")
    for name, shape in seen["part"]:
        show(shape, f'fill="{UP}" stroke="{UP}" stroke-width="{num(line)}"', say.retold(name))
    for y, z in seen["contacts"]:
        body.append(
            f'<circle cx="{num(y)}" cy="{num(-z)}" r="{num(3 * line)}" fill="{DOWN}"><title>{escape(say("contact"))}</title></circle>\n'
        )
    if not seen["clash"].is_empty:
        red = f'fill="{CLASH}" fill-opacity="0.85" stroke="{CLASH}" stroke-width="{num(3 * line)}"'
        body.append(f'<g class="tb-clash">{_path(seen["clash"], red, say("overlap"))}</g>\n')
    size = (box[2] - box[0]) * 0.38
    body.append(_in_space(state, (box[2] + MARGIN, box[3]), size, line, say))
    text = f"{title}; {say('turned {angle:.1f} degrees', angle=float(seen['angle']))}"
    wide, tall = box[2] + MARGIN + size - box[0], box[3] - box[1]
    beside = max(tall / TALLEST - wide, 0.0) / 2  # what a tall picture gets on each side
    room = 1.8 * (wide + beside)  # a letter is about half as wide as high
    high = max(min(0.028 * wide, room / len(text)), 1.15 * readable(wide, tall))
    lines = [text] if len(text) * high <= room else text.rsplit("; ", 1)
    body += [
        f'<text x="{num(box[0])}" y="{num(-box[3] - high * (0.6 + 1.3 * k))}" font-size="{num(high)}" '
        f'fill="currentColor" font-family="sans-serif">{escape(said)}</text>\n'
        for k, said in enumerate(reversed(lines))
    ]
    whole = (box[0], box[1], box[2] + MARGIN + size, box[3] + (0.7 + 1.3 * len(lines)) * high)
    return Picture(document(whole, "".join(body), title=title, margin=4 * line))


def _path(shape: Any, pen: str, name: str) -> str:
    data = "".join(
        "M" + "L".join(f"{num(float(y))} {num(-float(z))}" for y, z in r.coords[:-1]) + "Z"
        for p in shapely.get_parts(shape)
        if p.geom_type == "Polygon" and not p.is_empty
        for r in (p.exterior, *p.interiors)
    )
    return f'<path d="{data}" fill-rule="evenodd" {pen}><title>{escape(name)}</title></path>\n' if data else ""


def _in_space(folded: Folded, corner: tuple[float, float], size: float, line: float, say: Language) -> str:
    """Return the part seen from the front, the right and above, within a square whose upper left corner is given."""
    seen = line_drawing((((folded,), SPACE),), view_toward((0.51, -0.72, 0.47)), 300, 128)
    low, high = seen.box[:2], seen.box[2:]
    scale = size / max(high[0] - low[0], high[1] - low[1], 1e-9)
    data = "".join(
        "M"
        + "L".join(f"{num(corner[0] + scale * (x - low[0]))} {num(scale * (high[1] - y) - corner[1])}" for x, y in run)
        for lines in seen.lines
        for run in lines
    )
    return f'<path d="{data}" fill="none" stroke="{UP}" stroke-width="{num(line)}"><title>{escape(say("the part now"))}</title></path>\n'
