"""A table read back by the standard library's own HTML parser: every text arrives, and nothing in it is markup."""

from __future__ import annotations

from html.parser import HTMLParser

import pytest

from tinbook.htmltable import html_table

NASTY = '<script>alert("1 & 2")</script>'


class Reader(HTMLParser):
    """Texts by the element that they stand in."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.texts: list[tuple[str, str]] = []
        self.styles: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.open.append(tag)
        self.styles += [value or "" for name, value in attrs if name == "style"]

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if data.strip():
            self.texts.append((self.open[-1], data))


@pytest.mark.parametrize("heads", [(), ("a", NASTY)])
def test_every_text_arrives_as_text(heads: tuple[str, ...]) -> None:
    reader = Reader()
    reader.feed(html_table(heads, [(NASTY, ("2 < 3", "color:red")), ("", "x")], caption=NASTY, notes=[NASTY]))
    assert reader.open == []
    said = [("caption", NASTY), *(("th", h) for h in heads), ("td", NASTY), ("td", "2 < 3"), ("td", "x"), ("li", NASTY)]
    assert reader.texts == said
    assert [s for s in reader.styles if "color" in s] == [s for s in reader.styles if s.endswith("color:red")]


def test_nothing_empty_is_written() -> None:
    assert all(tag not in html_table((), []) for tag in ("caption", "thead", "<ul>", "<tr>"))
