"""Pictures: well-formed, static, of the right size, with hidden lines hidden."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest
from made_samples import channel, impossible, pan, tunnel
from write_samples import plain

from tinbook.dims import fold_stations, fold_to_edges, hole_rows, overall
from tinbook.errors import CannotMake
from tinbook.flatpattern import Cut, FlatPattern, FoldLine
from tinbook.plane.loops import circle, polygon
from tinbook.svg import flat_svg
from tinbook.write.folded import folded_svg
from tinbook.write.svg import write_svg

NS = "{http://www.w3.org/2000/svg}"


@pytest.mark.parametrize("dims", [False, True])
@pytest.mark.parametrize("true_size", [False, True])
def test_flat_is_well_formed_and_static(dims: bool, true_size: bool) -> None:
    root = ET.fromstring(flat_svg(plain(), dims=dims, true_size=true_size))
    groups = {g.get("class") for g in root.iter(f"{NS}g")}
    assert groups == {"tb-blank", "tb-fold-up", "tb-fold-down", "tb-mark", *(["tb-dim"] if dims else [])}
    text = ET.tostring(root, encoding="unicode")
    for forbidden in ("script", "href", "http://www.w3.org/1999", "id=", "onload", "0x", "foreignObject"):
        assert forbidden not in text
    if dims:
        numbers = {t.text for t in root.iter(f"{NS}text")}
        assert numbers == {"300.0", "190.0", "40.0", "280.0"}


def test_flat_at_true_size() -> None:
    root = ET.fromstring(flat_svg(plain(), true_size=True))
    box = [float(v) for v in root.attrib["viewBox"].split()]
    assert root.attrib["width"] == f"{box[2]:g}mm"
    assert root.attrib["height"] == f"{box[3]:g}mm"
    assert box[2] > 300
    assert box[3] > 190


def test_flat_arcs_turn_the_right_way() -> None:
    """A circle drawn anticlockwise in y-up is anticlockwise in SVG too: sweep flag 0, both halves."""
    flat = FlatPattern(name="HN", thickness=1, outer=circle((0, 0), 20))
    d = next(ET.fromstring(flat_svg(flat)).iter(f"{NS}path")).attrib["d"]
    assert re.findall(r"A10 10 0 [01] ([01]) (-?10) 0", d) == [("0", "10"), ("0", "-10")]


def test_names_are_escaped() -> None:
    nasty = replace(plain(), name="<script>alert(1)</script>", folds=(replace(plain().folds[0], name='a"<b>'),))
    text = flat_svg(nasty)
    assert "<script" not in text
    assert "<b>" not in text
    ET.fromstring(text)


def test_ink_follows_the_page() -> None:
    text = flat_svg(plain())
    assert "currentColor" in text
    assert "prefers-color-scheme:dark" in text
    # Nothing inside a page is restyled: the rule holds for a picture that stands alone.
    assert re.findall(r"<style>(.*?)</style>", text)[0].startswith("svg:root{")


def test_written_file(tmp_path: Path) -> None:
    file = write_svg(pan(), tmp_path, dims=True)
    assert file.name == "HN-FP-L_B_DC01_1.2mm_x2.svg"
    ET.parse(file)
    with pytest.raises(CannotMake):
        write_svg(impossible(), tmp_path)
    assert len(list(tmp_path.iterdir())) == 1


@pytest.mark.parametrize("made", [pan, channel, tunnel])
@pytest.mark.parametrize("side", ["up", "down"])
def test_folded_is_well_formed(made: object, side: str) -> None:
    text = folded_svg(made(), side)  # type: ignore[operator, arg-type]
    root = ET.fromstring(text)
    x, y, w, h = (float(v) for v in root.attrib["viewBox"].split())
    for a, b in re.findall(r"[ML](-?[\d.]+) (-?[\d.]+)", text):
        assert x <= float(a) <= x + w
        assert y <= float(b) <= y + h


def test_impossible_part_has_no_picture() -> None:
    with pytest.raises(CannotMake, match="no panels"):
        folded_svg(impossible())


# --- dimensions --------------------------------------------------------------------------------


def test_stations_run_from_one_datum() -> None:
    flat = plain()
    assert [(d.upright, d.text) for d in fold_stations(flat, 5)] == [(False, "280.0"), (True, "40.0")]
    assert [d.value for d in overall(flat, 5)] == pytest.approx([300, 190])


def test_fold_to_edges_finds_the_free_edge_of_a_skew_leg() -> None:
    """A fold 30 mm inside an edge that leans 3 : 4, by the distance of two parallel lines."""
    outer = polygon([(0, 0), (80, 60), (30, 120), (-50, 60)])
    n = (-0.6, 0.8)
    a, b = (30 * n[0], 30 * n[1]), (80 + 30 * n[0], 60 + 30 * n[1])
    fold = FoldLine(name="f", pieces=((a, b),), angle=90, direction="up", radius=1, allowance=3)
    found = fold_to_edges(FlatPattern(name="x", thickness=1, outer=outer, folds=(fold,)), fold)
    assert found == pytest.approx((30, 30))


def test_fold_to_edges_of_a_tapered_leg_gives_both_corners() -> None:
    """A leg 60 at x = 0 and 40 at x = 300 beyond a line at y = 100, whichever way the line runs."""
    outer = polygon([(0, 0), (300, 0), (300, 140), (0, 160)])
    for ends, wanted in ((((0.0, 100.0), (300.0, 100.0)), (60, 40)), (((300.0, 100.0), (0.0, 100.0)), (40, 60))):
        fold = FoldLine(name="f", pieces=(ends,), angle=90, direction="up", radius=1, allowance=3)
        found = fold_to_edges(FlatPattern(name="x", thickness=1, outer=outer, folds=(fold,)), fold)
        assert found == pytest.approx(wanted)


def test_hole_rows() -> None:
    flat = plain()
    row, slot, window = hole_rows(flat)
    assert (row.count, row.pitch, row.first, row.last, row.first_from) == (6, (40, 40), (30, 20), (230, 20), 20)
    assert (slot.count, slot.pitch, window.size) == (1, None, (20, 20))
    # A slot of 40 x 10 turned by 30 degrees, as a caliper finds it and not its bounding box.
    assert slot.size == pytest.approx((40, 10))
    assert slot.turn == pytest.approx(30)


def test_uneven_rows_stay_rows_and_crowds_do_not() -> None:
    """Beads that draw in spread a row by a few mm; holes at random places are no row."""
    spread = [20.0, 60.0, 102.3, 142.3, 184.6]
    crowd = [(20, 90), (75, 61), (140, 118), (190, 77)]
    outer = polygon([(0, 0), (220, 0), (220, 140), (0, 140)])
    cuts = [Cut(loop=circle((x, 20), 8), dia=8, use="plug weld") for x in spread]
    cuts += [Cut(loop=circle(p, 5), dia=5, use="bolt") for p in crowd]
    rows = hole_rows(FlatPattern(name="x", thickness=1, outer=outer, cuts=tuple(cuts)))
    assert rows[0].count == 5
    assert rows[0].pitch == pytest.approx((40, 42.3))
    assert [r.count for r in rows[1:]] == [1, 1, 1, 1]
