"""Reading the kinds from the annotations of a class or a function, and holding values against them."""

from __future__ import annotations

import inspect
import types
import typing
from collections.abc import Callable, Mapping
from dataclasses import MISSING, fields, replace
from functools import cache
from operator import attrgetter
from typing import TYPE_CHECKING, Any, TypeVar, cast, get_type_hints

from tinbook.errors import BadValue
from tinbook.fields.kinds import Choice, Flag, Kind, Maybe, Text
from tinbook.fields.numbers import Range
from tinbook.values import dataclass

if TYPE_CHECKING:
    from _typeshed import DataclassInstance


D = TypeVar("D")


@cache
def kind_of(hint: Any) -> Kind | None:
    """Return the kind that an annotation declares.

    Parameters
    ----------
    hint : object
        As `typing.get_type_hints(..., include_extras=True)` gives it.

    Returns
    -------
    Kind or None
        The marker in ``Annotated``; for a ``Literal``, ``bool``, ``str``, or one of all these ``| None``, the kind that
        follows from it. None for anything else.
    """
    for mark in getattr(hint, "__metadata__", ()):
        if isinstance(mark, Kind):
            whole = isinstance(mark, Range) and typing.get_args(hint)[0] is int
            return replace(mark, whole=True) if whole else mark  # type: ignore[type-var]
    origin, inner = typing.get_origin(hint), typing.get_args(hint)
    if origin is typing.Literal:
        return Choice(inner)
    if origin in (typing.Union, types.UnionType):
        found = [kind_of(h) for h in inner if h is not type(None)]
        return Maybe(found[0]) if len(found) == 1 and found[0] is not None and len(inner) == 2 else None
    if hint is bool:
        return Flag()
    if hint is str:
        return Text()
    return None


@cache
def kinds(cls: Any) -> dict[str, Kind]:
    """Return the kind of each field that a value is made with, in order; fields without a kind are left out."""
    hints = get_type_hints(cls, include_extras=True)
    return {f.name: kind for f in fields(cls) if f.init and (kind := kind_of(hints[f.name]))}


@cache
def kinds_of(function: Callable[..., Any]) -> dict[str, Kind]:
    """Return the kind of each parameter of a function, in order; parameters without one are left out."""
    hints = get_type_hints(function, include_extras=True)
    hints.pop("return", None)
    return {name: kind for name, hint in hints.items() if (kind := kind_of(hint)) is not None}


def documented(thing: D) -> D:
    """Add what each field of a class, or each parameter of a function, may hold to its docstring.

    That of a class is written when it is first read: a part is drawn without evaluating a single annotation.
    """
    said = inspect.cleandoc(thing.__doc__ or "")
    thing.__doc__ = cast(str, _Doc(said)) if isinstance(thing, type) else _with_limits(said, kinds_of(cast(Any, thing)))
    return thing


class _Doc:
    """A docstring that is written when it is read."""

    def __init__(self, said: str) -> None:
        self.said = said

    def __get__(self, value: object, cls: type) -> str:
        return _with_limits(self.said, kinds(cls))


def _with_limits(said: str, found: Mapping[str, Kind]) -> str:
    limits = "\n".join(f"- {name}: {kind.valid}" for name, kind in found.items())
    return f"{said}\n\nNotes\n-----\n{limits}\n"


@cache
def _checked_fields(cls: Any) -> tuple[Callable[[Any], tuple[Any, ...]], tuple[tuple[str, Kind, Any], ...]]:
    """Return what reads all fields that have a kind, and name, kind and default of each.

    The default is MISSING where it must be read like any value.
    """
    found = []
    for name, kind in kinds(cls).items():
        default = cls.__dataclass_fields__[name].default
        as_is = default is not MISSING and type(read := kind.read(default, name)) is type(default) and read == default
        found.append((name, kind, default if as_is else MISSING))
    names = [name for name, _, _ in found]
    every = attrgetter(*names) if len(names) > 1 else lambda value: tuple(getattr(value, name) for name in names)
    return every, tuple(found)


def check_fields(value: DataclassInstance, where: str) -> None:
    """Hold the fields of a frozen value against their kinds, storing what these return.

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
    every, declared = _checked_fields(type(value))
    for (name, kind, default), given in zip(declared, every(value), strict=True):
        if given is default:
            continue
        try:
            read = kind.read(given, name)
        except BadValue:
            read = kind.read(given, f"{where} {name}")  # once more, for the message: a slider makes many good values
        if read is not given:
            object.__setattr__(value, name, read)


@dataclass(frozen=True, slots=True)
class Inside:
    """A value with fields of its own: as such, as a table of its fields, or as the text of its field `kind` alone."""

    cls: Any

    @property
    def valid(self) -> str:
        """What would be valid, in words."""
        known = kinds(self.cls)
        kind = f"{known['kind'].valid}; or " if "kind" in known else ""
        return f"{kind}a {self.cls.__name__} ({', '.join(known)})"

    def read(self, value: Any, field: str) -> Any:
        """Return the value."""
        if isinstance(value, self.cls):
            return value
        known = kinds(self.cls)
        if isinstance(value, str) and "kind" in known:
            value = {"kind": value}
        if not isinstance(value, Mapping) or not set(value) <= set(known):
            raise BadValue(field, value, self.valid)
        return self.cls(**value)


def lookup(pairs: tuple[tuple[str, float], ...], *names: str) -> float | None:
    """Return the number of the first of `names` that the pairs hold, None if none is there."""
    table = dict(pairs)
    return next((table[n] for n in names if n in table), None)
