"""Nested sheets to the cutter: files read back by other libraries, times and offcuts by hand."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import ezdxf
import ezdxf.path
import pytest
import shapely
from pypdf import PdfReader
from shapely.geometry import Polygon, box

import tinbook as tb
from printed import faults, pieces
from tinbook.errors import BadValue, CannotWrite, UnknownName
from tinbook.plane.loops import Edge, Loop, circle, polygon

SHOP = tb.Shop.demo()
SHEET = "DC01 1.5"


def plate_of(*blanks: Any, size: tuple[float, float] = (1000, 500), **more: Any) -> Any:
    plate = tb.job.Plate.rectangle("P", *size)
    return tb.job.nest(list(blanks), [plate], gap=6, margins=10, effort=0, **more)


def square(name: str, side: float, *holes: Loop, **more: Any) -> Any:
    return tb.job.Blank(
        name=name, outer=polygon([(0, 0), (side, 0), (side, side), (0, side)]), holes=holes, angles=(0.0,), **more
    )


def read_back(file: Path) -> tuple[list[tuple[str, Polygon]], Any]:
    """Return the closed contours of a DXF in the file's order, arcs flattened by ezdxf, and the document."""
    doc = ezdxf.readfile(file)
    assert not doc.audit().has_errors
    found = []
    for entity in doc.modelspace():
        if entity.dxf.layer in ("BLANK_EDGE", "BLANK_HOLES"):
            way = ezdxf.path.make_path(entity)
            found.append((entity.dxf.layer, Polygon([(p.x, p.y) for p in way.flattening(0.01)])))
    return found, doc


@pytest.fixture(scope="module")
def plan() -> Any:
    made = [
        tb.make(tb.families.flanged_disc(), SHOP),
        tb.make(tb.families.flanged_disc(across=90, bore=20, bolts=0), SHOP),
    ]
    blanks = [
        replace(tb.job.blank_for_nesting(m, n), name=name)
        for m, n, name in zip(made, (4, 5), ("big", "small"), strict=True)
    ]
    return tb.job.cut_plan(
        plate_of(*blanks, square("frame", 300, circle((150, 150), 250)), size=(1500, 750)), 1, SHOP, SHEET
    )


@pytest.mark.parametrize("version", ["R2010", "R12"])
def test_a_sheet_reads_back_without_overlap(plan: Any, tmp_path: Path, version: Any) -> None:
    file = tb.job.write_nest_dxf(plan, tmp_path, version, job="Q41")
    found, doc = read_back(file)
    assert file.name == (
        "Q41_laser_DC01_1.5mm_sheet1.dxf" if version == "R2010" else "Q41_laser_DC01_1.5mm_sheet1_mm.dxf"
    )
    assert {e.dxf.layer for e in doc.modelspace()} == {"BLANK_EDGE", "BLANK_HOLES", "ETCH_STROKES", "OFFCUT_EDGE"}
    outers = [shape for layer, shape in found if layer == "BLANK_EDGE"]
    holes = [shape for layer, shape in found if layer == "BLANK_HOLES"]
    assert len(outers) == 10
    metal = [o.difference(shapely.union_all([h for h in holes if o.contains(h) and h.area < o.area])) for o in outers]
    assert all(box(10, 10, 1490, 740).buffer(0.02).covers(m) for m in metal)
    for i, a in enumerate(metal):
        for b in metal[i + 1 :]:
            assert a.distance(b) >= 6 - 0.03
    total = sum(e.length for c in plan.contours for e in c.loop)
    assert sum(s.exterior.length for _, s in found) == pytest.approx(total, rel=1e-3)


def test_holes_come_before_the_contour_round_them(plan: Any, tmp_path: Path) -> None:
    found, _ = read_back(tb.job.write_nest_dxf(plan, tmp_path))
    for n, (_, shape) in enumerate(found):
        for _, later in found[n + 1 :]:
            assert not (shape.contains(later) and later.area < shape.area)
    for contour, (layer, _) in zip(plan.contours, found, strict=True):
        assert contour.hole == (layer == "BLANK_HOLES")


def test_every_pierce_lies_in_the_waste(plan: Any) -> None:
    metal = plan.nest.shapes(plan.layout)
    for c in plan.contours:
        assert min(m.distance(shapely.Point(c.pierce)) for m in metal) > 0.05


def test_a_straight_sided_contour_begins_where_the_cut_meets_it(plan: Any, tmp_path: Path) -> None:
    _, doc = read_back(tb.job.write_nest_dxf(plan, tmp_path))
    lines = [e for e in doc.modelspace() if e.dxftype() == "LWPOLYLINE" and e.dxf.layer.startswith("BLANK")]
    starts = [c.entry for c in plan.contours if not c.loop.is_circle]
    assert lines
    for entity, entry in zip(lines, starts, strict=True):
        assert math.dist(entity.get_points("xy")[0], entry) < 1e-5


def test_lead_ins_and_notes_stand_on_layers_of_their_own(plan: Any, tmp_path: Path) -> None:
    file = tb.job.write_nest_dxf(plan, tmp_path, lead_ins=True, notes=True)
    doc = ezdxf.readfile(file)
    texts = {e.dxf.text for e in doc.modelspace().query("TEXT[layer=='READ_ONLY']")}
    assert {str(c.number) for c in plan.contours} <= texts
    assert "frame no. 1" in texts
    leads = doc.modelspace().query("LINE[layer=='LEAD_IN']")
    assert len(leads) == len(plan.contours)


def test_minutes_metres_and_pierces_by_hand() -> None:
    """Laser, mild steel 1.5 mm: 15 m/min and 0.2 s; two squares of 100 mm, each with a hole of 20 mm.

    Metres: 2 x (0.4 + 0.02 pi); no offcut is kept on so small a plate. Ways at 90 m/min from the plate's corner.
    """
    hole = circle((50, 50), 20)
    plan = tb.job.cut_plan(plate_of(square("s", 100, hole, quantity=2), size=(240, 130)), 1, SHOP, SHEET)
    metres = 2 * (0.4 + 0.02 * math.pi)
    at, way = (0.0, 0.0), 0.0
    for c in plan.contours:
        way += math.dist(at, c.pierce)
        at = c.entry
    assert plan.offcuts == ()
    assert plan.pierces == 4
    assert plan.metres == pytest.approx(metres, abs=1e-9)
    assert plan.minutes == pytest.approx(metres / 15 + 4 * 0.2 / 60 + way / 1000 / 90, abs=1e-9)


def test_speeds_between_two_rows_are_interpolated() -> None:
    """Between 1 mm (20 m/min, 0.1 s) and 1.5 mm (15 m/min, 0.2 s), at 1.25 mm: 17.5 m/min, 0.15 s."""
    pace = SHOP.cutter("laser").pace(SHOP.material("DC01"), 1.25)
    assert (pace.speed, pace.pierce) == pytest.approx((17.5, 0.15))


def test_the_rest_of_a_sheet_as_rectangles_and_as_an_outline() -> None:
    """A square of 200 mm in the corner of 1000 x 500 at margins of 10: cut ends at 210 + 6 = 216 from both sides."""
    nest = plate_of(square("s", 200))
    placed = nest.shapes(nest.layout(1))[0]
    x, y = placed.bounds[2] + 6, placed.bounds[3] + 6
    plan = tb.job.cut_plan(nest, 1, SHOP, SHEET, keep=(200, 200))
    boxes = [loop.box for loop in plan.offcuts]
    assert boxes[0] == pytest.approx((x, 0, 1000, 500))
    assert boxes[1] == pytest.approx((0, y, x, 500))
    assert plan.parting_length == pytest.approx(500 + x, abs=0.05)
    whole = tb.job.cut_plan(nest, 1, SHOP, SHEET, keep=(200, 200), offcuts="outline")
    assert [abs(loop.area) for loop in whole.offcuts] == pytest.approx([1000 * 500 - x * y])
    assert whole.parting_length == pytest.approx(x + y, abs=0.05)


def test_what_is_too_small_to_keep_is_scrap() -> None:
    assert tb.job.cut_plan(plate_of(square("s", 200)), 1, SHOP, SHEET, keep=(900, 600)).offcuts == ()


def test_offcuts_leave_every_blank_its_gap(plan: Any) -> None:
    metal = plan.nest.shapes(plan.layout)
    for shape in ("rectangles", "outline"):
        for loop in tb.job.cut_plan(plan.nest, 1, SHOP, SHEET, offcuts=shape).offcuts:
            piece = Polygon(loop.points)
            assert piece.is_valid
            assert box(0, 0, 1500, 750).buffer(1e-6).covers(piece)
            assert min(piece.distance(m) for m in metal) >= 6 - 1e-6


def test_a_blank_that_is_turned_over_leaves_its_marks_out() -> None:
    made = tb.make(tb.folded_channel(), SHOP)
    blank = tb.job.blank_for_nesting(made, turn_over=True)
    assert blank.strokes
    nest = plate_of(blank)
    layout = nest.layouts[0]
    over = replace(layout, placements=(replace(layout.placements[0], turned_over=True),))
    assert tb.job.cut_plan(nest, 1, SHOP, SHEET).strokes
    assert not tb.job.cut_plan(nest.with_layouts([over]), 1, SHOP, SHEET).strokes


def test_strokes_lie_on_their_blanks(plan: Any) -> None:
    metal = shapely.union_all(plan.nest.shapes(plan.layout)).buffer(0.05)
    assert all(metal.covers(shapely.Point(edge.at(0.5))) for _, edge in plan.strokes)


def test_room_for_each_process_and_what_a_shop_says_of_its_own() -> None:
    plasma = SHOP.cutter("plasma")
    assert plasma.room(3).gap == 8
    assert plasma.room(6).gap == 12
    assert "of the shop" in plasma.room(3).source
    silent = replace(plasma, gap_per_thickness=None, gap_floor=None, margins=None)
    assert silent.room(6).gap == 12
    assert "guess" in silent.room(6).source


def test_paper_shows_cuts_and_offcuts(plan: Any, tmp_path: Path) -> None:
    file = tb.job.write_cut_sheets([plan], tmp_path, job="Q41")
    assert faults(pieces(file.read_bytes())) == []
    text = "".join(page.extract_text() for page in PdfReader(file).pages)
    assert f"{plan.metres:.2f} m cut, {plan.pierces} pierces" in text
    assert "frame" in text
    assert text.count("outside") == 10


def test_the_same_bytes_twice_and_no_other_sheet_is_written_over(plan: Any, tmp_path: Path) -> None:
    file = tb.job.write_nest_dxf(plan, tmp_path / "a.dxf")
    first = file.read_bytes()
    assert tb.job.write_nest_dxf(plan, file).read_bytes() == first
    other = tb.job.cut_plan(plan.nest, 1, SHOP, "DC01 2.0")
    with pytest.raises(CannotWrite, match="another design"):
        tb.job.write_nest_dxf(other, file)
    assert file.read_bytes() == first


def test_bad_values_are_named(plan: Any, tmp_path: Path) -> None:
    nest = plan.nest
    for wrong, match in (
        (lambda: tb.job.cut_plan(nest, 2, SHOP, SHEET), "plate"),
        (lambda: tb.job.cut_plan(nest, True, SHOP, SHEET), "plate"),
        (lambda: tb.job.cut_plan(nest, 1, SHOP, "tin"), "tin"),
        (lambda: tb.job.cut_plan(nest, 1, SHOP, SHEET, cutter="saw"), "saw"),
        (lambda: tb.job.cut_plan(nest, 1, SHOP, SHEET, lead=-1), "lead"),
        (lambda: tb.job.cut_plan(nest, 1, SHOP, SHEET, lead="far"), "lead"),
        (lambda: tb.job.cut_plan(nest, 1, SHOP, SHEET, offcuts="round"), "offcut shape"),
        (lambda: tb.job.cut_plan(nest, 1, SHOP, SHEET, keep=(math.nan, 5)), "keep"),
        (lambda: tb.job.cut_plan(nest, 1, SHOP, SHEET, keep=300), "keep"),
        (lambda: tb.job.cut_plan(None, 1, SHOP, SHEET), "nest"),
        (lambda: tb.job.cut_plan(nest, 1, None, SHEET), "shop"),
        (lambda: tb.job.write_nest_dxf(None, tmp_path), "plan"),
        (lambda: tb.job.write_nest_dxf(plan, tmp_path / "x.txt"), "file name"),
        (lambda: tb.job.write_nest_dxf(plan, tmp_path, "R9"), "version"),
        (lambda: tb.job.write_cut_sheets([], tmp_path), "plans"),
        (lambda: tb.job.write_cut_sheets([1], tmp_path), "plans"),
        (lambda: SHOP.cutter("laser").pace(SHOP.material("DC01"), 25.0), "25 mm"),
        (lambda: replace(SHOP.cutter("laser"), speeds={"stainless": [[3, 1, 1], [2, 1, 1]]}), "rise"),
        (lambda: replace(SHOP.cutter("laser"), speeds={"stainless": [[3, -1, 1]]}), "greater than 0"),
        (lambda: replace(SHOP.cutter("laser"), margins=(1, 2)), "margins"),
    ):
        with pytest.raises((BadValue, UnknownName), match=match):
            wrong()
    assert not list(tmp_path.iterdir())


def test_parting_cuts_of_a_round_plate_stay_on_it() -> None:
    disc = tb.job.Plate(name="disc", outline=circle((400, 400), 800))
    nest = tb.job.nest([square("s", 200)], [disc], gap=6, margins=10, effort=0)
    plan = tb.job.cut_plan(nest, 1, SHOP, SHEET, keep=(150, 150))
    whole = shapely.Point(400, 400).buffer(400, 256)
    assert plan.offcuts
    assert all(whole.buffer(0.05).covers(Polygon(loop.points)) for loop in plan.offcuts)
    assert all(isinstance(e, Edge) for chain in plan.parting for e in chain)
