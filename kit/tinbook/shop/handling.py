"""What one person handles at a folding machine, so that the order of folds is one that people can work."""

from __future__ import annotations

from typing import Annotated

from tinbook.fields import FromZero, Number, Positive, Text, check_fields
from tinbook.values import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Handling:
    """Limits of handling; what a shop file does not say is a guess of the kit.

    Parameters
    ----------
    one_man : float
        Heaviest part that one person lifts, turns over or swings up, kg. The guess of 25 is the reference mass of
        ISO 11228-1 for lifting at ideal conditions (from memory).
    sag : float
        How far the free end of a flat sheet may hang down before a second person holds it, mm.
    table : float
        How far from the fold's line the sheet is carried (a folder's beam, a brake's front supports), mm.
    swing : float
        Mass times arc of its centre that counts as one unit of swinging, kg m: what stays below does not count.
    source : str
        Key of the sources registry.
    """

    one_man: Annotated[float, Number("kg", above=0)] = 25.0
    sag: Positive = 50.0
    table: FromZero = 0.0
    swing: Annotated[float, Number("kg*m", above=0)] = 1.0
    source: Annotated[str, Text()] = "own proposal"

    def __post_init__(self) -> None:
        check_fields(self, "handling")
