"""Report of a strength analysis: numbers with their supports, notes, and fields for the coloured view.

A number is given only where its theory holds; elsewhere a note says why it is missing.
"""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING, Final

import numpy as np
import numpy.typing as npt

from tinbook.errors import UnknownName
from tinbook.htmltable import html_table
from tinbook.strength.result import LINEAR, THEORY, Buckling, Modes, Static
from tinbook.strength.validity import TOES, Validity
from tinbook.units import figures
from tinbook.values import dataclass

if TYPE_CHECKING:
    from tinbook.part.part import Part
    from tinbook.strength.assemblies.whole import Whole
    from tinbook.strength.joints.result import Joints
    from tinbook.strength.mesh.quads import Mesh

UNLIMITED: Final = Validity()
"""Nothing limits the answer."""
FAR: Final = 0.15
"""Half-width of a band from which on a number is called rough: it has not settled."""
JOINTS: Final = "joints: part used of what each bears"
HEAD: Final = ("", "value", "within", "held by")
AT_BEADS: Final = "Where stress is worst at the foot or the end of a bead it may read a seventh low on this mesh."
SHARP: Final = (
    "At {} places stress has no limit in theory (corners too wide for their supports, ends of held edges, single points): "
    "it is read two thicknesses away (hot spot). The worst: {}. A radius relieves an inner corner."
)
NEAR: Final = 0.5
"""Parts of the greatest stress below which such a place needs no word."""
SHOWN: Final = 3
"""Such places that are named."""
SWINGS: Final = (
    "Small vibrations about the unloaded shape; pivots of the factorised system prove that no frequency is missing."
)
RESTS: Final = (
    "On its lips it swings about where its own weight lays it, corners lifted; what holds it down raises that."
)
CAUTION: Final = (
    "A screen by elastic theory, not a certificate: welds, fatigue and what the part is fixed to are not in it."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """A result as colours on the part's mid-surface, with the displacement of its points.

    Parameters
    ----------
    points : array (n, 3) of float32
        Where the points are without load, mm.
    triangles : array (k, 3) of uint32
    moves : array (n, 3) of float32
        Displacement of each point, mm; of a mode shape only its proportions mean something.
    values : array (n,) of float32
        What is coloured.
    title, unit : str
        For the legend.
    low, high : float
        Ends of the colours; values above `high` are coloured as `high`.
    over : str
        What a value at or above `high` means, "" where nothing lies above.
    swings : bool
        A mode shape, which may be shown swinging.
    """

    points: npt.NDArray[np.float32]
    triangles: npt.NDArray[np.uint32]
    moves: npt.NDArray[np.float32]
    values: npt.NDArray[np.float32]
    title: str
    unit: str
    low: float
    high: float
    over: str = ""
    swings: bool = False

    @classmethod
    def of(
        cls,
        on: Mesh | Whole,
        moves: npt.NDArray[np.float64],
        values: npt.NDArray[np.float64],
        title: str,
        unit: str,
        high: float,
        over: str = "",
        swings: bool = False,
    ) -> Field:
        """Return values at the nodes of a mesh, or of an assembly, coloured from nought."""
        q = on.quads
        return cls(
            points=on.points.astype(np.float32),
            triangles=np.concatenate((q[:, [0, 1, 2]], q[:, [0, 2, 3]])).astype(np.uint32),
            moves=moves.astype(np.float32),
            values=values.astype(np.float32),
            title=title,
            unit=unit,
            low=0.0,
            high=high,
            over=over,
            swings=swings,
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Strength:
    """Result of `strength_of`; shows itself in a notebook.

    Parameters
    ----------
    part : Part
        What was asked about.
    under : Static or None
        Deflection and stress under the load; None with a reason in `refused`.
    modes : Modes or None
        First frequencies; None with a reason in `refused`, or not asked for.
    buckles : Buckling or None
        None with a reason in `refused`, or not asked for.
    buckles_error : float or None
        Difference of the buckling load on a mesh twice as coarse, as a fraction.
    refused : tuple of (str, str)
        What could not be worked out, and why.
    force : float or None
        N, when the load is one foot or heel: parts of it are then told in N too.
    joints : Joints or None
        Each joint that holds it against its rule; None where nothing that holds it is a joint.
    limits : Validity
        Why stress has no number, and what must stand beside the numbers.
    """

    part: Part
    under: Static | None
    modes: Modes | None = None
    buckles: Buckling | None = None
    buckles_error: float | None = None
    refused: tuple[tuple[str, str], ...] = ()
    force: float | None = None
    joints: Joints | None = None
    limits: Validity = UNLIMITED

    @property
    def held(self) -> str:
        """How the part is held, in words."""
        return _short(self._first().supports)

    @property
    def mesh(self) -> Mesh:
        """The finer of the two meshes."""
        return self._first().mesh

    def _first(self) -> Static | Modes | Buckling:
        found = self.under or self.modes or self.buckles
        assert found is not None
        return found

    def rows(self) -> list[tuple[str, str, str, str]]:
        """Return the table's rows: (quantity, value or words, difference of two meshes, support)."""
        out = [] if self.under is None else _loaded(self.under, self.force, self.limits.no_stress)
        if self.joints is not None:
            out.append(("joints", self.joints.short, ""))
        if self.modes is not None:
            for k, f in enumerate(self.modes.frequencies, 1):
                what = "first frequency" if k == 1 else f"frequency {k}"
                band = self.modes.bands[k - 1] if k <= len(self.modes.bands) else None
                out.append((what, f"{f:.3g} Hz", _within(band)))
        if self.buckles is not None:
            out.append(_buckling(self.buckles, self.buckles_error))
        out += [(what, f"no number: {why}", "") for what, why in self.refused]
        return [(*row, self.held) for row in out]

    def notes(self) -> list[str]:
        """Return the notes that must be shown with the numbers."""
        out = []
        if self.under is not None:
            out.append("Load: " + "; ".join(self.under.loads) + ".")
        out.append("Held by: " + "; ".join(self._first().supports) + ".")
        if self.modes is not None:
            out += [f"{self.modes.cargo:g} kg ride on it as it swings."] if self.modes.cargo else []
            out.append(SWINGS)
            out += [RESTS] if any(s.endswith("on a lip") for s in self.modes.supports) else []
        out.append(
            f"Shell finite elements, {len(self.mesh.quads)} of at most {self.mesh.size:.3g} mm; "
            "± is the difference to a mesh twice as coarse (of stress to the mesh before this one, which is finer where it "
            "is steep) and what thin-shell theory adds; not of supports, loads or metal."
        )
        if self.under is not None:
            out += [AT_BEADS] if self.mesh.forms else []
            out += [] if self.limits.no_stress else _hot(self.under)
        return [*out, *dict.fromkeys((*self.limits.notes, *self.mesh.notes, *self.part.cautions)), CAUTION]

    @property
    def fields(self) -> tuple[str, ...]:
        """Names of the fields; empty where no number is shown."""
        out: list[str] = []
        if self.under is not None and self.under.trusted:
            out += ["deflection", *([] if self.limits.no_stress else ["stress, up side", "stress, down side"])]
            out += [] if self.joints is None else ["joints"]
        if self.modes is not None:
            out += [f"mode {k}" for k in range(1, len(self.modes.frequencies) + 1)]
        if self.buckles is not None and not self.buckles.bends:
            out.append("buckled shape")
        return tuple(out)

    def field(self, name: str) -> Field:
        """Return one of `fields`.

        Raises
        ------
        UnknownName
            Another name, or one whose number is not shown.
        """
        if name not in self.fields:
            raise UnknownName("colour", name, self.fields)
        if name.startswith("mode ") and self.modes is not None:
            k = int(name[5:]) - 1
            title = f"mode {k + 1}, {self.modes.frequencies[k]:.3g} Hz: part of the greatest swing"
            return _shape(self.modes.mesh, self.modes.shapes[k], title, swings=True)
        if name == "buckled shape" and self.buckles is not None:
            title = f"buckled shape at {self.buckles.factor:.3g} times the load"
            return _shape(self.buckles.mesh, self.buckles.shapes[0], title)
        assert self.under is not None
        r = self.under
        moves = r.displacement[:, :3]
        if name == "joints" and self.joints is not None:
            return Field.of(r.mesh, moves, self.joints.values, JOINTS, "%", 100.0, "overloaded or not proved")
        if name == "deflection":
            values = np.linalg.norm(moves, axis=1)
            title = "deflection, at least" if r.yields else "deflection"
            return Field.of(r.mesh, moves, values, title, "mm", float(values.max()))
        values = r.top if name.endswith("up side") else r.bottom
        side = name.partition(", ")[2]
        most = float(values.max())
        high, over = (r.yield_stress, "yields") if most > r.yield_stress else (most, "")
        # A picture travels without its notes.
        title = f"von Mises stress, {side}" + (", not of weld toes" if TOES in self.limits.notes else "")
        return Field.of(r.mesh, moves, values, title, "MPa", high, over)

    def __str__(self) -> str:
        lines = [f"{a}: {b}" + (f" ({c})" if c else "") for a, b, c, _ in self.rows()]
        return "\n".join([self.title, *lines, *self.notes()])

    @property
    def title(self) -> str:
        """Which part."""
        return f"{self.part.number} rev {self.part.rev}"

    def __repr__(self) -> str:
        first = [f"{a} {b}" for a, b, _, _ in self.rows()[:1]]
        return f"<strength of {self.title}: {', '.join(first)}; {self.held}>"

    def _repr_html_(self) -> str:
        return self.table(f"{self.title}: is it stiff and strong enough?")

    def table(self, caption: str) -> str:
        """Return the rows and notes as an HTML table under a caption."""
        return html_table(HEAD, self.rows(), caption=caption, notes=self.notes())


def _loaded(r: Static, force: float | None, no_stress: str = "") -> list[tuple[str, str, str]]:
    d, s = r.bands or (None, None)
    within_stress = _within(s, 0.0 if not r.settled else math.inf)
    out: list[tuple[str, str, str]] = []
    if not r.complete:
        out.append(("greatest deflection", f"no number: no balance was found beyond {r.reached:.3g} of the load", ""))
    elif not r.trusted:
        out.append(("greatest deflection", "no number: beyond linear theory, ask for large displacements", ""))
    else:
        theory = "large displacements" if r.large else f"linear, true within {LINEAR:.0%}"
        if no_stress:
            out += [
                ("greatest deflection", f"{r.deflection:.3g} mm ({theory}), while it does not yield", _within(d)),
                ("greatest von Mises stress", f"no number: {no_stress}", ""),
                ("first yield", f"no number: {no_stress}", ""),
            ]
        elif r.yields:
            # Beyond first yield elastic theory underestimates the deflection.
            part = f"{r.first_yield:.3g} of the load" + _newtons(force, r.first_yield)
            out += [
                ("greatest deflection", f"at least {r.deflection:.3g} mm: it yields before ({theory})", _within(d)),
                ("greatest von Mises stress", f"the yield stress, {r.yield_stress:g} MPa, reached at {part}", ""),
                ("first yield", f"at {part}; beyond it the sheet keeps a dent", within_stress),
            ]
        else:
            out += [
                ("greatest deflection", f"{r.deflection:.3g} mm ({theory})", _within(d)),
                ("greatest von Mises stress", f"{figures(r.stress)} MPa", within_stress),
                ("first yield", _yield(r, force), "" if math.isinf(r.first_yield) else within_stress),
            ]
    if r.snap is not None:
        out.append(("snaps through (oil-cans)", f"at {r.snap:.3g} of the load{_newtons(force, r.snap)}", ""))
    return out


def _hot(r: Static) -> list[str]:
    """Return a sentence that names the places where stress has no limit, [] where it is far below the greatest."""
    worst = [f"{words} with {figures(s)} MPa" for words, s in r.hot[:SHOWN] if r.trusted and s > NEAR * r.stress]
    return [SHARP.format(len(r.hot), "; ".join(worst))] if worst else []


def _newtons(force: float | None, part: float) -> str:
    # As large as the force asked, whichever way that points.
    return "" if force is None else f", {figures(abs(force) * part)} N"


def _yield(r: Static, force: float | None) -> str:
    limit = f"{r.yield_stress:g} MPa, {r.material}, lower bound"
    if math.isinf(r.first_yield):
        what = f"{r.watched:.3g} times the load{_newtons(force, r.watched)}" if r.watched > 1 else "this load"
        return f"not within {what} ({limit})"
    return f"at {r.first_yield:.3g} times the load{_newtons(force, r.first_yield)} ({limit})"


def _buckling(b: Buckling, error: float | None) -> tuple[str, str, str]:
    if b.bends:
        return "buckling", "no number: it changes its stiffness before it would buckle; ask for large displacements", ""
    return (
        "buckles",
        f"at {b.factor:.3g} times the load, if it is perfectly true",
        _within(None if error is None else THEORY["frequency"] + error),
    )


def _within(band: float | None, most: float = FAR) -> str:
    if band is None:
        return ""
    return f"± {band:.1%}" + (", rough: not settled" if band > most else "")


def _short(supports: tuple[str, ...]) -> str:
    """Return supports in words; edges held alike share one entry."""
    by: dict[str, list[str]] = {}
    for s in supports:
        where, at, how = s.rpartition("' ")
        if at and where.startswith("edge '"):
            by.setdefault(f"{how}:", []).append(where[6:].replace("' of '", " of "))
        else:
            # "bolts 'tack screw'" are tack screws.
            by.setdefault(re.sub(r"^(?:plug welds|bolts) '([a-z ]+)'$", r"\1s", s), [])
    return "; ".join(f"{how} {', '.join(edges)}".strip() for how, edges in by.items())


def _shape(mesh: Mesh, shape: npt.NDArray[np.float64], title: str, swings: bool = False) -> Field:
    moves = shape[:, :3]
    size = np.linalg.norm(moves, axis=1)
    return Field.of(mesh, moves, size / max(float(size.max()), 1e-30), title, "", 1.0, swings=swings)
