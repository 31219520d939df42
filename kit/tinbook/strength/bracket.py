"""The welds of a bracket by hand: all its fillets as lines under one force, beside the shell's worst stretch of seam."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

from tinbook import units
from tinbook.calc.welds import WeldGroup, fillet_strength, weld_group, weld_line_force
from tinbook.errors import BadValue, UnknownName
from tinbook.htmltable import html_table
from tinbook.making.made import Made, need_made
from tinbook.plane.loops import Edge
from tinbook.space import Vec, three
from tinbook.strength.joints.joining import VARIABLE
from tinbook.strength.joints.rules import correlation
from tinbook.units import figures
from tinbook.values import dataclass

LEAST: Final = 4.0
"""mm: EN 1993-1-8 4.1 starts here."""
THREE: Final = "three numbers (x, y, z) in the panel's frame"
NOTES: Final = (
    "The welds as lines, rigid plates between them; the shell's seams show where a thin plate loads one end more.",
    "A screen, not a certificate: welds that carry people, fuel, tow or recovery loads need a licensed engineer.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class BracketWeld:
    """What the welds of a bracket use; shows itself in a notebook.

    Parameters
    ----------
    name : str
        Of the part and its welded edges.
    group : WeldGroup
        The lines.
    line_force : float
        Largest force on a millimetre of weld, N/mm, without load factor.
    throat, strength, factor : float
        mm; MPa that the throat bears; load factor.
    proved : bool
        Whether the rule covers the plate: 4 mm and more.
    cautions : tuple of str
        Of the part.
    """

    name: str
    group: WeldGroup
    line_force: float
    throat: float
    strength: float
    factor: float
    proved: bool
    cautions: tuple[str, ...] = ()

    @property
    def use(self) -> float:
        """Part of the weld's strength that is used, load factor included."""
        return self.factor * self.line_force / (self.throat * self.strength)

    @property
    def least_throat(self) -> float:
        """Throat that bears the force, mm; at least 3."""
        return max(self.factor * self.line_force / self.strength, 3.0)

    @property
    def ok(self) -> bool:
        """Whether it is proved and holds."""
        return self.proved and self.use <= 1.0

    def rows(self) -> list[tuple[str, str]]:
        """Return the table's rows."""
        used = (
            f"{self.use:.0%}"
            if self.proved
            else f"not proved below {LEAST:g} mm (EN 1993-1-8 4.1); {self.use:.0%} by the same sum"
        )
        return [
            ("length of weld", f"{self.group.length:.0f} mm"),
            (
                "largest force on a millimetre",
                f"{figures(self.line_force)} N/mm, load factor {self.factor:g} not in it",
            ),
            ("used", used),
            ("least throat", f"{self.least_throat:.1f} mm; drawn {self.throat:.1f} mm"),
        ]

    def __str__(self) -> str:
        return "\n".join([self.name, *(f"  {a}: {b}" for a, b in self.rows()), *NOTES, *self.cautions])

    __repr__ = __str__

    def _repr_html_(self) -> str:
        notes = (*NOTES, *self.cautions)
        return html_table(("", ""), self.rows(), caption=f"{self.name}: welds as lines", notes=notes)


def bracket_weld(
    made: Made,
    edges: Sequence[str],
    force: Vec,
    at: Vec,
    *,
    panel: str = "base",
    throat: Any = None,
    factor: float = VARIABLE,
) -> BracketWeld:
    """Return what the fillets along the edges of a panel use of what they bear, by the elastic method of weld lines.

    Parameters
    ----------
    made : Made
    edges : sequence of str
        Straight edges of the panel that are welded.
    force, at : (float, float, float)
        Force on the part, N, and where it acts, mm; in the panel's frame.
    panel : str, optional
    throat : length, optional
        Of the fillets; 0.7 of the sheet, at least 3 mm, left out.
    factor : float, optional
        Load factor, at least 1.

    Returns
    -------
    BracketWeld

    Raises
    ------
    UnknownName, BadValue
        Edges, places or sizes that are none; a moment about the line that all welds lie on.

    Notes
    -----
    Source: `Shigley`, welds as lines; `EN 1993-1-8` 4.5.3.3, one strength whatever the direction.
    """
    need_made(made, "bracket_weld")
    found = made.panel(panel)
    known: dict[str, list[Edge]] = {}
    for e in found.boundary.edges:
        if e.is_line:
            known.setdefault(e.name, []).append(e)
    names = (edges,) if isinstance(edges, str) else tuple(edges) if isinstance(edges, Sequence) else ()
    if not names:
        raise BadValue("bracket_weld edges", edges, f"names of straight edges: {', '.join(known)}")
    for n in names:
        if n not in known:
            raise UnknownName("welded edge", n, known)
    push, place = three(force, "bracket_weld force", THREE), three(at, "bracket_weld at", THREE)
    if not (isinstance(factor, int | float) and not isinstance(factor, bool) and 1 <= factor <= 10):
        raise BadValue("bracket_weld factor", factor, "1 to 10")
    t, material = made.thickness, made.sheet.material
    wide = max(0.7 * t, 3.0 if t >= LEAST else 0.0) if throat is None else units.positive(throat, "bracket_weld throat")
    group = weld_group([(e.start, e.end) for n in dict.fromkeys(names) for e in known[n]])
    return BracketWeld(
        name=f"{made.part.number} rev {made.part.rev}, {', '.join(names)}",
        group=group,
        line_force=weld_line_force(group, push, place),
        throat=wide,
        strength=fillet_strength(material.tensile_min, correlation(material.yield_min)),
        factor=float(factor),
        proved=t >= LEAST,
        cautions=made.part.cautions,
    )
