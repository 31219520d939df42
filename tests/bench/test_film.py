"""A step of the fold sequence as moving bodies: where each stands, against solids that the kernel builds of that state."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from bench_samples import deep, tray

import tinbook as tb
from tinbook.bench.film import FRAMES, Film, film_of
from tinbook.bench.folding import WATCH, folding
from tinbook.route.fold_order import fold_sequence
from tinbook.route.steps import FoldPlan

sys.path.append(str(Path(__file__).resolve().parents[1] / "route"))
import inmachine

SHOP = tb.Shop.demo()


def corners(film: Film, n: int, kinds: tuple[str, ...]) -> dict[str, Any]:
    """Return the points of each member of some kinds that picture `n` shows, by name."""
    found: dict[str, list[Any]] = {}
    for m in film.members:
        if m["kind"] not in kinds or not m["from"] <= n <= m["to"]:
            continue
        body = film.bodies[m["body"]]
        points = np.frombuffer(body["positions"], "<f4").reshape(-1, 3)
        used = points[np.unique(np.frombuffer(body["triangles"], "<u4"))]
        o, x, y, z = np.frombuffer(m["track"], "<f4").reshape(FRAMES, 4, 3)[n]
        found.setdefault(m["name"], []).append(used @ np.array((x, y, z)) + o)
    return {name: np.concatenate(all_) for name, all_ in found.items()}


def down() -> tb.Part:
    part = tb.Part("HN-FM", sheet="DC01 1.5", base=tb.Outline.rectangle(120, 80)).fold("front", "up", leg=30)
    return part.fold("rear", "down", leg=25).fold("front.end", "down", leg=15, name="lip")


@pytest.fixture(scope="module")
def bent() -> FoldPlan:
    return fold_sequence(tb.make(down(), SHOP))


def test_part_and_tools_stand_where_the_kernel_s_solids_do(bent: FoldPlan) -> None:
    """Boxes within 0.2 mm: chords of the bends. Half a turn with the leg at the back, folds up, down and one on a leg."""
    assert {s.direction for s in bent.steps} == {"up", "down"}
    for index, (step, move) in enumerate(zip(bent.steps, bent.moves, strict=True)):
        film = film_of(bent, index)
        motion = inmachine.sweep_of(bent.planner, move.fold, move.level, move.setup)
        angles = inmachine.angles_of(bent.planner, move.before)
        sign = np.array((-1.0, -1.0, 1.0) if move.setup.leg_back else (1.0, 1.0, 1.0))
        for n in (0, FRAMES // 2, FRAMES - 1):
            k = round(n / (FRAMES - 1) * (len(motion.angles) - 1))
            solid = inmachine.work(bent.made, motion, move.fold, angles, k).BoundingBox()
            wanted = sign * np.array(((solid.xmin, solid.ymin, solid.zmin), (solid.xmax, solid.ymax, solid.zmax)))
            mine = np.concatenate(list(corners(film, n, ("part",)).values()))
            np.testing.assert_allclose(
                np.sort((mine.min(axis=0), mine.max(axis=0)), axis=0),
                np.sort(wanted, axis=0),
                atol=0.2,
                err_msg=step.fold,
            )
            tools = corners(film, n, ("tool",))
            for name, solids in inmachine.tools(move.setup, motion, k).items():
                box = inmachine.cq.Compound.makeCompound(solids).BoundingBox()
                if name not in tools:
                    assert box.zmin > 60.0, name  # far above the part
                    continue
                low, high = tools[name].min(axis=0), tools[name].max(axis=0)
                assert box.zmin - 0.3 <= low[2], name
                assert high[2] <= box.zmax + 0.3, name
                # Drawn near the fold only; the end toward the sheet is the tool's own.
                if box.zmin > -1.0:
                    assert low[2] == pytest.approx(box.zmin, abs=0.3), name
                elif box.zmax < 1.0:
                    assert high[2] == pytest.approx(box.zmax, abs=0.3), name


def test_only_one_bend_is_seen_at_a_time(bent: FoldPlan) -> None:
    film = film_of(bent, 0)
    for n in range(FRAMES):
        assert [name.startswith("fold") for name in corners(film, n, ("part",))].count(True) == 1
    assert film.angles == sorted(film.angles)
    assert film.words.startswith("Step 1 of 3: ")
    assert not set(film.bodies) & set(film_of(bent, 1).bodies), "the page would keep the first step's bodies"
    assert [film_of(bent, k).first for k in range(3)] == [True, False, False]
    assert [film_of(bent, k).last for k in range(3)] == [False, False, True]


def test_a_hem_is_pressed_by_bars_that_come_down_at_the_end() -> None:
    part = tb.Part("HN-FH", sheet="DC01 1.0", base=tb.Outline.rectangle(200, 120)).hem("front", "open", leg=10, gap=2)
    plan = fold_sequence(tb.make(part, SHOP))
    pressed = next(k for k, s in enumerate(plan.steps) if s.setup.stroke.second)
    film = film_of(plan, pressed)
    high = [corners(film, n, ("tool",))["upper bar"][:, 2].min() for n in (0, FRAMES - 1)]
    assert high[0] - high[1] == pytest.approx(40.0, abs=1e-3)


def test_a_fold_without_an_order_shows_the_try_that_came_nearest() -> None:
    plan = fold_sequence(deep(SHOP))
    assert not plan.steps
    film = film_of(plan, 0)
    assert film.words == f"fold {plan.blocked[0].fold} is blocked"


def test_nothing_is_worked_out_until_it_is_opened_and_then_it_follows_the_step() -> None:
    shown = folding(fold_sequence(tb.make(tray(), SHOP)))
    assert shown.film is None
    button = shown.watch.by_name[WATCH]
    button.click()
    assert button.value
    first = shown.film
    assert (first.first, first.stamp) == (True, 1)
    shown._go_on(1)
    assert shown.step == 2
    assert (first.stamp, first.words.split(":")[0]) == (2, f"Step 2 of {len(shown.sequence.steps)}")
    shown._go_on(99)
    assert shown.step == 2
    button.click()
    assert shown.film is None
    assert first.comm is None
