"""Tools that the shop did not draw: they prove no stop; what is said instead is which tool would fold the part."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import partial
from itertools import chain
from typing import Any, Final

import numpy as np
import shapely

from tinbook.progress import Progress
from tinbook.route.planner import Hit, Planner
from tinbook.route.search import FoundOrder, any_order
from tinbook.shop.tools.outlines import shifted
from tinbook.shop.tools.setups import SHORT, Setup, ToolBody, relieved
from tinbook.shop.tools.strokes import moved
from tinbook.values import dataclass

TRIED: Final = 300
"""States opened for one other tool."""
HIGHEST: Final = 400.0
LOWEST: Final = 300.0
HORNS: Final = 100.0
"""mm: how much higher a punch, how much lower a bed, how long horn end pieces are tried at most."""
FOOT: Final = 20.0
"""mm: how high the foot of a horn end piece is, over which it clears the part's returns (common practice)."""
THINNEST: Final = 5.0
"""mm: a punch whose shank is thinner does not carry its force (common practice)."""
STEPS: Final = {"higher": 1.0, "lower": 5.0, "horns": 5.0}
"""mm: how finely each is worked out."""
AWAY: Final = {"ram": "higher", "bed": "lower", "die": "lower", "punch": "horns"}
"""What keeps away what of the machine is hit."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """Another set of tools in one machine.

    Parameters
    ----------
    machine : str
        Key.
    higher : float
        How much higher its punches stand, mm.
    lower : float
        How much lower its bed lies, under a higher die or a riser, mm.
    horns : float
        How far the punch's ends are relieved above a foot of `FOOT`, mm.
    """

    machine: str
    higher: float = 0.0
    lower: float = 0.0
    horns: float = 0.0

    def __call__(self, setup: Setup) -> Setup:
        """Return a setup with these tools."""
        if setup.machine != self.machine or not setup.stroke.punched:
            return setup
        horned = sum(p.name == "punch" for p in setup.bodies) > 1
        return replace(setup, bodies=tuple(chain.from_iterable(self._piece(p, horned) for p in setup.bodies)))

    def _piece(self, p: ToolBody, horned: bool) -> Iterator[ToolBody]:
        if p.name == "ram":
            yield replace(p, shape=shifted(p.shape, self.higher))
        elif p.name == "bed":
            yield replace(p, shape=shifted(p.shape, -self.lower))
        elif p.name == "die":
            yield replace(p, shape=_lengthened(p.shape, -self.lower))
        elif horned:
            yield replace(p, shape=_lengthened(p.shape, self.higher)) if p.shape.bounds[1] > 0.0 else p
        else:
            yield from relieved(replace(p, shape=_lengthened(p.shape, self.higher)), self.horns, FOOT)


def _lengthened(shape: Any, by: float) -> Any:
    """Return a punch with `by` mm of holder on its head, or a die with a riser under its foot (`by` negative)."""
    if not by:
        return shape
    c = shapely.get_coordinates(shape)
    end = shape.bounds[3] if by > 0 else shape.bounds[1]
    y = c[abs(c[:, 1] - end) < 0.5, 0]
    return shapely.union(shape, shapely.box(y.min(), min(end, end + by), y.max(), max(end, end + by)))


def drawn_only(setup: Setup) -> Setup:
    """Return a setup without whatever the shop did not draw."""
    return replace(setup, bodies=tuple(p for p in setup.bodies if not p.assumed))


def bodies_of(planner: Planner) -> dict[str, tuple[tuple[str, ...], tuple[str, ...]]]:
    """Return for each machine the names of its parts that are assumed, and of those that are drawn."""
    found: dict[str, dict[bool, dict[str, None]]] = {}
    for n in range(len(planner.blank.strips)):
        for level in range(1, planner.full[n] + 1):
            for setup in (s for family, _ in planner.families(n, level)[0] for s in family):
                for p in setup.bodies:
                    found.setdefault(setup.machine, {True: {}, False: {}})[p.assumed][p.name] = None
    return {machine: (tuple(names[True]), tuple(names[False])) for machine, names in found.items()}


@dataclass(eq=False)
class OnAnyTools(Planner):
    """A planner in which only drawn tools are in the way, and metal that closes round every punch."""

    change: Callable[[Setup], Setup] | None = drawn_only
    drawn: bool = True

    def possible(self, move: Hit) -> bool:
        """Whether nothing hits, and a punch that is formed over comes out of the metal again."""
        return super().possible(move) and not self._enclosed(move)

    def _enclosed(self, move: Hit) -> bool:
        """Whether metal all along the formed fold leaves no way from its inside to the ram, `THINNEST` wide."""
        if not move.setup.stroke.punched:
            return False
        sweep = self.families(move.fold, move.level)[0][move.family][1]
        x0, x1 = self.blank.span(move.fold)
        x0, x1 = x0 + SHORT, x1 - SHORT
        if x0 >= x1:
            return False
        shapes = []
        for child in (True, False):
            turn, place = (v[-1] for v in sweep.motion.poses[child])
            for body, _ in self.blank.bodies_of(move.fold, child):
                e = self.blank.extent(move.fold, child, body, move.before)
                if e.x0 <= x0 and e.x1 >= x1:
                    shade = sweep.metal.shade(child, body, move.before, (x0, x1))
                    shapes.append(shapely.transform(shade, lambda c, t=turn, p=place: moved(c, np.full(len(c), t)) + p))
        metal = shapely.buffer(shapely.union_all(shapes), THINNEST / 2)
        open_rad = max(math.pi - sweep.motion.last, 0.1)
        tip = shapely.Point(
            0.0,
            float(sweep.motion.stroke.tool("upper", sweep.motion)[1][-1, 1])
            + THINNEST / 2 / math.sin(open_rad / 2)
            + 1.0,
        )
        holes = [shapely.Polygon(ring) for part in shapely.get_parts(metal) for ring in part.interiors]
        return any(shapely.contains(hole, tip) for hole in holes)


def ruled_out(
    planner: Planner, *, effort: int | None = None, seconds: float | None = None, progress: Progress | None = None
) -> bool:
    """Whether what the shop drew, and the part itself, alone leave no order.

    Parameters
    ----------
    planner : Planner
        That found none.
    effort, seconds, progress
        As for `search.any_order`.
    """
    if not any(assumed for assumed, _ in bodies_of(planner).values()):
        return True
    found = any_order(
        OnAnyTools(planner.made, planner.extra, planner.given), effort=effort, seconds=seconds, progress=progress
    )
    return not found.moves and found.proven


def needed(planner: Planner, machine: str, against: str) -> str:
    """Return the tools in one machine with which the part folds, each number tried; "" where none was found.

    A higher punch, a lower bed or horn end pieces, the one first that keeps away what hits; else as few of these
    together as will do; then the smallest of each.

    Parameters
    ----------
    planner : Planner
        That found no order.
    machine : str
        Key.
    against : str
        What of the machine is hit: "ram", "punch", "die" or "bed".
    """
    first = AWAY.get(against, "higher")

    def folds(**change: float) -> FoundOrder | None:
        other = Planner(planner.made, planner.extra, planner.given, change=Change(machine=machine, **change))
        found = any_order(other, effort=TRIED)
        return found if found.moves else None

    values = {"higher": _room_above(planner, machine), "lower": LOWEST, "horns": HORNS}
    values = {name: most for name, most in values.items() if most >= STEPS[name]}
    if first in values and folds(**{first: values[first]}) is not None:
        values = {first: values[first]}
    elif not values or folds(**values) is None:
        return ""
    for name in ("lower", "horns", "higher"):
        fewer = {n: v for n, v in values.items() if n != name}
        if name in values and fewer and folds(**fewer) is not None:
            values = fewer
    for name in values:
        others = {n: v for n, v in values.items() if n != name}
        values[name] = _least(partial(_works, folds, others, name), values[name], STEPS[name])
    return _said(folds(**values), values, machine)


def _works(folds: Callable[..., FoundOrder | None], others: dict[str, float], name: str, value: float) -> bool:
    return folds(**others, **{name: value}) is not None


def _least(works: Callable[[float], bool], most: float, step: float) -> float:
    """Return the smallest multiple of a step that works, up to one that is known to."""
    low, high = 0, int(most / step)
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if works(middle * step) else (middle, high)
    return high * step


def _room_above(planner: Planner, machine: str) -> float:
    """How much higher the lowest punch may become in a machine's daylight, mm."""
    daylight = planner.made.shop.machine(machine).daylight
    most = 0.0
    for n in range(len(planner.blank.strips)):
        for setup in (s for family, _ in planner.families(n, 1)[0] for s in family if s.machine == machine):
            heights = [p.shape.bounds[3] - p.shape.bounds[1] for p in setup.bodies if p.name in ("punch", "die")]
            if heights:
                free = HIGHEST if daylight is None else daylight - sum(heights) - planner.made.thickness
                most = max(most, min(free, HIGHEST))
    return float(int(most))


def _said(found: FoundOrder | None, values: dict[str, float], machine: str) -> str:
    assert found is not None
    said = []
    if "higher" in values:
        setups = [m.setup for m in found.moves if m.setup.machine == machine]
        tops = [p.shape.bounds[3] for s in setups for p in s.bodies if p.name == "punch"]  # bars that flatten are none
        said.append(f"a punch at least {max(tops):.0f} mm high, or a holder that makes up for it")
    if "lower" in values:
        said.append(f"a die at least {values['lower']:g} mm higher, or a riser of that height under it")
    if "horns" in values:
        said.append(f"horn end pieces of {values['horns']:g} mm over a foot of {FOOT:g} mm")
    return f"folds with {' and '.join(said)} in machine '{machine}' (tried)"
