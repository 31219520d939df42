"""Slow work beside the event loop: it runs in a thread, what it tells arrives in the loop, and it can be ended."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Callable
from contextlib import suppress
from typing import Any, TypeAlias

from tinbook.errors import TinbookError

Tell: TypeAlias = Callable[[float, str], None]


class Ended(TinbookError, RuntimeError):
    """Raised inside the work when somebody has ended it."""


class Job:
    """One piece of work at a time.

    Without a running event loop (a plain script) the work is done at once.

    Parameters
    ----------
    told : callable
        Called in the loop with 0 to 1 and a word, as the work goes on.
    done : callable
        Called in the loop with what the work returned.
    failed : callable
        Called in the loop with the error that the work raised; `Ended` when it was ended.
    """

    def __init__(self, *, told: Tell, done: Callable[[Any], None], failed: Callable[[BaseException], None]) -> None:
        self._told, self._done, self._failed = told, done, failed
        self._stop: threading.Event | None = None

    @property
    def running(self) -> bool:
        """Whether there is work going on that has not been ended."""
        return self._stop is not None

    @property
    def ending(self) -> bool:
        """Whether the work has been asked to end and has not looked up yet."""
        return self._stop is not None and self._stop.is_set()

    def start(self, work: Callable[[Tell], Any]) -> None:
        """Start work; it gets a `tell(share, word)` to call now and then. Ends what ran before."""
        self.drop()
        stop = self._stop = threading.Event()
        try:
            loop: asyncio.AbstractEventLoop | None = asyncio.get_running_loop()
        except RuntimeError:
            loop = None

        def here(call: Callable[..., None], *values: Any) -> None:
            # What arrives after the work was dropped concerns nobody any more.
            if self._stop is stop:
                call(*values)

        def send(call: Callable[..., None], *values: Any) -> None:
            if loop is None:
                here(call, *values)
                return
            with suppress(RuntimeError):  # the loop is closed: the kernel is going down
                loop.call_soon_threadsafe(here, call, *values)

        def tell(share: float, word: str) -> None:
            if stop.is_set():
                raise Ended("ended")
            send(self._told, share, word)

        def run() -> None:
            try:
                found = work(tell)
            except BaseException as error:  # noqa: BLE001 - told in place, whatever it is
                send(self._finish, self._failed, error)
            else:
                send(self._finish, self._done, found)

        if loop is None:
            run()
        else:
            threading.Thread(target=run, name="tinbook", daemon=True).start()

    def end(self) -> None:
        """Ask the work to end; `failed` is called with `Ended` as soon as it looks up."""
        if self._stop is not None:
            self._stop.set()

    def drop(self) -> None:
        """End the work and hear nothing from it any more."""
        self.end()
        self._stop = None

    def _finish(self, call: Callable[[Any], None], value: Any) -> None:
        self._stop = None
        call(value)
