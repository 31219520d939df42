"""What numbers, revisions, titles and names of parts, assemblies and features look like."""

from __future__ import annotations

from collections.abc import Collection
from typing import Final

from tinbook.errors import BadValue
from tinbook.fields import Several, Text, Word

NUMBER: Final = Word(
    r"(?!.*\.\.)(?!(?i:con|prn|aux|nul|com[1-9]|lpt[1-9])(?:\.|$))[A-Za-z0-9](?:[A-Za-z0-9._-]{0,38}[A-Za-z0-9])?",
    "1 to 40 letters, digits, '.', '_', '-', no '..', no device of a system as 'CON', as in 'HN-FP-L'",
)
"""Of a part or an assembly; it becomes part of file names."""
PRINTED_DATE: Final = Text(empty=True, most=20)
"""On papers."""
REVISION: Final = Word(r"[A-Za-z0-9-]{1,8}", "1 to 8 letters, digits or '-', as in 'B'")
TITLE: Final = Text(empty=True, most=80)
SENTENCES: Final = Several(Text(), least=0, what="sentences")
"""Cautions."""
NAME: Final = Word(r"\w[\w .+-]{0,59}", "1 to 60 letters, digits, spaces, '.', '_', '-', '+'")
"""Of a panel, a hole, a form or a member."""
EVERY_EDGE: Final = ("", "")
"""In `Part.clean`: all edges of the part."""


def free_name(name: str | None, wanted: str, taken: Collection[str], what: str) -> str:
    """Return a name that is not taken: the one given, else the one wanted, with a number where it is taken.

    Parameters
    ----------
    name : str or None
        As given.
    wanted : str
        What it is called where no name is given.
    taken : collection of str
        Names in use, the newest last.
    what : str
        What is named, for messages.

    Raises
    ------
    BadValue
        A name that is taken, or that cannot be one.
    """
    if name is not None:
        NAME.read(name, f"{what} name")
        if name in taken:
            raise BadValue(f"{what} name", name, "a name that is not taken; taken: " + ", ".join(taken))
        return name
    listed = tuple(taken)
    if wanted not in listed:
        return wanted
    known = set(listed)
    # Numbers go on from the newest, so that naming many features does not try all the earlier numbers each time.
    numbers = (int(t[len(wanted) + 1 :]) for t in reversed(listed) if _numbered(t, wanted))
    n = next(numbers, 1) + 1
    while f"{wanted} {n}" in known:
        n += 1
    return f"{wanted} {n}"


def _numbered(name: str, wanted: str) -> bool:
    """Whether a name is `wanted` with a number that we gave it."""
    rest = name[len(wanted) + 1 :]
    return name.startswith(f"{wanted} ") and rest.isascii() and rest.isdigit() and len(rest) <= 6
