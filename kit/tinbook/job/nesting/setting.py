"""Blanks and plates made ready for the search: regions, cells, positions, and the way back to mm."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import lru_cache
from typing import Final

import numpy as np
import numpy.typing as npt
import shapely
from shapely.affinity import rotate
from shapely.geometry import Polygon, box

from tinbook.errors import BadValue
from tinbook.job.nesting.by_hand import faults
from tinbook.job.nesting.filling import Lying, Position, Put, Task
from tinbook.job.nesting.layout import (
    MOST_BLANKS,
    SAGITTA,
    SIDES,
    Blank,
    Nest,
    Placement,
    Plate,
    PlateLayout,
    Side,
    polygon,
    ranged,
    reached,
    used_area,
)
from tinbook.job.nesting.raster import Cells, Ints, covered, entered, free_cells, run_lengths
from tinbook.job.nesting.rectangles import fill_exactly
from tinbook.job.nesting.search import Step

_QUAD: Final = 8  # chords of a quarter of the rounding when a shape is grown
_SLACK: Final = 1.0 / math.cos(math.pi / (4 * _QUAD))  # chords lie inside the arc by this factor
_FINEST, _COARSEST = 1.0, 8.0  # mm, side of a cell
_CELLS_PER_PART: Final = 84  # along a part of usual size
_MANY: Final = 30  # parts
_CELLS_PER_PLATE: Final = 1_200_000  # at most: plates are copied again and again, which no count of effort sees
_EXACT: Final = 20_000  # places that the search for a cut without waste tries for an effort of 1


class Setting:
    """Blanks and plates made ready for the search."""

    def __init__(
        self,
        blanks: Sequence[Blank],
        plates: Sequence[Plate],
        gap: float,
        margins: float | Mapping[Side, float],
        locked: Sequence[PlateLayout],
        coarser: float = 1.0,
        fair: bool = False,
    ) -> None:
        self.blanks, self.plates = tuple(blanks), tuple(plates)
        for field, kind, things in (("blanks", Blank, self.blanks), ("plates", Plate, self.plates)):
            for thing in things:
                if not isinstance(thing, kind):
                    raise BadValue(field, thing, f"values of tb.job.{kind.__name__}")
        if not blanks or not plates:
            raise BadValue("blanks" if plates else "plates", (), "at least one")
        for field, names in (("blanks", [b.name for b in blanks]), ("plates", [p.name for p in plates])):
            if len(set(names)) < len(names):
                raise BadValue(field, next(n for n in names if names.count(n) > 1), "each name once")
        self.gap = ranged("gap", gap, 0.0, 100.0, "mm")
        self.margins = _margins(margins)
        if sum(b.quantity for b in blanks) > MOST_BLANKS:
            raise BadValue("blanks", sum(b.quantity for b in blanks), f"at most {MOST_BLANKS} with all copies")
        self.shapes = {b.name: b.shape for b in blanks}
        self.grown = {name: grown(shape, self.gap) for name, shape in self.shapes.items()}
        self.regions = [self._region(p) for p in plates]
        self.cell = self._cell() * coarser
        self.off = self.cell / 4 if fair else 0.0
        if (
            fair
        ):  # as many cells as the area asks for, not every cell that is touched: two blanks may then overlap a little
            smaller = {name: shape.buffer(-self.off) for name, shape in self.grown.items()}
            self.grown = {name: self.grown[name] if s.is_empty else s for name, s in smaller.items()}
            self.regions = [r.buffer(-self.off, join_style="mitre") for r in self.regions]
        self.locked = [replace(k, placements=tuple(p for p in k.placements if p.locked)) for k in locked]
        self._check_locked()
        self._known: list[Task] | None = None
        there = {(p.blank, p.copy) for layout in self.locked for p in layout.placements}
        self.all_parts = [(b, copy) for b in blanks for copy in range(1, b.quantity + 1)]
        self.parts = [(b, copy) for b, copy in self.all_parts if (b.name, copy) not in there]
        self.ranks = [-b.priority for b, _ in self.parts]

    def _check_locked(self) -> None:
        for n, layout in enumerate(self.locked, 1):
            if layout.plate not in self.plates:
                raise BadValue(f"locked plate {n}", layout.plate.name, "one of the plates that are given")
            wrong = faults(layout, self.blanks, self.gap, self.margins, n)
            if wrong:
                raise BadValue(
                    f"locked plate {n}", layout.plate.name, f"placements that leave each other room; {wrong[0]}"
                )

    def _region(self, plate: Plate) -> Polygon:
        """Return where grown blanks may lie on a plate."""
        shape = polygon(plate.outline)
        x0, y0, x1, y1 = shape.bounds
        half = self.gap / 2
        if shape.equals(box(x0, y0, x1, y1)):
            m = self.margins
            corners = (x0 + m["left"] - half, y0 + m["bottom"] - half, x1 - m["right"] + half, y1 - m["top"] + half)
            if x1 - x0 <= m["left"] + m["right"] or y1 - y0 <= m["bottom"] + m["top"]:
                raise BadValue(f"plate '{plate.name}'", (x1 - x0, y1 - y0), "larger than its margins")
            return box(*corners)
        inset = max(*self.margins.values(), half) - half
        inner = shape.buffer(-inset * _SLACK - SAGITTA, quad_segs=_QUAD)
        parts = [p for p in shapely.get_parts(inner) if p.area > 0]
        if not parts:
            raise BadValue(f"plate '{plate.name}'", f"{shape.area:.0f} mm²", "larger than its margins")
        return inner

    def _cell(self) -> float:
        """Return the side of a cell: fine against the usual part, finer where there are few."""
        sides = sorted(math.sqrt(g.area) for g in self.grown.values())
        few = min(1.0, math.sqrt(sum(b.quantity for b in self.blanks) / _MANY))
        side = sides[len(sides) // 2] / _CELLS_PER_PART * few
        largest = math.sqrt(max(box(*r.bounds).area for r in self.regions) / _CELLS_PER_PLATE)
        return min(_COARSEST, max(_FINEST, round(2 * side) / 2, math.ceil(2 * largest) / 2))

    def _positions(self, blank: Blank, plate: Plate, region: Polygon, size: tuple[int, ...]) -> list[Position]:
        """Return the ways in which a blank may lie on a plate of a size in cells, each set of cells once."""
        out: list[Position] = []
        for over in (False, True) if blank.turn_over else (False,):
            for angle in blank.turns(plate.grain):
                cells, shift = self._cells(blank.name, angle % 360.0, over)
                if cells.columns > size[0] or cells.rows > size[1]:
                    lies = Placement(blank=blank.name, copy=1, x=0.0, y=0.0, angle=angle % 360.0, turned_over=over)
                    cells, shift = self._clipped(lies, region, size) or (cells, shift)
                if not any(np.array_equal(cells.runs, p.cells.runs) for p in out):
                    out.append(Position(cells=cells, angle=angle % 360.0, turned_over=over, shift=shift))
        return out

    def _clipped(
        self, lies: Placement, region: Polygon, size: tuple[int, ...]
    ) -> tuple[Cells, tuple[float, float]] | None:
        """Return the cells of a blank that needs a plate's last piece of a cell, which none other can take, if it fits."""
        shape = lies.place(self.shapes[lies.blank])
        corner = self.gap / 2 - self.off
        room, sides = _sides(region), _sides(shape)
        fits = all(s + 2 * corner <= r + 1e-9 for s, r in zip(sides, room, strict=True))
        if not fits or not region.equals(box(*region.bounds)):
            return None
        runs = covered(lies.place(self.grown[lies.blank]), self.cell).runs
        runs = np.minimum(runs, np.array((size[0], size[1], size[1]), dtype=np.int32))
        runs = runs[(runs[:, 0] < size[0]) & (runs[:, 1] < runs[:, 2])]
        x0, y0, _, _ = shape.bounds
        return Cells(runs, int(runs[:, 0].max()) + 1, int(runs[:, 2].max())), (corner - x0, corner - y0)

    def _cells(self, name: str, angle: float, over: bool) -> tuple[Cells, tuple[float, float]]:
        """Return the cells of a blank as it lies, and its origin against the cells' lower left corner."""
        # A half turn and a turn over carry the cells of the first position along.
        base = (-angle if over else angle) % 180.0
        half = (-angle if over else angle) % 360.0 >= 180.0
        cells = self._base(name, base)
        if half:
            cells = cells.half_turn()
        if over:
            cells = cells.turned_over()
        lies = Placement(blank=name, copy=1, x=0.0, y=0.0, angle=angle, turned_over=over).place(self.grown[name])
        x0, y0, x1, y1 = lies.bounds
        dx = cells.columns * self.cell - (x1 - x0) if half else 0.0
        dy = cells.rows * self.cell - (y1 - y0) if half != over else 0.0
        return cells, (dx - x0, dy - y0)

    def _base(self, name: str, angle: float) -> Cells:
        return _covered(self.grown[name], angle, self.cell)

    def tasks(self) -> list[Task]:
        """Return the search's tasks: locked plates, then offcuts or none, then the sheets, each kind leading once."""
        if self._known is None:
            self._known = self._tasks()
        return self._known

    def _tasks(self) -> list[Task]:
        frees = [free_cells(region, self.cell) for region in self.regions]
        positions = [
            [self._positions(b, p, r, f.shape) for b in self.blanks]
            for p, r, f in zip(self.plates, self.regions, frees, strict=True)
        ]
        for n, blank in enumerate(self.blanks):
            if not any(_fits(positions[k][n], frees[k].shape) for k in range(len(self.plates))):
                raise BadValue(f"blank '{blank.name}'", _size(self.shapes[blank.name]), self._largest())
        index = {b.name: n for n, b in enumerate(self.blanks)}
        same = [index[b.name] for b, _ in self.parts]
        by_part = [[kind[n] for n in same] for kind in positions]
        free = [run_lengths(cells) for cells in frees]
        started = [self.plates.index(layout.plate) for layout in self.locked]
        taken = [self._taken(kind, frees[kind], layout) for kind, layout in zip(started, self.locked, strict=True)]
        offcuts = sorted((n for n, p in enumerate(self.plates) if p.offcut), key=lambda n: self.regions[n].area)
        sheets = [n for n, p in enumerate(self.plates) if not p.offcut]
        out: list[Task] = []
        for rest in [offcuts, []] if offcuts and sheets else [offcuts]:
            for lead in sheets or [-1]:
                order = [*rest, *([lead] if lead >= 0 else []), *(n for n in sheets if n != lead)]
                later = [n for n in order for _ in range(self._count(n) - started.count(n))]
                kinds = [*started, *later]
                out.append(
                    Task(
                        positions=by_part,
                        kinds=kinds,
                        free=[*(cells for cells, _ in taken), *(free[n] for n in later)],
                        reached=[*(columns for _, columns in taken), *(0 for _ in later)],
                        worth=[self.plates[n].price for n in kinds],
                        same=same,
                        columns=[*(cells.shape[0] for cells, _ in taken), *(free[n].shape[0] for n in later)],
                    )
                )
        return out

    def _taken(self, kind: int, free: npt.NDArray[np.bool_], layout: PlateLayout) -> tuple[Ints, int]:
        """Return the free runs of a plate beside its locked blanks, and the columns that these reach."""
        free, columns = free.copy(), 1
        for p in layout.placements:
            shape = p.place(self.grown[p.blank])
            for c, first, end in entered(shape, self.cell, self.regions[kind].bounds[:2]):
                if 0 <= c < free.shape[0]:
                    free[c, max(first, 0) : max(end, 0)] = False
                    columns = max(columns, int(c) + 1)
        return run_lengths(free), columns

    def _count(self, kind: int) -> int:
        plate = self.plates[kind]
        return len(self.parts) if plate.quantity is None else min(plate.quantity, len(self.parts))

    def starts(self) -> list[list[Step]]:
        """Return orders to begin with: large parts first, in several senses of large."""
        area = [Polygon(self.grown[b.name].exterior).area for b, _ in self.parts]
        boxes = [_sides(self.grown[b.name]) for b, _ in self.parts]
        sizes = (
            area,
            [max(s) for s in boxes],
            [a * max(s) for a, s in zip(area, boxes, strict=True)],
            [math.prod(s) for s in boxes],
        )
        orders = [sorted(range(len(self.parts)), key=lambda n: (self.ranks[n], -size[n], n)) for size in sizes]
        return [[(part, middle) for part in order] for order in orders for middle in (True, False)]

    def unchanged(self) -> Nest:
        """Return the locked plates as they are: nothing is left to place."""
        return Nest(
            blanks=self.blanks,
            layouts=tuple(self.locked),
            gap=self.gap,
            margins=self.margins,
            density=0.0,
            bound=self._bound(),
            tried=0,
        ).with_layouts(self.locked)

    def exact(self, effort: float) -> Nest | None:
        """Return rectangles that fill one plate without waste, if they do."""
        boxes = [self.grown[b.name].bounds for b, _ in self.parts]
        room = self.regions[0].bounds
        square = all(self.grown[b.name].equals(box(*self.grown[b.name].bounds)) for b in self.blanks)
        if self.locked or not square or not self.regions[0].equals(box(*room)):
            return None
        ways = [set(b.turns(self.plates[0].grain)) for b, _ in self.parts]
        if any(not w & {0.0, 180.0} for w in ways):
            return None
        spots = fill_exactly(
            [(x1 - x0, y1 - y0) for x0, y0, x1, y1 in boxes],
            [90.0 in w for w in ways],
            room[2] - room[0],
            room[3] - room[1],
            most=int(_EXACT * max(effort, 0.1)),
        )
        if spots is None:
            return None
        placements = []
        for n, x, y, turned in spots:
            blank, copy = self.parts[n]
            x0, y0, _, y1 = boxes[n]
            dx, dy = (y1, -x0) if turned else (-x0, -y0)
            placements.append(
                Placement(blank=blank.name, copy=copy, x=room[0] + x + dx, y=room[1] + y + dy, angle=90.0 * turned)
            )
        return Nest(
            blanks=self.blanks,
            layouts=(reached(self.plates[0], placements, self.shapes, self.margins),),
            gap=self.gap,
            margins=self.margins,
            density=0.0,
            bound=self._bound(),
            tried=1,
        ).with_layouts([PlateLayout(plate=self.plates[0], placements=tuple(placements), reach=0.0)])

    def _bound(self) -> float:
        outer = math.fsum(Polygon(self.shapes[b.name].exterior).area for b, _ in self.all_parts)
        return outer / self._least_area()

    def lying(self, task: Task, puts: Sequence[Put]) -> list[Lying]:
        """Return parts in cells in mm."""
        out = []
        for put in puts:
            kind = task.kinds[put.plate]
            position = task.positions[kind][put.part][put.position]
            x0, y0, _, _ = self.regions[kind].bounds
            x = x0 + put.column * self.cell + position.shift[0]
            y = y0 + put.row * self.cell + position.shift[1]
            out.append(Lying(put.part, put.plate, position.angle, position.turned_over, x, y))
        return out

    def placement(self, lying: Lying) -> Placement:
        """Return a part as it lies, by its blank's name."""
        blank, copy = self.parts[lying.part]
        return Placement(
            blank=blank.name,
            copy=copy,
            x=lying.x,
            y=lying.y,
            angle=lying.angle,
            turned_over=lying.turned_over,
        )

    def result(self, kinds: Sequence[int], lying: Sequence[Lying], tried: int) -> Nest:
        """Return the nest in which parts lie so on plates of these kinds."""
        layouts = []
        for n, kind in enumerate(kinds):
            placements = list(self.locked[n].placements) if n < len(self.locked) else []
            placements += [self.placement(v) for v in lying if v.plate == n]
            if placements:
                layouts.append(reached(self.plates[kind], placements, self.shapes, self.margins))
        outer = math.fsum(Polygon(self.shapes[b.name].exterior).area for b, _ in self.all_parts)
        return Nest(
            blanks=self.blanks,
            layouts=tuple(layouts),
            gap=self.gap,
            margins=self.margins,
            density=outer / used_area(layouts),
            bound=self._bound(),
            tried=tried,
        )

    def _least_area(self) -> float:
        """Return an area of plates below which no layout can come: the grown blanks without their holes' room."""
        need = math.fsum(self.grown[b.name].area for b, _ in self.all_parts)
        ratio = math.inf
        for plate, region in zip(self.plates, self.regions, strict=True):
            _, y0, _, y1 = region.bounds
            _, b0, _, b1 = plate.outline.box
            ratio = min(ratio, (b1 - b0) / (y1 - y0) if region.equals(region.envelope) else 1.0)
        return need * ratio

    def _largest(self) -> str:
        big = max(self.regions, key=lambda r: r.area)
        w, h = _sides(big)
        room = f"{w - self.gap:.0f} x {h - self.gap:.0f} mm"
        return f"a size that a plate can hold in one of its turns (grain counts); the largest has room for {room}"

    def too_little(self) -> str:
        """Return what would be valid where the stock does not hold the blanks."""
        need = math.fsum(self.grown[b.name].area for b, _ in self.parts) * 1e-6
        have = math.fsum(r.area * self._count(n) for n, r in enumerate(self.regions)) * 1e-6
        return f"more plates: the blanks cover {need:.2f} m² with their gaps, the plates have room for {have:.2f} m²"


def grown(shape: Polygon, gap: float) -> Polygon:
    """Return a shape with half the gap round it, never less."""
    if gap == 0.0:
        return shape
    if shape.equals(shape.envelope):  # two boxes keep their gap at a corner too, if corners stay sharp
        return box(*shape.bounds).buffer(gap / 2, join_style="mitre")
    return shape.buffer(gap / 2 * _SLACK + SAGITTA, quad_segs=_QUAD)


def _margins(margins: float | Mapping[Side, float]) -> dict[Side, float]:
    given = dict(margins) if isinstance(margins, Mapping) else dict.fromkeys(SIDES, margins)
    if set(given) != set(SIDES):
        raise BadValue("margins", sorted(given), f"a length, or one each for {', '.join(SIDES)}")
    return {side: ranged(f"margins '{side}'", given[side], 0.0, 500.0, "mm") for side in SIDES}


@lru_cache(maxsize=4096)
def _covered(shape: Polygon, angle: float, cell: float) -> Cells:
    return covered(rotate(shape, angle, origin=(0, 0)) if angle else shape, cell)


def _sides(shape: Polygon) -> tuple[float, float]:
    x0, y0, x1, y1 = shape.bounds
    return x1 - x0, y1 - y0


def _size(shape: Polygon) -> str:
    w, h = _sides(shape)
    return f"{w:.1f} x {h:.1f} mm"


def _fits(positions: Sequence[Position], size: tuple[int, ...]) -> bool:
    return any(p.cells.columns <= size[0] and p.cells.rows <= size[1] for p in positions)
