"""The words of the offer's papers, in one place."""

from __future__ import annotations

from typing import Final

WORDS: Final[dict[str, str]] = {
    # on every paper
    "to": "To",
    "from": "From",
    "number": "Number",
    "date": "Date",
    "job": "Job",
    "page": "{number}, page {page} of {pages}",
    "tax number": "Tax number {number}",
    "signed": "Place, date, signature",
    "for": "For {name}",
    # table heads
    "part": "part",
    "revision": "rev",
    "title": "title",
    "quantity": "quantity",
    "finish": "finish",
    "metal": "metal",
    "size": "size, mm",
    "files": "files",
    "work": "work",
    "each": "price each",
    "amount": "amount",
    "sets": "sets",
    "one set": "one set, net",
    "net": "net",
    "tax": "tax {percent} %",
    "gross": "with tax",
    "deposit": "deposit {percent} %",
    # quotation
    "quotation": "Quotation",
    "scope": "Scope",
    "one set holds": "One set holds:",
    "also": "Also included",
    "price": "Price, {currency}",
    "excluded": "Not included",
    "no delivery": "Delivery: the goods are collected from the workshop.",
    "delivery": "Delivery to the customer's address.",
    "no tax": "No tax is added.",
    "discount": "The price includes a discount of {percent} %.",
    "lead time": "Lead time",
    "lead days": "{days} days from the order and the deposit.",
    "no lead days": "By agreement.",
    "validity": "Validity",
    "valid until": "This quotation holds until {day}.",
    "payment": "Payment",
    "deposit first": "Deposit of {percent} % of the price with tax with the order; the rest on delivery.",
    "no deposit": "The whole price on delivery.",
    "terms": "Terms",
    "safety": "Safety",
    "traced": (
        "{numbers}: these parts hold when somebody is towed, winched or recovered, or hold the body. They are cut from metal "
        "with a heat number and an EN 10204 certificate. The calculation behind them screens and does not certify: a licensed "
        "engineer must sign them, and local vehicle codes come first."
    ),
    "accepted": "Ordered as quoted, number of sets: ______",
    # enquiry
    "enquiry": "Enquiry",
    "for sets": "for {n}",
    "price at": "price at {n}",
    "sets asked": "Quantities and prices for these numbers of sets: {sets}.",
    "enquiry cutting": "Please quote for cutting the parts below.",
    "enquiry folding": "Please quote for folding the parts below.",
    "metal shop": "We supply the metal.",
    "metal supplier": "Please supply the metal.",
    "blanks shop": "We supply the blanks, cut and deburred.",
    "certificate": "{numbers}: with an EN 10204 certificate and the heat number marked on each part.",
    "reply": "Your quote",
    "reply by": "Please reply by {day}.",
    "reply asks": (
        "Price of each part without tax; what set-up, packing and carriage cost once for the order; until when the quote holds; "
        "days from order to delivery; whether edges come deburred."
    ),
    "fixed": "set-up, packing and carriage, once",
    "holds until": "quote holds until",
    "days": "days from order to delivery",
    "deburred": "edges deburred (yes / no)",
    "finished size": "DXF files are drawn at finished size in mm, one part each. STEP files show the folded part.",
    # purchase order
    "order": "Purchase order",
    "your quote": "As in your {quote}.",
    "order cutting": "Cutting",
    "order folding": "Folding",
    "sum": "sum without tax",
    "deliver by": "Delivery by {day}.",
    "deliver within": "Delivery within {days} days.",
    "note": "Please confirm this order with number and day of delivery.",
}
"""Each text by a short name; what stands in braces is filled in."""


def say(text: str, /, **values: object) -> str:
    """Return a text by its short name, with its values filled in."""
    return WORDS[text].format(**values)
