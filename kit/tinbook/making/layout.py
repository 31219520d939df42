"""Where a panel ends and its bends begin: boundary, strip spans, reliefs and corner notches.

A panel comes as a loop drawn to the outside mould lines and the joints on its
edges; it leaves as the loop between the bend tangent lines. Points are given
beside an edge as (s, h): s along it from its start, h inward from it.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from tinbook.finding import Refused
from tinbook.part.features import Corner, Relief
from tinbook.plane.cuts import crossings
from tinbook.plane.loops import Edge, Loop, Point, chain
from tinbook.tolerances import SHORTEST_EDGE, SLIT

STEEP = math.radians(20.0)
"""Reflex corners turned back more than this get their relief inside the fold, not beside it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Joint:
    """One bend line on a panel's edge.

    Parameters
    ----------
    name : str
        Name of the fold.
    edge : int
        Index of the edge in the panel's loop.
    start, stop : float
        Stretch on the mould line, mm from the edge's start.
    setback : float
        From the mould line to the tangent line, mm.
    width, depth : float
        Relief width, and how far it reaches past the tangent line, mm.
    span : (float, float) or None
        Strip span already fixed by the parent (the panel's own root).
    narrow : (float, float)
        Limits that the strip must keep to, mm from the edge's start, for the sake of the leg's own sides.
    """

    name: str
    edge: int
    start: float
    stop: float
    setback: float
    width: float
    depth: float
    relief: Relief
    corner: Corner
    span: tuple[float, float] | None = None
    narrow: tuple[float, float] = (-math.inf, math.inf)


@dataclass(frozen=True, slots=True)
class Laid:
    """A panel's boundary between its tangent lines, and the strip span (s from, s to) of every joint."""

    boundary: Loop
    spans: dict[str, tuple[float, float]]


@dataclass(slots=True)
class _End:
    """How one end of an edge's path meets its vertex: where the edge is trimmed, what connects, how far the strip is pulled in."""

    trim: float = 0.0
    pull: float = 0.0
    path: tuple[Edge, ...] = ()


def relief_sizes(relief: Relief, thickness: float) -> tuple[float, float]:
    """Return width and depth past the tangent line of a relief in mm, defaults filled in.

    Common practice: as wide as the sheet is thick, at least 1 mm for a laser.
    """
    width = SLIT if relief.kind == "tear" else (relief.width or max(thickness, 1.0))
    depth = max(0.5 * thickness, 0.5) if relief.depth is None else relief.depth
    return width, max(depth, width / 2 if relief.kind == "round" else 0.05)


def lay_out(loop: Loop, joints: Sequence[Joint], where: str) -> Laid:
    """Work out a panel's boundary and the spans of its strips.

    Parameters
    ----------
    loop : Loop
        Anticlockwise, drawn to mould lines.
    joints : sequence of Joint
        Any order, any number on one edge.
    where : str
        Panel, for messages.

    Returns
    -------
    Laid

    Raises
    ------
    Refused
        With the finding that stops.
    """
    n = len(loop)
    edges = loop.edges
    on_edge: list[list[Joint]] = [[] for _ in range(n)]
    for j in joints:
        on_edge[j.edge].append(j)
    for i, listed in enumerate(on_edge):
        if listed:
            listed.sort(key=lambda j: j.start)
            _check_edge(edges[i], listed, where)
    starts, ends = [_End() for _ in range(n)], [_End() for _ in range(n)]
    between: list[tuple[Edge, ...]] = [()] * n
    for i in range(n):
        first = on_edge[i][0] if on_edge[i] and on_edge[i][0].start <= SHORTEST_EDGE else None
        before = on_edge[i - 1]
        last = before[-1] if before and before[-1].stop >= edges[i - 1].length - SHORTEST_EDGE else None
        if first and last:
            ends[i - 1], between[i], starts[i] = _both(edges[i - 1], last, edges[i], first)
        elif first:
            own, trim = _free_end(edges[i], first, edges[i - 1].reversed(), at_stop=False, where=where)
            ends[i - 1].trim, starts[i] = trim, own
        elif last:
            own, trim = _free_end(edges[i - 1], last, edges[i], at_stop=True, where=where)
            ends[i - 1], starts[i].trim = own, trim
    path: list[Edge] = []
    spans: dict[str, tuple[float, float]] = {}
    for i in range(n):
        path.extend(between[i])
        path.extend(_edge_path(edges[i], on_edge[i], starts[i], ends[i], spans, where))
    boundary = chain(_joined(path), SHORTEST_EDGE / 2)
    if len(boundary) < 2 or boundary.area <= 0:
        raise Refused("panel.vanishes", where, "nothing is left between the bend lines", "make the panel larger")
    return Laid(boundary, spans)


def _check_edge(e: Edge, listed: list[Joint], where: str) -> None:
    if not e.is_line:
        raise Refused(
            "fold.curved_edge",
            f"fold {listed[0].name!r}",
            f"the edge {e.name!r} is curved; a brake folds straight lines only",
            "fold on the chord of the edge, in short straight stretches, or shrink and stretch a flange by hand",
        )
    for j in listed:
        if j.stop > e.length + SHORTEST_EDGE or j.stop - j.start <= SHORTEST_EDGE:
            raise Refused(
                "fold.stretch",
                f"fold {j.name!r}",
                f"its stretch {j.start:g} to {j.stop:g} mm does not lie on the edge {e.name!r} of {where}",
                f"a stretch within 0 and {e.length:.3f} mm",
                j.stop,
                e.length,
            )
    for a, b in itertools.pairwise(listed):
        if b.start < a.stop + max(a.width, b.width) - 1e-9:
            raise Refused(
                "fold.stretches_meet",
                f"fold {b.name!r}",
                f"its stretch begins less than a relief's width after {a.name!r} ends on the same edge",
                f"leave {max(a.width, b.width):g} mm between the two",
                b.start - a.stop,
                max(a.width, b.width),
            )


def _beside(e: Edge) -> Callable[[float, float], Point]:
    """Return the way from (s, h) beside an edge to a point of the plane."""
    (ux, uy), (x, y) = e.direction(), e.start
    return lambda s, h: (x + ux * s - uy * h, y + uy * s + ux * h)


def _notch(
    at: Callable[[float, float], Point], points: Sequence[Point], round_bottom: bool, width: float
) -> tuple[Edge, ...]:
    """Return straight edges through (s, h) points; the bottom (second to third) may be a half circle."""
    if round_bottom:
        (s1, h1), (s2, h2) = points[1], points[2]
        points = [points[0], (s1, h1 - width / 2), (s2, h2 - width / 2), *points[3:]]
    real = [at(s, h) for s, h in points]
    return tuple(
        Edge(a, b, -1.0 if round_bottom and k == 1 else 0.0, "relief")
        for k, (a, b) in enumerate(itertools.pairwise(real))
    )


def _free_end(e: Edge, j: Joint, other: Edge, *, at_stop: bool, where: str) -> tuple[_End, float]:
    """Settle an end of a fold at a vertex whose other edge carries none.

    `other` runs away from the vertex. Returns this edge's end and the fraction of `other` that is cut off at the vertex.
    """
    length, d, w, x = e.length, j.setback, j.width, j.depth
    at = _beside(e)
    sign = -1.0 if at_stop else 1.0

    def s_of(inward: float) -> float:
        return length - inward if at_stop else inward

    def finish(
        points: Sequence[tuple[float, float]], lead: Point | None, pull: float, trim: float, notch: bool
    ) -> tuple[_End, float]:
        ordered = [(s_of(a), h) for a, h in points]
        if at_stop:
            ordered.reverse()
        round_bottom = notch and j.relief.kind == "round"
        path = list(_notch(at, ordered, round_bottom, w)) if len(ordered) > 1 else []
        if lead is not None:
            near = at(s_of(points[0][0]), points[0][1])
            if math.dist(lead, near) > 1e-9:
                path = [*path, Edge(near, lead, 0.0, "relief")] if at_stop else [Edge(lead, near, 0.0, "relief"), *path]
        return _End(pull=pull, path=tuple(path)), trim

    (ux, uy), (ox, oy) = e.direction(), other.direction()
    along, inward = sign * (ux * ox + uy * oy), -uy * ox + ux * oy
    angle = math.atan2(inward, along)  # of `other`, from the fold's own direction: 0 < angle < 180 inside the panel
    hits = [f for f in crossings(other, at(0, d), (ux, uy)) if f > 1e-9]
    q = other.at(hits[0]) if hits and angle > 1e-6 else None
    inner = sign * ((q[0] - e.start[0]) * ux + (q[1] - e.start[1]) * uy - (length if at_stop else 0.0)) if q else 0.0
    if j.span is not None:
        fixed = length - j.span[1] if at_stop else j.span[0]
        if q is None:
            raise Refused(
                "fold.side_in_bend", f"fold {j.name!r}", "a side of the leg ends before its bend does", "a longer leg"
            )
        return finish([(fixed, d)], q, fixed, hits[0], notch=False)
    if q is not None and inner > -(w + d):
        pull = inner if inner > -0.05 else 0.0
        return finish([(pull, d)], q, pull, hits[0], notch=False)
    if angle < -STEEP or angle > math.pi + STEEP or (angle <= 0 and along < 0 and inward < -math.sin(STEEP)):
        return finish([(0, 0), (0, d + x), (w, d + x), (w, d)], None, w, 0.0, notch=True)
    beside = [f for f in crossings(other, at(s_of(-w), 0), (-uy, ux)) if f > 1e-9]
    if not beside:
        raise Refused(
            "fold.relief",
            f"fold {j.name!r}",
            f"there is no room for its relief beside the end of the edge on {where}",
            "end the fold short of the corner, or make the neighbouring edge longer than the relief",
        )
    lead = other.at(beside[0])
    return finish([(-w, d + x), (0, d + x), (0, d)], lead, 0.0, beside[0], notch=False)


def _both(a: Edge, ja: Joint, b: Edge, jb: Joint) -> tuple[_End, tuple[Edge, ...], _End]:
    """Settle a vertex where both edges carry folds: notch, or the reflex corner's slot."""
    (ux, uy), (vx, vy) = a.direction(), b.direction()
    on_a, on_b = _beside(a), _beside(b)
    turn = math.atan2(ux * vy - uy * vx, ux * vx + uy * vy)
    kind = "tear" if "tear" in (ja.relief.kind, jb.relief.kind) else ja.relief.kind
    w = max(ja.width, jb.width) if kind != "tear" else SLIT
    x = max(ja.depth, jb.depth)
    la = a.length
    if turn > 1e-6:
        # Where the two tangent lines cross, as a distance from the vertex along each edge.
        sin = math.sin(turn)
        pa = (jb.setback - ja.setback * math.cos(turn)) / sin if sin > 1e-9 else 0.0
        pb = (ja.setback - jb.setback * math.cos(turn)) / sin if sin > 1e-9 else 0.0
        end, start = on_a(la - pa - w, ja.setback), on_b(pb + w, jb.setback)
        tip = on_a(la - pa, ja.setback)
        if kind == "round":
            path: tuple[Edge, ...] = (Edge(end, start, -math.tan((math.pi - turn) / 4), "relief"),)
        elif kind == "tear":
            path = (Edge(end, tip, 0.0, "relief"), Edge(tip, start, 0.0, "relief"))
        else:
            # In a sharp corner the square's two sides meet before they are `w` deep.
            deep = w * min(math.tan((math.pi - turn) / 2), 1.0)
            inner_a, inner_b = on_a(la - pa - w, ja.setback + deep), on_b(pb + w, jb.setback + deep)
            path = tuple(
                Edge(p, q, 0.0, "relief")
                for p, q in ((end, inner_a), (inner_a, inner_b), (inner_b, start))
                if math.dist(p, q) > 1e-9
            )
        return _End(pull=pa + w), path, _End(pull=pb + w)
    if turn > -STEEP:
        half = w / 2
        points = [
            on_a(la - half, ja.setback),
            on_a(la - half, ja.setback + x),
            on_b(half, jb.setback + x),
            on_b(half, jb.setback),
        ]
        pull = half
    else:
        sin = math.sin(turn)
        da, db = ja.setback + x, jb.setback + x
        corner = on_a(la - (db - da * math.cos(turn)) / sin, da)
        points = [
            on_a(la - w, ja.setback),
            on_a(la - w, da),
            corner,
            on_b(w, db),
            on_b(w, jb.setback),
        ]
        pull = w
    path = tuple(Edge(p, q, 0.0, "relief") for p, q in itertools.pairwise(points))
    return _End(pull=pull), path, _End(pull=pull)


def _edge_path(
    e: Edge, listed: list[Joint], at_start: _End, at_stop: _End, spans: dict[str, tuple[float, float]], where: str
) -> list[Edge]:
    if not listed:
        left = 1 - at_start.trim - at_stop.trim
        if abs(left) <= 1e-9:
            return []  # used up to the last bit, as beside a leg whose side is square to its fold
        if left < 0:
            raise Refused(
                "fold.edge_used_up",
                f"edge {e.name!r} of {where}",
                "the bends beside it leave nothing of this edge",
                "make the edge longer, or the inside radius smaller",
                e.length,
            )
        return [e.part(at_start.trim, 1 - at_stop.trim)]
    path: list[Edge] = []
    at, length = _beside(e), e.length
    done = at_start.trim * length  # how far along the edge the path has come
    for k, j in enumerate(listed):
        reaches_start = k == 0 and j.start <= SHORTEST_EDGE
        reaches_stop = k == len(listed) - 1 and j.stop >= length - SHORTEST_EDGE
        p = at_start.pull if reaches_start else j.start
        q = length - at_stop.pull if reaches_stop else j.stop
        if j.span is None:
            span = (max(p, j.narrow[0]), min(q, j.narrow[1]))
        else:
            span = j.span
        if span[1] - span[0] <= max(j.width, 1.0):
            raise Refused(
                "fold.too_short",
                f"fold {j.name!r}",
                "corners and reliefs leave no fold line on this edge",
                "lengthen the edge, shorten the neighbouring folds, or use smaller reliefs",
                span[1] - span[0],
                max(j.width, 1.0),
            )
        spans[j.name] = span
        if reaches_start:
            path.extend(at_start.path)
        elif k and j.start - listed[k - 1].stop < 2 * j.width + 1.0:
            before = listed[k - 1]
            x = max(before.setback + before.depth, j.setback + j.depth)
            path.extend(
                _notch(
                    at, [(before.stop, before.setback), (before.stop, x), (j.start, x), (j.start, j.setback)], False, 0
                )
            )
        else:
            left = j.start - j.width
            if left < done + SHORTEST_EDGE:
                raise Refused(
                    "fold.relief",
                    f"fold {j.name!r}",
                    "there is no room for its relief between its start and the end of the edge",
                    f"start at the edge's end, or at least {done + j.width + 1:.2f} mm along it",
                    j.start,
                    done + j.width,
                )
            path.append(Edge(at(done, 0), at(left, 0), 0.0, e.name))
            bottom = j.setback + j.depth
            notch = [(left, 0), (left, bottom), (j.start, bottom), (j.start, j.setback)]
            path.extend(_notch(at, notch, j.relief.kind == "round", j.width))
        first, end = at(span[0], j.setback), at(span[1], j.setback)
        if p != span[0]:
            path.append(Edge(at(p, j.setback), first, 0.0, "relief"))
        path.append(Edge(first, end, 0.0, f"fold:{j.name}"))
        if reaches_stop:
            if q != span[1]:
                path.append(Edge(end, at(q, j.setback), 0.0, "relief"))
            path.extend(at_stop.path)
            continue
        path.append(Edge(end, at(j.stop, j.setback), 0.0, "relief"))
        following = listed[k + 1] if k + 1 < len(listed) else None
        if following is not None and following.start - j.stop < 2 * following.width + 1.0:
            continue
        right = j.stop + j.width
        limit = length * (1 - at_stop.trim) if following is None else following.start
        if right > limit - SHORTEST_EDGE:
            raise Refused(
                "fold.relief",
                f"fold {j.name!r}",
                "there is no room for its relief between its stop and the end of the edge",
                f"stop at the edge's end, or at most {limit - j.width - 1:.2f} mm along it",
                j.stop,
                limit - j.width,
            )
        bottom = j.setback + j.depth
        notch = [(j.stop, j.setback), (j.stop, bottom), (right, bottom), (right, 0)]
        path.extend(_notch(at, notch, j.relief.kind == "round", j.width))
        done = right
    last = listed[-1]
    if last.stop < length - SHORTEST_EDGE:
        path.append(Edge(at(done, 0), at(length * (1 - at_stop.trim), 0), 0.0, e.name))
    return path


def _joined(path: list[Edge]) -> list[Edge]:
    """Return the path without pieces too short to be cut, its ends pulled together exactly.

    What lies beside such a piece moves, never a bend line: its strip is as long as it was laid out.
    """
    out = [e for e in path if e.chord > SHORTEST_EDGE / 2]
    for i in range(len(out)):
        before, after = out[i - 1], out[i]
        if before.end != after.start and math.dist(before.end, after.start) <= SHORTEST_EDGE:
            if after.name.startswith("fold:") and not before.name.startswith("fold:"):
                out[i - 1] = replace(before, end=after.start)
            else:
                out[i] = replace(after, start=before.end)
    return out
