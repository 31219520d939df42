"""A folded part as bytes for a viewer, in a notebook or on a page of its own."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from tinbook.making.labels import key, labels
from tinbook.values import dataclass

if TYPE_CHECKING:
    from tinbook.making.made import Made


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """A folded part as bytes, ready to be sent.

    Parameters
    ----------
    positions : bytes
        float32, shape (n, 3), mm.
    triangles : bytes
        uint32, shape (m, 3), outward normals.
    group_of : bytes
        uint32, shape (m,): index into `groups`.
    edges : bytes
        float32, shape (k, 2, 3): segments to draw as lines.
    groups : list of (key, kind)
        Features; resent only when they change.
    labels : list of str
        Name and size of each group.
    """

    positions: bytes
    triangles: bytes
    group_of: bytes
    edges: bytes
    groups: list[list[str]]
    labels: list[str]


def shape_of(made: Made) -> Shape:
    """Return the preview of a made part as bytes."""
    p = made.preview
    texts = labels(made)
    keys = [key(kind, name) for name, kind in zip(p.names, p.kinds, strict=True)]
    return Shape(
        positions=np.ascontiguousarray(p.positions, dtype="<f4").tobytes(),
        triangles=np.ascontiguousarray(p.triangles, dtype="<u4").tobytes(),
        group_of=np.ascontiguousarray(p.group, dtype="<u4").tobytes(),
        edges=np.ascontiguousarray(p.lines, dtype="<f4").tobytes(),
        groups=[[k, kind] for k, kind in zip(keys, p.kinds, strict=True)],
        labels=[texts.get(k) or f"{kind} of {name}" for k, kind, name in zip(keys, p.kinds, p.names, strict=True)],
    )
