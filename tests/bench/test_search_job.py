"""Once the hand rests the workbench says whether the part folds; sliding is never kept waiting, scripts never search."""

from __future__ import annotations

import asyncio
import time
from typing import Annotated, Any

import pytest
from bench_hands import Bench, html, slider, until, working
from bench_samples import tray
from virtual_loop import run

from tinbook.bench import search_job
from tinbook.bench.background import Ended
from tinbook.fields import Range
from tinbook.making.assembled import assemble
from tinbook.part.assembly import Assembly
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.route import fold_order
from tinbook.shop.shop import Shop


def shelf(leg: Annotated[float, Range(20, 60, 1, "mm")] = 30) -> Part:
    part = Part("HN-SH", sheet="DC01 1.5", base=Outline.rectangle(300, 200))
    return part.fold("front", "up", leg=leg).fold("rear", "up", leg=leg)


def trough(leg: Annotated[float, Range(60, 120, 1, "mm")] = 110) -> Part:
    """Legs of 110 on a web of 50: on the folder whichever is up stands inside the nose bar, 95 deep and 120 high."""
    part = Part("HN-SH", sheet="DC01 1.5", base=Outline.rectangle(200, 50))
    return part.fold("front", "up", leg=leg, tool="F1").fold("rear", "up", leg=leg, tool="F1")


@pytest.fixture(autouse=True)
def no_pause(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(search_job, "WAIT", 0.0)


def test_the_order_is_said_beside_what_is_fine(bench: Bench) -> None:
    async def scene() -> None:
        b = bench(shelf)
        await until(lambda: "order of folds: 2 steps, 0 turn-overs" in html(b))
        slider(b, "leg").value = 40
        await until(lambda: "order of folds" not in html(b))  # of the earlier part nothing is left
        await until(lambda: "order of folds: 2 steps" in html(b))

    asyncio.run(scene())


def test_a_part_that_nothing_folds_is_told_with_its_cure(bench: Bench) -> None:
    async def scene() -> None:
        b = bench(trough)
        await until(lambda: "every order of folds collides" in html(b))
        assert "(tried)" in html(b)
        assert not [f for f in b.findings if f.severity == "stop"], "the live findings stay what they are"

    asyncio.run(scene())


def test_a_move_ends_the_search_of_the_part_before(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    begun: list[float] = []
    real = search_job._searched

    def slow(made: Any, tell: Any) -> Any:
        begun.append(made.strips[0].leg[0])
        for _ in range(30):
            tell(0.0, "")
            time.sleep(0.01)
        return real(made, tell)

    monkeypatch.setattr(search_job, "_searched", slow)

    async def scene() -> None:
        b = bench(shelf)
        await until(lambda: len(begun) == 1)
        slider(b, "leg").value = 45
        await until(lambda: "order of folds" in html(b))
        assert begun == [30, 45]
        assert b.made.strips[0].leg[0] == 45

    asyncio.run(scene())


@pytest.mark.parametrize("wrong", [ZeroDivisionError("<b>odd</b>"), MemoryError()])
def test_a_search_that_fails_says_so(bench: Bench, monkeypatch: pytest.MonkeyPatch, wrong: Exception) -> None:
    def boom(_made: Any, **_: Any) -> Any:
        raise wrong

    monkeypatch.setattr(fold_order, "fold_sequence", boom)

    async def scene() -> None:
        b = bench(shelf)
        await until(lambda: "rule crashed" in html(b))
        assert "<b>odd" not in html(b)

    asyncio.run(scene())


def test_a_clock_is_no_verdict(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(search_job, "SECONDS", 0.0)

    async def scene() -> None:
        b = bench(shelf)
        await until(lambda: "the clock ended the search" in html(b))
        assert "collides" not in html(b)
        assert ">stop<" not in html(b)

    asyncio.run(scene())


def test_a_script_and_a_closed_workbench_search_nothing(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[Any] = []
    monkeypatch.setattr(search_job.Job, "start", lambda _self, work: asked.append(work.args[0]))
    b = bench(tray)
    b.set(length=700)
    assert asked == []

    async def scene() -> None:
        bench(shelf).close()
        await asyncio.sleep(0.5 + search_job.WAIT)
        assert asked == []
        bench(shelf)
        await asyncio.sleep(0.5 + search_job.WAIT)

    run(scene())
    assert [made.part.number for made in asked] == ["HN-SH"], "what stays open is searched"


@pytest.mark.parametrize("end", ["closed", "off the page"])
def test_a_bench_that_nobody_sees_leaves_no_thread(bench: Bench, monkeypatch: pytest.MonkeyPatch, end: str) -> None:
    """The search reports until it is ended; one that goes on would leave its thread in the list for good."""
    rounds: list[str] = []

    def endless(made: Any, tell: Any) -> Any:
        while True:
            tell(0.0, "")
            rounds.append(made.part.number)
            time.sleep(0.001)

    monkeypatch.setattr(search_job, "_searched", endless)

    async def scene() -> None:
        b = bench(shelf)
        b.box._view_count = 1
        await until(lambda: bool(rounds))
        assert working()
        if end == "closed":
            b.close()
        else:
            b.box._view_count = 0
        await until(lambda: not working())
        if end == "closed":
            return
        rounds.clear()
        b.box._view_count = 1  # seen again, it begins anew
        await until(lambda: bool(rounds))

    asyncio.run(scene())


def test_fold_searches_of_an_assembly_can_be_ended(shop: Shop) -> None:
    made = assemble(Assembly("HN-SA", title="shelf").add("shelf", shelf()), shop)

    def end(_share: float, word: str) -> None:
        if word.startswith("HN-SH: "):  # said by the search for that part's order
            raise Ended("ended")

    with pytest.raises(Ended):
        search_job._met(made, end)
