"""Offsets: closed forms for lines and arcs, another library's mitred buffer for polygons, and what must be refused."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from shapely import Polygon

from tinbook.errors import BadValue
from tinbook.part.outline import Outline
from tinbook.plane.loops import Edge, circle

TOLERANCE = 1e-9


def star(radii) -> Outline:
    """A polygon seen whole from its middle: any radii give a simple one."""
    n = len(radii)
    return Outline.polygon(
        [(r * math.cos(math.tau * i / n), r * math.sin(math.tau * i / n)) for i, r in enumerate(radii)]
    )


stars = st.lists(st.floats(30, 200), min_size=3, max_size=12).map(star)


def half_disc(radius: float = 50.0) -> Outline:
    return Outline.from_edges([Edge((-radius, 0), (radius, 0), 0, "chord"), Edge((radius, 0), (-radius, 0), 1, "arc")])


def test_each_edge_moves_by_its_own_amount():
    o = Outline.rectangle(900, 420, names=("tunnel", "front", "sill", "rear"))
    moved = o.offset({"tunnel": "-1.5 mm"}, others="+20 mm")
    assert np.allclose(moved.box, (-20.0, 1.5, 920.0, 440.0), rtol=0, atol=1e-12)
    assert moved.names == o.names


def test_one_amount_for_all():
    assert np.allclose(Outline.rectangle(10, 10).offset("-2 mm").box, (2, 2, 8, 8), atol=1e-12)


@given(stars, st.lists(st.floats(-6, 15), min_size=12, max_size=12))
def test_every_edge_is_parallel_at_its_own_distance(o, amounts):
    each = dict(zip(o.names, amounts, strict=False))
    try:
        moved = o.offset(each)
    except BadValue:
        assume(False)
    for e in o.loop:
        m = moved.edge(e.name)
        d = np.subtract(e.end, e.start) / e.chord
        out = np.array([d[1], -d[0]])
        for p in (m.start, m.end):
            # Against the rounding of the corner's place along the edge, which a small turn magnifies.
            assert abs(out @ np.subtract(p, e.start) - each[e.name]) < TOLERANCE
        assert np.subtract(m.end, m.start) @ d > 0


@given(stars, st.integers(-2500, 2500).filter(bool).map(lambda k: k / 100))
def test_polygons_agree_with_the_mitred_buffer_of_another_library(o, d):
    try:
        moved = o.offset(d)
    except BadValue:
        assume(False)
    other = Polygon(o.loop.points).buffer(d, join_style="mitre", mitre_limit=1e6)
    ours = Polygon(moved.loop.points)
    # That buffer first straightens what turns by next to nothing, by a hundredth of d at most. (Areas and distance,
    # because the library's overlay of two polygons that all but coincide is not to be relied on.)
    assert ours.area == pytest.approx(other.area, rel=1e-6)
    assert ours.exterior.hausdorff_distance(other.exterior) < 0.01 * abs(d) + TOLERANCE


@given(stars, st.lists(st.floats(-10, 20), min_size=12, max_size=12))
def test_out_and_back_in_restores_every_corner(o, amounts):
    each = dict(zip(o.names, amounts, strict=False))
    try:
        there = o.offset(each)
        back = there.offset({k: -v for k, v in each.items()})
    except BadValue:
        assume(False)
    sharp = min(
        abs(math.sin(math.atan2(*np.subtract(a.end, a.start)) - math.atan2(*np.subtract(b.end, b.start))))
        for a, b in zip(o.loop.edges, (*o.loop.edges[1:], o.loop.edges[0]), strict=True)
    )
    # Where neighbours nearly line up, the last bit of an edge's place moves their corner by 1/sin(turn).
    assume(sharp > 1e-3)
    assert np.allclose(back.loop.points, o.loop.points, rtol=0, atol=TOLERANCE)


@given(st.floats(20, 100), st.floats(1, 19), st.floats(-18, 30))
def test_a_smooth_outline_grows_by_steiners_formula(width, r, d):
    # Steiner: a convex outline without corners grows to A + P d + pi d^2 and P + 2 pi d.
    assume(d > -r + 1e-3 and width > 2 * r + 1e-3)
    o = Outline.rectangle(width + 40, width).rounded(r)
    moved = o.offset(d)
    assert moved.area == pytest.approx(o.area + o.loop.length * d + math.pi * d * d, rel=1e-10)
    assert moved.loop.length == pytest.approx(o.loop.length + math.tau * d, rel=1e-10)


@given(st.floats(20, 100), st.floats(-19, 50))
def test_a_circle_stays_a_circle(r, d):
    a, b = circle((5.0, -3.0), 2 * r).edges
    o = Outline.from_edges([Edge(a.start, a.end, a.bulge, "near"), Edge(b.start, b.end, b.bulge, "far")])
    moved = o.offset(d)
    assert moved.loop.is_circle
    assert moved.area == pytest.approx(math.pi * (r + d) ** 2, rel=1e-12)


@given(st.floats(-20, 25), st.floats(-20, 30))
def test_chord_and_arc_meet_where_pythagoras_puts_them(chord, arc):
    # The chord lies at y = -chord, the arc on a circle of radius 50 + arc about (0, 0).
    moved = half_disc().offset({"chord": chord, "arc": arc})
    x = math.sqrt((50 + arc) ** 2 - chord**2)
    assert moved.edge("chord").start == pytest.approx((-x, -chord), abs=1e-10)
    assert moved.edge("chord").end == pytest.approx((x, -chord), abs=1e-10)
    assert moved.edge("arc").radius == pytest.approx(50 + arc, rel=1e-12)
    assert moved.edge("arc").centre == pytest.approx((0, 0), abs=1e-10)


@given(st.floats(-8, 8), st.floats(-8, 8))
def test_two_arcs_meet_where_their_circles_cross(a, b):
    # A lens: arcs of radius 50 about (0, -30) and (0, 30) meet at (-40, 0) and (40, 0).
    bulge = math.tan(math.atan2(40, 30) / 2)
    o = Outline.from_edges([Edge((-40, 0), (40, 0), bulge, "low"), Edge((40, 0), (-40, 0), bulge, "high")])
    assert o.edge("low").centre == pytest.approx((0, 30))
    moved = o.offset({"low": a, "high": b})
    ra, rb = 50 + a, 50 + b
    y = (rb**2 - ra**2) / 120  # x^2 + (y + 30)^2 = rb^2 less x^2 + (y - 30)^2 = ra^2
    x = math.sqrt(ra**2 - (y - 30) ** 2)
    assert moved.edge("low").start == pytest.approx((-x, y), abs=1e-9)
    assert moved.edge("low").end == pytest.approx((x, y), abs=1e-9)


def test_a_hollow_arc_grows_when_the_outline_shrinks():
    # A notch of radius 30 in the rear edge of a 200 x 100 rectangle: material lies outside its circle.
    edges = [
        Edge((0, 0), (200, 0), 0, "front"),
        Edge((200, 0), (200, 100), 0, "right"),
        Edge((200, 100), (130, 100), 0, "rear r"),
        Edge((130, 100), (70, 100), -1, "notch"),
        Edge((70, 100), (0, 100), 0, "rear l"),
        Edge((0, 100), (0, 0), 0, "left"),
    ]
    o = Outline.from_edges(edges)
    moved = o.offset(-5)
    assert moved.edge("notch").radius == pytest.approx(35)
    assert moved.edge("notch").centre == pytest.approx((100, 100))
    half = math.sqrt(35**2 - 5**2)  # the rear edge has come down to y = 95
    assert moved.edge("notch").start == pytest.approx((100 + half, 95))
    circle_part = 35**2 * math.asin(half / 35) - half * 5
    assert moved.area == pytest.approx(190 * 90 - circle_part, rel=1e-12)
    with pytest.raises(BadValue, match=r"edge 'notch'.*radius of 30"):
        o.offset({"notch": 31})


def test_smooth_neighbours_that_part_get_a_straight_step():
    o = Outline.rectangle(100, 60).rounded({"front/right": 10})
    moved = o.offset({"front": 4, "front-right": 1}, others=1)
    step = moved.edge("front to front-right")
    assert (step.start, step.end) == (pytest.approx((90, -4)), pytest.approx((90, -1)))
    with pytest.raises(BadValue, match="leaves something of edge 'front to front-right'"):
        moved.offset({"front": -4, "front to front-right": 0}, others=-1)


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda o: o.offset({"sill": 3}), "one of: front, right, rear, left"),
        (lambda o: o.offset({"front": "3,5 mm"}), "offset of edge 'front'.*not a comma"),
        (lambda o: o.offset({"front": math.nan}), "offset of edge 'front'.*finite"),
        (lambda o: o.offset({}, others="two"), "offset of the other edges.*number in mm"),
        (lambda o: o.offset(0, others="two"), "others.*only beside a mapping"),
        (lambda o: o.offset(-20), "offset of edge 'right'.*leaves something of edge 'right' .it is 40.000 mm"),
        (lambda o: o.rounded(5).offset(-6), "offset of edge 'front-right'.*radius of 5.000"),
        (lambda o: o.clipped({"front/right": 6}).offset({"front-right": 15}), "leaves something of edge 'front-right'"),
        (lambda o: half_disc().offset({"chord": -60}), "edges still meet|leaves something"),
    ],
)
def test_what_cannot_be_offset_says_why(make, message):
    o = Outline.rectangle(100, 40)
    with pytest.raises(BadValue, match=message):
        make(o)


def test_a_neck_that_closes_is_refused_as_a_crossing():
    # Two rooms joined by a passage 10 wide: no edge vanishes at -6, but the passage turns inside out.
    dumbbell = Outline.polygon(
        [
            (0, 0),
            (50, 0),
            (50, 20),
            (90, 20),
            (90, 0),
            (140, 0),
            (140, 50),
            (90, 50),
            (90, 30),
            (50, 30),
            (50, 50),
            (0, 50),
        ]
    )
    assert dumbbell.offset(-4).area > 0
    with pytest.raises(BadValue, match="amounts that keep it whole"):
        dumbbell.offset(-6)


def test_other_hand_offsets_alike():
    o = half_disc().clipped({"chord/arc": 8}).moved(3, 4, 17)
    amounts = {"chord": -2, "arc": 5, "chord-arc": 1}
    a, b = o.offset(amounts).mirrored(), o.mirrored().offset(amounts)
    assert np.allclose(sorted(a.loop.points), sorted(b.loop.points), atol=1e-9)
