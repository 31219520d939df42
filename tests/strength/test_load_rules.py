"""Loads in the trade's words: directions and factors of the rule, forces that statics gives, refusals in words."""

from __future__ import annotations

import math

import numpy as np
import pytest

import tinbook as tb
from strategies import SHOP
from tinbook.errors import BadValue, CannotMake, TinbookError, UnknownName
from tinbook.strength import supports as on
from tinbook.strength.carried import Carried, mean_tie
from tinbook.strength.joints.rules import Joining
from tinbook.strength.load_rules import Mount, load_rule
from tinbook.strength.request import loads_of
from tinbook.strength.ruled import under_rule

G = 9.80665


@pytest.fixture(scope="module")
def tray():
    """A plate of 6 mm on four bolts M10 at its corners, with an eye."""
    part = tb.Part("HN-L1", sheet="S355 6.0", base=tb.Outline.rectangle(400, 240))
    for k, at in enumerate([(30, 30), (370, 30), (370, 210), (30, 210)], 1):
        part = part.hole(at, use="bolt", size="M10", name=f"foot {k}")
    return tb.make(part.hole((340, 120), dia=30, name="eye"), SHOP)


# -- words ----------------------------------------------------------------------------------------


def test_words_stand_for_the_cases_of_their_rule():
    tank = load_rule("tank 120 kg, class M1")
    # ISO 12991 table 1: 20 g along, 8 g across, each alone.
    assert [(c.value, c.direction) for c in tank.cases] == [
        (20.0, (1, 0, 0)), (20.0, (-1, 0, 0)), (8.0, (0, 1, 0)), (8.0, (0, -1, 0)),
    ]  # fmt: skip
    assert (tank.mass, tank.factor) == (120.0, 1.0)
    assert load_rule("spare wheel 22 kg").mass == 22.0
    assert load_rule("tank 0.12 t").mass == pytest.approx(120.0)
    assert load_rule("cargo 300 kg").cases[0].value == 0.8
    winch = load_rule("winch 40 kN at 15 deg")
    assert (len(winch.cases), winch.factor) == (5, 1.5)
    assert all(math.hypot(*c.direction) == pytest.approx(1.0) for c in winch.cases)
    # The anchor of a block takes twice the line pull where the rope comes straight back.
    assert load_rule("snatch block 40 kN").cases[0].value == pytest.approx(80e3)


def test_cautions_travel():
    assert any("never a tow ball" in c for c in load_rule("recovery 30 kN").cautions)
    assert any("reach several times" in c for c in load_rule("winch 40 kN").cautions)
    assert all("engineer" in c.signs for c in load_rule("tank 120 kg").cases)


@pytest.mark.parametrize("words", ["seat", "seat 20 kg", "Seats", "belt anchorage", "seat belt 15 kN", "belt"])
def test_seats_and_belts_get_words_and_the_law_s_name(words):
    for door in (load_rule, lambda w: loads_of(FLAT, w)):
        with pytest.raises(CannotMake, match=r"UN R17.*UN R14"):
            door(words)


FLAT = tb.make(tb.Part("HN-L2", sheet="DC01 1.5", base=tb.Outline.rectangle(300, 200)), SHOP)


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ("", "tank 120 kg"), ("tank", "tank 120 kg"), ("anvil 20 kg", "tank 120 kg"), (None, "words such as"),
        (5, "words such as"), ("tank 120", "with its unit"), ("tank -5 kg", "greater than 0"), ("tank 0 kg", "greater"),
        ("tank 5 mm", "kg"), ("tank nan kg", "number"), ("tank 12 kg, class M9", "N3"), ("tank 12 kg, fast", "class"),
        ("battery 12 kg, class M1", "option"), ("tank 12 kg at 5 deg", "ropes"), ("winch 4 kN at 100 deg", "0 to 90"),
        ("winch 4 kN at -5 deg", "0 to 90"), ("winch 4 kN, snatch", "option"), ("recovery lots", "number"),
        ("snatch block 4 kN at 200 deg", "0 to 180"), ("cargo 1e400 kg", "number"),
    ],
)  # fmt: skip
def test_other_words_say_what_would_be_valid(words, says):
    with pytest.raises(BadValue, match=says):
        load_rule(words)


def test_a_rule_is_no_single_load():
    with pytest.raises(BadValue, match="under_rule"):
        loads_of(FLAT, "tank 120 kg")


# -- forces ---------------------------------------------------------------------------------------


def test_a_force_off_the_sheet_arrives_whole():
    rng = np.random.default_rng(4)
    points, about = rng.normal(size=(9, 3)), np.array([3.0, -2.0, 5.0])
    tie = mean_tie(points, rng.uniform(0.5, 1.0, 9), about)
    wrench = np.array([1.0, -2.0, 3.0, 40.0, -50.0, 60.0])
    force = (wrench @ tie).reshape(-1, 3)
    assert force.sum(axis=0) == pytest.approx(wrench[:3])
    assert np.cross(points - about, force).sum(axis=0) == pytest.approx(wrench[3:])
    # A rigid motion of the points is that motion of the point.
    move, turn = np.array([0.1, 0.2, -0.3]), np.array([0.01, -0.02, 0.03])
    moved = move + np.cross(turn, points - about)
    assert tie @ moved.ravel() == pytest.approx([*move, *turn])


def test_a_tank_pulls_at_its_bolts_with_its_mass_and_its_height(tray):
    how = Joining(onto=6.0)
    found = under_rule(
        tray, on.bolts("foot"), "tank 5 kg, class M1", on=Mount(at=(200, 120, 103)), size=60.0, joining=how
    )
    # By hand: 5 kg and the plate's own mass at 20 g forward, shared by the bolts as a whole.
    first = found.answers[0]
    total = np.sum([u.joint.force for u in first.joints.uses], axis=0)
    assert -total[0] == pytest.approx(20 * G * (5 + tray.mass), rel=2e-3)
    # The tank's centre lies 100 mm over the middle of the sheet: its moment goes into couples of the bolts, 340 apart.
    lift = sum(u.joint.force[2] for u in first.joints.uses if u.joint.at[0] > 200)
    turned = sum(u.joint.moment[1] for u in first.joints.uses)
    assert lift * 340 - turned == pytest.approx(20 * G * 5 * 100, rel=5e-3)
    assert [a.case.value for a in found.answers] == [20.0, 20.0, 8.0, 8.0]
    assert "tank 5 kg, class M1: full tank" in found.line
    assert "ISO 12991" in found._repr_html_()
    assert any("licensed engineer" in n for n in found.notes())
    assert {f.severity for f in found.findings} <= {"stop", "caution", "fine"}


def test_forward_of_the_vehicle_is_where_the_part_says(tray):
    found = under_rule(
        tray, on.bolts("foot"), "tank 10 kg, class M1", forward=(0.0, 1.0, 0.0), up=(0.0, 0.0, -1.0), size=80.0
    )
    ahead, left = found.answers[0].under, found.answers[2].under
    assert -ahead.reaction[:, 1].sum() == pytest.approx(20 * G * (10 + tray.mass), rel=1e-3)
    # Up x forward: left is -z x y = +x.
    assert -left.reaction[:, 0].sum() == pytest.approx(8 * G * (10 + tray.mass), rel=1e-3)


def test_a_winch_s_rope_turns_in_its_fairlead(tray):
    drum = Mount(at=(200, 120, 60))
    lead = Mount(at=(340, 120, 60), holes="eye")
    found = under_rule(tray, on.bolts("foot"), "winch 0.5 kN at 30 deg", on=drum, fairlead=lead, size=80.0)
    for a in found.answers:
        # Drum and fairlead together take the line pull along the rope.
        total = -a.under.reaction[:, :3].sum(axis=0)
        assert total == pytest.approx(np.array(a.case.direction) * 500.0, abs=0.5)
    alone = under_rule(tray, on.bolts("foot"), "winch 0.5 kN at 1 deg", on=drum, size=80.0)
    assert any("No fairlead is stated" in n for n in alone.notes())
    assert any("twice the line pull" in n for n in alone.notes())


def test_a_pull_at_an_eye_is_screened_as_a_pin_plate_and_never_rated(tray):
    found = under_rule(tray, on.bolts("foot"), "recovery 20 kN", on=Mount(at=(340, 120, 3), holes="eye"), size=20.0)
    (pin,) = [u for u in found.answers[0].joints.uses if u.joint.kind == "pin"]
    assert pin.joint.first.end == pytest.approx(60.0, abs=0.1)
    # Bearing by hand, ASME BTH-1 3-3.3: 1.25 Sy / Nd on pin and thickness, design factor 3 in all.
    bearing = 20e3 / (1.25 * 355 * 0.92 * 30 * 6 / 3)
    assert pin.use >= bearing - 1e-9
    assert any("does not rate it" in n for n in found.answers[0].joints.notes())
    assert any("never a tow ball" in n for n in found.notes())


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ({"rule": "winch 4 kN"}, "Mount"),
        ({"on": "here"}, "Mount"),
        ({"fairlead": Mount(at=(0, 0, 0))}, "fairlead"),
        ({"forward": (0.0, 0.0, 1.0)}, "square to forward"),
        ({"forward": (0.0, 0.0, 0.0)}, "direction"),
        ({"up": (math.nan, 0.0, 1.0)}, "direction"),
        ({"on": Mount(at=(0, 0, 0), holes="nowhere")}, "foot 1"),
        ({"on": Mount(at=(0, 0, 0), panel="roof")}, "base"),
        ({"joining": 8.8}, "Joining"),
        ({"supports": "glue"}, "bolts"),
        ({"made": "tray"}, "made part"),
    ],
)
def test_bad_requests_say_what_would_be_valid(tray, given, says):
    wanted = {"made": tray, "supports": on.bolts("foot"), "rule": "battery 10 kg", "size": 60.0, **given}
    with pytest.raises(BadValue, match=says):
        under_rule(**wanted)


@pytest.mark.parametrize("at", [(0, 0), (0, 0, math.inf), "here", None, (0, "a", 0), (True, 0, 0)])
def test_a_mount_stands_at_a_point(at):
    with pytest.raises(BadValue, match="three finite numbers"):
        Mount(at=at)


def test_holes_on_one_line_carry_no_moment_about_it():
    part = tb.Part("HN-L3", sheet="DC01 1.5", base=tb.Outline.rectangle(300, 200)).hole((150, 100), dia=20, name="one")
    made = tb.make(part, SHOP)
    load = Carried(newtons=(0.0, 0.0, -50.0), at=(150.0, 160.0, 30.0), holes="one", name="lamp")
    answer = tb.strength_of(made, "clamped", load, size=25.0, frequencies=0)
    # A rim of one hole carries force and moment: the plate feels both.
    assert answer.under.reaction[:, 2].sum() == pytest.approx(50.0, rel=1e-3)
    with pytest.raises(UnknownName):
        tb.strength_of(made, "clamped", Carried(newtons=(0, 0, 1), at=(0, 0, 0), holes="two"), size=25.0, frequencies=0)


def test_a_tow_eye_and_a_coupling_have_the_rule_s_forces() -> None:
    """(EU) 1005/2010: half the weight of 2500 kg both ways; ADR 62: 1.5 and 0.5 times the trailer's weight of 750 kg."""
    eye = load_rule("tow eye 2500 kg")
    assert [(c.direction, c.value) for c in eye.cases] == [((1, 0, 0), 12262.5), ((-1, 0, 0), 12262.5)]
    assert any("recovery" in c for c in eye.cautions)
    trailer = load_rule("coupling 750 kg")
    assert {round(c.value, 3) for c in trailer.cases} == {11036.25, 3678.75}
    assert (eye.factor, trailer.factor) == (1.0, 1.0)


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ("recovery", "licensed engineer.*'recovery 30 kN'"),
        ("tow eye 2500 kg at 10 deg", "no angle"),
        ("tow eye 2500", "a number with its unit"),
        ("tow eye -3 kg", "greater than 0"),
        ("coupling 3501 kg", "3500"),
        ("coupling 750 kg, class M1", "'coupling' has no options"),
    ],
)
def test_towing_words_that_are_refused(words: str, says: str) -> None:
    with pytest.raises(TinbookError, match=says):
        load_rule(words)
