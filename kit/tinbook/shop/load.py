"""From a TOML text to the tables of a shop, with every mistake of the file at once."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from functools import cache, partial
from typing import Any, Final, TypeAlias, TypeVar

from tinbook.fields import Choice, Kind, Several, Text, kinds
from tinbook.shop.beading import BeadRoll, Roller
from tinbook.shop.coupons import ANY_TOOL, BendCoupon, TypedDeduction, TypedK
from tinbook.shop.cutting import Cutter
from tinbook.shop.handling import Handling
from tinbook.shop.material import FAMILIES, Material, Sheet
from tinbook.shop.packing import Packing
from tinbook.shop.rates import WITHOUT_MONEY, Rates
from tinbook.shop.revisions import REVISION_SCHEMES
from tinbook.shop.rows import Reader
from tinbook.shop.sections import Punch, Section
from tinbook.shop.standard import fixings_over, library, packaged
from tinbook.shop.tomlfile import KeyPath, TomlText
from tinbook.shop.tools import KINDS, PROCESSES
from tinbook.shop.tools.machine import Machine

_T = TypeVar("_T")

TOOLS: Final = {kind.table: kind for kind in reversed(KINDS)}
SETTINGS: Final = ("base", "name", "process_order", "revision_scheme")
TABLES: Final = (
    *("materials", "sheets", "sections", "machines", *TOOLS, "punches", "rolls", "roller", "cutters", "rates"),
    *("coupons", "deductions", "k_factors", "fixings", "handling", "packing"),
)
DRAWN: Final = {
    "machines": {"ram": "ram", "bed": "bed"},
    **{kind.table: kind.sections for kind in KINDS},
    "punches": {"section": "punch"},
}
"""Which fields of a table name a section, and of which kind it must be."""


Tables: TypeAlias = Mapping[str, Any]
"""The fields of a Shop by name."""


@cache
def demo_tables() -> Tables:
    """Read the demo shop that comes with the kit."""
    return _Reader(packaged("demo_shop.toml"), own=False).shop({})


def shop_tables(doc: TomlText) -> Tables:
    """Read the fields of a Shop from a TOML text; raises BadFile with every mistake."""
    base = doc.data.get("base")
    if base not in (None, "demo"):
        doc.add(("base",), f'base: {base!r} is not usable; valid: "demo", or leave it out for a shop that stands alone')
    return _Reader(doc, own=True).shop({} if base is None else demo_tables())


def _under(base: Tables, name: str) -> Tables:
    """Return the base with what its workshop owns under the name of the one that takes it over."""

    def own(row: Any) -> Any:
        return replace(row, who=name) if row is not None and row.who == base["name"] else row

    if not base or not name:
        return base
    tables = {key: tuple(map(own, base[key])) for key in ("machines", "cutters")}
    return {**base, **tables, "roller": own(base["roller"])}


def _in_currency(base: Tables, rates: Any) -> Tables:
    """Return the base without its amounts of money where a shop file states another currency: they hold in none but their own."""
    old = base.get("rates")
    currency = rates.get("currency") if isinstance(rates, dict) else None
    if old is None or currency in (None, old.currency):
        return base
    bare = Rates(**{n: getattr(old, n) for n in WITHOUT_MONEY}, currency=old.currency)
    return {**base, "rates": bare, "sheets": tuple(replace(s, price_per_kg=None) for s in base["sheets"])}


class _Reader(Reader):
    """Walks the tables of a shop file over those of its base; a shop that stands alone has an empty one."""

    def shop(self, base: Tables) -> Tables:
        """Return the fields of the shop over its base, or raise BadFile."""
        for name in self.doc.data:
            if name not in (*SETTINGS, *TABLES):
                self.unknown((name,), name, [*SETTINGS, *TABLES])
        settings = self.settings(base)
        base = _in_currency(_under(base, settings.get("name", "")), self.doc.data.get("rates"))
        stock = library()
        materials = self.table("materials", Material, _by_key(base.get("materials", stock.materials)))
        sheets = self.sheets(materials, base)
        machines = self.keyed("machines", Machine, base)
        tools = self.tools(machines, base)
        sections = self.keyed("sections", Section, base)
        punches = self.keyed("punches", Punch, base, partial(self._punch, machines))
        self._drawn(sections)
        roller = self.one("roller", Roller, base.get("roller"), {"key": "roller"})
        pairs = {r.key: replace(r, who=roller.who) if roller else r for r in base.get("rolls", ())}
        rolls = self.table("rolls", BeadRoll, pairs, lambda p, r, o: self._roll(roller, p))
        cutters = self.keyed("cutters", Cutter, base)
        rates = self.one("rates", Rates, base.get("rates"), {})
        if rates is not None and base and settings.get("name") != base["name"]:
            own = self.doc.data.get("rates", {})
            unstated = [
                n for n in kinds(Rates) if n not in own and n not in ("source", "taken", "currency", "decimals")
            ]
            priced = {s.key for s in base["sheets"] if s.price_per_kg is not None}
            priced -= {key for key, row in self.doc.data.get("sheets", {}).items() if "price_per_kg" in row}
            taken = (
                *(n for n in unstated if getattr(rates, n) not in (None, ())),
                *(f"price_per_kg of {k}" for k in sorted(priced)),
            )
            rates = replace(rates, taken=taken)
        for name in (*TOOLS, "rolls", "cutters"):
            self._limits(name, (*FAMILIES, *materials))
        coupons = self._numbers("coupons", BendCoupon, base.get("coupons", ()), sheets, tools)
        deductions = self._numbers("deductions", TypedDeduction, base.get("deductions", ()), sheets, tools)
        k_factors = self._numbers("k_factors", TypedK, base.get("k_factors", ()), sheets, tools)
        fixings = fixings_over(self, base.get("fixings", stock.fixings))
        handling = self.one("handling", Handling, base.get("handling", Handling()), {})
        packing = self.one("packing", Packing, base.get("packing", Packing()), {})
        self.doc.raise_mistakes()
        tables = {"materials": materials, "sheets": sheets, "machines": machines, "tools": tools, "sections": sections}
        tables |= {"punches": punches, "rolls": rolls, "cutters": cutters}
        numbers = {"coupons": coupons, "deductions": deductions, "k_factors": k_factors}
        single = {"roller": roller, "fixings": fixings, "rates": rates, "handling": handling or Handling()}
        single |= {"packing": packing or Packing()}
        return {**settings, **{name: tuple(rows.values()) for name, rows in tables.items()}, **single, **numbers}

    def keyed(self, name: str, cls: type[_T], base: Tables, fixed: Any = None) -> dict[str, _T]:
        """Read a table by key over that of the base."""
        return self.table(name, cls, _by_key(base.get(name, ())), fixed)

    def settings(self, base: Tables) -> dict[str, Any]:
        readers: dict[str, Kind] = {
            "name": Text(),
            "process_order": Several(Choice(PROCESSES), 0, what="processes", once=True),
            "revision_scheme": Choice(REVISION_SCHEMES),
        }
        values: dict[str, Any] = {n: base[n] for n in readers} if base else {}
        for name, kind in readers.items():
            if name in self.doc.data:
                self.take(values, name, kind, self.doc.data[name], (name,))
        if not base and "name" not in self.doc.data:
            self.doc.add(("name",), "name is missing; valid: the name of the workshop")
        return values

    def one(self, name: str, cls: type[_T], old: _T | None, fixed: Mapping[str, Any]) -> _T | None:
        if name not in self.doc.data:
            return old
        return self.row(cls, (name,), self.doc.data[name], fixed, old)

    def sheets(self, materials: Mapping[str, Material], base: Tables) -> dict[str, Sheet]:
        old = _by_key(base.get("sheets", ()))
        # A material that the file changes changes the sheets of the base as well.
        moved = {k: replace(s, material=materials.get(s.material.key, s.material)) for k, s in old.items()}

        def material(path: KeyPath, row: dict[str, Any], before: Sheet | None) -> dict[str, Any] | None:
            if before is not None and "material" not in row:
                return {"material": before.material}
            found = self.reference(path, row, "material", materials, "materials")
            return None if found is None else {"material": found}

        result = self.table("sheets", Sheet, moved, material)
        seen: dict[tuple[str, float], str] = {}
        for key, sheet in result.items():
            same = (sheet.material.key, sheet.nominal)
            if same in seen:
                self.doc.add(("sheets", key), f"is the same material and thickness as sheet '{seen[same]}'; each once")
            seen.setdefault(same, key)
        if not base and not result and not any(n == "sheets" for n, _ in self.broken):
            self.doc.add(("sheets",), "sheets is missing; valid: at least one [sheets.KEY] table")
        return result

    def tools(self, machines: Mapping[str, Machine], base: Tables) -> dict[str, Any]:
        result: dict[str, Any] = {}
        before = _by_key(base.get("machines", ()))
        for tool in base.get("tools", ()):
            old, new = before[tool.machine], machines[tool.machine]
            # What a tool took from its machine follows the machine.
            length = new.length if tool.length == old.length else tool.length
            result[tool.key] = replace(tool, who=new.who, length=length)
        for name, cls in TOOLS.items():
            mine = {k: t for k, t in result.items() if isinstance(t, cls)}
            for key in self.section(name, (), dict):
                if key in result and key not in mine:
                    self.doc.add((name, key), f"the key '{key}' is taken by another tool; each key once")

            def machine(
                path: KeyPath, row: dict[str, Any], before: Any, kind: str = cls.machine_kind
            ) -> dict[str, Any] | None:
                found = self._machine(machines, path, row, before, kind)
                if found is None:
                    return None
                length = {} if "length" in row or found.length is None else {"length": found.length}
                return {"machine": found.key, "who": found.who, **length}

            result |= self.table(name, cls, mine, machine)
        return result

    def _machine(
        self, machines: Mapping[str, Machine], path: KeyPath, row: dict[str, Any], before: Any, *kinds: str
    ) -> Machine | None:
        """Return the machine that a row names, else that of the row before; None where it is of no valid kind (noted)."""
        if before is not None and "machine" not in row:
            found = machines.get(before.machine)
        else:
            found = self.reference(path, row, "machine", machines, "machines")
        if found is not None and found.kind not in kinds:
            valid = " or ".join(f"a {kind}" for kind in kinds)
            self.doc.add((*path, "machine"), f"machine: '{found.key}' is a {found.kind}; valid: {valid}")
            return None
        return found

    def _punch(
        self, machines: Mapping[str, Machine], path: KeyPath, row: dict[str, Any], before: Punch | None
    ) -> dict[str, Any] | None:
        found = self._machine(machines, path, row, before, "brake", "press")
        return None if found is None else {"machine": found.key}

    def _drawn(self, sections: Mapping[str, Section]) -> None:
        """Note every section that is named and not there, or that is of another kind."""
        for table, wanted in DRAWN.items():
            given = self.doc.data.get(table)
            for key, row in given.items() if isinstance(given, dict) else ():
                for field, kind in wanted.items():
                    name = row.get(field, "") if isinstance(row, dict) else ""
                    if not isinstance(name, str) or name == "" or ("sections", name) in self.broken:
                        continue
                    if name not in sections:
                        self.unknown((table, key, field), name, list(sections), what="section")
                    elif sections[name].kind != kind:
                        self.doc.add(
                            (table, key, field), f"{field}: '{name}' is a {sections[name].kind}; valid: a {kind}"
                        )

    def _roll(self, roller: Roller | None, path: KeyPath) -> dict[str, Any] | None:
        if roller is None:
            if "roller" not in self.doc.data:
                self.doc.add(path, "needs the machine it runs on; valid: a [roller] table")
            return None
        return {"who": roller.who}

    def _limits(self, table: str, names: tuple[str, ...]) -> None:
        given = self.doc.data.get(table)
        for key, row in given.items() if isinstance(given, dict) else ():
            for field in ("max_thickness", "speeds"):
                limits = row.get(field) if isinstance(row, dict) else None
                for name in limits if isinstance(limits, dict) else ():
                    if name not in names and ("materials", name) not in self.broken:
                        self.unknown((table, key, field), name, list(names), what="material or family")

    def _numbers(
        self, name: str, cls: type[_T], old: tuple[_T, ...], sheets: Mapping[str, Sheet], tools: Mapping[str, Any]
    ) -> tuple[_T, ...]:
        rows: dict[tuple[str, str], _T] = {(r.sheet, r.tool): r for r in old}  # type: ignore[attr-defined]
        seen: dict[tuple[str, str], int] = {}
        for n, given in enumerate(self.section(name, (), list)):
            path = (name, n)
            value = self.row(cls, path, given, {}, None)
            if not isinstance(given, dict):
                continue
            sheet, tool = given.get("sheet"), given.get("tool", ANY_TOOL)
            if isinstance(sheet, str):
                self.reference(path, given, "sheet", sheets, "sheets")
            wanted = isinstance(tool, str) and (tool != ANY_TOOL or ("tool" in given and cls is not TypedK))
            if wanted and not any((t, tool) in self.broken for t in TOOLS):
                self.reference(path, given, "tool", tools, "tools")
            if value is None or not isinstance(sheet, str) or not isinstance(tool, str):
                continue
            if (sheet, tool) in seen:
                self.doc.add(path, f"sheet and tool are those of row {seen[sheet, tool] + 1}; each pair once")
            seen.setdefault((sheet, tool), n)
            rows[sheet, tool] = value
        return tuple(rows.values())


def _by_key(rows: Iterable[Any]) -> dict[str, Any]:
    return {row.key: row for row in rows}
