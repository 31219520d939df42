"""A folded part, a channel or a tube as a beam: a quick estimate beside the shell's answer, and what a strut bears.

The section is cut where the part is half as long as it is; ends as stated, holes and beads left out.
"""

from __future__ import annotations

import math
import re
from typing import Any, Final

import numpy as np
import shapely

from tinbook import units
from tinbook.calc.beams import (
    ENDS,
    beam_deflection,
    beam_frequency,
    beam_moment,
    column_factor,
    column_load,
    twist,
)
from tinbook.calc.buckling import BUCKLING, buckling_stress, effective_share, plate_slenderness
from tinbook.calc.profiles import channel, rectangular_tube, round_tube
from tinbook.calc.sections import Section, shear_centre, thin_section
from tinbook.errors import BadValue, OutOfRange, UnknownName
from tinbook.htmltable import html_table
from tinbook.making.folded import MadePanel
from tinbook.making.made import Made, need_made
from tinbook.plane.loops import Edge, Point
from tinbook.space import Vec, cross, dot
from tinbook.units import figures
from tinbook.values import dataclass

COLD: Final = 0.49
"""Imperfection factor of columns that are cold formed or folded (EN 1993-1-1 table 6.2)."""
STEEL: Final = (210e3, 235.0, 7850.0, 0.3)
"""MPa, MPa, kg/m³ and Poisson's ratio of bought tubes unless stated otherwise."""
WORDS: Final = ("tube 60 x 40 x 3", "tube 48.3 x 3.2", "channel 100 x 50 x 2")
NOTES: Final = (
    "An estimate by beam theory: ends exactly as stated, no holes, no local denting where the force stands. Shell answers go first.",
    "An open section whose force stands off its shear centre twists, mostly far more than it bends.",
    "A screen, not a certificate; the load factor is yours.",
)
SLENDER: Final = 10.0
"""Length over depth from which shear adds less than 3 % to a beam's deflection."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BeamEstimate:
    """A part as a beam; shows itself in a notebook.

    Parameters
    ----------
    name, ends : str
        Of what; how its ends are held.
    length : float
        Span, mm.
    section : Section
        Where it is cut; y is square to the base panel, the way the force acts.
    stiffness : float
        E I for that way, free to move sideways, N mm².
    mass : float
        kg/m.
    force, load : float
        N at the middle (a cantilever's end), N/mm along it.
    deflection, stress, frequency : float
        mm, MPa, Hz.
    turned : float or None
        Degrees by which the force twists it about its shear centre; None where that is not known.
    effective : float
        Part of the section's area that still carries once its flat walls have buckled under the yield stress.
    column : float or None
        Force along it that it bears, N, with buckling and no factor of safety; None where it is too slender to be answered.
    yields : float
        Yield stress, MPa.
    depth : float
        mm.
    cautions : tuple of str
        Of the part.
    """

    name: str
    ends: str
    length: float
    section: Section
    stiffness: float
    mass: float
    force: float
    load: float
    deflection: float
    stress: float
    frequency: float
    turned: float | None
    effective: float
    column: float | None
    yields: float
    depth: float
    cautions: tuple[str, ...] = ()

    def rows(self) -> list[tuple[str, str]]:
        """Return the table's rows."""
        on = [f"{figures(self.force, 4)} N"] if self.force else []
        on += [f"{figures(self.load, 4)} N/mm"] if self.load else []
        under = f" under {' and '.join(on)}" if on else ""
        rows = [("second moment", f"{figures(self.section.i_x, 4)} mm⁴"), ("mass", f"{self.mass:.3g} kg/m")]
        if on:
            rows += [
                (f"deflection{under}", f"{self.deflection:.3g} mm"),
                (f"stress{under}", f"{figures(self.stress)} MPa of {self.yields:g}"),
            ]
        if on and self.turned is not None and self.turned > 0.01:
            rows.append(("twist, the force on the base's middle", f"{self.turned:.2g} degrees"))
        rows += [
            ("first frequency", f"{self.frequency:.3g} Hz"),
            ("walls that still work at yield", f"{self.effective:.0%}"),
            (
                "force along it, with buckling",
                "too slender to be answered" if self.column is None else f"{figures(self.column / 1e3)} kN",
            ),
        ]
        return rows

    @property
    def notes(self) -> tuple[str, ...]:
        """What must be read with the numbers."""
        stocky = f"Shorter than {SLENDER:g} depths: shear adds to the deflection, and the estimate is low."
        beyond = "The stress is beyond yield: deflection and frequency are for less load."
        return (
            *((stocky,) if self.length < SLENDER * self.depth else ()),
            *((beyond,) if self.stress > self.yields else ()),
            *NOTES,
            *self.cautions,
        )

    def __str__(self) -> str:
        head = f"{self.name}, {self.length:.4g} mm, {self.ends}"
        return "\n".join([head, *(f"  {a}: {b}" for a, b in self.rows()), *self.notes])

    __repr__ = __str__

    def _repr_html_(self) -> str:
        title = f"{self.name}, {self.length:.4g} mm, {self.ends}: estimate as a beam"
        return html_table(("", "as a beam"), self.rows(), caption=title, notes=self.notes)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Cut:
    """A section with its walls: width of each flat one and whether it is held along both edges."""

    name: str
    section: Section
    thickness: float
    walls: tuple[tuple[float, bool], ...]
    long: float | None = None
    off: float | None = None
    metal: tuple[float, float, float, float] = STEEL
    cautions: tuple[str, ...] = ()


def beam_estimate(
    of: Made | str,
    *,
    length: Any = None,
    ends: str = "simply supported",
    force: Any = 0.0,
    load: float = 0.0,
    yields: Any = None,
) -> BeamEstimate:
    """Return a part, a channel or a tube as a beam.

    Parameters
    ----------
    of : Made or str
        A part whose folds are all parallel, or words for a steel section, outside sizes in mm: "tube 60 x 40 x 3",
        "tube 48.3 x 3.2", "channel 100 x 50 x 2" (web, flanges, sheet).
    length : length, optional
        Span; a part's own length left out.
    ends : {"simply supported", "cantilever", "clamped"}
    force : force, optional
        At the middle, or at a cantilever's end, square to the base panel (a tube's or channel's height).
    load : float, optional
        Along the whole length, N/mm.
    yields : stress, optional
        Yield stress; a part's least one left out, 235 MPa for words.

    Returns
    -------
    BeamEstimate

    Raises
    ------
    OutOfRange
        Folds that are not parallel, or none.
    UnknownName, BadValue
        Words, ends or sizes that are none.

    Notes
    -----
    Source: `calc.beams`, `calc.sections`; walls by `EN 1993-1-5` 4.4, columns by `EN 1993-1-1` 6.3.1.
    """
    cut = _named(of) if isinstance(of, str) else _of_made(of)
    span = cut.long if length is None else units.positive(length, "beam_estimate length")
    if span is None:
        raise BadValue("beam_estimate length", length, "the span, such as '800 mm': words have none of their own")
    if ends not in ENDS:
        raise UnknownName("ends", ends, ENDS)
    push = abs(units.number(force, "N", "beam_estimate force"))
    along = abs(units.number(load, "N/mm", "beam_estimate load"))
    youngs, least, density, poisson = cut.metal
    limit = least if yields is None else units.number(yields, "MPa", "beam_estimate yields")
    if not limit > 0:
        raise BadValue("beam_estimate yields", yields, "greater than 0 MPa")
    s = cut.section
    inertia = s.i_x - s.i_xy**2 / s.i_y if s.i_y > 0 else s.i_x
    stiff, torsion = youngs * inertia, youngs / (2 * (1 + poisson)) * s.j
    far = max(s.box[3] - s.centroid[1], s.centroid[1] - s.box[1])
    turned = None
    if cut.off is not None:
        # Ends hold against twisting: half of it goes to each side, and at the middle half the length has turned.
        whole = push * cut.off
        turned = twist(whole, span, torsion / s.j, s.j) / (1.0 if ends == "cantilever" else 4.0)
    share = _works(cut, youngs, limit, poisson)
    mean, half = (s.i_x + s.i_y) / 2, math.hypot((s.i_x - s.i_y) / 2, s.i_xy)
    euler = column_load(span, youngs * (mean - half), ends)
    try:
        column: float | None = column_factor(s.area * share, limit, euler, COLD) * s.area * share * limit
    except OutOfRange:
        column = None
    mass = s.area * density * 1e-6
    return BeamEstimate(
        name=cut.name,
        ends=ends,
        length=span,
        section=s,
        stiffness=stiff,
        mass=mass,
        force=push,
        load=along,
        deflection=beam_deflection(span, stiff, ends, push, along),
        stress=beam_moment(span, ends, push, along) * far / inertia,
        frequency=beam_frequency(span, stiff, ends, mass),
        turned=turned,
        effective=share,
        column=column,
        yields=limit,
        depth=s.box[3] - s.box[1],
        cautions=cut.cautions,
    )


def _works(cut: _Cut, youngs: float, yields: float, poisson: float) -> float:
    """Return the part of the area that still carries where each flat wall is pressed up to yield."""
    lost = 0.0
    for width, both in cut.walls:
        k = BUCKLING["simply supported" if both else "one edge free"]
        slender = plate_slenderness(yields, buckling_stress(k, youngs, cut.thickness, width, poisson))
        lost += (1 - effective_share(slender, outstand=not both)) * width * cut.thickness
    return 1 - lost / cut.section.area


_SIZES: Final = re.compile(r"(tube|channel) +([0-9.]+(?: *x *[0-9.]+){1,2})")


def _named(words: str) -> _Cut:
    found = _SIZES.fullmatch(words.strip().lower())
    if found is None:
        raise UnknownName("section", words, WORDS)
    sizes = [units.positive(v.strip(), f"section '{words}'") for v in found[2].split("x")]
    if found[1] == "channel" and len(sizes) == 3:
        h, b, t = sizes
        s = channel(h, b, t, t)
        # Its height is the way that the force acts; that stands in the web's plane.
        (x, _), _ = shear_centre([(b, t / 2), (t / 2, t / 2), (t / 2, h - t / 2), (b, h - t / 2)], t)
        flats = ((h - 4 * t, True), (b - 2 * t, False), (b - 2 * t, False))
        return _Cut(name=words, section=s, thickness=t, walls=flats, off=abs(x - t / 2))
    if found[1] == "tube" and len(sizes) == 3:
        h, b, t = sizes
        walls = tuple((v - 4 * t, True) for v in (h, h, b, b))  # corners of 2 t outside, EN 10219-2
        return _Cut(name=words, section=rectangular_tube(b, h, t, 2.0 * t), thickness=t, walls=walls)
    if found[1] == "tube":
        d, t = sizes
        return _Cut(name=words, section=round_tube(d, t), thickness=t, walls=())
    raise UnknownName("section", words, WORDS)


def _of_made(made: Any) -> _Cut:
    need_made(made, "beam_estimate")
    if not made.strips:
        raise OutOfRange("beam_estimate", "no folds", "a folded part; ask strength_of or stiffness_of for a flat one")
    d, t = made.strips[0].frame.x, made.thickness
    base = made.panel("base")
    if any(abs(dot(s.frame.x, d)) < 1 - 1e-6 for s in made.strips) or any(
        abs(dot(p.frame.z, d)) > 1e-6 for p in made.panels
    ):
        raise OutOfRange("beam_estimate", "folds that are not parallel", "parallel folds; ask strength_of instead")
    up = base.frame.z
    side = cross(up, d)
    reach = [dot(base.frame(*q), d) for q in base.boundary.chords()]
    middle = (min(reach) + max(reach)) / 2

    def seen(p: Vec) -> Point:
        return dot(p, side), dot(p, up)

    flats = [(p, *(seen(q) for q in ends)) for p in made.panels if (ends := _crossed(p, d, middle, t)) is not None]
    walls = [Edge(a, b) for _, a, b in flats]
    folds = [s for s in made.strips if {s.parent, s.child} <= {p.name for p, _, _ in flats}]
    for s in folds:
        a, b = (seen(s.ruling(v, t)(0.0, 0.0, t / 2)) for v in (0.0, s.allowance))
        # The arc's sense: where the middle of the bend lies off its chord.
        m = seen(s.ruling(s.allowance / 2, t)(0.0, 0.0, t / 2))
        left = (b[0] - a[0]) * (m[1] - a[1]) - (b[1] - a[1]) * (m[0] - a[0])
        walls.append(Edge(a, b, -math.copysign(math.tan(math.radians(s.angle) / 4), left)))
    material = made.sheet.material
    hung = {n: sum(n in (s.parent, s.child) for s in folds) for n in (p.name for p, _, _ in flats)}
    section = thin_section(walls, t)
    line = _chain(walls)
    off = None
    if line is not None and len(line) > 2:
        (x, _), _ = shear_centre(line, t)
        _, a, b = next(f for f in flats if f[0].name == "base")
        off = abs(float(x) - (a[0] + b[0]) / 2)
    return _Cut(
        name=f"{made.part.number} rev {made.part.rev}",
        section=section,
        thickness=t,
        walls=tuple((math.dist(a, b), hung[p.name] > 1) for p, a, b in flats),
        long=max(reach) - min(reach),
        off=off,
        metal=(material.youngs, material.yield_min, material.density, material.poisson),
        cautions=made.part.cautions,
    )


def _crossed(panel: MadePanel, d: Vec, at: float, t: float) -> tuple[Vec, Vec] | None:
    """Return the ends of a panel's middle line where a plane square to `d` cuts it; None where it does not reach."""
    x, y, _ = panel.frame.local_vector(d)
    c = at - dot(panel.frame.origin, d)
    far = 1e4
    line = shapely.LineString([(c * x - y * s, c * y + x * s) for s in (-far, far)])
    met = shapely.get_coordinates(shapely.intersection(shapely.Polygon(panel.boundary.chords()), line))
    if len(met) < 2:
        return None
    on = met @ np.array((-y, x))
    (x0, y0), (x1, y1) = met[on.argmin()], met[on.argmax()]
    return panel.frame(float(x0), float(y0), t / 2), panel.frame(float(x1), float(y1), t / 2)


def _chain(walls: list[Edge]) -> list[Point] | None:
    """Return the middle line's corners from end to end, arcs as chords; None where it branches or is closed."""

    def key(p: Point) -> Point:
        return round(p[0], 2) + 0.0, round(p[1], 2) + 0.0

    at: dict[Point, list[Edge]] = {}
    for w in walls:
        for p in (w.start, w.end):
            at.setdefault(key(p), []).append(w)
    loose = [p for p, found in at.items() if len(found) == 1]
    if len(loose) != 2 or any(len(found) > 2 for found in at.values()):
        return None
    here, left = loose[0], list(walls)
    line = [here]
    while left:
        met = [w for w in left if here in (key(w.start), key(w.end))]
        if not met:
            return None
        w = met[0]
        left.remove(w)
        steps = (1.0,) if w.is_line else (0.25, 0.5, 0.75, 1.0)
        forward = key(w.start) == here
        line += [w.at(s if forward else 1 - s) for s in steps]
        here = key(w.end if forward else w.start)
    return line
