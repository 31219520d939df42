"""A line picture of the folded part: painted from the back to the front, hidden lines covered.

Works from the frames of panels and bend strips alone, without the geometry
kernel. Sheets are thin and do not pass through each other, so for any two
pieces that overlap in the picture one lies wholly behind the other there.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final, Literal, TypeAlias

import numpy as np
import shapely

from tinbook.errors import CannotMake
from tinbook.making.folded import BendZone, Folded, MadePanel
from tinbook.making.made import Made, need_made
from tinbook.part.forms.profiles import Swept
from tinbook.plane.cuts import clip
from tinbook.plane.loops import Array, Edge, Loop, Point
from tinbook.space import Vec
from tinbook.svg import Picture, document, num

Line: TypeAlias = tuple[Point, ...]

TURN_PER_FACET: Final = 12.0
"""degrees of bend that one flat facet stands for."""

_LIGHT: Final = np.array([0.25, -0.45, 0.86])
_INK: Final = "#39424a"


@dataclass(frozen=True, slots=True, kw_only=True)
class Patch:
    """One painted piece of the picture, in picture coordinates (mm, y up).

    Parameters
    ----------
    fill : tuple of tuple of (float, float)
        Closed polygons, filled by the even-odd rule.
    shade : float
        0 dark to 1 light.
    edges, tangents, forms : tuple of polylines
        Real edges; lines where a bend begins; outlines of forms, and of openings through them.
    centres : tuple of polylines
        Centre lines of beads.
    """

    fill: tuple[Line, ...]
    shade: float
    edges: tuple[Line, ...] = ()
    tangents: tuple[Line, ...] = ()
    forms: tuple[Line, ...] = ()
    centres: tuple[Line, ...] = ()


@dataclass(frozen=True, slots=True)
class _Camera:
    """Parallel projection; `toward` points from the part to the eye."""

    right: Array
    up: Array
    toward: Array

    def flat(self, p: Array) -> Array:
        """Return picture coordinates and depth (larger is nearer), shape (n, 3)."""
        return np.column_stack((p @ self.right, p @ self.up, p @ self.toward))


@dataclass(slots=True)
class _Piece:
    patches: list[Patch]
    outline: Array  # picture coordinates and depth of the near face
    area: shapely.Polygon


def _camera(side: Literal["up", "down"]) -> _Camera:
    toward = np.array([0.5, -0.72, 0.62 if side == "up" else -0.62])
    toward /= np.linalg.norm(toward)
    right = np.cross([0.0, 0.0, 1.0], toward)
    right /= np.linalg.norm(right)
    return _Camera(right, np.cross(toward, right), toward)


def folded_patches(made: Made, seen_from: Literal["up", "down"] = "up") -> tuple[Patch, ...]:
    """Return the pieces of the picture from the farthest to the nearest.

    Parameters
    ----------
    made : Made
        The part; it must have panels.
    seen_from : {"up", "down"}
        Side of the base panel that faces the reader.

    Raises
    ------
    CannotMake
        No panels: a stop finding made them impossible.
    """
    need_made(made, "folded picture")
    if not made.panels:
        raise CannotMake(f"{made.part.number}: it has no panels to draw; see its findings")
    return pooled_patches((made.folded,), seen_from)


def pooled_patches(parts: Iterable[Folded], seen_from: Literal["up", "down"] = "up") -> tuple[Patch, ...]:
    """Return the pieces of several parts in one picture, from the farthest to the nearest; see `folded_patches`."""
    camera = _camera(seen_from)
    pieces = []
    for folded in parts:
        t = folded.thickness
        pieces += [_panel(p, t, camera) for p in folded.panels]
        for s in folded.zones:
            pieces += _strip(s, t, camera)
    return tuple(patch for piece in _back_to_front(pieces) for patch in piece.patches)


def folded_svg(made: Made, seen_from: Literal["up", "down"] = "up") -> Picture:
    """Return the line picture as an SVG document, readable on light and dark pages.

    Parameters
    ----------
    made : Made
        The part.
    seen_from : {"up", "down"}
        Side of the base panel that faces the reader.

    Returns
    -------
    Picture
        A str that shows itself in a notebook; one group per piece, `tb-folded` around them.
    """
    patches = folded_patches(made, seen_from)
    box = picture_box(patches)
    reach = max(box[2] - box[0], box[3] - box[1], 1e-3)
    body = patches_svg(patches, reach / 500)
    title = f"{made.part.number} rev {made.part.rev}, folded, seen from the {seen_from} side"
    return Picture(document(box, body, title=title, margin=reach / 60))


def picture_point(p: Vec, seen_from: Literal["up", "down"] = "up") -> Point:
    """Return where a point of space lies in the picture."""
    x, y, _ = _camera(seen_from).flat(np.array([p]))[0]
    return float(x), float(y)


def patches_svg(patches: Iterable[Patch], line: float) -> str:
    """Return patches as one SVG group, lines `line` mm wide."""
    out = [f'<g class="tb-folded" stroke-linejoin="round" stroke-linecap="round" stroke="{_INK}" fill="none">\n']
    for p in patches:
        colour = shade_of(p.shade)
        if p.fill:
            d = "".join(_data(ring) + "Z" for ring in p.fill)
            # A thin outline in the fill colour hides the seams between neighbouring pieces.
            out.append(
                f'<path d="{d}" fill="{colour}" fill-rule="evenodd" stroke="{colour}" stroke-width="{num(line / 2)}"/>\n'
            )
        for lines, width, more in (
            (p.tangents, line / 3, ""),
            (p.forms, line / 2, ""),
            (p.centres, line / 3, f' stroke-dasharray="{num(8 * line)} {num(3 * line)} {num(line)} {num(3 * line)}"'),
            (p.edges, line, ""),
        ):
            if lines:
                out.append(f'<path d="{"".join(map(_data, lines))}" stroke-width="{num(width)}"{more}/>\n')
    out.append("</g>\n")
    return "".join(out)


def picture_box(patches: Sequence[Patch]) -> tuple[float, float, float, float]:
    """Return the bounding box of a picture (xmin, ymin, xmax, ymax)."""
    points = np.array([q for p in patches for lines in (p.fill, p.edges) for ring in lines for q in ring])
    (x0, y0), (x1, y1) = points.min(axis=0), points.max(axis=0)
    return float(x0), float(y0), float(x1), float(y1)


def shade_of(shade: float) -> str:
    """Return the colour of a shade between 0 and 1: bare metal, light enough for dark lines on any page."""
    low, high = (0x93, 0x9F, 0xAA), (0xF1, 0xF4, 0xF6)
    return "#" + "".join(f"{round(a + (b - a) * shade):02x}" for a, b in zip(low, high, strict=True))


def _data(line: Line) -> str:
    return "M" + "L".join(f"{num(x)} {num(-y)}" for x, y in line)


# --- pieces ------------------------------------------------------------------------------------


def _shade(normal: Array) -> float:
    return float(round(min(1.0, max(0.0, abs(normal @ _LIGHT) / float(np.linalg.norm(_LIGHT)))), 3))


def _line(camera: _Camera, points: Array) -> Line:
    return tuple((round(float(x), 3) + 0.0, round(float(y), 3) + 0.0) for x, y, _ in camera.flat(points))


def _points(e: Edge) -> Array:
    return np.vstack((e.chords(0.2), [e.end]))


def _panel(panel: MadePanel, t: float, camera: _Camera) -> _Piece:
    f = panel.frame
    normal = np.array(f.z)
    near = t if normal @ camera.toward > 0 else 0.0

    def place(xy: Array, z: float) -> Array:
        return np.array([f(float(x), float(y), z) for x, y in xy])

    def across(x: float, y: float) -> Vec:
        return f.vector(x, y)

    rims = [_rim(e, place, across, t, camera) for e in panel.boundary if not e.name.startswith("fold:")]
    walls = [_rim(e.reversed(), place, across, t, camera) for h in panel.holes for e in h.loop.anticlockwise()]
    profiles = [(f, profile) for f in panel.forms if (profile := f.profile(t)) is not None]
    openings = [o for _, profile in profiles if (o := profile.opening) is not None]
    rings = [panel.boundary, *(h.loop for h in panel.holes), *openings]
    outline = place(panel.boundary.chords(0.2), near)
    face = Patch(
        fill=tuple(_line(camera, place(ring.chords(0.2), near)) for ring in rings),
        shade=_shade(normal),
        edges=(
            *(_line(camera, place(_points(e), near)) for e in panel.boundary if not e.name.startswith("fold:")),
            *(_ring(camera, place(h.loop.chords(0.2), near)) for h in panel.holes),
        ),
        tangents=tuple(_line(camera, place(_points(e), near)) for e in panel.boundary if e.name.startswith("fold:")),
        forms=tuple(
            _ring(camera, place(ring.chords(0.2), near))
            for ring in (*(f.footprint for f, _ in profiles if f.footprint is not None), *openings)
        ),
        centres=tuple(_line(camera, place(_path(p.path), near)) for _, p in profiles if isinstance(p, Swept)),
    )
    patches = [r for r in (*walls, *rims) if r is not None]
    return _piece([*patches, face], camera.flat(outline))


def _ring(camera: _Camera, points: Array) -> Line:
    return _line(camera, np.vstack((points, points[:1])))


def _path(path: Sequence[Edge]) -> Array:
    return np.vstack([*(e.chords(0.2) for e in path), [path[-1].end]])


def _rim(
    e: Edge,
    place: Callable[[Array, float], Array],
    across: Callable[[float, float], Vec],
    t: float,
    camera: _Camera,
) -> Patch | None:
    """Return the cut edge of the sheet under an edge with the metal to its left, if it faces the reader."""
    dx, dy = e.direction(0.5)
    outward = np.array(across(dy, -dx))
    if outward @ camera.toward <= 1e-6:
        return None
    points = _points(e)
    low, high = place(points, 0.0), place(points, t)
    band = _line(camera, np.vstack((low, high[::-1])))
    return Patch(fill=(band,), shade=0.75 * _shade(outward), edges=((*band, band[0]),))


def _strip(strip: BendZone, t: float, camera: _Camera) -> list[_Piece]:
    n = max(2, math.ceil(strip.angle / TURN_PER_FACET))
    stops = np.linspace(0.0, strip.allowance, n + 1)
    pieces: list[_Piece] = []
    facing = [float(np.array(strip.ruling(float(v), t).z) @ camera.toward) for v in (stops[:-1] + stops[1:]) / 2]
    for i, (v0, v1) in enumerate(pairwise(stops.tolist())):
        normal = np.array(strip.ruling((v0 + v1) / 2, t).z)
        near = t if facing[i] > 0 else 0.0
        # Where the next facet faces away from the reader the bend has its silhouette.
        turns = [v for k, v in ((i - 1, v0), (i + 1, v1)) if 0 <= k < n and (facing[k] > 0) != (facing[i] > 0)]
        holes = [b for h in strip.holes for b in _band(h.loop.anticlockwise(), v0, v1)]
        for region in strip.regions:
            bands = _band(region, v0, v1)
            pieces += [_facet(strip, band, holes, (v0, v1), turns, normal, near, t, camera) for band in bands]
    return pieces


def _band(loop: Loop, v0: float, v1: float) -> list[Loop]:
    """Return what of a loop in (x, v) lies between two lines of equal v."""
    return [b for a in clip(loop, (0.0, v0), (1.0, 0.0)) for b in clip(a, (0.0, v1), (-1.0, 0.0))]


def _facet(
    strip: BendZone,
    band: Loop,
    holes: Sequence[Loop],
    span: tuple[float, float],
    turns: Sequence[float],
    normal: Array,
    near: float,
    t: float,
    camera: _Camera,
) -> _Piece:
    def place(xv: Array, z: float) -> Array:
        return np.array([strip.ruling(min(max(float(v), 0.0), strip.allowance), t)(float(x), 0.0, z) for x, v in xv])

    middle = strip.ruling(sum(span) / 2, t)
    rims: list[Patch] = []
    edges: list[Line] = []
    for e in band:
        level = next((v for v in span if abs(e.start[1] - v) < 1e-6 and abs(e.end[1] - v) < 1e-6), None)
        if level is None:
            rim = _rim(e, place, middle.vector, t, camera)
            rims += [rim] if rim else []
            edges.append(_line(camera, place(_points(e), near)))
        elif any(abs(level - v) < 1e-9 for v in turns):
            edges.append(_line(camera, place(_points(e), near)))
    outline = place(band.chords(0.2), near)
    x0, x1 = min(p[0] for p in band.points), max(p[0] for p in band.points)
    inside = [h for h in holes if x0 <= h.points[0][0] <= x1]
    fill = (_line(camera, outline), *(_line(camera, place(h.chords(0.2), near)) for h in inside))
    face = Patch(fill=fill, shade=_shade(normal), edges=tuple(edges))
    return _piece([*rims, face], camera.flat(outline))


def _piece(patches: list[Patch], outline: Array) -> _Piece:
    area = shapely.Polygon(outline[:, :2])
    return _Piece(patches, outline, area if area.is_valid else area.buffer(0))


# --- order -------------------------------------------------------------------------------------


def _depth(piece: _Piece, x: float, y: float) -> float:
    """Return the depth of a piece's near face at a point of the picture."""
    p = piece.outline
    normal = np.zeros(3)
    for a, b in zip(p, np.roll(p, -1, axis=0), strict=True):
        normal += np.cross(a - p[0], b - p[0])
    if abs(normal[2]) < 1e-9 * float(np.linalg.norm(normal)):
        return float(p[:, 2].mean())
    return float(p[0, 2] - ((x - p[0, 0]) * normal[0] + (y - p[0, 1]) * normal[1]) / normal[2])


def _back_to_front(pieces: list[_Piece]) -> Iterable[_Piece]:
    """Order pieces so that each is painted after all that it hides."""
    tree = shapely.STRtree([p.area for p in pieces])
    behind: list[set[int]] = [set() for _ in pieces]
    for i, a in enumerate(pieces):
        for j in sorted(int(k) for k in tree.query(a.area, predicate="intersects")):
            if j <= i:
                continue
            shared = a.area.intersection(pieces[j].area)
            if shared.area < 1e-3 * min(a.area.area, pieces[j].area.area) or shared.area < 1e-6:
                continue
            q = shared.representative_point()
            near, far = (i, j) if _depth(a, q.x, q.y) > _depth(pieces[j], q.x, q.y) else (j, i)
            behind[near].add(far)
    depth = [float(p.outline[:, 2].mean()) for p in pieces]
    left = set(range(len(pieces)))
    while left:
        free = [i for i in left if not behind[i] & left]
        # Pieces that overlap in a circle have no order; the farthest is painted first.
        i = min(free or left, key=lambda k: (round(depth[k], 6), k))
        left.discard(i)
        yield pieces[i]
