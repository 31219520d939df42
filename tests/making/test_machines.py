"""Which machine folds the whole part: the rule of each fold, asked once more where the shop's own tools cannot."""

from __future__ import annotations

from dataclasses import replace

import pytest

import tinbook as tb
from tinbook.making.machines import _Screen
from tinbook.making.made import Made
from tinbook.making.resolve import _resolved, choose_machines, make_like
from tinbook.part.outline import Outline
from tinbook.route.fold_order import fold_sequence

DEMO = tb.Shop.demo()
OWN = replace(DEMO, name="no brake", tools=tuple(t for t in DEMO.tools if t.machine != "brake"))
EDGES = ("near", "right", "far", "left")


def zed(between: float, tool: str | None = None) -> tb.Part:
    """Two legs in opposite directions at a distance."""
    part = tb.Part("X", sheet="DC01 1.0", base=Outline.rectangle(200, between, EDGES))
    return part.fold("near", "up", leg=20, tool=tool).fold("far", "down", leg=20, tool=tool)


@pytest.mark.parametrize("family", [tb.families.folded_strip, tb.families.flanged_disc, tb.families.tank_cradle, tb.families.floor_brace], ids=lambda f: f.__name__)  # fmt: skip
def test_a_family_at_its_defaults_is_folded_by_the_brake_where_the_own_machines_cannot(family: object) -> None:
    made = tb.make(family(), DEMO)  # type: ignore[operator]
    assert {DEMO.tool(s.bend.tool).machine for s in made.strips} == {"brake"}
    (said,) = [f for f in made.findings if f.code == "bend.machine"]
    assert "Tarnbeck" in said.what
    assert "hits the" in said.what or "mm long" in said.what
    assert said in made.flat.findings  # type: ignore[union-attr]
    found = tb.check(made)
    assert found.ok, found.stops
    assert fold_sequence(made).verdict == "proved"


def test_a_z_folds_on_the_own_folder_from_the_width_of_its_beam_on() -> None:
    """The folding beam is 27 mm wide from 3 mm off the line on, its stiffener 40 mm more, 20 mm below.

    With 24 mm between the folds a leg of 20 that hangs down stands in the beam; 90 mm apart it hangs free of it.
    """
    near, far = tb.make(zed(24), DEMO), tb.make(zed(90), DEMO)
    assert {s.bend.process for s in near.strips} == {"air"}
    assert {s.bend.tool for s in far.strips} == {"F1"}
    assert not [f for f in far.findings if f.code == "bend.machine"]
    # The blank is another one: 2 (r + t) less the arc, once each with r = 1.5 and with the die's radius.
    assert near.flat is not None
    assert near.flat.size[1] != pytest.approx(tb.make(zed(24, "F1"), DEMO).flat.size[1], abs=1e-3)  # type: ignore[union-attr]


def test_a_tool_that_the_part_names_stays() -> None:
    made = tb.make(zed(24, "F1"), DEMO)
    assert {s.bend.tool for s in made.strips} == {"F1"}
    assert fold_sequence(made).verdict == "stopped"


def shown(made: Made) -> str:
    """All that follows from the choice of machines."""
    return repr((made.folded, made.flat, made.findings))


@pytest.mark.parametrize(("before", "after"), [(90, 24), (24, 90), (90, 95), (24, 25)])
def test_a_slider_keeps_the_machines_until_it_rests(before: float, after: float) -> None:
    """See the Z above: between 24 and 90 mm the choice changes, 90 to 95 and 24 to 25 it does not."""
    last = tb.make(zed(before), DEMO)
    moving = make_like(zed(after), last)
    assert {s.bend.tool for s in moving.strips} == {s.bend.tool for s in last.strips}
    rested = choose_machines(moving)
    assert (rested is moving) == (after - before in (5, 1))
    assert shown(rested) == shown(tb.make(zed(after), DEMO))
    assert choose_machines(rested) is rested


def test_a_slider_over_the_length_of_a_machine_changes_it_at_once() -> None:
    """1250 mm go into the folder, 1300 mm do not."""

    def angle(length: float) -> tb.Part:
        return tb.Part("X", sheet="DC01 1.0", base=Outline.rectangle(length, 300, EDGES)).fold("near", leg=60)

    short = tb.make(angle(1250), DEMO)
    assert {s.bend.tool for s in short.strips} == {"F1"}
    long = make_like(angle(1300), short)
    assert shown(long) == shown(tb.make(angle(1300), DEMO))
    assert {DEMO.tool(s.bend.tool).machine for s in long.strips} == {"brake"}


def test_other_folds_or_another_sheet_choose_machines_at_once() -> None:
    last = tb.make(zed(90), DEMO)
    for part in (zed(24).fold("right", "up", leg=20), zed(24, "F1"), replace(zed(24), sheet="DC01 1.5")):
        assert shown(make_like(part, last)) == shown(tb.make(part, DEMO))


def test_parts_of_families_end_on_the_machines_of_make_from_wherever_the_slider_came() -> None:
    import random

    from familylists import drawn_values
    from tinbook.errors import BadValue

    rng, carried, moved = random.Random(3), 0, 0
    for family in (tb.folded_channel, tb.hemmed_dash_edge, tb.families.folded_strip, tb.families.floor_brace):
        last = tb.make(family(), DEMO)
        for _ in range(6):
            try:
                part = family(**drawn_values(family, rng))
            except BadValue:
                continue
            moving = make_like(part, last)
            last = choose_machines(moving)
            carried, moved = carried + (last is moving), moved + (last is not moving)
            assert shown(last) == shown(tb.make(part, DEMO))
    assert carried >= 5
    assert moved >= 2


def test_where_no_machine_does_it_the_first_choice_stays() -> None:
    made = tb.make(zed(24), OWN)
    assert {s.bend.tool for s in made.strips} == {"F1"}
    assert not [f for f in made.findings if f.code == "bend.machine"]


def test_a_return_that_is_longer_than_the_press_goes_to_the_brake() -> None:
    """The return's length is known only once the leg is laid out: 780 mm do not go into 400 mm of press."""
    part = tb.Part("X", sheet="DC01 2.0", base=Outline.rectangle(780, 120, EDGES))
    made = tb.make(part.fold("near", "up", leg=30).fold("near.end", "down", leg=30), DEMO)
    assert {DEMO.tool(s.bend.tool).machine for s in made.strips} == {"brake"}
    assert tb.check(made).ok


def test_a_press_that_has_not_the_force_is_passed_over() -> None:
    """650 t² L / V, four times that for bottoming, scaled by 410 / 450 MPa: 2 mm x 390 over 16 mm take 231 kN."""
    machines = tuple(replace(m, force=200e3) if m.key == "press" else m for m in DEMO.machines)
    part = tb.Part("X", sheet="DC01 2.0", base=Outline.rectangle(390, 120, EDGES)).fold("near", "up", leg=30)
    assert {s.bend.process for s in tb.make(part, DEMO).strips} == {"bottom"}
    made = tb.make(part, replace(DEMO, machines=machines))
    assert {s.bend.process for s in made.strips} == {"air"}
    assert any("kN" in f.what for f in made.findings if f.code == "bend.machine")


@pytest.mark.parametrize("family", [tb.folded_channel, tb.families.folded_box, tb.families.tunnel, tb.families.hinged_lid, tb.families.dash_frame], ids=lambda f: f.__name__)  # fmt: skip
def test_what_the_own_machines_fold_stays_on_them(family: object) -> None:
    made = tb.make(family(), DEMO)  # type: ignore[operator]
    assert {s.bend.tool for s in made.strips} == {"F1"}
    assert fold_sequence(made).verdict == "proved"


@pytest.mark.full
def test_what_is_ruled_out_quickly_the_search_rules_out_too() -> None:
    """Of every family's random parts none is sent away that the first tools would have folded."""
    import random

    from familylists import FIRST, LIGHT, drawn_values
    from tinbook.errors import BadValue

    rng, wrong, sent = random.Random(7), [], 0
    for family in (*FIRST, *LIGHT):
        for _ in range(30):
            values = drawn_values(family, rng)
            try:
                part = family(**values)
            except BadValue:
                continue
            first = _resolved(part, DEMO, DEMO.sheet_by_key(part.sheet))
            # Length and force are limits of the machine itself; here it is about what hits.
            if not first.ok or not _Screen(first).blocked() or len(first.strips) > 12:
                continue
            sent += 1
            if fold_sequence(first).verdict == "proved" and tb.check(first).ok:
                wrong.append((family.__name__, values))
    assert sent > 50
    assert not wrong


@pytest.mark.parametrize("kind", ["closed", "open"])
def test_a_hem_is_begun_on_a_tool_of_its_length(kind: str) -> None:
    """The own folder is 1250 mm long: a hem of 1240 mm begins on it, one of 1344 mm on the supplier's brake."""
    flat = {n: tb.Part("X", sheet="DC01 1.0", base=Outline.rectangle(n, 300, EDGES)) for n in (1240, 1344)}
    for long, tool in ((1240, "F1"), (1344, "V6")):
        made = tb.make(flat[long].hem("near", kind, "up", leg=12), DEMO)
        assert [s.bend.tool for s in made.strips] == [tool]
    (hem,) = flat[1344].hem("near", kind, "up", leg=12).folds
    named = tb.make(flat[1344]._changed(folds=(replace(hem, tool="F1"),)), DEMO)
    assert [(f.code, f.value, f.limit) for f in named.findings if f.severity == "stop"] == [("bend.length", 1344, 1250)]


def test_a_tool_that_is_too_short_proves_no_order() -> None:
    """A leg's edge is longer than the folder, named for it: the fold simulation has no setup for it."""
    part = tb.Part("X", sheet="DC01 1.0", base=Outline.rectangle(1344, 300, EDGES))
    made = tb.make(part.fold("near", "up", leg=60).fold("near.end", "up", leg=20, tool="F1"), DEMO)
    order = fold_sequence(made)
    assert order.verdict == "stopped"
    assert any("F1 takes 1250 mm at most" in f.what for f in order.findings if f.code == "route.tool")
