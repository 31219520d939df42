"""Places at which elastic stress has no limit, found from the part and its supports: it grows with the mesh for ever.

Corners of the rim where the angle of metal between two edges exceeds what their supports allow, ends of held
edges and of slits, single points that hold. Stress is read on a ring two thicknesses away from them (common practice for hot spots).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Final

import numpy as np
import numpy.typing as npt

from tinbook.making.folded import MadePanel
from tinbook.making.made import Made
from tinbook.part.forms.profiles import Lanced
from tinbook.plane.loops import Edge, Loop
from tinbook.plane.meeting import turn
from tinbook.strength.mesh.quads import Mesh, sides_of
from tinbook.strength.shell.element import Array, Index
from tinbook.strength.supports import Support
from tinbook.values import dataclass

AWAY: Final = 2.0
"""Thicknesses from a singular place at which stress is read."""
LIMITS: Final = {"cc": 180.0, "cf": 95.0, "cs": 129.0, "ff": 180.0, "fs": 90.0, "ss": 90.0}
"""Angle of metal above which bending has no limit, degrees, between clamped, free and supported edges that may turn
(Williams 1952; Leissa 2001; from memory)."""
IN_PLANE: Final = {"ff": 180.0, "fh": 63.0, "hh": 180.0}
"""The same of stress in the plane, between free and held edges, Poisson's ratio 0.3 (Williams 1952; from memory)."""
MARGIN: Final = 2.0
"""Degrees above such a limit within which stress grows too slowly to matter (own choice)."""
CHORD: Final = 20.0
"""The same above half a turn between two edges held alike, where a round rim may be drawn as chords."""
ROUND: Final = 24
"""Places on a ring where a mesh is made fine."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A place where elastic stress has no limit.

    Parameters
    ----------
    words : str
        What it is and where, in the frame of its panel, mm.
    panel : str
    at : (float, float)
        In the panel's frame, mm.
    """

    words: str
    panel: str
    at: tuple[float, float]


def singular_places(made: Made, supports: Sequence[Support]) -> tuple[Place, ...]:
    """Return the places of a part where elastic stress has no limit, on its supports."""
    out: list[Place] = []
    for p in made.panels:
        mine = [s for s in supports if s.panel == p.name]
        on = "" if p.name == "base" else f" of '{p.name}'"
        points = [("single point", s.where) for s in mine if s.at == "point" and not isinstance(s.where, str)]
        lanced = [f for f in (form.profile(made.thickness) for form in p.forms) if isinstance(f, Lanced)]
        slits = [("end of a slit", at) for f in lanced for at in (f.slit.start, f.slit.end)]
        for kind, (x, y) in [*_corners(p, mine), *slits, *points]:
            out.append(Place(words=f"{kind}{on} at ({x:.4g}, {y:.4g})", panel=p.name, at=(float(x), float(y))))
    return tuple(out)


def _corners(p: MadePanel, supports: Sequence[Support]) -> Iterator[tuple[str, tuple[float, float]]]:
    edges = list(p.boundary.anticlockwise())
    held = {e.name: _held(e.name, supports) for e in edges}
    for before, after in zip([edges[-1], *edges], edges, strict=False):
        angle = 180.0 - math.degrees(turn(before, after))
        a, b = held[before.name], held[after.name]
        joined = [e.name.startswith("fold:") for e in (before, after)]
        if any(joined):
            # Beyond a fold the sheet goes on: a held edge ends there, and the strip adds a right angle.
            if a != b and "sym" not in (a[0], b[0]):
                yield f"end of the held edge '{(after if joined[0] else before).name}'", after.start
            elif a == b and angle + 90 * sum(joined) > 180 + CHORD and not _open(before, after):
                yield "inner corner at a fold", after.start
        elif _no_limit(angle, a, b):
            same_line = abs(angle - 180) < 1 and a != b
            name = (before if a[0] != "f" else after).name
            kind = f"end of the held edge '{name}'" if same_line else "corner" if angle < 180 else "inner corner"
            yield kind, after.start
    for h in p.holes:
        rim: Loop = h.loop.anticlockwise()
        around = list(rim)
        for before, after in zip([around[-1], *around], around, strict=False):
            if 180.0 + math.degrees(turn(before, after)) > 180.0 + CHORD:
                yield "corner of a hole", after.start


def _open(*edges: Edge) -> bool:
    """Return whether one is the rim of an opening that runs over a fold: it goes on smoothly in the strip."""
    return any(e.name.startswith("hole:") for e in edges)


def _held(edge: str, supports: Sequence[Support]) -> tuple[str, str]:
    """Return how an edge is held: in bending "c" clamped, "s" supported, "f" free, "sym"; in its plane "h" or "f"."""
    stops: set[str] = set()
    for s in supports:
        # A lip of some width bears along its inner line, where nothing ends.
        if s.at == "edge" and s.where == edge and s.reach == 0:
            stops |= set(s.stops)
    if "across" in stops and "normal" not in stops:
        return "sym", "f"
    bending = "c" if {"normal", "turn along"} <= stops else "s" if "normal" in stops else "f"
    return bending, "h" if stops & {"along", "across"} else "f"


def _no_limit(angle: float, a: tuple[str, str], b: tuple[str, str]) -> bool:
    if "sym" in (a[0], b[0]):
        # The other half is its mirror image.
        own = b if a[0] == "sym" else a
        return own[0] != "sym" and _no_limit(2 * angle, own, own)

    def above(kinds: str, limits: dict[str, float]) -> bool:
        limit = limits["".join(sorted(kinds))]
        return angle > limit + (CHORD if limit == 180 else MARGIN)

    return above(a[0] + b[0], LIMITS) or above(a[1] + b[1], IN_PLANE)


class Reads:
    """Where stress is read on a mesh.

    Parameters
    ----------
    made : Made
    m : Mesh
    supports : sequence of Support
    """

    def __init__(self, made: Made, m: Mesh, supports: Sequence[Support]) -> None:
        self.reach = AWAY * made.thickness
        self.nodes: npt.NDArray[np.bool_] = np.ones(len(m.points), dtype=bool)
        self.rings: list[_Ring] = []
        sides = sides_of(m.quads)
        turn = np.linspace(0, math.tau, ROUND, endpoint=False)
        circle = np.column_stack((np.cos(turn), np.sin(turn), np.zeros(ROUND)))
        for place in singular_places(made, supports):
            frame = made.panel(place.panel).frame.at(0.0, 0.0, made.thickness / 2)
            centre = frame.points(np.array([[*place.at, 0.0]]))[0]
            # A point is held at the node next to it.
            middle = m.points[np.argmin(np.linalg.norm(m.points - centre, axis=1))]
            away = np.linalg.norm(m.points - middle, axis=1)
            within = away < self.reach * 0.999
            # On the sides of elements that lead out of the ring stress is linear.
            across = sides[within[sides[:, 0]] != within[sides[:, 1]]]
            near, far = away[across].T
            points = np.concatenate(([middle], middle + frame.vectors(self.reach * circle)))
            share = (self.reach - near) / (far - near)
            self.rings.append(_Ring(place, points, within=np.flatnonzero(within), sides=across, share=share))
            self.nodes &= ~within
        self.sharp = np.array([r.points[0] for r in self.rings]).reshape(-1, 3)

    def read(self, stress: Array) -> Array:
        """Return the stress (n,) with the greatest on the ring round it for the nodes near a singular place."""
        out = np.asarray(stress).copy()
        for ring in self.rings:
            out[ring.within] = ring.greatest(stress)
        return out

    def hot(self, *skins: Array) -> tuple[tuple[str, float], ...]:
        """Return each singular place in words with the greatest stress on the ring round it, greatest first."""
        found = [(r.place.words, max(r.greatest(s) for s in skins)) for r in self.rings]
        return tuple(sorted(found, key=lambda x: -x[1]))


@dataclass(frozen=True, slots=True, eq=False)
class _Ring:
    """A place and points round it; the nodes within reach, the sides of elements that lead out, where on them the ring lies."""

    place: Place
    points: Array
    within: Index
    sides: Index
    share: Array

    def greatest(self, stress: Array) -> float:
        a, b = stress[self.sides].T
        return float((a + self.share * (b - a)).max(initial=0.0))
