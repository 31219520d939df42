"""Force and leg of a fold are worked out once: check, machine choice and fold plan say the same."""

from __future__ import annotations

import pytest

import tinbook as tb
from tinbook.making.made import Made
from tinbook.part.outline import Outline
from tinbook.route.fold_order import fold_sequence

SHOP = tb.Shop.demo()


def slotted(length: float, opening: float, sheet: str, tool: str | None) -> Made:
    """A plate with one fold and an opening over the middle of it."""
    part = tb.Part("HN-X", sheet=sheet, base=Outline.rectangle(length, 200)).fold("front", "up", leg=80, tool=tool)
    return tb.make(part.cut_out(Outline.rectangle(opening, 60), ((length - opening) / 2, -30)), SHOP)


@pytest.mark.parametrize(
    ("length", "opening", "sheet", "tool"),
    [
        (1400, 1200, "S235 8.0", None),
        (1900, 1700, "S235 6.0", None),
        (390, 300, "S235 5.0", "VB40"),
        (390, 300, "DC01 3.0", "VB25"),
    ],
)
def test_metal_that_is_not_there_takes_no_force(length: float, opening: float, sheet: str, tool: str | None) -> None:
    """F = 650 t² L / V by the tensile strength over 450 (air-bend chart), four times that where it bottoms (common practice).

    L is the metal that is bent: the fold less the opening. Over the whole fold the first case would take 1320 kN.
    """
    made = slotted(length, opening, sheet, tool)
    (strip,) = made.strips
    vee = SHOP.tool(strip.bend.tool)
    t, strength = made.sheet.thickness, made.sheet.material.tensile_max
    by_hand = 650 * t**2 * (length - opening) / vee.opening * strength / 450 / 1e3
    if vee.process == "bottom":
        by_hand *= 4
    (found,) = tb.check(made, kind="live").of("fold.force")
    assert found.value == pytest.approx(by_hand, rel=1e-6)
    plan = fold_sequence(made)
    assert list(plan.findings.of("fold.force")) == [found]
    assert plan.steps[0].force == pytest.approx(found.value * 1e3)


def test_a_short_leg_is_the_same_stop_for_check_and_planner() -> None:
    """V12 holds legs from 0.709 x 12 = 8.5 mm (air-bend chart)."""
    part = tb.Part("HN-X", sheet="DC01 1.5", base=Outline.rectangle(200, 60)).fold("front", "up", leg=7, tool="V12")
    made = tb.make(part, SHOP)
    (found,) = tb.check(made, kind="live").of("fold.leg")
    assert found.limit == pytest.approx(0.709 * 12, abs=0.05)
    assert fold_sequence(made).findings.of("fold.leg") == (found,)
