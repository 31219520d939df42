"""Openings and beads within their panel: the quick way must never say yes where shapes say no."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from tinbook.making.containment import _all_inside
from tinbook.making.resolve import make
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.plane.loops import Edge, Loop, Move, polygon
from tinbook.shop.shop import Shop

SHOP = Shop.demo()
NOTCHED = polygon([(0, 0), (90, 0), (90, 30), (60, 30), (60, 50), (90, 55), (80, 90), (0, 70), (20, 40)])
ROUND = Loop(
    (Edge((0, 0), (80, 0), 0.3), Edge((80, 0), (70, 60), -0.4), Edge((70, 60), (0, 60)), Edge((0, 60), (0, 0)))
)


@given(
    st.sampled_from([NOTCHED, ROUND]),
    st.floats(-180, 180),
    st.floats(-20, 110),
    st.floats(-20, 110),
    st.floats(0.01, 40),
    st.floats(0.01, 40),
)
def test_boxes_within_an_outline_are_those_that_shapely_finds(
    loop: Loop, turn: float, x: float, y: float, w: float, h: float
) -> None:
    outline = loop.moved(Move.turn(turn, (40, 40)))
    said = _all_inside(outline, np.array([(x, y)]), np.array([(w, h)]) / 2)
    ground, box = shapely.Polygon(outline.chords(1e-4)), shapely.box(x - w / 2, y - h / 2, x + w / 2, y + h / 2)
    if said != ground.contains_properly(box):
        # The chords of the quick way may lie 0.005 mm off an arc.
        assert shapely.distance(ground.exterior, box.exterior) <= 0.006


@pytest.mark.parametrize("near", [0.0, 0.5, 3.0])
def test_many_boxes_at_once_must_all_lie_inside(near: float) -> None:
    centre = np.array([(10.0 + 8 * k, 10.0) for k in range(6)])
    half = np.full((6, 2), 2.0)
    assert _all_inside(polygon([(0, 0), (60, 0), (60, 20), (0, 20)]), centre, half)
    centre[3] = (34.0, 18.0 + near)
    assert not _all_inside(polygon([(0, 0), (60, 0), (60, 20), (0, 20)]), centre, half)


@given(st.floats(0.05, 1.0), st.floats(4, 60), st.booleans())
def test_a_hole_near_an_edge_is_judged_alike_whatever_else_is_on_the_panel(
    margin: float, dia: float, doubtful: bool
) -> None:
    """Two other holes so near each other that shapes must tell change nothing for this one."""
    part = Part("HN-RP", sheet="DC01 1.5", base=Outline.rectangle(300, 200))
    part = part.hole((dia / 2 + margin, 100), dia, name="near")
    alone = make(part, SHOP)
    # Boxes of two holes on a diagonal overlap, the holes do not.
    crowd = part.hole((200, 100), 20, name="a").hole((200 + 15.5, 100 + 15.5), 20, name="b")
    assert math.hypot(15.5, 15.5) > 20 * 1.05
    both = make(crowd if doubtful else part.hole((250, 50), 20, name="a"), SHOP)
    assert (alone.flat is None) == (both.flat is None)
