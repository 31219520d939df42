"""What the shop beads with: pairs of rolls and the machine that holds them."""

from __future__ import annotations

from functools import lru_cache
from typing import Annotated

from tinbook.calc.beads import stretch
from tinbook.errors import BadValue
from tinbook.fields import Flag, FromZero, Number, Positive, Text, check_fields
from tinbook.shop.material import Limits, Material, largest
from tinbook.values import dataclass

_stretch = lru_cache(maxsize=256)(stretch)  # every bead of a part asks its rolls, at every move of a slider


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
    """

    key: Annotated[str, Text()]
    who: Annotated[str, Text()]
    width: Positive
    depth: Positive
    shoulder: Positive
    min_curve: FromZero
    max_thickness: Limits
    passes: Annotated[int, Number(least=1, most=20, whole=True)]
    draw_factor: Annotated[float, Number(least=0, most=1)] | None = None
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
        return _stretch(self.width, self.depth)

    @property
    def draw(self) -> float:
        """The tested draw factor, or else the guess e / (e + 0.1) from the free stretch e (own proposal)."""
        if self.draw_factor is not None:
            return self.draw_factor
        free = self.free_stretch
        return free / (free + 0.1)

    @property
    def guessed(self) -> bool:
        """Whether `draw` is a guess."""
        return self.draw_factor is None


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
    throat: Positive
    roll_dia: Positive = 60.0
    shaft_dia: Positive = 25.0
    source: Annotated[str, Text()]

    def __post_init__(self) -> None:
        where = f"roller '{self.key}'"
        check_fields(self, where)
        if self.shaft_dia >= self.roll_dia:
            raise BadValue(f"{where} shaft_dia", self.shaft_dia, f"less than roll_dia = {self.roll_dia:g} mm")
