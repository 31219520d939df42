"""Papers of a job for the workshop: what stands on them, in which language, and that no text stands on another."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

import tinbook as tb
from printed import faults, pieces
from tinbook.errors import TinbookError
from tinbook.job.papers.card import PLANNED
from tinbook.write.page import Page

SHOP = tb.Shop.demo()


def words(file: Path) -> str:
    return re.sub(r"\s+", " ", " ".join(p.extract_text() for p in PdfReader(io.BytesIO(file.read_bytes())).pages))


@pytest.fixture(scope="module")
def nested() -> Any:
    """Two angles with a hole in a language of signs, and a plate; a shop that states minutes."""
    base = tb.Outline.rectangle(120, 60)
    angle = (
        tb.Part("AN", rev="B", sheet="DC01 1.5", base=base, title="angle 1.5")
        .fold("front", "up", leg=30)
        .hole((60, 30), 8)
    )
    plate = tb.Part("PL", sheet="DC01 1.5", base=base, title="plate")
    rates = replace(
        SHOP.rates,
        fold=None,
        fold_setup=None,
        deburr_per_m=None,
        minutes=(("fold", 1.5), ("fold_setup", 12.0), ("deburr_per_m", 2.0)),
    )
    items = [tb.job.Item(thing=angle, quantity=3), tb.job.Item(thing=plate)]
    job = tb.Job(
        number="Q41", title="Two 1.5 mm things", items=items, due="2027-03-31", hours={"fitting": 1.5}, language="de"
    )
    return tb.job.nest_job(job, replace(SHOP, rates=rates), sets=2, effort=0)


def test_the_measure_finds_what_stands_on_another_or_leaves_the_paper() -> None:
    page = Page(100, 100, "t")
    page.text(20, 20, "abcdef")
    page.text(21, 20.5, "xyz")
    page.text(60, 60, "turned", turn=90)
    page.text(98, 80, "beyond the edge")
    page.text(20, 30, "alone")
    page.text(50, 90, "small", 6.9)
    data = page.done()
    assert sorted(faults(pieces(data))) == [
        ("abcdef", "xyz"),
        ("beyond the edge", "leaves the paper"),
        ("small", "6.9 points"),
    ]
    box = next(p.box for p in pieces(data) if p.text == "turned").bounds
    assert box[3] - box[1] > box[2] - box[0]


def test_the_job_card_says_who_does_what_in_how_many_minutes(nested: Any, tmp_path: Path) -> None:
    """By hand: 6 angles, one hit of 1.5 min each and one set-up of 12: 21 min; 1.5 h of fitting for each of 2 sets: 180 min.

    Edge of an angle: its blank and the hole, 2 min a metre.
    """
    file = tb.job.write_job_card(nested, tmp_path, language="en")
    said = words(file)
    made = nested.parts[0].made
    deburr = 2.0 * 6 * made.flat.cut_length / 1000
    assert "fitting Quillback Workshop 180" in said
    assert re.search(r"fold \S.*? 21 first part: the sizes below, before the rest is folded", said)
    assert f"deburr Quillback Workshop {deburr:.0f} " in said
    assert "AN rev B, angle 1.5, 6 off" in said
    assert "PL rev A, plate, 2 off" in said
    for size in tb.finished_sizes(made):
        assert f"{size.name} {size.nominal:.1f} ±{size.plus_minus:.2f}" in said
    assert "due 2027-03-31" in said
    assert {line.what for line in tb.job.price_nest(nested).lines if line.unit == "h" and line.number} <= PLANNED.keys()


def test_papers_speak_the_jobs_language_and_leave_what_was_typed(nested: Any, tmp_path: Path) -> None:
    files = tb.job.write_papers(nested, tmp_path)
    assert [f.name for f in files[:2]] == ["Q41_job_card.pdf", "Q41_cut_sheets.pdf"]
    assert len(files) == 4
    for file in files:
        every = pieces(file.read_bytes())
        assert faults(every) == []
        said = " ".join(p.text.strip() for p in every)
        assert re.search(r"Seite 1 von \d", said)
        for english in ("page", "Step", "Hole", "Material", "Cut by", "Stage", "Plate", "Measured", " off"):
            assert not re.search(rf"\b{english}\b", said), (file.name, english)
    assert "Two 1.5 mm things" in words(files[0]), "what was typed keeps its point"
    assert "fällig 31.03.2027" in words(files[0])
    assert "AN Rev. B, angle 1.5, 6 Stück" in words(files[0])
    again = tb.job.write_papers(nested, tmp_path / "again", parts=False)
    assert [f.read_bytes() for f in files[:2]] == [f.read_bytes() for f in again]


@pytest.mark.parametrize(
    "bad",
    [
        lambda n, p: tb.job.write_papers(None, p),
        lambda n, p: tb.job.write_papers(n.job, p),
        lambda n, p: tb.job.write_papers(n, None),
        lambda n, p: tb.job.write_papers(n, p / "x" / "y.pdf" / "\0"),
        lambda n, p: tb.job.write_papers(n, p, date=3),
        lambda n, p: tb.job.write_papers(n, p, despite=7),
        lambda n, p: tb.job.write_papers(n, p, replace="yes"),
        lambda n, p: tb.job.write_job_card(n, p, language="fr"),
        lambda n, p: tb.job.write_job_card(n, p, paper="A5"),
        lambda n, p: tb.job.write_job_card(n, p, paper=4),
        lambda n, p: tb.job.write_job_card(n, p / "card.txt"),
        lambda n, p: tb.job.write_job_card(n, p, date=None),
        lambda n, p: tb.job.write_job_card(n, p, assembled=(n,)),
        lambda n, p: tb.job.write_cut_sheets(n.plans(), p, language=3),
        lambda n, p: tb.job.write_cut_sheets(n.plans(), p, paper="letter"),
        lambda n, p: tb.job.write_cut_sheets(n.plans(), p, job=None),
        lambda n, p: tb.job.write_cut_sheets(None, p),
        lambda n, p: tb.write_sheet(n.parts[0].made, p, language=None),
        lambda n, p: tb.write_sheet(n.parts[0].made, p, language="EN"),
    ],
)
def test_bad_input_is_named_and_nothing_is_written(nested: Any, tmp_path: Path, bad: Any) -> None:
    with pytest.raises(TinbookError):
        bad(nested, tmp_path)
    assert [f for f in tmp_path.rglob("*") if f.is_file()] == []
