"""Strength of an assembly: each case's stress by member, every joint against its rule, frequencies."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING, Final

import numpy as np

from tinbook.errors import UnknownName
from tinbook.finding import Finding, Findings, caution, fine, stop
from tinbook.htmltable import html_table
from tinbook.strength.assemblies.caseresult import NO_BALANCE, CaseResult
from tinbook.strength.joints.picture import picture
from tinbook.strength.joints.result import BEYOND, not_proved, overloaded, percent
from tinbook.strength.report import JOINTS, SWINGS, Field
from tinbook.units import figures
from tinbook.values import dataclass

if TYPE_CHECKING:
    from tinbook.part.assembly import Assembly
    from tinbook.strength.assemblies.linked import LinkForce
    from tinbook.strength.assemblies.whole import Whole
    from tinbook.strength.shell.element import Array
    from tinbook.svg import Picture

HEAD: Final = ("case", "goes", "most stressed member", "uses of its yield stress", "joints", "held against")
JOINT_HEAD: Final = ("joint", "joins it to", "worst case", "in the plane", "apart", "uses", "what governs", "by")
LINK_HEAD: Final = ("link", "worst case", "along it", "across it", "uses")
DEPARTS: Final = 0.02
"""A difference by large displacements that is worth a word."""
NOTES: Final = (
    (
        "Shells with large displacements joined by the stiffness of their welds and bolts; sheets that only touch do not hold each other up. "
        "Bought items are rigid; straps, rubber and gas struts are springs, hinges and latches firm."
    ),
    "Stress at welds and under bolt heads is left to the joints' own rules: a shell has none that could be read there.",
    "Fasteners of less than half a kilogram ride on the nearest metal. Buckling is looked for in the worst case.",
)
CAUTION: Final = (
    "A screen, not a certificate: welds need a qualified procedure, and what carries people, fuel, tow or "
    "recovery loads a licensed engineer."
)


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
        """The case in which a joint or a member uses most, of those that have numbers."""
        return max(self.answered or self.results, key=lambda r: r.most)

    @property
    def answered(self) -> tuple[CaseResult, ...]:
        """The cases that have numbers."""
        return tuple(r for r in self.results if r.answered)

    @property
    def line(self) -> str:
        """In one line: "full tank forward: worst seam 2 of fork on cradle at 83 %"."""
        r = self.worst
        if not r.answered:
            return f"{r.case.name}: {r.bends}"
        name, _, use = r.worst_member
        return f"{r.case.name}: {name} at {percent(use)} of yield; joints: {r.joints}"

    @property
    def worst_joint(self) -> str:
        """The joint or link that uses most in any case, with its case, part used and clause, in words."""
        found = [r for r in self.answered if r.used]
        if not found:
            none = "no joint is proved" if self.results[0].uses else "none, as nothing is joined"
            return none if self.answered else self.line
        r = max(found, key=lambda r: r.used[0][1])
        return f"{r.case.name}: {r.joints}"

    def rows(self) -> list[tuple[str, ...]]:
        """Return the table of cases."""
        out: list[tuple[str, ...]] = []
        for r in self.results:
            name, stress, use = r.worst_member
            used = f"{percent(use)} ({figures(stress)} MPa)" if use <= 1 else "yields"
            found = (name, used, r.joints) if r.answered else ("", "", "")
            out.append((r.case.name, r.bends, *found, f"{r.case.against} ({r.case.source})"))
        return out

    def joint_rows(self) -> list[tuple[str, ...]]:
        """Return the table of joints, each in its worst case."""
        out: list[tuple[str, ...]] = []
        for k in range(len(self.results[0].uses) if self.answered else 0):
            r = max(self.answered, key=lambda r: BEYOND * 1e3 if r.uses[k].use is None else r.uses[k].use or 0.0)
            u = r.uses[k]
            j = u.joint
            per = f" on {j.length:.3g} mm" if j.kind == "seam" else ""
            apart = f"{figures(j.pull)} N" if j.pull > 0 else f"pressed by {figures(-j.pull)} N"
            shear, by = f"{figures(j.shear)} N{per}", f"{u.source}, {u.clause}"
            out.append((j.name, j.to, r.case.name, shear, apart, percent(u.use), u.by, by))
        return out

    @property
    def findings(self) -> Findings:
        """Stops for joints and members that do not hold, cautions for what is not proved."""
        found: list[Finding] = []
        for r in self.results:
            case, source = r.case.name, r.case.source
            if not math.isfinite(r.departs) and not r.loose:
                found.append(caution("assembly.balance", case, NO_BALANCE, "stiffen what bends, or brace it"))
            remedy = "stiffen or brace what turns; end stops, a latch or a hand for what slides"
            found += [stop("contact.loose", case, name, remedy, source=source) for name in r.loose]
            if not r.answered:
                continue
            slack = [x.name for x in r.links if x.slack]
            if slack:
                found.append(caution("strap.slack", case, f"{', '.join(slack)}: slack", "more tension", source=source))
            for name, stress, use in r.members:
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
        found += self._links_over()
        if not found:
            r = self.worst
            what = f"the worst that holds: {self.line}"
            found.append(fine("assembly.strength", self.assembly.number, what, 100 * r.most, 100.0, "%"))
        return Findings(found)

    def _links_over(self) -> Iterator[Finding]:
        for k, x in enumerate(self.results[0].links if self.answered else ()):
            r, worst, use = self._worst_link(k)
            where = f"{r.case.name}: {worst.name}"
            if use is not None and use > 1:
                given = r.factor * worst.total, worst.rated, "N", r.case.source
                yield stop(
                    "link.overloaded", where, "bears more than it is rated for", "a stronger one, or more", *given
                )
            elif x.rated is None and x.kind in ("hinge", "latch", "strap"):
                what = f"bears {figures(worst.total)} N; no rating is stated"
                yield caution("link.not_rated", where, what, "state what its maker rates it for")

    def _worst_link(self, k: int) -> tuple[CaseResult, LinkForce, float | None]:
        def weight(r: CaseResult) -> float:
            x = r.links[k]
            return x.across / x.grip if x.grip else r.factor * x.total

        r = max(self.answered, key=weight)
        return r, r.links[k], r.link_use(r.links[k])

    def link_rows(self) -> list[tuple[str, ...]]:
        """Return the table of hinges, latches, struts, straps and rubber, each in its worst case."""
        out: list[tuple[str, ...]] = []
        for k in range(len(self.results[0].links) if self.answered else 0):
            r, x, use = self._worst_link(k)
            along = f"pulls {figures(x.along)} N" if x.along > 0 else f"pushes {figures(-x.along)} N"
            held = "not stated" if use is None or x.rated is None else f"{percent(use)} of {figures(x.rated)} N"
            if x.kind in ("rubber", "strut"):
                held = f"{percent(x.across / x.grip)} of its grip" if x.grip else ""
            out.append((x.name, r.case.name, along, f"{figures(x.across)} N", held))
        return out

    @property
    def fields(self) -> tuple[str, ...]:
        """Names of the fields for a coloured view."""
        cases = [f"{what}: {r.case.name}" for r in self.answered for what in ("deflection", "stress", "joints")]
        return (*cases, *(f"mode {k}" for k in range(1, len(self.frequencies) + 1)))

    def field(self, name: str) -> Field:
        """Return one of `fields`."""
        if name not in self.fields:
            raise UnknownName("colour", name, self.fields)
        if name.startswith("mode "):
            k = int(name[5:]) - 1
            moves = self.shapes[k, :, :3]
            title = f"mode {k + 1}, {self.frequencies[k]:.3g} Hz"
            return Field.of(self.whole, moves, np.linalg.norm(moves, axis=1), title, "", 1.0, swings=True)
        what, _, case = name.partition(": ")
        r = next(r for r in self.results if r.case.name == case)
        moves = r.displacement[:, :3]
        if what == "deflection":
            return Field.of(self.whole, moves, np.linalg.norm(moves, axis=1), "deflection", "mm", r.deflection)
        if what == "stress":
            return Field.of(self.whole, moves, r.stress, "von Mises stress", "MPa", float(r.stress.max()))
        return Field.of(self.whole, moves, self._used(r), JOINTS, "%", 100.0, "overloaded or not proved")

    def _used(self, r: CaseResult) -> Array:
        out = np.zeros(len(self.whole.points))
        for u in r.uses:
            nodes = np.array(u.joint.nodes, dtype=np.int64)
            out[nodes] = np.maximum(out[nodes], 100 * (BEYOND if u.use is None else u.use))
        return out

    @property
    def picture(self) -> Picture:
        """The assembly with its joints coloured by the part used in the worst case."""
        r = self.worst
        owner = np.concatenate([k + 0 * m.mesh.owner for k, m in enumerate(self.whole.members)])
        shown = [(u.joint.name, u.joint.at, u.use if r.answered else None) for u in r.uses]
        return picture(self.whole.points, self.whole.quads, owner, shown, f"{self.assembly.number}: {r.case.name}")

    def notes(self) -> list[str]:
        """Return what must be shown with the numbers."""
        swings = []
        if self.frequencies:
            swings = ["Natural frequencies: " + ", ".join(f"{f:.3g} Hz" for f in self.frequencies) + ".", SWINGS]
        held = "Held by: " + "; ".join(self.held) + "."
        swings += [
            f"{r.case.name}: large displacements change the linear answer by {percent(r.departs)}; they are in the numbers."
            for r in self.results
            if DEPARTS < r.departs < math.inf
        ]
        mesh = f"{len(self.whole.members)} members, {len(self.whole.quads)} elements, one mesh: no error is stated."
        return [
            self.line + ".",
            held,
            *swings,
            mesh,
            *NOTES,
            *dict.fromkeys((*self.remarks, *self.assembly.every_caution)),
            CAUTION,
        ]

    def __str__(self) -> str:
        cases = ["; ".join(row) for row in self.rows()]
        joints = ["; ".join(row) for row in self.joint_rows()]
        links = ["; ".join(row) for row in self.link_rows()]
        return "\n".join([self.assembly.number, *cases, *joints, *links, *self.notes()])

    def __repr__(self) -> str:
        return f"<strength of {self.assembly.number}: {self.line}>"

    def _repr_html_(self) -> str:
        title = f"{self.assembly.number} rev {self.assembly.rev}"
        cases = html_table(HEAD, self.rows(), caption=f"{title}: is it strong enough?", notes=self.notes())
        joints = html_table(JOINT_HEAD, self.joint_rows(), caption=f"{title}: each joint in its worst case")
        if not self.answered:
            return cases
        if not self.results[0].links:
            return cases + joints
        caption = f"{title}: hinges, latches, struts, straps and rubber"
        return cases + joints + html_table(LINK_HEAD, self.link_rows(), caption=caption)
