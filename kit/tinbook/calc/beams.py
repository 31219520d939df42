"""Tubes, channels and folded rails as beams: deflection, moment, stress, first frequency, twist, column buckling.

Euler-Bernoulli beams; loads N or N/mm, sizes mm, moduli MPa.
"""

from __future__ import annotations

import math
from typing import Final

from tinbook.calc.limits import above_zero, in_range, not_negative
from tinbook.errors import BadValue, UnknownName

ENDS: Final = ("simply supported", "cantilever", "clamped")
"""Both ends hinged; one end clamped, the other free; both ends clamped."""

# Deflection over P L³/EI and over q L⁴/EI, largest moment over P L and over q L², root of the frequency equation,
# effective length over length (column). Point load at the middle, at the free end of the cantilever.
_BEAMS: Final = {
    "simply supported": (1 / 48, 5 / 384, 1 / 4, 1 / 8, math.pi, 1.0),
    "cantilever": (1 / 3, 1 / 8, 1.0, 1 / 2, 1.8751040687, 2.0),
    "clamped": (1 / 192, 1 / 384, 1 / 8, 1 / 12, 4.7300407449, 0.5),
}


def beam_deflection(length: float, stiffness: float, ends: str, force: float = 0.0, load: float = 0.0) -> float:
    """Return the largest deflection of a beam, mm.

    Parameters
    ----------
    length : float
        Span, mm.
    stiffness : float
        E I, N mm².
    ends : str
        One of `ENDS`.
    force : float, optional
        At the middle, or at a cantilever's end, N.
    load : float, optional
        Along the whole length, N/mm.

    Returns
    -------
    float
        Sum of both; small deflections, shear left out (below 3 % for spans above 10 depths).

    Raises
    ------
    UnknownName
        Other ends.

    Notes
    -----
    Source: `Roark` table 8.1, exact.
    """
    above_zero(length=length, stiffness=stiffness)
    row = _row(ends)
    return (row[0] * force * length**3 + row[1] * load * length**4) / stiffness


def beam_moment(length: float, ends: str, force: float = 0.0, load: float = 0.0) -> float:
    """Return the largest bending moment of a beam, N mm.

    Parameters
    ----------
    length : float
        Span, mm.
    ends : str
        One of `ENDS`.
    force : float, optional
        At the middle, or at a cantilever's end, N.
    load : float, optional
        Along the whole length, N/mm.

    Returns
    -------
    float
        As a magnitude; at the ends of a clamped beam, at the middle of a supported one.

    Raises
    ------
    UnknownName
        Other ends.

    Notes
    -----
    Source: `Roark` table 8.1, exact.
    """
    above_zero(length=length)
    row = _row(ends)
    return abs(row[2] * force * length) + abs(row[3] * load * length**2)


def beam_frequency(length: float, stiffness: float, ends: str, mass: float) -> float:
    """Return the first bending frequency of a beam, Hz.

    Parameters
    ----------
    length : float
        Span, mm.
    stiffness : float
        E I, N mm².
    ends : str
        One of `ENDS`.
    mass : float
        Mass per length, kg/m.

    Returns
    -------
    float
        (root)² / (2 pi L²) sqrt(E I / m).

    Raises
    ------
    UnknownName
        Other ends.

    Notes
    -----
    Source: `Timoshenko vibration`, exact for a slender beam.
    """
    above_zero(length=length, stiffness=stiffness, mass=mass)
    # N mm² / (kg/m) = 1e-3 kg m/s² mm² / (1e-3 kg/mm): metres in N leave a factor 1e6 mm²/m².
    return _row(ends)[4] ** 2 / (math.tau * length**2) * math.sqrt(stiffness * 1e6 / mass)


def column_load(length: float, stiffness: float, ends: str) -> float:
    """Return the elastic buckling load of a column, N.

    Parameters
    ----------
    length : float
        mm.
    stiffness : float
        Smallest E I, N mm².
    ends : str
        One of `ENDS`.

    Returns
    -------
    float
        pi² E I / (effective length)²; real columns carry less, see `column_factor`.

    Raises
    ------
    UnknownName
        Other ends.

    Notes
    -----
    Source: `Timoshenko stability`, Euler.
    """
    above_zero(length=length, stiffness=stiffness)
    return math.pi**2 * stiffness / (_row(ends)[5] * length) ** 2


def column_factor(area: float, yield_strength: float, euler: float, imperfection: float = 0.49) -> float:
    """Return the share of a column's yield load that it carries.

    Parameters
    ----------
    area : float
        mm².
    yield_strength : float
        MPa.
    euler : float
        Elastic buckling load, N.
    imperfection : float, optional
        alpha: 0.21 hot finished tubes, 0.49 cold formed tubes and open folded sections.

    Returns
    -------
    float
        chi, at most 1.

    Raises
    ------
    OutOfRange
        Slenderness above 3.

    Notes
    -----
    Source: `EN 1993-1-1` 6.3.1.2.
    """
    above_zero(area=area, yield_strength=yield_strength, euler=euler)
    not_negative(imperfection=imperfection)
    slender = math.sqrt(area * yield_strength / euler)
    in_range("slenderness", slender, 0.0, 3.0, "EN 1993-1-1 6.3.1")
    if slender <= 0.2:
        return 1.0
    phi = 0.5 * (1 + imperfection * (slender - 0.2) + slender**2)
    return min(1.0, 1 / (phi + math.sqrt(phi**2 - slender**2)))


def twist(torque: float, length: float, shear_modulus: float, torsion_constant: float) -> float:
    """Return the angle by which a bar twists, degrees.

    Parameters
    ----------
    torque : float
        N mm.
    length : float
        mm.
    shear_modulus : float
        MPa, 79 000 for steel.
    torsion_constant : float
        J of the section, mm⁴.

    Returns
    -------
    float
        T L / (G J), ends free to warp.

    Notes
    -----
    Source: `Timoshenko strength`, Saint-Venant torsion. An open channel twists
    hundreds of times as much as a tube of the same sheet.
    """
    above_zero(length=length, shear_modulus=shear_modulus, torsion_constant=torsion_constant)
    return math.degrees(torque * length / (shear_modulus * torsion_constant))


def _row(ends: str) -> tuple[float, float, float, float, float, float]:
    if ends not in _BEAMS:
        raise UnknownName("ends", ends, ENDS)
    return _BEAMS[ends]


def root_stress(
    force: float, angle: float, width: float, thickness: float, height: float, sideways: float = 0.0
) -> tuple[float, float]:
    """Return the stress at the foot of an upright plate under a slanting pull, MPa.

    Parameters
    ----------
    force : float
        Pull, N.
    angle : float
        In the plate's plane, from its upright axis, degrees.
    width, thickness : float
        The plate at its foot, mm.
    height : float
        Pin above the foot, mm.
    sideways : float, optional
        Out of the plate's plane, degrees.

    Returns
    -------
    (float, float)
        Largest direct stress (tension and bending both ways) and mean shear stress.

    Raises
    ------
    BadValue
        Angles beyond 90 degrees.

    Notes
    -----
    Source: `Timoshenko strength`, bending with axial force, elastic.
    A few degrees sideways bend a flat plate about its weak axis and soon govern.
    """
    above_zero(width=width, thickness=thickness)
    not_negative(force=force, height=height)
    if not (abs(angle) <= 90 and abs(sideways) <= 90):
        raise BadValue("angle", (angle, sideways), "-90 to 90 degrees")
    out = force * math.sin(math.radians(sideways))
    flat = force * math.cos(math.radians(sideways))
    up, along = flat * math.cos(math.radians(angle)), abs(flat * math.sin(math.radians(angle)))
    area = width * thickness
    direct = up / area + 6 * along * height / (thickness * width**2) + 6 * abs(out) * height / (width * thickness**2)
    return direct, math.hypot(along, out) / area
