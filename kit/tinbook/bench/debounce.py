"""Debouncing: only the latest request runs, and slow work waits until the user stops moving."""

from __future__ import annotations

import asyncio
import time
from collections.abc import Callable

TURNS = 4
"""Event-loop turns without a request before quick work starts. Messages that arrive together, such as those that
queued up behind slow work, take a turn or two each and so lead to one run. Without any, the turns take 0.1 ms."""

REST = 0.3
"""s: pause in the requests before slow work starts."""

SLOW = 0.25
"""s: work that took longer is not done while a slider moves."""

LONGEST = 0.5
"""s: a stream of requests delays quick work no longer than this."""

clock = time.perf_counter
"""Seconds by which work is timed."""


class Debounced:
    """Runs `work` after `request`, once for requests that came together.

    Without a running event loop (a plain script) the work runs at once.

    Parameters
    ----------
    work : callable
        Does everything for the latest request; must not raise.
    rest : float or None
        Pause in the requests, s, before the work starts; None chooses by how long the work took last time.
    """

    def __init__(self, work: Callable[[], None], *, rest: float | None = None) -> None:
        self._work = work
        self._rest = rest
        self._pending: asyncio.Handle | None = None
        self._since = 0.0
        self.took = 0.0

    @property
    def slow(self) -> bool:
        """Whether the work is too slow to be done while a slider moves."""
        return self.took > SLOW

    @property
    def waiting(self) -> bool:
        """Whether a request has not been run yet."""
        return self._pending is not None

    def request(self) -> None:
        """Ask for the work to be done."""
        try:
            loop = asyncio.get_running_loop()
        except RuntimeError:
            self.run()
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
            self._pending = loop.call_later(REST if self._rest is None else self._rest, self.run)

    def _turn(self, loop: asyncio.AbstractEventLoop, left: int) -> None:
        self._pending = loop.call_soon(self._turn, loop, left - 1) if left > 1 else loop.call_soon(self.run)

    def run(self) -> None:
        """Do the work now; a waiting request is done with it."""
        self.cancel()
        start = clock()
        self._work()
        self.took = clock() - start

    def run_waiting(self) -> None:
        """Do the work now if a request is waiting."""
        if self.waiting:
            self.run()

    def cancel(self) -> None:
        """Forget a waiting request."""
        if self._pending is not None:
            self._pending.cancel()
            self._pending = None
