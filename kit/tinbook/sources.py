"""The documents behind the kit's numbers: each once, with how far it was seen."""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path
from typing import Literal, get_args

from tinbook.errors import BadValue, UnknownName
from tinbook.values import dataclass

Seen = Literal["read", "quoted", "recomputed", "memory", "common practice", "own"]
"""read: the document itself was read. quoted: read in another text that quotes it.
recomputed: known from memory or a quotation, and worked out again. memory: not opened.
common practice: a rule of the trade without a document. own: data or a proposal of this project."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """A document, or the statement that there is none.

    Parameters
    ----------
    key : str
        Name used beside numbers.
    title, edition, clause : str
        What it is and where to look in it; "" where that does not apply.
    seen : str
        How far it was seen, one of `Seen`.
    note : str
        Anything a reader should know.
    """

    key: str
    title: str
    edition: str = ""
    clause: str = ""
    seen: Seen
    note: str = ""

    def __post_init__(self) -> None:
        if self.seen not in get_args(Seen):
            raise BadValue(f"source '{self.key}' seen", self.seen, f"one of: {', '.join(get_args(Seen))}")

    def __str__(self) -> str:
        parts = [p for p in (self.title, self.edition, self.clause) if p]
        ways = {"memory": "from memory", "common practice": "", "own": "", "read": ""}
        seen = ways.get(self.seen, self.seen)
        return ", ".join(parts) + (f" ({seen})" if seen else "")


@cache
def sources() -> dict[str, Source]:
    """Return every source by key."""
    data = tomllib.loads(Path(__file__).with_name("data_sources.toml").read_text(encoding="utf-8"))
    return {key: Source(key=key, **row) for key, row in data.items()}


def source(key: str) -> Source:
    """Return a source by key."""
    if key not in sources():
        raise UnknownName("source", key, sources())
    return sources()[key]
