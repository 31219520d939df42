"""How long work says how far it is: a function of a share and a word, which ends the work by raising."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeAlias

from tinbook.errors import BadValue

Progress: TypeAlias = Callable[[float, str], None]
"""Called with 0 to 1 and a word; what it raises goes through to the caller, and nothing is kept of the work."""


def telling(progress: Any) -> Progress:
    """Return what is to be called, which does nothing where nothing was given."""
    if progress is None:
        return lambda share, word: None
    if not callable(progress):
        raise BadValue("progress", progress, "a function of a share (0 to 1) and a word, or nothing")
    return progress  # type: ignore[no-any-return]


def part_of(tell: Progress, low: float, high: float) -> Progress:
    """Return what is called in a stretch of longer work: its 0 to 1 are `low` to `high` of the whole."""
    return lambda share, word: tell(low + (high - low) * share, word)
