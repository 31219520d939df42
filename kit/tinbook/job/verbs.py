"""The command line's verbs for a job: nest, price, stock."""

from __future__ import annotations

import argparse
from dataclasses import asdict
from pathlib import Path
from typing import Any

from tinbook.errors import BadFile, BadValue, Mistake, UnknownName
from tinbook.finding import NOTHING, Findings, caution
from tinbook.job.booked import booking_of
from tinbook.job.declared import Job
from tinbook.job.jobfile import read_job
from tinbook.job.layoutfile import read_layouts, write_layouts
from tinbook.job.lists import cut_list, mass_list, write_list
from tinbook.job.nested import nest_job
from tinbook.job.pricing.price import price_job
from tinbook.job.pricing.proposed import RateProposals, proposed_rates
from tinbook.job.purchases import purchase_list
from tinbook.job.sheets.cutfile import write_nest_dxf
from tinbook.job.sheets.paper import write_cut_sheets
from tinbook.job.stock.dump import dump_store
from tinbook.job.stock.rows import day_of
from tinbook.job.stock.store import Store
from tinbook.job.stock.values import NO_STOCK, Stock, StockSheet
from tinbook.shop.shop import Shop
from tinbook.write.drafts import together
from tinbook.write.files import ready_folder


def nest_verb(asked: argparse.Namespace) -> dict[str, Any]:
    """Nest a job file; with a folder write its cut files, cutting sheet and lists; with --book book it in the store."""
    job, shop, stock = job_of(asked)
    if asked.book and asked.stock is None:
        raise BadValue("--book", "no store", "--stock with the store's file beside it")
    if asked.layouts is not None:
        found = read_layouts(asked.layouts, job, shop, stock, sets=asked.sets)
    else:
        found = nest_job(job, shop, stock, sets=asked.sets, effort=asked.effort, seed=asked.seed)
    plans = found.plans()
    files: list[str] = []
    if asked.out is not None:
        out = ready_folder(asked.out)
        with together():
            written = [write_nest_dxf(p, out, job=job.number, replace=asked.replace) for p in plans]
            written += [write_layouts(found, out, replace=asked.replace)]
            written += [write_cut_sheets(plans, out, job=job.number, replace=asked.replace)] if plans else []
            written += [
                write_list(k, out / f"{job.number}_{name}.csv", replace=asked.replace)
                for name, k in (("cut", cut_list(found)), ("parts", mass_list(found)), ("buy", purchase_list(found)))
            ]
        files = [str(f) for f in written]
    back: list[str] = []
    if asked.book:
        with Store(asked.stock) as store:
            back = [o.key for o in store.book(booking_of(found, plans))]
    sheets = [
        {
            "sheet": p.sheet.key,
            "plate": p.layout.plate.name,
            "blanks": len(p.layout.placements),
            "metres": round(p.metres, 3),
            "pierces": p.pierces,
            "minutes": None if p.minutes is None else round(p.minutes, 2),
            "offcuts": len(p.offcuts),
        }
        for p in plans
    ]
    lines = [f"  {p.number}: {repr(p)[1:-1]}, {len(p.layout.placements)} blanks" for p in plans]
    lines += [f"  booked; offcuts {', '.join(back) or 'none'} go to the rack"] if asked.book else []
    facts = {"sets": found.sets, "sheets_to_cut": sheets, "booked": asked.book, "offcuts_back": back}
    return {"part": f"job {job.number}", "facts": facts, "lines": lines, "findings": found.findings, "files": files}


def price_verb(asked: argparse.Namespace) -> dict[str, Any]:
    """Price a job file for several numbers of sets."""
    job, shop, stock = job_of(asked)
    prices = price_job(job, shop, stock, sets=asked.sets, effort=asked.effort, seed=asked.seed)
    heads = ("", *(f"{p.sets} sets" for p in prices))
    table = [heads, *prices.rows()]
    widths = [max(len(row[k]) for row in table) for k in range(len(heads))]
    lines = [
        "  " + "  ".join(c.rjust(w) if k else c.ljust(w) for k, (c, w) in enumerate(zip(r, widths, strict=True)))
        for r in table
    ]
    lines += [f"  not in the price: {text}" for text in prices[0].not_priced]
    facts = [
        {
            "sets": p.sets,
            "currency": p.currency,
            **{n: str(getattr(p, n)) for n in ("cost", "net", "tax", "gross", "deposit", "each")},
            "lines": [dict(zip(_LINE, row, strict=True)) for row in p.rows()],
            "shares": {number: str(amount) for number, amount in p.shares},
            "not_priced": list(p.not_priced),
        }
        for p in prices
    ]
    today = day_of(None)
    ended = Findings(
        caution("price.quote", q.name, f"ended on {q.valid_until}", "ask again before anything is offered on it")
        for q in dict.fromkeys(q for p in prices for q in p.quotes)
        if q.expired(today)
    )
    return {"part": f"job {job.number}", "facts": {"prices": facts}, "lines": lines, "findings": ended, "files": []}


_LINE = ("stage", "part", "what", "quantity", "unit", "rate", "amount", "quantity_from", "rate_from", "assumed")


def stock_verb(asked: argparse.Namespace) -> dict[str, Any]:
    """Show a store, or change it by one of the options."""
    if not asked.receive and not asked.file.exists():
        raise BadFile(
            str(asked.file), [Mistake("file", "there is no store; valid: an existing one, or --receive to begin one")]
        )
    lines: list[str] = []
    files: list[str] = []
    new = None
    if asked.receive:
        sheet, length, width, count = asked.receive
        if not count.isascii() or not count.isdigit():
            raise BadValue("--receive quantity", count, "a whole number")
        new = StockSheet(
            sheet=sheet,
            length=length,
            width=width,
            quantity=int(count),
            **{
                n: v
                for n in ("price", "supplier", "heat", "certificate", "place")
                if (v := getattr(asked, n)) is not None
            },
        )
    with Store(asked.file) as store:
        if new is not None:
            lines.append(f"  received as {store.receive(new).key}")
        if asked.scrap:
            store.scrap(asked.scrap)
            lines.append(f"  {asked.scrap} is scrapped")
        if asked.cancel:
            store.cancel(asked.cancel)
            lines.append(f"  job {asked.cancel} is cancelled: its plates are back")
        if asked.dump:
            files.append(str(dump_store(store, asked.dump)))
        if asked.minutes:
            store.note_minutes(*asked.minutes)
            lines.append("  {0}: {2} x {1} in {3} min".format(*asked.minutes))
        proposed = proposed_rates(store, _shop_of(asked)) if asked.propose or asked.accept else RateProposals()
        if asked.accept:
            chosen = next((p for p in proposed if p.name == asked.accept), None)
            if chosen is None:
                raise UnknownName("--accept", asked.accept, [p.name for p in proposed])
            store.correct_rate(chosen.name, chosen.new)
            lines.append(f"  rate {chosen.name} is {chosen.new} {chosen.unit} from now on")
        elif asked.propose:
            lines += [
                f"  rate {name}: {now or 'none'} now, {new} {unit} proposed ({took})"
                for name, now, new, unit, took in (p.row() for p in proposed)
            ]
            lines += [] if proposed else ["  no rate is proposed: none was measured in five jobs, or all agree"]
        traced = store.trace(asked.trace) if asked.trace else ()
        lines += [
            f"  {t.count} x {t.number} from {t.plate}, heat {t.heat or 'unknown'}, {t.certificate}" for t in traced
        ]
        stock, jobs = store.snapshot(), store.jobs()
        damage = store.check()
    lines += [f"  {'  '.join(c for c in row if c)}" for row in stock.rows()]
    lines += [f"  job {j.number}, {j.sets} sets, {j.state} {j.day}" for j in jobs]
    lines += [f"  damaged: {text}" for text in damage]
    facts = {
        "stock": [dict(zip(_ROW, row, strict=True)) for row in stock.rows()],
        "jobs": [{"number": j.number, "sets": j.sets, "state": j.state, "day": j.day} for j in jobs],
        "traced": [asdict(t) for t in traced],
        "damage": list(damage),
        "proposed": [dict(zip(("rate", "now", "new", "unit", "minutes"), p.row(), strict=True)) for p in proposed],
    }  # fmt: skip
    return {"part": repr(stock)[1:-1], "facts": facts, "lines": lines, "findings": NOTHING, "files": files}


_ROW = ("number", "sheet", "size", "quantity", "place", "heat", "certificate", "price")


def _shop_of(asked: argparse.Namespace) -> Shop:
    return Shop.demo() if asked.shop is None else Shop.load(asked.shop)


def job_of(asked: argparse.Namespace) -> tuple[Job, Shop, Stock]:
    """Return the job of the file, its shop and the stock: what the options say, else the shop that the job names."""
    job = read_job(asked.file)
    named = asked.file.parent / job.shop if job.shop else None
    file = asked.shop or named
    shop = Shop.demo() if file is None else Shop.load(file)
    if asked.stock is None:
        return job, shop, NO_STOCK
    with existing_store(asked.stock) as store:
        return job, shop, store.snapshot({p.sheet for p in job.parts})


def existing_store(file: Path) -> Store:
    """Return a store that is there already; an option with a wrong path must not begin a new one."""
    if not file.exists():
        raise BadFile(str(file), [Mistake("file", "there is no store; valid: an existing one")])
    return Store(file)


def count(text: str) -> int:
    """Return the one number of sets of a text."""
    found = counts(text)
    if len(found) != 1:
        raise BadValue("--sets", text, "one whole number; only prices are given for several")
    return found[0]


def counts(text: str) -> tuple[int, ...]:
    """Return numbers of sets from a text such as "1,5,20"."""
    parts = text.split(",")
    if not all(p.strip().isascii() and p.strip().isdigit() for p in parts):
        raise BadValue("--sets", text, "whole numbers with commas, such as 1,5,20")
    return tuple(int(p) for p in parts)
