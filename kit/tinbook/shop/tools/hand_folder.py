"""A hand folder: the sheet is clamped under a nose bar, and a beam swings the leg up round it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Annotated, ClassVar, Final, Self

from tinbook.fields import FromZero, Positive, Text
from tinbook.shop.material import Material
from tinbook.shop.sections import Lengths, Section, generic_folder
from tinbook.shop.tools.base import ANGLE
from tinbook.shop.tools.clamping import ClampingTool
from tinbook.shop.tools.setups import ToolRoom
from tinbook.shop.tools.strokes import BendStroke
from tinbook.values import dataclass

FOLD: Final = BendStroke(
    name="fold",
    clamps=True,
    no_gauge="the machine has no gauge",
    line="the nose bar's edge",
    piece="a finger",
    pieces="fingers",
    by_hand=True,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class HandFolder(ClampingTool):
    """A folder that turns the leg up round a nose bar.

    Parameters
    ----------
    set_back : float or None
        Distance of the nose bar's edge behind the folding beam's edge, mm;
        None: set to the sheet's thickness for each job, which is the sharpest.
    min_leg : float
        Shortest leg that the folding beam can turn, outside, mm.
    beam : str
        Key of the section of the folding beam, "" for a usual one.
    fingers : tuple of float
        Widths of the fingers that make up the nose bar, mm; empty: one piece.
    """

    what: ClassVar[str] = "folder"
    table: ClassVar[str] = "folders"
    sections: ClassVar[Mapping[str, str]] = {"clamp": "clamp", "bed": "folder bed", "beam": "folder beam"}
    closes_hems: ClassVar[bool] = True
    stroke: ClassVar[BendStroke] = FOLD
    beam_name: ClassVar[str] = "folding beam"
    beam_frame: ClassVar[str] = "swing"

    set_back: FromZero | None = None
    max_angle: Annotated[float, ANGLE] = 135.0
    min_leg: Positive
    beam: Annotated[str, Text(empty=True)] = ""
    fingers: Lengths = ()

    def radius(self, material: Material, thickness: float) -> float:
        """Inside radius: the nose bar's, grown by whatever the set-back exceeds the thickness, mm (common practice)."""
        extra = 0.0 if self.set_back is None else max(0.0, self.set_back - thickness)
        return self.nose_radius + extra

    def shortest_leg(self, thickness: float, angle: float, radius: float) -> float:
        """Shortest leg that the folding beam can turn, mm: the shop's own figure at every angle."""
        return self.min_leg

    def mark_at(self, radius: float, allowance: float) -> float:
        """Where the sight line lies: under the nose bar's edge, one inside radius out from the tangent line."""
        return radius

    @property
    def beam_section(self) -> str:
        """Key of the section of the folding beam."""
        return self.beam

    def generic_beam(self) -> Section:
        """Return a usual folding beam's section."""
        return generic_folder("folder beam")

    @property
    def pieces(self) -> tuple[float, ...]:
        """Widths of its fingers, mm."""
        return self.fingers

    def owned_pieces(self, room: ToolRoom, punch: str) -> tuple[float, ...]:
        """Widths of its fingers, mm."""
        return self.fingers

    def with_pieces(self, more: tuple[float, ...]) -> Self:
        """Return the folder with more fingers."""
        return replace(self, fingers=(*self.fingers, *more))
