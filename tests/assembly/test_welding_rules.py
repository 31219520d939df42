"""Assemblies know welding: throats, metals, zinc, room for torch and spanner, unlike metals in touch, hollows."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Annotated

import numpy as np
import pytest

import tinbook as tb
from tinbook.families.calls import family
from tinbook.fields import Range
from tinbook.making.assembled import assemble
from tinbook.part.assembly import Assembly
from tinbook.part.bought import block, shim
from tinbook.part.fasteners import hexagon_bolt, hexagon_nut, plain_washer
from tinbook.part.links import Sides
from tinbook.part.part import Part
from tinbook.rules import hollow, spanner, torch, welds
from tinbook.rules.assembly import meetings
from tinbook.rules.check import check
from tinbook.rules.room import nearest
from tinbook.shop.shop import cut_on
from tinbook.space import frame_at

SHOP = cut_on(tb.Shop.demo(), "laser")
ZINC = replace(SHOP.sheet_by_key("DC01 1.5"), key="DX51D 1.5", material=SHOP.material("DX51D"))
GALVANISED = replace(SHOP, sheets=(*SHOP.sheets, ZINC))
UPRIGHT = ((1.0, 0.0, 0.0), (0.0, 0.0, 1.0))


def plate(number: str, sheet: str, w: float = 200.0, h: float = 100.0) -> Part:
    return Part(number, sheet=sheet, base=tb.Outline.rectangle(w, h))


def lapped(a: str, b: str, throat: float | None = 2.0, shop: tb.Shop = SHOP) -> Assembly:
    on = frame_at((0, 0, shop.sheet_by_key(a).thickness))
    made = Assembly("AA").add("a", plate("A1", a)).add("b", plate("B1", b), on)
    return made if throat is None else made.weld("a", "b", throat=throat)


def said(rule, assembly: Assembly, shop: tb.Shop = SHOP) -> list[tuple[str, str]]:
    return [(f.code, f.severity) for f in rule(assemble(assembly, shop))]


@pytest.mark.parametrize(
    ("a", "b", "throat", "severity", "limit"),
    [
        # DIN 18800-1 element 519 (from memory): at most 0.7 of the thinner; more than the sheet itself burns through.
        ("DC01 0.8", "DC01 0.8", 6.0, "stop", 0.56),
        ("DC01 3.0", "DC01 3.0", 2.1, "fine", 2.1),
        ("DC01 3.0", "DC01 3.0", 2.5, "caution", 2.1),
        # sqrt(16) - 0.5 = 3.5, and 3 mm by EN 1993-1-8 4.5.2 from 4 mm on.
        ("S235 5.0", "S235 16.0", 3.0, "caution", 3.5),
        ("S235 5.0", "S235 5.0", 2.5, "caution", 3.0),
        ("S235 5.0", "S235 16.0", 3.5, "fine", 3.5),
        # On 4 mm the 3 mm of EN 1993-1-8 4.5.2 go before 0.7 x 4 = 2.8.
        ("S235 4.0", "S235 4.0", 3.0, "fine", 3.0),
        ("S235 4.0", "S235 4.0", 2.8, "caution", 3.0),
        # On 3 mm the lower limit yields: 0.7 x 3 = 2.1 is all that it bears.
        ("S235 3.0", "S235 12.0", 2.1, "fine", 2.1),
    ],
)  # fmt: skip
def test_a_throat_is_held_against_the_thinner_member(a, b, throat, severity, limit):
    (found,) = welds.throats(assemble(lapped(a, b, throat), SHOP))
    assert (found.code, found.severity, found.value) == ("weld.throat", severity, throat)
    assert found.limit == pytest.approx(limit)
    assert bool(found.remedy) == (severity != "fine")


@pytest.mark.parametrize(
    "whole",
    [
        tb.families.front_joiner(thickness=4),
        tb.families.body_mount(thickness=4),
        tb.families.recovery_plate(rail_wall=2),
    ],
)
def test_the_families_own_throats_suit(whole):
    assert said(welds.throats, whole) == [("weld.throat", "fine")]


def test_a_throat_on_a_wall_that_nobody_measured_is_said():
    a = Assembly("X").add("rail", block("rail", (200, 60, 40), existing=True))
    rail = a.add("boss", block("boss", (20, 20, 20)), frame_at((0, 0, 40))).weld("rail", "boss", throat=3)
    (found,) = welds.throats(assemble(rail, SHOP))
    assert (found.severity, found.value) == ("caution", None)


@pytest.mark.parametrize(
    ("a", "b", "expected"),
    [
        ("5083 3.0", "S235 3.0", [("weld.metals", "stop")]),
        ("5083 3.0", "1.4301 1.5", [("weld.metals", "stop")]),
        ("1.4301 1.5", "S235 3.0", [("weld.metals", "caution")]),
        ("5083 3.0", "5083 3.0", []),
        ("DC01 3.0", "S355 6.0", []),
        ("DC01 0.8", "S235 16.0", [("weld.uneven", "caution")]),
    ],
)
def test_metals_that_do_not_fuse(a, b, expected):
    """Common practice: aluminium and steel form brittle phases; stainless to carbon steel wants 309L."""
    assert said(welds.metals, lapped(a, b)) == expected


def test_what_is_no_metal_is_not_welded():
    rubber = block("pad", (60, 60, 10), stuff="rubber")
    a = (
        Assembly("X")
        .add("a", plate("A1", "S235 3.0"))
        .add("pad", rubber, frame_at((50, 50, 3)))
        .weld("a", "pad", throat=2)
    )
    assert said(welds.metals, a) == [("weld.metals", "stop")]


def test_zinc_fume_is_said_of_sheet_and_of_fasteners():
    (found,) = welds.zinc(assemble(lapped("DX51D 1.5", "DC01 1.5", 1.0, GALVANISED), GALVANISED))
    assert (found.code, found.severity) == ("weld.zinc", "caution")
    assert found.what.startswith("a is zinc coated")
    assert said(welds.zinc, lapped("DC01 1.5", "DC01 1.5", 1.0)) == []
    nut = Assembly("X").add("a", plate("A1", "S235 3.0").hole((50, 50), use="bolt", size="M10"))
    nut = nut.add("nut", hexagon_nut("M10"), frame_at((50, 50, 3))).weld("a", "nut", throat=2)
    assert said(welds.zinc, nut) == [("weld.zinc", "caution")]


# --- unlike metals -----------------------------------------------------------------------------------------------


def test_aluminium_on_steel_wants_an_insulator():
    (found,) = welds.galvanic(assemble(lapped("5083 3.0", "S235 3.0", None), SHOP))
    assert (found.code, found.severity) == ("contact.galvanic", "caution")
    assert found.value == pytest.approx(200.0)  # 200 x 100 mm in cm²
    assert "insulator" in found.remedy
    assert said(welds.galvanic, lapped("DC01 3.0", "S235 3.0", None)) == []


def test_an_insulator_between_is_seen():
    on, sheet = frame_at((100, 50, 3)), block("EPDM", (200, 100, 0.5), stuff="rubber")
    a = Assembly("X").add("a", plate("A1", "5083 3.0")).add("between", sheet, on)
    a = a.add("b", plate("B1", "S235 3.0"), frame_at((0, 0, 3.5)))
    assert said(welds.galvanic, a) == []


# --- torch -------------------------------------------------------------------------------------------------------


def test_room_round_an_axis_against_points_on_the_triangles():
    """By many points on each triangle, between the two heights; the exact way is never farther and hardly nearer."""
    rng = np.random.default_rng(4)
    share = np.sort(rng.random((20_000, 2)), axis=1)
    weights = np.column_stack((share[:, 0], share[:, 1] - share[:, 0], 1 - share[:, 1]))
    for _ in range(30):
        triangle = rng.uniform(-40, 40, (1, 3, 3))
        points = weights @ triangle[0]
        points = points[(points[:, 2] > -10) & (points[:, 2] < 15)]
        got = nearest((0, 0, 0), (0, 0, 1), -10, 15, 100, triangle)
        seen = float(np.hypot(points[:, 0], points[:, 1]).min()) if len(points) else math.inf
        assert got <= seen + 1e-9
        assert math.isinf(seen) or seen - got < 1.5


def standing(gap: float, sides: Sides) -> Assembly:
    """Two walls 60 high on a floor, `gap` between them."""
    a = Assembly("X").add("floor", plate("F", "S235 5.0", 300, 200))
    a = a.add("wall", plate("W", "S235 5.0", 200, 60), frame_at((50, 50, 5), *UPRIGHT))
    a = a.add("other", plate("W", "S235 5.0", 200, 60), frame_at((50, 50 + 5 + gap, 5), *UPRIGHT))
    return a.weld("floor", "other", throat=3).weld(
        "floor", "wall", throat=3, sides=sides, note="both sides of the slot"
    )


@pytest.mark.parametrize(
    ("gap", "sides", "severity"),
    [
        # A nozzle of 20 mm does not go into 12 mm, whatever its angle; into 120 mm it goes at 45 degrees.
        (12.0, "both", "stop"),
        (12.0, "all round", "stop"),
        (120.0, "both", "fine"),
        (12.0, "one", "fine"),
    ],
)
def test_a_torch_gets_to_the_sides_that_are_asked_for(gap, sides, severity):
    found = list(torch.torch(assemble(standing(gap, sides), SHOP)))
    assert next(f.severity for f in found if f.where == "floor and wall" or f.severity == "fine") == severity
    assert [f.severity for f in found if f.where == "floor and other"] == []  # its far side is free


def test_what_is_not_welded_up_with_it_is_not_there_yet():
    a = Assembly("X").add("floor", plate("F", "S235 5.0", 300, 200))
    a = a.add("wall", plate("W", "S235 5.0", 200, 60), frame_at((50, 50, 5), *UPRIGHT))
    a = a.add("cover", plate("W", "S235 5.0", 200, 60), frame_at((50, 67, 5), *UPRIGHT)).weld(
        "floor", "wall", throat=3, sides="both"
    )
    assert [f.severity for f in torch.torch(assemble(a, SHOP))] == ["fine"]


# --- spanner -----------------------------------------------------------------------------------------------------


def bolted(wall: float, ceiling: float = 200.0, post: float = 500.0) -> Assembly:
    """An M12 bolt with its washer, walls at both sides of it so far from its axis, something over its head."""
    base = plate("P", "S235 5.0", 400, 300).hole((200, 150), use="bolt", size="M12")
    a = Assembly("X").add("base", base).add("bolt", hexagon_bolt("M12", 25), frame_at((200, 150, 7.5)))
    a = a.add("washer", plain_washer("M12"), frame_at((200, 150, 5))).add(
        "nut", hexagon_nut("M12"), frame_at((200, 150, -10.8))
    )
    for name, y in (("near wall", 150 - wall - 10), ("far wall", 150 + wall + 10)):
        a = a.add(name, block(name, (300, 20, 100)), frame_at((200, y, 5)))
    return a.add("ceiling", block("ceiling", (40, 2 * wall, 10)), frame_at((200, 150, 7.5 + 7.5 + ceiling)))


@pytest.mark.parametrize(
    ("wall", "ceiling", "severities"),
    [
        # Socket for 18 mm: (1.25 x 18 + 3) / 2 = 12.75, and 1 mm of play.
        (13.0, 200.0, ["stop", "fine"]),
        (14.0, 200.0, ["fine"]),
        # Under a ceiling no socket goes on, but a ring spanner does where it can swing.
        (100.0, 20.0, ["fine"]),
        (14.0, 20.0, ["stop", "fine"]),
        # The handle, 150 mm long and 14 mm wide, turned by 10 degrees reaches 150 sin 10 + 7 cos 10 = 32.9 mm beside
        # the bolt, by 20 degrees 57.9 mm: swings of 20 and 40 degrees where 30 are needed.
        (40.0, 20.0, ["stop", "fine"]),
        (60.0, 20.0, ["fine"]),
        (100.0, 5.0, ["stop", "fine"]),
    ],
)
def test_a_spanner_needs_room(wall, ceiling, severities):
    found = list(spanner.spanners(assemble(bolted(wall, ceiling), SHOP)))
    assert [f.severity for f in found] == severities
    if severities[0] == "stop":
        assert (found[0].where, found[0].limit) == ("bolt", 13.8)
    if wall == 13.0:
        assert found[0].value == pytest.approx(13.0, abs=0.01)


@pytest.mark.parametrize(("width", "thickness"), [(104, 4), (112, 5)])
def test_a_body_mount_s_bolts_clear_its_gussets_at_every_width(width, thickness):
    made = assemble(tb.families.body_mount(width=width, thickness=thickness), SHOP)
    assert max(p.common for p in made.pairs) < 0.05
    assert [f.severity for f in spanner.spanners(made)] == ["fine"]


# --- hollows -----------------------------------------------------------------------------------------------------


def box(lid: bool = True, **drilled: tuple[float, float]) -> Assembly:
    """Plates of 4 mm round 100 x 80 x 60 mm of air, welded, with holes of 8 mm where they are wanted."""

    def side(name: str, w: float, h: float) -> Part:
        part = plate(name, "S235 4.0", w, h)
        return part.hole(drilled[name], 8.0, use="drain") if name in drilled else part

    a = Assembly("BX").add("floor", side("floor", 108, 88))
    a = a.add("front", side("front", 108, 60), frame_at((0, 4, 4), *UPRIGHT))
    a = a.add("rear", side("rear", 108, 60), frame_at((0, 88, 4), *UPRIGHT))
    a = a.add("left", side("left", 80, 60), frame_at((0, 4, 4), (0, 1, 0), (0, 0, 1)))
    a = a.add("right", side("right", 80, 60), frame_at((104, 4, 4), (0, 1, 0), (0, 0, 1)))
    names = ["front", "rear", "left", "right"]
    if lid:
        a = a.add("lid", side("lid_on", 108, 88), frame_at((0, 0, 64)))
        names.append("lid")
    for n in names:
        a = a.weld("floor" if n != "lid" else "front", n, throat=2.8)
    return a


@pytest.mark.parametrize(
    ("assembly", "code"),
    [
        (box(), "assembly.closed"),
        (box(lid=False), "assembly.drain"),
        (box(lid=False, floor=(54, 44)), "assembly.hollow"),
        (box(floor=(54, 44)), "assembly.hollow"),
        (box(lid_on=(54, 44)), "assembly.drain"),
    ],
    ids=["closed", "tray", "drained tray", "drained box", "vented above only"],
)  # fmt: skip
def test_hollows_without_vent_or_drain(assembly, code):
    made = assemble(assembly, SHOP)
    assert max(p.common for p in made.pairs) < 0.05
    (found,) = hollow.hollows(made)
    assert (found.code, found.severity) == (code, "fine" if code == "assembly.hollow" else "caution")
    if found.severity == "caution":
        assert found.value == pytest.approx(
            480, rel=0.11
        )  # 100 x 80 x 60 mm in cm³, less half a cube of 2.5 mm at each wall


def test_a_folded_tray_with_welded_corners_holds_water_and_a_turned_one_does_not():
    tray = tb.families.folded_box()
    up = Assembly("X").add("tray", tray)
    found = {f.code for f in hollow.hollows(assemble(up, SHOP))}
    assert found == {"assembly.drain"}
    over = up.moved(frame_at((0, 0, 0), (1, 0, 0), (0, -1, 0)))
    assert {f.code for f in hollow.hollows(assemble(over, SHOP))} == {"assembly.hollow"}


# --- all together ------------------------------------------------------------------------------------------------


@family
def post_and_bolt(away: Annotated[float, Range(5, 60, 0.5, "mm")] = 10.0) -> Assembly:
    """Return an M12 bolt with its nut beside a post, whose face is so far from its axis."""
    base = plate("P", "S235 5.0").hole((100, 50), use="bolt", size="M12")
    a = Assembly("X").add("base", base).add("bolt", hexagon_bolt("M12", 20), frame_at((100, 50, 5)))
    return a.add("post", block("post", (20, 60, 80)), frame_at((110 + away, 50, 5)))


@pytest.mark.parametrize(("away", "code"), [(10.0, "assembly.spanner"), (7.0, "assembly.clash")])
def test_what_stops_where_members_meet_names_a_parameter_of_the_family(away, code):
    found = check(assemble(post_and_bolt(away=away), SHOP))
    assert code in {f.code for f in found.stops}
    (named,) = [f for f in found if f.code.startswith("parameter.")]
    assert (named.code, named.where) == ("parameter.nearest", "post_and_bolt away")
    assert named.limit >= 13.75
    again = assemble(post_and_bolt(away=named.limit), SHOP)
    assert not [f for f in meetings(again) if f.severity == "stop"]


def test_a_rule_that_fails_stops(monkeypatch):
    def broken(made):
        raise ZeroDivisionError("no")

    from tinbook.rules import assembly
    from tinbook.rules.rule import Rule

    monkeypatch.setattr(assembly, "RULES", (Rule(broken, "searched"),))
    found = check(assemble(lapped("DC01 3.0", "DC01 3.0"), SHOP))
    assert [f.code for f in found.stops] == ["check.failed"]


def test_small_things_are_still_seen_by_the_socket():
    """A pin of 6 mm beside the head, between the lines that a coarser look would take."""
    pin = shim(6.0, 1.0, 40.0)
    a = bolted(100.0)
    for angle in range(0, 360, 45):
        x, y = 200 + 14 * math.cos(math.radians(angle)), 150 + 14 * math.sin(math.radians(angle))
        a = a.add(f"pin {angle}", pin, frame_at((x, y, 7.5)))
    assert [f.severity for f in spanner.spanners(assemble(a, SHOP))] == ["stop", "fine"]
