"""A wiping bender: the sheet is clamped under a nose bar, and a roller on a pivoting arm wipes the leg round it.

The arm turns about the centre of the nose, so the roller keeps its distance from it and rolls along the outside of the
leg, `lead` mm in front of where the bend ends. Other than a folding beam it bears on a line of the leg only.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated, Any, ClassVar, Final

import numpy as np
import shapely

from tinbook.calc.force import textbook_force
from tinbook.errors import BadValue
from tinbook.fields import Text
from tinbook.plane.loops import Array
from tinbook.shop.material import Material
from tinbook.shop.sections import Punch, Section, generic_folder, generic_section
from tinbook.shop.tools.base import ANGLE, MM, FoldTool, drawn_sections, section_or
from tinbook.shop.tools.outlines import GAP, SLACK, clamp_shape, mirrored, rough_ring, shifted
from tinbook.shop.tools.setups import (
    AtBack,
    FoldDemand,
    RoughBody,
    Setup,
    ToolBody,
    ToolRoom,
    centred,
    known_length,
    spreads,
    stands,
)
from tinbook.shop.tools.strokes import BendStroke, Motion, Pose


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
class WipingBender(FoldTool):
    """A clamped nose bar, and a roller that wipes the leg round it.

    Parameters
    ----------
    nose_radius : float
        Radius of the nose bar, mm.
    roller : float
        Radius of the roller, mm.
    lead : float
        How far in front of the nose's centre the roller bears on the sheet, mm, at least its radius: it passes the bed.
    max_angle : float
        Largest angle that the arm turns through, degrees.
    clamp, bed, carrier : str
        Keys of the sections of nose bar, bed and the beam that carries the roller, "" for usual ones; the carrier's
        nought lies where the roller touches the sheet.
    """

    what: ClassVar[str] = "wiping bender"
    table: ClassVar[str] = "wiping_benders"
    machine_kind: ClassVar[str] = "folder"
    sections: ClassVar[Mapping[str, str]] = {"clamp": "clamp", "bed": "folder bed", "carrier": "folder beam"}
    leg_source: ClassVar[str] = "common practice"
    force_source: ClassVar[str] = "Groover"
    weaker: ClassVar[str] = "a longer lead of the roller, a shorter fold, or a stronger machine"
    stroke: ClassVar[BendStroke] = WIPE

    nose_radius: Annotated[float, MM]
    roller: Annotated[float, MM]
    lead: Annotated[float, MM]
    max_angle: Annotated[float, ANGLE] = 120.0
    clamp: Annotated[str, Text(empty=True)] = ""
    bed: Annotated[str, Text(empty=True)] = ""
    carrier: Annotated[str, Text(empty=True)] = ""

    def __post_init__(self) -> None:
        FoldTool.__post_init__(self)
        if self.lead < self.roller:
            valid = f"at least the roller's radius of {self.roller:g} mm, so that it passes the bed"
            raise BadValue(f"{self.what} '{self.key}' lead", self.lead, valid)

    @property
    def closes(self) -> float:
        """Largest angle that it turns through, degrees."""
        return self.max_angle

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

    def generic_carrier(self) -> Section:
        """Return the beam that usually carries a roller: behind it, as wide, 60 mm high; assumed."""
        r = self.roller
        box = [(0.7 * r, -1.3 * r), (0.7 * r, -2 * r - 60), (-0.7 * r, -2 * r - 60), (-0.7 * r, -1.3 * r)]
        return generic_section("generic carrier", "folder beam", "usual beam behind a roller", box)

    def _setups(
        self, room: ToolRoom, demand: FoldDemand, extra: Sequence[tuple[Punch, Section]], *, drawn: bool
    ) -> tuple[list[list[Setup]], str]:
        return [self._clamped(room, demand, "parent"), self._clamped(room, demand, "leg")], ""

    def _clamped(self, room: ToolRoom, demand: FoldDemand, at_back: AtBack) -> list[Setup]:
        bar = section_or(room, self.clamp, generic_folder("clamp"))
        table = section_or(room, self.bed, generic_folder("folder bed"))
        beam = section_or(room, self.carrier, self.generic_carrier())
        # Finer by twice the gap, so that it stays off the sheet also where the leg comes back over it.
        shapes: list[Any] = [
            shifted(clamp_shape(bar.points, max(self.nose_radius - 2 * GAP, 0.1)), demand.thickness + GAP),
            shifted(shapely.Polygon(table.points), -GAP),
            shapely.Point(0.0, -self.roller - GAP).buffer(self.roller),
            shifted(shapely.Polygon(beam.points), -GAP),
        ]
        if at_back == "leg":
            shapes = [mirrored(s) for s in shapes]
        length = known_length(self.max_length, demand)
        everywhere = centred(demand.middle, length)
        out = []
        for stand in spreads(demand.span, length, (), both=False):
            bodies = (
                ToolBody("clamp", shapes[0], "lower", stand.upper, bar.assumed, "rises"),
                ToolBody("folder bed", shapes[1], "lower", everywhere, table.assumed, "stays"),
                ToolBody("roller", shapes[2], "arm", stand.upper),
                ToolBody("carrier", shapes[3], "arm", everywhere, beam.assumed),
            )
            out.append(
                Setup(
                    tool=self.key,
                    machine=self.machine,
                    stroke=self.stroke,
                    at_back=at_back,
                    tooling=stand.name,
                    bodies=bodies,
                    assumed=any(s.assumed for s in (bar, table, beam)),
                    contact=self.contact,
                )
            )
        return out

    def drawn(self, room: ToolRoom) -> dict[str, str]:
        """Return the drawn sections by name; see `FoldTool.drawn`."""
        return drawn_sections(room, {"clamp": self.clamp, "folder bed": self.bed, "carrier": self.carrier})

    def rough_setups(self, room: ToolRoom, thickness: float, span: tuple[float, float]) -> Iterator[list[RoughBody]]:
        """Yield what the shop drew round a fold, and the roller; see `FoldTool.rough_setups`."""
        frames = {"clamp": "lower", "folder bed": "lower", "carrier": "arm"}
        roller = _ring(self.roller - SLACK) - (0.0, self.roller)
        ends = stands(span, self.max_span(room))
        for where in ends:
            bodies = [RoughBody("roller", roller, "arm", where)]
            for name, key in self.drawn(room).items():
                ring = rough_ring(room.section(key).points, thickness if name == "clamp" else 0.0)
                bodies.append(RoughBody(name, ring, frames[name], where if name == "clamp" else ends[0]))
            yield bodies


def _ring(radius: float) -> Array:
    """Return a circle's chords about nought, shape (24, 2)."""
    turn = np.linspace(0.0, math.tau, 24, endpoint=False)
    return radius * np.column_stack((np.cos(turn), np.sin(turn)))
