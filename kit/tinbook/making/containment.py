"""Whether openings and forms lie within their panel, and clear of each other."""

from __future__ import annotations

import numpy as np
import shapely

from tinbook.finding import Refused
from tinbook.making.flat import SIDE, polygons_of
from tinbook.making.folded import MadeHole
from tinbook.making.tree import PanelNode
from tinbook.part.forms.form import MadeForm
from tinbook.plane.arrays import boxes, chords_of, near_pairs
from tinbook.plane.loops import Array, Loop


def check_inside(
    node: PanelNode, holes: list[MadeHole], around: Array, forms: list[MadeForm], over: list[tuple[Loop, str]]
) -> None:
    """Refuse openings and forms that leave their panel or lie over each other.

    Parameters
    ----------
    node : PanelNode
        The panel.
    holes, forms : list
        Wholly on it, as they should be.
    around : array, shape (len(holes), 4)
        Boxes of the holes.
    over : list of (Loop, str)
        Parts of openings over a fold, with the names of their openings.

    Raises
    ------
    Refused
        Naming the first one and its partner.
    """
    parts = [part for part, _ in over]
    risen = [(f, f.footprint) for f in forms if f.footprint is not None]
    if not holes and not risen and not parts:
        return
    prints = [footprint for _, footprint in risen]
    # By hand, perhaps across themselves.
    drawn = [h.loop for h in holes if not h.loop.is_full_circle]
    if not parts and (not drawn or shapely.is_valid(polygons_of(drawn)).all()):
        box = np.concatenate((around, boxes(prints))) if prints else around
        centre, half = (box[:, :2] + box[:, 2:]) / 2, (box[:, 2:] - box[:, :2]) / 2
        # No smaller than the polygons by which a doubtful case is settled.
        half = 1.01 * half + SIDE / 10
        box = np.concatenate((centre - half, centre + half), axis=1)
        if not len(near_pairs(box)[0]) and _all_inside(node.boundary.loop, centre, half):
            return
    ground = polygons_of([node.boundary.loop], SIDE / 10)[0]
    shapely.prepare(ground)
    loops = [*(h.loop for h in holes), *prints, *parts]
    names = [
        *(f"hole {h.name!r}" for h in holes),
        *(f"{f.KIND} {f.name!r}" for f, _ in risen),
        *(f"hole {name!r}" for _, name in over),
    ]
    areas = polygons_of(loops)
    bad = np.array([not loop.is_full_circle for loop in loops])
    bad[bad] = ~shapely.is_valid(areas[bad])
    if bad.any():
        raise Refused("hole.crosses", names[int(bad.argmax())], "its contour crosses itself", "a simple closed contour")
    whole = len(holes) + len(risen)
    outside = ~shapely.contains_properly(ground, areas[:whole])
    if outside.any():
        i = int(outside.argmax())
        kind = "hole" if i < len(holes) else risen[i - len(holes)][0].CODE
        what = f"it does not lie wholly within panel {node.name!r}"
        remedy = "move it inward; the panel ends at its bend lines, reliefs and edges"
        raise Refused(f"{kind}.off_panel", names[i], what, remedy)
    if whole < len(loops):
        # Parts end on tangent lines, so containment is loose there; the cut edges they must not reach at all.
        parts_fine = polygons_of(parts, SIDE / 50)
        free = [e for e in node.boundary.loop.edges if not e.name.startswith("fold:")]
        cut = shapely.multilinestrings([shapely.LineString(np.vstack((e.chords(SIDE / 50), [e.end]))) for e in free])
        left = ~shapely.covers(shapely.buffer(ground, SIDE), parts_fine) | shapely.intersects(cut, parts_fine)
        if left.any():
            what = f"it runs over a fold and out of panel {node.name!r} at a cut edge"
            remedy = "a smaller opening, a longer leg, or move it inward"
            raise Refused("hole.off_panel", names[whole + int(left.argmax())], what, remedy)
    tree = shapely.STRtree(areas)
    first, second = tree.query(areas, predicate="intersects")
    clash = first < second
    if clash.any():
        i, j = int(first[clash][0]), int(second[clash][0])
        kind = risen[j - len(holes)][0].CODE if len(holes) <= j < whole else "hole"
        raise Refused(f"{kind}.overlap", names[i], f"it overlaps {names[j]}", "move one of the two")


def _all_inside(outline: Loop, centre: Array, half: Array) -> bool:
    """Whether boxes, given by centre and half size, shape (n, 2), all lie wholly within an outline."""
    points = chords_of([outline], SIDE / 10)[0]
    ax, ay = points.T
    ux, uy = (points[np.arange(1, len(points) + 1) % len(points)] - points).T
    # A row for each box, a column for each chord.
    (cx, cy), (hx, hy) = centre.T[:, :, None], half.T[:, :, None]
    px, py = cx - ax, cy - ay
    across = px * uy - py * ux
    # A chord and a box are apart along x, along y, or square to the chord.
    meets = np.abs(across) <= hx * np.abs(uy) + hy * np.abs(ux)
    meets &= np.abs(px - ux / 2) <= hx + np.abs(ux) / 2
    meets &= np.abs(py - uy / 2) <= hy + np.abs(uy) / 2
    if meets.any():
        return False
    # Inside is where a ray to the right crosses the outline an odd number of times.
    crossed = ((py < 0) != (py < uy)) & ((across < 0) == (uy > 0))
    return bool((crossed.sum(axis=1) % 2).all())
