"""Rows and tables of a TOML file read into values, every mistake noted."""

from __future__ import annotations

import difflib
from collections.abc import Callable, Mapping
from dataclasses import MISSING, fields
from typing import Any, Final, TypeVar

from tinbook.errors import BadValue
from tinbook.fields import Kind, kinds
from tinbook.shop.coupons import OWN_DATA
from tinbook.shop.tomlfile import KeyPath, TomlText
from tinbook.sources import sources

_T = TypeVar("_T")

GIVEN: Final = ("material", "machine", "who")
"""Fields that a row takes from what it refers to."""


class Reader:
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
            if name in ("material", "machine") and (name in fixed or name in lost):
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
        if "source" in given and isinstance(given["source"], str) and given["source"] not in sources():
            self.unknown((*path, "source"), given["source"], list(sources()), what="source")
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
        """Note a name that is not valid here, with the one that was probably meant."""
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
