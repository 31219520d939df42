"""What the verbs for a job's papers take on the command line; what they need is loaded when one of them runs."""

from __future__ import annotations

import argparse
from functools import partial
from pathlib import Path
from typing import Any


def path(text: str) -> Path:
    """Return a path that is stated: an empty one would be the current folder."""
    if not text.strip():
        raise argparse.ArgumentTypeError("an empty path; '.' is the current folder")
    return Path(text)


def nesting_options(verb: Any, sets: str, stock: str = "store from which sheets and offcuts are taken") -> None:
    """Add what every verb that nests takes."""
    verb.add_argument("--stock", type=path, help=stock)
    verb.add_argument("--sets", default=sets, help="how many sets")
    verb.add_argument("--effort", type=float, default=3.0, help="of nesting; 1 is about a second")
    verb.add_argument("--seed", type=int, default=0, help="of nesting; the same seed gives the same layouts")


def offer_verbs(verbs: Any, both: argparse.ArgumentParser, epilog: str) -> None:
    """Add the verbs for papers to customers and suppliers."""
    for name, what, to in (
        ("enquiry", "ask a laser or brake supplier: letter, list and files of the parts in one archive", "supplier"),
        ("quotation", "price a job file and write the offer to the customer", "customer"),
        ("order", "order what a supplier has quoted, as the job file says", "supplier"),
    ):
        verb = verbs.add_parser(name, help=what, description=what, parents=[both], epilog=epilog)
        verb.add_argument("file", type=path, help="the job file (TOML)")
        verb.set_defaults(run=partial(_run, name))
        nesting_options(verb, "1,5,20" if name == "quotation" else "1")
        party = "a TOML file with name, address, contact, tax_number"
        verb.add_argument("--sender", type=path, required=True, help=f"who writes: {party}")
        verb.add_argument("--to", type=path, required=True, help=f"the {to}: likewise")
        verb.add_argument("--number", required=True, help=f"of the {name}")
        verb.add_argument("--day", help="its date, as 2027-03-31; else today")
        verb.add_argument("--language", help="en, de, or a TOML file of words; else the job's")
        if name == "enquiry":
            verb.add_argument(
                "--work", choices=("cutting", "folding"), required=True, help="what the supplier shall do"
            )
            verb.add_argument("--metal", choices=("shop", "supplier"), default="shop", help="who supplies the metal")
            verb.add_argument("--parts", help="numbers of parts with commas; else all")
            verb.add_argument("--reply-by", default="", help="last day for the reply")
            verb.add_argument("--despite", help="a reason for sending files although something stops a part")
        if name == "quotation":
            for option, text in (("exclude", "what is not included"), ("include", "what else is"), ("term", "a term")):
                verb.add_argument(
                    f"--{option}", action="append", default=[], help=f"{text}; may be given several times"
                )
            verb.add_argument("--valid-days", type=int, help="days for which it holds; else the shop's")
        if name == "order":
            verb.add_argument("--quote", help="number or supplier of the quote, where the job has several")
            verb.add_argument("--deliver-by", default="", help="last day of delivery; else the quote's lead time")


def _run(name: str, asked: argparse.Namespace) -> dict[str, Any]:
    from tinbook.job.offers import verbs
    from tinbook.job.verbs import counts

    asked.sets = counts(asked.sets)
    run = {"enquiry": verbs.enquiry_verb, "quotation": verbs.quotation_verb, "order": verbs.order_verb}
    return run[name](asked)
