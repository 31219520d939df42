"""Slow work beside the event loop: it runs in a thread, its progress arrives in the loop, and it can be cancelled."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Callable
from contextlib import suppress
from typing import Any, TypeAlias

from tinbook.errors import TinbookError

Tell: TypeAlias = Callable[[float, str], None]


class Ended(TinbookError, RuntimeError):
    """Raised inside the work after it was cancelled."""


class Job:
    """One piece of work at a time.

    Without a running event loop (a plain script) the work is done at once.

    Parameters
    ----------
    progress : callable
        Called in the loop with 0 to 1 and a word, as the work goes on.
    done : callable
        Called in the loop with what the work returned.
    failed : callable
        Called in the loop with the error that the work raised; `Ended` when it was ended.
    """

    def __init__(self, *, progress: Tell, done: Callable[[Any], None], failed: Callable[[BaseException], None]) -> None:
        self._progress, self._done, self._failed = progress, done, failed
        self._stop: threading.Event | None = None

    @property
    def running(self) -> bool:
        """Whether work is running."""
        return self._stop is not None

    @property
    def ending(self) -> bool:
        """Whether the work was cancelled and has not noticed yet."""
        return self._stop is not None and self._stop.is_set()

    def start(self, work: Callable[[Tell], Any]) -> None:
        """Start work, which reports its progress through `tell(share, word)`; work that runs already is dropped."""
        self.drop()
        stop = self._stop = threading.Event()
        try:
            loop: asyncio.AbstractEventLoop | None = asyncio.get_running_loop()
        except RuntimeError:
            loop = None

        def here(call: Callable[..., None], *values: Any) -> None:
            # Messages that arrive after the work was dropped are ignored.
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
            send(self._progress, share, word)

        def run() -> None:
            try:
                found = work(tell)
            except BaseException as error:  # noqa: BLE001 - shown to the user, whatever it is
                send(self._finish, self._failed, error)
            else:
                send(self._finish, self._done, found)

        if loop is None:
            run()
        else:
            threading.Thread(target=run, name="tinbook", daemon=True).start()

    def end(self) -> None:
        """Cancel the work: its next progress report raises `Ended` in it, and `failed` is called with that."""
        if self._stop is not None:
            self._stop.set()

    def drop(self) -> None:
        """Cancel the work without any further call."""
        self.end()
        self._stop = None

    def _finish(self, call: Callable[[Any], None], value: Any) -> None:
        self._stop = None
        call(value)
