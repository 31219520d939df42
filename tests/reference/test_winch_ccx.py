"""The family's winch cradle against CalculiX: its solids, written as STEP, meshed by gmsh with tetrahedra of ten nodes.

Plates that are welded share their faces' nodes (the weld is metal that goes on). Winch and fairlead are rigid: two extra
nodes each, and eight masses. A bolt is six springs of our stiffness between the mean motion of its hole's wall and the
rigid item or the ground.
"""

from __future__ import annotations

import itertools

import numpy as np
import pytest

import tinbook as tb
from ccxdeck import displacements, equations, frequencies, mean, run
from strategies import SHOP
from tinbook.strength.assemblies.bolted import bolts
from tinbook.strength.assemblies.request import strength_of_assembly
from tinbook.strength.assemblies.whole import Body, whole_of

PULL = 20e3
PLATES = ("deck", "front", "cheek right", "cheek left")


def tetrahedra(made, folder, size: float):
    """Return nodes (n, 3), tetrahedra (m, 10) in CalculiX' order, all plates as one body where they touch."""
    gmsh = pytest.importorskip("gmsh")
    gmsh.initialize(interruptible=False)
    try:
        gmsh.option.setNumber("General.Terminal", 0)
        occ = gmsh.model.occ
        solids = []
        for name in PLATES:
            placed = made.assembly.member(name)
            file = tb.write_step(made.made_of(name), folder / f"{name}.step", despite="for a comparison")
            new = occ.importShapes(str(file), highestDimOnly=True)
            at = np.eye(4)
            at[:3, 3] = placed.at.origin
            for k, axis in enumerate((placed.at.x, placed.at.y, placed.at.z)):
                at[:3, k] = axis
            occ.affineTransform(new, at.ravel().tolist())
            solids += new
        occ.fragment(solids[:1], solids[1:])
        occ.synchronize()
        gmsh.option.setNumber("Mesh.MeshSizeMax", size)
        gmsh.option.setNumber("Mesh.MeshSizeFromCurvature", 10)
        gmsh.option.setNumber("Mesh.ElementOrder", 2)
        gmsh.option.setNumber("Mesh.SecondOrderLinear", 1)
        gmsh.model.mesh.generate(3)
        tags, xyz, _ = gmsh.model.mesh.getNodes()
        place = {int(t): k for k, t in enumerate(tags)}
        _, members = gmsh.model.mesh.getElementsByType(11)
        cells = np.array([place[int(n)] for n in members]).reshape(-1, 10)
    finally:
        gmsh.finalize()
    used, cells = np.unique(cells, return_inverse=True)
    # gmsh and CalculiX name the last two edges the other way round.
    return xyz.reshape(-1, 3)[used], cells.reshape(-1, 10)[:, [0, 1, 2, 3, 4, 5, 6, 7, 9, 8]]


class Deck:
    """The lines of a deck; `refs` are extra nodes by name."""

    def __init__(self, points, cells, density: float):
        self.points, self.count, self.number = points, len(points), len(cells)
        self.refs: dict[str, int] = {}
        self.nodes = [f"{i}, " + ", ".join(f"{v:.10g}" for v in p) for i, p in enumerate(points.tolist(), 1)]
        self.body = ["*ELEMENT, TYPE=C3D10, ELSET=E"]
        self.body += [f"{e}, " + ", ".join(str(n + 1) for n in row) for e, row in enumerate(cells.tolist(), 1)]
        self.body += ["*MATERIAL, NAME=M", "*ELASTIC", "210000., 0.3", "*DENSITY", f"{density * 1e-12:.10g}"]
        self.body += ["*SOLID SECTION, ELSET=E, MATERIAL=M"]
        self.springs: list[str] = []
        self.held: list[str] = []

    def extra(self, name: str, at) -> int:
        self.count += 1
        self.refs[name] = self.count
        self.nodes.append(f"{self.count}, " + ", ".join(f"{v:.10g}" for v in at))
        return self.count

    def element(self, kind: str, nodes: str, card: list[str]) -> None:
        self.number += 1
        self.springs += [f"*ELEMENT, TYPE={kind}, ELSET=S{self.number}", f"{self.number}, {nodes}"]
        self.springs += [card[0].format(f"S{self.number}"), *card[1:]]

    def rigid(self, item: str, name: str, at, centre) -> tuple[int, int]:
        """Return two extra nodes, displacement and rotation of a point that the item carries along."""
        move, turn = self.extra(f"{name} move", at), self.extra(f"{name} turn", at)
        (x, y, z) = np.asarray(at) - centre
        arms = (((2, z), (3, -y)), ((1, -z), (3, x)), ((1, y), (2, -x)))
        for d, turns in enumerate(arms, 1):
            terms = [(move, d, -1.0), (self.refs[f"{item} move"], d, 1.0)]
            terms += [(self.refs[f"{item} turn"], k, v) for k, v in turns if abs(v) > 1e-12]
            self.body += ["*EQUATION", f"{len(terms)}", ", ".join(f"{n}, {k}, {v:.12g}" for n, k, v in terms)]
            self.body += ["*EQUATION", "2", f"{turn}, {d}, -1., {self.refs[f'{item} turn']}, {d}, 1."]
        return move, turn

    def item(self, b: Body) -> None:
        """Add a rigid item: its two nodes, and eight masses that turn as heavily as it does."""
        self.extra(f"{b.name} move", b.centre), self.extra(f"{b.name} turn", b.centre)
        moments, axes = np.linalg.eigh(b.inertia)
        half = np.sqrt(np.maximum(moments.sum() / 2 - moments, 0.0) / b.mass)
        for k, sign in enumerate(itertools.product((-1, 1), repeat=3)):
            move, _ = self.rigid(b.name, f"{b.name} mass {k}", b.centre + axes @ (half * sign), b.centre)
            self.element("MASS", f"{move}", ["*MASS, ELSET={}", f"{b.mass * 1e-3 / 8:.10g}"])

    def bolt(self, c) -> None:
        """Add a bolt; the axes of its spring must be those of the assembly."""
        s = c.springs[0]
        own = np.abs(s.axes).argmax(axis=1)
        assert np.allclose(np.abs(s.axes).max(axis=1), 1.0)
        stiff = np.zeros(6)
        stiff[own], stiff[3 + own] = s.stiffness[:3], s.stiffness[3:]
        along = s.axes[0]
        way = self.points - s.at
        off = way @ along
        wall = np.flatnonzero((np.abs(np.linalg.norm(way - off[:, None] * along, axis=1) - c.hole / 2) < 0.02 * c.hole)
                              & (off < 0.01) & (off > -c.first.made.thickness - 0.01))  # fmt: skip
        assert len(wall) > 15, c.name
        first = self.extra(f"{c.name} first move", s.at), self.extra(f"{c.name} first turn", s.at)
        self.body += equations(mean(self.points[wall], np.ones(len(wall)), np.asarray(s.at)), wall, first)
        if isinstance(c.second, Body):
            second = self.rigid(c.second.name, f"{c.name} second", s.at, c.second.centre)
        else:
            second = self.extra(f"{c.name} second move", s.at), self.extra(f"{c.name} second turn", s.at)
            self.held += [f"{n}, 1, 3" for n in second]
        for d in range(6):
            if stiff[d]:
                k = d % 3 + 1
                self.element("SPRING2", f"{first[d // 3]}, {second[d // 3]}",
                             ["*SPRING, ELSET={}", f"{k}, {k}", f"{stiff[d]:.12g}"])  # fmt: skip

    def text(self, step: list[str]) -> str:
        held = ["*BOUNDARY", *self.held]
        return "\n".join(["*NODE, NSET=ALL", *self.nodes, *self.body, *self.springs, *held, *step, "*END STEP", ""])


def compared(ccx, folder, ours: float, theirs: float) -> tuple[float, float, np.ndarray]:
    """Return deflection and first frequency over those of CalculiX, and the bolts' forces here and there (n, 2, 3)."""
    made = tb.assemble(tb.families.winch_cradle(), SHOP)
    found = strength_of_assembly(made, load=f"winch {PULL:.0f} N", on="winch", size=ours, frequencies=1)
    whole = whole_of(made, 60.0, lambda done, word: None)
    d = Deck(*tetrahedra(made, folder, theirs), made.made_of("deck").sheet.material.density)
    for b in whole.bodies:
        d.item(b)
    joints = list(bolts(made, whole))
    for c in joints:
        d.bolt(c)
    pull = ["*STEP", "*STATIC", "*CLOAD", f"{d.refs['winch move']}, 2, {PULL}", "*NODE PRINT, NSET=ALL", "U"]
    u = displacements(run(ccx, d.text(pull), folder / "pull"), d.count)
    there = frequencies(run(ccx, d.text(["*STEP", "*FREQUENCY", "1"]), folder / "swings"))[0]
    forces = []
    here = {x.joint.name: x.joint.force for x in found.results[0].uses}
    for c in joints:
        s = c.springs[0]
        apart = u[d.refs[f"{c.name} second move"] - 1] - u[d.refs[f"{c.name} first move"] - 1]
        forces.append((here[c.name], s.axes.T @ (s.stiffness[:3] * (s.axes @ apart))))
    deck = np.linalg.norm(u[: len(d.points)], axis=1).max()
    mine = np.linalg.norm(found.results[0].displacement[: -len(whole.bodies), :3], axis=1).max()
    return mine / deck, found.frequencies[0] / there, np.array(forces)


@pytest.mark.full
def test_a_winch_cradle(needs, tmp_path):
    """Displacement within 3 %, frequency within 2 %, bolts' forces within 5 % of the largest."""
    moved, swings, forces = compared(needs("ccx"), tmp_path, 12.0, 12.0)
    most = np.linalg.norm(forces[:, 1], axis=1).max()
    apart = np.linalg.norm(forces[:, 0] - forces[:, 1], axis=1).max() / most
    print(f"displacement {moved:.4f}, frequency {swings:.4f}, forces {apart:.4f} of CalculiX'")
    assert moved == pytest.approx(1.0, abs=0.03)
    assert swings == pytest.approx(1.0, abs=0.02)
    assert apart < 0.05
