"""What every family does with its parameters: units at the door, ranges held, a nearest valid value in the message."""

from __future__ import annotations

import functools
import inspect
import math
import typing
from collections.abc import Callable
from typing import Any, ParamSpec, TypeVar

from tinbook import units
from tinbook.errors import BadValue
from tinbook.units import Range

P = ParamSpec("P")
R = TypeVar("R")


def ranged(family: Callable[P, R]) -> Callable[P, R]:
    """Hold a family's parameters to the ranges in its annotations before it runs.

    Numbers may carry units as text. A value outside its range, or a word that
    is not among a parameter's choices, raises BadValue with the nearest valid value.
    """
    signature = inspect.signature(family)
    name = family.__name__

    @functools.wraps(family)
    def held(*args: P.args, **kwargs: P.kwargs) -> R:
        given = signature.bind(*args, **kwargs)
        for key, hint in _hints(family).items():
            if key in given.arguments:
                given.arguments[key] = _held(given.arguments[key], hint, f"{name} {key}")
        return family(*given.args, **given.kwargs)

    return held


def within(field: str, value: float, low: float | None, high: float | None, why: str, unit: str = "mm") -> None:
    """Refuse a value beyond what the other parameters leave it; names the nearest valid one.

    Parameters
    ----------
    field : str
        Family and parameter, "tunnel lid_width".
    value : float
        What was given.
    low, high : float or None
        What the others leave.
    why : str
        Which other parameter decides.
    unit : str
        Of all three.

    Raises
    ------
    BadValue
        Outside; its limits are a hundredth inside, so that what is named can be typed and is taken.
    """
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
    raise BadValue(field, value, f"{span} {unit}".rstrip() + f", {why}; nearest {nearest:.10g}")


def workable(field: str, value: float, works: Callable[[float], R], safe: float) -> R:
    """Return what a value gives; where it gives none, name the nearest that does, found by halving toward a safe one.

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
    raise BadValue(field, value, f"{word} {nearest:.10g} mm, {why}; nearest {nearest:.10g}")


def or_none(field: str, value: float, least: float) -> None:
    """Refuse what is neither 0, for none, nor large enough to be made, mm."""
    if value:
        within(field, value, least, None, "or 0 for none")


def thickness_of(family: str, sheet: str, thickness: float) -> float:
    """Return the thickness given, or the number that ends the sheet's name ("DC01 1.5"), mm."""
    if thickness > 0:
        return thickness
    try:
        return units.positive(sheet.rsplit(maxsplit=1)[-1], f"{family} thickness")
    except (BadValue, IndexError):
        raise BadValue(f"{family} thickness", thickness, f"the thickness of sheet {sheet!r} in mm") from None


@functools.cache
def _hints(family: Callable[..., Any]) -> dict[str, Any]:
    hints = typing.get_type_hints(family, include_extras=True)
    return {k: h for k, h in hints.items() if _range(h) is not None or typing.get_origin(h) is typing.Literal}


def _range(hint: Any) -> Range | None:
    return next((m for m in getattr(hint, "__metadata__", ()) if isinstance(m, Range)), None)


def _held(value: Any, hint: Any, field: str) -> Any:
    limits = _range(hint)
    if limits is None:
        choices = typing.get_args(hint)
        if value not in choices:
            raise BadValue(field, value, "one of: " + ", ".join(map(str, choices)))
        return value
    number = units.number(value, limits.unit, field)
    nearest = min(max(number, limits.low), limits.high)
    says = f"{limits.low:g} to {limits.high:g} {limits.unit}".rstrip()
    if typing.get_args(hint)[0] is int:
        if isinstance(value, bool) or number != int(number) or nearest != number:
            raise BadValue(field, value, f"a whole number, {says}; nearest {round(nearest):g}")
        return int(number)
    if nearest != number:
        raise BadValue(field, value, f"{says}; nearest {nearest:g}")
    return number
