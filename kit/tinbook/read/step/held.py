"""Whether a solid is the sheet that was laid flat: faces that stand off it, forms that have a name, volume that is left."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Any

import numpy as np
from OCP.BRep import BRep_Builder
from OCP.BRepBuilderAPI import BRepBuilderAPI_Copy
from OCP.TopoDS import TopoDS_Compound

from tinbook.finding import Finding, Severity, finding, fine, stop
from tinbook.plane.loops import Edge
from tinbook.read.step import checks
from tinbook.read.step import develop as dev
from tinbook.read.step.checks import describe
from tinbook.read.step.faces import Body
from tinbook.read.step.fittings import Fitting
from tinbook.read.step.refold import near
from tinbook.read.step.report import Attempt
from tinbook.read.step.surfaces import FaceOf
from tinbook.read.step.vectors import minus
from tinbook.read.step.view import triangles_of
from tinbook.space import dot
from tinbook.values import dataclass

LEFT = 0.01
"""Relative: a blank whose volume is off by more, with no form to account for it, is stopped."""

REFUSED = 0.15
"""Relative: a solid whose volume is off by more is no sheet."""

ODD = 0.03
"""Relative: with metal beside the sheet that has no name, a solid whose volume is off by more is no sheet."""

LEANT = 0.05
"""Relative to the flat: leaning cut edges account for no more; what leans as much is a block with sloping sides."""

RING, TURNED = 300.0, 2.0
"""Degrees, and inside radius over thickness: what goes round so far and so sharply is turned or drawn (common practice)."""

FORMS = (0.15, 0.25)
"""Relative to the solid: forms that add or take more stop the blank; still more, and it is no sheet."""


@dataclass(frozen=True, slots=True)
class Held:
    """What the flat, folded back, tells of the solid.

    Parameters
    ----------
    largest : float
        Largest distance of a face that has no name from the folded-back flat, mm, positive outside its metal.
    face : int
        That face.
    named : frozenset of int
        Faces of named forms.
    forms : float
        Volume that the named forms add to the flat sheet, mm³; None where it could not be told.
    fitted : float
        What the measured fittings among them add: the demanded area knows of it already.
    leans : bool
        Whether that face is a cut edge that does not stand square on the sheet.
    leaning : float
        Flat area that leaning cut edges can take from the larger skin, mm², at most 0: by as much the other is smaller.
    """

    largest: float
    face: int
    named: frozenset[int]
    forms: float | None
    fitted: float = 0.0
    leans: bool = False
    leaning: float = 0.0

    @property
    def rest(self) -> float | None:
        """Volume of the forms that were not measured as fittings, mm³."""
        return None if self.forms is None else self.forms - self.fitted


def held(best: Attempt, other: Attempt | None, off: Iterable[float], fittings: Iterable[Fitting] = ()) -> Held:
    """Sort the faces that stand off the flat into named forms, slanting cut edges, and the rest.

    Parameters
    ----------
    best, other : Attempt
        The skin laid flat, and the opposite one where it was tried.
    off : sequence of float
        Distance of each face of the solid, mm.
    fittings : sequence of Fitting
        Round features that were measured on their own.
    """
    walk = best.walk
    t, body = walk.skin.thickness, walk.body
    stand = list(off)
    odd = {f for f, d in enumerate(stand) if abs(d) > near(t)}
    named = _named(body, odd, [a for a in (best, other) if a is not None])
    leaning = {f for a in (best, other) if a is not None for f in a.slanting}
    rest = [f for f in range(len(stand)) if f not in named and not (f in leaning and abs(stand[f]) <= t)]
    face = max(rest, key=lambda f: (abs(stand[f]), -f), default=0)
    added = [f.volume - math.pi / 4 * f.around**2 * t for f in fittings if not math.isnan(f.volume)]
    largest, forms = (stand[face] if rest else 0.0), _forms(best, odd & named)
    whole = leaning and other is not None and not best.odd and not other.odd
    smaller = min(0.0, max(other.area - best.area, -LEANT * best.area)) if whole and other is not None else 0.0
    return Held(largest, face, frozenset(named), forms, math.fsum(added), face in leaning, smaller)


def _named(body: Body, odd: set[int], attempts: list[Attempt]) -> set[int]:
    """Return the odd faces that hang on the border of a form, or line a hole that widens."""
    seen: set[int] = set()
    for a in attempts:
        sunk = {id(c) for c in a.sunk}
        for contour in a.inners:
            for c in contour.coedges:
                kind, n = a.walk.kinds[c]
                wanted = kind == "formed" or (kind == "wall" and (contour.formed or id(contour) in sunk))
                if wanted and n is not None and n in odd:
                    seen.add(n)
    return body.spread(seen, odd.__contains__, len(body.faces))


def _forms(best: Attempt, faces: set[int]) -> float | None:
    """Return the volume that forms add to the sheet, None where one does not leave a single panel.

    The integral over a form's own faces with the origin on the panel's skin, less the patch of the opposite skin
    that it replaces: the divergence theorem.
    """
    body, total, left = best.walk.body, 0.0, set(faces)
    own = {n for c in best.sunk for e in c.coedges if (n := best.walk.kinds[e][1]) is not None}
    while left:
        group = body.spread({min(left)}, left.__contains__, len(body.faces))
        left -= group
        if group & own:
            continue  # a countersink: its volume is told by its own shape
        added = _volume(best, group)
        if added is None:
            return None
        total += added
    return total


def _volume(best: Attempt, group: set[int]) -> float | None:
    body, t = best.walk.body, best.walk.skin.thickness
    around = {n for f in group for c in body.coedges(f) if (n := body.across(c)) is not None and n not in group}
    skins = [body.faces[n] for n in sorted(around) if body.faces[n].kind == "plane"]
    base = next((f for f in skins if f.index in best.walk.region_of), None)
    base = base or next((f for f in skins if best.walk.skin.partner(f.index) is not None), None)
    if base is None:
        return None
    points, triangles, _ = triangles_of(_compound(body, group), 0.02, 0.2)
    corners = points[triangles] - np.array(base.origin)
    total = float(np.sum(corners[:, 0] * np.cross(corners[:, 1], corners[:, 2]))) / 6.0
    normal = base.normal(base.origin)
    for n in around:
        face = body.faces[n]
        square = abs(dot(face.normal(face.origin), normal)) if face.kind == "plane" else 0.0
        if face.kind != "plane" or square < 1 - 1e-6:
            if _reaches(body, n, group, base, normal, t):
                return None
            continue
        depth = -dot(minus(face.origin, base.origin), normal)
        total -= depth * abs(_border(body, face, group)) / 3.0 if depth > near(t) else 0.0
    return total


def _compound(body: Body, group: set[int]) -> Any:
    build, made = BRep_Builder(), TopoDS_Compound()
    build.MakeCompound(made)
    for f in sorted(group):
        build.Add(made, body.faces[f].shape)
    # A copy, so that the solid itself carries no triangles afterwards.
    return BRepBuilderAPI_Copy(made, False, False).Shape()


def _reaches(body: Body, n: int, group: set[int], base: FaceOf, normal: tuple[float, float, float], t: float) -> bool:
    """Whether a face that is no skin borders a form elsewhere than on the skin it stands on (such as a bore's wall)."""
    for c in body.coedges(n):
        if body.across(c) in group:
            p, _ = body.edges[c.edge].middle()
            if abs(dot(minus(p, base.origin), normal)) > near(t):
                return True
    return False


def _border(body: Body, face: FaceOf, group: set[int]) -> float:
    """Return the area that a plane face's edges with a group of faces enclose, mm²."""
    total = 0.0
    developed = dev.develop_face(body, dev.plane_chart(face), face.index)
    for wire, done in zip(body.wires(face.index), developed, strict=True):
        for c, pieces in zip(wire, done.pieces, strict=True):
            if body.across(c) in group:
                total += sum(_swept(e) for e in pieces)
    return total


def _swept(e: Edge) -> float:
    area = (e.start[0] * e.end[1] - e.end[0] * e.start[1]) / 2
    if not e.is_line:
        area += e.radius**2 * (abs(e.sweep) - math.sin(abs(e.sweep))) / 2 * math.copysign(1.0, e.sweep)
    return area


def why_not(found: Held, best: Attempt, expected: float, flat_area: float, volume: float) -> str:
    """Say why a solid is no sheet, "" where it may be one."""
    t = best.walk.skin.thickness
    for r in best.walk.regions:
        if r.kind == "cylinder" and r.angle > 360.5:
            return f"a bend of inside radius {r.radius:.4g} mm turns {r.angle:.0f} degrees, more than once round"
        if r.kind == "cylinder" and r.angle > RING and r.radius < TURNED * t:
            return (
                f"a ring of inside radius {r.radius:.4g} mm, {r.radius / t:.2g} times its thickness: turned, not rolled"
            )
    left = _left(found, expected, flat_area, t)
    what = f"at {t:.4g} mm its flat holds {flat_area * t:.0f} mm³ of its {volume:.0f} mm³"
    if flat_area <= 0 or abs(left) > REFUSED:
        return what
    if found.largest > t / 2 and abs(left) > ODD:
        face = describe(best.walk.body.faces[found.face])
        return f"{what}, and {face} stands {found.largest:.2f} mm off the flat folded back"
    if found.forms is not None and abs(found.forms) > FORMS[1] * volume:
        return f"forms make {100 * abs(found.forms) / volume:.0f} % of it"
    return ""


def _left(found: Held, expected: float, flat_area: float, t: float) -> float:
    """Return the share of the flat's area that neither named forms nor leaning cut edges account for."""
    if flat_area <= 0:
        return math.inf
    off = expected - (found.rest or 0.0) / t - flat_area
    return (off - _leant(found, off)) / flat_area


def _leant(found: Held, off: float) -> float:
    """Return what leaning cut edges take of an area, mm²: nothing on the larger skin, at most all down to the other."""
    return max(found.leaning, min(off, 0.0))


def said(found: Held, best: Attempt, expected: float, flat_area: float, volume: float) -> list[Finding]:
    """Return what the folded-back flat and the volume say; `expected` is the flat area that the volume demands."""
    walk, t = best.walk, best.walk.skin.thickness
    made = []
    stands, limit = round(abs(found.largest), 4), round(near(t), 4)
    if abs(found.largest) <= near(t):
        what = "folded back, the flat lies on the solid" + (" beside its named forms" if found.named else "")
        made.append(fine("unfold.refolded", "flat", what, stands, limit))
    else:
        side = "outside" if found.largest > 0 else "within"
        what = f"this face stands {abs(found.largest):.2f} mm {side} the flat folded back"
        severity: Severity = "stop" if abs(found.largest) > t / 2 else "caution"
        remedy = "look whether this metal is bent from the sheet, or is added or machined after"
        if found.leans:
            what = (
                f"this cut edge leans: its metal ends {abs(found.largest):.2f} mm {side} the flat, which is cut square"
            )
            remedy = "draw the edge square to the sheet, or cut the blank larger and bevel it"
        where = describe(walk.body.faces[found.face])
        made.append(finding(severity, "unfold.refolded", where, what, remedy, stands, limit))
    if found.forms is not None and abs(found.forms) > FORMS[0] * volume:
        share = f"named forms make {100 * abs(found.forms) / volume:.0f} % of the solid's metal"
        made.append(stop("unfold.formed", "forms", share, "make them apart from the sheet, or draw the sheet alone"))
    left = _left(found, expected, flat_area, t)
    numbers = round(flat_area, 3), round(expected, 3), "mm²"
    if abs(expected - flat_area) <= checks.AREA * flat_area:
        made.append(fine("unfold.area", "flat", "the net area agrees with the solid's volume", *numbers))
        return made
    what = "the net area does not agree with the solid's volume"
    if found.rest or found.leaning:
        lean = _leant(found, expected - (found.rest or 0.0) / t - flat_area) * t
        named = (("named forms", found.rest or 0.0), ("leaning cut edges", lean))
        what += f": {' and '.join(f'{n} hold {v:+.0f} mm³' for n, v in named if v)}, {100 * left:+.2f} % is left"
    elif best.odd or best.leaning:
        what += " (formed metal or leaning cut edges are not in it)"
    # A form that could not be weighed (one across a bend) has at least its mark.
    marked = any(c.formed for c in best.inners)
    severity = "stop" if abs(left) > LEFT and not (found.forms is None and marked) else "caution"
    remedy = "compare the flat with the part before cutting"
    return [*made, finding(severity, "unfold.area", "flat", what, remedy, *numbers)]
