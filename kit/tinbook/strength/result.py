"""Results of an analysis: numbers with their support and error; `report.Strength` shows them."""

from __future__ import annotations

from dataclasses import field
from typing import Final

import numpy as np

from tinbook.errors import OutOfRange
from tinbook.strength.mesh.quads import Mesh
from tinbook.strength.shell.element import Array
from tinbook.strength.supports import Support
from tinbook.values import dataclass

LINEAR: Final = 0.01
"""Departure from linear displacements up to which an answer is called linear (own choice)."""
THEORY: Final = {"deflection": 0.015, "frequency": 0.015, "stress": 0.065}
"""Half-widths that are left when the mesh has settled, as fractions: panels of every kind against an independent solver
(`tests/reference/test_panel_bands.py`)."""
BEADS: Final = 0.03
"""What is added of stress where a part has beads or other forms: in their tight rounds layers of solids read more than ours
(`tests/reference/test_shell_round.py`)."""
SETTLED: Final = 0.03
"""Difference of the greatest stress on the last two meshes up to which it has settled (own choice)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reaction:
    """Reaction force of a support.

    Parameters
    ----------
    title : str
        The support.
    force : (float, float, float)
        Total on the part, part axes, N.
    lifted : int
        Stops of a one-sided support that have lifted off.
    """

    title: str
    force: tuple[float, float, float]
    lifted: int = 0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Static:
    """Result of a static analysis.

    Parameters
    ----------
    mesh : Mesh
    material : str
    thickness : float
        mm.
    supports, loads : tuple of str
        In words.
    displacement : array (n, 6)
        Raw: at the nodes, mm and rad; see `deflection` for the number that may be shown.
    top, bottom : array (n,)
        Von Mises stress of the skins, MPa.
    reactions : tuple of Reaction
    large : bool
        Whether large displacements were followed.
    complete : bool
        Whether the full load was reached.
    reached : float
        Part of the load at the state shown.
    snap : float or None
        Part of the load at which the part snaps through.
    yield_stress : float
        MPa, the lower bound of the grade.
    first_yield : float
        Part of the load at which the skin first yields; infinite if not within `watched`.
    watched : float
        Part of the load up to which yield was looked for.
    linear_deflection : float
        What linear theory says, mm, true or not.
    departs : float
        Largest difference of large displacements to linear ones over the largest of these; infinite where
        they are not near each other, or large displacements were asked for.
    error : (float, float) or None
        Differences as fractions: of the deflection to a mesh twice as coarse, of the stress to the mesh before.
    hot : tuple of (str, float)
        Places where stress has no limit in theory, in words, and the stress two thicknesses away, MPa, greatest first.
    held : tuple of Support
        The supports themselves.
    reaction : array (n, 6)
        Of all supports together at each node, N and N mm.
    """

    mesh: Mesh
    material: str
    thickness: float
    supports: tuple[str, ...]
    loads: tuple[str, ...]
    displacement: Array
    top: Array
    bottom: Array
    reactions: tuple[Reaction, ...]
    large: bool
    complete: bool
    reached: float
    snap: float | None
    yield_stress: float
    first_yield: float
    watched: float
    linear_deflection: float
    departs: float
    error: tuple[float, float] | None = None
    hot: tuple[tuple[str, float], ...] = ()
    held: tuple[Support, ...] = ()
    reaction: Array = field(default_factory=lambda: np.zeros((0, 6)))

    @property
    def trusted(self) -> bool:
        """Whether the results are within the theory used."""
        return self.complete and (self.large or self.departs <= LINEAR)

    def _require(self) -> None:
        if not self.complete:
            raise OutOfRange("load", 1.0, f"at most {self.reached:.3g} of it: no balance was found beyond")
        if not self.trusted:
            raise OutOfRange(
                "linear deflection",
                round(self.linear_deflection, 3),
                f"one that large displacements change by at most {LINEAR:.0%}; ask for large displacements",
            )

    @property
    def bands(self) -> tuple[float, float] | None:
        """Half-widths of the bands of deflection and stress as fractions, mesh and theory; None without comparison."""
        if self.error is None:
            return None
        rounds = BEADS if self.mesh.forms else 0.0
        return THEORY["deflection"] + self.error[0], THEORY["stress"] + rounds + self.error[1]

    @property
    def settled(self) -> bool:
        """Whether the greatest stress of the last two meshes agrees, or nothing was compared."""
        return self.error is None or self.error[1] <= SETTLED

    @property
    def deflection(self) -> float:
        """Largest displacement, mm; raises OutOfRange where the theory behind it does not hold."""
        self._require()
        return float(np.linalg.norm(self.displacement[:, :3], axis=1).max())

    @property
    def stress(self) -> float:
        """Largest von Mises stress, MPa; raises OutOfRange like `deflection`."""
        self._require()
        return float(max(self.top.max(), self.bottom.max()))

    @property
    def yields(self) -> bool:
        """Whether the skin yields under the load; elastic results beyond first yield are too stiff."""
        return self.first_yield < 1.0

    def at(self, point: tuple[float, float, float]) -> tuple[float, float, float]:
        """Return the displacement of the node nearest to a point, mm."""
        self._require()
        k = int(np.argmin(np.linalg.norm(self.mesh.points - np.asarray(point), axis=1)))
        x, y, z = self.displacement[k, :3]
        return float(x), float(y), float(z)

    def differs(self, other: Static) -> tuple[float, float]:
        """Return the relative difference of another mesh's result: deflection, stress."""
        a, b = (float(np.linalg.norm(s.displacement[:, :3], axis=1).max()) for s in (self, other))
        s, t = (float(max(r.top.max(), r.bottom.max())) for r in (self, other))
        return abs(b - a) / max(a, 1e-30), abs(t - s) / max(s, 1e-30)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Modes:
    """Natural frequencies.

    Parameters
    ----------
    mesh : Mesh
    frequencies : tuple of float
        Hz, lowest first.
    shapes : array (k, n, 6)
        Largest displacement 1.
    supports : tuple of str
    cargo : float
        Riding mass, kg.
    error : float or None
        Difference of the first one to a mesh twice as coarse, as a fraction.
    errors : tuple of float
        The same for each; empty without comparison.
    """

    mesh: Mesh
    frequencies: tuple[float, ...]
    shapes: Array
    supports: tuple[str, ...]
    cargo: float = 0.0
    error: float | None = None
    errors: tuple[float, ...] = ()

    @property
    def bands(self) -> tuple[float, ...]:
        """Half-widths of the bands of the frequencies as fractions, mesh and theory; empty without comparison."""
        return tuple(THEORY["frequency"] + e for e in self.errors)

    @property
    def first(self) -> float:
        """The lowest, Hz."""
        return self.frequencies[0]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Buckling:
    """Buckling by linear theory.

    Parameters
    ----------
    mesh : Mesh
    factors : tuple of float
        Times the loads, lowest first.
    shapes : array (k, n, 6)
    supports, loads : tuple of str
    bends : bool
        Whether the part stiffens, softens or bends away before: linear buckling then says little.
    """

    mesh: Mesh
    factors: tuple[float, ...]
    shapes: Array
    supports: tuple[str, ...]
    loads: tuple[str, ...]
    bends: bool

    @property
    def factor(self) -> float:
        """The lowest factor; raises OutOfRange when linear theory does not hold up to it."""
        if self.bends:
            raise OutOfRange(
                "linear buckling",
                round(self.factors[0], 4),
                "a part that stays as stiff as it is unloaded up to it; ask for large displacements",
            )
        return self.factors[0]
