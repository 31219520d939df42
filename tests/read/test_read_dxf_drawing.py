"""What a drawing says besides its strokes: layers, line types, units, blocks, texts."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import pytest
from dxfdrawn import box, codes, lines
from ezdxf import units as dxf_units

from tinbook.errors import BadFile, BadValue
from tinbook.flatpattern import FlatPattern


def test_layers_line_types_and_hints(read: Callable[..., FlatPattern]) -> None:
    def draw(doc: Any, space: Any) -> None:
        box(space, 0, 0, 100, 40)
        lines(space, (30, 0), (30, 40), layer="BENDS")
        lines(space, (60, 0), (60, 40), linetype="DASHED")
        lines(space, (70, 5), (70, 15), (80, 15), layer="ENGRAVE")
        lines(space, (90, 0), (90, 40), layer="ANLAGE")
        lines(space, (-9, -9), (200, -9), layer="DIMENSIONS")
        doc.layers.add("HIDDEN_STUFF").off()
        lines(space, (0, 0), (50, 40), layer="HIDDEN_STUFF")

    flat = read(draw)
    assert flat.area == pytest.approx(4000)
    assert sorted(m.kind for m in flat.marks) == ["fold", "fold", "fold", "match", "match"]
    (left,) = [f for f in flat.findings if f.code == "dxf.left_out"]
    assert "layer DIMENSIONS" in left.what
    assert "layer HIDDEN_STUFF switched off" in left.what
    hinted = read(draw, hints={"ANLAGE": "etch", "layer:bend*": "ignore", "linetype:DASHED": "etch"})
    assert sorted(m.kind for m in hinted.marks) == ["match"] * 4
    with pytest.raises(BadValue, match="cut, fold, etch, ignore"):
        read(draw, hints={"ANLAGE": "glue"})
    with pytest.raises(BadValue, match="layer:LAYER"):
        read(draw, hints={"colour:7": "cut"})


def test_fold_line_drawn_on_the_cut_layer(read: Callable[..., FlatPattern]) -> None:
    """From edge to edge without a node, and from corner to corner with one."""

    def draw(doc: Any, space: Any) -> None:
        lines(space, (0, 0), (40, 0), (100, 0), (100, 40), (40, 40), (0, 40), (0, 0))
        lines(space, (40, 0), (40, 40))
        lines(space, (70, 0), (70, 40))
        lines(space, (80, 10), (80, 30))

    flat = read(draw)
    assert flat.area == pytest.approx(4000)
    assert not flat.cuts
    assert sorted(m.kind for m in flat.marks) == ["fold", "fold", "match"]
    (said,) = [f for f in flat.findings if f.code == "dxf.open"]
    assert said.what.startswith("1 open line(s)")


def test_contours_that_touch_in_a_point(read: Callable[..., FlatPattern]) -> None:
    def draw(doc: Any, space: Any) -> None:
        box(space, 0, 0, 100, 40)
        lines(space, (20, 20), (30, 10), (40, 20), (30, 30), (20, 20))
        lines(space, (40, 20), (50, 10), (60, 20), (50, 30), (40, 20))

    flat = read(draw)
    assert [c.loop.area for c in flat.cuts] == pytest.approx([200, 200])


@pytest.mark.parametrize(
    ("code", "scale"), [(dxf_units.MM, 1), (dxf_units.IN, 25.4), (dxf_units.CM, 10), (dxf_units.M, 1000)]
)
def test_units(code: int, scale: float, read: Callable[..., FlatPattern]) -> None:
    flat = read(lambda d, s: box(s, 0, 0, 3, 2), code)
    assert flat.size == pytest.approx((3 * scale, 2 * scale))
    assert ("dxf.units" in codes(flat)) == (scale != 1)


@pytest.mark.parametrize(("side", "odd"), [(4.9, True), (5.1, False), (5999, False), (6001, True)])
def test_an_odd_size_asks_for_the_unit(side: float, odd: bool, read: Callable[..., FlatPattern]) -> None:
    said = [f for f in read(lambda d, s: box(s, 0, 0, side, 4)).findings if f.code == "dxf.size"]
    assert [f.severity for f in said] == ["caution"] * odd


def test_hints_are_a_mapping(read: Callable[..., FlatPattern]) -> None:
    with pytest.raises(BadValue, match="hints"):
        read(lambda d, s: box(s, 0, 0, 9, 9), hints="fold")


def test_no_unit_is_said_and_can_be_told(read: Callable[..., FlatPattern]) -> None:
    flat = read(lambda d, s: box(s, 0, 0, 3, 2), 0)
    (said,) = [f for f in flat.findings if f.code == "dxf.units"]
    assert said.severity == "caution"
    assert flat.size == pytest.approx((3, 2))
    assert read(lambda d, s: box(s, 0, 0, 3, 2), 0, units="in").size == pytest.approx((76.2, 50.8))
    with pytest.raises(BadValue, match="one of mm"):
        read(lambda d, s: box(s, 0, 0, 3, 2), units="cubit")


def test_blocks_are_exploded(read: Callable[..., FlatPattern]) -> None:
    def draw(doc: Any, space: Any) -> None:
        hole = doc.blocks.new("HOLE")
        hole.add_circle((1, 0), 2)
        pair = doc.blocks.new("PAIR")
        pair.add_blockref("HOLE", (0, 0))
        pair.add_blockref("HOLE", (10, 0), dxfattribs={"rotation": 90, "xscale": -1})
        box(space, 0, 0, 100, 60)
        space.add_blockref("PAIR", (20, 20))
        space.add_blockref("HOLE", (60, 30), dxfattribs={"xscale": 3, "yscale": 1})
        space.add_blockref("HOLE", (10, 50), dxfattribs={"column_count": 4, "column_spacing": 8})

    flat = read(draw)
    assert len(flat.cuts) == 7
    assert sum(c.dia is not None for c in flat.cuts) == 6
    (oval,) = [c for c in flat.cuts if c.dia is None]
    assert oval.loop.area == pytest.approx(math.pi * 6 * 2, rel=5e-3)
    round_ = sorted(tuple(round(v, 6) for v in c.loop.edges[0].centre) for c in flat.cuts if c.dia)
    assert (21.0, 20.0) in round_
    assert (30.0, 19.0) in round_
    assert "dxf.blocks" in codes(flat)


def test_drawn_from_below(read: Callable[..., FlatPattern]) -> None:
    """An arc with its normal downward is mirrored in x, as the format has it."""

    def draw(doc: Any, space: Any) -> None:
        space.add_line((0, 0), (40, 0))
        space.add_line((0, 20), (40, 20))
        space.add_line((0, 0), (0, 20))
        space.add_arc((-40, 10), 10, 90, 270, dxfattribs={"extrusion": (0, 0, -1)})

    flat = read(draw)
    assert flat.area == pytest.approx(800 + math.pi * 50)


def test_text_and_dimensions_are_left_out(read: Callable[..., FlatPattern]) -> None:
    def draw(doc: Any, space: Any) -> None:
        box(space, 0, 0, 100, 40)
        space.add_text("HN-TL rev B").set_placement((5, 5))
        space.add_point((3, 3))
        space.add_linear_dim((0, -10), (0, 0), (100, 0)).render()

    flat = read(draw)
    assert flat.area == pytest.approx(4000)
    (left,) = [f for f in flat.findings if f.code == "dxf.left_out"]
    assert "TEXT x 1" in left.what
    assert "DIMENSION x 1" in left.what


def test_blocks_within_blocks_past_counting_are_refused_unexploded(read: Callable[..., FlatPattern]) -> None:
    def draw(doc: Any, space: Any) -> None:
        doc.blocks.new("B0").add_circle((0, 0), 5)
        for k in range(1, 7):
            block = doc.blocks.new(f"B{k}")
            for i in range(100):
                block.add_blockref(f"B{k - 1}", (20 * i, 0))
        space.add_blockref("B6", (0, 0))

    with pytest.raises(BadFile, match="entities once blocks are exploded"):
        read(draw)
