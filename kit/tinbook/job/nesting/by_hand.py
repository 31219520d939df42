"""Layouts corrected by hand: what is moved stays there, and what overlaps is refused."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import shapely
from shapely.geometry import Polygon, box

from tinbook.errors import BadValue, UnknownName, of_kind
from tinbook.fields import Count
from tinbook.finding import Findings, stop
from tinbook.job.nesting.layout import MOST_BLANKS, Blank, Nest, Plate, PlateLayout, Side, polygon, ranged

TOUCH = 1e-6
"""mm that a distance may fall short by, for rounding."""


def faults(
    layout: PlateLayout, blanks: Sequence[Blank], gap: float, margins: Mapping[Side, float], number: int = 1
) -> Findings:
    """Return what is wrong with the placements of one plate: overlaps, gaps, margins, grain, turning over.

    Parameters
    ----------
    layout : PlateLayout
        Plate and placements.
    blanks : sequence of Blank
        The blanks that the placements name.
    gap : float
        Least distance of two blanks, mm.
    margins : dict of side to float
        Least distance to the plate's sides, mm.
    number : int
        Of the plate, for the words.

    Returns
    -------
    Findings
        Stops only; empty if all is well.
    """
    known = {b.name: b for b in blanks}
    where = f"plate {number} ('{layout.plate.name}')"
    out = []
    shapes: list[Polygon] = []
    inner = allowed(layout.plate, margins)
    for p in layout.placements:
        if p.blank not in known:
            raise UnknownName("placement blank", p.blank, known)
        blank = known[p.blank]
        shapes.append(p.place(blank.shape))
        name = f"{where}, {p.blank} no. {p.copy}"
        outside = shapes[-1].difference(inner)
        if outside.area > TOUCH:
            far = max(inner.distance(shapely.Point(at)) for at in shapely.get_coordinates(outside))
            out.append(stop("nest.margin", name, "lies beyond the plate's margin", "move it in", far, 0.0))
        if p.turned_over and not blank.turn_over:
            out.append(stop("nest.turned", name, "is turned over, which its marks forbid", "turn it back"))
        if blank.grain is not None and layout.plate.grain is not None and not _along(p.angle, blank, layout.plate):
            out.append(stop("nest.grain", name, "lies across the grain", "turn it along the grain"))
    tree = shapely.STRtree(shapes)
    pairs = tree.query(shapes, "dwithin", max(gap, TOUCH)).T.tolist()
    for i, j in sorted({(min(a, b), max(a, b)) for a, b in pairs if a != b}):
        a, b = layout.placements[i], layout.placements[j]
        apart = shapes[i].distance(shapes[j])
        names = f"{where}, {a.blank} no. {a.copy} and {b.blank} no. {b.copy}"
        if shapes[i].intersection(shapes[j]).area > TOUCH:
            out.append(stop("nest.overlap", names, "overlap", "move one of them"))
        elif apart < gap - TOUCH:
            out.append(stop("nest.gap", names, "are too close", "move one of them", apart, gap))
    return Findings(out)


def allowed(plate: Plate, margins: Mapping[Side, float]) -> Polygon:
    """Return where the metal of blanks may lie on a plate."""
    shape = polygon(plate.outline)
    x0, y0, x1, y1 = shape.bounds
    if shape.equals(box(x0, y0, x1, y1)):
        return box(x0 + margins["left"], y0 + margins["bottom"], x1 - margins["right"], y1 - margins["top"])
    return shape.buffer(-max(margins.values()))


def _along(angle: float, blank: Blank, plate: Plate) -> bool:
    return any(abs((angle - turn + 180.0) % 360.0 - 180.0) < 1e-6 for turn in blank.turns(plate.grain))


def moved(
    nest: Nest,
    plate: int,
    blank: str,
    copy: int = 1,
    *,
    x: float | None = None,
    y: float | None = None,
    angle: float | None = None,
    to_plate: int | None = None,
    locked: bool = True,
) -> Nest:
    """Return the nest with one blank moved and locked.

    Parameters
    ----------
    nest : Nest
        A layout; it is not changed.
    plate : int
        Number of the plate, from 1.
    blank, copy : str, int
        Which blank.
    x, y, angle : float, optional
        New place, mm, and turn, degrees; what is not given stays.
    to_plate : int, optional
        Number of another plate of the nest.
    locked : bool
        Whether it stays there when the rest is nested again.

    Raises
    ------
    BadValue
        If it would overlap, come too close, leave the plate or lie across the grain. Nothing is changed then.
    """
    of_kind(locked, bool, "locked", "True or False")
    copy = Count(1, MOST_BLANKS).read(copy, "copy")
    layouts = list(nest.layouts)
    to_plate = plate if to_plate is None else to_plate
    here = nest.layout(plate)
    nest.layout(to_plate, "to_plate")
    limits = {"x": (-1e5, 1e5, "mm"), "y": (-1e5, 1e5, "mm"), "angle": (-360.0, 360.0, "deg")}
    given = {"x": x, "y": y, "angle": angle}
    move: dict[str, Any] = {field: ranged(field, v, *limits[field]) for field, v in given.items() if v is not None}
    chosen = [p for p in here.placements if (p.blank, p.copy) == (blank, copy)]
    if not chosen:
        raise UnknownName("blank", f"{blank} no. {copy}", [f"{p.blank} no. {p.copy}" for p in here.placements])
    old = chosen[0]
    new = replace(old, **move, locked=locked)
    layouts[plate - 1] = replace(here, placements=tuple(p for p in here.placements if p is not old))
    target = to_plate - 1
    layouts[target] = replace(layouts[target], placements=(*layouts[target].placements, new))
    wrong = faults(layouts[target], nest.blanks, nest.gap, nest.margins, target + 1)
    if wrong:
        raise BadValue(f"{blank} no. {copy}", (new.x, new.y, new.angle), f"a free place; {wrong[0]}")
    return nest.with_layouts(layouts)
