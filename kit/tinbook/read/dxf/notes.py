"""What happened while a drawing was read: events counted by subject, some of their places, and texts."""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass, field

from tinbook.plane.loops import Point
from tinbook.read.limits import Budget


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
