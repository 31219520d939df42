"""What the shop cuts with, or whoever cuts for it, its room on a sheet and its speed."""

from __future__ import annotations

from typing import Annotated, Final, TypeAlias

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
)
from tinbook.language import Said
from tinbook.shop.material import Limits, Material, largest
from tinbook.values import dataclass

CUTTING: Final = ("laser", "plasma", "waterjet")

ROOM: Final = {"laser": (1.0, 5.0, 10.0), "plasma": (2.0, 8.0, 12.0), "waterjet": (1.0, 4.0, 10.0)}
"""By process: gap between two blanks over the thickness, its least value, and margin to the sheet's edge, both mm.

Common practice, from memory; a shop file states the cutter's own.
"""
JOINTS: Final = {"laser": (0.3, 0.3, 400.0), "plasma": (0.8, 1.5, 500.0), "waterjet": (0.4, 0.6, 400.0)}
"""By process: width of a micro-joint over the thickness, its least value, and distance along the contour, both mm.

Common practice, from memory; a shop file states the cutter's own.
"""
GUESS: Final = (
    "the kit's guess (common practice, from memory); state gap_per_thickness, gap_floor and margins of the cutter"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class CuttingRoom:
    """What a cutter needs of room on a sheet.

    Parameters
    ----------
    gap : float
        Least distance of two blanks, mm.
    margins : (float, float, float, float)
        Least distance to the left, right, bottom and top of the sheet, mm.
    lead : float
        Distance from the contour at which it pierces, mm: half the gap, so that it lies in the waste.
    source : str
        Where the numbers come from.
    """

    gap: float
    margins: tuple[float, float, float, float]
    lead: float
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class JointRule:
    """What micro-joints a cutter leaves.

    Parameters
    ----------
    width : float
        Of each, along the contour, mm.
    pitch : float
        Distance along the contour, mm.
    source : str
        Where the numbers come from.
    """

    width: float
    pitch: float
    source: str

    def count(self, length: float) -> int:
        """Return how many hold a contour of a length in mm: 2 to 12."""
        return min(12, max(2, round(length / self.pitch)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Pace:
    """How quickly a cutter works in one thickness.

    Parameters
    ----------
    speed : float
        m/min along the contour.
    pierce : float
        Seconds for each start.
    source : str
        Where the numbers come from.
    """

    speed: float
    pierce: float
    source: str


_SpeedRow: TypeAlias = tuple[float, float, float]
_SPEEDS: Final = Several(Several(Number(above=0, most=1e4), 3, 3, "numbers"), what="rows [mm, m/min, s]")
_MARGIN: Final = Number("mm", least=0, most=500)


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
    gap_per_thickness, gap_floor : float or None
        Least distance of two blanks on a sheet: the larger of factor times thickness and the floor in mm.
    margins : (float, float, float, float) or None
        Least distance to the left, right, bottom and top of a sheet, mm.
    joint_per_thickness, joint_floor, joint_pitch : float or None
        Width of a micro-joint: the larger of factor times thickness and the floor in mm; distance along the contour, mm.
    speeds : tuple of (str, rows)
        By material or family: rows of thickness in mm, speed in m/min, seconds for a pierce; between two rows both
        are interpolated linearly.
    rapid : float or None
        Speed from one contour to the next, m/min; None where that time is not counted.
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
    gap_per_thickness: Annotated[float, Number(least=0, most=20)] | None = None
    gap_floor: Annotated[float, Number("mm", least=0, most=100)] | None = None
    margins: Annotated[tuple[float, float, float, float], Several(_MARGIN, 4, 4, "numbers")] | None = None
    joint_per_thickness: Annotated[float, Number(least=0, most=5)] | None = None
    joint_floor: Annotated[float, Number("mm", above=0, most=20)] | None = None
    joint_pitch: Annotated[float, Number("mm", least=20, most=5000)] | None = None
    speeds: Annotated[tuple[tuple[str, tuple[_SpeedRow, ...]], ...], ByName(_SPEEDS)] = ()
    rapid: Annotated[float, Number(above=0, most=1000)] | None = None
    source: Annotated[str, Text()]

    def __post_init__(self) -> None:
        check_fields(self, f"cutter '{self.key}'")
        for name, rows in self.speeds:
            thick = [row[0] for row in rows]
            if sorted(set(thick)) != thick:
                raise BadValue(
                    f"cutter '{self.key}' speeds of '{name}'", thick, "thicknesses that rise from row to row"
                )

    def room(self, thickness: float) -> CuttingRoom:
        """Return the gap, margins and lead-in for a thickness in mm: the cutter's own, else common practice."""
        factor, floor, margin = ROOM[self.process]
        own = self.gap_per_thickness, self.gap_floor, self.margins
        factor = factor if own[0] is None else own[0]
        floor = floor if own[1] is None else own[1]
        gap = max(floor, factor * thickness)
        margins = (margin,) * 4 if self.margins is None else self.margins
        source = f"cutter '{self.key}' of the shop" if None not in own else GUESS
        return CuttingRoom(gap=gap, margins=margins, lead=gap / 2, source=source)

    def joints(self, thickness: float) -> JointRule:
        """Return the micro-joints for a thickness in mm: the cutter's own, else common practice."""
        own = self.joint_per_thickness, self.joint_floor, self.joint_pitch
        factor, floor, pitch = (a if b is None else b for a, b in zip(JOINTS[self.process], own, strict=True))
        guess = GUESS.replace(
            "gap_per_thickness, gap_floor and margins", "joint_per_thickness, joint_floor and joint_pitch"
        )
        source = f"cutter '{self.key}' of the shop" if None not in own else guess
        return JointRule(width=max(floor, factor * thickness), pitch=pitch, source=source)

    def pace(self, material: Material, thickness: float) -> Pace:
        """Return speed and time to pierce in a sheet of `thickness` mm; BadValue where the table does not say."""
        table = dict(self.speeds)
        name = next((n for n in (material.key, material.family) if n in table), None)
        field = f"cutter '{self.key}' speeds of '{material.key}'"
        if name is None:
            raise BadValue(field, f"{thickness:g} mm", f"a row for it or for '{material.family}' in the shop file")
        rows = table[name]
        if not rows[0][0] - 1e-9 <= thickness <= rows[-1][0] + 1e-9:
            raise BadValue(
                field, f"{thickness:g} mm", f"a thickness from {rows[0][0]:g} to {rows[-1][0]:g} mm, or more rows"
            )
        upper = next((n for n, row in enumerate(rows) if row[0] >= thickness - 1e-9), len(rows) - 1)
        low, high = rows[max(upper - 1, 0)], rows[upper]
        share = 1.0 if high[0] == low[0] else (thickness - low[0]) / (high[0] - low[0])
        speed, pierce = (a + share * (b - a) for a, b in zip(low[1:], high[1:], strict=True))
        return Pace(
            speed=speed,
            pierce=pierce,
            source=Said("speed table of cutter '{key}' for {metal}", key=self.key, metal=Said(name)),
        )

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
