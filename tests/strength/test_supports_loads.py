"""Supports and loads: resultants to the last digit, contact, symmetry, and errors before any solve."""

from __future__ import annotations

import math

import numpy as np
import pytest

import panelcases as pc
from strategies import SHOP
from tinbook.errors import BadValue, OutOfRange, UnknownName
from tinbook.families.plain import bead_rolled_panel, folded_channel
from tinbook.making.resolve import make
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.strength import analysis as an
from tinbook.strength import loads as ld
from tinbook.strength import supports as on
from tinbook.strength.contact import linear as contact
from tinbook.strength.report import Strength
from tinbook.strength.request import strength_of

SIDES = ("front", "right", "rear", "left")


@pytest.fixture(scope="module")
def panel():
    return make(bead_rolled_panel(beads=0), SHOP)


@pytest.fixture(scope="module")
def channel():
    return make(folded_channel(), SHOP)


@pytest.fixture(scope="module")
def meshed(panel):
    return an.model_of(panel, 40.0)


def simply(**how):
    return [on.simple_edge(e, **how) for e in SIDES]


def shown(made, under):
    return Strength(part=made.part, under=under)


def about(model, f):
    """Force and moment of nodal forces about the origin."""
    return f[:, :3].sum(axis=0), np.cross(model.points, f[:, :3]).sum(axis=0)


def test_resultants(panel, meshed):
    m, model = meshed
    force, moment = about(model, ld.nodal(panel, m, model, [ld.Foot(at=(310, 170), force=500)]))
    assert force == pytest.approx([0, 0, -500], abs=1e-9)
    # Sampled 16 x 16 in each element of 40 mm: within a hundredth of an element.
    assert moment[0] / -500 == pytest.approx(170, abs=0.5)
    assert moment[1] / 500 == pytest.approx(310, abs=0.5)
    force, _ = about(model, ld.nodal(panel, m, model, [ld.Pressure(pressure=1e-3)]))
    assert force == pytest.approx([0, 0, -1e-3 * 800 * 400])
    force, moment = about(model, ld.nodal(panel, m, model, [ld.Acceleration(g=(3, 0, -2), riding=5.0)]))
    mass = 800 * 400 * 1.6 * 7850e-9 + 5
    assert force == pytest.approx([3 * mass * 9.80665, 0, -2 * mass * 9.80665])
    feet = [ld.Foot(at=at, force=400, size=(40, 40)) for at in ((200, 100), (600, 300))]
    force, _ = about(model, ld.nodal(panel, m, model, feet))
    assert force == pytest.approx([0, 0, -800])
    force, moment = about(model, ld.nodal(panel, m, model, [ld.Pull(newtons=(0, 7, 0), edge="right")]))
    assert force == pytest.approx([0, 7, 0])
    assert moment[2] == pytest.approx(7 * 800)


def test_reactions_balance_the_load(panel):
    r = an.static(panel, [*simply(), on.no_drift()], [ld.Foot(at=(250, 150), force=10)], size=40.0, compare=False)
    assert sum(x.force[2] for x in r.reactions) == pytest.approx(10, rel=1e-6)
    assert r.reactions[-1].force[:2] == (0.0, 0.0)
    assert "Held by: edge 'front' simply supported" in str(shown(panel, r))


def test_half_a_symmetric_panel_is_the_whole():
    whole = make(bead_rolled_panel(beads=0), SHOP)
    half = make(Part("HN-H", rev="A", sheet="DC01 1.6", base=Outline.rectangle(400, 400)), SHOP)
    load = [ld.Pressure(pressure=1e-5)]
    a = an.static(whole, [*simply(in_plane="held")], load, size=40.0, compare=False, large=False)
    held = [on.simple_edge(e, in_plane="held") for e in ("front", "rear", "left")]
    b = an.static(half, [*held, on.symmetry("right")], load, size=40.0, compare=False, large=False)
    assert b.deflection == pytest.approx(a.deflection, rel=1e-6)


def test_lip_lets_a_corner_lift():
    """A panel on a lip all round, loaded in the middle: its corners lift, so it bends more than when held both ways."""
    made = make(Part("HN-L", rev="A", sheet="DC01 1.6", base=Outline.rectangle(400, 400)), SHOP)
    load = [ld.Foot(at=(200, 200), force=10)]
    held = an.static(made, [*simply(), on.no_drift()], load, size=25.0, compare=False)
    lips = an.static(made, [*[on.lip(e) for e in SIDES], on.no_drift()], load, size=25.0, compare=False)
    assert lips.deflection > 1.02 * held.deflection
    assert sum(r.lifted for r in lips.reactions) > 0
    assert sum(r.force[2] for r in lips.reactions) == pytest.approx(10, rel=1e-6)
    assert min(r.force[2] for r in lips.reactions) >= -1e-6
    up = lips.displacement[lips.mesh.edges["base/front"], 2]
    assert up.min() > -1e-9
    assert up.max() > 1e-3
    # Exact value for a plate that cannot be pulled down: corner forces of the held plate, 0.1219 P each way
    # (Timoshenko, table 23 part: R = 0.1219 P for b/a = 1), must be gone.
    corner = held.mesh.points[:, :2].min(axis=0)
    assert lips.at((corner[0], corner[1], 0.8))[2] > 0


def test_corner_force_of_a_simply_supported_square():
    """R = 0.1219 P down at each corner (Timoshenko, plates, article 34 table 23; from memory)."""
    made = make(Part("HN-L", rev="A", sheet="DC01 1.6", base=Outline.rectangle(400, 400)), SHOP)
    m, model = an.model_of(made, 12.5)
    stops = on.on_mesh(made, m, [on.simple_edge(e, in_plane="held") for e in SIDES])
    f = np.zeros((len(m.points), 6))
    f[np.argmin(np.linalg.norm(m.points[:, :2] - 200, axis=1)), 2] = -1.0
    _, _, reaction, _ = contact.linear(model, stops, f)
    near = (np.abs(m.points[:, 0]) < 14) & (np.abs(m.points[:, 1]) < 14) & (np.abs(m.points[:, :2]).min(axis=1) < 1e-6)
    assert reaction[near, 2].sum() == pytest.approx(-0.1219, rel=0.12)


def test_plug_welds_and_bolts_hold(channel):
    r = an.static(channel, [on.bolts()], [ld.Pull(newtons=(0, 0, -5), edge="right")], size=10.0, compare=False)
    assert r.reactions[0].force[2] == pytest.approx(5, rel=1e-6)
    rim = np.concatenate(list(r.mesh.holes.values()))
    assert np.abs(r.displacement[rim, :3]).max() == 0.0
    with pytest.raises(UnknownName, match="bolts 1"):
        an.static(channel, [on.plug_welds()], [ld.Acceleration()], size=10.0)
    one = an.static(channel, [on.bolts("bolts 1")], [ld.Acceleration()], size=10.0, compare=False)
    assert one.deflection > 0


def test_plug_welds_that_were_given_no_names_all_hold():
    """The first of them is called as their use is; it must not stand for the others."""
    part = bead_rolled_panel(beads=0)
    for at in ((20, 20), (780, 20), (780, 380), (20, 380)):
        part = part.hole(at, 8, use="plug weld")
    m, _ = an.model_of(make(part, SHOP), 40.0)
    assert len(on.holes_named(m, "base", "plug weld", "support")) == 4
    assert len(on.holes_named(m, "base", "plug weld 2", "support")) == 1


@pytest.mark.parametrize(
    ("supports", "motions"),
    [
        (simply(), ("slide along x", "slide along y", "turn about z")),
        ([on.simple_edge("front", in_plane="held")], ("turn about x through",)),
        ([on.point((100, 100), stops=("normal", "along", "across"))], ("turn about x", "turn about y", "turn about z")),
    ],
)
def test_unsupported_says_which_motion_is_free(panel, supports, motions):
    with pytest.raises(BadValue) as error:
        an.static(panel, supports, [ld.Acceleration()], size=80.0)
    for m in motions:
        assert m in str(error.value)


def test_what_is_not_on_the_part_is_refused(panel):
    held = [*simply(in_plane="held")]
    with pytest.raises(UnknownName, match="front, left, rear, right"):
        an.static(panel, [on.clamped_edge("tunnel")], [ld.Acceleration()], size=80.0)
    with pytest.raises(BadValue, match=r"'foot' at.*x 0 to 800, y 0 to 400"):
        an.static(panel, held, [ld.Foot(at=(790, 200))], size=80.0)
    with pytest.raises(UnknownName, match="base"):
        an.static(panel, held, [ld.Foot(at=(300, 200), panel="lid")], size=80.0)
    with pytest.raises(BadValue, match="point on panel 'base'"):
        an.static(panel, [on.point((900, 900))], [ld.Acceleration()], size=80.0)
    with pytest.raises(BadValue, match="at least one load"):
        an.static(panel, held, [], size=80.0)
    with pytest.raises(BadValue, match="finite"):
        an.static(panel, held, [ld.Pressure(pressure=math.nan)], size=80.0)
    with pytest.raises(BadValue, match="either a hole or an edge"):
        ld.Pull(newtons=(0, 0, 1))


def test_linear_numbers_beyond_half_the_thickness_are_refused(panel):
    r = an.static(panel, simply(in_plane="held"), [ld.Foot(at=(400, 200))], size=50.0, large=False, compare=False)
    assert r.linear_deflection > 10
    assert not r.trusted
    for ask in (lambda: r.deflection, lambda: r.stress, lambda: r.at((0, 0, 0))):
        with pytest.raises(OutOfRange, match="ask for large displacements"):
            ask()
    view = shown(panel, r)
    assert view.fields == ()
    text = str(view) + view._repr_html_()
    assert "beyond linear theory" in text
    assert f"{r.linear_deflection:.3g}" not in text


def test_large_displacements_take_over_and_say_when_it_yields(panel):
    said = []
    r = an.static(
        panel, simply(in_plane="held"), [ld.Foot(at=(400, 200))], size=50.0, progress=lambda a, w: said.append((a, w))
    )
    assert r.large
    assert r.trusted
    assert r.deflection < 0.3 * r.linear_deflection
    assert r.yields
    assert "keeps a dent" in str(shown(panel, r))
    assert r.error is not None
    assert r.error[0] < 0.1
    assert [a for a, _ in said] == sorted(a for a, _ in said)
    assert said[-1] == (1.0, "done")
    view = shown(panel, r).field("stress, up side")
    assert view.points.shape == (len(r.mesh.points), 3)
    assert view.triangles.max() < len(view.points)
    assert view.high == pytest.approx(float(r.top.max()), rel=1e-6)
    under = shown(panel, r).field("stress, down side")
    assert (under.high, under.over) == (r.yield_stress, "yields")
    assert under.values.max() > under.high


def test_modes_with_cargo(panel):
    """Twice the mass, frequency down by the root of two."""
    bare = an.modes(panel, simply(in_plane="held"), count=2, size=50.0, compare=False)
    mass = 800 * 400 * 1.6 * 7850e-9
    laden = an.modes(panel, simply(in_plane="held"), count=2, size=50.0, compare=False, cargo=mass)
    assert laden.first == pytest.approx(bare.first / math.sqrt(2), rel=1e-3)
    said = str(Strength(part=panel.part, under=None, modes=laden))
    assert "kg ride" in said
    assert "no frequency is missing" in said


def test_buckling_of_a_part(panel):
    """Pressed along its length, simply supported: k = 4 with two half waves on b/a = 2."""
    held = [on.simple_edge(e) for e in SIDES]
    held += [on.point((400, 200), stops=("along", "across")), on.point((400, 0), stops=("along",))]
    loads = [ld.Pull(newtons=(-400, 0, 0), edge="right"), ld.Pull(newtons=(400, 0, 0), edge="left")]
    r = an.buckling(panel, held, loads, size=20.0)
    d = 205e3 * 1.6**3 / 12 / 0.91
    youngs = panel.sheet.material.youngs
    assert r.factor * 400 == pytest.approx(4 * math.pi**2 * d * youngs / 205e3 / 400, rel=0.02)
    with pytest.raises(BadValue, match="lip"):
        an.buckling(panel, [on.lip("front")], loads, size=50.0)


def test_stress_at_beads_is_told_to_read_low():
    """See the study in test_shell_ccx: worst where it peaks at a bead's foot or end."""
    beaded = make(bead_rolled_panel(beads=3), SHOP)
    r = an.static(beaded, [*simply(), on.no_drift()], [ld.Pressure(pressure=1e-5)], size=80.0, compare=False)
    assert any("may read a seventh low" in n for n in shown(beaded, r).notes())
    plain = make(bead_rolled_panel(beads=0), SHOP)
    r = an.static(plain, [*simply(), on.no_drift()], [ld.Pressure(pressure=1e-5)], size=80.0, compare=False)
    assert not any("seventh" in n for n in shown(plain, r).notes())


def test_contents_of_a_tray():
    """Water 30 mm deep in a pan: its weight on the bottom, rho g b h² / 2 outwards on each return, balance across."""
    made, _ = pc.pan()
    m, model = an.model_of(made, 10.0)
    water = ld.Contents(surface=(0.0, 0.0, 30.0), panels=("base",))
    force, _ = about(model, ld.nodal(made, m, model, [water]))
    area = made.panel("base").boundary.area - sum(h.loop.area for h in made.panel("base").holes)
    # The mid-surface lies 29.25 mm below; holes are polygons of 24 sides.
    assert force == pytest.approx([0, 0, -1e-6 * 9.80665 * 29.25 * area], rel=2e-3, abs=1e-9)
    whole = ld.Contents(surface=(0.0, 0.0, 10.0))
    force, _ = about(model, ld.nodal(made, m, model, [whole]))
    # Holes for bolts in the left return are the only thing that differs from the right one.
    assert abs(force[0]) < 0.02 * abs(force[2])
    assert abs(force[1]) < 1e-6 * abs(force[2])
    under = ld.Contents(surface=(0.0, 0.0, 30.0), panels=("base",), inside="down")
    assert about(model, ld.nodal(made, m, model, [under]))[0][2] == pytest.approx(
        1e-6 * 9.80665 * 29.25 * area, rel=2e-3
    )
    with pytest.raises(BadValue, match="above some of the wet panels"):
        ld.nodal(made, m, model, [ld.Contents(surface=(0.0, 0.0, -5.0), panels=("base",))])
    with pytest.raises(UnknownName, match="base"):
        ld.nodal(made, m, model, [ld.Contents(surface=(0.0, 0.0, 30.0), panels=("lid",))])
    with pytest.raises(BadValue, match="density"):
        ld.Contents(surface=(0.0, 0.0, 30.0), density=0.0)


def test_strap_pulls_at_its_end(channel):
    m, model = an.model_of(channel, 20.0)
    force, _ = about(model, ld.nodal(channel, m, model, [ld.strap(1000, (0, 3, 4), "bolts 2")]))
    assert force == pytest.approx([0, 600, 800])
    with pytest.raises(BadValue, match="does not push"):
        ld.strap(-1, (0, 0, 1), "bolts 2")
    with pytest.raises(BadValue, match="a direction"):
        ld.strap(1, (0, 0, 0), "bolts 2")


@pytest.mark.parametrize(
    ("call", "told"),
    [
        (lambda: on.point("corner"), "a pair of lengths"),
        (lambda: on.point((math.nan, 1.0)), "finite"),
        (lambda: on.point((1, 2, 3)), "a pair of lengths"),
        (lambda: ld.Foot(at=None), "x and y in mm"),
        (lambda: ld.Foot(at=(1, 1), size=10), "a length and a width"),
        (lambda: ld.Acceleration(g=(0, -1)), "three numbers"),
        (lambda: ld.Pull(hole="eye", newtons=(0, 1)), "three numbers"),
    ],
)
def test_a_vector_of_another_size_is_named_at_once(call, told):
    with pytest.raises(BadValue, match=told):
        call()


def test_no_load_no_metal_and_no_free_sheet_get_words():
    made = make(Part("HN-M", rev="A", sheet="DC01 1.5", base=Outline.rectangle(300, 200)).hole((150, 100), 60), SHOP)
    clamped, weight = [on.clamped_edge("left")], [ld.Acceleration()]
    wide = [*[on.lip(e, width=300.0) for e in ("front", "right", "rear", "left")], on.no_drift()]
    for supports, loads, told in (
        (clamped, [ld.Pressure(pressure=0.0)], "at least one that is not nought"),
        ([*clamped, on.point((150, 100))], weight, "a point on metal: this one is in 'cut-out'"),
        (wide, weight, "less than all of panel 'base'"),
    ):
        with pytest.raises(BadValue, match=told):
            an.static(made, supports, loads, size=80.0, compare=False)
    with pytest.raises(BadValue, match="joining: 'str'"):
        strength_of(made, joining="MIG")
