"""The purchase order for work that a supplier has quoted."""

from __future__ import annotations

import os
from decimal import Decimal
from pathlib import Path

from tinbook.errors import BadValue, of_kind
from tinbook.htmltable import html_table
from tinbook.job.nested import JobNest
from tinbook.job.offers.letter import PAPER, Party, amount, certified, letter, listed, said, supplied, the_day
from tinbook.job.pricing.lines import Book, exact
from tinbook.job.quoted import SupplierQuote
from tinbook.language import ENGLISH, Language, Spoken
from tinbook.values import dataclass
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
    language : Language
        Of the paper.
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
    language: Language = ENGLISH

    @property
    def heads(self) -> tuple[str, ...]:
        """Headings of the lines."""
        return tuple(map(self.language, ("Part", "Rev", "Sheet", "Quantity", "Price each", "Amount")))

    def rows(self) -> list[tuple[str, ...]]:
        """Return the lines as a table, the sum last."""
        say = self.language
        out = [(*row[:3], str(row[3]), amount(row[4], say), amount(row[5], say)) for row in self.lines]
        if self.fixed:
            fixed = amount(self.fixed, say)
            out.append((say("Set-up, packing and carriage, once"), "", "", "1", fixed, fixed))
        return [*out, (say("Sum without tax"), "", "", "", "", amount(self.total, say))]

    def __repr__(self) -> str:
        return f"<order {self.number} to {self.supplier.name}: {self.total} {self.currency} without tax>"

    def _repr_html_(self) -> str:
        return html_table(self.heads, self.rows(), caption=repr(self)[1:-1])


def purchase_order(
    nest: JobNest,
    quote: SupplierQuote,
    *,
    number: str,
    day: str,
    sender: Party,
    supplier: Party,
    deliver_by: str = "",
    language: Language | str | None = None,
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
    language : Language or {"en", "de"}, optional
        Of the paper; else the job's.

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
        lines.append((it.part.number, it.rev, it.part.sheet, count, each, book.money(count * each)))
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
        language=Spoken().read(nest.job.language if language is None else language, "language"),
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
    quote, say = order.quote, order.language
    when = [say("Delivery by {day}.", day=say.date(order.deliver_by))] if order.deliver_by else []
    if not when and quote.lead_days is not None:
        when = [say("Delivery within {days} days.", days=quote.lead_days)]
    certificate = certified(order.traced, say) if quote.metal == "supplier" else []
    heads = (*order.heads[:4], f"{order.heads[4]}, {order.currency}", order.heads[5])
    story = [
        *said(
            say("Cutting") if quote.work == "cutting" else say("Folding"),
            say("As in your {quote}.", quote=_named(quote, say)),
            supplied(quote.work, quote.metal, say),
            *certificate,
        ),
        listed(heads, order.rows(), right=(3, 4, 5)),
        *said(say("Terms"), *when, say("Please confirm this order with number and day of delivery.")),
    ]
    facts = ((say("Number"), order.number), (say("Date"), say.date(order.day)), (say("Job"), order.job))
    signers = (say("For {name}", name=order.sender.name),)
    title = say("Purchase order")
    data = letter(
        title, order.number, order.sender, order.supplier, facts, story, say, signers=signers, mark=stamp.mark
    )
    return Draft(file=file, stamp=stamp, replace=replace).write(data)


def _named(quote: SupplierQuote, say: Language) -> str:
    """Return the quote as its supplier knows it."""
    return say("quote {number}", number=quote.number) if quote.number else say("quote")
