"""A rectangular panel with beads as CalculiX sees it: S8R shells on the true height of every bead and its domed ends.

Axes: x along the beads, y across, z up. The height of the mid-line over the plan is a body of revolution at the ends,
as the rolls leave it. All edges are held in z and free in their plane.
"""

from __future__ import annotations

import math
import os
import subprocess
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
YOUNGS, POISSON, DENSITY = 205e3, 0.3, 7850e-12


@dataclass(frozen=True)
class Case:
    """Span and width of the panel, sheet, bead width, depth, inside shoulder, count, full-section length (or None)."""

    span: float
    width: float
    t: float
    bead: float
    depth: float
    shoulder: float
    count: int
    length: float | None = None


def height(r: Array, c: Case) -> Array:
    """Height of the mid-line at distance r from a bead's centre line, by circle equations."""
    reach = (c.bead**2 / 4 + c.depth**2) / (2 * c.depth)
    low = c.shoulder + c.t / 2
    crown = reach - low
    joint = c.bead / 2 - low * math.sin(2 * math.atan(2 * c.depth / c.bead))
    z = np.zeros_like(r)
    rim = (r < c.bead / 2) & (r >= joint)
    z[rim] = low - np.sqrt(np.maximum(low**2 - (c.bead / 2 - r[rim]) ** 2, 0))
    top = r < joint
    z[top] = c.depth - crown + np.sqrt(np.maximum(crown**2 - r[top] ** 2, 0))
    return z


def lines(breaks: list[float], steps: list[float]) -> Array:
    out: list[float] = []
    for (a, b), h in zip(pairwise(breaks), steps, strict=True):
        out += list(np.linspace(a, b, max(1, math.ceil((b - a) / h - 1e-9)) + 1)[:-1])
    ends = np.array([*out, breaks[-1]])
    grid = np.empty(2 * len(ends) - 1)
    grid[::2], grid[1::2] = ends, (ends[:-1] + ends[1:]) / 2
    return grid


def solve(c: Case, folder: Path, ccx: str, pressure: float = 1e-4, fine: float = 1.25) -> tuple[float, float]:
    """Largest deflection under a uniform pressure (mm) and first frequency (Hz)."""
    low = c.shoulder + c.t / 2
    joint = c.bead / 2 - low * math.sin(2 * math.atan(2 * c.depth / c.bead))
    rim = max(1.2, (c.bead / 2 - joint) / 2) * fine
    pitch = c.width / c.count
    centres = [(i + 0.5) * pitch for i in range(c.count)]
    breaks, steps = [0.0], []
    for m in centres:
        breaks += [m - c.bead / 2, m - joint, m, m + joint, m + c.bead / 2]
        steps += [12 * fine, rim, joint / 3 * fine, joint / 3 * fine, rim]
    y = lines([*breaks, c.width], [*steps, 12 * fine])
    if c.length is None:
        x, e = lines([0.0, c.span], [12 * fine]), 0.0
    else:
        e = (c.span - c.length) / 2
        half = [0.0, e - c.bead / 2, e - joint, e]
        x = lines(
            [*half, *(c.span - v for v in reversed(half))],
            [6 * fine, rim, joint / 3 * fine, 12 * fine, joint / 3 * fine, rim, 6 * fine],
        )
    xx, yy = np.meshgrid(x, y, indexing="ij")
    beyond = np.zeros_like(xx) if c.length is None else np.maximum(0, np.maximum(e - xx, xx - (c.span - e)))
    z = np.max([height(np.hypot(beyond, yy - m), c) for m in centres], axis=0)
    nx, ny = len(x), len(y)
    used = (np.arange(nx)[:, None] % 2 == 0) | (np.arange(ny)[None, :] % 2 == 0)
    ids = np.full((nx, ny), -1)
    ids[used] = np.arange(1, used.sum() + 1)
    load = np.zeros(used.sum() + 1)
    out = ["*NODE,NSET=ALL"]
    out += [f"{ids[i, j]},{x[i]:.9f},{y[j]:.9f},{z[i, j]:.9f}" for i, j in np.argwhere(used)]
    out.append("*ELEMENT,TYPE=S8R,ELSET=E")
    for k, (i, j) in enumerate((i, j) for i in range(0, nx - 1, 2) for j in range(0, ny - 1, 2)):
        corner = [ids[i, j], ids[i + 2, j], ids[i + 2, j + 2], ids[i, j + 2]]
        middle = [ids[i + 1, j], ids[i + 2, j + 1], ids[i + 1, j + 2], ids[i, j + 1]]
        out.append(f"{k + 1}," + ",".join(map(str, corner + middle)))
        force = pressure * (x[i + 2] - x[i]) * (y[j + 2] - y[j])
        load[corner] -= force / 12
        load[middle] += force / 3
    out += ["*MATERIAL,NAME=M", "*ELASTIC", f"{YOUNGS},{POISSON}", "*DENSITY", f"{DENSITY}"]
    out += ["*SHELL SECTION,ELSET=E,MATERIAL=M", f"{c.t}", "*BOUNDARY"]
    edge = sorted({*ids[0], *ids[-1], *ids[:, 0], *ids[:, -1]} - {-1})
    out += [f"{n},3,3" for n in edge] + [f"{ids[0, 0]},1,2", f"{ids[0, -1]},1,1"]
    out += ["*STEP", "*STATIC", "*CLOAD", *(f"{n},3,{v:.10g}" for n, v in enumerate(load) if n)]
    out += ["*NODE PRINT,NSET=ALL", "U", "*END STEP", "*STEP", "*FREQUENCY", "1", "*END STEP"]
    (folder / "panel.inp").write_text("\n".join(out) + "\n")
    alone = dict(os.environ, OMP_NUM_THREADS="1")
    subprocess.run([ccx, "-i", "panel"], cwd=folder, env=alone, check=True, capture_output=True)
    head, modes = (folder / "panel.dat").read_text().split("E I G E N V A L U E", 1)
    sag = [float(row.split()[3]) for row in head.splitlines() if len(row.split()) == 4 and row.split()[0].isdigit()]
    first = next(row.split() for row in modes.splitlines() if len(row.split()) == 5 and row.split()[0] == "1")
    return max(sag), float(first[3])
