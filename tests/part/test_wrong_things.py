"""The wrong thing at a public door: a part that was not made, arguments the wrong way round, a number for a file."""

from __future__ import annotations

import math
from decimal import Decimal
from fractions import Fraction

import numpy as np
import pytest

import tinbook as tb
from tinbook import units
from tinbook.errors import BadValue, TinbookError
from tinbook.space import frame_at

SHOP = tb.Shop.demo()
PART = tb.folded_channel()
MADE = tb.make(PART, SHOP)
LID = tb.Assembly("HN-A").add("a", PART).add("b", PART, frame_at((0, 0, 200)))
OF_MADE = (
    tb.check, tb.finished_sizes, tb.fold_sequence, tb.folded_svg, tb.order_of_work, tb.write_dxf, tb.write_fold_page,
    tb.write_glb, tb.write_sheet, tb.write_step, tb.write_svg, tb.write_template,
)  # fmt: skip
WRITERS = [f for f in OF_MADE if f.__name__.startswith("write_")]


@pytest.mark.parametrize("call", OF_MADE, ids=lambda f: f.__name__)
def test_a_part_that_was_not_made(call, tmp_path):
    with pytest.raises(BadValue, match=r"tb\.make|made part"):
        call(PART, tmp_path) if call in WRITERS else call(PART)


@pytest.mark.parametrize("writer", WRITERS, ids=lambda f: f.__name__)
@pytest.mark.parametrize("path", [None, 5, MADE], ids=["none", "number", "made"])
def test_a_path_that_is_none(writer, path):
    with pytest.raises(BadValue, match="file name"):
        writer(MADE, path)


@pytest.mark.parametrize(
    ("call", "names"),
    [
        (lambda: tb.make(tb.folded_channel, SHOP), "called first"),
        (lambda: tb.make(MADE, SHOP), "a Part"),
        (lambda: tb.make(PART, "my_shop.toml"), r"Shop\.load"),
        (lambda: tb.make(SHOP, PART), "a Part"),
        (lambda: tb.assemble(PART, SHOP), "an Assembly"),
        (lambda: tb.Shop.load(None), "cannot be read"),
        (lambda: tb.read_dxf(None), "path of a DXF"),
        (lambda: tb.read_folds(None, MADE), "cannot be read"),
        (lambda: tb.read_folds("folds.toml", PART), "made part"),
        (lambda: tb.fold_sequence(MADE, order=5), "each fold once"),
        (lambda: tb.fold_sequence(MADE, order=[1, 2]), "each fold once"),
        (lambda: tb.order_of_work(MADE, folds=5), "each fold once"),
        (lambda: tb.order_of_work(MADE, folds=[1, "left"]), "each fold once"),
        (
            lambda: tb.floor_pan(tb.Outline.rectangle(900, 400), fold="tunnel"),
            "floor_pan fold.*front, right, rear, left",
        ),
        (lambda: tb.check(LID), r"tb\.assemble"),
        (lambda: tb.order_of_work(LID), r"tb\.assemble"),
        (lambda: tb.write.parts_list(LID), r"tb\.assemble"),
        (lambda: tb.fit.jig_plate(LID, sheet="S235 6.0"), r"tb\.assemble"),
        (lambda: tb.write_step(LID, "."), r"tb\.assemble"),
        (lambda: tb.write_step(tb.assemble(LID, SHOP), ".", quantity=2), "quantity.*an assembly is written once"),
        (lambda: tb.check(tb.assemble(LID, SHOP), kind="live"), "kind: 'live'.*an assembly is checked as a whole"),
        (lambda: tb.order_of_work(tb.assemble(LID, SHOP), ["left"]), "folds.*an assembly has no folds"),
        (lambda: tb.write_dxf(tb.assemble(LID, SHOP), "."), r"tb\.make.*a flat pattern"),
        (lambda: tb.write_svg(tb.assemble(LID, SHOP), "."), r"tb\.make.*a flat pattern"),
        (lambda: tb.write.exploded_svg(tb.assemble(LID, SHOP), None), r"tb\.order_of_work"),
        (lambda: LID.weld("a", "b", throat="3 kg"), "weld throat"),
        (lambda: LID.weld("a", "b", throat=3, length=-1), "weld length"),
        (lambda: LID.moved((0, 0, 5)), "a Frame"),
        (lambda: LID.pulled("a", "up"), "finite vector"),
        (lambda: tb.Assembly("HN-A", cautions="Screens only."), "sentences"),
        (lambda: frame_at((0, 0)), "three finite coordinates"),
        (lambda: frame_at(x=None), "finite vector"),
        (lambda: tb.route.step_svg(None, 0), r"tb\.fold_sequence"),
        (lambda: tb.route.step_svg(tb.fold_sequence(MADE), "1"), "0 to"),
        (lambda: tb.making.plus_minus_between(MADE, "base", "near"), "a panel and a point"),
        (lambda: tb.shop.cut_on("laser", SHOP), "a Shop"),
        (lambda: tb.strength.stiffness_of(PART), r"tb\.make"),
        (lambda: tb.strength_of(PART), r"tb\.make"),
        (lambda: tb.strength.strength_choices(PART), r"tb\.make"),
        (lambda: tb.strength.bead_layouts(MADE, SHOP, "simply supported"), "a Part"),
        (lambda: tb.Range("600 mm", "900 mm"), "finite numbers"),
        (lambda: tb.read.outline_from_tape([900, 400, 900, 400], {}), "sides"),
        (lambda: tb.read.outline_from_tape({"a": 9, "b": 9, "c": 9}, 12), "diagonals"),
        (lambda: tb.write_sheet(MADE, ".", paper=["A4"]), "A4 or A3"),
        (lambda: tb.write_sheet(MADE, ".", order=5), "working order"),
        (lambda: tb.write_sheet(MADE, ".", more_cautions="Carries a seat."), "sentences"),
        (lambda: tb.write_sheet(MADE, ".", date=20261125), "date"),
        (lambda: tb.families.coupon_blanks(SHOP, "DC01 1.5", 5), "key of a tool"),
        (lambda: tb.write_coupons("strips.csv", "."), r"tb\.coupons"),
        (lambda: SHOP.with_coupons("strips.csv"), r"tb\.coupons"),
        (lambda: tb.Outline.polygon(5), "corners"),
        (lambda: tb.Outline.polygon([(0, 0), (9, 0), (9, 9)], 5), "names"),
        (lambda: tb.Outline.from_edges([(0, 0), (9, 0)]), "outline loop"),
        (lambda: tb.Outline.rectangle(9, 9).renamed("front"), "old name"),
        (lambda: tb.Outline.rectangle(9, 9).edge(["front"]), "front, right"),
    ],
)
def test_what_was_wanted_is_said(call, names):
    with pytest.raises(TinbookError, match=names):
        call()


def test_a_weld_takes_lengths_with_a_unit():
    (weld,) = LID.weld("a", "b", throat="1/8 in", length="2 cm").welds
    assert (weld.throat, weld.length) == pytest.approx((3.175, 20))


@pytest.mark.parametrize(
    "value", [True, np.True_, np.array([5.0]), np.array(["5 mm"]), np.array([True]), [5.0], b"5", 1 + 0j]
)
@pytest.mark.parametrize("take", [units.length, units.angle, units.positive])
def test_what_is_no_single_number_is_no_length(take, value):
    with pytest.raises(BadValue, match=r"^hole dia: .* valid: a number in"):
        take(value, "hole dia")


@pytest.mark.parametrize(
    "value", [5, 5.0, np.float32(5), np.int64(5), np.array(5.0), Fraction(5), Decimal(5), "5 mm", "0.5 cm"]
)
def test_any_single_number_is_a_length(value):
    assert units.length(value, "hole dia") == 5.0


@pytest.mark.parametrize("size", [True, np.True_, 0.0, -3.0, math.nan, "fine", np.array([8.0])])
def test_a_mesh_wants_a_length(size):
    with pytest.raises(BadValue, match="mesh size"):
        tb.strength_of(MADE, size=size)
