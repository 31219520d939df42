"""Tables of fixings against their sources.

ISO 273 (quoted), ISO 898-1 stress areas (recomputed), hole table of a maker of tapping screws (quoted),
makers' data of blind nut inserts (holes from memory, loads quoted), body practice of plug welds (no source).
"""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from tinbook.errors import BadValue, OutOfRange, UnknownName
from tinbook.shop.shop import Shop
from tinbook.shop.standard import library

# ISO 273: fine, medium, coarse.
ISO_273 = [
    ("M3", 3.2, 3.4, 3.6),
    ("M4", 4.3, 4.5, 4.8),
    ("M5", 5.3, 5.5, 5.8),
    ("M6", 6.4, 6.6, 7.0),
    ("M8", 8.4, 9.0, 10.0),
    ("M10", 10.5, 11.0, 12.0),
    ("M12", 13.0, 13.5, 14.5),
    ("M14", 15.0, 15.5, 16.5),
    ("M16", 17.0, 17.5, 18.5),
    # From memory.
    ("M18", 19.0, 20.0, 21.0),
    ("M20", 21.0, 22.0, 24.0),
    ("M22", 23.0, 24.0, 26.0),
    ("M24", 25.0, 26.0, 28.0),
]


@pytest.mark.parametrize(("size", "fine", "medium", "coarse"), ISO_273)
def test_clearance_holes(size: str, fine: float, medium: float, coarse: float) -> None:
    assert [library().fixings.clearance(size, fit) for fit in ("fine", "medium", "coarse")] == [fine, medium, coarse]
    assert library().fixings.clearance(size) == medium


# ISO 898-1: As = pi/4 (d - 0.9382 P)², printed to three figures; tapping drill d - P rounded to the usual drill.
@pytest.mark.parametrize(
    ("size", "pitch", "area", "drill"),
    [
        ("M4", 0.7, 8.78, 3.3),
        ("M5", 0.8, 14.2, 4.2),
        ("M6", 1.0, 20.1, 5.0),
        ("M8", 1.25, 36.6, 6.8),
        ("M10", 1.5, 58.0, 8.5),
        ("M12", 1.75, 84.3, 10.2),
        # ISO 898-1 prints 192, 245, 303 and 353 mm² (from memory; the formula below agrees).
        ("M18", 2.5, 192, 15.5),
        ("M20", 2.5, 245, 17.5),
        ("M22", 2.5, 303, 19.5),
        ("M24", 3.0, 353, 21.0),
    ],
)
def test_bolts(size: str, pitch: float, area: float, drill: float) -> None:
    bolt = Shop.demo().fixings.bolt(size)
    assert (bolt.pitch, bolt.stress_area, bolt.tapping) == (pitch, area, drill)
    assert math.pi / 4 * (bolt.dia - 0.9382 * pitch) ** 2 == pytest.approx(area, rel=3e-3)
    assert bolt.dia - pitch == pytest.approx(drill, abs=0.06)


def test_a_stress_area_typed_wrong_is_refused() -> None:
    with pytest.raises(BadValue, match=r"'M8' stress_area.*about 36\.6 mm²"):
        replace(Shop.demo().fixings.bolt("M8"), stress_area=50.3)  # pi/4 x 8², the shank's


def test_bolts_beyond_the_quoted_sizes_follow_the_formula() -> None:
    for bolt in Shop.demo().fixings.bolts:
        assert math.pi / 4 * (bolt.dia - 0.9382 * bolt.pitch) ** 2 == pytest.approx(
            bolt.stress_area, rel=5e-3
        )  # printed to three figures


# Maker's table, drilled or cut holes in steel: screw, thickness, pilot hole, clearance hole.
@pytest.mark.parametrize(
    ("size", "t", "pilot", "through"),
    [
        ("ST2.9", 0.6, 2.3, 3.6),
        ("ST2.9", 1.0, 2.4, 3.6),
        ("ST2.9", 2.5, 2.6, 3.6),
        ("ST3.5", 0.7, 2.7, 4.2),
        ("ST3.5", 1.2, 2.8, 4.2),
        ("ST3.5", 1.6, 3.0, 4.2),
        ("ST4.2", 0.8, 3.2, 5.0),
        ("ST4.2", 1.2, 3.3, 5.0),
        ("ST4.2", 1.6, 3.5, 5.0),
        ("ST4.2", 3.0, 3.8, 5.0),
        ("ST4.8", 1.0, 3.7, 5.8),
        ("ST4.8", 2.0, 4.0, 5.8),
        ("ST4.8", 3.0, 4.1, 5.8),
    ],
)
def test_tack_screws(size: str, t: float, pilot: float, through: float) -> None:
    row = Shop.demo().fixings.tack_screw(size, t)
    assert (row.pilot, row.clearance) == (pilot, through)


# Holes from memory, proof load (kN) and turning torque (N m) from one maker's sheet; M4 to M10.
@pytest.mark.parametrize(
    ("size", "hole", "proof", "torque"),
    [("M4", 6, 6.8, 1), ("M5", 7, 11.5, 2), ("M6", 9, 16.5, 4.5), ("M8", 11, 25, 5.5), ("M10", 13, 32, 11)],
)
def test_nut_inserts(size: str, hole: float, proof: float, torque: float) -> None:
    row = Shop.demo().fixings.nut_insert(size, 1.5)
    assert (row.hole, row.proof, row.torque) == (hole, 1000 * proof, torque)
    assert (row.edge, row.pitch) == (2 * hole, 3 * hole)
    assert "makers differ" in row.caution


def test_nut_insert_by_grip() -> None:
    fixings = Shop.demo().fixings
    assert fixings.nut_insert("M6", 2.0).key == "M6 0.5-3"
    assert fixings.nut_insert("M6", 4.0).key == "M6 3-5.5"
    assert fixings.nut_insert("M6 3-5.5").grip_max == 5.5
    with pytest.raises(OutOfRange, match=r"0\.5-3, 3-5\.5"):
        fixings.nut_insert("M6", 8.0)
    with pytest.raises(UnknownName, match="M4, M5, M6, M8, M10"):
        fixings.nut_insert("M7")


# Body practice, no standard: 6 mm hole to 1 mm, 8 mm to 1.6 mm, 10 mm above.
@pytest.mark.parametrize(("t", "hole"), [(0.8, 6), (1.0, 6), (1.2, 8), (1.6, 8), (2.0, 10), (3.0, 10)])
def test_plug_welds(t: float, hole: float) -> None:
    row = Shop.demo().fixings.plug_weld(t)
    assert (row.hole, row.pitch_min, row.pitch_max, row.edge) == (hole, 25, 50, 10)
    assert row.source == "common practice"


def test_outside_the_tables() -> None:
    fixings = Shop.demo().fixings
    with pytest.raises(OutOfRange, match=r"0\.5-1, 1-1\.6, 1\.6-4"):
        fixings.plug_weld(6.0)
    with pytest.raises(OutOfRange, match="within"):
        fixings.tack_screw("ST2.9", 0.8)  # between two printed rows
    with pytest.raises(UnknownName, match=r"ST4\.2"):
        fixings.tack_screw("ST9", 1.0)
    with pytest.raises(UnknownName, match="M3, M4"):
        library().fixings.clearance("M7")
    with pytest.raises(UnknownName, match="fine, medium, coarse"):
        library().fixings.clearance("M6", "loose")
    with pytest.raises(UnknownName, match="M24"):
        fixings.bolt("M27")
