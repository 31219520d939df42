"""Lines of a price, and the rates that they are worked out with."""

from __future__ import annotations

from dataclasses import field
from decimal import ROUND_HALF_UP, Decimal
from typing import Final

from tinbook.errors import BadValue
from tinbook.job.stock.values import Stock
from tinbook.shop.rates import Rates
from tinbook.shop.shop import Shop
from tinbook.values import dataclass

PLACES: Final = 4
ROUNDING: Final = (
    f"quantities are rounded to {PLACES} decimals, each amount half up to the currency's; sums are those of the amounts"
)
HUNDRED: Final = Decimal(100)


def exact(value: float) -> Decimal:
    """Return a number as it prints, in decimals."""
    return Decimal(repr(float(value)))


def quantity(value: float) -> Decimal:
    """Return a measured quantity, rounded half up."""
    return exact(value).quantize(Decimal(1).scaleb(-PLACES), ROUND_HALF_UP).normalize() + 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One line of a price: quantity times rate is the amount.

    Parameters
    ----------
    stage : str
        "material", "cutting", "folding", ...
    what : str
        In words.
    number : str
        Part or item that it is for; "" for the whole job.
    quantity, unit : Decimal, str
        How much; a percentage counts on an amount.
    rate : Decimal
        For one unit, in the shop's currency.
    amount : Decimal
        quantity x rate, rounded.
    quantity_from, rate_from : str
        Where both come from.
    assumed : str
        What was assumed, "" for nothing.
    """

    stage: str
    what: str
    number: str
    quantity: Decimal
    unit: str
    rate: Decimal
    amount: Decimal
    quantity_from: str
    rate_from: str
    assumed: str = ""


@dataclass(slots=True)
class Book:
    """Rates of a shop with the corrections of its store; notes every rate that is asked for and missing."""

    shop: Shop
    stock: Stock
    missing: dict[str, None] = field(default_factory=dict)

    @property
    def rates(self) -> Rates:
        """The shop file's rates."""
        if self.shop.rates is None:
            raise BadValue("shop rates", None, "a [rates] table in the shop file")
        return self.shop.rates

    def find(self, name: str, key: str = "") -> tuple[Decimal, str] | None:
        """Return a rate and where it comes from, None where it is not stated."""
        full = f"{name}.{key}" if key else name
        corrected = dict(self.stock.rates)
        if full in corrected:
            return corrected[full], f"corrected in the store: {full}"
        value = getattr(self.rates, name)
        if key:
            value = dict(value).get(key)
        return None if value is None else (exact(value), f"{self.home(name)}: rates {full}")

    def home(self, name: str) -> str:
        """Return where a rate stands: in the shop file, or only in that of the demo workshop, which invented it."""
        return "demo workshop, invented" if name in self.rates.taken else "shop file"

    def need(self, name: str, key: str = "") -> tuple[Decimal, str]:
        """Return a rate; a missing one is noted, and stands as 0 until `refuse` is called."""
        found = self.find(name, key)
        if found is None:
            self.missing[f"{name} of '{key}'" if key else name] = None
        return found or (Decimal(0), "missing")

    def refuse(self) -> None:
        """Raise BadValue that names every missing rate."""
        if self.missing:
            valid = "these rates in the shop file, under [rates]: " + ", ".join(self.missing)
            raise BadValue("rates", "missing", valid)

    def money(self, amount: Decimal) -> Decimal:
        """Return an amount rounded half up to the currency's decimals."""
        return amount.quantize(Decimal(1).scaleb(-self.rates.decimals), ROUND_HALF_UP)

    def line(
        self,
        stage: str,
        what: str,
        number: str,
        count: Decimal,
        unit: str,
        rate: tuple[Decimal, str],
        source: str,
        assumed: str = "",
    ) -> Line:
        """Return a line with its amount."""
        return Line(
            stage=stage,
            what=what,
            number=number,
            quantity=count,
            unit=unit,
            rate=rate[0],
            amount=self.money(count * rate[0]),
            quantity_from=source,
            rate_from=rate[1],
            assumed=assumed,
        )

    def work(
        self, name: str, stage: str, what: str, number: str, count: Decimal, unit: str, source: str, assumed: str = ""
    ) -> Line:
        """Return a line of work: by its rate for one, or by hours where the shop states minutes for one."""
        each = self.find("minutes", name)
        if each is None or self.find(name) is not None:
            return self.line(stage, what, number, count, unit, self.need(name), source, assumed)
        hours = (count * each[0] / 60).quantize(Decimal(1).scaleb(-PLACES), ROUND_HALF_UP)
        said = f"{source}; {count} {unit} at {each[0].normalize():f} min ({each[1]})"
        return self.line(stage, what, number, hours, "h", self.need("hour"), said, assumed)


def shared(total: Decimal, weights: dict[str, Decimal], decimals: int) -> dict[str, Decimal]:
    """Return a total shared out by weights, to the last cent: the largest remainders get what rounding leaves."""
    whole = sum(weights.values(), Decimal(0))
    step = Decimal(1).scaleb(-decimals)
    if not whole:
        weights = dict.fromkeys(weights, Decimal(1))
        whole = Decimal(len(weights))
    exact_shares = {key: total * w / whole for key, w in weights.items()}
    out = {key: (share // step) * step for key, share in exact_shares.items()}
    left = int((total - sum(out.values(), Decimal(0))) / step)
    order = sorted(out, key=lambda key: (out[key] - exact_shares[key], key), reverse=left < 0)
    for key in order[: abs(left)]:
        out[key] += step if left > 0 else -step
    return out
