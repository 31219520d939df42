"""Rule of closed hollows and standing water, searched in small cubes.

Metal marks the cubes that it passes through. Air with no path to the outside is a closed hollow. Water stands where it
can neither sink nor run sideways to a place where it sinks. Slits narrower than a cube count as closed: they are
welded or sealed. z is up.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

import numpy as np
import numpy.typing as npt

from tinbook.finding import Finding, caution, fine
from tinbook.making.assembled import Assembled
from tinbook.part.part import Part
from tinbook.plane.loops import Array
from tinbook.rules import welds
from tinbook.rules.room import pierced

CUBE: Final = 2.5
"""mm: fine enough to find a drain of 8 mm anywhere."""
MOST: Final = 16_000_000
"""Most cubes of a search; for a larger assembly the finding says that it was not searched."""
CLOSED: Final = 2.0
"""cm³: smaller hollows are left out (own proposal)."""
POOL: Final = 20.0
"""cm³: less water dries (own proposal)."""


def hollows(made: Assembled) -> Iterator[Finding]:
    """Find closed hollows and standing water in welded assemblies and in parts with welded corners."""
    units = _units(made)
    found = [f for names in units for f in _looked(made, names)]
    yield from found
    if units and not found:
        yield fine("assembly.hollow", "welded parts", "no closed hollow, and no place where water stands")


def _units(made: Assembled) -> list[tuple[str, ...]]:
    """Return the groups of parts that are welded together, and each other part whose own corners are welded."""
    parts = {m.name: m.thing for m in made.assembly.members if isinstance(m.thing, Part)}
    groups = welds.groups(made.assembly.welds)
    found = [tuple(n for n in g if n in parts) for g in dict.fromkeys(groups.values())]
    seen: set[Part] = set()
    for name, part in parts.items():
        if name not in groups and part not in seen and any(f.corner.kind == "closed" and f.hem is None for f in part.folds):  # fmt: skip
            seen.add(part)
            found.append((name,))
    return [g for g in found if g]


def _looked(made: Assembled, names: tuple[str, ...]) -> Iterator[Finding]:
    bodies = [p[t] for p, t in (made.mesh(n) for n in names)]
    corners = np.concatenate(bodies)
    low, high = corners.reshape(-1, 3).min(axis=0) - 2 * CUBE, corners.reshape(-1, 3).max(axis=0) + 2 * CUBE
    shape = np.ceil((high - low) / CUBE).astype(int)
    if math.prod(int(n) for n in shape) > MOST:
        what = "too large to search for closed hollows and standing water"
        numbers = (round(max(high - low)), round(CUBE * MOST ** (1 / 3)), "mm", "geometry")
        yield caution("assembly.hollow", names[0], what, "look for them by hand", *numbers)
        return
    metal = _cubes(corners, low, shape)
    outside, closed = _closed(metal)
    cube = CUBE**3 / 1000
    for label, volume in closed:
        if volume * cube > CLOSED and not _in_metal(outside == label, low, bodies):
            what = "a closed hollow: the last weld blows out, it rusts inside, and it bursts when it is galvanised"
            remedy = "a vent and a drain of 8 mm or more at its highest and lowest place"
            place = f"{names[0]} {_place(outside == label, low)}"
            yield caution("assembly.closed", place, what, remedy, round(volume * cube), CLOSED, "cm³")
    for where, volume in _pools(metal, outside):
        if volume * cube > POOL:
            remedy = "a drain of 8 mm or more at the lowest place, or an open corner"
            place = f"{names[0]} {_place(where, low)}"
            yield caution("assembly.drain", place, "water stands here", remedy, round(volume * cube), POOL, "cm³")


def _cubes(corners: Array, low: Array, shape: npt.NDArray[np.int64]) -> npt.NDArray[np.bool_]:
    """Return the cubes that triangles pass through, sampled at half a cube or closer."""
    metal = np.zeros(tuple(int(n) for n in shape), dtype=bool)
    sides = np.linalg.norm(np.roll(corners, -1, axis=1) - corners, axis=2)
    order = (sides.argmax(axis=1)[:, None] + np.arange(3)) % 3
    corners = np.take_along_axis(corners, order[:, :, None], axis=1)  # the longest side first
    long = sides.max(axis=1)
    high = np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1) / np.maximum(long, 1e-9)  # fmt: skip
    counts = np.maximum(np.ceil(2 * np.column_stack((long, high)) / CUBE).astype(int), 1)
    for n, m in np.unique(counts, axis=0):
        some = corners[(counts == (n, m)).all(axis=1)]
        u, v = (g.ravel() for g in np.meshgrid(np.linspace(0, 1, n + 1), np.linspace(0, 1, m + 1), indexing="ij"))
        step = max(1, 1_000_000 // len(u))
        for k in range(0, len(some), step):
            a, b, c = (some[k : k + step, i, None] for i in range(3))
            row = a + (b - a) * u[None, :, None]
            points = row + (c - row) * v[None, :, None]
            cell = ((points.reshape(-1, 3) - low) / CUBE).astype(int)
            metal[cell[:, 0], cell[:, 1], cell[:, 2]] = True
    return metal


def _closed(metal: npt.NDArray[np.bool_]) -> tuple[npt.NDArray[np.int32], list[tuple[int, int]]]:
    """Return the air regions by number, 1 for outside, and the closed ones with their count of cubes."""
    from scipy.ndimage import label

    rooms, count = label(~metal)
    first = rooms[0, 0, 0]
    sizes = np.bincount(rooms.ravel(), minlength=count + 1)
    return np.where(rooms == first, 1, np.where(rooms == 1, first, rooms)).astype(np.int32), [
        (int(first) if k == 1 else k, int(sizes[k])) for k in range(1, count + 1) if k != first and sizes[k] > 8
    ]


def _in_metal(cubes: npt.NDArray[np.bool_], low: Array, bodies: list[Array]) -> bool:
    """Whether a closed region is the inside of a thick plate: a ray upward crosses its surface an odd number of times."""
    from scipy.ndimage import distance_transform_edt, find_objects

    (box,) = find_objects(cubes.astype(np.int8))
    within = np.pad(cubes[box], 1)
    deepest = np.array(np.unravel_index(int(np.argmax(distance_transform_edt(within))), within.shape)) - 1
    # No edge lies just there.
    at = low + (deepest + [s.start for s in box] + np.array((0.4871, 0.5113, 0.4957))) * CUBE
    return any(int(pierced(c - at, 0.0, math.inf).sum()) % 2 for c in bodies)


def _pools(metal: npt.NDArray[np.bool_], rooms: npt.NDArray[np.int32]) -> Iterator[tuple[npt.NDArray[np.bool_], int]]:
    """Yield regions outside closed hollows where water stands, with their count of cubes."""
    from scipy.ndimage import label

    air = rooms == 1
    runs = np.zeros_like(air)
    runs[:, :, 0] = air[:, :, 0]
    for z in range(1, air.shape[2]):
        level, count = label(air[:, :, z])
        sinks = np.zeros(count + 1, dtype=bool)
        sinks[np.unique(level[runs[:, :, z - 1]])] = True
        edge = np.concatenate((level[0], level[-1], level[:, 0], level[:, -1]))
        sinks[np.unique(edge)] = True
        sinks[0] = False
        runs[:, :, z] = sinks[level]
    pools, count = label(air & ~runs)
    sizes = np.bincount(pools.ravel(), minlength=count + 1)
    for k in range(1, count + 1):
        if sizes[k] > 8:
            yield pools == k, int(sizes[k])


def _place(cubes: npt.NDArray[np.bool_], low: Array) -> str:
    """Return a region's position in words: its centre in plan, its lowest point in height."""
    at = np.argwhere(cubes)
    x, y = low[:2] + (at[:, :2].mean(axis=0) + 0.5) * CUBE
    z = low[2] + at[:, 2].min() * CUBE
    return f"at ({x:.0f}, {y:.0f}, {z:.0f})"
