"""Assemblies: names and numbers, mass and centre, clash, weld gaps, mating holes, each found when it is wrong."""

from __future__ import annotations

import math

import pytest

import tinbook as tb
from tinbook.errors import BadValue, CannotMake, UnknownName
from tinbook.making.assembled import assemble
from tinbook.part.assembly import Assembly
from tinbook.part.bought import block, cushion, gas_strut, shackle, shim, sleeve
from tinbook.part.fasteners import bolt_length, hexagon_bolt, hexagon_nut, nut_insert, plain_washer
from tinbook.part.part import Part
from tinbook.rules import assembly as rules_of_assemblies
from tinbook.rules.check import check
from tinbook.rules.rule import Rule
from tinbook.shop.shop import cut_on
from tinbook.space import Frame, frame_at
from tinbook.write.step import write_step

SHOP = cut_on(tb.Shop.demo(), "laser")
STEEL = 7850e-9


def plate(number: str, w: float = 60.0, h: float = 40.0) -> Part:
    return Part(number, sheet="S235 5.0", base=tb.Outline.rectangle(w, h))


def two(at: Frame, first: Part | None = None, second: Part | None = None) -> Assembly:
    return Assembly("X-1", rev="B").add("one", first or plate("P1")).add("two", second or plate("P2"), at)


def test_a_frame_is_right_handed_and_checked():
    at = frame_at((1, 2, 3), (0, 2, 0), (0, 0, 5))
    assert at.z == (1.0, 0.0, 0.0)
    assert at(10, 20, 30) == (31.0, 12.0, 23.0)
    assert at.local(at(10, 20, 30)) == pytest.approx((10, 20, 30))
    inner = frame_at((5, 0, 0), (0, 1, 0), (-1, 0, 0))
    assert (at @ inner)(1, 2, 3) == pytest.approx(at(*inner(1, 2, 3)))
    with pytest.raises(BadValue, match="square"):
        frame_at(x=(1, 0, 0), y=(1, 1, 0))
    with pytest.raises(BadValue, match="origin"):
        frame_at((math.nan, 0, 0))


def test_names_and_numbers():
    a = two(frame_at((0, 0, 5)))
    assert a.names == ("one", "two")
    assert [p.number for p in a.parts] == ["P1", "P2"]
    with pytest.raises(BadValue, match="name that is not taken"):
        a.add("one", plate("P3"))
    with pytest.raises(BadValue, match="number of its own"):
        a.add("three", plate("P1", 70))
    with pytest.raises(BadValue, match="a Part or a bought item"):
        a.add("three", "plate")  # type: ignore[arg-type]
    with pytest.raises(UnknownName, match="one of: one, two"):
        a.weld("one", "three", throat=3)
    with pytest.raises(BadValue, match="two different members"):
        a.weld("one", "one", throat=3)
    with pytest.raises(BadValue, match="throat"):
        a.weld("one", "two", throat=0)
    with pytest.raises(BadValue, match="assembly number"):
        Assembly("../x")
    again = a.add("three", plate("P1"), frame_at((0, 0, 20)))
    assert again.quantity(plate("P1")) == 2
    assert len(a.members) == 2


def test_mass_and_centre_by_hand():
    made = assemble(two(frame_at((100, 0, 0)), second=plate("P2", 20, 40)), SHOP)
    m1, m2 = 60 * 40 * 5 * STEEL, 20 * 40 * 5 * STEEL
    assert made.mass == pytest.approx(m1 + m2, rel=1e-9)
    x = (m1 * 30 + m2 * 110) / (m1 + m2)
    assert made.centre_of_mass == pytest.approx((x, 20.0, 2.5), abs=1e-6)


def test_a_turned_assembly_keeps_its_inside():
    a = two(frame_at((10, 10, 5))).weld("one", "two", throat=3)
    turned = a.moved(frame_at((7, 8, 9), (0, 1, 0), (0, 0, 1)))
    one, other = assemble(a, SHOP), assemble(turned, SHOP)
    p, q = one.pairs[0], other.pairs[0]
    assert (q.common, q.gap) == pytest.approx((p.common, p.gap), abs=1e-6)
    c = one.centre_of_mass
    assert other.centre_of_mass == pytest.approx((7 + c[2], 8 + c[0], 9 + c[1]))


def test_clash_is_found_with_its_volume():
    found = check(assemble(two(frame_at((50, 30, 2))), SHOP))
    clash = found.of("assembly.clash")
    # 10 x 10 mm overlap, 3 mm deep.
    assert [(f.severity, f.where, f.value) for f in clash] == [("stop", "one and two", 300.0)]
    assert not found.ok
    assert check(assemble(two(frame_at((50, 30, 5))), SHOP)).ok


def test_gap_where_a_weld_is_meant():
    near = check(assemble(two(frame_at((0, 0, 5.2))).weld("one", "two", throat=3), SHOP))
    assert [f.severity for f in near.of("assembly.weld_gap")] == ["fine"]
    far = check(assemble(two(frame_at((0, 0, 5.3))).weld("one", "two", throat=3), SHOP))
    assert [(f.severity, f.value) for f in far.of("assembly.weld_gap")] == [("stop", pytest.approx(0.3))]
    # Far apart it is still looked at.
    away = check(assemble(two(frame_at((0, 0, 50.0))).weld("one", "two", throat=3), SHOP))
    assert [f.value for f in away.of("assembly.weld_gap")] == [pytest.approx(45.0)]


@pytest.mark.parametrize(("off", "severity"), [(0.0, "fine"), (0.04, "fine"), (0.06, "stop"), (2.0, "stop")])
def test_mating_holes_must_lie_on_one_axis(off, severity):
    a = plate("P1").hole((20, 20), use="bolt", size="M8")
    b = plate("P2").hole((20 + off, 20), use="bolt", size="M10")
    found = check(assemble(two(frame_at((0, 0, 5)), a, b), SHOP))
    assert [f.severity for f in found.of("assembly.mating")] == [severity]
    assert found.of("assembly.mating")[0].value == pytest.approx(off, abs=1e-3)


def test_holes_across_each_other_do_not_mate():
    a = plate("P1").hole((20, 20), use="bolt", size="M8")
    upright = frame_at((0, 20, 5), (1, 0, 0), (0, 0, 1))
    assert assemble(two(upright, a, plate("P2").hole((20, 20), use="bolt", size="M8")), SHOP).matings == ()


def test_a_part_that_cannot_be_made_is_said_not_raised():
    bad = plate("P2").hole((59.0, 20), dia=10.0).fold("front", "up", leg=1.0)
    made = assemble(two(frame_at((0, 0, 5)), second=bad), SHOP)
    found = check(made)
    assert not found.ok
    assert all(f.where.startswith("P2: ") for f in found.stops)


def test_bolted_stack_touches_and_does_not_clash():
    a = two(frame_at((0, 0, 5)), *(plate(n).hole((20, 20), use="bolt", size="M10") for n in ("P1", "P2")))
    a = a.add("bolt", hexagon_bolt("M10", 25), frame_at((20, 20, 12)))
    a = a.add("washer", plain_washer("M10"), frame_at((20, 20, 10)))
    a = a.add("nut", hexagon_nut("M10"), frame_at((20, 20, -8.4)))
    made = assemble(a, SHOP)
    assert check(made).ok
    for a, b in (("two", "washer"), ("bolt", "washer"), ("one", "nut"), ("one", "two")):
        assert made.gap(a, b) == pytest.approx(0.0, abs=1e-9)
    # Two plates, the washer, the nut: six pairs of holes on one axis.
    assert len(made.matings) == 6


def test_bought_items_weigh_what_their_shapes_hold():
    nut = hexagon_nut("M10")
    volume = (math.sqrt(3) / 2 * 16**2 - math.pi / 4 * 10**2) * 8.4
    assert nut.mass == pytest.approx(volume * STEEL, rel=1e-12)
    # A squeezed cushion keeps its rubber.
    free, fitted = cushion(60, 30, 20), cushion(60, 30, 20, squeezed=5)
    assert fitted.mass == pytest.approx(free.mass, rel=1e-12)
    assert fitted.pieces[0].height == 25.0
    made = assemble(Assembly("X").add("n", nut), SHOP)
    from tinbook.making.solid import kernel

    assert kernel.volume(made.shape("n")) == pytest.approx(volume, rel=1e-9)


def test_a_nut_insert_fills_its_hole():
    sheet = Part("P1", sheet="DC01 1.5", base=tb.Outline.rectangle(60, 60)).hole((30, 30), use="nut insert", size="M6")
    a = Assembly("X").add("sheet", sheet).add("insert", nut_insert("M6", 1.5), frame_at((30, 30, 1.5)))
    a = a.add("bolt", hexagon_bolt("M6", 16), frame_at((30, 30, 2.5)))
    made = assemble(a, SHOP)
    assert check(made).ok
    assert max(p.common for p in made.pairs) < 1e-6


@pytest.mark.parametrize(
    ("call", "named"),
    [
        (lambda: hexagon_bolt("M11", 20), "M11"),
        (lambda: hexagon_bolt("M10", -1), "bolt M10 length"),
        (lambda: bolt_length(300), "at most 150"),
        (lambda: plain_washer("M3", wide=True), "washer size"),
        (lambda: nut_insert("M6", 9.0), "thickness"),
        (lambda: cushion(60, 30, 70), "bore"),
        (lambda: cushion(60, 30, 20, squeezed=9), "7.5 mm"),
        (lambda: shim(20, 30, 1), "bore"),
        (lambda: sleeve(20, 20, 30), "bore"),
        (lambda: gas_strut(300, 200, 300), "at least 434"),
        (lambda: shackle(21.0), "shackle pin"),
        (lambda: block("box", (1, 0, 1)), "box size"),
    ],
)
def test_bad_items_are_named(call, named):
    with pytest.raises(BadValue, match=named):
        call()


def test_existing_things_are_drawn_and_not_weighed():
    rail = block("rail", (50, 300, 4), existing=True)
    made = assemble(two(frame_at((0, 0, 5))).add("rail", rail, frame_at((0, 0, -4))), SHOP)
    assert made.mass == pytest.approx(2 * 60 * 40 * 5 * STEEL)
    assert made.gap("one", "rail") < 1e-9


def test_a_cutter_put_first_gets_the_sheets_it_takes():
    shop = tb.Shop.demo()
    sheet = shop.sheet("S355", 5)
    assert shop.cutter_for(sheet).key == "plasma"
    assert cut_on(shop, "laser").cutter_for(sheet).key == "laser"
    assert {c.key for c in cut_on(shop, "laser").cutters} == {c.key for c in shop.cutters}
    with pytest.raises(UnknownName, match="cutter"):
        cut_on(shop, "saw")


def test_a_stop_of_a_part_names_its_members_and_nothing_else_does():
    """A hole that leaves 0.5 mm of the edge stops the part, the size of its blank is fine."""
    part = tb.Part("P1", sheet="DC01 1.5", base=tb.Outline.rectangle(200, 100)).hole((10.5, 50), 20)
    found = tb.check(assemble(Assembly("A").add("left", part).add("right", part, frame_at((0, 200, 0))), SHOP))
    own = [f for f in found if f.where.startswith("P1: ")]
    assert {f.severity for f in own} == {"stop", "fine"}
    for f in own:
        assert f.where.endswith(" (member 'left' and 'right')") == (f.severity == "stop"), f


def test_a_check_that_breaks_down_lets_nothing_pass(monkeypatch, tmp_path):
    assert check(assemble(two(frame_at((50, 30, 5))), SHOP)).ok

    def broken(_made):
        raise ZeroDivisionError("odd")

    monkeypatch.setattr(rules_of_assemblies, "RULES", (Rule(broken, "searched"), *rules_of_assemblies.RULES))
    made = assemble(two(frame_at((50, 30, 5))), SHOP)
    found = check(made)
    assert [f.code for f in found.stops] == ["check.failed"]
    with pytest.raises(CannotMake, match=r"rule crashed(.|\n)*despite="):
        write_step(made, tmp_path)
    assert not list(tmp_path.iterdir())
    file = write_step(made, tmp_path, despite="looked at by hand")
    assert "state=stopped despite: looked at by hand" in file.read_text("latin-1")
