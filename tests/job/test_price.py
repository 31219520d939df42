"""Prices: a job of five parts worked out by hand beside the computed one, line by line to the cent."""

from __future__ import annotations

import math
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

import tinbook as tb
from tinbook.errors import BadValue
from tinbook.job.pricing.lines import Book, shared
from tinbook.shop.rates import Rates

Item, Stock = tb.job.Item, tb.job.Stock
RATES = Rates(
    currency="EUR",
    cut_per_m={"laser": 0.60},
    cut_per_m_mm={"laser": 0.40},
    pierce={"laser": 0.05},
    etch_per_m={"laser": 0.25},
    fold=1.80,
    fold_setup=12,
    turn_over=0.60,
    weld=0.90,
    insert=1.20,
    deburr_per_m=0.40,
    part=3.50,
    clean_per_m2=4.20,
    finish_per_m2={"primer": 9.50},
    handling_per_kg=0.12,
    hours={"measuring": 52},
    hour=58,
    consumables_percent=3,
    scrap_percent=2,
    margin_percent=25,
    tax_percent=19,
    deposit_percent=40,
    minimum=60,
    delivery=38,
    offcut_percent=50,
    source="own data",
)


def shop(**rates: Any) -> tb.Shop:
    """Return the demo shop with one size of sheet, on the laser, without gap to the sheet's edge in the way."""
    whole = tb.shop.cut_on(tb.Shop.demo(), "laser")
    sheets = tuple(replace(s, sizes=((2000, 1000),), price_per_kg=1.35) for s in whole.sheets)
    whole = replace(whole, sheets=sheets, rates=replace(RATES, **rates))
    tool = tb.make(folded(), whole).strips[0].bend.tool
    return whole.with_deduction("DC01 1.5", tool, 3.0)


def plate(number: str, length: float = 200, width: float = 100, sheet: str = "DC01 1.5") -> tb.Part:
    return tb.Part(number, sheet=sheet, base=tb.Outline.rectangle(length, width), marking=False)


def folded() -> tb.Part:
    return plate("B").fold("front", leg=20)


def five() -> tb.Job:
    items = [
        Item(thing=plate("A").hole((100, 50), 20), quantity=3, finish="primer"),
        Item(thing=folded(), quantity=2),
        Item(thing=plate("C", 300, 50, "S355 5.0"), quantity=2),
        Item(thing=plate("D").hole((50, 50), 9, use="nut insert"), quantity=1),
        Item(thing=plate("E").hole((50, 50), 8, use="plug weld").hole((150, 50), 8, use="plug weld"), quantity=4),
    ]
    return tb.Job(number="Q1", items=items, hours={"measuring": 2}, discount=5, delivery=True)


@pytest.fixture(scope="module")
def nest() -> Any:
    return tb.job.nest_job(five(), shop(), effort=0)


def hand_worked(nest: Any) -> dict[tuple[str, str], str]:
    """Return the amounts worked out by hand, as (part, what) to EUR.

    Cutting: DC01 1.5 mm costs 0.60 + 1.5 x 0.40 = 1.20 a metre, S355 5 mm 0.60 + 5 x 0.40 = 2.60.
    A: outline 0.6 m, hole 20 mm 0.06283 m; 3 x 0.66283 = 1.9885 m. x 1.20 = 2.39; edges x 0.40 = 0.80;
       6 contours x 0.05 = 0.30; both faces 2 x (0.02 - 0.000314159) x 3 = 0.1181 m2, x 4.20 = 0.50, x 9.50 = 1.12;
       mass 0.05905 m2 x 1.5 mm x 7.85 = 0.6953 kg, x 0.12 = 0.08; 3 parts x 3.50 = 10.50.
    B: blank 200 x (100 + 20 - 3) = 200 x 117: 0.634 m; 2 x = 1.268 m. x 1.20 = 1.52; x 0.40 = 0.51; 2 x 0.05 = 0.10;
       2 hits x 1.80 = 3.60; one set-up 12.00; 2 x 3.50 = 7.00.
    C: 0.7 m; 2 x = 1.4 m. x 2.60 = 3.64; x 0.40 = 0.56; 0.10; mass 2 x 0.015 x 5 x 7.85 = 1.1775 kg, x 0.12 = 0.14; 7.00.
    D: outline 0.6 + hole 9 mm 0.02827 = 0.6283 m. x 1.20 = 0.75; x 0.40 = 0.25; 2 x 0.05 = 0.10; one insert 1.20;
       mass (0.02 - 0.0000636) x 1.5 x 7.85 = 0.2348 kg, x 0.12 = 0.03; 3.50.
    E: outline 0.6 + 2 x 0.025133 = 0.650265; 4 x = 2.6011 m. x 1.20 = 3.12; x 0.40 = 1.04; 12 x 0.05 = 0.60;
       8 plug welds x 0.90 = 7.20; mass 4 x (0.02 - 0.00010053) x 11.775 = 0.9373 kg, x 0.12 = 0.11; 14.00.
    Measuring 2 h x 52 = 104.00; delivery 38.00.
    """
    return {
        ("A", "cut, laser"): "2.39",
        ("A", "pierces"): "0.30",
        ("A", "deburred edges"): "0.80",
        ("A", "cleaned"): "0.50",
        ("A", "primer"): "1.12",
        ("A", "moved about"): "0.08",
        ("A", "parts handled"): "10.50",
        ("B", "cut, laser"): "1.52",
        ("B", "pierces"): "0.10",
        ("B", "deburred edges"): "0.51",
        ("B", "hits"): "3.60",
        ("B", "set-ups"): "12.00",
        ("B", "parts handled"): "7.00",
        ("C", "cut, laser"): "3.64",
        ("C", "pierces"): "0.10",
        ("C", "deburred edges"): "0.56",
        ("C", "moved about"): "0.14",
        ("C", "parts handled"): "7.00",
        ("D", "cut, laser"): "0.75",
        ("D", "pierces"): "0.10",
        ("D", "deburred edges"): "0.25",
        ("D", "fixings and louvres pressed, holes drawn"): "1.20",
        ("D", "moved about"): "0.03",
        ("D", "parts handled"): "3.50",
        ("E", "cut, laser"): "3.12",
        ("E", "pierces"): "0.60",
        ("E", "deburred edges"): "1.04",
        ("E", "plug welds"): "7.20",
        ("E", "moved about"): "0.11",
        ("E", "parts handled"): "14.00",
        ("", "measuring"): "104.00",
        ("", "delivery"): "38.00",
    }


def test_a_job_of_five_parts_line_by_line(nest: Any) -> None:
    price = tb.job.price_nest(nest)
    found = {(k.number, k.what): k.amount for k in price.lines if k.stage != "material" and k.what != "parting cuts"}
    wanted = {key: Decimal(amount) for key, amount in hand_worked(nest).items()}
    # B's mass depends on the neutral line of its bend: 2 x 0.2 x 0.117 x 11.775 = 0.55 kg, 0.07 EUR either way.
    assert abs(found.pop(("B", "moved about")) - Decimal("0.07")) <= Decimal("0.01")
    assert found == wanted


def test_metal_is_paid_by_the_length_used(nest: Any) -> None:
    """Mass of the used part of a sheet of 1 m width at 7 850 kg/m3, at 1.35 a kilogram."""
    price = tb.job.price_nest(nest)
    for group, t in zip(nest.groups, (1.5, 5.0), strict=True):
        (line,) = (k for k in price.lines if k.stage == "material" and k.number == group.sheet)
        reach = group.nest.layouts[-1].reach
        mass = Decimal(str(round(reach / 1000 * t * 7.85, 4)))
        assert abs(line.quantity - mass) <= Decimal("0.0001")
        assert line.amount == (line.quantity * Decimal("1.35")).quantize(Decimal("0.01"))


def test_totals_by_hand(nest: Any) -> None:
    """Consumables 3 % of the work, scrap 2 % of all so far, margin 25 % of the price, 5 % discount, 19 % tax, 40 % down."""
    price = tb.job.price_nest(nest)
    cent = Decimal("0.01")
    direct = sum(k.amount for k in price.lines)
    work = sum(k.amount for k in price.lines if k.stage not in ("material", "bought", "delivery"))
    consumables = round(work * 3 / 100 + Decimal("0.0000001"), 2)
    scrap = round((direct + consumables) * 2 / 100 + Decimal("0.0000001"), 2)
    cost = direct + consumables + scrap
    asked = cost + round(cost / Decimal("0.75") * Decimal("0.25") + Decimal("0.0000001"), 2)
    net = asked - round(asked * 5 / 100 + Decimal("0.0000001"), 2)
    assert price.cost == cost
    assert abs(asked * Decimal("0.75") - cost) < cent
    assert price.net == net
    assert price.tax == round(net * 19 / 100 + Decimal("0.0000001"), 2)
    assert price.gross == price.net + price.tax
    assert price.deposit == round(price.gross * 40 / 100 + Decimal("0.0000001"), 2)


def test_the_shares_sum_to_the_whole_to_the_cent(nest: Any) -> None:
    price = tb.job.price_nest(nest)
    assert sum(amount for _, amount in price.shares) == price.net
    assert [n for n, _ in price.shares] == ["A", "B", "C", "D", "E"]
    assert all(amount > 0 for _, amount in price.shares)


@pytest.mark.parametrize("total", ["100.00", "0.01", "-0.02", "99.99", "0.00"])
@pytest.mark.parametrize("weights", [(1, 1, 1), (0, 0, 0), (5, 0, 1), (1, 2, 4, 8, 16, 32, 64)])
def test_shares_never_lose_a_cent(total: str, weights: tuple[int, ...]) -> None:
    parts = shared(Decimal(total), {str(n): Decimal(w) for n, w in enumerate(weights)}, 2)
    assert sum(parts.values()) == Decimal(total)
    assert max(abs(v) for v in parts.values()) <= abs(Decimal(total)) + Decimal("0.01")


def test_every_line_is_quantity_times_rate_and_says_where_both_come_from(nest: Any) -> None:
    price = tb.job.price_nest(nest)
    for k in (*price.lines, *price.surcharges):
        assert abs(k.quantity * k.rate - k.amount) <= Decimal("0.005")
        assert k.quantity_from
        assert k.rate_from


def test_whole_sheets_less_the_offcuts_that_are_kept() -> None:
    """One plate of 1 m x 1 m less margins: half the sheet of 2 m is kept as one rectangle, at half its price."""
    job = tb.Job(number="Q", items=[Item(thing=plate("P", 960, 980))])
    nest = tb.job.nest_job(job, shop(material="sheet"), effort=0)
    (plan,) = nest.plans()
    (kept,) = plan.offcuts
    price = tb.job.price_nest(nest)
    sheet, back = (k for k in price.lines if k.stage == "material")
    x0, y0, x1, y1 = kept.box
    assert sheet.amount == Decimal("31.79")  # 2 x 1 x 1.5 x 7.85 = 23.55 kg at 1.35
    assert back.quantity == -Decimal(str(round((x1 - x0) * (y1 - y0) * 1.5 * 7.85e-6, 4)))
    assert back.rate == Decimal("0.675")


def test_the_rack_has_its_own_prices_and_offcuts_half() -> None:
    job = tb.Job(number="Q", items=[Item(thing=plate("P", 600, 400))])
    cut = tb.job.Offcut(key="O1", sheet="DC01 1.5", outline=tb.Outline.rectangle(700, 500).loop)
    own = tb.job.StockSheet(key="S1", sheet="DC01 1.5", length=2000, width=1000, price="50")
    sizes = tuple(replace(s, sizes=((2500, 1250),)) for s in shop().sheets)
    (line,) = _metal(tb.job.nest_job(job, replace(shop(), sheets=sizes), Stock(offcuts=[cut]), effort=0))
    assert line.rate == Decimal("0.675")
    nest = tb.job.nest_job(job, shop(), Stock(sheets=[own]), effort=0)
    (line,) = _metal(nest)
    assert (line.unit, line.rate) == ("sheet", Decimal(50))
    assert line.quantity == Decimal(str(round(nest.groups[0].nest.layouts[0].reach / 2000, 4))).normalize()


def _metal(nest: Any) -> list[Any]:
    return [k for k in tb.job.price_nest(nest).lines if k.stage == "material"]


def test_work_by_the_hour_instead_of_by_piece(nest: Any) -> None:
    """2 hits at 1.5 min are 0.05 h, at 58 an hour 2.90."""
    by_hour = replace(nest, shop=shop(fold=None, minutes={"fold": 1.5}))
    (line,) = (k for k in tb.job.price_nest(by_hour).lines if k.what == "hits")
    assert (line.quantity, line.unit, line.amount) == (Decimal("0.05"), "h", Decimal("2.90"))
    with pytest.raises(BadValue, match="rate by piece already"):
        shop(minutes={"fold": 1.5})


def test_cutting_by_the_minute(nest: Any) -> None:
    """C: 1.4 m in 5 mm at 3.0 + (6.5 - 3.0) / 3 = 4.1667 m/min; pierce 0.3 + 0.5 x 2 / 3 = 0.6333 s, twice."""
    by_minute = replace(nest, shop=shop(cut_per_m=(), cut_per_min={"laser": 2}))
    price = tb.job.price_nest(by_minute)
    (line,) = (k for k in price.lines if k.what == "cut, laser" and k.number == "C")
    assert line.quantity == Decimal(str(round(1.4 / (6.5 - 3.5 * 2 / 3) + 2 * (0.3 + 0.5 * 2 / 3) / 60, 4)))
    assert not [k for k in price.lines if k.what == "pierces"]


def test_set_ups_are_paid_once_a_batch() -> None:
    job = tb.Job(number="Q", items=[Item(thing=folded())])
    prices = tb.job.price_job(job, shop(minimum=None), sets=(1, 5, 20), effort=0)
    lines = [next(k for k in p.lines if k.what == "set-ups") for p in prices]
    assert [k.amount for k in lines] == [Decimal("12.00")] * 3
    assert prices.of(1).each > prices.of(5).each > prices.of(20).each
    assert "20 sets" in prices._repr_html_()


def test_markup_and_minimum() -> None:
    job = tb.Job(number="Q", items=[Item(thing=plate("P"))])
    nest = tb.job.nest_job(job, shop(margin_percent=None, markup_percent=10, minimum=60), effort=0)
    price = tb.job.price_nest(nest)
    assert [k.what for k in price.surcharges][-2:] == ["markup", "up to the minimum charge"]
    assert price.net == Decimal("60.00")
    with pytest.raises(BadValue, match="margin_percent is stated already"):
        shop(markup_percent=10)


def test_a_corrected_rate_of_the_store_wins() -> None:
    job = tb.Job(number="Q", items=[Item(thing=folded())])
    nest = tb.job.nest_job(job, shop(), Stock(rates=(("fold", Decimal("9")),)), effort=0)
    (line,) = (k for k in tb.job.price_nest(nest).lines if k.what == "hits")
    assert line.rate == 9
    assert "corrected" in line.rate_from


def test_every_missing_rate_is_named_at_once() -> None:
    bare = replace(shop(), rates=Rates(source="own data"))
    nest = tb.job.nest_job(five(), bare, effort=0)
    with pytest.raises(BadValue) as caught:
        tb.job.price_nest(nest)
    for name in (
        "cut_per_m of 'laser'",
        "pierce of 'laser'",
        "fold",
        "fold_setup",
        "weld",
        "insert",
        "part",
        "delivery",
    ):
        assert name in str(caught.value)
    with pytest.raises(BadValue, match=r"\[rates\]"):
        tb.job.price_nest(replace(nest, shop=replace(bare, rates=None)))


def test_bought_items_and_seams_of_an_assembly_are_priced_and_open_points_named() -> None:
    whole = tb.families.recovery_plate()
    job = tb.Job(number="Q", items=[Item(thing=whole, quantity=2)])
    each = {t.name: 2.5 for t, _ in job.bought}
    price = tb.job.price_nest(tb.job.nest_job(job, shop(bought=each, weld_per_m=14), effort=0))
    bolts = [k for k in price.lines if k.stage == "bought"]
    assert sum(k.quantity for k in bolts) == 2 * sum(m.kind == "bought" for m in whole.members)
    (seam,) = (k for k in price.lines if k.what == "seams")
    assert seam.quantity == Decimal(str(round(2 * (2 * 0.220 + 4 * 0.03975 + 2 * (0.060 + 0.110)), 4)))
    assert any("RECOVERY-PLATE" in text for text in price.not_priced)


def test_a_rate_that_the_demo_invented_is_not_called_the_shop_files(tmp_path: Path) -> None:
    file = tmp_path / "shop.toml"
    file.write_text('base = "demo"\nname = "W"\n[rates]\npart = 2.0\n[sheets."DC01 1.5"]\nprice_per_kg = 1.1\n')
    for sheet, home in (("DC01 1.5", "shop file"), ("DC01 1.0", "demo workshop, invented")):
        job = tb.Job(number="Q", items=[Item(thing=plate("P").renamed(sheet=sheet), quantity=4)])
        price = tb.job.price_nest(tb.job.nest_job(job, tb.Shop.load(file), effort=0))
        said = {k.what: k.rate_from for k in price.lines}
        assert said["parts handled"] == "shop file: rates part"
        assert said["pierces"].startswith("demo workshop, invented: rates pierce")
        assert [k.rate_from for k in price.lines if k.stage == "material"] == [f"{home}: sheets '{sheet}' price_per_kg"]


def test_any_executor_gives_the_same_prices() -> None:
    job = tb.Job(number="Q", items=[Item(thing=plate("P"), quantity=4)])
    with ThreadPoolExecutor(2) as threads:
        assert tb.job.price_job(job, shop(), sets=(1, 3), effort=0, executor=threads) == tb.job.price_job(
            job, shop(), sets=(1, 3), effort=0
        )


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        (lambda: tb.job.price_nest(None), "nest"),
        (lambda: tb.job.price_job(five(), shop(), sets=()), "sets"),
        (lambda: tb.job.price_job(five(), shop(), sets=5), "sets"),
        (lambda: tb.job.price_job(five(), shop(), sets=(0,)), "sets"),
        (lambda: tb.job.price_job(None, shop()), "job"),
        (lambda: shop(fold=-1), "fold"),
        (lambda: shop(fold=math.nan), "fold"),
        (lambda: shop(margin_percent=100), "margin_percent"),
        (lambda: shop(decimals=9), "decimals"),
        (lambda: shop(material="kilo"), "material"),
        (lambda: shop(minutes={"dance": 1}), "dance"),
        (lambda: shop(finish_per_m2={"primer": "much"}), "primer"),
        (lambda: shop(cut_per_min={"laser": 2}), "price by metre already"),
        (lambda: Book(tb.Shop.demo(), Stock()).find("folds"), "folds"),
    ],
)
def test_bad_values_are_named(wrong: Any, said: str) -> None:
    with pytest.raises((BadValue, AttributeError), match=said):
        wrong()
