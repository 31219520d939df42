"""The folded part as one OCCT solid, put together from shared edges.

Each panel gives two flat skins with its holes as inner wires and a wall under
every edge; each bend strip two round skins and its side walls. Edges on a bend
tangent line are made once and used by panel and strip alike, without a wall.
Nothing is cut and nothing is sewn: 300 holes cost little more than drawing them.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import TYPE_CHECKING

import numpy as np
import shapely

from tinbook.errors import CannotMake
from tinbook.making.folded import Folded, MadePanel
from tinbook.making.solid import kernel
from tinbook.making.solid.bead import swept_sides
from tinbook.making.solid.bend import strip_faces
from tinbook.making.solid.kernel import Shape
from tinbook.making.solid.lanced import lanced_sides
from tinbook.making.solid.shell import SheetCorner, SheetSide, SolidShell, sheet_corner, skins, straight_side, wall
from tinbook.making.solid.turned import turned_sides
from tinbook.memo import Memo
from tinbook.part.forms.profiles import Lanced, Swept, Turned
from tinbook.plane.loops import Edge, Loop
from tinbook.space import Frame, negative

if TYPE_CHECKING:
    import cadquery

VOLUME = 1e-6
"""Largest relative difference between the solid's volume and that worked out from its pieces."""

HAIR = 5e-6
"""mm: tolerance of edges and corners where the kernel's own is too fine for what rounding left."""

CLEAR = 1e-4
"""mm: sagitta of arcs where loops are held against each other in the plane."""


def _panel_side(
    e: Edge, a: SheetCorner, b: SheetCorner, frame: Frame, t: float, walled: bool
) -> tuple[SheetSide, Shape | None]:
    """Return a panel's side under one edge and its wall."""
    if e.is_line:
        side = straight_side(e.name, a, b)
        if not walled:
            return side, None
        dx, dy = e.direction()
        surface = kernel.plane(a.p_low, frame.vector(dy, -dx), frame.vector(dx, dy))
        return side, wall(side, surface)
    # About +z for an anticlockwise arc, about -z for the other, so that the parameter runs along the loop.
    s = math.copysign(1.0, e.bulge)
    (cx, cy), r = e.centre, e.radius
    axis = frame.z if s > 0 else negative(frame.z)
    first = s * math.atan2(e.start[1] - cy, e.start[0] - cx)
    last = first + abs(e.sweep)
    c_low, c_high = frame(cx, cy, 0.0), frame(cx, cy, t)
    low = kernel.arc(a.low, b.low, c_low, axis, frame.x, r, first, last)
    high = kernel.arc(a.high, b.high, c_high, axis, frame.x, r, first, last)
    side = SheetSide(e.name, a, b, low, high)
    surface = kernel.cylinder(c_low, axis, frame.x, r)
    kernel.put_line(side.low, surface, (0.0, 0.0), (1.0, 0.0))
    kernel.put_line(side.high, surface, (0.0, s * t), (1.0, 0.0))
    kernel.put_line(a.up, surface, (first, 0.0), (0.0, s))
    kernel.put_line(b.up, surface, (last, 0.0), (0.0, s))
    return side, wall(side, surface, outward=s > 0)


def _round(loop: Loop, frame: Frame, t: float, hole: bool) -> tuple[SheetSide, Shape]:
    """Return a full circle as one side with its cylinder; a hole's runs clockwise."""
    (cx, cy), r = loop.edges[0].centre, loop.edges[0].radius
    c_low, c_high = frame(cx, cy, 0.0), frame(cx, cy, t)
    a = sheet_corner(frame(cx + r, cy, 0.0), frame(cx + r, cy, t))
    low = kernel.arc(a.low, a.low, c_low, frame.z, frame.x, r, 0.0, math.tau)
    high = kernel.arc(a.high, a.high, c_high, frame.z, frame.x, r, 0.0, math.tau)
    surface = kernel.cylinder(c_low, frame.z, frame.x, r)
    kernel.put_line(low, surface, (0.0, 0.0), (1.0, 0.0))
    kernel.put_line(high, surface, (0.0, t), (1.0, 0.0))
    kernel.put_seam(a.up, surface)
    around = kernel.wire([low, a.up, high.Reversed(), a.up.Reversed()])
    if hole:
        side = SheetSide("", a, a, low.Reversed(), high.Reversed())
        return side, kernel.face(surface, [around.Reversed()], outward=False)
    return SheetSide("", a, a, low, high), kernel.face(surface, [around], outward=True)


def _rim(shell: SolidShell, loop: Loop, frame: Frame, hole: bool, panel: str) -> list[SheetSide]:
    """Make the sides and walls of one loop (anticlockwise for an outline, clockwise for a hole)."""
    t = shell.thickness
    if loop.is_circle:
        side, around = _round(loop, frame, t, hole)
        shell.faces.append(around)
        return [side]
    corners = [sheet_corner(frame(*e.start, 0.0), frame(*e.start, t)) for e in loop.edges]
    sides = []
    for i, e in enumerate(loop.edges):
        on_fold = not hole and e.name.startswith("fold:")
        side, under = _panel_side(e, corners[i], corners[(i + 1) % len(corners)], frame, t, walled=not on_fold)
        if on_fold:
            shell.seams.setdefault((panel, e.name.removeprefix("fold:")), []).append(side)
        if under is not None:
            shell.faces.append(under)
        sides.append(side)
    return sides


def _panel(shell: SolidShell, panel: MadePanel, plain: bool) -> None:
    frame, t = panel.frame, shell.thickness
    loops = [_rim(shell, panel.boundary, frame, False, panel.name)]
    loops += [_rim(shell, h.loop.anticlockwise().reversed(), frame, True, panel.name) for h in panel.holes]
    for form in panel.forms:
        profile = form.profile(t)
        if plain and form.pilot is not None:
            loops.append(_rim(shell, form.pilot.anticlockwise().reversed(), frame, True, panel.name))
        elif isinstance(profile, Swept) and not plain:
            loops.append(swept_sides(shell, profile, frame))
        elif isinstance(profile, Turned) and not plain:
            loops.append(turned_sides(shell, profile, frame))
        elif isinstance(profile, Lanced) and not plain:
            loops.append(lanced_sides(shell, profile, frame))
    low = kernel.plane(frame(0.0, 0.0, 0.0), negative(frame.z), frame.x)
    high = kernel.plane(frame(0.0, 0.0, t), frame.z, frame.x)
    skins(shell, low, high, loops, (True, True))


def crowded(panel: MadePanel, plain: bool) -> list[str]:
    """Return what touches or crosses among the loops of a panel with too many for the kernel's checker."""
    cuts = [h.loop for h in panel.holes] + [
        c for f in panel.forms if (c := f.pilot if plain else f.footprint) is not None
    ]
    if len(cuts) < kernel.MANY_WIRES and max(map(len, (panel.boundary, *cuts))) <= kernel.MANY_EDGES:
        return []
    discs = [c for c in cuts if c.is_circle]
    rest = [c for c in cuts if not c.is_circle]
    field_ = shapely.Polygon(panel.boundary.chords(CLEAR), [c.chords(CLEAR) for c in rest])
    if not field_.is_valid:
        return [f"panel {panel.name!r}: {shapely.is_valid_reason(field_)}"]
    if not discs:
        return []
    r = np.array([d.edges[0].radius for d in discs])
    xy = np.array([d.edges[0].centre for d in discs])
    points = shapely.points(xy)
    shapely.prepare(field_)
    out = ~shapely.contains_properly(field_, points) | (shapely.distance(field_.boundary, points) <= r)
    said = [f"panel {panel.name!r}: the hole at {x:.4g}, {y:.4g} crosses an edge or another cut" for x, y in xy[out]]
    i, j = shapely.STRtree(points).query(points, predicate="dwithin", distance=r + r.max())
    near = (i < j) & (np.hypot(*(xy[i] - xy[j]).T) <= r[i] + r[j])
    where = zip(xy[i[near]].tolist(), xy[j[near]].tolist(), strict=True)
    said += [
        f"panel {panel.name!r}: the holes at {p[0]:.4g}, {p[1]:.4g} and {q[0]:.4g}, {q[1]:.4g} touch" for p, q in where
    ]
    return said


def expected_volume(folded: Folded, suppress_beads: bool = False) -> float:
    """Return the part's volume in mm³ from areas, bends and the profiles of forms, without a solid."""
    t, total = folded.thickness, 0.0
    for p in folded.panels:
        if suppress_beads:
            total += p.plain_area * t
            continue
        area = p.boundary.area - math.fsum(abs(h.loop.area) for h in p.holes)
        for profile in (f.profile(t) for f in p.forms):
            if profile is not None:
                area -= profile.area
                total += profile.volume
        total += area * t
    for s in folded.zones:
        total += s.volume(t)
    return total


def _refuse(name: str, reasons: Iterable[str]) -> CannotMake:
    return CannotMake(f"{name}: no solid: " + "; ".join(reasons))


SOLID: Memo[Shape] = Memo("solid")
CADQUERY: Memo[cadquery.Solid] = Memo("CadQuery solid")


def solid(folded: Folded, suppress_beads: bool = False, name: str = "part") -> cadquery.Solid:
    """Return `shape` as a CadQuery Solid, which loads that library: a second that files and rules do without."""
    from cadquery import Solid

    return CADQUERY.of(folded, lambda: Solid(shape(folded, suppress_beads, name)), suppress_beads)


def shape(folded: Folded, suppress_beads: bool = False, name: str = "part") -> Shape:
    """Return the folded part as one valid solid of the kernel.

    Parameters
    ----------
    folded : Folded
        With one panel at least.
    suppress_beads : bool
        Leave the panels plain where forms stand, with the holes that the blank gets for them (for unfolding).
    name : str
        What messages call it.

    Returns
    -------
    OCP shape
        In the base panel's coordinates, mm; computed once for each value.

    Raises
    ------
    CannotMake
        When the kernel's checker, the count of open edges or the volume shows
        that the result would not be sound.
    """
    return SOLID.of(folded, lambda: _build(folded, suppress_beads, name), suppress_beads)


def _build(folded: Folded, plain: bool, name: str) -> Shape:
    if not folded.panels:
        raise _refuse(name, ["it has no panel"])
    expected = expected_volume(folded, plain)
    frames = [*(p.frame for p in folded.panels), *(z.frame for z in folded.zones)]
    placed = [c for f in frames for v in (f.origin, f.x, f.y, f.z) for c in v]
    # The kernel does not return from numbers that are none.
    if not all(map(math.isfinite, (expected, *placed))):
        raise _refuse(name, ["a coordinate is not a finite number"])
    shell = SolidShell(folded.thickness)
    try:
        for panel in folded.panels:
            _panel(shell, panel, plain)
        for strip in folded.zones:
            strip_faces(shell, strip)
    except kernel.Failure as wrong:
        raise _refuse(name, [f"the kernel refuses an edge or a face ({wrong})"]) from None
    for (panel_name, fold), sides in shell.seams.items():
        if not all(s.taken for s in sides):
            raise _refuse(name, [f"panel {panel_name!r} has an edge on fold {fold!r} that no bend strip meets"])
    made = kernel.solid(shell.faces)
    loose = kernel.loose_edges(made)
    if loose:
        raise _refuse(name, [f"{loose} edges do not join two faces"])
    touching = [text for panel in folded.panels for text in crowded(panel, plain)]
    if touching:
        raise _refuse(name, touching)
    if not kernel.is_valid(shell.faces, made):
        # A leg's edge that slants by a millionth brings corners a few nanometres apart.
        kernel.loosened(made, HAIR)
    if not kernel.is_valid(shell.faces, made):
        raise _refuse(name, ["the kernel's checker finds edges or faces that cross or overlap"])
    found = kernel.volume(made)
    if not abs(found - expected) <= VOLUME * expected:
        raise _refuse(name, [f"its volume {found:.6g} mm³ differs from {expected:.6g} mm³ worked out from its pieces"])
    return made
