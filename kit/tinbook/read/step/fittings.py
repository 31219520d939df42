"""Round metal that stands on a sheet: press nuts, standoffs, drawn holes; known by the bore through both skins."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import field
from typing import Any

from OCP.BRepAlgoAPI import BRepAlgoAPI_Common
from OCP.BRepPrimAPI import BRepPrimAPI_MakeCylinder
from OCP.gp import gp_Ax2, gp_Dir, gp_Pnt

from tinbook.calc.collars import pilot_before_drawing
from tinbook.finding import Finding, caution
from tinbook.flatpattern import Cut
from tinbook.plane.loops import Move, Point, circle
from tinbook.read.step.checks import volume as volume_of
from tinbook.read.step.faces import Coedge
from tinbook.read.step.vectors import across, length, minus
from tinbook.read.step.walk import Walk
from tinbook.space import Vec, dot, plus
from tinbook.values import dataclass

Pilots = Callable[[str, float, float], Sequence[tuple[str, float, str]]]
"""(kind, bore, thickness) -> the rows that fit: (use, hole in the blank, source). `Fixings.pilots` is one."""

MOST_FACES = 200
"""A feature of more faces is not searched for an opening."""
MOST_VOLUMES = 12
"""Features of so many different sizes are measured; a sheet with more is no sheet with nuts."""
TALL = 1.3
"""A threaded bush higher than this many of its bores is a standoff, a lower one a nut (own proposal)."""
ROUND_ABOUT = 0.013
"""mm: how far beyond a feature its metal is measured, so that no surfaces coincide."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fitting:
    """A round feature on the sheet.

    Parameters
    ----------
    centre : (float, float)
        In the flat.
    bore : float
        Diameter of the opening that runs through both skins, mm; 0 where there is none.
    around : float
        Diameter within which the sheet is not plain, mm.
    height : float
        How far it stands above its skin, mm.
    drawn : bool
        Whether its metal leaves the sheet in a round shoulder; else it stands sharp on it.
    volume : float
        Metal within `around`, sheet included, mm³; nan if it was not measured.
    """

    centre: Point
    bore: float
    around: float
    height: float
    drawn: bool
    volume: float

    @property
    def kind(self) -> str:
        """Name of the tables' kind: "press nut", "standoff" or "drawn hole"; "" without a bore."""
        if not self.bore:
            return ""
        return "drawn hole" if self.drawn else "standoff" if self.height > TALL * self.bore else "press nut"


@dataclass(slots=True)
class Fits:
    """Round features found on the way, and the volumes measured of them, by their sizes."""

    found: list[Fitting] = field(default_factory=list)
    volumes: dict[tuple[float, ...], float] = field(default_factory=dict)


def fitting(walk: Walk, border: list[Coedge], final: Move, *, drawn: bool, fits: Fits) -> Fitting | None:
    """Measure the feature that a border leads to; None where it has no round faces about one axis.

    Parameters
    ----------
    walk, border
        The skin, and its edges beyond which the feature begins.
    final : Move
        From the walk's flat to the blank's.
    drawn : bool
        Whether the metal leaves the sheet in a shoulder.
    fits : Fits
        Takes the feature, and knows the volumes measured before.
    """
    face = border[0].face
    region = walk.regions[walk.region_of[face]]
    if region.kind != "plane" or region.move is None:
        return None
    skin = walk.body.faces[face]
    normal, foot = skin.normal(skin.origin), skin.origin
    faces, through = reach(walk, border)
    rounds = [
        walk.body.edges[c.edge]
        for f in sorted(faces)
        for c in walk.body.coedges(f)
        if walk.body.edges[c.edge].kind == "circle"
    ]
    rounds = [e for e in rounds if abs(dot(e.axis, normal)) > 1 - 1e-6]
    if not rounds:
        return None
    inner = min(rounds, key=lambda e: e.radius)
    rel = minus(inner.centre, foot)
    at = plus(inner.centre, normal, -dot(rel, normal))
    rounds = [e for e in rounds if length(across(minus(e.centre, at), normal)) < 1e-3]
    points = [p for f in faces for c in walk.body.coedges(f) for p in walk.body.ends(c)]
    heights = [dot(minus(p, foot), normal) for p in points]
    t = walk.skin.thickness
    low, high = min(heights), max(heights)
    around = 2 * max([e.radius for e in rounds] + [length(across(minus(p, at), normal)) for p in points])
    d = minus(at, region.chart.origin)
    centre = final.after(region.move)((dot(d, region.chart.x), dot(d, region.chart.y)))
    bore = 2 * inner.radius if through else 0.0
    size = tuple(round(v, 3) for v in (bore, around, low, high))
    known = fits.volumes
    if size not in known:
        wide = around + 2 * ROUND_ABOUT
        base = plus(at, normal, min(low, -t) - ROUND_ABOUT)
        tall = max(high, 0.0) - min(low, -t) + 2 * ROUND_ABOUT
        known[size] = _metal(walk.body.shape, base, normal, wide / 2, tall) if len(known) < MOST_VOLUMES else math.nan
    ring = math.pi / 4 * ((around + 2 * ROUND_ABOUT) ** 2 - around**2) * t
    height, volume = max(high, -low - t), known[size] - ring
    fits.found.append(Fitting(centre=centre, bore=bore, around=around, height=height, drawn=drawn, volume=volume))
    return fits.found[-1]


def reach(walk: Walk, border: list[Coedge]) -> tuple[set[int], bool]:
    """Return the faces of a feature, and whether one comes over them from this skin to the other."""
    body, other = walk.body, walk.skin.partner(border[0].face)
    first = {n for c in border if (n := walk.kinds[c][1]) is not None}
    seen = body.spread(first, lambda n: n not in walk.region_of and n != other, MOST_FACES)
    return seen, other is not None and any(body.across(c) == other for f in seen for c in body.coedges(f))


def _metal(shape: Any, base: Vec, axis: Vec, radius: float, height: float) -> float:
    """Return the volume of a solid within a cylinder, mm³; nan where the kernel cannot tell."""
    where = gp_Ax2(gp_Pnt(*base), gp_Dir(*axis))
    common = BRepAlgoAPI_Common(shape, BRepPrimAPI_MakeCylinder(where, radius, height).Solid())
    found = volume_of(common.Shape()) if common.IsDone() else 0.0
    return found if found > 0 else math.nan


def pilots(
    found: list[Fitting], cuts: list[Cut], thickness: float, table: Pilots | None
) -> tuple[list[Cut], list[Finding], float]:
    """Put the hole of each bored feature into the blank.

    Parameters
    ----------
    found : list of Fitting
        On either skin.
    cuts : list of Cut
        Openings of the flat; those that show a feature's bore on the plain skin are replaced.
    thickness : float
        mm.
    table : callable or None
        The shop's table; without one a nut's bore is cut and a drawn hole gets the pilot of constant volume.

    Returns
    -------
    (cuts, findings, volume)
        `volume` is what the solid lacks beside the flat sheet with those holes, mm³.
    """
    cuts, said, lacks = list(cuts), [], 0.0
    heard: dict[str, list[Point]] = {}
    words: dict[str, tuple[str, str, str]] = {}
    for f in found:
        plain = math.pi / 4 * f.around**2 * thickness
        if math.isnan(f.volume):
            continue
        lacks += plain - f.volume
        if not f.bore:
            continue
        hole, use, what, remedy, source = _hole(f, thickness, table)
        cuts = [c for c in cuts if not _shows(c, f)]
        if hole > 0:
            lacks -= math.pi / 4 * hole**2 * thickness
            cuts.append(Cut(loop=circle(f.centre, hole), use=use, dia=hole))
        heard.setdefault(what, []).append(f.centre)
        words[what] = (remedy, source, f.kind)
    for what, places in heard.items():
        remedy, source, kind = words[what]
        shown = "; ".join(f"({x:.2f}, {y:.2f})" for x, y in places[:6])
        where = f"{len(places)} x {kind} at {shown}{' ...' * (len(places) > 6)} in the flat"
        said.append(caution("unfold.fitting", where, what, remedy, source=source))
    return cuts, said, lacks


def _shows(c: Cut, f: Fitting) -> bool:
    x0, y0, x1, y1 = c.loop.box
    near = math.dist(((x0 + x1) / 2, (y0 + y1) / 2), f.centre) < 0.05
    return near and c.loop.is_circle and x1 - x0 < f.around + 0.01


def _hole(f: Fitting, t: float, table: Pilots | None) -> tuple[float, str, str, str, str]:
    """Return (hole, use, what, remedy, source) of a bored feature."""
    rows = list(table(f.kind, f.bore, t)) if table is not None else []
    bored = f"bore of dia {f.bore:.3g} mm, {f.height:.3g} mm high"
    if len(rows) == 1:
        use, hole, source = rows[0]
        what = f"{use}, {bored}: the blank gets its hole of dia {hole:g} mm"
        return hole, use, what, "compare the hole with the part in your hand: makers differ", source
    why = "no shop was given" if table is None else "the shop's table has no row for it"
    if len(rows) > 1:
        why = f"the bore fits {' and '.join(use for use, _, _ in rows)}"
    if f.drawn:
        hole = pilot_before_drawing(f.volume, f.around, t)
        hole = round(hole, 2) if hole > 0.5 * t else 0.0
        pilot = f"the blank gets a pilot of dia {hole:g} mm" if hole else "its metal fills the hole: nothing is cut"
        what = f"drawn hole, {bored}: {why}; {pilot}, by constant volume"
        return hole, "cut-out", what, "pierce and draw a trial piece first", "geometry"
    what = f"{f.kind}, {bored}: {why}; the bore is cut, the hole that it is set in is larger"
    remedy = "open the hole to the fitting's own size, or give a shop with a row for it"
    return f.bore, "cut-out", what, remedy, "common practice"
