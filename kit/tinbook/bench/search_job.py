"""The searched rules for the part on the workbench, run in a thread once the sliders rest.

They search an order of folds, or for a part that is stopped the nearest parameter with which it can be made.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING, Final

from tinbook.bench.background import Job, Tell

if TYPE_CHECKING:
    from tinbook.finding import Findings
    from tinbook.making.made import Made

WAIT: Final = 0.8
"""s: how much longer the sliders must rest. While a search runs, a move takes half as long again: both need the
interpreter, and a search can be ended only between two states."""

SECONDS: Final = 10.0
"""After which this search is given up, because the user did not start it; a drawer has no such limit."""


class SearchJob:
    """One search at a time; any slider move cancels it.

    Parameters
    ----------
    show : callable
        Called in the event loop with the part and the findings of the searched rules.
    """

    def __init__(self, show: Callable[[Made, Findings], None]) -> None:
        self._timer: asyncio.Handle | None = None
        # A rule that crashes gives a finding; a cancelled search has no reader.
        self._job = Job(
            progress=lambda _share, _word: None, done=lambda found: show(*found), failed=lambda _error: None
        )

    def start(self, made: Made) -> None:
        """Search for a part once the sliders rest; without an event loop (a plain script) do nothing, a script calls `tb.check`."""
        self.cancel()
        try:
            loop = asyncio.get_running_loop()
        except RuntimeError:
            return
        if made.strips or made.part.provenance is not None:
            self._timer = loop.call_later(WAIT, self._job.start, partial(_searched, made))

    def cancel(self) -> None:
        """Cancel a search without any further call."""
        if self._timer is not None:
            self._timer.cancel()
            self._timer = None
        self._job.drop()


def _searched(made: Made, tell: Tell) -> tuple[Made, Findings]:
    """Return the part and the findings; runs in the thread, and so does the first import of the search."""
    from tinbook.rules.registry import Search, live, searched

    return made, searched(made, live(made), Search(seconds=SECONDS, progress=tell))
