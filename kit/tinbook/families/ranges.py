"""What every family does with its parameters: units at the door, ranges held, a nearest valid value in the message."""

from __future__ import annotations

import functools
import inspect
import math
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any, ParamSpec, TypeVar, cast

from tinbook import units
from tinbook.errors import BadValue, UnknownName
from tinbook.fields import Beyond, Choice, Path, Range, beyond, kinds_of
from tinbook.part.asked import Asked, SheetKey, inside, is_inside, nearest
from tinbook.part.assembly import Assembly
from tinbook.part.part import Part
from tinbook.shop.material import Sheet
from tinbook.shop.shop import Shop

P = ParamSpec("P")
R = TypeVar("R")


def ranged(family: Callable[P, R]) -> Callable[P, R]:
    """Hold a family's parameters to the ranges in its annotations, and let what it gives remember them.

    Numbers may carry units as text. A sheet is its name in the shop, or the shop's `Sheet` with its thickness. A value outside its range, or a word that
    is not among a parameter's choices, raises BadValue with the nearest valid value. So does
    what its parameters together cannot be: where the refusal itself does not name one of them and a value that
    helps, these are searched. What it returns knows what it was asked for, so that the checks can do the same.
    """
    signature = inspect.signature(family)
    name = family.__name__
    rest = next((p.name for p in signature.parameters.values() if p.kind is p.VAR_KEYWORD), "")

    @functools.wraps(family)
    def held(*args: P.args, **kwargs: P.kwargs) -> R:
        given = signature.bind(*args, **kwargs)
        for key in ("sheet", "strap"):
            if isinstance(given.arguments.get(key), Sheet):
                one = given.arguments[key]
                given.arguments[key] = SheetKey(one.key, one.thickness)
        for key, kind in kinds_of(family).items():
            if key in given.arguments and isinstance(kind, Range | Choice):
                given.arguments[key] = kind.read(given.arguments[key], f"{name} {key}")
        if is_inside():
            return family(*given.args, **given.kwargs)
        values = {**given.arguments, **given.arguments.get(rest, {})}
        values.pop(rest, None)
        asked = Asked(family=held, values=values)
        try:
            with inside():
                thing = family(*given.args, **given.kwargs)
        except UnknownName:
            raise
        except BadValue as wrong:
            raise _helpful(wrong, asked) from None
        return _remembered(thing, asked)

    return held


def _remembered(thing: R, asked: Asked) -> R:
    """Return what a family gives with what it was asked for."""
    if isinstance(thing, Part | Assembly):
        return cast(R, thing._changed(asked=asked))
    if isinstance(thing, tuple) and all(type(t) is Part for t in thing):
        return cast(R, tuple(t._changed(asked=replace(asked, pick=i)) for i, t in enumerate(thing)))
    return thing


def _helpful(wrong: BadValue, asked: Asked) -> BadValue:
    """Return a refusal that names a parameter of the family with a value that was tried and helps."""
    wrong = _own(wrong, asked)
    family, _, name = wrong.field.partition(" ")
    own = family == asked.family.__name__
    if isinstance(wrong.value, str) or _leads_on(wrong, asked):
        return wrong
    if own and isinstance(wrong, Beyond) and name not in {k.name for k in asked.knobs}:
        return wrong  # of a pattern or another thing that was handed in

    def works(changes: Mapping[Path, Any]) -> bool:
        return _refusal(asked, changes) is None

    found = nearest(asked, works)
    if not found:
        return wrong
    first, better = next(iter(found)), {k.path: v for k, v in found.items()}
    says = " together with ".join(f"{k.name} {k.says(v)}" for k, v in found.items())
    if len(found) == 1 and first.range is not None:
        says = f"nearest {first.says(found[first])}"
    why = wrong.valid.partition("; nearest")[0]
    return Beyond(f"{first.family} {first.name}", first.value, f"{says}; as asked for, {wrong.field} is {why}", better)


def _own(wrong: BadValue, asked: Asked) -> BadValue:
    """Return a refusal of a family inside this one under this one's name, where the parameter was only handed on."""
    inner, _, name = wrong.field.partition(" ")
    knob = next((k for k in asked.knobs if k.path == (name,)), None)
    if knob is None or not isinstance(wrong, Beyond) or inner == knob.family or wrong.value != knob.value:
        return wrong
    return Beyond(f"{knob.family} {name}", wrong.value, wrong.valid, wrong.better)


def _leads_on(wrong: BadValue, asked: Asked) -> bool:
    """Whether the values that refusals name, taken one after the other, end in something that can be had."""
    own, changes = {f"{k.family} {k.name}": k for k in asked.knobs if k.range is not None}, dict[Path, Any]()
    last: BadValue | None = wrong
    for _ in range(8):
        if last is None:
            return True
        knob = own.get(last.field)
        value = last.better.get(knob.path) if knob is not None and isinstance(last, Beyond) else None
        if knob is None or knob.range is None or value is None or not knob.range.low <= value <= knob.range.high:
            return False
        changes[knob.path] = int(value) if knob.whole else value
        last = _refusal(asked, changes)
        last = last and _own(last, replace(asked, values={**asked.values, **{p[0]: v for p, v in changes.items()}}))
    return False


def _refusal(asked: Asked, changes: Mapping[Path, Any]) -> BadValue | None:
    with inside():
        try:
            asked.again(changes)
        except BadValue as wrong:
            return wrong
    return None


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
    assert nearest is not None
    valid = f"{span} {unit}".rstrip() + f", {why}"
    raise beyond(field, value, valid, nearest)


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
    raise beyond(field, value, f"{word} {nearest:.10g} mm, {why}", nearest)


def or_none(field: str, value: float, least: float) -> None:
    """Refuse what is neither 0, for none, nor large enough to be made, mm."""
    if value:
        within(field, value, least, None, "or 0 for none")


def thickness_of(family: str, sheet: str, thickness: float, what: str = "sheet") -> float:
    """Return the thickness given, or that of a sheet, mm.

    A sheet that was given as such (`shop.sheet_by_key(...)`) has its own, measured where the shop measured it. A
    bare name says its thickness only where it reads "material thickness", as the kit's own sheets do ("DC01 1.5").
    """
    if thickness > 0:
        return thickness
    if isinstance(sheet, SheetKey | Sheet) and sheet.thickness > 0:
        return sheet.thickness
    material, _, end = sheet.rpartition(" ")
    try:
        if material not in _materials():
            raise BadValue(f"{family} {what}", sheet, "a material of the kit")
        return units.positive(end, f"{family} thickness")
    except BadValue:
        says = "the shop's sheet itself, shop.sheet_by_key(name), or a name that ends in its thickness in mm, as in 'DC01 1.5'"
        raise BadValue(f"{family} {what}", sheet, says) from None


@functools.cache
def _materials() -> frozenset[str]:
    return frozenset(m.key for m in Shop.demo().materials)
