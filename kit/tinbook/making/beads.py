"""Beads of a part on the shop's rolls: centre lines, footprints, and how they draw the sheet in."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tinbook.errors import BadValue
from tinbook.making.beadshape import BeadProfile, bead_path, footprint
from tinbook.making.layout import Refused
from tinbook.making.made import MadeBead
from tinbook.part.forms.bead import Bead
from tinbook.plane.loops import Array, Move, Point
from tinbook.shop.shop import Shop


def made_beads(features: tuple[Bead, ...], shop: Shop, thickness: float, *, draw: bool) -> dict[str, list[MadeBead]]:
    """Return the beads of every panel, copies told apart by a number.

    Parameters
    ----------
    features : tuple of Bead
        As declared.
    shop : Shop
        Gives the roll pairs.
    thickness : float
        mm.
    draw : bool
        Whether the sheet is allowed for the draw (not when it is trimmed after beading).
    """
    out: dict[str, list[MadeBead]] = {}
    for f in features:
        roll = shop.roll(f.roll)
        where = f"bead {f.name!r}"
        try:
            profile = BeadProfile(width=roll.width, depth=roll.depth, shoulder=roll.shoulder, thickness=thickness)
            radius = roll.min_curve if f.corner_radius is None else f.corner_radius
            if radius < roll.min_curve - 1e-9:
                raise Refused(
                    "bead.curve",
                    where,
                    f"rolls {roll.key} do not follow so tight a curve",
                    "a larger corner radius, or narrower rolls",
                    radius,
                    roll.min_curve,
                )
            path = bead_path(f.path, radius, where)
            outline = footprint(path, roll.width)
        except BadValue as wrong:
            raise Refused("bead.shape", where, str(wrong), "another path, roll pair or sheet") from None
        pulled = profile.draw * roll.draw if draw else 0.0
        for k in range(f.copies):
            shift = Move(u=k * f.step[0], v=k * f.step[1])
            out.setdefault(f.panel, []).append(
                MadeBead(
                    name=f.name if f.copies == 1 else f"{f.name} {k + 1}",
                    path=tuple(shift.edge(e) for e in path) if k else path,
                    width=roll.width,
                    depth=roll.depth,
                    shoulder=roll.shoulder,
                    direction=f.direction,
                    footprint=outline.moved(shift) if k else outline,
                    roll=roll.key,
                    draw=pulled,
                )
            )
    return out


@dataclass(frozen=True, slots=True)
class _Pull:
    centre: Point
    normal: Point
    half: float
    draw: float


@dataclass(frozen=True, slots=True)
class Draw:
    """Where the blank carries a point of a panel: pulled out by its beads, less `back`."""

    pulls: tuple[_Pull, ...] = ()
    back: Point = (0.0, 0.0)

    def __call__(self, p: Point) -> Point:
        """Return the point carried."""
        x, y = p
        for pull in self.pulls:
            u = (p[0] - pull.centre[0]) * pull.normal[0] + (p[1] - pull.centre[1]) * pull.normal[1]
            share = max(-1.0, min(1.0, u / pull.half)) * pull.draw / 2
            x, y = x + share * pull.normal[0], y + share * pull.normal[1]
        return x - self.back[0], y - self.back[1]

    def all(self, xy: Array) -> Array:
        """Return points carried, shape (n, 2)."""
        if not self.pulls:
            still: Array = xy - np.array(self.back)
            return still
        flat = np.array([(*p.centre, *p.normal, p.half, p.draw / 2) for p in self.pulls])
        normal = flat[:, 2:4]
        u = xy @ normal.T - (flat[:, :2] * normal).sum(axis=1)
        share = np.minimum(np.maximum(u / flat[:, 4], -1.0), 1.0) * flat[:, 5]
        out: Array = xy + share @ normal - np.array(self.back)
        return out


def drawn(beads: Sequence[MadeBead]) -> Draw:
    """Return where the blank must carry a point, so that it lies right once the beads have drawn in.

    Each straight bead moves what lies beside it outward by half its draw; on
    the bead itself the shift rises evenly. A curved bead counts by its chord.
    The draw is taken as even along the sheet, though it fades past the
    run-outs: edges parallel to the beads are right, the rest is the nearest
    simple guess (own proposal; a test strip settles the draw factor).
    """
    pulls = []
    for b in beads:
        if b.draw <= 0:
            continue
        (x0, y0), (x1, y1) = b.path[0].start, b.path[-1].end
        n = math.hypot(x1 - x0, y1 - y0)
        if n < 1e-9:
            continue
        pulls.append(_Pull(((x0 + x1) / 2, (y0 + y1) / 2), (-(y1 - y0) / n, (x1 - x0) / n), b.width / 2, b.draw))
    return Draw(tuple(pulls))
