"""Features that are not bent but formed or machined: dimples, beads, louvres, bosses, countersinks, threads."""

from __future__ import annotations

import math

from tinbook.finding import Finding, caution
from tinbook.flatpattern import Direction, Mark
from tinbook.plane.loops import Loop, Move, circle
from tinbook.read.step.edges import EdgeOf
from tinbook.read.step.faces import Coedge
from tinbook.read.step.fittings import MOST_FACES, Fits, fitting, reach
from tinbook.read.step.outline import Contour
from tinbook.read.step.skins import slack_of
from tinbook.read.step.surfaces import FaceOf
from tinbook.read.step.vectors import minus
from tinbook.read.step.walk import Walk
from tinbook.space import dot
from tinbook.values import dataclass

ROUND = 0.97
"""A loop counts as round from here on."""

HEXAGON = math.pi / (2 * math.sqrt(3))
"""4 pi A / L^2 of a regular hexagon."""


MOST_WALLS = 12
"""Faces that line a hole: one with more is no countersink."""


@dataclass(frozen=True, slots=True)
class Formed:
    """A formed feature: the line where it leaves the sheet, kept as a mark."""

    mark: Mark
    finding: Finding


def formed(walk: Walk, contour: Contour, final: Move, fits: Fits) -> Formed:
    """Name the feature that fills an inner contour, from how its metal leaves the sheet; `fits` takes round ones."""
    loop = contour.loop.moved(final)
    if contour.blind:
        word = "blind hole" if _roundness(loop) > ROUND else "pocket"
        what = " from the up side, not through: kept as a mark, not cut"
        return _noted(loop, word, "up", what, "machine or engrave it after cutting")
    border = [c for c in contour.coedges if walk.kinds[c][0] == "formed"]
    cut = [c for c in contour.coedges if walk.kinds[c][0] == "wall"]
    side = _side(walk, border)
    word = _word(walk, loop, border, cut)
    through = not cut and bool(border) and reach(walk, border)[1]
    fit = None
    if border and not cut and _compact(loop):
        fit = fitting(walk, border, final, drawn=not _upright(walk, border), fits=fits)
    if fit is not None and fit.bore:
        word = fit.kind
    elif through:
        word = "formed opening"
    what = f", standing {side}: kept as a mark, its metal taken as flat"
    remedy = "form it after cutting; check the tool's own allowance for the metal that it draws in"
    if through and not (fit and fit.bore):
        what += "; an opening runs through it and is not in the flat"
        remedy = "ask the forming tool's maker for the hole to cut first, or pierce it after forming"
    return _noted(loop, word, side, what, remedy)


def _noted(loop: Loop, word: str, side: Direction, what: str, remedy: str) -> Formed:
    """Return a feature with its place and its size before the words on it."""
    x0, y0, x1, y1 = loop.box
    where = f"{word} at ({(x0 + x1) / 2:.2f}, {(y0 + y1) / 2:.2f}) in the flat"
    what = f"{word} {x1 - x0:.2f} x {y1 - y0:.2f} mm{what}"
    mark = Mark(kind="formed", edges=loop.edges, label=word, face=side)
    return Formed(mark, caution("unfold.formed", where, what, remedy))


def blind(walk: Walk, contour: Contour) -> bool:
    """Whether an opening's walls end inside the metal: none of them comes out of the opposite skin."""
    body, skin = walk.body, walk.skin
    seen = {n for c in contour.coedges if walk.kinds[c][0] == "wall" and (n := walk.kinds[c][1]) is not None}
    if len(seen) != len({walk.kinds[c][1] for c in contour.coedges}):
        return False
    todo = sorted(seen)
    while todo:
        for c in body.coedges(todo.pop()):
            n = body.across(c)
            if n is None or n in seen or n in walk.region_of:
                continue
            # Planes first: of them there are few skins, and what lies behind one is kept.
            if body.faces[n].kind == "plane" and skin.partner(n) in walk.region_of:
                return False
            seen.add(n)
            todo.append(n)
        if len(seen) > MOST_FACES:
            return False
    return bool(seen) and not any(skin.partner(f) in walk.region_of for f in seen)


def _compact(loop: Loop) -> bool:
    """Whether a loop may be the foot of something round: a circle, a hexagon."""
    x0, y0, x1, y1 = loop.box
    return _roundness(loop) > HEXAGON - 0.02 and max(x1 - x0, y1 - y0) < 1.3 * min(x1 - x0, y1 - y0)


def _side(walk: Walk, border: list[Coedge]) -> Direction:
    """Say to which side the feature stands out: by where its faces' boxes lie beyond the skin."""
    height = 0.0
    for c in border:
        other = walk.kinds[c][1]
        if other is None:
            continue
        face, there = walk.body.faces[c.face], walk.body.faces[other]
        p, _ = walk.body.edges[c.edge].middle()
        n = face.normal(p)
        middle = tuple((h + w) / 2 for w, h in zip(there.low, there.high, strict=True))
        height += dot(n, minus((middle[0], middle[1], middle[2]), p))
    return "up" if height >= 0 else "down"


def _word(walk: Walk, loop: Loop, border: list[Coedge], cut: list[Coedge]) -> str:
    x0, y0, x1, y1 = loop.box
    long_, short = max(x1 - x0, y1 - y0), max(min(x1 - x0, y1 - y0), 1e-9)
    if cut and border:
        share = sum(walk.body.edges[c.edge].span for c in cut)
        whole = share + sum(walk.body.edges[c.edge].span for c in border)
        return "louvre" if share > 0.2 * whole else "lanced form"
    if _stands_sharp(walk, border):
        return "boss"
    if _roundness(loop) > ROUND:
        return "dimple or drawn hole"
    return "bead" if long_ > 2.0 * short else "embossed form"


def _roundness(loop: Loop) -> float:
    """4 pi A / L^2: 1 for a circle, pi/4 for a square."""
    return 4 * math.pi * abs(loop.area) / loop.length**2


def _upright(walk: Walk, border: list[Coedge]) -> bool:
    """Whether a feature's walls stand square on the sheet."""
    return all(abs(v) <= 0.05 for v in _leaving(walk, border))


def _stands_sharp(walk: Walk, border: list[Coedge]) -> bool:
    return bool(border) and all(v <= 0.9 for v in _leaving(walk, border))


def _leaving(walk: Walk, border: list[Coedge]) -> list[float]:
    """Return the cosine of the angle at which the metal leaves the skin at each edge: 1 where it runs smoothly on."""
    others = [(c, walk.kinds[c][1]) for c in border]
    return [1.0 if n is None else dot(*walk.body.normals(c, n)) for c, n in others]


@dataclass(frozen=True, slots=True)
class Countersink:
    """A hole with a wider mouth, conical or flat: the cutter makes the small end, the rest is machined."""

    hole: Loop
    mark: Mark
    finding: Finding
    volume: float


def countersink(walk: Walk, contour: Contour, final: Move) -> Countersink | None:
    """Recognise a hole that widens toward this skin or the other; None for a plain hole."""
    loop = contour.loop.moved(final)
    if not loop.is_circle:
        return None
    big_here = loop.edges[0].radius
    chain = _wall_chain(walk, contour)
    if not chain:
        return None
    radii = [big_here, *(e.radius for f in chain for e in _circles(walk, f))]
    small, large = min(radii), max(radii)
    if large - small < 1e-3:
        return None
    centre = loop.edges[0].centre
    total = 0.0
    for f in chain:
        rims = _circles(walk, f)
        if f.kind == "plane" or len(rims) < 2:
            continue
        a, b = max(e.radius for e in rims), min(e.radius for e in rims)
        along = [dot(minus(e.centre, f.origin), f.axis) for e in rims]
        h = (a - b) / math.tan(f.half_angle) if f.kind == "cone" else max(along) - min(along)
        total += math.pi * h * ((a * a + a * b + b * b) / 3 - small * small)
    word = "countersink" if any(f.kind == "cone" for f in chain) else "counterbore"
    here = abs(big_here - large) < 1e-3
    where = f"{word} at ({centre[0]:.2f}, {centre[1]:.2f}) in the flat"
    what = (
        f"{word} to dia {2 * large:.3f} mm on the {'up' if here else 'down'} side: "
        f"the cutter makes the hole of dia {2 * small:.3f} mm, the rest is machined"
    )
    mark = Mark(
        kind="formed",
        edges=circle(centre, 2 * large).edges,
        label=f"{word} {2 * large:.2f}",
        face="up" if here else "down",
    )
    return Countersink(
        circle(centre, 2 * small),
        mark,
        caution("unfold.formed", where, what, f"{word} after cutting"),
        total,
    )


def _wall_chain(walk: Walk, contour: Contour) -> list[FaceOf]:
    """Return the coaxial round faces that line a hole, none for any other opening."""
    body = walk.body
    first = walk.kinds[contour.coedges[0]][1]
    if first is None or body.faces[first].kind not in ("cone", "cylinder"):
        return []

    def lines(n: int) -> bool:
        f = body.faces[n]
        if abs(dot(f.axis, body.faces[first].axis)) < 1 - 1e-6:
            return False
        # A counterbore's floor joins two round walls inside the metal; a skin, in however many faces, is none.
        floor = f.kind == "plane" and len(body.wires(n)) == 2 and _between(walk, contour.coedges[0].face, f)
        return f.kind in ("cone", "cylinder") or floor

    chain = body.spread({first}, lines, MOST_WALLS + 1)
    return [body.faces[i] for i in sorted(chain)] if len(chain) <= MOST_WALLS else []


def _between(walk: Walk, skin: int, floor: FaceOf) -> bool:
    """Whether a plane lies between a skin face and the opposite skin, nearer to neither than they may stand off."""
    face, slack = walk.body.faces[skin], slack_of(walk.skin.thickness)
    depth = dot(minus(face.origin, floor.origin), face.normal(face.origin))
    return face.kind == "plane" and slack < depth < walk.skin.thickness - slack


def _circles(walk: Walk, f: FaceOf) -> list[EdgeOf]:
    return [e for e in (walk.body.edges[c.edge] for c in walk.body.coedges(f.index)) if e.kind == "circle"]


def threads(walk: Walk, contours: list[Contour]) -> list[Finding]:
    """Report openings whose wall winds: a modelled thread is cut as the hole that its skin shows."""
    count = 0
    for contour in contours:
        if contour.loop.area > 0 or contour.formed:
            continue
        walls = {walk.kinds[c][1] for c in contour.coedges if walk.kinds[c][0] == "wall"}
        odd = [w for w in walls if w is not None and walk.body.faces[w].kind == "other"]
        spline = any(walk.body.edges[c.edge].kind == "other" for c in contour.coedges)
        x0, y0, x1, y1 = contour.loop.box
        if odd and spline and abs((x1 - x0) - (y1 - y0)) < 0.15 * (x1 - x0) and _winds(walk, odd):
            count += 1
    what = "the wall winds like a modelled thread: the flat shows the skin's opening, not the tapping hole"
    remedy = "replace by the tapping drill's diameter"
    return [caution("unfold.formed", f"{count} opening(s)", what, remedy)] if count else []


def _winds(walk: Walk, walls: list[int]) -> bool:
    """Whether a wall reaches more than once round at a slope: its face is much longer than the sheet is thick."""
    return any(
        sum(walk.body.edges[c.edge].span for c in walk.body.coedges(w)) > 12 * walk.skin.thickness for w in walls
    )
