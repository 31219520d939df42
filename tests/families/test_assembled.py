"""Kinds of part put together: every assembly's metal, axes and welds, what moves, what is bought, braces under beads."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import cadquery
import pytest

import tinbook as tb
from tinbook.errors import BadValue
from tinbook.families.floor_braces import Notch, brace_frame
from tinbook.families.lid_struts import STUD_AT
from tinbook.families.strapped_tanks import BAND, fork_depth
from tinbook.making.assembled import Assembled, assemble
from tinbook.part.assembly import Assembly
from tinbook.part.bought import block, gas_strut
from tinbook.part.fasteners import butt_hinge, clevis_pin, t_bolt
from tinbook.rules.check import check
from tinbook.space import dot, frame_at, plus

SHOP = tb.Shop.demo()
OPENING = tb.Outline.polygon(
    [(0, 0), (0, -420), (830, -420), (900, -350), (900, 0)], ["front", "sill", "clip", "rear", "tunnel"]
)


def sound(made: Assembled, welds: int) -> None:
    """No common volume, holes on their axes, welded members in touch."""
    found = check(made)
    assert [str(f) for f in found.stops] == []
    assert max(p.common for p in made.pairs) < 0.05
    assert all(m.offset <= 0.05 for m in made.matings)
    assert [f.severity for f in found.of("assembly.weld_gap")] == ["fine"] * welds


def solid(made: Assembled, name: str) -> Any:
    return cadquery.Shape.cast(made.shape(name))


# --- tank --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "values",
    [
        {},
        {"tank_width": 700, "tank_height": 420, "tank_corner": 90, "pin": 18, "stud": "M12", "strap_width": 50},
        {"tank_width": 340, "tank_height": 220, "tank_corner": 40, "pin": 9, "stud": "M6", "tank_length": 600, "spacing": 320},
    ],
)  # fmt: skip
def test_a_tank_under_its_straps(values: dict[str, Any]) -> None:
    whole = tb.families.strapped_tank(**values)
    made = assemble(whole, SHOP)
    sound(made, 4)
    listed = {r.number.split()[0]: r.quantity for r in tb.write.parts_list(made)}
    assert (listed["T-bolt"], listed["clevis"], listed["hexagon"], listed["plain"]) == (2, 2, 4, 2)
    for end in ("front", "rear"):
        strap, tank = solid(made, f"{end} strap"), solid(made, "tank")
        assert strap.distance(tank) == pytest.approx(BAND, abs=1e-6)
        # Cross-pin and pin lie in the eyes with their quarter of a millimetre.
        for held in ("T-bolt", "pin"):
            assert 0.1 < strap.distance(solid(made, f"{end} {held}")) < 0.3
        for hung in ("strap", "pin"):
            assert solid(made, f"{end} {hung}").distance(solid(made, f"{end} cradle")) > 0.2
        assert made.gap(f"{end} washer", f"{end} stud fork") < 1e-6
        assert made.gap(f"{end} nut", f"{end} washer") < 1e-6


def test_a_stud_has_way_to_tighten_by() -> None:
    """From the eye's underside to the fork's bottom, in the solids, against what tank, liner and strap want."""
    made = assemble(tb.families.strapped_tank(), SHOP)
    strap, fork = solid(made, "front strap"), solid(made, "front stud fork")
    low = strap.BoundingBox().zmin
    bottom = fork.BoundingBox().zmin + 5.0
    pin = fork_depth(12, 2.0, 5.0)
    assert low - bottom == pytest.approx(pin + 30 - 5 - 6.25 - 2, abs=1e-6)
    strap_made = made.part("STRAPPED-TANK-2")
    pull = tb.families.strap_tightening(
        2500, length=strap_made.flat.size[0], width=40, thickness=2, pin=12, stress_area=36.6, stud=8,
        thread=low - bottom, liner=4, radius=63, tank_tolerance=2, slot=9,
    )  # fmt: skip
    assert pull.ok
    assert pull.needed < pull.thread


@pytest.mark.parametrize("values", [{}, {"stud": "M12", "pin": 18, "width": 60, "liner": 5, "below": 60}])
def test_a_strap_hangs_in_its_bolt(values: dict[str, Any]) -> None:
    made = assemble(tb.families.strap_and_bolt(**values), SHOP)
    sound(made, 0)
    for held in ("T-bolt", "pin"):
        assert 0.1 < solid(made, "strap").distance(solid(made, held)) < 0.3
    assert made.gap("nut", "washer") < 1e-6
    assert made.gap("lock nut", "nut") < 1e-6


@pytest.mark.parametrize("pin_stud", [(12, "M8"), (9, "M6"), (20, "M10"), (18, "M12")])
def test_the_stud_leaves_the_eye_through_its_slot(pin_stud: tuple[float, str]) -> None:
    """The stud passes, tilted by four degrees too; without the slot it would share metal with the eye."""
    pin, stud = pin_stud
    t, wide = 2.0, 50.0
    where, _ = tb.families.pin_places(420, 3, 60, pin, "DC01 2.0")
    bolt = t_bolt(stud, pin, wide, 80.0)

    def common(slot: str, tilt: float) -> float:
        strap = tb.families.tank_strap(below=60, width=wide, pin=pin, stud=slot)  # type: ignore[arg-type]
        a = math.radians(tilt)
        at = frame_at((where[0], 0.0, where[1] - 323.0), (0.0, 1.0, 0.0), (-math.cos(a), 0.0, -math.sin(a)))
        made = assemble(Assembly("X").add("strap", strap).add("bolt", bolt, at), SHOP)
        return made.pairs[0].common

    assert all(common(stud, tilt) < 1e-6 for tilt in (-4.0, 0.0, 4.0))
    assert common("none", 0.0) > stud_section(stud) * t


def stud_section(stud: str) -> float:
    return math.pi / 4 * float(stud[1:]) ** 2


def test_bad_studs_and_pins_are_named() -> None:
    for call, says in (
        (lambda: t_bolt("M8", 11, 40, 60), "T-bolt pin.*at least 12"),
        (lambda: t_bolt("M8", 12, 10, 60), "T-bolt across.*at least 16"),
        (lambda: t_bolt("M8", 12, 40, 4), "T-bolt length.*more than 4.5"),
        (lambda: clevis_pin(0, 10), "clevis pin dia"),
        (lambda: tb.families.tank_strap(pin=10), "tank_strap pin.*stud M8; nearest 12"),
        (lambda: tb.families.tank_strap(width=20), "tank_strap width.*nearest 21"),
        (lambda: tb.families.strap_fork(pin=9), "strap_fork pin.*nearest 12"),
        (lambda: tb.families.strapped_tank(spacing=900), "strapped_tank spacing.*nearest 870"),
    ):
        with pytest.raises(BadValue, match=says):
            call()


def test_bought_pins_weigh_what_they_hold() -> None:
    """A T-bolt is its cross-pin and the stud from where it enters; closed forms."""
    bolt = t_bolt("M8", 12, 40, 70)
    enters = math.sqrt(6**2 - 4**2)
    segment = 6**2 * math.asin(4 / 6) - 4 * enters  # of the pin's section under the flat
    volume = math.pi * 36 * 40 - segment * 8 + math.pi * 16 * (70 - enters)
    assert bolt.mass == pytest.approx(volume * 7850e-9, rel=1e-9)
    assert "60" in clevis_pin(12, 46).name  # 46 + 12, to the next 5


# --- lid ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("opened", [0, 40, 75])
def test_a_lid_on_its_struts(opened: float) -> None:
    made = assemble(tb.families.lid_on_struts(opened=opened), SHOP)
    sound(made, 0)
    listed = {r.number: r.quantity for r in tb.write.parts_list(made)}
    assert listed["gas strut 100 N, stroke 100, 245 between eyes"] == 2
    assert (listed["LID-ON-STRUTS-2"], listed["ball stud M8"]) == (4, 4)
    # Every strut's eyes turn on their ball studs: axes agree in the solids.
    for hand in ("left", "right"):
        for stud in ("lid", "frame"):
            axis = made.assembly.member(f"{hand} {stud} ball stud").at
            eyes = [b for b in made.bores(f"{hand} strut") if abs(b.dia - 8.4) < 1e-6]
            off = min(_off(b.at, b.axis, axis.origin) for b in eyes)
            assert off < 0.05
            assert all(abs(abs(dot(b.axis, axis.z)) - 1) < 1e-9 for b in eyes)


def _off(at: Any, axis: Any, p: Any) -> float:
    d = plus(p, at, -1.0)
    return math.sqrt(max(dot(d, d) - dot(d, axis) ** 2, 0.0))


def test_struts_are_as_long_as_the_statics_say() -> None:
    """The distance of the joints from plane trigonometry, that of the eyes from the assembly; opened from 0 to 75."""
    for opened in (0.0, 30.0, 75.0):
        a = math.radians(opened)
        u, v = 180.0, -(STUD_AT + 1.0 + 4.0)
        long = math.hypot(math.cos(a) * u - math.sin(a) * v - 20, math.sin(a) * u + math.cos(a) * v + 60)
        made = tb.families.lid_on_struts(opened=opened)
        strut = made.member("left strut").thing
        assert strut.pieces[-1].at.origin[2] == pytest.approx(long, abs=1e-9)  # type: ignore[union-attr]
    lid = tb.families.lid_geometry(450, 25, 180, 7.0, (20, -60))
    assert lid.lid_joint == (180.0, -31.0)


def test_the_lid_opens_without_running_into_anything() -> None:
    (fine,) = tb.fit.clashes_through(lambda a: tb.families.lid_on_struts(opened=a), SHOP, range(0, 76, 5))
    assert (fine.severity, fine.value) == ("fine", 0.0)
    assert "16 positions" in fine.where


def test_what_runs_into_something_is_named_with_its_position() -> None:
    """A post over the lid's front, from 100 mm above it: the lid comes up to it at atan(100 / 400) = 14 degrees."""
    post = block("post", (40.0, 40.0, 300.0))

    def at(angle: float) -> Assembly:
        return tb.families.lid_on_struts(opened=angle).add("post", post, frame_at((350.0, 50.0, 100.0)))

    found = tb.fit.clashes_through(at, SHOP, (0, 10, 20, 30))
    assert [(f.severity, f.where) for f in found] == [("stop", "lid and post")]
    assert "first at 20 degrees" in found[0].what
    assert found[0].value > 1000.0  # type: ignore[operator]
    with pytest.raises(BadValue, match="places"):
        tb.fit.clashes_through(at, SHOP, ())


def test_bad_lids_are_named() -> None:
    for call, says in (
        (lambda: tb.families.lid_on_struts(opened=80), "opened.*nearest 75"),
        (lambda: tb.families.lid_on_struts(width=300, strut_at=250), "strut_at.*nearest 220"),
        (lambda: tb.families.lid_on_struts(strut_at=150, frame_along=100), "strut_at.*160 to 370"),
        (
            lambda: tb.families.lid_on_struts(strut_at=350, frame_below=300, width=800, opening=100),
            "strut_at.*usual strut",
        ),
        (lambda: gas_strut(300, 100, 300, length=150), "gas strut length.*200 to 300"),
        (lambda: butt_hinge(width=30), "hinge width.*at least 50"),
    ):
        with pytest.raises(BadValue, match=says):
            call()


# --- screws of a pattern -----------------------------------------------------------------------------------------


def test_a_screwed_lid_counts_its_screws_and_fits() -> None:
    holes = tb.families.bolting(130, 300, 30, 75)
    tunnel = tb.families.lid_opening(tb.families.tunnel(), holes, at="450 mm")
    t = 1.5
    seat = frame_at((0.0, tunnel.base.edge("front").start[1] + 450, t))
    whole = Assembly("HN-TA").add("tunnel", tunnel)
    whole = whole.add("gasket", tb.families.fitted_gasket(tb.families.gasket(holes, 4.0), 2.6), seat)
    whole = whole.add("lid", tb.families.tunnel_lid(holes), seat.moved((0.0, 0.0, 2.6)))
    made = assemble(tb.families.screwed(whole, holes, seat, seat=t, lid=2.0, gap=2.6), SHOP)
    sound(made, 0)
    listed = {r.number: r.quantity for r in tb.write.parts_list(made)}
    n = len(holes.points)
    assert [q for name, q in listed.items() if "M5" in name] == [n, n, n]
    assert len(made.matings) >= 6 * n  # tunnel, gasket, lid, insert and washer in pairs
    for i in range(1, n + 1):
        assert made.gap(f"screw {i} washer", "lid") < 1e-9
        assert made.gap(f"screw {i} insert", "tunnel") < 1e-9


def test_a_pattern_drilled_one_tenth_off_is_found() -> None:
    holes = tb.families.bolting(130, 300, 30, 75)
    lid = tb.families.tunnel_lid(holes, lip=0)
    moved = replace(lid, holes=(replace(lid.holes[0], centre=plus_xy(lid.holes[0].centre, 0.1)), *lid.holes[1:]))
    seat = tb.Part("HN-SE", sheet="DC01 1.5", base=tb.Outline.rectangle(240, 400).moved(-120, -200))
    for i, p in enumerate(holes.points):
        seat = seat.hole(p, use="nut insert", size="M5", name=f"insert {i + 1}")
    made = assemble(Assembly("X").add("seat", seat).add("lid", moved, frame_at((0.0, 0.0, 1.5))), SHOP)
    (stop,) = [f for f in check(made).of("assembly.mating") if f.severity == "stop"]
    assert stop.value == pytest.approx(0.1, abs=1e-6)


def plus_xy(p: Any, by: float) -> tuple[float, float]:
    return p[0] + by, p[1]


# --- braces ------------------------------------------------------------------------------------------------------


def _pan(direction: Any, slant: float = 0.0) -> tb.Part:
    pan, _ = tb.families.floor_pan_pair(OPENING, beads=5, bead_side=direction)
    (bead,) = pan.beads
    (x0, y0), (x1, y1) = bead.path
    return replace(pan, forms=(replace(bead, path=((x0, y0), (x1 + slant, y1))), *pan.texts, *pan.etches))


@pytest.mark.parametrize(("direction", "slant"), [("up", 0.0), ("down", 0.0), ("down", 60.0)])
def test_a_brace_follows_the_pan_s_beads(direction: str, slant: float) -> None:
    """In the solids: it touches the pan's underside, shares no metal with it, and stands off each bead."""
    pan = tb.make(_pan(direction, slant), SHOP)
    notches = tb.families.notches_of(pan, 60, 780, -210)
    assert len(notches) == (5 if direction == "down" else 0)
    flats = tb.families.flats_of(pan.part, 60, 780, -210, clear=30)
    brace = tb.make(tb.families.floor_brace(780, flats=flats, notches=notches), SHOP)
    assert tb.check(brace, SHOP, kind="live").ok  # on the folder no order folds a hat
    found = tb.families.brace_findings(pan, brace, 60, -210)
    assert {(f.code, f.severity) for f in found} == {("brace.bead", "fine"), ("brace.weld", "fine")}
    whole = tb.families.braced(Assembly("HN-FB").add("pan", pan.part), pan, brace, 60, -210)
    assert [w.throat for w in whole.welds] == [1.5]
    with pytest.raises(BadValue, match="pan"):
        tb.families.braced(Assembly("HN-FB"), pan, brace, 60, -210)
    sound(assemble(whole, SHOP), 1)
    welds = sum(h.use == "plug weld" for p in brace.panels for h in p.holes)
    assert welds == 2 * len(flats)


def test_a_brace_across_a_bead_that_stands_out_toward_it_is_stopped() -> None:
    pan = tb.make(_pan("down"), SHOP)
    plain = tb.make(tb.families.floor_brace(780, flats=(90.0, 165.0)), SHOP)
    found = tb.families.brace_findings(pan, plain, 60, -210)
    assert [f.code for f in found if f.severity == "stop"].count("brace.bead") == 2 * 5
    assert [(f.where, f.value) for f in found if f.code == "brace.weld" and f.severity == "stop"] == [
        ("near weld 1", 0.0),
        ("far weld 1", 0.0),
    ]
    at = brace_frame(plain, 60, -210)
    made = assemble(Assembly("X").add("pan", pan.part).add("brace", plain.part, at), SHOP)
    assert made.pairs[0].common > 100


def test_a_seat_s_plate_under_beads_that_stand_up() -> None:
    """It spans their grooves: no clash; a weld over a groove is found."""
    pan = tb.make(_pan("up"), SHOP)
    plate = tb.make(tb.families.reinforcement_plate(180, 120), SHOP)
    places = {x: {f.code: f.severity for f in tb.families.brace_findings(pan, plate, x, -210)} for x in (60, 140)}
    made = assemble(
        Assembly("X")
        .add("pan", pan.part)
        .add("plate", plate.part, brace_frame(plate, 60, -210))
        .weld("pan", "plate", throat=1.0),
        SHOP,
    )
    sound(made, 1)
    # Beads at 150 and 300 mm; the plate's outer welds lie 12 mm from its edges, on the groove at 140 + 12 but not at 60.
    assert places[140]["brace.weld"] == "stop"
    assert {p["brace.bead"] for p in places.values()} == {"fine"}


def test_notches_leave_a_brace_with_a_height() -> None:
    notch = Notch(start=100, stop=124, depth=8)
    with pytest.raises(BadValue, match=r"floor_brace height.*nearest 18\.5"):
        tb.families.floor_brace(notches=(notch,), height=16)
    with pytest.raises(BadValue, match=r"floor_brace notches"):
        tb.families.floor_brace(200, notches=(Notch(start=10, stop=190, depth=8),))
    # What is too short for a weld loses its flange, and the brace is still one sound part.
    made = tb.make(tb.families.floor_brace(200, flats=(100.0,), notches=(Notch(start=10, stop=40, depth=8),)), SHOP)
    assert made.solid.isValid()
    assert [p.name for p in made.panels if "flange" in p.name] == ["near flange 1", "far flange 1"]


# --- covers ------------------------------------------------------------------------------------------------------

HOLES = tb.families.bolting(width=130, length=300, pitch=80)
LID = tb.families.tunnel_lid(HOLES)
SEAL = tb.families.gasket(HOLES, thickness=4.0)
TUNNEL = tb.families.lid_opening(tb.families.tunnel(), HOLES)


def test_a_cover_lies_on_its_squeezed_gasket_over_the_opening() -> None:
    whole = tb.families.covered(tb.Assembly("A").add("tunnel", TUNNEL), "tunnel", "lid opening", HOLES, LID, gasket=SEAL, squeezed=2.6)  # fmt: skip
    made = assemble(whole, SHOP)
    sound(made, 0)
    assert made.gap("tunnel", "TUNNEL-LID") == pytest.approx(2.6, abs=1e-6)
    assert made.gap("tunnel", "TUNNEL-LID gasket") < 1e-6
    names = [r.quantity for r in tb.write.parts_list(made) if "M5" in r.number]
    assert names == [len(HOLES.points)] * 3
    # Lifted off it takes screws and washers along: inserts, seat and gasket stay, and each piece has gone straight up.
    off = whole.posed("TUNNEL-LID lifted off", 100.0)
    risen = {m.name: m.at.origin[2] - whole.member(m.name).at.origin[2] for m in off.members}
    assert {n for n, up in risen.items() if up == pytest.approx(100.0)} == {
        n for n in risen if n != "tunnel" and not n.endswith(("gasket", "insert"))
    }
    assert {up for up in risen.values() if up != pytest.approx(100.0)} == {0.0}


@pytest.mark.parametrize(
    ("changes", "why"),
    [
        ({"made": None}, "covered made"),
        ({"cover": "lid"}, "covered cover"),
        ({"cover": None}, "covered cover"),
        ({"seat": "lid"}, "one of: tunnel"),
        ({"seat": None}, "one of: tunnel"),
        ({"opening": "bay 1"}, "one of: lid opening"),
        ({"opening": "insert 1"}, "one of: lid opening"),
        ({"squeezed": 0.0}, "squeezed"),
        ({"squeezed": 4.1}, "at most 4 mm"),
        ({"squeezed": -1.0}, "squeezed"),
        ({"squeezed": math.nan}, "squeezed"),
        ({"squeezed": None}, "squeezed"),
        ({"gasket": None}, "no gasket"),
        ({"gasket": "foam"}, "covered gasket"),
        ({"holes": None}, "covered holes"),
    ],
)
def test_a_cover_that_does_not_fit_is_refused(changes: dict[str, Any], why: str) -> None:
    values = {
        "made": tb.Assembly("A").add("tunnel", TUNNEL), "seat": "tunnel", "opening": "lid opening", "holes": HOLES,
        "cover": LID, "gasket": SEAL, "squeezed": 2.6,
    }  # fmt: skip
    with pytest.raises(BadValue, match=why):
        tb.families.covered(**{**values, **changes})
