"""TOML with line numbers: read a file, and know on which line each key stands, also when it holds mistakes."""

from __future__ import annotations

import os
import re
import tomllib
from collections.abc import Iterable, Iterator
from dataclasses import field
from typing import Any, Final, TypeAlias

from tinbook.errors import BadFile, Mistake
from tinbook.paths import existing
from tinbook.values import dataclass

KeyPath: TypeAlias = tuple[str | int, ...]

LARGEST: Final = 5_000_000
"""Bytes: no hand-written file is longer."""

DEEPEST: Final = 16
"""Names joined by dots in one key: a shop or part has four."""

_BARE = re.compile(r"[A-Za-z0-9_-]+")


@dataclass(slots=True)
class TomlText:
    """The data of a TOML file, the line of each key, and what was wrong with its text.

    Parameters
    ----------
    path : str
        The file as the user named it.
    data : dict
        What could be read.
    lines : dict
        From the path of a key to its line; rows of arrays of tables by index.
    mistakes : list of Mistake
        Of the text so far; readers add theirs.
    """

    path: str
    data: dict[str, Any] = field(default_factory=dict)
    lines: dict[KeyPath, int] = field(default_factory=dict)
    mistakes: list[tuple[int, Mistake]] = field(default_factory=list)

    def line(self, path: Iterable[str | int]) -> int:
        """Return the line of a key, of the first key in it, or of the nearest table around it; 0 if there is none."""
        key = tuple(path)
        while key:
            if key in self.lines:
                return self.lines[key]
            inside = [n for k, n in self.lines.items() if k[: len(key)] == key]
            if inside:
                return min(inside)
            key = key[:-1]
        return 0

    def under(self, path: KeyPath) -> TomlText:
        """Return a table as a text of its own; `take` brings its mistakes back."""
        data: Any = self.data
        for key in path:
            data = data[key]
        n = len(path)
        return TomlText(self.path, data, {k[n:]: line for k, line in self.lines.items() if k[:n] == path})

    def take(self, inner: TomlText, path: KeyPath) -> None:
        """Note the mistakes of a table that was read on its own."""
        for line, mistake in inner.mistakes:
            self.mistakes.append((line or self.line(path), Mistake(f"{dotted(path)}: {mistake.where}", mistake.what)))

    def add(self, path: Iterable[str | int], what: str) -> None:
        """Note a mistake at a key."""
        key = tuple(path)
        self.note(self.line(key), dotted(key), what)

    def note(self, line: int, where: str, what: str) -> None:
        """Note a mistake at a line."""
        at = f"line {line}" if line else "file"
        self.mistakes.append((line, Mistake(f"{at}, {where}" if where else at, what)))

    def raise_mistakes(self) -> None:
        """Raise BadFile with all mistakes in the order of the file, if there is any."""
        if self.mistakes:
            ordered = sorted(self.mistakes, key=lambda m: m[0])
            raise BadFile(self.path, list(dict.fromkeys(m for _, m in ordered)))


def dotted(path: Iterable[str | int]) -> str:
    """Write a key path as it would stand in a TOML file; rows of arrays count from 1."""
    text = ""
    for part in path:
        if isinstance(part, int):
            text += f"[{part + 1}]"
            continue
        quoted = part if _BARE.fullmatch(part) else '"' + part.replace("\\", "\\\\").replace('"', '\\"') + '"'
        text += f".{quoted}" if text else quoted
    return text


def read_toml(path: str | os.PathLike[str]) -> TomlText:
    """Read a TOML file; what is wrong with its text is noted, not raised.

    Parameters
    ----------
    path : str or Path
        UTF-8, with or without a byte order mark.

    Returns
    -------
    TomlText

    Raises
    ------
    BadFile
        The file is missing, not a file, far too large, or not text at all.
    """
    name = str(path)
    try:
        file = existing(path, "a TOML file")
        size = file.stat().st_size
        if size > LARGEST:
            raise BadFile(name, [Mistake("file", f"{size} bytes; a hand-written file has at most {LARGEST}")])
        raw = file.read_bytes()
    except OSError as error:
        raise BadFile(name, [Mistake("file", f"cannot be read: {error.strerror}")]) from None
    return parse_toml(name, raw)


def parse_toml(name: str, raw: bytes) -> TomlText:
    """Parse the bytes of a TOML file; see `read_toml`."""
    doc = TomlText(name)
    if raw[:2] in (b"\xff\xfe", b"\xfe\xff") or b"\x00" in raw:
        doc.note(1, "", "is not UTF-8 text (UTF-16 or binary); save it as UTF-8")
        return doc
    if raw.startswith(b"\xef\xbb\xbf"):
        raw = raw[3:]  # a byte order mark does no harm
    try:
        text = raw.decode("utf-8")
    except UnicodeDecodeError:
        for n, row in enumerate(raw.splitlines(), 1):
            try:
                row.decode("utf-8")
            except UnicodeDecodeError as error:
                shown = row.decode("latin-1").strip()
                doc.note(n, "", f"byte 0x{row[error.start]:02x} is not UTF-8 in {shown!r}; save the file as UTF-8")
        text = raw.decode("latin-1")  # to find the other mistakes too; they are all only reported
    text = text.replace("\r\n", "\n")
    text = _scan(doc, text)
    try:
        doc.data = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError, ValueError) as error:
        found = re.search(r"\(at line (\d+), column (\d+)\)", str(error))
        line = int(found.group(1)) if found else 0
        shown = text.splitlines()[line - 1].strip() if 0 < line <= text.count("\n") + 1 and text.splitlines() else ""
        doc.note(line, "", f"{re.sub(r' *[(]at .*[)]', '', str(error)) or 'not TOML'}: {shown!r}")
    return doc


def _scan(doc: TomlText, text: str) -> str:
    """Note the line of each key, and take out what is given twice so that the rest can still be read."""
    kept: list[str] = []
    table: KeyPath = ()
    counts: dict[KeyPath, int] = {}
    headers: set[KeyPath] = set()
    skipping = False
    for first, chunk in _statements(text):
        head = chunk.lstrip()
        drop = skipping
        double = head.startswith("[[")
        path = _key(head[2 if double else 1 if head.startswith("[") else 0 :])
        if path is None:
            pass
        elif len(path) > DEEPEST:
            doc.note(first, "", f"a key of {len(path)} names; valid: at most {DEEPEST}")
            # What follows a table that is left out belongs to it.
            skipping = skipping or head.startswith("[")
            drop = True
        elif head.startswith("["):
            table = _place(path[:-1] if double else path, counts)
            if double:
                at = (*table, path[-1])
                counts[at] = counts.get(at, -1) + 1
                table = (*at, counts[at])
            drop = skipping = table in headers
            if skipping:
                doc.add(table, f"given again on line {first}; each table once")
            headers.add(table)
            doc.lines.setdefault(table, first)
        elif not skipping:
            key = (*table, *path)
            drop = key in doc.lines
            if drop:
                doc.add(key, f"given again on line {first}; each key once")
            else:
                doc.lines[key] = first
        kept.append("\n" * chunk.count("\n") if drop else chunk)
    return "".join(kept)


def _place(path: KeyPath, counts: dict[KeyPath, int]) -> KeyPath:
    """Put the running row number after each name of an array of tables."""
    full: KeyPath = ()
    for part in path:
        full = (*full, part)
        if full in counts:
            full = (*full, counts[full])
    return full


_KEY_PART = re.compile(r"""[ \t]*(?:([A-Za-z0-9_-]+)|"((?:[^"\\\n]|\\.)*)"|'([^'\n]*)')[ \t]*""")


def _key(text: str) -> KeyPath | None:
    """Read a dotted key at the start of a statement, None if there is none."""
    parts: list[str | int] = []
    at = 0
    while (match := _KEY_PART.match(text, at)) and len(parts) <= DEEPEST:
        bare, basic, literal = match.groups()
        if basic is not None:
            basic = re.sub(r"\\(.)", r"\1", basic)
        parts.append(next(p for p in (bare, basic, literal) if p is not None))
        at = match.end()
        if not text.startswith(".", at):
            return tuple(parts) if text[at : at + 1] in ("=", "]") else None
        at += 1
    return tuple(parts) if len(parts) > DEEPEST else None


_PIECE = re.compile(
    r'"""(?:[^\\]|\\.)*?"""|\'\'\'.*?\'\'\'|"(?:[^"\\\n]|\\.)*"|\'[^\'\n]*\'|#[^\n]*|[\[{]|[\]}]|\n|[^"\'#\[\]{}\n]+|.',
    re.DOTALL,
)


def _statements(text: str) -> Iterator[tuple[int, str]]:
    """Split into statements, each with its first line; a value may run over several lines."""
    line, first, depth = 1, 1, 0
    chunk: list[str] = []
    for match in _PIECE.finditer(text):
        piece = match.group()
        chunk.append(piece)
        line += piece.count("\n")
        if piece in ("[", "{"):
            depth += 1
        elif piece in ("]", "}"):
            depth = max(0, depth - 1)
        elif piece == "\n" and not depth:
            yield first, "".join(chunk)
            chunk, first = [], line
    if chunk:
        yield first, "".join(chunk)
