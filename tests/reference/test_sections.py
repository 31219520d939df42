"""Sections against hand values, shapely outlines, and formulas of the handbooks."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from shapely import Polygon, box

from tinbook.calc import profiles, sections
from tinbook.errors import BadValue
from tinbook.plane.loops import Edge


def chain(*points: tuple[float, float]) -> list[Edge]:
    return [Edge(p, q) for p, q in itertools.pairwise(points)]


def moments(shape: Polygon) -> tuple[float, float, float, float, float]:
    """Area, centroid and second moments of a shapely outline with holes, by the trapezoids under its edges."""
    total = np.zeros(5)
    for ring, sign in [(shape.exterior, 1.0), *((r, -1.0) for r in shape.interiors)]:
        x, y = (np.array(c) for c in ring.coords.xy)
        dx, dy = np.diff(x), np.diff(y)
        x0, x1, y0, y1 = x[:-1], x[1:], y[:-1], y[1:]
        # Line integrals: A = ∮ x dy, Sx = -∮ y²/2 dx, Sy = ∮ x²/2 dy, Ixx = -∮ y³/3 dx, Iyy = ∮ x³/3 dy.
        parts = np.array(
            [
                ((x0 + x1) / 2 * dy).sum(),
                (-(y0**2 + y0 * y1 + y1**2) / 6 * dx).sum(),
                ((x0**2 + x0 * x1 + x1**2) / 6 * dy).sum(),
                (-(y0**3 + y0**2 * y1 + y0 * y1**2 + y1**3) / 12 * dx).sum(),
                ((x0**3 + x0**2 * x1 + x0 * x1**2 + x1**3) / 12 * dy).sum(),
            ]
        )
        total += sign * (parts if parts[0] > 0 else -parts)
    a, sx, sy, ixx, iyy = total
    return a, sy / a, sx / a, ixx - sx**2 / a, iyy - sy**2 / a


# By hand, mid-line convention (2 x 100³/12 + 2 x 100 x 50² for the channel, and so on).
def test_channel_by_its_mid_line() -> None:
    s = sections.thin_section(chain((50, 0), (0, 0), (0, 100), (50, 100)), 2, wall_bending=False)
    assert s.area == pytest.approx(400)
    assert s.centroid == pytest.approx((12.5, 50))
    assert s.i_x == pytest.approx(666_666.67, abs=0.01)
    assert s.i_y == pytest.approx(104_166.67, abs=0.01)
    assert s.i_xy == pytest.approx(0, abs=1e-6)
    assert s.j == pytest.approx(533.33, abs=0.01)
    assert s.w_x == pytest.approx(666_666.67 / 50, rel=1e-6)
    assert s.w_y == pytest.approx(104_166.67 / 37.5, rel=1e-6)


def test_channel_of_the_same_outside_sizes_exact() -> None:
    """Solid with sharp corners; by hand 627 723 and 98 155 mm⁴."""
    s = profiles.channel(100, 50, 2)
    assert s.area == pytest.approx(392)
    assert s.centroid[0] == pytest.approx(13.245, abs=5e-4)
    assert s.i_x == pytest.approx(627_723, abs=1)
    assert s.i_y == pytest.approx(98_155, abs=1)
    outline = box(0, 0, 50, 100) - box(2, 2, 50, 98)
    assert (s.area, *s.centroid, s.i_x, s.i_y) == pytest.approx(moments(outline), rel=1e-9)


def test_folded_channel_against_its_outline() -> None:
    """Bend radius 3 mm inside: the outline rounded by shapely's buffers."""
    # The left corners are rounded by shrinking and growing a shape that reaches beyond the flange ends.
    outer = box(0, 0, 150, 100).buffer(-5).buffer(5, quad_segs=2000) & box(0, 0, 50, 100)
    inner = box(2, 2, 150, 98).buffer(-3).buffer(3, quad_segs=2000) & box(0, 0, 50, 100)
    s = profiles.channel(100, 50, 2, 3)
    assert (s.area, *s.centroid, s.i_x, s.i_y) == pytest.approx(moments(outer - inner), rel=1e-6)


def test_hat_by_its_mid_line() -> None:
    """Flanges 20, webs 40, top 60, t 1.5; by hand."""
    s = sections.thin_section(chain((-50, 0), (-30, 0), (-30, 40), (30, 40), (30, 0), (50, 0)), 1.5, wall_bending=False)
    assert s.area == pytest.approx(270)
    assert s.centroid[1] == pytest.approx(22.222, abs=5e-4)
    assert s.i_x == pytest.approx(74_667, abs=1)
    assert s.i_y == pytest.approx(233_000, abs=1)


def test_angle_and_its_principal_axes() -> None:
    """Angle 40 x 40 x 3 by its mid-line: I = 40 000; along the diagonal b³t/3, across it b³t/12 by hand."""
    s = sections.thin_section(chain((40, 0), (0, 0), (0, 40)), 3, wall_bending=False)
    assert s.centroid == pytest.approx((10, 10))
    assert s.i_x == pytest.approx(40_000)
    assert s.i_y == pytest.approx(40_000)
    largest, smallest, turn = s.principal
    assert (largest, smallest) == pytest.approx((40**3 * 3 / 3, 40**3 * 3 / 12))
    # The leg ends lie along the falling diagonal, so bending about the rising one is the stiffer.
    assert turn == pytest.approx(45)


def test_together_is_the_parallel_axis_theorem() -> None:
    """Two 50 x 2 flats 98 mm apart (centres) with a 96 x 2 web between: an I section by hand."""
    flats = [sections.thin_section(chain((-25, y), (25, y)), 2) for y in (-49, 49)]
    web = sections.thin_section(chain((0, -48), (0, 48)), 2)
    whole = sections.together([*flats, web])
    by_hand = 2 * (50 * 2**3 / 12 + 100 * 49**2) + 2 * 96**3 / 12
    assert whole.i_x == pytest.approx(by_hand)
    assert whole.i_y == pytest.approx(2 * 2 * 50**3 / 12 + 96 * 2**3 / 12)
    assert whole.box == pytest.approx((-25, -50, 25, 50))


def test_arc_wall_is_the_exact_annulus_sector() -> None:
    """Half ring of radii 9 and 11 by the handbook: A = pi/2 (R² - r²), centroid 4 (R³ - r³) / 3 pi (R² - r²)."""
    s = sections.thin_section([Edge((10, 0), (-10, 0), 1.0)], 2)
    assert s.area == pytest.approx(math.pi / 2 * (121 - 81))
    assert s.centroid[1] == pytest.approx(4 * (11**3 - 9**3) / (3 * math.pi * (121 - 81)))
    about_base = math.pi / 8 * (11**4 - 9**4)
    assert s.i_x == pytest.approx(about_base - s.area * s.centroid[1] ** 2)
    assert s.i_y == pytest.approx(about_base)
    assert s.box == pytest.approx((-11, 0, 11, 11))


def test_polygon_far_from_the_origin() -> None:
    """A 30 x 20 rectangle turned by 30 degrees: I_xy = -(I1 - I2)/2 sin 60 with the long side at +30."""
    c, d = math.cos(math.pi / 6), math.sin(math.pi / 6)
    turned = [(1e5 + c * x - d * y, 1e5 + d * x + c * y) for x, y in [(0, 0), (30, 0), (30, 20), (0, 20)]]
    s = sections.polygon_section(turned)
    strong, weak = 20 * 30**3 / 12, 30 * 20**3 / 12
    assert s.area == pytest.approx(600)
    assert s.i_x == pytest.approx((strong + weak) / 2 - (strong - weak) / 2 * math.cos(math.pi / 3), rel=1e-6)
    assert s.i_xy == pytest.approx((strong - weak) / 2 * math.sin(math.pi / 3), rel=1e-6)
    assert s.principal[:2] == pytest.approx((strong, weak), rel=1e-6)


@pytest.mark.parametrize("radius", [0.0, 6.0])
def test_rectangular_tube_against_its_outline(radius: float) -> None:
    def rounded(w: float, h: float, r: float) -> Polygon:
        full = box(-w / 2, -h / 2, w / 2, h / 2)
        return full.buffer(-r).buffer(r, quad_segs=2000) if r else full

    s = profiles.rectangular_tube(60, 40, 3, radius)
    a, _, _, ix, iy = moments(rounded(60, 40, radius) - rounded(54, 34, max(radius - 3, 0)))
    assert (s.area, s.i_x, s.i_y) == pytest.approx((a, ix, iy), rel=1e-6)


def test_tube_torsion() -> None:
    # Bredt on the mid-line 57 x 37 with sharp corners: 4 (57 x 37)² 3 / 188.
    assert profiles.rectangular_tube(60, 40, 3).j == pytest.approx(4 * (57 * 37) ** 2 * 3 / 188)
    # EN 10219-2:2006 table, RHS 60x40x3 (outside corners 2 t): I 25.4 and 13.4, torsion 29.3 cm⁴ (from memory).
    s = profiles.rectangular_tube(60, 40, 3, 6)
    assert (s.i_y / 1e4, s.i_x / 1e4) == pytest.approx((25.4, 13.4), abs=0.06)
    assert s.j / 1e4 == pytest.approx(29.3, rel=0.02)
    # A thin ring: 4 A² t / s = 2 pi R³ t.
    assert sections.closed_torsion_constant(math.pi * 100, 20 * math.pi, 0.5) == pytest.approx(math.tau * 1000 * 0.5)


def test_round_tube() -> None:
    """Steel tube 48.3 x 3.2: EN 10219-2 table, area 4.53 cm², I 11.6 cm⁴, W 4.80 cm³, torsion 23.2 cm⁴ (from memory)."""
    s = profiles.round_tube(48.3, 3.2)
    assert s.area / 1e2 == pytest.approx(4.53, abs=0.005)
    assert s.i_x / 1e4 == pytest.approx(11.6, abs=0.05)
    assert s.w_x / 1e3 == pytest.approx(4.80, abs=0.005)
    assert s.j / 1e4 == pytest.approx(23.2, abs=0.05)
    solid = profiles.round_tube(20, 10)
    assert solid.i_x == pytest.approx(math.pi * 20**4 / 64)


def test_shear_centre_and_warping_of_a_channel() -> None:
    """Timoshenko, Strength of Materials: e = 3 b² / (h + 6 b); warping t b³ h² (3 b + 2 h) / 12 (6 b + h)."""
    (x, y), warping = sections.shear_centre([(50, 0), (0, 0), (0, 100), (50, 100)], 2)
    assert (x, y) == pytest.approx((-3 * 50**2 / (100 + 6 * 50), 50))
    assert warping == pytest.approx(2 * 50**3 * 100**2 / 12 * (150 + 200) / (300 + 100))


def test_shear_centre_of_a_z_and_an_angle() -> None:
    """A Z twists about its centre; an angle about its corner, and does not warp there."""
    (x, y), warping = sections.shear_centre([(-40, 60), (0, 60), (0, 0), (40, 0)], 2)
    assert (x, y) == pytest.approx((0, 30), abs=1e-9)
    # Equal flanges: t b³ h² (b + 2 h) / 12 (2 b + h), Timoshenko and Gere, appendix.
    assert warping == pytest.approx(2 * 40**3 * 60**2 / 12 * (40 + 120) / (80 + 60))
    (x, y), warping = sections.shear_centre([(40, 0), (0, 0), (0, 30)], 3)
    assert (x, y) == pytest.approx((0, 0), abs=1e-9)
    assert warping == pytest.approx(0, abs=1e-3)


def test_refusals() -> None:
    with pytest.raises(BadValue, match="walls"):
        sections.thin_section([], 1.0)
    with pytest.raises(BadValue, match="wall radius"):
        sections.thin_section([Edge((1, 0), (-1, 0), 1.0)], 4)
    with pytest.raises(BadValue, match="corners"):
        sections.polygon_section([(0, 0), (1, 1), (2, 2)])
    with pytest.raises(BadValue, match="not straight"):
        sections.shear_centre([(0, 0), (1, 0), (2, 0)], 1)
    with pytest.raises(BadValue, match="thickness"):
        profiles.round_tube(10, 6)
    with pytest.raises(BadValue, match="channel"):
        profiles.channel(10, 4, 2, 3)
