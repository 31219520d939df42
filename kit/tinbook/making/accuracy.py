"""How far finished sizes may be off: the bands of folds, line positions, angles and cuts, carried through the part.

All bands are 95 % half widths. They are independent of each other and add as squares, but for what nobody knows better
of one fold than of another on the same tool: that adds up.
"""

from __future__ import annotations

import math
from typing import Any, Final, Protocol, TypeAlias

from tinbook.calc.tolerance_classes import cutting_tolerance, linear_tolerance
from tinbook.errors import BadValue, OutOfRange
from tinbook.making.folded import BendZone, MadePanel
from tinbook.making.made import Made, need_made
from tinbook.making.spans import Span, spans
from tinbook.plane.loops import Point
from tinbook.space import Vec, cross, dot, plus
from tinbook.values import dataclass

SET: Final = {"stop": 0.2, "mark": 0.5, "finger": 0.5}
"""mm: how far a fold line misses its stop, or its mark by eye; how far a gauge's finger stands off its height (own
proposal)."""

ANGLE: Final = 1.0
"""Degrees that a fold misses its angle by (own proposal)."""

GRADE: Final = "m"
"""Class of ISO 2768-1 that is shown for comparison."""


Cause: TypeAlias = tuple[str, str]
"""A kind and a name: ("bend", fold) for its deduction, ("angle", fold), ("line", fold), ("cut", "panel.edge"), and what
a line was set by: ("stop", fold), ("mark", fold), ("finger", fold)."""
Terms: TypeAlias = dict[Cause, float]


@dataclass(frozen=True, slots=True)
class LineError:
    """The causes that move a fold's line off its place, with the stop's share in each.

    Parameters
    ----------
    fold : str
        Which.
    terms : tuple of (str, str, float)
        Kind and name of a cause, and how far it moves the line toward the panel that hangs on the fold: mm for each
        mm of the cause, for an "angle" mm for each radian.
    """

    fold: str
    terms: tuple[tuple[str, str, float], ...]


class Ordered(Protocol):
    """Anything that knows how each fold is set, such as a plan of folds."""

    @property
    def lines(self) -> tuple[LineError, ...]:
        """The causes that move each fold's line."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FinishedSize:
    """A size that a caliper can check on the finished part, from a fold's outside to another fold's or to a cut edge.

    Parameters
    ----------
    name : str
        Which.
    panel : str
        Panel that it lies on.
    folds : tuple of str
        Folds that bound it, one or two.
    nominal : float
        To the outside mould lines, mm.
    plus_minus : float
        95 % half width, mm.
    general : float or None
        What ISO 2768-1 class m allows, mm; None where it gives nothing.
    cut : float or None
        What ISO 9013 allows a cut of this size in the class of the cutter, mm.
    place : str
        Where the tape lies if it matters: "along left", "at the end beside left"; else "". The name says it too.
    ends : ((float, float), (float, float))
        Its ends on the panel, in the panel's frame, on mould lines and cut edges.
    """

    name: str
    panel: str
    folds: tuple[str, ...]
    nominal: float
    plus_minus: float
    general: float | None
    cut: float | None
    place: str = ""
    ends: tuple[Point, Point] = ((0.0, 0.0), (0.0, 0.0))


def fold_bands(strip: BendZone) -> tuple[float, float, float]:
    """Return the bands of a fold: deduction (mm), position of its line (mm), angle (degrees)."""
    return strip.bend.plus_minus or 0.0, strip.bend.line_error, ANGLE


def finished_sizes(made: Made, order: Ordered | None = None) -> tuple[FinishedSize, ...]:
    """Return every size between a fold and the far side of its panel.

    Parameters
    ----------
    made : Made
        A part that could be made; without folds there is nothing to say.
    order : fold sequence, optional
        How each fold is set: a line that is set from an edge or another fold takes over its error. Left out, each
        line misses its place by itself.

    Returns
    -------
    tuple of FinishedSize
        Panel by panel. Between folds that are not parallel, and to a far edge that slopes, one at either end. Each end
        at a fold adds half the fold's deduction and the place of its line, each end at a cut edge its share of the
        class of the cut.
    """
    need_made(made, "finished_sizes")
    lines = _lines(made, order)
    return tuple(_finished(made, p, span, lines) for p in made.panels for span in spans(made, p))


def _lines(made: Made, order: Ordered | None) -> dict[str, Terms]:
    """Return the causes that move each fold's line; without a plan each line misses its place by itself."""
    lines: dict[str, Terms] = {s.name: {("line", s.name): 1.0} for s in made.strips}
    for e in order.lines if order is not None else ():
        lines[e.fold] = {(kind, name): value for kind, name, value in e.terms}
    return lines


def _finished(made: Made, p: MadePanel, span: Span, lines: dict[str, Terms]) -> FinishedSize:
    terms: Terms = {}
    for end in span.ends:
        if not end.fold:
            _add(terms, {("cut", f"{p.name}.{end.edge}"): end.share})
            continue
        # Toward the panel that hangs on the fold: that one loses what the other gains.
        outward = end.share if end.fold != p.name and _strip(made, end.fold).parent == p.name else -end.share
        _add(terms, lines[end.fold], outward)
        _add(terms, {("bend", end.fold): 0.5 * end.share})
    return FinishedSize(
        name=span.name,
        panel=p.name,
        folds=span.folds,
        nominal=span.length,
        plus_minus=_band(made, terms, span.length),
        general=_general(span.length),
        cut=cut_band(made, span.length),
        place=span.place,
        ends=(span.ends[0].at, span.ends[1].at),
    )


def _strip(made: Made, fold: str) -> BendZone:
    return next(s for s in made.strips if s.name == fold)


def _add(terms: Terms, more: Terms, times: float = 1.0) -> None:
    for key, value in more.items():
        terms[key] = terms.get(key, 0.0) + times * value


def _band(made: Made, terms: Terms, size: float) -> float:
    """Return the 95 % half width of a sum of causes, mm.

    A single cut edge has its share of what the class of the cut allows a size like this; several have theirs of what
    it allows the blank from end to end.
    """
    strips = {s.name: s for s in made.strips}
    edges = [v for (kind, _), v in terms.items() if kind == "cut" and abs(v) > 1e-9]
    far = size if len(edges) < 2 or made.flat is None else max(made.flat.size)
    square = 0.0
    shared: dict[tuple[str, str], float] = {}
    for (kind, name), value in terms.items():
        if kind == "cut":
            band = (cut_band(made, far) or 0.0) / math.sqrt(2.0)  # a cut size has two edges
        elif kind in SET:
            band = SET[kind]
        else:
            deduction, position, angle = fold_bands(strips[name])
            band = {"bend": deduction, "line": position, "angle": math.radians(angle)}[kind]
            if kind == "bend":
                band = strips[name].bend.alone
                of = strips[name].bend
                common = math.sqrt(max(0.0, deduction**2 - band**2))
                shared[of.tool, of.rule] = shared.get((of.tool, of.rule), 0.0) + common * value
        square += (band * value) ** 2
    return math.sqrt(square + sum(v**2 for v in shared.values()))


def _general(nominal: float) -> float | None:
    try:
        return linear_tolerance(nominal, GRADE).plus_minus
    except OutOfRange:
        return None


def cut_band(made: Made, nominal: float) -> float | None:
    """Return the limit deviation of a cut size by the class of the part's cutter, None where ISO 9013 gives nothing."""
    try:
        cutter = made.shop.cutter_for(made.sheet)
        return cutting_tolerance(nominal, made.thickness, cutter.accuracy_class).plus_minus
    except OutOfRange:
        return None


def _on_panel(place: Any) -> tuple[str, Vec]:
    try:
        panel, (x, y, *z) = place
        at = (float(x), float(y), float(z[0]) if z else 0.0)
    except (TypeError, ValueError):
        raise BadValue("place", place, "a panel and a point on it, as ('base', (10, 20))") from None
    return panel, at


def plus_minus_between(
    made: Made, first: tuple[str, Vec], second: tuple[str, Vec], order: Ordered | None = None
) -> float:
    """Return how far the distance between two points of the folded part may be off, through the folds between them.

    Parameters
    ----------
    made : Made
        A part that could be made.
    first, second : (str, (x, y, z))
        Panel and point in the panel's own frame, mm.
    order : fold sequence, optional
        How each fold is set, as for `finished_sizes`.

    Returns
    -------
    float
        95 % half width, mm: first-order propagation of each fold's deduction (half to either side), the
        position of its line, and its angle. What a cut edge adds comes on top, see `finished_sizes`.

    Raises
    ------
    UnknownName
        A panel that the part does not have.
    """
    need_made(made, "plus_minus_between")
    (pa, a), (pb, b) = (_on_panel(p) for p in (first, second))
    at_a, at_b = made.panel(pa).frame(*a), made.panel(pb).frame(*b)
    apart = plus(at_b, at_a, -1.0)
    n = math.hypot(*apart)
    if n == 0.0:
        return 0.0
    way = (apart[0] / n, apart[1] / n, apart[2] / n)
    up_a, up_b = _chain(made, pa), _chain(made, pb)
    lines = _lines(made, order)
    terms: Terms = {}
    for strip, point, toward in [(s, at_a, -1.0) for s in up_a if s not in up_b] + [
        (s, at_b, 1.0) for s in up_b if s not in up_a
    ]:
        out, on = strip.frame.y, made.panel(strip.child).frame.y
        _add(terms, {("bend", strip.name): 0.5 * (dot(way, out) + dot(way, on))}, toward)
        _add(terms, lines[strip.name], toward * (dot(way, out) - dot(way, on)))
        centre = strip.frame(0, 0, made.thickness + strip.radius if strip.direction == "up" else -strip.radius)
        turned = cross(strip.frame.x, plus(point, centre, -1.0))
        # A sharper bend takes its longer arc from both panels, and turns what follows about its centre.
        taken = strip.allowance / math.radians(strip.angle) / 2
        sense = 1.0 if strip.direction == "up" else -1.0
        moved = sense * dot(way, turned) - taken * (dot(way, out) + dot(way, on))
        _add(terms, {("angle", strip.name): moved}, toward)
    return _band(made, terms, n)


def _chain(made: Made, panel: str) -> list[BendZone]:
    """Return the folds between a panel and the base."""
    strips = {s.child: s for s in made.strips}
    found = []
    while panel in strips:
        found.append(strips[panel])
        panel = strips[panel].parent
    return found
