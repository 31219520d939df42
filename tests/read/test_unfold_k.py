"""K is asked for: a number, or the rules of a shop; a solid without bends needs none."""

from __future__ import annotations

import math

import cadquery as cq
import pytest

import tinbook as tb
from tinbook.__main__ import main
from tinbook.errors import BadValue

SHOP = tb.Shop.demo()


def bracket(t: float, r: float) -> cq.Workplane:
    """An L of 60 and 40 outside, 50 long, bent once by 90 degrees."""
    o = r + t
    c = math.sqrt(0.5)
    w = cq.Workplane("XZ").moveTo(o, 0).lineTo(60, 0).lineTo(60, t).lineTo(o, t)
    w = w.threePointArc((o - r * c, o - r * c), (t, o)).lineTo(t, 40).lineTo(0, 40).lineTo(0, o)
    return w.threePointArc((o - o * c, o - o * c), (o, 0)).close().extrude(50)


def width(k: float, t: float = 2.0, r: float = 2.56) -> float:
    """By hand: 60 + 40 less two setbacks, and the arc of the neutral line."""
    return 100 - 2 * (r + t) + math.pi / 2 * (r + k * t)


def test_nobody_gave_a_k() -> None:
    with pytest.raises(BadValue, match=r"bend: nothing was given.*or shop=shop.*No K is right for every workshop"):
        tb.unfold(bracket(2.0, 2.56))
    with pytest.raises(BadValue, match="bend"):
        tb.sort_solids(bracket(2.0, 2.56))


def test_a_flat_plate_needs_none() -> None:
    assert tb.unfold(cq.Workplane().box(60, 40, 2)).area == pytest.approx(2400)


def test_a_shop_gives_its_own() -> None:
    """DC01 2.0 and the other sheets of 2 mm are air bent with K 0.41; typed by the shop it is what was typed."""
    flat = tb.unfold(bracket(2.0, 2.56), shop=SHOP, sheet="DC01 2.0")
    assert flat.folds[0].k == pytest.approx(0.41)
    assert max(flat.size) == pytest.approx(width(0.41), abs=1e-6)
    assert "Quillback" in str(flat.folds[0].rule)
    own = SHOP.with_k("DC01 2.0", 0.36)
    assert max(tb.unfold(bracket(2.0, 2.56), shop=own, sheet="DC01 2.0").size) == pytest.approx(width(0.36), abs=1e-6)
    # A K that is given goes before the shop's.
    assert tb.unfold(bracket(2.0, 2.56), 0.5, shop=own).folds[0].k == 0.5


def test_sheets_that_differ_are_asked_for() -> None:
    own = SHOP.with_k("DC01 2.0", 0.36)
    with pytest.raises(BadValue, match=r"sheet: nothing was given.*their rules differ.*K 0\.36"):
        tb.unfold(bracket(2.0, 2.56), shop=own)
    with pytest.raises(BadValue, match="none of this thickness"):
        tb.unfold(bracket(2.3, 2.56), shop=SHOP)
    with pytest.raises(BadValue, match="beside `shop`"):
        tb.unfold(bracket(2.0, 2.56), sheet="DC01 2.0")
    with pytest.raises(BadValue, match=r"shop: .*a Shop"):
        tb.unfold(bracket(2.0, 2.56), shop="mine")  # type: ignore[arg-type]


def test_the_command_line_asks_too(tmp_path, capsys) -> None:
    path = tmp_path / "bracket.step"
    cq.exporters.export(bracket(2.0, 2.56), str(path))
    for verb in ("unfold", "sort"):
        assert main([verb, str(path), "--out", str(tmp_path / "out")]) == 2
        assert "--shop" in capsys.readouterr().err
    assert main(["sort", str(path), "-k", "0.44"]) == 0
