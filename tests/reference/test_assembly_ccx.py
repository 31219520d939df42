"""Assemblies of shells against CalculiX on meshes of gmsh: plug welds as springs of the same stiffness.

In CalculiX a plug weld is two mean ties (equations between displacements of rim nodes and two extra nodes for
displacement and rotation) and six springs; the ties stand on circles of its own mesh.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest

import tinbook as tb
from ccxdeck import displacements, eight_nodes, equations, frequencies, mean, run, whole_rim
from strategies import SHOP
from tinbook.calc.fasteners import nugget_stiffness
from tinbook.part.assembly import Assembly
from tinbook.space import frame_at
from tinbook.strength.assemblies.loads import Case
from tinbook.strength.assemblies.request import strength_of_assembly
from tinbook.strength.shell import linear as sh

T, LONG, WIDE, HIGH = 1.0, 240.0, 120.0, 30.0
PLUGS = [(60.0, 30.0), (110.0, 30.0), (160.0, 30.0), (210.0, 30.0)]
DIA = 10.0
YOUNGS, POISSON, DENSITY = 210e3, 0.3, 7850.0


def frame(rib: bool) -> Assembly:
    """A plate held at its left edge, a doubler plug welded on it, a rib welded upright on it."""
    plate = tb.Part("HN-A1", sheet="DC01 1.0", base=tb.Outline.rectangle(LONG, WIDE))
    doubler = tb.Part("HN-A2", sheet="DC01 1.0", base=tb.Outline.rectangle(190, 40))
    for k, (x, y) in enumerate(PLUGS, 1):
        doubler = doubler.hole((x - 40, y - 10), dia=DIA, use="plug weld", name=f"plug {k}")
    made = Assembly("HN-A").add("plate", plate).add("doubler", doubler, frame_at((40.0, 10.0, T)))
    if rib:
        up = tb.Part("HN-A3", sheet="DC01 1.0", base=tb.Outline.rectangle(160, HIGH))
        made = made.add("rib", up, frame_at((40.0, 90.0 + T / 2, T), (1.0, 0.0, 0.0), (0.0, 0.0, 1.0)))
        made = made.weld("plate", "rib", throat=1.5)
    return made


@dataclass
class Meshed:
    points: np.ndarray
    quads: np.ndarray
    rims: dict[str, np.ndarray]
    edge: np.ndarray


def meshed(rib: bool, size: float, rim: int = 12) -> Meshed:
    """The same thing meshed by gmsh: surfaces in middle planes, circles where the welds are."""
    gmsh = pytest.importorskip("gmsh")
    gmsh.initialize(interruptible=False)
    try:
        gmsh.option.setNumber("General.Terminal", 0)
        occ = gmsh.model.occ
        low, high = T / 2, 1.5 * T
        plate = occ.addRectangle(0, 0, low, LONG, WIDE)
        doubler = occ.addRectangle(40, 10, high, 190, 40)
        holes = [(2, occ.addDisk(x, y, high, DIA / 2, DIA / 2)) for x, y in PLUGS]
        _cut, _ = occ.cut([(2, doubler)], holes)
        tools = [(2, occ.addDisk(x, y, low, DIA / 2, DIA / 2)) for x, y in PLUGS]
        if rib:
            corners = [occ.addPoint(x, 90.0, z) for x, z in ((40, low), (200, low), (200, T + HIGH), (40, T + HIGH))]
            lines = [occ.addLine(corners[k], corners[(k + 1) % 4]) for k in range(4)]
            tools.append((2, occ.addPlaneSurface([occ.addCurveLoop(lines)])))
        occ.fragment([(2, plate)], tools)
        occ.synchronize()
        gmsh.option.setNumber("Mesh.MeshSizeMax", size)
        gmsh.option.setNumber("Mesh.MeshSizeFromCurvature", rim)
        gmsh.option.setNumber("Mesh.Algorithm", 8)
        gmsh.option.setNumber("Mesh.RecombineAll", 1)
        gmsh.option.setNumber("Mesh.RecombinationAlgorithm", 1)
        gmsh.option.setNumber("Mesh.SubdivisionAlgorithm", 1)
        gmsh.model.mesh.generate(2)
        tags, xyz, _ = gmsh.model.mesh.getNodes()
        place = {int(t): k for k, t in enumerate(tags)}
        points = xyz.reshape(-1, 3)
        _, _, members = gmsh.model.mesh.getElements(2)
        quads = np.array([place[int(n)] for n in np.concatenate(members)]).reshape(-1, 4)
    finally:
        gmsh.finalize()
    used = np.unique(quads)
    renumber = np.full(len(points), -1)
    renumber[used] = np.arange(len(used))
    points, quads = points[used], renumber[quads]
    d = points[quads]
    # All elements of a plane turn the same way round.
    turned = np.cross(d[:, 2] - d[:, 0], d[:, 3] - d[:, 1]) @ np.array([0.0, 1.0, 1.0]) < 0
    quads[turned] = quads[turned][:, ::-1]
    rims = {}
    for k, (x, y) in enumerate(PLUGS, 1):
        for z, name in ((high, "first"), (low, "second")):
            r = np.hypot(points[:, 0] - x, points[:, 1] - y)
            rims[f"{k} {name}"] = np.flatnonzero((np.abs(r - DIA / 2) < 1e-3) & (np.abs(points[:, 2] - z) < 1e-6))
    return Meshed(points, quads, rims, np.flatnonzero(points[:, 0] < 1e-6))


def text(m: Meshed, g: float, modes: int = 0) -> tuple[str, dict[str, int], int]:
    nodes, elements, sides = eight_nodes(m.points, m.quads)
    held = np.zeros(len(nodes), dtype=bool)
    held[m.edge] = True
    held[len(m.points) :] = held[sides[:, 0]] & held[sides[:, 1]]
    rims = {name: whole_rim(rim, nodes, sides, len(m.points), DIA) for name, rim in m.rims.items()}
    lines = ["*NODE, NSET=ALL"]
    lines += [f"{i}, {x:.10g}, {y:.10g}, {z:.10g}" for i, (x, y, z) in enumerate(nodes.tolist(), 1)]
    refs: dict[str, int] = {}
    count = len(nodes)
    for name in m.rims:
        k = int(name.split()[0]) - 1
        for what in ("move", "turn"):
            count += 1
            refs[f"{name} {what}"] = count
            lines.append(f"{count}, {PLUGS[k][0]:.10g}, {PLUGS[k][1]:.10g}, {T:.10g}")
    lines.append("*ELEMENT, TYPE=S8, ELSET=T")
    lines += [f"{e}, " + ", ".join(str(n + 1) for n in row) for e, row in enumerate(elements.tolist(), 1)]
    lines += ["*SHELL SECTION, ELSET=T, MATERIAL=M", f"{T}"]
    lines += ["*MATERIAL, NAME=M", "*ELASTIC", f"{YOUNGS}, {POISSON}", "*DENSITY", f"{DENSITY * 1e-12:.10g}"]
    for name, (rim, weights) in rims.items():
        k = int(name.split()[0]) - 1
        coefficients = mean(nodes[rim], weights, np.array([*PLUGS[k], T]))
        lines += equations(coefficients, rim, (refs[f"{name} move"], refs[f"{name} turn"]))
    along, shear, _, twist, tilt, _ = nugget_stiffness(YOUNGS, DIA, T)
    springs = {"move": (shear, shear, along), "turn": (tilt, tilt, twist)}
    number = len(elements)
    for k in range(1, len(PLUGS) + 1):
        for what, stiff in springs.items():
            for d, value in enumerate(stiff, 1):
                number += 1
                lines += [f"*ELEMENT, TYPE=SPRING2, ELSET=S{number}"]
                lines += [f"{number}, {refs[f'{k} first {what}']}, {refs[f'{k} second {what}']}"]
                lines += [f"*SPRING, ELSET=S{number}", f"{d}, {d}", f"{value:.12g}"]
    lines.append("*BOUNDARY")
    lines += [f"{n + 1}, 1, 6" for n in np.flatnonzero(held).tolist()]
    if modes:
        lines += ["*STEP", "*FREQUENCY", f"{modes}"]
    else:
        lines += ["*STEP", "*STATIC", "*DLOAD", f"T, GRAV, {g * 9806.65:.10g}, 0., 0., -1."]
        lines += ["*NODE PRINT, NSET=ALL", "U"]
    return "\n".join([*lines, "*END STEP", ""]), refs, count


def answered(rib: bool, size: float, modes: int = 0):
    made = tb.assemble(frame(rib), SHOP)
    case = Case(name="load", g=(0.0, 0.0, -1.0))
    return strength_of_assembly(made, "plate: clamped: left", case, size=size, frequencies=modes)


def compared(ccx, folder, rib: bool, ours: float, theirs: float) -> tuple[float, np.ndarray]:
    """Deflection over that of CalculiX, and the forces of each plug weld here and there."""
    found = answered(rib, ours)
    m = meshed(rib, theirs, 8)
    deck, refs, count = text(m, 1.0)
    u = displacements(run(ccx, deck, folder / "static"), count)
    down = found.results[0].deflection / np.linalg.norm(u[: len(m.points)], axis=1).max()
    along, shear, *_ = nugget_stiffness(YOUNGS, DIA, T)
    forces = []
    for k, plug in enumerate((j for j in found.results[0].uses if j.joint.kind == "plug weld"), 1):
        apart = u[refs[f"{k} first move"] - 1] - u[refs[f"{k} second move"] - 1]
        forces.append((plug.joint.force, -np.array([shear, shear, along]) * apart))
    return down, np.array(forces)


def close(forces: np.ndarray) -> float:
    """Largest difference of a plug's force over the largest force."""
    most = np.linalg.norm(forces[:, 1], axis=1).max()
    return float(np.linalg.norm(forces[:, 0] - forces[:, 1], axis=1).max() / most)


def test_a_plug_welded_doubler(needs, tmp_path):
    down, forces = compared(needs("ccx"), tmp_path, False, 4.0, 60.0)
    assert down == pytest.approx(1.0, abs=0.03)
    assert close(forces) < 0.05


def test_a_seam_is_as_stiff_as_metal_that_goes_on():
    """A rib that stands on a plate, welded along its foot, against one mesh of gmsh in which both share the line's nodes.

    CalculiX is no judge of that: where sheets meet at an angle it makes the line a rigid knot.
    """
    plate = tb.Part("HN-A1", sheet="DC01 1.0", base=tb.Outline.rectangle(LONG, WIDE))
    up = tb.Part("HN-A3", sheet="DC01 1.0", base=tb.Outline.rectangle(160, HIGH))
    made = Assembly("HN-A").add("plate", plate)
    made = made.add("rib", up, frame_at((40.0, 90.0 + T / 2, T), (1.0, 0.0, 0.0), (0.0, 0.0, 1.0)))
    made = tb.assemble(made.weld("plate", "rib", throat=1.0), SHOP)
    load = Case(name="load", g=(0.0, 0.0, -1.0))
    found = strength_of_assembly(made, "plate: clamped: left", load, size=4.0, frequencies=0)
    m = meshed(True, 16.0)
    both = ~(np.abs(m.points[m.quads][:, :, 2] - 1.5 * T) < 1e-9).all(axis=1)
    used, quads = np.unique(m.quads[both], return_inverse=True)
    points = m.points[used]
    model = sh.shell(points, quads.reshape(-1, 4), T, YOUNGS, POISSON)
    edge = np.flatnonzero(points[:, 0] < 1e-6)
    held = sh.hold(len(points), np.repeat(edge, 6), np.tile(np.eye(6), (len(edge), 1)))
    weight = sh.spread(model, np.full(len(model.quads), DENSITY * 1e-12 * T * 9806.65), [0.0, 0.0, -1.0])
    u, _ = sh.displaced(sh.system(model, held), weight)
    assert found.results[0].deflection == pytest.approx(np.linalg.norm(u[:, :3], axis=1).max(), rel=0.01)


@pytest.mark.full
@pytest.mark.parametrize("rib", [False, True])
def test_first_frequencies(needs, tmp_path, rib):
    found = answered(rib, 4.0, modes=2)
    there = frequencies(run(needs("ccx"), text(meshed(rib, 30.0), 1.0, modes=2)[0], tmp_path / "modes"))
    assert found.frequencies == pytest.approx(there[:2], rel=0.02)
