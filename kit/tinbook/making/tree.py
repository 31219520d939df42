"""The tree of panels: loops to mould lines, strip spans, legs, corners, frames in space and in the flat."""

from __future__ import annotations

import math
from dataclasses import replace

from tinbook.calc.bending import outside_setback
from tinbook.finding import Refused
from tinbook.making.bend_ends import BendOnEdge, relief_sizes
from tinbook.making.bends import Bend
from tinbook.making.folded import frame_after_bend
from tinbook.making.panel_boundary import PanelBoundary, trim_to_bends
from tinbook.part.features import Fold
from tinbook.plane.loops import Edge, Loop, Move, Point, polygon
from tinbook.space import SPACE, Frame, dot, plus
from tinbook.values import dataclass

CORNER_GAP = 0.5
"""mm left between closed or lapped returns where the part does not say (common practice, room for the weld)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BentFold:
    """A fold with the numbers of its tool.

    Parameters
    ----------
    angle : float
        Degrees turned through; a teardrop hem exceeds 180.
    setback : float
        From the mould line to the tangent line on either side, mm.
    leg : (float, float)
        Leg at its left and right end from the mould line, mm.
    """

    fold: Fold
    bend: Bend
    angle: float
    setback: float
    leg: tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class LegSide:
    """One side of a leg: x = at + slope (y - setback), in the leg's frame."""

    at: float
    slope: float

    def x(self, height: float) -> float:
        """Return x at a height above the tangent line."""
        return self.at + self.slope * height


@dataclass(frozen=True, slots=True, kw_only=True)
class PanelNode:
    """One panel of the tree.

    Parameters
    ----------
    loop : Loop
        To mould lines, in the panel's frame.
    bends : tuple of BendOnEdge
        The bend that it hangs on first (if it hangs on a fold), then its folds.
    boundary : PanelBoundary
        Boundary and strip spans.
    strips : dict
        Fold name -> (frame, flat, x from, x to) of the strips that hang on it.
    """

    name: str
    bent: BentFold | None
    loop: Loop
    bends: tuple[BendOnEdge, ...]
    boundary: PanelBoundary
    frame: Frame
    flat: Move
    strips: dict[str, tuple[Frame, Move, float, float]]


def bent_fold(fold: Fold, bend: Bend, angle: float, thickness: float) -> BentFold:
    """Work out setback and mould-line leg of a fold.

    Up to 90 degrees the leg runs from the crossing of the outside faces, above
    from the tangent of the outside of the bend (DIN 6935's usage).
    """
    d = outside_setback(min(angle, 180.0), bend.radius, thickness)
    if fold.to == "inside":
        extra = thickness * math.tan(math.radians(angle) / 2) if angle <= 90 else thickness
    else:
        extra = d if fold.to == "tangent" else 0.0
    leg = (fold.leg[0] + extra, fold.leg[1] + extra)
    if min(leg) <= d + 0.01:
        what = f"the leg of {min(fold.leg):g} mm ({fold.to}) ends inside its own bend"
        remedy = f"a leg longer than {d - extra + 0.01:.2f} mm, or a smaller inside radius"
        raise Refused("fold.leg_in_bend", f"fold {fold.name!r}", what, remedy, min(fold.leg), d - extra)
    return BentFold(fold=fold, bend=bend, angle=angle, setback=d, leg=leg)


def lay_out_panels(base: Loop, folds: dict[str, BentFold], thickness: float) -> dict[str, PanelNode]:
    """Lay out all panels, the base first, parents before children.

    Parameters
    ----------
    base : Loop
        Base outline to mould lines.
    folds : dict of str to BentFold
        In the part's order.
    thickness : float
        mm.

    Returns
    -------
    dict of str to PanelNode
    """
    nodes: dict[str, PanelNode] = {}
    hang: dict[str, list[BentFold]] = {}
    for b in folds.values():
        hang.setdefault(b.fold.panel, []).append(b)

    # A stack and no inner function that calls itself: one such would keep every node alive until the collector comes.
    waiting: list[tuple[str, BentFold | None, Loop, BendOnEdge | None, Frame, Move]]
    waiting = [("base", None, base, None, SPACE, Move())]
    while waiting:
        name, bent_, loop, root, frame, flat = waiting.pop()
        own = hang.get(name, [])
        bends = [_on_edge(b, loop, thickness) for b in own]
        roots = [root] if root else []
        boundary = trim_to_bends(loop, [*roots, *bends], name)
        placed: dict[str, tuple[Frame, Move]] = {}
        legs: dict[str, Frame] = {}
        for b, j in zip(own, bends, strict=True):
            to_edge = Move.to_edge(loop.edges[j.edge]).after(Move(v=-j.setback))
            strip = frame.placed(to_edge)
            placed[b.fold.name] = strip, flat.after(to_edge)
            far = frame_after_bend(strip, math.radians(b.angle), b.bend.radius, thickness, b.fold.direction)
            legs[b.fold.name] = far.placed(Move(v=-j.setback))
        sides = _leg_sides(loop, own, bends, boundary, legs, thickness)
        limits = {b.fold.name: _strip_limits(b, sides[b.fold.name], hang, thickness) for b in own}
        limits |= {b.fold.name: _shape_limits(b, hang, thickness) for b in own if b.fold.shape is not None}
        limits |= {b.fold.name: (-math.inf, math.inf) for b in own if b.fold.strip is not None}
        narrow = {j.name: _as_stretch(limits[j.name], loop.edges[j.edge]) for j in bends}
        if any(
            low > boundary.spans[f][0] + 1e-9 or high < boundary.spans[f][1] - 1e-9 for f, (low, high) in narrow.items()
        ):
            bends = [replace(j, narrow=narrow[j.name]) for j in bends]
            boundary = trim_to_bends(loop, [*roots, *bends], name)
        strips = {}
        for j in bends:
            p, q = boundary.spans[j.name]
            length = loop.edges[j.edge].length
            strips[j.name] = (*placed[j.name], length - q, length - p)
        nodes[name] = PanelNode(
            name=name,
            bent=bent_,
            loop=loop,
            bends=(*roots, *bends),
            boundary=boundary,
            frame=frame,
            flat=flat,
            strips=strips,
        )
        children = []
        for b in own:
            fold = b.fold
            outline = _leg_loop(b, sides[fold.name])
            x0, x1 = strips[fold.name][2:]
            left = outline.edges[0].start[0]
            _require_strip_in_place(b, (x0, x1))
            own_base = (0.0, outline.edges[0].length)
            span = (x0 - left, x1 - left) if fold.strip is None else own_base
            child_root = _on_edge(b, outline, thickness, root=True, span=span)
            child_flat = placed[fold.name][1].after(Move(v=b.bend.allowance - b.setback))
            children.append((fold.name, b, outline, child_root, legs[fold.name], child_flat))
        waiting += reversed(children)
    return nodes


def _on_edge(
    b: BentFold, loop: Loop, thickness: float, *, root: bool = False, span: tuple[float, float] | None = None
) -> BendOnEdge:
    """Return a fold's bend on an edge of its panel, or on the first edge of the leg that hangs on it, its root."""
    fold = b.fold
    index = 0 if root else next(i for i, e in enumerate(loop.edges) if e.name == fold.edge)
    length = loop.edges[index].length
    w, depth = relief_sizes(fold.relief, thickness)
    start = 0.0 if root or fold.start is None else fold.start
    stop = length if root or fold.stop is None else fold.stop
    return BendOnEdge(
        name=fold.name,
        edge=index,
        start=start,
        stop=stop,
        setback=b.setback,
        relief_width=w,
        relief_depth=depth,
        relief=fold.relief,
        span=span,
    )


def strip_loop(b: BentFold, x0: float, x1: float) -> Loop:
    """Return the outline of a bend's strip in its own frame, tangent lines named "parent" and "child"."""
    width, drawn = b.bend.allowance, b.fold.strip
    if drawn is None:
        return polygon([(x0, 0.0), (x1, 0.0), (x1, width), (x0, width)], ("parent", "end", "child", "end"))
    wide = drawn.box[3]
    rise = 1.0 if abs(width - wide) < 1e-9 else width / wide

    def there(p: Point) -> Point:
        return p[0], width if abs(p[1] - wide) < 1e-9 else p[1] * rise

    ends = {"parent", "child"}
    return Loop(
        tuple(Edge(there(e.start), there(e.end), e.bulge, e.name if e.name in ends else "end") for e in drawn.edges)
    )


def _require_strip_in_place(b: BentFold, span: tuple[float, float]) -> None:
    """Refuse a drawn strip whose ends corners or reliefs of its parent would cut."""
    if b.fold.strip is None:
        return
    e = b.fold.strip.edge("parent")
    if abs(e.start[0] - span[0]) > 1e-5 or abs(e.end[0] - span[1]) > 1e-5:
        what = "its outline was drawn for a bend of another width, and corners or reliefs now cut into it"
        remedy = "the inside radius that it was drawn with, or square ends"
        raise Refused("fold.strip", f"fold {b.fold.name!r}", what, remedy, e.start[0], span[0])


def _as_stretch(limits: tuple[float, float], e: Edge) -> tuple[float, float]:
    """Turn x limits of the leg's frame into distances from the edge's start."""
    return e.length - limits[1], e.length - limits[0]


def _leg_sides(
    loop: Loop,
    own: list[BentFold],
    bends: list[BendOnEdge],
    boundary: PanelBoundary,
    legs: dict[str, Frame],
    thickness: float,
) -> dict[str, tuple[LegSide, LegSide]]:
    """Return the left and right side of every leg, corners with their neighbours settled."""
    at_start: dict[int, BentFold] = {}
    at_stop: dict[int, BentFold] = {}
    for b, j in zip(own, bends, strict=True):
        length = loop.edges[j.edge].length
        if j.start < 1e-3:
            at_start[j.edge] = b
        if j.stop > length - 1e-3:
            at_stop[j.edge] = b
    order = {b.fold.name: i for i, b in enumerate(own)}
    sides: dict[str, tuple[LegSide, LegSide]] = {}
    n = len(loop)
    for b, j in zip(own, bends, strict=True):
        p, q = boundary.spans[j.name]
        length = loop.edges[j.edge].length
        lean = [math.tan(math.radians(s)) for s in b.fold.skew]
        left, right = LegSide(at=length - q, slope=-lean[0]), LegSide(at=length - p, slope=lean[1])
        before = at_stop.get((j.edge - 1) % n) if at_start.get(j.edge) is b else None
        after = at_start.get((j.edge + 1) % n) if at_stop.get(j.edge) is b else None
        if before is not None and before is not b:
            right = _corner_side(b, before, legs, thickness, order, right=True) or right
        if after is not None and after is not b:
            left = _corner_side(b, after, legs, thickness, order, right=False) or left
        sides[j.name] = left, right
    return sides


def _corner_side(
    b: BentFold, other: BentFold, legs: dict[str, Frame], t: float, order: dict[str, int], *, right: bool
) -> LegSide | None:
    """Return the side of a leg that meets its neighbour's, or None for an open corner."""
    kinds = (b.fold.corner.kind, other.fold.corner.kind)
    if kinds == ("open", "open") or b.fold.direction != other.fold.direction or b.fold.hem or other.fold.hem:
        return None
    inner = t if b.fold.direction == "up" else 0.0
    later = order[b.fold.name] > order[other.fold.name]
    laps = kinds[0] == "lapped" and not (kinds[1] == "lapped" and later)
    gap = b.fold.corner.gap or other.fold.corner.gap or CORNER_GAP
    if "lapped" in kinds:
        plane, back = (t - inner, 0.0) if laps else (inner, gap)
    else:
        plane, back = inner, gap if later else 0.0
    mine, theirs = legs[b.fold.name], legs[other.fold.name]
    across, up = dot(mine.x, theirs.z), dot(mine.y, theirs.z)
    if abs(across) < 0.2:
        return None
    o = mine(0.0, b.setback, inner)
    offset = dot(plus(o, theirs.origin, -1.0), theirs.z) - plane
    slope = -up / across
    away = back * math.hypot(1.0, slope)
    return LegSide(at=-offset / across + (-away if right else away), slope=slope)


def _strip_limits(
    b: BentFold, sides: tuple[LegSide, LegSide], hang: dict[str, list[BentFold]], thickness: float
) -> tuple[float, float]:
    """Return the x range that the strip may take so that it stays inside its leg and off the leg's own side folds."""
    limits = [sides[0].at, sides[1].at]
    w_own = relief_sizes(b.fold.relief, thickness)[0]
    for k, name in enumerate(("left", "right")):
        for child in hang.get(b.fold.name, ()):
            if child.fold.edge != name or not _reaches_root(child, b, sides[k], name):
                continue
            w = max(w_own, relief_sizes(child.fold.relief, thickness)[0])
            if "tear" in (b.fold.relief.kind, child.fold.relief.kind):
                w = relief_sizes(replace(child.fold.relief, kind="tear"), thickness)[0]
            room = child.setback * math.hypot(1.0, sides[k].slope) + w
            limits[k] += room if k == 0 else -room
    return limits[0], limits[1]


def _reaches_root(child: BentFold, b: BentFold, side: LegSide, name: str) -> bool:
    """Whether a fold on a leg's side runs to the leg's own root."""
    stretch = child.fold.start if name == "right" else child.fold.stop
    if stretch is None:
        return True
    length = b.leg[0 if name == "left" else 1] * math.hypot(1.0, side.slope)
    return stretch < 1e-3 if name == "right" else stretch > length - 1e-3


def _shape_limits(b: BentFold, hang: dict[str, list[BentFold]], thickness: float) -> tuple[float, float]:
    """Return the x range that a freely drawn leg leaves for its strip, folds beside its base included."""
    loop = _shaped(b)
    bends = [_on_edge(c, loop, thickness) for c in hang.get(b.fold.name, ())]
    boundary = trim_to_bends(loop, [_on_edge(b, loop, thickness, root=True), *bends], b.fold.name)
    left = loop.edges[0].start[0]
    p, q = boundary.spans[b.fold.name]
    return left + p, left + q


def _shaped(b: BentFold) -> Loop:
    assert b.fold.shape is not None
    edges = b.fold.shape.edges
    first = next(i for i, e in enumerate(edges) if e.name == "base")
    return Loop((*edges[first:], *edges[:first]))


def _leg_loop(b: BentFold, sides: tuple[LegSide, LegSide]) -> Loop:
    if b.fold.shape is not None:
        return _shaped(b)
    left, right = sides
    d = b.setback
    points = [
        (left.x(-d), 0.0),
        (right.x(-d), 0.0),
        (right.x(b.leg[1] - d), b.leg[1]),
        (left.x(b.leg[0] - d), b.leg[0]),
    ]
    loop = polygon(points, ("base", "right", "end", "left"))
    if points[1][0] - points[0][0] <= 0.01 or points[2][0] - points[3][0] <= 0.01:
        what, remedy = "the two sides of its leg meet before its end", "a shorter leg, less skew, or an open corner"
        raise Refused("fold.leg_crosses", f"fold {b.fold.name!r}", what, remedy, points[2][0] - points[3][0], 0.01)
    return loop
