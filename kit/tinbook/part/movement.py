"""What moves in an assembly: which members, about which axis or along which way, how far from where they are drawn."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Annotated, Final, Literal

from tinbook.calc.struts import GasStrut
from tinbook.errors import BadValue, of_kind
from tinbook.fields import Number, Positive, Several, Text, check_fields
from tinbook.space import Frame, Vec, cross, dot, plus, unit
from tinbook.values import dataclass

UNIT: Final = {"turn": "deg", "slide": "mm"}


@dataclass(frozen=True, slots=True, kw_only=True)
class MovingStrut:
    """A gas strut between what moves and what stays.

    Parameters
    ----------
    member : str
        Its name; its own (0, 0, 0) moves, its other end stays.
    strut : GasStrut
        What it is.
    length : float
        Between its joints as it is drawn, mm.
    a, b : str
        What its moving and its other end are fixed to, for `Assembly.linked`; "ground" or an existing member stands still.
    holes : tuple of str
        Names of holes in either that its ball studs go through; empty for the nearest metal.
    """

    member: Annotated[str, Text()]
    strut: GasStrut
    length: Positive
    a: Annotated[str, Text(empty=True)] = ""
    b: Annotated[str, Text(empty=True)] = ""
    holes: Annotated[tuple[str, ...], Several(Text(), 0, what="names", once=True)] = ()

    def __post_init__(self) -> None:
        of_kind(self.strut, GasStrut, "strut", "a tb.calc.struts.GasStrut")
        check_fields(self, "moving strut")

    def carried(self, a: Frame, b: Frame) -> MovingStrut:
        """Return it as it is: it stands where its member stands."""
        return self

    def at(self, place: Frame, carried: Frame) -> tuple[Frame, float]:
        """Return where it stands, and its length, once the moving end of a strut at `place` is carried off."""
        top, foot = carried(*place.origin), place(0.0, 0.0, self.length)
        way = plus(foot, top, -1.0)
        z = unit(way)
        # Its x keeps its direction as far as the new axis lets it.
        x = unit(plus(place.x, z, -dot(place.x, z)))
        return Frame(top, x, cross(z, x), z), math.hypot(*way)


@dataclass(frozen=True, slots=True, kw_only=True)
class Movement:
    """Members that turn about an axis or slide along a way together; amount 0 is as they are drawn.

    Parameters
    ----------
    name : str
        What one does: "lid opens".
    kind : {"turn", "slide"}
        About the axis, or along it.
    members : tuple of str
        Names of what moves.
    axis : (float, float, float)
        Direction in the assembly's coordinates, of length 1; a turn is right-handed about it.
    at : (float, float, float)
        A point of the axis, mm.
    low, high : float
        Least and largest amount, degrees or mm; 0 lies within.
    struts : tuple of MovingStrut
        Struts that follow: each is as long as its two ends make it.
    """

    name: Annotated[str, Text(most=60)]
    kind: Literal["turn", "slide"]
    members: Annotated[tuple[str, ...], Several(Text(), what="names of members", once=True)]
    axis: Vec
    at: Vec = (0.0, 0.0, 0.0)
    low: Annotated[float, Number(most=0.0)] = 0.0
    high: Annotated[float, Number(least=0.0)]
    struts: tuple[MovingStrut, ...] = ()

    def __post_init__(self) -> None:
        check_fields(self, f"movement {self.name!r}")
        for one in self.struts:
            of_kind(one, MovingStrut, f"movement {self.name!r} struts", "a MovingStrut for each")
        most = 360.0 if self.kind == "turn" else 1e4
        if not self.low < self.high or max(-self.low, self.high) > most:
            valid = f"two different amounts from -{most:g} to {most:g} {self.unit} with 0 among them"
            raise BadValue(f"movement {self.name!r} by", (self.low, self.high), valid)

    @property
    def unit(self) -> str:
        """Unit of an amount: "deg" or "mm"."""
        return UNIT[self.kind]

    @property
    def ends(self) -> tuple[float, ...]:
        """Its ends, where they are not the place in which it is drawn."""
        return tuple(v for v in (self.low, self.high) if v)

    def carried(self, amount: float) -> Frame:
        """Return the rigid move by an amount, in the assembly's coordinates."""
        n = self.axis
        if self.kind == "slide":
            return Frame((n[0] * amount, n[1] * amount, n[2] * amount))
        c, s = math.cos(math.radians(amount)), math.sin(math.radians(amount))

        def turned(v: Vec) -> Vec:
            # Rodrigues' formula.
            return plus(plus((c * v[0], c * v[1], c * v[2]), cross(n, v), s), n, (1 - c) * dot(n, v))

        x, y, z = turned((1.0, 0.0, 0.0)), turned((0.0, 1.0, 0.0)), turned((0.0, 0.0, 1.0))
        return Frame(plus(self.at, turned(self.at), -1.0), x, y, z)

    def placed(self, at: Frame) -> Movement:
        """Return the movement of an assembly that stands elsewhere."""
        return replace(self, axis=at.vector(*self.axis), at=at(*self.at))
