"""The stock at one moment, as frozen values: sheets, offcuts, corrected rates."""

from __future__ import annotations

from decimal import Decimal, InvalidOperation
from typing import Annotated, Any, Final, Literal

from tinbook.errors import BadValue, UnknownName
from tinbook.fields import POSITIVE, Count, Maybe, Number, Text, check_fields
from tinbook.htmltable import html_table
from tinbook.job.nesting.layout import Plate
from tinbook.plane.loops import Edge, Loop
from tinbook.values import dataclass

Grain = Literal["length", "width", "none"]
GRAIN: Final[dict[str, float | None]] = {"length": 0.0, "width": 90.0, "none": None}
MOST: Final = 10**6
NEW: Final = "new"
"""Begins the name of a plate that is bought for the job."""


@dataclass(frozen=True, slots=True)
class Money:
    """A kind: an amount from 0, exact; text or a whole number, of a float what it prints."""

    valid: str = "an amount from 0 as a number or as text, such as '48.50'"

    def read(self, value: Any, field: str) -> Decimal:
        """Return the amount."""
        usable = isinstance(value, Decimal | int | float | str) and not isinstance(value, bool)
        try:
            amount = Decimal(repr(value) if isinstance(value, float) else value) if usable else None
        except (InvalidOperation, ValueError):
            amount = None
        if amount is None or not amount.is_finite() or not 0 <= amount < 10**12:
            raise BadValue(field, value, self.valid)
        return amount


_LINE = Text(empty=True, most=200)


@dataclass(frozen=True, slots=True, kw_only=True)
class StockSheet:
    """Whole sheets of one delivery.

    Parameters
    ----------
    key : str
        Number in the store, as in "S12"; "" until the store has given one.
    sheet : str
        Key of the shop's sheet: metal and thickness.
    length, width : float
        mm.
    quantity : int
        How many are left.
    grain : {"length", "width", "none"}
        Rolling direction.
    price : Decimal or None
        Of one sheet, in the shop's currency; None where it is not known.
    supplier, heat, certificate, place : str
        Who sold it, its heat number, its inspection document (as in "EN 10204 3.1, no. 88"), where it lies.
    """

    key: Annotated[str, _LINE] = ""
    sheet: Annotated[str, Text(most=80)]
    length: Annotated[float, POSITIVE]
    width: Annotated[float, POSITIVE]
    quantity: Annotated[int, Count(0, MOST)] = 1
    grain: Grain = "length"
    price: Annotated[Decimal | None, Maybe(Money())] = None
    supplier: Annotated[str, _LINE] = ""
    heat: Annotated[str, _LINE] = ""
    certificate: Annotated[str, _LINE] = ""
    place: Annotated[str, _LINE] = ""

    def __post_init__(self) -> None:
        check_fields(self, f"stock sheet '{self.key or self.sheet}'")

    @property
    def traced(self) -> bool:
        """Whether heat and certificate are known."""
        return bool(self.heat.strip() and self.certificate.strip())


@dataclass(frozen=True, slots=True, kw_only=True)
class Offcut:
    """What is left of a sheet, in its real outline.

    Parameters
    ----------
    key : str
        Number in the store, as in "O7"; "" until the store has given one.
    sheet : str
        Key of the shop's sheet.
    outline : Loop
        mm; it neither crosses itself nor is it without area.
    grain : float or None
        Rolling direction, degrees from x; None where there is none or it is not known.
    origin : str
        Job that left it, or in words.
    heat, certificate, place : str
        As for a sheet.
    """

    key: Annotated[str, _LINE] = ""
    sheet: Annotated[str, Text(most=80)]
    outline: Loop
    grain: Annotated[float | None, Maybe(Number("deg"))] = 0.0
    origin: Annotated[str, _LINE] = ""
    heat: Annotated[str, _LINE] = ""
    certificate: Annotated[str, _LINE] = ""
    place: Annotated[str, _LINE] = ""

    def __post_init__(self) -> None:
        check_fields(self, f"offcut '{self.key or self.sheet}'")
        if not isinstance(self.outline, Loop) or not all(isinstance(e, Edge) for e in self.outline.edges):
            raise BadValue(f"offcut '{self.key or self.sheet}' outline", self.outline, "a Loop, or Outline.loop")
        Plate(name=f"of offcut {self.key or self.sheet}", outline=self.outline)  # crosses itself? without area?

    @property
    def traced(self) -> bool:
        """Whether heat and certificate are known."""
        return bool(self.heat.strip() and self.certificate.strip())

    @property
    def size(self) -> tuple[float, float]:
        """Length and width of the box round it, mm."""
        x0, y0, x1, y1 = self.outline.box
        return x1 - x0, y1 - y0


@dataclass(frozen=True, slots=True, kw_only=True)
class Stock:
    """The stock at one moment.

    Parameters
    ----------
    sheets : tuple of StockSheet
        Whole sheets.
    offcuts : tuple of Offcut
        Rests.
    rates : tuple of (str, Decimal)
        Rates that were corrected since the shop file was written, by the name of the field in `Rates`.
    """

    sheets: tuple[StockSheet, ...] = ()
    offcuts: tuple[Offcut, ...] = ()
    rates: tuple[tuple[str, Decimal], ...] = ()

    def __post_init__(self) -> None:
        for field, kind in (("sheets", StockSheet), ("offcuts", Offcut)):
            rows = getattr(self, field)
            if not isinstance(rows, list | tuple) or not all(isinstance(r, kind) for r in rows):
                raise BadValue(f"stock {field}", rows, f"values of tb.job.{kind.__name__}")
            object.__setattr__(self, field, tuple(rows))
        keys = [r.key for r in self.all]
        twice = (
            next((k for k in keys if keys.count(k) > 1 or not k), None)
            if len(set(keys)) < len(keys) or "" in keys
            else None
        )
        if twice is not None:
            raise BadValue("stock key", twice, "a key for each sheet and offcut, none twice")

    @property
    def all(self) -> tuple[StockSheet | Offcut, ...]:
        """Rows of sheets, then offcuts."""
        return (*self.sheets, *self.offcuts)

    def of(self, key: str) -> StockSheet | Offcut:
        """Return a row of sheets or an offcut by its number."""
        for row in self.all:
            if row.key == key:
                return row
        raise UnknownName("stock key", key, [r.key for r in self.all])

    def rows(self) -> list[tuple[str, ...]]:
        """Return the stock as a table."""
        out: list[tuple[str, ...]] = []
        for s in self.sheets:
            price = "" if s.price is None else str(s.price)
            out.append(
                (s.key, s.sheet, f"{s.length:g} x {s.width:g}", str(s.quantity), s.place, s.heat, s.certificate, price)
            )
        for o in self.offcuts:
            w, h = o.size
            out.append((o.key, o.sheet, f"offcut, {w:.0f} x {h:.0f}", "1", o.place, o.heat, o.certificate, ""))
        return out

    def __repr__(self) -> str:
        return f"<stock: {sum(s.quantity for s in self.sheets)} sheets, {len(self.offcuts)} offcuts>"

    def _repr_html_(self) -> str:
        heads = ("number", "sheet", "mm", "quantity", "place", "heat", "certificate", "price each")
        return html_table(heads, self.rows(), caption=repr(self)[1:-1])


NO_STOCK: Final = Stock()
