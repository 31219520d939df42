"""Guards of the formulas: nonsense is a BadValue, outside the published range is OutOfRange."""

from __future__ import annotations

import math

from tinbook.errors import BadValue, OutOfRange


def _finite(value: float) -> bool:
    """Whether a value is a finite number; True, text, lists and None are none."""
    try:
        return not isinstance(value, bool) and math.isfinite(value)
    except TypeError:
        return False


def above_zero(unit: str = "", **values: float) -> None:
    """Refuse values that are not finite and greater than 0.

    Parameters
    ----------
    unit : str, optional
        Unit for the message.
    **values : float
        Each value under its field's name.

    Raises
    ------
    BadValue
        For the first value that is not.
    """
    for field, value in values.items():
        if not (_finite(value) and value > 0):
            raise BadValue(_words(field), value, f"a finite number greater than 0 {unit}".rstrip())


def not_negative(unit: str = "", **values: float) -> None:
    """Refuse values that are not finite and at least 0; see `above_zero`."""
    for field, value in values.items():
        if not (_finite(value) and value >= 0):
            raise BadValue(_words(field), value, f"a finite number of at least 0 {unit}".rstrip())


def finite(**values: float) -> None:
    """Refuse values that are not finite; see `above_zero`."""
    for field, value in values.items():
        if not _finite(value):
            raise BadValue(_words(field), value, "a finite number")


def in_range(field: str, value: float, low: float, high: float, source: str, unit: str = "") -> None:
    """Refuse a value outside the range for which a source states its formula.

    Parameters
    ----------
    field : str
        What is held against the range.
    value, low, high : float
        The value and the inclusive range; either end may be infinite.
    source : str
        Document and clause, for the message.
    unit : str, optional
        Unit of all three.

    Raises
    ------
    OutOfRange
        Outside, or not a number.
    """
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        finite(**{field: value})
    # A hair of slack, so that a ratio that is equal on paper is not refused for its last bit.
    slack = 1e-9 * max(1.0, abs(value))
    if not low - slack <= value <= high + slack:
        if math.isinf(high):
            span = f"at least {low:g}"
        elif math.isinf(low):
            span = f"at most {high:g}"
        else:
            span = f"{low:g} to {high:g}"
        raise OutOfRange(field, value, f"{span} {unit}".rstrip() + f" ({source})")


def poisson_ratio(value: float) -> None:
    """Refuse a Poisson ratio outside 0 to 0.5."""
    if not (_finite(value) and 0 <= value < 0.5):
        raise BadValue("poisson", value, "0 up to below 0.5 (steel 0.3, aluminium 0.33)")


def _words(field: str) -> str:
    return field.replace("_", " ")
