"""Where a panel ends and its bends begin: boundary, strip spans, reliefs and corner notches.

A panel comes as a loop drawn to the outside mould lines and the bends on its
edges; it leaves as the loop between the bend tangent lines. Points are given
beside an edge as (s, h): s along it from its start, h inward from it.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import replace

from tinbook.finding import Refused
from tinbook.making.bend_ends import (
    BendEnd,
    BendOnEdge,
    corner_of_two_bends,
    end_beside_free_edge,
    notch_edges,
)
from tinbook.plane.cuts import beside_edge
from tinbook.plane.loops import Edge, Loop, chain
from tinbook.tolerances import SHORTEST_EDGE
from tinbook.values import dataclass


@dataclass(frozen=True, slots=True)
class PanelBoundary:
    """A panel's boundary between its tangent lines, and the strip span (s from, s to) of every bend."""

    loop: Loop
    spans: dict[str, tuple[float, float]]


def trim_to_bends(loop: Loop, bends: Sequence[BendOnEdge], where: str) -> PanelBoundary:
    """Work out a panel's boundary and the spans of its strips.

    Parameters
    ----------
    loop : Loop
        Anticlockwise, drawn to mould lines.
    bends : sequence of BendOnEdge
        Any order, any number on one edge.
    where : str
        Panel, for messages.

    Returns
    -------
    PanelBoundary

    Raises
    ------
    Refused
        With the finding that stops.
    """
    n = len(loop)
    edges = loop.edges
    on_edge: list[list[BendOnEdge]] = [[] for _ in range(n)]
    for j in bends:
        on_edge[j.edge].append(j)
    for i, listed in enumerate(on_edge):
        if listed:
            listed.sort(key=lambda j: j.start)
            _check_edge(edges[i], listed, where)
    starts, ends = [BendEnd() for _ in range(n)], [BendEnd() for _ in range(n)]
    between: list[tuple[Edge, ...]] = [()] * n
    for i in range(n):
        first = on_edge[i][0] if on_edge[i] and on_edge[i][0].start <= SHORTEST_EDGE else None
        before = on_edge[i - 1]
        last = before[-1] if before and before[-1].stop >= edges[i - 1].length - SHORTEST_EDGE else None
        if first and last:
            ends[i - 1], between[i], starts[i] = corner_of_two_bends(edges[i - 1], last, edges[i], first)
        elif first:
            own, trim = end_beside_free_edge(edges[i], first, edges[i - 1].reversed(), at_stop=False, where=where)
            ends[i - 1].trim, starts[i] = trim, own
        elif last:
            own, trim = end_beside_free_edge(edges[i - 1], last, edges[i], at_stop=True, where=where)
            ends[i - 1], starts[i].trim = own, trim
    path: list[Edge] = []
    spans: dict[str, tuple[float, float]] = {}
    for i in range(n):
        path.extend(between[i])
        path.extend(_edge_path(edges[i], on_edge[i], starts[i], ends[i], spans, where))
    boundary = chain(_joined(path), SHORTEST_EDGE / 2)
    if len(boundary) < 2 or boundary.area <= 0:
        raise Refused("panel.vanishes", where, "nothing is left between the bend lines", "make the panel larger")
    return PanelBoundary(boundary, spans)


def _check_edge(e: Edge, listed: list[BendOnEdge], where: str) -> None:
    if not e.is_line:
        what = f"the edge {e.name!r} is curved; a brake folds straight lines only"
        remedy = "fold on the chord of the edge, in short straight stretches, or shrink and stretch a flange by hand"
        raise Refused("fold.curved_edge", f"fold {listed[0].name!r}", what, remedy)
    for j in listed:
        if j.stop > e.length + SHORTEST_EDGE or j.stop - j.start <= SHORTEST_EDGE:
            what = f"its stretch {j.start:g} to {j.stop:g} mm does not lie on the edge {e.name!r} of {where}"
            remedy = f"a stretch within 0 and {e.length:.3f} mm"
            raise Refused("fold.stretch", f"fold {j.name!r}", what, remedy, j.stop, e.length)
    for a, b in itertools.pairwise(listed):
        if b.start < a.stop + max(a.relief_width, b.relief_width) - 1e-9:
            where = f"fold {b.name!r}"
            what = f"its stretch begins less than a relief's width after {a.name!r} ends on the same edge"
            remedy = f"leave {max(a.relief_width, b.relief_width):g} mm between the two"
            raise Refused(
                "fold.stretches_meet", where, what, remedy, b.start - a.stop, max(a.relief_width, b.relief_width)
            )


def _edge_path(
    e: Edge,
    listed: list[BendOnEdge],
    at_start: BendEnd,
    at_stop: BendEnd,
    spans: dict[str, tuple[float, float]],
    where: str,
) -> list[Edge]:
    if not listed:
        left = 1 - at_start.trim - at_stop.trim
        if abs(left) <= 1e-9:
            return []  # used up to the last bit, as beside a leg whose side is square to its fold
        if left < 0:
            what = "the bends beside it leave nothing of this edge"
            remedy = "make the edge longer, or the inside radius smaller"
            raise Refused("fold.edge_used_up", f"edge {e.name!r} of {where}", what, remedy, e.length)
        return [e.part(at_start.trim, 1 - at_stop.trim)]
    path: list[Edge] = []
    at, length = beside_edge(e), e.length
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
        least = SHORTEST_EDGE if span[1] - span[0] > length - SHORTEST_EDGE else max(j.relief_width, 1.0)
        if span[1] - span[0] <= least:
            where = f"fold {j.name!r}"
            what = "corners and reliefs leave no fold line on this edge"
            remedy = "lengthen the edge, shorten the neighbouring folds, or use smaller reliefs"
            raise Refused("fold.too_short", where, what, remedy, span[1] - span[0], least)
        spans[j.name] = span
        if reaches_start:
            path.extend(at_start.path)
        elif k and j.start - listed[k - 1].stop < 2 * j.relief_width + 1.0:
            before = listed[k - 1]
            x = max(before.setback + before.relief_depth, j.setback + j.relief_depth)
            path.extend(
                notch_edges(
                    at, [(before.stop, before.setback), (before.stop, x), (j.start, x), (j.start, j.setback)], False, 0
                )
            )
        else:
            left = j.start - j.relief_width
            if left < done + SHORTEST_EDGE:
                what = "there is no room for its relief between its start and the end of the edge"
                remedy = f"start at the edge's end, or at least {done + j.relief_width + 1:.2f} mm along it"
                raise Refused("fold.relief", f"fold {j.name!r}", what, remedy, j.start, done + j.relief_width)
            path.append(Edge(at(done, 0), at(left, 0), 0.0, e.name))
            bottom = j.setback + j.relief_depth
            notch = [(left, 0), (left, bottom), (j.start, bottom), (j.start, j.setback)]
            path.extend(notch_edges(at, notch, j.relief.kind == "round", j.relief_width))
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
        if following is not None and following.start - j.stop < 2 * following.relief_width + 1.0:
            continue
        right = j.stop + j.relief_width
        limit = length * (1 - at_stop.trim) if following is None else following.start
        if right > limit - SHORTEST_EDGE:
            what = "there is no room for its relief between its stop and the end of the edge"
            remedy = f"stop at the edge's end, or at most {limit - j.relief_width - 1:.2f} mm along it"
            raise Refused("fold.relief", f"fold {j.name!r}", what, remedy, j.stop, limit - j.relief_width)
        bottom = j.setback + j.relief_depth
        notch = [(j.stop, j.setback), (j.stop, bottom), (right, bottom), (right, 0)]
        path.extend(notch_edges(at, notch, j.relief.kind == "round", j.relief_width))
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
