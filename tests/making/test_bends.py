"""Which tool, which radius, whose numbers: the one place where a bend allowance is decided."""

from __future__ import annotations

import dataclasses
import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tinbook.errors import BadValue, UnknownName
from tinbook.finding import Findings
from tinbook.making.bends import RULES, Bend, bend_for, hem_bend
from tinbook.making.resolve import make
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.shop.coupons import BendCoupon
from tinbook.shop.shop import Shop


@pytest.fixture
def shop() -> Shop:
    return Shop.demo()


def flat(bend: Bend, t: float, a: float, b: float) -> float:
    """Flat length of two outside legs, worked apart from the kit's own deduction."""
    setback = (bend.radius + t) * (math.tan(math.radians(bend.angle) / 2) if bend.angle <= 90 else 1.0)
    return a + b - 2 * setback + bend.allowance


# Material, nominal, angle, more; then the tool, by the written rule and the demo's file.
@pytest.mark.parametrize(
    ("material", "t", "angle", "more", "tool"),
    [
        ("DC01", 1.6, 90, {}, "F1"),  # folding comes first, the folder takes 1.6 mm
        ("DC01", 1.6, 90, {"length": 1400}, "V10"),  # longer than folder and press: 6 t = 9.6, V10 is nearest
        ("DC01", 1.6, 90, {"leg": 7.1}, "V10"),  # folder needs 8, VB16 11.5; of the dies V10 needs 7.02
        ("DC01", 1.6, 90, {"leg": 6}, "V8"),  # V8 needs 5.6
        ("DC01", 2.0, 90, {}, "VB16"),  # too thick for the folder, the press is next
        ("DC01", 2.0, 120, {}, "V12"),  # the 88 degree block does not turn 120; 6 t = 12
        ("DC01", 2.5, 90, {}, "VB16"),  # 6 t = 15: 16 is nearer than 25
        ("S235", 3, 90, {}, "VB25"),  # 8 t = 24
        ("S235", 5, 90, {"length": 300}, "VB40"),
        ("S235", 5, 90, {"length": 800}, "V40"),  # 8 t = 40
        ("1.4301", 1.0, 90, {}, "F1"),
        ("1.4301", 1.2, 90, {}, "V8"),  # 6 t = 7.2
        ("5083", 3.0, 90, {}, "V40"),  # narrower dies would crack it: floor 2 t = 6, 0.16 V >= 6 from V40 up
        ("DC01", 1.2, 90, {"radius": 3}, "V20"),  # 0.16 x 20 = 3.2 is nearest
        ("DC01", 1.2, 90, {"tool": "V16"}, "V16"),
    ],
)
def test_tool_by_the_written_rule(
    shop: Shop, material: str, t: float, angle: float, more: dict[str, object], tool: str
) -> None:
    bend = bend_for(shop, shop.sheet(material, t), angle=angle, **more)  # type: ignore[arg-type]
    assert bend.tool == tool
    assert not Findings(bend.notes).stops
    assert bend.who == shop.tool(tool).who
    assert bend.process == shop.tool(tool).process


def test_process_order_is_the_shops(shop: Shop) -> None:
    sheet = shop.sheet("DC01", 1.6)
    assert bend_for(dataclasses.replace(shop, process_order=("air", "fold")), sheet, angle=90).tool == "V10"
    assert bend_for(dataclasses.replace(shop, process_order=("bottom",)), sheet, angle=90).tool == "VB16"


def test_leg_too_short_for_every_tool_takes_the_shortest(shop: Shop) -> None:
    """The check of legs speaks; the blank still has a tool."""
    bend = bend_for(shop, shop.sheet("DC01", 1.0), angle=90, leg=2)
    assert bend.tool == "V6"
    assert bend.notes == ()


def test_measured_thickness_moves_the_allowance_not_the_tool(shop: Shop) -> None:
    thick = shop.with_measured("DC01 1.6", 1.66)
    a, b = (bend_for(s, s.sheet("DC01", 1.6), angle=90) for s in (shop, thick))
    assert a.tool == b.tool == "F1"
    # DIN 6935 by hand at r 1.5, t 1.66: k = 0.65 + 0.5 log10(0.90361) = 0.62800; 90 deg (1.5 + 0.628 x 0.83).
    assert b.allowance == pytest.approx(math.pi / 2 * (1.5 + 0.62800 * 0.83), abs=1e-4)
    assert a.allowance != b.allowance


def test_order_of_rules(shop: Shop) -> None:
    sheet = shop.sheet("DC01", 1.6)
    air = {"angle": 90, "tool": "V12"}
    assert bend_for(shop, sheet, **air).rule == "air bend K 0.41"  # type: ignore[arg-type]
    assert bend_for(shop, sheet, angle=90, tool="F1").rule == "DIN 6935"
    with_k = shop.with_k("DC01 1.6", 0.44)
    assert bend_for(with_k, sheet, **air).k == 0.44  # type: ignore[arg-type]
    assert bend_for(with_k, sheet, **air).rule == "shop K"  # type: ignore[arg-type]
    typed = with_k.with_deduction("DC01 1.6", "V12", 3.0)
    bend = bend_for(typed, sheet, **air)  # type: ignore[arg-type]
    assert (bend.rule, bend.source) == ("typed deduction", "own data")
    assert bend_for(typed, sheet, angle=90, tool="V16").rule == "shop K"  # the deduction is V12's
    row = BendCoupon(
        sheet="DC01 1.6", tool="V12", thickness=1.6, radius=2.1, k=0.43, radius_band=0.1, k_band=0.02, strips=6
    )
    strips = replace(typed, coupons=(row,))
    bend = bend_for(strips, sheet, **air)  # type: ignore[arg-type]
    assert (bend.rule, bend.radius, bend.k) == ("coupon", 2.1, 0.43)
    assert bend_for(strips, sheet, angle=90, tool="V16").rule == "shop K"  # the strips are V12's
    for rule in RULES:
        assert bend_for(strips, sheet, rule=rule, **air).rule == rule  # type: ignore[arg-type]


def test_typed_deduction_gives_its_blank_back(shop: Shop) -> None:
    sheet = shop.sheet("DC01", 1.6)
    typed = shop.with_deduction("DC01 1.6", "V12", 3.05)
    bend = bend_for(typed, sheet, angle=90, tool="V12")
    assert flat(bend, 1.6, 40, 25) == pytest.approx(65 - 3.05)
    assert bend.notes == ()
    # Whatever radius is assumed, the blank at the strip's own angle is the strip's.
    assert flat(bend_for(typed, sheet, angle=90, tool="V12", radius=2.0), 1.6, 40, 25) == pytest.approx(65 - 3.05)


def test_typed_deduction_serves_other_angles_through_its_k_and_says_so(shop: Shop) -> None:
    sheet = shop.sheet("DC01", 1.6)
    typed = shop.with_deduction("DC01 1.6", "V12", 1.5, angle=135)
    at = bend_for(typed, sheet, angle=135, tool="V12")
    other = bend_for(typed, sheet, angle=30, tool="V12")
    assert flat(at, 1.6, 40, 25) == pytest.approx(65 - 1.5)  # legs to the tangent above 90 degrees
    assert other.k == pytest.approx(at.k)
    assert [n.severity for n in other.notes if n.code == "bend.deduction"][-1] == "fine"
    assert "typed at 135 degrees" in str(other.notes[-1])


def test_typed_deduction_that_cannot_be(shop: Shop) -> None:
    sheet = shop.sheet("DC01", 1.6)
    odd = bend_for(shop.with_deduction("DC01 1.6", "V12", 3.8), sheet, angle=90, tool="V12")
    assert [(n.code, n.severity) for n in odd.notes] == [("bend.deduction", "caution")]
    bad = bend_for(shop.with_deduction("DC01 1.6", "V12", 8.0), sheet, angle=90, tool="V12")
    assert [n.code for n in Findings(bad.notes).stops] == ["bend.deduction"]
    assert bad.allowance > 0


def test_changing_the_tool_changes_the_blank_not_the_legs(shop: Shop) -> None:
    sheet = shop.sheet("DC01", 2.0)
    blanks = {k: flat(bend_for(shop, sheet, angle=90, tool=k), 2.0, 50, 30) for k in ("VB16", "V12", "V20")}
    assert len({round(v, 3) for v in blanks.values()}) == 3


def test_din_for_all_angles(shop: Shop) -> None:
    """The factor of DIN 6935 serves below 15 degrees too, where the standard neglects the deduction."""
    bend = bend_for(shop, shop.sheet("DC01", 1.6), angle=10, rule="DIN 6935")
    k = 0.65 + 0.5 * math.log10(1.5 / 1.6)
    assert bend.allowance == pytest.approx(math.radians(10) * (1.5 + k * 0.8))


def test_sharp_radius_leaves_din_and_says_so(shop: Shop) -> None:
    bend = bend_for(shop, shop.sheet("DC01", 1.6), angle=90, radius=0.05, tool="F1")
    assert bend.k == 0
    assert "bend.rule" in [n.code for n in bend.notes]


def test_marks_lie_where_the_tool_wants_them(shop: Shop) -> None:
    """Middle of the strip under a punch; FAA handbook: the sight line one radius from the tangent line in a folder."""
    sheet = shop.sheet("DC01", 1.6)
    folded, pressed = bend_for(shop, sheet, angle=90, tool="F1"), bend_for(shop, sheet, angle=90, tool="V12")
    assert folded.mark_at == folded.radius
    assert pressed.mark_at == pytest.approx(pressed.allowance / 2)


@pytest.mark.parametrize(
    ("more", "code"),
    [
        ({"tool": "F1", "angle": 90, "sheet": ("S235", 5)}, "bend.thickness"),
        ({"tool": "VB25", "angle": 90, "length": 900, "sheet": ("S235", 3)}, "bend.length"),
        ({"tool": "VB25", "angle": 120, "sheet": ("S235", 3)}, "bend.angle"),
        ({"angle": 90, "sheet": ("S235", 16)}, "bend.tool"),
        ({"angle": 90, "length": 5000, "sheet": ("DC01", 1.0)}, "bend.tool"),
        ({"tool": "V50", "angle": 90, "sheet": ("DC01", 0.8)}, "bend.thickness"),
        ({"tool": "F1", "angle": 90, "sheet": ("5083", 3.0)}, "bend.thickness"),
    ],
)
def test_what_no_tool_does_is_a_stop_with_a_remedy(shop: Shop, more: dict[str, object], code: str) -> None:
    material, t = more.pop("sheet")  # type: ignore[misc]
    bend = bend_for(shop, shop.sheet(material, t), **more)  # type: ignore[arg-type]
    found = Findings(bend.notes).stops
    assert [f.code for f in found] == [code]
    assert found[0].remedy
    assert bend.allowance > 0


def test_beyond_every_tool_is_closed_over_a_bar(shop: Shop) -> None:
    for more in ({}, {"tool": "F1"}):
        bend = bend_for(shop, shop.sheet("DC01", 1.0), angle=180, **more)  # type: ignore[arg-type]
        assert [(n.code, n.severity) for n in bend.notes] == [("bend.angle", "caution")]
        assert bend.allowance == pytest.approx(math.pi * (bend.radius + bend.k * 1.0))  # type: ignore[operator]


def test_insisted_radius_that_the_tool_does_not_give(shop: Shop) -> None:
    bend = bend_for(shop, shop.sheet("DC01", 1.6), angle=90, radius=10, tool="V12")
    assert bend.radius == 10
    assert [(n.code, n.severity) for n in bend.notes] == [("bend.radius", "caution")]
    assert "1.92" in bend.notes[0].remedy


def test_shop_without_tools(shop: Shop) -> None:
    bare = dataclasses.replace(shop, tools=())
    bend = bend_for(bare, shop.sheet("DC01", 1.6), angle=90)
    assert bend.tool == bend.process == ""
    assert [n.code for n in Findings(bend.notes).stops] == ["bend.tool"]
    assert bend.radius == 2.5  # DIN 6935's smallest for 1.6 mm


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({"angle": 181}, "more than 0 to 180"),
        ({"angle": 0}, "more than 0 to 180"),
        ({"angle": float("nan")}, "angle"),
        ({"angle": "ninety"}, "angle"),
        ({"angle": 90, "radius": 0}, "fold 'x' radius"),
        ({"angle": 90, "radius": -1}, "radius"),
        ({"angle": 90, "leg": -1}, "leg"),
        ({"angle": 90, "length": 0}, "length"),
        ({"angle": 90, "rule": "shop K"}, "typed K"),
        ({"angle": 90, "rule": "typed deduction"}, "typed deduction"),
    ],
)
def test_bad_input_names_the_field(shop: Shop, more: dict[str, object], said: str) -> None:
    with pytest.raises(BadValue, match=said):
        bend_for(shop, shop.sheet("DC01", 1.6), field="fold 'x'", **more)  # type: ignore[arg-type]


def test_unknown_tool_and_rule_list_what_exists(shop: Shop) -> None:
    sheet = shop.sheet("DC01", 1.6)
    with pytest.raises(UnknownName, match="V12"):
        bend_for(shop, sheet, angle=90, tool="V13")
    with pytest.raises(UnknownName, match="DIN 6935"):
        bend_for(shop, sheet, angle=90, rule="DIN")
    with pytest.raises(UnknownName, match="closed, open, teardrop"):
        hem_bend(shop, sheet, "rolled")


# --- legs ------------------------------------------------------------------------------------------------


def test_shortest_leg(shop: Shop) -> None:
    """Air-bend chart: V16 11.53, V25 18.0, V50 37.5 at 90 degrees; the folder's is the shop's own."""
    sheet = shop.sheet("DC01", 1.6)
    for key, leg in (("V16", 11.53), ("V25", 18.0), ("V50", 37.5), ("VB16", 11.53), ("F1", 8.0)):
        assert shop.tool(key).shortest_leg(sheet.thickness, 90, 2.0) == pytest.approx(leg)
    # At 120 degrees sqrt(2) times that to the apex, less (r + t)(tan 60 - 1) to the tangent.
    expected = 11.53 * math.sqrt(2) - 3.6 * (math.sqrt(3) - 1)
    assert shop.tool("V16").shortest_leg(sheet.thickness, 120, 2.0) == pytest.approx(expected)


def test_turns(shop: Shop) -> None:
    assert shop.tool("F1").turns(135)
    assert not shop.tool("F1").turns(136)
    assert shop.tool("VB25").turns(92)
    assert not shop.tool("VB25").turns(93)
    assert shop.tool("V12").turns(150)


# --- hems ------------------------------------------------------------------------------------------------


def test_closed_hem(shop: Shop) -> None:
    """43 % of t off the sum of the lengths measured to the fold's outer edge (trade rule)."""
    sheet = shop.sheet("DC01", 1.2)
    bend = hem_bend(shop, sheet, "closed")
    assert (bend.radius, bend.angle, bend.k, bend.tool) == (0.05, 180.0, None, "F1")
    assert 38 - 2 * (bend.radius + 1.2) + bend.allowance == pytest.approx(38 - 0.43 * 1.2)
    for bad in (1.2, -0.1):
        with pytest.raises(BadValue, match="closed hem"):
            hem_bend(shop, sheet, "closed", bad)


def test_open_hem_is_a_half_turn_round_half_the_gap(shop: Shop) -> None:
    bend = hem_bend(shop, shop.sheet("DC01", 1.0), "open", "2 mm")
    k = 0.65  # DIN 6935 at r = s
    assert bend.radius == 1.0
    assert bend.allowance == pytest.approx(math.pi * (1.0 + k / 2))
    # Left out, a second sheet goes in at the top of its tolerance: EN 10131, 1.0 mm ± 0.06.
    assert hem_bend(shop, shop.sheet("DC01", 1.0), "open").radius == pytest.approx(1.06 / 2)
    assert hem_bend(shop, replace(shop.sheet("DC01", 1.0), measured=0.97), "open").radius == pytest.approx(0.97 / 2)


def test_teardrop_hem_turns_past_180(shop: Shop) -> None:
    bend = hem_bend(shop, shop.sheet("DC01", 1.0), "teardrop", 2, leg=10)
    assert bend.k is not None
    assert 180 < bend.angle < 200
    assert bend.allowance == pytest.approx(math.radians(bend.angle) * (1 + bend.k))


def test_hem_that_no_tool_starts(shop: Shop) -> None:
    bend = hem_bend(shop, shop.sheet("S235", 12), "open")
    assert [(n.code, n.severity) for n in bend.notes] == [("hem.tool", "caution")]
    assert bend.tool == ""
    assert bend.who == shop.name


@given(
    index=st.integers(0, 28),
    angle=st.floats(1, 180),
    leg=st.one_of(st.none(), st.floats(1, 200)),
    radius=st.one_of(st.none(), st.floats(0.1, 30)),
    length=st.one_of(st.none(), st.floats(1, 4000)),
)
def test_always_a_bend(index: int, angle: float, leg: float | None, radius: float | None, length: float | None) -> None:
    """Any sheet of the demo, any fold: an allowance shorter than the outer skin's arc and longer than the inner's."""
    shop = Shop.demo()
    sheet = shop.sheets[index]
    bend = bend_for(shop, sheet, angle=angle, leg=leg, radius=radius, length=length)
    turn = math.radians(angle)
    assert turn * bend.radius <= bend.allowance <= turn * (bend.radius + sheet.thickness)
    assert bend == bend_for(shop, sheet, angle=angle, leg=leg, radius=radius, length=length)
    if leg is not None and not bend.notes and bend.tool:
        fits = [
            t
            for t in shop.tools
            if t.takes(sheet.material, sheet.nominal)
            and t.turns(angle)
            and (length is None or length <= t.max_length)
            and t.shortest_leg(sheet.thickness, angle, radius or t.radius(sheet.material, sheet.thickness)) <= leg
        ]
        assert not fits or shop.tool(bend.tool) in fits


def test_a_fold_line_breaks_at_an_opening_whose_corners_lie_on_it(shop: Shop) -> None:
    """A lozenge from x = 90 to 110 with two corners on the line: each corner is one crossing, though two edges meet there."""
    part = Part("HN-X", sheet="DC01 1.5", base=Outline.rectangle(200, 100)).fold("front", leg=40, tool="V12")
    (whole,) = make(part, shop).flat.folds
    ((_, y), _) = whole.pieces[0]
    lozenge = Outline.polygon([(90, y), (100, y - 8), (110, y), (100, y + 8)], ["a", "b", "c", "d"])
    (broken,) = make(part.cut_out(lozenge), shop).flat.folds
    ends = sorted(sorted(round(x, 6) for x, _ in piece) for piece in broken.pieces)
    assert ends == [[0.0, 90.0], [110.0, 200.0]]
