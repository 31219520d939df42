"""In which order an assembly goes together: each member moved in along a straight line, or who traps whom.

Worked out backwards: what can be drawn out along a line without meeting
anything that is still there goes in last. A member moved along d meets another
exactly where a face of it that looks along d lies before a face of the other
that looks back, seen along d; so triangles are compared in that view and no
step is missed. A member that is said to be flexible is bent off when nothing
that is listed after it can be drawn out: how far it must bend is not worked out,
and its step says so.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
import shapely

from tinbook.errors import CannotMake
from tinbook.make.assembled import Assembled, need_assembled
from tinbook.part.placing import Placing, Vec, unit
from tinbook.plane import Array

GRAZE: Final = 0.02
"""mm²: triangles that overlap by less along the view are held to slide past each other."""

DEEP: Final = 0.02
"""mm: a face that looks back and lies less than this behind one that looks ahead touches it, and so bars its way."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """A member's way into the assembly.

    Parameters
    ----------
    name : str
        Member.
    direction : (float, float, float)
        Along which it is moved in.
    travel : float
        How far it comes from where it is clear of all that is there, mm.
    bent : bool
        Whether it is flexible and bent round what is there; `direction` is then the way with the least in it.
    """

    name: str
    direction: Vec
    travel: float
    bent: bool = False

    def __str__(self) -> str:
        if self.bent:
            return f"{self.name}, bent on {_way(self.direction)} (it is flexible: try that it bends so far)"
        return f"{self.name}, moved {_way(self.direction)}"


@dataclass(frozen=True, slots=True, kw_only=True)
class AssemblyOrder:
    """The order of assembly, as far as there is one.

    Parameters
    ----------
    steps : tuple of Step
        From the first member to the last; the first stays where it is.
    trapped : tuple of str
        Members that hold each other: none of them is flexible or can be moved along a straight line while the
        others stand. Empty when the order is complete.
    """

    steps: tuple[Step, ...]
    trapped: tuple[str, ...] = ()

    @property
    def ok(self) -> bool:
        """Whether everything goes together."""
        return not self.trapped

    @property
    def names(self) -> tuple[str, ...]:
        """Members in their order."""
        return tuple(s.name for s in self.steps)

    def required(self) -> AssemblyOrder:
        """Return the order, or raise CannotMake with the members that trap each other."""
        if self.trapped:
            raise CannotMake(
                "no order of assembly: these trap each other: "
                + ", ".join(self.trapped)
                + ". Let one of them only touch another instead of standing in its slots, or tack one later."
            )
        return self

    def __str__(self) -> str:
        lines = [f"{i}. {s if i > 1 else s.name}" for i, s in enumerate(self.steps, 1)]
        if self.trapped:
            lines.append("These trap each other: " + ", ".join(self.trapped))
        return "\n".join(lines)


def assembly_order(made: Assembled) -> AssemblyOrder:
    """Return an order in which the members go together along straight lines, flexible ones bent on where they must.

    Parameters
    ----------
    made : Assembled
        Every part must be makeable; existing things are there from the start.

    Returns
    -------
    AssemblyOrder
        Later members of the assembly go in later where there is a choice: so what is listed after a strap is in
        before it only where it must be, and what is listed before it is not put in afterward to spare its bending.
    """
    need_assembled(made, "assembly_order")
    members = sorted(made.assembly.members, key=lambda m: m.kind != "existing")
    left = [m.name for m in members]
    solids = {n: _Solid.of(*made.mesh(n)) for n in left}
    back: list[Step] = []
    while len(left) > 1:
        ways = (_free(made, n, left, solids) or _bent(made, n, left, solids) for n in reversed(left[1:]))
        step = next((s for s in ways if s), None)
        if (
            step is None
            and (s := _free(made, left[0], left, solids))
            and made.assembly.member(left[0]).kind != "existing"
        ):
            step = s
        if step is None:
            break
        back.append(step)
        left.remove(step.name)
    if len(left) > 1:
        return AssemblyOrder(steps=tuple(reversed(back)), trapped=tuple(left))
    first = Step(name=left[0], direction=(0.0, 0.0, -1.0), travel=0.0)
    return AssemblyOrder(steps=(first, *reversed(back)))


def frames(made: Assembled, order: AssemblyOrder, stops: int = 4) -> Iterator[tuple[str, tuple[tuple[str, Vec], ...]]]:
    """Yield pictures of the assembly going together; what is bent on is shown in place at once.

    Parameters
    ----------
    made : Assembled
        The assembly.
    order : AssemblyOrder
        Its order.
    stops : int
        Pictures for each member, the last one in place.

    Yields
    ------
    (str, tuple of (str, (float, float, float)))
        The member that moves, and the shift of every member that is there.
    """
    there: list[str] = []
    for step in order.steps:
        for k in range(stops if there and not step.bent else 1):
            share = 0.0 if not there or step.bent else 1.0 - (k + 1) / stops
            # Square law: most pictures where tabs enter their slots.
            away = -step.travel * share * share
            shift = (away * step.direction[0], away * step.direction[1], away * step.direction[2])
            yield step.name, (*((n, (0.0, 0.0, 0.0)) for n in there), (step.name, shift))
        there.append(step.name)


_CORNERS: Final = tuple((i, j, k) for i in (0, 1) for j in (0, 1) for k in (0, 1))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Solid:
    corners: Array  # (m, 3, 3)
    normals: Array  # (m, 3), twice the area long
    box: Array  # (8, 3), corners of the bounding box

    @classmethod
    def of(cls, positions: Array, triangles: npt.NDArray[np.int64]) -> _Solid:
        c = positions[triangles]
        n = np.cross(c[:, 1] - c[:, 0], c[:, 2] - c[:, 0])
        low, high = positions.min(axis=0), positions.max(axis=0)
        box = np.array([[(low, high)[i][0], (low, high)[j][1], (low, high)[k][2]] for i, j, k in _CORNERS])
        return cls(corners=c, normals=n, box=box)


def directions(made: Assembled, name: str) -> tuple[Vec, ...]:
    """Return the directions in which a member may be drawn out: its own and its neighbours' axes, up first."""
    at = made.assembly.member(name).at
    axes = [at.z, at.x, at.y]
    for m in made.assembly.members:
        axes += [m.at.z, m.at.x, m.at.y]
    both = [(0.0, 0.0, 1.0), *(d for a in axes for d in (a, (-a[0], -a[1], -a[2])))]
    seen: dict[tuple[float, ...], Vec] = {}
    for d in both:
        seen.setdefault(tuple(round(v, 6) + 0.0 for v in d), d)
    return tuple(seen.values())


def _free(made: Assembled, name: str, left: Sequence[str], solids: dict[str, _Solid]) -> Step | None:
    """Return how a member leaves the others, None if it cannot.

    The shortest way is taken; a bought item leaves along its own axis if it can, as screws and washers do.
    """
    me = solids[name]
    others = [solids[n] for n in left if n != name]
    placed = made.assembly.member(name)
    own, best = placed.at.z if placed.kind == "bought" else None, None
    rank = (2, 0.0)
    for d in directions(made, name):
        if any(_blocked(me, o, d) for o in others):
            continue
        along = np.array(d)
        travel = max(_reach(o, along, high=True) for o in others) - _reach(me, along, high=False)
        on_axis = own is not None and abs(abs(float(np.dot(own, along))) - 1) < 1e-6
        new = (0 if on_axis else 1, round(max(travel, 1.0), 6))
        if new < rank:
            rank = new
            best = Step(name=name, direction=(-d[0], -d[1], -d[2]), travel=max(travel, 1.0))
    return best


def _bent(made: Assembled, name: str, left: Sequence[str], solids: dict[str, _Solid]) -> Step | None:
    """Return how a flexible member is bent off, toward where the fewest others are in its way; None for a rigid one."""
    if not made.assembly.member(name).flexible:
        return None
    me, others = solids[name], [solids[n] for n in left if n != name]
    d = min(directions(made, name), key=lambda d: sum(_blocked(me, o, d) for o in others))
    travel = max(_reach(o, np.array(d), high=True) for o in others) - _reach(me, np.array(d), high=False)
    return Step(name=name, direction=(-d[0], -d[1], -d[2]), travel=max(travel, 1.0), bent=True)


def _reach(s: _Solid, d: Array, high: bool) -> float:
    v = s.corners.reshape(-1, 3) @ d
    return float(v.max() if high else v.min())


def _view(d: Vec) -> Array:
    """Return three rows: two directions square to d, and d."""
    other = (1.0, 0.0, 0.0) if abs(d[0]) < 0.7 else (0.0, 1.0, 0.0)
    n = d[0] * other[0] + d[1] * other[1] + d[2] * other[2]
    x = unit((other[0] - n * d[0], other[1] - n * d[1], other[2] - n * d[2]))
    return np.array((x, Placing(x=x, y=unit(d)).z, d))


def _blocked(me: _Solid, other: _Solid, d: Vec) -> bool:
    """Whether `me`, moved along d without end, runs into `other`."""
    view = _view(d)
    mine, theirs = me.box @ view.T, other.box @ view.T
    low, high = np.maximum(mine.min(axis=0), theirs.min(axis=0)), np.minimum(mine.max(axis=0), theirs.max(axis=0))
    if (high[:2] <= low[:2]).any() or theirs[:, 2].max() < mine[:, 2].min() - DEEP:
        return False
    ahead = me.corners[me.normals @ view[2] > 1e-6] @ view.T
    faced = other.corners[other.normals @ view[2] < -1e-6] @ view.T
    if not len(ahead) or not len(faced):
        return False
    # What lies wholly behind the hindmost face that looks ahead is never met.
    faced = faced[faced[:, :, 2].max(axis=1) > ahead[:, :, 2].min() - DEEP]
    if not len(faced):
        return False
    flat_a, flat_b = shapely.polygons(ahead[:, :, :2]), shapely.polygons(faced[:, :, :2])
    i, j = shapely.STRtree(flat_b).query(flat_a, predicate="intersects")
    if not len(i):
        return False
    shared = shapely.intersection(flat_a[i], flat_b[j])
    real = shapely.area(shared) > GRAZE
    for k in np.flatnonzero(real):
        ring = shapely.get_coordinates(shared[k])
        if (_height(faced[j[k]], ring) - _height(ahead[i[k]], ring)).max() > -DEEP:
            return True
    return False


def _height(triangle: Array, xy: Array) -> Array:
    """Return the height of a triangle's plane over points of the view."""
    n = np.cross(triangle[1] - triangle[0], triangle[2] - triangle[0])
    result: Array = triangle[0, 2] - ((xy - triangle[0, :2]) @ n[:2]) / n[2]
    return result


def _way(d: Vec) -> str:
    k = max(range(3), key=lambda i: abs(d[i]))
    if abs(d[k]) > 0.999999:
        return ("along +" if d[k] > 0 else "along -") + "xyz"[k]
    return "along (" + ", ".join(f"{v:.3f}" for v in d) + ")"
