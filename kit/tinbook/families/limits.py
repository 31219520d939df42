"""Limits of a family's parameters: what is refused, with the parameter's name and the nearest valid value."""

from __future__ import annotations

import math
from collections.abc import Sequence

from tinbook.errors import BadValue, UnknownName


def within(family: str, name: str, value: float, low: float, high: float, why: str = "", unit: str = "mm") -> float:
    """Return a value that lies in its range.

    Parameters
    ----------
    family, name : str
        Function and parameter, for the message.
    value : float
        What was given.
    low, high : float
        Least and largest valid value.
    why : str
        What makes the limit.
    unit : str
        Of all three.

    Returns
    -------
    float

    Raises
    ------
    BadValue
        Outside the range; names the nearest valid value.
    """
    because = f" ({why})" if why else ""
    # Said to a hundredth inside the limits, so that what is named can be typed and is taken.
    least, most = math.ceil(low * 100 - 1e-6) / 100, math.floor(high * 100 + 1e-6) / 100
    span = f"{least:.10g} to {most:.10g} {unit}".rstrip()
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise BadValue(f"{family} {name}", value, f"a number, {span}")
    if least > most:
        raise BadValue(f"{family} {name}", value, f"no value here{because}; change what limits it")
    if not low - 1e-9 <= value <= high + 1e-9:
        raise BadValue(f"{family} {name}", value, f"{span}{because}; nearest {least if value < low else most:.10g}")
    return float(value)


def whole(family: str, name: str, value: int, low: int, high: int, why: str = "") -> int:
    """Return a whole number that lies in its range; see `within`."""
    if isinstance(value, bool) or not isinstance(value, int):
        raise BadValue(f"{family} {name}", value, f"a whole number from {low} to {high}")
    return int(within(family, name, value, low, high, why, ""))


def chosen(family: str, name: str, value: object, known: Sequence[object]) -> None:
    """Refuse what is not among the choices."""
    if value not in known or isinstance(value, bool):
        raise UnknownName(f"{family} {name}", value, [str(k) for k in known])
