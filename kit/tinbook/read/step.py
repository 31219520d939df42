"""Unfold a solid that somebody else drew: STEP file or CadQuery object in, blank out.

An independent witness: nothing here knows how `make` bends. The solid's own faces
are laid flat one by one, a bend's neutral layer at inside radius + K t.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, fields, replace
from typing import Any, NamedTuple

from tinbook.errors import BadValue, CannotMake, TinbookError, UnknownName
from tinbook.finding import Finding, worst_first
from tinbook.flatpattern import Cut, Direction, FlatPattern, Mark
from tinbook.plane import Loop, Move
from tinbook.read import step_checks as checks
from tinbook.read import step_formed as formed
from tinbook.read.step_checks import finding
from tinbook.read.step_faces import Body, FaceOf, explore
from tinbook.read.step_folds import BendRule, FoundFold, folds, rule_of
from tinbook.read.step_load import Loaded, load
from tinbook.read.step_outline import Contour, contours
from tinbook.read.step_skins import Skins, face_area, skins, votes
from tinbook.read.step_view import FoldedSolid, FoundPanel, FoundStrip
from tinbook.read.step_walk import KOf, Walk, walk


class FoldRow(NamedTuple):
    """A row of the fold table: angles in degrees, lengths in mm."""

    name: str
    direction: Direction
    turned: float
    included: float
    inside_radius: float
    length: float
    k: float | None
    allowance: float


class NotASheet(CannotMake):
    """A solid that is not one sheet of one thickness; the message names the faces that show it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Unfolded(FlatPattern):
    """A flat pattern with what the folded solid told.

    The up side is the side of the skin that was laid flat; "up" folds rise from it.

    Parameters
    ----------
    folded : FoldedSolid
        The solid as read, for a view.
    panels : tuple of FoundPanel
        Flat panels, the one that the unfolding started from first.
    strips : tuple of FoundStrip
        Which panels each fold joins.
    count : int
        How often this solid stands in its source.
    """

    folded: FoldedSolid
    panels: tuple[FoundPanel, ...] = ()
    strips: tuple[FoundStrip, ...] = ()
    count: int = 1

    @property
    def flat(self) -> FlatPattern:
        """The plain flat pattern, without the solid."""
        return FlatPattern(**{f.name: getattr(self, f.name) for f in fields(FlatPattern)})

    @property
    def fold_table(self) -> tuple[FoldRow, ...]:
        """Every fold with its angle both ways, inside radius, length, direction, K and allowance."""
        return tuple(
            FoldRow(f.name, f.direction, f.angle, f.included, f.radius, f.length, f.k, f.allowance) for f in self.folds
        )


def unfold(
    source: Any,
    bend: BendRule = 0.44,
    *,
    name: str | None = None,
    solid: str | None = None,
    units: str | None = None,
    trusted: bool = False,
) -> Unfolded:
    """Unfold a folded solid of constant thickness.

    Parameters
    ----------
    source : path, CadQuery Workplane, Shape or Assembly
        A STEP file or a solid in memory; never changed.
    bend : float, callable or mapping, optional
        The K-factor of every bend (0 to 1); or a function (angle turned
        through in degrees, inside radius, thickness) -> K; or a table
        {inside radius / thickness: K} read between its lines.
    name : str, optional
        Name of the flat; the solid's own if not given.
    solid : str, optional
        Which solid, where the source holds several.
    units : {"mm", "cm", "m", "in", "ft"}, optional
        Unit of a file that states none.
    trusted : bool
        Read a file in this process: quicker, but a damaged file can end the process.

    Returns
    -------
    Unfolded
        A FlatPattern with fold table, findings and the folded solid.

    Raises
    ------
    BadFile, BadValue
        The source cannot be read, or holds several solids and none was named.
    NotASheet
        The solid is not a sheet of one thickness.
    """
    k_of, rule = rule_of(bend)
    solids = load(source, units=units, trusted=trusted)
    names = [s.name for s in solids]
    if solid is not None:
        if solid not in names:
            raise UnknownName("solid", solid, names)
        chosen = solids[names.index(solid)]
    elif len(solids) > 1:
        raise BadValue("solid", None, f"one of the {len(names)} solids here: {', '.join(names)} (or call unfold_all)")
    else:
        chosen = solids[0]
    return _unfold(chosen, k_of, rule, name)


def unfold_all(
    source: Any, bend: BendRule = 0.44, *, units: str | None = None, trusted: bool = False
) -> dict[str, Unfolded | TinbookError]:
    """Unfold every solid of a source; a solid that cannot be unfolded stands there with its error.

    Returns
    -------
    dict
        Name to Unfolded, in the source's order; equal solids once, with their `count`.
    """
    k_of, rule = rule_of(bend)
    made: dict[str, Unfolded | TinbookError] = {}
    for one in load(source, units=units, trusted=trusted):
        try:
            made[one.name] = _unfold(one, k_of, rule, None)
        except TinbookError as e:
            made[one.name] = e
    return made


@dataclass(slots=True)
class _Try:
    walk: Walk
    contours: list[Contour]
    leaning: int
    area: float


def _unfold(loaded: Loaded, k_of: KOf, rule: str, name: str | None) -> Unfolded:
    body = explore(loaded.shape)
    said = votes(body)
    whole = checks.volume(loaded.shape)
    if not said or whole <= 0:
        raise NotASheet(_refusal(loaded.name, body, None, "no two faces lie opposite each other at one distance"))
    refused: NotASheet | None = None
    for thickness, weight in said[:3]:
        if weight < 0.05 * said[0][1]:
            break
        try:
            return _at_thickness(loaded, body, thickness, whole, k_of, rule, name)
        except NotASheet as e:
            refused = refused or e
    assert refused is not None
    raise refused


def _at_thickness(
    loaded: Loaded, body: Body, thickness: float, whole: float, k_of: KOf, rule: str, name: str | None
) -> Unfolded:
    skin = skins(body, _rounded(thickness))
    seed = _seed(skin)
    if seed is None:
        raise NotASheet(_refusal(loaded.name, body, skin, f"no face has another one {thickness:.4g} mm behind it"))
    best = _attempt(skin, seed, k_of)
    opposite = skin.partner(seed)
    if opposite is not None and opposite >= 0 and (best.leaning or best.walk.left_out or best.walk.seams):
        other = _attempt(skin, opposite, k_of)
        # The blank must hold all the metal: of two unequal skins the larger one is cut.
        if (len(other.walk.left_out), -other.area) < (len(best.walk.left_out), -best.area):
            best = other
    return _result(loaded, best, whole, rule, name)


def _rounded(thickness: float) -> float:
    """Return a thickness without the kernel's last digits."""
    near = round(thickness, 6)
    return near if abs(near - thickness) < 1e-6 else thickness


def _seed(skin: Skins) -> int | None:
    """Return the largest flat face of the sheet, from the side to which more folds rise; else a rolled face."""
    faces = sorted(skin.body.faces, key=lambda f: (-f.extent, f.index))
    for kind in ("plane", "cylinder", "cone"):
        some = [f for f in faces if f.kind == kind and skin.partner(f.index) is not None][:24]
        if some:
            best = max(some, key=lambda f: (round(face_area(f), 6), -f.index))
            opposite = skin.partner(best.index)
            if (
                kind == "plane"
                and opposite is not None
                and opposite >= 0
                and _rise(skin, opposite) > _rise(skin, best.index)
            ):
                return opposite
            return best.index
    return None


def _rise(skin: Skins, f: int) -> float:
    """Return the length of folds that rise from a face less that of folds that fall."""
    total = 0.0
    for c in skin.body.coedges(f):
        other = skin.body.across(c)
        edge = skin.body.edges[c.edge]
        if other is None or edge.kind != "line" or skin.body.faces[other].kind != "cylinder":
            continue
        face = skin.body.faces[other]
        p, _ = edge.middle()
        here, there = skin.body.faces[f].normal(p), face.normal(p)
        if sum(a * b for a, b in zip(here, there, strict=True)) > 0.999:
            total -= face.sense * edge.span
    return total


def _attempt(skin: Skins, seed: int, k_of: KOf) -> _Try:
    done = walk(skin, seed, k_of)
    found = contours(done)
    area = math.fsum(c.loop.area for c in found if c.loop.area > 0 or not c.formed)
    return _Try(done, found, len(checks.leaning(done, found)), area)


def _result(loaded: Loaded, best: _Try, whole: float, rule: str, name: str | None) -> Unfolded:
    done, t = best.walk, best.walk.skin.thickness
    outer = [c for c in best.contours if c.loop.area > 0]
    if not outer:
        raise NotASheet(_refusal(loaded.name, done.body, done.skin, "its skin has no outer edge"))
    first = max(outer, key=lambda c: c.loop.area)
    final = _squared(first.loop)
    findings = list(loaded.findings)
    found = folds(done, rule, final)
    cuts, marks, removed = _openings(best, final, findings)
    blank = first.loop.moved(final)
    flat_area = blank.area - math.fsum(abs(c.loop.area) for c in cuts)
    _refuse_solids(loaded.name, best, whole + removed, flat_area, blank)
    findings += _said(best, first, outer, found, final)
    findings += _area_said(best, whole + removed, flat_area, bool(marks))
    panels, strips, names = _view(done, found, final)
    return Unfolded(
        name=name or loaded.name,
        thickness=t,
        outer=blank,
        cuts=tuple(cuts),
        folds=tuple(f.line for f in found),
        marks=tuple(marks),
        findings=worst_first(findings),
        folded=FoldedSolid(name=name or loaded.name, shape=loaded.shape, volume=whole, face_names=names),
        panels=panels,
        strips=strips,
        count=loaded.count,
    )


def _squared(outer: Loop) -> Move:
    """Return the move that lays the longest straight runs along x and the box's corner on the origin."""
    runs: dict[int, float] = {}
    angles: dict[int, float] = {}
    for e in outer.edges:
        if e.is_line:
            a = math.atan2(e.end[1] - e.start[1], e.end[0] - e.start[0]) % (math.pi / 2)
            key = round(a * 1e4) % round(math.pi / 2 * 1e4)
            runs[key] = runs.get(key, 0.0) + e.length
            if e.length >= angles.get(-key - 1, 0.0):
                angles[key], angles[-key - 1] = a, e.length
    turn = Move()
    if runs:
        best = max(runs, key=lambda k: (round(runs[k], 6), -k))
        turn = Move.turn(-math.degrees(angles[best]))
    x0, y0, x1, y1 = outer.moved(turn).box
    if y1 - y0 > (x1 - x0) * (1 + 1e-9):
        turn = Move.turn(90).after(turn)
        x0, y0, x1, y1 = outer.moved(turn).box
    return Move(u=-x0, v=-y0).after(turn)


def _openings(best: _Try, final: Move, findings: list[Finding]) -> tuple[list[Cut], list[Mark], float]:
    """Sort inner contours into cuts and marks; also the volume that countersinks took away."""
    cuts: list[Cut] = []
    marks: list[Mark] = []
    removed = 0.0
    for c in best.contours:
        if c.loop.area >= 0:
            continue
        if c.formed:
            feature = formed.formed(best.walk, c, final)
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
    cuts.sort(key=lambda c: tuple(round(v, 3) for v in (c.loop.box[1], c.loop.box[0])))
    findings += formed.threads(best.walk, best.contours)
    return [replace(c, name=f"opening {i + 1}") for i, c in enumerate(cuts)], marks, removed


def _refuse_solids(name: str, best: _Try, whole: float, flat_area: float, blank: Loop) -> None:
    done, t = best.walk, best.walk.skin.thickness
    x0, y0, x1, y1 = blank.box
    if t > 0.8 * min(x1 - x0, y1 - y0):
        raise NotASheet(_refusal(name, done.body, done.skin, f"it is as thick ({t:.4g} mm) as it is wide"))
    expected = checks.area_expected(done, whole)
    if flat_area <= 0 or abs(expected - flat_area) > checks.NOT_A_SHEET * flat_area:
        why = f"at {t:.4g} mm its skin holds {flat_area * t:.0f} mm³ of its {whole:.0f} mm³"
        raise NotASheet(_refusal(name, done.body, done.skin, why))


def _refusal(name: str, body: Body, skin: Skins | None, why: str) -> str:
    def odd(f: FaceOf) -> bool:
        return skin is None or skin.partner(f.index) is None

    faces = sorted((f for f in body.faces if odd(f)), key=lambda f: (-f.extent, f.index))[:4]
    named = "; ".join(checks.describe(f) for f in faces)
    return f"{name}: not a sheet of one thickness: {why}. Largest faces without an opposite one: {named or 'none'}"


def _said(best: _Try, first: Contour, outer: list[Contour], found: list[FoundFold], final: Move) -> list[Finding]:
    done, made = best.walk, []
    for e in sorted(done.seams):
        edge = done.body.edges[e]
        where = f"edge of {edge.span:.2f} mm"
        what = "the skin closes on itself and was cut open here"
        made.append(finding("seam", "mind", where, what, "weld it after folding, or cut the solid open elsewhere"))
    if best.leaning:
        where = f"{best.leaning} cut edge(s)"
        what = "not square to the sheet: the flat shows the larger of the two sides"
        made.append(finding("square", "mind", where, what, "bevel after cutting, or draw them square"))
    if first.formed or first.gaps:
        what = "metal at the edge is formed, not bent, and was not developed; the outline stops where it begins"
        made.append(
            finding("undeveloped", "stop", "outer contour", what, "trim the blank by trial, or draw it as bends")
        )
    if len(outer) > 1:
        what = f"{len(outer)} separate outlines came out, only the largest is shown"
        made.append(finding("undeveloped", "stop", "flat", what, "look at the joint between the panels"))
    lost = [done.body.faces[f] for f in sorted(done.left_out)]
    if lost:
        shown = "; ".join(checks.describe(f) for f in lost[:4])
        what = f"{len(lost)} face(s) belong to formed features or cannot be developed: {shown}"
        made.append(finding("undeveloped", "mind", "skin", what, "compare the marks with the part"))
    cones = [r for r in done.regions if r.kind == "cone" and r.move is not None]
    for r in cones:
        what = f"rolled cone, mean inside radius {r.radius:.2f} mm, turned {r.angle:.2f}: developed, no fold line drawn"
        made.append(
            finding("cone", "mind", checks.describe(done.body.faces[r.faces[0]]), what, "mark its rulings for rolling")
        )
    if (found or cones) and checks.overlaps(first.loop):
        what = "the flat overlaps itself and cannot be cut in one piece"
        made.append(finding("overlap", "stop", "outer contour", what, "part it at a fold and weld"))
    return made


def _area_said(best: _Try, whole: float, flat_area: float, marked: bool) -> list[Finding]:
    expected = checks.area_expected(best.walk, whole)
    numbers = {"value": round(flat_area, 3), "limit": round(expected, 3), "unit": "mm²"}
    if abs(expected - flat_area) <= checks.AREA * flat_area:
        return [finding("area", "fine", "flat", "the net area agrees with the solid's volume", "", **numbers)]
    what = "the net area does not agree with the solid's volume"
    if marked or best.walk.left_out or best.leaning:
        what += " (formed metal or leaning cut edges are not in it)"
    return [finding("area", "mind", "flat", what, "compare the flat with the part before cutting", **numbers)]


def _view(
    done: Walk, found: list[FoundFold], final: Move
) -> tuple[tuple[FoundPanel, ...], tuple[FoundStrip, ...], dict[int, str]]:
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
                origin=r.chart.origin,
                x=r.chart.x,
                y=r.chart.y,
                z=r.chart.axis,
                flat=final.after(r.move),
            )
        )
    strips = []
    for f in found:
        for i in f.regions:
            names |= dict.fromkeys(done.regions[i].faces, f.line.name)
        sides = [called[b] for b in f.between if b in called]
        if sides:
            strips.append(FoundStrip(fold=f.line.name, parent=sides[0], children=tuple(sides[1:])))
    return tuple(panels), tuple(strips), names
