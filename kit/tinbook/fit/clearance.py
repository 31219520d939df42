"""Clearance: how near made parts come to the body, at rest, while they rock, and on their way out."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any, Final

import numpy as np

from tinbook import units
from tinbook.errors import BadValue, UnknownName
from tinbook.finding import Finding, Findings, caution, fine, stop
from tinbook.fit.gap_picture import corner_of, gap_svg
from tinbook.fit.surface import Surface, finer
from tinbook.fit.triangles import triangles_of
from tinbook.htmltable import html_table
from tinbook.plane.loops import Array
from tinbook.plot import line_plot
from tinbook.progress import Progress, part_of, telling
from tinbook.read.scans.border import picked
from tinbook.read.scans.nearest import Tree, least, nearest, signed, tree_of
from tinbook.shown import Shown, picture_html
from tinbook.space import SPACE, Frame, Vec, rigid, three, unit_vector, vec
from tinbook.svg import Picture
from tinbook.values import dataclass

LEAST: Final[Mapping[str, float]] = {
    "drive unit": 15.0,
    "exhaust": 25.0,
    "brake line": 12.0,
    "tyre": 20.0,
    "fixed part": 3.0,
}
"""mm: what a subject keeps from the body in its worst position (common practice, from memory)."""

FINE: Final = 2.0
"""mm: no point moves farther from one position to the next."""
MOST: Final = 720
"""Positions of one motion."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Clearance(Shown):
    """How near something comes to the body.

    Parameters
    ----------
    name, subject : str
        Of what is held against the body, and what it is.
    least : float
        Least distance over all positions, mm; 0 or less where they meet.
    limit : float
        What the subject must keep, mm.
    on_thing, on_body : (float, float, float)
        Where they are nearest, in the worst position.
    positions : tuple of (str, float, float)
        Each position that was tried: its name, its place along the motion, and the distance there, mm.
    worst : str
        The position with the least distance.
    between : float
        How much nearer it may come between two positions, mm.
    surface : Surface
        The thing in its worst position.
    distances : array, shape (m,)
        From each of its triangles to the body, mm, NaN where it is far.
    findings : Findings
        The verdict.
    """

    name: str
    subject: str
    least: float
    limit: float
    on_thing: Vec
    on_body: Vec
    positions: tuple[tuple[str, float, float], ...]
    worst: str
    between: float
    surface: Surface
    distances: Array
    findings: Findings

    @property
    def ok(self) -> bool:
        """Whether it keeps its clearance in every position."""
        return self.findings.ok

    def picture(self) -> Picture:
        """Return the thing in its worst position, coloured by its distance, with a mark where it is nearest."""
        title = f"{self.name}, {self.worst}: distance to the body"
        mark, keep = [(f"{self.least:.1f}", self.on_thing)], self.limit or 1.0
        bands, words = (0.0, keep / 2, keep, 2 * keep, 4 * keep), ("distance, mm", f"must keep {self.limit:g}")
        return gap_svg(self.surface, self.distances, corner_of(SPACE, down=False), title, mark, bands, words)

    @property
    def curve(self) -> Picture:
        """The distance over the motion, at rest and shifted, and what it must keep."""
        curves: dict[str, list[tuple[float, float]]] = {}
        for name, at, d in self.positions:
            shifted = name.partition(", ")[2] if name.startswith("turned") else ""
            curves.setdefault(shifted or "distance", []).append((at, d))
        ends = [at for _, at, _ in self.positions]
        curves["must keep"] = [(min(ends), self.limit), (max(ends), self.limit)]
        return line_plot(curves, x="along the motion", y="mm", title=f"{self.name}: distance to the body")

    def __repr__(self) -> str:
        return f"<{self.name}: {self.least:.2f} mm from the body, {self.worst}>"

    def _repr_svg_(self) -> str:
        return str(self.picture())

    def _repr_html_(self) -> str:
        where = ["(" + ", ".join(f"{v:.0f}" for v in p) + ")" for p in (self.on_thing, self.on_body)]
        rows = [(self.subject, f"{self.least:.1f}", f"{self.limit:.1f}", self.worst, *where)]
        heads = ("subject", "least, mm", "must keep, mm", "position", "on the part, x y z", "on the body, x y z")
        curve = picture_html(str(self.curve)) if len(self.positions) > 2 else ""
        return picture_html(str(self.picture())) + html_table(heads, rows, notes=map(str, self.findings)) + curve


def clearance_of(
    thing: Any,
    body: Any,
    *,
    at: Frame = SPACE,
    subject: str = "fixed part",
    keep: Any = None,
) -> Clearance:
    """Return how near something comes to the body, where it stands.

    Parameters
    ----------
    thing : Made, Assembled, Scan, path of a STEP file, CadQuery or kernel shape
        What is held against the body.
    body : the same
        What stands: a scan, an imported solid or its file, other made parts.
    at : Frame
        Where the thing's own coordinates lie in the body.
    subject : {"drive unit", "exhaust", "brake line", "tyre", "fixed part"}
        What it is: says the least clearance.
    keep : length, optional
        The least clearance in its place.

    Returns
    -------
    Clearance
    """
    return through(thing, body, [("at rest", 0.0, SPACE)], at, subject, keep)


def rocking(
    thing: Any,
    body: Any,
    *,
    about: tuple[Sequence[float], Sequence[float]],
    by: tuple[Any, Any],
    shift: Sequence[Any] = (0.0, 0.0, 0.0),
    rubber: tuple[Sequence[float], float] | None = None,
    at: Frame = SPACE,
    subject: str = "drive unit",
    keep: Any = None,
    progress: Progress | None = None,
) -> Clearance:
    """Return how near something comes while it rocks about an axis, at rest and shifted.

    Parameters
    ----------
    thing, body, at, subject, keep
        See `clearance_of`.
    about : ((float, float, float), (float, float, float))
        A point of the axis and its direction, in the body, mm.
    by : (angle, angle)
        From which turn to which, degrees; 0 is at rest.
    shift : (length, length, length)
        How far its mounts let it go; the motion is tried without it, and with it both ways.
    rubber : ((float, float, float), float), optional
        Force on the mounts, N, and their stiffness together, N/mm: gives the shift instead.
    progress : callable, optional
        Called with 0 to 1 and a word for each position; what it raises ends the work.

    Returns
    -------
    Clearance
        In steps in which no point moves by more than 2 mm.
    """
    p, axis = _axis(about)
    if not units.is_sequence(by) or len(by) != 2:
        raise BadValue("by", by, "two angles, such as (-3, 3)")
    low, high = (units.angle(v, "by") for v in by)
    if not -180 <= low <= high <= 180:
        raise BadValue("by", by, "from the least to the largest turn, within 180 degrees")
    points, _, _ = triangles_of(thing, at)
    arm = float(np.linalg.norm(np.cross(points - p, axis), axis=1).max())
    count = max(2, math.ceil(math.radians(high - low) * arm / FINE) + 1)
    angles = sorted({*np.linspace(low, high, min(count, MOST)).tolist(), *([0.0] if low <= 0 <= high else [])})
    away = _shift(shift, rubber)
    poses = []
    for way, word in ((0.0, ""), (1.0, ", shifted"), (-1.0, ", shifted back")):
        if way and not np.any(away):
            continue
        carried = vec(way * away)
        poses += [(f"turned {a:+.2f}°{word}", a, turned(p, axis, a).moved(carried)) for a in angles]
    return through(thing, body, poses, at, subject, keep, progress)


def way_out(
    thing: Any,
    body: Any,
    path: Sequence[Sequence[Any]],
    *,
    at: Frame = SPACE,
    keep: Any = 1.0,
    progress: Progress | None = None,
) -> Clearance:
    """Return whether something can be taken out along a way, and where it catches if it cannot.

    Parameters
    ----------
    thing, body, at, progress
        See `clearance_of` and `rocking`.
    path : sequence of ("move", (x, y, z)) or ("turn", point, axis, angle)
        Straight moves in mm, and turns about an axis of the body in degrees, one after the other.
    keep : length
        What it must stay clear by.

    Returns
    -------
    Clearance
        `worst` is where it comes nearest; a stop names the first place where it catches.
    """
    if not units.is_sequence(path) or not path:
        raise BadValue("path", path, "one step or more: ('move', (x, y, z)) or ('turn', point, axis, degrees)")
    points, _, _ = triangles_of(thing, at)
    now, gone = SPACE, 0.0
    poses = [("in its place", 0.0, now)]
    for k, step in enumerate(path, 1):
        reach, pose = _step(step, k, now.points(points))
        count = math.ceil(reach / FINE)
        if len(poses) + count > MOST:
            raise BadValue(f"path step {k}", step, f"a way of at most {MOST * FINE:.0f} mm in all")
        poses += [
            (f"step {k}, {100 * i / count:.0f} %", gone + reach * i / count, pose(i / count) @ now)
            for i in range(1, count + 1)
        ]
        now, gone = pose(1.0) @ now, gone + reach
    found = through(thing, body, poses, at, "fixed part", units.length(keep, "keep"), progress)
    caught = next(((name, d) for name, _, d in found.positions if d < found.limit), None)
    if caught is None:
        said: Finding = fine(
            "clearance.way", found.name, "it comes out along this way", found.least, found.limit, source="geometry"
        )
    else:
        remedy = "another way, or take off what it meets first"
        where, d = f"{found.name}, {caught[0]}", caught[1]
        said = stop("clearance.way", where, "it catches here", remedy, d, found.limit, source="geometry")
    return replace(found, findings=Findings([said, *(f for f in found.findings if f.code != "clearance.least")]))


def turned(point: Array, axis: Array, degrees: float) -> Frame:
    """Return the rigid move that turns about an axis through a point, right-handed."""
    a = math.radians(degrees)
    x, y, z = axis
    k = np.array(((0, -z, y), (z, 0, -x), (-y, x, 0)))
    m = np.eye(3) + math.sin(a) * k + (1 - math.cos(a)) * k @ k
    return rigid(m, point - m @ point)


def _axis(about: Any) -> tuple[Array, Array]:
    if not units.is_sequence(about) or len(about) != 2:
        raise BadValue("about", about, "(point, direction)")
    return picked(about[0], "about"), np.array(unit_vector(about[1], "about"))


def _shift(shift: Any, rubber: Any) -> Array:
    if rubber is None:
        return picked(shift, "shift")
    if not units.is_sequence(rubber) or len(rubber) != 2:
        raise BadValue("rubber", rubber, "((x, y, z) in N, stiffness in N/mm)")
    stiff = units.number(rubber[1], "", "rubber stiffness")
    if stiff <= 0:
        raise BadValue("rubber stiffness", rubber[1], "N/mm, greater than 0")
    return np.array(three(rubber[0], "rubber force", "(x, y, z) in N")) / stiff


def _step(step: Any, k: int, points: Array) -> tuple[float, Any]:
    """Return how far a step moves its farthest point, and the move at a share of it."""
    match step:
        case ("move", way):
            v = picked(way, f"path step {k}")
            return max(float(np.linalg.norm(v)), 1e-9), lambda s: SPACE.moved(vec(s * v))
        case ("turn", at, axis, angle):
            p, d = picked(at, f"path step {k}"), np.array(unit_vector(axis, f"path step {k}"))
            a = units.angle(angle, f"path step {k}")
            arm = float(np.linalg.norm(np.cross(points - p, d), axis=1).max())
            return max(math.radians(abs(a)) * arm, 1e-9), lambda s: turned(p, d, s * a)
    raise BadValue(f"path step {k}", step, "('move', (x, y, z)) or ('turn', point, axis, degrees)")


def through(
    thing: Any,
    body: Any,
    poses: Sequence[tuple[str, float, Frame]],
    at: Frame,
    subject: Any,
    keep: Any,
    progress: Progress | None = None,
) -> Clearance:
    """Hold a thing against the body in each position."""
    if not isinstance(subject, str) or subject not in LEAST:
        raise UnknownName("subject", subject, LEAST)
    limit = LEAST[subject] if keep is None else units.length(keep, "keep")
    if limit < 0:
        raise BadValue("keep", keep, "0 mm or more")
    tell = telling(progress)
    tell(0.0, "triangles")
    points, triangles, name = triangles_of(thing, at)
    there, faces, _ = triangles_of(body, SPACE)
    tree = tree_of(there, faces, part_of(tell, 0.0, 0.1))
    nearest_yet: tuple[float, Array, Array, Frame, str] | None = None
    positions: list[tuple[str, float, float]] = []
    before, between = points, 0.0
    for number, (label, along, pose) in enumerate(poses):
        low = 0.1 + 0.9 * number / len(poses)
        tell(low, label)
        now = pose.points(points)
        between = max(between, float(np.linalg.norm(now - before, axis=1).max()) / 2 if positions else 0.0)
        before = now
        gap, on_body, on_thing = _signed_least(
            tree, there, faces, now, triangles, part_of(tell, low, low + 0.9 / len(poses))
        )
        positions.append((label, along, gap))
        if nearest_yet is None or gap < nearest_yet[0]:
            nearest_yet = gap, on_thing, on_body, pose, label
    assert nearest_yet is not None
    gap, on_thing, on_body, pose, worst = nearest_yet
    surface = finer(
        Surface(pose.points(points), triangles, np.full(len(triangles), name)),
        max(6.0, float(np.ptp(points, axis=0).max()) / 60),
    )
    far = nearest(tree, surface.middles, max(4 * limit, 40.0)).distance
    return Clearance(
        name=name,
        subject=subject,
        least=gap,
        limit=limit,
        on_thing=vec(on_thing),
        on_body=vec(on_body),
        positions=tuple(positions),
        worst=worst,
        between=between,
        surface=surface,
        distances=np.where(np.isfinite(far), far, np.nan),
        findings=Findings(_verdict(name, subject, gap, limit, worst, between if len(poses) > 1 else 0.0)),
    )


def _signed_least(
    tree: Tree, there: Array, faces: Any, points: Array, triangles: Any, tell: Progress
) -> tuple[float, Array, Array]:
    """Return the least distance, negative where the thing's nearest point lies behind the body's faces."""
    near = nearest(tree, points, tell=tell)
    k = int(near.distance.argmin())
    gap, on_body, on_thing = least(tree, points, triangles, float(near.distance[k]) + 1e-6)
    if gap > 0:
        one = np.array([k])
        if signed(there, faces, near.part(one), points[one])[0] < 0:
            return -gap, on_body, on_thing
    return gap, on_body, on_thing


def _verdict(name: str, subject: str, gap: float, limit: float, worst: str, between: float) -> list[Finding]:
    where = f"{name} ({subject}), {worst}"
    if gap <= 0:
        what = "it runs into the body" if gap == 0 else "it lies behind the body's face"
        return [stop("clearance.least", where, what, "move it, or cut it back", gap, limit)]
    if gap < limit:
        return [stop("clearance.least", where, "it comes too near the body", "move it, or cut it back", gap, limit)]
    if gap - between < limit:
        what = f"it keeps its clearance in the positions tried, but may come {between:.1f} mm nearer between them"
        return [caution("clearance.least", where, what, "leave it more room", gap - between, limit)]
    return [fine("clearance.least", where, "it keeps its clearance", gap, limit)]
