"""The fit card: a finished part measured by tape against its drawing and the opening, before it is welded."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence, Set
from typing import Any, Final

import numpy as np

from tinbook import units
from tinbook.errors import BadValue, UnknownName, of_kind
from tinbook.finding import Finding, Findings, caution, fine
from tinbook.fit.gaps import LIMITS
from tinbook.htmltable import html_table
from tinbook.language import Said
from tinbook.making.made import Made, need_made
from tinbook.part.outline import Outline
from tinbook.part.picture import outline_svg
from tinbook.plane.loops import Array, Edge, Move, Point
from tinbook.read.fitting import out_of, point
from tinbook.read.tape import outline_from_tape
from tinbook.read.taped import TapedOutline
from tinbook.shown import Shown, picture_html
from tinbook.svg import loop_data, num
from tinbook.tracing import Drawing, Numbers, Traced
from tinbook.values import dataclass

GOOD: Final = 1.0
"""mm: a station that is off by no more needs nothing (own proposal: what a tape reads)."""
LEAST_LAP: Final = LIMITS["plug weld"].lap or 0.0
"""mm on the lip."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Station:
    """A corner or the middle of an edge.

    Parameters
    ----------
    name : str
        "front/sill", or "front" for the middle of that edge.
    off : float
        How far the finished part stands outside its drawing there, mm; negative where it falls short.
    advice : str
        What to do.
    lap : float or None
        How far it stands over the opening's edge, mm, negative for a gap inside it; None without an opening.
    wanted : float or None
        What it was drawn to stand over it.
    """

    name: str
    off: float
    advice: str
    lap: float | None = None
    wanted: float | None = None

    @property
    def row(self) -> tuple[str, ...]:
        """Cells of its table."""
        against = () if self.lap is None or self.wanted is None else (_over(self.lap), _over(self.wanted))
        return (self.name, f"{round(self.off, 1) + 0.0:+.1f}", *against, self.advice)


@dataclass(frozen=True, slots=True, kw_only=True)
class FitCard(Shown):
    """What a finished part measures, and what to do before it is welded in.

    Parameters
    ----------
    name : str
        Part number.
    drawn : Outline
        The base outline as it was drawn.
    taped : TapedOutline
        As measured, laid on it.
    stations : tuple of Station
        Corners and edges, in order.
    legs : dict of str to (float, float)
        Height of each measured leg and the drawn one, mm.
    deductions : dict of str to (float or None, float)
        Bend deduction of each fold from its measured blank, None where that was not measured; and the one in use, mm.
    findings : Findings
        What should be looked at.
    opening : Outline or None
        What it goes into, in the part's coordinates.
    """

    name: str
    drawn: Outline
    taped: TapedOutline
    stations: tuple[Station, ...]
    legs: dict[str, tuple[float, float]]
    deductions: dict[str, tuple[float | None, float]]
    findings: Findings
    opening: Outline | None = None

    @property
    def numbers(self) -> tuple[Numbers, ...]:
        """Its tables: stations, readings, legs, bend deductions."""
        over = () if self.opening is None else ("over the opening, mm", "wanted, mm")
        heads = ("corner or edge", "outside its drawing, mm", *over, "do")
        stations = [s.row for s in self.stations]
        read = [(r.name, f"{r.measured:.1f}", f"{r.fitted:.1f}", f"{r.residual:+.1f}") for r in self.taped.readings]
        legs = [(n, f"{a:.1f}", f"{b:.1f}", f"{a - b:+.1f}") for n, (a, b) in self.legs.items()]
        bends = [(n, "unknown" if a is None else f"{a:.2f}", f"{b:.2f}") for n, (a, b) in self.deductions.items()]
        tables: tuple[tuple[tuple[str, ...], Sequence[tuple[str, ...]]], ...] = (
            (heads, stations),
            (("reading", "measured, mm", "adjusted, mm", "off, mm"), read),
            (("leg", "measured, mm", "drawn, mm", "off, mm"), legs),
            ((Said("fold|noun"), "bend deduction of the next part, mm", "in use, mm"), bends),
        )
        return tuple(Numbers(heads=names, rows=tuple(rows), by_hand=False) for names, rows in tables if rows)

    def drawing(self) -> Drawing:
        """Return the card for paper: drawn, measured and the opening over each other, and the tables."""
        lines = [
            Traced(kind="mark", edges=self.drawn.loop.edges),
            Traced(kind="cut", edges=self.taped.loop.edges),
            *([] if self.opening is None else [Traced(kind="mark", edges=self.opening.loop.edges)]),
        ]
        for e in self.drawn.loop.edges:
            x, y = e.at(0.5)
            lines.append(Traced(kind="centre", edges=(Edge((x - 1, y), (x + 1, y)),), text=e.name))
        against = "its drawing" if self.opening is None else "its drawing and the opening (thin lines)"
        notes = (f"As measured (thick line) against {against}, before it is welded in.", *map(str, self.findings))
        return Drawing(
            name=f"{self.name}_fit_card",
            lines=tuple(lines),
            numbers=self.numbers,
            notes=notes,
            heading=f"fit card of {self.name}, mm",
        )

    def __repr__(self) -> str:
        worst = max(self.stations, key=lambda s: abs(s.off))
        return f"<fit card of {self.name}: at worst {worst.off:+.1f} mm at {worst.name}>"

    def _repr_svg_(self) -> str:
        x0, y0, x1, y1 = self.drawn.box
        line = max(x1 - x0, y1 - y0) / 250
        inner = (
            f'<path d="{loop_data(self.taped.loop)}" fill="none" stroke="#b3261e" stroke-width="{num(line)}" '
            f'stroke-dasharray="{num(4 * line)} {num(2 * line)}"/>\n'
        )
        if self.opening is not None:
            inner += f'<path d="{loop_data(self.opening.loop)}" fill="none" stroke="#2f6db3" stroke-width="{num(line / 2)}"/>\n'
        blue = "" if self.opening is None else ", blue the opening"
        return outline_svg(self.drawn.loop, title=f"{self.name}: drawn, dashed as measured{blue}", inner=inner)

    def _repr_html_(self) -> str:
        first, *others = self.numbers
        tables = html_table(first.heads, first.rows, notes=map(str, self.findings))
        return picture_html(self._repr_svg_()) + tables + "".join(html_table(n.heads, n.rows) for n in others)


def fit_card(
    made: Made,
    sides: Mapping[str, Any],
    diagonals: Mapping[Any, Any],
    *,
    rises: Mapping[str, Any] | None = None,
    legs: Mapping[str, Any] | None = None,
    blanks: Mapping[str, tuple[Any, Any]] | None = None,
    opening: Outline | None = None,
    laps: Mapping[str, Any] | None = None,
    tol: Any = "2 mm",
) -> FitCard:
    """Read a finished part's measured sizes back, before it is welded in.

    Parameters
    ----------
    made : Made
        The part as it was made.
    sides, diagonals, rises, tol
        Its base as `tb.read.outline_from_tape` takes it; every edge of the base outline has a side.
    legs : mapping of fold to length, optional
        Height of a leg, to the outside.
    blanks : mapping of fold to (length, length), optional
        Across a fold: the blank before bending, and the finished base from the outside of the leg to the same far edge.
        With the leg they give the bend deduction of the next part; without them it is unknown.
    opening : Outline, optional
        What the part goes into, from a scan, from points or by tape, with the names of the base's edges: gaps and laps
        are then those against it. One that the base was drawn from lies where it should already.
    laps : mapping of edge name to length, optional
        Needed for an opening that lies elsewhere, as one by tape does: how far each edge was drawn over it, negative
        for a gap. It is then laid where those laps are kept best.

    Returns
    -------
    FitCard

    Raises
    ------
    BadValue
        Readings that contradict each other, naming the odd one; or names that the part does not have.
    """
    need_made(made, "fit card")
    base = made.part.base
    if set(sides if isinstance(sides, Mapping) else ()) != set(base.names):
        raise BadValue("sides", sides, f"one for each edge of {made.part.number}: {', '.join(base.names)}")
    curved = {e.name: e.bulge * e.chord / 2 for e in base.loop.edges if not e.is_line}
    taped = outline_from_tape({n: sides[n] for n in base.names}, diagonals, rises=rises or curved, tol=tol)
    laid = _laid(taped, base)
    folds = {f.name: f for f in made.part.folds if f.panel == made.panels[0].name}
    on_edge = {f.edge for f in folds.values()}
    into, keep = (None, {}) if opening is None else _opening(opening, base, laps)
    if opening is None and laps is not None:
        raise BadValue("laps", laps, "only beside an opening")
    stations: list[Station] = []
    for e, was in zip(laid.loop.edges, base.loop.edges, strict=True):
        before = base.loop.edges[base.names.index(was.name) - 1]
        corner = f"{before.name}/{was.name}"
        stations.append(_station(corner, (before, was), e.start, was.start, on_edge, into, keep))
        stations.append(_station(was.name, (was,), e.at(0.5), was.at(0.5), on_edge, into, keep))
    measured_legs = _legs(made, folds, legs)
    found = [f for f in taped.findings if f.severity != "fine"] + _leg_findings(measured_legs)
    found += _lap_findings(stations, on_edge)
    return FitCard(
        name=made.part.number,
        drawn=base,
        taped=laid,
        stations=tuple(stations),
        legs=measured_legs,
        deductions=_deductions(made, folds, measured_legs, blanks),
        findings=Findings(found or [fine("card.readings", made.part.number, "the readings agree with each other")]),
        opening=into,
    )


def _opening(opening: Any, base: Outline, laps: Any) -> tuple[Outline, dict[str, float]]:
    """Return the opening in the part's coordinates, and the laps that were stated."""
    of_kind(opening, Outline, "opening", "an outline from a scan, from points or by tape")
    of_kind(laps, (Mapping, type(None)), "laps", "{edge name: how far it was drawn over the opening}")
    if set(opening.names) != set(base.names):
        raise BadValue("opening", opening.names, f"the names of the part's edges: {', '.join(base.names)}")
    if laps is None:
        if isinstance(opening, TapedOutline):
            raise BadValue("laps", laps, "how far each edge was drawn over the opening: a tape knows no origin")
        return Outline(loop=opening.loop), {}
    stated = {n: units.length(v, f"lap of edge '{n}'") for n, v in laps.items()}
    drawn = base.offset({n: -v for n, v in stated.items()})
    p, q = (np.array([o.edge(n).start for n in base.names]) for o in (opening, drawn))
    return Outline(loop=opening.loop.moved(_best(p, q))), stated


def _laid(taped: TapedOutline, base: Outline) -> TapedOutline:
    """Return the measured outline turned and shifted so that its corners lie best on the drawn ones."""
    move = _best(*(np.array([e.start for e in o.loop.edges]) for o in (taped, base)))
    return TapedOutline(loop=taped.loop.moved(move), findings=taped.findings, readings=taped.readings, tol=taped.tol)


def _best(p: Array, q: Array) -> Move:
    """Return the turn and shift that lays points best on others, shape (n, 2)."""
    a, b = p - p.mean(axis=0), q - q.mean(axis=0)
    angle = math.atan2(float((a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]).sum()), float((a * b).sum()))
    turn = Move.turn(math.degrees(angle))
    shift = q.mean(axis=0) - turn(point(p.mean(axis=0)))
    return Move(u=float(shift[0]), v=float(shift[1])).after(turn)


def _outside(e: Edge, p: Point) -> float:
    """Return how far a point lies outside an edge's line or arc, mm."""
    return float(out_of(e, np.array([p]))[0])


def _station(
    name: str,
    edges: Sequence[Edge],
    at: Point,
    drawn: Point,
    on_edge: Set[str],
    opening: Outline | None,
    laps: Mapping[str, float],
) -> Station:
    """Return a corner or the middle of an edge: where it was measured, and where it was drawn."""
    if opening is None:
        off = max((_outside(e, at) for e in edges), key=abs)
        return Station(name=name, off=off, advice=_advice(off, any(e.name in on_edge for e in edges)))
    rows = []
    for e in edges:
        rim = opening.edge(e.name)
        wanted = laps.get(e.name, _outside(rim, drawn))
        rows.append((_outside(e, at), _outside(rim, at), wanted, e.name in on_edge))
    off, lap, wanted, folded = max(rows, key=lambda r: (round(abs(r[1] - r[2]), 6), -r[1]))
    advice = _into(lap, wanted) if folded else _over_lip(lap, wanted)
    return Station(name=name, off=off, advice=advice, lap=lap, wanted=wanted)


def _advice(off: float, folded: bool) -> str:
    """Return what to do about a place that is off its drawing."""
    if abs(off) <= GOOD:
        return "nothing"
    if off > 0:
        return f"dress the fold in by {off:.1f} mm" if folded else f"trim {off:.1f} mm"
    return f"shim the gap of {-off:.1f} mm" if folded else f"{-off:.1f} mm less lap: shift it, or fill"


def _into(lap: float, wanted: float) -> str:
    """Return what to do about a folded edge inside the opening."""
    if abs(lap - wanted) <= GOOD:
        return "nothing"
    if lap > wanted:
        return f"{_over(lap)}: dress the fold in by {lap - wanted:.1f} mm"
    return f"{_over(lap)}: shim {wanted - lap:.1f} mm"


def _over_lip(lap: float, wanted: float) -> str:
    """Return what to do about an edge that laps the body's lip."""
    if lap - wanted > GOOD:
        return f"trim {lap - wanted:.1f} mm"
    if lap < LEAST_LAP:
        return f"{_over(lap)}, {LEAST_LAP:g} mm are needed: shift it, or fill"
    return "nothing"


def _over(lap: float) -> str:
    return f"gap {-lap:.1f}" if lap < -0.05 else f"lap {abs(lap):.1f}"


def _lap_findings(stations: Sequence[Station], on_edge: Set[str]) -> list[Finding]:
    """Return the places at which too little metal lies on the lip for a plug weld."""
    what, remedy = "too little of the finished part lies on the lip for a plug weld", "shift it, or weld on a strip"
    return [
        caution("card.lap", s.name, what, remedy, s.lap, LEAST_LAP)
        for s in stations
        if s.lap is not None and s.lap < LEAST_LAP and not on_edge & set(s.name.split("/"))
    ]


def _legs(made: Made, folds: Mapping[str, Any], legs: Any) -> dict[str, tuple[float, float]]:
    of_kind(legs, (Mapping, type(None)), "legs", "{fold: height}")
    found = {}
    for name, value in (legs or {}).items():
        if name not in folds:
            raise UnknownName("leg", name, folds)
        strip = next(s for s in made.strips if s.name == name)
        found[name] = units.positive(value, f"leg '{name}'"), sum(strip.leg) / 2
    return found


def _leg_findings(legs: Mapping[str, tuple[float, float]]) -> list[Finding]:
    return [
        caution(
            "card.leg",
            f"leg '{n}'",
            "its height is not the drawn one",
            "trim it, or bend the next one by the new deduction",
            a,
            b,
        )
        for n, (a, b) in legs.items()
        if abs(a - b) > GOOD
    ]


def _deductions(
    made: Made, folds: Mapping[str, Any], legs: Mapping[str, tuple[float, float]], blanks: Any
) -> dict[str, tuple[float | None, float]]:
    """Return what each fold took: leg and base to the outside, less the blank across it."""
    of_kind(blanks, (Mapping, type(None)), "blanks", "{fold: (blank across it, finished base across it)}")
    for name, pair in (blanks or {}).items():
        if name not in folds:
            raise UnknownName("blank across fold", name, folds)
        if not units.is_sequence(pair) or len(pair) != 2:
            raise BadValue(f"blank across fold '{name}'", pair, "(blank, finished base), both mm")
        if name not in legs:
            raise BadValue(f"blank across fold '{name}'", pair, f"beside the measured leg '{name}'")
    found: dict[str, tuple[float | None, float]] = {}
    for s in made.strips:
        if s.name not in folds:
            continue
        used = 2 * s.setback - s.allowance
        took = None
        if s.name in (blanks or {}):
            blank, base = (units.positive(v, f"blank across fold '{s.name}'") for v in blanks[s.name])
            took = legs[s.name][0] + base - blank
        found[s.name] = took, used
    return found
