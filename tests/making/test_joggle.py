"""Joggled edges: the mating sheet comes flush, measured on the solids; blank, welds, neighbours, machines, papers.

By hand, in 1.5 mm sheet for a mating sheet of 1.5 mm and 0.2 mm of sealer: two bends of 45 degrees on 1.5 mm inside step
2 (1.5 + 0.75) (1 - cos 45) = 1.318 mm, so the straight between them is (1.7 - 1.318) / sin 45 = 0.540 mm.
"""

from __future__ import annotations

import math
from dataclasses import replace

import cadquery as cq
import pytest

from tinbook.errors import BadValue, UnknownName
from tinbook.making.resolve import make
from tinbook.part.forms.drawn_hole import DrawnHole
from tinbook.part.forms.joggle import Joggle
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.read.step.unfold import unfold
from tinbook.route.fold_order import fold_sequence
from tinbook.rules.registry import live
from tinbook.shop.shop import Shop
from tinbook.write.facts import form_table
from tinbook.write.step import write_step

SHOP = Shop.demo()
T = 1.5


def panel(joggle: Joggle | None, depth: float = 100, sheet: str = "DC01 1.5") -> Part:
    part = Part("HN-JG", sheet=sheet, base=Outline.rectangle(200, depth))
    return part if joggle is None else part.formed(joggle)


def column(solid: cq.Solid, x: float, y: float) -> tuple[float, float]:
    """Return how low and how high the metal reaches at a place of the plan, by the kernel."""
    met = solid.intersect(cq.Solid.makeBox(0.5, 0.5, 40, pnt=(x, y, -20))).BoundingBox()
    return met.zmin, met.zmax


@pytest.mark.parametrize(
    ("mate", "gap", "way", "sheet"),
    [("DC01 1.5", 0.2, "down", "DC01 1.5"), ("DC01 2.0", 0.3, "up", "DC01 1.5"), ("DC01 0.8", 0.1, "down", "DC01 1.5")],
)
def test_the_mating_sheet_lies_flush(mate, gap, way, sheet):
    """The mate laid on the lap with its sealer: faces level within 0.1 mm, the gap all along, nothing shared."""
    made = make(panel(Joggle(edge="rear", lap=18, mate=mate, gap=gap, direction=way), sheet=sheet), SHOP)
    patch = make(Part("HN-JP", sheet=mate, base=Outline.rectangle(200, 80)), SHOP)
    (joggle,) = made.panel("base").forms
    step_ends = 100 + joggle.seat[0]
    low, high = column(made.solid, 100, step_ends + 5)
    thick = patch.thickness
    z = high + gap if way == "down" else low - gap - thick
    laid = patch.solid.moved(cq.Location(cq.Vector(0, step_ends, z)))
    base_low, base_high = column(made.solid, 100, 50)
    patch_low, patch_high = column(laid, 100, step_ends + 5)
    flush = patch_high - base_high if way == "down" else patch_low - base_low
    assert abs(flush) <= 0.1
    assert flush == pytest.approx(0.0, abs=1e-6)
    assert made.solid.distance(laid) == pytest.approx(gap, abs=1e-6)
    assert made.solid.intersect(laid).Volume() == pytest.approx(0.0, abs=1e-9)


def test_the_step_is_the_one_worked_out_by_hand():
    made = make(panel(Joggle(edge="rear", lap=18)), SHOP)
    (joggle,) = made.panel("base").forms
    assert (joggle.angle, joggle.step) == (45.0, 1.7)
    assert joggle.straight == pytest.approx((1.7 - 2 * 2.25 * (1 - math.cos(math.pi / 4))) / math.sin(math.pi / 4))
    solid = made.solid
    assert solid.isValid()
    # Its middle is 100 less the setback, two arcs of 45 degrees, the straight between and the lap, all 1.5 thick.
    setback = 3.0 * math.tan(math.pi / 8)
    middle = 100 - setback + 2 * math.pi / 4 * 2.25 + joggle.straight + 18
    assert solid.Volume() == pytest.approx(200 * T * middle, rel=1e-9)
    box = solid.BoundingBox(tolerance=1e-6)
    assert (box.zmin, box.zmax) == pytest.approx((-1.7, T), abs=1e-5)
    # The neutral line, K t above the inside of each bend, is what the blank is drawn to.
    (k,) = {z.bend.k for z in made.folded.zones}
    assert made.flat.outer.box[3] - made.flat.outer.box[1] == pytest.approx(
        100 - setback + 2 * math.pi / 4 * (1.5 + k * T) + joggle.straight + 18
    )


def test_the_unfolder_finds_the_blank_again(tmp_path):
    """Code of its own, from the exchanged solid, with the same K."""
    made = make(panel(Joggle(edge="rear", lap=18, direction="up")).fold("front", leg=30, radius=2), SHOP)
    k = {round(z.radius, 3): z.bend.k for z in made.folded.zones}
    found = unfold(write_step(made, tmp_path), lambda angle, radius, t: k[round(radius, 3)])
    assert found.flat.area == pytest.approx(made.flat.area, rel=1e-6)
    assert len(found.flat.folds) == 3


def test_a_shallow_step_is_flatter():
    """A step that two bends of 45 degrees overshoot is made at a smaller angle, with 0.3 mm straight between the bends."""
    made = make(panel(Joggle(edge="rear", lap=18, mate="DC01 0.8", gap=0.1)), SHOP)
    (joggle,) = made.panel("base").forms
    assert joggle.angle < 45
    assert joggle.straight >= 0.3
    assert column(made.solid, 100, 115)[0] == pytest.approx(-0.9, abs=1e-6)


def test_plug_welds_go_into_the_outer_sheet_over_the_middle_of_the_lap():
    """Holes lie in the mate, on the torch side, half the lap from its edge; the joggled panel under them is whole."""
    joggle = Joggle(edge="rear", lap=18)
    patch = make(joggle.welded(Part("HN-JP", sheet="DC01 1.5", base=Outline.rectangle(200, 80)), "front", 45), SHOP)
    holes = patch.panel("base").holes
    assert {h.use for h in holes} == {"plug weld"}
    assert {round((h.loop.box[1] + h.loop.box[3]) / 2, 6) for h in holes} == {9.0}
    assert make(panel(joggle), SHOP).flat.cuts == ()


def test_the_fold_simulation_knows_the_lap():
    """A lap stepped down stands on the folder's bed close behind the clamp; one stepped up does not."""

    def folds(way: str) -> bool:
        part = panel(Joggle(edge="rear", lap=18, direction=way), 25).fold("front", leg=30)
        part = replace(part, folds=tuple(replace(f, tool="F1") for f in part.folds))
        return bool(fold_sequence(make(part, SHOP)).steps)

    assert folds("up")
    assert not folds("down")


def test_it_is_no_fold():
    """It is not set out, counted or planned as one, and a part without folds needs no fold sequence."""
    made = make(panel(Joggle(edge="rear", lap=18)), SHOP)
    assert made.strips == ()
    assert made.flat.folds == ()
    assert [m.label for m in made.flat.marks if m.kind == "fold"] == ["joggle step down", "joggle lap up"]
    (row,) = form_table(made).rows
    assert "step 1.70 at 45°" in row[1]


@pytest.mark.parametrize(
    ("joggle", "said"),
    [
        (Joggle(edge="nowhere", lap=18), "no edge 'nowhere'"),
        (Joggle(edge="front", lap=18), "carries a fold"),
        (Joggle(edge="right", lap=18), "not straight"),
        (Joggle(edge="rear", lap=18, angle=60, step=1.0), "too low"),
    ],
)
def test_an_edge_or_a_step_that_cannot_be_joggled_is_refused(joggle, said):
    base = Outline.rectangle(200, 100).clipped({"right/rear": 20})
    arc = next(e.name for e in base.loop.edges if not e.is_line) if any(not e.is_line for e in base.loop.edges) else ""
    if joggle.edge == "right":
        base = Outline.rectangle(200, 100).rounded({"right/rear": 30})
        arc = next(e.name for e in base.loop.edges if not e.is_line)
        joggle = replace(joggle, edge=arc)
    made = make(Part("HN-JG", sheet="DC01 1.5", base=base).fold("front", leg=30).formed(joggle), SHOP)
    assert not made.ok
    assert said in str(made.findings.stops[0])


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"lap": 0}, "lap"),
        ({"gap": -0.1}, "gap"),
        ({"angle": 90}, "angle"),
        ({"direction": "in"}, "direction"),
    ],
)
def test_a_bad_value_is_named(given, field):
    with pytest.raises(BadValue, match=field):
        Joggle(**{"edge": "rear", "lap": 18} | given)


def test_a_mating_sheet_that_the_shop_does_not_have_is_named():
    with pytest.raises(UnknownName, match="DC01 77"):
        make(panel(Joggle(edge="rear", lap=18, mate="DC01 77")), SHOP)


def test_a_step_without_room_is_told():
    """Bare metal on metal is a caution, a mating sheet that stands proud a stop."""
    for step, severity in ((1.8, "fine"), (1.5, "caution"), (1.4, "stop")):
        found = live(make(panel(Joggle(edge="rear", lap=18, step=step)), SHOP))
        assert {f.severity for f in found if f.code == "joggle.flush"} == {severity}


def test_a_form_without_a_name_is_called_by_its_place():
    with pytest.raises(BadValue, match="joggle on edge 'rear' lap: -1"):
        Joggle(edge="rear", lap=-1)
    with pytest.raises(BadValue, match=r"drawn hole at \(10, 20\) height: -2"):
        DrawnHole(centre=(10, 20), dia=20, height=-2)
