"""Bottoming: the punch presses the sheet home into a V block, and its nose makes the inside radius."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, ClassVar, Final

from tinbook.shop.material import Material
from tinbook.shop.tools.base import ANGLE
from tinbook.shop.tools.vee import VeeTool

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
    process: ClassVar[str] = "bottom"
    table: ClassVar[str] = "v_blocks"
    machine_kind: ClassVar[str] = "press"
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
