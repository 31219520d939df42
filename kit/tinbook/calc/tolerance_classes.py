"""General tolerances (ISO 2768-1), those of weldments (ISO 13920) and the classes of thermal cuts (ISO 9013).

Below the smallest nominal size and above the largest the standards give nothing, and so
do these functions.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from tinbook.calc.limits import above_zero, in_range
from tinbook.errors import OutOfRange, UnknownName
from tinbook.values import dataclass

CLASSES: Final = ("f", "m", "c", "v")
"""Fine, medium, coarse, very coarse."""

_LINEAR_UPTO: Final = (3, 6, 30, 120, 400, 1000, 2000, 4000)
_LINEAR: Final[dict[str, tuple[float | None, ...]]] = {
    "f": (0.05, 0.05, 0.1, 0.15, 0.2, 0.3, 0.5, None),
    "m": (0.1, 0.1, 0.2, 0.3, 0.5, 0.8, 1.2, 2.0),
    "c": (0.2, 0.3, 0.5, 0.8, 1.2, 2.0, 3.0, 4.0),
    "v": (None, 0.5, 1.0, 1.5, 2.5, 4.0, 6.0, 8.0),
}
C_CONFLICT: Final = (
    "class c up to 6 mm: 0.2 and 0.3 mm as the standard is remembered, 0.15 and 0.2 mm in the copy that was read; "
    "the remembered values are given, check them against your own copy"
)

_ANGLE_UPTO: Final = (10, 50, 120, 400)
_ANGLE_MINUTES: Final = {
    "f": (60, 30, 20, 10, 5),
    "m": (60, 30, 20, 10, 5),
    "c": (90, 60, 30, 15, 10),
    "v": (180, 120, 60, 30, 20),
}

_WELD_UPTO: Final = (30, 120, 400, 1000, 2000, 4000, 8000, 12000, 16000, 20000)
_WELD: Final = {
    "A": (1, 1, 1, 2, 3, 4, 5, 6, 7, 8, 9),
    "B": (1, 2, 2, 3, 4, 6, 8, 10, 12, 14, 16),
    "C": (1, 3, 4, 6, 8, 11, 14, 18, 21, 24, 27),
    "D": (1, 4, 7, 9, 12, 16, 21, 27, 32, 36, 40),
}
_WELD_ANGLE_UPTO: Final = (400, 1000)
_WELD_MINUTES: Final = {"A": (20, 15, 10), "B": (45, 30, 20), "C": (60, 45, 30), "D": (90, 75, 60)}
_WELD_FLAT: Final = {
    "E": (0.5, 1, 1.5, 2, 3, 4, 5, 6, 7, 8),
    "F": (1, 1.5, 3, 4.5, 6, 8, 10, 12, 14, 16),
    "G": (1.5, 3, 5.5, 9, 11, 16, 20, 22, 25, 25),
    "H": (2.5, 5, 9, 14, 18, 26, 32, 36, 40, 40),
}

_CUT_FROM: Final = (0, 3, 10, 35, 125, 315, 1000, 2000, 4000, 6000)
_CUT_UPTO: Final = 8000.0
_CUT: Final[dict[int, tuple[tuple[float, tuple[float | None, ...]], ...]]] = {
    1: (
        (1.0, (0.075, 0.10, 0.10, 0.20, 0.20, 0.30, 0.40, 0.65, 0.90, 1.60)),
        (3.15, (0.10, 0.15, 0.20, 0.25, 0.25, 0.35, 0.40, 0.65, 1.00, 1.75)),
        (6.3, (0.20, 0.20, 0.25, 0.25, 0.30, 0.40, 0.45, 0.70, 1.10, 1.90)),
        (10.0, (None, 0.25, 0.30, 0.30, 0.35, 0.45, 0.55, 0.75, 1.25, 2.20)),
        (15.0, (None, 0.30, 0.35, 0.40, 0.45, 0.55, 0.65, 0.85, 1.50, 2.50)),
        (20.0, (None, 0.40, 0.40, 0.45, 0.55, 0.75, 0.85, 1.20, 1.90, 2.80)),
        (25.0, (None, 0.45, 0.50, 0.60, 0.70, 0.90, 1.10, 1.60, 2.40, 3.25)),
        (32.0, (None, None, 0.70, 0.70, 0.80, 1.00, 1.60, 2.25, 3.00, 4.00)),
    ),
    2: (
        (1.0, (0.5, 0.6, 0.6, 0.7, 0.7, 0.8, 0.9, 0.9, None, None)),
        (3.15, (0.6, 0.6, 0.7, 0.7, 0.8, 0.9, 1.0, 1.1, 1.4, 1.4)),
        (6.3, (0.7, 0.8, 0.9, 0.9, 1.1, 1.2, 1.3, 1.3, 1.6, 1.6)),
        (10.0, (None, 1.0, 1.1, 1.3, 1.4, 1.5, 1.6, 1.7, 1.9, 2.0)),
        (15.0, (None, 1.8, 1.8, 1.8, 1.9, 2.3, 3.0, 4.2, 4.3, 4.5)),
        (20.0, (None, 1.8, 1.8, 1.8, 1.9, 2.3, 3.0, 4.2, 4.3, 4.5)),
    ),
}
"""By class: rows of largest cut thickness and limit deviations, mm; a place without a value has none in the standard."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tolerance:
    """A symmetrical tolerance.

    Parameters
    ----------
    plus_minus : float
        Half width, in `unit`.
    unit : str
        "mm" or "deg".
    source : str
        Key of the sources registry.
    note : str
        What is uncertain about the value itself, "" if nothing.
    """

    plus_minus: float
    unit: str
    source: str
    note: str = ""


def linear_tolerance(nominal: float, grade: str = "m") -> Tolerance:
    """General tolerance of a length.

    Parameters
    ----------
    nominal : float
        mm, 0.5 to 4000 (f to 2000, v more than 3).
    grade : {"m", "f", "c", "v"}
        Class of ISO 2768-1.

    Returns
    -------
    Tolerance
        In mm. For class c up to 6 mm its note names a conflict between what was read and what is remembered.

    Notes
    -----
    Source: ISO 2768-1, table 1.
    """
    _grade(grade)
    in_range("nominal size", nominal, 0.5, 4000.0, "ISO 2768-1", "mm")
    value = _LINEAR[grade][_column(nominal, _LINEAR_UPTO)]
    if value is None:
        raise OutOfRange("nominal size", nominal, f"a size for which ISO 2768-1 gives class {grade}")
    note = C_CONFLICT if grade == "c" and nominal <= 6.0 else ""
    return Tolerance(plus_minus=value, unit="mm", source="ISO 2768-1", note=note)


def angle_tolerance(shorter_leg: float, grade: str = "m") -> Tolerance:
    """General tolerance of an angle by the length of its shorter leg.

    Parameters
    ----------
    shorter_leg : float
        mm, greater than 0.
    grade : {"m", "f", "c", "v"}
        Class of ISO 2768-1.

    Returns
    -------
    Tolerance
        In degrees.

    Notes
    -----
    Source: ISO 2768-1, table 3 (from memory; f, m and v confirmed by a quotation, which prints
    20' for c at 120 to 400 mm where 15' is right).
    """
    _grade(grade)
    above_zero("mm", shorter_leg=shorter_leg)
    minutes = _ANGLE_MINUTES[grade][_column(shorter_leg, _ANGLE_UPTO)]
    return Tolerance(plus_minus=minutes / 60.0, unit="deg", source="ISO 2768-1 angles")


def weldment_length(nominal: float, grade: str = "B") -> Tolerance:
    """General tolerance of a length of a weldment.

    Parameters
    ----------
    nominal : float
        mm, more than 2.
    grade : {"A", "B", "C", "D"}
        Class of ISO 13920; B and C are usual for frames.

    Returns
    -------
    Tolerance
        In mm.

    Notes
    -----
    Source: `ISO 13920` table 1. In the quotation that was read, rows B to D lack the first column, which is 1 mm for every
    class as remembered.
    """
    _weld_grade(grade, _WELD)
    in_range("nominal size", nominal, 2.0, 1e5, "ISO 13920", "mm")
    return Tolerance(plus_minus=float(_WELD[grade][_column(nominal, _WELD_UPTO)]), unit="mm", source="ISO 13920")


def weldment_angle(shorter_leg: float, grade: str = "B") -> Tolerance:
    """General tolerance of an angle of a weldment.

    Parameters
    ----------
    shorter_leg : float
        mm.
    grade : {"A", "B", "C", "D"}

    Returns
    -------
    Tolerance
        In degrees.

    Notes
    -----
    Source: `ISO 13920` table 2.
    """
    _weld_grade(grade, _WELD_MINUTES)
    above_zero("mm", shorter_leg=shorter_leg)
    minutes = _WELD_MINUTES[grade][_column(shorter_leg, _WELD_ANGLE_UPTO)]
    return Tolerance(plus_minus=minutes / 60.0, unit="deg", source="ISO 13920")


def weldment_flatness(side: float, grade: str = "F") -> Tolerance:
    """General tolerance of straightness, flatness and parallelism of a weldment.

    Parameters
    ----------
    side : float
        Longer side of the surface, mm, more than 30.
    grade : {"E", "F", "G", "H"}

    Returns
    -------
    Tolerance
        Half of the zone's width, mm: the standard states the whole.

    Notes
    -----
    Source: `ISO 13920` table 3.
    """
    _weld_grade(grade, _WELD_FLAT)
    in_range("longer side", side, 30.0, 1e5, "ISO 13920", "mm")
    zone = _WELD_FLAT[grade][_column(side, _WELD_UPTO[1:])]
    note = "from memory" if grade in ("G", "H") else ""
    return Tolerance(plus_minus=zone / 2, unit="mm", source="ISO 13920", note=note)


def _weld_grade(grade: str, known: Mapping[str, object]) -> None:
    if grade not in tuple(known):
        raise UnknownName("class", grade, known)


def cutting_tolerance(nominal: float, thickness: float, cut_class: int) -> Tolerance:
    """Limit deviation of a thermally cut dimension.

    Parameters
    ----------
    nominal : float
        mm, more than 0 to below 8000.
    thickness : float
        mm, more than 0 to 32 (class 1) or 20 (class 2); thicker rows are not kept here.
    cut_class : {1, 2}
        1 for laser, 2 for plasma and oxyfuel, as shops usually state.

    Returns
    -------
    Tolerance
        In mm.

    Notes
    -----
    Source: ISO 9013.
    """
    if cut_class not in _CUT:
        raise UnknownName("class of ISO 9013", cut_class, [str(c) for c in _CUT])
    above_zero("mm", nominal_size=nominal, thickness=thickness)
    in_range("thickness", thickness, 0.0, _CUT[cut_class][-1][0], f"ISO 9013, class {cut_class}", "mm")
    if nominal >= _CUT_UPTO:
        raise OutOfRange("nominal size", nominal, f"less than {_CUT_UPTO:g} mm (ISO 9013)")
    row = next(values for upto, values in _CUT[cut_class] if thickness <= upto)
    value = row[sum(1 for start in _CUT_FROM if nominal >= start) - 1]
    if value is None:
        raise OutOfRange(
            "nominal size", nominal, f"a size for which ISO 9013 gives class {cut_class} in {thickness:g} mm"
        )
    return Tolerance(plus_minus=value, unit="mm", source="ISO 9013")


def _grade(grade: str) -> None:
    if grade not in CLASSES:
        raise UnknownName("class of ISO 2768-1", grade, CLASSES)


def _column(value: float, upto: tuple[int, ...]) -> int:
    return sum(1 for limit in upto if value > limit)
