"""Units at the door: strings and quantities in, floats in mm, degrees, N, MPa, kg, s inside."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cache
from numbers import Real
from typing import TYPE_CHECKING, Annotated, Any, Final

from tinbook.errors import BadValue

if TYPE_CHECKING:
    import pint

Length = Annotated[float, "mm"]
Angle = Annotated[float, "deg"]
Force = Annotated[float, "N"]
Stress = Annotated[float, "MPa"]
Mass = Annotated[float, "kg"]

FARTHEST: Final = 1e6
"""mm: a length beyond this is taken for a slip; `tolerances.SAME_POINT` holds only well inside it."""

_GAUGE = re.compile(r"^\s*[\d./ ]*\s*(ga|gauge|swg|awg|g)\s*\.?\s*\d*\s*$", re.IGNORECASE)
_PLAIN = re.compile(r"^\s*[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d+)?\s*(mm|deg)\s*$")


@dataclass(frozen=True, slots=True)
class Range:
    """Range of a design function's parameter, read by sliders and tables.

    Parameters
    ----------
    low, high : float
        Smallest and largest value, low < high.
    step : float, optional
        Step of the slider, 1 if not given; greater than 0.
    unit : str, optional
        Unit of all three, "" for a bare number.
    """

    low: float
    high: float
    step: float = 1
    unit: str = ""

    def __post_init__(self) -> None:
        given = (self.low, self.high, self.step)
        if not all(isinstance(v, Real) and not isinstance(v, bool) and math.isfinite(v) for v in given):
            raise BadValue("Range", given, "finite numbers low, high, step; the unit stands once, behind them")
        if not self.low < self.high:
            raise BadValue("Range", (self.low, self.high), "low smaller than high")
        if not self.step > 0:
            raise BadValue("Range step", self.step, "greater than 0")


@cache
def registry() -> pint.UnitRegistry[float]:
    """Return the kit's own pint registry, made on first use, never the application registry."""
    import pint

    return pint.UnitRegistry(autoconvert_offset_to_baseunit=False, cache_folder=None)


def number(value: Any, unit: str, field: str) -> float:
    """Turn a number, a string with a unit or a pint quantity into a float in `unit`.

    Parameters
    ----------
    value : float, str or quantity
        A bare number is taken in `unit` already.
    unit : str
        Unit of the result, as pint spells it.
    field : str
        Name for the message.

    Returns
    -------
    float

    Raises
    ------
    BadValue
        Not a number, not finite, a unit of another kind, or a gauge number.
    """
    if type(value) is float and math.isfinite(value):
        return value  # most are, and a slider asks for dozens at every move
    valid = f"a number in {unit or 'no unit'}, or text with a unit such as '{_example(unit)}'"
    if value is None or isinstance(value, bool | bytes | bytearray):
        raise BadValue(field, value, valid)
    if isinstance(value, str):
        result = _from_text(value, unit, field, valid)
    elif hasattr(value, "magnitude") and hasattr(value, "units"):
        # By name, so that a quantity of another registry works too.
        result = _convert(value.magnitude, str(value.units), unit, field, value, valid)
    elif hasattr(value, "dtype") and (value.dtype.kind not in "iuf" or value.ndim):
        raise BadValue(field, value, valid)  # numpy's own True, and arrays of one number
    else:
        try:
            result = float(value)
        except (TypeError, ValueError, OverflowError):
            raise BadValue(field, value, valid) from None
    if not math.isfinite(result):
        raise BadValue(field, value, f"a finite number in {unit or 'no unit'}")
    return result


def length(value: Any, field: str) -> float:
    """Return a length in mm, within a kilometre either way; see `number`."""
    if type(value) is float and -FARTHEST <= value <= FARTHEST:
        return value
    result = number(value, "mm", field)
    if abs(result) > FARTHEST:
        raise BadValue(field, value, f"a length within {FARTHEST:.0f} mm")
    return result


def positive(value: Any, field: str) -> float:
    """Return a length in mm that must be greater than 0."""
    result = length(value, field)
    if result <= 0:
        raise BadValue(field, value, "a length greater than 0 mm")
    return result


def angle(value: Any, field: str) -> float:
    """Return an angle in degrees; see `number`."""
    return number(value, "deg", field)


def point(value: Any, field: str) -> tuple[float, float]:
    """Return a pair of lengths in mm."""
    if isinstance(value, str) or not isinstance(value, Sequence) or len(value) != 2:
        raise BadValue(field, value, "a pair of lengths (x, y)")
    return length(value[0], f"{field} x"), length(value[1], f"{field} y")


def points(value: Any, field: str) -> tuple[tuple[float, float], ...]:
    """Return pairs of lengths in mm."""
    if isinstance(value, str) or not isinstance(value, Iterable):
        raise BadValue(field, value, "points (x, y)")
    return tuple(point(p, field) for p in value)


def _example(unit: str) -> str:
    return {"mm": "1.6 mm", "deg": "90 deg"}.get(unit, f"1 {unit}".strip())


def _from_text(text: str, unit: str, field: str, valid: str) -> float:
    if _GAUGE.match(text):
        raise BadValue(field, text, "a thickness in mm or in; gauge numbers differ by system and by metal")
    plain = _PLAIN.match(text)
    if plain and plain.group(4) == unit:
        return float(text.replace(unit, ""))
    if "," in text:
        raise BadValue(field, text, f"{valid}, with a decimal point, not a comma")
    # Only a magnitude and a unit: no expressions from a file reach pint's evaluator.
    match = re.fullmatch(r"\s*([+-]?[\d.]+(?:[eE][+-]?\d+)?)(?:\s*/\s*(\d+))?(?:\s*([^\d\s+\-*][^+*]*))?\s*", text)
    if not match:
        raise BadValue(field, text, valid)
    try:
        magnitude = float(match.group(1)) / float(match.group(2) or 1)
    except (ValueError, ZeroDivisionError):
        raise BadValue(field, text, valid) from None
    if not match.group(3):
        return magnitude
    return _convert(magnitude, match.group(3).strip(), unit, field, text, valid)


def _convert(magnitude: Any, source: str, unit: str, field: str, value: object, valid: str) -> float:
    import pint

    ureg = registry()
    try:
        return float(ureg.Quantity(float(magnitude), source).to(unit).magnitude)
    except (pint.PintError, AttributeError, TypeError, ValueError, AssertionError):
        raise BadValue(field, value, valid) from None
