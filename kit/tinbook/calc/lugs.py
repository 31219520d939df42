"""Pin plates (recovery eyes, strap eyes, lashing points): what holds at a pin under a given force.

The kit screens, it never rates: every function takes the force and answers how
much of the plate it uses. Forces in N, sizes in mm, strengths in MPa.
"""

from __future__ import annotations

import math
from typing import Final, NoReturn

from tinbook.calc.beams import root_stress
from tinbook.calc.limits import above_zero, in_range
from tinbook.calc.welds import WeldGroup, fillet_strength, weld_line_force
from tinbook.errors import BadValue, CannotMake
from tinbook.htmltable import html_table
from tinbook.values import dataclass

CAUTIONS: Final = (
    "This screens a plate. It does not rate it: no working load and no recovery load is stated or may be read from it.",
    "A recovery pull can reach several times the vehicle's weight, comes at an angle and by shock; what fails flies.",
    "Plate, weld, mounting and body need a licensed engineer's design, a qualified weld procedure and a proof test.",
    "Local vehicle rules come first.",
    "Never a bare sheet tab and never a tow ball for recovery.",
)
_BTH: Final = "ASME BTH-1 3-3.3"


@dataclass(frozen=True, slots=True, kw_only=True)
class PinPlate:
    """A flat plate with a pin hole.

    Parameters
    ----------
    thickness : float
        Plate, mm.
    hole, pin : float
        Diameters, mm; the pin at most the hole.
    side : float
        From the hole's edge to the plate's edge, square to the force, mm.
    end : float
        From the hole's edge to the plate's end along the force, mm.
    yield_strength, tensile : float
        Of the plate, MPa.
    end_radius : float or None, optional
        Radius of a rounded end; None for a straight end, mm.
    """

    thickness: float
    hole: float
    pin: float
    side: float
    end: float
    yield_strength: float
    tensile: float
    end_radius: float | None = None

    def __post_init__(self) -> None:
        above_zero("mm", thickness=self.thickness, hole=self.hole, pin=self.pin, side=self.side, end=self.end)
        above_zero("MPa", yield_strength=self.yield_strength, tensile=self.tensile)
        if self.pin > self.hole:
            raise BadValue("pin", self.pin, f"at most the hole, {self.hole:g} mm")
        if self.tensile < self.yield_strength:
            raise BadValue("tensile", self.tensile, f"at least the yield strength, {self.yield_strength:g} MPa")
        if self.end_radius is not None and self.end_radius < self.pin / 2:
            raise BadValue("end radius", self.end_radius, f"at least half the pin, {self.pin / 2:g} mm")


def fit_factor(hole: float, pin: float) -> float:
    """Return the loss of strength from a loose pin.

    Parameters
    ----------
    hole, pin : float
        Diameters, mm.

    Returns
    -------
    float
        C_r = 1 - 0.275 sqrt(1 - (pin/hole)²); 1 for a pin above 0.9 of the hole.

    Notes
    -----
    Source: `ASME BTH-1` 3-3.3.1 eq. (3-46).
    """
    above_zero("mm", hole=hole, pin=pin)
    if pin > hole:
        raise BadValue("pin", pin, f"at most the hole, {hole:g} mm")
    return 1.0 if pin / hole > 0.9 else 1 - 0.275 * math.sqrt(1 - (pin / hole) ** 2)


def net_tension(plate: PinPlate, design_factor: float = 3.0) -> float:
    """Return the force allowed by tension beside the hole, N.

    Parameters
    ----------
    plate : PinPlate
        The plate.
    design_factor : float, optional
        N_d: 2 for known loads, 3 where loads are not well known, at least 2.

    Returns
    -------
    float
        C_r Fu / (1.2 N_d) 2 t b_eff, with b_eff at most 4 t and 0.6 Fu/Fy sqrt(hole/b) b.

    Raises
    ------
    OutOfRange
        Design factor below 2.

    Notes
    -----
    Source: `ASME BTH-1` 3-3.3.1 eqs. (3-45) to (3-48). The limit 4 t keeps the plate from dishing.
    """
    _factor(design_factor)
    b = plate.side
    effective = min(b, 4 * plate.thickness, 0.6 * plate.tensile / plate.yield_strength * math.sqrt(plate.hole / b) * b)
    fit = fit_factor(plate.hole, plate.pin)
    return fit * plate.tensile / (1.2 * design_factor) * 2 * plate.thickness * effective


def end_fracture(plate: PinPlate, design_factor: float = 3.0) -> float:
    """Return the force allowed by splitting of the end beyond the hole, N.

    Parameters
    ----------
    plate : PinPlate
        The plate.
    design_factor : float, optional
        As `net_tension`.

    Returns
    -------
    float
        C_r Fu / (1.2 N_d) (1.13 (R - hole/2) + 0.92 b / (1 + b/hole)) t.

    Raises
    ------
    OutOfRange
        Design factor below 2.

    Notes
    -----
    Source: `ASME BTH-1` 3-3.3.1 eq. (3-49); R - hole/2 is the end distance from the hole's edge.
    """
    _factor(design_factor)
    reach = 1.13 * plate.end + 0.92 * plate.side / (1 + plate.side / plate.hole)
    fit = fit_factor(plate.hole, plate.pin)
    return fit * plate.tensile / (1.2 * design_factor) * reach * plate.thickness


def tear_out_area(plate: PinPlate) -> float:
    """Return the area of the two planes along which the pin tears out, mm².

    Parameters
    ----------
    plate : PinPlate
        The plate.

    Returns
    -------
    float
        2 (a + pin/2 (1 - cos phi) - Z) t with phi = 55 pin/hole degrees; Z is what a rounded end takes off.

    Notes
    -----
    Source: `ASME BTH-1` 3-3.3.1 eqs. (3-51), (3-52) and the commentary's figure for curved ends.
    """
    phi = math.radians(55 * plate.pin / plate.hole)
    less = 0.0
    if plate.end_radius is not None:
        less = plate.end_radius - math.sqrt(plate.end_radius**2 - (plate.pin / 2 * math.sin(phi)) ** 2)
    return 2 * (plate.end + plate.pin / 2 * (1 - math.cos(phi)) - less) * plate.thickness


def tear_out(plate: PinPlate, design_factor: float = 3.0) -> float:
    """Return the force allowed by shear along two planes beyond the hole, N.

    Parameters
    ----------
    plate : PinPlate
        The plate.
    design_factor : float, optional
        As `net_tension`.

    Returns
    -------
    float
        0.70 Fu / (1.2 N_d) times `tear_out_area`.

    Raises
    ------
    OutOfRange
        Design factor below 2.

    Notes
    -----
    Source: `ASME BTH-1` 3-3.3.1 eq. (3-50).
    """
    _factor(design_factor)
    return 0.70 * plate.tensile / (1.2 * design_factor) * tear_out_area(plate)


def pin_bearing(plate: PinPlate, design_factor: float = 3.0) -> float:
    """Return the force allowed by bearing of the pin on the plate, N.

    Parameters
    ----------
    plate : PinPlate
        The plate.
    design_factor : float, optional
        As `net_tension`.

    Returns
    -------
    float
        1.25 Fy / N_d times pin times thickness; for a pin that does not turn under load.

    Raises
    ------
    OutOfRange
        Design factor below 2.

    Notes
    -----
    Source: `ASME BTH-1` 3-3.3.4 eq. (3-53).
    """
    _factor(design_factor)
    return 1.25 * plate.yield_strength / design_factor * plate.pin * plate.thickness


@dataclass(frozen=True, slots=True, kw_only=True)
class PinPlateScreen:
    """How much of a pin plate a named force uses, by way of failing; not a rating.

    Parameters
    ----------
    force : float
        The force screened, N.
    uses : tuple of (str, float, str)
        Way of failing, utilisation (1 is all that is allowed), source.
    cautions : tuple of str
        To be printed wherever the numbers are.
    """

    force: float
    uses: tuple[tuple[str, float, str], ...]
    cautions: tuple[str, ...] = CAUTIONS

    @property
    def worst(self) -> tuple[str, float, str]:
        """The way of failing that the force uses most."""
        return max(self.uses, key=lambda u: u[1])

    @property
    def rating(self) -> NoReturn:
        """Refused: the kit states no rating."""
        raise CannotMake(f"a rating of a pin plate is not stated here. {CAUTIONS[0]} {CAUTIONS[2]}")

    def __str__(self) -> str:
        rows = [f"  {what}: {use:.0%} of what is allowed ({source})" for what, use, source in self.uses]
        head = f"Screen of a pin plate under {self.force / 1e3:.4g} kN (not a rating)"
        return "\n".join([head, *rows, *(f"  Caution: {c}" for c in self.cautions)])

    def _repr_html_(self) -> str:
        return html_table(
            ("way of failing", "used", "source"),
            [(what, f"{use:.0%}", source) for what, use, source in self.uses],
            caption=f"Screen of a pin plate under {self.force / 1e3:.4g} kN: not a rating",
            notes=self.cautions,
        )


def screen_pin_plate(
    plate: PinPlate,
    force: float,
    *,
    design_factor: float = 3.0,
    angle: float = 0.0,
    sideways: float = 5.0,
    foot: float | None = None,
    height: float = 0.0,
    weld: WeldGroup | None = None,
    throat: float = 0.0,
    correlation: float = 0.9,
) -> PinPlateScreen:
    """Screen a pin plate under a force that the user names.

    Parameters
    ----------
    plate : PinPlate
        The plate.
    force : float
        The largest pull expected, shock included, N.
    design_factor : float, optional
        As `net_tension`.
    angle, sideways : float, optional
        Of the pull in the plate's plane and out of it, degrees.
    foot : float or None, optional
        Width of the plate at its foot, mm; None leaves the foot out.
    height : float, optional
        Pin above the foot, mm.
    weld : WeldGroup or None, optional
        Weld lines at the foot: x across the plate's width, y across its thickness.
    throat, correlation : float, optional
        Throat of the fillets (mm) and beta_w of `welds.fillet_strength`.

    Returns
    -------
    PinPlateScreen
        Utilisations and cautions, never a rating.

    Raises
    ------
    BadValue
        A weld without a throat.

    Notes
    -----
    Source: `ASME BTH-1` 3-3.3 for the pin; the foot elastic; its weld `EN 1993-1-8`
    with the design factor in place of the partial factor (own proposal).
    """
    above_zero("N", force=force)
    uses = [
        ("tension beside the hole", force / net_tension(plate, design_factor), "ASME BTH-1"),
        ("splitting of the end", force / end_fracture(plate, design_factor), "ASME BTH-1"),
        ("tear-out of the pin", force / tear_out(plate, design_factor), "ASME BTH-1"),
        ("bearing of the pin", force / pin_bearing(plate, design_factor), "ASME BTH-1"),
    ]
    if foot is not None:
        direct, shear = root_stress(force, angle, foot, plate.thickness, height, sideways)
        mises = math.sqrt(direct**2 + 3 * shear**2)
        uses.append(("bending at the foot", mises * design_factor / plate.yield_strength, "Timoshenko strength"))
    if weld is not None:
        if not throat > 0:
            raise BadValue("throat", throat, "a throat above 0 mm")
        out = force * math.sin(math.radians(sideways))
        flat = force * math.cos(math.radians(sideways))
        pull = (flat * math.sin(math.radians(angle)), out, flat * math.cos(math.radians(angle)))
        stress = weld_line_force(weld, pull, (*weld.centroid, height)) / throat
        allowed = fillet_strength(plate.tensile, correlation, design_factor)
        uses.append(("weld at the foot", stress / allowed, "EN 1993-1-8"))
    return PinPlateScreen(force=force, uses=tuple(uses))


def _factor(design_factor: float) -> None:
    in_range("design factor", design_factor, 2.0, math.inf, _BTH)
