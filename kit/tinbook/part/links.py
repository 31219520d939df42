"""What holds members of an assembly beside bolts, and what rides on them: welds, hinges, latches, straps, rubber.

Gas struts, which also move, are in `movement`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Annotated, Final, Literal, TypeAlias

from tinbook.errors import BadValue
from tinbook.fields import Number, Positive, Several, Text, check_fields
from tinbook.part.movement import Movement, MovingStrut
from tinbook.space import SPACE, Frame, Vec, dot, plus, unit
from tinbook.values import dataclass

GROUND: Final = "ground"
"""Stands for what does not move; members that exist already count as it too."""

Place: TypeAlias = Annotated[Vec, Several(Number("mm"), 3, 3, "numbers x, y, z")]
Way: TypeAlias = Annotated[Vec, Several(Number(), 3, 3, "numbers x, y, z")]
Names: TypeAlias = Annotated[tuple[str, ...], Several(Text(), 0, what="names", once=True)]
Newton: TypeAlias = Annotated[float, Number("N", above=0)]
Sides: TypeAlias = Literal["one", "both", "all round"]

_SAME: Final = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Weld:
    """Two members that are welded to each other.

    Parameters
    ----------
    a, b : str
        Names of members; their solids must meet with a gap of 0 to 0.2 mm.
    throat : float
        Of the fillet, mm, greater than 0.
    length : float or None
        Of the weld on each side, mm, where it is stated; of the whole ring where it runs all round.
    sides : {"one", "both", "all round"}
        Sides of the upright plate that are welded; all round is one closed seam about a member.
    note : str
        For the shop: "tabs from below".
    """

    a: str
    b: str
    throat: Positive
    length: Positive | None = None
    sides: Sides = "one"
    note: Annotated[str, Text(empty=True)] = ""

    def __post_init__(self) -> None:
        check_fields(self, "weld")
        if self.a == self.b:
            raise BadValue("weld", self.a, "two different members")

    @property
    def both(self) -> bool:
        """Whether metal lies on both sides of the upright plate, as it does all round."""
        return self.sides != "one"

    @property
    def total(self) -> float | None:
        """Length of all that is welded, mm, where it is stated."""
        return 2 * self.length if self.length is not None and self.sides == "both" else self.length


@dataclass(frozen=True, slots=True, kw_only=True)
class Hinge:
    """Two members that turn on each other about a line and hold each other in every other way.

    Parameters
    ----------
    a : str
        What turns: a leaf that is screwed to the lid, or the lid itself.
    b : str
        What it turns on; "ground" or an existing member stands still.
    at : (float, float, float)
        Middle of its knuckle, assembly axes, mm.
    axis : (float, float, float)
        Direction of its line.
    width : float
        Of the knuckle along the line, mm.
    rated : float, optional
        What its maker lets it carry, N.
    """

    a: Annotated[str, Text()]
    b: Annotated[str, Text()]
    at: Place
    axis: Way
    width: Positive
    rated: Newton | None = None

    def __post_init__(self) -> None:
        check_fields(self, "hinge")
        _directed(self, "axis")

    def carried(self, a: Frame, b: Frame) -> Hinge:
        """Return it where its two members are carried by rigid moves; it stays on the second."""
        return replace(self, at=b(*self.at), axis=b.vector(*self.axis))


@dataclass(frozen=True, slots=True, kw_only=True)
class Latch:
    """What keeps a member where it stands, in one direction, both ways: a latch when shut, a hand or a stop when open.

    Parameters
    ----------
    a : str
        What is held.
    b : str
        What holds it; "ground" or an existing member stands still.
    at : (float, float, float)
        Where, assembly axes, mm.
    way : (float, float, float)
        Direction in which it holds.
    holes : tuple of str
        Names of holes in either member that it is fixed through; empty for the nearest metal.
    rated : float, optional
        What its maker lets it carry, N.
    """

    a: Annotated[str, Text()]
    b: Annotated[str, Text()] = GROUND
    at: Place
    way: Way
    holes: Names = ()
    rated: Newton | None = None

    def __post_init__(self) -> None:
        check_fields(self, "latch")
        _directed(self, "way")

    def carried(self, a: Frame, b: Frame) -> Latch:
        """Return it where its two members are carried by rigid moves; it stays on the first."""
        return replace(self, at=a(*self.at), way=a.vector(*self.way))


@dataclass(frozen=True, slots=True, kw_only=True)
class Strap:
    """One leg of a strap, or a latch that is pulled shut: it pulls toward what it is fixed to, and never pushes.

    Parameters
    ----------
    a : str
        What it holds: a bought item ("tank"), or a member ("lid").
    b : str
        What its end is fixed to; "ground" or an existing member stands still.
    at : (float, float, float)
        Where the leg leaves the item, assembly axes, mm.
    end : (float, float, float)
        Where it is fixed, mm.
    holes : tuple of str
        Names of holes in the second member that its pin or bolt goes through; empty for the nearest metal.
    tension : float
        At rest, N.
    section : float
        Width times thickness, mm².
    length : float
        Of the strap that gives with this leg, mm.
    youngs : float
        MPa.
    rated : float, optional
        Tension that strap, eye and stud bear, N.
    """

    a: Annotated[str, Text()]
    b: Annotated[str, Text()]
    at: Place
    end: Place
    holes: Names = ()
    tension: Newton
    section: Annotated[float, Number("mm^2", above=0)]
    length: Positive
    youngs: Annotated[float, Number("MPa", above=0)] = 205e3
    rated: Newton | None = None

    def __post_init__(self) -> None:
        check_fields(self, "strap")
        way = plus(self.end, self.at, -1.0)
        if dot(way, way) < 1e-12:
            raise BadValue("strap end", self.end, "a place away from where the leg leaves the item")

    def carried(self, a: Frame, b: Frame) -> Strap:
        """Return it where its two members are carried by rigid moves."""
        return replace(self, at=a(*self.at), end=b(*self.end))


@dataclass(frozen=True, slots=True, kw_only=True)
class Rubber:
    """Rubber that a bought item, or a lid, rests on: only pressed, never pulled.

    Parameters
    ----------
    a : str
        What rests: a bought item ("tank"), or a member of sheet on the seal of its frame ("lid").
    b : str
        The member that it rests on.
    panels : tuple of str
        Panels of the member that carry the rubber; empty for all.
    thickness : float
        Of the rubber in place, mm.
    hardness : float
        Shore A, 20 to 80.
    reach : float
        Metal of those panels up to this far from the metal that rests bears, mm.
    grip : float
        Friction: what the item may push along the rubber as a part of what presses it; with 0 it only guides.
    """

    a: Annotated[str, Text()]
    b: Annotated[str, Text()]
    panels: Names = ()
    thickness: Annotated[float, Number("mm", above=0, most=100)]
    hardness: Annotated[float, Number(least=20, most=80)] = 60.0
    reach: Annotated[float, Number("mm", above=0, most=200)] = 10.0
    grip: Annotated[float, Number(least=0, most=1)] = 0.3

    def __post_init__(self) -> None:
        check_fields(self, "rubber")

    def carried(self, a: Frame, b: Frame) -> Rubber:
        """Return it as it is: it lies where its two members meet."""
        return self


@dataclass(frozen=True, slots=True, kw_only=True)
class Laden:
    """What a member weighs with all that lies on it and moves with it: trim, mats, a seal, spread over it.

    Parameters
    ----------
    a : str
        The member.
    mass : float
        Of it with all that is on it, kg.
    """

    a: Annotated[str, Text()]
    mass: Annotated[float, Number("kg", above=0)]

    def __post_init__(self) -> None:
        check_fields(self, "laden")

    @property
    def b(self) -> str:
        """Nothing else."""
        return GROUND

    def carried(self, a: Frame, b: Frame) -> Laden:
        """Return it as it is."""
        return self


Link: TypeAlias = Hinge | Latch | Strap | Rubber | Laden | MovingStrut
KINDS: Final = {"hinge": Hinge, "latch": Latch, "strap": Strap, "rubber": Rubber, "laden": Laden, "strut": MovingStrut}
"""What each is called, in files and in words."""


def kind_of_link(link: Link) -> str:
    """Return what a link is called: "hinge", "latch", "strap", "rubber", "laden", "strut"."""
    return next(name for name, cls in KINDS.items() if isinstance(link, cls))


def after(link: Link, movement: Movement, carried: Frame, strut_at: Callable[[str], Frame]) -> Link:
    """Return a link once a movement has carried its members; `strut_at` says where a strut stood before."""
    if isinstance(link, MovingStrut):
        follows = any(s.member == link.member for s in movement.struts)
        return replace(link, length=link.at(strut_at(link.member), carried)[1]) if follows else link
    a, b = (carried if name in movement.members else SPACE for name in (link.a, link.b))
    return link.carried(a, b)


def _directed(link: Hinge | Latch, name: str) -> None:
    way: Vec = getattr(link, name)
    # As it was worked out, where it is a direction already: a file gives it back to the last digit.
    if abs(dot(way, way) - 1.0) > _SAME:
        object.__setattr__(link, name, unit(way))
