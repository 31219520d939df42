"""Welds of an assembly on paper: their marks, how long, in which sequence, and what is set on the machine."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, Final

import shapely

from tinbook.dims import hole_rows
from tinbook.language import Language
from tinbook.making.assembled import Assembled
from tinbook.making.made import Made
from tinbook.part.links import Sides, Weld
from tinbook.part.part import Part
from tinbook.route.ways import Solid, patches, view_along
from tinbook.space import Vec
from tinbook.values import dataclass
from tinbook.write.flowing import Table
from tinbook.write.page import PLAIN, PT, fonts, text_width
from tinbook.write.setting_out import tag
from tinbook.write.strip import SIZE

STRETCH: Final = 50.0
"""mm: a seam longer than twice this is welded in stretches about so long (common practice for thin plate)."""
_PLACES: Final = 48
SIDES: Final[dict[Sides, str]] = {"one": "one side", "both": "on each side", "all round": "all round"}
"""Sides of a weld as they are said on paper."""
MARK_W: Final = 37.0
MARK_H: Final = 8.6
"""mm: of a weld mark on paper."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Seam:
    """A weld of the assembly, with where it lies.

    Parameters
    ----------
    number : int
        On the page, from 1.
    weld : Weld
        As it is declared.
    at : (float, float, float) or None
        A place where its members lie on each other, mm; None where they do not.
    contact : float
        Length of the longest face that they share, mm; 0 where there is none.
    thick : tuple of float
        Thicknesses of its members that are sheet, mm.
    rim : tuple of (float, float, float)
        Places round the longest face that they share, mm: the fillet lies at some of them.
    """

    number: int
    weld: Weld
    at: Vec | None
    contact: float
    thick: tuple[float, ...]
    rim: tuple[Vec, ...] = ()


def seams(made: Assembled) -> tuple[Seam, ...]:
    """Return the welds of an assembly, each with the place where its members touch."""
    solids = {n: Solid.of([made.mesh(n)]) for w in made.assembly.welds for n in (w.a, w.b)}
    found = []
    for n, w in enumerate(made.assembly.welds, 1):
        at, contact, rim = _contact(solids[w.a], solids[w.b])
        parts = [m for m in (w.a, w.b) if isinstance(made.assembly.member(m).thing, Part)]
        thick = tuple(made.made_of(m).thickness for m in parts)
        found.append(Seam(number=n, weld=w, at=at, contact=contact, thick=thick, rim=rim))
    return tuple(found)


def _contact(a: Solid, b: Solid) -> tuple[Vec | None, float, tuple[Vec, ...]]:
    """Return a place in the longest face that two solids share, how long that is, and places round it."""
    best: tuple[float, Vec | None, tuple[Vec, ...]] = (0.0, None, ())
    for p in patches(a, b):
        v = view_along(p.normal)

        def there(x: float, y: float, v: Any = v, height: float = p.height) -> Vec:
            q = x * v[0] + y * v[1] + height * v[2]
            return float(q[0]), float(q[1]), float(q[2])

        for piece in getattr(p.region, "geoms", [p.region]):
            box = shapely.minimum_rotated_rectangle(piece)
            if not isinstance(box, shapely.Polygon):
                continue
            ring = list(box.exterior.coords)
            long = max(math.dist(ring[0], ring[1]), math.dist(ring[1], ring[2]))
            if long > best[0]:
                round_it = [piece.exterior.interpolate(k / _PLACES, normalized=True) for k in range(_PLACES)]
                middle = piece.representative_point()
                best = long, there(middle.x, middle.y), tuple(there(q.x, q.y) for q in round_it)
    return best[1], best[0], best[2]


# --- sequences ---------------------------------------------------------------------------------


def stretches(length: float) -> tuple[int, ...]:
    """Return the order in which a seam's stretches are welded, numbered from its left end.

    From the middle out, every second one on alternate sides first, then those that were skipped: no two neighbours follow
    on each other, so the heat spreads (common practice).

    Parameters
    ----------
    length : float
        mm.

    Examples
    --------
    >>> from tinbook.write.weldpage.welds import stretches
    >>> stretches(350.0)
    (4, 6, 2, 5, 3, 7, 1)
    >>> stretches(60.0)
    (1,)
    """
    n = max(1, round(length / STRETCH)) if length > 2 * STRETCH else 1
    middle = (n + 1) // 2
    out = sorted(range(1, n + 1), key=lambda k: (abs(k - middle) % 2, abs(k - middle), -k))
    return tuple(out)


def halved(count: int) -> tuple[int, ...]:
    """Return the order in which welds along a side are made: its middle, its ends, then the gaps halved.

    Parameters
    ----------
    count : int
        Welds along the side.

    Examples
    --------
    >>> from tinbook.write.weldpage.welds import halved
    >>> halved(9)
    (5, 1, 9, 3, 7, 2, 4, 6, 8)
    """
    if count < 1:
        return ()
    middle = (count + 1) // 2
    order = list(dict.fromkeys((middle, 1, count)))
    gaps = [(1, middle), (middle, count)]
    while gaps:
        after = []
        for low, high in gaps:
            k = (low + high) // 2
            if k in (low, high):
                continue
            order.append(k)
            after += [(low, k), (k, high)]
        gaps = after
    return tuple(order)


# --- tables ------------------------------------------------------------------------------------


def seam_rows(found: Sequence[Seam], say: Language) -> list[tuple[Any, ...]]:
    """Return a row for each weld; its mark, a drawing, stands in the second cell."""
    rows: list[tuple[Any, ...]] = []
    for s in found:
        w = s.weld
        long = w.length if w.length is not None else s.contact
        said = say("not stated") if w.length is None else say.number(w.length)
        if w.length is None and s.contact:
            said = say("not stated; they touch over {length:.1f}", length=s.contact)
        order = stretches(long)
        how = say("in one run") if len(order) == 1 else " ".join(map(str, order))
        rows.append(
            (
                str(s.number),
                mark(s, say),
                f"{w.a}, {w.b}",
                say.number(w.throat),
                said,
                say(SIDES[w.sides]),
                how,
                say.retold(w.note) or "-",
            )
        )
    return rows


SEAM_HEADS: Final = (
    "No.",
    "Mark (ISO 2553)",
    "Members",
    "Throat a",
    "Length",
    "Sides",
    "Stretches from the left, in order",
    "Note",
)


def plug_table(parts: Sequence[tuple[str, Made]], say: Language) -> Table | None:
    """Return the plug welds of parts by number, hole and pitch, with the order along each row; None without any."""
    rows = []
    for name, made in parts:
        if made.flat is None:
            continue
        for k, h in enumerate(hole_rows(made.flat)):
            if h.use != "plug weld":
                continue
            size = f"Ø{say.number(h.dia)}" if h.dia else f"{say.number(h.size[0])} × {say.number(h.size[1])}"
            pitch = "-" if h.pitch is None else say.number(h.pitch[0])
            if h.pitch is not None and say.number(h.pitch[1]) != pitch:
                pitch = say("{a:.1f} to {b:.1f}", a=h.pitch[0], b=h.pitch[1])
            rows.append((name, tag(k), str(h.count), size, pitch, " ".join(map(str, halved(h.count)))))
    if not rows:
        return None
    heads = ("Part", "Hole", "Plug welds", "Size", "Pitch", "Order: middle, ends, then halve the gaps")
    return Table(heads=tuple(map(say, heads)), rows=tuple(rows), right=(2, 4))


def settings_table(found: Sequence[Seam], plugs: Sequence[Made], say: Language) -> Table | None:
    """Return the lines on which wire, gas and settings are written, one for each pair of thicknesses that is welded."""
    pairs = dict.fromkeys(tuple(sorted(s.thick)) for s in found)
    what = [" + ".join(say.number(t, ".4g") for t in pair) or "-" for pair in pairs]
    what += [say("plug welds, {t:.4g}", t=t) for t in dict.fromkeys(m.thickness for m in plugs)]
    if not what:
        return None
    heads = ("Sheet, mm", "Process", "Wire", "Gas, l/min", "Setting", "Test piece", "Welder")
    rows = tuple((each, *("",) * 6) for each in what)
    return Table(heads=tuple(map(say, heads)), rows=rows, by_hand=(1, 2, 3, 4, 5, 6))


# --- the mark ----------------------------------------------------------------------------------


def mark(s: Seam, say: Language) -> Any:
    """Return the mark of a fillet weld by ISO 2553, system A: throat before, length behind the symbol.

    The symbol stands on the full line, so the weld is at the side to which the arrow points; a weld at both sides has a
    symbol on either side and no dashed line, and its length is that of each side. One all round has a ring at the arrow.
    """
    from reportlab.graphics.shapes import Circle, Drawing, Line, Polygon, String

    fonts()
    d = Drawing(MARK_W * PT, MARK_H * PT)
    y, x0, x1 = 0.5 * MARK_H, 6.0, MARK_W - 1.0

    def line(a: tuple[float, float], b: tuple[float, float], dash: Any = None) -> None:
        d.add(Line(a[0] * PT, a[1] * PT, b[0] * PT, b[1] * PT, strokeWidth=0.6, strokeDashArray=dash))

    line((x0, y), (x1, y))
    line((x0, y), (1.0, 0.8))  # the arrow
    d.add(Polygon([v * PT for v in (1.0, 0.8, 2.6, 1.1, 1.7, 2.4)], fillColor=None, strokeWidth=0.6))
    if s.weld.sides == "all round":
        d.add(Circle(x0 * PT, y * PT, 0.9 * PT, fillColor=None, strokeWidth=0.6))
    both = s.weld.sides == "both"
    if not both:
        line((x0, y - 1.0), (x1, y - 1.0), (3, 2))
    throat = f"a{say.number(s.weld.throat, 'g')}"
    at = x0 + 1.2 + text_width(throat, SIZE)
    for up in (1, -1) if both else (1,):
        d.add(
            Polygon(
                [v * PT for v in (at + 0.6, y, at + 0.6, y + 2.6 * up, at + 3.2, y)], fillColor=None, strokeWidth=0.6
            )
        )
    d.add(String((x0 + 0.8) * PT, (y + 0.7) * PT, throat, fontName=PLAIN, fontSize=SIZE))
    if s.weld.length is not None:
        d.add(String((at + 4.0) * PT, (y + 0.7) * PT, say.number(s.weld.length, ".4g"), fontName=PLAIN, fontSize=SIZE))
    return d
