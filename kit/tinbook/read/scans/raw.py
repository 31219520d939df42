"""What every reader of scans shares: raw points and triangles, numbers out of text, polygons cut into triangles."""

from __future__ import annotations

import re
import warnings
from collections.abc import Iterator, Sequence
from typing import Final

import numpy as np

from tinbook.errors import Mistake
from tinbook.plane.arrays import Index
from tinbook.plane.loops import Array
from tinbook.progress import Progress, quiet
from tinbook.values import dataclass

CHUNK: Final = 1 << 22
"""Bytes of text that are turned into numbers at once."""
_BLANK: Final = re.compile(rb"\s")
_END: Final = re.compile(rb"\n|\r(?!\n)")


class Unusable(Exception):
    """A file that cannot be used; `read_scan` adds its path."""

    def __init__(self, mistake: Mistake) -> None:
        self.mistake = mistake
        super().__init__(mistake.what)


@dataclass(frozen=True, slots=True)
class Raw:
    """Points, shape (n, 3), in the file's unit, and the corners of its triangles, shape (m, 3), as the file has them."""

    points: Array
    triangles: Index


def blocks(text: bytes, tell: Progress, lines: bool = True) -> Iterator[bytes]:
    """Yield a text in pieces of some `CHUNK` bytes, each of whole lines, or else of whole words."""
    at, ends = 0, _END if lines else _BLANK
    while at < len(text):
        tell(at / len(text), "numbers of the file")
        found = ends.search(text, at + CHUNK)
        end = found.end() if found else len(text)
        yield text[at:end]
        at = end


def numbers(text: bytes, where: str, tell: Progress = quiet) -> Array:
    """Return the numbers of a text that holds nothing else but blanks.

    Raises
    ------
    Unusable
        Anything that is no number.
    """
    found = [np.zeros(0)]
    for part in blocks(text, tell, lines=False):
        with warnings.catch_warnings():
            warnings.simplefilter("error", DeprecationWarning)
            try:
                found.append(np.fromstring(part, sep=" ") if part.strip() else np.zeros(0))
            except (DeprecationWarning, ValueError):
                what = "holds something that is no number; valid: numbers with a point"
                raise Unusable(Mistake(where, what)) from None
    return np.concatenate(found)


def fans(polygons: Sequence[Sequence[int]]) -> Index:
    """Return the triangles of polygons, each cut as a fan from its first corner; those with two corners give none."""
    by_size: dict[int, list[Sequence[int]]] = {}
    for p in polygons:
        by_size.setdefault(len(p), []).append(p)
    found = [np.zeros((0, 3), np.int64)]
    for size, rows in by_size.items():
        if size >= 3:
            corners = np.array(rows)
            found += [corners[:, (0, k, k + 1)].astype(np.int64) for k in range(1, size - 1)]
    return np.concatenate(found)


def merged(corners: Array, tell: Progress = quiet) -> Raw:
    """Return the mesh of triangles that are given by their corners, shape (3 m, 3): equal places become one point.

    Rows are told apart by a hash of their bits and then compared, many times quicker than sorting the rows.
    """
    tell(0.0, "corners that are one point")
    bits = np.ascontiguousarray(corners + 0.0).view(np.uint64).reshape(-1, 3)  # -0.0 becomes 0.0
    key = bits[:, 0] * np.uint64(0x9E3779B97F4A7C15)
    key = (key ^ (key >> np.uint64(29)) ^ bits[:, 1]) * np.uint64(0xBF58476D1CE4E5B9)
    key = (key ^ (key >> np.uint64(32)) ^ bits[:, 2]) * np.uint64(0x94D049BB133111EB)
    tell(0.2, "corners in order")
    order = np.argsort(key, kind="stable")
    tell(0.7, "points of the mesh")
    rows = bits[order]
    new = np.ones(len(rows), dtype=bool)
    new[1:] = (rows[1:] != rows[:-1]).any(axis=1)
    number = np.empty(len(rows), np.int64)
    number[order] = np.cumsum(new) - 1
    return Raw(corners[order[new]], number.reshape(-1, 3))
