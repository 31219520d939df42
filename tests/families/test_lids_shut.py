"""Lids stay shut: moments about the hinge by hand, what a latch must hold, and that no strut is taken for one."""

from __future__ import annotations

import math

import pytest

import tinbook as tb
from tinbook.calc.struts import GasStrut, Lid, lid_balance
from tinbook.errors import BadValue
from tinbook.families.hinged_lids import HOTTEST, ROAD
from tinbook.finding import Finding

G = 9.80665
LID = tb.families.lid_geometry(450, 25, 180, 7.0, (20, -60))


def opening_moment(lid: Lid, strut: GasStrut, celsius: float) -> float:
    """Of all struts on the closed lid, N mm: the ideal gas and the lever of a line about the origin, written out."""
    (x, y), (bx, by) = lid.lid_joint, lid.body_joint
    long = math.hypot(x - bx, y - by)
    back = 0.101325 * math.pi / 4 * strut.rod**2
    full, pressed = strut.force + back, strut.progression * strut.force + back
    pushed_in = (strut.extended - long) / strut.stroke
    push = full / (1 - (1 - full / pressed) * pushed_in) * (273.15 + celsius) / 293.15 - back
    return lid.struts * push * (bx * y - by * x) / long


def shut(*args: object, **values: object) -> Finding:
    (found,) = tb.families.lid_findings(*args, **values).of("lid.stays_shut")  # type: ignore[arg-type]
    return found


def test_a_latch_holds_struts_gasket_and_road_by_hand() -> None:
    strut = tb.families.strut_for(LID, 75)
    # The road throws it up at 3 g, gravity holds it down at 1 g; the gasket pushes in the middle of 450 mm.
    moment = opening_moment(LID, strut, 60) + 7.0 * G * (3 - 1) * 225 + 200 * 450 / 2
    assert tb.families.latch_needed(LID, strut, gasket=200, road=3, hottest=60) == pytest.approx(
        moment / 450, rel=1e-12
    )
    found = shut(LID, strut, 75, latch=400, gasket=200)
    assert (found.severity, found.limit) == ("fine", pytest.approx(moment / 450))
    weak = shut(LID, strut, 75, latch=moment / 450 - 1, gasket=200)
    assert (weak.severity, weak.remedy) == ("stop", f"a latch rated for {math.ceil(moment / 450)} N at the handle")


@pytest.mark.parametrize(
    ("lid", "celsius"),
    [
        (LID, 20.0),
        (LID, 40.0),
        (tb.families.lid_geometry(500, 25, 180, 20.0, (20, -60)), 70.0),
    ],
)
def test_a_lid_that_opens_by_itself_is_never_fine_without_a_latch(lid: Lid, celsius: float) -> None:
    strut = tb.families.strut_for(lid, 75)
    assert lid_balance(lid, strut, 0.0, celsius).hand < 0  # its struts lift more than it weighs
    silent, none = (shut(lid, strut, 75, hottest=celsius, gasket=0, latch=n) for n in (None, 0))
    assert (silent.severity, none.severity) == ("caution", "stop")
    assert "struts that open it by themselves" in silent.what
    assert silent.remedy == f"a latch rated for {math.ceil(silent.limit or 0)} N at the handle"


def test_a_strut_over_its_centre_is_no_latch() -> None:
    # From (300, -30) it pulls down at (180, -60): the line of push passes above the hinge.
    lid = Lid(mass=7, centre=(225, -6), lid_joint=(180, -60), body_joint=(300, -30), handle=(450, 0))
    struts = [GasStrut(force=f, extended=165, stroke=60) for f in (1, 100, 1000)]
    assert [lid_balance(lid, s, 0.0).strut_moment < 0 for s in struts] == [True] * 3
    by_hand = (150 * 450 / 2 + 7 * G * 2 * 225) / 450
    assert [tb.families.latch_needed(lid, s, gasket=150) for s in struts] == [pytest.approx(by_hand)] * 3
    assert "do not count" in shut(lid, struts[1], 30).what


def test_what_is_not_stated_is_given_for() -> None:
    strut = tb.families.strut_for(LID, 75)
    found = shut(LID, strut, 75, latch=5000)
    assert found.severity == "caution"
    assert "gasket that is not stated" in found.what
    assert "half the push of its gasket" in found.remedy
    blank = tb.families.gasket(tb.families.bolting(140, 300, 30), 4.0)
    assert tb.families.gasket_push(blank) == pytest.approx(0.05 * blank.area)  # closed cells at 0.05 MPa
    for values in ({"latch": -1}, {"gasket": math.nan}, {"road": -1}):
        with pytest.raises(BadValue, match=f"{next(iter(values))}.*at least 0"):
            tb.families.lid_findings(LID, strut, 75, **values)  # type: ignore[arg-type]


def test_effort_covers_the_range_of_temperature_and_the_gasket() -> None:
    strut = tb.families.strut_for(LID, 75)

    def effort(**values: float) -> Finding:
        return tb.families.lid_findings(LID, strut, 75, **values).of("lid.effort")[0]

    # Shutting it on its gasket when hot: struts and half the gasket against the weight.
    by_hand = opening_moment(LID, strut, 60) / 450 + 400 / 2 - 7 * G * 225 / 450
    assert effort(gasket=400).value == pytest.approx(by_hand, rel=1e-9)
    assert (effort(gasket=400).severity, effort().severity) == ("caution", "fine")
    assert "pull down" in effort(gasket=400).what
    assert effort(coldest=-30, hottest=80).value > effort(coldest=20, hottest=20).value  # type: ignore[operator]


def test_a_strut_that_does_not_reach_is_said() -> None:
    (found,) = tb.families.lid_findings(LID, GasStrut(force=100, extended=300, stroke=20), 75)
    assert (found.code, found.severity) == ("lid.reach", "stop")


def test_the_assembly_s_paper_asks_for_the_latch() -> None:
    hold = tb.families.latch_needed(LID, tb.families.strut_for(LID, 75), road=ROAD, hottest=HOTTEST)
    (said,) = [c for c in tb.families.lid_on_struts().cautions if "latch" in c]
    assert f"latch rated for {math.ceil(hold)} N" in said
    assert "gasket" in said


def test_a_strut_that_is_too_short_half_way_is_stopped():
    """Joints 250 mm apart at 40 degrees and 241 mm at both ends of 80 (law of cosines), a strut of 245 mm drawn out."""
    lid = Lid(mass=5.0, centre=(150, 0), lid_joint=(200, 0), body_joint=(-38.3, -32.1), handle=(300, 0))
    (found,) = tb.families.lid_findings(lid, GasStrut(force=100, extended=245, stroke=100), 80)
    assert (found.code, found.severity) == ("lid.reach", "stop")
