"""Webs so narrow that part of the mesh would hang on a single node: refused before meshing, with the hole's name."""

from __future__ import annotations

from typing import Final

import numpy as np
import shapely

from tinbook.errors import BadValue
from tinbook.making.made import Made

LEAST: Final = 0.1
"""mm of metal that must be left between two contours of the blank: less is no wider than what a cutter takes away."""
FINE: Final = 0.002
"""Chords of contours, mm."""


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
