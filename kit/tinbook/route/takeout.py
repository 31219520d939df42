"""How a part comes out of the machine after a hit: lifted off, pulled forward, slid off endways, or by no straight way."""

from __future__ import annotations

import math
from collections.abc import Iterator
from functools import cache
from itertools import pairwise
from typing import Any, Final, Literal

import numpy as np
import shapely

from tinbook.route.collide import Sweep
from tinbook.route.motion import moved
from tinbook.route.planner import Move, Planner
from tinbook.route.setups import Piece

Way = Literal["lift", "forward", "endways", ""]

RISES: Final = ("punch", "ram", "clamp")
STAYS: Final = ("die", "bed", "folder bed")
FAR: Final = 600.0
"""mm: what rises goes this far; no machine opens further."""
TOUCH: Final = 1e-2
"""mm² of overlap of two shadows that are none."""


def way_out(planner: Planner, move: Move) -> Way:
    """Return the first straight way out after a hit, the fold sprung back to the angle that it keeps.

    Parameters
    ----------
    planner : Planner
        The part.
    move : Move
        A hit that was proved.

    Returns
    -------
    str
        "lift": what rises clears the part, and the part lifts off the rest; "forward": out of a folder, from under
        its clamp, to the side of the leg; "endways": it slides along the fold; "": none of these, so that it must
        be turned out, which nobody has checked.
    """
    if move.setup.process not in ("air", "bottom", "fold"):
        return "lift"
    sweep = next(w for family, w in planner.families(move.fold, move.level)[0] if any(s is move.setup for s in family))
    up = {p.name: (0.0, FAR if p.name in RISES else -FAR) for p in _tools(move)}
    if not any(_meets(sweep, move, p, p.span, swept(p.shape, up[p.name])) for p in _tools(move)):
        return "lift"
    if move.setup.process == "fold":
        # The clamp moves backward as the part sees it; with the leg clamped everything is mirrored.
        back = (FAR if move.setup.way else -FAR, 0.0)
        if not any(_meets(sweep, move, p, p.span, swept(p.shape, back)) for p in _tools(move)):
            return "forward"
    long = (-1e6, 1e6)
    return "" if any(_meets(sweep, move, p, long, p.shape) for p in _tools(move)) else "endways"


def _tools(move: Move) -> Iterator[Piece]:
    return (p for p in move.setup.parts if p.name in (*RISES, *STAYS))


def _meets(sweep: Sweep, move: Move, piece: Piece, span: tuple[float, float], area: Any) -> bool:
    """Whether metal within a stretch shares an area with the folded part, both seen along the fold."""
    kept = math.radians(sweep.motion.strip.angle)
    k = int(np.argmin(abs(sweep.motion.angles - kept)))
    for child in (True, False):
        turn, place = sweep.motion.seen(child, piece.frame)
        for body, _ in sweep.blank.bodies_of(sweep.fold, child):
            shape = sweep.shade(child, body, move.before, span)
            if shape.is_empty:
                continue
            there = shapely.transform(shape, lambda c, t=turn[k], p=place[k]: moved(c, np.full(len(c), t)) + p)
            if shapely.intersection(there, area).area > TOUCH:
                return True
    return False


@cache
def _swept(wkb: bytes, way: tuple[float, float]) -> Any:
    shape = shapely.from_wkb(wkb)
    ring = shapely.get_coordinates(shape.exterior)
    sides = [shapely.Polygon((a, b, b + way, a + way)) for a, b in pairwise(ring)]
    return shapely.union_all([shape, *(s for s in sides if s.area > 1e-9)])


def swept(shape: Any, way: tuple[float, float]) -> Any:
    """Return the area that an outline passes over as it moves straight by (y, z) mm."""
    return _swept(shapely.to_wkb(shape), way)
