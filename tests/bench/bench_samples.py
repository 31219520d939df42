"""Design functions for the workbench's tests and benchmarks."""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated, Literal

from tinbook.fields import Range
from tinbook.making.made import Made
from tinbook.making.resolve import make
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.shop.shop import Shop


def tray(
    length: Annotated[float, Range(600, 1200, 5, "mm")] = 900,
    leg: Annotated[float, Range(20, 80, 1, "mm")] = 40,
    beads: Annotated[int, Range(0, 6)] = 3,
    side: Literal["up", "down"] = "up",
    lip: bool = True,
) -> Part:
    """A tray for the battery of the Heron."""
    base = Outline.rectangle(length, 500)
    part = Part("HN-BT", sheet="DC01 1.6", base=base, title="tray <b>'&' lip</b>")
    for edge in ("front", "rear"):
        part = part.fold(edge, side, leg=leg)
    if lip:
        part = part.fold("front.end", "up" if side == "down" else "down", leg=15, name="lip")
    for i in range(beads):
        y = 120 + i * 52  # clear of the clamp that holds the base for the front fold
        part = part.bead([(120, y), (length - 120, y)], roll="R18x5", name=f"rib {i + 1}")
    return part.holes_along(("left", "right"), dia=8, pitch=45, inset=12, use="plug weld").hole(
        (length / 2, 460), 30, name="drain", use="drain"
    )


def clamped() -> Part:
    """A tray on which the clamp of the folder comes down on the bead beside the fold; by the brake it goes."""
    plain = tray(beads=0)
    folder = replace(plain, folds=tuple(replace(f, tool="F1") for f in plain.folds))
    return folder.bead([(120, 80), (780, 80)], roll="R18x5", name="rib 1")


def big_tray(length: float = 900.0, leg: float = 40.0, rim: int = 60) -> Part:
    """Ten folds, six beads, and `rim` holes round the base."""
    part = Part("HN-BB", sheet="DC01 1.6", base=Outline.rectangle(length, 620))
    for edge in ("front", "right", "rear", "left"):
        part = part.fold(edge, "up", leg=leg)
    for edge in ("front", "right", "rear", "left"):
        part = part.fold(f"{edge}.end", "down", leg=18, name=f"{edge} lip")
    for edge in ("front", "rear"):
        part = part.fold(f"{edge} lip.end", "down", leg=12, name=f"{edge} drip")
    for i in range(6):
        y = 110 + i * 80
        part = part.bead([(130, y), (length - 130, y)], roll="R18x5", name=f"rib {i + 1}")
    each = rim // 4
    for edge in ("front", "right", "rear", "left"):
        part = part.holes_along(edge, dia=6, count=each, inset=25, ends=40, use="plug weld", name=f"rim {edge}")
    return part


def deep(shop: Shop, title: str = "") -> Made:
    """A channel so deep and narrow that no clamp gets between its legs."""
    part = Part("HN-U", title=title, sheet="DC01 1.5", base=Outline.rectangle(300, 30))
    return make(part.fold("front", "up", leg=90, tool="F1").fold("rear", "up", leg=90, tool="F1"), shop)
