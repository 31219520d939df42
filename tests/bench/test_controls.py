"""What is typed into a control is read as at every door of the kit, or refused in words; nothing is clipped or cut."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import Annotated, Any, Literal

import pytest
from bench_hands import Bench, slider
from bench_samples import tray

import tinbook as tb
from tinbook.bench.controls import Controls
from tinbook.bench.given import with_things
from tinbook.bench.parameters import parameters
from tinbook.bench.typed import read_typed, typed_of
from tinbook.errors import TinbookError
from tinbook.families.floor_braces import Notch
from tinbook.fields import Inside, Maybe, Number, Pair, Points, Range, Several
from tinbook.part.part import Part
from tinbook.part.provenance import FAMILIES
from tinbook.shop.shop import Shop


def design(
    length: Annotated[float, Range(60, 1500, 5, "mm")] = 655,
    holes: Annotated[int, Range(0, 20)] = 4,
    turn: Annotated[float, Range(30, 120, 1, "deg")] = 90,
    side: Literal["up", "down"] = "up",
) -> Part:
    return tray(max(length, 600), 40, min(holes, 3), side)


def controls(calls: list[dict[str, object]] | None = None) -> Controls:
    made: Controls
    made = Controls(parameters(design), lambda: calls.append(dict(made.values)) if calls is not None else None)
    return made


@pytest.mark.parametrize(
    ("text", "value"),
    # 1 in = 25.4 mm exactly (international yard and pound agreement of 1959)
    [
        ("26 in", 660.4),
        ("26 1/4 in", 666.75),
        ("12.5 cm", 125.0),
        ("655.37", 655.37),
        (" 1e3 ", 1000.0),
        ("4 ft", 1219.2),
    ],
)
def test_units_and_fractions_are_read(text: str, value: float) -> None:
    c = controls()
    c.by_name["length"].type(text)
    assert c.values["length"] == pytest.approx(value, abs=1e-9)
    assert c.by_name["length"].problem == ""
    assert c.box.shown_length == c.values["length"]


@pytest.mark.parametrize(
    ("name", "text", "words"),
    [
        ("length", "100 in", "60 to 1500 mm"),  # 2540 mm
        ("length", "99999", "60 to 1500 mm"),
        ("length", "-5", "60 to 1500 mm"),
        ("length", "1,250", "decimal point, not a comma"),
        ("length", "1200,5", "decimal point, not a comma"),
        ("length", "1 250,5", "decimal point, not a comma"),
        ("length", "1 250", "'250' is no unit"),
        ("length", "20 kg", "no unit of that kind"),
        ("length", "nan", "a number in mm"),
        ("length", "", "a number in mm"),
        ("length", "18 ga", "gauge numbers differ"),
        ("holes", "2.7", "a whole number, 0 to 20"),
        ("holes", "21", "a whole number, 0 to 20"),
        ("turn", "3 rad", "30 to 120 deg"),  # 171.9 degrees
    ],
)
def test_what_cannot_be_used_is_refused_beside_its_field_and_nothing_moves(name: str, text: str, words: str) -> None:
    calls: list[dict[str, object]] = []
    c = controls(calls)
    before = dict(c.values)
    c.by_name[name].type(text)
    assert c.values == before
    assert calls == []
    problem = c.by_name[name].problem
    assert words in problem
    assert problem.startswith(name)
    assert text in problem
    c.by_name[name].type("90" if name != "holes" else "3")
    assert c.by_name[name].problem == ""
    assert len(calls) == (0 if name == "turn" else 1)  # 90 degrees is where it stood


def test_a_value_from_the_page_that_is_none_is_refused_too() -> None:
    c = controls()
    for name, value in (("length", 5), ("length", "900"), ("holes", 2.5), ("side", 7), ("side", "up <b>")):
        before = dict(c.values)
        c.box.set_state({f"shown_{name}": value})
        assert c.values == before
        assert c.by_name[name].problem


def test_a_choice_travels_by_its_place() -> None:
    c = controls()
    c.box.set_state({"shown_side": 1})
    assert c.values["side"] == "down"


ROW = Several(Inside(Notch), least=0)


@pytest.mark.parametrize(
    ("kind", "text", "value"),
    [
        (Maybe(Several(Number("mm"))), "", None),
        (Maybe(Several(Number("mm"))), "110; 9 in; 390.5", (110.0, 228.6, 390.5)),
        (ROW, "", ()),
        (ROW, "start=10, stop=2 in, depth=5; depth=1,start=60,stop=70", ((10, 50.8, 5), (60, 70, 1))),
        (Pair(Number("mm")), "x=1, y=2", (1.0, 2.0)),
        (Points(), "x=0, y=0; x=10, y=1/2 in", ((0, 0), (10, 12.7))),
    ],
)
def test_lists_and_options_are_typed(kind: object, text: str, value: object) -> None:
    if kind is ROW and value:
        value = tuple(Notch(start=a, stop=b, depth=c) for a, b, c in value)  # type: ignore[attr-defined]
    got = read_typed(kind, text, "f")  # type: ignore[arg-type]
    assert got == value
    assert read_typed(kind, typed_of(kind, got), "f") == got  # type: ignore[arg-type]


@pytest.mark.parametrize(
    "text", ["start=10,5, stop=20, depth=1", "10, 20, 5", "start=1, stop=2", "start=1, start=1, stop=2, depth=3", ";"]
)
def test_a_decimal_comma_in_a_list_is_never_taken_for_a_separator(text: str) -> None:
    with pytest.raises(TinbookError, match="f"):
        read_typed(ROW, text, "f")


def test_sheets_rolls_tools_and_edges_are_lists_of_the_shop(bench: Bench) -> None:
    def plate(
        sheet: str = "DC01 1.5", roll: str = "R18x5", tool: str = "V12", edge: str = "left", word: str = "x"
    ) -> Part:
        part = tb.Part("HN-X", sheet=sheet, base=tb.Outline.rectangle(300, 200, ("front", "right", "rear", "left")))
        return part.fold(edge, leg=30, tool=tool).bead([(80, 100), (220, 100)], roll=roll)

    shop = Shop.demo()
    b = bench(plate)
    assert b.failure is None
    given = {p.name: p for p in b._given}
    assert given["sheet"].choices == tuple(s.key for s in shop.sheets)
    assert given["roll"].choices == tuple(r.key for r in shop.rolls)
    assert given["tool"].choices == tuple(t.key for t in shop.tools)
    assert given["edge"].choices == ("front", "right", "rear", "left")
    assert given["word"].kind == "text"
    slider(b, "sheet").value = "dc01 1.5"
    assert "one of: " in slider(b, "sheet").problem
    slider(b, "edge").value = "rear"
    assert b.part.folds[0].edge == "rear"


def families() -> list[str]:
    import tinbook.families as room

    for name in dir(room):
        getattr(room, name)
    return sorted(f"{module}:{name}" for module, name in FAMILIES if module.startswith("tinbook."))


def test_every_family_has_controls() -> None:
    """Those of the thing that it takes too: an opening, a pattern of screws, a tunnel."""
    for key in families():
        function = FAMILIES[tuple(key.split(":"))]  # type: ignore[index]
        given = parameters(with_things(function), None, Shop.demo())
        assert len(given) >= 3, key
        assert all(p.hint for p in given)


@pytest.mark.parametrize(
    ("family", "moved", "part"),
    [
        (tb.floor_pan, {"opening_length": 800.0, "leg": 30.0}, lambda f: tb.floor_pan(f.plain_opening(800), leg=30)),
        (tb.families.tunnel_lid, {"lid_width": 100.0}, lambda f: f.tunnel_lid(f.bolting(100))),
        (tb.families.fascia, {"bay_land": 40.0, "corner": 8.0}, lambda f: f.fascia(f.bolting(land=40), corner=8)),
        (
            tb.families.lid_opening,
            {"part_crown_front": 300.0, "lid_length": 250.0},
            lambda f: f.lid_opening(f.tunnel(crown_front=300), f.bolting(length=250)),
        ),
    ],
)
def test_what_a_family_takes_first_is_slid_with_it(bench: Bench, family: Any, moved: dict[str, Any], part: Any) -> None:
    b = bench(family)
    assert b.failure is None
    b.set(**moved)
    assert b.part == part(tb.families)
    names = {n: getattr(tb.families, n) for n in dir(tb.families)}
    assert eval(b.code, names) == b.part  # the copied call gives it again
    saved = b.save(Path("values.toml"))
    assert saved is not None
    assert b.load(saved)
    assert b.part == part(tb.families)


def test_what_is_no_part_says_what_would_be(bench: Bench) -> None:
    """A pair is two parts, a gasket a blank."""
    assert "one Part: give one of them back" in str(bench(tb.families.floor_pan_pair).failure)
    assert "lies in an Assembly" in str(bench(tb.families.gasket).failure)


def test_tuples_and_options_of_the_floor_brace_are_typed_saved_and_loaded(bench: Bench) -> None:
    b = bench(tb.families.floor_brace)
    assert b.failure is None
    slider(b, "flats").type("110; 230; 400")
    slider(b, "notches").type("start=260, stop=320, depth=8")
    notches = (Notch(start=260, stop=320, depth=8),)
    assert (b.values["flats"], b.values["notches"]) == ((110.0, 230.0, 400.0), notches)
    assert b.part == tb.families.floor_brace(flats=(110, 230, 400), notches=notches)
    saved = b.save(Path("brace.toml"))
    assert saved is not None
    b.set(flats=None, notches=())
    assert b.load(saved)
    assert (b.values["flats"], b.values["notches"]) == ((110.0, 230.0, 400.0), notches)


def test_a_measured_opening_is_given_and_the_rest_is_slid(bench: Bench) -> None:
    opening = tb.Outline.rectangle(900, 400, ("front", "sill", "rear", "tunnel"))
    b = bench(partial(tb.floor_pan, opening))
    assert b.failure is None
    assert "opening" not in b.values
