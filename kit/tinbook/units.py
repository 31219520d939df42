"""Units at the door: strings and quantities in, floats in mm, degrees, N, MPa, kg, s inside."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence
from fractions import Fraction
from functools import lru_cache
from typing import Annotated, Any, Final, Protocol, TypeAlias

from tinbook.errors import BadValue


class Quantity(Protocol):
    """A number with a unit as pint gives it, of any registry."""

    @property
    def magnitude(self) -> Any:
        """The number."""

    @property
    def units(self) -> Any:
        """Its unit."""


Length: TypeAlias = Annotated[float | str | Quantity, "mm"]
"""What a door takes for a length: a number in mm, text with a unit, or a quantity."""
Angle: TypeAlias = Annotated[float | str | Quantity, "deg"]
"""What a door takes for an angle: a number in degrees, text with a unit, or a quantity."""
Place: TypeAlias = Sequence[Length]
"""What a door takes for a point: a pair (x, y) of lengths."""

FARTHEST: Final = 1e6
"""mm: a length beyond this is taken for a slip; `tolerances.SAME_POINT` holds only well inside it."""

# Text with a unit is a closed grammar: one number, decimal or a fraction of whole numbers, and words from a table with
# small whole powers. Nothing of it is ever evaluated, so text from a stranger's file can neither hang nor run.
_LONGEST: Final = 60
_GAUGE: Final = re.compile(r"[0-9./ ]*(ga|gauge|swg|awg|g)\.? ?[0-9]*", re.IGNORECASE)
_MIXED: Final = re.compile(r"([+-]?)(?:([0-9]+)(?: +|-))?([0-9]+) ?/ ?([0-9]+)")
_DECIMAL: Final = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?(?![0-9])")
_FACTOR: Final = re.compile(r"([A-Za-zµμ]+|[%°\"'″′])(?:(?:\^|\*\*)(-?[1-4])|([²³]))?")
_BETWEEN: Final = re.compile(r" ?((?<!\*)\*(?!\*)|[·/ ]) ?")

Size: TypeAlias = tuple[Fraction, tuple[int, int, int, int]]
"""How many mm, kg, s, degrees a unit is, and their powers."""


def figures(value: float, count: int = 3) -> str:
    """Return a number with so many figures and without a power of ten, as a workshop reads it: 1320, not 1.32e+03."""
    return f"{float(f'{value:.{count}g}'):.15g}"


def number(value: Any, unit: str, field: str) -> float:
    """Turn a number, text with a unit or a pint quantity into a float in `unit`.

    Parameters
    ----------
    value : float, str or quantity
        A bare number is taken in `unit` already.
    unit : str
        Unit of the result, of the words in `UNITS`.
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
    if (type(value) is float and math.isfinite(value)) or (type(value) is int and abs(value) < 1e15):
        return float(value)  # most are, and a slider asks for dozens at every move
    valid = f"a number in {unit or 'no unit'}, or text with a unit such as '{_example(unit)}'"
    if value is None or isinstance(value, bool | bytes | bytearray):
        raise BadValue(field, value, valid)
    if isinstance(value, str):
        result = _from_text(value, unit, field, valid)
    elif hasattr(value, "magnitude") and hasattr(value, "units"):
        result = _of_quantity(value, unit, field, valid)
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


def is_sequence(value: Any) -> bool:
    """Whether something is a sequence of values, not a text; a tuple, as nearly all are, is known at once."""
    return type(value) is tuple or (not isinstance(value, str) and isinstance(value, Sequence))


def point(value: Any, field: str) -> tuple[float, float]:
    """Return a pair of lengths in mm."""
    if not is_sequence(value) or len(value) != 2:
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
    if len(text) > _LONGEST:
        raise BadValue(field, text, f"{valid}, in at most {_LONGEST} characters")
    told = " ".join(text.split())
    if unit == "mm" and _GAUGE.fullmatch(told):
        raise BadValue(field, text, "a thickness in mm or in; gauge numbers differ by system and by metal")
    magnitude, rest = _magnitude(told)
    if magnitude is None or "," in told:
        raise BadValue(field, text, f"{valid}, with a decimal point, not a comma" if "," in told else valid)
    if rest:
        try:
            given, wanted = size_of(rest), size_of(unit)
        except ValueError as wrong:
            raise BadValue(field, text, f"{valid}; {wrong}") from None
        if given[1] != wanted[1]:
            raise BadValue(field, text, f"{valid}; {rest!r} is no unit of that kind")
        magnitude *= given[0] / wanted[0]
    try:
        return float(magnitude)
    except OverflowError:
        return math.inf  # refused by the caller


def _magnitude(text: str) -> tuple[Fraction | None, str]:
    """Return the number that text begins with, None without one, and what follows it."""
    if mixed := _MIXED.match(text):
        sign, whole, over, under = mixed.groups()
        if not int(under):
            return None, text
        size = int(whole or 0) + Fraction(int(over), int(under))
        return -size if sign == "-" else size, text[mixed.end() :].strip()
    if plain := _DECIMAL.match(text):
        return Fraction(plain.group()), text[plain.end() :].strip()
    return None, text


@lru_cache(maxsize=256)
def size_of(words: str) -> Size:
    """Return the size of a unit: words of `UNITS` with powers up to 4, "*", "·" or a space between, "/" before the last.

    Parameters
    ----------
    words : str
        "mm", "N/mm^2", "kg/m³", "N*m"; "" for none.

    Raises
    ------
    ValueError
        Anything else; the message says what is wrong and what is known.
    """
    factor, powers = Fraction(1), (0, 0, 0, 0)
    pieces = _BETWEEN.split(words) if words else []
    for link, piece in zip(("", *pieces[1::2]), pieces[::2], strict=False):
        found = _FACTOR.fullmatch(piece)
        if found is None or "/" in pieces[1:-2]:
            raise ValueError(
                f"{words!r} is no unit; words with a power of 1 to 4, * between them and / before the last"
            )
        word, power, mark = found.groups()
        count = int(power or {"²": 2, "³": 3}.get(mark, 1)) * (-1 if link == "/" else 1)
        size, own = _known(word)
        factor *= size**count
        a, b, c, d = (p + count * q for p, q in zip(powers, own, strict=True))
        powers = a, b, c, d
    return factor, powers


def _known(word: str) -> Size:
    if word in UNITS:
        return UNITS[word]
    if word.lower() in ("ton", "tons"):
        raise ValueError("a ton is 1000 kg, 907 kg or 1016 kg: write t, or the kg")
    raise ValueError(f"{word!r} is no unit known here; known are {', '.join(SHORT)}")


_MM, _KG, _S, _DEG = ((1, 0, 0, 0), (0, 1, 0, 0), (0, 0, 1, 0), (0, 0, 0, 1))
_NEWTON, _PASCAL = (1, 1, -2, 0), (-1, 1, -2, 0)
_POUND, _INCH, _G0 = Fraction("0.45359237"), Fraction("25.4"), Fraction("9806.65")

UNITS: Final[dict[str, Size]] = {
    word: (Fraction(size), powers)
    for words, size, powers in (
        ("mm millimeter millimeters millimetre millimetres", 1, _MM),
        ("cm centimeter centimeters centimetre centimetres", 10, _MM),
        ("dm", 100, _MM),
        ("m meter meters metre metres", 1000, _MM),
        ("km", 10**6, _MM),
        ("um µm μm micrometer micrometre micron", "0.001", _MM),
        ('in inch inches " ″', _INCH, _MM),
        ("ft foot feet ' ′", 12 * _INCH, _MM),
        ("yd yard yards", 36 * _INCH, _MM),
        ("thou", _INCH / 1000, _MM),
        ("deg degree degrees °", 1, _DEG),
        ("rad radian radians", math.degrees(1), _DEG),
        ("turn turns", 360, _DEG),
        ("kg kilogram kilograms", 1, _KG),
        ("g gram grams", "0.001", _KG),
        ("t tonne tonnes", 1000, _KG),
        ("lb lbs pound pounds", _POUND, _KG),
        ("oz", _POUND / 16, _KG),
        ("s second seconds", 1, _S),
        ("min minute minutes", 60, _S),
        ("h hour hours", 3600, _S),
        ("N newton newtons", 1000, _NEWTON),
        ("kN kilonewton", 10**6, _NEWTON),
        ("MN", 10**9, _NEWTON),
        ("kgf kp", _G0, _NEWTON),
        ("lbf", _POUND * _G0, _NEWTON),
        ("kip", 1000 * _POUND * _G0, _NEWTON),
        ("Pa pascal", "0.001", _PASCAL),
        ("kPa", 1, _PASCAL),
        ("MPa", 1000, _PASCAL),
        ("GPa", 10**6, _PASCAL),
        ("bar", 100, _PASCAL),
        ("psi", _POUND * _G0 / _INCH**2, _PASCAL),
        ("ksi", 1000 * _POUND * _G0 / _INCH**2, _PASCAL),
        ("%", "0.01", (0, 0, 0, 0)),
    )
    for word in words.split()
}
"""Every unit word that text may hold, in mm, kg, s and degrees: NIST SP 811, appendix B (from memory, held against pint)."""

SHORT: Final = (
    *("mm", "cm", "m", "um", "in", "ft", "thou", "deg", "rad", "kg", "g", "t", "lb", "s", "min", "h"),
    *("N", "kN", "kgf", "lbf", "Pa", "kPa", "MPa", "GPa", "bar", "psi", "ksi", "%"),
)
"""The usual ones, for messages."""


def _of_quantity(value: Any, unit: str, field: str, valid: str) -> float:
    try:
        return float(value.to(unit or "dimensionless").magnitude)  # in the quantity's own registry
    except Exception:  # noqa: BLE001 -- somebody else's value raises what it likes
        raise BadValue(field, value, valid) from None
