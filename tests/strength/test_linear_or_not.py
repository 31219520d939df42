"""Linear answers only where they are true: one state in balance decides, not how far the sheet moves."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ccxdeck import deck, displacements, run
from strategies import SHOP
from tinbook.making.resolve import make
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.strength import analysis as an
from tinbook.strength import loads as ld
from tinbook.strength.request import strength_of, supports_of
from tinbook.strength.supports import on_mesh

PINNED_ENDS = ("pinned: front", "pinned: leaf.end")


def plate(a: float, b: float, sheet: str = "DC01 1.6"):
    return make(Part("HN-L", rev="A", sheet=sheet, base=Outline.rectangle(a, b)), SHOP)


def ridge(angle: float):
    """300 x 300 mm, folded down along its middle."""
    base = Part("HN-RG", rev="A", sheet="DC01 1.0", base=Outline.rectangle(300, 150))
    return make(base.fold("rear", "down", leg=150, angle=angle, name="leaf"), SHOP)


def answer(made, held, load, **more):
    return an.static(made, supports_of(made, held), [load], compare=False, **more)


@given(
    a=st.integers(200, 900),
    b=st.integers(150, 400),
    held=st.sampled_from(("pinned", "clamped", "simply supported", "clamped: left, right")),
    foot=st.booleans(),
    moves=st.floats(0.02, 1.2),
    more=st.floats(1.002, 1.5),
)
@settings(max_examples=8, deadline=None)
def test_deflection_never_falls_as_the_load_rises(a, b, held, foot, moves, more):
    """Flat panels, from a fiftieth of their thickness to more than it by linear theory: where both kinds of answer meet."""
    made, size = plate(a, b), b / 7

    def load(size: float):
        return ld.Foot(at=(a / 2, b / 2), force=size, size=(60, 60)) if foot else ld.Pressure(pressure=size * 1e-6)

    unit = answer(made, held, load(1.0), size=size, large=False).linear_deflection
    low = moves * 1.6 / unit
    first, second = (answer(made, held, load(x), size=size) for x in (low, low * more))
    assert first.deflection < second.deflection * (1 + 1e-6)


def test_half_a_thickness_is_no_limit_where_edges_cannot_move_in():
    """600 x 400 x 1.5 mm, pinned all round: linear theory says 0.74 mm, steps of the load 0.59."""
    made = plate(600, 400, "DC01 1.5")
    below, above = (answer(made, "pinned", ld.Pressure(pressure=q), size=25.0) for q in (2.44e-4, 2.48e-4))
    stepped = answer(made, "pinned", ld.Pressure(pressure=2.44e-4), size=25.0, large=True)
    assert below.linear_deflection < 0.5 * 1.5
    assert below.deflection == pytest.approx(stepped.deflection, rel=1e-4)
    assert below.deflection < above.deflection < 0.9 * below.linear_deflection


def test_a_state_next_to_the_linear_one_is_that_of_the_steps():
    """60 Pa: large displacements take 2 % off, and need no new factors."""
    made = plate(600, 400, "DC01 1.5")
    near, stepped = (answer(made, "pinned", ld.Pressure(pressure=6e-5), size=25.0, large=x) for x in (None, True))
    assert near.large
    assert 0.01 < near.departs < 0.05
    assert near.deflection == pytest.approx(stepped.deflection, rel=1e-5)
    assert near.stress == pytest.approx(stepped.stress, rel=1e-3)


def test_linear_theory_that_is_not_true_gives_no_number():
    made = plate(600, 400, "DC01 1.5")
    found = strength_of(made, "pinned", ld.Pressure(pressure=2.44e-4), size=50.0, frequencies=0, large=False)
    assert found.rows()[0][1].startswith("no number")
    assert found.fields == ()


def test_a_flat_sheet_pressed_beyond_its_buckling_load_gets_no_linear_number():
    """In its plane the linear answer balances exactly; only the tangent says that it would not stay flat."""
    made = plate(400, 200)
    held = ["simply supported", *supports_of(made, "clamped: left")]
    press = ld.Pull(newtons=(-40e3, 0.0, 0.0), edge="right")
    found = answer(made, held, press, size=50.0, large=False)
    assert not found.trusted
    light = answer(made, held, ld.Pull(newtons=(-4e3, 0.0, 0.0), edge="right"), size=50.0)
    assert light.trusted
    assert not light.large


def test_a_shallow_ridge_snaps_and_gets_no_linear_buckling_load():
    """1.5 degrees under pressure: it softens until it snaps through, at 0.68 of 1 kPa (CalculiX agrees below, --full)."""
    load = ld.Pressure(pressure=1e-3, panels=())
    found = strength_of(ridge(1.5), PINNED_ENDS, load, size=20.0, frequencies=0, buckling=True)
    assert found.under is not None
    assert found.under.snap == pytest.approx(0.66, abs=0.04)
    assert found.buckles is not None
    assert found.buckles.bends
    assert dict(row[:2] for row in found.rows())["buckling"].startswith("no number")


def test_the_sliver_of_a_shallow_fold_does_not_buckle_by_itself():
    """0.03 mm of arc: in slivers a mode without stiffness buckled at 0.07 and 0.91 of the load on these two meshes."""
    load = ld.Pressure(pressure=1e-3, panels=())
    made = ridge(1.5)
    coarse, fine = (an.buckling(made, supports_of(made, PINNED_ENDS), [load], size=size) for size in (40.0, 14.0))
    assert coarse.factors[0] == pytest.approx(fine.factors[0], rel=0.15)


@pytest.mark.full
@pytest.mark.parametrize(("angle", "pressure", "force"), [(1.5, 5.5e-4, 0.0), (5.0, 0.0, 40.0)])
def test_ridges_against_calculix(needs, tmp_path, angle, pressure, force):
    """Displacements large in both, on the same mesh; the first lies at 0.85 of the load at which it snaps."""
    made = ridge(angle)
    load = ld.Foot(at=(150, 120), force=force, size=(40, 40)) if force else ld.Pressure(pressure=pressure, panels=())
    ours = answer(made, PINNED_ENDS, load, size=12.5)
    m, model = an.model_of(made, 12.5)
    stops = on_mesh(made, m, supports_of(made, PINNED_ENDS))
    held = an.sh.hold(len(m.points), stops.at, stops.rows)
    # Of skew nodes all three displacements are held, so their axes do not matter.
    assert held.fixed[held.skew, :3].all()
    assert not held.fixed[held.skew, 3:].any()
    text = deck(
        m.points, m.quads, m.thickness, youngs=model.youngs, poisson=model.poisson, fixed=held.fixed,
        force=an.nodal(made, m, model, [load])[:, :3], large=True, smooth=True,
    )  # fmt: skip
    there = displacements(run(needs("ccx"), text, tmp_path), len(m.points))
    assert ours.large
    assert ours.deflection == pytest.approx(np.linalg.norm(there, axis=1).max(), rel=0.03)
