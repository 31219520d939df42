"""Bolts, screws, inserts and welds: values worked out by hand from the codes, and what others print for them."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

import tinbook as tb
from tinbook.calc import bolts, joints, screws, spotwelds, welds
from tinbook.errors import BadValue, OutOfRange, UnknownName
from tinbook.shop.standard import library
from tinbook.strength.joints.fixing_rules import on_bolt
from tinbook.strength.joints.joining import Joining
from tinbook.strength.joints.load import JointLoad, SheetAt, sheet_at


# ISO 898-1:2013 table of stress areas (from memory).
@pytest.mark.parametrize(
    ("d", "pitch", "area"),
    [
        (4, 0.7, 8.78),
        (5, 0.8, 14.2),
        (6, 1.0, 20.1),
        (8, 1.25, 36.6),
        (10, 1.5, 58.0),
        (12, 1.75, 84.3),
        (16, 2.0, 157),
    ],
)
def test_stress_area(d: float, pitch: float, area: float) -> None:
    assert bolts.stress_area(d, pitch) == pytest.approx(area, rel=0.004)


def test_bolts_by_the_code() -> None:
    """EN 1993-1-8 by hand: M8 of class 8.8, 36.6 mm²: shear 14.05, tension 21.08 kN."""
    assert bolts.bolt_strength("8.8") == (640, 800)
    assert joints.bolt_shear("8.8", 36.6, diameter=8, hole=9) == pytest.approx(14_054, abs=1)
    assert joints.bolt_tension("8.8", 36.6) == pytest.approx(21_082, abs=1)
    # 10.9 through the thread counts 0.5 (M12: 84.3 x 1000 x 0.5 / 1.25), through the shank 0.6.
    assert joints.bolt_shear("10.9", 84.3, diameter=12, hole=13) == pytest.approx(33_720)
    assert joints.bolt_shear("10.9", 113.1, diameter=12, hole=13, in_thread=False) == pytest.approx(54_288)
    assert joints.bolt_tension("8.8", 36.6, countersunk=True) == pytest.approx(0.63 * 800 * 36.6 / 1.25)
    # Punching: 0.6 pi 14 x 4 x 360 / 1.25 by hand.
    assert joints.bolt_punching(14, 4, 360) == pytest.approx(30_401, abs=1)
    # Half the shear and half the tension resistance: 0.5 + 0.5/1.4; pure tension counts fully.
    assert joints.bolt_combined(7, 14, 10, 20) == pytest.approx(0.857, abs=5e-4)
    assert joints.bolt_combined(0, 14, 20, 20) == 1.0


# Resistance tables of a steelmaker to EN 1993-1-8, kN, single shear in normal holes of 2 mm clearance:
# class 8.8 M12 27.5, M16 60.3, M20 94.1, M24 136; class 4.6 M12 16.2, M16 30.1, M20 47.0, M24 67.8.
@pytest.mark.parametrize(
    ("bolt_class", "diameter", "area", "kilonewtons"),
    [
        ("8.8", 12, 84.3, 27.5), ("8.8", 16, 157, 60.3), ("8.8", 20, 245, 94.1), ("8.8", 24, 353, 136),
        ("4.6", 12, 84.3, 16.2), ("4.6", 16, 157, 30.1), ("4.6", 20, 245, 47.0), ("4.6", 24, 353, 67.8),
    ],
)  # fmt: skip
def test_shear_in_holes_of_two_millimetres_more(
    bolt_class: str, diameter: float, area: float, kilonewtons: float
) -> None:
    shear = joints.bolt_shear(bolt_class, area, diameter=diameter, hole=diameter + 2)
    assert shear / 1000 == pytest.approx(kilonewtons, rel=4e-3)


def test_shear_of_m12_by_the_width_of_its_hole() -> None:
    """EN 1993-1-8 3.6.1(5): 0.6 x 800 x 84.3 / 1.25 = 32.4 kN in a hole of 13 mm, 27.5 kN in 13.5 and in 14 mm."""
    by_hole = [joints.bolt_shear("8.8", 84.3, diameter=12, hole=h) for h in (13, 13.5, 14)]
    assert by_hole == pytest.approx([32_371, 27_516, 27_516], abs=1)
    for diameter, hole in ((8, 9.5), (12, 14.5), (16, 18.5), (30, 33.5)):
        with pytest.raises(OutOfRange, match="clearance of the hole"):
            joints.bolt_shear("8.8", 84.3, diameter=diameter, hole=hole)


# ISO 898-1, proof loads of coarse threads, N: class, diameter, stress area.
@pytest.mark.parametrize(
    ("bolt_class", "diameter", "area", "load"),
    [
        ("4.6", 8, 36.6, 8240), ("4.8", 8, 36.6, 11_400), ("5.6", 8, 36.6, 10_200), ("5.8", 8, 36.6, 13_900),
        ("6.8", 8, 36.6, 16_100), ("8.8", 6, 20.1, 11_600), ("8.8", 8, 36.6, 21_200), ("8.8", 10, 58.0, 33_700),
        ("8.8", 12, 84.3, 48_900), ("8.8", 16, 157, 91_000), ("8.8", 18, 192, 115_000), ("8.8", 20, 245, 147_000),
        ("10.9", 8, 36.6, 30_400), ("10.9", 16, 157, 130_000),
    ],
)  # fmt: skip
def test_proof_loads(bolt_class: str, diameter: float, area: float, load: float) -> None:
    assert bolts.proof_strength(bolt_class, diameter) * area == pytest.approx(load, rel=6e-3)


def test_proof_refuses_what_the_standard_does_not_give() -> None:
    with pytest.raises(UnknownName, match=r"8\.8"):
        bolts.proof_strength("8,8", 8)
    with pytest.raises(OutOfRange, match="ISO 898-1"):
        bolts.proof_strength("8.8", 48)


def test_bearing_in_plate() -> None:
    """EN 1993-1-8 by hand: M8, hole 9, e1 20, e2 15, fu 360, t 3: 12.80 kN."""
    assert joints.bolt_bearing(8, 9, 3, 360, 20, 15) == pytest.approx(12_800, abs=1)
    # e1 limits at 1.2 d0 = 10.8: ab 0.4; then the pitch does, 25/27 - 0.25.
    assert joints.bolt_bearing(8, 9, 3, 360, 10.8, 15) == pytest.approx(2.5 * 0.4 * 360 * 8 * 3 / 1.25)
    assert joints.bolt_bearing(8, 9, 3, 360, 40, 15, pitch=25) == pytest.approx(
        2.5 * (25 / 27 - 0.25) * 360 * 8 * 3 / 1.25
    )
    with pytest.raises(OutOfRange, match="end distance"):
        joints.bolt_bearing(8, 9, 3, 360, 10.7, 15)
    with pytest.raises(OutOfRange, match="thickness"):
        joints.bolt_bearing(8, 9, 2.9, 360, 20, 15)


def test_bearing_in_sheet() -> None:
    """EN 1993-1-3 table 8.4 by hand: M8 in 1.2 mm DC01 4.251 kN; M6 in 2 mm S235 7.20 kN."""
    assert joints.bolt_bearing_in_sheet(8, 9, 1.2, 270, 20, 15) == pytest.approx(4251, abs=1)
    assert joints.bolt_bearing_in_sheet(6, 6.6, 2.0, 360, 15, 12) == pytest.approx(7200, abs=1)
    for bad in (
        {"thickness": 0.7},
        {"thickness": 3.0},
        {"diameter": 5.0},
        {"tensile": 600.0},
        {"end": 8.0},
        {"edge": 13.0},
    ):
        given = {"diameter": 8.0, "hole": 9.0, "thickness": 1.2, "tensile": 270.0, "end": 20.0, "edge": 15.0} | bad
        with pytest.raises(OutOfRange):
            joints.bolt_bearing_in_sheet(**given)
    with pytest.raises(BadValue, match="hole"):
        joints.bolt_bearing_in_sheet(8, 7.9, 1.2, 270, 20, 15)


def test_net_section_in_sheet() -> None:
    """By hand: 40 x 1.2 strap, hole 9, fu 270, all bolts in the row, u = 40: factor 1 + 3 (0.225 - 0.3) = 0.775."""
    area = (40 - 9) * 1.2
    assert joints.net_section_in_sheet(area, 270, 9, 40) == pytest.approx(0.775 * area * 270 / 1.25)
    assert joints.net_section_in_sheet(area, 270, 9, 20) == pytest.approx(area * 270 / 1.25)
    assert joints.net_section_in_sheet(area, 270, 9, 40, share=0.5) == pytest.approx(0.8875 * area * 270 / 1.25)


# A bolted lap by a handbook: Steel Buildings in Europe, Multi-Storey Steel Buildings, part 5 Joint design (2008), worked
# examples read: M20 8.8 in holes of 22 mm, S275 with fu 430 MPa. It rounds ab and k1 to two digits. End plate 12 mm (p. 5-17),
# fin plate 10 mm along and across (p. 5-41), cover plate of a column splice 12 mm (p. 5-100, partial factor 1.1).
@pytest.mark.parametrize(
    ("t", "end", "edge", "pitch", "gauge", "gamma", "kilonewtons"),
    [
        (12, 40, 30, math.inf, math.inf, 1.25, 107), (12, math.inf, 30, 70, math.inf, 1.25, 142),
        (10, 40, 50, 70, 60, 1.25, 89), (10, 50, 40, 60, 70, 1.25, 114),
        (12, 40, 55, math.inf, math.inf, 1.1, 143), (12, math.inf, 55, 160, math.inf, 1.1, 235),
    ],
)  # fmt: skip
def test_bearing_as_a_handbook_works_it_out(
    t: float, end: float, edge: float, pitch: float, gauge: float, gamma: float, kilonewtons: float
) -> None:
    bears = joints.bolt_bearing(20, 22, t, 430, end, edge, pitch=pitch, gauge=gauge, gamma=gamma)
    assert bears / 1000 == pytest.approx(kilonewtons, rel=0.01)


def test_a_cover_plate_as_a_handbook_works_it_out() -> None:
    """The splice's cover plate, 260 x 12: 858 kN over its whole section, 802 kN across two holes; a bolt 94 kN (p. 5-96, 5-17)."""
    assert joints.net_section_in_plate(12 * (260 - 2 * 22), 430) / 1000 == pytest.approx(802, abs=0.5)
    assert joints.bolt_shear("8.8", 245, diameter=20, hole=22) / 1000 == pytest.approx(94, abs=0.5)


def test_the_table_of_joints_says_what_the_handbook_says_of_a_lap() -> None:
    """Four M20 share 400 kN, two in line; the same end plate of 12 mm: bearing 100 / 107, each bolt itself 100 / 94."""
    sheet = SheetAt(
        thickness=12, yields=275, tensile=430, hole=22, end=40, edge=30, pitch=140, family="structural steel"
    )
    load = JointLoad(name="bolt 1", kind="bolt", at=(0, 0, 0), axis=(0, 0, 1), force=(100e3, 0, 0), moment=(0, 0, 0),
                     first=sheet, second=sheet)  # fmt: skip
    ways = {what: use for use, what in on_bolt(load, Joining(factor=1.0), library().fixings)}
    assert ways["bearing in 12 mm"] == pytest.approx(100 / 107, rel=0.01)
    assert ways["M20 8.8 itself"] == pytest.approx(100 / 94, rel=0.005)
    # Beside the hole 60 mm wide carry one bolt: 0.9 (60 - 22) 12 x 430 / 1.25 by the same rule as above.
    assert ways["tearing across the hole in 12 mm (EN 1993-1-1 6.2.3)"] == pytest.approx(100 / 141.2, rel=1e-3)


@pytest.mark.parametrize(
    ("wide", "at", "others", "kilonewtons"),
    [
        # The cover plate above, 802 kN across its two holes: each of them 55 from a side and 150 from the other.
        (260, (200, 55), [(200, 205)], 802 / 2),
        # 0.9 (60 - 22) 12 x 430 / 1.25 across one hole, which the hole further in carries for both, the outer one for itself.
        (60, (200, 30), [(270, 30)], 141.2 / 2),
        (60, (270, 30), [(200, 30)], 141.2),
    ],
)
def test_a_section_carries_the_bolts_in_line_before_it_and_what_lies_beside_it(wide, at, others, kilonewtons) -> None:
    """A plate whose right end is 40 mm from the last of its M20, each of which pushes it 100 kN to the right."""
    plate = tb.Part("Q", sheet="DC01 1.5", base=tb.Outline.rectangle(310, wide))
    around = [((*place, 0.0), (100e3, 0.0, 0.0)) for place in others]
    made = tb.make(plate, tb.Shop.demo())
    sheet = replace(
        sheet_at(made, made.panel("base"), at, (100e3, 0.0, 0.0), 22.0, around), thickness=12.0, tensile=430.0
    )
    load = JointLoad(name="bolt 1", kind="bolt", at=(0, 0, 0), axis=(0, 0, 1), force=(100e3, 0, 0), moment=(0, 0, 0),
                     first=sheet, second=sheet)  # fmt: skip
    ways = {what: use for use, what in on_bolt(load, Joining(factor=1.0), library().fixings)}
    assert ways["tearing across the hole in 12 mm (EN 1993-1-1 6.2.3)"] == pytest.approx(100 / kilonewtons, rel=1e-3)


def test_least_distances() -> None:
    """EN 1993-1-3 table 8.4 below 3 mm; EN 1993-1-8 table 3.3 from there (M8, hole 9)."""
    assert joints.least_distances(9, 1.2) == {"e1": 9, "e2": 13.5, "p1": 27, "p2": 27}
    plate = joints.least_distances(9, 3)
    assert plate == pytest.approx({"e1": 10.8, "e2": 10.8, "p1": 19.8, "p2": 21.6})


def test_screws() -> None:
    """AISI S100 J4 by hand: 1.0 on 1.0 mm, screw 4.8, Fu 310: tilting 2.853 kN, bearing 4.018 kN."""
    assert screws.screw_shear(1, 1, 4.8, 310, 310) == pytest.approx(2853, abs=1)
    assert screws.screw_shear(1, 2.5, 4.8, 310, 310) == pytest.approx(4018, abs=1)
    # Halfway between ratio 1 and 2.5 the code interpolates; the far sheet's own tilting is larger here.
    t2 = 1.75
    tilting = min(4.2 * math.sqrt(t2**3 * 4.8) * 310, 4017.6)
    assert screws.screw_shear(1, t2, 4.8, 310, 310) == pytest.approx((tilting + 4017.6) / 2)
    # By hand: 0.85 x 1.5 x 4.8 x 310 and 1.5 x 1.0 x 10 x 310; wide washers count to 19.1 mm only.
    assert screws.screw_pull_out(1.5, 4.8, 310) == pytest.approx(1897.2)
    assert screws.screw_pull_over(1, 10, 310) == pytest.approx(4650)
    assert screws.screw_pull_over(1, 30, 310) == pytest.approx(1.5 * 19.1 * 310)
    assert screws.screw_end(1, 10, 4.8, 310) == pytest.approx(3100)
    with pytest.raises(OutOfRange, match="screw diameter"):
        screws.screw_shear(1, 1, 8, 310, 310)
    with pytest.raises(OutOfRange, match="end distance"):
        screws.screw_end(1, 7, 4.8, 310)


# A maker's technical guide prints these ultimate shear values for a 0.190 in screw in steel of 45 ksi.
@pytest.mark.parametrize(("inch", "pounds"), [(0.048, 865), (0.060, 1210)])
def test_screw_shear_as_a_maker_prints_it(inch: float, pounds: float) -> None:
    t, d, fu = 25.4 * inch, 25.4 * 0.190, 45 * 6.894757
    assert screws.screw_shear(t, t, d, fu, fu) / 4.448222 == pytest.approx(pounds, rel=0.003)


def test_inserts() -> None:
    """Straight line by hand: 2 of 16.5 kN and 0.5 of 3 kN with 1.5: 1.5 (0.1212 + 0.1667)."""
    assert screws.insert_utilisation(2000, 500, 16_500, 3000) == pytest.approx(0.432, abs=5e-4)
    with pytest.raises(BadValue, match="safety"):
        screws.insert_utilisation(1, 1, 1, 1, safety=0.9)


def test_plug_and_spot_welds() -> None:
    """EN 1993-1-3 table 8.5 by hand: t 1, nugget 5, fu 270: 2.916 kN; ends 1.4 t e1 fu."""
    found = spotwelds.spot_weld(1, 1, 5, 270, 12, 10)
    assert found["tearing and bearing"] == pytest.approx(2916)
    assert found["end"] == pytest.approx(1.4 * 12 * 270 / 1.25)
    assert found["weld shear"] == pytest.approx(math.pi / 4 * 25 * 270 / 1.25)
    # On a sheet thicker than 2.5 t the caps 0.7 d² and 3.1 t d apply: 0.7 x 25 x 270 / 1.25 is higher here.
    assert spotwelds.spot_weld(1, 3, 5, 270, 12, 10)["tearing and bearing"] == pytest.approx(2916)
    assert spotwelds.spot_weld(1, 3, 3, 270, 12, 10)["tearing and bearing"] == pytest.approx(0.7 * 9 * 270 / 1.25)
    assert spotwelds.nugget_diameter(1.44) == pytest.approx(6.0)
    # A body plug weld in 1.2 mm is counted as that sheet's spot weld: 2.7 sqrt(1.2) x 5.477 x 270 / 1.25 = 3499,
    # less than its weld's shear, 5089; 15 mm from the end 1.4 x 1.2 x 15 x 270 / 1.25 = 5443.
    assert spotwelds.body_plug_weld(8, 1.2, 1.6, 270, 15, 12) == pytest.approx(3499, abs=1)
    # EN 1993-1-8 plug: hole 12 in 4 mm of S235: pi/4 144 x 207.8 = 23.5 kN.
    assert spotwelds.plug_weld(12, 4, 360, 0.8) == pytest.approx(23_507, abs=10)
    with pytest.raises(OutOfRange, match="hole"):
        spotwelds.plug_weld(8, 1.2, 360, 0.8)
    # 10 mm in 3 and 4 mm of S235: body practice, whatever the shop's table of holes says.
    for t, least in ((3.0, 11.0), (4.0, 12.0)):
        assert spotwelds.least_plug_hole(t) == least
        with pytest.raises(OutOfRange, match=r"body practice, not calculable by EN 1993-1-8 4\.3\.5"):
            spotwelds.plug_weld(10, t, 360, 0.8)
    with pytest.raises(OutOfRange, match="end distance"):
        spotwelds.spot_weld(1, 1, 5, 270, 9, 10)


# Design strengths of fillets as steel handbooks print them: S235 207.8, S275 233.7 (430), S355 261.7 (510) MPa.
@pytest.mark.parametrize(("fu", "beta", "strength"), [(360, 0.8, 207.8), (430, 0.85, 233.7), (510, 0.9, 261.7)])
def test_fillet_strength(fu: float, beta: float, strength: float) -> None:
    assert welds.fillet_strength(fu, beta) == pytest.approx(strength, abs=0.06)


def test_fillets() -> None:
    """EN 1993-1-8: a 4, 100 long, S235: 83.1 kN. EN 1993-1-3 8.5.2 by hand for 1.5 mm laps 50 wide, fu 360."""
    assert welds.fillet_weld(4, 100, 6, 360, 0.8) == pytest.approx(83_138, abs=1)
    assert welds.lap_weld_side(40, 50, 1.5, 360) == pytest.approx(1.5 * 40 * (0.9 - 0.36) * 360 / 1.25)
    # Where the two branches meet, L = b, both give 0.45 t b fu.
    assert welds.lap_weld_side(50, 50, 1.5, 360) == pytest.approx(0.45 * 1.5 * 50 * 288)
    assert welds.lap_weld_side(80, 50, 1.5, 360) == pytest.approx(0.45 * 1.5 * 50 * 288)
    assert welds.lap_weld_end(50, 50, 1.5, 360) == pytest.approx(1.5 * 50 * 0.7 * 288)
    for call in (
        lambda: welds.fillet_weld(4, 100, 3, 360, 0.8),
        lambda: welds.fillet_weld(2.5, 100, 6, 360, 0.8),
        lambda: welds.fillet_weld(6, 34, 6, 360, 0.8),
        lambda: welds.lap_weld_side(10, 50, 1.5, 360),
        lambda: welds.lap_weld_end(60, 50, 1.5, 360),
        lambda: welds.lap_weld_end(60, 70, 4.5, 360),
    ):
        with pytest.raises(OutOfRange):
            call()


def test_weld_group_against_shigley() -> None:
    """Shigley's tables of welds as lines, b 60 across, d 100 upright: pair, box."""
    b, d = 60.0, 100.0
    left, right = ((0.0, 0.0), (0.0, d)), ((b, 0.0), (b, d))
    low, high = ((0.0, 0.0), (b, 0.0)), ((0.0, d), (b, d))
    pair = welds.weld_group([left, right])
    assert pair.centroid == pytest.approx((30, 50))
    assert pair.polar == pytest.approx(d * (3 * b**2 + d**2) / 6)
    assert pair.i_x == pytest.approx(d**3 / 6)
    box = welds.weld_group([left, right, low, high])
    assert box.polar == pytest.approx((b + d) ** 3 / 6)
    assert box.i_x == pytest.approx(d**2 / 6 * (3 * b + d))
    el = welds.weld_group([left, low])
    # L of weld: centroid x = b² / 2 (b + d), y = d² / 2 (b + d); J = ((b + d)⁴ - 6 b² d²) / 12 (b + d).
    assert el.centroid == pytest.approx((b**2 / 2 / (b + d), d**2 / 2 / (b + d)))
    assert el.polar == pytest.approx(((b + d) ** 4 - 6 * b**2 * d**2) / (12 * (b + d)))


def test_weld_line_force_by_hand() -> None:
    """Bracket on two upright lines 100 long and 60 apart, 10 kN down at 150 mm from their middle."""
    pair = welds.weld_group([((-30, -50), (-30, 50)), ((30, -50), (30, 50))])
    polar = 100 * (3 * 60**2 + 100**2) / 6
    down = 10_000 / 200 + 10_000 * 150 / polar * 30
    across = 10_000 * 150 / polar * 50
    assert welds.weld_line_force(pair, (0, -10_000, 0), (150, 0, 0)) == pytest.approx(math.hypot(down, across))
    # The same force on an arm that stands out 80 mm bends the group: M / (d³/6) x d/2, with the direct shear.
    bend = 10_000 * 80 / (100**3 / 6) * 50
    assert welds.weld_line_force(pair, (0, -10_000, 0), (0, 0, 80)) == pytest.approx(math.hypot(50, bend))
    assert welds.weld_line_force(pair, (0, 0, 3000)) == pytest.approx(15.0)
    single = welds.weld_group([((0, 0), (50, 0))])
    with pytest.raises(BadValue, match="weld lines"):
        welds.weld_line_force(single, (0, 1000, 0), (0, 0, 30))


def test_unknown_names_list_what_exists() -> None:
    with pytest.raises(UnknownName, match=r"10\.9"):
        bolts.bolt_strength("12.9")
