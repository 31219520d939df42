"""What comes before what when an assembly is built: the order of the trade (common practice), for every kind of assembly."""

from __future__ import annotations

import functools
import itertools
from collections.abc import Callable
from dataclasses import replace

import pytest

import tinbook as tb
from tinbook.making.assembled import Assembled, assemble
from tinbook.part.assembly import Assembly
from tinbook.part.bought import block, gas_strut
from tinbook.part.fasteners import hexagon_bolt, hexagon_nut
from tinbook.part.part import Part
from tinbook.plane.loops import polygon
from tinbook.route.assembly.order import LATE
from tinbook.route.assembly.work import AssemblyOrder, Step, Work
from tinbook.route.order import order_of_work
from tinbook.shop.shop import cut_on
from tinbook.space import frame_at

SHOP = cut_on(tb.Shop.demo(), "laser")
SIX = (
    tb.families.winch_cradle,
    tb.families.recovery_plate,
    tb.families.body_mount,
    tb.families.front_joiner,
    tb.families.strapped_tank,
    tb.families.lid_on_struts,
)


@functools.cache
def ordered(family: Callable[[], Assembly]) -> tuple[Assembled, AssemblyOrder]:
    made = assemble(family(), SHOP)
    return made, order_of_work(made).required()


def places(order: AssemblyOrder, kind: str, on: str = "") -> list[int]:
    """When work of a kind is done, on a member if one is named."""
    seen = enumerate(order.schedule)
    return [i for i, x in seen if isinstance(x, Work) and x.kind == kind and (not on or on in x.on)]


def stands(order: AssemblyOrder, name: str) -> int:
    """When a member first stands beside others, on the bench or in its place."""
    return min(i for i, x in enumerate(order.schedule) if isinstance(x, Step) and name == x.name)


def step(order: AssemblyOrder, name: str) -> int:
    """When a member has come to its place."""
    return max(i for i, x in enumerate(order.schedule) if isinstance(x, Step) and name in (x.name, *x.carried))


@pytest.fixture(scope="module", params=SIX, ids=lambda f: f.__name__)
def built(request: pytest.FixtureRequest):
    return ordered(request.param)


def test_heat_then_grinding_then_coats_then_wax(built):
    """Common practice: a weld burns every coat, grinding tears it, sealer sticks to primer, nothing sticks to wax."""
    _, order = built
    course = ("prime", "weld", "dress", "epoxy", "seal", "paint", "wax")
    assert places(order, "epoxy")
    assert places(order, "paint")
    for first, then in itertools.combinations(course, 2):
        if (first, then) == ("prime", "weld"):
            continue  # each lap has its own, held below
        if first in ("weld", "prime") and then == "dress":
            continue  # the first unit is dressed before the next is welded
        assert all(a < b for a in places(order, first) for b in places(order, then)), (first, then)
    hot = [i for k in ("weld", "plug weld", "weld tails", "weld corners", "fill") for i in places(order, k)]
    assert all(a < b for a in hot for b in places(order, "epoxy"))
    for i in hot:
        assert any(j > i for j in places(order, "dress"))


def test_every_weld_is_made_once_its_members_stand(built):
    made, order = built
    for w in made.assembly.welds:
        done = [
            i
            for i, x in enumerate(order.schedule)
            if isinstance(x, Work) and x.kind == "weld" and {w.a, w.b} <= set(x.on)
        ]
        assert len(done) == 1
        stand = [stands(order, n) for n in (w.a, w.b)]
        assert max(stand) < done[0]


def test_nothing_that_burns_or_bursts_is_there_while_it_is_welded_or_painted(built):
    made, order = built
    last = max([i for k in ("weld", "dress", "epoxy", "seal", "paint", "wax") for i in places(order, k)])
    for m in made.assembly.members:
        if getattr(m.thing, "stuff", "") in LATE and m.kind != "existing":
            assert step(order, m.name) > last, m.name


def test_every_member_comes_once(built):
    made, order = built
    assert sorted(order.names) == sorted(made.assembly.names)
    alone = [s.name for s in order.steps if not s.carried]
    assert len(alone) == len(set(alone))
    assert sum(len(s.carried) for s in order.steps) < len(made.assembly.names)
    assert [x.name for x in order.schedule if isinstance(x, Step)] == [s.name for s in order.steps]


def test_the_tank_goes_on_its_rubber_after_every_weld():
    _, order = ordered(tb.families.strapped_tank)
    tank = step(order, "tank")
    for end in ("front", "rear"):
        assert stands(order, f"{end} pin fork") < min(places(order, "weld", f"{end} pin fork"))  # welded on the bench
        assert places(order, "wax")[-1] < step(order, f"{end} liner") < tank
        assert tank < step(order, f"{end} band") < step(order, f"{end} strap") < step(order, f"{end} nut")
    assert max(places(order, "weld")) < min(places(order, "epoxy")) < places(order, "wax")[-1] < tank
    assert places(order, "weld tails")[0] < min(places(order, "epoxy"))
    assert order.steps[[s.name for s in order.steps].index("tank")].direction == (0.0, 0.0, -1.0)
    # The forks lie flat on the cradle's web: primer between them, before they are put there.
    lapped = places(order, "prime", "front pin fork")
    assert lapped
    assert lapped[0] < stands(order, "front pin fork")


def test_compressed_struts_come_after_their_studs_and_all_else():
    _, order = ordered(tb.families.lid_on_struts)
    assert [s.name for s in order.steps[-2:]] == ["left strut", "right strut"]
    for hand in ("left", "right"):
        for stud in ("lid", "frame"):
            assert (
                step(order, f"{hand} {stud} ball stud")
                < step(order, f"{hand} {stud} stud nut")
                < step(order, f"{hand} strut")
            )
    assert "under pressure" in str(order.steps[-1])


def test_a_nut_follows_its_screw_though_something_stands_below():
    """A nut needs room to be turned off, not a way to the end of the world: a ledge 60 mm below does not bar it."""
    _, order = ordered(tb.families.lid_on_struts)
    for k in range(1, 5):
        assert step(order, "lid") < step(order, f"hinge {k} lid screw") < step(order, f"hinge {k} lid nut")


def plate(number: str, sheet: str = "S235 5.0") -> Part:
    return Part(number, sheet=sheet, base=tb.Outline.rectangle(60, 60))


def test_a_nut_without_room_to_come_off_goes_on_before():
    """M10 nut 8.4 mm high on a stub of 25 - 5 - 8.4 = 11.6 mm: it comes off at 20 mm; a shelf 15 mm under it bars that."""

    def order_of(gap: float) -> AssemblyOrder:
        a = Assembly("X").add("shelf", block("shelf", (200, 200, 5), existing=True), frame_at((30, 30, -8.4 - gap - 5)))
        a = a.add("plate", plate("P").hole((30, 30), use="bolt", size="M10"))
        a = a.add("bolt", hexagon_bolt("M10", 25), frame_at((30, 30, 5))).add(
            "nut", hexagon_nut("M10"), frame_at((30, 30, -8.4))
        )
        return order_of_work(assemble(a, SHOP))

    roomy = order_of(60.0).required()
    assert step(roomy, "plate") < step(roomy, "bolt") < step(roomy, "nut")
    tight = order_of(15.0)
    assert step(tight, "nut") < step(tight, "bolt")


def test_members_that_only_go_in_one_by_one_are_welded_in_their_place():
    """Two halves of a collar round a rail with heads: the welded ring would not pass over them, so it is welded there."""
    shaft, head = block("rail", (20, 20, 100)).pieces[0], block("head", (60, 60, 10)).pieces[0]
    rail = replace(
        block("rail", (20, 20, 100), existing=True),
        pieces=(shaft, replace(head, at=frame_at((0, 0, 100))), replace(head, at=frame_at((0, 0, -10)))),
    )
    half = tb.Outline.polygon(
        [(-30, 0), (-11, 0), (-11, 11), (11, 11), (11, 0), (30, 0), (30, 30), (-30, 30)], list("abcdefgh")
    )
    a = Assembly("X").add("rail", rail)
    a = a.add("one", Part("P", sheet="S235 5.0", base=half), frame_at((0, 0, 50)))
    a = a.add("two", Part("P", sheet="S235 5.0", base=half), frame_at((0, 0, 50), (-1, 0, 0), (0, -1, 0)))
    order = order_of_work(assemble(a.weld("one", "two", throat=3), SHOP)).required()
    assert not any(s.carried for s in order.steps)
    assert [x.kind for x in order.schedule if isinstance(x, Work)][:3] == ["clear", "weld", "dress"]
    assert "in its place" in next(w.what for w in order.works if w.kind == "weld")


def test_a_tank_that_was_there_is_named_where_it_is_welded():
    tank = block("fuel tank", (60, 60, 40), existing=True, stuff="tank")
    rail = block("rail", (200, 40, 5), existing=True)
    a = Assembly("X").add("tank", tank, frame_at((0, 0, 60))).add("rail", rail)
    a = a.add("ear", plate("E"), frame_at((0, 0, 5), (1, 0, 0), (0, 0, 1))).weld("rail", "ear", throat=3)
    order = order_of_work(assemble(a, SHOP)).required()
    (clear,) = [w for w in order.works if w.kind == "clear"]
    assert "tank is in there already" in clear.what


def test_a_strut_shut_in_between_is_said_not_forgotten():
    ring = block("ring", (60, 60, 10), opening=polygon([(-12, -12), (12, -12), (12, 12), (-12, 12)]))
    a = Assembly("X").add("strut", gas_strut(100, 60, 165)).add("ring", ring, frame_at((0, 0, 40)))
    order = order_of_work(assemble(a, SHOP)).required()
    assert order.steps[-1].name == "strut"
