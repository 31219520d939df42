"""One thread for linear algebra while a shell analysis runs.

Its dense blocks are small: threads that wait for each other cost more than they give.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from threading import Lock
from typing import Any

_LOCK = Lock()


@contextmanager
def one_thread() -> Iterator[None]:
    """Limit the libraries of linear algebra to one thread, and give them back as they were.

    Who lowered the number raises it, at once when it leaves: OpenBLAS heeds nobody else. An analysis that began meanwhile in
    another thread ends with as many threads as there were, to the same bytes.
    """
    with _LOCK:
        lowered = [(x, x.num_threads) for x in _libraries() if x.num_threads != 1]
        for x, _ in lowered:
            x.set_num_threads(1)
    try:
        yield
    finally:
        with _LOCK:
            for x, before in lowered:
                x.set_num_threads(before)


@cache
def _libraries() -> list[Any]:
    from threadpoolctl import ThreadpoolController

    return [x for x in ThreadpoolController().lib_controllers if x.user_api == "blas"]
