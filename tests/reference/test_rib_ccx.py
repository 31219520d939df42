"""A rib welded on a plate beside a plug-welded doubler, against CalculiX with solids on a mesh of gmsh.

Shells are no judge of a rib that stands on a plate: CalculiX expands them to solids and makes the line where they meet at an
angle a rigid knot. Solids of twenty nodes have no such line: the rib's foot shares its nodes with the plate's face.
"""

from __future__ import annotations

import numpy as np
import pytest

import tinbook as tb
from ccxdeck import displacements, equations, mean, run
from strategies import SHOP
from tinbook.calc.fasteners import nugget_stiffness
from tinbook.part.assembly import Assembly
from tinbook.space import frame_at
from tinbook.strength.assemblies.connect import connections
from tinbook.strength.assemblies.loads import Case
from tinbook.strength.assemblies.request import strength_of_assembly

T, LONG, WIDE, HIGH, DIA = 1.0, 240.0, 120.0, 30.0, 10.0
PLUGS = [(60.0, 30.0), (110.0, 30.0), (160.0, 30.0), (210.0, 30.0)]
YOUNGS, POISSON, DENSITY = 210e3, 0.3, 7.85e-9
ORDER = [0, 1, 2, 3, 4, 5, 6, 7, 8, 11, 13, 9, 16, 18, 19, 17, 10, 12, 14, 15]
WEDGE = [0, 1, 2, 3, 4, 5, 6, 9, 7, 12, 14, 13, 8, 10, 11]
"""Nodes of gmsh's brick of twenty nodes and wedge of fifteen in CalculiX' order."""


def framed() -> tb.Assembly:
    plate = tb.Part("HN-A1", sheet="DC01 1.0", base=tb.Outline.rectangle(LONG, WIDE))
    doubler = tb.Part("HN-A2", sheet="DC01 1.0", base=tb.Outline.rectangle(190, 40))
    for k, (x, y) in enumerate(PLUGS, 1):
        doubler = doubler.hole((x - 40, y - 10), dia=DIA, use="plug weld", name=f"plug {k}")
    up = tb.Part("HN-A3", sheet="DC01 1.0", base=tb.Outline.rectangle(160, HIGH))
    made = Assembly("HN-A").add("plate", plate).add("doubler", doubler, frame_at((40.0, 10.0, T)))
    made = made.add("rib", up, frame_at((40.0, 90.0 + T / 2, T), (1.0, 0.0, 0.0), (0.0, 0.0, 1.0)))
    return made.weld("plate", "rib", throat=1.5)


def bricks(size: float) -> tuple[np.ndarray, dict[str, np.ndarray]]:
    """Return nodes, and the solids by CalculiX' name of their kind: one layer through each sheet, eight up the rib."""
    gmsh = pytest.importorskip("gmsh")
    gmsh.initialize(interruptible=False)
    try:
        gmsh.option.setNumber("General.Terminal", 0)
        occ = gmsh.model.occ
        plate = occ.addRectangle(0, 0, 0, LONG, WIDE)
        tools = [(2, occ.addDisk(x, y, 0, DIA / 2, DIA / 2)) for x, y in PLUGS]
        tools.append((2, occ.addRectangle(40, 90 - T / 2, 0, 160, T)))
        cut, _ = occ.fragment([(2, plate)], tools)
        doubler = occ.addRectangle(40, 10, T, 190, 40)
        upper, _ = occ.cut([(2, doubler)], [(2, occ.addDisk(x, y, T, DIA / 2, DIA / 2)) for x, y in PLUGS])
        # All of the plate in one go, so that its pieces share the faces between them.
        occ.extrude([s for s in cut if s[0] == 2], 0, 0, T, [1], recombine=True)
        occ.extrude(upper, 0, 0, T, [1], recombine=True)
        occ.synchronize()
        box = (39.9, 89.4, T - 0.1, 200.1, 90.6, T + 0.1)
        (foot,) = gmsh.model.getEntitiesInBoundingBox(*box, dim=2)
        occ.extrude([foot], 0, 0, HIGH, [8], recombine=True)
        occ.synchronize()
        gmsh.option.setNumber("Mesh.MeshSizeMax", size)
        gmsh.option.setNumber("Mesh.MeshSizeFromCurvature", 12)
        gmsh.option.setNumber("Mesh.Algorithm", 8)
        gmsh.option.setNumber("Mesh.RecombineAll", 1)
        gmsh.option.setNumber("Mesh.SubdivisionAlgorithm", 1)
        gmsh.option.setNumber("Mesh.ElementOrder", 2)
        gmsh.option.setNumber("Mesh.SecondOrderIncomplete", 1)
        gmsh.model.mesh.generate(3)
        tags, xyz, _ = gmsh.model.mesh.getNodes()
        kinds, _, members = gmsh.model.mesh.getElements(3)
        found = dict(zip(kinds.tolist(), members, strict=True))
    finally:
        gmsh.finalize()
    place = {int(t): k for k, t in enumerate(tags)}
    solids = {}
    for kind, (name, order) in {17: ("C3D20R", ORDER), 18: ("C3D15", WEDGE)}.items():
        if kind in found:
            cells = np.array([place[int(n)] for n in found[kind]]).reshape(-1, len(order))
            solids[name] = cells[:, order]
    return xyz.reshape(-1, 3), solids


def deck(points: np.ndarray, solids: dict[str, np.ndarray]) -> tuple[str, dict[str, int], int]:
    used = np.unique(np.concatenate([c.ravel() for c in solids.values()]))
    lines = ["*NODE, NSET=ALL"]
    lines += [f"{n + 1}, " + ", ".join(f"{v:.10g}" for v in points[n]) for n in used.tolist()]
    count, refs, ties = len(points), {}, []
    for k, (x, y) in enumerate(PLUGS, 1):
        for side, z in (("first", 1.5 * T), ("second", T / 2)):
            r = np.hypot(points[used, 0] - x, points[used, 1] - y)
            rim = used[(np.abs(r - DIA / 2) < 1e-3) & (np.abs(points[used, 2] - z) < 1e-6)]
            assert len(rim) > 7
            for what in ("move", "turn"):
                count += 1
                refs[f"{k} {side} {what}"] = count
                lines.append(f"{count}, {x:.10g}, {y:.10g}, {T:.10g}")
            about = mean(points[rim], np.ones(len(rim)), np.array([x, y, T]))
            ties += equations(about, rim, (refs[f"{k} {side} move"], refs[f"{k} {side} turn"]))
    number = 0
    for name, cells in solids.items():
        lines.append(f"*ELEMENT, TYPE={name}, ELSET=E")
        for row in cells.tolist():
            number += 1
            text = [str(n + 1) for n in row]
            lines += [f"{number}, " + ", ".join(text[:10]) + ",", ", ".join(text[10:])]
    lines += ["*MATERIAL, NAME=M", "*ELASTIC", f"{YOUNGS}, {POISSON}", "*DENSITY", f"{DENSITY:.10g}"]
    lines += ["*SOLID SECTION, ELSET=E, MATERIAL=M", *ties]
    along, shear, _, twist, tilt, _ = nugget_stiffness(YOUNGS, DIA, T)
    for k in range(1, len(PLUGS) + 1):
        for what, stiff in {"move": (shear, shear, along), "turn": (tilt, tilt, twist)}.items():
            for d, value in enumerate(stiff, 1):
                number += 1
                lines += [f"*ELEMENT, TYPE=SPRING2, ELSET=S{number}"]
                lines += [f"{number}, {refs[f'{k} first {what}']}, {refs[f'{k} second {what}']}"]
                lines += [f"*SPRING, ELSET=S{number}", f"{d}, {d}", f"{value:.12g}"]
    lines.append("*BOUNDARY")
    lines += [f"{n + 1}, 1, 3" for n in used[points[used, 0] < 1e-6].tolist()]
    lines += [
        "*STEP",
        "*STATIC",
        "*DLOAD",
        "E, GRAV, 9806.65, 0., 0., -1.",
        "*NODE PRINT, NSET=ALL",
        "U",
        "*END STEP",
        "",
    ]
    return "\n".join(lines), refs, count


def rib_of(points: np.ndarray, solids: dict[str, np.ndarray]) -> dict[int, np.ndarray]:
    """Return the corners of the rib's solids by their number in the deck."""
    every = [row for cells in solids.values() for row in cells]
    found = {n: points[row[:8]] for n, row in enumerate(every, 1) if len(row) == 20}
    return {n: c for n, c in found.items() if c[:, 2].min() > T - 1e-6 and abs(c[:, 1].mean() - 90.0) < T}


def pulls_there(printed: str, rib: dict[int, np.ndarray]) -> dict[tuple[float, float], float]:
    """Return what pulls along the rib of solids, N, mean over each column of them: from their mean stress."""
    stress: dict[int, list[float]] = {}
    for line in printed[printed.index("stresses") :].splitlines()[1:]:
        words = line.split()
        if len(words) == 8:
            stress.setdefault(int(words[0]), []).append(float(words[2]))
    pulls: dict[tuple[float, float], float] = {}
    for n, c in rib.items():
        column = round(float(c[:, 0].min()), 3), round(float(c[:, 0].max()), 3)
        area = float(np.ptp(c[:, 1]) * np.ptp(c[:, 2]))
        pulls[column] = pulls.get(column, 0.0) + area * float(np.mean(stress[n]))
    return dict(sorted(pulls.items()))


def pulls_here(made, answer, columns) -> list[float]:
    """Return the same of our rib: what the springs of its seam have brought in."""
    joints, _ = connections(made, answer.whole)
    u = answer.results[0].displacement.ravel()
    springs = [(s.at[0], s.on_first(u)[0][0]) for c in joints if c.kind == "seam" for s in c.springs]
    return [-sum(f * min(max((b - x) / (b - a), 0.0), 1.0) for x, f in springs) for a, b in columns]


@pytest.mark.full
def test_a_welded_rib_beside_a_doubler(needs, tmp_path):
    """Deflection within 3 %; shear of the plug welds, and what the seam brings into the rib, within 5 % of the largest.

    The seam is compared over stretches of three columns, 17 mm, but for the last 6 mm at each end, where its force has no limit.
    """
    made = tb.assemble(framed(), SHOP)
    load = Case(name="load", g=(0.0, 0.0, -1.0))
    answer = strength_of_assembly(made, "plate: clamped: left", load, size=3.0, frequencies=0)
    found = answer.results[0]
    points, solids = bricks(6.0)
    text, refs, count = deck(points, solids)
    rib = rib_of(points, solids)
    text = text.replace("*STEP", "*ELSET, ELSET=RIB\n" + "".join(f"{n},\n" for n in rib) + "*STEP", 1)
    text = text.replace("*END STEP", "*EL PRINT, ELSET=RIB\nS\n*END STEP")
    printed = run(needs("ccx"), text, tmp_path)
    u = displacements(printed, count)
    used = np.unique(np.concatenate([c.ravel() for c in solids.values()]))
    assert found.deflection == pytest.approx(np.linalg.norm(u[used], axis=1).max(), rel=0.03)
    along, shear, *_ = nugget_stiffness(YOUNGS, DIA, T)
    forces = []
    for k, plug in enumerate((j for j in found.uses if j.joint.kind == "plug weld"), 1):
        apart = u[refs[f"{k} first move"] - 1] - u[refs[f"{k} second move"] - 1]
        forces.append((plug.joint.force, -np.array([shear, shear, along]) * apart))
    both = np.array(forces)
    most = np.linalg.norm(both[:, 1, :2], axis=1).max()
    # In the plane of the sheets: along the plug 16 MN/mm times the last digit that CalculiX prints is 1.6 N.
    assert np.linalg.norm((both[:, 0] - both[:, 1])[:, :2], axis=1).max() < 0.05 * most
    there = pulls_there(printed, rib)
    here = np.array(pulls_here(made, answer, there))
    off = (here - np.array(list(there.values())))[1:-1]
    assert np.abs(np.convolve(off, np.ones(3) / 3, "valid")).max() < 0.05 * max(there.values())
