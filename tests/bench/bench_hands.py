"""Looking at a workbench and working it without a browser."""

from __future__ import annotations

import asyncio
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import ipywidgets

from tinbook.bench.workbench import Workbench

EVIL = "<img src=x onerror=alert(1)>"
Bench = Callable[..., Workbench]


def html(b: Workbench) -> str:
    """Everything that the workbench shows as HTML."""
    found: list[str] = []

    def walk(widget: Any) -> None:
        if isinstance(widget, ipywidgets.HTML):
            found.append(widget.value)
        for child in getattr(widget, "children", ()):
            walk(child)

    walk(b.box)
    return "\n".join(found)


def button(b: Workbench, name: str) -> Any:
    return b._desk.buttons[name]


def slider(b: Workbench, name: str) -> Any:
    return b._controls.by_name[name]


async def until(true: Callable[[], bool], seconds: float = 600.0) -> None:
    """Give the loop its turns until something is true; the time is long enough for a machine under any load."""
    end = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < end, "it never came"
        await asyncio.sleep(0.01)


def working() -> bool:
    """Whether a thread of the workbench is alive."""
    return any(t.name == "tinbook" for t in threading.enumerate())


def files() -> list[str]:
    return sorted(p.relative_to(Path()).as_posix() for p in Path().rglob("*") if p.is_file())
