"""One thread for linear algebra while a shell analysis runs.

Its dense blocks are small: threads that wait for each other cost more than they give, and the last digits would follow the
number of cores.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from threading import Lock
from typing import Any

_LOCK = Lock()
_STATE: dict[str, Any] = {"inside": 0, "libraries": None, "before": []}


@contextmanager
def one_thread() -> Iterator[None]:
    """Limit the libraries of linear algebra to one thread, and give them back as they were.

    Analyses may overlap in threads of one process, and one may call another: the first sets the limit, the last one
    takes it back. OpenBLAS lets nobody but the thread that lowered its number raise it: where the first one ends first, the
    process keeps one thread.
    """
    with _LOCK:
        _STATE["inside"] += 1
        if _STATE["inside"] == 1:
            libraries = _libraries()
            _STATE["before"] = [x.num_threads for x in libraries]
            for x in libraries:
                x.set_num_threads(1)
    try:
        yield
    finally:
        with _LOCK:
            _STATE["inside"] -= 1
            if _STATE["inside"] == 0:
                for x, before in zip(_libraries(), _STATE["before"], strict=True):
                    x.set_num_threads(before)


def _libraries() -> list[Any]:
    if _STATE["libraries"] is None:
        from threadpoolctl import ThreadpoolController

        _STATE["libraries"] = [x for x in ThreadpoolController().lib_controllers if x.user_api == "blas"]
    found: list[Any] = _STATE["libraries"]
    return found
