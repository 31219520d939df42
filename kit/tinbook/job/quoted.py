"""What a supplier quoted for work on a job's parts, as a value of the job."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Annotated, Any, Final, Literal

from tinbook.errors import BadValue
from tinbook.fields import ByName, Count, Maybe, Number, Text, check_fields
from tinbook.values import dataclass

Work = Literal["cutting", "folding"]
Metal = Literal["shop", "supplier"]

_AMOUNT: Final = Number(least=0, most=1e9)


@dataclass(frozen=True, slots=True)
class Day:
    """A kind: a date as ISO 8601 writes it, or "" while it is open."""

    valid: str = "a date as '2027-03-31', or '' while it is open"

    def read(self, value: Any, field: str) -> str:
        """Return the date as it is."""
        try:
            if value == "" or date.fromisoformat(value).isoformat() == value:
                return str(value)
        except (TypeError, ValueError):
            pass
        raise BadValue(field, value, self.valid)


@dataclass(frozen=True, slots=True, kw_only=True)
class SupplierQuote:
    """What a laser or brake supplier quoted, in the shop's currency without tax; `price` counts with it.

    Parameters
    ----------
    work : {"cutting", "folding"}
        What the supplier does.
    supplier : str
        Its name.
    number : str
        Of the quote, as the supplier wrote it.
    prices : table of str to float
        Price of each part by its number, with the job's prefix.
    fixed : float
        Set-up, packing and carriage: once for the order.
    sets : int
        For how many sets it was quoted. Of several quotes for one part that of the largest number not above what is
        priced counts.
    metal : {"shop", "supplier"}
        Who supplies the metal. With the supplier's, the price of a part includes it, and the part is not nested.
    deburred : bool
        Whether the parts come with their edges deburred.
    valid_until : str
        Last day as "2027-03-31", "" where it is not stated.
    lead_days : int or None
        From order to delivery.
    """

    work: Work
    supplier: Annotated[str, Text(most=80)]
    number: Annotated[str, Text(empty=True, most=80)] = ""
    prices: Annotated[tuple[tuple[str, float], ...], ByName(_AMOUNT)]
    fixed: Annotated[float, _AMOUNT] = 0.0
    sets: Annotated[int, Count(1, 10_000)] = 1
    metal: Metal = "shop"
    deburred: bool = False
    valid_until: Annotated[str, Day()] = ""
    lead_days: Annotated[int | None, Maybe(Count(0, 1000))] = None

    def __post_init__(self) -> None:
        check_fields(self, f"quote of '{self.supplier}'")
        if not self.prices:
            raise BadValue(f"{self.name} prices", self.prices, "a price for at least one part")
        if self.metal == "supplier" and self.work != "cutting":
            raise BadValue(f"{self.name} metal", self.metal, "'shop': blanks are folded that somebody has cut")

    @property
    def name(self) -> str:
        """The quote in words."""
        return f"quote {self.number} of {self.supplier}".replace("  ", " ")

    def expired(self, day: str) -> bool:
        """Whether it does not hold any more on a day; unknown, so False, where no last day is stated."""
        return bool(self.valid_until) and day > self.valid_until


def quote_for(quotes: Sequence[SupplierQuote], number: str, work: Work, sets: int) -> SupplierQuote | None:
    """Return the quote that counts for a part: of the largest number of sets not above `sets`, else of the smallest."""
    found = sorted((q for q in quotes if q.work == work and number in dict(q.prices)), key=lambda q: q.sets)
    return next((q for q in reversed(found) if q.sets <= sets), found[0] if found else None)


def check_quotes(quotes: Sequence[SupplierQuote], numbers: Sequence[str]) -> None:
    """Raise BadValue for a part that the job does not have, or that two quotes price for the same work and number of sets."""
    seen: dict[tuple[str, str, int], str] = {}
    for quote in quotes:
        for number, _ in quote.prices:
            if number not in numbers:
                raise BadValue(f"{quote.name} prices", number, f"parts of the job: {', '.join(numbers)}")
            key = (number, quote.work, quote.sets)
            if key in seen:
                what = f"one price for the {quote.work} of {quote.sets} sets; {seen[key]} has it already"
                raise BadValue(f"{quote.name} prices", number, what)
            seen[key] = quote.name
