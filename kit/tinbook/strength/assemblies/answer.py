"""Strength of an assembly: each case's stress by member, every joint against its rule, frequencies."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from tinbook.errors import UnknownName
from tinbook.finding import Finding, Findings, caution, fine, stop
from tinbook.htmltable import html_table
from tinbook.strength.joints.picture import picture
from tinbook.strength.joints.result import BEYOND, not_proved, overloaded, percent
from tinbook.strength.report import SWINGS, Field

if TYPE_CHECKING:
    from tinbook.part.assembly import Assembly
    from tinbook.strength.assemblies.loads import Case
    from tinbook.strength.assemblies.whole import Whole
    from tinbook.strength.joints.rules import JointUse
    from tinbook.strength.shell.element import Array
    from tinbook.svg import Picture

HEAD: Final = ("case", "goes", "most stressed member", "uses of its yield stress", "joints", "held against")
JOINT_HEAD: Final = ("joint", "joins it to", "worst case", "in the plane", "apart", "uses", "what governs", "by")
NOTES: Final = (
    (
        "Linear shells joined by the stiffness of their welds and bolts; sheets that only touch do not hold each other up. "
        "Bought items are rigid, straps and rubber are springs."
    ),
    "Stress at welds and under bolt heads is left to the joints' own rules: a shell has none that could be read there.",
    "Fasteners of less than half a kilogram ride on the nearest metal.",
)
CAUTION: Final = (
    "A screen by linear theory, not a certificate: welds need a qualified procedure, and what carries people, fuel, tow or "
    "recovery loads a licensed engineer."
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CaseResult:
    """An assembly under one case.

    Parameters
    ----------
    case : Case
    displacement : array (n, 6)
        mm, rad.
    stress : array (n,)
        The larger von Mises stress of both skins, MPa.
    members : tuple of (str, float, float, bool)
        Name, largest stress and part of its yield stress, whether it bends out of the linear range.
    uses : tuple of JointUse
    loose : tuple of str
        One-sided contacts that have come open everywhere.
    """

    case: Case
    displacement: Array
    stress: Array
    members: tuple[tuple[str, float, float, bool], ...]
    uses: tuple[JointUse, ...]
    loose: tuple[str, ...] = ()

    @property
    def deflection(self) -> float:
        """Largest displacement, mm."""
        return float(np.linalg.norm(self.displacement[:, :3], axis=1).max())

    @property
    def worst_member(self) -> tuple[str, float, float, bool]:
        """The member that uses most of its yield stress."""
        return max(self.members, key=lambda m: m[2])

    @property
    def worst(self) -> JointUse | None:
        """The joint that uses most, of those that are proved."""
        proved = [u for u in self.uses if u.use is not None]
        return max(proved, key=lambda u: u.use or 0.0) if proved else None

    @property
    def bent(self) -> tuple[str, ...]:
        """Members that bend by more than half their thickness: linear theory ends there."""
        return tuple(m[0] for m in self.members if m[3])

    @property
    def joints(self) -> str:
        """The worst joint, and how many are not proved, in words."""
        missing = sum(u.use is None for u in self.uses)
        if self.worst is None:
            return f"none of {missing} proved" if missing else "none"
        rest = f"; {missing} of {len(self.uses)} not proved" if missing else ""
        return f"worst {self.worst.joint.name} at {percent(self.worst.use)}{rest}"

    @property
    def ok(self) -> bool:
        """Whether every member stays elastic and every joint is proved and holds."""
        return not self.bent and not self.loose and self.worst_member[2] <= 1 and all(u.holds for u in self.uses)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AssemblyStrength:
    """Result of `strength_of` for an assembly; shows itself in a notebook.

    Parameters
    ----------
    assembly : Assembly
    whole : Whole
    results : tuple of CaseResult
    frequencies : tuple of float
        Hz.
    shapes : array (k, n, 6)
    held : tuple of str
        In words.
    remarks : tuple of str
        What was not found, and the cautions of the loads.
    """

    assembly: Assembly
    whole: Whole
    results: tuple[CaseResult, ...]
    frequencies: tuple[float, ...]
    shapes: Array
    held: tuple[str, ...]
    remarks: tuple[str, ...] = ()

    @property
    def ok(self) -> bool:
        """Whether every case holds."""
        return all(r.ok for r in self.results)

    @property
    def worst(self) -> CaseResult:
        """The case in which a joint or a member uses most."""
        return max(self.results, key=lambda r: max(r.worst_member[2], 0.0 if r.worst is None else r.worst.use or 0.0))

    @property
    def line(self) -> str:
        """In one line: "full tank forward: worst seam 2 of fork on cradle at 83 %"."""
        r = self.worst
        name, _, use, _ = r.worst_member
        return f"{r.case.name}: {name} at {percent(use)} of yield; joints: {r.joints}"

    def rows(self) -> list[tuple[str, ...]]:
        """Return the table of cases."""
        out: list[tuple[str, ...]] = []
        for r in self.results:
            name, stress, use, _ = r.worst_member
            bent = f"{r.deflection:.3g} mm"
            if r.loose:
                bent = f"no number: {'; '.join(r.loose)}"
            elif r.bent:
                bent = f"no number: {', '.join(r.bent)} bends beyond linear theory"
            used = f"{percent(use)} ({stress:.3g} MPa)" if use <= 1 else "yields"
            out.append((r.case.name, bent, name, used, r.joints, f"{r.case.against} ({r.case.source})"))
        return out

    def joint_rows(self) -> list[tuple[str, ...]]:
        """Return the table of joints, each in its worst case."""
        out: list[tuple[str, ...]] = []
        for k in range(len(self.results[0].uses)):
            r = max(self.results, key=lambda r: BEYOND * 1e3 if r.uses[k].use is None else r.uses[k].use or 0.0)
            u = r.uses[k]
            j = u.joint
            per = f" on {j.length:.3g} mm" if j.kind == "seam" else ""
            apart = f"{j.pull:.3g} N" if j.pull > 0 else f"pressed by {-j.pull:.3g} N"
            out.append(
                (
                    j.name,
                    j.to,
                    r.case.name,
                    f"{j.shear:.3g} N{per}",
                    apart,
                    percent(u.use),
                    u.by,
                    f"{u.source}, {u.clause}",
                )
            )
        return out

    @property
    def findings(self) -> Findings:
        """Stops for joints and members that do not hold, cautions for what is not proved."""
        found: list[Finding] = []
        for r in self.results:
            case, source = r.case.name, r.case.source
            for name in r.bent:
                what = "bends by more than half its thickness: no number by linear theory"
                found.append(caution("member.linear", f"{case}: {name}", what, "stiffen it, or ask for the part alone"))
            remedy = "more strap tension, or end stops"
            found += [stop("contact.loose", case, name, remedy, source=source) for name in r.loose]
            for name, stress, use, _ in r.members:
                if use > 1:
                    remedy = "thicker or stronger sheet, or more joints"
                    found.append(
                        stop("member.yield", f"{case}: {name}", "yields", remedy, stress, stress / use, "MPa", source)
                    )
            for u in r.uses:
                where = f"{case}: {u.joint.name}"
                if u.use is None:
                    found.append(not_proved(u, where))
                elif u.use > 1:
                    found.append(overloaded(u, where, u.use, u.by))
        if not found:
            r = self.worst
            use = max(r.worst_member[2], 0.0 if r.worst is None else r.worst.use or 0.0)
            found.append(
                fine(
                    "assembly.strength",
                    self.assembly.number,
                    f"the worst that holds: {self.line}",
                    100 * use,
                    100.0,
                    "%",
                )
            )
        return Findings(found)

    @property
    def fields(self) -> tuple[str, ...]:
        """Names of the fields for a coloured view."""
        cases = [f"{what}: {r.case.name}" for r in self.results for what in ("deflection", "stress", "joints")]
        return (*cases, *(f"mode {k}" for k in range(1, len(self.frequencies) + 1)))

    def field(self, name: str) -> Field:
        """Return one of `fields`."""
        if name not in self.fields:
            raise UnknownName("colour", name, self.fields)
        if name.startswith("mode "):
            k = int(name[5:]) - 1
            moves = self.shapes[k, :, :3]
            return self._field(
                moves,
                np.linalg.norm(moves, axis=1),
                f"mode {k + 1}, {self.frequencies[k]:.3g} Hz",
                "",
                1.0,
                swings=True,
            )
        what, _, case = name.partition(": ")
        r = next(r for r in self.results if r.case.name == case)
        moves = r.displacement[:, :3]
        if what == "deflection":
            return self._field(moves, np.linalg.norm(moves, axis=1), "deflection", "mm", r.deflection)
        if what == "stress":
            return self._field(moves, r.stress, "von Mises stress", "MPa", float(r.stress.max()))
        return self._field(
            moves, self._used(r), "joints: part used of what each bears", "%", 100.0, "overloaded or not proved"
        )

    def _used(self, r: CaseResult) -> Array:
        out = np.zeros(len(self.whole.points))
        for u in r.uses:
            nodes = np.array(u.joint.nodes, dtype=np.int64)
            out[nodes] = np.maximum(out[nodes], 100 * (BEYOND if u.use is None else u.use))
        return out

    def _field(
        self, moves: Any, values: Any, title: str, unit: str, high: float, over: str = "", swings: bool = False
    ) -> Field:
        q = self.whole.quads
        return Field(
            points=self.whole.points.astype(np.float32),
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

    @property
    def picture(self) -> Picture:
        """The assembly with its joints coloured by the part used in the worst case."""
        r = self.worst
        owner = np.concatenate([k + 0 * m.mesh.owner for k, m in enumerate(self.whole.members)])
        shown = [(u.joint.name, u.joint.at, u.use) for u in r.uses]
        return picture(self.whole.points, self.whole.quads, owner, shown, f"{self.assembly.number}: {r.case.name}")

    def notes(self) -> list[str]:
        """Return what must be shown with the numbers."""
        swings = []
        if self.frequencies:
            swings = ["Natural frequencies: " + ", ".join(f"{f:.3g} Hz" for f in self.frequencies) + ".", SWINGS]
        held = "Held by: " + "; ".join(self.held) + "."
        mesh = f"{len(self.whole.members)} members, {len(self.whole.quads)} elements, one mesh: no error is stated."
        return [self.line + ".", held, *swings, mesh, *NOTES, *self.remarks, *self.assembly.cautions, CAUTION]

    def __str__(self) -> str:
        cases = ["; ".join(row) for row in self.rows()]
        joints = ["; ".join(row) for row in self.joint_rows()]
        return "\n".join([self.assembly.number, *cases, *joints, *self.notes()])

    def __repr__(self) -> str:
        return f"<strength of {self.assembly.number}: {self.line}>"

    def _repr_html_(self) -> str:
        title = f"{self.assembly.number} rev {self.assembly.rev}"
        cases = html_table(HEAD, self.rows(), caption=f"{title}: is it strong enough?", notes=self.notes())
        return cases + html_table(JOINT_HEAD, self.joint_rows(), caption=f"{title}: each joint in its worst case")
