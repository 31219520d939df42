"""What the shop folds with, its own machines and its suppliers' alike."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf
from typing import Annotated, ClassVar, Final, Literal, TypeAlias

from tinbook.errors import BadValue
from tinbook.fields import ByName, Flag, Force, Number, Text, check_fields, lookup
from tinbook.shop.material import Material
from tinbook.shop.sections import Lengths

MACHINE_KINDS: Final = ("brake", "press", "folder")
PROCESSES: Final = ("fold", "bottom", "air")
"""How a bend is made: in a hand folder, bottoming in a V block, or freely in the air over a die."""

Process = Literal["fold", "bottom", "air"]
Limits: TypeAlias = Annotated[tuple[tuple[str, float], ...], ByName()]
_MM = Number("mm", above=0)
_MM0 = Number("mm", least=0)
_MAYBE_MM = Number("mm", above=0, none=True)
_ANGLE = Number("deg", above=0, most=180)


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
    finger_above, finger_below, finger_width : float or None
        How far the gauge's fingers reach over the die's top and below it, and how wide one is, mm; None: a usual
        finger is assumed (12, 5 and 20) and named as such.
    ram, bed : str
        Keys of the beams' sections, "" for plain generic ones.
    """

    key: Annotated[str, Text()]
    title: Annotated[str, Text()]
    kind: Annotated[str, Text(MACHINE_KINDS)]
    who: Annotated[str, Text()]
    own: Annotated[bool, Flag()]
    length: Annotated[float | None, _MAYBE_MM] = None
    force: Annotated[float | None, Force(above=0, none=True)] = None
    throat: Annotated[float | None, _MAYBE_MM] = None
    between_frames: Annotated[float | None, _MAYBE_MM] = None
    daylight: Annotated[float | None, _MAYBE_MM] = None
    stroke: Annotated[float | None, _MAYBE_MM] = None
    gauge_min: Annotated[float | None, Number("mm", least=0, none=True)] = None
    gauge_max: Annotated[float | None, _MAYBE_MM] = None
    gauge_moves: Annotated[bool, Flag()] = False
    finger_above: Annotated[float | None, _MAYBE_MM] = None
    finger_below: Annotated[float | None, Number("mm", least=0, none=True)] = None
    finger_width: Annotated[float | None, _MAYBE_MM] = None
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
class FoldTool:
    """What every folding tool has.

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
    """

    what: ClassVar[str] = "tool"
    process: ClassVar[Process]

    key: Annotated[str, Text()]
    machine: Annotated[str, Text()]
    who: Annotated[str, Text()]
    length: Annotated[float | None, _MAYBE_MM] = None
    min_thickness: Annotated[float, _MM0] = 0.0
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


@dataclass(frozen=True, slots=True, kw_only=True)
class AirDie(FoldTool):
    """A V die under a punch that stops short: the opening makes the inside radius.

    Parameters
    ----------
    opening : float
        Die opening between the shoulders' contact, mm.
    die_angle : float
        Included angle of the die, degrees: no bend can be closed further.
    shoulder : float
        Radius of the die's shoulders, mm.
    punch_nose : float
        Radius of the punch, mm.
    section : str
        Key of its section without the opening, "" for a usual one.
    segments : tuple of float
        Lengths of the pieces it can be put together from, mm; empty: one piece.
    """

    what: ClassVar[str] = "die"
    process: ClassVar[Process] = "air"

    opening: Annotated[float, _MM]
    die_angle: Annotated[float, _ANGLE]
    shoulder: Annotated[float, _MM0]
    punch_nose: Annotated[float, _MM]
    section: Annotated[str, Text(empty=True)] = ""
    segments: Annotated[tuple[float, ...], Lengths()] = ()

    @property
    def closes(self) -> float:
        """Largest angle that it turns through, degrees."""
        return 180.0 - self.die_angle

    def radius(self, material: Material, thickness: float) -> float:
        """Inside radius that the opening gives this material, never less than the punch's nose, mm."""
        return max(material.air_radius * self.opening, self.punch_nose)


@dataclass(frozen=True, slots=True, kw_only=True)
class VBlock(FoldTool):
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

    what: ClassVar[str] = "V block"
    process: ClassVar[Process] = "bottom"

    opening: Annotated[float, _MM]
    block_angle: Annotated[float, _ANGLE]
    punch_nose: Annotated[float, _MM]
    section: Annotated[str, Text(empty=True)] = ""
    segments: Annotated[tuple[float, ...], Lengths()] = ()

    @property
    def closes(self) -> float:
        """Largest angle that it turns through, degrees."""
        return 180.0 - self.block_angle

    def radius(self, material: Material, thickness: float) -> float:
        """Inside radius, that of the punch nose, mm."""
        return self.punch_nose


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
    process: ClassVar[Process] = "fold"

    nose_radius: Annotated[float, _MM]
    set_back: Annotated[float | None, Number("mm", least=0, none=True)] = None
    max_angle: Annotated[float, _ANGLE] = 135.0
    min_leg: Annotated[float, _MM]
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


Tool: TypeAlias = AirDie | VBlock | HandFolder
