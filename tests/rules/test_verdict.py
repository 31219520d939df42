"""`check` asks whether the part can be folded too, where that is quick enough and nothing else stops it."""

from __future__ import annotations

from dataclasses import replace
from functools import partial, update_wrapper
from pathlib import Path
from typing import Any

import pytest

import tinbook as tb
from tinbook.bench.picture import picture
from tinbook.errors import BadValue
from tinbook.finding import Finding, Findings
from tinbook.part.outline import Outline
from tinbook.route import fold_order
from tinbook.route.fold_order import fold_sequence
from tinbook.rules import registry
from tinbook.rules.registry import Search, live, searched
from tinbook.rules.rule import Rule
from tinbook.write.foldpage import write_fold_page
from tinbook.write.sheet.pages import write_sheet
from zoo import all_on

SHOP = tb.Shop.demo()


def tray() -> tb.Part:
    part = tb.Part("HN-BT", sheet="DC01 1.5", base=Outline.rectangle(300, 200))
    return part.fold("front", "up", leg=30).fold("rear", "up", leg=30)


def test_an_order_that_was_found_is_one_of_its_lines() -> None:
    (line,) = tb.check(tb.make(tray(), SHOP), SHOP).of("route.order")
    assert line.severity == "fine"
    assert line.what.startswith("2 steps, 0 turn-overs")


def test_a_part_that_nothing_folds_is_stopped_and_the_cure_named() -> None:
    """A hat on a hand folder: its second fold meets the beam in every order."""
    made = tb.make(all_on(tb.families.floor_brace(), "F1"), SHOP)
    found = tb.check(made, SHOP)
    assert not found.ok
    assert {f.code for f in found.stops} == {"route.order", "route.blocked"}
    assert any("(tried)" in f.remedy for f in found.stops)
    assert tb.check(made, SHOP, kind="live").ok


def test_nothing_is_searched_for_a_slider_a_flat_blank_or_what_is_stopped(monkeypatch: pytest.MonkeyPatch) -> None:
    def never(*_: Any, **__: Any) -> None:
        raise AssertionError("searched")

    monkeypatch.setattr(fold_order, "fold_sequence", never)
    flat = tb.Part("HN-RP", sheet="DC01 1.5", base=Outline.rectangle(300, 200))
    short = tray().fold("front.end", "up", leg=2, name="lip")
    for made, options in (
        (tb.make(tray(), SHOP), {"kind": "live"}),
        (tb.make(flat, SHOP), {}),
        (tb.make(short, SHOP), {}),
    ):
        assert not tb.check(made, SHOP, **options).of("route")
        assert not tb.check(made, SHOP, **options).of("check.failed")
    (failed,) = tb.check(tb.make(tray(), SHOP), SHOP).of("check.failed")
    assert failed.where == "registry.fold_order"


def test_a_search_that_gave_up_is_no_verdict(monkeypatch: pytest.MonkeyPatch) -> None:
    made = tb.make(tb.families.folded_box(), SHOP)
    how = Search(seconds=0.0)
    (line,) = searched(made, live(made), how)
    assert how.plan is not None
    assert not how.plan.steps
    assert (line.code, line.severity, line.remedy) == ("route.order", "caution", "give it more time")
    monkeypatch.setattr(fold_order, "fold_sequence", partial(fold_sequence, effort=1))
    found = tb.check(made, SHOP)
    assert found.ok
    assert found.state == "not proved"
    (line,) = found.of("route.order")
    assert (line.severity, line.remedy) == ("caution", "raise effort")


@pytest.mark.parametrize("count", [2, 13])
def test_a_comb_is_searched_at_any_count(count: int) -> None:
    """Tabs on one line: whichever is folded first, the folder's beam takes its neighbours along; two block each other.

    One stop for the order and one for each of at most four blocked folds, as many as are explained.
    """
    corners = [(i * 50.0, 0.0) for i in range(count + 1)]
    outline = Outline.polygon([*corners, (count * 50.0, 300.0), (0.0, 300.0)])
    part = tb.Part("HN-ZZ", sheet="DC01 1.5", base=outline)
    for i in range(count):
        part = part.fold(f"edge {i + 1}", leg=20, start=8, stop=42, tool="F1")
    found = tb.check(tb.make(part, SHOP), SHOP)
    assert found.state == "stopped"
    assert found.plan is not None
    assert found.plan.proven
    assert len(found.stops) == 1 + min(count, 4)
    assert "every order" in next(f for f in found if f.code == "route.order").what


def test_what_was_worked_out_stays_with_the_part_and_with_no_other(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """Check, planner and sheet ask for the same order; a changed copy starts anew, whatever it was copied from."""
    searched: list[Any] = []
    real = fold_order._sequence
    monkeypatch.setattr(fold_order, "_sequence", lambda made, *more: searched.append(made) or real(made, *more))
    made = tb.make(tray(), SHOP)
    found = tb.check(made, SHOP)
    assert found.plan is fold_sequence(made)
    assert tb.check(made).plan is found.plan
    write_sheet(made, tmp_path)
    assert searched == [made]
    fold_sequence(made, effort=40)
    fold_sequence(made, "folder")
    fold_sequence(made, order=found.plan.hits)
    assert len(searched) == 4
    stop = Finding(code="x.y", severity="stop", where="base", what="forbidden here", remedy="none")
    assert tb.check(replace(made, findings=Findings((stop,))), SHOP).state == "stopped"
    assert found.state == "proved"


def test_a_check_carries_its_fold_plan_to_sheet_page_and_order_of_work(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """Nothing is searched again, not even for the same part made anew; another part's check is refused."""
    searched: list[Any] = []
    real = fold_order._sequence
    monkeypatch.setattr(fold_order, "_sequence", lambda made, *more: searched.append(made) or real(made, *more))
    found = tb.check(tb.make(tray(), SHOP), SHOP)
    assert len(searched) == 1
    anew = tb.make(tray(), SHOP)
    tb.write_sheet(anew, tmp_path, order=found)
    write_fold_page(found, tmp_path)
    work = tb.order_of_work(anew, found)
    assert work == tb.order_of_work(anew, found.plan)
    assert len(searched) == 1
    other = tb.make(tray().renamed(rev="B"), SHOP)
    for call in (lambda: tb.write_sheet(other, tmp_path, order=found), lambda: tb.order_of_work(other, found)):
        with pytest.raises(BadValue, match=r"order: .*a fold sequence of HN-BT"):
            call()
    with pytest.raises(BadValue, match="a check of a part with folds"):
        write_fold_page(tb.check(anew, kind="live"), tmp_path)


def test_three_rules_that_crash_are_three_stops_for_check_and_live_view(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(rule: Rule) -> Rule:
        def crashes(_made: Any) -> Any:
            raise ZeroDivisionError("odd")

        return Rule(update_wrapper(crashes, rule.find))

    names = {"folds.legs", "folds.radii", "folds.force"}
    rules = tuple(broken(r) if r.name in names else r for r in registry.RULES)
    monkeypatch.setattr(registry, "RULES", rules)
    for found in (tb.check(tb.make(tray(), SHOP)), picture(tray(), SHOP).findings):
        assert {f.where for f in found.stops.of("check.failed")} == names
        assert "ZeroDivisionError: odd" in found.stops[0].what


def test_a_copy_of_a_made_part_keeps_no_view_of_the_first() -> None:
    """200 x 100 x 1.5 with a leg of 30: at twice the thickness the metal of the same panels weighs twice as much."""
    made = tb.make(tb.Part("HN-BT", sheet="DC01 1.5", base=Outline.rectangle(200, 100)), SHOP)
    assert made.solid.Volume() == pytest.approx(200 * 100 * 1.5)
    assert made.preview.volume == pytest.approx(200 * 100 * 1.5, rel=1e-5)
    with pytest.raises(TypeError, match="thickness"):  # blank and findings would stay those of the thin part
        replace(made, thickness=3.0)  # type: ignore[call-arg]
    thick = replace(made, folded=replace(made.folded, thickness=3.0))
    assert thick.solid.Volume() == pytest.approx(200 * 100 * 3.0)
    assert thick.preview.volume == pytest.approx(200 * 100 * 3.0, rel=1e-5)
    assert thick.mass == pytest.approx(2 * made.mass)


@pytest.mark.parametrize(
    ("part", "options", "state"),
    [
        (tray(), {}, "proved"),
        (tray(), {"kind": "live"}, "not proved"),
        (tray().fold("front.end", "up", leg=2, name="lip"), {}, "stopped"),
        (all_on(tb.families.floor_brace(), "F1"), {}, "stopped"),
        (tb.Part("HN-RP", sheet="DC01 1.5", base=Outline.rectangle(300, 200)), {}, "proved"),
    ],
    ids=["order found", "live rules only", "short leg", "nothing folds it", "flat"],
)
def test_what_it_amounts_to(part: tb.Part, options: dict[str, Any], state: str) -> None:
    assert tb.check(tb.make(part, SHOP), SHOP, **options).state == state


def test_a_question_without_an_answer_never_passes(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: Any, **__: Any) -> Any:
        raise ZeroDivisionError("odd")

    monkeypatch.setattr(fold_order, "fold_sequence", broken)
    found = tb.check(tb.make(tray(), SHOP), SHOP)
    assert (found.ok, found.state, found.plan) == (False, "stopped", None)


@pytest.mark.parametrize(
    ("options", "words"),
    [({"kind": "lively"}, "kind: 'lively'.*'live', 'searched'"), ({"plan": "no"}, "order: .*a fold sequence")],
)
def test_bad_input_is_named(options: dict[str, Any], words: str) -> None:
    """A kind that does not exist would ask no rule at all and find everything fine."""
    with pytest.raises(BadValue, match=words):
        tb.check(tb.make(tray(), SHOP), SHOP, **options)
    with pytest.raises(BadValue, match="check"):
        tb.check(tray(), SHOP)  # type: ignore[arg-type]


def test_another_shop_than_the_one_it_was_made_on_is_a_stop() -> None:
    other = replace(SHOP, name="Another workshop")
    assert tb.check(tb.make(tray(), SHOP), other).of("check.shop").stops
