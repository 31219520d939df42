"""How thick sheet and plate may come: normal tolerances of thickness by standard, nominal thickness and width.

At least 15 to 40 mm from an edge; closer ones can be ordered. mm.
"""

from __future__ import annotations

from typing import Final

from tinbook.calc.limits import above_zero, in_range
from tinbook.calc.tolerance_classes import Tolerance
from tinbook.errors import OutOfRange, UnknownName

Row = tuple[float | None, ...]

_WIDTHS: Final = {
    "EN 10131": (1200.0, 1500.0, 2200.0),
    "EN 10143": (1200.0, 1500.0, 2200.0),
    "EN 10143 DX51D": (1200.0, 1500.0, 2200.0),
    "EN 10051": (1200.0, 1500.0, 1800.0, 2200.0),
    "EN 485-4": (1000.0, 1250.0, 1600.0, 2000.0, 2500.0),
    "ISO 9445-2": (1000.0, 1300.0, 2100.0),
}
"""Largest width of each column."""

_ROWS: Final[dict[str, tuple[tuple[float, Row], ...]]] = {
    "EN 10131": (
        (0.4, (0.03, 0.04, 0.05)),
        (0.6, (0.03, 0.04, 0.05)),
        (0.8, (0.04, 0.05, 0.06)),
        (1.0, (0.05, 0.06, 0.07)),
        (1.2, (0.06, 0.07, 0.08)),
        (1.6, (0.08, 0.09, 0.10)),
        (2.0, (0.10, 0.11, 0.12)),
        (2.5, (0.12, 0.13, 0.14)),
        (3.0, (0.15, 0.15, 0.16)),
    ),
    "EN 10143": (
        (0.4, (0.04, 0.05, 0.06)),
        (0.6, (0.04, 0.05, 0.06)),
        (0.8, (0.05, 0.06, 0.07)),
        (1.0, (0.06, 0.07, 0.08)),
        (1.2, (0.07, 0.08, 0.09)),
        (1.6, (0.10, 0.11, 0.12)),
        (2.0, (0.12, 0.13, 0.14)),
        (2.5, (0.14, 0.15, 0.16)),
        (3.0, (0.17, 0.17, 0.18)),
        (5.0, (0.20, 0.20, 0.21)),
        (6.5, (0.22, 0.22, 0.23)),
    ),
    "EN 10143 DX51D": (
        (0.4, (0.05, 0.06, 0.07)),
        (0.6, (0.05, 0.06, 0.07)),
        (0.8, (0.06, 0.07, 0.08)),
        (1.0, (0.07, 0.08, 0.09)),
        (1.2, (0.08, 0.09, 0.11)),
        (1.6, (0.11, 0.13, 0.14)),
        (2.0, (0.14, 0.15, 0.16)),
        (2.5, (0.16, 0.17, 0.18)),
        (3.0, (0.19, 0.20, 0.20)),
        (5.0, (0.22, 0.24, 0.25)),
        (6.5, (0.24, 0.25, 0.26)),
    ),
    "EN 10051": (
        (2.0, (0.17, 0.19, 0.21, None)),
        (2.5, (0.18, 0.21, 0.23, 0.25)),
        (3.0, (0.20, 0.22, 0.24, 0.26)),
        (4.0, (0.22, 0.24, 0.26, 0.27)),
        (5.0, (0.24, 0.26, 0.28, 0.29)),
        (6.0, (0.26, 0.28, 0.29, 0.31)),
        (8.0, (0.29, 0.30, 0.31, 0.35)),
        (10.0, (0.32, 0.33, 0.34, 0.40)),
        (12.5, (0.35, 0.36, 0.37, 0.43)),
        (15.0, (0.37, 0.38, 0.40, 0.46)),
        (25.0, (0.40, 0.42, 0.45, 0.50)),
    ),
    "EN 485-4": (
        (0.4, (0.03, 0.05, 0.06, None, None)),
        (0.5, (0.03, 0.05, 0.06, 0.07, 0.10)),
        (0.6, (0.04, 0.06, 0.07, 0.08, 0.11)),
        (0.8, (0.04, 0.07, 0.08, 0.09, 0.12)),
        (1.0, (0.05, 0.08, 0.09, 0.10, 0.13)),
        (1.2, (0.05, 0.09, 0.10, 0.12, 0.14)),
        (1.5, (0.07, 0.11, 0.12, 0.14, 0.16)),
        (1.8, (0.08, 0.12, 0.13, 0.15, 0.17)),
        (2.0, (0.09, 0.13, 0.14, 0.16, 0.19)),
        (2.5, (0.10, 0.14, 0.15, 0.17, 0.20)),
        (3.0, (0.11, 0.15, 0.17, 0.19, 0.23)),
        (3.5, (0.12, 0.17, 0.19, 0.20, 0.24)),
        (4.0, (0.15, 0.20, 0.22, 0.23, 0.25)),
        (5.0, (0.18, 0.22, 0.24, 0.25, 0.29)),
        (6.0, (0.20, 0.24, 0.25, 0.26, 0.32)),
        (8.0, (0.24, 0.30, 0.31, 0.32, 0.38)),
        (10.0, (0.27, 0.33, 0.36, 0.38, 0.44)),
        (12.0, (0.32, 0.38, 0.40, 0.41, 0.47)),
    ),
    "ISO 9445-2": (
        (0.3, (0.03, None, None)),
        (0.5, (0.04, 0.04, None)),
        (0.6, (0.045, 0.05, None)),
        (0.8, (0.05, 0.05, None)),
        (1.0, (0.055, 0.06, 0.06)),
        (1.2, (0.06, 0.07, 0.07)),
        (1.5, (0.07, 0.08, 0.08)),
        (2.0, (0.08, 0.09, 0.10)),
        (2.5, (0.09, 0.10, 0.11)),
        (3.0, (0.11, 0.12, 0.12)),
        (4.0, (0.13, 0.14, 0.14)),
    ),
}
"""By standard: end of the range of nominal thickness, and plus or minus by width, mm."""

_FROM: Final = {
    "EN 10131": 0.35,
    "EN 10143": 0.2,
    "EN 10143 DX51D": 0.2,
    "EN 10051": 0.8,
    "EN 485-4": 0.2,
    "ISO 9445-2": 0.2,
}
"""mm: thinnest sheet of each standard."""
_CATEGORIES: Final = ((300.0, 1.0), (360.0, 1.15), (420.0, 1.3), (900.0, 1.4))
"""EN 10051: yield strength up to which plate is of category A to D, MPa, and by how much its tolerance is wider."""

STANDARDS: Final = tuple(_ROWS)
"""Cold-rolled steel, hot-dip coated (and its grade without a stated yield), hot-rolled, aluminium, stainless."""


def thickness_tolerance(standard: str, nominal: float, width: float, yield_strength: float = 0.0) -> Tolerance:
    """Return by how much sheet or plate may differ from its nominal thickness, mm.

    Parameters
    ----------
    standard : str
        One of `STANDARDS`.
    nominal : float
        Ordered thickness, mm.
    width : float
        Of the strip or sheet that it is cut from, mm.
    yield_strength : float, optional
        Least, MPa: hot-rolled plate above 300 MPa has wider tolerances; the tables of cold-rolled and coated steel are
        for grades below 260 MPa.

    Returns
    -------
    Tolerance
        Normal tolerance of thickness, plus and minus.

    Raises
    ------
    UnknownName
        Another standard.
    OutOfRange
        A thickness, width or strength for which its table has nothing.

    Notes
    -----
    Source: `EN 10131` table 1, `EN 10143` table 1 (DX51D: table 2, from memory), `EN 10051` table 1, `EN 485-4` table 1 (alloys
    of group II, the wider ones), `ISO 9445-2`. A range of the first four ends with its nominal thickness, one of ISO 9445-2
    before it.
    """
    if standard not in STANDARDS:
        raise UnknownName("standard of thickness", standard, STANDARDS)
    above_zero("mm", nominal=nominal, width=width)
    rows, widths, factor = _ROWS[standard], _WIDTHS[standard], 1.0
    in_range("nominal thickness", nominal, _FROM[standard], rows[-1][0], standard, "mm")
    in_range("width", width, 0.0, widths[-1], standard, "mm")
    if standard == "EN 10051":
        in_range("yield strength", yield_strength, 0.0, _CATEGORIES[-1][0], standard, "MPa")
        factor = next(f for upto, f in _CATEGORIES if yield_strength <= upto)
    elif standard.startswith("EN 10131") or standard == "EN 10143":
        in_range("yield strength", yield_strength, 0.0, 260.0, f"{standard} table 1", "MPa")
    open_ended = standard == "ISO 9445-2"
    row = next((r for upto, r in rows if (nominal < upto if open_ended else nominal <= upto)), rows[-1][1])
    value = row[sum(width > w for w in widths)]
    if value is None:
        raise OutOfRange("width", width, f"a width for which {standard} has sheet of {nominal:g} mm")
    source, _, grade = standard.partition(" DX")
    return Tolerance(plus_minus=factor * value, unit="mm", source=source, note="from memory" if grade else "")
