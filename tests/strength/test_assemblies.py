"""Assemblies: forces that statics gives, stiffness by hand, contact that opens where it must, words where nothing holds."""

from __future__ import annotations

import math

import numpy as np
import pytest

import tinbook as tb
from strategies import SHOP
from tinbook.calc.fasteners import fastener_flexibility
from tinbook.errors import BadValue, CannotMake, UnknownName
from tinbook.part.assembly import Assembly
from tinbook.part.bought import block
from tinbook.part.links import Hinge, Laden, Latch, Rubber, Strap
from tinbook.space import frame_at
from tinbook.strength.assemblies.loads import Case, shaken
from tinbook.strength.assemblies.request import strength_of_assembly
from tinbook.strength.request import Cancelled

G = 9.80665


def strip(number: str, long: float, wide: float, sheet: str, holes: list[tuple[float, float]]) -> tb.Part:
    part = tb.Part(number, sheet=sheet, base=tb.Outline.rectangle(long, wide))
    for k, at in enumerate(holes, 1):
        part = part.hole(at, use="bolt", size="M8", name=f"bolt {k}")
    return part


@pytest.fixture(scope="module")
def lap():
    """Two strips of 3 mm under each other, three bolts M8 in a row 40 mm apart."""
    one = strip("HN-B1", 200, 40, "DC01 3.0", [(100 + 40 * k, 20) for k in range(3)])
    ends = [(180.0, 10.0), (180.0, 30.0)]
    two = strip("HN-B2", 200, 40, "DC01 3.0", [*((20 + 40 * k, 20) for k in range(3)), *ends])
    hook = block("hook", (20.0, 40.0, 10.0), holes=((0.0, -10.0), (0.0, 10.0)), dia=9.0, mass=0.6)
    made = Assembly("HN-B").add("low", one).add("high", two, frame_at((80.0, 0.0, 3.0)))
    return tb.assemble(made.add("hook", hook, frame_at((260.0, 20.0, 6.0))), SHOP)


def test_a_bolted_lap_shares_its_load_as_the_handbooks_have_it(lap):
    """Three bolts in a row between equal strips, one dimension (as NACA TN 1051 has it, from memory; worked out here).

    Between bolts 1 and 2 the strips carry F - P1 and P1, so (P1 - P2) / kf = (F - 2 P1) / kp; with P2 = F - 2 P1 the
    outer bolts carry F (1 + r) / (3 + 2 r), r = kf / kp, kp = E A / pitch.
    """
    force = 1000.0
    # Both strips held flat, as the hand sum has them: pulled in their plane, no bending.
    found = strength_of_assembly(
        lap, ["low: clamped: left", "low: simply supported: front, rear", "high: simply supported: front, rear"], Case(name="pull", pulls=(("hook", (force, 0, 0)),)),
        size=10.0, frequencies=0,
    )  # fmt: skip
    shares = [abs(u.joint.force[0]) for u in found.results[0].uses if u.joint.to == "high"]
    assert sum(shares) == pytest.approx(force, rel=1e-3)
    youngs = 210e3
    kf = 1 / fastener_flexibility(8.0, 3.0, 3.0, youngs, youngs, 205e3)
    r = kf / (youngs * 40 * 3 / 40)
    outer = (1 + r) / (3 + 2 * r)
    # Strips are wide beside a hole, and a single lap bends a little; the hand sum knows neither.
    assert [s / force for s in shares] == pytest.approx([outer, 1 - 2 * outer, outer], rel=0.08)


def test_a_mass_at_the_end_of_a_strip_swings_as_a_cantilever():
    """f = sqrt(3 E I / (m + 0.236 ms) L³) / 2 pi: a rigid block of 2 kg, 20 mm long, on a strip of 3 mm."""
    arm = strip("HN-B3", 260, 40, "DC01 3.0", [(240, 10), (240, 30)])
    mass = block("ballast", (20.0, 40.0, 20.0), holes=((0.0, -10.0), (0.0, 10.0)), dia=9.0, mass=2.0)
    made = tb.assemble(Assembly("HN-C").add("arm", arm).add("ballast", mass, frame_at((240.0, 20.0, 3.0))), SHOP)
    found = strength_of_assembly(made, "arm: clamped: left", Case(name="hangs", g=(0, 0, -1)), size=8.0, frequencies=1)
    inertia, strip_mass = 40 * 27 / 12, 40 * 3 * 260 * 7.85e-6
    m = (2.0 + 0.236 * strip_mass) * 1e-3
    # The bolts clamp a head's width of the arm; its centre of mass lies 10 mm over the sheet, which hardly matters.
    f = math.sqrt(3 * 210e3 * inertia / (m * 240.0**3)) / math.tau
    assert found.frequencies[0] == pytest.approx(f, rel=0.04)
    # The strip's own weight, w = q x² (6 L² - 4 L x + x²) / 24 E I at the block, and the block's.
    q, x = strip_mass * G / 260, 240.0
    own = q * x**2 * (6 * 260**2 - 4 * 260 * x + x**2) / (24 * 210e3 * inertia)
    down = 2.0 * G * x**3 / (3 * 210e3 * inertia) + own
    assert -found.results[0].displacement[-1, 2] == pytest.approx(down, rel=0.05)


@pytest.fixture(scope="module")
def cradle():
    return tb.assemble(tb.families.winch_cradle(), SHOP)


@pytest.fixture(scope="module")
def told() -> list[float]:
    return []


@pytest.fixture(scope="module")
def pulled(cradle, told):
    return strength_of_assembly(
        cradle, load="winch 20 kN", on="winch", fairlead="fairlead", size=35.0, frequencies=0,
        progress=lambda done, _: told.append(done),
    )  # fmt: skip


def test_the_rails_bolts_take_the_whole_pull(pulled):
    for r in pulled.results:
        total = np.sum([u.joint.force for u in r.uses if u.joint.to == "ground"], axis=0)
        rope = np.sum([f for _, f in r.case.pulls], axis=0)
        assert total == pytest.approx(-rope, abs=20.0)
    assert {u.joint.kind for u in pulled.results[0].uses} == {"seam", "bolt"}
    assert sum(u.joint.to == "winch" for u in pulled.results[0].uses) == 4


def test_an_assembly_shows_cases_joints_cautions_and_colours(pulled, told):
    html = pulled._repr_html_()
    assert "EN 1993-1-8" in html
    assert "reach several times" in html
    assert "licensed engineer" in str(pulled)
    assert told == sorted(told)
    assert (told[0], told[-1]) == (0.0, 1.0)
    field = pulled.field(pulled.fields[2])
    assert field.title.startswith("joints")
    assert pulled.picture.count("<circle") == len(pulled.results[0].uses)
    assert len(pulled.joint_rows()) == len(pulled.results[0].uses)
    assert pulled.findings
    with pytest.raises(UnknownName):
        pulled.field("colour")


def test_a_run_can_be_cancelled(cradle):
    def stop(done: float, word: str) -> None:
        if done > 0.4:
            raise Cancelled("enough")

    with pytest.raises(Cancelled):
        strength_of_assembly(cradle, load="own weight", size=40.0, progress=stop)


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


# -- road vibration -------------------------------------------------------------------------------


def test_road_vibration_is_three_times_miles_on_a_log_line():
    # Between (10, 0.1) and (1000, 0.001) the line on log scales is 1/f: 0.01 at 100 Hz; sqrt(pi/2 100 15 0.01) = 4.854 g.
    up, down = shaken(100.0, [(10, 0.1), (1000, 0.001)])
    assert up.g[2] == pytest.approx(3 * 4.854, rel=1e-3)
    assert down.g[2] == -up.g[2]
    assert "one resonance" in up.cautions[0]


@pytest.mark.parametrize(
    ("frequency", "spectrum"),
    [(5, [(10, 0.1), (100, 0.1)]), (50, [(10, 0.1)]), (50, [(100, 0.1), (10, 0.1)]), (50, [(10, 0), (100, 1)]), (50, [])],
)  # fmt: skip
def test_a_spectrum_is_checked(frequency, spectrum):
    with pytest.raises(BadValue):
        shaken(frequency, spectrum)


# -- words, never a number ------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("given", "error", "says"),
    [
        ({}, BadValue, "in the air"),
        ({"supports": "low"}, BadValue, "a member and how"),
        ({"supports": "roof: bolts"}, UnknownName, "low"),
        ({"supports": "low: bolts"}, BadValue, "nothing of the assembly"),
        ({"supports": "low: glue"}, UnknownName, "clamped"),
        ({"supports": "low: on a lip: left"}, BadValue, "hold both ways"),
        ({"supports": 5}, BadValue, "a member and how"),
        ({"load": "anvil"}, UnknownName, "own weight"),
        ({"load": "seat"}, CannotMake, "UN R17"),
        ({"load": "winch 4 kN"}, BadValue, "pulls at"),
        ({"load": []}, BadValue, "at least one"),
        ({"load": "own weight x lots"}, BadValue, "factor"),
        ({"load": Case(name="x", pulls=(("roof", (1, 0, 0)),))}, UnknownName, "high"),
        ({"frequencies": -1}, BadValue, "0 to 20"),
        ({"size": 0.0}, BadValue, "size"),
        ({"joining": "8.8"}, BadValue, "Joining"),
        ({"temperature": 200.0}, BadValue, "temperature"),
        ({"temperature": None}, BadValue, "temperature"),
        ({"up": (1, 0, 0), "forward": (1, 0, 0)}, BadValue, "square to forward"),
        ({"made": "lap"}, BadValue, "assemble"),
    ],
)
def test_bad_requests(lap, given, error, says):
    wanted = {"made": lap, "supports": "low: clamped: left", "size": 20.0, **given}
    if not given:
        wanted["supports"] = None
    with pytest.raises(error, match=says):
        strength_of_assembly(**wanted)


def test_a_member_that_nothing_holds_is_named():
    plate = tb.Part("HN-E1", sheet="DC01 2.0", base=tb.Outline.rectangle(100, 60))
    loose = tb.Part("HN-E2", sheet="DC01 2.0", base=tb.Outline.rectangle(50, 50))
    made = tb.assemble(Assembly("HN-E").add("plate", plate).add("flap", loose, frame_at((0, 0, 30.0))), SHOP)
    with pytest.raises(BadValue, match="flap can move freely"):
        strength_of_assembly(made, "plate: clamped: left", "own weight", size=20.0)


def test_a_flap_on_one_bolt_turns_about_it():
    plate = strip("HN-F1", 100, 60, "DC01 2.0", [(50, 30)])
    flap = strip("HN-F2", 80, 40, "DC01 2.0", [(40, 20)])
    made = tb.assemble(Assembly("HN-F").add("plate", plate).add("flap", flap, frame_at((10.0, 10.0, 2.0))), SHOP)
    with pytest.raises(BadValue, match=r"flap can move freely \(1 rigid motion\)"):
        strength_of_assembly(made, "plate: clamped: left", "own weight", size=20.0)


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


@pytest.mark.parametrize(
    ("link", "says"),
    [
        (None, "a Hinge"), ("glue", "a Hinge"), (Latch(a="roof", at=(0, 0, 0), way=(0, 0, 1)), "low"),
        (Latch(a="low", b="low", at=(0, 0, 0), way=(0, 0, 1)), "two different"),
        (Latch(a="ground", b="low", at=(0, 0, 0), way=(0, 0, 1)), "two different"),
    ],
)  # fmt: skip
def test_links_are_between_members(lap, link, says):
    with pytest.raises(BadValue, match=says):
        lap.assembly.linked(link)


@pytest.mark.parametrize(
    ("link", "says"),
    [
        (Rubber(a="low", b="high", thickness=4), "bought item"), (Rubber(a="hook", b="hook ", thickness=4), "low"),
        (Rubber(a="hook", b="low", thickness=4), "within 10 mm"),
        (Latch(a="low", at=(0, 0, 900), way=(0, 0, 1)), "within 30 mm"),
        (Latch(a="low", at=(0, 0, 0), way=(0, 0, 1), holes=("slot",)), "bolt 1"), (Laden(a="low", mass=0.01), "weighs"),
    ],
)  # fmt: skip
def test_links_that_do_not_meet_their_members(lap, link, says):
    with pytest.raises(BadValue, match=says):
        strength_of_assembly(
            tb.assemble(lap.assembly.linked(link), SHOP), "low: clamped: left", "own weight", size=20.0, frequencies=0
        )


@pytest.mark.full
def test_twenty_eight_members_in_twenty_seconds_of_cpu():
    import time

    plate = tb.Part("HN-G1", sheet="DC01 2.0", base=tb.Outline.rectangle(1400, 700))
    rib = tb.Part("HN-G2", sheet="DC01 2.0", base=tb.Outline.rectangle(600, 40))
    made = Assembly("HN-G").add("plate", plate)
    for k in range(27):
        made = made.add(f"rib {k}", rib, frame_at((30.0 + 50 * k, 50.0, 2.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)))
        made = made.weld("plate", f"rib {k}", throat=1.5)
    made = tb.assemble(made, SHOP)
    start = time.process_time()
    found = strength_of_assembly(made, "plate: clamped", "tank")
    assert time.process_time() - start < 20.0
    assert len(found.results) == 6
