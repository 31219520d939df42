"""The mesh of a preview as it grows: positions, triangles, lines and their groups; frames of many points."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import field

import numpy as np

from tinbook.plane.arrays import Index
from tinbook.plane.loops import Array, Edge
from tinbook.space import Frame
from tinbook.values import dataclass

BEND = math.radians(10.0)
"""rad: largest turn of a bend or bead from facet to facet; loses BEND²/6 = 0.5 % of that bend's volume."""


@dataclass(slots=True, eq=False)
class MeshBuilder:
    """The mesh made so far."""

    positions: list[Array] = field(default_factory=list)
    triangles: list[Index] = field(default_factory=list)
    group: list[Index] = field(default_factory=list)
    lines: list[Index] = field(default_factory=list)
    line_group: list[Index] = field(default_factory=list)
    names: list[str] = field(default_factory=list)
    kinds: list[str] = field(default_factory=list)
    count: int = 0

    def open_group(self, kind: str, name: str) -> int:
        """Open a group of triangles and lines; returns its number."""
        self.names.append(name)
        self.kinds.append(kind)
        return len(self.names) - 1

    def add_points(self, positions: Array) -> int:
        """Add positions; returns the number of the first."""
        first = self.count
        self.positions.append(positions)
        self.count += len(positions)
        return first

    def add_triangles(self, triangles: Index, group: int | Index) -> None:
        """Add triangles."""
        self.triangles.append(triangles)
        self.group.append(np.full(len(triangles), group) if isinstance(group, int) else group)

    def add_lines(self, a: Index, b: Index, group: int | Index) -> None:
        """Add lines between numbered positions."""
        self.lines.append(np.concatenate((a, b)).reshape(2, -1).T)
        self.line_group.append(np.full(len(a), group) if isinstance(group, int) else group)

    def add_sheet(
        self, low: Array, high: Array, skin: Index, group: int | Index, walls: tuple[Index, Index, Index]
    ) -> int:
        """Add both skins over one triangulation, and walls with drawn rims under directed edges (from, to, group).

        Returns the number of the first position on the down face; those on the up face follow.
        """
        n, m = len(low), len(skin)
        first = self.add_points(np.concatenate((low, high)))
        a, b, of = walls
        tri = np.empty((2 * m + 2 * len(a), 3), dtype=np.int64)
        tri[:m], tri[m : 2 * m] = skin[:, ::-1], skin
        tri[m : 2 * m] += n
        quads = tri[2 * m :].reshape(-1, 6)
        for k, corner in enumerate((a, b, b + n, a, b + n, a + n)):
            quads[:, k] = corner
        tri += first
        self.triangles.append(tri)
        own = np.full(m, group) if isinstance(group, int) else group
        self.group.append(np.concatenate((own, own, np.repeat(of, 2))))
        rim = first + np.concatenate((a, a + n)), first + np.concatenate((b, b + n))
        self.add_lines(*rim, np.concatenate((of, of)))
        return first


class Frames:
    """Frames by number, to carry many points at once."""

    def __init__(self, frames: Sequence[Frame]) -> None:
        self.origin, self.x, self.y, self.z = np.array([(f.origin, f.x, f.y, f.z) for f in frames]).swapaxes(0, 1)

    def __call__(self, of: Index, xy: Array) -> Array:
        """Return points of the planes numbered `of` in space."""
        out: Array = self.origin[of] + xy[:, :1] * self.x[of] + xy[:, 1:] * self.y[of]
        return out


@dataclass(slots=True, eq=False)
class Outlines:
    """Loops of all panels, as they are collected."""

    edges: list[Edge] = field(default_factory=list)
    sizes: list[int] = field(default_factory=list)
    cut: list[bool] = field(default_factory=list)
    panel: list[int] = field(default_factory=list)
    group: list[int] = field(default_factory=list)  # of each edge

    def add(self, edges: Sequence[Edge], groups: Sequence[int], panel: int, *, cut: bool) -> None:
        """Add a loop, run anticlockwise."""
        self.edges += edges
        self.sizes.append(len(edges))
        self.cut.append(cut)
        self.panel.append(panel)
        self.group += groups


def edge_groups(builder: MeshBuilder, edges: Sequence[Edge], wall: int) -> list[int]:
    """Return the group of each edge of a boundary: a fold's, that of an opening over a fold, or the wall's."""
    found: dict[str, int] = {"": wall}
    groups = []
    for e in edges:
        kind, _, name = e.name.partition(":")
        key = e.name if kind in ("fold", "hole") and name else ""
        if key not in found:
            found[key] = builder.open_group(kind, name)
        groups.append(found[key])
    return groups
