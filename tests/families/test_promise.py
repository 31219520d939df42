"""Any parameters of a family's stated ranges: a part that can be made, or what names the parameter and a value that can.

25 examples of each family and all that were once wrong; 1000 with `--full`, and others with `--hypothesis-seed`.
"""

from __future__ import annotations

import pickle
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from typing import Annotated, Any

import pytest
from hypothesis import HealthCheck, Phase, event, example, given, settings
from hypothesis import strategies as st

import tinbook as tb
from counts import count
from familylists import FIRST, FITTED, LIGHT, PLATES, WELDED, values_of
from promise import promised, stopped
from tinbook.errors import BadValue
from tinbook.families.calls import family
from tinbook.fields import Beyond
from tinbook.shop.shop import cut_on

DEMO = tb.Shop.demo()
LASER = cut_on(DEMO, "laser")
ALL = [*FIRST, *LIGHT, *PLATES, *WELDED, *FITTED]
BY_HAND = replace(DEMO, name="no brake", tools=tuple(t for t in DEMO.tools if t.machine != "brake"))
NO_DIES = replace(DEMO, name="no dies", tools=tuple(t for t in DEMO.tools if t.machine == "folder"))


def thick(key: str, measured: float) -> tb.Sheet:
    """Return a sheet of the demo shop as it measures."""
    return replace(DEMO.sheet_by_key(key), measured=measured)


FOUND: dict[str, tuple[dict[str, Any], ...]] = {
    "tunnel": (
        # "Parts of the blank touch": a step shorter than any cut had moved a bend line, which no parameter explains.
        {
            "length": 481.725278818,
            "crown_front": 250.165162354,
            "crown_rear": 230.0,
            "height_front": 110.5,
            "height_rear": 206.84,
            "slope": 84.0,
            "folds": 5,
            "shoulder": 70.579784989,
            "flange": 16.472950401,
            "weld_pitch": 25,
            "sheet": thick("DC01 3.0", 3.7),
        },
        {"length": 300, "crown_front": 396, "crown_rear": 276, "height_front": 80, "height_rear": 84, "slope": 88,
         "folds": 1, "shoulder": 66, "flange": 15, "weld_pitch": 48.9, "sheet": thick("DC01 3.0", 2.8)},
        {"length": 300, "crown_front": 325, "crown_rear": 312, "height_front": 80, "height_rear": 80, "slope": 88,
         "folds": 3, "shoulder": 56.85, "flange": 35, "weld_pitch": 25},
        {"height_rear": 310.264555387819, "crown_front": 386.73294455565184, "crown_rear": 344.7601945795284,
         "slope": 83.0, "shoulder": 66.72747400105038},
        # A plug weld leaves a short flange that tapers.
        {
            "length": 300, "crown_front": 90, "crown_rear": 366.3, "height_front": 80, "height_rear": 177.0,
            "slope": 50, "folds": 3, "shoulder": 15, "flange": 48.7, "weld_pitch": 25, "sheet": "S235 4.0",
        },
        {"length": 300, "crown_front": 204.3, "crown_rear": 363.7, "height_front": 160.9, "height_rear": 269.3,
         "slope": 53.0, "folds": 5, "shoulder": 28.2, "flange": 57.4, "weld_pitch": 28.4, "sheet": thick("DC01 3.0", 2.5)},
        {"length": 300, "crown_front": 180, "crown_rear": 90, "height_front": 187.3, "height_rear": 287.2, "slope": 88,
         "folds": 5, "shoulder": 90, "flange": 15, "weld_pitch": 73.4, "corners": "rolled"},
    ),
    "tank_cradle": (
        # The press has not the force for a long horn; a foot bolt lies in or near its bend; a pin off the plate.
        {"tank_width": 412.66, "tank_height": 700, "tank_corner": 104.0, "liner": 9.95, "seat": 55.27, "rise": 494.3,
         "horn": 74.1, "depth": 247.5, "foot": 20, "pin": 13.57, "below": 150},
        {"tank_width": 324.1, "tank_height": 396.1, "tank_corner": 162.1, "liner": 1.0, "seat": 51.0, "rise": 298.0,
         "horn": 26.4, "depth": 226.0, "foot": 25.0, "pin": 16.0, "below": 103.6, "strap_liner": 1.86},
        {"tank_width": 900, "tank_height": 700, "tank_corner": 15, "liner": 9.3, "seat": 60, "rise": 456.8,
         "horn": 120, "depth": 50, "foot": 20, "pin": 2.2, "below": 0, "strap_liner": 0, "pins": "left"},
        {"tank_width": 150, "tank_height": 700, "tank_corner": 15, "liner": 10, "seat": 20, "rise": 500,
         "horn": 119.1, "depth": 250, "foot": 28.5, "pin": 10.1, "below": 0, "strap_liner": 7.0, "pins": "left"},
    ),
    "reinforcement_plate": (
        # Welds of two edges meet at a corner; bolts that a plate of this size has no room for, whatever their spread.
        {"length": 80, "width": 194.3, "clip": 11.0, "bolts_along": 0, "weld_pitch": 43.0},
        {"length": 100.7, "width": 70, "clip": 8.5, "bolts_along": 1, "bolts_across": 3, "spread_along": 275.0,
         "spread_across": 269.1, "weld_pitch": 25},
    ),
    # A small disc without a bore was refused; bore and sides refused each other in turns.
    "flanged_disc": ({"across": 60, "bore": 0, "bolts": 0, "sides": 4}, {"across": 75, "bore": 200, "sides": 24}),
    # Refused under the name of the bay's parameters.
    "dash_frame": ({"height": 130, "land": 40, "margin": 60}, {"length": 300, "panels": 6}),
    # "No usual strut", with no value that has one.
    "lid_on_struts": ({"strut_at": 350, "frame_below": 300, "width": 800, "opening": 100},),
    "folded_channel": (
        {"length": 60, "web": 128.0, "holes": 12},
        {"length": 914.7, "web": 76.0, "flange": 120.1, "angle": 117.3, "holes": 20},
    ),
    "hemmed_dash_edge": ({"length": 150, "height": 300, "inserts": 24, "hem": "closed", "hem_return": 8},),
    "bead_rolled_panel": (
        {"length": 258.5, "width": 150, "beads": 12, "margin": 104.0, "along": "length"},
        {"length": 200, "width": 150, "margin": 75, "beads": 3},  # a bead of no length
        {"returns": 0.6, "length": 904.7, "width": 622.5, "beads": 2, "margin": 34.0},
    ),
    "folded_strip": ({"width": 569.0, "end_hole": 30},),
    "tank_strap": ({"tank_width": 900, "tank_height": 626.0, "tank_corner": 250, "below": 150, "overlap": 60},),
    "gusset": ({"foot": 40, "back": 290.2, "clip": 24.8, "nose": 9, "lip": 12.3, "thickness": 6, "tool": "VB40"},),
    "winch_cradle": ({"thickness": 6, "grade": "S355", "tool": "VB40"}, {"tool": "VB40", "lip": 65.1}),
    "body_mount": ({"tool": "VB40", "thickness": 6},),
}  # fmt: skip
"""What was once neither made nor helped, by family."""


MM = tb.Range(50, 500, 1, "mm")


@family
def plate(long: Annotated[float, MM] = 300.0, wide: Annotated[float, MM] = 100.0) -> tb.Part:
    if wide > long / 2:
        raise BadValue("shape", wide, "a long one")
    return tb.Part("X", sheet="DC01 1.5", base=tb.Outline.rectangle(long, wide))


def _shop(family: Callable[..., Any]) -> tb.Shop:
    return LASER if family in (*PLATES, *WELDED) else DEMO


def _searched(
    family: Callable[..., Any],
    shop: tb.Shop,
    examples: int,
    *,
    found: bool = True,
    things: st.SearchStrategy[dict[str, Any]] | None = None,
) -> Counter[str]:
    """Search and count how the promise was kept."""
    kept: Counter[str] = Counter()

    def run(values: dict[str, Any]) -> None:
        how = promised(family, values, shop)
        event(how)
        kept[how] += 1

    drawn = st.tuples(values_of(family), st.just({}) if things is None else things).map(
        lambda both: {**both[0], **both[1]}
    )
    test = given(drawn)(run)
    for values in FOUND.get(family.__name__, ()) if found else ():
        test = example(values)(test)
    phases = (Phase.explicit, Phase.generate)
    settings(max_examples=examples, suppress_health_check=list(HealthCheck), database=None, phases=phases)(test)()
    return kept


@pytest.mark.parametrize("family", ALL, ids=lambda f: f.__name__)
def test_any_parameters_are_made_or_name_what_to_turn(family: Callable[..., Any]) -> None:
    kept = _searched(family, _shop(family), count(25, 1000))
    assert sum(n for how, n in kept.items() if how.endswith("made")) == kept.total(), kept
    # The ranges are not empty words: a tenth is made at once; few draws scatter, so half of that there.
    assert kept["made"] >= kept.total() / count(20, 10), kept


def _opening(w: float, d: float, clip: float) -> tb.Outline:
    corners = [(0, 0), (0, -d), (w - clip - 1, -d), (w, clip + 1 - d), (w, 0)]
    return tb.Outline.polygon(corners, ["front", "sill", "clip", "rear", "tunnel"])


OPENINGS = st.fixed_dictionaries(
    {"opening": st.builds(_opening, st.floats(250, 1500), st.floats(250, 900), st.floats(45, 90))}
)
LIDS = st.fixed_dictionaries(
    {"lid": st.builds(tb.families.bolting, st.floats(170, 600), st.floats(170, 1500), st.floats(24, 60))}
)


@pytest.mark.parametrize(
    ("family", "things"),
    [(tb.floor_pan, OPENINGS), (tb.families.tunnel_lid, LIDS), (tb.families.bolting, None), (tb.families.dash_bay, None)],
    ids=lambda f: getattr(f, "__name__", ""),
)  # fmt: skip
def test_what_goes_with_another_thing_keeps_the_promise_too(family: Callable[..., Any], things: Any) -> None:
    kept = _searched(family, DEMO, count(20, 1000), things=things)
    assert sum(n for how, n in kept.items() if how.endswith("made")) == kept.total(), kept


@pytest.mark.parametrize(
    ("family", "shop"),
    [
        *((f, BY_HAND) for f in ALL),
        *((f, NO_DIES) for f in (*FIRST, tb.families.tunnel, tb.families.folded_box, tb.families.folded_strip)),
    ],
)
def test_a_shop_with_fewer_tools_is_told_the_same_way(family: Callable[..., Any], shop: tb.Shop) -> None:
    """Without the die: another parameter, another sheet, or that this shop has nothing for it."""
    _searched(family, shop, count(3, 100), found=False)


@pytest.mark.parametrize(
    ("family", "sheet"),
    [(tb.families.tunnel, "DC01 3.0"), (tb.families.tank_cradle, "S235 10.0"), (tb.families.tank_strap, "1.4301 1.0"), (tb.families.folded_box, "S355 6.0"),
     (tb.families.dash_frame, "5083 3.0"), (tb.families.hinged_lid, "S235 16.0"), (tb.families.floor_brace, "S235 8.0"), (tb.folded_channel, "S235 16.0"),
     (tb.bead_rolled_panel, "S235 6.0")],
)  # fmt: skip
def test_thick_sheet_is_told_the_same_way(family: Callable[..., Any], sheet: str) -> None:
    how = promised(family, {"sheet": sheet}, DEMO)
    assert how.endswith("made")


def test_a_sheet_that_the_shop_does_not_have_is_named() -> None:
    assert promised(tb.families.tunnel, {"sheet": "DC01 9.9", "shoulder": 60}, DEMO).endswith("unknown")
    with pytest.raises(BadValue, match=r"tunnel sheet.*'sheet'.*shop\.sheet_by_key"):
        tb.families.tunnel(sheet="sheet")
    with pytest.raises(BadValue, match=r"tank_cradle sheet"):
        tb.families.tank_cradle(sheet="thin")


def test_the_finding_says_parameter_value_and_what_it_should_be() -> None:
    made = tb.make(tb.families.tunnel(flange=15, slope=88), DEMO)
    (said,) = tb.check(made).of("parameter.nearest")
    assert said.where.startswith("tunnel ")
    assert (said.severity, said.unit in ("mm", "deg", "")) == ("caution", True)
    assert f"{said.limit:.10g}" in said.remedy
    # Not while a slider moves: a search takes tenths of a second.
    assert tb.check(made, kind="live").of("parameter.nearest") == ()


def test_what_was_changed_by_hand_belongs_to_nobody() -> None:
    """A part with a hole more is not what the family gives; a part that was sent still knows its family."""
    tunnel = tb.families.tunnel()
    assert tunnel.provenance is not None
    assert tunnel.hole((0, 100), 20).provenance is None
    assert tunnel.renamed(rev="B").provenance is None
    assert replace(tunnel, rev="B").provenance is None
    sent = pickle.loads(pickle.dumps(tunnel))
    assert sent == tunnel
    assert sent.provenance == tunnel.provenance
    assert sent.provenance.repeat({}) == tunnel


def test_a_part_cut_from_another_names_the_first_one_s_parameter() -> None:
    """The lid's opening is cut into a tunnel whose flange is too narrow for its welds: the tunnel's flange is named."""
    holes = tb.families.bolting(100, 200, 30, 75)
    part = tb.families.lid_opening(tb.families.tunnel(flange=15, slope=88, length=600, height_rear=210), holes)
    said = stopped(part, DEMO)
    assert said is not None
    assert said.where == "tunnel flange"


def test_a_family_of_one_s_own_is_helped_too() -> None:
    """Its refusal names no parameter; the search does, with a value that was tried."""
    with pytest.raises(Beyond, match=r"plate \w+: .*nearest \d") as wrong:
        plate(300, 200)
    ((path, value),) = wrong.value.better.items()
    assert (path, value) == (("wide",), pytest.approx(150, abs=0.06))
    assert plate(300, value).base.box[3] == value
