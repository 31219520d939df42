"""What a hand folder and a wiping bender share: the sheet is clamped under a nose bar, and a beam turns the leg up round it."""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Iterator, Sequence
from typing import Annotated, Any, ClassVar

import shapely

from tinbook.fields import Positive, Text
from tinbook.shop.sections import Punch, Section, generic_folder
from tinbook.shop.tools.base import ANGLE, FoldTool, drawn_sections, section_or
from tinbook.shop.tools.outlines import GAP, clamp_shape, mirrored, rough_ring, shifted
from tinbook.shop.tools.setups import (
    AtBack,
    FoldDemand,
    RoughBody,
    Setup,
    ToolBody,
    ToolRoom,
    centred,
    known_length,
    shortened,
    spreads,
    stands,
)
from tinbook.values import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class ClampingTool(FoldTool):
    """A nose bar over a bed, and a beam that turns the leg.

    Parameters
    ----------
    nose_radius : float
        Radius of the nose bar, mm.
    max_angle : float
        Largest angle that it turns through, degrees.
    clamp, bed : str
        Keys of the sections of nose bar and bed, "" for usual ones.
    """

    machine_kind: ClassVar[str] = "folder"
    beam_name: ClassVar[str]
    beam_frame: ClassVar[str]

    nose_radius: Positive
    max_angle: Annotated[float, ANGLE]
    clamp: Annotated[str, Text(empty=True)] = ""
    bed: Annotated[str, Text(empty=True)] = ""

    @property
    def closes(self) -> float:
        """Largest angle that it turns through, degrees."""
        return self.max_angle

    @property
    @abstractmethod
    def beam_section(self) -> str:
        """Key of the section of the beam, "" for a usual one."""

    @abstractmethod
    def generic_beam(self) -> Section:
        """Return a usual beam's section."""

    @property
    def pieces(self) -> tuple[float, ...]:
        """Widths of the fingers that make up the nose bar, mm; empty: one piece."""
        return ()

    @property
    def bearing(self) -> dict[str, Any]:
        """Outlines of what bears on the leg besides the beam, by name; as long as the nose bar."""
        return {}

    def rough_bearing(self, span: tuple[float, float]) -> list[RoughBody]:
        """Return the same for a quick look."""
        return []

    def _setups(
        self, room: ToolRoom, demand: FoldDemand, extra: Sequence[tuple[Punch, Section]], *, drawn: bool
    ) -> tuple[list[list[Setup]], str]:
        """Return the setups with either side clamped; see `FoldTool.setups`."""
        return [self._clamped(room, demand, "parent"), self._clamped(room, demand, "leg")], ""

    def _clamped(self, room: ToolRoom, demand: FoldDemand, at_back: AtBack) -> list[Setup]:
        bar = section_or(room, self.clamp, generic_folder("clamp"))
        table = section_or(room, self.bed, generic_folder("folder bed"))
        beam = section_or(room, self.beam_section, self.generic_beam())
        # Finer by twice the gap, so that it stays off the sheet also where the leg comes back over it.
        nose = shifted(clamp_shape(bar.points, max(self.nose_radius - 2 * GAP, 0.1)), demand.thickness + GAP)
        under, swung = (shifted(shapely.Polygon(s.points), -GAP) for s in (table, beam))
        shapes = {"clamp": nose, "folder bed": under, **self.bearing, self.beam_name: swung}
        if at_back == "leg":
            shapes = {name: mirrored(s) for name, s in shapes.items()}
        length = known_length(self.max_length, demand)
        everywhere = centred(demand.middle, length)
        out = []
        for stand in spreads(demand.span, length, self.pieces, both=False):
            bodies = (
                ToolBody("clamp", shapes["clamp"], "lower", stand.upper, bar.assumed, "rises"),
                ToolBody("folder bed", shapes["folder bed"], "lower", everywhere, table.assumed, "stays"),
                *(ToolBody(name, shapes[name], self.beam_frame, stand.upper) for name in self.bearing),
                ToolBody(self.beam_name, shapes[self.beam_name], self.beam_frame, everywhere, beam.assumed),
            )
            tooling = {"punch in pieces": "fingers"}.get(stand.name, stand.name)
            assumed = any(s.assumed for s in (bar, table, beam))
            out.append(self._setup(bodies, at_back, assumed=assumed, tooling=tooling, pieces=stand.pieces))
        return out

    def drawn(self, room: ToolRoom) -> dict[str, str]:
        """Return the drawn sections by name; see `FoldTool.drawn`."""
        return drawn_sections(room, {"clamp": self.clamp, "folder bed": self.bed, self.beam_name: self.beam_section})

    def rough_setups(self, room: ToolRoom, thickness: float, span: tuple[float, float]) -> Iterator[list[RoughBody]]:
        """Yield what the shop drew round a fold; see `FoldTool.rough_setups`."""
        ends, frames = stands(span, self.max_span(room)), {self.beam_name: self.beam_frame}
        for above in [shortened(span)] if self.pieces else ends:
            bodies = self.rough_bearing(above)
            for name, key in self.drawn(room).items():
                ring = rough_ring(room.section(key).points, thickness if name == "clamp" else 0.0)
                bodies.append(RoughBody(name, ring, frames.get(name, "lower"), above if name == "clamp" else ends[0]))
            yield bodies
