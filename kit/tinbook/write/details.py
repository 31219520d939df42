"""Sections enlarged beside a picture: a hem, a bead or a bend that is too small to be seen in it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from html import escape
from typing import Any, Final

import numpy as np
import shapely

from tinbook.making.folded import BendZone, Folded, MadePanel
from tinbook.making.made import Made
from tinbook.making.preview.build import preview
from tinbook.making.preview.drawing import ABOVE
from tinbook.making.preview.raster import cells
from tinbook.making.preview.view import View, seen_from
from tinbook.part.forms.profiles import Lanced, Swept
from tinbook.plane.loops import Array, Point
from tinbook.space import SPACE, Frame, Vec, plus
from tinbook.svg import num
from tinbook.values import dataclass

SMALL: Final = 0.05
"""Share of a picture's longer side up to which the window of a section is small enough to be enlarged."""
WINDOW: Final = 0.11
"""Radius of an enlarged window as a share of that side."""
MOST: Final = 2
"""Sections beside one picture."""
HEM: Final = 150.0
"""degrees: a fold turned further lies on its own sheet."""
ASIDE: Final = 0.0137
"""mm: how far beside its place the sheet is cut, so that no corner of the mesh lies in the plane."""
SHARES: Final = (0.5, 0.35, 0.65, 0.2, 0.8, 0.08, 0.92)
POINTER: Final = "#b03a2e"


@dataclass(frozen=True, slots=True, kw_only=True)
class Detail:
    """A section to be enlarged.

    Parameters
    ----------
    frame : Frame
        Its plane is y and z of this frame; the window's middle is the origin.
    radius : float
        Of the window, mm.
    words : (str, str)
        What it shows, and its sizes.
    outside : tuple of points
        Places on the part's two faces where the section lies, one of which must be in sight.
    """

    frame: Frame
    radius: float
    words: tuple[str, str]
    outside: tuple[Vec, ...]


def details(made: Made, view: View, reach: float) -> list[tuple[Detail, Point]]:
    """Return the sections worth enlarging in a picture `reach` mm long, each with the place in it that is in sight."""
    folded, found = made.folded, list[tuple[Detail, Point]]()
    near, kinds = cells(seen_from(view, (((folded,), SPACE),))), set[str]()
    for kind, tries in _candidates(folded):
        if kind in kinds or len(found) == MOST:
            continue
        for d in tries:
            at = view.flat(np.array(d.outside))
            clear = np.flatnonzero(near.over(at, ABOVE) == 0)
            if d.radius <= SMALL * reach and len(clear):
                found.append((d, (float(at[clear[0], 0]), float(at[clear[0], 1]))))
                kinds.add(kind)
                break
    return found


def _candidates(folded: Folded) -> Iterator[tuple[str, Iterator[Detail]]]:
    """Yield hems, beads, louvres and bends in this order, each at several places along itself."""
    hems = [z for z in folded.zones if z.angle >= HEM]
    bends = [z for z in folded.zones if z.angle < HEM and not z.formed]
    for z in hems:
        yield "hem", _of_bend(z, folded.thickness)
    for panel in folded.panels:
        for form in panel.forms:
            profile = form.profile(folded.thickness)
            if isinstance(profile, Swept | Lanced):
                yield form.KIND, _of_swept(panel, profile, _named(form.KIND, form.name), folded.thickness)
    if not hems:
        for z in bends:
            yield "bend", _of_bend(z, folded.thickness)


def _of_bend(z: BendZone, t: float) -> Iterator[Detail]:
    hem = z.angle >= HEM
    leg = min(z.leg) if hem else 0.0
    radius, back = max(0.8 * leg, 4.0 * (z.radius + t)), -0.45 * leg  # a hem lies back over its panel
    words = _named("hem" if hem else "bend", z.name), f"sheet {t:g}, inside radius {z.radius:.3g} mm"
    ruling = z.ruling(z.allowance / 2, t)
    for region in z.regions:
        low, high = region.box[0], region.box[2]
        for x in (low + (high - low) * share for share in SHARES):
            frame = Frame(plus(ruling(x, 0.0, t / 2), z.frame.y, back), z.frame.x, z.frame.y, z.frame.z)
            yield Detail(frame=frame, radius=radius, words=words, outside=(ruling(x, 0.0, 0.0), ruling(x, 0.0, t)))
        # Neither face is in sight: the cut end of the bend may be.
        for x, end in ((low + 1.0, low - 0.1), (high - 1.0, high + 0.1)):
            frame = Frame(plus(ruling(x, 0.0, t / 2), z.frame.y, back), z.frame.x, z.frame.y, z.frame.z)
            yield Detail(frame=frame, radius=radius, words=words, outside=(ruling(end, 0.0, t / 2),))


def _named(kind: str, name: str) -> str:
    return name if name.startswith(kind) else f"{kind} {name}"


def _of_swept(panel: MadePanel, profile: Swept | Lanced, name: str, t: float) -> Iterator[Detail]:
    whole, side = (profile, 0.0) if isinstance(profile, Swept) else (profile.whole, profile.reach / 2)
    edge, width = max(whole.path, key=lambda e: e.length), whole.section.width - 2 * side
    faces = profile.rise[1] + t, -profile.rise[0]
    high = f"{whole.section.depth:.3g} mm {'high' if side else 'deep'}"
    size = f"{width:.3g} mm {'from slit to foot' if side else 'wide'}, {high}, sheet {t:g} mm"
    for share in SHARES:
        (x, y), (dx, dy) = edge.at(share), edge.direction(share)
        x, y, f = x - dy * side, y + dx * side, panel.frame
        frame = Frame(f(x, y, t / 2), f.vector(dx, dy), f.vector(-dy, dx), f.z)
        yield Detail(
            frame=frame,
            radius=0.75 * width,
            words=(name, size),
            outside=(f(x, y, faces[0]), f(x, y, faces[1])),
        )


def section(folded: Folded, frame: Frame, radius: float) -> Any:
    """Return the metal that a plane cuts, y to the right and z up, within a circle about the frame's origin."""
    p = preview(folded)
    local = (p.positions.astype(np.float64) - np.array(frame.origin)) @ frame.axes.T
    local[:, 0] += ASIDE
    corners = local[p.triangles.astype(np.int64)]
    above = corners[:, :, 0] > 0
    cut = above.any(axis=1) & ~above.all(axis=1)
    corners, above = corners[cut], above[cut]
    # The corner that is alone on its side comes first.
    lone = np.where(above.sum(axis=1) == 1, above.argmax(axis=1), (~above).argmax(axis=1))
    corners = np.take_along_axis(corners, ((lone[:, None] + np.arange(3)) % 3)[:, :, None], axis=1)
    ends = np.stack([_met(corners[:, 0], corners[:, k]) for k in (1, 2)], axis=1)
    ends = np.round(ends, 3)
    ends = ends[(ends[:, 0] != ends[:, 1]).any(axis=1)]
    window = shapely.Point(0.0, 0.0).buffer(radius, 24)
    if not len(ends):
        return shapely.Polygon()
    metal = shapely.build_area(shapely.union_all(shapely.linestrings(ends)))
    return shapely.intersection(metal, window)


def _met(a: Array, b: Array) -> Array:
    """Return where sides of triangles meet the plane x = 0, as (y, z)."""
    share = (a[:, 0] / (a[:, 0] - b[:, 0]))[:, None]
    found: Array = a[:, 1:] + (b[:, 1:] - a[:, 1:]) * share
    return found


def details_svg(
    made: Made, view: View, box: Sequence[float], line: float, ink: str
) -> tuple[str, tuple[float, float, float, float]]:
    """Return enlarged sections in a column to the right of a picture, and the box of both.

    Parameters
    ----------
    made, view
        What, and as it is seen.
    box : (float, float, float, float)
        Of the picture.
    line : float
        Width of an edge, mm.
    ink : str
        Colour of lines.
    """
    x0, y0, x1, y1 = box
    reach = max(x1 - x0, y1 - y0)
    big, size = WINDOW * reach, reach / 48
    out, y, wide = [], y1 - big, big
    for d, (px, py) in details(made, view, reach):
        metal = section(made.folded, d.frame, d.radius)
        if shapely.is_empty(metal):
            continue
        x, scale = x1 + 1.9 * big, big / d.radius
        data = "".join(
            "M" + "L".join(f"{num(x + scale * u)} {num(-y - scale * v)}" for u, v in ring.coords[:-1]) + "Z"
            for part in shapely.get_parts(metal)
            if part.geom_type == "Polygon"
            for ring in (part.exterior, *part.interiors)
        )
        way = np.hypot(x - px, y - py)
        ex, ey = x - (x - px) * big / way, y - (y - py) * big / way
        pen = f'stroke="{POINTER}" stroke-width="{num(line)}"'
        out.append(
            f'<path d="M{num(px)} {num(-py)}L{num(ex)} {num(-ey)}" fill="none" {pen}/>\n'
            f'<circle cx="{num(px)}" cy="{num(-py)}" r="{num(max(d.radius, reach / 90))}" fill="none" {pen}/>\n'
            f'<circle cx="{num(x)}" cy="{num(-y)}" r="{num(big)}" fill="#ffffff" {pen}/>\n'
            f'<path d="{data}" fill="#9db0bf" fill-rule="evenodd" stroke="{ink}" stroke-width="{num(line)}"/>\n'
        )
        for k, words in enumerate((f"{d.words[0]}, {scale:.2g} times", d.words[1])):
            wide = max(wide, 0.3 * size * len(words))  # a letter is about half as wide as high
            out.append(
                f'<text x="{num(x)}" y="{num(-(y - big - (1.2 + 1.2 * k) * size))}" font-size="{num(size)}" '
                f'font-family="sans-serif" text-anchor="middle" fill="currentColor">{escape(words)}</text>\n'
            )
        y -= 2 * big + 4 * size
    if not out:
        return "", (x0, y0, x1, y1)
    low = y + big + 1.4 * size
    return f'<g class="tb-details">\n{"".join(out)}</g>\n', (x0, min(y0, low), x1 + 1.9 * big + wide, y1)
