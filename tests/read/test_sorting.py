"""An assembly sorted into sheet parts with counts, other hands, and what is no sheet."""

from __future__ import annotations

import cadquery as cq
import pytest
from strangers import angle, bent, drill

from tinbook.flatpattern import FlatPattern
from tinbook.plane.loops import Move
from tinbook.read.sorting import Sorted, compared, sort_solids
from tinbook.read.step.unfold import unfold


def bracket() -> cq.Workplane:
    """An L with one hole off its middle: its other hand is another part."""
    return angle().cut(drill(20, 30, 6))


def bolt() -> cq.Workplane:
    return cq.Workplane().polygon(6, 11.5).extrude(4).union(cq.Workplane().circle(3).extrude(24))


def disc(*at: tuple[float, float]) -> cq.Workplane:
    return cq.Workplane().circle(30).extrude(2).cut(cq.Workplane().pushPoints(at).circle(3).extrude(2))


@pytest.fixture(scope="module")
def sorted_out() -> Sorted:
    """Three brackets (two drawn anew, lying elsewhere), their other hand, two discs turned, three bolts, a block."""
    whole = cq.Assembly(name="HN-AS")
    one = bracket()
    whole.add(one, name="HN-BR-L")
    whole.add(one, name="HN-BR-L2", loc=cq.Location(cq.Vector(200, 0, 0)))
    whole.add(bracket().rotate((0, 0, 0), (1, 2, 3), 77).translate((0, 300, 0)), name="HN-BR-L3")
    whole.add(bracket().mirror("XZ").translate((0, 600, 0)), name="HN-BR-R")
    whole.add(disc((20, 0), (0, 10)), name="HN-D1")
    whole.add(disc((20, 0), (0, 10)).rotate((0, 0, 0), (0, 0, 1), 111).translate((0, 0, 90)), name="HN-D2")
    screw = bolt()
    for k in range(3):
        whole.add(screw, name=f"screw {k}", loc=cq.Location(cq.Vector(500, 40 * k, 0)))
    whole.add(cq.Workplane().box(40, 40, 40), name="block")
    return sort_solids(whole, 0.44)


def test_equal_parts_are_counted_and_the_other_hand_is_said(sorted_out: Sorted) -> None:
    found = {s.name: s for s in sorted_out.sheets}
    assert {n: s.count for n, s in found.items()} == {"HN-BR-L": 3, "HN-BR-R": 1, "HN-D1": 2}
    assert found["HN-BR-R"].mirror_of == "HN-BR-L"
    assert not found["HN-BR-L"].mirror_of


def test_the_rest_says_why(sorted_out: Sorted) -> None:
    assert sorted((r.count, r.name.split()[0]) for r in sorted_out.rest) == [(1, "block"), (3, "screw")]
    assert all("not a sheet" in r.why and len(r.why) <= 200 for r in sorted_out.rest)
    assert "3 x screw" in repr(sorted_out)
    assert "mirror of HN-BR-L" in repr(sorted_out)


def turned_over(f: FlatPattern) -> FlatPattern:
    """The same part seen from below: x the other way, up is down."""
    from dataclasses import replace

    flip = Move(a=-1.0)
    return replace(
        f,
        outer=f.outer.moved(flip).reversed(),
        cuts=tuple(replace(c, loop=c.loop.moved(flip).reversed()) for c in f.cuts),
        folds=tuple(
            replace(
                x,
                direction="down" if x.direction == "up" else "up",
                pieces=tuple((flip(a), flip(b)) for a, b in x.pieces),
            )
            for x in f.folds
        ),
    )


def test_a_part_seen_from_below_is_the_same() -> None:
    flat = unfold(bracket(), 0.44).flat
    assert compared(flat, turned_over(flat)) == "same"


def test_one_fold_the_other_way_is_another_part() -> None:
    """A U and a Z have the same blank."""
    u, z = (unfold(bent([30, 60, 25], [90, turn], 80), 0.44).flat for turn in (90, -90))
    assert u.area == pytest.approx(z.area)
    assert compared(u, z) == ""


def test_a_part_that_is_its_own_other_hand_is_the_same() -> None:
    plain = angle()
    assert compared(unfold(plain, 0.44).flat, unfold(plain.mirror("XZ"), 0.44).flat) == "same"


def test_a_flat_plate_has_no_other_hand() -> None:
    """Turned over it is the other one."""
    plate = cq.Workplane().box(80, 50, 2).cut(drill(20, 10, 6))
    assert compared(unfold(plate, 0.44).flat, unfold(plate.mirror("XZ"), 0.44).flat) == "same"
