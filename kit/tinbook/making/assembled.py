"""An assembly resolved on a shop's tools: every part made and placed; common volumes, gaps and mating holes."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import combinations, product
from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np
import numpy.typing as npt

import tinbook.making.solid as solids
from tinbook.errors import CannotMake, UnknownName, of_kind
from tinbook.finding import NOTHING, Finding, Findings
from tinbook.making.folded import Folded, MadeHole, MadePanel
from tinbook.making.made import Made
from tinbook.making.preview.build import preview
from tinbook.making.resolve import choose_machines, make, make_like
from tinbook.memo import Remembers, remembered
from tinbook.part.assembly import Assembly, Placed, Thing
from tinbook.part.bought import Bought, Piece
from tinbook.part.part import Part
from tinbook.plane.loops import Array
from tinbook.space import Frame, Vec, plus
from tinbook.values import dataclass

if TYPE_CHECKING:
    from tinbook.making.solid.bodies import Bore
    from tinbook.shop.shop import Shop

Triangles: TypeAlias = tuple[Array, npt.NDArray[np.int64]]
"""Positions, shape (n, 3), mm, and the corners of each triangle, shape (m, 3)."""

MADE_OR_ASSEMBLED = "a made part or assembly, as tb.make(part, shop) or tb.assemble(assembly, shop) gives one"

WELD_GAP = 0.2
"""mm: largest gap where a weld is meant (common practice for fillets on parts that set themselves)."""

CLASH = 0.05
"""mm³: smaller common volumes are the kernel's noise where faces touch."""

CONCENTRIC = 0.05
"""mm: how far mating holes may lie from each other's axis."""

MATING_REACH = 12.0
"""mm: holes of two bodies that overlap seen along their axis and come this near along it are taken to mate."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MemberPair:
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
    offset : float
        Distance between the axes, mm.
    at : (float, float, float)
        Where, in the assembly's coordinates.
    """

    a: str
    b: str
    offset: float
    at: Vec


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Assembled(Remembers):
    """An assembly with all its parts made.

    Parameters
    ----------
    assembly, shop
        The declaration and the workshop whose tools make its parts.
    made : tuple of (Part, Made)
        Each different part once.
    bodies : tuple of (Thing, tuple of Folded)
        Each different thing once, in its own coordinates: a part's own body, or one for each piece of a bought item.
    findings : Findings
        What making the parts found, each with its part's number, worst first.
    """

    assembly: Assembly
    shop: Shop
    made: tuple[tuple[Part, Made], ...]
    bodies: tuple[tuple[Thing, tuple[Folded, ...]], ...]
    findings: Findings = NOTHING

    def __repr__(self) -> str:
        a = self.assembly
        return f"<{a.number} rev {a.rev}: {len(a.members)} members, {'made' if self.ok else 'cannot be made'}>"

    @property
    def ok(self) -> bool:
        """Whether every part can be made."""
        return all(m.ok for _, m in self.made)

    def on_chosen_machines(self) -> Assembled:
        """Return the assembly with each part on the machines that fold the whole of it; see `choose_machines`."""
        chosen = {part: choose_machines(one) for part, one in self.made}
        if all(chosen[part] is one for part, one in self.made):
            return self
        return _assembled(self.assembly, self.shop, chosen.__getitem__)

    def made_of(self, name: str) -> Made:
        """Return the made part of a member; a bought item has none and raises UnknownName."""
        thing = self.assembly.member(name).thing
        for t, m in self.made:
            if t == thing:
                return m
        raise UnknownName("part", name, [m.name for m in self.assembly.members if m.kind == "part"])

    def bodies_of(self, thing: Thing) -> tuple[Folded, ...]:
        """Return the bodies of a thing in its own coordinates."""
        return next(bodies for t, bodies in self.bodies if t == thing)

    def part(self, number: str) -> Made:
        """Return the made part of a number."""
        for t, m in self.made:
            if t.number == number:
                return m
        raise UnknownName("part number", number, [p.number for p in self.assembly.parts])

    def placed(self, name: str, shift: Vec = (0.0, 0.0, 0.0)) -> tuple[Folded, ...]:
        """Return the bodies of a member in the assembly's coordinates, shifted if wanted."""
        member = self.assembly.member(name)
        return tuple(body.moved(member.at.moved(shift)) for body in self.bodies_of(member.thing))

    @remembered
    def mesh(self, name: str) -> Triangles:
        """Return triangles of a member in the assembly's coordinates: positions (n, 3) in mm, corners (m, 3)."""
        member = self.assembly.member(name)
        return _mesh(self.bodies_of(member.thing), member.at)

    @remembered
    def shape(self, name: str) -> Any:
        """Return a member's body in the assembly's coordinates, as a shape of the solids.kernel."""
        member = self.assembly.member(name)
        return solids.bodies.placed(self.own_shape(member.thing), member.at.values)

    @remembered
    def own_shape(self, thing: Thing) -> Any:
        """Return a thing's body in its own coordinates; the same object for each of its places."""
        made = next((m for t, m in self.made if t == thing), None)
        shapes = [made.shape] if made is not None else [solids.build.shape(body) for body in self.bodies_of(thing)]
        return shapes[0] if len(shapes) == 1 else solids.kernel.compound(shapes)

    def colour(self, name: str) -> tuple[float, float, float]:
        """Return a member's colour: red, green, blue, 0 to 1 (sRGB)."""
        thing = self.assembly.member(name).thing
        return thing.colour if isinstance(thing, Bought) else self.made_of(name).sheet.material.colour

    @property
    def mass(self) -> float:
        """Mass of all made and bought members, kg."""
        return sum(self.mass_of(m) for m in self.assembly.members)

    def mass_of(self, member: Placed) -> float:
        """Return a member's mass, kg; 0 for existing things."""
        if isinstance(member.thing, Bought):
            return 0.0 if member.thing.existing else member.thing.mass
        return self.made_of(member.name).mass

    @property
    def centre_of_mass(self) -> Vec:
        """Centre of mass in the assembly's coordinates, mm; every member of even density."""
        masses = {m.name: mass for m in self.assembly.members if (mass := self.mass_of(m))}
        if not masses:
            raise CannotMake(f"{self.assembly.number}: nothing in it has a mass")
        centres = [solids.bodies.centre(self.shape(name)) for name in masses]
        x, y, z = np.average(centres, axis=0, weights=list(masses.values())).tolist()
        return x, y, z

    @property
    @remembered
    def pairs(self) -> tuple[MemberPair, ...]:
        """All members whose boxes overlap, and all that are welded."""
        boxes = {n: solids.kernel.box(self.shape(n)) for n in self.assembly.names}
        welded = {frozenset((w.a, w.b)) for w in self.assembly.welds}
        found = []
        for a, b in combinations(boxes, 2):
            joined, near = frozenset((a, b)) in welded, solids.bodies.boxes_near(boxes[a], boxes[b])
            if near or joined:
                common = solids.bodies.common_volume(self.shape(a), self.shape(b)) if near else 0.0
                apart = self.gap(a, b) if joined else None
                found.append(MemberPair(a=a, b=b, common=common, gap=apart, welded=joined))
        return tuple(found)

    @remembered
    def gap(self, a: str, b: str) -> float:
        """Return the smallest distance between two members, mm; 0 where they touch."""
        return solids.bodies.gap(self.shape(a), self.shape(b))

    @property
    @remembered
    def matings(self) -> tuple[Mating, ...]:
        """All holes of different members that a fastener goes through."""
        found = []
        for a, b in combinations(self.assembly.names, 2):
            for p, q in product(self.bores(a), self.bores(b)):
                if not p.parallel(q) or p.apart(q) > MATING_REACH:
                    continue
                offset = p.offset(q)
                if offset < min(p.dia, q.dia) / 2:
                    at = plus(q.at, q.axis, (q.low + q.high) / 2)
                    found.append(Mating(a=a, b=b, offset=offset, at=at))
        return tuple(found)

    @remembered
    def bores(self, name: str) -> tuple[Bore, ...]:
        """Return the round holes of a member in the assembly's coordinates."""
        return solids.bodies.bores(self.shape(name))


def need_assembled(made: object, what: str) -> None:
    """Raise BadValue for anything but an assembly whose parts are made; the message says which call gives one."""
    of_kind(made, Assembled, what, "an assembly with its parts made, as tb.assemble(assembly, shop) gives one")


def need_made_or_assembled(thing: object, what: str) -> None:
    """Raise BadValue for anything but a made part or assembly; the message says which calls give one."""
    of_kind(thing, (Made, Assembled), what, MADE_OR_ASSEMBLED)


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
    return _assembled(assembly, shop, lambda part: make(part, shop))


def assemble_like(assembly: Assembly, before: Assembled) -> Assembled:
    """Make an assembly while a slider moves: equal parts are not made again, others on their machines (see `make_like`).

    Parameters
    ----------
    assembly : Assembly
        What is wanted.
    before : Assembled
        Made before, on the same shop.
    """
    equal, numbered = dict(before.made), {part.number: one for part, one in before.made}

    def how(part: Part) -> Made:
        if part in equal:
            return equal[part]
        old = numbered.get(part.number)
        return make(part, before.shop) if old is None else make_like(part, old)

    return _assembled(assembly, before.shop, how)


def _assembled(assembly: Assembly, shop: Shop, how: Callable[[Part], Made]) -> Assembled:
    made: list[tuple[Part, Made]] = []
    bodies: list[tuple[Thing, tuple[Folded, ...]]] = []
    findings: list[Finding] = []
    for thing in dict.fromkeys(m.thing for m in assembly.members):
        if isinstance(thing, Part):
            result = how(thing)
            made.append((thing, result))
            bodies.append((thing, (result.folded,)))
            findings += [replace(f, where=f"{thing.number}: {f.where}") for f in result.findings]
        else:
            bodies.append((thing, tuple(map(body_of_piece, thing.pieces))))
    return Assembled(assembly=assembly, shop=shop, made=tuple(made), bodies=tuple(bodies), findings=Findings(findings))


def body_of_piece(piece: Piece) -> Folded:
    """Return a piece of a bought item as one panel, as thick as the piece is high."""
    holes = tuple(MadeHole(loop=h, name="bore", use="cut-out") for h in piece.holes)
    panel = MadePanel(name="base", boundary=piece.outer, holes=holes, frame=piece.at)
    return Folded(thickness=piece.height, panels=(panel,))


def _mesh(bodies: Sequence[Folded], at: Frame) -> Triangles:
    """Return the triangles of several bodies as one mesh, placed."""
    seen = [preview(body) for body in bodies]
    first = np.cumsum([0, *(len(p.positions) for p in seen)])
    points = np.concatenate([np.asarray(p.positions, float) for p in seen])
    return at.points(points), np.concatenate(
        [p.triangles.astype(np.int64) + k for p, k in zip(seen, first, strict=False)]
    )
