"""STL and OBJ files as points and triangles."""

from __future__ import annotations

import re
from typing import Final, Literal

import numpy as np

from tinbook.errors import Mistake
from tinbook.progress import Progress, part_of, quiet
from tinbook.read.scans.raw import Raw, Unusable, blocks, fans, merged, numbers

FACET: Final = np.dtype([("normal", "f4", 3), ("corners", "f4", (3, 3)), ("more", "u2")])
"""50 bytes of a binary STL file; the last two carry a colour in some, and are passed over."""

_VERTEX: Final = re.compile(rb"vertex\s+([^\r\n]+)", re.IGNORECASE)
_POINT: Final = re.compile(rb"^[ \t]*v[ \t]+(\S+[ \t]+\S+[ \t]+\S+)", re.MULTILINE)
_FACE: Final = re.compile(rb"^[ \t]*f[ \t]+([^\r\n]+)", re.MULTILINE)
_LINE: Final = re.compile(rb"^[ \t]*([vf])[ \t]+([^\r\n]+)", re.MULTILINE)
_REST: Final = re.compile(rb"/\S*")


def read_stl(data: bytes, tell: Progress = quiet) -> Raw:
    """Return points and triangles of an STL file, text or binary; a binary one in either byte order."""
    orders: tuple[Literal["<", ">"], ...] = ("<", ">")
    for order in orders:
        if len(data) >= 84 and len(data) == 84 + 50 * int(np.frombuffer(data, f"{order}u4", 1, 80)[0]):
            corners = np.frombuffer(data, FACET.newbyteorder(order), offset=84)["corners"]
            return merged(corners.reshape(-1, 3).astype(float), tell)
    head = data[:1024].lstrip()
    if head[:5].lower() == b"solid" and (b"facet" in data[:4096].lower() or b"endsolid" in data[:4096].lower()):
        return _stl_text(data, tell)
    if len(data) < 84:
        raise Unusable(Mistake("file", f"{len(data)} bytes; a binary STL file has a head of 84: cut off"))
    count = int(np.frombuffer(data, "<u4", 1, 80)[0])
    what = f"promises {count} triangles, {84 + 50 * count} bytes; the file has {len(data)}: cut off, or no STL file"
    raise Unusable(Mistake("header", what))


def _stl_text(data: bytes, tell: Progress) -> Raw:
    found = []
    for block in blocks(data, part_of(tell, 0.0, 0.8)):
        rows = _VERTEX.findall(block)
        found.append(numbers(b" ".join(rows), "vertex").reshape(-1))
        if len(found[-1]) != 3 * len(rows):
            raise Unusable(Mistake("vertex", "a row without three numbers; valid: vertex x y z"))
    corners = np.concatenate(found).reshape(-1, 3)
    if len(corners) % 3 or b"endsolid" not in data[-4096:].lower():
        raise Unusable(Mistake("end of file", "cut off: a facet without three corners, or no endsolid"))
    return merged(corners, part_of(tell, 0.8, 1.0))


def read_obj(data: bytes, tell: Progress = quiet) -> Raw:
    """Return points and polygons of an OBJ file, each cut into triangles; textures, normals and groups are passed over."""
    text = data.replace(b"\\\r\n", b" ").replace(b"\\\n", b" ")
    points, triangles, count = [np.zeros((0, 3))], [np.zeros((0, 3), np.int64)], 0
    for block in blocks(text, tell):
        rows = _POINT.findall(block)
        found = numbers(b" ".join(rows), "v")
        if len(found) != 3 * len(rows):
            raise Unusable(Mistake("v", "a row without three numbers; valid: v x y z"))
        points.append(found.reshape(-1, 3))
        triangles.append(fans(_polygons(block, count)))
        count += len(rows)
    corners = np.concatenate(triangles)
    if len(corners) and not 1 <= corners.min() <= corners.max() <= count:
        raise Unusable(Mistake("f", f"a corner that is no point; valid: 1 to {count}, or -1 to -{count}"))
    return Raw(np.concatenate(points), corners - 1)


def _polygons(block: bytes, seen: int) -> list[list[int]]:
    """Return corners counted from 1, as OBJ does, or backwards from the last point so far."""
    faces = _FACE.findall(block)
    slashes = any(b"/" in f for f in faces[:1])
    try:
        found = [[int(c) for c in (_REST.sub(b"", f) if slashes else f).split()] for f in faces]
    except ValueError:
        raise Unusable(Mistake("f", "a corner that is no number; valid: f 1 2 3, or f 1/1/1 2/2/2 3/3/3")) from None
    if any(c < 0 for f in found for c in f):
        k = 0
        for m in _LINE.finditer(block):
            if m[1] == b"v":
                seen += 1
            else:
                found[k] = [c if c > 0 else seen + c + 1 if c else 0 for c in found[k]]
                k += 1
    return found
