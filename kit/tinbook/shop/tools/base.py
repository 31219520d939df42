"""What every kind of folding tool answers; each kind is one module beside this one."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Iterator, Mapping, Sequence
from math import inf
from typing import Annotated, Any, ClassVar, Final, Self

from tinbook.fields import FromZero, Number, Positive, Text, check_fields
from tinbook.shop.material import Limits, Material, largest
from tinbook.shop.sections import Punch, Section
from tinbook.shop.tools.flattening import flattening
from tinbook.shop.tools.setups import AtBack, FoldDemand, RoughBody, Setup, ToolBody, ToolRoom
from tinbook.shop.tools.strokes import HEM_START, BendStroke
from tinbook.values import dataclass

ANGLE: Final = Number("deg", above=0, most=180)


@dataclass(frozen=True, slots=True, kw_only=True)
class FoldTool(ABC):
    """What every folding tool has and answers.

    Parameters
    ----------
    key : str
        Name in the shop.
    machine, who : str
        Key of the machine and who runs it.
    length : float or None
        Length of the set, mm; None takes the machine's.
    min_thickness : float
        Thinnest sheet, mm.
    max_thickness : tuple of (str, float)
        Thickest sheet by material or family, mm.

    Notes
    -----
    A kind states as class variables: `what` it is called; `table`, its table
    in a shop file; `machine_kind`, the kind of machine that takes it; `sections`, which of its fields name a section,
    and of which kind; `usual_k`, the K-factor where nobody measured one (None: DIN 6935); `line_error`, how far a fold
    line misses its place against a back gauge or by eye on a mark, mm (own proposal); `leg_source`, where its shortest
    leg comes from ("": its own row);
    `force_source` and `weaker`, where its force comes from, and what takes less of it; `closes_hems`, whether it flattens a hem by itself, without bars of its own; `stroke`,
    how it bends.
    """

    what: ClassVar[str]
    table: ClassVar[str]
    machine_kind: ClassVar[str]
    sections: ClassVar[Mapping[str, str]] = {}
    usual_k: ClassVar[float | None] = None
    line_error: ClassVar[float] = 0.5
    leg_source: ClassVar[str] = ""
    force_source: ClassVar[str] = "common practice"
    weaker: ClassVar[str] = "a shorter fold, or a stronger machine"
    closes_hems: ClassVar[bool] = False
    stroke: ClassVar[BendStroke]

    key: Annotated[str, Text()]
    machine: Annotated[str, Text()]
    who: Annotated[str, Text()]
    length: Positive | None = None
    min_thickness: FromZero = 0.0
    max_thickness: Limits
    source: Annotated[str, Text()]

    def __post_init__(self) -> None:
        check_fields(self, f"{self.what} '{self.key}'")

    @property
    def max_length(self) -> float:
        """Longest bend, mm."""
        return inf if self.length is None else self.length

    def takes(self, material: Material, thickness: float) -> bool:
        """Whether the sheet lies within its thickness range."""
        return self.min_thickness <= thickness <= largest(self.max_thickness, material)

    @property
    def process(self) -> str:
        """Name of the way it bends."""
        return self.stroke.name

    @property
    @abstractmethod
    def closes(self) -> float:
        """Largest angle that it turns through, degrees."""

    def turns(self, angle: float) -> bool:
        """Whether it turns the sheet through an angle, degrees."""
        return angle <= self.closes + 1e-9

    @abstractmethod
    def radius(self, material: Material, thickness: float) -> float:
        """Inside radius that it gives a sheet, mm."""

    @abstractmethod
    def shortest_leg(self, thickness: float, angle: float, radius: float) -> float:
        """Shortest leg that it folds, mm: outside, to the apex, above 90 degrees to the tangent of the bend.

        Parameters
        ----------
        thickness, angle, radius : float
            Of the sheet, mm; turned through, degrees; inside, mm.
        """

    @property
    def leg_limit_source(self) -> str:
        """Key of the source of its shortest leg."""
        return self.leg_source or self.source

    def misfit(self, thickness: float) -> tuple[float, float]:
        """How far it is from the tool that is usual for a thickness; of one process the smallest is chosen."""
        return 0.0, 0.0

    def mark_at(self, radius: float, allowance: float) -> float:
        """Where the operator's line lies in the flat, mm from the tangent line of the panel that stays."""
        return allowance / 2.0

    def force(self, thickness: float, length: float, tensile: float) -> float | None:
        """Force of a fold of this length, N; None where no formula covers the tool.

        Parameters
        ----------
        thickness, length, tensile : float
            mm, mm along the fold, MPa.

        Raises
        ------
        OutOfRange
            Outside the formula's range.
        """
        return None

    # -- the order of hits ----------------------------------------------------------------------------

    def hits(self, angle: float) -> tuple[float, ...]:
        """Degrees turned after each hit of a fold: a hem, or a fold closed further than a tool turns, takes two."""
        return (angle,) if angle <= HEM_START + 1e-9 else (HEM_START, angle)

    # -- what stands round the fold -------------------------------------------------------------------

    def setups(
        self,
        room: ToolRoom,
        demand: FoldDemand,
        extra: Sequence[tuple[Punch, Section]] = (),
        *,
        drawn: bool = False,
    ) -> tuple[list[list[Setup]], str]:
        """Return the setups for one fold in families, and why there is none.

        Parameters
        ----------
        room : ToolRoom
            The shop.
        demand : FoldDemand
            The fold.
        extra : sequence of (Punch, Section)
            Punches to try besides the shop's.
        drawn : bool
            Leave out only what the drawn tools rule out: height and angle of an assumed punch count for nothing.

        Returns
        -------
        families : list of list of Setup
            In a family only the tools' stand along the fold differs, the narrowest last: what the narrowest hits, all
            the others hit.
        why : str
            "" when there is one.
        """
        if demand.length > self.longest_fold(room) + 1e-6:
            return (
                [],
                f"{self.key} takes {self.longest_fold(room):g} mm at most, the fold is {demand.length:.1f} mm long",
            )
        return self._setups(room, demand, extra, drawn=drawn)

    @abstractmethod
    def _setups(
        self, room: ToolRoom, demand: FoldDemand, extra: Sequence[tuple[Punch, Section]], *, drawn: bool
    ) -> tuple[list[list[Setup]], str]:
        """Return the setups of this kind of tool for a fold that is not too long for it."""

    def _setup(self, bodies: tuple[ToolBody, ...], at_back: AtBack, **more: Any) -> Setup:
        """Return a setup on it; `more` are fields of `Setup`."""
        me = self.key, self.machine, self.stroke
        return Setup(*me, bodies=bodies, at_back=at_back, contact=self.contact, **more)

    def flattening(self, demand: FoldDemand) -> list[list[Setup]]:
        """Return the setups for the second hit of a hem, in families."""
        return flattening(demand, tool=self.key, machine=self.machine, bars=not self.closes_hems)

    @abstractmethod
    def drawn(self, room: ToolRoom) -> dict[str, str]:
        """Return the keys of the sections that the shop drew of tool and machine by name, punches left out."""

    @abstractmethod
    def rough_setups(self, room: ToolRoom, thickness: float, span: tuple[float, float]) -> Iterator[list[RoughBody]]:
        """Yield what the shop drew round a fold, for each way to set it up, lower parts first; nothing assumed.

        It is looked at as parts are made, so it has to be quick.
        """

    @property
    def contact(self) -> tuple[float, float]:
        """What fixes how both sides move, see `setups.Setup`."""
        return 0.0, 0.0

    def max_span(self, room: ToolRoom) -> float:
        """Length of the tool in its machine, mm."""
        return min(self.max_length, room.machine(self.machine).length or inf)

    def longest_fold(self, room: ToolRoom) -> float:
        """Longest fold that it takes, mm."""
        return self.max_span(room)

    # -- what would cure a fold that fails ------------------------------------------------------------

    def relieved_punch(self) -> tuple[Punch, Section] | None:
        """Return a usual punch for it that returns can come back over; None where no punch serves."""
        return None

    def packing(self, room: ToolRoom, section: Section, turn_rad: float) -> float:
        """How far the ram's stroke ends above the formed bend with a punch, mm: to be packed; 0 where nothing is known."""
        return 0.0

    def owned_pieces(self, room: ToolRoom, punch: str) -> tuple[float, ...]:
        """Lengths of the pieces that make up its upper tool, mm."""
        return next((p.segments for p in room.punches if p.key == punch), ())

    def with_pieces(self, more: tuple[float, ...]) -> Self:
        """Return the tool with more pieces of its own; itself where the pieces are a punch's."""
        return self


def drawn_sections(room: ToolRoom, named: Mapping[str, str]) -> dict[str, str]:
    """Return those names whose section is there and no generic drawing."""
    return {name: key for name, key in named.items() if key and not room.section(key).assumed}


def section_or(room: ToolRoom, key: str, generic: Section) -> Section:
    """Return a section by key, or a generic one where the shop gives none."""
    return room.section(key) if key else generic
