"""Blanks, plates and layouts: what nesting takes and gives. Lengths in mm, angles in degrees."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Annotated, Final, Literal

import shapely
from shapely.affinity import affine_transform
from shapely.geometry import Polygon

from tinbook.errors import BadValue
from tinbook.fields import Count, Maybe, Number, Several, check_fields
from tinbook.plane.loops import Edge, Loop, Point
from tinbook.units import number
from tinbook.values import dataclass

Side = Literal["left", "right", "bottom", "top"]
SIDES: Final = ("left", "right", "bottom", "top")
SAGITTA: Final = 0.01
"""Arcs become chords that leave them by at most this, mm."""
MOST_BLANKS: Final = 5000
QUARTER_TURNS: Final = (0.0, 90.0, 180.0, 270.0)
_SIDE: Final = Number("mm", above=0, most=1e5)


def ranged(field: str, value: object, least: float, most: float, unit: str = "") -> float:
    """Return a number or a text with a unit as a float within limits; BadValue names field and limits."""
    out = number(value, unit, field)
    if not least <= out <= most:
        raise BadValue(field, value, f"{least:g} to {most:g} {unit}".strip())
    return out


@dataclass(frozen=True, slots=True, kw_only=True)
class Joint:
    """A micro-joint: a place on a blank's outer contour that is not cut, and how wide it is along it, mm."""

    at: Point
    width: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Blank:
    """A flat shape to be cut, some number of times.

    Parameters
    ----------
    name : str
        Part number with revision; names a blank within one nest.
    outer : Loop
        Outer contour.
    holes : tuple of Loop
        Inner contours; other blanks may lie in them.
    quantity : int
        1 to `MOST_BLANKS`.
    angles : tuple of float
        Turns that are allowed, degrees, anticlockwise, against the plate's grain direction where `grain` is set and
        against the plate's length otherwise.
    grain : float or None
        Direction of the blank that follows the plate's grain, degrees; None where grain does not matter. Turns are then
        half turns whatever `angles` says.
    turn_over : bool
        Whether the blank may be cut from the sheet's other side (marks would then face down).
    priority : int
        Blanks of a higher priority go on to the first plates.
    strokes : tuple of (str, Edge)
        What is etched on it or nicked into its edge, each with the layer of the cut file.
    joints : tuple of Joint
        Micro-joints that tie it to its sheet.
    """

    name: str
    outer: Loop
    holes: tuple[Loop, ...] = ()
    quantity: Annotated[int, Count(1, MOST_BLANKS)] = 1
    angles: Annotated[tuple[float, ...], Several(Number("deg"), 1, what="angles")] = QUARTER_TURNS
    grain: Annotated[float | None, Maybe(Number("deg"))] = None
    turn_over: bool = False
    priority: Annotated[int, Count(-1000, 1000)] = 0
    strokes: tuple[tuple[str, Edge], ...] = ()
    joints: tuple[Joint, ...] = ()

    def __post_init__(self) -> None:
        check_fields(self, f"blank '{self.name}'")
        shape = self.shape
        if not shape.is_valid or shape.area <= 0:
            raise BadValue(
                f"blank '{self.name}' outline", shapely.is_valid_reason(shape), "contours that neither cross nor touch"
            )

    @property
    def shape(self) -> Polygon:
        """The blank as a polygon, its arcs as chords within `SAGITTA`."""
        return polygon(self.outer, self.holes)

    def turns(self, plate_grain: float | None) -> tuple[float, ...]:
        """Return the allowed turns on a plate."""
        if self.grain is None or plate_grain is None:
            return self.angles
        along = plate_grain - self.grain
        return (along % 360.0, (along + 180.0) % 360.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Plate:
    """A sheet or an offcut of the stock.

    Parameters
    ----------
    name : str
        Its name or rack number.
    outline : Loop
        Real outline.
    quantity : int or None
        How many there are; None for as many as are needed.
    grain : float or None
        Rolling direction, degrees from x; None where the metal has none or it is not known.
    cost : float or None
        Price of one plate in any unit, all plates alike; None counts area, in m².
    offcut : bool
        Whether it is the rest of an earlier sheet.
    """

    name: str
    outline: Loop
    quantity: Annotated[int | None, Maybe(Count(0, 10**6))] = None
    grain: Annotated[float | None, Maybe(Number("deg"))] = 0.0
    cost: Annotated[float | None, Maybe(Number(least=0))] = None
    offcut: bool = False

    def __post_init__(self) -> None:
        check_fields(self, f"plate '{self.name}'")
        shape = polygon(self.outline)
        if not shape.is_valid or shape.area <= 0:
            raise BadValue(
                f"plate '{self.name}' outline", shapely.is_valid_reason(shape), "an outline that does not cross itself"
            )

    @classmethod
    def rectangle(cls, name: str, length: float, width: float, **more: object) -> Plate:
        """Return a rectangular sheet with its grain along x, its length."""
        length, width = _SIDE.read(length, f"plate '{name}' length"), _SIDE.read(width, f"plate '{name}' width")
        corners = ((0.0, 0.0), (length, 0.0), (length, width), (0.0, width))
        edges = tuple(Edge(a, b) for a, b in zip(corners, (*corners[1:], corners[0]), strict=True))
        return cls(name=name, outline=Loop(edges), **more)  # type: ignore[arg-type]

    @property
    def price(self) -> float:
        """Cost of one plate, or its area in m²."""
        return abs(self.outline.area) * 1e-6 if self.cost is None else self.cost


@dataclass(frozen=True, slots=True, kw_only=True)
class Placement:
    """Where one copy of a blank lies: turned over about its x axis if so, turned by `angle`, then shifted by (x, y)."""

    blank: str
    copy: int
    x: float
    y: float
    angle: float = 0.0
    turned_over: bool = False
    locked: bool = False

    def matrix(self) -> tuple[float, float, float, float, float, float]:
        """Return (a, b, c, d, x, y) of p -> (a px + b py + x, c px + d py + y)."""
        c, s = _cos_sin(self.angle)
        flip = -1.0 if self.turned_over else 1.0
        return c, -s * flip, s, c * flip, self.x, self.y

    def place(self, shape: Polygon) -> Polygon:
        """Return a polygon of the blank where it lies on the plate."""
        return affine_transform(shape, self.matrix())


@dataclass(frozen=True, slots=True, kw_only=True)
class PlateLayout:
    """What is cut from one plate; `reach` is the length of it that is used, mm from its left end."""

    plate: Plate
    placements: tuple[Placement, ...]
    reach: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Nest:
    """A whole nest: plates in the order in which they are cut.

    Parameters
    ----------
    blanks : tuple of Blank
        As given.
    layouts : tuple of PlateLayout
        One for each plate that is used.
    gap : float
        Least distance of two blanks, mm.
    margins : dict of side to float
        Least distance to the plate's sides, mm; for other outlines than rectangles the largest counts all round.
    density : float
        Area in the outer outlines over the area of the plates, of the last one up to its reach.
    bound : float
        No layout has a higher density than this.
    tried : int
        Layouts that the search has looked at.
    """

    blanks: tuple[Blank, ...]
    layouts: tuple[PlateLayout, ...]
    gap: float
    margins: dict[Side, float]
    density: float
    bound: float
    tried: int

    @property
    def cost(self) -> float:
        """Cost of the plates, of the last one the share of its length that is used."""
        last = self.layouts[-1]
        x0, _, x1, _ = last.plate.outline.box
        return math.fsum(k.plate.price for k in self.layouts[:-1]) + last.plate.price * last.reach / (x1 - x0)

    def with_layouts(self, layouts: Sequence[PlateLayout]) -> Nest:
        """Return the nest with other placements; empty plates go, lengths used and density follow."""
        known = {blank.name: blank.shape for blank in self.blanks}
        kept = tuple(
            reached(layout.plate, layout.placements, known, self.margins) for layout in layouts if layout.placements
        )
        outer = math.fsum(Polygon(known[p.blank].exterior).area for layout in kept for p in layout.placements)
        return replace(self, layouts=kept, density=outer / used_area(kept))

    def layout(self, plate: int, field: str = "plate") -> PlateLayout:
        """Return the layout of a plate by its number, from 1."""
        if not isinstance(plate, int) or isinstance(plate, bool) or not 1 <= plate <= len(self.layouts):
            raise BadValue(field, plate, f"a plate of the nest, 1 to {len(self.layouts)}")
        return self.layouts[plate - 1]

    def shapes(self, layout: PlateLayout) -> list[Polygon]:
        """Return the polygons of one plate, in the order of its placements."""
        shape = {blank.name: blank.shape for blank in self.blanks}
        return [p.place(shape[p.blank]) for p in layout.placements]


def polygon(outer: Loop, holes: Sequence[Loop] = ()) -> Polygon:
    """Return loops as a polygon, arcs as chords within `SAGITTA`."""
    return Polygon(outer.chords(SAGITTA), [hole.chords(SAGITTA) for hole in holes])


def reached(
    plate: Plate, placements: Sequence[Placement], shapes: Mapping[str, Polygon], margins: Mapping[Side, float]
) -> PlateLayout:
    """Return a plate's layout with the length that it uses, margin included, at most the whole plate."""
    x0, _, x1, _ = plate.outline.box
    end = max(p.place(shapes[p.blank]).bounds[2] for p in placements)
    return PlateLayout(plate=plate, placements=tuple(placements), reach=min(end - x0 + margins["right"], x1 - x0))


def used_area(layouts: Sequence[PlateLayout]) -> float:
    """Return the area of the plates, of the last one up to its reach, mm²."""
    areas = [abs(layout.plate.outline.area) for layout in layouts]
    x0, _, x1, _ = layouts[-1].plate.outline.box
    return math.fsum(areas[:-1]) + areas[-1] * layouts[-1].reach / (x1 - x0)


def _cos_sin(angle: float) -> tuple[float, float]:
    """Return cosine and sine, exact at quarter turns."""
    quarters = angle / 90.0
    if quarters == int(quarters):
        return ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[int(quarters) % 4]
    return math.cos(math.radians(angle)), math.sin(math.radians(angle))
