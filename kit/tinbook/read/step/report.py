"""From a walked skin to what the user gets: openings, marks, findings, panels; and the refusal of what is no sheet."""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import replace

from tinbook.errors import CannotMake
from tinbook.finding import Finding, caution, stop
from tinbook.flatpattern import Cut, FoldLine, Mark
from tinbook.plane.cuts import contains
from tinbook.plane.loops import Loop, Move
from tinbook.read.step import checks, formed
from tinbook.read.step.faces import Body, Coedge
from tinbook.read.step.fittings import Fits
from tinbook.read.step.folds import FoundFold
from tinbook.read.step.outline import Contour, away_from_openings, contours
from tinbook.read.step.skins import Skins
from tinbook.read.step.surfaces import FaceOf
from tinbook.read.step.vectors import minus
from tinbook.read.step.view import FoundPanel, FoundStrip
from tinbook.read.step.walk import KOf, Walk, walk
from tinbook.space import Frame, dot
from tinbook.values import dataclass

NARROW = (0.5, 1.0)
"""Mean width over thickness of a flat, common practice: below the first it is no sheet, below the second a block."""


class NotASheet(CannotMake):
    """A solid that is not one sheet of one thickness; the message names the faces that show it."""


@dataclass(frozen=True, slots=True)
class Attempt:
    """One skin laid flat.

    Parameters
    ----------
    outers, inners : tuple of Contour
        Anticlockwise contours, largest first; openings and formed features.
    slanting : tuple of int
        Faces of cut edges that do not stand square on the skin, one for each edge.
    area : float
        Net area, formed features counted as metal, mm².
    recut : bool
        Whether a pipe's seam was moved away from openings.
    slits : tuple of Coedge
        Where a bend tears from the metal beside it, without a relief.
    sunk : tuple of Contour
        Openings that widen toward one side.
    """

    walk: Walk
    seed: int
    outers: tuple[Contour, ...]
    inners: tuple[Contour, ...]
    slanting: tuple[int, ...]
    area: float
    recut: bool
    slits: tuple[Coedge, ...] = ()
    sunk: tuple[Contour, ...] = ()

    @property
    def leaning(self) -> int:
        """Number of cut edges that do not stand square on the skin."""
        return len(self.slanting)

    @property
    def rank(self) -> tuple[float, ...]:
        """Smaller is better: faces lost, cut edges that end at formed metal, corners that would clash, slits; then area.

        Where a corner is cut open, panels laid flat from the outside would both hold its metal.
        """
        broken = sum(c.formed for c in self.outers) + sum(c.formed and self.cut(c) for c in self.inners)
        clash = sum(not s.inside for c, s in self.walk.sharps.items() if c not in self.walk.joined)
        return len(self.walk.left_out), broken, clash, len(self.slits), -self.area

    def cut(self, contour: Contour) -> bool:
        """Whether some of a contour is a cut edge."""
        return any(self.walk.kinds[c][0] == "wall" for c in contour.coedges)

    @property
    def odd(self) -> bool:
        """Whether the skin holds metal that was not developed."""
        return bool(self.walk.left_out) or any(c.formed for c in (*self.outers, *self.inners))


def attempt(skin: Skins, seed: int, k_of: KOf) -> Attempt:
    """Lay flat the skin on which a face lies."""
    done = walk(skin, seed, k_of)
    drawn = contours(done)
    recut = away_from_openings(done, drawn)
    found = recut or drawn
    outers = sorted((c for c in found if c.loop.area > 0), key=lambda c: -c.loop.area)
    inners = [c for c in found if c.loop.area < 0]
    inners = [replace(c, formed=True, blind=True) if formed.blind(done, c) else c for c in inners]
    area = math.fsum(c.loop.area for c in outers) + math.fsum(c.loop.area for c in inners if not c.formed)
    slits = tuple(c for contour in drawn for c in contour.coedges if done.kinds[c][0] == "slit")
    lean = tuple(n for c in checks.leaning(done, drawn) if (n := done.kinds[c][1]) is not None)
    sunk = tuple(c for c in inners if not c.formed and formed.countersink(done, c, Move()) is not None)
    return Attempt(done, seed, tuple(outers), tuple(inners), lean, area, recut is not None, slits, sunk)


def opposite_marks(best: Attempt, other: Attempt, final: Move, fits: Fits) -> tuple[list[Mark], list[Finding]]:
    """Return the formed features that only the opposite skin shows, drawn in the flat of the first."""
    a, b = (x.walk.regions[x.walk.region_of[x.seed]] for x in (best, other))
    if a.kind != "plane" or b.kind != "plane" or a.move is None or b.move is None:
        return [], []
    off = minus(b.chart.origin, a.chart.origin)
    across = Move(
        dot(b.chart.x, a.chart.x),
        dot(b.chart.y, a.chart.x),
        dot(b.chart.x, a.chart.y),
        dot(b.chart.y, a.chart.y),
        dot(off, a.chart.x),
        dot(off, a.chart.y),
    )
    whole = final.after(a.move).after(across).after(b.move.inverse())
    known = [c.loop.moved(final) for c in best.inners if c.formed]
    plain = [c.loop.moved(final) for c in best.inners if not c.formed]
    marks, said = [], []
    for c in other.inners:
        if not c.formed:
            continue
        x0, y0, x1, y1 = c.loop.moved(whole).box
        # A shade off the middle, where a ray would meet the joint of two half circles.
        middle = (x0 + x1) / 2 + 1.7e-4, (y0 + y1) / 2 + 2.3e-4
        # What this skin takes for a half formed edge may be a plain opening on the other.
        if any(contains(k, middle) for k in (*known, *(plain if other.cut(c) and not c.blind else ()))):
            continue
        feature = formed.formed(other.walk, c, whole, fits)
        turned = replace(feature.mark, face="down" if feature.mark.face == "up" else "up")
        words = feature.finding.what.replace(f"standing {feature.mark.face}", f"standing {turned.face}")
        marks.append(turned)
        said.append(replace(feature.finding, what=words))
    return marks, said


def centred(line: FoldLine, blank: Loop) -> FoldLine:
    """Return the line of a rolled pipe in the middle of its blank, after the seam was moved."""
    if len(line.pieces) != 1:
        return line
    ((ax, ay), (bx, by)), (x0, y0, x1, y1) = line.pieces[0], blank.box
    n = math.hypot(bx - ax, by - ay) or 1.0
    nx, ny = (ay - by) / n, (bx - ax) / n
    off = ((x0 + x1) / 2 - ax) * nx + ((y0 + y1) / 2 - ay) * ny
    return replace(line, pieces=(((ax + off * nx, ay + off * ny), (bx + off * nx, by + off * ny)),))


def squared(outer: Loop) -> Move:
    """Return the move that lays the longest straight runs along x and the box's corner on the origin."""
    runs: dict[int, list[tuple[float, float]]] = defaultdict(list)
    for e in outer.edges:
        if e.is_line:
            a = math.atan2(e.end[1] - e.start[1], e.end[0] - e.start[0]) % (math.pi / 2)
            runs[round(a * 1e4) % round(math.pi / 2 * 1e4)].append((e.length, a))
    turn = Move()
    if runs:
        best = max(runs, key=lambda k: (round(sum(length for length, _ in runs[k]), 6), -k))
        turn = Move.turn(-math.degrees(max(reversed(runs[best]), key=lambda run: run[0])[1]))
    x0, y0, x1, y1 = outer.moved(turn).box
    if y1 - y0 > (x1 - x0) * (1 + 1e-9):
        turn = Move.turn(90).after(turn)
        x0, y0, x1, y1 = outer.moved(turn).box
    return Move(u=-x0, v=-y0).after(turn)


def openings(best: Attempt, final: Move, findings: list[Finding], fits: Fits) -> tuple[list[Cut], list[Mark], float]:
    """Sort inner contours into cuts and marks; also the volume that countersinks took away."""
    cuts: list[Cut] = []
    marks: list[Mark] = []
    removed = 0.0
    for c in best.inners:
        if c.formed:
            feature = formed.formed(best.walk, c, final, fits)
            marks.append(feature.mark)
            findings.append(feature.finding)
            continue
        sunk = formed.countersink(best.walk, c, final)
        if sunk is not None:
            marks.append(sunk.mark)
            findings.append(sunk.finding)
            removed += sunk.volume
        loop = (sunk.hole if sunk else c.loop.moved(final)).anticlockwise()
        dia = 2 * loop.edges[0].radius if loop.is_circle else None
        cuts.append(Cut(loop=loop, dia=dia))
    findings += formed.threads(best.walk, list(best.inners))
    return cuts, marks, removed


def ordered(cuts: list[Cut]) -> tuple[Cut, ...]:
    """Return openings by their place, named by their order and by what is set into them."""
    cuts = sorted(cuts, key=lambda c: tuple(round(v, 3) for v in (c.loop.box[1], c.loop.box[0])))
    return tuple(replace(c, name=f"{'opening' if c.use == 'cut-out' else c.use} {i + 1}") for i, c in enumerate(cuts))


def refuse_shapes(name: str, done: Walk, flat_area: float, blank: Loop, cuts: list[Cut]) -> list[Finding]:
    """Raise NotASheet for a flat that is thicker than wide; return what to say of one that nearly is."""
    t = done.skin.thickness
    x0, y0, x1, y1 = blank.box
    if t > 0.8 * min(x1 - x0, y1 - y0):
        raise NotASheet(refusal(name, done.body, done.skin, f"it is as thick ({t:.4g} mm) as it is wide"))
    around = blank.length + math.fsum(c.loop.length for c in cuts)
    wide = 2.0 * flat_area / around
    if wide < NARROW[0] * t:
        why = f"{t:.4g} mm thick and {wide:.3g} mm wide on average: a profile or a turned part"
        raise NotASheet(refusal(name, done.body, done.skin, why))
    if wide < NARROW[1] * t:
        what = f"thicker ({t:.4g} mm) than its metal is wide on average ({wide:.3g} mm): a block or a profile, no sheet"
        remedy = "saw or mill it; a cutter's edge is not square here"
        return [stop("unfold.block", "flat", what, remedy, round(wide / t, 3), NARROW[1], "width/thickness")]
    return []


def refusal(name: str, body: Body, skin: Skins | None, why: str) -> str:
    """Say why a solid is no sheet, naming the largest faces that have none behind them."""

    def odd(f: FaceOf) -> bool:
        return skin is None or skin.partner(f.index) is None

    faces = sorted((f for f in body.faces if odd(f)), key=lambda f: (-f.extent, f.index))[:4]
    named = "; ".join(checks.describe(f) for f in faces)
    return f"{name}: not a sheet of one thickness: {why}. Largest faces without an opposite one: {named or 'none'}"


def said(best: Attempt, found: list[FoundFold]) -> list[Finding]:
    """Return what was noticed while the skin was laid flat."""
    done, made, first, outer = best.walk, [], best.outers[0], best.outers
    own = {c.edge for run in (*best.outers, *best.inners) for c in run.coedges if done.kinds[c][0] == "seam"}
    for e in sorted(own.union(done.seams))[: 1 if best.recut else None]:
        edge = done.body.edges[e]
        where = f"edge of {edge.span:.2f} mm"
        what = "the skin closes on itself and was cut open here"
        if best.recut:
            what = "the pipe closes on itself; cut open along a ruling that no opening crosses"
        made.append(caution("unfold.seam", where, what, "weld it after folding, or cut the solid open elsewhere"))
    if best.leaning:
        where = f"{best.leaning} cut edge(s)"
        what = "not square to the sheet: the flat shows the larger of the two sides"
        made.append(caution("unfold.square", where, what, "bevel after cutting, or draw them square"))
    if first.formed or first.gaps:
        what = "metal at the edge is formed, not bent, and was not developed; the outline stops where it begins"
        made.append(stop("unfold.undeveloped", "outer contour", what, "trim the blank by trial, or draw it as bends"))
    if len(outer) > 1:
        what = f"{len(outer)} separate outlines came out, only the largest is shown"
        made.append(stop("unfold.undeveloped", "flat", what, "look at the joint between the panels"))
    lost = [done.body.faces[f] for f in sorted(done.left_out)]
    if lost:
        shown = "; ".join(checks.describe(f) for f in lost[:4])
        what = f"{len(lost)} face(s) belong to formed features or cannot be developed: {shown}"
        made.append(caution("unfold.undeveloped", "skin", what, "compare the marks with the part"))
    cones = [r for r in done.regions if r.kind == "cone" and r.move is not None]
    for r in cones:
        what = f"rolled cone, mean inside radius {r.radius:.2f} mm, turned {r.angle:.2f}: developed, no fold line drawn"
        where = checks.describe(done.body.faces[r.faces[0]])
        made.append(caution("unfold.cone", where, what, "mark its rulings for rolling"))
    if (found or cones) and checks.overlaps(first.loop):
        what = "the flat overlaps itself and cannot be cut in one piece"
        made.append(stop("unfold.overlap", "outer contour", what, "part it at a fold and weld"))
    return made


def view(
    done: Walk, found: list[FoundFold], final: Move
) -> tuple[tuple[FoundPanel, ...], tuple[FoundStrip, ...], dict[int, str]]:
    """Return panels, strips and the name of each face, for views and for an editable part."""
    panels: list[FoundPanel] = []
    called: dict[int, str] = {}
    names: dict[int, str] = {}
    for r in done.regions:
        if r.kind != "plane" or r.move is None:
            continue
        loops = [c.loop for c in contours(done, r)]
        if not loops:
            continue
        called[r.index] = f"panel {len(panels) + 1}"
        names |= dict.fromkeys(r.faces, called[r.index])
        biggest = max(loops, key=lambda loop: loop.area)
        panels.append(
            FoundPanel(
                name=called[r.index],
                outer=biggest,
                holes=tuple(loop.anticlockwise() for loop in loops if loop.area < 0),
                frame=Frame(r.chart.origin, r.chart.x, r.chart.y, r.chart.axis),
                flat=final.after(r.move),
            )
        )
    strips = []
    for f in found:
        for i in f.regions:
            names |= dict.fromkeys(done.regions[i].faces, f.line.name)
        sides = [called[b] for b in f.between if b in called]
        if sides:
            outlines = tuple(
                c.loop.moved(final.after(move))
                for r in (done.regions[i] for i in f.regions)
                if (move := r.move) is not None
                for c in contours(done, r)
                if c.loop.area > 0
            )
            strips.append(FoundStrip(fold=f.line.name, parent=sides[0], children=tuple(sides[1:]), outlines=outlines))
    return tuple(panels), tuple(strips), names
