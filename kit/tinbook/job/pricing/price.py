"""The price of a job: lines, surcharges, totals, and each part's share of the whole."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from decimal import Decimal
from functools import partial
from typing import Any

from tinbook.errors import BadValue, of_kind
from tinbook.executors import sweep
from tinbook.htmltable import html_table
from tinbook.job.declared import Job
from tinbook.job.nested import JobNest, nest_job
from tinbook.job.pricing.lines import HUNDRED, ROUNDING, Book, Line, shared
from tinbook.job.pricing.work import job_lines, material_lines, not_priced, part_lines, quotes_used
from tinbook.job.quoted import SupplierQuote
from tinbook.job.stock.values import NO_STOCK, Stock
from tinbook.shop.shop import Shop
from tinbook.values import dataclass

HEADS = ("stage", "part", "what", "quantity", "", "rate", "amount", "quantity from", "rate from", "assumed")


@dataclass(frozen=True, slots=True, kw_only=True)
class Price:
    """The price of a number of sets of a job.

    Parameters
    ----------
    job : Job
        What is priced.
    sets : int
        How many sets.
    currency, decimals : str, int
        Of all amounts.
    lines : tuple of Line
        Metal, work and bought items.
    surcharges : tuple of Line
        Consumables, scrap, margin or markup, minimum, discount: percentages of what stands above them.
    cost, net, tax, gross, deposit : Decimal
        Sum of lines, consumables and scrap; price without tax; tax; price with tax; what is paid in advance.
    shares : tuple of (str, Decimal)
        Share of the net price by part; their sum is the net price to the cent.
    not_priced : tuple of str
        What no line counts.
    valid_days, lead_days : int or None
        For how long an offer holds; how long the work takes, the suppliers' longest lead time before it.
    tax_percent, deposit_percent : Decimal
        As the shop states them.
    quotes : tuple of SupplierQuote
        What suppliers quoted and the price counts with.
    """

    job: Job
    sets: int
    currency: str
    decimals: int
    lines: tuple[Line, ...]
    surcharges: tuple[Line, ...]
    cost: Decimal
    net: Decimal
    tax: Decimal
    gross: Decimal
    deposit: Decimal
    shares: tuple[tuple[str, Decimal], ...]
    not_priced: tuple[str, ...]
    valid_days: int | None = None
    lead_days: int | None = None
    tax_percent: Decimal = Decimal(0)
    deposit_percent: Decimal = Decimal(0)
    quotes: tuple[SupplierQuote, ...] = ()

    @property
    def each(self) -> Decimal:
        """Net price of one set, rounded for reading: the sets together cost `net`."""
        return (self.net / self.sets).quantize(Decimal(1).scaleb(-self.decimals))

    def stage(self, name: str) -> Decimal:
        """Return the sum of the lines of a stage."""
        return sum((k.amount for k in self.lines if k.stage == name), Decimal(0))

    def rows(self) -> list[tuple[str, ...]]:
        """Return all lines as a table."""
        return [
            (
                k.stage,
                k.number,
                k.what,
                format(k.quantity, "f"),
                k.unit,
                format(round(k.rate, 6).normalize(), "f"),
                format(k.amount, "f"),
                k.quantity_from,
                k.rate_from,
                k.assumed,
            )
            for k in (*self.lines, *self.surcharges)
        ]

    def __repr__(self) -> str:
        return f"<price of {self.job.number}, {self.sets} sets: {self.net} {self.currency} net, {self.gross} with tax>"

    def _repr_html_(self) -> str:
        totals = (
            f"cost {self.cost}, net {self.net}, tax {self.tax}, with tax {self.gross}, "
            f"deposit {self.deposit} {self.currency}"
        )
        notes = [totals, *(f"not in the price: {n}" for n in self.not_priced), ROUNDING]
        return html_table(HEADS, self.rows(), caption=repr(self)[1:-1], notes=notes)


class Prices(tuple[Price, ...]):
    """Prices of several numbers of sets; shows them side by side."""

    __slots__ = ()

    def of(self, sets: int) -> Price:
        """Return the price of a number of sets."""
        for price in self:
            if price.sets == sets:
                return price
        raise BadValue("sets", sets, "one of: " + ", ".join(str(p.sets) for p in self))

    def rows(self) -> list[tuple[str, ...]]:
        """Return a row for each stage and total, a column for each number of sets."""
        stages = dict.fromkeys(k.stage for p in self for k in p.lines)
        rows = [(stage, *(str(p.stage(stage)) for p in self)) for stage in stages]
        totals = [(name, *(str(getattr(p, name)) for p in self)) for name in ("cost", "net", "tax", "gross")]
        return [*rows, *totals, ("net for one set", *(str(p.each) for p in self))]

    def __repr__(self) -> str:
        return "\n".join(map(repr, self))

    def _repr_html_(self) -> str:
        heads = (self[0].currency if self else "", *(f"{p.sets} sets" for p in self))
        return html_table(heads, self.rows(), notes=[ROUNDING])


def price_nest(nest: JobNest) -> Price:
    """Return the price of a nested job.

    Parameters
    ----------
    nest : JobNest
        From `nest_job`: job, shop, snapshot of the stock (with its corrected rates) and sheets.

    Returns
    -------
    Price

    Raises
    ------
    BadValue
        Rates that the job needs and neither shop nor store states, all named.
    """
    of_kind(nest, JobNest, "nest", "what tb.job.nest_job gives")
    book = Book(nest.shop, nest.stock)
    plans = nest.plans()
    lines = (*material_lines(nest, book, plans), *part_lines(nest, book), *job_lines(nest, book, plans))
    if nest.job.delivery:
        source = "stated by the job"
        lines += (book.line("delivery", "delivery", "", Decimal(1), "time", book.need("delivery"), source),)
    book.refuse()
    cost, net, surcharges = _surcharges(nest.job, lines, book)
    rates = book.rates
    tax = book.money(net * _percent(book, "tax_percent"))
    gross = net + tax
    quotes = quotes_used(nest)
    return Price(
        job=nest.job,
        sets=nest.sets,
        currency=rates.currency,
        decimals=rates.decimals,
        lines=lines,
        surcharges=surcharges,
        cost=cost,
        net=net,
        tax=tax,
        gross=gross,
        deposit=book.money(gross * _percent(book, "deposit_percent")),
        shares=_shares(nest, lines, net, rates.decimals),
        not_priced=not_priced(nest),
        valid_days=rates.valid_days,
        lead_days=None
        if rates.lead_days is None
        else rates.lead_days + max((q.lead_days or 0 for q in quotes), default=0),
        tax_percent=_percent(book, "tax_percent") * HUNDRED,
        deposit_percent=_percent(book, "deposit_percent") * HUNDRED,
        quotes=quotes,
    )


def _percent(book: Book, name: str) -> Decimal:
    found = book.find(name)
    return Decimal(0) if found is None else found[0] / HUNDRED


def _surcharges(job: Job, lines: Sequence[Line], book: Book) -> tuple[Decimal, Decimal, tuple[Line, ...]]:
    """Return cost and net price, and the percentages on the way from the lines to them."""
    out: list[Line] = []

    def add(what: str, on: Decimal, percent: Decimal, of: str, rate_from: str) -> Decimal:
        line = book.line("surcharge", what, "", percent, "%", (on / HUNDRED, rate_from), of)
        out.append(line)
        return line.amount

    cost = sum((k.amount for k in lines), Decimal(0))
    own = ("cutting", "folding", "beading", "joining", "finish", "handling", "hours")
    work = sum((k.amount for k in lines if k.stage in own), Decimal(0))
    for name, on, of in (("consumables_percent", work, "of the work"), ("scrap_percent", None, "of all so far")):
        found = book.find(name)
        if found is not None and found[0]:
            cost += add(name.partition("_")[0], cost if on is None else on, found[0], of, found[1])
    net = cost
    margin, markup = book.find("margin_percent"), book.find("markup_percent")
    if margin is not None and margin[0]:
        price = cost / (1 - margin[0] / HUNDRED)
        net += add("margin", price, margin[0], "of the price before discount", margin[1])
    elif markup is not None and markup[0]:
        net += add("markup", cost, markup[0], "of the cost", markup[1])
    if job.discount:
        net += add("discount", net, -Decimal(repr(job.discount)), "of the price", "stated by the job")
    least = book.find("minimum")
    if least is not None and net < least[0]:
        gap = least[0] - net
        out.append(
            book.line(
                "surcharge", "up to the minimum charge", "", Decimal(1), "time", (gap, least[1]), "the least net price"
            )
        )
        net += out[-1].amount
    return cost, net, tuple(out)


def _shares(nest: JobNest, lines: Sequence[Line], net: Decimal, decimals: int) -> tuple[tuple[str, Decimal], ...]:
    """Return each part's share of the net price: by its own lines, and metal by the blanks' outer areas."""
    weights = {it.part.number: Decimal(0) for it in nest.parts}
    areas: dict[str, dict[str, Decimal]] = {}
    for it in nest.parts:
        if nest.job.comes_cut(it.part.number, nest.sets):
            continue  # its metal is in the supplier's price
        group = areas.setdefault(it.part.sheet, {})
        area = Decimal(repr(round(abs(it.flat.outer.area) * it.part.quantity, 3)))
        group[it.part.number] = group.get(it.part.number, Decimal(0)) + area
    for line in lines:
        if line.number in weights:
            weights[line.number] += line.amount
        elif line.stage == "material":
            for number, amount in shared(line.amount, areas[line.number], decimals).items():
                weights[number] += amount
    return tuple(shared(net, weights, decimals).items())


def price_job(
    job: Job,
    shop: Shop,
    stock: Stock = NO_STOCK,
    *,
    sets: Sequence[int] = (1, 5, 20),
    executor: Executor | None = None,
    progress: Callable[[int, int], None] | None = None,
    **how: Any,
) -> Prices:
    """Nest a job and return its price, for several numbers of sets.

    Parameters
    ----------
    job, shop, stock
        As for `nest_job`.
    sets : sequence of int
        Numbers of sets, each nested by itself.
    executor : Executor, optional
        Of `concurrent.futures`: numbers of sets are then worked out at the same time, with the same result.
    progress : callable, optional
        Called with (done, all) numbers of sets.
    **how
        What else `nest_job` takes: seed, effort, turn_over, ...

    Returns
    -------
    Prices
        A tuple of Price.

    Raises
    ------
    BadValue
        Rates that are missing, all named; values out of range.
    CannotMake
        A part is stopped.
    """
    if not isinstance(sets, Sequence) or isinstance(sets, str) or not sets:
        raise BadValue("sets", sets, "numbers of sets in brackets, such as (1, 5, 20)")
    if executor is not None:
        one = partial(_priced, job, shop, stock, how)
        return Prices(sweep(one, tuple(sets), executor, chunk=1, progress=progress))
    found: list[Price] = []
    made = how.pop("made", None)
    for n, count in enumerate(sets, 1):
        nest = nest_job(job, shop, stock, sets=count, made=made, **how)
        made = nest.made  # the parts are the same for any number of sets
        found.append(price_nest(nest))
        if progress is not None:
            progress(n, len(sets))
    return Prices(found)


def _priced(job: Job, shop: Shop, stock: Stock, how: dict[str, Any], sets: int) -> Price:
    return price_nest(nest_job(job, shop, stock, sets=sets, **how))
