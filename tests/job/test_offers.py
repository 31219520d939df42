"""Outside work and the offer: quoted prices by hand, papers read back, nothing of cost or margin on a quotation."""

from __future__ import annotations

import io
import re
import zipfile
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Any

import ezdxf
import pytest
from pypdf import PdfReader

import tinbook as tb
from tinbook.errors import BadValue, CannotWrite, UnknownName
from tinbook.job.offers import enquiry

Quote = tb.job.SupplierQuote
US = tb.job.Party(name="Quillback Workshop", address="Mill Lane 4\nOtterford", tax_number="T 00 11")
THEM = tb.job.Party(name="Farm Cooperative", address="Long Acre 1")
LASER = tb.job.Party(name="Brook Laser")


def plate(number: str, length: float = 200) -> tb.Part:
    return tb.Part(number, sheet="DC01 1.5", base=tb.Outline.rectangle(length, 100), marking=False)


def job(**more: Any) -> tb.Job:
    items = [
        tb.job.Item(thing=plate("A"), quantity=3),
        tb.job.Item(thing=plate("B").fold("front", leg=20), quantity=2),
        tb.job.Item(thing=plate("C", 300), traced=True),
    ]
    return tb.Job(number="Q1", items=items, **more)


QUOTES = (
    Quote(
        work="cutting",
        supplier="Brook Laser",
        number="BL-88",
        prices={"A": 4.2},
        fixed=18,
        metal="supplier",
        deburred=True,
        valid_until="2027-04-15",
        lead_days=6,
    ),
    Quote(work="folding", supplier="Weir Brakes", prices={"B": "7.5"}, valid_until="2027-04-10", lead_days=4),
)


@pytest.fixture(scope="module")
def shop() -> tb.Shop:
    whole = tb.shop.cut_on(tb.Shop.demo(), "laser")
    tool = tb.make(plate("B").fold("front", leg=20), whole).strips[0].bend.tool
    return whole.with_deduction("DC01 1.5", tool, 3.0)


@pytest.fixture(scope="module")
def nest(shop: tb.Shop) -> Any:
    return tb.job.nest_job(job(quotes=QUOTES), shop, effort=0)


@pytest.fixture(scope="module")
def price(nest: Any) -> Any:
    return tb.job.price_nest(nest)


def offer(price: Any, **more: Any) -> Any:
    given = {"number": "Q-14", "day": "2027-03-20", "sender": US, "customer": THEM, "excluded": ["Fitting."]}
    return tb.job.quotation(price, **{**given, **more})


def text_of(file: Path | bytes) -> str:
    data = file if isinstance(file, bytes) else file.read_bytes()
    return " ".join(" ".join(page.extract_text() for page in PdfReader(io.BytesIO(data)).pages).split())


def test_quoted_work_takes_the_place_of_own_work(nest: Any, price: Any) -> None:
    """A comes cut and deburred: 3 x 4.20 = 12.60, and 18 for the order; B is folded for 2 x 7.50 = 15.00."""
    outside = [(k.number, k.what, k.amount) for k in price.lines if k.stage == "outside work"]
    assert outside == [
        ("A", "cutting by Brook Laser, metal by the supplier", Decimal("12.60")),
        ("B", "folding by Weir Brakes", Decimal("15.00")),
        ("", "set-up and carriage, cutting by Brook Laser", Decimal("18.00")),
    ]
    assert {k.stage for k in price.lines if k.number == "A"} == {"outside work", "handling"}
    assert not [k for k in price.lines if k.stage == "folding"]
    placed = {p.blank for g in nest.groups for k in g.nest.layouts for p in k.placements}
    assert placed == {"B rev A", "C rev A"}, "A comes from the supplier's metal"
    assert sum(amount for _, amount in price.shares) == price.net
    assert price.lead_days == 15 + 6


def test_of_several_quotes_that_of_the_largest_number_of_sets_reached_counts() -> None:
    quotes = [replace(QUOTES[1], sets=n, prices={"B": p}) for n, p in ((5, 6.0), (1, 7.5), (20, 5.0))]
    found = job(quotes=quotes)
    assert [dict(found.quote("B", "folding", n).prices)["B"] for n in (1, 4, 5, 19, 20, 99)] == [7.5, 7.5, 6, 6, 5, 5]
    assert dict(job(quotes=quotes[:1]).quote("B", "folding", 1).prices) == {"B": 6.0}
    assert found.quote("A", "folding") is None


def test_quotes_stay_in_the_jobs_file(tmp_path: Path) -> None:
    file = tb.job.write_job(job(quotes=QUOTES), tmp_path)
    assert tb.job.read_job(file) == job(quotes=QUOTES)
    file.write_text(file.read_text().replace("A = 4.2", "A = -1"))
    with pytest.raises(tb.errors.BadFile, match="prices of 'A'"):
        tb.job.read_job(file)


def test_a_quotation_says_what_a_customer_needs_and_nothing_of_the_cost(price: Any, tmp_path: Path) -> None:
    made = offer(price, included=["Measuring."], terms=["House terms."])
    file = tb.job.write_quotation(made, tmp_path)
    text = text_of(file)
    for wanted in (
        *("Q-14", "2027-03-20", "Quillback Workshop", "Mill Lane 4", "T 00 11", "Farm Cooperative"),
        *(
            "Measuring.",
            "House terms.",
            "Fitting.",
            "until 2027-04-10",
            "21 days",
            "Deposit 40 %",
            "Tax 19 %",
            "in EUR",
        ),
        *("Place, date, signature", "C: these parts hold", "does not certify"),
        *(f"{amount:f}" for amount in (price.net, price.tax, price.gross, price.deposit)),
    ):
        assert wanted in text, wanted
    inside = {f"{k.amount:f}" for k in (*price.lines, *price.surcharges)} | {f"{price.cost:f}"}
    for secret in (*inside, "margin", "markup", "cost", "scrap", "Brook", "Weir", "4.2", "7.5", "58"):
        assert secret.lower() not in text.lower(), secret
    raw = file.read_bytes() + repr(made).encode()
    assert b"argin" not in raw and b"Brook" not in raw  # noqa: PT018 -- properties of the document too
    again = tb.job.write_quotation(made, tmp_path / "again.pdf")
    assert again.read_bytes() == file.read_bytes()


def test_an_offer_holds_no_longer_than_the_quotes_behind_it(price: Any) -> None:
    """30 days of the shop from the 1st of March end on the 31st, a day of the brake's quote on the 10th of April."""
    assert offer(price, day="2027-03-01").valid_until == "2027-03-31"
    assert offer(price, day="2027-04-10").valid_until == "2027-04-10"
    with pytest.raises(BadValue, match="Weir Brakes valid_until: '2027-04-10'"):
        offer(price, day="2027-04-11")
    open_end = replace(price, quotes=(replace(QUOTES[1], valid_until="", lead_days=None, sets=5),))
    assert {f.code for f in offer(open_end).findings} == {"offer.quote", "offer.lead", "offer.sets"}


def test_an_order_by_hand(nest: Any, tmp_path: Path) -> None:
    """3 x 4.20 + 18.00 = 30.60."""
    order = tb.job.purchase_order(nest, QUOTES[0], number="PO-7", day="2027-04-01", sender=US, supplier=LASER)
    assert order.total == Decimal("30.60")
    text = text_of(tb.job.write_order(order, tmp_path))
    for wanted in ("PO-7", "BL-88", "30.60", "12.60", "supply the metal", "within 6 days", "Place, date, signature"):
        assert wanted in text, wanted
    (tmp_path / "other.pdf").write_text("somebody's")
    with pytest.raises(CannotWrite, match="somebody else's work"):
        tb.job.write_order(order, tmp_path / "other.pdf")


def test_an_enquiry_holds_files_quantities_and_who_supplies_the_metal(nest: Any, tmp_path: Path) -> None:
    about = {"number": "E-3", "day": "2027-03-01", "sender": US, "supplier": LASER}
    file = tb.job.write_enquiry(nest, tmp_path, work="cutting", metal="supplier", sets=(1, 5), **about)
    with zipfile.ZipFile(file) as pack:
        rows = pack.read("parts.csv").decode().splitlines()
        text = text_of(pack.read("enquiry.pdf"))
        drawn = {n.split("/")[1]: pack.read(n).decode() for n in pack.namelist() if n.endswith(".dxf")}
    assert [row.split(",")[0:1] + row.split(",")[-3:-1] for row in rows[1:]] == [
        ["A", "3", "15"],
        ["B", "2", "10"],
        ["C", "1", "5"],
    ]
    assert "Please supply the metal" in text
    assert "C: with an EN 10204 certificate" in text
    assert all(len(ezdxf.read(io.StringIO(d)).modelspace()) for d in drawn.values())
    assert set(drawn) == {"A", "B", "C"}
    again = tb.job.write_enquiry(nest, tmp_path / "x.zip", work="cutting", metal="supplier", sets=(1, 5), **about)
    assert again.read_bytes() == file.read_bytes()


def test_papers_in_german_keep_numbers_and_what_was_typed(nest: Any, price: Any, tmp_path: Path) -> None:
    """DIN 5008: decimal comma, day.month.year."""
    for paper, wanted in (
        (tb.job.write_quotation(offer(price, language="de"), tmp_path), ("Angebot", "bis 10.04.2027", "Fitting.")),
        (tb.job.write_order(_order(nest, language="de"), tmp_path), ("Bestellung", "30,60", "01.04.2027", "BL-88")),
    ):
        text = text_of(paper)
        assert [w for w in wanted if w not in text] == []
        assert "2027-" not in text
        assert not re.search(r"\d\.\d\d(?!\.)\b(?!\.)", text.replace("10204", "")), "an amount with a point"
    file = tb.job.write_enquiry(
        nest, tmp_path, work="cutting", number="E", day="2027-04-01", sender=US, supplier=LASER, language="de"
    )
    with zipfile.ZipFile(file) as pack:
        assert "Bitte bieten Sie das Schneiden" in text_of(pack.read("enquiry.pdf"))
        assert pack.read("parts.csv").decode().startswith("Teil,")
    with pytest.raises(BadValue, match="language"):
        offer(price, language="xx")


@pytest.mark.full
def test_an_enquiry_for_folding_holds_solids_and_fold_sheets(nest: Any, tmp_path: Path) -> None:
    about: Any = {"number": "E-3", "day": "2027-03-01", "sender": US, "supplier": LASER}
    folded = tb.job.write_enquiry(nest, tmp_path / "f.zip", work="folding", **about)
    with zipfile.ZipFile(folded) as pack:
        kinds = sorted(n.rpartition(".")[2] for n in pack.namelist() if n.startswith("parts/B/"))
    assert kinds == ["dxf", "pdf", "step"]


def test_an_enquiry_that_fails_leaves_nothing(nest: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    about: Any = {"number": "E-3", "day": "2027-03-01", "sender": US, "supplier": LASER, "work": "cutting"}

    def full(thing: Any, *args: Any, **more: Any) -> Path:
        raise CannotWrite(f"{thing.part.number}: the disk is full")

    monkeypatch.setattr(enquiry, "write_dxf", full)
    with pytest.raises(CannotWrite, match="disk is full"):
        tb.job.write_enquiry(nest, tmp_path, **about)
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        (lambda n, p: Quote(work="painting", supplier="X", prices={"A": 1}), "work"),
        (lambda n, p: Quote(work="cutting", supplier="", prices={"A": 1}), "supplier"),
        (lambda n, p: Quote(work="cutting", supplier="X", prices={}), "at least one part"),
        (lambda n, p: Quote(work="cutting", supplier="X", prices={"A": float("nan")}), "prices of 'A'"),
        (lambda n, p: Quote(work="cutting", supplier="X", prices=None), "prices"),
        (lambda n, p: Quote(work="folding", supplier="X", prices={"A": 1}, metal="supplier"), "metal"),
        (lambda n, p: Quote(work="folding", supplier="X", prices={"A": 1}, valid_until="soon"), "valid_until"),
        (lambda n, p: Quote(work="folding", supplier="X", prices={"A": 1}, lead_days=-1), "lead_days"),
        (lambda n, p: job(quotes=[Quote(work="folding", supplier="X", prices={"Z": 1})]), "parts of the job: A, B, C"),
        (lambda n, p: job(quotes=[QUOTES[1], QUOTES[1]]), "one price for the folding of 1 sets"),
        (lambda n, p: job(quotes=["x"]), "SupplierQuote"),
        (lambda n, p: tb.job.Party(name=""), "name"),
        (lambda n, p: tb.job.Party(name="X", address=3), "address"),
        (lambda n, p: tb.job.Party(name="X", address="a\n" * 9), "address"),
        (lambda n, p: offer(p, number="a/b"), "quotation number"),
        (lambda n, p: offer(p, day=""), "day"),
        (lambda n, p: offer(p, day=20270301), "day"),
        (lambda n, p: offer(p, sender=None), "sender"),
        (lambda n, p: offer(p, excluded=None), "excluded"),
        (lambda n, p: offer(p, excluded="Fitting"), "excluded"),
        (lambda n, p: offer(p, valid_days=0), "valid_days"),
        (lambda n, p: offer(replace(p, valid_days=None)), "valid_days"),
        (lambda n, p: offer([]), "prices"),
        (lambda n, p: offer(None), "prices"),
        (lambda n, p: tb.job.write_quotation(None, "x.pdf"), "quotation"),
        (lambda n, p: _order(n, quote=replace(QUOTES[0], fixed=1)), "a quote of the job"),
        (lambda n, p: _order(n, day="2027-05-01"), "holds on"),
        (lambda n, p: _order(n, deliver_by="2027-03-01"), "deliver_by"),
        (lambda n, p: _order(n, number=None), "order number"),
        (lambda n, p: _ask(n, work="x"), "work"),
        (lambda n, p: _ask(n, metal="x"), "metal"),
        (lambda n, p: _ask(n, work="folding", metal="supplier"), "metal"),
        (lambda n, p: _ask(n, work="folding", parts=["A"]), "parts"),
        (lambda n, p: _ask(n, parts="A"), "parts"),
        (lambda n, p: _ask(n, parts=[]), "at least one part"),
        (lambda n, p: _ask(n, sets=(1, 1)), "sets"),
        (lambda n, p: _ask(n, sets=()), "sets"),
        (lambda n, p: _ask(n, reply_by="x"), "reply_by"),
    ],
)
def test_bad_values_are_named(nest: Any, price: Any, wrong: Any, said: str) -> None:
    with pytest.raises((BadValue, UnknownName), match=said):
        wrong(nest, price)


def _order(nest: Any, **more: Any) -> Any:
    given = {"quote": QUOTES[0], "number": "PO", "day": "2027-04-01", "sender": US, "supplier": LASER, **more}
    return tb.job.purchase_order(nest, given.pop("quote"), **given)


def _ask(nest: Any, **more: Any) -> Any:
    given = {"work": "cutting", "number": "E", "day": "2027-04-01", "sender": US, "supplier": LASER, **more}
    return tb.job.write_enquiry(nest, "nowhere.zip", **given)
