"""Joints of a part or an assembly, each with the part that it uses of what it bears: table, findings, colours, picture."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

import numpy as np

from tinbook.calc.lugs import CAUTIONS
from tinbook.errors import BadValue, OutOfRange, of_kind
from tinbook.finding import Finding, Findings, caution, fine, stop
from tinbook.htmltable import html_table
from tinbook.making.made import Made, need_made
from tinbook.strength.joints.picture import picture
from tinbook.strength.joints.reactions import joints_held, pins_pulled
from tinbook.strength.joints.rules import Joining, JointUse, used
from tinbook.svg import Picture
from tinbook.units import figures
from tinbook.values import dataclass

if TYPE_CHECKING:
    from tinbook.strength.loads import Load
    from tinbook.strength.mesh.quads import Mesh
    from tinbook.strength.report import Strength
    from tinbook.strength.result import Static
    from tinbook.strength.shell.element import Array

HEAD: Final = ("joint", "in the plane", "apart", "uses", "what governs", "by")
NOTES: Final = (
    (
        "Forces are those of the elastic shell, each joint by itself. Bending of the sheet beside a joint is in the sheet's "
        "stress; a joint that is pressed together counts its shear alone, and prying is not in it."
    ),
    "Not proved means that no rule of the kit covers it: change the joint, or test it.",
)
CAUTION: Final = (
    "A screen, not a certificate: welds need a qualified procedure and welder, and joints that carry people, fuel, tow "
    "or recovery loads a licensed engineer."
)
BEYOND: Final = 2.0
"""Where a joint that is not proved stands on the scale of colours: past its end."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Joints:
    """Every joint held against its rule; shows itself in a notebook.

    Parameters
    ----------
    title : str
        Of what.
    load : str
        Under which load.
    uses : tuple of JointUse
        In the order of the part.
    mesh : Mesh
        For pictures.
    factor : float
        Load factor in the numbers.
    cautions : tuple of str
        What must be read with it, besides the general one.
    """

    title: str
    load: str
    uses: tuple[JointUse, ...]
    mesh: Mesh
    factor: float
    cautions: tuple[str, ...] = ()

    @property
    def worst(self) -> JointUse:
        """The joint that uses most of what it bears, of those that are proved; raises OutOfRange where none is."""
        proved = [u for u in self.uses if u.use is not None]
        if not proved:
            raise OutOfRange("joints", "none is proved", "a joint within the range of its rule; see the table")
        return max(proved, key=lambda u: max(u.use or 0.0, u.fatigue or 0.0))

    @property
    def ok(self) -> bool:
        """Whether every joint is proved and none is overloaded."""
        return all(u.holds for u in self.uses)

    @property
    def unproved(self) -> tuple[JointUse, ...]:
        """Joints that no rule covers."""
        return tuple(u for u in self.uses if u.use is None)

    @property
    def line(self) -> str:
        """In one line: load, worst joint, how many are not proved."""
        return f"{self.load}: {self.short}"

    @property
    def short(self) -> str:
        """The worst joint and how many are not proved."""
        missing = len(self.unproved)
        rest = f"; {missing} of {len(self.uses)} not proved" if missing else ""
        if missing == len(self.uses):
            return f"none of {missing} is proved ({self.unproved[0].by})"
        w = self.worst
        return f"worst {w.joint.name} at {percent(max(w.use or 0.0, w.fatigue or 0.0))}{rest}"

    def rows(self) -> list[tuple[str, str, str, str, str, str]]:
        """Return the table's rows, as `HEAD` names them."""
        out = []
        for u in self.uses:
            j = u.joint
            apart = f"{figures(j.pull)} N" if j.pull > 0 else f"pressed by {figures(-j.pull)} N"
            per = f" on {j.length:.3g} mm" if j.kind == "seam" else ""
            use = "not proved" if u.use is None else percent(u.use)
            if u.fatigue is not None:
                use += f"; fatigue {percent(u.fatigue)}"
            out.append((j.name, f"{figures(j.shear)} N{per}", apart, use, u.by, f"{u.source}, {u.clause}"))
        return out

    @property
    def findings(self) -> Findings:
        """A stop for each joint that is overloaded, a caution for each that is not proved, and the worst of the rest."""
        found: list[Finding] = []
        good = []
        for u in self.uses:
            name = u.joint.name
            if u.use is None:
                found.append(not_proved(u, name))
                continue
            most = max(u.use, u.fatigue or 0.0)
            if most > 1:
                why = u.by if u.use >= (u.fatigue or 0.0) else "fatigue of the toe"
                found.append(overloaded(u, name, most, why))
            else:
                good.append((most, u))
        if good:
            most, u = max(good, key=lambda g: g[0])
            found.append(
                fine("joint.use", u.joint.name, f"the worst that holds: {u.by}", 100 * most, 100.0, "%", u.source)
            )
        return Findings(found)

    @property
    def values(self) -> Array:
        """Part used in percent at each node of the mesh; nought away from joints, past the end where not proved."""
        out = np.zeros(len(self.mesh.points))
        for u in self.uses:
            value = BEYOND if u.use is None else max(u.use, u.fatigue or 0.0)
            nodes = np.array(u.joint.nodes, dtype=np.int64)
            # A rim alone is too thin to see: the elements round it take its colour.
            beside = self.mesh.quads[np.isin(self.mesh.quads, nodes).any(axis=1)]
            near = np.union1d(nodes, beside.ravel())
            out[near] = np.maximum(out[near], 100 * value)
        return out

    @property
    def picture(self) -> Picture:
        """The part with its joints coloured by the part used."""
        shown = [(u.joint.name, u.joint.at, None if u.use is None else max(u.use, u.fatigue or 0.0)) for u in self.uses]
        m = self.mesh
        return picture(m.points, m.quads, m.owner, shown, f"{self.title}: joints under {self.load}")

    def notes(self) -> list[str]:
        """Return what must be shown with the numbers."""
        factor = f"Load factor {self.factor:g} in the part used; forces are without it."
        return [self.line + ".", factor, *NOTES, *self.cautions, CAUTION]

    def __str__(self) -> str:
        lines = [f"{a}: {b}, {c}: {d} ({e}; {f})" for a, b, c, d, e, f in self.rows()]
        return "\n".join([self.title, *lines, *self.notes()])

    def __repr__(self) -> str:
        return f"<joints of {self.title}: {self.line}>"

    def _repr_html_(self) -> str:
        return html_table(HEAD, self.rows(), caption=f"{self.title}: does each joint hold?", notes=self.notes())


def percent(use: float | None) -> str:
    """Return a part used in words."""
    return "not proved" if use is None else f"{100 * use:.0f} %" if use >= 0.095 else f"{100 * use:.2g} %"


def joints_of(made: Made, answer: Strength, how: Joining | None = None) -> Joints:
    """Hold every joint that holds a part against its rule, under the load of an answer.

    Parameters
    ----------
    made : Made
    answer : Strength
        What `strength_of` gave for it, held by plug welds, bolts, tack screws, nut inserts or welded edges.
    how : Joining, optional
        What it is joined to and how.

    Returns
    -------
    Joints
        Each with the part it uses, what governs and the clause; not proved outside the range of its rule.

    Raises
    ------
    BadValue
        The part is not held by joints, or the answer is that of another part.
    OutOfRange
        The answer has no forces that may be shown.
    """
    from tinbook.strength.report import Strength

    need_made(made, "joints_of")
    of_kind(answer, Strength, "joints_of answer", "what tb.strength_of(made, ...) gives")
    how = Joining() if how is None else how
    of_kind(how, Joining, "joints_of how", "a Joining")
    if answer.part != made.part:
        raise BadValue("answer", answer.title, f"that of {made.part.number} rev {made.part.rev}")
    if answer.under is None or not answer.under.trusted:
        why = "; ".join(w for _, w in answer.refused) or "beyond the theory used"
        raise OutOfRange("forces on joints", f"no answer ({why})", "a load that is answered")
    found = joints_under(made, answer.under, answer.title, how)
    if found is None:
        raise BadValue("joints", "none", "a part held by plug welds, bolts, tack screws, nut inserts or welded edges")
    return found


def joints_under(made: Made, under: Static, title: str, how: Joining, loads: Sequence[Load] = ()) -> Joints | None:
    """Return the joints that hold a part and the pins that pull at it, each against its rule; None where there is none."""
    pins = pins_pulled(made, under, loads)
    found = (*joints_held(made, under, how), *pins)
    if not found:
        return None
    more = tuple(dict.fromkeys((*(CAUTIONS if pins else ()), *made.part.cautions)))
    beyond = "The sheet yields before this load: forces beyond first yield go elsewhere than shown."
    return Joints(
        title=title,
        load="; ".join(under.loads),
        uses=tuple(used(j, how, made.shop.fixings) for j in found),
        mesh=under.mesh,
        factor=how.factor,
        cautions=(*((beyond,) if under.yields else ()), *more),
    )


def not_proved(use: JointUse, where: str) -> Finding:
    """Return the caution for a joint that no formula holds."""
    what = f"not proved: {use.by}"
    return caution("joint.proof", where, what, "change the joint, or test one", source=use.source)


def overloaded(use: JointUse, where: str, most: float, why: str) -> Finding:
    """Return the stop for a joint that carries more than it may; `most` is the part of what it may."""
    remedy = "more or larger joints there, thicker sheet, or less load"
    return stop("joint.use", where, f"overloaded: {why}", remedy, 100 * most, 100.0, "%", use.source)
