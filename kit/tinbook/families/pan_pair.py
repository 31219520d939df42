"""Both floor pans of a vehicle, plates that reinforce them, and hat-section braces under them."""

from __future__ import annotations

import itertools
from typing import Annotated, Any

from tinbook import units
from tinbook.errors import BadValue
from tinbook.families.pan import floor_pan
from tinbook.families.ranges import or_none, ranged, within
from tinbook.part.features import Bead
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.units import Range


def floor_pan_pair(
    opening: Outline,
    *,
    extended: Any = 0.0,
    extend: str = "rear",
    number: str = "HN-FP",
    rev: str = "A",
    **pan: Any,
) -> tuple[Part, Part]:
    """Return the left pan for its measured opening and the right one as its mirror image.

    Parameters
    ----------
    opening : Outline
        Left opening as measured, or as `Outline`.
    extended : length
        Moves one edge of the opening outward (a longer cabin), 0 to 600 mm.
    extend : str
        Which edge.
    number, rev : str
        Part number without the hand; -L and -R are added. Revision of both.
    **pan
        Everything else that `floor_pan` takes.

    Returns
    -------
    (Part, Part)
        Left and right. Measure the right opening too before it is cut: few bodies are true mirrors.
    """
    more = units.length(extended, "floor_pan_pair extended")
    within("floor_pan_pair extended", more, 0.0, 600.0, "what the floor's braces allow for")
    longer = opening.offset({extend: more}) if more else opening
    left = floor_pan(longer, number=f"{number}-L", rev=rev, **pan).renamed(title="floor pan, left")
    return left, left.mirrored(f"{number}-R", title="floor pan, right")


@ranged
def reinforcement_plate(
    length: Annotated[float, Range(80, 500, 1, "mm")] = 180.0,
    width: Annotated[float, Range(70, 400, 1, "mm")] = 120.0,
    clip: Annotated[float, Range(0, 40, 1, "mm")] = 15.0,
    bolts_along: Annotated[int, Range(0, 6)] = 2,
    bolts_across: Annotated[int, Range(1, 4)] = 2,
    spread_along: Annotated[float, Range(20, 400, 1, "mm")] = 100.0,
    spread_across: Annotated[float, Range(20, 300, 1, "mm")] = 50.0,
    size: str = "M8",
    weld_pitch: Annotated[float, Range(25, 80, 1, "mm")] = 40.0,
    sheet: str = "DC01 2.5",
    number: str = "HN-RF-1",
    rev: str = "A",
) -> Part:
    """Return a flat plate that is plug-welded on a pan where a seat is bolted or a jack stands.

    Parameters
    ----------
    length, width, clip : float
        Outside dimensions and corners clipped off, so that no weld ends in a sharp corner, mm.
    bolts_along, bolts_across : int
        Bolt holes in the middle; none along for a jack's plate.
    spread_along, spread_across : float
        Of the outer bolts' centres, mm.
    size : str
        Thread.
    weld_pitch : float
        Of the plug welds, 12 mm from the edges, mm.
    sheet, number, rev : str
        Sheet of the shop, part number, revision.

    Returns
    -------
    Part
        It screens nothing: seats and belts need local rules and a licensed engineer.
    """
    within("reinforcement_plate clip", clip, None, min(length, width) / 2 - 15, "half the shorter side less 15 mm")
    or_none("reinforcement_plate clip", clip, 3.0)
    base = Outline.rectangle(length, width)
    part = Part(number, rev=rev, sheet=sheet, base=base.clipped(clip) if clip else base, title="reinforcement plate")
    if bolts_along:
        inside = 2 * 35.0
        within("reinforcement_plate spread_along", spread_along, None, length - inside, "inside the plug welds")
        within("reinforcement_plate spread_across", spread_across, None, width - inside, "inside the plug welds")
        step = spread_along / max(bolts_along - 1, 1), spread_across / max(bolts_across - 1, 1)
        within("reinforcement_plate bolts_along", bolts_along, None, spread_along // 20 + 1, "20 mm apart", "")
        within("reinforcement_plate bolts_across", bolts_across, None, spread_across // 20 + 1, "20 mm apart", "")
        first = (length - step[0] * (bolts_along - 1)) / 2, (width - step[1] * (bolts_across - 1)) / 2
        part = part.hole_grid(first, (bolts_along, bolts_across), step, use="bolt", size=size, name="bolts")
    around, ends = (
        ("front", "right", "rear", "left"),
        24.0 if clip < 12 else None,
    )  # clear of each other at sharp corners
    return part.holes_along(around, pitch=weld_pitch, inset=12, ends=ends, use="plug weld", name="weld")


@ranged
def floor_brace(
    length: Annotated[float, Range(200, 1400, 5, "mm")] = 780.0,
    width: Annotated[float, Range(25, 120, 1, "mm")] = 50.0,
    height: Annotated[float, Range(15, 80, 1, "mm")] = 30.0,
    flange: Annotated[float, Range(20, 40, 1, "mm")] = 22.0,
    flats: tuple[float, ...] | None = None,
    sheet: str = "DC01 1.5",
    number: str = "HN-BR-F",
    rev: str = "A",
) -> Part:
    """Return a hat section that is plug-welded under a pan later on, through its flanges.

    Parameters
    ----------
    length, width, height, flange : float
        Along its run; of the hat's top, outside; of its sides; of each flange, mm.
    flats : tuple of float, optional
        Places of the plug welds along it, mm, as `flats_of` reads them from the pan's beads; else every 60 mm.
    sheet, number, rev : str
        Sheet of the shop, part number, revision.

    Returns
    -------
    Part
    """
    base = Outline.rectangle(length, width, ("near", "end", "far", "start"))
    part = Part(number, rev=rev, sheet=sheet, base=base, title="floor brace")
    count = max(2, round(length / 60))
    places = tuple(length * (k + 0.5) / count for k in range(count)) if flats is None else flats
    for edge in ("near", "far"):
        part = part.fold(edge, "down", leg=height, name=f"{edge} side")
        part = part.fold(f"{edge} side.end", "up", leg=flange, name=f"{edge} flange")
        for i, x in enumerate(places):
            within("floor_brace flats", x, 8.0, length - 8.0, "on the brace")
            at = (x if edge == "far" else length - x, flange - 10.0)
            part = part.hole(at, panel=f"{edge} flange", use="plug weld", name=f"{edge} weld {i + 1}")
    return part


def flats_of(pan: Part, start: float, length: float, y: float, clear: float = 14.0) -> tuple[float, ...]:
    """Return where a brace that runs along x under a pan finds flat sheet: midway between the pan's beads.

    Parameters
    ----------
    pan : Part
        With beads that cross the brace.
    start, length, y : float
        Where the brace begins, how long it is, its middle on the pan, mm.
    clear : float
        From a weld to a bead's middle at least, mm.

    Returns
    -------
    tuple of float
        From the brace's start, mm.
    """
    lines = sorted(x for b in pan.beads for x in _crossed(b, y))
    ends = [start, *(x for x in lines if start < x < start + length), start + length]
    if len(ends) < 3:
        raise BadValue("flats_of y", y, "a line that crosses the pan's beads; without them leave `flats` out")
    middles = [(a + b) / 2 for a, b in itertools.pairwise(ends) if b - a >= 2 * clear]
    return tuple(x - start for x in middles)


def _crossed(bead: Bead, y: float) -> list[float]:
    (x0, y0), (x1, y1) = bead.path[0], bead.path[-1]
    found = []
    for k in range(bead.copies):
        dx, dy = bead.step[0] * k, bead.step[1] * k
        low, high = sorted((y0 + dy, y1 + dy))
        if low < y < high:
            found.append(x0 + dx + (x1 - x0) * (y - y0 - dy) / (y1 - y0))
    return found
