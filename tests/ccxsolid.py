"""CalculiX with solids: the sheet as it is, in layers of C3D20R between its two skins, beads on their true circles.

Test only. Nothing about thin sheet is assumed: skins on the inside of a round are shorter, and no stress stands on
them. The plan of the mesh is that of the shells; heights and normals come from circle equations here.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from scipy.spatial import cKDTree

from ccxdeck import eight_nodes, nodal_stresses, von_mises

LAYERS = (0.15, 0.7, 0.15)
"""Thin outer layers: CalculiX carries stress from two points in a layer to its faces by a straight line."""


def circles(width: float, depth: float, shoulder: float, t: float) -> tuple[float, float, float]:
    """Return radii of the mid-line's shoulder and crown and the angle through which each turns."""
    reach = (width**2 / 4 + depth**2) / (2 * depth)
    low = shoulder + t / 2
    return low, reach - low, 2 * math.atan(2 * depth / width)


def formed(points: np.ndarray, beads: Sequence, t: float) -> tuple[np.ndarray, np.ndarray]:
    """Return points of the mid-surface moved onto straight beads' true circles, and its normals there.

    The flat's mid-surface lies at z = t / 2, beads stand up from it.
    """
    p, n = points.copy(), np.tile([0.0, 0.0, 1.0], (len(points), 1))
    for b in beads:
        low, crown, turn = circles(b.width, b.depth, b.shoulder, t)
        a, e = np.array(b.path[0].start), np.array(b.path[-1].end)
        along = (e - a) / np.linalg.norm(e - a)
        foot = a + np.clip((p[:, :2] - a) @ along, 0, np.linalg.norm(e - a))[:, None] * along
        off = p[:, :2] - foot
        r = np.linalg.norm(off, axis=1)
        mine = r < b.width / 2 - 1e-9
        out = off / np.maximum(r, 1e-12)[:, None]
        at = np.column_stack((r, p[:, 2] - t / 2))
        top, rim = np.array([0.0, b.depth - crown]), np.array([b.width / 2, low])
        over, under = at - top, rim - at
        on_top = np.arctan2(over[:, 0], over[:, 1]) <= turn + 1e-9
        unit = np.where(on_top[:, None], over, under)
        unit /= np.linalg.norm(unit, axis=1, keepdims=True)
        place = np.where(on_top[:, None], top + crown * unit, rim - low * unit)
        p[mine] = np.column_stack((foot + out * place[:, :1], t / 2 + place[:, 1]))[mine]
        n[mine] = np.column_stack((out * unit[:, :1], unit[:, 1]))[mine]
    return p, n


def solid_deck(
    points: np.ndarray,
    quads: np.ndarray,
    beads: Sequence,
    t: float,
    *,
    youngs: float,
    poisson: float,
    fixed: np.ndarray,
    force: np.ndarray,
) -> tuple[str, np.ndarray, np.ndarray]:
    """Return the deck, the mid-surface's points (corners first, then mid-sides) and its normals.

    Nodes whose rotations are held too are held over the whole thickness, others in its middle, where the
    forces (n, 3) act as well.
    """
    nodes, elements, sides = eight_nodes(points, quads)
    mid, normal = formed(nodes, beads, t)
    held = np.concatenate((fixed, fixed[sides[:, 0]] & fixed[sides[:, 1]]))
    n, c, layers = len(nodes), len(points), len(LAYERS)
    level = np.concatenate(([0.0], np.cumsum(LAYERS))) - 0.5
    between = (level[1:] + level[:-1]) / 2
    assert abs(between[layers // 2]) < 1e-12
    space = [mid + normal * t * z for z in level] + [(mid + normal * t * z)[:c] for z in between]
    lines = ["*NODE, NSET=ALL"]
    lines += [f"{i}, {x:.10g}, {y:.10g}, {z:.10g}" for i, (x, y, z) in enumerate(np.concatenate(space).tolist(), 1)]
    lines.append("*ELEMENT, TYPE=C3D20R, ELSET=E")
    post = (layers + 1) * n + np.arange(layers) * c
    for k in range(layers):
        low, high, up = elements + k * n, elements + (k + 1) * n, elements[:, :4] + post[k]
        whole = np.hstack((low[:, :4], high[:, :4], low[:, 4:], high[:, 4:], up)) + 1
        for e, row in enumerate(whole.tolist(), 1 + k * len(elements)):
            lines += [f"{e}, " + ", ".join(map(str, row[:15])) + ",", ", ".join(map(str, row[15:]))]
    lines += ["*SOLID SECTION, ELSET=E, MATERIAL=M", "*MATERIAL, NAME=M", "*ELASTIC", f"{youngs:.10g}, {poisson:.10g}"]
    lines.append("*BOUNDARY")
    for i, k in np.argwhere(held[:, :3]).tolist():
        whole_edge = held[i, 3] and held[i, 4]
        middle = [post[layers // 2] + i] if i < c else []
        own = [*(j * n + i for j in range(layers + 1)), *(post + i if i < c else [])] if whole_edge else middle
        lines += [f"{j + 1}, {k + 1}" for j in own]
    lines += ["*STEP", "*STATIC", "*CLOAD"]
    lines += [f"{post[layers // 2] + i + 1}, {k + 1}, {force[i, k]:.12g}" for i, k in np.argwhere(force != 0).tolist()]
    lines += ["*NODE PRINT, NSET=ALL", "U", "*EL FILE", "S", "*END STEP", ""]
    return "\n".join(lines), mid, normal


def skins(file: Path, mid: np.ndarray, normal: np.ndarray, t: float) -> tuple[np.ndarray, np.ndarray]:
    """Return the von Mises stress of the top and the bottom skin at the mid-surface's points, from job.frd."""
    places, tensors = nodal_stresses(file)
    tree = cKDTree(places)
    found = []
    for side in (t / 2, -t / 2):
        far, at = tree.query(mid + side * normal)
        assert far.max() < 1e-3
        found.append(von_mises(tensors[at]))
    return found[0], found[1]
