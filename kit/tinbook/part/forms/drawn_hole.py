"""A drawn hole: a round opening with a flared lip, drawn through a smaller pilot by a punch and die."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import TYPE_CHECKING, Annotated, ClassVar, Self

from tinbook.calc.collars import pilot_before_drawing
from tinbook.errors import BadValue, OutOfRange
from tinbook.fields import Count, Number, Positive, Text
from tinbook.finding import Finding, Refused, caution, fine, stop
from tinbook.flatpattern import Cut, Direction, Mark
from tinbook.language import Said
from tinbook.part.features import SMALLEST_HOLE, At, Diameter
from tinbook.part.forms.form import Distance, Drawing, Form, KeepOff, MadeForm, Row, Setting, Work, check_step
from tinbook.part.forms.profiles import Turned
from tinbook.plane.loops import Edge, Loop, Move, Point, circle
from tinbook.values import dataclass

if TYPE_CHECKING:
    from tinbook.shop.shop import Shop

MIRROR = Move(a=-1.0)
USE = "drawn hole"
"""What it is called in hole tables, in the shop's tables and in what is read from foreign solids."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnHole(Form):
    """A round opening with a flared lip.

    Parameters
    ----------
    centre : (float, float)
        In the panel's coordinates.
    dia : float
        Finished diameter: the smallest, at the end of the lip.
    height : float
        Height of the lip above the face that it stands out on.
    angle : float
        Between lip and sheet: 90 is an upright collar.
    radius : float or None
        Inside radius of the bend from sheet to lip; None for the thickness of the sheet.
    direction : {"up", "down"}
        Side to which the lip stands out.
    size : str or None
        The die in the shop's table of drawn holes, which then gives the pilot.
    pilot : float or None
        Diameter that is cut before drawing, from a trial; None for the die's, or that of constant volume.
    copies : int
        How many times, including the first.
    step : (float, float)
        From one to the next.
    """

    TABLE: ClassVar[str] = "drawn_hole"
    TITLE: ClassVar[str] = "drawn hole"

    name: Annotated[str, Text(empty=True)] = ""
    panel: str = "base"
    centre: At
    dia: Diameter
    height: Positive
    angle: Annotated[float, Number("deg", least=20, most=90)] = 60.0
    radius: Positive | None = None
    direction: Direction = "up"
    size: str | None = None
    pilot: Diameter | None = None
    copies: Annotated[int, Count(1, 200)] = 1
    step: At = (0.0, 0.0)

    @property
    def where(self) -> str:
        """Its name, or its place where it has none yet."""
        return f"drawn hole {self.name!r}" if self.name else f"drawn hole at {self.centre}"

    def __post_init__(self) -> None:
        Form.__post_init__(self)
        check_step(self)
        if self.pilot is not None and self.size is not None:
            raise BadValue(
                f"{self.where} pilot", self.pilot, "none where a die is named by its size: the table gives it"
            )

    def made(self, on: Setting) -> Iterator[MadeDrawnHole]:
        """Resolve it on the shop's dies; without one the pilot has the volume of the lip."""
        t = on.thickness
        radius = t if self.radius is None else self.radius
        a = math.radians(self.angle)
        where, lip = f"drawn hole {self.name!r}", self.height - radius * (1 - math.cos(a))
        if lip <= 0.01:
            least = radius * (1 - math.cos(a)) + 0.01
            what = "the lip ends within its bend"
            raise Refused("drawnhole.lip", where, what, "a higher lip or a smaller radius", self.height, least)
        shape = MadeDrawnHole(
            name=self.name,
            centre=self.centre,
            dia=self.dia,
            height=self.height,
            angle=self.angle,
            radius=radius,
            direction=self.direction,
            thickness=t,
            size=self.size or "",
        )
        dia, why = self._pilot(on, shape)
        if not SMALLEST_HOLE <= dia < self.dia:
            what = f"no pilot is left to draw it from ({why})"
            raise Refused("drawnhole.pilot", where, what, "a lower lip, or a larger diameter", dia, self.dia)
        for k, name in enumerate(self.names):
            yield replace(
                shape,
                name=name,
                centre=(self.centre[0] + k * self.step[0], self.centre[1] + k * self.step[1]),
                pilot_dia=dia,
                pilot_from=why,
            )

    def _pilot(self, on: Setting, shape: MadeDrawnHole) -> tuple[float, str]:
        """Return the pilot's diameter in mm and whose number it is."""
        if self.pilot is not None:
            return self.pilot, "given in the part"
        if self.size is not None:
            try:
                row = on.shop.fixings.pressed_in(USE, self.size, on.thickness)
            except OutOfRange as wrong:
                raise Refused(
                    "drawnhole.die", f"drawn hole {self.name!r}", str(wrong), "another sheet or die, or give the pilot"
                ) from None
            return row.hole, f"table of dies, {row.source}"
        turned = shape.profile(on.thickness)
        return round(pilot_before_drawing(turned.volume, 2 * turned.foot, on.thickness), 2), "constant volume"


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeDrawnHole(MadeForm):
    """A drawn hole in a panel, in the panel's frame; lengths in mm, the angle in degrees."""

    KIND: ClassVar[str] = "drawn hole"
    CODE: ClassVar[str] = "drawnhole"

    name: str
    centre: Point
    dia: float
    height: float
    angle: float
    radius: float
    direction: Direction
    thickness: float
    size: str = ""
    pilot_dia: float = 0.0
    pilot_from: str = ""

    @property
    def foot(self) -> float:
        """Radius at which the sheet leaves the plane, mm."""
        a, t = math.radians(self.angle), self.thickness
        lip = (self.height - self.radius * (1 - math.cos(a))) / math.sin(a)
        return self.dia / 2 + t / 2 * math.sin(a) + lip * math.cos(a) + (self.radius + t / 2) * math.sin(a)

    @property
    def footprint(self) -> Loop:
        """Outline of all metal that leaves the plane."""
        return circle(self.centre, 2 * self.foot)

    @property
    def pilot(self) -> Loop:
        """The hole that the blank gets for it."""
        return circle(self.centre, self.pilot_dia)

    def profile(self, thickness: float) -> Turned:
        """Return its skins: a bend from the sheet, a straight lip, its rim square to it."""
        a, t, foot = math.radians(self.angle), thickness, self.foot
        s, c = math.sin(a), math.cos(a)
        length = (self.height - self.radius * (1 - c)) / s

        def skin(level: float) -> tuple[Edge, Edge]:
            """Return the bend and the lip at a level of the sheet, run from the foot."""
            rho = self.radius + t - level
            turn = (foot - rho * s, self.radius + t - rho * c)
            end = (turn[0] - length * c, turn[1] + length * s)
            # Inward and up about a centre above: clockwise in (distance, height).
            return Edge((foot, level), turn, -math.tan(a / 4)), Edge(turn, end)

        (out, lip), (below, under) = skin(t), skin(0.0)
        chain: tuple[Edge, ...] = (out, lip, Edge(lip.end, under.end), under.reversed(), below.reversed())
        middle = skin(t / 2)
        if self.direction == "down":
            over = Move(d=-1.0, v=t)
            chain = tuple(over.edge(e).reversed() for e in reversed(chain))
            middle = (over.edge(middle[0]), over.edge(middle[1]))
        return Turned(self.centre, chain, middle, t)

    def keep_off(self, thickness: float) -> KeepOff:
        """Return the least distances to what is beside it (common practice)."""
        away = "move it, or draw a smaller one"
        return KeepOff(
            fold=Distance(3 * thickness, "the die does not lie flat, or the fold pulls the lip out of round", away),
            edge=Distance(max(4 * thickness, 5.0), "the edge bulges as the hole is drawn", away),
            hole=Distance(
                3 * thickness, "lies in metal that drawing pulls", "move the hole, or drill it after drawing"
            ),
            other=Distance(2 * self.foot + 6 * thickness, "the die rests on the other lip", "space them out"),
            spine=self.centre,
        )

    def work(self, shop: Shop) -> Work:
        """Return its place in the order of work: like ones together, on the flat blank."""
        size = f"{self.dia:g} × {self.height:g} {self.direction}"
        what, why = (
            f"draw {{n}} holes {size} from pilots of {self.pilot_dia:g} mm",
            "flat, where the press reaches both sides",
        )
        return Work(key=f"{USE} {size}", what=what, who=shop.name, why=why)

    def drawn(self, flat: Move, carried: Callable[[Point], Point]) -> Drawing:
        """Return the pilot, which is cut."""
        centre = flat(carried(self.centre))
        return Drawing(cuts=(Cut(loop=circle(centre, self.pilot_dia), name=self.name, use=USE, dia=self.pilot_dia),))

    def marks(self, flat: Move) -> tuple[Mark, ...]:
        """Return the outline of what stands out, for the reader."""
        edges = tuple(flat.edge(e) for e in self.footprint.edges)
        return (Mark(kind="formed", edges=edges, label=f"{USE} {self.dia:g} × {self.height:g}", face=self.direction),)

    def sheet_thickness(self, thickness: float) -> float:
        """Return the thickness that its metal has by constant volume with the pilot that is cut."""
        turned = self.profile(thickness)
        ring = math.pi * (turned.foot**2 - self.pilot_dia**2 / 4)
        return thickness * ring * thickness / turned.volume

    def label(self) -> str:
        """Return its sizes."""
        return (
            f"{self.direction}\nfinished diameter {self.dia:g} mm, lip {self.height:g} mm at {self.angle:g}°\n"
            f"pilot {self.pilot_dia:g} mm ({self.pilot_from})"
        )

    def row(self, shop: Shop) -> Row:
        """Return what sheets and price say of it: pilot and finished size."""
        what = Said(
            "drawn hole Ø{dia:g}, lip {lip:g} at {angle:g}°, from pilot Ø{pilot:g}",
            dia=float(self.dia),
            lip=float(self.height),
            angle=float(self.angle),
            pilot=float(self.pilot_dia),
        )
        return Row(what=what, tool=self.size, way=self.direction, who=shop.name)

    def findings(self, on: Setting) -> Iterator[Finding]:
        """Yield whether the rim takes the stretch from pilot to finished size, and whose pilot it is."""
        strain = 100 * (self.dia / self.pilot_dia - 1)
        limit = on.sheet.material.elongation_percent / 2
        where = f"drawn hole {self.name!r}"
        if strain <= limit:
            yield fine("drawnhole.stretch", where, "stretch of the rim", strain, limit, "%")
        else:
            said, most = (caution, limit) if strain <= 4 * limit else (stop, 4 * limit)
            remedy = "a lower lip, a flatter angle, or a pilot that is reamed and deburred"
            yield said(
                "drawnhole.stretch", where, f"the rim may split in {on.sheet.material.key}", remedy, strain, most, "%"
            )
        if self.pilot_from == "constant volume":
            what = "pilots are worked out by constant volume: no die of the shop's table was named"
            remedy = (
                "draw one in a piece of the same sheet first, and put the pilot that proved right into the shop file"
            )
            yield caution("drawnhole.trial", "drawn holes", what, remedy, source="geometry")

    def mirrored(self) -> Self:
        """Return it reflected at x = 0 of its panel."""
        return replace(self, centre=(-self.centre[0], self.centre[1]))
