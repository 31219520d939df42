"""What tests of light parts share: the shop, a part made on it, an allowance by the standard."""

from __future__ import annotations

import math

import tinbook as tb
from tinbook.making.made import Made
from tinbook.part.part import Part

SHOP = tb.Shop.demo()


def made_of(part: Part) -> Made:
    """Return a part made, which must have a flat pattern."""
    made = tb.make(part, SHOP)
    assert made.flat is not None, [str(f) for f in made.findings]
    return made


def din(radius: float, t: float) -> float:
    """DIN 6935: k = 0.65 + 0.5 log10(r/t) up to r/t = 5, then 1; the neutral line lies at k t/2."""
    return min(0.65 + 0.5 * math.log10(radius / t), 1.0) * t / 2
