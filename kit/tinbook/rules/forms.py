"""Rules of formed features: tools, stretch, and distances from folds, edges, holes and other forms."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from typing import Any, NamedTuple

import numpy as np
import shapely

from tinbook.finding import Finding, caution
from tinbook.making.folded import MadePanel
from tinbook.making.made import Made
from tinbook.part.forms.form import Distance, KeepOff, MadeForm, Setting
from tinbook.plane.arrays import boxes
from tinbook.plane.loops import Edge, Loop, Point
from tinbook.rules.near import apart, holes_of, lines, lines_of

FINE = 0.02
"""mm: sagitta of the chords of a footprint."""


def tools(made: Made) -> Iterator[Finding]:
    """Yield the findings of each form about its tool and the material, equal ones once."""
    on = Setting(shop=made.shop, sheet=made.sheet, thickness=made.thickness, part=made.part)
    unlike = {(type(f), f.alike): f for p in made.panels for f in p.forms if f.stands_out}
    yield from dict.fromkeys(finding for f in unlike.values() for finding in f.findings(on))


class _Kept(NamedTuple):
    form: MadeForm
    keep: KeepOff

    @property
    def shape(self) -> Any:
        """Its footprint, or the line along which it begins, as geometry; made only for what boxes do not settle."""
        footprint = self.form.footprint
        return _spines([self.keep.spine])[0] if footprint is None else shapely.Polygon(footprint.chords(FINE))


def distances(made: Made) -> Iterator[Finding]:
    """Check that forms keep clear of folds, edges, holes and each other."""
    radius = {z.name: z.radius for z in made.folded.zones}
    for p in made.panels:
        kept = [_Kept(f, keep) for f in p.forms if (keep := f.keep_off(made.thickness)) is not None]
        if not kept:
            continue
        around = boxes([f.footprint or Loop(_path(keep.spine)) for f, keep in kept])
        folds, free = lines_of(p)
        own = {zone for k in kept for zone in k.form.zones}
        folds = {name: line for name, line in folds.items() if name not in own}
        limits = np.array([k.keep.fold.least for k in kept])
        for fold, least in zip(folds, apart(shapely.bounds(list(folds.values())), around), strict=True):
            yield from _close(kept, folds[fold], least, limits + radius[fold], "fold", f"fold {fold!r}")
        least = apart(shapely.bounds(shapely.get_parts(free)), around).min(axis=0, initial=math.inf)
        limits = np.array([k.keep.edge.least for k in kept])
        yield from _close(kept, free, least, limits, "edge", "a free edge")
        if p.holes:
            yield from _holes(made, p, kept, apart(around, p.hole_boxes))
        yield from _spacing(kept)
        yield from _beside(kept)


def _close(kept: Sequence[_Kept], other: Any, least: Any, limits: Any, what: str, name: str) -> Iterator[Finding]:
    """Yield a finding for each form too near a line; `least` are the distances of their boxes."""
    near = np.flatnonzero(least < limits)
    if not len(near):
        return
    for i, gap in zip(near.tolist(), shapely.distance([kept[i].shape for i in near.tolist()], other), strict=True):
        if gap < limits[i] - 1e-9:
            distance: Distance = getattr(kept[i].keep, what)
            said = f"it comes so near {name} that {distance.why}"
            yield _caution(what, kept[i], said, float(gap), float(limits[i]), distance.remedy)


def _holes(made: Made, p: MadePanel, kept: Sequence[_Kept], apart_: Any) -> Iterator[Finding]:
    """Yield a finding for each form too near a hole, naming the nearest hole."""
    shapes, r = holes_of(p)
    for k, least in zip(kept, apart_, strict=True):
        limit = k.keep.hole.least
        near = np.flatnonzero(least < limit)
        if not len(near):
            continue
        gaps = shapely.distance(shapes[near], k.shape) - r[near]
        i = int(np.argmin(gaps))
        if gaps[i] < limit - 1e-9:
            what = f"hole {p.holes[near[i]].name!r} {k.keep.hole.why}"
            yield _caution("hole", k, what, float(gaps[i]), limit, k.keep.hole.remedy)


def _spacing(kept: Sequence[_Kept]) -> Iterator[Finding]:
    """Yield a finding for each pair of forms of one kind that are too close."""
    for own in (list(group) for _, group in itertools.groupby(kept, lambda k: type(k.form))):
        paths = np.asarray(_spines([k.keep.spine for k in own]))
        around = shapely.bounds(paths)
        near = np.triu(apart(around, around) < max(k.keep.other.least for k in own), 1).nonzero()
        for i, j, gap in zip(*near, shapely.distance(*(paths[n] for n in near)).tolist(), strict=True):
            a, b = own[i], own[j]
            limit = max(a.keep.other.least, b.keep.other.least)
            if gap < limit - 1e-9:
                what = f"it lies so near {b.form.KIND} {b.form.name!r} that {a.keep.other.why}"
                yield _caution("pitch", a, what, gap, limit, a.keep.other.remedy)


def _beside(kept: Sequence[_Kept]) -> Iterator[Finding]:
    """Yield a finding for each pair of forms of different kinds of which one lies in metal that the other draws."""
    if len({type(k.form) for k in kept}) < 2:
        return
    shapes = np.array([k.shape for k in kept])
    gaps = shapely.distance(shapes[:, None], shapes).tolist()
    for (i, a), (j, b) in itertools.combinations(enumerate(kept), 2):
        limit = max(a.keep.hole.least, b.keep.hole.least)
        if type(a.form) is not type(b.form) and gaps[i][j] < limit - 1e-9:
            what = f"it lies so near {b.form.KIND} {b.form.name!r} that one pulls the metal of the other"
            yield _caution("pitch", a, what, gaps[i][j], limit, "space them out, and form the deeper one first")


def _spines(spines: Sequence[tuple[Edge, ...] | Point]) -> Any:
    """Return centre lines, or centres, as geometry."""
    paths = [_path(s) for s in spines]
    return lines(paths) if paths[0] else shapely.points(spines)


def _path(spine: tuple[Edge, ...] | Point) -> tuple[Edge, ...]:
    return tuple(e for e in spine if isinstance(e, Edge))


def _caution(what: str, k: _Kept, said: str, value: float, limit: float, remedy: str) -> Finding:
    where = f"{k.form.KIND} {k.form.name!r}"
    return caution(f"{k.form.CODE}.{what}", where, said, remedy, value, limit, source=k.keep.source)
