"""The command line's verbs for papers that leave the office: enquiry, quotation, order."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from tinbook.errors import BadValue, UnknownName
from tinbook.finding import NOTHING
from tinbook.job.nested import nest_job
from tinbook.job.offers.enquiry import write_enquiry
from tinbook.job.offers.letter import read_party
from tinbook.job.offers.order import purchase_order, write_order
from tinbook.job.offers.quotation import quotation, write_quotation
from tinbook.job.pricing.price import price_job
from tinbook.job.quoted import SupplierQuote
from tinbook.job.stock.rows import day_of
from tinbook.job.verbs import job_of
from tinbook.language import SHIPPED, Language
from tinbook.write.files import ready_folder


def enquiry_verb(asked: argparse.Namespace) -> dict[str, Any]:
    """Write an enquiry to a laser or brake supplier: letter, list and the files of every part in one archive."""
    job, shop, stock = job_of(asked)
    head = _head(asked)
    found = nest_job(job, shop, stock, sets=asked.sets[0], effort=0, seed=asked.seed)
    parts = None if asked.parts is None else [p.strip() for p in asked.parts.split(",")]
    file = write_enquiry(
        found,
        ready_folder(asked.out or Path()),
        work=asked.work,
        metal=asked.metal,
        supplier=read_party(asked.to),
        parts=parts,
        sets=asked.sets,
        reply_by=asked.reply_by,
        despite=asked.despite,
        replace=asked.replace,
        **head,
    )
    facts = {"number": head["number"], "day": head["day"], "work": asked.work, "metal": asked.metal}
    return _told(job.number, facts, [f"  enquiry {head['number']} for {asked.work}"], NOTHING, file)


def quotation_verb(asked: argparse.Namespace) -> dict[str, Any]:
    """Price a job and write its quotation; what whoever signs it should know is said as findings."""
    job, shop, stock = job_of(asked)
    head, customer = _head(asked), read_party(asked.to)
    prices = price_job(job, shop, stock, sets=asked.sets, effort=asked.effort, seed=asked.seed)
    offer = quotation(
        prices,
        customer=customer,
        excluded=asked.exclude,
        included=asked.include,
        terms=asked.term,
        valid_days=asked.valid_days,
        **head,
    )
    file = write_quotation(offer, ready_folder(asked.out or Path()), replace=asked.replace)
    names = ("sets", "each", "net", "tax", "gross", "deposit")
    facts = {
        "number": offer.number,
        "day": offer.day,
        "valid_until": offer.valid_until,
        "lead_days": offer.lead_days,
        "currency": offer.currency,
        "prices": [dict(zip(names, (sets, *map(str, amounts)), strict=True)) for sets, *amounts in offer.prices],
    }
    lines = [
        f"  {sets} sets: {net} {offer.currency} net, {gross} with tax" for sets, _, net, _, gross, _ in offer.prices
    ]
    lines.append(f"  valid until {offer.valid_until}")
    return _told(job.number, facts, lines, offer.findings, file)


def order_verb(asked: argparse.Namespace) -> dict[str, Any]:
    """Write the purchase order for a quote of the job."""
    job, shop, stock = job_of(asked)
    head, supplier = _head(asked), read_party(asked.to)
    quote = _quote(job.quotes, asked.quote)
    found = nest_job(job, shop, stock, sets=asked.sets[0], effort=0, seed=asked.seed)
    order = purchase_order(found, quote, supplier=supplier, deliver_by=asked.deliver_by, **head)
    file = write_order(order, ready_folder(asked.out or Path()), replace=asked.replace)
    names = ("part", "rev", "sheet", "quantity", "each", "amount")
    rows = [(*row[:4], str(row[4]), str(row[5])) for row in order.lines]
    facts = {
        "number": order.number,
        "day": order.day,
        "supplier": supplier.name,
        "quote": quote.name,
        "currency": order.currency,
        "lines": [dict(zip(names, row, strict=True)) for row in rows],
        "fixed": str(order.fixed),
        "total": str(order.total),
    }
    return _told(job.number, facts, [f"  {repr(order)[1:-1]}"], NOTHING, file)


def _head(asked: argparse.Namespace) -> dict[str, Any]:
    """Return what every paper says of itself."""
    named = asked.language
    language = None if named is None else Language.of(named) if named in SHIPPED else Language.load(named)
    return {
        "number": asked.number,
        "day": day_of(asked.day),
        "sender": read_party(asked.sender),
        "language": language,
    }


def _quote(quotes: tuple[SupplierQuote, ...], named: str | None) -> SupplierQuote:
    """Return the quote of a number or a supplier; the only one where nothing is named."""
    found = [q for q in quotes if named is None or named in (q.number, q.supplier)]
    if len(found) == 1:
        return found[0]
    valid = [q.number or q.supplier for q in quotes]
    if named is not None and not found:
        raise UnknownName("--quote", named, valid)
    raise BadValue("--quote", named, f"one quote of the job by number or supplier: {', '.join(valid) or 'it has none'}")


def _told(number: str, facts: dict[str, Any], lines: list[str], findings: Any, file: Any) -> dict[str, Any]:
    return {"part": f"job {number}", "facts": facts, "lines": lines, "findings": findings, "files": [str(file)]}
