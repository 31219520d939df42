"""Numbers of the setting-out pages, read off the PDF and found again in the cut file, or by hand."""

from __future__ import annotations

import io
import itertools
import math
import re
from collections.abc import Callable
from pathlib import Path

import ezdxf
import pytest
from ezdxf.path import make_path
from made_samples import channel, pan, sheet_bytes, tunnel
from pypdf import PdfReader

from tinbook.datum import datum_of
from tinbook.errors import BadFile, BadValue, UnknownName
from tinbook.families.plain import hemmed_dash_edge
from tinbook.families.winch_cradles import winch_cradle
from tinbook.flatpattern import FlatPattern
from tinbook.making.made import Made
from tinbook.making.resolve import make
from tinbook.part.names import EVERY_EDGE
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.part.partfile import part_from_toml, part_to_toml
from tinbook.plane.loops import Edge, Loop, circle, polygon
from tinbook.rules.holes import smallest
from tinbook.shop.fixings import pilot_drill
from tinbook.shop.shop import Shop
from tinbook.write.dxf import FOLD_DOWN, FOLD_UP, INNER, OUTER, write_dxf
from tinbook.write.setting_out import hole_place_table, hole_table, mark_notes, setting_out
from tinbook.write.template import write_template

SHOP = Shop.demo()
XY = r"(-?\d+\.\d) (-?\d+\.\d)"
ROUND = 0.05
"""mm: what one decimal may be off."""


def pages(data: bytes) -> list[str]:
    return [re.sub(r"\s+", " ", p.extract_text()) for p in PdfReader(io.BytesIO(data)).pages]


def numbers(made: Made) -> str:
    """Text of the setting-out pages, without the strips of their titles."""
    said = pages(sheet_bytes(made))
    first = next(i for i, text in enumerate(said) if "Setting out O is" in text)
    return " ".join(re.sub(r"(?:mm )?Date Checked.*?(?=Corner|Hole|Bead|Fold line|$)", " ", t) for t in said[first:])


def tapered() -> Made:
    """300 long, 200 wide at the left and 180 at the right, a leg on either long edge."""
    base = Outline.polygon([(0, 0), (300, 0), (300, 180), (0, 200)], ["front", "right", "rear", "left"])
    part = Part("HN-T5", sheet="DC01 2.0", base=base).fold("front", "up", leg=60).fold("rear", "up", leg=(60, 40))
    return make(part, SHOP)


def other_hand() -> Made:
    part = Part("HN-OH", sheet="DC01 1.5", base=Outline.polygon([(0, 0), (300, 0), (260, 120), (0, 150)]))
    return make(part.fold(part.base.names[0], "down", leg=25, angle=39.8949).hole((90, 50), 12).mirrored(), SHOP)


def points_of(doc: ezdxf.document.Drawing, layer: str) -> list[tuple[float, float]]:
    """Corners of the contour on a layer, in its order."""
    (contour,) = doc.modelspace().query(f'LWPOLYLINE[layer=="{layer}"]')
    return [(x, y) for x, y, *_ in contour.get_points()]


@pytest.mark.parametrize("sample", [pan, channel, tunnel, tapered, other_hand])
def test_numbers_on_paper_are_those_of_the_cut_file(sample: Callable[[], Made], tmp_path: Path) -> None:
    """Distances between all places, so that no frame is taken from the code that printed them."""
    made = sample()
    doc = ezdxf.readfile(write_dxf(made, tmp_path / "a.dxf", folds=True))
    said = numbers(made)
    outline = points_of(doc, OUTER)
    rows = re.findall(rf"(\d+) {XY} to (\d+): (\d+\.\d)", said)
    assert [int(r[0]) for r in rows] == list(range(1, len(outline) + 1))
    corners = [(float(x), float(y)) for _, x, y, _, _ in rows]
    assert corners[0] == (0, 0), "the origin is a corner of the metal"
    # Same order in both, but for where it starts.
    shifts = [k for k in range(len(outline)) if _same(corners, outline[k:] + outline[:k])]
    assert len(shifts) >= 1, "every distance between two corners"
    far = re.search(r"Diagonal mm Measured ((?:\d+ - \d+ \d+\.\d )+)", said)
    assert far
    lines = [e for layer in (FOLD_UP, FOLD_DOWN) for e in doc.modelspace().query(f'LINE[layer=="{layer}"]')]
    ends = [p.vec2 for e in lines for p in (e.dxf.start, e.dxf.end)]
    printed = re.findall(rf"\d+ \S.*?, (?:up|down) {XY} \S+ \d+ (?:etched|nicks|scribe it), \d+\.\d long {XY} ", said)
    assert len(printed) == len(made.part.folds)
    fold_ends = [(float(row[i]), float(row[i + 1])) for row in printed for i in (0, 2)]
    middles = [ezdxf.path.bbox([make_path(e)]).center.vec2 for e in doc.modelspace().query(f'*[layer=="{INNER}"]')]
    holes = re.findall(rf"[A-Z]{{1,2}}\d* (?:Ø\d+\.\d+|\d+\.\d × \d+\.\d) cut {XY}", said)
    assert len(holes) == len(middles)

    def agrees(own: list[tuple[float, float]]) -> bool:
        """Whether all else fits with the file's corners named in this order."""
        to_paper = _frame(own, corners)
        sides = zip(rows, itertools.pairwise([*own, own[0]]), strict=True)
        good = all(abs(float(side) - math.dist(a, b)) < ROUND + 1e-6 for (*_, side), (a, b) in sides)
        for a, b, length in re.findall(r"(\d+) - (\d+) (\d+\.\d)", far.group(1)):
            good = good and abs(float(length) - math.dist(own[int(a) - 1], own[int(b) - 1])) < ROUND + 1e-6
        own_ends, own_middles = [to_paper(p) for p in ends], [to_paper(p) for p in middles]
        good = good and all(min(math.dist(p, e) for e in own_ends) < 2 * ROUND for p in fold_ends)
        return good and all(min(math.dist((float(x), float(y)), m) for m in own_middles) < 2 * ROUND for x, y in holes)

    # A blank that looks the same turned by a half may be named from either end, but only one way throughout.
    assert any(agrees(outline[k:] + outline[:k]) for k in shifts)


def _same(a: list[tuple[float, float]], b: list[tuple[float, float]]) -> bool:
    return all(
        abs(math.dist(a[i], a[j]) - math.dist(b[i], b[j])) < 3 * ROUND
        for i, j in itertools.combinations(range(len(a)), 2)
    )


def _frame(own: list[tuple[float, float]], paper: list[tuple[float, float]]) -> Callable:
    """The rigid move that carries the file's corners to the paper's: turned by what a far pair is turned."""
    k = max(range(len(own)), key=lambda i: math.dist(own[0], own[i]))
    ax, ay = own[k][0] - own[0][0], own[k][1] - own[0][1]
    bx, by = paper[k]
    turn = math.atan2(by, bx) - math.atan2(ay, ax)
    if abs(math.remainder(turn, math.pi / 2)) < 1e-3:  # rounded numbers know a right angle no better
        turn = round(turn / (math.pi / 2)) * math.pi / 2
    c, s = math.cos(turn), math.sin(turn)

    def to_paper(p: tuple[float, float]) -> tuple[float, float]:
        x, y = p[0] - own[0][0], p[1] - own[0][1]
        return c * x - s * y, s * x + c * y

    return to_paper


def test_a_tapered_plate_by_hand() -> None:
    """Legs of 60 over the base's edges: mould lines at y = 0 and from 200 to 180, first fold line at 60 - BD/2 from O.

    A leg of 60 at one end and 40 at the other: the line is as far from the two corners as leg less half the deduction.
    """
    made = tapered()
    half = {s.name: s.setback - s.allowance / 2 for s in made.strips}
    said = numbers(made)
    assert f"{60 - half['front']:.1f} {60 - half['front']:.1f}" in said
    lean = math.cos(math.atan2(20, 300))  # the leg's ends are square to a mould line that leans 20 in 300
    row = re.search(rf"\d rear, up {XY} (\d+\.\d) \d nicks, (\d+\.\d) long {XY} (\d+\.\d)", said)
    assert row
    first, last = float(row.group(3)), float(row.group(7))
    assert sorted((first, last)) == pytest.approx([40 - half["rear"], 60 - half["rear"]], abs=ROUND + 1e-6)
    assert float(row.group(4)) == pytest.approx(300 / lean, abs=0.7)  # the relief beside the right end takes a little
    whole = pages(sheet_bytes(made))[0]
    assert f"{first:.1f} / {last:.1f}" in whole


# --- hand-drilled holes --------------------------------------------------------------------------


def drilled() -> Made:
    """5.5 mm is under what the own plasma cuts in 3 mm; the same hole twice more, in a row."""
    part = Part("HN-DR", sheet="DC01 3.0", base=Outline.rectangle(200, 100)).hole((50, 40), use="bolt", size="M5")
    return make(
        part.hole((100, 40), use="bolt", size="M5").hole((150, 40), use="bolt", size="M5").hole((20, 80), 20), SHOP
    )


def test_holes_drilled_by_hand_reach_paper_and_template_but_no_plasma(tmp_path: Path) -> None:
    """M5 medium fit 5.5 (ISO 273); places as the part was drawn, from its lower left corner."""
    made = drilled()
    sheet = pages(sheet_bytes(made))
    assert re.search(r"B 3 Ø5.5 bolt drilled Ø2.5 50.0 50.0, 40.0 150.0, 40.0", sheet[0])
    assert "A 1 Ø20.0 cut-out cut - - 20.0, 80.0" in sheet[0]
    assert "Drilled by hand, not in the cut file: B; the cutter marks nothing there" in sheet[0]
    assert "O is the square corner of edges 'left' and 'front'" in sheet[0]
    for k, x in enumerate((50, 100, 150), 1):
        assert f"B{k} Ø5.5 drilled, pilot Ø2.5 {x:.1f} 40.0" in sheet[1]
    assert sheet[0].count("Part sheet, page 1 of 2") == 1, "no fold, no fold sheet"
    for marks in (True, False):
        doc = ezdxf.readfile(write_dxf(made, tmp_path / "a.dxf", marks=marks))
        assert {e.dxf.layer for e in doc.modelspace()} == {OUTER, INNER}
        assert len(doc.modelspace().query(f'*[layer=="{INNER}"]')) == 1
    doc = ezdxf.readfile(write_dxf(made, tmp_path / "a.dxf", folds=True))  # the file to look at, not the one to cut
    texts = {e.dxf.text for e in doc.modelspace().query("TEXT")}
    assert {f"B{k} drill Ø5.5, pilot Ø2.5" for k in (1, 2, 3)} <= texts
    assert len(doc.modelspace().query('LINE[layer=="READ_ONLY"]')) == 6
    template = " ".join(pages(write_template(made, tmp_path).read_bytes()))
    for k in (1, 2, 3):
        assert f"B{k} drill Ø5.5, pilot Ø2.5" in template


def test_a_cutter_that_etches_marks_the_centre(tmp_path: Path) -> None:
    """1 mm in 1.5 mm sheet is under what the laser cuts: a cross of etched strokes, never a contour."""
    made = make(Part("HN-DL", sheet="DC01 1.5", base=Outline.rectangle(200, 100)).hole((60, 30), 1.0), SHOP)
    assert "the cutter etches a cross at each" in pages(sheet_bytes(made))[0]
    doc = ezdxf.readfile(write_dxf(made, tmp_path / "a.dxf", marks=True))
    assert not doc.modelspace().query(f'*[layer=="{INNER}"]')
    crosses = [e for e in doc.modelspace() if e.dxf.layer == "ETCH_STROKES" and e.dxftype() == "LINE"]
    middles = {tuple(round(v, 3) for v in e.dxf.start.lerp(e.dxf.end).vec2) for e in crosses}
    assert (60.0, 30.0) in middles
    assert not ezdxf.readfile(write_dxf(made, tmp_path / "b.dxf")).modelspace().query("LINE")


def test_pilot_drills() -> None:
    """A third of the hole, in half millimetres (common practice): 5.5 -> 2.5, 9 -> 3, 23.5 -> 8; a hole saw has its own."""
    assert [pilot_drill(d) for d in (3.0, 4.0, 5.5, 9.0, 23.5, 40.0)] == [None, None, 2.5, 3.0, 8.0, 6.5]


def test_a_hole_cut_undersize_says_so(tmp_path: Path) -> None:
    """A bore of 20 in 3 mm plate, cut at 16: the file has the 16, the finished part and the tables the 20."""
    base = Outline.rectangle(200, 100)
    part = Part("HN-US", sheet="DC01 3.0", base=base).hole((60, 40), 20, undersize=16, name="bore")
    made = make(part, SHOP)
    (e,) = ezdxf.readfile(write_dxf(made, tmp_path / "a.dxf")).modelspace().query(f'*[layer=="{INNER}"]')
    assert (e.dxf.center.x, e.dxf.center.y, e.dxf.radius) == pytest.approx((60, 40, 8))
    said = pages(sheet_bytes(made))
    assert "A 1 Ø20.0 cut-out cut Ø16.0, drill out - - 60.0, 40.0" in said[0]
    assert "Cut undersize, to be drilled out: A to Ø20.0." in said[0]
    assert "A Ø20.0 cut Ø16.0, drill out 60.0 40.0" in said[1]
    assert "A drill out to Ø20.0" in " ".join(pages(write_template(made, tmp_path).read_bytes()))
    assert made.solid.Volume() == pytest.approx(3 * (200 * 100 - math.pi * 10**2), rel=1e-9)
    assert part_from_toml(part_to_toml(part)).holes == part.holes
    # 4 mm is under what the plasma cuts in 3 mm: then the centre is set out and drilled like any other.
    small = make(Part("HN-US", sheet="DC01 3.0", base=base).hole((60, 40), 20, undersize=4, name="bore"), SHOP)
    assert not ezdxf.readfile(write_dxf(small, tmp_path / "b.dxf")).modelspace().query(f'*[layer=="{INNER}"]')
    assert "A 1 Ø20.0 cut-out drilled Ø6.5" in pages(sheet_bytes(small))[0]
    (f,) = (f for f in smallest(small) if f.code == "hole.undersize")
    assert (f.value, f.limit) == (4, 6)
    for wrong in ({"undersize": 20}, {"undersize": 16, "length": 40}):
        with pytest.raises(BadValue, match="undersize"):
            Part("HN-US", sheet="DC01 3.0", base=base).hole((60, 40), 20, **wrong)


def test_every_hole_drilled_after_trimming_is_measured_from_the_trimmed_corner() -> None:
    """The blank has 10 mm of stock on each free edge; the hole stands 300, 60 from the finished corner."""
    part = Part("HN-T", sheet="DC01 1.5", base=Outline.rectangle(400, 200), trim=True)
    part = part.bead([(100, 40), (100, 150)], "R12x3").repeated(3, 80).hole((300, 60), 20)
    it = setting_out(make(part, SHOP).flat)
    assert it.trims
    assert [row[3:5] for row in hole_place_table(it).rows] == [("300.0", "60.0")]
    said = " ".join(pages(sheet_bytes(make(part, SHOP))))
    assert "Holes are measured after trimming, from T on the trimmed outline. T is the square corner" in said
    assert "bead 1 R12x3, up 110.0 50.0 bead 1 end 110.0 160.0" in said  # on the blank, from its own corner


def test_more_holes_than_a_page_flow_and_none_is_lost() -> None:
    """40 hand-drilled holes at no even step: each has a row of its own."""
    part = Part("HN-MH", sheet="DC01 3.0", base=Outline.rectangle(600, 400))
    places = [(20 + 37 * (i % 15) + 3 * math.sin(i), 30 + 55 * (i // 15) + 3 * math.cos(2 * i)) for i in range(40)]
    for at in places:
        part = part.hole(at, use="bolt", size="M5")
    made = make(part, SHOP)
    found = re.findall(rf"[A-Z]+\d+ Ø5.5 drilled, pilot Ø2.5 {XY}", " ".join(pages(sheet_bytes(made))))
    assert sorted((float(x), float(y)) for x, y in found) == sorted((round(x, 1), round(y, 1)) for x, y in places)


# --- nicks ---------------------------------------------------------------------------------------


def nicks(part: Part) -> set[str]:
    flat = make(part, SHOP).flat
    assert flat is not None
    marks = [m for m in flat.marks if m.kind == "nick"]
    assert all(e.length <= 0.5 + 1e-9 for m in marks for e in m.edges)
    return {m.label.split()[0] for m in marks}


def test_down_folds_of_an_etching_cutter_get_nicks() -> None:
    tray = Part("HN-N", sheet="DC01 1.5", base=Outline.rectangle(300, 200))
    part = tray.fold("front", "down", leg=30).fold("rear", "up", leg=30)
    assert nicks(part) == {"front"}
    said = numbers(make(part, SHOP))
    assert "front nicks" not in said
    assert re.search(r"\d nicks, 300.0 long", said)
    assert re.search(r"\d etched, 300.0 long", said)
    made = make(part, SHOP)
    assert made.flat is not None
    (below,) = [n for n in mark_notes(made, made.flat) if "down face" in n]
    assert below.endswith("with x running the other way: front.")


@pytest.mark.parametrize(
    ("change", "kept", "why"),
    [
        (lambda p: p.hem("left", "closed", "up", leg=10), "rear", "its ends run into a hemmed or curled edge"),
        (lambda p: p.keep_clean("left"), "rear", "its ends lie on edges that are kept clean"),
        (lambda p: p.keep_clean(), "rear", "its ends lie on edges that are kept clean"),
        (lambda p: p.keep_clean("rear.end"), None, ""),
        (lambda p: p.keep_clean("rear.left"), "rear", "its ends lie on edges that are kept clean"),
    ],
)
def test_no_nick_on_edges_that_must_stay_whole(change: Callable[[Part], Part], kept: str | None, why: str) -> None:
    """The own plasma does not etch, so every fold that may be nicked is."""
    part = change(Part("HN-N", sheet="DC01 2.0", base=Outline.rectangle(300, 200)).fold("rear", "up", leg=30))
    assert nicks(part) == (set() if kept else {"rear"})
    made = make(part, SHOP)
    assert made.flat is not None
    said = " ".join(mark_notes(made, made.flat))
    if kept:
        assert re.search(rf"No nicks at [^:]*{kept}[^:]*: {why}", said)
        assert f"Scribe by the setting-out numbers, the cutter marks nothing: {kept}" in said


def test_a_hem_and_a_part_that_carries_load_are_never_nicked() -> None:
    assert "hem" not in nicks(hemmed_dash_edge(sheet="DC01 1.0"))
    deck = next(p for p in winch_cradle().parts if p.folds)
    assert deck.clean == (EVERY_EDGE,)
    assert nicks(deck) == set()


def test_clean_edges_are_stored_with_the_part() -> None:
    part = Part("HN-N", sheet="DC01 2.0", base=Outline.rectangle(300, 200)).fold("rear", "up", leg=30)
    for some in (part.keep_clean("left", "rear.end"), part.keep_clean(), part.keep_clean("left").keep_clean()):
        assert part_from_toml(part_to_toml(some)) == some
    with pytest.raises(UnknownName, match="clean edge"):
        part.keep_clean("roof")
    with pytest.raises(BadFile, match="clean"):
        part_from_toml(part_to_toml(part).replace("quantity = 1", 'quantity = 1\nclean = "left"'))


# --- words ---------------------------------------------------------------------------------------


def test_an_open_hem_is_closed_to_its_gap() -> None:
    """Hooks over 3 mm: whoever folds it must read the gap at the fold, at the hit and at the check."""
    said = pages(sheet_bytes(make(hemmed_dash_edge(hem="open", catches=3.0), SHOP)))[0]
    assert "press flat" not in said
    assert "press to its gap" in said
    assert "open hem, gap 3.00 mm" in said
    assert "gap 3.00 mm inside" in said
    assert "lay a strip of 3.00 mm in before you press" in said


def test_no_number_on_paper_has_more_decimals_than_a_tape() -> None:
    said = " ".join(pages(sheet_bytes(other_hand())))
    assert "39.9" in said
    assert not re.findall(r"\d+\.\d{3,}(?!\d*\s*(?:against|of))", re.sub(r"K 0\.\d{3}", "", said))


def test_a_fold_whose_name_is_a_number_keeps_apart_from_its_place_in_the_order() -> None:
    part = Part("HN-A", sheet="DC01 1.5", base=Outline.rectangle(200, 60))
    part = part.fold("front" if "front" in part.base.names else part.base.names[0], "up", leg=30, name="fold 2")
    part = part.fold(part.base.names[2], "up", leg=30, name="fold 1")
    said = " ".join(pages(sheet_bytes(make(part, SHOP))))
    assert re.search(r"fold 1 \(drawn as 'fold [12]'\), up", said)
    assert not re.search(r"fold \d fold \d", said)
    assert "fold fold" not in said  # finished sizes and stops name folds too


# --- datum and flow ------------------------------------------------------------------------------


def test_the_origin_is_on_the_metal() -> None:
    """A cross-shaped blank: the lower left corner of its box is in the air."""
    blank = polygon([(50, 0), (250, 0), (250, 50), (300, 50), (300, 150), (250, 150), (250, 200), (50, 200), (50, 150),
                     (0, 150), (0, 50), (50, 50)])  # fmt: skip
    datum = datum_of(blank)
    assert datum.origin == (50, 0)
    assert datum.at((0, 50)) == (-50, 50)
    assert datum.kind == "square"
    assert "lower left" in datum.words()


def test_a_rounded_corner_is_measured_from_its_edges() -> None:
    """200 x 100 with corners of 12: the tangent point is seen by nobody, the two edges are there to hook a tape on."""
    datum = datum_of(Outline.rectangle(200, 100, names=("front", "right", "rear", "left")).rounded(12).loop)
    assert datum.kind == "edges"
    assert datum.at((200, 100)) == pytest.approx((200, 100))
    assert "O is where edges 'left' and 'front' would meet, at the lower left in the picture" in datum.words()


def test_a_blank_without_straight_edges_is_measured_across() -> None:
    disc = circle((40, 10), 100)
    datum = datum_of(disc)
    assert datum.at((40, 10)) == pytest.approx((50, 0))
    assert "longest line across" in datum.words()
    (row,) = hole_place_table(
        setting_out(FlatPattern(name="x", thickness=1, outer=_with_hole(disc), cuts=_hole()))
    ).rows
    assert row[3:5] == ("50.0", "20.0")


def _with_hole(disc: Loop) -> Loop:
    assert isinstance(disc.edges[0], Edge)
    return disc


def _hole() -> tuple:
    from tinbook.flatpattern import Cut

    return (Cut(loop=circle((40, 30), 8), dia=8.0, use="bolt", name="h"),)


def test_no_hole_table_without_holes() -> None:
    assert hole_table(setting_out(FlatPattern(name="x", thickness=1, outer=polygon([(0, 0), (9, 0), (0, 9)])))) is None
