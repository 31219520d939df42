"""Live estimate of how stiff a bead-rolled panel is: the equivalent orthotropic plate.

Under a millisecond, so a slider can ask for it at every move. It is an estimate
with a stated band, for simply supported edges only; shell FE gives the number.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Final, Literal

from tinbook.calc import orthotropic, plates
from tinbook.calc.limits import above_zero, poisson_ratio
from tinbook.errors import OutOfRange, UnknownName
from tinbook.htmltable import html_table
from tinbook.making.made import Made, need_made
from tinbook.strength.smeared import Bead as Bead
from tinbook.strength.smeared import rectangle, smeared
from tinbook.units import figures
from tinbook.values import dataclass

Along = Literal["length", "width"]

GRAVITY: Final = 9.80665
SUPPORTS: Final = ("simply supported",)

BAND_FULL: Final = ((-0.13, 0.13), (-0.05, 0.05))
BAND_RUN_OUT: Final = ((-0.21, 0.15), (-0.05, 0.10))
"""How far (deflection, frequency) may lie from shell FE: beads from edge to edge, and beads that end inside the panel.

On 43 panels run with CalculiX S8R shells (tests/strength) the largest deviations were -7.5 to +6.8 and -3.8 to +1.2 %,
and -7.0 to +12.9 and -3.8 to +8.1 %.
"""

FOOT: Final = (
    "A foot or a knee is not this load: thin sheet under a point goes nonlinear at once, and beads then help "
    "little or not at all. Ask for a nonlinear run."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class PanelStiffness:
    """Estimate of a panel beside the flat sheet of the same outside size.

    Parameters
    ----------
    length, width, thickness : float
        Panel, mm.
    supports : str
        How all four edges are held.
    pressure : float
        Uniform load, MPa.
    deflection, flat_deflection : float
        Largest by linear theory, mm; trust them only up to half the thickness.
    frequency, flat_frequency : float
        First natural frequency, Hz.
    mass_gain : float
        Metal of the panel over that of the flat sheet of the same outside size.
    rigidity, poisson, mass : float
        Of the flat sheet: D in N mm, Poisson's ratio, kg/m².
    deflection_band, frequency_band : (float, float)
        How far the estimate may lie from shell FE, as fractions.
    notes : tuple of str
        What a reader must know beside the numbers.
    """

    length: float
    width: float
    thickness: float
    supports: str
    pressure: float
    deflection: float
    flat_deflection: float
    frequency: float
    flat_frequency: float
    mass_gain: float
    rigidity: float
    poisson: float
    mass: float
    deflection_band: tuple[float, float]
    frequency_band: tuple[float, float]
    notes: tuple[str, ...]

    @property
    def gain(self) -> float:
        """Stiffness under uniform load over that of the flat sheet, small deflections."""
        return self.flat_deflection / self.deflection

    @property
    def linear(self) -> bool:
        """Whether the deflection is within linear theory."""
        return plates.small_deflection(self.deflection, self.thickness)

    @property
    def limit_pressure(self) -> float:
        """Uniform load at which the panel bends by half its thickness, where linear theory ends; MPa."""
        return self.pressure * plates.SMALL_DEFLECTION * self.thickness / self.deflection

    def rows(self) -> tuple[tuple[str, str, str], ...]:
        """Return the table's rows: (quantity, with beads, flat sheet)."""
        q = f"{self.pressure * 1e6:.4g} Pa"
        return (
            (f"deflection under {q}", self._mm(self.deflection), self._mm(self.flat_deflection)),
            ("estimate lies from shell FE", _span(self.deflection_band), "exact"),
            ("first frequency", f"{self.frequency:.3g} Hz", f"{self.flat_frequency:.3g} Hz"),
            ("estimate lies from shell FE", _span(self.frequency_band), "exact"),
            ("stiffer than flat, uniform load", f"{self.gain:.3g} x", "1"),
            ("mass over flat", f"{self.mass_gain:.3f} x", "1"),
            ("linear up to", f"{self.limit_pressure * 1e6:.0f} Pa", f"{self._flat_limit() * 1e6:.0f} Pa"),
            *self._clamped(),
        )

    def _clamped(self) -> Iterator[tuple[str, str, str]]:
        """Yield rows of the flat sheet with clamped edges: what welds and lips hold lies between."""
        a, b, d, t, q = self.length, self.width, self.rigidity, self.thickness, self.pressure
        by_shell = "ask for shell FE"
        sag, rings = plates.clamped_uniform(q, a, b, d), plates.clamped_frequency(a, b, d, self.mass)
        yield "edges clamped instead", by_shell, f"{self._mm(sag)}, {rings:.3g} Hz"
        rests, held = (
            max(plates.supported_uniform_moments(q, a, b, self.poisson)),
            plates.clamped_uniform_moments(q, a, b)[0],
        )
        yield (
            "largest stress, edges resting / clamped",
            by_shell,
            " / ".join(f"{figures(6 * m / t**2)} MPa" for m in (rests, held)),
        )
        forces = [plates.supported_point(1.0, a, b, d)]
        # The table of clamped plates under a point ends at twice as long as wide; a longer one bends as much.
        forces.append(plates.clamped_point(1.0, min(a, b), min(max(a, b), 2 * min(a, b)), d))
        ends = " / ".join(f"{figures(plates.SMALL_DEFLECTION * t / w)} N" for w in forces)
        yield "force at the middle up to which it is linear, edges resting / clamped", by_shell, ends

    def __str__(self) -> str:
        head = f"{self.length:.5g} x {self.width:.5g} x {self.thickness:g} mm, all edges {self.supports}"
        body = "\n".join(f"  {what}: {beaded} (flat sheet: {flat})" for what, beaded, flat in self.rows())
        return f"{head}\n{body}\n" + "\n".join(f"  {n}" for n in self.notes)

    def __repr__(self) -> str:
        return str(self)

    def _repr_html_(self) -> str:
        head = f"{self.length:.5g} × {self.width:.5g} × {self.thickness:g} mm, all edges {self.supports}: estimate"
        return html_table(("", "with beads", "flat sheet"), self.rows(), caption=head, notes=self.notes)

    def _mm(self, value: float) -> str:
        if plates.small_deflection(value, self.thickness):
            return f"{value:.3g} mm"
        return f"more than {plates.SMALL_DEFLECTION * self.thickness:.3g} mm: beyond linear theory"

    def _flat_limit(self) -> float:
        return self.pressure * plates.SMALL_DEFLECTION * self.thickness / self.flat_deflection


def panel_stiffness(
    length: float,
    width: float,
    thickness: float,
    bead: Bead | None,
    count: int,
    *,
    along: Along = "length",
    youngs: float = 205e3,
    poisson: float = 0.3,
    density: float = 7850.0,
    pressure: float | None = None,
    supports: str = "simply supported",
) -> PanelStiffness:
    """Estimate the stiffness of a rectangular panel with equal beads, evenly spaced.

    Parameters
    ----------
    length, width : float
        Outside size of the panel, mm.
    thickness : float
        Sheet, mm.
    bead : Bead or None
        The bead; None with count 0 gives the flat sheet.
    count : int
        Number of beads.
    along : {"length", "width"}, optional
        Which side the beads run along.
    youngs, poisson, density : float, optional
        Material; MPa, -, kg/m³.
    pressure : float or None, optional
        Uniform load, MPa; None is the flat sheet's own weight.
    supports : str, optional
        How all edges are held; only "simply supported" (free to move in the sheet's plane).

    Returns
    -------
    PanelStiffness
        With the band within which shell FE agrees.

    Raises
    ------
    BadValue
        Beads that do not fit, or values that make no sense.
    OutOfRange
        Other supports, or a bead that the section's geometry does not allow.

    Notes
    -----
    Along the beads the flat sheet's rigidity plus E times what the exact
    section of the beads adds; across them the flat rigidity by the longer way
    round; twist as for corrugated sheet. Beads that end inside the panel work
    in series with the flat ends, weighted as in a beam under uniform load. The
    flat fields between the beads sag on top, and lower the frequency by
    Dunkerley's rule (edges taken as half clamped and as clamped: own proposal).
    Source: `Timoshenko plates` art. 85 and 86 (not its printed inertia of a
    corrugation, which is five times too low for shallow waves); band measured
    against shell FE.
    """
    above_zero("mm", length=length, width=width, thickness=thickness)
    above_zero(youngs=youngs, density=density)
    poisson_ratio(poisson)
    if supports not in SUPPORTS:
        raise OutOfRange(
            "supports",
            supports,
            "simply supported: with edges held in the plane, or clamped, beads that run to the edge gain many times "
            "more on paper than in metal; ask for shell FE with the bead ends as they are",
        )
    if along not in ("length", "width"):
        raise UnknownName("along", along, ("length", "width"))
    d = plates.rigidity(youngs, thickness, poisson)
    mass = density * thickness * 1e-3
    q = mass * GRAVITY * 1e-6 if pressure is None else pressure
    above_zero("MPa", pressure=q)
    span, spread = (length, width) if along == "length" else (width, length)
    plate = smeared(span, spread, thickness, bead, count, youngs, poisson, d)
    d_length, d_width = (plate.along, plate.across) if along == "length" else (plate.across, plate.along)
    notes = [FOOT]
    if span > spread and count:
        notes.append("The beads run along the longer side; across the shorter span they gain more.")
    if plate.ends:
        notes.append("The beads end inside the panel: the flat ends hinge, and the band is wider.")
    elif count:
        notes.append("The beads run from edge to edge and the edges follow them; ends that stop short gain less.")
    if count == 0:
        bands = ((0.0, 0.0), (0.0, 0.0))
    else:
        bands = BAND_RUN_OUT if plate.ends else BAND_FULL
    twist, beaded_mass = plate.twist, mass * plate.more
    overall = orthotropic.frequency(length, width, d_length, d_width, twist, beaded_mass)
    return PanelStiffness(
        length=length,
        width=width,
        thickness=thickness,
        supports=supports,
        pressure=q,
        deflection=orthotropic.uniform(q, length, width, d_length, d_width, twist) + plate.sag(q, d),
        flat_deflection=plates.supported_uniform(q, length, width, d),
        frequency=plate.slows(overall, d, mass),
        flat_frequency=plates.supported_frequency(length, width, d, mass),
        mass_gain=plate.more,
        rigidity=d,
        poisson=poisson,
        mass=mass,
        deflection_band=bands[0],
        frequency_band=bands[1],
        notes=tuple(notes),
    )


def stiffness_of(made: Made, panel: str = "base", *, pressure: float | None = None) -> PanelStiffness:
    """Estimate the stiffness of a panel of a made part, held along its edges.

    Parameters
    ----------
    made : Made
        The part.
    panel : str, optional
        Name of the panel.
    pressure : float or None, optional
        Uniform load, MPa; None is the flat sheet's own weight.

    Returns
    -------
    PanelStiffness
        Of the rectangle that bounds the panel, all edges simply supported.

    Raises
    ------
    OutOfRange
        The panel is not roughly a rectangle, or its beads are not straight,
        parallel, equal and evenly spread: the estimate then does not apply.
    UnknownName
        No such panel.
    """
    need_made(made, "stiffness_of")
    found = made.panel(panel)
    long, wide, bead = rectangle(found)
    material = made.sheet.material
    answer = panel_stiffness(
        long,
        wide,
        made.thickness,
        bead,
        len(found.beads),
        youngs=material.youngs,
        poisson=material.poisson,
        density=material.density,
        pressure=pressure,
    )
    kinds = dict.fromkeys(f"{f.KIND}s" for f in found.risen if f not in found.beads)
    left_out = [f"The estimate leaves out the panel's {' and '.join(kinds)}; shell FE has them."] if kinds else []
    return replace(answer, notes=(*answer.notes, *left_out, *made.part.cautions))


def _span(band: tuple[float, float]) -> str:
    return "exact" if band == (0.0, 0.0) else f"{band[0] * 100:+.0f} to {band[1] * 100:+.0f} %"
