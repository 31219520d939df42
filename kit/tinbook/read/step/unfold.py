"""Unfold a solid that somebody else drew: STEP file or CadQuery object in, blank out.

An independent witness: nothing here knows how `make` bends. The solid's own faces
are laid flat one by one, a bend's neutral layer at inside radius + K t.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import fields, replace
from typing import Any, NamedTuple, cast

from tinbook.errors import BadValue, TinbookError, UnknownName
from tinbook.finding import Findings
from tinbook.flatpattern import Direction, FlatPattern
from tinbook.read.step import checks, held, report
from tinbook.read.step.faces import Body, explore, faces_of
from tinbook.read.step.fittings import Fits, Pilots, pilots
from tinbook.read.step.folds import BendRule, folds, rule_of
from tinbook.read.step.load import Loaded, load
from tinbook.read.step.refold import stands
from tinbook.read.step.report import Attempt, NotASheet
from tinbook.read.step.skins import Skins, area_of, skins, votes
from tinbook.read.step.slits import torn
from tinbook.read.step.view import FoldedSolid, FoundPanel, FoundStrip
from tinbook.read.step.walk import KOf
from tinbook.space import dot
from tinbook.values import dataclass

NOWHERE = 1e12
"""mm; a coordinate as large is damage, and its square would overflow."""
MOST_FACES = 50_000
"""A solid of more faces is not followed: it would take minutes and is no sheet that anybody folds."""


class FoldRow(NamedTuple):
    """A row of the fold table: angles in degrees, lengths in mm."""

    name: str
    direction: Direction
    turned: float
    included: float | None
    inside_radius: float
    length: float
    k: float | None
    allowance: float


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class Unfolded(FlatPattern):
    """A flat pattern with the data read from the folded solid.

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
    bend: BendRule | None = None,
    *,
    name: str | None = None,
    solid: str | None = None,
    units: str | None = None,
    trusted: bool = False,
    shop: Any = None,
    seconds: float | None = None,
) -> Unfolded:
    """Unfold a folded solid of constant thickness.

    Parameters
    ----------
    source : path, CadQuery Workplane, Shape or Assembly
        A STEP file or a solid in memory; never changed.
    bend : float, callable or mapping, optional
        The K-factor of every bend (0 to 1); or a function (angle turned
        through in degrees, inside radius, thickness) -> K; or a table
        {inside radius / thickness: K} read between its lines. Left out, a
        solid with bends is refused.
    name : str, optional
        Name of the flat; the solid's own if not given.
    solid : str, optional
        Which solid, where the source holds several.
    units : {"mm", "cm", "m", "in", "ft"}, optional
        Unit of a file that states none.
    trusted : bool
        Read a file in this process: quicker, but a damaged file can end the process.
    shop : Shop, optional
        Its tables give the holes of press nuts, standoffs and drawn holes.
    seconds : float, optional
        Seconds of computing that reading a file may take on a machine at full speed, 1 to 86400; a slow or busy
        machine gets more. Else the environment's TINBOOK_READ_SECONDS, else 5 and one more for each 100 kB.

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
    solids = load(source, units=units, trusted=trusted, seconds=seconds)
    names = [s.name for s in solids]
    if solid is not None:
        if solid not in names:
            raise UnknownName("solid", solid, names)
        chosen = solids[names.index(solid)]
    elif len(solids) > 1:
        others = "or sort them: tb.sort_solids, python -m tinbook sort"
        raise BadValue("solid", None, f"one of the {len(names)} solids here: {', '.join(names)} ({others})")
    else:
        chosen = solids[0]
    return _unfold(_Task(chosen, k_of, rule, name or chosen.name, table_of(shop)))


def table_of(shop: Any) -> Pilots | None:
    """Return the shop's table of pilot holes, None without a shop; refuse what is no shop."""
    if shop is None:
        return None
    table = getattr(getattr(shop, "fixings", None), "pilots", None)
    if table is None:
        raise BadValue("shop", type(shop).__name__, "a Shop: tb.Shop.demo() or tb.Shop.load(file)")
    return cast(Pilots, table)


def unfold_each(
    solids: Iterable[Loaded], bend: BendRule | None = None, shop: Any = None
) -> list[tuple[Loaded, Unfolded | TinbookError]]:
    """Unfold every solid that `load` read; one that cannot be unfolded stands there with its error.

    `bend` and `shop` are those of `unfold`.

    Returns
    -------
    list of (Loaded, Unfolded or TinbookError)
        In the source's order; equal solids once, with their `count`.
    """
    k_of, rule = rule_of(bend)
    table = table_of(shop)
    made: list[tuple[Loaded, Unfolded | TinbookError]] = []
    for one in solids:
        try:
            made.append((one, _unfold(_Task(one, k_of, rule, one.name, table))))
        except TinbookError as e:
            if isinstance(e, BadValue) and e.field in ("bend", "sheet", "-k"):
                raise  # no K was given: the same for each of them
            made.append((one, e))
    return made


class _Task(NamedTuple):
    """A solid to unfold, by which rule, its flat's name, and the table of pilot holes."""

    loaded: Loaded
    k_of: KOf
    rule: str
    name: str
    table: Pilots | None


def _unfold(task: _Task) -> Unfolded:
    loaded = task.loaded
    try:
        return _at_any_thickness(task)
    except TinbookError:
        raise
    except Exception as e:
        # In a damaged file's solid anything may fail; in a sound one a failure is a mistake of ours and is shown.
        if type(e).__module__.startswith(("OCP", "shapely")):
            raise NotASheet(f"{loaded.name}: the kernel cannot follow this solid's geometry ({e})") from e
        damaged = any(f.code == "unfold.file" for f in loaded.findings)
        if damaged and isinstance(e, (ArithmeticError, LookupError, ValueError)):
            raise NotASheet(f"{loaded.name}: the file is damaged, its solid does not hold together") from e
        raise


def _at_any_thickness(task: _Task) -> Unfolded:
    loaded = task.loaded
    count = faces_of(loaded.shape)
    if count > MOST_FACES:
        raise NotASheet(f"{loaded.name}: {count} faces; valid: at most {MOST_FACES}, a sheet part has some hundreds")
    body = explore(loaded.shape)
    if not _somewhere(body):
        raise NotASheet(f"{loaded.name}: the file is damaged, some of its faces lie at no finite place")
    said = votes(body)
    whole = checks.volume(loaded.shape)
    if not said or whole <= 0:
        why = "no two faces lie opposite each other at one distance"
        raise NotASheet(report.refusal(loaded.name, body, None, why))
    refused: NotASheet | None = None
    stopped: Unfolded | None = None
    for thickness, weight in said[:3]:
        if weight < 0.05 * said[0][1]:
            break
        try:
            made = _at_thickness(task, body, thickness, whole)
        except NotASheet as e:
            refused = refused or e
            continue
        # A solid that is stopped at one thickness may be a plain sheet at another.
        if not any(f.severity == "stop" for f in made.findings):
            return made
        stopped = stopped or made
    if stopped is not None:
        return stopped
    assert refused is not None
    raise refused


def _somewhere(body: Body) -> bool:
    """Return whether every surface and corner has a finite place; the kernel reads 1.E400 as infinite."""
    places = [n for f in body.faces for n in (*f.origin, *f.axis, f.radius)]
    places += [n for e in body.edges for n in (*e.p0, *e.p1, *e.centre, e.radius)]
    return all(abs(n) < NOWHERE for n in places)


def _at_thickness(task: _Task, body: Body, thickness: float, whole: float) -> Unfolded:
    skin = skins(body, _rounded(thickness))
    seed = _seed(skin)
    if seed is None:
        why = f"no face has another one {thickness:.4g} mm behind it"
        raise NotASheet(report.refusal(task.loaded.name, body, skin, why))
    best, other = report.attempt(skin, seed, task.k_of), None
    opposite = skin.opposite(seed)
    if opposite is not None and not _clean(best, whole):
        other = report.attempt(skin, opposite, task.k_of)
        # The blank must contain all the metal: of two equally complete skins the larger one is used.
        if other.rank < best.rank:
            best, other = other, best
    return _result(task, best, other, whole)


def _clean(done: Attempt, whole: float) -> bool:
    """Whether one skin is enough: square cut edges, nothing formed, and the volume agrees."""
    if done.leaning or done.odd or done.slits or done.walk.seams or not done.outers:
        return False
    expected = checks.area_expected(done.walk, whole)
    return abs(expected - done.area) <= checks.AREA * done.area


def _result(task: _Task, best: Attempt, other: Attempt | None, whole: float) -> Unfolded:
    loaded, done = task.loaded, best.walk
    if not best.outers:
        raise NotASheet(report.refusal(loaded.name, done.body, done.skin, "its skin has no outer edge"))
    final = report.squared(best.outers[0].loop)
    findings = list(loaded.findings)
    found = folds(done, task.rule, final)
    fits = Fits()
    cuts, marks, removed = report.openings(best, final, findings, fits)
    if other is not None:
        more, said = report.opposite_marks(best, other, final, fits)
        marks += more
        findings += said
    cuts, said, lacks = pilots(fits.found, cuts, done.skin.thickness, task.table)
    findings += said
    blank = best.outers[0].loop.moved(final)
    if best.recut:
        found = [replace(f, line=report.centred(f.line, blank)) for f in found]
    flat_area = blank.area - math.fsum(abs(c.loop.area) for c in cuts)
    findings += report.refuse_shapes(loaded.name, done, flat_area, blank, cuts)
    findings += report.said(best, found)
    tears = [final.edge(e) for c in best.slits for e in done.placed(c)]
    findings += torn(tears, [blank, *(c.loop for c in cuts)], done.skin.thickness)
    slanting = {f for a in (best, other) if a is not None for f in a.slanting}
    off = stands(done, blank, [c.loop for c in cuts], final, recut=best.recut, slanting=slanting)
    back = held.held(best, other, off.tolist(), fits.found)
    expected = checks.area_expected(done, whole + removed + lacks)
    why = held.why_not(back, best, expected, flat_area, whole)
    if why:
        raise NotASheet(report.refusal(loaded.name, done.body, done.skin, why))
    findings += held.said(back, best, expected, flat_area, whole)
    panels, strips, names = report.view(done, found, final)
    return Unfolded(
        name=task.name,
        thickness=done.skin.thickness,
        outer=blank,
        cuts=report.ordered(cuts),
        folds=tuple(f.line for f in found),
        marks=tuple(marks),
        findings=Findings(findings),
        folded=FoldedSolid(name=task.name, shape=loaded.shape, volume=whole, face_names=names),
        panels=panels,
        strips=strips,
        count=loaded.count,
    )


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
            best = max(some, key=lambda f: (round(area_of(f.shape), 6), -f.index))
            opposite = skin.opposite(best.index) if kind == "plane" else None
            higher = opposite is not None and _rise(skin, opposite) > _rise(skin, best.index)
            return opposite if higher else best.index
    return None


def _rise(skin: Skins, f: int) -> float:
    """Return the length of folds that rise from a face less that of folds that fall."""
    total = 0.0
    for c in skin.body.coedges(f):
        other = skin.body.across(c)
        edge = skin.body.edges[c.edge]
        if other is None or edge.kind != "line" or skin.body.faces[other].kind != "cylinder":
            continue
        if dot(*skin.body.normals(c, other)) > 0.999:
            total -= skin.body.faces[other].sense * edge.span
    return total
