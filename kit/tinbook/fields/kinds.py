"""Kinds of texts, choices, pairs, lists and tables."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from itertools import pairwise
from typing import Annotated, Any, Final, Protocol, TypeAlias, runtime_checkable

from tinbook.errors import BadValue, UnknownName
from tinbook.fields.numbers import Number
from tinbook.tolerances import SAME_POINT
from tinbook.units import is_sequence, points
from tinbook.values import dataclass


@runtime_checkable
class Kind(Protocol):
    """Turns what a file or a caller gives into the value that the field holds."""

    @property
    def valid(self) -> str:
        """What would be valid, in words."""
        ...

    def read(self, value: Any, field: str) -> Any:
        """Return the value of the field, or raise BadValue."""
        ...


POSITIVE: Final = Number("mm", above=0)
"""A length greater than 0."""
Positive: TypeAlias = Annotated[float, POSITIVE]
FromZero: TypeAlias = Annotated[float, Number("mm", least=0)]


@dataclass(frozen=True, slots=True)
class Text:
    """A line of text.

    Parameters
    ----------
    empty : bool
        Whether it may be empty.
    most : int
        Largest number of characters.
    """

    empty: bool = False
    most: int = 10_000

    @property
    def valid(self) -> str:
        """What would be valid, in words."""
        return "a line of text" if self.most == Text().most else f"at most {self.most} printable characters"

    def read(self, value: Any, field: str) -> str:
        """Return the text."""
        if not isinstance(value, str) or not value.isprintable() or len(value) > self.most:
            raise BadValue(field, value, self.valid)
        if not value.strip() and not self.empty:
            raise BadValue(field, value, self.valid)
        return value


@dataclass(frozen=True, slots=True)
class Word:
    """Text of a fixed form.

    Parameters
    ----------
    pattern : str
        Regular expression that the whole text must match.
    valid : str
        What would be valid, in words.
    """

    pattern: str
    valid: str

    def read(self, value: Any, field: str) -> str:
        """Return the text."""
        if not isinstance(value, str) or not re.fullmatch(self.pattern, value):
            raise BadValue(field, value, self.valid)
        return value


@dataclass(frozen=True, slots=True)
class Choice:
    """One of several values, as a ``Literal`` lists them."""

    choices: tuple[Any, ...]

    @property
    def valid(self) -> str:
        """What would be valid, in words."""
        return f"one of: {', '.join(map(str, self.choices))}"

    def read(self, value: Any, field: str) -> Any:
        """Return the choice."""
        for choice in self.choices:
            if value is choice:
                return choice
            alike = isinstance(value, bool) is isinstance(choice, bool) and isinstance(value, str | int | float)
            if alike and value == choice:
                return choice
        raise UnknownName(field, value, tuple(map(str, self.choices)))


@dataclass(frozen=True, slots=True)
class Flag:
    """True or false."""

    valid: str = "true or false"

    def read(self, value: Any, field: str) -> bool:
        """Return the flag."""
        if not isinstance(value, bool):
            raise BadValue(field, value, self.valid)
        return value


@dataclass(frozen=True, slots=True)
class ByName:
    """A table from names (of a material, its family or a process) to values, kept as pairs in the order given."""

    of: Kind = POSITIVE
    names: tuple[str, ...] = ()

    @property
    def valid(self) -> str:
        """What would be valid, in words."""
        name = self.names[0] if self.names else "DC01"
        if isinstance(self.of, Number):
            return f"a table of names and numbers, such as {{ {name} = 1.6 }}"
        return f"a table of names, such as {name}, each with {self.of.valid}"

    def read(self, value: Any, field: str) -> tuple[tuple[str, Any], ...]:
        """Return the pairs."""
        pairs = value.items() if isinstance(value, Mapping) else value
        try:
            items = [(k, v) for k, v in pairs]
        except (TypeError, ValueError):
            raise BadValue(field, value, self.valid) from None
        result: list[tuple[str, Any]] = []
        for name, entry in items:
            key = (Choice(self.names) if self.names else Text()).read(name, f"{field} name")
            if any(key == k for k, _ in result):
                raise BadValue(field, key, "each name once")
            result.append((key, self.of.read(entry, f"{field} of '{key}'")))
        return tuple(result)


@dataclass(frozen=True, slots=True)
class Pair:
    """Two values of one kind.

    Parameters
    ----------
    of : Kind
        Of each.
    both : bool
        Whether one value may stand for both.
    names : (str, str)
        What the two are, for messages.
    """

    of: Kind
    both: bool = False
    names: tuple[str, str] = ("x", "y")

    @property
    def valid(self) -> str:
        """What would be valid, in words."""
        one = f"{self.of.valid}, or " if self.both else ""
        return f"{one}a pair ({', '.join(self.names)})"

    def read(self, value: Any, field: str) -> tuple[Any, Any]:
        """Return the pair."""
        if self.both and type(value) is not tuple and not isinstance(value, tuple | list):
            value = (value, value)
        if not is_sequence(value) or len(value) != 2:
            raise BadValue(field, value, self.valid)
        (a, b), (one, other) = value, self.names
        return self.of.read(a, f"{field} {one}"), self.of.read(b, f"{field} {other}")


@dataclass(frozen=True, slots=True)
class Several:
    """A list of values of one kind.

    Parameters
    ----------
    of : Kind
        Of each.
    least, most : int, int or None
        How many there may be, both included.
    what : str
        What they are, for messages.
    once : bool
        Whether each value may stand there only once.
    ordered : bool
        Whether they are stored smallest first.
    """

    of: Kind
    least: int = 1
    most: int | None = None
    what: str = "values"
    once: bool = False
    ordered: bool = False

    @property
    def valid(self) -> str:
        """What would be valid, in words."""
        count = f"{self.least} " if self.least == self.most else f"at least {self.least} " if self.least else ""
        return f"{count}{self.what} in brackets{', none twice' if self.once else ''}, each {self.of.valid}"

    def read(self, value: Any, field: str) -> tuple[Any, ...]:
        """Return the values."""
        if not is_sequence(value):
            raise BadValue(field, value, self.valid)
        if len(value) < self.least or (self.most is not None and len(value) > self.most):
            raise BadValue(field, value, self.valid)
        result = tuple(self.of.read(v, f"{field} item {n}") for n, v in enumerate(value, 1))
        if self.once and len(set(result)) != len(result):
            raise BadValue(field, value, self.valid)
        return tuple(sorted(result)) if self.ordered else result


@dataclass(frozen=True, slots=True)
class Points:
    """Corner points of a path in mm, each apart from the one before."""

    valid: str = "at least 2 points (x, y) that differ from their neighbours"

    def read(self, value: Any, field: str) -> tuple[tuple[float, float], ...]:
        """Return the points."""
        path = points(value, field)
        if len(path) < 2:
            raise BadValue(field, value, self.valid)
        for a, b in pairwise(path):
            if math.dist(a, b) < SAME_POINT:
                raise BadValue(field, a, self.valid)
        return path


@dataclass(frozen=True, slots=True)
class Maybe:
    """A value of another kind, or nothing (None)."""

    of: Kind

    @property
    def valid(self) -> str:
        """What would be valid, in words."""
        return f"{self.of.valid}, or nothing"

    def read(self, value: Any, field: str) -> Any:
        """Return the value."""
        return None if value is None else self.of.read(value, field)
