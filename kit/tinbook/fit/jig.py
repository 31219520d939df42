"""A flat jig plate from an assembly: pin holes, stop pins, windows for what hangs below, outlines to set parts by."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import combinations
from typing import Any

import numpy as np
import shapely
import shapely.affinity

from tinbook import units
from tinbook.errors import BadValue, CannotMake
from tinbook.making.assembled import Assembled, need_assembled
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.plane.loops import Loop, Point, polygon
from tinbook.read.fitting import point
from tinbook.strokes import text_width
from tinbook.tolerances import CHORD

LYING = 0.2
"""mm: what comes this near the jig's face stands on it."""

CLEAR = 0.5
"""mm: an etched line keeps this far from an opening."""

LETTERS = 5.0
"""mm: height of the names beside the outlines."""


def jig_plate(
    made: Assembled,
    *,
    sheet: str,
    level: float | None = None,
    reach: Any = 60.0,
    stops: Sequence[str] = (),
    pin: Any = 8.0,
    margin: Any = 40.0,
    lines: bool = True,
    number: str = "",
) -> Part:
    """Return a plate on which the assembly is set up and tacked, seen from above in the assembly's own x and y.

    Parameters
    ----------
    made : Assembled
        Every part must be makeable. It stands on the plane z = `level`.
    sheet : str
        Sheet of the shop for the jig.
    level : float, optional
        Height of the jig's upper face, mm; else the lowest point of the parts that are made.
    reach : length
        Upright holes that begin at most this far above the jig get a pin hole of their own diameter.
    stops : sequence of str
        Members that are held by three stop pins round their foot as well.
    pin : length
        Diameter of stop pins.
    margin : length
        Of the plate round everything.
    lines : bool
        Whether the outline of every part that stands on the jig is etched round its foot, with its name.
    number : str
        Part number; else the assembly's with "-JG".

    Returns
    -------
    Part
        Its origin is its lower left corner; the first text mark says where the assembly's origin lies.

    Raises
    ------
    BadValue
        A member that does not stand on the jig, pins that would meet.
    CannotMake
        Fewer than two pin holes: nothing would hold it from turning.
    """
    pin_mm, around = units.positive(pin, "jig pin"), units.positive(margin, "jig margin")
    far = units.positive(reach, "jig reach")
    need_assembled(made, "jig_plate")
    names = [m.name for m in made.assembly.members if m.kind == "part"]
    if not names:
        raise CannotMake(f"{made.assembly.number}: no jig: it has no parts")
    lowest = min(float(made.mesh(n)[0][:, 2].min()) for n in names)
    floor = lowest if level is None else units.length(level, "jig level")
    holes = _pins(made, names, floor, far)
    for name in stops:
        made.assembly.member(name)
        holes += [(p, pin_mm, f"stop {name} {i}") for i, p in enumerate(_stops(made, name, floor, pin_mm), 1)]
    if len(holes) < 2:
        raise CannotMake(
            f"{made.assembly.number}: no jig: {len(holes)} pin holes do not keep it from turning; name stops"
        )
    _apart(holes)
    windows = _windows(made, floor)
    places = [p for p, _, _ in holes] + [p for w in windows for p in w.points]
    places += [(float(x), float(y)) for n in names for x, y, _ in made.mesh(n)[0]]
    low = [min(p[k] for p in places) - around for k in (0, 1)]
    high = [max(p[k] for p in places) + around for k in (0, 1)]
    base = Outline.rectangle(high[0] - low[0], high[1] - low[1])
    part = Part(number or f"{made.assembly.number}-JG", sheet=sheet, base=base, title=f"jig for {made.assembly.number}")
    for (x, y), dia, name in holes:
        part = part.hole((x - low[0], y - low[1]), dia, name=name)
    for w in windows:
        part = part.cut_out(w, (-low[0], -low[1]), name="window")
    mark = f"{made.assembly.number} {made.assembly.rev} X{-low[0]:.1f} Y{-low[1]:.1f}"
    part = part.text(mark, (8.0, 8.0), height=6.0)
    return _set_out(part, made, names, floor, holes, windows, (low[0], low[1])) if lines else part


def _set_out(
    part: Part,
    made: Assembled,
    names: Sequence[str],
    floor: float,
    holes: Sequence[tuple[Point, float, str]],
    windows: Sequence[Loop],
    low: Point,
) -> Part:
    """Etch the outline of each foot, left out where the jig is cut away, and the part's name beside it where it fits."""
    gone = shapely.union_all(
        [shapely.Point(p).buffer(d / 2 + CLEAR) for p, d, _ in holes]
        + [shapely.Polygon(w.points).buffer(CLEAR, join_style="mitre") for w in windows]
    )
    plate = shapely.box(0.0, 0.0, part.base.box[2], part.base.box[3]).buffer(-3.0)
    mark = text_width(part.texts[0].text, part.texts[0].height)
    taken = [shapely.affinity.translate(gone, -low[0], -low[1]), shapely.box(8.0, 8.0, 8.0 + mark, 14.0)]
    for name in names:
        foot = _standing(made, name, floor)
        if foot is None:
            continue
        runs = shapely.line_merge(shapely.difference(foot.boundary, gone))
        for run in (g for g in shapely.get_parts(runs) if g.length > 2.0):
            points = [(x - low[0], y - low[1]) for x, y in run.coords]
            around = points[0] == points[-1]
            part = part.etch(points[:-1] if around else points, closed=around)
        there = shapely.affinity.translate(foot, -low[0], -low[1])
        taken.append(there.boundary.buffer(0.5))
        at = _beside(there, text_width(name, LETTERS), plate, taken)
        if at is not None:
            part = part.text(name, at, height=LETTERS)
            taken.append(shapely.box(*at, at[0] + text_width(name, LETTERS), at[1] + LETTERS))
    return part


def _standing(made: Assembled, name: str, floor: float) -> Any:
    """Return what of a member stands on the jig, its openings filled; None where nothing does."""
    points, corners = made.mesh(name)
    lying = (np.abs(points[corners][:, :, 2] - floor) <= LYING).all(axis=1)
    flat = shapely.polygons(points[corners[lying]][:, :, :2])
    # Grown and shrunk again: needles between triangles close.
    foot = shapely.union_all(flat).buffer(CHORD, join_style="mitre").buffer(-CHORD, join_style="mitre")
    whole = shapely.union_all([shapely.Polygon(p.exterior) for p in shapely.get_parts(foot) if not p.is_empty])
    return None if whole.is_empty else shapely.simplify(whole, CHORD)


def _beside(foot: Any, wide: float, plate: Any, taken: Sequence[Any]) -> Point | None:
    """Return a free place for a name: in the foot, else under, over, right or left of it."""
    x0, y0, x1, y1 = foot.bounds
    x, y = foot.representative_point().coords[0]
    tries = [(x - wide / 2, y - LETTERS / 2), (x0, y0 - LETTERS - 2), (x0, y1 + 2), (x1 + 2, y0), (x0 - wide - 2, y0)]
    for at in tries:
        box = shapely.box(at[0] - 1, at[1] - 1, at[0] + wide + 1, at[1] + LETTERS + 1)
        if plate.contains(box) and not any(box.intersects(t) for t in taken):
            return at
    return None


def _pins(made: Assembled, names: Sequence[str], floor: float, far: float) -> list[tuple[Point, float, str]]:
    """Return one hole for each upright bore axis, as wide as the narrowest bore on it."""
    found: dict[tuple[float, float], tuple[Point, float, str]] = {}
    for name in names:
        count = 0
        for b in made.bores(name):
            if abs(b.axis[2]) < 1 - 5e-7 or not -LYING <= b.at[2] + b.low - floor <= far:
                continue
            count += 1
            at = (b.at[0], b.at[1])
            key = (round(at[0], 2), round(at[1], 2))
            old = found.get(key)
            if old is None or b.dia < old[1] - 1e-9:
                found[key] = (at, b.dia, old[2] if old else f"pin {name} {count}")
    return list(found.values())


def _foot(made: Assembled, name: str, floor: float) -> Any:
    """Return the convex outline of what of a member stands on the jig."""
    points = made.mesh(name)[0]
    foot = points[np.abs(points[:, 2] - floor) <= LYING][:, :2]
    hull = shapely.MultiPoint(foot).convex_hull if len(foot) > 2 else None
    if hull is None or hull.geom_type != "Polygon":
        raise BadValue("jig stops", name, f"a member that stands on the plane z = {floor:g} mm")
    return hull


def _stops(made: Assembled, name: str, floor: float, pin: float) -> list[Point]:
    """Return three places of pins that touch a member's foot: two on its longest side, one on the next corner's side."""
    ring = np.array(shapely.simplify(_foot(made, name, floor), CHORD).exterior.coords)[:-1]
    sides = [(ring[i], ring[(i + 1) % len(ring)]) for i in range(len(ring))]
    lengths = [float(np.linalg.norm(b - a)) for a, b in sides]
    first = int(np.argmax(lengths))
    longest = sides[first][1] - sides[first][0]
    square = [
        abs(float(np.dot(b - a, longest)) / (length * lengths[first])) if length > pin else 1.0
        for (a, b), length in zip(sides, lengths, strict=True)
    ]
    second = min(range(len(sides)), key=lambda i: (round(square[i], 6), -lengths[i]))
    anticlockwise = 1.0 if shapely.is_ccw(shapely.LinearRing(ring)) else -1.0

    def at(side: int, share: float) -> Point:
        a, b = sides[side]
        d = (b - a) / lengths[side] * anticlockwise
        p = a + share * (b - a) + pin / 2 * np.array((d[1], -d[0]))
        return point(p)

    return [at(first, 0.2), at(first, 0.8), at(second, 0.5)]


def _apart(holes: Sequence[tuple[Point, float, str]]) -> None:
    for (p, d, name), (q, e, other) in combinations(holes, 2):
        if math.dist(p, q) < (d + e) / 2 + 2.0:
            raise BadValue("jig pins", (name, other), "places at least 2 mm of metal apart; leave out a stop")


def _windows(made: Assembled, floor: float) -> list[Loop]:
    """Return an opening for everything that hangs below the jig's face, 2 mm larger."""
    blobs = []
    for m in made.assembly.members:
        if m.kind != "part":
            continue  # fastened when the jig is out of the way
        points = made.mesh(m.name)[0]
        below = points[points[:, 2] < floor - LYING][:, :2]
        if len(below):
            blobs.append(shapely.MultiPoint(below).convex_hull.buffer(2.0, join_style="mitre"))
    hulls = [shapely.simplify(p.convex_hull, 0.05) for p in shapely.get_parts(shapely.union_all(blobs))]
    return [polygon([(float(x), float(y)) for x, y in h.exterior.coords[:-1]]).anticlockwise() for h in hulls]
