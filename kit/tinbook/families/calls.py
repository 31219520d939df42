"""The decorator of every family: units and ranges of its parameters, and a nearest valid value in each refusal."""

from __future__ import annotations

import builtins
import functools
import inspect
import math
import typing
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Annotated, Any, Final, ParamSpec, TypeVar, cast

from tinbook.calc.limits import finite
from tinbook.errors import BadValue, UnknownName, of_kind
from tinbook.fields import Beyond, Maybe, Number, Path, beyond, documented, kind_of, kinds_of
from tinbook.part.assembly import Assembly
from tinbook.part.joints import largest_thickness
from tinbook.part.part import Part
from tinbook.part.provenance import FAMILIES, Provenance, is_nested, nested
from tinbook.part.suggest import suggest_change
from tinbook.shop.material import Sheet
from tinbook.shop.shop import Shop

_OWN = (Part.__module__, "tinbook.families.bolt_patterns")
"""Where the things that families take are declared."""

P = ParamSpec("P")
R = TypeVar("R")

Size = Annotated[float, Number("mm", above=0, most=10_000)]
"""Of something that is there."""
Room = Annotated[float, Number("mm", least=0, most=10_000)]
"""Of something that may be left out."""
Place = Annotated[float, Number("mm", least=-10_000, most=10_000)]
_PLAIN: Final = {
    float: Number(least=-1e7, most=1e7),
    float | None: Maybe(Number(least=-1e7, most=1e7)),
}
"""What a helper's parameter may be without an annotation of its own: a finite number, never True for 1."""


class _Known(dict[str, Any]):
    """Names of a module; one that only type checkers load is any object."""

    def __missing__(self, name: str) -> Any:
        return getattr(builtins, name, object)


def helper(function: Callable[P, R]) -> Callable[P, R]:
    """Hold the numbers of a function beside a family to their kinds, as `family` does; BadValue names what is wrong."""
    signature = inspect.signature(function)

    @functools.cache
    def kinds() -> dict[str, Any]:
        hints = typing.get_type_hints(function, localns=_Known(function.__globals__), include_extras=True)
        plain = {name: _PLAIN[hint] for name, hint in hints.items() if name != "return" and hint in _PLAIN}
        return plain | {n: k for n, hint in hints.items() if n != "return" and (k := kind_of(hint)) is not None}

    @functools.wraps(function)
    def held(*args: P.args, **kwargs: P.kwargs) -> R:
        given = signature.bind(*args, **kwargs)
        for name, kind in kinds().items():
            if name in given.arguments:
                field, value = f"{function.__name__} {name}", given.arguments[name]
                try:
                    given.arguments[name] = kind.read(value, field)
                except UnknownName:
                    raise
                except BadValue:
                    raise BadValue(field, value, kind.valid) from None
        return function(*given.args, **given.kwargs)

    return held


def family(function: Callable[P, R]) -> Callable[P, R]:
    """Make a function that returns a part or an assembly a family.

    Its parameters are held to the kinds in their annotations (`Annotated[float, Range(...)]`, `Literal`, `OfSheet`),
    and numbers may carry units as text. A value outside raises BadValue with the nearest valid value. So does a set of
    values that does not go together: if the error does not name a parameter, or its suggestion does not work, a
    feasible value is searched. The thing that is returned carries its `provenance`, so that checks can search the same
    way.
    """
    signature = inspect.signature(function)
    rest = next((p.name for p in signature.parameters.values() if p.kind is p.VAR_KEYWORD), "")

    @functools.wraps(function)
    def held(*args: P.args, **kwargs: P.kwargs) -> R:
        given = signature.bind(*args, **kwargs)
        for key, kind in kinds_of(function).items():
            if key in given.arguments:
                given.arguments[key] = kind.read(given.arguments[key], f"{function.__name__} {key}")
        for key, cls in _things(function).items():
            if key in given.arguments:
                of_kind(given.arguments[key], cls, f"{function.__name__} {key}", f"a {cls.__name__}")
        if is_nested():
            return function(*given.args, **given.kwargs)
        values = {**given.arguments, **given.arguments.get(rest, {})}
        values.pop(rest, None)
        call = Provenance(module=function.__module__, name=function.__qualname__, values=values)
        try:
            with nested():
                thing = function(*given.args, **given.kwargs)
        except UnknownName:
            raise
        except BadValue as wrong:
            raise _helpful(wrong, call) from None
        return _with_provenance(thing, call)

    FAMILIES[function.__module__, function.__qualname__] = held
    return documented(held)


@functools.cache
def _things(function: Callable[..., Any]) -> dict[str, type]:
    """Return the parameters that take another thing of the kit, without which a family gives nothing."""
    hints = typing.get_type_hints(function)
    return {n: t for n, t in hints.items() if n != "return" and isinstance(t, type) and t.__module__ in _OWN}


def _with_provenance(thing: R, call: Provenance) -> R:
    if isinstance(thing, Part | Assembly):
        return cast(R, thing._changed(provenance=call))
    if isinstance(thing, tuple) and all(type(t) is Part for t in thing):
        return cast(R, tuple(t._changed(provenance=replace(call, pick=i)) for i, t in enumerate(thing)))
    return thing


def _helpful(wrong: BadValue, call: Provenance) -> BadValue:
    """Return an error that names a parameter of the family with a value that was tried and works."""
    wrong = _own(wrong, call)
    of, _, name = wrong.field.partition(" ")
    if isinstance(wrong.value, str | Sheet) or _leads_on(wrong, call):
        return wrong
    if of == call.name and isinstance(wrong, Beyond) and name not in {k.name for k in call.adjustables}:
        return wrong  # of a pattern or another thing that was handed in

    def works(changes: Mapping[Path, Any]) -> bool:
        return _refusal(call, changes) is None

    found = suggest_change(call, works)
    if not found:
        return wrong
    first, better = next(iter(found)), {k.path: v for k, v in found.items()}
    says = " together with ".join(f"{k.name} {k.typed(v)}" for k, v in found.items())
    if len(found) == 1 and first.range is not None:
        says = f"nearest {first.typed(found[first])}"
    why = wrong.valid.partition("; nearest")[0]
    return Beyond(f"{first.family} {first.name}", first.value, f"{says}; as asked for, {wrong.field} is {why}", better)


def _own(wrong: BadValue, call: Provenance) -> BadValue:
    """Return an error of a family inside this one under this one's name, where the parameter was only handed on."""
    inner, _, name = wrong.field.partition(" ")
    own = next((k for k in call.adjustables if k.path == (name,)), None)
    if own is None or not isinstance(wrong, Beyond) or inner == own.family or wrong.value != own.value:
        return wrong
    return Beyond(f"{own.family} {name}", wrong.value, wrong.valid, wrong.better)


def _leads_on(wrong: BadValue, call: Provenance) -> bool:
    """Whether applying the suggested values in turn leads to something valid."""
    own, changes = {f"{k.family} {k.name}": k for k in call.adjustables if k.range is not None}, dict[Path, Any]()
    last: BadValue | None = wrong
    for _ in range(8):
        if last is None:
            return True
        mine = own.get(last.field)
        value = last.better.get(mine.path) if mine is not None and isinstance(last, Beyond) else None
        if mine is None or mine.range is None or value is None or not mine.range.low <= value <= mine.range.high:
            return False
        changes[mine.path] = int(value) if mine.whole else value
        last = _refusal(call, changes)
        last = last and _own(last, replace(call, values={**call.values, **{p[0]: v for p, v in changes.items()}}))
    return False


def _refusal(call: Provenance, changes: Mapping[Path, Any]) -> BadValue | None:
    with nested():
        try:
            call.repeat(changes)
        except BadValue as wrong:
            return wrong
    return None


def require_between(
    field: str, value: float, low: float | None, high: float | None, why: str, unit: str = "mm"
) -> None:
    """Raise BadValue, with the nearest valid value, for a value outside limits that depend on other parameters.

    Parameters
    ----------
    field : str
        Family and parameter, "tunnel lid_width".
    value : float
        As given.
    low, high : float or None
        Limits; None for none.
    why : str
        Which other parameters decide.
    unit : str
        Unit of all three.

    Raises
    ------
    BadValue
        Outside. The limits in the message are rounded inward to hundredths, so that they can be typed.
    """
    finite(**{field: value})
    least = None if low is None else math.ceil(low * 100 - 1e-6) / 100
    most = None if high is None else math.floor(high * 100 + 1e-6) / 100
    if least is not None and most is not None and least > most:
        clash = f"no value at least {least:.10g} and at most {most:.10g} {unit}".rstrip()
        raise BadValue(field, value, f"{clash} ({why}); change what limits it")
    if low is not None and value < low - 1e-9:
        nearest = least
    elif high is not None and value > high + 1e-9:
        nearest = most
    else:
        return
    if least is None or most is None:
        span = f"at most {most:.10g}" if least is None else f"at least {least:.10g}"
    else:
        span = f"{least:.10g} to {most:.10g}"
    assert nearest is not None
    valid = f"{span} {unit}".rstrip() + f", {why}"
    raise beyond(field, value, valid, nearest)


def nearest_feasible(field: str, value: float, works: Callable[[float], R], safe: float) -> R:
    """Return works(value); if it fails, raise BadValue with the nearest value that works, found by bisection.

    Parameters
    ----------
    field : str
        Family and parameter.
    value : float
        What was given, mm.
    works : callable
        Raises BadValue for what cannot be.
    safe : float
        A value that is tried if this one fails, mm.

    Returns
    -------
    object
        What `works` returns.

    Raises
    ------
    BadValue
        With the nearest value that works to a hundredth, or with the reason why the safe one does not either.
    """
    try:
        return works(value)
    except BadValue as wrong:
        why = wrong.valid
    good, bad = safe, value
    try:
        works(safe)
    except BadValue as wrong:
        raise BadValue(field, value, f"no value from {safe:g} mm here ({wrong.valid}); change what limits it") from None
    while abs(bad - good) > 0.005:
        middle = (good + bad) / 2
        try:
            works(middle)
            good = middle
        except BadValue:
            bad = middle
    nearest = math.floor(good * 100) / 100 if good > safe else math.ceil(good * 100) / 100
    word = "at most" if value > good else "at least"
    raise beyond(field, value, f"{word} {nearest:.10g} mm, {why}", nearest)


def zero_or_at_least(field: str, value: float, least: float) -> None:
    """Raise BadValue for a length in mm that is neither 0 (none) nor at least `least`."""
    if value:
        require_between(field, value, least, None, "or 0 for none")


def thickness_of(field: str, sheet: Sheet | str) -> float:
    """Return the thickness that a family is set out for, mm.

    Parameters
    ----------
    field : str
        Family and parameter, "tunnel sheet".
    sheet : Sheet or str
        The shop's own sheet has its thickness, measured where the shop measured it. A bare name is looked up among the
        kit's own sheets; it is never read as a number.

    Raises
    ------
    BadValue
        A name that is none of the kit's.
    """
    return _sheet(field, sheet).thickness


def plate_of(field: str, sheet: Sheet | str, grade: str, thickness: float) -> tuple[Sheet, float]:
    """Return the plate that a family is set out for, and its largest real thickness, mm.

    Parameters
    ----------
    field : str
        Family and parameter, "gusset sheet".
    sheet : Sheet or str
        Of the shop; "" for the kit's plate of `grade` and `thickness` (mm).
    grade, thickness
        As the family's parameters.

    Returns
    -------
    Sheet
    float
        The measured thickness, else the nominal one with the tolerance of its standard.
    """
    plate = _sheet(field, f"{grade} {thickness:.1f}" if sheet == "" else sheet)
    if plate.measured is not None:
        return plate, plate.measured
    return plate, largest_thickness(plate.nominal, plate.material.yield_min)


def _sheet(field: str, sheet: Sheet | str) -> Sheet:
    """Return a sheet, a bare name looked up among the kit's own."""
    if isinstance(sheet, Sheet):
        return sheet
    found = next((s for s in Shop.demo().sheets if s.key == sheet), None)
    if found is not None:
        return found
    raise BadValue(
        field,
        sheet,
        "the shop's own sheet, shop.sheet_by_key(name), whose thickness is needed here; or one of the kit's sheets by"
        " name, as 'DC01 1.5'",
    )
