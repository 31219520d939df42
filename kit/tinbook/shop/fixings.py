"""Tables of fixings: clearance holes, nut inserts, plug welds, tack screws, bolts. Editable by the shop's file."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Annotated, Final, TypeVar

from tinbook.calc.bolts import stress_area
from tinbook.errors import BadValue, OutOfRange, UnknownName
from tinbook.fields import Choice, FromZero, Number, Positive, Text, check_fields
from tinbook.values import dataclass

NO_PILOT: Final = 4.0
"""mm: up to here a hole needs no pilot (common practice)."""

HOLE_SAW: Final = 32.0
"""mm: above it a hand-held drill gives way to a hole saw with a pilot of 6.5 mm (common practice)."""

FITS: Final = ("fine", "medium", "coarse")


@dataclass(frozen=True, slots=True, kw_only=True)
class ClearanceHole:
    """Hole through which a bolt passes, mm (ISO 273)."""

    size: Annotated[str, Text()]
    fine: Positive
    medium: Positive
    coarse: Positive
    source: Annotated[str, Text()]

    def __post_init__(self) -> None:
        check_fields(self, f"clearance hole '{self.size}'")
        if not self.fine <= self.medium <= self.coarse:
            raise BadValue(
                f"clearance hole '{self.size}'", (self.fine, self.medium, self.coarse), "fine <= medium <= coarse"
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class NutInsert:
    """A blind nut insert, round, steel.

    Parameters
    ----------
    key, size : str
        Name in the table ("M6 0.5-3") and thread ("M6").
    hole : float
        Round hole that it is set in, mm.
    grip_min, grip_max : float
        Sheet thickness that it grips, mm.
    edge, pitch : float
        Least distance of its centre from an edge and from the next one, mm.
    proof, shear : float or None
        Proof load pulled out along its axis, and in shear, N.
    torque : float or None
        Torque at which it turns in the sheet, N m.
    caution : str
        What to check before use: makers differ.
    """

    key: Annotated[str, Text()]
    size: Annotated[str, Text()]
    hole: Positive
    grip_min: FromZero
    grip_max: Positive
    edge: Positive
    pitch: Positive
    proof: Annotated[float, Number("N", above=0)] | None = None
    shear: Annotated[float, Number("N", above=0)] | None = None
    torque: Annotated[float, Number("N*m", above=0)] | None = None
    caution: Annotated[str, Text(empty=True)] = "makers differ: check the hole and grip of the insert in your hand"
    source: Annotated[str, Text()]

    def __post_init__(self) -> None:
        where = f"nut insert '{self.key}'"
        check_fields(self, where)
        if self.grip_max <= self.grip_min:
            raise BadValue(f"{where} grip_max", self.grip_max, f"greater than grip_min = {self.grip_min:g} mm")


@dataclass(frozen=True, slots=True, kw_only=True)
class PlugWeld:
    """Hole for a plug weld in the upper sheet, by its thickness.

    Parameters
    ----------
    over, upto : float
        Sheet thickness: over < t <= upto, mm.
    hole : float
        Diameter, mm.
    pitch_min, pitch_max : float
        Usual spacing, mm.
    edge : float
        Least distance of the hole's centre from the sheet's edge, mm.
    """

    over: FromZero
    upto: Positive
    hole: Positive
    pitch_min: Positive
    pitch_max: Positive
    edge: Positive
    source: Annotated[str, Text()]

    def __post_init__(self) -> None:
        where = f"plug weld for {self.over:g}-{self.upto:g} mm"
        _check_range(self, where)
        if self.pitch_max < self.pitch_min:
            raise BadValue(f"{where} pitch_max", self.pitch_max, f"at least pitch_min = {self.pitch_min:g} mm")


@dataclass(frozen=True, slots=True, kw_only=True)
class TackScrew:
    """Holes for a tapping screw: pilot in the lower sheet by its thickness, clearance in the upper one, mm."""

    size: Annotated[str, Text()]
    over: FromZero
    upto: Positive
    pilot: Positive
    clearance: Positive
    source: Annotated[str, Text()]

    def __post_init__(self) -> None:
        where = f"tack screw '{self.size}' for {self.over:g}-{self.upto:g} mm"
        _check_range(self, where)
        if self.clearance <= self.pilot:
            raise BadValue(f"{where} clearance", self.clearance, f"greater than the pilot, {self.pilot:g} mm")


STRESS_AREA: Final = 0.03
"""Part by which a stated stress area may differ from its thread's: tables round (own proposal)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bolt:
    """An ISO metric coarse thread.

    Parameters
    ----------
    size : str
        "M6".
    dia, pitch : float
        Nominal diameter and pitch, mm.
    tapping : float
        Tapping drill, mm.
    stress_area : float
        mm².
    head : float
        Width across the flats of a hexagon head, mm.
    """

    size: Annotated[str, Text()]
    dia: Positive
    pitch: Positive
    tapping: Positive
    stress_area: Annotated[float, Number("mm^2", above=0)]
    head: Positive
    source: Annotated[str, Text()]

    def __post_init__(self) -> None:
        check_fields(self, f"bolt '{self.size}'")
        area = stress_area(self.dia, self.pitch)
        if abs(self.stress_area / area - 1.0) > STRESS_AREA:
            valid = f"about {area:.3g} mm², that of its thread by ISO 898-1"
            raise BadValue(f"bolt '{self.size}' stress_area", self.stress_area, valid)


@dataclass(frozen=True, slots=True, kw_only=True)
class Pressed:
    """What is pressed into a sheet, or drawn out of it, and the hole that the blank gets for it.

    Parameters
    ----------
    key : str
        Name in the table ("press nut M4").
    kind : {"press nut", "standoff", "drawn hole"}
        What it is.
    size : str
        Its thread ("M4").
    over, upto : float
        Sheet thickness: over < t <= upto, mm.
    hole : float
        Hole in the blank, mm.
    edge : float
        Least distance of its centre from an edge, mm.
    """

    key: Annotated[str, Text()]
    kind: Annotated[str, Choice(("press nut", "standoff", "drawn hole"))]
    size: Annotated[str, Text()]
    over: FromZero
    upto: Positive
    hole: Positive
    edge: FromZero = 0.0
    source: Annotated[str, Text()]

    def __post_init__(self) -> None:
        _check_range(self, f"pressed fixing '{self.key}'")


@dataclass(frozen=True, slots=True, kw_only=True)
class LouvreDie:
    """A die that lances a slit and raises a hood beside it in one stroke.

    Parameters
    ----------
    key : str
        Its name ("L80").
    length, reach : float
        Length of the slit, and from the slit to the foot of the hood, mm.
    height : float
        How far it lifts the sheet at the slit, mm; the opening is lower by the sheet's thickness.
    radius : float
        Inside radius at the foot of the hood, mm.
    over, upto : float
        Sheet thickness: over < t <= upto, mm.
    """

    key: Annotated[str, Text()]
    length: Positive
    reach: Positive
    height: Positive
    radius: Positive
    over: FromZero
    upto: Positive
    source: Annotated[str, Text()]

    def __post_init__(self) -> None:
        where = f"louvre die '{self.key}'"
        _check_range(self, where)
        if self.length <= 2 * self.reach:
            raise BadValue(f"{where} length", self.length, f"more than twice its reach, {2 * self.reach:g} mm")
        if not self.upto < self.height <= self.reach:
            valid = f"more than its thickest sheet, {self.upto:g} mm, at most its reach, {self.reach:g} mm"
            raise BadValue(f"{where} height", self.height, valid)


def _check_range(row: PlugWeld | TackScrew | Pressed | LouvreDie, where: str) -> None:
    check_fields(row, where)
    if row.upto <= row.over:
        raise BadValue(f"{where} upto", row.upto, f"greater than over = {row.over:g} mm")


_Ranged = TypeVar("_Ranged", PlugWeld, TackScrew, Pressed, LouvreDie)
_Sized = TypeVar("_Sized", ClearanceHole, Bolt, TackScrew, Pressed)


def _of_thickness(rows: Sequence[_Ranged], thickness: float, what: str) -> _Ranged:
    """Return the row for a sheet of `thickness` mm."""
    for row in rows:
        if row.over < thickness <= row.upto:
            return row
    ranges = ", ".join(f"{r.over:g}-{r.upto:g}" for r in rows)
    raise OutOfRange(f"{what} thickness", thickness, f"within {ranges or 'no row of the table'} mm")


def _of_size(rows: Sequence[_Sized], size: str, what: str) -> list[_Sized]:
    """Return the rows of a size, one or more."""
    found = [r for r in rows if r.size == size]
    if not found:
        raise UnknownName(what, size, dict.fromkeys(r.size for r in rows))
    return found


SAME_BORE: Final = 0.08
"""mm: a drawn bore is its thread's nominal, minor or tapping diameter to this (own proposal)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fixings:
    """All tables of fixings of a shop."""

    clearances: tuple[ClearanceHole, ...] = ()
    nut_inserts: tuple[NutInsert, ...] = ()
    plug_welds: tuple[PlugWeld, ...] = ()
    tack_screws: tuple[TackScrew, ...] = ()
    bolts: tuple[Bolt, ...] = ()
    pressed: tuple[Pressed, ...] = ()
    louvre_dies: tuple[LouvreDie, ...] = ()

    def louvre_die(self, key: str, thickness: float) -> LouvreDie:
        """Return a louvre die by its name, for a sheet of `thickness` mm."""
        rows = [d for d in self.louvre_dies if d.key == key]
        if not rows:
            raise UnknownName("louvre die", key, [d.key for d in self.louvre_dies])
        return _of_thickness(rows, thickness, f"louvre die {key}")

    def pressed_in(self, kind: str, size: str, thickness: float) -> Pressed:
        """Return the row for a kind, a thread size and a sheet of `thickness` mm."""
        rows = _of_size([r for r in self.pressed if r.kind == kind], size, f"{kind} size")
        return _of_thickness(rows, thickness, f"{kind} {size}")

    def pilots(self, kind: str, bore: float, thickness: float) -> list[tuple[str, float, str]]:
        """Return what a drawn bore of `bore` mm may be: (use with its thread, hole in the blank, source) of each row.

        A bore is drawn as the thread's nominal, tapping or minor diameter (ISO 724: d - 1.0825 P).
        """
        threads = {
            b.size
            for b in self.bolts
            if any(abs(bore - d) <= SAME_BORE for d in (b.dia, b.tapping, b.dia - 1.0825 * b.pitch))
        }
        return [
            (f"{kind} {r.size}", r.hole, r.source)
            for r in self.pressed
            if r.kind == kind and r.size in threads and r.over < thickness <= r.upto
        ]

    def clearance(self, size: str, fit: str = "medium") -> float:
        """Diameter of the clearance hole for a bolt, mm; `fit` is fine, medium or coarse."""
        if fit not in FITS:
            raise UnknownName("fit", fit, FITS)
        return float(getattr(_of_size(self.clearances, size, "clearance hole size")[0], fit))

    def nut_insert(self, size: str, thickness: float | None = None) -> NutInsert:
        """Return the insert of a thread size, or of a table key, whose grip holds the thickness (mm)."""
        rows = [r for r in self.nut_inserts if size in (r.size, r.key)]
        if not rows:
            raise UnknownName("nut insert", size, dict.fromkeys(r.size for r in self.nut_inserts))
        for row in rows:
            if thickness is None or row.grip_min <= thickness <= row.grip_max:
                return row
        grips = ", ".join(f"{r.grip_min:g}-{r.grip_max:g}" for r in rows)
        raise OutOfRange(f"nut insert {size} thickness", thickness, f"a grip of {grips} mm")

    def plug_weld(self, thickness: float) -> PlugWeld:
        """Return the plug weld hole for an upper sheet of `thickness` mm."""
        return _of_thickness(self.plug_welds, thickness, "plug weld")

    def tack_screw(self, size: str, thickness: float) -> TackScrew:
        """Return the screw holes for a lower sheet of `thickness` mm."""
        return _of_thickness(_of_size(self.tack_screws, size, "tack screw"), thickness, f"tack screw {size}")

    def bolt(self, size: str) -> Bolt:
        """Return a bolt by size."""
        return _of_size(self.bolts, size, "bolt")[0]


def pilot_drill(dia: float) -> float | None:
    """Return the pilot drill for a hole that is drilled by hand from a centre mark, mm.

    Common practice: about a third of the finished hole, so that the chisel edge of the finishing drill finds no
    metal to push; up to 4 mm a drill starts from the punch mark itself; above 32 mm a hole saw has its own.

    Parameters
    ----------
    dia : float
        Finished diameter, mm, greater than 0.

    Returns
    -------
    float or None
        In half millimetres, at least 2.5; 6.5 for a hole saw; None where none is needed.
    """
    if dia <= NO_PILOT:
        return None
    if dia > HOLE_SAW:
        return 6.5
    return max(2.5, math.floor(2 * dia / 3 + 0.5) / 2)
