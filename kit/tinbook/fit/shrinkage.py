"""What the welds of an assembly pull in: allowances for setting out, where to clamp, in which order to weld. A screen."""

from __future__ import annotations

import math
from itertools import zip_longest
from typing import Final, TypeAlias

import numpy as np

from tinbook.calc.buckling import BUCKLING, buckling_stress
from tinbook.calc.shrinkage import fillet_shrinkage, tee_angle, tendon_force
from tinbook.calc.tolerance_classes import weldment_angle, weldment_flatness, weldment_length
from tinbook.errors import BadValue, OutOfRange
from tinbook.finding import Finding, Findings, caution, fine
from tinbook.htmltable import html_table
from tinbook.making.assembled import Assembled, need_assembled
from tinbook.part.bought import Bought
from tinbook.part.links import Weld
from tinbook.plane.loops import Array
from tinbook.route.ways import Solid
from tinbook.rules.torch import Seam, seams_of
from tinbook.rules.welds import metal, thickness
from tinbook.space import Vec, cross, dot, three, unit, vec
from tinbook.values import dataclass

Band: TypeAlias = tuple[float, float]

SCATTER: Final = (0.5, 1.5)
"""Parts of a rule of thumb between which measured joints mostly lie (own proposal)."""
METALS: Final = {"steel": 1.0, "stainless": 1.5}
"""How much more than carbon steel a metal shrinks: stainless expands half as much again and keeps the heat (common practice)."""
STEEL: Final = 210e3
"""MPa, where a bought item's modulus is not known."""
THIN_LEAN: Final = (0.5, 2.0)
"""Degrees that a sheet under 6 mm leans toward a fillet on one side (common practice)."""
WAVES: Final = 4.0
"""mm: sheet below it is held against buckling by its own welds (own proposal)."""
CAUTIONS: Final = (
    "A screen from rules of thumb that scatter by half: measure your first weldment, and set out the next by it.",
    "Tack everything, measure the diagonals, then weld from the middle outward, in turn on both sides; let it cool clamped.",
)
HEAD: Final = ("weld", "length, mm", "draws in across, mm", "along, mm", "leans, degrees")


@dataclass(frozen=True, slots=True, kw_only=True)
class SeamShrinkage:
    """What one seam does.

    Parameters
    ----------
    face, stand : str
        The member that it lies on, and the one that stands there.
    at : (float, float, float)
        Its middle, mm.
    along, across, up : (float, float, float)
        Directions: of the seam, square to it in the face, out of the face.
    length : float
        mm.
    draws : (float, float)
        By how much the face is drawn together across it, mm.
    shortens : (float, float)
        By how much the face gets shorter along it, mm.
    leans : (float, float) or None
        By how much the standing member turns toward a seam on one side, degrees; None where both sides are welded.
    height : float
        Of the standing member over the face, mm.
    pressed, bears : float
        Mean pressure that its pull leaves in the face, and that at which a flat field as wide as the face buckles, MPa.
    """

    face: str
    stand: str
    at: Vec
    along: Vec
    across: Vec
    up: Vec
    length: float
    draws: Band
    shortens: Band
    leans: Band | None
    height: float
    pressed: float
    bears: float

    @property
    def name(self) -> str:
        """Both members."""
        return f"{self.stand} on {self.face}"

    @property
    def line(self) -> tuple[str, tuple[int, ...]]:
        """What seams in one line share, such as the pieces between a plate's tabs: face, way and place."""
        sign = math.copysign(1.0, next(v for v in self.across if abs(v) > 1e-6))
        turned = tuple(round(100 * sign * v) for v in self.across)
        return self.face, (*turned, round(sign * dot(self.at, self.across)), round(dot(self.at, self.up)))

    @property
    def clamp(self) -> Vec:
        """Where the standing member is held square: at its height over the seam's middle, mm."""
        x, y, z = (a + self.height * u for a, u in zip(self.at, self.up, strict=True))
        return x, y, z


@dataclass(frozen=True, slots=True, kw_only=True)
class WeldShrinkage:
    """What the welds of an assembly pull in; shows itself in a notebook.

    Parameters
    ----------
    name : str
        Of the assembly.
    seams : tuple of SeamShrinkage
        In a good order of welding: from the middle outward, in turn to both sides.
    left_out : tuple of (str, str)
        Welds that are not reckoned, and why.
    longest : float
        Longest side of the whole, mm.
    """

    name: str
    seams: tuple[SeamShrinkage, ...]
    left_out: tuple[tuple[str, str], ...]
    longest: float

    def between(self, p: Vec, q: Vec, on: str = "") -> Band:
        """Return how much longer a distance is set out before welding, for what the seams between its ends draw in, mm.

        Parameters
        ----------
        p, q : (float, float, float)
            Its ends in the assembly's coordinates, mm.
        on : str, optional
            Member that both ends lie on: only seams on its faces count then.

        Returns
        -------
        (float, float)
            Least and most. Seams count by the way that they draw in; what gets shorter along a seam is in it too.
        """
        a, b = (np.array(three(v, "point", "three finite numbers (x, y, z), mm")) for v in (p, q))
        size = float(np.linalg.norm(b - a))
        if size == 0.0:
            raise BadValue("points", (p, q), "two different ones")
        way = (b - a) / size
        low = high = 0.0
        crossed: dict[tuple[str, tuple[int, ...]], Band] = {}
        for s in (s for s in self.seams if on in ("", s.face)):
            at = float((np.array(s.at) - a) @ way)
            square, along = (abs(float(way @ np.array(d))) for d in (s.across, s.along))
            if 0.0 < at < size:
                # Pieces of one line are crossed once.
                before = crossed.get(s.line, (0.0, 0.0))
                crossed[s.line] = max(before[0], square * s.draws[0]), max(before[1], square * s.draws[1])
            half = along * s.length / 2
            covered = max(min(at + half, size) - max(at - half, 0.0), 0.0)
            share = along * covered / (2 * half) if along > 0.1 else 0.0
            low, high = low + share * s.shortens[0], high + share * s.shortens[1]
        low += sum(band[0] for band in crossed.values())
        high += sum(band[1] for band in crossed.values())
        return low, high

    @property
    def findings(self) -> Findings:
        """What should be looked at before welding; cautions only, for nothing here is exact."""
        found: list[Finding] = []
        for s in self.seams:
            if s.leans is not None:
                allowed = weldment_angle(s.height).plus_minus
                if s.leans[1] > allowed:
                    x, y, z = s.clamp
                    what = (
                        f"it is welded on one side and leans that way by {s.leans[0]:.1f} to {s.leans[1]:.1f} degrees"
                    )
                    remedy = f"hold it square near ({x:.0f}, {y:.0f}, {z:.0f}) while it cools, or tack it over by the middle of that"
                    found.append(caution("weld.lean", s.name, what, remedy, s.leans[1], allowed, "deg", "ISO 13920"))
            if s.pressed > s.bears:
                what = (
                    "the seam's pull presses the sheet beside it beyond what a flat field bears: it will stand in waves"
                )
                remedy = "weld in short runs with gaps, a smaller throat, plug welds, or a fold or bead beside the seam"
                found.append(
                    caution("weld.waves", s.name, what, remedy, s.pressed, s.bears, "MPa", "Timoshenko stability")
                )
        found += [
            caution("weld.shrinkage", n, f"not reckoned: {why}", "measure the first one") for n, why in self.left_out
        ]
        if self.seams:
            most = max(self.seams, key=lambda s: s.draws[1])
            what = f"the welds draw in; most here, {most.draws[0]:.1f} to {most.draws[1]:.1f} mm across"
            found.append(fine("weld.shrinkage", most.name, what, most.draws[1], source="Spraragen 1950"))
        return Findings(found)

    @property
    def notes(self) -> tuple[str, ...]:
        """What must be shown with the numbers."""
        order = ", then ".join(dict.fromkeys(s.name for s in self.seams))
        said = []
        if order:
            said.append(f"A good order: {order}.")
            lines = {s.line: s for s in self.seams}.values()
            pulls = [sum(s.draws[1] * abs(s.across[k]) for s in lines) for k in range(3)]
            most = max(pulls)
            said.append(
                f"Along {'xyz'[pulls.index(most)]} the seams draw in up to {most:.1f} mm: welded from one end on, the other end takes "
                "it all; from the middle outward each end takes half."
            )
        try:
            flat, size = weldment_flatness(self.longest), weldment_length(self.longest)
            said.append(
                f"Usual for a weldment {self.longest:.0f} mm long (ISO 13920): ±{size.plus_minus:g} mm (class B), flat and straight "
                f"within {2 * flat.plus_minus:g} mm (class F)."
            )
        except OutOfRange:
            pass
        return (*said, *CAUTIONS)

    def rows(self) -> list[tuple[str, str, str, str, str]]:
        """Return the table's rows, as `HEAD` names them."""
        return [
            (
                s.name,
                f"{s.length:.0f}",
                _told(s.draws, 1),
                _told(s.shortens, 2),
                "both sides welded" if s.leans is None else _told(s.leans, 1),
            )
            for s in self.seams
        ]

    def __str__(self) -> str:
        lines = [f"{a}, {b} mm: across {c} mm, along {d} mm, {e}" for a, b, c, d, e in self.rows()]
        return "\n".join([f"{self.name}: what the welds pull in", *lines, *map(str, self.findings), *self.notes])

    def __repr__(self) -> str:
        return f"<weld shrinkage of {self.name}: {len(self.seams)} seams, {len(self.left_out)} not reckoned>"

    def _repr_html_(self) -> str:
        notes = [*map(str, self.findings), *self.notes]
        return html_table(HEAD, self.rows(), caption=f"{self.name}: what the welds pull in, a screen", notes=notes)


def weld_shrinkage(made: Assembled) -> WeldShrinkage:
    """Return what the welds of an assembly pull in, as bands.

    Parameters
    ----------
    made : Assembled
        Its fillets where the edge of one member stands on the face of another, and along both sides of laps; plug welds are
        named as not reckoned, for no stated source has them.

    Returns
    -------
    WeldShrinkage
        Allowances by seam and between points (`between`), cautions, an order of welding. A screen: it scatters by half.

    Raises
    ------
    BadValue
        No weld, or something that is no made assembly.

    Notes
    -----
    Across: `calc.shrinkage.fillet_shrinkage`; along: its tendon force over the face's mean section; lean: `tee_angle` from
    6 mm, common practice below; each between half and one and a half times that (own proposal).
    """
    need_assembled(made, "weld_shrinkage")
    welds = made.assembly.welds
    if not welds:
        raise BadValue("weld_shrinkage", made.assembly.number, "an assembly with welds (Assembly.weld)")
    solids = {n: Solid.of([made.mesh(n)]) for n in dict.fromkeys(n for w in welds for n in (w.a, w.b))}
    seams: list[SeamShrinkage] = []
    left_out: list[tuple[str, str]] = []
    for w in welds:
        plugs = w.length is None and any(_plugged(made, n) for n in (w.a, w.b))
        try:
            # Both long sides of each place come one after the other.
            for laps in (False,) if plugs else (False, True):
                found = seams_of(made, w, solids, laps=laps)
                seams += [_seam(made, w, a, b, solids, laps) for a, b in zip(found[::2], found[1::2], strict=True)]
            none = "plug welds: no stated source has them" if plugs else "no edge or lap of 25 mm or more: short welds"
            why = "" if any({s.face, s.stand} == {w.a, w.b} for s in seams) else none
        except OutOfRange as beyond:
            why = str(beyond)
        if why:
            left_out.append((f"{w.a} and {w.b}", why))
    corners = np.concatenate([s.box for s in solids.values()])
    sides = corners.max(axis=0) - corners.min(axis=0)
    ordered = _outward(seams, (corners.max(axis=0) + corners.min(axis=0)) / 2, int(sides.argmax()))
    return WeldShrinkage(
        name=made.assembly.number, seams=tuple(ordered), left_out=tuple(left_out), longest=float(sides.max())
    )


def _plugged(made: Assembled, name: str) -> bool:
    """Return whether a member has holes for plug welds."""
    if isinstance(made.assembly.member(name).thing, Bought):
        return False
    return any(h.use == "plug weld" for p in made.made_of(name).panels for h in p.holes)


def _seam(made: Assembled, w: Weld, s: Seam, other: Seam, solids: dict[str, Solid], lap: bool) -> SeamShrinkage:
    ends = [(np.array(p) + np.array(q)) / 2 for p, q in ((s.start, other.end), (s.end, other.start))]
    if math.dist(*ends) < 0.5 * s.length:
        ends = [(np.array(p) + np.array(q)) / 2 for p, q in ((s.start, other.start), (s.end, other.end))]
    along = unit(vec(ends[1] - ends[0]))
    across = unit(cross(s.up, along))
    face, stand = sorted((w.a, w.b), key=lambda n: -_spread(solids[n], across))
    t = thickness(made, face) or thickness(made, stand)
    factor = METALS.get(metal(made, face))
    if t is None or factor is None:
        raise OutOfRange("metal or thickness of the face", metal(made, face), f"a known one of {', '.join(METALS)}")
    leg, length = w.throat * math.sqrt(2.0), math.dist(*ends)
    draws = factor * fillet_shrinkage(leg, t, lap=lap)
    youngs = _youngs(made, face)
    section = abs(_volume(solids[face])) / _spread(solids[face], along)
    force = tendon_force((2 if w.both or lap else 1) * w.throat**2, youngs)
    stress = force / section
    leans = None
    if not w.both and not lap:
        leans = _band(factor * tee_angle(leg, t)) if t >= 6.0 else THIN_LEAN
    wide = _spread(solids[face], across)
    return SeamShrinkage(
        face=face,
        stand=stand,
        at=vec((ends[0] + ends[1]) / 2),
        along=along,
        across=across,
        up=s.up,
        length=length,
        draws=_band(draws),
        shortens=_band(stress / youngs * length),
        leans=leans,
        height=_spread(solids[stand], s.up),
        pressed=stress if t < WAVES else 0.0,
        bears=buckling_stress(BUCKLING["simply supported"], youngs, t, wide),
    )


def _youngs(made: Assembled, name: str) -> float:
    if isinstance(made.assembly.member(name).thing, Bought):
        return STEEL
    return made.made_of(name).sheet.material.youngs


def _outward(seams: list[SeamShrinkage], middle: Array, axis: int) -> list[SeamShrinkage]:
    """Return seams from the middle outward along the longest side, in turn to both sides of it."""
    far = sorted(seams, key=lambda s: (round(abs(s.at[axis] - middle[axis]), 3), s.at))
    sides = [[s for s in far if (s.at[axis] >= middle[axis]) == upper] for upper in (True, False)]
    return [s for pair in zip_longest(*sides) for s in pair if s is not None]


def _band(value: float) -> Band:
    return SCATTER[0] * value, SCATTER[1] * value


def _told(band: Band, digits: int) -> str:
    return f"{band[0]:.{digits}f} to {band[1]:.{digits}f}"


def _spread(solid: Solid, way: Vec) -> float:
    low, high = solid.reach(way)
    return high - low


def _volume(solid: Solid) -> float:
    a, b, c = np.moveaxis(solid.corners, 1, 0)
    return float(np.einsum("ij,ij->", a, np.cross(b, c)) / 6.0)
