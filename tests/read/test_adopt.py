"""A foreign solid becomes an editable part: the same blank at its own numbers, the same outside on other tools."""

from __future__ import annotations

import cadquery as cq
import pytest
from hypothesis import given, settings

from strategies import SHOP, parts
from tinbook.errors import BadValue, CannotMake
from tinbook.families.plain import folded_channel, hemmed_dash_edge
from tinbook.making.resolve import make
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.read.adopt.part import adopt
from tinbook.read.step.unfold import unfold
from zoo import ZOO

K = 0.41


def both(part: Part):
    """Make a part with one K everywhere, unfold its solid by the other code, adopt it, make it again."""
    shop = SHOP.with_k(part.sheet, K)
    made = make(part, shop)
    found = unfold(made.solid, bend=K)
    return made, found, make(adopt(found, part.sheet, keep_radius=True), shop)


def box_part() -> Part:
    part = Part("HN-X", sheet="DC01 1.5", base=Outline.rectangle(200, 120))
    for edge in ("front", "right", "rear", "left"):
        part = part.fold(edge, "up", leg=30, corner="closed")
    return part.fold("front.end", "down", leg=15).hole((60, 60), 12).hole((100, 60), 8, length=30, turn=30)


@pytest.mark.parametrize(
    "part", [folded_channel(), box_part(), folded_channel(angle=60.0), hemmed_dash_edge(), ZOO["curls"](), ZOO["eye"]()]
)
def test_the_blank_comes_back(part):
    made, found, again = both(part)
    assert not [f for f in again.findings if f.severity == "stop"]
    assert len(again.strips) == len(made.strips)
    assert again.flat.area == pytest.approx(found.area, rel=1e-9)
    assert again.solid.Volume() == pytest.approx(made.solid.Volume(), rel=1e-9)
    assert sorted(again.flat.size) == pytest.approx(sorted(found.size), abs=1e-6)


def test_the_base_begins_at_its_own_corner():
    """A hole that is added 10 mm from its left edge is there, not on the leg that lies before it in the blank."""
    found = unfold(make(box_part(), SHOP).solid, bend=K)
    own = adopt(found, "DC01 1.5")
    assert own.base.loop.box[:2] == (0.0, 0.0)
    made = make(own.hole((10, 12), 4, name="new"), SHOP)
    (hole,) = [h for h in made.panel("base").holes if h.name == "new"]
    x0, y0, x1, y1 = hole.loop.box
    assert ((x0 + x1) / 2, (y0 + y1) / 2) == pytest.approx((10, 12))


def test_a_slot_comes_back_as_a_slot_that_can_be_made_longer():
    """Not as an outline of four edges: its width, length and turn are what the next revision changes."""
    found = unfold(make(box_part(), SHOP).solid, bend=K)
    (slot,) = [h for h in adopt(found, "DC01 1.5").holes if h.name.startswith("slot")]
    assert (slot.dia, slot.length) == pytest.approx((8.0, 30.0), abs=1e-6)
    assert min(slot.turn % 30, 30 - slot.turn % 30) == pytest.approx(
        0.0, abs=1e-6
    )  # 30, or 120 on a blank that lies across
    assert slot.loop is None


def test_another_tool_changes_the_blank_and_not_the_outside():
    part = folded_channel(web=60, flange=30)
    found = unfold(make(part, SHOP).solid, bend=0.33)
    own = make(adopt(found, "DC01 1.5"), SHOP.with_k("DC01 1.5", 0.5))
    assert own.flat.size[1] > found.size[1] + 0.1
    box = own.solid.BoundingBox()
    assert sorted((box.xlen, box.ylen, box.zlen)) == pytest.approx([30, 60, 400], abs=1e-6)


def test_a_thicker_sheet_keeps_the_outside():
    found = unfold(make(folded_channel(web=60, flange=30), SHOP).solid, 0.44)
    own = make(adopt(found, "DC01 2.0"), SHOP)
    box = own.solid.BoundingBox()
    assert sorted((box.xlen, box.ylen, box.zlen)) == pytest.approx([30, 60, 400], abs=1e-6)


@pytest.mark.parametrize(
    "opening",
    [
        lambda p: p.hole((200, 1), 12),
        lambda p: p.hole((200, 0), 2),
        lambda p: p.hole((60, 4), 10, length=40),
        lambda p: p.hole((60, 2), 12, length=50, turn=90).hole((200, 50), 9).hole((300, 0.5), 30),
    ],
)
def test_openings_over_a_fold_come_back(opening):
    """On the blank they stay where they were: the same net area and the same solid, by the witness's own code."""
    made, found, again = both(opening(folded_channel(holes=0)))
    assert not [f for f in again.findings if f.severity == "stop"]
    assert len(again.flat.cuts) == len(found.cuts)
    assert again.flat.area == pytest.approx(found.area, rel=1e-9)
    assert again.solid.Volume() == pytest.approx(made.solid.Volume(), rel=1e-9)


def test_what_a_part_cannot_say_is_named():
    ring = cq.Workplane().rect(60, 60).rect(57, 57).extrude(40).edges("|Z").fillet(2)
    with pytest.raises(CannotMake, match="fold"):
        adopt(unfold(ring, 0.44), "DC01 1.5")


def test_only_what_was_unfolded():
    with pytest.raises(BadValue, match="unfold"):
        adopt("bracket.step", "DC01 1.5")


@given(parts(forms=False))
@settings(max_examples=25)
def test_random_parts_come_back_or_are_named(part):
    made = make(part, SHOP)
    if not made.ok:
        return
    found = unfold(made.solid, bend=K)
    try:
        adopted = adopt(found, part.sheet, keep_radius=True)
    except CannotMake:
        return
    again = make(adopted, SHOP.with_k(part.sheet, K))
    if again.flat is not None and not again.flat.drills:
        assert again.flat.area == pytest.approx(found.area, rel=1e-6)
        assert again.solid.Volume() == pytest.approx(made.solid.Volume(), rel=1e-6)


@pytest.mark.parametrize(
    ("file", "k"),
    [
        ("laser4diy__cornerbracket", 0.44),
        ("laser4diy__lidchannel", 0.44),
        ("laser4diy__labyrinth", 0.44),
        ("laser4diy__chamber_sheet_left", 0.44),
        ("homelab-pdu__10in_Dual-Lid", 0.50),
    ],
)
def test_foreign_parts_on_the_demo_shop(foreign, file, k):
    found = unfold(foreign / f"{file}.step", bend=k)
    same = make(adopt(found, "DC01 1.0", keep_radius=True), SHOP.with_k("DC01 1.0", k))
    assert same.flat.area == pytest.approx(found.area, rel=1e-8)
    assert same.solid.Volume() == pytest.approx(found.folded.volume, rel=1e-8)
    own = make(adopt(found, "DC01 1.0"), SHOP)
    assert own.solid.isValid()
