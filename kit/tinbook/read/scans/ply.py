"""PLY files: meshes or points, as text or binary in either byte order; colours and other properties are passed over."""

from __future__ import annotations

from dataclasses import field
from typing import Any, Final

import numpy as np

from tinbook.errors import Mistake
from tinbook.plane.arrays import Index
from tinbook.plane.loops import Array
from tinbook.progress import AT_ONCE, Progress, part_of, quiet
from tinbook.read.scans.raw import Raw, Unusable, fans, numbers
from tinbook.values import dataclass

TYPES: Final = {
    "char": "i1", "uchar": "u1", "short": "i2", "ushort": "u2", "int": "i4", "uint": "u4", "float": "f4", "double": "f8",
    "int8": "i1", "uint8": "u1", "int16": "i2", "uint16": "u2", "int32": "i4", "uint32": "u4", "float32": "f4",
    "float64": "f8",
}  # fmt: skip
ORDERS: Final = {"ascii": "", "binary_little_endian": "<", "binary_big_endian": ">"}
HEADER: Final = 65_536
"""Bytes: a longer header is none."""
CORNERS: Final = ("vertex_indices", "vertex_index")


@dataclass
class _Property:
    name: str
    kind: str
    count: str = ""  # type of a list's length, "" for a single value


@dataclass
class _Element:
    name: str
    count: int
    properties: list[_Property] = field(default_factory=list)

    def least(self, text: bool) -> int:
        """Return the fewest bytes that the element can take."""
        kinds = [p.count or p.kind for p in self.properties]
        return self.count * (2 * len(kinds) if text else sum(np.dtype(TYPES[k]).itemsize for k in kinds))


def read_ply(data: bytes, tell: Progress = quiet) -> Raw:
    """Return points and triangles of a PLY file.

    Raises
    ------
    Unusable
        No header, unknown types, more promised than the file holds, indices that are no points.
    """
    order, elements, start = _header(data)
    room = len(data) - start
    wanted = 0
    for e in elements:
        wanted += e.least(not order)
        if wanted > room + 1:  # the last number of a text may end without a blank
            what = f"the header promises {e.count} of '{e.name}', at least {wanted} bytes; the file holds {room}"
            raise Unusable(Mistake("header", f"{what}: cut off, or damaged"))
    source: _Text | _Binary = (
        _Binary(data, start, order, part_of(tell, 0.5, 1.0))
        if order
        else _Text(numbers(data[start:], "body", part_of(tell, 0.0, 0.5)), part_of(tell, 0.5, 1.0))
    )
    points, faces = None, np.zeros((0, 3), np.int64)
    for e in elements:
        if e.name == "vertex":
            points = source.points(e)
        elif e.name == "face":
            faces = source.faces(e)
        elif points is None or not faces.size:
            source.skip(e)
    if points is None:
        raise Unusable(Mistake("header", "no element 'vertex'; valid: element vertex with x, y, z"))
    return Raw(points, faces)


def _header(data: bytes) -> tuple[str, list[_Element], int]:
    end = data.find(b"end_header", 0, HEADER)
    if end < 0:
        raise Unusable(Mistake("header", "has no line end_header; valid: a PLY file"))
    start = data.find(b"\n", end) + 1
    order: str | None = None
    elements: list[_Element] = []
    if not start:
        raise Unusable(Mistake("header", "nothing follows it: the file is cut off"))
    for k, line in enumerate(data[:end].decode("latin-1").splitlines(), 1):
        words = line.split()
        match words:
            case ["format", name, _] if name in ORDERS:
                order = ORDERS[name]
            case ["element", name, count] if count.isdecimal() and len(count) < 19:
                elements.append(_Element(name, int(count)))
            case ["property", "list", count, kind, name] if elements and {count, kind} <= TYPES.keys():
                elements[-1].properties.append(_Property(name, kind, count))
            case ["property", kind, name] if elements and kind in TYPES:
                elements[-1].properties.append(_Property(name, kind))
            case ["ply"] | ["comment" | "obj_info", *_] | []:
                pass
            case _:
                raise Unusable(Mistake(f"line {k}", f"{line[:60]!r}; valid: format, element or property of PLY 1.0"))
    if order is None:
        raise Unusable(Mistake("header", f"no format; valid: one of {', '.join(ORDERS)}"))
    return order, elements, start


def _places(e: _Element, names: tuple[str, ...]) -> list[int]:
    here = [p.name for p in e.properties]
    if any(n not in here for n in names) or any(p.count for p in e.properties):
        raise Unusable(Mistake("header", f"element '{e.name}' lacks {', '.join(names)} as single numbers"))
    return [here.index(n) for n in names]


def _corner_list(e: _Element) -> int:
    for k, p in enumerate(e.properties):
        if p.name in CORNERS and p.count:
            return k
    raise Unusable(Mistake("header", f"element 'face' has no list {' or '.join(CORNERS)}"))


_CUT: Final = Mistake("end of file", "the faces need more numbers than the file holds: cut off, or damaged")


class _Text:
    """A body of text: one row of numbers, taken from the front."""

    def __init__(self, values: Array, tell: Progress) -> None:
        self.values, self.at, self.tell = values, 0, tell

    def take(self, count: int) -> Array:
        if self.at + count > len(self.values):
            raise Unusable(_CUT)
        self.at += count
        return self.values[self.at - count : self.at]

    def points(self, e: _Element) -> Array:
        places = _places(e, ("x", "y", "z"))
        return self.take(e.count * len(e.properties)).reshape(e.count, -1)[:, places]

    def faces(self, e: _Element) -> Index:
        which = _corner_list(e)
        wide = len(e.properties) + 3
        if not any(p.count for p in e.properties[:which] + e.properties[which + 1 :]):
            rows = self.values[self.at : self.at + e.count * wide]
            if len(rows) == e.count * wide and (rows.reshape(-1, wide)[:, which] == 3).all():
                self.at += len(rows)
                return rows.reshape(-1, wide)[:, which + 1 : which + 4].astype(np.int64)
        return fans(self.rows(e)[which])

    def rows(self, e: _Element) -> list[list[Any]]:
        """Return the values of each property, row by row."""
        found: list[list[Any]] = [[] for _ in e.properties]
        for k in range(e.count):
            if k % AT_ONCE == 0:
                self.tell(k / e.count, e.name)
            for values, p in zip(found, e.properties, strict=True):
                count = float(self.take(1)[0]) if p.count else 1.0
                if not 0 <= count <= len(self.values):
                    raise Unusable(_CUT)
                values.append(self.take(int(count)).tolist())
        return found

    def skip(self, e: _Element) -> None:
        if any(p.count for p in e.properties):
            self.rows(e)
        else:
            self.take(e.count * len(e.properties))


class _Binary:
    """A binary body, taken from the front."""

    def __init__(self, data: bytes, at: int, order: str, tell: Progress) -> None:
        self.data, self.at, self.order, self.tell = data, at, order, tell

    def take(self, kind: Any, count: int) -> Any:
        size = np.dtype(kind).itemsize * count
        if self.at + size > len(self.data):
            raise Unusable(_CUT)
        found = np.frombuffer(self.data, kind, count, self.at)
        self.at += size
        return found

    def _single(self, e: _Element) -> Any:
        return np.dtype([(f"p{k}", self.order + TYPES[p.kind]) for k, p in enumerate(e.properties)])

    def points(self, e: _Element) -> Array:
        places = _places(e, ("x", "y", "z"))
        rows = self.take(self._single(e), e.count)
        return np.column_stack([rows[f"p{k}"].astype(float) for k in places])

    def faces(self, e: _Element) -> Index:
        which = _corner_list(e)
        if sum(bool(p.count) for p in e.properties) == 1:
            row: list[Any] = []
            for k, p in enumerate(e.properties):
                if k == which:
                    row += [("n", self.order + TYPES[p.count]), ("i", self.order + TYPES[p.kind], 3)]
                else:
                    row.append((f"p{k}", self.order + TYPES[p.kind]))
            kind = np.dtype(row)
            if self.at + kind.itemsize * e.count <= len(self.data):
                rows = np.frombuffer(self.data, kind, e.count, self.at)
                if (rows["n"] == 3).all():
                    self.at += kind.itemsize * e.count
                    return rows["i"].astype(np.int64)
        return fans(self.rows(e)[which])

    def rows(self, e: _Element) -> list[list[Any]]:
        """Return the values of each property, row by row."""
        found: list[list[Any]] = [[] for _ in e.properties]
        kinds = [(self.order + TYPES[p.count] if p.count else "", self.order + TYPES[p.kind]) for p in e.properties]
        for k in range(e.count):
            if k % AT_ONCE == 0:
                self.tell(k / e.count, e.name)
            for values, (count, kind) in zip(found, kinds, strict=True):
                n = self.take(count, 1)[0] if count else 1
                if not 0 <= n <= len(self.data):
                    raise Unusable(_CUT)
                values.append(self.take(kind, int(n)).tolist())
        return found

    def skip(self, e: _Element) -> None:
        if any(p.count for p in e.properties):
            self.rows(e)
        else:
            self.take(self._single(e), e.count)
