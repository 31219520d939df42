"""The latest request wins; what it replaced is never worked on. In virtual time, so no sleep takes any."""

from __future__ import annotations

import asyncio

import pytest
from virtual_loop import pass_time, run

from tinbook.bench import debounce
from tinbook.bench.debounce import Debounced


@pytest.fixture(autouse=True)
def clock(monkeypatch: pytest.MonkeyPatch) -> None:
    """Time work by the loop's clock."""

    def now() -> float:
        try:
            return asyncio.get_running_loop().time()
        except RuntimeError:
            return 0.0

    monkeypatch.setattr(debounce, "clock", now)


def test_without_a_loop_the_work_is_done_at_once() -> None:
    done: list[int] = []
    p = Debounced(lambda: done.append(1))
    p.request()
    assert done == [1]
    assert not p.waiting


def test_requests_that_come_together_are_run_once_with_the_latest() -> None:
    values, done = {"a": 0}, []

    async def scene() -> None:
        p = Debounced(lambda: done.append(values["a"]))
        for i in range(50):
            values["a"] = i
            p.request()
        assert done == []
        assert p.waiting
        await asyncio.sleep(0.05)

    run(scene())
    assert done == [49]


def test_what_queued_up_behind_slow_work_is_run_once() -> None:
    """Messages that arrive while the work blocks the loop are handled one by one after it, as a kernel does."""
    values, done = {"a": 0}, []

    def work() -> None:
        done.append(values["a"])
        pass_time(0.1)

    async def scene() -> None:
        p = Debounced(work)
        queue: list[int] = list(range(1, 61))

        def message() -> None:
            values["a"] = queue.pop(0)
            p.request()
            pass_time(0.001)
            if queue:
                asyncio.get_running_loop().call_soon(message)

        p.request()
        await asyncio.sleep(0.02)  # the first work runs and blocks
        assert p.took == pytest.approx(0.1)
        message()
        await asyncio.sleep(0.6)

    run(scene())
    assert done == [0, 60]


def test_slow_work_waits_until_the_requests_pause() -> None:
    done: list[float] = []

    async def scene() -> None:
        loop = asyncio.get_running_loop()
        p = Debounced(lambda: done.append(loop.time()))
        p.took = 2 * debounce.SLOW
        assert p.slow
        for _ in range(8):
            p.request()
            last = loop.time()
            await asyncio.sleep(debounce.REST / 4)
        assert done == []
        await asyncio.sleep(debounce.REST * 1.5)
        assert done == [pytest.approx(last + debounce.REST)]

    run(scene())


def test_a_stream_without_a_pause_does_not_starve_quick_work() -> None:
    done: list[float] = []

    async def scene() -> None:
        loop = asyncio.get_running_loop()
        p = Debounced(lambda: done.append(loop.time()))
        end = loop.time() + 2.5 * debounce.LONGEST
        while loop.time() < end:
            p.request()
            pass_time(0.004)
            await asyncio.sleep(0)

    run(scene())
    assert done == pytest.approx([debounce.LONGEST, 2 * debounce.LONGEST, 2.5 * debounce.LONGEST], abs=0.05)


def test_a_cancelled_request_is_not_run_and_run_takes_a_waiting_one() -> None:
    done: list[int] = []

    async def scene() -> None:
        p = Debounced(lambda: done.append(1), rest=0.02)
        p.request()
        p.cancel()
        await asyncio.sleep(0.05)
        p.run_waiting()
        assert done == []
        p.request()
        p.run_waiting()
        assert not p.waiting
        await asyncio.sleep(0.05)

    run(scene())
    assert done == [1]
