"""Where the part touches a back gauge's finger: first contact with any metal of the state before the stroke.

The finger is a block with an upright front, from `below` under the die's top to `above` over it, moved in square to
the fold; it stops at the first metal anywhere along the fold. What it touches serves as reference only where it lies
straight along the finger, and where it is an edge or a face that stands up: from a face that lies flatter than 45
degrees the part climbs off the finger's corner.
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Sequence
from itertools import combinations, pairwise
from typing import Final

import numpy as np

from tinbook.making.articulated import ArticulatedPart, Levels, RigidBody, Way
from tinbook.making.labels import named
from tinbook.making.pose import bent_by
from tinbook.memo import Memo
from tinbook.plane.loops import Array
from tinbook.shop.tools.machine import Machine
from tinbook.shop.tools.strokes import BendStroke
from tinbook.values import dataclass

ABOVE: Final = 12.0
BELOW: Final = 5.0
WIDTH: Final = 20.0
"""mm: a usual finger reaches so far over the die's top and below it, and is so wide (common practice)."""
LEVEL: Final = 0.05
"""mm: what lies this much farther from the finger than the first metal still lies against it."""
SHAVED: Final = 0.1
"""mm: how much lower the finger is taken to learn how steep the metal is that its corner touches."""
STEEP: Final = 1.0 + 1e-6
"""How much farther back a face may reach for each mm of height: one that stands at 45 degrees still holds (own proposal)."""
BEFORE: Final[Memo[_Before]] = Memo("what stands before a finger")
FINE: Final[Memo[Array]] = Memo("bands of a strip with corners on its skins")
_FINE: Final = math.radians(2.0)
_PAIRS: Final = np.array(list(combinations(range(8), 2))).T


@dataclass(frozen=True, slots=True)
class Finger:
    """A back gauge's finger.

    Parameters
    ----------
    above, below : float
        How far it reaches over the die's top and below it, mm.
    width : float
        mm; half of it must lie against something straight.
    assumed : bool
        Whether one of these is a usual size because the shop file gives none.
    """

    above: float
    below: float
    width: float
    assumed: bool

    @classmethod
    def of(cls, machine: Machine) -> Finger:
        """Return a machine's finger, usual sizes where the shop file gives none."""
        given = (machine.finger_above, machine.finger_below, machine.finger_width)
        above, below, width = (u if g is None else g for g, u in zip(given, (ABOVE, BELOW, WIDTH), strict=True))
        return cls(above, below, width, None in given)


@dataclass(frozen=True, slots=True)
class Contact:
    """What the finger touches.

    Parameters
    ----------
    at : float
        From it to the middle of the bend, mm.
    body : RigidBody
        Metal that touches, the farthest from the sheet's plane where several do: an upright leg and its bend.
    child : bool
        Whether that hangs on the child's side of the fold.
    edge : str
        Name of what touches for the longest stretch: an edge, the outside of a fold, a face.
    cut : str
        "panel.edge" where a cut edge touches, else "".
    place : (float, float, float)
        A point of the contact in the section frame of its side.
    slope : float
        How much `at` grows as the finger's touching corner is a mm higher; 0 at an edge and at an upright face.
    """

    at: float
    body: RigidBody
    child: bool
    edge: str
    cut: str
    place: tuple[float, float, float]
    slope: float


@dataclass(frozen=True, slots=True)
class Gauge:
    """How a fold is set.

    Parameters
    ----------
    edge : str
        What lies against the gauge; "" where the part is set to its mark.
    at : float
        From it to the middle of the bend in the part's state at that step, mm; 0 without a stop.
    why : str
        Why there is no stop, "" where there is one.
    contact : Contact or None
        What touches.
    """

    edge: str
    at: float
    why: str = ""
    contact: Contact | None = None


def gauge_of(
    blank: ArticulatedPart, machine: Machine, stroke: BendStroke, fold: int, child: bool, levels: Levels
) -> Gauge:
    """Return how a fold is set on a machine, with the child's or the parent's side at the back.

    Parameters
    ----------
    blank : ArticulatedPart
        The part.
    machine : Machine
        With or without a gauge.
    stroke : BendStroke
        Of the setup.
    fold : int
        Number of the fold, not yet formed.
    child : bool
        Whether the child's side lies at the back.
    levels : tuple of int
        State before the stroke.
    """
    if stroke.no_gauge or machine.gauge_max is None:
        return Gauge("", 0.0, stroke.no_gauge or "the machine has no gauge")
    found = contact(blank, Finger.of(machine), fold, child, levels)
    if isinstance(found, str):
        return Gauge("", 0.0, found)
    low = machine.gauge_min or 0.0
    if not low <= found.at <= machine.gauge_max:
        return Gauge(
            "", 0.0, f"{found.edge} lies {found.at:.1f} mm back, the gauge reaches {low:g} to {machine.gauge_max:g}"
        )
    return Gauge(found.edge, found.at, "", found)


def contact(blank: ArticulatedPart, finger: Finger, fold: int, child: bool, levels: Levels) -> Contact | str:
    """Return what the finger touches first, or why that is no reference."""
    before = BEFORE.of(blank, lambda: _before(blank, finger, fold, child), (finger, fold, child))
    fars = [before.reach(n, levels)[0] for n in range(len(before.bodies))]
    at = max(fars, default=0.0)
    if at <= 0.0:
        return "no metal stands before the fingers"
    first = [n for n, far in enumerate(fars) if far >= at - LEVEL and far > 0.0]
    shaved_finger = Finger(finger.above - SHAVED, finger.below - SHAVED, finger.width, finger.assumed)
    shaved = BEFORE.of(blank, lambda: _before(blank, shaved_finger, fold, child), (shaved_finger, fold, child))
    lower = max(shaved.reach(n, levels)[0] for n, far in enumerate(fars) if far > 0.0)
    slope = (at - lower) / SHAVED
    # Many states of the other folds leave alone what the finger touches.
    key = (tuple([(n, before.on_way(n, levels)) for n in first]), at, slope)
    if key not in before.touched:
        before.touched[key] = _touched(before, first, at, slope, levels)
    return before.touched[key]


@dataclass(frozen=True, slots=True, eq=False)
class _Before:
    """The bodies on both sides of a fold, seen by a finger, and what is known of them.

    Parameters
    ----------
    bodies : tuple of (bool, RigidBody, tuple of int)
        Whether it hangs on the child's side, the body, and the folds that place it.
    reached : tuple of dict
        For each body by the levels of those folds, how far back it reaches at the height of the finger, and its points there.
    touched : dict
        What the finger touches, by the bodies that it meets first and their levels.
    """

    blank: ArticulatedPart
    finger: Finger
    fold: int
    child: bool
    bodies: tuple[tuple[bool, RigidBody, Way], ...]
    reached: tuple[dict[Levels, tuple[float, Array]], ...]
    touched: dict[tuple[Hashable, ...], Contact | str]

    def on_way(self, n: int, levels: Levels) -> Levels:
        """Return the levels of the folds that place a body."""
        return tuple([levels[k] for k in self.bodies[n][2]])

    def reach(self, n: int, levels: Levels) -> tuple[float, Array]:
        """Return how far back a body reaches at the height of the finger, and its points there, shape (m, 4).

        A point's numbers: its piece, then x, y, z in the section frame, y counted backward from the middle of the bend.
        """
        at = self.on_way(n, levels)
        if at not in self.reached[n]:
            side, body, _ = self.bodies[n]
            self.reached[n][at] = _farthest(self.blank, self.finger, self.fold, self.child, side, body, levels)
        return self.reached[n][at]


def _before(blank: ArticulatedPart, finger: Finger, fold: int, child: bool) -> _Before:
    bodies = tuple((side, body, way) for side in (True, False) for body, way in blank.bodies_of(fold, side))
    return _Before(blank, finger, fold, child, bodies, tuple({} for _ in bodies), {})


def _touched(before: _Before, first: Sequence[int], at: float, slope: float, levels: Levels) -> Contact | str:
    blank, finger, fold, child = before.blank, before.finger, before.fold, before.child
    listed, total = [], []
    for n in first:
        side, body, _ = before.bodies[n]
        points = before.reach(n, levels)[1]
        points = points[points[:, 2] >= at - LEVEL]
        stretches = _stretches(points)
        total += stretches
        listed.append((sum(b - a for a, b in stretches), side, body, points))
    _, side, body, points = max(listed, key=lambda each: (each[0], each[2].kind == "strip"))
    if body.formed:
        return f"{named(body.kind, body.name)} stands before the fingers"
    if slope > STEEP:
        return f"{_word(body)} slopes past the fingers"
    if _length(total) < finger.width / 2:
        return f"nothing straight along the fold lies against the fingers, first {_word(body)}"
    edge, cut = _named(blank, finger, fold, child, side, body, levels, at)
    # An upright leg that leans a little touches where it is farthest from the sheet's plane: the worst for errors.
    side, body, place = max(
        ((s, b, p[abs(p[:, 3]).argmax(), 1:]) for _, s, b, p in listed), key=lambda each: abs(each[2][2])
    )
    high = -1.0 if place[2] < (finger.above - finger.below) / 2 else 1.0
    half = blank.strips[fold].allowance / 2
    y = (place[1] if child else -place[1]) + (-half if side else half)
    spot = (float(place[0]), float(y), float(place[2]))
    return Contact(at, body, side, edge, cut, spot, 0.0 if slope < 1e-6 else high * slope)


def _word(body: RigidBody) -> str:
    return named("fold", body.name) if body.kind == "strip" else body.name


def _farthest(
    blank: ArticulatedPart, finger: Finger, fold: int, child: bool, side: bool, body: RigidBody, levels: Levels
) -> tuple[float, Array]:
    m = blank.placed(fold, side, body.panel, levels)
    if body.own is None:
        pieces = blank.pieces(body, levels)
    else:
        own, level = body.own, levels[body.own]
        pieces = FINE.of(blank, lambda: _fine_strip(blank, own, level), (own, level))
    q = m.points(pieces)
    half = blank.strips[fold].allowance / 2
    # Each side's y runs from its own tangent line; before the stroke both lie in one plane.
    y = q[..., 1] + half if side else q[..., 1] - half
    q[..., 1] = y if child else -y
    points = _in_band(q, -finger.below, finger.above)
    far = float(points[..., 1].max(initial=-math.inf))
    piece, corner = np.nonzero(points[..., 1] >= far - LEVEL) if far > 0.0 else (np.empty(0, int),) * 2
    return far, np.column_stack((piece, points[piece, corner]))


def _in_band(q: Array, low: float, high: float) -> Array:
    """Return corners and cut edges of convex pieces between two heights; y is -inf for those that are not there."""
    z = q[..., 2]
    if not len(q) or z.min() > high or z.max() < low:
        return np.full((0, 8, 3), -np.inf)
    corners = q.copy()
    corners[..., 1] = np.where((z >= low - 1e-9) & (z <= high + 1e-9), q[..., 1], -np.inf)
    if z.min() >= low - 1e-9 and z.max() <= high + 1e-9:
        return corners
    out = [corners]
    a, b = q[:, _PAIRS[0]], q[:, _PAIRS[1]]
    for plane in (low, high):
        da, db = a[..., 2] - plane, b[..., 2] - plane
        crosses = da * db < 0.0
        share = np.where(crosses, da / np.where(crosses, da - db, 1.0), 0.0)
        cut = a + share[..., None] * (b - a)
        cut[..., 1] = np.where(crosses, cut[..., 1], -np.inf)
        out.append(cut)
    return np.concatenate(out, axis=1)


def _stretches(points: Array) -> list[tuple[float, float]]:
    """Return from where to where each piece lies against the finger, along the fold."""
    out = []
    for piece in np.unique(points[:, 0]):
        x = points[points[:, 0] == piece][:, 1]
        out.append((float(x.min()), float(x.max())))
    return out


def _length(stretches: list[tuple[float, float]]) -> float:
    """Length of the union of stretches, mm."""
    total, end = 0.0, -math.inf
    for a, b in sorted(stretches):
        total += max(b - max(a, end), 0.0)
        end = max(end, b)
    return total


def _fine_strip(blank: ArticulatedPart, fold: int, level: int) -> Array:
    """Bands of a strip with their corners on its skins; the planner's own stand out a little, to hide nothing."""
    s, t, turn = blank.strips[fold], blank.thickness, blank.turns[fold][level]
    if turn < 1e-7:
        return blank.pieces(blank.strip_bodies[fold], (0,) * len(blank.strips))
    bent, count = bent_by(s, turn, blank.root(fold)), math.ceil(turn / _FINE)
    frames = [bent.ruling(s.allowance * k / count, t) for k in range(count + 1)]
    out = []
    for region in s.regions:
        x = [p[0] for p in region.points]
        for a, b in pairwise(frames):
            out.append([f(at, 0.0, z) for at in (min(x), max(x)) for f, z in ((a, 0.0), (b, 0.0), (b, t), (a, t))])
    return np.array(out, dtype=float).reshape(-1, 8, 3)


def _named(
    blank: ArticulatedPart,
    finger: Finger,
    fold: int,
    child: bool,
    side: bool,
    body: RigidBody,
    levels: Levels,
    at: float,
) -> tuple[str, str]:
    """Return the name of what touches, and of its cut edge."""
    if body.kind == "strip":
        return f"outside of {named('fold', body.name)}", ""
    panel = blank.folded.panel(body.panel)
    m = blank.placed(fold, side, panel.name, levels)
    half = blank.strips[fold].allowance / 2
    best = ("", 0.0)
    for e in panel.boundary.edges:
        if not e.is_line or e.length < 1.0:
            continue
        ends = np.array([m(*p, z) for z in (0.0, blank.thickness) for p in (e.start, e.end)])
        y = ends[:, 1] + half if side else ends[:, 1] - half
        y = y if child else -y
        there = (y >= at - LEVEL) & (ends[:, 2] >= -finger.below - 1e-9) & (ends[:, 2] <= finger.above + 1e-9)
        if (there[:2].all() or there[2:].all()) and e.length > best[1]:
            best = e.name, e.length
    name = best[0]
    if name.startswith("fold:"):
        return f"outside of {named('fold', name[5:])}", ""
    if best[1] == 0.0:
        return f"face of {panel.name}", ""
    return (name if panel.name == "base" else f"{panel.name}.{name}"), f"{panel.name}.{name}"
