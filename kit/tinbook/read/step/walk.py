"""Walk one skin of a sheet: regions that develop together, a tree over them, and where it must be cut open."""

from __future__ import annotations

import heapq
import math
from collections import defaultdict
from collections.abc import Callable
from dataclasses import field

from tinbook.plane.loops import Edge, Move, Point
from tinbook.read.curves import groups, onto
from tinbook.read.step import develop as dev
from tinbook.read.step.develop import Chart
from tinbook.read.step.faces import Body, Coedge
from tinbook.read.step.islands import MATCH, islands
from tinbook.read.step.skins import LinkKind, Skins, hollow, inside_radius, link
from tinbook.read.step.slits import slits
from tinbook.read.step.surfaces import FaceOf
from tinbook.read.step.vectors import across, length, minus
from tinbook.space import cross, dot
from tinbook.values import dataclass

KOf = Callable[[float, float, float], float]

JOINS = ("smooth", "sharp in", "sharp out")
"""Links over which the skin goes on."""


@dataclass(slots=True)
class Region:
    """Faces that share one chart: coplanar faces (a panel), or faces of one cylinder or cone (a bend).

    Parameters
    ----------
    turn : (float, float)
        Smallest and largest angle about the axis, radians; (0, 0) for a panel.
    inside : bool
        Whether this skin is the inside (hollow side) of the bend.
    """

    index: int
    kind: str
    faces: list[int]
    chart: Chart
    k: float = 0.0
    radius: float = 0.0
    turn: tuple[float, float] = (0.0, 0.0)
    inside: bool = False
    move: Move | None = None
    parent: int | None = None

    @property
    def angle(self) -> float:
        """Angle turned through, degrees."""
        return math.degrees(self.turn[1] - self.turn[0])


@dataclass(slots=True)
class Sharp:
    """A fold without a face of its own: two panels that meet in an edge."""

    coedge: Coedge
    angle: float
    inside: bool
    radius: float
    k: float
    shift: float

    def apart(self, p: Point, q: Point) -> Move:
        """Return the move by the fold's width square to its edge from p to q, away from the first panel."""
        n = math.dist(p, q) or 1.0
        return Move(u=(q[1] - p[1]) / n * self.shift, v=-(q[0] - p[0]) / n * self.shift)


@dataclass(slots=True)
class Walk:
    """One developed skin.

    Parameters
    ----------
    kinds : dict
        What lies across each coedge.
    joined : dict
        Coedge to the coedge of the neighbour it is developed onto.
    pieces : dict
        Lines and arcs of each coedge in its region's chart.
    seams : list
        Edges along which the skin was cut open.
    left_out : set
        Faces of this skin that are formed or cannot be developed.
    """

    body: Body
    skin: Skins
    regions: list[Region]
    region_of: dict[int, int]
    kinds: dict[Coedge, tuple[LinkKind, int | None]]
    joined: dict[Coedge, Coedge] = field(default_factory=dict)
    pieces: dict[Coedge, tuple[Edge, ...]] = field(default_factory=dict)
    turns: dict[Coedge, float] = field(default_factory=dict)
    sharps: dict[Coedge, Sharp] = field(default_factory=dict)
    seams: list[int] = field(default_factory=list)
    left_out: set[int] = field(default_factory=set)

    def placed(self, c: Coedge) -> tuple[Edge, ...]:
        """Return a coedge's lines and arcs in the flat."""
        move = self.regions[self.region_of[c.face]].move
        assert move is not None
        return tuple(move.edge(e) for e in self.pieces[c])


def walk(skin: Skins, seed: int, k_of: KOf) -> Walk:
    """Develop the skin on which a face lies.

    Parameters
    ----------
    skin : Skins
        Body and thickness.
    seed : int
        The face to start from; it keeps its place.
    k_of : callable
        (angle in degrees, inside radius, thickness) -> K.
    """
    body = skin.body
    kinds, faces = _reach(skin, seed)
    uses: dict[int, list[Coedge]] = defaultdict(list)
    for c in kinds:
        uses[c.edge].append(c)
    twin = {}
    for c, (kind, other) in list(kinds.items()):
        if kind in JOINS:
            for d in uses[c.edge]:
                # A link must be seen from both sides.
                if d.face == other and kinds[d][1] == c.face and kinds[d][0] in JOINS:
                    twin[c] = d
            if c not in twin:
                kinds[c] = ("formed", other)
    out = islands(body, seed, faces, kinds, twin)
    faces = [f for f in faces if f not in out]
    for c in list(kinds):
        kind, other = kinds[c]
        if c.face in out:
            del kinds[c]
        elif other in out:
            kinds[c] = ("formed", other)
    twin = {c: d for c, d in twin.items() if c.face not in out and d.face not in out}
    slits(skin, kinds)
    regions, region_of = _regions(skin, faces, kinds, twin)
    made = Walk(body, skin, regions, region_of, kinds, left_out=out)
    for r in regions:
        _develop(made, r, twin, k_of)
    _place(made, seed, twin, k_of)
    return made


def _reach(skin: Skins, seed: int) -> tuple[dict[Coedge, tuple[LinkKind, int | None]], list[int]]:
    kinds: dict[Coedge, tuple[LinkKind, int | None]] = {}
    order, seen = [seed], {seed}
    for f in order:
        for c in skin.body.coedges(f):
            kind, other = kinds[c] = link(skin, c)
            if other is not None and kind in JOINS and other not in seen:
                seen.add(other)
                order.append(other)
    return kinds, order


def _regions(
    skin: Skins,
    faces: list[int],
    kinds: dict[Coedge, tuple[LinkKind, int | None]],
    twin: dict[Coedge, Coedge],
) -> tuple[list[Region], dict[int, int]]:
    body = skin.body
    smooth = [(c.face, d.face) for c, d in twin.items() if kinds[c][0] == "smooth"]
    home = groups(len(body.faces), [p for p in smooth if _one_surface(body.faces[p[0]], body.faces[p[1]])])
    members: dict[int, list[int]] = defaultdict(list)
    for f in faces:
        members[home[f]].append(f)
    regions: list[Region] = []
    region_of: dict[int, int] = {}
    for group in members.values():
        face = body.faces[group[0]]
        chart = dev.plane_chart(face) if face.kind == "plane" else dev.bend_chart(face, 1.0)
        region = Region(len(regions), face.kind, group, chart, inside=face.sense < 0)
        regions.append(region)
        for f in group:
            region_of[f] = region.index
    return regions, region_of


def _one_surface(a: FaceOf, b: FaceOf) -> bool:
    if a.kind != b.kind:
        return False
    if a.kind == "plane":
        n = a.normal(a.origin)
        return length(cross(n, b.normal(b.origin))) < 1e-6 and abs(dot(n, minus(b.origin, a.origin))) < 1e-3
    if abs(dot(a.axis, b.axis)) < 1 - 1e-7 or a.sense != b.sense:
        return False
    rel = minus(b.origin, a.origin)
    if length(across(rel, a.axis)) > 1e-3:
        return False
    if a.kind == "cylinder":
        return abs(a.radius - b.radius) < 1e-3
    return abs(dot(rel, a.axis)) < 1e-3 and abs(a.half_angle - b.half_angle) < 1e-6


def _develop(made: Walk, region: Region, twin: dict[Coedge, Coedge], k_of: KOf) -> None:
    """Develop a region's faces into one chart, its angles unbroken from face to face."""
    body, t = made.body, made.skin.thickness
    face = body.faces[region.faces[0]]
    if region.kind != "plane":
        starts = _starts(made, region, twin)
        low, high = math.inf, -math.inf
        for f in region.faces:
            for d in dev.develop_face(body, region.chart, f, starts[f]):
                for at in d.turns:
                    low, high = min(low, at), max(high, at)
        region.turn = (low, high)
        if region.kind == "cylinder":
            region.radius = inside_radius(made.skin, face.index)
            region.k = k_of(region.angle, region.radius, t)
            region.chart = dev.bend_chart(face, _width(face, region, t))
        else:
            region.radius = _mean_radius(body, region)
            region.k = k_of(region.angle, region.radius, t)
            region.chart = dev.cone_chart(face, t, region.k)
    else:
        starts = dict.fromkeys(region.faces)
    for f in region.faces:
        for w, d in zip(body.wires(f), dev.develop_face(body, region.chart, f, starts[f]), strict=True):
            for c, edges, at in zip(w, d.pieces, d.turns, strict=True):
                made.pieces[c], made.turns[c] = edges, at


def _width(face: FaceOf, region: Region, t: float) -> float:
    """Return the strip's width for a turn of one radian: inside radius + K t, and what the outside skin lacks.

    Where the outside is not concentric, its panels end nearer to the corner than the
    inside's, or further away; the strip makes up for it on both sides.
    """
    neutral = region.radius + region.k * t
    off = region.radius + t - face.radius
    if face.sense < 0 or abs(off) < 1e-6:
        return neutral
    turn = region.turn[1] - region.turn[0]
    return neutral - 2.0 * math.tan(min(turn, 2.8) / 2.0) * off / turn if turn > 0 else neutral


def _mean_radius(body: Body, region: Region) -> float:
    face = body.faces[region.faces[0]]
    points = [body.ends(c)[0] for f in region.faces for c in body.coedges(f)]
    return sum(length(across(minus(p, face.origin), face.axis)) for p in points) / len(points)


def _starts(made: Walk, region: Region, twin: dict[Coedge, Coedge]) -> dict[int, float | None]:
    """Return for each face of a bend the angle near which its first point lies, so that neighbours agree."""
    body, chart = made.body, region.chart
    starts: dict[int, float | None] = {region.faces[0]: None}
    inside, todo = set(region.faces), [region.faces[0]]
    while todo:
        f = todo.pop()
        at: dict[Coedge, float] = {}
        for w, d in zip(body.wires(f), dev.develop_face(body, chart, f, starts[f]), strict=True):
            for i, c in enumerate(w):
                at[c] = d.turns[(i + 1) % len(w)] if len(w) > 1 else d.turns[i]
        for c, end in at.items():
            n = twin.get(c)
            if n is None or n.face not in inside or n.face in starts:
                continue
            # The twin starts where this coedge ends; follow its wire back to the wire's first point.
            there = dev.develop_face(body, chart, n.face, None)[n.wire]
            away = end - there.turns[n.at]
            first = dev.develop_face(body, chart, n.face, None)[0].turns[0]
            starts[n.face] = first + math.tau * round(away / math.tau)
            todo.append(n.face)
    for f in region.faces:
        starts.setdefault(f, None)
    return starts


def _ends(pieces: tuple[Edge, ...]) -> tuple[Point, Point, Point]:
    """Return start, some point half way, and end."""
    mid = pieces[len(pieces) // 2]
    return pieces[0].start, (mid.start if len(pieces) > 1 and len(pieces) % 2 == 0 else mid.at(0.5)), pieces[-1].end


def _place(made: Walk, seed: int, twin: dict[Coedge, Coedge], k_of: KOf) -> None:
    """Grow a tree from the seed over the longest edges; what does not close is cut open."""
    regions, region_of = made.regions, made.region_of
    home = region_of[seed]
    regions[home].move = Move()
    heap: list[tuple[float, int, Coedge]] = []
    tick = 0

    def push(r: int) -> None:
        nonlocal tick
        for f in regions[r].faces:
            for c in made.body.coedges(f):
                if c in twin and regions[region_of[twin[c].face]].move is None and made.pieces[c]:
                    heapq.heappush(heap, (-made.body.edges[c.edge].span, tick, c))
                    tick += 1

    push(home)
    while heap:
        _, _, c = heapq.heappop(heap)
        d = twin[c]
        target = regions[region_of[d.face]]
        if target.move is not None or not made.pieces[d]:
            continue
        move = _onto(made, c, d, k_of)
        if move is None:
            continue
        target.move, target.parent = move, region_of[c.face]
        push(target.index)
    for c, d in twin.items():
        a, b = regions[region_of[c.face]], regions[region_of[d.face]]
        if a.move is None or b.move is None:
            continue
        if _agree(made, c, d, k_of):
            made.joined[c] = d
        elif c.edge not in made.seams:
            made.seams.append(c.edge)
    for r in regions:
        if r.move is None:
            made.left_out.update(r.faces)


def _onto(made: Walk, c: Coedge, d: Coedge, k_of: KOf) -> Move | None:
    """Return the move that lays the neighbour's chart onto the placed side of a shared edge."""
    p0, pm, p1 = _ends(made.placed(c))
    q1, qm, q0 = _ends(made.pieces[d])
    if math.dist(p0, p1) < 1e-9:
        p1, q1 = pm, qm
    if math.dist(p0, p1) < 1e-9 or abs(math.dist(p0, p1) - math.dist(q0, q1)) > MATCH:
        return None
    move = onto(Edge(q0, q1), Edge(p0, p1))
    sharp = _sharp(made, c, k_of)
    if sharp is None:
        return move if math.dist(move(qm), pm) <= MATCH else None
    return sharp.apart(p0, p1).after(move)


def _sharp(made: Walk, c: Coedge, k_of: KOf) -> Sharp | None:
    kind, other = made.kinds[c]
    if kind not in ("sharp in", "sharp out") or other is None:
        return None
    if c in made.sharps:
        return made.sharps[c]
    t = made.skin.thickness
    turn = math.acos(max(-1.0, min(1.0, dot(*made.body.normals(c, other)))))
    radius = (hollow(made.skin, c.face, other) or 0.0) if kind == "sharp out" else 0.0
    k = k_of(math.degrees(turn), radius, t)
    shift = turn * (radius + k * t)
    if kind == "sharp out":
        # Both panels run on to the outside mould line: take that much off each.
        shift -= 2.0 * (radius + t) * math.tan(turn / 2.0)
    made.sharps[c] = Sharp(c, math.degrees(turn), kind == "sharp in", radius, k, shift)
    return made.sharps[c]


def _agree(made: Walk, c: Coedge, d: Coedge, k_of: KOf) -> bool:
    """Whether both sides of an edge come to lie where the fold between them says."""
    ps, qs = _ends(made.placed(c)), _ends(made.placed(d))
    sharp = _sharp(made, c, k_of)
    move = sharp.apart(ps[0], ps[2]) if sharp is not None else Move()
    return all(math.dist(move(p), q) <= MATCH for p, q in zip(ps, reversed(qs), strict=True))
