"""Both floor pans of a vehicle and the plates that reinforce them."""

from __future__ import annotations

from typing import Annotated, Any

from tinbook.families.calls import family, nearest_feasible, require_between, zero_or_at_least
from tinbook.families.pan import floor_pan
from tinbook.fields import Range
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.shop.material import OfSheet


@family
def floor_pan_pair(
    opening: Outline,
    *,
    extended: Annotated[Any, Range(0, 600, 5, "mm")] = 0.0,
    extend: str = "rear",
    number: str = "FLOOR-PAN",
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
    longer = nearest_feasible(
        "floor_pan_pair extended", extended, lambda by: opening.offset({extend: by}) if by else opening, 0.0
    )
    left = floor_pan(longer, number=f"{number}-L", rev=rev, **pan).renamed(title="floor pan, left")
    return left, left.mirrored(f"{number}-R", title="floor pan, right")


@family
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
    sheet: OfSheet = "DC01 2.5",
    number: str = "REINFORCEMENT",
    rev: str = "A",
) -> Part:
    """Return a flat plate that is plug-welded on a pan where a seat is bolted or a jack stands.

    Parameters
    ----------
    length, width, clip : float
        Outside dimensions and corners clipped off, so that no weld ends in a sharp corner.
    bolts_along, bolts_across : int
        Bolt holes in the middle; none along for a jack's plate.
    spread_along, spread_across : float
        Of the outer bolts' centres.
    size : str
        Thread.
    weld_pitch : float
        Of the plug welds, 12 mm from the edges.

    Returns
    -------
    Part
        It screens nothing: seats and belts need local rules and a licensed engineer.
    """
    require_between(
        "reinforcement_plate clip", clip, None, min(length, width) / 2 - 15, "half the shorter side less 15 mm"
    )
    zero_or_at_least("reinforcement_plate clip", clip, 3.0)
    base = Outline.rectangle(length, width)
    part = Part(number, rev=rev, sheet=sheet, base=base.clipped(clip) if clip else base, title="reinforcement plate")
    if bolts_along:
        inside = 2 * 35.0
        if bolts_along > 1:
            require_between(
                "reinforcement_plate spread_along", spread_along, None, length - inside, "inside the plug welds"
            )
        if bolts_across > 1:
            require_between(
                "reinforcement_plate spread_across", spread_across, None, width - inside, "inside the plug welds"
            )
        step = spread_along / max(bolts_along - 1, 1), spread_across / max(bolts_across - 1, 1)
        require_between("reinforcement_plate bolts_along", bolts_along, None, spread_along // 20 + 1, "20 mm apart", "")
        require_between(
            "reinforcement_plate bolts_across", bolts_across, None, spread_across // 20 + 1, "20 mm apart", ""
        )
        first = (length - step[0] * (bolts_along - 1)) / 2, (width - step[1] * (bolts_across - 1)) / 2
        part = part.hole_grid(first, (bolts_along, bolts_across), step, use="bolt", size=size, name="bolts")
    around, ends = (
        ("front", "right", "rear", "left"),
        24.0 if clip < 12 else None,
    )  # clear of each other at sharp corners
    return part.holes_along(around, pitch=weld_pitch, inset=12, ends=ends, use="plug weld", name="weld")
