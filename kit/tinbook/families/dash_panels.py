"""A dash with bays, and the fascia panels bolted into them: cut-outs from a table, room kept free behind."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Annotated, Any, Final, TypeAlias

from tinbook.errors import BadValue, UnknownName
from tinbook.families.bolt_patterns import Bolting, bolted, bolting, rounded_box
from tinbook.families.calls import Size, family, helper, require_between
from tinbook.fields import POSITIVE, Pair, Range, Several, check_fields
from tinbook.finding import Finding, fine, stop
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.plane.loops import Point
from tinbook.rules.rule import family_rule
from tinbook.shop.material import OfSheet
from tinbook.values import dataclass

GAP: Final = 2.0
"""mm between neighbouring fascia panels (common practice)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Instrument:
    """An instrument for a fascia, by its own drawing.

    Parameters
    ----------
    opening : (float, float)
        Width and height of the cut-out, mm; equal and `round` for a hole.
    front : (float, float)
        Bezel, mm.
    behind : (float, float, float)
        Room to keep free behind the panel: width, height, depth with plugs and wires, mm.
    """

    opening: Annotated[tuple[float, float], Pair(POSITIVE, names=("width", "height"))]
    front: Annotated[tuple[float, float], Pair(POSITIVE, names=("width", "height"))]
    behind: Annotated[tuple[float, float, float], Several(POSITIVE, 3, 3, "lengths")]
    round: bool = False

    def __post_init__(self) -> None:
        """Hold each length against what it may be."""
        check_fields(self, "instrument")


INSTRUMENTS: Final = {
    "gauge 52": Instrument(opening=(52.5, 52.5), front=(60.0, 60.0), behind=(64.0, 64.0, 75.0), round=True),
    "gauge 80": Instrument(opening=(80.5, 80.5), front=(90.0, 90.0), behind=(94.0, 94.0, 85.0), round=True),
    "screen 7": Instrument(opening=(156.0, 92.0), front=(178.0, 106.0), behind=(176.0, 104.0, 40.0)),
    "screen 10": Instrument(opening=(224.0, 136.0), front=(250.0, 160.0), behind=(246.0, 156.0, 45.0)),
    "toggle switch": Instrument(opening=(12.3, 12.3), front=(20.0, 20.0), behind=(24.0, 24.0, 45.0), round=True),
    "rocker switch": Instrument(opening=(37.0, 21.0), front=(43.0, 26.0), behind=(42.0, 26.0, 50.0)),
    "socket": Instrument(opening=(29.0, 29.0), front=(38.0, 38.0), behind=(42.0, 42.0, 60.0), round=True),
}
"""Usual sizes, from memory (common practice): measure the one in your hand and give its own `Instrument`."""


Mounting: TypeAlias = tuple[str | Instrument, float, float]
"""What is mounted, a key of `INSTRUMENTS` or one's own, and where its middle is from the panel's, mm."""


_PLACE: Final = Range(-700, 700, 1, "mm")


@dataclass(frozen=True, slots=True)
class _Mounting:
    """Reads a `Mounting`."""

    valid: str = f"(instrument, x, y) with x and y {_PLACE.valid}"

    def read(self, value: Any, field: str) -> Mounting:
        """Return the mounting."""
        if not isinstance(value, tuple | list) or len(value) != 3:
            raise BadValue(field, value, self.valid)
        what, x, y = value
        known(what)
        return what, float(_PLACE.read(x, f"{field} x")), float(_PLACE.read(y, f"{field} y"))


Mountings: TypeAlias = Annotated[Sequence[Mounting], Several(_Mounting(), 0, what="instruments")]


@family
def dash_bay(
    length: Annotated[float, Range(300, 1400, 5, "mm")] = 1000.0,
    height: Annotated[float, Range(120, 320, 1, "mm")] = 200.0,
    panels: Annotated[int, Range(1, 6)] = 3,
    land: Annotated[float, Range(24, 40, 1, "mm")] = 30.0,
    margin: Annotated[float, Range(20, 80, 1, "mm")] = 20.0,
    pitch: Annotated[float, Range(60, 200, 1, "mm")] = 130.0,
) -> Bolting:
    """Return the bay of one of several equal fascia panels: opening and screws, from which dash and panels are cut.

    Parameters
    ----------
    length, height : float
        Of the dash's face.
    panels : int
        How many side by side.
    land : float
        Rim on which a panel lies.
    margin : float
        From the rims to the dash's edges.
    pitch : float
        Screws at most so far apart.

    Returns
    -------
    Bolting
    """
    wide = (length - 2 * margin + GAP) / panels - GAP - 2 * land
    most = int((length - 2 * margin + GAP) // (62 + GAP + 2 * land))
    require_between("dash_bay panels", panels, None, most, "so that each bay is 62 mm wide", "")
    require_between(
        "dash_bay height", height, 2 * margin + 2 * land + 62, None, "two margins, two rims and a bay of 62 mm"
    )
    return bolting(min(wide, 600.0), height - 2 * margin - 2 * land, land, pitch, 8.0)


@family
def dash_frame(
    length: Annotated[float, Range(300, 1400, 5, "mm")] = 1000.0,
    height: Annotated[float, Range(120, 320, 1, "mm")] = 200.0,
    panels: Annotated[int, Range(1, 6)] = 3,
    land: Annotated[float, Range(24, 40, 1, "mm")] = 30.0,
    margin: Annotated[float, Range(20, 80, 1, "mm")] = 20.0,
    pitch: Annotated[float, Range(60, 200, 1, "mm")] = 130.0,
    catches: Annotated[float, Range(0.8, 6.0, 0.1, "mm")] = 2.0,
    hem_return: Annotated[float, Range(10, 40, 1, "mm")] = 14.0,
    lip: Annotated[float, Range(12, 60, 1, "mm")] = 20.0,
    welds: Annotated[int, Range(0, 12)] = 4,
    sheet: OfSheet = "DC01 1.0",
    number: str = "DASH-FRAME",
    rev: str = "A",
) -> Part:
    """Return a dash whose hem hooks over an edge of the body, with bays for fascia panels.

    Parameters
    ----------
    length, height, panels, land, margin, pitch
        As for `dash_bay`.
    catches : float
        Thickness that the hem hooks over, play included.
    hem_return, lip : float
        Return of the hem from its outer edge; return along the bottom.
    welds : int
        Plug welds at each end.
    """
    bay = dash_bay(length, height, panels, land, margin, pitch)
    base = Outline.rectangle(length, height, ("bottom", "right", "top", "left"))
    part = Part(number, rev=rev, sheet=sheet, base=base, title="dash")
    part = part.hem("top", "open", "down", leg=hem_return, gap=catches, name="hem").fold(
        "bottom", "down", leg=lip, name="lip"
    )
    for i, at in enumerate(bay_places(bay, length, height, panels)):
        part = part.cut_out(bay.frame(0.0), at, name=f"bay {i + 1}")
        part = bolted(part, bay, at, "nut insert", f"insert {i + 1}")
    if welds:
        most = int((height - 30) // 16)
        require_between("dash_frame welds", welds, None, most, "16 mm apart along the ends", "")
        part = part.holes_along(("left",), count=welds, inset=10, use="plug weld", name="left weld")
        part = part.holes_along(("right",), count=welds, inset=10, use="plug weld", name="right weld")
    return part


@helper
def bay_places(bay: Bolting, length: float, height: float, panels: Annotated[int, Range(1, 6)]) -> tuple[Point, ...]:
    """Return the bays' middles on the dash's face, mm: evenly beside each other about its middle."""
    step = bay.width + 2 * bay.land + GAP
    return tuple((length / 2 + (k - (panels - 1) / 2) * step, height / 2) for k in range(panels))


@family
def fascia(
    bay: Bolting,
    mounted: Mountings = (),
    *,
    corner: Annotated[float, Range(0, 24, 1, "mm")] = 6.0,
    sheet: OfSheet = "DC01 1.5",
    number: str = "FASCIA",
    rev: str = "A",
) -> Part:
    """Return a fascia panel for a bay.

    Parameters
    ----------
    bay : Bolting
        The pattern that the dash has too.
    mounted : sequence of (str or Instrument, float, float)
        What is mounted, a key of `INSTRUMENTS` or one's own, and where its middle is from the panel's, mm.
    corner : float
        Radius of its corners; 0 leaves them sharp.

    Returns
    -------
    Part
        Its base panel is centred at (0, 0).

    Raises
    ------
    BadValue
        A cut-out that leaves the bay, or two whose room behind or bezels overlap; names the nearest place.
    """
    x, y = bay.width / 2 + bay.land, bay.length / 2 + bay.land
    base = Outline.polygon([(-x, -y), (x, -y), (x, y), (-x, y)])
    base = base.rounded(corner) if corner else base
    part = bolted(Part(number, rev=rev, sheet=sheet, base=base, title="fascia panel"), bay, (0.0, 0.0), "bolt", "screw")
    rooms: list[tuple[str, float, float, float, float]] = []
    for i, (what, px, py) in enumerate(mounted):
        item, name = known(what), f"{what if isinstance(what, str) else 'instrument'} {i + 1}"
        w, h = max(item.front[0], item.behind[0]), max(item.front[1], item.behind[1])
        for value, room, size, axis in ((px, bay.width, w, "x"), (py, bay.length, h, "y")):
            require_between(f"fascia {name} size", size, None, room, "the bay's own size")
            require_between(
                f"fascia {name} {axis}", value, (size - room) / 2, (room - size) / 2, "so that it stays in the bay"
            )
        for other, ox, oy, ow, oh in rooms:
            dx, dy = abs(px - ox), abs(py - oy)
            if dx < (w + ow) / 2 - 1e-9 and dy < (h + oh) / 2 - 1e-9:
                far = f"{(w + ow) / 2:g} mm beside or {(h + oh) / 2:g} mm above or below {other}"
                raise BadValue(f"fascia {name} place", (px, py), far)
        rooms.append((name, px, py, w, h))
        ow, oh = item.opening
        part = (
            part.hole((px, py), ow, name=name)
            if item.round
            else part.cut_out(rounded_box(ow, oh, 2.0), (px, py), name=name)
        )
    return part


def known(what: str | Instrument) -> Instrument:
    """Return an instrument of the table, or the one given."""
    if isinstance(what, Instrument):
        return what
    if not isinstance(what, str) or what not in INSTRUMENTS:
        raise UnknownName("instrument", what, INSTRUMENTS)
    return INSTRUMENTS[what]


@family_rule
@helper
def keep_out(mounted: Sequence[Mounting], depth: Size) -> Iterator[Finding]:
    """Check the room behind the instruments.

    Parameters
    ----------
    mounted : sequence
        As for `fascia`.
    depth : float
        Free behind the panel, mm.

    Returns
    -------
    Findings
        `dash.keep_out` for each.
    """
    for i, (what, _, _) in enumerate(mounted):
        need = known(what).behind[2]
        where = f"{what if isinstance(what, str) else 'instrument'} {i + 1}"
        if need <= depth:
            yield fine("dash.keep_out", where, "there is room for it behind the panel", need, depth)
        else:
            remedy = f"{need - depth:g} mm more depth, or another place"
            yield stop(
                "dash.keep_out", where, "it needs more depth behind the panel than there is", remedy, need, depth
            )
