"""Unfolding solids drawn here in plain CadQuery: every developed length is worked out by hand.

Expected values: a bend of angle a (radians), inside radius r in thickness t adds a (r + K t)
between its tangent lines (the definition of K); panels keep their size.
"""

from __future__ import annotations

import math

import bentstrip
import pytest

from tinbook.errors import BadValue, OutOfRange
from tinbook.read.step.load import load
from tinbook.read.step.unfold import unfold, unfold_each

cq = pytest.importorskip("cadquery")
K, T, WIDTH = 0.4, 1.5, 40.0


def length_of(steps: list[bentstrip.Step], t: float = T, k: float = K) -> float:
    """Developed length of a bent strip, by the definition of K."""
    return math.fsum(math.radians(abs(s[0])) * (s[1] + k * t) if isinstance(s, tuple) else s for s in steps)


SHAPES: dict[str, list[bentstrip.Step]] = {
    "angle": [50, (90, 2), 30],
    "channel": [30, (90, 2), 60, (90, 2), 30],
    "hat": [20, (-90, 2), 25, (90, 2), 40, (90, 2), 25, (-90, 2), 20],
    "zed": [30, (90, 2), 20, (-90, 2), 30],
    "joggle of 10 degrees": [60, (10, 1), 12, (-10, 1), 60],
    "mixed radii": [30, (90, 0.5), 40, (45, 6), 35, (-30, 1.5), 50],
    "open hem": [50, (180, 0.6), 12],
    "teardrop hem": [50, (200, 1.0), 12],
    "curl with a free end": [60, (270, 8)],
    "rolled to a large radius": [40, (60, 250), 40],
    "half pipe": [(180, 60)],
    "rolled pipe with a slit": [(350, 30)],
    "inside radius of 0.002": [40, (90, 0.002), 30],
    "inside radius 0, outside rounded": [40, (90, 0), 30],
    "shallow fold": [40, (3, 2), 30],
    "acute fold": [60, (150, 2), 40],
    "thirteen folds": [15, *[x for i in range(13) for x in ((90 if i % 4 < 2 else -90, 1.0), 15)]],
}


@pytest.mark.parametrize("name", SHAPES)
def test_developed_length(name: str) -> None:
    steps = SHAPES[name]
    flat = unfold(bentstrip.solid(cq, steps, T, WIDTH), bend=K)
    assert flat.thickness == pytest.approx(T, abs=1e-6)
    assert sorted(flat.size) == pytest.approx(sorted((length_of(steps), WIDTH)), abs=1e-5)
    assert flat.area == pytest.approx(length_of(steps) * WIDTH, rel=1e-7)
    assert len(flat.outer) == 4
    assert all(e.is_line for e in flat.outer)
    bends = sorted((abs(s[0]), s[1]) for s in steps if isinstance(s, tuple))
    assert sorted((f.angle, f.radius) for f in flat.folds) == [pytest.approx(b, abs=1e-5) for b in bends]
    assert all(f.length == pytest.approx(WIDTH, abs=1e-6) for f in flat.folds)
    assert [f.severity for f in flat.findings if f.code == "unfold.area"] == ["fine"]


def test_directions_are_told_from_the_up_side() -> None:
    flat = unfold(bentstrip.solid(cq, SHAPES["zed"], T, WIDTH), bend=K)
    assert sorted(f.direction for f in flat.folds) == ["down", "up"]
    channel = unfold(bentstrip.solid(cq, SHAPES["channel"], T, WIDTH), bend=K)
    assert {f.direction for f in channel.folds} == {"up"}


def test_fold_lines_stand_in_the_middle_of_their_strips() -> None:
    flat = unfold(bentstrip.solid(cq, [50, (90, 2), 30], T, WIDTH), bend=K)
    allowance = math.pi / 2 * (2 + K * T)
    (piece,) = flat.folds[0].pieces
    x = {round(p[0], 6) for p in piece}
    assert len(x) == 1
    long_, short = 50 + allowance / 2, 30 + allowance / 2
    assert x.pop() == pytest.approx(long_, abs=1e-5) or piece[0][0] == pytest.approx(short, abs=1e-5)
    assert flat.folds[0].allowance == pytest.approx(allowance)


def test_both_corners_sharp() -> None:
    """Outside legs 41.5 and 31.5: flat = inside lengths 40 + 30 and the strip (pi/2) K t."""
    plate = cq.Workplane().box(41.5, WIDTH, T, centered=False).union(cq.Workplane().box(T, WIDTH, 31.5, centered=False))
    flat = unfold(plate, bend=K)
    assert sorted(flat.size) == pytest.approx(sorted((70 + math.pi / 2 * K * T, WIDTH)), abs=1e-6)
    assert flat.folds[0].radius == 0.0
    assert flat.folds[0].angle == pytest.approx(90)
    assert len(flat.outer) == 4


def test_both_corners_sharp_in_both_senses() -> None:
    t = T
    points = [(0, 0), (30, 0), (30, 20), (60, 20), (60, 20 + t), (30 - t, 20 + t), (30 - t, t), (0, t)]
    zed = cq.Workplane().polyline(points).close().extrude(WIDTH)
    flat = unfold(zed, bend=K)
    # From inside corner to inside corner, and a strip of (pi/2) K t at each.
    expected = (30 - t) + (20 - t) + 30 + 2 * (math.pi / 2) * K * t
    assert sorted(flat.size) == pytest.approx(sorted((expected, WIDTH)), abs=1e-6)
    assert sorted(f.direction for f in flat.folds) == ["down", "up"]


@pytest.mark.parametrize("k", [0.0, 0.33, 0.5, 1.0])
def test_k_as_number(k: float) -> None:
    flat = unfold(bentstrip.solid(cq, [50, (90, 2), 30], T, WIDTH), bend=k)
    assert max(flat.size) == pytest.approx(80 + math.pi / 2 * (2 + k * T), abs=1e-6)


def test_k_from_function_and_table() -> None:
    solid = bentstrip.solid(cq, SHAPES["mixed radii"], T, WIDTH)
    seen = []

    def rule(angle: float, radius: float, t: float) -> float:
        seen.append((round(angle, 6), round(radius, 6), t))
        return 0.3 if radius < 1 else 0.45

    flat = unfold(solid, bend=rule)
    assert sorted(seen) == [(30, 1.5, T), (45, 6, T), (90, 0.5, T)]
    expected = 155 + math.radians(90) * (0.5 + 0.3 * T)
    expected += math.radians(45) * (6 + 0.45 * T) + math.radians(30) * (1.5 + 0.45 * T)
    assert max(flat.size) == pytest.approx(expected, abs=1e-5)

    table = {0.3: 0.36, 1.0: 0.42, 4.0: 0.48}
    ks = {f.radius: f.k for f in unfold(solid, bend=table).folds}
    assert ks[1.5] == pytest.approx(0.42)
    assert ks[0.5] == pytest.approx(0.36 + 0.06 * (0.5 / T - 0.3) / 0.7)
    with pytest.raises(OutOfRange, match="radius/thickness from 1 to 2"):
        unfold(solid, bend={1.0: 0.42, 2.0: 0.44})


@pytest.mark.parametrize(
    "bad", [-0.1, 1.2, "0.44", True, {}, {1: 2}, None, lambda a, r, t: "x", lambda a: 0.4, lambda a, r, t: 1 / 0]
)
def test_bad_bend_is_refused(bad: object) -> None:
    with pytest.raises(BadValue, match="bend"):
        unfold(bentstrip.solid(cq, [50, (90, 2), 30], T, WIDTH), bend=bad)  # type: ignore[arg-type]


def test_several_solids_by_name() -> None:
    angle, zed = (bentstrip.solid(cq, SHAPES[n], T, WIDTH) for n in ("angle", "zed"))
    block = cq.Workplane().box(30, 30, 30)
    both = cq.Assembly().add(angle, name="HN-BM-1").add(zed, name="HN-BM-2", loc=cq.Location((0, 0, 90)))
    both = both.add(block, name="chock").add(angle, name="HN-BM-3", loc=cq.Location((0, 99, 0)))
    with pytest.raises(BadValue, match="HN-BM-1, HN-BM-2, chock"):
        unfold(both, 0.44)
    assert unfold(both, 0.44, solid="HN-BM-2").name == "HN-BM-2"
    with pytest.raises(BadValue, match="one of: HN-BM-1"):
        unfold(both, 0.44, solid="HN-XX")
    every = {one.name: told for one, told in unfold_each(load(both), K)}
    assert list(every) == ["HN-BM-1", "HN-BM-2", "chock"]
    assert isinstance(every["chock"], Exception)
    assert "chock" in str(every["chock"])
    assert every["HN-BM-1"].count == 2  # type: ignore[union-attr]
