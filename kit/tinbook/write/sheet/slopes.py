"""Sizes of sloping faces in the views of a folded part: along the face, from mould line to mould line or edge."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any, Final

import numpy as np
import shapely

from tinbook.language import Language
from tinbook.making.accuracy import FinishedSize, finished_sizes
from tinbook.making.folded import MadePanel
from tinbook.making.made import Made
from tinbook.making.preview.drawing import LineDrawing
from tinbook.making.preview.view import View
from tinbook.plane.loops import Point
from tinbook.space import Vec, dot, plus
from tinbook.values import dataclass
from tinbook.write.flowing import Area
from tinbook.write.page import PLAIN, Page, Placing, text_width
from tinbook.write.strip import SIZE

LEVEL: Final = 1e-3
"""A face whose normal leans less than this out of a direction is square to it."""
TRUE: Final = 1e-6
"""A size that leans less than this out of a view is seen in its true length."""
NEAR: Final = 0.5
"""mm: what lies no farther behind the nearest metal of a view is not hidden."""
OFFSETS: Final = (3.0, 5.5, 8.0, 11.0, 14.0, 18.0)
"""mm on the paper from a face to its size, tried in this order, outside first."""
_HIGH: Final = 2.0
"""mm: height of figures."""


@dataclass(frozen=True, slots=True)
class Sloped:
    """A size along a sloping face as a view shows it in its true length.

    Parameters
    ----------
    a, b : (float, float)
        Its ends, mm of the view.
    out : (float, float)
        Unit vector of the view away from the metal, square to the size.
    size : FinishedSize
        What it is.
    """

    a: Point
    b: Point
    out: Point
    size: FinishedSize


def sloped(made: Made, view: View) -> Iterator[Sloped]:
    """Yield the sizes along sloping faces that a view shows in true length: faces seen on edge, and ends that face the eye."""
    nearest = float((made.preview.positions.astype(float) @ np.array(view.toward)).max())
    for size in finished_sizes(made):
        p = made.panel(size.panel)
        outer = _outer_face(made, p, size.folds[0])
        ends = [p.frame(*q, outer) for q in size.ends]
        way = plus(ends[1], ends[0], -1.0)
        across = abs(dot(way, view.right)), abs(dot(way, view.up))
        if abs(dot(way, view.toward)) > TRUE * size.nominal or min(across) < LEVEL * size.nominal:
            continue
        if abs(dot(p.frame.z, view.toward)) > TRUE and nearest - dot(ends[0], view.toward) > NEAR:
            continue
        a, b = (_flat(q, view) for q in ends)
        ux, uy = (b[0] - a[0]) / size.nominal, (b[1] - a[1]) / size.nominal
        normal = _flat(p.frame.z, view)
        side = (normal[0] * -uy + normal[1] * ux) * (1.0 if outer else -1.0)
        yield Sloped(a, b, (-uy, ux) if side > 0 else (uy, -ux), size)


def _outer_face(made: Made, p: MadePanel, fold: str) -> float:
    """Return the z of the panel's face on the outside of a fold: its down face where it folds up."""
    return 0.0 if next(s for s in made.strips if s.name == fold).direction == "up" else made.thickness


def _flat(q: Vec, view: View) -> Point:
    return dot(q, view.right), dot(q, view.up)


class Sloping:
    """Draws sizes along sloping faces where they stand on nothing else of the page."""

    def __init__(self, page: Page, body: Area, say: Language) -> None:
        self.page, self.say = page, say
        self.body = shapely.box(body.x, body.y, body.x + body.w, body.top)
        self.lines: list[Any] = []
        """Lines of the views, on the paper."""
        self.texts: list[Any] = []
        """Where other sizes and names stand."""

    def see(self, d: LineDrawing, place: Placing, taken: tuple[Area, ...]) -> None:
        """Take in a view and where its other sizes stand; before anything is drawn."""
        self.lines += [shapely.LineString([place(p) for p in line]) for kind in d.lines for line in kind]
        self.texts += [shapely.box(t.x, t.y, t.x + t.w, t.top) for t in taken]

    def draw(self, it: Sloped, place: Placing) -> bool:
        """Draw a size; return whether there was room for it."""
        a, b = place(it.a), place(it.b)
        n = math.dist(a, b)
        text = self.say.number(it.size.nominal)
        ux, uy = (b[0] - a[0]) / n, (b[1] - a[1]) / n
        if (round(ux, 9), round(uy, 9)) < (0.0, 0.0):  # read from the foot of the page or its right
            ux, uy = -ux, -uy
        half = text_width(text, SIZE, PLAIN) / 2 + 0.4
        for side in (1.0, -1.0):
            ox, oy = side * it.out[0], side * it.out[1]
            for off in OFFSETS:
                ends = [(q[0] + off * ox, q[1] + off * oy) for q in (a, b)]
                # Above the line as it is read.
                mx, my = (ends[0][0] + ends[1][0]) / 2 - 0.6 * uy, (ends[0][1] + ends[1][1]) / 2 + 0.6 * ux
                corners = [(mx + s * ux - h * uy, my + s * uy + h * ux) for s, h in _box(half)]
                if self._free(corners, [a, *ends, b]):
                    self._put((a, b), ends, (mx, my), math.degrees(math.atan2(uy, ux)), text, corners)
                    return True
        return False

    def _free(self, corners: list[Point], drawn: list[Point]) -> bool:
        box, line = shapely.Polygon(corners), shapely.LineString(drawn)
        if not self.body.contains(box):
            return False
        if any(box.intersects(t) or line.intersects(t) for t in self.texts):
            return False
        return not shapely.intersects(box, self.lines).any()

    def _put(
        self, feet: tuple[Point, Point], ends: list[Point], at: Point, turn: float, text: str, corners: list[Point]
    ) -> None:
        for foot, end in zip(feet, ends, strict=True):
            self.page.line(foot, end, 0.1)
            self.page.line((end[0] - 0.6, end[1] - 0.6), (end[0] + 0.6, end[1] + 0.6), 0.2)
        self.page.line(ends[0], ends[1], 0.13)
        self.page.text(*at, text, SIZE + 0.01, align="middle", turn=turn)  # a turned text is rounded
        self.texts.append(shapely.Polygon(corners))
        self.lines += [shapely.LineString(ends), *(map(shapely.LineString, zip(feet, ends, strict=True)))]


def _box(half: float) -> tuple[Point, ...]:
    return (-half, -0.4), (half, -0.4), (half, _HIGH + 0.3), (-half, _HIGH + 0.3)
