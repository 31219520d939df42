"""Flat drawings with every fault that suppliers send: each drawn here with ezdxf, its true shape known."""

from __future__ import annotations

import math
import random
from collections.abc import Callable
from pathlib import Path
from typing import Any

import ezdxf
import pytest
from dxfdrawn import Draw, box, codes, lines
from hypothesis import given
from hypothesis import strategies as st

from tinbook.errors import BadFile, BadValue
from tinbook.flatpattern import FlatPattern
from tinbook.plane.loops import Edge, Loop, slot
from tinbook.read.dxf.flat import read_dxf


def test_clean_drawing_needs_no_mending(read: Callable[..., FlatPattern]) -> None:
    def draw(doc: Any, space: Any) -> None:
        space.add_lwpolyline([(0, 0), (100, 0, 0, 0, 1.0), (100, 40), (0, 40)], close=True)
        space.add_circle((20, 20), 4)

    flat = read(draw, thickness="1.5 mm")
    assert flat.thickness == 1.5
    assert codes(flat) == set()
    assert flat.area == pytest.approx(100 * 40 + math.pi * 400 / 2 - math.pi * 16, rel=1e-12)
    assert flat.cuts[0].dia == pytest.approx(8)
    assert len(flat.outer) == 4
    assert math.isnan(read(draw).thickness)


def test_loose_ends_are_joined_and_said(read: Callable[..., FlatPattern]) -> None:
    def draw(doc: Any, space: Any) -> None:
        lines(space, (0, 0), (60, 0))
        lines(space, (60.03, 0.02), (60, 30))
        lines(space, (0, 30.04), (60, 30))
        lines(space, (0, 30), (0, 0.0))

    flat = read(draw)
    assert flat.area == pytest.approx(1800, abs=3)
    (said,) = [f for f in flat.findings if f.code == "dxf.joined"]
    assert "2 pair(s)" in said.what
    assert said.value == pytest.approx(0.04, abs=1e-6)
    assert "(60.0" in said.where
    with pytest.raises(BadFile, match="no closed contour; loose ends at"):
        read(draw, gap=0.01)


def test_short_edges_survive_joining(read: Callable[..., FlatPattern]) -> None:
    """An edge of 0.007 mm is shorter than the gap that may be joined, and is no gap."""

    def draw(doc: Any, space: Any) -> None:
        lines(space, (0, 0), (60, 0), (60, 30), (30.007, 30), (30, 30.007), (0, 30.007), (0, 0))

    flat = read(draw)
    assert len(flat.outer) == 6
    assert codes(flat) == set()


DOUBLED: dict[str, Draw] = {
    "line twice": lambda d, s: lines(s, (0, 0), (60, 0)),
    "line back": lambda d, s: lines(s, (60, 0), (0, 0)),
    "line back, level but for a bit": lambda d, s: lines(s, (60, 0), (0, 4e-15)),
    "line back, level but for a bit below": lambda d, s: lines(s, (60, 0), (0, -4e-15)),
    "part of a line": lambda d, s: lines(s, (10, 0), (35, 0)),
    "two overlapping parts": lambda d, s: (lines(s, (0, 0), (40, 0)), lines(s, (20, 0), (60, 0)))[0],
    "off by a hair": lambda d, s: lines(s, (0, 0.001), (60, 0.001)),
    "hole twice": lambda d, s: s.add_circle((20, 15), 5),
    "arc on a hole": lambda d, s: s.add_arc((20, 15), 5, 30, 200),
    "hole as two arcs": lambda d, s: (s.add_arc((20, 15), 5, 0, 180), s.add_arc((20, 15), 5, 180, 360))[0],
    "whole outline": lambda d, s: box(s, 0, 0, 60, 30),
}


@pytest.mark.parametrize("name", DOUBLED)
def test_doubled_strokes_are_drawn_once(name: str, read: Callable[..., FlatPattern]) -> None:
    def draw(doc: Any, space: Any) -> None:
        box(space, 0, 0, 60, 30)
        space.add_circle((20, 15), 5)
        DOUBLED[name](doc, space)

    flat = read(draw)
    assert flat.area == pytest.approx(1800 - math.pi * 25, rel=1e-4)
    assert len(flat.cuts) == 1
    assert flat.cuts[0].dia == pytest.approx(10, abs=1e-6)
    assert len(flat.outer) == 4
    assert "dxf.doubled" in codes(flat)


def furthest(loop: Loop, off: Callable[[float, float], float]) -> float:
    return max(abs(off(*e.at(i / 20))) for e in loop.edges for i in range(21))


@pytest.mark.parametrize("tol", [0.05, 0.02, 0.005])
def test_splines_and_ellipses_within_the_stated_tolerance(tol: float, read: Callable[..., FlatPattern]) -> None:
    def draw(doc: Any, space: Any) -> None:
        space.add_ellipse((0, 0), (50, 0), 0.6)
        # The rational quadratic spline of a circle, exactly: nine points of weight 1 and sqrt(1/2).
        w = math.sqrt(0.5)
        points = [(1, 0), (1, 1), (0, 1), (-1, 1), (-1, 0), (-1, -1), (0, -1), (1, -1), (1, 0)]
        space.add_rational_spline(
            [(10 * x, 10 * y) for x, y in points],
            weights=[1, w, 1, w, 1, w, 1, w, 1],
            degree=2,
            knots=[0, 0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 4],
        )

    flat = read(draw, tol=tol)

    def off_ellipse(x: float, y: float) -> float:
        # Distance to first order: the implicit function over the length of its gradient.
        f = (x / 50) ** 2 + (y / 30) ** 2 - 1
        return f / math.hypot(2 * x / 2500, 2 * y / 900)

    assert furthest(flat.outer, off_ellipse) < tol * 1.01
    assert all(not e.is_line for e in flat.outer)
    assert len(flat.outer) < 60
    assert furthest(flat.cuts[0].loop, lambda x, y: math.hypot(x, y) - 10) < tol
    assert flat.cuts[0].dia == pytest.approx(20, abs=2 * tol)
    assert {f.severity for f in flat.findings if f.code == "dxf.curves"} == {"fine"}


def test_splinters_become_arcs_and_polygons_stay(read: Callable[..., FlatPattern]) -> None:
    def ring(cx: float, cy: float, r: float, n: int) -> list[tuple[float, float]]:
        return [(cx + r * math.cos(math.tau * i / n), cy + r * math.sin(math.tau * i / n)) for i in range(n + 1)]

    def draw(doc: Any, space: Any) -> None:
        # Chords of 120 on radius 15 stand off by 15 (1 - cos 1.5 deg) = 0.005 mm.
        box(space, 0, 0, 200, 80)
        lines(space, *ring(40, 40, 15, 120))
        space.add_lwpolyline(ring(100, 40, 15, 120)[:-1], close=True)
        lines(space, *ring(160, 40, 15, 12))

    flat = read(draw)
    cuts = sorted(flat.cuts, key=lambda c: c.loop.box[0])
    assert [c.dia for c in cuts[:2]] == pytest.approx([30, 30], abs=0.02)
    assert len(cuts[2].loop) == 12
    assert all(e.is_line for e in cuts[2].loop)
    assert cuts[2].loop.area == pytest.approx(12 * 15 * 15 * math.sin(math.tau / 12) / 2, rel=1e-9)
    (said,) = [f for f in flat.findings if f.code == "dxf.splinters"]
    assert said.what.startswith("240 splinters")


def test_splintered_slot_keeps_its_straights(read: Callable[..., FlatPattern]) -> None:
    true = slot((50, 20), 60, 10)

    def draw(doc: Any, space: Any) -> None:
        box(space, 0, 0, 100, 40)
        points = [tuple(p) for p in true.chords(0.003)]
        space.add_lwpolyline(points, close=True)

    (cut,) = read(draw).cuts
    assert sum(e.is_line for e in cut.loop) == 2
    assert cut.loop.area == pytest.approx(true.area, rel=2e-3)
    assert max(e.length for e in cut.loop if e.is_line) == pytest.approx(50, abs=1e-6)


def test_crossing_and_several_and_nested(read: Callable[..., FlatPattern]) -> None:
    crossed = read(lambda d, s: (box(s, 0, 0, 100, 40), s.add_circle((100, 20), 10))[0])
    assert {f.severity for f in crossed.findings if f.code == "dxf.crossing"} == {"stop"}
    bow = read(lambda d, s: lines(s, (0, 0), (40, 20), (40, 0), (0, 30), (0, 0)))
    assert "dxf.crossing" in codes(bow)
    several = read(lambda d, s: (box(s, 0, 0, 50, 40), box(s, 60, 0, 30, 40))[0])
    assert {f.severity for f in several.findings if f.code == "dxf.several"} == {"stop"}
    assert several.area == pytest.approx(2000)
    nest = read(lambda d, s: (box(s, 0, 0, 90, 40), box(s, 10, 10, 60, 20), s.add_circle((40, 20), 4))[0])
    assert "dxf.nested" in codes(nest)
    assert nest.area == pytest.approx(3600 - 1200)


BROKEN: dict[str, tuple[bytes, str]] = {
    "empty": (b"", "empty"),
    "words": (b"what a nice bracket\n" * 40, "no SECTION"),
    "DWG": (b"AC1032" + bytes(400), "DWG"),
    "archive": (b"PK\x03\x04" + bytes(99), "ZIP"),
    "cut short": (b"  0\nSECTION\n  2\nENTITIES\n  0\nLINE\n 10\n1.0\n 20\n", "no lines|damaged"),
    "not pairs": (b"SECTION\nSECTION\nSECTION\nEOF\n", "damaged|no lines"),
}


@pytest.mark.parametrize("name", BROKEN)
def test_broken_file_says_what_is_wrong(name: str, tmp_path: Path) -> None:
    path = tmp_path / "case.dxf"
    path.write_bytes(BROKEN[name][0])
    with pytest.raises(BadFile, match=BROKEN[name][1]) as caught:
        read_dxf(path)
    assert "case.dxf" in str(caught.value)


def test_missing_file_and_bad_options(tmp_path: Path, read: Callable[..., FlatPattern]) -> None:
    with pytest.raises(BadFile, match="does not exist"):
        read_dxf(tmp_path / "none.dxf")
    with pytest.raises(BadFile, match="is a folder"):
        read_dxf(tmp_path)
    for options in ({"tol": 0}, {"gap": -1}, {"thickness": "16 ga"}, {"tol": "much"}):
        with pytest.raises(BadValue):
            read(lambda d, s: box(s, 0, 0, 3, 2), **options)
    with pytest.raises(BadFile, match=r"left out: .*TEXT"):
        read(lambda d, s: s.add_text("only words"))


@st.composite
def shapes(draw: st.DrawFn) -> Loop:
    """Star-shaped loops of lines and arcs round the origin."""
    n = draw(st.integers(3, 14))
    radii = [draw(st.floats(20, 60)) for _ in range(n)]
    points = [(r * math.cos(math.tau * i / n), r * math.sin(math.tau * i / n)) for i, r in enumerate(radii)]
    bulges = [draw(st.sampled_from((0.0, 0.0, 0.15, -0.15))) for _ in range(n)]
    return Loop(tuple(Edge(points[i], points[(i + 1) % n], bulges[i]) for i in range(n)))


@given(loop=shapes(), seed=st.integers(0, 10**6), loose=st.booleans(), twice=st.booleans())
def test_scattered_outline_comes_back(
    loop: Loop, seed: int, loose: bool, twice: bool, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """Any outline, drawn edge by edge in any order and sense, doubled, its ends off by up to 0.02 mm."""
    rng = random.Random(seed)
    doc = ezdxf.new("R2000")
    doc.header["$INSUNITS"] = 4
    space = doc.modelspace()
    run = [*loop.edges, *(loop.edges[: len(loop) // 2] if twice and not loose else ())]
    rng.shuffle(run)

    def shaken(p: tuple[float, float]) -> tuple[float, float]:
        return (p[0] + rng.uniform(-0.01, 0.01), p[1] + rng.uniform(-0.01, 0.01)) if loose else p

    for e in run:
        if e.is_line:
            ends = [shaken(e.start), shaken(e.end)]
            rng.shuffle(ends)
            space.add_line(*ends)
        else:
            a, b = (e.start, e.end) if e.bulge > 0 else (e.end, e.start)
            space.add_lwpolyline([(*shaken(a), 0, 0, abs(e.bulge)), shaken(b)])
    path = tmp_path_factory.mktemp("dxf") / "scattered.dxf"
    doc.saveas(path)
    flat = read_dxf(path)
    slack = 0.05 * loop.length if loose else 1e-6 * loop.length
    assert flat.area == pytest.approx(abs(loop.area), abs=slack)
    assert not flat.cuts
    assert not flat.marks
    joined = {f.code for f in flat.findings}
    assert ("dxf.joined" in joined) == loose


def test_foreign_flats(foreign: Path) -> None:
    """The flats beside the foreign parts: sizes and net areas of the folder's own table."""
    table = {
        "rover6__CENTRAL_BRAKET": (439.048, 58.048, 23403.5),
        "rover6__FRONT_REAR_SUPPORT": (439.048, 133.048, 32024.7),
        "laser4diy__cornerbracket": (120.0, 19.262, 2200.7),
        "laser4diy__lidchannel": (450.0, 39.803, 17767.2),
        "laser4diy__labyrinth": (205.524, 195.0, 40025.8),
        "laser4diy__chamber_sheet_left": (275.0, 117.524, 27575.7),
        "homelab-pdu__10in_Dual-Lid": (228.642, 197.5, 45090.7),
    }
    for name, (w, h, area) in table.items():
        flat = read_dxf(foreign / f"{name}.flat.dxf")
        assert sorted(flat.size) == pytest.approx(sorted((w, h)), abs=0.01)
        assert flat.area == pytest.approx(area, rel=2e-5)
        assert not [f for f in flat.findings if f.severity == "stop"]


@pytest.mark.parametrize(("version", "form"), [("R12", "asc"), ("R2000", "asc"), ("R2018", "asc"), ("R2010", "bin")])
def test_versions_and_binary_form(version: str, form: str, tmp_path: Path) -> None:
    doc = ezdxf.new(version)
    space = doc.modelspace()
    box(space, 0, 0, 60, 30)
    space.add_circle((20, 15), 5)
    space.add_polyline2d([(40, 10), (50, 10, 1.0), (50, 20), (40, 20)], format="xyb", close=True)
    path = tmp_path / "their.dxf"
    doc.saveas(path, fmt=form)
    flat = read_dxf(path, units="mm")
    assert flat.area == pytest.approx(1800 - math.pi * 25 - 100 - math.pi * 12.5)
    assert [c.dia for c in flat.cuts if c.dia] == pytest.approx([10])


def test_ends_that_only_nearly_share_an_arc(read: Callable[..., FlatPattern]) -> None:
    """Two thirds of a circle and an overlapping half, drawn with rounded numbers: one circle."""

    def draw(doc: Any, space: Any) -> None:
        box(space, 0, 0, 60, 30)
        space.add_arc((20.001, 15), 5.0005, 0, 240)
        space.add_arc((20, 15.001), 5, 180, 360.002)

    flat = read(draw)
    (cut,) = flat.cuts
    assert cut.loop.area == pytest.approx(math.pi * 25, rel=1e-3)
    assert cut.dia == pytest.approx(10, abs=0.01)
