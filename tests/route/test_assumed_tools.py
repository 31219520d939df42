"""Tools that the shop did not draw prove no stop: what is said is which tool would fold the part."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from pathlib import Path

import pytest
from inmachine import DEMO, box, brake_with, made_of, overlaps, section, strip

import tinbook as tb
from tinbook.errors import BadFile
from tinbook.route.fold_order import fold_sequence
from tinbook.shop.sections import GENERIC_SEGMENTS, generic_beam

LEG = 100.0
TURN = math.radians(90 / 0.99) / 2
"""Half the turn with springback of mild steel: each side of an air bend rises by it."""


def height_for(leg: float) -> float:
    """Height that keeps a leg of a box clear of a plain ram 80 mm wide, mm: worked out by hand.

    The formed bend lies 1.92 (1 - cos a) deep over V12 (radius 1.92), the leg beside it stands as a line
    inclined by a; at 40 mm from the middle it reaches (leg - t - 1.92 (1 - cos a)) / cos a + 40 tan a over the tip.
    """
    return (leg - 1.5 - 1.92 * (1 - math.cos(TURN)) + 40 * math.sin(TURN)) / math.cos(TURN)


def corner() -> tb.Part:
    """Two sides of a box: whichever is folded last, the other stands beside the punch."""
    return box(220, 200, LEG, edges=("near", "right"))


def test_a_deep_box_on_a_brake_that_nobody_drew_is_no_stop_and_the_height_is_named() -> None:
    made = made_of(corner())
    sequence = fold_sequence(made)
    assert (sequence.steps, sequence.verdict) == ((), "not proved")
    found = tb.check(made)
    assert found.ok
    (order,) = found.of("route.order")
    assert (order.severity, "assumed" in order.what) == ("caution", True)
    said = next(f for f in found.of("route.blocked") if "hits the ram" in f.what)
    (high,) = re.findall(r"folds with a punch at least (\d+) mm high, .* in machine 'brake' \(tried\)", said.remedy)
    assert int(high) == pytest.approx(height_for(LEG), abs=1.5)


@pytest.mark.parametrize(("more", "verdict"), [(2.0, "proved"), (-2.0, "stopped")])
def test_the_height_that_was_named_holds_once_it_is_drawn(more: float, verdict: str) -> None:
    shop = brake_with(half=8.0, height=height_for(LEG) + more, ram=40.0, segments=GENERIC_SEGMENTS)
    assert fold_sequence(made_of(corner(), shop)).verdict == verdict


def lipped_corner(tool: str = "V12") -> tb.Part:
    part = box(100, 100, 30, tool, edges=("near", "right"))
    for edge in ("near", "right"):
        part = part.fold(f"{edge}.end", "up", leg=15, tool=tool, start=20, stop=80)
    return part


BRAKE = """
base = "demo"

[sections."goose neck"]
kind = "punch"
points = [[0, 0], [4, 4.767], [4, 9], [-20, 42], [-20, 70], [13, 92], [13, 140], [-13, 140], [-13, 98], [-42, 80], [-42, 50], [-6, 7.15], [0, 0]]

[sections."slim ram"]
kind = "ram"
points = [[30, 0], [30, 250], [-30, 250], [-30, 0], [30, 0]]

[sections."round die"]
kind = "die"
points = [[14, 0], [-14, 0], [-14, -90], [14, -90], [14, 0]]

[sections."slim table"]
kind = "bed"
points = [[45, 0], [-45, 0], [-45, -250], [45, -250], [45, 0]]

[machines.own_brake]
title = "Own press brake, 1500 mm, 400 kN"
kind = "brake"
who = "Quillback Workshop"
own = true
length = 1500
force = "400 kN"
throat = 250
daylight = 450
stroke = 150
ram = "slim ram"
bed = "slim table"

[dies.G12]
machine = "own_brake"
section = "round die"
opening = 12
die_angle = 60
shoulder = 1.5
punch_nose = 0.8
max_thickness = { "mild steel" = 2.0 }
segments = [10, 15, 20, 25, 40, 50, 100]

[punches.goose]
machine = "own_brake"
section = "goose neck"
nose = 0.8
angle = 80
segments = [10, 15, 20, 25, 40, 50, 100]
horn = 15
foot = 20
"""
"""A brake with a goose-neck set whose end pieces are horns: 15 mm free above a foot 20 mm high."""


@pytest.mark.parametrize(("horns", "verdict"), [("horn = 15\nfoot = 20\n", "proved"), ("horn = 4\nfoot = 20\n", "stopped"), ("", "stopped")])  # fmt: skip
def test_a_brake_with_horn_pieces_is_data(horns: str, verdict: str, tmp_path: Path) -> None:
    """Lips of 15 mm hang 15 over the fold's ends, which the punch may leave free by 6: 9 mm of horn are the least."""
    file = tmp_path / "shop.toml"
    file.write_text(BRAKE.replace("horn = 15\nfoot = 20\n", horns), "utf-8")
    made = made_of(lipped_corner("G12"), tb.Shop.load(file))
    order = fold_sequence(made)
    assert order.verdict == verdict, order
    if verdict == "proved":
        assert any(s.setup.punch == "goose" and s.setup.pieces for s in order.steps)
        for move in order.moves:
            found = overlaps(made, order.planner, move, (0.0, 0.5, 1.0))
            assert max(found.values()) < 1e-3, (move.fold, found)


def test_horns_need_a_foot(tmp_path: Path) -> None:
    file = tmp_path / "shop.toml"
    file.write_text(BRAKE.replace("foot = 20\n", ""), "utf-8")
    with pytest.raises(BadFile, match="horn and foot"):
        tb.Shop.load(file)


def test_horn_end_pieces_are_named_where_lips_close_the_ends() -> None:
    """Lips of 15 mm hang over the ends; a punch may end 6 mm short of the fold's end, so 9 mm of horn are the least."""
    sequence = fold_sequence(made_of(lipped_corner()))
    assert sequence.verdict == "not proved"
    (horns,) = {h for b in sequence.blocked for c in b.remedies for h in re.findall(r"horn end pieces of (\d+) mm", c)}
    assert 9 <= int(horns) <= 15


def test_drawn_ram_and_punch_stop_although_die_and_bed_are_assumed() -> None:
    shop = brake_with(half=8.0, height=105.0, ram=40.0, segments=GENERIC_SEGMENTS)
    sequence = fold_sequence(made_of(corner(), shop))
    assert sequence.verdict == "stopped"
    (said,) = [f for f in sequence.findings if f.code == "route.assumed"]
    assert said.what.endswith("die, bed; drawn: punch, ram")


def test_a_bed_that_nobody_drew_is_lowered_by_a_number() -> None:
    """A leg of 160 hangs before a die of 100 on a plain bed, 120 mm wide, 55 mm beside the middle: by 60 mm too low."""
    part = strip(60).fold("near", "down", leg=160, tool="V12").fold("far", "up", leg=160, tool="V12")
    sequence = fold_sequence(made_of(part))
    assert sequence.verdict == "not proved", sequence
    for b in sequence.blocked:
        assert b.remedies[0].startswith("folds with a die at least 60 mm higher")


def test_a_section_that_is_marked_as_assumed_counts_as_assumed() -> None:
    beam = replace(section("beam", "ram", list(generic_beam("ram", 40.0).points)), assumed=True)
    shop = brake_with(half=8.0, height=105.0, ram=40.0, segments=GENERIC_SEGMENTS)
    shop = replace(shop, sections=tuple(beam if s.key == "beam" else s for s in shop.sections))
    assert fold_sequence(made_of(corner(), shop)).verdict == "not proved"


def test_a_usual_punch_that_is_too_high_for_the_daylight_is_no_stop() -> None:
    """105 mm of punch on 100 mm of die in 190 mm of daylight: lower ones may be there."""
    machines = tuple(replace(m, daylight=190.0) if m.key == "brake" else m for m in DEMO.machines)
    sequence = fold_sequence(
        made_of(strip(60).fold("near", "up", leg=30, tool="V12"), replace(DEMO, machines=machines))
    )
    (said,) = [f for f in sequence.findings if f.code == "route.tool"]
    assert (said.severity, sequence.verdict) == ("caution", "not proved")
    assert "daylight" in said.what


def test_bars_that_close_a_fold_are_no_punch_whose_height_is_told() -> None:
    """Legs turned by 150 are begun over a punch and closed over a bar: the height that is named is the punch's."""
    part = strip(120, length=250).fold("near", leg=35, angle=150, tool="V12").fold("far", leg=35, angle=150, tool="V12")
    sequence = fold_sequence(made_of(part))
    assert sequence.blocked
    assert all(any("folds with a punch at least" in c for c in b.remedies) for b in sequence.blocked)
