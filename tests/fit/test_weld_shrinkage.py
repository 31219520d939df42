"""What welds pull in: hand values on two uprights on a plate, allowances between holes, words where nothing is reckoned."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

import tinbook as tb
from strategies import SHOP
from tinbook.errors import BadValue
from tinbook.fit.shrinkage import WeldShrinkage
from tinbook.fit.table import TableCard
from tinbook.part.assembly import Assembly
from tinbook.space import SPACE, frame_at

# The upright's x runs across the plate, its y upward: it stands on its lower edge.
STANDING = ((0.0, 1.0, 0.0), (0.0, 0.0, 1.0))


def frame(both: bool, sheet: str = "S235 5.0", throat: float = 3.0) -> Assembly:
    """Two uprights of 60 x 50 mm across a plate of 300 x 60 with a hole in each corner, at x = 75 and 225."""
    t = SHOP.sheet_by_key(sheet).thickness
    base = tb.Part("WS-1", sheet=sheet, base=tb.Outline.rectangle(300, 60))
    for at in ((10, 10), (290, 10), (10, 50), (290, 50)):
        base = base.hole(at, 8)
    upright = tb.Part("WS-2", sheet=sheet, base=tb.Outline.rectangle(60, 50))
    made = Assembly("WS").add("plate", base)
    for name, x in (("left", 75.0), ("right", 225.0)):
        made = made.add(name, upright, frame_at((x, 0.0, t), *STANDING)).weld(
            "plate", name, throat=throat, sides="both" if both else "one"
        )
    return made


@pytest.fixture(scope="module")
def one_side() -> WeldShrinkage:
    return tb.fit.weld_shrinkage(tb.assemble(frame(both=False), SHOP))


def test_each_seam_by_hand(one_side: WeldShrinkage) -> None:
    """1.02 leg / t of Spraragen and Ettinger, leg 3 x 1.414 on 5 mm: 0.865 mm; half and one and a half times that."""
    assert len(one_side.seams) == 2
    for s in one_side.seams:
        assert (s.face, round(s.length)) == ("plate", 60)
        assert s.draws == pytest.approx((0.433, 1.298), abs=1e-3)
        assert abs(s.across[0]) == pytest.approx(1.0)
        # Blodgett: 0.04 x 9 mm² over the plate's section of 300 x 5 mm², along 60 mm.
        assert s.shortens[0] + s.shortens[1] == pytest.approx(2 * 0.04 * 9 / (300 * 5) * 60, rel=0.02)
        # Below 6 mm it leans by 0.5 to 2 degrees, as the trade has it; its top is held.
        assert s.leans == (0.5, 2.0)
        assert s.clamp[2] == pytest.approx(5 + 50, abs=0.1)


def test_a_distance_over_the_seams_is_set_out_longer(one_side: WeldShrinkage) -> None:
    assert one_side.between((10, 10, 0), (290, 10, 0)) == pytest.approx((0.865, 2.596), abs=0.01)
    assert one_side.between((10, 10, 0), (150, 10, 0)) == pytest.approx((0.433, 1.298), abs=0.01)
    assert one_side.between((10, 10, 0), (60, 10, 0)) == (0.0, 0.0)
    # On the upright, whose face no seam lies on, nothing draws in.
    assert one_side.between((10, 10, 0), (290, 10, 0), on="left") == (0.0, 0.0)
    # Along both seams, whole: what the plate gets shorter there.
    along = 2 * 0.04 * 9 / (300 * 5) * 60
    assert sum(one_side.between((150, 0, 0), (150, 60, 0))) / 2 == pytest.approx(along, rel=0.02)
    with pytest.raises(BadValue, match="two different"):
        one_side.between((1, 2, 3), (1, 2, 3))
    with pytest.raises(BadValue, match="three finite"):
        one_side.between((1, 2, math.nan), (1, 2, 3))


def test_findings_say_where_to_clamp_and_what_is_not_reckoned(one_side: WeldShrinkage) -> None:
    """ISO 13920 class B allows 45 minutes at up to 400 mm: two degrees are more."""
    leans = one_side.findings.of("weld.lean")
    assert {f.where for f in leans} == {"left on plate", "right on plate"}
    assert all(f.limit == 0.75 and "hold it square near" in f.remedy for f in leans)
    text = str(one_side)
    assert "left on plate" in text
    assert "scatter by half" in text
    assert "the other end takes it all" in text
    both = tb.fit.weld_shrinkage(tb.assemble(frame(both=True), SHOP))
    assert not both.findings.of("weld.lean")


@pytest.mark.parametrize("plugs", [False, True])
def test_a_lap_draws_in_across_its_two_fillets_and_plugs_are_named(plugs: bool) -> None:
    """Spraragen and Ettinger 1950, lap joints: 1.52 leg / t = 1.52 x 1.414 / 1.5 = 1.433 mm, taken with half of it either way."""
    upper = tb.Part("WL-2", sheet="DC01 1.5", base=tb.Outline.rectangle(90, 40))
    if plugs:
        upper = upper.hole((45, 20), dia=8, use="plug weld")
    lap = Assembly("WL").add("a", tb.Part("WL-1", sheet="DC01 1.5", base=tb.Outline.rectangle(100, 60)))
    lap = lap.add("b", upper, frame_at((5, 10, 1.5)))
    said = tb.fit.weld_shrinkage(tb.assemble(lap.weld("a", "b", throat=1.0), SHOP))
    if plugs:
        assert said.seams == ()
        assert "plug welds: no stated source" in str(said.findings)
        return
    (seam,) = said.seams
    assert (seam.name, seam.length, seam.leans) == ("b on a", pytest.approx(90.0), None)
    assert seam.draws == pytest.approx((0.7165, 2.1496), rel=1e-3)
    assert abs(seam.across[1]) == pytest.approx(1.0)


def test_thin_sheet_between_strong_seams_stands_in_waves() -> None:
    """By hand, 1 mm by 300: 4 pi² E / 12 (1 - nu²) (1/300)² = 8.4 MPa; 0.04 E 0.7² over 300 mm² gives 13.7 on one side."""
    thin = tb.fit.weld_shrinkage(tb.assemble(frame(both=False, sheet="DC01 1.0", throat=0.7), SHOP))
    found = thin.findings.of("weld.waves")
    assert len(found) == 2
    assert found[0].value == pytest.approx(0.04 * 210e3 * 0.49 / 300, rel=0.03)
    assert found[0].limit == pytest.approx(8.44, rel=0.01)


def test_a_table_card_says_at_which_distance_to_tack(one_side: WeldShrinkage) -> None:
    places = {"1": (10.0, 10.0, 0.0), "2": (290.0, 10.0, 0.0), "3": (10.0, 50.0, 0.0)}
    card = TableCard(name="WS", places=places, datum=("1", "2"), frame=SPACE, shrinkage=one_side)
    assert card.tacked("1", "2") == pytest.approx(280 + 2 * 0.865, abs=0.01)
    assert ">281.7<" in card._repr_html_()
    assert "tacked at" not in replace(card, shrinkage=None)._repr_html_()
    with pytest.raises(BadValue, match="weld_shrinkage"):
        tb.fit.table_card(tb.assemble(frame(both=False), SHOP), shrinkage=3)  # type: ignore[arg-type]


@pytest.mark.parametrize("wrong", [None, "frame", 3, math.nan, [], frame(both=True)])
def test_what_is_no_welded_assembly_is_refused(wrong: object) -> None:
    with pytest.raises(BadValue):
        tb.fit.weld_shrinkage(wrong)  # type: ignore[arg-type]


def test_an_assembly_without_welds_is_refused() -> None:
    bare = Assembly("WN").add("a", tb.Part("WN-1", sheet="DC01 1.5", base=tb.Outline.rectangle(100, 60)))
    with pytest.raises(BadValue, match="an assembly with welds"):
        tb.fit.weld_shrinkage(tb.assemble(bare, SHOP))


def test_pieces_of_one_seam_are_crossed_once() -> None:
    """Two uprights in one line, 20 mm apart, draw the plate in there as one does."""
    made = frame(both=True)
    short = tb.Part("WS-3", sheet="S235 5.0", base=tb.Outline.rectangle(28, 50))
    for name, y in (("near", 0.0), ("far", 32.0)):
        made = made.add(name, short, frame_at((150.0, y, 5.0), *STANDING)).weld("plate", name, throat=3.0, sides="both")
    pulled = tb.fit.weld_shrinkage(tb.assemble(made, SHOP))
    assert len(pulled.seams) == 4
    assert pulled.between((10, 10, 0), (290, 10, 0)) == pytest.approx((3 * 0.433, 3 * 1.298), abs=0.01)
    assert "draw in up to 3.9 mm" in str(pulled)
