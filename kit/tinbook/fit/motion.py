"""What moves against what stands: an assembly looked at in one position after the other."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterable, Iterator
from typing import TYPE_CHECKING, Any

import tinbook.making.solid as solids
from tinbook.errors import BadValue
from tinbook.finding import Finding, fine, stop
from tinbook.making.assembled import CLASH, assemble
from tinbook.part.assembly import Assembly, Placed, Thing
from tinbook.rules.rule import family_rule

if TYPE_CHECKING:
    from tinbook.shop.shop import Shop


@family_rule
def clashes_through(
    at: Callable[[float], Assembly], shop: Shop, places: Iterable[float], unit: str = "degrees"
) -> Iterator[Finding]:
    """Hold every member against every other in each position; what does not move against each other only once.

    Parameters
    ----------
    at : callable
        Gives the assembly at a position.
    shop : Shop
        Whose sheets and tools.
    places : iterable of float
        Positions, in the order in which they are passed.
    unit : str
        Of the positions, for the text.

    Returns
    -------
    Findings
        `motion.clash` for each pair that shares metal, at its first such position, with its largest common volume;
        else one that is fine. A part that cannot be made gives its own findings.
    """
    positions = list(places)
    if not positions:
        raise BadValue("places", positions, "one position or more")
    bodies: dict[Thing, Any] = {}
    seen: set[tuple[Any, ...]] = set()
    worst: dict[tuple[str, str], tuple[float, float]] = {}
    for place in positions:
        made = assemble(at(place), shop)
        if not made.ok:
            yield from made.findings
            return
        members = made.assembly.members
        placed = []
        for m in members:
            if m.thing not in bodies:
                bodies[m.thing] = made.own_shape(m.thing)
            shape = solids.bodies.placed(bodies[m.thing], m.at.values)
            placed.append((m, shape, solids.kernel.box(shape)))
        for (a, shape_a, box_a), (b, shape_b, box_b) in itertools.combinations(placed, 2):
            if not solids.bodies.boxes_near(box_a, box_b) or (key := _lie(a, b)) in seen:
                continue
            seen.add(key)
            common = solids.bodies.common_volume(shape_a, shape_b)
            if common > CLASH:
                first, most = worst.get((a.name, b.name), (place, 0.0))
                worst[a.name, b.name] = first, max(most, common)
    if not worst:
        passed = f"{positions[0]:g} to {positions[-1]:g} {unit}, {len(positions)} positions"
        yield fine("motion.clash", passed, f"no two of {len(members)} members overlap", 0.0, 0.0, "mm³", "geometry")
    for (one, other), (first, most) in worst.items():
        where, what = f"{one} and {other}", f"they run into each other, first at {first:g} {unit}"
        yield stop("motion.clash", where, what, "move one of them", round(most, 3), 0.0, "mm³", "geometry")


def _lie(a: Placed, b: Placed) -> tuple[Any, ...]:
    """Return how two members lie to each other, rounded: the same in each position for what moves together."""
    inner = a.at.inverse() @ b.at
    return a.thing, b.thing, a.name, b.name, tuple(round(v, 6) + 0.0 for v in inner.values)
