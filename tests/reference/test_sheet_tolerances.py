"""Thickness tolerances of sheet by standard, and where they reach: a measured thickness, a fold's band, mass, plate in slots.

EN 10131, EN 10143, EN 10051, EN 485-4 and EN 10259 (now ISO 9445-2) read in quotations; EN 10143 table 2 from memory.
"""

from __future__ import annotations

import math

import pytest

import tinbook as tb
from strategies import SHOP
from tinbook.calc.sheet_tolerances import STANDARDS, thickness_tolerance
from tinbook.errors import BadValue, OutOfRange, UnknownName
from tinbook.rules.blank import measured_thickness


@pytest.mark.parametrize(
    ("standard", "nominal", "width", "strength", "value"),
    [
        ("EN 10131", 0.35, 1200, 0, 0.03),
        ("EN 10131", 0.8, 1201, 140, 0.05),
        ("EN 10131", 3.0, 1600, 140, 0.16),
        ("EN 10143", 1.2, 1000, 140, 0.07),
        ("EN 10143", 6.5, 1501, 140, 0.23),
        ("EN 10143 DX51D", 1.5, 1250, 140, 0.13),
        ("EN 10051", 2.0, 1500, 235, 0.19),
        ("EN 10051", 6.0, 1200, 235, 0.26),
        ("EN 10051", 6.0, 1500, 355, 0.28 * 1.15),
        ("EN 485-4", 1.5, 1250, 160, 0.11),
        ("EN 485-4", 6.0, 2500, 215, 0.32),
        ("ISO 9445-2", 1.49, 1250, 230, 0.08),
        ("ISO 9445-2", 1.5, 1250, 230, 0.09),
        ("ISO 9445-2", 4.0, 1500, 230, 0.14),
    ],
)
def test_tables(standard: str, nominal: float, width: float, strength: float, value: float) -> None:
    assert thickness_tolerance(standard, nominal, width, strength).plus_minus == pytest.approx(value)


def test_they_never_shrink_with_thickness_or_width() -> None:
    for standard in STANDARDS:
        for width in (1000.0, 1250.0, 1500.0, 2000.0):
            found = []
            for nominal in (0.8, 1.0, 1.5, 2.0, 2.5, 3.0):
                try:
                    found.append(thickness_tolerance(standard, nominal, width).plus_minus)
                except OutOfRange:
                    assert (standard, width) in {("EN 10051", 2000.0), ("ISO 9445-2", 1500.0), ("ISO 9445-2", 2000.0)}
            assert found == sorted(found)


@pytest.mark.parametrize(
    ("standard", "nominal", "width", "strength", "error"),
    [
        ("EN 1", 1.0, 1000, 0, UnknownName),
        (["EN 10131"], 1.0, 1000, 0, UnknownName),
        ("EN 10131", 3.1, 1000, 0, OutOfRange),
        ("EN 10131", 1.0, 2300, 0, OutOfRange),
        ("EN 10131", 1.0, 1000, 300, OutOfRange),
        ("EN 10051", 1.5, 2000, 235, OutOfRange),
        ("EN 10051", 5.0, 1500, 960, OutOfRange),
        ("ISO 9445-2", 0.25, 1250, 230, OutOfRange),
        ("EN 485-4", 0.0, 1250, 0, BadValue),
        ("EN 485-4", math.nan, 1250, 0, BadValue),
        ("EN 485-4", 1.0, -1, 0, BadValue),
        ("EN 485-4", "1.0", 1250, 0, BadValue),
        ("EN 485-4", True, 1250, 0, BadValue),
        ("EN 10051", 5.0, 1500, True, BadValue),
        ("EN 10051", 5.0, 1500, None, BadValue),
    ],
)
def test_refused(standard: str, nominal: float, width: float, strength: float, error: type[Exception]) -> None:
    with pytest.raises(error):
        thickness_tolerance(standard, nominal, width, strength)


def test_every_grade_of_the_kit_has_its_standard() -> None:
    assert {m.key for m in SHOP.materials if not m.thickness_by} == set()
    dc01 = SHOP.sheet_by_key("DC01 1.5")
    assert dc01.tolerance is not None
    # Widest stock sheet 1250 to 1500 mm.
    assert (dc01.tolerance.plus_minus, dc01.tolerance.source) == (0.09, "EN 10131")


@pytest.mark.parametrize(("measured", "off"), [(1.42, None), (1.58, None), (1.35, 0.15), (1.62, 0.12)])
def test_a_measured_thickness_is_plausible_or_cautioned(measured: float, off: float | None) -> None:
    shop = SHOP.with_measured("DC01 1.5", measured)
    part = tb.Part("ST-1", sheet="DC01 1.5", base=tb.Outline.rectangle(60, 40))
    found = list(measured_thickness(tb.make(part, shop)))
    if off is None:
        assert found == []
    else:
        (f,) = found
        assert (f.code, f.severity, f.limit) == ("blank.measured", "caution", 0.09)
        assert f.value == pytest.approx(off)
        assert "another sheet" in f.remedy


def test_a_sheet_that_was_not_measured_widens_the_band_of_a_fold() -> None:
    """By hand at 90 degrees: the deduction grows by (2 - 0.41 pi / 2) of the 0.09 mm, 0.122 mm; it adds as a square."""
    part = tb.folded_channel()
    drawn, known = (tb.make(part, s).strips[0].bend for s in (SHOP, SHOP.with_measured("DC01 1.5", 1.5)))
    more = 0.09 * (2 - 0.41 * math.pi / 2)
    assert drawn.plus_minus == pytest.approx(math.hypot(known.plus_minus or 0.0, more), rel=1e-3)
    assert "EN 10131" in (drawn.plus_minus_from or "")
    assert "thickness" not in (known.plus_minus_from or "")
