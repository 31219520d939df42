"""Blind rivets: lengths by grip (ISO 15981, quoted), bearing by EN 1993-1-3 table 8.1 (from memory), what is refused."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from tinbook.calc.rivets import RIVETS, blind_rivet, rivet_bearing, rivet_for, rivet_length
from tinbook.errors import BadValue, OutOfRange, UnknownName


# ISO 15981, recommended grips as its table was read.
@pytest.mark.parametrize(
    ("dia", "grip", "length"),
    [
        (2.4, 3.0, 6),
        (3.2, 2.0, 6),
        (3.0, 3.6, 8),
        (4.0, 6.5, 10),
        (4.8, 2.0, 6),
        (5.0, 6.0, 10),
        (6.4, 3.0, 12),
        (6.4, 17, 25),
    ],
)
def test_length_by_grip(dia: float, grip: float, length: float) -> None:
    assert rivet_length(dia, grip) == length


def test_bearing_by_hand() -> None:
    """Equal 1 mm: 3.6 sqrt(1 / 4) = 1.8; 0.8 on 2 mm: 2.1; 1 on 1.75 half way between; near the end fu e1 t / 1.5."""
    assert rivet_bearing(4.0, 1.0, 1.0, 270, 20) == pytest.approx(1.8 * 4 * 270 / 1.25)
    assert rivet_bearing(4.0, 0.8, 2.0, 270, 20) == pytest.approx(2.1 * 4 * 0.8 * 270 / 1.25)
    assert rivet_bearing(4.0, 1.0, 1.75, 270, 20) == pytest.approx(1.95 * 4 * 270 / 1.25)
    assert rivet_bearing(4.0, 1.0, 1.0, 270, 6) == pytest.approx(270 * 6 / 1.2 / 1.25)
    assert rivet_bearing(3.0, 3.0, 3.0, 270, 30) == pytest.approx(2.1 * 3 * 3 * 270 / 1.25)


def test_more_of_a_rivet_bears_more() -> None:
    """Loads grow with the diameter, and steel bears more than aluminium, stainless more than steel."""
    for standard in RIVETS:
        rows = [blind_rivet(standard, d) for d in (3.0, 3.2, 4.0, 4.8, 5.0)]
        assert [r.shear for r in rows] == sorted(r.shear for r in rows)
        assert [r.tension for r in rows] == sorted(r.tension for r in rows)
    soft, steel, stainless = (blind_rivet(s, 4.8).shear for s in RIVETS)
    assert soft < steel < stainless
    assert rivet_for("ISO 15979", 4.9).hole == 4.9


@pytest.mark.parametrize(
    ("call", "error"),
    [
        (lambda: blind_rivet("ISO 1", 4.8), UnknownName),
        (lambda: blind_rivet("ISO 15979", 4.5), BadValue),
        (lambda: blind_rivet("ISO 15983", 6.4), BadValue),
        (lambda: blind_rivet("ISO 15979", math.nan), BadValue),
        (lambda: rivet_for("ISO 15979", 5.7), BadValue),
        (lambda: rivet_for("", 4.9), UnknownName),
        (lambda: rivet_length(4.8, 21.0), OutOfRange),
        (lambda: rivet_length(6.4, 1.0), OutOfRange),
        (lambda: rivet_length(8.0, 3.0), OutOfRange),
        (lambda: rivet_length(4.8, 0.0), BadValue),
        (lambda: rivet_bearing(4.0, 1.0, 0.5, 270, 20), BadValue),
        (lambda: rivet_bearing(4.0, 1.0, 1.0, 270, 5), OutOfRange),
        (lambda: rivet_bearing(8.0, 1.0, 1.0, 270, 20), OutOfRange),
        (lambda: rivet_bearing(4.0, math.nan, 1.0, 270, 20), BadValue),
    ],
)
def test_refused(call: Callable[[], object], error: type[Exception]) -> None:
    with pytest.raises(error):
        call()
