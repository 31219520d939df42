"""The book of values: each formula of `calc` with what it says, its source, and values from outside beside ours.

The values stand in `values.csv`, a row each; the same rows are run by the tests and printed on the page.
"""

from __future__ import annotations

import ast
import csv
import importlib
import inspect
import math
import pkgutil
import re
from collections.abc import Iterator
from functools import cache
from html import escape
from importlib.resources import files
from typing import Any, Final

import numpy as np

import tinbook.calc
from tinbook.errors import BadValue, CannotMake, UnknownName
from tinbook.htmltable import html_table
from tinbook.sources import Source, sources
from tinbook.values import dataclass

GUARDS: Final = frozenset({"book", "limits"})
"""Rooms of `calc` that hold no formula."""

SEEN: Final = {
    "read": "read",
    "quoted": "read in another text that quotes it",
    "recomputed": "the document's formula worked by hand",
    "derived": "derived independently",
    "memory": "from memory",
    "common practice": "common practice",
}
"""How far the outside value was seen."""

REFUSED: Final = "refused"
HEADS: Final = ("call", "outside", "ours", "differs", "where the outside value comes from")


@dataclass(frozen=True, slots=True, kw_only=True)
class Worked:
    """A worked value from outside.

    Parameters
    ----------
    call : str
        What is reckoned, as it would be typed after `from tinbook.calc import ...`.
    value : float
        The outside value; nan where the formula must refuse to answer.
    within : float
        Largest difference that rounding and the reasons in `note` explain, a part of the value.
    unit, seen, by, note : str
        Unit; a key of `SEEN`; where it comes from; where sources disagree, or why ours differs.
    """

    call: str
    value: float
    within: float
    unit: str
    seen: str
    by: str
    note: str

    @property
    def of(self) -> str:
        """The formula's name, such as ``straps.capstan``."""
        found = [n for n in ast.walk(ast.parse(self.call)) if isinstance(n, ast.Attribute)]
        named = [(n.col_offset, f"{n.value.id}.{n.attr}") for n in found if isinstance(n.value, ast.Name)]
        return min((at, name) for at, name in named if name in _functions())[1]

    @property
    def ours(self) -> float:
        """What the kit reckons; nan where it refuses."""
        try:
            # Text of our own package, shown to be typed; nothing of a user's comes here.
            return float(eval(self.call, {"array": np.array, "tau": math.tau, **_rooms()}))  # noqa: S307
        except CannotMake:
            return math.nan

    @property
    def differs(self) -> float:
        """Ours over the outside value, less 1; the plain difference where that is 0, and 0 where both refuse."""
        if math.isnan(self.value):
            return 0.0 if math.isnan(self.ours) else math.inf
        return self.ours / self.value - 1.0 if self.value else self.ours

    @property
    def cells(self) -> tuple[str, str, str, str, str]:
        """The row of a table."""
        unit = f" {self.unit}" if self.unit else ""
        origin = f"{self.by} ({SEEN[self.seen]})" + (f". {self.note[0].upper()}{self.note[1:]}" if self.note else "")
        if math.isnan(self.value):
            return self.call, REFUSED, REFUSED, "", origin
        off = round(100.0 * self.differs, 2) + 0.0
        return self.call, f"{self.value:g}{unit}", f"{self.ours:.5g}{unit}", f"{off:g} %", origin


@dataclass(frozen=True, slots=True, kw_only=True)
class Formula:
    """A formula of `calc`.

    Parameters
    ----------
    name : str
        Module and function, such as ``straps.capstan``.
    says : str
        Its first sentence.
    text : str
        Its whole description: units, ranges, errors, source.
    sources : tuple of Source
        The documents that it names.
    worked : tuple of Worked
        Outside values.
    """

    name: str
    says: str
    text: str
    sources: tuple[Source, ...]
    worked: tuple[Worked, ...]

    @property
    def signature(self) -> str:
        """Name and arguments with their defaults."""
        shown = []
        for name, argument in inspect.signature(_functions()[self.name]).parameters.items():
            default = argument.default
            shown.append(name if default is argument.empty else f"{name}={default!r}")
        return f"{self.name}({', '.join(shown)})"

    @property
    def limits(self) -> str:
        """Arguments with their units and ranges, from the description; "" where it has none."""
        found = re.search(r"Parameters\n-+\n(.*?)(?:\n\n|\Z)", self.text, re.S)
        arguments = re.split(r"\n(?=\S)", found[1]) if found else []
        return "; ".join(" ".join(argument.split()).rstrip(".") for argument in arguments)

    def __str__(self) -> str:
        lines = [self.signature, self.says]
        lines += [f"arguments: {self.limits}"] if self.limits else []
        lines += [f"source: {s}" + (f"; {s.note}" if s.note else "") for s in self.sources]
        for row in self.worked:
            call, outside, ours, off, origin = row.cells
            lines += [
                f"  {call}",
                f"    outside {outside}, ours {ours}" + (f", differs {off}" if off else ""),
                f"    {origin}",
            ]
        return "\n".join(lines)

    __repr__ = __str__

    def _repr_html_(self) -> str:
        notes = [f"{s}" + (f"; {s.note}" if s.note else "") for s in self.sources]
        head = f"<h4><code>{escape(self.signature)}</code></h4>\n<p>{escape(self.says)}</p>\n"
        limits = f"<p><small>{escape(self.limits)}</small></p>\n" if self.limits else ""
        return head + limits + html_table(HEADS, [row.cells for row in self.worked], notes=notes)


@dataclass(frozen=True, slots=True)
class Formulas:
    """What a search found, best first; shows itself in a notebook."""

    found: tuple[Formula, ...]

    def __iter__(self) -> Iterator[Formula]:
        return iter(self.found)

    def __len__(self) -> int:
        return len(self.found)

    def __getitem__(self, place: int) -> Formula:
        return self.found[place]

    def __str__(self) -> str:
        return (
            "\n\n".join(map(str, self.found))
            if len(self.found) <= 3
            else "\n".join(f"{f.name}: {f.says}" for f in self.found)
        )

    __repr__ = __str__

    def _repr_html_(self) -> str:
        if len(self.found) <= 3:
            return "".join(f._repr_html_() for f in self.found)
        rows = [(f.name, f.says, "; ".join(s.key for s in f.sources)) for f in self.found]
        return html_table(("formula", "what it says", "source"), rows)


@cache
def _rooms() -> dict[str, Any]:
    names = [m.name for m in pkgutil.iter_modules(tinbook.calc.__path__) if m.name not in GUARDS]
    return {name: importlib.import_module(f"tinbook.calc.{name}") for name in names}


@cache
def _functions() -> dict[str, Any]:
    return {
        f"{room}.{name}": thing
        for room, module in _rooms().items()
        for name, thing in inspect.getmembers(module, inspect.isroutine)
        if not name.startswith("_") and getattr(inspect.unwrap(thing), "__module__", "") == module.__name__
    }


def _named_sources(text: str) -> tuple[Source, ...]:
    """Return the sources that a description names, as it names them."""
    stated = " ".join(re.split(r"[Ss]ources?: ", " ".join(text.split()))[1:])
    places = {key: stated.find(key) for key in sources() if key in stated}
    longer = [
        k for k in places if not any(k != other and k in other and places[k] >= places[other] for other in places)
    ]
    return tuple(sources()[key] for key in sorted(longer, key=places.__getitem__))


@cache
def book() -> tuple[Formula, ...]:
    """Every formula of `calc`, by name."""
    text = files("tinbook.calc").joinpath("values.csv").read_text(encoding="utf-8")
    worked: dict[str, list[Worked]] = {}
    for cells in csv.reader(text.splitlines()[1:], delimiter=";", quoting=csv.QUOTE_NONE):
        row = _row(cells)
        worked.setdefault(row.of, []).append(row)
    return tuple(
        Formula(
            name=name,
            says=(says := inspect.getdoc(thing) or "").split("\n\n")[0].replace("\n", " "),
            text=says,
            sources=_named_sources(says),
            worked=tuple(worked.get(name, ())),
        )
        for name, thing in sorted(_functions().items())
    )


def _row(cells: list[str]) -> Worked:
    call, value, within, unit, seen, by, note = cells
    number = math.nan if value == REFUSED else float(value)
    return Worked(call=call, value=number, within=float(within), unit=unit, seen=seen, by=by, note=note)


def formula(words: str) -> Formulas:
    """Find formulas by word, clause or symbol.

    Parameters
    ----------
    words : str
        A name (``"capstan"``), words of what it says, a document or clause (``"EN 1993-1-8 table 3.4"``), or an
        argument (``"hardness"``); all must be found. Capitals do not count.

    Returns
    -------
    Formulas
        Best first; each with its source, its arguments and worked values from outside beside ours.

    Raises
    ------
    BadValue
        No text.
    UnknownName
        Nothing is found; names the nearest formulas.
    """
    if not isinstance(words, str) or not words.strip():
        raise BadValue("formula", words, "a word, clause or symbol, such as 'capstan' or 'EN 1993-1-8'")
    wanted = words.casefold().split()
    named = [f for f in book() if words.strip().casefold() in (f.name, f.name.split(".")[1])]
    if named:
        return Formulas(tuple(named))
    found = [(rank, f) for f in book() if (rank := _rank(f, wanted)) is not None]
    if not found:
        raise UnknownName("formula", words, [f.name.split(".")[1] for f in book()])
    return Formulas(tuple(f for _, f in sorted(found, key=lambda pair: (pair[0], pair[1].name))))


def _rank(found: Formula, wanted: list[str]) -> int | None:
    """Return where the words stand: 0 in the name, 1 in the first sentence, 2 elsewhere; None if one is missing."""
    places = (
        found.name.replace("_", " ").replace(".", " "),
        found.says,
        " ".join((found.text, *map(str, found.sources), *(f"{w.by} {w.note}" for w in found.worked))),
    )
    told = [next((i for i, place in enumerate(places) if _holds(place.casefold(), word)), None) for word in wanted]
    return None if None in told else max(i for i in told if i is not None)


def _holds(text: str, word: str) -> bool:
    """Symbols and numbers count as whole words, other words as beginnings."""
    end = r"(?!\w)" if len(word) <= 2 or any(c.isdigit() for c in word) else ""
    return re.search(rf"(?<!\w){re.escape(word)}{end}", text) is not None
