"""A part that is trimmed and drilled after beading: stock on the free edges, holes marked and not cut."""

from __future__ import annotations

import pytest

from tinbook.making.flat import STOCK
from tinbook.making.resolve import make
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.shop.shop import Shop


def beaded(**more) -> Part:
    part = Part("HN-T", sheet="DC01 1.5", base=Outline.rectangle(400, 200), **more)
    part = part.bead([(100, 40), (100, 150)], "R12x3").repeated(3, 80).hole((300, 60), 20)
    return part.holes_along("front", count=4, inset=15)


def test_the_blank_carries_stock_and_the_finished_line():
    made = make(beaded(trim=True), Shop.demo())
    assert made.flat.size == pytest.approx((400 + 2 * STOCK, 200 + 2 * STOCK), abs=1e-9)
    assert made.flat.cuts == ()
    assert len(made.flat.drills) == 5
    (trim,) = [m for m in made.flat.marks if m.kind == "trim"]
    xs = [p[0] for e in trim.edges for p in (e.start, e.end)]
    ys = [p[1] for e in trim.edges for p in (e.start, e.end)]
    # The finished line is the panel itself, and the solid is the finished part with its holes.
    assert (min(xs), max(xs), min(ys), max(ys)) == pytest.approx((0, 400, 0, 200))
    box = made.solid.BoundingBox()
    assert (box.xlen, box.ylen) == pytest.approx((400, 200), abs=1e-6)


def test_a_folded_edge_keeps_its_place():
    made = make(beaded(trim=True).fold("rear", leg=30), Shop.demo())
    line = made.flat.folds[0].pieces[0]
    assert line[0][1] == pytest.approx(200 - made.strips[0].setback + made.strips[0].allowance / 2, abs=1e-9)


def test_without_beads_nothing_is_left_to_trim():
    part = Part("HN-T", sheet="DC01 1.5", base=Outline.rectangle(400, 200), trim=True).hole((50, 50), 20)
    made = make(part, Shop.demo())
    assert made.flat.size == pytest.approx((400, 200))
    assert len(made.flat.cuts) == 1


def test_with_an_allowance_the_edges_along_the_beads_go_out():
    shop = Shop.demo()
    made = make(beaded(), shop)
    draw = sum(b.draw for b in made.panels[0].beads)
    # Beads run along y: the blank grows across them by their draw, and not along them.
    assert made.flat.size == pytest.approx((400 + draw, 200), abs=1e-9)
    assert draw > 0
