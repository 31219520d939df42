"""The workbench's strength section without a browser: what it offers, runs, shows, marks and refuses."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Callable, Iterator
from typing import Annotated, Any

import numpy as np
import pytest
from bench_hands import until, working

from tinbook.bench.answering import EARLIER, PLAIN
from tinbook.bench.strength import FREE, StrengthSection
from tinbook.bench.workbench import Workbench, workbench
from tinbook.errors import BadValue
from tinbook.fields import Range
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.shop.shop import Shop
from tinbook.strength import request as ask
from tinbook.strength.shell.solve import NotSolved


def shelf(length: Annotated[float, Range(200, 400, 5, "mm")] = 300, lip: bool = True) -> Part:
    """A shelf: quick to work out."""
    part = Part("HN-SH", sheet="DC01 1.6", base=Outline.rectangle(length, 200)).fold("front", "up", leg=30)
    if lip:
        part = part.fold("front.end", "down", leg=15, name="lip")
    return part.holes_along(("left", "right"), dia=8, pitch=70, inset=12, ends=30, use="plug weld")


@pytest.fixture(scope="module")
def shop() -> Shop:
    return Shop.demo()


@pytest.fixture
def bench(shop: Shop) -> Iterator[Callable[..., Workbench]]:
    opened: list[Workbench] = []

    def open_bench(function: Callable[..., Any] = shelf) -> Workbench:
        opened.append(workbench(function, shop))
        return opened[-1]

    yield open_bench
    for b in opened:
        b.close()


def drawer(b: Workbench, size: float = 16.0, load: str = "own weight") -> StrengthSection:
    """Pull the drawer out, as a press on its button does, and ask for something quick."""
    b.drawers.handles["Strength"].value = True
    section = b.drawers.open["Strength"]
    assert isinstance(section, StrengthSection)
    section.size.value = size
    section.load.value = load
    return section


def strip(length: float = 300.0) -> Part:
    return Part("HN-SP", sheet="DC01 1.6", base=Outline.rectangle(length, 80.0))


def test_it_is_closed_and_unbuilt_until_asked_for(bench: Any) -> None:
    b = bench()
    assert b.drawers.open == {}
    assert [h.value for h in b.drawers.handles.values()] == [False, False]
    drawer(b)
    assert list(b.drawers.open) == ["Strength"]
    b.drawers.handles["Strength"].value = False
    assert b.drawers._places["Strength"].layout.display == "none"


def test_it_offers_what_the_part_has(bench: Any) -> None:
    s = drawer(bench(), load="foot")
    assert list(s.holes) == ["plug welds"]
    assert s.holes["plug welds"].value
    assert (s.how.value, s.edges.value) == (FREE, ("right", "rear", "left"))
    assert "lip.end" in s.edges.options
    assert s.load.options == ("foot", "heel", "even pressure", "own weight")
    assert (s.x.value, s.y.value, s.force.value) == (150.0, 102.0, 1100.0)  # 4.1 mm of the 200 lie in the bend
    s.load.value = "even pressure"
    shown = [f.description for f in s._load_box.children if f.layout.display != "none"]
    assert shown == ["pressure, Pa"]


def test_choices_follow_the_part_and_keep_what_was_chosen(bench: Any) -> None:
    b = bench()
    s = drawer(b, load="foot")
    s.how.value, s.edges.value = "clamped", ("left", "lip.end")
    b.set(length=260)
    assert (s.x.value, s.y.value) == (130.0, 102.0)  # the middle, as nobody chose another place
    s.x.value = 120.0
    b.set(lip=False, length=300)
    assert s.edges.value == ("left",)
    assert "lip.end" not in s.edges.options
    assert s.x.value == 120.0


def tread(riser: Annotated[float, Range(30, 200, 5, "mm")] = 150, lip: bool = False) -> Part:
    part = Part("HN-SP", sheet="DC01 1.6", base=Outline.rectangle(300, 200)).fold("rear", "up", leg=riser, name="riser")
    return part.fold("front", "down", leg=140, name="apron") if lip else part


def test_a_foot_stands_on_the_panel_chosen(bench: Any) -> None:
    b = bench(tread)
    s = drawer(b, 25.0, load="foot")
    assert (s.stands.options, s.stands.value) == (("base", "riser"), "base")
    assert s.room.value.startswith("(x 0 to 300, y 0 to 19")  # up to the bend's tangent line
    s.stands.value = "riser"
    assert (s.x.value, s.y.value) == s._known.places["foot"]["riser"]
    s.x.value = 60.0
    # Another panel with room keeps what was chosen, the panel going takes it away.
    b.set(lip=True)
    assert (s.stands.options, s.stands.value, s.x.value) == (("base", "riser", "apron"), "riser", 60.0)
    s.how.value, s.edges.value = "clamped", ("left", "right")
    s.run()
    assert "of 'riser'" in s._answer.value.replace("&#x27;", "'")
    s.x.value = 900.0
    s.run()
    assert "100 x 100 mm lie on panel" in s._note.value
    assert "riser" in s._note.value
    b.set(riser=40)
    assert (s.stands.options, s.stands.value) == (("base", "apron"), "base")
    assert (s.x.value, s.y.value) == s._known.places["foot"]["base"]
    s.load.value = "heel"
    assert s.stands.options == ("base", "apron")
    shown = [f.description for f in s._load_box.children if f.layout.display != "none" and f.description]
    assert shown == ["on panel", "at x, mm", "y, mm", "force, N"]


def test_a_run_shows_numbers_with_support_and_error_and_colours_the_part(bench: Any) -> None:
    b = bench()
    s = drawer(b)
    s.run()
    assert s.result is not None
    text = s._answer.value
    for words in ("greatest deflection", "first frequency", "within", "plug welds", "not a certificate"):
        assert words in text
    assert s.colours.options == (PLAIN, *s.result.fields)
    assert b.view.field["title"] == "deflection"
    field = s.result.field("deflection")
    assert np.frombuffer(b.view.field_values, "<f4") == pytest.approx(field.values)
    assert len(b.view.field_points) == len(b.view.field_moves) == 12 * len(field.values)
    s.show("mode 2")
    assert b.view.field["swings"]
    s.show(PLAIN)
    assert b.view.field == {}
    assert b.view.field_values == b""


def test_when_the_part_changes_the_result_is_marked_and_the_colours_go(bench: Any) -> None:
    b = bench()
    s = drawer(b)
    s.run()
    order: list[str] = []
    b.view.observe(lambda c: order.append("field" if c["name"] == "field" else "shape"), names=["field", "x"])
    b.set(length=305)
    assert s.stale
    assert EARLIER in s._answer.value
    assert b.view.field == {}
    assert order == ["field", "shape"]  # never the old colours on the new part
    s.show("mode 1")
    assert b.view.field == {}
    b.undo()
    # It is that very part again: what was worked out holds.
    assert not s.stale
    assert EARLIER not in s._answer.value
    assert b.view.field["title"].startswith("mode 1")
    s.run()
    assert not s.stale


def test_a_part_with_an_error_leaves_nothing_to_run(bench: Any, shop: Shop) -> None:
    def broken(length: float = 300.0) -> Part:
        if length > 400:
            raise ValueError("too long")
        return strip(length)

    def design(long: bool = False) -> Part:
        return broken(500.0 if long else 300.0)

    b = bench(design)
    s = drawer(b, 20.0)
    s.run()
    b.set(long=True)
    assert b.failure is not None
    assert s.stale
    assert s._run.disabled
    assert b.view.field == {}
    result = s.result
    s.run()
    assert s.result is result
    b.set(long=False)
    assert not s.stale
    assert not s._run.disabled


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda s: setattr(s.holes["plug welds"], "value", False), "holes or edges that hold the part"),
        (lambda s: (setattr(s.how, "value", "clamped"), setattr(s.edges, "value", ())), "which edges"),
        (lambda s: setattr(s.x, "value", 5000.0), "a place where all of its 100 x 100 mm lie on panel"),
        (lambda s: setattr(s.size, "value", -3.0), "mesh size"),
        (lambda s: setattr(s.size, "value", 0.05), "unknowns do not fit in"),
        (lambda s: setattr(s.force, "value", float("nan")), "finite number"),
        (
            lambda s: (
                setattr(s.holes["plug welds"], "value", False),
                setattr(s.how, "value", "pinned"),
                setattr(s.edges, "value", ("front.left",)),
            ),
            "too few: the part can turn about",
        ),
    ],
)
def test_mistakes_are_told_in_place_and_nothing_is_shown(bench: Any, change: Any, words: str) -> None:
    b = bench()
    s = drawer(b, load="foot")
    change(s)
    s.run()
    assert words in s._note.value.replace("&#x27;", "'")
    assert s.result is None
    assert s._answer.value == ""
    assert b.view.field == {}
    assert not s.running
    assert not s._run.disabled


def test_what_did_not_settle_and_what_broke_is_told(bench: Any, monkeypatch: Any) -> None:
    b = bench()
    s = drawer(b)

    def boom(error: BaseException) -> Any:
        def never(*_a: Any, **_k: Any) -> Any:
            raise error

        return never

    for error, words in (
        (NotSolved("no balance was found"), "no answer: no balance was found"),
        (MemoryError(), "take larger elements"),
        (ZeroDivisionError("<b>odd</b>"), "no answer: &lt;b&gt;odd&lt;/b&gt;"),
        (BadValue("load", 1, "2"), "no answer: load"),
    ):
        monkeypatch.setattr(ask, "strength_of", boom(error))
        s.run()
        assert words in s._note.value
        assert s.result is None


def test_the_loop_stays_free_progress_moves_and_a_late_answer_is_marked(
    bench: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The run is held where it first tells of progress until the loop has had its turns."""
    real, go = ask.strength_of, threading.Event()

    def held(*given: Any, progress: Any, **more: Any) -> Any:
        def tell(share: float, word: str) -> None:
            progress(share, word)
            assert go.wait(120)

        return real(*given, progress=tell, **more)

    monkeypatch.setattr(ask, "strength_of", held)

    async def work() -> dict[str, Any]:
        b = bench()
        s = drawer(b, 15.0)
        seen: list[float] = []
        s.bar.observe(lambda c: seen.append(c["new"]), names="value")
        s.run()
        assert s.running
        assert s.result is None
        assert s._run.disabled
        assert not s._cancel.disabled
        s.run()  # a second press does nothing
        beats = 0
        while s.running:
            await asyncio.sleep(0.005)
            beats += 1
            if beats == 3:
                b.set(length=320)  # a slider moves while it runs
            if beats == 12:
                go.set()
        return {"beats": beats, "seen": seen, "stale": s.stale, "answer": s._answer.value, "field": b.view.field}

    got = asyncio.run(work())
    assert got["beats"] > 10
    assert got["seen"] == sorted(got["seen"])
    assert len(got["seen"]) > 6
    assert got["stale"]
    assert EARLIER in got["answer"]
    assert got["field"] == {}


def test_cancel_ends_it_and_shows_nothing(bench: Any) -> None:
    async def work() -> tuple[Any, str, bool]:
        s = drawer(bench(), 12.0)
        s.run()
        await asyncio.sleep(0.02)
        s.cancel()
        while s.running:
            await asyncio.sleep(0.01)
        return s.result, s._note.value, s._run.disabled

    result, said, disabled = asyncio.run(work())
    assert result is None
    assert "ended; nothing was worked out" in said
    assert not disabled


def test_a_closed_workbench_hears_nothing_more(bench: Any) -> None:
    async def work() -> tuple[Any, bool]:
        b = bench()
        s = drawer(b, 20.0)
        s.run()
        b.close()
        await until(lambda: not working())
        await asyncio.sleep(0)  # what it sent has arrived by now
        return s.result, s.running

    assert asyncio.run(work()) == (None, False)


def test_closing_leaves_no_widget_behind(bench: Any) -> None:
    from ipywidgets.widgets.widget import _instances

    bench().close()  # what a kernel keeps for good is there after the first
    before = set(_instances)
    b = bench()
    s = drawer(b)
    s.run()
    b.drawers.handles["Fold order"].value = True
    folds = b.drawers.open["Fold order"]
    folds.run()
    folds.run()
    b.close()
    assert set(_instances) - before == set()


def test_without_a_3d_view_the_numbers_still_come(shop: Shop) -> None:
    from tinbook.making.resolve import make

    s = StrengthSection(None)
    s.set_part(make(strip(), shop))
    s.how.value = "clamped"
    s.size.value = 20.0
    s.load.value = "own weight"
    s.run()
    assert s.result is not None
    assert "first frequency" in s._answer.value
    assert s.colours.layout.display == "none"
    s.set_part(None)
    assert s.stale


def test_own_weight_pushes_as_chosen(shop: Shop) -> None:
    from tinbook.making.resolve import make

    s = StrengthSection(None)
    s.set_part(make(strip(), shop))
    s.load.value, s.times.value, s.way.value, s.riding.value = "own weight", 4.0, "along -x", 3.0
    load = s._load()
    assert (load.g, load.riding) == ((-4.0, 0.0, 0.0), 3.0)
