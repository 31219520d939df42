"""Tabs in slots, half-laps, locating holes: geometry against shapely and the kernel, bad input by name."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

import tinbook as tb
from tinbook.errors import BadValue, UnknownName
from tinbook.making.assembled import assemble
from tinbook.making.solid import bodies, kernel
from tinbook.part.assembly import Assembly
from tinbook.part.joints import FIT, Plate, eared_slot, largest_thickness, slot_width, tab_and_slot
from tinbook.part.laps import half_lap
from tinbook.space import frame_at

SHOP = tb.Shop.demo()
T = 5.0


def base(**values: object) -> Plate:
    given_values = {"outline": tb.Outline.rectangle(220, 140), "thickness": T, "at": frame_at()}
    return Plate(**{**given_values, **values})  # type: ignore[arg-type]


def leaning(angle: float, thickest: float | None = None) -> Plate:
    """A plate 140 x 80 that stands on the base at `angle` degrees from it, leaning to +y below 90."""
    a = math.radians(angle)
    # Beyond 90 degrees the other long corner of the cut edge is the one that stands.
    lift = max(0.0, -T * math.cos(a))
    at = frame_at((40.0, 70.0, T + lift), (1.0, 0.0, 0.0), (0.0, math.cos(a), math.sin(a)))
    return Plate(outline=tb.Outline.rectangle(140, 80), thickness=T, thickest=thickest, at=at)


def shapes(a: Plate, b: Plate):
    made = assemble(
        Assembly("X").add("a", a.part("A", sheet="S355 5.0"), a.at).add("b", b.part("B", sheet="S355 5.0"), b.at), SHOP
    )
    return made.shape("a"), made.shape("b")


@given(st.floats(1, 20), st.floats(1, 20), st.floats(21, 159))
def test_slot_width_is_what_the_slanting_tab_takes_up(tab, plate, angle):
    # The same cut drawn by another library: a long strip through a slab, seen from the end.
    long = 500.0
    strip = shapely.affinity.rotate(shapely.box(-long, -tab / 2, long, tab / 2), angle, origin=(0, 0))
    slab = shapely.box(-long, -plate / 2, long, plate / 2)
    x0, _, x1, _ = strip.intersection(slab).bounds
    assert slot_width(tab, plate, angle) == pytest.approx(x1 - x0, rel=1e-9)


@pytest.mark.parametrize("angle", [90.0, 60.0, 125.0])
def test_tabs_stand_in_their_slots_at_any_angle(angle):
    up, down = tab_and_slot(leaning(angle), "front", base(), count=3)
    a, b = shapes(up, down)
    assert bodies.common_volume(a, b) < 1e-6
    assert bodies.gap(a, b) < 1e-6
    # The tips come through: the far face is reached, and not passed.
    assert kernel.box(a)[0][2] == pytest.approx(0.0, abs=1e-6)


def test_tabs_from_below():
    under = Plate(outline=tb.Outline.rectangle(140, 80), thickness=T, at=frame_at((40, 70, 0), (1, 0, 0), (0, 0, -1)))
    up, down = tab_and_slot(under, "front", base())
    a, b = shapes(up, down)
    assert bodies.common_volume(a, b) < 1e-6
    assert kernel.box(a)[1][2] == pytest.approx(T, abs=1e-6)


@pytest.mark.parametrize("process", sorted(FIT))
@pytest.mark.parametrize("thickest", [None, 5.3])
def test_play_follows_process_and_largest_thickness(process, thickest):
    up, down = tab_and_slot(leaning(90.0, thickest), "front", base(), process=process)
    a, b = shapes(up, down)
    side = (FIT[process] + (0.0 if thickest is None else thickest - T)) / 2

    def shifted(y: float) -> float:
        return bodies.common_volume(bodies.placed(a, frame_at((0.0, y, 0.0)).values), b)

    assert shifted(side - 0.01) < 1e-6
    assert shifted(side + 0.01) > 0.1
    assert shifted(-side + 0.01) < 1e-6
    assert shifted(-side - 0.01) > 0.1


def test_a_plate_turned_end_for_end_does_not_go_in():
    up, down = tab_and_slot(leaning(90.0), "front", base())
    middle = [loop.box[0] / 2 + loop.box[2] / 2 for _, loop in down.slots]
    # Turned about the upright through the middle of the tabs, so that every tab meets a slot's middle.
    turned = frame_at((sum(middle), 140.0 + T, 0.0), (-1.0, 0.0, 0.0), (0.0, -1.0, 0.0)) @ up.at
    back = replace(up, at=turned)
    a, b = shapes(back, down)
    assert bodies.common_volume(a, b) > 10.0
    tabs = sorted(e.length for e in (down.slots[0][1].edges[0], down.slots[1][1].edges[0]))
    assert tabs[1] > tabs[0] + 2


def test_wide_tab_at_the_other_end():
    near, _ = tab_and_slot(leaning(90.0), "front", base())
    far, down = tab_and_slot(leaning(90.0), "front", base(), wide_at="end")
    assert far.outline.area == pytest.approx(near.outline.area)
    lengths = [loop.box[2] - loop.box[0] for _, loop in down.slots]
    places = [loop.box[0] for _, loop in down.slots]
    assert lengths[0] > lengths[1]
    assert places[0] > places[1]


def test_match_marks_on_both():
    up, down = tab_and_slot(leaning(90.0), "front", base(), mark="K")
    for plate in (up, down):
        part = plate.part("P", sheet="S355 5.0")
        assert [t.text for t in part.texts] == ["K"]
        made = tb.make(part, SHOP)
        assert made.ok
        assert any(m.label == "K" for m in made.flat.marks)


def test_corners_are_relieved():
    slot = eared_slot(20.0, 6.0)
    ears = [e for e in slot if not e.is_line]
    assert len(ears) == 4
    assert {round(e.radius, 6) for e in ears} == {1.0}
    # A sharp block of the slot's clear size goes in: no ear takes anything off it.
    clear = shapely.box(-10, -3, 10, 3)
    assert shapely.Polygon(slot.chords(0.001)).buffer(1e-6).contains(clear)
    up, _ = tab_and_slot(leaning(90.0), "front", base())
    roots = [e for e in up.outline.loop if not e.is_line]
    assert len(roots) == 4
    assert all(e.radius == pytest.approx(1.0) for e in roots)


@pytest.mark.parametrize(
    ("change", "named"),
    [
        ({"count": 1}, "count"),
        ({"count": 9}, r"count: 9 .*at most 7 tabs"),
        ({"count": 6, "width": 40.0}, r"width: 40.0 .*at most 11.71 mm"),
        ({"width": 4.0}, r"width: 4.0 .*at least 7.5"),
        ({"process": "scissors"}, "process"),
        ({"edge": "nowhere"}, "nowhere"),
        ({"proud": -6.0}, "proud"),
        ({"wide_at": "middle"}, "wide_at"),
    ],
)
def test_bad_joints_are_named(change, named):
    values = {"edge": "front", **change}
    with pytest.raises(BadValue, match=named):
        tab_and_slot(leaning(90.0), values.pop("edge"), base(), **values)


def test_the_number_of_tabs_that_is_named_fits():
    tab_and_slot(leaning(90.0), "front", base(), count=7)
    tab_and_slot(leaning(90.0), "front", base(), count=6, width=11.71)


def test_an_edge_that_stands_on_nothing():
    up = leaning(90.0)
    with pytest.raises(BadValue, match=r"edge.*3 mm away"):
        tab_and_slot(replace(up, at=up.at.moved((0, 0, 3))), "front", base())
    tilted = frame_at((40, 70, T), (math.cos(0.1), 0, math.sin(0.1)), (-math.sin(0.1), 0, math.cos(0.1)))
    with pytest.raises(BadValue, match="parallel to the other plate"):
        tab_and_slot(replace(up, at=tilted), "front", base())
    with pytest.raises(BadValue, match="angle between plates"):
        tab_and_slot(leaning(12.0), "front", base())
    with pytest.raises(BadValue, match="keep 5 mm from the edge"):
        tab_and_slot(replace(up, at=up.at.moved((0, 67, 0))), "front", base())


@pytest.mark.parametrize(
    # EN 10051 table 1 (from memory): width 1200 to 1500 mm, category A; S355 is category B, +15 %.
    ("nominal", "strength", "most"),
    [(3.0, 235.0, 3.22), (5.0, 235.0, 5.26), (6.0, 235.0, 6.28), (5.0, 355.0, 5.299), (16.0, 355.0, 16.483)],
)
def test_largest_thickness(nominal, strength, most):
    assert largest_thickness(nominal, strength) == pytest.approx(most, abs=1e-9)


def test_largest_thickness_outside_its_table():
    with pytest.raises(BadValue, match="nominal thickness"):
        largest_thickness(30.0)
    with pytest.raises(BadValue, match="yield_min"):
        largest_thickness(5.0, 700.0)


@pytest.mark.parametrize("angle", [90.0, 65.0])
def test_half_lap_seats_without_clash(angle):
    a = math.radians(angle)
    p = Plate(outline=tb.Outline.rectangle(200, 80), thickness=T, at=frame_at((0, 0, 0), (1, 0, 0), (0, 0, 1)))
    q = Plate(
        outline=tb.Outline.rectangle(200, 70),
        thickness=T,
        at=frame_at((100 - 100 * math.cos(a), -100 * math.sin(a), 0), (math.cos(a), math.sin(a), 0), (0, 0, 1)),
    )
    p, q = half_lap(p, q)
    s, r = shapes(p, q)
    assert bodies.common_volume(s, r) < 1e-6
    assert bodies.gap(s, r) <= 0.1 + 1e-6
    # They seat: a tenth lower it goes, lower than that it bites.
    down = [bodies.common_volume(s, bodies.placed(r, frame_at((0, 0, z)).values)) for z in (0.09, 0.15, -5.0)]
    assert down[0] < 1e-6
    assert down[1] > 0.1
    assert down[2] < 1e-6


def test_half_lap_needs_plates_that_cross():
    p = Plate(outline=tb.Outline.rectangle(200, 80), thickness=T, at=frame_at((0, 0, 0), (1, 0, 0), (0, 0, 1)))
    with pytest.raises(BadValue, match="angle between plates"):
        half_lap(p, replace(p, at=p.at.moved((0, 20, 0))))
    with pytest.raises(UnknownName, match="process"):
        half_lap(p, p, process="saw")
