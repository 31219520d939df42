"""The language of the papers: fixed words from one table, numbers with its decimal sign, dates as it writes them.

A text in the code is English and is the key of the table, so the code reads as the English paper does; where English has
one word for two, "fold|noun" says which: what follows the bar is not printed. A language is a
file: ``words/de.toml`` holds every fixed text with its translation. What the user typed, numbers of parts, keys of the
shop file and names from standards are never looked up.
"""

from __future__ import annotations

import re
import string
from collections.abc import Iterable, Mapping
from dataclasses import field
from functools import cache, lru_cache
from pathlib import Path
from typing import Any, Final, Literal

from tinbook.errors import BadFile, BadValue, Mistake, UnknownName
from tinbook.paths import existing
from tinbook.values import dataclass

WORDS: Final = Path(__file__).parent / "words"
"""Where the languages of the kit lie."""
SHIPPED: Final = ("en", "de")
DATES: Final = {"year-month-day": "{0}-{1}-{2}", "day.month.year": "{2}.{1}.{0}", "day/month/year": "{2}/{1}/{0}"}
NUMBER: Final = re.compile(r"[-+]?\d+(?:\.\d+)?(?:e[-+]?\d+)?")
"""A number in a text that came with its values put in."""
LARGEST: Final = 1_000_000
"""Bytes of a file of words; the table has some tens of thousands."""

Dates = Literal["year-month-day", "day.month.year", "day/month/year"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Language:
    """The language of papers; called with an English text of the table it returns the text in this language.

    Parameters
    ----------
    name : str
        "en", "de", or a short name of the user's own.
    decimal : {".", ","}
        Sign between whole numbers and decimals.
    dates : {"year-month-day", "day.month.year", "day/month/year"}
        How dates are written.
    words : tuple of (str, str)
        English text and translation. A text that is not in it stays English.

    Examples
    --------
    >>> import tinbook as tb
    >>> german = tb.Language.of("de")
    >>> german("{kind}, page {n} of {all}", kind="HN-1.5", n=2, all=3)
    'HN-1.5, Seite 2 von 3'
    >>> german.number(1234.5), german.date("2027-03-31")
    ('1234,5', '31.03.2027')
    """

    name: str = "en"
    decimal: Literal[".", ","] = "."
    dates: Dates = "year-month-day"
    words: tuple[tuple[str, str], ...] = field(default=(), repr=False)

    def __post_init__(self) -> None:
        if not isinstance(self.name, str) or not re.fullmatch(r"[a-z][a-z0-9_-]{0,15}", self.name):
            raise BadValue("language name", self.name, "1 to 16 small letters or digits, as 'fr'")
        if self.decimal not in (".", ","):
            raise UnknownName("language decimal", self.decimal, (".", ","))
        if not isinstance(self.dates, str) or self.dates not in DATES:
            raise UnknownName("language dates", self.dates, DATES)
        words = self.words.items() if isinstance(self.words, Mapping) else self.words
        pairs = tuple(tuple(pair) for pair in words) if isinstance(words, tuple | list | type({}.items())) else None
        if pairs is None or not all(len(p) == 2 and all(isinstance(t, str) for t in p) for p in pairs):
            raise BadValue("language words", self.words, "pairs of an English text and its translation")
        for text, said in pairs:
            wrong = mistake_in(text, said)
            if wrong:
                raise BadValue(f"language word '{text}'", said, wrong)
        object.__setattr__(self, "words", pairs)

    @classmethod
    def of(cls, name: str) -> Language:
        """Return a language of the kit: "en" or "de"."""
        if not isinstance(name, str) or name not in SHIPPED:
            raise UnknownName("language", name, SHIPPED)
        return ENGLISH if name == "en" else _shipped(name)

    @classmethod
    def load(cls, path: str | Path) -> Language:
        """Read a language from a TOML file.

        Parameters
        ----------
        path : str or Path
            With ``name``, ``decimal``, ``dates`` and any number of tables of English texts and translations, as
            ``words/de.toml`` in the package: translate a copy of it.

        Raises
        ------
        BadFile
            With every mistake: a text that is not in the table, a translation whose places in braces differ.
        """
        return _read(existing(path, "a TOML file of words"))

    def __call__(self, text: str, **values: Any) -> str:
        """Return a fixed text with its values put in; floats get the decimal sign of the language.

        A `Said`, as text or value, is said again; any other text of a value stays as it is.
        """
        if isinstance(text, Said):
            return self(text.text, **text.values)
        said = (_table(self.words).get(text) if self.words else None) or text.partition("|")[0]
        if not values:
            return said
        values = {k: self(v) if isinstance(v, Said) else v for k, v in values.items()}
        return said.format(**values) if self.decimal == "." else _COMMA.vformat(said, (), values)

    def retold(self, text: str) -> str:
        """Return a text that came with its values put in, as findings do, in this language; what is not known as it is.

        It is looked for in the table by its shape (the texts under ``[findings]``); where several fit, that with most
        words of its own counts. What stands for a value is said again too, so a name may be a text of the table.
        """
        if not isinstance(text, str):
            raise BadValue("text", text, "a sentence, as findings have them")
        return text if not self.words else self(text) if isinstance(text, Said) else _retold(self, text)

    def number(self, value: float, form: str = ".1f") -> str:
        """Return a number; one decimal is the resolution of a tape or a rule."""
        text = format(value + 0.0, form)
        text = text[1:] if re.fullmatch(r"-0[.0]*", text) else text
        return text.replace(".", self.decimal)

    def date(self, day: str) -> str:
        """Return a date of ISO 8601 as the language writes it; any other text as it is."""
        found = re.fullmatch(r"(\d{4})-(\d\d)-(\d\d)", day)
        return DATES[self.dates].format(*found.groups()) if found else day

    @property
    def separator(self) -> str:
        """What parts numbers in a row: a comma would be read as a decimal sign."""
        return ", " if self.decimal == "." else "; "

    @property
    def missing(self) -> tuple[str, ...]:
        """Texts of the papers that stay English in this language."""
        own = _table(self.words)
        return () if self.name == "en" else tuple(text for text, _ in _shipped("de").words if text not in own)

    @property
    def plain(self) -> str | dict[str, Any]:
        """As a file holds it: the name of a language of the kit, or all its values."""
        if self.name in SHIPPED and self == Language.of(self.name):
            return self.name
        return {"name": self.name, "decimal": self.decimal, "dates": self.dates, "words": dict(self.words)}


class Said(str):
    """An English text made of a text of the table and values, which a language says again: for texts that wait in a value."""

    __slots__ = ("text", "values")
    text: str
    values: dict[str, Any]

    def __new__(cls, text: str, **values: Any) -> Said:
        """Put the values into the text, in English."""
        it = super().__new__(cls, text.partition("|")[0].format(**values))
        it.text, it.values = text, values
        return it

    def __reduce__(self) -> tuple[Any, ...]:
        return _said, (self.text, self.values)


def joined(texts: Iterable[str], sign: str = "; ") -> Said:
    """Return texts in a row, each of which a language says again if it can."""
    values = {f"t{k}": text for k, text in enumerate(texts)}
    return Said(sign.join(f"{{{name}}}" for name in values), **values)


def _said(text: str, values: dict[str, Any]) -> Said:
    return Said(text, **values)


class _Comma(string.Formatter):
    """Puts values into a text, decimals with a comma."""

    def format_field(self, value: Any, format_spec: str) -> str:
        text: str = format(value, format_spec)
        return text.replace(".", ",") if isinstance(value, float) else text


_COMMA: Final = _Comma()


@dataclass(frozen=True, slots=True)
class Spoken:
    """A kind of field: a language, its name, or the table of one in a file."""

    valid: str = "'en', 'de' or a Language, as tb.Language.load('fr.toml') gives it"

    def read(self, value: Any, field: str) -> Language:
        """Return the language."""
        if isinstance(value, Language):
            return value
        if isinstance(value, dict) and {"name"} <= value.keys() <= {"name", "decimal", "dates", "words"}:
            words = value.get("words", {})
            if isinstance(words, dict):
                return Language(**{**value, "words": tuple(words.items())})
        if not isinstance(value, str) or value not in SHIPPED:
            raise BadValue(field, value, self.valid)
        return Language.of(value)


def mistake_in(text: str, said: str) -> str:
    """Return what is wrong with a translation in words, "" if nothing is."""
    try:
        wanted, own = places_in(text), places_in(said)
    except ValueError:
        return "text with whole braces"
    if not said.strip() or not said.isprintable():
        return "printable text"
    if wanted != own:
        return f"text with the places {', '.join(sorted(wanted)) or 'of none'}, as the English has"
    return ""


def places_in(text: str) -> set[str]:
    """Return the names in braces of a text."""
    return {name for _, name, _, _ in string.Formatter().parse(text) if name is not None}


@lru_cache(maxsize=4096)
def _retold(say: Language, text: str, kind: str | None = None) -> str:
    """Return a text, or what stands in one for a value: "r" stays, "s" may be any word of the table."""
    if kind == "r":
        return text
    if NUMBER.fullmatch(text):
        return text.replace(".", say.decimal)
    table = _table(say.words)
    if text in table and (kind == "s" or " " in text or text in _findings()):
        return table[text]
    if " " in text and f"{text}." in table:  # a sentence whose stop was taken off
        return table[f"{text}."].rstrip(".")
    parts = text.split(", ")
    each = [_retold(say, part, kind) for part in parts] if len(parts) > 1 else []
    if each and not any(old == new for old, new in zip(parts, each, strict=True)):
        return ", ".join(each)
    for shape, said, kinds in _shapes(say.words):
        found = shape.fullmatch(text)
        if found:
            told = {name: _retold(say, value, kinds[name]) for name, value in found.groupdict().items()}
            return "".join(plain + told.get(name or "", "") for plain, name, _, _ in string.Formatter().parse(said))
    if " " in text and not text.endswith("."):
        whole = _retold(say, f"{text}.", kind)
        if whole != f"{text}.":
            return whole.rstrip(".")
    return ", ".join(each) if each else text


_Shape = tuple[re.Pattern[str], str, dict[str, str | None]]


@cache
def _shapes(words: tuple[tuple[str, str], ...]) -> tuple[_Shape, ...]:
    """Return shapes of texts with values, their translations and kinds of values, most letters of their own first."""
    found = []
    for text, said in words:
        parts = list(string.Formatter().parse(text))
        kinds = {name: kind for _, name, _, kind in parts if name}
        if kinds and text in _findings():
            ways = (
                re.escape(p) + (f"(?P<{n}>{NUMBER.pattern if form else '.+?'})" if n else "") for p, n, form, _ in parts
            )
            found.append((sum(len(p) for p, _, _, _ in parts), re.compile("".join(ways)), said, kinds))
    return tuple((shape, said, kinds) for _, shape, said, kinds in sorted(found, key=lambda row: -row[0]))


@cache
def _findings() -> frozenset[str]:
    """Return the texts of findings."""
    return frozenset(_tables((WORDS / "de.toml").read_bytes())["findings"])


@cache
def _table(words: tuple[tuple[str, str], ...]) -> dict[str, str]:
    return dict(words)


@cache
def _shipped(name: str) -> Language:
    return _read(WORDS / f"{name}.toml")


def _tables(raw: bytes) -> dict[str, Any]:
    import tomllib  # papers in English do without

    return tomllib.loads(raw.decode("utf-8-sig"))


def _read(file: Path) -> Language:
    try:
        raw = file.read_bytes()
        data = _tables(raw) if len(raw) <= LARGEST else None
    except (OSError, ValueError) as wrong:  # no such file; no UTF-8, no TOML
        raise BadFile(str(file), [Mistake("file", f"cannot be read: {wrong}")]) from None
    if data is None:
        raise BadFile(str(file), [Mistake("file", f"{len(raw)} bytes; a table of words has at most {LARGEST}")])
    head = {k: v for k, v in data.items() if not isinstance(v, dict)}
    known = {text for text, _ in _shipped("de").words} if file.parent != WORDS else None
    mistakes = [
        Mistake(k, "is not known; valid: name, decimal, dates and tables of words")
        for k in head.keys() - {"name", "decimal", "dates"}
    ]
    words: dict[str, str] = {}
    for section, rows in data.items():
        for text, said in rows.items() if isinstance(rows, dict) else ():
            valid = "text" if not isinstance(said, str) else mistake_in(text, said)
            if valid:
                mistakes.append(Mistake(f"[{section}] {text!r}", f"{said!r} is not usable; valid: {valid}"))
            elif known is not None and text not in known:
                mistakes.append(
                    Mistake(f"[{section}] {text!r}", "is no text of the papers; valid: those of words/de.toml")
                )
            elif words.setdefault(text, said) != said:
                mistakes.append(Mistake(f"[{section}] {text!r}", "is translated in another way before"))
    if not mistakes:
        try:
            return Language(**head, words=tuple(words.items()))
        except (BadValue, TypeError) as wrong:
            mistakes.append(Mistake("file", str(wrong)))
    raise BadFile(str(file), mistakes)


ENGLISH: Final = Language()
