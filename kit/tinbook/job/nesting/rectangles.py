"""Rectangles that fill a plate without waste: a search by depth, exact where a grid of cells is not.

The lowest step of the skyline is filled from its left end. Both its neighbours are higher, so the sides of what stands
on it add up to its length, and what stands on one another adds up to the plate's width: what leaves a length that no
sum of the other sides reaches is given up at once.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeAlias

Size: TypeAlias = tuple[float, float]
Spot: TypeAlias = tuple[int, float, float, bool]
"""Index of a rectangle, the x and y of its lower left corner, whether it is turned by 90 degrees."""
_UNIT = 100  # of a mm: sides are counted in hundredths


def fill_exactly(
    sizes: Sequence[Size], turns: Sequence[bool], length: float, width: float, most: int
) -> list[Spot] | None:
    """Return places of all rectangles that fill a rectangle without waste, None if none is found.

    Parameters
    ----------
    sizes : sequence of (float, float)
        Length and width, mm, multiples of 0.01 mm; others are not searched.
    turns : sequence of bool
        Which may be turned by 90 degrees.
    length, width : float
        Of the rectangle to fill, mm.
    most : int
        Places that are tried before the search gives up.
    """
    exact = [v * _UNIT for v in (length, width, *(side for size in sizes for side in size))]
    if any(abs(v - round(v)) > 1e-4 for v in exact):
        return None
    long, wide, *flat = (round(v) for v in exact)
    sides = list(zip(flat[::2], flat[1::2], strict=True))
    if sum(w * h for w, h in sides) != long * wide:
        return None
    order = sorted(range(len(sides)), key=lambda n: (-sides[n][0] * sides[n][1], n))
    used = [False] * len(sides)
    spots: list[tuple[int, int, int, bool]] = []
    tried = 0

    def reachable(room: int) -> int:
        """Return the lengths up to one that sums of unused sides reach, as bits."""
        bits, mask = 1, (1 << (room + 1)) - 1
        for n, (w, h) in enumerate(sides):
            if not used[n]:
                bits |= ((bits << w) | (bits << h if turns[n] else 0)) & mask
        return bits

    def deeper(sky: list[tuple[int, int, int]]) -> bool:
        """Fill the lowest step of a skyline of (x, y, length), and all that follows."""
        nonlocal tried
        if len(spots) == len(sides):
            return True
        k = min(range(len(sky)), key=lambda n: (sky[n][1], sky[n][0]))
        x, y, room = sky[k]
        sums = reachable(max(room, wide))
        if not sums >> room & 1:
            return False
        seen: set[tuple[int, int]] = set()
        for n in order:
            if used[n]:
                continue
            for turned in (False, True) if turns[n] and sides[n][0] != sides[n][1] else (False,):
                w, h = sides[n][::-1] if turned else sides[n]
                if (w, h) in seen or w > room or y + h > wide:
                    continue
                if not (sums >> (room - w) & 1 and sums >> (wide - y - h) & 1):
                    continue
                seen.add((w, h))
                tried += 1
                if tried > most:
                    return False
                used[n] = True
                spots.append((n, x, y, turned))
                rest = [(x + w, y, room - w)] if room > w else []
                if deeper(_level([*sky[:k], (x, y + h, w), *rest, *sky[k + 1 :]])):
                    return True
                used[n] = False
                spots.pop()
        return False

    if not deeper([(0, 0, long)]):
        return None
    return [(n, x / _UNIT, y / _UNIT, turned) for n, x, y, turned in spots]


def _level(sky: list[tuple[int, int, int]]) -> list[tuple[int, int, int]]:
    """Return a skyline in which neighbours of one height are one step."""
    out = [sky[0]]
    for x, y, w in sky[1:]:
        if y == out[-1][1]:
            out[-1] = (out[-1][0], y, out[-1][2] + w)
        else:
            out.append((x, y, w))
    return out
