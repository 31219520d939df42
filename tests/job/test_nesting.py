"""Nesting: each layout is judged by shapely alone, from the contours and placements that come out."""

from __future__ import annotations

import math
import os
import random
import subprocess
import sys
from collections import deque
from dataclasses import replace
from pathlib import Path

import pytest
import shapely
from shapely.affinity import rotate, scale, translate
from shapely.geometry import Point, Polygon, box

import tinbook as tb
from benchmarks import nestingkits as kits
from benchmarks.nestingkits import blank, loop
from tinbook.errors import BadValue, UnknownName
from tinbook.job.nesting.search import improve
from tinbook.job.nesting.setting import Setting
from tinbook.job.nesting.sliding import Slider
from tinbook.job.nesting.squeezing import Squeezing, windows

Blank, Plate = tb.job.Blank, tb.job.Plate


def lies(shapes: dict[str, Polygon], p: object) -> Polygon:
    """Return a blank where it lies, by shapely's own turns."""
    shape = shapes[p.blank]
    if p.turned_over:
        shape = scale(shape, 1, -1, origin=(0, 0))
    return translate(rotate(shape, p.angle, origin=(0, 0)), p.x, p.y)


def judge(nest: object, shapes: dict[str, Polygon], plates: dict[str, Polygon]) -> None:
    """Assert gaps, margins, grain and that each copy lies once."""
    placed = []
    for layout in nest.layouts:
        room = plates[layout.plate.name]
        there = [lies(shapes, p) for p in layout.placements]
        for p, shape in zip(layout.placements, there, strict=True):
            placed.append((p.blank, p.copy))
            margin = min(nest.margins.values())
            assert room.covers(shape)
            assert room.exterior.distance(shape) >= margin - 1e-6
            kind = next(b for b in nest.blanks if b.name == p.blank)
            if kind.grain is not None and layout.plate.grain is not None:
                assert abs(math.sin(math.radians(p.angle + kind.grain - layout.plate.grain))) < 1e-9
            assert kind.turn_over or not p.turned_over
        for i, j in shapely.STRtree(there).query(there, "dwithin", max(nest.gap, 1e-3)).T:
            if i < j:
                assert there[i].distance(there[j]) >= nest.gap - 1e-6
                assert there[i].intersection(there[j]).area < 1e-6
    assert sorted(placed) == sorted((b.name, k) for b in nest.blanks for k in range(1, b.quantity + 1))


def drawn(seed: int) -> tuple[list, list, dict[str, Polygon], dict[str, Polygon], dict]:
    """Return blanks, plates, their shapes and a setting, drawn from a seed: holes, grain, offcuts with real outlines."""
    r = random.Random(seed)
    shapes = {
        f"P{n}": rotate(s, r.choice((0, 0, 17.3, 90))) for n, s in enumerate(kits.kit(seed, 40)[:: r.choice((4, 5))])
    }
    blanks = [
        blank(
            name,
            shape,
            quantity=r.choice((1, 1, 2)),
            grain=r.choice((None, None, 0.0, 90.0)),
            turn_over=r.random() < 0.3,
            priority=r.choice((0, 0, 1)),
            angles=r.choice(((0.0, 90.0, 180.0, 270.0), tuple(30.0 * k for k in range(12)))),
        )
        for name, shape in shapes.items()
    ]
    offcut = Polygon([(0, 0), (1400, 0), (1400, 500), (800, 520), (700, 1100), (0, 1000)])
    sheet = box(0, 0, 2400, 1200)
    plates = [
        Plate(
            name="offcut 7",
            outline=loop(list(offcut.exterior.coords)[:-1]),
            quantity=1,
            offcut=True,
            cost=r.choice((0.3, 5.0)),
        ),
        Plate.rectangle("sheet", 2400, 1200, cost=2.88),
    ]
    setting = {"gap": r.choice((0.0, 2.0, 6.0)), "margins": r.choice((4.0, 10.0)), "seed": seed}
    return blanks, plates, shapes, {"offcut 7": offcut, "sheet": sheet}, setting


@pytest.mark.parametrize("seed", range(6))
def test_drawn_jobs_keep_gap_margin_grain_and_count(seed: int) -> None:
    blanks, plates, shapes, rooms, setting = drawn(seed)
    judge(tb.job.nest(blanks, plates, effort=0.02, **setting), shapes, rooms)


def nested_or_refused(seed: int, effort: float) -> object | None:
    """Return a drawn job nested and judged; None where it may be refused."""
    blanks, plates, shapes, rooms, setting = drawn(seed)
    try:
        nest = tb.job.nest(blanks, plates, effort=effort, **setting)
    except BadValue as wrong:
        # Only what must lie across the grain and is longer than the sheet is wide may be refused.
        name = wrong.field.split("'")[1]
        (refused,) = (b for b in blanks if b.name == name)
        x0, y0, x1, y1 = shapes[name].bounds
        assert refused.grain is not None
        assert max(x1 - x0, y1 - y0) > 1200 - 2 * setting["margins"]
        return None
    judge(nest, shapes, rooms)
    return nest


@pytest.mark.full
def test_five_hundred_drawn_jobs() -> None:
    assert sum(nested_or_refused(1000 + seed, 0.02) is not None for seed in range(500)) > 400


@pytest.mark.full
def test_forty_drawn_jobs_that_are_squeezed() -> None:
    """From an effort of 1 layouts are squeezed; most then cost less than the best of orders alone."""
    less, count = 0, 0
    for seed in range(40):
        squeezed = nested_or_refused(seed, 1.5)
        if squeezed is not None:
            blanks, plates, _, _, setting = drawn(seed)
            less += squeezed.cost < tb.job.nest(blanks, plates, effort=0.1, **setting).cost - 1e-9
            count += 1
    print(f"{less} of {count} jobs cost less than by orders")
    assert less > count / 2


@pytest.mark.full
@pytest.mark.parametrize(("effort", "wanted"), [(3.0, 0.76), (30.0, 0.80)])
def test_drawn_kits_are_dense(effort: float, wanted: float) -> None:
    """Forty blanks of a body shop; the formula of the density is the kits' own, written before the search."""
    for seed in range(6):
        size = kits.SHEETS[seed % 2]
        shapes = {f"P{n}": s for n, s in enumerate(kits.kit(seed))}
        nest = tb.job.nest(
            [blank(name, s) for name, s in shapes.items()],
            [Plate.rectangle("sheet", *size)],
            gap=kits.GAP,
            margins=kits.MARGIN,
            effort=effort,
        )
        judge(nest, shapes, {"sheet": box(0, 0, *size)})
        found = kits.density(list(shapes.values()), [size] * len(nest.layouts), nest.layouts[-1].reach)
        print(f"kit {seed}: {found:.3f}, bound {nest.bound:.3f}, {nest.tried} layouts")
        assert found == pytest.approx(nest.density, abs=1e-9)
        assert wanted <= found <= nest.bound


SMALL = """
import sys
import tinbook as tb
from tinbook.plane.loops import Edge, Loop
def box(w, h):
    p = [(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)]
    return Loop(tuple(Edge(a, b) for a, b in zip(p, p[1:] + p[:1])))
blanks = [tb.job.Blank(name=f"B{n}", outer=box(90.0 + 31 * n, 200.0 - 17 * n), quantity=2) for n in range(5)]
nest = tb.job.nest(blanks, [tb.job.Plate.rectangle("S", 700, 500)], gap=5, margins=8, effort=0.002, seed=3)
print([(p.blank, p.copy, repr(p.x), repr(p.y), p.angle) for k in nest.layouts for p in k.placements], nest.tried)
from collections import deque
from tinbook.job.nesting.search import improve
from tinbook.job.nesting.setting import Setting
from tinbook.job.nesting.sliding import Slider
from tinbook.job.nesting.squeezing import Squeezing, windows
setting = Setting(blanks, [tb.job.Plate.rectangle("S", 700, 500)], 5, 8, (), coarser=9, fair=True)
task = setting.tasks()[0]
first = deque(improve(task, setting.starts(), setting.ranks, 0, 0), maxlen=1).pop()
lying = setting.lying(task, first.filling.puts)
it = Squeezing(setting, task, lying, windows(setting, task, lying)[0], 3, Slider(setting))
print([repr(v) for v in list(it.shorter(0.003))[-1]], it.at.tolist(), it.state, it.spent)
"""


def test_plain_python_and_another_hash_seed_give_the_same_layout() -> None:
    kit = str(Path(str(tb.__file__)).parents[1])
    said = [
        subprocess.run(
            [sys.executable, "-c", SMALL],
            env={**os.environ, "PYTHONPATH": kit, "NUMBA_DISABLE_JIT": plain, "PYTHONHASHSEED": seed},
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        for plain, seed in (("0", "1"), ("1", "7"))
    ]
    assert said[0] == said[1]
    assert said[0].count("B") == 10


def test_a_squeezed_layout_is_shorter_and_keeps_its_gaps() -> None:
    """Two sheets are squeezed in one strip; a locked disc stays where it lies, on a sheet that is full of it."""
    shapes = {f"P{n}": s for n, s in enumerate(kits.kit(5)[::2])}
    room = {"S": box(0, 0, 2000, 1000)}
    plates = [Plate.rectangle("S", 2000, 1000)]
    blanks = [blank(name, s) for name, s in shapes.items()]
    first = tb.job.nest(blanks, plates, gap=6, margins=10, effort=0)
    held = first.layouts[0].placements[0]
    locked = [replace(k, placements=tuple(replace(p, locked=p == held) for p in k.placements)) for k in first.layouts]
    setting = Setting(blanks, plates, 6, 10, locked[:1], coarser=4, fair=True)
    task = setting.tasks()[0]
    begun = deque(improve(task, setting.starts(), setting.ranks, 0, 0.0), maxlen=1).pop()
    lying = setting.lying(task, begun.filling.puts)
    (plates_used,) = windows(setting, task, lying)
    assert len(plates_used) == 2
    *_, last = Squeezing(setting, task, lying, plates_used, 0, Slider(setting)).shorter(0.3)
    nest = setting.result(task.kinds, last, 0)
    assert nest.cost < first.cost
    judge(nest, shapes, room)
    assert replace(held, locked=True) in nest.layouts[0].placements


def test_two_long_parts_end_the_squeezing() -> None:
    """Two bars as long as the sheet's room cannot be squeezed: the search ends by itself, however large the effort."""
    shapes = {"a": box(0, 0, 480, 50), "b": box(0, 0, 470, 60)}
    plates = [Plate.rectangle("S", 500, 400)]
    nest = tb.job.nest([blank(n, s, angles=(0.0,)) for n, s in shapes.items()], plates, gap=6, margins=10, effort=2)
    judge(nest, shapes, {"S": box(0, 0, 500, 400)})
    assert nest.layouts[0].reach == 500


def test_every_layout_on_the_way_is_better_than_the_one_before() -> None:
    blanks, plates, _, _, setting = drawn(3)
    costs = [n.cost for n in tb.job.nests(blanks, plates, effort=0.2, **setting)]
    assert costs == sorted(costs, reverse=True)
    assert len(set(costs)) == len(costs) > 1


@pytest.mark.parametrize("seed", range(4))
def test_rectangles_cut_from_a_sheet_fill_it_again(seed: int) -> None:
    r = random.Random(seed)
    pieces = [(2400.0, 1200.0)]
    while len(pieces) < 9:
        pieces.sort(key=lambda s: s[0] * s[1])
        w, h = pieces.pop()
        cut = round(max(w, h) * r.uniform(0.25, 0.75), 1)
        pieces += [(cut, h), (round(w - cut, 6), h)] if w > h else [(w, cut), (w, round(h - cut, 6))]
    shapes = {f"R{n}": box(0, 0, *(s if r.random() < 0.5 else s[::-1])) for n, s in enumerate(pieces)}
    nest = tb.job.nest(
        [blank(n, s) for n, s in shapes.items()], [Plate.rectangle("S", 2400, 1200)], gap=0, margins=0, effort=1
    )
    judge(nest, shapes, {"S": box(0, 0, 2400, 1200)})
    assert len(nest.layouts) == 1
    assert nest.density == pytest.approx(1.0, abs=1e-9)


@pytest.mark.parametrize("angles", [(0.0, 90.0, 180.0, 270.0), (180.0,), (270.0,)])
def test_a_blank_as_large_as_the_room_of_a_sheet_is_placed(angles: tuple[float, ...]) -> None:
    """Its sides are no multiples of any cell, and a cell rounded up would refuse it; 0.01 mm less room does."""
    cut = Polygon([(0, 0), (1000.3, 0), (1000.3, 500.3), (300, 500.3)])
    shapes = {"a": cut, "b": Polygon([(0, 0), (40, 0), (0, 40)])}
    size = (1020.3, 520.3) if angles[-1] != 270.0 or len(angles) > 1 else (520.3, 1020.3)
    blanks = [blank("a", cut, angles=angles), blank("b", shapes["b"])]
    nest = tb.job.nest(blanks, [Plate.rectangle("S", *size)], gap=6, margins=10, effort=0)
    judge(nest, shapes, {"S": box(0, 0, *size)})
    assert len(nest.layouts) == 1
    with pytest.raises(BadValue, match="blank 'a'"):
        tb.job.nest(blanks, [Plate.rectangle("S", size[0] - 0.01, size[1])], gap=6, margins=10, effort=0)


def test_a_disc_lies_in_a_ring() -> None:
    ring = Point(0, 0).buffer(200).difference(Point(0, 0).buffer(150))
    shapes = {"ring": ring, "disc": Point(0, 0).buffer(140)}
    nest = tb.job.nest(
        [blank(n, s) for n, s in shapes.items()], [Plate.rectangle("S", 430, 430)], gap=6, margins=10, effort=0
    )
    judge(nest, shapes, {"S": box(0, 0, 430, 430)})
    cuts = tb.job.cut_order(nest, nest.layouts[0], 4.0)
    assert [(c.blank, c.hole) for c in cuts] == [("disc", False), ("ring", True), ("ring", False)]
    metal = [lies(shapes, p) for p in nest.layouts[0].placements]
    for c in cuts:
        assert not any(m.buffer(-0.01).intersects(Point(c.pierce)) for m in metal), "the cutter pierces in the waste"
        assert 0.5 <= math.dist(c.pierce, c.entry) <= 4.0 + 1e-9


def test_an_offcut_is_used_where_that_costs_less() -> None:
    shapes = {"a": box(0, 0, 300, 200)}
    for cost, wanted in ((0.1, "offcut"), (9.0, "sheet")):
        plates = [
            Plate.rectangle("sheet", 2400, 1200, cost=2.88),
            Plate.rectangle("offcut", 400, 300, quantity=1, offcut=True, cost=cost),
        ]
        nest = tb.job.nest([blank("a", shapes["a"])], plates, gap=6, margins=10, effort=0)
        assert [k.plate.name for k in nest.layouts] == [wanted]


def test_what_is_moved_by_hand_stays_and_the_rest_nests_around_it() -> None:
    shapes = {"a": box(0, 0, 300, 200), "b": box(0, 0, 250, 250)}
    plates = [Plate.rectangle("S", 1200, 600)]
    blanks = [blank("a", shapes["a"], quantity=3), blank("b", shapes["b"])]
    first = tb.job.nest(blanks, plates, gap=6, margins=10, effort=0)
    by_hand = tb.job.moved(first, 1, "b", x=901.5, y=300.25, angle=0)
    assert not tb.job.faults(by_hand.layouts[0], by_hand.blanks, 6, by_hand.margins)
    again = tb.job.nest(blanks, plates, gap=6, margins=10, effort=0.05, locked=by_hand.layouts)
    judge(again, shapes, {"S": box(0, 0, 1200, 600)})
    (b,) = (p for k in again.layouts for p in k.placements if p.blank == "b")
    assert (b.x, b.y, b.locked) == (901.5, 300.25, True)
    with pytest.raises(BadValue, match=r"overlap|too close"):
        tb.job.moved(first, 1, "b", x=first.layouts[0].placements[0].x + 20, y=first.layouts[0].placements[0].y + 20)
    with pytest.raises(BadValue, match="margin"):
        tb.job.moved(first, 1, "b", x=-5, y=300, angle=0)
    with pytest.raises(UnknownName):
        tb.job.moved(first, 1, "c", x=0)
    assert tb.job.nest(blanks, plates, gap=6, margins=10, effort=0).layouts == first.layouts


def test_a_made_part_is_nested_with_its_holes() -> None:
    made = tb.make(tb.families.flanged_disc(), tb.Shop.demo())
    one = tb.job.blank_for_nesting(made, 2)
    assert one.shape.area == pytest.approx(made.flat.area, rel=1e-4)
    nest = tb.job.nest([one], [Plate.rectangle("S", 2500, 1250)], gap=6, margins=10, effort=0)
    assert str(tb.job.layout_svg(nest, lead=4)).count("<title>") == 3
