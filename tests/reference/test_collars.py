"""Holes drawn into a collar: constant volume, worked by hand."""

from __future__ import annotations

import math

import pytest

from tinbook.calc import collars
from tinbook.errors import BadValue


@pytest.mark.parametrize(
    ("inner", "outer", "height", "thickness", "pilot"),
    [
        (10.0, 14.0, 0.0, 2.0, 10.0),  # a plain hole is its own pilot
        (10.0, 14.0, 1.0, 2.0, math.sqrt(52.0)),  # 14² - (14² - 10²) (1 + 2) / 2 = 196 - 144
        (6.0, 9.0, 0.5, 1.0, math.sqrt(13.5)),  # 81 - 45 x 1.5
        (10.0, 14.0, 6.0, 2.0, 0.0),  # 96 x 8 / 2 is more than a whole disc of 14
    ],
)
def test_a_straight_collar(inner: float, outer: float, height: float, thickness: float, pilot: float) -> None:
    """A ring of the sheet and a tube on it: pi/4 (outer² - inner²) (height + thickness) within `outer`."""
    volume = math.pi / 4 * (outer**2 - inner**2) * (height + thickness)
    assert collars.pilot_before_drawing(volume, outer, thickness) == pytest.approx(pilot, abs=1e-9)


def test_refusals() -> None:
    for values in ((0.0, 10.0, 1.0), (10.0, -1.0, 1.0), (10.0, 10.0, 0.0)):
        with pytest.raises(BadValue, match="greater than 0"):
            collars.pilot_before_drawing(*values)
