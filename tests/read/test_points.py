"""Measured points in: against the truth they were drawn from, exact shapes, and another least-squares solver."""

from __future__ import annotations

import math
import time

import floor_opening
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import least_squares

import tinbook as tb
from counts import count
from tinbook.errors import BadFile
from tinbook.part.outline import Outline
from tinbook.read.fitting import fit_arc, fit_line, fit_plane
from tinbook.read.points import read_outline


def along(edge, count: int, start: float = 0.05, end: float = 0.95):
    """Points along an edge, not at its corners."""
    return [(*edge.at(s), 0.0) for s in np.linspace(start, end, count)]


def measured(outline: Outline, count: int = 7):
    return {e.name: np.array(along(e, count)) for e in outline.loop}


def turned(angles, shift=(0.0, 0.0, 0.0)):
    """A rotation (matrix) by angles about x, y, z and a shift."""
    (cx, cy, cz), (sx, sy, sz) = np.cos(np.radians(angles)), np.sin(np.radians(angles))
    rx = np.array([[1, 0, 0], [0, cx, -sx], [0, sx, cx]])
    ry = np.array([[cy, 0, sy], [0, 1, 0], [-sy, 0, cy]])
    rz = np.array([[cz, -sz, 0], [sz, cz, 0], [0, 0, 1]])
    return rz @ ry @ rx, np.array(shift)


# The Heron's opening: the truth is stated in floor_opening, the file holds it with scatter.


@pytest.fixture(scope="module")
def heron(root):
    return read_outline(root / "notebooks/data/heron_left_floor_opening.csv", tol="0.5 mm")


def test_the_file_is_what_its_truth_and_seed_give(root):
    held = (root / "notebooks/data/heron_left_floor_opening.csv").read_text(encoding="utf-8")
    assert held == floor_opening.text()


def test_heron_corners_lie_where_they_were_put(heron):
    # Scatter of 0.25 mm in 4 to 12 points an edge places a line to about 0.1 mm and a corner to about 0.3.
    assert heron.names == ("tunnel", "front", "clip", "sill", "rear")
    truth = list(floor_opening.CORNERS.values())
    for p, q in zip(heron.loop.points, truth, strict=True):
        assert math.dist(p, q) < 0.6
    assert [e.kind for e in heron.fit.edges] == ["line", "line", "line", "arc", "line"]


def test_a_survey_prints_one_line(heron):
    said = repr(heron.fit)
    assert len(said) < 120
    assert f"worst {abs(heron.fit.worst.worst):.2f} mm on {heron.fit.worst.name}, out of flat 0.95 mm" in said


def test_heron_sill_rises_as_it_was_put(heron):
    sill = heron.edge("sill")
    assert sill.chord / 2 * sill.bulge == pytest.approx(floor_opening.SILL_RISE, abs=0.4)


def test_heron_rear_is_not_square_by_the_angle_it_was_put(heron):
    angle = {c.name: c.angle for c in heron.fit.corners}
    truth = math.degrees(math.atan2(420, 12))
    assert angle["rear/tunnel"] == pytest.approx(truth, abs=0.1)
    assert angle["tunnel/front"] == pytest.approx(90, abs=0.1)
    assert angle["front/clip"] == pytest.approx(135, abs=0.5)


def test_heron_plane_is_tilted_and_out_of_flat_as_put(heron):
    up = np.array(floor_opening.rotation())[:, 2]
    assert heron.fit.tilt == pytest.approx(math.degrees(math.acos(up[2])), abs=0.05)
    assert heron.fit.frame.z == pytest.approx(tuple(up), abs=1e-3)
    assert heron.fit.frame.origin == pytest.approx(floor_opening.ORIGIN, abs=0.6)
    # The twist alone is 0.9 mm at the corners; points lie a little inside and scatter by 0.08.
    assert heron.fit.out_of_flat == pytest.approx(2 * floor_opening.TWIST, abs=0.25)
    assert [f.severity for f in heron.fit.findings] == ["fine"]
    assert heron.findings == ()


def test_heron_residuals_are_the_scatter_that_was_put_in(heron):
    for e in heron.fit.edges:
        free = e.count - (2 if e.kind == "line" else 3)
        expected = floor_opening.SCATTER * math.sqrt(free / e.count)
        assert 0.4 * expected < e.rms < 1.6 * expected
        assert abs(e.worst) <= 0.5
        assert e.worst_at.startswith("line ")


def test_heron_goes_on_as_a_base(heron):
    base = heron.offset({"tunnel": "-1.5 mm"}, others="+20 mm")
    assert type(base) is Outline
    assert base.names == heron.names
    assert base.edge("sill").radius == pytest.approx(heron.edge("sill").radius + 20)


def test_heron_shows_itself(heron):
    html = heron._repr_html_()
    for text in ("tunnel", "arc, R ", "worst at", "Out of flat by 0.95 mm", "sill/rear"):
        assert text in html
    assert heron._repr_svg_().count("<circle") == 41


# Exact shapes come back exactly.


def shape() -> Outline:
    return (
        Outline.rectangle(900, 420, names=("tunnel", "front", "sill", "rear"))
        .clipped({"front/sill": ("70 mm", "60 mm")})
        .renamed({"front-sill": "clip"})
    )


@given(st.tuples(*[st.floats(-50, 50)] * 3), st.tuples(*[st.floats(-3000, 3000)] * 3), st.booleans())
def test_exact_points_come_back_in_any_place_and_either_way_round(angles, shift, clockwise):
    o = shape()
    matrix, move = turned(angles, shift)
    given_points = {k: v @ matrix.T + move for k, v in measured(o).items()}
    if clockwise:
        given_points = dict(reversed([(k, v[::-1]) for k, v in given_points.items()]))
        names = list(given_points)
        given_points = {k: given_points[k] for k in ["tunnel", *names[:-1]]}
    m = floor_opening.outline_of(given_points, up=matrix[:, 2])
    assert m.names == o.names
    assert np.allclose(m.loop.points, o.loop.points, rtol=0.0, atol=1e-8)
    assert m.fit.out_of_flat < 1e-8
    # The frame carries the outline back to where it was measured; 0.00001 mm of its place are kept.
    for p in o.loop.points:
        assert np.allclose(m.fit.frame(*p), matrix @ (*p, 0.0) + move, rtol=0.0, atol=1e-5)


def test_seen_from_below_it_is_the_other_hand():
    o = shape()
    m = floor_opening.outline_of(measured(o), up=(0, 0, -1))
    assert m.area == pytest.approx(o.area)
    assert m.edge("rear").start == pytest.approx((900.0, 0.0), abs=1e-9)


@pytest.mark.parametrize(
    "o",
    [
        Outline.rectangle(300, 200).rounded(40),  # tangent arcs: no crossing marks the corner
        Outline.rectangle(300, 200).rounded({"rear/left": 90, "front/right": 15}),
        Outline.rectangle(300, 200).clipped(30).rounded({"front/front-right": 20}),
    ],
)
def test_rounded_corners_come_back_with_their_radius(o):
    m = floor_opening.outline_of(measured(o, 9))
    for e in o.loop:
        if not e.is_line:
            assert m.edge(e.name).radius == pytest.approx(e.radius, rel=1e-6)
    assert m.area == pytest.approx(o.area, rel=1e-4)


def test_two_arcs_make_a_lens_and_two_halves_a_circle():
    r = 100.0
    half = {
        "near": [(r * math.cos(a), r * math.sin(a), 3.0) for a in np.linspace(math.pi * 1.02, math.pi * 1.98, 9)],
        "far": [(r * math.cos(a), r * math.sin(a), 3.0) for a in np.linspace(0.02 * math.pi, 0.98 * math.pi, 9)],
    }
    m = floor_opening.outline_of(half)
    assert m.area == pytest.approx(math.pi * r * r, rel=1e-6)


def test_measuring_may_begin_within_an_edge(tmp_path):
    o = shape()
    rows = [(name, *p) for name, pts in measured(o).items() for p in pts]
    rows = rows[3:] + rows[:3]
    file = tmp_path / "o.csv"
    file.write_text("edge,x,y,z\n" + "".join(f"{n},{x},{y},{z}\n" for n, x, y, z in rows))
    m = read_outline(file)
    assert np.allclose(m.loop.points, o.loop.points, atol=1e-8)


def test_units_are_converted(tmp_path):
    o = shape()
    inch = {k: v / 25.4 for k, v in measured(o).items()}
    assert floor_opening.outline_of(inch, unit="in").area == pytest.approx(o.area)


# Least squares against another solver.


@given(st.integers(3, 30), st.integers(-180, 180), st.floats(0.001, 0.4), st.integers(0, 2**32 - 1))
def test_line_is_the_least_squares_line(n, degrees, scatter, seed):
    heading = math.radians(degrees)
    rng = np.random.default_rng(seed)
    s = np.linspace(0, 500, n)
    xy = np.column_stack((s * math.cos(heading), s * math.sin(heading))) + rng.normal(0, scatter, (n, 2))
    line = fit_line(xy)

    def off(v):
        return (
            (xy[:, 0] - 250 * math.cos(heading)) * math.sin(v[0])
            - (xy[:, 1] - 250 * math.sin(heading)) * math.cos(v[0])
            - v[1]
        )

    other = least_squares(off, [heading, 0.0], xtol=1e-15, ftol=1e-15, gtol=1e-15)
    ours = float((line.out(xy) ** 2).sum())
    assert ours <= 2 * other.cost * (1 + 1e-9) + 1e-18
    assert math.cos(heading) * line.direction[0] + math.sin(heading) * line.direction[1] > 0.99


@given(
    st.floats(8, 3000),
    st.floats(0.15, 6.0),
    st.integers(4, 40),
    st.floats(0.0, 0.002),
    st.booleans(),
    st.integers(0, 2**32 - 1),
)
def test_arc_is_the_least_squares_arc(r, sweep, n, scatter, clockwise, seed):
    rng = np.random.default_rng(seed)
    a = np.linspace(0.3, 0.3 + sweep, n)[:: -1 if clockwise else 1]
    xy = np.column_stack((r * np.cos(a), r * np.sin(a))) + rng.normal(0, 1, (n, 2)) * scatter * r * min(sweep**2, 1)
    arc = fit_arc(xy)
    other = least_squares(
        lambda v: np.hypot(xy[:, 0] - v[0], xy[:, 1] - v[1]) - v[2],
        [0.0, 0.0, r],
        x_scale=r,
        xtol=1e-15,
        ftol=1e-15,
        gtol=1e-15,
    )
    ours = float((arc.out(xy) ** 2).sum())
    assert ours <= 2 * other.cost * (1 + 1e-7) + 1e-18 * r * r
    assert arc.turn == (-1.0 if clockwise else 1.0)
    if scatter == 0:
        assert arc.radius == pytest.approx(r, rel=1e-8)


def test_gentle_arc_of_fourteen_metres_keeps_its_digits():
    # Rise h over chord c has the radius (c^2/4 + h^2) / 2h.
    r = (409**2 + 36) / 12
    x = np.linspace(-400, 400, 12)
    xy = np.column_stack((x + 5000, 7000 + np.sqrt(r * r - x * x) - r))
    assert fit_arc(xy).radius == pytest.approx(r, rel=1e-7)


def test_straight_points_have_no_arc():
    assert fit_arc(np.array([[0.0, 0.0], [1.0, 1.0], [2.0, 2.0], [5.0, 5.0]])) is None
    assert fit_arc(np.full((4, 2), 3.0)) is None  # as torn meshes give them


@given(st.integers(0, 2**32 - 1), st.floats(0.01, 3.0))
def test_plane_is_the_least_squares_plane(seed, scatter):
    rng = np.random.default_rng(seed)
    matrix, move = turned(rng.uniform(-60, 60, 3), rng.uniform(-2000, 2000, 3))
    xyz = np.column_stack((rng.uniform(0, 900, 40), rng.uniform(0, 400, 40), rng.normal(0, scatter, 40))) @ matrix.T
    xyz += move
    plane = fit_plane(xyz)
    ours = float((((xyz - plane.centre) @ plane.axes[2]) ** 2).sum())
    # The smallest eigenvalue of the scatter matrix is the least sum of squared distances.
    d = xyz - xyz.mean(axis=0)
    assert ours == pytest.approx(float(np.linalg.eigvalsh(d.T @ d)[0]), rel=1e-6)
    assert np.allclose(plane.axes @ plane.axes.T, np.eye(3), atol=1e-12)
    assert np.linalg.det(plane.axes) == pytest.approx(1)


# Findings and what stands out.


def test_a_point_that_stands_out_within_the_tolerance_is_named():
    points = measured(Outline.rectangle(900, 420), 12)
    points["right"][5, 0] += 0.45
    (f,) = [f for f in floor_opening.outline_of(points).fit.findings if f.code == "points.suspect"]
    assert f.where == f"edge 'right', line {1 + len(points['front']) + 6}"
    assert f.value == pytest.approx(0.45, rel=0.2)


def test_twice_the_same_point_two_points_and_far_corners_are_named():
    points = measured(Outline.rectangle(900, 420))
    points["right"][3] = points["right"][2]
    points["rear"] = np.array([(700.0, 420.0, 0.0), (300.0, 420.0, 0.0)])
    found = {f.code: f for f in floor_opening.outline_of(points).fit.findings}
    assert found["points.repeat"].where == f"edge 'right', line {1 + len(points['front']) + 4}"
    assert found["points.few"].where == "edge 'rear'"
    part = tb.Part("A", sheet="DC01 1.5", base=floor_opening.outline_of(points).offset("2 mm"))
    assert tb.check(tb.make(part, tb.Shop.demo())).of("points.few")
    assert all(f.severity == "caution" for f in found.values() if f.code != "points.flat")
    del points["left"]
    far = {
        "a": [(0, 0, 0), (100, 0, 0), (200, 0, 0)],
        "b": [(500, 300, 0), (450, 350, 0), (400, 400, 0)],
        "c": [(0, 300, 0), (0, 200, 0), (0, 100, 0)],
    }
    assert "points.corner" in {f.code for f in floor_opening.outline_of(far).fit.findings}


@pytest.mark.parametrize(("height", "severity"), [(1.0, "fine"), (6.0, "caution"), (20.0, "stop")])
def test_out_of_flat_is_weighed_against_the_size(height, severity):
    points = measured(Outline.rectangle(900, 420))
    for p in points.values():
        p[:, 2] = height / 2 * (2 * p[:, 0] / 900 - 1) * (2 * p[:, 1] / 420 - 1)
    o = floor_opening.outline_of(points)
    (f,) = [f for f in o.fit.findings if f.code == "points.flat"]
    assert f.severity == severity
    assert o.fit.out_of_flat == pytest.approx(0.9 * height, rel=0.1)


def test_many_rows_are_read_in_seconds(tmp_path):
    """100 000 rows, a million with `--full`."""
    o = shape()
    n = count(20_000, 200_000)
    rng = np.random.default_rng(3)
    file = tmp_path / "scan.csv"
    with file.open("w", encoding="utf-8") as f:
        f.write("edge,x,y,z\n")
        for name, p in measured(o, n).items():
            p = p + rng.normal(0, 0.05, p.shape)
            f.write("".join([f"{name},{x:.3f},{y:.3f},{z:.3f}\n" for x, y, z in p.tolist()]))
    begin = time.process_time()
    m = read_outline(file, tol="0.5 mm")
    assert time.process_time() - begin < n * 1.5e-4  # about a seventh of it on a quiet machine of 2026
    assert sum(e.count for e in m.fit.edges) == 5 * n
    assert np.allclose(m.loop.points, o.loop.points, atol=0.01)
    assert len(m.fit.sample) <= 405


def test_tolerance_decides_between_line_arc_and_neither(tmp_path):
    points = measured(Outline.rectangle(900, 420), 9)
    x = points["rear"][:, 0]
    points["rear"][:, 1] += 3 * (1 - (x / 450 - 1) ** 2)  # rises by 3 mm
    assert floor_opening.outline_of(points, tol=0.5).edge("rear").radius < 1e5
    assert floor_opening.outline_of(points, tol="4 mm").edge("rear").is_line
    points["rear"][:, 1] += np.where(np.arange(9) % 2, 0.6, -0.6)
    with pytest.raises(BadFile, match=r"neither a line nor an arc within 0\.5 mm"):
        floor_opening.outline_of(points, tol=0.5)
