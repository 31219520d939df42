"""A panel on lips all round against CalculiX: shells on a mesh of gmsh, each node over a lip on a spring that only presses.

CalculiX iterates by itself which of the springs act; the frequencies are those about its own state at rest. The springs
are far stiffer than the sheet between two nodes.
"""

from __future__ import annotations

import numpy as np
import pytest

import tinbook as tb
from ccxdeck import displacements, eight_nodes, frequencies, run
from gmshflat import flat_quads
from strategies import SHOP
from tinbook.strength import analysis as an
from tinbook.strength import loads as ld
from tinbook.strength import supports as on

LONG, WIDE, T, LIP = 800.0, 400.0, 1.6, 15.0
SIDES = ("front", "right", "rear", "left")
PATCH = (200.0, 300.0, 100.0, 200.0)
"""x0, x1, y0, y1 of the foot, mm, off the middle."""
FOOT = 20.0
"""N: half of the panel's own weight, which lies on it too."""
FIRM, SOFT, DROP = 300.0, 2e-3, 100.0
"""N/mm of a spring where the sheet lies on a lip; mm over which it grows firm, else no iteration settles; its length, mm: so
long that it stays upright."""
G = 9.80665


def panel() -> tb.making.Made:
    return tb.make(tb.Part("HN-L", sheet=f"DC01 {T}", base=tb.Outline.rectangle(LONG, WIDE)), SHOP)


def held() -> list[on.Support]:
    return [*(on.lip(e, width=LIP) for e in SIDES), on.no_drift()]


def meshed(size: float) -> tuple[np.ndarray, np.ndarray]:
    """Return nodes and quads of the panel; lines run along the lips' ends and round the foot."""

    def drawn(occ) -> None:
        x0, x1, y0, y1 = PATCH
        whole = (2, occ.addRectangle(0, 0, 0, LONG, WIDE))
        inner = (2, occ.addRectangle(LIP, LIP, 0, LONG - 2 * LIP, WIDE - 2 * LIP))
        occ.fragment([whole], [inner, (2, occ.addRectangle(x0, y0, 0, x1 - x0, y1 - y0))])

    return flat_quads(drawn, size)


def over_lips(points: np.ndarray) -> np.ndarray:
    """Return the nodes over a lip."""
    x, y = points[:, 0], points[:, 1]
    return np.flatnonzero(np.minimum.reduce([x, LONG - x, y, WIDE - y]) < LIP + 1e-6)


def presses(deep):
    """Return what a lip pushes where the sheet lies a little below it, N."""
    d = np.maximum(deep, 0.0)
    return np.where(d < SOFT, FIRM * d**2 / (2 * SOFT), FIRM * (d - SOFT / 2))


def deck(
    mesh, weight: bool, foot: float, rests: np.ndarray | None = None, modes: int = 0
) -> tuple[str, np.ndarray, int]:
    """Return the deck, the nodes over a lip and the count of all; `rests` are those that hold both ways for `modes`."""
    points, quads = mesh
    nodes, elements, _ = eight_nodes(points, quads)
    lines = ["*NODE, NSET=ALL"]
    lines += [f"{i}, {x:.10g}, {y:.10g}, {z:.10g}" for i, (x, y, z) in enumerate(nodes.tolist(), 1)]
    lip, count = over_lips(points), len(nodes)
    ends = count + 1 + np.arange(len(lip))
    if not modes:
        lines += [f"{e}, {points[n, 0]:.10g}, {points[n, 1]:.10g}, {-DROP}" for e, n in zip(ends, lip, strict=True)]
        count += len(lip)
    middle = points[quads].mean(axis=1)
    x0, x1, y0, y1 = PATCH
    under = (middle[:, 0] > x0) & (middle[:, 0] < x1) & (middle[:, 1] > y0) & (middle[:, 1] < y1)
    lines.append("*ELEMENT, TYPE=S8, ELSET=T")
    lines += [f"{e}, " + ", ".join(str(n + 1) for n in row) for e, row in enumerate(elements.tolist(), 1)]
    lines += ["*ELSET, ELSET=FOOT", *(f"{e + 1}," for e in np.flatnonzero(under).tolist())]
    m = SHOP.material("DC01")
    lines += ["*SHELL SECTION, ELSET=T, MATERIAL=M", f"{T}", "*MATERIAL, NAME=M", "*ELASTIC"]
    lines += [f"{m.youngs:.10g}, {m.poisson:.10g}", "*DENSITY", f"{m.density * 1e-12:.10g}"]
    number = len(elements)
    law = [f"{-presses(w):.10g}, {-w:.10g}" for w in (1.0, *np.linspace(SOFT, 0, 9).tolist())] + [f"{1e-6 * FIRM}, 1."]
    if not modes:
        for end, n in zip(ends.tolist(), lip.tolist(), strict=True):
            number += 1
            lines += [f"*ELEMENT, TYPE=SPRINGA, ELSET=S{number}", f"{number}, {n + 1}, {end}"]
            lines += [f"*SPRING, ELSET=S{number}, NONLINEAR", *law]
    # Kept from sliding at the middle and at a node beside it; the mid-sides of a shell's sheet do not slide either.
    mid = int(np.argmin(np.linalg.norm(points - [LONG / 2, WIDE / 2, 0], axis=1)))
    side = int(np.argmin(np.linalg.norm(points - [LONG, WIDE / 2, 0], axis=1)))
    lines += ["*BOUNDARY", f"{mid + 1}, 1, 2", f"{side + 1}, 2, 2"]
    if modes:
        assert rests is not None
        lines += [f"{n + 1}, 3, 3" for n in rests.tolist()]
        return "\n".join([*lines, "*STEP", "*FREQUENCY", f"{modes}", "*END STEP", ""]), lip, count
    lines += [f"{e}, 1, 3" for e in ends.tolist()]
    # A residual of a thousandth of a newton is none; by itself CalculiX asks for a hundredth of that.
    lines += ["*STEP, NLGEOM, INC=200", "*STATIC", "0.5, 1.", "*CONTROLS, PARAMETERS=FIELD", "0.3, 0.3", "*DLOAD"]
    if weight:
        lines.append(f"T, GRAV, {G * 1000:.10g}, 0., 0., -1.")
    if foot:
        lines.append(f"FOOT, P, {-foot / ((x1 - x0) * (y1 - y0)):.12g}")
    lines += ["*NODE PRINT, NSET=ALL", "U", "*END STEP", ""]
    return "\n".join(lines), lip, count


def pushes(points: np.ndarray, lip: np.ndarray, u: np.ndarray) -> list[float]:
    """Return what each lip bears by displacements of the nodes over it, N."""
    push = presses(-u[lip, 2])
    x, y = points[lip, 0], points[lip, 1]
    near = np.argmin(np.stack([y, LONG - x, WIDE - y, x]), axis=0)
    return [float(push[near == k].sum()) for k in range(4)]


def foot() -> ld.Foot:
    x0, x1, y0, y1 = PATCH
    return ld.Foot(at=((x0 + x1) / 2, (y0 + y1) / 2), force=FOOT, size=(x1 - x0, y1 - y0))


@pytest.fixture(scope="module")
def made():
    return panel()


@pytest.mark.full
def test_a_foot_on_a_panel_on_lips(needs, tmp_path, made):
    """Large displacements: deflection within 3 %, what each lip bears within 5 % of the largest."""
    mesh = meshed(50.0)
    text, lip, count = deck(mesh, True, FOOT)
    u = displacements(run(needs("ccx"), text, tmp_path), count)
    r = an.static(made, held(), [foot(), ld.Acceleration(g=(0, 0, -1.0))], size=20.0, compare=False)
    there = pushes(mesh[0], lip, u)
    print(r.deflection, np.abs(u[:, 2]).max(), [x.force[2] for x in r.reactions[:4]], there)
    weight = LONG * WIDE * T * made.sheet.material.density * 1e-9 * G
    assert sum(there) == pytest.approx(FOOT + weight, rel=0.01)
    assert r.large
    assert r.deflection == pytest.approx(float(np.abs(u[: len(mesh[0]), 2]).max()), rel=0.03)
    assert [x.force[2] for x in r.reactions[:4]] == pytest.approx(there, abs=0.05 * max(there))


@pytest.mark.full
def test_a_panel_on_lips_swings_about_its_state_at_rest(needs, tmp_path, made):
    """Four frequencies within 2 %; its corners have lifted, and behind its inner line the whole lip is free."""
    mesh = meshed(50.0)
    text, lip, count = deck(mesh, True, 0.0)
    u = displacements(run(needs("ccx"), text, tmp_path / "rest"), count)
    rests = lip[u[lip, 2] < 0]
    assert 0 < len(rests) < 0.5 * len(lip)
    there = frequencies(run(needs("ccx"), deck(mesh, True, 0.0, rests, 4)[0], tmp_path / "swings"))[:4]
    found = an.modes(made, held(), count=4, size=20.0, compare=False)
    print(found.frequencies, there)
    assert found.frequencies == pytest.approx(there, rel=0.02)
