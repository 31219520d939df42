"""Provenance: which family a part or an assembly came from, with which values, and which of them can be adjusted."""

from __future__ import annotations

import functools
import importlib
import inspect
import math
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, suppress
from contextvars import ContextVar
from dataclasses import replace
from typing import Any, Final

from tinbook.fields import Choice, Path, Range, kinds_of
from tinbook.shop.material import Sheet
from tinbook.values import dataclass

NAMED = ("sheet", "strap", "tool")
"""Parameters that name something of the shop; the shop's other sheets and tools can be tried for them."""

FAMILIES: Final[dict[tuple[str, str], Callable[..., Any]]] = {}
"""Every family by module and name, entered where it is defined, so that a part need not hold a function."""

_NESTED: ContextVar[bool] = ContextVar("nested", default=False)


@contextmanager
def nested() -> Iterator[None]:
    """Run families inside another family, or as a trial: they record nothing and search for no suggestion."""
    before = _NESTED.set(True)
    try:
        yield
    finally:
        _NESTED.reset(before)


def is_nested() -> bool:
    """Whether a family runs inside another one, or as a trial."""
    return _NESTED.get()


@dataclass(frozen=True, slots=True, kw_only=True)
class Adjustable:
    """One parameter of a family call that can be changed.

    Parameters
    ----------
    path : tuple of str
        Its name; before it the names of parameters that hold the thing whose parameter it is.
    family : str
        Whose parameter.
    value, default : object
        As given, and as the family has it; None without a default.
    range : Range or None
        Of a number.
    choices : tuple
        Of a parameter with choices.
    """

    path: Path
    family: str
    value: Any
    default: Any
    range: Range | None = None
    choices: tuple[Any, ...] = ()

    @property
    def whole(self) -> bool:
        """Whether only whole numbers count."""
        return self.range is not None and self.range.whole

    @property
    def name(self) -> str:
        """The parameter's own name."""
        return self.path[-1]

    @property
    def others(self) -> tuple[Any, ...]:
        """The other choices, of numbers the nearest first."""
        found = [c for c in self.choices if c != self.value]
        if all(isinstance(c, int | float) for c in self.choices):
            found.sort(key=lambda c: abs(c - self.value))
        return tuple(found)

    def near(self, value: float, good: float) -> float:
        """Return a value in range, to hundredths, rounded toward one that is known to be good."""
        assert self.range is not None
        inside = self.range.nearest(value)
        if self.whole:
            return inside
        up = math.ceil(inside * 100 - 1e-6) / 100 if good >= value else math.floor(inside * 100 + 1e-6) / 100
        return self.range.nearest(up)

    def typed(self, value: Any) -> str:
        """Return a value as it would be typed, with its unit."""
        if self.range is None:
            return repr(value.key if isinstance(value, Sheet) else value)
        return f"{value:.10g} {self.range.unit}".rstrip()


@dataclass(frozen=True, slots=True, kw_only=True)
class Provenance:
    """The family call that a part or an assembly came from: plain values, which pass between processes.

    Parameters
    ----------
    module, name : str
        Where the family is defined, and its name there.
    values : dict
        By parameter, those that were given.
    pick : int or None
        Which of several things that it returns.
    """

    module: str
    name: str
    values: Mapping[str, Any]
    pick: int | None = None

    @property
    def family(self) -> Callable[..., Any] | None:
        """The family; None where this process cannot find it, as for one defined in another notebook."""
        key = self.module, self.name
        if key not in FAMILIES:
            with suppress(ImportError):
                importlib.import_module(self.module)
        return FAMILIES.get(key)

    @property
    def adjustables(self) -> tuple[Adjustable, ...]:
        """Every parameter with a range, choices or a name of the shop's; those of things that were handed in come last."""
        found, handed = [], []
        family = self.family
        for key, (limits, choices, default) in ({} if family is None else _parameters(family)).items():
            value = self.values.get(key, default)
            if limits is not None and not isinstance(value, int | float):
                continue
            found.append(
                Adjustable(path=(key,), family=self.name, value=value, default=default, range=limits, choices=choices)
            )
        for key, value in self.values.items():
            inner = getattr(value, "provenance", None)
            if isinstance(inner, Provenance):
                handed += [replace(k, path=(key, *k.path)) for k in inner.adjustables]
        return (*found, *handed)

    def repeat(self, changes: Mapping[Path, Any]) -> Any:
        """Return what the family gives with some values changed; raises what the family raises."""
        values = dict(self.values)
        deeper: dict[str, dict[Path, Any]] = {}
        for path, value in changes.items():
            if len(path) == 1:
                values[path[0]] = value
            else:
                deeper.setdefault(path[0], {})[path[1:]] = value
        for key, inner in deeper.items():
            values[key] = values[key].provenance.repeat(inner)
        family = self.family
        assert family is not None, self.name
        thing = family(**values)
        return thing if self.pick is None else thing[self.pick]


@functools.cache
def _parameters(family: Callable[..., Any]) -> dict[str, tuple[Range | None, tuple[Any, ...], Any]]:
    """Return range, choices and default of each parameter that can be adjusted."""
    given = inspect.signature(family).parameters
    found: dict[str, tuple[Range | None, tuple[Any, ...], Any]] = {}
    for name, kind in kinds_of(family).items():
        default = None if given[name].default is inspect.Parameter.empty else given[name].default
        if isinstance(kind, Range | Choice) or name in NAMED:
            limits = kind if isinstance(kind, Range) else None
            found[name] = limits, kind.choices if isinstance(kind, Choice) else (), default
    return found
