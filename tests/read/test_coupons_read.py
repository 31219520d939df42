"""Test strips from a table: what is fitted, what is refused with its line, and what the shop and its file make of it."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import tinbook as tb
from tinbook.errors import BadFile, BadValue
from tinbook.finding import Findings

SHOP = tb.Shop.demo()
HEAD = "sheet,tool,length,leg_a,leg_b,angle"


def deduction(angle: float, r: float = 2.0, k: float = 0.43, t: float = 1.5) -> float:
    a = math.radians(angle)
    return 2 * (math.tan(a / 2) if angle <= 90 else 1.0) * (r + t) - a * (r + k * t)


def strip(angle: float, off: float = 0.0, *, length: float = 120.0, sheet: str = "DC01 1.5", tool: str = "V12") -> str:
    a = 0.55 * length
    return f"{sheet},{tool},{length},{a:.3f},{length + deduction(angle) - a + off:.3f},{angle}"


SIX = [strip(60, 0.01), strip(60, -0.01), strip(90, 0.01), strip(90, -0.01), strip(120, 0.01), strip(120, -0.01)]


def table(tmp_path: Path, rows: list[str], head: str = HEAD) -> Path:
    path = tmp_path / "coupons.csv"
    path.write_text("\n".join([head, *rows]) + "\n", encoding="utf-8")
    return path


def test_six_strips(tmp_path):
    got = tb.coupons(table(tmp_path, SIX), SHOP)
    (row,) = got.bends
    assert (row.sheet, row.tool, row.strips, row.radius_from) == ("DC01 1.5", "V12", 6, "strips")
    assert row.radius == pytest.approx(2.0, abs=row.radius_band)
    assert row.k == pytest.approx(0.43, abs=row.k_band)
    assert (row.angle_min, row.angle_max) == (60, 120)
    assert "6 strips" in repr(got)
    assert got.groups[0].to_halve > 6


def test_the_blank_follows_the_strips(tmp_path):
    """From then on 40 + 30 outside at 90 degrees comes from a blank of 70 less what the strips deducted."""
    shop = SHOP.with_coupons(tb.coupons(table(tmp_path, SIX), SHOP))
    part = tb.Part("HN-CP", sheet="DC01 1.5", base=tb.Outline.rectangle(100, 40)).fold("front", leg=30, tool="V12")
    made, before = tb.make(part, shop), tb.make(part, SHOP)
    (fold,) = made.flat.folds
    assert fold.rule == "coupon"
    assert made.flat.size[1] == pytest.approx(70 - deduction(90), abs=0.02)
    assert 0 < fold.plus_minus < before.flat.folds[0].plus_minus
    assert "6 coupons" in made.strips[0].bend.plus_minus_from
    assert "no coupons" in before.strips[0].bend.plus_minus_from


@pytest.mark.parametrize(
    ("grain", "edge", "proved"),
    [("along", "front", True), ("along", "left", True), ("across", "left", True), ("across", "front", False)],
)
def test_own_strips_outrank_the_table_of_smallest_radii(tmp_path, grain, edge, proved):
    """5083 of 3 mm wants 3 t = 9 mm; V25 gives less, but the shop's own strips did not crack that way."""
    part = tb.Part("HN-CP", sheet="5083 3.0", base=tb.Outline.rectangle(300, 200)).fold(edge, leg=60, tool="V25")
    made = tb.make(part, SHOP)
    t, r = made.thickness, made.strips[0].radius
    legs = [(66.0, 120 + deduction(90, r, 0.43, t) - 66 + off, 90) for off in (0.0, 0.05, -0.05)]
    rows = [f"5083 3.0,V25,120,{a:.3f},{b:.3f},{angle},{grain}" for a, b, angle in legs]
    shop = SHOP.with_coupons(tb.coupons(table(tmp_path, rows, HEAD + ",grain"), SHOP))
    before = [f.severity for f in tb.check(made, kind="live") if f.code == "fold.radius"]
    after = [(f.severity, f.source) for f in tb.check(tb.make(part, shop), kind="live") if f.code == "fold.radius"]
    assert before in (["stop"], ["caution"])
    assert (after == [("fine", "own data")]) == proved
    assert shop.coupons[-1].grain == grain


def test_strips_of_another_thickness_or_a_wider_turn_prove_nothing(tmp_path):
    rows = [f"{row},along" for row in SIX]
    (coupon,) = tb.coupons(table(tmp_path, rows, HEAD + ",grain"), SHOP).bends
    assert coupon.proves(1.5, 120.0, True)
    assert not coupon.proves(1.6, 120.0, True)
    assert not coupon.proves(1.5, 150.0, True)
    (mixed,) = tb.coupons(
        table(tmp_path, [*rows[:3], *(f"{row},across" for row in SIX[3:])], HEAD + ",grain"), SHOP
    ).bends
    assert mixed.grain == "across"
    (silent,) = tb.coupons(table(tmp_path, [*rows[:3], *(f"{row}," for row in SIX[3:])], HEAD + ",grain"), SHOP).bends
    assert not silent.proves(1.5, 90.0, False)
    with pytest.raises(BadFile, match="'along' or 'across'"):
        tb.coupons(table(tmp_path, [f"{row},sideways" for row in SIX], HEAD + ",grain"), SHOP)


def test_far_from_the_strips_it_says_so(tmp_path):
    rows = [strip(90, off) for off in (0.01, -0.01, 0.02, -0.02)]
    shop = SHOP.with_coupons(tb.coupons(table(tmp_path, rows), SHOP))
    part = tb.Part("HN-CP", sheet="DC01 1.5", base=tb.Outline.rectangle(100, 60))
    made = tb.make(part.fold("front", leg=30, tool="V12", angle=30), shop)
    assert "bend.coupon" in [f.code for f in made.findings]
    near = tb.make(part.fold("front", leg=30, tool="V12", angle=80), shop)
    assert "bend.coupon" not in [f.code for f in near.findings]


def test_one_angle_leaves_the_radius_to_the_tool(tmp_path):
    got = tb.coupons(table(tmp_path, [strip(90, 0.01), strip(90, -0.01), strip(90)]), SHOP)
    (row,) = got.bends
    assert row.radius_from == "tool"
    assert row.radius == pytest.approx(0.16 * 12)  # the rule r = 0.16 V of mild steel
    assert [f.code for f in got.findings] == ["coupon.one_angle"]


def test_a_gauge_column(tmp_path):
    rows = [strip(90, off) + ",2.0" for off in (0.01, -0.01, 0.0)]
    (row,) = tb.coupons(table(tmp_path, rows, HEAD + ",radius"), SHOP).bends
    assert row.radius_from == "gauge"
    assert row.radius == pytest.approx(2.0, abs=0.01)
    assert row.k == pytest.approx(0.43, abs=0.02)


def test_an_outlier_is_named_by_its_line(tmp_path):
    rows = [*SIX, strip(90, 0.9)]
    got = tb.coupons(table(tmp_path, rows), SHOP)
    assert got.groups[0].outliers == (8,)
    (f,) = [f for f in got.findings if f.code == "coupon.outlier"]
    assert "line 8" in f.where
    assert got.bends[0].strips == 6


def test_units_in_cells_and_for_the_file(tmp_path):
    rows = [r.split(",") for r in SIX]
    inches = [",".join([*r[:2], *(f"{float(v) / 25.4:.6f}" for v in r[2:5]), r[5]]) for r in rows]
    mixed = [",".join([*r[:2], f"{float(r[2]) / 25.4:.6f} in", *r[3:]]) for r in rows]
    plain = tb.coupons(table(tmp_path, SIX), SHOP).bends
    for rows, unit in ((inches, "in"), (mixed, "mm")):
        (row,) = tb.coupons(table(tmp_path, rows), SHOP, unit=unit).bends
        assert row.radius == pytest.approx(plain[0].radius, abs=0.01)


@pytest.mark.parametrize(
    ("rows", "line", "words"),
    [
        ([*SIX, "DC01 1.5,V12,120,130,2,90"], 8, "longer than the strip"),
        ([*SIX, "DC01 1.5,V12,120,2.6,2.2,90"], 8, "mixed units: the legs look like inches"),
        ([*SIX, "DC01 1.5,V12,12,66,57.5,90"], 8, "mixed units: the length looks like centimetres"),
        ([*SIX, "DC01 1.5,V12,4.7244,66,57,90"], 8, "mixed units: the length looks like inches"),
        ([*SIX, "DC01 1.5,V12,120,2.598,57.2,90"], 8, "leg_a looks like inches"),
        ([*SIX, "DC01 1.5,V12,120,66,60,90"], 8, "measure the outside legs again"),
        ([*SIX, "DC01 1.5,V12,120,66,50,90"], 8, "measure the outside legs again"),
        ([*SIX, "DC01 9.9,V12,120,66,57,90"], 8, "DC01 1.5"),
        ([*SIX, "DC01 1.5,V99,120,66,57,90"], 8, "V12"),
        ([*SIX, "DC01 1.5,V12,120,66,57,"], 8, "angle is empty"),
        ([*SIX, "DC01 1.5,V12,120,66,,90"], 8, "leg_b is empty"),
        ([*SIX, "DC01 1.5,V12,,66,57,90"], 8, "is empty"),
        ([*SIX, "DC01 1.5,V12,120,66,57,0"], 8, "greater than 0"),
        ([*SIX, "DC01 1.5,V12,120,66,57,180"], 8, "1 to 170"),
        ([*SIX, "DC01 1.5,V12,120,66,nan,90"], 8, "nan"),
        ([*SIX, "DC01 1.5,V12,120,66,-57,90"], 8, "greater than 0"),
        ([*SIX, "DC01 1.5,V12,120,sixty,57,90"], 8, "sixty"),
        ([*SIX, "DC01 1.5,V12,120,66"], 8, "4 cells"),
        ([*SIX, strip(90, sheet="DC01 2.0", tool="V16")], 8, "one strip only"),
        ([strip(90), strip(90, 0.65)], 3, "contradicts line 2"),
        ([strip(90), strip(90, 0.01), strip(90, 0.7), strip(90, 0.71)], 4, "contradicts line 2"),
        ([*SIX, "DC01 1.5,R18x5,200,,,"], 8, "after"),
        ([*SIX, "DC01 1.5,V12,9e5,9e5,57,90"], 8, "at most 3000"),
        ([*SIX, 'DC01 1.5,V12,"120,5",66,57,90'], 8, "decimal point"),
        (
            [strip(a, off) for a, off in ((60, -0.7), (60, -0.71), (90, -0.7), (90, -0.71), (120, 0.7), (120, 0.71))],
            2,
            "no sheet has",
        ),
        ([*SIX, "DC01 1.5,R18x5,200,,,,201"], 8, "cells"),
    ],
)
def test_rows_that_cannot_be(tmp_path, rows, line, words):
    with pytest.raises(BadFile) as bad:
        tb.coupons(table(tmp_path, rows), SHOP)
    assert any(f"line {line}" in str(m) and words in str(m) for m in bad.value.mistakes), str(bad.value)


@pytest.mark.parametrize(
    ("head", "cell", "words"),
    [
        ("radius", "19", "a third to three times"),
        ("thickness", "3", "within 30 %"),
        ("plus_minus", "1e5", "at most 5"),
        ("angle_plus_minus", "-1", "at most 10"),
        ("beads", "1" * 400, "whole number"),
    ],
)
def test_wrong_optional_cells(tmp_path, head, cell, words):
    rows = [*(f"{r}," for r in SIX), f"{strip(90)},{cell}"]
    with pytest.raises(BadFile, match=words) as bad:
        tb.coupons(table(tmp_path, rows, f"{HEAD},{head}"), SHOP)
    assert all("line 8" in m.where for m in bad.value.mistakes)


@given(st.lists(st.tuples(st.integers(0, 400), st.sampled_from('0123456789.,-;"e \t\nxV')), max_size=12))
@settings(max_examples=60)
def test_a_damaged_table_is_refused_or_read(tmp_path_factory, hits):
    text = list("\n".join([HEAD, *SIX]))
    for at, c in hits:
        text[at % len(text)] = c
    path = tmp_path_factory.mktemp("damaged") / "coupons.csv"
    path.write_text("".join(text), encoding="utf-8")
    try:
        got = tb.coupons(path, SHOP)
    except BadFile:
        pass
    else:
        assert all(math.isfinite(v) for c in got.bends for v in (c.radius, c.k, c.radius_band, c.k_band))


def test_all_wrong_rows_at_once(tmp_path):
    rows = [*SIX, "DC01 1.5,V12,120,130,2,90", "DC01 1.5,V12,120,x,57,90", "nothing,V12,120,66,57,90"]
    with pytest.raises(BadFile) as bad:
        tb.coupons(table(tmp_path, rows), SHOP)
    assert [m.where.split(",")[0] for m in bad.value.mistakes] == ["line 8", "line 9", "line 10"]


@pytest.mark.parametrize(
    ("head", "words"),
    [
        ("sheet,tool,length,leg_a,leg_b,turn", "unknown column"),
        ("sheet,tool,leg_a", "length is missing"),
        ("", "no rows"),
    ],
)
def test_wrong_columns(tmp_path, head, words):
    with pytest.raises(BadFile, match=words):
        tb.coupons(table(tmp_path, [], head), SHOP)


def test_a_value_in_a_column_without_a_name(tmp_path):
    with pytest.raises(BadFile, match="line 2: '90' stands in a column that has no name in line 1"):
        tb.coupons(table(tmp_path, ["DC01 1.5,V12,120,60,61,90"], "sheet,tool,length,leg_a,leg_b,"), SHOP)


def test_missing_file():
    with pytest.raises(BadFile, match="does not exist"):
        tb.coupons("no such file.csv", SHOP)


# --- beads ------------------------------------------------------------------------------------------


def test_beaded_strips_give_the_draw(tmp_path):
    """An arc 18 wide and 5 deep is 18 (1 + 8/3 (5/18)^2 ...) long; the exact pull is what the rolls' own shape says."""
    full = SHOP.roll("R18x5")
    from tinbook.part.forms.beadshape import BeadProfile

    pull = BeadProfile(width=full.width, depth=full.depth, shoulder=full.shoulder, thickness=1.2).draw
    rows = [f"DC01 1.2,R18x5,200,{200 - 3 * 0.6 * pull + off:.3f},3" for off in (0.02, -0.02, 0.0)]
    got = tb.coupons(table(tmp_path, rows, "sheet,tool,length,after,beads"), SHOP)
    (draw,) = got.draws
    assert draw.draw_factor == pytest.approx(0.6, abs=draw.band)
    assert 0 < draw.band < 0.05
    shop = SHOP.with_coupons(got)
    assert not shop.roll("R18x5").guessed
    part = tb.Part("HN-BD", sheet="DC01 1.2", base=tb.Outline.rectangle(300, 200)).bead(
        [(80, 100), (220, 100)], "R18x5"
    )
    bare = tb.Part("HN-BD", sheet="DC01 1.2", base=tb.Outline.rectangle(300, 200))
    grown = tb.make(part, shop).flat.size[1] - tb.make(bare, shop).flat.size[1]
    assert grown == pytest.approx(0.6 * pull, abs=0.02)


@pytest.mark.parametrize(("after", "words"), [("201", "wider than the strip"), ("180", "cannot draw more")])
def test_impossible_beads(tmp_path, after, words):
    rows = ["DC01 1.2,R18x5,200,198", f"DC01 1.2,R18x5,200,{after}"]
    with pytest.raises(BadFile, match=words):
        tb.coupons(table(tmp_path, rows, "sheet,tool,length,after"), SHOP)


# --- the shop file ------------------------------------------------------------------------------------


MINE = """base = "demo"   # we stand on the demo shop
name = "Heron bench"

# our own wide die
[dies.V12]
opening = 12.1 # measured

[[coupons]]     # an older set
sheet = "DC01 1.5"
tool = "V12"
thickness = 1.5
radius = 9.0
k = 0.5
radius_band = 1.0
k_band = 0.1
strips = 2
"""


def test_written_into_the_shop_file(tmp_path):
    file = tmp_path / "shop.toml"
    file.write_text(MINE, encoding="utf-8")
    got = tb.coupons(table(tmp_path, SIX), SHOP)
    assert tb.write_coupons(got, file) == file
    text = file.read_text(encoding="utf-8")
    for kept in ("# we stand on the demo shop", "# our own wide die", "# measured", "# an older set"):
        assert kept in text
    shop = tb.Shop.load(file)
    assert shop.name == "Heron bench"
    assert shop.coupons == got.bends
    before = file.read_bytes()
    tb.write_coupons(got, file)
    assert file.read_bytes() == before, "writing the same again changes nothing"


def test_a_new_shop_file_is_begun(tmp_path):
    rows = ["DC01 1.2,R18x5,200,198", "DC01 1.2,R18x5,200,198.1"]
    draws = tb.coupons(table(tmp_path, rows, "sheet,tool,length,after"), SHOP)
    file = tb.write_coupons(draws, tmp_path / "mine.toml")
    tb.write_coupons(tb.coupons(table(tmp_path, SIX), SHOP), file)
    shop = tb.Shop.load(file)
    assert shop.roll("R18x5").draw_factor == draws.draws[0].draw_factor
    assert shop.coupon_for("DC01 1.5", "V12").strips == 6
    assert shop == SHOP.with_coupons(draws).with_coupons(tb.coupons(table(tmp_path, SIX), SHOP))


def test_a_broken_shop_file_stays_as_it_is(tmp_path):
    file = tmp_path / "shop.toml"
    file.write_text('base = "demo"\nname = 3\n', encoding="utf-8")
    with pytest.raises(BadFile, match="name"):
        tb.write_coupons(tb.coupons(table(tmp_path, SIX), SHOP), file)
    assert file.read_text(encoding="utf-8") == 'base = "demo"\nname = 3\n'
    assert [p.name for p in tmp_path.iterdir() if p.suffix != ".csv"] == ["shop.toml"]


def test_only_toml(tmp_path):
    with pytest.raises(BadValue, match=r"\.toml"):
        tb.write_coupons(tb.coupons(table(tmp_path, SIX), SHOP), tmp_path / "shop.txt")


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("strips = 1", "strips"),
        ('tool = "V99"', "V99"),
        ("radius = -1", "radius"),
        ("k_band = -0.1", "k_band"),
        ("angle_min = 100\nangle_max = 90", "angle_max"),
        ('radius_from = "guess"', "radius_from"),
    ],
)
def test_a_wrong_coupon_in_the_shop_file_is_named_with_its_line(tmp_path, line, words):
    file = tmp_path / "shop.toml"
    key = line.split(" ")[0]
    rows = [r for r in MINE.splitlines() if not r.startswith(f"{key} =")]
    file.write_text("\n".join([*rows, line]) + "\n", encoding="utf-8")
    with pytest.raises(BadFile, match=words) as bad:
        tb.Shop.load(file)
    assert "line " in str(bad.value)


# --- strips to cut ---------------------------------------------------------------------------------------


def test_coupon_blanks(tmp_path):
    parts = tb.families.coupon_blanks(SHOP, "DC01 1.5", ("V12", "F1"), angles=(60, 90, 120), length=120)
    assert len(parts) == 6
    for part in parts:
        made = tb.make(part, SHOP)
        assert not Findings(tb.check(made)).stops
        assert made.flat.size == pytest.approx((30, 120), abs=1e-9)
        assert any(m.kind == "text" for m in made.flat.marks)
        assert tb.write_dxf(made, tmp_path, marks=True).exists()
    assert len({p.number for p in parts}) == 6


def test_coupon_blanks_refuse_one_strip():
    with pytest.raises(BadValue, match="scatter"):
        tb.families.coupon_blanks(SHOP, "DC01 1.5", "V12", strips=1)
