"""The latest wishes win; stale ones are never worked on."""

from __future__ import annotations

import asyncio
import time

from tinbook.bench import pace
from tinbook.bench.pace import Pace


def test_without_a_loop_the_work_is_done_at_once() -> None:
    done: list[int] = []
    p = Pace(lambda: done.append(1))
    p.ask()
    assert done == [1]
    assert not p.waiting


def test_wishes_that_come_together_are_answered_once_with_the_latest() -> None:
    values, done = {"a": 0}, []

    async def scene() -> None:
        p = Pace(lambda: done.append(values["a"]))
        for i in range(50):
            values["a"] = i
            p.ask()
        assert done == []
        assert p.waiting
        await asyncio.sleep(0.05)

    asyncio.run(scene())
    assert done == [49]


def test_what_piled_up_behind_slow_work_is_answered_once() -> None:
    """Messages that arrive while the work blocks the loop are handled one by one after it, as a kernel does."""
    values, done = {"a": 0}, []

    def work() -> None:
        done.append(values["a"])
        time.sleep(0.1)

    async def scene() -> None:
        p = Pace(work)
        queue: list[int] = list(range(1, 61))

        def message() -> None:
            values["a"] = queue.pop(0)
            p.ask()
            time.sleep(0.001)
            if queue:
                asyncio.get_running_loop().call_soon(message)

        p.ask()
        await asyncio.sleep(0.02)  # the first work runs and blocks
        message()
        await asyncio.sleep(0.6)

    asyncio.run(scene())
    assert done == [0, 60]


def test_slow_work_waits_until_the_hand_rests() -> None:
    done: list[float] = []

    async def scene() -> None:
        p = Pace(lambda: done.append(time.perf_counter()))
        p.took = 2 * pace.SLOW
        assert p.slow
        for _ in range(8):
            p.ask()
            last = time.perf_counter()
            await asyncio.sleep(pace.REST / 4)
        assert done == []
        await asyncio.sleep(pace.REST * 1.5)
        assert done[0] - last >= pace.REST * 0.95

    asyncio.run(scene())
    assert len(done) == 1


def test_a_stream_without_a_pause_does_not_starve_quick_work() -> None:
    done: list[int] = []

    async def scene() -> None:
        p = Pace(lambda: done.append(1))
        end = time.perf_counter() + 2.5 * pace.LONGEST
        while time.perf_counter() < end:
            p.ask()
            await asyncio.sleep(0)

    asyncio.run(scene())
    assert 1 <= len(done) <= 5


def test_a_dropped_wish_is_not_answered_and_now_answers_a_waiting_one() -> None:
    done: list[int] = []

    async def scene() -> None:
        p = Pace(lambda: done.append(1), rest=0.02)
        p.ask()
        p.drop()
        await asyncio.sleep(0.05)
        assert done == []
        p.ask()
        p.now()
        assert not p.waiting
        await asyncio.sleep(0.05)

    asyncio.run(scene())
    assert done == [1]
