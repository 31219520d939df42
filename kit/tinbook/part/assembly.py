"""Assemblies: parts and bought items placed together, their names, quantities and welds."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import field, replace
from typing import Annotated, Any, Literal, TypeAlias

from tinbook.errors import BadValue, UnknownName, of_kind
from tinbook.fields import check_fields
from tinbook.part.bought import Bought, gas_strut
from tinbook.part.links import GROUND, KINDS, Link, Sides, Weld, after
from tinbook.part.movement import Movement, MovingStrut
from tinbook.part.names import NUMBER, REVISION, SENTENCES, TITLE, free_name
from tinbook.part.part import Part
from tinbook.part.provenance import Provenance
from tinbook.space import Frame, Vec, frame_at, three, unit
from tinbook.units import Angle, Length, angle, length
from tinbook.values import dataclass

Thing: TypeAlias = Part | Bought
MemberKind = Literal["part", "bought", "existing"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """One thing at its place.

    Parameters
    ----------
    name : str
        Its own name in the assembly ("cheek left").
    thing : Part or Bought
        What it is; the same value may stand in several places.
    at : Frame
        Where its own frame stands: a part's is that of its base panel.
    flexible : bool
        Whether it is put on by bending: a strap, a gasket, rubber.
    """

    name: str
    thing: Thing
    at: Frame
    flexible: bool = False

    @property
    def kind(self) -> MemberKind:
        """Whether it is made, bought, or was there before."""
        if isinstance(self.thing, Part):
            return "part"
        return "existing" if self.thing.existing else "bought"

    @property
    def label(self) -> str:
        """Part number and revision, or the bought item's name."""
        return f"{self.thing.number} rev {self.thing.rev}" if isinstance(self.thing, Part) else self.thing.name


@dataclass(frozen=True, slots=True, init=False)
class Assembly:
    """Things placed together; each method returns a new assembly.

    Parameters
    ----------
    number, rev, title : str
        As for a part.
    cautions : tuple of str
        What must be printed with it.

    Attributes
    ----------
    movements : tuple of Movement
        What moves in it, as `turning` and `sliding` declare it.
    links : tuple of Hinge, Latch, Strap, Rubber, Laden, MovingStrut
        What holds members beside welds and bolts, as `linked` declares it.
    """

    number: Annotated[str, NUMBER]
    rev: Annotated[str, REVISION]
    title: Annotated[str, TITLE]
    members: tuple[Placed, ...]
    welds: tuple[Weld, ...]
    explode: tuple[tuple[str, Vec], ...]
    movements: tuple[Movement, ...]
    links: tuple[Link, ...]
    cautions: Annotated[tuple[str, ...], SENTENCES]
    provenance: Provenance | None = field(repr=False, compare=False)  # None once it was changed by hand

    def __init__(self, number: str, *, rev: str = "A", title: str = "", cautions: tuple[str, ...] = ()) -> None:
        values = {"number": number, "rev": rev, "title": title, "cautions": cautions}
        empty = {"members": (), "welds": (), "explode": (), "movements": (), "links": (), "provenance": None}
        for name, value in {**values, **empty}.items():
            object.__setattr__(self, name, value)
        check_fields(self, "assembly")

    def _changed(self, **values: object) -> Assembly:
        new = object.__new__(Assembly)
        values.setdefault("provenance", None)
        for name in Assembly.__slots__:
            object.__setattr__(new, name, values.get(name, getattr(self, name)))
        return new

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the members in order."""
        return tuple(m.name for m in self.members)

    def member(self, name: str) -> Placed:
        """Return a member by name."""
        for m in self.members:
            if m.name == name:
                return m
        raise UnknownName("member", name, self.names)

    @property
    def parts(self) -> tuple[Part, ...]:
        """The different parts, each once, in the order in which they come."""
        return tuple(dict.fromkeys(m.thing for m in self.members if isinstance(m.thing, Part)))

    @property
    def every_caution(self) -> tuple[str, ...]:
        """What must be printed with it: its own cautions and those of its parts, each once."""
        return tuple(dict.fromkeys((*self.cautions, *(c for p in self.parts for c in p.cautions))))

    def quantity(self, thing: Thing) -> int:
        """Return how many members are this thing."""
        return sum(m.thing == thing for m in self.members)

    def add(self, name: str, thing: Thing, at: Frame | None = None, *, flexible: bool = False) -> Assembly:
        """Place a thing.

        Parameters
        ----------
        name : str
            A name that is not taken.
        thing : Part or Bought
            What to place.
        at : Frame, optional
            Where; else in the assembly's own frame.
        flexible : bool
            Whether it bends enough to be put on where nothing rigid would go: a strap, a gasket, rubber. It is drawn
            and measured as it lies in place.

        Returns
        -------
        Assembly

        Raises
        ------
        BadValue
            A name that is taken, or a part number that another part of the assembly already has.
        """
        free_name(name, "", self.names, "member")
        if not isinstance(thing, Part | Bought):
            raise BadValue(f"member {name!r}", thing, "a Part or a bought item")
        if isinstance(thing, Part):
            alike = [m.thing for m in self.members if isinstance(m.thing, Part) and m.thing.number == thing.number]
            if any(p is not thing and p != thing for p in alike):
                raise BadValue(
                    f"part number of member {name!r}",
                    thing.number,
                    "a number of its own: another part of this assembly has it",
                )
        new = Placed(name=name, thing=thing, at=at or frame_at(), flexible=bool(flexible))
        return self._changed(members=(*self.members, new))

    def weld(
        self, a: str, b: str, *, throat: Length, length: Length | None = None, sides: Sides = "one", note: str = ""
    ) -> Assembly:
        """Say that two members are welded to each other.

        Parameters
        ----------
        a, b : str
            Two different members.
        throat : length
            Throat of the fillet.
        length : length, optional
            Of the weld on each side; of the whole ring where it runs all round.
        sides : {"one", "both", "all round"}
            Sides of the upright plate that are welded; a torch must reach them.
        note : str
            For the shop.

        Returns
        -------
        Assembly
        """
        self.member(a)
        self.member(b)
        given: dict[str, Any] = {"throat": throat, "length": length, "sides": sides, "note": note}
        return self._changed(welds=(*self.welds, Weld(a=a, b=b, **given)))

    def pulled(self, name: str, direction: Vec) -> Assembly:
        """Say which way a member is drawn apart in the exploded picture, instead of the order's own way.

        Parameters
        ----------
        name : str
            A member.
        direction : (float, float, float)
            In the assembly's coordinates; its length does not matter.

        Returns
        -------
        Assembly
        """
        self.member(name)
        others = tuple(e for e in self.explode if e[0] != name)
        return self._changed(explode=(*others, (name, unit(direction))))

    def moved(self, at: Frame) -> Assembly:
        """Return the assembly standing elsewhere: `at` is where its own frame goes."""
        of_kind(at, Frame, "moved", "a Frame")
        members = tuple(replace(m, at=at @ m.at) for m in self.members)
        explode = tuple((n, at.vector(*v)) for n, v in self.explode)
        movements = tuple(m.placed(at) for m in self.movements)
        links = tuple(x.carried(at, at) for x in self.links)
        return self._changed(members=members, explode=explode, movements=movements, links=links)

    def linked(self, *links: Link) -> Assembly:
        """Say what holds members beside welds and bolts, and what rides on them; the strength of the assembly reads it.

        Parameters
        ----------
        *links : Hinge, Latch, Strap, Rubber, Laden, MovingStrut
            Values of `tb.part`, between members of the assembly or the "ground".

        Returns
        -------
        Assembly
        """
        for x in links:
            of_kind(
                x, tuple(KINDS.values()), "linked", "a Hinge, Latch, Strap, Rubber, Laden or MovingStrut of tb.part"
            )
            for name in (x.a, x.b, *([x.member] if isinstance(x, MovingStrut) else ())):
                if name != GROUND:
                    self.member(name)
            if x.a == x.b or x.a == GROUND:
                raise BadValue("linked", x.a, "two different members; what does not move comes second")
        return self._changed(links=(*self.links, *links))

    def turning(
        self,
        name: str,
        members: Sequence[str],
        *,
        about: tuple[Vec, Vec],
        by: tuple[Angle, Angle],
        struts: Sequence[MovingStrut] = (),
    ) -> Assembly:
        """Declare members that turn about an axis together: a lid on its hinge.

        Parameters
        ----------
        name : str
            What one does: "lid opens".
        members : sequence of str
            What turns.
        about : ((float, float, float), (float, float, float))
            A point of the axis, mm, and its direction, right-handed, in the assembly's coordinates.
        by : (angle, angle)
            Least and largest turn from where they are drawn, 0 among them; within 360 degrees.
        struts : sequence of MovingStrut
            Gas struts that follow.

        Returns
        -------
        Assembly
        """
        at, axis = _listed(about, f"{name} about", "a point and a direction", 2)
        more = {
            "at": three(at, f"{name} about", "a point (x, y, z) in mm"),
            "struts": _listed(struts, f"{name} struts", "a MovingStrut for each"),
        }
        return self._moving(name, "turn", members, axis, _both(by, f"{name} by", angle), **more)

    def sliding(self, name: str, members: Sequence[str], *, along: Vec, by: tuple[Length, Length]) -> Assembly:
        """Declare members that slide in a direction together: a lid that is lifted off, a pin that is drawn.

        Parameters
        ----------
        name : str
            What one does: "lid lifted off".
        members : sequence of str
            What slides.
        along : (float, float, float)
            Direction in the assembly's coordinates; its length does not matter.
        by : (length, length)
            Least and largest way from where they are drawn, 0 among them.

        Returns
        -------
        Assembly
        """
        return self._moving(name, "slide", members, along, _both(by, f"{name} by", length))

    def _moving(
        self, name: str, kind: str, members: Sequence[str], axis: Vec, by: tuple[float, float], **more: Any
    ) -> Assembly:
        free_name(name, "", [m.name for m in self.movements], "movement")
        given: dict[str, Any] = {"name": name, "kind": kind, "members": members, "axis": unit(axis), **more}
        new = Movement(low=by[0], high=by[1], **given)
        for one in (*new.members, *(s.member for s in new.struts)):
            self.member(one)
        return self._changed(movements=(*self.movements, new))

    def movement(self, name: str) -> Movement:
        """Return a movement by name."""
        for m in self.movements:
            if m.name == name:
                return m
        raise UnknownName("movement", name, [m.name for m in self.movements])

    def posed(self, name: str, amount: Angle | Length) -> Assembly:
        """Return the assembly with what a movement moves elsewhere; struts that follow are as long as they are then.

        Parameters
        ----------
        name : str
            Of the movement.
        amount : angle or length
            Within its range; 0 is as it is drawn.

        Raises
        ------
        BadValue
            An amount outside the range, or at which a strut does not reach from end to end.
        """
        m = self.movement(name)
        far = (angle if m.kind == "turn" else length)(amount, name)
        if not m.low - 1e-9 <= far <= m.high + 1e-9:
            raise BadValue(name, amount, f"{m.low:g} to {m.high:g} {m.unit}")
        carried, following = m.carried(far), {s.member: s for s in m.struts}

        def moved(one: Placed) -> Placed:
            if one.name in m.members:
                return replace(one, at=carried @ one.at)
            if (s := following.get(one.name)) is None:
                return one
            at, long = s.at(one.at, carried)
            thing = gas_strut(s.strut.force, s.strut.stroke, s.strut.extended, length=long)
            return replace(one, at=at, thing=thing)

        links = tuple(after(x, m, carried, lambda name: self.member(name).at) for x in self.links)
        return self._changed(members=tuple(map(moved, self.members)), movements=(), links=links)

    def __repr__(self) -> str:
        n = sum(m.kind == "part" for m in self.members)
        return f"<assembly {self.number} rev {self.rev}: {n} parts, {len(self.members) - n} other items>"


def _listed(value: object, field: str, valid: str, count: int | None = None) -> tuple[Any, ...]:
    if not isinstance(value, Sequence) or isinstance(value, str) or (count is not None and len(value) != count):
        raise BadValue(field, value, valid)
    return tuple(value)


def _both(by: object, field: str, read: Callable[[Any, str], float]) -> tuple[float, float]:
    low, high = _listed(by, field, "the least and the largest amount", 2)
    return read(low, f"{field} least"), read(high, f"{field} largest")
