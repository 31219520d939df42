"""Rolled beads against plane geometry worked out another way: quadrature, shapely's buffers, hand values."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from scipy.integrate import quad
from shapely import LineString

from tinbook.calc import beads
from tinbook.calc.sections import thin_section
from tinbook.errors import BadValue, OutOfRange
from tinbook.plane.loops import Edge


# Worked by hand from R = (w²/4 + h²)/2h, f = asin(w/2R), arc = 2 R f; 10 x 5 is the half circle, pi 5.
@pytest.mark.parametrize(
    ("width", "depth", "radius", "opening", "arc", "pull"),
    [
        (12, 4, 6.5, 134.76, 15.288, 3.288),
        (20, 6, 11.333, 2 * 61.928, 24.499, 4.499),
        (25.4, 6.35, 15.875, 2 * 53.130, 29.442, 4.042),
        (10, 5, 5.0, 180.0, 15.708, 5.708),
    ],
)
def test_arc(width: float, depth: float, radius: float, opening: float, arc: float, pull: float) -> None:
    assert beads.arc_radius(width, depth) == pytest.approx(radius, abs=6e-4)
    assert 2 * beads.arc_half_angle(width, depth) == pytest.approx(opening, abs=6e-3)
    assert beads.arc_length(width, depth) == pytest.approx(arc, abs=6e-4)
    assert beads.stretch(width, depth) == pytest.approx(pull / width, abs=1e-4)


def test_arc_length_is_the_integral_of_the_circle() -> None:
    """Arc length of y(x) = sqrt(R² - x²) by adaptive quadrature."""
    r = 11 + 1 / 3
    length, _ = quad(lambda x: r / math.sqrt(r * r - x * x), -10, 10, epsabs=1e-12)
    assert beads.arc_length(20, 6) == pytest.approx(length, rel=1e-10)


def test_draw_shares_the_length_between_pull_and_stretch() -> None:
    """What is not drawn in is stretched: w (1 + strain) + pull = developed length."""
    for draw in (0.0, 0.3, 1.0):
        total = 18 * (1 + beads.stretch(18, 5, draw)) + draw * (beads.arc_length(18, 5) - 18)
        # Quarter-angle form by hand: f = 2 atan(10/18) = 58.109 deg, R = (81 + 25)/10 = 10.6, arc = 21.501.
        assert total == pytest.approx(21.501, abs=2e-3)


def test_thinning_keeps_the_volume() -> None:
    # 25 % stretch of 1.0 mm in plane strain leaves 0.8 mm: 1.0 x 1.0 = 1.25 x 0.8.
    assert beads.thinned(1.0, 0.25) == pytest.approx(0.8)


@pytest.mark.parametrize(("w", "h", "t"), [(12, 4, 1.2), (20, 6, 1.0), (25.4, 6.35, 1.6)])
def test_bare_arc_has_the_inertia_of_its_line_integral(w: float, h: float, t: float) -> None:
    """I about the arc's own centroid, by quadrature along y(x) of the circle."""
    r = (w * w / 4 + h * h) / (2 * h)
    drop = r - h

    def y(x: float) -> float:
        return math.sqrt(r * r - x * x) - drop

    def ds(x: float) -> float:
        return t * r / math.sqrt(r * r - x * x)

    area = quad(ds, -w / 2, w / 2)[0]
    centre = quad(lambda x: y(x) * ds(x), -w / 2, w / 2)[0] / area
    inertia = quad(lambda x: (y(x) - centre) ** 2 * ds(x), -w / 2, w / 2)[0]
    arc = Edge((w / 2, 0.0), (-w / 2, 0.0), math.tan(math.radians(beads.arc_half_angle(w, h)) / 2))
    strip = thin_section([arc], t, wall_bending=False)
    assert strip.area == pytest.approx(area, rel=1e-9)
    assert strip.centroid[1] == pytest.approx(centre, rel=1e-9)
    assert strip.i_x == pytest.approx(inertia, rel=1e-8)
    # The same as a closed form: t R³ (f + sin f cos f - 2 sin² f / f).
    f = math.asin(w / 2 / r)
    closed = t * r**3 * (f + math.sin(f) * math.cos(f) - 2 * math.sin(f) ** 2 / f)
    assert strip.i_x == pytest.approx(closed, rel=1e-9)


def test_profile_joins_tangentially_and_reaches_the_depth() -> None:
    profile = beads.bead_profile(18, 5, 2, 1.6, flat=20)
    for left, right in itertools.pairwise(profile):
        assert left.end == pytest.approx(right.start, abs=1e-12)
        assert left.direction(1.0) == pytest.approx(right.direction(0.0), abs=1e-12)
    assert profile[2].at(0.5)[1] == pytest.approx(5.0, abs=1e-12)
    assert profile[0].start == (-19.0, 0.0)
    assert profile[-1].end == (19.0, 0.0)
    # Radii are of faces: the shoulder's inside radius 2 mm stands 0.8 mm inside its mid-line.
    assert profile[1].radius == pytest.approx(2.8)
    # Shoulders do not change the developed length.
    assert sum(e.length for e in profile) - 20 == pytest.approx(beads.arc_length(18, 5), rel=1e-12)


@pytest.mark.parametrize(
    ("w", "h", "rs", "t", "p"), [(12, 4, 1, 1.2, 75), (20, 6, 2, 1.0, 75), (18, 5, 2, 1.6, 100), (18, 8, 1, 1.6, 18)]
)
def test_field_is_the_solid_band(w: float, h: float, rs: float, t: float, p: float) -> None:
    """Area, centroid and inertia of one pitch from the outline that shapely buffers round the mid-line."""
    profile = beads.bead_profile(w, h, rs, t, flat=p - w)
    line = np.concatenate([e.chords(1e-6) for e in profile] + [np.array([profile[-1].end])])
    band = LineString(line).buffer(t / 2, cap_style="flat", join_style="round", quad_segs=400)
    x, y = (np.array(c) for c in band.exterior.coords.xy)
    cross = x[:-1] * y[1:] - x[1:] * y[:-1]
    sign = np.sign(cross.sum())
    area = sign * cross.sum() / 2
    centre = sign * ((y[:-1] + y[1:]) * cross).sum() / 6 / area
    inertia = sign * ((y[:-1] ** 2 + y[:-1] * y[1:] + y[1:] ** 2) * cross).sum() / 12 - area * centre**2
    field = beads.bead_field(w, h, rs, t, p)
    assert field.section.area == pytest.approx(area, rel=1e-5)
    assert field.section.centroid[1] == pytest.approx(centre, rel=1e-4)
    assert field.inertia == pytest.approx(inertia / p, rel=2e-5)


# Smeared inertia of sharp-cornered arcs by hand from the closed form above, the flats' t³/12 added over the whole
# pitch; it counts the wall's own bending fully on the slope and no shoulder, so ours may differ by 2 %.
@pytest.mark.parametrize(
    ("w", "h", "t", "p", "smeared", "ratio", "mass"),
    [
        (12, 4, 1.2, 75, 1.814, 12.6, 1.044),
        (20, 6, 1.0, 75, 4.607, 55.3, 1.060),
        (25.4, 6.35, 1.6, 100, 7.854, 23, 1.040),
    ],
)
def test_field_against_hand_values(
    w: float, h: float, t: float, p: float, smeared: float, ratio: float, mass: float
) -> None:
    field = beads.bead_field(w, h, 0.0, t, p)
    assert field.inertia == pytest.approx(smeared, rel=0.02)
    assert field.gain == pytest.approx(ratio, rel=0.02)
    assert field.mass_gain == pytest.approx(mass, abs=6e-4)
    assert field.flat_inertia == pytest.approx(t**3 / 12)


def test_stretched_beads_add_no_metal() -> None:
    field = beads.bead_field(18, 5, 2, 1.6, 60, draw=0.0)
    assert field.mass_gain == pytest.approx(1.0, rel=1e-9)
    assert field.inertia < beads.bead_field(18, 5, 2, 1.6, 60, draw=1.0).inertia


def test_refusals_name_field_and_limit() -> None:
    with pytest.raises(OutOfRange, match="depth over width"):
        beads.arc_length(10, 5.1)
    with pytest.raises(OutOfRange, match="shoulder radius"):
        beads.bead_profile(18, 5, 10, 1.6)
    with pytest.raises(BadValue, match="draw factor"):
        beads.stretch(18, 5, 1.2)
    with pytest.raises(BadValue, match="pitch"):
        beads.bead_field(18, 5, 2, 1.6, 17)
    with pytest.raises(BadValue, match="width"):
        beads.arc_radius(math.nan, 5)
