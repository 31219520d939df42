"""The searched rules for what is on the workbench, run in a thread once the sliders rest.

They search an order of folds, or for a part that is stopped the nearest parameter with which it can be made; of an
assembly they are all its rules, what its members meet, and the order in which they go together.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING, Final

import tinbook as tb
import tinbook.rules as rules
from tinbook.bench.background import Job, Tell
from tinbook.making.assembled import Assembled
from tinbook.write.scene import Meetings, meetings_of

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
        Called in the event loop with the part or assembly, the findings of the searched rules, and what the members
        of an assembly meet (None of a part).
    """

    def __init__(self, show: Callable[[Made | Assembled, Findings, Meetings | None], None]) -> None:
        self._timer: asyncio.Handle | None = None
        # A rule that crashes gives a finding; a cancelled search has no reader.
        self._job = Job(
            progress=lambda _share, _word: None, done=lambda found: show(*found), failed=lambda _error: None
        )

    def start(self, made: Made | Assembled) -> None:
        """Search for a part or an assembly once the sliders rest; without an event loop (a plain script) do nothing, a script calls `tb.check`."""
        self.cancel()
        try:
            loop = asyncio.get_running_loop()
        except RuntimeError:
            return
        if isinstance(made, Assembled):
            self._timer = loop.call_later(WAIT, self._job.start, partial(_met, made))
        elif made.strips or made.part.provenance is not None:
            self._timer = loop.call_later(WAIT, self._job.start, partial(_searched, made))

    def cancel(self) -> None:
        """Cancel a search without any further call."""
        if self._timer is not None:
            self._timer.cancel()
            self._timer = None
        self._job.drop()


def _met(made: Assembled, tell: Tell) -> tuple[Assembled, Findings, Meetings]:
    """Return an assembly, its findings and what its members meet; each solid and fold search is a place at which a move ends the work."""
    for m in made.assembly.members:
        tell(0.0, m.name)
        made.bores(m.name)
    tell(0.5, "what meets what")
    met = meetings_of(made)
    for part, own in made.made:
        if own.strips and rules.registry.live(own).ok:
            # The order stays with the part, where the rules find it; they themselves report no progress.
            tb.fold_sequence(own, progress=partial(_of_part, tell, part.number))
    tell(0.8, "rules")
    return made, tb.check(made), met


def _of_part(tell: Tell, number: str, _share: float, word: str) -> None:
    tell(0.7, f"{number}: {word}")


def _searched(made: Made, tell: Tell) -> tuple[Made, Findings, None]:
    """Return the part and the findings; runs in the thread, and so does the first import of the search."""
    room = rules.registry
    return made, room.searched(made, room.live(made), room.Search(seconds=SECONDS, progress=tell)), None
