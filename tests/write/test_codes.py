"""The code in a paper's title strip, read by a decoder of its own."""

from __future__ import annotations

import io
import re
from pathlib import Path

import pytest
from pypdf import PdfReader

import tinbook as tb
from codes import modules, read_code
from tinbook.write.flowing import Area
from tinbook.write.page import Page
from tinbook.write.strip import draw_code


def test_the_code_holds_number_revision_and_the_hash_of_the_inputs(tmp_path: Path) -> None:
    """The hash is that of the file's mark, which stands in the document's keywords."""
    part = tb.Part("HN-7.x_2", rev="C", sheet="DC01 1.5", base=tb.Outline.rectangle(60, 40))
    data = tb.write_sheet(tb.make(part, tb.Shop.demo()), tmp_path).read_bytes()
    mark = str(PdfReader(io.BytesIO(data)).metadata)
    inputs = re.search(r"inputs=(\w{16})", mark)
    assert inputs is not None
    assert read_code(modules(data)) == f"HN-7.x_2 C {inputs[1]}"


@pytest.mark.parametrize("text", ["A", "x" * 40, "Größe 12 äöü", "9" * 90, "Q41 3 " + "f0" * 45])
def test_codes_of_every_size_are_read(text: str) -> None:
    page = Page(100, 100, "t")
    draw_code(page, text, Area(20, 20, 50, 50))
    grid = modules(page.done())
    assert read_code(grid) == text
    grid[len(grid) - 1][len(grid) - 1] ^= True
    with pytest.raises(AssertionError, match="check words"):
        read_code(grid)
