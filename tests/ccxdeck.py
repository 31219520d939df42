"""CalculiX as the independent solver of the strength tests: writes a deck of S8R shells, runs it, reads its answers.

Test only. The eight-node shell gets the corners of our quads and the middles
of their straight sides, so both solvers see the same faceted sheet; everything
else (element, expansion to solids, equation solver) is CalculiX's own.
"""

from __future__ import annotations

import os
import re
import subprocess
from pathlib import Path

import numpy as np
from scipy.spatial import cKDTree


def eight_nodes(points: np.ndarray, quads: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return points with mid-sides, elements (m, 8), and the corner pairs of the mid-sides."""
    a, b = quads.ravel(), np.roll(quads, -1, axis=1).ravel()
    pairs = np.sort(np.stack((a, b), axis=1), axis=1)
    sides, number = np.unique(pairs, axis=0, return_inverse=True)
    mids = (points[sides[:, 0]] + points[sides[:, 1]]) / 2
    return np.concatenate((points, mids)), np.column_stack((quads, number.reshape(-1, 4) + len(points))), sides


def deck(
    points: np.ndarray,
    quads: np.ndarray,
    thickness: np.ndarray,
    *,
    youngs: float,
    poisson: float,
    density: float = 7850.0,
    fixed: np.ndarray,
    force: np.ndarray | None = None,
    weight: tuple[float, tuple[float, float, float]] | None = None,
    modes: int = 0,
    large: bool = False,
    kind: str = "S8R",
    smooth: bool = False,
) -> str:
    """Return a deck.

    `fixed` (n, 6) says which unknowns of the corners are zero; a mid-side is
    held like both its ends where it lies on the border or on nothing but held
    sides. `force` (n, 3) are nodal forces, `weight` an acceleration in mm/s² with its
    direction, `modes` asks for frequencies instead, `large` for large displacements.
    `smooth` gives chords of an arc one normal where they meet; without it CalculiX makes each kink a rigid
    knot, whose stress is none.
    """
    if kind == "S8R":
        nodes, elements, sides = eight_nodes(points, quads)
        held = np.concatenate((fixed, fixed[sides[:, 0]] & fixed[sides[:, 1]]))
    else:
        nodes, elements, held = points, quads, fixed
    lines = ["*NODE, NSET=ALL"]
    lines += [f"{i}, {x:.10g}, {y:.10g}, {z:.10g}" for i, (x, y, z) in enumerate(nodes.tolist(), 1)]
    for k, t in enumerate(np.unique(np.round(thickness, 9)).tolist()):
        lines.append(f"*ELEMENT, TYPE={kind}, ELSET=T{k}")
        for e in np.flatnonzero(np.round(thickness, 9) == t).tolist():
            lines.append(f"{e + 1}, " + ", ".join(str(n + 1) for n in elements[e].tolist()))
        lines += [f"*SHELL SECTION, ELSET=T{k}, MATERIAL=M", f"{t:.10g}"]
    if smooth:
        lines += _normals(nodes, elements, points[quads])
    lines += ["*MATERIAL, NAME=M", "*ELASTIC", f"{youngs:.10g}, {poisson:.10g}", "*DENSITY", f"{density * 1e-12:.10g}"]
    lines += ["*BOUNDARY"]
    for n, d in np.argwhere(held).tolist():
        lines.append(f"{n + 1}, {d + 1}, {d + 1}")
    if modes:
        lines += ["*STEP", "*FREQUENCY", f"{modes}"]
    else:
        lines += ["*STEP, NLGEOM, INC=200" if large else "*STEP", "*STATIC"]
        if large:
            lines += ["0.1, 1."]
        if force is not None:
            lines.append("*CLOAD")
            for n, k in np.argwhere(force != 0).tolist():
                lines.append(f"{n + 1}, {k + 1}, {force[n, k]:.12g}")
        if weight is not None:
            a, (x, y, z) = weight
            lines.append("*DLOAD")
            for k in range(len(np.unique(np.round(thickness, 9)))):
                lines.append(f"T{k}, GRAV, {a:.10g}, {x:g}, {y:g}, {z:g}")
        lines += ["*NODE PRINT, NSET=ALL", "U", "*EL FILE, OUTPUT=3D", "S"]
    lines += ["*END STEP", ""]
    return "\n".join(lines)


def _normals(nodes: np.ndarray, elements: np.ndarray, corners: np.ndarray) -> list[str]:
    own = np.cross(corners[:, 2] - corners[:, 0], corners[:, 3] - corners[:, 1])
    own /= np.linalg.norm(own, axis=1, keepdims=True)
    mean = np.zeros_like(nodes)
    for column in elements.T:
        np.add.at(mean, column, own)
    mean /= np.linalg.norm(mean, axis=1, keepdims=True)
    lines = []
    for column in elements.T:
        for e in np.flatnonzero(np.einsum("ei,ei->e", mean[column], own) < 1 - 1e-5).tolist():
            n = int(column[e])
            lines.append(f"{e + 1}, {n + 1}, " + ", ".join(f"{v:.9g}" for v in mean[n].tolist()))
    return ["*NORMAL", *lines] if lines else []


def run(program: str, text: str, folder: Path, seconds: float = 900) -> str:
    """Run a deck and return its table of results."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "job.inp").write_text(text)
    env = dict(os.environ, OMP_NUM_THREADS="1", CCX_NPROC_EQUATION_SOLVER="1")
    done = subprocess.run([program, "-i", "job"], cwd=folder, env=env, capture_output=True, text=True, timeout=seconds)
    out = folder / "job.dat"
    if done.returncode or not out.exists() or "Job finished" not in done.stdout:
        raise RuntimeError(done.stdout[-3000:] + done.stderr[-1000:])
    return out.read_text()


def displacements(table: str, nodes: int) -> np.ndarray:
    """Return the displacements (nodes, 3) of the last increment."""
    block = table.rsplit("displacements (vx,vy,vz)", maxsplit=1)[-1]
    found = np.zeros((nodes, 3))
    for line in block.splitlines()[1:]:
        cells = line.split()
        if len(cells) == 4 and cells[0].isdigit() and int(cells[0]) <= nodes:
            found[int(cells[0]) - 1] = [float(c) for c in cells[1:]]
    return found


def nodal_stresses(file: Path) -> tuple[np.ndarray, np.ndarray]:
    """Return places (k, 3) and stress tensors (k, 3, 3) of the nodes of the solids, averaged by CalculiX, from job.frd."""
    places: dict[int, list[float]] = {}
    found: dict[int, list[float]] = {}
    block = ""
    for line in file.read_text().splitlines():
        if line.startswith("    2C"):
            block = "nodes"
        elif line.startswith(" -4"):
            block = line.split()[1]
        elif line.startswith(" -3"):
            block = ""
        elif line.startswith(" -1") and block in ("nodes", "STRESS"):
            values = [float(line[k : k + 12]) for k in range(13, len(line.rstrip()), 12)]
            (places if block == "nodes" else found)[int(line[3:13])] = values
    # Written as xx, yy, zz, xy, yz, zx.
    tensors = np.array(list(found.values()))[:, [0, 3, 5, 3, 1, 4, 5, 4, 2]].reshape(-1, 3, 3)
    return np.array([places[n] for n in found]), tensors


def von_mises(tensors: np.ndarray) -> np.ndarray:
    """Return the von Mises stress (k,) of tensors (k, 3, 3)."""
    rest = tensors - np.trace(tensors, axis1=1, axis2=2)[:, None, None] / 3 * np.eye(3)
    return np.sqrt(1.5 * (rest**2).sum(axis=(1, 2)))


def stresses(file: Path) -> tuple[np.ndarray, np.ndarray]:
    """Return places (k, 3) and von Mises stress (k,) of the expanded shell's nodes."""
    places, tensors = nodal_stresses(file)
    return places, von_mises(tensors)


def skin_stresses(file: Path, points: np.ndarray, quads: np.ndarray, t: float | np.ndarray) -> tuple[np.ndarray, ...]:
    """Return places (k, 3) and tensors (k, 3, 3) on both skins of an S8R shell, and its normals (k, 3) there.

    `t` is the thickness of the sheet, or those of all its elements: a bead is thinner than the flat beside it.
    """
    nodes, _, _ = eight_nodes(points, quads)
    places, tensors = nodal_stresses(file)
    # CalculiX puts the skin's nodes half the thickness off the shell's, on its normal.
    half = np.unique(np.round(t, 9)) / 2
    far, near = cKDTree(nodes).query(places, k=4)
    off = np.abs(far[:, :, None] - half).min(axis=2)
    own = off.argmin(axis=1)[:, None]
    arm = places - nodes[np.take_along_axis(near, own, 1)[:, 0]]
    skin = off.min(axis=1) < 2e-3 * half.min()
    return places[skin], tensors[skin], arm[skin] / np.linalg.norm(arm[skin], axis=1, keepdims=True)


def in_the_skin(tensors: np.ndarray, normals: np.ndarray) -> np.ndarray:
    """Return tensors without what acts on the skin's face, where in truth nothing acts."""
    flat = np.eye(3) - normals[:, :, None] * normals[:, None]
    return flat @ tensors @ flat


def frequencies(table: str) -> list[float]:
    """Return the natural frequencies in Hz."""
    part = table.split("E I G E N V A L U E   O U T P U T")[1].split("P A R T I C I P A T I O N", maxsplit=1)[0]
    rows = [r.split() for r in part.splitlines() if re.match(r"\s+\d+\s+[-.\dE+]+\s+[-.\dE+]+", r)]
    return [float(r[3]) for r in rows]


def levi() -> np.ndarray:
    e = np.zeros((3, 3, 3))
    for i, j, k in ((0, 1, 2), (1, 2, 0), (2, 0, 1)):
        e[i, j, k], e[i, k, j] = 1.0, -1.0
    return e


def mean(points: np.ndarray, weights: np.ndarray, about: np.ndarray) -> np.ndarray:
    """Coefficients (6, n, 3) of mean displacement and rotation at a point; written out by hand."""
    w = weights / weights.sum()
    middle = w @ points
    r = points - middle
    inertia = sum(v * ((a @ a) * np.eye(3) - np.outer(a, a)) for v, a in zip(w, r, strict=True))
    cross = np.array([[[0, -z, y], [z, 0, -x], [-y, x, 0]] for x, y, z in r])
    rotation = np.einsum("ij,n,njk->ink", np.linalg.inv(inertia), w, cross)
    arm = about - middle
    move = np.einsum("n,ij->inj", w, np.eye(3))
    move = move + np.einsum("ijk,jnl,k->inl", levi(), rotation, arm)
    return np.concatenate((move, rotation))


def whole_rim(
    rim: np.ndarray, nodes: np.ndarray, sides: np.ndarray, corners: int, dia: float
) -> tuple[np.ndarray, np.ndarray]:
    """Corners and mid-sides on a rim, with the shares 1/6, 4/6, 1/6 of an even pull along a quadratic side."""
    on = np.flatnonzero(np.isin(sides, rim).all(axis=1))
    middle = nodes[rim].mean(axis=0)
    far = np.linalg.norm(nodes[corners + on] - middle, axis=1)
    on = on[far > 0.9 * dia / 2]
    return np.concatenate((rim, corners + on)), np.concatenate((np.full(len(rim), 1 / 3), np.full(len(on), 2 / 3)))


def equations(coefficients: np.ndarray, nodes: np.ndarray, refs: tuple[int, int]) -> list[str]:
    """Return the lines that tie two extra nodes (displacement, rotation) to the mean motion (6, n, 3) of nodes."""
    lines = []
    for row in range(6):
        terms = [(refs[row // 3], row % 3 + 1, -1.0)]
        terms += [
            (int(n) + 1, d + 1, float(c))
            for n, v in zip(nodes, coefficients[row], strict=True)
            for d, c in enumerate(v)
            if abs(c) > 1e-12
        ]
        lines += ["*EQUATION", f"{len(terms)}"]
        lines += [
            ", ".join(f"{n}, {d}, {c:.12g}" for n, d, c in terms[start : start + 4])
            for start in range(0, len(terms), 4)
        ]
    return lines
