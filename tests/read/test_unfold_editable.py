"""A foreign part declared anew: same solid with the drawn radii, and a blank that follows other tools."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import bentstrip
import pytest

import tinbook as tb
from tinbook.errors import BadValue, CannotMake
from tinbook.read.editable import editable

cq = pytest.importorskip("cadquery")
SHOP = tb.Shop.demo()
T, R = 1.5, 2.0


def angle() -> Any:
    solid = bentstrip.solid(cq, [60, (90, R), 40], T, 50)
    return solid.cut(cq.Workplane("XZ").center(20, 25).circle(3.1).extrude(-30, both=True))


def hat() -> Any:
    return bentstrip.solid(cq, [20, (-60, R), 25, (90, R), 40, (90, R), 25, (-60, R), 20], T, 50)


def tray() -> Any:
    solid = cq.Workplane().box(100, 60, T, centered=(True, True, False))
    for turn, (long_, half) in {0: (60, 50), 90: (100, 30), 180: (60, 50), 270: (100, 30)}.items():
        wall = bentstrip.solid(cq, [0.5, (90.0, R), 25], T, long_ - 12.0)
        wall = wall.rotate((0, 0, 0), (1, 0, 0), 90).translate((half - 0.5, long_ / 2 - 6.0, 0))
        solid = solid.union(wall.rotate((0, 0, 0), (0, 0, 1), turn))
    return solid


@pytest.mark.parametrize("draw", [angle, hat])
def test_same_solid_with_the_drawn_radius(draw: Any) -> None:
    """Volume and bounding box of the made solid are those of the foreign one."""
    foreign = draw().val()
    found = tb.unfold(foreign)
    part = editable(found, SHOP, "DC01 1.5", number="HN-BM-9", keep_radius=True)
    made = tb.make(part, SHOP)
    assert made.ok
    assert len(part.folds) == len(found.folds)
    assert made.solid.Volume() == pytest.approx(foreign.Volume(), rel=1e-6)
    # The same shape in another place: equal principal moments.
    mine, theirs = (sorted(cq.Shape.matrixOfInertia(s)[i][i] for i in range(3)) for s in (made.solid, foreign))
    assert sum(mine) == pytest.approx(sum(theirs), rel=1e-6)


def test_blank_follows_the_tool() -> None:
    """Outside legs stay at 63.5 and 43.5 whatever the radius: the blank is their sum less the bend deduction."""
    found = tb.unfold(angle())
    for radius in (1.0, 3.0):
        part = editable(found, SHOP, "DC01 1.5")
        (fold,) = part.folds
        assert fold.radius is None
        from dataclasses import replace

        made = tb.make(part._changed(folds=(replace(fold, radius=radius),)), SHOP)
        assert made.flat is not None
        allowance = made.strips[0].allowance
        deduction = 2 * (radius + T) * math.tan(math.radians(45)) - allowance
        assert max(made.flat.size) == pytest.approx(60 + 40 + 2 * (R + T) - deduction, abs=1e-6)


def test_other_thickness_keeps_the_outside() -> None:
    found = tb.unfold(angle())
    made = tb.make(editable(found, SHOP, "DC01 1.2"), SHOP)
    assert made.ok
    box = made.solid.BoundingBox()
    assert sorted((box.xlen, box.ylen, box.zlen)) == pytest.approx(sorted((60 + R + T, 40 + R + T, 50)), abs=1e-6)


def test_what_cannot_be_declared_is_refused_with_its_reason() -> None:
    tube = tb.unfold(cq.Workplane().circle(30).circle(28.5).extrude(50))
    with pytest.raises(CannotMake, match="closes on itself"):
        editable(tube, SHOP, "DC01 1.5")
    boss = tb.unfold(
        cq.Workplane().box(60, 40, T, centered=(True, True, False)).union(cq.Workplane().circle(4).extrude(9))
    )
    with pytest.raises(CannotMake, match="boss"):
        editable(boss, SHOP, "DC01 1.5")
    window = cq.Workplane().box(16, 16, 16).translate((62, 2, 25))
    with pytest.raises(CannotMake, match="across a fold"):
        editable(tb.unfold(angle().cut(window)), SHOP, "DC01 1.5")
    with pytest.raises(BadValue, match=r"a sheet of about 1\.5 mm"):
        editable(tb.unfold(angle()), SHOP, "DC01 3.0")


def test_tray_hangs_four_walls_on_its_floor() -> None:
    part = editable(tb.unfold(tray()), SHOP, "DC01 1.5", keep_radius=True)
    assert [f.panel for f in part.folds] == ["base"] * 4
    made = tb.make(part, SHOP)
    assert made.solid.Volume() == pytest.approx(tray().val().Volume(), rel=1e-6)
    assert not [f for f in tb.check(made) if f.severity == "stop" and f.code.startswith("flat")]


def test_foreign_parts_can_be_declared(foreign: Path) -> None:
    for path in sorted(foreign.glob("*.step")):
        found = tb.unfold(path, trusted=True)
        sheet = "DC01 1.0" if found.thickness < 1.5 else "DC01 2.0"
        part = editable(found, SHOP, sheet, keep_radius=True)
        assert tb.make(part, SHOP).ok
        assert len(part.folds) + 1 == len(found.panels)
