"""A part as it is declared, as a picture: no shop is needed and nothing is resolved."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape
from typing import TYPE_CHECKING

from tinbook.part.features import Hole, HoleGrid, HoleRow
from tinbook.part.picture import outline_svg
from tinbook.plane.loops import Edge, Point, circle
from tinbook.svg import DOWN, UP, loop_data, num, path_data

if TYPE_CHECKING:
    from tinbook.part.part import Part


def _strokes(points: Iterable[Point], colour: str, width: float, dashes: float = 0.0) -> str:
    way = " ".join(f"{num(x)},{num(-y)}" for x, y in points)
    dash = f' stroke-dasharray="{num(dashes)}"' if dashes else ""
    return f'<polyline points="{way}" fill="none" stroke="{colour}" stroke-width="{num(width)}"{dash}/>\n'


def _beside(e: Edge, inset: float) -> list[Point]:
    """Return points along an edge of an anticlockwise loop, `inset` inside it."""
    out = []
    for k in range(9):
        (x, y), (dx, dy) = e.at(k / 8), e.direction(k / 8)
        out.append((x - dy * inset, y + dx * inset))
    return out


def _hole_svg(part: Part, feature: Hole | HoleRow | HoleGrid, pen: float) -> str:
    """Return what one hole feature has on the base panel; a row is a dashed line, since the shop says its pitch."""
    if isinstance(feature, HoleRow):
        lines = [part.base.edge(edge) for panel, edge in feature.edges if panel == "base"]
        return "".join(_strokes(_beside(e, feature.inset), "currentColor", pen, 3 * pen) for e in lines)
    if feature.panel != "base":
        return ""
    dia = feature.dia or 6 * pen  # a diameter from the shop's table is not known here
    loops = [circle(p, dia) for p in feature.places] if isinstance(feature, HoleGrid) else [feature.outline(dia)]
    ways = "".join(loop_data(loop) for loop in loops)
    return f'<path d="{ways}" fill="none" stroke="currentColor" stroke-width="{num(pen)}"/>\n'


def part_svg(part: Part) -> str:
    """Return a declaration as a picture: the base panel with its holes, beads and folded edges, legs in words.

    Nothing is resolved, so no shop is needed; the picture takes less than a millisecond for a usual part.
    """
    x0, y0, x1, y1 = part.base.loop.box
    pen = max(x1 - x0, y1 - y0) / 400
    inner = "".join(_hole_svg(part, feature, pen) for feature in part.holes)
    for bead in part.beads:
        for k in range(bead.copies if bead.panel == "base" else 0):
            dx, dy = bead.step
            path = [(x + k * dx, y + k * dy) for x, y in bead.path]
            inner += _strokes(path, UP if bead.direction == "up" else DOWN, 2 * pen)
    for fold in part.folds:
        if fold.panel == "base":
            edge = part.base.edge(fold.edge)
            along = edge.part((fold.start or 0.0) / edge.length, (fold.stop or edge.length) / edge.length)
            colour = UP if fold.direction == "up" else DOWN
            inner += f'<path d="{path_data([along])}" fill="none" stroke="{colour}" stroke-width="{num(4 * pen)}"/>\n'
    return outline_svg(part.base.loop, f"{part.number} rev {part.rev}, as declared", inner)


def part_text(part: Part) -> str:
    """Return a declaration in one line: number, revision, sheet, and how much it holds."""
    counts = ((len(part.panels), "panel"), (len(part.holes), "hole feature"), (len(part.forms), "form"))
    has = ", ".join(f"{n} {what}{'s' if n > 1 else ''}" for n, what in counts if n)
    return f"<{part.number} rev {part.rev} of {part.sheet}: {has}>"


def part_html(part: Part) -> str:
    """Return the picture of a declaration and a line that names its legs."""
    legs = "; ".join(f"{f.name} {f.direction}, {max(f.leg):g} mm, turned {f.angle:g}°" for f in part.folds)
    return f"{part_svg(part)}<p>{escape(part_text(part)[1:-1])}. Legs: {escape(legs) or 'none'}.</p>\n"
