"""How a hit moves both sides of a fold and the tools, in the plane square to the fold: y to the front, z upward."""

from __future__ import annotations

import math
from dataclasses import field
from functools import cached_property
from typing import Final, TypeAlias

import numpy as np

from tinbook.plane.loops import Array
from tinbook.shop.tools.outlines import GAP
from tinbook.values import dataclass

HEM_START: Final = 135.0
"""Degrees to which a tool turns the return of a hem, or the leg of a closed fold, before it is pressed on from there."""
FINEST: Final = math.radians(0.02)
"""rad: between two samples of the finest sweep a point 300 mm away moves by 0.1 mm at most."""

Pose: TypeAlias = tuple[Array, Array]
"""Turns in radians, shape (n,), and places in mm, shape (n, 2), of something at each sample of a sweep."""


@dataclass(frozen=True, slots=True)
class BendingStrip:
    """The strip of a fold while it bends evenly: it keeps its developed length, its radius shrinks to the final one.

    Parameters
    ----------
    angle : float
        Turned through when finished, degrees.
    radius, allowance, thickness : float
        Inside radius when finished, width of the strip in the flat, thickness, mm.
    start : float or None
        Inside radius to which a hem is begun, mm; None for a fold made in one hit.
    """

    angle: float
    radius: float
    allowance: float
    thickness: float
    start: float | None = None

    def _terms(self, a: Array) -> tuple[Array, Array]:
        """Return (w, rho) so that the inside radius is w / a + rho."""
        full, end = math.radians(self.angle), self.radius
        after = np.full_like(a, end)
        if self.start is not None:
            first = math.radians(HEM_START)
            after = self.start + (end - self.start) * np.clip((a - first) / (full - first), 0.0, 1.0)
            full, end = first, self.start
        past = a > full
        return np.where(past, 0.0, self.allowance), np.where(past, after, end - self.allowance / full)

    def arc(self, a: Array, part: Array, limit: float) -> Array:
        """Return (inside radius + thickness) times `part`, which goes to 0 as limit * a."""
        w, rho = self._terms(a)
        small = a < 1e-9
        over = np.where(small, limit, part / np.where(small, 1.0, a))
        return np.asarray(w * over + (rho + self.thickness) * part)


@dataclass(frozen=True, slots=True, kw_only=True)
class BendStroke:
    """A way of bending: how the sides of the fold move, and what follows from it for whoever works the machine.

    In this general form the side at the back lies still and the other swings up.

    Parameters
    ----------
    name : str
        Name of the process, as on the fold sheet.
    clamps : bool
        Whether the side at the back is held in the machine, so that the other alone swings.
    punched : bool
        Whether a punch comes down between both sides.
    around : bool
        Whether the tools still stand round the part when it is formed, so that it must be taken out of them.
    in_throat : bool
        Whether the side at the back lies in the machine's throat.
    no_gauge : str
        Why the part is not set against a back gauge, "" where it is if the machine has one.
    misses_gauge : bool
        Whether a step without a stop is worth a finding.
    line : str
        What of the machine is set to the operator's line.
    piece, pieces : str
        What one and several of the pieces are called that the upper tool is put together from.
    by_hand : bool
        Whether it is worked by hand, so that nobody asks for its force.
    second : bool
        Whether it is the second hit of a hem, which has no line, and of which no chart gives the force.
    names : tuple of (str, str)
        What the hit is called, by the kind of hem that it begins or closes, "" for a plain fold, "*" for any other.
    """

    name: str
    clamps: bool = False
    punched: bool = False
    around: bool = True
    in_throat: bool = True
    no_gauge: str = ""
    misses_gauge: bool = False
    line: str = "the middle of the bend"
    piece: str = "a piece"
    pieces: str = "pieces"
    by_hand: bool = False
    second: bool = False
    names: tuple[tuple[str, str], ...] = (("", "fold"), ("*", "start the hem"))

    def action(self, hem: str) -> str:
        """Return what a hit is called; `hem`: kind of the hem, "bar" for a fold closed over one, "" for another fold."""
        names = dict(self.names)
        return names[hem] if hem in names else names["*"]

    def swings(self, leg_back: bool) -> bool | None:
        """Whether the leg's side swings while the other is clamped (False: the parent's); None where none is clamped."""
        return not leg_back if self.clamps else None

    def hanging(self, leg_back: bool) -> tuple[bool, ...]:
        """Sides whose free end nothing carries during the hit, True for the leg's."""
        return (not leg_back,) if self.clamps else ()

    def key(self, leg_back: bool) -> tuple[str, bool]:
        """Return what is the same for setups in which the part moves alike."""
        return self.name, leg_back

    def sides(self, strip: BendingStrip, a: Array, leg_back: bool, contact: tuple[float, float]) -> dict[bool, Pose]:
        """Return the poses of the leg's side (True) and the parent's, each from its own tangent line.

        Parameters
        ----------
        strip : BendingStrip
            The fold.
        a : array, shape (n,)
            Radians turned.
        leg_back : bool
            Whether the leg lies at the back.
        contact : (float, float)
            See `setups.Setup`.
        """
        along, rise = strip.arc(a, np.sin(a), 1.0), strip.arc(a, 1 - np.cos(a), 0.0)
        still: Pose = np.zeros_like(a), np.zeros((len(a), 2))
        if leg_back:
            return {True: still, False: (-a, np.column_stack((-along, rise)))}
        return {True: (a, np.column_stack((along, rise))), False: still}

    def tool(self, frame: str, motion: Motion) -> Pose:
        """Return the pose of the tools of a frame: "swing" goes with the side that swings, all others lie still."""
        if frame == "swing":
            return motion.poses[not motion.leg_back]
        n = len(motion.angles)
        return np.zeros(n), np.zeros((n, 2))

    def touches(self, motion: Motion, k: int) -> list[tuple[float, float]]:
        """Return where the tools touch the sheet at a sample, as far as a picture marks it."""
        return []


@dataclass(frozen=True, eq=False)
class Motion:
    """How both sides of a fold and the tools move while it turns through the angles of a sweep.

    Parameters
    ----------
    strip : BendingStrip
        The fold.
    stroke : BendStroke
        How it is bent.
    leg_back : bool
        Whether the leg lies at the back.
    contact : (float, float)
        See `setups.Setup`.
    angles : array, shape (n,)
        Samples, radians, rising.
    """

    strip: BendingStrip
    stroke: BendStroke
    leg_back: bool
    contact: tuple[float, float]
    angles: Array
    _seen: dict[tuple[bool, str], Pose] = field(default_factory=dict, init=False, repr=False)
    _runs: dict[tuple[bool, str], tuple[Array, Array, float]] = field(default_factory=dict, init=False, repr=False)

    @property
    def first(self) -> float:
        """Radians at which the sweep begins."""
        return float(self.angles[0])

    @property
    def last(self) -> float:
        """Radians at which the sweep ends, springback's over-travel included."""
        return float(self.angles[-1])

    @cached_property
    def poses(self) -> dict[bool, Pose]:
        """Poses of the leg's side (True) and the parent's in the machine."""
        return self.stroke.sides(self.strip, self.angles, self.leg_back, self.contact)

    def seen(self, child: bool, frame: str) -> Pose:
        """Pose of a side, seen from the tools of a frame or, frame "parent", from the parent's side."""
        key = (child, frame)
        if key not in self._seen:
            turn, place = self.poses[child]
            if frame not in ("lower", "closed"):
                t0, p0 = self.poses[False] if frame == "parent" else self.stroke.tool(frame, self)
                turn, place = turn - t0, moved(place - p0, -t0)
            self._seen[key] = turn, place
        return self._seen[key]

    def run(self, child: bool, frame: str) -> tuple[Array, Array, float]:
        """Way of a side's nought and its turn up to each sample, and how far its nought lies from the tools' at most."""
        key = (child, frame)
        if key not in self._runs:
            turn, place = self.seen(child, frame)
            steps = np.hypot(*np.diff(place, axis=0).T)
            way, turned = (
                np.concatenate(([0.0], np.cumsum(steps))),
                np.concatenate(([0.0], np.cumsum(abs(np.diff(turn))))),
            )
            self._runs[key] = way, turned, float(np.hypot(place[:, 0], place[:, 1]).max())
        return self._runs[key]


def samples(first: float, last: float) -> Array:
    """Return the angles of a whole sweep, radians, evenly spaced."""
    return np.linspace(first, last, max(17, math.ceil((last - first) / FINEST) + 1))


@dataclass(frozen=True, slots=True, kw_only=True)
class PunchStroke(BendStroke):
    """A punch comes down between two shoulders: both sides rise by half the angle, their outsides on the shoulders."""

    punched: bool = True
    piece: str = "a piece of {punch}"
    pieces: str = "punch pieces"

    def hanging(self, leg_back: bool) -> tuple[bool, ...]:
        """Both sides' free ends hang."""
        return (False, True)

    def key(self, leg_back: bool) -> tuple[str, bool]:
        """Return one key for both ways round: with the punch turned round too, nothing differs for the part."""
        return self.name, False

    def sides(self, strip: BendingStrip, a: Array, leg_back: bool, contact: tuple[float, float]) -> dict[bool, Pose]:
        """Return the poses of both sides; see `BendStroke.sides`."""
        half = a / 2
        along = strip.arc(a, np.sin(half), 0.5)
        centre, radius = contact
        # The outside of either leg rests on the shoulder of the die.
        line = -np.sin(half) * centre - np.cos(half) * radius + radius + GAP
        z = (line + np.sin(half) * along) / np.cos(half)
        return {True: (half, np.column_stack((along, z))), False: (-half, np.column_stack((-along, z)))}

    def tool(self, frame: str, motion: Motion) -> Pose:
        """Return the pose of the tools of a frame: "upper" comes down with the punch, its tip on the inside."""
        if frame != "upper":
            return BendStroke.tool(self, frame, motion)
        a = motion.angles
        bow = motion.strip.arc(a, np.cos(a / 2) - 1, 0.0) + motion.strip.thickness
        tip = np.asarray(motion.poses[True][1][:, 1] + bow + GAP)
        return np.zeros_like(a), np.column_stack((np.zeros_like(a), tip))

    def touches(self, motion: Motion, k: int) -> list[tuple[float, float]]:
        """Return the punch's tip and where both legs rest on the shoulders."""
        centre, radius = motion.contact
        half = float(motion.angles[k]) / 2
        y, z = centre - radius * math.sin(half), radius * math.cos(half) - radius
        return [(0.0, float(self.tool("upper", motion)[1][k, 1])), (y, z), (-y, z)]


def moved(points: Array, angle: Array) -> Array:
    """Return points turned about nought, each by its own angle in radians, shape (..., 2)."""
    c, s = np.cos(angle), np.sin(angle)
    return np.stack((c * points[..., 0] - s * points[..., 1], s * points[..., 0] + c * points[..., 1]), axis=-1)
