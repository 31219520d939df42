"""Rolled beads: shape, stretch, draw-in and section.

A bead is two shoulder arcs and a crown arc that meet tangentially. `width` is
measured over the shoulders' outer tangent points and `depth` from the flat
sheet's face to the same face on the crown, so both hold for the mid-line too.
"""

from __future__ import annotations

import math

from tinbook.calc.limits import above_zero, in_range, not_negative
from tinbook.calc.sections import Section, thin_section, together
from tinbook.errors import BadValue
from tinbook.plane.loops import Edge
from tinbook.values import dataclass

GEOMETRY = "two tangent arcs; a rolled bead cannot be undercut"


@dataclass(frozen=True, slots=True, kw_only=True)
class BeadField:
    """One pitch of a sheet with parallel beads, as a section across them.

    Parameters
    ----------
    section : Section
        One pitch about its own centroid; y = 0 is the flat sheet's mid-plane.
    pitch, developed, thickness : float
        Width of one pitch, the length of its mid-line and the flat sheet, mm.
    inertia : float
        Smeared second moment for bending along the beads, mm⁴ per mm of width (mm³).
    flat_inertia : float
        The same of the flat sheet, t³ / 12, mm³.
    """

    section: Section
    pitch: float
    developed: float
    thickness: float
    inertia: float
    flat_inertia: float

    @property
    def gain(self) -> float:
        """Inertia along the beads over the flat sheet's."""
        return self.inertia / self.flat_inertia

    @property
    def mass_gain(self) -> float:
        """Metal of one pitch over that of a flat sheet of the same outside size (1 if all is stretch)."""
        return self.section.area / (self.pitch * self.thickness)


def arc_radius(width: float, depth: float) -> float:
    """Return the radius of the arc over a chord in mm.

    Parameters
    ----------
    width, depth : float
        Chord and height of the mid-line, mm; depth at most half the width.

    Returns
    -------
    float
        R = (w²/4 + h²) / 2h. With shoulders it is the sum of shoulder and crown radius (mid-line).

    Raises
    ------
    OutOfRange
        Deeper than half the width.

    Notes
    -----
    Source: `geometry`, exact.
    """
    _check(width, depth)
    return (width**2 / 4 + depth**2) / (2 * depth)


def arc_half_angle(width: float, depth: float) -> float:
    """Return half the angle that the arc turns through, in degrees.

    Parameters
    ----------
    width, depth : float
        Chord and height of the mid-line, mm; depth at most half the width.

    Returns
    -------
    float
        2 atan(2h / w): the steepest slope of the flank; 90 for a half circle.

    Raises
    ------
    OutOfRange
        Deeper than half the width.

    Notes
    -----
    Source: `geometry`, exact.
    """
    _check(width, depth)
    return math.degrees(2 * math.atan(2 * depth / width))


def arc_length(width: float, depth: float) -> float:
    """Return the developed length of a bead's mid-line across its width in mm.

    Parameters
    ----------
    width, depth : float
        Width over the outer tangent points and depth, mm; depth at most half the width.

    Returns
    -------
    float
        2 R f. Shoulders do not change it: shoulder and crown turn through the
        same angle and their radii add up to R.

    Raises
    ------
    OutOfRange
        Deeper than half the width.

    Notes
    -----
    Source: `geometry`, exact.
    """
    return 2 * arc_radius(width, depth) * math.radians(arc_half_angle(width, depth))


def stretch(width: float, depth: float, draw: float = 0.0) -> float:
    """Return the mean membrane strain across a bead.

    Parameters
    ----------
    width, depth : float
        As in `arc_length`, mm.
    draw : float, optional
        Draw factor, 0 to 1.

    Returns
    -------
    float
        (1 - draw) (developed length / width - 1), a fraction. The crown takes more than the mean.

    Raises
    ------
    BadValue
        Draw factor outside 0 to 1.
    OutOfRange
        Deeper than half the width.

    Notes
    -----
    Source: `geometry`, exact as a mean; hold it against half the
    elongation at fracture (common practice).
    """
    _check_draw(draw)
    return (1 - draw) * (arc_length(width, depth) / width - 1)


def thinned(thickness: float, strain: float) -> float:
    """Return the thickness of a sheet stretched in one direction and held in the other, mm.

    Parameters
    ----------
    thickness : float
        Before, mm.
    strain : float
        Engineering membrane strain, above -1.

    Returns
    -------
    float
        t / (1 + strain).

    Notes
    -----
    Source: `statics` of a plastic metal: constant volume in plane strain, exact for a plastic metal.
    """
    above_zero("mm", thickness=thickness)
    if not strain > -1:
        raise BadValue("strain", strain, "above -1")
    return thickness / (1 + strain)


def bead_profile(width: float, depth: float, shoulder: float, thickness: float, flat: float = 0.0) -> tuple[Edge, ...]:
    """Return the mid-line across one bead, from left to right, centred on x = 0, flat part at y = 0.

    Parameters
    ----------
    width, depth : float
        Over the outer tangent points of the shoulders, and from face to face, mm.
    shoulder : float
        Inside radius of the shoulders, mm; 0 or above.
    thickness : float
        Sheet, mm; enters because the radii are of faces, not of the mid-line.
    flat : float, optional
        Flat sheet on both sides together, mm.

    Returns
    -------
    tuple of Edge
        Flat, shoulder, crown, shoulder, flat; the flats are left out when 0.

    Raises
    ------
    OutOfRange
        Deeper than half the width, or shoulders so large that the crown's
        inside radius would be negative.

    Notes
    -----
    Source: `geometry`, exact: both arcs turn by f = 2 atan(2h/w), and the
    mid-line radii of shoulder and crown add up to the arc radius.
    """
    _check(width, depth)
    not_negative("mm", shoulder=shoulder, flat=flat)
    above_zero("mm", thickness=thickness)
    total = arc_radius(width, depth)
    turn = math.radians(arc_half_angle(width, depth))
    low = shoulder + thickness / 2
    in_range("shoulder radius", shoulder, 0.0, total - thickness, f"crown of a {width:g} x {depth:g} mm bead", "mm")
    x1, y1 = width / 2 - low * math.sin(turn), low * (1 - math.cos(turn))
    k = math.tan(turn / 4)
    left = () if flat == 0 else (Edge((-(width + flat) / 2, 0.0), (-width / 2, 0.0)),)
    right = () if flat == 0 else (Edge((width / 2, 0.0), ((width + flat) / 2, 0.0)),)
    return (
        *left,
        Edge((-width / 2, 0.0), (-x1, y1), k),
        Edge((-x1, y1), (x1, y1), -math.tan(turn / 2)),
        Edge((x1, y1), (width / 2, 0.0), k),
        *right,
    )


def bead_field(
    width: float, depth: float, shoulder: float, thickness: float, pitch: float, draw: float = 1.0
) -> BeadField:
    """Return the section of one pitch of parallel beads.

    Parameters
    ----------
    width, depth, shoulder : float
        As in `bead_profile`, mm.
    thickness, pitch : float
        Sheet and spacing of the beads (at least the width), mm.
    draw : float, optional
        Draw factor; below 1 the bead's own metal is thinned by its stretch.

    Returns
    -------
    BeadField
        About the pitch's own centroid, t³ terms included: the exact solid band.

    Raises
    ------
    BadValue
        Pitch smaller than the width.
    OutOfRange
        As `bead_profile`.

    Notes
    -----
    Source: `geometry`, exact; thinning as a mean over the bead.
    """
    above_zero("mm", pitch=pitch)
    _check(width, depth)
    if pitch < width:
        raise BadValue("pitch", pitch, f"at least the bead's width, {width:g} mm")
    metal = thinned(thickness, stretch(width, depth, draw))
    bead = thin_section(bead_profile(width, depth, shoulder, metal), metal)
    parts = [bead]
    if pitch > width:
        parts += [thin_section([Edge((s * pitch / 2, 0.0), (s * width / 2, 0.0))], thickness) for s in (-1.0, 1.0)]
    whole = together(parts)
    return BeadField(
        section=whole,
        pitch=pitch,
        developed=arc_length(width, depth) + pitch - width,
        thickness=thickness,
        inertia=whole.i_x / pitch,
        flat_inertia=thickness**3 / 12,
    )


def _check(width: float, depth: float) -> None:
    above_zero("mm", width=width, depth=depth)
    in_range("depth over width", depth / width, 0.0, 0.5, GEOMETRY)


def _check_draw(draw: float) -> None:
    if not 0 <= draw <= 1:
        raise BadValue("draw factor", draw, "0 (all stretch) to 1 (all draw)")
