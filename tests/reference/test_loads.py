"""Load cases against the documents that state them."""

from __future__ import annotations

import math

import pytest

from tinbook.calc import fatigue, loads, towing
from tinbook.errors import BadValue, CannotMake, OutOfRange, UnknownName
from tinbook.sources import sources


# ISO 12991 table 1.
@pytest.mark.parametrize(
    ("kind", "along", "across"),
    [("M1", 20, 8), ("N1", 20, 8), ("M2", 10, 5), ("N2", 10, 5), ("M3", 6.6, 5), ("N3", 6.6, 5)],
)
def test_tanks(kind: str, along: float, across: float) -> None:
    cases = {c.direction: c for c in loads.tank_cases(kind)}
    assert {d: c.value for d, c in cases.items()} == {
        (1, 0, 0): along,
        (-1, 0, 0): along,
        (0, 1, 0): across,
        (0, -1, 0): across,
    }
    assert all(c.against == "tensile" and c.source == "ISO 12991" and not c.own for c in cases.values())
    # 120 litres of water in a 14 kg tank pull with 20 x 134 x 9.80665 N.
    assert cases[1, 0, 0].force(134) == pytest.approx(along * 134 * 9.80665)


def test_own_proposals_say_so() -> None:
    cases = loads.tank_cases("own proposal")
    assert len(cases) == 6
    assert all(c.own and "no document" in str(c) for c in cases)
    assert "own proposal" in str(loads.foot_cases()[1]) or loads.foot_cases()[1].own
    with pytest.raises(UnknownName, match="N3"):
        loads.tank_cases("L7e")


def test_cargo() -> None:
    """49 CFR 393.102 (a) and (b)."""
    assert [c.value for c in loads.cargo_cases()] == [0.8, 0.5, 0.5, 0.5, 0.2]
    assert [c.value for c in loads.cargo_cases("working load limit")] == [0.435, 0.5, 0.25, 0.25, 0.2]
    with pytest.raises(UnknownName):
        loads.cargo_cases("hope")


def test_towing() -> None:
    """1005/2010: 2500 kg give 12.26 kN; ADR 62: 3500 kg give 51.5 kN along."""
    assert towing.tow_eye_force(2500) == pytest.approx(12_262.5)
    cases = towing.coupling_forces(3500)
    assert cases[0].force(0) == pytest.approx(1.5 * 9.81 * 3500)
    assert {round(c.value / 9.81 / 3500, 9) for c in cases} == {1.5, 0.5}
    with pytest.raises(OutOfRange, match="trailer mass"):
        towing.coupling_forces(3501)


def test_recovery_is_refused() -> None:
    with pytest.raises(CannotMake, match="licensed engineer"):
        loads.recovery_cases()


def test_feet() -> None:
    """AS 1657: 1.1 kN on 100 x 100 mm."""
    walkway, heel = loads.foot_cases()
    assert (walkway.value, loads.foot_patch(walkway), walkway.source) == (1100, 100, "AS 1657")
    assert (heel.value, loads.foot_patch(heel), heel.source) == (1100, 50, "common practice")
    with pytest.raises(UnknownName):
        loads.foot_patch(loads.cargo_cases()[0])


def test_service() -> None:
    """Textbook set of a 3 g bump, 1 g braking, 1 g cornering with 1.5 on yield."""
    assert [c.value for c in loads.service_cases()] == [4.5, 1.5, 1.5, 1.5]
    with pytest.raises(BadValue):
        loads.service_cases(0.5)


def test_fatigue() -> None:
    """EN 1993-1-9: the limit at 5 million cycles is 0.737 of the category."""
    assert fatigue.fatigue_range(71, 2e6, 1.0) == pytest.approx(71)
    assert fatigue.fatigue_range(71, 5e6, 1.0) == pytest.approx(0.737 * 71, abs=0.02)
    assert fatigue.fatigue_range(71, 1e9, 1.0) == fatigue.fatigue_range(71, 5e6, 1.0)
    assert fatigue.fatigue_range(80, 2e6 / 8) == pytest.approx(160 / 1.35)
    with pytest.raises(OutOfRange, match="cycles"):
        fatigue.fatigue_range(71, 1000)


def test_every_case_names_a_document_and_a_signer() -> None:
    cases = [
        *loads.tank_cases("M1"),
        *loads.tank_cases("own proposal"),
        *loads.cargo_cases(),
        *towing.coupling_forces(750),
        *loads.foot_cases(),
        *loads.service_cases(),
    ]
    for c in cases:
        assert c.source in sources()
        assert c.signs
        assert math.hypot(*c.direction) == 1
        assert "signed by" in str(c)


# Rigging tables print the load on a block as a multiple of the line pull by the angle between its two lines
# (0: 2.00, 45: 1.84 to 1.85, 60: 1.73, 90: 1.41, 120: 1.00, 180: 0), from memory.
@pytest.mark.parametrize(
    ("between", "times"), [(0, 2.0), (45, 1.848), (60, 1.732), (90, 1.414), (120, 1.0), (180, 0.0)]
)
def test_a_snatch_block_takes_up_to_twice_the_pull(between: float, times: float) -> None:
    assert towing.snatch_block_force(40e3, between) == pytest.approx(times * 40e3, abs=30)
    with pytest.raises(OutOfRange):
        towing.snatch_block_force(40e3, -1.0)


def test_mounted_items_take_the_tank_s_figures_and_say_whose_they_are() -> None:
    # UNECE R100 tests traction batteries of M1 and N1 with at least 20 g along and 8 g across (from memory).
    cases = {c.direction: c.value for c in loads.mounted_cases("battery")}
    assert (cases[1, 0, 0], cases[0, 1, 0]) == (20.0, 8.0)
    assert all(c.own for c in loads.mounted_cases("spare wheel"))
    with pytest.raises(UnknownName, match="spare wheel"):
        loads.mounted_cases("seat")


def test_a_seat_gets_the_names_of_laws_and_no_number() -> None:
    with pytest.raises(CannotMake, match=r"UN R17.*UN R14") as said:
        loads.refuse_seat("seat")
    assert "kN" not in str(said.value)
