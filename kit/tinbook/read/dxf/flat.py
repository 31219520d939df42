"""Read a flat drawing that somebody else made: DXF in, closed contours out, and a report of everything changed."""

from __future__ import annotations

import math
import os
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from tinbook.errors import BadFile, Mistake, of_kind
from tinbook.finding import Finding, Findings, Severity, caution, finding, fine, stop
from tinbook.flatpattern import Cut, FlatPattern, Mark
from tinbook.plane.cuts import contains, distance
from tinbook.plane.loops import Edge, Loop, Point
from tinbook.read.curves import tidy
from tinbook.read.dxf import clean
from tinbook.read.dxf import frame as frames
from tinbook.read.dxf import loops as figures
from tinbook.read.dxf.entities import Drawing, drawing
from tinbook.read.dxf.notes import Budget, Notes
from tinbook.units import positive

SMALLEST, LARGEST = 5.0, 6000.0
"""mm across: a blank beyond was probably drawn in another unit (own proposal; sheets come up to 6 m)."""


def read_dxf(
    path: str | os.PathLike[str],
    *,
    tol: float | str = 0.02,
    gap: float | str = 0.1,
    hints: Mapping[str, str] | None = None,
    units: str | None = None,
    thickness: float | str | None = None,
    name: str | None = None,
    border: bool | None = None,
) -> FlatPattern:
    """Read a DXF drawing of one blank.

    Parameters
    ----------
    path : path
        The file; never changed.
    tol : length
        How far lines and arcs may stand off the splines, ellipses and splinters that they replace; greater than 0.
    gap : length
        Loose ends up to this far apart are joined; greater than 0.
    hints : mapping, optional
        "layer:NAME" or "linetype:NAME" (* is a wildcard, a bare name is a
        layer) to "cut", "fold", "etch" or "ignore". These come before the
        words that the reader looks for itself.
    units : {"mm", "cm", "m", "in", "ft"}, optional
        Unit of the drawing, whatever the file says.
    thickness : length, optional
        A drawing does not hold it; nan where not given.
    name : str, optional
        The file's stem if not given.
    border : bool, optional
        Whether the outermost contour is the border of a drawing sheet; the reader judges if it is not said.

    Returns
    -------
    FlatPattern
        Coordinates as drawn, in mm. Fold lines are marks of kind "fold"
        (a drawing gives neither angle nor radius), other open lines of kind "match".

    Raises
    ------
    BadFile
        Not a DXF file, damaged, without a closed contour, or beyond the limits: 60 MB, 100 000 entities once
        blocks are exploded, 60 s of computing.
    """
    near, reach = positive(tol, "tol"), positive(gap, "gap")
    t = math.nan if thickness is None else positive(thickness, "thickness")
    of_kind(path, (str, os.PathLike), "read_dxf", "the path of a DXF file")
    file = Path(path)
    notes = Notes(budget=Budget(str(file)))
    drawn = drawing(file, near, hints, units, notes)
    if not drawn.strokes:
        left = ", ".join(f"{n} x {w}" for w, n in notes.words["left out"].most_common(4))
        what = f"no lines in model space{f' (left out: {left})' if left else ''}; valid: closed contours"
        raise BadFile(str(file), [Mistake("ENTITIES", what)])
    loops, strokes = _contours(drawn, near, reach, notes)
    if not loops:
        ends = "; ".join(f"({x:.3f}, {y:.3f})" for x, y in _loose_ends(strokes)[:4])
        what = f"no closed contour; loose ends at {ends or 'none'}; valid: contours whose ends meet within {reach:g} mm"
        raise BadFile(str(file), [Mistake("ENTITIES", what)])
    loops, framed = _unframed(loops, strokes, notes, border, file.name)
    outer, cuts, findings = _sorted(loops, file.name)
    findings += framed
    if any(f.code == "dxf.border" for f in framed):
        strokes = [run for run in strokes if _over(outer, run)]
        drawn = replace(drawn, strokes=[s for s in drawn.strokes if s.role == "cut" or _over(outer, s.edges)])
    marks = _marks(drawn, strokes, outer, findings, file.name, notes.budget)
    findings += _report(notes, drawn, file.name, near)
    findings += _odd_size(outer, drawn, file.name)
    if thickness is None:
        what = "a drawing holds no thickness"
        findings.append(caution("dxf.thickness", file.name, what, "give thickness= before weighing or pricing"))
    return FlatPattern(
        name=name or file.stem,
        thickness=t,
        outer=outer,
        cuts=tuple(cuts),
        marks=tuple(marks),
        findings=Findings(findings),
    )


def _contours(drawn: Drawing, tol: float, gap: float, notes: Notes) -> tuple[list[Loop], list[list[Edge]]]:
    edges = [e for s in drawn.strokes if s.role == "cut" for e in s.edges]
    dashed = [s for s in drawn.strokes if s.role == "dashed"]
    if not edges:
        # Everything is dashed, so the line type carries no meaning.
        edges, dashed = [e for s in dashed for e in s.edges], []
        for s in drawn.strokes:
            s.role = "cut" if s.role == "dashed" else s.role
    edges = clean.joined(clean.once(edges, min(tol, 0.005), notes), gap, notes)
    closed, strokes = figures.loops_of(edges)
    loops = []
    for run in closed:
        loop = tidy(clean.smoothed(run, tol, notes))
        if loop is None or abs(loop.area) < 1e-4:
            notes.add("left out", run[0].start, "contour without area")
            continue
        loops.append(clean.rounded(loop.anticlockwise(), tol))
    return loops, strokes


def _unframed(
    loops: list[Loop], strokes: list[list[Edge]], notes: Notes, asked: bool | None, file: str
) -> tuple[list[Loop], list[Finding]]:
    """Remove border and title block from the contours, with a finding that says so or that it was in doubt."""
    taken, doubt = frames.border(loops, figures.nested(loops), notes.texts, strokes, asked)
    left = [x for i, x in enumerate(loops) if i not in taken]
    if doubt:
        what = f"the outermost contour may be the border of a drawing sheet: {doubt}"
        return loops, [stop("dxf.border_or_blank", file, what, "say border=True or border=False")]
    if not taken or not left:
        return loops, []
    x0, y0, x1, y1 = loops[taken[0]].box
    what = f"{len(taken)} contour(s) of a drawing sheet left out: border of {x1 - x0:.5g} x {y1 - y0:.5g} mm"
    return left, [caution("dxf.border", file, what, "say border=False if this is the blank")]


def _over(outer: Loop, run: list[Edge]) -> bool:
    """Whether some of a stroke lies within the box of the blank."""
    x0, y0, x1, y1 = outer.box
    points = [p for e in run for p in (e.start, e.at(0.5), e.end)]
    return any(x0 - 0.05 <= x <= x1 + 0.05 and y0 - 0.05 <= y <= y1 + 0.05 for x, y in points)


def _loose_ends(strokes: list[list[Edge]]) -> list[Point]:
    return [p for run in strokes for p in (run[0].start, run[-1].end)]


def _sorted(loops: list[Loop], file: str) -> tuple[Loop, list[Cut], list[Finding]]:
    """Return the outer contour, the cuts and what did not fit in."""
    findings = []
    depth = figures.nested(loops)
    tops = sorted((i for i, d in enumerate(depth) if d == 0), key=lambda i: -loops[i].area)
    outer = loops[tops[0]]
    if len(tops) > 1:
        places = "; ".join(_place(loops[i].edges[0].start) for i in tops[1:5])
        what = f"{len(tops)} separate outlines, only the largest was read; others at {places}"
        findings.append(stop("dxf.several", file, what, "one part a file, or take the others out"))
    cuts = []
    deep = 0
    for i, loop in enumerate(loops):
        if i == tops[0] or depth[i] == 0 or not contains(outer, loop.edges[0].at(0.5)):
            continue
        if depth[i] > 1:
            deep += 1
            continue
        cuts.append(Cut(loop=loop, dia=2 * loop.edges[0].radius if loop.is_circle else None))
    if deep:
        what = f"{deep} contour(s) lie inside an opening and were left out: metal that would fall away"
        findings.append(caution("dxf.nested", file, what, "look whether the outermost contour is a drawing frame"))
    cuts.sort(key=lambda c: tuple(round(v, 3) for v in (c.loop.box[1], c.loop.box[0])))
    named = [Cut(loop=c.loop, dia=c.dia, name=f"opening {i + 1}") for i, c in enumerate(cuts)]
    crossed = figures.crossing(outer, [c.loop for c in cuts], [loops[i] for i in tops[1:]])
    if crossed:
        places = "; ".join(_place(p) for p in crossed)
        findings.append(stop("dxf.crossing", places, "contours cross", "mend the drawing at these places"))
    return outer, named, findings


def _place(p: Point) -> str:
    return f"({p[0]:.2f}, {p[1]:.2f})"


def _marks(
    drawn: Drawing, strokes: list[list[Edge]], outer: Loop, findings: list[Finding], file: str, budget: Budget
) -> list[Mark]:
    """Return fold lines and etched strokes: by layer and line type, and open lines by their shape."""
    marks: list[Mark] = []
    bends = frames.bends(drawn.strokes, budget)
    sides = {id(s) for b in bends for s in b.sides}
    findings += _bends_said(bends, file)
    for s in drawn.strokes:
        if id(s) in sides:
            continue
        if s.role in ("fold", "dashed"):
            straight = all(e.is_line for e in s.edges)
            kind = "fold" if s.role == "fold" or (straight and len(s.edges) == 1) else "match"
            marks.append(Mark(kind=kind, edges=tuple(s.edges), label=s.layer))
        elif s.role == "etch":
            marks.append(Mark(kind="match", edges=tuple(s.edges), label=s.layer))
    opened = []
    for run in strokes:
        budget.check("looking at its open lines")
        # A single straight line from edge to edge of the blank is drawn for a fold.
        one = len(run) == 1 and run[0].is_line
        across = one and all(_on(outer, p) for p in (run[0].start, run[0].end))
        marks.append(Mark(kind="fold" if across else "match", edges=tuple(run), label="open line"))
        if not across:
            opened.append(run[0].start)
    if opened:
        places = "; ".join(_place(p) for p in opened[:5])
        what = f"{len(opened)} open line(s) on a cut layer, kept as marks; from {places}"
        findings.append(caution("dxf.open", file, what, "close them, or hint their layer as etch or fold"))
    return marks


def _bends_said(bends: list[frames.Bend], file: str) -> list[Finding]:
    """Report the bends drawn by three lines, and where three folds could be meant."""
    made = []
    for sure in (True, False):
        some = [b for b in bends if b.proved is sure]
        if not some:
            continue
        widths = ", ".join(f"{w:.4g}" for w in sorted({round(2 * b.half, 2) for b in some}))
        what = f"{len(some)} bend(s) drawn by middle and two extents, {widths} mm apart: the middle line is kept"
        if not sure:
            places = "; ".join(_place(b.middle.edges[0].at(0.5)) for b in some[:5])
            what += f"; the three lines look alike, so they could be three folds, at {places}"
        remedy = "" if sure else "hint the layer of the extents as ignore, or compare with the drawing"
        made.append(finding("fine" if sure else "caution", "dxf.extents", file, what, remedy))
    return made


def _on(loop: Loop, p: Point, near: float = 0.05) -> bool:
    return any(distance(e, p) <= near for e in loop.edges)


def _odd_size(outer: Loop, drawn: Drawing, file: str) -> list[Finding]:
    """Ask for the unit where a blank is larger than any sheet, or smaller than a washer."""
    x0, y0, x1, y1 = outer.box
    across = max(x1 - x0, y1 - y0)
    if SMALLEST <= across <= LARGEST:
        return []
    what = f"the blank is {x1 - x0:.4g} x {y1 - y0:.4g} mm; is it drawn in a unit of {drawn.scale:g} mm?"
    limit, remedy = SMALLEST if across < SMALLEST else LARGEST, 'say units="mm" or another unit if need be'
    return [caution("dxf.size", file, what, remedy, across, limit, source="own proposal")]


def _report(notes: Notes, drawn: Drawing, file: str, tol: float) -> list[Finding]:
    n = notes.counts

    def listed(subject: str, most: int | None = None) -> str:
        return ", ".join(f"{word} x {count}" for word, count in notes.words[subject].most_common(most))

    kinds = ", ".join(f"{k} x {w}" for w, k in notes.words["curves"].most_common())
    rows: tuple[tuple[str, Severity, str], ...] = (
        ("joined", "caution", f"{n['joined']} pair(s) of loose ends joined"),
        ("doubled", "caution", f"{n['doubled']} doubled or overlapping line(s) or arc(s) drawn once"),
        ("curves", "fine", f"{kinds} made lines and arcs within {tol:g} mm"),
        (
            "splinters",
            "caution",
            f"{n['splinters replaced']} splinters made {n['splinters made']} lines and arcs within {tol:g} mm",
        ),
        ("blocks", "fine", f"blocks exploded: {listed('blocks', 6)}"),
        ("left out", "caution", f"left out: {listed('left out', 8)}"),
        ("height", "caution", f"{n['height']} line(s) not at height 0, laid flat"),
        ("mirrored", "fine", f"{n['mirrored']} entity(ies) drawn from below, mirrored as the format says"),
    )
    made = []
    for subject, severity, what in (row for row in rows if n[row[0]]):
        places = "; ".join(_place(p) for p in notes.places[subject])
        where, code = f"{file}: {places}" if places else file, f"dxf.{subject.replace(' ', '_')}"
        numbers = (round(notes.worst["joined"], 6), 0.0) if subject == "joined" else ()
        made.append(finding(severity, code, where, what, "compare with the drawing", *numbers))
    if drawn.repaired:
        what = f"the file is damaged; {drawn.repaired} error(s) mended while reading"
        made.append(caution("dxf.repaired", file, what, "ask for it again"))
    if drawn.unit == "none stated":
        made.append(caution("dxf.units", file, "the file states no unit; taken as mm", 'say units="in" if need be'))
    elif drawn.unit != "mm":
        made.append(fine("dxf.units", file, f"drawn in {drawn.unit}: 1 unit is {drawn.scale:g} mm"))
    return made
