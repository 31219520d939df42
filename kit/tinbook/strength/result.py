"""Results of an analysis: numbers with their support and error, and arrays for the coloured view."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from tinbook.calc.plates import SMALL_DEFLECTION
from tinbook.errors import OutOfRange, UnknownName
from tinbook.htmltable import html_table
from tinbook.strength.mesh.quads import Mesh
from tinbook.strength.shell.element import Array

AT_BEADS = "Where stress is worst at the foot or the end of a bead it may read a seventh low on this mesh."
CAUTION = "A screen by elastic theory, not a certificate: welds, fatigue and what the part is fixed to are not in it."


@dataclass(frozen=True, slots=True, kw_only=True)
class Reaction:
    """Reaction force of a support.

    Parameters
    ----------
    title : str
        The support.
    force : (float, float, float)
        Total on the part, part axes, N.
    peak : float
        Largest force on one node, N.
    lifted : int
        Stops of a one-sided support that have lifted off.
    """

    title: str
    force: tuple[float, float, float]
    peak: float
    lifted: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Coloured:
    """Triangles with a value at each point, for the 3-D view.

    Parameters
    ----------
    positions : array (n, 3) of float32
        mm, displaced by `scale` times the displacement.
    triangles : array (k, 3) of uint32
    values : array (n,) of float32
    title : str
        With unit.
    low, high : float
        Range of the values.
    """

    positions: npt.NDArray[np.float32]
    triangles: npt.NDArray[np.uint32]
    values: npt.NDArray[np.float32]
    title: str
    low: float
    high: float


def _coloured(mesh: Mesh, moved: Array, values: Array, title: str, scale: float) -> Coloured:
    q = mesh.quads
    return Coloured(
        positions=(mesh.points + scale * moved).astype(np.float32),
        triangles=np.concatenate((q[:, [0, 1, 2]], q[:, [0, 2, 3]])).astype(np.uint32),
        values=values.astype(np.float32),
        title=title,
        low=float(values.min()),
        high=float(values.max()),
    )


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
        Part of the load at which the skin first yields; infinite if not within the load (large displacements only).
    history : tuple of (float, float)
        Part of the load and largest displacement, mm.
    linear_deflection : float
        What linear theory says, mm, true or not.
    error : (float, float) or None
        Difference to a mesh twice as coarse as a fraction: deflection, stress.
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
    history: tuple[tuple[float, float], ...]
    linear_deflection: float
    error: tuple[float, float] | None = None

    @property
    def trusted(self) -> bool:
        """Whether the results are within the theory used."""
        small = self.linear_deflection <= SMALL_DEFLECTION * self.thickness
        return self.complete and (self.large or small)

    def _require(self) -> None:
        if not self.complete:
            raise OutOfRange("load", 1.0, f"at most {self.reached:.3g} of it: no balance was found beyond")
        if not self.trusted:
            raise OutOfRange(
                "linear deflection",
                round(self.linear_deflection, 3),
                f"at most half the thickness, {SMALL_DEFLECTION * self.thickness:g} mm; ask for large displacements",
            )

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

    @property
    def linear_to(self) -> float:
        """Load factor up to which linear theory holds: deflection reaches half the thickness."""
        return SMALL_DEFLECTION * self.thickness / max(self.linear_deflection, 1e-30)

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

    def with_error(self, error: tuple[float, float] | None) -> Static:
        """Return the same result with its error."""
        return replace(self, error=error)

    def rows(self) -> list[tuple[str, str]]:
        """Return the table's rows: (quantity, value)."""
        by = ", large displacements" if self.large else ", linear"
        error = ("", "") if self.error is None else tuple(f" (meshes differ by {e:.1%})" for e in self.error)
        if self.trusted:
            shown = [
                ("largest deflection" + by, f"{self.deflection:.3g} mm{error[0]}"),
                ("largest von Mises stress" + by, f"{self.stress:.3g} MPa{error[1]}"),
            ]
        elif self.complete:
            limit = SMALL_DEFLECTION * self.thickness
            shown = [
                ("largest deflection", f"more than {limit:.3g} mm: beyond linear theory, ask for large displacements")
            ]
        else:
            shown = [("full load", f"not reached: no balance beyond {self.reached:.3g} of it")]
        if self.snap is not None:
            shown.append(("snaps through (oil-cans)", f"at {self.snap:.3g} of the load"))
        if self.trusted:
            shown.append(("first yield", self._yield()))
        for r in self.reactions:
            lifted = f", {r.lifted} nodes lifted off" if r.lifted else ""
            shown.append((f"taken by {r.title}", "({:.4g}, {:.4g}, {:.4g}) N".format(*r.force) + lifted))
        return shown

    def _yield(self) -> str:
        at = f"{self.yield_stress:g} MPa ({self.material}, lower bound)"
        if math.isinf(self.first_yield):
            return f"not within this load; {at}"
        if self.yields:
            return f"at {self.first_yield:.3g} of the load; {at}; beyond it these numbers are elastic, the sheet gives more and keeps a dent"
        if not self.large and self.first_yield > self.linear_to:
            return f"not within {self.linear_to:.3g} times the load, where linear theory ends; {at}"
        return f"at {self.first_yield:.3g} times the load; {at}"

    def notes(self) -> list[str]:
        """Return the notes that must be shown with the numbers."""
        return [
            "Held by: " + "; ".join(self.supports) + ".",
            "Load: " + "; ".join(self.loads) + ".",
            f"{len(self.mesh.quads)} elements of at most {self.mesh.size:.3g} mm.",
            *([AT_BEADS] if self.mesh.forms else []),
            *self.mesh.notes,
            CAUTION,
        ]

    def coloured(self, what: str = "deflection", scale: float = 1.0) -> Coloured:
        """Return the part coloured by "deflection", "top" or "bottom" (von Mises of the skins)."""
        self._require()
        u = self.displacement[:, :3]
        choice = {
            "deflection": (np.linalg.norm(u, axis=1), "deflection, mm"),
            "top": (self.top, "von Mises stress, up side, MPa"),
            "bottom": (self.bottom, "von Mises stress, down side, MPa"),
        }
        if what not in choice:
            raise UnknownName("colour", what, choice)
        return _coloured(self.mesh, u, *choice[what], scale)

    def __str__(self) -> str:
        return "\n".join([f"{a}: {b}" for a, b in self.rows()] + self.notes())

    def _repr_html_(self) -> str:
        return html_table((), self.rows(), caption="Under load", notes=self.notes())


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
    def first(self) -> float:
        """The lowest, Hz."""
        return self.frequencies[0]

    def coloured(self, mode: int = 0, scale: float = 1.0) -> Coloured:
        """Return a mode shape, displaced by `scale` mm at its largest; animate it by a sine on the displacement."""
        if not 0 <= mode < len(self.frequencies):
            raise UnknownName("mode", mode, [str(k) for k in range(len(self.frequencies))])
        u = self.shapes[mode][:, :3]
        return _coloured(
            self.mesh, u, np.linalg.norm(u, axis=1), f"mode {mode + 1}, {self.frequencies[mode]:.3g} Hz", scale
        )

    def rows(self) -> list[tuple[str, str]]:
        """Return the table's rows: (quantity, value)."""
        out = [(f"frequency {k}", f"{f:.4g} Hz") for k, f in enumerate(self.frequencies, 1)]
        if self.error is not None:
            out[0] = (out[0][0], out[0][1] + f" (meshes differ by {self.error:.1%})")
        return out

    def notes(self) -> list[str]:
        """Return the notes that must be shown with the numbers."""
        with_it = [f"{self.cargo:g} kg ride on it."] if self.cargo else []
        return [
            "Held by: " + "; ".join(self.supports) + ".",
            *with_it,
            "Small vibrations about the unloaded shape.",
            "None below the last is missing: the pivots of the factorised system count them.",
            *self.mesh.notes,
        ]

    def __str__(self) -> str:
        return "\n".join([f"{a}: {b}" for a, b in self.rows()] + self.notes())

    def _repr_html_(self) -> str:
        return html_table((), self.rows(), caption="Natural frequencies", notes=self.notes())


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
        Whether the part has moved by more than half its thickness before: linear buckling then says little.
    """

    mesh: Mesh
    factors: tuple[float, ...]
    shapes: Array
    supports: tuple[str, ...]
    loads: tuple[str, ...]
    bends: bool

    @property
    def factor(self) -> float:
        """The lowest factor; raises OutOfRange when the part deflects out of the linear range before it buckles."""
        if self.bends:
            raise OutOfRange(
                "linear buckling",
                round(self.factors[0], 4),
                "a part that stays within half its thickness up to it; ask for large displacements",
            )
        return self.factors[0]

    def __str__(self) -> str:
        said = (
            "bends by more than half its thickness before it buckles"
            if self.bends
            else f"{self.factors[0]:.4g} times the load"
        )
        return "\n".join(
            (
                f"buckles at: {said}",
                "Held by: " + "; ".join(self.supports) + ".",
                "Load: " + "; ".join(self.loads) + ".",
            )
        )
