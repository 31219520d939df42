"""Least distances with exact answers, rocking, ways out, and what is refused."""

from __future__ import annotations

import math

import cadquery as cq
import numpy as np
import pytest

import tinbook as tb
from tinbook.errors import BadFile, BadValue
from tinbook.making.solid import bodies
from tinbook.read.scans.mesh import Scan
from tinbook.read.scans.nearest import nearest, tree_of
from tinbook.space import frame_at

SHOP = tb.Shop.demo()
CHORD = 0.02
CLOSE = 0.02 + 2 * CHORD
BALL = cq.Workplane().sphere(50)
PLATE = tb.make(tb.Part("HN-P1", sheet="DC01 1.5", base=tb.Outline.rectangle(60, 40)), SHOP)


def moved(shape, x, y, z):
    return shape.translate((x, y, z))


def test_ball_to_plane_cylinder_cone_and_ball_by_hand():
    """Plane: h - r. Cylinder: d - r - R. Cone of half angle a, apex at 0, axis z: z sin a + x cos a - r, outside. Ball: d - 2 r."""
    slab = cq.Workplane().box(400, 400, 20).translate((0, 0, -10))
    assert tb.fit.clearance_of(moved(BALL, 3, 7, 61.5), slab).least == pytest.approx(11.5, abs=CLOSE)
    tube = cq.Workplane("XZ").circle(30).extrude(300).translate((0, 150, 0))
    assert tb.fit.clearance_of(moved(BALL, 60, 0, 80), tube).least == pytest.approx(100 - 80, abs=CLOSE)
    assert tb.fit.clearance_of(moved(BALL, 90, 90, 0), BALL).least == pytest.approx(90 * math.sqrt(2) - 100, abs=CLOSE)
    cone = cq.Workplane(obj=cq.Solid.makeCone(0, 200 * math.tan(math.radians(20)), 200))
    true = 160 * math.cos(math.radians(20)) - 100 * math.sin(math.radians(20)) - 50
    found = tb.fit.clearance_of(moved(BALL, 160, 0, 100), cone)
    assert found.least == pytest.approx(true, abs=CLOSE)
    assert math.dist(found.on_thing, found.on_body) == pytest.approx(found.least, abs=1e-6)


@pytest.mark.parametrize("seed", range(4))
def test_solids_are_as_far_apart_as_the_kernel_says(seed):
    rng = np.random.default_rng(seed)
    a = (
        cq.Workplane()
        .box(*rng.uniform(20, 80, 3).tolist())
        .edges("|Z")
        .fillet(5)
        .rotate((0, 0, 0), (1, 2, 3), rng.uniform(0, 180))
    )
    b = (
        cq.Workplane()
        .cylinder(60, 22)
        .rotate((0, 0, 0), (3, 1, 2), rng.uniform(0, 180))
        .translate(tuple(rng.uniform(60, 120, 3).tolist()))
    )
    true = bodies.gap(a.val().wrapped, b.val().wrapped)
    assert tb.fit.clearance_of(a, b).least == pytest.approx(true, abs=CLOSE)


def test_crossing_edges_and_pierced_faces_are_found_though_no_corner_is_near():
    """Two crossed bars 2 mm apart; then one bar through a plate, no corner of either inside the other."""
    bar = cq.Workplane().box(200, 4, 4)
    other = cq.Workplane().box(4, 200, 4)
    assert tb.fit.clearance_of(bar, moved(other, 0, 0, 6)).least == pytest.approx(2.0, abs=1e-9)
    plate = cq.Workplane().box(100, 100, 2)
    through = tb.fit.clearance_of(cq.Workplane().box(4, 4, 200), plate)
    assert through.least == 0
    assert not through.ok
    inside = tb.fit.clearance_of(cq.Workplane().sphere(5), cq.Workplane().box(60, 60, 60))
    assert inside.least == pytest.approx(-25, abs=0.1), "wholly inside: behind the body's faces"
    assert not inside.ok


def test_rocking_finds_the_worst_position():
    """A bar 200 mm long on an axis through its middle over a floor 30 mm below: its end falls by 100 sin a + 2 cos a."""
    bar, floor = cq.Workplane().box(200, 10, 4), cq.Workplane().box(500, 100, 2).translate((0, 0, -31))
    found = tb.fit.rocking(bar, floor, about=((0, 0, 0), (0, 1, 0)), by=(-8, 10), subject="drive unit")
    a = math.radians(10)
    assert found.least == pytest.approx(30 - 100 * math.sin(a) - 2 * math.cos(a), abs=1e-6)
    assert found.worst == "turned +10.00°"
    assert not found.ok
    assert found.between <= 1.0 + 1e-9
    assert tb.fit.rocking(bar, floor, about=((0, 0, 0), (0, 1, 0)), by=(-8, 10), keep=9).ok
    near = tb.fit.rocking(bar, floor, about=((0, 0, 0), (0, 1, 0)), by=(-8, 10), keep=10.5)
    assert [f.severity for f in near.findings] == ["caution"], "between two positions it may come nearer"
    low = tb.fit.rocking(bar, floor, about=((0, 0, 0), (0, 1, 0)), by=(0, 0), rubber=((0, 0, 400), 80.0))
    assert low.least == pytest.approx(28 - 5, abs=1e-6), "400 N on 80 N/mm is 5 mm"
    assert low.worst.endswith("shifted back")
    assert "must keep" in str(found.curve)


def test_a_thing_comes_out_of_a_hole_or_catches_where_it_is_too_wide():
    box = cq.Workplane().box(100, 100, 100).faces(">Z").workplane().rect(60, 40).cutBlind(-80)
    small = cq.Workplane().box(50, 30, 20).translate((0, 0, 0))
    out = tb.fit.way_out(small, box, [("move", (0, 0, 100))])
    assert out.ok
    assert out.least == pytest.approx(5.0, abs=1e-9)
    side = tb.fit.way_out(small, box, [("move", (0, 0, 20)), ("move", (60, 0, 0))])
    assert not side.ok
    assert "step 2" in side.findings[0].where
    turned = tb.fit.way_out(small, box, [("turn", (0, 0, 0), (0, 0, 1), 90)])
    assert not turned.ok
    assert "step 1" in turned.findings[0].where


def test_made_parts_and_scans_are_held_too():
    x, y = np.meshgrid(np.arange(-50, 151, 10.0), np.arange(-50, 151, 10.0))
    i = np.arange(x.size).reshape(x.shape)
    a, b, c, d = (k.ravel() for k in (i[:-1, :-1], i[:-1, 1:], i[1:, 1:], i[1:, :-1]))
    floor = Scan(
        name="floor",
        points=np.column_stack((x.ravel(), y.ravel(), 0 * x.ravel())),
        triangles=np.concatenate((np.column_stack((a, b, c)), np.column_stack((a, c, d)))),
    )
    over = tb.fit.clearance_of(PLATE, floor, at=frame_at((0, 0, 7.25)))
    assert over.least == pytest.approx(7.25)
    assert over.ok
    assert "from the body" in repr(over)
    assert "must keep" in over._repr_html_()
    below = tb.fit.clearance_of(PLATE, floor, at=frame_at((0, 0, -9)))
    assert below.least == pytest.approx(-7.5)
    assert "behind" in below.findings[0].what
    two = tb.assemble(tb.Assembly("HN-A1").add("p", PLATE.part, frame_at((0, 0, 4))), SHOP)
    assert tb.fit.clearance_of(two, floor, subject="tyre").least == pytest.approx(4.0)


@pytest.mark.full
def test_a_million_triangles_are_measured_in_seconds():
    import time

    n = 708
    x, y = np.meshgrid(np.linspace(0, 1000, n), np.linspace(0, 1000, n))
    rng = np.random.default_rng(0)
    points = np.column_stack((x.ravel(), y.ravel(), rng.normal(0, 0.3, x.size)))
    i = np.arange(x.size).reshape(x.shape)
    a, b, c, d = (k.ravel() for k in (i[:-1, :-1], i[:-1, 1:], i[1:, 1:], i[1:, :-1]))
    triangles = np.concatenate((np.column_stack((a, b, c)), np.column_stack((a, c, d))))
    nearest(tree_of(points, triangles[:9]), points[:9])  # compiled on the first call
    begun = time.process_time()
    tree = tree_of(points, triangles)
    nearest(tree, rng.uniform(0, 1000, (100_000, 3)) * (1, 1, 0.01))
    assert time.process_time() - begun < 4.0


@pytest.mark.parametrize(
    ("verb", "asked"),
    [
        ("clearance_of", {"subject": "ghost"}), ("clearance_of", {"keep": -1}), ("clearance_of", {"keep": "x"}), ("clearance_of", {"at": (0, 0, 0)}),
        ("clearance_of", {"thing": None}), ("clearance_of", {"body": "body.step"}), ("clearance_of", {"keep": float("nan")}),
        ("rocking", {"about": (0, 0, 0)}), ("rocking", {"about": ((0, 0, 0), (0, 0, 0))}), ("rocking", {"by": (3, -3)}), ("rocking", {"by": 3}),
        ("rocking", {"by": (-400, 0)}), ("rocking", {"shift": 3}), ("rocking", {"rubber": ((0, 0, 1), 0)}), ("rocking", {"rubber": 3}),
        ("rocking", {"rubber": (("4 mm", 0, 0), 80.0)}),
        ("way_out", {"path": []}), ("way_out", {"path": [("fly", 3)]}), ("way_out", {"path": [("move", (1, 2))]}), ("way_out", {"path": None}),
        ("way_out", {"path": [("move", (1e5, 0, 0))]}), ("way_out", {"path": [("turn", (0, 0, 0), (0, 0, 0), 3)]}),
    ],
)  # fmt: skip
def test_wrong_answers_are_named(verb, asked):
    plain = {"thing": PLATE, "body": PLATE, "at": frame_at((0, 0, 9))}
    if verb == "rocking":
        plain |= {"about": ((0, 0, 0), (1, 0, 0)), "by": (-1, 1)}
    if verb == "way_out":
        plain |= {"path": [("move", (0, 0, 5))]}
    with pytest.raises((BadValue, BadFile)):
        getattr(tb.fit, verb)(**{**plain, **asked})


# --- files, and movements that an assembly declares --------------------------------------------

LID = tb.Assembly("HN-P2").add("frame", PLATE.part).add("lid", PLATE.part, frame_at((0, 0, 10)))


def test_the_file_of_a_solid_stands_for_the_solid(tmp_path):
    """A block whose top lies at 30 mm, and the ball of 50 above it at 95.5: 15.5 mm, read from STEP."""
    file = tmp_path / "block for the lid.step"
    cq.exporters.export(cq.Workplane().box(200, 200, 60), str(file))
    found = tb.fit.clearance_of(moved(BALL, 3, 7, 95.5), file)
    assert found.least == pytest.approx(15.5, abs=CLOSE)
    file.write_bytes(file.read_bytes()[:900])
    with pytest.raises(BadFile):
        tb.fit.clearance_of(BALL, file)
    with pytest.raises(BadValue, match="read_scan"):
        tb.fit.clearance_of(BALL, tmp_path / "body.ply")
    with pytest.raises(BadFile):
        tb.fit.clearance_of(BALL, tmp_path / "nowhere.step")


def test_a_lid_is_held_along_its_movement():
    """A plate 60 long turned about its end by up to 90 degrees: its tip rises by 60 sin a, under a wall 70 mm up."""
    wall = cq.Workplane().box(400, 400, 20).translate((0, 0, 80 + 11.5))
    made = tb.assemble(LID.turning("lid opens", ["lid"], about=((0, 0, 10), (0, -1, 0)), by=(0, 90)), SHOP)
    found = tb.fit.moving_clearance(made, "lid opens", wall)
    # The wall's face lies at 81.5; the corner 60 along and 1.5 thick stands highest where its diagonal is upright.
    assert found.least == pytest.approx(81.5 - 10 - math.hypot(60, 1.5), abs=0.05)
    assert float(found.worst.split()[-2]) == pytest.approx(math.degrees(math.atan2(60, 1.5)), abs=1.0)
    assert found.between < 1.0
    slid = tb.assemble(LID.sliding("lid off", ["lid"], along=(0, 0, 1), by=(0, 80)), SHOP)
    low = cq.Workplane().box(400, 400, 20).translate((0, 0, 50))
    assert not tb.fit.moving_clearance(slid, "lid off", low).ok
    told = []
    tb.fit.moving_clearance(slid, "lid off", wall, progress=lambda share, word: told.append(share))
    assert told == sorted(told)
    assert len(told) > 30
    for asked in (
        (None, "lid off", wall),
        (slid, "nothing", wall),
        (slid, "lid off", slid),
        (slid, None, wall),
        (slid, "lid off", None),
    ):
        with pytest.raises(BadValue):
            tb.fit.moving_clearance(*asked)
