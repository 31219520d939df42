"""nest, price and stock on the command line: words, JSON, exit codes, and nothing changed by a mistake."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import ezdxf
import pytest

import tinbook as tb
from tinbook.__main__ import main

LASER = 'base = "demo"\n'


@pytest.fixture
def job_file(tmp_path: Path) -> Path:
    plate = tb.Part("PL", sheet="DC01 1.5", base=tb.Outline.rectangle(200, 100)).hole((50, 50), 9)
    (tmp_path / "shop.toml").write_text(LASER)
    job = tb.Job(number="Q41", prefix="Q41", items=[tb.job.Item(thing=plate, quantity=3)], shop="shop.toml")
    return tb.job.write_job(job, tmp_path)


def told(capsys: pytest.CaptureFixture[str], *words: object) -> dict[str, Any]:
    assert main([*map(str, words), "--json"]) == 0
    return json.loads(capsys.readouterr().out)


def test_a_job_from_its_file_to_the_rack(job_file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    store, out = tmp_path / "stock.db", tmp_path / "out"
    words = ("--receive", "DC01 1.5", "2000", "1000", 2, "--price", "41.20", "--heat", "H1", "--certificate", "3.1")
    assert main(["stock", str(store), *map(str, words)]) == 0
    assert "S1" in capsys.readouterr().out
    found = told(capsys, "nest", job_file, "--stock", store, "--effort", 0, "--out", out, "--book")
    assert [s["plate"] for s in found["facts"]["sheets_to_cut"]] == ["S1"]
    assert found["facts"]["offcuts_back"] == ["O1"]
    assert sorted(p.suffix for p in out.iterdir()) == [".csv", ".csv", ".csv", ".dxf", ".json", ".pdf"]
    dxf = next(out.glob("*.dxf"))
    assert len(ezdxf.readfile(dxf).modelspace().query("LWPOLYLINE[layer=='BLANK_EDGE']")) == 3
    shown = told(capsys, "stock", store, "--trace", "Q41-PL", "--dump", tmp_path / "d.jsonl")
    assert [(t["plate"], t["heat"], t["count"]) for t in shown["facts"]["traced"]] == [("S1", "H1", 3)]
    assert [(r["number"], r["quantity"]) for r in shown["facts"]["stock"]] == [("S1", "1"), ("O1", "1")]
    assert (tmp_path / "d.jsonl").exists()
    assert main(["nest", str(job_file), "--stock", str(store), "--effort", "0", "--book"]) == 2
    assert "a number that no job" in capsys.readouterr().err
    assert main(["stock", str(store), "--cancel", "Q41"]) == 0
    assert "plates are back" in capsys.readouterr().out


def test_measured_minutes_propose_a_rate_that_is_accepted(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Five jobs of 10 folds in 20 min: 2 min each, at 58 an hour 1.93."""
    store = tmp_path / "stock.db"
    tb.job.Store(store).close()
    for n in range(1, 6):
        assert main(["stock", str(store), "--minutes", f"Q{n}", "fold", "10", "20"]) == 0
    capsys.readouterr()
    (found,) = told(capsys, "stock", store, "--propose")["facts"]["proposed"]
    assert (found["rate"], found["now"], found["new"]) == ("fold", "1.8", "1.93")
    assert main(["stock", str(store), "--accept", "weld"]) == 2
    assert "fold" in capsys.readouterr().err
    assert main(["stock", str(store), "--accept", "fold"]) == 0
    assert "1.93" in capsys.readouterr().out
    with tb.job.Store(store) as kept:
        assert [(n, str(a)) for n, a in kept.snapshot().rates] == [("fold", "1.93")]


def test_without_a_folder_nothing_is_written(
    job_file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    (here := tmp_path / "here").mkdir()
    monkeypatch.chdir(here)
    assert told(capsys, "nest", job_file, "--effort", 0)["files"] == []
    assert not list(here.iterdir())
    with pytest.raises(SystemExit):
        main(["nest", str(job_file), "--out", ""])
    assert "an empty path" in capsys.readouterr().err


def test_prices_in_words_and_as_json(job_file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["price", str(job_file), "--effort", "0", "--sets", "1,4"]) == 0
    out = capsys.readouterr().out
    assert "1 sets" in out
    assert "net for one set" in out
    prices = told(capsys, "price", job_file, "--effort", 0, "--sets", "1,4")["facts"]["prices"]
    assert [p["sets"] for p in prices] == [1, 4]
    assert prices[0]["currency"] == "EUR"
    assert {"quantity", "rate", "amount", "rate_from"} <= set(prices[0]["lines"][0])


@pytest.fixture(scope="module")
def quoted(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("offers")
    (folder / "us.toml").write_text('name = "Quillback Workshop"\naddress = "Mill Lane 4\\nOtterford"\n')
    (folder / "them.toml").write_text('name = "Brook Laser"\n')
    (folder / "bad.toml").write_text("nane = 3\n")
    quote = tb.job.SupplierQuote(work="cutting", supplier="Brook Laser", number="BL-8", prices={"PL": 4.2}, fixed=18)
    plate = tb.Part("PL", sheet="DC01 1.5", base=tb.Outline.rectangle(200, 100), marking=False)
    job = tb.Job(number="Q41", items=[tb.job.Item(thing=plate, quantity=3)], quotes=[quote])
    return tb.job.write_job(job, folder)


def offer_words(verb: str, job: Path) -> list[object]:
    parties = ("--sender", job.parent / "us.toml", "--to", job.parent / "them.toml")
    return [verb, job, *parties, "--number", "N-1", "--day", "2027-03-01", "--effort", 0, "--out", job.parent / "out"]


def test_enquiry_quotation_and_order(quoted: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """3 x 4.20 and 18.00 once for the order: 30.60."""
    order = told(capsys, *offer_words("order", quoted))
    assert (order["facts"]["total"], order["facts"]["quote"]) == ("30.60", "quote BL-8 of Brook Laser")
    offer = told(
        capsys, *offer_words("quotation", quoted), "--sets", "1,5", "--exclude", "Fitting.", "--language", "de"
    )
    assert [p["sets"] for p in offer["facts"]["prices"]] == [1, 5]
    assert {f["code"] for f in offer["findings"]} >= {"offer.quote", "offer.lead"}
    asked = told(capsys, *offer_words("enquiry", quoted), "--work", "cutting", "--parts", "PL", "--sets", "1,5")
    written = [Path(f).name for paper in (order, offer, asked) for f in paper["files"]]
    assert written == ["N-1_order.pdf", "N-1_quotation.pdf", "N-1_enquiry.zip"]
    assert sorted(written) == sorted(f.name for f in (quoted.parent / "out").iterdir())


@pytest.mark.parametrize(
    ("verb", "more", "said"),
    [
        ("order", ["--quote", "Weir"], "BL-8"),
        ("order", ["--day", "soon"], "day"),
        ("order", ["--to", "{folder}/bad.toml"], "nane"),
        ("quotation", ["--sender", "{folder}/none.toml"], "none.toml"),
        ("quotation", ["--valid-days", "0"], "valid_days"),
        ("quotation", ["--language", "{folder}/us.toml"], "us.toml"),
        ("enquiry", ["--work", "cutting", "--parts", "X"], "parts"),
        ("enquiry", ["--work", "folding"], "at least one part for folding"),
        ("enquiry", ["--work", "cutting", "--number", "a/b"], "number"),
    ],
)
def test_bad_offers_are_exit_two_and_leave_no_paper(
    quoted: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], verb: str, more: list[str], said: str
) -> None:
    filled = [w.format(folder=quoted.parent) for w in more]
    assert main([*map(str, offer_words(verb, quoted)), "--out", str(tmp_path), *filled]) == 2
    assert said in capsys.readouterr().err
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["nest", "{none}"], "does not exist"),
        (["nest", "{job}", "--sets", "0"], "sets"),
        (["nest", "{job}", "--sets", "many"], "--sets"),
        (["nest", "{job}", "--book"], "--stock"),
        (["nest", "{job}", "--stock", "{none}"], "no store"),
        (["nest", "{job}", "--stock", "{job}"], "no store"),
        (["price", "{job}", "--sets", "1;5"], "--sets"),
        (["price", "{job}", "--effort", "nan"], "effort"),
        (["stock", "{none}"], "no store"),
        (["stock", "{job}"], "no store"),
        (["stock", "{none}", "--receive", "DC01 1.5", "2000", "1000", "-3"], "quantity"),
        (["stock", "{none}", "--receive", "DC01 1.5", "long", "1000", "3"], "length"),
        (["stock", "{none}", "--receive", "DC01 1.5", "2000", "1000", "3", "--price", "-4"], "price"),
    ],
)
def test_bad_input_is_exit_two_and_changes_nothing(
    job_file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], words: list[str], said: str
) -> None:
    before = sorted((p.name, p.read_bytes()) for p in tmp_path.iterdir())
    filled = [w.format(job=job_file, none=tmp_path / "none") for w in words]
    assert main(filled) == 2
    assert said in capsys.readouterr().err
    assert sorted((p.name, p.read_bytes()) for p in tmp_path.iterdir()) == before
