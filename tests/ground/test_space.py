"""Frames against SciPy's rotations and plain matrices."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from tinbook.errors import BadValue
from tinbook.plane.loops import Move
from tinbook.space import SPACE, Frame, cross, dot, frame_at, unit

numbers = st.floats(-900, 900, allow_subnormal=False)
places = st.tuples(numbers, numbers, numbers)


@st.composite
def frames(draw: st.DrawFn) -> Frame:
    """Return a frame turned by SciPy about a random axis."""
    turn = Rotation.from_rotvec(draw(st.tuples(*3 * [st.floats(-3, 3)]))).as_matrix()
    return Frame(draw(places), *(tuple(turn[:, k].tolist()) for k in range(3)))


@given(frames(), frames(), places)
def test_composing_inverting_and_carrying_are_those_of_matrices(
    a: Frame, b: Frame, p: tuple[float, float, float]
) -> None:
    assert np.allclose((a @ b).matrix, a.matrix @ b.matrix, atol=1e-9)
    assert np.allclose(a.inverse().matrix, np.linalg.inv(a.matrix), atol=1e-9)
    assert np.allclose((a.inverse() @ a).matrix, SPACE.matrix, atol=1e-9)
    carried = a.matrix @ (*p, 1.0)
    assert a(*p) == pytest.approx(carried[:3], abs=1e-9)
    assert a.points(np.array([p, p])) == pytest.approx(np.array([carried[:3]] * 2), abs=1e-9)
    assert a.local(a(*p)) == pytest.approx(p, abs=1e-9)
    assert a.vector(*p) == pytest.approx(a.matrix[:3, :3] @ p, abs=1e-9)
    assert a.vectors(np.array(p)) == pytest.approx(a.matrix[:3, :3] @ p, abs=1e-9)
    assert a.at(*p)(1, 2, 3) == pytest.approx(a(p[0] + 1, p[1] + 2, p[2] + 3), abs=1e-9)
    assert a.moved(p)(1, 2, 3) == pytest.approx(np.add(a(1, 2, 3), p), abs=1e-9)


@given(frames(), places)
def test_a_mirrored_frame_is_right_handed_and_shows_the_mirrored_point(f: Frame, p: tuple[float, float, float]) -> None:
    """A point at (x, y, z) of a frame, reflected at x = 0 of space, lies at (-x, y, z) of the mirrored frame."""
    x, y, z = f(*p)
    m = f.mirrored()
    assert m(-p[0], p[1], p[2]) == pytest.approx((-x, y, z), abs=1e-9)
    assert np.linalg.det(m.matrix) == pytest.approx(1.0)


def test_a_move_of_the_plane_carries_a_frame_within_its_own_plane() -> None:
    """A quarter turn and a shift of (10, 0): the frame's new x runs along its old y."""
    f = frame_at((1, 2, 3), (0, 1, 0), (0, 0, 1))
    turned = f.placed(Move(u=10.0).after(Move.turn(90.0)))
    assert turned.origin == pytest.approx(f(10, 0))
    assert turned.x == pytest.approx(f.y)
    assert turned.y == pytest.approx(tuple(-v for v in f.x))
    assert turned.z == f.z


def test_plane_coordinates_lie_at_height_zero() -> None:
    f = frame_at((0, 0, 5), (0, 1, 0), (-1, 0, 0))
    assert f.points(np.array([[2.0, 3.0]])) == pytest.approx(np.array([[-3.0, 2.0, 5.0]]))


def test_values_are_rows_of_rotation_and_shift() -> None:
    f = frame_at((7, 8, 9), (0, 2, 0), (0, 0, 5))
    assert f.values == (0, 0, 1, 7, 1, 0, 0, 8, 0, 1, 0, 9)
    assert dot(f.x, f.y) == 0
    assert cross(f.x, f.y) == f.z


@pytest.mark.parametrize(
    ("given_", "says"),
    [
        ({"x": (1, 0, 0), "y": (1, 1, 0)}, "square"),
        ({"origin": (math.nan, 0, 0)}, "frame origin"),
        ({"origin": (1, 2)}, "frame origin"),
        ({"origin": "base"}, "frame origin"),
        ({"x": (0, 0, 0)}, "direction"),
        ({"y": (math.inf, 0, 0)}, "direction"),
    ],
)
def test_a_frame_from_bad_values_is_refused(given_: dict, says: str) -> None:
    with pytest.raises(BadValue, match=says):
        frame_at(**given_)


def test_unit_keeps_the_direction() -> None:
    assert unit((0, 3, 4)) == pytest.approx((0, 0.6, 0.8))
    with pytest.raises(BadValue, match="direction"):
        unit((0, 0, 0))
