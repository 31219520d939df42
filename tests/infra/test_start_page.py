"""The page that opens first says what the notebooks say, and shows what they show."""

from __future__ import annotations

import re

import start_page

HOW = "run: python tests/start_page.py"


def test_the_page_is_what_the_script_writes_from_the_notebooks() -> None:
    assert (start_page.BOOKS / start_page.PAGE).read_text(encoding="utf-8") == start_page.page(), HOW


def test_every_notebook_has_its_picture_named_for_who_cannot_see_it() -> None:
    folder = start_page.BOOKS / "pictures"
    assert sorted(p.stem for p in folder.glob("*")) == [book.stem for book in start_page.books()], HOW
    for book in start_page.books():
        assert (folder / f"{book.stem}.svg").read_text(encoding="utf-8") == start_page.picture_of(book), HOW
    shown = re.findall(r'<img src=\\"pictures/([a-z0-9_]+)\.svg\\" alt=\\"([^"]+)\\"', start_page.page())
    assert [name for name, _ in shown] == [book.stem for book in start_page.books()]
    assert all(len(alt) > 5 for _, alt in shown)


def test_every_notebook_says_what_is_made_and_how_long_it_takes() -> None:
    text = start_page.page()
    assert text.count("**You make**: ") == len(start_page.books()) == len(re.findall(r"\*About \d+ min", text))
