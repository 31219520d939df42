"""A scan laid on the vehicle's axes, on another scan, or on a part."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any, Final

import numpy as np

from tinbook.errors import BadFile, BadValue, Mistake, of_kind
from tinbook.finding import Findings, caution, fine
from tinbook.making.made import Made
from tinbook.plane.loops import Array
from tinbook.progress import Progress, part_of, telling
from tinbook.read.fitting import fit_plane
from tinbook.read.scans.border import picked
from tinbook.read.scans.mesh import Scan, face_normals, normals, spacing, unit_rows
from tinbook.read.scans.nearest import curve_order, nearest, tree_of
from tinbook.read.scans.rigid import RigidFit, fit_targets
from tinbook.read.scans.smooth import smoothed
from tinbook.space import SPACE, Frame, cross, rigid, unit, unit_vector, vec
from tinbook.values import dataclass

TAKEN: Final = 20_000
"""Points that are held against the other surface."""
ROUNDS: Final = 60
STILL: Final = 1e-5
"""mm: a round that moves no point by more ends the search."""
FREE: Final = 0.05
"""Least share of the normals along a direction (root mean square) that holds a scan in it."""
APART: Final = 100.0
"""mm: surfaces that lie farther apart than this do not overlap; lay them near each other by points first."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Aligned:
    """A scan in its new place.

    Parameters
    ----------
    scan : Scan
        Moved.
    frame : Frame
        Where its old coordinates lie in the new ones.
    rms, worst : float
        Distances of the points that were kept, mm.
    kept : float
        Share of the points that were kept.
    findings : Findings
        What should be looked at.
    """

    scan: Scan
    frame: Frame
    rms: float
    worst: float
    kept: float
    findings: Findings

    def __repr__(self) -> str:
        return f"<{self.scan!r}, aligned: {self.rms:.2f} mm, {100 * self.kept:.0f} % of its points kept>"


def align_by_targets(
    scan: Scan, picks: Mapping[str, Any], places: Mapping[str, Any], *, accuracy: Any = "1 mm"
) -> Aligned:
    """Lay a scan on the vehicle by three named points or more.

    Parameters
    ----------
    scan : Scan
        To be moved.
    picks : mapping of str to (float, float, float)
        Points as they lie in the scan, mm.
    places : mapping of str to (float, float, float)
        Where they belong in the vehicle, mm.
    accuracy : length
        Standard deviation of one picked coordinate.
    """
    of_kind(scan, Scan, "scan", "a Scan, as tb.read_scan gives one")
    fit: RigidFit = fit_targets(picks, places, accuracy=accuracy)
    far = np.linalg.norm(fit.residuals, axis=1)
    return Aligned(
        scan=scan.moved(fit.frame),
        frame=fit.frame,
        rms=fit.rms,
        worst=float(far.max()),
        kept=1.0,
        findings=fit.findings,
    )


def align_by_plane(
    scan: Scan, plane: Sequence[Any], line: Sequence[Any], *, up: Sequence[float] = (0.0, 0.0, 1.0)
) -> Aligned:
    """Lay a scan so that points of it lie on z = 0, and a line on them runs along x.

    Parameters
    ----------
    scan : Scan
        To be moved.
    plane : sequence of (float, float, float)
        Three points or more of the plane, as they lie in the scan.
    line : sequence of (float, float, float)
        Two points: the first comes to (0, 0, 0), the second lies along +x.
    up : (float, float, float)
        The side of the plane that is up, in the scan's coordinates.
    """
    of_kind(scan, Scan, "scan", "a Scan, as tb.read_scan gives one")
    eye = unit_vector(up, "up")
    points = np.array([picked(p, "point of the plane") for p in _some(plane, 3, "plane")])
    first, second = (picked(p, "point of the line") for p in _some(line, 2, "line")[:2])
    try:
        fitted = fit_plane(points)
    except BadValue:
        raise BadValue("plane", len(points), "points that do not all lie on one line") from None
    n = fitted.axes[2] if fitted.axes[2] @ np.array(eye) >= 0 else -fitted.axes[2]
    along = second - first
    along = along - (along @ n) * n
    if np.linalg.norm(along) < 1.0:
        raise BadValue("line", (tuple(first), tuple(second)), "two points apart along the plane")
    x, z = unit(vec(along)), vec(n)
    o = first - ((first - fitted.centre) @ n) * n
    frame = Frame(vec(o), x, cross(z, x), z).inverse().rounded()
    off = np.abs((points - fitted.centre) @ n)
    said = fine("scan.plane", f"{len(points)} points", "they lie on a plane", float(off.max()), source="least squares")
    return Aligned(
        scan=scan.moved(frame), frame=frame, rms=float(np.sqrt((off**2).mean())), worst=float(off.max()), kept=1.0,
        findings=Findings([said]),
    )  # fmt: skip


def best_fit(
    scan: Scan, onto: Scan | Made, *, share: float = 0.8, at: Frame = SPACE, progress: Progress | None = None
) -> Aligned:
    """Lay a scan on another, or on a made part, so that the distances are least; it must lie near already.

    Parameters
    ----------
    scan : Scan
        To be moved.
    onto : Scan or Made
        What stands: a mesh, or a part in its own coordinates.
    share : float
        Of the scan's points that have something opposite, the nearest of which count; 0.3 to 1.
    at : Frame
        Where a part stands.
    progress : callable, optional
        Called with 0 to 1 and a word as the work goes on; what it raises ends the work.

    Returns
    -------
    Aligned

    Raises
    ------
    BadFile
        Surfaces that do not overlap; or a geometry that leaves a direction free, which is named.

    Notes
    -----
    Trimmed iterative closest points, square to the surface (Chen and Medioni, 1992; trimmed by Chetverikov and
    others, 2002; both from memory).
    """
    of_kind(scan, Scan, "scan", "a Scan, as tb.read_scan gives one")
    of_kind(onto, (Scan, Made), "onto", "a Scan or a made part")
    of_kind(at, Frame, "at", "a Frame, as frame_at(origin, x, y) gives one")
    if isinstance(share, bool) or not isinstance(share, (int, float)) or not 0.3 <= share <= 1:
        raise BadValue("share", share, "0.3 to 1")
    tell = telling(progress)
    fixed = smoothed(onto, tell=part_of(tell, 0.0, 0.15))[0] if isinstance(onto, Scan) else _part(onto, at)
    if not len(fixed.triangles):
        raise BadValue("onto", fixed.name, "a mesh with triangles")
    tree = tree_of(fixed.points, fixed.triangles, part_of(tell, 0.15, 0.25))
    facing = unit_rows(face_normals(fixed.points, fixed.triangles))
    loose = smoothed(scan, tell=part_of(tell, 0.25, 0.4))[0] if len(scan.triangles) else scan
    own = normals(loose) if len(scan.triangles) else None
    order = curve_order(loose.points)
    taken = order[:: max(1, len(order) // TAKEN)]
    start, frame = loose.points[taken], SPACE
    reach, kept, d = APART, np.zeros(0, np.int64), np.zeros(0)
    for turn in range(ROUNDS):
        tell(0.4 + 0.6 * turn / ROUNDS, f"round {turn + 1}")
        now = frame.points(start)
        near = nearest(tree, now, reach)
        there = np.isfinite(near.distance)
        if own is not None:
            there &= np.einsum("ij,ij->i", frame.vectors(own[taken]), facing[near.triangle]) > 0.5
        if there.sum() < max(100, 0.05 * len(start)):
            what = f"{100 * there.mean():.0f} % of its points have {fixed.name} opposite within {reach:.0f} mm: they do not overlap"
            raise BadFile(scan.name, [Mistake("place", f"{what}; valid: lay it near by points first")])
        on = np.flatnonzero(there)
        n = facing[near.triangle[on]]
        d = np.einsum("ij,ij->i", now[on] - near.place[on], n)
        best = np.argsort(np.abs(d), kind="stable")[: int(share * len(on))]
        kept, d, n = on[best], d[best], n[best]
        middle = now[kept].mean(axis=0)
        arm = now[kept] - middle
        size = float(np.sqrt((arm**2).sum(axis=1).mean()))
        jacobian = np.hstack((n, np.cross(arm, n) / size))
        values, ways = np.linalg.eigh(jacobian.T @ jacobian / len(n))
        _determined(scan.name, values, ways)
        step = -ways @ ((ways.T @ (jacobian.T @ d / len(n))) / values)
        frame = _moved(step, middle, size) @ frame
        reach = max(min(reach, 6 * float(np.abs(d).max())), 4 * spacing(fixed), 2.0)
        if np.abs(step).max() < STILL:
            break
    frame = frame.rounded()
    rms = float(np.sqrt((d**2).mean()))
    part = len(kept) / len(start)
    findings = [fine("scan.fit", scan.name, f"{100 * part:.0f} % of its points were kept", rms, source="least squares")]
    if part < 0.5 * share:
        what = "less than half of it has something opposite"
        findings = [
            caution("scan.fit", scan.name, what, "look whether both show the same metal", 100 * part, 50 * share, "%")
        ]
    return Aligned(
        scan=replace(scan, points=frame.points(scan.points)), frame=frame, rms=rms, worst=float(np.abs(d).max()), kept=part,
        findings=Findings(findings),
    )  # fmt: skip


def _determined(name: str, values: Array, ways: Array) -> None:
    """Refuse a fit in which a slide or a turn changes next to no distance."""
    if values[0] >= FREE**2:
        return
    way = ways[:, 0]
    slide, turn = np.linalg.norm(way[:3]), np.linalg.norm(way[3:])
    v = way[:3] / slide if slide >= turn else way[3:] / turn
    v = v * np.sign(v[np.abs(v).argmax()])
    word = "slide along" if slide >= turn else "turn about"
    count = int((values < FREE**2).sum())
    more = f" (and {count - 1} more)" if count > 1 else ""
    told = ", ".join(f"{x + 0.0:.2f}" for x in np.round(v, 2))
    what = f"it is free to {word} ({told}){more}: nothing in the geometry holds it"
    raise BadFile(name, [Mistake("fit", f"{what}; valid: more of the surface, or align_by_targets")])


def _moved(step: Array, middle: Array, size: float) -> Frame:
    """Return the rigid move of a small slide and turn about a point."""
    from scipy.spatial.transform import Rotation

    turn = Rotation.from_rotvec(step[3:] / size).as_matrix()
    return rigid(turn, middle + step[:3] - turn @ middle)


def _part(made: Made, at: Frame) -> Scan:
    p = made.preview
    return Scan(
        name=made.part.number, points=at.points(p.positions.astype(float)), triangles=p.triangles.astype(np.int64)
    )


def _some(points: Any, count: int, field: str) -> list[Any]:
    if isinstance(points, (str, Mapping)) or not hasattr(points, "__iter__"):
        raise BadValue(field, points, f"{count} points (x, y, z) or more")
    found = list(points)
    if len(found) < count:
        raise BadValue(field, found, f"{count} points (x, y, z) or more")
    return found
