"""Functions, values and parts that the workbench cannot show: said in place, the last good view stays."""

from __future__ import annotations

from typing import Annotated, Any

import pytest
from bench_hands import EVIL, Bench, files, html, slider
from bench_samples import tray

from tinbook.bench import debounce
from tinbook.bench import workbench as workbenches
from tinbook.bench.parameters import BadFunction
from tinbook.bench.workbench import workbench
from tinbook.errors import BadValue, CannotMake
from tinbook.fields import Range
from tinbook.part.outline import Outline
from tinbook.part.part import Part


def test_a_function_without_annotations_says_so_in_place(bench: Bench) -> None:
    def plain(length=900, beads=5):  # type: ignore[no-untyped-def]
        return tray(length, 40, beads)

    b = bench(plain)
    text = html(b)
    assert "length: it has no annotation" in text
    assert "beads: it has no annotation" in text
    assert "tb.Range" in text
    assert files() == []


def test_a_range_upside_down_says_so_in_place(bench: Bench) -> None:
    def upside(length: float) -> Part:
        return tray(length)

    upside.__annotations__["length"] = "Annotated[float, Range(1200, 600, 5, 'mm')]"
    b = bench(upside)
    assert "low smaller than high" in html(b)


def test_a_function_that_raises_keeps_the_last_good_view_and_names_its_line(bench: Bench) -> None:
    def fragile(length: Annotated[float, Range(600, 1200, 5, "mm")] = 900) -> Part:
        if length > 1000:
            raise ValueError(f"too long {EVIL}")
        return tray(length)

    b = bench(fragile)
    good = (b.view.x, b.view.svg)
    slider(b, "length").value = 1100
    assert (b.view.x, b.view.svg) == good
    assert b.failure is not None
    assert (b.failure.function, b.failure.source) == ("fragile", 'raise ValueError(f"too long {EVIL}")')
    assert f"fragile, line {b.failure.line}" in html(b)
    assert "&lt;img" in html(b)
    assert "<img" not in html(b)
    assert b.view.note == "an earlier part: the values give an error, see below"
    assert html(b).count("too long") == 2  # the line of code and the error, each once
    assert "ValueError:" not in html(b)
    assert b.write() is None
    assert "nothing written" in html(b)
    assert files() == []
    slider(b, "length").value = 950
    assert b.failure is None
    assert b.view.note == ""
    assert b.view.x != good[0]
    assert "too long" not in html(b).rpartition("nothing written")[0]


def test_a_function_that_fails_from_the_start_has_no_view_yet(bench: Bench) -> None:
    def broken(length: Annotated[float, Range(600, 1200)] = 900) -> Part:
        return tray(length, leg=0)

    b = bench(broken)
    assert b.failure is not None
    with pytest.raises(CannotMake, match="leg"):
        _ = b.made
    assert b.view.svg == ""
    assert b.write() is None
    assert files() == []


@pytest.mark.parametrize("thing", [None, 3, "part", [1], {}])
def test_a_function_that_returns_something_else_says_so(bench: Bench, thing: object) -> None:
    b = bench(lambda: thing)
    assert "valid: a Part" in html(b)
    assert b.write() is None
    assert files() == []


def test_a_function_that_takes_two_seconds_is_shown_and_said(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    """By a clock that only the function moves on."""
    now = [0.0]
    monkeypatch.setattr(debounce, "clock", lambda: now[0])

    def slow(length: Annotated[float, Range(600, 1200, 5, "mm")] = 900) -> Part:
        now[0] += 2.0
        return tray(length)

    b = bench(slow)
    assert b.failure is None
    assert b._refresh.slow
    assert "slow takes 2.0 s: the views follow when the hand rests" in html(b)


def test_a_quick_function_is_not_called_slow_because_libraries_were_loaded(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    """All but the function takes three seconds."""
    now = [0.0]
    monkeypatch.setattr(debounce, "clock", lambda: now[0])
    real = workbenches.picture

    def loading(*given: Any) -> Any:
        now[0] += 3.0
        return real(*given)

    monkeypatch.setattr(workbenches, "picture", loading)
    b = bench(tray)
    assert now == [3.0]
    assert not b._refresh.slow
    assert "when the hand rests" not in html(b)


def test_markup_in_a_parts_name_or_text_is_refused_or_shown_as_text(bench: Bench) -> None:
    def named(number: str = "HN-X", title: str = EVIL) -> Part:
        return Part(number, sheet="DC01 1.6", base=Outline.rectangle(100, 50), title=title)

    b = bench(named)
    assert b.failure is None
    assert "<img" not in html(b) + b.view.svg + "".join(b.view.labels)
    slider(b, "number").value = EVIL
    assert "part number" in html(b)
    assert "<img" not in html(b)
    assert b.write() is None
    assert files() == []


def test_a_stop_finding_forbids_writing_and_names_itself(bench: Bench) -> None:
    def narrow(leg: Annotated[float, Range(1, 80, 1, "mm")] = 40) -> Part:
        return Part("HN-N", sheet="DC01 1.6", base=Outline.rectangle(300, 200)).fold("front", leg=leg)

    b = bench(narrow)
    slider(b, "leg").value = 2
    stopped = [f for f in b.findings if f.severity == "stop"]
    assert stopped
    assert b.write() is None
    assert stopped[0].what in html(b).replace("&#x27;", "'")
    assert "nothing written" in html(b)
    assert files() == []


def test_what_cannot_be_made_at_all_keeps_the_last_good_view(bench: Bench) -> None:
    def wide(drain: Annotated[float, Range(10, 400, 1, "mm")] = 30) -> Part:
        part = Part("HN-W", sheet="DC01 1.6", base=Outline.rectangle(300, 200)).fold("front", leg=40)
        return part.hole((20, 100), drain, name="drain")

    b = bench(wide)
    assert b.failure is None
    good = b.view.x
    slider(b, "drain").value = 390
    assert b.view.x == good
    assert "cannot be made" in b.view.note
    assert b.write() is None
    assert files() == []
    slider(b, "drain").value = 31
    assert b.view.note == ""


@pytest.mark.parametrize("thing", [None, "demo", 3])
def test_a_shop_that_is_none_is_refused(thing: Any) -> None:
    with pytest.raises(BadValue, match=r"shop.*tb\.Shop\.demo"):
        workbench(tray, thing)


def test_values_set_from_code_are_checked_together(bench: Bench) -> None:
    b = bench(tray)
    before = b.values
    with pytest.raises(BadFunction, match="beads"):
        b.set(length=700, beads=99)
    assert b.values == before
    b.set(length=700, beads=1)
    assert b.values == before | {"length": 700.0, "beads": 1}
