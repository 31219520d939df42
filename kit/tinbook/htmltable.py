"""Tables as HTML, for a notebook or a page: text escaped, colours left to the reader's light or dark setting."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape
from typing import Final, TypeAlias

CELL: Final = "text-align:left;vertical-align:top;padding:1px 10px 1px 0"
"""Style of a cell. It names no colour, so that a table takes ink and ground of its page, light or dark."""

FAINT: Final = "opacity:.7;font-weight:normal"

Cell: TypeAlias = str | tuple[str, str]
"""Plain text; or plain text and the CSS of its cell."""


def html_table(
    heads: Sequence[str], rows: Iterable[Sequence[Cell]], *, caption: str = "", notes: Iterable[str] = ()
) -> str:
    """Return a table as HTML.

    Parameters
    ----------
    heads : sequence of str
        Column headings; none for a table without a heading row.
    rows : iterable of sequence of cells
        Plain text, which is escaped here; a cell may be a pair of text and CSS.
    caption : str
        Above the table.
    notes : iterable of str
        Listed below the table.

    Returns
    -------
    str
        HTML without colours of its own.
    """
    top = f"<caption>{escape(caption)}</caption>" if caption else ""
    head = f"<thead><tr>{''.join(_cell('th', (h, FAINT)) for h in heads)}</tr></thead>" if heads else ""
    body = "".join(f"<tr>{''.join(_cell('td', c) for c in row)}</tr>\n" for row in rows)
    below = "".join(f"<li>{escape(n)}</li>" for n in notes)
    return f"<table>{top}{head}<tbody>{body}</tbody></table>\n" + (f"<ul>{below}</ul>\n" if below else "")


def _cell(tag: str, cell: Cell) -> str:
    text, css = (cell, "") if isinstance(cell, str) else cell
    return f'<{tag} style="{CELL}{";" if css else ""}{css}">{escape(text)}</{tag}>'
