"""What a field of a shop value may hold: declared once, beside the field, used when built and when read from a file.

A field is declared as ``Annotated[float, Number("mm", above=0)]``. `check_fields`
calls the marker on construction (first mistake raises), the shop file's reader
calls the same marker and collects every mistake.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from functools import cache
from typing import TYPE_CHECKING, Any, Final, Protocol, get_type_hints, runtime_checkable

from tinbook.errors import BadValue, UnknownName
from tinbook.units import number

if TYPE_CHECKING:
    from _typeshed import DataclassInstance


@runtime_checkable
class Kind(Protocol):
    """A marker that turns what a file or a caller gives into the value the field holds."""

    @property
    def valid(self) -> str:
        """What would be valid, in words."""
        ...

    def read(self, value: Any, field: str) -> Any:
        """Return the value of the field, or raise BadValue."""
        ...


@dataclass(frozen=True, slots=True)
class Number:
    """A finite number in `unit`, inside the limits.

    Parameters
    ----------
    unit : str
        Of the words in `units.UNITS`; "" for a bare number.
    above, least, most : float or None
        value > above, value >= least, value <= most.
    none : bool
        Whether the field may be left out (None).
    whole : bool
        Whether it must be a whole number.
    """

    unit: str = ""
    above: float | None = None
    least: float | None = None
    most: float | None = None
    none: bool = False
    whole: bool = False

    def read(self, value: Any, field: str) -> float | int | None:
        """Return the number, or None where that is allowed."""
        if value is None and self.none:
            return None
        result = number(value, self.unit, field)
        low = self.above is not None and not result > self.above
        low = low or (self.least is not None and not result >= self.least)
        if low or (self.most is not None and not result <= self.most):
            raise BadValue(field, value, self.valid)
        if not self.whole:
            return result
        if result != int(result):
            raise BadValue(field, value, self.valid)
        return int(result)

    @property
    def valid(self) -> str:
        """What would be valid, in words."""
        parts = [f"greater than {self.above:g}"] if self.above is not None else []
        parts += [f"at least {self.least:g}"] if self.least is not None else []
        parts += [f"at most {self.most:g}"] if self.most is not None else []
        kind = "a whole number" if self.whole else "a number"
        return f"{kind} {' and '.join(parts) or 'that is finite'} {self.unit}".strip()


_TONS: Final = {
    **dict.fromkeys(("t", "tf", "tonne", "tonnes", "metric ton", "metric tons"), 9806.65),
    **dict.fromkeys(("short ton", "short tons", "US ton", "US tons"), 2000 * 0.45359237 * 9.80665),
    **dict.fromkeys(("long ton", "long tons"), 2240 * 0.45359237 * 9.80665),
}
"""N that a machine's ton is: its mass (exact by definition of the pound) under standard gravity, 9.80665 m/s²."""
_TON: Final = re.compile(r"\s*(.+?)\s*(ton|tons|" + "|".join(map(re.escape, _TONS)) + r")\s*")


@dataclass(frozen=True, slots=True)
class Force(Number):
    """A machine's force in N; its plate may say it in tonnes, or in tons if it is said in which."""

    unit: str = "N"

    def read(self, value: Any, field: str) -> float | int | None:
        """Return the force in N, or None where that is allowed."""
        if isinstance(value, str) and (told := _TON.fullmatch(value)):
            count, word = told.groups()
            if word in ("ton", "tons"):
                raise BadValue(field, value, self._which(count))
            try:
                return Number.read(self, number(count, "", field) * _TONS[word], field)
            except BadValue as wrong:
                raise BadValue(field, value, wrong.valid) from None
        return Number.read(self, value, field)

    def _which(self, count: str) -> str:
        said = f"which ton? '{count} t' (metric), '{count} short ton' (US, 2000 lb) or '{count} long ton' (UK, 2240 lb)"
        try:
            n = number(count, "", "")
        except BadValue:
            return said
        kn = [f"{n * _TONS[w] / 1000:.4g} kN" for w in ("t", "short ton", "long ton")]
        return f"{said}: {', '.join(kn)}"


@dataclass(frozen=True, slots=True)
class Text:
    """A line of text; one of `choices` where they are given."""

    choices: tuple[str, ...] = ()
    empty: bool = False

    @property
    def valid(self) -> str:
        """What would be valid, in words."""
        return f"one of: {', '.join(self.choices)}" if self.choices else "a line of text"

    def read(self, value: Any, field: str) -> str:
        """Return the text."""
        if not isinstance(value, str) or (not value.strip() and not self.empty) or not value.isprintable():
            raise BadValue(field, value, self.valid)
        if self.choices and value not in self.choices:
            raise UnknownName(field, value, self.choices)
        return value


@dataclass(frozen=True, slots=True)
class Flag:
    """True or false."""

    @property
    def valid(self) -> str:
        """What would be valid, in words."""
        return "true or false"

    def read(self, value: Any, field: str) -> bool:
        """Return the flag."""
        if not isinstance(value, bool):
            raise BadValue(field, value, self.valid)
        return value


@dataclass(frozen=True, slots=True)
class ByName:
    """A table from names (of a material, its family or a process) to numbers, kept as pairs in the order given."""

    of: Number = Number("mm", above=0)
    names: tuple[str, ...] = ()

    @property
    def valid(self) -> str:
        """What would be valid, in words."""
        return f"a table of names and numbers, such as {{ {self.names[0] if self.names else 'DC01'} = 1.6 }}"

    def read(self, value: Any, field: str) -> tuple[tuple[str, float], ...]:
        """Return the pairs."""
        pairs = value.items() if isinstance(value, Mapping) else value
        try:
            items = [(k, v) for k, v in pairs]
        except (TypeError, ValueError):
            raise BadValue(field, value, self.valid) from None
        result: list[tuple[str, float]] = []
        for name, entry in items:
            key = Text(self.names).read(name, f"{field} name")
            if any(key == k for k, _ in result):
                raise BadValue(field, key, "each name once")
            result.append((key, float(self.of.read(entry, f"{field} of '{key}'") or 0.0)))
        return tuple(result)


@dataclass(frozen=True, slots=True)
class Rows:
    """A list of rows of `width` numbers each, such as [[2500, 1250], [3000, 1500]]."""

    width: int
    of: Number = Number("mm", above=0)
    least: int = 0

    @property
    def valid(self) -> str:
        """What would be valid, in words."""
        return f"a list of at least {self.least} rows of {self.width} numbers, such as [[2500, 1250]]"

    def read(self, value: Any, field: str) -> tuple[tuple[float, ...], ...]:
        """Return the rows."""
        if isinstance(value, str) or not isinstance(value, Sequence) or len(value) < self.least:
            raise BadValue(field, value, self.valid)
        return tuple(Vector(self.width, self.of).read(row, f"{field} row {n}") for n, row in enumerate(value, 1))


@dataclass(frozen=True, slots=True)
class Vector:
    """A fixed count of numbers."""

    width: int
    of: Number = Number("mm", above=0)

    @property
    def valid(self) -> str:
        """What would be valid, in words."""
        return f"{self.width} numbers in brackets"

    def read(self, value: Any, field: str) -> tuple[float, ...]:
        """Return the numbers."""
        if isinstance(value, str) or not isinstance(value, Sequence) or len(value) != self.width:
            raise BadValue(field, value, self.valid)
        return tuple(float(self.of.read(v, f"{field} item {n}") or 0.0) for n, v in enumerate(value, 1))


@dataclass(frozen=True, slots=True)
class Names:
    """A list of names, each from `choices` where they are given, none twice."""

    choices: tuple[str, ...] = ()

    @property
    def valid(self) -> str:
        """What would be valid, in words."""
        return f"a list of {' | '.join(self.choices) or 'names'} in brackets, none twice"

    def read(self, value: Any, field: str) -> tuple[str, ...]:
        """Return the names."""
        if isinstance(value, str) or not isinstance(value, Sequence):
            raise BadValue(field, value, self.valid)
        result = tuple(Text(self.choices).read(v, f"{field} item {n}") for n, v in enumerate(value, 1))
        if len(set(result)) != len(result):
            raise BadValue(field, value, self.valid)
        return result


@cache
def kinds(cls: Any) -> dict[str, Kind]:
    """Return the marker of each field of a value class, in order; fields without a marker are left out."""
    hints = get_type_hints(cls, include_extras=True)
    found: dict[str, Kind] = {}
    for f in fields(cls):
        for mark in getattr(hints[f.name], "__metadata__", ()):
            if isinstance(mark, Kind):
                found[f.name] = mark
    return found


def check_fields(value: DataclassInstance, where: str) -> None:
    """Hold every marked field of a frozen value against its marker, storing what the marker returns.

    Parameters
    ----------
    value : object
        A value under construction (called from ``__post_init__``).
    where : str
        Name of the value for the message ("sheet 'DC01 1.6'").

    Raises
    ------
    BadValue
        The first field that does not hold.
    """
    for name, kind in kinds(type(value)).items():
        object.__setattr__(value, name, kind.read(getattr(value, name), f"{where} {name}"))


def lookup(pairs: tuple[tuple[str, float], ...], *names: str) -> float | None:
    """Return the number of the first of `names` that the pairs hold, None if none is there."""
    table = dict(pairs)
    return next((table[n] for n in names if n in table), None)
