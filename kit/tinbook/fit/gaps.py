"""A made part held against a scan of the body: the gap everywhere, the lap on every edge, and what would cure it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import shapely

from tinbook import units
from tinbook.errors import BadValue, UnknownName, of_kind
from tinbook.finding import Finding, Findings, caution, fine, stop
from tinbook.fit.edgegap import TOUCH, EdgeGap, Limits, Lying, folded_edge, lapped_edge
from tinbook.fit.gap_picture import corner_of, gap_svg, view_of
from tinbook.fit.surface import Surface, finer, surface_of
from tinbook.htmltable import html_table
from tinbook.making.assembled import Assembled
from tinbook.making.made import Made
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.part.picture import outline_svg
from tinbook.plane.loops import Array
from tinbook.progress import Progress, part_of, quiet, telling
from tinbook.read.measured import MeasuredOutline
from tinbook.read.scans.mesh import Scan, edges, face_normals, unit_rows
from tinbook.read.scans.nearest import Near, nearest, signed, tree_of
from tinbook.read.scans.smooth import smoothed
from tinbook.shown import Shown, picture_html
from tinbook.space import SPACE, Frame
from tinbook.svg import Picture, loop_data, num
from tinbook.values import dataclass

REACH: Final = 30.0
"""mm: what lies farther away is not opposite."""

OPPOSITE: Final = 0.5
"""Least cosine between metal and the body opposite: faces turned by more than 60 degrees do not lie on each other."""

BESIDE: Final = 1.0
"""mm: nearer than this a direction says nothing."""

LIMITS: Final[Mapping[str, Limits]] = {
    "plug weld": Limits(gap=0.5, lap=15.0),
    "sealed edge": Limits(gap=2.0, lap=10.0),
    "loose": Limits(clear=1.0),
}
"""What each use of an edge asks for (common practice: a plug weld burns through over a wider gap, sealer bridges 2 mm)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FitMap(Shown):
    """How a made part, or an assembly, lies against the body.

    Parameters
    ----------
    name : str
        Of what was made, and against what.
    made : Made or Assembled
        What was held against it.
    at : Frame
        Where its own coordinates lie in the body.
    surface : Surface
        Its triangles in the body.
    gaps : array, shape (m,)
        Signed gap of each triangle, mm, positive where it stands off on the scanned side; NaN where nothing
        lies opposite.
    edges : tuple of EdgeGap
        Of a part's base panel; none of an assembly.
    scatter : float
        Of the scan, mm; it was averaged out.
    down : bool
        Whether the down face lies on the body.
    findings : Findings
        Verdicts, worst first.
    """

    name: str
    made: Made | Assembled
    at: Frame
    surface: Surface
    gaps: Array
    edges: tuple[EdgeGap, ...]
    scatter: float
    down: bool
    findings: Findings

    @property
    def ok(self) -> bool:
        """Whether every edge keeps its limits."""
        return self.findings.ok

    @property
    def changes(self) -> dict[str, float]:
        """How far the outline's edges would have to move to cure it, mm, positive outward; none where nothing must."""
        return {e.name: e.change for e in self.edges if e.change}

    @property
    def _part(self) -> Part:
        if not isinstance(self.made, Made):
            raise BadValue("fit map", self.name, "the map of one part: an assembly has no outline of its own")
        return self.made.part

    def cured(self, number: str | None = None) -> Part:
        """Return the part with its outline's edges moved by `changes`; the old part stays as it is."""
        part = self._part
        base = part.base.offset(self.changes) if self.changes else part.base
        return replace(part, base=base, number=number or part.number)

    @property
    def old_and_new(self) -> Picture:
        """The outline as it is, and dashed as `cured` makes it."""
        old, new = self._part.base.loop, self.cured().base.loop
        line = max(old.box[2] - old.box[0], old.box[3] - old.box[1]) / 250
        dash = f'stroke-dasharray="{num(4 * line)} {num(2 * line)}"'
        inner = f'<path d="{loop_data(new)}" fill="none" stroke="#b3261e" stroke-width="{num(line)}" {dash}/>\n'
        return Picture(outline_svg(old, title=f"{self.name}: old, and dashed the new outline", inner=inner))

    def picture(self, *, corner: bool = True) -> Picture:
        """Return the metal coloured by its gap, seen from the side that lies on the body, from a corner or square on."""
        look = corner_of if corner else view_of
        return gap_svg(self.surface, self.gaps, look(self.at, self.down), f"gap of {self.name}")

    def __repr__(self) -> str:
        places = len(self.edges) or len(self.findings)
        unknown = sum(f.code in ("fit.unknown", "fit.nothing") for f in self.findings)
        fits = f"fits where its gap is known, unknown in {unknown} of {places} places" if unknown else "fits"
        return f"<fit of {self.name}: {fits if self.ok else 'does not fit'}>"

    def _repr_svg_(self) -> str:
        return str(self.picture())

    def _repr_html_(self) -> str:
        heads = ("edge", "use", "gap least, mm", "mean", "largest", "lap least, mm", "mean", "cure, mm (+ outward)")
        rows = [e.row for e in self.edges]
        note = f"The scan scatters by {self.scatter:.2f} mm; gaps are means of neighbouring points. Gaps below 0 are metal in metal."
        table = html_table(heads if rows else (), rows, notes=[note, *map(str, self.findings)])
        return picture_html(str(self.picture())) + table


def fit_map(
    made: Made | Assembled,
    against: Scan | Outline,
    *,
    at: Frame | None = None,
    opening: MeasuredOutline | None = None,
    uses: Mapping[str, str] | None = None,
    face: str = "down",
    limits: Mapping[str, Limits] | None = None,
    progress: Progress | None = None,
) -> FitMap:
    """Hold what was made against a scan of the body, measured points, or sizes taken by tape.

    Parameters
    ----------
    made : Made or Assembled
        A part, whose base panel's outline lies on the body; or an assembly.
    against : Scan, MeasuredOutline or Outline
        A mesh; an opening from points or a scan, which lies flat but for its points' heights; an opening from a tape,
        which says nothing of heights.
    at : Frame, optional
        Where the part's coordinates lie in those of the scan; by default those of the opening.
    opening : MeasuredOutline, optional
        The rim, from the scan: laps are measured to it. Else to where the scan has no more metal, to a spacing.
    uses : mapping of edge name to {"plug weld", "sealed edge", "loose"}, optional
        What each edge of the outline is for; by default folded edges are loose and the others plug-welded.
    face : {"down", "up"}
        Face of the base panel that lies on the body.
    limits : mapping of use to Limits, optional
        In place of, or beside, those of `LIMITS`.
    progress : callable, optional
        Called with 0 to 1 and a word as the work goes on; what it raises ends the work.

    Returns
    -------
    FitMap
    """
    of_kind(against, (Scan, Outline), "against", "a Scan, or an outline from points, a scan or a tape")
    if opening is not None:
        of_kind(opening, MeasuredOutline, "opening", "the outline of a scan or of measured points")
    nothing = type(None)
    of_kind(uses, (Mapping, nothing), "uses", "{edge name: use}")
    of_kind(limits, (Mapping, nothing), "limits", "{use: limits_of(...)}")
    for use, given in (limits or {}).items():
        of_kind(given, Limits, f"limits of '{use}'", "limits_of(gap=..., lap=..., clear=...)")
    if not isinstance(face, str) or face not in ("down", "up"):
        raise BadValue("face", face, "'down' or 'up'")
    rim = opening if opening is not None else against if isinstance(against, Outline) else None
    frame = at if at is not None else rim.fit.frame if isinstance(rim, MeasuredOutline) else SPACE
    if at is None and rim is None:
        raise BadValue("at", at, "where the part lies in the scan: opening.fit.frame, or frame_at(origin, x, y)")
    tell = telling(progress)
    tell(0.0, "triangles of the part")
    bare = surface_of(made, frame)
    fine_surface = finer(bare, max(6.0, float(np.ptp(bare.points, axis=0).max()) / 80))
    lying, scatter = _lying(against, frame, fine_surface, part_of(tell, 0.2, 0.6))
    gaps = lying(fine_surface.middles, fine_surface.normals, part_of(tell, 0.6, 0.8))
    found: list[EdgeGap] = []
    tell(0.8, "edges")
    if isinstance(made, Made):
        found = _edges(made, frame, fine_surface, gaps, lying, rim, uses, {**LIMITS, **(limits or {})}, face)
    elif uses is not None:
        raise BadValue("uses", uses, "none for an assembly, whose edges have no names")
    name = made.part.number if isinstance(made, Made) else made.assembly.number
    said = [f for e in found for f in e.verdict()]
    if not found:
        members = dict.fromkeys(fine_surface.names.tolist())
        said = [f for m in members for f in _whole(f"{name}, {m}", gaps[fine_surface.names == m])]
    return FitMap(
        name=f"{name} on {against.name if isinstance(against, Scan) else 'the opening'}",
        made=made,
        at=frame,
        surface=fine_surface,
        gaps=gaps,
        edges=tuple(found),
        scatter=scatter,
        down=face == "down",
        findings=Findings(said),
    )


def _lying(against: Scan | Outline, frame: Frame, surface: Surface, tell: Progress) -> tuple[Lying, float]:
    """Return what gives the gap at points of the body, and the scan's scatter."""
    if isinstance(against, Scan):
        if not len(against.triangles):
            raise BadValue("against", against.name, "a scan with triangles")
        low, high = surface.points.min(axis=0) - REACH, surface.points.max(axis=0) + REACH
        near = ((against.points >= low) & (against.points <= high)).all(axis=1)
        if not near[against.triangles].all(axis=1).any():
            raise BadValue(
                "at", frame.origin, f"a place within {REACH:g} mm of the scan {against.name}; they do not overlap"
            )
        return _on_scan(against.part(near), tell)
    if not isinstance(against, MeasuredOutline) or not against.fit.sample:
        return lambda p, n, tell=quiet: np.full(len(p), np.nan), 0.0
    return _over_points(against), max(e.rms for e in against.fit.edges)


def _on_scan(scan: Scan, tell: Progress) -> tuple[Lying, float]:
    plain, scatter = smoothed(scan, tell=part_of(tell, 0.0, 0.6))
    tree = tree_of(plain.points, plain.triangles, part_of(tell, 0.6, 1.0))
    ends, count, _ = edges(plain)
    border = np.zeros(len(plain.points), dtype=bool)
    border[ends[count == 1]] = True
    facing = unit_rows(face_normals(plain.points, plain.triangles))

    def gap(points: Array, normals: Array, tell: Progress = quiet) -> Array:
        out = np.full(len(points), np.nan)
        near = nearest(tree, points, REACH, tell)
        opposite = np.abs(np.einsum("ij,ij->i", facing[near.triangle], normals)) > OPPOSITE
        # What lies to the side is not opposite: the rim beside metal that spans the opening.
        ahead = np.abs(np.einsum("ij,ij->i", points - near.place, normals))
        opposite &= (ahead >= OPPOSITE * near.distance) | (near.distance < BESIDE)
        on = np.flatnonzero((near.triangle >= 0) & opposite & ~_off_the_end(plain, near, border))
        out[on] = signed(plain.points, plain.triangles, near.part(on), points[on])
        return out

    return gap, scatter


def _off_the_end(scan: Scan, near: Near, border: npt.NDArray[np.bool_]) -> npt.NDArray[np.bool_]:
    """Whether the nearest place is on the border of the scan: nothing lies opposite."""
    used = near.share > 1e-12
    at_border = (border[scan.triangles[near.triangle]] | ~used).all(axis=1)
    return np.asarray(at_border & ~used.all(axis=1))


def _over_points(opening: MeasuredOutline) -> Lying:
    """Return the gap over an opening's measured points: the height over the nearest one on its rim."""
    from scipy.spatial import cKDTree

    places = np.array([p for p, _ in opening.fit.sample])
    heights = np.array([h for _, h in opening.fit.sample])
    tree = cKDTree(places)

    def gap(points: Array, normals: Array, tell: Progress = quiet) -> Array:
        own = (points - opening.fit.frame.origin) @ opening.fit.frame.axes.T
        far, which = tree.query(own[:, :2])
        return np.where(far <= 2 * REACH, own[:, 2] - heights[which], np.nan)

    return gap


def _edges(
    made: Made,
    frame: Frame,
    surface: Surface,
    gaps: Array,
    lying: Lying,
    rim: Outline | None,
    uses: Mapping[str, str] | None,
    limits: Mapping[str, Limits],
    face: str,
) -> list[EdgeGap]:
    """Return each edge of the base panel with its gap and its lap."""
    base, panel = made.part.base, made.panels[0].name
    wanted = dict(uses or {})
    for name, use in wanted.items():
        base.edge(name)
        if use not in limits:
            raise UnknownName(f"use of edge '{name}'", use, limits)
    over = _lap_of(rim, frame)
    folds = {f.edge: f.name for f in made.part.folds if f.panel == panel}
    found = []
    for e in base.loop.edges:
        use = wanted.get(e.name, "loose" if e.name in folds else "plug weld")
        if e.name in folds:
            own = surface.names == folds[e.name]
            found.append(folded_edge(e, use, limits[use], surface, own, gaps, frame))
        else:
            height = 0.0 if face == "down" else made.thickness
            found.append(lapped_edge(e, use, limits[use], lying, frame, height, face == "down", over))
    return found


def _lap_of(rim: Outline | None, frame: Frame) -> Any:
    """Return how far points of the body lie over the rim's metal, mm, negative in the opening; None without a rim."""
    if rim is None:
        return None
    ring = shapely.LinearRing(rim.loop.chords())
    inside = shapely.Polygon(ring)
    own = rim.fit.frame if isinstance(rim, MeasuredOutline) else frame

    def over(points: Array) -> Array:
        xy = ((points - own.origin) @ own.axes.T)[:, :2]
        far = shapely.distance(shapely.points(xy), ring)
        found: Array = np.where(shapely.contains_xy(inside, xy), -far, far)
        return found

    return over


def _whole(name: str, gaps: Array) -> list[Finding]:
    """Return what is said of a member, which has no named edges."""
    there = gaps[~np.isnan(gaps)]
    if not len(there):
        what = "nothing of it lies opposite the scan, so its gap is not known"
        return [caution("fit.nothing", name, what, "look whether it is in its place, or at it on the body")]
    least = float(there.min())
    where = f"{name}, {100 * len(there) / len(gaps):.0f} % of it opposite the scan"
    if least < -TOUCH:
        return [
            stop("fit.body", where, "it runs into the body", "move it, or cut it back", least, 0.0, source="geometry")
        ]
    return [fine("fit.body", where, "it clears the body, or lies on it", least, 0.0, source="geometry")]


def limits_of(gap: Any = None, lap: Any = None, clear: Any = None) -> Limits:
    """Return limits for a use of an edge.

    Parameters
    ----------
    gap : length, optional
        Largest gap.
    lap : length, optional
        Least lap on the lip.
    clear : length, optional
        Least clearance all along it.
    """
    named = {"gap": gap, "lap": lap, "clear": clear}
    return Limits(**{k: units.positive(v, f"limit of {k}") for k, v in named.items() if v is not None})
