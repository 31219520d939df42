"""What every form answers: anything that is formed in a panel, or marked on it.

A form has two values. The part holds the declared one (`Form`), whose fields are the keys of its rows in a part file.
`make` resolves it on the shop's tools into one or several made ones (`MadeForm`), which answer every view. Neither
knows the geometry kernel: what rises out of the sheet is described by a profile (`profiles.py`), which preview, solid,
mesh and fold simulation interpret.
"""

from __future__ import annotations

import math
from abc import ABC, abstractmethod
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from typing import TYPE_CHECKING, Any, ClassVar, NamedTuple, Self

from tinbook.errors import BadValue
from tinbook.fields import check_fields
from tinbook.plane.loops import Edge, Loop, Move, Point
from tinbook.tolerances import SAME_POINT
from tinbook.values import dataclass

if TYPE_CHECKING:
    from tinbook.finding import Finding
    from tinbook.flatpattern import Cut, Direction, FormLine, Mark
    from tinbook.part.features import Fold
    from tinbook.part.forms.profiles import Profile
    from tinbook.part.part import Part
    from tinbook.shop.material import Sheet
    from tinbook.shop.shop import Shop


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """What a form is resolved on: the shop, its sheet with the thickness in mm, and the part that declares it."""

    shop: Shop
    sheet: Sheet
    thickness: float
    part: Part


class Form(ABC):
    """A form as a part declares it: a frozen value whose fields are the keys of its rows in a part file.

    Attributes
    ----------
    TABLE : str
        Name of its rows in a part file, ``[[bead]]``.
    TITLE : str
        What it is called in messages.
    NAMED : bool
        Whether its name must differ from those of all others of its kind.
    """

    __slots__ = ()

    TABLE: ClassVar[str]
    TITLE: ClassVar[str]
    NAMED: ClassVar[bool] = True

    if TYPE_CHECKING:

        @property
        def name(self) -> str:
            """Its name."""

        @property
        def panel(self) -> str:
            """The panel that carries it."""

    def bends(self, on: Setting) -> tuple[Fold, ...]:
        """Return the bends that it brings, as folds with an inside radius; they are made before the first fold.

        A form of bends alone (a joggle) leaves preview, solid, mesh and fold simulation nothing else to draw.
        """
        return ()

    def __post_init__(self) -> None:
        check_fields(self, self.where)  # type: ignore[arg-type]

    @property
    def where(self) -> str:
        """What it is and its name, for messages."""
        return f"{self.TITLE} {self.name!r}"

    @property
    def names(self) -> tuple[str, ...]:
        """Names of all that it makes: its own, or one with a number for each copy."""
        copies = getattr(self, "copies", 1)
        return (self.name,) if copies == 1 else tuple(f"{self.name} {k + 1}" for k in range(copies))

    def carried(self, to: Callable[[Point], Point]) -> Self:
        """Return it with the points that place it carried elsewhere; of its copies the first and the last.

        A form without such points (a joggle) follows its edge.
        """
        values: dict[str, Any] = {n: to(getattr(self, n)) for n in ("at", "centre") if hasattr(self, n)}
        if path := getattr(self, "path", ()):
            values["path"] = tuple(map(to, path))
        if (copies := getattr(self, "copies", 1)) > 1:
            (x, y), (dx, dy) = path[0] if path else getattr(self, "centre"), getattr(self, "step")  # noqa: B009
            first, last = to((x, y)), to((x + (copies - 1) * dx, y + (copies - 1) * dy))
            values["step"] = tuple((b - a) / (copies - 1) for a, b in zip(first, last, strict=True))
        return replace(self, **values) if values else self  # type: ignore[type-var]

    @abstractmethod
    def made(self, on: Setting) -> Iterable[MadeForm]:
        """Resolve it on the shop's tools.

        Parameters
        ----------
        on : Setting
            Shop, sheet and part.

        Returns
        -------
        iterable of MadeForm
            One for each copy, in the panel's frame.

        Raises
        ------
        Refused
            It cannot be formed; the finding says why and what would cure it.
        """


def check_step(form: Any) -> None:
    """Refuse copies that would lie on each other."""
    if form.copies > 1 and math.hypot(*form.step) < SAME_POINT:
        raise BadValue(f"{form.where} step", form.step, "a distance greater than 0 mm")


class Distance(NamedTuple):
    """A least distance, mm, with what happens nearer and what to do about it."""

    least: float
    why: str
    remedy: str


class KeepOff(NamedTuple):
    """How far metal that is formed keeps from what is beside it, mm from its footprint.

    Parameters
    ----------
    fold : Distance
        From a fold's tangent line, its inside radius to be added.
    edge, hole : Distance
        From a free edge; from the rim of a hole.
    other : Distance
        Between the spines of two of a kind: centre lines, or centres.
    spine : tuple of Edge or (float, float)
        Its centre line, or its centre.
    source : str
        Whose numbers these are.
    """

    fold: Distance
    edge: Distance
    hole: Distance
    other: Distance
    spine: tuple[Edge, ...] | Point
    source: str = "common practice"


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """One operation in the order of work; forms with equal ones are made in it together.

    Parameters
    ----------
    kind : str
        One of `tinbook.route.plan.USUAL`.
    key : str
        Tells it from others of its kind: the tool.
    what : str
        In words, with "{n}" where the count goes.
    who : str
        Who does it.
    own : bool
        Whether the shop does it itself.
    why : str
        Why it stands where it does.
    """

    kind: str = "form"
    key: str
    what: str
    who: str
    own: bool = True
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """What sheets and price say of a form; like ones are counted.

    Parameters
    ----------
    what : str
        Kind, size and what the blank gets for it.
    tool, way, who : str
        On which tool, to which side, by whom; "" where there is none.
    length : float or None
        mm, where it is made by the length.
    passes : int
        Runs or strokes of the tool.
    """

    what: str
    tool: str
    way: str
    who: str
    length: float | None = None
    passes: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """What the blank carries so that a form can be made.

    Parameters
    ----------
    guides : tuple of Mark
        Marks that help to make it, left out of a part that is not to be marked.
    cuts : tuple of Cut
        What is cut for it.
    lines : tuple of FormLine
        Lines that papers set out by numbers.
    """

    guides: tuple[Mark, ...] = ()
    cuts: tuple[Cut, ...] = ()
    lines: tuple[FormLine, ...] = ()


class Pull(NamedTuple):
    """How a form draws the sheet in: towards a line through `centre`, square to `normal`, from `half` mm on either side."""

    centre: Point
    normal: Point
    half: float
    draw: float


class MadeForm(ABC):
    """A form resolved on the shop's tools, in its panel's frame (sheet at z from 0 to t): it answers every view.

    Attributes
    ----------
    KIND : str
        What it is called under the pointer, in tables and findings.
    CODE : str
        First word of its findings' codes ("bead.fold").
    DRAWS : bool
        Whether it draws in the sheet beside it, so that the blank is larger for it, or is trimmed afterwards.
    name : str
        Its name.
    direction : {"up", "down"}
        Side to which it stands out, or on which it is marked.
    footprint : Loop or None
        Outline of all metal that leaves the plane, anticlockwise; None for a mark.
    pilot : Loop or None
        The hole that the blank gets for it.
    zones : tuple of str
        Names of the bends that it brings.
    """

    __slots__ = ()

    KIND: ClassVar[str]
    CODE: ClassVar[str]
    DRAWS: ClassVar[bool] = False
    if TYPE_CHECKING:

        @property
        def footprint(self) -> Loop | None:
            """Outline of all metal that leaves the plane."""

        @property
        def pilot(self) -> Loop | None:
            """The hole that the blank gets for it."""

        @property
        def name(self) -> str:
            """Its name."""

        @property
        def direction(self) -> Direction:
            """Side to which it stands out."""

    @property
    def zones(self) -> tuple[str, ...]:
        """Names of the bends that it brings."""
        return ()

    @property
    def alike(self) -> str:
        """What its findings depend on: forms of a kind that have it in common are asked once."""
        return self.name

    @property
    def stands_out(self) -> bool:
        """Whether metal leaves the plane of the sheet; else it is a mark."""
        return self.footprint is not None or bool(self.zones)

    @abstractmethod
    def profile(self, thickness: float) -> Profile | None:
        """Return its skins, which preview, solid, mesh and fold simulation draw; None for a mark, or where bends are all."""

    @abstractmethod
    def keep_off(self, thickness: float) -> KeepOff | None:
        """Return the least distances to what is beside it; None where nothing disturbs it."""

    @abstractmethod
    def work(self, shop: Shop) -> Work | None:
        """Return its place in the order of work; None where the cutter makes it with its other marks."""

    @abstractmethod
    def drawn(self, flat: Move, carried: Callable[[Point], Point]) -> Drawing:
        """Return what the blank carries so that it can be made.

        Parameters
        ----------
        flat : Move
            From the panel's frame to the flat pattern.
        carried : callable
            Where the blank carries a point of the panel, before forms draw the sheet in.
        """

    @abstractmethod
    def marks(self, flat: Move) -> tuple[Mark, ...]:
        """Return the marks that are the form itself, or show the reader where it stands out."""

    @abstractmethod
    def sheet_thickness(self, thickness: float) -> float | str:
        """Return the mean thickness in mm of its patch in a mesh, or the reason why a mesh leaves it out."""

    @abstractmethod
    def label(self) -> str:
        """Return its name and size, as they stand under the pointer."""

    @abstractmethod
    def row(self, shop: Shop) -> Row | None:
        """Return what sheets and price say of it; None for what stands on the blank in words."""

    @abstractmethod
    def findings(self, on: Setting) -> Iterator[Finding]:
        """Yield what speaks for or against it on this tool and material; equal findings are shown once."""

    @abstractmethod
    def mirrored(self) -> Self:
        """Return it reflected at x = 0 of its panel."""

    def pull(self) -> Pull | None:
        """Return how it draws the sheet in, None where the blank needs no allowance for it."""
        return None


class Plain(MadeForm):
    """A form that takes no metal out of its panel's plane: a mark, or one whose bends lie beyond the panel's edge."""

    __slots__ = ()

    @property
    def footprint(self) -> None:
        """No metal leaves the plane."""

    @property
    def pilot(self) -> None:
        """Nothing is cut for it."""

    def profile(self, thickness: float) -> None:
        """Return none: the sheet stays flat, or is drawn as panels and bends."""

    def drawn(self, flat: Move, carried: Callable[[Point], Point]) -> Drawing:
        """Return nothing more than its marks and its bends."""
        return Drawing()

    def marks(self, flat: Move) -> tuple[Mark, ...]:
        """Return none of its own."""
        return ()

    def sheet_thickness(self, thickness: float) -> float:
        """Return the thickness of the sheet: it takes none of it."""
        return thickness
