"""What an air die and a V block share: a punch comes down between two shoulders, and both sides of the fold rise."""

from __future__ import annotations

import math
from abc import abstractmethod
from collections.abc import Iterator, Mapping, Sequence
from functools import lru_cache
from typing import Annotated, ClassVar

import shapely

from tinbook.calc.force import air_bend_force
from tinbook.calc.radii import minimum_leg, recommended_opening
from tinbook.errors import OutOfRange
from tinbook.fields import Positive, Text
from tinbook.shop.sections import GENERIC_SEGMENTS, Lengths, Punch, Section, generic_beam, generic_punch
from tinbook.shop.tools.base import FoldTool, drawn_sections, section_or
from tinbook.shop.tools.outlines import die_shape, mirrored, punch_shape, rough_die, rough_ring, shifted, shoulder
from tinbook.shop.tools.setups import (
    SHORT,
    AtBack,
    FoldDemand,
    RoughBody,
    Setup,
    ToolBody,
    ToolRoom,
    centred,
    known_length,
    pick,
    relieved,
    shortened,
    spreads,
    stands,
)
from tinbook.values import dataclass


@lru_cache(maxsize=256)  # every die of the shop asks, at every move of a slider
def _best_opening(thickness: float) -> float:
    try:
        return recommended_opening(thickness)
    except OutOfRange:
        return 6.0 * thickness if thickness < 0.5 else 12.0 * thickness


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
    force_source: ClassVar[str] = "air-bend chart"
    weaker: ClassVar[str] = "a wider die, a shorter fold, or a stronger machine"
    force_factor: ClassVar[float] = 1.0

    opening: Positive
    punch_nose: Positive
    section: Annotated[str, Text(empty=True)] = ""
    segments: Lengths = ()

    @property
    @abstractmethod
    def vee_angle(self) -> float:
        """Included angle of the opening, degrees: no bend can be closed further."""

    @property
    @abstractmethod
    def shoulder_radius(self) -> float:
        """Radius of the shoulders on which the sheet rests, mm."""

    @property
    @abstractmethod
    def usual_angle(self) -> float:
        """Included angle of a usual punch over it, degrees."""

    @abstractmethod
    def usual_punches(self, turned: float) -> list[tuple[str, float]]:
        """Return kinds and angles of the usual punches that turn the sheet by `turned` degrees."""

    @abstractmethod
    def generic(self) -> Section:
        """Return the section of a usual one."""

    @property
    def usual_segments(self) -> tuple[float, ...]:
        """Pieces of punches and dies where the shop file gives none, mm; empty: one piece."""
        return ()

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
        return round(abs(self.opening - _best_opening(thickness)), 9), self.opening

    def force(self, thickness: float, length: float, tensile: float) -> float | None:
        """Force of a fold, N. Source: air-bend chart, times `force_factor`."""
        return self.force_factor * air_bend_force(thickness, length, self.opening, tensile)

    # -- sections and punches -------------------------------------------------------------------------

    @property
    def contact(self) -> tuple[float, float]:
        """Centre distance from the middle and radius of the shoulders, mm."""
        return shoulder(self.opening, self.vee_angle, self.shoulder_radius)

    def own_punches(self, room: ToolRoom) -> list[Punch]:
        """Return the shop's punches that serve over it."""
        return [p for p in room.punches if p.machine == self.machine]

    def punches(self, room: ToolRoom, turned: float) -> list[tuple[Punch, Section]]:
        """Return the punches that may serve: the shop's own, else usual ones, assumed; `turned` in degrees."""
        own = self.own_punches(room)
        if own:
            return [(p, room.section(p.section)) for p in own]
        return [self._usual(kind, angle, self.usual_segments) for kind, angle in self.usual_punches(turned)]

    def _usual(self, kind: str, angle: float, segments: tuple[float, ...]) -> tuple[Punch, Section]:
        section = generic_punch(kind, angle)
        key, source = section.key, "common practice"
        nose, machine = self.punch_nose, self.machine
        return (
            Punch(key=key, machine=machine, section=key, nose=nose, angle=angle, segments=segments, source=source),
            section,
        )

    def relieved_punch(self) -> tuple[Punch, Section] | None:
        """Return a usual gooseneck in pieces."""
        return self._usual("gooseneck", self.usual_angle, GENERIC_SEGMENTS)

    def own_section(self, room: ToolRoom) -> Section:
        """Return its section, without its opening."""
        return section_or(room, self.section, self.generic())

    def packing(self, room: ToolRoom, section: Section, turn_rad: float) -> float:
        """How far the ram's stroke ends above the formed bend, mm: to be packed; 0 where it reaches or nothing is known.

        The punch's tip goes into the die by V/2 tan(a/2) at most, the depth of a sharp bend.
        """
        machine = room.machine(self.machine)
        if machine.daylight is None or machine.stroke is None:
            return 0.0
        formed = section.height + self.own_section(room).height - self.opening / 2 * math.tan(turn_rad / 2)
        return max(machine.daylight - machine.stroke - formed, 0.0)

    # -- setups ---------------------------------------------------------------------------------------

    def _setups(
        self, room: ToolRoom, demand: FoldDemand, extra: Sequence[tuple[Punch, Section]], *, drawn: bool
    ) -> tuple[list[list[Setup]], str]:
        """Return the setups with each punch, either way round, either side at the back; see `FoldTool.setups`."""
        found: list[list[Setup]] = []
        why = []
        for punch, section in (*self.punches(room, math.degrees(demand.turn_rad)), *extra):
            reason = self._unfit(room, demand, punch, section, drawn and section.assumed)
            if reason:
                why.append(reason)
                continue
            shape = shapely.Polygon(section.points)
            ways = (False, True) if punch.turns_round and not shape.equals(mirrored(shape)) else (False,)
            sides: tuple[AtBack, ...] = ("parent", "leg")
            found += [
                self._pressed(room, demand, punch, section, at_back, turned) for at_back in sides for turned in ways
            ]
        return found, "" if found else "; ".join(why)

    def _unfit(self, room: ToolRoom, demand: FoldDemand, punch: Punch, section: Section, guessed: bool) -> str:
        """Return why a punch does not serve, "" if it does; a guessed one's height and angle count for nothing."""
        if punch.nose > demand.radius + 0.02:
            return f"{punch.key} has a nose of {punch.nose:g} mm, larger than the inside radius"
        if punch.angle > 180.0 - math.degrees(demand.turn_rad) + 1e-6 and not guessed:
            return f"{punch.key} is blunter ({punch.angle:g} degrees) than the bend is closed"
        if punch.length is not None and punch.length < demand.length - SHORT:
            return f"{punch.key} is {punch.length:g} mm long, the fold {demand.length:.1f} mm"
        daylight = room.machine(self.machine).daylight
        if daylight is None or guessed:
            return ""
        if daylight - section.height - self.own_section(room).height <= demand.thickness:
            return f"{punch.key} and {self.key} together are higher than the machine's daylight"
        return ""

    def _pressed(
        self, room: ToolRoom, demand: FoldDemand, punch: Punch, section: Section, at_back: AtBack, turned: bool
    ) -> list[Setup]:
        machine, below = room.machine(self.machine), self.own_section(room)
        die = die_shape(below.points, self.opening, self.vee_angle, self.shoulder_radius)
        ram = section_or(room, machine.ram, generic_beam("ram", 40.0))
        bed = section_or(room, machine.bed, generic_beam("bed", 60.0))
        up = punch_shape(section.points, punch.nose)
        beam = shifted(shapely.Polygon(ram.points), up.bounds[3])
        table = shifted(shapely.Polygon(bed.points), min(z for _, z in below.points))
        if turned:
            up = mirrored(up)
        if at_back == "leg":
            up, beam, die, table = (mirrored(s) for s in (up, beam, die, table))
        length = known_length(min(punch.length or math.inf, self.max_span(room)), demand)
        segments = self.segments or self.usual_segments
        everywhere = centred(demand.middle, max(machine.length or length, length))
        out = []
        for stand in spreads(demand.span, length, punch.segments, both=bool(segments)):
            lower = pick(segments, sum(stand.pieces)) if stand.name == "all in pieces" else ()
            if lower and sum(lower) < sum(stand.pieces) - 1:
                continue
            bodies = (
                ToolBody("die", die, "lower", stand.lower, below.assumed, "stays"),
                ToolBody("bed", table, "lower", everywhere, bed.assumed or below.assumed, "stays"),
                *relieved(
                    ToolBody("punch", up, "upper", stand.upper, section.assumed, "rises"), punch.horn, punch.foot
                ),
                ToolBody("ram", beam, "upper", everywhere, ram.assumed or section.assumed, "rises"),
            )
            assumed = any(s.assumed for s in (section, ram, bed, below))
            put = {"punch": punch.key, "reversed": turned, "tooling": stand.name, "pieces": stand.pieces}
            out.append(self._setup(bodies, at_back, assumed=assumed, **put))
        return out

    # -- a quick look ---------------------------------------------------------------------------------

    def drawn(self, room: ToolRoom) -> dict[str, str]:
        """Return the drawn sections by name; see `FoldTool.drawn`."""
        machine = room.machine(self.machine)
        return drawn_sections(room, {"die": self.section, "bed": machine.bed, "ram": machine.ram})

    def _drawn_punches(self, room: ToolRoom) -> list[Punch | None]:
        """Return the drawn punches that may serve; None stands for one that nobody drew, which hits nothing here."""
        own = self.own_punches(room)
        if not own or any(room.section(p.section).assumed for p in own):
            return [None]
        return list(own)

    def longest_fold(self, room: ToolRoom) -> float:
        """Longest fold that it takes, mm: as long as the longest drawn punch, and `SHORT` more."""
        punches = self._drawn_punches(room)
        return min(self.max_span(room), max(p.length + SHORT if p and p.length else math.inf for p in punches))

    def rough_setups(self, room: ToolRoom, thickness: float, span: tuple[float, float]) -> Iterator[list[RoughBody]]:
        """Yield what the shop drew round a fold; see `FoldTool.rough_setups`."""
        drawn = self.drawn(room)
        for punch in self._drawn_punches(room):
            if punch and punch.length is not None and punch.length < span[1] - span[0] - SHORT:
                continue
            ends = stands(span, min(self.max_span(room), (punch and punch.length) or math.inf))
            short = shortened(span)
            below = short if self.segments or self.usual_segments else ends[0]
            for above, under in [(short, below)] if punch is None or punch.segments else [(e, e) for e in ends]:
                lower = []
                if "die" in drawn:
                    points = room.section(drawn["die"]).points
                    lower.append(RoughBody("die", rough_die(points, self.opening, self.vee_angle), "lower", under))
                    if "bed" in drawn:
                        down = min(z for _, z in points)
                        ring = rough_ring(room.section(drawn["bed"]).points, down)
                        lower.append(RoughBody("bed", ring, "lower", ends[0]))
                if punch is None:
                    yield lower
                    continue
                section = room.section(punch.section)
                for turned in (False, True) if punch.turns_round else (False,):
                    ring = rough_ring(section.points, turned=turned)
                    upper = [RoughBody("punch", ring, "upper", above)]
                    if "ram" in drawn:
                        ring = rough_ring(room.section(drawn["ram"]).points, section.height)
                        upper.append(RoughBody("ram", ring, "upper", ends[0]))
                    yield lower + upper
