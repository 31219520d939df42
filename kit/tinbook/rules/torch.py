"""Rule of access: a welding torch, its nozzle straight and at the angles a welder holds it, reaches every seam."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from typing import Any, Final

import numpy as np
import shapely

from tinbook.finding import Finding, caution, fine, stop
from tinbook.making.assembled import Assembled
from tinbook.part.links import Weld
from tinbook.plane.loops import Array
from tinbook.route.ways import Patch, Solid, patches, region_at, view_along
from tinbook.rules.room import nearest
from tinbook.rules.welds import groups as joined_groups
from tinbook.rules.welds import thickness
from tinbook.space import Vec, negative, unit
from tinbook.values import dataclass

NOZZLE: Final = 20.0
"""mm: diameter of a small MIG nozzle (common practice: 16 to 25)."""
STICKOUT: Final = (12.0, 20.0)
"""mm: from the seam to the nozzle's end, least and most (common practice: 10 to 20)."""
REACH: Final = 80.0
"""mm: straight length of nozzle and neck (common practice)."""
WORK: Final = (45.0, 35.0, 55.0)
"""Degrees between torch and the plate that the seam lies on, best first (common practice)."""
TRAVEL: Final = (0.0, 20.0, -20.0, 40.0, -40.0)
"""Degrees of lean along the seam (common practice)."""
EVERY: Final = 25.0
"""mm between the places that are checked; the last 8 mm at each end are left out."""
SHORT: Final = 25.0
"""mm: shorter seams, such as the ends of a plate and its tabs, are not checked."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Seam:
    """One side of an edge that stands on a face.

    Parameters
    ----------
    start, end : (float, float, float)
        mm.
    out, up : (float, float, float)
        Away from the standing plate along the face, and out of the face on the standing plate's side.
    open : bool
        Whether the face ends here: the seam is an outside corner.
    """

    start: Vec
    end: Vec
    out: Vec
    up: Vec
    open: bool

    @property
    def length(self) -> float:
        """Length, mm."""
        return math.dist(self.start, self.end)


def torch(made: Assembled) -> Iterator[Finding]:
    """Check that a torch reaches each weld, both sides where both are welded, with the whole weldment in place."""
    welds = made.assembly.welds
    if not welds:
        return
    solids = {n: Solid.of([made.mesh(n)]) for n in dict.fromkeys(n for w in welds for n in (w.a, w.b))}
    groups = joined_groups(welds)
    reached = 0
    for w in welds:
        seams = seams_of(made, w, solids)
        if not seams:
            continue
        stands = np.concatenate([solids[n].corners for n in groups[w.a]])
        blocked = [_blocked(s, stands) for s in seams]
        both = w.both
        good = [b == 0.0 for b in blocked]
        if all(good) if both else any(good):
            reached += 1
            continue
        worst = max(blocked) if both else min(blocked)
        bad = worst > 0.5
        side = "its other side" if both else "either side" if bad else "a side"
        what = f"a nozzle of {NOZZLE:g} mm does not reach {'' if bad else 'all of '}{side}"
        remedy = "weld it from one side, move what stands beside it, or weld it before that is there"
        said = stop if bad else caution
        yield said("weld.torch", f"{w.a} and {w.b}", what, remedy, round(100 * worst), 0.0, "% of the seam")
    if reached:
        yield fine("weld.torch", "welds", f"a nozzle of {NOZZLE:g} mm reaches {reached} seams")


def seams_of(made: Assembled, w: Weld, solids: dict[str, Solid], *, laps: bool = False) -> list[Seam]:
    """Return the seams where the edge of one member stands on the face of the other, or those along the sides of laps.

    A torch reaches every lap. The two long sides of a place come one after the other.
    """
    thick = [t for t in (thickness(made, n) for n in (w.a, w.b)) if t is not None]
    if not thick:
        return []
    found = []
    for patch in patches(solids[w.a], solids[w.b]):
        if patch.wider_than(1.5 * max(thick)) == laps:
            found += list(_along(patch, solids[w.a], solids[w.b]))
    return found


def _along(patch: Patch, a: Solid, b: Solid) -> Iterator[Seam]:
    """Yield the two long sides of the contact patch of an edge on a face."""
    view = view_along(patch.normal)
    faces = {
        +1.0: region_at(a, patch.normal, patch.height),
        -1.0: region_at(b, negative(patch.normal), -patch.height, view),
    }
    for piece in getattr(patch.region, "geoms", (patch.region,)):
        ring = np.array(piece.minimum_rotated_rectangle.exterior.coords)[:4]
        sides = sorted(((ring[i], ring[(i + 1) % 4]) for i in range(4)), key=lambda s: -float(np.hypot(*(s[1] - s[0]))))
        if float(np.hypot(*(sides[0][1] - sides[0][0]))) < SHORT:
            continue
        middle = ring.mean(axis=0)
        # The face reaches beyond the edge that stands on it: more of it lies beside the patch.
        beside = piece.buffer(4.0).difference(piece.buffer(0.5))
        up = max(faces, key=lambda k: _area(faces[k], beside))
        for p, q in sides[:2]:
            across = (p + q) / 2 - middle
            across = across / max(float(np.hypot(*across)), 1e-9)
            strip = shapely.LineString([p + 2 * across, q + 2 * across])
            out = unit(tuple(float(v) for v in across @ view[:2]))  # type: ignore[arg-type]
            n = patch.normal if up > 0 else negative(patch.normal)
            yield Seam(
                start=_space(p, patch.height, view), end=_space(q, patch.height, view), out=out, up=n,
                open=not faces[up].buffer(0.1).intersects(strip),
            )  # fmt: skip


def _area(face: Any, beside: Any) -> float:
    return float(face.intersection(beside).area)


def _space(p: Array, height: float, view: Array) -> Vec:
    x, y, z = (float(v) for v in (p[0] * view[0] + p[1] * view[1] + height * view[2]))
    return x, y, z


def _blocked(s: Seam, stands: Array) -> float:
    """Return the share of a seam that no torch reaches."""
    along = unit(tuple(q - p for p, q in zip(s.start, s.end, strict=True)))  # type: ignore[arg-type]
    count = max(1, math.ceil((s.length - 16.0) / EVERY))
    at = [8.0 + (s.length - 16.0) * (k + 0.5) / count for k in range(count)]
    missed = 0
    work = (*WORK, 0.0, -45.0, 80.0) if s.open else WORK
    for k in at:
        p: Vec = tuple(c + k * d for c, d in zip(s.start, along, strict=True))  # type: ignore[assignment]
        missed += not any(_free(s, p, along, a, lean, stands) for a, lean in itertools.product(work, TRAVEL))
    return missed / count


def _free(s: Seam, p: Vec, along: Vec, work: float, lean: float, stands: Array) -> bool:
    """Whether the nozzle, held at these angles, is clear of all metal."""
    a, b = math.radians(work), math.radians(lean)
    axis = unit(
        tuple(
            math.cos(b) * (math.cos(a) * o + math.sin(a) * u) + math.sin(b) * t
            for o, u, t in zip(s.out, s.up, along, strict=True)
        )  # type: ignore[arg-type]
    )
    return any(
        math.isinf(nearest(p, axis, stick, stick + REACH, NOZZLE / 2, stands))
        for stick in (STICKOUT[0], sum(STICKOUT) / 2, STICKOUT[1])
    )
