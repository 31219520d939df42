"""A floor pan that fits a measured opening: lapped on the body's lip, folded up along the tunnel, beaded across."""

from __future__ import annotations

from typing import Annotated, Any

from tinbook.errors import BadValue, UnknownName
from tinbook.families.calls import family, nearest_feasible
from tinbook.fields import Range
from tinbook.flatpattern import Direction
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.plane.cuts import crossings
from tinbook.shop.material import OfSheet


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
