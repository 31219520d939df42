"""Parcels: bundles, bags and bought items in as few cartons as the carrier's limits allow."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Final

from tinbook.shop.packing import Packing
from tinbook.space import Vec
from tinbook.values import dataclass

MOST: Final = 2000
"""Boxes of one delivery."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bundle:
    """What goes into a carton as one piece.

    Parameters
    ----------
    name : str
        What stands on its label.
    count : int
        How many parts or bags lie in it.
    box : (float, float, float)
        mm, guards included.
    mass : float
        kg.
    """

    name: str
    count: int
    box: Vec
    mass: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Packed:
    """A bundle at its place in a carton.

    Parameters
    ----------
    bundle : Bundle
        What.
    at, box : (float, float, float)
        Its corner nearest to the carton's inner corner, and its size as it lies, mm.
    """

    bundle: Bundle
    at: Vec
    box: Vec


@dataclass(frozen=True, slots=True, kw_only=True)
class Parcel:
    """A packed carton.

    Parameters
    ----------
    number : int
        In the delivery.
    contents : tuple of Packed
        In the order in which they go in.
    size : (float, float, float)
        Outside, longest first, mm.
    mass : float
        With the carton, kg.
    over : str
        Which limit of the carrier it breaks, "" for none: such a parcel goes by freight.
    """

    number: int
    contents: tuple[Packed, ...]
    size: Vec
    mass: float
    over: str = ""

    @property
    def girth(self) -> float:
        """Length and girth together, mm."""
        return self.size[0] + 2 * (self.size[1] + self.size[2])

    @property
    def counts(self) -> dict[str, int]:
        """How many of each thing are in it."""
        found: dict[str, int] = {}
        for p in self.contents:
            found[p.bundle.name] = found.get(p.bundle.name, 0) + p.bundle.count
        return found


def packed(bundles: Iterable[Bundle], limits: Packing) -> tuple[Parcel, ...]:
    """Put bundles into cartons, the largest first, each where the carton grows least.

    Every bundle may lie on any of its sides. What breaks a limit by itself gets a carton of its own that says so.

    Parameters
    ----------
    bundles : iterable of Bundle
        What is sent.
    limits : Packing
        What the carrier takes.

    Returns
    -------
    tuple of Parcel
        The same bundles give the same parcels.
    """
    waiting = sorted(bundles, key=lambda b: (-math.prod(b.box), -b.mass, b.name))
    open_ones: list[list[Packed]] = []
    for bundle in waiting:
        tried = ((_best(inside, bundle, limits), k) for k, inside in enumerate(open_ones))
        placed, k = next(((p, k) for p, k in tried if p is not None), (None, -1))
        if placed is not None:
            open_ones[k].append(placed)
        else:
            lying = sorted(bundle.box, reverse=True)
            open_ones.append([Packed(bundle=bundle, at=(0.0, 0.0, 0.0), box=(lying[0], lying[1], lying[2]))])
    return tuple(_parcel(n, inside, limits) for n, inside in enumerate(open_ones, 1))


def fits(box: Sequence[float], mass: float, limits: Packing) -> bool:
    """Whether a carton round a box of contents is taken by the carrier."""
    return not _over(*_outside(box, mass, limits), limits)


def _outside(box: Sequence[float], mass: float, limits: Packing) -> tuple[Vec, float]:
    a, b, c = sorted((v + 2 * limits.board for v in box), reverse=True)
    wall = 2 * (a * b + b * c + a * c) * 1e-6
    return (a, b, c), mass + wall * limits.board_mass


def _over(size: Vec, mass: float, limits: Packing) -> str:
    girth = size[0] + 2 * (size[1] + size[2])
    found = [
        f"{what} {value:.0f} {unit} against {most:g}"
        for what, value, unit, most in (
            ("length", size[0], "mm", limits.length),
            ("length and girth", girth, "mm", limits.girth),
            ("mass", math.ceil(mass), "kg", limits.mass),
        )
        if (mass if what == "mass" else value) > most + 1e-9
    ]
    return ", ".join(found)


def _best(inside: Sequence[Packed], bundle: Bundle, limits: Packing) -> Packed | None:
    """Return the place of a bundle among others where the carton's diagonal grows least; None where it breaks a limit."""
    mass = bundle.mass + sum(p.bundle.mass for p in inside)
    if mass > limits.mass:
        return None
    found: tuple[tuple[float, ...], Packed] | None = None
    have = _reach(inside)
    for at in _corners(inside):
        for box in sorted(set(itertools.permutations(bundle.box))):
            one = Packed(bundle=bundle, at=at, box=(box[0], box[1], box[2]))
            whole = tuple(max(h, a + b) for h, a, b in zip(have, at, box, strict=True))
            if any(_meet(one, p) for p in inside) or not fits(whole, mass, limits):
                continue
            key = (round(math.hypot(*whole), 3), round(math.prod(whole), 3), *at, *box)
            if found is None or key < found[0]:
                found = key, one
    return None if found is None else found[1]


def _corners(inside: Sequence[Packed]) -> list[Vec]:
    """Return where a box may be put: beside, behind and on each one that is there, pushed against the walls."""
    found: set[Vec] = {(0.0, 0.0, 0.0)}
    for p in inside:
        (x, y, z), (a, b, c) = p.at, p.box
        found |= {(x + a, y, z), (x, y + b, z), (x, y, z + c), (x + a, 0.0, 0.0), (0.0, y + b, 0.0), (0.0, 0.0, z + c)}
    return sorted(found)


def _meet(a: Packed, b: Packed) -> bool:
    return all(a.at[k] < b.at[k] + b.box[k] - 1e-6 and b.at[k] < a.at[k] + a.box[k] - 1e-6 for k in range(3))


def _reach(inside: Sequence[Packed]) -> Vec:
    x, y, z = (max(p.at[k] + p.box[k] for p in inside) for k in range(3))
    return x, y, z


def _parcel(number: int, inside: Sequence[Packed], limits: Packing) -> Parcel:
    size, mass = _outside(_reach(inside), sum(p.bundle.mass for p in inside), limits)
    return Parcel(number=number, contents=tuple(inside), size=size, mass=mass, over=_over(size, mass, limits))


def guarded(bundle: Bundle, limits: Packing) -> Bundle:
    """Return a bundle with the guard round it."""
    x, y, z = (v + 2 * limits.guard for v in bundle.box)
    return replace(bundle, box=(x, y, z))
