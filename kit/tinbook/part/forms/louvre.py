"""A louvre: a vent pressed in one stroke; the die lances a straight slit and raises a hood on one side of it.

The hood is half of a straight bead, cut lengthwise in the plane of its centre line: at the slit it stands open with both
skins parallel, it runs down to the sheet on the far side, and round both ends in quarter turns. Nothing is cut away.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import lru_cache
from typing import TYPE_CHECKING, Annotated, ClassVar, Self

import numpy as np

from tinbook.calc.beads import stretch
from tinbook.errors import BadValue, OutOfRange
from tinbook.fields import Count, Positive, Text
from tinbook.finding import Finding, Refused, caution, fine, stop
from tinbook.flatpattern import Direction, FormLine, Mark
from tinbook.language import Said
from tinbook.part.features import At, Degrees
from tinbook.part.forms.beadshape import BeadProfile
from tinbook.part.forms.form import Distance, Drawing, Form, KeepOff, MadeForm, Row, Setting, Work, check_step
from tinbook.part.forms.profiles import Lanced, Swept
from tinbook.plane.loops import Edge, Loop, Move, Point
from tinbook.tolerances import LANCED_GAP
from tinbook.values import dataclass

if TYPE_CHECKING:
    from tinbook.shop.shop import Shop

LEAST_CROWN = 1.0
"""mm: straight crown between the ends of a hood, which a die has at least (own proposal)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Louvre(Form):
    """A pressed vent. A hood that opens forward, or up, lets rain and spray in.

    Parameters
    ----------
    centre : (float, float)
        Middle of the slit, in the panel's coordinates.
    turn : float
        Of the slit from the panel's x; at 0 the hood lies toward larger y and opens toward smaller y.
    length : float or None
        Of the slit, from end to end of the hood.
    reach : float or None
        From the slit to the foot of the hood.
    opening : float or None
        Clear height under the hood at the slit, above the face of the sheet.
    radius : float or None
        Inside radius at the foot of the hood; None for the thickness of the sheet.
    direction : {"up", "down"}
        Side to which the hood stands out.
    die : str or None
        Louvre die of the shop; it gives the four sizes, and none of them is stated here.
    copies : int
        How many times, including the first.
    step : (float, float)
        From one to the next.
    """

    TABLE: ClassVar[str] = "louvre"
    TITLE: ClassVar[str] = "louvre"

    name: Annotated[str, Text(empty=True)] = ""
    panel: str = "base"
    centre: At
    turn: Degrees = 0.0
    length: Positive | None = None
    reach: Positive | None = None
    opening: Positive | None = None
    radius: Positive | None = None
    direction: Direction = "up"
    die: str | None = None
    copies: Annotated[int, Count(1, 200)] = 1
    step: At = (0.0, 0.0)

    @property
    def where(self) -> str:
        """Its name, or its place where it has none yet."""
        return f"louvre {self.name!r}" if self.name else f"louvre at {self.centre}"

    def __post_init__(self) -> None:
        Form.__post_init__(self)
        check_step(self)
        for size in ("length", "reach", "opening", "radius"):
            value = getattr(self, size)
            if self.die is not None and value is not None:
                raise BadValue(f"{self.where} {size}", value, "none where a die is named: the shop's table gives it")
            if self.die is None and value is None and size != "radius":
                raise BadValue(
                    f"{self.where} {size}", value, "a length in mm, or the name of a die instead of all sizes"
                )

    def made(self, on: Setting) -> Iterator[MadeLouvre]:
        """Resolve it on the shop's dies, or to its own sizes; copies are told apart by a number."""
        t, where = on.thickness, f"louvre {self.name!r}"
        length, reach, height, radius = self._sizes(on)
        opening = height - t
        remedy = "other sizes, or another die or sheet"
        if opening <= 0:
            raise Refused("louvre.shape", where, "the die does not lift it clear of the sheet", remedy, height, t)
        if height > reach:
            what = "the hood is higher than it reaches: opening and sheet together"
            raise Refused("louvre.shape", where, what, remedy, height, reach)
        if length < 2 * reach + LEAST_CROWN:
            what = "the ends of its hood meet: each takes the reach off the slit"
            raise Refused("louvre.shape", where, what, remedy, length, 2 * reach + LEAST_CROWN)
        try:
            BeadProfile(width=2 * reach, depth=height, shoulder=radius, thickness=t)
        except OutOfRange:
            what = "no room for the two bends of its hood"
            most = (reach**2 + height**2) / (2 * height) - t
            raise Refused(
                "louvre.shape", where, what, "a smaller radius, a lower or a longer hood", radius, most
            ) from None
        for k, name in enumerate(self.names):
            yield MadeLouvre(
                name=name,
                centre=(self.centre[0] + k * self.step[0], self.centre[1] + k * self.step[1]),
                turn=self.turn,
                length=length,
                reach=reach,
                opening=opening,
                radius=radius,
                direction=self.direction,
                thickness=t,
                die=self.die or "",
            )

    def _sizes(self, on: Setting) -> tuple[float, float, float, float]:
        """Return length, reach, height over the flat and inside radius, mm: the die's, or its own."""
        if self.die is None:
            assert self.length is not None
            assert self.reach is not None
            assert self.opening is not None
            radius = on.thickness if self.radius is None else self.radius
            return self.length, self.reach, self.opening + on.thickness, radius
        try:
            die = on.shop.fixings.louvre_die(self.die, on.thickness)
        except OutOfRange as wrong:
            remedy = "another sheet or die, or sizes of its own"
            raise Refused("louvre.die", f"louvre {self.name!r}", str(wrong), remedy) from None
        return die.length, die.reach, die.height, die.radius


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeLouvre(MadeForm):
    """A louvre in a panel, in the panel's frame; lengths in mm, the turn in degrees."""

    KIND: ClassVar[str] = "louvre"
    CODE: ClassVar[str] = "louvre"

    name: str
    centre: Point
    turn: float
    length: float
    reach: float
    opening: float
    radius: float
    direction: Direction
    thickness: float
    die: str = ""

    @property
    def alike(self) -> str:
        """Its sizes, on which its findings depend."""
        return f"{self.length:g} × {self.reach:g}, opening {self.opening:g}, {self.radius:g}, {self.die}"

    @property
    def section(self) -> BeadProfile:
        """Section of the bead that its hood is half of."""
        height = self.opening + self.thickness
        return BeadProfile(width=2 * self.reach, depth=height, shoulder=self.radius, thickness=self.thickness)

    def profile(self, thickness: float) -> Lanced:
        """Return its skins."""
        return _shaped(self)[0]

    @property
    def footprint(self) -> Loop:
        """Outline of all metal that leaves the plane, and of the slit."""
        return _shaped(self)[1]

    @property
    def pilot(self) -> None:
        """Nothing is cut for it: the die lances the slit."""

    @property
    def vent(self) -> float:
        """Free area of the opening in the plane of the slit, mm²: from the face of the sheet to the underside of the hood."""
        away, height = self.section.stations(hollow=True, step_rad=0.005).T
        ends = np.trapezoid(np.maximum(height - self.thickness, 0.0), -away)
        return (self.length - 2 * self.reach) * self.opening + 2 * float(ends)

    def keep_off(self, thickness: float) -> KeepOff:
        """Return the least distances to what is beside it (common practice)."""
        away = "move it, or press a smaller one"
        return KeepOff(
            fold=Distance(3 * thickness, "the die does not lie flat, or the fold pulls the hood out of shape", away),
            edge=Distance(max(4 * thickness, 5.0), "the edge bulges as the hood is raised", away),
            hole=Distance(
                3 * thickness, "lies in metal that the die pulls", "move the hole, or drill it after pressing"
            ),
            other=Distance(max(6 * thickness, 8.0), "the die rests on the other hood", "space them out"),
            spine=self.footprint.edges,
        )

    def work(self, shop: Shop) -> Work:
        """Return its place in the order of work: like ones together, on the flat blank."""
        size = f"{self.length:g} × {self.reach:g}, opening {self.opening:g} {self.direction}"
        why = "flat, before beads and folds: the die clamps flat sheet on both sides of the slit"
        return Work(key=f"louvre {size} {self.die}", what=f"press {{n}} louvres {size}", who=shop.name, why=why)

    def drawn(self, flat: Move, carried: Callable[[Point], Point]) -> Drawing:
        """Return the slit, on which the die is set, and a stroke from its middle toward the hood."""
        at = Move.turn(self.turn)
        middle = carried(self.centre)
        place = flat.after(Move(u=middle[0], v=middle[1]).after(at))
        slit = place.edge(Edge((-self.length / 2, 0.0), (self.length / 2, 0.0)))
        toward = place.edge(Edge((0.0, 0.0), (0.0, self.reach)))
        line = FormLine(name=self.name, what="louvre", direction=self.direction, edges=(slit,))
        # On the face that cutters etch, whichever way the hood goes: the slit is in the same place on both.
        mark = Mark(kind="form", edges=(slit, toward), label=f"{self.name} die, {self.direction}")
        return Drawing(guides=(mark,), lines=(line,))

    def marks(self, flat: Move) -> tuple[Mark, ...]:
        """Return the outline of what stands out, for the reader."""
        edges = tuple(flat.edge(e) for e in self.footprint.edges)
        return (
            Mark(kind="formed", edges=edges, label=f"louvre {self.length:g} × {self.reach:g}", face=self.direction),
        )

    def sheet_thickness(self, thickness: float) -> float:
        """Return the mean thickness of its hood: its metal is what lay flat there."""
        whole = self.profile(thickness).whole
        return thickness * whole.area * thickness / whole.volume

    def label(self) -> str:
        """Return its sizes and its free area."""
        die = f", die {self.die}" if self.die else ""
        return (
            f"{self.direction}\nslit {self.length:g} mm, reach {self.reach:g} mm, opening {self.opening:g} mm{die}\n"
            f"free area {self.vent:.0f} mm²"
        )

    def row(self, shop: Shop) -> Row:
        """Return what sheets and price say of it."""
        what = Said(
            "louvre {length:g} × {reach:g}, opening {opening:g}, free area {vent:.0f} mm²",
            length=float(self.length),
            reach=float(self.reach),
            opening=float(round(self.opening, 2)),
            vent=self.vent,
        )
        return Row(what=what, tool=self.die, way=self.direction, who=shop.name)

    def findings(self, on: Setting) -> Iterator[Finding]:
        """Yield whether the hood takes the stretch, and whether a die is named.

        The stretch is estimated from lengths alone: the ends of the hood, and the metal across it, are as long as its
        arc, where flat sheet as long as its reach lay. Across the hood the slit lets metal follow, so there it is less.
        """
        where, material = f"louvres {self.length:g} × {self.reach:g}", on.sheet.material
        strain = 100 * stretch(2 * self.reach, self.opening + self.thickness)
        limit = material.elongation_percent / 2
        what, remedy = (
            "stretch at the ends of the hood, by its arc",
            "a lower opening, a longer reach, or a softer grade",
        )
        if strain <= limit:
            yield fine("louvre.stretch", where, what, strain, limit, "%")
        else:
            said, most = (stop, 2 * limit) if strain > 2 * limit else (caution, limit)
            yield said("louvre.stretch", where, f"{material.key} may split: {what}", remedy, strain, most, "%")
        if not self.die:
            what, remedy = (
                "no die of the shop's table was named",
                "name one, or have one made and press a trial in scrap",
            )
            yield caution("louvre.trial", "louvres", what, remedy)

    def mirrored(self) -> Self:
        """Return it reflected at x = 0 of its panel."""
        return replace(self, centre=(-self.centre[0], self.centre[1]), turn=-self.turn)


@lru_cache(maxsize=1024)
def _shaped(form: MadeLouvre) -> tuple[Lanced, Loop]:
    """Return the skins of a louvre and its footprint; a slider leaves most of them as they were."""
    at, half = Move(u=form.centre[0], v=form.centre[1]).after(Move.turn(form.turn)), form.length / 2 - form.reach
    whole = Swept((at.edge(Edge((-half, 0.0), (half, 0.0))),), form.section, form.direction == "up")
    lanced = Lanced(whole, LANCED_GAP)
    return lanced, lanced.footprint
