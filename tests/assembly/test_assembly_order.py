"""Order of assembly: found where there is one, the trapped named where there is none, every step held against the kernel."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import pytest

import tinbook as tb
from tinbook.errors import CannotMake
from tinbook.families.body_mounts import body_mount
from tinbook.families.joiner import front_joiner
from tinbook.families.recovery_plates import recovery_plate
from tinbook.families.winch_cradles import winch_cradle
from tinbook.making.assembled import Assembled, assemble
from tinbook.making.solid import bodies, kernel
from tinbook.part.assembly import Assembly
from tinbook.part.bought import block
from tinbook.part.joints import Plate, tab_and_slot
from tinbook.part.part import Part
from tinbook.plane.loops import polygon
from tinbook.route.assembly.work import AssemblyOrder
from tinbook.route.order import order_of_work
from tinbook.shop.shop import cut_on
from tinbook.space import Vec, frame_at

SHOP = cut_on(tb.Shop.demo(), "laser")
T = 5.0


def frames(made: Assembled, order: AssemblyOrder, stops: int = 4) -> Iterator[tuple[str, tuple[tuple[str, Vec], ...]]]:
    """Yield the member that moves and the shift of every member that is there; what is bent or clipped on comes at once.

    On the bench only what is welded to it is there; `stops` positions for each member, the last one in place.
    """
    units = [(s.name, *s.carried) for s in order.steps if s.carried]
    there: list[str] = []
    bench: list[str] = []
    for step in order.steps:
        unit = next((u for u in units if step.name in u and not step.carried), ())
        if unit and not set(bench) & set(unit):
            bench = []
        around = bench if unit else there
        jump = not around or step.bent or step.clipped or not step.travel
        for k in range(1 if jump else stops):
            share = 0.0 if jump else 1.0 - (k + 1) / stops
            # Square law: most pictures where tabs enter their slots.
            away = -step.travel * share * share
            shift = (away * step.direction[0], away * step.direction[1], away * step.direction[2])
            moving = tuple((n, shift) for n in (step.name, *step.carried))
            yield step.name, (*((n, (0.0, 0.0, 0.0)) for n in around), *moving)
        around += [step.name, *step.carried]


def collisions(made, order, stops=3):
    """Volumes that the moving member shares with what is there, in every frame, by the kernel."""
    worst = 0.0
    for name, there in frames(made, order, stops):
        moved = {n: bodies.placed(made.shape(n), frame_at(shift).values) for n, shift in there}
        for other, shape in moved.items():
            if other != name and bodies.boxes_near(kernel.box(moved[name]), kernel.box(shape)):
                worst = max(worst, bodies.common_volume(moved[name], shape))
    return worst


@pytest.mark.parametrize("family", [front_joiner, recovery_plate, body_mount])
def test_families_go_together_without_collision(family):
    made = assemble(family(), SHOP)
    order = order_of_work(made).required()
    assert sorted(order.names) == sorted(made.assembly.names)
    assert collisions(made, order) < 0.05


def test_plates_of_the_winch_cradle_go_together_without_collision():
    whole = winch_cradle()
    plates = Assembly("HN-WC")
    for m in whole.members:
        if m.kind == "part":
            plates = plates.add(m.name, m.thing, m.at)
    made = assemble(plates, SHOP)
    order = order_of_work(made).required()
    assert order.names[0] == "deck"
    assert collisions(made, order, 4) < 0.05


def test_a_wrong_way_in_is_seen_by_the_kernel():
    # So that the test above can fail: the cap pushed on sideways.
    made = assemble(recovery_plate(), SHOP)
    order = order_of_work(made)
    steps = tuple(replace(s, direction=(1.0, 0.0, 0.0), travel=60.0) if s.name == "cap" else s for s in order.steps)
    assert collisions(made, replace(order, steps=steps)) > 100.0


def test_members_that_trap_each_other_are_named():
    # A bar with a head at each end in a closed ring: neither leaves the other along a line.
    ring = block("ring", (40, 40, 10), opening=polygon([(-10, -10), (10, -10), (10, 10), (-10, 10)]))
    plate = Part("P", sheet="S235 5.0", base=tb.Outline.rectangle(60, 60))
    a = Assembly("X").add("ring", ring).add("bar", _dumbbell()).add("plate", plate, frame_at((100, 0, 0)))
    order = order_of_work(assemble(a, SHOP))
    assert order.trapped == ("ring", "bar")
    assert order.names == ("plate",)
    with pytest.raises(CannotMake, match="trap each other: ring, bar"):
        order.required()


def test_tabs_one_after_the_other_do_not_trap():
    outline = tb.Outline.rectangle(120, 120)
    floor = Plate(outline=outline, thickness=T, at=frame_at((0, 0, -T)))
    wall = Plate(outline=outline, thickness=T, at=frame_at((0, 60, 0), (1, 0, 0), (0, 0, 1)))
    side = Plate(outline=tb.Outline.rectangle(50, 90), thickness=T, at=frame_at((60, 60, 10), (0, 1, 0), (0, 0, 1)))
    wall, floor = tab_and_slot(wall, "front", floor, mark="A")
    side, wall = tab_and_slot(side, "left", wall, mark="B", width=8.0)
    a = Assembly("X")
    for name, p in (("floor", floor), ("wall", wall), ("side", side)):
        a = a.add(name, p.part(name.upper(), sheet="S355 5.0"), p.at)
    made = assemble(a, SHOP)
    order = order_of_work(made).required()
    assert {s.name: s.direction for s in order.steps[1:]} == {"wall": (0.0, 0.0, -1.0), "side": (0.0, -1.0, 0.0)}
    assert collisions(made, order) < 1e-6


def _dumbbell():
    (shaft,), (head,) = block("bar", (18, 18, 60)).pieces, block("head", (30, 30, 5)).pieces
    ends = (replace(head, at=frame_at((0, 0, 30))), replace(head, at=frame_at((0, 0, -25))))
    return replace(block("bar", (18, 18, 60)), pieces=(replace(shaft, height=50.0, at=frame_at((0, 0, -20))), *ends))


def test_touching_faces_bar_the_way():
    plate = Part("P", sheet="S235 5.0", base=tb.Outline.rectangle(60, 60))
    lid = Part("L", sheet="S235 5.0", base=tb.Outline.rectangle(60, 60))
    order = order_of_work(assemble(Assembly("X").add("plate", plate).add("lid", lid, frame_at((0, 0, 5))), SHOP))
    assert order.steps[1].direction == (0.0, 0.0, -1.0)
    assert order.steps[1].travel == pytest.approx(1.0)  # at rest already clear: a token step


def test_same_order_every_time():
    first, second = (order_of_work(assemble(front_joiner(), SHOP)) for _ in range(2))
    assert first == second


def _ring_and_bar(flexible):
    ring = block("ring", (40, 40, 10), opening=polygon([(-10, -10), (10, -10), (10, 10), (-10, 10)]))
    return Assembly("X").add("bar", _dumbbell()).add("ring", ring, flexible=flexible)


def test_what_is_flexible_is_bent_on():
    # The same two that trap each other; a rubber ring goes over the head.
    assert order_of_work(assemble(_ring_and_bar(False), SHOP)).trapped == ("bar", "ring")
    made = assemble(_ring_and_bar(True), SHOP)
    order = order_of_work(made).required()
    assert [(s.name, s.bent) for s in order.steps] == [("bar", False), ("ring", True)]
    assert str(order).splitlines()[1].startswith("2. ring, bent on along ")
    assert "try that it bends so far" in str(order)
    # It is shown in place at once, so no picture has it in the metal.
    assert [name for name, _ in frames(made, order)] == ["bar", "ring"]
    assert collisions(made, order) < 1e-6


def test_flexible_things_that_can_be_laid_on_are_not_bent():
    plate = Part("P", sheet="S235 5.0", base=tb.Outline.rectangle(60, 60))
    mat = block("mat", (60, 60, 3))
    a = Assembly("X").add("plate", plate).add("mat", mat, frame_at((30, 30, 5)), flexible=True)
    (_, step) = order_of_work(assemble(a, SHOP)).steps
    assert (step.bent, step.direction) == (False, (0.0, 0.0, -1.0))


def test_a_tank_goes_under_its_straps():
    whole = tb.families.strapped_tank()
    assert [m.name for m in whole.members if m.flexible] == [
        f"{end} {what}" for end in ("front", "rear") for what in ("liner", "band", "strap")
    ]
    order = order_of_work(assemble(whole, SHOP)).required()
    assert [s.name for s in order.steps if s.bent] == ["front strap", "rear strap"]
    at = {name: i for i, name in enumerate(order.names)}
    assert all(at["tank"] < at[f"{end} strap"] < at[f"{end} nut"] for end in ("front", "rear"))
