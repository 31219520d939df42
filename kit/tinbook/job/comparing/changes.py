"""Differences between two sets of facts, and the rows in which they are told."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from itertools import groupby
from typing import Final

from tinbook.job.comparing.facts import DIGITS, Fact, Value
from tinbook.values import dataclass

MANY: Final = 4
"""From so many things on that changed alike, they share one row."""


@dataclass(frozen=True, slots=True)
class Change:
    """One difference.

    Parameters
    ----------
    of, what : str
        Of which thing, and what of it; "" where the whole thing came or went.
    old, new : float, str or None
        None where there was, or is, nothing.
    unit : str
        "mm", "deg", "kg" or "".
    """

    of: str
    what: str
    old: Value | None
    new: Value | None
    unit: str = ""

    @property
    def difference(self) -> float | None:
        """New less old; None where they are no numbers."""
        if isinstance(self.old, float | int) and isinstance(self.new, float | int):
            return self.new - self.old
        return None

    def __str__(self) -> str:
        of, what, old, new, by = self.cells()
        if self.old is None or self.new is None:
            return f"{of}{', ' + what if what else ''}: {'added' if self.old is None else 'removed'}"
        return f"{of}, {what}: {old} -> {new}" + (f" ({by})" if by else "")

    def cells(self) -> tuple[str, str, str, str, str]:
        """Return its row in a table: of what, what, old, new, difference."""
        unit = f" {self.unit}" if self.unit else ""
        d = self.difference
        # What differs is never told by two equal numbers.
        more = 2 * int(d is not None and _shown(self.old, self.unit) == _shown(self.new, self.unit))  # type: ignore[arg-type]
        shown = [
            ("-" if v is None else _shown(v, self.unit, more=more) + unit * (not isinstance(v, str)))
            for v in (self.old, self.new)
        ]
        by = "" if d is None else _shown(d, self.unit, "+", more) + unit
        if self.old is None or self.new is None:
            by = "added" if self.old is None else "removed"
        return self.of, self.what, *shown, by  # type: ignore[return-value]


def changes(before: Mapping[tuple[str, str], Fact], after: Mapping[tuple[str, str], Fact]) -> Iterator[Change]:
    """Yield what differs; a thing that came or went is one change."""
    was, is_ = {of for of, _ in before}, {of for of, _ in after}
    told = set()
    for key in [*before, *(k for k in after if k not in before)]:
        of, what = key
        if of not in was or of not in is_:
            if of not in told:
                told.add(of)
                yield (
                    Change(of, "", None, _size(after, of)) if of not in was else Change(of, "", _size(before, of), None)
                )
            continue
        a, b = before.get(key), after.get(key)
        unit = (a or b).unit  # type: ignore[union-attr]
        if a is None or b is None or _looks(a) != _looks(b):
            yield Change(of, what, None if a is None else a.value, None if b is None else b.value, unit)


def _size(facts: Mapping[tuple[str, str], Fact], of: str) -> str:
    """Return the facts of a thing in a line."""
    if of.startswith("file "):
        return "in the pack"
    return ", ".join(f"{f.what} {_shown(f.value, f.unit)}" for f in facts.values() if f.of == of)


def _looks(fact: Fact) -> str:
    return fact.value if isinstance(fact.value, str) else f"{round(fact.value, DIGITS[fact.unit] + 1) + 0.0:.6f}"


def _shown(value: Value, unit: str, sign: str = "", more: int = 0) -> str:
    if isinstance(value, str):
        return value or "-"
    digits = 0 if not unit and value == round(value) else DIGITS[unit] + more
    return f"{round(value, digits) + 0.0:{sign}.{digits}f}"


def _alike(change: Change) -> tuple[str, ...]:
    kind = change.of.split(" ")[0]
    _, what, old, new, by = change.cells()
    if kind == "file" and what == "content":
        return kind, what  # hashes say nothing to a reader: one row for all of them
    return (kind, what, by) if change.difference is not None else (kind, what, old, new, by)


def merged(listed: Iterable[Change]) -> Iterator[tuple[str, str, str, str, str]]:
    """Yield rows; many holes that moved alike share one."""
    order = {key: n for n, key in enumerate(dict.fromkeys(_alike(c) for c in listed))}
    listed = sorted(listed, key=lambda c: order[_alike(c)])
    for _, group in groupby(listed, key=_alike):
        same = list(group)
        if len(same) < MANY:
            yield from (c.cells() for c in same)
            continue
        cells = [c.cells() for c in same]
        olds, news = {c[2] for c in cells}, {c[3] for c in cells}
        of = f"{cells[0][0]} to {cells[-1][0]} ({len(cells)} of them)"
        yield (
            of,
            cells[0][1],
            olds.pop() if len(olds) == 1 else "each its own",
            news.pop() if len(news) == 1 else "each its own",
            cells[0][4],
        )
