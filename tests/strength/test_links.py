"""Links of an assembly: rubber and straps that act on one side, hinges, latches, gas struts, all against statics."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import brentq

import tinbook as tb
from strategies import SHOP
from tinbook.calc.struts import GasStrut, Lid, lid_balance
from tinbook.errors import BadValue
from tinbook.part.assembly import Assembly
from tinbook.part.bought import block, gas_strut
from tinbook.part.links import Hinge, Laden, Latch, Rubber, Strap
from tinbook.part.movement import MovingStrut
from tinbook.space import frame_at
from tinbook.strength.assemblies.loads import Case
from tinbook.strength.assemblies.request import strength_of_assembly

G = 9.80665

# -- contact --------------------------------------------------------------------------------------

SIDE = 200.0
MASS = 40.0


def held(*cases: Case):
    """Two vertical straps of 500 N at the middles of two sides, each to the ground."""
    plate = tb.Part("HN-D1", sheet="S355 6.0", base=tb.Outline.rectangle(SIDE, SIDE))
    item = block("crate", (SIDE, SIDE, 200.0), mass=MASS)
    made = Assembly("HN-D").add("plate", plate).add("crate", item, frame_at((100, 100, 11.0)))
    made = made.linked(Rubber(a="crate", b="plate", thickness=5.0, hardness=60.0))
    given = {"a": "crate", "b": "ground", "tension": 500.0, "section": 60.0, "length": 300.0, "rated": 6000.0}
    made = made.linked(*(Strap(at=(x, 100.0, 211.0), end=(x, 100.0, 0.0), **given) for x in (0.0, SIDE)))
    return strength_of_assembly(
        tb.assemble(made, SHOP), "plate: clamped", list(cases), size=30.0, frequencies=0, up=(0, 0, 1)
    )


@pytest.fixture(scope="module")
def crate():
    """A block of 40 kg on 5 mm of rubber on a plate of 6 mm: at rest, thrown up, pushed gently and hard."""
    return held(
        Case(name="rest", g=(0, 0, -1)),
        Case(name="up", g=(0, 0, 15.0)),
        Case(name="gently", g=(0.1, 0, -1)),
        Case(name="hard", g=(5.0, 0, -1)),
    )


def test_straps_have_their_stated_tension_at_rest_and_rubber_bears_it(crate):
    # Statics: the rubber presses with the weight and both straps.
    said = " ".join(crate.remarks)
    assert f"crate on plate presses with {MASS * G + 1000:.4g} N" in said
    assert said.count("pulls with 500 N") == 2
    assert crate.results[0].loose == ()
    assert [x.kind for x in crate.results[0].links] == ["rubber", "strap", "strap"]


def test_a_crate_thrown_up_hangs_in_its_straps(crate):
    """Lifted with 15 g the rubber opens everywhere; each strap takes half of 15 g m: its stretch is its force over EA/L.

    To open, the straps must first be stretched by what the rubber was squeezed: 500 N + 0.05 mm x 41 kN/mm each, about 12 g.
    """
    rest, up = (float(r.displacement[-1, 2]) for r in crate.results[:2])
    each = 15 * MASS * G / 2
    assert up - rest == pytest.approx((each - 500.0) / (205e3 * 60 / 300), rel=0.01)
    rubber, one, other = crate.results[1].links
    assert (rubber.along, one.along, other.along) == pytest.approx((0.0, each, each), rel=1e-3)
    # Straps hold it; the factor of service loads on a rating of 6 kN.
    assert crate.results[1].link_use(one) == pytest.approx(1.5 * each / 6000, rel=1e-3)


def test_a_crate_pushed_hard_slides_and_one_pushed_gently_does_not(crate):
    gently, hard = crate.results[2:]
    assert gently.loose == ()
    assert gently.links[0].across == pytest.approx(0.1 * MASS * G, rel=1e-3)
    # 5 g x 40 kg = 1961 N against a grip of 0.3 x (40 g + 1000 N) = 418 N.
    assert any("slides, and nothing else holds it" in w for w in hard.loose)
    assert not hard.ok
    assert "no number" in crate.rows()[3][1]
    assert {f.code for f in crate.findings.stops} == {"contact.loose"}


def test_a_crate_that_slides_until_a_wall_stops_it():
    """A wall on one side: of 5 g it takes what the grip does not, 5 g m - 0.3 (m g + 1000 N)."""
    base = tb.Part("HN-D1", sheet="S355 6.0", base=tb.Outline.rectangle(SIDE, SIDE)).fold("right", "up", leg=60)
    item = block("crate", (SIDE - 30, SIDE, 200.0), mass=MASS)
    made = Assembly("HN-D").add("plate", base).add("crate", item, frame_at((SIDE / 2, SIDE / 2, 11.0)))
    wall = Rubber(a="crate", b="plate", panels=("right",), thickness=5.0, reach=15.0, grip=0.0)
    made = made.linked(Rubber(a="crate", b="plate", panels=("base",), thickness=5.0), wall)
    given = {"a": "crate", "b": "ground", "tension": 500.0, "section": 60.0, "length": 300.0}
    x0 = 15.0
    made = made.linked(*(Strap(at=(x, 100.0, 211.0), end=(x, 100.0, 0.0), **given) for x in (x0, SIDE - x0)))
    found = strength_of_assembly(
        tb.assemble(made, SHOP), "plate: clamped", Case(name="pushed", g=(5.0, 0, -1)), size=30.0, frequencies=0
    )
    floor, side = found.results[0].links[:2]
    assert found.results[0].turned == ()
    assert not floor.slides
    assert floor.across <= -0.3 * floor.along * 1.001
    assert -side.along + floor.across == pytest.approx(5 * MASS * G, rel=0.01)
    assert floor.across == pytest.approx(-0.3 * floor.along, rel=0.02)


# -- hinges, latches, struts ----------------------------------------------------------------------


def flap(*links, laden: float = 0.0):
    """A plate of 300 x 200 x 3 hinged along its rear edge (y = 200) to the ground by two hinges."""
    plate = tb.Part("HN-H1", sheet="DC01 3.0", base=tb.Outline.rectangle(300, 200))
    made = Assembly("HN-H").add("flap", plate)
    turns = [Hinge(a="flap", b="ground", at=(x, 200.0, 1.5), axis=(1, 0, 0), width=40.0) for x in (60.0, 240.0)]
    more = [Laden(a="flap", mass=laden)] if laden else []
    return tb.assemble(made.linked(*turns, *more, *links), SHOP)


FRONT = Latch(a="flap", at=(150.0, 0.0, 1.5), way=(0, 0, 1), rated=100.0)


def test_a_flap_hangs_between_its_hinges_and_its_latch():
    """Statics: the hinges and the latch at the front edge bear half the weight each; 6 kg with what lies on it."""
    found = strength_of_assembly(flap(FRONT, laden=6.0), load="own weight", size=25.0, frequencies=0)
    one, other, latch = found.results[0].links
    assert latch.along == pytest.approx(3 * G, rel=0.01)
    assert one.across + other.across == pytest.approx(3 * G, rel=0.01)
    assert found.results[0].link_use(latch) == pytest.approx(1.5 * 3 * G / 100, rel=0.01)
    assert [f.where.split(": ")[1] for f in found.findings.of("link.not_rated")] == [one.name, other.name]
    assert found.link_rows()[2][-1] == "44 % of 100 N"


def test_a_flap_without_a_latch_turns_about_its_line():
    with pytest.raises(BadValue, match=r"flap can move freely \(1 rigid motion\)"):
        strength_of_assembly(flap(), load="own weight", size=25.0)


def test_a_flap_on_a_strut_needs_a_hand_as_statics_has_it():
    """Opened by 30 degrees: the latch takes what the strut's moment about the hinge leaves of the weight's."""
    gas = GasStrut(force=60.0, extended=245.0, stroke=100.0)
    foot, top = (150.0, 190.0, -140.0), (150.0, 120.0, 1.5)
    long = math.dist(foot, top)
    made = flap(FRONT, laden=6.0).assembly
    z = tuple((q - p) / long for p, q in zip(top, foot, strict=True))
    item = gas_strut(60.0, 100.0, 245.0, length=long)
    made = made.add("strut", item, frame_at(top, (1.0, 0.0, 0.0), (0.0, z[2], -z[1])))
    link = MovingStrut(member="strut", strut=gas, length=long, a="flap", b="ground")
    made = made.linked(link)
    axis = ((0.0, 200.0, 1.5), (-1.0, 0.0, 0.0))
    made = made.turning("opens", ["flap"], about=axis, by=(0.0, 60.0), struts=[link]).posed("opens", 30.0)
    found = strength_of_assembly(tb.assemble(made, SHOP), load="own weight", size=25.0, frequencies=0)
    c, s = math.cos(math.radians(30)), math.sin(math.radians(30))
    lid = Lid(
        mass=6.0, centre=(100.0, 0.0), lid_joint=(80.0, 0.0), body_joint=(10.0, -141.5), handle=(200.0, 0.0), struts=1
    )
    # Half of the strut rides on the flap.
    riding = found.whole.lumps[0][2] * G * (80.0 * c) / 200.0
    by_hand = lid_balance(lid, gas, 30.0)
    latch, strut = found.results[0].links[-2:]
    assert -strut.along == pytest.approx(by_hand.strut_force, rel=0.01)
    assert latch.along == pytest.approx(by_hand.hand + riding, rel=0.02)
    assert made.links[-1].length == pytest.approx(by_hand.length, abs=1e-6)
    front = next(x for x in made.links if isinstance(x, Latch))
    assert front.way == pytest.approx((0.0, s, c))


def test_a_strip_that_bends_far_hangs_in_its_own_pull():
    """A strip between two clamps that bends by several thicknesses (Timoshenko and Woinowsky-Krieger, cylindrical bending).

    A beam under q with a pull S, w = w' = 0 at both ends a from the middle: w = A (cosh kx - cosh ka) + q (a² - x²) / 2S,
    k² = S / E I, A = q a / (S k sinh ka); the pull is what stretches the strip by half the integral of w'².
    """
    long, wide, t, youngs = 300.0, 20.0, 1.0, 210e3
    plate = tb.Part("HN-J1", sheet="DC01 1.0", base=tb.Outline.rectangle(long, wide))
    made = tb.assemble(Assembly("HN-J").add("strip", plate), SHOP)
    load = Case(name="60 g", g=(0.0, 0.0, -60.0))
    found = strength_of_assembly(made, "strip: clamped: left, right", load, size=6.0, frequencies=0).results[0]
    q, a, rigid = 60 * G * wide * t * 7.85e-6, long / 2, youngs * wide * t**3 / 12
    x = np.linspace(0.0, a, 2001)

    def shape(pull):
        k = math.sqrt(pull / rigid)
        amp = q * a / (pull * k * math.sinh(k * a))
        w = amp * (np.cosh(k * x) - math.cosh(k * a)) + q * (a * a - x * x) / (2 * pull)
        return w, amp * k * np.sinh(k * x) - q * x / pull

    pull = brentq(lambda s: np.trapezoid(shape(s)[1] ** 2, x) - s * long / (youngs * wide * t), 1.0, 1e5)
    assert found.departs > 0.3
    assert found.deflection == pytest.approx(shape(pull)[0][0], rel=0.02)


@pytest.mark.full
@pytest.mark.parametrize("opened", [0.0, 40.0])
def test_a_lid_on_struts_balances_as_statics_has_it(opened):
    """Hand at the handle against `lid_balance`, whose lid is stiff, with the mass and centre that this lid has."""
    whole = tb.families.lid_on_struts()
    whole = whole.posed("lid opens", opened) if opened else whole
    found = strength_of_assembly(tb.assemble(whole, SHOP), load="own weight", size=40.0, frequencies=0)
    moving = [m for m in found.whole.members if m.name == "lid" or " lid bracket" in m.name]
    nodes = np.concatenate([m.nodes for m in moving] + [[b.node] for b in found.whole.bodies])
    mass = found.whole.mass[nodes]
    hinge = next(x for x in whole.links if isinstance(x, Hinge))
    arm = float(mass @ (hinge.at[1] - found.whole.points[nodes, 1]))
    struts = [x for x in whole.links if hasattr(x, "strut")]
    ends = [(whole.member(x.member).at.origin, whole.member(x.member).at(0, 0, x.length)) for x in struts]
    # Both about the hinge's line: weight closes, struts open; the hand takes the rest at the front edge.
    closing = arm * G
    pushes = [x.along for x in found.results[0].links if x.kind == "strut"]
    opening = 0.0
    for push, (top, low) in zip(pushes, ends, strict=True):
        ry, rz = hinge.at[1] - top[1], top[2] - hinge.at[2]
        uy, uz = (low[1] - top[1]) / math.dist(top, low), (top[2] - low[2]) / math.dist(top, low)
        opening += -push * (ry * uz - rz * uy)
    latch = next(x for x in found.results[0].links if x.kind == "latch")
    front = next(x for x in whole.links if isinstance(x, Latch))
    far = math.hypot(hinge.at[1] - front.at[1], hinge.at[2] - front.at[2])
    assert latch.along == pytest.approx((closing - opening) / far, abs=0.3)
    assert found.results[0].turned == ()


def test_a_lid_that_nothing_holds_open_is_named():
    """Without a hand the gas springs alone must balance it; they are too soft to."""
    whole = tb.families.lid_on_struts(mass=20.0).posed("lid opens", 20.0)
    links = tuple(x for x in whole.links if not isinstance(x, Latch) and not hasattr(x, "strut"))
    strut = next(x for x in whole.links if hasattr(x, "strut"))
    bare = Assembly("HN-L")
    for m in whole.members:
        if m.name != "right strut":
            bare = bare.add(m.name, m.thing, m.at)
    made = tb.assemble(bare.linked(*links, strut), SHOP)
    found = strength_of_assembly(made, load="own weight", size=40.0, frequencies=0)
    assert any("not in balance" in w for w in found.results[0].loose)
    assert not found.ok


@pytest.mark.parametrize(
    ("kind", "given"),
    [
        (Rubber, {"thickness": 0}), (Rubber, {"a": ""}), (Rubber, {"hardness": 90}), (Rubber, {"thickness": math.nan}),
        (Rubber, {"panels": ("base", "base")}), (Strap, {"tension": -1.0}), (Strap, {"at": (0, 0)}),
        (Strap, {"end": (0.0, 0.0, 9.0)}), (Strap, {"section": math.inf}), (Strap, {"length": 0}),
        (Strap, {"at": (0, 0, math.nan)}), (Strap, {"at": None}), (Hinge, {"axis": (0, 0, 0)}), (Hinge, {"width": None}),
        (Hinge, {"at": "here"}), (Latch, {"way": (0, 0, 0)}), (Latch, {"rated": -3.0}), (Laden, {"mass": 0.0}),
        (Laden, {"a": 5}), (Laden, {"mass": "heavy"}),
    ],
)  # fmt: skip
def test_links_check_their_fields(kind, given):
    sound = {
        Rubber: {"a": "a", "b": "b", "thickness": 4},
        Strap: {"a": "a", "b": "ground", "at": (0, 0, 9), "end": (0, 0, 0), "tension": 10, "section": 10, "length": 9},
        Hinge: {"a": "a", "b": "b", "at": (0, 0, 0), "axis": (1, 0, 0), "width": 40},
        Latch: {"a": "a", "at": (0, 0, 0), "way": (0, 0, 1)},
        Laden: {"a": "a", "mass": 3.0},
    }[kind]
    kind(**sound)
    with pytest.raises(BadValue):
        kind(**{**sound, **given})
