"""Scans from files: format, unit, which face was scanned, and what is odd in the mesh."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final

import numpy as np

from tinbook import units
from tinbook.errors import BadFile, BadValue, Mistake
from tinbook.finding import Finding, Findings, caution, fine
from tinbook.paths import existing
from tinbook.plane.loops import Array
from tinbook.progress import Progress, in_turn, part_of, portions, quiet, telling
from tinbook.read.scans.border import picked
from tinbook.read.scans.formats import read_obj, read_stl
from tinbook.read.scans.mesh import Scan, edges, face_normals, smooth_normals
from tinbook.read.scans.ply import read_ply
from tinbook.read.scans.raw import Raw, Unusable
from tinbook.space import Vec, unit_vector

LARGEST: Final = 400_000_000
"""Bytes of a file."""
MOST: Final = 2_000_000
"""Points, and triangles, of a scan: what is mapped in seconds and 2 GiB."""
NEAR: Final = 5.0
FAR: Final = 20_000.0
"""mm: a scan smaller or larger than this across was read in the wrong unit."""
UNITS: Final = ("mm", "cm", "m", "in", "ft")
READERS: Final = {".ply": read_ply, ".stl": read_stl, ".obj": read_obj}
FACES: Final = "'mating' (the new part lies on the face that was scanned) or 'far' (on the other face; give sheet=)"


def read_scan(
    path: str | Path,
    *,
    face: str,
    unit: str | None = None,
    size: Any = None,
    sheet: Any = None,
    coating: Any = 0.0,
    seen_from: Sequence[float] | None = None,
    turn_over: bool = False,
    progress: Progress | None = None,
) -> Scan:
    """Read a scan of the body: a mesh, or a cloud of points.

    Parameters
    ----------
    path : str or Path
        A PLY, STL or OBJ file of at most 400 MB and two million points or triangles; colours are passed over.
    face : {"mating", "far"}
        Whether the face on which the new part will lie was scanned, or the sheet's other face.
    unit : {"mm", "cm", "m", "in", "ft"}, optional
        Of the coordinates; none of the formats says.
    size : length, or (point, point, length), optional
        In place of the unit: the longest side of the scan, known to a quarter; or the distance of two points,
        given as they stand in the file, known to a twentieth.
    sheet : length, optional
        Thickness of the sheet that was scanned; needed for the far face.
    coating : length, or sequence of (point, point, length)
        Paint, underseal or scanning spray that lies on the scanned face and will come off; or its thickness in
        boxes, each given by two opposite corners in mm.
    seen_from : (float, float, float), optional
        From the metal towards the scanner. Needed to place the metal under a cloud without triangles; a mesh
        whose triangles look the other way is refused.
    turn_over : bool
        Turn the triangles over: for a mesh that was written inside out.
    progress : callable, optional
        Called with 0 to 1 and a word as the work goes on; what it raises ends the work.

    Returns
    -------
    Scan
        In mm, on the mating face of the bare metal.

    Raises
    ------
    BadFile
        No such format, cut off, empty, numbers that are not finite, a size that no body has in that unit.
    BadValue
        No unit, no face, or thicknesses that are none.
    """
    mistakes_at = str(path)
    taken_off, boxes = _asked(face, sheet, coating)
    eye = None if seen_from is None else unit_vector(seen_from, "seen_from")
    tell = telling(progress)
    tell(0.0, "reading the file")
    raw = _raw(path, part_of(tell, 0.0, 0.4))
    tell(0.4, "size and unit")
    scale, said = _scale(raw.points, unit, size, mistakes_at)
    triangles = raw.triangles[:, ::-1] if turn_over else raw.triangles
    points = raw.points * scale
    across, farthest = float(np.ptp(points, axis=0).max()), float(np.abs(points).max())
    if not NEAR <= across <= FAR or farthest > units.FARTHEST:
        what = f"{across:.4g} mm across, up to {farthest:.4g} mm from its origin; valid: {NEAR:g} mm to"
        raise BadFile(
            mistakes_at, [Mistake("unit", f"{what} {FAR / 1000:g} m across, within 1 km. {_guesses(raw.points)}")]
        )
    scan = Scan(name=Path(path).name, points=points, triangles=triangles)
    found = [said, *_odd(scan, len(raw.triangles), part_of(tell, 0.5, 0.8))]
    scan = Scan(name=scan.name, points=scan.points, triangles=_real(scan.points, triangles))
    _looks_outward(scan, eye, mistakes_at)
    points, face_said = _onto_metal(scan, face, taken_off, boxes, eye, part_of(tell, 0.8, 1.0))
    return Scan(name=scan.name, points=points, triangles=scan.triangles, findings=Findings([*found, face_said]))


def _asked(face: Any, sheet: Any, coating: Any) -> tuple[float, list[tuple[Array, Array, float]]]:
    """Return what to take off everywhere, and in boxes (low, high, thickness), mm."""
    if face not in ("mating", "far"):
        raise BadValue("face", face, FACES)
    if face == "far" and sheet is None:
        raise BadValue("sheet", sheet, "the thickness of the sheet whose far face was scanned")
    thick = units.positive(sheet, "sheet") if face == "far" else 0.0
    if not units.is_sequence(coating):
        over = units.length(coating, "coating")
        if not 0 <= over <= 50:
            raise BadValue("coating", coating, "0 to 50 mm")
        return thick + over, []
    boxes = []
    for k, box in enumerate(coating, 1):
        if not units.is_sequence(box) or len(box) != 3:
            raise BadValue(f"coating {k}", box, "(corner, opposite corner, thickness)")
        ends = [picked(p, f"coating {k} corner") for p in box[:2]]
        boxes.append((np.min(ends, axis=0), np.max(ends, axis=0), units.positive(box[2], f"coating {k} thickness")))
    return thick, boxes


def _raw(path: str | Path, tell: Progress) -> Raw:
    file = existing(path, "a scan, .ply, .stl or .obj")
    shown = str(path)
    reader = READERS.get(file.suffix.lower())
    size = file.stat().st_size
    wrong = ""
    if reader is None:
        wrong = f"ends in {file.suffix!r}; valid: {', '.join(READERS)}"
    elif not size:
        wrong = "empty; valid: a scan"
    elif size > LARGEST:
        wrong = f"{size} bytes; valid: at most {LARGEST}: thin it first"
    if wrong or reader is None:
        raise BadFile(shown, [Mistake("file", wrong)])
    try:
        data = file.read_bytes()
    except OSError as e:
        raise BadFile(shown, [Mistake("file", f"cannot be read: {e.strerror}; valid: a readable file")]) from None
    try:
        if reader is read_ply and data[:3] != b"ply":
            raise Unusable(Mistake("file", "does not begin with 'ply'; valid: a PLY file"))
        with np.errstate(all="ignore"):  # what is not finite is refused below
            raw = reader(data, tell)
    except Unusable as why:
        raise BadFile(shown, [why.mistake]) from None
    n, m = len(raw.points), len(raw.triangles)
    bad = np.flatnonzero(~np.isfinite(raw.points).all(axis=1))
    if n < 3:
        wrong = f"holds {n} points; valid: 3 or more"
    elif max(n, m) > MOST:
        wrong = f"holds {n} points and {m} triangles; valid: at most {MOST} of each: thin it first"
    elif len(bad):
        wrong = f"{len(bad)} points are not finite, the first is number {bad[0] + 1}; valid: finite numbers"
    elif m and (raw.triangles.min() < 0 or raw.triangles.max() >= n):
        wrong = f"triangles name points from {raw.triangles.min()} to {raw.triangles.max()}; valid: 0 to {n - 1}"
    if wrong:
        raise BadFile(shown, [Mistake("file", wrong)])
    return raw


def _guesses(points: Array) -> str:
    """Return what the longest side would be in each unit that gives the size of a body or a part of one."""
    across = float(np.ptp(points, axis=0).max())
    told = [f"{across * units.length(f'1 {u}', 'unit'):.4g} mm if in {u}" for u in UNITS]
    return f"Its longest side would be {', '.join(told)}"


def _scale(points: Array, name: Any, size: Any, path: str) -> tuple[float, Finding]:
    """Return mm per unit of the file, and how that is known."""
    if (name is None) == (size is None):
        given = "both" if name is not None else "neither"
        raise BadValue("unit or size", given, f"one of them: unit='mm', or size='1.2 m'. {_guesses(points)}")
    if name is not None:
        if name not in UNITS:
            raise BadValue("unit", name, f"one of {', '.join(UNITS)}")
        return units.length(f"1 {name}", "unit"), fine("scan.unit", path, f"unit {name}, as stated")
    with np.errstate(over="ignore"):
        across, within = float(np.ptp(points, axis=0).max()), 1.25
    if units.is_sequence(size):
        try:
            p, q, size = size
            across, within = math.dist([float(v) for v in p], [float(v) for v in q]), 1.05
        except (TypeError, ValueError):
            raise BadValue("size", size, "a length, or (point, point, length)") from None
    known = units.positive(size, "size")
    ratio = {u: across * units.length(f"1 {u}", "unit") / known for u in UNITS}
    fits = [u for u in UNITS if 1 / within <= ratio[u] <= within]
    if not fits:
        told = ", ".join(f"{ratio[u] * known:.4g} mm if in {u}" for u in UNITS)
        raise BadValue("size", f"{known:g} mm", f"within a factor of {within:g} of what the file says: {told}")
    what = f"unit {fits[0]}: stated {known:.0f} mm, found {ratio[fits[0]] * known:.0f} mm"
    return units.length(f"1 {fits[0]}", "unit"), fine("scan.unit", path, what)


def _real(points: Array, triangles: Any) -> Any:
    """Return the triangles that have an area."""
    return triangles[np.linalg.norm(face_normals(points, triangles), axis=1) > 1e-9]


def _odd(scan: Scan, count: int, tell: Progress) -> list[Finding]:
    """Return what is odd in the triangles."""
    if not count:
        what = "no triangles: gaps have no sign and no rim can be followed as surely as on a mesh"
        return [caution("scan.cloud", scan.name, what, "mesh the points in the scanner's program")]
    found = []
    tell(0.0, "areas of the triangles")
    flat = count - len(_real(scan.points, scan.triangles))
    tell(0.4, "edges of the triangles")
    _, at, way = edges(scan)
    many, turned = int((at > 2).sum()), int(((at == 2) & (way != 0)).sum())
    for n, what, remedy in (
        (flat, "triangles have no area and were left out", "nothing, if they are few"),
        (many, "edges belong to more than two triangles", "look there: the surface folds over itself"),
        (turned, "edges lie between triangles that look opposite ways", "orient the mesh in the scanner's program"),
    ):
        if n:
            found.append(caution("scan.mesh", scan.name, f"{n} {what}", remedy, n, 0, "", "geometry"))
    return found


def _looks_outward(scan: Scan, eye: Vec | None, path: str) -> None:
    """Refuse a mesh that is written inside out."""
    if not len(scan.triangles):
        return
    n = face_normals(scan.points, scan.triangles)
    what = ""
    if eye is not None:
        share = float((n @ np.array(eye) > 0) @ np.linalg.norm(n, axis=1) / np.linalg.norm(n, axis=1).sum())
        if share < 0.5:
            what = f"{100 * (1 - share):.0f} % of its triangles look away from seen_from"
    elif (edges(scan)[1] == 2).all():
        volume = float(np.einsum("ij,ij->", scan.points[scan.triangles[:, 0]], n)) / 6
        if volume < 0:
            what = "it is closed and its triangles look inward"
    if what:
        raise BadFile(path, [Mistake("triangles", f"{what}; valid: turn_over=True, or another seen_from")])


def _onto_metal(
    scan: Scan, face: str, off: float, boxes: list[tuple[Array, Array, float]], eye: Vec | None, tell: Progress
) -> tuple[Array, Finding]:
    """Return the points carried from the scanned face onto the mating face of the bare metal."""
    tell(0.0, "onto the metal")
    depth = np.full(len(scan.points), off)
    for low, high, thick in boxes:
        depth[((scan.points >= low) & (scan.points <= high)).all(axis=1)] += thick
    most = float(depth.max())
    if not most:
        return scan.points, fine("scan.face", scan.name, "the bare mating face was scanned")
    if len(scan.triangles):
        away = smooth_normals(scan, tell=tell)
    elif eye is not None:
        away = cloud_normals(scan.points, eye, tell)
    else:
        raise BadValue("seen_from", eye, "the direction from the metal to the scanner, for a cloud without triangles")
    what = f"the {face} face was scanned: up to {most:.2f} mm of coating and sheet were taken off"
    return scan.points - depth[:, None] * away, fine("scan.face", scan.name, what)


def cloud_normals(points: Array, eye: Vec, tell: Progress = quiet) -> Array:
    """Return unit normals of a cloud, each of the plane through the nearest points, turned towards `eye`."""
    from scipy.spatial import cKDTree

    tree = cKDTree(points)
    out = np.empty_like(points)
    for some in in_turn(portions(len(points)), tell, "normals of the cloud"):
        near = points[tree.query(points[some], min(16, len(points)))[1]]
        near -= near.mean(axis=1, keepdims=True)
        out[some] = np.linalg.eigh(np.einsum("nki,nkj->nij", near, near))[1][:, :, 0]
    return out * np.where(out @ np.array(eye) < 0, -1.0, 1.0)[:, None]
