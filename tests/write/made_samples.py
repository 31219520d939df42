"""Parts of the demo job, made on the demo shop, for the writers' tests."""

from __future__ import annotations

import math
import tempfile
from functools import cache
from pathlib import Path
from typing import Any

from tinbook.families import tank_strap
from tinbook.making.made import Made
from tinbook.making.resolve import make
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.read.points import read_outline
from tinbook.read.tape import outline_from_tape
from tinbook.shop.shop import Shop
from tinbook.write.sheet.pages import write_sheet


@cache
def pan() -> Made:
    """The left floor pan: a tapered outline, a return up, a lip turned down by 30, beads and rows of holes."""
    shop = Shop.demo()
    base = Outline.polygon(
        [(0, 0), (900, 0), (900, 560), (860, 600), (0, 620)], ("front", "sill", "clip", "rear", "tunnel")
    )
    part = (
        Part("HN-FP-L", rev="B", sheet="DC01 1.2", base=base, title="Floor pan, left", quantity=2)
        .fold("tunnel", "up", leg=40)
        .fold("sill", "down", leg=25, angle=30)
        .bead([(140, 120), (140, 500)], roll=shop.rolls[1].key)
        .repeated(4, step=150)
        .holes_along(("front", "rear"), dia=8, pitch=45, inset=10, use="plug weld")
        .holes_along(("front", "rear"), count=6, use="tack screw")
        .hole((365, 300), dia=25, use="drain")
    )
    return make(part, shop)


@cache
def channel() -> Made:
    """The winch cradle: a channel with a return of more than 90, a round hole and a slot."""
    base = Outline.rectangle(300, 80)
    part = (
        Part("HN-WC", rev="A", sheet="DC01 2.0", base=base, title="Winch cradle")
        .fold("front", "up", leg=50)
        .fold("rear", "up", leg=50)
        .fold("front.end", "down", leg=20, angle=120)
        .hole((60, 40), dia=20)
        .hole((200, 40), dia=20, length=60)
    )
    return make(part, Shop.demo())


@cache
def tunnel() -> Made:
    """A tapered tunnel, upright on its paper: flanges on flanges, a closed hem, rows of bolts, a title too long."""
    base = Outline.polygon([(0, 0), (220, 0), (180, 700), (0, 700)], ("right", "front", "left", "rear"))
    part = (
        Part("HN-TN", rev="AA", sheet="DC01 1.6", base=base, title="Tunnel, " + "rather long words " * 4, quantity=12)
        .fold("front", "up", leg=60, angle=45)
        .fold("rear", "up", leg=60, angle=45)
        .fold("front.end", "down", leg=25, angle=45)
        .fold("rear.end", "down", leg=25, angle=45)
        .hem("left", "closed", leg=10)
        .holes_along(("front.end.end", "rear.end.end"), dia=6.5, pitch=60, inset=12, use="bolt")
    )
    return make(part, Shop.demo())


@cache
def cradle() -> Made:
    """A tray with eight folds and forty scattered holes: more than one page holds."""
    part = Part("HN-TC", rev="C", sheet="1.4301 1.5", base=Outline.rectangle(600, 400), title="Cradle base")
    for edge in ("front", "right", "rear", "left"):
        part = part.fold(edge, "up", leg=40).fold(f"{edge}.end", "up", leg=20, angle=120, skew=(-45, -45))
    for i in range(40):
        at = (30 + 70 * (i % 8) + 7 * math.sin(5 * i), 40 + 70 * (i // 8) + 7 * math.cos(3 * i))
        part = part.hole(at, dia=6 + i % 6, use="bolt")
    return make(part, Shop.demo())


@cache
def impossible() -> Made:
    """A part that cannot be made: its hole lies on a bead."""
    shop = Shop.demo()
    part = (
        Part("HN-TL", rev="A", sheet="DC01 1.2", base=Outline.rectangle(300, 200))
        .bead([(50, 100), (250, 100)], roll=shop.rolls[1].key)
        .hole((150, 100), dia=12)
    )
    return make(part, shop)


def sheet_bytes(made: Made, **how: Any) -> bytes:
    """The bytes of a part's fold sheet."""
    with tempfile.TemporaryDirectory() as folder:
        return write_sheet(made, folder, **how).read_bytes()


def measured() -> Made:
    """The left pan of the demo job on its measured opening: lines and an arc fitted to points, beads, a return."""
    points = Path(__file__).parents[2] / "notebooks" / "data" / "heron_left_floor_opening.csv"
    base = read_outline(points, tol="0.5 mm").offset({"tunnel": "-1.5 mm"}, others=20)
    part = Part("HN-FP-M", sheet="DC01 1.5", base=base).fold("tunnel", "up", leg=40)
    part = part.bead([(150, 45), (150, 377)], roll="R18x5").repeated(5, step=150)
    return make(part.holes_along(("front", "clip", "sill", "rear"), pitch=45, inset=10, use="plug weld"), Shop.demo())


def taped() -> Made:
    """A cover whose corners follow from sides and diagonals that do not quite agree."""
    sides = {"front": 503, "right": 298, "rear": 488, "left": 305}
    base = outline_from_tape(sides, {("left/front", "right/rear"): 578, ("front/right", "rear/left"): 587}, tol=5)
    return make(Part("HN-CV", sheet="DC01 1.5", base=base).fold("front", leg=25), Shop.demo())


def curled() -> Made:
    """A tank strap: a slot runs through its curled eye, so the solid has splines."""
    return make(tank_strap(number="HN-ST"), Shop.demo())
