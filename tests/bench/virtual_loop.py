"""An event loop in which waiting takes no time, so that no test depends on how busy the machine is."""

from __future__ import annotations

import asyncio
from collections.abc import Coroutine
from typing import Any


class VirtualLoop(asyncio.SelectorEventLoop):
    """Its clock stands still while code runs, and jumps to the next timer when nothing is left to run."""

    def __init__(self) -> None:
        super().__init__()
        self.now = 0.0
        real = self._selector.select  # type: ignore[attr-defined]

        def select(timeout: float | None = None) -> Any:
            self.now += timeout or 0.0
            return real(timeout and 0.0)

        self._selector.select = select  # type: ignore[attr-defined]

    def time(self) -> float:
        return self.now


def run(scene: Coroutine[Any, Any, Any]) -> None:
    """Run a scene in virtual time."""
    with asyncio.Runner(loop_factory=VirtualLoop) as runner:
        runner.run(scene)


def pass_time(seconds: float) -> None:
    """Let work take time."""
    loop = asyncio.get_running_loop()
    assert isinstance(loop, VirtualLoop)
    loop.now += seconds
