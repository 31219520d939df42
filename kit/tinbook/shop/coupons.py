"""What test strips told of the shop's own tools: frozen rows, fitted once and kept in the shop file."""

from __future__ import annotations

from typing import Annotated, Final, Protocol

from tinbook.errors import BadValue
from tinbook.fields import Choice, FromZero, Number, Positive, Text, check_fields
from tinbook.values import dataclass

RADIUS_FROM: Final = ("strips", "gauge", "tool")
GRAIN: Final = ("along", "across", "unknown")


@dataclass(frozen=True, slots=True, kw_only=True)
class BendCoupon:
    """Inside radius and K of a sheet on a tool, from folded test strips.

    Parameters
    ----------
    sheet, tool : str
        Keys.
    thickness : float
        Of the strips, mm.
    radius, k : float
        Inside radius, mm; K, part of the thickness.
    radius_band, k_band : float
        95 % half widths, both together.
    one_angle : float
        What a deduction at one angle needs of them, a part of 1.
    correlation : float
        Of the two, -1 to 1.
    scatter : float
        95 % half width of the next bend about the mean bend, mm of deduction.
    angle_min, angle_max : float
        Angles of the strips, degrees turned.
    strips : int
        Strips that count.
    radius_from : {"strips", "gauge", "tool"}
        What told the radius apart from K: strips at several angles, a radius gauge, or only the tool's rule.
    grain : {"along", "across", "unknown"}
        How the strips' folds ran to the rolling direction. Strips that did not crack prove folds like theirs.
    """

    sheet: Annotated[str, Text()]
    tool: Annotated[str, Text()]
    thickness: Positive
    radius: Positive
    k: Annotated[float, Number(least=-1, most=2)]
    radius_band: FromZero
    k_band: Annotated[float, Number(least=0)]
    one_angle: Annotated[float, Number(above=0, most=1)] = 1.0
    correlation: Annotated[float, Number(least=-1, most=1)] = 0.0
    scatter: FromZero = 0.0
    angle_min: Annotated[float, Number("deg", above=0, most=180)] = 90.0
    angle_max: Annotated[float, Number("deg", above=0, most=180)] = 90.0
    strips: Annotated[int, Number(least=2, most=10_000, whole=True)]
    radius_from: Annotated[str, Choice(RADIUS_FROM)] = "strips"
    grain: Annotated[str, Choice(GRAIN)] = "unknown"
    source: Annotated[str, Text()] = "own data"

    def __post_init__(self) -> None:
        where = f"coupon of '{self.sheet}' on '{self.tool}'"
        check_fields(self, where)
        if self.angle_max < self.angle_min:
            raise BadValue(f"{where} angle_max", self.angle_max, f"at least angle_min = {self.angle_min:g} deg")
        if self.radius + self.k * self.thickness <= 0.0:
            raise BadValue(
                f"{where} k", self.k, f"greater than -radius / thickness = {-self.radius / self.thickness:.3g}"
            )

    def proves(self, thickness: float, angle: float, along_grain: bool) -> bool:
        """Whether these strips show that a fold on their sheet and tool does not crack.

        Parameters
        ----------
        thickness, angle : float
            Of the fold, mm and degrees turned; strips up to 5 % thinner and 5 degrees less count (own proposal).
        along_grain : bool
            Whether the fold runs along the rolling direction; strips along it prove folds across it too.
        """
        same_way = self.grain == "along" or (self.grain == "across" and not along_grain)
        return same_way and thickness <= 1.05 * self.thickness and angle <= self.angle_max + 5.0


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawCoupon:
    """Draw factor of a roll pair, from beaded test strips.

    Parameters
    ----------
    roll : str
        Key of the roll pair.
    sheet : str
        Sheet of the strips.
    draw_factor : float
        0 all stretch, 1 all draw.
    band : float
        95 % half width.
    strips : int
        Strips that count.
    """

    roll: Annotated[str, Text()]
    sheet: Annotated[str, Text()]
    draw_factor: Annotated[float, Number(least=0, most=1)]
    band: Annotated[float, Number(least=0)]
    strips: Annotated[int, Number(least=2, most=10_000, whole=True)]
    source: Annotated[str, Text()] = "own data"

    def __post_init__(self) -> None:
        check_fields(self, f"draw of roll '{self.roll}'")


class Fitted(Protocol):
    """Whatever carries fitted rows, such as what `tb.coupons` answers."""

    @property
    def bends(self) -> tuple[BendCoupon, ...]:
        """Rows of folded strips."""
        ...

    @property
    def draws(self) -> tuple[DrawCoupon, ...]:
        """Rows of beaded strips."""
        ...


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
