"""How both sides of a fold move in the machine's plane while it turns, and where the tools are meanwhile."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Final

import numpy as np

from tinbook.making.folded import BendZone
from tinbook.plane.loops import Array
from tinbook.route.outlines import GAP
from tinbook.route.setups import Setup
from tinbook.shop.tools.base import HEM_START

FINEST: Final = math.radians(0.02)
"""rad: between two samples of the finest sweep a point 300 mm away moves by 0.1 mm at most."""


@dataclass(frozen=True, eq=False)
class Motion:
    """How both sides of a fold move in the machine's plane while it turns from one angle to another.

    Parameters
    ----------
    strip : BendZone
        The fold.
    thickness : float
        mm.
    setup : Setup
        How it is made.
    first, last : float
        Radians, springback's over-travel included.
    """

    strip: BendZone
    thickness: float
    setup: Setup
    first: float
    last: float

    @cached_property
    def angles(self) -> Array:
        """Samples, radians, evenly spaced."""
        return np.linspace(self.first, self.last, max(17, math.ceil((self.last - self.first) / FINEST) + 1))

    def _strip_terms(self, a: Array) -> tuple[Array, Array]:
        """Return (w, rho) so that the inside radius is w / a + rho, as in `pose.radius_at`."""
        s, full, end = self.strip, math.radians(self.strip.angle), self.strip.radius
        after = np.full_like(a, end)
        if self.strip.begun is not None:
            first = math.radians(HEM_START)
            after = self.strip.begun + (end - self.strip.begun) * np.clip((a - first) / (full - first), 0.0, 1.0)
            full, end = first, self.strip.begun
        past = a > full
        return np.where(past, 0.0, s.allowance), np.where(past, after, end - s.allowance / full)

    def _arc(self, a: Array, part: Array, limit: float) -> Array:
        """Return (inside radius + t) times `part`, which goes to 0 as limit * a."""
        w, rho = self._strip_terms(a)
        small = a < 1e-9
        over = np.where(small, limit, part / np.where(small, 1.0, a))
        return np.asarray(w * over + (rho + self.thickness) * part)

    @cached_property
    def poses(self) -> dict[bool, tuple[Array, Array]]:
        """For the child's side (True) and the parent's: turn (n,) and place (n, 2) in the machine."""
        a = self.angles
        zero = np.zeros_like(a)
        if self.setup.process not in ("air", "bottom"):
            along, rise = self._arc(a, np.sin(a), 1.0), self._arc(a, 1 - np.cos(a), 0.0)
            if self.setup.way == 0:
                return {True: (a, np.column_stack((along, rise))), False: (zero, np.zeros((len(a), 2)))}
            return {True: (zero, np.zeros((len(a), 2))), False: (-a, np.column_stack((-along, rise)))}
        half = a / 2
        along = self._arc(a, np.sin(half), 0.5)
        centre, radius = self.setup.contact
        # The outside of either leg rests on the shoulder of the die.
        line = -np.sin(half) * centre - np.cos(half) * radius + radius + GAP
        z = (line + np.sin(half) * along) / np.cos(half)
        return {True: (half, np.column_stack((along, z))), False: (-half, np.column_stack((-along, z)))}

    @cached_property
    def tip(self) -> Array:
        """Height of the punch's tip, on the inside of the bend, shape (n,)."""
        a = self.angles
        z = self.poses[True][1][:, 1]
        bow = self._arc(a, np.cos(a / 2) - 1, 0.0) + self.thickness
        return np.asarray(z + bow + GAP)

    @cached_property
    def kept(self) -> dict[Any, Any]:
        """What was worked out already."""
        return {}

    def seen(self, child: bool, frame: str) -> tuple[Array, Array]:
        """Turn and place of a side, seen from the tools of a frame or, frame "parent", from the other side."""
        key = (child, frame)
        if key not in self.kept:
            self.kept[key] = self._seen(child, frame)
        return self.kept[key]  # type: ignore[no-any-return]

    def run(self, child: bool, frame: str) -> tuple[Array, Array, float]:
        """Way of a side's nought and its turn up to each sample, and how far its nought lies from the tools' at most."""
        key = ("run", child, frame)
        if key not in self.kept:
            turn, place = self.seen(child, frame)
            steps = np.hypot(*np.diff(place, axis=0).T)
            way, turned = (
                np.concatenate(([0.0], np.cumsum(steps))),
                np.concatenate(([0.0], np.cumsum(abs(np.diff(turn))))),
            )
            self.kept[key] = way, turned, float(np.hypot(place[:, 0], place[:, 1]).max())
        return self.kept[key]  # type: ignore[no-any-return]

    def _seen(self, child: bool, frame: str) -> tuple[Array, Array]:
        turn, place = self.poses[child]
        if frame == "upper":
            return turn, place - np.column_stack((np.zeros_like(self.tip), self.tip))
        if frame in ("swing", "parent"):
            t0, p0 = self.poses[frame == "swing" and self.setup.way == 0]
            return turn - t0, moved(place - p0, -t0)
        return turn, place


def moved(points: Array, angle: Array) -> Array:
    """Return points turned about nought, each by its own angle in radians, shape (..., 2)."""
    c, s = np.cos(angle), np.sin(angle)
    return np.stack((c * points[..., 0] - s * points[..., 1], s * points[..., 0] + c * points[..., 1]), axis=-1)
