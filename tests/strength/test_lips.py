"""Sheet on a lip of some width: the answer follows the lip, not the mesh; exact strips, contact that settles."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from strategies import SHOP
from tinbook.errors import BadValue
from tinbook.families.plain import bead_rolled_panel
from tinbook.making.resolve import make
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.strength import analysis as an
from tinbook.strength import loads as ld
from tinbook.strength import supports as on
from tinbook.strength.contact import linear as contact
from tinbook.strength.frequencies import frequencies_of
from tinbook.strength.mesh import lines
from tinbook.strength.meshed import Meshed
from tinbook.strength.shell import eigen

SIDES = ("front", "right", "rear", "left")
T = 1.6
WIDE = 15.0


@pytest.fixture(scope="module")
def panel():
    return make(bead_rolled_panel(beads=0), SHOP)


def strip(wide=20.0):
    return make(Part("HN-L", rev="A", sheet="DC01 1.6", base=Outline.rectangle(400, wide)), SHOP)


def on_lips(width=WIDE, edges=SIDES):
    return [*[on.lip(e, width=width) for e in edges], on.no_drift()]


# -- exact strips -----------------------------------------------------------------------------------


@pytest.mark.parametrize("size", [25.0, 12.5, 7.0])
def test_strip_bears_on_the_inner_lines_of_its_lips(size):
    """Beam of span s = L - 2 b with ends b that hang over, evenly loaded: w = 5 q s^4 / 384 - (q b^2 / 2) s^2 / 8 over EI.

    The ends lift off (beam theory by hand, anticlastic bending of a narrow strip neglected). Span and not length: the
    same strip on its edges would bend by a third more.
    """
    made, q = strip(), 1e-5
    r = an.static(made, on_lips(edges=("right", "left")), [ld.Pressure(pressure=q)], size=size, compare=False)
    s = 400 - 2 * WIDE
    exact = q * (5 * s**4 / 384 - WIDE**2 / 2 * s**2 / 8) / (made.sheet.material.youngs * T**3 / 12)
    assert -r.at((200, 10, 0.8))[2] == pytest.approx(exact, rel=0.01)
    edge = r.displacement[np.abs(r.mesh.points[:, 0]) < 1e-6, 2]
    assert edge.min() > 0
    assert [round(x.force[2], 6) for x in r.reactions[:2]] == pytest.approx([q * 400 * 20 / 2] * 2)


@pytest.mark.parametrize(("size", "within"), [(10.0, 0.03), (5.0, 0.01)])
def test_heavy_strip_lifts_as_far_as_theory_says(size, within):
    """Lips so wide that the strip comes down on them again: it lifts over a = 0.5321 s, where x^3 + 3 x^2 = 1.

    On a rigid shelf a beam of weight q touches down where deflection, slope and moment are nought, so the
    lifted end bends as w'(a) = q a^3 / 24 with a moment q a^2 / 4 over the shelf's rim; the span of length s must
    turn as much there (by hand).
    """
    made, q, wide = strip(6.0), 1e-5, 130.0
    r = an.static(
        made, on_lips(wide, ("right", "left")), [ld.Pressure(pressure=q)], size=size, compare=False, large=False
    )
    s = 400 - 2 * wide
    a = 0.53209 * s
    stiff = made.sheet.material.youngs * T**3 / 12
    exact = q * (5 * s**4 / 384 - a**2 / 4 * s**2 / 8) / stiff
    # It touches down on a node: the mesh tells in second order.
    assert -r.at((200, 3, 0.8))[2] == pytest.approx(exact, rel=within)
    x, w = r.mesh.points[:, 0], r.displacement[:, 2]
    lifted = x[(x < wide) & (w > 1e-3 * w.max())]
    assert lifted.min() == pytest.approx(wide - a, abs=1.2 * size)


# -- panels ------------------------------------------------------------------------------------------


def test_held_along_the_inner_line_it_swings_as_leissa_says(panel):
    """At least that of 770 x 370 mm simply supported (Leissa, NASA SP-160, equation 4.20), whose edge is freer to turn.

    The margin beyond the line must twist along, which stiffens by 2.4 %; held all over its width (clamped: factor
    36 / 19.7 for a square) or at the outer edge alone (31 Hz) it would be far off.
    """
    exact = leissa(panel)
    found = [eigen.frequencies(Meshed(panel, on_lips(), s).system, 1)[0][0] for s in (40.0, 25.0, 12.5)]
    assert exact < min(found) < max(found) < 1.03 * exact
    assert found == pytest.approx([found[-1]] * 3, rel=0.004)


def leissa(made) -> float:
    m = made.sheet.material
    d = m.youngs * T**3 / (12 * (1 - m.poisson**2))
    return math.pi / 2 * (1 / 770**2 + 1 / 370**2) * math.sqrt(d / (m.density * 1e-12 * T))


def test_at_rest_its_corners_lift_so_it_swings_lower(panel):
    """35.45 and 55.66 Hz by CalculiX on a mesh of its own (`tests/reference/test_lips_ccx.py`); held along all of the line 36.2."""
    there = (35.45, 55.66)
    found = [an.modes(panel, on_lips(), count=2, size=s, compare=False).frequencies for s in (40.0, 25.0)]
    assert found[0] == pytest.approx(there, rel=0.02)
    assert found[1] == pytest.approx(there, rel=0.02)
    said = frequencies_of(panel, "on a lip", count=1, size=40.0)
    assert said.first < eigen.frequencies(Meshed(panel, on_lips(0.0), 40.0).system, 1)[0][0]


def test_a_lip_above_swings_as_one_below(panel):
    above = [*[on.lip(e, width=WIDE, side="up") for e in SIDES], on.no_drift()]
    both = [*above, *on_lips()]
    found = [an.modes(panel, s, count=1, size=40.0, compare=False).first for s in (above, on_lips(), both)]
    assert found[0] == pytest.approx(found[1], rel=1e-6)
    # Between lips below and above nothing lifts.
    assert found[2] > 1.02 * found[1]


def test_foot_on_a_panel_on_lips_does_not_jump_with_the_mesh(panel):
    light = [ld.Foot(at=(400, 200), force=3.0)]
    found = [an.static(panel, on_lips(), light, size=s, compare=False) for s in (40.0, 25.0, 15.0)]
    assert not found[0].large
    assert [r.deflection for r in found] == pytest.approx([found[-1].deflection] * 3, rel=0.02)
    full = [an.static(panel, on_lips(), [ld.Foot(at=(400, 200))], size=s, compare=False) for s in (40.0, 25.0)]
    assert all(r.large and r.complete for r in full)
    assert full[0].deflection == pytest.approx(full[1].deflection, rel=0.01)
    for r in (*found, *full):
        pushes = [x.force[2] for x in r.reactions[:4]]
        assert min(pushes) > 0
        assert sum(pushes) == pytest.approx(3.0 if r in found else 1100.0, rel=1e-4)


@pytest.mark.parametrize("width", [0.0, WIDE])
def test_large_displacements_begin_as_linear_contact_does(panel, width):
    """Springs that push only, against the exact contact of the linear run: two ways to the same resting edge."""
    light = [ld.Foot(at=(400, 200), force=1.0)]
    linear = an.static(panel, on_lips(width), light, size=40.0, compare=False, large=False)
    large = an.static(panel, on_lips(width), light, size=40.0, compare=False, large=True)
    assert large.deflection == pytest.approx(linear.deflection, rel=1e-3)
    assert [x.lifted for x in large.reactions] == [x.lifted for x in linear.reactions]


def test_contact_pushes_or_has_lifted_and_never_both(panel):
    """What defines contact, on a mesh where opening and closing by turns goes round in circles."""
    m, model = an.model_of(panel, 16.0, supports=on_lips())
    stops = on.on_mesh(panel, m, on_lips())
    force = ld.nodal(panel, m, model, [ld.Foot(at=(250, 120), force=5.0)])
    active, u, reaction, _ = contact.linear(model, stops, force)
    push = np.einsum("ki,ki->k", reaction[stops.at], stops.rows)
    gap = np.einsum("ki,ki->k", u[stops.at], stops.rows)
    lip = stops.one_sided
    assert push[lip].min() > -1e-4
    assert gap[lip].min() > -1e-6
    assert np.abs(push[lip] * gap[lip]).max() < 1e-6
    assert 0 < active[lip].sum() < lip.sum()


def _inner_nodes(made, edges, size=25.0):
    m, _ = an.model_of(made, size, supports=on_lips(edges=edges))
    stops = on.on_mesh(made, m, on_lips(edges=edges))
    return m, np.unique(stops.at[stops.firm & stops.one_sided])


def test_mesh_follows_the_lip_round_arcs_corners_and_holes():
    arc = Outline.rectangle(400, 300).rounded(60)
    made = make(Part("HN-L", rev="A", sheet="DC01 1.6", base=arc), SHOP)
    names = tuple(dict.fromkeys(e.name for e in made.panels[0].boundary.edges if e.name))
    m, nodes = _inner_nodes(made, names, 12.0)
    sheet = shapely.Polygon(made.panels[0].boundary.chords())
    away = shapely.distance(sheet.exterior, shapely.points(m.points[nodes, :2]))
    assert away == pytest.approx(np.full(len(nodes), WIDE), abs=1.3)
    assert m.quality[0] > 0.2
    ell = Outline.polygon([(0, 0), (500, 0), (500, 200), (200, 200), (200, 500), (0, 500)], names=tuple("abcdef"))
    made = make(Part("HN-L", rev="A", sheet="DC01 1.6", base=ell), SHOP)
    m, nodes = _inner_nodes(made, tuple("abcdef"))
    assert m.quality[0] > 0.2
    corner = np.linalg.norm(m.points[nodes, :2] - 15.0, axis=1)
    assert corner.min() < 1e-6
    holed = make(
        Part("HN-L", rev="A", sheet="DC01 1.6", base=Outline.rectangle(600, 400)).holes_along(
            SIDES, dia=8, pitch=45, inset=10, use="plug weld"
        ),
        SHOP,
    )
    m, nodes = _inner_nodes(holed, SIDES)
    assert m.quality[0] > 0.15
    y = m.points[nodes, 1]
    assert ((np.abs(y - 15) < 2) | (np.abs(y - 385) < 2)).sum() > 2 * 600 / 45


def test_lip_on_one_edge_ends_at_the_sides(panel):
    m, nodes = _inner_nodes(panel, ("front",))
    on_line = m.points[nodes]
    assert on_line[:, 1] == pytest.approx(np.full(len(nodes), WIDE), abs=1e-6)
    assert (on_line[:, 0].min(), on_line[:, 0].max()) == pytest.approx((0.0, 800.0), abs=1e-6)


def test_without_width_the_mesh_is_as_before(panel):
    plain, _ = an.model_of(panel, 40.0)
    edge, _ = an.model_of(panel, 40.0, supports=on_lips(0.0))
    thin, _ = an.model_of(panel, 40.0, supports=on_lips(0.9 * 40 * lines.FINEST))
    for m in (edge, thin):
        assert m.points == pytest.approx(plain.points)


def test_a_lip_under_all_of_a_panel_lets_it_only_rise(panel):
    r = an.static(panel, on_lips(250.0), [ld.Foot(at=(400, 200), force=50.0)], size=50.0, compare=False)
    assert r.deflection < 1e-9


@pytest.mark.parametrize("width", [-1.0, math.nan, math.inf, "15", True])
def test_bad_width_is_refused(width):
    with pytest.raises(BadValue, match="lip width"):
        on.lip("front", width=width)
