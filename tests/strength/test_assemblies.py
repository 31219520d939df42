"""Assemblies: forces that statics gives, stiffness by hand, contact that opens where it must, words where nothing holds."""

from __future__ import annotations

import math

import numpy as np
import pytest

import tinbook as tb
from strategies import SHOP
from tinbook.calc.fasteners import fastener_flexibility, seam_stiffness
from tinbook.errors import BadValue, CannotMake, UnknownName
from tinbook.part.assembly import Assembly
from tinbook.part.bought import block
from tinbook.part.links import Laden, Latch, Rubber
from tinbook.space import frame_at
from tinbook.strength.assemblies.connect import connections
from tinbook.strength.assemblies.loads import Case, shaken
from tinbook.strength.assemblies.request import strength_of_assembly
from tinbook.strength.assemblies.whole import whole_of
from tinbook.strength.joints.rules import Joining
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
    """Three bolts in a row between equal strips, one dimension: an independent derivation, as no published numbers were reached.

    NACA TN 1051 (Tate and Rosenfeld 1946) tests such joints; its summary was read, of its tables nothing.

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
    assert pulled.picture._repr_png_()[0].startswith(b"\x89PNG")
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
        ({"load": "bucket seat 20 kg"}, CannotMake, "UN R14"),
        ({"load": "seatbelt"}, CannotMake, "UN R14"),
        ({"size": "nan"}, BadValue, "mesh size"),
        ({"size": True}, BadValue, "mesh size"),
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


def test_a_seat_on_a_floor_gets_the_names_of_the_laws():
    floor = tb.Part("HN-SF", sheet="DC01 1.5", base=tb.Outline.rectangle(300, 200))
    seat = block("driver's seat", (200.0, 150.0, 300.0), mass=18.0)
    made = tb.assemble(Assembly("HN-SF").add("floor", floor).add("left one", seat, frame_at((150.0, 100.0, 1.5))), SHOP)
    with pytest.raises(CannotMake, match="UN R17"):
        strength_of_assembly(made, "floor: clamped", "own weight")
    with pytest.raises(CannotMake, match="UN R17"):
        Case(name="seat, 20 g", g=(20, 0, 0))


@pytest.mark.parametrize(
    ("g", "says"), [((0, 0, 3.0), "lifts off or tips over"), ((3.0, 0, -1.0), "tips over"), ((0, 0, -3.0), "")]
)
def test_a_tank_without_straps_that_leaves_its_rubber_has_no_number(g, says):
    """5 kg, 80 mm wide, its centre 30 mm over the rubber: at 3 g sideways 147 N x 30 mm is more than 49 N x 40 mm."""
    plate = tb.Part("HN-UP", sheet="DC01 2.0", base=tb.Outline.rectangle(200, 100))
    tank = block("tank", (80.0, 60.0, 60.0), mass=5.0)
    whole = Assembly("HN-UP").add("plate", plate).add("tank", tank, frame_at((100.0, 50.0, 6.0)))
    made = tb.assemble(whole.linked(Rubber(a="tank", b="plate", thickness=4.0, reach=4.5, grip=1.0)), SHOP)
    case = Case(name="thrown", g=g)
    (r,) = strength_of_assembly(made, "plate: clamped: left, right", case, size=25.0, frequencies=0).results
    assert r.answered == (not says)
    assert says in r.bends


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
        (Rubber(a="hook", b="high", thickness=4, panels=("lid",)), "lid"), (Rubber(a="hook", b="hook ", thickness=4), "low"),
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


def test_a_weld_of_plugs_is_no_seam_round_them():
    """Families declare the throat of plug welds as a weld; the edges of such a sheet only lie on the other."""
    plate = tb.Part("HN-P1", sheet="DC01 1.5", base=tb.Outline.rectangle(160, 60))
    strap = tb.Part("HN-P2", sheet="DC01 1.5", base=tb.Outline.rectangle(100, 30))
    for k, x in enumerate((20, 80), 1):
        strap = strap.hole((x, 15), dia=8, use="plug weld", name=f"plug {k}")
    whole = Assembly("HN-P").add("plate", plate).add("strap", strap, frame_at((30.0, 15.0, 1.5)))
    kinds = {}
    for length in (None, 30.0):
        made = tb.assemble(whole.weld("plate", "strap", throat=1.5, length=length), SHOP)
        found = strength_of_assembly(made, "plate: clamped: left", "own weight", size=15.0, frequencies=0)
        kinds[length] = {u.joint.kind for u in found.results[0].uses}
    assert kinds == {None: {"plug weld"}, 30.0: {"plug weld", "seam"}}


def test_a_riveted_lap_is_held_against_the_standard_of_its_rivets():
    """Two rivets of 4.8 mm in line share 1 kN: 1000 x 1.25 x 1.5 / 2900 N by ISO 15979 together, what each carries its part."""
    laps = []
    for number, xs in (("HN-R1", (80.0, 100.0)), ("HN-R2", (20.0, 40.0))):
        part = tb.Part(number, sheet="DC01 1.5", base=tb.Outline.rectangle(120, 40))
        for k, x in enumerate(xs, 1):
            part = part.hole((x, 20), use="rivet", size="4.8", name=f"rivet {k}")
        laps.append(part)
    whole = Assembly("HN-R").add("low", laps[0]).add("high", laps[1], frame_at((60.0, 0.0, 1.5)))
    made = tb.assemble(whole, SHOP)
    assert {h.dia for p in made.made_of("low").panels for h in p.holes} == {4.9}
    asked = made, "low: clamped: left", Case(name="pull", pulls=(("high", (1000.0, 0, 0)),))
    told = strength_of_assembly(*asked, size=15.0, frequencies=0)
    assert told.results[0].joints == "none of 2 proved"
    assert "Joining(rivets=" in told.results[0].uses[0].by
    found = strength_of_assembly(*asked, size=15.0, frequencies=0, joining=Joining(rivets="ISO 15979")).results[0]
    assert sum(u.joint.shear for u in found.uses) == pytest.approx(1000.0, rel=0.01)
    assert sum(u.use for u in found.uses) == pytest.approx(1000 * 1.25 * 1.5 / 2900, rel=0.01)
    assert "ISO 15979" in found.uses[0].by


@pytest.mark.full
def test_a_floor_with_tunnel_and_braces_is_answered():
    """Forces on what the pan is welded to balance its load; braces and tunnel carry by their plugs alone."""
    corners = [(0, 0), (0, -900), (1100, -900), (1100, 0)]
    opening = tb.Outline.polygon(corners, ["left", "front", "right", "rear"])
    pan = tb.families.floor_pan(opening, fold=None, beads=0, tack_screws=0, number="HN-FT1")
    size = {"crown_front": 200, "crown_rear": 200, "height_front": 150, "height_rear": 150}
    over = tb.families.tunnel(length=800, number="HN-FT2", **size)
    whole = Assembly("HN-FT").add("pan", pan).add("tunnel", over, frame_at((550.0, -450.0, 150.0)))
    whole = whole.weld("pan", "tunnel", throat=1.5)
    made, brace = tb.make(pan, SHOP), tb.make(tb.families.floor_brace(900, number="HN-FT3"), SHOP)
    for k, y in enumerate((-200.0, -700.0), 1):
        whole = tb.families.braced(whole, made, brace, 100.0, y, f"brace {k}")
    load = Case(name="load on the floor", pulls=(("pan", (0, 0, -500.0)),))
    found = strength_of_assembly(tb.assemble(whole, SHOP), "pan: plug welds", load, frequencies=2)
    r = found.results[0]
    assert {u.joint.kind for u in r.uses} == {"plug weld"}
    onto = np.sum([u.joint.force for u in r.uses if u.joint.to == "ground"], axis=0)
    assert onto == pytest.approx([0.0, 0.0, 500.0], abs=1.0)
    assert r.answered
    assert 5.0 < found.frequencies[0] < 100.0


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


@pytest.mark.parametrize(
    ("sides", "length", "metal"),
    [
        ("both", None, 400.0),
        ("both", 100.0, 200.0),
        ("both", 450.0, 400.0),
        ("one", None, 200.0),
        ("one", 80.0, 80.0),
        ("all round", 200.0, 200.0),
    ],
)
def test_a_seam_is_as_stiff_as_the_length_of_weld_that_is_stated_on_its_sides(sides, length, metal):
    """A rib of 200 mm on a plate: what is stated is the length on each side, or of the ring, and never more than there is."""
    plate = tb.Part("HN-B4", sheet="DC01 3.0", base=tb.Outline.rectangle(200, 100))
    rib = tb.Part("HN-B5", sheet="DC01 3.0", base=tb.Outline.rectangle(200, 60))
    stands = frame_at((0.0, 50.0, 3.0), (1.0, 0.0, 0.0), (0.0, 0.0, 1.0))
    made = Assembly("HN-D").add("plate", plate).add("rib", rib, stands)
    made = tb.assemble(made.weld("plate", "rib", throat=2.0, length=length, sides=sides), SHOP)
    seams, _ = connections(made, whole_of(made, 20.0, lambda *_: None))
    per, _ = seam_stiffness(210e3, 2.0)
    stiff = sum(spring.stiffness[0] for seam in seams for spring in seam.springs)
    assert stiff == pytest.approx(per * metal, rel=1e-6)
