"""A hand folder: the sheet is clamped under a nose bar, and a beam swings the leg up round it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, ClassVar

from tinbook.fields import Number, Text
from tinbook.shop.material import Material
from tinbook.shop.sections import Lengths
from tinbook.shop.tools.base import ANGLE, MM, FoldTool


@dataclass(frozen=True, slots=True, kw_only=True)
class HandFolder(FoldTool):
    """A folder that turns the leg up round a nose bar.

    Parameters
    ----------
    nose_radius : float
        Radius of the nose bar, mm.
    set_back : float or None
        Distance of the nose bar's edge behind the folding beam's edge, mm;
        None: set to the sheet's thickness for each job, which is the sharpest.
    max_angle : float
        Largest angle it turns through, degrees.
    min_leg : float
        Shortest leg that the folding beam can turn, outside, mm.
    clamp, bed, beam : str
        Keys of the sections of nose bar, bed and folding beam, "" for usual ones.
    fingers : tuple of float
        Widths of the fingers that make up the nose bar, mm; empty: one piece.
    """

    what: ClassVar[str] = "folder"
    process: ClassVar[str] = "fold"
    table: ClassVar[str] = "folders"
    machine_kind: ClassVar[str] = "folder"
    sections: ClassVar[Mapping[str, str]] = {"clamp": "clamp", "bed": "folder bed", "beam": "folder beam"}
    closes_hems: ClassVar[bool] = True

    nose_radius: Annotated[float, MM]
    set_back: Annotated[float | None, Number("mm", least=0, none=True)] = None
    max_angle: Annotated[float, ANGLE] = 135.0
    min_leg: Annotated[float, MM]
    clamp: Annotated[str, Text(empty=True)] = ""
    bed: Annotated[str, Text(empty=True)] = ""
    beam: Annotated[str, Text(empty=True)] = ""
    fingers: Annotated[tuple[float, ...], Lengths()] = ()

    @property
    def closes(self) -> float:
        """Largest angle that it turns through, degrees."""
        return self.max_angle

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
