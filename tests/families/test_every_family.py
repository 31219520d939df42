"""No kind of part is left out, and those that start from another thing are searched together with it."""

from __future__ import annotations

import inspect
import re
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, event, given, settings
from hypothesis import strategies as st

import familylists as lists
import tinbook as tb
from counts import count
from tinbook.doors import homes
from tinbook.errors import BadValue
from tinbook.families.dash_panels import INSTRUMENTS, Instrument
from tinbook.making.assembled import assemble
from tinbook.part.assembly import Assembly

SHOP = tb.Shop.demo()
EXAMPLES = count(30, 300)
CHEAP = count(100, 1000)
SEARCH = settings(
    max_examples=EXAMPLES, suppress_health_check=list(HealthCheck), database=None, phases=(Phase.generate,)
)
KINDS = ("Part", "Assembly", "FlatPattern", "Bolting")


def test_every_kind_of_part_is_in_a_list() -> None:
    """By what a public function of the families' room gives back: a part, parts, an assembly, a blank, a pattern."""
    listed = {
        f.__name__
        for group in (lists.FIRST, lists.LIGHT, lists.PLATES, lists.WELDED, lists.FITTED, lists.ROUND_AN_OPENING)
        for f in group
    }
    found = set()
    for name in homes("tinbook.families"):
        thing = getattr(tb.families, name)
        if inspect.isfunction(thing):
            back = str(inspect.signature(thing).return_annotation)
            if any(re.search(rf"\b{kind}\b", back) for kind in KINDS):
                found.add(name)
    assert found - listed - set(lists.NOT_KINDS) == set()
    assert (listed | set(lists.NOT_KINDS)) - found == set()


def attempt(call: Callable[..., Any], *given_: Any, **values: Any) -> tuple[Any, BadValue | None]:
    try:
        return call(*given_, **values), None
    except BadValue as wrong:
        return None, wrong


def refused(wrong: BadValue, *families: Callable[..., Any]) -> None:
    """A refusal names a family, one of its parameters and a number that helps."""
    family, _, rest = wrong.field.partition(" ")
    known = {f.__name__: set(inspect.signature(f).parameters) for f in families}
    assert family in known, wrong.field
    assert known[family] & set(rest.split()) or rest in ("width", "length"), wrong.field
    assert re.search(r"\d", wrong.valid), wrong
    event(f"refused: {wrong.field}")


def made_or_said(part: tb.Part) -> Any:
    """The part can be made, and what stops it has a place, a limit and a remedy; else the finding does."""
    made = tb.make(part, SHOP)
    for f in tb.check(made, SHOP).stops:
        assert f.where, f
        assert f.remedy, f
    return made


WIDE = st.floats(
    lists.ranges(tb.families.tunnel)["crown_front"].low, lists.ranges(tb.families.tunnel)["crown_front"].high
)
LONG = st.floats(lists.ranges(tb.families.tunnel)["length"].low, lists.ranges(tb.families.tunnel)["length"].high)
TUNNEL_AND_LID = st.tuples(
    st.tuples(LONG, WIDE), lists.values_of(tb.families.bolting), st.one_of(st.just(0.0), st.floats(0, 1500)),
    lists.values_of(tb.families.tunnel_lid), st.floats(1, 12),
)  # fmt: skip


def test_any_lid_on_any_tunnel() -> None:
    whole = 0

    @SEARCH
    @given(TUNNEL_AND_LID)
    def run(drawn: Any) -> None:
        nonlocal whole
        (long, wide), pattern, at, top, thick = drawn
        # Lids of a size that some tunnels take: the full range is mostly refused by its width.
        pattern = {**pattern, "width": 60 + (pattern["width"] - 60) / 6, "length": 60 + (pattern["length"] - 60) / 5}
        pattern["radius"] = 3 + (pattern["radius"] - 3) / 6
        try:
            holes = tb.families.bolting(**pattern)
            tunnel = tb.families.lid_opening(tb.families.tunnel(long, wide, wide), holes, at=at)
            lid = tb.families.tunnel_lid(holes, **top)
        except BadValue as wrong:
            refused(wrong, tb.families.tunnel, tb.families.bolting, tb.families.lid_opening, tb.families.tunnel_lid)
            return
        whole += 1
        blank = tb.families.gasket(holes, thick)
        assert made_or_said(tunnel).flat is not None
        assert made_or_said(lid).flat is not None
        inside = [c.loop.box for c in blank.cuts if c.use == "bolt"]
        assert len(inside) == len(holes.points)
        assert all(math_dist(b, p) < 1e-9 for b, p in zip(inside, holes.points, strict=True))

    run()
    assert whole >= 0.05 * EXAMPLES


def math_dist(box: Any, p: Any) -> float:
    return max(abs((box[0] + box[2]) / 2 - p[0]), abs((box[1] + box[3]) / 2 - p[1]))


# fmt: off
PLACED = st.tuples(
    st.one_of(
        st.sampled_from(sorted(INSTRUMENTS)),
        st.builds(
            lambda a, b, deep: Instrument(opening=(a, b), front=(a + 8, b + 8), behind=(a + 4, b + 4, deep)),
            st.floats(10, 160), st.floats(10, 110), st.floats(10, 120),
        ),
    ),
    st.one_of(st.floats(-20, 20), st.floats(-200, 200)),
    st.one_of(st.just(0.0), st.floats(-100, 100)),
)
MOUNTED = st.one_of(*[st.lists(PLACED, max_size=n) for n in (1, 1, 2, 4)])
"""Four at random places hardly ever fit."""
# fmt: on


def test_any_panel_in_any_bay() -> None:
    whole = 0

    @settings(SEARCH, max_examples=CHEAP)
    @given(st.one_of(st.just({}), lists.values_of(tb.families.dash_bay)), MOUNTED)
    def run(bay: dict[str, Any], mounted: Any) -> None:
        # Most random bays are refused by their own height or panels: half are the default one.
        nonlocal whole
        try:
            pattern = tb.families.dash_bay(**bay)
        except BadValue as wrong:
            refused(wrong, tb.families.dash_bay, tb.families.bolting)
            return
        panel, no = attempt(tb.families.fascia, pattern, mounted)
        if no:
            assert no.field.startswith("fascia ")  # names the instrument and its number
            assert re.search(r"\d", no.valid), no
            return
        whole += 1
        assert made_or_said(panel).flat is not None

    run()
    assert whole >= 0.1 * CHEAP


OPENING = st.tuples(st.floats(200, 1500), st.floats(200, 900), st.floats(0, 80))


def test_any_pan_in_any_opening() -> None:
    whole = 0

    @SEARCH
    @given(OPENING, lists.values_of(tb.floor_pan), lists.values_of(tb.families.floor_pan_pair))
    def run(sizes: tuple[float, float, float], pan: dict[str, Any], pair: dict[str, Any]) -> None:
        nonlocal whole
        w, d, clip = sizes
        corners = [(0, 0), (0, -d), (w - clip - 1, -d), (w, clip + 1 - d), (w, 0)]
        opening = tb.Outline.polygon(corners, ["front", "sill", "clip", "rear", "tunnel"])
        try:
            left, right = tb.families.floor_pan_pair(opening, **pair, **pan)
        except BadValue as wrong:
            refused(wrong, tb.floor_pan, tb.families.floor_pan_pair)
            return
        whole += 1
        hands = [made_or_said(p) for p in (left, right)]
        if hands[0].flat is None:
            assert hands[1].flat is None
            assert all(f.where and f.remedy for f in hands[0].findings if f.severity == "stop")
        else:
            assert hands[0].flat.area == pytest.approx(hands[1].flat.area, rel=1e-12)

    run()
    assert whole >= 0.2 * EXAMPLES


@pytest.mark.parametrize("family", lists.FITTED, ids=lambda f: f.__name__)
def test_any_assembly_of_sheet(family: Callable[..., Assembly]) -> None:
    """Its parts can be made; a refusal names the parameter and a number that helps."""
    whole = 0

    @SEARCH
    @given(lists.values_of(family))
    def run(values: dict[str, Any]) -> None:
        nonlocal whole
        thing, wrong = attempt(family, **values)
        if wrong:
            assert wrong.field.split()[1] in values, wrong.field
            assert re.search(r"\d", wrong.valid), wrong
            return
        made = assemble(thing, SHOP)
        whole += 1
        for _, own in made.made:
            assert own.flat is not None, [str(f) for f in own.findings]
            for f in tb.check(own, SHOP).stops:
                assert f.where, f
                assert f.remedy, f

    run()
    assert whole >= 0.05 * EXAMPLES
