"""Known answers: what folds and what does not follows from plain geometry, worked out beside each case.

A flat bar as punch, half as wide as `half`, under a ram that is no wider, makes the sums short. t = 1.5, V12
makes r = 0.16 x 12 = 1.92; 90 degrees are formed to 90 / 0.99 (springback table: r/t = 1.28 -> 0.99).
"""

from __future__ import annotations

import math

import pytest
from inmachine import DEMO, box, brake_with, channel, folds, made_of, order, punch_of, said, section, strip

from tinbook.errors import BadValue
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.route.access import beads_after_returns_foul

T, R = 1.5, 1.92
FORMED = math.radians(90 / 0.99)


def deepest_return(web: float, half: float, formed: float = FORMED) -> float:
    """Longest leg of a channel that clears a bar: its inner corner passes the bar's flat side when fully formed.

    From the bend's tangent line the leg's inner face stands at y = web - (r + t) - t, its tip at z = leg. The web
    leans by a/2: the corner is (r + t) sin + y cos - z sin away from the bar's middle (cos and sin of a/2).
    """
    s, c = math.sin(formed / 2), math.cos(formed / 2)
    return ((R + T) * s + (web - (R + T) - T) * c - half) / s


@pytest.mark.parametrize(("web", "half"), [(40, 6), (40, 10), (60, 6), (60, 12), (90, 8), (30, 6)])
def test_u_channel_leg_against_opening(web: float, half: float) -> None:
    """Cases 1-12: 0.2 mm under the leg that the section allows it folds, 0.2 mm over it does not."""
    shop, most = brake_with(half=half, ram=half), deepest_return(web, half)
    assert folds(channel(web, most - 0.2), shop)
    blocked = order(channel(web, most + 0.2), shop)
    assert not blocked.steps
    assert {b.against for b in blocked.blocked} == {"punch"}
    # It overlaps by the excess across the bar: (most + 0.2 - most) sin(a/2) = 0.14 mm.
    assert blocked.blocked[0].depth == pytest.approx(0.2 * math.sin(FORMED / 2), abs=0.02)


def test_the_cure_is_the_leg_that_the_section_allows() -> None:
    """Case 13: the advice names the closed-form leg, to the 0.1 mm below it."""
    web, half = 60, 10
    blocked = order(channel(web, 58), brake_with(half=half, ram=half))
    assert not blocked.steps
    short = [c for b in blocked.blocked for c in b.remedies if "at most" in c]
    assert short
    said_ = float(short[0].split("at most ")[1].split(" mm")[0])
    most = deepest_return(web, half)
    assert most - 0.2 < said_ <= most


def test_deep_channel_is_cured_by_a_relieved_punch() -> None:
    """Case 14: 48 is beyond a bar of 2 x 10 in a web of 50; a neck 8 mm behind the tip lets the leg's tip in.

    Fully formed the tip's inner corner lies at y = 50 cos - 48 sin ~ 0, z ~ (50 + 48) 0.7 = 68: inside the relief
    (42 to 70 high, 8 deep) and off the bar's flank by its half width of 10 only in the other punch.
    """
    part = channel(50, 48)
    assert deepest_return(50, 10) < 48
    blocked = order(part, brake_with(half=10, ram=6))
    assert not blocked.steps
    assert any("gooseneck" in c for b in blocked.blocked for c in b.remedies)
    solved = order(part, brake_with(half=10, ram=6, neck=True))
    assert {s.setup.punch for s in solved.steps[1:]} == {"neck"}


def lips(web: float, leg: float, lip: float) -> Part:
    return channel(web, leg).fold("near.end", "up", leg=lip, tool="V12").fold("far.end", "up", leg=lip, tool="V12")


def test_return_inside_a_narrow_channel_needs_a_relieved_punch() -> None:
    """Case 15: web 60, legs 50, lips 10: the last web fold has leg and lip opposite coming over the punch.

    The lip's free edge is 60 - (r + t) - 10 = 46.6 along the web and 50 up: fully formed
    2.44 + 46.6 cos - 50 sin = -0.5 off the middle at a height of 69. A bar of half 6 is in the way, a neck 8 behind
    (up to 70 high) is not; the leg's own lip, 45 along and 10 up, stays 27 off the back, where the neck bulges by 21.
    """
    part = lips(60, 50, 10)
    assert not folds(part, brake_with(half=6, ram=6))
    solved = order(part, brake_with(half=6, ram=6, neck=True))
    assert solved.steps, said(solved)
    assert solved.steps[-1].setup.punch == "neck"


def test_lips_must_come_before_the_legs() -> None:
    """Case 16: with the legs up, the lip's line lies over the web: no die fits under it, so lips are first."""
    steps = order(lips(70, 34, 12), brake_with(neck=True)).steps
    names = [s.fold for s in steps]
    assert names.index("near.end") < names.index("near")
    assert names.index("far.end") < names.index("far")


def test_closed_box_section_is_impossible() -> None:
    """Case 17: web 60, legs 40, returns of 29 that meet: whatever is last would enclose the punch. It says split."""
    part = lips(60, 40, 29)
    for shop in (DEMO, brake_with(neck=True)):
        blocked = order(part, shop)
        assert not blocked.steps
        assert blocked.proven
        assert all(any("split" in c for c in b.remedies) for b in blocked.blocked)


def test_hat_takes_one_turn_over_at_least_and_no_more() -> None:
    """Case 18: two folds up and two down: one turn-over is the least, and two runs of folds do it."""
    part = channel(50, 30).fold("near.end", "down", leg=20, tool="V12").fold("far.end", "down", leg=20, tool="V12")
    sequence = order(part)
    assert (sum(s.turn_over for s in sequence.steps), sum(s.reset for s in sequence.steps), sequence.proven) == (
        1,
        0,
        True,
    )


def test_z_takes_one_turn_over() -> None:
    """Case 19: one fold up, one down."""
    sequence = order(strip(60).fold("near", "up", leg=30, tool="V12").fold("far", "down", leg=30, tool="V12"))
    assert (sum(s.turn_over for s in sequence.steps), sum(s.reset for s in sequence.steps)) == (1, 0)
    assert "2 steps, 1 turn-over, 0 re-settings" in repr(sequence)
    assert [s.face_up for s in sequence.steps] == [s.direction for s in sequence.steps]


def test_angle_takes_one_step_and_a_flat_blank_none() -> None:
    """Cases 20, 21."""
    assert len(order(strip(60).fold("near", "up", leg=30, tool="V12")).steps) == 1
    flat = order(strip(60))
    assert (flat.steps, flat.blocked, flat.ok) == ((), (), True)


def test_box_needs_pieces() -> None:
    """Case 22: the last two of four returns lie between two that are up: a punch of one piece hits those.

    140 wide less two setbacks of 3.42: the strip is about 133 long; 100 + 20 + 10 is the nearest sum below.
    """
    part = box(200, 140, 25)
    assert not folds(part, brake_with(length=300.0))
    sequence = order(part, brake_with(segments=(10, 20, 30, 100, 100)))
    assert sequence.steps
    whole = [s for s in sequence.steps if not s.setup.pieces]
    pieces = [s for s in sequence.steps if s.setup.pieces]
    assert len(whole) == 2
    assert len(pieces) == 2
    assert all(0.0 <= s.length - sum(s.setup.pieces) <= 12.0 for s in pieces)
    assert sum(s.reset for s in sequence.steps) == 1


def test_box_with_one_open_side_needs_none() -> None:
    """Case 23: three returns: the middle one last needs pieces, the middle one first lets a whole punch stand flush."""
    assert folds(box(200, 140, 25, edges=("near", "right", "far")), brake_with(length=300.0))


def test_pieces_that_do_not_add_up() -> None:
    """Case 24: pieces of 100 only: 133 long less 100 leaves 33, more than the 12 that a punch may be short."""
    assert not folds(box(200, 140, 25), brake_with(segments=(100, 100), length=300.0))


def test_side_returns_against_the_ram() -> None:
    """Cases 25, 26: in pieces the side returns stand beside the punch and meet the ram's corner.

    From the outside of the leaning base the ram's corner (half 40, H = 60 above the tip) is
    t + r (1 - cos) - 40 sin + 60 cos away, with a/2 of the formed angle: 13.9 mm. (Straight up along
    the base; the corner lies over the metal where the base is longer than 40 cos + 60 sin = 71.)
    """
    a = FORMED / 2
    most = T + R * (1 - math.cos(a)) - 40 * math.sin(a) + 60 * math.cos(a)
    shop = brake_with(height=60.0, ram=40.0, segments=(10, 20, 30, 50, 100, 100))
    assert folds(box(220, 200, most - 0.3), shop)
    blocked = order(box(220, 200, most + 0.3), shop)
    assert not blocked.steps
    assert "ram" in {b.against for b in blocked.blocked}


def test_hanging_leg_beside_the_die() -> None:
    """Cases 27, 28: Z; at the second fold the first leg hangs down beside the die, half 6 + 7 = 13 wide.

    The leg hangs on the web's far end by a bend that hollows toward the die. Laid flat, the
    bend begins at web - 2 (r + t) + w/2 from the middle (w the strip, BA = pi/2 (1.92 + 0.41 x 1.5) = 3.98), and the die's
    corner, 0.05 under the sheet, meets it sqrt(r² - (r - 0.05)²) = 0.44 further: a web of 17.4. The leg rests
    from 8.5 mm on, which both do.
    """
    allowance = math.pi / 2 * (R + 0.41 * T)
    edge = 13 + 2 * (R + T) - allowance / 2 - math.sqrt(R**2 - (R - 0.05) ** 2)

    def z(web: float) -> Part:
        return strip(web).fold("near", "up", leg=30, tool="V12").fold("far", "down", leg=30, tool="V12")

    assert folds(z(edge + 0.3))
    blocked = order(z(edge - 0.3))
    assert not blocked.steps
    assert {b.against for b in blocked.blocked} == {"die"}


def test_short_leg_is_a_finding() -> None:
    """Case 29: V12 holds legs from 0.709 x 12 = 8.5 mm (air-bend chart): 7 slips off."""
    found = [f for f in order(strip(60).fold("near", "up", leg=7, tool="V12")).findings if f.code == "fold.leg"]
    assert found[0].severity == "stop"
    assert found[0].limit == pytest.approx(0.709 * 12, abs=0.05)


def tongue(past: float, tool: str) -> Part:
    """An L whose fold stands on the inner edge of its step: beside the fold the plate runs on past the line."""
    corners = [(0.0, 0.0), (300.0, 0.0), (300.0, 120.0), (150.0, 120.0), (150.0, 120.0 + past), (0.0, 120.0 + past)]
    outline = Outline.polygon(corners, ["front", "right", "step", "notch", "rear", "left"])
    return Part("HN-X", sheet="DC01 1.5", base=outline).fold("step", "up", leg=30, tool=tool)


def test_metal_past_the_fold_line_dips_into_the_die() -> None:
    """Cases 47-49: as the base tilts by 45 degrees, what runs on past the line goes down by as much.

    200 past the line it dips 140 deep: into the block and the press table, 26 below. A die of pieces, 100 high on a bed
    60 wide to the front, lets it by: at 60 it is 60 deep, in front of the bed nothing stands. 2 mm past the
    line stay within the opening of a 30 degree die, whole; an 88 degree block has no room beyond the bend at all.
    """
    blocked = order(tongue(200, "VB16"))
    assert not blocked.steps
    assert {b.body for b in blocked.blocked} == {"base"}
    assert {b.against for b in blocked.blocked} <= {"die", "bed"}
    assert not order(tongue(2, "VB16")).steps
    assert [s.setup.tooling for s in order(tongue(2, "V12")).steps] == ["whole"]
    assert [s.setup.tooling for s in order(tongue(200, "V12")).steps] == ["all in pieces"]


def test_bead_that_stands_down_hits_the_die() -> None:
    """Cases 36, 37: a bead 18 wide and 5 deep downward, its edge 5 mm (or 20 mm) from the tangent line: die half 13."""
    near = strip(80).fold("near", "up", leg=30, tool="V12")
    hits = near.bead([(60, 3.42 + 5 + 9), (140, 3.42 + 5 + 9)], "R18x5", "down")
    clears = near.bead([(60, 3.42 + 20 + 9), (140, 3.42 + 20 + 9)], "R18x5", "down")
    blocked = order(hits)
    assert not blocked.steps
    assert {(b.body.split()[0], b.against) for b in blocked.blocked} == {("bead", "die")}
    assert order(clears).steps


def test_folder_bar_limits_the_channel() -> None:
    """Case 38: the nose bar is 42 back at 36 high, then upright: legs up to 36 pass under its slope, 58 do not.

    A channel of 60 on the folder: the leg that is up stands 60 behind the fold (within the bar's 95) or swings over.
    """
    assert folds(channel(60, 30, "F1"))
    blocked = order(channel(60, 58, "F1"))
    assert not blocked.steps
    assert {b.against for b in blocked.blocked} == {"clamp"}


def test_folder_fingers_for_a_box() -> None:
    """Case 39: four returns on the folder: the last two need fingers that fit between the first two."""
    sequence = order(box(220, 160, 20, "F1"))
    assert sequence.steps, said(sequence)
    assert [s.setup.tooling for s in sequence.steps].count("fingers") == 2


def test_hem_takes_two_hits_in_order() -> None:
    """Case 40: begun to 135 degrees, then pressed flat, on a folder without another tool."""
    part = strip(80, sheet="DC01 1.0").hem("near", "closed", "up", leg=12)
    sequence = order(part)
    assert [(s.action, s.angle) for s in sequence.steps] == [("start the hem", 135.0), ("press flat", 180.0)]
    assert sum(s.reset for s in sequence.steps) == 0


def test_hem_on_the_brake_is_begun_over_an_acute_punch() -> None:
    """Case 50: V8 has a 30 degree die: 135 degrees leave 45 between the legs; the acute punch of 28 goes in."""
    part = strip(80, sheet="DC01 1.0").hem("near", "closed", "up", leg=14, tool="V8")
    sequence = order(part)
    assert [(s.action, s.setup.punch) for s in sequence.steps] == [
        ("start the hem", "generic acute punch"),
        ("press flat", "flattening bars"),
    ]
    assert sum(s.reset for s in sequence.steps) == 1


def test_springback_is_set_and_left() -> None:
    """Case 41: 90 / 0.99 = 90.91 to set; the included angle is 89.09."""
    step = order(strip(60).fold("near", "up", leg=30, tool="V12")).steps[0]
    assert step.angle == 90
    assert step.angle_formed == pytest.approx(90 / 0.99)
    assert step.included == pytest.approx(180 - 90 / 0.99)


def test_lines_from_the_gauged_edge() -> None:
    """Cases 42, 43: where the line lies, in the blank and in the part as it is by then.

    Channel, web 60, legs 30: the blank is 30 + 60 + 30 - 2 BD with BD = 2 x 3.42 - BA. The first line lies half a
    strip inside its leg's tangent: blank - (30 - 3.42) - BA/2 from the far edge. For the second the
    part lies on its own leg's edge: 30 - 3.42 + BA/2.
    """
    allowance = math.pi / 2 * (R + 0.41 * T)
    blank = 120 - 2 * (2 * (R + T) - allowance)
    steps = order(channel(60, 30)).steps
    own = 30 - (R + T) + allowance / 2
    assert steps[0].line_blank == pytest.approx(blank - own)
    assert steps[0].line_now == pytest.approx(steps[0].line_blank)
    assert steps[0].gauged == "far.end"
    assert (steps[1].line_now, steps[1].gauged) == (pytest.approx(own), "far.end")
    # A Z whose first leg is up: the second line is gauged from that leg's outside: web - (r + t) + BA/2.
    z = order(strip(60).fold("near", "up", leg=30, tool="V12").fold("far", "down", leg=30, tool="V12")).steps
    if z[1].at_back == "base":
        assert z[1].gauged == f"outside of fold {z[0].fold}"
        assert z[1].line_now == pytest.approx(60 - (R + T) + allowance / 2)


def test_beads_foul_the_rolls_once_the_returns_are_up() -> None:
    """Cases 45, 46: rolls of 70, so within sqrt(35² - (35 - 30)²) + 9 = 43.6 mm of a return of 30 the rolls hit it."""
    assert DEMO.roller is not None
    pan = strip(300, length=300).fold("near", "up", leg=30, tool="V12")
    close = made_of(pan.bead([(60, 40), (240, 40)], "R18x5"))
    found = beads_after_returns_foul(close)
    assert [f.code for f in found] == ["route.bead_after_return"]
    assert found[0].limit == pytest.approx(math.sqrt(35**2 - 5**2) + 9)
    # A return of 15 stays under the shaft (35 - 15 = 20) and 200 mm off the rolls: no matter.
    far = made_of(strip(300, length=300).fold("near", "up", leg=15, tool="V12").bead([(60, 200), (240, 200)], "R18x5"))
    assert beads_after_returns_foul(far) == ()


def test_assumed_tools_are_named() -> None:
    """The supplier's sections are not in the shop file: said once a machine, and beside each step."""
    sequence = order(channel(60, 30))
    assert [f.where for f in sequence.findings if f.code == "route.assumed"] == ["machine 'brake'"]
    assert all(s.setup.assumed for s in sequence.steps)
    own = order(channel(60, 25, "F1"))
    assert not any(s.setup.assumed for s in own.steps)


def test_state_and_table() -> None:
    sequence = order(channel(60, 30))
    for n, s in enumerate(sequence.steps):
        bent = {x.name: x.angle for x in sequence.state(n, 1.0).zones}
        assert bent[s.fold] == pytest.approx(s.angle_formed)
    assert all(a == pytest.approx(0.0, abs=1e-6) for a in (x.angle for x in sequence.state(0, 0.0).zones))
    assert len(sequence.rows()) == 3
    assert "<table>" in sequence._repr_html_()
    for bad in ((2, 0.5), (-1, 0.5), (0, 1.5), (0, -0.1)):
        with pytest.raises(BadValue):
            sequence.state(*bad)


def test_helpers_are_what_they_say() -> None:
    assert punch_of(6, 150).height == 150
    assert section("s", "ram", [(1, 0), (1, 2), (-1, 2), (-1, 0)]).points[0] in {(1, 0), (-1, 0)}
