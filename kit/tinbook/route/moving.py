"""The metal of a part as one fold moves it: its shadows, and what it hits of the tools on the way."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import field
from typing import Any, Final, TypeAlias

import numpy as np
import numpy.typing as npt
import shapely

from tinbook.making.articulated import ArticulatedPart, Levels, RigidBody
from tinbook.memo import Memo
from tinbook.plane.loops import Array
from tinbook.route.shadows import reach, ring_of, shadow, whole_shadow
from tinbook.shop.tools.outlines import GAP
from tinbook.shop.tools.setups import ToolBody
from tinbook.shop.tools.strokes import Motion, moved
from tinbook.values import dataclass

SHADE: Final[Memo[Any]] = Memo("shadow of a body within a stretch")
Placed: TypeAlias = tuple[bool, RigidBody, Levels]
"""A body on the leg's side (True) or the parent's, with the levels of the folds that place it."""
Way: TypeAlias = tuple[bool, tuple[int, ...], Levels, str, bytes, tuple[float, float], tuple[float, float]]
"""A group of bodies, a tool by frame and outline, the stretch and the way by which it is drawn off (`takeout`)."""


@dataclass(frozen=True, slots=True)
class Clash:
    """Something hits.

    Parameters
    ----------
    body, kind : str
        Which metal, see `pose.RigidBody`.
    against : str
        Name of the machine's part, or "fold NAME" / "panel NAME" of the work itself.
    angle : float
        Degrees turned when they meet; the first such angle once it is `Sweep.measured`.
    depth : float
        How far they overlap at worst, mm.
    worst : float
        Degrees turned when they overlap most.
    """

    body: str
    kind: str
    against: str
    angle: float
    depth: float = math.nan
    worst: float = math.nan


@dataclass(frozen=True, eq=False)
class MovingMetal:
    """A part while one fold moves in one way: what holds for every setup in which it moves so.

    Parameters
    ----------
    blank : ArticulatedPart
        The part.
    fold : int
        Number of the fold.
    motion : Motion
        How it moves.
    """

    blank: ArticulatedPart
    fold: int
    motion: Motion
    _hits: dict[tuple[bool, RigidBody, Levels, str, str, tuple[float, float], bytes], Clash | None] = field(
        default_factory=dict, init=False, repr=False
    )
    _clear: dict[tuple[bool, str, bytes, float], str] = field(default_factory=dict, init=False, repr=False)
    _reaches: dict[Placed, float] = field(default_factory=dict, init=False, repr=False)
    _rings: dict[bytes, tuple[float, float]] = field(default_factory=dict, init=False, repr=False)
    barred: dict[Way, bool] = field(default_factory=dict, init=False, repr=False)

    def on_way(self, child: bool, body: RigidBody, levels: Levels) -> Levels:
        """Return the levels of the folds that place a body."""
        return tuple([levels[n] for n in self.blank.ways(self.fold, child)[body]])

    def shade(self, child: bool, body: RigidBody, levels: Levels, span: tuple[float, float]) -> Any:
        """Return the shadow of a body within a stretch, in the section frame."""
        key = (self.fold, child, body, self.on_way(child, body, levels), span)
        return SHADE.of(self.blank, lambda: self._shade(child, body, levels, span), key)

    def _shade(self, child: bool, body: RigidBody, levels: Levels, span: tuple[float, float]) -> Any:
        pieces = self.blank.posed(self.fold, child, body, levels)
        return whole_shadow(pieces, body.kind, *span) or shadow(pieces, *span)

    def hit(self, child: bool, body: RigidBody, levels: Levels, piece: ToolBody) -> Clash | None:
        """Return the clash of a body with a part of the machine, None if they never meet."""
        key = (child, body, self.on_way(child, body, levels), piece.name, piece.frame, piece.span, piece.mark)
        if key not in self._hits:
            self._hits[key] = self._hit(child, body, levels, piece)
        return self._hits[key]

    def _hit(self, child: bool, body: RigidBody, levels: Levels, piece: ToolBody) -> Clash | None:
        if self._shows_nothing(child, body, levels, piece):
            return None
        shift = self.motion.run(child, piece.frame)[2]
        e = self.blank.extent(self.fold, child, body, levels)
        if piece.mark not in self._rings:
            self._rings[piece.mark] = ring_of(piece.shape)
        inner, outer = self._rings[piece.mark]
        if e.far + shift < inner or e.near > outer + shift:
            return None
        turn, place = self.motion.seen(child, piece.frame)
        if piece.frame == "closed":
            turn, place = turn[-1:], place[-1:]
        if boxes_clear(e.corners, turn, place, piece.shape.bounds, self.travel(child, piece.frame, e.far)):
            return None
        shape = self.shade(child, body, levels, piece.span)
        if shape.is_empty:
            return None
        # What lies further out than any point of the tool cannot meet it.
        size, far = reach(shape), outer + shift + 1.0
        if size > far:
            shape = shapely.intersection(shape, shapely.box(-far, -far, far, far))
            if shape.is_empty:
                return None
            size = reach(shape)
        go = self.travel(child, piece.frame, size)
        if boxes_clear(shapely.get_coordinates(shape), turn, place, piece.shape.bounds, go):
            return None
        hit, _ = search_sweep(lambda k: self.apart(shape, turn[k], place[k], piece.shape), go, len(turn))
        if hit is None:
            return None
        angles = self.motion.angles
        at = angles[-1] if piece.frame == "closed" else angles[hit]
        return Clash(body.name, body.kind, piece.name, math.degrees(float(at)))

    def _clears(self, child: bool, piece: ToolBody, over: float) -> str:
        """On which side of the whole plane of a panel beside the fold a tool stays: "below", "above", "" if it does not.

        Over a die only what lies on the panel's side of the punch's tip, or past it by `over` mm, is asked.
        """
        key = (child, piece.frame, piece.mark, over)
        if key not in self._clear:
            turn, place = self.motion.seen(child, piece.frame)
            step = max(1, len(turn) // 400)
            rows = np.unique(np.append(np.arange(0, len(turn), step), len(turn) - 1))
            if piece.frame == "closed":
                rows = rows[-1:]
            shape = piece.shape
            if self.motion.stroke.punched:
                half = shapely.box(-over, -2e3, 2e3, 2e3) if child else shapely.box(-2e3, -2e3, over, 2e3)
                shape = shapely.intersection(shape, half)
            c = shapely.get_coordinates(shape)
            w = moved(c[None] - place[rows][:, None], -turn[rows][:, None])[..., 1]
            below, above = bool((w <= -GAP / 4).all()), bool((w >= self.blank.thickness + GAP / 4).all())
            self._clear[key] = "below" if below else "above" if above else ""
        return self._clear[key]

    def _past(self, child: bool, body: RigidBody, levels: Levels) -> float:
        """How far a body reaches past the middle of a die to the other side, mm; negative: it stays on its own."""
        key = (child, body, self.on_way(child, body, levels))
        if key not in self._reaches:
            turn, place = self.motion.seen(child, "lower")
            rows = np.linspace(0, len(turn) - 1, 65).round().astype(np.intp)
            q = self.blank.extent(self.fold, child, body, levels).corners
            y = q[:, 0] * np.cos(turn[rows])[:, None] - q[:, 1] * np.sin(turn[rows])[:, None] + place[rows, :1]
            self._reaches[key] = -float((y if child else -y).min())
        return self._reaches[key]

    def _shows_nothing(self, child: bool, body: RigidBody, levels: Levels, piece: ToolBody) -> bool:
        """Whether a tool stays below (or above) a panel's whole plane and so cannot meet a body, without a sweep."""
        e = self.blank.extent(self.fold, child, body, levels)
        if e.z0 < -1e-6:
            return False
        sides = ("below", "above") if e.z1 < self.blank.thickness + 1e-6 else ("below",)
        if not self.motion.stroke.punched:
            return len(sides) == 2 and self._clears(child, piece, 0.0) != ""
        # A panel's corners may run past the line, up to where its mould lines cross.
        past = self._past(child, body, levels)
        return any(
            self._clears(child, piece, over) in sides and past < over - 0.05
            for over in (0.0, self.motion.contact[0] / 4)
        )

    def travel(self, child: bool, frame: str, size: float) -> Callable[[Index, Index], Array]:
        """Bound of how far any point of a side within `size` of its nought moves between samples."""
        way, turned, _ = self.motion.run(child, frame)
        return lambda i, j: np.asarray(1.001 * (way[j] - way[i] + size * (turned[j] - turned[i])) + 1e-9)

    @staticmethod
    def apart(shape: Any, turn: Array, place: Array, tool: Any) -> Array:
        """Return the distance of a turned and placed shape from a tool at each sample, 0 where they overlap, mm."""
        n = len(shapely.get_coordinates(shape))
        t, p = np.repeat(turn, n), np.repeat(place, n, axis=0)
        there = shapely.transform(np.full(len(turn), shape), lambda c: moved(c, t) + p)
        return np.asarray(shapely.distance(tool, there))


Index = npt.NDArray[np.intp]
COARSE: Final = 9


def search_sweep(
    gap: Callable[[Index], Array], travel: Callable[[Index, Index], Array], count: int
) -> tuple[int | None, int]:
    """Look for a sample where something hits, as finely as needed to miss none.

    Parameters
    ----------
    gap : callable
        Samples -> distance apart, at most 0 where they overlap.
    travel : callable
        Two rows of samples -> bound of how far any point moves between them.
    count : int
        Samples there are.

    Returns
    -------
    hit : int or None
        The first overlapping sample that was looked at.
    looked : int
        How many were.
    """
    at = _coarse(count)
    known = gap(at)
    looked = len(at)
    if (known <= 0).any():
        return int(at[np.argmax(known <= 0)]), looked
    i, j, gi, gj = at[:-1], at[1:], known[:-1], known[1:]
    while True:
        open_ = (j - i > 1) & (gi + gj <= travel(i, j))
        if not open_.any():
            return None, looked
        i, j, gi, gj = i[open_], j[open_], gi[open_], gj[open_]
        m = (i + j) // 2
        gm = gap(m)
        looked += len(m)
        if (gm <= 0).any():
            return int(m[np.argmax(gm <= 0)]), looked
        i, j = np.concatenate((i, m)), np.concatenate((m, j))
        gi, gj = np.concatenate((gi, gm)), np.concatenate((gm, gj))


def boxes_clear(
    points: Array,
    turn: Array,
    place: Array,
    box: tuple[float, float, float, float],
    travel: Callable[[Index, Index], Array],
) -> bool:
    """Whether the box round some points stays so far from another's that nothing can happen between the coarsest samples."""
    at = _coarse(len(turn))
    c = moved(points[None], turn[at][:, None]) + place[at][:, None]
    low, high = c.min(axis=1), c.max(axis=1)
    gap = np.maximum(np.maximum(low - box[2:], np.array(box[:2]) - high), 0.0)
    apart = np.hypot(gap[:, 0], gap[:, 1])
    if len(at) == 1:
        return bool(apart[0] > 0.0)
    return bool((apart[:-1] + apart[1:] > travel(at[:-1], at[1:])).all())


def _coarse(count: int) -> Index:
    return (np.arange(COARSE) * (count - 1)) // (COARSE - 1) if count > COARSE else np.arange(count)
