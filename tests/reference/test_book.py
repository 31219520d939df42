"""Every formula of `tinbook.calc` has a value from outside the project, which it gives, and names a known source."""

from __future__ import annotations

import math
import re

import pytest

import book_page
import tinbook as tb
from tinbook.calc.book import SEEN, Worked, book, formula
from tinbook.errors import BadValue, UnknownName

ROWS = [row for found in book() for row in found.worked]


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.call[:60])
def test_value(row: Worked) -> None:
    assert abs(row.differs) <= row.within + 1e-12, f"outside {row.value}, ours {row.ours}"
    assert row.seen in SEEN
    assert row.by


def test_every_formula_has_a_value_and_a_known_source() -> None:
    assert len(book()) > 130
    assert [f.name for f in book() if not f.worked] == [], "add a row to kit/tinbook/calc/values.csv"
    assert [f.name for f in book() if not f.sources and not f.name.endswith("_source")] == []
    assert len(ROWS) == len({row.call for row in ROWS})


def test_a_wrong_formula_would_be_seen() -> None:
    """Every row that states a number would fail if the formula were 5 % off, and most if it were 1 %."""
    stated = [row for row in ROWS if row.value and not math.isnan(row.value)]
    assert max(row.within for row in stated) <= 0.05
    assert sum(row.within < 0.01 for row in stated) > 0.9 * len(stated)


@pytest.mark.parametrize(
    ("words", "first"),
    [
        ("capstan", "straps.capstan"),
        ("CAPSTAN", "straps.capstan"),
        ("straps.capstan", "straps.capstan"),
        ("friction drum", "straps.capstan"),
        ("Euler Eytelwein", "straps.capstan"),
        ("hardness", "straps.rubber_modulus"),
        ("Leissa", "plates.clamped_frequency"),
        ("EN 1993-1-5", "buckling.effective_share"),
        ("snatch block", "towing.snatch_block_force"),
        ("ISO 15981", "rivets.rivet_length"),
        ("EN 10143", "sheet_tolerances.thickness_tolerance"),
        ("tendon", "shrinkage.tendon_force"),
    ],
)
def test_found_by_word_document_or_argument(words: str, first: str) -> None:
    found = [f.name for f in tb.formula(words)]
    assert first in found
    assert len(found) < 12


def test_a_clause_is_found_whole() -> None:
    """Table 3.4 of EN 1993-1-8 holds shear, bearing, tension, punching and both at once."""
    found = {f.name for f in formula("EN 1993-1-8 table 3.4")}
    assert {f"joints.bolt_{w}" for w in ("shear", "bearing", "tension", "punching", "combined")} <= found
    assert not any(name.startswith("plates") for name in found)


def test_a_card_says_what_it_rests_on() -> None:
    found = formula("capstan")
    text, html = repr(found), found._repr_html_()
    for words in ("e^(0.3 pi)", "2.566", "friction", "Eytelwein", "derived independently"):
        assert words in text
        assert words in html
    assert "no plug welds below 3 mm" in repr(formula("body_plug_weld")), "disagreements are part of it"
    many = formula("bolt")
    assert len(many) > 3
    assert repr(many).count("\n") == len(many) - 1
    assert many._repr_html_().count("<tr>") == len(many) + 1


@pytest.mark.parametrize("wrong", [None, 3, "", "   ", ["capstan"], math.nan])
def test_no_words(wrong: object) -> None:
    with pytest.raises(BadValue, match="a word, clause or symbol"):
        formula(wrong)  # type: ignore[arg-type]


def test_unknown_words_name_the_nearest() -> None:
    with pytest.raises(UnknownName, match="capstan"):
        formula("capstn")
    with pytest.raises(UnknownName, match=re.escape("one of")):
        formula("<script>" * 100)


def test_the_page_shows_the_rows_that_were_run() -> None:
    assert book_page.PAGE.read_text(encoding="utf-8") == book_page.page(), "run: python tests/book_page.py"
    assert book_page.page().count('<h4 id="') == len(book())
