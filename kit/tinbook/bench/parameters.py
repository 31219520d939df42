"""The parameters of a design function, read from its annotations."""

from __future__ import annotations

import inspect
import typing
from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import partial
from typing import Any, Literal, TypeAlias

from tinbook import fields
from tinbook.bench.typed import how_to_type, read_typed, typed_of
from tinbook.errors import BadValue, TinbookError, UnknownName
from tinbook.fields import ByName, Choice, Flag, Inside, Maybe, Pair, Points, Range, Several, Word, kind_of, kinds_of
from tinbook.shop.material import SheetName
from tinbook.shop.shop import Shop
from tinbook.values import dataclass

Kind = Literal["length", "count", "choice", "switch", "text"]
Value: TypeAlias = Any
"""A number, a text, True or False; of lists a tuple, of options None too."""
ANY_TEXT = Word("(?s).*", "text")
"""Of a bare `str`: a design function may take what it likes."""

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
    field : fields.Kind
        What its annotation declares: a range, choices, a flag, a sheet or free text.
    default : float, int, str, bool, tuple or None
        Where it starts: the function's default, or the middle of the range.
    offered : tuple of str
        What a text may be, as sheets of the shop; () for any.
    """

    name: str
    field: fields.Kind
    default: Value
    offered: tuple[str, ...] = ()

    @property
    def kind(self) -> Kind:
        """Which control it gets."""
        if isinstance(self.field, Range):
            return "count" if self.field.whole else "length"
        if isinstance(self.field, Choice) or self.offered:
            return "choice"
        return "switch" if isinstance(self.field, Flag) else "text"

    @property
    def range(self) -> Range | None:
        """Range of a number."""
        return self.field if isinstance(self.field, Range) else None

    @property
    def choices(self) -> tuple[Value, ...]:
        """Choices, () where there are none."""
        return self.field.choices if isinstance(self.field, Choice) else self.offered

    @property
    def unit(self) -> str:
        """Unit of the range, "" without one."""
        return self.range.unit if self.range else ""

    @property
    def label(self) -> str:
        """Name and unit for a control."""
        name = self.name.replace("_", " ")
        return f"{name}, {self.unit}" if self.unit else name

    @property
    def hint(self) -> str:
        """What may be given, and how it is typed."""
        how = how_to_type(self.field)
        return self.field.valid + (f" ({how})" if how else "")

    @property
    def group(self) -> str:
        """Under which heading it stands."""
        if self.kind == "length":
            return "sizes"
        names = self.kind == "text" and isinstance(self.field, fields.Text | Word)
        return "sheet and names" if names or isinstance(self.field, SheetName) else "counts and choices"

    def checked(self, value: object) -> Value:
        """Return a value as this parameter takes it.

        Raises
        ------
        BadValue
            Another type, outside the range, not among the choices.
        """
        if self.range is not None and isinstance(value, str):
            raise BadValue(self.name, value, self.range.valid)
        if isinstance(value, str) and isinstance(self.field, Inside | Maybe | Pair | Points | Several):
            value = read_typed(self.field, value, self.name)  # from a values file, which holds numbers and texts only
        read: Value = self.field.read(value, self.name)
        if self.offered and read not in self.offered:
            raise UnknownName(self.name, read, self.offered)
        return read

    def typed(self, text: str) -> Value:
        """Return the value that typed text means, with units and fractions as at every door of the kit.

        Raises
        ------
        BadValue
            It cannot be read, lies outside the range, or is not among the choices.
        """
        return self.checked(read_typed(self.field, text, self.name))

    def shown(self, value: Value) -> str:
        """Return the text that shows a value."""
        return typed_of(self.field, value)


def parameters(
    function: Callable[..., Any], start: Mapping[str, object] | None = None, shop: Shop | None = None
) -> tuple[Parameter, ...]:
    """Return the parameters of a design function in their order.

    Parameters
    ----------
    function : callable
        Every parameter annotated: `Annotated[float, Range]`, `Annotated[int, Range]`, `Literal`, `bool` or `str`.
    start : mapping, optional
        Values that stand for the function's defaults, by parameter.
    shop : Shop, optional
        A text that names one of its sheets, roll pairs or tools by default becomes the list of these.

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
            if (made := _parameter(p, hints.get(p.name))) is not None:
                found.append(made if shop is None else _of_shop(made, shop))
        except BadValue as error:
            reasons.append(str(error))
        except _Reason as error:
            reasons.append(f"{p.name}: {error}")
    if reasons:
        raise BadFunction(name, tuple(reasons))
    values = checked(tuple(found), start or {})
    return tuple(replace(p, default=values[p.name]) for p in found)


def name_of(function: object) -> str:
    """Return a function's name without an address."""
    return str(getattr(_plain(function), "__name__", type(function).__name__))


def _plain(function: object) -> Any:
    """Return what holds the annotations: inside a partial, or the call of an object."""
    while isinstance(function, partial):
        function = function.func
    return function if inspect.isroutine(function) else getattr(function, "__call__", function)  # noqa: B004


def with_sheets(function: Callable[..., Any], values: Mapping[str, Value], shop: Shop) -> dict[str, Any]:
    """Return values in which the shop's own sheet, with its measured thickness, stands for the name of a sheet."""
    kinds = kinds_of(_plain(function))
    return {k: shop.sheet_by_key(str(v)) if v and isinstance(kinds.get(k), SheetName) else v for k, v in values.items()}


class _Reason(Exception):
    """Why one parameter cannot become a control."""


def _parameter(p: inspect.Parameter, hint: Any) -> Parameter | None:
    """Return a parameter; None for one that keeps its default, because nothing that can be typed makes such a value."""
    if p.kind in (p.VAR_POSITIONAL, p.VAR_KEYWORD, p.POSITIONAL_ONLY):
        raise _Reason("only parameters that can be given by name become controls")
    if hint is None:
        raise _Reason(f"it has no annotation; give it one of: {HOW}")
    if hint in (float, int):
        raise _Reason(f"a bare {hint.__name__} has no range; write {HOW}")
    field = ANY_TEXT if hint is str else kind_of(hint)
    if field is None or isinstance(field, ByName):
        if p.default is not p.empty:
            return None
        raise _Reason(f"no control makes such a value ({_short(hint)}); give it by functools.partial, or write {HOW}")
    if isinstance(field, Choice) and not all(isinstance(c, str | int | bool) for c in field.choices):
        raise _Reason("choices are texts, whole numbers or True and False")
    if p.default is None and not isinstance(field, Maybe):
        return Parameter(name=p.name, field=field, default=_start(field))
    if p.default is p.empty:
        return Parameter(name=p.name, field=field, default=_start(field))
    bare = Parameter(name=p.name, field=field, default=p.default)
    return replace(bare, default=bare.checked(p.default))


def _short(hint: Any) -> str:
    return str(getattr(hint, "__name__", hint)).replace("typing.", "").rpartition(".")[2][:40]


def _of_shop(p: Parameter, shop: Shop) -> Parameter:
    """Return a text that names a sheet, a roll pair or a tool of the shop as the list of these."""
    if p.kind != "text" or not isinstance(p.default, str):
        return p
    lists: tuple[tuple[Any, ...], ...] = (shop.sheets, shop.rolls, shop.tools)
    if isinstance(p.field, SheetName):
        empty = ("",) if p.field.empty else ()
        return replace(p, offered=tuple(dict.fromkeys((*empty, *(s.key for s in shop.sheets), p.default))))
    keys = next((k for k in (tuple(row.key for row in rows) for rows in lists) if p.default in k), ())
    return replace(p, offered=keys)


def with_edges(given: tuple[Parameter, ...], part: object) -> tuple[Parameter, ...]:
    """Return parameters in which a text that names an edge of the part's base by default is the list of these edges."""
    names = tuple(getattr(getattr(part, "base", None), "names", ()))
    free = [p.name for p in given if p.kind == "text" and isinstance(p.default, str) and p.default in names]
    return tuple(replace(p, offered=names) if p.name in free else p for p in given)


def _start(field: fields.Kind) -> Value:
    """Return where a control starts for which the function has no default."""
    if isinstance(field, Choice):
        return field.choices[0]
    if isinstance(field, Maybe):
        return None
    if isinstance(field, Several):
        return ()
    if not isinstance(field, Range):
        return False if isinstance(field, Flag) else ""
    if field.whole and any(v != int(v) for v in (field.low, field.high, field.step)):
        raise _Reason("a whole number needs a range of whole numbers")
    middle = field.low + round((field.high - field.low) / 2 / field.step) * field.step
    return int(middle) if field.whole else float(middle)


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
