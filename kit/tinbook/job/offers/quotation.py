"""The quotation: what a customer is offered. Costs, rates and margin stay inside."""

from __future__ import annotations

import os
from collections.abc import Sequence
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Annotated, Final

from tinbook.errors import BadValue, of_kind
from tinbook.fields import Count, Several, Text
from tinbook.finding import NOTHING, Finding, Findings, caution
from tinbook.flatpattern import FlatPattern
from tinbook.htmltable import html_table
from tinbook.job.declared import Job
from tinbook.job.offers.letter import PAPER, Party, amount, letter, listed, said, the_day
from tinbook.job.pricing.price import Price
from tinbook.language import ENGLISH, Language, Spoken
from tinbook.values import dataclass
from tinbook.write.drafts import Draft
from tinbook.write.files import target
from tinbook.write.stamp import stamp_of_drawing

_TEXTS: Final = Several(Text(most=400), 0, 40, "texts")


@dataclass(frozen=True, slots=True, kw_only=True)
class Quotation:
    """What a customer is offered; it holds no cost, rate or margin.

    Parameters
    ----------
    number, day, job : str
        Its number and date; the job's number.
    sender, customer : Party
        Who offers to whom.
    items : tuple of (str, str, int, str)
        Number, title, quantity in one set and finish of what is delivered.
    prices : tuple of (int, Decimal, Decimal, Decimal, Decimal, Decimal)
        Number of sets, then net price of one set, net, tax, with tax, deposit.
    currency, tax_percent, deposit_percent, discount
        Of all of them.
    valid_until : str
        The last day: by the shop's days, no later than a supplier's quote behind it.
    lead_days : int or None
        From the order.
    delivery : bool
        Whether the shop delivers.
    included, excluded, terms : tuple of str
        What else belongs to it; what does not; further terms.
    traced : tuple of str
        Numbers of parts that hold when somebody is towed, winched or recovered.
    language : Language
        Of the paper.
    findings : Findings
        What whoever signs it should know. Not on the paper.
    """

    number: str
    day: str
    job: str
    sender: Party
    customer: Party
    items: tuple[tuple[str, str, int, str], ...]
    prices: tuple[tuple[int, Decimal, Decimal, Decimal, Decimal, Decimal], ...]
    currency: str
    tax_percent: Decimal
    deposit_percent: Decimal
    discount: float
    valid_until: str
    lead_days: int | None
    delivery: bool
    included: tuple[str, ...]
    excluded: tuple[str, ...]
    terms: tuple[str, ...]
    traced: tuple[str, ...]
    language: Language = ENGLISH
    findings: Findings = NOTHING

    @property
    def heads(self) -> tuple[str, ...]:
        """Headings of the prices."""
        say = self.language
        tax = say("Tax {percent} %", percent=amount(self.tax_percent, say))
        deposit = say("Deposit {percent} %", percent=amount(self.deposit_percent, say))
        return say("Sets"), say("One set, net"), say("Net"), tax, say("With tax"), deposit

    def rows(self) -> list[tuple[str, ...]]:
        """Return the prices as a table."""
        return [(str(sets), *(amount(a, self.language) for a in amounts)) for sets, *amounts in self.prices]

    def __repr__(self) -> str:
        return f"<quotation {self.number} for {self.customer.name}, valid until {self.valid_until}>"

    def _repr_html_(self) -> str:
        notes = [str(f) for f in self.findings]
        return html_table(self.heads, self.rows(), caption=f"{repr(self)[1:-1]}, {self.currency}", notes=notes)


def quotation(
    prices: Sequence[Price],
    *,
    number: str,
    day: str,
    sender: Party,
    customer: Party,
    excluded: Sequence[str],
    included: Sequence[str] = (),
    terms: Sequence[str] = (),
    valid_days: Annotated[int, Count(1, 1000)] | None = None,
    language: Language | str | None = None,
) -> Quotation:
    """Return the offer of a priced job to a customer.

    Parameters
    ----------
    prices : sequence of Price
        From `price_job` or `price_nest`, all of one job.
    number : str
        Of the quotation.
    day : str
        Its date, as "2027-03-31".
    sender, customer : Party
        Who offers to whom.
    excluded : sequence of str
        What is not included, in the customer's words; whatever the price does not count belongs here.
    included, terms : sequence of str
        What else is included, such as hours of fitting; further terms.
    valid_days : int, optional
        1 to 1000; else the shop's.
    language : Language or {"en", "de"}, optional
        Of the paper; else the job's. What you typed stays as it is.

    Returns
    -------
    Quotation
        Its `findings` say what no price counts and which quotes of suppliers stand behind it.

    Raises
    ------
    BadValue
        Prices of several jobs, a supplier's quote that has ended on that day, no validity stated, values out of range.
    """
    found = _prices(prices)
    job = found[0].job
    day = the_day(day)
    for field, party in (("sender", sender), ("customer", customer)):
        of_kind(party, Party, field, "a tb.job.Party")
    texts = {
        name: _TEXTS.read(value, name)
        for name, value in (("excluded", excluded), ("included", included), ("terms", terms))
    }
    lead = [p.lead_days for p in found if p.lead_days is not None]
    return Quotation(
        number=PAPER.read(number, "quotation number"),
        day=day,
        job=job.number,
        sender=sender,
        customer=customer,
        items=tuple(_items(job)),
        prices=tuple((p.sets, p.each, p.net, p.tax, p.gross, p.deposit) for p in found),
        currency=found[0].currency,
        tax_percent=found[0].tax_percent.normalize(),
        deposit_percent=found[0].deposit_percent.normalize(),
        discount=job.discount,
        valid_until=_valid_until(found, day, valid_days),
        lead_days=max(lead) if len(lead) == len(found) else None,
        delivery=job.delivery,
        traced=tuple(dict.fromkeys(p.number for p in job.parts if p.traced)),
        language=Spoken().read(job.language if language is None else language, "language"),
        findings=Findings(_findings(found)),
        **texts,
    )


def _prices(prices: Sequence[Price]) -> tuple[Price, ...]:
    found = (prices,) if isinstance(prices, Price) else tuple(prices) if isinstance(prices, list | tuple) else ()
    if not found or not all(isinstance(p, Price) for p in found) or any(p.job != found[0].job for p in found):
        raise BadValue("prices", prices, "prices of one job, as tb.job.price_job gives them")
    return found


def _items(job: Job) -> list[tuple[str, str, int, str]]:
    out = []
    for item in job.items:
        title = "" if isinstance(item.thing, FlatPattern) else item.thing.title
        out.append((job.numbered(item.number), title, item.quantity, item.finish))
    return out


def _valid_until(prices: Sequence[Price], day: str, valid_days: int | None) -> str:
    """Return the last day of an offer; refuse one that rests on a quote that has ended."""
    days = prices[0].valid_days if valid_days is None else Count(1, 1000).read(valid_days, "valid_days")
    if days is None:
        raise BadValue("valid_days", None, "days for which it holds, here or in the shop file under [rates]")
    ends = [(date.fromisoformat(day) + timedelta(days=days)).isoformat()]
    for quote in (q for p in prices for q in p.quotes):
        if quote.expired(day):
            raise BadValue(f"{quote.name} valid_until", quote.valid_until, f"a quote that holds on {day}; ask again")
        ends += [quote.valid_until] * bool(quote.valid_until)
    return min(ends)


def _findings(prices: Sequence[Price]) -> list[Finding]:
    job = prices[0].job.number
    out = [
        caution(
            "offer.not_priced", job, f"the price does not count: {text}", "state it, or exclude it in the quotation"
        )
        for text in dict.fromkeys(text for p in prices for text in p.not_priced)
    ]
    for p in prices:
        out += [
            caution("offer.sets", q.name, f"was quoted for {q.sets} sets and stands behind {p.sets}", "ask for a quote")
            for q in p.quotes
            if q.sets != p.sets
        ]
    for quote in dict.fromkeys(q for p in prices for q in p.quotes):
        if not quote.valid_until:
            out.append(caution("offer.quote", quote.name, "states no last day", "ask until when it holds"))
        if quote.lead_days is None:
            out.append(
                caution("offer.lead", quote.name, "states no lead time", "ask for it; the offer's does not count it")
            )
    return out


def write_quotation(offer: Quotation, path: str | os.PathLike[str], *, replace: bool = False) -> Path:
    """Write a quotation as PDF.

    Parameters
    ----------
    offer : Quotation
        From `quotation`.
    path : str or path-like
        File name ending in .pdf, or an existing folder.
    replace : bool
        Write over whatever is there; else only an earlier draft of the same number gives way.

    Returns
    -------
    Path
        The file: scope, what is not included, prices, lead time, validity, deposit, tax, lines to sign.
    """
    of_kind(offer, Quotation, "quotation", "what tb.job.quotation gives")
    name = f"{offer.number}_quotation"
    file = target(path, ".pdf", name)
    stamp = stamp_of_drawing(name, [repr(getattr(offer, f)) for f in Quotation.__slots__ if f != "findings"])
    say, deposit = offer.language, amount(offer.deposit_percent, offer.language)
    heads = say("Part"), say("Title"), say("Quantity"), say("Finish")
    cut = say("The price includes a discount of {percent} %.", percent=say.number(offer.discount, "g"))
    prices = [cut] * bool(offer.discount) + [say("No tax is added.")] * (not offer.tax_percent)
    collected = [] if offer.delivery else [say("Delivery: the goods are collected from the workshop.")]
    story = [
        *said(say("Scope"), say("One set holds:")),
        listed(heads, offer.items, right=(2,)),
        *said(say("Also included"), *offer.included),
        *said(say("Price"), say("All amounts in {currency}.", currency=offer.currency), *prices),
        listed(offer.heads, offer.rows(), right=range(len(offer.heads))),
        *said(say("Not included"), *offer.excluded, *collected),
        *said(say("Lead time"), *_lead(offer)),
        *said(say("Validity"), say("This quotation holds until {day}.", day=say.date(offer.valid_until))),
        *said(
            say("Payment"),
            say("Deposit of {percent} % of the price with tax with the order; the rest on delivery.", percent=deposit)
            if offer.deposit_percent
            else say("The whole price on delivery."),
        ),
        *said(say("Terms"), *offer.terms),
    ]
    if offer.traced:
        story += said(
            say("Safety"),
            say(
                "{numbers}: these parts hold when somebody is towed, winched or recovered, or hold the body. They are cut from "
                "metal with a heat number and an EN 10204 certificate. The calculation behind them screens and does not "
                "certify: a licensed engineer must sign them, and local vehicle codes come first.",
                numbers=", ".join(offer.traced),
            ),
        )
    data = letter(
        say("Quotation"),
        offer.number,
        offer.sender,
        offer.customer,
        ((say("Number"), offer.number), (say("Date"), say.date(offer.day)), (say("Job"), offer.job)),
        story,
        say,
        signers=(say("For {name}", name=offer.sender.name), say("Ordered as quoted, number of sets: ______")),
        mark=stamp.mark,
    )
    return Draft(file=file, stamp=stamp, replace=replace).write(data)


def _lead(offer: Quotation) -> list[str]:
    say, days = offer.language, offer.lead_days
    when = say("By agreement.") if days is None else say("{days} days from the order and the deposit.", days=days)
    return [when, *([say("Delivery to the customer's address.")] if offer.delivery else [])]
