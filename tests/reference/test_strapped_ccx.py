"""A strapped tank with contact against CalculiX: shells on a mesh of gmsh, rubber and straps as nonlinear springs at its nodes.

The tank is rigid (equations to two extra nodes). Each node of the plate under it carries a spring along the rubber that only
presses and two across it, by its share of the area; each leg of a strap is a spring that only pulls, from the tank to the
mean motion of a hole's rim. CalculiX iterates by itself which of them act.
"""

from __future__ import annotations

import itertools
from collections.abc import Collection

import numpy as np
import pytest

import tinbook as tb
from ccxdeck import displacements, eight_nodes, equations, frequencies, mean, run, whole_rim
from gmshflat import flat_quads
from strategies import SHOP
from tinbook.calc.fasteners import rubber_layer
from tinbook.part.assembly import Assembly
from tinbook.part.bought import block
from tinbook.part.links import Rubber, Strap
from tinbook.space import frame_at
from tinbook.strength.assemblies.loads import Case
from tinbook.strength.assemblies.request import strength_of_assembly
from tinbook.strength.assemblies.touching import Seen

T, LONG, WIDE = 5.0, 320.0, 200.0
TANK = (80.0, 240.0, 40.0, 160.0)
"""x0, x1, y0, y1 of the tank on the plate."""
HIGH, MASS, RUBBER, HARDNESS = 100.0, 20.0, 5.0, 60.0
HOLES = [(50.0, 100.0), (270.0, 100.0)]
DIA = 9.0
TENSION, SECTION, FREE = 400.0, 40.0, 200.0
YOUNGS, POISSON, G = 210e3, 0.3, 9.80665
HAIR = 1e-5


def legs(t: float) -> list[tuple[tuple[float, ...], tuple[float, ...]]]:
    top = t + RUBBER + HIGH
    return [((80.0, 100.0, top), (50.0, 100.0, t / 2)), ((240.0, 100.0, top), (270.0, 100.0, t / 2))]


def strapped(t: float = T) -> tb.Assembly:
    plate = tb.Part("HN-S1", sheet=f"S355 {t:.1f}", base=tb.Outline.rectangle(LONG, WIDE))
    for k, at in enumerate(HOLES, 1):
        plate = plate.hole(at, dia=DIA, name=f"strap {k}")
    x0, x1, y0, y1 = TANK
    tank = block("tank", (x1 - x0, y1 - y0, HIGH), mass=MASS)
    made = Assembly("HN-S").add("plate", plate).add("tank", tank, frame_at(((x0 + x1) / 2, (y0 + y1) / 2, t + RUBBER)))
    made = made.linked(Rubber(a="tank", b="plate", thickness=RUBBER, hardness=HARDNESS, reach=RUBBER + 0.5))
    given = {"a": "tank", "b": "plate", "tension": TENSION, "section": SECTION, "length": FREE}
    return made.linked(
        *(Strap(at=at, end=end, holes=(f"strap {k}",), **given) for k, (at, end) in enumerate(legs(t), 1))
    )


def meshed(size: float, t: float = T) -> tuple[np.ndarray, np.ndarray, list[np.ndarray]]:
    def drawn(occ) -> None:
        plate = occ.addRectangle(0, 0, t / 2, LONG, WIDE)
        plate = occ.cut([(2, plate)], [(2, occ.addDisk(x, y, t / 2, DIA / 2, DIA / 2)) for x, y in HOLES])[0]
        x0, x1, y0, y1 = TANK
        occ.fragment(plate, [(2, occ.addRectangle(x0, y0, t / 2, x1 - x0, y1 - y0))])

    points, quads = flat_quads(drawn, size, 10)
    rims = [np.flatnonzero(np.abs(np.hypot(*(points[:, :2] - at).T) - DIA / 2) < 1e-3) for at in HOLES]
    return points, quads, rims


def deck(
    mesh, g: tuple[float, float, float], slack: list[float], t: float = T, modes: int = 0, rests: Collection[int] = ()
) -> tuple[str, dict[str, int], int]:
    """Return the deck, its extra nodes and their count; `slack` is how much shorter each leg is before it is stretched, mm.

    `modes` asks for frequencies with the rubber at the nodes `rests` and both legs acting both ways (a perturbation step of
    CalculiX takes such springs as they are at their origin); the tank is then eight masses that turn as heavily as a block.
    """
    points, quads, rims = mesh
    nodes, elements, sides = eight_nodes(points, quads)
    centre = np.array([(TANK[0] + TANK[1]) / 2, (TANK[2] + TANK[3]) / 2, t + RUBBER + HIGH / 2])
    lines = ["*NODE, NSET=ALL"]
    lines += [f"{i}, {x:.10g}, {y:.10g}, {z:.10g}" for i, (x, y, z) in enumerate(nodes.tolist(), 1)]
    count, refs = len(nodes), {}

    def extra(name: str, at) -> int:
        nonlocal count
        count += 1
        refs[name] = count
        lines.append(f"{count}, " + ", ".join(f"{v:.10g}" for v in at))
        return count

    extra("tank move", centre), extra("tank turn", centre)
    rigid: list[str] = []

    def on_tank(name: str, at) -> int:
        """An extra node that the tank carries along: u = move + turn x arm."""
        node, (x, y, z) = extra(name, at), np.asarray(at) - centre
        for d, turns in enumerate((((2, z), (3, -y)), ((1, -z), (3, x)), ((1, y), (2, -x))), 1):
            terms = [(node, d, -1.0), (refs["tank move"], d, 1.0)]
            terms += [(refs["tank turn"], k, v) for k, v in turns if abs(v) > 1e-12]
            rigid.extend(["*EQUATION", f"{len(terms)}", ", ".join(f"{n}, {k}, {v:.12g}" for n, k, v in terms)])
        return node

    # The corners' share of the area under the tank, as a bilinear surface has it.
    d = points[quads]
    area = np.linalg.norm(np.cross(d[:, 2] - d[:, 0], d[:, 3] - d[:, 1]), axis=1) / 2
    middle = d.mean(axis=1)
    x0, x1, y0, y1 = TANK
    under = (middle[:, 0] > x0) & (middle[:, 0] < x1) & (middle[:, 1] > y0) & (middle[:, 1] < y1)
    share = np.bincount(quads[under].ravel(), np.repeat(area[under] / 4, 4), len(points))
    pressed, sheared = rubber_layer(HARDNESS, RUBBER)
    springs: list[str] = []
    number = len(elements)

    def spring(kind: str, one: int, two: int, law: list[str]) -> None:
        nonlocal number
        number += 1
        springs.extend([f"*ELEMENT, TYPE={kind}, ELSET=S{number}", f"{number}, {one}, {two}"])
        springs.extend([law[0].format(set=f"S{number}"), *law[1:]])

    for n in rests if modes else np.flatnonzero(share).tolist():
        top = on_tank(f"rubber {n}", points[n] + [0, 0, t / 2 + RUBBER])
        k = pressed * share[n]
        # Force and elongation; the kink lies a hair on the pulled side, for CalculiX starts with the slope at nought.
        one_sided = [
            "*SPRING, ELSET={set}, NONLINEAR",
            f"{-k * (1 + HAIR):.12g}, -1.",
            f"0., {HAIR}",
            f"{1e-4 * k:.6g}, 1.",
        ]
        if modes:
            one_sided = ["*SPRING, ELSET={set}", "3, 3", f"{k:.12g}"]
        spring("SPRING2" if modes else "SPRINGA", n + 1, top, one_sided)
        for axis in (1, 2):
            spring("SPRING2", n + 1, top, ["*SPRING, ELSET={set}", f"{axis}, {axis}", f"{sheared * share[n]:.12g}"])
    ties: list[str] = []
    for k, ((at, end), rim, short) in enumerate(zip(legs(t), rims, slack, strict=True), 1):
        hole = extra(f"hole {k} move", end), extra(f"hole {k} turn", end)
        which, weights = whole_rim(rim, nodes, sides, len(points), DIA)
        ties += equations(mean(nodes[which], weights, np.array(end)), which, hole)
        k_leg = 205e3 * SECTION / FREE
        pulls = [
            "*SPRING, ELSET={set}, NONLINEAR",
            f"{-1e-4 * k_leg:.6g}, -1.",
            f"0., {-short:.12g}",
            f"{k_leg:.12g}, {1 - short:.12g}",
        ]
        if modes:
            pulls = ["*SPRING, ELSET={set}, NONLINEAR", f"{-k_leg:.12g}, -1.", "0., 0.", f"{k_leg:.12g}, 1."]
        spring("SPRINGA", on_tank(f"leg {k}", at), hole[0], pulls)
    if modes:
        half = np.array([TANK[1] - TANK[0], TANK[3] - TANK[2], HIGH]) / np.sqrt(12)
        for k, sign in enumerate(itertools.product((-1, 1), repeat=3)):
            number += 1
            springs += ["*ELEMENT, TYPE=MASS, ELSET=TANK", f"{number}, {on_tank(f'mass {k}', centre + half * sign)}"]
        springs += ["*MASS, ELSET=TANK", f"{MASS * 1e-3 / 8:.10g}"]
    lines.append("*ELEMENT, TYPE=S8, ELSET=T")
    lines += [f"{e}, " + ", ".join(str(n + 1) for n in row) for e, row in enumerate(elements.tolist(), 1)]
    lines += ["*SHELL SECTION, ELSET=T, MATERIAL=M", f"{t}"]
    lines += ["*MATERIAL, NAME=M", "*ELASTIC", f"{YOUNGS}, {POISSON}", "*DENSITY", "7.85e-9"]
    lines += [*rigid, *ties, *springs, "*BOUNDARY"]
    held = np.abs(nodes[:, 0]) < 1e-6
    held |= np.abs(nodes[:, 0] - LONG) < 1e-6
    lines += [f"{n + 1}, 1, 6" for n in np.flatnonzero(held).tolist()]
    if modes:
        return "\n".join([*lines, "*STEP", "*FREQUENCY", f"{modes}", "*END STEP", ""]), refs, count
    way = np.array(g) / np.linalg.norm(g)
    lines += [
        "*STEP, NLGEOM, INC=100",
        "*STATIC",
        "*DLOAD",
        f"T, GRAV, {np.linalg.norm(g) * G * 1000:.10g}, " + ", ".join(f"{v:.10g}" for v in way),
    ]
    lines += ["*CLOAD"] + [f"{refs['tank move']}, {d}, {MASS * G * v:.12g}" for d, v in enumerate(g, 1) if v]
    lines += ["*NODE PRINT, NSET=ALL", "U", "*END STEP", ""]
    return "\n".join(lines), refs, count


def leg_pulls(u: np.ndarray, refs: dict[str, int], slack: list[float]) -> list[float]:
    """Return what each leg pulls by displacements of its two ends, N."""
    out = []
    for k, ((at, end), short) in enumerate(zip(legs(T), slack, strict=True), 1):
        way = np.subtract(end, at) / np.linalg.norm(np.subtract(end, at))
        longer = float((u[refs[f"hole {k} move"] - 1] - u[refs[f"leg {k}"] - 1]) @ way)
        out.append(max(0.0, 205e3 * SECTION / FREE * (longer + short)))
    return out


CASES = {"rest": (0.0, 0.0, -1.0), "down": (0.3, 0.0, -3.0), "up": (0.0, 0.0, 8.0), "along": (0.8, 0.0, -1.0)}


def answer(cases, t: float = T, modes: int = 0):
    """Return the answer, and how much each leg is shorter than its way before anything moves, mm."""
    starts: list[np.ndarray] = []
    found_at_rest = Seen.at_rest

    def at_rest(self, weight):
        start, rest = found_at_rest(self, weight)
        starts.append(start)
        return start, rest

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Seen, "at_rest", at_rest)
        made = tb.assemble(strapped(t), SHOP)
        cases = [Case(name=name, g=g) for name, g in cases.items()]
        found = strength_of_assembly(made, "plate: clamped: left, right", cases, size=8.0, frequencies=modes)
    return found, [float(s) / (205e3 * SECTION / FREE) for s in starts[0] if s > 0]


@pytest.fixture(scope="module")
def answered():
    return answer(CASES)


def close(needs, folder, answered, name: str, size: float) -> None:
    """Displacement of tank and plate within 3 %, pull of each leg within 5 % of the larger."""
    found, slack = answered
    mesh = meshed(size)
    text, refs, count = deck(mesh, CASES[name], slack)
    u = displacements(run(needs("ccx"), text, folder), count)
    r = next(r for r in found.results if r.case.name == name)
    assert r.departs < 0.01
    tank = u[refs["tank move"] - 1]
    assert np.linalg.norm(r.displacement[-1, :3] - tank) < 0.03 * np.linalg.norm(tank)
    pulls = leg_pulls(u, refs, slack)
    assert [x.along for x in r.links[1:]] == pytest.approx(pulls, abs=0.05 * max(pulls))
    plate = float(np.linalg.norm(u[: len(mesh[0])], axis=1).max())
    ours = float(np.linalg.norm(r.displacement[:-1, :3], axis=1).max())
    # Thrown up the plate hardly moves: as a part of what the tank does.
    assert ours == pytest.approx(plate, abs=0.03 * max(plate, float(np.linalg.norm(tank))))


def test_a_tank_that_is_thrown_up_opens_its_rubber(needs, tmp_path, answered):
    close(needs, tmp_path, answered, "up", 50.0)


@pytest.mark.full
@pytest.mark.parametrize("name", CASES)
def test_a_strapped_tank_in_every_case(needs, tmp_path, answered, name):
    close(needs, tmp_path, answered, name, 24.0)


THIN = 3.0
"""mm: on this plate rubber bears nothing in the middle, at rest."""


def swings(needs, folder, size: float) -> None:
    """Frequencies about the state at rest within 2 %, where a part of the rubber does not act."""
    found, slack = answer({"rest": CASES["rest"]}, THIN, 4)
    mesh = meshed(size, THIN)
    text, refs, count = deck(mesh, CASES["rest"], slack, THIN)
    u = displacements(run(needs("ccx"), text, folder / "rest"), count)
    patches = {int(name.split()[1]): ref for name, ref in refs.items() if name.startswith("rubber")}
    rests = [n for n, top in patches.items() if u[top - 1, 2] < u[n, 2] + HAIR]
    assert 0 < len(rests) < len(patches)
    text, _, _ = deck(mesh, CASES["rest"], slack, THIN, 4, rests)
    there = frequencies(run(needs("ccx"), text, folder / "swings"))[:4]
    assert any("rubber bears on" in said for said in found.remarks)
    assert found.frequencies == pytest.approx(there, rel=0.02)


@pytest.mark.full
def test_a_strapped_tank_swings_about_its_state_at_rest(needs, tmp_path):
    swings(needs, tmp_path, 24.0)


def test_its_first_frequency_is_the_one_that_calculix_gave():
    """30.45 Hz by CalculiX in the test above, on a mesh of 24 mm; with all rubber acting both ways it gave 32.8."""
    found, _ = answer({"rest": CASES["rest"]}, THIN, 1)
    assert any("rubber bears on" in said for said in found.remarks)
    assert found.frequencies[0] == pytest.approx(30.45, rel=0.02)
