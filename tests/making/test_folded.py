"""The folded part as a plain value: bends by their rulings, volumes, mirrored and moved copies."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

import tinbook as tb
from byhand import PARTS, chain, hole_through, two_folds
from strategies import SHOP
from tinbook.making.bends import Bend
from tinbook.making.crossing import crossings
from tinbook.making.folded import BendZone, Folded, Rulings
from tinbook.making.preview.build import preview
from tinbook.making.preview.drawing import drawing
from tinbook.making.preview.view import EDGE
from tinbook.making.solid.build import solid
from tinbook.plane.loops import Array, polygon
from tinbook.space import SPACE, Frame, frame_at


@pytest.mark.parametrize("angle", [15, 90, 240])
@pytest.mark.parametrize("direction", ["up", "down"])
def test_rulings_turn_about_the_axis_of_the_bend(angle: int, direction: str) -> None:
    """Each ruling is the parent's tangent line turned about the bend's axis (SciPy's rotation), at its share of the angle."""
    folded = two_folds(angle, direction)
    zone, t = folded.zones[0], folded.thickness
    f = zone.frame
    axis = f(0, 0, t + zone.radius if direction == "up" else -zone.radius)
    shares = np.linspace(0.0, 1.0, 5)
    rulings = zone.rulings(shares * zone.allowance, t)
    for k, share in enumerate(shares):
        turn = Rotation.from_rotvec(math.radians(angle * share) * np.array(f.x) * (1 if direction == "up" else -1))
        expected = axis + turn.apply(np.array(f.origin) - axis)
        one = zone.ruling(share * zone.allowance, t)
        for point, normal in ((rulings.origin[k], rulings.z[k]), (one.origin, one.z)):
            assert point == pytest.approx(expected, abs=1e-9)
            assert normal == pytest.approx(turn.apply(f.z), abs=1e-9)
    assert zone.end(t).origin == pytest.approx(folded.panels[1].frame.origin, abs=1e-9)


def test_a_bend_turned_by_nothing_is_flat() -> None:
    zone = replace(two_folds(90, "up").zones[0], angle=0.0)
    assert zone.end(1.5).origin == pytest.approx(zone.frame(0.0, zone.allowance))
    assert zone.rulings(np.array([0.0, 2.0]), 1.5).points(np.array([5.0, 5.0])) == pytest.approx(
        np.array([zone.frame(5.0, 0.0), zone.frame(5.0, 2.0)])
    )


@pytest.mark.parametrize("name", ["zed", "hole through 90 down 0.5", "tapered up", "bead bent up", "rounded"])
def test_the_other_hand_and_a_moved_copy_are_the_same_metal(name: str) -> None:
    """Volume of the kernel's solid stays; the mirrored box is that of the first, reflected at x = 0."""
    folded = PARTS[name][0]()
    other = folded.mirrored()
    moved = folded.moved(frame_at((10, -20, 30), (0, 1, 0), (0, 0, 1)))
    volume = solid(folded).Volume()
    assert solid(other).Volume() == pytest.approx(volume, rel=1e-9)
    assert solid(moved).Volume() == pytest.approx(volume, rel=1e-9)
    (low, high), (mirrored_low, mirrored_high) = preview(folded).box, preview(other).box
    assert mirrored_low == pytest.approx((-high[0], *low[1:]), abs=0.1)
    assert mirrored_high == pytest.approx((-low[0], *high[1:]), abs=0.1)
    assert other.mirrored() == folded


def test_equal_values_are_equal_and_mass_is_that_of_the_solid() -> None:
    folded = replace(hole_through(90, "up"), density=7850.0)
    assert folded == replace(hole_through(90, "up"), density=7850.0)
    assert folded != replace(folded, thickness=2.0)
    assert folded.mass == pytest.approx(solid(folded).Volume() * 7850e-9, rel=1e-6)
    assert not crossings(chain("down"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Cone(BendZone):
    """A bend whose rulings meet in an apex, `slope` from its axis: x counts from the apex along a ruling."""

    slope: float

    def rulings(self, v: Array, thickness: float) -> Rulings:
        a = (math.radians(self.angle) / self.allowance * v)[:, None]
        axis, first, second = np.array((self.frame.x, self.frame.y, self.frame.z))
        out = np.cos(a) * first - np.sin(a) * second
        along = math.cos(self.slope) * axis + math.sin(self.slope) * out
        normal = math.cos(self.slope) * out - math.sin(self.slope) * axis
        return Rulings(np.tile(np.array(self.frame.origin), (len(v), 1)), along, normal)

    def ruling(self, v: float, thickness: float) -> Frame:
        (o,), (x,), (z,) = (part.tolist() for part in self.rulings(np.array([v]), thickness))
        return Frame(tuple(o), tuple(x), tuple(np.cross(z, x).tolist()), tuple(z))


def test_a_strip_with_other_rulings_is_drawn_without_another_view() -> None:
    """A cone between 100 and 160 mm from its apex, turned by 60 degrees.

    A point s along a ruling and h over the face stands s sin g + h cos g from the axis, so the volume is the
    turn times (sin g (s1² - s0²) t / 2 + cos g (s1 - s0) t² / 2).
    """
    g, t, s0, s1, turn = math.radians(25), 1.5, 100.0, 160.0, math.radians(60)
    region = polygon([(s0, 0), (s1, 0), (s1, 40), (s0, 40)])
    cone = Cone(
        name="cone",
        parent="base",
        child="leg",
        regions=(region,),
        angle=60.0,
        direction="up",
        radius=30.0,
        bend=Bend(radius=30.0, allowance=40.0),
        frame=frame_at((5, 6, 7), (0, 1, 0), (0, 0, 1)),
        slope=g,
    )
    folded = Folded(thickness=t, zones=(cone,))
    volume = turn * (math.sin(g) * (s1**2 - s0**2) * t / 2 + math.cos(g) * (s1 - s0) * t**2 / 2)
    assert preview(folded).volume == pytest.approx(volume, rel=5e-3)
    assert drawing((((folded,), SPACE),)).lines[EDGE]
    assert not crossings(folded)


@pytest.mark.parametrize("side", [-1, 1])
def test_a_hole_that_ends_where_a_bend_begins_is_a_stop_and_a_tenth_away_is_none(side: int) -> None:
    """Touching, metal and opening would share one point there, which no solid can have."""
    part = tb.Part("HN-BT", sheet="DC01 1.5", base=tb.Outline.rectangle(120, 120)).fold("front", "down", leg=30)
    line = tb.make(part, SHOP).folded.zones[0].setback
    touching = tb.make(part.hole((60, line + 2 * side), dia=4), SHOP)
    assert [f.code for f in touching.findings.stops] == ["hole.off_fold"]
    near = tb.make(part.hole((60, line + 2.1 * side), dia=4), SHOP)
    assert near.solid.isValid()
