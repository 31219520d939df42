"""A job's sheets as the page draws them, what a hand does with a blank on them, and the job nested again after a change.

Plain functions, without a widget.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from shapely.ops import polylabel

from tinbook.bench.background import Tell
from tinbook.errors import BadValue, TinbookError, UnknownName
from tinbook.job.corrected import move_in_job
from tinbook.job.cut_parts import made_parts
from tinbook.job.declared import Job
from tinbook.job.nested import Group, JobNest, nest_job
from tinbook.job.nesting.layout import Blank, Placement, ranged
from tinbook.job.pricing.price import Price, price_nest
from tinbook.svg import loop_data
from tinbook.values import dataclass

WAY = 1e5
"""mm: further than any sheet is long."""


def page_sheets(found: JobNest) -> list[dict[str, Any]]:
    """Return each sheet of a job with its blanks: contours in the blank's own frame, and where each copy lies."""
    out: list[dict[str, Any]] = []
    for group in found.groups:
        shapes = {b.name: _shape(b) for b in group.nest.blanks}
        first = len(out) + 1
        numbers = list(range(first, first + len(group.nest.layouts)))
        for layout in group.nest.layouts:
            x0, y0, x1, y1 = layout.plate.outline.box
            known = {b.name: b for b in group.nest.blanks}
            out.append(
                {
                    "number": len(out) + 1,
                    "metal": group.sheet,
                    "plate": layout.plate.name,
                    "size": f"{x1 - x0:.0f} x {y1 - y0:.0f} mm",
                    "box": [x0, -y1, x1, -y0],
                    "outline": loop_data(layout.plate.outline),
                    "gap": group.nest.gap,
                    "shapes": shapes,
                    "blanks": [_placed(known[p.blank], p, (x0, y0)) for p in layout.placements],
                    "others": [n for n in numbers if n != len(out) + 1],
                }
            )
    return out


def _shape(blank: Blank) -> dict[str, Any]:
    """Return a blank's contours and the place in its broadest metal where its name stands."""
    at = polylabel(blank.shape, 1.0)
    return {
        "path": " ".join(loop_data(loop) for loop in (blank.outer, *blank.holes)),
        "at": [round(at.x, 2), round(at.y, 2)],
        "room": round(2 * at.distance(blank.shape.boundary), 2),
    }


def _placed(blank: Blank, p: Placement, corner: tuple[float, float]) -> dict[str, Any]:
    a, b, c, d, x, y = p.matrix()
    x0, y0, x1, y1 = p.place(blank.shape).bounds
    return {
        "blank": p.blank,
        "copy": p.copy,
        "matrix": [a, -c, -b, d, x, -y],  # a picture's y points down
        "left": round(x0 - corner[0], 1),
        "bottom": round(y0 - corner[1], 1),
        "wide": round(x1 - x0, 1),
        "high": round(y1 - y0, 1),
        "angle": round(p.angle % 360.0, 2),
        "locked": p.locked,
    }


def laid(found: JobNest, sheet: int, blank: str, copy: int, do: Mapping[str, Any]) -> JobNest:
    """Return a job's sheets with one blank laid elsewhere and locked, or locked or unlocked where it lies.

    Parameters
    ----------
    found : JobNest
        It is not changed.
    sheet : int
        Number of the sheet through the job, from 1.
    blank, copy : str, int
        Which blank.
    do : mapping
        Any of "left" and "bottom", where its outer edges shall lie from the lower left corner of the sheet, mm; "right"
        and "up", how far it is shifted, mm; "angle", how it shall lie, and "turn", how far it is turned about its
        middle, degrees; "to", another sheet of the same metal; "locked", whether it stays there.

    Raises
    ------
    BadValue
        What is no number, no such blank or sheet, or no free place: then with what it would overlap.
    """
    known = ("left", "bottom", "right", "up", "angle", "turn", "to", "locked")
    for name in do:
        if name not in known:
            raise UnknownName("gesture", name, known)
    if isinstance(copy, bool):
        raise BadValue("copy", copy, "a whole number from 1")
    at, plate = found.sheet(sheet)
    group = found.groups[at]
    old = _placement(group, plate, blank, copy)
    move: dict[str, Any] = {"to": do.get("to"), "locked": bool(do.get("locked", True))}
    if do.keys() - {"to", "locked"} or do.get("to") is not None:
        move |= _place(found, group, plate, old, do)
    return move_in_job(found, sheet, blank, copy, **move)


def _placement(group: Group, plate: int, blank: str, copy: int) -> Placement:
    placements = group.nest.layout(plate).placements
    for p in placements:
        if (p.blank, p.copy) == (blank, copy):
            return p
    raise UnknownName("blank", f"{blank} no. {copy}", [f"{p.blank} no. {p.copy}" for p in placements])


def _place(found: JobNest, group: Group, plate: int, old: Placement, do: Mapping[str, Any]) -> dict[str, float]:
    """Return x, y and angle of a blank whose outer edges lie where a gesture says."""
    asked = {k: ranged(k, do[k], -WAY, WAY, "mm") for k in ("left", "bottom", "right", "up") if k in do}
    angle = ranged("angle", do.get("angle", old.angle), -360.0, 360.0, "deg")
    angle = (angle + ranged("turn", do.get("turn", 0.0), -360.0, 360.0, "deg")) % 360.0
    target = plate
    if do.get("to") is not None:
        at, target = found.sheet(do["to"])
        group_of = found.groups[at]
        if group_of is not group:
            raise BadValue("to", do["to"], f"a sheet of '{group.sheet}'")
    here, there = (group.nest.layout(n).plate.outline.box[:2] for n in (plate, target))
    shape = next(b for b in group.nest.blanks if b.name == old.blank).shape
    was = old.place(shape).bounds
    new = replace(old, angle=angle, x=0.0, y=0.0).place(shape).bounds
    out = {"angle": angle}
    for k, (axis, edge, way) in enumerate((("x", "left", "right"), ("y", "bottom", "up"))):
        # Turned about its middle, it lies as it lay on the other sheet, unless its edge is given.
        rests = (was[k] + was[k + 2]) / 2 - (new[k + 2] - new[k]) / 2 - here[k]
        out[axis] = there[k] + asked.get(edge, rests) + asked.get(way, 0.0) - new[k]
    return out


def locked_blanks(nest: JobNest) -> set[tuple[str, str, int]]:
    """Return what is locked on a job's sheets: metal, blank, copy."""
    return {(g.sheet, p.blank, p.copy) for g in nest.groups for k in g.nest.layouts for p in k.placements if p.locked}


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """A nested job with its price, or why it has none."""

    nest: JobNest
    price: Price | None = None
    why: str = ""


def answered(nest: JobNest) -> Answer:
    """Return a nested job with its price; without one where rates are missing."""
    try:
        return Answer(nest=nest, price=price_nest(nest))
    except TinbookError as error:
        if isinstance(error, BadValue) and error.field == "rates":
            return Answer(nest=nest, why=f"state {error.valid}")
        return Answer(nest=nest, why=str(error))


def renested(job: Job, old: JobNest, sets: int, effort: float, tell: Tell) -> Answer:
    """Return a changed job on its sheets: parts that are as before are not made again, and metals with the same blanks keep their sheets, moved by hand or not."""
    tell(0.0, "parts")
    made = made_parts(job, old.shop, earlier=old.parts)
    new = nest_job(
        job,
        old.shop,
        old.stock,
        sets=sets,
        new_sheets=old.new_sheets,
        effort=effort,
        made=made,
        progress=lambda done, of: tell(done / max(of, 1), "sheets"),
    )
    return answered(replace(new, groups=tuple(_as_before(new, old, n) for n in range(len(new.groups)))))


def _as_before(new: JobNest, old: JobNest, n: int) -> Group:
    """Return the group of before where its metal has the same blanks and no other group draws on the same stock."""
    group = new.groups[n]
    for was in old.groups:
        alone = all(sum(g.sheet == group.sheet for g in nest.groups) == 1 for nest in (new, old))
        if alone and (was.sheet, was.traced, was.nest.blanks) == (group.sheet, group.traced, group.nest.blanks):
            return was
    return group
