"""A lid on the seal of its frame, pulled shut by two latches, against CalculiX: shells on a mesh of gmsh, the seal as springs.

The lid's nodes lie over the frame's. Between each pair is a spring that only presses, and two across it; each latch is a
spring that only pulls, between the mean motions of a hole's rim in the lid and in the frame. CalculiX iterates by itself
which of them act.
"""

from __future__ import annotations

from collections.abc import Collection

import numpy as np
import pytest

import tinbook as tb
from ccxdeck import displacements, eight_nodes, equations, frequencies, mean, run, whole_rim
from gmshflat import flat_quads
from strategies import SHOP
from tinbook.calc.fasteners import rubber_layer
from tinbook.errors import BadValue
from tinbook.part.assembly import Assembly
from tinbook.part.links import Laden, Rubber, Strap
from tinbook.space import frame_at
from tinbook.strength.assemblies.loads import Case
from tinbook.strength.assemblies.request import strength_of_assembly
from tinbook.strength.assemblies.touching import Seen

FRAME, LID = (0.0, 320.0, 0.0, 240.0), (20.0, 300.0, 20.0, 220.0)
OPENING = (55.0, 265.0, 55.0, 185.0)
"""x0, x1, y0, y1, mm: the seal lies where the lid covers the frame."""
T, THIN = 3.0, 1.5
SEAL, HARDNESS = 5.0, 30.0
MASS = 4.0
"""kg of the lid with what lies on it."""
HOLES = [(160.0, 38.0), (160.0, 202.0)]
DIA = 8.0
TENSION, SECTION, LONG = 60.0, 20.0, 150.0
YOUNGS, POISSON, DENSITY, G = 210e3, 0.3, 7850.0, 9.80665
HAIR = 1e-5
HIGH = T / 2 + SEAL + THIN / 2
"""mm: from the frame's middle plane to the lid's."""
PULL = 205e3 * SECTION / LONG
"""N/mm of a latch."""
CASES = {"rest": (0.0, 0.0, -1.0), "down": (0.3, 0.0, -6.0), "up": (0.0, 0.0, 2.5)}


def box(x0: float, x1: float, y0: float, y1: float) -> tb.Outline:
    return tb.Outline.rectangle(x1 - x0, y1 - y0).moved(x0, y0)


def sealed() -> Assembly:
    frame = tb.Part("HN-Q1", sheet=f"S355 {T}", base=box(*FRAME))
    frame = frame.cut_out(box(*OPENING), (0, 0), name="opening")
    lid = tb.Part("HN-Q2", sheet=f"DC01 {THIN}", base=box(*LID))
    for k, at in enumerate(HOLES, 1):
        frame = frame.hole(at, dia=DIA, name=f"latch {k}")
        lid = lid.hole(at, dia=DIA, name=f"latch {k}")
    made = Assembly("HN-Q").add("frame", frame).add("lid", lid, frame_at((0.0, 0.0, T + SEAL)))
    made = made.linked(
        Rubber(a="lid", b="frame", thickness=SEAL, hardness=HARDNESS, reach=SEAL + 0.5), Laden(a="lid", mass=MASS)
    )
    given = {"a": "lid", "b": "frame", "tension": TENSION, "section": SECTION, "length": LONG}
    return made.linked(
        *(
            Strap(at=(x, y, T / 2 + HIGH), end=(x, y, T / 2), holes=(f"latch {k}",), **given)
            for k, (x, y) in enumerate(HOLES, 1)
        )
    )


def lid_alone() -> Assembly:
    """Return the frame and the lid on its seal without its latches."""
    made = sealed()
    bare = Assembly("HN-Q")
    for m in made.members:
        bare = bare.add(m.name, m.thing, m.at)
    return bare.linked(*(x for x in made.links if not isinstance(x, Strap)))


def answer(cases, modes: int = 0):
    """Return the answer, and how much each latch is shorter than its way before anything moves, mm."""
    starts: list[np.ndarray] = []
    found_at_rest = Seen.at_rest

    def at_rest(self, weight):
        start, rest = found_at_rest(self, weight)
        starts.append(start)
        return start, rest

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Seen, "at_rest", at_rest)
        made = tb.assemble(sealed(), SHOP)
        cases = [Case(name=name, g=g) for name, g in cases.items()]
        found = strength_of_assembly(made, "frame: clamped: left, right", cases, size=7.0, frequencies=modes)
    return found, [float(s) / PULL for s in starts[0] if s > 0]


def meshed(size: float) -> tuple[np.ndarray, np.ndarray, list[np.ndarray]]:
    """Return nodes and quads seen from above, frame and lid in one, and the nodes on each hole's rim."""

    def drawn(occ) -> None:
        boxes = [(2, occ.addRectangle(x0, y0, 0, x1 - x0, y1 - y0)) for x0, x1, y0, y1 in (FRAME, LID, OPENING)]
        disks = [(2, occ.addDisk(x, y, 0, DIA / 2, DIA / 2)) for x, y in HOLES]
        occ.cut(occ.fragment(boxes[:1], boxes[1:])[0], disks)

    points, quads = flat_quads(drawn, size, 8)
    rims = [np.flatnonzero(np.abs(np.hypot(*(points[:, :2] - at).T) - DIA / 2) < 1e-3) for at in HOLES]
    return points, quads, rims


def within(points: np.ndarray, x0: float, x1: float, y0: float, y1: float) -> np.ndarray:
    x, y = points[:, 0], points[:, 1]
    return (x > x0) & (x < x1) & (y > y0) & (y < y1)


class Deck:
    """The lines of a deck; `frame`, `lid` and `seal` say which nodes are whose, `latches` are the ends of each."""

    def __init__(self, mesh, slack: list[float]):
        points, quads, rims = mesh
        middle = points[quads].mean(axis=1)
        sheets = {"frame": quads[~within(middle, *OPENING)], "lid": quads[within(middle, *LID)]}
        seal = quads[within(middle, *LID) & ~within(middle, *OPENING)]
        self.lines = ["*NODE, NSET=ALL"]
        self.count, self.number, self.springs = 0, 0, 0
        self.first: dict[str, np.ndarray] = {}
        self.kinds: list[str] = []
        ends: dict[str, list[tuple[int, int]]] = {}
        self.body: list[str] = []
        total = 0.0
        for name, mine in sheets.items():
            used, own = np.unique(mine, return_inverse=True)
            z = 0.0 if name == "frame" else HIGH
            p = points[used] + [0, 0, z]
            nodes, elements, sides = eight_nodes(p, own.reshape(-1, 4))
            start = self.count
            self.node(nodes)
            self.first[name] = np.full(len(points), -1)
            self.first[name][used] = start + 1 + np.arange(len(used))
            self.body.append(f"*ELEMENT, TYPE=S8, ELSET={name.upper()}")
            for row in elements.tolist():
                self.number += 1
                self.body.append(f"{self.number}, " + ", ".join(str(start + n + 1) for n in row))
            d = p[own.reshape(-1, 4)]
            area = np.linalg.norm(np.cross(d[:, 2] - d[:, 0], d[:, 3] - d[:, 1]), axis=1).sum() / 2
            total = DENSITY if name == "frame" else MASS / (area * THIN * 1e-9)
            self.kinds += [
                f"*SHELL SECTION, ELSET={name.upper()}, MATERIAL={name.upper()}", f"{T if name == 'frame' else THIN}",
                f"*MATERIAL, NAME={name.upper()}", "*ELASTIC", f"{YOUNGS}, {POISSON}", "*DENSITY", f"{total * 1e-12:.10g}",
            ]  # fmt: skip
            if name == "frame":
                edge = (np.abs(nodes[:, 0] - FRAME[0]) < 1e-6) | (np.abs(nodes[:, 0] - FRAME[1]) < 1e-6)
                self.held = [f"{start + n + 1}, 1, 6" for n in np.flatnonzero(edge).tolist()]
            ends[name] = []
            place = {int(n): k for k, n in enumerate(used)}
            for (x, y), rim in zip(HOLES, rims, strict=True):
                about = np.array([x, y, z])
                move, turn = self.node(about[None])[0], self.node(about[None])[0]
                which, weights = whole_rim(np.array([place[int(n)] for n in rim]), nodes, sides, len(p), DIA)
                self.body += equations(mean(nodes[which], weights, about), start + which, (move, turn))
                ends[name].append((move, turn))
        self.latches = [(a[0], b[0]) for a, b in zip(ends["lid"], ends["frame"], strict=True)]
        d = points[seal]
        area = np.linalg.norm(np.cross(d[:, 2] - d[:, 0], d[:, 3] - d[:, 1]), axis=1) / 2
        self.share = np.bincount(seal.ravel(), np.repeat(area / 4, 4), len(points))
        self.seal, self.slack = np.flatnonzero(self.share), slack

    def node(self, places: np.ndarray) -> list[int]:
        new = list(range(self.count + 1, self.count + 1 + len(places)))
        self.lines += [f"{i}, {x:.10g}, {y:.10g}, {z:.10g}" for i, (x, y, z) in zip(new, places.tolist(), strict=True)]
        self.count += len(places)
        return new

    def spring(self, kind: str, one: int, two: int, law: list[str]) -> None:
        self.number += 1
        at = f"S{self.number}"
        self.body += [f"*ELEMENT, TYPE={kind}, ELSET={at}", f"{self.number}, {one}, {two}", law[0].format(at), *law[1:]]

    def text(self, step: list[str], rests: Collection[int] = (), modes: bool = False) -> str:
        """Return the deck; with `modes` the seal acts both ways at the nodes `rests`, and the latches do."""
        kept = list(self.body), self.number
        pressed, sheared = rubber_layer(HARDNESS, SEAL)
        for n in rests if modes else self.seal.tolist():
            one, two = int(self.first["frame"][n]), int(self.first["lid"][n])
            k = pressed * self.share[n]
            if modes:
                self.spring("SPRING2", one, two, ["*SPRING, ELSET={}", "3, 3", f"{k:.12g}"])
            else:
                law = [f"{-k * (1 + HAIR):.12g}, -1.", f"0., {HAIR}", f"{1e-4 * k:.6g}, 1."]
                self.spring("SPRINGA", one, two, ["*SPRING, ELSET={}, NONLINEAR", *law])
            for axis in (1, 2):
                self.spring(
                    "SPRING2", one, two, ["*SPRING, ELSET={}", f"{axis}, {axis}", f"{sheared * self.share[n]:.12g}"]
                )
        for (one, two), short in zip(self.latches, self.slack, strict=True):
            law = [f"{-1e-4 * PULL:.6g}, -1.", f"0., {-short:.12g}", f"{PULL:.12g}, {1 - short:.12g}"]
            if modes:
                law = [f"{-PULL:.12g}, -1.", "0., 0.", f"{PULL:.12g}, 1."]
            self.spring("SPRINGA", one, two, ["*SPRING, ELSET={}, NONLINEAR", *law])
        out = [*self.lines, *self.body, *self.kinds, "*BOUNDARY", *self.held, *step, "*END STEP", ""]
        self.body, self.number = kept
        return "\n".join(out)

    def under(self, ccx, folder, g) -> np.ndarray:
        """Return displacements under accelerations in g."""
        size = float(np.linalg.norm(g))
        pull = f"GRAV, {size * G * 1000:.10g}, " + ", ".join(f"{v / size:.10g}" for v in g)
        step = ["*STEP, NLGEOM, INC=100", "*STATIC", "0.5, 1.", "*DLOAD", f"FRAME, {pull}", f"LID, {pull}",
                "*NODE PRINT, NSET=ALL", "U"]  # fmt: skip
        return displacements(run(ccx, self.text(step), folder), self.count)

    def pulls(self, u: np.ndarray) -> list[float]:
        return [
            max(0.0, PULL * float(u[a - 1, 2] - u[b - 1, 2] + short))
            for (a, b), short in zip(self.latches, self.slack, strict=True)
        ]


@pytest.mark.full
def test_a_lid_on_its_seal(needs, tmp_path):
    """Displacement within 3 %, the latches' pulls within 5 %, three frequencies about the state at rest within 2 %."""
    found, slack = answer(CASES, 3)
    deck = Deck(meshed(16.0), slack)
    for name, g in CASES.items():
        u = deck.under(needs("ccx"), tmp_path / name, g)
        r = next(r for r in found.results if r.case.name == name)
        assert r.answered
        lid = r.displacement[found.whole.member("lid").nodes, :3]
        theirs = u[deck.first["lid"][deck.first["lid"] > 0] - 1]
        here, there = (float(np.linalg.norm(x, axis=1).max()) for x in (lid, theirs))
        both = [x.along for x in r.links[1:]], deck.pulls(u)
        print(name, r.departs, here, there, *both)
        assert here == pytest.approx(there, rel=0.03)
        assert both[0] == pytest.approx(both[1], abs=0.05 * max(both[1]))
        if name == "rest":
            rests = [
                n
                for n in deck.seal.tolist()
                if u[deck.first["lid"][n] - 1, 2] < u[deck.first["frame"][n] - 1, 2] + HAIR
            ]
    assert 0 < len(rests) < len(deck.seal)
    text = deck.text(["*STEP", "*FREQUENCY", "3"], rests, modes=True)
    there = frequencies(run(needs("ccx"), text, tmp_path / "swings"))[:3]
    print(found.frequencies, there, len(rests), len(deck.seal), [x for x in found.remarks if "rest" in x])
    assert found.frequencies == pytest.approx(there, rel=0.02)


def test_at_rest_its_seal_bears_weight_and_latches_and_it_swings_as_calculix_says():
    """Statics: the seal bears the lid and both latches. 65.07 Hz by CalculiX in the test above, on a mesh of 16 mm."""
    found, _ = answer({"rest": CASES["rest"]}, 1)
    seal, *latches = found.results[0].links
    assert -seal.along == pytest.approx(MASS * G + 2 * TENSION, rel=2e-3)
    assert [x.along for x in latches] == pytest.approx([TENSION] * 2, rel=2e-3)
    assert any("rubber bears on" in said for said in found.remarks)
    assert found.frequencies[0] == pytest.approx(65.07, rel=0.02)


def test_a_lid_thrown_off_its_seal_has_no_number():
    made = tb.assemble(lid_alone(), SHOP)
    (r,) = strength_of_assembly(made, "frame: clamped", Case(name="up", g=(0, 0, 2)), size=20.0, frequencies=0).results
    assert not r.answered
    assert "lifts off" in r.bends


def test_a_seal_lies_between_sheets():
    link = Rubber(a="lid", b="ground", thickness=SEAL)
    with pytest.raises(BadValue, match=r"ground.*a member of sheet, of: frame, lid"):
        strength_of_assembly(tb.assemble(sealed().linked(link), SHOP), "frame: clamped", size=30.0, frequencies=0)
