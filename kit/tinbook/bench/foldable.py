"""Whether the part on the workbench folds: asked in a thread once the hand rests, told beside the other findings."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING, Final

from tinbook.bench.background import Job, Tell

if TYPE_CHECKING:
    from tinbook.finding import Finding
    from tinbook.making.made import Made

WAIT: Final = 0.8
"""s: how much longer the hand must rest. While a search runs, a move takes half as long again: both want the
interpreter, and a search looks up only between two states."""

SECONDS: Final = 10.0
"""After which a search that nobody asked for is given up; the drawer takes its time."""


class Foldable:
    """One search at a time for an order of folds; any move of the hand ends it.

    Parameters
    ----------
    told : callable
        Called in the event loop with the part and with what is found about its order of folds.
    """

    def __init__(self, told: Callable[[Made, tuple[Finding, ...]], None]) -> None:
        self._timer: asyncio.Handle | None = None
        # What fails is a finding too; what was ended concerns nobody.
        self._job = Job(told=lambda _share, _word: None, done=lambda found: told(*found), failed=lambda _error: None)

    def ask(self, made: Made) -> None:
        """Search for a part; without a running event loop (a plain script) `tb.check` is there to be asked."""
        self.drop()
        try:
            loop = asyncio.get_running_loop()
        except RuntimeError:
            return
        if made.strips:
            self._timer = loop.call_later(WAIT, self._job.start, partial(_searched, made))

    def drop(self) -> None:
        """End a search and hear nothing more of it."""
        if self._timer is not None:
            self._timer.cancel()
            self._timer = None
        self._job.drop()


def _searched(made: Made, tell: Tell) -> tuple[Made, tuple[Finding, ...]]:
    """Return the part and what is found; runs in the thread, and so does the first import of the search."""
    from tinbook.rules.verdict import folding

    return made, folding(made, seconds=SECONDS, progress=tell)[0]
