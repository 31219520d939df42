"""Errors of the kit: one root, each also a builtin, so either can be caught."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from difflib import get_close_matches
from typing import Final

from tinbook.values import dataclass

QUOTED: Final = 200
"""Characters of anything that a message quotes."""
_LONG: Final = re.compile(rf"(?<!\w)(['\"])(?:(?!\1).){{{QUOTED},}}?\1(?!\w)|\S{{{QUOTED + 1},}}", re.DOTALL)
_FEW: Final = 8  # names that a reader takes in at a glance, in their own order
LISTED: Final = 40
"""Names, and mistakes of a file, that a message lists."""


def cut(text: str, most: int = QUOTED) -> str:
    """Return a text, or its beginning and how long it is."""
    return text if len(text) <= most else f"{text[:most]}... ({len(text)} characters)"


def brief(text: str) -> str:
    """Return a text with what it quotes, and words without end, cut short."""
    return _LONG.sub(lambda m: f"{m.group()[:QUOTED]}... ({len(m.group())} characters)", text[: 100 * QUOTED])


def quoted(value: object) -> str:
    """Return a value as a message shows it: short whatever it is, and never an error of its own."""
    if isinstance(value, (str, bytes, bytearray)) and len(value) > QUOTED:
        return f"{value[:QUOTED]!r}... ({len(value)} {'characters' if isinstance(value, str) else 'bytes'})"
    if isinstance(value, int) and value.bit_length() > 2000:
        return f"a number of {value.bit_length()} bits"  # its digits are more than Python prints
    if isinstance(value, (list, tuple, set, frozenset, dict)) and len(value) > QUOTED:
        return f"a {type(value).__name__} of {len(value)}"
    try:
        return cut(repr(value))
    except Exception:  # noqa: BLE001 -- somebody else's value raises what it likes
        return f"a {type(value).__name__}"


class TinbookError(Exception):
    """Root of every error that the kit raises on purpose."""


class BadValue(TinbookError, ValueError):
    """A field holds a value that cannot be used.

    Parameters
    ----------
    field : str
        The field as the user wrote it, with its path ("fold 'tunnel' leg").
    value : object
        What was given.
    valid : str
        What would have been valid.
    """

    def __init__(self, field: str, value: object, valid: str) -> None:
        self.field, self.value, self.valid = field, value, valid
        wrong = "nothing was given" if value is None else f"{quoted(value)} is not usable"
        super().__init__(f"{cut(field)}: {wrong}; valid: {brief(valid)}")

    def __reduce__(self) -> tuple[type[BadValue], tuple[str, object, str]]:
        return type(self), (self.field, self.value, self.valid)


class UnknownName(BadValue, KeyError):
    """A name that is not among those that exist; lists the ones that do, the nearest first."""

    def __init__(self, field: str, value: object, known: Iterable[str]) -> None:
        self.known = tuple(known)
        near = get_close_matches(cut(str(value)), [str(k) for k in self.known], 10) if len(self.known) > _FEW else []
        rest = [] if near and len(self.known) > LISTED else [name for name in self.known if str(name) not in near]
        shown = [*near, *rest][:LISTED]  # what the user may have meant comes first
        more = f", and {len(self.known) - len(shown)} more" if len(shown) < len(self.known) else ""
        listed = ", ".join(cut(str(name), 60) for name in shown) + more if self.known else "none exists"
        super().__init__(field, value, f"one of: {listed}")

    def __str__(self) -> str:
        return str(self.args[0])

    def __reduce__(self) -> tuple[type[UnknownName], tuple[str, object, Iterable[str]]]:  # type: ignore[override]
        return type(self), (self.field, self.value, self.known)


@dataclass(frozen=True, slots=True)
class Mistake:
    """One mistake in a file: where it stands and what is wrong.

    Parameters
    ----------
    where : str
        Line or row and path inside the file, as a reader would look for it.
    what : str
        The field, the value and what would be valid.
    """

    where: str
    what: str


class BadFile(TinbookError, ValueError):
    """A file with mistakes, all of them reported at once.

    Parameters
    ----------
    path : str
        The file as the user named it.
    mistakes : sequence of Mistake
        Every mistake found, in the order of the file.
    """

    def __init__(self, path: str, mistakes: Sequence[Mistake]) -> None:
        self.path, self.mistakes = str(path), tuple(mistakes)
        lines = [f"{cut(self.path)}: {len(self.mistakes)} mistake(s), nothing was used"]
        lines += [f"  {cut(m.where)}: {cut(brief(m.what), 5 * QUOTED)}" for m in self.mistakes[:LISTED]]
        if len(self.mistakes) > LISTED:
            lines.append(f"  and {len(self.mistakes) - LISTED} more")
        super().__init__("\n".join(lines))

    def __reduce__(self) -> tuple[type[BadFile], tuple[str, Sequence[Mistake]]]:
        return type(self), (self.path, self.mistakes)


class OutOfRange(BadValue):
    """A published formula was asked outside the range for which it is stated."""


def of_kind(value: object, kind: type | tuple[type, ...], field: str, valid: str) -> None:
    """Refuse a value of another type than the one that a call needs, by the type's name."""
    if not isinstance(value, kind):
        raise BadValue(field, type(value).__name__, valid)


class CannotMake(TinbookError, RuntimeError):
    """A stop finding forbids what was asked for (writing a file, a solid)."""


class CannotWrite(TinbookError, OSError):
    """The system refuses to write a file: no permission, no room, held open elsewhere."""


class MissingTool(TinbookError, RuntimeError):
    """Something outside the kit that this call needs is not installed."""
