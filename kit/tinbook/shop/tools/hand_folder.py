"""A hand folder: the sheet is clamped under a nose bar, and a beam swings the leg up round it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Annotated, ClassVar, Final, Self

import shapely

from tinbook.fields import Number, Text
from tinbook.shop.material import Material
from tinbook.shop.sections import Lengths, Punch, Section, generic_folder
from tinbook.shop.tools.base import ANGLE, MM, FoldTool, drawn_sections, section_or
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
from tinbook.shop.tools.strokes import BendStroke

FOLD: Final = BendStroke(
    name="fold",
    clamps=True,
    no_gauge="the machine has no gauge",
    line="the nose bar's edge",
    piece="a finger",
    pieces="fingers",
    by_hand=True,
)


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
    table: ClassVar[str] = "folders"
    machine_kind: ClassVar[str] = "folder"
    sections: ClassVar[Mapping[str, str]] = {"clamp": "clamp", "bed": "folder bed", "beam": "folder beam"}
    closes_hems: ClassVar[bool] = True
    stroke: ClassVar[BendStroke] = FOLD

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

    def _setups(
        self, room: ToolRoom, demand: FoldDemand, extra: Sequence[tuple[Punch, Section]], *, drawn: bool
    ) -> tuple[list[list[Setup]], str]:
        """Return the setups with either side clamped; see `FoldTool.setups`."""
        return [self._clamped(room, demand, "parent"), self._clamped(room, demand, "leg")], ""

    def _clamped(self, room: ToolRoom, demand: FoldDemand, at_back: AtBack) -> list[Setup]:
        drawn = [
            section_or(room, key, generic_folder(kind))
            for key, kind in ((self.clamp, "clamp"), (self.bed, "folder bed"), (self.beam, "folder beam"))
        ]
        # Finer by twice the gap, so that it stays off the sheet also where the leg comes back over it.
        nose = clamp_shape(drawn[0].points, max(self.nose_radius - 2 * GAP, 0.1))
        clamp = shifted(nose, demand.thickness + GAP)
        bed, beam = (shifted(shapely.Polygon(s.points), -GAP) for s in drawn[1:])
        if at_back == "leg":
            clamp, bed, beam = mirrored(clamp), mirrored(bed), mirrored(beam)
        length = known_length(self.max_length, demand)
        everywhere = centred(demand.middle, length)
        out = []
        for stand in spreads(demand.span, length, self.fingers, both=False):
            bodies = (
                ToolBody("clamp", clamp, "lower", stand.upper, drawn[0].assumed, "rises"),
                ToolBody("folder bed", bed, "lower", everywhere, drawn[1].assumed, "stays"),
                ToolBody("folding beam", beam, "swing", everywhere, drawn[2].assumed),
            )
            out.append(
                Setup(
                    tool=self.key,
                    machine=self.machine,
                    stroke=self.stroke,
                    at_back=at_back,
                    tooling={"punch in pieces": "fingers"}.get(stand.name, stand.name),
                    pieces=stand.pieces,
                    bodies=bodies,
                    assumed=any(s.assumed for s in drawn),
                )
            )
        return out

    def drawn(self, room: ToolRoom) -> dict[str, str]:
        """Return the drawn sections by name; see `FoldTool.drawn`."""
        return drawn_sections(room, {"clamp": self.clamp, "folder bed": self.bed, "folding beam": self.beam})

    def rough_setups(self, room: ToolRoom, thickness: float, span: tuple[float, float]) -> Iterator[list[RoughBody]]:
        """Yield what the shop drew round a fold; see `FoldTool.rough_setups`."""
        ends = stands(span, self.max_span(room))
        for above in [shortened(span)] if self.fingers else ends:
            bodies = []
            for name, key in self.drawn(room).items():
                upper = name == "clamp"
                ring = rough_ring(room.section(key).points, thickness if upper else 0.0)
                frame = "swing" if name == "folding beam" else "lower"
                bodies.append(RoughBody(name, ring, frame, above if upper else ends[0]))
            yield bodies

    def owned_pieces(self, room: ToolRoom, punch: str) -> tuple[float, ...]:
        """Widths of its fingers, mm."""
        return self.fingers

    def with_pieces(self, more: tuple[float, ...]) -> Self:
        """Return the folder with more fingers."""
        return replace(self, fingers=(*self.fingers, *more))
