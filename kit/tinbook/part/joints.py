"""Joints that set plates square before they are welded: tabs in slots, half-laps, match marks.

A `Plate` is a flat sheet at its place in the assembly. The joints work out
from the two places where the plates meet, so tab and slot agree at any angle
and there is no second set of numbers.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Final, Literal

from tinbook.errors import BadValue, UnknownName
from tinbook.part.fits import FIT as FIT
from tinbook.part.fits import Process as Process
from tinbook.part.fits import largest_thickness as largest_thickness
from tinbook.part.fits import slot_width as slot_width
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.plane.cuts import beside_edge, contains, distance
from tinbook.plane.loops import Edge, Loop, Move, Point, ring
from tinbook.shop.material import Sheet
from tinbook.space import Frame, plus
from tinbook.values import dataclass

TOUCHES: Final = 0.05
"""mm: how far an edge may lie off the face that it stands on."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Plate:
    """A flat plate at its place.

    Parameters
    ----------
    outline : Outline
        Seen from its up side; the sheet lies at local z 0 to `thickness`.
    thickness : float
        As drawn, mm.
    at : Frame
        Where it stands.
    thickest : float or None
        Largest real thickness, mm; None for the drawn one.
    slots : tuple of (str, Loop)
        What joints have cut into it.
    marks : tuple of (str, (float, float))
        Match marks and where they stand.
    """

    outline: Outline
    thickness: float
    at: Frame
    thickest: float | None = None
    slots: tuple[tuple[str, Loop], ...] = ()
    marks: tuple[tuple[str, Point], ...] = ()

    def __post_init__(self) -> None:
        if not (math.isfinite(self.thickness) and self.thickness > 0):
            raise BadValue("plate thickness", self.thickness, "greater than 0 mm")
        if self.thickest is not None and not self.thickest >= self.thickness:
            raise BadValue("plate thickest", self.thickest, f"at least the drawn thickness, {self.thickness:g} mm")

    @property
    def extra(self) -> float:
        """How much thicker than drawn it may come, mm."""
        return 0.0 if self.thickest is None else self.thickest - self.thickness

    def part(
        self,
        number: str,
        *,
        sheet: Sheet | str,
        title: str = "",
        rev: str = "A",
        mark_height: float = 6.0,
        cautions: tuple[str, ...] = (),
    ) -> Part:
        """Return the plate as a part, with its slots and match marks."""
        part = Part(
            number,
            rev=rev,
            sheet=sheet,
            base=self.outline,
            title=title,
            drawn_thickness=self.thickness,
            cautions=cautions,
        )
        for name, loop in self.slots:
            part = part.cut_out(loop, name=name)
        for text, at in self.marks:
            part = part.text(text, at, height=mark_height)
        return part


def notched(outline: Outline, edge: str, pieces: tuple[Edge, ...]) -> Outline:
    """Return the outline with stretches of a straight edge replaced.

    Parameters
    ----------
    outline : Outline
        What is changed.
    edge : str
        A straight edge; its first remaining stretch keeps the name.
    pieces : tuple of Edge
        Chain along the edge's direction; gaps in it are filled by stretches of the edge.

    Returns
    -------
    Outline
    """
    e = outline.edge(edge)
    chain: list[Edge] = []
    at = e.start
    for p in (*pieces, None):
        goal = e.end if p is None else p.start
        if math.dist(at, goal) > 1e-9:
            chain.append(Edge(at, goal, 0.0, "edge"))
        if p is not None:
            chain.append(replace(p, name="joint"))
            at = p.end
    taken = {o.name for o in outline.loop.edges if o.name != edge}
    stem, named = edge.partition(" +")[0], []
    for c in chain:
        wanted = edge if c.name == "edge" else f"{stem} joint 1"
        n = 1
        while wanted in taken:
            n += 1
            wanted = f"{stem} +{n}" if c.name == "edge" else f"{stem} joint {n}"
        taken.add(wanted)
        named.append(replace(c, name=wanted))
    edges = [x for o in outline.loop.edges for x in (named if o.name == edge else [o])]
    return Outline(loop=Loop(tuple(edges)), findings=outline.findings)


def tab_and_slot(
    a: Plate,
    edge: str,
    b: Plate,
    *,
    count: int = 2,
    width: float | None = None,
    process: Process = "laser",
    mark: str = "A",
    proud: float = 0.0,
    ends: float | None = None,
    wide_at: Literal["start", "end"] = "start",
) -> tuple[Plate, Plate]:
    """Give plate `a` tabs on an edge and plate `b` the slots for them.

    The first tab is wider than the others, so that the plate turned end for
    end does not go in. Roots of the tabs are relieved, so that the shoulder
    seats; corners of the slots are relieved along the slot, so that a sharp
    tab clears the cutter's radius.

    Parameters
    ----------
    a : Plate
        Gets the tabs.
    edge : str
        Straight edge of `a` that stands on a face of `b`.
    b : Plate
        Gets the slots.
    count : int
        Tabs, 2 to 12.
    width : float, optional
        Of the narrower tabs, mm; else three thicknesses, or what fits.
    process : {"laser", "plasma", "waterjet"}
        Decides the play.
    mark : str
        Match mark for both plates, one to three characters.
    proud : float
        How far the tabs' tips stand out behind `b`, mm; negative to keep them below the face for a plug weld.
    ends : float, optional
        Least distance from the edge's ends to a tab, mm; else one and a half thicknesses.
    wide_at : {"start", "end"}
        End of the edge, as it is drawn, that gets the wide tab.

    Returns
    -------
    (Plate, Plate)
        `a` with tabs, `b` with slots.

    Raises
    ------
    BadValue
        An edge that does not stand on a face of `b`, more tabs than fit, slots beyond the outline of `b`.
    """
    if process not in FIT:
        raise UnknownName("process", process, FIT)
    if isinstance(count, bool) or not isinstance(count, int) or not 2 <= count <= 12:
        raise BadValue(f"joint {mark} count", count, "2 to 12 tabs: one alone would fit both ways round")
    t, fit = a.thickness, FIT[process]
    e = a.outline.edge(edge)
    if not e.is_line:
        raise BadValue(f"joint {mark} edge", edge, "a straight edge")
    if wide_at not in ("start", "end"):
        raise UnknownName(f"joint {mark} wide_at", wide_at, ("start", "end"))
    seat = _seat(a, e, b, mark)
    w, wide, centres = _spread(e.chord, count, width, t, 1.5 * t if ends is None else ends, mark)
    tip = seat.through + proud
    root = max(0.4 * t, 1.5)
    if tip <= 0:
        raise BadValue(f"joint {mark} proud", proud, f"more than {-seat.through:.4g} mm")
    if wide_at == "end":
        centres = [e.chord - s for s in centres]
    tabs = [_tab(e, s, wide if i == 0 else w, tip, root) for i, s in enumerate(centres)]
    pieces = [x for tab in (tabs if wide_at == "start" else reversed(tabs)) for x in tab]
    tabbed = replace(a, outline=notched(a.outline, edge, tuple(pieces)))
    cuts = []
    for i, s in enumerate(centres):
        length = (wide if i == 0 else w) + fit
        loop = _slot(seat, a, e, s, length, seat.breadth + fit + a.extra * seat.per_thickness)
        for p in loop.points:
            if not contains(b.outline.loop, p) or min(distance(o, p) for o in b.outline.loop.edges) < b.thickness:
                raise BadValue(
                    f"joint {mark} edge",
                    edge,
                    f"a place where the slots keep {b.thickness:g} mm from the edge of the other plate; "
                    f"the one at ({p[0]:.1f}, {p[1]:.1f}) does not",
                )
        name, n = (
            f"slot {mark}{i + 1}",
            1 + sum(other.partition(" +")[0] == f"slot {mark}{i + 1}" for other, _ in b.slots),
        )
        cuts.append((name if n == 1 else f"{name} +{n}", loop))
    slotted = replace(b, slots=(*b.slots, *cuts))
    inward = beside_edge(e)(centres[0], root + 9.0)
    spot = _spot(slotted, cuts[0][1])
    return (
        replace(tabbed, marks=(*tabbed.marks, (mark, inward))),
        replace(slotted, marks=(*slotted.marks, (mark, spot))) if spot is not None else slotted,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Seat:
    """How an edge of one plate stands on another."""

    b: Frame
    along: Point  # the edge's direction in b's plane
    across: Point  # square to it in b's plane
    middle: float  # middle of the tab's section along `across`
    breadth: float  # of that section
    per_thickness: float  # how much the section grows with the tab's thickness
    through: float  # tab's length from the shoulder to the far face


def _seat(a: Plate, e: Edge, b: Plate, mark: str) -> _Seat:
    """Work out where the tabs of edge `e` come through plate `b`."""
    me = f"joint {mark}"
    dx, dy = e.direction()
    run = b.at.local_vector(a.at.vector(dx, dy))
    out = b.at.local_vector(a.at.vector(dy, -dx))  # out of the plate, over the edge
    normal = b.at.local_vector(a.at.z)
    if abs(run[2]) > 1e-7:
        raise BadValue(f"{me} edge", e.name, "an edge that is parallel to the other plate")
    angle = math.degrees(math.asin(min(1.0, abs(out[2]))))
    if angle < 20.0:
        raise BadValue(f"{me} angle between plates", round(angle, 3), "20 to 160 degrees")
    # Heights of the two long corners of the cut edge above b's down face.
    low = b.at.local(a.at(*e.start, 0.0))
    heights = (low[2], low[2] + a.thickness * normal[2])
    face, nearest = (b.thickness, min(heights)) if out[2] < 0 else (0.0, max(heights))
    if abs(nearest - face) > TOUCHES:
        raise BadValue(
            f"{me} edge",
            e.name,
            f"an edge that stands on the other plate's face; it is {abs(nearest - face):.3g} mm away from it",
        )
    far = 0.0 if out[2] < 0 else b.thickness
    across = (-run[1], run[0])
    spots, reach = [], []
    for k, h in enumerate(heights):
        base = plus(low, normal, k * a.thickness)
        for z in (0.0, b.thickness):
            v = (z - h) / out[2]
            p = plus(base, out, v)
            spots.append(p[0] * across[0] + p[1] * across[1])
            if z == far:
                reach.append(v)
    middle, breadth = (min(spots) + max(spots)) / 2, max(spots) - min(spots)
    return _Seat(
        b=b.at,
        along=(run[0], run[1]),
        across=across,
        middle=middle,
        breadth=breadth,
        per_thickness=1.0 / abs(out[2]),
        through=min(reach),
    )


def _spread(
    length: float, count: int, width: float | None, t: float, ends: float, mark: str
) -> tuple[float, float, list[float]]:
    """Return tab width, width of the first tab, and the tabs' middles along an edge."""
    room = length - 2 * ends
    least = 1.5 * t
    gap = 2.0 * t
    fits = (room - (count - 1) * gap) / (count + 0.4)
    w = min(3.0 * t, fits) if width is None else width
    if not w >= least - 1e-9:
        most = int((room + gap - 0.4 * least) // (least + gap))
        if width is None or width > fits:
            raise BadValue(f"joint {mark} count", count, f"at most {max(most, 0)} tabs on an edge of {length:.4g} mm")
        raise BadValue(f"joint {mark} width", w, f"at least {least:g} mm, one and a half thicknesses")
    if w > fits + 1e-9:
        most_wide = math.floor(fits * 100) / 100  # rounded, so that the printed value can be typed
        raise BadValue(f"joint {mark} width", w, f"at most {most_wide:g} mm for {count} tabs on {length:.4g} mm")
    wide = 1.4 * w
    first, last = ends + wide / 2, length - ends - w / 2
    return w, wide, [first + i * (last - first) / (count - 1) for i in range(count)]


def _tab(e: Edge, middle: float, width: float, tip: float, root: float) -> list[Edge]:
    """Return the chain of a tab at a place of an edge, roots relieved, tip with a lead."""
    s0, s1 = middle - width / 2, middle + width / 2
    lead = min(1.0, tip / 4)
    at, neck = beside_edge(e), lead - tip
    p = [at(s0 - root, 0.0), at(s0, 0.0), at(s0, neck), at(s0 + lead, -tip)]
    p += [at(s1 - lead, -tip), at(s1, neck), at(s1, 0.0), at(s1 + root, 0.0)]
    # A half circle into the plate: clockwise seen along the edge with the metal to its left is a bulge to the left.
    bulge = (-1.0, 0.0, 0.0, 0.0, 0.0, 0.0, -1.0)
    return [Edge(p[i], p[i + 1], bulge[i]) for i in range(7)]


def _slot(seat: _Seat, a: Plate, e: Edge, s: float, length: float, width: float) -> Loop:
    """Return the slot for the tab whose middle lies at `s` along the edge, in b's plane."""
    at = seat.b.local(a.at(*beside_edge(e)(s, 0.0)))
    u = at[0] * seat.along[0] + at[1] * seat.along[1]
    (ax, ay), (cx, cy) = seat.along, seat.across
    place = Move(ax, cx, ay, cy, u * ax + seat.middle * cx, u * ay + seat.middle * cy)
    return eared_slot(length, width).moved(place)


def eared_slot(length: float, width: float) -> Loop:
    """Return a slot for a sharp-edged tab, about (0, 0), `length` along x.

    Parameters
    ----------
    length, width : float
        Clear size, mm; the corners are relieved lengthwise by half circles as wide as a third of the slot, at most 2 mm.

    Returns
    -------
    Loop
        Anticlockwise.
    """
    ear = min(2.0, width / 3)
    h, w = length / 2, width / 2
    q = [(-h, -w), (h, -w), (h, -w + ear), (h, w - ear), (h, w), (-h, w), (-h, w - ear), (-h, -w + ear)]
    return ring(q, (0.0, 1.0, 0.0, 1.0, 0.0, 1.0, 0.0, 1.0))


def _spot(b: Plate, slot: Loop) -> Point | None:
    """Return a free place for a mark beside a slot, None where there is none."""
    x0, y0, x1, y1 = slot.box
    for x, y in ((x1 + 3.0, y0), (x0 - 9.0, y0), (x0, y1 + 3.0), (x0, y0 - 9.0)):
        corners = [(x, y), (x + 6.0, y), (x + 6.0, y + 6.0), (x, y + 6.0)]
        if all(contains(b.outline.loop, p) for p in corners) and not any(
            contains(other, p) for _, other in b.slots for p in corners
        ):
            return x, y
    return None
