"""Labels: each on its place of the sheet, nothing beyond its edge, nothing lost without a sign."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pypdf
import pytest

import tinbook as tb
from tinbook.job import Label, LabelSheet, write_labels
from tinbook.write.page import BOLD, PLAIN, text_width

MM = 72 / 25.4


def placed(file: Path) -> list[list[tuple[str, float, float, float]]]:
    """Return the texts of each page: text, x and y of its base line's start from the lower left corner, and width, mm."""
    pages = []
    for page in pypdf.PdfReader(file).pages:
        found: list[tuple[str, float, float, float]] = []

        def visit(text: str, cm: Any, tm: Any, font: Any, size: float, found: list[Any] = found) -> None:
            if text.strip():
                own = BOLD if "Bold" in font["/BaseFont"] else PLAIN
                x, y = (tm[4] * cm[0] + cm[4]) / MM, (tm[5] * cm[3] + cm[5]) / MM
                found.append((text.strip(), x, y, text_width(text.strip(), size, own)))

        page.extract_text(visitor_text=visit)
        pages.append(found)
    return pages


def test_each_label_stands_on_its_place(tmp_path: Path) -> None:
    """Three across and eight down on A4, 70 x 37 mm: label k of a sheet lies at 70 (k mod 3) and 297 - 0.5 - 37 (k div 3 + 1)."""
    labels = [Label(number=f"P{n}", mark="rev A", lines=("tray", "DC01 1.5")) for n in range(1, 27)]
    pages = placed(write_labels(labels, tmp_path, first=3))
    assert len(pages) == 2
    at = {text: (n, x, y) for n, page in enumerate(pages) for text, x, y, _ in page if text.startswith("P")}
    assert set(at) == {f"P{n}" for n in range(1, 27)}
    for n in range(1, 27):
        sheet, k = divmod(n + 1, 24)
        page, x, y = at[f"P{n}"]
        assert page == sheet
        assert 70 * (k % 3) < x < 70 * (k % 3) + 10
        assert 296.5 - 37 * (k // 3 + 1) < y < 296.5 - 37 * (k // 3)


def test_long_names_stay_inside_and_say_that_they_go_on(tmp_path: Path) -> None:
    long = Label(number="Q" * 52, mark="rev B, other hand", lines=("Ablage für die Kabine " * 9, "x" * 300), count=2)
    small = LabelSheet(width=40, height=30, columns=4, rows=8, left=5, top=10)
    (page,) = placed(write_labels([long], tmp_path, sheet=small))
    for _, x, y, wide in page:
        assert (x - 5) % 40 + wide <= 40
        assert 297 - 10 - 30 < y < 287
    assert page[-1][0].endswith("…")
    assert "".join(t for t, x, _, _ in page if not t.strip("Q") and x < 45) == "Q" * 52


def test_equal_labels_give_equal_bytes_and_other_files_stay(tmp_path: Path) -> None:
    (tmp_path / "b").mkdir()
    a, b = (write_labels([Label(number="äöü 12")], tmp_path / n) for n in (".", "b"))
    assert a.read_bytes() == b.read_bytes()
    other = tmp_path / "other.pdf"
    other.write_bytes(b"somebody's")
    with pytest.raises(tb.errors.CannotWrite):
        write_labels([Label(number="1")], other)
    assert other.read_bytes() == b"somebody's"


@pytest.mark.parametrize(
    "make",
    [
        lambda f: write_labels([], f), lambda f: write_labels(None, f), lambda f: write_labels("P1", f),
        lambda f: write_labels(["P1"], f), lambda f: write_labels([Label(number="1")], f, first=25),
        lambda f: write_labels([Label(number="1")], f, first=True), lambda f: write_labels([Label(number="1")], None),
        lambda f: write_labels([Label(number="1")], f, sheet="A4"), lambda f: write_labels([Label(number="1", count=20_000), Label(number="2")], f),
        lambda f: write_labels([Label(number="Q" * 60)], f, sheet=LabelSheet(width=20, height=15)),
        lambda f: Label(number=""), lambda f: Label(number=None), lambda f: Label(number="x" * 99), lambda f: Label(number="1", count=0),
        lambda f: Label(number="1", count=float("nan")), lambda f: Label(number="1", lines="text"), lambda f: Label(number="1", lines=(3,)),
        lambda f: LabelSheet(width=80), lambda f: LabelSheet(rows=0), lambda f: LabelSheet(width=float("nan")),
        lambda f: LabelSheet(paper="letter"), lambda f: LabelSheet(height=3, rows=1), lambda f: LabelSheet(left=-1),
    ],
)  # fmt: skip
def test_what_is_no_label_is_refused(make: Any, tmp_path: Path) -> None:
    with pytest.raises(tb.errors.TinbookError):
        make(tmp_path)
    assert not list(tmp_path.iterdir())
