"""What every kind of folding tool answers; each kind is one module beside this one."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Mapping
from dataclasses import dataclass
from math import inf
from typing import Annotated, ClassVar, Final

from tinbook.fields import Number, Text, check_fields
from tinbook.shop.material import Limits, Material, largest

HEM_START: Final = 135.0
"""Degrees to which a tool turns the return of a hem, or the leg of a closed fold, before it is pressed on from there."""
MAYBE_MM: Final = Number("mm", above=0, none=True)
MM: Final = Number("mm", above=0)
MM0: Final = Number("mm", least=0)
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
    A kind states as class variables: `what` it is called; `process`, the name of the way it bends; `table`, its table
    in a shop file; `machine_kind`, the kind of machine that takes it; `sections`, which of its fields name a section,
    and of which kind; `usual_k`, the K-factor where nobody measured one (None: DIN 6935); `line_error`, how far a fold
    line misses its place against a back gauge or by eye on a mark, mm (own proposal); `leg_source`, where its shortest
    leg comes from ("": its own row); `closes_hems`, whether it flattens a hem by itself, without bars of its own.
    """

    what: ClassVar[str]
    process: ClassVar[str]
    table: ClassVar[str]
    machine_kind: ClassVar[str]
    sections: ClassVar[Mapping[str, str]] = {}
    usual_k: ClassVar[float | None] = None
    line_error: ClassVar[float] = 0.5
    leg_source: ClassVar[str] = ""
    closes_hems: ClassVar[bool] = False

    key: Annotated[str, Text()]
    machine: Annotated[str, Text()]
    who: Annotated[str, Text()]
    length: Annotated[float | None, MAYBE_MM] = None
    min_thickness: Annotated[float, MM0] = 0.0
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
