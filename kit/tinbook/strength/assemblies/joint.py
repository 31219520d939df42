"""A joint between two members of an assembly, and the round holes that joints go through."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import field
from typing import Final, Literal, TypeAlias

import numpy as np

from tinbook.part.links import Weld
from tinbook.space import Vec
from tinbook.strength.assemblies.ties import Spring
from tinbook.strength.assemblies.whole import Body, Member, Whole
from tinbook.strength.joints.load import Kind
from tinbook.strength.shell.element import Array, Index
from tinbook.values import dataclass

GROUND: Final = "ground"

Other: TypeAlias = Member | Body | Literal["ground"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Connection:
    """One joint of an assembly.

    Parameters
    ----------
    name : str
    kind : Kind
    first : Member
    second : Member, Body or "ground"
    springs : tuple of Spring
        One, or one for each node of a seam.
    nodes : array
        Of the first member: the rim, or the seam's nodes in order.
    axis : Vec
        From the first toward the second.
    hole : float
        Diameter, mm.
    tee : bool
        For seams: one sheet stands on the other.
    weld : Weld or None
    """

    name: str
    kind: Kind
    first: Member
    second: Other
    springs: tuple[Spring, ...]
    nodes: Index
    axis: Vec
    hole: float = 0.0
    tee: bool = False
    weld: Weld | None = None

    @property
    def other(self) -> str:
        """Name of the second."""
        return self.second if isinstance(self.second, str) else self.second.name


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bore:
    """A round hole of a member, or of a bought item.

    Parameters
    ----------
    of : Member, Body or "ground"
    name, use : str
    at : array (3,)
        Middle, whole axes.
    axis : array (3,)
    dia, deep : float
        mm; `deep` is the thickness there.
    nodes : array
        Of its rim in the whole; none for bought items.
    """

    of: Other
    name: str
    use: str
    at: Array
    axis: Array
    dia: float
    deep: float
    nodes: Index = field(default_factory=lambda: np.zeros(0, dtype=np.int64))


def bores_of(m: Member, whole: Whole) -> Iterator[Bore]:
    """Return the round holes of a member."""
    frames = {p.name: p.frame for p in m.made.panels}
    for key, rim in m.mesh.holes.items():
        panel, _, name = key.partition("/")
        if panel not in frames:
            continue
        places = whole.points[m.first + rim]
        middle = places.mean(axis=0)
        axis = np.array(m.at.vector(*frames[panel].z))
        dia = 2 * float(np.linalg.norm(places - middle, axis=1).mean())
        yield Bore(of=m, name=name.rstrip("'") + (f" of {panel}" if panel != "base" else ""), use=m.mesh.uses[key],
                   at=middle, axis=axis, dia=dia, deep=m.made.thickness, nodes=m.first + rim)  # fmt: skip


def axes_along(along: Array) -> Array:
    """Return axes as rows, the first one given."""
    start = np.eye(3)[int(np.argmin(np.abs(along)))]
    two = np.cross(along, start)
    two /= np.linalg.norm(two)
    return np.stack((along, two, np.cross(along, two)))
