"""What joins the members of an assembly: seams where it is welded, plug welds, bolts through holes on one axis."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any, Final, Literal, TypeAlias

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from tinbook.calc import fasteners
from tinbook.making.assembled import MATING_REACH, WELD_GAP, Assembled
from tinbook.part.assembly import Weld
from tinbook.part.bought import Bought
from tinbook.space import Vec
from tinbook.strength.assemblies.surface import Hit, nearest
from tinbook.strength.assemblies.ties import Spring, Tie, rigid_tie, rim_tie
from tinbook.strength.assemblies.whole import Body, Member, Whole
from tinbook.strength.joints.load import Kind
from tinbook.strength.shell.element import Array, Index

LAP: Final = 0.7
"""Cosine between two sheets above which they lap; below it one stands on the other."""
NEAR: Final = 0.5
"""mm: how far sheets may lie apart at a plug weld beside half of both thicknesses."""
FASTENED: Final[dict[str, Kind]] = {"bolt": "bolt", "nut insert": "nut insert", "tack screw": "tack screw"}
STEEL: Final = 205e3
GROUND: Final = "ground"

Other: TypeAlias = Member | Body | Literal["ground"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Connection:
    """One joint of an assembly.

    Parameters
    ----------
    name : str
    kind : Kind
    first : Member
    second : Member, Body or "ground"
    springs : tuple of Spring
        One, or one for each node of a seam.
    nodes : array
        Of the first member: the rim, or the seam's nodes in order.
    axis : Vec
        From the first toward the second.
    hole : float
        Diameter, mm.
    tee : bool
        For seams: one sheet stands on the other.
    weld : Weld or None
    """

    name: str
    kind: Kind
    first: Member
    second: Other
    springs: tuple[Spring, ...]
    nodes: Index
    axis: Vec
    hole: float = 0.0
    tee: bool = False
    weld: Weld | None = None

    @property
    def other(self) -> str:
        """Name of the second."""
        return self.second if isinstance(self.second, str) else self.second.name


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bore:
    """A round hole of a member, or of a bought item.

    Parameters
    ----------
    of : Member, Body or "ground"
    name, use : str
    at : array (3,)
        Middle, whole axes.
    axis : array (3,)
    dia, deep : float
        mm; `deep` is the thickness there.
    nodes : array
        Of its rim in the whole; none for bought items.
    """

    of: Other
    name: str
    use: str
    at: Array
    axis: Array
    dia: float
    deep: float
    nodes: Index = field(default_factory=lambda: np.zeros(0, dtype=np.int64))


def connections(made: Assembled, whole: Whole) -> tuple[tuple[Connection, ...], tuple[str, ...]]:
    """Return every joint of an assembly, and notes about what was declared but not found."""
    found: list[Connection] = []
    notes: list[str] = []
    for weld in made.assembly.welds:
        seams = list(_seams(made, whole, weld))
        found += seams
        if not seams:
            notes.append(f"weld of {weld.a} and {weld.b}: no edge of one lies on the other; it joins nothing here")
    found += _plugs(whole)
    found += _bolts(made, whole)
    return tuple(found), tuple(notes)


# -- seams ----------------------------------------------------------------------------------------


def _seams(made: Assembled, whole: Whole, weld: Weld) -> Iterator[Connection]:
    known = {m.name: m for m in whole.members}
    pairs = [(weld.a, weld.b), (weld.b, weld.a)]
    for one, two in pairs:
        if one not in known:
            continue
        second: Other
        if two in known:
            second = known[two]
            corners = whole.points[whole.quads[second.quads]]
            reach = (known[one].made.thickness + second.made.thickness) / 2 + WELD_GAP + 0.1
        else:
            second = _item(whole, made, two)
            points, triangles = made.mesh(two)
            corners = np.asarray(points)[np.column_stack((triangles, triangles[:, 2]))]
            reach = known[one].made.thickness / 2 + WELD_GAP + 0.1
        yield from _along(whole, weld, known[one], second, corners, reach)


def _item(whole: Whole, made: Assembled, name: str) -> Other:
    body = next((b for b in whole.bodies if b.name == name), None)
    return body if body is not None else GROUND


def _along(
    whole: Whole, weld: Weld, first: Member, second: Other, corners: Array, reach: float
) -> Iterator[Connection]:
    rim = np.unique(np.concatenate(list(first.mesh.edges.values())))
    hit = nearest(whole.points[first.first + rim], corners)
    near = hit.away <= reach
    which = np.full(len(first.mesh.points), -1)
    which[rim[near]] = np.flatnonzero(near)
    sides = _free_sides(first.mesh.quads)
    sides = sides[(which[sides] >= 0).all(axis=1)]
    if len(sides) == 0:
        return
    # A side whose ends lie on the second but which itself leaves it (across a slot) is no weld.
    mid = nearest(whole.points[first.first + sides].mean(axis=1), corners)
    sides = sides[mid.away <= reach]
    total = float(np.linalg.norm(np.diff(first.mesh.points[sides], axis=1)[:, 0], axis=1).sum())
    share = 1.0 if weld.length is None else min(1.0, weld.length / max(total, 1e-9))
    for k, chain in enumerate(_chains(sides, len(first.mesh.points)), 1):
        yield _seam(whole, weld, first, second, chain, which[chain], hit, share, k)


def _free_sides(quads: Index) -> Index:
    both = np.stack((quads, np.roll(quads, -1, axis=1)), axis=-1).reshape(-1, 2)
    _, first, count = np.unique(np.sort(both, axis=1), axis=0, return_index=True, return_counts=True)
    return np.asarray(both[np.sort(first[count == 1])])


def _chains(sides: Index, nodes: int) -> Iterator[Index]:
    """Return the nodes of each connected run of sides in order."""
    graph = coo_array((np.ones(len(sides)), (sides[:, 0], sides[:, 1])), shape=(nodes, nodes))
    _, label = connected_components(graph, directed=False)
    ahead = {int(a): int(b) for a, b in sides}
    ends = set(ahead.values())
    for one in np.unique(label[sides[:, 0]]).tolist():
        mine = [a for a in ahead if label[a] == one]
        at = next((a for a in mine if a not in ends), min(mine))
        chain = [at]
        while chain[-1] in ahead and ahead[chain[-1]] != chain[0] and len(chain) <= len(mine):
            chain.append(ahead[chain[-1]])
        yield np.array(chain, dtype=np.int64)


def _seam(
    whole: Whole, weld: Weld, first: Member, second: Other, chain: Index, rows: Index, hit: Hit, share: float, k: int
) -> Connection:
    nodes = first.first + chain
    places = whole.points[nodes]
    steps = np.linalg.norm(np.diff(places, axis=0), axis=1)
    lengths = np.zeros(len(nodes))
    lengths[:-1] += steps / 2
    lengths[1:] += steps / 2
    youngs = first.made.sheet.material.youngs
    sides = 2 if weld.both else 1
    springs = []
    for j, node in enumerate(nodes.tolist()):
        ahead, behind = places[min(j + 1, len(nodes) - 1)], places[max(j - 1, 0)]
        along = (ahead - behind) / max(float(np.linalg.norm(ahead - behind)), 1e-12)
        at = hit.place[rows[j]]
        per, turn = fasteners.seam_stiffness(youngs, weld.throat)
        size = share * sides * float(lengths[j])
        stiffness = np.array([per, per, per, turn, 0.0, 0.0]) * size
        springs.append(
            Spring(
                at=at,
                axes=_axes(along),
                stiffness=stiffness,
                first=rigid_tie(node, whole.points[node], at),
                second=_tie_of(whole, second, hit, rows[j], at),
            )
        )
    mine = _normals(whole, nodes)
    cosine = float(np.abs(np.einsum("ni,ni->n", mine, hit.normal[rows])).mean())
    across = hit.place[rows].mean(axis=0) - places.mean(axis=0)
    size = float(np.linalg.norm(across))
    axis = across / size if size > 1e-9 else hit.normal[rows[0]]
    return Connection(
        name=f"seam {k} of {first.name} on {second if isinstance(second, str) else second.name}",
        kind="seam",
        first=first,
        second=second,
        springs=tuple(springs),
        nodes=nodes,
        axis=_vec(axis),
        tee=cosine < LAP,
        weld=weld,
    )


def _normals(whole: Whole, nodes: Index) -> Array:
    d = whole.points[whole.quads]
    n = np.cross(d[:, 2] - d[:, 0], d[:, 3] - d[:, 1])
    out = np.zeros((len(whole.points), 3))
    for c in range(4):
        np.add.at(out, whole.quads[:, c], n)
    mine = out[nodes]
    return np.asarray(mine / np.linalg.norm(mine, axis=1, keepdims=True))


def _tie_of(whole: Whole, second: Other, hit: Hit, row: int, at: Array) -> Tie | None:
    if isinstance(second, str):
        return None
    if isinstance(second, Body):
        return rigid_tie(second.node, whole.points[second.node], at)
    # A little weight on every corner: two corners alone would not feel a turn about their line.
    return rim_tie(whole.points, whole.quads[second.quads][hit.quad[row]], np.maximum(hit.weights[row], 0.1), at)


def _axes(along: Array) -> Array:
    """Return axes as rows, the first one given."""
    start = np.eye(3)[int(np.argmin(np.abs(along)))]
    two = np.cross(along, start)
    two /= np.linalg.norm(two)
    return np.stack((along, two, np.cross(along, two)))


def _vec(v: Any) -> Vec:
    x, y, z = (float(c) for c in v)
    return x, y, z


# -- plug welds -----------------------------------------------------------------------------------


def bores_of(m: Member, whole: Whole) -> Iterator[Bore]:
    """Return the round holes of a member."""
    frames = {p.name: p.frame for p in m.made.panels}
    for key, rim in m.mesh.holes.items():
        panel, _, name = key.partition("/")
        if panel not in frames:
            continue
        places = whole.points[m.first + rim]
        middle = places.mean(axis=0)
        axis = np.array(m.at.vector(*frames[panel].z))
        dia = 2 * float(np.linalg.norm(places - middle, axis=1).mean())
        yield Bore(of=m, name=name.rstrip("'") + (f" of {panel}" if panel != "base" else ""), use=m.mesh.uses[key],
                   at=middle, axis=axis, dia=dia, deep=m.made.thickness, nodes=m.first + rim)  # fmt: skip


def _plugs(whole: Whole) -> Iterator[Connection]:
    for m in whole.members:
        for bore in bores_of(m, whole):
            if bore.use == "plug weld":
                yield from _plug(whole, m, bore)


def _plug(whole: Whole, m: Member, bore: Bore) -> Iterator[Connection]:
    best: tuple[float, Member, Hit] | None = None
    for other in whole.members:
        if other is m:
            continue
        box = whole.points[other.nodes]
        if (bore.at < box.min(axis=0) - 20).any() or (bore.at > box.max(axis=0) + 20).any():
            continue
        corners = whole.points[whole.quads[other.quads]]
        hit = nearest(np.vstack((bore.at, whole.points[bore.nodes])), corners)
        apart = (m.made.thickness + other.made.thickness) / 2
        if abs(float(hit.away[0]) - apart) <= NEAR and (best is None or hit.away[0] < best[0]):
            best = float(hit.away[0]), other, hit
    if best is None:
        return
    away, other, hit = best
    at = (bore.at + hit.place[0]) / 2
    axis = (hit.place[0] - bore.at) / away
    quads = whole.quads[other.quads][hit.quad]
    nodes, where = np.unique(quads, return_inverse=True)
    weights = np.bincount(where.ravel(), np.maximum(hit.weights, 0.0).ravel(), len(nodes))
    k = fasteners.nugget_stiffness(m.made.sheet.material.youngs, bore.dia, away)
    yield Connection(
        name=f"{bore.name} of {m.name}",
        kind="plug weld",
        first=m,
        second=other,
        springs=(
            Spring(
                at=at,
                axes=_axes(axis),
                stiffness=np.array(k),
                first=rim_tie(whole.points, bore.nodes, np.ones(len(bore.nodes)), at),
                second=rim_tie(whole.points, nodes, weights, at),
            ),
        ),
        nodes=bore.nodes,
        axis=_vec(axis),
        hole=bore.dia,
    )


# -- bolts ----------------------------------------------------------------------------------------


def _item_bores(made: Assembled, whole: Whole) -> Iterator[Bore]:
    bodies = {b.name: b for b in whole.bodies}
    for placed in made.assembly.members:
        thing = placed.thing
        if not isinstance(thing, Bought) or placed.flexible:
            continue
        if not thing.existing and placed.name not in bodies:
            continue
        of: Other = GROUND if thing.existing else bodies[placed.name]
        for folded in made.placed(placed.name):
            for panel in folded.panels:
                for h in panel.holes:
                    if not h.loop.is_circle:
                        continue
                    x, y = h.loop.edges[0].centre
                    yield Bore(of=of, name=placed.name, use="bore", at=np.array(panel.frame(x, y, folded.thickness / 2)),
                               axis=np.array(panel.frame.z), dia=2 * h.loop.edges[0].radius, deep=folded.thickness)  # fmt: skip


def _bolts(made: Assembled, whole: Whole) -> Iterator[Connection]:
    bores = [b for m in whole.members for b in bores_of(m, whole) if b.use != "plug weld"]
    bores += _item_bores(made, whole)
    done: set[int] = set()
    for i, a in enumerate(bores):
        if i in done or not isinstance(a.of, Member):
            continue
        stack = [(0.0, i)]
        for j, b in enumerate(bores):
            if j == i or b.of is a.of or abs(float(a.axis @ b.axis)) < 0.999:
                continue
            way = b.at - a.at
            along = float(way @ a.axis)
            if float(np.linalg.norm(way - along * a.axis)) < min(a.dia, b.dia) / 2:
                stack.append((along, j))
        stack.sort()
        for (p, x), (q, y) in zip(stack, stack[1:], strict=False):
            one, two = bores[x], bores[y]
            if q - p - (one.deep + two.deep) / 2 > MATING_REACH or one.of is two.of:
                continue
            if not isinstance(one.of, Member):
                one, two = two, one
            used = FASTENED.get(one.use) or FASTENED.get(two.use)
            if isinstance(one.of, Member) and used is not None:
                done |= {x, y}
                yield _bolt(whole, one, two, used, np.sign((two.at - one.at) @ one.axis) * one.axis)


def _bolt(whole: Whole, one: Bore, two: Bore, kind: Kind, axis: Array) -> Connection:
    assert isinstance(one.of, Member)
    youngs = one.of.made.sheet.material.youngs
    thick = one.deep if not isinstance(two.of, Member) else two.deep
    at = one.at + axis * one.deep / 2
    k = fasteners.bolted_stiffness(min(one.dia, two.dia), one.deep, thick, youngs, youngs, STEEL)
    second: Tie | None
    if isinstance(two.of, Member):
        second = rim_tie(whole.points, two.nodes, np.ones(len(two.nodes)), at)
    elif isinstance(two.of, Body):
        second = rigid_tie(two.of.node, whole.points[two.of.node], at)
    else:
        second = None
    return Connection(
        name=f"{one.name} of {one.of.name}",
        kind=kind,
        first=one.of,
        second=two.of,
        springs=(
            Spring(
                at=at,
                axes=_axes(axis),
                stiffness=np.array(k),
                first=rim_tie(whole.points, one.nodes, np.ones(len(one.nodes)), at),
                second=second,
            ),
        ),
        nodes=one.nodes,
        axis=_vec(axis),
        hole=one.dia,
    )


def grounded(whole: Whole, m: Member, bore: Bore, kind: Kind) -> Connection:
    """Return a hole of a member fixed to something stiff below it (on the down side of its sheet)."""
    below = Bore(of=GROUND, name=GROUND, use="bore", at=bore.at - bore.axis * bore.deep, axis=bore.axis, dia=bore.dia,
                 deep=bore.deep)  # fmt: skip
    if kind != "plug weld":
        return _bolt(whole, bore, below, kind, -bore.axis)
    k = fasteners.nugget_stiffness(m.made.sheet.material.youngs, bore.dia, bore.deep)
    at = bore.at - bore.axis * bore.deep / 2
    tie = rim_tie(whole.points, bore.nodes, np.ones(len(bore.nodes)), at)
    spring = Spring(at=at, axes=_axes(bore.axis), stiffness=np.array(k), first=tie, second=None)
    return Connection(name=f"{bore.name} of {m.name}", kind=kind, first=m, second=GROUND, springs=(spring,),
                      nodes=bore.nodes, axis=_vec(-bore.axis), hole=bore.dia)  # fmt: skip
