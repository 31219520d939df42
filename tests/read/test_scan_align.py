"""Scans laid on the vehicle, on each other and on parts: by points, by plane and line, by their surfaces."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

import tinbook as tb
from tinbook.errors import BadFile, BadValue
from tinbook.fit.surface import Surface, finer
from tinbook.read.scans.mesh import Scan
from tinbook.read.scans.practice import CLEAN, Flaws, practice_scan
from tinbook.read.scans.rigid import fit_targets, rigid_move
from tinbook.space import Frame, frame_at

SHOP = tb.Shop.demo()


def anywhere(rng, shift=500.0, turn=math.pi):
    m = Rotation.from_rotvec(rng.normal(size=3) / 3 * turn).as_matrix()
    return Frame(tuple(rng.uniform(-shift, shift, 3)), *map(tuple, m.T))


def grid(height, wide=200, step=4.0):
    """A mesh over z = height(x, y)."""
    x, y = np.meshgrid(np.arange(0, wide, step), np.arange(0, wide, step))
    i = np.arange(x.size).reshape(x.shape)
    a, b, c, d = (k.ravel() for k in (i[:-1, :-1], i[:-1, 1:], i[1:, 1:], i[1:, :-1]))
    points = np.column_stack((x.ravel(), y.ravel(), height(x.ravel(), y.ravel())))
    return Scan(
        name="drawn", points=points, triangles=np.concatenate((np.column_stack((a, b, c)), np.column_stack((a, c, d))))
    )


@pytest.mark.parametrize("seed", range(20))
def test_the_rigid_fit_is_that_of_another_library(seed):
    rng = np.random.default_rng(seed)
    a = rng.normal(size=(rng.integers(3, 12), 3)) * 300
    b = anywhere(rng).points(a) + rng.normal(size=a.shape) * 5
    turn, _ = Rotation.align_vectors(b - b.mean(axis=0), a - a.mean(axis=0))
    frame = rigid_move(a, b)
    assert np.abs(frame.axes.T - turn.as_matrix()).max() < 1e-7
    assert frame.points(a).mean(axis=0) == pytest.approx(b.mean(axis=0))


def test_a_mirror_image_is_never_the_answer():
    a = np.array([(0, 0, 0), (100, 0, 0), (0, 80, 0), (0, 0, 60.0)])
    frame = rigid_move(a, a * (1, 1, -1))
    assert np.linalg.det(frame.axes) == pytest.approx(1.0)


TARGETS = {"A": (0, 0, 0), "B": (1200, 0, 30), "C": (1150, 700, 0), "D": (-20, 720, 10), "E": (600, 350, 400)}


def test_named_targets_lay_a_scan_and_the_odd_one_is_named():
    rng = np.random.default_rng(1)
    at = anywhere(rng)
    scan = practice_scan(tb.Outline.rectangle(200, 150), lip=8, spacing=4, flaws=CLEAN, at=at.inverse())
    picks = {k: np.array(at.inverse()(*p)) + rng.normal(0, 0.5, 3) for k, p in TARGETS.items()}
    done = tb.read.align_by_targets(scan, picks, TARGETS, accuracy=0.5)
    assert np.abs(done.scan.points[:, 2]).max() < 3
    assert done.findings[0].code == "table.agree"
    picks["C"] = picks["C"] + (0, 9.0, 0)
    told = tb.read.align_by_targets(scan, picks, TARGETS, accuracy=0.5)
    assert told.findings[0].where == "point 'C'"
    three = {k: TARGETS[k] for k in "ABC"}
    assert fit_targets(three, TARGETS).findings[0].code == "table.unchecked"
    with pytest.raises(BadValue, match="one line"):
        fit_targets({"A": (0, 0, 0), "B": (1, 1, 1), "C": (500, 500, 500)}, TARGETS)


def test_plane_and_line_lay_a_scan_on_the_axes():
    at = frame_at((10, 20, 30), (0, 1, 0), (0, 0, 1))
    scan = practice_scan(tb.Outline.rectangle(200, 150), lip=8, spacing=4, flaws=CLEAN, at=at)
    done = tb.read.align_by_plane(
        scan, [at(0, 0), at(200, 0), at(200, 150), at(0, 150)], [at(0, 0), at(200, 0)], up=at.z
    )
    low, high = done.scan.points.min(axis=0), done.scan.points.max(axis=0)
    assert low == pytest.approx((-8, -8, 0), abs=4.0)
    assert high == pytest.approx((208, 158, 0), abs=4.0), "the lip ends within a spacing of 4 mm"
    assert done.worst == pytest.approx(0, abs=1e-9)


def test_a_scan_comes_to_rest_on_the_same_metal():
    """A hilly surface, half of it scanned again with scatter from a place some mm off: the move comes back."""

    def hills(x, y):
        return 15 * np.sin(x / 30) + 12 * np.cos(y / 25) + 0.02 * x

    whole = grid(hills)
    rng = np.random.default_rng(3)
    half = whole.part(whole.points[:, 0] < 110)
    noisy = Scan(name="again", points=half.points + rng.normal(0, 0.2, half.points.shape), triangles=half.triangles)
    off = anywhere(rng, shift=4, turn=0.06)
    done = tb.read.best_fit(noisy.moved(off), whole)
    # The move back, within what 1 400 points with 0.2 mm scatter place.
    assert (done.frame @ off).points(half.points) == pytest.approx(half.points, abs=0.1)
    assert done.kept > 0.6
    clean = tb.read.best_fit(half.moved(off), whole, share=1.0)
    assert clean.rms < 1e-3
    assert clean.scan.points == pytest.approx(half.points, abs=1e-2)


def test_a_scan_comes_to_rest_on_a_made_part():
    bent = tb.Part("HN-B1", sheet="DC01 1.5", base=tb.Outline.rectangle(120, 90)).fold("front", "up", leg=40)
    made = tb.make(bent.fold("left", "up", leg=30, angle=60), SHOP)
    p = made.preview
    rng = np.random.default_rng(5)
    scan = Scan(name="channel", points=p.positions.astype(float), triangles=p.triangles.astype(np.int64))
    fine = finer(Surface(scan.points, scan.triangles, np.full(len(scan.triangles), "a")), 6.0)
    scan = Scan(name="channel", points=fine.points, triangles=fine.triangles)
    off = anywhere(rng, shift=2, turn=0.02)
    done = tb.read.best_fit(scan.moved(off), made, share=0.9)
    assert done.scan.points == pytest.approx(scan.points, abs=0.05)


@pytest.mark.parametrize(
    ("surface", "word"),
    [
        (lambda x, y: 0 * x, "slide along|turn about"),
        (lambda x, y: 20 * np.sin(y / 20), r"slide along \(1\.00, 0\.00, 0\.00\)"),
        (lambda x, y: np.sqrt(np.maximum(400.0**2 - (x - 100) ** 2 - (y - 100) ** 2, 0)), "turn about|slide along"),
    ],
)
def test_a_geometry_that_leaves_a_direction_free_is_refused_with_its_name(surface, word):
    whole = grid(surface)
    with pytest.raises(BadFile, match=f"free to ({word})"):
        tb.read.best_fit(whole.moved(frame_at((0, 0, 0.5))), whole)


def test_scans_that_do_not_overlap_are_refused():
    whole = grid(lambda x, y: 15 * np.sin(x / 30) + 12 * np.cos(y / 25))
    with pytest.raises(BadFile, match="do not overlap"):
        tb.read.best_fit(whole.moved(frame_at((900, 0, 0))), whole)
    with pytest.raises(BadFile, match="do not overlap"):
        tb.read.best_fit(Scan(name="over", points=whole.points, triangles=whole.triangles[:, ::-1]), whole)


@pytest.mark.parametrize(
    ("verb", "asked"),
    [
        ("best_fit", {"share": 0.1}), ("best_fit", {"share": "most"}), ("best_fit", {"share": None}), ("best_fit", {"onto": None}),
        ("best_fit", {"scan": None}), ("align_by_plane", {"plane": [(0, 0, 0), (1, 0, 0), (2, 0, 0)]}), ("align_by_plane", {"plane": 3}),
        ("align_by_plane", {"line": [(0, 0, 0), (0, 0, 0)]}), ("align_by_plane", {"line": [(0, 0, 0)]}), ("align_by_plane", {"up": (0, 0, 0)}),
        ("align_by_targets", {"picks": {"A": (0, 0, 0)}}), ("align_by_targets", {"picks": {"Z": (0, 0, 0), "B": (1, 0, 0), "C": (0, 1, 0)}}),
        ("align_by_targets", {"picks": None}), ("align_by_targets", {"accuracy": 0}), ("align_by_targets", {"picks": {**TARGETS, "A": (0, float("nan"), 0)}}),
    ],
)  # fmt: skip
def test_wrong_answers_are_named(verb, asked):
    scan = practice_scan(tb.Outline.rectangle(60, 60), lip=8, spacing=4, flaws=Flaws(missing=0))
    plain = {
        "best_fit": {"scan": scan, "onto": scan},
        "align_by_plane": {"scan": scan, "plane": [(0, 0, 0), (1, 0, 0), (0, 1, 0)], "line": [(0, 0, 0), (9, 0, 0)]},
        "align_by_targets": {"scan": scan, "picks": TARGETS, "places": TARGETS},
    }[verb]
    with pytest.raises(BadValue):
        getattr(tb.read, verb)(**{**plain, **asked})
