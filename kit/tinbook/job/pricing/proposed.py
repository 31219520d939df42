"""Rates that measured minutes propose; the user accepts one or not."""

from __future__ import annotations

from decimal import Decimal
from typing import Final

from tinbook.errors import BadValue, of_kind
from tinbook.htmltable import html_table
from tinbook.job.pricing.lines import Book
from tinbook.job.stock.store import Store
from tinbook.shop.rates import OPERATIONS
from tinbook.shop.shop import Shop
from tinbook.values import dataclass

JOBS: Final = 5
"""From how many jobs a rate is proposed: of its last five."""
_CENT: Final = Decimal("0.01")


@dataclass(frozen=True, slots=True, kw_only=True)
class RateProposal:
    """What the last jobs make of one rate.

    Parameters
    ----------
    name : str
        As `store.correct_rate` takes it: "fold" by piece, "minutes.fold" where the shop prices it by the hour.
    now : Decimal or None
        The rate that counts today, None where none is stated.
    new : Decimal
        Minutes over quantity of the last five jobs; by piece times the rate of an hour. Rounded to a hundredth.
    each : tuple of (str, Decimal)
        Minutes for one in each of these jobs.
    unit : str
        "min", or the shop's currency.
    """

    name: str
    now: Decimal | None
    new: Decimal
    each: tuple[tuple[str, Decimal], ...]
    unit: str

    def row(self) -> tuple[str, ...]:
        """Return it as a row of a table: what the jobs took shows how far they lie apart."""
        took = ", ".join(f"{job} {minutes:f}" for job, minutes in self.each)
        return self.name, "" if self.now is None else f"{self.now:f}", f"{self.new:f}", self.unit, took


class RateProposals(tuple[RateProposal, ...]):
    """Rates that are proposed; none of them counts before it is accepted."""

    __slots__ = ()

    def _repr_html_(self) -> str:
        heads = ("rate", "now", "proposed", "", "minutes for one, by job")
        return html_table(heads, [p.row() for p in self], notes=["store.correct_rate(name, new) accepts one"])


def proposed_rates(store: Store, shop: Shop) -> RateProposals:
    """Return what the measured minutes of the last five jobs make of the rates.

    Parameters
    ----------
    store : Store
        With minutes that `store.note_minutes` noted; its corrected rates count.
    shop : Shop
        Its rates.

    Returns
    -------
    RateProposals
        One for each operation (`tinbook.shop.rates.OPERATIONS`) that was measured in five jobs or more, where it differs
        from the rate that counts. Nothing is changed.

    Raises
    ------
    BadValue
        Minutes of work by piece, and neither shop nor store states the rate of an hour.
    """
    of_kind(store, Store, "store", "a tb.job.Store")
    of_kind(shop, Shop, "shop", "a Shop")
    book = Book(shop, store.snapshot(()))
    out = []
    for name in OPERATIONS:
        noted = store.minutes(name)[-JOBS:]
        if len(noted) < JOBS:
            continue
        minutes = sum((m for _, _, m in noted), Decimal(0)) / sum((q for _, q, _ in noted), Decimal(0))
        each = tuple((job, (m / q).quantize(_CENT)) for job, q, m in noted)
        by_hour = book.find(name) is None and book.find("minutes", name) is not None
        key, unit = (f"minutes.{name}", "min") if by_hour else (name, book.rates.currency)
        now = book.find("minutes", name) if by_hour else book.find(name)
        new = minutes if by_hour else minutes / 60 * _hour(book, name)
        new = new.quantize(_CENT)
        if now is None or now[0] != new:
            out.append(RateProposal(name=key, now=None if now is None else now[0], new=new, each=each, unit=unit))
    return RateProposals(out)


def _hour(book: Book, name: str) -> Decimal:
    found = book.find("hour")
    if found is None:
        raise BadValue("rates hour", None, f"the rate of an hour, from which minutes make the rate of '{name}'")
    return found[0]
