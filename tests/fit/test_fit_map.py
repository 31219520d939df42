"""A made part against a scan: gaps with exact answers, laps, verdicts, and the outline that cures it."""

from __future__ import annotations

import base64
import io
import math
import re
from dataclasses import replace

import cadquery as cq
import numpy as np
import pytest
from PIL import Image

import tinbook as tb
from tinbook import progress
from tinbook.errors import BadValue, TinbookError
from tinbook.fit.gap_picture import BANDS
from tinbook.making.solid import bodies, mesh
from tinbook.read.scans import raw
from tinbook.read.scans.mesh import Scan
from tinbook.read.scans.practice import CLEAN, Flaws, practice_scan
from tinbook.space import SPACE, frame_at

SHOP = tb.Shop.demo()
EXACT = 0.02
"""mm: what a gap may be off beside the chords of the mesh."""

OPENING = tb.Outline.polygon([(0, 0), (400, 0), (400, 250), (0, 260)], ("tunnel", "front", "sill", "rear"))
PICKS = {"tunnel": (200, 0, 0), "front": (400, 125, 0), "sill": (200, 255, 0), "rear": (0, 130, 0)}


def grid(point, rows, columns):
    """A mesh over a function of two shares from 0 to 1."""
    u, v = np.meshgrid(np.linspace(0, 1, rows + 1), np.linspace(0, 1, columns + 1), indexing="ij")
    i = np.arange(u.size).reshape(u.shape)
    a, b, c, d = (k.ravel() for k in (i[:-1, :-1], i[1:, :-1], i[1:, 1:], i[:-1, 1:]))
    points = np.column_stack(point(u.ravel(), v.ravel()))
    return Scan(
        name="drawn", points=points, triangles=np.concatenate((np.column_stack((a, b, c)), np.column_stack((a, c, d))))
    )


def part(base, number="HN-F1"):
    return tb.make(tb.Part(number, sheet="DC01 1.5", base=base), SHOP)


PLATE = part(tb.Outline.rectangle(60, 40))
"""60 by 40 mm, its down face at z = 0, its up face at 1.5."""


def held(scan, at):
    """Middles of the map's triangles and their gaps, of those that lie opposite."""
    m = tb.fit.fit_map(PLATE, scan, at=at)
    there = ~np.isnan(m.gaps)
    assert there.mean() > 0.3
    return m.surface.middles[there], m.gaps[there]


def test_the_gap_over_a_plane_is_the_height():
    floor = grid(lambda u, v: (200 * u - 50, 200 * v - 50, 0 * u), 10, 10)
    middles, gaps = held(floor, frame_at((10, 20, 2.0)))
    assert gaps == pytest.approx(middles[:, 2], abs=1e-9)
    tilt = math.radians(3)
    middles, gaps = held(floor, frame_at((10, 20, 1.0), (math.cos(tilt), 0, math.sin(tilt)), (0, 1, 0)))
    assert gaps == pytest.approx(middles[:, 2], abs=1e-9)
    middles, gaps = held(floor, frame_at((10, 20, -0.7)))
    assert gaps == pytest.approx(middles[:, 2], abs=1e-9), "below the floor it is negative"


def test_the_gap_over_a_cylinder_a_ball_and_a_cone_is_the_exact_distance():
    """Cylinder: hypot(y, z) - R. Ball: |p| - R. Cone of half angle a: distance to a straight flank."""
    r, n = 120.0, 400
    chord = r * (1 - math.cos(math.pi / 2 / n))

    def turned(u):
        return r * np.sin((u - 0.5) * math.pi), r * np.cos((u - 0.5) * math.pi)

    tube = grid(lambda u, v: (300 * v - 100, *turned(1 - u)), n, 4)
    p, gaps = held(tube, frame_at((0, -20, r + 0.8)))
    assert gaps == pytest.approx(np.hypot(p[:, 1], p[:, 2]) - r, abs=EXACT + chord)

    def ball(u, v):
        a, b = (u - 0.5) * 1.6, (v - 0.5) * 1.6
        return r * np.sin(a), r * np.cos(a) * np.sin(b), r * np.cos(a) * np.cos(b)

    p, gaps = held(grid(ball, 300, 300), frame_at((-30, -20, r + 0.5)))
    assert gaps == pytest.approx(np.linalg.norm(p, axis=1) - r, abs=EXACT + chord)
    slope = math.radians(20)

    def cone(u, v):  # its axis along x, its radius growing with x
        x, a = 100 + 200 * v, (0.5 - u) * math.pi
        return x, x * math.tan(slope) * np.sin(a), x * math.tan(slope) * np.cos(a)

    at = frame_at((150, -20, 150 * math.tan(slope) + 0.6), (math.cos(slope), 0, math.sin(slope)), (0, 1, 0))
    p, gaps = held(grid(cone, 500, 4), at)
    true = np.hypot(p[:, 1], p[:, 2]) * math.cos(slope) - p[:, 0] * math.sin(slope)
    assert gaps == pytest.approx(true, abs=EXACT + 0.01)


@pytest.fixture(scope="module")
def scanned():
    at = frame_at((100, 200, 300), (1, 0, 0), (0, 0.8, 0.6))
    scan = practice_scan(OPENING, lip=30, spacing=1.5, flaws=Flaws(dent=0.0, fold=False), seed=3, at=at)
    names = {k: at(*p) for k, p in PICKS.items()}
    return at, scan, tb.read.outline_from_scan(scan, names=names)


def test_a_pan_from_the_scan_lies_within_half_a_millimetre_of_the_true_rim(scanned):
    """The demo: an opening from a scan, offset by its lap, against the true rim offset by the same lap."""
    at, scan, opening = scanned
    base = opening.offset({"tunnel": "-1.5 mm"}, others="+20 mm")
    pan = tb.make(tb.Part("HN-FP-L", sheet="DC01 1.5", base=base).fold("tunnel", "up", leg="40 mm"), SHOP)
    true = OPENING.offset({"tunnel": -1.5}, others=20)
    back = at.inverse()
    for name in ("front", "sill", "rear"):
        e, t = base.edge(name), true.edge(name)
        n = np.array((t.direction()[1], -t.direction()[0]))
        for s in np.linspace(0, 1, 25):
            p = np.array(back(*opening.fit.frame(*e.at(s)))[:2])
            assert abs(float((p - t.start) @ n)) < 0.5, name
    m = tb.fit.fit_map(pan, scan, opening=opening)
    assert m.ok
    for name in ("front", "sill", "rear"):
        e = next(g for g in m.edges if g.name == name)
        assert e.lap_least == pytest.approx(20, abs=0.1)
        assert abs(e.mean) < 0.1, "the scatter of 0.3 mm is averaged out"
        assert e.covered > 0.85
    assert "not known" in str(m.findings.of("fit.unknown")), "the tunnel's side was not scanned"
    assert m.scatter == pytest.approx(0.3, rel=0.2)
    assert not m.changes


def test_too_little_lap_a_standing_gap_and_metal_in_metal_are_told_and_cured(scanned):
    _, scan, opening = scanned
    base = opening.offset({"rear": "+8 mm"}, others="+20 mm")
    short = part(base, "HN-FP-X")
    m = tb.fit.fit_map(short, scan, opening=opening)
    assert not m.ok
    assert [f.where for f in m.findings.stops] == ["edge 'rear'"]
    assert m.changes == {"rear": pytest.approx(7.0, abs=0.2)}
    new = m.cured("HN-FP-Y")
    assert new.number == "HN-FP-Y"
    assert m.made.part.base is short.part.base, "the old part stays"
    assert tb.fit.fit_map(tb.make(new, SHOP), scan, opening=opening).ok
    assert "stroke-dasharray" in m.old_and_new
    up = tb.fit.fit_map(part(opening.offset(20)), scan, opening=opening, at=opening.fit.frame.at(0, 0, 1.2))
    assert {f.code for f in up.findings.stops} == {"fit.gap"}
    assert all(e.mean == pytest.approx(1.2, abs=0.1) for e in up.edges)
    down = tb.fit.fit_map(part(opening.offset(20)), scan, opening=opening, at=opening.fit.frame.at(0, 0, -1.2))
    assert all("runs into" in f.what for f in down.findings.stops)
    loose = tb.fit.fit_map(
        part(opening.offset(20)),
        scan,
        at=opening.fit.frame.at(0, 0, 1.5),
        uses=dict.fromkeys(opening.names, "sealed edge"),
    )
    assert {f.code for f in loose.findings.stops} <= {"fit.lap"}, "a patch that the scanner missed shortens the lap"
    assert all(e.lap_mean == pytest.approx(20, abs=5) for e in loose.edges), "patches that were missed shorten it"


def test_a_folded_leg_keeps_its_clearance_from_a_wall_and_is_moved_where_it_does_not():
    """A wall at y = -1: a leg whose outer face stands at y = 0 clears it by 1; at y = -0.6, by 0.4."""
    floor = practice_scan(OPENING, lip=30, spacing=4, flaws=CLEAN)
    n = len(floor.points)
    wall = grid(lambda u, v: (500 * u - 50, 0 * u - 1.0, 80 * v - 10), 50, 12)
    triangles = np.concatenate((floor.triangles, wall.triangles[:, ::-1] + n))
    scan = Scan(name="tunnel", points=np.concatenate((floor.points, wall.points)), triangles=triangles)
    for clear, change in ((1.0, None), (0.4, -0.6)):
        base = OPENING.offset({"tunnel": 1.0 - clear}, others=20)
        pan = tb.make(tb.Part("HN-FP-L", sheet="DC01 1.5", base=base).fold("tunnel", "up", leg=40), SHOP)
        m = tb.fit.fit_map(pan, scan, at=frame_at())
        tunnel = next(e for e in m.edges if e.name == "tunnel")
        assert tunnel.folded
        assert tunnel.least == pytest.approx(clear, abs=EXACT)
        assert m.changes.get("tunnel") == (None if change is None else pytest.approx(change))


def test_an_assembly_and_an_opening_by_tape_can_be_held_too(scanned):
    _, scan, opening = scanned
    two = (
        tb.Assembly("HN-A1")
        .add("low", PLATE.part, frame_at((20, -18, 1)))
        .add("high", PLATE.part, frame_at((90, -18, 4)))
    )
    both = tb.fit.fit_map(tb.assemble(two, SHOP), practice_scan(OPENING, lip=30, spacing=4, flaws=CLEAN), at=frame_at())
    assert np.nanmin(both.gaps[both.surface.names == "low"]) == pytest.approx(1.0, abs=EXACT)
    assert np.nanmin(both.gaps[both.surface.names == "high"]) == pytest.approx(4.0, abs=EXACT)
    assert both.ok
    assert [f.severity for f in both.findings] == ["fine", "fine"]
    assert all(f.what in both._repr_html_() for f in both.findings)  # it has no edges, so no table to stand below
    floor = practice_scan(OPENING, lip=30, spacing=4, flaws=CLEAN)
    away = tb.fit.fit_map(tb.assemble(two.add("away", PLATE.part, frame_at((20, -18, 99))), SHOP), floor, at=frame_at())
    assert [f.where for f in away.findings.of("fit.nothing")] == ["HN-A1, away"]
    assert "unknown in 1 of 3 places" in repr(away)
    low = tb.fit.fit_map(tb.assemble(two, SHOP), floor, at=frame_at((0, 0, -2)))
    assert [f.where.partition(",")[2][:5] for f in low.findings.stops] == [" low,"]
    with pytest.raises(BadValue, match="one part"):
        both.cured()
    with pytest.raises(BadValue, match="assembly"):
        tb.fit.fit_map(tb.assemble(two, SHOP), scan, at=opening.fit.frame, uses={"rear": "loose"})
    taped = tb.fit.fit_map(part(OPENING.offset({"sill": 4}, others=20)), OPENING)
    assert {e.name: round(e.lap_least) for e in taped.edges} == {"tunnel": 20, "front": 20, "sill": 4, "rear": 20}
    assert [f.code for f in taped.findings.stops] == ["fit.lap"]
    points = tb.fit.fit_map(part(opening.offset(20)), opening)
    assert all(abs(e.mean) < 0.2 for e in points.edges)


def test_the_picture_has_a_legend_and_the_same_bytes(scanned):
    _, scan, opening = scanned
    made = part(opening.offset(20))
    one, two = (tb.fit.fit_map(made, scan, opening=opening) for _ in range(2))
    assert str(one.picture()) == str(two.picture())
    assert f"over {BANDS[-1]:g}" in str(one.picture(corner=False))
    data = re.search(r'base64,([^"]+)"', str(one.picture()))
    image = Image.open(io.BytesIO(base64.b64decode(data[1]))).convert("RGBA")
    assert image.getpixel((0, 0))[3] == 0  # the page shows through beside the part
    assert image.getpixel((image.width // 2, image.height // 2))[3] == 255
    assert len(one.surface.triangles) <= 150_000
    assert "lap least" in one._repr_html_()


def test_triangles_are_as_far_from_a_solid_as_the_kernel_says():
    """The least gap to a block's mesh, against the kernel's own distance of the two solids."""
    block = cq.Workplane().box(80, 60, 20).edges("|Z").fillet(9).faces(">Z").workplane().sphere(14).val()
    mesh.triangulate(block, 0.005, 4.0)
    points, triangles = mesh.triangles(block)
    at = frame_at((30, -30, 40), (0.8, 0, 0.6), (0, 1, 0))
    m = tb.fit.fit_map(PLATE, Scan(name="block", points=points, triangles=triangles.astype(np.int64)), at=at)
    gap = bodies.gap(bodies.placed(PLATE.solid.wrapped, at.values), block.wrapped)
    assert np.nanmin(m.gaps) >= gap - EXACT


@pytest.mark.parametrize(
    "asked",
    [
        {"at": None}, {"at": (0, 0, 0)}, {"uses": {"nowhere": "loose"}}, {"uses": {"front": "glued"}}, {"face": "side"}, {"opening": OPENING},
        {"at": frame_at((9999, 0, 0))}, {"against": None}, {"against": "scan.ply"}, {"made": PLATE.part}, {"made": None}, {"uses": 3},
    ],
)  # fmt: skip
def test_wrong_answers_are_named(asked):
    scan = practice_scan(tb.Outline.rectangle(100, 80), lip=10, spacing=4, flaws=CLEAN)
    with pytest.raises(TinbookError):
        tb.fit.fit_map(**{"made": PLATE, "against": scan, "at": frame_at((0, 0, 1)), **asked})
    with pytest.raises(BadValue):
        tb.fit.limits_of(gap=-1)


@pytest.mark.full
def test_a_million_triangles_are_read_laid_and_mapped_in_eight_seconds(tmp_path):
    """CPU seconds, and their growth from 50 000 triangles on: n log n would be 25 times as long."""
    import time

    pan = part(tb.Outline.rectangle(800, 400))
    targets = {"A": (0, 0, 0), "B": (500, 0, 0), "C": (0, 300, 0), "D": (400, 300, 50)}
    took = []
    for n in (160, 160, 710):  # compiled on the first call
        rng = np.random.default_rng(n)
        floor = grid(lambda u, v: (1000 * u - 100, 600 * v - 100, 8 * np.cos(7 * u) * np.sin(9 * v)), n, n)
        rough = Scan(
            name="floor", points=floor.points + rng.normal(0, 0.2, floor.points.shape), triangles=floor.triangles
        )
        file = tb.write.write_scan(rough, tmp_path / "floor.ply")
        begun = time.process_time()
        laid = tb.read.align_by_targets(tb.read_scan(file, face="mating", unit="mm"), targets, targets)
        tb.fit.fit_map(pan, laid.scan, at=frame_at((0, 0, 9)))
        took.append(time.process_time() - begun)
    assert took[2] < 8.0
    assert took[2] / took[1] < 25.0


def long_steps(tmp_path):
    """Each long step as a function of what is told; every call begins with a scan that remembers nothing."""
    true = tb.Outline.rectangle(120, 80)
    lip = practice_scan(true, lip=24, spacing=4, flaws=Flaws(scatter=0.1, outliers=0.0, missing=0.0))
    corners = lip.points[lip.triangles].tolist()
    files = [tb.write.write_scan(lip, tmp_path / "lip.ply"), tmp_path / "lip.stl", tmp_path / "lip.obj"]
    facets = ("facet\n" + "".join(f"vertex {x} {y} {z}\n" for x, y, z in c) for c in corners)
    files[1].write_text("solid lip\n" + "".join(facets) + "endsolid\n")
    rows = [f"v {x} {y} {z}" for x, y, z in lip.points] + [f"f {a} {b} {c}" for a, b, c in lip.triangles + 1]
    files[2].write_text("\n".join(rows))
    made = part(true.offset(15), "HN-M9")
    waves = grid(lambda u, v: (90 * u, 90 * v, 9 * np.cos(7 * u) * np.sin(9 * v)), 20, 20)
    return {
        **{f.suffix: lambda tell, f=f: tb.read_scan(f, face="far", sheet=1, unit="mm", progress=tell) for f in files},
        "laid": lambda tell: tb.read.best_fit(replace(waves), waves.moved(frame_at((0, 0, 0.2))), progress=tell),
        "rim": lambda tell: tb.read.outline_from_scan(replace(lip), progress=tell),
        "map": lambda tell: tb.fit.fit_map(made, replace(lip), at=SPACE, progress=tell),
        "rocking": lambda tell: tb.fit.rocking(
            made, waves, about=((0, 0, 0), (1, 0, 0)), by=(0, 4), at=frame_at((0, 0, 40)), progress=tell
        ),
    }


def test_each_long_step_tells_how_far_it_is_and_can_be_ended_within(tmp_path, monkeypatch):
    """With portions of 200 rows and 2 000 bytes: every portion is a place to end, and what is left is as it was."""
    monkeypatch.setattr(progress, "AT_ONCE", 200)
    monkeypatch.setattr(raw, "CHUNK", 2000)
    least = {".ply": 6, ".stl": 20, ".obj": 20, "laid": 40, "rim": 9, "map": 30, "rocking": 9}
    for name, step in long_steps(tmp_path).items():
        told = []
        whole = step(lambda share, word, told=told: told.append((share, word)))
        shares = [s for s, _ in told]
        assert shares == sorted(shares), name
        assert 0 <= shares[0] <= shares[-1] <= 1, name
        assert len(told) >= least[name], name
        before = sorted(tmp_path.iterdir())
        for last in range(0, len(told), max(1, len(told) // 3)):
            left = iter(range(last))

            def end(share, word, left=left):
                if next(left, None) is None:
                    raise InterruptedError(word)

            with pytest.raises(InterruptedError, match=re.escape(told[last][1])):
                step(end)
        assert sorted(tmp_path.iterdir()) == before
        assert repr(step(None)) == repr(whole), name
        with pytest.raises(BadValue, match="progress"):
            step("often")


def test_a_step_that_was_ended_leaves_nothing_half_done_in_the_scan():
    scan = practice_scan(tb.Outline.rectangle(120, 80), lip=24, spacing=4, seed=5)

    def at_the_scatter(share, word):
        if word.startswith("the surface without"):
            raise InterruptedError

    with pytest.raises(InterruptedError):
        tb.fit.fit_map(PLATE, scan, at=SPACE, progress=at_the_scatter)
    ended, fresh = (tb.fit.fit_map(PLATE, s, at=SPACE) for s in (scan, replace(scan)))
    assert np.array_equal(ended.gaps, fresh.gaps, equal_nan=True)
