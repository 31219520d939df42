"""What the tests of drawings draw with."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from typing import Any

from tinbook.flatpattern import FlatPattern

Draw = Callable[[Any, Any], None]


def codes(flat: FlatPattern) -> set[str]:
    return {f.code for f in flat.findings} - {"dxf.thickness"}


def lines(space: Any, *points: tuple[float, float], **attribs: Any) -> None:
    for a, b in itertools.pairwise(points):
        space.add_line(a, b, dxfattribs=attribs)


def box(space: Any, x: float, y: float, w: float, h: float, **attribs: Any) -> None:
    lines(space, (x, y), (x + w, y), (x + w, y + h), (x, y + h), (x, y), **attribs)
