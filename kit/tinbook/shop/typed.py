"""Bend numbers that a shop typed in: deductions and K-factors."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Final

from tinbook.fields import Number, Text, check_fields

ANY_TOOL: Final = "any"
OWN_DATA: Final = "own data"


@dataclass(frozen=True, slots=True, kw_only=True)
class TypedDeduction:
    """A bend deduction that the shop found for a sheet on a tool.

    Parameters
    ----------
    sheet, tool : str
        Keys.
    deduction : float
        mm; flat = sum of the outside legs less this. Legs at more than 90 degrees are
        taken to the tangent of the bend, as everywhere.
    angle : float
        Angle turned through at which it was found, degrees.
    """

    sheet: Annotated[str, Text()]
    tool: Annotated[str, Text()]
    deduction: Annotated[float, Number("mm")]
    angle: Annotated[float, Number("deg", above=0, most=180)] = 90.0
    source: Annotated[str, Text()] = OWN_DATA

    def __post_init__(self) -> None:
        check_fields(self, f"deduction of '{self.sheet}' on '{self.tool}'")


@dataclass(frozen=True, slots=True, kw_only=True)
class TypedK:
    """A K-factor that the shop wants for a sheet on a tool, or on "any" tool."""

    sheet: Annotated[str, Text()]
    tool: Annotated[str, Text()] = ANY_TOOL
    k: Annotated[float, Number(least=0, most=1)]
    source: Annotated[str, Text()] = OWN_DATA

    def __post_init__(self) -> None:
        check_fields(self, f"K of '{self.sheet}' on '{self.tool}'")
