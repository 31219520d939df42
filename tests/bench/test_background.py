"""Work beside the event loop: told in the loop, ended, dropped, replaced, failed."""

from __future__ import annotations

import asyncio
import threading
from typing import Any

import pytest
from bench_hands import until, working

from tinbook.bench.background import Ended, Job, Tell


class Ear:
    """Keeps what a job says, and the thread in which it said so."""

    def __init__(self) -> None:
        self.said: list[Any] = []
        self.threads: set[int] = set()
        self.job = Job(progress=lambda a, w: self.hear((a, w)), done=lambda v: self.hear(("done", v)), failed=self.hear)

    def hear(self, what: Any) -> None:
        self.said.append(what)
        self.threads.add(threading.get_ident())


async def rest(ear: Ear) -> None:
    await until(lambda: not ear.job.running)


def count(tell: Tell, n: int = 3) -> int:
    for k in range(n):
        tell(k / n, f"{k}")
    return n


def test_without_a_loop_it_is_done_at_once() -> None:
    ear = Ear()
    ear.job.start(count)
    assert ear.said == [(0.0, "0"), (1 / 3, "1"), (2 / 3, "2"), ("done", 3)]
    assert not ear.job.running


def test_in_a_loop_it_tells_there_and_works_elsewhere() -> None:
    async def main() -> tuple[Ear, int, list[int]]:
        ear, at = Ear(), []

        def work(tell: Tell) -> int:
            at.append(threading.get_ident())
            return count(tell)

        ear.job.start(work)
        assert ear.job.running
        assert ear.said == []
        await rest(ear)
        return ear, threading.get_ident(), at

    ear, here, at = asyncio.run(main())
    assert ear.said[-1] == ("done", 3)
    assert ear.threads == {here}
    assert at != [here]


def test_ending_stops_the_work_at_its_next_word() -> None:
    async def main() -> tuple[Ear, list[int]]:
        ear, done = Ear(), []
        there, go = threading.Event(), threading.Event()

        def work(tell: Tell) -> None:
            for k in range(1000):
                tell(k / 1000, "")
                done.append(k)
                if k == 3:
                    there.set()
                    go.wait(120)

        ear.job.start(work)
        await until(there.is_set)
        ear.job.end()
        assert ear.job.running  # until it has looked up
        go.set()
        await rest(ear)
        return ear, done

    ear, done = asyncio.run(main())
    assert isinstance(ear.said[-1], Ended)
    assert done == [0, 1, 2, 3]


def test_what_was_dropped_or_replaced_is_never_heard() -> None:
    async def main() -> Ear:
        ear, go = Ear(), threading.Event()
        ear.job.start(lambda tell: (go.wait(120), "old")[1])
        ear.job.start(lambda tell: "new")
        await rest(ear)
        go.set()
        ear.job.start(lambda tell: "third")
        ear.job.drop()
        assert not ear.job.running
        await until(lambda: not working())
        await asyncio.sleep(0)  # what they sent has arrived by now
        return ear

    assert asyncio.run(main()).said == [("done", "new")]


@pytest.mark.parametrize("error", [ValueError("no"), MemoryError(), SystemExit(2)])
def test_whatever_it_raises_is_told(error: BaseException) -> None:
    async def main() -> Ear:
        ear = Ear()

        def work(_tell: Tell) -> None:
            raise error

        ear.job.start(work)
        await rest(ear)
        return ear

    assert asyncio.run(main()).said == [error]


def test_a_loop_that_has_gone_is_no_error() -> None:
    gone = threading.Event()
    ear = Ear()

    async def main() -> bool:
        def work(tell: Tell) -> None:
            gone.wait(120)
            tell(0.5, "nobody hears")

        ear.job.start(work)
        return True

    assert asyncio.run(main())
    gone.set()
    for thread in threading.enumerate():
        if thread.name == "tinbook":
            thread.join(120)
    assert ear.said == []
