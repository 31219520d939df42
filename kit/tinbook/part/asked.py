"""What a thing was asked for by: a family and its values, and which of them to turn, and how far, when it cannot be made."""

from __future__ import annotations

import functools
import inspect
import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, replace
from typing import Any, Final

from tinbook.fields import Choice, Path, Range, kinds_of

Works = Callable[[Mapping[Path, Any]], bool]

SHARES: Final = (1 / 64, 1 / 16, 1 / 4, 1.0)
"""Of a parameter's range: how far the search looks, near values first."""
NEAR: Final = 3
"""So many of the shares come before words and choices are changed."""


class SheetKey(str):
    """A sheet's key that knows the thickness of the sheet it was taken from, mm; equal to the plain text.

    Parameters
    ----------
    key : str
        Name in the shop.
    thickness : float
        Measured if the shop gives one, else nominal, mm.
    """

    __slots__ = ("thickness",)
    thickness: float

    def __new__(cls, key: str, thickness: float = math.nan) -> SheetKey:
        """Return the key with its thickness."""
        made = super().__new__(cls, key)
        made.thickness = thickness
        return made


_INSIDE: ContextVar[bool] = ContextVar("inside", default=False)


@contextmanager
def inside() -> Iterator[None]:
    """Run a family as a part of another, or for a try: it remembers nothing, and its refusals go up as they are."""
    before = _INSIDE.set(True)
    try:
        yield
    finally:
        _INSIDE.reset(before)


def is_inside() -> bool:
    """Whether a family runs as a part of another, or for a try."""
    return _INSIDE.get()


@dataclass(frozen=True, slots=True, kw_only=True)
class Knob:
    """One parameter that can be turned.

    Parameters
    ----------
    path : tuple of str
        Its name; before it the names of parameters that hold the thing whose parameter it is.
    family : str
        Whose parameter.
    value, default : object
        As it was asked for, and as the family has it; None without a default.
    range : Range or None
        Of a number.
    choices : tuple
        Of a word.
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
        """Return a value of this parameter's kind, rounded toward one that is good."""
        assert self.range is not None
        kept = min(max(value, self.range.low), self.range.high)
        if self.whole:
            return round(kept)
        up = math.ceil(kept * 100 - 1e-6) / 100 if good >= value else math.floor(kept * 100 + 1e-6) / 100
        return min(max(up, self.range.low), self.range.high)

    def says(self, value: Any) -> str:
        """Return a value as it would be typed, with its unit."""
        if self.range is None:
            return repr(value)
        return f"{value:.10g} {self.range.unit}".rstrip()


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """The family that a thing came from.

    Parameters
    ----------
    family : callable
        Called again with other values.
    values : dict
        By parameter, those that were given.
    pick : int or None
        Which of several things that it returns.
    """

    family: Callable[..., Any]
    values: Mapping[str, Any]
    pick: int | None = None

    def __reduce__(self) -> tuple[Callable[[], None], tuple[()]]:
        """Leave it behind: a family written in a notebook does not exist in another process."""
        return _forgotten, ()

    @property
    def knobs(self) -> tuple[Knob, ...]:
        """Every parameter that states a range, choices or a sheet, those of things that were handed in last."""
        found, handed = [], []
        name = self.family.__name__
        for key, (limits, choices, default) in _parameters(self.family).items():
            value = self.values.get(key, default)
            if limits is not None and not isinstance(value, int | float):
                continue
            found.append(Knob(path=(key,), family=name, value=value, default=default, range=limits, choices=choices))
        for key, value in self.values.items():
            inner = getattr(value, "asked", None)
            if isinstance(inner, Asked):
                handed += [replace(k, path=(key, *k.path)) for k in inner.knobs]
        return (*found, *handed)

    def again(self, changes: Mapping[Path, Any]) -> Any:
        """Return what the family gives with some values changed; raises what it raises."""
        values = dict(self.values)
        deeper: dict[str, dict[Path, Any]] = {}
        for path, value in changes.items():
            if len(path) == 1:
                values[path[0]] = value
            else:
                deeper.setdefault(path[0], {})[path[1:]] = value
        for key, inner in deeper.items():
            values[key] = values[key].asked.again(inner)
        thing = self.family(**values)
        return thing if self.pick is None else thing[self.pick]


def nearest(
    asked: Asked,
    works: Works,
    words: Mapping[str, Sequence[Any]] | None = None,
    said: str = "",
    *,
    coarse: bool = False,
) -> dict[Knob, Any]:
    """Return the smallest change of one parameter that was found to work; of several where none helps alone.

    Parameters
    ----------
    asked : Asked
        The family, and values that do not work.
    works : callable
        Whether a thing asked for with these changes is good.
    words : dict, optional
        What else parameters that hold text may say, the likeliest first: the sheets of a shop.
    said : str
        What was wrong; a choice that it mentions is changed first.
    coarse : bool
        Choices first, then numbers in few large steps: for what takes long to try.

    Returns
    -------
    dict of Knob to value
        Every value was tried, together with the others that are named; empty where nothing was found.
    """
    knobs = asked.knobs
    numbers = [k for k in knobs if k.range is not None]
    failed: dict[tuple[Knob, int], float] = {}
    meant = [k for k in knobs if k.choices and f"{k.value}" in said]
    with inside():
        found = _another_word(meant, works, {})
        if coarse:
            found = found or _another_word(knobs, works, {})
            for share in SHARES[NEAR - 1 :]:
                found = found or _nearest_number(numbers, share, works, failed, coarse=True)
            found = found or _another_word(knobs, works, words or {})
            return found or _together(knobs, works, words or {})
        for share in SHARES[:NEAR]:
            found = found or _nearest_number(numbers, share, works, failed)
        found = found or _another_word(knobs, works, words or {})
        for share in SHARES[NEAR:]:
            found = found or _nearest_number(numbers, share, works, failed)
        return found or _together(knobs, works, words or {})


def _another_word(knobs: Sequence[Knob], works: Works, words: Mapping[str, Sequence[Any]]) -> dict[Knob, Any]:
    """Return the first other choice or word that works alone."""
    tries = ((k, word) for k in knobs for word in (*k.others, *words.get(k.name, ())) if word != k.value)
    return next(({k: word} for k, word in tries if works({k.path: word})), {})


def _nearest_number(
    knobs: Sequence[Knob], share: float, works: Works, failed: dict[tuple[Knob, int], float], *, coarse: bool = False
) -> dict[Knob, Any]:
    """Return the parameter that works with the smallest share of its range changed, at most `share`."""
    best: tuple[Knob, float] | None = None
    least = math.inf
    for k in knobs:
        assert k.range is not None
        span = k.range.high - k.range.low
        for sign in (-1, 1):
            bad = failed.get((k, sign), float(k.value))
            far = max(share * span, 1.0) if k.whole else share * span
            good = k.near(k.value + sign * far, k.value + sign * far)
            if good == bad or not works({k.path: good}):
                failed[k, sign] = good
                continue
            if best is not None:
                # Another parameter helps already: this one must do so with less.
                closer = k.near(k.value + sign * 0.95 * least * span, good)
                if (closer - bad) * sign <= 0 or (good - closer) * sign <= 0 or not works({k.path: closer}):
                    continue
                good = closer
            value = _halved(k, bad, good, works, span / 40 if coarse else 0.0)
            least, best = abs(value - k.value) / span, (k, value)
    return {} if best is None else dict([best])


def _halved(k: Knob, bad: float, good: float, works: Works, fine: float = 0.0) -> float:
    """Return the value nearest to a bad one that works, between it and a good one, to `fine` or finer than its step."""
    assert k.range is not None
    fine = 1.0 if k.whole else max(0.011, k.range.step / 20, fine)
    while abs(good - bad) > fine:
        middle = k.near((good + bad) / 2, good)
        if middle in (good, bad):
            break
        if works({k.path: middle}):
            good = middle
        else:
            bad = middle
    return good


def _together(knobs: Sequence[Knob], works: Works, words: Mapping[str, Sequence[Any]]) -> dict[Knob, Any]:
    """Return the fewest parameters that help together: as the family has them, or as few pieces as can be.

    With another sheet, where none of these helps.
    """
    usual = {k: k.default for k in knobs if k.default is not None and k.default != k.value}
    fewest = {k: int(k.range.low) for k in knobs if k.range is not None and k.whole and k.value > k.range.low}
    sheets = [{}, *({k: word} for k in knobs for word in words.get(k.name, ()))]
    sets = ({**base, **sheet} for sheet in sheets for base in (usual, fewest, {**usual, **fewest}))
    found = next((s for s in sets if s and works({k.path: v for k, v in s.items()})), {})
    for k in list(found):
        fewer = {o.path: v for o, v in found.items() if o is not k}
        if fewer and works(fewer):
            del found[k]
    for k in [k for k in found if k.range is not None]:
        found[k] = _halved(k, float(k.value), found[k], _with(works, {o.path: v for o, v in found.items()}))
    return found


def _with(works: Works, others: Mapping[Path, Any]) -> Works:
    """Return whether changes work together with others."""
    return lambda changes: works({**others, **changes})


@functools.cache
def _parameters(family: Callable[..., Any]) -> dict[str, tuple[Range | None, tuple[Any, ...], Any]]:
    """Return range, choices and default of each parameter that can be turned."""
    given = inspect.signature(family).parameters
    found: dict[str, tuple[Range | None, tuple[Any, ...], Any]] = {}
    for name, kind in kinds_of(family).items():
        default = None if given[name].default is inspect.Parameter.empty else given[name].default
        if isinstance(kind, Range | Choice) or name in ("sheet", "strap", "tool"):
            limits = kind if isinstance(kind, Range) else None
            found[name] = limits, kind.choices if isinstance(kind, Choice) else (), default
    return found


def _forgotten() -> None:
    return None
