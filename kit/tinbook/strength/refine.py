"""Meshes that follow stress: finer where it is steep, until the greatest stress of the last two agrees."""

from __future__ import annotations

from typing import Final

import numpy as np
import shapely
from scipy.spatial import cKDTree

from tinbook.making.made import Made
from tinbook.strength.mesh.build import Fine
from tinbook.strength.mesh.quads import Mesh
from tinbook.strength.shell import stress
from tinbook.strength.shell.element import Array
from tinbook.strength.shell.linear import Shell
from tinbook.strength.singular import Reads

STEEP: Final = 0.08
"""Change of stress over half an element, over the greatest stress, above which it is divided (own choice)."""
HIGH: Final = 0.6
"""Parts of the greatest stress below which steep stress does not matter."""
TIP: Final = 0.5
"""Thicknesses of an element at a singular place, so that four lie within the ring on which its stress is read."""


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
        worst = np.maximum(worst, mises(skin).max(axis=1))
        spread = np.maximum(spread, mises(skin - skin.mean(axis=1, keepdims=True)).max(axis=1))
    peak = float(np.max(worst, where=read[m.quads].all(axis=1), initial=0.0))
    marked = np.flatnonzero((worst > HIGH * peak) & (spread > STEEP * peak) & read[m.quads].any(axis=1))
    if not len(marked):
        return None
    side = np.sqrt(e.area[marked])
    wanted = np.maximum(side * np.clip(0.7 * STEEP * peak / spread[marked], 0.2, 0.5), 0.25 * e.thickness[marked])
    places = np.concatenate((m.points[m.quads[marked]], e.corners[marked].mean(axis=1)[:, None]), axis=1)
    points, sizes = places.reshape(-1, 3), np.repeat(wanted, 5)
    middle = e.corners[marked].mean(axis=1)
    if len(reads.sharp):
        # As fine at once as the ring on which it is read.
        away, which = cKDTree(reads.sharp).query(middle)
        hot = np.concatenate(
            [reads.rings[k].points for k in np.unique(which[away < reads.reach + side])] or [points[:0]]
        )
        points = np.concatenate((points, hot))
        sizes = np.append(sizes, np.full(len(hot), TIP * made.thickness))
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
    panel = made.panel(name)
    local = shapely.points(panel.frame.inverse().points(places)[:, :2])
    out = set()
    for k, f in enumerate(panel.forms):
        if f.footprint is not None and shapely.intersects(shapely.Polygon(f.footprint.chords()), local).any():
            out.add((name, k))
    return out


def mises(s: Array) -> Array:
    """Return the von Mises stress of plane tensors (..., 3; xx, yy, xy)."""
    return np.asarray(
        np.sqrt(np.maximum(s[..., 0] ** 2 - s[..., 0] * s[..., 1] + s[..., 1] ** 2 + 3 * s[..., 2] ** 2, 0.0))
    )
