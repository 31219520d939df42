"""How a part comes out of the machine after a hit: lifted off, pulled forward, slid off endways, or by no straight way."""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import cache
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Final, Literal

import numpy as np
import shapely

from tinbook.making.articulated import RigidBody
from tinbook.route.collide import Sweep
from tinbook.shop.tools.setups import ToolBody
from tinbook.shop.tools.strokes import moved

if TYPE_CHECKING:
    from tinbook.route.planner import Hit, Planner

Way = Literal["lift", "forward", "endways", ""]

FAR: Final = 600.0
"""mm: what rises goes this far; no machine opens further."""
EVERYWHERE: Final = (-1e6, 1e6)
TOUCH: Final = 1e-2
"""mm² of overlap of two shadows that are none."""


def way_out(planner: Planner, move: Hit, within: frozenset[int] | None = None) -> Way:
    """Return the first straight way out after a hit, the fold sprung back to the angle that it keeps.

    Parameters
    ----------
    planner : Planner
        The part.
    move : Hit
        A hit that was proved.
    within : frozenset of int, optional
        Only metal that these folds alone place is asked; left out, all of it.

    Returns
    -------
    str
        "lift": what rises clears the part, and the part lifts off the rest; "forward": out of a folder, from under
        its clamp, to the side of the leg; "endways": it slides along the fold; "": none of these, so that it must
        be turned out, which nobody has checked.
    """
    if not move.setup.stroke.around:
        return "lift"
    sweep = planner.families(move.fold, move.level)[0][move.family][1]
    bodies = [p for p in move.setup.bodies if p.afterwards != "gone"]

    def free(how: Callable[[ToolBody], tuple[float, float]], span: tuple[float, float] | None = None) -> bool:
        return not any(_meets(sweep, move, p, span or p.span, how(p), within) for p in bodies)

    if free(lambda p: (0.0, FAR if p.afterwards == "rises" else -FAR)):
        return "lift"
    # The clamp moves backward as the part sees it; with the leg clamped everything is mirrored.
    if move.setup.stroke.clamps and free(lambda _: (FAR if move.setup.leg_back else -FAR, 0.0)):
        return "forward"
    return "endways" if free(lambda _: (0.0, 0.0), EVERYWHERE) else ""


def _meets(
    sweep: Sweep,
    move: Hit,
    piece: ToolBody,
    span: tuple[float, float],
    way: tuple[float, float],
    within: frozenset[int] | None,
) -> bool:
    """Whether metal within a stretch shares an area with what a tool passes over, both seen along the fold."""
    for child, places, bodies in sweep.groups:
        if within is not None and not within.issuperset(places):
            continue
        # Shared: tools that look alike are in the way alike, whatever else stands beside them.
        key = (child, places, tuple([move.before[n] for n in places]), piece.frame, piece.mark, span, way)
        if key not in sweep.metal.barred:
            found = any(_body_meets(sweep, move, piece, span, way, child, body) for body in bodies)
            sweep.metal.barred[key] = found
        if sweep.metal.barred[key]:
            return True
    return False


def _body_meets(
    sweep: Sweep,
    move: Hit,
    piece: ToolBody,
    span: tuple[float, float],
    way: tuple[float, float],
    child: bool,
    body: RigidBody,
) -> bool:
    shape = sweep.metal.shade(child, body, move.before, span)
    if shape.is_empty:
        return False
    kept = math.radians(sweep.motion.strip.angle)
    k = int(np.argmin(abs(sweep.motion.angles - kept)))
    turn, place = sweep.motion.seen(child, piece.frame)
    there = shapely.transform(shape, lambda c: moved(c, np.full(len(c), turn[k])) + place[k])
    x0, y0, x1, y1 = there.bounds
    a0, b0, a1, b1 = piece.shape.bounds
    if (
        x1 < a0 + min(way[0], 0.0)
        or x0 > a1 + max(way[0], 0.0)
        or y1 < b0 + min(way[1], 0.0)
        or y0 > b1 + max(way[1], 0.0)
    ):
        return False
    return bool(shapely.intersection(there, swept(piece.shape, way) if any(way) else piece.shape).area > TOUCH)


@cache
def _swept(wkb: bytes, way: tuple[float, float]) -> Any:
    shape = shapely.from_wkb(wkb)
    ring = shapely.get_coordinates(shape.exterior)
    sides = [shapely.Polygon((a, b, b + way, a + way)) for a, b in pairwise(ring)]
    return shapely.union_all([shape, *(s for s in sides if s.area > 1e-9)])


def swept(shape: Any, way: tuple[float, float]) -> Any:
    """Return the area that an outline passes over as it moves straight by (y, z) mm."""
    return _swept(shapely.to_wkb(shape), way)
