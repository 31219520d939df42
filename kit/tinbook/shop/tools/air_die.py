"""Air bending: the punch stops short of the die, and the die opening makes the inside radius."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, ClassVar

from tinbook.calc.bending import AIR_BEND_K
from tinbook.shop.material import Material
from tinbook.shop.tools.base import ANGLE, MM0
from tinbook.shop.tools.vee import VeeTool


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
    process: ClassVar[str] = "air"
    table: ClassVar[str] = "dies"
    machine_kind: ClassVar[str] = "brake"
    usual_k: ClassVar[float | None] = AIR_BEND_K
    line_error: ClassVar[float] = 0.2

    die_angle: Annotated[float, ANGLE]
    shoulder: Annotated[float, MM0]

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
