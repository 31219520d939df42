"""A shop file over the demo workshop: what it takes over is its own, and no amount of money is that was invented for another."""

from __future__ import annotations

from pathlib import Path

from tinbook.shop.shop import Shop


def load(tmp_path: Path, text: str) -> Shop:
    file = tmp_path / "shop.toml"
    file.write_text(text, encoding="utf-8")
    return Shop.load(file)


def test_what_the_demo_owns_is_owned_by_the_workshop_that_takes_it_over(tmp_path: Path) -> None:
    """Papers say who cuts and folds: "Folded by Quillback Workshop" has no place on those of another one."""
    shop = load(tmp_path, 'base = "demo"\nname = "Wren Lane"\n[cutters.laser]\nwho = "The laser people"\n')
    assert {m.who for m in shop.machines if m.own} == {"Wren Lane"}
    assert {shop.tool(k).who for k in ("F1", "VB25")} | {r.who for r in shop.rolls} == {"Wren Lane"}
    assert shop.tool("V16").who == Shop.demo().tool("V16").who  # a supplier's
    assert {c.key: c.who for c in shop.cutters} == {"plasma": "Wren Lane", "laser": "The laser people"}
    assert {m.who for m in load(tmp_path, 'base = "demo"\n').machines} == {m.who for m in Shop.demo().machines}


def test_another_currency_takes_no_amount_of_the_demo_over(tmp_path: Path) -> None:
    """58 EUR an hour are not 58 GBP: what is no amount stays, what is one is asked for."""
    pounds = load(tmp_path, 'base = "demo"\nname = "W"\n[rates]\ncurrency = "GBP"\nhour = 41\n')
    demo = Shop.demo().rates
    assert pounds.rates is not None
    assert demo is not None
    assert (pounds.rates.hour, pounds.rates.fold, pounds.rates.cut_per_m) == (41, None, ())
    assert (pounds.rates.tax_percent, pounds.rates.packs) == (demo.tax_percent, demo.packs)
    assert {s.price_per_kg for s in pounds.sheets} == {None}
    same = load(tmp_path, 'base = "demo"\nname = "W"\n[rates]\ncurrency = "EUR"\nhour = 41\n')
    assert same.rates is not None
    assert (same.rates.hour, same.rates.fold) == (41, demo.fold)
    assert "fold" in same.rates.taken
    assert "hour" not in same.rates.taken
    assert demo.taken == ()
