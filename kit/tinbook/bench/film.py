"""A hit of the fold sequence as bodies that move: both sides of the fold, the bend in between, and the tools round it."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import field, replace
from typing import Any, Final, NamedTuple, TypeAlias

import numpy as np
import shapely

from tinbook.making.assembled import body_of_piece
from tinbook.making.folded import Folded
from tinbook.making.pose import bent_by, posed
from tinbook.part.bought import Piece
from tinbook.plane.loops import Loop, polygon
from tinbook.route.gauge import Finger
from tinbook.route.picture import LONGEST, motion_of
from tinbook.route.planner import Hit, Planner
from tinbook.route.steps import FoldPlan
from tinbook.shop.tools.strokes import Motion
from tinbook.space import SPACE, Frame
from tinbook.values import dataclass
from tinbook.write.foldpage import page_count, step_title
from tinbook.write.scene import bytes_of, numbers_of

Rows: TypeAlias = np.ndarray[Any, Any]
FRAMES: Final = 33
"""Pictures of a hit, laid in and formed included."""
BESIDE: Final = 40.0
"""mm: how far tools are drawn past the ends of a fold."""
ALONG: Final = Frame(x=(0.0, 1.0, 0.0), y=(0.0, 0.0, 1.0), z=(1.0, 0.0, 0.0))
"""The machine's plane (to the front, upward), drawn out along the fold."""
ROUND: Final = Frame(x=(-1.0, 0.0, 0.0), y=(0.0, -1.0, 0.0))
"""Half a turn: with the leg at the back all that is seen along the fold stands the other way round."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Film:
    """A hit, ready to be sent.

    Parameters
    ----------
    bodies : dict of str to dict
        As in `Scene`.
    members : list of dict
        As in `Scene`, and "track": float32, shape (frames, 12), a place for each picture; "from" and "to": the first
        and the last picture that show it.
    frames : int
        How many pictures.
    angles : list of float
        Degrees turned in each.
    words : str
        What the step does.
    first, last : bool
        Whether no step comes before it, or after it.
    """

    bodies: dict[str, dict[str, Any]]
    members: list[dict[str, Any]]
    frames: int
    angles: list[float]
    words: str
    first: bool
    last: bool


def film_of(plan: FoldPlan, index: int) -> Film:
    """Return step `index`, from 0, as moving bodies; where there is no order, the try of a blocked fold.

    Nothing here is worked out anew: the poses are those in which the search looked for collisions.
    """
    move = plan.moves[index] if plan.steps else plan.blocked[index].trial
    planner, motion = plan.planner, motion_of(plan.planner, move)
    rows = np.linspace(0, len(motion.angles) - 1, FRAMES).round().astype(np.intp)
    reel = _Reel(index)
    for one in _metal(planner, move, motion, rows):
        reel.add(one)
    for one in _tools(planner, move, motion, rows, reel.window()):
        reel.add(one)
    angles = np.degrees(motion.angles[rows]).round(2).tolist()
    count = page_count(plan)
    return Film(
        bodies=reel.bodies, members=reel.members, frames=FRAMES, angles=angles, words=step_title(plan, index),
        first=index == 0, last=index == count - 1,
    )  # fmt: skip


class _Moved(NamedTuple):
    """One body: its place in each picture, and the first and the last that show it."""

    name: str
    kind: str
    pieces: tuple[Folded, ...]
    places: list[Frame]
    first: int = 0
    last: int = FRAMES - 1
    note: str = ""


@dataclass(slots=True)
class _Reel:
    """Bodies and members of a step as they come together."""

    step: int
    bodies: dict[str, dict[str, Any]] = field(default_factory=dict)
    members: list[dict[str, Any]] = field(default_factory=list)

    def add(self, one: _Moved) -> None:
        # The page keeps a body whose key it knows, so each step has keys of its own.
        key = f"step {self.step} body {len(self.members)}"
        self.bodies[key] = bytes_of(one.pieces, "" if one.kind == "part" else one.kind)
        track = np.array([numbers_of(f) for f in one.places], dtype="<f4")
        self.members.append(
            {
                "name": one.name, "label": one.name + one.note, "kind": one.kind, "body": key, "at": track[0].tolist(),
                "away": [0.0, 0.0, 0.0], "track": track.tobytes(), "from": one.first, "to": one.last,
            }
        )  # fmt: skip

    def window(self) -> Any:
        """Return how much of the tools' sections is drawn: as far as the metal reaches on its way, and what is near."""
        y0, z0, y1, z1 = NEAR
        for m in self.members:
            points = np.frombuffer(self.bodies[m["body"]]["positions"], "<f4").reshape(-1, 3)
            track = np.frombuffer(m["track"], "<f4").reshape(-1, 4, 3)
            for n in (m["from"], (m["from"] + m["to"]) // 2, m["to"]):
                there = points @ track[n, 1:] + track[n, 0]
                (_, a, b), (_, c, d) = there.min(axis=0).tolist(), there.max(axis=0).tolist()
                y0, z0, y1, z1 = min(y0, a), min(z0, b), max(y1, c), max(z1, d)
        far = max(-y0, y1)  # the same to both sides: a setup may be seen the other way round
        return shapely.box(-min(far, LONGEST), max(z0, -LONGEST), min(far, LONGEST), min(z1, LONGEST))


NEAR: Final = (-45.0, -60.0, 45.0, 90.0)
"""mm: of the tools so much is drawn at least, to the back, downward, to the front, upward."""


def _turned(move: Hit) -> Frame:
    return ROUND if move.setup.leg_back else SPACE


def _metal(planner: Planner, move: Hit, motion: Motion, rows: Rows) -> Iterator[_Moved]:
    """Yield both sides of the fold, and the bend in the shape that it has in each picture."""
    turned = _turned(move)
    sides = {side: [turned @ _pose(*(v[k] for v in motion.poses[side])) for k in rows] for side in (True, False)}
    yield from _rigid(planner, move, sides)
    strip = planner.blank.strips[move.fold]
    over = planner.blank.over(strip)
    for n, k in enumerate(rows):
        bent = bent_by(strip, float(motion.angles[k]), SPACE)
        shown = Folded(thickness=planner.blank.thickness, panels=(), zones=(bent,))
        yield _Moved(f"fold {strip.name}", "part", (shown,), [sides[False][n] @ over] * len(rows), n, n)


def _tools(planner: Planner, move: Hit, motion: Motion, rows: Rows, window: Any) -> Iterator[_Moved]:
    """Yield what stands round the part in the machine."""
    turned, end = _turned(move), len(rows) - 1
    note = ", as usual: the shop drew none" if move.setup.assumed else ""
    low, high = planner.blank.span(move.fold)
    for piece in (*move.setup.bodies, *move.setup.shown):
        x0, x1 = max(piece.span[0], low - BESIDE), min(piece.span[1], high + BESIDE)
        drawn = _drawn_out(shapely.intersection(piece.shape, window), x0, x1)
        if not drawn:
            continue
        if piece.frame == "closed":
            # Bars that press a hem come down at the end, as in the pictures of a step.
            places = [turned @ _pose(0.0, (0.0, LIFTED * (1 - k / end))) for k in range(end + 1)]
        else:
            turn, at = motion.stroke.tool(piece.frame, motion)
            places = [turned @ _pose(turn[k], at[k]) for k in rows]
        yield _Moved(piece.name, "tool", drawn, places, note=note)
    if move.gauge.edge:
        finger = Finger.of(planner.machine(move.setup))
        block = shapely.box(-move.gauge.at - 25.0, -finger.below, -move.gauge.at, finger.above)
        ends = sorted(x * turned.x[0] for x in (low, high))
        for n, share in enumerate((0.25, 0.75), 1):
            x = ends[0] + (ends[1] - ends[0]) * share
            fingers = _drawn_out(block, x - finger.width / 2, x + finger.width / 2)
            # It has done its work when the stroke begins, and the part may swing through where it stood.
            yield _Moved(f"finger {n} of the back gauge", "gauge", fingers, [SPACE] * len(rows), last=1)


LIFTED: Final = 40.0
"""mm: how far bars that press a hem stand off before."""


def _rigid(planner: Planner, move: Hit, sides: dict[bool, list[Frame]]) -> Iterator[_Moved]:
    """Yield the metal on both sides of the fold as it stands before the hit."""
    blank, fold = planner.blank, move.fold
    angles = {s.name: math.degrees(blank.turns[n][move.before[n]]) for n, s in enumerate(blank.strips)}
    state = posed(blank.folded, angles)
    strip = next(z for z in state.zones if z.name == blank.strips[fold].name)
    over = blank.over(strip)
    for child, edge, name in ((True, strip.end(blank.thickness), strip.child), (False, strip.frame, strip.parent)):
        panels = blank.side(fold, child)
        mine = tuple(p for p in state.panels if blank.rigid_with[p.name] in panels)
        zones = tuple(z for z in state.zones if z is not strip and blank.rigid_with[z.parent] in panels)
        home = over @ edge.inverse()
        places = [at @ home for at in sides[child]]
        yield _Moved(f"side of {name}", "part", (replace(state, panels=mine, zones=zones),), places)


def _pose(turn: float, place: Iterable[float]) -> Frame:
    """Return a pose of the machine's plane as a move in space: x runs along the fold."""
    c, s = math.cos(turn), math.sin(turn)
    y, z = (float(v) for v in place)
    return Frame((0.0, y, z), (1.0, 0.0, 0.0), (0.0, c, s), (0.0, -s, c))


def _drawn_out(shape: Any, x0: float, x1: float) -> tuple[Folded, ...]:
    """Return a polygon of the machine's plane as bodies from x0 to x1 along the fold; none where x1 is not beyond x0."""
    if x1 <= x0:
        return ()
    at = Frame((x0, 0.0, 0.0)) @ ALONG
    return tuple(
        body_of_piece(Piece(outer=_loop(p.exterior), holes=tuple(map(_loop, p.interiors)), height=x1 - x0, at=at))
        for p in shapely.get_parts(shape)
        if p.geom_type == "Polygon" and not p.is_empty
    )


def _loop(ring: Any) -> Loop:
    return polygon([(float(y), float(z)) for y, z in ring.coords[:-1]]).anticlockwise()
