"""Limits for files of others: every reader states its limits and stops at them with a message."""

from __future__ import annotations

import time
from typing import Final

from tinbook.errors import BadFile, Mistake

SECONDS: Final = 60.0
"""Seconds of computing for one drawing, however busy the machine; the largest drawing that is taken needs about half."""


class Budget:
    """Counts the computing time that a file takes, and ends its reading when that is used up.

    Parameters
    ----------
    path : str
        The file, for the message.
    seconds : float
        Of this thread's own computing.
    """

    def __init__(self, path: str, seconds: float | None = None) -> None:
        self.path, self.seconds = path, SECONDS if seconds is None else seconds
        self.end = time.thread_time() + self.seconds
        self.calls = 0

    def check(self, stage: str) -> None:
        """Raise BadFile when the time is used up; cheap enough for every line of a file.

        Parameters
        ----------
        stage : str
            What is being done, for the message.
        """
        self.calls += 1
        if self.calls % 16 == 0 and time.thread_time() > self.end:
            what = f"{stage} took more than {self.seconds:g} s of computing; valid: a drawing of one part"
            raise BadFile(self.path, [Mistake("file", what)])
