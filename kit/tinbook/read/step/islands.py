"""Find closed formed features in a skin before it is walked: their flanks look like folds and are none."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

from tinbook.read.step.faces import Body, Coedge
from tinbook.read.step.skins import LinkKind
from tinbook.read.step.vectors import length, minus
from tinbook.space import cross

MATCH = 5e-3
"""mm: two faces' developed edges that lie closer than this are one edge."""


def islands(
    body: Body,
    seed: int,
    faces: list[int],
    kinds: dict[Coedge, tuple[LinkKind, int | None]],
    twin: dict[Coedge, Coedge],
) -> set[int]:
    """Return the faces of closed formed features: metal hung to one panel along lines that no single fold has, or a hood."""
    near: dict[int, list[Coedge]] = defaultdict(list)
    odd: dict[int, bool] = defaultdict(bool)
    for c, (kind, _) in kinds.items():
        if c in twin:
            near[c.face].append(c)
        elif kind == "formed":
            odd[c.face] = True
    out: set[int] = set()
    whole = sum(body.faces[f].extent for f in faces)
    for f in sorted(faces, key=lambda i: (-body.faces[i].extent, i)):
        if body.faces[f].kind != "plane" or f in out:
            continue
        done = {f}
        for first in near[f]:
            n = twin[first].face
            if n in done:
                continue
            group = _without(f, n, near, twin)
            done |= group
            if seed in group or (body.faces[n].kind == "plane" and kinds[first][0] == "smooth"):
                continue
            links = [c for c in near[f] if twin[c].face in group]
            enclosed = {c.wire for c in links} != {0} and len({c.wire for c in links}) == 1
            # A hood is round all over and runs into formed metal at the ends of its bend; a tab ends there.
            hood = enclosed and odd[n] and not any(body.faces[g].kind == "plane" for g in group)
            if _one_line(body, links) and not hood:
                continue
            size = sum(body.faces[g].extent for g in group)
            strange = any(odd[g] for g in group) and size < 0.5 * body.faces[f].extent
            if size < 0.4 * whole and (enclosed or strange):
                out |= group
    return out


def _without(f: int, start: int, near: dict[int, list[Coedge]], twin: dict[Coedge, Coedge]) -> set[int]:
    group, todo = {start}, [start]
    while todo:
        for c in near[todo.pop()]:
            n = twin[c].face
            if n != f and n not in group:
                group.add(n)
                todo.append(n)
    return group


def _one_line(body: Body, links: Iterable[Coedge]) -> bool:
    """Whether edges are straight and lie on one line."""
    line = None
    for c in links:
        e = body.edges[c.edge]
        if e.kind != "line":
            return False
        if line is None:
            line = (e.p0, minus(e.p1, e.p0))
            continue
        d = length(line[1]) or 1.0
        for p in (e.p0, e.p1):
            if length(cross(minus(p, line[0]), line[1])) / d > MATCH:
                return False
    return True
