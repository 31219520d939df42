"""Hat-section braces under a floor: plug-welded between its beads, cut free where a bead stands out toward them."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Annotated, Final

import shapely

from tinbook.errors import BadValue
from tinbook.families.calls import Place, Room, Size, family, helper, require_between, thickness_of
from tinbook.fields import Inside, Maybe, Number, Range, Several, check_fields
from tinbook.finding import Finding, fine, stop
from tinbook.part.assembly import Assembly
from tinbook.part.forms.bead import Bead
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.rules.rule import family_rule
from tinbook.shop.material import OfSheet
from tinbook.space import Frame, frame_at
from tinbook.values import dataclass

if TYPE_CHECKING:
    from tinbook.making.folded import MadePanel
    from tinbook.making.made import Made

SHORTEST: Final = 26.0
"""mm: a piece of flange shorter than this is left out: it takes no plug weld."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Notch:
    """Where a brace's sides are cut back for a bead.

    Parameters
    ----------
    start, stop : float
        Along the brace, mm.
    depth : float
        From the floor down, mm.
    """

    start: Annotated[float, Number("mm")]
    stop: Annotated[float, Number("mm")]
    depth: Annotated[float, Number("mm", least=0)]

    def __post_init__(self) -> None:
        """Check the fields."""
        check_fields(self, "notch")


@family
def floor_brace(
    length: Annotated[float, Range(200, 1400, 5, "mm")] = 780.0,
    width: Annotated[float, Range(25, 120, 1, "mm")] = 50.0,
    height: Annotated[float, Range(15, 80, 1, "mm")] = 30.0,
    flange: Annotated[float, Range(20, 40, 1, "mm")] = 22.0,
    flats: Annotated[tuple[float, ...] | None, Maybe(Several(Number("mm"), least=0, what="places"))] = None,
    notches: Annotated[tuple[Notch, ...], Several(Inside(Notch), least=0, what="notches")] = (),
    sheet: OfSheet = "DC01 1.5",
    number: str = "FLOOR-BRACE",
    rev: str = "A",
) -> Part:
    """Return a hat section that is plug-welded under a pan later on, through its flanges.

    Parameters
    ----------
    length, width, height, flange : float
        Along its run; of the hat's top, outside; of its sides; of each flange.
    flats : tuple of float, optional
        Places of the plug welds along it, mm, as `flats_of` reads them from the pan's beads; else every 60 mm.
    notches : tuple of Notch
        Where its sides are cut back, as `notches_of` reads them from a pan whose beads stand out downward.

    Returns
    -------
    Part
        The base is the hat's top, up side away from the floor.
    """
    t = thickness_of("floor_brace sheet", sheet)
    for n in notches:
        require_between(
            "floor_brace height", height, n.depth + 3 * t + 6, None, f"over a bead that takes {n.depth:g} mm of it"
        )
    runs = _runs(length, notches)
    if not runs:
        raise BadValue(
            "floor_brace notches", len(notches), f"fewer: {SHORTEST:g} mm of flange between two is the least"
        )
    base = Outline.rectangle(length, width, ("near", "end", "far", "start"))
    part = Part(number, rev=rev, sheet=sheet, base=base, title="floor brace")
    count = max(2, round(length / 60))
    places = tuple(length * (k + 0.5) / count for k in range(count)) if flats is None else flats
    for x in places:
        require_between("floor_brace flats", x, 8.0, length - 8.0, "on the brace")
    for edge in ("near", "far"):
        if len(runs) == 1 and runs[0] == (0.0, length):
            part = part.fold(edge, "down", leg=height, name=f"{edge} side")
            pieces = [(f"{edge} side.end", f"{edge} flange", (0.0, length))]
        else:
            side = _crenellated(length, height, runs, notches, edge == "near")
            part = part.fold(edge, "down", shape=side, name=f"{edge} side")
            pieces = [(f"{edge} side.top {k}", f"{edge} flange {k}", run) for k, run in enumerate(runs, 1)]
        count = 0
        for path, name, (start, end) in pieces:
            part = part.fold(path, "up", leg=flange, name=name)
            for x in (p for p in places if start + 8.0 <= p <= end - 8.0):
                count += 1
                at = (x - start if edge == "far" else end - x, flange - 10.0)
                part = part.hole(at, panel=name, use="plug weld", name=f"{edge} weld {count}")
    return part


def _runs(length: float, notches: Sequence[Notch]) -> list[tuple[float, float]]:
    """Return the stretches that keep their flange."""
    runs, at = [], 0.0
    for n in sorted(notches, key=lambda n: n.start):
        runs.append((at, min(n.start, length)))
        at = max(at, n.stop)
    runs.append((at, length))
    return [(a, b) for a, b in runs if b - a >= SHORTEST]


def _crenellated(
    length: float, height: float, runs: Sequence[tuple[float, float]], notches: Sequence[Notch], turned: bool
) -> Outline:
    """Return a side whose top stands at the floor where it has a flange, and lower between; `turned` runs it backward."""
    low = height - max(n.depth for n in notches)
    points, names = [(0.0, 0.0), (length, 0.0)], ["base"]
    at = length
    for k, (start, end) in reversed(list(enumerate(runs, 1))):
        if end < at - 1e-9:
            points += [(at, low), (end, low)]
            names += [f"wall {k} b", f"gap {k}"]
        points += [(end, height), (start, height)]
        names += [f"wall {k} a", f"top {k}"]
        at = start
    if at > 1e-9:
        points += [(at, low), (0.0, low)]
        names += ["wall 0", "gap 0"]
    names.append("start")
    if turned:
        points = [(length - x, y) for x, y in points]
        # Run backward it starts at its base again.
        points, names = [points[1], points[0], *reversed(points[2:])], [names[0], *reversed(names[1:])]
    return Outline.polygon(points, names)


@helper
def flats_of(pan: Part, start: Place, length: Size, y: Place, clear: Room = 14.0) -> tuple[float, ...]:
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


@helper
def notches_of(
    pan: Made, start: Place, length: Size, y: Place, width: Size = 50.0, flange: Size = 22.0, clear: Room = 3.0
) -> tuple[Notch, ...]:
    """Return where a brace along x under a made pan must be cut back: at every bead that stands out downward.

    Parameters
    ----------
    pan : Made
        Its base panel's beads are read as they are rolled.
    start, length, y : float
        Where the brace begins, how long it is, its middle on the pan, mm.
    width, flange : float
        As for `floor_brace`, mm.
    clear : float
        Beside and under the bead, mm.

    Returns
    -------
    tuple of Notch
        From the brace's start; those that run into each other are one.
    """
    half = width / 2 + flange
    strip = shapely.box(start, y - half, start + length, y + half)
    found: list[Notch] = []
    for b in pan.panel("base").beads:
        if b.direction == "up":
            continue
        met = shapely.Polygon(b.footprint.chords(0.01)).intersection(strip)
        if not met.is_empty:
            x0, _, x1, _ = met.bounds
            found.append(
                Notch(start=max(x0 - clear - start, 0.0), stop=min(x1 + clear - start, length), depth=b.depth + clear)
            )
    merged: list[Notch] = []
    for n in sorted(found, key=lambda n: n.start):
        last = merged[-1] if merged else None
        if last and n.start <= last.stop:
            merged[-1] = Notch(start=last.start, stop=max(n.stop, last.stop), depth=max(n.depth, last.depth))
        else:
            merged.append(n)
    return tuple(merged)


@helper
def brace_frame(brace: Made, start: Place, y: Place) -> Frame:
    """Return where a brace or a plate hangs under a pan: flanges on the pan's underside, its run along x from `start`.

    Parameters
    ----------
    brace : Made
        As it is made; the pan's underside lies at z = 0.
    start, y : float
        Its start and its middle on the pan, mm.
    """
    _, y0, _, y1 = brace.panel("base").boundary.box
    deep = -_lying(brace)[0].frame(0.0, 0.0, 0.0)[2]  # the flanges' free face under the hat's down face
    # Turned about its run: what was up looks down.
    return frame_at((start, y + (y0 + y1) / 2, -deep), (1.0, 0.0, 0.0), (0.0, -1.0, 0.0))


@helper
def braced(floor: Assembly, pan: Made, brace: Made, start: Place, y: Place, name: str = "brace") -> Assembly:
    """Hang a brace or a plate under the pan of an assembly, plug-welded to it.

    Parameters
    ----------
    floor : Assembly
        With the pan as its member "pan", as the pan is drawn.
    pan, brace : Made
        Both as they are made.
    start, y : float
        Its start and its middle on the pan, mm.
    name : str
        Of the new member.
    """
    throat = min(pan.thickness, brace.thickness)  # a plug is filled to the thinner sheet
    return floor.add(name, brace.part, brace_frame(brace, start, y)).weld("pan", name, throat=throat)


def _lying(brace: Made) -> tuple[MadePanel, ...]:
    """Return what lies on the floor: a brace's flanges, or the base of a plate."""
    return tuple(p for p in brace.panels if "flange" in p.name) or (brace.panel("base"),)


@family_rule
@helper
def brace_findings(pan: Made, brace: Made, start: Place, y: Place, clear: Room = 1.0) -> Iterable[Finding]:
    """Check that a brace or a plate lies on flat sheet: not on a bead that stands out toward it, no weld on any bead.

    Parameters
    ----------
    pan, brace : Made
        Both as they are made.
    start, y : float
        Where the brace begins on the pan, and its middle, mm.
    clear : float
        Between a flange and such a bead, at least, mm.

    Returns
    -------
    Findings
        `brace.bead` and `brace.weld`, worst first; each flange and each weld that meets a bead, else one that is fine.
    """
    at = brace_frame(brace, start, y)
    beads = [(b, shapely.Polygon(b.footprint.chords(0.01))) for b in pan.panel("base").beads]
    found, least, room = [], float("inf"), float("inf")
    for p in _lying(brace):
        lies = shapely.Polygon([at(*p.frame(*q))[:2] for q in p.boundary.chords(0.05)])
        welds = [(h.name, shapely.Polygon([at(*p.frame(*q))[:2] for q in h.loop.chords(0.05)])) for h in p.holes]
        for b, print_ in beads:
            if b.direction == "down":
                least = min(least, gap := lies.distance(print_))
                if gap < clear:
                    found.append(
                        _bad("brace.bead", p.name, f"it sits on bead {b.name!r}", gap, clear, "notch it there")
                    )
            for name, hole in welds:
                room = min(room, gap := hole.distance(print_))
                if gap < clear:
                    found.append(_bad("brace.weld", name, f"it is on bead {b.name!r}", gap, clear, "move it to a flat"))
    codes = {f.code for f in found}
    me = brace.part.number
    for code, what, gap in (
        ("brace.bead", "it sits on no bead", least),
        ("brace.weld", "every weld is on flat sheet", room),
    ):
        if code not in codes:
            value = None if gap == float("inf") else round(gap, 2)
            found.append(fine(code, me, what, value, clear, source="geometry"))
    return found


def _bad(code: str, where: str, what: str, value: float, limit: float, remedy: str) -> Finding:
    return stop(code, where, what, remedy, round(value, 2), limit, source="geometry")
