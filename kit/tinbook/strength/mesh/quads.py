"""The finished mesh of a part, and the checks that its elements are sound and hang together."""

from __future__ import annotations

from typing import Final

import numpy as np
import shapely
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from tinbook.errors import BadValue, UnknownName
from tinbook.making.made import Made
from tinbook.strength.shell.element import Array, Index
from tinbook.strength.shell.solve import NotSolved
from tinbook.values import dataclass

LEAST: Final = 0.1
"""mm of metal that must be left between two contours of the blank: less is no wider than what a cutter takes away."""
FINE: Final = 0.002
"""Chords of contours, mm."""


def sides_of(quads: Index) -> Index:
    """Return the sides (4 m, 2) of quads (m, 4), run as they run."""
    return np.stack((quads, np.roll(quads, -1, axis=1)), axis=-1).reshape(-1, 2)


def free_sides(quads: Index) -> Index:
    """Return the sides (s, 2) that belong to one quad only, run as it runs."""
    both = sides_of(quads)
    key = both.min(axis=1) * (both.max() + 1) + both.max(axis=1)
    _, first, count = np.unique(key, return_index=True, return_counts=True)
    return np.asarray(both[np.sort(first[count == 1])])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Mesh:
    """Quads on the mid-surface of a part.

    Parameters
    ----------
    points : array (n, 3)
        mm, in the part's own axes.
    quads : array (m, 4)
        Normals point to the sheet's up side.
    owner : array (m,)
        Place of each quad in `owners`.
    owners : tuple of str
        Panels by name, strips as "fold:NAME".
    thickness : array (m,)
        mm; in a bead the sheet is thinner by what was stretched and not drawn in.
    normals : array (n, 3)
        Of the sheet as formed (its arcs, not the facets that stand for them), to the up side.
    edges : dict
        "PANEL/EDGE" to the nodes on it.
    holes : dict
        "PANEL/HOLE" to the nodes of its rim.
    uses : dict
        "PANEL/HOLE" to the hole's use.
    size : float
        Largest side of an element that was asked for, mm.
    quality : (float, float)
        Smallest and mean sine of the quads' sharpest corners (1 is a rectangle).
    notes : tuple of str
        What the mesh leaves out.
    forms : int
        How many forms rise out of its panels.
    """

    points: Array
    quads: Index
    owner: Index
    owners: tuple[str, ...]
    thickness: Array
    normals: Array
    edges: dict[str, Index]
    holes: dict[str, Index]
    uses: dict[str, str]
    size: float
    quality: tuple[float, float]
    notes: tuple[str, ...] = ()
    forms: int = 0

    def of(self, owner: str) -> Index:
        """Return the quads of a panel or strip."""
        if owner not in self.owners:
            raise UnknownName("panel", owner, self.owners)
        return np.flatnonzero(self.owner == self.owners.index(owner))

    def free_sides(self, owner: str, nodes: Index) -> Index:
        """Return the sides (s, 2) on the border of a panel or strip between given nodes, run as their elements run."""
        free = free_sides(self.quads[self.of(owner)])
        return np.asarray(free[np.isin(free, nodes).all(axis=1)])


def require_one_piece(m: Mesh) -> None:
    """Raise when the mesh falls apart, or when parts hang together by single nodes only."""
    q = m.quads
    a, b = sides_of(q).T
    key = np.minimum(a, b) * len(m.points) + np.maximum(a, b)
    order = np.argsort(key, kind="stable")
    same = key[order][1:] == key[order][:-1]
    x, y = order[:-1][same] // 4, order[1:][same] // 4
    n, label = connected_components(coo_array((np.ones(len(x)), (x, y)), shape=(len(q), len(q))), directed=False)
    if n > 1:
        sizes = np.bincount(label)
        small = int(np.argmin(sizes))
        name = m.owners[int(m.owner[int(np.flatnonzero(label == small)[0])])]
        raise NotSolved(
            f"a piece of '{name}' with {int(sizes[small])} elements hangs on the rest by no more than single points: "
            "holes or cuts leave no metal there at this mesh size"
        )


def require_webs(made: Made) -> None:
    """Raise when holes or cuts of a part leave next to no metal somewhere.

    Raises
    ------
    BadValue
        Names the two holes, or the hole and the blank's edge, or the narrow place.
    """
    flat = made.flat
    assert flat is not None, "a part that can be made has a blank"
    cuts = [*flat.cuts, *flat.drills]
    rings = [shapely.LinearRing(flat.outer.chords(FINE)), *(shapely.LinearRing(c.loop.chords(FINE)) for c in cuts)]
    names = ["the edge of the blank", *(f"hole '{c.name}'" if c.name else f"hole {k}" for k, c in enumerate(cuts, 1))]
    if cuts:
        first, second = shapely.STRtree(rings).query(rings, predicate="dwithin", distance=LEAST)
        near = [(shapely.distance(rings[a], rings[b]), a, b) for a, b in zip(first, second, strict=True) if a < b]
        if near:
            left, a, b = min(near)
            raise BadValue(
                names[b],
                f"{left:.2g} mm of metal to {names[a]}",
                f"at least {LEAST:g} mm, or both in one: a region would hang on single points of a mesh",
            )
    blank = shapely.Polygon(rings[0], rings[1:])
    kept = blank.buffer(-LEAST / 2)
    if shapely.get_num_geometries(kept) != 1:
        pieces = shapely.get_parts(kept)
        small = int(np.argmin(shapely.area(pieces))) if len(pieces) else 0
        rest = shapely.union_all(np.delete(pieces, small)) if len(pieces) > 1 else blank
        at = shapely.shortest_line(pieces[small], rest).centroid if len(pieces) else blank.centroid
        raise BadValue(
            "the blank",
            f"narrower than {LEAST:g} mm near x {at.x:.4g}, y {at.y:.4g} mm",
            f"at least {LEAST:g} mm of metal: a region would hang on single points of a mesh",
        )
