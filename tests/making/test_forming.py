"""How far a fold springs back: between the sheet as soft and as hard as its grade allows, worked by hand."""

from __future__ import annotations

import pytest

import tinbook as tb
from strategies import SHOP
from tinbook.making.forming import Forming, forming


def formed(sheet: str, **size: float) -> Forming:
    made = tb.make(tb.folded_channel(sheet=sheet, **size), SHOP)
    return forming(made, made.strips[0], 1)


def test_the_band_reaches_from_the_softest_sheet_to_the_table() -> None:
    """DC01 1.5 over r = 1.5 (middle 2.25): x = 2.25 Y / (210 000 x 1.5), 1 - 3 x + 4 x³; 140 MPa 0.997, 410 MPa 0.9912."""
    got = formed("DC01 1.5")
    assert got.over is not None
    assert got.over[0] == pytest.approx(90 / 0.997 - 90, abs=1e-4)
    # The trade table's 0.99 lies beyond 410 MPa: the band reaches to it.
    assert got.over[1] == pytest.approx(90 / 0.99 - 90)
    assert got.formed == pytest.approx(90 / 0.99)


def test_a_metal_without_a_table_goes_by_its_strength() -> None:
    """5083 3.0, E 71 000, 215 to 385 MPa: more than the 2 degrees that the trade assumes; the middle is set."""
    made = tb.make(tb.folded_channel(sheet="5083 3.0", web=120, flange=60), SHOP)
    strip = made.strips[0]
    got = forming(made, strip, 1)
    middle = strip.radius + 1.5
    x = [middle * s / (made.sheet.material.youngs * 3.0) for s in (215.0, made.sheet.material.tensile_max)]
    low, high = (90 / (1 - 3 * v + 4 * v**3) - 90 for v in x)
    assert got.over == pytest.approx((low, high))
    assert got.formed == pytest.approx(90 + (low + high) / 2)
    assert "reckoned from its strength" in got.note
    assert low > 1.0
