"""The garbage collector runs less often while a slider's work is done."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final

YOUNG: Final = 50_000
"""New objects before the collector looks through them: a part has some thousands, and every slider move makes a part."""


@contextmanager
def seldom() -> Iterator[None]:
    """Raise the collector's first threshold for a block; what was set before, and nothing else, is put back."""
    first, *older = gc.get_threshold()
    if not 0 < first < YOUNG:  # 0 is off
        yield
        return
    gc.set_threshold(YOUNG, *older)
    try:
        yield
    finally:
        if gc.get_threshold()[0] == YOUNG:  # else the design function has set one of its own
            gc.set_threshold(first, *older)
