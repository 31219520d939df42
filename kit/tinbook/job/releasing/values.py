"""Shops and stocks as canonical JSON, and back: every field of every value, by the name of its class."""

from __future__ import annotations

import json
import math
from dataclasses import fields, is_dataclass
from decimal import Decimal
from functools import cache
from typing import Any, Final, TypeVar

from tinbook.errors import BadFile, Mistake, TinbookError
from tinbook.job.stock import values as stock
from tinbook.plane.loops import Edge, Loop
from tinbook.shop.sections import Closed
from tinbook.shop.shop import Shop

T = TypeVar("T")
KIND: Final = "is"
"""Key that names the class of a value."""
EXACT: Final = "decimal"
"""Key of an amount of money, as text."""
DEEP: Final = 40


def to_json(value: Any) -> str:
    """Return a shop or a stock as JSON: fields sorted by name, numbers exact, the same text every time."""
    return json.dumps(_plain(value), sort_keys=True, indent=1, ensure_ascii=True, allow_nan=False) + "\n"


def from_json(text: str, kind: type[T], name: str) -> T:
    """Return the value of a JSON text.

    Parameters
    ----------
    text : str
        As `to_json` writes it.
    kind : type
        What it must be.
    name : str
        Of the file, for messages.

    Raises
    ------
    BadFile
        No such text: not JSON, an unknown class or field, a value that its class refuses.
    """
    try:
        found = _value(json.loads(text), 0)
    except (ValueError, RecursionError) as wrong:
        raise BadFile(name, [Mistake("text", f"is no JSON of this kit: {str(wrong)[:200]}")]) from None
    except (TinbookError, TypeError) as wrong:
        raise BadFile(name, [Mistake("value", str(wrong)[:200])]) from None
    if not isinstance(found, kind):
        raise BadFile(name, [Mistake("value", f"is a {type(found).__name__}; valid: a {kind.__name__}")])
    return found


def _plain(value: Any) -> Any:
    if is_dataclass(value) and not isinstance(value, type):
        return {KIND: type(value).__name__, **{f.name: _plain(getattr(value, f.name)) for f in fields(value) if f.init}}
    if isinstance(value, Decimal):
        return {EXACT: str(value)}
    if isinstance(value, Closed):
        value = (*value, value[0])  # as its reader wants a ring
    if isinstance(value, tuple | list):
        return [_plain(v) for v in value]
    if isinstance(value, float) and not math.isfinite(value):
        return {KIND: "float", "value": repr(value)}
    if value is None or isinstance(value, str | int | float):
        return value
    raise TypeError(f"{type(value).__name__} has no place in a pack")


def _value(plain: Any, deep: int) -> Any:
    if deep > DEEP:
        raise ValueError("nested too deeply")
    if isinstance(plain, list):
        return tuple(_value(v, deep + 1) for v in plain)
    if not isinstance(plain, dict):
        return plain
    if set(plain) == {EXACT}:
        return Decimal(str(plain[EXACT]))
    rest = {k: _value(v, deep + 1) for k, v in plain.items() if k != KIND}
    name = plain.get(KIND)
    if name == "float":
        return float(rest.get("value", "nan"))
    known = _classes()
    if name not in known:
        raise ValueError(f"{name!r} is no class of a shop or a stock")
    return known[name](**rest)


@cache
def _classes() -> dict[str, type]:
    """Return every class that a shop or a stock may hold, by name."""
    import sys

    import tinbook.shop.load  # noqa: F401 - loads every table's module

    found: dict[str, type] = {c.__name__: c for c in (Shop, Edge, Loop)}
    for name, module in list(sys.modules.items()):
        if name.startswith("tinbook.shop.") or module is stock:
            for each in vars(module).values():
                if isinstance(each, type) and is_dataclass(each) and each.__module__.startswith("tinbook."):
                    found.setdefault(each.__name__, each)
    return found
