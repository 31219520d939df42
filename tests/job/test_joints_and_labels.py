"""Micro-joints held against the written file and against fold lines, hems and seals; labels read back."""

from __future__ import annotations

import math
from dataclasses import replace
from decimal import Decimal
from itertools import pairwise
from pathlib import Path
from typing import Any

import ezdxf
import pytest
from pypdf import PdfReader

import tinbook as tb
from tinbook.errors import BadValue, UnknownName
from tinbook.job.nesting.layout import Joint
from tinbook.job.nesting.micro import interrupted, micro_joints
from tinbook.plane.loops import Move, circle
from tinbook.shop.cutting import JointRule
from tinbook.write.dxf import OUTER

SHOP = tb.shop.cut_on(tb.Shop.demo(), "laser")
PAPERS = ("H 4711", "EN 10204 3.1, no. 88")


def plate(number: str, length: float = 200) -> tb.Part:
    return tb.Part(number, sheet="DC01 1.5", base=tb.Outline.rectangle(length, 100), marking=False)


@pytest.fixture(scope="module")
def nest() -> Any:
    other = tb.job.Item(thing=plate("B", 300).hole((40, 50), 10), hand="other hand")
    items = [tb.job.Item(thing=plate("A"), quantity=3, finish="primer"), other]
    rack = tb.job.Stock(sheets=[tb.job.StockSheet(key="S1", sheet="DC01 1.5", length=2000, width=1000, heat=PAPERS[0])])
    return tb.job.nest_job(tb.Job(number="Q7", items=items, micro_joints=True), SHOP, rack, effort=0)


def test_the_cutters_own_joints_and_common_practice() -> None:
    """Laser, 1.5 mm: 0.3 x 1.5 = 0.45 mm, one every 400 mm; what the shop states goes first. 600 mm round: 2, at least."""
    cutter = SHOP.cutter_for(SHOP.sheet_by_key("DC01 1.5"))
    rule = cutter.joints(1.5)
    assert (rule.width, rule.pitch) == (pytest.approx(0.45), 400.0)
    assert "guess" in rule.source
    own = replace(cutter, joint_per_thickness=0.2, joint_floor=0.5, joint_pitch=100).joints(1.5)
    assert (own.width, own.pitch, "guess" in own.source) == (0.5, 100.0, False)
    assert [rule.count(length) for length in (600, 1000, 2000, 90_000)] == [2, 2, 5, 12]


def test_a_contour_is_cut_in_pieces_between_its_joints(nest: Any, tmp_path: Path) -> None:
    """Three plates 200 x 100 with two joints of 0.45 mm each: six pieces, 3 x 600 - 6 x 0.45 mm in all; B has 800 mm."""
    (plan,) = nest.plans()
    space = ezdxf.readfile(tb.job.write_nest_dxf(plan, tmp_path, job="Q7", lead_ins=True)).modelspace()
    lines = space.query(f'LWPOLYLINE[layer=="{OUTER}"]')
    assert len(lines) == 8
    assert not any(line.closed for line in lines)
    ends = [[(x, y) for x, y, *_ in line.get_points()] for line in lines]
    lengths = [sum(math.dist(a, b) for a, b in pairwise(line)) for line in ends]
    assert sum(lengths) == pytest.approx(3 * 600 + 800 - 8 * 0.45, abs=1e-3)
    for line in ends:  # each piece ends a joint's width before another one begins
        assert min(math.dist(line[-1], other[0]) for other in ends) == pytest.approx(0.45, abs=1e-3)
    assert len(space.query('*[layer=="LEAD_IN"]')) == 8 + 1
    assert plan.pierces == 8 + 1 + len(plan.parting)
    assert plan.metres == pytest.approx((sum(lengths) + math.pi * 10 + plan.parting_length) / 1000, abs=1e-6)


def test_dressing_and_more_pierces_are_priced(nest: Any) -> None:
    """Three plates with two joints: 6 x 0.15 = 0.90; their contours are begun 6 times."""
    lines = {k.what: k for k in tb.job.price_nest(nest).lines if k.number == "A"}
    assert (lines["micro-joints dressed"].quantity, lines["micro-joints dressed"].amount) == (6, Decimal("0.90"))
    assert lines["pierces"].quantity == 6
    plain = tb.job.nest_job(replace(nest.job, micro_joints=False), SHOP, nest.stock, effort=0)
    assert not [k for k in tb.job.price_nest(plain).lines if "joint" in k.what]


def test_no_joint_on_a_fold_a_hem_a_sealed_lap_or_a_clean_edge() -> None:
    made = tb.make(tb.hemmed_dash_edge(), SHOP)
    rule = JointRule(width=0.4, pitch=60.0, source="test")
    found = micro_joints(made, made.flat, rule)
    assert len(found) > 4
    hem = next(f for f in made.flat.folds if f.angle >= 150)
    (_, y), _ = hem.pieces[0]
    inner = math.copysign(1, sum(e.start[1] for e in made.flat.outer) / len(made.flat.outer) - y)
    for joint in found:
        assert inner * (joint.at[1] - y) > hem.allowance / 2, "on the hem"
        for fold in made.flat.folds:
            (x0, y0), (x1, y1) = fold.pieces[0]
            away = abs((joint.at[0] - x0) * (y1 - y0) - (joint.at[1] - y0) * (x1 - x0)) / math.dist((x0, y0), (x1, y1))
            assert away > fold.allowance / 2
    lap = plate("L").hole((50, 10), 8, use="plug weld").hole((150, 10), 8, use="plug weld").keep_clean("left")
    made = tb.make(lap, SHOP)
    found = micro_joints(made, made.flat, rule)
    assert found
    x0 = made.flat.outer.box[0]
    for joint in found:
        assert joint.at[0] > x0 + 1e-6, "on the clean edge"
        assert min(math.dist(joint.at, ((a + c) / 2, (b + d) / 2)) for a, b, c, d in _boxes(made)) > 20
    assert not micro_joints(tb.make(plate("K").keep_clean(), SHOP), tb.make(plate("K"), SHOP).flat, rule)


def _boxes(made: Any) -> list[tuple[float, float, float, float]]:
    return [cut.loop.box for cut in made.flat.cuts if cut.use == "plug weld"]


def test_a_part_without_a_place_for_joints_is_named() -> None:
    job = tb.Job(number="J", items=[tb.job.Item(thing=plate("K").keep_clean())], micro_joints=True)
    assert [f.where for f in tb.job.nest_job(job, SHOP, effort=0).findings.of("nest.joints")] == ["K rev A"]


@pytest.mark.parametrize("mirrored", [False, True])
def test_arcs_are_interrupted_too(mirrored: bool) -> None:
    """A disc of 200 mm with joints of 2 mm at three places: pi x 200 - 6 mm are left, in three pieces."""
    move = Move(1.0, 0.0, 0.0, -1.0 if mirrored else 1.0, 40.0, 7.0)
    loop = circle((0.0, 0.0), 200.0).moved(move).anticlockwise()
    spots = [(100 * math.cos(a), 100 * math.sin(a)) for a in (0.0, 2.0, 3.6)]
    pieces = interrupted(loop, [Joint(at=move(p), width=2.0) for p in spots])
    lengths = [sum(e.length for e in chain) for chain in pieces]
    wanted = sorted(100 * turn - 2 for turn in (2.0, 1.6, 2 * math.pi - 3.6))
    assert sorted(lengths) == pytest.approx(wanted, abs=1e-6)


def test_labels_of_parts_say_number_hand_revision_sheet_and_heat(nest: Any, tmp_path: Path) -> None:
    labels = tb.job.part_labels(nest)
    assert sorted(k.number for k in labels) == ["A", "A", "A", "B-OH"]
    file = tb.job.write_labels(labels, tmp_path)
    text = PdfReader(file).pages[0].extract_text()
    for wanted in ("B-OH", "rev A, other hand", "DC01 1.5, sheet 1, piece 3 of 3", "heat H 4711", "job Q7, primer"):
        assert wanted in text, wanted


def test_a_traced_part_has_no_label_without_a_heat() -> None:
    job = tb.Job(number="J", items=[tb.job.Item(thing=plate("T"), traced=True)])
    found = tb.job.nest_job(job, SHOP, effort=0)
    (new,) = found.used()
    with pytest.raises(BadValue, match="must be traced"):
        tb.job.part_labels(found)
    (label,) = tb.job.part_labels(found, {new: PAPERS})
    assert "heat H 4711" in label.lines
    with pytest.raises(UnknownName):
        tb.job.part_labels(found, {"S9": PAPERS})


@pytest.mark.parametrize("wrong", ["x", 3, {"S1": None}, {"S1": ("H",)}, {"S1": (1, 2)}])
def test_metal_of_labels_is_checked(nest: Any, wrong: Any) -> None:
    with pytest.raises(BadValue, match="metal"):
        tb.job.part_labels(nest, wrong)


def test_labels_of_offcuts_carry_number_size_and_papers() -> None:
    outline = tb.Outline.rectangle(900, 400).loop
    given: dict[str, Any] = {"sheet": "DC01 1.5", "outline": outline, "place": "C3", "origin": "HN-41, sheet 2"}
    cut = tb.job.Offcut(key="O7", heat=PAPERS[0], certificate=PAPERS[1], **given)
    (label,) = tb.job.offcut_labels([cut])
    assert (label.number, label.mark) == ("O7", "offcut DC01 1.5")
    assert label.lines == ("900 x 400 mm", "heat H 4711, EN 10204 3.1, no. 88", "C3, from HN-41, sheet 2")
    for wrong in ([replace(cut, key="")], None, ["O7"], cut):
        with pytest.raises(BadValue, match="offcut"):
            tb.job.offcut_labels(wrong)
    with pytest.raises(BadValue, match="nest"):
        tb.job.part_labels(None)


def test_joints_are_a_rule_of_the_cutter(nest: Any) -> None:
    for wrong in ("x", 3, True):
        with pytest.raises(BadValue, match="joints"):
            tb.job.blank_for_nesting(nest.parts[0].made, joints=wrong)
