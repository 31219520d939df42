"""Text typed into a control, read by the field's own kind, and the text that shows a value."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from typing import Any

from tinbook.errors import BadValue
from tinbook.fields import Inside, Kind, Maybe, Pair, Points, Several, kinds


def how_to_type(kind: Kind) -> str:
    """Return how a list, a pair or an option is typed, "" for what needs no explanation."""
    if isinstance(kind, Maybe):
        inner = how_to_type(kind.of)
        return "empty for none" + (f"; {inner}" if inner else "")
    if isinstance(kind, Several):
        inner = how_to_type(kind.of)
        return "; between two" + (f", each as {inner}" if inner else "")
    names = _names(kind)
    return ", ".join(f"{name}=..." for name in names)


def read_typed(kind: Kind, text: str, field: str) -> Any:
    """Return the value that text means.

    Parameters
    ----------
    kind : Kind
        What the field may hold. Items of a list stand between ";", members of one item between "," as name=value: so a
        decimal comma is never taken for the end of a number.
    text : str
        As it was typed.
    field : str
        Name for the message.

    Raises
    ------
    BadValue
        Not usable; the message says what would be.
    """
    return kind.read(_structure(kind, text.strip(), field), field)


def typed_of(kind: Kind, value: Any) -> str:
    """Return the text that `read_typed` reads as a value."""
    if isinstance(kind, Maybe):
        return "" if value is None else typed_of(kind.of, value)
    if isinstance(kind, Several | Points):
        return "; ".join(typed_of(_item(kind), v) for v in value)
    names = _names(kind)
    if names and not isinstance(value, str):
        held = [getattr(value, n) for n in names] if is_dataclass(value) else value
        return ", ".join(f"{n}={_plain(v)}" for n, v in zip(names, held, strict=True))
    return _plain(value)


def _plain(value: Any) -> str:
    return f"{value:.10g}" if isinstance(value, float) else str(value)


def _item(kind: Several | Points) -> Kind:
    return kind.of if isinstance(kind, Several) else Pair(kind)


def _names(kind: Kind) -> tuple[str, ...]:
    if isinstance(kind, Pair):
        return kind.names
    return tuple(f.name for f in fields(kind.cls) if f.name in kinds(kind.cls)) if isinstance(kind, Inside) else ()


def _structure(kind: Kind, text: str, field: str) -> Any:
    """Return text as lists and tables of text, as the kind's own reader takes them from a file."""
    if isinstance(kind, Maybe):
        return _structure(kind.of, text, field) if text else None
    if isinstance(kind, Several | Points):
        pieces = [piece.strip() for piece in text.split(";")] if text else []
        return [_structure(_item(kind), piece, field) for piece in pieces]
    names = _names(kind)
    if not names or "=" not in text:
        return text
    found = _table(text, names, field)
    return tuple(found[name] for name in names) if isinstance(kind, Pair) else found


def _table(text: str, names: tuple[str, ...], field: str) -> Mapping[str, str]:
    found: dict[str, str] = {}
    for piece in text.split(","):
        name, sign, value = (part.strip() for part in piece.partition("="))
        if not sign or name not in names or name in found:
            raise BadValue(field, text, f"each once: {', '.join(f'{n}=...' for n in names)}")
        found[name] = value
    if set(found) != set(names):
        raise BadValue(field, text, f"each once: {', '.join(f'{n}=...' for n in names)}")
    return found
