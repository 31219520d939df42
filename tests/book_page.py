"""Write docs/values.html, every formula with its worked values, from the package: `python tests/book_page.py`."""

from __future__ import annotations

from itertools import groupby
from pathlib import Path

from tinbook.calc import book

PAGE = Path(__file__).resolve().parents[1] / "docs" / "values.html"

HEAD = """<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>tinbook: book of values</title>
<style>
:root { color-scheme: light dark }
body { font: 16px/1.5 system-ui, sans-serif; max-width: 70em; margin: 2em auto; padding: 0 1em }
table { border-collapse: collapse; display: block; overflow-x: auto; margin: .5em 0 }
code { overflow-wrap: anywhere }
td:first-child { min-width: 16em; overflow-wrap: anywhere }
td:last-child { min-width: 16em }
section { margin-bottom: 2em }
</style>
</head>
<body>
<h1>Book of values</h1>
<p>Each formula of the kit: what it says, its arguments, its source, and values from outside beside what the kit reckons.
The tests run every row, and write this page. <code>tb.formula("capstan")</code> shows the same card in a notebook.</p>
<p>Formulas screen parts; they certify nothing. How far the outside value was seen stands behind it: a document's formula
worked by hand, a value derived independently, a text that quotes the document, or memory.</p>
"""


def page() -> str:
    """Return the page."""
    parts = [HEAD]
    for room, found in groupby(book.book(), key=lambda f: f.name.split(".")[0]):
        cards = "".join(f._repr_html_().replace("<h4>", f'<h4 id="{f.name}">') for f in found)
        parts.append(f"<section><h2>{room.replace('_', ' ')}</h2>\n{cards}</section>\n")
    return "".join(parts) + "</body>\n</html>\n"


if __name__ == "__main__":
    PAGE.parent.mkdir(exist_ok=True)
    PAGE.write_text(page(), encoding="utf-8")
