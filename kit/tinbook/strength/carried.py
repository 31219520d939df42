"""What hangs on a part: a force at a point off the sheet, carried by its holes or one of its panels.

The point is tied to the rims as a mean: force and moment reach the sheet whole, and the sheet is not stiffened
(a stiff box would hold its own holes apart, which is not counted on).
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

import numpy as np

from tinbook.errors import BadValue
from tinbook.making.made import Made
from tinbook.space import Vec
from tinbook.strength.mesh.quads import Mesh
from tinbook.strength.shell.element import Array
from tinbook.strength.supports import holes_named
from tinbook.values import dataclass

if TYPE_CHECKING:
    from tinbook.strength.shell.linear import Shell

LOOSE: Final = 1e-6
"""Part of a moment that may be lost where points lie on one line."""


def mean_tie(points: Array, weights: Array, about: Array) -> Array:
    """Return the matrix (6, 3 n) that gives mean displacement and rotation at a point from the points' displacements.

    Its transpose turns force and moment at the point into forces on the points (least squares, moments in full).

    Parameters
    ----------
    points : array (n, 3)
    weights : array (n,)
        Each at least 0.
    about : array (3,)
    """
    w = weights / weights.sum()
    middle = w @ points
    r = points - middle
    inertia = np.einsum("n,n,ij->ij", w, (r * r).sum(axis=1), np.eye(3)) - np.einsum("n,ni,nj->ij", w, r, r)
    turn = np.linalg.pinv(inertia, rcond=1e-9, hermitian=True)
    cross = np.zeros((len(points), 3, 3))
    x, y, z = r.T
    cross[:, 0, 1], cross[:, 0, 2], cross[:, 1, 2] = -z, y, -x
    cross[:, 1, 0], cross[:, 2, 0], cross[:, 2, 1] = z, -y, x
    rotation = np.einsum("ij,n,njk->nik", turn, w, cross)
    # Displacement at the point: of the middle, and rotation times the way there.
    dx, dy, dz = about - middle
    lever = np.array([[0.0, dz, -dy], [-dz, 0.0, dx], [dy, -dx, 0.0]])
    move = w[:, None, None] * np.eye(3) + np.einsum("ij,njk->nik", lever, rotation)
    return np.concatenate((move, rotation), axis=1).transpose(1, 0, 2).reshape(6, -1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Carried:
    """A force, or the push of a mass, at a point off the sheet, carried by holes of a panel or by the whole panel.

    Parameters
    ----------
    newtons : (float, float, float)
        Part axes, N.
    at : (float, float, float)
        Where it acts (for a mass its centre), part axes, mm.
    holes : str
        Name or use of the holes that carry it, in equal shares; "" for the whole panel.
    panel : str
    name : str
        What it is, for results.
    """

    newtons: Vec
    at: Vec
    holes: str = ""
    panel: str = "base"
    name: str = "force"

    def __post_init__(self) -> None:
        for field, value in (("newtons", self.newtons), ("at", self.at)):
            if not isinstance(value, tuple | list) or len(value) != 3 or not all(map(_finite, value)):
                raise BadValue(f"load '{self.name}' {field}", value, "three finite numbers (x, y, z)")

    @property
    def title(self) -> str:
        """In words."""
        on = f"holes '{self.holes}'" if self.holes else f"panel '{self.panel}'"
        force = "({:.4g}, {:.4g}, {:.4g}) N".format(*self.newtons)
        return f"{self.name} {force} at ({{:.4g}}, {{:.4g}}, {{:.4g}}) mm, on {on}".format(*self.at)

    def at_nodes(self, made: Made, mesh: Mesh, model: Shell) -> Array:
        """Return nodal forces (n, 6), N."""
        panel = made.panel(self.panel)
        if self.holes:
            keys = holes_named(mesh, panel.name, self.holes, f"load '{self.name}' holes")
            nodes = np.concatenate([mesh.holes[k] for k in keys])
            weights = np.concatenate([np.full(len(mesh.holes[k]), 1 / len(mesh.holes[k])) for k in keys])
        else:
            mine = mesh.of(panel.name)
            share = np.bincount(mesh.quads[mine].ravel(), np.repeat(model.elements.area[mine] / 4, 4), len(mesh.points))
            nodes = np.flatnonzero(share)
            weights = share[nodes]
        tie = mean_tie(mesh.points[nodes], weights, np.asarray(self.at, dtype=np.float64))
        force = (np.array([*self.newtons, 0.0, 0.0, 0.0]) @ tie).reshape(-1, 3)
        arm = np.cross(mesh.points[nodes] - np.asarray(self.at), force).sum(axis=0)
        size = float(np.linalg.norm(self.newtons)) * float(np.ptp(mesh.points, axis=0).max())
        if np.linalg.norm(arm) > LOOSE * max(size, 1e-12):
            raise BadValue(f"load '{self.name}' holes", self.holes, "holes that do not all lie on one line through it")
        out = np.zeros((len(mesh.points), 6))
        np.add.at(out[:, :3], nodes, force)
        return out


def _finite(v: object) -> bool:
    return isinstance(v, int | float) and not isinstance(v, bool) and math.isfinite(v)
