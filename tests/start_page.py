"""Write notebooks/00_start_here.ipynb and its pictures from the other notebooks: `python tests/start_page.py`.

The text comes from each notebook's first cell, the picture from its stored outputs, so nothing is said twice by hand.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

BOOKS = Path(__file__).resolve().parents[1] / "notebooks"
PAGE = "00_start_here.ipynb"
LARGEST = 110_000
"""Characters of a picture; a larger drawing of many members says nothing at this size."""
SHAPES = ("tb.workbench(", "folded_svg(", "assembled_svg(", "exploded_svg(")
"""What draws a thing in space; a flat pattern is the second choice."""
WORDS, LINES = 200, 4
"""Words read and lines of code worked through in a minute: our own estimate for a first reading."""

HEAD = """# Start here

One page for each kind of part or question. Each goes from what is measured or wanted to the files for the \
cutter and the folder, checks itself, and can be changed line by line. Run a page from its top: *Run*, *Run All Cells*.

New to the kit? Take [Your own part](16_your_own_part.ipynb) or [Folded channel](02_folded_channel.ipynb) first. Pages with a \
**workbench** have sliders, typed sizes and a picture in space; the cells below it go on with the part that it shows.

> **Caution.** The kit screens parts; it certifies nothing. Seats, belts, tanks and towing points need local rules and a \
licensed engineer."""


def books() -> list[Path]:
    """Return the numbered notebooks without the page itself, in order."""
    return sorted(p for p in BOOKS.glob("[0-9][0-9]_*.ipynb") if p.name != PAGE)


def text_of(cell: dict[str, Any]) -> str:
    """Return the source of a cell."""
    return "".join(cell["source"])


def pictures(cells: list[dict[str, Any]]) -> Iterator[tuple[int, int, str]]:
    """Yield the stored drawings that are small enough: first those in space, then flat ones, each in order."""
    for place, cell in enumerate(cells):
        if cell["cell_type"] != "code":
            continue
        for output in cell["outputs"]:
            svg = "".join(output.get("data", {}).get("image/svg+xml", ""))
            if svg and len(svg) <= LARGEST:
                yield 0 if any(word in text_of(cell) for word in SHAPES) else 1, place, svg


def picture_of(book: Path) -> str:
    """Return a notebook's picture as SVG."""
    return min(pictures(json.loads(book.read_text(encoding="utf-8"))["cells"]))[2]


def minutes(cells: list[dict[str, Any]]) -> int:
    """Return how long a notebook takes to read and work through, rounded to 5 min, at least 5."""
    words = sum(len(text_of(c).split()) for c in cells if c["cell_type"] == "markdown")
    lines = sum(1 for c in cells if c["cell_type"] == "code" for line in text_of(c).splitlines() if line.strip())
    return max(5, 5 * round((words / WORDS + lines / LINES) / 5))


def part_of(text: str, mark: str) -> str:
    """Return what a notebook's first cell says after a mark, in one line."""
    found = re.search(rf"\*\*{re.escape(mark)}\*\*:\s*(.+?)(?:\n\n|$)", text, re.DOTALL)
    if found is None:
        raise ValueError(f"no {mark!r} in: {text[:60]}")
    said = " ".join(found.group(1).split())
    return said[:1].upper() + said[1:]


def entry(book: Path) -> str:
    """Return the section about one notebook."""
    cells = json.loads(book.read_text(encoding="utf-8"))["cells"]
    first = text_of(cells[0])
    title = first.partition("\n")[0].removeprefix("# ")
    live = any(c["cell_type"] == "code" and "tb.workbench(" in text_of(c) for c in cells)
    about = " ".join(first.split("\n\n")[1].split())
    what = part_of(first, "What you will make")
    bench = ", with a workbench" if live else ""
    named = re.search("<title>([^<]+)</title>", picture_of(book))
    alt = named.group(1) if named else title
    return (
        f"## [{title}]({book.name})\n\n{about}\n\n"
        f'<img src="pictures/{book.stem}.svg" alt="{alt}" width="440">\n\n'
        f"**You make**: {what}\n\n*About {minutes(cells)} min{bench}.*"
    )


def page() -> str:
    """Return the notebook's text."""
    cells = [HEAD, *(entry(book) for book in books())]
    return (
        json.dumps(
            {
                "cells": [
                    {
                        "cell_type": "markdown",
                        "id": f"s{i:02}",
                        "metadata": {},
                        "source": text.splitlines(keepends=True),
                    }
                    for i, text in enumerate(cells)
                ],
                "metadata": {
                    "kernelspec": {"display_name": "Python 3", "language": "python", "name": "python3"},
                    "language_info": {"name": "python"},
                },
                "nbformat": 4,
                "nbformat_minor": 5,
            },
            indent=1,
            ensure_ascii=False,
        )
        + "\n"
    )


def main() -> None:
    """Write the page and its pictures."""
    (BOOKS / PAGE).write_text(page(), encoding="utf-8")
    folder = BOOKS / "pictures"
    folder.mkdir(exist_ok=True)
    for old in folder.glob("*.svg"):
        old.unlink()
    for book in books():
        (folder / f"{book.stem}.svg").write_text(picture_of(book), encoding="utf-8")


if __name__ == "__main__":
    main()
