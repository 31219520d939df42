"""Outline: construction, the other hand, corners, and every bad input it must refuse."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from shapely import LinearRing

from tinbook.errors import BadValue, TinbookError, UnknownName
from tinbook.part.outline import Outline
from tinbook.plane.cuts import on_arc
from tinbook.plane.loops import Edge, Loop
from tinbook.plane.meeting import gap, self_crossing

coord = st.integers(-40, 40).map(float)


def test_rectangle_stands_at_the_origin_with_its_names():
    o = Outline.rectangle("90 cm", 420, names=("tunnel", "front", "sill", "rear"))
    assert o.names == ("tunnel", "front", "sill", "rear")
    assert o.box == (0.0, 0.0, 900.0, 420.0)
    assert o.area == 900 * 420
    assert o.edge("front") == Edge((900.0, 0.0), (900.0, 420.0), 0.0, "front")


def test_clockwise_points_are_run_the_other_way_with_names_on_the_same_edges():
    o = Outline.polygon([(0, 0), (0, 50), (80, 50), (80, 0)], names=("left", "top", "right", "bottom"))
    assert o.area == 4000
    assert {o.edge("left").start, o.edge("left").end} == {(0.0, 0.0), (0.0, 50.0)}
    assert {o.edge("bottom").start, o.edge("bottom").end} == {(0.0, 0.0), (80.0, 0.0)}


def test_mirrored_keeps_names_area_and_first_edge():
    o = Outline.polygon([(0, 0), (100, 0), (80, 60), (0, 40)], names="abcd").rounded({"a/b": 8})
    m = o.mirrored()
    assert m.names[0] == "a"
    assert set(m.names) == set(o.names)
    assert m.area == pytest.approx(o.area, rel=1e-14)
    for e in o.loop:
        other = m.edge(e.name)
        assert other.bulge == e.bulge  # run backwards and turned over: the same way round again
        assert (other.start, other.end) == ((-e.end[0], e.end[1]), (-e.start[0], e.start[1]))
    assert m.mirrored() == o


def test_moved_turns_about_the_origin_and_then_shifts():
    o = Outline.rectangle(30, 10).moved("1 cm", 0, "90 deg")
    assert o.box == pytest.approx((0.0, 0.0, 10.0, 30.0))
    assert o.area == pytest.approx(300)


def test_rounded_rectangle_area_is_exact():
    # Four corners lose (4 - pi) r^2 together.
    o = Outline.rectangle(100, 60).rounded("8 mm")
    assert o.area == pytest.approx(100 * 60 - (4 - math.pi) * 64, rel=1e-14)
    assert o.names == ("front", "front-right", "right", "right-rear", "rear", "rear-left", "left", "left-front")


def test_full_round_ends_leave_out_the_edge_they_use_up():
    o = Outline.rectangle(100, 40).rounded(20)
    assert "right" not in o.names
    assert o.area == pytest.approx(60 * 40 + math.pi * 400, rel=1e-14)


@given(st.floats(20, 160), st.floats(1, 20))
def test_rounding_any_angle_is_tangent_and_takes_the_known_area(degrees, r):
    # Closed form: a fillet of radius r in a corner of included angle B takes r^2 (cot(B/2) - (pi - B)/2).
    b = math.radians(degrees)
    o = Outline.polygon([(0, 0), (200, 0), (200 * math.cos(b), 200 * math.sin(b))], names=("a", "b", "c"))
    taken = r * r * (1 / math.tan(b / 2) - (math.pi - b) / 2)
    try:
        f = o.rounded({"c/a": r})
    except BadValue:
        assert r / math.tan(b / 2) > 200 * min(1.0, 2 * math.sin(b / 2)) - 1e-6
        return
    assert o.area - f.area == pytest.approx(taken, rel=1e-8, abs=1e-8)
    arc, after = f.edge("c-a"), f.edge("a")
    assert arc.radius == pytest.approx(r, rel=1e-9)
    assert arc.direction(1.0) == pytest.approx(after.direction(0.0), abs=1e-9)


def test_rounded_between_line_and_arc_touches_both():
    # Half disc of radius 50; fillet r = 5 in the corner between chord and arc: its centre lies 45 from
    # the middle of the disc and 5 above the chord.
    d = Outline.from_edges([Edge((-50, 0), (50, 0), 0, "chord"), Edge((50, 0), (-50, 0), 1, "arc")])
    f = d.rounded({("chord", "arc"): 5}).edge("chord-arc")
    assert f.centre == pytest.approx((math.sqrt(45**2 - 25), 5.0))
    assert f.radius == pytest.approx(5)


def test_clipped_corner_measured_along_both_edges():
    o = Outline.rectangle(100, 60).clipped({("front", "right"): ("30 mm", 20)})
    assert o.edge("front-right") == Edge((70.0, 0.0), (100.0, 20.0), 0.0, "front-right")
    assert o.area == 6000 - 300


def test_without_lets_the_neighbours_meet_again():
    o = Outline.rectangle(100, 60)
    assert o.clipped({"front/right": 15}).without("front-right").area == pytest.approx(6000)
    assert np.allclose(o.rounded({"front/right": 15}).without("front-right").loop.points, o.loop.points)
    with pytest.raises(BadValue, match="neighbours 'front' and 'rear' meet"):
        o.without("right")


def test_renamed():
    assert Outline.rectangle(3, 2).renamed({"front": "sill"}).names == ("sill", "right", "rear", "left")
    with pytest.raises(BadValue, match="each edge name once"):
        Outline.rectangle(3, 2).renamed({"front": "rear"})


SQUARE = [(0, 0), (10, 0), (10, 10), (0, 10)]


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda: Outline.polygon([]), "at least three corners"),
        (lambda: Outline.polygon([(0, 0)]), "at least three corners"),
        (lambda: Outline.from_edges([]), "outline edges"),
        (lambda: Outline.from_edges([Edge((0, 0), (1, 0), 1)]), "outline edges"),
        (lambda: Outline.polygon([(0, 0), (5, 5), (9, 9)]), "lie on one line"),
        (lambda: Outline.polygon([(0, 0), (10, 10), (0, 10), (10, 0)]), r"\(5.0, 5.0\).*neither crosses"),
        (lambda: Outline.polygon([*SQUARE, (5, 0)]), "neither crosses nor touches"),
        (lambda: Outline.polygon([(0, 0), (10, 0), (10, 0), (0, 10)]), "given twice"),
        (lambda: Outline.polygon([*SQUARE, (0, 0)]), "given twice"),
        (lambda: Outline.polygon([(0, 0), (10, 0), (10, 5), (20, 5), (10, 5)]), "neither crosses nor touches"),
        (lambda: Outline.polygon([(0, 0), (float("nan"), 0), (1, 1)]), "corner 2 x: nan.*finite"),
        (lambda: Outline.polygon([(0, 0), (float("inf"), 0), (1, 1)]), "corner 2 x: inf.*finite"),
        (lambda: Outline.polygon([(0, 0), ("3,5 mm", 0), (1, 1)]), "decimal point, not a comma"),
        (lambda: Outline.polygon([(0, 0), (1, 0, 0), (1, 1)]), r"pair of lengths"),
        (lambda: Outline.polygon([(0, 0), (1e9, 0), (0, 1e9)]), "within 1000000 mm"),
        (lambda: Outline.from_edges([Edge((0, 0), (9, 0)), Edge((9, 0), (0, 9)), Edge((0, 8), (0, 0))]), "the start"),
        (lambda: Outline.from_edges([Edge((0, 0), (9, 0), math.nan), Edge((9, 0), (0, 0), 1)]), "bulge"),
        (lambda: Outline.from_edges([Edge((0, 0), (9, 0), 0, "x"), Edge((9, 0), (0, 0), 1, "x")]), "once"),
        (lambda: Outline.polygon(SQUARE, names=("a", "b")), "one name for each of the 4 edges"),
        (lambda: Outline.polygon(SQUARE, names=("a", "b", "c", "a")), "each edge name once"),
        (lambda: Outline.polygon(SQUARE, names=("a", "b", "c", "../d")), "letters, digits"),
        (lambda: Outline.polygon(SQUARE, names=("a", "b", "c", "<b>d</b>")), "letters, digits"),
        (lambda: Outline.polygon(SQUARE, names=("a", "b", "c", " d")), "letters, digits"),
        (lambda: Outline.rectangle(0, 5), "width.*greater than 0"),
        (lambda: Outline.rectangle(5, "-3 mm"), "height.*greater than 0"),
        (lambda: Outline.rectangle(5, "16 ga"), "gauge numbers differ"),
        (lambda: Outline.rectangle(5, "3 kg"), "number in mm"),
        (lambda: Outline(loop="square"), "a Loop"),
        (lambda: Outline.rectangle(9, 9).rounded(0), "greater than 0"),
        (lambda: Outline.rectangle(9, 9).rounded(5), "sizes that fit on edge"),
        (lambda: Outline.rectangle(9, 9).rounded({"front/right": 20}), "stays on edge"),
        (lambda: Outline.rectangle(9, 9).rounded({"front/rear": 1}), "one of: front/right"),
        (lambda: Outline.rectangle(9, 9).rounded({"front/right": 1, ("right", "front"): 1}), "each corner once"),
        (lambda: Outline.rectangle(9, 9).rounded(2).rounded({"front/front-right": 1}), "run smoothly"),
        (lambda: Outline.rectangle(9, 9).clipped({"front/right": 10}), "at most 9.000 mm"),
        (lambda: Outline.rectangle(9, 9).clipped({"front/right": (1, 2, 3)}), "a pair"),
        (lambda: Outline.rectangle(9, 9).edge("sill"), "one of: front, right, rear, left"),
        (lambda: Outline.polygon([(0, 0), (9, 0), (0, 9)]).without("edge 1"), "at least three edges"),
    ],
)
def test_bad_input_is_refused_with_field_and_remedy(make, message):
    with pytest.raises(BadValue, match=message) as caught:
        make()
    assert caught.value.field
    assert caught.value.valid


def test_unknown_edge_can_be_caught_as_key_error():
    with pytest.raises(KeyError):
        Outline.rectangle(9, 9).edge("sill")
    assert issubclass(UnknownName, TinbookError)


@given(st.lists(st.tuples(coord, coord), min_size=3, max_size=7))
def test_polygons_are_refused_exactly_when_another_library_calls_them_not_simple(points):
    assume(all(points[i] != points[i - 1] for i in range(len(points))))
    ring = LinearRing(points)
    try:
        o = Outline.polygon(points)
    except BadValue:
        assert not ring.is_simple
    else:
        assert ring.is_simple
        assert o.area == pytest.approx(abs(Loop(o.loop.edges).area))


@given(
    st.lists(st.tuples(coord, coord), min_size=3, max_size=6),
    st.lists(st.sampled_from([0.0, 0.0, 0.2, -0.3, 0.6, -0.9, 1.0, 1.7]), min_size=6, max_size=6),
)
def test_arcs_are_refused_when_their_fine_chords_cross_by_another_library(points, bulges):
    assume(all(points[i] != points[i - 1] for i in range(len(points))))
    n = len(points)
    loop = Loop(tuple(Edge(points[i], points[(i + 1) % n], bulges[i], f"e{i}") for i in range(n)))
    ring = LinearRing(loop.chords(1e-4))
    hit = self_crossing(loop)
    # Edges that come closer than the chords can tell are nobody's test case.
    if hit is None:
        near = [gap(loop.edges[i], loop.edges[j])[0] for i in range(n) for j in range(i + 2, n) if (i, j) != (0, n - 1)]
        assume(not near or min(near) > 1e-2)
        assert ring.is_simple
    elif ring.is_simple:
        a, b, p = hit
        assert _touches(a, b, p)


def _touches(a: Edge, b: Edge, p) -> bool:
    """Whether two edges only touch in p without passing through each other, as chords may then miss it."""
    ends = (a.start, a.end, b.start, b.end)
    return (
        min(math.dist(p, q) for q in ends) < 1e-5
        or abs(math.remainder(_heading(a, p) - _heading(b, p), math.pi)) < 2e-2
    )


def _heading(e: Edge, p) -> float:
    if e.is_line:
        return math.atan2(e.end[1] - e.start[1], e.end[0] - e.start[0])
    return math.atan2(p[1] - e.centre[1], p[0] - e.centre[0]) + math.pi / 2


@given(st.floats(-3.0, 3.0).filter(lambda b: abs(b) > 0.01), st.floats(-math.pi, math.pi))
def test_on_arc_agrees_with_the_chord_side(bulge, angle):
    # A point of the circle is on the arc exactly when it lies on the bulging side of the chord.
    e = Edge((0.0, 0.0), (10.0, 0.0), bulge)
    cx, cy = e.centre
    p = cx + e.radius * math.cos(angle), cy + e.radius * math.sin(angle)
    assume(abs(p[1]) > 1e-6)
    assert on_arc(e, p) == (p[1] * bulge < 0)


def test_picture_names_every_edge_and_escapes_nothing_dangerous():
    svg = Outline.rectangle(900, 420, names=("tunnel", "front", "sill", "rear"))._repr_svg_()
    for text in ("tunnel 900.0", "front 420.0", "sill 900.0", "rear 420.0"):
        assert text in svg
    assert svg == Outline.rectangle(900, 420, names=("tunnel", "front", "sill", "rear"))._repr_svg_()
