"""STL and OBJ files as points and triangles."""

from __future__ import annotations

import re
from typing import Final, Literal

import numpy as np

from tinbook.errors import Mistake
from tinbook.plane.arrays import Index
from tinbook.read.scans.raw import Raw, Unusable, fans, merged, numbers

FACET: Final = np.dtype([("normal", "f4", 3), ("corners", "f4", (3, 3)), ("more", "u2")])
"""50 bytes of a binary STL file; the last two carry a colour in some, and are passed over."""

CHUNK: Final = 1 << 24
"""Bytes of text that are turned into numbers at once."""

_VERTEX: Final = re.compile(rb"vertex\s+([^\r\n]+)", re.IGNORECASE)
_POINT: Final = re.compile(rb"^[ \t]*v[ \t]+(\S+[ \t]+\S+[ \t]+\S+)", re.MULTILINE)
_FACE: Final = re.compile(rb"^[ \t]*f[ \t]+([^\r\n]+)", re.MULTILINE)
_LINE: Final = re.compile(rb"^[ \t]*([vf])[ \t]+([^\r\n]+)", re.MULTILINE)
_REST: Final = re.compile(rb"/\S*")


def read_stl(data: bytes) -> Raw:
    """Return points and triangles of an STL file, text or binary; a binary one in either byte order."""
    orders: tuple[Literal["<", ">"], ...] = ("<", ">")
    for order in orders:
        if len(data) >= 84 and len(data) == 84 + 50 * int(np.frombuffer(data, f"{order}u4", 1, 80)[0]):
            corners = np.frombuffer(data, FACET.newbyteorder(order), offset=84)["corners"]
            return merged(corners.reshape(-1, 3).astype(float))
    head = data[:1024].lstrip()
    if head[:5].lower() == b"solid" and (b"facet" in data[:4096].lower() or b"endsolid" in data[:4096].lower()):
        return _stl_text(data)
    if len(data) < 84:
        raise Unusable(Mistake("file", f"{len(data)} bytes; a binary STL file has a head of 84: cut off"))
    count = int(np.frombuffer(data, "<u4", 1, 80)[0])
    what = f"promises {count} triangles, {84 + 50 * count} bytes; the file has {len(data)}: cut off, or no STL file"
    raise Unusable(Mistake("header", what))


def _stl_text(data: bytes) -> Raw:
    found = []
    at = 0
    while at < len(data):
        end = data.find(b"\n", at + CHUNK) + 1 or len(data)
        rows = _VERTEX.findall(data, at, end)
        found.append(numbers(b" ".join(rows), "vertex").reshape(-1))
        if len(found[-1]) != 3 * len(rows):
            raise Unusable(Mistake("vertex", "a row without three numbers; valid: vertex x y z"))
        at = end
    corners = np.concatenate(found).reshape(-1, 3)
    if len(corners) % 3 or b"endsolid" not in data[-4096:].lower():
        raise Unusable(Mistake("end of file", "cut off: a facet without three corners, or no endsolid"))
    return merged(corners)


def read_obj(data: bytes) -> Raw:
    """Return points and polygons of an OBJ file, each cut into triangles; textures, normals and groups are passed over."""
    text = data.replace(b"\\\r\n", b" ").replace(b"\\\n", b" ")
    rows = _POINT.findall(text)
    points = numbers(b" ".join(rows), "v")
    if len(points) != 3 * len(rows):
        raise Unusable(Mistake("v", "a row without three numbers; valid: v x y z"))
    faces = _FACE.findall(text)
    plain = (
        [_REST.sub(b"", f).split() for f in faces] if any(b"/" in f for f in faces[:1]) else [f.split() for f in faces]
    )
    return Raw(points.reshape(-1, 3), _corners(text, plain, len(rows)))


def _corners(text: bytes, plain: list[list[bytes]], count: int) -> Index:
    """Return corners counted from 0; OBJ counts from 1, or backwards from the last point so far."""
    try:
        polygons = [[int(c) for c in f] for f in plain]
    except ValueError:
        raise Unusable(Mistake("f", "a corner that is no number; valid: f 1 2 3, or f 1/1/1 2/2/2 3/3/3")) from None
    if any(c == 0 or abs(c) > count for f in polygons for c in f):
        raise Unusable(Mistake("f", f"a corner that is no point; valid: 1 to {count}, or -1 to -{count}"))
    if any(c < 0 for f in polygons for c in f):
        seen, k = 0, 0
        for m in _LINE.finditer(text):
            if m[1] == b"v":
                seen += 1
                continue
            polygons[k] = [c if c > 0 else seen + c + 1 for c in polygons[k]]
            k += 1
    return fans(polygons) - 1
