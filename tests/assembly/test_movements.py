"""What an assembly declares to move: where it goes, what it meets on its way, struts that follow, wrong values."""

from __future__ import annotations

import math
from typing import Any

import pytest

import tinbook as tb
from tinbook.calc.struts import GasStrut
from tinbook.part.bought import block
from tinbook.part.movement import MovingStrut
from tinbook.rules import meeting

SHOP = tb.Shop.demo()
LID = tb.families.lid_on_struts(hinges=2)


def blocks() -> tb.Assembly:
    """Return a plate of 100 x 20 x 2 mm on the ground, from x = 0, and a post of 10 x 20 x 40 mm from x = 150."""
    plate, post = block("plate", (100.0, 20.0, 2.0)), block("post", (10.0, 20.0, 40.0))
    made = tb.Assembly("HN-MV").add("plate", plate, tb.part.frame_at((50.0, 0.0, 0.0)))
    return made.add("post", post, tb.part.frame_at((155.0, 0.0, 0.0)))


@pytest.mark.parametrize("opened", [20.0, 75.0])
def test_a_lid_that_is_turned_stands_where_the_family_draws_it_open(opened: float) -> None:
    """The family works out an open lid by its own formulas: hinge, brackets and the struts between their joints."""
    there, drawn = LID.posed("lid opens", opened), tb.families.lid_on_struts(hinges=2, opened=opened)
    for a, b in zip(there.members, drawn.members, strict=True):
        assert a.label == b.label
        for p, q in zip((a.at.origin, a.at.x, a.at.y, a.at.z), (b.at.origin, b.at.x, b.at.y, b.at.z), strict=True):
            assert math.dist(p, q) < 1e-9, a.name
    eyes = [a.member("left strut").thing.pieces[-1].at.origin for a in (there, drawn)]
    assert eyes[0] == pytest.approx(eyes[1])


def test_a_lid_that_is_drawn_open_closes_by_as_much() -> None:
    shut = tb.families.lid_on_struts(hinges=2, opened=30.0).posed("lid opens", -30.0)
    for a, b in zip(shut.members, LID.members, strict=True):
        assert math.dist(a.at.origin, b.at.origin) < 1e-9
        assert math.dist(a.at.x, b.at.x) < 1e-12


def test_a_movement_goes_where_its_assembly_goes() -> None:
    made = blocks().turning("flap", ["plate"], about=((0.0, 0.0, 0.0), (0.0, 1.0, 0.0)), by=(-90.0, 90.0))
    at = tb.part.frame_at((5.0, 6.0, 7.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
    first, then = made.posed("flap", 40.0).moved(at), made.moved(at).posed("flap", 40.0)
    for a, b in zip(first.members, then.members, strict=True):
        assert math.dist(a.at.origin, b.at.origin) < 1e-9
        assert math.dist(a.at.z, b.at.z) < 1e-12


def test_what_slides_into_something_is_stopped_where_it_does() -> None:
    """The plate's end lies 50 mm before the post; after 60 mm it stands through 10 x 20 x 2 mm of it: 400 mm3."""
    made = tb.assemble(blocks().sliding("plate out", ["plate"], along=(1.0, 0.0, 0.0), by=(0.0, "60 mm")), SHOP)
    (found,) = meeting.movements(made)
    assert (found.severity, found.where) == ("stop", "plate out, 60 mm")
    assert found.value == pytest.approx(400.0, abs=0.01)
    short = tb.assemble(blocks().sliding("plate out", ["plate"], along=(1.0, 0.0, 0.0), by=(0.0, 49.0)), SHOP)
    (found,) = meeting.movements(short)
    assert found.severity == "fine"
    assert not tb.check(made).ok


def test_what_is_met_on_the_way_only_is_found_too() -> None:
    """From 0 to 200 mm the plate passes the post: at 100 mm its middle stands in it, at 200 mm it has left it."""
    made = tb.assemble(blocks().sliding("plate out", ["plate"], along=(1.0, 0.0, 0.0), by=(0.0, 200.0)), SHOP)
    (found,) = meeting.movements(made)
    assert (found.severity, found.where) == ("stop", "plate out, 100 mm")


def test_a_strut_that_does_not_reach_is_named() -> None:
    """Its joint hangs 300 mm under the hinge, 300 mm from the other; after a quarter of 90 degrees it lies further off."""
    a = math.radians(22.5)
    far = math.hypot(300.0 + 300.0 * math.sin(a), 300.0 - 300.0 * math.cos(a))
    strut = GasStrut(force=200.0, extended=345.0, stroke=150.0)
    made = tb.Assembly("HN-MS").add("lid", block("lid", (20.0, 20.0, 2.0)), tb.part.frame_at((300.0, 0.0, 100.0)))
    at = tb.part.frame_at((300.0, 0.0, 50.0), (0.0, 0.0, 1.0), (0.0, -1.0, 0.0))  # its z along x
    made = made.add("strut", tb.part.gas_strut(200.0, 150.0, 345.0, length=300.0), at)
    follows = [MovingStrut(member="strut", strut=strut, length=300.0)]
    made = made.turning("lid opens", ["lid"], about=((300.0, 0.0, 350.0), (0.0, 1.0, 0.0)), by=(0, 90), struts=follows)
    found = list(meeting.movements(tb.assemble(made, SHOP)))
    first = next(f for f in found if f.where == "lid opens, 22.5 deg")
    assert (first.severity, first.what) == ("stop", f"a strut would be {far:.1f} mm long")
    assert "195 to 345 mm" in first.remedy


def test_what_bends_is_not_passed_in_silence() -> None:
    made = tb.Assembly("HN-MB").add("strap", block("strap", (100.0, 20.0, 2.0)), flexible=True)
    made = made.sliding("strap off", ["strap"], along=(0.0, 0.0, 1.0), by=(0.0, 100.0))
    (found,) = meeting.movements(tb.assemble(made, SHOP))
    assert (found.severity, found.code) == ("caution", "assembly.movement")


Y = (0.0, 1.0, 0.0)


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        (lambda a: a.turning("t", ["plate"], about=None, by=(0, 1)), "t about"),
        (lambda a: a.turning("t", ["plate"], about=((0, 0), Y), by=(0, 1)), "t about"),
        (lambda a: a.turning("t", ["plate"], about=((0, 0, math.nan), Y), by=(0, 1)), "t about"),
        (lambda a: a.turning("t", ["plate"], about=((0, 0, 0), (0, 0, 0)), by=(0, 1)), "direction"),
        (lambda a: a.turning("t", ["plate"], about=((0, 0, 0), Y), by=(0, 400)), "-360 to 360 deg"),
        (lambda a: a.turning("t", ["plate"], about=((0, 0, 0), Y), by=(0, "5 mm")), "t by largest"),
        (lambda a: a.turning("t", ["plate"], about=((0, 0, 0), Y), by=(0, 1), struts=[3]), "struts"),
        (lambda a: a.turning("t", ["plate"], about=((0, 0, 0), Y), by=(0, 1), struts=3), "struts"),
        (lambda a: a.sliding("s", ["plat"], along=Y, by=(0, 1)), "one of: plate, post"),
        (lambda a: a.sliding("s", [], along=Y, by=(0, 1)), "members"),
        (lambda a: a.sliding("s", None, along=Y, by=(0, 1)), "members"),
        (lambda a: a.sliding("s", ["plate", "plate"], along=Y, by=(0, 1)), "none twice"),
        (lambda a: a.sliding("", ["plate"], along=Y, by=(0, 1)), "name"),
        (lambda a: a.sliding(None, ["plate"], along=Y, by=(0, 1)), "name"),
        (lambda a: a.sliding("s", ["plate"], along="up", by=(0, 1)), "direction"),
        (lambda a: a.sliding("s", ["plate"], along=Y, by=(1, 2)), "at most 0"),
        (lambda a: a.sliding("s", ["plate"], along=Y, by=(0, 0)), "two different"),
        (lambda a: a.sliding("s", ["plate"], along=Y, by=(0, math.inf)), "finite"),
        (lambda a: a.sliding("s", ["plate"], along=Y, by=5), "s by"),
        (lambda a: a.sliding("s", ["plate"], along=Y, by=("a", "b")), "s by least"),
        (lambda a: a.posed("flap", 5), "none exists"),
        (lambda a: a.sliding("s", ["plate"], along=Y, by=(0, 9)).posed("s", 10), "0 to 9 mm"),
        (lambda a: a.sliding("s", ["plate"], along=Y, by=(0, 9)).posed("s", math.nan), "s"),
        (lambda a: a.sliding("s", ["plate"], along=Y, by=(0, 9)).sliding("s", ["post"], along=Y, by=(0, 9)), "s"),
        (lambda _: MovingStrut(member="a", strut="a strut", length=3.0), "GasStrut"),
    ],
)
def test_wrong_values_are_named(wrong: Any, said: str) -> None:
    with pytest.raises(tb.errors.BadValue) as error:
        wrong(blocks())
    assert said in str(error.value)
