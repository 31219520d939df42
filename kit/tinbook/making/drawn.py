"""What the shop drew round a fold: outlines of tools and beams, and how they can stand along it."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final

import numpy as np
import shapely

from tinbook.making.folded import BendZone
from tinbook.making.made import Made
from tinbook.plane.loops import Array
from tinbook.shop.sections import Polygon, Punch
from tinbook.shop.shop import Shop
from tinbook.shop.tools import Tool
from tinbook.shop.tools.air_die import AirDie
from tinbook.shop.tools.hand_folder import HandFolder
from tinbook.shop.tools.v_block import VBlock
from tinbook.shop.tools.vee import VeeTool

SLACK: Final = 0.15
"""mm: tools are drawn smaller by this all round, so that touching is never taken for hitting."""
SHORT: Final = 12.0
"""mm: a punch may be shorter than the fold by this much at most (common practice)."""


@dataclass(frozen=True, slots=True)
class Body:
    """One part of a machine: its closed outline, what it moves with, from where to where it stands along the fold."""

    name: str
    ring: Array
    moves: str
    span: tuple[float, float]


def span_of(strip: BendZone) -> tuple[float, float]:
    """Return where a fold begins and ends along its own line, mm."""
    x = [p[0] for r in strip.regions for p in r.points]
    return min(x), max(x)


def is_drawn(shop: Shop, strip: BendZone) -> bool:
    """Whether the shop drew anything of the machine that makes a fold."""
    return bool(strip.bend.tool) and bool(_sections(shop, strip.bend.tool))


def _sections(shop: Shop, key: str) -> dict[str, str]:
    """Return the keys of the drawn sections of a tool and its machine by name, punches left out."""
    tool = shop.tool(key)
    machine = shop.machine(tool.machine)
    if isinstance(tool, HandFolder):
        named = {"clamp": tool.clamp, "folder bed": tool.bed, "folding beam": tool.beam}
    else:
        assert isinstance(tool, VeeTool)
        named = {"die": tool.section, "bed": machine.bed, "ram": machine.ram}
    return {name: s for name, s in named.items() if s and not shop.section(s).assumed}


def setups(made: Made, tool: Tool, span: tuple[float, float]) -> Iterator[list[Body]]:
    """Yield what the shop drew round a fold, for each way to set it up; lower parts first."""
    if isinstance(tool, HandFolder):
        yield from _folders(made, tool, span)
        return
    assert isinstance(tool, VeeTool)
    shop, drawn = made.shop, _sections(made.shop, tool.key)
    machine = shop.machine(tool.machine)
    for punch in punches(shop, tool):
        if punch and punch.length is not None and punch.length < span[1] - span[0] - SHORT:
            continue
        long = min(tool.max_length, machine.length or math.inf, (punch and punch.length) or math.inf)
        everywhere, ends = _stands(span, long)
        pieces = punch is None or bool(punch.segments)
        short = (span[0] + SHORT / 2, span[1] - SHORT / 2)
        below = short if tool.segments or isinstance(tool, AirDie) else everywhere
        for above, under in [(short, below)] if pieces else [(e, e) for e in ends]:
            lower = []
            if "die" in drawn:
                points = shop.section(drawn["die"]).points
                lower.append(Body("die", _opened(points, tool.opening, tool.vee_angle), "lower", under))
                if "bed" in drawn:
                    down = min(z for _, z in points)
                    lower.append(Body("bed", _ring(shop.section(drawn["bed"]).points, down), "lower", everywhere))
            if punch is None:
                yield lower
                continue
            section = shop.section(punch.section)
            for turned in (False, True) if punch.turns_round else (False,):
                upper = [Body("punch", _ring(section.points, 0.0, turned), "upper", above)]
                if "ram" in drawn:
                    ram = shop.section(drawn["ram"])
                    upper.append(Body("ram", _ring(ram.points, section.height), "upper", everywhere))
                yield lower + upper


def _folders(made: Made, tool: HandFolder, span: tuple[float, float]) -> Iterator[list[Body]]:
    everywhere, ends = _stands(span, min(tool.max_length, made.shop.machine(tool.machine).length or math.inf))
    for above in [(span[0] + SHORT / 2, span[1] - SHORT / 2)] if tool.fingers else ends:
        bodies = []
        for name, key in _sections(made.shop, tool.key).items():
            points = made.shop.section(key).points
            ring = _ring(points, made.thickness if name == "clamp" else 0.0)
            where = above if name == "clamp" else everywhere
            bodies.append(Body(name, ring, "swing" if name == "folding beam" else "lower", where))
        yield bodies


def _stands(span: tuple[float, float], long: float) -> tuple[tuple[float, float], list[tuple[float, float]]]:
    """Return where a whole tool stands along a fold: in its middle, or flush with either end."""
    long = min(long, span[1] - span[0] + 1000.0)
    middle = (span[0] + span[1]) / 2
    whole = (middle - long / 2, middle + long / 2)
    return whole, [whole, (span[0], span[0] + long), (span[1] - long, span[1])]


def punches(shop: Shop, tool: VeeTool) -> list[Punch | None]:
    """Return the drawn punches that may serve; None stands for one that nobody drew, which hits nothing here."""
    own = [p for p in shop.punches if p.machine == tool.machine]
    if isinstance(tool, VBlock):
        own = [p for p in own if abs(p.nose - tool.punch_nose) < 1e-6]
    if not own or any(shop.section(p.section).assumed for p in own):
        return [None]
    return list(own)


@lru_cache(maxsize=256)
def _ring(points: Polygon, up: float, turned: bool = False) -> Array:
    """Return a section's outline, a little smaller all round, shape (n, 2)."""
    shape = shapely.buffer(shapely.Polygon(points), -SLACK)
    return np.asarray(_outline(shape, up) * np.array((-1.0 if turned else 1.0, 1.0)))


@lru_cache(maxsize=256)
def _opened(points: Polygon, opening: float, angle: float) -> Array:
    """Return a die's outline without what lies near its opening."""
    deep = opening / 2 / math.tan(math.radians(angle / 2)) + 1.0
    shape = shapely.buffer(shapely.Polygon(points), -SLACK)
    return _outline(shape.difference(shapely.box(-opening / 2 - 3, -deep, opening / 2 + 3, 10.0)), 0.0)


def _outline(shape: Any, up: float) -> Array:
    whole = max(shapely.get_parts(shape), key=lambda g: float(g.area), default=shapely.Polygon())
    return np.asarray(shapely.get_coordinates(whole.exterior)[:-1] + np.array((0.0, up)))
