"""Whether the part on the workbench folds: asked in a thread once the hand rests, told beside the other findings."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Final

from tinbook.bench.background import Ended, Job, Tell
from tinbook.finding import Finding

if TYPE_CHECKING:
    from tinbook.make.made import Made
    from tinbook.route.steps import Sequence as Order

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

    def __init__(self, told: Callable[[Made, Sequence[Finding]], None]) -> None:
        self._told = told
        self._made: Made | None = None
        self._timer: asyncio.Handle | None = None
        self._job = Job(told=lambda _share, _word: None, done=self._done, failed=self._failed)

    def ask(self, made: Made) -> None:
        """Search for a part; without a running event loop (a plain script) `tb.check` is there to be asked."""
        self.drop()
        try:
            loop = asyncio.get_running_loop()
        except RuntimeError:
            return
        if made.strips:
            self._made = made
            self._timer = loop.call_later(WAIT, self._start)

    def drop(self) -> None:
        """End a search and hear nothing more of it."""
        if self._timer is not None:
            self._timer.cancel()
            self._timer = None
        self._job.drop()

    def _start(self) -> None:
        made, self._timer = self._made, None
        assert made is not None
        self._job.start(lambda tell: _searched(made, tell))

    def _done(self, order: Order | None) -> None:
        if order is None:
            return
        found = tuple(f for f in order.findings if f.code == "route.order" or f.severity != "fine")
        if order.cancelled and not order.steps:
            found = (_unknown(f"no order was found within {SECONDS:g} s", "work it out in the drawer Fold order"),)
        self._told(order.made, found)

    def _failed(self, error: BaseException) -> None:
        if not isinstance(error, Ended) and self._made is not None:
            said = _unknown(f"it could not be worked out ({error})", "work it out by hand, and tell the authors")
            self._told(self._made, (said,))


def _searched(made: Made, tell: Tell) -> Order | None:
    """Return the order, None where there are more folds than are searched without being asked; runs in the thread."""
    from tinbook.route.brake import MOST, fold_sequence

    return fold_sequence(made, seconds=SECONDS, progress=tell) if len(made.strips) <= MOST else None


def _unknown(what: str, remedy: str) -> Finding:
    return Finding(
        code="route.order", severity="mind", where="order of folds", what=what, source="own proposal", remedy=remedy
    )
