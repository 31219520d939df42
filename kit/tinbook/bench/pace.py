"""When to work: the latest wishes win, stale ones are dropped, slow work waits until the hand rests."""

from __future__ import annotations

import asyncio
import time
from collections.abc import Callable

TURNS = 4
"""Turns of the loop without a wish before quick work starts: messages that arrive together, such as those that piled
up behind a slow call, take a turn or two each and are answered once. Without any, that is a tenth of a millisecond."""

REST = 0.3
"""s: how long the hand must rest before slow work starts."""

SLOW = 0.25
"""s: work that took longer is not done while sliding."""

LONGEST = 0.5
"""s: quick work is never put off longer than this by a stream of wishes."""


class Pace:
    """Calls `work` after `ask`, never twice for wishes that came together.

    Without a running event loop (a plain script) the work is done at once.

    Parameters
    ----------
    work : callable
        Does everything for the latest wishes; must not raise.
    rest : float or None
        Seconds without a wish before the work starts; None chooses by how long the work took last time.
    """

    def __init__(self, work: Callable[[], None], *, rest: float | None = None) -> None:
        self._work = work
        self._rest = rest
        self._pending: asyncio.Handle | None = None
        self._since = 0.0
        self.took = 0.0

    @property
    def slow(self) -> bool:
        """Whether the work is too slow to be done while sliding."""
        return self.took > SLOW

    @property
    def waiting(self) -> bool:
        """Whether there is a wish that has not been answered."""
        return self._pending is not None

    def ask(self) -> None:
        """Wish for the work to be done."""
        try:
            loop = asyncio.get_running_loop()
        except RuntimeError:
            self.now()
            return
        quick = self._rest is None and not self.slow
        if self._pending is None:
            self._since = loop.time()
        else:
            if quick and loop.time() - self._since > LONGEST:
                return
            self._pending.cancel()
        if quick:
            self._turn(loop, TURNS)
        else:
            self._pending = loop.call_later(REST if self._rest is None else self._rest, self.now)

    def _turn(self, loop: asyncio.AbstractEventLoop, left: int) -> None:
        self._pending = loop.call_soon(self._turn, loop, left - 1) if left > 1 else loop.call_soon(self.now)

    def now(self) -> None:
        """Do the work at once and forget any earlier wish."""
        self.drop()
        start = time.perf_counter()
        self._work()
        self.took = time.perf_counter() - start

    def drop(self) -> None:
        """Forget a wish that has not been answered."""
        if self._pending is not None:
            self._pending.cancel()
            self._pending = None
