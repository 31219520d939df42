"""The cut file, read back by ezdxf and measured by shapely: neither knows our geometry."""

from __future__ import annotations

import logging
import math
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import ezdxf
import pytest
import shapely
from ezdxf.math import bulge_to_arc
from made_samples import channel, cradle, impossible, pan, tunnel
from write_samples import NOTCHED_AREA, plain

from tinbook.errors import BadValue, CannotMake
from tinbook.finding import Finding, Findings
from tinbook.flatpattern import Cut, FlatPattern
from tinbook.plane.loops import circle, polygon
from tinbook.write.dxf import INNER, OUTER, write_dxf

CUT = (OUTER, INNER)
# Closed forms: six round holes of 8, a slot 40 x 10 with round ends, a square of 20.
HOLES_AREA = 6 * math.pi * 4**2 + (30 * 10 + math.pi * 5**2) + 20**2


def vertices(e: Any) -> list[tuple[float, float, float]]:
    """x, y, bulge of a polyline of either kind, which must be closed."""
    if e.dxftype() == "LWPOLYLINE":
        assert e.closed
        return [(p[0], p[1], p[4]) for p in e.get_points()]
    assert e.is_closed
    return [(v.dxf.location.x, v.dxf.location.y, v.dxf.bulge) for v in e.vertices]


def points(e: Any, n: int = 720) -> list[tuple[float, float]]:
    """A contour as points on it; arcs by ezdxf's own bulge arithmetic, n steps a full turn."""
    if e.dxftype() == "CIRCLE":
        c, r = e.dxf.center, e.dxf.radius
        return [(c.x + r * math.cos(math.tau * i / n), c.y + r * math.sin(math.tau * i / n)) for i in range(n)]
    found: list[tuple[float, float]] = []
    corners = vertices(e)
    for (x0, y0, bulge), (x1, y1, _) in zip(corners, [*corners[1:], corners[0]], strict=True):
        found.append((x0, y0))
        if bulge:
            c, a0, a1, r = bulge_to_arc((x0, y0), (x1, y1), bulge)
            steps = max(2, math.ceil((a1 - a0) % math.tau / math.tau * n))
            on = [a0 + (a1 - a0) % math.tau * i / steps for i in range(1, steps)]
            found += [(c.x + r * math.cos(a), c.y + r * math.sin(a)) for a in (on if bulge > 0 else on[::-1])]
    return found


def polygons(file: Path, layers: tuple[str, ...] = CUT) -> list[shapely.Polygon]:
    """Read the contours of some layers."""
    return [shapely.Polygon(points(e)) for e in ezdxf.readfile(file).modelspace() if e.dxf.layer in layers]


@pytest.mark.parametrize("version", ["R2010", "R12"])
def test_reads_back_clean_closed_and_of_the_same_area(tmp_path: Path, version: Any) -> None:
    file = write_dxf(plain(), tmp_path, version)
    doc = ezdxf.readfile(file)
    assert not doc.audit().has_issues
    assert {e.dxf.layer for e in doc.modelspace()} == set(CUT)
    kinds = [e.dxftype() for e in doc.modelspace()]
    assert kinds.count("CIRCLE") == 6
    assert set(kinds) == {"CIRCLE", "LWPOLYLINE" if version == "R2010" else "POLYLINE"}
    outer, inner = polygons(file, (OUTER,)), polygons(file, (INNER,))
    assert len(outer) == 1
    assert all(p.is_valid for p in outer + inner)
    assert outer[0].area == pytest.approx(NOTCHED_AREA, rel=1e-6)
    assert sum(p.area for p in inner) == pytest.approx(
        HOLES_AREA, rel=2e-5
    )  # chords of half a degree lose 1.3e-5 of a circle
    assert all(outer[0].contains(p) for p in inner)


@pytest.mark.parametrize("version", ["R2010", "R12"])
def test_arcs_are_true(tmp_path: Path, version: Any) -> None:
    """The corner of 40 mm and the half round of 10 mm come back as bulges of tan(90/4) and -1."""
    doc = ezdxf.readfile(write_dxf(plain(), tmp_path, version))
    outline = next(e for e in doc.modelspace() if e.dxf.layer == OUTER)
    bulges = [v[2] for v in vertices(outline)]
    assert sorted(b for b in bulges if b) == pytest.approx([-1.0, math.tan(math.radians(90) / 4)], abs=1e-11)


def test_nothing_is_drawn_twice(tmp_path: Path) -> None:
    """No two contours share a stretch: their boundaries meet in nothing of any length."""
    found = [p.exterior for p in polygons(write_dxf(plain(), tmp_path))]
    for i, a in enumerate(found):
        for b in found[i + 1 :]:
            assert a.intersection(b).length == 0


def test_declares_millimetres_where_it_can(tmp_path: Path) -> None:
    new = ezdxf.readfile(write_dxf(plain(), tmp_path, "R2010"))
    assert new.header["$INSUNITS"] == 4
    assert new.header["$MEASUREMENT"] == 1
    old = write_dxf(plain(), tmp_path, "R12")
    assert "$INSUNITS" not in old.read_text(encoding="cp1252")
    assert old.stem.endswith("_mm")
    assert re.search(r"\$ACADVER\n\s*1\nAC1009\n", old.read_text(encoding="cp1252"))


@pytest.mark.parametrize("name", ["HN-TL.dxf", "HN-TL_1.6mm.dxf", "hammer.dxf"])
def test_r12_needs_the_unit_in_its_name(tmp_path: Path, name: str) -> None:
    with pytest.raises(BadValue, match="unit"):
        write_dxf(plain(), tmp_path / name, "R12")
    assert not list(tmp_path.iterdir())
    assert write_dxf(plain(), tmp_path / "HN-TL_mm.dxf", "R12").exists()


def test_r12_is_written_without_a_word(tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    logger, level = logging.getLogger("ezdxf"), logging.getLogger("ezdxf").level
    write_dxf(plain(), tmp_path, "R12")
    assert caplog.records == []
    assert logger.level == level


@pytest.mark.parametrize("version", ["R2010", "R12"])
def test_the_file_defines_the_layers_that_it_uses_and_no_other(tmp_path: Path, version: Any) -> None:
    """With openings and without; "0" and the one for dimensions stand in every DXF."""
    bare = replace(plain(), cuts=(), marks=())
    for flat in (plain(), bare):
        doc = ezdxf.readfile(write_dxf(flat, tmp_path, version, replace=True))
        assert {e.dxf.layer for e in doc.modelspace()} == {layer.dxf.name for layer in doc.layers} - {"0", "Defpoints"}
    assert INNER not in {layer.dxf.name for layer in doc.layers}


def test_the_default_file_holds_cuts_only_and_options_add_layers(tmp_path: Path) -> None:
    etched = ezdxf.readfile(write_dxf(plain(), tmp_path / "a.dxf", marks=True))
    layers = {e.dxf.layer for e in etched.modelspace()}
    assert layers == {OUTER, INNER, "ETCH_STROKES"}
    assert {e.dxftype() for e in etched.modelspace() if e.dxf.layer == "ETCH_STROKES"} == {"LINE", "ARC"}
    full = ezdxf.readfile(write_dxf(plain(), tmp_path / "b.dxf", folds=True))
    up = [e for e in full.modelspace() if e.dxf.layer == "FOLD_UP"]
    assert [(e.dxf.start.x, e.dxf.start.y, e.dxf.end.x, e.dxf.end.y) for e in up] == [(0, 40, 300, 40)]
    notes = " ".join(e.dxf.text for e in full.modelspace() if e.dxftype() == "TEXT")
    assert "turned 90 / included 90" in notes
    assert "turned 30 / included 150" in notes
    assert "Finished size, millimetres" in notes


def test_strokes_keep_their_shape(tmp_path: Path) -> None:
    """The length of all etched strokes is that of the marks."""
    doc = ezdxf.readfile(write_dxf(plain(), tmp_path / "a.dxf", marks=True))
    length = 0.0
    for e in doc.modelspace():
        if e.dxftype() == "LINE":
            length += (e.dxf.end - e.dxf.start).magnitude
        elif e.dxftype() == "ARC":
            length += math.radians((e.dxf.end_angle - e.dxf.start_angle) % 360) * e.dxf.radius
    assert length == pytest.approx(sum(e.length for m in plain().marks for e in m.edges), abs=1e-3)


def test_file_name_carries_the_facts(tmp_path: Path) -> None:
    assert write_dxf(plain(), tmp_path, quantity=4).name == "HN-TL_DC01_1.6mm_x4.dxf"


def test_kerf_moves_contours_into_the_waste(tmp_path: Path) -> None:
    """Exact for the outline by the growth of a closed curve, for circles by their diameter."""
    flat = plain()
    file = write_dxf(flat, tmp_path, kerf="1.5 mm")
    assert "kerf1.5" in file.name
    doc = ezdxf.readfile(file)
    radii = {round(e.dxf.radius, 9) for e in doc.modelspace() if e.dxftype() == "CIRCLE"}
    assert radii == {4 - 0.75}
    grown = polygons(file, (OUTER,))[0]
    finished = polygons(write_dxf(flat, tmp_path / "finished.dxf"), (OUTER,))[0]
    asked = finished.buffer(0.75, join_style="mitre", quad_segs=400)
    assert grown.symmetric_difference(asked).area < 0.05  # chords of half a degree on both sides


def test_kerf_wider_than_a_notch_is_refused(tmp_path: Path) -> None:
    with pytest.raises(CannotMake, match="outer contour"):
        write_dxf(plain(), tmp_path, kerf=22)
    small = replace(plain(), cuts=(Cut(loop=circle((100, 100), 1.2), name="pilot", use="cut-out", dia=1.2),))
    with pytest.raises(CannotMake, match="pilot"):
        write_dxf(small, tmp_path, kerf=1.5)
    with pytest.raises(BadValue, match="kerf"):
        write_dxf(plain(), tmp_path, kerf=0)
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize(
    "twice", [circle((30, 20), 8), polygon([(100, 90), (100, 110), (80, 110), (80, 90)])], ids=["circle", "square"]
)
def test_the_same_contour_twice_is_refused(tmp_path: Path, twice: Any) -> None:
    flat = replace(plain(), cuts=(*plain().cuts, Cut(loop=twice, name="again")))
    with pytest.raises(CannotMake, match="again"):
        write_dxf(flat, tmp_path)
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize(
    "name", ["../HN", "HN'FP", 'HN"FP', "<b>HN</b>", "", "HN FP", "a/b", "a\\b", "HN\n", "..", "Ü"]
)
def test_a_foreign_name_becomes_a_plain_file_name(tmp_path: Path, name: str) -> None:
    file = write_dxf(plain(name), tmp_path)
    assert file.parent == tmp_path
    assert re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9._-]*\.dxf", file.name)
    assert list(tmp_path.iterdir()) == [file]


def test_a_name_that_windows_keeps_for_itself_writes_nothing(tmp_path: Path) -> None:
    with pytest.raises(BadValue, match="part number"):
        write_dxf(plain("CON"), tmp_path)
    assert not list(tmp_path.iterdir())


def test_a_stop_finding_writes_nothing(tmp_path: Path) -> None:
    stop = Finding(code="fold.leg", severity="stop", where="fold 'front'", what="the leg is too short", remedy="longer")
    with pytest.raises(CannotMake, match="too short"):
        write_dxf(replace(plain(), findings=Findings((stop,))), tmp_path)
    assert not list(tmp_path.iterdir())


def test_the_process_wide_switch_is_put_back(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write_dxf(plain(), tmp_path)
    assert ezdxf.options.write_fixed_meta_data_for_testing is False
    monkeypatch.setattr("tinbook.write.dxf.add_loop", lambda *_: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        write_dxf(plain(), tmp_path / "later.dxf")
    assert ezdxf.options.write_fixed_meta_data_for_testing is False
    assert not (tmp_path / "later.dxf").exists()


def test_a_blank_far_from_the_origin(tmp_path: Path) -> None:
    from tinbook.plane.loops import Move

    move = Move(u=-5000.25, v=12000.5)
    far = FlatPattern(name="HN-TL", thickness=1.6, outer=plain().outer.moved(move))
    assert polygons(write_dxf(far, tmp_path))[0].area == pytest.approx(NOTCHED_AREA, rel=1e-6)


def test_nicks_for_a_cutter_that_does_not_etch(tmp_path: Path) -> None:
    """The winch cradle is cut on the own plasma table: two nicks of 0.5 mm for each fold, running in from the edge."""
    made = channel()
    doc = ezdxf.readfile(write_dxf(made, tmp_path / "a.dxf", marks=True))
    assert {e.dxf.layer for e in doc.modelspace()} == {OUTER, INNER, "EDGE_NICKS"}
    outline = polygons(tmp_path / "a.dxf", (OUTER,))[0]
    nicks = [e for e in doc.modelspace() if e.dxf.layer == "EDGE_NICKS"]
    assert len(nicks) == 2 * len(made.part.folds)
    for e in nicks:
        line = shapely.LineString([e.dxf.start.vec2, e.dxf.end.vec2])
        assert line.length == pytest.approx(0.5)
        assert outline.covers(line)
        assert outline.exterior.distance(line) < 1e-6


def test_a_cutter_marks_one_face(tmp_path: Path) -> None:
    """The pan's lip is folded down, so its line belongs on the down face and is not etched."""
    doc = ezdxf.readfile(write_dxf(pan(), tmp_path / "a.dxf", marks=True))
    etched = shapely.MultiLineString(
        [
            [e.dxf.start.vec2, e.dxf.end.vec2]
            for e in doc.modelspace()
            if e.dxf.layer == "ETCH_STROKES" and e.dxftype() == "LINE"
        ]
    )
    for mark in pan().flat.marks:  # type: ignore[union-attr]
        if mark.kind == "fold":
            middle = shapely.Point(mark.edges[0].at(0.5))
            assert (etched.distance(middle) < 1e-3) == (mark.face == "up"), mark.label


def test_kerf_belongs_to_the_owner_of_the_cutter(tmp_path: Path) -> None:
    assert write_dxf(channel(), tmp_path, kerf=1.5).name == "HN-WC_A_DC01_2mm_x1_kerf1.5.dxf"
    with pytest.raises(BadValue, match="compensates the kerf"):
        write_dxf(pan(), tmp_path, kerf=0.2)
    with pytest.raises(BadValue, match="cutter"):
        write_dxf(pan(), tmp_path, cutter="scissors")
    assert len(list(tmp_path.iterdir())) == 1


@pytest.mark.parametrize("made", [pan, channel, tunnel, cradle])
def test_the_demo_parts(tmp_path: Path, made: Any) -> None:
    """Area of the file against that of the flat pattern; overlaps, strays and open contours would show."""
    it = made()
    file = write_dxf(it, tmp_path, despite="nothing in the demo shop folds the cradle")
    assert not ezdxf.readfile(file).audit().has_issues
    outer, inner = polygons(file, (OUTER,)), polygons(file, (INNER,))
    assert len(outer) == 1
    assert len(inner) == len(it.flat.cuts)
    assert outer[0].area - sum(p.area for p in inner) == pytest.approx(it.flat.area, rel=1e-5)
    assert shapely.union_all(inner).area == pytest.approx(sum(p.area for p in inner), rel=1e-9)
    assert all(outer[0].contains_properly(p) for p in inner)
    assert file.name.endswith(f"_x{it.part.quantity}.dxf")


def test_an_impossible_part_writes_nothing(tmp_path: Path) -> None:
    with pytest.raises(CannotMake, match="bead"):
        write_dxf(impossible(), tmp_path)
    assert not list(tmp_path.iterdir())
