"""Rules of folding: legs, radii, force, holes beside bends, hems."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely

from tinbook.errors import OutOfRange
from tinbook.finding import Finding, caution, fine, stop
from tinbook.flatpattern import FoldLine
from tinbook.making.demands import force_finding, hems_of, leg_finding
from tinbook.making.folded import BendZone
from tinbook.making.made import Made
from tinbook.part.features import PRESSED
from tinbook.rules.near import apart, holes_of, lines_of
from tinbook.shop.material import radius_limit

FIXINGS = ("plug weld", "tack screw", "nut insert", "bolt", "rivet", *PRESSED)
"""Uses whose holes must stay round."""


def legs(made: Made) -> Iterator[Finding]:
    """Check that every leg is long enough for its tool."""
    yield from (f for s in made.strips if (f := leg_finding(made, s)) is not None)


def force(made: Made) -> Iterator[Finding]:
    """Check that no fold needs more force than its machine has; a machine of unknown force is named once."""
    yield from dict.fromkeys(f for s in made.strips if (f := force_finding(made, s)) is not None)


def radii(made: Made) -> Iterator[Finding]:
    """Check that no inside radius is below the material's smallest."""
    hems, lines = hems_of(made), {f.name: f for f in made.flat.folds} if made.flat is not None else {}
    yield from (_radius(made, s, _along_grain(made, lines.get(s.name))) for s in made.strips if s.name not in hems)


def _radius(made: Made, s: BendZone, along: bool) -> Finding:
    material, t, where = made.sheet.material, made.thickness, f"fold {s.name!r}"
    strips = made.shop.coupon_for(made.sheet.key, s.bend.tool or "")
    if strips is not None and strips.proves(t, s.angle, along):
        what = "your own test strips were folded to this radius"
        return fine("fold.radius", where, what, s.radius, s.radius, source="own data")
    try:
        limit = radius_limit(material, t, min(s.angle, 180.0), along)
    except OutOfRange as beyond:
        what = f"no table gives the smallest inside radius here ({beyond})"
        return caution("fold.radius", where, what, "fold a test strip first", source=material.source)
    grain = "along the rolling direction" if along else "across the rolling direction"
    remedy = "a wider die or larger nose, turn the blank on the sheet, or fold a test strip and look for cracks"
    if s.radius < limit.stop - 1e-9:
        what = f"{material.key} cracks at so small an inside radius, bent {grain}"
        return stop("fold.radius", where, what, remedy, s.radius, limit.stop, source=limit.source)
    if s.radius < limit.caution - 1e-9:
        what = f"the inside radius is smaller than the table's least for {material.key}, bent {grain}"
        return caution("fold.radius", where, what, remedy, s.radius, limit.caution, source=limit.source)
    what = "the inside radius is large enough"
    return fine("fold.radius", where, what, s.radius, limit.caution, source=limit.source)


def _along_grain(made: Made, f: FoldLine | None) -> bool:
    """Whether a fold runs within 45 degrees of the blank's x, the assumed rolling direction."""
    if f is None or made.sheet.grain == "none" or not f.pieces:
        return False
    (x0, y0), (x1, y1) = f.pieces[0]
    return abs(x1 - x0) > abs(y1 - y0)


def holes_near_folds(made: Made) -> Iterator[Finding]:
    """Check that holes keep clear of the metal that flows in a bend.

    The trade's 2.5 t + r (caution) and 1.5 t + r (stop) run from the outside
    of the bend; from the tangent line that leaves 1.5 t and 0.5 t.
    """
    t = made.thickness
    zones = {z.name: z for z in made.folded.zones}  # the bends of a joggle too
    over = {h.name for s in made.strips for h in s.holes}
    over |= set(_woven(made))
    for p in made.panels:
        if not p.holes:
            continue
        shapes, r = holes_of(p)
        tangents = lines_of(p)[0]
        if not tangents:
            continue
        gap = apart(shapely.bounds(list(tangents.values())), p.hole_boxes)
        for (fold, tangent), least in zip(tangents.items(), gap, strict=True):
            near = np.flatnonzero(least < 1.5 * t)
            if not len(near):
                continue
            gaps = shapely.distance(shapes[near], tangent) - r[near]
            close = [
                (float(g), h)
                for g, h in zip(gaps, (p.holes[i] for i in near), strict=True)
                if g < 1.5 * t - 1e-9 and not h.by_hand and h.name not in over
            ]
            if not close:
                continue
            radius = zones[fold].radius
            what = f"it lies so near fold {fold!r} that bending pulls it out of round"
            remedy = "move it away, make it a slot across the fold, or mark it and drill after folding"
            for g, h in close:
                bad = g < 0.5 * t - 1e-9 and h.use in FIXINGS
                limit = (1.5 if bad else 2.5) * t + radius
                yield (stop if bad else caution)("fold.hole", f"hole {h.name!r}", what, remedy, g + radius + t, limit)
    for name in sorted(over):
        what = "it runs over a fold, and bending draws it out of shape there"
        remedy = "leave it so only as a relief or a drain; otherwise mark it and drill after folding"
        yield caution("fold.hole_over", f"hole {name!r}", what, remedy)


def _woven(made: Made) -> set[str]:
    """Return the names of openings that no panel and no bend holds whole."""
    if made.flat is None:
        return set()
    whole = {h.name for p in made.panels for h in p.holes} | {h.name for s in made.strips for h in s.holes}
    whole |= {f.name for p in made.panels for f in p.forms if f.pilot is not None}
    return {c.name for c in made.flat.cuts} - whole


def hems(made: Made) -> Iterator[Finding]:
    """Check that hems suit the material and that their returns are long enough to close."""
    t, material = made.thickness, made.sheet.material
    for f in made.part.folds:
        if f.hem is None:
            continue
        where = f"hem {f.name!r}"
        if f.hem.kind == "closed" and not material.hem:
            what = f"{material.key} cracks when it is folded flat"
            yield stop("hem.material", where, what, "an open or teardrop hem, or a softer metal")
        elif min(f.leg) < 4 * t - 1e-9:
            what = "the return is short and may not close evenly"
            yield caution("hem.return", where, what, "a longer return", min(f.leg), 4 * t)
        else:
            yield fine("hem.return", where, "the return is long enough", min(f.leg), 4 * t)
        if f.hem.kind == "open" and f.hem.gap is not None:
            yield from _hem_gap(made, where, f.hem.gap)


def _hem_gap(made: Made, where: str, gap: float) -> Iterator[Finding]:
    """Check that the gap of an open hem takes what it is set out for where that is a sheet of the same kind."""
    most, tolerance = made.sheet.thickest, made.sheet.tolerance
    source = tolerance.source if tolerance is not None and made.sheet.measured is None else "own data"
    # A hem may catch something thinner; only one that is meant for this very sheet is judged by it.
    if made.thickness - 1e-9 <= gap < most - 1e-9:
        what = "a sheet of this kind goes in at its nominal thickness, not at the largest of its tolerance"
        yield caution(
            "hem.gap",
            where,
            what,
            f"a gap of {most:.2f} mm, or none: it follows from the sheet",
            gap,
            most,
            source=source,
        )
