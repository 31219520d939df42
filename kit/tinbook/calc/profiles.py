"""Bought tubes and folded channels as sections."""

from __future__ import annotations

import math

from tinbook.calc.limits import above_zero, not_negative
from tinbook.calc.sections import Section, closed_torsion_constant, polygon_section, thin_section
from tinbook.errors import BadValue
from tinbook.plane.loops import Edge


def rectangular_tube(width: float, height: float, thickness: float, outside_radius: float = 0.0) -> Section:
    """Return a rectangular tube, centred on the origin.

    Parameters
    ----------
    width, height : float
        Outside sizes along x and y, mm.
    thickness : float
        Wall, mm.
    outside_radius : float, optional
        Outside corner radius, 0 or at least the thickness, mm.

    Returns
    -------
    Section
        Exact but for the torsion constant, which is Bredt's.

    Raises
    ------
    BadValue
        Sizes that leave no hollow.

    Notes
    -----
    Source: `geometry`, outside less inside, exact; torsion `Bredt`
    4 A² t / s on the mid-line, thin walls (t below a tenth of the smaller side: within 1 %).
    """
    above_zero("mm", width=width, height=height, thickness=thickness)
    not_negative("mm", outside_radius=outside_radius)
    if 2 * thickness >= min(width, height):
        raise BadValue("thickness", thickness, f"less than half the smaller side, {min(width, height) / 2:g} mm")
    if outside_radius and not thickness <= outside_radius <= min(width, height) / 2:
        raise BadValue("outside radius", outside_radius, "0, or from the thickness to half the smaller side")
    inner = max(outside_radius - thickness, 0.0)
    outer_a, outer_x, outer_y = _rounded_rectangle(width, height, outside_radius)
    inner_a, inner_x, inner_y = _rounded_rectangle(width - 2 * thickness, height - 2 * thickness, inner)
    middle = max(outside_radius - thickness / 2, 0.0)
    b, h = width - thickness, height - thickness
    enclosed = b * h - (4 - math.pi) * middle**2
    return Section(
        area=outer_a - inner_a,
        centroid=(0.0, 0.0),
        i_x=outer_x - inner_x,
        i_y=outer_y - inner_y,
        i_xy=0.0,
        j=closed_torsion_constant(enclosed, 2 * (b + h) - (8 - math.tau) * middle, thickness),
        box=(-width / 2, -height / 2, width / 2, height / 2),
    )


def round_tube(diameter: float, thickness: float) -> Section:
    """Return a round tube, centred on the origin.

    Parameters
    ----------
    diameter, thickness : float
        Outside diameter and wall, mm; a wall of half the diameter is a solid bar.

    Returns
    -------
    Section
        Exact, torsion included.

    Raises
    ------
    BadValue
        A wall thicker than half the diameter.

    Notes
    -----
    Source: `geometry`: I = pi (D⁴ - d⁴) / 64, J = 2 I, exact.
    """
    above_zero("mm", diameter=diameter, thickness=thickness)
    if thickness > diameter / 2:
        raise BadValue("thickness", thickness, f"at most half the diameter, {diameter / 2:g} mm")
    inner = diameter - 2 * thickness
    i = math.pi * (diameter**4 - inner**4) / 64
    r = diameter / 2
    area = math.pi * (diameter**2 - inner**2) / 4
    return Section(area=area, centroid=(0.0, 0.0), i_x=i, i_y=i, i_xy=0.0, j=2 * i, box=(-r, -r, r, r))


def channel(height: float, flange: float, thickness: float, inside_radius: float = 0.0) -> Section:
    """Return a folded channel: web upright at x = 0 on its outer face, flanges to the right.

    Parameters
    ----------
    height, flange : float
        Outside height of the web and outside width of each flange, mm.
    thickness, inside_radius : float
        Sheet and inside bend radius, mm; radius 0 gives sharp corners (exact solid).

    Returns
    -------
    Section
        Exact; the torsion constant is the open one.

    Raises
    ------
    BadValue
        Flanges or web too short for the bends.

    Notes
    -----
    Source: `geometry`, exact; for the centre of twist see `shear_centre`.
    """
    above_zero("mm", height=height, flange=flange, thickness=thickness)
    not_negative("mm", inside_radius=inside_radius)
    outer = inside_radius + thickness
    if not (height >= 2 * outer and flange >= outer):
        raise BadValue("channel", (height, flange), f"web at least {2 * outer:g} mm and flange at least {outer:g} mm")
    t, h, b = thickness, height, flange
    if inside_radius == 0:
        shape = ((0, 0), (b, 0), (b, t), (t, t), (t, h - t), (b, h - t), (b, h), (0, h))
        exact = polygon_section([(float(x), float(y)) for x, y in shape])
        j = (h + 2 * b - 2 * t) * t**3 / 3
        return Section(
            area=exact.area,
            centroid=exact.centroid,
            i_x=exact.i_x,
            i_y=exact.i_y,
            i_xy=exact.i_xy,
            j=j,
            box=exact.box,
        )
    quarter = math.tan(math.pi / 8)
    corners = ((b, t / 2), (outer, t / 2), (t / 2, outer), (t / 2, h - outer), (outer, h - t / 2), (b, h - t / 2))
    bulges = (0.0, -quarter, 0.0, -quarter, 0.0)
    edges = [Edge(p, q, k) for p, q, k in zip(corners, corners[1:], bulges, strict=False)]
    return thin_section([e for e in edges if e.length > 0], t)


def _rounded_rectangle(b: float, h: float, r: float) -> tuple[float, float, float]:
    """Return area and the two second moments of a solid rectangle with rounded corners about its centre."""

    def second(width: float, height: float) -> float:
        # A corner takes off a square less a quarter disc; their moments about the square's inner corner line.
        square_a, disc_a = r * r, math.pi * r * r / 4
        d = height / 2 - r
        square = square_a * d * d + 2 * d * (square_a * r / 2) + r**4 / 3
        disc = disc_a * d * d + 2 * d * (r**3 / 3) + math.pi * r**4 / 16
        return width * height**3 / 12 - 4 * (square - disc)

    return b * h - (4 - math.pi) * r * r, second(b, h), second(h, b)
