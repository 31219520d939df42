"""Triangles of the folded part straight from panels and strips: quick enough to follow a slider.

No geometry kernel: arcs become chords of equal area, each panel's skin is
triangulated once and used on both faces, bends and beads are grids. The mesh
is closed and looks outward everywhere; pieces that meet have their vertices at
the same places, but do not share them.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from tinbook.making.folded import Folded, MadePanel
from tinbook.making.preview.bends import add_strips
from tinbook.making.preview.builder import Frames, MeshBuilder, Outlines, edge_groups
from tinbook.making.preview.forms import add_forms
from tinbook.making.preview.triangles import Rings, chords, following, sizes_of, triangulate
from tinbook.memo import remembered
from tinbook.plane.arrays import Index
from tinbook.plane.loops import Array
from tinbook.values import dataclass


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Preview:
    """A closed triangle mesh of the folded part, in groups that can be picked.

    Parameters
    ----------
    positions : array, shape (n, 3), float32
        mm, in the base panel's coordinates.
    triangles : array, shape (m, 3), uint32
        Anticlockwise seen from outside.
    group : array, shape (m,), uint32
        Place of each triangle in `names` and `kinds`.
    names : tuple of str
        Name of the panel, fold, bead or hole; of the panel or fold for an outer wall.
    kinds : tuple of str
        "panel" (skins), "fold", "bead", "hole" (its rim, in several groups where it runs over
        folds) or "edge" (outer walls).
    lines : array, shape (k, 2, 3), float32
        Edges worth drawing.
    line_group : array, shape (k,), uint32
        Place of each line in `names` and `kinds`: "edge", "hole", "bead", or "fold" for the
        tangent lines of bends.
    """

    positions: npt.NDArray[np.float32]
    triangles: npt.NDArray[np.uint32]
    group: npt.NDArray[np.uint32]
    names: tuple[str, ...]
    kinds: tuple[str, ...]
    lines: npt.NDArray[np.float32]
    line_group: npt.NDArray[np.uint32]

    @property
    def volume(self) -> float:
        """Enclosed volume, mm³."""
        p = self.positions.astype(np.float64)
        a, b, c = (p[self.triangles[:, k]] for k in range(3))
        return float(np.einsum("ij,ij->", a, np.cross(b, c)) / 6.0)

    @property
    def box(self) -> tuple[tuple[float, ...], tuple[float, ...]]:
        """Lowest and highest corner of the bounding box, mm."""
        return tuple(self.positions.min(axis=0).tolist()), tuple(self.positions.max(axis=0).tolist())


_NONE: Index = np.zeros(0, np.int64)


def _panels(builder: MeshBuilder, panels: Sequence[MadePanel], t: float) -> None:
    """Add all panels with their holes and forms."""
    lines, skins = Outlines(), np.array([builder.open_group("panel", p.name) for p in panels])
    for k, p in enumerate(panels):
        lines.add(
            p.boundary.edges, edge_groups(builder, p.boundary.edges, builder.open_group("edge", p.name)), k, cut=False
        )
        for h in p.holes:
            own = h.loop.edges
            if len(own) != 2 or own[0].bulge < 0:
                own = h.loop.anticlockwise().edges
            lines.add(own, [builder.open_group("hole", h.name)] * len(own), k, cut=True)
    rings = chords(lines.edges, lines.sizes, lines.cut)
    sizes = sizes_of(rings.ends)
    n_chords, edge = len(rings.xy), rings.edge
    of = np.array(lines.group)[edge]
    open_ = np.array([e.name.startswith("fold:") for e in lines.edges])[edge]  # no wall, the bend goes on
    cut, circles = np.array(lines.cut), np.array(lines.sizes) == 2
    round_ = np.repeat(cut & circles, sizes)
    on = np.repeat(lines.panel, sizes)
    frames = Frames([p.frame for p in panels])
    forms = add_forms(builder, panels, t)
    xy = np.concatenate((rings.xy, *(b.outline for b in forms)))
    reach = [len(b.outline) for b in forms]
    on = np.concatenate((on, np.repeat(np.array([b.panel for b in forms], dtype=np.int64), reach)))
    ends = np.concatenate((rings.ends, n_chords + np.cumsum(reach, dtype=np.int64)))
    after = following(len(xy), ends)
    panel = np.array([*lines.panel, *(b.panel for b in forms)])
    skin, skin_of = _skins(xy, ends, panel, np.append(cut & circles, np.zeros(len(forms), dtype=np.bool_)))
    n = len(xy)
    walled = np.flatnonzero(~open_)
    low = frames(on, xy)
    first = builder.add_sheet(low, low + t * frames.z[on], skin, skins[skin_of], (walled, after[walled], of[walled]))
    folded = np.flatnonzero(open_)
    for shift in (first, first + n):
        builder.add_lines(shift + folded, shift + after[folded], of[folded])
    upright = np.flatnonzero(rings.corner & ~round_ & ~open_)
    builder.add_lines(first + upright, first + n + upright, of[upright])
    # A form's outline is drawn on the face it stands out on.
    ring = np.arange(n_chords, n)
    face = first + np.repeat(np.array([n * b.up for b in forms], dtype=np.int64), reach)
    builder.add_lines(
        face + ring, face + after[ring], np.repeat(np.array([b.group for b in forms], dtype=np.int64), reach)
    )


def _skins(xy: Array, ends: Index, panel: Index, circle: npt.NDArray[np.bool_]) -> tuple[Index, Index]:
    """Triangulate panels whose rings are given in any order, each outline before its cuts; returns the panel of each too."""
    begins = np.concatenate(((0,), ends[:-1]))
    order = np.argsort(panel, kind="stable")
    count = np.bincount(panel)
    first = np.cumsum(count) - count
    sizes = ends - begins
    # Plain four-sided panels all at once.
    plain = np.flatnonzero((count == 1) & (sizes[order[first]] == 4))
    corner = begins[order[first[plain]]][:, None] + np.arange(4)
    way = xy[corner[:, (1, 2, 3, 0)]] - xy[corner]
    turn = way[:, (3, 0, 1, 2)]
    convex = ((turn[..., 0] * way[..., 1] - turn[..., 1] * way[..., 0]) > 0).all(axis=1)
    plain, corner = plain[convex], corner[convex]
    tri, of = [corner[:, (0, 1, 2, 0, 2, 3)].reshape(-1, 3)], [np.repeat(plain, 2)]
    for k in set(range(len(count))).difference(plain.tolist()):
        own = order[first[k] : first[k] + count[k]]
        local = np.cumsum(sizes[own])
        place = np.arange(local[-1]) + np.repeat(ends[own] - local, sizes[own])
        rings = Rings(xy[place], local, following(len(place), local), place, place, np.flatnonzero(circle[own]))
        tri.append(place[triangulate(rings)])
        of.append(np.full(len(tri[-1]), k))
    return np.concatenate(tri), np.concatenate(of)


@remembered
def preview(folded: Folded) -> Preview:
    """Return triangles and lines of the folded part.

    Parameters
    ----------
    folded : Folded
        One without panels gives an empty mesh.

    Returns
    -------
    Preview
        Computed once for each value.
    """
    builder = MeshBuilder()
    if folded.panels:
        _panels(builder, folded.panels, folded.thickness)
    if folded.zones:
        add_strips(builder, folded.zones, folded.thickness)
    if not builder.positions:
        builder.add_sheet(np.zeros((0, 3)), np.zeros((0, 3)), np.zeros((0, 3), np.int64), 0, (_NONE, _NONE, _NONE))
    positions = np.concatenate(builder.positions).astype(np.float32)
    return Preview(
        positions=positions,
        triangles=np.concatenate(builder.triangles).astype(np.uint32),
        group=np.concatenate(builder.group).astype(np.uint32),
        names=tuple(builder.names),
        kinds=tuple(builder.kinds),
        lines=positions[np.concatenate(builder.lines)],
        line_group=np.concatenate(builder.line_group).astype(np.uint32),
    )
