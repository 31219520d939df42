"""Every joint against its rule: forces that statics gives, resistances worked out by hand, no number outside a rule."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest

import tinbook as tb
from strategies import SHOP
from tinbook.errors import BadValue, OutOfRange
from tinbook.strength import loads as ld
from tinbook.strength import supports as on
from tinbook.strength.joints.load import JointLoad, SheetAt
from tinbook.strength.joints.picture import BANDS, BEYOND, picture
from tinbook.strength.joints.rules import Joining, bolt_for, correlation, used

FIXINGS = SHOP.fixings


def sheet(thickness: float, tensile: float = 270.0, **more: float) -> SheetAt:
    given = {"end": 50.0, "edge": 50.0, "pitch": 100.0, **more}
    return SheetAt(thickness=thickness, yields=140.0, tensile=tensile, grade="DC01", family="mild steel", **given)


def joint(
    kind: str, first: SheetAt, force: tuple[float, float, float] = (1000.0, 0.0, 0.0), **more: object
) -> JointLoad:
    given: dict = {"second": first, "moment": (0.0, 0.0, 0.0), **more}
    return JointLoad(
        name="one", kind=kind, at=(0.0, 0.0, 0.0), axis=(0.0, 0.0, -1.0), force=force, first=first, **given
    )


# -- rules by hand --------------------------------------------------------------------------------


def test_a_spot_weld_by_en_1993_1_3_table_8_5():
    # 2.7 sqrt(1) 5 270 / 1.25 = 2916 N (nugget 5 sqrt(t)); 1000 N x 1.5 uses 51.4 %.
    u = used(joint("spot weld", sheet(1.0)), Joining(), FIXINGS)
    assert u.use == pytest.approx(1500 / 2916.0, rel=1e-6)
    assert (u.source, u.clause) == ("EN 1993-1-3", "8.4, table 8.5")
    # 12 mm from the end 1.4 x 1 x 12 x 270 / 1.25 = 3629 N does not govern.
    assert used(joint("spot weld", sheet(1.0, end=12.0)), Joining(), FIXINGS).use == pytest.approx(u.use)
    # Below two nuggets from the end the table ends.
    assert used(joint("spot weld", sheet(1.0, end=9.0)), Joining(), FIXINGS).use is None


def test_a_plug_weld_by_its_hole_and_its_thickness():
    # 8 mm in 1.2 mm is body practice: nugget 5 sqrt(1.2) = 5.477, 2.7 sqrt(1.2) 5.477 270 / 1.25 = 3499 N.
    thin = used(joint("plug weld", sheet(1.2, hole=8.0)), Joining(), FIXINGS)
    assert thin.use == pytest.approx(1500 / 3499.2, rel=1e-4)
    assert thin.source == "own proposal"
    # 14 mm in 5 mm S235: pi/4 14² x 360 / (sqrt(3) 0.8 1.25) = 31 995 N (EN 1993-1-8 4.5.3.3).
    thick = replace(sheet(5.0, 360.0, hole=14.0), yields=235.0)
    u = used(joint("plug weld", thick), Joining(), FIXINGS)
    assert u.use == pytest.approx(1500 / 31995.0, rel=1e-3)
    assert u.source == "EN 1993-1-8"


def test_a_bolt_bears_on_the_sheet_in_front_of_it():
    # M8 in 1.2 mm of DC01 with e1 = 20: 4251 N (worked out in the sources of test_joints of the formulas).
    first = sheet(1.2, hole=9.0, end=20.0)
    u = used(joint("bolt", first, second=sheet(1.2, hole=9.0, end=60.0)), Joining(), FIXINGS)
    assert u.use == pytest.approx(1500 / 4251.0, rel=1e-3)
    assert "bearing in 1.2 mm" in u.by
    # 13.5 mm from a side, u = 27: (27 - 9) 1.2 x 270 / 1.25 = 4666 N beside the hole, bearing 5101 N (table 8.4).
    strip = sheet(1.2, hole=9.0, end=60.0, edge=13.5)
    u = used(joint("bolt", strip, second=sheet(1.2, hole=9.0, end=60.0)), Joining(), FIXINGS)
    assert u.use == pytest.approx(1500 / 4665.6, rel=1e-4)
    assert "tearing across the hole" in u.by
    # Thick plates: the bolt itself, M8 8.8: 0.6 x 800 x 36.6 / 1.25 = 14 054 N.
    thick = sheet(6.0, 360.0, hole=9.0)
    u = used(joint("bolt", thick), Joining(), FIXINGS)
    assert u.use == pytest.approx(1500 / 14054.0, rel=1e-3)
    # 0.9 x 800 x 36.6 / 1.25 = 21 082 N in tension with 1/1.4 beside the shear.
    both = used(joint("bolt", thick, (1000.0, 0.0, -4000.0)), Joining(), FIXINGS)
    assert both.use == pytest.approx(1500 / 14054 + 6000 / 21082 / 1.4, rel=2e-3)


def test_a_screw_by_aisi_and_an_insert_by_its_maker():
    # ST4.8, 1 mm on 1 mm, 310 MPa: 4.2 sqrt(1 x 4.8) 310 = 2853 N (AISI S100 J4.3.1); a third of it works.
    row = next(r for r in FIXINGS.tack_screws if r.size == "ST4.8" and r.over < 1.0 <= r.upto)
    u = used(joint("tack screw", sheet(1.0, 310.0, hole=row.clearance), (500.0, 0.0, 0.0)), Joining(), FIXINGS)
    assert u.use == pytest.approx(3 * 500 / 2853.0, rel=1e-3)
    # M6 insert: 3.0 kN in shear, 16.5 kN pulled (maker's sheet), a straight line between, load factor 1.5.
    u = used(joint("nut insert", sheet(1.5, hole=9.0), (600.0, 0.0, -1650.0)), Joining(), FIXINGS)
    assert u.use == pytest.approx(1.5 * (600 / 3000 + 1650 / 16500), rel=1e-9)


def test_a_blind_rivet_by_the_sheet_and_by_its_standard():
    # EN 1993-1-3 table 8.1, 1 mm on 1 mm: 3.6 sqrt(1 / 4.8) 4.8 x 270 / 1.25 = 1703.6 N; ISO 15979: 2900 / 1.25 = 2320 N.
    riveted = Joining(rivets="ISO 15979")
    first = sheet(1.0, hole=4.9, end=12.0)
    u = used(joint("blind rivet", first, (500.0, 0.0, 0.0)), riveted, FIXINGS)
    assert u.use == pytest.approx(750 / 1703.6, rel=1e-3)
    assert u.by == "bearing in 1 mm"
    # Aluminium body (ISO 15977): 1200 / 1.25 = 960 N; grip 2 mm takes the length of 6 (ISO 15981).
    soft = used(joint("blind rivet", first, (500.0, 0.0, 0.0)), Joining(rivets="ISO 15977"), FIXINGS)
    assert soft.use == pytest.approx(750 / 960)
    assert "4.8 x 6 of ISO 15977" in soft.by
    # Pulled apart: 3100 / 1.25 = 2480 N of its own, and the head's pull-through by the shop's test of 1500 N.
    pulled = joint("blind rivet", first, (500.0, 0.0, -300.0))
    assert "is to be tested" in used(pulled, riveted, FIXINGS).by
    tested = used(pulled, replace(riveted, pull_tested=1500.0), FIXINGS)
    assert tested.use == pytest.approx(750 / 1703.6 + 450 / 1500, rel=1e-3)
    # A hole of no rivet, too near a side, too near the next: not proved.
    for bad in (sheet(1.0, hole=6.0), sheet(1.0, hole=4.9, edge=7.0), sheet(1.0, hole=4.9, pitch=14.0)):
        assert used(joint("blind rivet", bad), riveted, FIXINGS).use is None


def test_seams_thin_and_thick_go_by_different_parts_of_the_code():
    along = (0.0, 1.0, 0.0)
    # Across an end as wide as the sheet, 2 mm: t (1 - 0.3) fu / 1.25 = 302.4 N/mm (EN 1993-1-3 8.5.2).
    thin = joint("seam", sheet(2.0), (3000.0, 0.0, 0.0), length=30.0, total=200.0, width=300.0, along=along)
    u = used(thin, Joining(), FIXINGS)
    assert u.use == pytest.approx(1.5 * 3000 / (30 * 302.4), rel=1e-6)
    assert (u.source, u.clause) == ("EN 1993-1-3", "8.5.2")
    # Along it, 200 long on a sheet 300 wide: t (0.9 - 0.45 200/300) fu / 1.25 = 259.2 N/mm.
    side = replace(thin, force=(0.0, 3000.0, 0.0))
    assert used(side, Joining(), FIXINGS).use == pytest.approx(1.5 * 3000 / (30 * 259.2), rel=1e-6)
    # 6 mm S235, throat 4: 360 / (sqrt(3) 0.8 1.25) = 207.8 MPa whatever the direction (EN 1993-1-8 4.5.3.3).
    plate = replace(sheet(6.0, 360.0), yields=235.0)
    fat = joint("seam", plate, (3000.0, 0.0, 4000.0), length=30.0, total=200.0, width=300.0, along=along)
    u = used(fat, Joining(throat=4.0), FIXINGS)
    assert u.use == pytest.approx(1.5 * 5000 / (4 * 30 * 207.85), rel=1e-4)
    assert u.source == "EN 1993-1-8"
    # A single fillet in bending, M = 30 N mm/mm: 6 M / a² = 11.25 MPa on top.
    bent = replace(fat, moment=(0.0, 900.0, 0.0))
    assert used(bent, Joining(throat=4.0), FIXINGS).use - u.use == pytest.approx(1.5 * 11.25 / 207.85, rel=1e-4)


def test_the_toe_of_a_seam_by_category():
    # 36 MPa at 2 million, over 1.35: 26.67 MPa bears 2 million cycles (EN 1993-1-9 7.1); 2 mm, 30 N/mm + 10 N mm/mm.
    seam = joint(
        "seam", sheet(2.0), (900.0, 0.0, 0.0), moment=(0.0, 300.0, 0.0), length=30.0, total=200.0, width=300.0,
        along=(0.0, 1.0, 0.0),
    )  # fmt: skip
    u = used(seam, Joining(cycles=2e6), FIXINGS)
    assert u.fatigue == pytest.approx((900 / 60 + 6 * 10 / 4) / (36 / 1.35), rel=1e-6)
    assert not u.holds


@pytest.mark.parametrize(
    ("kind", "first", "force", "why"),
    [
        ("plug weld", sheet(1.2, hole=8.0), (1000.0, 0.0, -500.0), "pulled off"),
        ("plug weld", sheet(1.2, hole=8.0, pitch=15.0), (1000.0, 0.0, 0.0), "to the next one"),
        ("plug weld", sheet(1.2, hole=14.0), (1000.0, 0.0, 0.0), "hole"),
        ("plug weld", sheet(3.5, hole=8.0), (1000.0, 0.0, 0.0), "thinner sheet"),
        ("bolt", sheet(1.2, hole=9.0), (1000.0, 0.0, -2000.0), "to be tested"),
        ("bolt", sheet(0.5, hole=9.0), (1000.0, 0.0, 0.0), "thickness"),
        ("bolt", sheet(1.2, hole=7.5), (1000.0, 0.0, 0.0), "hole of a bolt"),
        ("nut insert", sheet(1.5, hole=9.0, edge=10.0), (1000.0, 0.0, 0.0), "from a rim"),
        ("spot weld", replace(sheet(1.0), family="aluminium", grade="5754"), (1000.0, 0.0, 0.0), "carbon steel"),
    ],
)
def test_outside_its_rule_a_joint_is_not_proved(kind, first, force, why):
    u = used(joint(kind, first, force), Joining(), FIXINGS)
    assert u.use is None
    assert why in u.by
    assert not u.holds


@pytest.mark.parametrize(("hole", "size"), [(9.0, "M8"), (10.0, "M8"), (11.0, "M10"), (21.0, "M18"), (22.0, "M20")])
def test_a_hole_is_for_the_smallest_bolt_that_it_may_be_for(hole, size):
    # ISO 273: 21 mm is M18 coarse as well as M20 fine; 10 mm is M8 coarse; 9, 11 and 22 mm are medium.
    assert bolt_for(hole, FIXINGS).size == size


def test_a_tested_pull_counts_beside_the_shear():
    j = joint("plug weld", sheet(1.2, hole=8.0), (1000.0, 0.0, -500.0))
    u = used(j, Joining(pull_tested=2000.0), FIXINGS)
    assert u.use == pytest.approx(1500 / 3499.2 + 1.5 * 500 / 2000, rel=1e-4)


def test_the_correlation_factors_of_the_code():
    # EN 1993-1-8 table 4.1, from memory.
    assert [correlation(y) for y in (235, 275, 355, 420)] == [0.8, 0.85, 0.9, 1.0]


# -- forces of a part -----------------------------------------------------------------------------


@pytest.fixture(scope="module")
def strip():
    """A strip on two M8 bolts, 20 mm from its left end, pulled at its right end."""
    part = tb.Part("HN-T1", sheet="DC01 1.2", base=tb.Outline.rectangle(200, 80))
    for y in (20, 60):
        part = part.hole((20, y), use="bolt", size="M8")
    made = tb.make(part, SHOP)
    pull = ld.Pull(newtons=(2000.0, 0.0, 0.0), edge="right")
    return made, tb.strength_of(made, ["bolts", on.point((180, 40))], pull, size=12.0, frequencies=0)


def test_two_bolts_share_a_pull_and_bear_toward_the_near_end(strip):
    _, answer = strip
    uses = answer.joints.uses
    assert len(uses) == 2
    for u in uses:
        # Statics: half of 2000 N each, against the pull; the end in front is 20 mm away.
        assert u.joint.force[0] == pytest.approx(-1000.0, rel=1e-3)
        assert u.joint.first.end == pytest.approx(20.0, abs=0.6)
        assert u.joint.first.pitch == pytest.approx(40.0)
    # Load shared alike, and the resistance by hand (4251 N) all but the small sideways force at the bolts.
    assert answer.joints.worst.use == pytest.approx(1500 / 4251, rel=0.03)
    assert "worst bolt" in str(answer)


def test_the_answer_shows_its_joints(strip):
    made, answer = strip
    assert "joints" in answer.fields
    field = answer.field("joints")
    assert (field.high, field.unit) == (100.0, "%")
    assert field.values.max() == pytest.approx(100 * answer.joints.worst.use, rel=1e-5)
    assert [f.severity for f in answer.joints.findings] == ["fine"]
    assert answer.joints.ok
    html = answer.joints._repr_html_()
    assert "table 8.4" in html
    assert answer.joints.picture.count("<circle") == 2
    stronger = tb.strength.joints_of(made, answer, tb.strength.Joining(factor=6.0))
    assert [f.severity for f in stronger.findings] == ["stop", "stop"]
    assert not stronger.ok


def test_the_forces_of_all_welds_make_up_the_load():
    part = tb.Part("HN-T2", sheet="DC01 1.5", base=tb.Outline.rectangle(240, 160))
    part = part.holes_along(("left", "right"), dia=8, pitch=60, inset=15, use="plug weld")
    made = tb.make(part, SHOP)
    answer = tb.strength_of(made, "plug welds", ld.Pressure(pressure=0.5e-3), size=12.0, frequencies=0)
    total = np.sum([u.joint.force for u in answer.joints.uses], axis=0)
    # A pressure of 500 Pa on what the holes leave of 240 x 160 mm.
    area = 240 * 160 - len(answer.joints.uses) * math.pi * 16
    assert total[2] == pytest.approx(0.5e-3 * area, rel=0.01)
    lefts = [u.joint for u in answer.joints.uses if u.joint.at[0] < 120]
    rights = [u.joint for u in answer.joints.uses if u.joint.at[0] > 120]
    assert sorted(round(j.shear, 1) for j in lefts) == pytest.approx(sorted(round(j.shear, 1) for j in rights), abs=0.3)


def test_a_welded_edge_is_one_seam_judged_on_its_worst_stretch():
    part = tb.Part("HN-T3", sheet="DC01 2.0", base=tb.Outline.rectangle(200, 60))
    made = tb.make(part, SHOP)
    answer = tb.strength_of(
        made, "welded: left", ld.Pull(newtons=(6000.0, 0.0, 0.0), edge="right"), size=6.0, frequencies=0
    )
    (u,) = answer.joints.uses
    # Evenly pulled: 6000 N on 60 mm, 3000 on the stretch of 30 that counts; its ends carry a little more.
    assert u.joint.length == pytest.approx(30.0)
    assert -u.joint.force[0] == pytest.approx(3000.0, rel=0.12)
    assert u.use == pytest.approx(1.5 * 3000 / (30 * 302.4), rel=0.12)


def test_no_joint_no_table():
    made = tb.make(tb.Part("HN-T4", sheet="DC01 2.0", base=tb.Outline.rectangle(200, 60)), SHOP)
    answer = tb.strength_of(made, "clamped: left", "own weight", size=20.0, frequencies=0)
    assert answer.joints is None
    assert "joints" not in answer.fields
    with pytest.raises(BadValue, match="held by plug welds"):
        tb.strength.joints_of(made, answer)


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("onto", 0.0), ("onto", math.nan), ("onto", "thick"), ("side", "left"), ("bolt_class", "9.8"), ("factor", 0.5),
        ("factor", math.inf), ("throat", -1.0), ("cycles", 10.0), ("category", 20.0), ("pull_tested", 0.0),
        ("onto_tensile", 1e9), ("both", "yes"),
    ],
)  # fmt: skip
def test_joining_names_what_it_takes(field, value):
    with pytest.raises(BadValue, match=field.split("_")[0]):
        Joining(**{field: value})


def test_the_wrong_answer_is_refused(strip):
    made, answer = strip
    with pytest.raises(BadValue):
        tb.strength.joints_of(made, "answer")
    with pytest.raises(BadValue):
        tb.strength.joints_of("made", answer)
    with pytest.raises(BadValue):
        tb.strength.joints_of(made, answer, "8.8")
    other = tb.make(tb.Part("HN-T5", sheet="DC01 2.0", base=tb.Outline.rectangle(200, 60)), SHOP)
    with pytest.raises(BadValue, match="HN-T5"):
        tb.strength.joints_of(other, answer)
    beyond = replace(answer, under=replace(answer.under, complete=False))
    with pytest.raises(OutOfRange):
        tb.strength.joints_of(made, beyond)


def test_pictures_take_the_colours_of_the_view(root):
    ramp = (root / "kit" / "viewer" / "ramp.js").read_text(encoding="utf-8")
    bands, beyond = ramp.partition("BEYOND")[::2]
    assert tuple(re.findall(r"#[0-9a-f]{6}", bands)) == tuple(BANDS)
    assert re.findall(r"#[0-9a-f]{6}", beyond)[0] == BEYOND


def test_names_in_the_picture_lie_over_no_other_and_within_it():
    """Eight bolts in a row and two seams at the rim; widths are those of the font that the PNG is set in."""
    from PIL import ImageFont

    bolts = [
        (f"foot bolt {k + 1} of foot of front cradle", (60.0 + 70 * k, 20.0, 0.0), 0.06 + k / 100) for k in range(8)
    ]
    seams = [(f"seam {k} of rear pin fork on rear cradle", (590.0 + k, 395.0 - 10 * k, 0.0), 0.5) for k in (1, 2)]
    corners = np.array([(0.0, 0, 0), (600, 0, 0), (600, 400, 0), (0, 400, 0)])
    drawn = picture(corners, np.array([[0, 1, 2, 3]]), np.array([0]), [*bolts, *seams], "joints")
    found = re.findall(r'<text x="([\d.]+)" y="(-?[\d.]+)"[^>]*text-anchor="(\w+)"[^>]*>(?:foot|seam)([^<]*)<', drawn)
    assert len(found) == 8
    boxes = []
    for x, y, anchor, words in found:
        wide = ImageFont.load_default(12).getlength("foot" + words)
        left = float(x) - (wide if anchor == "end" else 0)
        boxes.append((left, float(y) - 9, left + wide, float(y) + 2))
    assert min(b[0] for b in boxes) >= 0
    assert max(b[2] for b in boxes) <= 720
    for a, b in combinations(boxes, 2):
        assert not (a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3])
