"""The preview's triangles pinned to the solid: volume, box, holes, closed and looking outward."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import zoo
from byhand import PARTS, made, tray
from tinbook.making.preview.build import Preview, preview
from tinbook.making.preview.triangles import chords, triangulate
from tinbook.making.solid import kernel
from tinbook.making.solid.build import solid
from tinbook.plane.loops import Edge, Loop, circle, polygon, slot


def welded(p: Preview) -> np.ndarray:
    """Return triangles over points that lie within a micron of each other."""
    keys = np.round(p.positions.astype(float) / 1e-3).astype(np.int64)
    _, back = np.unique(keys, axis=0, return_inverse=True)
    return back.ravel()[p.triangles]


def handles(p: Preview) -> int:
    """Check that the mesh is closed and return its number of through holes (Euler's V - E + F = 2 - 2 G)."""
    t = welded(p)
    edges = np.concatenate((t[:, [0, 1]], t[:, [1, 2]], t[:, [2, 0]]))
    n = int(t.max()) + 1
    ways, back = edges[:, 0] * n + edges[:, 1], edges[:, 1] * n + edges[:, 0]
    assert len(np.unique(ways)) == len(ways), "an edge is run twice the same way"
    assert np.array_equal(np.sort(ways), np.sort(back)), "an edge has a face on one side only"
    euler = n - len(edges) // 2 + len(t)
    assert euler % 2 == 0
    return (2 - euler) // 2


@pytest.mark.parametrize("name", PARTS)
def test_agrees_with_the_solid(name: str) -> None:
    make, holes = PARTS[name]
    m = make()
    p, s = preview(m), solid(m)
    assert p.volume == pytest.approx(s.Volume(), rel=5e-3)
    for ours, theirs in zip(p.box, kernel.box(s.wrapped), strict=True):
        assert ours == pytest.approx(theirs, abs=0.1)
    assert handles(p) == holes
    assert preview(m) is p


@pytest.mark.parametrize("name", PARTS)
def test_groups_and_lines(name: str) -> None:
    m = PARTS[name][0]()
    p = preview(m)
    assert p.positions.dtype == p.lines.dtype == np.float32
    assert p.triangles.dtype == p.group.dtype == p.line_group.dtype == np.uint32
    assert len(p.group) == len(p.triangles)
    assert p.lines.shape == (len(p.line_group), 2, 3)
    assert len(p.names) == len(p.kinds)
    assert set(p.kinds) <= {"panel", "fold", "bead", "hole", "edge"}
    shown = {(p.kinds[g], p.names[g]) for g in np.unique(p.group).tolist()}
    assert {("panel", q.name) for q in m.panels} <= shown
    assert {("fold", s.name) for s in m.zones} <= shown
    assert {("hole", h.name) for q in (*m.panels, *m.zones) for h in q.holes} <= shown
    assert {("bead", b.name) for q in m.panels for b in q.beads} <= shown
    # Every line ends where triangles have a corner.
    corners = {tuple(v) for v in np.round(p.positions, 3).tolist()}
    assert {tuple(v) for v in np.round(p.lines.reshape(-1, 3), 3).tolist()} <= corners


def test_rim_of_a_hole_is_its_own_group() -> None:
    m = tray(12)
    p = preview(m)
    for h in m.panels[0].holes:
        g = [i for i, (k, n) in enumerate(zip(p.kinds, p.names, strict=True)) if (k, n) == ("hole", h.name)]
        rim = p.positions[np.unique(p.triangles[p.group == g[0]])]
        x, y = h.loop.edges[0].centre
        assert np.hypot(rim[:, 0] - x, rim[:, 1] - y) == pytest.approx(4.0, abs=0.1)
        assert {0.0, 1.5} == set(rim[:, 2].tolist())


def test_an_opening_over_folds_is_its_own_group_in_every_piece() -> None:
    m = zoo.made_zoo("holes over folds")
    p = m.preview
    over = {c.name: c.loop for c in m.flat.cuts}
    whole = {h.name for q in (*m.panels, *m.strips) for h in q.holes}
    assert len(over.keys() - whole) == 3
    for name in over.keys() - whole:
        groups = [i for i, k in enumerate(zip(p.kinds, p.names, strict=True)) if k == ("hole", name)]
        rims = np.isin(p.group, groups)
        assert rims.any()
        # The wall is as large as the opening's contour is long and the sheet thick; a bend stretches or upsets it.
        a, b, c = (p.positions[p.triangles[rims, k]].astype(float) for k in range(3))
        area = np.linalg.norm(np.cross(b - a, c - a), axis=1).sum() / 2
        assert area == pytest.approx(over[name].length * m.thickness, rel=0.15)
    # No wall of an opening is left among the outer walls: those keep to the outline, far from the openings.
    edge = np.isin(p.group, [i for i, kind in enumerate(p.kinds) if kind == "edge"])
    assert np.ptp(p.positions[np.unique(p.triangles[edge])][:, 0]) == pytest.approx(300.0, abs=1e-3)
    x = p.positions[np.unique(p.triangles[edge])][:, 0]
    assert not ((x > 45) & (x < 230)).any()


def test_chords_enclose_the_area_of_the_arcs() -> None:
    b = 0.35
    loops = [
        (Edge((0, 0), (100, 0)), Edge((100, 0), (100, 80), -b), Edge((100, 80), (0, 80), b), Edge((0, 80), (0, 0))),
        circle((30, 30), 9).edges,
        slot((60, 30), 20, 6, 20).edges,
    ]
    rings = chords([e for loop in loops for e in loop], [len(loop) for loop in loops], [False, True, True])
    exact = Loop(tuple(loops[0])).area - sum(Loop(tuple(loop)).area for loop in loops[1:])
    q = rings.xy[rings.following]
    shoelace = (rings.xy[:, 0] * q[:, 1] - rings.xy[:, 1] * q[:, 0]).sum() / 2
    assert shoelace == pytest.approx(exact, rel=1e-12)


@given(
    st.lists(st.tuples(st.integers(0, 9), st.integers(0, 9)), unique=True, max_size=40),
    st.sampled_from([2.0, 6.0, 9.9]),
    st.integers(0, 4),
    st.booleans(),
)
@settings(max_examples=60)
def test_every_point_is_used_and_no_gap_is_left(
    cells: list[tuple[int, int]], dia: float, split: int, rows: bool
) -> None:
    """Holes on a grid and points on straight edges are the cases in which triangulators drop points."""
    corners = [(0.0, 0.0), *((20.0 * (i + 1), 0.0) for i in range(split)), (100.0, 0.0), (100.0, 100.0), (0.0, 100.0)]
    outline = polygon(corners).edges
    loops = [circle((10 * x + 5, 10 * y + 5), dia).edges for x, y in cells]
    edges = [*outline, *(e for loop in loops for e in loop)]
    rings = chords(edges, [len(outline), *map(len, loops)], [False] + [True] * len(loops))
    rings.round = np.arange(1, len(loops) + 1) if rows else rings.round
    t = triangulate(rings)
    n = len(rings.xy)
    assert len(np.unique(t)) == n
    ways = np.concatenate([t[:, a] * n + t[:, b] for a, b in ((0, 1), (1, 2), (2, 0))])
    back = np.concatenate([t[:, b] * n + t[:, a] for a, b in ((0, 1), (1, 2), (2, 0))])
    open_ = np.setdiff1d(ways, back)
    assert np.array_equal(np.sort(open_), np.sort(np.arange(n) * n + rings.following))
    assert len(t) == n + 2 * len(cells) - 2


def test_rows_of_holes_are_joined_and_what_lies_between_them_is_kept() -> None:
    """Each row by itself, past a slot in its way, and round a corner; the areas prove every mesh."""
    outline = polygon([(0, 0), (600, 0), (600, 400), (200, 400), (200, 200), (0, 200)]).edges
    bottom = [circle((20 + 20 * i, 15), 6).edges for i in range(28)]
    right = [circle((580, 40 + 18 * i), 6).edges for i in range(18)]
    slotted = [*bottom, slot((310, 15), 8, 2).edges]
    across = [circle((85 + 65 * i, 125 + 65 * i), 6).edges for i in range(4)]  # one link leaves the sheet
    for cuts in (bottom, [*right, *bottom], slotted, across, [*slotted, *right, *across]):
        rings = chords([*outline, *(e for c in cuts for e in c)], [6, *map(len, cuts)], [False] + [True] * len(cuts))
        plain = triangulate(rings)
        rings.round = np.array([i for i, c in enumerate(cuts, start=1) if len(c) == 2])
        t = triangulate(rings)
        assert len(t) == len(plain) == len(rings.xy) + 2 * len(cuts) - 2
        a, b, c = (rings.xy[t[:, k]] for k in range(3))
        areas = ((b - a) * np.flip(c - a, axis=1) * (1, -1)).sum(axis=1) / 2
        assert areas.min() > -1e-4  # a corner on a straight edge gives a triangle of no area
        exact = Loop(outline).area - sum(Loop(tuple(cut)).area for cut in cuts)
        assert areas.sum() == pytest.approx(exact, rel=1e-9)


def test_nothing_gives_an_empty_mesh() -> None:
    p = preview(made([]))
    assert p.positions.shape == p.triangles.shape == (0, 3)
    assert p.lines.shape == (0, 2, 3)


def test_needs_no_geometry_kernel(root: Path) -> None:
    code = "import sys, tinbook.making.preview.build; sys.exit(any(m in sys.modules for m in ('OCP', 'cadquery', 'shapely')))"
    env = dict(os.environ, PYTHONPATH=str(root / "kit"))
    assert subprocess.run([sys.executable, "-c", code], env=env, check=False).returncode == 0
