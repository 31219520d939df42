"""What happens while a drawing is read: the computing time used, events by subject, some of their places, and texts."""

from __future__ import annotations

import time
from collections import Counter, defaultdict
from dataclasses import field
from typing import Final

from tinbook.errors import BadFile, Mistake
from tinbook.plane.loops import Point
from tinbook.values import dataclass

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


@dataclass(slots=True)
class Notes:
    """What happened on the way, by subject: how often, and where; and where texts stand."""

    counts: Counter[str] = field(default_factory=Counter)
    places: dict[str, list[Point]] = field(default_factory=lambda: defaultdict(list))
    words: dict[str, Counter[str]] = field(default_factory=lambda: defaultdict(Counter))
    worst: dict[str, float] = field(default_factory=dict)
    texts: list[Point] = field(default_factory=list)
    budget: Budget = field(default_factory=lambda: Budget("drawing"))

    def add(self, subject: str, place: Point | None = None, word: str = "", size: float = 0.0) -> None:
        """Note one event."""
        self.counts[subject] += 1
        if place is not None and len(self.places[subject]) < 5:
            self.places[subject].append(place)
        if word:
            self.words[subject][word] += 1
        self.worst[subject] = max(self.worst.get(subject, 0.0), size)
