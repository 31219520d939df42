"""What joins the members of an assembly: seams where it is welded, plug welds, bolts through holes on one axis."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial
from typing import Final

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from tinbook.calc import fasteners
from tinbook.making.assembled import WELD_GAP, Assembled
from tinbook.part.links import Weld
from tinbook.space import vec
from tinbook.strength.assemblies.bolted import bolts
from tinbook.strength.assemblies.joint import GROUND, Bore, Connection, Other, axes_along, bores_of
from tinbook.strength.assemblies.surface import Hit, nearest, on_body
from tinbook.strength.assemblies.ties import Spring, Tie, rigid_tie, rim_tie, surface_tie
from tinbook.strength.assemblies.whole import Body, Member, Whole
from tinbook.strength.mesh.quads import free_sides
from tinbook.strength.shell.element import Array, Index

LAP: Final = 0.7
"""Cosine between two sheets above which they lap; below it one stands on the other."""
NEAR: Final = 0.5
"""mm: how far sheets may lie apart at a plug weld beside half of both thicknesses."""


def connections(made: Assembled, whole: Whole) -> tuple[tuple[Connection, ...], tuple[str, ...]]:
    """Return every joint of an assembly, and notes about what was declared but not found."""
    found: list[Connection] = []
    notes: list[str] = []
    plugs = list(_plugs(whole))
    plugged = {frozenset((c.first.name, c.other)) for c in plugs}
    for weld in made.assembly.welds:
        # Where plug welds join the two, the weld that is declared is theirs, unless it says how long a seam is.
        if weld.length is None and frozenset((weld.a, weld.b)) in plugged:
            continue
        seams = list(_seams(made, whole, weld))
        found += seams
        if not seams:
            notes.append(f"weld of {weld.a} and {weld.b}: no edge of one lies on the other; it joins nothing here")
    found += plugs
    found += bolts(made, whole)
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
            hitting = partial(nearest, corners=corners)
        else:
            second = next((b for b in whole.bodies if b.name == two), GROUND)
            points, triangles = made.mesh(two)
            hitting = partial(on_body, corners=np.asarray(points)[triangles])
            reach = known[one].made.thickness / 2 + WELD_GAP + 0.1
        yield from _along(whole, weld, known[one], second, hitting, reach)


def _along(
    whole: Whole, weld: Weld, first: Member, second: Other, hitting: Callable[[Array], Hit], reach: float
) -> Iterator[Connection]:
    rim = np.unique(np.concatenate(list(first.mesh.edges.values())))
    hit = hitting(whole.points[first.first + rim])
    near = hit.away <= reach
    which = np.full(len(first.mesh.points), -1)
    which[rim[near]] = np.flatnonzero(near)
    sides = free_sides(first.mesh.quads)
    sides = sides[(which[sides] >= 0).all(axis=1)]
    if len(sides) == 0:
        return
    # A side whose ends lie on the second but which itself leaves it (across a slot) is no weld.
    mid = hitting(whole.points[first.first + sides].mean(axis=1))
    sides = sides[mid.away <= reach]
    total = float(np.linalg.norm(np.diff(first.mesh.points[sides], axis=1)[:, 0], axis=1).sum())
    there = 2.0 * total if weld.both else total
    share = 1.0 if weld.total is None else min(1.0, weld.total / max(there, 1e-9))
    for k, chain in enumerate(_chains(sides, len(first.mesh.points)), 1):
        yield _seam(whole, weld, first, second, chain, which[chain], hit, share, k)


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
        # At the edge itself: an arm there would hang on a rotation in the sheet's own plane, which a shell hardly feels.
        at = places[j]
        per, turn = fasteners.seam_stiffness(youngs, weld.throat)
        size = share * sides * float(lengths[j])
        stiffness = np.array([per, per, per, turn, 0.0, 0.0]) * size
        springs.append(
            Spring(
                at=at,
                axes=axes_along(along),
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
        axis=vec(axis),
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
    return rim_tie(whole.points, whole.quads[second.quads][hit.quad[row]], at, np.maximum(hit.weights[row], 0.1))


# -- plug welds -----------------------------------------------------------------------------------


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
    under = whole.quads[other.quads][hit.quad[1:]]
    k = fasteners.nugget_stiffness(m.made.sheet.material.youngs, bore.dia, away)
    yield Connection(
        name=f"{bore.name} of {m.name}",
        kind="plug weld",
        first=m,
        second=other,
        springs=(
            Spring(
                at=at,
                axes=axes_along(axis),
                stiffness=np.array(k),
                first=rim_tie(whole.points, bore.nodes, at),
                second=surface_tie(whole.points, under, hit.weights[1:], hit.place[1:], at),
            ),
        ),
        nodes=bore.nodes,
        axis=vec(axis),
        hole=bore.dia,
    )
