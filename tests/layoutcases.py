"""Five panels of the Heron, each held another way, on which a search for bead layouts must earn its keep."""

from __future__ import annotations

import contextlib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from counts import count
from strategies import SHOP
from tinbook.errors import CannotMake
from tinbook.families.plain import bead_rolled_panel
from tinbook.making.resolve import make
from tinbook.part.part import Part
from tinbook.strength import supports as on
from tinbook.strength.analysis import modes
from tinbook.strength.bead_search.candidate import even
from tinbook.strength.bead_search.result import BeadLayouts

SIDES = ("front", "right", "rear", "left")
SMALL = bead_rolled_panel(300, 200, beads=0, sheet="DC01 0.8")
HELD = (*(on.simple_edge(e) for e in SIDES), on.no_drift())
QUICK: dict[str, Any] = {"rolls": ("R25x6",), "runs": count(12, 20), "members": 2, "feet": ()}
"""A small panel, how it is held, and a search of seconds."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """A panel, how it is held, and how many metres may be run through the rolls."""

    part: Part
    supports: tuple[on.Support, ...]
    most: float
    rolls: tuple[str, ...] = ("R18x5",)


def _flat(length: float, width: float, sheet: str, number: str, holes: Sequence[tuple[float, float]] = ()) -> Part:
    part = bead_rolled_panel(length, width, beads=0, sheet=sheet, number=number)
    for k, at in enumerate(holes, 1):
        part = part.hole(at, 8, use="plug weld", name=f"weld {k}")
    return part


WELDS = [(x, y) for y in (20, 430) for x in (20, 240, 460, 680)] + [(x, 225) for x in (20, 680)]
DRIFT = on.no_drift()

PANELS = {
    "simply supported": Panel(
        part=_flat(800, 400, "DC01 1.6", "HN-PN-1"),
        supports=(*(on.simple_edge(e) for e in SIDES), DRIFT),
        most=5.0,
    ),
    "plug welds": Panel(
        part=_flat(700, 450, "DC01 1.2", "HN-PN-2", WELDS), supports=(on.plug_welds("plug weld"),), most=5.0
    ),
    "clamped": Panel(
        part=_flat(600, 500, "DC01 1.0", "HN-PN-3"), supports=tuple(on.clamped_edge(e) for e in SIDES), most=5.0
    ),
    "on a lip": Panel(
        part=_flat(500, 360, "DC01 1.2", "HN-PN-4"),
        supports=(*(on.lip(e) for e in SIDES), DRIFT),
        most=3.5,
    ),
    "one edge free": Panel(
        part=_flat(600, 350, "DC01 1.5", "HN-PN-5"),
        supports=tuple(on.welded_edge(e) for e in ("front", "left", "right")),
        most=3.5,
    ),
}


def frequency(part: Part, panel: Panel, size: float) -> tuple[float, float]:
    """First frequency, Hz, and the difference to a mesh twice as coarse as a fraction."""
    m = modes(make(part, SHOP), panel.supports, count=1, size=size)
    assert m.error is not None
    return m.first, m.error


def quick(part: Part, panel: Panel, size: float) -> float:
    """First frequency on one mesh, Hz."""
    return modes(make(part, SHOP), panel.supports, count=1, size=size, compare=False).first


def even_ones(found: BeadLayouts, number: int) -> dict[str, Part]:
    """Every way to spread the same length of the same rolls evenly: any number of equal beads, in any direction."""
    layout = found.row(number).layout
    out = {}
    for z in found.zones:
        if z.roll.key != layout.roll:
            continue
        for beads in range(1, 17):
            spread = even(z, beads, 1e3 * layout.length / beads)
            if spread is not None and all(
                b[0] - a[0] >= z.pitch for a, b in zip(spread.lines, spread.lines[1:], strict=False)
            ):
                out[str(spread)] = spread.onto(found.part, found.panel, found.side)
    with contextlib.suppress(CannotMake):
        out["as many, same direction"] = found.evenly(number)
    return out


def same(a: BeadLayouts, b: BeadLayouts) -> None:
    """Hold two answers to be the same."""
    assert [r.layout for r in a.rows] == [r.layout for r in b.rows]
    assert a.tried == b.tried
    assert (a.runs, a.refused) == (b.runs, b.refused)
    for x, y in zip(a.rows, b.rows, strict=True):
        assert abs(x.figures.frequency / y.figures.frequency - 1) < 1e-9
    assert str(a) == str(b)
    assert str(a.picture) == str(b.picture)
