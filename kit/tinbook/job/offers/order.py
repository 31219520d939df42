"""The purchase order for work that a supplier has quoted."""

from __future__ import annotations

import os
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path

from tinbook.errors import BadValue, of_kind
from tinbook.flatpattern import FlatPattern
from tinbook.htmltable import html_table
from tinbook.job.nested import JobNest
from tinbook.job.offers.letter import PAPER, Party, letter, listed, said, the_day
from tinbook.job.offers.words import say
from tinbook.job.pricing.lines import Book, exact
from tinbook.job.quoted import SupplierQuote
from tinbook.write.drafts import Draft
from tinbook.write.files import target
from tinbook.write.stamp import stamp_of_drawing


@dataclass(frozen=True, slots=True, kw_only=True)
class PurchaseOrder:
    """What is ordered from a supplier.

    Parameters
    ----------
    number, day, job : str
        Its number and date; the job's number.
    sender, supplier : Party
        Who orders from whom.
    quote : SupplierQuote
        On which it rests.
    lines : tuple of (str, str, str, int, Decimal, Decimal)
        Part, revision, sheet, quantity, price each, amount.
    fixed, total : Decimal
        Once for the order; all of it without tax.
    currency : str
        Of all amounts.
    deliver_by : str
        Last day of delivery, "" for the quote's lead time.
    traced : tuple of str
        Parts whose metal needs a certificate.
    """

    number: str
    day: str
    job: str
    sender: Party
    supplier: Party
    quote: SupplierQuote
    lines: tuple[tuple[str, str, str, int, Decimal, Decimal], ...]
    fixed: Decimal
    total: Decimal
    currency: str
    deliver_by: str
    traced: tuple[str, ...]

    @property
    def heads(self) -> tuple[str, ...]:
        """Headings of the lines."""
        return say("part"), say("revision"), say("metal"), say("quantity"), say("each"), say("amount")

    def rows(self) -> list[tuple[str, ...]]:
        """Return the lines as a table, the sum last."""
        out = [(*row[:3], str(row[3]), f"{row[4]:f}", f"{row[5]:f}") for row in self.lines]
        out += [(say("fixed"), "", "", "1", f"{self.fixed:f}", f"{self.fixed:f}")] * bool(self.fixed)
        return [*out, (say("sum"), "", "", "", "", f"{self.total:f}")]

    def __repr__(self) -> str:
        return f"<order {self.number} to {self.supplier.name}: {self.total} {self.currency} without tax>"

    def _repr_html_(self) -> str:
        return html_table(self.heads, self.rows(), caption=repr(self)[1:-1])


def purchase_order(
    nest: JobNest, quote: SupplierQuote, *, number: str, day: str, sender: Party, supplier: Party, deliver_by: str = ""
) -> PurchaseOrder:
    """Return the order of what a supplier has quoted, in the quantities of a nested job.

    Parameters
    ----------
    nest : JobNest
        From `nest_job`: job, number of sets, shop.
    quote : SupplierQuote
        One of the job's quotes.
    number, day : str
        Of the order.
    sender, supplier : Party
        Who orders from whom.
    deliver_by : str
        Last day of delivery; "" for the quote's lead time.

    Returns
    -------
    PurchaseOrder

    Raises
    ------
    BadValue
        A quote that the job does not have, that has ended, that counts for none of its parts at this number of sets.
    """
    of_kind(nest, JobNest, "nest", "what tb.job.nest_job gives")
    day = the_day(day)
    if quote not in nest.job.quotes:
        raise BadValue(
            "quote", quote, f"a quote of the job: {', '.join(q.name for q in nest.job.quotes) or 'it has none'}"
        )
    if quote.expired(day):
        raise BadValue(f"{quote.name} valid_until", quote.valid_until, f"a quote that holds on {day}; ask again")
    for field, party in (("sender", sender), ("supplier", supplier)):
        of_kind(party, Party, field, "a tb.job.Party")
    by = the_day(deliver_by, "deliver_by") if deliver_by else ""
    if by and by < day:
        raise BadValue("deliver_by", by, f"a day from {day} on")
    mine = [p for p in nest.parts if nest.job.quote(p.part.number, quote.work, nest.sets) == quote]
    if not mine:
        raise BadValue("quote", quote.name, f"a quote that counts for {nest.sets} sets; another one does")
    book = Book(nest.shop, nest.stock)
    prices, lines = dict(quote.prices), []
    cents = book.money(Decimal(0))  # added, it makes a price print its cents
    for it in mine:
        count, each = it.part.quantity * nest.sets, exact(prices[it.part.number]) + cents
        rev = "" if isinstance(it.made, FlatPattern) else it.made.part.rev
        lines.append((it.part.number, rev, it.part.sheet, count, each, book.money(count * each)))
    fixed = book.money(exact(quote.fixed))
    return PurchaseOrder(
        number=PAPER.read(number, "order number"),
        day=day,
        job=nest.job.number,
        sender=sender,
        supplier=supplier,
        quote=quote,
        lines=tuple(lines),
        fixed=fixed,
        total=sum((row[5] for row in lines), fixed),
        currency=book.rates.currency,
        deliver_by=by,
        traced=tuple(p.part.number for p in mine if p.part.traced and quote.work == "cutting"),
    )


def write_order(order: PurchaseOrder, path: str | os.PathLike[str], *, replace: bool = False) -> Path:
    """Write a purchase order as PDF.

    Parameters
    ----------
    order : PurchaseOrder
        From `purchase_order`.
    path : str or path-like
        File name ending in .pdf, or an existing folder.
    replace : bool
        Write over whatever is there; else only an earlier draft of the same number gives way.

    Returns
    -------
    Path
        The file.
    """
    of_kind(order, PurchaseOrder, "order", "what tb.job.purchase_order gives")
    name = f"{order.number}_order"
    file = target(path, ".pdf", name)
    stamp = stamp_of_drawing(name, [repr(getattr(order, f)) for f in PurchaseOrder.__slots__])
    quote = order.quote
    when = [say("deliver by", day=order.deliver_by)] if order.deliver_by else []
    if not when and quote.lead_days is not None:
        when = [say("deliver within", days=quote.lead_days)]
    metal = say(f"metal {quote.metal}") if quote.work == "cutting" else say("blanks shop")
    certificate = [say("certificate", numbers=", ".join(order.traced))] * bool(
        order.traced and quote.metal == "supplier"
    )
    story = [
        *said(say(f"order {quote.work}"), say("your quote", quote=quote.name), metal, *certificate),
        listed(
            (*order.heads[:4], f"{order.heads[4]}, {order.currency}", order.heads[5]), order.rows(), right=(3, 4, 5)
        ),
        *said(say("terms"), *when, say("note")),
    ]
    facts = ((say("number"), order.number), (say("date"), order.day), (say("job"), order.job))
    signers = (say("for", name=order.sender.name),)
    data = letter(
        say("order"), order.number, order.sender, order.supplier, facts, story, signers=signers, mark=stamp.mark
    )
    return Draft(file=file, stamp=stamp, replace=replace).write(data)
