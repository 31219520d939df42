"""A fit map in the live view: the metal coloured by its gap to the body, to be turned and picked at."""

from __future__ import annotations

from typing import Final

import numpy as np

from tinbook.bench.viewer import View
from tinbook.errors import of_kind
from tinbook.fit.gaps import FitMap
from tinbook.making.assembled import Assembled
from tinbook.making.made import Made
from tinbook.making.shape import Shape, shape_of
from tinbook.strength.report import Field
from tinbook.write.scene import scene_of

LOW: Final = -1.0
HIGH: Final = 5.0
"""mm: ends of the colours."""
SAME: Final = 0.001
"""mm: corners nearer than this are one."""


def fit_view(fit: FitMap) -> View:
    """Return the live view of a fit map, of a part or an assembly; it holds at most 150 000 triangles.

    Parameters
    ----------
    fit : FitMap
        As `tb.fit.fit_map` gives it.

    Returns
    -------
    View
        A widget, the map's picture beside it. Metal in metal has the colour of the least gap, metal with nothing opposite that of the largest.
    """
    of_kind(fit, FitMap, "fit", "a fit map, as tb.fit.fit_map gives one")
    view = View()
    view.show(shape_of(fit.made) if isinstance(fit.made, Made) else whole(fit.made))
    view.svg = str(fit.picture())
    view.colour(field_of(fit))
    return view


def whole(made: Assembled) -> Shape:
    """Return an assembly as one body, each member a group of its own."""
    scene = scene_of(made)
    points, triangles, group, lines, count = [], [], [], [], 0
    for k, (m, placed) in enumerate(zip(scene.members, made.assembly.members, strict=True)):
        body = scene.bodies[m["body"]]
        own, edges = (np.frombuffer(body[name], "<f4").reshape(-1, 3) for name in ("positions", "edges"))
        corners = np.frombuffer(body["triangles"], "<u4")
        points.append(placed.at.points(own.astype(float)))
        lines.append(placed.at.points(edges.astype(float)))
        triangles.append(corners + count)
        group.append(np.full(len(corners) // 3, k))
        count += len(own)
    return Shape(
        positions=np.concatenate(points).astype("<f4").tobytes(),
        triangles=np.concatenate(triangles).astype("<u4").tobytes(),
        group_of=np.concatenate(group).astype("<u4").tobytes(),
        edges=np.concatenate(lines).astype("<f4").tobytes(),
        groups=[[m["name"], "panel"] for m in scene.members],
        labels=[m["label"] for m in scene.members],
    )


def field_of(fit: FitMap) -> Field:
    """Return the gaps as colours on the metal where it was drawn; each corner of a face has the mean gap round it."""
    surface = fit.surface
    places = fit.at.inverse().points(surface.points)[surface.triangles].reshape(-1, 3)
    # Corners at one place on one face are one, so that lines are drawn only where the face ends.
    of_face = np.repeat(np.rint(2 * surface.normals), 3, axis=0)
    _, first, corner = np.unique(
        np.hstack((np.rint(places / SAME), of_face)), axis=0, return_index=True, return_inverse=True
    )
    corner = corner.reshape(-1)
    gaps = np.repeat(fit.gaps, 3)
    there = ~np.isnan(gaps)
    count = np.bincount(corner[there], minlength=len(first))
    total = np.bincount(corner[there], gaps[there], len(first))
    # Where nothing lies opposite it is shown like a gap beyond the scale, and the legend says so.
    values = np.where(count > 0, total / np.maximum(count, 1), HIGH + 1.0)
    return Field(
        points=places[first].astype(np.float32),
        triangles=corner.reshape(-1, 3).astype(np.uint32),
        moves=np.zeros((len(first), 3), np.float32),
        values=np.maximum(values, LOW).astype(np.float32),
        title="gap to the body",
        unit="mm",
        low=LOW,
        high=HIGH,
        over=f"{HIGH:g} mm or more, or nothing of the scan opposite",
    )
