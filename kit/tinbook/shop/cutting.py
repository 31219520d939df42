"""What the shop cuts with, or whoever cuts for it, and the house rates of all its work."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Final

from tinbook.errors import BadValue
from tinbook.fields import (
    POSITIVE,
    ByName,
    Choice,
    Flag,
    FromZero,
    Number,
    Positive,
    Several,
    Text,
    check_fields,
    lookup,
)
from tinbook.shop.material import Limits, Material, largest

CUTTING: Final = ("laser", "plasma", "waterjet")


@dataclass(frozen=True, slots=True, kw_only=True)
class Cutter:
    """A thermal or jet cutter, or whoever owns it.

    Parameters
    ----------
    process : str
        One of `CUTTING`.
    kerf : float
        Width of the cut, mm.
    hole_per_thickness, hole_floor : float
        Smallest round hole: the larger of factor times thickness and the floor in mm.
    slot_per_thickness, slot_floor : float
        Narrowest slot or notch, likewise.
    etches : bool
        Whether it can mark the sheet.
    bed : (float, float)
        Largest sheet it takes, mm.
    min_thickness, max_thickness
        Range, the upper end by material or family, mm.
    accuracy_class : int
        Tolerance class of ISO 9013 that it keeps (1 or 2).
    """

    key: Annotated[str, Text()]
    title: Annotated[str, Text()]
    process: Annotated[str, Choice(CUTTING)]
    who: Annotated[str, Text()]
    own: Annotated[bool, Flag()]
    kerf: Positive
    hole_per_thickness: Annotated[float, Number(least=0)]
    hole_floor: FromZero
    slot_per_thickness: Annotated[float, Number(least=0)]
    slot_floor: FromZero
    etches: Annotated[bool, Flag()]
    bed: Annotated[tuple[float, float], Several(POSITIVE, 2, 2, "numbers")]
    min_thickness: FromZero = 0.0
    max_thickness: Limits
    accuracy_class: Annotated[int, Number(least=1, most=2, whole=True)]
    source: Annotated[str, Text()]

    def __post_init__(self) -> None:
        check_fields(self, f"cutter '{self.key}'")

    def takes(self, material: Material, thickness: float) -> bool:
        """Whether it cuts the sheet."""
        return self.min_thickness <= thickness <= largest(self.max_thickness, material)

    def min_hole(self, thickness: float) -> float:
        """Diameter of the smallest hole that it cuts well, mm."""
        return max(self.hole_floor, self.hole_per_thickness * thickness)

    def min_slot(self, thickness: float) -> float:
        """Width of the narrowest slot that it cuts well, mm."""
        return max(self.slot_floor, self.slot_per_thickness * thickness)


def fits_on(room: tuple[float, float], width: float, height: float) -> bool:
    """Whether a piece lies on a sheet or a bed, either way round."""
    return min(width, height) <= min(room) and max(width, height) <= max(room)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rates:
    """House rates: own data, in the shop's currency; what is not stated is asked for by the job that needs it.

    Parameters
    ----------
    cut_per_m, cut_per_m_mm : tuple of (str, float)
        By cutting process: price of a metre, and its rise per mm of thickness.
    pierce, etch_per_m : tuple of (str, float)
        By cutting process.
    fold, fold_setup, bead_per_m, bead_setup, weld, insert, deburr_per_m, part : float
        Per fold, per tool set up, per metre and pass, per roll pair set up, per plug weld,
        per nut insert, per metre of edge, per part handled.
    hour : float
        Bench work.
    """

    currency: Annotated[str, Text(empty=True)] = ""
    cut_per_m: Annotated[tuple[tuple[str, float], ...], ByName(Number(least=0), CUTTING)] = ()
    cut_per_m_mm: Annotated[tuple[tuple[str, float], ...], ByName(Number(least=0), CUTTING)] = ()
    pierce: Annotated[tuple[tuple[str, float], ...], ByName(Number(least=0), CUTTING)] = ()
    etch_per_m: Annotated[tuple[tuple[str, float], ...], ByName(Number(least=0), CUTTING)] = ()
    fold: Annotated[float, Number(least=0)] | None = None
    fold_setup: Annotated[float, Number(least=0)] | None = None
    bead_per_m: Annotated[float, Number(least=0)] | None = None
    bead_setup: Annotated[float, Number(least=0)] | None = None
    weld: Annotated[float, Number(least=0)] | None = None
    insert: Annotated[float, Number(least=0)] | None = None
    deburr_per_m: Annotated[float, Number(least=0)] | None = None
    part: Annotated[float, Number(least=0)] | None = None
    hour: Annotated[float, Number(least=0)] | None = None
    source: Annotated[str, Text()]

    def __post_init__(self) -> None:
        check_fields(self, "rates")

    def cutting(self, process: str, thickness: float) -> float:
        """Price of a metre of cut in a sheet of `thickness` mm."""
        base = lookup(self.cut_per_m, process)
        if base is None:
            raise BadValue("rates cut_per_m", process, "a rate for this process in the shop file")
        return base + (lookup(self.cut_per_m_mm, process) or 0.0) * thickness
