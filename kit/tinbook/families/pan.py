"""A floor pan that fits a measured opening, both pans of a vehicle, and the plates that reinforce them."""

from __future__ import annotations

from typing import Annotated, Any

from tinbook.errors import BadValue, UnknownName
from tinbook.families.calls import family, nearest_feasible, require_between, zero_or_at_least
from tinbook.fields import Range
from tinbook.flatpattern import Direction
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.plane.cuts import crossings
from tinbook.shop.material import OfSheet


@family
def plain_opening(
    length: Annotated[float, Range(200, 1800, 5, "mm")] = 900.0,
    depth: Annotated[float, Range(150, 900, 5, "mm")] = 420.0,
    clip: Annotated[float, Range(0, 200, 5, "mm")] = 70.0,
) -> Outline:
    """Return an opening in a floor to try a pan on, before the body's own is measured.

    Parameters
    ----------
    length, depth : float
        Along the tunnel; from it to the sill.
    clip : float
        Off the corner of sill and rear; 0 for none.

    Returns
    -------
    Outline
        Edges front, sill, clip (where there is one), rear and tunnel.
    """
    require_between("plain_opening clip", clip, None, min(length, depth) - 100, "100 mm of both edges left")
    corners = [(0.0, 0.0), (0.0, -depth), (length - clip, -depth), (length, clip - depth), (length, 0.0)]
    names = ["front", "sill", "clip", "rear", "tunnel"]
    if not clip:
        del corners[3], names[2]
    return Outline.polygon(corners, names)


@family
def floor_pan(
    opening: Outline,
    *,
    sheet: OfSheet = "DC01 1.5",
    fold: str | None = "tunnel",
    clearance: Annotated[Any, Range(0, 20, 0.5, "mm")] = 1.5,
    leg: Annotated[Any, Range(10, 150, 1, "mm")] = 40.0,
    lap: Annotated[Any, Range(10, 60, 1, "mm")] = 20.0,
    beads: Annotated[int, Range(0, 60)] = 5,
    roll: str = "R18x5",
    bead_side: Direction = "up",
    bead_margin: Annotated[Any, Range(10, 300, 1, "mm")] = 45.0,
    weld_pitch: Annotated[Any, Range(20, 200, 1, "mm")] = 45.0,
    tack_screws: Annotated[int, Range(0, 60)] = 6,
    number: str = "FLOOR-PAN",
    rev: str = "A",
) -> Part:
    """Return a pan for an opening.

    Parameters
    ----------
    opening : Outline
        The hole in the body, with named edges; beads run square to its first edge.
    sheet : str
        Sheet of the shop.
    fold : str or None
        Straight edge with an upturned leg instead of a lap.
    clearance, leg : length
        Of the folded edge inside the opening; height of its leg.
    lap : length
        Overlap on the body's lip along all other edges.
    beads : int
        Beads across, evenly spaced.
    roll, bead_side : str
        Roll pair; side to which the beads stand out, "up" or "down".
    bead_margin : length
        From the opening's edge to a bead's end.
    weld_pitch : length
        Of the plug welds, in the middle of the lap.
    tack_screws : int
        Screws that hold the pan for fitting, set between the plug welds.
    """
    if fold is not None and fold not in opening.names:
        raise UnknownName("floor_pan fold", fold, opening.names)
    lapped = tuple(name for name in opening.names if name != fold)
    inward = {} if fold is None else {fold: -clearance}
    base = nearest_feasible("floor_pan lap", lap, lambda by: opening.offset(inward, others=by), 10.0)
    part = Part(number, rev=rev, sheet=sheet, base=base, title="floor pan")
    if fold is not None:
        part = part.fold(fold, "up", leg=leg)
    part = _beads(part, opening, beads, roll, bead_side, bead_margin)
    part = part.holes_along(lapped, pitch=weld_pitch, inset=lap / 2, use="plug weld", name="plug weld")
    if tack_screws:
        part = part.holes_along(lapped, count=tack_screws, inset=lap / 2, use="tack screw", name="tack screw")
    return part


def _beads(part: Part, opening: Outline, count: int, roll: str, side: Direction, margin: float) -> Part:
    """Add equal parallel beads, as long as the shortest place allows."""
    if not count:
        return part
    x0, _, x1, _ = opening.box
    step = (x1 - x0) / (count + 1)
    low, high = [], []
    for k in range(1, count + 1):
        x = x0 + k * step
        ys = [e.at(s)[1] for e in opening.loop.edges for s in crossings(e, (x, 0.0), (0.0, 1.0))]
        low.append(min(ys))
        high.append(max(ys))
    y0, y1 = max(low) + margin, min(high) - margin
    if y1 - y0 < 10:
        raise BadValue("floor_pan bead_margin", margin, f"less than {(min(high) - max(low)) / 2 - 5:.0f} mm here")
    part = part.bead([(x0 + step, y0), (x0 + step, y1)], roll, side, name="bead")
    return part.repeated(count, (step, 0.0)) if count > 1 else part


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
