"""Every step of every order is held against the kernel: no common volume; and every clash has one."""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import cache
from itertools import combinations

import cadquery as cq
import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from inmachine import (
    DEMO,
    EDGES,
    angles_of,
    box,
    brake_with,
    channel,
    common,
    made_of,
    overlaps,
    said,
    strip,
    sweep_of,
    tools,
    work,
)

from strategies import parts
from tinbook.making.made import Made
from tinbook.making.resolve import make
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.route.fold_order import fold_sequence
from tinbook.route.planner import Planner
from tinbook.route.steps import FoldPlan
from tinbook.shop.shop import Shop
from zoo import ZOO as ANIMALS
from zoo import made_zoo

NOTHING = 1e-3
"""mm³: what the kernel calls common volume of solids 0.05 mm apart is noise."""


def hat() -> Part:
    return channel(50, 30).fold("near.end", "down", leg=20, tool="V12").fold("far.end", "down", leg=20, tool="V12")


def lipped() -> Part:
    return channel(70, 34).fold("near.end", "up", leg=12, tool="V12").fold("far.end", "up", leg=12, tool="V12")


def hemmed() -> Part:
    return strip(80, sheet="DC01 1.0").fold("near", "up", leg=30).hem("near.end", "closed", "up", leg=10)


def obtuse() -> Part:
    return strip(60).fold("near", "up", leg=30, angle=45, tool="V12").fold("far", "down", leg=25, angle=120, tool="V12")


def skewed() -> Part:
    return (
        strip(90, length=160)
        .fold("near", "up", leg=(25, 40), skew=(10, -15), tool="V16")
        .fold("left", "up", leg=25, tool="V16")
    )


def tongue(tool: str = "V12") -> Part:
    """An L folded on the inner edge of its step: beside the fold the plate runs on past the line."""
    corners = [(0.0, 0.0), (300.0, 0.0), (300.0, 120.0), (150.0, 120.0), (150.0, 200.0), (0.0, 200.0)]
    outline = Outline.polygon(corners, ["front", "right", "step", "notch", "rear", "left"])
    return Part("HN-X", sheet="DC01 1.5", base=outline).fold("step", "up", leg=30, tool=tool)


ZOO: dict[str, tuple[Callable[[], Part], Shop]] = {
    "channel, straight punch": (lambda: channel(60, 30), DEMO),
    "deep channel, relieved punch": (lambda: channel(60, 58), DEMO),
    "channel on the own press": (lambda: channel(60, 45, "VB16"), DEMO),
    "channel on the folder": (lambda: channel(70, 25, "F1"), DEMO),
    "hat": (hat, DEMO),
    "inward lips": (lipped, brake_with(neck=True)),
    "Z": (lambda: strip(60).fold("near", "up", leg=30, tool="V12").fold("far", "down", leg=30, tool="V12"), DEMO),
    "Z on the folder": (
        lambda: strip(90).fold("near", "up", leg=20, tool="F1").fold("far", "down", leg=20, tool="F1"),
        DEMO,
    ),
    "box with four returns": (lambda: box(200, 140, 25), DEMO),
    "hem": (hemmed, DEMO),
    "two angles": (obtuse, DEMO),
    "leaning leg beside a return": (skewed, DEMO),
    "plate that runs on past the fold": (tongue, DEMO),
}


@pytest.mark.parametrize("name", ZOO)
def test_no_step_of_the_zoo_shares_metal_with_a_tool(name: str) -> None:
    part, shop = ZOO[name]
    made = made_of(part(), shop)
    sequence = fold_sequence(made)
    assert sequence.steps, said(sequence)
    assert [m.level for m in sequence.moves].count(1) == len(made.strips)
    for move in sequence.moves:
        found = overlaps(made, sequence.planner, move, (0.0, 0.6, 1.0))
        assert found
        assert max(found.values()) < NOTHING, (made.strips[move.fold].name, found)


CLASHING: dict[str, tuple[Callable[[], Part], Shop]] = {
    "channel too deep for a bar": (lambda: channel(40, 60), brake_with()),
    "channel too deep for the folder": (lambda: channel(60, 58, "F1"), DEMO),
    "plate that runs on past the fold": (lambda: tongue("VB16"), DEMO),
    "box without pieces": (lambda: box(200, 140, 25), brake_with()),
    "closed section": (
        lambda: channel(60, 40).fold("near.end", "up", leg=29, tool="V12").fold("far.end", "up", leg=29, tool="V12"),
        DEMO,
    ),
}


@cache
def _blocked(name: str) -> FoldPlan:
    part, shop = CLASHING[name]
    return fold_sequence(made_of(part(), shop))


@pytest.mark.parametrize("name", CLASHING)
def test_every_clash_shares_metal_with_what_it_names(name: str) -> None:
    sequence = _blocked(name)
    made = sequence.made
    assert not sequence.steps
    assert sequence.proven
    assert sequence.blocked
    planner: Planner = sequence.planner
    checked = 0
    for (fold, level), tries in sequence.tried.clashes.items():
        for clash, setup, levels, sweep in tries[:3]:
            if clash.against not in {p.name for p in setup.bodies}:
                continue
            deep = sweep.measured(clash, setup, levels)
            motion = sweep_of(planner, fold, level, setup)
            k = int(np.argmin(abs(np.degrees(motion.angles) - deep.worst)))
            body = work(made, motion, fold, angles_of(planner, levels), k)
            shared = sum(common(body, s) for s in tools(setup, motion, k)[clash.against])
            assert shared > 0.01, (made.strips[fold].name, deep, setup.key, levels)
            assert deep.depth > 0.0
            checked += 1
    assert checked >= 2


def test_only_what_fails_last_is_blocked_where_each_fold_can_be_formed() -> None:
    """Any fold of a closed section can be its first; it is the last one of the three-sided tube that nothing reaches."""
    sequence = _blocked("closed section")
    assert set(sequence.tried.clashes) == set(sequence.tried.formed) == {(fold, 1) for fold in range(4)}
    assert [b.fold for b in sequence.blocked] in (["near"], ["far"])


def test_the_kernel_sees_a_part_pushed_into_a_tool() -> None:
    """The check above can fail: the same channel, its leg 3 mm longer than what clears, hits the bar."""
    made = made_of(channel(40, 60), brake_with())
    planner = Planner(made)
    move = next(m for m in planner.candidates((1, 0)) if m.fold == 1)
    assert not planner.possible(move)
    assert max(overlaps(made, planner, move, (1.0,)).values()) > 1.0


def test_half_folded_parts_keep_their_metal() -> None:
    """Volume of the half-folded solid: panels t, strips at the middle of the sheet at each radius on the way."""
    from tinbook.making.pose import posed, radius_at
    from tinbook.making.solid.build import solid

    made = made_of(box(200, 140, 25))
    for angle in (5.0, 40.0, 90.0, 91.5):
        half = posed(made.folded, {s.name: angle for s in made.strips})
        t, a = made.thickness, math.radians(angle)
        expected = sum(t * p.boundary.area for p in made.panels) + sum(
            s.area / s.allowance * a * t * (radius_at(s, a) + t / 2) for s in made.strips
        )
        assert solid(half).Volume() == pytest.approx(expected, rel=1e-6)
        for before, after in zip(made.panels, half.panels, strict=True):
            assert np.linalg.det(after.frame.matrix[:3, :3]) == pytest.approx(1.0)
            assert before.boundary == after.boundary


def test_at_its_own_angles_nothing_moves() -> None:
    from tinbook.making.pose import posed

    made = made_of(hat())
    same = posed(made.folded, {})
    for a, b in zip(made.panels, same.panels, strict=True):
        assert np.allclose(a.frame.matrix, b.frame.matrix, atol=1e-9)
    flat = posed(made.folded, {s.name: 0.0 for s in made.strips})
    for p in flat.panels:
        assert p.frame.z == pytest.approx((0, 0, 1), abs=1e-9)
        assert p.frame.origin[2] == pytest.approx(0.0, abs=1e-9)
        # Flat again it lies where the blank has it.
        (x, y), o = p.flat((0.0, 0.0)), p.frame.origin
        base = made.panel("base").flat((0.0, 0.0))
        assert (o[0], o[1]) == pytest.approx((x - base[0], y - base[1]), abs=1e-6)
    assert EDGES


def plates(made: Made, angles: dict[str, float]) -> dict[str, cq.Solid]:
    """The panels of a half-folded part as prisms of their own, drawn by the kernel from outline and frame."""
    from tinbook.making.pose import posed

    out = {}
    for p in posed(made.folded, angles).panels:
        f = p.frame
        ring = np.concatenate([e.chords(0.01) for e in p.boundary.edges])
        plane = cq.Plane(f.origin, f.x, f.z)
        out[p.name] = cq.Workplane(plane).polyline([tuple(q) for q in ring]).close().extrude(made.thickness).val()
    return out


def shared_within(made: Made, angles: dict[str, float]) -> dict[tuple[str, str], float]:
    """Common volume of each two panels of a half-folded part, those that share a fold left out unless it is closed."""
    solids = plates(made, angles)
    closed = {frozenset((s.parent, s.child)): angles[s.name] for s in made.strips}
    pairs = [p for p in combinations(solids, 2) if closed.get(frozenset(p), 180.0) > 160.0]
    return {(a, b): common(solids[a], solids[b]) for a, b in pairs}


def test_accepted_steps_share_no_metal_with_themselves() -> None:
    for part, shop in (ZOO["inward lips"], ZOO["box with four returns"]):
        made = made_of(part(), shop)
        sequence = fold_sequence(made)
        for step in sequence.steps:
            found = shared_within(made, {**dict(step.before), step.fold: step.angle_formed})
            assert max(found.values()) < NOTHING, (step.fold, found)


FOLDED = [name for name in sorted(ANIMALS) if made_zoo(name).strips]


@pytest.mark.parametrize("name", FOLDED)
def test_the_whole_zoo_is_held_against_the_kernel(name: str) -> None:
    """Every step that is accepted shares no metal with a tool or with itself; every fold that is blocked does."""
    made = made_zoo(name)
    sequence = fold_sequence(made)
    planner = sequence.planner
    assert sequence.steps or sequence.blocked, said(sequence)
    for step, move in zip(sequence.steps, sequence.moves, strict=True):
        found = overlaps(made, planner, move, (0.0, 0.6, 1.0))
        assert all(v < NOTHING for v in found.values()), (step.fold, found)
        inside = shared_within(made, {**dict(step.before), step.fold: step.angle_formed})
        assert all(v < NOTHING for v in inside.values()), (step.fold, inside)
    for b in sequence.blocked:
        angles = angles_of(planner, b.trial.before) | {b.fold: b.worst}
        if b.against.startswith("panel "):
            legs = (b.body.removeprefix("panel "), b.against.removeprefix("panel "))
            inside = plates(made, angles)
            assert common(inside[legs[0]], inside[legs[1]]) > 0.0, str(b)
            continue
        motion = sweep_of(planner, b.trial.fold, b.trial.level, b.trial.setup)
        k = int(np.argmin(abs(np.degrees(motion.angles) - b.worst)))
        body = work(made, motion, b.trial.fold, angles_of(planner, b.trial.before), k)
        shared = sum(common(body, s) for s in tools(b.trial.setup, motion, k)[b.against])
        assert shared > 0.0, str(b)
        assert b.depth > 0.0


def test_lips_that_meet_hit_each_other() -> None:
    """Lips of 25 over a web of 40 would overlap by 10, at the same height: blocked by the part itself, and the kernel agrees."""
    part = channel(40, 30, "F1").fold("near.end", "up", leg=25, tool="F1").fold("far.end", "up", leg=25, tool="F1")
    made = make(part, DEMO)
    assert "part.crosses" in {f.code for f in made.findings}  # nothing is searched for such a part
    assert not fold_sequence(made).steps
    planner = Planner(made)
    names = [x.name for x in made.strips]
    last, levels = names.index("far.end"), tuple(int(n != "far.end") for n in names)
    sweep = planner.families(last, 1)[0][0][1]
    clash = sweep.against_itself(levels)
    assert clash is not None
    assert (clash.body, clash.against) == ("far.end", "panel near.end")
    deep = sweep.measured(clash, planner.families(last, 1)[0][0][0][0], levels)
    assert deep.depth > 0.5
    solids = plates(made, angles_of(planner, levels) | {"far.end": deep.worst})
    assert common(solids["near.end"], solids["far.end"]) > 1.0
    # One lip alone meets nothing of the part.
    assert sweep.against_itself(tuple(int(n in ("near", "far")) for n in names)) is None


@settings(max_examples=10, deadline=None, suppress_health_check=list(HealthCheck))
@given(part=parts())
def test_any_part_gets_an_answer(part: Part) -> None:
    made = make(part, DEMO)
    sequence = fold_sequence(made, effort=25)
    if sequence.steps:
        levels = sequence.moves[-1].before
        assert sum(levels) + 1 == sum(sequence.planner.full)
    else:
        assert not made.strips or sequence.verdict != "proved"
