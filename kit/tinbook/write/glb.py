"""The folded part or an assembly as GLB (glTF 2.0 in one binary file): metres, y up, a mesh for each body, the same bytes every time."""

from __future__ import annotations

import json
import os
import struct
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final

import numpy as np
import numpy.typing as npt

import tinbook.making.solid as solids
from tinbook.making.assembled import Assembled, need_made_or_assembled
from tinbook.making.made import Made
from tinbook.plane.loops import Array
from tinbook.values import dataclass
from tinbook.write.drafts import draft_of
from tinbook.write.names import label
from tinbook.write.stamp import Despite

# Codes of the glTF 2.0 specification (Khronos, sections 3.6 and 3.7).
_FLOAT, _UINT32, _VERTICES, _INDICES = 5126, 5125, 34962, 34963
_MAGIC, _JSON, _BIN = 0x46546C67, 0x4E4F534A, 0x004E4942

_ROUGHNESS: Final = 0.55
"""Bare sheet: neither mirror nor chalk. Metalness stays 0, a metal without surroundings shows black."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GlbItem:
    """Triangles of one solid.

    Parameters
    ----------
    positions : array, shape (n, 3)
        mm, z up.
    triangles : array, shape (m, 3)
        Corners, anticlockwise seen from outside.
    name : str
        Name of the node.
    colour : (float, float, float)
        Red, green, blue, 0 to 1 (sRGB).
    """

    positions: npt.NDArray[np.floating[Any]]
    triangles: npt.NDArray[np.integer[Any]]
    name: str
    colour: tuple[float, float, float]


def write_glb(
    made: Made | Assembled,
    path: str | os.PathLike[str],
    *,
    quantity: int | None = None,
    despite: Despite = None,
    replace: bool = False,
) -> Path:
    """Write the folded part or an assembly for viewers of 3-D models.

    Parameters
    ----------
    made : Made or Assembled
        The part, or the assembly with a node for each member.
    path : str or path-like
        File name ending in .glb, or an existing folder.
    quantity : int, optional
        For the file name, instead of the part's own; an assembly has none.
    despite : str or sequence of str, optional
        A reason, or the codes of findings, for writing it although something stops it; the file says so.
    replace : bool
        Write over whatever is there; else only an earlier draft of the same design gives way.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    CannotMake
        Something stops it, or a part of it cannot be made, and `despite` does not name it; nothing is written.
    CannotWrite
        The file there is none of this design's drafts, or the system refuses.
    BadValue
        A name or folder that cannot be used.
    """
    need_made_or_assembled(made, "write_glb")
    draft = draft_of(made, path, ".glb", quantity=quantity, despite=despite, replace=replace)
    return draft.write(glb_bytes(_items(made), draft.stamp.mark))


def _items(made: Made | Assembled) -> list[GlbItem]:
    if isinstance(made, Made):
        solids.mesh.triangulate(made.shape)
        positions, triangles = solids.mesh.triangles(made.shape)
        colour = made.sheet.material.colour
        return [GlbItem(positions=positions, triangles=triangles, name=label(made).name, colour=colour)]
    meshes = [(m.name, *made.mesh(m.name)) for m in made.assembly.members]
    return [GlbItem(positions=p, triangles=t, name=name, colour=made.colour(name)) for name, p, t in meshes]


def glb_bytes(items: Sequence[GlbItem], mark: str = "") -> bytes:
    """Return triangles as the bytes of a GLB file, one node and one colour for each item; `mark` says what it is."""
    blob = bytearray()
    views: list[dict[str, int]] = []
    accessors: list[dict[str, Any]] = []

    def put(data: npt.NDArray[Any], target_code: int, component: int, kind: str, **bounds: Any) -> int:
        views.append({"buffer": 0, "byteOffset": len(blob), "byteLength": data.nbytes, "target": target_code})
        accessors.append(
            {"bufferView": len(views) - 1, "componentType": component, "count": len(data), "type": kind, **bounds}
        )
        blob.extend(data.tobytes())
        return len(accessors) - 1

    meshes: list[dict[str, Any]] = []
    for i, item in enumerate(items):
        p = np.asarray(item.positions, float)
        # z up in mm becomes y up in metres.
        points = np.column_stack((p[:, 0], p[:, 2], -p[:, 1])).astype("<f4") / np.float32(1000)
        n = _normals(p, item.triangles)
        normals = np.column_stack((n[:, 0], n[:, 2], -n[:, 1])).astype("<f4")
        low, high = ([float(v) for v in f(axis=0)] for f in (points.min, points.max))
        primitive = {
            "attributes": {
                "POSITION": put(points, _VERTICES, _FLOAT, "VEC3", min=low, max=high),
                "NORMAL": put(normals, _VERTICES, _FLOAT, "VEC3"),
            },
            "indices": put(np.ascontiguousarray(item.triangles, "<u4").reshape(-1), _INDICES, _UINT32, "SCALAR"),
            "material": i,
        }
        meshes.append({"name": item.name, "primitives": [primitive]})
    document = {
        "asset": {"version": "2.0", "generator": "tinbook", **({"extras": {"mark": mark}} if mark else {})},
        "scene": 0,
        "scenes": [{"nodes": list(range(len(items)))}],
        "nodes": [{"name": item.name, "mesh": i} for i, item in enumerate(items)],
        "meshes": meshes,
        "materials": [
            {
                "name": item.name,
                "pbrMetallicRoughness": {
                    "baseColorFactor": [*(_linear(c) for c in item.colour), 1.0],
                    "metallicFactor": 0.0,
                    "roughnessFactor": _ROUGHNESS,
                },
            }
            for item in items
        ],
        "accessors": accessors,
        "bufferViews": views,
        "buffers": [{"byteLength": len(blob)}],
    }
    text = json.dumps(document, separators=(",", ":"), sort_keys=True).encode("ascii")
    text += b" " * (-len(text) % 4)
    data = bytes(blob) + bytes(-len(blob) % 4)
    total = 12 + 8 + len(text) + 8 + len(data)
    return b"".join(
        (
            struct.pack("<III", _MAGIC, 2, total),
            struct.pack("<II", len(text), _JSON),
            text,
            struct.pack("<II", len(data), _BIN),
            data,
        )
    )


def _normals(points: Array, triangles: npt.NDArray[np.integer[Any]]) -> Array:
    """Return unit normals at the vertices, each the mean of its triangles by their area."""
    a, b, c = (points[triangles[:, k]] for k in range(3))
    faces = np.cross(b - a, c - a)
    sums = np.zeros_like(points)
    for k in range(3):
        np.add.at(sums, triangles[:, k], faces)
    sizes = np.linalg.norm(sums, axis=1, keepdims=True)
    sums[sizes[:, 0] == 0] = (0.0, 0.0, 1.0)
    sizes[sizes == 0] = 1.0
    result: Array = sums / sizes
    return result


def _linear(c: float) -> float:
    """Turn an sRGB channel into linear light (IEC 61966-2-1)."""
    return round(c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4, 6)
