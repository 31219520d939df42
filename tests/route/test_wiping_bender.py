"""A wiping bender: its limits, mark and force by hand, its roller against the leg, and its steps against the kernel."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

import cadquery as cq
import numpy as np
import pytest
from inmachine import angles_of, box, channel, common, made_of, overlaps, strip, sweep_of, tools, work
from OCP.BRepExtrema import BRepExtrema_DistShapeShape

import tinbook as tb
from tinbook.errors import BadFile
from tinbook.part.part import Part
from tinbook.route.fold_order import fold_sequence
from tinbook.shop.shop import Shop

NOSE, ROLLER, LEAD, T = 2.0, 12.0, 16.0, 1.5
BENDER = f"""
base = "demo"

[machines.bender]
title = "Wiping bender, 1000 mm, 40 kN at the roller"
kind = "folder"
who = "Quillback Workshop"
own = true
length = 1000
force = "40 kN"

[wiping_benders.W1]
machine = "bender"
nose_radius = {NOSE}
roller = {ROLLER}
lead = {LEAD}
max_angle = 110
max_thickness = {{ "mild steel" = 2.0 }}
"""


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Shop:
    file = tmp_path_factory.mktemp("shop") / "shop.toml"
    file.write_text(BENDER, "utf-8")
    return Shop.load(file)


def corner(angle: float = 90.0, leg: float = 40.0) -> Part:
    return strip(80).fold("near", "up", leg=leg, angle=angle, tool="W1")


# --- what the tool says of itself ----------------------------------------------------------------


def test_a_roller_that_would_meet_the_bed_is_refused(tmp_path: Path) -> None:
    file = tmp_path / "shop.toml"
    file.write_text(BENDER.replace(f"lead = {LEAD}", "lead = 11"), "utf-8")
    with pytest.raises(BadFile, match=r"lead.*at least the roller's radius of 12 mm"):
        Shop.load(file)


@pytest.mark.parametrize(
    ("angle", "least"),
    [
        (90.0, 3.5 + 16.0 + 1.5),  # the apex lies (2 + 1.5) tan 45 from the bend's end
        (60.0, 3.5 * math.tan(math.radians(30.0)) + 16.0 + 1.5),
        (110.0, 3.5 + 16.0 + 1.5),  # to the tangent of the outside: r + t
    ],
)
def test_the_shortest_leg_ends_a_thickness_past_the_roller(shop: Shop, angle: float, least: float) -> None:
    assert shop.tool("W1").shortest_leg(T, angle, NOSE) == pytest.approx(least)
    for leg, fits in ((least + 0.01, True), (least - 0.01, False)):
        found = tb.check(tb.make(corner(angle, leg), shop))
        assert found.ok is fits, found.stops


def test_angle_radius_and_mark(shop: Shop) -> None:
    """The nose makes the radius; 110 degrees are all; the line lies one nose radius out, under the bar's edge."""
    (s,) = made_of(corner(), shop).strips
    assert (s.radius, s.bend.mark_at, s.bend.rule) == (NOSE, NOSE, "DIN 6935")
    assert [f.code for f in tb.make(corner(111.0), shop).findings if f.severity == "stop"] == ["bend.angle"]
    (step,) = fold_sequence(made_of(corner(), shop)).steps
    assert (step.setup.process, step.setup.stroke.clamps, step.setup.stroke.line) == (
        "wipe",
        True,
        "the nose bar's edge",
    )
    assert step.sight is not None
    # Off the middle of the bend by half the allowance less the nose radius, as the tool has it.
    assert step.sight.off == pytest.approx(s.allowance / 2 - NOSE)


def test_force_by_hand(shop: Shop) -> None:
    """F = 0.33 TS w t² / D (Groover, from memory): 0.33 · 410 · 200 · 2.25 / 16 = 3805 N for DC01 to 410 MPa."""
    (step,) = fold_sequence(made_of(corner(), shop)).steps
    assert step.force == pytest.approx(3805.3, abs=0.1)
    (said,) = tb.check(made_of(corner(), shop)).of("fold.force")
    assert (said.severity, said.source, said.limit) == ("fine", "Groover", 40.0)


# --- its motion ------------------------------------------------------------------------------------


@pytest.mark.parametrize("leg_back", [False, True])
def test_the_roller_touches_the_leg_all_the_way(shop: Shop, leg_back: bool) -> None:
    """The kernel's distance from the roller to the part is the gap of 0.05 mm at each angle, from flat to formed."""
    made = made_of(corner(110.0), shop)
    order = fold_sequence(made)
    planner = order.planner
    setup = next(f[0] for f, _ in planner.families(0, 1)[0] if f[0].leg_back is leg_back)
    motion = sweep_of(planner, 0, 1, setup)
    for share in (0.0, 0.25, 0.5, 0.75, 1.0):
        k = round(share * (len(motion.angles) - 1))
        (roller,) = tools(setup, motion, k)["roller"]
        body = work(made, motion, 0, {}, k)
        gap = BRepExtrema_DistShapeShape(roller.wrapped, body.wrapped).Value()
        assert gap == pytest.approx(0.05, abs=0.01), (share, gap)


def test_the_arm_is_rigid_but_for_the_even_bend(shop: Shop) -> None:
    """From the nose's centre to the roller's: sqrt((r + t + R + gap)² + lead²), flat and formed alike.

    Between them the strip is drawn evenly bent, which stands out from the sheet wrapped round the nose by less than a
    fifth of its width (w (1/a - 1/A) (1 - cos a), at most 0.19 w at a = 45 of A = 90 degrees): the arm gives as much.
    """
    planner = fold_sequence(made_of(corner(), shop)).planner
    setup = next(f[0] for f, _ in planner.families(0, 1)[0] if not f[0].leg_back)
    motion = sweep_of(planner, 0, 1, setup)
    turn, place = motion.stroke.tool("arm", motion)
    down = ROLLER + 0.05
    roller = place + down * np.column_stack((np.sin(turn), -np.cos(turn)))
    arm = np.hypot(*(roller - np.array((0.0, NOSE + T))).T)
    rigid = math.hypot(NOSE + T + down, LEAD)
    width = planner.made.strips[0].allowance
    formed = int(np.argmin(abs(np.degrees(motion.angles) - 90.0)))
    assert arm[0] == pytest.approx(rigid, abs=1e-9)
    assert arm[formed] == pytest.approx(rigid, abs=0.01)
    assert (arm >= rigid - 0.01).all()
    assert (arm <= rigid + 0.2 * width).all()


# --- against the kernel ----------------------------------------------------------------------------

FOLDED: dict[str, Callable[[], Part]] = {
    "corner of 110 degrees": lambda: corner(110.0),
    "channel": lambda: channel(70, 25, "W1"),
    "Z": lambda: strip(90).fold("near", "up", leg=30, tool="W1").fold("far", "down", leg=30, tool="W1"),
    "leg beyond a leg": lambda: strip(120).fold("near", "up", leg=60, tool="W1").fold("near.end", "down", leg=30, tool="W1"),
    "two angles": lambda: strip(110).fold("near", "down", leg=30, angle=45, tool="W1").fold("far", "up", leg=40, angle=100, tool="W1"),
}  # fmt: skip


@pytest.mark.parametrize("name", FOLDED)
def test_no_step_shares_metal_with_the_bender(shop: Shop, name: str) -> None:
    made = made_of(FOLDED[name](), shop)
    order = fold_sequence(made)
    assert order.steps, order
    for move in order.moves:
        found = overlaps(made, order.planner, move, (0.0, 0.5, 1.0))
        assert {tool for _, tool in found} == {"clamp", "folder bed", "roller", "carrier"}
        assert max(found.values()) < 1e-3, (made.strips[move.fold].name, found)


CLASHING: dict[str, tuple[Callable[[], Part], str]] = {
    "box": (lambda: box(200, 140, 30, "W1"), "clamp"),
    "lip over the roller": (
        lambda: strip(100).fold("near", "up", leg=32, tool="W1").fold("near.end", "down", leg=22, tool="W1"),
        "roller",
    ),
}


@pytest.mark.parametrize("name", CLASHING)
def test_every_clash_shares_metal_with_what_it_names(shop: Shop, name: str) -> None:
    part, against = CLASHING[name]
    made = made_of(part(), shop)
    order = fold_sequence(made)
    checked = set()
    for (fold, level), tries in order.tried.clashes.items():
        for clash, setup, levels, sweep in tries[:4]:
            if clash.against not in {p.name for p in setup.bodies}:
                continue
            deep = sweep.measured(clash, setup, levels)
            motion = sweep_of(order.planner, fold, level, setup)
            k = int(np.argmin(abs(np.degrees(motion.angles) - deep.worst)))
            body = work(made, motion, fold, angles_of(order.planner, levels), k)
            shared: list[cq.Shape] = tools(setup, motion, k)[clash.against]
            assert sum(common(body, s) for s in shared) > 0.01, (made.strips[fold].name, deep, setup.key)
            checked.add(clash.against)
    assert against in checked, checked
