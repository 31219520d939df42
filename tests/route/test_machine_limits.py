"""What a machine can do at all: force, daylight, stroke, throat, angle and nose of its tools; answers by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from inmachine import DEMO, brake_with, channel, made_of, order, said, strip

from tinbook.errors import UnknownName
from tinbook.route.fold_order import fold_sequence
from tinbook.shop.sections import Punch

T, R = 1.5, 1.92
FORMED = math.radians(90 / 0.99)
"""The angle set, for the springback of a right angle."""


def test_force_against_the_rating() -> None:
    """Case 30: F = 650 t² L / V, by the tensile strength over 450: 1.5, 200, V12, 410 MPa: 22.2 kN."""
    part = strip(60).fold("near", "up", leg=30, tool="V12")
    step = order(part).steps[0]
    assert step.force == pytest.approx(650 * 2.25 * 200 / 12 * 410 / 450)
    assert step.rating == 1_000_000
    weak = order(part, brake_with(force=20_000.0))
    assert [f.severity for f in weak.findings if f.code == "fold.force"] == ["stop"]
    assert not weak.ok
    bottomed = order(strip(60).fold("near", "up", leg=30, tool="VB16")).steps[0]
    assert bottomed.force == pytest.approx(4 * 650 * 2.25 * 200 / 16 * 410 / 450)  # common practice: four times


def test_daylight() -> None:
    """Case 31: a punch of 150 and the usual die of 100 do not go under a ram that opens to 240."""
    part = strip(60).fold("near", "up", leg=30, tool="V12")
    shut = order(part, brake_with(daylight=240.0))
    assert [f.code for f in shut.findings if f.severity == "stop"] == ["route.tool"]
    assert order(part, brake_with(daylight=260.0)).steps


def test_stroke() -> None:
    """Cases 51, 52: the own press, V block and blade all drawn: what their heights lack of daylight - stroke is packed.

    The blade goes V/2 tan(a/2) into a block of V: 16/2 tan 45.45 = 8.1 mm.
    """
    part = strip(60).fold("near", "up", leg=30, tool="VB16")
    punch, block = DEMO.section(DEMO.punch("blade").section), DEMO.section(DEMO.tool("VB16").section)  # type: ignore[union-attr]
    down = punch.height + block.height - 8 * math.tan(FORMED / 2)

    def said_at(stroke: float) -> list[str]:
        machines = tuple(replace(m, daylight=400.0, stroke=stroke) if m.key == "press" else m for m in DEMO.machines)
        (step,) = order(part, replace(DEMO, machines=machines)).steps
        return [n for n in step.notes if n.startswith("pack ")]

    assert said_at(400.0 - down + 1.0) == []
    assert said_at(400.0 - down - 25.0) == [
        "pack the die or the punch up by 25 mm: the ram's stroke ends above the bend"
    ]


def test_throat() -> None:
    """Cases 32, 33: a line 300 from both edges of a plate wider than the gap between the frames, throat 200."""
    part = strip(300, length=500).fold("near", "up", leg=300, tool="V12")
    deep = order(part, brake_with(throat=200.0, between_frames=400.0))
    assert not deep.steps
    # It lies 300 - 2 (r + t) + BA and a bit behind: what is over 200 is said.
    assert deep.blocked[0].against == "frame"
    assert deep.blocked[0].depth == pytest.approx(300 - (R + T) + math.pi / 4 * (R + 0.41 * T) - 200, abs=0.01)
    assert order(part, brake_with(throat=200.0, between_frames=600.0)).steps


def test_angle_of_the_tools() -> None:
    """Case 34: a bar with an 80 degree tip turns 100 at most; 105 needs a sharper punch. V16's 60 degree die would."""
    part = strip(60).fold("near", "up", leg=30, angle=105, tool="V16")
    found = order(part, brake_with())
    assert [f.code for f in found.findings if f.severity == "stop"] == ["route.tool"]
    assert order(part, DEMO).steps[0].setup.punch == "generic acute punch"


def test_punch_too_blunt_for_the_inside_radius() -> None:
    """Case 35: a nose of 3 mm cannot press the 1.92 mm that V12 makes."""
    shop = brake_with()
    fat = Punch(key="fat", machine="brake", section="bar", nose=3.0, angle=80, source="own data")
    shop = replace(shop, punches=(fat,))
    found = order(strip(60).fold("near", "up", leg=30, tool="V12"), shop)
    assert "nose of 3 mm" in said(found)


def test_a_machine_that_has_not_the_tool() -> None:
    """Case 44: the blank is drawn to V12; another machine would need another blank, so it is refused with a remedy."""
    sequence = fold_sequence(made_of(channel(60, 30)), "press")
    assert not sequence.steps
    assert [f.code for f in sequence.findings] == ["route.machine"] * 2
    assert "VB16" in sequence.findings[0].remedy
    with pytest.raises(UnknownName, match="folder, press, brake"):
        fold_sequence(made_of(channel(60, 30)), "anvil")
