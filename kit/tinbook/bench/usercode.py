"""Calling the user's design function: a part, or what went wrong and in which of its lines."""

from __future__ import annotations

import linecache
import traceback
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import Any

from tinbook.bench.parameters import Value, name_of, with_sheets
from tinbook.part.part import Part
from tinbook.shop.shop import Shop

OWN = str(Path(__file__).resolve().parents[1])


@dataclass(frozen=True, slots=True, kw_only=True)
class Failure:
    """Why a design function gave no part.

    Parameters
    ----------
    what : str
        Kind and message of the error.
    function : str
        Innermost function of the user's own code that was running, "" if none.
    line : int
        Line in it, 0 if unknown.
    source : str
        That line's text.
    """

    what: str
    function: str = ""
    line: int = 0
    source: str = ""

    def __str__(self) -> str:
        place = f"{self.function}, line {self.line}: " if self.line else ""
        return f"{place}{self.what}"


def run_user_code(
    function: Callable[..., Any], values: Mapping[str, Value], shop: Shop | None = None
) -> Part | Failure:
    """Call a design function.

    Parameters
    ----------
    function : callable
        Should return a Part.
    values : mapping
        By parameter name.
    shop : Shop, optional
        Its sheets replace the names of sheets.

    Returns
    -------
    Part or Failure
        Whatever the function does, except an interrupt by the user.
    """
    try:
        part = function(**(values if shop is None else with_sheets(function, values, shop)))
    except Exception as error:  # noqa: BLE001 - the user's code may raise anything
        return failure_of(error, error.__traceback__)
    if isinstance(part, Part):
        return part
    code = getattr(function, "__code__", None)
    return Failure(
        what=f"it returned {_kind(part)}; valid: a Part, as tb.Part(...) gives one",
        function=name_of(function),
        line=code.co_firstlineno if code else 0,
        source="",
    )


def failure_of(error: BaseException, tb: TracebackType | None) -> Failure:
    """Return what to tell about an error: the innermost line that is not the kit's own or a library's."""
    frames = [f for f in traceback.extract_tb(tb) if not _foreign(f.filename)]
    what = f"{type(error).__name__}: {error}"
    if not frames:
        return Failure(what=what)
    last = frames[-1]
    line = last.lineno or 0
    return Failure(
        what=what, function=last.name, line=line, source=(last.line or linecache.getline(last.filename, line)).strip()
    )


def _foreign(filename: str) -> bool:
    # "<string>" is code that a dataclass writes for itself.
    return filename.startswith((OWN, "<frozen", "<string>")) or "site-packages" in filename


def _kind(value: object) -> str:
    return "nothing (no return?)" if value is None else f"a {type(value).__name__}"
