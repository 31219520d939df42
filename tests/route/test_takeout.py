"""How a part comes off its tools: known answers with their reasons, and the kernel as witness of every way."""

from __future__ import annotations

import cadquery as cq
import numpy as np
import pytest
from inmachine import DEMO, angles_of, box, brake_with, channel, common, made_of, strip, sweep_of, tools, work

from tinbook.part.part import Part
from tinbook.route.fold_order import fold_sequence
from tinbook.route.planner import Hit
from tinbook.route.steps import FoldPlan
from tinbook.shop.shop import Shop

RISES = ("punch", "ram", "clamp")
STAYS = ("die", "bed", "folder bed")
"""What goes up before a part is taken out, and what stays; a folding beam swings back out of the way."""
PIECES = (10.0, 20.0, 30.0, 50.0, 50.0, 100.0)
WAYS = (4.0, 12.0, 30.0, 60.0, 120.0)
"""mm that the kernel moves part and tools apart."""


def lipped_channel() -> Part:
    return channel(60, 50).fold("near.end", "up", leg=10, tool="V12").fold("far.end", "up", leg=10, tool="V12")


def order(part: Part, shop: Shop = DEMO) -> FoldPlan:
    sequence = fold_sequence(made_of(part, shop))
    assert sequence.steps
    return sequence


def shared(sequence: FoldPlan, move: Hit, way: tuple[float, float, float]) -> float:
    """Common volume of the folded part and the tools moved by way: rising ones as it is, standing ones against it."""
    motion = sweep_of(sequence.planner, move.fold, move.level, move.setup)
    k = int(np.argmin(abs(motion.angles - np.radians(motion.strip.angle))))
    part = work(sequence.made, motion, move.fold, angles_of(sequence.planner, move.before), k)
    total = 0.0
    for name, solids in tools(move.setup, motion, k).items():
        if name in (*RISES, *STAYS):
            x, y, z = way
            to = cq.Location(cq.Vector(x, y, -z if name in STAYS else z))
            total += sum(common(part, s.moved(to)) for s in solids)
    return total


def endways(sequence: FoldPlan, move: Hit) -> float:
    return max(shared(sequence, move, (d * 3, 0.0, 0.0)) for d in WAYS)


def lifted(sequence: FoldPlan, move: Hit) -> float:
    return max(shared(sequence, move, (0.0, 0.0, d)) for d in WAYS)


def forward(sequence: FoldPlan, move: Hit) -> float:
    """The part goes to the side of its leg: as it sees it, the tools go to the other."""
    sign = 1.0 if move.setup.leg_back else -1.0
    return max(shared(sequence, move, (0.0, sign * d, 0.0)) for d in WAYS)


def test_a_channel_lifts_off_a_straight_punch() -> None:
    """Its legs stand beside the bar, upright or leaning outward as it leans: nothing is above the punch."""
    sequence = order(channel(60, 30))
    assert [s.out for s in sequence.steps] == ["lift", "lift"]
    assert all(lifted(sequence, m) < 1e-3 for m in sequence.moves)


def test_a_box_lifts_off_pieces_that_end_beside_its_returns() -> None:
    sequence = order(box(200, 140, 25), brake_with(segments=PIECES))
    assert {s.out for s in sequence.steps} == {"lift"}
    assert all(lifted(sequence, m) < 1e-3 for m in sequence.moves)


def test_lips_in_the_relief_of_a_punch_hold_it() -> None:
    """The last leg's lip stands in the neck (case 15): the punch's foot below it cannot rise, but both ends are open."""
    sequence = order(lipped_channel(), brake_with(half=6, ram=6, neck=True))
    assert sequence.steps[-1].setup.punch == "neck"
    assert [s.out for s in sequence.steps] == ["lift", "lift", "lift", "endways"]
    assert lifted(sequence, sequence.moves[-1]) > 1.0
    assert endways(sequence, sequence.moves[-1]) < 1e-3
    assert "slide it off endways" in " ".join(sequence.steps[-1].notes)


def test_with_its_ends_closed_it_is_stuck() -> None:
    """The same with a return at either end: a punch in pieces between them forms it, and then nothing comes out straight."""
    part = lipped_channel().fold("left", "up", leg=20, tool="V12").fold("right", "up", leg=20, tool="V12")
    sequence = order(part, brake_with(half=6, ram=6, neck=True, segments=PIECES))
    assert [s.out for s in sequence.steps].count("") == 1
    last = next(n for n, s in enumerate(sequence.steps) if not s.out)
    assert lifted(sequence, sequence.moves[last]) > 1.0
    assert endways(sequence, sequence.moves[last]) > 1.0
    assert [f.severity for f in sequence.findings if f.code == "route.takeout"] == ["caution"]
    assert sequence.ok


def test_an_acute_leg_comes_forward_from_under_the_clamp() -> None:
    """Turned 120 the leg leans over the nose bar, which so cannot rise; pulled toward the leg's side it is free."""
    sequence = order(strip(80).fold("near", "up", leg=30, angle=120, tool="F1"))
    assert [s.out for s in sequence.steps] == ["forward"]
    (move,) = sequence.moves
    assert lifted(sequence, move) > 1.0
    assert forward(sequence, move) < 1e-3


@pytest.mark.parametrize("tool", ["V12", "VB16", "F1"])
def test_an_angle_is_free(tool: str) -> None:
    sequence = order(strip(60).fold("near", "up", leg=30, tool=tool))
    assert [s.out for s in sequence.steps] == ["lift"]
    assert lifted(sequence, sequence.moves[0]) < 1e-3
