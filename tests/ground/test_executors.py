"""Sweeps: the same answers in the same order on any executor, bad input first."""

from __future__ import annotations

import os
import subprocess
import sys
import textwrap
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest

from tinbook.errors import BadValue
from tinbook.executors import THREADS, WorkersLost, pool, sweep


def square(x: int) -> int:
    return x * x


def odd_only(x: int) -> int:
    if x % 2 == 0:
        raise BadValue("x", x, "an odd number")
    return x


def threads(_: int) -> tuple[str, ...]:
    return tuple(os.environ.get(name, "") for name in THREADS)


def numpy_threads(_: int) -> int:
    """How many threads this process has after a product that would wake the linear algebra's own."""
    import numpy as np

    a = np.ones((600, 600))
    a @ a
    return len(os.listdir("/proc/self/task"))


def die(_: int) -> int:
    os._exit(3)


class Later(Executor):
    """Works only when everything has been handed in, last task first: the worst order for whoever counts on one."""

    def __init__(self) -> None:
        self.tasks: list[tuple[Future[Any], Any, tuple[Any, ...]]] = []
        self.sizes: list[int] = []

    def submit(self, fn: Any, /, *args: Any, **kwargs: Any) -> Future[Any]:
        future: Future[Any] = Future()
        self.tasks.append((future, fn, args))
        self.sizes.append(len(args[-1]))
        if len(self.tasks) == 4:
            for f, work, given in reversed(self.tasks):
                f.set_result(work(*given))
        return future


def test_bad_input_is_named() -> None:
    with pytest.raises(BadValue, match=r"executor: 'str'.*get_executor"):
        sweep(square, [1], "threads")  # type: ignore[arg-type]
    with pytest.raises(BadValue, match="chunk"):
        sweep(square, [1], chunk=0)
    with pytest.raises(BadValue, match="workers"), pool(workers=0):
        pass


def test_nothing_to_do_starts_nothing() -> None:
    assert sweep(square, []) == ()


def test_order_is_that_of_the_items() -> None:
    executor = Later()
    assert sweep(square, range(10), executor, chunk=3) == tuple(x * x for x in range(10))
    assert executor.sizes == [3, 3, 3, 1]


def test_progress_counts_runs() -> None:
    told: list[tuple[int, int]] = []
    with ThreadPoolExecutor(2) as executor:
        sweep(square, range(40), executor, progress=lambda done, of: told.append((done, of)))
        assert executor.submit(square, 3).result() == 9, "an executor that was given stays open"
    assert told[-1] == (40, 40)
    assert [done for done, _ in told] == sorted({done for done, _ in told})


def test_a_failure_comes_out_as_it_was() -> None:
    with ThreadPoolExecutor(1) as executor, pytest.raises(BadValue, match="x: 2") as caught:
        sweep(odd_only, [1, 3, 2, 5, 4], executor, chunk=1)
    assert caught.value.valid == "an odd number"


def test_processes_of_our_own() -> None:
    before = {name: os.environ.get(name) for name in THREADS}
    with pool(workers=2) as executor:
        assert sweep(square, range(50), executor) == tuple(x * x for x in range(50))
        assert set(sweep(threads, range(4), executor)) == {("1",) * len(THREADS)}
        if Path("/proc/self/task").exists():
            # The process itself, and those with which an executor's worker reads its queue.
            assert max(sweep(numpy_threads, range(2), executor)) <= 2
    assert {name: os.environ.get(name) for name in THREADS} == before, "this process keeps its own settings"


def test_dead_workers_are_told() -> None:
    with pytest.raises(WorkersLost, match="__main__"):
        sweep(die, [1, 2], workers=1)


def test_a_script_without_its_guard_is_told(tmp_path: Path, root: Path) -> None:
    script = tmp_path / "sweeps.py"
    script.write_text(
        textwrap.dedent("""
        from math import sqrt
        from tinbook.executors import sweep
        print(sweep(sqrt, [4.0, 9.0], workers=1))
        """)
    )
    env = dict(os.environ, PYTHONPATH=str(root / "kit"))
    done = subprocess.run([sys.executable, str(script)], capture_output=True, text=True, env=env, timeout=600)
    assert done.returncode != 0
    assert "WorkersLost" in done.stderr
    script.write_text(script.read_text().replace("print", "if __name__ == '__main__':\n    print"))
    done = subprocess.run([sys.executable, str(script)], capture_output=True, text=True, env=env, timeout=600)
    assert (done.returncode, done.stdout) == (0, "(2.0, 3.0)\n"), done.stderr
