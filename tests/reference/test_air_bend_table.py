"""The default air bend (r = 0.16 V, K = 0.41) against a tooling catalogue's table, row by row.

Catalogue of press brake tooling (quoted), mild steel, 90 degrees: f per side, flat = sum of the
outside legs - 2 f. Columns lined up by row length and the catalogue's worked example.
"""

from __future__ import annotations

import pytest

from tinbook.calc.bending import AIR_BEND_K, bend_deduction, k_from_deduction
from tinbook.calc.radii import natural_radius
from tinbook.making.bends import bend_for
from tinbook.shop.shop import Shop

TABLE = {
    0.5: {4: 0.47, 6: 0.55, 7: 0.59, 8: 0.63, 10: 0.70},
    1.0: {4: 0.80, 6: 0.87, 7: 0.91, 8: 0.95, 10: 1.03, 12: 1.10, 14: 1.18, 16: 1.26, 18: 1.33, 20: 1.41},
    1.2: {6: 1.00, 7: 1.04, 8: 1.08, 10: 1.15, 12: 1.23, 14: 1.31, 16: 1.38, 18: 1.46, 20: 1.54},
}
ROWS = [(t, v, f) for t, row in TABLE.items() for v, f in row.items()]


@pytest.mark.parametrize(("t", "opening", "f"), ROWS)
def test_row(t: float, opening: float, f: float) -> None:
    deduction = bend_deduction(90, natural_radius(opening), AIR_BEND_K, t)
    # Within 0.05 mm of the blank where the die is of a usual width; worse where it is too wide (below).
    assert deduction == pytest.approx(2 * f, abs=0.05 if opening <= 14 * t else 0.1)


def test_where_the_rule_is_worst() -> None:
    """The largest differences of a blank: 0.043 mm up to V = 14 t, 0.090 mm at V = 20 t (the rule deducts too little)."""
    off = {(t, v): bend_deduction(90, natural_radius(v), AIR_BEND_K, t) - 2 * f for t, v, f in ROWS}
    usual = max(abs(d) for (t, v), d in off.items() if v <= 14 * t)
    wide = max(off, key=lambda key: abs(off[key]))
    assert usual == pytest.approx(0.043, abs=1e-3)
    assert wide == (1.0, 20)
    assert off[wide] == pytest.approx(-0.090, abs=1e-3)


def test_rows_mean_a_k_near_0_41() -> None:
    usual = [k_from_deduction(2 * f, 90, natural_radius(v), t) for t, v, f in ROWS if 4 * t <= v <= 12 * t]
    assert 0.39 < min(usual) < 0.41 < max(usual) < 0.435
    assert sum(usual) / len(usual) == pytest.approx(AIR_BEND_K, abs=0.01)


# The catalogue's worked examples: t, V and the whole deduction.
@pytest.mark.parametrize(("t", "opening", "deduction"), [(1.0, 6, 1.74), (1.0, 12, 2.20), (1.5, 12, 2.84)])
def test_worked_examples_through_the_demo_shop(t: float, opening: float, deduction: float) -> None:
    shop = Shop.demo()
    bend = bend_for(shop, shop.sheet("DC01", t), angle=90, tool=f"V{opening}")
    assert 2 * (bend.radius + t) - bend.allowance == pytest.approx(deduction, abs=0.03)
    assert bend.rule == "air bend K 0.41"
