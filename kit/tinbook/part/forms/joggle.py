"""A joggle: a stepped lap along an edge, so that a mating sheet lies flush on it.

The step is two bends of one angle, one back from the other, formed in one stroke. The edge is drawn where the step
begins: where the outside faces of panel and step would meet. Beyond the step lies the lap.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING, Annotated, ClassVar, Self

from tinbook.errors import OutOfRange
from tinbook.fields import FromZero, Number, Positive, Text
from tinbook.finding import Finding, Refused, caution, fine, stop
from tinbook.flatpattern import Direction
from tinbook.language import Said
from tinbook.part.features import Fold
from tinbook.part.forms.form import Distance, Form, KeepOff, Plain, Row, Setting, Work
from tinbook.plane.loops import Edge, Move
from tinbook.values import dataclass

if TYPE_CHECKING:
    from tinbook.part.part import Part
    from tinbook.shop.shop import Shop

SHORTEST = 0.3
"""mm: straight sheet between the two bends, which keeps them apart in the die (own proposal)."""

FLATTEST, STEEPEST = 15.0, 75.0
"""Degrees that a joggle's step may stand at: flatter it runs out too far, steeper the die wedges (own proposal)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Joggle(Form):
    """A stepped lap along a straight edge of the base.

    Parameters
    ----------
    edge : str
        Edge of the base, the whole of it; nothing else may be folded on it.
    lap : float
        Width of the flat lap beyond the step, on which the mating sheet lies.
    mate : str
        Sheet of the shop that lies on the lap; "" for the part's own.
    gap : float
        Room between the sheets for paint or sealer.
    step : float or None
        Offset of the lap; None for the mating sheet and the gap.
    direction : {"up", "down"}
        Side to which the lap is stepped; the mating sheet lies on the other side, flush with the panel.
    angle : float or None
        Of the step; None for 45 degrees, or as steep as the offset allows.
    radius : float or None
        Inside radius of both bends; None for the thickness of the sheet.
    """

    TABLE: ClassVar[str] = "joggle"
    TITLE: ClassVar[str] = "joggle"

    name: Annotated[str, Text(empty=True)] = ""
    edge: str
    lap: Positive
    mate: Annotated[str, Text(empty=True)] = ""
    gap: FromZero = 0.2
    step: Positive | None = None
    direction: Direction = "down"
    angle: Annotated[float, Number("deg", least=FLATTEST, most=STEEPEST)] | None = None
    radius: Positive | None = None

    @property
    def where(self) -> str:
        """Its name, or its edge where it has no name yet."""
        return f"joggle {self.name!r}" if self.name else f"joggle on edge {self.edge!r}"

    @property
    def panel(self) -> str:
        """The base: a joggle is formed along an edge of it."""
        return "base"

    @property
    def zones(self) -> tuple[str, str]:
        """Names of its two bends, and of the panels beyond them: the step and the lap."""
        return f"{self.name} step", f"{self.name} lap"

    def bends(self, on: Setting) -> tuple[Fold, Fold]:
        """Return its two bends; the second turns back what the first turned."""
        self._on_a_free_edge(on.part)
        t, made = on.thickness, self._resolved(on)
        a = math.radians(made.angle)
        setback = (made.radius + t) * math.tan(a / 2)
        back: Direction = "up" if self.direction == "down" else "down"
        step, lap = self.zones
        first = Fold(
            name=step,
            panel="base",
            edge=self.edge,
            direction=self.direction,
            angle=made.angle,
            radius=made.radius,
            leg=(2 * setback + made.straight,) * 2,
            curl=True,
        )
        second = Fold(
            name=lap,
            panel=step,
            edge="end",
            direction=back,
            angle=made.angle,
            radius=made.radius,
            leg=(setback + self.lap,) * 2,
            curl=True,
        )
        return first, second

    def made(self, on: Setting) -> tuple[MadeJoggle]:
        """Resolve it: offset, angle and radii."""
        return (self._resolved(on),)

    def _resolved(self, on: Setting) -> MadeJoggle:
        t = on.thickness
        radius = t if self.radius is None else self.radius
        mate = on.shop.sheet_by_key(self.mate).thickness if self.mate else t
        step = mate + self.gap if self.step is None else self.step
        where, middle = f"joggle {self.name!r}", radius + t / 2
        angle = 45.0 if self.angle is None else self.angle
        straight = _straight(step, middle, angle)
        if straight < SHORTEST and self.angle is None:
            # Two bends alone step 2 r (1 - cos a): a shallow offset wants a flatter step.
            steps = (a / 10 for a in range(450, int(10 * FLATTEST) - 1, -1))
            angle = next((a for a in steps if _straight(step, middle, a) >= SHORTEST), FLATTEST)
            straight = _straight(step, middle, angle)
        if straight < SHORTEST - 1e-9:
            what = "the step is too low for its two bends"
            remedy = "a smaller radius, a flatter angle, or a deeper step"
            least = step + (SHORTEST - straight) * math.sin(math.radians(angle))
            raise Refused("joggle.step", where, what, remedy, step, least)
        edge = on.part.base.edge(self.edge)
        return MadeJoggle(
            name=self.name,
            edge=edge,
            step=step,
            mate=mate,
            gap=self.gap if self.step is None else step - mate,
            lap=self.lap,
            angle=angle,
            radius=radius,
            straight=straight,
            direction=self.direction,
            thickness=t,
        )

    def _on_a_free_edge(self, part: Part) -> None:
        """Refuse an edge that cannot carry the step."""
        where, edge = f"joggle {self.name!r}", f"edge {self.edge!r}"
        if self.edge not in part.base.names:
            remedy = "an edge of the base: " + ", ".join(part.base.names)
            raise Refused("joggle.edge", where, f"the base has no {edge}", remedy)
        if not part.base.edge(self.edge).is_line:
            remedy = "a straight edge of the base, or a part in two panels"
            raise Refused("joggle.edge", where, f"{edge} is not straight", remedy)
        if any(f.panel == "base" and f.edge == self.edge for f in part.folds):
            remedy = "an edge of the base that nothing is folded on"
            raise Refused("joggle.edge", where, f"{edge} carries a fold", remedy)
        if sum(f.edge == self.edge for f in part.forms_of(Joggle)) > 1 or set(self.zones) & set(part.panels):
            what = f"{edge} carries another joggle, or a fold has its name"
            raise Refused("joggle.edge", where, what, "one joggle to an edge, another name")

    def welded(self, outer: Part, edge: str, pitch: float, **given: object) -> Part:
        """Return the mating part with its plug welds: holes in the outer sheet, on the torch side, over the lap's middle.

        Parameters
        ----------
        outer : Part
            What lies on the lap, with `edge` along the step.
        edge : str
            Its edge that lies on the lap.
        pitch : float
            mm between welds.
        **given
            More for `Part.holes_along`: dia, count, name.
        """
        return outer.holes_along(edge, pitch=pitch, inset=self.lap / 2, use="plug weld", **given)  # type: ignore[arg-type]


def _straight(step: float, middle: float, angle: float) -> float:
    """Return the straight length between two bends of mean radius `middle` that step by `step` at an angle, mm."""
    a = math.radians(angle)
    return (step - 2 * middle * (1 - math.cos(a))) / math.sin(a)


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeJoggle(Plain):
    """A joggle on the base panel; lengths in mm, the angle in degrees.

    Parameters
    ----------
    edge : Edge
        Where it begins.
    step, mate, gap : float
        Offset of the lap, thickness of the mating sheet, room between the two.
    straight : float
        Length of the step between its bends.
    """

    KIND: ClassVar[str] = "joggle"
    CODE: ClassVar[str] = "joggle"

    name: str
    edge: Edge
    step: float
    mate: float
    gap: float
    lap: float
    angle: float
    radius: float
    straight: float
    direction: Direction
    thickness: float

    @property
    def zones(self) -> tuple[str, ...]:
        """Names of its bends."""
        return f"{self.name} step", f"{self.name} lap"

    @property
    def seat(self) -> tuple[float, float]:
        """Where the flat of the lap begins beyond the drawn edge, and how high the lap's own face lies over the panel's, mm."""
        a = math.radians(self.angle)
        setback = (self.radius + self.thickness) * math.tan(a / 2)
        run = 2 * (self.radius + self.thickness / 2) * math.sin(a) + self.straight * math.cos(a)
        return run - setback, self.step if self.direction == "up" else -self.step

    def keep_off(self, thickness: float) -> KeepOff:
        """Return the least distances to what is beside the step (common practice)."""
        return KeepOff(
            fold=Distance(
                3 * thickness, "the joggling die does not reach the corner", "end the fold short of the edge"
            ),
            edge=Distance(0.0, "the step runs out there", "nothing to be done"),
            hole=Distance(
                3 * thickness, "lies in metal that the step pulls", "move the hole, or drill it after joggling"
            ),
            other=Distance(0.0, "the dies meet", "joggle one edge after the other"),
            spine=(self.edge,),
        )

    def work(self, shop: Shop) -> Work:
        """Return its place in the order of work."""
        what = f"joggle {{n}} edge, {self.step:.2f} {self.direction} ({self.name})"
        why = "flat, before a fold stands in the way of the die"
        return Work(key=f"joggle {self.name}", what=what, who=shop.name, why=why)

    def label(self) -> str:
        """Return its sizes."""
        return (
            f"{self.direction}\nstep {self.step:.2f} mm for a sheet of {self.mate:g} mm and {self.gap:g} mm of paint or sealer\n"
            f"{self.angle:g}°, inside radius {self.radius:g} mm, lap {self.lap:g} mm"
        )

    def row(self, shop: Shop) -> Row:
        """Return what sheets and price say of it."""
        what = Said(
            "joggle, step {step:.2f} at {angle:g}°, lap {lap:g}, for {mate:g} + {gap:g}",
            step=self.step,
            angle=float(self.angle),
            lap=float(self.lap),
            mate=float(self.mate),
            gap=float(self.gap),
        )
        return Row(what=what, tool="", way=self.direction, who=shop.name, length=round(self.edge.length, 1))

    def findings(self, on: Setting) -> Iterator[Finding]:
        """Yield whether the mating sheet comes flush, and whether its plug welds fit on the lap."""
        where = f"joggle {self.name!r}"
        numbers, remedy = (
            (self.step, self.mate, "mm", "geometry"),
            "a deeper step: the mating sheet and what lies between",
        )
        if self.gap < -1e-9:
            yield stop("joggle.flush", where, "the mating sheet stands proud of the panel", remedy, *numbers)
        elif self.gap < 1e-9:
            what = "the mating sheet comes flush only bare: no room for paint or sealer"
            yield caution("joggle.flush", where, what, remedy, *numbers)
        else:
            yield fine("joggle.flush", where, "the mating sheet comes flush", *numbers)
        try:
            weld = on.shop.fixings.plug_weld(self.mate)
        except OutOfRange as wrong:
            what = f"whether plug welds fit on the lap is not known ({wrong})"
            remedy = "complete the shop's table of plug welds, or rivet or bond the lap"
            yield caution("joggle.weld", where, what, remedy)
            return
        least, welds = 2 * weld.edge, f"plug welds of {weld.hole:g} mm"
        if self.lap < least:
            yield caution(
                "joggle.weld", where, f"{welds} come near the edges of the lap", "a wider lap", self.lap, least
            )
        else:
            yield fine("joggle.weld", where, f"{welds} fit on the lap", self.lap, least)

    def mirrored(self) -> Self:
        """Return it reflected at x = 0 of its panel."""
        return replace(self, edge=Move(a=-1.0).edge(self.edge).reversed())
