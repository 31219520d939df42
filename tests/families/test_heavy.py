"""Heavy plate families: any parameters of the stated ranges give parts that can be made, or name the parameter and a value that can."""

from __future__ import annotations

import math
import re
import typing
from functools import partial

import pytest
from hypothesis import event, given
from hypothesis import strategies as st

import tinbook as tb
from familylists import PLATES, WELDED
from tinbook.bench.parameters import parameters
from tinbook.calc.lugs import screen_pin_plate
from tinbook.errors import BadValue, CannotMake
from tinbook.families.body_mounts import body_mount
from tinbook.families.gussets import gusset
from tinbook.families.joiner import front_joiner, temporary_brace
from tinbook.families.recovery_plates import pin_plate, rail_slot_template, recovery_plate
from tinbook.families.winch_cradles import winch_cradle
from tinbook.making.assembled import assemble
from tinbook.part.assembly import Assembly
from tinbook.rules.check import check
from tinbook.rules.registry import live
from tinbook.shop.shop import cut_on

SHOP = cut_on(tb.Shop.demo(), "laser")
ASSEMBLIES, PARTS = WELDED, PLATES
PRESS = ("fold.force", "bend.length", "bend.thickness")
"""What the small press may say of a fold that it was given: too long, too thick, not the force."""


def drawn(function):
    """Return a strategy of parameters over a family's own ranges."""
    kinds = {}
    for p in parameters(function):
        if p.kind == "length":
            kinds[p.name] = st.floats(p.range.low, p.range.high).map(lambda v: round(v, 1))
        elif p.kind == "count":
            kinds[p.name] = st.integers(int(p.range.low), int(p.range.high))
        elif p.kind == "choice":
            kinds[p.name] = st.sampled_from(p.choices)
    return st.fixed_dictionaries(kinds)


def attempt(function, values):
    try:
        return function(**values), None
    except BadValue as wrong:
        return None, wrong


def told(function, values):
    """Return what a family makes; when it refuses, it must name a parameter and a value that helps."""
    thing, wrong = attempt(function, values)
    if wrong is None:
        return thing
    family, name = wrong.field.split()
    event(f"refused: {name}")
    assert family in (function.__name__, "recovery_plate")
    assert name in values, wrong
    nearest = re.search(r"nearest ([\d.]+)", str(wrong))
    if nearest is None:
        assert "change what limits it" in str(wrong), wrong
        return None
    kind = {p.name: p.kind for p in parameters(function)}[name]
    number = float(nearest.group(1))
    thing, again = attempt(function, {**values, name: int(number) if kind == "count" else number})
    # Another parameter may be wrong too, but not this one again.
    if again is not None:
        assert again.field != wrong.field or "change what limits it" in str(again), (wrong, again)
    return thing


def held(thing, values):
    """Make and check every part of it; nothing may stop it but the press, where the fold was given to it."""
    made = assemble(thing, SHOP) if isinstance(thing, Assembly) else None
    parts = [m for _, m in made.made] if made else [tb.make(thing, SHOP)]
    for m in parts:
        on_press = values.get("tool") == "VB40"
        stops = [f for f in live(m).stops if not (on_press and f.code in PRESS and f.where.startswith("fold '"))]
        assert stops == [], stops
        assert m.flat is not None or on_press


@pytest.mark.parametrize("function", [*ASSEMBLIES, *PARTS])
def test_any_parameters(function):
    @given(drawn(function))
    def run(values):
        thing = told(function, values)
        if thing is not None:
            event("made")
            held(thing, values)

    run()


@pytest.mark.parametrize(
    "call",
    [
        winch_cradle,
        partial(winch_cradle, span=600.0, depth=300.0, height=200.0, thickness=6, rail_bolts=4, feet_along=130.0),
        recovery_plate,
        partial(recovery_plate, pin=25, thickness=12, ring=40.0, rail_height=150.0, rail_width=90.0, rail_wall=5.0),
        body_mount,
        partial(body_mount, bolt="M10", shims=0, thickness=4, squeeze=20.0, cushion_dia=50.0, width=160.0),
        front_joiner,
        partial(front_joiner, span=300.0, ribs=1, thickness=6, height=140.0, cut="plasma"),
    ],
)
def test_solids_meet_as_they_should(call):
    made = assemble(call(), SHOP)
    found = check(made)
    assert found.of("assembly.clash")[0].severity == "fine"
    welds = found.of("assembly.weld_gap")
    assert len(welds) == len(made.assembly.welds) > 0
    assert {f.severity for f in welds} == {"fine"}
    assert max(p.common for p in made.pairs) < 0.05
    assert all(m.offset <= 0.05 for m in made.matings)
    assert [f for f in found.stops if not f.code.startswith("hole.narrow")] == []
    assert found.of("assembly.caution")


def test_every_fastener_goes_through_holes_on_its_own_axis():
    made = assemble(winch_cradle(), SHOP)
    bolts = [m for m in made.assembly.members if m.label.startswith("hexagon bolt")]
    assert len(bolts) == 6 + 4 + 2
    for b in bolts:
        through = [
            bore
            for m in made.assembly.members
            if m.kind == "part"
            for bore in made.bores(m.name)
            if _distance(bore.at, bore.axis, b.at.origin) < bore.dia / 2
        ]
        assert len(through) == 1, b.name
        assert _distance(through[0].at, through[0].axis, b.at.origin) < 0.05


def _distance(at, axis, p):
    d = [p[k] - at[k] for k in range(3)]
    along = sum(d[k] * axis[k] for k in range(3))
    return sum((d[k] - along * axis[k]) ** 2 for k in range(3)) ** 0.5


def test_both_cheeks_are_one_part():
    a = winch_cradle()
    assert a.quantity(a.member("cheek left").thing) == 2
    assert a.member("cheek left").thing == a.member("cheek right").thing


def test_plasma_tabs_are_looser_but_too_narrow_for_that_table():
    tight, loose = winch_cradle(cut="laser").parts[0], winch_cradle(cut="plasma").parts[0]
    slots = [[h for h in p.holes if h.name.startswith("slot")] for p in (tight, loose)]
    for a, b in zip(*slots, strict=True):
        assert abs(b.loop.area) > abs(a.loop.area)
        x0, x1 = (sorted((lo.box[2] - lo.box[0], lo.box[3] - lo.box[1]))[0] for lo in (a.loop, b.loop))
        assert x1 - x0 == pytest.approx(0.35, abs=1e-9)
    found = live(tb.make(loose, cut_on(tb.Shop.demo(), "plasma")))
    stopped = found.of("hole.narrow")[0]
    assert stopped.severity == "stop"
    # The shop has a machine that cuts them: what the remedy says, done.
    assert "Fibre laser, 6 kW: cutter 'laser' put first" in stopped.remedy
    assert not live(tb.make(loose, cut_on(tb.Shop.demo(), "laser"))).of("hole.narrow")


def test_a_small_press_cannot_fold_the_whole_lip():
    made = assemble(winch_cradle(tool="VB40"), SHOP)
    force = [f for f in live(made.part("WINCH-CRADLE-1")) if f.code == "fold.force"]
    assert [f.severity for f in force] == ["stop"]
    assert "lip" in force[0].where


def test_recovery_plate_states_no_rating():
    screen = screen_pin_plate(pin_plate(22, 16, 28), 60e3)
    with pytest.raises(CannotMake, match="rating"):
        screen.rating  # noqa: B018
    cautions = recovery_plate().cautions
    assert any("does not rate it" in c for c in cautions)
    assert screen.cautions == cautions


def test_template_is_the_slot_of_the_rail():
    a = recovery_plate(thickness=12, let_in=200.0)
    rail = a.member("rail").thing
    base = rail_slot_template(12, 200.0).base
    left, right = base.edge("wall left").start[0], base.edge("wall right").start[0]
    walls = sorted(v for p in rail.pieces[3:5] for v in (p.outer.box[0], p.outer.box[2]))
    assert (left, right) == pytest.approx((walls[1], walls[2]))
    assert base.edge("slot end").start[1] == -201.0


@pytest.mark.parametrize(
    ("call", "named"),
    [
        (lambda: winch_cradle(span=300), "winch_cradle span.*nearest 440"),
        (lambda: winch_cradle(fairlead=240, fairlead_bolts=200), "fairlead_bolts.*285 to 320.*nearest 285"),
        (lambda: winch_cradle(depth=220, feet_along=125), "feet_along.*deck 220 mm deep.*nearest 110"),
        (lambda: winch_cradle(rail_bolts=9), "rail_bolts.*nearest 4"),
        (lambda: winch_cradle(rail_bolts=2.5), "rail_bolts.*whole number"),
        (lambda: winch_cradle(thickness=8), "thickness.*one of: 5, 6"),
        (lambda: recovery_plate(ring=40, rail_height=90), "ring.*rail 90 mm high.*nearest"),
        (lambda: recovery_plate(pin=25, reach=30), "reach.*nearest 40"),
        (lambda: recovery_plate(pin=21), "pin.*one of: 19, 22, 25"),
        (lambda: body_mount(cushion_dia=80, width=100), "body_mount width.*gussets.*nearest 124.96"),
        (lambda: body_mount(cushion_dia=80, width=140, depth=90), "body_mount depth.*nearest"),
        (lambda: body_mount(squeeze=float("nan")), "squeeze.*a finite number"),
        (lambda: front_joiner(span=300, ribs=5), "ribs.*nearest 2"),
        (lambda: gusset(lip=20), "gusset lip.*nearest 40"),
        (lambda: gusset(foot=50, back=50, lip=40), "gusset lip.*can be folded.*nearest 0"),
        (lambda: temporary_brace(span=100), "temporary_brace span.*nearest 300"),
    ],
)
def test_bad_parameters_name_themselves_and_the_nearest_valid_value(call, named):
    with pytest.raises(BadValue, match=named):
        call()


@pytest.mark.parametrize("function", [*ASSEMBLIES, *PARTS])
def test_every_parameter_is_annotated_for_the_workbench(function):
    assert {p.name for p in parameters(function)} == set(typing.get_type_hints(function)) - {"return"}


def test_a_winch_s_bolts_by_hand() -> None:
    """EN 1993-1-8: M10 8.8, As 58.0 mm²: shear 0.6 x 800 x 58 / 1.25 = 22.27 kN, tension 0.9 x 800 x 58 / 1.25 = 33.41 kN.

    30 kN on four: 7.5 kN each; tipped about the front pair by 55 mm over 114: 30 x 55 / 114 / 2 = 7.237 kN each.
    7.5 / 22.27 + 7.237 / 33.41 / 1.4 = 0.4915. M12, As 84.3: 0.85 x 0.6 x 800 x 84.3 / 1.25 = 27.52 kN, 5 kN on each of six.
    """
    cradle = winch_cradle(feet_across=254, feet_along=114)
    feet, rails = tb.families.winch_bolts(cradle, "30 kN")
    assert feet.value == pytest.approx(0.4915, abs=2e-4)
    assert rails.value == pytest.approx(5 / 27.52, rel=1e-3)
    assert [f.code for f in tb.families.winch_bolts(cradle, 70e3).stops] == ["winch.feet"]
    lower = tb.families.winch_bolts(cradle, 30e3, height=0.0)[0]
    assert lower.value == pytest.approx(7.5 / 22.27, rel=1e-3)


@pytest.mark.parametrize("pull", [None, "x", -1.0, math.nan, True, 2e6])
def test_a_pull_that_cannot_be_is_refused(pull: object) -> None:
    with pytest.raises(BadValue, match="winch_bolts pull"):
        tb.families.winch_bolts(winch_cradle(), pull)  # type: ignore[arg-type]


@pytest.mark.parametrize("thing", [None, 5, tb.Assembly("A"), front_joiner()])
def test_only_a_winch_s_cradle_has_its_bolts(thing: object) -> None:
    with pytest.raises(BadValue, match="winch_cradle"):
        tb.families.winch_bolts(thing, 1e3)  # type: ignore[arg-type]
