"""What a design function may be asked: its parameters, read from its annotations."""

from __future__ import annotations

import inspect
import math
import typing
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial
from typing import Annotated, Any, Literal, TypeAlias

from tinbook.errors import BadValue, TinbookError, UnknownName
from tinbook.fields import Range

Kind = Literal["length", "count", "choice", "switch", "text"]
Value: TypeAlias = float | int | str | bool

HOW = (
    'Annotated[float, tb.Range(600, 1200, 5, "mm")], Annotated[int, tb.Range(0, 9)], Literal["up", "down"], bool or str'
)


class BadFunction(TinbookError, TypeError):
    """A function from which no workbench can be built; every reason at once."""

    def __init__(self, name: str, reasons: tuple[str, ...]) -> None:
        self.name, self.reasons = name, reasons
        super().__init__("\n".join([f"{name}: no workbench can be built from it", *(f"  {r}" for r in reasons)]))

    def __reduce__(self) -> tuple[type[BadFunction], tuple[str, tuple[str, ...]]]:
        return type(self), (self.name, self.reasons)


@dataclass(frozen=True, slots=True, kw_only=True)
class Parameter:
    """One parameter of a design function.

    Parameters
    ----------
    name : str
        As in the function.
    kind : {"length", "count", "choice", "switch", "text"}
        A float with a range, a whole number with a range, one of several, yes or no, free text.
    default : float, int, str or bool
        Where it starts: the function's default, or the middle of the range.
    range : Range or None
        For "length" and "count".
    choices : tuple
        For "choice".
    """

    name: str
    kind: Kind
    default: Value
    range: Range | None = None
    choices: tuple[Value, ...] = ()

    @property
    def unit(self) -> str:
        """Unit of the range, "" without one."""
        return self.range.unit if self.range else ""

    @property
    def label(self) -> str:
        """Name and unit for a control."""
        name = self.name.replace("_", " ")
        return f"{name}, {self.unit}" if self.unit else name

    def checked(self, value: object) -> Value:
        """Return a value as this parameter takes it.

        Raises
        ------
        BadValue
            Another type, outside the range, not among the choices.
        """
        if self.kind == "switch":
            if isinstance(value, bool):
                return value
            raise BadValue(self.name, value, "true or false")
        if self.kind == "text":
            if isinstance(value, str):
                return value
            raise BadValue(self.name, value, "text")
        if self.kind == "choice":
            for choice in self.choices:
                if type(choice) is type(value) and choice == value:
                    return choice
            raise UnknownName(self.name, value, [repr(c) for c in self.choices])
        return self._number(value)

    def _number(self, value: object) -> Value:
        assert self.range is not None
        low, high, unit = self.range.low, self.range.high, self.range.unit
        whole = self.kind == "count"
        valid = f"a {'whole ' if whole else ''}number from {low:g} to {high:g} {unit}".rstrip()
        if isinstance(value, bool) or not isinstance(value, (int, float)) or not math.isfinite(value):
            raise BadValue(self.name, value, valid)
        if not low <= value <= high or (whole and value != int(value)):
            raise BadValue(self.name, value, valid)
        return int(value) if whole else float(value)


def parameters(function: Callable[..., Any]) -> tuple[Parameter, ...]:
    """Return the parameters of a design function in their order.

    Parameters
    ----------
    function : callable
        Every parameter annotated: `Annotated[float, Range]`, `Annotated[int, Range]`, `Literal`, `bool` or `str`.

    Raises
    ------
    BadFunction
        With a reason for each parameter that cannot become a control.
    """
    if not callable(function):
        raise BadFunction(repr(function), ("it is not a function; give one that returns a Part",))
    name = name_of(function)
    try:
        hints = typing.get_type_hints(_plain(function), include_extras=True)
        signature = inspect.signature(function)
    except Exception as error:
        raise BadFunction(name, (f"its annotations cannot be read: {type(error).__name__}: {error}",)) from error
    found: list[Parameter] = []
    reasons: list[str] = []
    for p in signature.parameters.values():
        try:
            found.append(_parameter(p, hints.get(p.name)))
        except BadValue as error:
            reasons.append(str(error))
        except _Reason as error:
            reasons.append(f"{p.name}: {error}")
    if reasons:
        raise BadFunction(name, tuple(reasons))
    return tuple(found)


def name_of(function: object) -> str:
    """Return a function's name without an address."""
    return str(getattr(_plain(function), "__name__", type(function).__name__))


def _plain(function: object) -> Any:
    """Return what holds the annotations: inside a partial, or the call of an object."""
    while isinstance(function, partial):
        function = function.func
    return function if inspect.isroutine(function) else getattr(function, "__call__", function)  # noqa: B004


class _Reason(Exception):
    """Why one parameter cannot become a control."""


def _parameter(p: inspect.Parameter, hint: Any) -> Parameter:
    if p.kind in (p.VAR_POSITIONAL, p.VAR_KEYWORD, p.POSITIONAL_ONLY):
        raise _Reason("only parameters that can be given by name become controls")
    if hint is None:
        raise _Reason(f"it has no annotation; give it one of: {HOW}")
    default = None if p.default is p.empty else p.default
    if typing.get_origin(hint) is Literal:
        choices = typing.get_args(hint)
        if not all(isinstance(c, (str, int, bool)) for c in choices):
            raise _Reason("choices are texts, whole numbers or True and False")
        return _started(p.name, default, choices[0], kind="choice", choices=choices)
    if hint is bool:
        return _started(p.name, default, False, kind="switch")
    if hint is str:
        return _started(p.name, default, "", kind="text")
    if typing.get_origin(hint) is Annotated and typing.get_args(hint)[0] in (float, int):
        ranges = [a for a in hint.__metadata__ if isinstance(a, Range)]
        if len(ranges) != 1:
            raise _Reason(f"its annotation holds {len(ranges)} ranges, one is needed: {HOW}")
        return _ranged(p.name, typing.get_args(hint)[0], ranges[0], default)
    if hint in (float, int):
        raise _Reason(f"a bare {hint.__name__} has no range; write {HOW}")
    raise _Reason(f"{hint!r} cannot become a control; write {HOW}")


def _ranged(name: str, number: type, r: Range, default: object) -> Parameter:
    middle = r.low + round((r.high - r.low) / 2 / r.step) * r.step
    if number is int:
        if any(v != int(v) for v in (r.low, r.high, r.step)):
            raise _Reason("a whole number needs a range of whole numbers")
        return _started(name, default, int(middle), kind="count", range=r)
    return _started(name, default, float(middle), kind="length", range=r)


def _started(name: str, default: Any, otherwise: Value, **values: Any) -> Parameter:
    bare = Parameter(name=name, default=otherwise, **values)
    if default is None:
        return bare
    return Parameter(name=name, default=bare.checked(default), **values)


def defaults(given: tuple[Parameter, ...]) -> dict[str, Value]:
    """Return the values with which the controls start."""
    return {p.name: p.default for p in given}


def checked(given: tuple[Parameter, ...], values: Mapping[str, object]) -> dict[str, Value]:
    """Return values for all parameters: those of `values`, checked, over the defaults.

    Raises
    ------
    BadFunction
        Every value that cannot be used and every unknown name, at once.
    """
    known = {p.name: p for p in given}
    result, reasons = defaults(given), []
    for name, value in values.items():
        if name not in known:
            reasons.append(f"{name}: no such parameter; there are: {', '.join(known) or 'none'}")
            continue
        try:
            result[name] = known[name].checked(value)
        except BadValue as error:
            reasons.append(str(error))
    if reasons:
        raise BadFunction("values", tuple(reasons))
    return result
