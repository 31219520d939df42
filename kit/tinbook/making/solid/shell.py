"""The shell of a solid as it grows: corners and sides of the sheet, shared by panels, bends and forms."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import field
from typing import Final

from tinbook.making.solid import kernel
from tinbook.making.solid.kernel import Shape
from tinbook.space import Vec
from tinbook.values import dataclass


@dataclass(slots=True, eq=False)
class SheetCorner:
    """A corner of a boundary: its vertices on the down and the up face, and the edge between them."""

    low: Shape
    high: Shape
    p_low: Vec
    p_high: Vec
    _up: Shape | None = None

    @property
    def up(self) -> Shape:
        """The edge through the sheet, from the down face to the up face; made once, on first use."""
        if self._up is None:
            self._up = kernel.line(self.low, self.high, self.p_low, self.p_high)
        return self._up


@dataclass(slots=True, eq=False)
class SheetSide:
    """An edge of a boundary between two corners: its edges on both faces, run along the loop."""

    name: str
    a: SheetCorner
    b: SheetCorner
    low: Shape
    high: Shape
    taken: bool = False


@dataclass(slots=True, eq=False)
class SolidShell:
    """Faces made so far, and the sides on bend lines by (panel, fold)."""

    thickness: float
    faces: list[Shape] = field(default_factory=list)
    seams: dict[tuple[str, str], list[SheetSide]] = field(default_factory=dict)


def sheet_corner(low: Vec, high: Vec) -> SheetCorner:
    """Return a new corner."""
    return SheetCorner(kernel.vertex(low), kernel.vertex(high), low, high)


NOWHERE: Final = SheetCorner(None, None, (0.0, 0.0, 0.0), (0.0, 0.0, 0.0))
"""Corner of a side without a wall: the panel needs only its edges."""


def straight_side(name: str, a: SheetCorner, b: SheetCorner) -> SheetSide:
    """Return the straight side between two corners."""
    low, high = kernel.line(a.low, b.low, a.p_low, b.p_low), kernel.line(a.high, b.high, a.p_high, b.p_high)
    return SheetSide(name, a, b, low, high)


def wall(side: SheetSide, surface: object, *, outward: bool = True) -> Shape:
    """Return the wall under a side on a surface, metal to the left of the side seen from outside."""
    around = kernel.wire([side.low, side.b.up, side.high.Reversed(), side.a.up.Reversed()])
    return kernel.face(surface, [around], outward=outward)


def skins(
    shell: SolidShell, low: object, high: object, loops: Sequence[Sequence[SheetSide]], looks: tuple[bool, bool]
) -> None:
    """Add the two skins over loops of sides; `looks` says whether each surface's normal looks outward."""
    wires_low = [kernel.wire(s.low for s in loop).Reversed() for loop in loops]
    wires_high = [kernel.wire(s.high for s in loop) for loop in loops]
    shell.faces.append(kernel.face(low, wires_low, outward=looks[0]))
    shell.faces.append(kernel.face(high, wires_high, outward=looks[1]))
