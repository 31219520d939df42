"""An assembly's files read back by other libraries; exploded picture, list of parts, jig."""

from __future__ import annotations

import csv
import io
import json
import math
import struct
import xml.etree.ElementTree as ET

import cadquery
import numpy as np
import pytest
import shapely
import shapely.affinity

import tinbook as tb
from tinbook.errors import BadValue, CannotMake
from tinbook.families.joiner import front_joiner
from tinbook.families.recovery_plates import recovery_plate
from tinbook.fit.jig import jig_plate
from tinbook.making.assembled import assemble
from tinbook.part.assembly import Assembly
from tinbook.part.part import Part
from tinbook.route.order import order_of_work
from tinbook.shop.shop import cut_on
from tinbook.space import frame_at
from tinbook.write import assembly as files

SHOP = cut_on(tb.Shop.demo(), "laser")


@pytest.fixture(scope="module")
def joiner():
    return assemble(front_joiner(number="HN-FJ"), SHOP)


def test_step_holds_every_member_where_it_stands(joiner, tmp_path):
    path = tb.write_step(joiner, tmp_path)
    assert path.name == "HN-FJ_A_assembly.step"
    back = cadquery.importers.importStep(str(path)).solids().vals()
    assert len(back) == 6
    named = {m.name: joiner.shape(m.name) for m in joiner.assembly.members}
    want = sorted(
        (round(s.Volume(), 3), *(round(c, 3) for c in s.Center().toTuple()))
        for s in map(cadquery.Shape, named.values())
    )
    got = sorted((round(s.Volume(), 3), *(round(c, 3) for c in s.Center().toTuple())) for s in back)
    assert np.allclose(want, got, atol=2e-3)
    text = path.read_text()
    assert text.count("PRODUCT('HN-FJ-3 rev A'") == 1  # three ribs, one product
    assert "PRODUCT('HN-FJ rev A'" in text
    assert "COLOUR_RGB" in text or "DRAUGHTING_PRE_DEFINED_COLOUR" in text
    assert tb.write_step(assemble(front_joiner(number="HN-FJ"), SHOP), tmp_path / "again.step").read_text() == text


def test_glb_holds_a_node_for_each(joiner, tmp_path):
    data = tb.write_glb(joiner, tmp_path).read_bytes()
    length = struct.unpack("<I", data[12:16])[0]
    tree = json.loads(data[20 : 20 + length])
    assert [n["name"] for n in tree["nodes"]] == list(joiner.assembly.names)
    high = [a["max"] for a in tree["accessors"] if "max" in a]
    # Metres, y up: half the span to the right end plate's outside.
    assert max(h[0] for h in high) == pytest.approx(0.320, abs=1e-6)


def test_list_of_parts(joiner, tmp_path):
    rows = list(csv.DictReader(io.StringIO(files.write_parts_list(joiner, tmp_path).read_text())))
    assert [(r["number or size"], r["quantity"]) for r in rows] == [
        ("HN-FJ-1", "1"),
        ("HN-FJ-3", "3"),
        ("HN-FJ-2", "2"),
    ]
    listed = files.parts_list(joiner)
    assert listed.mass == pytest.approx(joiner.mass)
    assert "HN-FJ-2" in listed._repr_html_()


def test_list_counts_bought_and_leaves_out_what_was_there():
    made = assemble(recovery_plate(), SHOP)
    rows = {r.number: r for r in files.parts_list(made)}
    assert rows["chassis rail, end"].material == "existing"
    assert rows["chassis rail, end"].mass == 0.0
    assert rows["bow shackle, pin 22, jaw 31"].quantity == 1


def test_exploded_members_stand_clear_of_each_other(joiner):
    order = order_of_work(joiner)
    shifts = files.exploded_shifts(joiner, order, 20.0)
    boxes = {}
    for name, v in shifts.items():
        p = joiner.mesh(name)[0] + np.array(v)
        boxes[name] = (p.min(axis=0), p.max(axis=0))
    names = list(boxes)
    for i, a in enumerate(names):
        for b in names[i + 1 :]:
            gap = np.maximum(boxes[a][0] - boxes[b][1], boxes[b][0] - boxes[a][1]).max()
            assert gap >= 19.9, (a, b)


def test_pictures_are_numbered_like_the_list(joiner):
    order = order_of_work(joiner)
    for picture in (files.exploded_svg(joiner, order), files.assembled_svg(joiner)):
        root = ET.fromstring(str(picture))
        texts = [t.text for t in root.iter("{http://www.w3.org/2000/svg}text")]
        assert texts == [str(row.item) for row in files.parts_list(joiner)]
    assert files.exploded_svg(joiner, order) == files.exploded_svg(assemble(front_joiner(number="HN-FJ"), SHOP), order)


def test_nothing_is_written_of_a_part_that_cannot_be_made(tmp_path):
    bad = Part("P", sheet="S355 16.0", base=tb.Outline.rectangle(200, 200)).fold("front", "up", leg=60)
    made = assemble(Assembly("X").add("one", bad), SHOP)
    for write in (tb.write_step, tb.write_glb, files.write_parts_list):
        with pytest.raises(CannotMake, match="nothing was written"):
            write(made, tmp_path)
    assert list(tmp_path.iterdir()) == []


# --- jig -------------------------------------------------------------------------------------------


def bracketed():
    base = Part("B", sheet="S235 5.0", base=tb.Outline.rectangle(200, 120).moved(-100, -60))
    for i, p in enumerate([(-80, -40), (80, -40), (0, 40)]):
        base = base.hole(p, use="bolt", size="M10", name=f"bolt {i}")
    ear = Part("E", sheet="S235 5.0", base=tb.Outline.rectangle(60, 60)).hole((30, 20), use="bolt", size="M8")
    a = Assembly("J").add("base", base).add("ear", ear, frame_at((110, -20, -20), (1, 0, 0), (0, 1, 0)))
    return assemble(a, SHOP)


def test_jig_carries_the_assembly_s_holes():
    made = bracketed()
    part = jig_plate(made, sheet="S235 6.0", level=0.0, stops=("base",), pin=8.0)
    jig = tb.make(part, SHOP)
    assert jig.ok
    label = next(t.text for t in part.texts)
    x0, y0 = (float(w[1:]) for w in label.split()[-2:])
    found = {(round(h.centre[0] - x0, 3), round(h.centre[1] - y0, 3)): h.dia for h in part.holes if h.loop is None}
    for p in [(-80, -40), (80, -40), (0, 40)]:
        assert found[p] == 11.0
    # Three stop pins touch the base's outline from outside: 4 mm from it.
    stops = [h.centre for h in part.holes if h.name.startswith("stop")]
    assert len(stops) == 3
    for x, y in stops:
        dx, dy = max(abs(x - x0) - 100, 0.0), max(abs(y - y0) - 60, 0.0)
        assert math.hypot(dx, dy) == pytest.approx(4.0, abs=1e-6)
    # The ear hangs below the face: a window 2 mm larger than it.
    window = next(h for h in part.holes if h.name == "window")
    assert window.loop.area == pytest.approx(64 * 64, abs=1e-6)


def test_jig_shows_where_each_part_stands():
    """The base's rectangle, drawn by hand; where a pin's hole or the ear's window is cut, there is no line."""
    made = bracketed()
    part = jig_plate(made, sheet="S235 6.0", level=0.0, stops=("base",))
    x0, y0 = (float(w[1:]) for w in next(t.text for t in part.texts).split()[-2:])
    lines = [shapely.LineString(e.path + e.path[: e.closed]) for e in part.etches]
    want = shapely.box(x0 - 100, y0 - 60, x0 + 100, y0 + 60).boundary
    assert lines
    assert all(want.buffer(0.01).contains(line) for line in lines)
    cut = [shapely.Point(h.centre).buffer(h.dia / 2) for h in part.holes if h.loop is None]
    cut += [shapely.Polygon(h.loop.points).buffer(0) for h in part.holes if h.loop is not None]
    cut[-1] = shapely.affinity.translate(cut[-1], *next(h.centre for h in part.holes if h.loop is not None))
    gone = shapely.union_all(cut)
    assert all(0.4 < line.distance(gone) < 200 for line in lines)
    # All of the rectangle is there but for half a millimetre round what is cut.
    assert sum(line.length for line in lines) == pytest.approx(want.difference(gone.buffer(0.5)).length, abs=0.2)
    assert "base" in [t.text for t in part.texts]
    assert len(tb.make(part, SHOP).flat.marks) > len(lines)
    bare = jig_plate(made, sheet="S235 6.0", level=0.0, stops=("base",), lines=False)
    assert bare.etches == ()


def test_jig_needs_something_to_hold_by():
    flat = Part("P", sheet="S235 5.0", base=tb.Outline.rectangle(100, 60))
    made = assemble(Assembly("J").add("one", flat), SHOP)
    with pytest.raises(CannotMake, match="0 pin holes"):
        jig_plate(made, sheet="S235 6.0")
    assert jig_plate(made, sheet="S235 6.0", stops=("one",)).number == "J-JG"
    with pytest.raises(BadValue, match="stands on the plane z = -9 mm"):
        jig_plate(made, sheet="S235 6.0", level=-9.0, stops=("one",))
    with pytest.raises(BadValue, match="member"):
        jig_plate(made, sheet="S235 6.0", stops=("two",))
