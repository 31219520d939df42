"""How far finished sizes may be off: the bands of folds, line positions, angles and cuts, carried through the part.

All bands are 95 % half widths, independent of each other, so they add as squares.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

from tinbook.calc.tolerance_classes import cutting_tolerance, linear_tolerance
from tinbook.errors import BadValue, OutOfRange
from tinbook.make.made import Made, MadePanel, MadeStrip, Vec, need_made
from tinbook.plane import Edge

POSITION: Final = {"air": 0.2, "bottom": 0.5, "fold": 0.5, "": 0.5}
"""mm, by process: how far a fold line misses its place, against a back gauge or by eye on a mark (own proposal)."""

ANGLE: Final = 1.0
"""Degrees that a fold misses its angle by (own proposal)."""

GRADE: Final = "m"
"""Class of ISO 2768-1 that is shown for comparison."""


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
    """

    name: str
    panel: str
    folds: tuple[str, ...]
    nominal: float
    plus_minus: float
    general: float | None
    cut: float | None


def fold_bands(strip: MadeStrip) -> tuple[float, float, float]:
    """Return the bands of a fold: deduction (mm), position of its line (mm), angle (degrees)."""
    return strip.bend.plus_minus or 0.0, POSITION[strip.bend.process], ANGLE


def finished_sizes(made: Made) -> tuple[FinishedSize, ...]:
    """Return every size between a fold and the far side of its panel.

    Parameters
    ----------
    made : Made
        A part that could be made; without folds there is nothing to say.

    Returns
    -------
    tuple of FinishedSize
        Panel by panel. Each end at a fold adds half the fold's deduction and the position of its line, each
        end at a cut edge its share of the class of the cut.
    """
    need_made(made, "finished_sizes")
    strips = {s.name: s for s in made.strips}
    return tuple(size for p in made.panels for size in _of_panel(made, p, strips))


def _of_panel(made: Made, p: MadePanel, strips: dict[str, MadeStrip]) -> Iterator[FinishedSize]:
    lines = {e.name[5:]: e for e in p.boundary.edges if e.name.startswith("fold:")}
    done: set[frozenset[str]] = set()
    for name, e in lines.items():
        far = max(_inward(e, q) for q in p.boundary.points)
        other = next((n for n, o in lines.items() if n != name and _opposite(e, o, far)), None)
        pair = frozenset((name, other or ""))
        if pair in done or far <= 0:
            continue
        done.add(pair)
        folds = (name,) if other is None else (name, other)
        nominal = far + math.fsum(strips[f].setback for f in folds)
        share = [v for f in folds for v in (fold_bands(strips[f])[0] / 2, fold_bands(strips[f])[1])]
        cut = cut_band(made, nominal)
        if other is None and cut is not None:
            share.append(cut / math.sqrt(2.0))  # a cut size has two edges, this one only one
        yield FinishedSize(
            name=_named(p, name, other),
            panel=p.name,
            folds=folds,
            nominal=nominal,
            plus_minus=math.sqrt(math.fsum(v * v for v in share)),
            general=_general(nominal),
            cut=cut,
        )


def _named(p: MadePanel, fold: str, other: str | None) -> str:
    own = next((f for f in (fold, other) if f == p.name), None)
    if own is not None and other is None:
        return f"leg {p.name}"
    if own is not None:
        return f"leg {p.name} to fold {other if own == fold else fold}"
    return f"{p.name} from fold {fold}" if other is None else f"{p.name} over folds {fold} and {other}"


def _inward(e: Edge, q: tuple[float, float]) -> float:
    """Return how far a point lies inside of an edge of an anticlockwise loop."""
    ux, uy = e.direction()
    return -uy * (q[0] - e.start[0]) + ux * (q[1] - e.start[1])


def _opposite(e: Edge, other: Edge, far: float) -> bool:
    (ux, uy), (vx, vy) = e.direction(), other.direction()
    return ux * vx + uy * vy < -1.0 + 1e-9 and abs(_inward(e, other.start) - far) < 1e-6


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


def plus_minus_between(made: Made, first: tuple[str, Vec], second: tuple[str, Vec]) -> float:
    """Return how far the distance between two points of the folded part may be off, through the folds between them.

    Parameters
    ----------
    made : Made
        A part that could be made.
    first, second : (str, (x, y, z))
        Panel and point in the panel's own frame, mm.

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
    apart = _minus(at_b, at_a)
    n = math.hypot(*apart)
    if n == 0.0:
        return 0.0
    way = (apart[0] / n, apart[1] / n, apart[2] / n)
    up_a, up_b = _chain(made, pa), _chain(made, pb)
    square = 0.0
    for strip, point in [(s, at_a) for s in up_a if s not in up_b] + [(s, at_b) for s in up_b if s not in up_a]:
        deduction, position, angle = fold_bands(strip)
        out, on = strip.frame.y, made.panel(strip.child).frame.y
        square += (deduction / 2 * (_dot(way, out) + _dot(way, on))) ** 2
        square += (position * (_dot(way, out) - _dot(way, on))) ** 2
        centre = strip.frame(0, 0, made.thickness + strip.radius if strip.direction == "up" else -strip.radius)
        turned = _cross(strip.frame.x, _minus(point, centre))
        # A sharper bend takes its longer arc from both panels, and turns what follows about its centre.
        taken = strip.allowance / math.radians(strip.angle) / 2
        sense = 1.0 if strip.direction == "up" else -1.0
        moved = sense * _dot(way, turned) - taken * (_dot(way, out) + _dot(way, on))
        square += (math.radians(angle) * moved) ** 2
    return math.sqrt(square)


def _chain(made: Made, panel: str) -> list[MadeStrip]:
    """Return the folds between a panel and the base."""
    strips = {s.child: s for s in made.strips}
    found = []
    while panel in strips:
        found.append(strips[panel])
        panel = strips[panel].parent
    return found


def _minus(a: Vec, b: Vec) -> Vec:
    return a[0] - b[0], a[1] - b[1], a[2] - b[2]


def _dot(a: Vec, b: Vec) -> float:
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def _cross(a: Vec, b: Vec) -> Vec:
    return a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]
