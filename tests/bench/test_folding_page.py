"""The page of a sequence of folds: every step, nothing fetched, the same bytes each time."""

from __future__ import annotations

import re
import subprocess
import sys
from html.parser import HTMLParser
from pathlib import Path

import pytest
from bench_hands import EVIL
from bench_samples import deep

import tinbook as tb
from tinbook.errors import BadValue
from tinbook.route.steps import FoldPlan
from tinbook.shop.shop import Shop
from tinbook.write.foldpage import SHARES, fold_page, write_fold_page


class Reader(HTMLParser):
    """Counts tags and collects whatever could make a page fetch something."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.asks: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.asks += [f"{tag} {k}" for k, v in attrs if k in ("src", "href", "xlink:href", "srcset", "action")]


def test_the_page_holds_every_step_and_fetches_nothing(box: FoldPlan, tmp_path: Path) -> None:
    file = write_fold_page(box, tmp_path)
    assert file.name == "BOX_A_DC01_1.5mm_x1_folds.html"
    text = file.read_text(encoding="utf-8")
    page = Reader()
    page.feed(text)
    assert page.asks == []
    assert page.tags.count("article") == 4
    assert page.tags.count("figure") == 4 * len(SHARES)
    assert page.tags.count("tr") == 5
    assert "@import" not in text
    assert "url(" not in text
    assert set(re.findall(r"https?://[^\s\"'<]+", text)) == {"http://www.w3.org/2000/svg"}
    for step in box.steps:
        assert f"Step {step.number} of 4: {step.action} {step.fold} up" in text
    assert len(text) < 250_000


def test_the_page_is_the_same_every_time(box: FoldPlan, root: Path, tmp_path: Path) -> None:
    code = (
        "import sys, tinbook as tb\n"
        "sys.stdout.buffer.write(tb.write_fold_page(tb.make(tb.families.folded_box(), tb.Shop.demo()), sys.argv[1]).read_bytes())"
    )
    for seed in ("1", "2"):
        done = subprocess.run(
            [sys.executable, "-c", code, str(tmp_path)],
            cwd=root,
            capture_output=True,
            check=True,
            env={"PYTHONPATH": "kit", "PYTHONHASHSEED": seed},
        )
        assert done.stdout == fold_page(box).encode("utf-8")


def test_the_page_of_a_part_that_cannot_be_folded_says_so(shop: Shop, tmp_path: Path) -> None:
    text = tb.write_fold_page(deep(shop, EVIL), tmp_path / "u.html").read_text(encoding="utf-8")
    assert "no order of folds" in text
    assert EVIL not in text
    assert "at most 29.7 mm long (tried)" in text
    assert text.count("<article") == 2


def test_bad_paths_write_nothing(box: FoldPlan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for path, words in ((tmp_path / "x.txt", r"ends in \.html"), (tmp_path / "none" / "x.html", "make it first")):
        with pytest.raises(BadValue, match=words):
            write_fold_page(box, path)
    from tinbook.write import foldpage

    def boom(*_: object) -> str:
        raise RuntimeError("in the middle")

    monkeypatch.setattr(foldpage, "fold_page", boom)
    with pytest.raises(RuntimeError):
        write_fold_page(box, tmp_path / "x.html")
    assert list(tmp_path.iterdir()) == []
