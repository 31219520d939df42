"""Two-dimensional codes read from a PDF as ISO/IEC 18004 says, sharing nothing with what draws them.

Positions, masks, block sizes of level M (table 9) and alignment patterns (annex E) from memory of the standard; a wrong
one cannot give a whole text, as every block's check words are checked.
"""

from __future__ import annotations

import io
from collections.abc import Iterator

from pypdf import PdfReader
from pypdf.generic import ContentStream

# Version: check words of a block, data words of each block; centres of alignment patterns.
BLOCKS = {
    1: (10, (16,)), 2: (16, (28,)), 3: (26, (44,)), 4: (18, (32, 32)), 5: (24, (43, 43)), 6: (16, (27,) * 4),
    7: (18, (31,) * 4), 8: (22, (38, 38, 39, 39)), 9: (22, (36, 36, 36, 37, 37)), 10: (26, (43, 43, 43, 43, 44)),
}  # fmt: skip
CENTRES = {
    1: (), 2: (6, 18), 3: (6, 22), 4: (6, 26), 5: (6, 30), 6: (6, 34), 7: (6, 22, 38), 8: (6, 24, 42), 9: (6, 26, 46),
    10: (6, 28, 50),
}  # fmt: skip
MASKS = (
    lambda i, j: (i + j) % 2 == 0, lambda i, j: i % 2 == 0, lambda i, j: j % 3 == 0, lambda i, j: (i + j) % 3 == 0,
    lambda i, j: (i // 2 + j // 3) % 2 == 0, lambda i, j: i * j % 2 + i * j % 3 == 0,
    lambda i, j: (i * j % 2 + i * j % 3) % 2 == 0, lambda i, j: (i * j % 3 + (i + j) % 2) % 2 == 0,
)  # fmt: skip
LETTERS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:"


def modules(pdf: bytes, page: int = 0) -> list[list[bool]]:
    """Return the modules of the code on a page: the path of upright rectangles of which it has most."""
    sheet = PdfReader(io.BytesIO(pdf)).pages[page]
    best: list[tuple[float, float, float, float]] = []
    now: list[list[tuple[float, float]]] = []
    for values, op in ContentStream(sheet.get_contents(), sheet.pdf).operations:
        if op == b"m":
            now.append([(float(values[0]), float(values[1]))])
        elif op == b"l" and now:
            now[-1].append((float(values[0]), float(values[1])))
        elif op in (b"f", b"f*", b"b", b"B", b"B*", b"S", b"s", b"n"):
            boxes = [
                (*map(min, zip(*p, strict=True)), *map(max, zip(*p, strict=True))) for p in now if len(p) in (4, 5)
            ]
            best = boxes if len(boxes) == len(now) > len(best) else best
            now = []
    x0, y1 = min(b[0] for b in best), max(b[3] for b in best)
    step = min(b[3] - b[1] for b in best)
    n = round((max(b[2] for b in best) - x0) / step)
    grid = [[False] * n for _ in range(n)]
    for a, _, b, high in best:
        for j in range(round((a - x0) / step), round((b - x0) / step)):
            grid[round((y1 - high) / step)][j] = True
    return grid


def read_code(grid: list[list[bool]]) -> str:
    """Return the text of a code; every check word must be right, as nothing was damaged."""
    n = len(grid)
    version = (n - 17) // 4
    assert version in BLOCKS
    assert n == 17 + 4 * version
    around = [*((8, j) for j in (0, 1, 2, 3, 4, 5, 7, 8)), *((i, 8) for i in (7, 5, 4, 3, 2, 1, 0))]
    found = sum(int(grid[i][j]) << (14 - k) for k, (i, j) in enumerate(around)) ^ 0b101010000010010
    rest = found
    for k in range(14, 9, -1):
        rest ^= 0b10100110111 << (k - 10) if rest >> k & 1 else 0
    assert rest == 0, "format bits"
    assert found >> 13 == 0b00, "level M"
    mask = MASKS[found >> 10 & 7]
    bits = [grid[i][j] ^ mask(i, j) for i, j in _way(n, version)]
    words = [int("".join("01"[b] for b in bits[k : k + 8]), 2) for k in range(0, len(bits) - 7, 8)]
    check, sizes = BLOCKS[version]
    blocks: list[list[int]] = [[] for _ in sizes]
    taken = iter(words)
    for k in range(max(sizes)):
        for block, size in zip(blocks, sizes, strict=True):
            if k < size:
                block.append(next(taken))
    for _ in range(check):
        for block in blocks:
            block.append(next(taken))
    assert not any(any(_syndromes(block, check)) for block in blocks), "check words"
    data = [w for block, size in zip(blocks, sizes, strict=True) for w in block[:size]]
    return _text("".join(f"{w:08b}" for w in data), version)


def _way(n: int, version: int) -> Iterator[tuple[int, int]]:
    """Yield the places of data bits: two columns at a time from the right, up and down, function patterns left out."""
    own = {(i, j) for i in range(9) for j in range(9)} | {(i, j) for i in range(9) for j in range(n - 8, n)}
    own |= {(i, j) for i in range(n - 8, n) for j in range(9)} | {(6, k) for k in range(n)} | {(k, 6) for k in range(n)}
    corners = {(6, 6), (6, n - 7), (n - 7, 6)}
    for a in CENTRES[version]:
        for b in CENTRES[version]:
            if (a, b) not in corners:
                own |= {(a + i, b + j) for i in range(-2, 3) for j in range(-2, 3)}
    if version >= 7:
        own |= {(i, j) for i in range(6) for j in range(n - 11, n - 8)} | {
            (j, i) for i in range(6) for j in range(n - 11, n - 8)
        }
    up, right = True, n - 1
    while right > 0:
        right -= right == 6
        for i in range(n - 1, -1, -1) if up else range(n):
            yield from ((i, j) for j in (right, right - 1) if (i, j) not in own)
        up, right = not up, right - 2


def _syndromes(block: list[int], count: int) -> list[int]:
    """Return the values of a block's polynomial at the powers of 2 in GF(256) by x^8 + x^4 + x^3 + x^2 + 1."""
    found = []
    for k in range(count):
        at = 1
        for _ in range(k):
            at = _times(at, 2)
        value = 0
        for word in block:
            value = _times(value, at) ^ word
        found.append(value)
    return found


def _times(a: int, b: int) -> int:
    product = 0
    while b:
        product ^= a if b & 1 else 0
        a = a << 1 ^ (0x11D if a & 0x80 else 0)
        b >>= 1
    return product


def _text(bits: str, version: int) -> str:
    at, said = 0, b""

    def take(count: int) -> int:
        nonlocal at
        at += count
        return int(bits[at - count : at], 2)

    while at + 4 <= len(bits) and (mode := take(4)):
        if mode == 4:
            said += bytes(take(8) for _ in range(take(8 if version < 10 else 16)))
        elif mode == 2:
            left = take(9 if version < 10 else 11)
            while left > 0:
                pair = take(11 if left > 1 else 6)
                said += (LETTERS[pair // 45] + LETTERS[pair % 45] if left > 1 else LETTERS[pair]).encode()
                left -= 2
        else:
            assert mode == 1
            left = take(10 if version < 10 else 12)
            while left > 0:
                digits = min(left, 3)
                said += f"{take((0, 4, 7, 10)[digits]):0{digits}d}".encode()
                left -= 3
    return said.decode("utf-8")
