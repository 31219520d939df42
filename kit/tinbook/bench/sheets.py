"""The widget that shows a job's sheets and sends what a hand does with the blanks on them; its page side is `sheets.js`."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cache
from pathlib import Path
from typing import Any

import anywidget
import traitlets as t

SOURCE = Path(__file__).with_name("sheets.js")


@cache
def _source() -> str:
    return SOURCE.read_text(encoding="utf-8")


class Sheets(anywidget.AnyWidget):
    """Sheets with their blanks.

    Parameters
    ----------
    gesture : callable
        Called with what the page sends: "do", and what belongs to it.
    height : int
        Of the largest picture, px.
    """

    _esm = t.Unicode("").tag(sync=True)
    sheets = t.List().tag(sync=True)
    said = t.List().tag(sync=True)
    busy = t.Bool(False).tag(sync=True)
    height = t.Int(440).tag(sync=True)

    def __init__(self, gesture: Callable[[Mapping[str, Any]], object], height: int) -> None:
        super().__init__(_esm=_source(), height=height)
        self._times = 0
        self.on_msg(lambda _w, content, _b: gesture(content) if isinstance(content, dict) else None)

    def say(self, text: str, severity: str = "fine") -> None:
        """Answer below the picture; the page draws the sheets anew, so what was dragged and refused goes back."""
        self._times += 1
        self.said = [text, severity, self._times]

    def __repr__(self) -> str:
        return f"Sheets({len(self.sheets)})"
