"""What the shop's carrier takes as one parcel, and how parts are guarded in it."""

from __future__ import annotations

from typing import Annotated

from tinbook.fields import FromZero, Number, Positive, Text, check_fields
from tinbook.values import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Packing:
    """Limits of a parcel; what a shop file does not say is a guess of the kit, so that it must be checked.

    Parameters
    ----------
    length : float
        Longest side of a parcel, outside, mm.
    girth : float
        Length and girth together, mm; the girth is twice the sum of the two shorter sides.
    mass : float
        Of a packed parcel, kg.
    guard : float
        Edge guard and filling around each bundle of parts, mm on every side.
    board : float
        Thickness of the carton's wall, mm.
    board_mass : float
        Of a square metre of the carton's wall, kg.
    source : str
        Key of the sources registry.
    """

    length: Positive = 1200.0
    girth: Positive = 3000.0
    mass: Annotated[float, Number("kg", above=0)] = 30.0
    guard: FromZero = 12.0
    board: FromZero = 7.0
    board_mass: Annotated[float, Number(least=0, most=20)] = 0.9
    source: Annotated[str, Text()] = "own proposal"

    def __post_init__(self) -> None:
        check_fields(self, "packing")
