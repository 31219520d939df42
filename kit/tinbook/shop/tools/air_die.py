"""Air bending: the punch stops short of the die, and the die opening makes the inside radius."""

from __future__ import annotations

from typing import Annotated, ClassVar, Final

from tinbook.calc.bending import AIR_BEND_K
from tinbook.fields import FromZero
from tinbook.shop.material import Material
from tinbook.shop.sections import GENERIC_SEGMENTS, Section, generic_die
from tinbook.shop.tools.base import ANGLE
from tinbook.shop.tools.strokes import BendStroke, PunchStroke
from tinbook.shop.tools.vee import VeeTool
from tinbook.values import dataclass

AIR: Final = PunchStroke(name="air", misses_gauge=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class AirDie(VeeTool):
    """A V die under a punch that stops short: the opening makes the inside radius.

    Parameters
    ----------
    die_angle : float
        Included angle of the die, degrees: no bend can be closed further.
    shoulder : float
        Radius of the die's shoulders, mm.
    """

    what: ClassVar[str] = "die"
    table: ClassVar[str] = "dies"
    machine_kind: ClassVar[str] = "brake"
    usual_k: ClassVar[float | None] = AIR_BEND_K
    line_error: ClassVar[float] = 0.2
    stroke: ClassVar[BendStroke] = AIR

    die_angle: Annotated[float, ANGLE]
    shoulder: FromZero

    @property
    def vee_angle(self) -> float:
        """Included angle of the die, degrees."""
        return self.die_angle

    @property
    def shoulder_radius(self) -> float:
        """Radius of the die's shoulders, mm."""
        return self.shoulder

    def radius(self, material: Material, thickness: float) -> float:
        """Inside radius that the opening gives this material, never less than the punch's nose, mm."""
        return max(material.air_radius * self.opening, self.punch_nose)

    @property
    def usual_segments(self) -> tuple[float, ...]:
        """Pieces of a supplier's punches and dies that the shop file does not know, mm."""
        return GENERIC_SEGMENTS

    @property
    def usual_angle(self) -> float:
        """Included angle of a usual punch over it, degrees."""
        return 80.0

    def usual_punches(self, turned: float) -> list[tuple[str, float]]:
        """Return kinds and angles of the usual punches that turn this far: sharp ones where the bend closes past 100."""
        return [("acute", 28.0)] if turned > 100.0 else [("straight", 80.0), ("gooseneck", 80.0)]

    def generic(self) -> Section:
        """Return a usual die's section."""
        return generic_die(self.opening, self.die_angle)
