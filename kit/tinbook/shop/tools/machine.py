"""A machine that folds, the shop's own or a supplier's."""

from __future__ import annotations

from typing import Annotated, Final

from tinbook.errors import BadValue
from tinbook.fields import Choice, Flag, Force, FromZero, Positive, Text, check_fields
from tinbook.values import dataclass

MACHINE_KINDS: Final = ("brake", "press", "folder")
"""A folder clamps the sheet and turns the leg up; brakes and presses hold a punch over a die."""


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
    kind: Annotated[str, Choice(MACHINE_KINDS)]
    who: Annotated[str, Text()]
    own: Annotated[bool, Flag()]
    length: Positive | None = None
    force: Annotated[float, Force(above=0)] | None = None
    throat: Positive | None = None
    between_frames: Positive | None = None
    daylight: Positive | None = None
    stroke: Positive | None = None
    gauge_min: FromZero | None = None
    gauge_max: Positive | None = None
    gauge_moves: Annotated[bool, Flag()] = False
    finger_above: Positive | None = None
    finger_below: FromZero | None = None
    finger_width: Positive | None = None
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
