"""Bead layouts: bad input, the making rules, the same answer everywhere, and that the search is worth its time.

Frequencies are our own shells', which `tests/reference` holds against exact plates and CalculiX; what is tested here
is the comparison between two layouts on the same meshes.
"""

from __future__ import annotations

import itertools
import random
import xml.etree.ElementTree as ET
from concurrent.futures import Executor
from dataclasses import replace
from typing import Any

import pytest

import layoutcases as cases
from layoutcases import HELD, QUICK, SMALL
from strategies import SHOP
from tinbook.errors import BadValue, CannotMake, UnknownName
from tinbook.families.plain import bead_rolled_panel
from tinbook.making.resolve import make
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.rules.registry import live
from tinbook.strength import supports as on
from tinbook.strength.analysis import modes, static
from tinbook.strength.bead_search.candidate import Layout, even, first_ones, trimmed, varied
from tinbook.strength.bead_search.result import BeadLayouts
from tinbook.strength.bead_search.search import SPOILS, bead_layouts
from tinbook.strength.bead_search.zone import placed, zone
from tinbook.strength.loads import Foot, Pressure

# --- bad input ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("given", "told"),
    [
        ({"runs": 0}, "runs: 0"),
        ({"members": 1.5}, "members: 1.5"),
        ({"seed": -1}, "seed: -1"),
        ({"directions": ()}, "directions"),
        ({"directions": (float("nan"),)}, "directions: nan"),
        ({"keep_off": [(1, 2, 3, 4)]}, "keep_off"),
        ({"feet": [Pressure(pressure=1e-4)]}, "feet: 'Pressure'"),
        ({"feet": [Foot(at=(299, 100))]}, "load 'foot' at"),
        ({"rolls": ("R99",)}, "R12x3"),
        ({"panel": "lid"}, "lid"),
        ({"size": 0.0}, "mesh size"),
        ({"most": 0.0}, "most: 0.0"),
        ({"executor": 2}, "executor"),
    ],
)
def test_bad_values_are_named(given: dict[str, Any], told: str) -> None:
    with pytest.raises(BadValue, match=told.replace("(", r"\(")):
        bead_layouts(SMALL, SHOP, HELD, **{**QUICK, **given})


def test_supports_are_checked_before_anything_runs() -> None:
    with pytest.raises(UnknownName, match="middle"):
        bead_layouts(SMALL, SHOP, [on.clamped_edge("middle")], **QUICK)
    with pytest.raises(BadValue, match="the part can"):
        bead_layouts(SMALL, SHOP, "simply supported: front", **QUICK)
    with pytest.raises(UnknownName, match="glued"):
        bead_layouts(SMALL, SHOP, "glued", **QUICK)


def test_parts_that_no_bead_cures() -> None:
    with pytest.raises(CannotMake, match="no bead rolls take DC01 3 mm"):
        bead_layouts(bead_rolled_panel(beads=0, sheet="DC01 3.0"), SHOP, HELD, runs=8)
    far = bead_rolled_panel(beads=0).fold("front", "up", leg=2)
    assert live(make(far, SHOP)).stops
    with pytest.raises(CannotMake, match="cannot cure"):
        bead_layouts(far, SHOP, HELD, runs=8)


def test_a_panel_too_small_for_any_bead_is_left_alone(one: Executor) -> None:
    tiny = Part("HN-T", sheet="DC01 0.8", base=Outline.rectangle(60, 60))
    got = bead_layouts(tiny, SHOP, HELD, feet=(), executor=one)
    assert [r.layout for r in got.rows] == [Layout()]
    assert got.runs == 0


# --- the making rules --------------------------------------------------------------------------


def awkward() -> Part:
    """An L with a fold, a hole in the way and a row of holes at an edge."""
    base = Outline.polygon(
        [(0, 0), (420, 0), (420, 160), (250, 160), (250, 300), (0, 300)],
        ["front", "right", "step", "notch", "rear", "left"],
    )
    part = Part("HN-L", sheet="DC01 1.2", base=base).fold("front", "up", leg=25)
    return part.hole((120, 150), 30).holes_along("left", dia=6, pitch=40, inset=12)


def bead_findings(part: Part) -> set[str]:
    return {f.code for f in live(make(part, SHOP)) if f.severity == "stop" or f.code in SPOILS}


@pytest.mark.parametrize("direction", [0.0, 90.0, 30.0])
@pytest.mark.parametrize("roll", ["R12x3", "R25x6"])
def test_the_zone_is_what_the_rules_say(direction: float, roll: str) -> None:
    """A bead that fills its stretch passes every rule; one that is 1.5 mm longer at an end breaks one.

    The stretch comes from the outline grown inward, the finding from the distance of the made bead.
    """
    part = awkward()
    z = zone(make(part, SHOP), "base", SHOP.roll(roll), direction)
    reach = z.reach()
    assert reach is not None
    rng, looked, broke = random.Random(5), 0, 0
    for _ in range(12):
        v = round(reach[0] + rng.random() * (reach[1] - reach[0]))
        stretch = z.stretch(v)
        if stretch is None:
            continue
        a, b = stretch
        looked += 1
        assert bead_findings(part.bead((placed(z.direction, a, v), placed(z.direction, b, v)), roll)) == set()
        for ends in ((a - 1.5, b), (a, b + 1.5)):
            broke += bool(bead_findings(part.bead([placed(z.direction, u, v) for u in ends], roll)))
    assert looked >= 6
    # Not every end: beside a slanting border a bead's side touches first, and whole mm leave up to 1 mm.
    assert broke >= 1.8 * looked


def test_every_variation_obeys_the_rules() -> None:
    part = awkward()
    made = make(part, SHOP)
    zones = [zone(made, "base", SHOP.roll(r), d) for d in (0.0, 90.0) for r in ("R12x3", "R18x5")]
    rng = random.Random(7)
    known = first_ones(zones)
    assert {(x.roll, x.direction) for x in known} == {(z.roll.key, z.direction) for z in zones}
    for _ in range(150):
        child = varied(known[int(rng.random() * len(known))], zones, rng)
        if child is not None and child not in known:
            known.append(child)
    assert len(known) > 60
    for x in known[::4]:
        assert bead_findings(x.onto(part, "base", "up")) == set(), str(x)


def test_trimming_reaches_the_limit_and_no_more() -> None:
    z = zone(make(SMALL, SHOP), "base", SHOP.roll("R12x3"), 90.0)
    full = even(z, 4)
    assert full is not None
    cut = trimmed(full, z, full.rolled - 0.1)
    assert cut is not None
    assert full.rolled - 0.1 - 4 * 2 * 2e-3 < cut.rolled <= full.rolled - 0.1
    assert trimmed(full, z, 0.2) is None, "shorter than a bead is worth"
    assert trimmed(full, z, full.rolled) is full


def test_places_that_stay_flat(one: Executor) -> None:
    kept = ((100.0, 0.0), (200.0, 200.0))
    got = bead_layouts(SMALL, SHOP, HELD, **QUICK, keep_off=[kept], most=1.0, executor=one)
    assert len(got) > 1
    for k in range(1, len(got)):
        assert got.row(k).layout.rolled <= 1.0
        for b in make(got.pick(k), SHOP).panel("base").beads:
            x0, _, x1, _ = b.footprint.box
            assert x1 <= 100 or x0 >= 200
    lipped = bead_layouts(
        SMALL, SHOP, [*(on.lip(e, width=30) for e in cases.SIDES), on.no_drift()], **QUICK, executor=one
    )
    for b in make(lipped.pick(lipped.best), SHOP).panel("base").beads:
        x0, y0, x1, y1 = b.footprint.box
        assert x0 >= 30 - 1e-9
        assert y0 >= 30 - 1e-9
        assert x1 <= 270 + 1e-9
        assert y1 <= 170 + 1e-9


def test_throat_forbids_what_it_forbids(one: Executor) -> None:
    """A roller of 120 mm throat reaches no line in the middle of 300 x 300 mm."""
    assert SHOP.roller is not None
    shop = replace(SHOP, roller=replace(SHOP.roller, throat=120.0))
    part = bead_rolled_panel(300, 300, beads=0, sheet="DC01 0.8")
    got = bead_layouts(part, shop, HELD, **QUICK, executor=one)
    assert got.refused > 0
    for k in range(1, len(got)):
        for v, _, _ in got.row(k).layout.lines:
            assert min(v, 300 - v) <= 120 + 5, "the blank is some mm wider than the panel"
        assert live(make(got.pick(k), shop), shop).ok


# --- the answer --------------------------------------------------------------------------------


def test_no_row_beats_another(found: BeadLayouts) -> None:
    assert found.runs == QUICK["runs"]
    assert 2 <= len(found) <= 3
    assert found.rows[0].layout == Layout()
    for a, b in itertools.permutations(found.rows, 2):
        assert not a.beats(b)
    rolled = [r.layout.rolled for r in found.rows]
    assert rolled == sorted(rolled)


def test_a_row_says_what_the_part_does(found: BeadLayouts) -> None:
    """The figures are those of the picked part, asked for by itself; the part given stays as it was."""
    k = found.best
    part = found.pick(k)
    assert len(part.beads) == found.row(k).layout.count
    assert SMALL.beads == ()
    again = modes(make(part, SHOP), HELD, count=1, size=found.size)
    assert again.first == pytest.approx(found.row(k).figures.frequency, rel=1e-9)
    assert again.error == pytest.approx(found.row(k).figures.frequency_error, rel=1e-6)
    assert live(make(part, SHOP)).ok
    assert found.pick(0).beads == ()
    with pytest.raises(UnknownName, match="layout"):
        found.pick(99)


def test_evenly_keeps_rolls_count_and_length(found: BeadLayouts) -> None:
    k = found.best
    layout, beads = found.row(k).layout, make(found.evenly(k), SHOP).panel("base").beads
    assert len(beads) == layout.count
    assert {b.roll for b in beads} == {layout.roll}
    lengths = [b.path[0].length for b in beads]
    assert max(lengths) - min(lengths) < 1e-9
    assert sum(lengths) / 1e3 == pytest.approx(layout.length, abs=0.5e-3 * layout.count)


def test_beads_of_the_panel_are_replaced_and_others_stay(one: Executor) -> None:
    part = bead_rolled_panel(300, 200, beads=2, roll="R12x3", sheet="DC01 0.8").fold("front", "up", leg=80)
    part = part.bead(((60, 40), (240, 40)), "R12x3", panel="front", name="rim")
    supports = [*(on.simple_edge(e) for e in ("right", "rear", "left")), on.no_drift()]
    got = bead_layouts(part, SHOP, supports, **{**QUICK, "runs": 6}, executor=one)
    picked = got.pick(got.best)
    assert [b.name for b in picked.beads if b.panel == "front"] == ["rim"]
    assert sum(b.panel == "base" for b in picked.beads) == got.row(got.best).layout.count
    assert [b.name for b in got.pick(0).beads] == ["rim"]


def test_a_foot_is_followed_with_large_displacements(one: Executor) -> None:
    feet = [Foot(at=(150, 100), force=400, size=(60, 60)), Foot(at=(80, 100), force=400, size=(60, 60))]
    got = bead_layouts(SMALL, SHOP, HELD, **{**QUICK, "runs": 2, "members": 1, "feet": feet}, size=25.0, executor=one)
    for k, row in enumerate(got.rows):
        assert row.figures.large
        sags = [static(make(got.pick(k), SHOP), HELD, [f], size=got.size, compare=False).deflection for f in feet]
        assert row.figures.deflection == pytest.approx(max(sags), rel=1e-6)
    assert "foot 400 N on 60 x 60 mm at (150, 100); foot" in str(got)


def test_the_table_and_the_picture_stand_alone(found: BeadLayouts) -> None:
    text = repr(found)
    assert f"{QUICK['runs']} layouts run from seed 1" in text
    assert "simply supported" in text
    assert "Hz (±" in text
    svg = ET.fromstring(str(found.picture))
    assert str(found.picture) == str(found.picture)
    words = [t.text or "" for t in svg.iter("{http://www.w3.org/2000/svg}text")]
    assert sum(w.startswith(f"{k}: ") for k in range(len(found)) for w in words) == len(found)
    assert "foot goes down, mm" not in words, "no foot was asked about"
    assert "<script" not in found._repr_html_()


# --- the course of a search --------------------------------------------------------------------


def test_the_clock_only_cancels_and_says_so(one: Executor) -> None:
    got = bead_layouts(SMALL, SHOP, HELD, **QUICK, executor=one, seconds=0.0)
    assert got.cut_short
    assert got.runs == 0
    assert "Cut short by the clock" in str(got)
    later = bead_layouts(SMALL, SHOP, HELD, **{**QUICK, "runs": 2}, executor=one, seconds=600.0)
    assert not later.cut_short
    assert "Cut short" not in str(later)


@pytest.mark.usefixtures("found")
def test_progress_rises_to_one(told: list[float]) -> None:
    assert len(told) > 2
    assert told == sorted(told)
    assert told[-1] == pytest.approx(1.0)


def test_laying_beads_keeps_what_else_the_part_has() -> None:
    part = (
        Part("HN-PN", sheet="DC01 1.5", base=Outline.rectangle(400, 300)).etch([(20, 20), (80, 20)]).text("A", (9, 9))
    )
    laid = Layout().onto(part, "base", "up")
    assert (laid.etches, laid.texts, laid.base) == (part.etches, part.texts, part.base)
