"""The order of folds belongs to the promise: default or random, no stop of the folding without a parameter that helps."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Callable
from typing import Any

import pytest

import tinbook as tb
from familylists import FIRST, FITTED, LIGHT, PLATES, WELDED, drawn_values
from promise import _read
from tinbook.errors import BadValue
from tinbook.part.assembly import Assembly
from tinbook.part.part import Part
from tinbook.shop.shop import cut_on
from tinbook.space import frame_at
from zoo import all_on

DEMO = tb.Shop.demo()
LASER = cut_on(DEMO, "laser")
ALL = [*FIRST, *LIGHT, *PLATES, *WELDED, *FITTED]
SOME = (tb.families.folded_strip, tb.families.folded_box, tb.families.tank_cradle)
"""Kinds whose random values the own machines often cannot fold."""


def parts_of(thing: Any) -> list[Part]:
    if isinstance(thing, Assembly):
        return list({id(m.thing): m.thing for m in thing.members if isinstance(m.thing, Part)}.values())
    return [thing] if isinstance(thing, Part) else [t for t in thing if isinstance(t, Part)]


def shop_for(family: Callable[..., Any]) -> tb.Shop:
    return LASER if family in (*PLATES, *WELDED) else DEMO


@pytest.mark.parametrize("family", ALL, ids=lambda f: f.__name__)
def test_every_family_folds_at_its_defaults(family: Callable[..., Any]) -> None:
    for part in parts_of(family()):
        found = tb.check(tb.make(part, shop_for(family)))
        assert found.ok, found.stops
        assert found.state == "proved"


@pytest.mark.parametrize("family", ALL, ids=lambda f: f.__name__)
def test_random_values_fold_or_name_a_parameter(family: Callable[..., Any], request: pytest.FixtureRequest) -> None:
    """Three in CI of the kinds that are hard, a hundred of each with `--full`."""
    full = bool(request.config.getoption("--full"))
    if not full and family not in SOME:
        pytest.skip("with --full")
    rng, how = random.Random(family.__name__), Counter[str]()
    while how.total() < (100 if full else 3):
        try:
            thing = family(**drawn_values(family, rng))
        except BadValue:
            continue
        shop = shop_for(family)
        if isinstance(thing, Assembly):
            found: Any = tb.check(tb.assemble(thing, shop))
            named = [f for f in found if f.code == "parameter.nearest"]
            how["named" if found.stops else "folds"] += 1
            assert named or not found.stops, found.stops
            continue
        for part in parts_of(thing):
            found = tb.check(tb.make(part, shop))
            how[found.state if found.ok else "named"] += 1
            assert found.ok or [f for f in found if f.code == "parameter.nearest"], (part.provenance, found.stops)
    print(family.__name__, dict(how))


def test_what_is_named_folds() -> None:
    """Lapped corners with lips over the long sides meet the own folder's beam by springback; open ones do not."""
    values = {"length": 581, "width": 403, "height": 53, "lip": 39.9, "corners": "lapped"}
    found = tb.check(tb.make(tb.families.folded_box(**values), DEMO))
    assert {f.code for f in found.stops} <= {"route.order", "route.blocked"}
    if found.stops:
        (said,) = [f for f in found if f.code == "parameter.nearest"]
        again = {**values, **_read(tb.families.folded_box, said, set(values))}
        assert tb.check(tb.make(tb.families.folded_box(**again), DEMO)).ok


def test_an_assembly_names_the_member_that_nothing_folds() -> None:
    whole = tb.Assembly("X")
    bad = all_on(tb.families.floor_brace(number="BRACE"), "F1")
    whole = whole.add("brace left", bad, frame_at((0.0, 0.0, 0.0))).add("brace right", bad, frame_at((0.0, 900.0, 0.0)))
    found = tb.check(tb.assemble(whole, DEMO))
    assert not found.ok
    stops = [f for f in found.stops if f.code == "route.blocked"]
    assert stops
    assert all("BRACE" in f.where and "'brace left' and 'brace right'" in f.where for f in stops)


def test_an_assembly_names_the_member_that_a_rule_stops() -> None:
    plate = tb.Part("EAR", sheet="DC01 1.5", base=tb.Outline.rectangle(100, 60))
    short = plate.fold("front", "up", leg=2)
    found = tb.check(tb.assemble(tb.Assembly("X").add("ear", short, frame_at((0.0, 0.0, 0.0))), DEMO))
    assert any("EAR" in f.where and "'ear'" in f.where for f in found.stops)
