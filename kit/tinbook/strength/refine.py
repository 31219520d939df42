"""Meshes that follow stress: finer where it is steep, until the greatest stress of the last two agrees.

Sharp corners are left out within two thicknesses: elastic stress has no limit there, it only grows with the mesh.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.spatial import cKDTree

from tinbook.making.made import Made
from tinbook.strength.mesh.build import Fine
from tinbook.strength.mesh.quads import Mesh
from tinbook.strength.shell import stress
from tinbook.strength.shell.element import Array
from tinbook.strength.shell.linear import Shell

STEEP: Final = 0.08
"""Change of stress over half an element, over the greatest stress, above which it is divided (own choice)."""
HIGH: Final = 0.6
"""Parts of the greatest stress below which steep stress does not matter."""
SHARP: Final = math.radians(215)
"""Angle of metal round a corner of the rim above which it counts as sharp: chords of round rims turn by 15 to 30 degrees."""
BLUNT: Final = math.radians(100), math.radians(155)
"""Angle of metal at a corner between edges that may turn, from which on it counts too; above, it is a chord of a round."""
AWAY: Final = 2.0
"""Thicknesses from a sharp inner corner within which no stress is read."""

Mask = npt.NDArray[np.bool_]


def sharp_corners(m: Mesh, turning: Sequence[int] = ()) -> npt.NDArray[np.int64]:
    """Return the nodes on the rim at which elastic stress has no limit.

    Sharp inner corners, with far more than half a turn of metal round them; and blunt corners between edges that hold but
    may turn, where moments grow without limit beyond a right angle (Williams 1952; from memory).

    Parameters
    ----------
    m : Mesh
    turning : sequence of int
        Nodes on edges that hold but may turn.
    """
    q = m.quads
    p = m.points[q]
    ahead, back = np.roll(p, -1, axis=1) - p, np.roll(p, 1, axis=1) - p
    cos = np.einsum("eci,eci->ec", ahead, back) / np.linalg.norm(ahead, axis=2) / np.linalg.norm(back, axis=2)
    angle = np.bincount(q.ravel(), np.arccos(np.clip(cos, -1, 1)).ravel(), len(m.points))
    sides = np.sort(np.stack((q, np.roll(q, -1, axis=1)), axis=-1).reshape(-1, 2), axis=1)
    key, count = np.unique(sides, axis=0, return_counts=True)
    rim = np.zeros(len(m.points), dtype=bool)
    rim[key[count == 1]] = True
    may_turn = np.zeros(len(m.points), dtype=bool)
    may_turn[np.asarray(turning, dtype=np.int64)] = True
    blunt = may_turn & (angle > BLUNT[0]) & (angle < BLUNT[1])
    return np.flatnonzero(rim & ((angle > SHARP) | blunt))


class Reads:
    """Where stress is read on a mesh.

    Parameters
    ----------
    m : Mesh
    thickness : float
        mm.
    points : sequence of int
        Nodes that hold the part by themselves: stress has no limit there either.
    turning : sequence of int
        Nodes on edges that hold but may turn.
    """

    def __init__(self, m: Mesh, thickness: float, points: Sequence[int] = (), turning: Sequence[int] = ()) -> None:
        sharp = np.unique(np.append(sharp_corners(m, turning), np.asarray(points, dtype=np.int64)))
        self.sharp = m.points[sharp]
        self.count = len(sharp)
        self.nodes: Mask = np.ones(len(m.points), dtype=bool)
        self._from = np.arange(len(m.points))
        if len(sharp):
            self.nodes = cKDTree(m.points[sharp]).query(m.points)[0] > AWAY * thickness * 0.999
            there = np.flatnonzero(self.nodes)
            self._from = there[cKDTree(m.points[there]).query(m.points)[1]]

    def read(self, stress: Array) -> Array:
        """Return the stress (n,) with that of the nearest node where it is read, where it is not."""
        return np.asarray(stress[self._from])


def finer(made: Made, m: Mesh, model: Shell, local: Array, before: Fine | None, reads: Reads) -> Fine | None:
    """Return where a mesh must be finer for its stress, None where it need not.

    Parameters
    ----------
    made : Made
    m : Mesh
    model : Shell
    local : array (k, 24)
        Local unknowns of the elements.
    before : Fine or None
        Where this mesh was made finer.
    reads : Reads
        Where stress is read.
    """
    read = reads.nodes
    e = model.elements
    worst, spread = np.zeros(len(e)), np.zeros(len(e))
    for skin in stress.skins(e, m.quads, len(m.points), local):
        worst = np.maximum(worst, _mises(skin).max(axis=1))
        spread = np.maximum(spread, _mises(skin - skin.mean(axis=1, keepdims=True)).max(axis=1))
    peak = float(np.max(worst, where=read[m.quads].all(axis=1), initial=0.0))
    marked = np.flatnonzero((worst > HIGH * peak) & (spread > STEEP * peak) & read[m.quads].any(axis=1))
    if not len(marked):
        return None
    side = np.sqrt(e.area[marked])
    wanted = np.maximum(side * np.clip(0.7 * STEEP * peak / spread[marked], 0.2, 0.5), 0.25 * e.thickness[marked])
    places = np.concatenate((m.points[m.quads[marked]], e.corners[marked].mean(axis=1)[:, None]), axis=1)
    points, sizes = places.reshape(-1, 3), np.repeat(wanted, 5)
    middle = e.corners[marked].mean(axis=1)
    if reads.count:
        # As fine at once as the distance at which it is read.
        away, which = cKDTree(reads.sharp).query(middle)
        close = np.unique(which[away < AWAY * made.thickness + side])
        points = np.concatenate((points, reads.sharp[close]))
        sizes = np.append(sizes, np.full(len(close), 0.7 * made.thickness))
    forms: set[tuple[str, int]] = set()
    for name in {m.owners[k] for k in m.owner[marked]}:
        if not name.startswith("fold:"):
            forms |= _forms_at(made, name, middle)
    if before is not None:
        points, sizes = np.concatenate((before.points, points)), np.concatenate((before.sizes, sizes))
        forms |= before.forms
    return Fine(points=points, sizes=sizes, forms=frozenset(forms))


def _forms_at(made: Made, name: str, places: Array) -> set[tuple[str, int]]:
    """Return the forms of a panel in whose footprint some places lie."""
    import shapely

    panel = made.panel(name)
    local = shapely.points(panel.frame.inverse().points(places)[:, :2])
    out = set()
    for k, f in enumerate(panel.forms):
        if f.footprint is not None and shapely.intersects(shapely.Polygon(f.footprint.chords()), local).any():
            out.add((name, k))
    return out


def _mises(s: Array) -> Array:
    """Return the von Mises stress of plane tensors (..., 3; xx, yy, xy)."""
    return np.asarray(
        np.sqrt(np.maximum(s[..., 0] ** 2 - s[..., 0] * s[..., 1] + s[..., 1] ** 2 + 3 * s[..., 2] ** 2, 0.0))
    )
