"""Cards for the body speak the language that is asked for: every text of each card, and its numbers."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import pypdf
import pytest
from test_bracing import FLOOR, ROUND, SQUARE
from test_card import ONE, OTHER, PAN, SIDES
from test_host_cut import DATUMS, PLATE, WALL

import tinbook as tb

GERMAN = tb.Language.of("de")
NAMES = r"[\w/-]*(front|right|rear|left|side \d)[\w/ -]*|[A-Z0-9-]+|mm|[XYZ]"
"""What the user called his edges, points and members stays."""
ENGLISH = re.compile(
    r"\b(the|and|of|it|is|to|on|cut|lap|gap|edge|fold|drawn|measured|before|remedy|caution|mm apart)\b", re.I
)


@cache
def cards() -> list[Any]:
    return list(made_cards())


def made_cards() -> Iterator[Any]:
    wide = {**SIDES, "front": 404.5, "rear": 404.5}
    long, far = math.hypot(404.5, 300), math.hypot(391.5, 300)
    narrow = {**SIDES, "front": 391.5, "rear": 391.5}
    yield tb.fit.fit_card(PAN, wide, {ONE: long, OTHER: long}, legs={"left": 43}, blanks={"left": (438, 400.2)})
    opening = tb.Outline.rectangle(400, 300).offset(-20)
    for sides, diagonal in ((wide, long), (narrow, far), (SIDES, 500)):
        yield tb.fit.fit_card(PAN, sides, {ONE: diagonal, OTHER: diagonal}, opening=opening)
    yield tb.fit.fit_card(PAN, SIDES, {ONE: 500})
    yield tb.fit.host_cut(PAN, 15, clearance=1.5, welds=[(200, 21)], sheet=1.2, cutter=6).other_side()
    yield tb.fit.host_cut(PLATE, wall=WALL, clearance=1, datums=DATUMS, welds=[(-80, 20)], sheet=1)
    yield tb.fit.scribe_card(tb.Outline.rectangle(400, 300).rounded(60), 12, datums=((0, -300), (200, -300)))
    yield tb.fit.scribe_card(tb.Outline.rectangle(400, 300), 12)
    yield tb.fit.brace_card(SQUARE, ROUND)
    yield tb.fit.brace_card({"A": (0, 0, 4), "B": (800, 0, -3), "C": (800, 600, 40)}, scan=FLOOR)
    plate = tb.Part("HN-T1", sheet="DC01 2.0", base=tb.Outline.rectangle(400, 300))
    for at in ((30, 30), (370, 30), (370, 270)):
        plate = plate.hole(at, 9)
    yield tb.fit.table_card(tb.make(plate, tb.Shop.demo()), datum=("1", "2"))


@pytest.mark.parametrize("n", range(12))
def test_every_text_of_a_card_is_said_in_german(n: int, tmp_path: Path) -> None:
    card = cards()[n]
    drawing = card.drawing()
    told = drawing.retold(GERMAN)
    pairs = [
        (drawing.heading, told.heading),
        (drawing.view, GERMAN.retold(drawing.view)),
        *zip(drawing.notes, told.notes, strict=True),
    ]
    pairs += [(a.text, b.text) for a, b in zip(drawing.lines, told.lines, strict=True)]
    for a, b in zip(drawing.numbers, told.numbers, strict=True):
        pairs += [(str(h), GERMAN(h)) for h in a.heads]
        pairs += [pair for x, y in zip(a.rows, b.rows, strict=True) for pair in zip(x, y, strict=True)]
    worded = [(old, new) for old, new in pairs if re.search("[A-Za-z]{2}", old) and not re.fullmatch(NAMES, old)]
    assert worded
    assert [old for old, new in worded if old == new and not re.fullmatch(r"[xyz], mm", old)] == []
    assert [new for _, new in worded if ENGLISH.search(new)] == []
    assert [new for _, new in pairs if re.search(r"\d\.\d", new)] == []
    page = "".join(p.extract_text() for p in pypdf.PdfReader(tb.write.write_card(card, tmp_path, language="de")).pages)
    said = re.sub(r"\s", "", page)
    assert all(
        re.sub(r"\s", "", text) in said for text in (told.notes[0], *(r[0] for n in told.numbers for r in n.rows))
    )
    template = tb.write_template(card, tmp_path, language="de")
    assert "Schablone" in pypdf.PdfReader(template).pages[0].extract_text()


def test_a_language_that_is_none_is_refused(tmp_path: Path) -> None:
    card = tb.fit.brace_card(SQUARE, ROUND)
    for wrong in ("fr", {}, 3, None, True):
        with pytest.raises(tb.errors.BadValue, match="language"):
            tb.write.write_card(card, tmp_path, language=wrong)  # type: ignore[arg-type]
    with pytest.raises(tb.errors.BadValue, match="language"):
        tb.write_fit_card(PAN, SIDES, {ONE: 500, OTHER: 500}, tmp_path, language="Deutsch")
    assert list(tmp_path.iterdir()) == []
    paper = tb.write_fit_card(PAN, SIDES, {ONE: 500, OTHER: 500}, tmp_path, language="de")
    assert "Passkarte von HN-C1" in pypdf.PdfReader(paper).pages[0].extract_text()
