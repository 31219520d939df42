"""A letter on A4: who writes to whom, a title, facts, and a story that flows over pages."""

from __future__ import annotations

import os
from collections.abc import Sequence
from decimal import Decimal
from typing import Annotated, Any, Final

from tinbook.errors import BadValue
from tinbook.fields import Text, Word, check_fields, kinds
from tinbook.job.quoted import Day, Metal, Work
from tinbook.language import Language
from tinbook.part.partfile import read_row
from tinbook.shop.tomlfile import read_toml
from tinbook.values import dataclass
from tinbook.write.flowing import Area, Flowable, Table, fill, paragraph, table
from tinbook.write.page import BOLD, PLAIN, SIZES, Page

_WIDE, _HIGH = SIZES["A4"]
_EDGE: Final = 20.0
WIDTH: Final = _WIDE - 2 * _EDGE
"""mm between the margins."""
SIZE: Final = 9.0
"""Of letters, points."""
_FOOT, _SIGN = 26.0, 26.0
"""mm: where the content ends above the foot, and the height of the signatures."""
_FAINT: Final = "#5b656d"
_LINES: Final = Word(
    r"[^\x00-\x1f\x7f]{0,80}(?:\n[^\x00-\x1f\x7f]{0,80}){0,7}", "at most 8 lines of text, 80 characters each"
)
PAPER: Final = Word(r"[A-Za-z0-9][A-Za-z0-9._-]{0,39}", "1 to 40 letters, digits, '.', '_', '-', as in 'Q-2027-14'")
"""Number of a paper; it becomes part of its file's name."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Party:
    """Who writes a paper, or gets it.

    Parameters
    ----------
    name : str
        Of the company or person.
    address : str
        Lines below the name.
    contact : str
        Telephone, mail, a person's name.
    tax_number : str
        As the law asks for on offers and orders, "" for none.
    """

    name: Annotated[str, Text(most=80)]
    address: Annotated[str, _LINES] = ""
    contact: Annotated[str, Text(empty=True, most=120)] = ""
    tax_number: Annotated[str, Text(empty=True, most=40)] = ""

    def __post_init__(self) -> None:
        check_fields(self, f"party '{self.name}'")

    def lines(self, say: Language) -> tuple[str, ...]:
        """Return name, address, contact and tax number, a line each."""
        tax = say("Tax number {number}", number=self.tax_number) if self.tax_number else ""
        return tuple(filter(None, (self.name, *self.address.splitlines(), self.contact, tax)))


def read_party(path: str | os.PathLike[str]) -> Party:
    """Read who writes a paper, or gets it, from a TOML file with `name`, and `address`, `contact`, `tax_number` where known.

    Raises
    ------
    BadFile
        With every mistake, each with its line.
    """
    doc = read_toml(path)
    values = read_row(doc, (), doc.data, kinds(Party), ("name",))
    doc.raise_mistakes()
    assert values is not None
    return Party(**values)


def the_day(day: object, field: str = "day") -> str:
    """Return a date that is stated."""
    if not day:
        raise BadValue(field, day, "a date as '2027-03-31'")
    return Day().read(day, field)


def letter(
    title: str,
    number: str,
    sender: Party,
    to: Party,
    facts: Sequence[tuple[str, str]],
    story: Sequence[Flowable],
    say: Language,
    *,
    signers: Sequence[str],
    mark: str,
) -> bytes:
    """Return a letter as the bytes of a PDF.

    Parameters
    ----------
    title : str
        In large letters.
    number : str
        Of the paper, in the foot of every page.
    sender, to : Party
        Who writes to whom.
    facts : sequence of (str, str)
        Number, date, job: below the title.
    story : sequence of flowables
        The content, `WIDTH` wide.
    say : Language
        Of the words that stand on every letter.
    signers : sequence of str
        A line to sign for each.
    mark : str
        Of the stamp.
    """
    page = Page(_WIDE, _HIGH, f"{title} {number}", title, mark)
    left, top = list(story), _head(page, title, sender, to, facts, say)
    while True:
        left, y = fill(page, [Area(_EDGE, _FOOT, WIDTH, top - _FOOT)], left, say)
        if not left and y - _SIGN >= _FOOT:
            break
        page.next()  # the story goes on, or only the signatures do
        top = _HIGH - _EDGE
    _signatures(page, signers, y, say)
    foot: dict[str, Any] = {"align": "right", "colour": _FAINT}
    return page.done(
        lambda n, pages: page.text(
            _WIDE - _EDGE, 12.0, say("{kind}, page {n} of {all}", kind=number, n=n, all=pages), 7.5, **foot
        )
    )


def _head(page: Page, title: str, sender: Party, to: Party, facts: Sequence[tuple[str, str]], say: Language) -> float:
    """Draw sender, receiver, title and facts; return the y below them."""
    y = _HIGH - _EDGE
    page.text(_EDGE, y - 4, sender.name, 13, font=BOLD)
    for n, line in enumerate(sender.lines(say)[1:], 1):
        page.text(_EDGE, y - 4 - 4.6 * n, line, SIZE, colour=_FAINT)
    top = y - 16 - 4.6 * len(sender.lines(say))
    page.text(_EDGE, top, say("To"), 7.5, colour=_FAINT)
    for n, line in enumerate(to.lines(say), 1):
        page.text(_EDGE, top - 4.8 * n, line, 10, font=BOLD if n == 1 else PLAIN)
    for n, (name, value) in enumerate(facts, 1):
        page.text(_EDGE + 0.62 * WIDTH, top - 4.8 * n, name, SIZE, colour=_FAINT)
        page.text(_EDGE + 0.62 * WIDTH + 20, top - 4.8 * n, value, SIZE)
    y = top - 4.8 * max(len(to.lines(say)), len(facts)) - 14
    page.text(_EDGE, y, title, 16, font=BOLD)
    return y - 6


def _signatures(page: Page, signers: Sequence[str], y: float, say: Language) -> None:
    wide = (WIDTH - 10) / 2
    for n, who in enumerate(signers):
        x = _EDGE + n * (wide + 10)
        page.text(x, y - 5, who, SIZE)
        page.line((x, y - 19), (x + wide, y - 19), 0.2)
        page.text(x, y - 23, say("Place, date, signature"), 7.5, colour=_FAINT)


def amount(value: Decimal, say: Language) -> str:
    """Return an amount, or per cents, with the decimal sign of the language."""
    return f"{value:f}".replace(".", say.decimal)


def said(heading: str, *texts: str) -> list[Flowable]:
    """Return texts under a heading."""
    out = [paragraph(t, SIZE, heading=heading if not n else "") for n, t in enumerate(texts)]
    if out:
        out[-1].spaceAfter = SIZE
    return out


def listed(
    heads: Sequence[str], rows: Sequence[Sequence[Any]], right: Sequence[int] = (), by_hand: Sequence[int] = ()
) -> Flowable:
    """Return a table over the width of the page."""
    cells = tuple(tuple(str(cell) for cell in row) for row in rows)
    return table(Table(heads=tuple(heads), rows=cells, right=tuple(right), by_hand=tuple(by_hand)), WIDTH, SIZE - 1)


def supplied(work: Work, metal: Metal, say: Language) -> str:
    """Return who supplies the metal, or the blanks."""
    if work == "folding":
        return say("We supply the blanks, cut and deburred.")
    return say("We supply the metal.") if metal == "shop" else say("Please supply the metal.")


def certified(numbers: Sequence[str], say: Language) -> list[str]:
    """Return what a supplier of metal must show for parts that are traced; nothing without any."""
    text = say(
        "{numbers}: with an EN 10204 certificate and the heat number marked on each part.", numbers=", ".join(numbers)
    )
    return [text] * bool(numbers)
