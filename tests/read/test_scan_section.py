"""Sections of scanned surfaces along a plane: a tank that was drawn, a floor that bends, and what is no section."""

from __future__ import annotations

import math

import numpy as np
import pytest

import tinbook as tb
from tinbook.errors import BadFile, BadValue, TinbookError
from tinbook.read.scans.mesh import Scan
from tinbook.space import frame_at


def swept(profile, name, around=False, scatter=0.0, step=2.0, wide=40.0):
    """A mesh of a profile (x, z) carried along y, its triangles looking to the left of the profile's run."""
    y = np.arange(0, wide, step)
    points = np.array([(x, b, z) for x, z in profile for b in y])
    points += np.random.default_rng(7).normal(0, scatter or 1e-12, points.shape)
    i = np.arange(len(points)).reshape(len(profile), len(y))
    i = np.vstack((i, i[:1])) if around else i
    a, b, c, d = i[:-1, :-1], i[1:, :-1], i[1:, 1:], i[:-1, 1:]
    triangles = np.concatenate([np.stack(t, axis=-1).reshape(-1, 3) for t in ((a, b, c), (a, c, d))])
    return Scan(name=name, points=points, triangles=triangles)


def sampled(loop, step=2.0):
    return np.array([e.at(s) for e in loop.edges for s in np.arange(round(e.length / step)) / round(e.length / step)])


PLANE = frame_at((0, 20.3, 0), (1, 0, 0), (0, 0, 1))
X = np.arange(0, 500.1, 2)
SMALL = swept(
    np.column_stack((np.arange(0, 240.1, 4), np.interp(np.arange(0, 240.1, 4), [0, 100, 150, 240], [0, 0, 30, 30]))),
    "small floor", scatter=0.3, step=4, wide=24,
)  # fmt: skip
FLOOR = swept(np.column_stack((X, np.interp(X, [0, 200, 300, 500], [0, 0, 58, 58]))), "floor", scatter=0.3)


def test_a_tank_with_rounded_corners_is_lines_that_run_into_arcs():
    """400 by 300 mm, R 60: area 400 * 300 - (4 - pi) 60^2 = 116 909.7 mm2; run clockwise its faces look outward."""
    tank = tb.Outline.rectangle(400, 300).rounded(60)
    scan = swept(sampled(tank.loop)[::-1], "tank", around=True, scatter=0.2)
    found = tb.read.outline_from_section(scan, PLANE)
    assert [e.kind for e in found.fit.edges].count("arc") == 4
    assert [e.radius for e in found.fit.edges if e.radius] == pytest.approx([60] * 4, abs=0.5)
    assert found.area == pytest.approx(400 * 300 - (4 - math.pi) * 60**2, abs=0.1 * tank.loop.length)
    # Edges share their corners and run on without a kink.
    assert all(c.angle == pytest.approx(180, abs=1.0) for c in found.fit.corners)


def test_a_brace_follows_the_floor_and_is_closed_by_its_back():
    """A ramp of 58 in 100: 115.6 mm long, 30.1 degrees; the back 40 mm over the higher floor, square to the ends."""
    found = tb.read.outline_from_section(FLOOR, PLANE, depth=40)
    assert set(found.names) == {"body", "body 2", "body 3", "end", "back", "end 2"}
    assert found.names[0] == "body"
    assert [f.where for f in found.fit.findings.of("scan.drawn")] == ["end, back, end 2"]
    assert found.edge("body 2").length == pytest.approx(math.hypot(100, 58), abs=0.8)
    corner = next(c for c in found.fit.corners if c.name in ("body/body 2", "body 2/body"))
    assert abs(180 - corner.angle) == pytest.approx(math.degrees(math.atan2(58, 100)), abs=0.3)
    # The chord rises by 58 in 500, so the floor stands highest over it where the ramp ends, 58 * 200 / 500 = 23.2 mm
    # upright; an end is that, square to the chord, and 40 mm.
    high = 58 * 200 / 500 * math.cos(math.atan2(58, 500)) + 40
    assert [found.edge(n).length for n in ("end", "end 2")] == pytest.approx([high] * 2, abs=0.8)
    assert found.area > 0
    assert not found.findings.of("scan.gap")


def test_the_section_that_is_meant_is_taken_and_edges_have_the_picked_names():
    bit = swept(np.column_stack((np.arange(0, 60, 2.0) + 800, np.zeros(30))), "bit")
    both = Scan(
        name="both",
        points=np.concatenate((FLOOR.points, bit.points)),
        triangles=np.concatenate((FLOOR.triangles, bit.triangles + len(FLOOR.points))),
    )
    names = {"ledge": (400, 20, 58)}
    assert "ledge" in tb.read.outline_from_section(both, PLANE, depth=40, names=names).names
    small = tb.read.outline_from_section(both, PLANE, depth=40, at=(830, 20, 0))
    assert small.edge("body").length == pytest.approx(58, abs=0.5)


def test_it_tells_how_far_it_is_and_can_be_ended():
    told = []
    tb.read.outline_from_section(FLOOR, PLANE, depth=40, progress=lambda share, word: told.append((share, word)))
    assert [s for s, _ in told] == sorted(s for s, _ in told)
    assert len(told) >= 3

    def stop(share, word):
        raise KeyboardInterrupt(word)

    with pytest.raises(KeyboardInterrupt):
        tb.read.outline_from_section(FLOOR, PLANE, depth=40, progress=stop)


def test_a_shallow_brace_keeps_its_short_ends():
    """Ends of 8 mm on a flat floor, shorter than the shortest edge of the metal."""
    flat = swept(np.column_stack((np.arange(0, 200.1, 4), np.zeros(51))), "flat", step=4, wide=24)
    found = tb.read.outline_from_section(flat, frame_at((0, 10.3, 0), (1, 0, 0), (0, 0, 1)), depth=8)
    assert {n: found.edge(n).length for n in found.names} == pytest.approx(
        {"body": 200, "end": 8, "back": 200, "end 2": 8}, abs=1e-6
    )


def torn(seed):
    """A floor with what scanners' programs do to meshes: holes, triangles turned or mixed up, points that fell together."""
    rng = np.random.default_rng(seed)
    points, triangles = SMALL.points.copy(), SMALL.triangles.copy()
    some = rng.random(len(triangles)) < rng.uniform(0, 1)
    match seed % 6:
        case 0:
            triangles = triangles[some]
        case 1:
            triangles[some] = triangles[some][:, ::-1]
        case 2:
            points += rng.normal(0, rng.uniform(0.1, 40), points.shape)
        case 3:
            points[rng.random(len(points)) < 0.3] = points[0]
        case 4:
            triangles = rng.integers(0, len(points), triangles.shape)
        case 5:
            points = np.round(points / rng.uniform(1, 30)) * 10
    return Scan(name=f"torn {seed}", points=points, triangles=triangles)


def read_or_refused(seeds):
    for seed in seeds:
        try:
            tb.read.outline_from_section(
                torn(seed),
                frame_at((0, 10.3, 5), (1, 0, 0.02), (0, 1, 0) if seed % 4 == 3 else (-0.02, 0, 1)),
                depth=1 + seed,
            )
        except TinbookError:
            continue


def test_torn_meshes_are_read_or_refused():
    read_or_refused(range(6))


@pytest.mark.full
def test_many_torn_meshes_are_read_or_refused():
    read_or_refused(range(6, 400))


@pytest.mark.parametrize(
    "asked",
    [
        {"depth": None}, {"depth": 0}, {"depth": "deep"}, {"depth": -3}, {"depth": float("nan")}, {"plane": None}, {"plane": (0, 0, 1)},
        {"scan": None}, {"scan": "floor.ply"}, {"tol": 0}, {"tol": None}, {"at": (1, 2)}, {"names": {"a": 3}}, {"names": 4}, {"shortest": -1},
        {"progress": 3}, {"scan": Scan(name="cloud", points=FLOOR.points, triangles=FLOOR.triangles[:0])},
    ],
)  # fmt: skip
def test_wrong_answers_are_named(asked):
    with pytest.raises(BadValue):
        tb.read.outline_from_section(**{"scan": FLOOR, "plane": PLANE, "depth": 40, **asked})


def test_a_plane_that_misses_or_grazes_is_named():
    with pytest.raises(BadFile, match="plane"):
        tb.read.outline_from_section(FLOOR, frame_at((0, 900, 0), (1, 0, 0), (0, 0, 1)), depth=40)
    with pytest.raises(BadFile):
        tb.read.outline_from_section(FLOOR, frame_at((0, 0, 1e6), (1, 0, 0), (0, 1, 0)), depth=40)
