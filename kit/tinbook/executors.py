"""Many independent runs at once, on any executor of `concurrent.futures`.

Nothing here imports numpy: a worker that has not loaded it yet can still be limited to
one thread for linear algebra, since the runs share the cores already.
"""

from __future__ import annotations

import math
import os
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor, Future, ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from functools import partial
from multiprocessing import get_context
from typing import Final, TypeVar

from tinbook.errors import BadValue, TinbookError

T = TypeVar("T")
R = TypeVar("R")
Done = Callable[[int, int], None]
"""Told how many of how many runs have been done."""

THREADS: Final = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS")
PARTS: Final = 16
"""A sweep is handed out in about this many parts: few enough to be cheap, enough to keep the cores busy to the end."""


class WorkersLost(TinbookError, RuntimeError):
    """The worker processes of a sweep have died; its results are lost."""


def cores() -> int:
    """Return how many cores this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


@contextmanager
def pool(executor: Executor | None = None, workers: int | None = None) -> Iterator[Executor]:
    """Give an executor for several sweeps.

    Parameters
    ----------
    executor : Executor or None, optional
        Used as it is and left open; None starts processes of our own and ends them afterwards.
    workers : int or None, optional
        How many processes of our own; None for one a core.

    Yields
    ------
    Executor

    Notes
    -----
    The processes are spawned, not forked, so the same happens on every
    platform, and none inherits a thread that holds a lock. A script must
    therefore call this under ``if __name__ == "__main__":``; a notebook needs
    nothing.
    """
    if executor is not None:
        if not isinstance(executor, Executor):
            raise BadValue(
                "executor",
                type(executor).__name__,
                "an Executor of concurrent.futures, or None; of a dask Client it is client.get_executor()",
            )
        yield executor
        return
    if workers is not None and (isinstance(workers, bool) or not isinstance(workers, int) or workers < 1):
        raise BadValue("workers", workers, "a whole number from 1")
    own = ProcessPoolExecutor(workers or cores(), mp_context=get_context("spawn"), initializer=_one_thread)
    try:
        with _children_single_threaded():
            # Spawning takes place at the first submit.
            own.submit(os.getpid)
        yield own
    finally:
        own.shutdown(wait=True, cancel_futures=True)


def sweep(
    function: Callable[[T], R],
    items: Sequence[T],
    executor: Executor | None = None,
    *,
    workers: int | None = None,
    chunk: int | None = None,
    progress: Done | None = None,
) -> tuple[R, ...]:
    """Call a function with each item, on many cores.

    Parameters
    ----------
    function : callable
        Of one item; must travel to another process (a function of a module, or a `partial` of one).
    items : sequence
        They and the answers must travel too: send a Part and a Shop and make the part there.
    executor : Executor or None, optional
        Any of `concurrent.futures`; None for processes of our own. A dask cluster's is ``client.get_executor()``.
    workers : int or None, optional
        Processes of our own; None for one a core.
    chunk : int or None, optional
        Items in one task; None for about a sixteenth of all.
    progress : callable, optional
        Called with (done, all) in this thread.

    Returns
    -------
    tuple
        The answers in the order of the items, whoever worked on them and however they were shared out.

    Raises
    ------
    WorkersLost
        Worker processes died.
    Exception
        What the function raised for the earliest item among those that had been begun; the rest is given up.
    """
    if chunk is not None and (isinstance(chunk, bool) or not isinstance(chunk, int) or chunk < 1):
        raise BadValue("chunk", chunk, "a whole number from 1")
    if not items:
        return ()
    step = chunk or math.ceil(len(items) / PARTS)
    starts = range(0, len(items), step)
    done = 0
    with pool(executor, workers) as at_work:
        futures: list[Future[list[R]]] = []
        try:
            futures = [at_work.submit(partial(_each, function), list(items[k : k + step])) for k in starts]
            for future in as_completed(futures):
                done += len(future.result())
                if progress is not None:
                    progress(done, len(items))
        except BrokenProcessPool as lost:
            raise WorkersLost(
                "the worker processes are gone: a script must start them under `if __name__ == '__main__':`, "
                "and each needs memory for a run of its own; nothing was kept"
            ) from lost
        except BaseException:
            for f in futures:
                f.cancel()
            # The earliest failure is raised, so that the same mistake gives the same message.
            for f in futures:
                if f.done() and not f.cancelled() and (wrong := f.exception()) is not None:
                    raise wrong from None
            raise
        return tuple(r for f in futures for r in f.result())


def _each(function: Callable[[T], R], items: Sequence[T]) -> list[R]:
    return [function(item) for item in items]


def _one_thread() -> None:
    os.environ.update(dict.fromkeys(THREADS, "1"))


@contextmanager
def _children_single_threaded() -> Iterator[None]:
    """Limit processes that start now to one thread, even if their main module imports numpy first."""
    before = {name: os.environ.get(name) for name in THREADS}
    _one_thread()
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                os.environ.pop(name, None)
            else:
                os.environ[name] = value
