"""What an air die and a V block share: a punch comes down between two shoulders, and both sides of the fold rise."""

from __future__ import annotations

import math
from abc import abstractmethod
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, ClassVar

from tinbook.calc.force import air_bend_force
from tinbook.calc.radii import minimum_leg, recommended_opening
from tinbook.errors import OutOfRange
from tinbook.fields import Text
from tinbook.shop.sections import Lengths
from tinbook.shop.tools.base import MM, FoldTool


@dataclass(frozen=True, slots=True, kw_only=True)
class VeeTool(FoldTool):
    """A die with a V opening under a punch.

    Parameters
    ----------
    opening : float
        Die opening between the shoulders' contact, mm.
    punch_nose : float
        Radius of the punch, mm.
    section : str
        Key of its section without the opening, "" for a usual one.
    segments : tuple of float
        Lengths of the pieces it can be put together from, mm; empty: one piece.

    Notes
    -----
    A kind states `force_factor`, its force over that of an air bend.
    """

    sections: ClassVar[Mapping[str, str]] = {"section": "die"}
    leg_source: ClassVar[str] = "air-bend chart"
    force_factor: ClassVar[float] = 1.0

    opening: Annotated[float, MM]
    punch_nose: Annotated[float, MM]
    section: Annotated[str, Text(empty=True)] = ""
    segments: Annotated[tuple[float, ...], Lengths()] = ()

    @property
    @abstractmethod
    def vee_angle(self) -> float:
        """Included angle of the opening, degrees: no bend can be closed further."""

    @property
    @abstractmethod
    def shoulder_radius(self) -> float:
        """Radius of the shoulders on which the sheet rests, mm."""

    @property
    def closes(self) -> float:
        """Largest angle that it turns through, degrees."""
        return 180.0 - self.vee_angle

    def shortest_leg(self, thickness: float, angle: float, radius: float) -> float:
        """Shortest leg that still rests on the shoulder at the end of the bend, mm.

        Source: air-bend chart. Above 150 degrees turned the chart's geometry has no answer and that of 150 is given.
        """
        turned = min(angle, 150.0)
        apex = minimum_leg(min(max(self.opening, 4.0), 250.0), turned)
        if turned <= 90.0:
            return apex
        return apex - (radius + thickness) * (math.tan(math.radians(turned) / 2.0) - 1.0)

    def misfit(self, thickness: float) -> tuple[float, float]:
        """How far its opening is from the one recommended for a thickness, and the opening, mm."""
        try:
            best = recommended_opening(thickness)
        except OutOfRange:
            best = 6.0 * thickness if thickness < 0.5 else 12.0 * thickness
        return round(abs(self.opening - best), 9), self.opening

    def force(self, thickness: float, length: float, tensile: float) -> float | None:
        """Force of a fold, N. Source: air-bend chart, times `force_factor`."""
        return self.force_factor * air_bend_force(thickness, length, self.opening, tensile)
