"""The folded-back flat held against the solid: what is no sheet is refused or stopped, what is one is told how well.

Expected values: volumes and distances of simple shapes by their formulas, worked out beside each case.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import bentstrip
import pytest
from strangers import at_random

from tinbook.read.step import held as step_held
from tinbook.read.step import report as step_report
from tinbook.read.step.faces import explore
from tinbook.read.step.skins import skins
from tinbook.read.step.unfold import NotASheet, Unfolded, unfold

cq = pytest.importorskip("cadquery")
K = 0.44


def box(x: float, y: float, z: float, at: tuple[float, float, float] = (0, 0, 0)) -> Any:
    return cq.Workplane().box(x, y, z, centered=False).translate(at)


def disc(r: float, z: float, bore: float = 0.0) -> Any:
    made = cq.Workplane().circle(r)
    return (made.circle(bore) if bore else made).extrude(z)


def hexagon(across: float, z: float) -> Any:
    return cq.Workplane().polygon(6, across * 2 / math.sqrt(3)).extrude(z)


def profile(points: list[tuple[float, float]], z: float) -> Any:
    return cq.Workplane().polyline(points).close().extrude(z)


def revolved(points: list[tuple[float, float]]) -> Any:
    return cq.Workplane("XZ").polyline(points).close().revolve(360, (0, 0, 0), (0, 1, 0))


def gear(teeth: int = 16, r: float = 18, z: float = 8) -> Any:
    points = []
    for i in range(teeth):
        for part, radius in ((0, r - 4), (0.2, r - 2), (0.3, r), (0.5, r), (0.6, r - 2), (0.8, r - 4)):
            a = math.tau * (i + part) / teeth
            points.append((radius * math.cos(a), radius * math.sin(a)))
    return profile(points, z)


def knob() -> Any:
    grip = disc(15, 10).edges().fillet(2.5)
    for i in range(6):
        grip = grip.cut(disc(4, 10).translate((17, 0, 0)).rotate((0, 0, 0), (0, 0, 1), 60 * i))
    return grip.union(disc(7, -8)).cut(disc(3, -8))


def strip(steps: list[bentstrip.Step], t: float, wide: float) -> Any:
    return bentstrip.solid(cq, steps, t, wide)


def square_tube() -> Any:
    return cq.Workplane().rect(40, 40).rect(36, 36).extrude(120)


NO_SHEETS: dict[str, Callable[[], Any]] = {
    "socket screw": lambda: disc(5.5, 5.5).union(disc(3, -30)).cut(hexagon(5, 3).translate((0, 0, 2.5))),
    "countersunk screw": lambda: revolved([(0, 0), (6, 0), (3, -3.3), (3, -20), (0, -20)]),
    "hexagon bolt": lambda: hexagon(16, 6.4).union(disc(5, -40)),
    "hexagon nut": lambda: hexagon(13, 6.5).cut(disc(3.4, 6.5)),
    "slot nut": lambda: (
        profile([(-8, 0), (8, 0), (8, 2.5), (4, 6), (4, 7), (-4, 7), (-4, 6), (-8, 2.5)], 16).edges("|Z").fillet(0.3)
    ),
    "standoff": lambda: hexagon(7, 15).cut(disc(1.25, 15)),
    "flanged spacer": lambda: disc(5, 10).union(disc(8, 2)).cut(disc(2.6, 10)),
    "stepped shaft": lambda: disc(10, 40).union(disc(7, 30).translate((0, 0, 40))),
    "gear on a hub": lambda: gear().union(disc(10, 20)).cut(disc(4, 20)),
    "bevel gear": lambda: gear().intersect(revolved([(0, 0), (19, 0), (12, 8), (0, 8)])),
    "pulley": lambda: revolved([(5, 0), (25, 0), (25, 2), (20, 5), (25, 8), (25, 10), (5, 10)]),
    "knob": knob,
    "capped tube": lambda: square_tube().union(box(40, 40, 3, (-20, -20, -3))),
    "tee": lambda: box(100, 60, 3).union(box(100, 3, 40, (0, 28, 3))),
    "angle with a gusset": lambda: strip([60, (90, 2), 40], 2, 50).union(
        profile([(20, 2), (60, 2), (60, 35)], 4).translate((0, 0, 23))
    ),
    "rolled angle": lambda: profile([(0, 0), (60, 0), (60, 3), (5, 3), (5, 50), (0, 50)], 40),
    "milled pocket": lambda: box(100, 60, 20).cut(box(80, 40, 15, (10, 10, 5))),
    "bearing block": lambda: (
        box(60, 40, 30).union(box(100, 8, 30, (-20, 0, 0))).cut(disc(11, 30).translate((30, 22, 0)))
    ),
    "clamp collar": lambda: (
        disc(15, 9, 8)
        .cut(box(20, 2, 9, (5, -1, 0)))
        .cut(cq.Workplane("YZ").center(11, 4.5).circle(1.5).extrude(20, both=True))
    ),
    "hinge": lambda: (
        box(40, 30, 2)
        .union(cq.Workplane("XZ").center(0, 3).circle(3).circle(1.5).extrude(-30))
        .cut(cq.Workplane("XZ").center(0, 3).circle(1.5).extrude(-30))
    ),
    "pipe with a flange": lambda: disc(40, 6).union(disc(20, 40)).cut(disc(17, 40)),
    "channel with sloping flanges": lambda: profile(
        [(0, 0), (40, 0), (40, 3), (5, 6), (5, 54), (40, 57), (40, 60), (0, 60)], 100
    ),
    "wedge": lambda: profile([(0, 0), (80, 0), (80, 4), (0, 3)], 50),
}


@pytest.mark.parametrize("name", NO_SHEETS)
def test_what_is_no_sheet_is_refused_or_stopped(name: str) -> None:
    try:
        flat = unfold(NO_SHEETS[name](), bend=K)
    except NotASheet:
        return
    assert any(f.severity == "stop" for f in flat.findings), flat.findings


SHEETS: dict[str, Callable[[], Any]] = {
    "hat": lambda: strip([20, (-90, 2), 25, (90, 2), 40, (90, 2), 25, (-90, 2), 20], 1.5, 60),
    "zed of odd angles": lambda: strip([30, (35, 3), 25, (-120, 1), 30], 2, 40),
    "closed hem": lambda: strip([60, (180, 0.05), 12], 1, 40),
    "curl": lambda: strip([60, (270, 6)], 1, 40),
    "thick angle": lambda: strip([60, (90, 8), 50], 8, 60),
    "washer": lambda: disc(12, 2, 6.5),
    "thick plate": lambda: box(100, 80, 16).cut(disc(10, 16).translate((40, 40, 0))),
    "square tube": square_tube,
    "round tube": lambda: disc(30, 50, 28),
    "rolled cone": lambda: (
        cq.Workplane("XZ")
        .polyline([(20, 0), (40, 40), (41.6, 39.2), (21.6, -0.8)])
        .close()
        .revolve(150, (0, 0, 0), (0, 1, 0))
    ),
    "open box, all corners sharp": lambda: box(80, 50, 25).cut(box(77, 47, 25, (1.5, 1.5, 1.5))),
    "sharp outside, round inside": lambda: (
        profile([(0, 0), (50, 0), (50, 40), (48, 40), (48, 2), (0, 2)], 30)
        .edges(cq.selectors.NearestToPointSelector((48, 2, 15)))
        .fillet(2)
    ),
}


def of(flat: Unfolded, code: str) -> Any:
    (found,) = [f for f in flat.findings if f.code == code]
    return found


@pytest.mark.parametrize("name", SHEETS)
def test_sheet_folded_back_lies_on_its_solid(name: str) -> None:
    flat = unfold(SHEETS[name](), bend=K)
    said = of(flat, "unfold.refolded")
    assert said.severity == "fine"
    assert said.value <= said.limit == pytest.approx(0.02 + 0.01 * flat.thickness, abs=1e-4)
    assert not [f for f in flat.findings if f.severity == "stop"]


def test_forms_are_weighed() -> None:
    """Four square bosses of 10 x 10 x 8 and a pocket of 30 x 20 x 0.5: 4 * 800 - 300 mm³ beside the plate."""
    plate = box(120, 80, 2).cut(box(30, 20, 0.5, (45, 30, 1.5)))
    for x, y in ((20, 15), (90, 15), (20, 55), (90, 55)):
        plate = plate.union(box(10, 10, 8, (x, y, 2)))
    said = of(unfold(plate, 0.44), "unfold.area")
    assert said.severity == "caution"
    held = float(said.what.split("hold ")[1].split(" mm³")[0])
    assert held == pytest.approx(4 * 800 - 300, abs=1)
    left = float(said.what.split("mm³, ")[1].split(" %")[0])
    assert abs(left) < 0.02
    assert said.limit * 2 == pytest.approx(120 * 80 * 2 + 2900, rel=1e-6)


def test_metal_without_a_name_is_named_by_its_face() -> None:
    """A stop of 3 x 3 x 9 welded on the edge of a plate, half over it: its far corner is 9 up and 1.5 out."""
    flat = unfold(box(200, 100, 2).union(box(3, 3, 9, (50, -1.5, 2))), 0.44)
    said = of(flat, "unfold.refolded")
    assert said.severity == "stop"
    assert said.value == pytest.approx(math.hypot(9, 1.5), abs=1e-4)
    assert "plane" in said.where


def test_more_than_one_turn_is_no_bend() -> None:
    solid = strip([(350, 30)], 1.5, 40)
    body = explore(solid.val().wrapped)
    done = step_report.attempt(
        skins(body, 1.5), next(f.index for f in body.faces if f.kind == "cylinder"), lambda *_: K
    )
    back = step_held.held(done, None, [0.0] * len(body.faces))
    assert step_held.why_not(back, done, done.area, done.area, 1.0) == ""
    done.walk.regions[0] = replace(done.walk.regions[0], turn=(0.0, math.radians(540)))
    assert "540 degrees" in step_held.why_not(back, done, done.area, done.area, 1.0)


def test_a_plate_narrower_than_thick_is_a_block() -> None:
    """40 x 30 x 20: 2 A / P = 2 * 1200 / 140 = 17.1 mm wide on average."""
    said = of(unfold(box(40, 30, 20), 0.44), "unfold.block")
    assert said.severity == "stop"
    assert said.value == pytest.approx(2 * 1200 / 140 / 20, abs=1e-3)


@pytest.mark.parametrize(("lean", "stopped"), [(20, False), (40, False), (50, True)])
def test_a_leaning_cut_edge_ends_beside_the_flat_by_its_lean(lean: float, stopped: bool) -> None:
    """A plate of 2 mm whose ends lean the same way: both skins are 100 x 50, one moved by 2 tan(lean).

    Cut square along one skin, the other skin's metal ends that far beyond the flat. Up to the thickness (45 degrees)
    a cut edge may lean and is cautioned; further, the flat is stopped. The skins themselves lie on the flat.
    """
    off = 2 * math.tan(math.radians(lean))
    flat = unfold(profile([(0, 0), (100, 0), (100 + off, 2), (off, 2)], 50), K)
    found = of(flat, "unfold.refolded")
    assert flat.area == pytest.approx(100 * 50)
    assert of(flat, "unfold.square").severity == "caution"
    if stopped:
        assert (found.severity, found.value) == ("stop", pytest.approx(off, abs=1e-3))
        assert "this cut edge leans" in found.what
    else:
        assert found.severity == "fine"


def test_random_parts_cut_across_their_bends_are_not_stopped_for_a_leaning_edge() -> None:
    """Tools square on one leg cut the bend beside it at a slant, less than the sheet is thick; each once stopped the flat."""
    for seed in (7, 38, 47, 90):
        found = unfold(at_random(seed), bend=K)
        assert not found.findings.stops, seed
        assert of(found, "unfold.square").severity == "caution"
