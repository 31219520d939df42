"""Host cuts: sizes by hand, found again by tape, the mirror images, spot welds, and files read by another library."""

from __future__ import annotations

import math

import ezdxf
import pytest
import shapely

import tinbook as tb
from tinbook.errors import BadValue
from tinbook.space import frame_at

SHOP = tb.Shop.demo()
BASE = tb.Outline.rectangle(400, 300)
PAN = tb.make(tb.Part("HN-H1", sheet="DC01 1.5", base=BASE).fold("left", "up", leg=40), SHOP)
PLATE = tb.make(tb.Part("HN-H2", sheet="S235 5.0", base=tb.Outline.rectangle(200, 80)), SHOP)
# The wall stands square to the plate's length and half-way along it; its z looks to the plate's front.
WALL = frame_at((100, 40, 2.5), (0, 1, 0), (0, 0, 1))
DATUMS = ((-100, -50), (100, -50))


def test_a_floor_is_cut_back_to_a_lip_and_clear_of_the_fold():
    """400 by 300, lips of 20: the line is 360 or 380 wide; on the folded side it stands 1.5 mm outside."""
    cut = tb.fit.host_cut(PAN, 20, clearance=1.5)
    x0, y0, x1, y1 = cut.lines[0].box
    folded = PAN.part.base.edge("left")
    sizes = sorted((x1 - x0, y1 - y0))
    assert sizes == pytest.approx([300 - 20 + 1.5, 360] if abs(folded.chord - 400) < 1 else [260, 380 + 1.5])
    assert {s.name: s.lip for s in cut.cards[0].sides} == {"front": 20, "right": 20, "rear": 20, "left": -1.5}
    assert "arrow points front" in cut.notes[0]
    assert any("Brace the body" in n for n in cut.notes)
    assert any("brake lines" in n for n in cut.notes)


def test_a_plate_of_five_goes_through_a_slot_of_seven_by_eighty_two():
    """Plate 80 x 5, clear by 1 mm all round: 82 x 7; corners R 2, drilled Ø4; from P and Q by the law of Pythagoras."""
    cut = tb.fit.host_cut(PLATE, wall=WALL, clearance=1, datums=DATUMS)
    (line,) = cut.lines
    x0, y0, x1, y1 = line.box
    assert (x1 - x0, y1 - y0) == pytest.approx((82, 7), abs=0.01)
    assert line.area == pytest.approx(82 * 7 - (4 - math.pi) * 2**2, abs=0.05)
    corner = next(p for p in cut.cards[0].places if p.at == pytest.approx((-41, -3.5), abs=0.01))
    assert (corner.from_p, corner.from_q) == pytest.approx((math.hypot(59, 46.5), math.hypot(141, 46.5)), abs=0.01)
    assert any("Ø4 in the slot's corners" in n for n in cut.notes)
    # The plate's own corner keeps clear of the rounded one: sqrt(2) - (sqrt(2) - 1) * 2 = 0.586 mm.
    hole = shapely.Polygon(line.loop.chords(0.001))
    plate = shapely.box(-40, -2.5, 40, 2.5)
    assert shapely.distance(hole.exterior, plate) == pytest.approx(math.sqrt(2) - 2 * (math.sqrt(2) - 1), abs=0.01)


def test_a_folded_channel_goes_through_a_slot_of_its_own_shape():
    """The slot's area is the section's and a strip round it: A + c L + the corners' squares, less what rounding takes."""
    channel = tb.make(tb.folded_channel(), SHOP)
    (x0, y0, _), (x1, y1, _) = channel.preview.box
    wall = frame_at(((x0 + x1) / 2, (y0 + y1) / 2, 0), (0, 1, 0), (0, 0, 1))
    card = tb.fit.host_cut(channel, wall=wall, clearance=0.5, datums=DATUMS).cards[0]
    section = card.outline.loop
    # The channel's volume between two planes of its straight part is its section times the way.
    assert section.area * (x1 - x0) == pytest.approx(channel.solid.Volume(), rel=0.05)
    assert sum(not e.is_line for e in section.edges) == 4
    assert card.line.area > section.area + 0.5 * section.length * 0.95


def test_the_other_side_and_the_other_face_are_mirror_images():
    cut = tb.fit.host_cut(PLATE, wall=WALL, datums=DATUMS, welds=[(-80, 20)], sheet=1)
    other = cut.other_side()
    assert (other.side, other.face, cut.side) == ("right", "outside", "left")
    assert cut.other_face().face == "inside"
    assert other.welds[0].at == (80, 20)
    assert other.lines[0].area == pytest.approx(cut.lines[0].area)
    assert sorted(round(p.from_p, 6) for p in other.cards[0].places) == sorted(
        round(p.from_p, 6) for p in cut.cards[0].places
    )
    again = other.other_side()
    assert again.side == "left"
    assert again.lines[0].box == pytest.approx(cut.lines[0].box)
    assert "RIGHT" in other.drawing().view


def test_the_cutter_takes_the_whole_nugget_and_a_weld_by_the_line_is_said():
    """Sheet of 1 mm: nugget 5 mm (EN 1993-1-3 8.4), cutter 6.5; of 2 mm: 7.07, so 10; of 3 mm: 8.66, more than any."""
    sizes = {}
    for sheet in (1, 2, 3):
        cut = tb.fit.host_cut(PLATE, wall=WALL, datums=DATUMS, welds=[(-80, 20)], sheet=sheet)
        sizes[sheet] = cut.nugget, cut.cutter, [f.code for f in cut.findings]
    assert sizes[1] == (pytest.approx(5), 6.5, [])
    assert sizes[2] == (pytest.approx(5 * math.sqrt(2)), 10, [])
    assert sizes[3] == (pytest.approx(5 * math.sqrt(3)), 10, ["host.cutter"])
    near = tb.fit.host_cut(PLATE, wall=WALL, datums=DATUMS, welds=[(0, 10)], sheet=1)
    # 10 mm over the middle, 6.5 mm from the slot, less half a cutter of 6.5: 3.25 mm of metal.
    assert [(f.code, f.value) for f in near.findings] == [("host.weld", pytest.approx(3.25, abs=0.01))]


def test_the_files_hold_the_line_the_welds_and_the_view(tmp_path):
    cut = tb.fit.host_cut(PLATE, wall=WALL, datums=DATUMS, welds=[(-80, 20)], sheet=1)
    file = tb.write.write_cut_line(cut, tmp_path)
    assert file.name == "HN-H2_host_cut_left_outside.dxf"
    doc = ezdxf.readfile(file)
    assert not doc.audit().errors
    by_layer = {}
    for e in doc.modelspace():
        by_layer.setdefault(e.dxf.layer, []).append(e)
    assert [e.closed for e in by_layer["BODY_CUT"]] == [True]
    assert [round(e.dxf.radius, 3) for e in by_layer["BODY_DRILL"]] == [3.25]
    words = [e.dxf.text for e in by_layer["READ_ONLY"] if e.dxftype() == "TEXT"]
    assert {"P", "Q", "W1", "UP"} <= set(words)
    assert any("LEFT side" in w for w in words)
    same = file.read_bytes()
    assert tb.write.write_cut_line(cut, tmp_path, replace=True).read_bytes() == same
    assert tb.write_template(cut, tmp_path).stat().st_size > 2000
    r12 = ezdxf.readfile(tb.write.write_cut_line(cut, tmp_path, "R12"))
    assert r12.dxfversion == "AC1009"


@pytest.mark.parametrize(
    "asked",
    [
        {}, {"lip": 20, "wall": WALL}, {"lip": -40}, {"lip": "wide"}, {"lip": float("nan")}, {"lip": {"nowhere": 20}}, {"lip": 200},
        {"made": None, "lip": 20}, {"lip": 20, "side": "middle"}, {"lip": 20, "side": []}, {"lip": 20, "face": None}, {"lip": 20, "arrow": ""}, {"lip": 20, "turn": "x"},
        {"lip": 20, "clearance": 0}, {"lip": 20, "welds": 3}, {"lip": 20, "welds": [(1, 2)]}, {"lip": 20, "welds": [(1, 2)], "sheet": 9},
        {"lip": 20, "welds": [(1, 2)], "sheet": 1, "cutter": -1}, {"lip": 20, "datums": ((0, 0), (1, 0))}, {"lip": 20, "datums": "PQ"},
        {"wall": WALL}, {"wall": 3, "datums": DATUMS}, {"wall": frame_at((900, 0, 0), (0, 1, 0), (0, 0, 1)), "datums": DATUMS},
        {"wall": WALL, "datums": DATUMS, "turn": 30},
    ],
)  # fmt: skip
def test_wrong_answers_are_named(asked):
    with pytest.raises(BadValue):
        tb.fit.host_cut(**{"made": PAN if "wall" not in asked or "lip" in asked else PLATE, **asked})


def test_wrong_cards_and_places_are_named(tmp_path):
    cut = tb.fit.host_cut(PAN, 20)
    for card, path, version in (
        (None, tmp_path, "R2010"), ("card", tmp_path, "R2010"), (cut, None, "R2010"), (cut, tmp_path / "no" / "x.dxf", "R2010"),
        (cut, tmp_path, "R9"), (cut, tmp_path / "x.pdf", "R2010"),
    ):  # fmt: skip
        with pytest.raises(BadValue):
            tb.write.write_cut_line(card, path, version)
    assert not list(tmp_path.iterdir())
