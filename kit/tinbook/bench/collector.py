"""The garbage collector runs less often while a workbench is open."""

from __future__ import annotations

import gc
import weakref
from collections.abc import Callable
from typing import Final

YOUNG: Final = 50_000
"""New objects before the collector looks through them: a part has some thousands, and every slider move makes a part."""

_open = 0
_before: tuple[int, int, int] | None = None


def run_seldom(owner: object) -> Callable[[], object]:
    """Raise the collector's first threshold until the function returned here is called, or `owner` is gone.

    The threshold that was found is put back with the last owner, unless somebody else has changed it since.
    """
    global _open, _before
    first, *older = gc.get_threshold()
    if _open == 0 and 0 < first < YOUNG:  # 0 is off
        _before = (first, older[0], older[1])
        gc.set_threshold(YOUNG, *older)
    _open += 1
    return weakref.finalize(owner, _put_back)


def _put_back() -> None:
    global _open, _before
    _open -= 1
    if _open == 0 and _before is not None:
        if gc.get_threshold()[0] == YOUNG:
            gc.set_threshold(*_before)
        _before = None
