"""Kinds of numbers: with a unit and limits, forces, counts, and the ranges of sliders."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from numbers import Integral, Real
from typing import Any, Final

from tinbook.errors import BadValue
from tinbook.units import length, number
from tinbook.values import dataclass

Path = tuple[str, ...]
"""A parameter's name; before it the names of parameters that hold the thing whose parameter it is."""


@dataclass(frozen=True, slots=True)
class Number:
    """A finite number in `unit`, inside the limits; lengths in mm end at a kilometre.

    Parameters
    ----------
    unit : str
        Of the words in `units.UNITS`; "" for a bare number.
    above, least, most : float or None
        value > above, value >= least, value <= most.
    whole : bool
        Whether it must be a whole number.
    """

    unit: str = ""
    above: float | None = None
    least: float | None = None
    most: float | None = None
    whole: bool = False

    def read(self, value: Any, field: str) -> float:
        """Return the number."""
        result = length(value, field) if self.unit == "mm" else number(value, self.unit, field)
        if (
            (self.above is not None and not result > self.above)
            or (self.least is not None and not result >= self.least)
            or (self.most is not None and not result <= self.most)
            or (self.whole and result != int(result))
        ):
            raise BadValue(field, value, self.valid)
        return int(result) if self.whole else result

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
    """A machine's force in N; text may give it in tonnes, or in tons if it names which ton."""

    unit: str = "N"

    def read(self, value: Any, field: str) -> float:
        """Return the force in N."""
        if isinstance(value, str) and (found := _TON.fullmatch(value)):
            count, word = found.groups()
            if word in ("ton", "tons"):
                raise BadValue(field, value, self._which(count))
            try:
                return Number.read(self, number(count, "", field) * _TONS[word], field)
            except BadValue as wrong:
                raise BadValue(field, value, wrong.valid) from None
        return Number.read(self, value, field)

    def _which(self, count: str) -> str:
        which = (
            f"which ton? '{count} t' (metric), '{count} short ton' (US, 2000 lb) or '{count} long ton' (UK, 2240 lb)"
        )
        try:
            n = number(count, "", "")
        except BadValue:
            return which
        kn = [f"{n * _TONS[w] / 1000:.4g} kN" for w in ("t", "short ton", "long ton")]
        return f"{which}: {', '.join(kn)}"


@dataclass(frozen=True, slots=True)
class Count:
    """A whole number that is given as one, never as text or 3.0.

    Parameters
    ----------
    least, most : int
        Both included.
    """

    least: int
    most: int

    @property
    def valid(self) -> str:
        """What would be valid, in words."""
        return f"a whole number from {self.least} to {self.most}"

    def read(self, value: Any, field: str) -> int:
        """Return the count."""
        whole = isinstance(value, Integral) and not isinstance(value, bool)
        if not whole or not self.least <= int(value) <= self.most:
            raise BadValue(field, value, self.valid)
        return int(value)


class Beyond(BadValue):
    """A parameter beyond what is valid; `better` holds the nearest valid value, by parameter."""

    def __init__(self, field: str, value: object, valid: str, better: Mapping[Path, Any]) -> None:
        self.better = dict(better)
        super().__init__(field, value, valid)

    def __reduce__(self) -> tuple[type[Beyond], tuple[str, object, str, dict[Path, Any]]]:  # type: ignore[override]
        return type(self), (self.field, self.value, self.valid, self.better)


def beyond(field: str, value: object, valid: str, nearest: float) -> Beyond:
    """Return the refusal of a parameter, the last word of `field`, that names the nearest valid value."""
    return Beyond(field, value, f"{valid}; nearest {nearest:.10g}", {(field.rpartition(" ")[2],): nearest})


@dataclass(frozen=True, slots=True)
class Range:
    """Range of a design function's parameter: its limits, its slider and the unit of both.

    Parameters
    ----------
    low, high : float
        Smallest and largest value, low < high.
    step : float, optional
        Step of the slider, 1 if not given; greater than 0.
    unit : str, optional
        Unit of all three, "" for a bare number.
    whole : bool
        Whether only whole numbers count; ``Annotated[int, ...]`` sets it.
    """

    low: float
    high: float
    step: float = 1
    unit: str = ""
    whole: bool = False

    def __post_init__(self) -> None:
        given = (self.low, self.high, self.step)
        if not all(isinstance(v, Real) and not isinstance(v, bool) and math.isfinite(v) for v in given):
            raise BadValue("Range", given, "finite numbers low, high, step; the unit stands once, behind them")
        if not self.low < self.high:
            raise BadValue("Range", (self.low, self.high), "low smaller than high")
        if not self.step > 0:
            raise BadValue("Range step", self.step, "greater than 0")

    @property
    def valid(self) -> str:
        """What would be valid, in words."""
        return f"{'a whole number, ' if self.whole else ''}{self.low:g} to {self.high:g} {self.unit}".rstrip()

    def nearest(self, value: float) -> float:
        """Return the nearest value inside, a whole number where one is wanted."""
        inside = min(max(value, self.low), self.high)
        return round(inside) if self.whole else inside

    def read(self, value: Any, field: str) -> float:
        """Return the number in `unit`; raise Beyond, with the nearest that is valid, outside the range."""
        result = number(value, self.unit, field)
        best = self.nearest(result)
        if best != result:
            raise beyond(field, value, self.valid, best)
        return best
