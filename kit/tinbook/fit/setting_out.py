"""Setting out on the body: the line to cut the old sheet to, in lengths that a tape can carry over."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from html import escape
from itertools import combinations
from typing import Any, Final

from tinbook import units
from tinbook.errors import BadValue
from tinbook.finding import NOTHING, Findings, caution
from tinbook.fit.places import PLACE_HEADS, Place, cross, datum_points, place_of
from tinbook.htmltable import html_table
from tinbook.language import Said
from tinbook.part.outline import Outline
from tinbook.part.picture import outline_svg
from tinbook.plane.loops import Edge, Point
from tinbook.shown import Shown, picture_html
from tinbook.svg import loop_data, num
from tinbook.tolerances import SAME_POINT
from tinbook.tracing import Drawing, Numbers, Traced
from tinbook.values import dataclass

CAUTIONS: Final = (
    "Brace the body before a floor is cut: it carries load, and gaps close by themselves.",
    "Look under the sheet first: brake lines, cables, tanks and pipes run there; take the battery off.",
    "Drill or cut on the waste side of the line, then dress to it.",
)

LETTERS: Final = "ABCDEFGHJKLMNRSTUVWXYZ"
"""Corners of the cut line; I, O, P and Q are left out (P and Q are the ends of the baseline)."""

ALL_DIAGONALS: Final = 8
"""Up to so many corners every diagonal is listed, beyond that the one across from each corner."""

CLEARANCE: Final = 25.0
"""mm: largest clearance of a folded edge that a card is drawn for; more is a slip of the pen (own proposal)."""

SCRIBE: Final = "#b3261e"


@dataclass(frozen=True, slots=True, kw_only=True)
class Side:
    """One edge of the cut line.

    Parameters
    ----------
    name : str
        The edge.
    ends : (str, str)
        Letters of its corners.
    chord : float
        Straight from corner to corner, mm.
    lip : float
        Width of the lip that stays, mm; negative where the line stands off the outline by a folded edge's clearance.
    rise, quarter_rise : float
        How far an arc stands off its chord at the middle and at a quarter of the chord, mm, positive outward.
    radius : float or None
        Radius of an arc, mm.
    """

    name: str
    ends: tuple[str, str]
    chord: float
    lip: float
    rise: float = 0.0
    quarter_rise: float = 0.0
    radius: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Diagonal:
    """The distance between two corners of the cut line that are no neighbours, mm."""

    ends: tuple[str, str]
    length: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ScribeCard(Shown):
    """What to mark on the body before anything is cut.

    Parameters
    ----------
    name : str
        For headings and files.
    outline : Outline
        The line from which the lips are measured inward.
    line : Outline
        The line to cut to.
    baseline : str
        Edge of `outline` whose ends are P (its start) and Q; "" where P and Q are points of the body.
    base : ((float, float), (float, float))
        P and Q.
    places, sides, diagonals : tuple
        Dimensions.
    findings : Findings
        What should be looked at.
    """

    name: str
    outline: Outline
    line: Outline
    baseline: str
    base: tuple[Point, Point]
    places: tuple[Place, ...]
    sides: tuple[Side, ...]
    diagonals: tuple[Diagonal, ...]
    findings: Findings = NOTHING

    def drawing(self) -> Drawing:
        """Return the card at true size for a paper template."""
        corners = [(p.letter, p.at, 3.0) for p in self.places if "-" not in p.letter]
        return Drawing(
            name=self.name,
            lines=(
                Traced(kind="scribe", edges=self.line.loop.edges, text="cut the old sheet to this line"),
                Traced(kind="mark", edges=self.outline.loop.edges),
                *(
                    cross(*point)
                    for point in (*((n, at, 5.0) for n, at in zip("PQ", self.base, strict=True)), *corners)
                ),
            ),
            numbers=self.numbers,
            notes=self.notes,
        )

    @property
    def numbers(self) -> tuple[Numbers, ...]:
        """The card's dimensions as tables: places, edges, checks."""
        places = [p.row for p in self.places]
        sides = [
            (
                s.name,
                "-".join(s.ends),
                f"{s.chord:.1f}",
                f"{s.lip:.1f}" if s.lip >= 0 else f"none, clear by {-s.lip:.1f}",
                f"{s.rise:+.1f} at the middle, {s.quarter_rise:+.1f} at the quarters" if s.radius else "",
            )
            for s in self.sides
        ]
        diagonals = [("-".join(d.ends), f"{d.length:.1f}") for d in self.diagonals]
        return (
            Numbers(heads=PLACE_HEADS, rows=tuple(places)),
            Numbers(heads=("edge", "corners", "straight, mm", "lip, mm", "bow"), rows=tuple(sides)),
            Numbers(heads=(Said("check|noun"), "mm"), rows=tuple(diagonals)),
        )

    @property
    def notes(self) -> tuple[str, ...]:
        """What must be said with the dimensions."""
        what = f"the ends of edge '{self.baseline}'" if self.baseline else "the two stated points of the body"
        first = f"P and Q are {what}, {math.dist(*self.base):.1f} mm apart: punch-mark them first."
        if any(p.off < -SAME_POINT for p in self.places):
            first += " Square off it: plus lies to the left as you look from P to Q, minus to the right."
        return (first, *CAUTIONS, *(str(f) for f in self.findings))

    def __repr__(self) -> str:
        return f"<scribe card {self.name!r}: {self.outline!r}>"

    def _repr_svg_(self) -> str:
        x0, y0, x1, y1 = self.outline.box
        size = max(x1 - x0, y1 - y0) / 36
        cx, cy = (x0 + x1) / 2, (y0 + y1) / 2
        marks = [(place.letter, place.at) for place in self.places if "-" not in place.letter]
        text = []
        for letter, (x, y) in [*marks, *zip("PQ", self.base, strict=True)]:
            # Corners of the cut line are lettered on its inner side, P and Q beyond the outline.
            away = -1.1 if letter not in "PQ" else 0.9
            n = math.dist((x, y), (cx, cy)) or 1.0
            lx, ly = x + away * size * (x - cx) / n, y + away * size * (y - cy) / n
            text.append(
                f'<circle cx="{num(x)}" cy="{num(-y)}" r="{num(size / 5)}"/>'
                f'<text x="{num(lx)}" y="{num(-ly + size / 3)}">{letter}</text>\n'
            )
        inner = (
            f'<path class="tb-scribe" d="{loop_data(self.line.loop)}" fill="none" stroke="{SCRIBE}" '
            f'stroke-width="{num(size / 8)}" stroke-dasharray="{num(size)} {num(size / 3)}"/>\n'
            f'<g class="tb-letter" font-family="sans-serif" font-size="{num(size)}" text-anchor="middle" '
            f'fill="{SCRIBE}">\n{"".join(text)}</g>\n'
        )
        return outline_svg(self.outline.loop, title=self.name, inner=inner)

    def _repr_html_(self) -> str:
        tables = "".join(html_table(n.heads, n.rows) for n in self.numbers)
        return picture_html(self._repr_svg_()) + tables + "".join(f"<p>{escape(n)}</p>\n" for n in self.notes)


def scribe_card(
    outline: Outline,
    lip: Mapping[str, Any] | Any = "20 mm",
    *,
    others: Any = None,
    baseline: str | None = None,
    datums: Sequence[Sequence[Any]] | None = None,
    weld_edge: Any = "10 mm",
    name: str = "cut line",
) -> ScribeCard:
    """Return the line to cut the old sheet to, with the dimensions to mark it by.

    Parameters
    ----------
    outline : Outline
        The line from which the lip is measured inward: a measured line on sound metal, or the edge of the
        new panel where it laps over the body.
    lip : length, or mapping of edge name to length
        Width of metal that stays inside the outline; 0 cuts on the outline itself. Negative where the new panel's
        edge is folded and keeps a clearance from the body: the line lies outside by as much, at most `CLEARANCE`.
    others : length, optional
        Lip of the edges that a mapping does not name; without it all must be named.
    baseline : str, optional
        Straight edge whose ends P and Q the tape starts from; by default the longest straight one.
    datums : ((x, y), (x, y)), optional
        P and Q in its place: two points of the body in the outline's plane, 20 mm or more apart.
    weld_edge : length
        Least distance of a plug weld's middle from an edge: a lip carries one from twice this on.
    name : str
        For headings and files.

    Returns
    -------
    ScribeCard
        Corners are lettered in the order of the outline, A where its first edge starts.

    Raises
    ------
    BadValue
        A lip below minus `CLEARANCE`, an unknown edge, or a lip with which an edge of the cut line vanishes.
    """
    lips = _lips(outline, lip, others)
    try:
        line = outline.offset({k: -v for k, v in lips.items()})
    except BadValue as why:
        # Names the edge; smooth neighbours with different lips give a step, which is an edge like any other.
        raise BadValue("lip", lips, f"lips that leave a whole line to cut to ({why})") from None
    named, base = _base(outline, baseline, datums)
    edges = line.loop.edges
    n = len(edges)
    letters = [LETTERS[i % len(LETTERS)] + (str(i // len(LETTERS)) if i >= len(LETTERS) else "") for i in range(n)]
    places = [place_of(base, letters[i], f"{edges[i - 1].name}/{edges[i].name}", edges[i].start) for i in range(n)]
    sides = []
    for i, e in enumerate(edges):
        ends = letters[i], letters[(i + 1) % n]
        lip_here = lips.get(e.name, 0.0)
        if e.is_line:
            sides.append(Side(name=e.name, ends=ends, chord=e.chord, lip=lip_here))
            continue
        places.append(place_of(base, "-".join(ends), e.name, e.at(0.5)))
        rise = e.bulge * e.chord / 2
        quarter = _rise_at(e, 0.25)
        sides.append(
            Side(name=e.name, ends=ends, chord=e.chord, lip=lip_here, rise=rise, quarter_rise=quarter, radius=e.radius)
        )
    if n <= ALL_DIAGONALS:
        across = [(i, j) for i, j in combinations(range(n), 2) if 1 < j - i < n - 1]
    else:
        across = sorted({(min(i, j), max(i, j)) for i in range(n) for j in ((i + n // 2) % n,)})
    corner = line.loop.points
    diagonals = [Diagonal(ends=(letters[i], letters[j]), length=math.dist(corner[i], corner[j])) for i, j in across]
    return ScribeCard(
        name=name,
        outline=Outline(loop=outline.loop),
        line=line,
        baseline=named,
        base=base,
        places=tuple(places),
        sides=tuple(sides),
        diagonals=tuple(diagonals),
        findings=_findings(lips, 2.0 * units.positive(weld_edge, "weld_edge")),
    )


def _lips(outline: Outline, lip: Mapping[str, Any] | Any, others: Any) -> dict[str, float]:
    """Return the lip of every edge."""
    if not isinstance(lip, Mapping):
        if others is not None:
            raise BadValue("others", others, "only beside a mapping of edge name to lip")
        lip = dict.fromkeys(outline.names, lip)
    for name in lip:
        outline.edge(name)
    missing = [name for name in outline.names if name not in lip]
    if missing and others is None:
        raise BadValue("lip", tuple(lip), f"a lip for each edge, or others=; not named: {', '.join(missing)}")
    lips = {}
    for name in outline.names:
        value = lip.get(name, others)
        lips[name] = units.length(value, f"lip of edge '{name}'")
        if lips[name] < -CLEARANCE:
            valid = f"0 mm or more, or down to -{CLEARANCE:g} mm for the clearance of a folded edge"
            raise BadValue(f"lip of edge '{name}'", value, valid)
    return lips


def _base(outline: Outline, name: str | None, datums: Any) -> tuple[str, tuple[Point, Point]]:
    """Return the edge of the baseline, "" for stated points, and P and Q."""
    if datums is not None:
        if name is not None:
            raise BadValue("baseline", name, "either a baseline or datums")
        return "", datum_points(datums)
    if name is not None:
        e = outline.edge(name)
        if not e.is_line:
            raise BadValue("baseline", name, "a straight edge")
        return name, (e.start, e.end)
    straight = [e for e in outline.loop.edges if e.is_line]
    if not straight:
        raise BadValue("baseline", outline.names, "an outline with a straight edge to measure from")
    longest = max(straight, key=lambda e: e.length)
    return longest.name, (longest.start, longest.end)


def _rise_at(e: Edge, share: float) -> float:
    """Return how far an arc stands off its chord at a share of the chord, positive to the right of its run."""
    half = e.chord / 2
    x = (share - 0.5) * e.chord
    rise = abs(e.bulge) * half
    # A circle of radius r with its top at height `rise`; beyond a half circle the upper branch is meant.
    height = math.sqrt(max(e.radius**2 - x * x, 0.0)) - (e.radius - rise)
    return math.copysign(height, e.bulge)


def _findings(lips: Mapping[str, float], least: float) -> Findings:
    """Return the lips too narrow to carry a plug weld; an edge without a lip is none."""
    narrow = {name: v for name, v in lips.items() if 0 < v < least}
    what = "the lip is too narrow for plug welds at their least edge distance on both sides"
    remedy = "leave a wider lip, or join this edge otherwise"
    return Findings(caution("scribe.lip", f"edge '{name}'", what, remedy, v, least) for name, v in narrow.items())
