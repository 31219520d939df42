"""Order of work with known answers; the reason stands beside each."""

from __future__ import annotations

import itertools
from dataclasses import replace
from itertools import pairwise

import pytest

from tinbook.errors import BadValue
from tinbook.families.strap import tank_strap
from tinbook.making.made import Made
from tinbook.making.resolve import make
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.route.access import shut_by
from tinbook.route.fold_order import fold_sequence
from tinbook.route.order import order_of_work
from tinbook.route.plan import USUAL, Plan
from tinbook.shop.shop import Shop
from tinbook.sources import sources
from zoo import SHOP, ZOO, made_zoo


def part(sheet: str = "DC01 1.2", width: float = 500.0, height: float = 300.0, **options: object) -> Part:
    return Part("HN-OW", sheet=sheet, base=Outline.rectangle(width, height), **options)  # type: ignore[arg-type]


def plan(p: Part, folds: object = None, shop: Shop = SHOP) -> Plan:
    return order_of_work(make(p, shop), folds)


def test_the_whole_course():
    """Common practice: cut inside first, bead, fold, fit, prime, plug weld, fill, dress, epoxy, seal, paint, inserts, wax."""
    got = plan(
        part()
        .fold("rear", leg=40)
        .bead([(100, 100), (400, 100)], "R12x3")
        .holes_along(("left", "right"), pitch=45, inset=12, use="plug weld")
        .holes_along(("left", "right"), count=6, inset=12, use="tack screw")
        .hole((250, 200), use="nut insert", size="M6")
    )
    assert got.kinds == (
        *(
            "etch",
            "cut inside",
            "cut outside",
            "deburr",
            "bead",
            "fold",
            "fit",
            "prime",
            "plug weld",
            "fill",
            "dress",
            "epoxy",
            "seal",
            "paint",
            "insert",
            "wax",
        ),
    )
    assert all(s.why for s in got.steps)
    assert "tack screws" in next(s.operation.what for s in got.steps if s.operation.kind == "fit")
    assert got.ok


def test_a_bare_plate():
    """Nothing but an outline on the plasma table, which does not etch: cut, deburr, fit, prime, paint."""
    assert plan(part("DC01 2.0")).kinds == ("cut outside", "deburr", "fit", "epoxy", "paint")


@pytest.mark.parametrize("name", sorted(ZOO))
def test_every_constraint_is_kept_and_nothing_is_lost(name):
    got = order_of_work(made_zoo(name))
    assert got.steps, got.findings
    place = {s.operation.key: s.number for s in got.steps}
    assert len(place) == len(got.steps)
    for c in got.constraints:
        assert place[c.before] < place[c.after], c
        assert c.why
    folds = [s.operation.key for s in got.steps if s.operation.kind == "fold"]
    assert len(folds) == len(made_zoo(name).strips)
    assert {s.operation.kind for s in got.steps} <= set(USUAL)
    assert order_of_work(made_zoo(name)) == got
    for f in got.findings:
        assert f.source in sources()
        assert f.remedy or f.severity == "fine"


# --- who ----------------------------------------------------------------------------------------------


def test_who_does_it():
    """The laser is the supplier's, rolls and hand folder are the shop's own; a long fold in 3 mm plate is the supplier's."""
    got = plan(part().fold("rear", leg=40).bead([(100, 100), (400, 100)], "R12x3"))
    who = {s.operation.kind: (s.operation.who, s.operation.own) for s in got.steps}
    assert who["cut outside"] == ("Tarnbeck Laser and Fold", False)
    assert who["bead"] == ("Quillback Workshop", True)
    assert who["fold"] == ("Quillback Workshop", True)
    assert got.trips == 1  # from the supplier to the shop
    plate = plan(part("S235 3.0", 1000, 300).fold("rear", leg=60))
    (fold,) = [s.operation for s in plate.steps if s.operation.kind == "fold"]
    assert (fold.who, fold.own) == ("Tarnbeck Laser and Fold", False)
    assert plate.trips == 2  # own plasma and deburring, to the supplier to fold, and back


# --- beads ----------------------------------------------------------------------------------------------


def test_beads_before_the_return_that_would_foul_them():
    """A bead 40 mm beside a 60 mm return: the return would stand in the way of the shaft, and the step says so."""
    got = plan(part().fold("rear", leg=60).bead([(100, 240), (400, 240)], "R12x3"))
    (bead,) = [s for s in got.steps if s.operation.kind == "bead"]
    assert "hit return 'rear'" in bead.why
    assert got.place("bead") < got.place("fold")


def test_a_part_that_is_trimmed():
    """Without an allowance for the draw: bead, then trim, and holes beside beads after that, all before folding."""
    p = part(trim=True).bead([(100, 100), (400, 100)], "R12x3").fold("rear", leg=40)
    got = plan(p.hole((250, 112), 6, use="mark and drill"))
    kinds = got.kinds
    assert kinds.index("bead") < kinds.index("trim") < kinds.index("drill after bead") < kinds.index("fold")
    # The blank has stock to trim, so no hole of the beaded panel is in its place before, near a bead or not.
    far = plan(p.hole((450, 250), 20, use="drain"))
    assert "drill flat" not in far.kinds
    assert far.place("trim") < far.place("drill after bead")
    assert "trim" not in plan(part().bead([(100, 100), (400, 100)], "R12x3")).kinds


# --- holes ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("y", "when"),
    [
        # t 1.2, r 1.5, tangent line at 2.7; 1.5 t = 1.8 and the hole's radius 3 beyond it: 7.5
        (7.49, "drill after fold"),
        (7.51, "drill flat"),
    ],
)
def test_drilled_holes_by_a_fold(y, when):
    """2.5 t + r from the outside of the bend decides: metal nearer to it flows (common practice)."""
    got = plan(part().fold("front", leg=40, tool="F1").hole((250, y), 6, use="mark and drill"))
    assert when in got.kinds
    assert (got.place(when) > got.place("fold")) == (when == "drill after fold")


def test_a_cut_hole_by_a_fold_is_named():
    got = plan(part().fold("front", leg=40, tool="F1").hole((250, 7.0), 6, use="bolt"))
    assert [f.code for f in got.findings] == ["order.hole_near_fold"]
    assert got.ok, "it can be made so, but one should know"
    assert not plan(part().fold("front", leg=40, tool="F1").hole((250, 12.0), 6, use="bolt")).findings


def test_small_holes_on_a_coarse_cutter_are_drilled_flat():
    """The plasma table cuts no 4 mm hole in 2 mm sheet: marked, drilled on the bench before any fold."""
    got = plan(part("DC01 2.0").fold("rear", leg=40).hole((250, 150), 4))
    assert got.place("deburr") < got.place("drill flat") < got.place("fold")


# --- access and inserts -----------------------------------------------------------------------------------


def coil(*, near_fold: bool = False, use: str = "nut insert") -> Part:
    """A flat coil, 90 square: its innermost wall stands between two others, 25 mm from each."""
    p = Part("HN-CO", sheet="DC01 1.0", base=Outline.rectangle(120, 90)).fold("rear", leg=90, name="s1", tool="F1")
    for i, leg in enumerate((88, 60, 40), 2):
        p = p.fold(f"s{i - 1}.end", leg=leg, name=f"s{i}", tool="F1")
    y = 6.0 if near_fold else 20.0  # tangent line at t + r = 2.5; 1 mm from there to the rim of 5 mm
    if use == "nut insert":
        return p.hole((60, y), 9, panel="s4", use="nut insert")
    return p.hole((60, y), 5, panel="s4", use="mark and drill")


def test_inserts_after_paint_while_one_side_is_open():
    """In a channel's web one can always come from outside; a box with a lid of flanges is open below."""
    for p in (
        part().fold("front", leg=40).fold("rear", leg=40).hole((250, 150), use="nut insert", size="M6"),
        ZOO["closed box"]().hole((20, 20), use="nut insert", size="M5"),
    ):
        got = plan(p)
        assert "insert early" not in got.kinds
        assert got.place("paint") < got.place("insert")


def test_an_insert_goes_in_before_the_fold_that_shuts_it_in():
    """The coil's inmost wall has metal 40 mm before and behind it: neither side takes a tool of 120 mm once it is shut."""
    made = make(coil(), SHOP)
    assert made.ok
    (hole,) = made.panel("s4").holes
    shut = shut_by(made, made.panel("s4"), hole)
    assert shut["up"] and shut["down"]  # noqa: PT018
    got = order_of_work(made)
    assert "insert" not in got.kinds
    early = got.place("insert early")
    assert early
    # Flat it lies open; the fold that shuts its second side comes after.
    assert any(c.before.startswith("insert early") and c.after.startswith("fold") for c in got.constraints)
    closing = next(c.after for c in got.constraints if c.before.startswith("insert early") and "no tool" in c.why)
    assert early < got.place(closing)
    assert "access closes" in next(s.why for s in got.steps if s.operation.kind == "insert early")


def test_a_hole_that_must_be_drilled_after_folding_and_cannot():
    """Outer walls first, the fold beside the hole is the one that shuts it in: impossible, with a remedy."""
    got = plan(coil(near_fold=True, use="mark and drill"))
    assert [f.code for f in got.findings if f.severity == "stop"] == ["order.no_way_in"]
    assert not got.ok


def test_the_same_hole_between_two_folds():
    """Inner walls first: after the fold beside it, before the one that closes the coil."""
    got = plan(coil(near_fold=True, use="mark and drill"), ("s4", "s3", "s2", "s1"))
    assert got.ok
    what = [s.operation.what for s in got.steps]
    drill = next(i for i, w in enumerate(what) if w.startswith("drill"))
    folds = {w.split()[1]: i for i, w in enumerate(what) if w.startswith("fold")}
    assert folds["s4"] < drill
    assert any(drill < i for i in folds.values())


def test_contradiction_is_named_with_its_ring():
    """An insert in such a hole: drilled after a fold, set before the same fold."""
    (old,) = coil().holes
    tight = replace(coil(), holes=(replace(old, centre=(60.0, 4.0), dia=0.9),))  # too small to cut: drilled by hand
    got = plan(tight)
    assert not got.steps
    (f,) = [f for f in got.findings if f.code == "order.contradiction"]
    assert "insert early" in f.what
    assert "drill after fold" in f.what
    assert plan(tight, ("s4", "s3", "s2", "s1")).ok


# --- folds --------------------------------------------------------------------------------------------------


def test_folds_in_the_order_that_is_given():
    p = part().fold("front", leg=40).fold("rear", leg=40).fold("rear.end", leg=15)
    for order in itertools.permutations(("front", "rear", "rear.end")):
        got = plan(p, order)
        assert [s.operation.what.split()[1] for s in got.steps if s.operation.kind == "fold"] == list(order)
    with pytest.raises(BadValue, match="each fold once"):
        plan(p, ("front", "rear"))


def test_a_fold_sequence_is_taken_as_it_is():
    """Steps of a planner, hems in two hits; a planner that found none stops the plan and says so."""
    p = part().fold("front", leg=40).hem("rear", "closed", leg=10)
    found = fold_sequence(make(p, SHOP))
    got = plan(p, found)
    what = [s.operation.what for s in got.steps if s.operation.kind == "fold"]
    assert [w.rsplit(" on ", 1)[0] for w in what] == [f"{s.action} {s.fold}" for s in found.steps]
    assert {s.action for s in found.steps} == {"start the hem", "press flat", "fold"}
    none = plan(p, replace(found, steps=(), moves=()))
    assert [f.code for f in none.findings] == ["order.folds"]
    assert not none.ok


def test_closed_corners_are_welded_after_folding_and_before_paint():
    got = order_of_work(made_zoo("closed box"))
    last = max(s.number for s in got.steps if s.operation.kind == "fold")
    assert last < got.place("weld corners") < got.place("paint")


def test_a_part_that_cannot_be_made_has_no_order():
    made: Made = make(part().fold("front", leg=1), SHOP)
    got = order_of_work(made)
    assert not got.steps
    assert got.findings
    assert not got.ok


def test_the_table_escapes():
    got = order_of_work(make(part(), replace(SHOP, name="<b>Mill & Co</b>")))
    assert "<b>" not in got._repr_html_()
    assert "&lt;b&gt;Mill &amp; Co" in got._repr_html_()


def before(got: Plan, *kinds: str) -> bool:
    """Whether all these kinds of work are there, each after the one before it."""
    places = [got.place(k) for k in kinds]
    return places[0] > 0 and all(a < b for a, b in pairwise(places))


def test_tack_holes_are_closed_and_laps_sealed():
    """Common practice: an open hole or lap lets water in, and sealer holds on primer."""
    lapped = part().holes_along(("left", "right"), pitch=45, inset=12, use="plug weld")
    tacked = lapped.holes_along(("left", "right"), count=6, inset=12, use="tack screw")
    assert before(plan(tacked), "prime", "plug weld", "fill", "dress", "epoxy", "seal", "paint", "wax")
    assert "fill" not in plan(lapped).kinds
    assert "dress" not in plan(part("DC01 2.0").holes_along(("left",), count=3, inset=12, use="tack screw")).kinds


@pytest.mark.parametrize(("tails", "course"), [
    ("welded", ("prime", "weld tails", "dress", "epoxy", "paint", "wax")),
    ("riveted", ("epoxy", "paint", "rivet", "wax")),
])  # fmt: skip
def test_strap_tails_are_joined(tails, course):
    """A strap's looped end holds only by its tail: welded before the primer, or riveted after paint."""
    got = order_of_work(make(tank_strap(tails=tails), SHOP))
    assert before(got, *course)
    assert ("weld tails" in got.kinds) == (tails == "welded")
    assert ("rivet" in got.kinds) == (tails == "riveted")


def test_a_curl_that_lies_on_nothing_has_no_tail():
    assert "weld tails" not in order_of_work(made_zoo("eye")).kinds


def test_zinc_comes_off_and_stainless_gets_no_primer():
    """Common practice: zinc boils under the arc and its fume is poisonous; paint primer has no business on stainless."""
    steel = SHOP.sheet_by_key("DC01 1.2")
    zinc = replace(steel, key="DX51D 1.2", material=SHOP.material("DX51D"))
    shop = replace(SHOP, sheets=(*SHOP.sheets, zinc))
    plugs = {
        s: part(s).holes_along(("left",), pitch=45, inset=12, use="plug weld") for s in ("DX51D 1.2", "1.4301 1.5")
    }
    lapped = {s: plan(p, shop=shop) for s, p in plugs.items()}
    said = {s: next(x.operation.what for x in p.steps if x.operation.kind == "prime") for s, p in lapped.items()}
    assert "grind the zinc off" in said["DX51D 1.2"]
    assert "no primer" in said["1.4301 1.5"]
    assert "weld-through" not in said["1.4301 1.5"]
