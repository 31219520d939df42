"""Sides and diagonals by tape: exact figures, another least-squares solver, and readings that cannot be."""

from __future__ import annotations

import math
from itertools import combinations

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.optimize import least_squares

from tinbook.errors import BadValue
from tinbook.read.tape import outline_from_tape

SIDES = {"tunnel": 900, "front": 420, "sill": 900, "rear": 420}
LONG = math.hypot(900, 420)
A, B = ("rear/tunnel", "front/sill"), ("tunnel/front", "sill/rear")


def readings(points, skip=()):
    """Sides and all diagonals of a polygon, each rounded by nothing."""
    n = len(points)
    names = [f"s{i}" for i in range(n)]
    corner = [f"{names[i - 1]}/{names[i]}" for i in range(n)]
    sides = {names[i]: math.dist(points[i], points[(i + 1) % n]) for i in range(n)}
    diagonals = {
        (corner[i], corner[j]): math.dist(points[i], points[j])
        for i, j in combinations(range(n), 2)
        if 1 < j - i < n - 1 and (i, j) not in skip
    }
    return sides, diagonals


def placed(points):
    """The polygon with its first side from (0, 0) along x."""
    p = np.array(points) - points[0]
    c, s = p[1] / np.hypot(*p[1])
    return p @ np.array([[c, -s], [s, c]])


@st.composite
def convex(draw):
    """Corners on an ellipse: always convex, never nearly straight."""
    n = draw(st.integers(3, 8))
    steps = draw(st.lists(st.floats(1.0, 2.5), min_size=n, max_size=n))
    a = np.cumsum(steps) / sum(steps) * math.tau
    wide, high = draw(st.floats(300, 900)), draw(st.floats(300, 900))
    return [(wide * math.cos(t), high * math.sin(t)) for t in a]


def test_a_true_rectangle():
    o = outline_from_tape(SIDES, {A: LONG, B: LONG})
    assert o.names == ("tunnel", "front", "sill", "rear")
    assert np.allclose(o.loop.points, [(0, 0), (900, 0), (900, 420), (0, 420)], atol=1e-6)
    assert max(abs(r.residual) for r in o.readings) < 1e-6
    assert o.findings == ()


def test_a_triangle_needs_no_diagonal():
    o = outline_from_tape({"a": "3 cm", "b": 40, "c": 50}, {})
    assert o.area == pytest.approx(600)
    assert o.findings[0].code == "tape.unchecked"


def test_one_diagonal_is_enough_but_unchecked():
    o = outline_from_tape(SIDES, {A: LONG})
    assert o.area == pytest.approx(900 * 420)
    (f,) = o.findings
    assert f.code == "tape.unchecked"
    assert "measure one more, such as tunnel/front to sill/rear" in f.remedy


def test_a_side_that_could_not_be_measured():
    o = outline_from_tape({**SIDES, "sill": None}, {A: LONG, B: LONG})
    assert o.edge("sill").length == pytest.approx(900)


@given(convex())
def test_exact_readings_give_the_polygon_back(points):
    o = outline_from_tape(*readings(points))
    assert np.allclose(o.loop.points, placed(points), atol=1e-5)


@settings(max_examples=40)
@given(convex(), st.integers(0, 2**32 - 1))
def test_rounded_readings_are_fitted_by_least_squares(points, seed):
    rng = np.random.default_rng(seed)
    sides, diagonals = readings(points)
    assume(len(points) > 3)
    sides = {k: v + rng.normal(0, 0.7) for k, v in sides.items()}
    diagonals = {k: v + rng.normal(0, 0.7) for k, v in diagonals.items()}
    o = outline_from_tape(sides, diagonals, tol=20)
    n = len(points)
    names = list(sides)
    corner = {f"{names[i - 1]}/{names[i]}": i for i in range(n)}
    ends = [(i, (i + 1) % n) for i in range(n)] + [(corner[a], corner[b]) for a, b in diagonals]
    lengths = np.array([*sides.values(), *diagonals.values()])

    def off(v):
        p = v.reshape(-1, 2)
        return np.array([math.dist(p[i], p[j]) for i, j in ends]) - lengths

    other = least_squares(off, np.ravel(placed(points)), xtol=1e-15, ftol=1e-15, gtol=1e-15)
    ours = sum(r.residual**2 for r in o.readings)
    assert ours == pytest.approx(2 * other.cost, rel=1e-6, abs=1e-10)
    # Shares add up to the number of readings beyond need: m - (2 n - 3).
    assert sum(r.share for r in o.readings) == pytest.approx(len(lengths) - (2 * n - 3), abs=1e-6)


L_SHAPE = [(0, 0), (400, 0), (400, 200), (150, 200), (150, 500), (0, 500)]


def test_a_hollow_corner_has_to_be_named():
    sides, diagonals = readings(L_SHAPE)
    o = outline_from_tape(sides, diagonals, hollow=["s2/s3"])
    assert np.allclose(o.loop.points, L_SHAPE, atol=1e-5)
    with pytest.raises(BadValue, match="no corner pointing inward"):
        outline_from_tape(sides, diagonals)


def test_fewest_readings_of_a_hollow_shape_take_the_side_named():
    sides, diagonals = readings(L_SHAPE, skip=[(1, 3), (1, 4), (1, 5), (2, 4), (2, 5), (3, 5)])
    o = outline_from_tape(sides, diagonals, hollow=[("s2", "s3")])
    assert np.allclose(o.loop.points, L_SHAPE, atol=1e-5)


def test_a_bowed_side_by_its_rise():
    o = outline_from_tape(SIDES, {A: LONG, B: LONG}, rises={"sill": "6 mm", "front": -3})
    sill = o.edge("sill")
    assert sill.radius == pytest.approx((450**2 + 36) / 12)  # (c^2/4 + h^2) / 2h
    assert sill.at(0.5) == pytest.approx((450, 426))
    assert o.edge("front").at(0.5) == pytest.approx((897, 210))


def test_a_wrong_reading_is_picked_out_where_others_can_tell():
    sides, diagonals = readings([(0, 0), (900, 0), (930, 250), (500, 520), (0, 420)])
    key = ("s0/s1", "s2/s3")
    with pytest.raises(BadValue, match=r"look first at 's0/s1 to s2/s3'.*the others want about 656 mm"):
        outline_from_tape(sides, {**diagonals, key: diagonals[key] + 30})


def test_with_one_reading_to_spare_nobody_can_tell_which_is_wrong():
    with pytest.raises(BadValue, match=r"up to 2.5 mm apart.*cannot tell which: measure another diagonal"):
        outline_from_tape(SIDES, {A: LONG, B: LONG + 10})


@pytest.mark.parametrize(
    ("sides", "diagonals", "options", "message"),
    [
        (
            SIDES,
            {},
            {},
            "readings: 4 .*5 or more for 4 corners.*measure 1 more, for instance rear/tunnel to front/sill",
        ),
        (SIDES, {A: 1400}, {}, r"less than 'tunnel' and 'front' together .1320 mm"),
        ({"a": 1, "b": 2, "c": 3}, {}, {}, "less than 'a' and 'b' together"),
        ({**SIDES, "sill": -900}, {A: LONG}, {}, "side 'sill'.*greater than 0"),
        ({**SIDES, "sill": "9,5 mm"}, {A: LONG}, {}, "side 'sill'.*not a comma"),
        ({**SIDES, "sill": math.nan}, {A: LONG}, {}, "side 'sill'.*finite"),
        (SIDES, {A: 0}, {}, "diagonal 'rear/tunnel to front/sill'.*greater than 0"),
        (SIDES, {("rear/tunnel", "front/roof"): 990}, {}, "corner: 'front/roof'.*one of: rear/tunnel, tunnel/front"),
        (SIDES, {("rear/tunnel", "tunnel/rear"): 990}, {}, "two different corners"),
        (SIDES, {("rear/tunnel", "tunnel/front"): 990}, {}, "it is 'tunnel' already"),
        (SIDES, {A: 990, A[::-1]: 990}, {}, "each length once"),
        (SIDES, {"rear/tunnel": 990}, {}, "a pair of corners"),
        ({"a": 1, "b": 1}, {}, {}, "3 to 40 sides"),
        ({"a": 30, "<b>": 40, "c": 50}, {}, {}, "letters, digits"),
        (SIDES, {A: LONG}, {"rises": {"roof": 3}}, "rise: 'roof'"),
        (SIDES, {A: LONG}, {"rises": {"sill": 600}}, "at most 450.0 mm"),
        (SIDES, {A: LONG}, {"tol": 0}, "tol.*greater than 0"),
        (SIDES, {A: LONG, B: LONG}, {"hollow": ["front/sill"]}, "readings that agree with front/sill pointing inward"),
    ],
)
def test_readings_that_cannot_be(sides, diagonals, options, message):
    with pytest.raises(BadValue, match=message):
        outline_from_tape(sides, diagonals, **options)


def test_a_corner_on_one_reading_is_named_as_free():
    # Six corners and nine readings, enough by number; but s2/s3 hangs on one of them.
    points = [(400 * math.cos(a), 300 * math.sin(a)) for a in np.arange(6) * math.tau / 6]
    sides, diagonals = readings(points)
    diagonals = {k: v for k, v in diagonals.items() if "s2/s3" not in k}
    with pytest.raises(BadValue, match=r"hold every corner; s2/s3.* can still move"):
        outline_from_tape({**sides, "s3": None}, diagonals)


def test_it_shows_each_residual():
    o = outline_from_tape(SIDES, {A: LONG + 1, B: LONG})
    html = o._repr_html_()
    assert "rear/tunnel to front/sill" in html
    assert f"{o.readings[4].residual:+.2f}" in html
    assert type(o.offset(5)).__name__ == "Outline"


@given(
    st.lists(st.floats(0.1, 2000), min_size=3, max_size=6),
    st.lists(st.floats(0.1, 2000), min_size=0, max_size=9),
)
def test_any_lengths_give_an_outline_or_one_of_our_errors(lengths, across):
    names = [f"s{i}" for i in range(len(lengths))]
    corner = [f"{names[i - 1]}/{names[i]}" for i in range(len(names))]
    pairs = [(i, j) for i, j in combinations(range(len(names)), 2) if 1 < j - i < len(names) - 1]
    diagonals = {(corner[i], corner[j]): v for (i, j), v in zip(pairs, across, strict=False)}
    try:
        o = outline_from_tape(dict(zip(names, lengths, strict=True)), diagonals)
    except BadValue:
        return
    assert o.area > 0
    assert all(abs(r.residual) <= 2 for r in o.readings)
