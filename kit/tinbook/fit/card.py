"""The fit card: a finished part measured by tape against its drawing and the opening, before it is welded."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from tinbook import units
from tinbook.errors import BadValue, UnknownName, of_kind
from tinbook.finding import Finding, Findings, caution, fine
from tinbook.htmltable import html_table
from tinbook.making.made import Made, need_made
from tinbook.part.outline import Outline
from tinbook.part.picture import outline_svg
from tinbook.plane.loops import Array, Edge, Move
from tinbook.read.tape import outline_from_tape
from tinbook.read.taped import TapedOutline
from tinbook.svg import loop_data, num
from tinbook.svgpng import Shown, picture_html

GOOD: Final = 1.0
"""mm: a station that is off by no more needs nothing (own proposal: what a tape reads)."""


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
    """

    name: str
    off: float
    advice: str


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
    """

    name: str
    drawn: Outline
    taped: TapedOutline
    stations: tuple[Station, ...]
    legs: dict[str, tuple[float, float]]
    deductions: dict[str, tuple[float | None, float]]
    findings: Findings

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
        return outline_svg(self.drawn.loop, title=f"{self.name}: drawn, and dashed as measured", inner=inner)

    def _repr_html_(self) -> str:
        rows = [(s.name, f"{s.off + 0.0:+.1f}", s.advice) for s in self.stations]
        tables = html_table(("corner or edge", "outside its drawing, mm", "do"), rows, notes=map(str, self.findings))
        legs = [(n, f"{a:.1f}", f"{b:.1f}", f"{a - b:+.1f}") for n, (a, b) in self.legs.items()]
        bends = [(n, "unknown" if a is None else f"{a:.2f}", f"{b:.2f}") for n, (a, b) in self.deductions.items()]
        if legs:
            tables += html_table(("leg", "measured, mm", "drawn, mm", "off, mm"), legs)
        if bends:
            tables += html_table(("fold", "bend deduction as measured, mm", "in use, mm"), bends)
        return picture_html(self._repr_svg_()) + tables


def fit_card(
    made: Made,
    sides: Mapping[str, Any],
    diagonals: Mapping[Any, Any],
    *,
    rises: Mapping[str, Any] | None = None,
    legs: Mapping[str, Any] | None = None,
    blanks: Mapping[str, tuple[Any, Any]] | None = None,
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
    stations: list[Station] = []
    for e, was in zip(laid.loop.edges, base.loop.edges, strict=True):
        before = base.loop.edges[base.names.index(was.name) - 1]
        corner = max((_outside(was, e.start), _outside(before, e.start)), key=abs)
        stations.append(_station(f"{before.name}/{was.name}", corner, was.name in on_edge or before.name in on_edge))
        stations.append(_station(was.name, _outside(was, e.at(0.5)), was.name in on_edge))
    measured_legs = _legs(made, folds, legs)
    found = [f for f in taped.findings if f.severity != "fine"] + _leg_findings(measured_legs)
    return FitCard(
        name=made.part.number,
        drawn=base,
        taped=laid,
        stations=tuple(stations),
        legs=measured_legs,
        deductions=_deductions(made, folds, measured_legs, blanks),
        findings=Findings(found or [fine("card.readings", made.part.number, "the readings agree with each other")]),
    )


def _laid(taped: TapedOutline, base: Outline) -> TapedOutline:
    """Return the measured outline turned and shifted so that its corners lie best on the drawn ones."""
    p, q = (np.array([e.start for e in o.loop.edges]) for o in (taped, base))
    a, b = p - p.mean(axis=0), q - q.mean(axis=0)
    angle = math.atan2(float((a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]).sum()), float((a * b).sum()))
    turn = Move.turn(math.degrees(angle))
    centre = turn(_pair(p.mean(axis=0)))
    shift = q.mean(axis=0) - centre
    move = Move(u=float(shift[0]), v=float(shift[1])).after(turn)
    return TapedOutline(loop=taped.loop.moved(move), findings=taped.findings, readings=taped.readings, tol=taped.tol)


def _pair(p: Array) -> tuple[float, float]:
    return float(p[0]), float(p[1])


def _outside(e: Edge, p: tuple[float, float]) -> float:
    """Return how far a point lies outside an edge's line or arc, mm."""
    if e.is_line:
        (dx, dy), (x, y) = e.direction(), e.start
        return (p[0] - x) * dy - (p[1] - y) * dx
    return (math.dist(p, e.centre) - e.radius) * math.copysign(1.0, e.bulge)


def _station(name: str, off: float, folded: bool) -> Station:
    if abs(off) <= GOOD:
        return Station(name=name, off=off, advice="nothing")
    if off > 0:
        return Station(
            name=name, off=off, advice=f"dress the fold in by {off:.1f} mm" if folded else f"trim {off:.1f} mm"
        )
    short = f"{-off:.1f} mm"
    return Station(
        name=name, off=off, advice=f"shim the gap of {short}" if folded else f"{short} less lap: shift it, or fill"
    )


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
