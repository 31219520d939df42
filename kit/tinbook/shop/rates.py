"""House rates: what an hour, a fold, a metre of cut or a square metre of paint costs in this shop."""

from __future__ import annotations

from typing import Annotated, Final, Literal, TypeAlias

from tinbook.errors import BadValue
from tinbook.fields import ByName, Count, Number, Several, Text, check_fields, lookup
from tinbook.shop.cutting import CUTTING
from tinbook.values import dataclass

_FROM_0: Final = Number(least=0, most=1e9)
_PERCENT: Final = Number(least=0, most=1000)

Amount: TypeAlias = Annotated[float, _FROM_0] | None
Percent: TypeAlias = Annotated[float, _PERCENT] | None
ByProcess: TypeAlias = Annotated[tuple[tuple[str, float], ...], ByName(Number(least=0), CUTTING)]
Named: TypeAlias = Annotated[tuple[tuple[str, float], ...], ByName(_FROM_0)]

WITHOUT_MONEY: Final = (
    *("decimals", "minutes", "consumables_percent", "scrap_percent", "margin_percent", "markup_percent", "tax_percent"),
    *("deposit_percent", "valid_days", "lead_days", "material", "offcut_percent", "packs", "coverage", "source"),
)
"""Rates that are no amounts: they hold in any currency."""

OPERATIONS: Final = (
    *("fold", "fold_setup", "turn_over", "bead_per_m", "bead_setup", "weld", "weld_per_m", "insert"),
    *("drill", "deburr_per_m", "dress", "clean_per_m2", "part"),
)
"""Work that is priced by piece (its rate) or by hour (its minutes), never by both."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rates:
    """House rates: own data, in the shop's currency; what is not stated is asked for by the job that needs it.

    Parameters
    ----------
    currency, decimals : str, int
        Of all amounts.
    cut_per_m, cut_per_m_mm : tuple of (str, float)
        By cutting process: price of a metre, and its rise per mm of thickness.
    cut_per_min : tuple of (str, float)
        By cutting process: price of a minute by the cutter's speed table; instead of metres and pierces.
    pierce, etch_per_m : tuple of (str, float)
        By cutting process.
    fold, fold_setup, turn_over, bead_per_m, bead_setup, weld, weld_per_m, insert, drill, deburr_per_m, dress, part : float
        Per hit of a fold, per tool set up, per turning over, per metre and pass, per roll pair set up, per plug weld,
        per metre of seam, per fixing that is pressed in or hole that is drawn, per hole drilled by hand, per metre of
        edge, per micro-joint that is dressed, per part handled.
    clean_per_m2, finish_per_m2 : float, tuple of (str, float)
        Per square metre of surface: cleaning before a finish, and each finish by name.
    handling_per_kg : float
        Moving parts about.
    hour, hours : float, tuple of (str, float)
        Bench work; other stages by name.
    minutes : tuple of (str, float)
        Minutes for one of `OPERATIONS`, which is then priced by hour and has no rate by piece.
    bought : tuple of (str, float)
        Bought items by name, each.
    consumables_percent, scrap_percent : float
        On work: gas, wire, discs; on material and work: what goes wrong.
    margin_percent, markup_percent : float
        Margin counts on the price, markup on the cost; one of the two.
    tax_percent, deposit_percent : float
        On the price; of the price with tax.
    minimum, delivery : float
        Least net price of a job; price of a delivery.
    valid_days, lead_days : int
        For how long an offer holds, and how long the work takes.
    material : {"share", "sheet"}
        Whether a part pays its share of the sheet, or the job whole sheets less the offcuts that it leaves.
    offcut_percent : float
        What an offcut is worth, of the price of new sheet.
    packs : tuple of (str, float)
        Pieces, metres, square metres or litres in a pack, by what is bought.
    coverage : tuple of (str, float)
        Square metres that a litre of a finish covers, by its name.
    taken : tuple of str
        Names of rates that the demo workshop invented and the shop file did not replace by its own.
    """

    currency: Annotated[str, Text(empty=True)] = ""
    decimals: Annotated[int, Count(0, 4)] = 2
    cut_per_m: ByProcess = ()
    cut_per_m_mm: ByProcess = ()
    cut_per_min: ByProcess = ()
    pierce: ByProcess = ()
    etch_per_m: ByProcess = ()
    fold: Amount = None
    fold_setup: Amount = None
    turn_over: Amount = None
    bead_per_m: Amount = None
    bead_setup: Amount = None
    weld: Amount = None
    weld_per_m: Amount = None
    insert: Amount = None
    drill: Amount = None
    deburr_per_m: Amount = None
    dress: Amount = None
    part: Amount = None
    clean_per_m2: Amount = None
    finish_per_m2: Named = ()
    handling_per_kg: Amount = None
    hour: Amount = None
    hours: Named = ()
    minutes: Annotated[tuple[tuple[str, float], ...], ByName(Number(least=0, most=1e4), OPERATIONS)] = ()
    bought: Named = ()
    consumables_percent: Percent = None
    scrap_percent: Percent = None
    margin_percent: Annotated[float, Number(least=0, most=95)] | None = None
    markup_percent: Percent = None
    tax_percent: Percent = None
    deposit_percent: Annotated[float, Number(least=0, most=100)] | None = None
    minimum: Amount = None
    delivery: Amount = None
    valid_days: Annotated[int, Count(1, 1000)] | None = None
    lead_days: Annotated[int, Count(0, 1000)] | None = None
    material: Literal["share", "sheet"] = "share"
    offcut_percent: Annotated[float, Number(least=0, most=100)] | None = None
    packs: Annotated[tuple[tuple[str, float], ...], ByName(Number(above=0, most=1e6))] = ()
    coverage: Annotated[tuple[tuple[str, float], ...], ByName(Number(above=0, most=1e6))] = ()
    taken: Annotated[tuple[str, ...], Several(Text(), 0, what="names of rates")] = ()
    source: Annotated[str, Text()]

    def __post_init__(self) -> None:
        check_fields(self, "rates")
        if self.margin_percent is not None and self.markup_percent is not None:
            raise BadValue("rates markup_percent", self.markup_percent, "left out: margin_percent is stated already")
        for name, minutes in self.minutes:
            if getattr(self, name) is not None:
                raise BadValue(f"rates minutes of '{name}'", minutes, f"left out: '{name}' has a rate by piece already")
        both = dict(self.cut_per_m).keys() & dict(self.cut_per_min).keys()
        if both:
            raise BadValue("rates cut_per_min", sorted(both)[0], "a process that has no price by metre already")

    def cutting(self, process: str, thickness: float) -> float:
        """Price of a metre of cut in a sheet of `thickness` mm."""
        base = lookup(self.cut_per_m, process)
        if base is None:
            raise BadValue("rates cut_per_m", process, "a rate for this process in the shop file")
        return base + (lookup(self.cut_per_m_mm, process) or 0.0) * thickness
