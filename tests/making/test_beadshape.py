"""Bead cross-section, centre line and footprint against closed forms."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import LineString

from tinbook.errors import BadValue, OutOfRange
from tinbook.part.forms.beadshape import BeadProfile, bead_path, footprint, parallel
from tinbook.plane.loops import Edge


# Exact circle geometry for a chord w and a rise h: R = (w²/4 + h²) / 2h, half angle asin(w / 2R), arc 2 R f.
# Two tangent shoulders leave the length across unchanged, so every shoulder radius must give the plain arc's value.
@pytest.mark.parametrize("shoulder", [0.5, 1.0, 2.0])
@pytest.mark.parametrize(
    ("width", "depth", "radius", "degrees", "arc"),
    [
        (12.0, 4.0, 6.5, 134.76, 15.288),
        (20.0, 6.0, 11.333, 123.855, 24.499),
        (25.4, 6.35, 15.875, 106.26, 29.442),
        (10.0, 5.0, 5.0, 180.0, 15.708),
    ],
)
def test_length_across_is_that_of_one_arc(
    width: float, depth: float, radius: float, degrees: float, arc: float, shoulder: float
) -> None:
    p = BeadProfile(width=width, depth=depth, shoulder=shoulder, thickness=1.0)
    assert p.reach == pytest.approx(radius, abs=5e-4)
    assert math.degrees(2 * p.turn_rad) == pytest.approx(degrees, abs=5e-3)
    assert p.arc_length == pytest.approx(arc, abs=5e-4)
    assert p.draw == pytest.approx(arc - width, abs=5e-4)


shapes = st.builds(
    lambda width, slope, share, t: (width, width / 2 * slope, share, t),
    st.floats(5, 60),
    st.floats(0.1, 1.0),
    st.floats(0.05, 0.95),
    st.floats(0.3, 3.0),
)


@given(shapes)
def test_skins_are_parallel_and_tangent(shape: tuple[float, float, float, float]) -> None:
    width, depth, share, t = shape
    room = (width**2 / 4 + depth**2) / (2 * depth) - t
    if room <= 0.01:
        return
    p = BeadProfile(width=width, depth=depth, shoulder=share * (room - 0.005), thickness=t)
    outer, hollow = p.stations(hollow=False), p.stations(hollow=True)
    for s in (outer, hollow):
        assert s[0] == pytest.approx((width / 2, 0.0), abs=1e-9)
        assert s[-1] == pytest.approx((0.0, depth), abs=1e-9)
    # Row by row both skins stand on one normal, a thickness apart; heights count from each skin's own flat.
    gap = outer + np.array((0, t)) - hollow
    assert np.hypot(*gap.T) == pytest.approx(np.full(len(gap), t), rel=1e-9)
    joint = p.joint(hollow=True)
    assert np.hypot(*(hollow - joint).T).min() < 1e-9
    # Area between the skins by the shoelace rule, chords ever finer: goes to t times the mid-line.
    a, b = p.stations(False, 0.002) + np.array((0, t)), p.stations(True, 0.002)
    ring = np.concatenate((a, b[::-1]))
    area = abs(np.dot(ring[:, 0], np.roll(ring[:, 1], -1)) - np.dot(ring[:, 1], np.roll(ring[:, 0], -1)))
    assert area == pytest.approx(p.section_area, rel=1e-5)


@pytest.mark.parametrize(
    ("field", "value", "says"),
    [
        ("depth", 10.0, "at most half the width, 9 mm"),
        ("depth", -1.0, "greater than 0"),
        ("width", math.nan, "greater than 0"),
        ("shoulder", 0.0, "greater than 0"),
        ("shoulder", 9.6, "bead shoulder: 9.6 is not usable; valid: at most 9.599 mm"),
        ("thickness", 11.0, "bead thickness"),
        ("thickness", math.inf, "greater than 0"),
    ],
)
def test_impossible_profiles_say_what_would_do(field: str, value: float, says: str) -> None:
    good = {"width": 18.0, "depth": 5.0, "shoulder": 2.0, "thickness": 1.0}
    BeadProfile(**good)
    with pytest.raises(BadValue, match=says):
        BeadProfile(**{**good, field: value})


def test_corner_becomes_a_tangent_arc() -> None:
    path = bead_path([(0, 0), (100, 0), (100, 80)], 30)
    assert [round(e.length, 9) for e in path] == [70, round(15 * math.pi, 9), 50]
    assert path[1].centre == pytest.approx((70, 30))
    # Exactly enough room: the straight pieces vanish.
    only = bead_path([(0, 0), (30, 0), (30, 30)], 30)
    assert len(only) == 1
    assert only[0].radius == pytest.approx(30)


def crosses_itself(path: tuple[Edge, ...], width: float) -> bool:
    """Whether a band about the path is not simply connected or loses area, by GEOS' own buffer of the centre line."""
    line = LineString([*np.concatenate([e.chords(1e-3) for e in path]), path[-1].end])
    area = line.length * width + math.pi * width**2 / 4
    return line.buffer(width / 2, quad_segs=64).area < area * (1 - 1e-3)


def _smooth(path: tuple[Edge, ...], radius: float) -> None:
    for a, b in pairwise(path):
        assert a.end == b.start
        assert math.dist(a.direction(1.0), b.direction(0.0)) < 1e-9
    assert all(e.radius >= radius * (1 - 1e-9) for e in path)


@given(st.lists(st.tuples(st.floats(150, 300), st.floats(-150, 150)), min_size=1, max_size=6), st.floats(5, 18))
def test_paths_are_smooth_and_footprints_add_up(legs: list[tuple[float, float]], radius: float) -> None:
    """A band of half width h about a smooth line has the area 2 h times its length, plus the round ends (Pappus)."""
    points, heading = [(0.0, 0.0)], 0.0
    for length, turn in legs:
        heading += math.radians(turn)
        x, y = points[-1]
        points.append((x + length * math.cos(heading), y + length * math.sin(heading)))
    path = bead_path(points, radius)
    _smooth(path, radius)
    width = 1.9 * radius
    if crosses_itself(path, width):
        with pytest.raises(OutOfRange, match="from itself"):
            footprint(path, width)
        return
    loop = footprint(path, width)
    assert loop.area == pytest.approx(sum(e.length for e in path) * width + math.pi * width**2 / 4, rel=1e-9)
    assert all(a.end == b.start for a, b in pairwise(loop.edges))


@given(st.floats(-8e-5, 8e-5), st.floats(-150, 150))
def test_lines_that_almost_run_on_are_made_to(kink: float, turn: float) -> None:
    """A kink of less than 1e-4 rad is none, and nothing moves by more."""
    if abs(turn) < 0.1:
        return
    a = math.radians(turn)
    middle, far = (60.0, 0.0), (130.0, 70.0 * math.tan(kink))
    path = bead_path([(0.0, 0.0), middle, far, (far[0] + 90 * math.cos(a), far[1] + 90 * math.sin(a))], 5)
    _smooth(path, 5)
    assert len(path) == 4
    assert math.dist(path[-1].end, (far[0] + 90 * math.cos(a), far[1] + 90 * math.sin(a))) < 1e-9
    assert all(abs(e.start[1]) < 70 * 1e-4 for e in path[:2])


def test_footprint_is_exact() -> None:
    loop = footprint(bead_path([(0, 0), (100, 0), (100, 80)], 30), 18)
    assert loop.box == pytest.approx((-9, -9, 109, 89))
    assert {round(e.radius, 9) for e in loop if not e.is_line} == {9, 21, 39}


@pytest.mark.parametrize(
    ("course", "radius", "error", "says"),
    [
        ([], 10, BadValue, "at least two points"),
        ([(0, 0)], 10, BadValue, "at least two points"),
        ([(0, 0), (0, 0)], 10, BadValue, "further apart"),
        ([(0, 0), (math.nan, 5)], 10, BadValue, "finite"),
        ([(0, 0), (50, 0), (10, 0)], 10, BadValue, "turns back"),
        ([(0, 0), (50, 0), (50, 20)], 30, OutOfRange, "longer than 30 mm on both sides"),
        ([(0, 0), (100, 0), (100, 30), (130, 30)], 30, OutOfRange, "corner 2.*longer than 30 mm"),
        ([(0, 0), (50, 0)], 0, BadValue, "radius"),
    ],
)
def test_impossible_paths(course: list[object], radius: float, error: type[Exception], says: str) -> None:
    with pytest.raises(error, match=says):
        bead_path(course, radius)  # type: ignore[arg-type]


def test_bead_that_is_wider_than_its_curve_or_meets_itself() -> None:
    with pytest.raises(OutOfRange, match="more than half the bead's width, 20 mm"):
        footprint(bead_path([(0, 0), (100, 0), (100, 80)], 15), 40)
    assert parallel(Edge((0, 0), (10, 0)), 2.0) == Edge((0, 2), (10, 2))
    ring = bead_path([(0, 0), (100, 0), (100, 100), (50, 100), (50, -60)], 20)
    with pytest.raises(OutOfRange, match="from itself"):
        footprint(ring, 18)
