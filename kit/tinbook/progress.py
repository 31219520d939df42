"""How long work says how far it is: a function of a share and a word, which ends the work by raising."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Sequence
from typing import Any, Final, TextIO, TypeAlias, TypeVar

from tinbook.errors import BadValue

T = TypeVar("T")

AT_ONCE: Final = 20_000
"""Rows that long work does at once, between two calls."""

Progress: TypeAlias = Callable[[float, str], None]
"""Called with 0 to 1 and a word; what it raises goes through to the caller, and nothing is kept of the work."""


def quiet(share: float, word: str) -> None:
    """Take what is told, and do nothing."""


def telling(progress: Any) -> Progress:
    """Return what is to be called, which does nothing where nothing was given."""
    if progress is None:
        return quiet
    if not callable(progress):
        raise BadValue("progress", progress, "a function of a share (0 to 1) and a word, or nothing")
    return progress  # type: ignore[no-any-return]


def part_of(tell: Progress, low: float, high: float) -> Progress:
    """Return what is called in a stretch of longer work: its 0 to 1 are `low` to `high` of the whole."""
    return lambda share, word: tell(low + (high - low) * share, word)


def in_turn(items: Sequence[T], tell: Progress, word: str) -> Iterator[T]:
    """Yield the items of long work one by one, and tell before each how much is done."""
    for k, item in enumerate(items):
        tell(k / len(items), word)
        yield item


def portions(count: int) -> list[slice]:
    """Return slices of at most `AT_ONCE` rows that together cover `count`."""
    return [slice(k, min(k + AT_ONCE, count)) for k in range(0, count, AT_ONCE)]


WIDE: Final = 30
"""Letters of a bar."""


def progress_bar(stream: TextIO | None = None) -> Progress:
    """Return a function for `progress=` that draws a bar on one line, in a terminal or below a notebook's cell.

    Parameters
    ----------
    stream : text stream, optional
        Where to; standard output if left out.

    Examples
    --------
    >>> from tinbook.progress import progress_bar
    >>> tell = progress_bar()
    >>> tell(1.0, "done")
    [##############################] 100% done
    """
    if stream is not None and not hasattr(stream, "write"):
        raise BadValue("stream", stream, "a text stream, as sys.stderr")
    longest = 0

    def draw(share: float, word: str) -> None:
        nonlocal longest
        out, known = stream or sys.stdout, min(max(share, 0.0), 1.0) if share == share else 0.0
        line = f"[{'#' * round(WIDE * known):.<{WIDE}}] {known:4.0%} {word}"
        out.write(f"{chr(13) if longest else ''}{line.ljust(longest)}{chr(10) if share >= 1.0 else ''}")
        out.flush()
        longest = len(line)

    return draw
