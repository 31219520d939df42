"""Blanks slid together along their true contours: what cells waste is taken back, and small overlaps are taken apart.

Every corner of a blank that lies near an edge of another must stay the gap away from it, measured along the direction
that separates them now. Within a small step that is enough for the whole contours to keep the gap, and it is linear, so
the shortest layout within the step is a linear program (compaction and separation, as published for marker making).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import numpy as np
from numba import njit
from shapely.geometry import Polygon, box
from shapely.geometry.polygon import orient

from tinbook.job.nesting.by_hand import faults
from tinbook.job.nesting.filling import Lying
from tinbook.job.nesting.layout import SAGITTA, Placement, PlateLayout, polygon
from tinbook.job.nesting.raster import Floats
from tinbook.job.nesting.setting import Setting
from tinbook.values import dataclass

_ROUND: Final = 0.0015  # mm that rounding places to a thousandth may cost between two blanks
_TOUCH: Final = 1e-6  # mm; nearer than this the edge's own direction separates
_PRICE: Final = 20.0  # of a mm of overlap, in mm of length
_LEFT: Final = 1e-4  # weight of each blank's own place along the plate
_STEPS: Final = 14
_ROOM: Final = 60_000  # rows
_TESTS: Final = 200_000  # that one step counts, and each row of it
_TESTS_ROW: Final = 150


@njit(cache=True)
def separated(
    a: Floats, b: Floats, outside: bool, need: float, reach: float, slack: float, sign: float, rows: Floats, count: int
) -> int:
    """Add rows (nx, ny, c): corners of a stay clear of edges of b while n . (shift of a - shift of b) >= c.

    Parameters
    ----------
    a, b : array of float, shape (n, 4)
        Edges, the metal on their left.
    outside : bool
        Whether a belongs outside of b's edges; else within them, as on a plate.
    need, reach : float
        Least distance; distance beyond which nothing can come too close, mm.
    slack : float
        Largest shift of the two against each other along an axis, mm: rows that no such shift breaks are left out.
    sign : float
        -1 if the rows are wanted for b against a.
    rows, count : array of float, int
        Written behind the first `count`; the new count is returned, at most `len(rows)`.
    """
    x0, y0 = min(b[:, 0].min(), b[:, 2].min()) - reach, min(b[:, 1].min(), b[:, 3].min()) - reach
    x1, y1 = max(b[:, 0].max(), b[:, 2].max()) + reach, max(b[:, 1].max(), b[:, 3].max()) + reach
    for i in range(a.shape[0]):
        px, py = a[i, 0], a[i, 1]
        if px < x0 or px > x1 or py < y0 or py > y1:
            continue
        wrong, first, nearest, at = not outside, count, math.inf, 0
        for k in range(b.shape[0]):
            ax, ay, bx, by = b[k, 0], b[k, 1], b[k, 2], b[k, 3]
            if (ay > py) != (by > py) and px < (bx - ax) * (py - ay) / (by - ay) + ax:
                wrong = not wrong
            if (px < ax - reach and px < bx - reach) or (px > ax + reach and px > bx + reach):
                continue
            if (py < ay - reach and py < by - reach) or (py > ay + reach and py > by + reach):
                continue
            ex, ey = bx - ax, by - ay
            long = ex * ex + ey * ey
            if long == 0.0:
                continue
            t = min(1.0, max(0.0, ((px - ax) * ex + (py - ay) * ey) / long))
            dx, dy = px - ax - t * ex, py - ay - t * ey
            far = math.sqrt(dx * dx + dy * dy)
            if far > reach or count >= rows.shape[0]:
                continue
            if far < _TOUCH:
                dx, dy, far = (ey, -ex, 0.0) if outside else (-ey, ex, 0.0)
            size = math.sqrt(dx * dx + dy * dy)
            rows[count, 0], rows[count, 1], rows[count, 2] = sign * dx / size, sign * dy / size, need - far
            if far < nearest:
                nearest, at = far, count
            count += 1
        kept = first
        if wrong and count > first:  # a corner on the wrong side leaves by the nearest edge
            turn = 1.0 if nearest < _TOUCH else -1.0
            rows[first, 0], rows[first, 1], rows[first, 2] = turn * rows[at, 0], turn * rows[at, 1], need + nearest
            kept += 1
        else:
            for k in range(first, count):
                if rows[k, 2] > -slack * (abs(rows[k, 0]) + abs(rows[k, 1])):
                    rows[kept, 0], rows[kept, 1], rows[kept, 2] = rows[k, 0], rows[k, 1], rows[k, 2]
                    kept += 1
        count = kept
    return count


@dataclass(frozen=True, slots=True)
class _Part:
    """One blank while it is slid, or what stays: a locked blank, a plate's outline."""

    plate: int
    edges: Floats
    beyond: float  # mm by which the true contour may lie beyond its chords
    outline: bool = False


class Slider:
    """Slides blanks on plates."""

    def __init__(self, setting: Setting) -> None:
        self.setting = setting
        self.rows = np.zeros((_ROOM, 3))
        self.known: dict[tuple[str, float, bool], Floats] = {}
        self.round = {
            b.name: SAGITTA * any(e.bulge for loop in (b.outer, *b.holes) for e in loop) for b in setting.blanks
        }
        self.tests = 0

    def end(self, v: Lying) -> float:
        """Return how far along its plate a blank lies, mm."""
        edges = self._edges(self.setting.parts[v.part][0].name, v.angle, v.turned_over)
        return float(edges[:, 0].max()) + v.x

    def slid(
        self, kinds: Sequence[int], lying: Sequence[Lying], plates: Sequence[int], step: float
    ) -> list[Lying] | None:
        """Return where blanks lie when the last plate is as short as it gets; None if some still overlap.

        Parameters
        ----------
        kinds : sequence of int
            Kind of each plate.
        lying : sequence of Lying
            Blanks on these plates, near to where they shall lie.
        plates : sequence of int
            Plates on which blanks are slid.
        step : float
            mm that a blank moves at most at once.
        """
        places = [self._inside(kinds[v.plate], v, v.x, v.y) for v in lying]
        fixed = [part for n in plates for part in self._fixed(n, kinds[n])]
        last, worst_before = math.inf, math.inf
        for _ in range(_STEPS):
            parts = [self._part(v, at) for v, at in zip(lying, places, strict=True)]
            found = self._step(kinds, parts, fixed, step)
            if found is None:
                return None
            shifts, end, worst = found
            if worst <= _ROUND and last - end < 0.05:
                break
            if worst > _ROUND and worst > 0.8 * worst_before:
                return None
            worst_before = worst if worst > _ROUND else math.inf
            last = end if worst <= _ROUND else math.inf
            places = [
                self._inside(kinds[v.plate], v, round(x + dx, 3), round(y + dy, 3))
                for v, (x, y), (dx, dy) in zip(lying, places, shifts.tolist(), strict=True)
            ]
        if last == math.inf:
            return None
        out = [v.moved(x, y) for v, (x, y) in zip(lying, places, strict=True)]
        return out if self._right(kinds, out, plates) else None

    def _right(self, kinds: Sequence[int], lying: Sequence[Lying], plates: Sequence[int]) -> bool:
        """Whether a layout is free of faults, judged by shapes alone."""
        s = self.setting
        for n in plates:
            locked = s.locked[n].placements if n < len(s.locked) else ()
            there = [s.placement(v) for v in lying if v.plate == n]
            layout = PlateLayout(plate=s.plates[kinds[n]], placements=(*locked, *there), reach=0.0)
            if layout.placements and faults(layout, s.blanks, s.gap, s.margins):
                return False
        return True

    def _edges(self, name: str, angle: float, over: bool) -> Floats:
        """Return the edges of a blank in one of its turns."""
        key = name, angle, over
        if key not in self.known:
            lies = Placement(blank=name, copy=1, x=0.0, y=0.0, angle=angle, turned_over=over)
            self.known[key] = _edges_of(lies.place(self.setting.shapes[name]))
        return self.known[key]

    def _inside(self, kind: int, v: Lying, x: float, y: float) -> tuple[float, float]:
        """Return the place nearest to (x, y) at which a blank's box lies within the margins."""
        name = self.setting.parts[v.part][0].name
        x0, y0, x1, y1 = _box(self._edges(name, v.angle, v.turned_over))
        low, high = self._room(kind, self.round[name])
        return max(low[0] - x0, min(x, high[0] - x1)), max(low[1] - y0, min(y, high[1] - y1))

    def _part(self, lying: Lying, at: tuple[float, float]) -> _Part:
        name = self.setting.parts[lying.part][0].name
        edges = self._edges(name, lying.angle, lying.turned_over) + np.array(at * 2)
        return _Part(lying.plate, edges, self.round[name])

    def _fixed(self, n: int, kind: int) -> list[_Part]:
        """Return what is locked on a plate, and the outline of a plate that is no rectangle."""
        s = self.setting
        out = []
        for p in s.locked[n].placements if n < len(s.locked) else ():
            edges = self._edges(p.blank, p.angle, p.turned_over) + np.array((p.x, p.y) * 2)
            out.append(_Part(n, edges, self.round[p.blank]))
        shape = polygon(s.plates[kind].outline)
        if not shape.equals(box(*shape.bounds)):
            out.append(_Part(n, _edges_of(shape), SAGITTA, outline=True))
        return out

    def _step(
        self, kinds: Sequence[int], parts: Sequence[_Part], fixed: Sequence[_Part], step: float
    ) -> tuple[Floats, float, float] | None:
        """Return the shifts of one step, the length that it reaches, and the worst overlap before it."""
        every = [*parts, *fixed]
        margin = max(self.setting.margins.values())
        most = max(self.setting.gap, margin) if any(p.outline for p in fixed) else self.setting.gap
        reach = most + 2 * SAGITTA + 2 * _ROUND + 2 * math.sqrt(2.0) * step
        boxes = np.array([_box(p.edges) for p in every])
        pairs: list[tuple[int, int, int]] = []  # two parts, and the row behind their last
        count = 0
        for i, one in enumerate(parts):
            low, high = boxes[i, :2] - reach, boxes[i, 2:] + reach
            near = np.all((boxes[i + 1 :, :2] < high) & (boxes[i + 1 :, 2:] > low), axis=1)
            for j in np.flatnonzero(near).tolist():
                other = every[i + 1 + j]
                if other.plate == one.plate:
                    need = margin if other.outline else self.setting.gap
                    need += one.beyond + other.beyond + _ROUND
                    slack = (2 if i + 1 + j < len(parts) else 1) * step
                    clear = not other.outline
                    count = separated(one.edges, other.edges, clear, need, reach, slack, 1.0, self.rows, count)
                    count = separated(other.edges, one.edges, True, need, reach, slack, -1.0, self.rows, count)
                    pairs.append((i, i + 1 + j, count))
        self.tests += _TESTS + _TESTS_ROW * count
        if count == len(self.rows):
            return None
        return self._solved(kinds, parts, boxes, pairs, self.rows[:count], step)

    def _solved(
        self,
        kinds: Sequence[int],
        parts: Sequence[_Part],
        boxes: Floats,
        pairs: Sequence[tuple[int, int, int]],
        rows: Floats,
        step: float,
    ) -> tuple[Floats, float, float] | None:
        from scipy.optimize import linprog
        from scipy.sparse import csr_matrix

        n = len(parts)
        last = max(p.plate for p in parts)
        ends = [i for i, p in enumerate(parts) if p.plate == last]
        which = np.repeat(np.arange(len(pairs)), np.diff([0, *(end for _, _, end in pairs)]))
        one, other = (np.array([pair[k] for pair in pairs], dtype=np.int64)[which] for k in (0, 1))
        worst = np.zeros(len(pairs))
        np.maximum.at(worst, which, rows[:, 2])
        loose = np.flatnonzero(worst > 1e-7)  # pairs that overlap now may do so still, at a price
        column = np.full(len(pairs), -1)
        column[loose] = 2 * n + 1 + np.arange(len(loose))
        k = np.arange(len(rows))
        free, elastic = other < n, column[which] >= 0
        r = np.arange(len(rows), len(rows) + len(ends))
        entries = (
            (k, 2 * one, -rows[:, 0]),
            (k, 2 * one + 1, -rows[:, 1]),
            (k[free], 2 * other[free], rows[free, 0]),
            (k[free], 2 * other[free] + 1, rows[free, 1]),
            (k[elastic], column[which][elastic], np.full(int(elastic.sum()), -1.0)),
            (r, 2 * np.array(ends), np.ones(len(ends))),
            (r, np.full(len(ends), 2 * n), np.full(len(ends), -1.0)),
        )
        across, along, value = (np.concatenate(v) for v in zip(*entries, strict=True))
        size = 2 * n + 1 + len(loose)
        matrix = csr_matrix((value, (across, along)), shape=(len(rows) + len(ends), size))
        limit = np.concatenate((-rows[:, 2], -boxes[ends, 2]))
        price = np.concatenate((np.tile((_LEFT, 0.0), n), [1.0], np.full(len(loose), _PRICE)))
        bounds = np.zeros((size, 2))
        bounds[2 * n :, 1] = np.inf
        for i, p in enumerate(parts):
            low, high = self._room(kinds[p.plate], p.beyond)
            for axis in (0, 1):
                least, most = low[axis] - boxes[i, axis], high[axis] - boxes[i, 2 + axis]
                if least > most + 1e-9 or least > step or most < -step:
                    return None
                bounds[2 * i + axis] = max(-step, least), max(-step, least, min(step, most))
        done = linprog(price, A_ub=matrix, b_ub=limit, bounds=bounds, method="highs")
        if done.x is None:
            return None
        return done.x[: 2 * n].reshape(n, 2), float(done.x[2 * n]), float(worst.max(initial=0.0))

    def _room(self, kind: int, beyond: float) -> tuple[tuple[float, float], tuple[float, float]]:
        x0, y0, x1, y1 = self.setting.plates[kind].outline.box
        m = self.setting.margins
        i = beyond + _ROUND / 2 if beyond else 0.0
        return (x0 + m["left"] + i, y0 + m["bottom"] + i), (x1 - m["right"] - i, y1 - m["top"] - i)


def _edges_of(shape: Polygon) -> Floats:
    """Return the edges of a polygon, its area on their left."""
    turned = orient(shape)
    rings = [np.asarray(ring.coords) for ring in (turned.exterior, *turned.interiors)]
    return np.concatenate([np.hstack((ring[:-1], ring[1:])) for ring in rings])


def _box(edges: Floats) -> tuple[float, float, float, float]:
    x, y = edges[:, 0], edges[:, 1]
    return x.min(), y.min(), x.max(), y.max()
