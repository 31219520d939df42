"""Bottoming: the punch presses the sheet home into a V block, and its nose makes the inside radius."""

from __future__ import annotations

from typing import Annotated, ClassVar, Final

from tinbook.shop.material import Material
from tinbook.shop.sections import Punch, Section, generic_block
from tinbook.shop.tools.base import ANGLE
from tinbook.shop.tools.setups import ToolRoom
from tinbook.shop.tools.strokes import BendStroke, PunchStroke
from tinbook.shop.tools.vee import VeeTool
from tinbook.values import dataclass

BOTTOM: Final = PunchStroke(name="bottom")
SHOULDER: Final = 1.0
"""mm: edge radius of a V block (common practice)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class VBlock(VeeTool):
    """A punch pressed home into a V block: the punch nose makes the inside radius.

    Parameters
    ----------
    block_angle : float
        Included angle of the block, degrees.
    """

    what: ClassVar[str] = "V block"
    table: ClassVar[str] = "v_blocks"
    machine_kind: ClassVar[str] = "press"
    stroke: ClassVar[BendStroke] = BOTTOM
    force_factor: ClassVar[float] = 4.0  # bottoming over air bending (common practice)

    block_angle: Annotated[float, ANGLE]

    @property
    def vee_angle(self) -> float:
        """Included angle of the block, degrees."""
        return self.block_angle

    @property
    def shoulder_radius(self) -> float:
        """Radius of the block's edges, mm."""
        return SHOULDER

    def radius(self, material: Material, thickness: float) -> float:
        """Inside radius, that of the punch nose, mm."""
        return self.punch_nose

    @property
    def usual_angle(self) -> float:
        """Included angle of a usual punch over it, degrees."""
        return min(self.block_angle - 2.0, 84.0)

    def usual_punches(self, turned: float) -> list[tuple[str, float]]:
        """Return the kind and angle of the usual punch."""
        return [("straight", self.usual_angle)]

    def own_punches(self, room: ToolRoom) -> list[Punch]:
        """Return the shop's punches with the block's nose, since it makes the inside radius."""
        return [p for p in VeeTool.own_punches(self, room) if abs(p.nose - self.punch_nose) < 1e-6]

    def generic(self) -> Section:
        """Return a usual block's section."""
        return generic_block(self.opening, self.block_angle)
