"""A part on its meshes with its supports: each is meshed and factorised once, for every analysis that uses it."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property

import numpy as np

from tinbook.making.made import Made
from tinbook.strength.contact import linear as contact
from tinbook.strength.mesh.build import Fine, mesh
from tinbook.strength.mesh.quads import Mesh
from tinbook.strength.shell import linear as sh
from tinbook.strength.shell.element import Array
from tinbook.strength.supports import Stops, Support, lips, on_mesh

Model = tuple[Mesh, sh.Shell]


def model_of(
    made: Made,
    size: float | None = None,
    finer_beads: float = 1.0,
    supports: Sequence[Support] = (),
    fine_rims: bool = True,
    fine: Fine | None = None,
) -> Model:
    """Return the mesh and the shell model of a part; `size` is the largest side of an element, mm.

    The mesh follows the inner lines of lips among the supports.
    """
    m = mesh(made, size, finer_beads=finer_beads, lips=lips(supports), fine_rims=fine_rims, fine=fine)
    material = made.sheet.material
    given = material.youngs, material.poisson, material.density
    return m, sh.shell(m.points, m.quads, m.thickness, *given, normals=m.normals)


class Meshed:
    """A part on one mesh with its supports.

    Parameters
    ----------
    made : Made
    supports : sequence of Support
    size : float or None
        Largest side of an element, mm.
    fine : Fine, optional
        Where it must be smaller.
    """

    def __init__(self, made: Made, supports: Sequence[Support], size: float | None, fine: Fine | None = None) -> None:
        self.made, self.supports = made, tuple(supports)
        self.mesh, self.model = model_of(made, size, supports=supports, fine=fine)

    @cached_property
    def stops(self) -> Stops:
        """The supports on the mesh."""
        return on_mesh(self.made, self.mesh, self.supports)

    @cached_property
    def system(self) -> sh.System:
        """The stiffness, factorised; one-sided supports hold, a lip along its inner line."""
        return sh.system(self.model, contact.held(self.model, self.stops, self.stops.firm))

    def resting(self, extra: Array | None = None) -> sh.System:
        """Return the stiffness about the state at rest: lips hold where the part bears on them, nowhere else.

        At rest it is pressed on its lips by its own weight and by what rides on it. Where lips press both ways
        against each other they hold, as in `system`.

        Parameters
        ----------
        extra : array (m,), optional
            Mass that rides on each element, kg.

        Raises
        ------
        NotSolved
            No contact settles.
        """
        up = self.stops.rows[self.stops.one_sided, :3].sum(axis=0)
        size = float(np.linalg.norm(up))
        if size < 0.5 * self.stops.one_sided.sum() or size == 0:
            return self.system
        # Which stops act does not depend on how large the load is.
        push = np.zeros((len(self.model.points), 6))
        push[:, :3] = -sh.lumped_mass(self.model, extra).reshape(-1, 6)[:, :1] * up / size
        return contact.linear(self.model, self.stops, push, firm=lambda: self.system)[3]


class Meshes:
    """A mesh of a part and one twice as coarse, each made when it is first used.

    Parameters
    ----------
    made : Made
    supports : sequence of Support
    size : float or None, optional
        Largest side of an element of the finer one, mm; None takes a 32nd of the shorter side of the largest panel.
    """

    def __init__(self, made: Made, supports: Sequence[Support], size: float | None = None) -> None:
        self.made, self.supports, self.size = made, tuple(supports), size

    @cached_property
    def first(self) -> Meshed:
        """The mesh."""
        return Meshed(self.made, self.supports, self.size)

    @cached_property
    def coarse(self) -> Meshed:
        """One twice as coarse."""
        return Meshed(self.made, self.supports, 2 * self.first.mesh.size)
