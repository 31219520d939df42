"""Loops turned into arrays all at once, against the same loops one by one and against shapely."""

from __future__ import annotations

import pickle
from dataclasses import FrozenInstanceError, replace

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from tinbook.plane.arrays import boxes, chords_of, near_pairs, rows
from tinbook.plane.loops import Edge, Loop, Move, circle, polygon, slot

LENS = Loop((Edge((0, 0), (30, 0), 0.4), Edge((30, 0), (0, 0), 0.4)))
ROUNDED = Loop(
    (
        Edge((0, 0), (100, 0)),
        Edge((100, 0), (100, 80), -0.35),
        Edge((100, 80), (0, 80), 0.5, "top"),
        Edge((0, 80), (0, 0)),
    )
)
TURNS = st.builds(Move.turn, st.floats(-180, 180), st.tuples(st.floats(-500, 500), st.floats(-500, 500)))


@given(st.lists(st.tuples(st.integers(0, 5), TURNS), min_size=1, max_size=8), st.sampled_from([0.5, 0.02]))
def test_many_loops_are_as_one_by_one(picked: list[tuple[int, Move]], sagitta: float) -> None:
    kinds = (
        circle((3, 4), 6),
        circle((3, 4), 6).reversed(),
        slot((60, 30), 20, 6, 20),
        LENS,
        ROUNDED,
        polygon([(0, 0), (5, 0), (2, 9)]),
    )
    loops = [kinds[k].moved(move) for k, move in picked]
    points, of = chords_of(loops, sagitta)
    found = boxes(loops)
    for i, loop in enumerate(loops):
        own = points[of == i]
        assert own == pytest.approx(loop.chords(sagitta), abs=1e-9)
        assert found[i] == pytest.approx(loop.box, abs=1e-9)
        fine = shapely.Polygon(loop.chords(1e-5))
        assert found[i] == pytest.approx(fine.bounds, abs=1e-4)
        # Areas of full circles go a way of their own.
        assert abs(loop.area) == pytest.approx(fine.area, rel=1e-4)
    table = rows([e for loop in loops for e in loop])
    assert table.shape == (sum(map(len, loops)), 5)
    assert np.array_equal(table[:, :2], [e.start for loop in loops for e in loop])


@pytest.mark.parametrize("n", [2, 60, 255, 256, 257, 900])
@given(seed=st.integers(0, 2**32 - 1), gap=st.sampled_from([0.0, 3.0, 40.0]))
def test_near_pairs_are_those_that_a_tree_of_boxes_finds(n: int, seed: int, gap: float) -> None:
    """STRtree of shapely; whole numbers, so that many boxes touch, and rows that share an x."""
    draw = np.random.default_rng(seed)
    low = draw.integers(0, 40 + 10 * n, (n, 2)).astype(float)
    low[: n // 3, 0] = low[0, 0]
    box = np.concatenate((low, low + draw.integers(0, 30, (n, 2))), axis=1)
    first, second = near_pairs(box, gap)
    grown = shapely.box(*(box + np.array((-gap, -gap, gap, gap))).T)
    i, j = shapely.STRtree(shapely.box(*box.T)).query(grown, predicate="intersects")
    once = i < j
    assert sorted(zip(i[once].tolist(), j[once].tolist(), strict=True)) == list(
        zip(first.tolist(), second.tolist(), strict=True)
    )


def test_a_shift_comes_before_the_move() -> None:
    move = Move.turn(30, (5, 6))
    once, twice = ROUNDED.moved(move, 7, -3), ROUNDED.moved(Move(u=7, v=-3)).moved(move)
    assert np.array(once.points) == pytest.approx(np.array(twice.points))
    assert ROUNDED.moved(Move(), 7, -3).edges[0].start == (7, -3)


def test_what_a_loop_keeps_is_no_part_of_its_value() -> None:
    asked, fresh = slot((60, 30), 20, 6), slot((60, 30), 20, 6)
    assert (asked.area, asked.box) == (asked.area, asked.box)
    assert asked == fresh
    assert hash(asked) == hash(fresh)
    assert repr(asked) == repr(fresh)
    for copy in (pickle.loads(pickle.dumps(asked)), replace(asked, edges=asked.edges)):
        assert (copy, copy.area, copy.box) == (fresh, fresh.area, fresh.box)
    for value, name in ((asked, "edges"), (asked.edges[0], "name"), (Move(), "u")):
        with pytest.raises(FrozenInstanceError):
            setattr(value, name, 1)


def test_nothing_and_staying_put() -> None:
    assert boxes([]).shape == (0, 4)
    assert [len(found) for found in near_pairs(boxes([]))] == [0, 0]
    assert rows([]).shape == (0, 5)
    assert ROUNDED.moved(Move()) is ROUNDED
    assert polygon([]) == Loop(())
    turned = ROUNDED.moved(Move(a=-1.0))
    assert [e.name for e in turned] == ["", "", "top", ""]
    assert turned.area == pytest.approx(-ROUNDED.area)
    assert [e.end for e in turned][:-1] == [e.start for e in turned][1:]
