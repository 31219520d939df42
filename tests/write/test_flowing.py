"""Tables and text over columns and pages: nothing is lost, short tables stay whole, headings are repeated."""

from __future__ import annotations

import io
import re

from pypdf import PdfReader

from tinbook.write.flowing import GAP, Area, Table, fill, paragraph, section, table
from tinbook.write.page import Page


def pages(data: bytes) -> list[str]:
    return [re.sub(r"\s+", " ", p.extract_text()) for p in PdfReader(io.BytesIO(data)).pages]


def test_tables_flow_over_columns_and_pages_without_losing_a_row() -> None:
    page = Page(210, 297, "x")
    one = Table(heads=("No.", "Text"), rows=tuple((f"n{i}", "word " * (i % 7)) for i in range(90)))
    left = [table(one, 80, 6.5) for _ in range(3)]
    for _ in range(40):
        left, y = fill(page, [Area(10, 10, 80, 100), Area(100, 10, 80, 60)], left)
        assert y >= 10 - GAP - 1e-9
        if not left:
            break
        page.next()
    said = pages(page.done())
    assert re.findall(r"n\d+", " ".join(said)) == 3 * [f"n{i}" for i in range(90)]
    assert all(text.startswith("No. Text") for text in said)


def test_a_row_taller_than_its_column_goes_on_in_the_next() -> None:
    page = Page(210, 297, "x")
    left = [table(Table(heads=("Text",), rows=((" ".join(f"w{i}" for i in range(200)),), ("end",))), 20, 6.5)]
    for _ in range(99):
        left, _ = fill(page, [Area(10, 10, 20, 30)], left)
        if not left:
            break
        page.next()
    said = " ".join(pages(page.done()))
    assert re.findall(r"w\d+|end", said) == [*(f"w{i}" for i in range(200)), "end"]


def test_a_short_table_is_not_torn_and_a_long_text_goes_on_under_its_heading() -> None:
    page = Page(210, 297, "x")
    short = table(Table(heads=("Few",), rows=tuple((f"n{i}",) for i in range(9))), 60, 6.5)
    assert fill(page, [Area(10, 200, 60, 45)], [paragraph("word " * 60, 6.5), short])[0] == [short]
    page.next()
    text = section("Mind <b>", [f"a{i} & " * 99 for i in range(7)], 7.0)
    left, _ = fill(page, [Area(10, 10, 60, 100), Area(80, 10, 60, 100)], [*text, short])
    page.next()
    left, _ = fill(page, [Area(10, 10, 60, 100), Area(80, 10, 60, 100)], left)
    assert left == []
    _, first, second = pages(page.done())
    assert first.startswith("Mind <b> a0 & a0")
    assert first.count("Mind <b>, continued") == 1
    assert second.startswith("Mind <b>, continued a")
    assert re.search("Few n0 n1 n2 n3 n4 n5 n6 n7 n8 ?$", second)
