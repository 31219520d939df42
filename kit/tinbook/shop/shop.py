"""The shop: everything a workshop and its suppliers have, as one value that can cross processes."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, TypeVar

import tinbook.shop as room
from tinbook.errors import BadValue, UnknownName, of_kind
from tinbook.fields import Choice, Several, Text, check_fields
from tinbook.shop.beading import BeadRoll, Roller
from tinbook.shop.coupons import ANY_TOOL, BendCoupon, Fitted, TypedDeduction, TypedK
from tinbook.shop.cutting import Cutter
from tinbook.shop.fixings import Fixings
from tinbook.shop.handling import Handling
from tinbook.shop.material import Material, Sheet
from tinbook.shop.packing import Packing
from tinbook.shop.rates import Rates
from tinbook.shop.revisions import REVISION_SCHEMES, next_revision
from tinbook.shop.sections import Punch, Section
from tinbook.shop.tools import PROCESSES, Tool
from tinbook.shop.tools.machine import Machine
from tinbook.units import number, positive
from tinbook.values import dataclass

if TYPE_CHECKING:
    from tinbook.shop.tomlfile import TomlText

_Keyed = TypeVar("_Keyed", Material, Sheet, Machine, Tool, BeadRoll, Cutter, Section, Punch)


@dataclass(frozen=True, slots=True, kw_only=True)
class Shop:
    """What a workshop has: sheets, machines, tools, rolls, cutters, fixings, rates, and its own bend numbers.

    Equal shops compare and hash equal; each change gives a new Shop.

    Parameters
    ----------
    name : str
        Name of the workshop.
    materials, sheets, machines, tools, rolls, cutters : tuple
        In the shop's own order, which is also its order of preference for cutters.
    sections, punches : tuple
        Cross-sections of tools and beams, and the punches.
    roller : Roller or None
        The bead rolling machine.
    fixings, rates
        Tables of fixings, and house rates where the shop states them.
    handling : Handling
        What one person lifts and holds.
    packing : Packing
        What its carrier takes as one parcel.
    coupons : tuple of BendCoupon
        Bend numbers from test strips.
    deductions, k_factors : tuple
        Bend numbers that the shop typed in.
    process_order : tuple of str
        Which way of folding is tried first.
    revision_scheme : str
        How revisions are lettered.
    """

    name: Annotated[str, Text()]
    materials: tuple[Material, ...]
    sheets: tuple[Sheet, ...]
    machines: tuple[Machine, ...] = ()
    tools: tuple[Tool, ...] = ()
    sections: tuple[Section, ...] = ()
    punches: tuple[Punch, ...] = ()
    rolls: tuple[BeadRoll, ...] = ()
    roller: Roller | None = None
    cutters: tuple[Cutter, ...] = ()
    fixings: Fixings
    rates: Rates | None = None
    handling: Handling = Handling()
    packing: Packing = Packing()
    coupons: tuple[BendCoupon, ...] = ()
    deductions: tuple[TypedDeduction, ...] = ()
    k_factors: tuple[TypedK, ...] = ()
    process_order: Annotated[tuple[str, ...], Several(Choice(PROCESSES), 0, what="processes", once=True)] = PROCESSES
    revision_scheme: Annotated[str, Choice(REVISION_SCHEMES)] = REVISION_SCHEMES[0]

    def __post_init__(self) -> None:
        check_fields(self, f"shop '{self.name}'")
        pairs = [(c.sheet, c.tool) for c in self.coupons] + [(d.sheet, d.tool) for d in self.deductions]
        for sheet, tool in pairs:
            self.sheet_by_key(sheet)
            self.tool(tool)
        for k in self.k_factors:
            self.sheet_by_key(k.sheet)
            if k.tool != ANY_TOOL:
                self.tool(k.tool)

    def __repr__(self) -> str:
        counts = f"{len(self.sheets)} sheets, {len(self.tools)} tools, {len(self.rolls)} roll pairs"
        return f"<Shop {self.name!r}: {counts}, {len(self.cutters)} cutters>"

    @staticmethod
    def demo() -> Shop:
        """Return the Quillback Workshop, an invented small shop with its suppliers."""
        return _demo()

    @staticmethod
    def load(path: str | Path) -> Shop:
        """Read a shop file; with ``base = "demo"`` it overrides the demo shop, without it stands alone.

        Raises
        ------
        BadFile
            With every mistake of the file, each with its line and path.
        """
        return shop_from(room.tomlfile.read_toml(path))

    def material(self, key: str) -> Material:
        """Return a material by key."""
        return _by_key(self.materials, key, "material")

    def sheet(self, material: str, thickness: Any) -> Sheet:
        """Return the sheet of a material whose nominal thickness is `thickness` (mm, or text with a unit)."""
        wanted = positive(thickness, "sheet thickness")
        of_material = [s for s in self.sheets if s.material.key == material]
        if not of_material:
            raise UnknownName("sheet material", material, dict.fromkeys(s.material.key for s in self.sheets))
        for sheet in of_material:
            if abs(sheet.nominal - wanted) < 1e-6:
                return sheet
        raise UnknownName(f"sheet thickness of {material}", thickness, [f"{s.nominal:g} mm" for s in of_material])

    def sheet_by_key(self, key: str) -> Sheet:
        """Return a sheet by its key, such as "DC01 1.6"."""
        return _by_key(self.sheets, key, "sheet")

    def machine(self, key: str) -> Machine:
        """Return a machine by key."""
        return _by_key(self.machines, key, "machine")

    def tool(self, key: str) -> Tool:
        """Return a die, V block or folder by key."""
        return _by_key(self.tools, key, "tool")

    def section(self, key: str) -> Section:
        """Return a cross-section by key."""
        return _by_key(self.sections, key, "section")

    def punch(self, key: str) -> Punch:
        """Return a punch by key."""
        return _by_key(self.punches, key, "punch")

    def roll(self, key: str) -> BeadRoll:
        """Return a pair of bead rolls by key."""
        return _by_key(self.rolls, key, "roll")

    def cutter(self, key: str) -> Cutter:
        """Return a cutter by key."""
        return _by_key(self.cutters, key, "cutter")

    def next_revision(self, rev: str) -> str:
        """Return the revision that follows another in the shop's scheme: `part.renamed(rev=shop.next_revision(part.rev))`."""
        return next_revision(rev, self.revision_scheme)

    def cutter_for(self, sheet: Sheet) -> Cutter:
        """Return the first cutter, in the shop's order, that takes the sheet's material and nominal thickness."""
        for cutter in self.cutters:
            if cutter.takes(sheet.material, sheet.nominal):
                return cutter
        listed = [f"{c.key} ({_ranges(c)})" for c in self.cutters]
        raise UnknownName("cutter for sheet", sheet.key, listed)

    def with_measured(self, sheet: str, thickness: Any) -> Shop:
        """Return a shop in which the sheet has this measured thickness (None: back to nominal)."""
        old = self.sheet_by_key(sheet)
        value = None if thickness is None else positive(thickness, f"measured thickness of '{sheet}'")
        new = replace(old, measured=value)
        return replace(self, sheets=tuple(new if s is old else s for s in self.sheets))

    def with_deduction(self, sheet: str, tool: str, deduction: Any, angle: Any = 90.0) -> Shop:
        """Return a shop with this bend deduction (mm, at `angle` degrees turned) for the sheet on the tool."""
        row = TypedDeduction(sheet=sheet, tool=tool, deduction=deduction, angle=angle)
        kept = tuple(d for d in self.deductions if (d.sheet, d.tool) != (sheet, tool))
        return replace(self, deductions=(*kept, row))

    def with_k(self, sheet: str, k: Any, tool: str = ANY_TOOL) -> Shop:
        """Return a shop with this K-factor for the sheet on the tool, or on any tool."""
        row = TypedK(sheet=sheet, tool=tool, k=number(k, "", f"K of '{sheet}'"))
        kept = tuple(r for r in self.k_factors if (r.sheet, r.tool) != (sheet, tool))
        return replace(self, k_factors=(*kept, row))

    def with_coupons(self, fitted: Fitted) -> Shop:
        """Return a shop that bends and beads by its test strips (see `tb.coupons`); older rows of the pairs are replaced."""
        if not hasattr(fitted, "bends"):
            raise BadValue("coupons", type(fitted).__name__, "what tb.coupons(file, shop) answers")
        new = {(c.sheet, c.tool): c for c in (*self.coupons, *fitted.bends)}
        draws = {d.roll: d for d in fitted.draws}
        for key in draws:
            self.roll(key)
        rolls = tuple(
            replace(r, draw_factor=draws[r.key].draw_factor, source=draws[r.key].source) if r.key in draws else r
            for r in self.rolls
        )
        return replace(self, coupons=tuple(new.values()), rolls=rolls)

    def coupon_for(self, sheet: str, tool: str) -> BendCoupon | None:
        """Return what test strips told of a sheet on a tool, None if none was folded."""
        return next((c for c in self.coupons if (c.sheet, c.tool) == (sheet, tool)), None)

    def deduction_for(self, sheet: str, tool: str) -> TypedDeduction | None:
        """Return the typed bend deduction of a sheet on a tool, None if there is none."""
        return next((d for d in self.deductions if (d.sheet, d.tool) == (sheet, tool)), None)

    def k_for(self, sheet: str, tool: str) -> TypedK | None:
        """Return the typed K of a sheet on this tool, else on any tool, else None."""
        rows = {r.tool: r for r in self.k_factors if r.sheet == sheet}
        return rows.get(tool) or rows.get(ANY_TOOL)


def _by_key(rows: tuple[_Keyed, ...], key: str, what: str) -> _Keyed:
    for row in rows:
        if row.key == key:
            return row
    raise UnknownName(what, key, [r.key for r in rows])


def _ranges(cutter: Cutter) -> str:
    return ", ".join(f"{name} {cutter.min_thickness:g}-{most:g} mm" for name, most in cutter.max_thickness)


@cache
def _demo() -> Shop:
    return Shop(**room.load.demo_tables())


def shop_from(doc: TomlText) -> Shop:
    """Make a shop of a TOML text that was read; raises BadFile with every mistake."""
    return Shop(**room.load.shop_tables(doc))


def cut_on(shop: Shop, cutter: str) -> Shop:
    """Return the shop with one cutter put first, so that it gets every sheet that it takes.

    Parameters
    ----------
    shop : Shop
        The shop.
    cutter : str
        Key of one of its cutters.

    Returns
    -------
    Shop

    Raises
    ------
    UnknownName
        No such cutter.
    """
    of_kind(shop, Shop, "cut_on", "a Shop")
    first = shop.cutter(cutter)
    return replace(shop, cutters=(first, *(c for c in shop.cutters if c is not first)))
