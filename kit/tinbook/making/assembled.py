"""An assembly resolved on a shop's tools: every part made, in its place, held against every other."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, TypeVar, cast

import numpy as np
import numpy.typing as npt

from tinbook.errors import CannotMake, of_kind
from tinbook.finding import NOTHING, Finding, Findings
from tinbook.making.made import Made, MadeHole, MadePanel
from tinbook.making.resolve import make
from tinbook.part.assembly import Assembly, Placed, Thing
from tinbook.part.bought import Bought, Piece
from tinbook.part.part import Part
from tinbook.plane.loops import Array, Move
from tinbook.space import Frame, Vec

if TYPE_CHECKING:
    from tinbook.making.solid.bodies import Bore
    from tinbook.shop.shop import Shop

_T = TypeVar("_T")

WELD_GAP = 0.2
"""mm: largest gap where a weld is meant (common practice for fillets on parts that set themselves)."""

CLASH = 0.05
"""mm³: smaller common volumes are the kernel's noise where faces touch."""

CONCENTRIC = 0.05
"""mm: how far mating holes may lie from each other's axis."""

MATING_REACH = 12.0
"""mm: holes of two bodies that overlap seen along their axis and come this near along it are taken to mate."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """Two members that come near each other.

    Parameters
    ----------
    a, b : str
        Names.
    common : float
        Volume that they share, mm³.
    gap : float or None
        Smallest distance, mm; measured only where a weld is meant, for it takes time (see `Assembled.gap`).
    welded : bool
        Whether a weld joins them.
    """

    a: str
    b: str
    common: float
    gap: float | None
    welded: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Mating:
    """Two holes that a fastener goes through.

    Parameters
    ----------
    a, b : str
        Members.
    dia_a, dia_b : float
        Diameters, mm.
    offset : float
        Distance between the axes, mm.
    at : (float, float, float)
        Where, in the assembly's coordinates.
    """

    a: str
    b: str
    dia_a: float
    dia_b: float
    offset: float
    at: Vec


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Assembled:
    """An assembly with all its parts made.

    Parameters
    ----------
    assembly, shop
        What was asked for, on whose tools.
    made : tuple of (Thing, tuple of Made)
        Each different thing once: a part's own, or a piece each of a bought item.
    findings : Findings
        What making the parts found, each with its part's number, worst first.
    """

    assembly: Assembly
    shop: Shop
    made: tuple[tuple[Thing, tuple[Made, ...]], ...]
    findings: Findings = NOTHING
    _cache: dict[Any, Any] = field(default_factory=dict, repr=False, init=False)

    def __repr__(self) -> str:
        a = self.assembly
        return f"<{a.number} rev {a.rev}: {len(a.members)} members, {'made' if self.ok else 'cannot be made'}>"

    @property
    def ok(self) -> bool:
        """Whether every part can be made."""
        return all(m.ok for t, ms in self.made if isinstance(t, Part) for m in ms)

    def made_of(self, name: str) -> tuple[Made, ...]:
        """Return what a member is made of, in its own coordinates."""
        thing = self.assembly.member(name).thing
        return next(ms for t, ms in self.made if t == thing)

    def part(self, number: str) -> Made:
        """Return the made part of a number."""
        for t, ms in self.made:
            if isinstance(t, Part) and t.number == number:
                return ms[0]
        from tinbook.errors import UnknownName

        raise UnknownName("part number", number, [p.number for p in self.assembly.parts])

    def placed(self, name: str, shift: Vec = (0.0, 0.0, 0.0)) -> tuple[Made, ...]:
        """Return what a member is made of, in the assembly's coordinates, shifted if wanted."""
        at = self.assembly.member(name).at.moved(shift)
        return tuple(placed_made(m, at) for m in self.made_of(name))

    def mesh(self, name: str) -> tuple[Array, npt.NDArray[np.int64]]:
        """Return triangles of a member in the assembly's coordinates: positions (n, 3) in mm, corners (m, 3)."""
        return self._cached(("mesh", name), lambda: _mesh(self.made_of(name), self.assembly.member(name).at))

    def shape(self, name: str) -> Any:
        """Return a member's body in the assembly's coordinates, as a shape of the kernel."""
        from tinbook.making.solid import bodies as kernel_bodies

        def build() -> Any:
            member = self.assembly.member(name)
            return kernel_bodies.placed(self.own_shape(member.thing), member.at.values)

        return self._cached(("shape", name), build)

    def own_shape(self, thing: Thing) -> Any:
        """Return a thing's body in its own coordinates; the same object for each of its places."""
        from tinbook.making.solid import bodies as kernel_bodies

        def build() -> Any:
            solids = [m.solid.wrapped for m in next(ms for t, ms in self.made if t == thing)]
            return solids[0] if len(solids) == 1 else kernel_bodies.compound(solids)

        return self._cached(("own", thing), build)

    @property
    def mass(self) -> float:
        """Mass of all that is made and bought, kg."""
        return sum(self.mass_of(m) for m in self.assembly.members)

    def mass_of(self, member: Placed) -> float:
        """Return a member's mass, kg; 0 for what was there before."""
        if isinstance(member.thing, Bought):
            return 0.0 if member.thing.existing else member.thing.mass
        return self.made_of(member.name)[0].mass

    @property
    def centre_of_mass(self) -> Vec:
        """Centre of mass in the assembly's coordinates, mm; every member of even density."""
        from tinbook.making.solid import bodies as kernel_bodies

        total, sums = 0.0, [0.0, 0.0, 0.0]
        for m in self.assembly.members:
            mass = self.mass_of(m)
            if mass:
                _, c = kernel_bodies.centre(self.shape(m.name))
                total += mass
                sums = [s + mass * v for s, v in zip(sums, c, strict=True)]
        if not total:
            raise CannotMake(f"{self.assembly.number}: nothing in it has a mass")
        return sums[0] / total, sums[1] / total, sums[2] / total

    @property
    def pairs(self) -> tuple[Pair, ...]:
        """All members whose boxes overlap, and all that are welded."""
        return self._cached("pairs", lambda: _pairs(self))

    def gap(self, a: str, b: str) -> float:
        """Return the smallest distance between two members, mm; 0 where they touch."""
        from tinbook.making.solid import bodies as kernel_bodies

        return self._cached(("gap", a, b), lambda: kernel_bodies.gap(self.shape(a), self.shape(b)))

    @property
    def matings(self) -> tuple[Mating, ...]:
        """All holes of different members that a fastener goes through."""
        return self._cached("matings", lambda: _matings(self))

    def bores(self, name: str) -> tuple[Bore, ...]:
        """Return the round holes of a member in the assembly's coordinates."""
        from tinbook.making.solid import bodies as kernel_bodies

        return self._cached(("bores", name), lambda: kernel_bodies.bores(self.shape(name)))

    def _cached(self, key: Any, build: Callable[[], _T]) -> _T:
        if key not in self._cache:
            self._cache[key] = build()
        return cast(_T, self._cache[key])


def need_assembled(made: object, what: str) -> None:
    """Refuse anything but an assembly whose parts are made, and say where one comes from."""
    of_kind(made, Assembled, what, "an assembly with its parts made, as tb.assemble(assembly, shop) gives one")


def assemble(assembly: Assembly, shop: Shop) -> Assembled:
    """Make every part of an assembly.

    Parameters
    ----------
    assembly : Assembly
        What is wanted.
    shop : Shop
        Whose sheets and tools.

    Returns
    -------
    Assembled
        Complete; parts that cannot be made are in its findings.

    Raises
    ------
    UnknownName
        A sheet, tool or fixing that the shop does not have.
    """
    of_kind(assembly, Assembly, "assemble", "an Assembly")
    made: list[tuple[Thing, tuple[Made, ...]]] = []
    findings: list[Finding] = []
    for thing in dict.fromkeys(m.thing for m in assembly.members):
        if isinstance(thing, Part):
            result = make(thing, shop)
            made.append((thing, (result,)))
            findings += [replace(f, where=f"{thing.number}: {f.where}") for f in result.findings]
        else:
            made.append((thing, tuple(_piece(p, shop) for p in thing.pieces)))
    return Assembled(assembly=assembly, shop=shop, made=tuple(made), findings=Findings(findings))


def placed_made(made: Made, at: Frame) -> Made:
    """Return a made part whose frames stand in the assembly's coordinates."""
    panels = tuple(replace(p, frame=at @ p.frame) for p in made.panels)
    strips = tuple(replace(s, frame=at @ s.frame) for s in made.strips)
    return replace(made, panels=panels, strips=strips)


def _piece(piece: Piece, shop: Shop) -> Made:
    """Return a piece of a bought item in the same form as a part: one panel, as thick as the piece is high."""
    holes = tuple(MadeHole(loop=h, name="bore", use="cut-out") for h in piece.holes)
    panel = MadePanel(name="base", boundary=piece.outer, holes=holes, forms=(), frame=piece.at, flat=Move())
    nothing = cast(Any, None)
    return Made(part=nothing, shop=shop, sheet=nothing, thickness=piece.height, panels=(panel,), strips=(), flat=None)


def _mesh(made: Sequence[Made], at: Frame) -> tuple[Array, npt.NDArray[np.int64]]:
    points: list[Array] = []
    corners: list[npt.NDArray[np.int64]] = []
    count = 0
    for m in made:
        seen = m.preview
        points.append(np.asarray(seen.positions, float))
        corners.append(np.asarray(seen.triangles, np.int64) + count)
        count += len(points[-1])
    p = np.concatenate(points)
    return at.points(p), np.concatenate(corners)


def _pairs(made: Assembled) -> tuple[Pair, ...]:
    from tinbook.making.solid import bodies as k
    from tinbook.making.solid import kernel

    names = made.assembly.names
    boxes = {n: kernel.box(made.shape(n)) for n in names}
    welded = {frozenset((w.a, w.b)) for w in made.assembly.welds}
    found = []
    for i, a in enumerate(names):
        for b in names[i + 1 :]:
            joined = frozenset((a, b)) in welded
            near = k.boxes_near(boxes[a], boxes[b])
            if near or joined:
                common = k.common_volume(made.shape(a), made.shape(b)) if near else 0.0
                apart = made.gap(a, b) if joined else None
                found.append(Pair(a=a, b=b, common=common, gap=apart, welded=joined))
    return tuple(found)


def _matings(made: Assembled) -> tuple[Mating, ...]:
    names = made.assembly.names
    found = []
    for i, a in enumerate(names):
        for b in names[i + 1 :]:
            for p in made.bores(a):
                for q in made.bores(b):
                    if not p.parallel(q) or p.apart(q) > MATING_REACH:
                        continue
                    offset = p.offset(q)
                    if offset < min(p.dia, q.dia) / 2:
                        middle = (q.low + q.high) / 2
                        at = tuple(q.at[k] + middle * q.axis[k] for k in range(3))
                        found.append(Mating(a=a, b=b, dia_a=p.dia, dia_b=q.dia, offset=offset, at=cast(Vec, at)))
    return tuple(found)
