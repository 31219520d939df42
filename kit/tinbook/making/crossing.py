"""Does the folded part run into itself? Panels and bends as plates in space, whatever the order of folding."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from typing import Final

import numpy as np
import numpy.typing as npt
from shapely import Polygon, box

from tinbook.finding import Finding, stop
from tinbook.making.folded import BendZone, Folded, MadePanel
from tinbook.plane.loops import Array, Loop
from tinbook.space import Frame, cross, dot
from tinbook.values import dataclass

SAGITTA = 0.02
"""mm: chords of outlines and bends keep this near."""

TOUCH = 0.03
"""mm: plates may pass this deep into each other before it counts; more than the chords are off."""

STEP_DEG = 15.0
"""Largest turn of one flat piece of a bend."""

HALF_TURN = 180.0 + 1e-6
"""Degrees up to which the metal on both sides of a bend only moves apart."""

PARALLEL = 0.999
"""Cosine between normals from which two plates are compared side by side instead of by the line where they cross."""

THROUGH: Final = "a shorter leg, another angle, or an opening where the metal passes"
BESIDE: Final = "ends drawn back from the corner that they share (a negative skew, or start and stop), or a shorter leg"
"""What cures a crossing, and one of two legs at a corner of their panel."""


@dataclass(frozen=True, slots=True)
class _Plate:
    """A flat piece of sheet: its middle surface in space."""

    frame: Frame
    rings: tuple[Array, ...]  # (n, 2) each, in the frame's plane; outline first, then openings
    points: Array  # (m, 3), all rings, on the middle surface
    following: npt.NDArray[np.intp]  # (m,) index of the next point of the same ring
    turned: float = 0.0  # degrees from the bend's parent to the middle of this piece of a bend


def crossings(folded: Folded) -> list[Finding]:
    """Return a stop finding for each two pieces of the folded part that share space.

    Parameters
    ----------
    folded : Folded
        Its forms are taken as flat.

    Returns
    -------
    list of Finding
        At most one for each two panels or folds; two plates of different folds corner in corner, less deep than half
        the sheet, are not seen. Pieces that hang on each other are compared where the metal turns by more than half
        a turn from one to the other; nearer to their common line reliefs and corners have rules of their own.
    """
    if not folded.zones:
        return []
    thickness = folded.thickness
    pieces: list[MadePanel | BendZone] = [*folded.panels, *folded.zones]
    plates: dict[int, list[_Plate]] = {}
    found: list[tuple[str, str, str]] = []
    bends = {s.child: s for s in folded.zones}
    for i, j in _near(pieces, thickness):
        joint = _joint(pieces[i], pieces[j], bends)
        if joint is not None and not joint.may_meet:
            continue
        for k in (i, j):
            if k not in plates:
                plates[k] = list(_plates(pieces[k], thickness))
        if any(
            (joint is None or joint.turned_back(a, b)) and _cross(a, b, thickness, skins=joint is not None)
            for a in plates[i]
            for b in plates[j]
        ):
            remedy = BESIDE if _beside(pieces[i], pieces[j], bends) else THROUGH
            found.append((_called(pieces[i]), _called(pieces[j]), remedy))
    what = "they run through each other in the folded part"
    return [stop("part.crosses", f"{a} and {b}", what, remedy, source="geometry") for a, b, remedy in found]


def _beside(a: MadePanel | BendZone, b: MadePanel | BendZone, bends: dict[str, BendZone]) -> bool:
    """Whether two pieces are legs of one panel along edges that meet at an angle."""
    one, two = (p if isinstance(p, BendZone) else bends.get(p.name) for p in (a, b))
    if one is None or two is None or one.parent != two.parent:
        return False
    return abs(dot(one.frame.x, two.frame.x)) < PARALLEL


def _called(piece: MadePanel | BendZone) -> str:
    return f"{'panel' if isinstance(piece, MadePanel) else 'fold'} {piece.name!r}"


def _near(pieces: list[MadePanel | BendZone], t: float) -> Iterator[tuple[int, int]]:
    """Return the pairs whose boxes in space meet."""
    low, high = _boxes(pieces, t)
    meet = np.ones((len(pieces), len(pieces)), dtype=np.bool_)
    for a, b in zip(low.T, high.T, strict=True):
        meet &= (a[:, None] < b) & (a < b[:, None])
    for i, j in zip(*(found.tolist() for found in meet.nonzero()), strict=True):
        if i < j:
            yield i, j


@dataclass(frozen=True, slots=True)
class _Joint:
    """How two pieces that share a panel hang together: the way round from one to the other through it.

    `first` and `second` say from which of its ends the turn of a bend counts ("parent" or "child"), None for a panel.
    """

    first: BendZone | None
    second: BendZone | None
    from_child: tuple[bool, bool]
    may_meet: bool

    def turned_back(self, a: _Plate, b: _Plate) -> bool:
        """Whether the metal turns by more than half a turn from one plate to the other."""
        turn = 0.0
        for strip, plate, child in zip((self.first, self.second), (a, b), self.from_child, strict=True):
            if strip is not None:
                turn += strip.angle - plate.turned if child else plate.turned
        return turn > HALF_TURN or (self.first is None and self.second is None)


def _joint(a: MadePanel | BendZone, b: MadePanel | BendZone, bends: dict[str, BendZone]) -> _Joint | None:
    """Return how two pieces hang on each other, None where they do not; `bends` by the panel that hangs on them.

    Up to half a turn they only move apart from the line that they share, unless a leg reaches back beyond it.
    """
    if isinstance(a, MadePanel) and isinstance(b, MadePanel):
        for child, parent in ((a, b), (b, a)):
            s = bends.get(child.name)
            if s is not None and s.parent == parent.name:
                return _Joint(None, None, (False, False), s.angle > HALF_TURN or _reaches_back(s, parent, child))
        return None
    if isinstance(a, MadePanel) and isinstance(b, BendZone):
        if a.name not in (b.parent, b.child):
            return None
        return _Joint(None, b, (False, a.name == b.child), b.angle > HALF_TURN)
    if isinstance(a, BendZone) and isinstance(b, BendZone):
        shared = {a.parent, a.child} & {b.parent, b.child}
        if not shared:
            return None
        through = shared.pop()
        return _Joint(a, b, (through == a.child, through == b.child), a.angle + b.angle > HALF_TURN)
    raise AssertionError("panels come before strips")


def _reaches_back(s: BendZone, parent: MadePanel, child: MadePanel) -> bool:
    """Whether the leg has metal behind its bend line and its parent has metal beyond it."""
    if child.boundary.box[1] > s.setback - TOUCH:
        return False
    origin, y = np.array(s.frame.origin), np.array(s.frame.y)
    return any(float((np.array(parent.frame(*p)) - origin) @ y) > TOUCH for p in parent.boundary.points)


def _boxes(pieces: list[MadePanel | BendZone], t: float) -> tuple[Array, Array]:
    """Return the low and high corner of a box round each piece: a panel's plate, the whole tube that a bend is part of."""
    spans, round_ = [], []
    for p in pieces:
        if isinstance(p, MadePanel):
            x0, y0, x1, y1 = p.boundary.box
            spans.append((x0, x1, y0, y1, 0.0, t))
            round_.append(0.0)
        else:
            boxes = [r.box for r in p.regions]
            axis = t + p.radius if p.direction == "up" else -p.radius
            spans.append((min(b[0] for b in boxes), max(b[2] for b in boxes), 0.0, 0.0, axis, axis))
            round_.append(p.radius + t)
    frames = np.array([(p.frame.origin, p.frame.x, p.frame.y, p.frame.z) for p in pieces])
    ends, axes = np.array(spans).reshape(-1, 3, 2), frames[:, 1:]
    middle = frames[:, 0] + (((ends[:, :, 0] + ends[:, :, 1]) / 2)[:, None] @ axes)[:, 0]
    half = (((ends[:, :, 1] - ends[:, :, 0]) / 2)[:, None] @ np.abs(axes))[:, 0]
    # How far a tube reaches beyond its axis along each direction of space.
    half += np.array(round_)[:, None] * np.sqrt(np.maximum(1.0 - axes[:, 0] ** 2, 0.0))
    return middle - half, middle + half


def _plates(piece: MadePanel | BendZone, t: float) -> Iterator[_Plate]:
    if isinstance(piece, BendZone):
        yield from _strip(piece, t)
        return
    yield _plate(
        piece.frame.at(0.0, 0.0, t / 2),
        tuple(loop.chords(SAGITTA) for loop in (piece.boundary, *(h.loop for h in piece.holes))),
    )


def _strip(s: BendZone, t: float) -> Iterator[_Plate]:
    reach = s.radius + t / 2
    # A bend of large radius needs more pieces to keep its chords near.
    step = min(STEP_DEG, math.degrees(2 * math.acos(max(1 - SAGITTA / reach, 0.0)))) if reach > SAGITTA else STEP_DEG
    n = max(1, math.ceil(s.angle / max(step, s.angle / 48)))
    levels = [s.allowance * k / n for k in range(n + 1)]
    middles = [s.ruling(v, t).at(0.0, 0.0, t / 2) for v in levels]
    for k, (a, b) in enumerate(itertools.pairwise(middles)):
        size = math.dist(a.origin, b.origin)
        if size < 1e-9:
            continue
        (ox, oy, oz), (px, py, pz) = a.origin, b.origin
        y = (px - ox) / size, (py - oy) / size, (pz - oz) / size
        frame = Frame(a.origin, a.x, y, cross(a.x, y))
        for region in s.regions:
            for ring in _band(region, s, levels[k], levels[k + 1], size):
                yield _plate(frame, ring, s.angle * (k + 0.5) / n)


def _band(region: Loop, s: BendZone, lo: float, hi: float, size: float) -> Iterator[tuple[Array, ...]]:
    """Return what a region of a strip has between two heights, openings out, as rings 0..size high."""
    points = region.chords(SAGITTA)
    scale = size / (hi - lo)
    if len(region) == 4 and all(e.is_line for e in region.edges) and not s.holes:
        xs = points[:, 0]
        yield (np.array([(xs.min(), 0.0), (xs.max(), 0.0), (xs.max(), size), (xs.min(), size)]),)
        return
    left, _, right, _ = region.box
    whole = Polygon(points, [h.loop.chords(SAGITTA) for h in s.holes_in(region)])
    cut = whole.intersection(box(left - 1, lo, right + 1, hi))
    for piece in getattr(cut, "geoms", (cut,)):
        if piece.geom_type == "Polygon" and not piece.is_empty:
            rings = (piece.exterior, *piece.interiors)
            yield tuple((np.array(r.coords)[:-1] - (0.0, lo)) * (1.0, scale) for r in rings)


def _plate(frame: Frame, rings: tuple[Array, ...], turned: float = 0.0) -> _Plate:
    counts = [len(r) for r in rings]
    following = np.arange(1, sum(counts) + 1)
    ends = np.cumsum(counts)
    following[ends - 1] = ends - counts
    return _Plate(frame, rings, frame.points(np.concatenate(rings)), following, turned)


def _cross(a: _Plate, b: _Plate, t: float, skins: bool = False) -> bool:
    lean = abs(dot(a.frame.z, b.frame.z))
    if lean > PARALLEL:
        return _overlap(a, b, t)
    depth = t / 2 - TOUCH
    layers = [(q, s) for q in ((-depth, 0.0, depth) if skins else (0.0,)) for s in (-depth, 0.0, depth)]
    return _through(a, b, layers) or _through(b, a, layers)


def _through(p: _Plate, q: _Plate, layers: list[tuple[float, float]]) -> bool:
    """Whether a layer of `p` meets a layer of `q`, each given by its height over the middle surface."""
    lean = dot(p.frame.z, q.frame.z)
    over, under = _heights(p, q), _heights(q, p)
    low, high, down, up = over.min(), over.max(), under.min(), under.max()
    found = [(a, b) for a, b in layers if low <= b - a * lean <= high and down <= a - b * lean <= up]
    if not found:
        return False
    line = np.array(cross(q.frame.z, p.frame.z))
    line /= np.linalg.norm(line)
    here, there = p.points @ line, q.points @ line
    for a, b in found:
        first = _stretches(p, over + (a * lean - b), here)
        second = _stretches(q, under + (b * lean - a), there)
        if any(min(h1, t1) - max(h0, t0) > TOUCH for h0, h1 in first for t0, t1 in second):
            return True
    return False


def _heights(p: _Plate, q: _Plate) -> Array:
    """Return the heights of the middle surface of `p` over that of `q`, mm."""
    height: Array = (p.points - np.array(q.frame.origin)) @ np.array(q.frame.z)
    return height


def _stretches(p: _Plate, height: Array, along: Array) -> list[tuple[float, float]]:
    """Return where a plate's metal meets a plane, as stretches along a direction, from its points' heights over the plane."""
    # A point on the plane counts as above it, so that every ring is crossed an even number of times.
    up = height >= 0.0
    i = np.flatnonzero(up != up[p.following])
    j = p.following[i]
    cuts = along[i] + (along[j] - along[i]) * (height[i] / (height[i] - height[j]))
    cuts.sort()
    return list(zip(cuts[::2].tolist(), cuts[1::2].tolist(), strict=True))


def _overlap(a: _Plate, b: _Plate, t: float) -> bool:
    """Whether two plates that lie alongside share space: what of one lies within the other's thickness, seen square."""
    n = np.array(b.frame.z)
    rel = a.points - np.array(b.frame.origin)
    height = rel @ n
    if height.min() > t - TOUCH or height.max() < TOUCH - t:
        return False
    flat = np.stack((rel @ np.array(b.frame.x), rel @ np.array(b.frame.y)), axis=1)
    rings, start = [], 0
    for ring in a.rings:
        rings.append(flat[start : start + len(ring)])
        start += len(ring)
    seen = Polygon(rings[0], rings[1:]).buffer(-TOUCH)
    other = Polygon(b.rings[0], b.rings[1:]).buffer(-TOUCH)
    shared = seen.intersection(other)
    if shared.is_empty:
        return False
    # The height over the other plate is linear: read it at the corners of what they share.
    solve = np.linalg.lstsq(np.column_stack((flat, np.ones(len(flat)))), height, rcond=None)[0]
    corners = np.array([c for g in getattr(shared, "geoms", (shared,)) for c in g.exterior.coords])
    level = corners @ solve[:2] + solve[2]
    return bool(level.min() < t - TOUCH and level.max() > TOUCH - t)
