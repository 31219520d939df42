"""Sheets drawn without reliefs, and openings cut flush with a wall: the flats are worked out by hand.

Expected values: a bend of 90 degrees, inside radius r in thickness t, adds (pi/2)(r + K t) between its tangent
lines (the definition of K); panels and openings keep their size.
"""

from __future__ import annotations

import math
from typing import Any

import bentstrip
import pytest

from tinbook.read.step.unfold import Unfolded, unfold

cq = pytest.importorskip("cadquery")
K = 0.44


def torn_angle(t: float, r: float, inset: float, gap: float = 0.0) -> Any:
    """A base of 100 x 60 whose flange (x 30..70, 30 high) bends where the base's edge stands `inset` before its tangent line."""
    base = cq.Workplane().box(100, 60, t, centered=False)
    base = base.cut(cq.Workplane().box(40 + 2 * gap, inset, t, centered=False).translate((30 - gap, 0, 0)))
    flange = bentstrip.solid(cq, [5.0, (90.0, r), 30.0], t, 40.0)
    # The strip's profile runs along -y and rises along z.
    place = cq.Location(cq.Plane(origin=(70, inset + 5.0, 0), xDir=(0, -1, 0), normal=(-1, 0, 0)))
    return base.union(cq.Workplane(flange.val().moved(place)))


def slits(flat: Unfolded) -> list[Any]:
    return [f for f in flat.findings if f.code == "unfold.slit"]


@pytest.mark.parametrize(("t", "r", "inset"), [(1, 1, 2), (1, 1, 0.5), (2, 2, 4), (1.5, 0.1, 1.6), (1, 1, 12)])
def test_fold_without_relief_is_a_slit(t: float, r: float, inset: float) -> None:
    solid = torn_angle(t, r, inset)
    assert solid.solids().size() == 1
    flat = unfold(solid, bend=K)
    bend = math.pi / 2 * (r + K * t)
    assert sorted(flat.size) == pytest.approx(sorted((100, 60 - inset + bend + 30)), abs=1e-6)
    assert flat.area == pytest.approx(100 * 60 + 40 * (bend + 30 - inset), rel=1e-9)
    assert not [f for f in flat.findings if f.severity == "stop"]
    left, right = slits(flat)
    for said in (left, right):
        assert said.severity == "caution"
        assert f"{inset:.2f} mm long" in said.what
        assert "relief" in said.remedy
    # Both sides of each slit are drawn: the outline runs in along the base's notch and out along the flange.
    assert len(flat.outer) == 10
    assert sum(abs(e.length - inset) < 1e-6 for e in flat.outer) == 2
    assert sum(abs(e.length - bend - 30) < 1e-6 for e in flat.outer) == 2


def test_relief_needs_no_slit() -> None:
    flat = unfold(torn_angle(1, 1, 2, gap=1.0), bend=K)
    assert not slits(flat)
    assert flat.area == pytest.approx(100 * 60 + 40 * (math.pi / 2 * 1.44 + 30 - 2) - 2 * 2, rel=1e-9)


def test_tab_torn_out_of_a_panel_is_an_opening_without_width() -> None:
    """The tab's development fills the window it came from: a slit on three sides, the area of the whole panel."""
    t, r, leg, wide = 1.0, 1.0, 10.0, 20.0
    long_ = leg + math.pi / 2 * (r + K * t)
    base = cq.Workplane().box(80, 60, t, centered=False)
    base = base.cut(cq.Workplane().box(wide, long_, t, centered=False).translate((30, 20, 0)))
    tab = bentstrip.solid(cq, [5.0, (90.0, r), leg], t, wide)
    tab = tab.rotate((0, 0, 0), (1, 0, 0), 90).rotate((0, 0, 0), (0, 0, 1), 90)
    box = tab.val().BoundingBox()
    flat = unfold(base.union(tab.translate((30 - box.xmin, 15 - box.ymin, 0))), bend=K)
    assert flat.area == pytest.approx(80 * 60, rel=1e-9)
    (cut,) = flat.cuts
    assert cut.loop.length == pytest.approx(2 * (wide + 2 * long_), rel=1e-6)
    assert len(slits(flat)) == 2
    assert not flat.marks


def channel_with_windows(t: float, r: float, wide: int) -> Any:
    """An L of 100 x 40 whose windows are cut through the base up to the wall's inner face."""
    angle = bentstrip.solid(cq, [100 - r - t, (90.0, r), 40 - r - t], t, 30.0 * wide)
    angle = angle.rotate((0, 0, 0), (1, 0, 0), 90).translate((0, 30.0 * wide, 0))
    for k in range(wide):
        angle = angle.cut(cq.Workplane().box(30 - t, 20, 20, centered=False).translate((70, 30 * k + 5, -10)))
    return angle


@pytest.mark.parametrize(("t", "r", "wide"), [(2.0, 0.1, 1), (2.0, 2.0, 1), (1.0, 0.5, 3)])
def test_opening_flush_with_a_wall_is_an_opening(t: float, r: float, wide: int) -> None:
    """The cut ends on the bend's outside, where x = 100 - t: at an angle of asin(r / (r + t)) from the tangent line."""
    flat = unfold(channel_with_windows(t, r, wide), bend=K)
    assert len(flat.cuts) == wide
    assert not flat.marks
    past = math.asin(r / (r + t)) * (r + K * t)
    for cut in flat.cuts:
        x0, y0, x1, y1 = cut.loop.box
        assert sorted((x1 - x0, y1 - y0)) == pytest.approx(sorted((20, 100 - r - t - 70 + past)), abs=1e-3)
    assert not [f for f in flat.findings if f.severity == "stop"]
    assert [f for f in flat.findings if f.code == "unfold.square"]
