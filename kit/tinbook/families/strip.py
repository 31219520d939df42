"""A strip with any folds, leg after leg, and the chain of folds that straps and braces share."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, Any

from tinbook import units
from tinbook.errors import BadValue
from tinbook.families.calls import family, require_between, zero_or_at_least
from tinbook.fields import Range
from tinbook.part.features import LegTo
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.shop.material import OfSheet
from tinbook.values import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Bent:
    """One fold of a chain and the leg behind it.

    Parameters
    ----------
    name : str
        Of the leg.
    angle : float
        Turned through, degrees; positive up, negative down.
    leg : float
        mm, measured as `to` says.
    radius : float or None
        Of the bar that it is rolled round; None for a fold in a tool of the shop.
    to : {"outside", "inside", "tangent"}
        What the leg is measured from.
    """

    name: str
    angle: float
    leg: float
    radius: float | None = None
    to: LegTo = "outside"


def chained(part: Part, edge: str, bends: Sequence[Bent]) -> Part:
    """Hang folds one behind the other on an edge, each on the end of the leg before it.

    Parameters
    ----------
    part : Part
        Where they hang.
    edge : str
        Edge of the first, as for `Part.fold`.
    bends : sequence of Bent
        In order.
    """
    for b in bends:
        way, turn = "up" if b.angle > 0 else "down", abs(b.angle)
        if b.radius is None:
            part = part.fold(edge, way, leg=b.leg, angle=turn, to=b.to, name=b.name)  # type: ignore[arg-type]
        else:
            part = part.curl(edge, way, radius=b.radius, angle=turn, leg=b.leg, to=b.to, name=b.name)  # type: ignore[arg-type]
        edge = f"{b.name}.end"
    return part


@family
def folded_strip(
    width: Annotated[float, Range(10, 600, 1, "mm")] = 40.0,
    legs: str = "60 80 60 30",
    turns: str = "90 -90 45",
    end_hole: Annotated[float, Range(0, 30, 0.5, "mm")] = 9.0,
    sheet: OfSheet = "DC01 2.0",
    number: str = "STRIP",
    rev: str = "A",
) -> Part:
    """Return a strip with any folds.

    Parameters
    ----------
    width : float
        Width of the strip.
    legs : str
        Legs from end to end, mm to the outside mould lines, parted by blanks.
    turns : str
        Folds between them, degrees turned through: positive up, negative down; one fewer than legs.
    end_hole : float
        Hole in the middle of the first leg; 0 for none.
    """
    runs = _numbers(legs, "folded_strip legs", "mm")
    angles = _numbers(turns, "folded_strip turns", "deg")
    if len(angles) != len(runs) - 1:
        raise BadValue("folded_strip turns", turns, f"{len(runs) - 1} angles, one fewer than legs")
    zero_or_at_least("folded_strip end_hole", end_hole, 2.0)
    require_between(
        "folded_strip end_hole", end_hole, None, min(width, runs[0]) - 6, "the first leg less 3 mm at each side"
    )
    base = Outline.rectangle(runs[0], width, ("near", "end", "far", "start"))
    part = Part(number, rev=rev, sheet=sheet, base=base, title="folded strip")
    bends = [
        Bent(name=f"leg {i + 2}", angle=a, leg=leg) for i, (a, leg) in enumerate(zip(angles, runs[1:], strict=True))
    ]
    part = chained(part, "end", bends)
    if end_hole:
        part = part.hole((runs[0] / 2, width / 2), end_hole, name="end hole")
    return part


def _numbers(text: Any, field: str, unit: str) -> list[float]:
    words = text.replace(",", " ").split() if isinstance(text, str) else list(text)
    if not 1 <= len(words) <= 40:
        raise BadValue(field, text, f"1 to 40 numbers in {unit}")
    values = [units.number(w, unit, field) for w in words]
    for v in values:
        if (unit == "mm" and v <= 0) or (unit == "deg" and not 0 < abs(v) <= 180):
            raise BadValue(field, text, "legs greater than 0 mm" if unit == "mm" else "turns up to 180 deg, none 0")
    return values
