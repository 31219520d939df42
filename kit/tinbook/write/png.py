"""Shades of a drawing as a PNG image: a palette, nothing but the standard library, the same bytes every time."""

from __future__ import annotations

import struct
import zlib
from collections.abc import Sequence
from typing import Final, TypeAlias

import numpy as np

from tinbook.making.preview.drawing import Drawing

RGB: TypeAlias = tuple[int, int, int]
Tint: TypeAlias = tuple[RGB, RGB]
"""Colour of the darkest and of the lightest face."""

METAL: Final[Tint] = ((0x76, 0x84, 0x91), (0xF4, 0xF7, 0xF9))
BOUGHT: Final[Tint] = ((0x84, 0x78, 0x62), (0xF3, 0xEC, 0xDF))
EXISTING: Final[Tint] = ((0xA8, 0xA8, 0xA4), (0xF7, 0xF7, 0xF4))
"""Light enough for dark lines on any page, and apart in hue: made, bought, there before."""
TINTS: Final = {"part": METAL, "bought": BOUGHT, "existing": EXISTING}
"""By the kind of a member."""

SHADES: Final = 48
"""Steps from dark to light; with three tints they fit a palette of 256."""


def shades_png(d: Drawing, tints: Sequence[Tint] = ()) -> bytes:
    """Return a drawing's shades as PNG, transparent where there is nothing.

    Parameters
    ----------
    d : Drawing
        What is seen.
    tints : sequence of Tint
        Of each body; metal where it is left out.
    """
    known = list(dict.fromkeys(tints)) or [METAL]
    of = np.array([known.index(t) for t in tints] or [0], dtype=np.int64)
    there = d.item >= 0
    level = np.rint(np.clip(np.nan_to_num(d.shade), 0.0, 1.0) * (SHADES - 1)).astype(np.int64)
    body = np.where(there, d.item, 0) if tints else np.zeros_like(d.item)
    index = np.where(there, 1 + of[body] * SHADES + level, 0).astype(np.uint8)
    colours = [(255, 255, 255)] + [_between(t, k / (SHADES - 1)) for t in known for k in range(SHADES)]
    return png(index[::-1], colours)


def _between(tint: Tint, share: float) -> RGB:
    r, g, b = (round(low + (high - low) * share) for low, high in zip(*tint, strict=True))
    return r, g, b


def png(index: np.ndarray[tuple[int, int], np.dtype[np.uint8]], colours: Sequence[RGB]) -> bytes:
    """Return a picture of palette colours as PNG; colour 0 is transparent.

    Parameters
    ----------
    index : array of uint8, shape (rows, columns)
        Of a colour each, from the top row.
    colours : sequence of (red, green, blue)
        At most 256.
    """
    rows, columns = index.shape
    lines = np.zeros((rows, columns + 1), dtype=np.uint8)
    lines[:, 1:] = index
    head = struct.pack(">IIBBBBB", columns, rows, 8, 3, 0, 0, 0)
    parts = (
        (b"IHDR", head),
        (b"PLTE", bytes(v for colour in colours for v in colour)),
        (b"tRNS", b"\0"),
        (b"IDAT", zlib.compress(lines.tobytes(), 9)),
        (b"IEND", b""),
    )
    return b"\x89PNG\r\n\x1a\n" + b"".join(
        struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data)) for kind, data in parts
    )
