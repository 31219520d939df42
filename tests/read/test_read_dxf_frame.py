"""A drawing sheet round a part, and bends drawn by their middle and extents."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any

import pytest
from dxfdrawn import box, codes, lines

from tinbook.errors import BadFile
from tinbook.flatpattern import FlatPattern
from tinbook.read.dxf import notes as dxf_notes
from tinbook.read.dxf.flat import read_dxf

Read = Callable[..., FlatPattern]


def sheet(space: Any, *, attached: bool = True) -> None:
    """A4 across by ISO 5457: trimmed sheet, drawing space, a title block with texts."""
    box(space, 0, 0, 297, 210)
    box(space, 20, 10, 267, 190)
    x, y = (107, 10) if attached else (105, 12)
    box(space, x, y, 180, 36)
    lines(space, (x, y + 18), (x + 180, y + 18))
    lines(space, (x + 60, y), (x + 60, y + 36))
    for k, text in enumerate(("HN-BR-1", "DC01 1.5", "1:1", "rev A")):
        space.add_text(text, height=4).set_placement((x + 5 + 65 * (k % 2), y + 5 + 18 * (k // 2)))


def plate(space: Any) -> None:
    box(space, 60, 90, 80, 40)
    space.add_circle((80, 110), 4)
    space.add_circle((120, 110), 4)


@pytest.mark.parametrize("attached", [True, False])
def test_a_drawing_sheet_is_not_the_blank(attached: bool, read: Read) -> None:
    def draw(doc: Any, space: Any) -> None:
        sheet(space, attached=attached)
        plate(space)

    flat = read(draw)
    assert flat.size == pytest.approx((80, 40))
    assert [c.dia for c in flat.cuts] == [8, 8]
    assert not flat.marks
    (said,) = [f for f in flat.findings if f.code == "dxf.border"]
    assert "297 x 210" in said.what
    assert not [f for f in flat.findings if f.severity == "stop"]


def test_a_border_alone_round_a_part_without_holes(read: Read) -> None:
    """Sheet size and texts beside the part are enough."""

    def draw(doc: Any, space: Any) -> None:
        box(space, 0, 0, 420, 297)
        box(space, 100, 100, 90, 60)
        for k in range(3):
            space.add_mtext("note").set_location((300, 20 + 10 * k))

    flat = read(draw)
    assert flat.size == pytest.approx((90, 60))
    assert "dxf.border" in codes(flat)


def test_a_plate_of_sheet_size_with_a_window_stays(read: Read) -> None:
    def draw(doc: Any, space: Any) -> None:
        box(space, 0, 0, 297, 210)
        box(space, 60, 60, 100, 50)
        space.add_circle((20, 20), 3)

    flat = read(draw)
    assert flat.size == pytest.approx((297, 210))
    assert len(flat.cuts) == 2
    assert "dxf.border" not in codes(flat)


def test_a_border_in_doubt_stops_and_can_be_told(read: Read) -> None:
    """A rectangle of no sheet's size round a plate with holes: border, or window with a loose plate."""

    def draw(doc: Any, space: Any) -> None:
        box(space, 0, 0, 333, 222)
        plate(space)

    assert [f.severity for f in read(draw).findings if f.code == "dxf.border_or_blank"] == ["stop"]
    told = read(draw, border=True)
    assert told.size == pytest.approx((80, 40))
    assert len(told.cuts) == 2
    kept = read(draw, border=False)
    assert kept.size == pytest.approx((333, 222))
    assert not [f for f in kept.findings if f.severity == "stop"]


@pytest.mark.parametrize("turn", [0, 1])
def test_middle_and_extents_are_one_fold(turn: int, read: Read) -> None:
    """Two bends 20 mm apart, 3.4 mm wide: six lines, two folds."""

    def draw(doc: Any, space: Any) -> None:
        box(space, 0, 0, 100, 40)
        for x in (40, 60):
            for off, layer in ((0, "BEND"), (-1.7, "BEND_EXTENT"), (1.7, "BEND_EXTENT")):
                a, b = (x + off, 0), (x + off, 40)
                lines(space, *((b, a) if turn else (a, b)), layer=layer)

    flat = read(draw)
    folds = [m for m in flat.marks if m.kind == "fold"]
    assert sorted(m.edges[0].start[0] for m in folds) == pytest.approx([40, 60])
    assert [f.severity for f in flat.findings if f.code == "dxf.extents"] == ["fine"]


def test_three_folds_that_look_alike_stay_three(read: Read) -> None:
    def draw(doc: Any, space: Any) -> None:
        box(space, 0, 0, 100, 40)
        for x in (30, 45, 60):
            lines(space, (x, 0), (x, 40), layer="BEND")

    flat = read(draw)
    assert len([m for m in flat.marks if m.kind == "fold"]) == 3
    assert "dxf.extents" not in codes(flat)


def test_three_lines_too_close_for_folds_are_one_and_it_is_said(read: Read) -> None:
    def draw(doc: Any, space: Any) -> None:
        box(space, 0, 0, 100, 40)
        for x in (28.3, 30, 31.7):
            lines(space, (x, 0), (x, 40), layer="BEND")

    flat = read(draw)
    assert [m.edges[0].start[0] for m in flat.marks if m.kind == "fold"] == pytest.approx([30])
    assert [f.severity for f in flat.findings if f.code == "dxf.extents"] == ["caution"]


@pytest.mark.parametrize("file", ["rover6__CENTRAL_BRAKET", "rover6__FRONT_REAR_SUPPORT"])
def test_strangers_bend_extents(foreign: Any, file: str) -> None:
    """Six bends each, by the list beside the files; drawn elsewhere with layers for bends and extents."""
    flat = read_dxf(foreign / f"{file}.flat.dxf", thickness=2)
    assert len([m for m in flat.marks if m.kind == "fold"]) == 6


def test_contours_in_contours_cost_little(read: Read) -> None:
    """1 000 rings in each other took 4 s when every pair was asked; 60 s of computing end any reading."""
    start = time.process_time()
    flat = read(lambda d, s: [s.add_circle((0, 0), 10 + i / 10) for i in range(1000)], border=False)
    assert time.process_time() - start < 3
    assert len(flat.cuts) == 1


def test_reading_ends_when_its_time_is_used_up(read: Read, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(dxf_notes, "SECONDS", 0.0)
    with pytest.raises(BadFile, match="more than 0 s of computing"):
        read(lambda d, s: [box(s, 20 * i, 0, 9, 9) for i in range(60)])
