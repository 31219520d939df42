"""From TOML to a Shop, with every mistake of the file at once."""

from __future__ import annotations

import difflib
from collections.abc import Callable, Mapping
from dataclasses import MISSING, dataclass, fields, replace
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any, Final, TypeVar

from tinbook.errors import BadValue
from tinbook.fields import Kind, Names, Text, kinds
from tinbook.shop.beading import BeadRoll, Roller
from tinbook.shop.coupons import BendCoupon
from tinbook.shop.cutting import Cutter, Rates
from tinbook.shop.fixings import Bolt, ClearanceHole, Fixings, NutInsert, PlugWeld, Pressed, TackScrew
from tinbook.shop.handling import Handling
from tinbook.shop.material import FAMILIES, Material, Sheet
from tinbook.shop.revisions import REVISION_SCHEMES
from tinbook.shop.sections import Punch, Section
from tinbook.shop.shop import ANY_TOOL, OWN_DATA, Shop, TypedDeduction, TypedK
from tinbook.shop.tomlfile import KeyPath, TomlText, parse_toml, read_toml
from tinbook.shop.tooling import PROCESSES, AirDie, HandFolder, Machine, VBlock
from tinbook.sources import SOURCES

_T = TypeVar("_T")

TOOLS: Final = {"dies": AirDie, "v_blocks": VBlock, "folders": HandFolder}
FIXINGS: Final = {
    "clearances": ClearanceHole,
    "nut_inserts": NutInsert,
    "plug_welds": PlugWeld,
    "tack_screws": TackScrew,
    "bolts": Bolt,
    "pressed": Pressed,
}
SETTINGS: Final = ("base", "name", "process_order", "revision_scheme")
TABLES: Final = (
    *("materials", "sheets", "sections", "machines", *TOOLS, "punches", "rolls", "roller", "cutters", "rates"),
    *("coupons", "deductions", "k_factors", "fixings", "handling"),
)
DRAWN: Final = {
    "machines": {"ram": "ram", "bed": "bed"},
    "dies": {"section": "die"},
    "v_blocks": {"section": "die"},
    "folders": {"clamp": "clamp", "bed": "folder bed", "beam": "folder beam"},
    "punches": {"section": "punch"},
}
"""Which fields of a table name a section, and of which kind it must be."""
GIVEN: Final = ("material", "machine", "who")
"""Fields that a row takes from what it refers to."""
MACHINE_OF: Final = {"dies": "brake", "v_blocks": "press", "folders": "folder"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Library:
    """What comes with the kit whatever the shop: grades and tables of fixings, by their standards."""

    materials: tuple[Material, ...]
    fixings: Fixings


@cache
def library() -> Library:
    """Read the kit's own tables, once."""
    doc = _packaged("materials.toml", "fixings.toml")
    reader = _Reader(doc, own=False)
    materials = reader.table("materials", Material)
    fixings = reader.fixings(Fixings())
    doc.raise_mistakes()
    return Library(materials=tuple(materials.values()), fixings=fixings)


def load_demo() -> Shop:
    """Read the demo shop that comes with the kit."""
    doc = _packaged("demo_shop.toml")
    return _Reader(doc, own=False).shop(None)


def load_shop(path: str | Path) -> Shop:
    """Read a user's shop file; see `Shop.load`."""
    return shop_from(read_toml(path))


def shop_from(doc: TomlText) -> Shop:
    """Make a shop of a TOML text that was read; raises BadFile with every mistake."""
    base = doc.data.get("base")
    if base not in (None, "demo"):
        doc.add(("base",), f'base: {base!r} is not usable; valid: "demo", or leave it out for a shop that stands alone')
    return _Reader(doc, own=True).shop(None if base is None else Shop.demo())


def _packaged(*names: str) -> TomlText:
    folder = files("tinbook.shop").joinpath("data")
    text = b"\n".join(folder.joinpath(name).read_bytes() for name in names)
    return parse_toml(" + ".join(names), text)


class _Reader:
    """Walks the tables of one file, notes mistakes in `doc`, and builds what it can."""

    def __init__(self, doc: TomlText, *, own: bool) -> None:
        self.doc, self.own = doc, own
        self.broken: set[tuple[str, str]] = set()  # rows with mistakes: references to them are not mistakes too

    # --- one row -----------------------------------------------------------------

    def row(
        self,
        cls: type[_T],
        path: KeyPath,
        given: Any,
        fixed: Mapping[str, Any],
        old: _T | None,
        lost: tuple[str, ...] = (),
    ) -> _T | None:
        """Build one value; None when it has mistakes, all of them noted.

        `lost` are fields that a reference would give which is itself a mistake: they are not asked for, and the value
        cannot be built.
        """
        if not isinstance(given, dict):
            self.doc.add(path, f"{given!r} is not usable; valid: a table of fields")
            return None
        known = kinds(cls)  # type: ignore[arg-type]
        good = not lost
        allowed = [n for n in known if n not in fixed and n not in lost]
        values: dict[str, Any] = dict(fixed)
        for name, value in given.items():
            if name in ("material", "machine") and (name in fixed or name in lost or name not in known):
                continue  # a reference, already looked up
            if name not in allowed:
                self.unknown((*path, name), name, allowed)
                good = False
                continue
            good = self.take(values, name, known[name], value, (*path, name)) and good
        if old is not None:
            values = {f.name: getattr(old, f.name) for f in fields(cls)} | values  # type: ignore[arg-type]
        if "source" in known and "source" not in given:
            if not self.own:
                self.doc.add(path, "source is missing; valid: a key of the sources registry")
                good = False
            values["source"] = OWN_DATA
        if "source" in given and isinstance(given["source"], str) and given["source"] not in SOURCES:
            self.unknown((*path, "source"), given["source"], list(SOURCES), what="source")
            good = False
        for f in fields(cls):  # type: ignore[arg-type]
            kind = known.get(f.name)
            asked = f.default is MISSING and f.name not in (*given, *fixed, *lost)
            if kind is not None and f.name not in values and asked:
                self.doc.add(path, f"{f.name} is missing; valid: {kind.valid}")
                good = False
        if not good and old is None:
            return None
        try:  # over an old row also with mistakes, for what its fields say of each other
            value = cls(**values)
        except BadValue as error:
            self.doc.add(path, str(error))
            return None
        return value if good else None

    def take(self, values: dict[str, Any], name: str, kind: Kind, value: Any, path: KeyPath) -> bool:
        """Read one field into `values`; note the mistake if it is one."""
        try:
            values[name] = kind.read(value, name)
        except BadValue as error:
            self.doc.add(path, str(error))
            return False
        return True

    def unknown(self, path: KeyPath, name: str, allowed: list[str], what: str = "key") -> None:
        close = difflib.get_close_matches(str(name), allowed, n=1, cutoff=0.5)
        hint = f"did you mean '{close[0]}'? " if close else ""
        self.doc.add(path, f"unknown {what} '{name}'; {hint}valid: {', '.join(allowed)}")

    # --- tables --------------------------------------------------------------------

    def table(
        self,
        name: str,
        cls: type[_T],
        old: Mapping[str, _T] | None = None,
        fixed: Callable[[KeyPath, dict[str, Any], _T | None], dict[str, Any] | None] | None = None,
        at: KeyPath = (),
        key_field: str = "key",
    ) -> dict[str, _T]:
        """Read a table of tables by key, over the rows of `old`."""
        result: dict[str, _T] = dict(old or {})
        given = self.section(name, at, dict)
        for key, row in given.items():
            path = (*at, name, key)
            before = result.get(key)
            extra: dict[str, Any] | None = {}
            if fixed is not None and isinstance(row, dict):
                extra = fixed(path, row, before)
            value = self.row(
                cls, path, row, {key_field: key, **(extra or {})}, before, () if extra is not None else GIVEN
            )
            if value is None:
                self.broken.add((name, key))
            else:
                result[key] = value
        return result

    def section(self, name: str, at: KeyPath, kind: type) -> Any:
        """Return a part of the file, empty when it is not there or of the wrong kind (noted)."""
        holder: Any = self.doc.data
        for part in at:
            holder = holder.get(part, {})
            if not isinstance(holder, dict):
                return kind()
        given = holder.get(name, kind())
        if isinstance(given, kind):
            return given
        shape = f"[{name}.KEY] tables" if kind is dict else f"[[{name}]] rows"
        self.doc.add((*at, name), f"{name}: {given!r} is not usable; valid: {shape}")
        return kind()

    def reference(self, path: KeyPath, row: dict[str, Any], field: str, known: Mapping[str, _T], of: str) -> _T | None:
        """Return what a row refers to; None when it cannot be found (noted, unless that row is itself a mistake)."""
        key = row.get(field)
        if key is None:
            self.doc.add(path, f"{field} is missing; valid: one of: {', '.join(known)}")
        elif not isinstance(key, str) or (key not in known and (of, key) not in self.broken):
            listed = ", ".join(known) or f"none, the shop has no {of}"
            self.doc.add((*path, field), f"{field}: {key!r} is not usable; valid: one of: {listed}")
        return known.get(key) if isinstance(key, str) else None

    def fixings(self, old: Fixings) -> Fixings:
        """Read the tables of fixings; a table given by a shop is laid over the standard one row by row."""
        data = self.section("fixings", (), dict)
        for name in data:
            if name not in FIXINGS:
                self.unknown(("fixings", name), name, list(FIXINGS))
        return Fixings(
            clearances=self._by_size("clearances", ClearanceHole, old.clearances, "size"),
            nut_inserts=self._by_size("nut_inserts", NutInsert, old.nut_inserts, "key"),
            bolts=self._by_size("bolts", Bolt, old.bolts, "size"),
            pressed=self._by_size("pressed", Pressed, old.pressed, "key"),
            plug_welds=self._listed("plug_welds", PlugWeld, old.plug_welds),
            tack_screws=self._listed("tack_screws", TackScrew, old.tack_screws),
        )

    def _by_size(self, name: str, cls: type[_T], old: tuple[_T, ...], key: str) -> tuple[_T, ...]:
        before = {str(getattr(row, key)): row for row in old}
        return tuple(self.table(name, cls, before, at=("fixings",), key_field=key).values())

    def _listed(self, name: str, cls: type[_T], old: tuple[_T, ...]) -> tuple[_T, ...]:
        """Read rows of a list; a list in a shop's file replaces the standard one, whose ranges must not mix with it."""
        given = self.section(name, ("fixings",), list)
        rows = [self.row(cls, ("fixings", name, n), row, {}, None) for n, row in enumerate(given)]
        for n, row in enumerate(rows):
            for m, other in enumerate(rows[:n]):
                if row is None or other is None or getattr(row, "size", "") != getattr(other, "size", ""):
                    continue
                if row.over < other.upto and other.over < row.upto:  # type: ignore[attr-defined]
                    self.doc.add(("fixings", name, n), f"its thickness range overlaps row {m + 1}; one row a thickness")
        return tuple(r for r in rows if r is not None) or old

    # --- the shop -------------------------------------------------------------------

    def shop(self, base: Shop | None) -> Shop:
        """Build the shop over its base, or raise BadFile."""
        for name in self.doc.data:
            if name not in (*SETTINGS, *TABLES):
                self.unknown((name,), name, [*SETTINGS, *TABLES])
        settings = self.settings(base)
        stock = library() if base is None else None
        before = stock.materials if stock else base.materials if base else ()
        materials = self.table("materials", Material, {m.key: m for m in before})
        sheets = self.sheets(materials, base)
        machines = self.table("machines", Machine, {m.key: m for m in base.machines} if base else None)
        tools = self.tools(machines, base)
        sections = self.table("sections", Section, {s.key: s for s in base.sections} if base else None)
        punches = self.punches(machines, base)
        self._drawn(sections)
        roller = self.one("roller", Roller, base.roller if base else None, {"key": "roller"})
        pairs = {r.key: replace(r, who=roller.who) if roller else r for r in base.rolls} if base else None
        rolls = self.table("rolls", BeadRoll, pairs, lambda p, r, o: self._roll(roller, p))
        cutters = self.table("cutters", Cutter, {c.key: c for c in base.cutters} if base else None)
        rates = self.one("rates", Rates, base.rates if base else None, {})
        for name in (*TOOLS, "rolls", "cutters"):
            self._limits(name, (*FAMILIES, *materials))
        coupons = self._numbers("coupons", BendCoupon, base.coupons if base else (), sheets, tools)
        deductions = self._numbers("deductions", TypedDeduction, base.deductions if base else (), sheets, tools)
        k_factors = self._numbers("k_factors", TypedK, base.k_factors if base else (), sheets, tools)
        fixings = self.fixings(stock.fixings if stock else base.fixings if base else Fixings())
        handling = self.one("handling", Handling, base.handling if base else Handling(), {})
        self.doc.raise_mistakes()
        return Shop(
            **settings,
            materials=tuple(materials.values()),
            sheets=tuple(sheets.values()),
            machines=tuple(machines.values()),
            tools=tuple(tools.values()),
            sections=tuple(sections.values()),
            punches=tuple(punches.values()),
            rolls=tuple(rolls.values()),
            roller=roller,
            cutters=tuple(cutters.values()),
            fixings=fixings,
            rates=rates,
            handling=handling or Handling(),
            coupons=coupons,
            deductions=deductions,
            k_factors=k_factors,
        )

    def settings(self, base: Shop | None) -> dict[str, Any]:
        readers: dict[str, Kind] = {
            "name": Text(),
            "process_order": Names(PROCESSES),
            "revision_scheme": Text(REVISION_SCHEMES),
        }
        values: dict[str, Any] = {n: getattr(base, n) for n in readers} if base else {}
        for name, kind in readers.items():
            if name in self.doc.data:
                self.take(values, name, kind, self.doc.data[name], (name,))
        if base is None and "name" not in self.doc.data:
            self.doc.add(("name",), "name is missing; valid: the name of the workshop")
        return values

    def one(self, name: str, cls: type[_T], old: _T | None, fixed: Mapping[str, Any]) -> _T | None:
        if name not in self.doc.data:
            return old
        return self.row(cls, (name,), self.doc.data[name], fixed, old)

    def sheets(self, materials: Mapping[str, Material], base: Shop | None) -> dict[str, Sheet]:
        old = {s.key: s for s in base.sheets} if base else {}
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
        if base is None and not result and not any(n == "sheets" for n, _ in self.broken):
            self.doc.add(("sheets",), "sheets is missing; valid: at least one [sheets.KEY] table")
        return result

    def tools(self, machines: Mapping[str, Machine], base: Shop | None) -> dict[str, Any]:
        result: dict[str, Any] = {}
        for tool in base.tools if base else ():
            assert base is not None
            old, new = base.machine(tool.machine), machines[tool.machine]
            # What a tool took from its machine follows the machine.
            length = new.length if tool.length == old.length else tool.length
            result[tool.key] = replace(tool, who=new.who, length=length)
        for name, cls in TOOLS.items():
            mine = {k: t for k, t in result.items() if isinstance(t, cls)}
            for key in self.section(name, (), dict):
                if key in result and key not in mine:
                    self.doc.add((name, key), f"the key '{key}' is taken by another tool; each key once")

            def machine(
                path: KeyPath, row: dict[str, Any], before: Any, kind: str = MACHINE_OF[name]
            ) -> dict[str, Any] | None:
                if before is not None and "machine" not in row:
                    found = machines.get(before.machine)
                else:
                    found = self.reference(path, row, "machine", machines, "machines")
                if found is None:
                    return None
                if found.kind != kind:
                    self.doc.add((*path, "machine"), f"machine: '{found.key}' is a {found.kind}; valid: a {kind}")
                    return None
                length = {} if "length" in row or found.length is None else {"length": found.length}
                return {"machine": found.key, "who": found.who, **length}

            result |= self.table(name, cls, mine, machine)
        return result

    def punches(self, machines: Mapping[str, Machine], base: Shop | None) -> dict[str, Punch]:
        """Read the punches; each belongs to a brake or a press."""

        def machine(path: KeyPath, row: dict[str, Any], before: Punch | None) -> dict[str, Any] | None:
            if before is not None and "machine" not in row:
                return {"machine": before.machine}
            found = self.reference(path, row, "machine", machines, "machines")
            if found is not None and found.kind == "folder":
                self.doc.add((*path, "machine"), f"machine: '{found.key}' is a folder; valid: a brake or a press")
                return None
            return None if found is None else {"machine": found.key}

        return self.table("punches", Punch, {p.key: p for p in base.punches} if base else None, machine)

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
            limits = row.get("max_thickness") if isinstance(row, dict) else None
            for name in limits if isinstance(limits, dict) else ():
                if name not in names and ("materials", name) not in self.broken:
                    self.unknown((table, key, "max_thickness"), name, list(names), what="material or family")

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
