"""The search against trying everything, its bounds, and that the same part gives the same answer."""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from bycount import NONE, added, cheapest, ranks_of
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from inmachine import DEMO, box, brake_with, channel, made_of, strip

from strategies import parts
from tinbook.making.resolve import make
from tinbook.part.part import Part
from tinbook.route.cost import unweighed
from tinbook.route.fold_order import fold_sequence
from tinbook.route.moving import search_sweep
from tinbook.route.planner import Planner
from tinbook.route.search import search
from tinbook.route.shadows import shadow, whole_shadow
from tinbook.shop.tools.strokes import Motion
from zoo import ZOO, made_zoo


def hat() -> Part:
    return channel(50, 30).fold("near.end", "down", leg=20, tool="V12").fold("far.end", "down", leg=20, tool="V12")


def stairs(count: int) -> Part:
    part, edge = strip(40), "near"
    for n in range(count):
        part = part.fold(edge, "up" if n % 4 in (0, 3) else "down", leg=25, tool="V12", name=f"s{n}")
        edge = f"s{n}.end"
    return part


SMALL = {
    "channel": (lambda: channel(60, 30), DEMO),
    "deep channel, two punches": (lambda: channel(60, 50), brake_with(half=10, ram=6, neck=True)),
    "hat": (hat, DEMO),
    "box": (lambda: box(200, 140, 25), brake_with(segments=(10, 20, 30, 100, 100))),
    "folder box": (lambda: box(220, 160, 20, "F1"), DEMO),
    "stairs of 5": (lambda: stairs(5), brake_with(ram=40.0)),
    "stairs of 6": (lambda: stairs(6), brake_with(ram=40.0)),
    "two tools": (lambda: strip(80).fold("near", "up", leg=30, tool="V12").fold("far", "up", leg=30, tool="V16").fold("right", "down", leg=30, tool="V12"), DEMO),
    "hem and folds": (lambda: strip(80, sheet="DC01 1.0").fold("near", "up", leg=30).hem("near.end", "closed", "up", leg=10).fold("far", "up", leg=20), DEMO),
    "impossible": (lambda: channel(40, 60), brake_with()),
}  # fmt: skip


@pytest.mark.parametrize("name", SMALL)
def test_the_same_optimum_as_trying_everything(name: str) -> None:
    part, shop = SMALL[name]
    made = made_of(part(), shop)
    found = search(Planner(made))
    assert found.proven
    best = cheapest(Planner(made))
    assert (unweighed(found.cost) if found.moves else None) == best
    if found.moves:
        planner, last, total = Planner(made), None, NONE
        for move in found.moves:
            total = added(total, ranks_of(planner, last, move))
            last = move
        assert total == best


WHOLE_ZOO = [name for name in sorted(ZOO) if 1 <= len(made_zoo(name).strips) <= 6]


@pytest.mark.parametrize("name", WHOLE_ZOO)
def test_the_same_optimum_for_every_part_of_the_zoo(name: str) -> None:
    """Up to 6 folds; by hand folder, V-block press, the supplier's brake and over a bar, possible or not."""
    found = search(Planner(made_zoo(name)))
    assert found.proven
    assert (unweighed(found.cost) if found.moves else None) == cheapest(Planner(made_zoo(name)))


def test_the_zoo_is_folded_in_every_way() -> None:
    made = [made_zoo(name) for name in WHOLE_ZOO]
    ways = {m.shop.tool(s.bend.tool).process if s.bend.tool else "by hand" for m in made for s in m.strips}
    assert ways == {"air", "bottom", "fold", "by hand"}
    assert len(WHOLE_ZOO) >= 25


@settings(max_examples=8, deadline=None, suppress_health_check=list(HealthCheck))
@given(part=parts(forms=False))
def test_random_parts_of_up_to_four_folds(part: Part) -> None:
    made = make(part, DEMO)
    if not made.ok or not 1 <= len(made.strips) <= 4 or any(not s.bend.tool for s in made.strips):
        return
    planner = Planner(made)
    if any(not planner.families(n, 1)[0] for n in range(len(made.strips))):
        return
    found = search(planner)
    if not found.proven:
        return
    assert (unweighed(found.cost) if found.moves else None) == cheapest(planner)


def test_states_and_bends_in_every_step_follow_on() -> None:
    sequence = fold_sequence(made_of(hat()))
    levels = sequence.moves[0].before
    assert levels == (0, 0, 0, 0)
    for move in sequence.moves:
        assert move.before == levels
        levels = (*levels[: move.fold], move.level, *levels[move.fold + 1 :])
    assert levels == (1, 1, 1, 1)
    assert [s.number for s in sequence.steps] == [1, 2, 3, 4]


def test_an_order_is_proved_or_not_proved_or_stopped() -> None:
    """A channel folds; a clock that strikes at once answers nothing; a leg longer than the web lets in is stopped."""
    assert fold_sequence(made_of(channel(60, 30))).verdict == "proved"
    assert fold_sequence(made_of(strip(60))).verdict == "proved"
    assert fold_sequence(made_of(channel(60, 30)), seconds=0.0).verdict == "not proved"
    assert fold_sequence(made_of(channel(40, 60), brake_with())).verdict == "stopped"
    weak = fold_sequence(made_of(channel(60, 30), brake_with(force=20_000.0)))
    assert weak.steps
    assert weak.verdict == "stopped"


def test_a_clock_cancels_and_says_so() -> None:
    made = made_of(stairs(8))
    none = fold_sequence(made, seconds=0.0)
    assert none.cancelled
    assert not none.steps
    assert not none.proven
    assert [f.code for f in none.findings if f.severity == "stop"] == ["route.order"]
    assert "clock" in none.findings[0].what


def test_a_clock_that_ends_the_improving_leaves_the_best_so_far(monkeypatch: pytest.MonkeyPatch) -> None:
    """A clock of our own that strikes after so many looks: the order that stood by then is verified, and says so."""
    made = made_of(stairs(8))
    whole = fold_sequence(made)
    told = []
    for strikes in (5, 60, 400):
        looks = iter([0.0] * strikes)
        monkeypatch.setattr("tinbook.route.search.time.monotonic", lambda looks=looks: next(looks, 1e9))
        found = fold_sequence(replace(made), seconds=10.0)
        told.append((bool(found.steps), found.cancelled))
        if found.steps:
            assert not found.proven
            planner = Planner(made)
            assert all(planner.possible(m) for m in found.moves)
            assert sum(s.turn_over for s in found.steps) >= sum(s.turn_over for s in whole.steps)
            assert "the search was ended" in next(f.what for f in found.findings if f.code == "route.order")
    assert told[0] == (False, True)
    assert (True, True) in told


def test_little_effort_gives_a_verified_answer_that_is_not_called_the_best() -> None:
    made = made_of(stairs(7))
    planner = Planner(made)
    found = search(planner, effort=40)
    assert found.moves
    assert not found.proven
    assert all(planner.possible(m) for m in found.moves)
    assert search(Planner(made), effort=40).cost == found.cost
    sequence = fold_sequence(made, effort=40)
    assert [f.severity for f in sequence.findings if f.code == "route.order"] == ["caution"]


def test_same_answer_in_every_process() -> None:
    code = """
from tinbook.making.resolve import make
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.route.fold_order import fold_sequence
from tinbook.shop.shop import Shop
part = Part("HN-X", sheet="DC01 1.5", base=Outline.rectangle(200.0, 50, ("near", "right", "far", "left")))
for edge, way, leg in (("near", "up", 30), ("far", "up", 30), ("near.end", "down", 20), ("far.end", "down", 20)):
    part = part.fold(edge, way, leg=leg, tool="V12")
print(fold_sequence(make(part, Shop.demo())).rows())
"""
    root = Path(__file__).resolve().parents[2]
    said = set()
    for seed in ("1", "2"):
        env = dict(os.environ, PYTHONHASHSEED=seed, PYTHONPATH=str(root / "kit"))
        done = subprocess.run([sys.executable, "-c", code], env=env, capture_output=True, text=True, check=True)
        said.add(done.stdout)
    assert said == {str(fold_sequence(made_of(hat())).rows()) + "\n"}


@given(at=st.integers(0, 3000), wide=st.integers(0, 4))
def test_the_sweep_misses_nothing(at: int, wide: int) -> None:
    """A thing that comes within reach for a few samples of 3001 only, its distance honest, is found."""
    place = np.arange(3001.0)

    def gap(k: np.ndarray) -> np.ndarray:
        return np.asarray(np.maximum(abs(place[k] - at) - wide, 0.0))

    hit, _ = search_sweep(gap, lambda i, j: 1.001 * (place[j] - place[i]), 3001)
    assert hit is not None
    assert abs(hit - at) <= wide
    far, looked = search_sweep(lambda k: gap(k) + 400.0, lambda i, j: 1.0 * (place[j] - place[i]), 3001)
    assert far is None
    assert looked < 40


def test_shadow_of_a_stretch() -> None:
    """A block from x 0 to 10, 3 wide and 2 high, and one beside it: what a stretch sees, ends not included."""

    def block(x0: float, x1: float, y: float) -> list[list[float]]:
        ends = [[[x, y, 0], [x, y + 3, 0], [x, y + 3, 2], [x, y, 2]] for x in (x0, x1)]
        return [*ends[0], *ends[1]]

    pieces = np.array([block(0, 10, 0), block(10, 20, 5)], dtype=float)
    assert shadow(pieces, 0, 20).area == pytest.approx(12.0)
    assert shadow(pieces, 0, 10).area == pytest.approx(6.0)
    assert shadow(pieces, 20, 30).is_empty
    # A wedge that grows from nothing at x = 0 to 3 wide at x = 10: up to x = 5 it is 1.5 wide.
    wedge = np.array(
        [[[0, 0, 0], [10, 0, 0], [10, 3, 0], [10, 3, 0], [0, 0, 2], [10, 0, 2], [10, 3, 2], [10, 3, 2]]], dtype=float
    )
    assert shadow(wedge, 0, 5).area == pytest.approx(3.0, abs=1e-4)


def test_the_whole_shadow_of_a_bend_is_no_hull() -> None:
    """A bar 10 x 1, then one that rises at 45 degrees: 10 + 14.5 by the shoelace formula; a hull would fill the corner."""
    bands = np.array(
        [[[0, 0], [10, 0], [10, 1], [0, 1]], [[10, 0], [20, 10], [19, 11], [10, 1]]],
        dtype=float,
    )
    ends = [np.concatenate((np.full((2, 4, 1), x), bands), axis=2) for x in (0.0, 30.0)]
    pieces = np.concatenate(ends, axis=1)
    assert shadow(pieces, -1, 31).area == pytest.approx(24.5)
    assert whole_shadow(pieces, "strip", -1, 31).area == pytest.approx(24.5)
    assert whole_shadow(pieces, "strip", -1, 29) is None
    faces = [[[0, 0, z], [30, 0, z], [30, 10, z], [0, 10, z]] for z in (0, 1)]  # a panel's prisms stand on its face
    plate = np.array([[*faces[0], *faces[1]]], dtype=float)
    assert whole_shadow(plate, "panel", -1, 31).area == pytest.approx(10.0)


def test_the_leg_rests_on_the_shoulder_and_the_punch_on_the_bend() -> None:
    """Distance of the leaning outside from the shoulder's centre is its radius and the gap, whatever the angle."""
    made = made_of(channel(60, 30))
    planner = Planner(made)
    family, sweep = planner.families(0, 1)[0][0]
    motion: Motion = sweep.motion
    centre, radius = family[0].contact
    turn, place = motion.poses[True]
    normal = np.column_stack((-np.sin(turn), np.cos(turn)))
    away = np.einsum("ij,ij->i", place - np.array((centre, -radius)), normal)
    assert away == pytest.approx(np.full(len(turn), radius + 0.05), abs=1e-9)
    # Laid in flat on the die's top face, 0.05 above; at the end the inside of the bend is r from its centre.
    assert place[0] == pytest.approx((made.strips[0].allowance / 2, 0.05))
    end = place[-1] + normal[-1] * (made.strips[0].radius + made.thickness)
    assert end[0] == pytest.approx(0.0, abs=1e-9)
    assert motion.stroke.tool("upper", motion)[1][-1, 1] == pytest.approx(end[1] - made.strips[0].radius + 0.05)
