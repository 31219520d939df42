"""What the shop folds, beads and cuts with, its own machines and its suppliers' alike."""

from __future__ import annotations

from dataclasses import dataclass
from math import asin, inf
from typing import Annotated, Final, Literal, TypeAlias

from tinbook.errors import BadValue
from tinbook.shop.fields import ByName, Flag, Number, Text, Vector, check_fields, lookup
from tinbook.shop.material import Material
from tinbook.shop.sections import Lengths

MACHINE_KINDS: Final = ("brake", "press", "folder")
PROCESSES: Final = ("fold", "bottom", "air")
"""How a bend is made: in a hand folder, bottoming in a V block, or freely in the air over a die."""
CUTTING: Final = ("laser", "plasma", "waterjet")

Process = Literal["fold", "bottom", "air"]
Limits: TypeAlias = Annotated[tuple[tuple[str, float], ...], ByName()]
_MM = Number("mm", above=0)
_MM0 = Number("mm", least=0)
_MAYBE_MM = Number("mm", above=0, none=True)


def largest(limits: tuple[tuple[str, float], ...], material: Material) -> float:
    """Return the limit for a material: by its key, else by its family, else 0 (not taken at all)."""
    return lookup(limits, material.key, material.family) or 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Machine:
    """A machine that folds, the shop's own or a supplier's.

    Parameters
    ----------
    key, title : str
        Short name and plain description.
    kind : str
        One of `MACHINE_KINDS`.
    who : str
        Who does the work: the shop's name or the supplier's.
    own : bool
        Whether it stands in the user's own shop.
    length : float or None
        Longest bend, mm.
    force : float or None
        Largest force, N.
    throat : float or None
        Free depth behind the tool, mm.
    between_frames : float or None
        Width that passes between the side frames, mm: a narrower part may reach deeper than the throat.
    daylight, stroke : float or None
        Largest distance from bed to ram, and the ram's travel, mm.
    gauge_min, gauge_max : float or None
        Range of the back gauge from the fold line, mm; None: no back gauge, the part is set to its marks.
    gauge_moves : bool
        Whether the gauge goes to its stops by itself; by hand each new stop is a re-setting.
    ram, bed : str
        Keys of the beams' sections, "" for plain generic ones.
    """

    key: Annotated[str, Text()]
    title: Annotated[str, Text()]
    kind: Annotated[str, Text(MACHINE_KINDS)]
    who: Annotated[str, Text()]
    own: Annotated[bool, Flag()]
    length: Annotated[float | None, _MAYBE_MM] = None
    force: Annotated[float | None, Number("N", above=0, none=True)] = None
    throat: Annotated[float | None, _MAYBE_MM] = None
    between_frames: Annotated[float | None, _MAYBE_MM] = None
    daylight: Annotated[float | None, _MAYBE_MM] = None
    stroke: Annotated[float | None, _MAYBE_MM] = None
    gauge_min: Annotated[float | None, Number("mm", least=0, none=True)] = None
    gauge_max: Annotated[float | None, _MAYBE_MM] = None
    gauge_moves: Annotated[bool, Flag()] = False
    ram: Annotated[str, Text(empty=True)] = ""
    bed: Annotated[str, Text(empty=True)] = ""
    source: Annotated[str, Text()]

    def __post_init__(self) -> None:
        check_fields(self, f"machine '{self.key}'")
        if self.gauge_max is not None and self.gauge_max <= (self.gauge_min or 0.0):
            raise BadValue(
                f"machine '{self.key}' gauge_max",
                self.gauge_max,
                f"greater than gauge_min = {self.gauge_min or 0:g} mm",
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class AirDie:
    """A V die under a punch that stops short: the opening makes the inside radius.

    Parameters
    ----------
    key : str
        Name in the shop.
    machine, who : str
        Key of the machine and who runs it.
    opening : float
        Die opening between the shoulders' contact, mm.
    die_angle : float
        Included angle of the die, degrees: no bend can be closed further.
    shoulder : float
        Radius of the die's shoulders, mm.
    punch_nose : float
        Radius of the punch, mm.
    length : float or None
        Length of the set, mm; None takes the machine's.
    min_thickness : float
        Thinnest sheet, mm.
    max_thickness : tuple of (str, float)
        Thickest sheet by material or family, mm.
    section : str
        Key of its section without the opening, "" for a usual one.
    segments : tuple of float
        Lengths of the pieces it can be put together from, mm; empty: one piece.
    """

    key: Annotated[str, Text()]
    machine: Annotated[str, Text()]
    who: Annotated[str, Text()]
    opening: Annotated[float, _MM]
    die_angle: Annotated[float, Number("deg", above=0, most=180)]
    shoulder: Annotated[float, _MM0]
    punch_nose: Annotated[float, _MM]
    length: Annotated[float | None, _MAYBE_MM] = None
    min_thickness: Annotated[float, _MM0] = 0.0
    max_thickness: Limits
    section: Annotated[str, Text(empty=True)] = ""
    segments: Annotated[tuple[float, ...], Lengths()] = ()
    source: Annotated[str, Text()]

    def __post_init__(self) -> None:
        check_fields(self, f"die '{self.key}'")

    @property
    def process(self) -> Process:
        """How it bends."""
        return "air"

    @property
    def max_length(self) -> float:
        """Longest bend, mm."""
        return inf if self.length is None else self.length

    def takes(self, material: Material, thickness: float) -> bool:
        """Whether the sheet lies within its thickness range."""
        return self.min_thickness <= thickness <= largest(self.max_thickness, material)

    def radius(self, material: Material, thickness: float) -> float:
        """Inside radius that the opening gives this material, never less than the punch's nose, mm."""
        return max(material.air_radius * self.opening, self.punch_nose)


@dataclass(frozen=True, slots=True, kw_only=True)
class VBlock:
    """A punch pressed home into a V block: the punch nose makes the inside radius.

    Parameters
    ----------
    opening, block_angle, punch_nose : float
        mm, degrees included, mm.
    section : str
        Key of its section without the opening, "" for a usual one.
    segments : tuple of float
        Lengths of the pieces it can be put together from, mm; empty: one piece.
    """

    key: Annotated[str, Text()]
    machine: Annotated[str, Text()]
    who: Annotated[str, Text()]
    opening: Annotated[float, _MM]
    block_angle: Annotated[float, Number("deg", above=0, most=180)]
    punch_nose: Annotated[float, _MM]
    length: Annotated[float | None, _MAYBE_MM] = None
    min_thickness: Annotated[float, _MM0] = 0.0
    max_thickness: Limits
    section: Annotated[str, Text(empty=True)] = ""
    segments: Annotated[tuple[float, ...], Lengths()] = ()
    source: Annotated[str, Text()]

    def __post_init__(self) -> None:
        check_fields(self, f"V block '{self.key}'")

    @property
    def process(self) -> Process:
        """How it bends."""
        return "bottom"

    @property
    def max_length(self) -> float:
        """Longest bend, mm."""
        return inf if self.length is None else self.length

    def takes(self, material: Material, thickness: float) -> bool:
        """Whether the sheet lies within its thickness range."""
        return self.min_thickness <= thickness <= largest(self.max_thickness, material)

    def radius(self, material: Material, thickness: float) -> float:
        """Inside radius, that of the punch nose, mm."""
        return self.punch_nose


@dataclass(frozen=True, slots=True, kw_only=True)
class HandFolder:
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

    key: Annotated[str, Text()]
    machine: Annotated[str, Text()]
    who: Annotated[str, Text()]
    nose_radius: Annotated[float, _MM]
    set_back: Annotated[float | None, Number("mm", least=0, none=True)] = None
    max_angle: Annotated[float, Number("deg", above=0, most=180)] = 135.0
    min_leg: Annotated[float, _MM]
    length: Annotated[float | None, _MAYBE_MM] = None
    min_thickness: Annotated[float, _MM0] = 0.0
    max_thickness: Limits
    clamp: Annotated[str, Text(empty=True)] = ""
    bed: Annotated[str, Text(empty=True)] = ""
    beam: Annotated[str, Text(empty=True)] = ""
    fingers: Annotated[tuple[float, ...], Lengths()] = ()
    source: Annotated[str, Text()]

    def __post_init__(self) -> None:
        check_fields(self, f"folder '{self.key}'")

    @property
    def process(self) -> Process:
        """How it bends."""
        return "fold"

    @property
    def max_length(self) -> float:
        """Longest bend, mm."""
        return inf if self.length is None else self.length

    def takes(self, material: Material, thickness: float) -> bool:
        """Whether the sheet lies within its thickness range."""
        return self.min_thickness <= thickness <= largest(self.max_thickness, material)

    def radius(self, material: Material, thickness: float) -> float:
        """Inside radius: the nose bar's, grown by whatever the set-back exceeds the thickness, mm (common practice)."""
        extra = 0.0 if self.set_back is None else max(0.0, self.set_back - thickness)
        return self.nose_radius + extra


Tool: TypeAlias = AirDie | VBlock | HandFolder


@dataclass(frozen=True, slots=True, kw_only=True)
class BeadRoll:
    """A pair of rolls that runs a bead into flat sheet.

    Parameters
    ----------
    width : float
        Over the tangent points of the shoulders, mm.
    depth : float
        Height of the formed face above the flat one, mm.
    shoulder : float
        Inside radius of the shoulders, mm.
    min_curve : float
        Smallest radius of the centre line that it follows, mm.
    max_thickness : tuple of (str, float)
        Thickest sheet by material or family, mm.
    passes : int
        Runs to full depth.
    draw_factor : float or None
        0: all stretch, 1: all draw; None: not tested, a guess from the geometry serves.
    run_out : float or None
        Length over which the bead rises at its ends, mm; None: three depths.
    """

    key: Annotated[str, Text()]
    who: Annotated[str, Text()]
    width: Annotated[float, _MM]
    depth: Annotated[float, _MM]
    shoulder: Annotated[float, _MM]
    min_curve: Annotated[float, _MM0]
    max_thickness: Limits
    passes: Annotated[int, Number(least=1, most=20, whole=True)]
    draw_factor: Annotated[float | None, Number(least=0, most=1, none=True)] = None
    run_out: Annotated[float | None, _MAYBE_MM] = None
    source: Annotated[str, Text()]

    def __post_init__(self) -> None:
        where = f"roll '{self.key}'"
        check_fields(self, where)
        if self.depth > self.width / 2:
            raise BadValue(f"{where} depth", self.depth, f"at most half the width, {self.width / 2:g} mm")

    def takes(self, material: Material, thickness: float) -> bool:
        """Whether the rolls take the sheet."""
        return thickness <= largest(self.max_thickness, material)

    @property
    def free_stretch(self) -> float:
        """Mean stretch of the strip if nothing drew in: arc over chord less one, for an arc of this width and depth."""
        half, h = self.width / 2, self.depth
        radius = (half**2 + h**2) / (2 * h)
        return radius * asin(min(1.0, half / radius)) / half - 1.0

    @property
    def draw(self) -> float:
        """The tested draw factor, or else the guess e / (e + 0.1) from the free stretch e (own proposal)."""
        if self.draw_factor is not None:
            return self.draw_factor
        return self.free_stretch / (self.free_stretch + 0.1)

    @property
    def guessed(self) -> bool:
        """Whether `draw` is a guess."""
        return self.draw_factor is None

    @property
    def end_length(self) -> float:
        """Length of the run-out at each end, mm."""
        return 3.0 * self.depth if self.run_out is None else self.run_out


@dataclass(frozen=True, slots=True, kw_only=True)
class Roller:
    """The bead rolling machine.

    Parameters
    ----------
    throat : float
        Free depth from the rolls' plane to the frame, mm: no bead lies further from every edge.
    roll_dia, shaft_dia : float
        Outside diameter of the rolls and of the shafts behind them, mm: what stands up beside a bead must clear them.
    """

    key: Annotated[str, Text()]
    title: Annotated[str, Text()]
    who: Annotated[str, Text()]
    own: Annotated[bool, Flag()]
    throat: Annotated[float, _MM]
    roll_dia: Annotated[float, _MM] = 60.0
    shaft_dia: Annotated[float, _MM] = 25.0
    source: Annotated[str, Text()]

    def __post_init__(self) -> None:
        where = f"roller '{self.key}'"
        check_fields(self, where)
        if self.shaft_dia >= self.roll_dia:
            raise BadValue(f"{where} shaft_dia", self.shaft_dia, f"less than roll_dia = {self.roll_dia:g} mm")


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
    process: Annotated[str, Text(CUTTING)]
    who: Annotated[str, Text()]
    own: Annotated[bool, Flag()]
    kerf: Annotated[float, _MM]
    hole_per_thickness: Annotated[float, Number(least=0)]
    hole_floor: Annotated[float, _MM0]
    slot_per_thickness: Annotated[float, Number(least=0)]
    slot_floor: Annotated[float, _MM0]
    etches: Annotated[bool, Flag()]
    bed: Annotated[tuple[float, float], Vector(2)]
    min_thickness: Annotated[float, _MM0] = 0.0
    max_thickness: Limits
    accuracy_class: Annotated[int, Number(least=1, most=2, whole=True)]
    source: Annotated[str, Text()]

    def __post_init__(self) -> None:
        check_fields(self, f"cutter '{self.key}'")

    def takes(self, material: Material, thickness: float) -> bool:
        """Whether it cuts the sheet."""
        return self.min_thickness <= thickness <= largest(self.max_thickness, material)

    def fits(self, width: float, height: float) -> bool:
        """Whether a piece lies on the bed, either way round."""
        a, b = self.bed
        return (width <= a and height <= b) or (width <= b and height <= a)

    def min_hole(self, thickness: float) -> float:
        """Diameter of the smallest hole that it cuts well, mm."""
        return max(self.hole_floor, self.hole_per_thickness * thickness)

    def min_slot(self, thickness: float) -> float:
        """Width of the narrowest slot that it cuts well, mm."""
        return max(self.slot_floor, self.slot_per_thickness * thickness)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rates:
    """House rates: own data, in the shop's currency.

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

    currency: Annotated[str, Text()]
    cut_per_m: Annotated[tuple[tuple[str, float], ...], ByName(Number(least=0), CUTTING)]
    cut_per_m_mm: Annotated[tuple[tuple[str, float], ...], ByName(Number(least=0), CUTTING)]
    pierce: Annotated[tuple[tuple[str, float], ...], ByName(Number(least=0), CUTTING)]
    etch_per_m: Annotated[tuple[tuple[str, float], ...], ByName(Number(least=0), CUTTING)]
    fold: Annotated[float, Number(least=0)]
    fold_setup: Annotated[float, Number(least=0)]
    bead_per_m: Annotated[float, Number(least=0)]
    bead_setup: Annotated[float, Number(least=0)]
    weld: Annotated[float, Number(least=0)]
    insert: Annotated[float, Number(least=0)]
    deburr_per_m: Annotated[float, Number(least=0)]
    part: Annotated[float, Number(least=0)]
    hour: Annotated[float, Number(least=0)]
    source: Annotated[str, Text()]

    def __post_init__(self) -> None:
        check_fields(self, "rates")

    def cutting(self, process: str, thickness: float) -> float:
        """Price of a metre of cut in a sheet of `thickness` mm."""
        base = lookup(self.cut_per_m, process)
        if base is None:
            raise BadValue("rates cut_per_m", process, "a rate for this process in the shop file")
        return base + (lookup(self.cut_per_m_mm, process) or 0.0) * thickness
