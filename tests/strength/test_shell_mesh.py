"""Mesh of made parts: area kept, seams closed, sound elements, clear errors."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings

import tinbook as tb
from shellgrids import grid
from strategies import SHOP, parts
from tinbook.errors import BadValue, CannotMake
from tinbook.families.plain import bead_rolled_panel, folded_channel
from tinbook.making.resolve import make
from tinbook.part.forms.beadshape import BeadProfile
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.strength.mesh.build import mesh
from tinbook.strength.mesh.quads import LEAST
from tinbook.strength.shell import linear as sh
from tinbook.strength.shell.solve import NotSolved


def areas(m) -> np.ndarray:
    p = m.points[m.quads]
    return np.linalg.norm(np.cross(p[:, 2] - p[:, 0], p[:, 3] - p[:, 1]), axis=1) / 2


def borders(m) -> np.ndarray:
    """Sides that belong to one element only, as node pairs."""
    a, b = m.quads.ravel(), np.roll(m.quads, -1, axis=1).ravel()
    pairs, count = np.unique(np.sort(np.stack((a, b), 1), axis=1), axis=0, return_counts=True)
    assert count.max() <= 2
    return pairs[count == 1]


def test_plain_panel_is_the_plain_grid():
    m = mesh(make(bead_rolled_panel(beads=0), SHOP), 25.0)
    assert len(m.quads) == 32 * 16
    assert m.quality == pytest.approx((1.0, 1.0))
    assert areas(m) == pytest.approx(np.full(512, 625.0))
    assert len(m.edges["base/front"]) == 33


def test_beaded_panel_follows_the_profile():
    """Developed area of a bead: flat less footprint plus the surface of revolution and the swept arc."""
    made = make(bead_rolled_panel(), SHOP)
    m = mesh(made, 12.5)
    bead = made.panels[0].beads[0]
    shape = BeadProfile(width=bead.width, depth=bead.depth, shoulder=bead.shoulder, thickness=made.thickness)
    straight = 300 * shape.arc_length
    # A shallow dome's ends: between the flat disc and the arc's length turned about its middle.
    ends = math.pi / 4 * bead.width**2
    exact = 800 * 400 - 6 * bead.footprint.area + 6 * (straight + ends)
    assert areas(m).sum() == pytest.approx(exact, rel=0.003)
    top = m.points[:, 2].max() - made.thickness / 2
    # Half a sagitta goes on the crown.
    assert bead.depth <= top < bead.depth * 1.04
    assert len(borders(m)) == 2 * (64 + 32)
    thin = np.unique(np.round(m.thickness, 6))
    assert len(thin) == 2
    assert thin[0] == pytest.approx(made.thickness * min((bead.width + bead.draw) / shape.arc_length, 1.0), abs=1e-5)


def test_channel_meets_node_on_node():
    """Free sides: the outline and four holes, nothing along the folds."""
    made = make(folded_channel(), SHOP)
    m = mesh(made, 8.0)
    free = borders(m)
    length = np.linalg.norm(m.points[free[:, 0]] - m.points[free[:, 1]], axis=1).sum()
    around = 2 * 400 + 2 * (54 + 2 * 27) + 2 * 2 * made.strips[0].angle * math.pi / 180 * (1.5 + 0.75)
    assert length == pytest.approx(around + 4 * math.pi * 6.6, rel=0.01)
    model = sh.shell(m.points, m.quads, m.thickness, 205e3, 0.3)
    assert model.mass == pytest.approx(made.mass, rel=2e-3)
    assert m.quality[0] > 0.25


def test_normals_point_to_the_up_side():
    m = mesh(make(folded_channel(), SHOP), 15.0)
    p = m.points[m.quads]
    n = np.cross(p[:, 2] - p[:, 0], p[:, 3] - p[:, 1])
    assert (n[m.of("base"), 2] > 0).all()
    # Both flanges fold up: their up sides face each other.
    assert (n[m.of("near"), 1] > 0).all()
    assert (n[m.of("far"), 1] < 0).all()


@settings(max_examples=12)
@given(parts())
def test_random_parts_have_sound_meshes(part):
    made = make(part, SHOP)
    if not made.ok:
        return
    try:
        m = mesh(made, 20.0)
    except NotSolved:
        # A refusal in plain words (see the other tests), never a bad mesh.
        return
    assert m.quality[0] > 1e-3
    model = sh.shell(m.points, m.quads, m.thickness, 205e3, 0.3, made.sheet.material.density)
    # Holes and arcs become polygons, beads keep their metal.
    assert model.mass == pytest.approx(made.mass, rel=0.03)


def test_hole_that_leaves_a_single_point():
    base = Outline.rectangle(100, 100)
    points, quads = grid(4, 4, lambda s, t: np.stack((100 * s, 100 * t, 0 * s), 1))
    from tinbook.strength.mesh.quads import Mesh, require_one_piece

    kept = quads[[0, 5, 10, 15]]  # a diagonal of cells: corner on corner
    used = np.unique(kept)
    small = np.searchsorted(used, kept)
    bad = Mesh(
        points=points[used], quads=small, owner=np.zeros(4, dtype=np.int64), owners=("base",), thickness=np.ones(4),
        normals=np.zeros((len(used), 3)), edges={}, holes={}, uses={}, size=25.0, quality=(1.0, 1.0),
    )  # fmt: skip
    with pytest.raises(NotSolved, match="single points"):
        require_one_piece(bad)
    assert base.loop.area == 1e4


def _over_a_fold(web):
    """Two openings that run over one fold with a web between them, which no rule of the maker's forbids."""
    part = Part("HN-W", rev="A", sheet="DC01 1.5", base=Outline.rectangle(100, 60)).fold("rear", "up", leg=40)
    return make(part.hole((30, 59), 30, name="a").hole((60 + web, 59), 30, name="b"), SHOP)


def _necked(neck):
    sides = [(0, 0), (50, 30 - neck / 2), (100, 0), (100, 60), (50, 30 + neck / 2), (0, 60)]
    return make(Part("HN-W", rev="A", sheet="DC01 1.5", base=Outline.polygon(sides)), SHOP)


@pytest.mark.parametrize("web", [0.09, 0.01, 1e-3, 1e-4])
def test_a_real_part_that_hangs_on_single_points_is_told_before_the_solve(web, monkeypatch):
    """Finer than a micrometre nodes on both sides of a web become one; told from the contours, on any mesh."""
    from tinbook.strength.mesh import build as meshing

    monkeypatch.setattr(meshing, "_Builder", lambda *a: pytest.fail("it meshed"))
    made = _over_a_fold(web)
    assert made.ok
    with pytest.raises(BadValue, match=rf"hole 'b': \"{web:.2g} mm of metal to hole 'a'.*hang on single points"):
        tb.strength_of(made, "clamped: left", "own weight")
    with pytest.raises(BadValue, match=r"the blank: 'narrower than 0\.1 mm near x 50, y 30 mm'"):
        tb.strength_of(_necked(web), "clamped", "own weight")


def test_narrow_but_real_webs_are_meshed():
    for made in (_over_a_fold(1.0), _necked(0.5)):
        assert mesh(made, 3.0).quality[0] > 0.1


def test_holes_close_to_each_other_are_refused_by_the_maker_or_meshed_whole():
    """Random holes near each other and near edges: a stop that names one, or a mesh in one piece; never a single point."""
    rng = np.random.default_rng(11)
    stopped = meshed = 0
    for _ in range(60):
        part = Part("HN-W", rev="A", sheet="DC01 1.5", base=Outline.rectangle(60, 40))
        dia = 4 + 8 * rng.random()
        gap = 10 ** rng.uniform(-3.5, 0.3)
        way = 2 * np.pi * rng.random()
        at = np.array([15 + 30 * rng.random(), dia / 2 + gap + (36 - dia - 2 * gap) * rng.integers(2)])
        part = part.hole(tuple(at.tolist()), dia, name="a")
        other = at + (dia + gap) * np.array([np.cos(way), np.sin(way)])
        if not (dia / 2 + 0.5 < other[1] < 39.5 - dia / 2 and dia / 2 + 0.5 < other[0] < 59.5 - dia / 2):
            continue
        made = make(part.hole(tuple(other.tolist()), dia, name="b"), SHOP)
        if not made.ok:
            stopped += 1
            with pytest.raises(CannotMake, match=r"hole '[ab]'"):
                mesh(made, 4.0)
            continue
        if gap < LEAST:
            with pytest.raises(BadValue, match="mm of metal to"):
                mesh(made, 4.0)
            continue
        assert mesh(made, 4.0).quality[0] > 1e-3  # in one piece too: `mesh` asks `_in_one_piece`
        meshed += 1
    assert stopped > 2
    assert meshed > 5


@pytest.mark.parametrize("size", [0.0, -1.0, math.nan, "fine"])
def test_bad_sizes(size):
    with pytest.raises(BadValue, match="mesh size"):
        mesh(make(bead_rolled_panel(beads=0), SHOP), size)


def test_too_fine_for_the_memory_is_said_before_meshing():
    with pytest.raises(BadValue, match=r"do not fit in 1 GB"):
        mesh(make(bead_rolled_panel(beads=0), SHOP), 0.5, memory=1e9)


def test_holes_near_an_edge_and_a_bead():
    part = Part("HN-T", rev="A", sheet="DC01 1.5", base=Outline.rectangle(300, 200))
    part = part.bead([(60, 100), (240, 100)], "R18x5").holes_along("front", dia=8, pitch=30, inset=10, use="plug weld")
    m = mesh(make(part, SHOP), 15.0)
    assert m.quality[0] > 0.15
    assert sum(u == "plug weld" for u in m.uses.values()) == len(m.holes) > 5
    for nodes in m.holes.values():
        p = m.points[nodes]
        assert np.linalg.norm(p - p.mean(axis=0), axis=1) == pytest.approx(4.0, abs=1e-6)


def test_many_holes_are_meshed_coarsely_and_that_is_said():
    def plate(count):
        part = Part("HN-T", rev="A", sheet="DC01 1.5", base=Outline.rectangle(900, 200))
        return mesh(make(part.holes_along("front", dia=8, count=count, inset=20), SHOP), 20.0)

    few, many = plate(8), plate(44)
    assert few.notes == ()
    assert many.notes == ("the rims of 44 holes are divided coarsely: stress there may read a third too low",)
    # 24 nodes round each rim, or 12.
    assert {len(n) for n in few.holes.values()} == {24}
    assert {len(n) for n in many.holes.values()} == {12}
