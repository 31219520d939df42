"""Loops turned into arrays all at once, against the same loops one by one and against shapely."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from tinbook.plane import Edge, Loop, Move, circle, polygon, slot
from tinbook.plane_arrays import boxes, chords_of, rows

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


def test_nothing_and_staying_put() -> None:
    assert boxes([]).shape == (0, 4)
    assert rows([]).shape == (0, 5)
    assert ROUNDED.moved(Move()) is ROUNDED
    assert polygon([]) == Loop(())
    turned = ROUNDED.moved(Move(a=-1.0))
    assert [e.name for e in turned] == ["", "", "top", ""]
    assert turned.area == pytest.approx(-ROUNDED.area)
    assert [e.end for e in turned][:-1] == [e.start for e in turned][1:]
