"""Properties of sections: thin walls along lines and arcs, and exact solid polygons.

x runs right and y up in the plane of the section; `i_x` is the second moment
about the centroidal x axis (bending in the vertical plane). All in mm.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Sequence

from tinbook.calc.limits import above_zero
from tinbook.errors import BadValue
from tinbook.plane.loops import Edge, Point
from tinbook.values import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """What a cross-section does in tension, bending and torsion.

    Parameters
    ----------
    area : float
        Area, mm².
    centroid : (float, float)
        Centroid in the axes in which the section was drawn, mm.
    i_x, i_y, i_xy : float
        Second moments about the centroidal axes, mm⁴; `i_xy` is the integral of x y.
    j : float
        Saint-Venant torsion constant, mm⁴; nan where no formula was used.
    box : (float, float, float, float)
        Extreme fibres (xmin, ymin, xmax, ymax), mm.
    """

    area: float
    centroid: Point
    i_x: float
    i_y: float
    i_xy: float
    j: float
    box: tuple[float, float, float, float]

    @property
    def principal(self) -> tuple[float, float, float]:
        """Largest and smallest second moment (mm⁴) and the angle of the larger one's axis from x (degrees)."""
        mean, half = (self.i_x + self.i_y) / 2, (self.i_x - self.i_y) / 2
        radius = math.hypot(half, self.i_xy)
        turn = 0.0 if radius <= 1e-12 * mean else math.degrees(math.atan2(-self.i_xy, half) / 2)
        return mean + radius, mean - radius, turn

    @property
    def w_x(self) -> float:
        """Elastic section modulus about x for the fibre farthest away, mm³."""
        return self.i_x / max(self.box[3] - self.centroid[1], self.centroid[1] - self.box[1])

    @property
    def w_y(self) -> float:
        """Elastic section modulus about y for the fibre farthest away, mm³."""
        return self.i_y / max(self.box[2] - self.centroid[0], self.centroid[0] - self.box[0])


def thin_section(walls: Iterable[Edge], thickness: float, *, wall_bending: bool = True) -> Section:
    """Return the properties of walls of one thickness drawn by their mid-lines.

    Parameters
    ----------
    walls : iterable of Edge
        Lines and arcs of the mid-line, in any order; they may branch. mm.
    thickness : float
        Thickness of every wall, mm.
    wall_bending : bool, optional
        Whether each wall's own t³ terms count. With them a chain of lines and
        arcs that meet tangentially is the exact solid band; without them the
        result is the usual mid-line convention of the handbooks.

    Returns
    -------
    Section
        `j` is the open section's sum of length x t³ / 3.

    Raises
    ------
    BadValue
        No wall, no length, a thickness not above 0, or an arc tighter than half the thickness.

    Notes
    -----
    Source: `geometry`, exact; torsion constant: `Timoshenko strength`, thin
    open sections. Sharp corners count the corner square twice on one side and
    not at all on the other, as every mid-line calculation does.
    """
    above_zero("mm", thickness=thickness)
    sums = [0.0] * 6
    length = 0.0
    boxes = []
    for wall in walls:
        if wall.length <= 0:
            raise BadValue("wall", wall, "a wall with a length")
        if not wall.is_line and wall.radius < thickness / 2 * (1 - 1e-9):
            raise BadValue("wall radius", wall.radius, f"at least half the thickness, {thickness / 2:g} mm")
        sums = [a + b for a, b in zip(sums, _wall_integrals(wall, thickness, wall_bending), strict=True)]
        length += wall.length
        boxes.append(_wall_box(wall, thickness if wall_bending else 0.0))
    if not boxes:
        raise BadValue("walls", (), "at least one line or arc")
    return _section(sums, length * thickness**3 / 3, _hull(boxes))


def polygon_section(points: Sequence[Point]) -> Section:
    """Return the exact properties of a solid polygon.

    Parameters
    ----------
    points : sequence of (float, float)
        Corners in order, either way round, without repeating the first; mm.

    Returns
    -------
    Section
        `j` is nan: a solid polygon has no closed form.

    Raises
    ------
    BadValue
        Fewer than three corners or no area.

    Notes
    -----
    Source: `geometry`: Green's theorem on the boundary, exact.
    """
    if len(points) < 3:
        raise BadValue("points", tuple(points), "at least three corners")
    ox, oy = points[0]  # near the origin the products keep their digits
    sums = [0.0] * 6
    for (x0, y0), (x1, y1) in zip(points, [*points[1:], points[0]], strict=True):
        x0, y0, x1, y1 = x0 - ox, y0 - oy, x1 - ox, y1 - oy
        cross = x0 * y1 - x1 * y0
        parts = (
            cross / 2,
            cross * (x0 + x1) / 6,
            cross * (y0 + y1) / 6,
            cross * (x0 * x0 + x0 * x1 + x1 * x1) / 12,
            cross * (y0 * y0 + y0 * y1 + y1 * y1) / 12,
            cross * (x0 * y1 + 2 * x0 * y0 + 2 * x1 * y1 + x1 * y0) / 24,
        )
        sums = [a + b for a, b in zip(sums, parts, strict=True)]
    if abs(sums[0]) < 1e-12:
        raise BadValue("points", tuple(points), "corners that enclose an area")
    if sums[0] < 0:
        sums = [-s for s in sums]
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    at_origin = _section(sums, math.nan, (min(xs), min(ys), max(xs), max(ys)))
    cx, cy = at_origin.centroid
    return Section(
        area=at_origin.area,
        centroid=(cx + ox, cy + oy),
        i_x=at_origin.i_x,
        i_y=at_origin.i_y,
        i_xy=at_origin.i_xy,
        j=math.nan,
        box=at_origin.box,
    )


def together(parts: Sequence[Section]) -> Section:
    """Return several sections that bend as one.

    Parameters
    ----------
    parts : sequence of Section
        In common axes, at least one.

    Returns
    -------
    Section
        Open torsion constants are added.

    Notes
    -----
    Source: `geometry`: parallel-axis theorem, exact.
    """
    if not parts:
        raise BadValue("parts", parts, "at least one section")
    area = math.fsum(p.area for p in parts)
    x = math.fsum(p.area * p.centroid[0] for p in parts) / area
    y = math.fsum(p.area * p.centroid[1] for p in parts) / area
    return Section(
        area=area,
        centroid=(x, y),
        i_x=math.fsum(p.i_x + p.area * (p.centroid[1] - y) ** 2 for p in parts),
        i_y=math.fsum(p.i_y + p.area * (p.centroid[0] - x) ** 2 for p in parts),
        i_xy=math.fsum(p.i_xy + p.area * (p.centroid[0] - x) * (p.centroid[1] - y) for p in parts),
        j=math.fsum(p.j for p in parts),
        box=(
            min(p.box[0] for p in parts),
            min(p.box[1] for p in parts),
            max(p.box[2] for p in parts),
            max(p.box[3] for p in parts),
        ),
    )


def closed_torsion_constant(enclosed_area: float, perimeter: float, thickness: float) -> float:
    """Return the torsion constant of a thin closed wall in mm⁴.

    Parameters
    ----------
    enclosed_area, perimeter : float
        Area inside the mid-line (mm²) and its length (mm).
    thickness : float
        Wall, mm.

    Returns
    -------
    float
        J = 4 A² t / s.

    Notes
    -----
    Source: `Bredt`, second formula; thin walls.
    """
    above_zero(enclosed_area=enclosed_area, perimeter=perimeter, thickness=thickness)
    return 4 * enclosed_area**2 * thickness / perimeter


def shear_centre(points: Sequence[Point], thickness: float) -> tuple[Point, float]:
    """Return the shear centre and the warping constant of an open, unbranched thin section.

    Parameters
    ----------
    points : sequence of (float, float)
        Corners of the mid-line in order, mm; chord arcs finely.
    thickness : float
        Wall, mm.

    Returns
    -------
    ((float, float), float)
        Shear centre in the axes of `points` (mm) and warping constant (mm⁶).

    Raises
    ------
    BadValue
        Fewer than three corners, or all in one line (the shear centre is then on that line, not unique here).

    Notes
    -----
    Source: `EN 1993-1-3`, sectorial coordinates, annex C. A load off this point twists the section.
    """
    above_zero("mm", thickness=thickness)
    if len(points) < 3:
        raise BadValue("points", tuple(points), "at least three corners of the mid-line")
    areas = [math.dist(p, q) * thickness for p, q in itertools.pairwise(points)]
    total = math.fsum(areas)
    cx = math.fsum(a * (p[0] + q[0]) / 2 for a, p, q in zip(areas, points, points[1:], strict=False)) / total
    cy = math.fsum(a * (p[1] + q[1]) / 2 for a, p, q in zip(areas, points, points[1:], strict=False)) / total
    xs, ys = [p[0] - cx for p in points], [p[1] - cy for p in points]

    def product(f: Sequence[float], g: Sequence[float]) -> float:
        """Integral over the area of the product of two quantities linear along each wall."""
        return math.fsum(
            a * (2 * f[i] * g[i] + 2 * f[i + 1] * g[i + 1] + f[i] * g[i + 1] + f[i + 1] * g[i]) / 6
            for i, a in enumerate(areas)
        )

    i_x, i_y, i_xy = product(ys, ys), product(xs, xs), product(xs, ys)
    det = i_x * i_y - i_xy**2
    if det <= 1e-9 * (i_x + i_y) ** 2:
        raise BadValue("points", tuple(points), "a mid-line that is not straight")
    omega = [0.0]
    for i in range(len(areas)):
        omega.append(omega[-1] + xs[i] * ys[i + 1] - xs[i + 1] * ys[i])
    one = [1.0] * len(xs)
    mean = product(omega, one) / total
    omega = [w - mean for w in omega]
    o_x, o_y = product(ys, omega), product(xs, omega)
    ex = (i_y * o_x - i_xy * o_y) / det
    ey = (i_xy * o_x - i_x * o_y) / det
    about = [w - ex * y + ey * x for w, x, y in zip(omega, xs, ys, strict=True)]
    return (cx + ex, cy + ey), product(about, about)


def _wall_integrals(wall: Edge, t: float, own: bool) -> tuple[float, float, float, float, float, float]:
    """Return the integrals of 1, x, y, x², y², xy over one wall."""
    if wall.is_line:
        (x0, y0), (x1, y1) = wall.start, wall.end
        length = wall.length
        c, s = (x1 - x0) / length, (y1 - y0) / length
        x, y, area = (x0 + x1) / 2, (y0 + y1) / 2, length * t
        along, across = t * length**3 / 12, (length * t**3 / 12 if own else 0.0)
        return (
            area,
            area * x,
            area * y,
            area * x * x + along * c * c + across * s * s,
            area * y * y + along * s * s + across * c * c,
            area * x * y + (along - across) * c * s,
        )
    (cx, cy), r, sweep = wall.centre, wall.radius, wall.sweep
    a = math.atan2(wall.start[1] - cy, wall.start[0] - cx)
    a, b = (a, a + sweep) if sweep > 0 else (a + sweep, a)
    r1 = r * r * t + (t**3 / 12 if own else 0.0)
    r2 = r**3 * t + (r * t**3 / 4 if own else 0.0)
    area = r * t * (b - a)
    ux, uy = r1 * (math.sin(b) - math.sin(a)), r1 * (math.cos(a) - math.cos(b))
    half, wave = (b - a) / 2, (math.sin(2 * b) - math.sin(2 * a)) / 4
    uxx, uyy, uxy = r2 * (half + wave), r2 * (half - wave), r2 * (math.sin(b) ** 2 - math.sin(a) ** 2) / 2
    return (
        area,
        area * cx + ux,
        area * cy + uy,
        area * cx * cx + 2 * cx * ux + uxx,
        area * cy * cy + 2 * cy * uy + uyy,
        area * cx * cy + cx * uy + cy * ux + uxy,
    )


def _wall_box(wall: Edge, t: float) -> tuple[float, float, float, float]:
    xs, ys = [], []
    for s in (0.0, 1.0):
        (x, y), (dx, dy) = wall.at(s), wall.direction(s)
        xs += [x - dy * t / 2, x + dy * t / 2]
        ys += [y - dx * t / 2, y + dx * t / 2]
    if not wall.is_line:
        (cx, cy), r = wall.centre, wall.radius
        a0 = math.atan2(wall.start[1] - cy, wall.start[0] - cx)
        low, high = min(a0, a0 + wall.sweep), max(a0, a0 + wall.sweep)
        for k in range(math.ceil(low / (math.pi / 2)), math.floor(high / (math.pi / 2)) + 1):
            xs.append(cx + (r + t / 2) * math.cos(k * math.pi / 2))
            ys.append(cy + (r + t / 2) * math.sin(k * math.pi / 2))
    return min(xs), min(ys), max(xs), max(ys)


def _hull(boxes: Sequence[tuple[float, float, float, float]]) -> tuple[float, float, float, float]:
    return min(b[0] for b in boxes), min(b[1] for b in boxes), max(b[2] for b in boxes), max(b[3] for b in boxes)


def _section(sums: Sequence[float], j: float, box: tuple[float, float, float, float]) -> Section:
    area, sx, sy, sxx, syy, sxy = sums
    x, y = sx / area, sy / area
    return Section(
        area=area,
        centroid=(x, y),
        i_x=syy - area * y * y,
        i_y=sxx - area * x * x,
        i_xy=sxy - area * x * y,
        j=j,
        box=box,
    )
