"""A wiping bender: the sheet is clamped under a nose bar, and a roller on a pivoting arm wipes the leg round it.

The arm turns about the centre of the nose, so the roller keeps its distance from it and rolls along the outside of the
leg, `lead` mm in front of where the bend ends. Other than a folding beam it bears on a line of the leg only.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Annotated, Any, ClassVar, Final

import numpy as np
import shapely

from tinbook.calc.force import textbook_force
from tinbook.errors import BadValue
from tinbook.fields import Positive, Text
from tinbook.shop.material import Material
from tinbook.shop.sections import Section, generic_section
from tinbook.shop.tools.base import ANGLE, FoldTool
from tinbook.shop.tools.clamping import ClampingTool
from tinbook.shop.tools.outlines import GAP, SLACK
from tinbook.shop.tools.setups import RoughBody
from tinbook.shop.tools.strokes import BendStroke, Motion, Pose
from tinbook.values import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class WipeStroke(BendStroke):
    """The clamped side lies still, the roller turns the other up; `contact` is (nose radius, lead)."""

    def tool(self, frame: str, motion: Motion) -> Pose:
        """Return the pose of the tools of a frame: "arm" has its nought where the roller touches the leg's outside."""
        if frame != "arm":
            return BendStroke.tool(self, frame, motion)
        nose, lead = motion.contact
        a = motion.angles
        place = motion.poses[not motion.leg_back][1] * (-1.0 if motion.leg_back else 1.0, 1.0)
        along, outward = np.column_stack((np.cos(a), np.sin(a))), np.column_stack((np.sin(a), -np.cos(a)))
        centre = np.array((0.0, motion.strip.thickness + nose))
        # From the centre square to the leg, as far as its outside lies off; from there along the leg.
        off = ((place - centre) * outward).sum(axis=1)[:, None]
        at = centre + off * outward + lead * along
        return (-a, at * (-1.0, 1.0)) if motion.leg_back else (a, at)


WIPE: Final = WipeStroke(name="wipe", clamps=True, no_gauge="the machine has no gauge", line="the nose bar's edge")


@dataclass(frozen=True, slots=True, kw_only=True)
class WipingBender(ClampingTool):
    """A clamped nose bar, and a roller that wipes the leg round it.

    Parameters
    ----------
    roller : float
        Radius of the roller, mm.
    lead : float
        How far in front of the nose's centre the roller bears on the sheet, mm, at least its radius: it passes the bed.
    carrier : str
        Key of the section of the beam that carries the roller, "" for a usual one; its nought lies where the roller
        touches the sheet.
    """

    what: ClassVar[str] = "wiping bender"
    table: ClassVar[str] = "wiping_benders"
    sections: ClassVar[Mapping[str, str]] = {"clamp": "clamp", "bed": "folder bed", "carrier": "folder beam"}
    leg_source: ClassVar[str] = "common practice"
    force_source: ClassVar[str] = "Groover"
    weaker: ClassVar[str] = "a longer lead of the roller, a shorter fold, or a stronger machine"
    stroke: ClassVar[BendStroke] = WIPE
    beam_name: ClassVar[str] = "carrier"
    beam_frame: ClassVar[str] = "arm"

    roller: Positive
    lead: Positive
    max_angle: Annotated[float, ANGLE] = 120.0
    carrier: Annotated[str, Text(empty=True)] = ""

    def __post_init__(self) -> None:
        FoldTool.__post_init__(self)
        if self.lead < self.roller:
            valid = f"at least the roller's radius of {self.roller:g} mm, so that it passes the bed"
            raise BadValue(f"{self.what} '{self.key}' lead", self.lead, valid)

    def radius(self, material: Material, thickness: float) -> float:
        """Inside radius: the nose bar's, round which the sheet is drawn, mm."""
        return self.nose_radius

    def shortest_leg(self, thickness: float, angle: float, radius: float) -> float:
        """Shortest leg on which the roller still bears at the end of the bend, mm.

        From the bend's end the roller bears `lead` mm further on; one thickness more keeps it off the edge (common
        practice). The apex, above 90 degrees the tangent, adds (r + t) tan of half the angle, r + t at most.
        """
        return (radius + thickness) * math.tan(math.radians(min(angle, 90.0)) / 2.0) + self.lead + thickness

    def mark_at(self, radius: float, allowance: float) -> float:
        """Where the line lies: under the nose bar's edge, one radius of the nose out from the tangent line."""
        return self.nose_radius

    def force(self, thickness: float, length: float, tensile: float) -> float | None:
        """Force of the roller on the leg, N: a wiping die's, its opening the lead (Groover, from memory)."""
        return textbook_force(tensile, length, thickness, self.lead, "wiping die")

    @property
    def contact(self) -> tuple[float, float]:
        """Radius of the nose and lead of the roller, mm."""
        return self.nose_radius, self.lead

    @property
    def beam_section(self) -> str:
        """Key of the section of the beam that carries the roller."""
        return self.carrier

    def generic_beam(self) -> Section:
        """Return the beam that usually carries a roller: behind it, as wide, 60 mm high; assumed."""
        r = self.roller
        box = [(0.7 * r, -1.3 * r), (0.7 * r, -2 * r - 60), (-0.7 * r, -2 * r - 60), (-0.7 * r, -1.3 * r)]
        return generic_section("generic carrier", "folder beam", "usual beam behind a roller", box)

    @property
    def bearing(self) -> dict[str, Any]:
        """The roller."""
        return {"roller": shapely.Point(0.0, -self.roller - GAP).buffer(self.roller)}

    def rough_bearing(self, span: tuple[float, float]) -> list[RoughBody]:
        """Return the roller, a little smaller than it is: chords about its axis."""
        turn = np.linspace(0.0, math.tau, 24, endpoint=False)
        ring = (self.roller - SLACK) * np.column_stack((np.cos(turn), np.sin(turn))) - (0.0, self.roller)
        return [RoughBody("roller", ring, "arm", span)]
